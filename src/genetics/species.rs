//! How hard it is to cross two species of *Capsicum*, mother and father apart, and how fertile the hybrid is.
//!
//! A table of what is in print, with its standing. It knows nothing of plants or ledgers; the records let a grower
//! change each pair, the diagnosis asks it how likely selfs are.

use std::fmt;
use std::str::FromStr;

/// The five cultivated species.
pub const CULTIVATED: [&str; 5] = ["annuum", "chinense", "frutescens", "baccatum", "pubescens"];

/// Wild species that growers cross with them (names from memory). Nothing is in print here of most of these crosses.
const WILD: [&str; 12] = [
    "chacoense",
    "galapagoense",
    "eximium",
    "cardenasii",
    "praetermissum",
    "tovarii",
    "flexuosum",
    "rhomboideum",
    "lanceolatum",
    "eshbaughii",
    "caballeroi",
    "minutiflorum",
];

/// Whether a bare word is a species that is known here.
#[must_use]
pub fn is_known(bare: &str) -> bool {
    CULTIVATED.contains(&bare) || WILD.contains(&bare)
}

/// Where the codes of the table come from.
pub const SOURCE: &str = "IBPGR 1983, Genetic Resources of Capsicum";

/// How readily a cross gives seedlings of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Crossability {
    /// Mother and father are of one species.
    SameSpecies,
    /// Between species, and usually works.
    Usual,
    /// Few seeds.
    Hard,
    /// Very few seeds.
    VeryHard,
    /// None without embryo culture.
    NotExpected,
    /// A species is not stated, or nothing is in print.
    Unknown,
}

/// How fertile the hybrid is; another thing than whether seed is got.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HybridFertility {
    /// As fertile as its parents.
    High,
    /// In part.
    Partial,
    /// Different reports differ.
    Variable,
    /// Not stated.
    Unknown,
}

const CROSSABILITIES: [(Crossability, &str); 6] = [
    (Crossability::SameSpecies, "same-species"),
    (Crossability::Usual, "usual"),
    (Crossability::Hard, "hard"),
    (Crossability::VeryHard, "very-hard"),
    (Crossability::NotExpected, "not-expected"),
    (Crossability::Unknown, "unknown"),
];

const FERTILITIES: [(HybridFertility, &str); 4] = [
    (HybridFertility::High, "high"),
    (HybridFertility::Partial, "partial"),
    (HybridFertility::Variable, "variable"),
    (HybridFertility::Unknown, "unknown"),
];

/// The words for how hard a cross is, as messages list them.
pub const CROSSABILITY_WORDS: &str =
    "one of usual, hard, very-hard, not-expected, same-species and unknown";

/// The words for the fertility of a hybrid, as messages list them.
pub const FERTILITY_WORDS: &str = "one of high, partial, variable and unknown";

fn word_of<T: PartialEq>(list: &[(T, &'static str)], wanted: &T) -> &'static str {
    let mut words = list.iter();
    let found = words.find(|(value, _)| value == wanted);
    found.expect("every value has a word").1
}

fn read<T: Copy>(list: &[(T, &'static str)], text: &str) -> Option<T> {
    let word = text.trim().to_lowercase().replace([' ', '_'], "-");
    let mut words = list.iter();
    words
        .find(|(_, known)| *known == word)
        .map(|(value, _)| *value)
}

impl fmt::Display for Crossability {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(word_of(&CROSSABILITIES, self))
    }
}

impl FromStr for Crossability {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        read(&CROSSABILITIES, text).ok_or(CROSSABILITY_WORDS)
    }
}

impl fmt::Display for HybridFertility {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(word_of(&FERTILITIES, self))
    }
}

impl FromStr for HybridFertility {
    type Err = &'static str;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        read(&FERTILITIES, text).ok_or(FERTILITY_WORDS)
    }
}

impl Crossability {
    /// Whether the cross is known to give seed so seldom that selfs have to be reckoned with first.
    #[must_use]
    pub const fn is_hard(self) -> bool {
        matches!(self, Self::Hard | Self::VeryHard | Self::NotExpected)
    }
}

/// An ordered pair of species.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SpeciesPair {
    /// The mother's species.
    pub mother: &'static str,
    /// The father's.
    pub father: &'static str,
    /// How hard the cross is: a reading of the code, a design choice.
    pub crossability: Crossability,
    /// How fertile the hybrid is.
    pub fertility: HybridFertility,
    /// The printed code: HF highly fertile, PF partly, NG F1 seed germinates normally, IV/EC inviable F1 or embryo culture
    /// only.
    pub code: &'static str,
}

const fn pair(
    mother: &'static str,
    father: &'static str,
    crossability: Crossability,
    fertility: HybridFertility,
    code: &'static str,
) -> SpeciesPair {
    SpeciesPair {
        mother,
        father,
        crossability,
        fertility,
        code,
    }
}

use Crossability::{Hard, NotExpected, Usual, VeryHard};
use HybridFertility::{High, Partial, Unknown, Variable};

/// Every pair in print whose species differ, mother first. The codes are of [`SOURCE`], read, four rows by their position;
/// what they mean for a cross is a design choice.
pub const PAIRS: &[SpeciesPair] = &[
    pair("annuum", "chinense", Usual, Partial, "PF"),
    // Drastically less pollen in one study, eight fertile hybrids in another.
    pair("annuum", "frutescens", Usual, Variable, "PF"),
    pair("annuum", "baccatum", VeryHard, Unknown, "NG"),
    pair("annuum", "pubescens", NotExpected, Unknown, "IV/EC"),
    pair("chinense", "annuum", Usual, Partial, "PF"),
    pair("chinense", "frutescens", Usual, Partial, "PF"),
    pair("chinense", "baccatum", Hard, Unknown, "NG"),
    pair("chinense", "pubescens", NotExpected, Unknown, "IV/EC"),
    pair("frutescens", "annuum", Hard, Unknown, "NG"),
    pair("frutescens", "chinense", Usual, Partial, "PF"),
    pair("frutescens", "baccatum", Hard, Unknown, "NG"),
    pair("frutescens", "pubescens", NotExpected, Unknown, "IV/EC"),
    pair("baccatum", "annuum", VeryHard, Unknown, "NG"),
    pair("baccatum", "chinense", Hard, Unknown, "NG"),
    pair("baccatum", "frutescens", Hard, Unknown, "NG"),
    pair("baccatum", "pubescens", NotExpected, Unknown, "IV/EC"),
    pair("pubescens", "annuum", NotExpected, Unknown, "IV/EC"),
    pair("pubescens", "chinense", NotExpected, Unknown, "IV/EC"),
    pair("pubescens", "frutescens", NotExpected, Unknown, "IV/EC"),
    pair("pubescens", "baccatum", NotExpected, Unknown, "IV/EC"),
    pair("pubescens", "eximium", Usual, High, "HF"),
];

/// What is in print of a pair of species, each by its bare word (`annuum`); an empty word is a species not stated.
#[must_use]
pub fn in_print(mother: &str, father: &str) -> (Crossability, HybridFertility) {
    if mother.is_empty() || father.is_empty() {
        return (Crossability::Unknown, Unknown);
    }
    if mother == father {
        let known = CULTIVATED.contains(&mother);
        return (
            Crossability::SameSpecies,
            if known { High } else { Unknown },
        );
    }
    let mut pairs = PAIRS.iter();
    let found = pairs.find(|pair| pair.mother == mother && pair.father == father);
    found.map_or((Crossability::Unknown, Unknown), |pair| {
        (pair.crossability, pair.fertility)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_has_every_ordered_pair_once() {
        for mother in CULTIVATED {
            for father in CULTIVATED {
                let rows = PAIRS.iter();
                let found = rows.filter(|pair| (pair.mother, pair.father) == (mother, father));
                assert_eq!(
                    found.count(),
                    usize::from(mother != father),
                    "{mother} x {father}"
                );
                let same = in_print(mother, father).0 == Crossability::SameSpecies;
                assert_eq!(same, mother == father);
            }
        }
    }

    #[test]
    fn directions_are_kept_apart() {
        assert_eq!(in_print("annuum", "frutescens").0, Usual);
        assert_eq!(in_print("frutescens", "annuum").0, Hard);
        assert_eq!(in_print("pubescens", "eximium"), (Usual, High));
        assert_eq!(in_print("eximium", "pubescens").0, Crossability::Unknown);
        assert_eq!(in_print("", "").0, Crossability::Unknown);
        assert_eq!(in_print("annuum", "").0, Crossability::Unknown);
    }

    #[test]
    fn words_read_back() {
        for (value, word) in CROSSABILITIES {
            assert_eq!(word.parse(), Ok(value));
            assert_eq!(value.to_string(), word);
        }
        for (value, word) in FERTILITIES {
            assert_eq!(word.parse(), Ok(value));
            assert_eq!(value.to_string(), word);
        }
        assert_eq!("Very hard".parse(), Ok(VeryHard));
        assert_eq!("harder".parse::<Crossability>(), Err(CROSSABILITY_WORDS));
    }
}
