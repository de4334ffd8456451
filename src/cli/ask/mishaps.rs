//! `mishaps`: how often something goes wrong with the ledger's own trays, and what more care would have bought.

use clap::{Args, ValueEnum};

use super::late_colour::four_digits;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::mishaps::{Grouping, Mishaps, learn, share_keys};
use crate::records::assumptions::Assumptions;
use crate::records::entry::{Assume, Entry};
use crate::records::facts::Facts;
use crate::report::late_colour::Stored;
use crate::report::mishaps::MishapsAnswer;
use crate::report::recorded::RecordedAnswer;

/// Show how often something went wrong with your trays, and learn it from them
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  locule mishaps\n  locule mishaps --by tool\n  locule mishaps --store"
)]
pub struct MishapsArgs {
    /// How trays are told apart
    #[arg(long, value_name = "WHAT", value_enum, default_value_t = By::Technique)]
    by: By,
    /// Take the fitted figures into the starting beliefs, as one entry of the history
    #[arg(long)]
    store: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum By {
    /// By how the flowers were treated
    Technique,
    /// By the tool and whether it was wiped; crosses only
    Tool,
}

impl MishapsArgs {
    /// Answers, and records where that is asked for.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or written, or there is nothing that can be stored.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let grouping = match self.by {
            By::Technique => Grouping::ByTechnique,
            By::Tool => Grouping::ByTool,
        };
        if self.store && grouping == Grouping::ByTool {
            return Err(Failure::usage(
                "the starting beliefs go by technique; figures by tool cannot be stored",
            )
            .try_typing("locule mishaps --store"));
        }
        let (_, facts) = world.ask()?;
        let mishaps = learn(&facts, grouping)?;
        if !self.store {
            return Ok(world.answer(&MishapsAnswer::new(&mishaps, None)));
        }
        if mishaps.has_settled() && !world.even_so {
            return Err(Failure::refused(
                "nothing was stored: no figure has moved beyond its standard error from those in use",
            )
            .because("--even-so stores them all the same")
            .try_typing("locule mishaps"));
        }
        let beliefs = changed(&facts, &mishaps);
        if beliefs.is_empty() {
            let why = if mishaps.batches == 0 {
                "there is nothing to store: no tray with a telling reading yet"
            } else {
                "there is nothing to store: the fitted figures are those in use"
            };
            return Err(Failure::refused(why).try_typing("locule mishaps"));
        }
        let pair = |one: &Assume| Some(format!(" {} {}", one.key, one.value.as_ref()?));
        let pairs: String = beliefs.iter().filter_map(pair).collect();
        let entry = Entry::AssumeAll(beliefs);
        let recorded = world.record_as(&entry, &format!("assume{pairs}"))?;
        let said = RecordedAnswer::new(recorded.entry, &recorded.facts, &recorded.admitted);
        let stored = Stored {
            entry: recorded.entry,
            recorded: said.recorded,
        };
        let answer = MishapsAnswer::new(&mishaps, Some(stored));
        Ok(world.answer(&answer).kept(recorded.entry))
    }
}

/// A kind of source that fewer trays than this are expected to have says nothing of its share.
const WORTH_STORING: f64 = 0.5;

/// The starting beliefs that the fit changes, to four digits.
fn changed(facts: &Facts, mishaps: &Mishaps) -> Vec<Assume> {
    if mishaps.batches == 0 {
        return Vec::new();
    }
    let beliefs = Assumptions::of(facts);
    let shares = mishaps
        .shares
        .iter()
        .filter(|share| share.batches < WORTH_STORING);
    let silent: Vec<&str> = shares.flat_map(|share| share_keys(share.kind)).collect();
    let one = |(key, value): (&'static str, f64)| {
        let text = four_digits(value);
        let now = beliefs.get(key).map(four_digits);
        (now.as_ref() != Some(&text) && !silent.contains(&key)).then(|| Assume {
            key: key.to_owned(),
            value: Some(text),
        })
    };
    mishaps.fitted().into_iter().filter_map(one).collect()
}
