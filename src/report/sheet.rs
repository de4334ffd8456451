//! The cull and keep list, to be printed: on paper, as Markdown, as JSON.
//!
//! On paper a page is 80 columns by 60 lines, which A4 and Letter both hold; what belongs together is not
//! torn apart unless it is longer than a page.

use serde::Serialize;

use super::paper::{Block, PAGE_COLUMNS, beside_each_other, escaped, on_paper};
use super::reasons::{changed_words, comes_first, culling_words, legend, note_words};
use super::suspects::{Line, heading, lines_of, what_would_settle};
use super::text::{shown, wrapped};
use super::{Answer, Page};
use crate::diagnosis::answer::{BatchAnswer, EvidenceNote, Suspects, Verdict};

/// Most tick boxes of one look; more are a number.
const MOST_BOXES: usize = 12;

/// How the sheet is to be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Style {
    /// For paper and terminal.
    Plain,
    /// Markdown.
    Markdown,
}

/// One line of the list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SheetLine {
    /// Which seedlings, or which look of which cell or tray.
    pub whom: String,
    /// How many.
    pub count: i64,
    /// The newest readings.
    pub looks: String,
    /// The chance of being off-type, in words.
    pub off_type: String,
    /// The same as a number, of the likeliest of them.
    pub p_off: f64,
    /// Why, and what would make a cull none.
    pub why: String,
    /// What would make a cull none, alone.
    pub unless: Option<String>,
    #[serde(skip)]
    boxes: Vec<String>,
    #[serde(skip)]
    kept: bool,
}

/// What is to be done with some seedlings of a tray.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// The verdict.
    pub verdict: &'static str,
    /// Until when, for those to wait for.
    pub look_again: Option<String>,
    /// The lines.
    pub lines: Vec<SheetLine>,
}

/// One tray of the list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tray {
    /// Its code.
    pub tray: String,
    /// Tray, cross, sowing, how many were scored.
    pub heading: String,
    /// What must be said before anything is culled.
    pub cautions: Vec<String>,
    /// The groups: cull, wait until each date, keep, unproven, undecided.
    pub groups: Vec<Group>,
    /// Living seedlings that were not scored.
    pub unscored: i64,
    /// The places of those that can be named.
    pub not_scored: Vec<String>,
    /// What would settle the undecided ones.
    pub to_settle: Vec<String>,
    /// Expected true seedlings among the culls.
    pub true_lost_by_culling: f64,
    /// Expected off-types among the rest.
    pub off_left_by_keeping: f64,
    /// Whether nothing stands there.
    #[serde(skip)]
    is_bare: bool,
}

/// The cull and keep list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sheet {
    /// The day.
    pub today: String,
    /// The fingerprint of the ledger.
    pub fingerprint: String,
    /// Tray by tray.
    pub trays: Vec<Tray>,
    /// What the verdicts on it mean, and which beliefs are not the usual ones.
    pub legend: Vec<String>,
    #[serde(skip)]
    style: Style,
}

impl Sheet {
    /// The list of a diagnosis.
    #[must_use]
    pub fn new(suspects: &Suspects, fingerprint: String, style: Style) -> Self {
        let mut legend = legend(&suspects.batches);
        legend.extend(changed_words(&suspects.changed_beliefs));
        Self {
            legend,
            today: suspects.today.to_string(),
            fingerprint,
            trays: suspects.batches.iter().map(tray).collect(),
            style,
        }
    }

    fn foot(&self) -> String {
        format!("ledger {}, {}", self.fingerprint, self.today)
    }
}

/// Whether a remark belongs on the sheet: what must be read before anything is pulled, and records that cannot be right of
/// the light, of a parent, or of a seedling that stands there or is said to be gone.
fn belongs_on_paper(note: &EvidenceNote, batch: &BatchAnswer) -> bool {
    let (mother, father) = &batch.label;
    let is_listed = |name: &String| {
        let mut seedlings = batch.seedlings.iter();
        seedlings.any(|one| one.seedling.as_ref() == Some(name)) || name == mother || name == father
    };
    match note {
        EvidenceNote::TakenAsIndependent { .. }
        | EvidenceNote::NoControl { .. }
        | EvidenceNote::RemovedUnseen { .. }
        | EvidenceNote::ReadWhenGone { .. } => true,
        EvidenceNote::ReadTwice { whose, .. } => whose.iter().any(is_listed),
        note => comes_first(note),
    }
}

fn tray(batch: &BatchAnswer) -> Tray {
    let cautions = batch
        .notes
        .iter()
        .filter(|note| belongs_on_paper(note, batch))
        .map(note_words);
    let mut groups: Vec<Group> = Vec::new();
    for line in lines_of(batch) {
        let look_again = line.look_again.map(|day| day.to_string());
        let verdict = line.word();
        let line = sheet_line(batch, line);
        match groups
            .iter_mut()
            .find(|g| g.verdict == verdict && g.look_again == look_again)
        {
            Some(group) => group.lines.push(line),
            None => groups.push(Group {
                verdict,
                look_again,
                lines: vec![line],
            }),
        }
    }
    Tray {
        tray: batch.tray.clone(),
        heading: heading(batch),
        cautions: cautions.collect(),
        groups,
        unscored: batch.unscored,
        not_scored: batch.known_unscored.clone(),
        to_settle: what_would_settle(batch),
        is_bare: batch.n == 0 && batch.unscored == 0,
        // An empty sum may be a negative zero.
        true_lost_by_culling: batch.true_lost_by_culling + 0.0,
        off_left_by_keeping: batch.off_left_by_keeping + 0.0,
    }
}

fn sheet_line(batch: &BatchAnswer, line: Line) -> SheetLine {
    let class = |count: i64, place: String| {
        let ticks = match usize::try_from(count) {
            Ok(few @ 1..=MOST_BOXES) => "[ ]".repeat(few),
            _ => format!("{count} x [ ]"),
        };
        format!("{ticks} {} in {place}", line.looks)
    };
    let boxes = line
        .members
        .iter()
        .map(|(name, cell, count)| match (name, cell) {
            (Some(name), _) if line.kept => name.clone(),
            (Some(name), _) => format!("[ ] {name}"),
            (None, Some(cell)) => class(*count, format!("{}-{cell:02}", batch.tray)),
            (None, None) => class(*count, batch.tray.clone()),
        })
        .collect();
    SheetLine {
        whom: line.whom,
        count: line.count,
        looks: line.looks,
        off_type: line.p_off,
        p_off: line.chance,
        why: line.why,
        unless: line.unless,
        kept: line.kept,
        boxes,
    }
}

impl Group {
    fn title(&self) -> String {
        match &self.look_again {
            Some(day) => format!("{} until {day}", self.verdict),
            None => self.verdict.to_owned(),
        }
    }
}

impl Tray {
    fn summary(&self) -> Vec<String> {
        let mut said = self.to_settle.clone();
        let nameless = self.unscored - i64::try_from(self.not_scored.len()).unwrap_or(0);
        if nameless > 0 {
            let more = if self.not_scored.is_empty() {
                ""
            } else {
                " more"
            };
            said.push(format!("{nameless}{more} not scored yet."));
        }
        if self.is_bare {
            said.push("Nothing that was counted stands here.".to_owned());
        }
        if self
            .groups
            .iter()
            .any(|group| group.verdict == Verdict::Cull.word())
        {
            said.push(culling_words(
                self.true_lost_by_culling,
                self.off_left_by_keeping,
            ));
        }
        said
    }

    /// The tray as blocks of lines that belong together.
    fn blocks(&self, width: usize) -> Vec<Block> {
        let lines = |text: String| text.lines().map(str::to_owned).collect::<Vec<_>>();
        let mut head = lines(wrapped(&shown(&self.heading), width, "  "));
        for caution in &self.cautions {
            head.extend(lines(wrapped(&format!("  {caution}"), width, "")));
        }
        let mut blocks = vec![];
        let goes_on = format!("{}, continued", self.tray);
        for group in &self.groups {
            let title = group.title().to_uppercase();
            let mut lines = vec![String::new(), format!("  {title}")];
            for (at, line) in group.lines.iter().enumerate() {
                let next = group.lines.get(at + 1);
                lines.extend(line.block(width, next.is_none_or(|next| next.why != line.why)));
                let goes_on = match at {
                    0 => goes_on.clone(),
                    _ => format!("{goes_on}: {title}"),
                };
                blocks.push(Block::new(goes_on, std::mem::take(&mut lines)));
            }
        }
        if !self.not_scored.is_empty() {
            let mut block = vec![String::new(), "  NOT SCORED".to_owned()];
            let boxes: Vec<String> = self
                .not_scored
                .iter()
                .map(|name| format!("[ ] {name}"))
                .collect();
            block.extend(beside_each_other(&boxes, width));
            blocks.push(Block::new(goes_on.clone(), block));
        }
        let said = self.summary();
        if !said.is_empty() {
            let mut block = vec![String::new()];
            block.extend(
                said.iter()
                    .flat_map(|text| lines(wrapped(&format!("  {text}"), width, ""))),
            );
            blocks.push(Block::new(goes_on, block));
        }
        if let Some(first) = blocks.first_mut() {
            head.append(&mut first.lines);
            *first = Block::new(String::new(), head);
        }
        blocks
    }
}

impl SheetLine {
    fn block(&self, width: usize, with_reason: bool) -> Vec<String> {
        let mut lines = beside_each_other(&self.boxes, width);
        // A tallied look stands beside its tick boxes already.
        let looks = if self.boxes.iter().all(|tick| tick.contains(&self.looks)) {
            String::new()
        } else {
            format!("{}; ", self.looks)
        };
        let why = if with_reason { self.why.as_str() } else { "" };
        let reason = format!("      {looks}off-type {}. {why}", self.off_type);
        lines.extend(
            wrapped(&shown(&reason), width, "")
                .lines()
                .map(str::to_owned),
        );
        lines
    }
}

impl Sheet {
    fn plain(&self, width: usize) -> String {
        let width = width.min(PAGE_COLUMNS);
        let mut blocks = Vec::new();
        for (at, tray) in self.trays.iter().enumerate() {
            let mut of_tray = tray.blocks(width);
            if at > 0 {
                of_tray[0]
                    .lines
                    .splice(0..0, [String::new(), String::new()]);
            }
            blocks.extend(of_tray);
        }
        let legend = self.legend.iter().flat_map(|line| {
            let line = wrapped(&format!("  {line}"), width, "  ");
            line.lines().map(str::to_owned).collect::<Vec<_>>()
        });
        let legend = std::iter::repeat_n(String::new(), 2)
            .chain(legend)
            .collect();
        blocks.push(Block::new(String::new(), legend));
        on_paper(
            "Cull and keep list",
            &self.today,
            &self.foot(),
            blocks,
            width,
        )
    }

    fn markdown(&self) -> String {
        let mut out = format!("# Cull and keep list, {}\n", self.today);
        for tray in &self.trays {
            out.push_str(&format!("\n## {}\n", escaped(&tray.heading)));
            for caution in &tray.cautions {
                out.push_str(&format!("\n{}\n", escaped(caution)));
            }
            for group in &tray.groups {
                out.push_str(&format!("\n### {}\n\n", group.title()));
                for line in &group.lines {
                    out.push_str(&format!(
                        "- {}{}: {}; off-type {}. {}\n",
                        if line.kept { "" } else { "[ ] " },
                        escaped(&line.whom),
                        escaped(&line.looks),
                        line.off_type,
                        escaped(&line.why)
                    ));
                }
            }
            if !tray.not_scored.is_empty() {
                out.push_str("\n### not scored\n\n");
                for name in &tray.not_scored {
                    out.push_str(&format!("- [ ] {}\n", escaped(name)));
                }
            }
            for said in tray.summary() {
                out.push_str(&format!("\n{said}\n"));
            }
        }
        if !self.legend.is_empty() {
            out.push('\n');
        }
        for line in &self.legend {
            out.push_str(&format!("- {}\n", escaped(line)));
        }
        format!("{out}\n{}", self.foot())
    }
}

impl Answer for Sheet {
    fn words(&self, page: Page) -> String {
        match (self.style, self.trays.is_empty()) {
            (_, true) => format!("Nothing was sown yet.\n{}", self.foot()),
            (Style::Plain, _) => self.plain(page.width),
            (Style::Markdown, _) => self.markdown(),
        }
    }
}
