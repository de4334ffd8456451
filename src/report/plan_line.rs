//! How to come to a line that breeds true, in words and JSON: the best scheme first, what it rests on, the others beside
//! it.

use serde::Serialize;

use super::numbers::{percent, several};
use super::plan_line_words::Words;
use super::plan_sowing::{GerminationLine, OffLine};
use super::text::shown;
use super::{Answer, Page};
use crate::planning::line::Scheme;
use crate::planning::line::leg::{Aim, How, Keep, Kept, Leg, LegPlan};

/// A generation of a scheme, or a test.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GenerationLine {
    /// The season it is grown in, from 1.
    pub season: u32,
    /// Its name: `F2`, `BC1`.
    pub generation: String,
    /// How its seed is made: `crossed`, `selfed`, `backcrossed`, `tested` by selfing, `testcrossed`.
    pub made: &'static str,
    /// Seeds sown, on average.
    pub seeds: f64,
    /// Seeds sown of each plant kept before; nothing where all are of one plant.
    pub seeds_each: Option<u64>,
    /// Plants kept, on average; nothing for a test.
    pub kept: Option<f64>,
    /// Which are kept: `any`, `possible`, `shown`; nothing for a test.
    pub keep: Option<&'static str>,
    /// The looks that are kept; nothing where none is discarded.
    pub looks: Option<Vec<String>>,
    /// Whether this ends with one plant, and not one of each family.
    pub ends_with_one: bool,
}

/// A scheme.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SchemeLine {
    /// How it selects.
    pub way: &'static str,
    /// The generation of the plant that breeds true.
    pub generation: String,
    /// Seasons.
    pub seasons: u32,
    /// Seeds sown in all, on average.
    pub seeds: f64,
    /// The most sown in one season, on average.
    pub most_in_a_season: f64,
    /// The chance that the lines wanted are there at the end.
    pub probability: f64,
    /// The share of other genes at which the plant still has both alleles.
    pub still_open: f64,
    /// The share of the parent gone back to.
    pub recurrent_share: Option<f64>,
    /// Generation by generation.
    pub generations: Vec<GenerationLine>,
}

/// Names generations by how often a plant was crossed back and selfed.
pub type Naming<'a> = &'a dyn Fn(u32, u32) -> String;

/// Names a look.
pub type LookName<'a> = &'a dyn Fn(&[usize]) -> String;

impl SchemeLine {
    /// A scheme in lines.
    #[must_use]
    pub fn new(scheme: &Scheme, name: Naming<'_>, look: LookName<'_>, is_early: bool) -> Self {
        let mut season = 0;
        let mut at: Option<(u32, u32)> = None;
        let mut generations = Vec::new();
        for (leg, plan) in &scheme.legs {
            for (place, step) in leg.steps.iter().enumerate() {
                season += 1;
                let now = match (step.how, at) {
                    (How::Crossed, _) => (0, 0),
                    (How::Selfed, None) => (0, 1),
                    (How::Selfed, Some((back, selfed))) => (back, selfed + 1),
                    (How::Back, before) => (before.map_or(0, |(back, _)| back) + 1, 0),
                };
                at = Some(now);
                generations.push(grown(leg, plan, place, season, name(now.0, now.1), look));
            }
            let (back, selfed) = at.unwrap_or_default();
            if plan.test > 0 {
                let by_donor = leg.aim == Aim::TestedCarrier;
                // Where it is read in seedlings the test stands beside the next generation.
                let when = season + 1;
                season += u32::from(!(by_donor && is_early));
                let generation = match by_donor {
                    true => format!("test of {}", name(back, selfed)),
                    false => name(back, selfed + 1),
                };
                generations.push(GenerationLine {
                    season: when,
                    generation,
                    made: if by_donor { "testcrossed" } else { "tested" },
                    seeds: plan.sown[leg.steps.len()],
                    seeds_each: Some(plan.test),
                    kept: None,
                    keep: None,
                    looks: None,
                    ends_with_one: true,
                });
            }
        }
        let in_season = |season: u32| -> f64 {
            let here = generations.iter().filter(|line| line.season == season);
            here.map(|line| line.seeds).sum()
        };
        let (back, selfed) = at.unwrap_or_default();
        Self {
            way: scheme.way.word(),
            generation: name(back, selfed),
            seasons: scheme.seasons,
            seeds: scheme.all_seeds(),
            most_in_a_season: (1..=scheme.seasons).map(in_season).fold(0.0, f64::max),
            probability: scheme.chance,
            still_open: scheme.still_open(),
            recurrent_share: (scheme.backcrosses > 0)
                .then(|| crate::genetics::generation::recurrent_share(scheme.backcrosses)),
            generations,
        }
    }
}

impl GenerationLine {
    /// Seeds as they are shown.
    pub(super) fn whole_seeds(&self) -> u64 {
        self.seeds.round() as u64
    }
}

impl SchemeLine {
    /// All seeds as they are shown: what stands season by season, added up.
    pub(super) fn whole_seeds(&self) -> u64 {
        self.generations
            .iter()
            .map(GenerationLine::whole_seeds)
            .sum()
    }

    /// The most of them in one season.
    pub(super) fn most_at_once(&self) -> u64 {
        let in_season = |season: u32| -> u64 {
            let here = self.generations.iter().filter(|line| line.season == season);
            here.map(GenerationLine::whole_seeds).sum()
        };
        (1..=self.seasons).map(in_season).max().unwrap_or(0)
    }
}

fn grown(
    leg: &Leg,
    plan: &LegPlan,
    place: usize,
    season: u32,
    generation: String,
    look: LookName<'_>,
) -> GenerationLine {
    let step = leg.steps[place];
    let is_last = place + 1 == leg.steps.len();
    let told: &Kept = &plan.looks[place];
    GenerationLine {
        season,
        generation,
        made: match step.how {
            How::Crossed => "crossed",
            How::Selfed => "selfed",
            How::Back => "backcrossed",
        },
        seeds: plan.sown[place],
        seeds_each: (place > 0).then_some(plan.each),
        kept: Some(plan.kept[place]),
        keep: Some(match step.keep {
            Keep::Any => "any",
            Keep::Possible => "possible",
            Keep::Shown => "shown",
        }),
        looks: told
            .as_ref()
            .map(|looks| looks.iter().map(|one| look(one)).collect()),
        ends_with_one: is_last && plan.test == 0,
    }
}

/// The donor parent's piece beside a gene.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DragLine {
    /// The locus.
    pub locus: String,
    /// Expected centimorgans on each side, towards the chromosome's beginning and its end.
    pub cm: [f64; 2],
    /// Whether the chromosome's end is known on that side; else it is the most that it can be.
    pub end_known: [bool; 2],
}

/// What is left of the donor parent after some backcrosses.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BackLine {
    /// How many.
    pub backcrosses: u32,
    /// The share of the parent gone back to, on average, of genes not near one that is brought in.
    pub recurrent_share: f64,
    /// The share of other genes at which a plant still has both alleles.
    pub still_open: f64,
    /// The donor parent's pieces beside the genes brought in.
    pub drag: Vec<DragLine>,
}

/// The answer of `plan line`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineAnswer {
    /// How likely what it starts with breeds true already; nothing where that is not likely enough, and schemes follow.
    pub already: Option<f64>,
    /// Seasons of the best scheme.
    pub seasons: u32,
    /// Seeds that it sows in all, on average.
    pub seeds: f64,
    /// Its chance.
    pub probability: f64,
    /// The confidence asked for.
    pub confidence: f64,
    /// Lines wanted.
    pub want: u64,
    /// What they are to breed true for.
    pub wanted: String,
    /// How that shows.
    pub shown: String,
    /// What it starts with.
    pub start: String,
    /// The tray by which its parents were named; what stands in it is not reckoned with.
    pub tray: Option<String>,
    /// Whether that is a cross, whose seed is sown first.
    pub is_crossed: bool,
    /// How likely the plants are what they are taken for; nothing where they are taken at their word, and 1 where all that
    /// they may be is weighed.
    pub believed: Option<f64>,
    /// What the first scheme takes the fewest of: `seasons` or `plants`.
    pub fewest: &'static str,
    /// The parent gone back to.
    pub recurrent: Option<String>,
    /// The parent that what is wanted comes from.
    pub donor_parent: Option<String>,
    /// The schemes, the best first.
    pub schemes: Vec<SchemeLine>,
    /// What is left of the donor parent, backcross by backcross.
    pub after_backcrosses: Vec<BackLine>,
    /// How seed comes up.
    pub germination: GerminationLine,
    /// How much crossed seed is not of the label.
    pub off_share: OffLine,
    /// Parents whose linked alleles may lie either way.
    pub phase_open: Vec<String>,
    /// Loci on one chromosome without a known distance.
    pub distance_open: Vec<String>,
    /// Whether seedlings show what is wanted.
    pub is_early: bool,
    /// Whether a genotype was named, of which the dominant allele is taken to show.
    pub by_dominance: bool,
}

impl LineAnswer {
    pub(super) fn line_words(&self) -> String {
        match self.want {
            1 => format!("a line that breeds true for {}", self.wanted),
            n => format!("{n} lines that breed true for {}", self.wanted),
        }
    }

    pub(super) fn headline(&self) -> String {
        if let Some(p) = self.already {
            let (start, wanted) = (shown(&self.start), &self.wanted);
            let said = match self.is_crossed {
                true => format!("all seed of {start} breeds true for {wanted} already"),
                false => format!("{start} breeds true for {wanted} already"),
            };
            let likely = match p < 1.0 - 1e-9 {
                true => format!(", with {}", percent(p)),
                false => String::new(),
            };
            return format!(
                "Nothing to plan: {}{likely}.",
                said.replace(", selfed", "").replace(" selfed", "")
            );
        }
        let seasons = several(u64::from(self.seasons), "season", "seasons");
        let seeds = self.schemes.first().map_or(0, SchemeLine::whole_seeds);
        let seeds = several(seeds, "seed", "seeds");
        format!(
            "In {seasons}, with {seeds} or so in all: {} that you then have {}.",
            percent(self.probability),
            self.line_words()
        )
    }
}

impl Answer for LineAnswer {
    fn words(&self, page: Page) -> String {
        Words { answer: self, page }.text()
    }
}
