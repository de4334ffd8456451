//! Crosses by name, and shares held against exact fractions of `tests/data/expectations.json` (see
//! `tests/data/README.md`), key by key and with nothing left over on either side.

use std::cell::RefCell;
use std::collections::BTreeMap;

use locule::genetics::expect::{Classes, independent, loci_read};
use locule::genetics::{
    Arrangement, AtLocus, Breeding, Descent, Diploid, ExactExpectation, ExpectError, GeneModel,
    Generation, Genotype, LinkageMap, LocusBook, LocusIx, Parent, Recombination, Recurrent,
    Shares as Bred, breed,
};
use serde_json::Value;

pub type Fraction = (u128, u128);
pub type Shares = BTreeMap<String, Fraction>;

/// All sections of the file.
pub fn sections() -> BTreeMap<String, Value> {
    let text = include_str!("../data/expectations.json");
    serde_json::from_str(text).expect("the check values are JSON")
}

thread_local! {
    /// The sections asked for on this thread, and how many rows one loop went through.
    static READ: RefCell<BTreeMap<String, usize>> = const { RefCell::new(BTreeMap::new()) };
}

fn note(section: &str, rows: usize) {
    READ.with_borrow_mut(|read| {
        let most = read.entry(section.to_owned()).or_default();
        *most = rows.max(*most);
    });
}

/// What [`data`] and [`rows`] gave out on this thread.
pub fn read_so_far() -> BTreeMap<String, usize> {
    READ.with_borrow(Clone::clone)
}

/// A section that is no list.
pub fn data(section: &str) -> Value {
    let found = sections().remove(section).expect("a section of the file");
    assert!(found.is_object(), "{section} is read row by row");
    note(section, 0);
    found
}

/// The rows of a section that is a list, counted as they are gone through.
pub fn rows(section: &str) -> impl Iterator<Item = Value> {
    let found = sections().remove(section).expect("a section of the file");
    let Value::Array(rows) = found else {
        panic!("{section} is no list");
    };
    let section = section.to_owned();
    (1..)
        .zip(rows)
        .inspect(move |(count, _)| note(&section, *count))
        .map(|(_, row)| row)
}

/// Fractions as they stand, or counts over their sum.
pub fn shares(value: &Value) -> Shares {
    let entries = value.as_object().expect("classes by name");
    let sum: u64 = entries.values().filter_map(Value::as_u64).sum();
    let read = |v: &Value| match (v.as_u64(), v.as_str()) {
        (Some(count), _) => (u128::from(count), u128::from(sum)),
        (_, Some(text)) => fraction(text),
        _ => panic!("{v} is neither count nor fraction"),
    };
    entries
        .iter()
        .map(|(name, v)| (name.clone(), read(v)))
        .collect()
}

pub fn fraction(text: &str) -> Fraction {
    let (n, d) = text.split_once('/').unwrap_or((text, "1"));
    (
        n.parse().expect("a numerator"),
        d.parse().expect("a denominator"),
    )
}

fn unlinked(
    descent: &Descent,
    mother: &Parent,
    father: &Parent,
    models: &[&GeneModel],
) -> Result<Bred, ExpectError> {
    let arrangement = independent(&loci_read(models));
    let breeding = Breeding {
        mother,
        father,
        descent,
        arrangement: &arrangement,
        selection: &[],
    };
    breed(&breeding, models)
}

/// A cross of independent loci in whole numbers, where it is.
pub fn expect_exact(
    mother: &Parent,
    father: &Parent,
    models: &[&GeneModel],
) -> Option<ExactExpectation> {
    let found = unlinked(&Descent::first_cross(), mother, father, models);
    found.ok()?.exact
}

/// A cross of independent loci in probabilities.
pub fn expect_mixture(
    mother: &Parent,
    father: &Parent,
    models: &[&GeneModel],
) -> Result<Vec<(Classes, f64)>, ExpectError> {
    let found = unlinked(&Descent::first_cross(), mother, father, models);
    found.map(|shares| shares.classes)
}

/// A self of independent loci in probabilities.
pub fn expect_selfed(
    plant: &Parent,
    models: &[&GeneModel],
) -> Result<Vec<(Classes, f64)>, ExpectError> {
    let found = unlinked(&Descent::self_of_mother(), plant, plant, models);
    found.map(|shares| shares.classes)
}

/// A few traits over a book of loci, and names for combinations of their classes.
pub struct Look {
    pub book: LocusBook,
    models: Vec<GeneModel>,
    between: &'static str,
}

impl Look {
    pub fn new(between: &'static str) -> Self {
        Self {
            book: LocusBook::new(),
            models: Vec::new(),
            between,
        }
    }

    pub fn with(mut self, rules: &[(&str, &str)]) -> Self {
        let mut classes: Vec<String> = Vec::new();
        for (_, class) in rules {
            if !classes.iter().any(|c| c == class) {
                classes.push((*class).to_owned());
            }
        }
        let built = GeneModel::build("m", &classes, rules, &mut self.book);
        self.models.push(built.expect("the rules are good"));
        self
    }

    /// Dominant and recessive look of each locus, written `A_B_`, `A_bb`.
    pub fn phenotypes(loci: &[&str]) -> Self {
        loci.iter().fold(Self::new(""), |look, upper| {
            let lower = upper.to_lowercase();
            let (pattern, dominant) = (format!("{upper}/_"), format!("{upper}_"));
            look.with(&[(&pattern, &dominant), ("else", &format!("{lower}{lower}"))])
        })
    }

    /// The genotype of each locus, written `AA Bb`.
    pub fn genotypes(loci: &[&str]) -> Self {
        loci.iter().fold(Self::new(" "), |look, upper| {
            let lower = upper.to_lowercase();
            let text = |a: &str, b: &str| (format!("{a}/{b}"), format!("{a}{b}"));
            let [dom, het, rec] = [
                text(upper, upper),
                text(upper, &lower),
                text(&lower, &lower),
            ];
            look.with(&[(&dom.0, &dom.1), (&het.0, &het.1), (&rec.0, &rec.1)])
        })
    }

    pub fn models(&self) -> Vec<&GeneModel> {
        self.models.iter().collect()
    }

    pub fn parent(&mut self, genotype: &str) -> Parent {
        let genotype = Genotype::parse(genotype, &mut self.book).expect("a good genotype");
        let loci: Vec<LocusIx> = genotype.loci.iter().map(|stated| stated.locus).collect();
        Parent::stated(&genotype, &loci, |_| Vec::new())
    }

    pub fn named(&self, classes: &Classes) -> String {
        let words = self
            .models
            .iter()
            .zip(classes)
            .map(|(m, c)| m.classes()[*c].as_str());
        words.collect::<Vec<_>>().join(self.between)
    }

    pub fn cross(&mut self, mother: &str, father: &str) -> Shares {
        let (mother, father) = (self.parent(mother), self.parent(father));
        self.cross_of(&mother, &father)
    }

    pub fn cross_of(&self, mother: &Parent, father: &Parent) -> Shares {
        let exact = expect_exact(mother, father, &self.models()).expect("all genotypes are known");
        let classes = exact.classes.iter().filter(|(_, n)| *n > 0);
        classes
            .map(|(c, n)| (self.named(c), (*n, exact.denominator)))
            .collect()
    }

    pub fn named_shares(&self, classes: Vec<(Classes, f64)>) -> BTreeMap<String, f64> {
        let some = classes.into_iter().filter(|(_, p)| *p > 0.0);
        some.map(|(c, p)| (self.named(&c), p)).collect()
    }
}

/// One generation of selfing, locus by locus: 1:2:1 of what is heterozygous.
pub fn selfed(parent: &Parent) -> Parent {
    let one = |plant: &AtLocus| {
        let mut sums: BTreeMap<Diploid, f64> = BTreeMap::new();
        for (pair, p) in plant.weights() {
            for egg in [pair.a(), pair.b()] {
                for grain in [pair.a(), pair.b()] {
                    *sums.entry(Diploid::new(egg, grain)).or_default() += p / 4.0;
                }
            }
        }
        AtLocus::Weighted(sums.into_iter().collect())
    };
    let loci = parent
        .loci
        .iter()
        .map(|(locus, plant)| (*locus, one(plant)))
        .collect();
    Parent {
        loci,
        cytoplasm: parent.cytoplasm,
    }
}

impl Look {
    /// Measured pairs, `A,B=1/10`.
    pub fn map(&self, pairs: &[(&str, &str, &str)]) -> LinkageMap {
        let mut map = LinkageMap::default();
        let ix = |symbol| self.book.find(symbol).expect("a locus of the rules");
        for (one, other, r) in pairs {
            let r = Recombination::parse(r).expect("a fraction");
            map.measure(ix(one), ix(other), r, &self.book)
                .expect("no places");
        }
        map
    }

    pub fn arranged(&self, map: &LinkageMap) -> Arrangement {
        let found = map.arrange(&loci_read(&self.models()), false, &self.book);
        found.expect("the order is known")
    }

    /// A generation of two parents, or without a name their cross.
    pub fn bred(
        &mut self,
        generation: &str,
        mother: &str,
        father: &str,
        map: &LinkageMap,
    ) -> Shares {
        let bred = self.shares_of(generation, mother, father, map);
        self.exact_shares(&bred)
    }

    /// The same in probabilities.
    pub fn shares_bred(
        &mut self,
        generation: &str,
        mother: &str,
        father: &str,
        map: &LinkageMap,
    ) -> BTreeMap<String, f64> {
        let bred = self.shares_of(generation, mother, father, map);
        self.named_shares(bred.classes)
    }

    fn shares_of(
        &mut self,
        generation: &str,
        mother: &str,
        father: &str,
        map: &LinkageMap,
    ) -> Bred {
        let (mother, father) = (self.parent(mother), self.parent(father));
        let generation: Generation = generation.parse().expect("a generation");
        let breeding = Breeding {
            mother: &mother,
            father: &father,
            descent: &generation.descent(Recurrent::Father),
            arrangement: &self.arranged(map),
            selection: &[],
        };
        breed(&breeding, &self.models()).expect("small")
    }

    pub fn exact_shares(&self, shares: &Bred) -> Shares {
        let exact = shares.exact.as_ref().expect("all genotypes are known");
        let classes = exact.classes.iter().filter(|(_, n)| *n > 0);
        classes
            .map(|(c, n)| (self.named(c), (*n, exact.denominator)))
            .collect()
    }
}

pub fn assert_exact(found: &Shares, wanted: &Shares, what: &str) {
    let names = |shares: &Shares| shares.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(found), names(wanted), "{what}");
    for (name, (n, d)) in found {
        let (wanted_n, wanted_d) = wanted[name];
        assert_eq!(n * wanted_d, wanted_n * d, "{what}: {name} is {n}/{d}");
    }
}

pub fn assert_close(found: &BTreeMap<String, f64>, wanted: &Shares, what: &str) {
    assert_eq!(
        found.keys().collect::<Vec<_>>(),
        wanted.keys().collect::<Vec<_>>(),
        "{what}"
    );
    for (name, p) in found {
        let (n, d) = wanted[name];
        let wanted = n as f64 / d as f64;
        assert!(
            (p - wanted).abs() <= 1e-14 * wanted,
            "{what}: {name} is {p}, not {wanted}"
        );
    }
}
