//! Which species cross with which, mother first, and how often flowers of such a pair were seen to set.
//!
//! A table of the literature with its standings; it warns and widens, and never forbids. What a grower's own flowers
//! did is not known here. Planning and the growing room call it.

/// How readily a mother of one species sets seed to a father of another. The values are a design choice drawn from
/// IBPGR 1983, *Genetic Resources of Capsicum* (read; four rows of its table reconstructed by position).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Crossability {
    /// Both of one species.
    SameSpecies,
    /// Usually sets, the F1 partly fertile.
    Usual,
    /// Sets seldom; the seed comes up when there is some.
    Hard,
    /// Sets very seldom.
    VeryHard,
    /// No viable F1, or by embryo culture only.
    NotExpected,
    /// A wild species, or a species not recorded.
    Unknown,
}

impl Crossability {
    /// In a grower's words.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::SameSpecies => "same species",
            Self::Usual => "usually sets",
            Self::Hard => "hard",
            Self::VeryHard => "very hard",
            Self::NotExpected => "not expected",
            Self::Unknown => "not known",
        }
    }
}

/// The cultivated species, in the order of the table.
pub const CULTIVATED: [&str; 5] = ["annuum", "chinense", "frutescens", "baccatum", "pubescens"];

/// How readily a mother sets to a father, by species; nothing said of a species is [`Crossability::Unknown`].
#[must_use]
pub fn crossability(mother: Option<&str>, father: Option<&str>) -> Crossability {
    use Crossability::{Hard, NotExpected, SameSpecies, Unknown, Usual, VeryHard};
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
    let place = |species: &str| CULTIVATED.iter().position(|known| *known == species);
    let (Some(mother), Some(father)) = (mother, father) else {
        return Unknown;
    };
    match (place(mother), place(father)) {
        (Some(row), Some(column)) => TABLE[row][column],
        _ if mother == father => SameSpecies,
        _ => Unknown,
    }
}

/// How often flowers of a pair were seen to set, lowest and highest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetRates {
    /// The lowest share published for such a pair.
    pub low: f64,
    /// The highest of the same source.
    pub high: f64,
    /// Where from.
    pub source: &'static str,
    /// What others found, or empty.
    pub others: &'static str,
}

const SAME: SetRates = SetRates {
    low: 0.75,
    high: 0.84,
    source: "by hand within a species: a floral-biology paper (84 %, one hybrid), a fruit-load paper (75 to 80 %)",
    others: "",
};

const ANNUUM_BY_CHINENSE: SetRates = SetRates {
    low: 0.089,
    high: 0.40,
    source: "Costa 2009, annuum mothers with 21 chinense",
    others: "",
};

const WITHIN_COMPLEX: SetRates = SetRates {
    low: 0.146,
    high: 0.146,
    source: "Martins 2015, mean within annuum, chinense and frutescens",
    others: "",
};

const WITH_BACCATUM: SetRates = SetRates {
    low: 0.022,
    high: 0.037,
    source: "Martins 2015, between baccatum and annuum, chinense, frutescens",
    others: "in ornamental peppers one pair set half of its flowers, another none (do Nascimento)",
};

/// How often flowers of a mother's and a father's species were seen to set; nothing where no number is published.
#[must_use]
pub fn set_rates(mother: Option<&str>, father: Option<&str>) -> Option<SetRates> {
    match (crossability(mother, father), mother?, father?) {
        (Crossability::SameSpecies, _, _) => Some(SAME),
        (Crossability::NotExpected | Crossability::Unknown, _, _) => None,
        (_, "annuum", "chinense") => Some(ANNUUM_BY_CHINENSE),
        (_, "baccatum", _) | (_, _, "baccatum") => Some(WITH_BACCATUM),
        _ => Some(WITHIN_COMPLEX),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn direction_counts_and_wild_species_are_open() {
        let of = |mother, father| crossability(Some(mother), Some(father));
        assert_eq!(of("annuum", "frutescens"), Crossability::Usual);
        assert_eq!(of("frutescens", "annuum"), Crossability::Hard);
        assert_eq!(of("annuum", "baccatum"), Crossability::VeryHard);
        assert_eq!(of("pubescens", "chinense"), Crossability::NotExpected);
        assert_eq!(of("eximium", "annuum"), Crossability::Unknown);
        assert_eq!(of("eximium", "eximium"), Crossability::SameSpecies);
        assert_eq!(crossability(None, Some("annuum")), Crossability::Unknown);
    }

    #[test]
    fn rates_are_given_where_they_are_published() {
        let of = |mother, father| set_rates(Some(mother), Some(father)).map(|rates| rates.low);
        assert_eq!(of("annuum", "chinense"), Some(0.089));
        assert_eq!(of("chinense", "annuum"), Some(0.146));
        assert_eq!(of("chinense", "baccatum"), Some(0.022));
        assert_eq!(of("baccatum", "baccatum"), Some(0.75));
        assert_eq!(of("pubescens", "annuum"), None);
        assert_eq!(set_rates(None, Some("annuum")), None);
    }
}
