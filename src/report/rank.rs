//! Plants in order by the goals set, in words and JSON.

use serde::Serialize;

use super::numbers::{decimals, nought, percent, percents};
use super::remarks::{cells_words, remark};
use super::table::Table;
use super::text::{a_few, listed, shown, wrapped};
use super::{Answer, Page};
use crate::diagnosis::rank::{Aim, Ranked, Ranking};
use crate::records::cells::CellRange;
use crate::records::rows::GoalKind;

/// Below this chance that no other is better an order is called loose (design choice).
const LOOSE: f64 = 0.5;

/// Shares of seed that differ by no more look the same on the page.
const CARRIED_FROM: f64 = 0.005;

/// Beaten plants that are named at most; JSON has all.
const BEATEN_SHOWN: usize = 8;

/// Seedlings of a tray that are not ranked, since only counts speak of them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Unranked {
    /// The tray.
    pub tray: String,
    /// How many.
    pub seedlings: i64,
    /// Their cells, where they came up in counted cells.
    #[serde(serialize_with = "as_typed")]
    pub cells: Option<CellRange>,
}

#[expect(clippy::ref_option, reason = "the signature is serde's")]
fn as_typed<S: serde::Serializer>(cells: &Option<CellRange>, to: S) -> Result<S::Ok, S::Error> {
    cells.as_ref().map(CellRange::to_string).serialize(to)
}

/// A goal that was ranked by.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct GoalRanked {
    #[serde(rename = "trait")]
    of: String,
    /// Nothing for grades.
    class: Option<String>,
    kind: &'static str,
    weight: Option<f64>,
    less: bool,
    /// The unit of the measure that tells it.
    unit: Option<String>,
}

impl GoalRanked {
    /// What stands over its column.
    fn heading(&self) -> String {
        let of = self.class.as_deref().unwrap_or(&self.of);
        let unit = self.unit.as_deref().unwrap_or_default();
        format!("{of} {unit}").trim_end().to_owned()
    }

    fn is_graded(&self) -> bool {
        self.class.is_none() && self.unit.is_none()
    }
}

/// What a plant has of a goal.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct GoalHad {
    #[serde(rename = "trait")]
    of: String,
    /// Nothing for grades.
    class: Option<String>,
    p_shows: Option<f64>,
    p_carries: Option<f64>,
    /// The mean grade.
    grade: Option<f64>,
    /// The newest number measured.
    measure: Option<f64>,
}

/// A plant in its place.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct PlantRanked {
    place: usize,
    plant: String,
    /// From 0 to 100.
    index: f64,
    /// The index if it is what it is kept as.
    index_if_true: f64,
    /// Whether it is to be culled.
    cull: bool,
    p_holds: f64,
    p_best: f64,
    p_fit: f64,
    seed_shows: f64,
    seed_carries: f64,
    p_off: Option<f64>,
    beaten_by: Option<String>,
    goals: Vec<GoalHad>,
}

/// The answer of `rank`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RankAnswer {
    /// What was asked about, as typed; empty for everything.
    asked: String,
    goals: Vec<GoalRanked>,
    plants: Vec<PlantRanked>,
    unexplained: Vec<String>,
    unranked: Vec<Unranked>,
    /// Traits and goals left out, in sentences.
    left_out: Vec<String>,
    /// Graded traits by which not all of the plants can be compared.
    tasters_apart: Vec<String>,
    /// Measures by which the plants are compared at different ages.
    ages_apart: Vec<String>,
}

fn goal(aim: &Aim) -> GoalRanked {
    GoalRanked {
        of: aim.of.clone(),
        class: aim.class.clone(),
        kind: aim.kind.word(),
        weight: (aim.kind == GoalKind::Want).then_some(aim.weight),
        less: aim.less,
        unit: aim.unit.clone(),
    }
}

/// What the ranking does without.
fn left_out(ranking: &Ranking) -> Vec<String> {
    let goal = |(aim, needed): &(Aim, u128)| {
        format!(
            "The goal {} is left out: with it the sums would need {} cells.",
            shown(aim.class.as_deref().unwrap_or(&aim.of)),
            cells_words(*needed)
        )
    };
    let goals = ranking.goals_left_out.iter().map(goal);
    goals
        .chain(ranking.left_out.iter().filter_map(remark))
        .collect()
}

fn plant(one: &Ranked, aims: &[Aim]) -> PlantRanked {
    let had = |(aim, merit): (&Aim, &crate::diagnosis::rank::Merit)| GoalHad {
        of: aim.of.clone(),
        class: aim.class.clone(),
        p_shows: aim.class.is_some().then_some(merit.shows),
        p_carries: aim.class.is_some().then_some(merit.carries),
        grade: merit.grade.map(nought).filter(|_| aim.unit.is_none()),
        measure: merit.grade.filter(|_| aim.unit.is_some()),
    };
    PlantRanked {
        place: one.place,
        plant: one.label.clone(),
        index: one.index * 100.0,
        index_if_true: one.if_true * 100.0,
        cull: one.is_cull,
        p_holds: one.holds,
        p_best: one.best,
        p_fit: one.fit,
        seed_shows: one.seed_shows,
        seed_carries: one.seed_carries,
        p_off: one.p_off,
        beaten_by: one.beaten_by.clone(),
        goals: aims.iter().zip(&one.merits).map(had).collect(),
    }
}

impl RankAnswer {
    /// Of a ranking.
    #[must_use]
    pub fn new(ranking: &Ranking, asked: String, unranked: Vec<Unranked>) -> Self {
        let plants = ranking.ranked.iter();
        Self {
            asked,
            goals: ranking.aims.iter().map(goal).collect(),
            plants: plants.map(|one| plant(one, &ranking.aims)).collect(),
            unexplained: ranking.unexplained.clone(),
            unranked,
            left_out: left_out(ranking),
            tasters_apart: ranking.apart.clone(),
            ages_apart: ranking.ages_apart.clone(),
        }
    }

    /// Whether some seed gives seedlings that carry every must and do not show them all.
    fn has_carriers(&self) -> bool {
        let carries = |one: &PlantRanked| one.seed_carries - one.seed_shows > CARRIED_FROM;
        self.has_must() && self.plants.iter().any(carries)
    }

    fn has_must(&self) -> bool {
        self.goals.iter().any(|goal| goal.kind == "must")
    }

    /// What to keep first, in a sentence.
    fn first(&self) -> String {
        let standing = || self.plants.iter().filter(|one| !one.cull);
        let first: Vec<&PlantRanked> = standing().filter(|one| one.place == 1).collect();
        let names: Vec<String> = first.iter().map(|one| shown(&one.plant)).collect();
        match &names[..] {
            [] if self.plants.is_empty() => "Nothing can be ranked.".to_owned(),
            [] => "None of these is to be kept.".to_owned(),
            [one] => format!("Keep {one} first: {}.", self.fitness(&first)),
            several if several.len() == standing().count() => format!(
                "Nothing tells these {} apart by your goals yet: {}.",
                several.len(),
                self.fitness(&first)
            ),
            several => format!(
                "Keep {} first, which are level: each {}.",
                listed(several, "and"),
                self.fitness(&first)
            ),
        }
    }

    /// Those that are not the cross on the label, whatever else they are.
    fn culls(&self) -> Option<String> {
        let culls = self.plants.iter().filter(|one| one.cull);
        let names: Vec<String> = culls.map(|one| shown(&one.plant)).collect();
        (!names.is_empty()).then(|| {
            format!(
                "To be culled, being almost surely not of the label, and last for that: {} ('locule suspects' says why).",
                a_few(&names)
            )
        })
    }

    /// How well some plants of one place fit, from the least to the most.
    fn fitness(&self, level: &[&PlantRanked]) -> String {
        let ends = |value: fn(&PlantRanked) -> f64| {
            let values = level.iter().map(|one| value(one));
            let ends = (f64::INFINITY, f64::NEG_INFINITY);
            values.fold(ends, |(least, most), p| (least.min(p), most.max(p)))
        };
        let shares = |(least, most)| percents(least, most);
        let fit = shares(ends(|one| one.p_fit));
        let fit = match (
            self.has_must(),
            self.goals.iter().any(|g| g.kind == "avoid"),
        ) {
            (true, false) => format!("{fit} to show or carry every must"),
            (true, true) => {
                format!("{fit} to show or carry every must and show nothing to be avoided")
            }
            (false, true) => format!("{fit} to show nothing to be avoided"),
            (false, false) => {
                let (least, most) = ends(|one| one.index.round());
                let least = if least < most {
                    format!("{} to ", decimals(least, 0))
                } else {
                    String::new()
                };
                format!("index {least}{} of 100", decimals(most, 0))
            }
        };
        match self.has_must() {
            true => format!(
                "{fit}, and {} of its selfed seed will show every must",
                shares(ends(|one| one.seed_shows))
            ),
            false => fit,
        }
    }

    /// How far the first place is to be relied on.
    fn sureness(&self) -> Option<String> {
        let (first, next) = (self.plants.first()?, self.plants.get(1)?);
        if next.cull {
            return None;
        }
        let chance = percent(first.p_best);
        (first.place != next.place).then(|| match first.p_best < LOOSE {
            true => format!(
                "The order is loose: {chance} that no other is better. Take several of the first, or look further \
                 before others go."
            ),
            false => format!("The chance that no other is better: {chance}."),
        })
    }

    /// What cannot be compared, and how that was allowed for.
    fn apart(&self) -> Vec<String> {
        let said = self.tasters_apart.iter().map(|of| {
            let of = shown(of);
            format!(
                "{of}: not all of these were graded by tasters who can be set against each other, so their grades may be \
                 off by a step or more. Let two of the tasters grade one plant: 'locule grades {of}' says who."
            )
        });
        let ages = self.ages_apart.iter().map(|of| {
            let of = shown(of);
            format!(
                "{of}: these were measured at different ages, and an older plant is larger for that alone. Measure all \
                 within two days: locule measure T1-03 {of}=42mm"
            )
        });
        said.chain(ages).collect()
    }

    fn beaten(&self) -> Option<String> {
        let beaten = self.plants.iter().filter_map(|one| {
            let by = one.beaten_by.as_ref()?;
            Some(format!("{} (by {})", shown(&one.plant), shown(by)))
        });
        let beaten: Vec<String> = beaten.collect();
        let more = beaten.len().saturating_sub(BEATEN_SHOWN);
        let more = match more {
            0 => String::new(),
            more => format!(" and {more} more"),
        };
        (!beaten.is_empty()).then(|| {
            format!(
                "Beaten, being better by no goal and worse by some: {}{more}.",
                beaten[..beaten.len().min(BEATEN_SHOWN)].join(", ")
            )
        })
    }

    fn table(&self, page: Page) -> String {
        let mut headings = vec![">", "plant", ">index", ">holds"];
        let looks: Vec<String> = (self.goals.iter())
            .map(|goal| format!(">{}", goal.heading()))
            .collect();
        headings.extend(looks.iter().map(String::as_str));
        if self.has_must() {
            headings.push(">seed");
        }
        if self.has_carriers() {
            headings.push(">carry");
        }
        headings.push(">off");
        let mut table = Table::new(&headings);
        if let Some(longest) = self
            .plants
            .iter()
            .map(|one| &one.plant)
            .max_by_key(|it| it.len())
        {
            table.keep_whole(1, longest);
        }
        for one in &self.plants {
            let mut cells = vec![
                one.place.to_string(),
                one.plant.clone(),
                decimals(one.index, 0),
                percent(one.p_holds),
            ];
            cells.extend(one.goals.iter().map(|goal| {
                match (goal.p_shows, goal.grade.or(goal.measure)) {
                    (Some(p), _) => percent(p),
                    (None, Some(grade)) => decimals(grade, 1),
                    (None, None) => "-".to_owned(),
                }
            }));
            if self.has_must() {
                cells.push(percent(one.seed_shows));
            }
            if self.has_carriers() {
                cells.push(percent(one.seed_carries));
            }
            cells.push(one.p_off.map_or_else(|| "-".to_owned(), percent));
            table.row(cells);
        }
        table.text(page)
    }

    fn legend(&self) -> String {
        let grades = match self.goals.iter().any(GoalRanked::is_graded) {
            true => " Under a graded trait: the mean grade, tasters' biases taken out.",
            false => "",
        };
        let measures = match self.goals.iter().any(|goal| goal.unit.is_some()) {
            true => {
                " Under a measure: the newest number; the least and the most of these plants are the ends of its scale."
            }
            false => "",
        };
        let seed = match (self.has_must(), self.has_carriers()) {
            (true, true) => {
                " Seed: the share of its selfed seedlings that show every must; carry: that show it or can give it."
            }
            (true, false) => " Seed: the share of its selfed seedlings that show every must.",
            (false, _) => "",
        };
        format!(
            "Index: 100 is a plant that surely is of its label and shows all that is asked and nothing to be avoided; an \
             off-type counts as 0. Holds: the chance that \
             it is no worse than all in a later place. Under a look: the chance that the plant shows it.{grades}{measures}{seed} Off: the \
             chance that it is not of its label."
        )
    }

    fn not_ranked(&self) -> Vec<String> {
        let mut said: Vec<String> = (self.unexplained.iter())
            .map(|plant| {
                format!(
                    "Not ranked: {}, of which nothing explains what is recorded.",
                    shown(plant)
                )
            })
            .collect();
        let goals = self.goals.first();
        let how = match goals.and_then(|goal| Some((&goal.of, goal.class.as_ref()?))) {
            Some((_, class)) => ("score", format!("={}", shown(class))),
            None => {
                let of = goals.map_or("", |goal| &goal.of);
                let is_measured = goals.is_some_and(|goal| goal.unit.is_some());
                let (command, value) = if is_measured {
                    ("measure", "42mm")
                } else {
                    ("grade", "3")
                };
                (command, format!(" {}={value}", shown(of)))
            }
        };
        said.extend(
            self.unranked
                .iter()
                .map(|left| unranked(left, how.0, &how.1)),
        );
        said
    }
}

/// How many of a tray are not ranked, which these are where that is known, and how to read one of them.
fn unranked(left: &Unranked, command: &str, what: &str) -> String {
    let tray = shown(&left.tray);
    let which = left.cells.as_ref();
    let of = which.map_or_else(|| tray.clone(), |cells| format!("{tray} (cells {cells})"));
    let first = which.map_or(1, |cells| cells.cells()[0]);
    format!(
        "Not ranked: {} of {of} without a record of their own. Read them one by one: locule {command} \
         {tray}-{first:02}{what}",
        left.seedlings
    )
}

impl Answer for RankAnswer {
    fn words(&self, page: Page) -> String {
        let mut said = self.left_out.clone();
        said.push(self.first());
        said.extend(self.culls());
        said.extend(self.sureness());
        said.extend(self.apart());
        let text = |line: &String| wrapped(line, page.width, "  ");
        let mut blocks: Vec<String> = said.iter().map(text).collect();
        if !self.plants.is_empty() {
            blocks.push(self.table(page));
            blocks.push(text(&self.legend()));
        }
        let rest = self.beaten().into_iter().chain(self.not_ranked());
        blocks.extend(rest.map(|line| text(&line)));
        blocks.join("\n")
    }
}
