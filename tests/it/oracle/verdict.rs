//! What to do with a seedling: the rules, and what one more reading on each day to come would settle.

use super::choices::KEEP_LOOKS_AT_EVERY_DAY;
use super::evidence::{Reading, Unit};
use super::model::Model;
use super::posterior::UnitPosterior;
use super::season::{Day, Season};
use super::visibility::AtTheirWord;

/// Days ahead that are looked at.
pub const HORIZON: Day = 60;

/// A verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    Cull,
    Keep,
    Unproven,
    Wait,
    Undecided,
}

/// A verdict, the day to look again, and whether a rounding error could have turned it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Decision {
    pub verdict: Verdict,
    pub look_again: Option<Day>,
    pub fragile: bool,
}

/// All that the rules ask about one seedling.
pub struct Outlook<'a> {
    pub season: &'a Season,
    pub model: &'a Model<'a>,
    pub unit: &'a Unit,
    pub posterior: &'a UnitPosterior,
    pub word: &'a AtTheirWord,
}

/// The quantities the rules compare with thresholds.
#[derive(Clone, Copy, Debug)]
struct Facts {
    off: f64,
    /// The largest P(off) after the same class once more.
    lifted: f64,
    /// P(the label ends in the newest class or in one that it comes before).
    label_ends: f64,
    /// Likelihood under the sources over likelihood under the label.
    ratio: f64,
}

/// Thresholds all moved a little towards one side, to find verdicts that hang on rounding.
const NUDGES: [f64; 3] = [0.0, 1e-7, -1e-7];

impl Outlook<'_> {
    /// The verdict today.
    pub fn decide(&self) -> Decision {
        let now = self.facts(&self.unit.readings);
        let settled: Vec<Option<Verdict>> = NUDGES.iter().map(|&e| rule(now, e)).collect();
        if settled.iter().all(Option::is_some) {
            return Decision {
                verdict: settled[0].expect("all are settled"),
                look_again: None,
                fragile: settled.iter().any(|s| *s != settled[0]),
            };
        }
        let chances = self.chances();
        let decide = |(i, &nudge): (usize, &f64)| match settled[i] {
            Some(verdict) => (verdict, None),
            None => look_again(&chances[i], nudge).map_or((Verdict::Undecided, None), |d| {
                (Verdict::Wait, Some(self.season.today + d))
            }),
        };
        let decided: Vec<_> = NUDGES.iter().enumerate().map(decide).collect();
        Decision {
            verdict: decided[0].0,
            look_again: decided[0].1,
            fragile: decided.iter().any(|d| *d != decided[0]),
        }
    }

    /// For each nudge and day ahead, the chance that one more firm reading settles it.
    fn chances(&self) -> Vec<Vec<f64>> {
        let newest = *self.unit.readings.last().expect("a unit has readings");
        let classes = self.season.traits[newest.of].classes.len();
        let (on, off) = self.weigh(&self.unit.readings);
        let mut chances = vec![Vec::new(); NUDGES.len()];
        for day in self.days_ahead() {
            let mut settles = vec![0.0; NUDGES.len()];
            for class in 0..classes {
                let readings = self.with(&self.unit.readings, newest.of, class, day);
                let (true_now, off_now) = self.weigh(&readings);
                let predicted = (true_now + off_now) / (on + off);
                let facts = self.facts(&readings);
                for (settle, &nudge) in settles.iter_mut().zip(&NUDGES) {
                    *settle += if rule(facts, nudge).is_some() {
                        predicted
                    } else {
                        0.0
                    };
                }
            }
            chances.iter_mut().zip(settles).for_each(|(c, s)| c.push(s));
        }
        chances
    }

    fn days_ahead(&self) -> impl Iterator<Item = Day> + use<> {
        let today = self.season.today;
        (1..=HORIZON).map(move |d| today + d)
    }

    /// The readings with one more firm one; it replaces an older one of the same trait and day.
    pub fn with(&self, readings: &[Reading], of: usize, class: usize, day: Day) -> Vec<Reading> {
        let mut longer: Vec<Reading> = readings
            .iter()
            .copied()
            .filter(|r| (r.of, r.day) != (of, day))
            .collect();
        longer.push(Reading {
            day,
            order: usize::MAX,
            of,
            class,
            error: self.season.traits[of].misread,
            firm: true,
        });
        longer.sort_by_key(|r| (r.day, r.order));
        longer
    }

    /// Joint probability of everything with this seedling's readings replaced: true to label, off-type.
    pub fn weigh(&self, readings: &[Reading]) -> (f64, f64) {
        let likelihood = self.model.likelihoods(readings, self.unit);
        let sum = |weights: &[Vec<f64>]| -> f64 {
            weights
                .iter()
                .flatten()
                .zip(likelihood.iter().flatten())
                .map(|(w, l)| w * l)
                .sum()
        };
        (
            sum(&self.posterior.as_labelled),
            sum(&self.posterior.as_off),
        )
    }

    fn off(&self, readings: &[Reading]) -> f64 {
        let (on, off) = self.weigh(readings);
        off / (on + off)
    }

    fn facts(&self, readings: &[Reading]) -> Facts {
        let newest = *readings.last().expect("a unit has readings");
        let off = self.off(readings);
        let label_ends = self.label_ends(newest);
        // Only a seedling that may be kept is asked what the same class once more would do.
        let may_stay = off <= 0.21 && label_ends >= 0.04;
        let mut days = self
            .days_ahead()
            .filter(|&d| KEEP_LOOKS_AT_EVERY_DAY || d > newest.day);
        let lifted = match may_stay {
            true => days
                .by_ref()
                .map(|d| self.off(&self.with(readings, newest.of, newest.class, d)))
                .fold(0.0, f64::max),
            false => 1.0,
        };
        Facts {
            off,
            lifted,
            label_ends,
            ratio: self.ratio(readings),
        }
    }

    /// The largest final share under the label of the class or of a late one that it comes before.
    fn label_ends(&self, newest: Reading) -> f64 {
        let t = &self.season.traits[newest.of];
        let at = self
            .model
            .traits
            .iter()
            .position(|&x| x == newest.of)
            .expect("the trait was read");
        let share = |class: usize| -> f64 {
            let looks = self.model.looks.iter().zip(&self.word.label);
            looks.filter(|(l, _)| l[at] == class).map(|(_, p)| p).sum()
        };
        let later = t.late.as_ref().filter(|l| l.after == newest.class);
        later
            .map_or(0.0, |l| share(l.class))
            .max(share(newest.class))
    }

    /// P(readings | sources) / P(readings | label), plants at their word, shift averaged, not dim.
    fn ratio(&self, readings: &[Reading]) -> f64 {
        let likelihood = self.model.likelihoods(readings, self.unit);
        let lit: Vec<_> = self
            .model
            .states
            .iter()
            .zip(&likelihood)
            .filter(|(s, _)| s.shift.is_some())
            .collect();
        let total: f64 = lit.iter().map(|(s, _)| s.weight).sum();
        let given = |looks: &[f64]| -> f64 {
            let one = |l: &Vec<f64>| looks.iter().zip(l).map(|(p, l)| p * l).sum::<f64>();
            lit.iter().map(|(s, l)| s.weight / total * one(l)).sum()
        };
        given(&self.word.averaged()) / given(&self.word.label)
    }
}

/// `cull`, `keep` or `unproven`, or nothing yet.
fn rule(f: Facts, nudge: f64) -> Option<Verdict> {
    if f.off >= 0.95 + nudge {
        return Some(Verdict::Cull);
    }
    let stays = f.off <= 0.20 + nudge && f.lifted <= 0.20 + nudge && f.label_ends >= 0.05 + nudge;
    match stays {
        true if f.ratio <= 0.5 + nudge => Some(Verdict::Keep),
        true => Some(Verdict::Unproven),
        false => None,
    }
}

/// Days from today until it is worth looking again, if one reading is likely enough to settle it.
fn look_again(chances: &[f64], nudge: f64) -> Option<Day> {
    let soon = chances.iter().take(14).copied().fold(0.0, f64::max);
    let enough = if soon >= 0.5 + nudge {
        0.9 * soon + nudge
    } else {
        0.5 + nudge
    };
    let first = chances.iter().position(|&q| q >= enough)?;
    Some(Day::try_from(first).expect("a day within the horizon") + 1)
}
