//! How many plants tell two ratios apart, in words and JSON.

use serde::Serialize;

use super::numbers::{percent, several};
use super::text::{rests_on, wrapped};
use super::{Answer, Page};
use crate::stats::exact_power::{Demand, EnoughPlants};

/// The answer of `plan enough`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EnoughAnswer {
    /// Plants to count.
    pub n: u64,
    /// The power with that many: the smaller of the two below.
    pub power: f64,
    /// How often the first ratio is rejected where the second is true.
    pub power_against_first: f64,
    /// How often the second is rejected where the first is true.
    pub power_against_second: f64,
    /// How often the first is rejected although true.
    pub size_of_first: f64,
    /// How often the second is rejected although true.
    pub size_of_second: f64,
    /// The power asked for.
    pub power_asked: f64,
    /// The size asked for.
    pub size_asked: f64,
    /// The smallest number that does at all, though more may fail.
    pub first_n: u64,
    /// Every number up to this one was tried.
    pub tried_to: u64,
    /// Whether that is the whole run by which it is taken to hold from there on.
    pub whole_run: bool,
    /// The ratios.
    pub ratios: [String; 2],
}

impl EnoughAnswer {
    /// The answer for two ratios.
    #[must_use]
    pub fn new(ratios: [String; 2], demand: Demand, found: &EnoughPlants) -> Self {
        let does = found.performance;
        Self {
            n: found.n,
            power: does.power(),
            power_against_first: does.power_against_first,
            power_against_second: does.power_against_second,
            size_of_first: does.size_of_first,
            size_of_second: does.size_of_second,
            power_asked: demand.power,
            size_asked: demand.size,
            first_n: found.first,
            tried_to: found.tried,
            whole_run: found.is_whole_run,
            ratios,
        }
    }
}

impl Answer for EnoughAnswer {
    fn words(&self, page: Page) -> String {
        let [one, other] = &self.ratios;
        let head = format!(
            "Count {} to tell {one} from {other}: whichever is true, the other is then ruled out with {} or more.",
            several(self.n, "plant", "plants"),
            percent(self.power_asked)
        );
        let mut lines = vec![
            format!(
                "if {other} is true, {one} is ruled out with {}",
                percent(self.power_against_first)
            ),
            format!(
                "if {one} is true, {other} is ruled out with {}",
                percent(self.power_against_second)
            ),
            format!(
                "ruled out: the exact test gives a p of at most {}; it does so to a true {one} in {}, to a true {other} in {}",
                self.size_asked,
                percent(self.size_of_first),
                percent(self.size_of_second)
            ),
        ];
        if self.first_n < self.n {
            lines.push(format!(
                "{} can do, but of the numbers up to {} some do not: counts are whole, so the power jumps",
                several(self.first_n, "plant", "plants"),
                self.n - 1
            ));
        }
        if !self.whole_run {
            let tried = match self.tried_to > self.n {
                true => format!("of larger numbers those up to {} were tried", self.tried_to),
                false => "no larger number was tried".to_owned(),
            };
            lines.push(format!(
                "{tried}: the sums grow too long, so a few beyond that may do a little less"
            ));
        }
        lines.push("every plant counted, none pulled for its look before".to_owned());
        lines.push("with 5 or more expected in every class 'ratio' goes by the chi-square, which rules out a little more often, true ratios as well".to_owned());
        let head = wrapped(&head, page.width, "");
        format!("{head}\n\n{}", rests_on(&lines, page.width))
    }
}
