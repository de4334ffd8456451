//! The likelihood of readings as a function of one more that comes after them all, summed over what a seedling may be.
//!
//! For a late class, with F the share that shows it by then: `(u + v (F - F_last)) P(class | late) + v (1 - F)
//! P(class | earlier)`, u being what onset before the last reading gives and v the readings' chance if it comes later.
//! Only F depends on the day, so that one more day costs a sum over paces. Called for verdicts that look ahead.

use crate::records::day::Day;

use super::series::Scale;

/// Readings that one more comes after.
#[derive(Debug, Clone)]
pub struct Tail {
    pub(super) trait_at: usize,
    pub(super) parts: Vec<TailPart>,
}

/// A [`Tail`] for one day of emergence.
#[derive(Debug, Clone)]
pub(super) struct TailPart {
    pub(super) came_up: Day,
    /// F at the last reading, by pace.
    pub(super) shown_last: Vec<f64>,
    /// u by profile and pace; all of it for a class that shows from the start.
    pub(super) reached: Vec<f64>,
    /// v by profile and pace.
    pub(super) open: Vec<f64>,
}

/// The sum over profiles and paces of weights times the likelihood with one more reading of a class, on any day.
#[derive(Debug, Clone)]
pub(super) struct TailSum {
    trait_at: usize,
    /// What does not depend on the day.
    fixed: f64,
    parts: Vec<SumPart>,
}

/// A [`TailSum`] for one day of emergence: what stands before F - F_last and before 1 - F, by pace.
#[derive(Debug, Clone)]
struct SumPart {
    came_up: Day,
    shown_last: Vec<f64>,
    turned_since: Vec<f64>,
    not_turned: Vec<f64>,
}

impl Tail {
    /// The sum with one more reading of a class; weights by profile and pace.
    pub(super) fn summed(&self, scale: &Scale<'_>, class: usize, weights: &[f64]) -> TailSum {
        let paces = scale.paces.len();
        let look = scale.look(self.trait_at);
        let has_onset = scale.onsets[self.trait_at].is_some();
        let mut fixed = 0.0;
        let mut sum_part = |part: &TailPart| {
            let (mut turned_since, mut not_turned) = (vec![0.0; paces], vec![0.0; paces]);
            for (profile, classes) in scale.profiles.classes.iter().enumerate() {
                let last = classes[self.trait_at];
                let read_late = look.reading_chance(last, class, None);
                let earlier = look.classes[last].after.filter(|_| has_onset);
                for pace in 0..paces {
                    let cell = profile * paces + pace;
                    fixed += weights[cell] * part.reached[cell] * read_late;
                    if let Some(earlier) = earlier {
                        let open = weights[cell] * part.open[cell];
                        turned_since[pace] += open * read_late;
                        not_turned[pace] += open * look.reading_chance(earlier, class, None);
                    }
                }
            }
            SumPart {
                came_up: part.came_up,
                shown_last: part.shown_last.clone(),
                turned_since,
                not_turned,
            }
        };
        let parts = self.parts.iter().map(&mut sum_part).collect();
        TailSum {
            trait_at: self.trait_at,
            fixed,
            parts,
        }
    }
}

impl TailSum {
    /// The sum where that reading is of this day.
    pub(super) fn on(&self, scale: &Scale<'_>, day: Day) -> f64 {
        let Some(onset) = &scale.onsets[self.trait_at] else {
            return self.fixed;
        };
        let of_part = |part: &SumPart| -> f64 {
            let age = day.since(part.came_up).max(0);
            let paces = 0..scale.paces.len();
            let of_pace = |pace: usize| {
                let shown = onset.shown_by(scale.paces, pace, age);
                part.turned_since[pace] * (shown - part.shown_last[pace])
                    + part.not_turned[pace] * (1.0 - shown)
            };
            paces.map(of_pace).sum()
        };
        self.fixed + self.parts.iter().map(of_part).sum::<f64>()
    }
}
