//! The answer of `ratio` on trays and crosses: each tray, the trays of a cross together, several crosses.

use serde::Serialize;

use super::numbers::p_value;
use super::pulling::{PullingLine, biased_together};
use super::ratio::{Tested, USUAL_LEVEL};
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};
use crate::stats::heterogeneity;

/// One tray tested.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrayLine {
    /// Its code.
    pub tray: String,
    /// Its cross, or the parent whose packet was sown.
    pub cross: String,
    /// The trait.
    #[serde(rename = "trait")]
    pub of: String,
    /// Of the seedlings counted, those of a doubtful reading.
    pub doubtful: u64,
    /// Of the seedlings counted, those found not hot by a taste of the tip or wall alone.
    pub tasted_mild: u64,
    /// Whether seedlings were pulled for their looks before the count, which biases it.
    pub pulled_before: bool,
    /// What pulling did to the counts.
    pub pulling: PullingLine,
    /// Readings that the counts leave out, a sentence each.
    pub left_out: Vec<String>,
    /// Classes seen although the seedlings were too young to expect them; then the final ratio is tested.
    pub too_young: Vec<String>,
    /// Whether the shares expected are those of the readings' ages, at which not all show yet what they end in.
    pub at_an_age: bool,
    /// The tests against what the label ends in, where that fits and only a class that shows late came sooner than expected.
    pub sooner: Option<Tested>,
    /// The tests.
    #[serde(flatten)]
    pub tested: Tested,
}

/// A statistic with its degrees of freedom and p.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Statistic {
    /// Chi-square or G.
    pub value: f64,
    /// Degrees of freedom.
    pub df: usize,
    /// Its p; nothing without degrees of freedom.
    pub p: Option<f64>,
}

impl From<heterogeneity::Tested> for Statistic {
    fn from(tested: heterogeneity::Tested) -> Self {
        Self {
            value: tested.value,
            df: tested.df,
            p: tested.p,
        }
    }
}

/// One statistic of several trays, taken apart.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Parts {
    /// The sum over the trays.
    pub total: Statistic,
    /// Of the counts added up.
    pub pooled: Statistic,
    /// The rest: how much the trays differ among themselves.
    pub heterogeneity: Statistic,
}

/// Do the trays of a cross agree with each other?
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Agreement {
    /// Heterogeneity chi-square.
    pub chi2: f64,
    /// Its degrees of freedom.
    pub df: usize,
    /// Its p.
    pub p: Option<f64>,
    /// Pearson's chi-square taken apart.
    pub by_chi2: Parts,
    /// G taken apart.
    pub by_g: Parts,
}

impl Agreement {
    /// From the statistics of the trays.
    #[must_use]
    pub fn new(found: &heterogeneity::Heterogeneity) -> Self {
        let parts = |partition: &heterogeneity::Partition| Parts {
            total: partition.total.into(),
            pooled: partition.pooled.into(),
            heterogeneity: partition.heterogeneity.into(),
        };
        let by_chi2 = parts(&found.chi2);
        Self {
            chi2: by_chi2.heterogeneity.value,
            df: by_chi2.heterogeneity.df,
            p: by_chi2.heterogeneity.p,
            by_chi2,
            by_g: parts(&found.g),
        }
    }
}

/// The trays of one cross together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrossLine {
    /// The cross, or the parent whose packet was sown.
    pub cross: String,
    /// Its trays.
    pub trays: Vec<String>,
    /// The tests of the counts added up.
    pub pooled: Tested,
    /// Whether the trays agree with each other; nothing for a single tray or an impossible class.
    pub heterogeneity: Option<Agreement>,
    /// The p of the pooled counts adjusted by Holm for the number of crosses asked about.
    pub p_holm: Option<f64>,
    /// Trays whose count lacks seedlings that were pulled for their looks.
    pub biased: Vec<String>,
    /// The p of the other trays together, where there are both.
    pub p_of_others: Option<f64>,
}

/// How the loci that a trait reads lie, as the expectation took them.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct Linkage {
    /// Recombination that was used: `Y and Fa at 0.1`.
    pub used: Vec<String>,
    /// Loci taken as independent: on different chromosomes, or with no place recorded.
    pub independent: Vec<String>,
    /// Pairs on one chromosome taken as independent since nobody has stated their distance.
    pub distance_open: Vec<String>,
    /// Parents whose linked alleles may lie either way.
    pub phase_open: Vec<String>,
}

impl Linkage {
    /// In sentences.
    #[must_use]
    pub fn words(&self) -> Vec<String> {
        let mut said = Vec::new();
        if !self.used.is_empty() {
            let used = listed(&self.used, "and");
            said.push(format!(
                "Linkage as recorded is in what is expected: {used}."
            ));
        }
        if !self.phase_open.is_empty() {
            let open = listed(&self.phase_open, "and");
            said.push(format!(
                "The phase of {open} is not stated: either way of lying counts as equally likely."
            ));
        }
        if !self.distance_open.is_empty() {
            let open = listed(&self.distance_open, "and");
            said.push(format!(
                "On one chromosome, but taken as independent, since nobody has stated how far apart: {open}; 'locule locus set' with --recombines states it."
            ));
        }
        for loci in &self.independent {
            said.push(format!("{loci} are taken as independent."));
        }
        said
    }
}

/// Trays held against their labels or a ratio.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TraysAnswer {
    /// Tray by tray.
    pub batches: Vec<TrayLine>,
    /// Whether the trays agree with each other, where they are several of one cross.
    pub heterogeneity: Option<Agreement>,
    /// Cross by cross.
    pub crosses: Vec<CrossLine>,
    /// Trays that were left out, since they were not scored for the trait.
    pub not_scored: Vec<String>,
    /// How the loci of the trait lie; says nothing where a ratio was typed or the trait reads one locus.
    pub linkage: Linkage,
    /// What is not stated of a parent, so that the shares expected rest on starting beliefs: `NL at A`.
    pub not_stated: Vec<String>,
}

impl Answer for TraysAnswer {
    fn words(&self, page: Page) -> String {
        let mut parts: Vec<String> = self
            .batches
            .iter()
            .map(|line| tray_words(line, page))
            .collect();
        for cross in &self.crosses {
            parts.extend(cross_words(cross, self.crosses.len(), page));
        }
        let mut linkage = self.linkage.words();
        if !self.not_stated.is_empty() {
            let open = listed(&self.not_stated, "and");
            linkage.push(format!(
                "Not stated: {open}; there the shares expected rest on the starting beliefs, and counts that do not fit may only show what the parent is ('locule genotype')."
            ));
        }
        if !linkage.is_empty() {
            let lines: Vec<String> = linkage
                .iter()
                .map(|line| wrapped(line, page.width, ""))
                .collect();
            parts.push(lines.join("\n"));
        }
        if !self.not_scored.is_empty() {
            let said = format!("Not scored for it: {}.", self.not_scored.join(", "));
            parts.push(wrapped(&said, page.width, ""));
        }
        parts.join("\n\n")
    }
}

fn label_ratio(tested: &Tested) -> String {
    match &tested.ratio {
        Some(ratio) if ratio.contains(':') => ratio.clone(),
        _ => "the label".to_owned(),
    }
}

fn tray_words(line: &TrayLine, page: Page) -> String {
    let label = label_ratio(&line.tested);
    let at_an_age = if line.at_an_age {
        " at the age of the readings"
    } else {
        ""
    };
    let heading = format!(
        "{} ({}), {} against {label}{at_an_age}",
        line.tray, line.cross, line.of
    );
    let remarks = remarks_of(line);
    let body = match &line.sooner {
        Some(end) => {
            let verdict = sooner_words(end, &label, line.tested.p);
            line.tested.body_saying(&verdict, &remarks, page)
        }
        None => line.tested.body(&label, &remarks, page),
    };
    format!("{}\n\n{body}", shown(&heading))
}

/// That the time of colouring is what does not fit, and not the shares.
fn sooner_words(end: &Tested, label: &str, p_now: Option<f64>) -> String {
    let fit = match end.p.filter(|_| end.df > 0) {
        Some(p) => format!("The counts fit what the label ends in (p = {})", p_value(p)),
        None => format!("Only what {label} ends in was seen"),
    };
    let now = p_now.map_or_else(String::new, |p| format!(" (p = {})", p_value(p)));
    format!(
        "{fit}. What does not fit is the time{now}: they coloured sooner than is believed of the trait, which says nothing against the cross; 'locule late-colour fit' learns how late colour comes at your place."
    )
}

/// What has to be known of a tray's counts.
fn remarks_of(line: &TrayLine) -> Vec<String> {
    let mut said = Vec::new();
    if line.at_an_age {
        said.push(
            "What is expected is what shows at the age of the readings; some colour only later ('--to' tests a bare ratio).".to_owned(),
        );
    }
    if !line.too_young.is_empty() {
        said.push(format!(
            "Too young to expect {} yet, so the counts are held against what the label ends in; seedlings that can still turn are taken as not yet turned.",
            listed(&line.too_young, "or")
        ));
    }
    let names: Vec<&str> = (line.tested.classes.iter())
        .filter_map(|class| class.class.as_deref())
        .collect();
    said.extend(line.pulling.words(&names));
    if line.doubtful > 0 {
        let were = if line.doubtful == 1 {
            "was a doubtful reading"
        } else {
            "were doubtful readings"
        };
        said.push(format!(
            "{} of them {were}, taken as written.",
            line.doubtful
        ));
    }
    if line.tasted_mild > 0 {
        let rest = if line.tasted_mild == 1 {
            "rests"
        } else {
            "rest"
        };
        said.push(format!(
            "{} of those without heat {rest} on a taste of the tip or wall alone, which misses many hot pods; taste the placenta before you trust the ratio ('suspects' and 'genotype' weigh it).",
            line.tasted_mild
        ));
    }
    said.extend(line.left_out.iter().cloned());
    said
}

fn cross_words(cross: &CrossLine, crosses: usize, page: Page) -> Option<String> {
    if cross.trays.len() < 2 && crosses < 2 {
        return None;
    }
    let mut said = Vec::new();
    if cross.trays.len() > 1 {
        let label = label_ratio(&cross.pooled);
        said.push(format!(
            "{}, its trays {} together, against {label}",
            cross.cross,
            listed(&cross.trays, "and")
        ));
        said.push(String::new());
        let agreement = agreement_words(cross.heterogeneity.as_ref());
        let mut remarks = vec![agreement];
        remarks.extend(biased_together(&cross.biased, cross.p_of_others));
        said.push(cross.pooled.body(&label, &remarks, page));
    }
    if let (true, Some(p)) = (crosses > 1, cross.p_holm) {
        said.push(wrapped(
            &format!(
                "{}: with {crosses} crosses asked about at once its p is {} (Holm).",
                cross.cross,
                p_value(p)
            ),
            page.width,
            "",
        ));
    }
    (!said.is_empty()).then(|| said.join("\n"))
}

fn agreement_words(found: Option<&Agreement>) -> String {
    match found {
        None => "Whether the trays agree with each other cannot be tested: a class that cannot come was seen.".to_owned(),
        Some(Agreement { chi2, df, p: Some(p), .. }) => {
            let verdict = if *p < USUAL_LEVEL { "the trays differ among themselves" } else { "the trays agree with each other" };
            {
                let degrees = if *df == 1 { "degree" } else { "degrees" };
                format!("Heterogeneity chi-square {chi2:.4} with {df} {degrees} of freedom, p = {}: {verdict}.", p_value(*p))
            }
        }
        Some(_) => "The trays leave no degree of freedom to tell whether they agree.".to_owned(),
    }
}
