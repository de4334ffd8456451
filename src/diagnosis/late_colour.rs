//! When late classes show, learnt from the ledger's own batches.
//!
//! Median, spread and, where asked, ceiling by maximum likelihood: the sum of log P(batch) over the batches whose label
//! promises the late class, off-type sources, paces and dim light in. Standard errors by the curvature at the top, on
//! the scales ln median, ln spread and logit ceiling. Stores nothing; the command line calls it.

use crate::records::assumptions::Assumptions;
use crate::records::facts::Facts;
use crate::stats::optimum::{covariance, curvature, maximise};
use crate::stats::tails::{NORMAL_95, chi_square_upper};

use super::DiagnosisError;
use super::context::Context;
use super::index::Index;
use super::late_colour_batches::{
    Lesson, TaughtBy, lessons, ln_likelihood, models_read, same_words,
};
use super::late_colour_more::{MEDIAN_WITHIN, More, SPREAD_WITHIN, more};
use super::late_colour_parents::{DoubtedParent, doubted_parents};
use super::looks::{Looks, Onset};
use super::posterior::Rules;

/// Bounds of the search: median in days, spread, ceiling.
const BOUNDS: [(f64, f64); 3] = [(0.5, 200.0), (0.03, 3.0), (0.2, 0.999_999)];

/// First steps of the search on the scales of the parameters.
const STEPS: [f64; 3] = [0.15, 0.25, 0.5];

/// Steps of the numerical curvature, on the same scales.
const SMALL: [f64; 3] = [0.01, 0.01, 0.02];

/// An estimate this close to a bound, on its scale, stands at it.
const AT_BOUND: f64 = 1e-2;

/// A standard error above this, on its scale, says that nothing is known.
const KNOWS_NOTHING: f64 = 1.5;

/// By what batches are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Split {
    /// Not at all.
    Together,
    /// By where they stand.
    ByPlace,
    /// By the light they stand under.
    ByLight,
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted {
    /// Whether places or lights are fitted apart.
    pub split: Split,
    /// Whether the ceiling is fitted too.
    pub ceiling: bool,
    /// Whether batches count of which nobody counted what came up.
    pub uncounted: bool,
}

/// A fitted number and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The number.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
    /// Standard error of its log (of its logit for a ceiling).
    pub se_scaled: f64,
    /// Bounds of its 95 % interval, symmetric on its own scale.
    pub interval: [f64; 2],
}

/// An onset fitted.
#[derive(Debug, Clone, PartialEq)]
pub struct OnsetFit {
    /// The onset, held numbers included.
    pub onset: Onset,
    /// The median, where it was fitted.
    pub median_days: Option<Estimate>,
    /// The spread, where it was fitted.
    pub spread: Option<Estimate>,
    /// The ceiling, where it was fitted.
    pub ceiling: Option<Estimate>,
    /// Log likelihood of the batches at it.
    pub ln_likelihood: f64,
    /// The same at the onset in use.
    pub ln_before: f64,
}

impl OnsetFit {
    /// Whether median and spread are as sure as a fit should be before it is relied on.
    #[must_use]
    pub fn is_settled(&self) -> bool {
        let within = |estimate: Option<Estimate>, most: f64| {
            estimate.is_some_and(|estimate| estimate.se_scaled <= most)
        };
        within(self.median_days, MEDIAN_WITHIN) && within(self.spread, SPREAD_WITHIN)
    }
}

/// The fit of one place or light.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The place or light as first written; empty for those of none.
    pub name: String,
    /// How many batches.
    pub batches: usize,
    /// How many seedlings.
    pub seedlings: i64,
    /// The fit, where there is enough.
    pub fit: Option<OnsetFit>,
}

/// Whether places or lights differ: twice the gain in log likelihood of fitting them apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// Twice the gain.
    pub chi2: f64,
    /// How many numbers more were fitted.
    pub df: usize,
    /// P(as much or more by chance).
    pub p: f64,
}

/// What the ledger's batches teach about one trait.
#[derive(Debug, Clone, PartialEq)]
pub struct TraitFit {
    /// The trait, as a place among the ledger's.
    pub of: usize,
    /// Its code.
    pub code: String,
    /// Whether it is offered for scoring; one that is not has no evidence.
    pub switched_on: bool,
    /// The names of its late classes.
    pub late: Vec<String>,
    /// Whether the ceiling was to be fitted.
    pub ceiling_wanted: bool,
    /// The onset in use.
    pub before: Onset,
    /// Every batch that was read for it.
    pub batches: Vec<TaughtBy>,
    /// The fit of all that teach.
    pub fit: Option<OnsetFit>,
    /// Places or lights apart, where asked.
    pub parts: Vec<Part>,
    /// Whether they differ, where at least two could be fitted, all were, and the same numbers are free in every fit.
    pub difference: Option<Difference>,
    /// What it takes until the fit is settled; nothing once it is.
    pub more: Option<More>,
    /// Parents of the batches that teach which may not be what they are taken for.
    pub doubted: Vec<DoubtedParent>,
}

impl TraitFit {
    /// The batches that teach.
    pub fn used(&self) -> impl Iterator<Item = &TaughtBy> {
        self.batches.iter().filter(|by| by.left_out.is_none())
    }
}

/// The late traits of a ledger, as places among its traits: those offered for scoring, or with seedlings read.
#[must_use]
pub fn late_traits(looks: &Looks) -> Vec<usize> {
    let late = |at: &usize| looks.traits[*at].onset.is_some() && looks.traits[*at].switched_on;
    (0..looks.traits.len()).filter(late).collect()
}

/// What the ledger's batches teach about when some traits show their late classes.
///
/// # Errors
/// [`DiagnosisError`] where a stored text cannot be read.
pub fn fit_traits(
    facts: &Facts,
    looks: &Looks,
    traits: &[usize],
    wanted: Wanted,
) -> Result<Vec<TraitFit>, DiagnosisError> {
    let beliefs = Assumptions::of(facts);
    let index = Index::new(facts);
    let context = Context::new(looks, &index, &beliefs)?;
    let one = |of: &usize| Some(fit_trait(&context, *of, looks.traits[*of].onset?, wanted));
    Ok(traits.iter().filter_map(one).collect())
}

fn fit_trait(context: &Context<'_>, of: usize, before: Onset, wanted: Wanted) -> TraitFit {
    let rules = Rules::default();
    let models = models_read(context, of);
    let (batches, teaching) = lessons(context, &models, &rules, of, wanted.uncounted);
    let fitter = Fitter {
        context,
        rules: &rules,
        of,
        before,
        ceiling: wanted.ceiling,
    };
    let all: Vec<&Lesson<'_>> = teaching.iter().collect();
    let fit = fitter.fit(&all);
    let parts = fitter.parts(&batches, &all, wanted.split);
    let known = |of: fn(&OnsetFit) -> Option<Estimate>| {
        fit.as_ref().and_then(of).map(|estimate| estimate.se_scaled)
    };
    let known = [known(|fit| fit.median_days), known(|fit| fit.spread)];
    let likely = fit.as_ref().map_or(before, |fit| fit.onset);
    let look = &context.looks.traits[of];
    let late = look.classes.iter().filter(|class| class.after.is_some());
    TraitFit {
        of,
        code: look.code.clone(),
        switched_on: look.switched_on,
        late: late.map(|class| class.name.clone()).collect(),
        ceiling_wanted: wanted.ceiling,
        before,
        difference: difference(fit.as_ref(), &parts),
        more: more(&likely, context.beliefs.batch_spread, known),
        doubted: match fit {
            Some(_) => doubted_parents(context, &rules, &teaching, of),
            None => Vec::new(),
        },
        batches,
        fit,
        parts,
    }
}

/// Twice the gain in log likelihood of the parts over the whole, as chi-square: Wilks 1938, Annals of Mathematical
/// Statistics 9:60-62.
fn difference(whole: Option<&OnsetFit>, parts: &[Part]) -> Option<Difference> {
    let fits: Option<Vec<&OnsetFit>> = parts.iter().map(|part| part.fit.as_ref()).collect();
    let fits = fits.filter(|fits| fits.len() > 1)?;
    let free = |fit: &OnsetFit| [fit.median_days, fit.spread, fit.ceiling].map(|one| one.is_some());
    let (whole, apart) = (
        whole?,
        fits.iter().map(|fit| fit.ln_likelihood).sum::<f64>(),
    );
    // A number held in one fit and free in another is no case of one model within the other.
    if fits.iter().any(|fit| free(fit) != free(whole)) {
        return None;
    }
    let chi2 = 2.0 * (apart - whole.ln_likelihood).max(0.0);
    let numbers = free(whole).iter().filter(|one| **one).count();
    let df = numbers * (fits.len() - 1);
    Some(Difference {
        chi2,
        df,
        p: chi_square_upper(chi2, df),
    })
}

/// What a fit needs beside its batches.
struct Fitter<'a> {
    context: &'a Context<'a>,
    rules: &'a Rules,
    of: usize,
    before: Onset,
    ceiling: bool,
}

/// The scale of each parameter: log of median and spread, logit of the ceiling.
fn scaled(onset: &Onset) -> [f64; 3] {
    let top = BOUNDS[2].1;
    let ceiling = onset.ceiling.min(top);
    [
        onset.median_days.ln(),
        onset.spread.ln(),
        (ceiling / (1.0 - ceiling)).ln(),
    ]
}

fn bounds(parameter: usize) -> (f64, f64) {
    let (low, high) = BOUNDS[parameter];
    let onset = |value| {
        scaled(&Onset {
            median_days: value,
            spread: value,
            ceiling: value,
        })[parameter]
    };
    (onset(low), onset(high))
}

impl Fitter<'_> {
    /// The fit of some batches: of all numbers wanted or, where these are too many for the data, of fewer.
    fn fit(&self, lessons: &[&Lesson<'_>]) -> Option<OnsetFit> {
        if lessons.is_empty() {
            return None;
        }
        let mut tries: Vec<&[usize]> = vec![&[0, 1], &[0]];
        if self.ceiling {
            tries.insert(0, &[0, 1, 2]);
        }
        tries
            .into_iter()
            .find_map(|free| self.fit_these(lessons, free))
    }

    /// The onset in use with some of its numbers moved, each on its scale.
    fn onset(&self, free: &[usize], at: &[f64]) -> Onset {
        let mut onset = self.before;
        for (parameter, value) in free.iter().zip(at) {
            match parameter {
                0 => onset.median_days = value.exp(),
                1 => onset.spread = value.exp(),
                _ => onset.ceiling = 1.0 / (1.0 + (-value).exp()),
            }
        }
        onset
    }

    fn fit_these(&self, lessons: &[&Lesson<'_>], free: &[usize]) -> Option<OnsetFit> {
        let within = |at: &[f64]| {
            free.iter().zip(at).all(|(parameter, value)| {
                let (low, high) = bounds(*parameter);
                (low..=high).contains(value)
            })
        };
        let height = |at: &[f64]| {
            if !within(at) {
                return f64::NEG_INFINITY;
            }
            let onset = self.onset(free, at);
            ln_likelihood(self.context, lessons, self.rules, self.of, onset)
        };
        let pick = |list: [f64; 3]| free.iter().map(|at| list[*at]).collect::<Vec<f64>>();
        let start = self.start(&height, pick(scaled(&self.before)));
        let top = maximise(&height, &start, &pick(STEPS));
        let inside = free.iter().zip(&top.at).all(|(parameter, value)| {
            let (low, high) = bounds(*parameter);
            value - low > AT_BOUND && high - value > AT_BOUND
        });
        if !inside {
            return None;
        }
        let spread = covariance(&curvature(&height, &top.at, &pick(SMALL)))?;
        let ses: Vec<f64> = (0..free.len()).map(|at| spread[at][at].sqrt()).collect();
        if ses.iter().any(|se| *se > KNOWS_NOTHING) {
            return None;
        }
        let estimate = |parameter: usize| {
            let place = free.iter().position(|at| *at == parameter)?;
            Some(estimate(parameter, top.at[place], ses[place]))
        };
        Some(OnsetFit {
            onset: self.onset(free, &top.at),
            median_days: estimate(0),
            spread: estimate(1),
            ceiling: estimate(2),
            ln_likelihood: top.value,
            ln_before: height(&pick(scaled(&self.before))),
        })
    }

    /// The best of some medians to start from: that in use, and others around it.
    fn start(&self, height: &dyn Fn(&[f64]) -> f64, from: Vec<f64>) -> Vec<f64> {
        let moved = |by: f64| {
            let mut at = from.clone();
            at[0] += by;
            (height(&at), at)
        };
        let starts = [0.0, 0.35, -0.35, 0.8, -0.8].map(moved);
        let best = starts
            .into_iter()
            .max_by(|one, other| one.0.total_cmp(&other.0));
        best.map_or(from.clone(), |(_, at)| at)
    }

    /// Places or lights, each fitted alone.
    fn parts(&self, batches: &[TaughtBy], lessons: &[&Lesson<'_>], split: Split) -> Vec<Part> {
        let name = |by: &TaughtBy| match split {
            Split::Together => None,
            Split::ByPlace => Some(by.place.clone()),
            Split::ByLight => Some(by.light.clone()),
        };
        let mut parts: Vec<(String, Vec<&Lesson<'_>>)> = Vec::new();
        for lesson in lessons {
            let Some(name) = name(&batches[lesson.at]) else {
                return Vec::new();
            };
            match parts.iter_mut().find(|(own, _)| same_words(own, &name)) {
                Some((_, list)) => list.push(lesson),
                None => parts.push((name, vec![lesson])),
            }
        }
        let part = |(name, lessons): (String, Vec<&Lesson<'_>>)| Part {
            name,
            batches: lessons.len(),
            seedlings: lessons.iter().map(|one| batches[one.at].seedlings).sum(),
            fit: self.fit(&lessons),
        };
        parts.into_iter().map(part).collect()
    }
}

/// A parameter back from its scale: the standard error by the slope of the scale there, the interval by its ends.
fn estimate(parameter: usize, at: f64, se: f64) -> Estimate {
    let back = |value: f64| match parameter {
        0 | 1 => value.exp(),
        _ => 1.0 / (1.0 + (-value).exp()),
    };
    let value = back(at);
    let slope = match parameter {
        0 | 1 => value,
        _ => value * (1.0 - value),
    };
    Estimate {
        value,
        se: slope * se,
        se_scaled: se,
        interval: [back(at - NORMAL_95 * se), back(at + NORMAL_95 * se)],
    }
}
