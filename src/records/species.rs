//! Species as the ledger keeps them, and how hard a cross of two plants is: what is in print, unless the grower says
//! otherwise of the pair. A plant of which no species is stated is of that of its founders, where they have one in common.
//!
//! What a grower says of a pair is kept as settings, mother before father. The gate writes them, the diagnosis and the
//! answers read them.

use std::collections::HashSet;

use crate::genetics::species::{CULTIVATED, Crossability, HybridFertility, in_print, is_known};

use super::assumptions::Assumptions;
use super::code::fold;
use super::descent::{label_parents, likely_parents};
use super::facts::Facts;
use super::rows::{BatchRow, Thing};

/// The built-in trait that reads a dwarf seedling, which in a cross between species may be the true hybrid.
pub const DWARF_TRAIT: &str = "wide-cross-dwarf";

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

/// What begins the name of a rank below the species.
const BELOW: [&str; 7] = ["var", "subsp", "ssp", "f", "forma", "cv", "convar"];

/// Whether a word begins a rank below the species (`var.`, `var.glabriusculum`, `f.`) or a variety in quotation marks.
fn is_below(word: &str) -> bool {
    let rank = word.split_once('.').map_or(word, |(rank, _)| rank);
    BELOW.contains(&rank) || word.starts_with(['\'', '"', '\u{2018}', '\u{201c}'])
}

/// A species as it is compared: without the genus and what stands below the species, in small letters.
#[must_use]
pub fn bare(typed: &str) -> String {
    let word = fold(typed.trim());
    let genus = ["capsicum ", "c.", "c "];
    let short = genus.iter().find_map(|genus| word.strip_prefix(genus));
    let short = short.unwrap_or(&word).trim();
    let named: Vec<&str> = short
        .split_whitespace()
        .take_while(|word| !is_below(word))
        .collect();
    match named.as_slice() {
        [] => short.to_owned(),
        named => named.join(" "),
    }
}

/// Whether a bare word is one of the cultivated species.
#[must_use]
pub fn is_cultivated(bare: &str) -> bool {
    CULTIVATED.contains(&bare)
}

/// The species that all of these plants are of, by their own rows or else by those of their founders; empty where one is
/// not stated, or where they differ.
fn common_species(facts: &Facts, mut left: Vec<i64>) -> String {
    let mut found = String::new();
    let mut seen: HashSet<i64> = left.iter().copied().collect();
    while let Some(row) = left.pop().map(|plant| facts.plant.get(plant)) {
        let Some(row) = row else {
            return String::new();
        };
        let own = bare(&row.species);
        match (own.is_empty(), likely_parents(facts, row)) {
            (false, _) if found.is_empty() || found == own => found = own,
            (true, (Some(mother), Some(father))) => {
                left.extend([mother, father].into_iter().filter(|one| seen.insert(*one)));
            }
            _ => return String::new(),
        }
    }
    found
}

/// The species of a plant by its bare word: as stated, else that of its founders where they have one in common; empty
/// where it is not known.
#[must_use]
pub fn species_of(facts: &Facts, plant: i64) -> String {
    common_species(facts, vec![plant])
}

/// The species of the founders of a plant that is of no one species, each once; empty where one is not known.
#[must_use]
pub fn species_behind(facts: &Facts, plant: i64) -> Vec<String> {
    let (mut found, mut left) = (Vec::new(), vec![plant]);
    let mut seen: HashSet<i64> = left.iter().copied().collect();
    while let Some(plant) = left.pop() {
        let Some(row) = facts.plant.get(plant) else {
            return Vec::new();
        };
        let own = bare(&row.species);
        match (own.is_empty(), likely_parents(facts, row)) {
            (false, _) if found.contains(&own) => {}
            (false, _) => found.push(own),
            (true, (Some(mother), Some(father))) => {
                left.extend([father, mother].into_iter().filter(|one| seen.insert(*one)));
            }
            _ => return Vec::new(),
        }
    }
    found
}

/// The species of the seedlings of a batch, by its label; empty where it is not known.
#[must_use]
pub fn species_of_seedlings(facts: &Facts, batch: &BatchRow) -> String {
    label_parents(facts, batch).map_or_else(String::new, |(mother, father)| {
        common_species(facts, vec![mother, father])
    })
}

/// How hard a cross of two species is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Crossing {
    /// The mother's species; empty where it is not known.
    pub mother: String,
    /// The father's.
    pub father: String,
    /// How hard it is.
    pub crossability: Crossability,
    /// How fertile the hybrid is.
    pub fertility: HybridFertility,
    is_wide: bool,
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
            is_wide: mother != father && is_species(facts, mother) && is_species(facts, father),
        }
    }

    /// Of two plants; a plant with its own pollen is no cross, whatever is said of its species.
    #[must_use]
    pub fn of_plants(facts: &Facts, mother: i64, father: i64) -> Self {
        let of_mother = species_of(facts, mother);
        if mother == father {
            return Self::selfed(of_mother);
        }
        Self::of(facts, &of_mother, &species_of(facts, father))
    }

    /// Of a plant of a species with its own pollen.
    #[must_use]
    pub fn selfed(species: String) -> Self {
        let (crossability, fertility) = in_print(&species, &species);
        Self {
            mother: species.clone(),
            father: species,
            crossability,
            fertility,
            is_wide: false,
        }
    }

    /// Whether the parents are of two species, both of which somebody knows: words of which nobody has said anything warn
    /// of nothing.
    #[must_use]
    pub const fn is_wide(&self) -> bool {
        self.is_wide
    }

    /// Whether the parents are known to be of one species.
    #[must_use]
    pub fn is_within_species(&self) -> bool {
        !self.mother.is_empty() && self.mother == self.father
    }
}

/// Whether a bare word is a species that is known, or of which the grower has said something.
fn is_species(facts: &Facts, bare: &str) -> bool {
    let said_of = |(mother, father): &(String, String)| mother == bare || father == bare;
    is_known(bare) || own_pairs(facts).iter().any(said_of)
}

/// Whether a batch is of a cross between species by its label.
#[must_use]
pub fn is_wide_batch(facts: &Facts, batch: &BatchRow) -> bool {
    let parents = label_parents(facts, batch);
    parents.is_some_and(|(mother, father)| Crossing::of_plants(facts, mother, father).is_wide())
}

/// The trait that reads the dwarfs of crosses between species, where the ledger has it.
#[must_use]
pub fn dwarf_trait(facts: &Facts) -> Option<i64> {
    let row = facts.code_named(DWARF_TRAIT)?;
    (row.thing == Thing::Trait).then_some(row.thing_id)
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
        for baccatum in [
            "C.baccatum",
            "c baccatum",
            "baccatum var. pendulum",
            "C. baccatum f. alba",
        ] {
            assert_eq!(bare(baccatum), "baccatum", "{baccatum}");
        }
        for annuum in [
            "Capsicum annuum var. glabriusculum",
            "Capsicum annuum var.glabriusculum",
            "annuum subsp. minimum",
            "Capsicum annuum 'Tall Ember'",
        ] {
            assert_eq!(bare(annuum), "annuum", "{annuum}");
        }
        // A hybrid is not its first half, and a word that begins like a rank is a word.
        assert_eq!(bare("annuum x chinense"), "annuum x chinense");
        assert_eq!(bare("various"), "various");
        assert_eq!(bare("f. alba"), "f. alba");
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
        // That complex holds chinense and frutescens too.
        assert_eq!(times(Crossability::Usual), 14.6 / 14.6);
        assert_eq!(
            times(Crossability::NotExpected),
            10.0 * times(Crossability::VeryHard)
        );
    }
}
