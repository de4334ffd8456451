//! How often flowers of two species, mother first, were seen to set a pod.
//!
//! Published rates with their sources; how hard a cross is stands in [`species`](super::species). A rate is given for the
//! species it was found in and no others. What a grower's own flowers did is not known here. The growing room calls it.

use super::species::Crossability;

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

/// One standard deviation under the mean of 84 ± 19 %: it is not said whether anthers were taken out.
const SAME: SetRates = SetRates {
    low: 0.65,
    high: 0.84,
    source: "by hand within a species: 84 ± 19 % in a floral-biology paper of one hybrid, 75 to 80 % in a bell",
    others: "",
};

/// The same where no hand need have touched the flower.
const SELFED: SetRates = SetRates {
    low: 0.26,
    high: 0.84,
    source: "in a floral-biology paper of one hybrid 26 ± 14 % unvisited, 84 ± 19 % by hand",
    others: "",
};

const CHINENSE: SetRates = SetRates {
    low: 0.25,
    high: 0.79,
    source: "a paper on bees and chinense: 25 % bagged, 79 % after one visit; none by hand is published",
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

/// The three species of the rates of Martins 2015.
const COMPLEX: [&str; 3] = ["annuum", "chinense", "frutescens"];

/// How often flowers of a mother's and a father's species were seen to set, given how hard the cross is; nothing where no
/// number is published.
#[must_use]
pub fn set_rates(crossability: Crossability, mother: &str, father: &str) -> Option<SetRates> {
    let of_complex = |species: &str| COMPLEX.contains(&species);
    match (crossability, mother, father) {
        (Crossability::SameSpecies, "chinense", _) => Some(CHINENSE),
        (Crossability::SameSpecies, _, _) => Some(SAME),
        (Crossability::NotExpected | Crossability::Unknown, _, _) => None,
        (_, "annuum", "chinense") => Some(ANNUUM_BY_CHINENSE),
        (_, "baccatum", other) | (_, other, "baccatum") if of_complex(other) => Some(WITH_BACCATUM),
        _ if of_complex(mother) && of_complex(father) => Some(WITHIN_COMPLEX),
        _ => None,
    }
}

/// How often flowers of a species were seen to set by their own pollen; nothing where the species is not known.
#[must_use]
pub fn self_rates(species: &str) -> Option<SetRates> {
    match species {
        "" => None,
        "chinense" => Some(CHINENSE),
        _ => Some(SELFED),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::genetics::species::in_print;

    #[test]
    fn rates_are_given_where_they_are_published() {
        let of = |mother: &str, father: &str| {
            let (crossability, _) = in_print(mother, father);
            set_rates(crossability, mother, father).map(|rates| rates.low)
        };
        assert_eq!(of("annuum", "chinense"), Some(0.089));
        assert_eq!(of("chinense", "annuum"), Some(0.146));
        assert_eq!(of("chinense", "baccatum"), Some(0.022));
        assert_eq!(of("baccatum", "baccatum"), Some(0.65));
        assert_eq!(of("chinense", "chinense"), Some(0.25));
        assert_eq!(of("pubescens", "eximium"), None, "easy, but nobody counted");
        assert_eq!(
            set_rates(Crossability::Usual, "chacoense", "baccatum"),
            None
        );
        assert_eq!(self_rates("annuum").map(|rates| rates.low), Some(0.26));
        assert_eq!(self_rates(""), None);
        assert_eq!(of("pubescens", "annuum"), None);
        assert_eq!(of("", "annuum"), None);
    }
}
