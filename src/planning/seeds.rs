//! How many seeds to sow.
//!
//! A seed is wanted with probability germination x (1 - off share) x p. Off-types are never counted as wanted. With
//! germination known from counts the number that comes up is beta-binomial. In two stages seedlings that do not show
//! an early look are discarded, and the rest potted as far as there are pots. Where the shares come from is not
//! known here; the command `plan seeds` asks.

use crate::stats::begun::{Begun, Case, fewest, search};
use crate::stats::crossing::crossing;
use crate::stats::missing::Missing;
use crate::stats::power::TrialsNeeded;
use crate::stats::reach::{Outcome, TooManyStates};
use crate::stats::search::{Search, TooLarge, Weighed};
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

/// Why there is no number of seeds.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NoPlan {
    /// What is not known of the parents makes it impossible too often.
    #[error("with {chance} no seed can be as wanted")]
    Hopeless {
        /// How likely no seed can be.
        chance: f64,
    },
    /// Even with every pot filled by one that passed.
    #[error("{pots} pots are too few")]
    TooFewPots {
        /// How many there are.
        pots: u64,
        /// How many would do; nothing where none would.
        needed: Option<u64>,
        /// The chance with all pots filled.
        chance: f64,
    },
    /// No number of seeds that is looked at would do.
    #[error("no number of seeds would do")]
    NoNumber,
    /// Too large to be worked out.
    #[error(transparent)]
    TooLarge(#[from] TooLarge),
}

impl From<TooManyStates> for NoPlan {
    fn from(error: TooManyStates) -> Self {
        Self::TooLarge(error.into())
    }
}

impl Sowing {
    /// The share of what comes up that is of the label.
    #[must_use]
    pub const fn true_share(&self) -> f64 {
        1.0 - self.off_share
    }

    /// What seed that comes up may turn out as, the off-types taken out.
    #[must_use]
    pub fn thin(&self, cases: &[Case]) -> Vec<Case> {
        let thinned = |one: &Outcome| Outcome {
            p: self.true_share() * one.p,
            ..one.clone()
        };
        let case = |case: &Case| Case {
            weight: case.weight,
            outcomes: case.outcomes.iter().map(thinned).collect(),
        };
        cases.iter().map(case).collect()
    }

    /// The fewest seeds so that every want is reached, whichever of the cases the parents are.
    ///
    /// # Errors
    /// [`NoPlan`].
    pub fn seeds(
        &self,
        wants: &[u64],
        cases: &[Case],
        confidence: f64,
    ) -> Result<TrialsNeeded, NoPlan> {
        hopeless(wants, cases, confidence)?;
        let found = fewest(self.germination, wants, &self.thin(cases), &[confidence])?;
        found[0]?.ok_or(NoPlan::NoNumber)
    }

    /// The same with the table over numbers wanted and confidences of one target; of several at once with one row, as
    /// wanted, by the same walk.
    ///
    /// # Errors
    /// [`NoPlan`].
    pub fn plan(
        &self,
        wants: &[u64],
        cases: &[Case],
        confidence: f64,
    ) -> Result<(TrialsNeeded, Vec<Row>), NoPlan> {
        let [want] = wants else {
            return self.plan_several(wants, cases, confidence);
        };
        let found = self.seeds(wants, cases, confidence)?;
        let rows: Result<Vec<Row>, NoPlan> = rows_for(*want)
            .into_iter()
            .map(|want| self.row(want, &[want], cases))
            .collect();
        Ok((found, rows?))
    }

    fn row(&self, want: u64, wants: &[u64], cases: &[Case]) -> Result<Row, NoPlan> {
        let mut seeds = [None; 3];
        for (cell, confidence) in seeds.iter_mut().zip(CONFIDENCES) {
            *cell = match self.seeds(wants, cases, confidence) {
                Ok(found) => Some(found.n),
                Err(error @ NoPlan::TooLarge(_)) => return Err(error),
                Err(_) => None,
            };
        }
        Ok(Row { want, seeds })
    }

    /// The confidence asked for goes first; a cell of the table that would take too long stays empty.
    fn plan_several(
        &self,
        wants: &[u64],
        cases: &[Case],
        confidence: f64,
    ) -> Result<(TrialsNeeded, Vec<Row>), NoPlan> {
        hopeless(wants, cases, confidence)?;
        let thin = self.thin(cases);
        let is_open = |one: &f64| hopeless(wants, cases, *one).is_ok();
        let asked: Vec<f64> = std::iter::once(confidence)
            .chain(CONFIDENCES.into_iter().filter(is_open))
            .collect();
        let found = fewest(self.germination, wants, &thin, &asked)?;
        let first = found[0]?.ok_or(NoPlan::NoNumber)?;
        let cell = |one: f64| {
            let at = asked.iter().skip(1).position(|own| *own == one)?;
            found[at + 1].ok().flatten().map(|found| found.n)
        };
        let row = Row {
            want: wants.iter().sum(),
            seeds: CONFIDENCES.map(cell),
        };
        Ok((first, vec![row]))
    }
}

/// What a number of seeds does if off-types come tray by tray and not as the same share of every tray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ByTray {
    /// The chance with so many seeds.
    pub probability: f64,
    /// The fewest seeds with the confidence even then; nothing where none has it, it takes a hundred times as many, or it is
    /// not worked out.
    pub seeds: Option<u64>,
    /// How often no number of seeds does.
    pub never: f64,
}

/// More seeds than so many times those of the average tray are no advice (design choice).
const MOST_TIMES: u64 = 100;

/// Most additions, in all the parts of one sum, that [`ByTray`] is worked out for.
const MOST_PARTS: u64 = 3_000_000;

/// The same question if a sowing has each of some shares of off-types, given with how likely that is: what all its
/// seed shares is a case of its own. Nothing where that is too large.
#[must_use]
pub fn by_tray(
    germination: Begun,
    wants: &[u64],
    cases: &[Case],
    trays: &[(f64, f64)],
    (seeds, confidence): (u64, f64),
) -> Option<ByTray> {
    let states: u64 = match wants {
        [_] => 1,
        several => several.iter().map(|want| want + 1).product(),
    };
    let parts = states.saturating_mul((cases.len() * trays.len()) as u64);
    if parts > MOST_PARTS {
        return None;
    }
    let of = |(weight, off_share): &(f64, f64)| {
        let sowing = Sowing {
            germination,
            off_share: *off_share,
        };
        let mut thin = sowing.thin(cases);
        thin.iter_mut().for_each(|case| case.weight *= weight);
        thin
    };
    let each: Vec<Case> = trays.iter().flat_map(of).collect();
    found_by_tray(search(germination, wants, &each).ok()?, seeds, confidence)
}

/// The same for two stages.
#[must_use]
pub fn stages_by_tray(
    germination: Begun,
    markers: &[Marker],
    trays: &[(f64, f64)],
    (want, pots): (u64, Option<u64>),
    (seeds, confidence): (u64, f64),
) -> Option<ByTray> {
    let Some(pots) = pots else {
        return by_tray(
            germination,
            &[want],
            &unpotted(markers),
            trays,
            (seeds, confidence),
        );
    };
    if pots * (markers.len() * trays.len()) as u64 > MOST_PARTS {
        return None;
    }
    let of = |(weight, off_share): &(f64, f64)| {
        let thinned = |one: &Marker| Marker {
            weight: weight * one.weight,
            wanted: one.wanted * (1.0 - off_share),
            ..*one
        };
        markers.iter().map(thinned).collect::<Vec<_>>()
    };
    let each: Vec<Marker> = trays.iter().flat_map(of).collect();
    let none_off = Sowing {
        germination,
        off_share: 0.0,
    };
    found_by_tray(potted(&none_off, &each, want, pots), seeds, confidence)
}

fn found_by_tray(mut search: Search, seeds: u64, confidence: f64) -> Option<ByTray> {
    let probability = 1.0 - search.miss_if_told(seeds)?;
    let found = search.fewest(confidence, seeds);
    Some(ByTray {
        probability,
        seeds: found
            .ok()
            .flatten()
            .map(|found| found.n)
            .filter(|n| *n <= seeds.saturating_mul(MOST_TIMES)),
        never: search.at_last(),
    })
}

/// Refuses what none of the seed can be too often.
fn hopeless(wants: &[u64], cases: &[Case], confidence: f64) -> Result<(), NoPlan> {
    let hopeless = cases.iter().filter(|case| !case.can_reach(wants));
    let chance: f64 = hopeless.map(|case| case.weight).sum();
    match chance > (1.0 - confidence) * (1.0 + 1e-12) {
        true => Err(NoPlan::Hopeless { chance }),
        false => Ok(()),
    }
}

/// The numbers wanted that the table has rows for.
#[must_use]
pub fn rows_for(want: u64) -> Vec<u64> {
    let mut listed: Vec<u64> = (1..=want.clamp(FEWEST_ROWS, MOST_ROWS)).collect();
    if want > MOST_ROWS {
        listed.push(want);
    }
    listed
}

/// A row of the table: seeds by confidence, for so many wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// How many are wanted.
    pub want: u64,
    /// Seeds for each of [`CONFIDENCES`].
    pub seeds: [Option<u64>; 3],
}

/// An early look by which seedlings are discarded, in one of the cases that the parents may be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Marker {
    /// How likely the case is.
    pub weight: f64,
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

/// The fewest seeds so that among the seedlings that pass and find a pot enough are wanted. Off-types are taken to
/// pass as often as true seedlings, and fill pots.
///
/// # Errors
/// [`NoPlan`].
pub fn two_stages(
    sowing: &Sowing,
    markers: &[Marker],
    want: u64,
    pots: Option<u64>,
    confidence: f64,
) -> Result<TwoStages, NoPlan> {
    let free = sowing.seeds(&[want], &unpotted(markers), confidence);
    let seeds = match (pots, free) {
        (None, free) => free?,
        // With a pot for every seed sown none is turned away.
        (Some(pots), Ok(free)) if free.n <= pots => free,
        (Some(pots), free) => {
            check_pots(sowing, markers, pots, want, confidence)?;
            let likely = free.map_or(1, |free| free.n);
            let found = potted(sowing, markers, want, pots).fewest(confidence, likely)?;
            found.ok_or(NoPlan::NoNumber)?
        }
    };
    let enough = pots_for(sowing.germination, markers, seeds.n, confidence);
    let pass: f64 = markers.iter().map(|one| one.weight * one.pass).sum();
    Ok(TwoStages {
        seeds,
        pass: seeds.n as f64 * sowing.germination.mean() * pass,
        pots: pots.map_or(enough, |pots| enough.min(pots)),
    })
}

/// Wanted plants among those that pass and find a pot.
fn potted(sowing: &Sowing, markers: &[Marker], want: u64, pots: u64) -> Search {
    let (taken, by) = match sowing.germination {
        Begun::Known(g) => (Begun::Known(1.0), g),
        counted => (counted, 1.0),
    };
    let part = |one: &Marker| {
        let (pass, wanted) = (by * one.pass, sowing.true_share() * one.wanted);
        Weighed {
            weight: one.weight,
            missing: Missing::among_first(pots, want, pass.min(1.0), wanted),
        }
    };
    Search::new(taken, markers.iter().map(part).collect())
}

/// Seeds that are wanted and pass, as if there were a pot for each.
fn unpotted(markers: &[Marker]) -> Vec<Case> {
    let case = |one: &Marker| Case {
        weight: one.weight,
        outcomes: vec![Outcome {
            p: one.pass * one.wanted,
            counts_for: vec![0],
        }],
    };
    markers.iter().map(case).collect()
}

/// Refuses pots too few for the confidence even if all are filled.
fn check_pots(
    sowing: &Sowing,
    markers: &[Marker],
    pots: u64,
    want: u64,
    confidence: f64,
) -> Result<(), NoPlan> {
    let filled = |pots: u64| -> f64 {
        let of = |one: &Marker| {
            let wanted = sowing.true_share() * one.wanted;
            one.weight * binomial_tails(want, pots, wanted).0
        };
        // A case in which nobody passes fills no pot.
        markers.iter().filter(|one| one.pass > 0.0).map(of).sum()
    };
    let chance = filled(pots);
    // Exactly as likely as asked for would take endless seed, so that every pot is filled for certain.
    if chance > confidence {
        return Ok(());
    }
    let is_enough = |pots: u64| filled(pots) > confidence;
    let needed = is_enough(MOST_POTS).then(|| crossing(pots, MOST_POTS, is_enough));
    Err(NoPlan::TooFewPots {
        pots,
        needed,
        chance,
    })
}

/// Most pots that are thought of.
const MOST_POTS: u64 = 20_000;

/// The fewest pots that hold all seedlings that pass with a confidence.
fn pots_for(germination: Begun, markers: &[Marker], seeds: u64, confidence: f64) -> u64 {
    let mut alike: Vec<(f64, f64)> = Vec::new();
    for one in markers {
        match alike.iter_mut().find(|(pass, _)| *pass == one.pass) {
            Some((_, weight)) => *weight += one.weight,
            None => alike.push((one.pass, one.weight)),
        }
    }
    // P(more than m pass) is one less P(fewer than m + 1 of them are reached).
    let is_enough = |m: u64| {
        let (taken, by) = match germination {
            Begun::Known(g) => (Begun::Known(1.0), g),
            counted => (counted, 1.0),
        };
        let part = |(pass, weight): &(f64, f64)| Weighed {
            weight: *weight,
            missing: Missing::more_than(m, (by * pass).min(1.0)),
        };
        let mut search = Search::new(taken, alike.iter().map(part).collect());
        1.0 - search.miss(seeds) <= 1.0 - confidence
    };
    match is_enough(0) {
        true => 0,
        false => crossing(0, seeds, is_enough),
    }
}
