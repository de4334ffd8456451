//! How often flowers of two species, mother first, were seen to set a pod.
//!
//! Published rates with their sources; how hard a cross is stands in [`species`](super::species). What a grower's own
//! flowers did is not known here. The growing room calls it.

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

/// How often flowers of a mother's and a father's species were seen to set, given how hard the cross is; nothing where no
/// number is published.
#[must_use]
pub fn set_rates(crossability: Crossability, mother: &str, father: &str) -> Option<SetRates> {
    match (crossability, mother, father) {
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
        assert_eq!(of("baccatum", "baccatum"), Some(0.75));
        assert_eq!(of("pubescens", "annuum"), None);
        assert_eq!(of("", "annuum"), None);
    }
}
