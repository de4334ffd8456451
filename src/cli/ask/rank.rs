//! `rank`: which plants to keep, by the goals set.

use clap::Args;

use super::genotype::failed;
use super::thing::{batches, find};
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::rank::{RankError, rank_as_judged};
use crate::records::cells::CellRange;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::records::tray::{Tray, gone};
use crate::report::rank::{RankAnswer, Unranked};

/// Which plants to keep: seedlings and kept plants in order by the goals set with `goal add`, how sure that order is,
/// and what the seed of each will still throw
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (all seedlings of a cross; of two trays; three plants beside each other; everything that stands):\n  locule rank X2\n  locule rank T1 T2\n  locule rank T1-03 T1-07 NL\n  locule rank"
)]
pub struct RankArgs {
    /// Crosses and trays, whose living seedlings are ranked, and single plants; everything where nothing is named
    #[arg(value_name = "CODE")]
    what: Vec<String>,
}

impl RankArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, a code is unknown, no goal is set, or the exact answer is too large.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let asked = Candidates::of(&facts, &self.what, world.today)?;
        let ranking = rank_as_judged(&facts, world.today, &asked.plants).map_err(refused)?;
        Ok(world.answer(&RankAnswer::new(
            &ranking,
            self.what.join(" "),
            asked.unranked,
        )))
    }
}

/// Who is ranked.
struct Candidates {
    plants: Vec<i64>,
    unranked: Vec<Unranked>,
}

impl Candidates {
    fn of(facts: &Facts, typed: &[String], today: Day) -> Result<Self, Failure> {
        let mut found = Self {
            plants: Vec::new(),
            unranked: Vec::new(),
        };
        let mut trays: Vec<&BatchRow> = Vec::new();
        for text in typed {
            let named = find(facts, text)?;
            match named.thing {
                Thing::Plant => found.plants.push(named.id),
                _ => trays.extend(batches(facts, std::slice::from_ref(text))?),
            }
        }
        if typed.is_empty() {
            trays.extend(facts.batch.iter());
        }
        for tray in trays.iter().filter_map(|row| Tray::of(facts, row.id)) {
            found.take(facts, &tray, today);
        }
        let mut seen = std::collections::BTreeSet::new();
        found.plants.retain(|plant| seen.insert(*plant));
        match found.plants.is_empty() {
            true => Err(nobody(&found.unranked)),
            false => Ok(found),
        }
    }

    /// The living seedlings of a tray that were told apart, and how many were not.
    fn take(&mut self, facts: &Facts, tray: &Tray<'_>, today: Day) {
        let living = tray.seedlings().into_iter();
        let living = living.filter(|row| gone(facts, row.id, today).is_none());
        let living: Vec<i64> = living.map(|row| row.id).collect();
        let known = i64::try_from(living.len()).unwrap_or(i64::MAX);
        let left = tray.standing_by(None, today) - known;
        if left > 0 {
            self.unranked.push(Unranked {
                tray: tray.label().to_owned(),
                seedlings: left,
                cells: unread_cells(tray, today),
            });
        }
        self.plants.extend(living);
    }
}

/// The cells in which more came up than were told apart.
fn unread_cells(tray: &Tray<'_>, today: Day) -> Option<CellRange> {
    let cells = 1..=tray.batch.cells;
    let unread = cells.filter(|cell| {
        let up = tray.cell_up_by(*cell, today).unwrap_or(0);
        let told = || i64::try_from(tray.in_cell(*cell).len()).unwrap_or(i64::MAX);
        up > 0 && up > told()
    });
    CellRange::of(unread)
}

fn nobody(unranked: &[Unranked]) -> Failure {
    let failure = Failure::refused("no single seedling is on record there, so none can be ranked");
    match unranked.first() {
        Some(Unranked { tray, .. }) => failure
            .because("a count says how many look so, and not which")
            .try_typing(format!("locule score {tray}-01 purple")),
        None => failure.try_typing("locule list"),
    }
}

fn refused(error: RankError) -> Failure {
    let said = error.to_string();
    match error {
        RankError::Genotype(error) => failed(error),
        RankError::NoGoals => Failure::refused(said).try_typing("locule goal add purple --must"),
        RankError::NoModel(of) => {
            Failure::refused(said).try_typing(format!("locule trait show {of}"))
        }
    }
}
