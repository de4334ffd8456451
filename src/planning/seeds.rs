//! How many seeds to sow.
//!
//! A seed is wanted with probability germination x (1 - off share) x p. Off-types are never counted as wanted. With
//! germination known from counts the number that comes up is beta-binomial. In two stages seedlings that do not show
//! an early look are discarded, and the rest potted as far as there are pots. Where the shares come from is not
//! known here; the command `plan seeds` asks.

use crate::stats::power::TrialsNeeded;
use crate::stats::reach::{Begun, Outcome, TooManyStates, Walk, fewest, fewest_begun};
use crate::stats::tails::binomial_tails;

/// The confidences of the table.
pub const CONFIDENCES: [f64; 3] = [0.90, 0.95, 0.99];

/// Numbers wanted in the table, at least.
const FEWEST_ROWS: u64 = 5;

/// Most rows of the table.
const MOST_ROWS: u64 = 12;

/// How seed does, whatever is wanted of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sowing {
    /// How much of it comes up.
    pub germination: Begun,
    /// How much of what comes up is not of the label.
    pub off_share: f64,
}

impl Sowing {
    /// What true seed that comes up may turn out as, the off-types taken out.
    fn thin(&self, outcomes: &[Outcome]) -> Vec<Outcome> {
        let thinned = outcomes.iter().map(|one| Outcome {
            p: (1.0 - self.off_share) * one.p,
            ..one.clone()
        });
        thinned.collect()
    }

    /// The fewest seeds so that every want is reached; nothing where no number that is looked at would do.
    ///
    /// # Errors
    /// [`TooManyStates`].
    pub fn seeds(
        &self,
        wants: &[u64],
        outcomes: &[Outcome],
        confidence: f64,
    ) -> Result<Option<TrialsNeeded>, TooManyStates> {
        fewest(self.germination, wants, &self.thin(outcomes), confidence)
    }
}

/// A row of the table: seeds by confidence, for so many wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// How many are wanted.
    pub want: u64,
    /// Seeds for each of [`CONFIDENCES`].
    pub seeds: [Option<u64>; 3],
}

/// The table over numbers wanted and confidences of one target; of several at once one row, as wanted.
///
/// # Errors
/// [`TooManyStates`].
pub fn table(
    sowing: &Sowing,
    wants: &[u64],
    outcomes: &[Outcome],
) -> Result<Vec<Row>, TooManyStates> {
    let row = |want: u64, wants: &[u64]| {
        let mut seeds = [None; 3];
        for (cell, confidence) in seeds.iter_mut().zip(CONFIDENCES) {
            *cell = sowing
                .seeds(wants, outcomes, confidence)?
                .map(|found| found.n);
        }
        Ok(Row { want, seeds })
    };
    match wants {
        [want] => {
            let mut listed: Vec<u64> = (1..=(*want).clamp(FEWEST_ROWS, MOST_ROWS)).collect();
            if *want > MOST_ROWS {
                listed.push(*want);
            }
            listed.into_iter().map(|want| row(want, &[want])).collect()
        }
        _ => Ok(vec![row(wants.iter().sum(), wants)?]),
    }
}

/// An early look by which seedlings are discarded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Marker {
    /// The share of true seedlings that show it.
    pub pass: f64,
    /// Of those, the share that is wanted.
    pub wanted: f64,
}

/// Sow, discard by an early look, pot the rest, judge them grown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoStages {
    /// Seeds to sow, and the chance that enough of the potted are wanted.
    pub seeds: TrialsNeeded,
    /// How many pass, on average.
    pub pass: f64,
    /// Pots that are enough for all that pass with the confidence; no more than there are.
    pub pots: u64,
}

/// Why two stages cannot be planned.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NoStages {
    /// Even with every pot filled by one that passed.
    #[error("{pots} pots are too few")]
    TooFewPots {
        /// How many there are.
        pots: u64,
        /// How many would do.
        needed: u64,
        /// The chance with all pots filled.
        chance: f64,
    },
    /// No number of seeds that is looked at would do.
    #[error("no number of seeds would do")]
    NoNumber,
    /// Too large to be worked out.
    #[error(transparent)]
    TooMany(#[from] TooManyStates),
}

/// The fewest seeds so that among the seedlings that pass and find a pot enough are wanted. Off-types are taken to
/// pass as often as true seedlings, and fill pots.
///
/// # Errors
/// [`NoStages`].
pub fn two_stages(
    sowing: &Sowing,
    marker: Marker,
    want: u64,
    pots: Option<u64>,
    confidence: f64,
) -> Result<TwoStages, NoStages> {
    let wanted = (1.0 - sowing.off_share) * marker.wanted;
    let seeds = match pots {
        None => {
            let outcome = Outcome {
                p: marker.pass * marker.wanted,
                counts_for: vec![0],
            };
            sowing.seeds(&[want], &[outcome], confidence)?
        }
        Some(pots) => {
            check_pots(pots, want, wanted, confidence)?;
            let mut walk = Walk::among_first(pots, want, marker.pass, wanted)?;
            fewest_begun(sowing.germination, &mut walk, confidence)
        }
    };
    let seeds = seeds.ok_or(NoStages::NoNumber)?;
    let enough = pots_for(sowing.germination, marker.pass, seeds.n, confidence)?;
    Ok(TwoStages {
        seeds,
        pass: seeds.n as f64 * sowing.germination.mean() * marker.pass,
        pots: pots.map_or(enough, |pots| enough.min(pots)),
    })
}

fn check_pots(pots: u64, want: u64, wanted: f64, confidence: f64) -> Result<(), NoStages> {
    let chance = binomial_tails(want, pots, wanted).0;
    if chance > confidence {
        return Ok(());
    }
    let needed = crate::stats::power::smallest_n(want, wanted, confidence);
    let needed = needed.ok_or(NoStages::NoNumber)?.n;
    // With exactly as many as needed for the confidence, only endless seed would fill them for certain.
    let needed = match binomial_tails(want, needed, wanted).0 > confidence {
        true => needed,
        false => needed + 1,
    };
    Err(NoStages::TooFewPots {
        pots,
        needed,
        chance,
    })
}

/// The fewest pots that hold all seedlings that pass with a confidence.
fn pots_for(
    germination: Begun,
    pass: f64,
    seeds: u64,
    confidence: f64,
) -> Result<u64, TooManyStates> {
    // P(more than m pass) is one less P(fewer than m + 1 of them are reached).
    let beyond = |m: u64| -> Result<f64, TooManyStates> {
        match germination {
            Begun::Known(g) => Ok(binomial_tails(m + 1, seeds, (g * pass).min(1.0)).0),
            counted => {
                let outcome = Outcome {
                    p: pass,
                    counts_for: vec![0],
                };
                let mut walk = Walk::to_all(&[m + 1], &[outcome])?;
                Ok(1.0 - counted.miss(seeds as usize, &mut walk))
            }
        }
    };
    let (mut low, mut high) = (0, seeds);
    while low < high {
        let middle = low + (high - low) / 2;
        if beyond(middle)? > 1.0 - confidence {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    Ok(low)
}
