//! The seed that a plan is about: of two genotypes as typed, or of a cross in the ledger, with the shares of what is
//! wanted among it.
//!
//! `plan seeds` and `plan space` ask.

use crate::cli::failure::Failure;
use crate::diagnosis::better_known::{BetterKnown, better_known};
use crate::diagnosis::context::Context;
use crate::diagnosis::counts::{descent_of, plant_at_word};
use crate::genetics::descent::{Descent, Generation, Recurrent};
use crate::genetics::expect::{Breeding, Parent, Shares, breed, founder_genotypes};
use crate::genetics::linkage::{Arrangement, LinkageMap};
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::notation::Genotype;
use crate::genetics::rule::{Cytoplasm, GeneModel};
use crate::genetics::segregation::AtLocus;
use crate::planning::f1_plants::{CasesOfF1, kinds_of_f1};
use crate::planning::targets::{
    MOST_PAIRS, Pair, Target, blamed, likeliest, pairs, phased, share_of,
};
use crate::records::admit::Remedy;
use crate::report::text::listed;

use super::believed::believed;
use super::breeding::{Lie, Recombines, add_typed, unexpected, unsorted};
use super::plan_wishes::Asked;
use super::stated::{not_stated, open_loci};

/// A generation as asked for, the parent that a backcross goes back to, and what the parents are taken for.
#[derive(Debug, Clone, Copy, Default)]
pub struct Asking {
    /// The generation.
    pub generation: Option<Generation>,
    /// The parent gone back to.
    pub recurrent: Recurrent,
    /// Whether parents of the ledger are what everything recorded says of them, not what is stated.
    pub is_believed: bool,
}

impl Asking {
    fn descent(self, plain: Descent) -> Descent {
        let of = |generation: Generation| generation.descent(self.recurrent);
        self.generation.map_or(plain, of)
    }

    /// Whether the seed is of a cross made by hand after the first: a backcross.
    #[must_use]
    pub fn is_by_hand(self) -> bool {
        let of = |generation: Generation| generation.is_backcross() && !generation.is_selfed();
        self.generation.is_some_and(of)
    }
}

/// Two parents and what is bred of them.
#[derive(Debug)]
pub struct Bred {
    /// What is sown: `F2 of X1: NL x CW`.
    pub sown: String,
    /// What is not stated of them, where they are taken at their word.
    pub not_stated: Vec<String>,
    /// Of that what the ledger knows nevertheless.
    pub better_known: Vec<BetterKnown>,
    /// Parents whose linked alleles may lie either way.
    pub phase_open: Vec<String>,
    /// Loci on one chromosome without a known distance.
    pub distance_open: Vec<String>,
    /// Whether they are plants of the ledger.
    pub is_of_ledger: bool,
    names: [String; 2],
    plants: [Parent; 2],
    /// The first cross, or the self, that it is bred from.
    plain: Descent,
    descent: Descent,
    arrangement: Arrangement,
    /// What they may be together by everything recorded, where that is asked for.
    believed: Option<Vec<Pair>>,
}

impl Bred {
    /// Of two genotypes.
    ///
    /// # Errors
    /// [`Failure`] where their loci cannot be sorted into chromosomes.
    pub fn of_genotypes(
        asked: &Asked,
        [mother, father]: [&(Genotype, Cytoplasm); 2],
        asking: Asking,
        recombines: &[Recombines],
    ) -> Result<Self, Failure> {
        let (book, loci) = (&asked.traits.book, asked.loci());
        for (genotype, _) in [mother, father] {
            let phase = asked.traits.linkage.check_phase(genotype, book);
            phase.map_err(|error| unsorted(&error))?;
        }
        let at_word = |(genotype, cytoplasm): &(Genotype, Cytoplasm)| Parent {
            cytoplasm: *cytoplasm,
            ..Parent::stated(genotype, &loci, |locus| {
                founder_genotypes(&book.get(locus).shares(), 0.0)
            })
        };
        let pair = format!("{} x {}", mother.0.written(book), father.0.written(book));
        let arrangement = arranged(&asked.traits.linkage, recombines, &loci, book)?;
        let names = ["the mother".to_owned(), "the father".to_owned()];
        let plants = [at_word(mother), at_word(father)];
        Ok(Self {
            sown: generation_of(asking, &pair),
            not_stated: open_loci(book, &loci, &mother.0, &father.0),
            better_known: Vec::new(),
            is_of_ledger: false,
            believed: None,
            distance_open: open_pairs(&arrangement, book),
            phase_open: phase_open(&arrangement, &names, &plants, book),
            names,
            plants,
            plain: Descent::first_cross(),
            descent: asking.descent(Descent::first_cross()),
            arrangement,
        })
    }

    /// Of two plants in the ledger, of a cross where one is named: stated genotypes at their word, or by everything
    /// recorded.
    ///
    /// # Errors
    /// [`Failure`] where their loci cannot be sorted into chromosomes, or what they may be is too much.
    pub fn of_plants(
        context: &Context<'_>,
        asked: &Asked,
        label: Option<&str>,
        parents: (i64, i64),
        asking: Asking,
        recombines: &[Recombines],
    ) -> Result<Self, Failure> {
        let (facts, loci) = (context.index.facts, asked.loci());
        let known = context.looks.book.len();
        if let Some(strange) = loci.iter().find(|locus| locus.0 >= known) {
            let symbol = &asked.traits.book.get(*strange).symbol;
            return Err(Failure::refused(format!(
                "there is no locus {symbol} in the ledger, so nothing is known of it in {}",
                label.unwrap_or("its parents")
            ))
            .try_typing(format!("locule locus set {symbol}")));
        }
        let names = [parents.0, parents.1].map(|plant| facts.label_of_plant(plant));
        if asking.generation.is_some() && parents.0 == parents.1 {
            return Err(Failure::refused(format!(
                "{} is {} selfed; generations are named from two parents",
                label.unwrap_or("this"),
                names[0]
            ))
            .try_remedy(Remedy::Help));
        }
        let book = &context.looks.book;
        let arrangement = arranged(&context.looks.linkage, recombines, &loci, book)?;
        let pair = match names[0] == names[1] {
            true => format!("{} selfed", names[0]),
            false => format!("{} x {}", names[0], names[1]),
        };
        let pair = label.map_or_else(|| pair.clone(), |label| format!("{label}: {pair}"));
        let is_believed = asking.is_believed;
        let believed = is_believed.then(|| pairs_believed(context, parents, &loci));
        let plants = [parents.0, parents.1].map(|plant| plant_at_word(context, plant, &loci));
        Ok(Self {
            phase_open: phase_open(&arrangement, &names, &plants, book),
            sown: generation_of(asking, &pair),
            not_stated: match is_believed {
                true => Vec::new(),
                false => not_stated(context, facts, &loci, parents),
            },
            better_known: match is_believed {
                true => Vec::new(),
                false => better_known(context, parents, &loci),
            },
            believed: believed.transpose()?,
            is_of_ledger: true,
            distance_open: open_pairs(&arrangement, book),
            plants,
            names,
            plain: descent_of(parents),
            descent: asking.descent(descent_of(parents)),
            arrangement,
        })
    }

    /// A parent of which something is not stated.
    #[must_use]
    pub fn open_plant(&self) -> Option<&str> {
        let is_open =
            |(_, plant): &(&String, &Parent)| plant.loci.values().any(|at| at.known().is_none());
        let mut both = self.names.iter().zip(&self.plants);
        both.find(is_open).map(|(name, _)| name.as_str())
    }

    /// What the parents may be together by everything recorded; nothing where they are taken at their word.
    #[must_use]
    pub fn believed_pairs(&self) -> Option<&[Pair]> {
        self.believed.as_deref()
    }

    /// As the genetics read it.
    #[must_use]
    pub fn breeding(&self) -> Breeding<'_> {
        Breeding {
            mother: &self.plants[0],
            father: &self.plants[1],
            descent: &self.descent,
            arrangement: &self.arrangement,
            selection: &[],
        }
    }

    /// The same if the parents are one pair of all that they may be.
    #[must_use]
    pub fn breeding_of<'b>(&'b self, pair: &'b Pair) -> Breeding<'b> {
        Breeding {
            mother: &pair.mother,
            father: &pair.father,
            ..self.breeding()
        }
    }

    /// What the parents may be, and the shares of the classes among the seed if they are, every target being possible
    /// in one of the cases. `f2` is how the F2 would be asked for instead.
    ///
    /// # Errors
    /// [`Failure`] where the expectation cannot be formed, or a target cannot come, with the loci that make it so.
    pub fn cases(&self, asked: &Asked, f2: &Remedy) -> Result<Vec<CaseOf>, Failure> {
        let models = asked.models();
        let found = match &self.believed {
            Some(believed) => phased(&self.breeding(), believed),
            None => pairs(&self.breeding()),
        };
        let found = found.ok_or_else(|| {
            let open = [&self.not_stated[..], &self.phase_open].concat();
            Failure::refused(format!(
                "what is not stated leaves more than {MOST_PAIRS} pairs that the parents may be: {}",
                listed(&open, "and")
            ))
            .because("state genotypes at those loci, or ask for fewer traits at once")
            .try_typing("locule parent add --help")
        })?;
        let mut cases = Vec::with_capacity(found.len());
        for pair in found {
            let shares =
                breed(&self.breeding_of(&pair), &models).map_err(|error| unexpected(&error))?;
            cases.push(CaseOf { pair, shares });
        }
        for target in &asked.targets {
            let comes = |case: &CaseOf| share_of(&case.shares, &target.asks).p > 0.0;
            if !cases.iter().any(comes) {
                return Err(self.impossible(target, &models, &asked.traits.book, f2));
            }
        }
        Ok(cases)
    }

    /// What each F1 plant's own seed is, by what the parents may be, where F1 plants are bred on and differ in what is
    /// wanted; nothing too where it is not worked out.
    ///
    /// # Errors
    /// [`Failure`] where the expectation cannot be formed.
    pub fn f1_plants(&self, cases: &[CaseOf], asked: &Asked) -> Result<Option<CasesOfF1>, Failure> {
        if self.plain == self.descent {
            return Ok(None);
        }
        let (models, most) = (asked.models(), MOST_PAIRS / cases.len().max(1));
        let mut found = Vec::with_capacity(cases.len());
        for case in cases {
            let breeding = self.breeding_of(&case.pair);
            let kinds = kinds_of_f1(&breeding, &models, &asked.targets, most);
            match kinds.map_err(|error| unexpected(&error))? {
                Some(kinds) => found.push((case.pair.weight, kinds)),
                None => return Ok(None),
            }
        }
        let is_alike = found.iter().all(|(_, kinds)| kinds.len() == 1);
        Ok((!is_alike).then_some(found))
    }

    fn impossible(
        &self,
        target: &Target,
        models: &[&GeneModel],
        book: &LocusBook,
        f2: &Remedy,
    ) -> Failure {
        let loci = match blamed(&self.breeding(), models, target, book) {
            Ok(loci) => loci,
            Err(error) => return unexpected(&error),
        };
        let [mother, father] = &self.plants;
        let why = |locus: &LocusIx| {
            let at = |plant: &Parent| {
                let known = plant.at(*locus).and_then(AtLocus::known);
                known.map_or("not stated".to_owned(), |pair| {
                    pair.written(book.get(*locus))
                })
            };
            let [one, other] = &self.names;
            let symbol = &book.get(*locus).symbol;
            match self.breeding().needs_father() {
                true => format!("{symbol}: {one} is {}, {other} {}", at(mother), at(father)),
                false => format!("{symbol}: {one} is {}", at(mother)),
            }
        };
        let symbols: Vec<&str> = loci.iter().map(|l| book.get(*l).symbol.as_str()).collect();
        let failure = Failure::refused(format!(
            "no seed of {} can be {}: {} {} it impossible",
            self.sown,
            target.name,
            listed(&symbols, "and"),
            if loci.len() == 1 { "makes" } else { "make" }
        ));
        let failure = loci
            .iter()
            .fold(failure, |failure, locus| failure.because(why(locus)));
        match self.comes_in_f2(target, models) {
            true => failure.try_remedy(f2.clone()),
            false => failure.try_typing("locule expect --help"),
        }
    }

    /// Whether the target could come in the F2 instead.
    fn comes_in_f2(&self, target: &Target, models: &[&GeneModel]) -> bool {
        let Ok(f2) = "F2".parse::<Generation>() else {
            return false;
        };
        let breeding = Breeding {
            descent: &f2.descent(Recurrent::Mother),
            ..self.breeding()
        };
        let is_first = self.descent == Descent::first_cross();
        is_first
            && breed(&breeding, models).is_ok_and(|shares| share_of(&shares, &target.asks).p > 0.0)
    }
}

/// What the parents may be, and what their seed is then.
#[derive(Debug)]
pub struct CaseOf {
    /// The parents.
    pub pair: Pair,
    /// The shares of the classes among their seed.
    pub shares: Shares,
}

impl CaseOf {
    /// The mean over several.
    #[must_use]
    pub fn mean(cases: &[Self]) -> Shares {
        let weighed: Vec<(f64, Shares)> = cases
            .iter()
            .map(|case| (case.pair.weight, case.shares.clone()))
            .collect();
        Shares::mean(&weighed).expect("there is a case, and the weights add up to 1")
    }
}

/// Every pair of plants that two parents may be by everything recorded, those that change no digit left out.
fn pairs_believed(
    context: &Context<'_>,
    parents: (i64, i64),
    loci: &[LocusIx],
) -> Result<Vec<Pair>, Failure> {
    let pair = |(mother, father, weight)| Pair {
        weight,
        mother,
        father,
    };
    let all = believed(context, parents, loci)?.into_iter().map(pair);
    likeliest(all.collect()).ok_or_else(|| {
        Failure::refused(format!(
            "by everything recorded the parents may be more than {MOST_PAIRS} pairs of genotypes"
        ))
        .because("every gene that is asked about multiplies them; ask for fewer traits at once")
        .try_remedy(Remedy::Without("--believed"))
    })
}

fn generation_of(asking: Asking, pair: &str) -> String {
    match asking.generation {
        None => pair.to_owned(),
        Some(generation) if generation.is_backcross() => {
            let back = match asking.recurrent {
                Recurrent::Mother => "back to the mother",
                Recurrent::Father => "back to the father",
            };
            format!("{generation} ({back}) of {pair}")
        }
        Some(generation) => format!("{generation} of {pair}"),
    }
}

fn arranged(
    linkage: &LinkageMap,
    recombines: &[Recombines],
    loci: &[LocusIx],
    book: &LocusBook,
) -> Result<Arrangement, Failure> {
    let mut linkage = linkage.clone();
    add_typed(&mut linkage, recombines, book)?;
    linkage
        .arrange(loci, false, book)
        .map_err(|error| unsorted(&error))
}

fn phase_open(
    arrangement: &Arrangement,
    [one, other]: &[String; 2],
    [mother, father]: &[Parent; 2],
    book: &LocusBook,
) -> Vec<String> {
    let both = [(one.as_str(), mother), (other.as_str(), father)];
    let named = if one == other { &both[..1] } else { &both[..] };
    Lie::of(arrangement, named, book).phase_open
}

fn open_pairs(arrangement: &Arrangement, book: &LocusBook) -> Vec<String> {
    let symbol = |locus: &LocusIx| book.get(*locus).symbol.clone();
    let pair = |(one, other): &(LocusIx, LocusIx)| format!("{} and {}", symbol(one), symbol(other));
    arrangement.open.iter().map(pair).collect()
}
