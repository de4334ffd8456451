//! What each batch says of mishaps: how likely its readings are with nothing wrong, and with k off-type seedlings by
//! each kind of source.
//!
//! The product over seedlings of (1 - phi) a + phi b is a polynomial in phi; written in Bernstein's form, sum of e_k
//! phi^k (1 - phi)^(n - k) with e_k >= 0, its integral over any Beta is a short sum, so a batch is weighed once and then
//! for any share. Plants are believed as everything but the batch says. The fit calls it.

use crate::records::assumptions::Assumptions;
use crate::records::code::fold;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, PollinationRow, Thing};
use crate::stats::logs::{ln_beta, ln_factorial, log_sum_exp};

use super::answer::{EvidenceNote, Source};
use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads, too_large};
use super::chances::Chances;
use super::context::Context;
use super::kin::Asked;
use super::posterior::{Rules, Weigher};
use super::set_aside::notes_of;
use super::sources::{Candidate, Share, Stock, Technique};
use super::weights::PlantWeights;

/// Whose Beta distribution a partial source's share has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// The mother's own pollen, and several sources at once.
    Selfed,
    /// Pollen of other plants.
    Pollen,
    /// Seed that strayed in.
    Seed,
}

/// All kinds, in order.
pub const KINDS: [Kind; 3] = [Kind::Selfed, Kind::Pollen, Kind::Seed];

impl Kind {
    /// The kind of a source; nothing where it brings none or all of a batch.
    #[must_use]
    pub const fn of(source: &Source) -> Option<Self> {
        match source {
            Source::SelfPollen | Source::Mixed => Some(Self::Selfed),
            Source::Pollen(_) | Source::UnknownPollen => Some(Self::Pollen),
            Source::StraySeed(_) | Source::UnknownSeed => Some(Self::Seed),
            _ => None,
        }
    }
}

/// What one batch says, each number a log; the chance of being wholly as labelled is left open, and so are the shares.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// The batch.
    pub batch_id: i64,
    /// Its code.
    pub tray: String,
    /// How its flowers were treated.
    pub technique: Technique,
    /// With what tool; nothing for selfs and packets.
    pub tool: Option<String>,
    /// The pollinations that its seed can come from.
    pub pollinations: Vec<i64>,
    /// The lots that it was sown from.
    pub lots: Vec<i64>,
    /// Seedlings that are evidence.
    pub seedlings: i64,
    /// Log of P(readings) with nothing wrong.
    pub ln_none: f64,
    /// By kind: log of the coefficient for each number of off-type seedlings, the weights of the sources in.
    pub ln_partial: [Vec<f64>; 3],
    /// Log of P(readings) with the whole batch something else, its prior in.
    pub ln_whole: f64,
}

/// Why a batch says nothing of mishaps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Untold {
    /// It is too large to be weighed exactly.
    TooLarge,
    /// Nothing explains its readings.
    Unexplained,
}

/// A batch that was left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LeftOut {
    /// Its code.
    pub tray: String,
    /// Why.
    pub why: Untold,
}

/// What is left out of a question about all batches.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Without {
    /// Batches.
    pub batches: Vec<LeftOut>,
    /// Traits of batches that are weighed without them, since with them the sums would be too large.
    pub traits: Vec<EvidenceNote>,
}

/// What every batch with a telling reading says, in the order recorded, and what is left out.
#[must_use]
pub fn tell(context: &Context<'_>) -> (Vec<Told>, Without) {
    let rules = Rules::default();
    let rows: Vec<&BatchRow> = context.index.facts.batch.iter().collect();
    let mut models = in_two_threads(&rows, |row| BatchModel::new(context, row));
    let net = Beliefs::new(context, &models, &rules, &Asked::default());
    let open = with_open_chances(context.beliefs);
    for (model, row) in models.iter_mut().zip(&rows) {
        model.suspecting(context.story_with(row, &open));
    }
    models.retain(|model| !model.evidence.members.is_empty());
    let told = in_two_threads(&models, |model| {
        let weights = match too_large(model) {
            Some(_) => return Err(Untold::TooLarge),
            None => net.weights(model).map_err(|_| Untold::TooLarge)?,
        };
        tell_one(context, &rules, model, &weights).ok_or(Untold::Unexplained)
    });
    let (mut all, mut without) = (Vec::new(), Without::default());
    for (model, told) in models.iter().zip(told) {
        match told {
            Ok(told) => {
                without.traits.extend(notes_of(&model.evidence));
                all.push(told);
            }
            Err(why) => without.batches.push(LeftOut {
                tray: tray(context.index.facts, model.batch_id),
                why,
            }),
        }
    }
    (all, without)
}

fn tray(facts: &Facts, batch: i64) -> String {
    let code = facts.code_of(Thing::Batch, batch);
    code.unwrap_or_default().to_owned()
}

/// The same beliefs with an even chance that a batch is wholly as labelled: twice a candidate's prior is then its share
/// of what it belongs to.
fn with_open_chances(beliefs: &Assumptions) -> Assumptions {
    Assumptions {
        none_not_emasculated: 0.5,
        none_emasculated: 0.5,
        none_covered: 0.5,
        none_self_open: 0.5,
        none_self_covered: 0.5,
        ..beliefs.clone()
    }
}

fn tell_one(
    context: &Context<'_>,
    rules: &Rules,
    model: &BatchModel,
    weights: &PlantWeights,
) -> Option<Told> {
    let terms = Weigher::new(model, rules).terms(weights);
    let chances = Chances::of(model, &terms);
    let (mut none, mut whole) = (Vec::new(), Vec::new());
    let mut partial: [Sums; 3] = [Sums::default(), Sums::default(), Sums::default()];
    for term in terms.list() {
        let mass: f64 = term.weights.iter().map(|(_, weight)| weight).sum();
        for (pace, ln_pace) in model.paces.ln_weights.iter().enumerate() {
            let of = |seed| mass.ln() + ln_pace + chances.ln_of(chances.of_seed(seed, pace));
            match (term.on, term.off) {
                (Some(on), None) => none.push(of(on) + 2.0_f64.ln()),
                (None, Some(off)) => whole.push(of(off)),
                (None, None) => {}
                (Some(on), Some(off)) => {
                    let (on, off) = (chances.of_seed(on, pace), chances.of_seed(off, pace));
                    let bernstein = Bernstein::product(&chances.counts, on, off);
                    for (candidate, weight) in &term.weights {
                        let kind = Kind::of(&model.candidates[*candidate].source);
                        let at = KINDS.iter().position(|own| Some(*own) == kind);
                        let at = at.expect("a source that brings a share of a batch has a kind");
                        partial[at].add(&bernstein, ln_pace + (2.0 * weight).ln());
                    }
                }
            }
        }
    }
    let facts = context.index.facts;
    let row = facts.batch.get(model.batch_id)?;
    let pollinations = context.sources.pollinations_of(row);
    let told = Told {
        batch_id: model.batch_id,
        tray: tray(facts, model.batch_id),
        technique: context.sources.technique(row),
        tool: tool(&pollinations, model),
        pollinations: pollinations.iter().map(|row| row.id).collect(),
        lots: context
            .sources
            .lots_of(row)
            .iter()
            .map(|lot| lot.id)
            .collect(),
        seedlings: model.evidence_count(),
        ln_none: log_sum_exp(&none),
        ln_partial: partial.map(Sums::into_lns),
        ln_whole: log_sum_exp(&whole),
    };
    let any = [told.ln_none, told.ln_whole];
    let partial = told.ln_partial.iter().flatten();
    any.iter()
        .chain(partial)
        .any(|ln| ln.is_finite())
        .then_some(told)
}

/// The tool of the pollinations that a batch's seed can come from, and whether it was wiped each time; nothing for selfs
/// and packets.
fn tool(rows: &[&PollinationRow], model: &BatchModel) -> Option<String> {
    if model.is_self() || matches!(model.stock, Stock::Packet(_)) {
        return None;
    }
    let mut tools: Vec<&str> = rows.iter().map(|row| row.tool.trim()).collect();
    tools.sort_unstable_by_key(|tool| fold(tool));
    tools.dedup_by_key(|tool| fold(tool));
    let wiped = if rows.iter().all(|row| row.wiped) {
        "wiped"
    } else {
        "not wiped"
    };
    Some(match tools.as_slice() {
        [] | [""] => "no tool named".to_owned(),
        [one] => format!("{}, {wiped}", fold(one)),
        _ => "several tools".to_owned(),
    })
}

/// A polynomial of a degree n in phi as sum of e_k phi^k (1 - phi)^(n - k); the largest coefficient is 1 and its log
/// stands apart.
struct Bernstein {
    ln: f64,
    coefficients: Vec<f64>,
}

impl Bernstein {
    /// The product over groups of [(1 - phi) on + phi off]^count.
    fn product(counts: &[i64], on: &[f64], off: &[f64]) -> Self {
        let mut product = Self {
            ln: 0.0,
            coefficients: vec![1.0],
        };
        for ((count, on), off) in counts.iter().zip(on).zip(off) {
            product.times(&power(*count, *on, *off));
        }
        product
    }

    fn times(&mut self, factor: &Self) {
        let (own, other) = (&self.coefficients, &factor.coefficients);
        let mut product = vec![0.0; own.len() + other.len() - 1];
        for (i, a) in own.iter().enumerate() {
            for (j, b) in other.iter().enumerate() {
                product[i + j] += a * b;
            }
        }
        self.ln += factor.ln;
        self.coefficients = product;
        self.settle();
    }

    /// Takes the largest coefficient out.
    fn settle(&mut self) {
        let most = self.coefficients.iter().copied().fold(0.0, f64::max);
        if most > 0.0 {
            self.coefficients.iter_mut().for_each(|e| *e /= most);
        }
        self.ln += most.ln();
    }
}

/// [(1 - phi) on + phi off]^n: the binomial coefficients times on^(n - k) off^k.
fn power(n: i64, on: f64, off: f64) -> Bernstein {
    let whole = u64::try_from(n).unwrap_or(0);
    let ln_times = |k: u64, f: f64| if k == 0 { 0.0 } else { k as f64 * f.ln() };
    let ln = |k: u64| {
        let ways = ln_factorial(whole) - ln_factorial(k) - ln_factorial(whole - k);
        ways + ln_times(whole - k, on) + ln_times(k, off)
    };
    let lns: Vec<f64> = (0..=whole).map(ln).collect();
    let most = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let plain = |ln: &f64| {
        if most.is_finite() {
            (ln - most).exp()
        } else {
            0.0
        }
    };
    Bernstein {
        ln: most,
        coefficients: lns.iter().map(plain).collect(),
    }
}

/// Sums of polynomials of one degree, a common factor apart.
#[derive(Default)]
struct Sums {
    ln: f64,
    coefficients: Vec<f64>,
}

impl Sums {
    fn add(&mut self, polynomial: &Bernstein, ln: f64) {
        let ln = ln + polynomial.ln;
        if ln == f64::NEG_INFINITY {
            return;
        }
        if self.coefficients.is_empty() {
            self.coefficients = vec![0.0; polynomial.coefficients.len()];
            self.ln = ln;
        }
        if ln > self.ln {
            let shrink = (self.ln - ln).exp();
            self.coefficients.iter_mut().for_each(|e| *e *= shrink);
            self.ln = ln;
        }
        let grow = (ln - self.ln).exp();
        let pairs = self.coefficients.iter_mut().zip(&polynomial.coefficients);
        pairs.for_each(|(sum, e)| *sum += grow * e);
    }

    fn into_lns(self) -> Vec<f64> {
        let ln = self.ln;
        self.coefficients.iter().map(|e| ln + e.ln()).collect()
    }
}

/// Log of the integral of a polynomial in Bernstein's form over a Beta distribution of phi:
/// sum over k of e_k B(a + k, b + n - k)/B(a, b).
#[must_use]
pub fn ln_integral(ln_coefficients: &[f64], moments: &[f64]) -> f64 {
    let pairs = ln_coefficients.iter().zip(moments);
    let lns: Vec<f64> = pairs.map(|(e, moment)| e + moment).collect();
    log_sum_exp(&lns)
}

/// Log of B(a + k, b + n - k)/B(a, b) for k from 0 to n: the mean of phi^k (1 - phi)^(n - k).
///
/// By the recurrence B(x + 1, y - 1) = B(x, y) x/(y - 1): NIST Digital Library of Mathematical Functions, 5.12.1.
#[must_use]
pub fn ln_moments(n: usize, a: f64, b: f64) -> Vec<f64> {
    let mut ln = ln_beta(a, b + n as f64) - ln_beta(a, b);
    let mut moments = vec![ln];
    for k in 0..n {
        ln += (a + k as f64).ln() - (b + (n - k - 1) as f64).ln();
        moments.push(ln);
    }
    moments
}

/// The mean share that a candidate brings.
#[must_use]
pub fn mean_share(candidate: &Candidate) -> f64 {
    match candidate.share {
        Share::Nothing => 0.0,
        Share::Beta(a, b) => a / (a + b),
        Share::Everything => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every subset of the seedlings named off-type, one by one.
    #[test]
    fn the_coefficients_are_sums_over_subsets() {
        let (counts, on, off) = ([2, 1, 1], [0.9, 0.2, 0.5], [0.1, 0.7, 0.25]);
        let seedlings = [(0.9, 0.1), (0.9, 0.1), (0.2, 0.7), (0.5, 0.25)];
        let mut sums = [0.0; 5];
        for subset in 0..16_u32 {
            let product: f64 = (0..4)
                .map(|at| {
                    if subset >> at & 1 == 1 {
                        seedlings[at].1
                    } else {
                        seedlings[at].0
                    }
                })
                .product();
            sums[subset.count_ones() as usize] += product;
        }
        let found = Bernstein::product(&counts, &on, &off);
        for (k, sum) in sums.iter().enumerate() {
            let value = found.ln.exp() * found.coefficients[k];
            assert!((value - sum).abs() < 1e-14, "{k}: {value} {sum}");
        }
    }

    #[test]
    fn moments_of_the_share_are_those_of_the_beta() {
        // Beta(1, 4): mean 1/5, E(1 - phi) = 4/5; E(phi (1 - phi)) = ab/((a + b)(a + b + 1)) = 4/30.
        let one = ln_moments(1, 1.0, 4.0);
        assert!((one[1].exp() - 0.2).abs() < 1e-14 && (one[0].exp() - 0.8).abs() < 1e-14);
        assert!((ln_moments(2, 1.0, 4.0)[1].exp() - 4.0 / 30.0).abs() < 1e-14);
    }

    #[test]
    fn two_thousand_seedlings_neither_vanish_nor_burst() {
        let product = Bernstein::product(&[1_500, 500], &[1e-3, 1.0], &[1.0, 1e-3]);
        let moments = ln_moments(2_000, 1.0, 1.0);
        let lns: Vec<f64> = product
            .coefficients
            .iter()
            .map(|e| product.ln + e.ln())
            .collect();
        let ln = ln_integral(&lns, &moments);
        // All 1,500 off-type and no other: B(1501, 501), the rest is smaller by far.
        let near = ln_beta(1_501.0, 501.0);
        assert!(ln >= near && ln < near + 5.0, "{ln} {near}");
    }
}
