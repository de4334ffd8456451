//! How many flowers set, in words, tables and JSON, and what it proves where none did.

use serde::Serialize;

use super::mishaps::technique_word;
use super::numbers::{several, share};
use super::set_rate_words::WEATHER_FIRST;
use super::table::Table;
use super::text::{one_under_another, wrapped};
use super::{Answer, Page};
use crate::genetics::species::Crossability;
use crate::growing::no_set::{Advice, Zero, enough_for, none_of, own_rate};
use crate::growing::sets::{Key, SetBy, SetGroup, Sets};
use crate::stats::intervals::{clopper_pearson, wilson};
use crate::stats::two_by_two::Part;

/// Flowers put together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetLine {
    /// What they have in common.
    pub group: String,
    /// Pollinations.
    pub pollinations: u64,
    /// Flowers whose end is known.
    pub flowers: u64,
    /// Pods of them.
    pub pods: u64,
    /// Flowers of whose end nobody spoke.
    pub open: u64,
    /// The share that set; null where no end is known.
    pub share: Option<f64>,
    /// Wilson's 95 % interval.
    pub wilson: [f64; 2],
    /// Clopper and Pearson's.
    pub clopper_pearson: [f64; 2],
}

impl From<&SetGroup> for SetLine {
    fn from(group: &SetGroup) -> Self {
        let Part { k, n } = group.part;
        let (wilson, exact) = (wilson(k, n, 0.95), clopper_pearson(k, n, 0.95));
        Self {
            group: match &group.key {
                Key::Name(name) => name.clone(),
                Key::Technique(technique) => technique_word(*technique).to_owned(),
                Key::Week(Some(monday)) => format!("week of {monday}"),
                Key::Week(None) => "day not known".to_owned(),
            },
            pollinations: group.pollinations,
            flowers: n,
            pods: k,
            open: group.open,
            share: (n > 0).then(|| group.part.share()),
            wilson: [wilson.low, wilson.high],
            clopper_pearson: [exact.low, exact.high],
        }
    }
}

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
    /// The grower's own flowers within a species, where there are enough and this is such a pair.
    pub own: Option<OwnLine>,
}

/// The grower's own flowers, and what they make of none.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OwnLine {
    /// Pods.
    pub pods: u64,
    /// Of so many flowers.
    pub flowers: u64,
    /// The rate they speak for, (pods + 1)/(flowers + 2).
    pub rate: f64,
    /// The chance of none.
    pub chance_of_none: f64,
    /// Flowers without a pod that would be more than bad luck.
    pub enough_flowers: u64,
}

impl OwnLine {
    fn new(own: Part, n: u64) -> Self {
        let rate = own_rate(own);
        Self {
            pods: own.k,
            flowers: own.n,
            rate,
            chance_of_none: none_of(rate, n),
            enough_flowers: enough_for(rate),
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
    pub other_way: Pods,
    /// The same mother's other flowers within a week.
    pub same_mother: Pods,
    /// All other flowers within a week.
    pub same_weather: Pods,
    /// `go-on`, `other-way`, `stop`, `not-expected` or `no-rate`.
    pub advice: &'static str,
    /// With `go-on`: how many more flowers without a pod would be more than bad luck.
    pub more_flowers: Option<u64>,
    #[serde(skip)]
    pub(super) back: String,
    #[serde(skip)]
    pub(super) dated: bool,
    #[serde(skip)]
    pub(super) kind: (Crossability, Crossability),
}

impl From<&Zero> for ZeroLine {
    fn from(zero: &Zero) -> Self {
        let (advice, more_flowers) = match zero.advice {
            Advice::GoOn(more) => ("go-on", Some(more)),
            Advice::OtherWay => ("other-way", None),
            Advice::Stop => ("stop", None),
            Advice::NotExpected => ("not-expected", None),
            Advice::NoRate => ("no-rate", None),
        };
        let reckoned = zero.rates.zip(zero.chances.zip(zero.enough));
        Self {
            pair: zero.pair.clone(),
            cross: zero.cross.clone(),
            flowers: zero.flowers,
            species: zero.species.clone(),
            crossability: zero.crossability.to_string(),
            crossability_back: zero.crossability_back.to_string(),
            rates: reckoned.map(|(rates, (chances, enough))| RatesLine {
                low: rates.low,
                high: rates.high,
                chance_of_none: chances,
                enough_flowers: enough,
                source: rates.source,
                others: rates.others,
                own: zero.own.map(|own| OwnLine::new(own, zero.flowers)),
            }),
            hybrids: zero
                .hybrids
                .iter()
                .map(|(plant, species)| HybridLine {
                    plant: plant.clone(),
                    species: species.clone(),
                })
                .collect(),
            other_way: zero.other_way.into(),
            same_mother: zero.same_mother.into(),
            same_weather: zero.same_weather.into(),
            advice,
            more_flowers,
            back: zero.back.clone(),
            dated: zero.dated,
            kind: (zero.crossability, zero.crossability_back),
        }
    }
}

/// A pollination of whose flowers nobody spoke.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SilentLine {
    /// The cross.
    pub cross: String,
    /// The day, or null.
    pub day: Option<String>,
    /// How many flowers, or null.
    pub flowers: Option<u64>,
    /// Pods harvested of the cross.
    pub harvested: u64,
}

/// The answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetRateAnswer {
    /// By what flowers are put together.
    pub by: &'static str,
    /// All together.
    pub total: SetLine,
    /// The groups.
    pub groups: Vec<SetLine>,
    /// Directions of which none set.
    pub zero: Vec<ZeroLine>,
    /// Pollinations of whose flowers nobody spoke.
    pub silent: Vec<SilentLine>,
    #[serde(skip)]
    weekly: bool,
}

impl SetRateAnswer {
    /// The answer.
    #[must_use]
    pub fn new(sets: &Sets) -> Self {
        Self {
            by: sets.by.word(),
            total: (&sets.total).into(),
            groups: sets.groups.iter().map(SetLine::from).collect(),
            zero: sets.zero.iter().map(ZeroLine::from).collect(),
            silent: sets
                .silent
                .iter()
                .map(|(flowers, harvested)| SilentLine {
                    cross: flowers.cross.clone(),
                    day: flowers.day.map(|day| day.to_string()),
                    flowers: flowers.open,
                    harvested: *harvested,
                })
                .collect(),
            weekly: sets.by == SetBy::Week,
        }
    }

    fn headline(&self) -> String {
        let SetLine {
            pods,
            flowers,
            open,
            wilson,
            share: set,
            ..
        } = &self.total;
        let Some(set) = set else {
            return "Nobody has said yet what became of the flowers.".to_owned();
        };
        let [low, high] = wilson.map(share);
        let low = low.trim_end_matches(" %");
        let open = match open {
            0 => String::new(),
            n => format!(
                " Of {} more nobody has said.",
                several(*n, "flower", "flowers")
            ),
        };
        format!(
            "{pods} of {} set, {} ({low} to {high}).{open}",
            several(*flowers, "flower", "flowers"),
            share(*set)
        )
    }

    fn table(&self, page: Page) -> String {
        let heading = match self.by {
            "week" => "pollinated in the",
            "technique" => "how they were treated",
            other => other,
        };
        let mut table = Table::new(&[
            heading,
            ">flowers",
            ">pods",
            ">share",
            ">95 % interval",
            ">not said",
        ]);
        for line in &self.groups {
            let [low, high] = line.wilson.map(share);
            let low = low.trim_end_matches(" %");
            table.row([
                line.group.clone(),
                line.flowers.to_string(),
                line.pods.to_string(),
                line.share.map_or_else(|| "-".to_owned(), share),
                if line.flowers > 0 {
                    format!("{low} to {high}")
                } else {
                    "-".to_owned()
                },
                line.open.to_string(),
            ]);
        }
        table.text(page)
    }

    fn silent_words(&self) -> Vec<String> {
        let one = |line: &SilentLine| {
            let day = line
                .day
                .as_ref()
                .map_or_else(|| "unknown".to_owned(), Clone::clone);
            let pods = line.harvested;
            let (said, dropped) = match line.flowers {
                Some(n) if pods > 0 && n >= pods => (
                    format!("{} pods were harvested of {n} flowers", pods),
                    format!(" --pods {pods} --dropped {}", n - pods),
                ),
                Some(n) => (
                    several(n, "flower", "flowers"),
                    " --pods 1 --dropped 1".to_owned(),
                ),
                None => (
                    "some flowers".to_owned(),
                    " --pods 1 --dropped 1".to_owned(),
                ),
            };
            format!(
                "{} of {day}, {said}: 'locule set {}{dropped}' says what became of them.",
                line.cross, line.cross
            )
        };
        let mut lines: Vec<String> = self.silent.iter().take(MOST_SILENT).map(one).collect();
        if self.silent.len() > MOST_SILENT {
            lines.push(format!("And {} more.", self.silent.len() - MOST_SILENT));
        }
        lines
    }
}

/// Most pollinations that are named to be filled in.
const MOST_SILENT: usize = 5;

impl Answer for SetRateAnswer {
    fn words(&self, page: Page) -> String {
        let mut parts = vec![wrapped(&self.headline(), page.width, "  ")];
        if self.total.share.is_some() {
            parts.push(self.table(page));
        }
        let mut say = |lines: Vec<String>| parts.extend(one_under_another(&lines, page.width));
        if !self.zero.is_empty() {
            say(vec![WEATHER_FIRST.to_owned()]);
        }
        for zero in &self.zero {
            say(zero.words());
        }
        say(self.silent_words());
        if self.weekly && self.total.share.is_some() {
            say(vec![
                "Set fails where nights stay above 30 °C, and days of 24 °C with nights of 12 °C cut pollen and seed \
                 (AVRDC 06-667; Mercado 1997): a bad week is the weather's before it is the cross's."
                    .to_owned(),
            ]);
        }
        parts.join("\n\n")
    }
}
