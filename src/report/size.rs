//! How large seedlings are, in words, tables and JSON; runts with their caution.

use serde::Serialize;

use super::numbers::{p_value, several};
use super::table::Table;
use super::text::{listed, one_under_another};
use super::{Answer, Page};
use crate::growing::sizes::{Decides, Size, SizeComparison, SizeGroup, Sizes};
use crate::records::measures::SAME_AGE_DAYS;
use crate::stats::intervals::Interval;
use crate::stats::two_samples::{mean, median, variance};

/// From this p on nothing is called a difference.
const LEVEL: f64 = 0.05;

/// One seedling.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SizeLine {
    /// Its place or code.
    pub seedling: String,
    /// Its tray.
    pub tray: String,
    /// The number.
    pub value: f64,
    /// The day it was measured.
    pub day: String,
    /// Days from sowing to it.
    pub age_days: i64,
    /// Whether it still stands.
    pub standing: bool,
    /// Its modified z-score within its tray; null where too few were measured.
    pub z: Option<f64>,
    /// Whether it is far smaller than its tray.
    pub runt: bool,
}

impl From<&Size> for SizeLine {
    fn from(size: &Size) -> Self {
        Self {
            seedling: size.seedling.clone(),
            tray: size.tray.clone(),
            value: size.value,
            day: size.day.to_string(),
            age_days: size.age,
            standing: size.standing,
            z: size.z,
            runt: size.is_runt(),
        }
    }
}

/// Seedlings put together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SizeGroupLine {
    /// Its name.
    pub group: String,
    /// How many were measured.
    pub n: usize,
    /// Mean.
    pub mean: f64,
    /// Standard deviation; null for a single one.
    pub sd: Option<f64>,
    /// Median.
    pub median: f64,
    /// Smallest and largest.
    pub range: [f64; 2],
    /// Youngest and oldest, in days from sowing.
    pub age_days: [i64; 2],
    /// Whether one is of a cross between species.
    pub wide: bool,
    /// Whether they were measured at ages too far apart to be set beside each other.
    pub mixes_ages: bool,
    /// How many of them are gone since.
    pub gone: usize,
}

impl SizeGroupLine {
    fn new(group: &SizeGroup, sizes: &[Size]) -> Self {
        let own = || group.sizes.iter().map(|at| &sizes[*at]);
        let values: Vec<f64> = own().map(|size| size.value).collect();
        let ages = || own().map(|size| size.age);
        Self {
            group: group.name.clone(),
            n: values.len(),
            mean: mean(&values),
            sd: (values.len() > 1).then(|| variance(&values).sqrt()),
            median: median(&values),
            range: [
                values.iter().copied().fold(f64::INFINITY, f64::min),
                values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            ],
            age_days: [ages().min().unwrap_or(0), ages().max().unwrap_or(0)],
            wide: group.wide,
            mixes_ages: group.mixes_ages,
            gone: group.gone,
        }
    }
}

/// Welch's test.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct WelchLine {
    /// First mean less second.
    pub difference: f64,
    /// Its standard error.
    pub se: f64,
    /// t.
    pub t: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// Its p.
    pub p: f64,
    /// 95 % interval of the difference.
    pub between: [f64; 2],
}

/// The rank test.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RankLine {
    /// U of the first group.
    pub u: f64,
    /// Its p.
    pub p: f64,
    /// Whether p is exact.
    pub exact: bool,
    /// The smallest p that so many can have.
    pub least_p: f64,
    /// The shift of the first against the second, by Hodges and Lehmann.
    pub shift: f64,
    /// Its 95 % interval; null where so few bound it on no side.
    pub between: Option<[f64; 2]>,
}

/// Two groups compared.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SizeComparisonLine {
    /// The first group.
    pub one: String,
    /// The second.
    pub other: String,
    /// Whether they are the two directions of one pair.
    pub reciprocal: bool,
    /// `welch` or `ranks`.
    pub decides: &'static str,
    /// The p that decides.
    pub p: f64,
    /// The same adjusted by Holm.
    pub p_holm: f64,
    /// Mean age of the first less that of the second, in days.
    pub older_by_days: f64,
    /// Welch's t; null where there is no spread, or a single seedling.
    pub welch: Option<WelchLine>,
    /// The rank test.
    pub ranks: RankLine,
}

const fn ends(interval: Interval) -> [f64; 2] {
    [interval.low, interval.high]
}

impl SizeComparisonLine {
    fn new(one: &SizeComparison, groups: &[SizeGroup]) -> Self {
        Self {
            one: groups[one.one].name.clone(),
            other: groups[one.other].name.clone(),
            reciprocal: one.reciprocal,
            decides: match one.decides {
                Decides::Welch => "welch",
                Decides::Ranks => "ranks",
            },
            p: one.p,
            p_holm: one.p_holm,
            older_by_days: one.older_by,
            welch: one.welch.map(|test| WelchLine {
                difference: test.difference,
                se: test.se,
                t: test.t,
                df: test.df,
                p: test.p,
                between: ends(test.interval),
            }),
            ranks: RankLine {
                u: one.ranks.u,
                p: one.ranks.p,
                exact: one.ranks.exact,
                least_p: one.ranks.least_p,
                shift: one.ranks.shift,
                between: one.ranks.interval.map(ends),
            },
        }
    }
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SizeAnswer {
    /// What was measured.
    pub measure: String,
    /// Its unit, or empty.
    pub unit: String,
    /// By what seedlings are put together.
    pub by: &'static str,
    /// The day asked about.
    pub on: String,
    /// The groups.
    pub groups: Vec<SizeGroupLine>,
    /// The groups compared.
    pub comparisons: Vec<SizeComparisonLine>,
    /// The seedlings.
    pub seedlings: Vec<SizeLine>,
    /// Crosses between species that have runts.
    pub wide_runts: Vec<String>,
    /// Seedlings left out since their unit is another.
    pub other_unit: Vec<String>,
}

impl SizeAnswer {
    /// The answer.
    #[must_use]
    pub fn new(sizes: &Sizes) -> Self {
        Self {
            measure: sizes.name.clone(),
            unit: sizes.unit.clone(),
            by: sizes.by.word(),
            on: sizes.on.to_string(),
            groups: sizes
                .groups
                .iter()
                .map(|group| SizeGroupLine::new(group, &sizes.sizes))
                .collect(),
            comparisons: sizes
                .comparisons
                .iter()
                .map(|one| SizeComparisonLine::new(one, &sizes.groups))
                .collect(),
            seedlings: sizes.sizes.iter().map(SizeLine::from).collect(),
            wide_runts: sizes.wide_runts.clone(),
            other_unit: sizes.other_unit.clone(),
        }
    }

    fn with_unit(&self, value: f64) -> String {
        let number = short(value);
        if self.unit.is_empty() {
            number
        } else {
            format!("{number} {}", self.unit)
        }
    }

    fn table(&self, page: Page) -> String {
        let mut table = Table::new(&[
            self.measure.as_str(),
            ">measured",
            ">mean",
            ">spread",
            ">median",
            ">from to",
            ">days old",
        ]);
        for group in &self.groups {
            let [low, high] = group.range.map(short);
            let [young, old] = group.age_days;
            table.row([
                group.group.clone(),
                group.n.to_string(),
                self.with_unit(group.mean),
                group.sd.map_or_else(|| "-".to_owned(), short),
                short(group.median),
                format!("{low} to {high}"),
                if young == old {
                    young.to_string()
                } else {
                    format!("{young} to {old}")
                },
            ]);
        }
        table.text(page)
    }

    fn compared(&self, one: &SizeComparisonLine) -> Vec<String> {
        let (p, shown) = if self.comparisons.len() > 1 {
            (one.p_holm, format!("p = {} by Holm", p_value(one.p_holm)))
        } else {
            (one.p, format!("p = {}", p_value(one.p)))
        };
        let (by, test, between) = match (one.decides, one.welch) {
            ("welch", Some(test)) => (test.difference, "Welch's t", Some(test.between)),
            _ => (one.ranks.shift, "rank test", one.ranks.between),
        };
        let between = between.map_or_else(
            || "too few to bound the difference".to_owned(),
            |[low, high]| format!("between {} and {}", short(low), self.with_unit(high)),
        );
        let (a, b) = (&one.one, &one.other);
        let mut lines = vec![if p < LEVEL {
            let (large, small) = if by > 0.0 { (a, b) } else { (b, a) };
            format!(
                "{large} is larger than {small}: {a} less {b} is {}, {between} ({shown}, {test}).",
                self.with_unit(by)
            )
        } else if one.ranks.least_p >= LEVEL {
            format!(
                "{a} and {b}: too few to tell; even wholly apart so few would give p = {} by ranks.",
                p_value(one.ranks.least_p)
            )
        } else {
            format!(
                "{a} and {b}: no proven difference; {a} less {b} is {}, {between} ({shown}, {test}).",
                self.with_unit(by)
            )
        }];
        if one.older_by_days.abs() > SAME_AGE_DAYS {
            let (old, young) = if one.older_by_days > 0.0 {
                (a, b)
            } else {
                (b, a)
            };
            lines.push(format!(
                "{old} was measured {} days older than {young}, on average: age is in the difference. Measure both on \
                 one day, or ask with --on.",
                short(one.older_by_days.abs())
            ));
        }
        lines
    }

    /// Groups whose numbers are of several ages, or of seedlings that are gone.
    fn mixed(&self) -> Vec<String> {
        let of_ages = self.groups.iter().filter(|group| group.mixes_ages);
        let of_ages: Vec<&str> = of_ages.map(|group| group.group.as_str()).collect();
        let gone: usize = self.groups.iter().map(|group| group.gone).sum();
        let mut lines = Vec::new();
        if !of_ages.is_empty() {
            lines.push(format!(
                "Within {} seedlings were measured more than {SAME_AGE_DAYS} days of age apart: mean and spread are of age \
                 as much as of size. Measure all on one day, or ask with --on.",
                listed(&of_ages, "and")
            ));
        }
        if gone > 0 {
            lines.push(format!(
                "{gone} of those measured {} gone since; {} last size is counted in.",
                if gone == 1 { "is" } else { "are" },
                if gone == 1 { "its" } else { "their" }
            ));
        }
        lines
    }

    fn runts(&self) -> Vec<String> {
        let runts: Vec<String> = self
            .seedlings
            .iter()
            .filter(|line| line.runt)
            .map(|line| format!("{} ({})", line.seedling, self.with_unit(line.value)))
            .collect();
        if runts.is_empty() {
            return Vec::new();
        }
        let mut lines = vec![format!(
            "Far smaller than {} tray: {}. Small is no proof of being off-type.",
            if runts.len() == 1 { "its" } else { "their" },
            listed(&runts, "and")
        )];
        if !self.wide_runts.is_empty() {
            lines.push(format!(
                "{} is between species: do not pull a runt of it for being weak. True hybrids of such crosses may look \
                 dwarf or virus-sick (Manzur 2015; Yazawa 1989), and the vigorous ones may be the selfs.",
                listed(&self.wide_runts, "and")
            ));
        }
        lines
    }
}

/// A size to three significant digits, as short as it can be written.
fn short(value: f64) -> String {
    let rounded: f64 = format!("{value:.2e}").parse().unwrap_or(value);
    if rounded == 0.0 {
        "0".to_owned()
    } else {
        rounded.to_string()
    }
}

impl Answer for SizeAnswer {
    fn words(&self, page: Page) -> String {
        let mut parts = vec![self.table(page)];
        let mut say = |lines: Vec<String>| parts.extend(one_under_another(&lines, page.width));
        say(self
            .comparisons
            .iter()
            .flat_map(|one| self.compared(one))
            .collect());
        say(self.mixed());
        say(self.runts());
        if !self.other_unit.is_empty() {
            let why = match self.unit.as_str() {
                "" => "measured in a unit, and the others without one".to_owned(),
                unit => format!("not measured in {unit}, nor in what goes into {unit}"),
            };
            say(vec![format!(
                "Left out, being {why}: {}. 'locule history' has the numbers of these entries, and 'locule amend' mends one.",
                listed(&self.other_unit, "and")
            )]);
        }
        let n = self.seedlings.len() as u64;
        say(vec![format!(
            "The newest measure of {} by {}; days old count from sowing.",
            several(n, "seedling", "seedlings"),
            self.on
        )]);
        parts.join("\n\n")
    }
}
