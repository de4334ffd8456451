//! `why`: the whole argument for one seedling.

use clap::Args;

use super::thing::{find, unknown};
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::suspects::suspects;
use crate::diagnosis::why::{Whom, WhyError, why};
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::Thing;
use crate::records::target::{Target, TargetError};
use crate::records::tray::Tray;
use crate::report::text::{listed, shown};
use crate::report::why::WhyAnswer;
use crate::report::why_unscored::WhyUnscored;

/// The whole argument for one seedling on one screen: the verdict, its readings on the curve of the late class, what
/// each source predicts, what moved the answer, what to score next. With --on DATE as on that day
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  locule why T1-03\n  locule why T1 green\n  locule why T1-02 green"
)]
pub struct WhyArgs {
    /// The seedling, or the tray or cell that was counted
    #[arg(value_name = "SEEDLING|TRAY")]
    of: String,
    /// Its look, where it was counted or several stand there: green, or purple/hairy
    #[arg(value_name = "LOOK")]
    look: Option<String>,
}

impl WhyArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, no seedling or several are meant, or the exact answer is too large.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let on = world.day()?;
        if let Some((batch, seedling)) = self.untold(&facts, on) {
            return self.unscored(world, &facts, batch, seedling);
        }
        let whom = self.whom(&facts)?;
        match (why(&facts, on, &whom), &whom) {
            (Ok(answer), _) => Ok(world.answer(&WhyAnswer(answer))),
            (Err(WhyError::NothingRead), Whom::Seedling(plant)) => {
                let row = facts.plant.get(*plant);
                let batch = row.and_then(|row| row.batch_id).unwrap_or_default();
                self.unscored(world, &facts, batch, facts.label_of_plant(*plant))
            }
            (Err(error), _) => Err(self.failed(error)),
        }
    }

    /// The batch and the name of a cell in which nobody told a seedling apart, and which was not counted by looks.
    fn untold(&self, facts: &Facts, on: Day) -> Option<(i64, String)> {
        let Ok(Target::Spot(code, spot)) = self.of.parse::<Target>() else {
            return None;
        };
        let row = facts.code_named(code.as_str())?;
        let tray = Tray::of(facts, row.thing_id).filter(|_| row.thing == Thing::Batch)?;
        let (batch, cell) = (tray.batch.id, spot.cell);
        let stands = tray.cell_up_by(cell, on).is_none_or(|up| up > 0);
        let is_asked = self.look.is_none() && spot.part.is_empty();
        let is_there = (1..=tray.batch.cells).contains(&cell) && stands;
        let is_known = !tray.in_cell(cell).is_empty() || is_counted(facts, batch, cell);
        (is_asked && is_there && !is_known).then(|| (batch, tray.place(Some(cell))))
    }

    /// What is said of a seedling of which nothing telling was read.
    fn unscored(
        &self,
        world: &World,
        facts: &Facts,
        batch: i64,
        seedling: String,
    ) -> Result<Outcome, Failure> {
        let mut found = suspects(facts, world.day()?, Some(&[batch]))?;
        let answer = found.batches.pop().filter(|one| one.unscored > 0);
        let batch = answer.ok_or_else(|| self.failed(WhyError::NothingRead))?;
        Ok(world.answer(&WhyUnscored { seedling, batch }))
    }

    fn whom(&self, facts: &Facts) -> Result<Whom, Failure> {
        let target: Target = self.of.parse().map_err(|error: TargetError| {
            Failure::usage(error.to_string()).try_typing("locule why T1-03")
        })?;
        let code = target.code().as_str();
        let row = facts
            .code_named(code)
            .ok_or_else(|| unknown(facts, code, &[]))?;
        let classes = self.look.iter().flat_map(|look| look.split('/'));
        let classes: Vec<String> = classes.map(|class| class.trim().to_owned()).collect();
        let counted = |cell: Option<i64>| Whom::Look {
            batch: row.thing_id,
            cell,
            classes: classes.clone(),
        };
        match (&target, row.thing) {
            (Target::Code(_), Thing::Batch) => Ok(counted(None)),
            (Target::Spot(_, spot), Thing::Batch)
                if self.look.is_some() || is_counted(facts, row.thing_id, spot.cell) =>
            {
                Ok(counted(Some(spot.cell)))
            }
            _ => {
                let found = find(facts, &self.of)?;
                match found.thing {
                    Thing::Plant => Ok(Whom::Seedling(found.id)),
                    _ => Err(Failure::refused(format!(
                        "{} is a {}, and a seedling is meant",
                        found.label, found.thing
                    ))
                    .try_typing(format!("locule suspects {}", found.label))),
                }
            }
        }
    }

    fn failed(&self, error: WhyError) -> Failure {
        match error {
            WhyError::Unreadable(error) => error.into(),
            WhyError::TooLarge(size) => {
                Failure::refused(format!("{size}: too many traits were read of these plants"))
                    .try_typing(format!("locule genotype {}", self.of))
            }
            WhyError::Declined { size, tray, traits } => Failure::refused(format!(
                "{size}: {} was read for {}, and its plants are tied to many others",
                shown(&tray),
                listed(&traits, "and")
            ))
            .try_typing(match traits.first().filter(|_| traits.len() > 1) {
                Some(least) => format!("locule trait off {least}"),
                None => format!("locule suspects {tray}"),
            }),
            WhyError::NoSeedling => {
                Failure::refused(format!("{} is no seedling of a tray", self.of))
                    .try_typing(format!("locule genotype {}", self.of))
            }
            WhyError::NothingRead => Failure::refused(format!(
                "nothing was read of {} yet that tells anything",
                self.of
            ))
            .try_typing(format!("locule score {} green", self.of)),
            WhyError::NoSuchLook { seen } => Failure::refused(format!(
                "nothing in {} looks {}",
                self.of,
                self.look.as_deref().unwrap_or("like that")
            ))
            .because(format!("seen there: {}", seen.join(", ")))
            .try_typing(format!(
                "locule why {} {}",
                self.of,
                seen.first().map_or("green", String::as_str)
            )),
            WhyError::Several { named } => {
                let first = named.first().cloned().unwrap_or_default();
                Failure::refused(format!(
                    "{} may mean several: {}",
                    self.of,
                    named.join(", ")
                ))
                .try_typing(format!("locule why {first}"))
            }
        }
    }
}

/// Whether a cell was counted, and no seedling in it told apart.
fn is_counted(facts: &Facts, batch: i64, cell: i64) -> bool {
    let counted = facts
        .tally
        .iter()
        .any(|row| row.batch_id == batch && row.cell == Some(cell));
    let mut seedlings = facts.plant.iter();
    counted && !seedlings.any(|row| row.batch_id == Some(batch) && row.cell == Some(cell))
}
