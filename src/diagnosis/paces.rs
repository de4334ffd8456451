//! How fast a whole batch colours, and what share shows a late class by an age.
//!
//! Late classes appear at a lognormal age times a ceiling; the log median of a whole batch is shifted by a normal delta,
//! held at Gauss-Hermite nodes, and in a dim batch nothing appears at all. Each node, and the dim batch, is one pace.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use crate::records::assumptions::Assumptions;
use crate::stats::logs::normal_cdf;
use crate::stats::quadrature::gauss_hermite_normal;

use super::looks::Onset;

/// Number of nodes for the shift of a whole batch.
const NODES: usize = 9;

/// Ages up to which onset is looked up instead of computed.
const TABLED_DAYS: usize = 200;

/// How a whole batch colours: as usual, slower or faster, or not at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pace {
    /// The log median is shifted by this much.
    Shifted(f64),
    /// Nothing late shows, for want of light.
    Dim,
}

/// The paces a batch can have, with their weights.
#[derive(Debug, Clone, PartialEq)]
pub struct Paces {
    /// The paces.
    pub paces: Vec<Pace>,
    /// The log weights.
    pub ln_weights: Vec<f64>,
}

impl Paces {
    /// The one usual pace: delta 0, not dim.
    #[must_use]
    pub fn usual() -> Self {
        Self {
            paces: vec![Pace::Shifted(0.0)],
            ln_weights: vec![0.0],
        }
    }

    /// The nine nodes and, unless ruled out, the dim batch. Without late traits there is one pace.
    #[must_use]
    pub fn of(assumptions: &Assumptions, any_late: bool, dim_possible: bool) -> Self {
        if !any_late {
            return Self::usual();
        }
        let dim = if dim_possible { assumptions.dim } else { 0.0 };
        let mut paces = Self {
            paces: Vec::new(),
            ln_weights: Vec::new(),
        };
        if assumptions.batch_spread > 0.0 {
            let rule = gauss_hermite_normal(NODES, assumptions.batch_spread);
            for (node, ln_weight) in rule.nodes.iter().zip(&rule.ln_weights) {
                paces.paces.push(Pace::Shifted(*node));
                paces.ln_weights.push(ln_weight + (1.0 - dim).ln());
            }
        } else {
            paces.paces.push(Pace::Shifted(0.0));
            paces.ln_weights.push((1.0 - dim).ln());
        }
        if dim > 0.0 {
            paces.paces.push(Pace::Dim);
            paces.ln_weights.push(dim.ln());
        }
        paces
    }

    /// The same paces laid out evenly over five standard deviations either side, `steps` to each: a likelihood that is
    /// to be compared between onsets must not ripple from node to node. Dim as before.
    ///
    /// The trapezoidal rule, for the normal distribution as good as exact once the steps are small beside what the
    /// batch tells of its pace (Goodwin 1949, Proceedings of the Cambridge Philosophical Society 45:241-245; from
    /// memory).
    #[must_use]
    pub fn laid_out(&self, spread: f64, steps: usize) -> Self {
        const REACH: f64 = 5.0;
        if spread <= 0.0 || steps == 0 || self.len() <= 2 {
            return self.clone();
        }
        let dim = |at: &usize| self.paces[*at] == Pace::Dim;
        let ln_dim = (0..self.len()).find(dim).map(|at| self.ln_weights[at]);
        let lit = 1.0 - ln_dim.map_or(0.0, f64::exp);
        let at = |node: usize| REACH * (node as f64 / steps as f64 - 1.0);
        let nodes: Vec<f64> = (0..=2 * steps).map(at).collect();
        let total: f64 = nodes.iter().map(|z| (-0.5 * z * z).exp()).sum();
        let ln_weight = |z: &f64| -0.5 * z * z - total.ln() + lit.ln();
        let mut paces = Self {
            paces: nodes.iter().map(|z| Pace::Shifted(spread * z)).collect(),
            ln_weights: nodes.iter().map(ln_weight).collect(),
        };
        if let Some(ln_dim) = ln_dim {
            paces.paces.push(Pace::Dim);
            paces.ln_weights.push(ln_dim);
        }
        paces
    }

    /// How many.
    #[must_use]
    pub fn len(&self) -> usize {
        self.paces.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.paces.is_empty()
    }

    /// The weights without the dim batch, summing to 1.
    #[must_use]
    pub fn weights_not_dim(&self) -> Vec<f64> {
        let weights: Vec<f64> = self
            .paces
            .iter()
            .zip(&self.ln_weights)
            .map(|(pace, w)| if *pace == Pace::Dim { 0.0 } else { w.exp() })
            .collect();
        let total: f64 = weights.iter().sum();
        // Where every batch is believed dim, "not dim" has no weights of its own: all paces alike.
        let alike = 1.0 / weights.len() as f64;
        weights
            .iter()
            .map(|w| if total > 0.0 { w / total } else { alike })
            .collect()
    }
}

/// P(a late class shows by this age): ceiling x Phi((ln t - ln median - delta) / spread), 0 at age 0.
#[must_use]
pub fn shown_by(onset: &Onset, pace: Pace, age: i64) -> f64 {
    match pace {
        Pace::Shifted(delta) if age > 0 => {
            onset.ceiling
                * normal_cdf(((age as f64).ln() - onset.median_days.ln() - delta) / onset.spread)
        }
        _ => 0.0,
    }
}

/// Onset by age and pace, tabled for one trait.
#[derive(Debug, Clone)]
pub struct OnsetTable {
    onset: Onset,
    by_pace: Vec<Vec<f64>>,
}

impl OnsetTable {
    fn new(onset: Onset, paces: &Paces) -> Self {
        let row = |pace: &Pace| {
            (0..TABLED_DAYS as i64)
                .map(|age| shown_by(&onset, *pace, age))
                .collect()
        };
        Self {
            onset,
            by_pace: paces.paces.iter().map(row).collect(),
        }
    }

    /// P(the late class shows by this age) at one of the paces.
    #[must_use]
    pub fn shown_by(&self, paces: &Paces, pace: usize, age: i64) -> f64 {
        usize::try_from(age)
            .ok()
            .and_then(|age| self.by_pace[pace].get(age).copied())
            .unwrap_or_else(|| shown_by(&self.onset, paces.paces[pace], age))
    }
}

type OnsetKey = (u64, u64, u64, usize);

/// Onset tables already made, by onset and number of paces; within one ledger paces of one number are the same.
#[derive(Debug, Default)]
pub struct OnsetTables(Mutex<HashMap<OnsetKey, Arc<OnsetTable>>>);

impl OnsetTables {
    /// The table of an onset, made once.
    ///
    /// # Panics
    /// Where another thread panicked while it made a table.
    pub fn get(&self, onset: Onset, paces: &Paces) -> Arc<OnsetTable> {
        let key = (
            onset.median_days.to_bits(),
            onset.spread.to_bits(),
            onset.ceiling.to_bits(),
            paces.len(),
        );
        let mut tables = self
            .0
            .lock()
            .expect("no thread panics while it makes a table");
        let table = tables
            .entry(key)
            .or_insert_with(|| Arc::new(OnsetTable::new(onset, paces)));
        Arc::clone(table)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn laid_out_paces_are_the_same_distribution() {
        let paces = Paces::of(&Assumptions::default(), true, true);
        let fine = paces.laid_out(0.25, 13);
        assert_eq!(fine.len(), 28);
        let moment = |paces: &Paces, power: i32| -> f64 {
            let each = paces.paces.iter().zip(&paces.ln_weights);
            each.map(|(pace, ln)| match pace {
                Pace::Shifted(delta) => ln.exp() * delta.powi(power),
                Pace::Dim => 0.0,
            })
            .sum()
        };
        for power in [0, 1, 2, 4] {
            let (one, other) = (moment(&paces, power), moment(&fine, power));
            assert!((one - other).abs() < 1e-5, "{power}: {one} {other}");
        }
        assert_eq!(fine.ln_weights.last(), paces.ln_weights.last());
        // Without a pace of its own, or without late traits, there is nothing to lay out.
        assert_eq!(Paces::usual().laid_out(0.25, 13), Paces::usual());
        assert_eq!(paces.laid_out(0.0, 13), paces);
    }
}
