//! A direction of which none set, as JSON: rates and chances, the other way, what else was in flower.
//!
//! Part of the answer of `set-rate`; its words stand in `set_rate_words`.

use serde::Serialize;

use crate::genetics::species::Crossability;
use crate::growing::expected_set::Own;
use crate::growing::no_set::{Advice, OtherWay, SURPRISE, Zero};
use crate::growing::same_days::{SameDays, Weather};
use crate::stats::none::{enough_for, none_of};
use crate::stats::two_by_two::Part;

/// Pods of flowers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Pods {
    /// Pods.
    pub pods: u64,
    /// Flowers whose end is known.
    pub flowers: u64,
}

impl From<Part> for Pods {
    fn from(part: Part) -> Self {
        Self {
            pods: part.k,
            flowers: part.n,
        }
    }
}

/// The same two plants the other way round.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct OtherWayLine {
    /// Pods.
    pub pods: u64,
    /// Flowers whose end is known.
    pub flowers: u64,
    /// Flowers of whose end nobody spoke.
    pub open: u64,
    /// Whether it was never pollinated.
    pub untried: bool,
}

impl From<OtherWay> for OtherWayLine {
    fn from(way: OtherWay) -> Self {
        Self {
            pods: way.part.k,
            flowers: way.part.n,
            open: way.open,
            untried: way.is_untried(),
        }
    }
}

/// Other flowers within a week, and what they say of the weather.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SameDaysLine {
    /// Pods.
    pub pods: u64,
    /// Flowers whose end is known, of pairs of which it is known how often they set.
    pub flowers: u64,
    /// Pods that were to be expected, at the lowest and the highest rates.
    pub expected: [f64; 2],
    /// How many times likelier their pods are where bad weather lets none or a tenth set, as a natural logarithm, at the lowest and
    /// the highest rates.
    pub log_times_likelier_in_bad_weather: [f64; 2],
    /// Those of pairs of which nobody knows how often they set.
    pub not_weighed: Pods,
    /// What they say of the weather: `bad`, `good` or `open`.
    pub weather: &'static str,
}

impl From<SameDays> for SameDaysLine {
    fn from(days: SameDays) -> Self {
        Self {
            pods: days.part.k,
            flowers: days.part.n,
            expected: days.expected,
            log_times_likelier_in_bad_weather: days.log_times,
            not_weighed: days.unweighed.into(),
            weather: match days.weather() {
                Weather::Bad => "bad",
                Weather::Good => "good",
                Weather::Open => "open",
            },
        }
    }
}

/// Published rates, and what they make of none.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RatesLine {
    /// The lowest rate.
    pub low: f64,
    /// The highest.
    pub high: f64,
    /// The chance of none at the lowest and the highest.
    pub chance_of_none: [f64; 2],
    /// Flowers without a pod that would be more than bad luck, at the lowest and the highest.
    pub enough_flowers: [u64; 2],
    /// Where the rates are from.
    pub source: &'static str,
    /// What others found.
    pub others: &'static str,
    /// The grower's own flowers of such pairs, where there are enough.
    pub own: Option<OwnLine>,
}

/// The grower's own flowers, and what they make of none.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OwnLine {
    /// Pods.
    pub pods: u64,
    /// Of so many flowers.
    pub flowers: u64,
    /// Flowers left out, being of directions of which none set.
    pub left_out: u64,
    /// The rate they speak for, (pods + 1)/(flowers + 2).
    pub rate: f64,
    /// The chance of none.
    pub chance_of_none: f64,
    /// Flowers without a pod that would be more than bad luck.
    pub enough_flowers: u64,
}

impl OwnLine {
    fn new(own: Own, n: u64) -> Self {
        let rate = own.rate();
        Self {
            pods: own.part.k,
            flowers: own.part.n,
            left_out: own.left_out,
            rate,
            chance_of_none: none_of(rate, n),
            enough_flowers: enough_for(rate, SURPRISE),
        }
    }
}

/// A parent that descends from several species.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct HybridLine {
    /// The plant.
    pub plant: String,
    /// The species of its founders.
    pub species: Vec<String>,
}

/// A direction of which none set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZeroLine {
    /// Mother and father.
    pub pair: String,
    /// One of its crosses.
    pub cross: String,
    /// Flowers whose end is known.
    pub flowers: u64,
    /// The species.
    pub species: String,
    /// How readily they cross, mother first.
    pub crossability: String,
    /// The same the other way round.
    pub crossability_back: String,
    /// Rates to reckon with; null where none is published.
    pub rates: Option<RatesLine>,
    /// Parents that descend from several species.
    pub hybrids: Vec<HybridLine>,
    /// The other way round.
    pub other_way: OtherWayLine,
    /// The same mother's other flowers within a week.
    pub same_mother: SameDaysLine,
    /// All other flowers within a week.
    pub same_weather: SameDaysLine,
    /// `go-on`, `other-way`, `stop`, `not-expected` or `no-rate`.
    pub advice: &'static str,
    /// How many more flowers without a pod would be more than bad luck; null where these are, or no rate is known.
    pub more_flowers: Option<u64>,
    #[serde(skip)]
    pub(super) back: String,
    #[serde(skip)]
    pub(super) dated: bool,
    #[serde(skip)]
    pub(super) kind: (Crossability, Crossability),
    #[serde(skip)]
    pub(super) way: OtherWay,
    #[serde(skip)]
    pub(super) weather: Weather,
    #[serde(skip)]
    pub(super) to_do: Advice,
}

const fn advice_word(advice: Advice) -> &'static str {
    match advice {
        Advice::GoOn => "go-on",
        Advice::OtherWay => "other-way",
        Advice::Stop => "stop",
        Advice::NotExpected => "not-expected",
        Advice::NoRate => "no-rate",
    }
}

fn rates_line(zero: &Zero) -> Option<RatesLine> {
    let (rates, chances, enough) = (zero.rates?, zero.chances?, zero.enough?);
    Some(RatesLine {
        low: rates.low,
        high: rates.high,
        chance_of_none: chances,
        enough_flowers: enough,
        source: rates.source,
        others: rates.others,
        own: zero.own.map(|own| OwnLine::new(own, zero.flowers)),
    })
}

impl From<&Zero> for ZeroLine {
    fn from(zero: &Zero) -> Self {
        let hybrid = |(plant, species): &(String, Vec<String>)| HybridLine {
            plant: plant.clone(),
            species: species.clone(),
        };
        Self {
            pair: zero.pair.clone(),
            cross: zero.cross.clone(),
            flowers: zero.flowers,
            species: zero.species.clone(),
            crossability: zero.crossability.to_string(),
            crossability_back: zero.crossability_back.to_string(),
            rates: rates_line(zero),
            hybrids: zero.hybrids.iter().map(hybrid).collect(),
            other_way: zero.other_way.into(),
            same_mother: zero.same_mother.into(),
            same_weather: zero.same_weather.into(),
            advice: advice_word(zero.advice),
            more_flowers: zero.more,
            back: zero.back.clone(),
            dated: zero.dated,
            kind: (zero.crossability, zero.crossability_back),
            way: zero.other_way,
            weather: zero.same_weather.weather(),
            to_do: zero.advice,
        }
    }
}
