//! `score`: readings and tallies.

use clap::Args;

use super::typed;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::code::Code;
use crate::records::count::Count;
use crate::records::entry::{Entry, Score, ScoreWhat, Tasted};
use crate::records::rows::TasteMethod;
use crate::records::text::shown;
use crate::report::tasting::CAUTION;

/// Record what seedlings or parents look like.
///
/// A tally of a tray or cell: `score T1 purple=9 green=2`, `score T1-02 3 purple 1 green`. Single
/// seedlings: `score T1-03 green`, `score T1 1-6=purple 7=maybe-green 8=early`. A parent:
/// `score NL purple`. `maybe-` marks a doubtful look; `early` and `dim` say that nothing could be told
/// yet. Two traits at once: `purple/hairy=5`.
#[derive(Debug, Args)]
#[command(
    after_help = format!("Examples (a tally of a tray, of a cell, cells 1 to 6 and two more one by one, one seedling, one parent, two traits at once, a tasting):\n  locule score T1 purple=9 green=2\n  locule score T1-02 3 purple 1 green\n  locule score T1 1-6=purple 7=maybe-green 8=early\n  locule score T1-03 green\n  locule score NL purple\n  locule score T1 purple/hairy=5\n  locule score K1 not-hot --tasted tip\n{CAUTION}")
)]
pub struct ScoreArgs {
    /// The tray, cell, seedling or parent, and what was seen
    #[arg(required = true, allow_negative_numbers = true, value_name = "WORDS")]
    words: Vec<String>,
    /// The trait that the class words belong to
    #[arg(long = "trait", value_name = "TRAIT")]
    of: Option<Code>,
    /// The age in leaves, of single seedlings
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    leaves: Option<Count>,
    /// Of hot or not: it was tasted, and what of the pod. A mild tip proves little, a hot one much
    #[arg(long, value_name = "tip|wall|placenta")]
    tasted: Option<String>,
}

impl ScoreArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        let (target, words) = typed::target_first(&self.words)?;
        let what = typed::score(&target, &words)?;
        if self.leaves.is_some() && matches!(what, ScoreWhat::Tally(_)) {
            return Err(
                Failure::usage("--leaves is of single seedlings, and this is a tally").try_typing(
                    format!("locule score {}-03 purple --leaves 4", target.code()),
                ),
            );
        }
        let score = Score {
            target,
            what,
            of: self.of,
            leaves: self.leaves,
            day: world.day()?,
        };
        Ok(match self.tasted {
            Some(word) => Entry::Tasted(Tasted {
                score,
                method: method(&word)?,
            }),
            None => Entry::Score(score),
        })
    }
}

/// What of the pod was tasted, by its word.
fn method(word: &str) -> Result<TasteMethod, Failure> {
    let mut known = TasteMethod::ALL.iter();
    let found = known.find(|method| method.word().eq_ignore_ascii_case(word.trim()));
    found.copied().ok_or_else(|| {
        let words: Vec<&str> = TasteMethod::ALL
            .iter()
            .map(|method| method.word())
            .collect();
        Failure::usage(format!(
            "'{}' is no part of a pod that is tasted",
            shown(word)
        ))
        .because(format!("--tasted takes {}", words.join(", ")))
        .try_flag("--tasted", "tip")
    })
}
