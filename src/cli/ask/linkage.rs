//! `linkage`: how often two loci are parted, from counts or from a cross of the ledger.

use clap::{Args, ValueEnum};

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::two_point::{NoEstimate, classes_of, estimate, estimate_jointly};
use crate::genetics::descent::Descent;
use crate::genetics::expect::{Classes, Parent};
use crate::genetics::interactions::{INTERACTIONS, Interaction};
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::rule::GeneModel;
use crate::genetics::two_point::TwoPoint;
use crate::genetics::{AtLocus, Diploid};
use crate::report::linkage::{LinkageAnswer, PairLine, Together};
use crate::report::text::listed;

use super::breeding::{locus_typed, unexpected};
use super::linkage_sets::CountedSet;
use super::wanted::{Wanted, own_trait};

/// A line to try.
pub(super) const EXAMPLE: &str = "locule linkage 284 21 21 55 --phase coupling";

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
    pub(super) const fn words(self) -> &'static str {
        match self {
            Self::F2 => "F2",
            Self::Testcross => "Testcross",
        }
    }

    fn descent(self) -> Descent {
        match self {
            Self::F2 => Descent::self_of_mother(),
            Self::Testcross => Descent::first_cross(),
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
    /// Further counts of the same two genes, to be taken together with the first, each with what was counted and how
    /// the alleles lie: "226 95 97 1 f2 repulsion"; again for each set
    #[arg(long, value_name = "COUNTS", requires = "phase")]
    pub(super) with: Vec<String>,
    /// The first trait: its F2 ratio, such as 9:7, or the rules of a gene model, 'A/_ B/_ => purple', again for each
    /// [default: 3:1]
    #[arg(long, value_name = "RATIO|RULE")]
    pub(super) first: Vec<String>,
    /// The second trait, likewise
    #[arg(long, value_name = "RATIO|RULE")]
    pub(super) second: Vec<String>,
    /// The two loci asked about, where a trait has several [default: the first of each trait]; two of the first trait
    /// without a second are read off that trait's classes alone
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
        let sets = self.sets_typed()?;
        let mut book = LocusBook::new();
        let traits = self.traits_counted(&mut book)?;
        let models: Vec<&GeneModel> = traits.iter().map(|wanted| &wanted.model).collect();
        let pair = self.pair_typed(&book, &models)?;
        let tester = recessive(&models, &book);
        let hybrids: Vec<Parent> = sets
            .iter()
            .map(|set| hybrid(&models, pair, set.phase))
            .collect();
        let descents: Vec<Descent> = sets.iter().map(|set| set.from.descent()).collect();
        let ask = |(f1, descent)| TwoPoint {
            mother: f1,
            father: &tester,
            descent,
            models: &models,
            pair,
        };
        let questions: Vec<TwoPoint<'_>> = hybrids.iter().zip(&descents).map(ask).collect();
        let symbols = pair.map(|locus| book.get(locus).symbol.clone());
        let what = symbols.join(" and ");
        let words: Vec<&[String]> = traits.iter().map(|wanted| &wanted.classes[..]).collect();
        let mut names = Vec::with_capacity(sets.len());
        for (question, set) in questions.iter().zip(&sets) {
            let classes =
                classes_of(question).map_err(|error| self.no_estimate(&error, &[], &what))?;
            let names_here = names_of(&classes, &words);
            if names_here.len() != set.counts.len() {
                return Err(wrong_number(&names_here, set.counts.len()));
            }
            names.push(names_here);
        }
        let failed = |error: NoEstimate| {
            let never = match &error {
                NoEstimate::Impossible(never) => names_of(never, &words),
                _ => Vec::new(),
            };
            self.no_estimate(&error, &never, &what)
        };
        let trait_said = match &traits[..] {
            [only] => format!("one trait, {}", trait_words(&self.first, only)),
            _ => format!(
                "first trait {}, second {}",
                trait_words(&self.first, &traits[0]),
                trait_words(&self.second, &traits[1])
            ),
        };
        let mut answer = LinkageAnswer {
            from: format!("{}, {trait_said}", sets[0].from.words()),
            n: sets.iter().flat_map(|set| &set.counts).sum(),
            pairs: Vec::new(),
            together: None,
            remarks: Vec::new(),
        };
        if let [set] = &sets[..] {
            let found = estimate(&questions[0], &set.counts).map_err(failed)?;
            let plain = self.plain_estimate(set);
            answer.pairs = vec![PairLine::new(symbols, &found, &names[0], plain)];
        } else {
            let counts: Vec<&[u64]> = sets.iter().map(|set| &set.counts[..]).collect();
            let found = estimate_jointly(&questions, &counts).map_err(failed)?;
            let said: Vec<String> = sets.iter().map(CountedSet::words).collect();
            answer.from = format!("{} sets together, {trait_said}", sets.len());
            answer.pairs = vec![PairLine::new(
                symbols,
                &found.linkage,
                &numbered(&names),
                None,
            )];
            answer.together = Some(Together::new(&found, &said));
        }
        Ok(world.answer(&answer))
    }

    /// The traits counted: one, where the pair asked about are both its own and no second is named, else two.
    fn traits_counted(&self, book: &mut LocusBook) -> Result<Vec<Wanted>, Failure> {
        let first = self.trait_typed("--first", &self.first, book)?;
        let pair = self.pair.as_deref().and_then(|typed| typed.split_once(','));
        let is_of_first = |symbol: &str| {
            let locus = book.find(symbol.trim());
            locus.is_some_and(|locus| first.model.loci().contains(&locus))
        };
        if self.second.is_empty()
            && pair.is_some_and(|(one, other)| is_of_first(one) && is_of_first(other))
        {
            return Ok(vec![first]);
        }
        let second = self.trait_typed("--second", &self.second, book)?;
        Ok(vec![first, second])
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

    fn pair_typed(&self, book: &LocusBook, models: &[&GeneModel]) -> Result<[LocusIx; 2], Failure> {
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
            None => first_loci(models).ok_or_else(|| {
                Failure::usage("a trait whose rules name no locus has no linkage")
                    .try_typing(EXAMPLE)
            })?,
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

    /// What the plain formula would make of four classes under epistasis.
    fn plain_estimate(&self, set: &CountedSet) -> Option<f64> {
        let is_plain =
            |typed: &[String]| matches!(typed, [] | [_]) && typed.iter().all(|t| t == "3:1");
        if is_plain(&self.first) && is_plain(&self.second) || set.counts.len() != 4 {
            return None;
        }
        let mut book = LocusBook::new();
        let first = self.trait_typed("--first", &[], &mut book).ok()?;
        let second = self.trait_typed("--second", &[], &mut book).ok()?;
        let models = [&first.model, &second.model];
        let pair = first_loci(&models)?;
        let question = TwoPoint {
            mother: &hybrid(&models, pair, set.phase),
            father: &recessive(&models, &book),
            descent: &set.from.descent(),
            models: &models,
            pair,
        };
        let found = estimate(&question, &set.counts).ok()?;
        Some(found.estimate.value)
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

/// The first locus of each of two traits.
fn first_loci(models: &[&GeneModel]) -> Option<[LocusIx; 2]> {
    match models {
        [one, other] => Some([*one.loci().first()?, *other.loci().first()?]),
        _ => None,
    }
}

/// The F1: heterozygous wherever the traits read, the pair in a phase where it is stated.
fn hybrid(models: &[&GeneModel], pair: [LocusIx; 2], phase: Option<TypedPhase>) -> Parent {
    let loci = models.iter().flat_map(|model| model.loci());
    let mut loci: std::collections::BTreeMap<LocusIx, AtLocus> = loci
        .map(|locus| (*locus, AtLocus::Known(Diploid::new(0, 1))))
        .collect();
    if let Some(phase) = phase {
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

/// The names of classes, those of two traits joined.
pub(super) fn names_of(classes: &[Classes], words: &[&[String]]) -> Vec<String> {
    let name = |classes: &Classes| {
        let names = classes.iter().zip(words);
        let names: Vec<&str> = names.map(|(at, words)| words[*at].as_str()).collect();
        names.join("/")
    };
    classes.iter().map(name).collect()
}

/// The classes of several sets, each with the number of its set.
fn numbered(sets: &[Vec<String>]) -> Vec<String> {
    let names = sets.iter().enumerate();
    names
        .flat_map(|(at, names)| names.iter().map(move |name| format!("{}: {name}", at + 1)))
        .collect()
}

fn wrong_number(names: &[String], given: usize) -> Failure {
    Failure::usage(format!(
        "{given} counts, but there are {} classes",
        names.len()
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
