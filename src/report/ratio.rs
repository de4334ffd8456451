//! The answer of `ratio`: tests on counts, in words and in the JSON that scripts rely on.

use serde::Serialize;

use super::numbers::{count, p_value, percent, several, share};
use super::table::Table;
use super::text::{listed, wrapped};
use super::{Answer, Page};
use crate::stats::counts::{Decides, GoodnessOfFit};
use crate::stats::intervals::{clopper_pearson, wilson};

/// Confidence of the intervals shown.
const CONFIDENCE: f64 = 0.95;

/// Below this p a ratio is said not to fit; the usual level, by convention only.
pub const USUAL_LEVEL: f64 = 0.05;

/// The two ends of an interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Ends {
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

/// One class: its name where it has one, what was seen and what is expected.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClassLine {
    /// Its name; nothing for bare counts.
    pub class: Option<String>,
    /// Plants counted.
    pub observed: u64,
    /// Plants expected.
    pub expected: f64,
    /// Share of the plants counted; nothing where none was counted.
    pub share: Option<f64>,
    /// 95 % interval of the share by Wilson's score.
    pub wilson: Ends,
    /// 95 % interval of the share by Clopper and Pearson's exact tails.
    pub clopper_pearson: Ends,
}

/// The tests of one table of counts, under the names that scripts rely on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tested {
    /// Plants counted.
    pub n: u64,
    /// The ratio tested, where it is one of whole numbers.
    pub ratio: Option<String>,
    /// The classes, in order.
    pub classes: Vec<ClassLine>,
    /// Pearson's chi-square.
    pub chi2: Option<f64>,
    /// Degrees of freedom.
    pub df: usize,
    /// Its p.
    pub p_chi2: Option<f64>,
    /// Yates' value, two classes only.
    pub yates: Option<f64>,
    /// Its p.
    pub p_yates: Option<f64>,
    /// The G statistic.
    pub g: Option<f64>,
    /// Its p.
    pub p_g: Option<f64>,
    /// The exact multinomial p; nothing where it was not computed.
    pub p_exact: Option<f64>,
    /// Which p decides.
    pub decides: &'static str,
    /// The p that decides.
    pub p: Option<f64>,
    /// How many half-outcomes the exact test would have had to list, where it was declined.
    pub exact_declined: Option<f64>,
}

impl Tested {
    /// The tests of counts against a ratio; `names` names the classes or is empty.
    #[must_use]
    pub fn new(fit: &GoodnessOfFit, ratio: Option<String>, names: &[String]) -> Self {
        let line = |(at, class): (usize, &crate::stats::counts::ClassCount)| {
            let (w, c) = (
                wilson(class.observed, fit.n, CONFIDENCE),
                clopper_pearson(class.observed, fit.n, CONFIDENCE),
            );
            ClassLine {
                class: names.get(at).cloned(),
                observed: class.observed,
                expected: class.expected,
                share: (fit.n > 0).then(|| class.observed as f64 / fit.n as f64),
                wilson: Ends {
                    low: w.low,
                    high: w.high,
                },
                clopper_pearson: Ends {
                    low: c.low,
                    high: c.high,
                },
            }
        };
        Self {
            n: fit.n,
            ratio,
            classes: fit.classes.iter().enumerate().map(line).collect(),
            chi2: fit.chi2,
            df: fit.df,
            p_chi2: fit.p_chi2,
            yates: fit.yates,
            p_yates: fit.p_yates,
            g: fit.g,
            p_g: fit.p_g,
            p_exact: fit.p_exact,
            decides: match fit.decides {
                Decides::Chi2 => "chi2",
                Decides::Exact => "exact",
                Decides::Impossible => "impossible",
            },
            p: fit.p,
            exact_declined: fit.exact_declined.map(|size| size.needed as f64),
        }
    }

    /// The classes that cannot occur and were counted, as a sentence names them.
    fn impossible(&self) -> Vec<String> {
        let named = |(at, line): (usize, &ClassLine)| {
            let name = line
                .class
                .clone()
                .unwrap_or_else(|| format!("of class {}", at + 1));
            (line.expected == 0.0 && line.observed > 0).then(|| format!("{} {name}", line.observed))
        };
        self.classes.iter().enumerate().filter_map(named).collect()
    }

    /// The table of classes.
    #[must_use]
    pub fn class_table(&self, page: Page) -> String {
        let mut table = Table::new(&["class", ">seen", ">expected", ">share", "95 % interval"]);
        for (at, line) in self.classes.iter().enumerate() {
            let interval = if self.n == 0 {
                String::new()
            } else {
                format!("{} to {}", share(line.wilson.low), share(line.wilson.high))
            };
            table.row([
                line.class.clone().unwrap_or_else(|| (at + 1).to_string()),
                line.observed.to_string(),
                count(line.expected),
                line.share.map(share).unwrap_or_default(),
                interval,
            ]);
        }
        table.row(["all".to_owned(), self.n.to_string()]);
        table.text(page)
    }

    /// The tests that do not decide, one a line.
    fn other_tests(&self) -> Vec<String> {
        let mut lines = Vec::new();
        let degrees = if self.df == 1 { "degree" } else { "degrees" };
        if let (Some(chi2), Some(p)) = (self.chi2, self.p_chi2) {
            let decided = if self.decides == "chi2" {
                String::new()
            } else {
                format!(", p = {}", p_value(p))
            };
            lines.push(format!(
                "chi-square {chi2:.4} with {} {degrees} of freedom{decided}",
                self.df
            ));
        }
        if let (Some(yates), Some(p)) = (self.yates, self.p_yates) {
            lines.push(format!(
                "chi-square with Yates' correction {yates:.4}, p = {}",
                p_value(p)
            ));
        }
        if let (Some(g), Some(p)) = (self.g, self.p_g) {
            lines.push(format!("G {g:.4}, p = {}", p_value(p)));
        }
        if let Some(p) = self.p_exact.filter(|_| self.decides != "exact") {
            lines.push(format!("exact test, p = {}", p_value(p)));
        }
        lines
    }

    /// The p that decides, what it says, and why that test decides.
    #[must_use]
    pub fn verdict(&self, label: &str) -> String {
        if self.decides == "impossible" {
            let seen = listed(&self.impossible(), "and");
            return format!(
                "Impossible under {label}: {seen} seen where none can come. No test is needed: misread, mislabelled, or not this cross."
            );
        }
        if self.n == 0 {
            return "Nothing was counted, so nothing can be said.".to_owned();
        }
        let Some(p) = self.p.filter(|_| self.df > 0) else {
            return format!(
                "Only one class can come under {label} and only that one was seen: nothing to test."
            );
        };
        format!(
            "p = {}. {} {}",
            p_value(p),
            spoken_fit(p, label),
            self.why()
        )
    }

    fn why(&self) -> String {
        let smallest = self
            .classes
            .iter()
            .map(|line| line.expected)
            .filter(|expected| *expected > 0.0)
            .fold(f64::INFINITY, f64::min);
        match (self.decides, self.exact_declined) {
            ("exact", _) if self.p_chi2.is_none() => {
                "The exact test decides: there is no other.".to_owned()
            }
            ("exact", _) => format!(
                "The exact test decides, since only {} plants are expected in the smallest class (fewer than 5).",
                count(smallest)
            ),
            (_, Some(needed)) if smallest < 5.0 => format!(
                "The chi-square decides with caution: only {} plants are expected in the smallest class, but the exact test would have to list {needed:.0e} half-outcomes and was declined.",
                count(smallest)
            ),
            (_, Some(needed)) => format!(
                "The chi-square decides (at least 5 plants are expected in every class); the exact test would have to list {needed:.0e} half-outcomes and was declined."
            ),
            _ => {
                "The chi-square decides: at least 5 plants are expected in every class.".to_owned()
            }
        }
    }

    /// The classes, what the test that decides says, remarks, and the other tests.
    pub(super) fn body(&self, label: &str, remarks: &[String], page: Page) -> String {
        self.body_saying(&self.verdict(label), remarks, page)
    }

    /// The same with another word on what the test says.
    pub(super) fn body_saying(&self, verdict: &str, remarks: &[String], page: Page) -> String {
        let said = std::iter::once(verdict)
            .chain(remarks.iter().map(String::as_str))
            .map(|line| wrapped(line, page.width, ""))
            .collect::<Vec<_>>();
        let mut parts = vec![self.class_table(page), said.join("\n")];
        let others = self.other_tests();
        if self.decides != "impossible" && self.n > 0 && !others.is_empty() {
            parts.push(format!("The other tests:\n  {}", others.join("\n  ")));
        }
        parts.join("\n\n")
    }
}

impl Answer for Tested {
    fn words(&self, page: Page) -> String {
        let label = self.ratio.clone().unwrap_or_else(|| "the label".to_owned());
        self.body(&label, &[], page)
    }
}

/// What a p says of a ratio, in a sentence.
fn spoken_fit(p: f64, label: &str) -> String {
    let times = if p < 0.001 {
        "less than once in 1,000 times".to_owned()
    } else if p < 0.0995 {
        format!("about {} in 1,000 times", (1000.0 * p).round())
    } else if p > 0.995 {
        "nearly always".to_owned()
    } else {
        format!("about {} in 100 times", (100.0 * p).round())
    };
    if p < USUAL_LEVEL {
        format!(
            "The counts do not fit {label} well: by chance alone they would be this far off {times}."
        )
    } else {
        format!("The counts fit {label}: by chance alone they would be this far off {times}.")
    }
}

/// One ratio that was weighed against others.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModelLine {
    /// What gives it.
    pub meaning: &'static str,
    /// Its share of belief after the counts.
    pub posterior: f64,
    /// The tests against it.
    #[serde(flatten)]
    pub tested: Tested,
}

impl ModelLine {
    fn ratio(&self) -> &str {
        self.tested.ratio.as_deref().unwrap_or_default()
    }
}

/// Counts weighed against the usual ratios.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ModelsAnswer {
    /// The counts.
    pub observed: Vec<u64>,
    /// The classes counted, in order; empty for bare counts.
    pub classes: Vec<String>,
    /// Plants counted.
    pub n: u64,
    /// The ratios, likeliest first.
    pub models: Vec<ModelLine>,
    /// How many more plants would tell the likeliest two apart.
    pub more: Option<MoreLine>,
}

impl Answer for ModelsAnswer {
    fn words(&self, page: Page) -> String {
        let order = if self.classes.is_empty() {
            "Classes are taken in the order typed".to_owned()
        } else {
            format!("Classes are taken in the order {}", self.classes.join(", "))
        };
        let prior = format!("{order}; every ratio in the table started with the same weight.");
        let more = self.more.as_ref().map(MoreLine::words);
        let said = [Some(self.verdict()), more, Some(prior)];
        let said: Vec<String> = said
            .iter()
            .flatten()
            .map(|line| wrapped(line, page.width, ""))
            .collect();
        format!("{}\n\n{}", self.table(page), said.join("\n"))
    }
}

impl ModelsAnswer {
    fn table(&self, page: Page) -> String {
        let mut table = Table::new(&["ratio", ">weight", ">p", "expected", "what gives it"]);
        for line in &self.models {
            let expected: Vec<String> = line
                .tested
                .classes
                .iter()
                .map(|class| format!("{:.1}", class.expected))
                .collect();
            table.row([
                line.ratio().to_owned(),
                percent(line.posterior),
                line.tested.p.map(p_value).unwrap_or_default(),
                expected.join(" "),
                line.meaning.to_owned(),
            ]);
        }
        table.text(page)
    }

    fn verdict(&self) -> String {
        if self.n == 0 {
            return "Nothing was counted, so nothing can be said.".to_owned();
        }
        let fitting: Vec<&str> = self
            .models
            .iter()
            .filter(|line| line.tested.p.is_some_and(|p| p >= USUAL_LEVEL))
            .map(ModelLine::ratio)
            .collect();
        spoken_choice(&fitting, "ratio")
    }
}

/// Which of several explanations fit, with a warning where they are several.
pub(super) fn spoken_choice(fitting: &[&str], what: &str) -> String {
    match fitting {
        [] => format!("None of these {what}s fits the counts well."),
        [one] => format!("Only {one} fits the counts."),
        many => format!(
            "Several {what}s fit: {}. These counts cannot say which is right; the weights say which is the likelier.",
            listed(many, "and")
        ),
    }
}

/// How many more plants would tell two explanations apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoreLine {
    /// The two, the likelier first.
    pub between: [String; 2],
    /// How many more plants; 0 where the counts tell them apart already, nothing where no number would.
    pub more: Option<u64>,
    /// The share of the two together that the true one must weigh.
    pub weight: f64,
    /// The chance, whichever of the two is true, that it does so.
    pub chance: f64,
    /// Whether the number is exact; else it rests on the normal approximation.
    pub exact: bool,
}

impl MoreLine {
    /// In a sentence.
    #[must_use]
    pub fn words(&self) -> String {
        let [one, other] = &self.between;
        let weight = share(self.weight);
        match self.more {
            None => format!(
                "{one} and {other} expect the same of it, so no number of plants tells the two apart."
            ),
            Some(0) => format!(
                "{one} and {other}, the likeliest two, are told apart: {one} weighs at least {weight} of the two together."
            ),
            Some(more) => {
                let about = if self.exact { "" } else { "About " };
                let plants = several(more, "more plant", "more plants");
                format!(
                    "{about}{plants} would tell {one} and {other}, the likeliest two, apart: whichever of the two is true, it then weighs at least {weight} of the two together with a chance of {}.",
                    share(self.chance)
                )
            }
        }
    }
}
