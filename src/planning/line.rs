//! From a plant or a cross to a line that breeds true for what is wanted: schemes of selfing, and of crossing back to
//! one parent, side by side.
//!
//! A scheme is a row of [`leg::Leg`]s, each of which ends with one plant that is kept. The confidence is shared evenly:
//! each leg that can fail has the root of it, so that all of them together reach it. Ranked by seasons and seeds, whichever
//! is asked for first.
//! How seed does and what plants are comes in as numbers and strands; the command `plan line` asks.

pub mod hindered;
pub mod kinds;
pub mod leg;

use kinds::{Kinds, Mixture};
use leg::{Aim, How, Keep, Leg, LegPlan, Sowable, Step};

/// What a line is planned from, and how.
#[derive(Debug, Clone, Copy)]
pub struct Question<'a> {
    /// The kinds of plants.
    pub kinds: &'a Kinds,
    /// Whether it starts with a cross, whose seed is sown first; else with a plant at hand.
    pub is_crossed: bool,
    /// How seed does.
    pub seed: Sowable,
    /// How many lines are wanted.
    pub want: u64,
    /// With what chance.
    pub confidence: f64,
    /// Most generations of selfing.
    pub selfings: u32,
    /// How often to cross back, where a parent is gone back to.
    pub backcrosses: Option<u32>,
    /// Whether the donor can test carriers: it breeds true.
    pub can_test: bool,
    /// Whether what is wanted shows in seedlings, so that a test is read before its plants' seed by the parent gone back
    /// to has flowered.
    pub is_early: bool,
}

/// Of what the first scheme takes the fewest; the other decides between equals.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fewest {
    /// Seasons.
    Seasons,
    /// Plants grown, which is seeds sown.
    Plants,
}

/// How a scheme selects.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Selfing, nothing selected before the last generation.
    SelfedUnselected,
    /// Selfing, plants discarded that by their look can no longer give it.
    SelfedPossible,
    /// Selfing, only plants that show all of it kept in every generation.
    SelfedShown,
    /// Crossing back, carriers known by their look.
    BackByLook,
    /// Crossing back, carriers known by their seed by the donor.
    BackTested,
    /// Crossing back, selfing in between to see what is wanted.
    BackSelfedBetween,
    /// Crossing back several families, carriers not known until all are selfed.
    BackBlind,
}

impl Way {
    /// Its word in JSON.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::SelfedUnselected => "selfing-unselected",
            Self::SelfedPossible => "selfing-possible-kept",
            Self::SelfedShown => "selfing-shown-kept",
            Self::BackByLook => "backcross-by-look",
            Self::BackTested => "backcross-tested",
            Self::BackSelfedBetween => "backcross-selfed-between",
            Self::BackBlind => "backcross-blind",
        }
    }

    const fn keeps(self) -> Keep {
        match self {
            Self::SelfedUnselected => Keep::Any,
            Self::SelfedShown => Keep::Shown,
            _ => Keep::Possible,
        }
    }
}

/// A scheme with its numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Scheme {
    /// How it selects.
    pub way: Way,
    /// Its legs.
    pub legs: Vec<(Leg, LegPlan)>,
    /// Backcrosses in it.
    pub backcrosses: u32,
    /// Generations of selfing at its end.
    pub selfings: u32,
    /// Seasons, one for each generation grown and each test that takes one of its own.
    pub seasons: u32,
    /// The chance that it ends with the lines wanted.
    pub chance: f64,
}

impl Scheme {
    /// All seeds sown, on average.
    #[must_use]
    pub fn all_seeds(&self) -> f64 {
        self.legs.iter().map(|(_, plan)| plan.all_seeds()).sum()
    }

    /// The share of the genes in which the two parents differ, and that are neither selected nor near one that is, at
    /// which a plant of the last generation still has both alleles: half as many after each selfing and each backcross
    /// (Mendel).
    #[must_use]
    pub fn still_open(&self) -> f64 {
        0.5_f64.powf(f64::from(self.backcrosses + self.selfings))
    }
}

/// Every scheme that can be carried out, the one with the fewest of what is asked for first.
#[must_use]
pub fn schemes(question: &Question<'_>, fewest: Fewest) -> Vec<Scheme> {
    let mut found = match question.backcrosses {
        None => question.selfing(),
        Some(times) => question.crossing_back(times),
    };
    found.sort_by(|a, b| {
        let seeds = a.all_seeds().total_cmp(&b.all_seeds());
        let seasons = a.seasons.cmp(&b.seasons);
        match fewest {
            Fewest::Seasons => seasons.then(seeds),
            Fewest::Plants => seeds.then(seasons),
        }
    });
    found
}

const fn step(how: How, keep: Keep) -> Step {
    Step { how, keep }
}

impl Question<'_> {
    /// How likely what it starts with is as wanted already, all of its seed included: of a cross all of its seed's seed.
    #[must_use]
    pub fn already(&self) -> f64 {
        self.likely(|kind| kind.is_true)
    }

    /// How likely what it starts with can lead to a line as wanted at all.
    #[must_use]
    pub fn hope(&self) -> f64 {
        self.likely(|kind| kind.throws_true > 0.0)
    }

    fn likely(&self, is: impl Fn(&kinds::Kind) -> bool) -> f64 {
        let first = self.kinds.first.iter();
        let hits = first.filter(|(kind, _)| is(&self.kinds.all[*kind]));
        hits.map(|(_, p)| p).sum()
    }

    fn selfing(&self) -> Vec<Scheme> {
        let ways = [Way::SelfedShown, Way::SelfedPossible, Way::SelfedUnselected];
        let mut found: Vec<Scheme> = Vec::new();
        let least = u32::from(!self.opens_mixed());
        for selfings in least..=self.selfings {
            for way in ways {
                let mut steps = Vec::new();
                if self.opens_mixed() {
                    steps.push(step(How::Crossed, way.keeps()));
                }
                steps.extend((0..selfings).map(|_| step(How::Selfed, way.keeps())));
                if let Some(last) = steps.last_mut() {
                    last.keep = Keep::Shown;
                }
                let is_single = steps.len() == 1;
                let leg = Leg {
                    steps,
                    aim: Aim::Bred,
                };
                let scheme = self.scheme(way, vec![leg], 0, selfings);
                let alike = |one: &Scheme, known: &Scheme| {
                    known.selfings == one.selfings && known.all_seeds() == one.all_seeds()
                };
                found.extend(scheme.filter(|one| !found.iter().any(|known| alike(one, known))));
                if is_single {
                    break;
                }
            }
        }
        found
    }

    fn crossing_back(&self, times: u32) -> Vec<Scheme> {
        let back = step(How::Back, Keep::Possible);
        let selfed = step(How::Selfed, Keep::Shown);
        let leg = |steps: Vec<Step>, aim: Aim| Leg { steps, aim };
        let opening: Vec<Step> = match self.opens_mixed() {
            true => vec![step(How::Crossed, Keep::Possible)],
            false => Vec::new(),
        };
        let one_by_one = |aim: Aim| {
            let first = (!opening.is_empty()).then(|| leg(opening.clone(), aim));
            let each = (0..times).map(|_| leg(vec![back], aim));
            let last = leg(vec![selfed], Aim::Bred);
            first.into_iter().chain(each).chain([last]).collect()
        };
        let between = (0..times).map(|time| {
            let mut steps = if time == 0 {
                opening.clone()
            } else {
                Vec::new()
            };
            steps.extend([back, selfed]);
            let is_last = time + 1 == times;
            leg(steps, if is_last { Aim::Bred } else { Aim::Kept })
        });
        let mut blind = opening.clone();
        blind.extend((0..times).map(|_| back));
        blind.push(selfed);
        let of = |way: Way, legs: Vec<Leg>| self.scheme(way, legs, times, 1);
        let by_look = of(Way::BackByLook, one_by_one(Aim::Carrier));
        // Where a look tells carriers, nothing is tested and nothing goes on blindly.
        let unseen = by_look.is_none();
        let tested = unseen && self.can_test;
        let tested = tested.then(|| of(Way::BackTested, one_by_one(Aim::TestedCarrier)));
        let blind = unseen.then(|| of(Way::BackBlind, vec![leg(blind, Aim::Bred)]));
        let between = of(Way::BackSelfedBetween, between.collect());
        let all = [by_look, tested.flatten(), between, blind.flatten()];
        all.into_iter().flatten().collect()
    }

    /// Whether the seed of the first cross is of several kinds.
    fn opens_mixed(&self) -> bool {
        self.is_crossed && self.kinds.first.len() > 1
    }

    /// The numbers of a scheme; nothing where a leg of it cannot reach its share of the confidence.
    fn scheme(
        &self,
        way: Way,
        mut legs: Vec<Leg>,
        backcrosses: u32,
        selfings: u32,
    ) -> Option<Scheme> {
        let opens_alike = self.is_crossed && !self.opens_mixed();
        let may_fail = legs.len() + usize::from(opens_alike && self.seed.crossed < 1.0);
        let share = self.confidence.powf(1.0 / may_fail as f64);
        if opens_alike {
            let first = Leg {
                steps: vec![step(How::Crossed, Keep::Any)],
                aim: Aim::Kept,
            };
            legs.insert(0, first);
        }
        let mut parents: Mixture = match self.is_crossed {
            // The first cross is made whatever its seed is.
            true => vec![(0, 1.0)],
            false => self.kinds.first.clone(),
        };
        let last = legs.len() - 1;
        let mut planned = Vec::with_capacity(legs.len());
        for (at, leg) in legs.into_iter().enumerate() {
            let want = if at == last { self.want } else { 1 };
            let plan = leg.plan(self.kinds, &parents, self.seed, want, share)?;
            parents.clone_from(&plan.next);
            planned.push((leg, plan));
        }
        let seasons = |(leg, plan): &(Leg, LegPlan)| {
            let test = match leg.aim {
                Aim::Bred => plan.test > 0,
                Aim::TestedCarrier => !self.is_early,
                Aim::Kept | Aim::Carrier => false,
            };
            leg.steps.len() as u32 + u32::from(test)
        };
        Some(Scheme {
            way,
            backcrosses,
            selfings,
            seasons: planned.iter().map(seasons).sum(),
            chance: planned.iter().map(|(_, plan)| plan.chance).product(),
            legs: planned,
        })
    }
}
