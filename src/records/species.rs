//! Species as the ledger keeps them, and how hard a cross of two plants is: what is in print, unless the grower says
//! otherwise of the pair.
//!
//! What a grower says of a pair is kept as settings, mother before father. The gate writes them, the diagnosis and the
//! answers read them.

use crate::genetics::species::{CULTIVATED, Crossability, HybridFertility, in_print};

use super::assumptions::Assumptions;
use super::code::fold;
use super::facts::Facts;

/// What stands between mother and father in the key of a setting.
pub const BETWEEN: &str = " x ";

/// What a setting of a pair speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PairSetting {
    /// How hard the cross is.
    Crossing,
    /// How fertile the hybrid is.
    Fertility,
}

impl PairSetting {
    const fn word(self) -> &'static str {
        match self {
            Self::Crossing => "species ",
            Self::Fertility => "hybrids ",
        }
    }

    /// The key under which it is kept.
    #[must_use]
    pub fn key(self, mother: &str, father: &str) -> String {
        format!("{}{mother}{BETWEEN}{father}", self.word())
    }
}

/// The pair that the key of a setting speaks of, mother first.
#[must_use]
pub fn pair_of_key(key: &str) -> Option<(String, String)> {
    let words = [PairSetting::Crossing, PairSetting::Fertility];
    let pair = words.iter().find_map(|of| key.strip_prefix(of.word()))?;
    let (mother, father) = pair.split_once(BETWEEN)?;
    Some((mother.to_owned(), father.to_owned()))
}

/// A species as it is compared: without the genus, in small letters.
#[must_use]
pub fn bare(typed: &str) -> String {
    let word = fold(typed.trim());
    let genus = ["capsicum ", "c. "];
    let short = genus.iter().find_map(|genus| word.strip_prefix(genus));
    short.map_or_else(|| word.clone(), |short| short.trim().to_owned())
}

/// Whether a bare word is one of the cultivated species.
#[must_use]
pub fn is_cultivated(bare: &str) -> bool {
    CULTIVATED.contains(&bare)
}

/// How hard a cross of two species is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Crossing {
    /// The mother's species; empty where it is not stated.
    pub mother: String,
    /// The father's.
    pub father: String,
    /// How hard it is.
    pub crossability: Crossability,
    /// How fertile the hybrid is.
    pub fertility: HybridFertility,
}

impl Crossing {
    /// Of a pair of species by their bare words.
    #[must_use]
    pub fn of(facts: &Facts, mother: &str, father: &str) -> Self {
        let (crossability, fertility) = in_print(mother, father);
        let set = |of: PairSetting| facts.setting(&of.key(mother, father));
        let own = set(PairSetting::Crossing).and_then(|word| word.parse().ok());
        let own_fertility = set(PairSetting::Fertility).and_then(|word| word.parse().ok());
        Self {
            mother: mother.to_owned(),
            father: father.to_owned(),
            crossability: own.unwrap_or(crossability),
            fertility: own_fertility.unwrap_or(fertility),
        }
    }

    /// Of two plants.
    #[must_use]
    pub fn of_plants(facts: &Facts, mother: i64, father: i64) -> Self {
        let species = |plant| {
            let row = facts.plant.get(plant);
            row.map_or_else(String::new, |row| bare(&row.species))
        };
        Self::of(facts, &species(mother), &species(father))
    }

    /// Whether the parents are stated to be of two species.
    #[must_use]
    pub fn is_wide(&self) -> bool {
        !self.mother.is_empty() && !self.father.is_empty() && self.mother != self.father
    }
}

/// How many times likelier than within a species it is that a whole tray is selfs: the ratio of the seeds that a flower
/// gives.
#[must_use]
pub const fn all_self_times(crossability: Crossability, beliefs: &Assumptions) -> f64 {
    match crossability {
        Crossability::SameSpecies | Crossability::Unknown => 1.0,
        Crossability::Usual => beliefs.wide_usual,
        Crossability::Hard => beliefs.wide_hard,
        Crossability::VeryHard => beliefs.wide_very_hard,
        Crossability::NotExpected => beliefs.wide_not_expected,
    }
}

/// Every pair of which the grower has said something, mother first, in the order of the words.
#[must_use]
pub fn own_pairs(facts: &Facts) -> Vec<(String, String)> {
    let settings = facts.setting.iter();
    let mut pairs: Vec<_> = settings.filter_map(|row| pair_of_key(&row.key)).collect();
    pairs.sort_unstable();
    pairs.dedup();
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn species_are_compared_without_their_genus() {
        assert_eq!(bare(" Capsicum Annuum "), "annuum");
        assert_eq!(bare("C. chinense"), "chinense");
        assert_eq!(bare("chacoense"), "chacoense");
    }

    #[test]
    fn keys_name_the_pair() {
        let key = PairSetting::Crossing.key("annuum", "baccatum");
        assert_eq!(key, "species annuum x baccatum");
        let pair = ("annuum".to_owned(), "baccatum".to_owned());
        assert_eq!(pair_of_key(&key), Some(pair.clone()));
        let key = PairSetting::Fertility.key("annuum", "baccatum");
        assert_eq!(pair_of_key(&key), Some(pair));
        assert_eq!(pair_of_key("dim"), None);
    }

    #[test]
    fn same_species_and_species_not_stated_change_nothing() {
        let beliefs = Assumptions::default();
        let times = |of| all_self_times(of, &beliefs);
        assert_eq!(times(Crossability::SameSpecies), 1.0);
        assert_eq!(times(Crossability::Unknown), 1.0);
        // Martins et al. 2015: 14.6 % within the annuum complex, 2.2 to 3.7 % between it and baccatum.
        assert_eq!(times(Crossability::Hard), (14.6_f64 / 3.7).round());
        assert_eq!(times(Crossability::VeryHard), (14.6_f64 / 2.2).round());
        // 80 % of flowers of a bell set by hand; at best 40 % of annuum x chinense (Costa et al. 2009).
        assert_eq!(times(Crossability::Usual), 80.0 / 40.0);
        assert_eq!(
            times(Crossability::NotExpected),
            10.0 * times(Crossability::VeryHard)
        );
    }
}
