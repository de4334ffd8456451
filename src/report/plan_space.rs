//! How places are shared over crosses, in words and JSON.

use serde::Serialize;

use super::numbers::{percent, several};
use super::plan_beside::WORTH_SAYING;
use super::plan_known::{BY_EVERYTHING, KnownLine, more_is_known};
use super::table::Table;
use super::text::{listed, rests_on, shown, wrapped};
use super::{Answer, Page};

/// One cross with its places.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SpaceLine {
    /// Its name.
    pub name: String,
    /// What is wanted of it, where that was named.
    pub target: Option<String>,
    /// How many.
    pub want: u64,
    /// How much it counts.
    pub weight: f64,
    /// The chance that a plant with a place is as wanted.
    pub chance: f64,
    /// The share of off-types in it, where the ledger's mishaps gave one.
    pub off_share: Option<f64>,
    /// Seeds of it in store or sown, where that is recorded.
    pub seeds: Option<u64>,
    /// Its places.
    pub places: usize,
    /// The chance to reach the target.
    pub probability: f64,
    /// The same with places shared evenly.
    pub probability_if_even: f64,
    /// The chance to reach the target if off-types come tray by tray, where the ledger tells how.
    pub probability_by_tray: Option<f64>,
    /// How often a whole sowing is something else, which is in that.
    pub never_by_tray: Option<f64>,
    /// The fewest of its places that reach the target with 99 %, where they do.
    pub places_for_99: Option<usize>,
}

impl SpaceLine {
    /// Its name, with what is wanted where several looks are wanted of it.
    #[must_use]
    pub fn called(&self) -> String {
        match &self.target {
            Some(target) => format!("{} ({target})", self.name),
            None => self.name.clone(),
        }
    }

    /// Whether mishaps that strike whole trays lower its chance by more than a little.
    fn is_lower_by_tray(&self) -> bool {
        let p = self.probability_by_tray;
        p.is_some_and(|p| self.probability - p >= WORTH_SAYING)
    }
}

/// How an area was filled.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AreaLine {
    /// The area as typed.
    pub area: String,
    /// The spacing as typed.
    pub spacing: String,
    /// `square` or `staggered`.
    pub packing: &'static str,
    /// Places by that packing.
    pub places: u64,
    /// Places by the other.
    pub places_otherwise: u64,
}

/// What one more place would buy.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoreLine {
    /// By how much the number of targets reached rises, weighed.
    pub gain: f64,
    /// Crosses whose share changes, by name and what is wanted, with their places then.
    pub changes: Vec<(String, usize)>,
}

/// The answer of `plan space`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SpaceAnswer {
    /// Places in all.
    pub places: u64,
    /// Kept in reserve.
    pub reserve: u64,
    /// Left, since they would help nobody.
    pub left: usize,
    /// The share of plants that is lost.
    pub losses: f64,
    /// The area, where places were counted from one.
    pub area: Option<AreaLine>,
    /// Targets reached on average, each by its weight.
    pub worth: f64,
    /// The sum of the weights.
    pub most_worth: f64,
    /// The same with places shared evenly.
    pub worth_if_even: f64,
    /// The crosses.
    pub crosses: Vec<SpaceLine>,
    /// What one more place would buy.
    pub one_more: MoreLine,
    /// Whether parents were taken for what everything recorded says of them.
    pub believed: bool,
    /// What is not stated of a parent: `CW at A`.
    pub not_stated: Vec<String>,
    /// Of that what the ledger knows nevertheless.
    pub better_known: Vec<KnownLine>,
    /// Parents whose linked alleles may lie either way: `DD at A and H`.
    pub phase_open: Vec<String>,
    /// Crosses bred on of F1 plants that are not alike.
    pub f1_differ: Vec<String>,
}

impl SpaceAnswer {
    fn is_weighed(&self) -> bool {
        self.crosses
            .iter()
            .any(|line| line.weight != self.crosses[0].weight)
    }

    fn headline(&self) -> String {
        let given: Vec<String> = self
            .crosses
            .iter()
            .filter(|line| line.places > 0)
            .map(|line| format!("{} to {}", line.places, shown(&self.called(line))))
            .collect();
        let given = match given.len() {
            0 => "Give no place away: none reaches anything".to_owned(),
            1..=6 => format!("Give {}", listed(&given, "and")),
            n => format!("Give places to {n} crosses as below"),
        };
        format!(
            "{given}: {:.2} of {} reached on average{}.",
            self.worth,
            match self.is_weighed() {
                true => format!("{} in weights", trimmed(self.most_worth)),
                false => several(self.crosses.len() as u64, "target", "targets"),
            },
            match self.worth > self.worth_if_even + 5e-3 {
                true => format!(", {:.2} if shared evenly", self.worth_if_even),
                false => String::new(),
            }
        )
    }

    /// A cross by its name, with what is wanted where several looks are wanted of it.
    fn called(&self, line: &SpaceLine) -> String {
        let alike = self.crosses.iter().filter(|one| one.name == line.name);
        match alike.count() {
            1 => line.name.clone(),
            _ => line.called(),
        }
    }

    /// What the chances are if off-types come tray by tray.
    fn tray_by_tray(&self) -> Option<String> {
        let lower = self.crosses.iter().filter(|line| line.is_lower_by_tray());
        let each: Vec<String> = lower
            .map(|line| {
                format!(
                    "{} with {}",
                    shown(&self.called(line)),
                    percent(line.probability_by_tray.unwrap_or(0.0))
                )
            })
            .collect();
        let never = self.crosses.iter().filter_map(|line| line.never_by_tray);
        (!each.is_empty()).then(|| {
            format!(
                "that is of an average tray, but mishaps strike one tray and spare the next: counting that, reached are {}; {} of sowings are wholly something else",
                listed(&each, "and"),
                percent(never.fold(0.0, f64::max))
            )
        })
    }

    /// That fewer places would do, where every target is all but sure with fewer.
    fn fewer(&self) -> Option<String> {
        let each: Option<Vec<usize>> = self.crosses.iter().map(|line| line.places_for_99).collect();
        let each = each?;
        let given: usize = self.crosses.iter().map(|line| line.places).sum();
        (each.iter().sum::<usize>() < given).then(|| {
            let named = self.crosses.iter().zip(&each);
            let named: Vec<String> = named
                .map(|(line, n)| format!("{n} for {}", shown(&self.called(line))))
                .collect();
            format!("Fewer places do for 99 %: {}.", listed(&named, "and"))
        })
    }

    /// Crosses of which several looks are wanted.
    fn named_twice(&self) -> Vec<String> {
        let mut found: Vec<String> = Vec::new();
        for (at, line) in self.crosses.iter().enumerate() {
            let name = shown(&line.name);
            let is_again = self.crosses[..at].iter().any(|own| own.name == line.name);
            if is_again && !found.contains(&name) {
                found.push(name);
            }
        }
        found
    }

    /// Crosses of which there is not seed enough for their places.
    fn short_of_seed(&self) -> Option<String> {
        let short = self.crosses.iter().filter_map(|line| {
            let there = line.seeds.filter(|there| *there < line.places as u64)?;
            let seeds = match there {
                0 => "no seed".to_owned(),
                n => format!("only {}", several(n, "seed", "seeds")),
            };
            Some(format!("{seeds} of {}", shown(&line.name)))
        });
        let short: Vec<String> = short.collect();
        (!short.is_empty()).then(|| {
            format!(
                "Too little seed for that is in store or sown: {}.",
                listed(&short, "and")
            )
        })
    }

    fn table(&self, page: Page) -> String {
        let has_targets = self.crosses.iter().any(|line| line.target.is_some());
        let columns = [
            (true, "cross"),
            (has_targets, "wanted"),
            (true, ">how many"),
            (self.is_weighed(), ">weight"),
            (true, ">of plants"),
            (true, ">places"),
            (true, ">reached"),
        ];
        let shown_columns: Vec<&str> = columns
            .iter()
            .filter(|(on, _)| *on)
            .map(|(_, heading)| *heading)
            .collect();
        let mut table = Table::new(&shown_columns);
        for line in &self.crosses {
            let cells = [
                line.name.clone(),
                line.target.clone().unwrap_or_default(),
                line.want.to_string(),
                trimmed(line.weight),
                percent(line.chance),
                line.places.to_string(),
                percent(line.probability),
            ];
            let cells = cells.into_iter().zip(columns).filter(|(_, (on, _))| *on);
            table.row(cells.map(|(cell, _)| cell).collect::<Vec<_>>());
        }
        table.text(page)
    }

    fn assumptions(&self) -> Vec<String> {
        let mut said = Vec::new();
        match &self.area {
            Some(area) => {
                let other = match area.packing {
                    "square" => "staggered rows",
                    _ => "rows and columns",
                };
                let own = match area.packing {
                    "square" => "rows and columns",
                    _ => "staggered rows",
                };
                said.push(format!(
                    "places: {} on {} at {} in {own}, each plant with half the spacing to the edge; {other} hold {}",
                    area.places, area.area, area.spacing, area.places_otherwise
                ));
            }
            None => said.push(format!("places: {}", self.places)),
        }
        if self.reserve > 0 {
            said.push(format!(
                "kept in reserve: {}, from which every plant that is lost is replaced",
                self.reserve
            ));
        } else {
            said.push(match self.losses > 0.0 {
                true => format!("lost before they are judged: {}", percent(self.losses)),
                false => "every plant that gets a place lives to be judged; --losses 0.1 says else"
                    .to_owned(),
            });
        }
        let off: Vec<String> = self
            .crosses
            .iter()
            .filter_map(|line| {
                Some(format!(
                    "{} of {}",
                    percent(line.off_share?),
                    shown(&line.name)
                ))
            })
            .collect();
        if !off.is_empty() {
            said.push(format!(
                "not of the label, by 'locule mishaps': {}",
                listed(&off, "and")
            ));
        }
        said.extend(self.tray_by_tray());
        if self.believed {
            said.push(BY_EVERYTHING.to_owned());
        }
        if !self.not_stated.is_empty() {
            said.push(format!(
                "not stated: {}; whatever they may be there is weighed by the starting beliefs",
                listed(&self.not_stated, "and")
            ));
        }
        if !self.phase_open.is_empty() {
            said.push(format!(
                "which alleles lie together is not stated of {}; either way is as likely, the same for all seed",
                listed(&self.phase_open, "and")
            ));
        }
        if !self.f1_differ.is_empty() {
            said.push(format!(
                "F1 plants of {} are not alike: the seed is taken as of many, a seed or so of each",
                listed(&self.f1_differ, "and")
            ));
        }
        said.push("of plants: how likely a plant that gets a place is as wanted".to_owned());
        let twice = self.named_twice();
        if !twice.is_empty() {
            said.push(format!(
                "a plant of {} counts for the target that its place was given to, though it may be as wanted for another",
                listed(&twice, "and")
            ));
        }
        if self.left > 0 {
            said.push(format!(
                "left over: {}, which would help nobody",
                several(self.left as u64, "place", "places")
            ));
        }
        said.push(self.with_one_more());
        said
    }

    fn with_one_more(&self) -> String {
        let MoreLine { gain, changes } = &self.one_more;
        if *gain < 5e-5 {
            return "one more place would help nobody".to_owned();
        }
        let changes: Vec<String> = changes
            .iter()
            .map(|(name, n)| format!("{n} to {}", shown(name)))
            .collect();
        format!(
            "with one more place {:.3} would be reached on average in the place of {:.3}, giving {}",
            self.worth + gain,
            self.worth,
            listed(&changes, "and")
        )
    }
}

/// A number without needless zeros.
fn trimmed(number: f64) -> String {
    let text = format!("{number:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

impl Answer for SpaceAnswer {
    fn words(&self, page: Page) -> String {
        let mut head = wrapped(&self.headline(), page.width, "");
        if let Some(fewer) = self.fewer() {
            head = format!("{head}\n\n{}", wrapped(&fewer, page.width, ""));
        }
        let rests = rests_on(&self.assumptions(), page.width);
        let known = [self.short_of_seed(), more_is_known(&self.better_known)];
        let known: String = known
            .iter()
            .flatten()
            .map(|said| format!("{}\n\n", wrapped(said, page.width, "")))
            .collect();
        format!("{head}\n\n{known}{}\n\n{rests}", self.table(page))
    }
}
