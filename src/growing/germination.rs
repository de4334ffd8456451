//! How seed came up: by tray, lot, cross, parent, direction, species or year, groups compared, last year beside it.
//!
//! Pure: rows and a day in, counts and tests out. Which words they become is the report's business.

use super::grouping::{Grouping, group_of};
use super::trays::TrayCount;
use super::window::Warmth;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::BatchRow;
use crate::stats::arrivals::Arrivals;
use crate::stats::heterogeneity::holm;
use crate::stats::intervals::Interval;
use crate::stats::survival::{IntervalTest, LogRank, interval_log_rank, log_rank};
use crate::stats::two_by_two::{Agreement, Part, agreement, difference, fisher_exact};

/// Up to so many groups every two are compared; of more only the two directions of a pair.
const COMPARED: usize = 4;

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Asked {
    /// By what trays are put together.
    pub by: Grouping,
    /// The day asked about; later counts are left out.
    pub on: Day,
    /// The warmth of the soil, where given.
    pub warmth: Option<Warmth>,
}

/// Trays put together.
#[derive(Debug, Clone)]
pub struct Group {
    /// Its name.
    pub name: String,
    /// The trays, by their place in [`Germination::trays`].
    pub trays: Vec<usize>,
    /// Up of sown.
    pub part: Part,
    /// How many stand now.
    pub standing: u64,
    /// The counts of all trays.
    pub arrivals: Arrivals,
    /// Those of its trays of which more may come, or may have come since they were last counted.
    pub unsettled: Vec<usize>,
    /// Whether the trays agree with each other; nothing for a single one.
    pub agreement: Option<Agreement>,
    /// The same in the year before.
    pub last_year: Option<LastYear>,
}

/// A group beside the same a year before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LastYear {
    /// The newest year of sowing in the group.
    pub year: i32,
    /// Up of sown in it.
    pub now: Part,
    /// Up of sown in the year before.
    pub before: Part,
    /// Fisher's exact p; nothing while more may come of either year.
    pub p: Option<f64>,
}

/// How many came up of two groups, compared.
#[derive(Debug, Clone, Copy)]
pub struct ShareTest {
    /// Up of sown in both.
    pub parts: [Part; 2],
    /// The day after sowing up to which is counted, while more may come of a tray; nothing where all came that will.
    pub by_day: Option<f64>,
    /// Fisher's exact p.
    pub p: f64,
    /// The same, adjusted by Holm for the number of pairs compared.
    pub p_holm: f64,
    /// 95 % interval of the first share less the second.
    pub difference: Interval,
}

/// Two groups compared.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// The first group, by its place.
    pub one: usize,
    /// The second.
    pub other: usize,
    /// Whether they are the two directions of one pair.
    pub reciprocal: bool,
    /// Trays of either of which more may come, by their place.
    pub unsettled: Vec<usize>,
    /// How many came up; nothing while more may come and they were counted on no day of the same age.
    pub shares: Option<ShareTest>,
    /// The log-rank test for when.
    pub log_rank: Option<LogRank>,
    /// The test for when that asks for no common days of counting.
    pub interval: Option<IntervalTest>,
    /// Whether both were counted on the same days after sowing, so that the log-rank test decides.
    pub same_days: bool,
    /// Whether all that came up was first counted on one day after sowing, the same in both: that tells nothing of when.
    pub at_one_count: bool,
    /// The p for when that decides, and adjusted by Holm.
    pub p_time: Option<(f64, f64)>,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct Germination {
    /// By what trays were put together.
    pub by: Grouping,
    /// The day asked about.
    pub on: Day,
    /// The warmth, where given.
    pub warmth: Option<Warmth>,
    /// Trays that were counted.
    pub trays: Vec<TrayCount>,
    /// Trays that nobody counted.
    pub uncounted: Vec<TrayCount>,
    /// The groups of counted trays.
    pub groups: Vec<Group>,
    /// The groups compared.
    pub comparisons: Vec<Comparison>,
}

/// How the seed of some batches came up.
#[must_use]
pub fn germination(facts: &Facts, batches: &[&BatchRow], asked: Asked) -> Germination {
    let sown = batches.iter().filter(|batch| batch.day <= asked.on);
    let all = sown.filter_map(|batch| TrayCount::of(facts, batch, asked.on, asked.warmth));
    let (trays, uncounted): (Vec<_>, Vec<_>) = all.partition(|tray| tray.counted.is_some());
    let mut groups: Vec<Group> = Vec::new();
    for (at, tray) in trays.iter().enumerate() {
        let batch = facts.batch.get(tray.batch_id).expect("it was just counted");
        let name = group_of(facts, batch, asked.by);
        match groups.iter_mut().find(|group| group.name == name) {
            Some(group) => group.trays.push(at),
            None => groups.push(Group {
                name,
                trays: vec![at],
                part: Part { k: 0, n: 0 },
                standing: 0,
                arrivals: Arrivals::default(),
                unsettled: Vec::new(),
                agreement: None,
                last_year: None,
            }),
        }
    }
    // Years and ages stand in their own order, all else in that of the ledger.
    if matches!(asked.by, Grouping::Year | Grouping::Age) {
        groups.sort_by_key(|group| {
            group
                .trays
                .iter()
                .map(|at| rank(&trays[*at], asked.by))
                .min()
        });
    }
    for group in &mut groups {
        fill(facts, group, &trays, asked);
    }
    let comparisons = compare(&groups, &trays);
    Germination {
        by: asked.by,
        on: asked.on,
        warmth: asked.warmth,
        trays,
        uncounted,
        groups,
        comparisons,
    }
}

/// Where a tray stands among years or ages; one of no recorded lot last.
fn rank(tray: &TrayCount, by: Grouping) -> i64 {
    match by {
        Grouping::Age => {
            let ages = tray.lots.iter().map(|lot| lot.age_days);
            ages.max().unwrap_or(i64::MAX)
        }
        _ => i64::from(tray.sown_on.year()),
    }
}

/// Adds up the trays of a group.
fn fill(facts: &Facts, group: &mut Group, trays: &[TrayCount], asked: Asked) {
    let own: Vec<&TrayCount> = group.trays.iter().map(|at| &trays[*at]).collect();
    let parts: Vec<Part> = own.iter().map(|tray| tray.part()).collect();
    group.part = sum(&parts);
    group.standing = own.iter().map(|tray| tray.standing).sum();
    let arrivals: Vec<Arrivals> = own.iter().map(|tray| tray.arrivals.clone()).collect();
    group.arrivals = Arrivals::pooled(&arrivals);
    let open = |at: &usize| !trays[*at].is_settled();
    group.unsettled = group.trays.iter().copied().filter(open).collect();
    group.agreement = agreement(&parts);
    group.last_year = last_year(facts, &own, asked);
}

fn sum(parts: &[Part]) -> Part {
    let (k, n) = parts
        .iter()
        .fold((0, 0), |(k, n), part| (k + part.k, n + part.n));
    Part::new(k, n)
}

/// A group's newest year beside the year before: all trays of the ledger that the same group name holds, whether asked
/// about or not; of single trays those of the same stock.
fn last_year(facts: &Facts, own: &[&TrayCount], asked: Asked) -> Option<LastYear> {
    let by = match asked.by {
        Grouping::Tray => Grouping::Cross,
        Grouping::Year | Grouping::Age => return None,
        other => other,
    };
    let year = own.iter().map(|tray| tray.sown_on.year()).max()?;
    let first = facts.batch.get(own.first()?.batch_id)?;
    let name = group_of(facts, first, by);
    let of = |year: i32| {
        let same = facts.batch.iter().filter(|batch| {
            batch.day.year() == year && batch.day <= asked.on && group_of(facts, batch, by) == name
        });
        let counted = same.filter_map(|batch| TrayCount::of(facts, batch, asked.on, None));
        let counted: Vec<_> = counted.filter(|tray| tray.counted.is_some()).collect();
        summed(&counted.iter().collect::<Vec<_>>())
    };
    let (before, was_settled) = of(year - 1);
    (before.n > 0).then(|| {
        let in_year = own.iter().filter(|tray| tray.sown_on.year() == year);
        let (now, is_settled) = summed(&in_year.copied().collect::<Vec<_>>());
        LastYear {
            year,
            now,
            before,
            p: (was_settled && is_settled).then(|| fisher_exact(now, before)),
        }
    })
}

/// Up of sown in all of some trays, and whether no more is waited for of any.
fn summed(trays: &[&TrayCount]) -> (Part, bool) {
    let parts: Vec<Part> = trays.iter().map(|tray| tray.part()).collect();
    (sum(&parts), trays.iter().all(|tray| tray.is_settled()))
}

/// The one pair of plants that all trays of a group are of.
fn pair_of(group: &Group, trays: &[TrayCount]) -> Option<(i64, i64)> {
    let first = trays[*group.trays.first()?].parents?;
    let same = |at: &usize| trays[*at].parents == Some(first);
    group.trays.iter().all(same).then_some(first)
}

fn compare(groups: &[Group], trays: &[TrayCount]) -> Vec<Comparison> {
    let pairs: Vec<_> = groups.iter().map(|group| pair_of(group, trays)).collect();
    let reciprocal = |one: usize, other: usize| match (pairs[one], pairs[other]) {
        (Some((a, b)), Some(back)) => a != b && back == (b, a),
        _ => false,
    };
    let all =
        (0..groups.len()).flat_map(|one| (one + 1..groups.len()).map(move |other| (one, other)));
    let wanted = all.filter(|(one, other)| groups.len() <= COMPARED || reciprocal(*one, *other));
    let mut found: Vec<Comparison> = wanted
        .map(|(one, other)| {
            let reciprocal = reciprocal(one, other);
            compare_two(groups, trays, (one, other), reciprocal)
        })
        .collect();
    adjust(&mut found, |one| {
        one.shares.as_mut().map(|test| (test.p, &mut test.p_holm))
    });
    adjust(&mut found, |one| {
        one.p_time.as_mut().map(|(p, adjusted)| (*p, adjusted))
    });
    found
}

/// Adjusts by Holm what was tested of each pair.
fn adjust(
    found: &mut [Comparison],
    tested: impl FnMut(&mut Comparison) -> Option<(f64, &mut f64)>,
) {
    let (own, places): (Vec<f64>, Vec<&mut f64>) = found.iter_mut().filter_map(tested).unzip();
    for (place, p) in places.into_iter().zip(holm(&own)) {
        *place = p;
    }
}

/// Two groups as far as they can be compared: to their ends, or, while more may come of a tray, by the counts up to the
/// last day after sowing by which every tray was still looked at.
struct Compared {
    arrivals: [Vec<Arrivals>; 2],
    by_day: Option<f64>,
}

impl Compared {
    fn of(groups: [&Group; 2], trays: &[TrayCount]) -> Self {
        let own = groups.map(|group| group.trays.iter().map(|at| &trays[*at].arrivals));
        let all: Vec<&Arrivals> = own.iter().flat_map(Clone::clone).collect();
        if groups.iter().all(|group| group.unsettled.is_empty()) {
            return Self {
                arrivals: own.map(|group| group.cloned().collect()),
                by_day: None,
            };
        }
        let last = all.iter().filter_map(|one| one.last());
        let by_day = last.fold(f64::INFINITY, f64::min);
        Self {
            arrivals: own.map(|group| group.map(|one| one.up_to(by_day)).collect()),
            by_day: Some(by_day),
        }
    }

    fn all(&self) -> impl Iterator<Item = &Arrivals> {
        self.arrivals.iter().flatten()
    }

    /// Whether every tray was counted on the same days after its sowing.
    fn is_counted_alike(&self) -> bool {
        let mut times = self.all().map(Arrivals::times);
        let first = times.next();
        times.all(|other| Some(&other) == first.as_ref())
    }

    /// Whether all that came was first counted on one day.
    fn is_at_one_count(&self) -> bool {
        let mut newly = self.all().flat_map(Arrivals::newly);
        let first = newly.next();
        first.is_some_and(|first| newly.all(|one| (one.after, one.by) == (first.after, first.by)))
    }

    /// How many came up: of all where no more may come, else by the last day on which every tray was counted.
    fn shares(&self) -> Option<ShareTest> {
        let counted = |day: &f64| self.all().all(|one| one.times().contains(day));
        let day = match (self.by_day, self.all().next()) {
            (Some(_), Some(first)) => Some(first.times().into_iter().rev().find(counted)?),
            _ => None,
        };
        let parts = self.arrivals.each_ref().map(|group| {
            let up = |one: &Arrivals| day.map_or(one.arrived() as f64, |day| one.there_by(day));
            let total = group.iter().map(Arrivals::total).sum();
            Part::new(group.iter().map(up).sum::<f64>().round() as u64, total)
        });
        let p = fisher_exact(parts[0], parts[1]);
        Some(ShareTest {
            parts,
            by_day: day,
            p,
            p_holm: p,
            difference: difference(parts[0], parts[1], 0.95),
        })
    }
}

fn compare_two(
    groups: &[Group],
    trays: &[TrayCount],
    (one, other): (usize, usize),
    reciprocal: bool,
) -> Comparison {
    let both = [&groups[one], &groups[other]];
    let compared = Compared::of(both, trays);
    let [first, second] = compared
        .arrivals
        .each_ref()
        .map(|group| Arrivals::pooled(group));
    let by_rank = log_rank(&first.lifetimes(), &second.lifetimes());
    let by_interval = interval_log_rank(&first.intervals(), &second.intervals());
    let (same_days, at_one_count) = (compared.is_counted_alike(), compared.is_at_one_count());
    let p_time = match (same_days, by_rank, by_interval) {
        _ if at_one_count => None,
        (true, Some(test), _) => Some(test.p),
        (false, _, Some(test)) => Some(test.p),
        _ => None,
    };
    Comparison {
        one,
        other,
        reciprocal,
        unsettled: both
            .iter()
            .flat_map(|group| group.unsettled.clone())
            .collect(),
        shares: compared.shares(),
        log_rank: by_rank,
        interval: by_interval,
        same_days,
        at_one_count,
        p_time: p_time.map(|p| (p, p)),
    }
}
