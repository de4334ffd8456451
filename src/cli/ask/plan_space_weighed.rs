//! What a cross that shares places is weighed by.
//!
//! `plan space` asks.

use crate::planning::space::Wish;
use crate::report::plan_known::KnownLine;
use crate::stats::crossing::crossing;
use crate::stats::tails::binomial_tails;

/// A claim with the chance that a plant of it is as wanted.
pub(super) struct Weighed {
    /// What is wanted, where that is a look.
    pub(super) target: Option<String>,
    /// For each thing that the parents may be how likely it is, and the chance if it is so.
    pub(super) cases: Vec<(f64, f64)>,
    /// The share of off-types, on average, where the ledger tells it.
    pub(super) off_share: Option<f64>,
    /// Seeds of it in store or sown, where that is known.
    pub(super) seeds: Option<u64>,
    /// The share of off-types tray by tray, with how likely each is, where the ledger tells it.
    pub(super) off_by_tray: Vec<(f64, f64)>,
    /// What is not stated of the parents.
    pub(super) not_stated: Vec<String>,
    /// Parents whose linked alleles may lie either way.
    pub(super) phase_open: Vec<String>,
    /// What the ledger knows beyond what is stated.
    pub(super) better_known: Vec<KnownLine>,
    /// Whether it is bred on of F1 plants that are not alike.
    pub(super) is_of_f1_plants: bool,
}

impl Weighed {
    /// The chance with so many places if off-types come tray by tray.
    pub(super) fn by_tray(&self, places: usize, want: u64, lives: f64) -> Option<f64> {
        let mean = 1.0 - self.off_share?;
        let case = |off: f64| -> f64 {
            let of = |(weight, p): &(f64, f64)| {
                let p = (p / mean * (1.0 - off) * lives).min(1.0);
                weight * binomial_tails(want, places as u64, p).0
            };
            self.cases.iter().map(of).sum()
        };
        let trays = self.off_by_tray.iter();
        Some(trays.map(|(weight, off)| weight * case(*off)).sum())
    }
}

/// The fewest places, up to those given, with which a wish is met with this chance (design choice).
const PLENTY: f64 = 0.99;

/// The fewest of some places with which a wish is all but sure to be met.
pub(super) fn fewest_places(wish: &Wish, given: usize) -> Option<usize> {
    let met = |places: u64| -> f64 {
        let of = |(weight, p): &(f64, f64)| weight * binomial_tails(wish.want, places, *p).0;
        wish.cases.iter().map(of).sum()
    };
    let is_enough = |places: u64| met(places) >= PLENTY;
    is_enough(given as u64).then(|| crossing(0, given as u64, is_enough) as usize)
}
