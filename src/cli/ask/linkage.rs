//! `linkage`: how often two loci are parted, from counts or from a cross of the ledger.

use clap::{Args, ValueEnum};

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::two_point::{NoEstimate, classes_of, estimate};
use crate::genetics::descent::Descent;
use crate::genetics::expect::{Classes, Parent};
use crate::genetics::interactions::{INTERACTIONS, Interaction};
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::rule::GeneModel;
use crate::genetics::two_point::TwoPoint;
use crate::genetics::{AtLocus, Diploid};
use crate::report::linkage::{LinkageAnswer, PairLine};
use crate::report::text::listed;

use super::breeding::{locus_typed, unexpected};
use super::ratio::read_count;
use super::wanted::{Wanted, own_trait};

/// A line to try.
const EXAMPLE: &str = "locule linkage 284 21 21 55 --phase coupling";

/// The letters that genes get where none are named.
const LETTERS: [&str; 4] = ["A", "B", "C", "D"];

/// The plants counted.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum From {
    /// An F1 selfed.
    #[default]
    F2,
    /// An F1 by a plant recessive for everything.
    Testcross,
}

impl From {
    const fn words(self) -> &'static str {
        match self {
            Self::F2 => "F2",
            Self::Testcross => "Testcross",
        }
    }
}

/// How the alleles lie in the F1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum TypedPhase {
    /// Both dominant alleles came from one parent.
    Coupling,
    /// One from each.
    Repulsion,
}

/// How often are two genes parted? From counts (`linkage 284 21 21 55 --phase coupling`) or from a cross of the
/// ledger (`linkage X1 --traits foliage,stem-hair`)
#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
pub struct LinkageArgs {
    /// Counts, the classes of the first trait one after the other and within each those of the second; or a cross
    #[arg(required = true, value_name = "COUNT|CROSS")]
    pub(super) counts: Vec<String>,
    /// What was counted [default: f2]
    #[arg(long, value_enum, value_name = "f2|testcross")]
    pub(super) from: Option<From>,
    /// How the alleles lie in the F1; without it both ways are tried
    #[arg(long, value_enum, value_name = "coupling|repulsion")]
    pub(super) phase: Option<TypedPhase>,
    /// The first trait: its F2 ratio, such as 9:7, or the rules of a gene model, 'A/_ B/_ => purple', again for each
    /// [default: 3:1]
    #[arg(long, value_name = "RATIO|RULE")]
    pub(super) first: Vec<String>,
    /// The second trait, likewise
    #[arg(long, value_name = "RATIO|RULE")]
    pub(super) second: Vec<String>,
    /// The two loci asked about, where a trait has several [default: the first of each trait]
    #[arg(long, value_name = "LOCUS,LOCUS")]
    pub(super) pair: Option<String>,
    /// The two traits read in the seedlings of a cross
    #[arg(long, value_name = "TRAIT,TRAIT")]
    pub(super) traits: Option<String>,
}

impl LinkageArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the counts cannot be read, or say nothing of linkage.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match &self.counts[..] {
            [code] if code.starts_with(char::is_alphabetic) => self.of_cross(world, code),
            _ => self.of_counts(world),
        }
    }

    fn of_counts(&self, world: &World) -> Result<Outcome, Failure> {
        if self.traits.is_some() {
            return Err(
                Failure::usage("--traits goes with a cross, not with counts")
                    .try_typing("locule linkage X1 --traits foliage,stem-hair"),
            );
        }
        let counts = self.counts.iter().map(|text| read_count(text));
        let counts = counts
            .collect::<Result<Vec<_>, _>>()
            .map_err(|failure| failure.try_typing(EXAMPLE))?;
        let mut book = LocusBook::new();
        let first = self.trait_typed("--first", &self.first, &mut book)?;
        let second = self.trait_typed("--second", &self.second, &mut book)?;
        let pair = self.pair_typed(&book, [&first.model, &second.model])?;
        let from = self.from.unwrap_or_default();
        let models = [&first.model, &second.model];
        let f1 = self.hybrid(&models, pair);
        let tester = recessive(&models, &book);
        let descent = match from {
            From::F2 => Descent::self_of_mother(),
            From::Testcross => Descent::first_cross(),
        };
        let question = TwoPoint {
            mother: &f1,
            father: &tester,
            descent: &descent,
            models: &models,
            pair,
        };
        let classes = classes_of(&question).map_err(|error| self.no_estimate(&error, &[], ""))?;
        if classes.len() != counts.len() {
            return Err(wrong_number(&classes, counts.len(), [&first, &second]));
        }
        let names = names_of(&classes, [&first.classes, &second.classes]);
        let symbols = pair.map(|locus| book.get(locus).symbol.clone());
        let what = symbols.join(" and ");
        let found = estimate(&question, &counts).map_err(|error| {
            self.no_estimate(&error, &names_for(&error, &first, &second), &what)
        })?;
        let plain = self.plain_estimate(&counts, from);
        let line = PairLine::new(symbols, &found, &names, plain);
        Ok(world.answer(&LinkageAnswer {
            from: format!(
                "{}, first trait {}, second {}",
                from.words(),
                trait_words(&self.first, &first),
                trait_words(&self.second, &second)
            ),
            n: counts.iter().sum(),
            pairs: vec![line],
            remarks: Vec::new(),
        }))
    }

    /// A trait of a ratio, whose genes get the next letters, or of rules.
    fn trait_typed(
        &self,
        flag: &'static str,
        typed: &[String],
        book: &mut LocusBook,
    ) -> Result<Wanted, Failure> {
        let rules: Vec<String> = match typed {
            [] => rules_of("3:1", book.len()).unwrap_or_default(),
            [ratio] if !ratio.contains("=>") => {
                let known = || {
                    let lines = INTERACTIONS.iter();
                    let lines = lines.map(|one| format!("{}: {}", one.ratio, one.meaning));
                    let failure =
                        Failure::usage(format!("{flag}: no gene model is known for '{ratio}'"));
                    lines
                        .fold(failure, Failure::because)
                        .because("or give the rules of a model, one by one")
                        .try_flag(flag, "9:7")
                };
                rules_of(ratio, book.len()).ok_or_else(known)?
            }
            rules => rules.to_vec(),
        };
        let found = own_trait(flag, &rules, book)?;
        Ok(found.expect("there is at least one rule"))
    }

    fn pair_typed(
        &self,
        book: &LocusBook,
        models: [&GeneModel; 2],
    ) -> Result<[LocusIx; 2], Failure> {
        let first_of = |model: &GeneModel| model.loci().first().copied();
        let pair = match &self.pair {
            Some(typed) => {
                let (one, other) = typed.split_once(',').ok_or_else(|| {
                    Failure::usage(format!("--pair '{typed}' does not name two loci"))
                        .try_flag("--pair", "A,C")
                })?;
                [
                    locus_typed("--pair", one.trim(), book)?,
                    locus_typed("--pair", other.trim(), book)?,
                ]
            }
            None => match models.map(first_of) {
                [Some(one), Some(other)] => [one, other],
                _ => {
                    return Err(
                        Failure::usage("a trait whose rules name no locus has no linkage")
                            .try_typing(EXAMPLE),
                    );
                }
            },
        };
        if pair[0] == pair[1] {
            let symbol = &book.get(pair[0]).symbol;
            return Err(Failure::refused(format!(
                "both traits read {symbol}: that is one locus, not two linked ones"
            ))
            .try_flag("--pair", "A,C"));
        }
        Ok(pair)
    }

    /// The F1: heterozygous wherever the traits read, the pair in the phase that was typed.
    fn hybrid(&self, models: &[&GeneModel], pair: [LocusIx; 2]) -> Parent {
        let loci = models.iter().flat_map(|model| model.loci());
        let mut loci: std::collections::BTreeMap<LocusIx, AtLocus> = loci
            .map(|locus| (*locus, AtLocus::Known(Diploid::new(0, 1))))
            .collect();
        if let Some(phase) = self.phase {
            let second = match phase {
                TypedPhase::Coupling => [0, 1],
                TypedPhase::Repulsion => [1, 0],
            };
            loci.insert(pair[0], AtLocus::Phased([0, 1]));
            loci.insert(pair[1], AtLocus::Phased(second));
        }
        Parent {
            loci,
            ..Parent::default()
        }
    }

    /// What the plain formula would make of four classes under epistasis.
    fn plain_estimate(&self, counts: &[u64], from: From) -> Option<f64> {
        let is_plain =
            |typed: &[String]| matches!(typed, [] | [_]) && typed.iter().all(|t| t == "3:1");
        if is_plain(&self.first) && is_plain(&self.second) || counts.len() != 4 {
            return None;
        }
        let mut book = LocusBook::new();
        let first = self.trait_typed("--first", &[], &mut book).ok()?;
        let second = self.trait_typed("--second", &[], &mut book).ok()?;
        let models = [&first.model, &second.model];
        let pair = self.pair_of_first(models)?;
        let descent = match from {
            From::F2 => Descent::self_of_mother(),
            From::Testcross => Descent::first_cross(),
        };
        let question = TwoPoint {
            mother: &self.hybrid(&models, pair),
            father: &recessive(&models, &book),
            descent: &descent,
            models: &models,
            pair,
        };
        estimate(&question, counts)
            .ok()
            .map(|found| found.estimate.value)
    }

    fn pair_of_first(&self, models: [&GeneModel; 2]) -> Option<[LocusIx; 2]> {
        Some([*models[0].loci().first()?, *models[1].loci().first()?])
    }

    /// Why there is no estimate, in words; `classes` names those that cannot come.
    pub(super) fn no_estimate(
        &self,
        error: &NoEstimate,
        classes: &[String],
        what: &str,
    ) -> Failure {
        match error {
            NoEstimate::Expect(error) => unexpected(error),
            NoEstimate::Silent => Failure::refused(format!(
                "these classes say nothing of the linkage of {what}"
            ))
            .because(
                "one parent at least must be heterozygous at both, and the other must let it show",
            )
            .try_typing("locule help linkage"),
            NoEstimate::Impossible(_) => Failure::refused(format!(
                "no recombination fraction gives these counts: {} cannot come",
                match classes.is_empty() {
                    true =>
                        "classes that exclude each other were counted, so one of them".to_owned(),
                    false => listed(classes, "and"),
                }
            ))
            .because("a misreading, a stray seed or another gene model")
            .try_typing("locule help linkage"),
        }
    }
}

/// The rules of a ratio as they would be typed, over the letters after those taken.
fn rules_of(ratio: &str, taken: usize) -> Option<Vec<String>> {
    let one = Interaction::of(ratio)?;
    let rules = one.rules(LETTERS.get(taken..taken + one.genes)?);
    let line = |(pattern, class): (String, String)| format!("{pattern} => {class}");
    Some(rules.into_iter().map(line).collect())
}

/// A plant recessive at every locus that the traits read.
fn recessive(models: &[&GeneModel], book: &LocusBook) -> Parent {
    let loci = models.iter().flat_map(|model| model.loci());
    let last = |locus: &LocusIx| (book.get(*locus).alleles.len() - 1) as u8;
    Parent {
        loci: loci
            .map(|locus| {
                (
                    *locus,
                    AtLocus::Known(Diploid::new(last(locus), last(locus))),
                )
            })
            .collect(),
        ..Parent::default()
    }
}

/// The names of pairs of classes.
pub(super) fn names_of(classes: &[Classes], words: [&[String]; 2]) -> Vec<String> {
    let name = |classes: &Classes| format!("{}/{}", words[0][classes[0]], words[1][classes[1]]);
    classes.iter().map(name).collect()
}

fn names_for(error: &NoEstimate, first: &Wanted, second: &Wanted) -> Vec<String> {
    match error {
        NoEstimate::Impossible(never) => names_of(never, [&first.classes, &second.classes]),
        _ => Vec::new(),
    }
}

fn wrong_number(classes: &[Classes], given: usize, traits: [&Wanted; 2]) -> Failure {
    let names = names_of(classes, [&traits[0].classes, &traits[1].classes]);
    Failure::usage(format!(
        "{given} counts, but there are {} classes",
        classes.len()
    ))
    .because(format!("in this order: {}", names.join(", ")))
    .try_typing(EXAMPLE)
}

/// A trait as it was typed: its ratio, or the classes of its rules.
fn trait_words(typed: &[String], wanted: &Wanted) -> String {
    match typed {
        [] => "3:1".to_owned(),
        [ratio] if !ratio.contains("=>") => ratio.clone(),
        _ => wanted.classes.join(", "),
    }
}
