//! How readily two species set seed, the mother named first.
//!
//! A table, not a computation: what came of crosses and how fertile their F1 was by IBPGR 1983, Genetic Resources of
//! Capsicum (four of its rows reconstructed by position), and beside it how much to hope for (design choice). Later
//! reports disagree on single pairs; it warns and forbids nothing. Asked by `plan which-mother`.

/// How much seed to hope for of a pair of species, in one direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Crossability {
    /// One species.
    SameSpecies,
    /// It usually sets.
    Usual,
    /// Few pods, few seeds.
    Hard,
    /// Rarely a seed.
    VeryHard,
    /// None is expected without embryo culture.
    NotExpected,
    /// Nothing is known of it, or a species is not stated.
    Unknown,
}

/// The species of the table.
const SPECIES: [&str; 5] = ["annuum", "chinense", "frutescens", "baccatum", "pubescens"];

use Crossability::{Hard, NotExpected, SameSpecies, Unknown, Usual, VeryHard};

/// Rows by mother, columns by father, in the order of [`SPECIES`].
const TABLE: [[Crossability; 5]; 5] = [
    [SameSpecies, Usual, Usual, VeryHard, NotExpected],
    [Usual, SameSpecies, Usual, Hard, NotExpected],
    [Hard, Usual, SameSpecies, Hard, NotExpected],
    [VeryHard, Hard, Hard, SameSpecies, NotExpected],
    [
        NotExpected,
        NotExpected,
        NotExpected,
        NotExpected,
        SameSpecies,
    ],
];

impl Crossability {
    /// Of a mother and a father by the names of their species; the genus may stand before it.
    #[must_use]
    pub fn of(mother: &str, father: &str) -> Self {
        let place = |name: &str| {
            let last = name.split_whitespace().last()?.to_lowercase();
            SPECIES.iter().position(|known| *known == last)
        };
        match (place(mother), place(father)) {
            (Some(mother), Some(father)) => TABLE[mother][father],
            _ => Unknown,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_are_kept_apart() {
        assert_eq!(Crossability::of("Capsicum annuum", "frutescens"), Usual);
        assert_eq!(Crossability::of("frutescens", "C. Annuum"), Hard);
        assert_eq!(Crossability::of("annuum", "baccatum"), VeryHard);
        assert_eq!(Crossability::of("", "annuum"), Unknown);
        assert_eq!(Crossability::of("eximium", "pubescens"), Unknown);
    }
}
