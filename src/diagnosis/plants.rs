//! What is known of a plant before any of its offspring: statements, priors, its own looks.
//!
//! The first factor of a plant is its statement or prior; "at its word" takes a statement as certain. A plant of known
//! parents has what they hand on, and its statement beside it. All are per locus, since loci are independent here.

use std::collections::HashMap;
use std::sync::{Mutex, OnceLock};

use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::notation::{Genotype, StatedLocus};
use crate::genetics::rule::Cytoplasm;
use crate::records::assumptions::Assumptions;
use crate::records::descent::{cytoplasm_of, fixed_since, parents_of};
use crate::records::rows::{PlantCytoplasm, PlantKind, PlantRow};

use super::DiagnosisError;
use super::evidence::{Telling, telling_readings};
use super::index::Index;
use super::looks::Looks;
use super::space::{mean_gametes, union};

/// A genotype stated of one plant at one locus.
#[derive(Debug, Clone)]
struct Statement {
    at: StatedLocus,
    proven: bool,
}

type Memo = Mutex<HashMap<(i64, usize), Vec<f64>>>;

/// What is known of the plants of a ledger before any batch.
#[derive(Debug)]
pub struct Plants<'a> {
    index: &'a Index<'a>,
    looks: &'a Looks,
    beliefs: &'a Assumptions,
    statements: HashMap<(i64, usize), Statement>,
    shares: Vec<OnceLock<Vec<f64>>>,
    firsts: Memo,
    words: Memo,
}

/// Deepest descent followed; deeper is a ring of records.
const DEEPEST: usize = 500;

impl<'a> Plants<'a> {
    /// Reads the statements.
    ///
    /// # Errors
    /// [`DiagnosisError::Unreadable`] where a stored statement is no genotype.
    pub fn new(
        index: &'a Index<'a>,
        looks: &'a Looks,
        beliefs: &'a Assumptions,
    ) -> Result<Self, DiagnosisError> {
        let mut statements = HashMap::new();
        let mut book = looks.book.clone();
        for row in &index.facts.statement {
            let genotype = Genotype::parse(&row.genotype, &mut book).map_err(|error| {
                DiagnosisError::Unreadable {
                    what: format!("genotype '{}'", row.genotype),
                    why: error.to_string(),
                }
            })?;
            for at in genotype.loci {
                if at.first.is_some() || at.second.is_some() {
                    statements.insert(
                        (row.plant_id, at.locus.0),
                        Statement {
                            at,
                            proven: row.proven,
                        },
                    );
                }
            }
        }
        let shares = (0..looks.book.len()).map(|_| OnceLock::new()).collect();
        Ok(Self {
            index,
            looks,
            beliefs,
            statements,
            shares,
            firsts: Memo::default(),
            words: Memo::default(),
        })
    }

    /// The genotypes of a locus.
    #[must_use]
    pub fn pairs(&self, locus: LocusIx) -> Vec<Diploid> {
        Diploid::all(self.looks.book.get(locus).alleles.len())
    }

    /// The cytoplasm of a plant: stated, else its mother's.
    #[must_use]
    pub fn cytoplasm(&self, plant: i64) -> Cytoplasm {
        match cytoplasm_of(self.index.facts, plant) {
            PlantCytoplasm::Normal => Cytoplasm::Normal,
            PlantCytoplasm::Sterile => Cytoplasm::Sterile,
            PlantCytoplasm::Unknown => Cytoplasm::Unknown,
        }
    }

    /// P(genotype) from the locus's shares and the plant's inbreeding, or from its parents' first factors.
    fn prior(&self, plant: i64, locus: LocusIx, depth: usize, word: bool) -> Vec<f64> {
        let row = self.index.facts.plant.get(plant);
        if depth < DEEPEST
            && let Some(row) = row
            && let Some((mother, father)) = parents_of(self.index.facts, row)
        {
            let fixed = fixed_since(self.index.facts, self.beliefs, row);
            let pairs = self.pairs(locus);
            let alleles = self.looks.book.get(locus).alleles.len();
            let gametes = |parent: i64| {
                mean_gametes(&pairs, &self.known(parent, locus, depth + 1, word), alleles)
            };
            if mother == father {
                let parent = self.known(mother, locus, depth + 1, word);
                return selfed_since(&pairs, selfed(&pairs, &parent, alleles), fixed);
            }
            let crossed = union(&pairs, &gametes(mother), &gametes(father));
            return selfed_since(&pairs, crossed, fixed);
        }
        let inbreeding = row.map_or(self.beliefs.inbreeding_plant, |row| {
            fixed_since(self.index.facts, self.beliefs, row)
        });
        founder_prior(
            &self.pairs(locus),
            &self.looks.book.get(locus).shares(),
            inbreeding,
        )
    }

    /// The offspring that two plants promise at one locus, both at their word.
    #[must_use]
    pub fn offspring_at_word(&self, mother: i64, father: i64, locus: LocusIx) -> Vec<f64> {
        let pairs = self.pairs(locus);
        let alleles = self.looks.book.get(locus).alleles.len();
        if mother == father {
            return selfed(&pairs, &self.at_word(mother, locus), alleles);
        }
        union(
            &pairs,
            &self.gametes_at_word(mother, locus),
            &self.gametes_at_word(father, locus),
        )
    }

    /// The gametes of a plant at its word.
    #[must_use]
    pub fn gametes_at_word(&self, plant: i64, locus: LocusIx) -> Vec<f64> {
        mean_gametes(
            &self.pairs(locus),
            &self.at_word(plant, locus),
            self.looks.book.get(locus).alleles.len(),
        )
    }

    fn known(&self, plant: i64, locus: LocusIx, depth: usize, word: bool) -> Vec<f64> {
        let memo = if word { &self.words } else { &self.firsts };
        let key = (plant, locus.0);
        if let Some(known) = memo
            .lock()
            .expect("no thread panics while it holds the memo")
            .get(&key)
        {
            return known.clone();
        }
        let known = self.compute(plant, locus, depth, word);
        memo.lock()
            .expect("no thread panics while it holds the memo")
            .insert(key, known.clone());
        known
    }

    fn compute(&self, plant: i64, locus: LocusIx, depth: usize, word: bool) -> Vec<f64> {
        let prior = self.prior(plant, locus, depth, word);
        let Some(statement) = self.statements.get(&(plant, locus.0)) else {
            return prior;
        };
        let pairs = self.pairs(locus);
        let trust = if word {
            1.0
        } else {
            self.trust(statement, locus)
        };
        stated_factor(&pairs, &prior, |pair| statement.at.matches(pair), trust)
    }

    fn trust(&self, statement: &Statement, locus: LocusIx) -> f64 {
        let last = self.looks.book.get(locus).alleles.len() - 1;
        let seen = statement
            .at
            .diploid()
            .is_some_and(|pair| usize::from(pair.a()) == last && usize::from(pair.b()) == last);
        if statement.proven || seen {
            self.beliefs.trust_proven
        } else {
            self.beliefs.trust_stated
        }
    }

    /// The plant's statement with its trust, or its prior: a distribution over the locus's genotypes.
    #[must_use]
    pub fn first_factor(&self, plant: i64, locus: LocusIx) -> Vec<f64> {
        self.known(plant, locus, 0, false)
    }

    /// What a plant is at one locus before its statement: its prior, or what its parents' first factors give.
    #[must_use]
    pub fn unstated(&self, plant: i64, locus: LocusIx) -> Vec<f64> {
        self.prior(plant, locus, 0, false)
    }

    /// Whether genotypes at some loci are as stated of a plant, as far as anything is.
    #[must_use]
    pub fn fits(&self, plant: i64, loci: &[LocusIx], genotype: &[Diploid]) -> bool {
        loci.iter().zip(genotype).all(|(locus, pair)| {
            let statement = self.statements.get(&(plant, locus.0));
            statement.is_none_or(|statement| statement.at.matches(*pair))
        })
    }

    /// What is stated of a plant at some loci, in notation.
    #[must_use]
    pub fn stated_at(&self, plant: i64, loci: &[LocusIx]) -> String {
        let stated = loci.iter().filter_map(|locus| self.stated(plant, *locus));
        stated.collect::<Vec<_>>().join(" ")
    }

    /// Everything stated of a plant, in notation.
    #[must_use]
    pub fn all_stated(&self, plant: i64) -> String {
        let mut loci: Vec<LocusIx> = self.stated_loci(plant).collect();
        loci.sort_unstable();
        self.stated_at(plant, &loci)
    }

    /// How many genotypes a locus has.
    #[must_use]
    pub fn genotypes(&self, locus: LocusIx) -> usize {
        self.pairs(locus).len()
    }

    /// The loci stated of a plant.
    pub fn stated_loci(&self, plant: i64) -> impl Iterator<Item = LocusIx> + '_ {
        let own = self.statements.keys().filter(move |key| key.0 == plant);
        own.map(|key| LocusIx(key.1))
    }

    /// P(what is stated | genotype) of a plant whose descent says something already: the trust for each genotype that
    /// fits, the rest shared evenly by the others.
    #[must_use]
    pub fn statement_factor(&self, plant: i64, locus: LocusIx) -> Option<Vec<f64>> {
        let statement = self.statements.get(&(plant, locus.0))?;
        let trust = self.trust(statement, locus);
        let fits: Vec<bool> = self
            .pairs(locus)
            .iter()
            .map(|pair| statement.at.matches(*pair))
            .collect();
        let others = fits.iter().filter(|fit| !**fit).count();
        let chance = |fit: &bool| match fit {
            true => trust,
            false => (1.0 - trust) / others as f64,
        };
        Some(fits.iter().map(chance).collect())
    }

    /// The parents of a plant that came from no batch, and P(genotype | theirs) at one locus, selfings since in it:
    /// mother's genotype running slowest, its own fastest; for a self the parent's alone.
    #[must_use]
    pub fn transmission(&self, plant: i64, locus: LocusIx) -> Option<(i64, i64, Vec<f64>)> {
        let row = self.index.facts.plant.get(plant)?;
        let (mother, father) =
            parents_of(self.index.facts, row).filter(|_| row.batch_id.is_none())?;
        let fixed = fixed_since(self.index.facts, self.beliefs, row);
        let pairs = self.pairs(locus);
        let alleles = self.looks.book.get(locus).alleles.len();
        let gametes: Vec<Vec<f64>> = pairs
            .iter()
            .map(|pair| mean_gametes(&[*pair], &[1.0], alleles))
            .collect();
        let born =
            |one: &[f64], other: &[f64]| selfed_since(&pairs, union(&pairs, one, other), fixed);
        let values = if mother == father {
            gametes.iter().flat_map(|own| born(own, own)).collect()
        } else {
            gametes
                .iter()
                .flat_map(|one| gametes.iter().flat_map(|other| born(one, other)))
                .collect()
        };
        Some((mother, father, values))
    }

    /// The plant's stated genotype as certain, or its prior.
    #[must_use]
    pub fn at_word(&self, plant: i64, locus: LocusIx) -> Vec<f64> {
        self.known(plant, locus, 0, true)
    }

    /// Which allele of a plant came from its mother and which from its father: as stated, or where a parent
    /// can have given only one. Nothing for a plant that is not certainly heterozygous.
    #[must_use]
    pub fn phase(&self, plant: i64, locus: LocusIx) -> Option<[u8; 2]> {
        let pairs = self.pairs(locus);
        let certain = |plant: i64| {
            let chances = self.at_word(plant, locus);
            let mut left = pairs.iter().zip(&chances).filter(|(_, p)| **p > 0.0);
            let only = left.next().map(|(pair, _)| *pair);
            only.filter(|_| left.next().is_none())
        };
        let pair = certain(plant).filter(|pair| !pair.is_homozygous())?;
        if let Some(Statement { at, .. }) = self.statements.get(&(plant, locus.0))
            && at.phased
        {
            return at.first.zip(at.second).map(|(one, other)| [one, other]);
        }
        let row = self.index.facts.plant.get(plant)?;
        let (mother, father) = parents_of(self.index.facts, row)?;
        let gives = |parent: i64| certain(parent).filter(|pair| pair.is_homozygous());
        let other_than = |allele: u8| {
            if pair.a() == allele {
                pair.b()
            } else {
                pair.a()
            }
        };
        match (gives(mother), gives(father)) {
            (Some(from), _) if pair.carries(from.a()) => Some([from.a(), other_than(from.a())]),
            (_, Some(from)) if pair.carries(from.a()) => Some([other_than(from.a()), from.a()]),
            _ => None,
        }
    }

    /// Each allele's mean expected share over the founders by their first factor, one extra founder at the locus's
    /// own shares counted in.
    #[must_use]
    pub fn allele_shares(&self, locus: LocusIx) -> &[f64] {
        self.shares[locus.0].get_or_init(|| {
            let pairs = self.pairs(locus);
            let own = self.looks.book.get(locus).shares();
            let mut sums = own.clone();
            let mut founders = 1.0;
            for plant in self
                .index
                .facts
                .plant
                .iter()
                .filter(|row| self.is_founder(row))
            {
                let gametes = mean_gametes(&pairs, &self.first_factor(plant.id, locus), own.len());
                sums.iter_mut()
                    .zip(gametes)
                    .for_each(|(sum, share)| *sum += share);
                founders += 1.0;
            }
            sums.iter().map(|sum| sum / founders).collect()
        })
    }

    fn is_founder(&self, row: &PlantRow) -> bool {
        matches!(
            row.kind,
            PlantKind::Line | PlantKind::Packet | PlantKind::Single
        ) && parents_of(self.index.facts, row).is_none()
    }

    /// A parent's own readings, each of its final class; a seedling's are part of its batch.
    #[must_use]
    pub fn own_looks(&self, plant: i64) -> Vec<Telling> {
        match self.index.facts.plant.get(plant) {
            Some(row) if row.batch_id.is_none() => {
                telling_readings(self.looks, self.index.readings_of(plant))
            }
            _ => Vec::new(),
        }
    }

    /// Whether a genotype was stated of a plant at a locus, and how it was written.
    #[must_use]
    pub fn stated(&self, plant: i64, locus: LocusIx) -> Option<String> {
        self.statements
            .get(&(plant, locus.0))
            .map(|statement| statement.at.written(&self.looks.book))
    }
}

/// P(g) = p^2 + F p q for a homozygote, 2 p q (1 - F) for a heterozygote.
#[must_use]
pub fn founder_prior(pairs: &[Diploid], shares: &[f64], inbreeding: f64) -> Vec<f64> {
    pairs
        .iter()
        .map(|pair| {
            let (p, q) = (shares[usize::from(pair.a())], shares[usize::from(pair.b())]);
            if pair.is_homozygous() {
                p * p + inbreeding * p * (1.0 - p)
            } else {
                2.0 * p * q * (1.0 - inbreeding)
            }
        })
        .collect()
}

/// The trust shared over the matching genotypes in proportion to the prior, the rest evenly over the others.
fn stated_factor(
    pairs: &[Diploid],
    prior: &[f64],
    matches: impl Fn(Diploid) -> bool,
    trust: f64,
) -> Vec<f64> {
    let fits: Vec<bool> = pairs.iter().map(|pair| matches(*pair)).collect();
    let fitting = fits.iter().filter(|fit| **fit).count();
    let mass: f64 = prior
        .iter()
        .zip(&fits)
        .filter(|(_, fit)| **fit)
        .map(|(p, _)| p)
        .sum();
    let others = pairs.len() - fitting;
    let trust = if others == 0 { 1.0 } else { trust };
    prior
        .iter()
        .zip(&fits)
        .map(|(p, fit)| match (fit, mass > 0.0) {
            (true, true) => trust * p / mass,
            (true, false) => trust / fitting as f64,
            (false, _) => (1.0 - trust) / others as f64,
        })
        .collect()
}

/// The offspring of one selfed plant of uncertain genotype.
fn selfed(pairs: &[Diploid], parent: &[f64], alleles: usize) -> Vec<f64> {
    let mut sums = vec![0.0; pairs.len()];
    for (pair, weight) in pairs.iter().zip(parent) {
        let gametes = mean_gametes(&[*pair], &[1.0], alleles);
        for (sum, p) in sums.iter_mut().zip(union(pairs, &gametes, &gametes)) {
            *sum += weight * p;
        }
    }
    sums
}

/// The genotypes after selfings that fixed this share of the heterozygous plants, half for either allele.
fn selfed_since(pairs: &[Diploid], mut weights: Vec<f64>, fixed: f64) -> Vec<f64> {
    for (at, pair) in pairs
        .iter()
        .enumerate()
        .filter(|(_, pair)| !pair.is_homozygous())
    {
        let gone = weights[at] * fixed;
        weights[at] -= gone;
        for allele in [pair.a(), pair.b()] {
            let pure = pairs
                .iter()
                .position(|other| *other == Diploid::new(allele, allele))
                .expect("every allele has its homozygote");
            weights[pure] += gone / 2.0;
        }
    }
    weights
}
