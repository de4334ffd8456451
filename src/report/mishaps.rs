//! How often something goes wrong, in words, tables and JSON.

use serde::Serialize;

use super::late_colour::Stored;
use super::numbers::{several, share};
use super::remarks::remark;
use super::table::Table;
use super::text::{one_under_another, wrapped};
use super::{Answer, Page};
use crate::diagnosis::mishaps::{
    Chance, Group, Grouping, KindShare, Mishaps, none_key, share_keys,
};
use crate::diagnosis::mishaps_batches::{Kind, LeftOut, Untold};
use crate::diagnosis::mishaps_spared::OffTypes;
use crate::diagnosis::sources::Technique;

/// Under this many trays the answer says that they are few (design choice).
const FEW: usize = 20;

/// A fitted probability.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FittedChance {
    /// The probability.
    pub value: f64,
    /// Its standard error.
    pub se: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl From<Chance> for FittedChance {
    fn from(chance: Chance) -> Self {
        let [low, high] = chance.interval;
        Self {
            value: chance.value,
            se: chance.se,
            low,
            high,
        }
    }
}

impl FittedChance {
    fn interval(&self) -> String {
        format!("{} to {}", share(self.low), share(self.high))
    }
}

/// Trays of one technique or tool.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupLine {
    /// The key of the starting belief; nothing by tool.
    pub key: Option<&'static str>,
    /// The tool and whether it was wiped; nothing by technique.
    pub tool: Option<String>,
    /// How many trays.
    pub trays: usize,
    /// How many seedlings.
    pub seedlings: i64,
    /// How many of the trays are expected to be wholly as labelled.
    pub clean: f64,
    /// The chance of that by default.
    pub default: f64,
    /// As in use.
    pub in_use: f64,
    /// As fitted.
    pub fitted: FittedChance,
    #[serde(skip)]
    technique: Option<Technique>,
}

impl From<&Group> for GroupLine {
    fn from(group: &Group) -> Self {
        Self {
            key: group.technique.map(none_key),
            tool: group.tool.clone(),
            trays: group.batches,
            seedlings: group.seedlings,
            clean: group.clean,
            default: group.default,
            in_use: group.in_use,
            fitted: group.none.into(),
            technique: group.technique,
        }
    }
}

impl GroupLine {
    fn name(&self) -> String {
        match (self.technique, &self.tool) {
            (Some(technique), _) => technique_word(technique).to_owned(),
            (None, Some(tool)) => tool.clone(),
            (None, None) => String::new(),
        }
    }
}

pub(super) const fn technique_word(technique: Technique) -> &'static str {
    match technique {
        Technique::NotEmasculated => "crosses, anthers left in",
        Technique::Emasculated => "crosses, anthers out",
        Technique::Covered => "crosses, anthers out, covered",
        Technique::SelfOpen => "selfs left open, packets",
        Technique::SelfCovered => "selfs, covered",
    }
}

/// The share of off-types that one kind of source brings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ShareLine {
    /// `self`, `pollen` or `seed`.
    pub kind: &'static str,
    /// The keys of its two numbers.
    pub keys: [&'static str; 2],
    /// How many trays are expected to have it.
    pub trays: f64,
    /// Beta(a, b) by default.
    pub default: [f64; 2],
    /// As in use.
    pub in_use: [f64; 2],
    /// As fitted.
    pub fitted: [f64; 2],
    /// The mean share as fitted.
    pub mean: FittedChance,
    #[serde(skip)]
    of: Kind,
}

impl From<&KindShare> for ShareLine {
    fn from(share: &KindShare) -> Self {
        Self {
            kind: match share.kind {
                Kind::Selfed => "self",
                Kind::Pollen => "pollen",
                Kind::Seed => "seed",
            },
            keys: share_keys(share.kind),
            trays: share.batches,
            default: share.default,
            in_use: share.in_use,
            fitted: share.beta,
            mean: share.mean.into(),
            of: share.kind,
        }
    }
}

/// Off-types expected per 100 seedlings of crosses.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OffTypesLine {
    /// As they were made.
    pub now: f64,
    /// Had every flower been emasculated and covered.
    pub all_covered: f64,
    /// Had every tool been wiped before every flower.
    pub all_wiped: f64,
    /// Both.
    pub both: f64,
    /// Trays of crosses that were not emasculated and covered.
    pub trays_not_covered: usize,
    /// Trays for which a tool came unwiped from another plant.
    pub trays_not_wiped: usize,
}

impl From<OffTypes> for OffTypesLine {
    fn from(off: OffTypes) -> Self {
        Self {
            now: off.now,
            all_covered: off.covered,
            all_wiped: off.wiped,
            both: off.both,
            trays_not_covered: off.not_covered,
            trays_not_wiped: off.not_wiped,
        }
    }
}

/// A tray that was left out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LeftOutLine {
    /// Its code.
    pub tray: String,
    /// Why: `too-large` or `unexplained`.
    pub why: &'static str,
}

impl From<&LeftOut> for LeftOutLine {
    fn from(out: &LeftOut) -> Self {
        Self {
            tray: out.tray.clone(),
            why: match out.why {
                Untold::TooLarge => "too-large",
                Untold::Unexplained => "unexplained",
            },
        }
    }
}

/// The answer of `mishaps`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MishapsAnswer {
    /// `technique` or `tool`.
    pub by: &'static str,
    /// How many trays it rests on.
    pub trays: usize,
    /// How many different pollinations they come from.
    pub pollinations: usize,
    /// How many different lots, as far as lots were named.
    pub lots: usize,
    /// How many of the trays come from a pollination.
    #[serde(skip)]
    pollinated: usize,
    /// How many of these could not have shown a mishap.
    pub blind: usize,
    /// Whether they are few.
    pub few: bool,
    /// Trays left out.
    pub left_out: Vec<LeftOutLine>,
    /// Traits of trays that are weighed without them, in sentences.
    pub traits_left_out: Vec<String>,
    /// The chance that a tray is wholly as labelled.
    pub none: Vec<GroupLine>,
    /// The share of off-types in a tray that has some.
    pub shares: Vec<ShareLine>,
    /// Off-types expected per 100 seedlings of crosses.
    pub off_types_per_100: Option<OffTypesLine>,
    /// What was stored, where it was asked for.
    pub stored: Option<Stored>,
}

impl MishapsAnswer {
    /// The answer.
    #[must_use]
    pub fn new(mishaps: &Mishaps, stored: Option<Stored>) -> Self {
        Self {
            by: match mishaps.grouping {
                Grouping::ByTechnique => "technique",
                Grouping::ByTool => "tool",
            },
            trays: mishaps.batches,
            pollinations: mishaps.origins.pollinations,
            lots: mishaps.origins.lots,
            pollinated: mishaps.origins.batches,
            blind: mishaps.blind,
            few: mishaps.batches < FEW,
            left_out: mishaps.left_out.iter().map(LeftOutLine::from).collect(),
            traits_left_out: mishaps.traits_left_out.iter().filter_map(remark).collect(),
            none: mishaps.groups.iter().map(GroupLine::from).collect(),
            shares: mishaps.shares.iter().map(ShareLine::from).collect(),
            off_types_per_100: mishaps.off_types.map(OffTypesLine::from),
            stored,
        }
    }

    fn headline(&self) -> String {
        let what = if self.by == "tool" {
            "trays of crosses"
        } else {
            "trays"
        };
        if self.trays == 0 {
            return format!(
                "Nothing to learn from yet: no {what} with seedlings scored. The starting beliefs stand \
                 ('locule assume')."
            );
        }
        let clean: f64 = self.none.iter().map(|line| line.clean).sum();
        let blind = match self.blind {
            0 => String::new(),
            n => format!(
                " {} of them could not have shown a self or a stray by what was scored, and teach nothing.",
                if n == self.trays {
                    "All".to_owned()
                } else {
                    n.to_string()
                }
            ),
        };
        let few = if self.few {
            " That is few: the starting beliefs, which count as ten trays of each row, still weigh heavily."
        } else {
            ""
        };
        let akin = self.akin();
        format!(
            "{} wholly as labelled, by what was scored: about {clean:.1} of {}.{akin}{blind}{few}",
            if self.trays == 1 { "Tray" } else { "Trays" },
            self.trays
        )
    }

    /// How many pollinations and lots the trays come from, where they share them.
    fn akin(&self) -> String {
        if self.pollinations >= self.pollinated {
            return String::new();
        }
        let lots = match self.lots {
            0 => String::new(),
            n => format!(" and {}", several(n as u64, "lot", "lots")),
        };
        format!(
            " They come from {}{lots}; each tray counts as a lesson of its own all the same, though what went wrong \
             at a flower is in all its seed, so all is less sure than it looks.",
            several(self.pollinations as u64, "pollination", "pollinations")
        )
    }

    fn none_table(&self, page: Page) -> String {
        let first = if self.by == "tool" {
            "tool"
        } else {
            "how it was made"
        };
        let mut table = Table::new(&[
            first,
            ">trays",
            ">clean, about",
            ">in use",
            ">fitted",
            ">95 % interval",
        ]);
        for line in &self.none {
            table.row([
                line.name(),
                line.trays.to_string(),
                format!("{:.1}", line.clean),
                share(line.in_use),
                share(line.fitted.value),
                line.fitted.interval(),
            ]);
        }
        format!(
            "The chance that a tray is wholly as labelled:\n\n{}",
            table.text(page)
        )
    }

    fn share_table(&self, page: Page) -> String {
        let mut table = Table::new(&[
            "where some are off-type",
            ">trays, about",
            ">in use",
            ">fitted",
            ">95 % interval",
        ]);
        for line in &self.shares {
            let name = match line.of {
                Kind::Selfed => "selfed, or several sources",
                Kind::Pollen => "stray pollen",
                Kind::Seed => "stray seed",
            };
            let [a, b] = line.in_use;
            table.row([
                name.to_owned(),
                format!("{:.1}", line.trays),
                share(a / (a + b)),
                share(line.mean.value),
                line.mean.interval(),
            ]);
        }
        format!("The mean share of such a tray:\n\n{}", table.text(page))
    }

    fn care_words(&self, page: Page) -> Option<String> {
        let off = self.off_types_per_100.as_ref()?;
        let mut table = Table::new(&["off-types expected per 100 seedlings of crosses", ">"]);
        let mut row = |what: &str, value: f64| table.row([what.to_owned(), format!("{value:.1}")]);
        row("as they were made", off.now);
        if off.trays_not_covered > 0 {
            row(
                "had every flower been emasculated and covered",
                off.all_covered,
            );
        }
        if off.trays_not_wiped > 0 {
            row(
                "had every tool been wiped before every flower",
                off.all_wiped,
            );
        }
        if off.trays_not_covered > 0 && off.trays_not_wiped > 0 {
            row("both", off.both);
        }
        let table = table.text(page);
        if off.trays_not_wiped == 0 {
            return Some(table);
        }
        let why = "What wiping would have bought rests on the starting weights of donors ('locule assume \
            donor.same-tool'), not on your trays.";
        Some(format!("{table}\n\n{}", wrapped(why, page.width, "  ")))
    }

    fn left_out_words(&self) -> Option<String> {
        if self.left_out.is_empty() {
            return None;
        }
        let one = |out: &LeftOutLine| {
            let why = match out.why {
                "too-large" => "too large to be weighed",
                _ => "nothing explains its readings",
            };
            format!("{} ({why})", out.tray)
        };
        let all: Vec<String> = self.left_out.iter().map(one).collect();
        Some(format!("Left out: {}.", all.join(", ")))
    }
}

impl Answer for MishapsAnswer {
    fn words(&self, page: Page) -> String {
        let mut parts: Vec<String> = Vec::new();
        parts.extend(self.stored.as_ref().map(|stored| stored.words(page)));
        parts.push(wrapped(&self.headline(), page.width, ""));
        if self.trays > 0 {
            parts.push(self.none_table(page));
            parts.push(self.share_table(page));
            parts.extend(self.care_words(page));
        }
        parts.extend(
            self.left_out_words()
                .map(|text| wrapped(&text, page.width, "  ")),
        );
        parts.extend(one_under_another(&self.traits_left_out, page.width));
        if self.trays > 0 && self.stored.is_none() {
            let how = match self.by {
                "tool" => {
                    "Nothing was recorded; the starting beliefs go by technique ('locule mishaps')."
                }
                _ => {
                    "Nothing was recorded. To take the fitted figures into use: locule mishaps --store"
                }
            };
            parts.push(wrapped(how, page.width, "  "));
        }
        parts.join("\n\n")
    }
}
