//! The lines of the answer of `plan cross`: a plan, its share of seed as wanted, who brings what, what is not settled.
//!
//! Part of the answer of `plan cross`.

use serde::Serialize;

use super::numbers::percent;
use super::plan_sowing::GerminationLine;
use super::plan_which_mother::setting_word;
use super::text::{listed, shown};
use crate::planning::cross::{By, Scheme, Seen, Test, Turned};

/// What is done, as scripts read it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum SchemeWord {
    /// One plant selfed.
    #[serde(rename = "self")]
    Selfed,
    /// The two crossed.
    #[serde(rename = "F1")]
    First,
    /// The F1 selfed.
    #[serde(rename = "F2")]
    Second,
    /// The F1 crossed back to the mother.
    #[serde(rename = "BC1-to-mother")]
    BackToMother,
    /// The F1 crossed back to the father.
    #[serde(rename = "BC1-to-father")]
    BackToFather,
    /// The F1's pollen on the mother.
    #[serde(rename = "BC1-on-mother")]
    OntoMother,
}

impl From<Scheme> for SchemeWord {
    fn from(scheme: Scheme) -> Self {
        match scheme {
            Scheme::Selfed => Self::Selfed,
            Scheme::First => Self::First,
            Scheme::Second => Self::Second,
            Scheme::BackToMother => Self::BackToMother,
            Scheme::BackToFather => Self::BackToFather,
            Scheme::OntoMother => Self::OntoMother,
        }
    }
}

/// Who brings a look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ByWord {
    /// The mother; of a self the plant.
    Mother,
    /// The father.
    Father,
    /// Either.
    Both,
    /// The mother may.
    PerhapsMother,
    /// The father may.
    PerhapsFather,
    /// Neither by itself.
    Together,
}

impl From<By> for ByWord {
    fn from(by: By) -> Self {
        match by {
            By::Mother => Self::Mother,
            By::Father => Self::Father,
            By::Both => Self::Both,
            By::PerhapsMother => Self::PerhapsMother,
            By::PerhapsFather => Self::PerhapsFather,
            By::Together => Self::Together,
        }
    }
}

/// How it stands with the other way round.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TurnedWord {
    /// As good.
    AsGood,
    /// It sets less readily.
    Harder,
    /// It takes more seeds.
    MoreSeeds,
    /// Pollen is missing.
    NoPollen,
}

impl From<Turned> for TurnedWord {
    fn from(turned: Turned) -> Self {
        match turned {
            Turned::AsGood => Self::AsGood,
            Turned::Harder => Self::Harder,
            Turned::MoreSeeds => Self::MoreSeeds,
            Turned::NoPollen => Self::NoPollen,
        }
    }
}

/// A look and who brings it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BringLine {
    /// The look.
    pub look: String,
    /// Who brings it.
    pub by: ByWord,
    /// What is settled of the mother at its loci.
    pub mother: String,
    /// What is settled of the father there.
    pub father: String,
}

/// Looks whose loci lie on one chromosome.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LinkedLine {
    /// The looks.
    pub looks: Vec<String>,
    /// Neighbours and how often they are parted: `A and H at 0.12`.
    pub loci: Vec<String>,
    /// Whether one parent brings all of them.
    pub from_one: bool,
}

/// The share of seed as wanted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShareLine {
    /// The mean over what the parents may be.
    pub p: f64,
    /// The least.
    pub p_least: f64,
    /// The most.
    pub p_most: f64,
    /// As a fraction in lowest terms, where there is but one and it is known exactly.
    pub fraction: Option<String>,
}

/// The largest denominator that is shown.
const MOST_PARTS: u64 = 4096;

/// Numerator and denominator in lowest terms of a share that is some power of one half, exactly.
fn halves(p: f64) -> Option<(u64, u64)> {
    let mut parts = 1;
    while parts <= MOST_PARTS {
        let n = p * parts as f64;
        if n == n.floor() {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a whole number from 0 to the parts"
            )]
            return Some((n as u64, parts));
        }
        parts *= 2;
    }
    None
}

impl ShareLine {
    /// Of a share.
    #[must_use]
    pub fn new(seen: Seen) -> Self {
        let is_one = seen.most - seen.least <= 1e-12;
        let fraction = halves(seen.mean).filter(|_| is_one);
        Self {
            p: seen.mean,
            p_least: seen.least,
            p_most: seen.most,
            fraction: fraction.map(|(n, of)| match of {
                1 => n.to_string(),
                _ => format!("{n}/{of}"),
            }),
        }
    }

    fn is_one(&self) -> bool {
        self.p_most - self.p_least <= 1e-12
    }

    /// `3 in 64 are as wanted`.
    pub(super) fn said(&self) -> String {
        let as_wanted = |n: &str| {
            if n == "1" {
                "is as wanted"
            } else {
                "are as wanted"
            }
        };
        if !self.is_one() {
            return format!(
                "{} to {} are as wanted, by what is not settled",
                bound(self.p_least),
                bound(self.p_most)
            );
        }
        match self.fraction.as_deref().map(|text| text.split_once('/')) {
            Some(Some((n, of))) => format!("{n} in {of} {}", as_wanted(n)),
            Some(None) => "all are as wanted".to_owned(),
            None => format!("{} are as wanted", percent(self.p)),
        }
    }

    pub(super) fn cell(&self) -> String {
        match (&self.fraction, self.is_one()) {
            (Some(fraction), _) if fraction == "1" => "all".to_owned(),
            (Some(fraction), _) => fraction.clone(),
            (None, true) => percent(self.p),
            (None, false) => format!("{} to {}", bound(self.p_least), bound(self.p_most)),
        }
    }
}

fn bound(p: f64) -> String {
    match halves(p) {
        Some((0, _)) => "none".to_owned(),
        Some((_, 1)) => "all".to_owned(),
        Some((n, of)) => format!("{n}/{of}"),
        None => percent(p),
    }
}

/// One plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanLine {
    /// What is done: `self`, `F1`, `F2`, `BC1-to-mother`, `BC1-to-father`, `BC1-on-mother`.
    pub scheme: SchemeWord,
    /// The mother; of a self the plant.
    pub mother: String,
    /// The father; of a self the same.
    pub father: String,
    /// Plants that would do as well in her place.
    pub mother_or: Vec<String>,
    /// Plants that would do as well in his.
    pub father_or: Vec<String>,
    /// Seeds of the last generation to sow; nothing where it is not sure enough.
    pub seeds: Option<u64>,
    /// The chance that at least one is as wanted.
    pub probability: Option<f64>,
    /// How much of that seed comes up.
    pub germination: GerminationLine,
    /// Seeds to sow for the F1 before it, so that a plant that leads to what is wanted is up; nothing where there is none.
    pub f1_seeds: Option<u64>,
    /// The chance that it is.
    pub f1_probability: Option<f64>,
    /// The test of which plants breed true; nothing where all that look as wanted do, or it was not asked for.
    pub test: Option<TestLine>,
    /// The chance that the parents are such that any can be.
    pub hope: f64,
    /// The share of seed as wanted.
    #[serde(flatten)]
    pub share: ShareLine,
    /// Generations of seed to sow, one a season.
    pub seasons: u64,
    /// How readily it sets: `same-species`, `usual`, `hard`, `very-hard`, `not-expected`, `unknown`.
    pub crossability: String,
    /// How fertile the F1 is: `high`, `partial`, `variable`, `unknown`.
    pub fertility: String,
    /// The species, mother and father, where they differ.
    pub species: Option<[String; 2]>,
    /// How it stands with the other way round: `as-good`, `harder`, `more-seeds` or `no-pollen`.
    pub turned: TurnedWord,
    /// Crosses of the ledger that are its first step.
    pub made_as: Vec<String>,
    /// Who brings what.
    pub brings: Vec<BringLine>,
    /// Look by look what F1 plants show.
    pub hybrid: Vec<Vec<String>>,
    /// What lies on one chromosome.
    pub linked: Vec<LinkedLine>,
    /// The reasons in words.
    pub why: String,
}

/// The test of which plants of the last generation breed true: by their selfed seed, a season later.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TestLine {
    /// Plants that look as wanted, on average.
    pub plants: f64,
    /// Seeds of each to sow.
    pub seeds_each: u64,
    /// Seeds in all, on average.
    pub seeds: f64,
    /// Of the plants that split the share that shows it.
    pub told: f64,
}

impl From<Test> for TestLine {
    fn from(test: Test) -> Self {
        Self {
            plants: test.plants,
            seeds_each: test.seeds_each,
            seeds: test.plants * test.seeds_each as f64,
            told: test.told,
        }
    }
}

impl TestLine {
    /// Plants as they are shown.
    pub(super) fn whole_plants(&self) -> u64 {
        (self.plants.round() as u64).max(1)
    }

    /// Seeds as they are shown: those of each of the plants shown.
    pub(super) fn whole_seeds(&self) -> u64 {
        self.whole_plants() * self.seeds_each
    }
}

/// What is not settled of a parent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct UnsettledLine {
    /// The plant.
    pub plant: String,
    /// At which loci.
    pub loci: Vec<String>,
    /// What would settle it: `look`, `testcross`, `self` or `phase`.
    pub settle: &'static str,
    /// How many of its seedlings would show it, where seedlings do.
    pub seedlings: Option<u64>,
    /// A command to type.
    pub command: String,
}

impl UnsettledLine {
    pub(super) fn said(&self) -> String {
        let of = format!(
            "not settled: {} at {}",
            shown(&self.plant),
            listed(&self.loci, "and")
        );
        let seedlings = self.seedlings.unwrap_or(0);
        match self.settle {
            "look" => format!(
                "{of}; its own look would tell: {}, or what you see",
                self.command
            ),
            "testcross" => format!(
                "{of}; of a testcross {seedlings} seedlings would show it: {}",
                self.command
            ),
            "self" => format!(
                "{of}; selfed, {seedlings} seedlings would show it: {}",
                self.command
            ),
            _ => format!(
                "{of}, as to which alleles lie together; its seed would tell: {}",
                self.command
            ),
        }
    }
}

impl PlanLine {
    /// Whether seed crossed by hand is sown for it.
    pub(super) fn is_crossed(&self) -> bool {
        self.scheme != SchemeWord::Selfed
    }

    pub(super) fn is_hard(&self) -> bool {
        matches!(
            self.crossability.as_str(),
            "hard" | "very-hard" | "not-expected"
        )
    }

    pub(super) fn caution(&self) -> Option<String> {
        let [one, other] = self.species.as_ref()?;
        let word = setting_word(&self.crossability, &self.fertility);
        (!word.is_empty()).then(|| {
            format!(
                "{} x {}, {} by {}: {word}",
                shown(&self.mother),
                shown(&self.father),
                shown(one),
                shown(other)
            )
        })
    }
}
