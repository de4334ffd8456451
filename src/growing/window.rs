//! Until when seed that has not come up is not called dead, and what may still wake it.
//!
//! The windows are starting beliefs by species; warmth stretches them by how much longer emergence takes. The remedies
//! are a fixed list with sources, cautions and standings; nothing here knows a tray's genes.

use std::ops::RangeInclusive;

use crate::records::assumptions::Assumptions;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::species::is_cultivated;
use crate::records::warmth::SEED_COMES_UP;

/// Days from sowing to emergence by soil warmth in °C, *Capsicum annuum*: Harrington and Minges 1954, as tabulated by
/// Knott (read; the decimals from memory).
const DAYS_BY_WARMTH: [(f64, f64); 5] = [
    (15.0, 25.0),
    (20.0, 12.5),
    (25.0, 8.4),
    (30.0, 7.6),
    (35.0, 8.8),
];

/// The middle of [`WINDOWS_AT`], in °C.
const USUAL_WARMTH: f64 = 26.5;

/// The warmths that the windows are meant for, in °C: within them nothing is stretched.
const WINDOWS_AT: RangeInclusive<f64> = 25.0..=28.0;

/// The warmth of the soil that a tray stood in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Warmth(f64);

impl Warmth {
    /// A warmth in °C.
    ///
    /// # Errors
    /// The number again where nothing is known of it: below 15 °C next to nothing comes up (1 % at 10 °C), above 35 °C
    /// nothing (0 % at 40 °C).
    pub fn new(celsius: f64) -> Result<Self, f64> {
        if SEED_COMES_UP.contains(&celsius) {
            Ok(Self(celsius))
        } else {
            Err(celsius)
        }
    }

    /// In °C.
    #[must_use]
    pub const fn celsius(self) -> f64 {
        self.0
    }

    /// Days from sowing to emergence, a straight line between the warmths of the table.
    #[must_use]
    pub fn days(self) -> f64 {
        let around = DAYS_BY_WARMTH
            .windows(2)
            .rfind(|pair| pair[0].0 <= self.0)
            .expect("a warmth is at least the first of the table");
        let ((low, slow), (high, fast)) = (around[0], around[1]);
        slow + (fast - slow) * (self.0 - low) / (high - low)
    }

    /// How much longer everything takes than in the warmth of the windows: never less long, since the table is of *annuum*
    /// and seed of other species may wait in what is too warm for it.
    #[must_use]
    pub fn stretch(self) -> f64 {
        match WINDOWS_AT.contains(&self.0) {
            true => 1.0,
            false => (self.days() / Self(USUAL_WARMTH).days()).max(1.0),
        }
    }
}

/// Which window a seed has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum WindowKind {
    /// Both parents *annuum*.
    Annuum,
    /// Another cultivated species, or not known.
    Other,
    /// A wild species.
    Wild,
}

/// What is to be hoped of seed that is not up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hope {
    /// Nothing is missing.
    AllUp,
    /// It may still come.
    NotDeadYet,
    /// The window is over, but nobody counted near its end: more may have come since.
    CountedEarly,
    /// The window is over, and near its end somebody counted.
    PastHope,
}

/// Until when a tray is not given up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outlook {
    /// Which window.
    pub kind: WindowKind,
    /// Its days, warmth in.
    pub days: i64,
    /// Its last day.
    pub until: Day,
    /// What is to be hoped on the day asked about.
    pub hope: Hope,
    /// Seeds not up.
    pub missing: u64,
    /// Whether it is time to think of dormancy: less than half is up, at least half of the window is over, and it is
    /// not long past.
    pub slow: bool,
}

/// So many days after the window nobody waits any more (design choice).
const LONG_PAST: i64 = 14;

/// A count tells what came of the seed from this share of the window on (design choice).
const NEAR_THE_END: f64 = 0.75;

/// What was seen of a tray.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    /// How many came up.
    pub up: u64,
    /// Of so many sown.
    pub sown: u64,
    /// The last day on which anybody saw how many; nothing where nobody did.
    pub last: Option<Day>,
}

fn kind_of(species: &Option<String>) -> WindowKind {
    match species.as_deref() {
        Some("annuum") => WindowKind::Annuum,
        Some(word) if !is_cultivated(word) => WindowKind::Wild,
        _ => WindowKind::Other,
    }
}

/// The outlook of a tray: the longer window of its two parents.
#[must_use]
pub fn outlook(
    facts: &Facts,
    species: &[Option<String>; 2],
    sown_on: Day,
    on: Day,
    seen: Seen,
    warmth: Option<Warmth>,
) -> Outlook {
    let beliefs = Assumptions::of(facts);
    let days_of = |kind| match kind {
        WindowKind::Annuum => beliefs.not_dead_annuum,
        WindowKind::Other => beliefs.not_dead_other,
        WindowKind::Wild => beliefs.not_dead_wild,
    };
    let [mother, father] = species.each_ref().map(kind_of);
    let kind = if days_of(father) > days_of(mother) {
        father
    } else {
        mother
    };
    let stretch = warmth.map_or(1.0, Warmth::stretch);
    let days = (days_of(kind) * stretch).round() as i64;
    let until = sown_on.forward(days);
    let Seen { up, sown, last } = seen;
    let near_the_end = |day: Day| day.since(sown_on) as f64 >= NEAR_THE_END * days as f64;
    let hope = match () {
        () if up >= sown => Hope::AllUp,
        () if on <= until => Hope::NotDeadYet,
        () if last.is_some_and(near_the_end) => Hope::PastHope,
        () => Hope::CountedEarly,
    };
    Outlook {
        kind,
        days,
        until,
        hope,
        missing: sown - up.min(sown),
        slow: 2 * up < sown
            && hope != Hope::CountedEarly
            && 2 * on.since(sown_on) >= days
            && on <= until.forward(LONG_PAST),
    }
}

/// Something that may wake dormant seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Remedy {
    /// The species it was seen with; empty for any.
    pub species: &'static str,
    /// What to do.
    pub what: &'static str,
    /// What to mind.
    pub caution: &'static str,
    /// Where it comes from.
    pub source: &'static str,
    /// How far it can be trusted.
    pub standing: &'static str,
}

/// What may wake dormant seed, the simplest first.
pub const REMEDIES: &[Remedy] = &[
    Remedy {
        species: "chinense",
        what: "light, or one night at 15 °C a week after soaking",
        caution: "one accession gave none in the dark at a constant 30 °C until it had one of them",
        source: "Environ. Control Biol. 22:25",
        standing: "read",
    },
    Remedy {
        species: "pubescens",
        what: "a constant 25 °C",
        caution: "not on a hotter mat",
        source: "Ellis, Hong and Roberts 1985",
        standing: "read as quoted",
    },
    Remedy {
        species: "frutescens",
        what: "a constant 30 °C; fresh seed first 21 days dry at 25 °C",
        caution: "the 21 days are of one study",
        source: "Ellis, Hong and Roberts 1985; Edwards and Sundstrom 1987",
        standing: "read as quoted; read",
    },
    Remedy {
        species: "",
        what: "fresh seed of any species may sleep: about 6 weeks at room temperature wake it",
        caution: "only seed that was harvested lately",
        source: "Ellis, Hong and Roberts 1985",
        standing: "read as quoted",
    },
    Remedy {
        species: "",
        what: "potassium nitrate (KNO3), with light",
        caution: "it feeds fire: keep it from heat and children, by its label",
        source: "Ellis, Hong and Roberts 1985; 7 CFR 201.58",
        standing: "read as quoted; read",
    },
    Remedy {
        species: "",
        what: "45 days of warm stratification, then 30 °C by day and 15 °C by night",
        caution: "slow; the seed has to stay moist",
        source: "Ellis, Hong and Roberts 1985",
        standing: "read as quoted",
    },
    Remedy {
        species: "",
        what: "gibberellic acid (GA3), 100 or 1,000 ppm; 50 ppm in the one chinense",
        caution: "by its label; 100 to 250 ppm in the dark held that chinense back",
        source: "Ellis, Hong and Roberts 1985; Environ. Control Biol. 22:25",
        standing: "read as quoted; read",
    },
];

/// The remedies for seed of two parents, those of their own species first.
#[must_use]
pub fn remedies_for(species: &[&[Option<String>; 2]]) -> Vec<&'static Remedy> {
    let has = |word: &str| {
        let mut all = species.iter().flat_map(|pair| pair.iter());
        all.any(|one| one.as_deref() == Some(word))
    };
    let fits = |remedy: &&Remedy| remedy.species.is_empty() || has(remedy.species);
    REMEDIES.iter().filter(fits).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 12.5 days at 20 °C and, halfway from 8.4 to 7.6 by 1.5 of 5 degrees, 8.16 at 26.5 °C: by hand from the table of
    /// Harrington and Minges 1954.
    #[test]
    fn cold_soil_stretches_the_window() {
        let cool = Warmth::new(20.0).unwrap();
        assert!((cool.days() - 12.5).abs() < 1e-12);
        assert!((cool.stretch() - 12.5 / 8.16).abs() < 1e-12);
        assert!((Warmth::new(15.0).unwrap().days() - 25.0).abs() < 1e-12);
        assert!((Warmth::new(35.0).unwrap().days() - 8.8).abs() < 1e-12);
        assert_eq!(Warmth::new(10.0), Err(10.0));
        assert!(Warmth::new(f64::NAN).is_err());
    }

    /// 8.4 days at 25 °C and 7.6 at 30 °C are no reason to wait otherwise than at 26.5 °C, the middle of the windows' own.
    #[test]
    fn warm_soil_shortens_no_window() {
        let stretch = |celsius: f64| Warmth::new(celsius).unwrap().stretch();
        for celsius in [25.0, 26.5, 28.0, 30.0] {
            assert_eq!(stretch(celsius), 1.0, "{celsius}");
        }
        assert!((stretch(35.0) - 8.8 / 8.16).abs() < 1e-12);
    }

    #[test]
    fn the_longer_window_of_both_parents_holds() {
        let facts = Facts::default();
        let [sown, on] = ["2026-03-01", "2026-04-05"].map(|day| day.parse().unwrap());
        let of = |mother: &str, father: &str| {
            let species = [mother, father].map(|word| Some(word.to_owned()));
            let seen = Seen {
                up: 3,
                sown: 12,
                last: Some(on),
            };
            let found = outlook(&facts, &species, sown, on, seen, None);
            (found.days, found.hope)
        };
        assert_eq!(of("annuum", "annuum"), (28, Hope::PastHope));
        assert_eq!(of("annuum", "chinense"), (42, Hope::NotDeadYet));
        assert_eq!(of("chacoense", "annuum"), (60, Hope::NotDeadYet));
    }

    /// Three quarters of 28 days are 21.
    #[test]
    fn a_count_long_before_the_end_settles_nothing() {
        let facts = Facts::default();
        let annuum = ["annuum", "annuum"].map(|word| Some(word.to_owned()));
        let sown: Day = "2026-03-01".parse().unwrap();
        let hope = |up: u64, last: Option<i64>| {
            let seen = Seen {
                up,
                sown: 12,
                last: last.map(|days| sown.forward(days)),
            };
            outlook(&facts, &annuum, sown, sown.forward(29), seen, None).hope
        };
        assert_eq!(hope(3, Some(20)), Hope::CountedEarly);
        assert_eq!(hope(3, Some(21)), Hope::PastHope);
        assert_eq!(hope(3, None), Hope::CountedEarly);
        assert_eq!(hope(12, Some(8)), Hope::AllUp);
    }
}
