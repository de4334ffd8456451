//! How likely several seedlings of one batch are all off-type at once.
//!
//! Seedlings of a batch share its source and its share of off-types, so this is no product of their chances. Given the
//! source, the plants, the pace and a node of the share they are independent, and the sum over those is as exact as that
//! of one seedling. Called where a choice of seedlings is weighed as a whole; knows nothing of verdicts.

use super::{Chances, Owner, PlantWeights, SMALLEST, Term, Weigher, posterior_of_share};

/// How many seedlings of each group are meant: the group, and a number above 0 no larger than the group.
pub type Choice = Vec<(usize, i64)>;

/// The chance that all seedlings of a choice are off-type.
#[derive(Debug, Clone, PartialEq)]
pub struct AllOff {
    /// P(all are off-type | everything recorded).
    pub p: f64,
    /// For each pair of parental genotypes its weight given everything recorded, and that times the chance given it.
    pub by_pair: Vec<(f64, f64)>,
}

impl Weigher<'_> {
    /// The chance that all seedlings of each choice are off-type, given the weights of the plants from everything but this
    /// batch:
    ///
    /// `P(all off) = sum over source, plants, pace and node of P(they | readings) prod_g (phi b_g / f_g)^k_g`, with
    /// `f_g = (1 - phi) a_g + phi b_g`. What is summed is a polynomial in phi of no higher degree than the likelihood, so
    /// the same nodes are exact.
    #[must_use]
    pub fn all_off(&self, plants: &PlantWeights, choices: &[Choice]) -> Vec<AllOff> {
        let terms = self.weighty_terms(Owner::Pair, plants);
        let chances = Chances::of(self.model, &terms);
        let floor = self.floor(&terms);
        let mut sums = Sums::new(self.model.pair_count(), choices);
        for (term, ln_mass) in self.worth_summing(&terms, &chances) {
            for (pace, ln_pace) in self.model.paces.ln_weights.iter().enumerate() {
                let ln = ln_mass + ln_pace + self.ln_likelihood(term, pace, &chances);
                if ln >= floor {
                    let off = self.off_at_nodes(term, pace, &chances, choices);
                    sums.add(term, ln.exp(), &off);
                }
            }
        }
        sums.told()
    }

    /// For each choice P(all off-type | term, pace, readings).
    fn off_at_nodes(
        &self,
        term: &Term,
        pace: usize,
        chances: &Chances,
        choices: &[Choice],
    ) -> Vec<f64> {
        let (Some(beta), Some(on), Some(off)) = (term.beta, term.on, term.off) else {
            let whole = f64::from(u8::from(term.on.is_none()));
            let chance = |choice: &Choice| if choice.is_empty() { 1.0 } else { whole };
            return choices.iter().map(chance).collect();
        };
        let shares = self.shares(beta);
        let (on, off) = (chances.of_seed(on, pace), chances.of_seed(off, pace));
        let (_, by_node) = posterior_of_share(&shares, on, off, chances);
        let mut sums = vec![0.0; choices.len()];
        let nodes = shares.rule.nodes.iter().zip(&by_node);
        for (share, p) in nodes.filter(|(_, p)| **p > 0.0) {
            let is_off = |(group, count): &(usize, i64)| {
                let both = (1.0 - share) * on[*group] + share * off[*group];
                let one = if both > SMALLEST {
                    share * off[*group] / both
                } else {
                    0.0
                };
                one.powf(*count as f64)
            };
            for (sum, choice) in sums.iter_mut().zip(choices) {
                *sum += p * choice.iter().map(is_off).product::<f64>();
            }
        }
        sums
    }
}

/// Sums over the cases of a batch, by choice and pair.
struct Sums {
    weights: Vec<f64>,
    off: Vec<Vec<f64>>,
}

impl Sums {
    fn new(pairs: usize, choices: &[Choice]) -> Self {
        Self {
            weights: vec![0.0; pairs],
            off: vec![vec![0.0; pairs]; choices.len()],
        }
    }

    fn add(&mut self, term: &Term, weight: f64, off: &[f64]) {
        let mass = term.mass();
        for (pair, own) in &term.weights {
            let share = weight * own / mass;
            self.weights[*pair] += share;
            for (sums, chance) in self.off.iter_mut().zip(off) {
                sums[*pair] += share * chance;
            }
        }
    }

    fn told(self) -> Vec<AllOff> {
        let total: f64 = self.weights.iter().sum();
        let plain = |sum: f64| if total > 0.0 { sum / total } else { 0.0 };
        let told = |off: Vec<f64>| AllOff {
            p: plain(off.iter().sum()).min(1.0),
            by_pair: (self.weights.iter().zip(&off))
                .map(|(weight, off)| (plain(*weight), plain(*off)))
                .collect(),
        };
        self.off.into_iter().map(told).collect()
    }
}
