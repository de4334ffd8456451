//! When to sow and to cross, in words and JSON: the days first, by species, what they rest on below.

use serde::{Serialize, Serializer};

use super::numbers::several;
use super::table::Table;
use super::text::{listed, rests_on, wrapped};
use super::{Answer, Page};
use crate::planning::calendar::{Between, GenerationDays, Pace, Span, SpanFrom};
use crate::records::day::Day;

/// A stretch of days and where it comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SpanLine {
    /// The fewest days.
    pub fewest: i64,
    /// The most.
    pub most: i64,
    /// `practice`, `beliefs`, `stated`, `own`, or `sum` of others.
    pub from: &'static str,
    /// How many own records; nothing where it is not from them.
    pub records: Option<usize>,
}

impl From<Span> for SpanLine {
    fn from(span: Span) -> Self {
        let (from, records) = match span.from {
            SpanFrom::Practice => ("practice", None),
            SpanFrom::Beliefs => ("beliefs", None),
            SpanFrom::Typed => ("stated", None),
            SpanFrom::Own(records) => ("own", Some(records)),
            SpanFrom::Sum => ("sum", None),
        };
        Self {
            fewest: span.fewest,
            most: span.most,
            from,
            records,
        }
    }
}

impl SpanLine {
    fn days(&self) -> String {
        if self.fewest == self.most {
            return several(self.most.unsigned_abs(), "day", "days");
        }
        format!("{} to {} days", self.fewest, self.most)
    }

    /// Where it comes from, in words.
    fn whence(&self) -> String {
        match (self.from, self.records) {
            ("own", Some(n)) => {
                format!("by {} of your own", several(n as u64, "record", "records"))
            }
            ("stated", _) => "as stated".to_owned(),
            ("beliefs", _) => "by the starting beliefs".to_owned(),
            ("sum", _) => "emergence and then common practice".to_owned(),
            _ => "common practice".to_owned(),
        }
    }
}

/// One of a species' spans.
type SpanOf<'a> = &'a dyn Fn(&SpeciesLine) -> &SpanLine;

/// A day as `2026-11-01`.
fn iso<S: Serializer>(day: &Day, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(day)
}

/// The same, null where there is none.
fn iso_maybe<S: Serializer>(day: &Option<Day>, to: S) -> Result<S::Ok, S::Error> {
    match day {
        Some(day) => to.collect_str(day),
        None => to.serialize_none(),
    }
}

/// Two days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct DaysLine {
    /// Working back the day by which it is safe; working on the earliest.
    #[serde(serialize_with = "iso")]
    pub from: Day,
    /// Working back the last day that may do; working on the latest.
    #[serde(serialize_with = "iso")]
    pub until: Day,
}

impl From<Between> for DaysLine {
    fn from(between: Between) -> Self {
        Self {
            from: between.from,
            until: between.until,
        }
    }
}

/// The days of a generation.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct GenerationLine {
    /// What is grown: `parents`, `F1`, `F2`.
    pub grown: String,
    /// Sown.
    pub sow: DaysLine,
    /// Up.
    pub up: DaysLine,
    /// Crossed or selfed.
    pub cross: DaysLine,
    /// The pod ripe.
    pub ripe: DaysLine,
    /// Its seed dry.
    pub dry: DaysLine,
}

/// A species.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SpeciesLine {
    /// Its word.
    pub species: String,
    /// Until seed is up.
    pub to_up: SpanLine,
    /// From sowing until the first flower.
    pub to_flower: SpanLine,
    /// From pollination until seed is ripe.
    pub to_ripe: SpanLine,
    /// Until it is dry.
    pub drying: SpanLine,
    /// Generation by generation.
    pub generations: Vec<GenerationLine>,
    /// `no`, `safe-day` where the safe day of sowing is past, `both` where the last is, too; nothing working on.
    pub past: Option<&'static str>,
    /// Working back, when the last seed would be dry of what is sown today.
    pub sown_today: Option<DaysLine>,
}

/// What the calendar is made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// Seed dry on a day.
    RipeSeed(Day),
    /// Sown on a day.
    Sow(Day),
}

/// The answer of `plan calendar`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CalendarAnswer {
    /// The day on which the last seed is to be ripe and dry.
    #[serde(serialize_with = "iso_maybe")]
    pub ripe_seed: Option<Day>,
    /// The day of the first sowing.
    #[serde(serialize_with = "iso_maybe")]
    pub sow: Option<Day>,
    /// Where that day was named without a year and is past in this one, so that a later year's is taken: that of this.
    #[serde(serialize_with = "iso_maybe")]
    pub same_day_this_year: Option<Day>,
    /// The day on which it is asked.
    #[serde(serialize_with = "iso")]
    pub on: Day,
    /// Species by species.
    pub species: Vec<SpeciesLine>,
}

impl CalendarAnswer {
    /// The answer for some species with their paces.
    #[must_use]
    pub fn new(
        goal: Goal,
        on: Day,
        species: Vec<(String, Pace)>,
        days: &dyn Fn(&Pace) -> Vec<GenerationDays>,
        today: &dyn Fn(&Pace) -> Vec<GenerationDays>,
    ) -> Self {
        let line = |(species, pace): (String, Pace)| {
            let found = days(&pace);
            let first = found.first().map(|first| first.sow);
            let is_back = matches!(goal, Goal::RipeSeed(_));
            let past = first.filter(|_| is_back).map(|sow| match () {
                () if sow.until < on => "both",
                () if sow.from < on => "safe-day",
                () => "no",
            });
            let last = today(&pace).last().map(|last| last.dry.into());
            SpeciesLine {
                species,
                to_up: pace.up.into(),
                to_flower: pace.flower.into(),
                to_ripe: pace.ripe.into(),
                drying: pace.dry.into(),
                generations: lines(&found),
                past,
                sown_today: last.filter(|_| is_back),
            }
        };
        let mut species: Vec<SpeciesLine> = species.into_iter().map(line).collect();
        // What has to be sown first stands first.
        species.sort_by_key(|line| line.generations.first().map(|first| first.sow.from));
        Self {
            ripe_seed: match goal {
                Goal::RipeSeed(day) => Some(day),
                Goal::Sow(_) => None,
            },
            sow: match goal {
                Goal::Sow(day) => Some(day),
                Goal::RipeSeed(_) => None,
            },
            same_day_this_year: None,
            on,
            species,
        }
    }

    /// A day as it is spoken, with the year where that is not the one of the day asked on.
    fn spoken(&self, day: Day) -> String {
        if day.year() == self.on.year() {
            day.spoken()
        } else {
            format!("{} {}", day.spoken(), day.year())
        }
    }

    fn headline(&self) -> String {
        let mut each = Vec::new();
        for line in &self.species {
            let (Some(first), Some(last)) = (line.generations.first(), line.generations.last())
            else {
                continue;
            };
            let species = &line.species;
            each.push(match self.ripe_seed {
                Some(_) => match line.past {
                    Some("both") if first.cross.until >= self.on => format!(
                        "too late to sow {species}, but plants that stand already may be crossed until {}",
                        self.spoken(first.cross.until)
                    ),
                    Some("both") => format!("too late for {species}"),
                    Some("safe-day") => format!(
                        "sow {species} at once, {} at the latest",
                        self.spoken(first.sow.until)
                    ),
                    _ => format!("sow {species} by {}", self.spoken(first.sow.from)),
                },
                None => format!(
                    "{species} between {} and {}",
                    self.spoken(last.dry.from),
                    self.spoken(last.dry.until)
                ),
            });
        }
        let all = each.join(", ");
        match (self.ripe_seed, self.sow) {
            (Some(day), _) => {
                let seed = self.seed_word();
                let late = if day < self.on {
                    ", a day already past"
                } else {
                    ""
                };
                format!("For {seed} dry on {}{late}: {all}.", self.spoken(day))
            }
            (_, Some(day)) => {
                let seed = self.seed_word();
                format!("Sown on {}, {seed} is dry: {all}.", self.spoken(day))
            }
            _ => String::new(),
        }
    }

    fn seed_word(&self) -> String {
        let generations = self
            .species
            .first()
            .map_or(1, |line| line.generations.len());
        format!("F{generations} seed")
    }

    fn table(&self, page: Page) -> String {
        let is_back = self.ripe_seed.is_some();
        let headings = match is_back {
            true => [
                "species", "grown", "sow by", "last day", "cross by", "last day",
            ],
            false => ["species", "grown", "if all goes", "up", "cross", "dry"],
        };
        let mut table = Table::new(&headings);
        for line in &self.species {
            for (at, days) in line.generations.iter().enumerate() {
                let species = if at == 0 { line.species.as_str() } else { "" };
                let (sow, up, cross, dry) = (days.sow, days.up, days.cross, days.dry);
                let grown = days.grown.as_str();
                if is_back {
                    let cells = [sow.from, sow.until, cross.from, cross.until];
                    let cells = cells.map(|day| self.marked(day));
                    let named = [species, grown].map(str::to_owned);
                    table.row(named.into_iter().chain(cells));
                } else {
                    let cells = [up.from, cross.from, dry.from].map(|day| day.to_string());
                    let named = [species, grown, "fast"].map(str::to_owned);
                    table.row(named.into_iter().chain(cells));
                    let cells = [up.until, cross.until, dry.until].map(|day| day.to_string());
                    let named = ["", "", "slowly"].map(str::to_owned);
                    table.row(named.into_iter().chain(cells));
                }
            }
            if let Some(remark) = self.past_remark(line) {
                table.remark(&remark);
            }
        }
        table.text(page)
    }

    /// A day, with a mark where it is past.
    fn marked(&self, day: Day) -> String {
        let past = if day < self.on { " (past)" } else { "" };
        format!("{day}{past}")
    }

    fn past_remark(&self, line: &SpeciesLine) -> Option<String> {
        let dry = line.sown_today?;
        let when = format!(
            "sown on {} its seed is dry between {} and {}",
            self.spoken(self.on),
            self.spoken(dry.from),
            self.spoken(dry.until)
        );
        match line.past? {
            "both" => Some(format!("already past, even if all goes fast: {when}")),
            "safe-day" => Some(format!("already past if all goes slowly: {when}")),
            _ => None,
        }
    }

    /// Which year was taken where none was named.
    fn year_taken(&self) -> Option<String> {
        let last = self.same_day_this_year?;
        let (flag, day) = match self.ripe_seed {
            Some(day) => ("--ripe-seed", day),
            None => ("--sow", self.sow?),
        };
        Some(format!(
            "no year was named: {} is the next one, for the last is past; that is {flag} {last}",
            self.spoken(day)
        ))
    }

    fn assumptions(&self) -> Vec<String> {
        let mut said: Vec<String> = self.year_taken().into_iter().collect();
        let all: [(&str, SpanOf<'_>); 4] = [
            ("sowing to up", &|line| &line.to_up),
            ("sowing to first flower", &|line| &line.to_flower),
            ("pollination to ripe seed", &|line| &line.to_ripe),
            ("cleaning and drying", &|line| &line.drying),
        ];
        for (what, of) in all {
            let mut told: Vec<(String, Vec<&str>)> = Vec::new();
            for line in &self.species {
                let span = of(line);
                let text = format!("{}, {}", span.days(), span.whence());
                match told.iter_mut().find(|(known, _)| *known == text) {
                    Some((_, species)) => species.push(&line.species),
                    None => told.push((text, vec![&line.species])),
                }
            }
            let is_one = told.len() == 1;
            let each = told.iter().map(|(text, species)| match is_one {
                true => text.clone(),
                false => format!("{} {text}", listed(species, "and")),
            });
            said.push(format!("{what}: {}", each.collect::<Vec<_>>().join("; ")));
        }
        said.push(
            "common practice has no published source; state your own with --to-up, --to-flower, --to-ripe, --drying"
                .to_owned(),
        );
        match self.ripe_seed {
            Some(_) => said.push(
                "by: in time even if everything takes the most days; last day: only if everything takes the fewest"
                    .to_owned(),
            ),
            None => said.push(
                "from the day if everything takes the fewest days to that if everything takes the most"
                    .to_owned(),
            ),
        }
        let generations = self
            .species
            .first()
            .map_or(1, |line| line.generations.len());
        if generations > 1 {
            said.push(
                "each generation is sown as soon as its seed is dry; fresh seed may sleep some weeks longer"
                    .to_owned(),
            );
        }
        said.push("warmth and light are good enough all the while".to_owned());
        said
    }
}

fn lines(found: &[GenerationDays]) -> Vec<GenerationLine> {
    let line = |(at, days): (usize, &GenerationDays)| GenerationLine {
        grown: match at {
            0 => "parents".to_owned(),
            n => format!("F{n}"),
        },
        sow: days.sow.into(),
        up: days.up.into(),
        cross: days.cross.into(),
        ripe: days.ripe.into(),
        dry: days.dry.into(),
    };
    found.iter().enumerate().map(line).collect()
}

impl Answer for CalendarAnswer {
    fn words(&self, page: Page) -> String {
        let head = wrapped(&self.headline(), page.width, "");
        let table = self.table(page);
        format!(
            "{head}\n\n{table}\n\n{}",
            rests_on(&self.assumptions(), page.width)
        )
    }
}
