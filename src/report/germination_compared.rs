//! Two groups of trays compared, as JSON: how many came up, and when.

use serde::Serialize;

use crate::growing::germination::{Comparison, Group};
use crate::growing::trays::TrayCount;
use crate::stats::two_by_two::Part;

/// A log-rank test.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LogRankLine {
    /// Seedlings up in the first group.
    pub observed: f64,
    /// Expected if both were alike.
    pub expected: f64,
    /// The variance of the difference.
    pub variance: f64,
    /// Chi-square, one degree of freedom.
    pub chi2: f64,
    /// Its p.
    pub p: f64,
}

/// A log-rank test on intervals.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct IntervalLine {
    /// The score of the first group; above 0 where it is the earlier one.
    pub score: f64,
    /// Its variance.
    pub variance: f64,
    /// Score over its standard deviation.
    pub z: f64,
    /// Its p.
    pub p: f64,
}

/// Two groups compared.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComparisonLine {
    /// The first group.
    pub one: String,
    /// The second.
    pub other: String,
    /// Whether they are the two directions of one pair.
    pub reciprocal: bool,
    /// Trays of either of which more may come.
    pub unsettled: Vec<String>,
    /// While more may come: the day after sowing up to which how many came up is compared, the last by which all of them
    /// were counted.
    pub by_day: Option<f64>,
    /// The shares compared; null, as all of the test, while more may come and they have no such day.
    pub shares: Option<[f64; 2]>,
    /// Fisher's exact p for how many came up.
    pub p_fisher: Option<f64>,
    /// The same adjusted by Holm for the pairs compared.
    pub p_fisher_holm: Option<f64>,
    /// First share less second.
    pub difference: Option<f64>,
    /// Newcombe's 95 % interval of it.
    pub difference_between: Option<[f64; 2]>,
    /// The log-rank test for when, by the days of the counts.
    pub log_rank: Option<LogRankLine>,
    /// The log-rank test on intervals between counts.
    pub interval_log_rank: Option<IntervalLine>,
    /// `log-rank` where both were counted on the same days after sowing, else `interval-log-rank`.
    pub timing_decides: &'static str,
    /// Whether all that came up was first counted on one day, which tells nothing of when.
    pub at_one_count: bool,
    /// The p that decides for when.
    pub p_timing: Option<f64>,
    /// The same adjusted by Holm.
    pub p_timing_holm: Option<f64>,
    /// The first group, by its place.
    #[serde(skip)]
    pub at: [usize; 2],
}

impl ComparisonLine {
    /// Two of the groups.
    #[must_use]
    pub fn new(one: &Comparison, groups: &[Group], trays: &[TrayCount]) -> Self {
        let (first, second) = (&groups[one.one], &groups[one.other]);
        let tested = one.shares.as_ref();
        let shares = tested.map(|test| test.parts.map(Part::share));
        let unsettled = one.unsettled.iter();
        Self {
            one: first.name.clone(),
            other: second.name.clone(),
            reciprocal: one.reciprocal,
            unsettled: unsettled.map(|at| trays[*at].tray.clone()).collect(),
            by_day: tested.and_then(|test| test.by_day),
            shares,
            p_fisher: tested.map(|test| test.p),
            p_fisher_holm: tested.map(|test| test.p_holm),
            difference: shares.map(|[first, second]| first - second),
            difference_between: tested.map(|test| [test.difference.low, test.difference.high]),
            log_rank: one.log_rank.map(|test| LogRankLine {
                observed: test.observed,
                expected: test.expected,
                variance: test.variance,
                chi2: test.chi2,
                p: test.p,
            }),
            interval_log_rank: one.interval.map(|test| IntervalLine {
                score: test.score,
                variance: test.variance,
                z: test.z,
                p: test.p,
            }),
            timing_decides: if one.same_days {
                "log-rank"
            } else {
                "interval-log-rank"
            },
            at_one_count: one.at_one_count,
            p_timing: one.p_time.map(|(p, _)| p),
            p_timing_holm: one.p_time.map(|(_, p)| p),
            at: [one.one, one.other],
        }
    }
}
