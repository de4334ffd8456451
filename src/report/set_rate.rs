//! How many flowers set, in words, tables and JSON, and what it proves where none did.

use serde::Serialize;

use super::mishaps::technique_word;
use super::numbers::{several, share};
use super::set_rate_words::WEATHER_FIRST;
use super::set_rate_zero::ZeroLine;
use super::table::Table;
use super::text::{capital, one_under_another, wrapped};
use super::{Answer, Page};
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

impl SetLine {
    /// Its row of the table.
    fn row(&self) -> [String; 6] {
        let [low, high] = self.wilson.map(share);
        let interval = format!("{} to {high}", low.trim_end_matches(" %"));
        let of_known = |text: String| {
            if self.flowers > 0 {
                text
            } else {
                "-".to_owned()
            }
        };
        [
            self.group.clone(),
            self.flowers.to_string(),
            self.pods.to_string(),
            self.share.map_or_else(|| "-".to_owned(), share),
            of_known(interval),
            self.open.to_string(),
        ]
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
    grouped: SetBy,
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
            grouped: sets.by,
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
        table.wrap_first(NUMBERS);
        (1..6).for_each(|column| table.never_wrap(column));
        for line in &self.groups {
            table.row(line.row());
        }
        table.text(page)
    }

    /// Of what a bad week speaks; the weather itself is said above where a direction set nothing.
    fn bad_weeks(&self) -> String {
        let blame = "a bad week is the weather's before it is the cross's.";
        if !self.zero.is_empty() {
            return capital(blame);
        }
        format!(
            "Set fails where nights stay above 30 °C, and days of 24 °C with nights of 12 °C cut pollen and seed \
             (AVRDC 06-667; Mercado 1997): {blame}"
        )
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

/// How much of the page the columns of numbers take; the names are wrapped into the rest.
const NUMBERS: usize = 54;

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
        if matches!(self.grouped, SetBy::Direction | SetBy::Cross) {
            self.zero.iter().for_each(|zero| say(zero.words()));
        } else if !self.zero.is_empty() {
            let each = self.zero.iter().map(ZeroLine::headline);
            let why = "Why, for each: 'locule set-rate' without --by.".to_owned();
            say(each.chain([why]).collect());
        }
        say(self.silent_words());
        if self.grouped == SetBy::Week && self.total.share.is_some() {
            say(vec![self.bad_weeks()]);
        }
        parts.join("\n\n")
    }
}
