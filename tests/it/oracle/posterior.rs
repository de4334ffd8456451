//! P(batch | source, plants), and what follows for the sources and for each seedling.

use std::collections::HashMap;

use super::beliefs::Beliefs;
use super::exact::{Route, Split, split};
use super::model::{Model, Term};
use super::sources::{Share, Source};

/// Subsets summed one by one per batch at most; beyond it the exact sums go by number of off-types.
const SUBSETS_AT_MOST: usize = 400_000;

/// The answer for one kind of seedling, with what a further reading needs.
#[derive(Clone, Debug)]
pub struct UnitPosterior {
    pub off: f64,
    pub by_source: Vec<(Source, f64)>,
    /// Joint weights (state, final look) of the seedling without its own likelihood: true to label, off-type.
    pub as_labelled: Vec<Vec<f64>>,
    pub as_off: Vec<Vec<f64>>,
}

/// The answer for one batch.
#[derive(Clone, Debug)]
pub struct Posterior {
    /// P(this batch's readings | everything else).
    pub evidence: f64,
    pub sources: Vec<f64>,
    pub units: Vec<UnitPosterior>,
}

impl Model<'_> {
    /// P(batch | mother, father) over pairs of genotypes; third plants carry their own belief only.
    pub fn factor(&self, beliefs: &Beliefs) -> Vec<f64> {
        let mut table = vec![0.0; self.kinds * self.kinds];
        if self.evidence.units.is_empty() {
            table.fill(1.0);
            return table;
        }
        for term in self.terms(&self.product_weights(&beliefs.own, false), true) {
            let at = term.parents.0 * self.kinds + term.parents.1;
            table[at] += term.weight
                * self
                    .states
                    .iter()
                    .enumerate()
                    .map(|(k, s)| s.weight * self.plain(&term, k).0)
                    .sum::<f64>();
        }
        table
    }

    /// Each unit's probability of its readings as labelled and as off-type.
    fn readings_given(&self, term: &Term, state: usize) -> (Vec<f64>, Vec<f64>) {
        let given = |looks: &[f64]| {
            self.likelihood
                .iter()
                .map(|unit| dot(looks, &unit[state]))
                .collect()
        };
        (given(&term.label), given(&term.brood))
    }

    /// Evidence in doubles, and per unit its coefficients: evidence = a z0 + b z1 for one seedling of it.
    fn plain(&self, term: &Term, state: usize) -> (f64, Vec<(f64, f64)>) {
        let (a, b) = self.readings_given(term, state);
        let counts: Vec<usize> = self.evidence.units.iter().map(|u| u.count).collect();
        let share = self.candidates.sources[term.source].0.share();
        let mut total = plain_evidence(&a, &b, &counts, None, share).0;
        let mut each = Vec::new();
        for i in 0..a.len() {
            let (_, z0, z1) = plain_evidence(&a, &b, &counts, Some(i), share);
            total = a[i] * z0 + b[i] * z1;
            each.push((z0, z1));
        }
        (total, each)
    }

    /// The posterior over sources and, per unit, of being off-type.
    pub fn posterior(&self, terms: &[Term]) -> Posterior {
        let units = &self.evidence.units;
        let n: usize = units.iter().map(|u| u.count).sum();
        let subsets = (terms.len() * self.states.len()) << n.min(40);
        let route = if n <= 12 && subsets <= SUBSETS_AT_MOST {
            Route::Subsets
        } else {
            Route::BySize
        };
        let mut sums = Sums::new(self);
        let mut known: HashMap<Vec<u64>, Split> = HashMap::new();
        for term in terms {
            for (k, state) in self.states.iter().enumerate() {
                let weight = term.weight * state.weight;
                let (plain, each) = self.plain(term, k);
                let exact = self.exact(term, k, route, &mut known).unwrap_or_else(|| {
                    let (a, b) = self.readings_given(term, k);
                    let labelled = self.candidates.sources[term.source].0.share() == Share::Zero;
                    let off = each
                        .iter()
                        .zip(a.iter().zip(b))
                        .map(|(z, (_, b))| if labelled { 0.0 } else { b * z.1 });
                    Split {
                        total: plain,
                        off: off.collect(),
                    }
                });
                assert!(
                    (exact.total - plain).abs() <= 1e-11 * exact.total,
                    "doubles agree with exact integers"
                );
                sums.add(self, term, k, weight, &exact, &each);
            }
        }
        sums.finish()
    }

    /// The exact split where the share is uncertain; per unit the part of one of its seedlings.
    fn exact(
        &self,
        term: &Term,
        state: usize,
        route: Route,
        known: &mut HashMap<Vec<u64>, Split>,
    ) -> Option<Split> {
        let Share::Beta(second) = self.candidates.sources[term.source].0.share() else {
            return None;
        };
        let (a, b) = self.readings_given(term, state);
        let key = a
            .iter()
            .chain(&b)
            .map(|x| x.to_bits())
            .chain([u64::from(second)])
            .collect();
        let fresh = || {
            let spread = |x: &[f64]| -> Vec<f64> {
                let units = self.evidence.units.iter().zip(x);
                units
                    .flat_map(|(u, &x)| std::iter::repeat_n(x, u.count))
                    .collect()
            };
            let whole = split(&spread(&a), &spread(&b), second, route);
            let mut first = 0;
            let firsts = self.evidence.units.iter().map(|u| {
                first += u.count;
                whole.off[first - u.count]
            });
            Split {
                off: firsts.collect(),
                total: whole.total,
            }
        };
        Some(known.entry(key).or_insert_with(fresh).clone())
    }
}

/// Running sums of a posterior.
struct Sums {
    total: f64,
    sources: Vec<f64>,
    units: Vec<UnitPosterior>,
}

impl Sums {
    fn new(model: &Model) -> Sums {
        let blank = vec![vec![0.0; model.looks.len()]; model.states.len()];
        let unit = UnitPosterior {
            off: 0.0,
            by_source: Vec::new(),
            as_labelled: blank.clone(),
            as_off: blank,
        };
        Sums {
            total: 0.0,
            sources: vec![0.0; model.candidates.sources.len()],
            units: vec![unit; model.evidence.units.len()],
        }
    }

    fn add(
        &mut self,
        model: &Model,
        term: &Term,
        state: usize,
        weight: f64,
        exact: &Split,
        each: &[(f64, f64)],
    ) {
        self.total += weight * exact.total;
        self.sources[term.source] += weight * exact.total;
        for (i, unit) in self.units.iter_mut().enumerate() {
            let off = weight * exact.off[i];
            unit.off += off;
            let source = &model.candidates.sources[term.source].0;
            if *source == Source::Mixed {
                let likelihood = &model.likelihood[i][state];
                let whole = dot(&term.brood, likelihood);
                for (part, (drawn, _)) in term.parts.iter().zip(&model.candidates.drawn) {
                    if whole > 0.0 {
                        credit(
                            &mut unit.by_source,
                            drawn,
                            off * dot(part, likelihood) / whole,
                        );
                    }
                }
            } else if *source != Source::None {
                credit(&mut unit.by_source, source, off);
            }
            let (z0, z1) = each[i];
            for look in 0..model.looks.len() {
                unit.as_labelled[state][look] += weight * z0 * term.label[look];
                unit.as_off[state][look] += weight * z1 * term.brood[look];
            }
        }
    }

    fn finish(mut self) -> Posterior {
        let total = self.total;
        self.sources.iter_mut().for_each(|s| *s /= total);
        for unit in &mut self.units {
            unit.off /= total;
            unit.by_source.iter_mut().for_each(|s| s.1 /= total);
            unit.as_labelled
                .iter_mut()
                .chain(&mut unit.as_off)
                .flatten()
                .for_each(|w| *w /= total);
        }
        Posterior {
            evidence: total,
            sources: self.sources,
            units: self.units,
        }
    }
}

fn credit(held: &mut Vec<(Source, f64)>, source: &Source, p: f64) {
    match held.iter_mut().find(|h| h.0 == *source) {
        Some(h) => h.1 += p,
        None => held.push((source.clone(), p)),
    }
}

fn dot(x: &[f64], y: &[f64]) -> f64 {
    x.iter().zip(y).map(|(x, y)| x * y).sum()
}

/// Evidence of all seedlings but one of unit `without` (or of all) with that one as labelled, and off-type:
/// (all as they are, E[(1 - phi) prod], E[phi prod]). All terms are positive, so doubles lose nothing.
fn plain_evidence(
    a: &[f64],
    b: &[f64],
    counts: &[usize],
    without: Option<usize>,
    share: Share,
) -> (f64, f64, f64) {
    let others = |i: usize| counts[i] - usize::from(without == Some(i));
    let product = |x: &[f64]| -> f64 {
        x.iter()
            .enumerate()
            .map(|(i, x)| (0..others(i)).map(|_| x).product::<f64>())
            .product()
    };
    let second = match share {
        Share::Zero => return (product(a), product(a), 0.0),
        Share::One => return (product(b), 0.0, product(b)),
        Share::Beta(second) => second,
    };
    let mut sizes = vec![1.0];
    let each = (0..a.len()).flat_map(|i| std::iter::repeat_n((a[i], b[i]), others(i)));
    for (a, b) in each {
        sizes.push(0.0);
        for k in (0..sizes.len()).rev() {
            let from_below = if k > 0 { sizes[k - 1] * b } else { 0.0 };
            sizes[k] = sizes[k] * a + from_below;
        }
    }
    let n = sizes.len() - 1;
    let sum = |n: usize, extra: usize| -> f64 {
        sizes
            .iter()
            .enumerate()
            .map(|(k, c)| c * moment(n, k + extra, second))
            .sum()
    };
    (sum(n, 0), sum(n + 1, 0), sum(n + 1, 1))
}

/// B(1 + k, s + n - k) / B(1, s) = s k! (s + n - k - 1)! / (s + n)!.
fn moment(n: usize, k: usize, second: u32) -> f64 {
    let s = f64::from(second);
    // s / (s + n) times the inverse of C(s + n - 1, k).
    let (n, k) = (n as f64, k as f64);
    let choose = (0..k as usize).fold(1.0, |c, i| c * (s + n - 1.0 - i as f64) / (i as f64 + 1.0));
    s / (s + n) / choose
}
