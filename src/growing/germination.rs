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
    /// Fisher's exact p.
    pub p: f64,
}

/// Two groups compared.
#[derive(Debug, Clone, Copy)]
pub struct Comparison {
    /// The first group, by its place.
    pub one: usize,
    /// The second.
    pub other: usize,
    /// Whether they are the two directions of one pair.
    pub reciprocal: bool,
    /// Fisher's exact p for how many came up.
    pub p_share: f64,
    /// The same, adjusted by Holm for the number of pairs compared.
    pub p_share_holm: f64,
    /// 95 % interval of the first share less the second.
    pub difference: Interval,
    /// The log-rank test for when.
    pub log_rank: Option<LogRank>,
    /// The test for when that asks for no common days of counting.
    pub interval: Option<IntervalTest>,
    /// Whether both were counted on the same days after sowing, so that the log-rank test decides.
    pub same_days: bool,
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
        let counted = counted.filter(|tray| tray.counted.is_some());
        sum(&counted.map(|tray| tray.part()).collect::<Vec<_>>())
    };
    let before = of(year - 1);
    (before.n > 0).then(|| {
        let in_year = own.iter().filter(|tray| tray.sown_on.year() == year);
        let now = sum(&in_year.map(|tray| tray.part()).collect::<Vec<_>>());
        LastYear {
            year,
            now,
            before,
            p: fisher_exact(now, before),
        }
    })
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
            let same_days = counted_alike([&groups[one], &groups[other]], trays);
            let places = (one, other);
            compare_two(
                &groups[one],
                &groups[other],
                places,
                (reciprocal, same_days),
            )
        })
        .collect();
    let adjusted = holm(&found.iter().map(|one| one.p_share).collect::<Vec<_>>());
    let times: Vec<usize> = (0..found.len())
        .filter(|at| found[*at].p_time.is_some())
        .collect();
    let of_time = |at: &usize| found[*at].p_time.map_or(1.0, |(p, _)| p);
    let adjusted_times = holm(&times.iter().map(of_time).collect::<Vec<_>>());
    for (comparison, p) in found.iter_mut().zip(adjusted) {
        comparison.p_share_holm = p;
    }
    for (at, p) in times.into_iter().zip(adjusted_times) {
        found[at].p_time = found[at].p_time.map(|(own, _)| (own, p));
    }
    found
}

/// Whether every tray of two groups was counted on the same days after its sowing.
fn counted_alike(groups: [&Group; 2], trays: &[TrayCount]) -> bool {
    let mut times = groups
        .iter()
        .flat_map(|group| &group.trays)
        .map(|at| trays[*at].arrivals.times());
    let first = times.next();
    times.all(|other| Some(&other) == first.as_ref())
}

fn compare_two(
    one: &Group,
    other: &Group,
    (at_one, at_other): (usize, usize),
    (reciprocal, same_days): (bool, bool),
) -> Comparison {
    let by_rank = log_rank(&one.arrivals.lifetimes(), &other.arrivals.lifetimes());
    let by_interval = interval_log_rank(&one.arrivals.intervals(), &other.arrivals.intervals());
    let p_share = fisher_exact(one.part, other.part);
    let p_time = match (same_days, by_rank, by_interval) {
        (true, Some(test), _) => Some(test.p),
        (false, _, Some(test)) => Some(test.p),
        _ => None,
    };
    Comparison {
        one: at_one,
        other: at_other,
        reciprocal,
        p_share,
        p_share_holm: p_share,
        difference: difference(one.part, other.part, 0.95),
        log_rank: by_rank,
        interval: by_interval,
        same_days,
        p_time: p_time.map(|p| (p, p)),
    }
}
