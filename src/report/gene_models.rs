//! The answer of `ratio --models` on trays and crosses: a trait's gene models against each other.

use serde::Serialize;

use super::numbers::{p_value, percent, several};
use super::ratio::{ModelsAnswer, MoreLine, Tested, USUAL_LEVEL, spoken_choice};
use super::ratio_trays::Linkage;
use super::table::Table;
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};

/// A parent's genotype under a model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ParentLine {
    /// The parent.
    pub plant: String,
    /// Its genotype at the loci that the model reads: as stated, else the likeliest.
    pub genotype: String,
    /// How likely it has it, after the counts, if the model is true.
    pub p: f64,
    /// Whether the ledger leaves no other.
    pub settled: bool,
}

/// The counts of a cross or tray under a model.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CountsLine {
    /// The tray; nothing for the trays of a cross together.
    pub tray: Option<String>,
    /// Its cross, or the parent whose packet was sown.
    pub cross: String,
    /// The model's weight after this tray alone; nothing for the trays of a cross together.
    pub posterior: Option<f64>,
    /// The tests.
    #[serde(flatten)]
    pub tested: Tested,
}

/// A gene model after the counts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GeneModelLine {
    /// Its name.
    pub model: String,
    /// Whether it is the one in use.
    pub in_use: bool,
    /// Its weight after all trays.
    pub posterior: f64,
    /// The smallest p of a cross, adjusted by Holm for their number; nothing where a class was seen that cannot come.
    pub p: Option<f64>,
    /// The parents as it needs them.
    pub parents: Vec<ParentLine>,
    /// Cross by cross, its trays together.
    pub crosses: Vec<CountsLine>,
    /// Tray by tray.
    pub batches: Vec<CountsLine>,
}

/// What a cross can still tell.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrossMore {
    /// The cross, or the parent whose packet was sown.
    pub cross: String,
    /// How many more of its seedlings would tell the likeliest two models apart.
    #[serde(flatten)]
    pub more: MoreLine,
}

/// The usual ratios against the counts of a cross.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrossRatios {
    /// The cross, or the parent whose packet was sown.
    pub cross: String,
    /// The ratios.
    #[serde(flatten)]
    pub ratios: ModelsAnswer,
}

/// The gene models of a trait after the counts of some trays.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GeneModelsAnswer {
    /// The trait.
    #[serde(rename = "trait")]
    pub of: String,
    /// Plants counted.
    pub n: u64,
    /// The models, likeliest first.
    pub models: Vec<GeneModelLine>,
    /// What each cross can still tell of the likeliest two.
    pub more: Vec<CrossMore>,
    /// The usual ratios, cross by cross, of the classes seen there.
    pub usual: Vec<CrossRatios>,
    /// Trays in which seedlings were pulled for their looks before the count.
    pub pulled_before: Vec<String>,
    /// How the loci of the models lie.
    pub linkage: Linkage,
    /// Trays that were left out, since they were not scored for the trait.
    pub not_scored: Vec<String>,
}

impl Answer for GeneModelsAnswer {
    fn words(&self, page: Page) -> String {
        let plants = several(self.n, "seedling", "seedlings");
        let heading = format!("{}, its gene models against {plants}", self.of);
        let mut parts = vec![shown(&heading), self.table(page), self.said(page)];
        if self.batches() > 1 {
            parts.push(format!("Tray by tray\n\n{}", self.tray_table(page)));
        }
        for cross in &self.usual {
            let heading = format!("{} against the usual ratios", cross.cross);
            parts.push(format!(
                "{}\n\n{}",
                shown(&heading),
                cross.ratios.words(page)
            ));
        }
        if !self.not_scored.is_empty() {
            let said = format!("Not scored for it: {}.", self.not_scored.join(", "));
            parts.push(wrapped(&said, page.width, ""));
        }
        parts.join("\n\n")
    }
}

impl GeneModelsAnswer {
    fn batches(&self) -> usize {
        self.models.first().map_or(0, |line| line.batches.len())
    }

    fn table(&self, page: Page) -> String {
        let headings = [
            "gene model",
            ">weight",
            ">p",
            "counts expected",
            "if the parents are",
        ];
        let mut table = Table::new(&headings);
        for line in &self.models {
            let in_use = if line.in_use { ", in use" } else { "" };
            let counts: Vec<String> = line.crosses.iter().map(expected).collect();
            let parents: Vec<String> = line.parents.iter().map(parent).collect();
            table.row([
                format!("{}{in_use}", line.model),
                percent(line.posterior),
                line.p.map_or_else(|| "none".to_owned(), p_value),
                counts.join("; "),
                parents.join(", "),
            ]);
        }
        table.text(page)
    }

    fn tray_table(&self, page: Page) -> String {
        let headings = [
            "tray",
            "cross",
            "gene model",
            ">weight",
            ">p",
            "seen and expected",
        ];
        let mut table = Table::new(&headings);
        for at in 0..self.batches() {
            for (first, model) in self.models.iter().enumerate() {
                let line = &model.batches[at];
                let named = |text: &str| {
                    if first == 0 {
                        text.to_owned()
                    } else {
                        String::new()
                    }
                };
                table.row([
                    named(line.tray.as_deref().unwrap_or_default()),
                    named(&line.cross),
                    model.model.clone(),
                    line.posterior.map(percent).unwrap_or_default(),
                    line.tested.p.map_or_else(|| "none".to_owned(), p_value),
                    seen_and_expected(line),
                ]);
            }
        }
        table.text(page)
    }

    /// What the table says and rests on.
    fn said(&self, page: Page) -> String {
        let mut said = vec![self.verdict()];
        said.extend(self.models.iter().filter_map(impossible));
        for cross in &self.more {
            said.push(format!("Of {}: {}", cross.cross, cross.more.words()));
        }
        if self
            .models
            .iter()
            .any(|line| line.parents.iter().any(|parent| !parent.settled))
        {
            said.push("Genotypes with a percentage are not stated; they are the likeliest if the model is true, and p is kinder for having been fitted. The weights count every genotype that the parents may have.".to_owned());
        }
        if !self.pulled_before.is_empty() {
            said.push(format!(
                "Seedlings were pulled for their looks before the count in {}, so it is biased.",
                listed(&self.pulled_before, "and")
            ));
        }
        said.extend(self.linkage.words());
        if self.models.len() > 1 {
            said.push("Every gene model started with the same weight.".to_owned());
        }
        let lines: Vec<String> = said
            .iter()
            .map(|line| wrapped(line, page.width, ""))
            .collect();
        lines.join("\n")
    }

    fn verdict(&self) -> String {
        let fitting: Vec<&str> = self
            .models
            .iter()
            .filter(|line| line.p.is_some_and(|p| p >= USUAL_LEVEL))
            .map(|line| line.model.as_str())
            .collect();
        match (self.models.as_slice(), fitting.as_slice()) {
            ([one], fitting) => {
                let fits = if fitting.is_empty() {
                    "does not fit"
                } else {
                    "fits"
                };
                format!(
                    "{} has one gene model, {}, and it {fits}; 'locule trait model add' enters a rival.",
                    self.of, one.model
                )
            }
            (_, fitting) => spoken_choice(fitting, "gene model"),
        }
    }
}

/// What a model cannot give but was seen.
fn impossible(line: &GeneModelLine) -> Option<String> {
    let cross = line
        .crosses
        .iter()
        .find(|cross| cross.tested.decides == "impossible")?;
    let classes = &cross.tested.classes;
    let seen = classes
        .iter()
        .filter(|class| class.expected == 0.0 && class.observed > 0);
    let seen: Vec<String> = seen
        .map(|class| {
            format!(
                "{} {}",
                class.observed,
                class.class.as_deref().unwrap_or("?")
            )
        })
        .collect();
    Some(format!(
        "Under {} no {} can come of {}, unless misread or not of this cross.",
        line.model,
        listed(&seen, "or"),
        cross.cross
    ))
}

fn parent(line: &ParentLine) -> String {
    let share = if line.settled {
        String::new()
    } else {
        format!(" ({})", percent(line.p))
    };
    format!("{} {}{share}", line.plant, line.genotype)
}

fn expected(line: &CountsLine) -> String {
    let classes: Vec<String> = line
        .tested
        .classes
        .iter()
        .filter(|class| class.observed > 0 || class.expected >= 0.05)
        .map(|class| {
            let name = class.class.as_deref().unwrap_or("?");
            format!("{:.1} {name}", class.expected)
        })
        .collect();
    format!("{} {}", line.cross, classes.join(", "))
}

fn seen_and_expected(line: &CountsLine) -> String {
    let classes: Vec<String> = line
        .tested
        .classes
        .iter()
        .filter(|class| class.observed > 0 || class.expected >= 0.05)
        .map(|class| {
            let name = class.class.as_deref().unwrap_or("?");
            format!("{name} {} of {:.1}", class.observed, class.expected)
        })
        .collect();
    classes.join(", ")
}
