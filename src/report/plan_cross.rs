//! Which two parents to cross, in words and JSON: the number first, the reasons, the other plans, what it rests on.

use serde::Serialize;

use super::numbers::{percent, several};
use super::plan_cross_lines::{PlanLine, SchemeWord, TestLine, TurnedWord, UnsettledLine};
use super::plan_sowing::OffLine;
use super::table::Table;
use super::text::{a_few, listed, rests_on, shown, wrapped};
use super::{Answer, Page};
use crate::planning::cross::SETTLED;

/// Most lines on what is not settled.
const MOST_UNSETTLED: usize = 6;

/// A parent that may be as wanted already.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MayHave {
    /// The plant.
    pub plant: String,
    /// How likely it is.
    pub p: f64,
}

/// The answer of `plan cross`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrossAnswer {
    /// The looks wanted.
    pub wanted: Vec<String>,
    /// Whether the plant is to breed true.
    pub fixed: bool,
    /// The confidence asked for.
    pub confidence: f64,
    /// How much of seed crossed by hand is not of the label.
    pub off_share: OffLine,
    /// Parents that are as wanted already.
    pub have: Vec<String>,
    /// Parents that may be.
    pub may_have: Vec<MayHave>,
    /// Plans, the best first.
    pub plans: Vec<PlanLine>,
    /// How many more there are.
    pub beside: usize,
    /// How many parents were looked at.
    pub parents: usize,
    /// What is not settled and matters.
    pub unsettled: Vec<UnsettledLine>,
    /// Pairs of loci on one chromosome without a known distance.
    pub distance_open: Vec<String>,
    /// Parents of which nothing explains what is recorded.
    pub unexplained: Vec<String>,
    /// Kept plants that are gone.
    pub gone: Vec<String>,
    /// Parents of plans of whose packets no seed is left.
    pub no_seed: Vec<String>,
}

impl CrossAnswer {
    fn wanted(&self) -> String {
        let looks = listed(&self.wanted, "and");
        match self.fixed {
            true => format!("{looks}, and breeds true"),
            false => looks,
        }
    }

    fn headline(&self) -> String {
        if !self.have.is_empty() {
            let (verb, breed) = match self.have.len() {
                1 => ("is", ", and breeds true"),
                _ => ("are", ", and breed true"),
            };
            let true_too = if self.fixed { breed } else { "" };
            return format!(
                "No cross is needed: {} {verb} {} already{true_too}.",
                a_few(&self.have),
                listed(&self.wanted, "and")
            );
        }
        let Some(best) = self.plans.first() else {
            return "No cross gives it.".to_owned();
        };
        match (best.seeds, best.probability) {
            (Some(seeds), Some(p)) => format!(
                "Sow {} of {}: {} that at least one is {}; {}{}.",
                several(seeds, "seed", "seeds"),
                best.sown(),
                percent(p),
                self.wanted(),
                several(best.seasons, "season", "seasons"),
                if best.test.is_some() {
                    " and one for the test"
                } else {
                    ""
                }
            ),
            _ => format!(
                "No plan is sure enough yet: of {} it is {} that any seed can be {}. Settle first what stands below.",
                best.sown(),
                percent(best.hope),
                self.wanted()
            ),
        }
    }

    fn table(&self, page: Page) -> String {
        let is_any_hard = self.plans.iter().any(PlanLine::is_hard);
        let has_hybrid = self.plans.iter().any(|plan| plan.f1_seeds.is_some());
        let has_test = self.plans.iter().any(|plan| plan.test.is_some());
        let mut headings = vec!["plan"];
        headings.extend(has_hybrid.then_some(">F1"));
        headings.push(">sow");
        headings.extend(has_test.then_some(">test"));
        headings.extend([">as wanted", ">seasons"]);
        if is_any_hard {
            headings.push("crossing");
        }
        let mut table = Table::new(&headings);
        for (at, plan) in self.plans.iter().enumerate() {
            let number = |n: Option<u64>| n.map_or_else(|| "-".to_owned(), |n| n.to_string());
            let mut cells = vec![plan.name()];
            cells.extend(has_hybrid.then(|| number(plan.f1_seeds)));
            cells.push(number(plan.seeds));
            let test = plan.test.as_ref().map(TestLine::whole_seeds);
            cells.extend(has_test.then(|| number(test)));
            cells.extend([plan.share.cell(), plan.seasons.to_string()]);
            if is_any_hard {
                cells.push(plan.crossability.clone());
            }
            table.row(cells);
            if at > 0 {
                table.remark(&plan.why);
            }
        }
        table.text(page)
    }

    fn assumptions(&self) -> Vec<String> {
        let mut said = self.not_settled();
        said.push(format!(
            "{} with a code, by everything recorded of them; a genotype with {:.0} % or more is taken as it is",
            several(self.parents as u64, "parent", "parents"),
            100.0 * SETTLED
        ));
        if self.plans.is_empty() {
            if !self.fixed {
                said.push(
                    "its seed may still throw others; --fixed asks for one that breeds true"
                        .to_owned(),
                );
            }
            said.extend(self.left_out());
            return said;
        }
        said.push("sure plans first, then plants that cross readily, then few seeds of the last generation, then few seasons; a season is one generation of seed sown".to_owned());
        said.extend(self.coming_up());
        if self.plans.iter().any(PlanLine::is_crossed) {
            said.push(format!(
                "not of the label, of seed crossed by hand: {}",
                self.off_share.said()
            ));
        }
        said.push(
            "none that is up dies; of F1 plants that differ seed is mixed, the more of them the better"
                .to_owned(),
        );
        if self.plans.iter().any(|plan| plan.f1_seeds.is_some()) {
            said.push(
                "the chances of the F1 and of what is sown of it stand each by itself".to_owned(),
            );
        }
        if self.fixed && self.plans.iter().any(|plan| plan.test.is_some()) {
            said.push("which of those that look as wanted breed true does not show: their seed does, in the test (locule stable)".to_owned());
        } else if self.fixed && self.plans.iter().any(|plan| plan.seeds.is_some()) {
            said.push("all that look as wanted breed true, so there is nothing to test".to_owned());
        }
        if !self.distance_open.is_empty() {
            said.push(format!(
                "taken as independent, though on one chromosome: {}",
                listed(&self.distance_open, "and")
            ));
        }
        said.extend(self.cautions());
        said.extend(self.left_out());
        if self.beside > 0 {
            said.push(format!(
                "{} stand behind these; --top {} shows them",
                several(self.beside as u64, "more plan", "more plans"),
                self.plans.len() + self.beside
            ));
        }
        said
    }

    /// How seed comes up, plan by plan where that differs.
    fn coming_up(&self) -> Vec<String> {
        let mut told: Vec<(String, Vec<String>)> = Vec::new();
        for plan in &self.plans {
            let said = plan.germination.said();
            match told.iter_mut().find(|(known, _)| *known == said) {
                Some((_, plans)) => plans.push(plan.name()),
                None => told.push((said, vec![plan.name()])),
            }
        }
        let is_one = told.len() == 1;
        let line = |(said, plans): (String, Vec<String>)| match is_one {
            true => format!("comes up: {said}"),
            false => format!("comes up, of {}: {said}", listed(&plans, "and")),
        };
        told.into_iter().map(line).collect()
    }

    /// What is not settled, the first few.
    fn not_settled(&self) -> Vec<String> {
        let (first, more) = self
            .unsettled
            .split_at(self.unsettled.len().min(MOST_UNSETTLED));
        let mut said: Vec<String> = first.iter().map(UnsettledLine::said).collect();
        if !more.is_empty() {
            let mut plants: Vec<&str> = more.iter().map(|one| one.plant.as_str()).collect();
            plants.dedup();
            said.push(format!(
                "not settled either: {}; locule genotype tells",
                a_few(&plants)
            ));
        }
        for one in self.may_have.iter().take(MOST_UNSETTLED) {
            said.push(format!(
                "{} may be {} itself: {}",
                shown(&one.plant),
                self.wanted(),
                percent(one.p)
            ));
        }
        said
    }

    /// What is to be said of plants that do not cross readily, and of the direction.
    fn cautions(&self) -> Vec<String> {
        let mut said: Vec<String> = Vec::new();
        for plan in &self.plans {
            let line = plan.caution();
            said.extend(
                line.filter(|line| !said.contains(line))
                    .into_iter()
                    .collect::<Vec<_>>(),
            );
        }
        let either = |plan: &&PlanLine| {
            plan.turned == TurnedWord::AsGood && plan.scheme != SchemeWord::Selfed
        };
        if let Some(plan) = self.plans.iter().find(either) {
            said.push(format!(
                "either may be the mother where nothing is said; which is better: locule plan which-mother {} {}",
                shown(&plan.mother),
                shown(&plan.father)
            ));
        }
        said
    }

    fn left_out(&self) -> Vec<String> {
        let mut said = Vec::new();
        if !self.gone.is_empty() {
            said.push(format!("gone, and left out: {}", a_few(&self.gone)));
        }
        if !self.unexplained.is_empty() {
            said.push(format!(
                "left out, for nothing explains what is recorded of them: {}",
                a_few(&self.unexplained)
            ));
        }
        if !self.no_seed.is_empty() {
            said.push(format!(
                "no seed is left of {} by the ledger; it takes the living plant",
                a_few(&self.no_seed)
            ));
        }
        said
    }
}

impl Answer for CrossAnswer {
    fn words(&self, page: Page) -> String {
        let mut parts = vec![wrapped(&self.headline(), page.width, "")];
        if let Some(best) = self.plans.first() {
            parts.push(wrapped(&best.why, page.width, ""));
            parts.extend(best.around().map(|said| wrapped(&said, page.width, "")));
            parts.push(self.table(page));
        }
        parts.push(rests_on(&self.assumptions(), page.width));
        parts.join("\n\n")
    }
}
