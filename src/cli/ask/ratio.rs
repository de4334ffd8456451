//! `ratio`: tests on counts.

use clap::Args;

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::genetics::pointer::pointed;
use crate::genetics::ratio::{Ratio, RatioError};
use crate::report::ratio::Tested;
use crate::stats::counts::goodness_of_fit;

/// Largest count that is read, far above any tray.
const LARGEST_COUNT: u64 = 1_000_000;

/// Do counts fit a ratio? Bare counts (`ratio 315 108 101 32 --to 9:3:3:1`), or trays and crosses of the
/// ledger (`ratio T1 T2`), whose label then gives the ratio
#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
pub struct RatioArgs {
    /// Counts, class by class; or trays and crosses
    #[arg(required_unless_present = "models", value_name = "COUNT|CODE")]
    counts: Vec<String>,
    /// The ratio to test against, such as 3:1; without it bare counts are held against the usual ratios, trays
    /// against what their label gives
    #[arg(long, value_name = "RATIO")]
    to: Option<String>,
    /// The trait counted in trays and crosses; without it the bench trait, or the one that was read
    #[arg(long = "trait", value_name = "TRAIT")]
    of: Option<String>,
    /// Which model fits? Of trays and crosses, without any all that were scored: the trait's gene models against each
    /// other by what their parents give, and the usual ratios cross by cross
    #[arg(long, conflicts_with = "to")]
    models: bool,
}

impl RatioArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the counts or the ratio cannot be read or do not belong together.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let is_code = |text: &&String| text.starts_with(char::is_alphabetic);
        let codes: Vec<&String> = self.counts.iter().filter(is_code).collect();
        if let Some(number) = self.counts.iter().find(|text| !is_code(text))
            && !codes.is_empty()
        {
            let codes: Vec<&str> = codes.into_iter().map(String::as_str).collect();
            return Err(Failure::usage(format!(
                "'{number}' is no tray or cross, and a bare count does not stand beside one"
            ))
            .try_typing(format!("locule ratio {}", codes.join(" "))));
        }
        if self.models && codes.len() == self.counts.len() {
            return super::ratio_gene_models::answer(world, &self.counts, self.of.as_deref());
        }
        if !codes.is_empty() {
            let (to, of) = (self.to.as_deref(), self.of.as_deref());
            return super::ratio_trays::answer(world, &self.counts, to, of);
        }
        if self.of.is_some() {
            return Err(Failure::usage("--trait says nothing about bare counts")
                .try_typing("locule ratio T1 --trait foliage"));
        }
        let counts = self
            .counts
            .iter()
            .map(|text| read_count(text))
            .collect::<Result<Vec<_>, _>>()?;
        match &self.to {
            Some(to) => test(world, &counts, to),
            None => super::ratio_models::answer(world, &counts),
        }
    }
}

/// A count as typed.
///
/// # Errors
/// [`Failure`] where it is none.
pub fn read_count(text: &str) -> Result<u64, Failure> {
    let fault = |why: &str| {
        let digits = text.chars().take_while(char::is_ascii_digit).count();
        let pointer = pointed(text, digits);
        let failure = Failure::usage(format!("'{text}' is no count: {why}"));
        let is_long = digits < text.chars().count();
        let lines = pointer.lines().filter(|_| is_long);
        lines
            .fold(failure, Failure::because)
            .try_typing("locule ratio 88 30 --to 3:1")
    };
    if text.starts_with('-') {
        return Err(fault("a count is a whole number from 0 up"));
    }
    if !text.bytes().all(|byte| byte.is_ascii_digit()) {
        return Err(fault("give whole numbers only, or codes only"));
    }
    match text.parse() {
        Ok(count) if count <= LARGEST_COUNT => Ok(count),
        _ => Err(fault("it is more than a million")),
    }
}

/// A ratio of so many classes as it is typed.
fn usual_ratio(classes: usize) -> &'static str {
    match classes {
        3 => "1:2:1",
        4 => "9:3:3:1",
        _ => "3:1",
    }
}

/// The ratio typed with `--to`, of a number of classes.
///
/// # Errors
/// [`Failure`] where it is none, or one of another number of parts.
pub fn read_ratio(to: &str, classes: usize) -> Result<Ratio, Failure> {
    let ratio: Ratio = to.parse().map_err(|error: RatioError| {
        let pointer = pointed(to, Ratio::fault_place(to));
        let failure = Failure::usage(format!("--to '{to}' is no ratio"));
        pointer
            .lines()
            .fold(failure, Failure::because)
            .because(error.to_string())
            .try_flag("--to", usual_ratio(classes))
    })?;
    if ratio.parts().len() != classes {
        return Err(Failure::usage(format!(
            "{classes} counts, but {ratio} has {} parts",
            ratio.parts().len()
        ))
        .because("every class takes one count and one part of the ratio, in the same order")
        .try_typing("locule ratio 88 30 --to 3:1"));
    }
    Ok(ratio)
}

fn test(world: &World, counts: &[u64], to: &str) -> Result<Outcome, Failure> {
    let ratio = read_ratio(to, counts.len())?;
    let fit = goodness_of_fit(counts, &ratio.probabilities(), 0);
    Ok(world.answer(&Tested::new(&fit, Some(ratio.to_string()), &[])))
}
