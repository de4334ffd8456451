//! The answer of `linkage`: how often two loci are parted, in words and in the JSON that scripts rely on.

use serde::Serialize;

use super::numbers::{count, p_value};
use super::ratio::{Ends, Tested};
use super::table::Table;
use super::text::{listed, wrapped};
use super::{Answer, Page};
use crate::diagnosis::two_point::{JointLinkage, Linkage};
use crate::genetics::two_point::Phase;
use crate::stats::curve::Estimate;

/// From this LOD on two loci count as shown to be linked: odds of a thousand to one (Morton 1955, American Journal
/// of Human Genetics 7:277-318; a convention).
const SHOWN: f64 = 3.0;

/// Below this p the counts are said not to fit, by convention only.
const USUAL_LEVEL: f64 = 0.05;

/// Fewer times likelier than this and the phase is said to be open (design choice).
const CLEAR: f64 = 20.0;

/// Two loci and what the counts say of them.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairLine {
    /// The loci.
    pub loci: [String; 2],
    /// The recombination fraction of highest likelihood; above one half where the stated phase is the wrong one, or by
    /// chance where the loci are independent.
    pub r: f64,
    /// Its standard error, by the expected information.
    pub se: Option<f64>,
    /// The same by the observed information.
    pub se_observed: Option<f64>,
    /// 95 % likelihood interval.
    pub interval: Ends,
    /// log10 of the likelihood over that of independence.
    pub lod: f64,
    /// Map distance in centimorgans (Haldane).
    pub cm: Option<f64>,
    /// The lower end's distance.
    pub cm_low: Option<f64>,
    /// The upper end's distance.
    pub cm_high: Option<f64>,
    /// How the alleles lie: `coupling`, `repulsion`; of mother and father where they differ `coupling/repulsion`.
    pub phase: String,
    /// Whether the phase was stated.
    pub phase_stated: bool,
    /// How many times likelier this phase is than the next best.
    pub phase_times: Option<f64>,
    /// The counts beside what the estimate expects, and the tests of the fit.
    pub fit: Tested,
    /// What the counts would give were they taken as 9:3:3:1 of two plain genes, where they are not.
    pub plain_r: Option<f64>,
    /// All of it in one sentence.
    pub sentence: String,
}

/// What counts say of pairs of loci.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LinkageAnswer {
    /// Where the counts come from.
    pub from: String,
    /// Plants counted.
    pub n: u64,
    /// The pairs of loci.
    pub pairs: Vec<PairLine>,
    /// Where several sets of counts were taken together, each by itself and whether they agree.
    pub together: Option<Together>,
    /// What to know of the counts.
    pub remarks: Vec<String>,
}

/// Several sets of counts that were taken together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Together {
    /// Each by itself.
    pub sets: Vec<SetLine>,
    /// How far they differ: twice the difference of the log likelihoods.
    pub heterogeneity: f64,
    /// One less than there are sets.
    pub df: usize,
    /// The chance of differing so much by chance alone.
    pub p: f64,
}

/// One set of counts by itself.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetLine {
    /// What was counted: `F2 in coupling`.
    pub from: String,
    /// Its own estimate.
    pub r: f64,
    /// The standard error of that.
    pub se: Option<f64>,
}

impl Together {
    /// Of a joint estimate; `said` names each set.
    #[must_use]
    pub fn new(found: &JointLinkage, said: &[String]) -> Self {
        let line = |(own, from): (&Estimate, &String)| SetLine {
            from: from.clone(),
            r: own.value,
            se: own.se,
        };
        Self {
            sets: found.each.iter().zip(said).map(line).collect(),
            heterogeneity: found.heterogeneity,
            df: found.df,
            p: found.p,
        }
    }

    fn sentence(&self) -> String {
        let line = |set: &SetLine| format!("{} {}", set.from, percent_of(set.r));
        let lines: Vec<String> = self.sets.iter().map(line).collect();
        let verdict = match self.p < USUAL_LEVEL {
            true => "they do not agree, so do not lean on the joint figure",
            false => "they agree",
        };
        format!(
            "Each set by itself: {}; {verdict} (p = {}).",
            listed(&lines, "and"),
            p_value(self.p)
        )
    }
}

impl PairLine {
    /// Of an estimate; `names` names the classes.
    #[must_use]
    pub fn new(loci: [String; 2], found: &Linkage, names: &[String], plain_r: Option<f64>) -> Self {
        let estimate = &found.estimate;
        let mut line = Self {
            loci,
            r: estimate.value,
            se: estimate.se,
            se_observed: estimate.se_observed,
            interval: Ends {
                low: estimate.low,
                high: estimate.high,
            },
            lod: found.lod,
            cm: found.distance,
            cm_low: found.distances[0],
            cm_high: found.distances[1],
            phase: phase_words(found.phases),
            phase_stated: found.times.is_none(),
            phase_times: found.times,
            fit: Tested::new(&found.fit, None, names),
            plain_r,
            sentence: String::new(),
        };
        line.sentence = line.in_words();
        line
    }

    fn in_words(&self) -> String {
        let se = self
            .se
            .map_or_else(String::new, |se| format!("standard error {se:.4}, "));
        let sentence = format!(
            "{} and {} are parted in {} of meioses ({se}95 % interval {} to {}), LOD {:.2}",
            self.loci[0],
            self.loci[1],
            percent_of(self.r),
            percent_of(self.interval.low),
            percent_of(self.interval.high),
            self.lod,
        );
        let distance = self.cm.map(|cm| format!("about {cm:.1} cM apart"));
        let verdict = match distance {
            _ if self.r >= 0.5 && self.lod >= SHOWN => {
                "above one half beyond chance, so the phase is the other one than stated".to_owned()
            }
            _ if self.r >= 0.5 => "no sign of linkage".to_owned(),
            Some(distance) if self.lod >= SHOWN => format!("linked, {distance}"),
            _ => "not shown to be linked: that takes a LOD of 3".to_owned(),
        };
        format!("{sentence}: {verdict}.")
    }

    fn phase_sentence(&self) -> Option<String> {
        let times = self.phase_times?;
        Some(if times > CLEAR {
            format!(
                "The phase was not stated; {} is {} times likelier than the next best.",
                self.phase,
                if times > 1e6 {
                    "over a million".to_owned()
                } else {
                    format!("{times:.0}")
                }
            )
        } else {
            format!(
                "The phase was not stated, and the counts do not tell it: {} is only {times:.1} times likelier.",
                self.phase
            )
        })
    }

    fn fit_sentence(&self) -> Option<String> {
        let p = self.fit.p?;
        let classes = &self.fit.classes;
        Some(match p < USUAL_LEVEL && classes.len() > 2 {
            true => format!(
                "The counts do not fit even so (p = {}): another gene, selection or misreading can lie behind it, and the estimate leans on the model.",
                p_value(p)
            ),
            false => format!("The counts fit (p = {}).", p_value(p)),
        })
    }

    fn table(&self, page: Page) -> String {
        let mut table = Table::new(&["class", ">seen", ">expected"]);
        for (at, line) in self.fit.classes.iter().enumerate() {
            table.row([
                line.class.clone().unwrap_or_else(|| (at + 1).to_string()),
                line.observed.to_string(),
                count(line.expected),
            ]);
        }
        table.text(page)
    }
}

/// A recombination fraction as a percentage with one decimal.
fn percent_of(r: f64) -> String {
    format!("{:.1} %", 100.0 * r)
}

fn phase_words(phases: [Option<Phase>; 2]) -> String {
    match phases {
        [Some(one), Some(other)] if one != other => format!("{}/{}", one.word(), other.word()),
        [Some(one), _] | [None, Some(one)] => one.word().to_owned(),
        [None, None] => String::new(),
    }
}

impl Answer for LinkageAnswer {
    fn words(&self, page: Page) -> String {
        let mut blocks = vec![wrapped(
            &format!("{}, {} plants", self.from, self.n),
            page.width,
            "  ",
        )];
        let mut table = None;
        for pair in &self.pairs {
            let here = pair.table(page);
            if table.as_ref() != Some(&here) {
                blocks.push(here.clone());
                table = Some(here);
            }
            let mut said = vec![pair.sentence.clone()];
            said.extend(pair.phase_sentence());
            said.extend(pair.fit_sentence());
            said.extend(pair.plain_r.map(|r| {
                format!(
                    "Taken as 9:3:3:1 of two plain genes the same counts would give {}.",
                    percent_of(r)
                )
            }));
            said.extend(self.together.as_ref().map(Together::sentence));
            blocks.push(wrapped(&said.join(" "), page.width, ""));
        }
        if !self.remarks.is_empty() {
            blocks.push(wrapped(&self.remarks.join(" "), page.width, ""));
        }
        blocks.join("\n\n")
    }
}
