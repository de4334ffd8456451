//! How seed came up, as JSON; the words stand in the file beside.

use serde::Serialize;

use super::germination_compared::ComparisonLine;
use super::germination_words;
use super::{Answer, Page};
use crate::growing::germination::{Germination, Group};
use crate::growing::trays::TrayCount;
use crate::growing::window::{Hope, Remedy, WindowKind, remedies_for};
use crate::records::day::Day;
use crate::records::warmth::SoilWarmth;
use crate::stats::arrivals::Arrivals;
use crate::stats::intervals::{Interval, clopper_pearson, wilson};
use crate::stats::two_by_two::Part;

/// The share of sown seed that certified seed must bring at least, and where.
pub const MINIMA: [(&str, f64, &str); 2] = [
    ("US", 0.55, "7 CFR 201.31"),
    (
        "New Mexico certified chile",
        0.80,
        "New Mexico State University CTF5",
    ),
];

/// Up of sown, with intervals.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// Seeds sown.
    pub sown: u64,
    /// Up so far, whatever became of them.
    pub up: u64,
    /// The share.
    pub share: f64,
    /// Wilson's 95 % interval.
    pub wilson: [f64; 2],
    /// Clopper and Pearson's.
    pub clopper_pearson: [f64; 2],
}

impl From<Part> for Share {
    fn from(part: Part) -> Self {
        let ends = |interval: Interval| [interval.low, interval.high];
        Self {
            sown: part.n,
            up: part.k,
            share: part.share(),
            wilson: ends(wilson(part.k, part.n, 0.95)),
            clopper_pearson: ends(clopper_pearson(part.k, part.n, 0.95)),
        }
    }
}

/// When it came up, in days after sowing; null where too few came up to say.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Timing {
    /// The day by which half of those that came were up, between counts by a straight line (Farooq and others 2005).
    pub median_days: Option<f64>,
    /// The two counts it lies between.
    pub median_between: Option<[f64; 2]>,
    /// The same by Coolbear and others 1984.
    pub median_days_coolbear: Option<f64>,
    /// The day by which half of all sown were up.
    pub median_days_of_sown: Option<f64>,
    /// Days by which 10, 25, 75 and 90 % of those that came were up.
    pub days_by_share: Vec<DaysBy>,
    /// Mean germination time by the days of the counts.
    pub mean_days: Option<f64>,
    /// Its standard error.
    pub mean_se: Option<f64>,
    /// What the mean lies between, seedlings of a count having come at any time since the one before.
    pub mean_between: Option<[f64; 2]>,
    /// Variance of the days.
    pub variance: Option<f64>,
    /// Coefficient of variation of the days, in percent.
    pub variation_percent: Option<f64>,
    /// Kotowski's coefficient of velocity, 100 over the mean.
    pub velocity: Option<f64>,
    /// Maguire's speed of emergence.
    pub speed: Option<f64>,
    /// Coefficient of uniformity.
    pub uniformity: Option<f64>,
    /// Uncertainty in bits.
    pub uncertainty_bits: Option<f64>,
    /// Synchrony.
    pub synchrony: Option<f64>,
    /// The counts: day and how many were up.
    pub curve: Vec<CurvePoint>,
}

/// A day by which a share was up.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DaysBy {
    /// The share of those that came.
    pub share: f64,
    /// The day.
    pub days: Option<f64>,
}

/// A point of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Days after sowing.
    pub days: f64,
    /// How many were up; between counts of one of several trays by a straight line.
    pub up: f64,
}

impl From<&Arrivals> for Timing {
    fn from(arrivals: &Arrivals) -> Self {
        let (mean, variance) = (arrivals.mean(), arrivals.variance());
        let days_by = |share: f64| DaysBy {
            share,
            days: arrivals.quantile(share),
        };
        let half = arrivals.arrived() as f64 / 2.0;
        Self {
            median_days: arrivals.quantile(0.5),
            median_between: (half > 0.0).then(|| arrivals.counts_around(half)).flatten(),
            median_days_coolbear: arrivals.median_coolbear(),
            median_days_of_sown: arrivals.median_of_all(),
            days_by_share: [0.1, 0.25, 0.75, 0.9].map(days_by).to_vec(),
            mean_days: mean,
            mean_se: arrivals.mean_se(),
            mean_between: arrivals.mean_bounds(),
            variance,
            variation_percent: variance
                .zip(mean.filter(|mean| *mean > 0.0))
                .map(|(variance, mean)| 100.0 * variance.sqrt() / mean),
            velocity: mean.filter(|mean| *mean > 0.0).map(|mean| 100.0 / mean),
            speed: arrivals.speed(),
            uniformity: arrivals.uniformity(),
            uncertainty_bits: arrivals.uncertainty(),
            synchrony: arrivals.synchrony(),
            curve: arrivals
                .knots()
                .iter()
                .map(|(days, up)| CurvePoint {
                    days: *days,
                    up: *up,
                })
                .collect(),
        }
    }
}

/// The lot a tray was sown from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LotLine {
    /// Its name.
    pub lot: String,
    /// Days from harvest, or from when a packet came in, to the sowing.
    pub age_days: i64,
    /// Whether it is a packet, which is at least so old.
    pub packet: bool,
    /// Days from pollination to harvest.
    pub ripened_days: Option<i64>,
}

/// One tray.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrayLine {
    /// Its code.
    pub tray: String,
    /// The cross or parent sown.
    pub of: String,
    /// Mother and father.
    pub pair: Option<String>,
    /// The species of mother and father.
    pub species: [Option<String>; 2],
    /// The day of sowing.
    pub sown_on: String,
    /// Seeds sown.
    pub sown: u64,
    /// Up so far, whatever became of them; null where nobody counted.
    pub up: Option<u64>,
    /// The share of the seeds sown.
    pub share: Option<f64>,
    /// Wilson's 95 % interval.
    pub wilson: Option<[f64; 2]>,
    /// Clopper and Pearson's.
    pub clopper_pearson: Option<[f64; 2]>,
    /// Whether more were counted than sown.
    pub more_than_sown: bool,
    /// How many were scored.
    pub scored: u64,
    /// How many stand now; null where nothing is known of it.
    pub standing: Option<u64>,
    /// The day of the last count.
    pub counted: Option<String>,
    /// Days from sowing to the last day on which anybody saw how many were up; null where nobody counted.
    pub last_seen_days: Option<i64>,
    /// When they came up.
    pub timing: Option<Timing>,
    /// The lots sown.
    pub lots: Vec<LotLine>,
    /// `all-up`, `not-dead-yet`, `counted-early` or `past-hope`.
    pub outlook: &'static str,
    /// `annuum`, `other` or `wild`.
    pub window: &'static str,
    /// How warm the soil is by what was recorded, in °C.
    pub warmth_recorded: Option<f64>,
    /// The day from which that is recorded.
    pub warmth_since: Option<String>,
    /// The same, for the words.
    #[serde(skip)]
    pub soil: Option<SoilWarmth>,
    /// Days of the window, warmth in.
    pub window_days: i64,
    /// The last day of the window.
    pub not_dead_until: String,
    /// Seeds not up.
    pub missing: u64,
    /// The same, for the words.
    #[serde(skip)]
    pub until: Day,
    /// Whether it is time to think of dormancy.
    pub slow: bool,
}

impl From<&TrayCount> for TrayLine {
    fn from(tray: &TrayCount) -> Self {
        let counted = tray.counted.is_some();
        let share = counted.then(|| Share::from(tray.part()));
        Self {
            tray: tray.tray.clone(),
            of: tray.of.clone(),
            pair: tray.pair.clone(),
            species: tray.species.clone(),
            sown_on: tray.sown_on.to_string(),
            sown: tray.sown,
            up: share.map(|share| share.up),
            share: share.map(|share| share.share),
            wilson: share.map(|share| share.wilson),
            clopper_pearson: share.map(|share| share.clopper_pearson),
            more_than_sown: tray.more_than_sown,
            scored: tray.seen,
            standing: (counted || tray.seen > 0).then_some(tray.standing),
            counted: tray.counted.map(|day| day.to_string()),
            last_seen_days: tray.last_seen.map(|day| day.since(tray.sown_on)),
            timing: counted.then(|| (&tray.arrivals).into()),
            lots: tray
                .lots
                .iter()
                .map(|lot| LotLine {
                    lot: lot.lot.clone(),
                    age_days: lot.age_days,
                    packet: lot.packet,
                    ripened_days: lot.ripened_days,
                })
                .collect(),
            outlook: match tray.outlook.hope {
                Hope::AllUp => "all-up",
                Hope::NotDeadYet => "not-dead-yet",
                Hope::CountedEarly => "counted-early",
                Hope::PastHope => "past-hope",
            },
            window: match tray.outlook.kind {
                WindowKind::Annuum => "annuum",
                WindowKind::Other => "other",
                WindowKind::Wild => "wild",
            },
            warmth_recorded: tray.recorded_warmth.map(|soil| soil.celsius),
            warmth_since: tray.recorded_warmth.map(|soil| soil.since.to_string()),
            soil: tray.recorded_warmth,
            window_days: tray.outlook.days,
            not_dead_until: tray.outlook.until.to_string(),
            missing: tray.outlook.missing,
            until: tray.outlook.until,
            slow: tray.outlook.slow,
        }
    }
}

/// Whether the trays of a group agree.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AgreementLine {
    /// Chi-square.
    pub chi2: f64,
    /// Degrees of freedom.
    pub df: usize,
    /// Its p.
    pub p: f64,
}

/// A group beside the same a year before.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LastYearLine {
    /// The newer year.
    pub year: i32,
    /// Up of sown in it.
    pub now: Share,
    /// Up of sown in the year before.
    pub before: Share,
    /// Fisher's exact p; null while more may come of either.
    pub p: Option<f64>,
}

/// Beside a certification minimum.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Minimum {
    /// Whose.
    pub of: &'static str,
    /// The share.
    pub minimum: f64,
    /// `above`, `below` or `open`: the whole of Wilson's interval above or below it, or not; `not-yet` for the last two
    /// while more may come.
    pub verdict: &'static str,
    /// Where it is set.
    pub source: &'static str,
}

/// Trays put together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupLine {
    /// Its name.
    pub group: String,
    /// Its trays.
    pub trays: Vec<String>,
    /// Up of sown.
    #[serde(flatten)]
    pub share: Share,
    /// Those of its trays of which more may come, or may have come since they were last counted.
    pub unsettled: Vec<String>,
    /// How many stand now.
    pub standing: u64,
    /// When they came up.
    pub timing: Timing,
    /// Whether its trays agree; null for a single one.
    pub agreement: Option<AgreementLine>,
    /// Beside the certification minima.
    pub minima: Vec<Minimum>,
    /// Beside the year before.
    pub last_year: Option<LastYearLine>,
}

impl GroupLine {
    fn new(group: &Group, trays: &[TrayCount]) -> Self {
        let share = Share::from(group.part);
        let [low, high] = share.wilson;
        let minimum = |(of, minimum, source): (&'static str, f64, &'static str)| Minimum {
            of,
            minimum,
            verdict: match () {
                () if low >= minimum => "above",
                () if !group.unsettled.is_empty() => "not-yet",
                () if high < minimum => "below",
                () => "open",
            },
            source,
        };
        let named = |places: &[usize]| places.iter().map(|at| trays[*at].tray.clone()).collect();
        Self {
            group: group.name.clone(),
            trays: named(&group.trays),
            unsettled: named(&group.unsettled),
            share,
            standing: group.standing,
            timing: (&group.arrivals).into(),
            agreement: group.agreement.map(|found| AgreementLine {
                chi2: found.chi2,
                df: found.df,
                p: found.p,
            }),
            minima: MINIMA.map(minimum).to_vec(),
            last_year: group.last_year.map(|last| LastYearLine {
                year: last.year,
                now: last.now.into(),
                before: last.before.into(),
                p: last.p,
            }),
        }
    }
}

/// A remedy for dormancy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct RemedyLine {
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

impl From<&Remedy> for RemedyLine {
    fn from(remedy: &Remedy) -> Self {
        Self {
            species: remedy.species,
            what: remedy.what,
            caution: remedy.caution,
            source: remedy.source,
            standing: remedy.standing,
        }
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GerminationAnswer {
    /// By what trays are put together.
    pub by: &'static str,
    /// The day asked about.
    pub on: String,
    /// The warmth of the soil, where given.
    pub warmth: Option<f64>,
    /// The groups.
    pub groups: Vec<GroupLine>,
    /// The groups compared.
    pub comparisons: Vec<ComparisonLine>,
    /// Each tray.
    pub trays: Vec<TrayLine>,
    /// Trays that nobody counted.
    pub uncounted: Vec<TrayLine>,
    /// What may wake dormant seed, where a tray is slow.
    pub remedies: Vec<RemedyLine>,
    /// The arrivals of the groups, for the picture.
    #[serde(skip)]
    pub curves: Vec<Arrivals>,
}

impl GerminationAnswer {
    /// The answer.
    #[must_use]
    pub fn new(found: &Germination) -> Self {
        let all = || found.trays.iter().chain(&found.uncounted);
        let slow: Vec<_> = all()
            .filter(|tray| tray.outlook.slow && tray.seen <= tray.up)
            .map(|tray| &tray.species)
            .collect();
        let remedies = if slow.is_empty() {
            Vec::new()
        } else {
            remedies_for(&slow)
        };
        Self {
            by: found.by.word(),
            on: found.on.to_string(),
            warmth: found.warmth.map(|warmth| warmth.celsius()),
            groups: found
                .groups
                .iter()
                .map(|group| GroupLine::new(group, &found.trays))
                .collect(),
            comparisons: found
                .comparisons
                .iter()
                .map(|one| ComparisonLine::new(one, &found.groups, &found.trays))
                .collect(),
            trays: found.trays.iter().map(TrayLine::from).collect(),
            uncounted: found.uncounted.iter().map(TrayLine::from).collect(),
            remedies: remedies.into_iter().map(RemedyLine::from).collect(),
            curves: found
                .groups
                .iter()
                .map(|group| group.arrivals.clone())
                .collect(),
        }
    }
}

impl Answer for GerminationAnswer {
    fn words(&self, page: Page) -> String {
        germination_words::words(self, page)
    }
}
