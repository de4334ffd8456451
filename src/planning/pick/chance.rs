//! The chance that at least one of several seedlings is true, over one tray or several of a cross.
//!
//! Takes what each tray says of its own seedlings together; called by the pick.

use crate::diagnosis::together::OfBatch;

/// What a chance rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rests {
    /// One tray: exact.
    OneTray,
    /// Several trays, each by what it says given the parents' genotypes, which they share.
    Parents,
    /// Several trays of which nothing more is known than each by itself: the least it can be.
    Bound,
}

/// The chance that at least one of several seedlings is true.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// The chance.
    pub p: f64,
    /// The least that it can be, whatever trays have in common.
    pub low: f64,
    /// The most that it can be.
    pub high: f64,
    /// What it rests on.
    pub rests: Rests,
}

/// The chance that not all of the seedlings that some trays were asked about are off-type; nothing where there are none.
///
/// With q the chance of each tray that all of its own are off: of one tray 1 - q. Of several it lies between
/// `1 - min q` and `1 - max(0, sum q - (trays - 1))` (Fréchet 1935, Fundamenta Mathematicae 25:379-387, from memory), and is
/// taken as `1 - sum over pairs of parental genotypes of P(pair) prod q(pair)`: sources and shares of off-types of trays are
/// independent given the parents, other plants that trays have in common left aside; kept within those bounds.
#[must_use]
pub fn chance_of_one_true(parts: &[&OfBatch]) -> Option<Chance> {
    let each: Vec<f64> = parts.iter().map(|part| part.all_off.p).collect();
    let least = each.iter().copied().reduce(f64::min)?;
    let sum: f64 = each.iter().sum();
    let none = (sum - (each.len() - 1) as f64).max(0.0);
    let (low, high) = (1.0 - least, 1.0 - none);
    let (p, rests) = match (parts, given_parents(parts)) {
        ([_], _) => (low, Rests::OneTray),
        (_, Some(all_off)) => ((1.0 - all_off).clamp(low, high), Rests::Parents),
        (_, None) => (low, Rests::Bound),
    };
    Some(Chance {
        p,
        low,
        high,
        rests,
    })
}

/// The chance that all are off in all trays, these being independent given the parents; nothing where the trays do not tell
/// the same genotypes apart.
fn given_parents(parts: &[&OfBatch]) -> Option<f64> {
    let first = parts.first()?;
    let pairs = first.all_off.by_pair.len();
    let same = |part: &&&OfBatch| part.loci == first.loci && part.all_off.by_pair.len() == pairs;
    if !parts.iter().all(|part| same(&part)) {
        return None;
    }
    let of_pair = |pair: usize| {
        let of_trays = parts.iter().map(|part| part.all_off.by_pair[pair]);
        let weight = of_trays.clone().map(|(weight, _)| weight).sum::<f64>() / parts.len() as f64;
        let given = |(weight, off): (f64, f64)| if weight > 0.0 { off / weight } else { 1.0 };
        weight * of_trays.map(given).product::<f64>()
    };
    Some((0..pairs).map(of_pair).sum())
}
