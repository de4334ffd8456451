//! How many seeds to sow, in words and JSON: the number first, what it rests on below.

use serde::Serialize;

use super::numbers::{percent, several};
use super::plan_beside::{ByTrayLine, EverythingLine, F1Line, WORTH_SAYING, seeds_word};
use super::plan_known::{BY_EVERYTHING, KnownLine, more_is_known};
use super::plan_sowing::{GerminationLine, OffLine};
use super::table::Table;
use super::text::{listed, rests_on, shown, wrapped};
use super::{Answer, Page};
use crate::planning::next_year::NextYear;
use crate::planning::seeds::{CONFIDENCES, Row};
use crate::planning::targets::Share;

/// One kind of plant wanted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TargetLine {
    /// What it is called; nothing where only a chance was given.
    pub name: Option<String>,
    /// How many.
    pub want: u64,
    /// The share of true seed.
    pub p: f64,
    /// The same as a fraction in lowest terms, where it is known exactly.
    pub fraction: Option<String>,
    /// The least and the most that it may be, where that is open.
    pub p_range: Option<[f64; 2]>,
}

impl TargetLine {
    /// A target with its share.
    #[must_use]
    pub fn new(name: Option<String>, want: u64, share: Share) -> Self {
        Self {
            name,
            want,
            p: share.p,
            fraction: share.fraction.map(|(n, of)| match of {
                1 => n.to_string(),
                _ => format!("{n}/{of}"),
            }),
            p_range: None,
        }
    }

    /// The same with what the share may be, one way or another.
    #[must_use]
    pub fn ranging(self, each: impl Iterator<Item = f64>) -> Self {
        let (least, most) = each.fold((f64::INFINITY, 0.0_f64), |(least, most), p| {
            (least.min(p), most.max(p))
        });
        Self {
            p_range: (most > least + 1e-9).then_some([least, most]),
            ..self
        }
    }

    fn share(&self) -> String {
        match (self.fraction.as_deref(), self.p_range) {
            (_, Some([least, most])) => format!(
                "{} of true seed on average, {} to {} by what is open of the parents",
                percent(self.p),
                percent(least),
                percent(most)
            ),
            (Some("1"), None) => "all true seed".to_owned(),
            (Some(fraction), None) => format!("{fraction} of true seed ({})", percent(self.p)),
            (None, None) => format!("{} of true seed", percent(self.p)),
        }
    }

    fn called(&self) -> String {
        self.name
            .as_deref()
            .map_or_else(|| "of the kind wanted".to_owned(), shown)
    }

    fn counted(&self) -> String {
        format!("{} {}", self.want, self.called())
    }
}

/// A row of the table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RowLine {
    /// How many are wanted.
    pub want: u64,
    /// Seeds for 90 %.
    pub seeds_for_90: Option<u64>,
    /// Seeds for 95 %.
    pub seeds_for_95: Option<u64>,
    /// Seeds for 99 %.
    pub seeds_for_99: Option<u64>,
}

impl From<Row> for RowLine {
    fn from(row: Row) -> Self {
        let [seeds_for_90, seeds_for_95, seeds_for_99] = row.seeds;
        Self {
            want: row.want,
            seeds_for_90,
            seeds_for_95,
            seeds_for_99,
        }
    }
}

/// The two stages.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StagesLine {
    /// The early look; nothing where only its share was given.
    pub marker: Option<String>,
    /// The share of true seedlings that show it.
    pub pass_share: f64,
    /// Pots there are, where that was said.
    pub pots_there: Option<u64>,
    /// Seedlings that pass, on average; nothing where the pots are too few.
    pub pass: Option<f64>,
    /// Pots that are enough with the confidence.
    pub pots: Option<u64>,
    /// Pots that would do, where there are too few.
    pub pots_needed: Option<u64>,
    /// The chance with every pot filled, where there are too few.
    pub chance_with_all_filled: Option<f64>,
}

/// Seed saved this year, found the next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NextYearLine {
    /// Seeds to sow this year.
    pub seeds: u64,
    /// Plants to pot and self.
    pub plants: u64,
    /// Seeds to sow of each next year.
    pub seeds_each: u64,
    /// Pots next year, on average.
    pub pots: f64,
    /// The chance, at least.
    pub probability: f64,
}

impl From<NextYear> for NextYearLine {
    fn from(plan: NextYear) -> Self {
        Self {
            seeds: plan.seeds,
            plants: plan.plants,
            seeds_each: plan.seeds_each,
            pots: plan.pots,
            probability: plan.chance,
        }
    }
}

/// The answer of `plan seeds`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeedsAnswer {
    /// Seeds to sow; nothing where the pots are too few for it this year.
    pub seeds: Option<u64>,
    /// The chance that enough are wanted.
    pub probability: Option<f64>,
    /// The confidence asked for.
    pub confidence: f64,
    /// Seeds of it in store, where that is recorded.
    pub in_store: Option<u64>,
    /// What is sown: `X1: A/a x a/a`.
    pub sown: Option<String>,
    /// The kinds wanted.
    pub targets: Vec<TargetLine>,
    /// How seed comes up.
    pub germination: GerminationLine,
    /// How much is not of the label.
    pub off_share: OffLine,
    /// Whether the parents were taken for what everything recorded says of them.
    pub believed: bool,
    /// What is not stated of a parent: `CW at A`.
    pub not_stated: Vec<String>,
    /// Of that what the ledger knows nevertheless.
    pub better_known: Vec<KnownLine>,
    /// Parents whose linked alleles may lie either way: `the mother at A and B`.
    pub phase_open: Vec<String>,
    /// Loci on one chromosome without a known distance, taken as independent.
    pub distance_open: Vec<String>,
    /// Seeds by confidence and number wanted.
    pub table: Vec<RowLine>,
    /// The two stages, where an early look was named.
    pub stages: Option<StagesLine>,
    /// Saving seed instead, where it can be worked out.
    pub next_year: Option<NextYearLine>,
    /// The same by everything recorded of the parents, where that is more than is stated.
    pub by_everything: Option<EverythingLine>,
    /// What the seeds do if off-types come tray by tray, where the ledger tells how.
    pub by_tray: Option<ByTrayLine>,
    /// F1 plants that are bred on and are not alike.
    pub f1_plants: Option<F1Line>,
}

impl SeedsAnswer {
    fn wanted(&self) -> String {
        let each: Vec<String> = self.targets.iter().map(TargetLine::counted).collect();
        match self.targets.as_slice() {
            [one] if one.want == 1 => format!("at least one is {}", one.called()),
            [one] => format!("at least {} are {}", one.want, one.called()),
            _ => format!("there are at least {}", listed(&each, "and")),
        }
    }

    fn marker(&self) -> String {
        let stages = self.stages.as_ref();
        let marker = stages.and_then(|stages| stages.marker.as_deref());
        marker.map_or_else(|| "the early look".to_owned(), shown)
    }

    /// `show green`, or `show the early look`.
    fn shows(&self) -> String {
        format!("show {}", self.marker())
    }

    fn headline(&self) -> String {
        let (Some(seeds), Some(p)) = (self.seeds, self.probability) else {
            return self.too_few_pots();
        };
        let chance = percent(p);
        let wanted = self.wanted();
        match &self.stages {
            None => format!(
                "Sow {}{}: {chance} that {wanted}.",
                self.sow(seeds),
                self.of_f1()
            ),
            Some(stages) => {
                let pass = stages.pass.unwrap_or(0.0).round();
                let pass = match stages.pots_there {
                    Some(there) if pass >= there as f64 => format!("the first {there} that"),
                    _ => format!("the {pass} or so that"),
                };
                format!(
                    "Sow {}, pot {pass} {}, judge those: {chance} that {wanted}.",
                    self.sow(seeds),
                    self.shows()
                )
            }
        }
    }

    /// `18 seeds`, with the number by everything recorded where that is another.
    fn sow(&self, seeds: u64) -> String {
        let known = "by all that the ledger knows of the parents";
        match &self.by_everything {
            Some(EverythingLine { seeds: None, .. }) => {
                format!("{} (no number does {known})", seeds_word(seeds))
            }
            Some(EverythingLine { seeds: Some(n), .. }) if *n != seeds => {
                format!("{}, or {n} {known}", seeds_word(seeds))
            }
            _ => seeds_word(seeds),
        }
    }

    /// ` of 3 F1 plants`, where their number was said.
    fn of_f1(&self) -> String {
        let plants = self.f1_plants.as_ref().and_then(|line| line.plants);
        plants.map_or_else(String::new, |n| {
            format!(" of {}", several(n, "F1 plant", "F1 plants"))
        })
    }

    fn tray_by_tray(&self) -> Option<String> {
        let (line, seeds) = (self.by_tray.as_ref()?, self.seeds?);
        let is_worth = self.probability? - line.probability >= WORTH_SAYING;
        is_worth.then(|| line.said(seeds, self.confidence, self.off_share.share))
    }

    fn too_few_pots(&self) -> String {
        let Some(stages) = &self.stages else {
            return "No number of seeds would do.".to_owned();
        };
        format!(
            "{} {} too few to find it this year: even with all of them filled it is {} that {}; {} would do.",
            several(stages.pots_there.unwrap_or(0), "pot", "pots"),
            if stages.pots_there == Some(1) {
                "is"
            } else {
                "are"
            },
            percent(stages.chance_with_all_filled.unwrap_or(0.0)),
            self.wanted(),
            stages
                .pots_needed
                .map_or_else(|| "no number".to_owned(), |n| n.to_string())
        )
    }

    /// That there is not so much seed.
    fn short_of_seed(&self) -> Option<String> {
        let needed = self
            .seeds
            .or(self.next_year.as_ref().map(|plan| plan.seeds))?;
        Some(match self.in_store.filter(|there| *there < needed)? {
            0 => "No seed of it is in store by what is recorded.".to_owned(),
            1 => "Only 1 seed of it is in store.".to_owned(),
            there => format!("Only {} of it are in store.", seeds_word(there)),
        })
    }

    fn saving(&self) -> Option<String> {
        let plan = self.next_year.as_ref()?;
        let begin = if self.seeds.is_some() {
            "Or save seed and find it next year:"
        } else {
            "Save seed and find it next year:"
        };
        Some(format!(
            "{begin} sow {}, pot {} that {}, self each, and next year sow {} of each and pot the {:.0} or so that pass: at least {}.",
            seeds_word(plan.seeds),
            plan.plants,
            self.shows(),
            seeds_word(plan.seeds_each),
            plan.pots,
            percent(plan.probability)
        ))
    }

    fn assumptions(&self) -> Vec<String> {
        let mut said = Vec::new();
        if let Some(sown) = &self.sown {
            said.push(format!("sown: {}", shown(sown)));
        }
        for target in &self.targets {
            said.push(format!("{}: {}", target.called(), target.share()));
        }
        said.extend(self.f1_plants.as_ref().map(F1Line::said));
        said.push(format!("comes up: {}", self.germination.said()));
        said.extend(self.germination.aged());
        said.extend(self.germination.left_out());
        said.push(format!("not of the label: {}", self.off_share.said()));
        said.extend(self.off_share.warned());
        if let Some(stages) = &self.stages {
            said.push(format!(
                "{}: {} of true seedlings, and as many of the others",
                self.shows(),
                percent(stages.pass_share)
            ));
            if let (Some(pots), None) = (stages.pots, stages.pots_there) {
                said.push(format!(
                    "pots: {pots} hold all that pass with {}",
                    percent(self.confidence)
                ));
            }
        }
        if self.believed {
            said.push(BY_EVERYTHING.to_owned());
        }
        if !self.not_stated.is_empty() {
            said.push(format!(
                "not stated: {}; whatever they may be there is weighed by the starting beliefs, for all seed together",
                listed(&self.not_stated, "and")
            ));
        }
        if !self.phase_open.is_empty() {
            said.push(format!(
                "which alleles lie together is not stated of {}; either way is as likely, the same for all seed",
                listed(&self.phase_open, "and")
            ));
        }
        if !self.distance_open.is_empty() {
            said.push(format!(
                "taken as independent, though on one chromosome: {}",
                listed(&self.distance_open, "and")
            ));
        }
        if self.next_year.is_some() {
            said.push(
                "next year: flowers are kept from strange pollen, and seed comes up as well"
                    .to_owned(),
            );
        }
        said
    }

    fn table(&self, page: Page) -> String {
        let headings: Vec<String> = CONFIDENCES
            .iter()
            .map(|c| format!(">{:.0} %", 100.0 * c))
            .collect();
        let mut headings: Vec<&str> = headings.iter().map(String::as_str).collect();
        headings.insert(0, "seeds for");
        let mut table = Table::new(&headings);
        for row in &self.table {
            let cell = |n: Option<u64>| n.map_or_else(|| "-".to_owned(), |n| n.to_string());
            let first = match self.targets.as_slice() {
                [_] => format!("{} wanted", row.want),
                _ => "all as wanted".to_owned(),
            };
            let seeds = [row.seeds_for_90, row.seeds_for_95, row.seeds_for_99].map(cell);
            table.row(std::iter::once(first).chain(seeds));
        }
        table.text(page)
    }
}

impl Answer for SeedsAnswer {
    fn words(&self, page: Page) -> String {
        let mut parts = vec![wrapped(&self.headline(), page.width, "")];
        if let Some(short) = self.short_of_seed() {
            parts.push(wrapped(&short, page.width, ""));
        }
        if let Some(trays) = self.tray_by_tray() {
            parts.push(wrapped(&trays, page.width, ""));
        }
        if let Some(saving) = self.saving() {
            parts.push(wrapped(&saving, page.width, ""));
        }
        if let Some(known) = more_is_known(&self.better_known) {
            parts.push(wrapped(&known, page.width, ""));
        }
        parts.push(rests_on(&self.assumptions(), page.width));
        if !self.table.is_empty() {
            parts.push(self.table(page));
        }
        parts.join("\n\n")
    }
}
