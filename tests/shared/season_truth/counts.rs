//! What is counted of seasons: sums that can be added up and kept in a file.

use std::collections::BTreeMap;

use locule::diagnosis::answer::{BatchAnswer, Source, Verdict};
use serde::{Deserialize, Serialize};

use super::tray::{Grown, Tray};

/// Upper ends of the groups that predictions are sorted into; finer where verdicts fall.
pub const ENDS: [f64; 14] = [
    0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0,
];

/// One probability that the program gave, and what was so.
pub struct Prediction {
    /// Days after sowing.
    pub since: i64,
    /// P(off-type).
    pub p: f64,
    /// Whether it is.
    pub off: bool,
    /// The verdict.
    pub verdict: Verdict,
}

/// Why a true seedling was pulled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lost {
    /// Something written down of it was wrong.
    Misread,
    /// It would have turned purple yet.
    Late,
    /// It would have turned purple in the light.
    Dim,
    /// It looks as the label should not, since a parent is not what is stated.
    Parent,
    /// It looks as the label may, but its tray looked like something else.
    Other,
}

impl Lost {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Misread,
        Self::Late,
        Self::Dim,
        Self::Parent,
        Self::Other,
    ];

    /// Its name in results.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Misread => "misread",
            Self::Late => "late",
            Self::Dim => "dim",
            Self::Parent => "parent",
            Self::Other => "other",
        }
    }

    /// Why this seedling would be lost.
    pub fn of(tray: &Tray, one: &Grown) -> Self {
        if one.misread {
            Self::Misread
        } else if !one.final_leaf && tray.dim {
            Self::Dim
        } else if !one.final_leaf {
            Self::Late
        } else if !tray.parents_as_stated {
            Self::Parent
        } else {
            Self::Other
        }
    }
}

/// Predictions of one group.
#[derive(Debug, Clone, Copy, Default, Serialize, Deserialize)]
pub struct Bin {
    /// How many.
    pub n: u64,
    /// Their sum.
    pub said: f64,
    /// How many were off-types.
    pub off: u64,
    /// Sum over seasons of the square of (off-types - said): what chance may do, season by season.
    pub square: f64,
}

/// Predictions by group.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Reliability {
    /// The groups, by [`ENDS`].
    pub bins: [Bin; ENDS.len()],
    /// Sum of (p - off)^2.
    pub brier: f64,
    /// The season under way: off-types - said, by group.
    #[serde(skip)]
    open: [f64; ENDS.len()],
}

impl Reliability {
    fn enter(&mut self, p: f64, off: bool) {
        let group = ENDS
            .iter()
            .position(|end| p < *end)
            .unwrap_or(ENDS.len() - 1);
        let bin = &mut self.bins[group];
        let truth = f64::from(u8::from(off));
        bin.n += 1;
        bin.said += p;
        bin.off += u64::from(off);
        self.open[group] += truth - p;
        self.brier += (p - truth).powi(2);
    }

    fn close_season(&mut self) {
        for (bin, open) in self.bins.iter_mut().zip(&mut self.open) {
            bin.square += *open * *open;
            *open = 0.0;
        }
    }

    fn add(&mut self, other: &Self) {
        for (bin, more) in self.bins.iter_mut().zip(&other.bins) {
            bin.n += more.n;
            bin.said += more.said;
            bin.off += more.off;
            bin.square += more.square;
        }
        self.brier += other.brier;
    }
}

/// A count, and the sum over seasons of its square.
#[derive(Debug, Clone, Copy, Default, Serialize, Deserialize)]
pub struct Clustered {
    /// The count.
    pub n: u64,
    /// Sum over seasons of the square.
    pub square: f64,
    /// The season under way.
    #[serde(skip)]
    open: u64,
}

impl Clustered {
    fn enter(&mut self) {
        self.n += 1;
        self.open += 1;
    }

    fn close_season(&mut self) {
        self.square += (self.open * self.open) as f64;
        self.open = 0;
    }

    fn add(&mut self, other: &Self) {
        self.n += other.n;
        self.square += other.square;
    }
}

/// Seedlings of one kind, and how many of them were pulled by which day.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Pulled {
    /// How many came up.
    pub all: u64,
    /// Pulled on each day after sowing.
    pub on: BTreeMap<i64, u64>,
}

impl Pulled {
    /// How many were pulled by a day.
    pub fn by(&self, day: i64) -> u64 {
        self.on.range(..=day).map(|(_, n)| n).sum()
    }
}

/// Trays of which the flowers were treated alike.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Treated {
    /// How many.
    pub trays: u64,
    /// Seedlings as labelled.
    pub true_up: u64,
    /// Of these pulled, whyever.
    pub lost: Clustered,
    /// Of these pulled for lateness, want of light or a slip of the pen.
    pub lost_to_looks: Clustered,
    /// Off-types.
    pub off: u64,
    /// Off-types that look as the label does not allow, and of them pulled.
    pub betrayed: u64,
    /// Of them pulled.
    pub betrayed_pulled: u64,
}

/// Trays of one true source, after their last look.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Named {
    /// How many.
    pub trays: u64,
    /// Of how many the true source had the greatest probability.
    pub right: u64,
    /// Sum of the probabilities of the true source.
    pub said: f64,
    /// Of how many an off-type came up that looks as the label does not allow.
    pub betrayed: u64,
    /// Of how many of these the true source had the greatest probability.
    pub betrayed_right: u64,
}

/// What is counted of seasons.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Counts {
    /// Seasons.
    pub seasons: u64,
    /// Trays in which something came up.
    pub trays: u64,
    /// Seedlings that are as labelled.
    pub true_up: u64,
    /// All predictions.
    pub reliability: Reliability,
    /// Predictions by days after sowing.
    pub by_day: BTreeMap<i64, Reliability>,
    /// By days after sowing and verdict: how many seedlings, and off-types among them.
    pub verdicts: BTreeMap<i64, BTreeMap<String, (u64, u64)>>,
    /// True seedlings pulled, by why.
    pub lost: BTreeMap<String, Clustered>,
    /// The program's own expectation of true seedlings pulled.
    pub lost_expected: f64,
    /// Off-types.
    pub off: Pulled,
    /// Those whose leaves look as the label does not allow.
    pub off_by_leaves: Pulled,
    /// Those of whom anything read does.
    pub off_by_looks: Pulled,
    /// Trays by how their flowers were treated.
    pub treated: BTreeMap<String, Treated>,
    /// Trays by true source.
    pub sources: BTreeMap<String, Named>,
    /// The probability of the likeliest source, and whether it was the true one.
    pub likeliest: Reliability,
    /// Season by season: off-types whose leaves look as the label does not allow, and how many of them were pulled.
    pub by_season: Vec<(u64, u64)>,
}

fn add_maps<V: Default>(
    into: &mut BTreeMap<String, V>,
    from: &BTreeMap<String, V>,
    add: impl Fn(&mut V, &V),
) {
    for (key, value) in from {
        add(into.entry(key.clone()).or_default(), value);
    }
}

impl Counts {
    /// Counts one prediction.
    pub fn predict(&mut self, one: &Prediction) {
        self.reliability.enter(one.p, one.off);
        self.by_day
            .entry(one.since)
            .or_default()
            .enter(one.p, one.off);
        let day = self.verdicts.entry(one.since).or_default();
        let (n, off) = day.entry(one.verdict.word().to_owned()).or_default();
        *n += 1;
        *off += u64::from(one.off);
    }

    /// Counts a seedling that was pulled.
    pub fn pull(&mut self, since: i64, tray: &Tray, one: &Grown, why: Lost, p: f64) {
        self.lost_expected += 1.0 - p;
        let treated = self.treated.entry(tray.care_word().to_owned()).or_default();
        if one.from.is_none() {
            treated.lost.enter();
            if matches!(why, Lost::Misread | Lost::Late | Lost::Dim) {
                treated.lost_to_looks.enter();
            }
            self.lost.entry(why.word().to_owned()).or_default().enter();
            return;
        }
        treated.betrayed_pulled += u64::from(tray.betrayed(one.genes));
        for set in self.sets(tray, one) {
            *set.on.entry(since).or_default() += 1;
        }
    }

    /// The sets of off-types that a seedling belongs to.
    fn sets(&mut self, tray: &Tray, one: &Grown) -> Vec<&mut Pulled> {
        let mut sets = vec![&mut self.off];
        if tray.leaves_betray(one.genes) {
            sets.push(&mut self.off_by_leaves);
        }
        if tray.betrayed(one.genes) {
            sets.push(&mut self.off_by_looks);
        }
        sets
    }

    /// Counts what came up in a tray.
    pub fn enter_tray(&mut self, tray: &Tray) {
        self.trays += u64::from(!tray.grown.is_empty());
        let treated = self.treated.entry(tray.care_word().to_owned()).or_default();
        treated.trays += u64::from(!tray.grown.is_empty());
        for one in &tray.grown {
            treated.true_up += u64::from(one.from.is_none());
            treated.off += u64::from(one.from.is_some());
            treated.betrayed += u64::from(one.from.is_some() && tray.betrayed(one.genes));
        }
        for one in &tray.grown {
            if one.from.is_none() {
                self.true_up += 1;
            } else {
                self.sets(tray, one)
                    .into_iter()
                    .for_each(|set| set.all += 1);
            }
        }
    }

    /// Counts what the program says went wrong with a tray.
    pub fn enter_sources(&mut self, tray: &Tray, answer: &BatchAnswer) {
        let true_source = |source: &Source| tray.trouble.is_so(source);
        let Some(top) = answer
            .sources
            .iter()
            .max_by(|one, other| one.p.total_cmp(&other.p))
        else {
            return;
        };
        let said: f64 = answer
            .sources
            .iter()
            .filter(|share| true_source(&share.source))
            .map(|share| share.p)
            .sum();
        let word = match tray.trouble.parts.as_slice() {
            [] => "none",
            [(cause, _)] => cause.word(),
            _ => "two",
        };
        let right = true_source(&top.source);
        let betrayed = tray
            .grown
            .iter()
            .any(|one| one.from.is_some() && tray.betrayed(one.genes));
        let named = self.sources.entry(word.to_owned()).or_default();
        named.trays += 1;
        named.right += u64::from(right);
        named.said += said;
        named.betrayed += u64::from(betrayed);
        named.betrayed_right += u64::from(betrayed && right);
        self.likeliest.enter(top.p, right);
    }

    /// Ends the one season of these counts.
    pub fn close_season(&mut self) {
        self.seasons += 1;
        self.by_season = vec![(self.off_by_leaves.all, self.off_by_leaves.by(i64::MAX))];
        self.reliability.close_season();
        self.likeliest.close_season();
        self.by_day.values_mut().for_each(Reliability::close_season);
        self.lost.values_mut().for_each(Clustered::close_season);
        for treated in self.treated.values_mut() {
            treated.lost.close_season();
            treated.lost_to_looks.close_season();
        }
    }

    /// Adds the counts of other seasons.
    pub fn add(&mut self, other: &Self) {
        self.seasons += other.seasons;
        self.trays += other.trays;
        self.true_up += other.true_up;
        self.reliability.add(&other.reliability);
        self.likeliest.add(&other.likeliest);
        self.lost_expected += other.lost_expected;
        self.by_season.extend(&other.by_season);
        for (day, more) in &other.by_day {
            self.by_day.entry(*day).or_default().add(more);
        }
        for (day, more) in &other.verdicts {
            add_maps(
                self.verdicts.entry(*day).or_default(),
                more,
                |into, from| {
                    into.0 += from.0;
                    into.1 += from.1;
                },
            );
        }
        add_maps(&mut self.lost, &other.lost, Clustered::add);
        for (into, from) in [
            (&mut self.off, &other.off),
            (&mut self.off_by_leaves, &other.off_by_leaves),
            (&mut self.off_by_looks, &other.off_by_looks),
        ] {
            into.all += from.all;
            for (day, n) in &from.on {
                *into.on.entry(*day).or_default() += n;
            }
        }
        add_maps(&mut self.treated, &other.treated, |into, from| {
            into.trays += from.trays;
            into.true_up += from.true_up;
            into.lost.add(&from.lost);
            into.lost_to_looks.add(&from.lost_to_looks);
            into.off += from.off;
            into.betrayed += from.betrayed;
            into.betrayed_pulled += from.betrayed_pulled;
        });
        add_maps(&mut self.sources, &other.sources, |into, from| {
            into.trays += from.trays;
            into.right += from.right;
            into.said += from.said;
            into.betrayed += from.betrayed;
            into.betrayed_right += from.betrayed_right;
        });
    }
}
