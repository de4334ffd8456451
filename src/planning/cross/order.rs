//! Which plan goes before another, and which is not worth naming beside it.
//!
//! Plain comparison of plans; what a season is worth beside seeds is not known here.

use std::cmp::Ordering;

use super::seed::Scheme;
use super::{Plan, Turned};
use crate::records::species::Crossing;

/// A plan with the flocks its parents are of, mother first.
#[derive(Debug, Clone)]
pub(super) struct Ranked {
    pub(super) plan: Plan,
    pub(super) pair: [usize; 2],
}

impl Ranked {
    /// What the plan comes to, whichever way round it is made: the pair, and the scheme with the flock gone back to.
    pub(super) fn same_as(&self) -> ([usize; 2], u8, usize) {
        let [mother, father] = self.pair;
        let pair = [mother.min(father), mother.max(father)];
        match self.plan.scheme {
            Scheme::Selfed => (pair, 0, 0),
            Scheme::First => (pair, 1, 0),
            Scheme::Second => (pair, 2, 0),
            Scheme::BackToMother | Scheme::OntoMother => (pair, 3, mother),
            Scheme::BackToFather => (pair, 3, father),
        }
    }

    pub(super) fn seeds(&self) -> u64 {
        self.plan.need.map_or(u64::MAX, |need| need.n)
    }

    /// How it stands with the same the other way round.
    pub(super) fn turned(&self, other: &Self) -> Turned {
        match hardness(&other.plan.crossing) > hardness(&self.plan.crossing) {
            true => Turned::Harder,
            false if other.plan.need == self.plan.need => Turned::AsGood,
            false => Turned::MoreSeeds,
        }
    }

    /// Whether another of the same parents, or one of them selfed, takes no more seeds and no more seasons.
    pub(super) fn is_spared_by(&self, other: &Self) -> bool {
        let [mother, father] = other.pair;
        let of_same = self.pair.contains(&mother) && self.pair.contains(&father);
        of_same
            && other.seeds() <= self.seeds()
            && other.plan.hope >= self.plan.hope - 1e-12
            && other.plan.scheme.seasons() <= self.plan.scheme.seasons()
    }
}

/// Which plan goes first: one that is sure enough before one that is not, one between plants that cross readily before
/// one that does not, few seeds of the last generation before many, then few seasons, then the simpler, then the ledger's order. A cross of
/// which no seed is expected goes last.
pub(super) fn first(one: &Ranked, other: &Ranked) -> Ordering {
    let tier = |of: &Ranked| match (of.plan.need, hardness(&of.plan.crossing)) {
        (_, 3) => 2,
        (Some(_), _) => 0,
        (None, _) => 1,
    };
    let key = |of: &Ranked| {
        (
            of.seeds(),
            of.plan.scheme.seasons(),
            of.plan.scheme,
            of.pair,
        )
    };
    let hope = match tier(one) {
        1 => other.plan.hope.total_cmp(&one.plan.hope),
        _ => Ordering::Equal,
    };
    let hard = |of: &Ranked| hardness(&of.plan.crossing);
    (tier(one).cmp(&tier(other)))
        .then(hard(one).cmp(&hard(other)))
        .then(hope)
        .then_with(|| key(one).cmp(&key(other)))
}

/// How hard a cross is, in steps.
const fn hardness(crossing: &Crossing) -> u8 {
    use crate::genetics::species::Crossability::{
        Hard, NotExpected, SameSpecies, Unknown, Usual, VeryHard,
    };
    match crossing.crossability {
        SameSpecies | Usual | Unknown => 0,
        Hard => 1,
        VeryHard => 2,
        NotExpected => 3,
    }
}
