//! What the grades of a trait say, in words and JSON.

use serde::Serialize;

use super::numbers::{decimals, nought, several};
use super::table::Table;
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};
use crate::diagnosis::grades::{Graded, GradedPlant};
use crate::records::facts::Facts;

/// A plant's grades.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct PlantLine {
    plant: String,
    grades: usize,
    only_pod: Option<i64>,
    mean: f64,
    error: Option<f64>,
    interval: Option<[f64; 2]>,
    part: usize,
}

/// A taster.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct TasterLine {
    taster: String,
    grades: usize,
    bias: f64,
    interval: Option<[f64; 2]>,
    part: usize,
    compared: bool,
}

/// The answer of `grades`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GradesAnswer {
    #[serde(rename = "trait")]
    of: String,
    grades: Vec<String>,
    lowest: f64,
    highest: f64,
    plants: Vec<PlantLine>,
    tasters: Vec<TasterLine>,
    spread: Option<f64>,
    df: usize,
}

impl GradesAnswer {
    /// Of a graded trait; the highest mean first.
    #[must_use]
    pub fn new(facts: &Facts, graded: &Graded) -> Self {
        let [lowest, highest] = graded.scale.ends();
        let line = |own: &GradedPlant| PlantLine {
            plant: facts.label_of_plant(own.plant),
            grades: own.grades,
            only_pod: own.only_pod,
            mean: nought(own.mean),
            error: own.error,
            interval: own.interval.map(|ends| ends.map(nought)),
            part: own.part,
        };
        let mut plants: Vec<PlantLine> = graded.plants.iter().map(line).collect();
        plants.sort_by(|one, other| other.mean.total_cmp(&one.mean));
        Self {
            of: graded.scale.code.clone(),
            grades: (graded.scale.names().into_iter())
                .map(str::to_owned)
                .collect(),
            lowest,
            highest,
            plants,
            tasters: (graded.tasters.iter())
                .map(|own| TasterLine {
                    taster: own.name.clone(),
                    grades: own.grades,
                    bias: nought(own.bias),
                    interval: own.interval.map(|ends| ends.map(nought)),
                    part: own.part,
                    compared: own.compared,
                })
                .collect(),
            spread: graded.spread,
            df: graded.df,
        }
    }

    fn first_line(&self) -> String {
        let all: usize = self.plants.iter().map(|own| own.grades).sum();
        let grades = several(all as u64, "grade", "grades");
        let plants = several(self.plants.len() as u64, "plant", "plants");
        let counted = self.counted();
        match self.plants.first() {
            None => format!(
                "No plant was graded for {} yet. Grade one: locule grade T1-03 {}={}",
                self.of,
                self.of,
                self.grades.last().map_or("", String::as_str)
            ),
            Some(best) => format!(
                "{}: {} is graded highest, {} of {:.0} to {:.0}{counted}; {grades} of {plants}.",
                self.of,
                shown(&best.plant),
                decimals(best.mean, 1),
                self.lowest,
                self.highest
            ),
        }
    }

    /// What words count, where the grades are words.
    fn counted(&self) -> String {
        let is_number = |name: &String| name.parse::<u32>().is_ok();
        match self.grades.iter().all(is_number) {
            true => String::new(),
            false => {
                let words = self.grades.iter().enumerate();
                let words: Vec<String> = words.map(|(at, word)| format!("{word} {at}")).collect();
                format!(" ({})", words.join(", "))
            }
        }
    }

    fn bias_lines(&self) -> Vec<String> {
        let compared = self.tasters.iter().filter(|own| own.compared);
        let mut said: Vec<String> = compared
            .map(|own| {
                let name = taster_name(&own.taster);
                let by = match own.bias.abs() < 0.05 {
                    true => "as the others do".to_owned(),
                    false if own.bias > 0.0 => format!("{:.1} higher than all together", own.bias),
                    false => format!("{:.1} lower than all together", -own.bias),
                };
                let range = own.interval.map_or_else(String::new, |[from, to]| {
                    format!(" ({from:+.1} to {to:+.1})")
                });
                format!("{name} grades {by}{range}; the means have that taken out.")
            })
            .collect();
        let parts = self.tasters.iter().map(|own| own.part).max();
        if parts.is_some_and(|last| last > 0) {
            said.push(
                "Not all tasters can be set against each other: some graded no plant in common, not even through a \
                 third. Let two of them grade one plant."
                    .to_owned(),
            );
        }
        let of_one_pod = self.plants.iter().filter(|own| own.only_pod.is_some());
        let of_one_pod: Vec<String> = of_one_pod.map(|own| shown(&own.plant)).collect();
        if !of_one_pod.is_empty() {
            said.push(format!(
                "Of one pod only: {}. How much its other pods differ is not in the interval.",
                listed(&of_one_pod, "and")
            ));
        }
        said
    }
}

fn taster_name(name: &str) -> String {
    match name {
        "" => "Whoever was not named".to_owned(),
        name => shown(name),
    }
}

/// A plant's mean with its interval: `3.7 of 0 to 5 (2.9 to 4.4), 3 grades`.
#[must_use]
pub fn mean_words(graded: &Graded, own: &GradedPlant) -> String {
    let range = own.interval.map_or_else(String::new, |[from, to]| {
        format!(" (95 %: {} to {})", decimals(from, 1), decimals(to, 1))
    });
    let n = several(own.grades as u64, "grade", "grades");
    format!(
        "{} of {}{range}, {n}",
        decimals(own.mean, 1),
        graded.scale.span()
    )
}

impl Answer for GradesAnswer {
    fn words(&self, page: Page) -> String {
        let mut blocks = vec![wrapped(&self.first_line(), page.width, "  ")];
        if !self.plants.is_empty() {
            let mut table = Table::new(&["plant", ">mean", ">95 % interval", ">grades"]);
            for own in &self.plants {
                let range = own.interval.map_or_else(
                    || "-".to_owned(),
                    |[from, to]| format!("{} to {}", decimals(from, 1), decimals(to, 1)),
                );
                table.row([
                    own.plant.clone(),
                    decimals(own.mean, 1),
                    range,
                    own.grades.to_string(),
                ]);
            }
            blocks.push(table.text(page));
        }
        let lines = self.bias_lines().into_iter();
        blocks.extend(lines.map(|line| wrapped(&line, page.width, "  ")));
        blocks.join("\n")
    }
}
