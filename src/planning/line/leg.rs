//! One leg of a breeding scheme: from one plant, through a generation or several, to the next plant that is kept.
//!
//! Seed of the plant is sown; each seedling that is kept begins a family of its own, of which one plant is kept in
//! every further generation. At the end a family either has what the leg is for or not, so the seeds sown first are
//! the fewest with which enough families have it. What the plant was is known as a mixture of kinds; all families
//! share it. Names and seasons are the schemes' business.

use std::collections::BTreeSet;

use super::kinds::{Kinds, Mixture};
use crate::stats::crossing::crossing;
use crate::stats::tails::binomial_tails;

/// How likely a seed comes up, and is what its label says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sowable {
    /// Of seed by a plant's own pollen.
    pub selfed: f64,
    /// Of seed crossed by hand.
    pub crossed: f64,
}

/// How the seed of a generation is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// The first cross.
    Crossed,
    /// By the plant's own pollen.
    Selfed,
    /// By the parent gone back to.
    Back,
}

/// Which plants of a generation are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// Any, whatever it shows.
    Any,
    /// Those that by their look may still lead to what is wanted.
    Possible,
    /// Those that show all that is wanted.
    Shown,
}

/// One generation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// How its seed is made.
    pub how: How,
    /// Which of its plants are kept.
    pub keep: Keep,
}

/// What a leg ends with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aim {
    /// A plant that shows all that is wanted, or any where it was crossed first.
    Kept,
    /// A plant that carries as much of what is wanted as any of its generation, by its look alone.
    Carrier,
    /// The same, told by its seed by the donor.
    TestedCarrier,
    /// A plant that breeds true, told by its selfed seed where its look does not tell.
    Bred,
}

/// One leg.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Leg {
    /// Its generations.
    pub steps: Vec<Step>,
    /// What it ends with.
    pub aim: Aim,
}

/// The looks that are kept in a generation; nothing where no look is discarded.
pub type Kept = Option<Vec<Vec<usize>>>;

/// The numbers of a leg.
#[derive(Debug, Clone, PartialEq)]
pub struct LegPlan {
    /// Seeds to sow in its first generation.
    pub seeds: u64,
    /// Seeds to sow of each plant kept, in every further one.
    pub each: u64,
    /// Seeds by which each plant kept last is tested; 0 where it need not be.
    pub test: u64,
    /// Seeds sown by generation, on average; then those of the test.
    pub sown: Vec<f64>,
    /// Plants kept by generation, on average.
    pub kept: Vec<f64>,
    /// The looks that are kept by generation; nothing where no look is discarded.
    pub looks: Vec<Kept>,
    /// The chance that it ends with what it is for.
    pub chance: f64,
    /// What the plant is then.
    pub next: Mixture,
}

impl LegPlan {
    /// All seeds sown, on average.
    #[must_use]
    pub fn all_seeds(&self) -> f64 {
        self.sown.iter().sum()
    }
}

/// Seeds of each plant that are tried.
const EACH_TRIED: [u64; 15] = [1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 16, 20, 26, 34, 44];

/// Most seeds of a test.
const MOST_TESTED: u64 = 2_000;

/// Most seeds that are sown in the first generation.
const MOST_SEEDS: u64 = 100_000;

/// A confidence that is met but for rounding is met.
const ROUNDING: f64 = 1e-12;

/// What becomes of one seed sown first: how likely its family ends with a plant of each kind that is kept, and how
/// likely it is still there after each generation.
struct Family {
    ends: Vec<f64>,
    there: Vec<f64>,
}

impl Leg {
    /// The plan with the fewest seeds in all; nothing where none reaches the confidence.
    #[must_use]
    pub fn plan(
        &self,
        kinds: &Kinds,
        parents: &Mixture,
        seed: Sowable,
        want: u64,
        confidence: f64,
    ) -> Option<LegPlan> {
        let (masks, looks) = self.masks(kinds, parents);
        let each_tried = match self.steps.len() {
            1 => &EACH_TRIED[..1],
            _ => &EACH_TRIED[..],
        };
        let mut best: Option<LegPlan> = None;
        for each in each_tried {
            let families: Vec<Family> = parents
                .iter()
                .map(|(plant, _)| self.family(kinds, *plant, &masks, seed, *each))
                .collect();
            let found = Families {
                leg: self,
                right: self.right(kinds, &families),
                kinds,
                parents,
                families,
                seed,
                want,
                confidence,
                each: *each,
            };
            let plan = found.best_test();
            if let Some(plan) = plan
                && best
                    .as_ref()
                    .is_none_or(|known| plan.all_seeds() < known.all_seeds())
            {
                best = Some(plan);
            }
        }
        best.map(|plan| LegPlan { looks, ..plan })
    }

    /// Which kinds are kept in each generation, and the looks by which they are told where some are not.
    fn masks(&self, kinds: &Kinds, parents: &Mixture) -> (Vec<Vec<bool>>, Vec<Kept>) {
        let mut here: BTreeSet<usize> = parents.iter().map(|(plant, _)| *plant).collect();
        let (mut masks, mut told) = (Vec::new(), Vec::new());
        for step in &self.steps {
            let born: BTreeSet<usize> = here
                .iter()
                .flat_map(|plant| rows(kinds, *plant, step.how))
                .map(|(kind, _)| *kind)
                .collect();
            let mask = self.mask(kinds, &born, step.keep);
            let discards = born.iter().any(|kind| !mask[*kind]);
            here = born.into_iter().filter(|kind| mask[*kind]).collect();
            let looks = kinds.looks(here.iter().copied()).into_iter();
            told.push(discards.then(|| looks.map(<[usize]>::to_vec).collect()));
            masks.push(mask);
        }
        (masks, told)
    }

    fn mask(&self, kinds: &Kinds, born: &BTreeSet<usize>, keep: Keep) -> Vec<bool> {
        match keep {
            Keep::Any => vec![true; kinds.all.len()],
            Keep::Shown => kinds.all.iter().map(|kind| kind.shows).collect(),
            Keep::Possible => {
                let carriers = self.carriers(kinds, born.iter().copied());
                let looks = kinds.looks(carriers.into_iter());
                let fits = |kind: &super::kinds::Kind| looks.contains(kind.look.as_slice());
                kinds.all.iter().map(fits).collect()
            }
        }
    }

    /// Of some kinds those that lead on to what is wanted: of a leg that is to end with a carrier the best of them.
    fn carriers(&self, kinds: &Kinds, of: impl Iterator<Item = usize> + Clone) -> Vec<usize> {
        let throws = |kind: usize| kinds.all[kind].throws_true;
        let best = of.clone().map(throws).fold(0.0, f64::max);
        let least = match self.aim {
            Aim::Carrier | Aim::TestedCarrier => best * (1.0 - 1e-9),
            Aim::Kept | Aim::Bred => 0.0,
        };
        of.filter(|kind| throws(*kind) > 0.0 && throws(*kind) >= least)
            .collect()
    }

    /// Which kinds are what the leg is for.
    fn right(&self, kinds: &Kinds, families: &[Family]) -> Vec<bool> {
        let count = kinds.all.len();
        match self.aim {
            Aim::Kept => vec![true; count],
            Aim::Bred => kinds.all.iter().map(|kind| kind.is_true).collect(),
            Aim::Carrier | Aim::TestedCarrier => {
                let ended = |kind: &usize| families.iter().any(|one| one.ends[*kind] > 0.0);
                let ended: Vec<usize> = (0..count).filter(ended).collect();
                let carriers = self.carriers(kinds, ended.into_iter());
                (0..count).map(|kind| carriers.contains(&kind)).collect()
            }
        }
    }

    fn family(
        &self,
        kinds: &Kinds,
        plant: usize,
        masks: &[Vec<bool>],
        seed: Sowable,
        each: u64,
    ) -> Family {
        let count = kinds.all.len();
        let mut here = vec![0.0; count];
        let mut there = Vec::with_capacity(self.steps.len());
        for (at, (step, mask)) in self.steps.iter().zip(masks).enumerate() {
            let comes = match step.how {
                How::Selfed => seed.selfed,
                How::Crossed | How::Back => seed.crossed,
            };
            let mut next = vec![0.0; count];
            if at == 0 {
                for (kind, p) in rows(kinds, plant, step.how) {
                    if mask[*kind] {
                        next[*kind] += comes * p;
                    }
                }
            } else {
                for (mother, p) in here.iter().enumerate().filter(|(_, p)| **p > 0.0) {
                    let row = rows(kinds, mother, step.how);
                    let kept: f64 = row.iter().filter(|(k, _)| mask[*k]).map(|(_, q)| q).sum();
                    if kept <= 0.0 {
                        continue;
                    }
                    let goes_on = 1.0 - missed(comes * kept, each);
                    for (kind, q) in row.iter().filter(|(kind, _)| mask[*kind]) {
                        next[*kind] += p * goes_on * q / kept;
                    }
                }
            }
            there.push(next.iter().sum());
            here = next;
        }
        Family { ends: here, there }
    }
}

/// The offspring of a plant; of the first cross those that the scheme starts with.
fn rows(kinds: &Kinds, plant: usize, how: How) -> &Mixture {
    match how {
        How::Crossed => &kinds.first,
        How::Selfed => &kinds.all[plant].selfed,
        How::Back => &kinds.all[plant].back,
    }
}

/// P(none of n comes) where each does with probability p.
fn missed(p: f64, n: u64) -> f64 {
    (1.0 - p).max(0.0).powf(n as f64)
}

/// The families of every plant that the leg may start with.
struct Families<'a> {
    leg: &'a Leg,
    kinds: &'a Kinds,
    parents: &'a Mixture,
    /// Which kinds are what the leg is for.
    right: Vec<bool>,
    families: Vec<Family>,
    seed: Sowable,
    want: u64,
    confidence: f64,
    each: u64,
}

impl Families<'_> {
    /// With the test that takes the fewest seeds in all.
    fn best_test(&self) -> Option<LegPlan> {
        match self.leg.aim {
            Aim::Kept | Aim::Carrier => self.with_test(0),
            Aim::TestedCarrier => {
                let plans = EACH_TRIED.iter().filter_map(|test| self.with_test(*test));
                plans.min_by(|a, b| a.all_seeds().total_cmp(&b.all_seeds()))
            }
            Aim::Bred => self.with_test(self.fewest_tested()?),
        }
    }

    /// The fewest seeds of a test that tells, with the root of the confidence for each plant wanted, plants that breed
    /// true.
    fn fewest_tested(&self) -> Option<u64> {
        let enough = |test: u64| {
            let (mut pass, mut right) = (0.0, 0.0);
            for ((_, weight), family) in self.parents.iter().zip(&self.families) {
                let (passed, good) = self.passed(family, test);
                pass += weight * passed;
                right += weight * good;
            }
            let sure = (right / pass).powf(self.want as f64);
            right > 0.0 && sure >= self.confidence.sqrt() * (1.0 - ROUNDING)
        };
        if enough(0) {
            return Some(0);
        }
        fewest(MOST_TESTED, enough)
    }

    /// How likely a family ends with a plant that passes, and with one that passes rightly.
    fn passed(&self, family: &Family, test: u64) -> (f64, f64) {
        let all = self.by_kind(family, test);
        let right = all.iter().filter(|(kind, _)| self.right[*kind]);
        (
            all.iter().map(|(_, p)| p).sum(),
            right.map(|(_, p)| p).sum(),
        )
    }

    fn by_kind(&self, family: &Family, test: u64) -> Mixture {
        let ends = family.ends.iter().enumerate().filter(|(_, p)| **p > 0.0);
        ends.map(|(kind, p)| (kind, p * self.passes(kind, test)))
            .collect()
    }

    /// P(a plant of a kind passes a test of so many seeds). By its selfed seed: at least one comes up, and none lacks
    /// what is wanted. By its seed by the donor: at least one shows it.
    fn passes(&self, kind: usize, test: u64) -> f64 {
        let kind = &self.kinds.all[kind];
        match self.leg.aim {
            Aim::TestedCarrier => 1.0 - missed(self.seed.crossed * kind.tested, test),
            Aim::Bred if test > 0 => {
                let splits = self.seed.selfed * (1.0 - kind.throws_shown).max(0.0);
                missed(splits, test) - missed(self.seed.selfed, test)
            }
            _ => 1.0,
        }
    }

    fn with_test(&self, test: u64) -> Option<LegPlan> {
        let passed: Vec<(f64, f64)> = self
            .families
            .iter()
            .map(|family| self.passed(family, test))
            .collect();
        let chance_of = |(pass, right): (f64, f64), seeds: u64| match right > 0.0 {
            true => {
                let sure = (right / pass).powf(self.want as f64);
                sure * binomial_tails(self.want, seeds, pass.min(1.0)).0
            }
            false => 0.0,
        };
        let chance = |seeds: u64| -> f64 {
            let weighed = self.parents.iter().zip(&passed);
            weighed
                .map(|((_, weight), passed)| weight * chance_of(*passed, seeds))
                .sum()
        };
        let allowed = (1.0 - self.confidence) * (1.0 + ROUNDING);
        let seeds = fewest(MOST_SEEDS, |seeds| 1.0 - chance(seeds) <= allowed)?;
        let mut next = Mixture::new();
        for (((_, weight), family), passed) in self.parents.iter().zip(&self.families).zip(&passed)
        {
            let share = weight * chance_of(*passed, seeds) / passed.1.max(f64::MIN_POSITIVE);
            let ends = self.by_kind(family, test).into_iter();
            for (kind, p) in ends.filter(|(kind, p)| *p > 0.0 && self.right[*kind]) {
                match next.iter_mut().find(|(known, _)| *known == kind) {
                    Some((_, sum)) => *sum += share * p,
                    None => next.push((kind, share * p)),
                }
            }
        }
        let all: f64 = next.iter().map(|(_, p)| p).sum();
        next.iter_mut().for_each(|(_, p)| *p /= all);
        let kept: Vec<f64> = (0..self.leg.steps.len())
            .map(|step| seeds as f64 * self.mean(|family| family.there[step]))
            .collect();
        let mut sown = vec![seeds as f64];
        let further = kept.iter().take(kept.len() - 1);
        sown.extend(further.map(|kept| kept * self.each as f64));
        sown.push(kept[kept.len() - 1] * test as f64);
        Some(LegPlan {
            seeds,
            each: self.each,
            test,
            sown,
            kept,
            looks: Vec::new(),
            chance: chance(seeds),
            next,
        })
    }

    fn mean(&self, of: impl Fn(&Family) -> f64) -> f64 {
        let weighed = self.parents.iter().zip(&self.families);
        weighed
            .map(|((_, weight), family)| weight * of(family))
            .sum()
    }
}

/// The fewest, from 1 to a bound, that are enough, more never being less; nothing where the bound is not.
fn fewest(most: u64, enough: impl Fn(u64) -> bool) -> Option<u64> {
    let (mut short, mut n) = (0, 1);
    while !enough(n) {
        if n == most {
            return None;
        }
        (short, n) = (n, (2 * n).min(most));
    }
    Some(crossing(short, n, enough))
}
