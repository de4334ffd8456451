//! `cull`, `thin`, `died`, `pot-up`: what became of seedlings.

mod by_look;

use super::desk::{Desk, some};
use super::refusal::{Excess, Identity, LookRefusal, Refusal};
use super::score::check_cell_up;
use super::seedlings::{check_alive, check_cell, place};
use super::standing::Pulled;
use super::{Notice, Subject, find, up};
use crate::records::cells::Spot;
use crate::records::count::Count;
use crate::records::descent::adoption_of;
use crate::records::entry::{FateWhom, Fates};
use crate::records::rows::{FateKind, FateRow, Thing};
use crate::records::target::Target;
use crate::records::text::{self, NOTE_MAX};
use crate::records::tray::{Tray, gone};

pub(super) fn remove(desk: &mut Desk, entry: &Fates) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let why = text::check("reason", &entry.why, NOTE_MAX)?;
    let mut maker = Maker {
        entry,
        why,
        batch: None,
        fates: Vec::new(),
        seen: Vec::new(),
        taken: Vec::new(),
        pulled: Vec::new(),
    };
    check_blind(entry)?;
    for whom in &entry.whom {
        match whom {
            FateWhom::Plant(target) => maker.plant(desk, target)?,
            FateWhom::Spots(code, spots) => {
                for spot in spots {
                    maker.plant(desk, &Target::Spot(code.clone(), spot.clone()))?;
                }
            }
            FateWhom::Count(target, count) => maker.count(desk, target, *count)?,
            FateWhom::Look(target, look, count) => maker.look(desk, target, look, *count)?,
            FateWhom::LookIn(code, spots, look) => maker.look_in(desk, code, spots, look)?,
            FateWhom::Read(code, spots, look) => maker.read(desk, code, spots, look)?,
        }
    }
    let Some(batch) = maker.batch else {
        let (of, what) = (entry.kind.command().to_owned(), "seedlings");
        return Err(Identity::Nothing { of, what }.into());
    };
    if matches!(entry.kind, FateKind::Culled | FateKind::Thinned) {
        super::runt::caution(desk, (batch, entry.day), &maker.seen, &entry.why);
    }
    Ok(Subject::Fate {
        batch,
        kind: entry.kind,
        fates: maker.fates,
        day: entry.day,
    })
}

/// Refuses to call those blindly chosen that were chosen by a look.
fn check_blind(entry: &Fates) -> Result<(), Refusal> {
    let by_look = |one: &FateWhom| {
        matches!(
            one,
            FateWhom::Look(..) | FateWhom::LookIn(..) | FateWhom::Read(..)
        )
    };
    if entry.blind && entry.whom.iter().any(by_look) {
        return Err(LookRefusal::BlindByLook.into());
    }
    Ok(())
}

struct Maker<'e> {
    entry: &'e Fates,
    why: String,
    /// The batch of the first seedling named.
    batch: Option<i64>,
    fates: Vec<i64>,
    /// Plants named so far.
    seen: Vec<i64>,
    /// Seedlings removed so far, by batch.
    taken: Vec<(i64, i64)>,
    /// Seedlings removed so far for a look, of those that only a tally counts.
    pulled: Vec<Pulled>,
}

impl Maker<'_> {
    fn enter(
        &mut self,
        desk: &mut Desk,
        batch_id: i64,
        plant_id: Option<i64>,
        cell: Option<i64>,
        count: i64,
    ) -> i64 {
        let Fates {
            kind, blind, day, ..
        } = *self.entry;
        let why = self.why.clone();
        if let Some(plant) =
            plant_id.filter(|_| matches!(kind, FateKind::Culled | FateKind::Thinned))
        {
            note_kept(desk, plant);
        }
        let fate = desk.insert(|id| FateRow {
            id,
            batch_id,
            plant_id,
            cell,
            count,
            kind,
            blind,
            day,
            why,
        });
        self.batch.get_or_insert(batch_id);
        if kind.is_gone() {
            self.taken.push((batch_id, count));
        }
        self.fates.push(fate);
        fate
    }

    fn plant(&mut self, desk: &mut Desk, target: &Target) -> Result<(), Refusal> {
        let whole = |refusal| match refusal {
            Refusal::Identity(Identity::NotOnePlant {
                tray: Some(tray), ..
            }) => Identity::WholeTray {
                tray,
                command: self.entry.kind.command(),
            }
            .into(),
            other => other,
        };
        let plant = find::plant(desk, target, self.entry.day).map_err(whole)?;
        self.named(desk, plant, target)
    }

    fn named(&mut self, desk: &mut Desk, plant: i64, target: &Target) -> Result<(), Refusal> {
        if self.seen.contains(&plant) {
            return Err(LookRefusal::SeedlingTwice(target.to_string()).into());
        }
        self.seen.push(plant);
        check_alive(desk, plant, verb(self.entry.kind), self.entry.day)?;
        let batch = match target {
            Target::Spot(code, spot) => {
                let tray = find::tray(desk.facts, code)?;
                self.check_there(desk, &tray, plant, spot)?;
                tray.batch.id
            }
            _ => desk
                .facts
                .plant
                .get(plant)
                .and_then(|row| row.batch_id)
                .ok_or_else(|| {
                    let typed = target.to_string();
                    Identity::NoSeedling { typed }
                })?,
        };
        self.enter(desk, batch, Some(plant), None, 1);
        Ok(())
    }

    /// Doubts what becomes of a seedling where none came up or none is left.
    fn check_there(
        &self,
        desk: &mut Desk,
        tray: &Tray,
        plant: i64,
        spot: &Spot,
    ) -> Result<(), Refusal> {
        let (act, day) = (verb(self.entry.kind), self.entry.day);
        if !tray.ever_scored().contains(&plant) {
            check_cell_up(desk, tray, spot.cell, act, day)?;
        }
        let already = gone(desk.facts, plant, day).is_some();
        let standing = tray.standing_by(None, day) - self.taken_from(tray);
        if standing > 0 || already {
            return Ok(());
        }
        desk.doubt(Excess::Gone {
            place: tray.label().to_owned(),
            count: 1,
            fate: act,
            standing: 0,
        })
    }

    /// How many of a tray this entry has removed so far.
    fn taken_from(&self, tray: &Tray) -> i64 {
        let here = self.taken.iter().filter(|(id, _)| *id == tray.batch.id);
        here.map(|(_, count)| count).sum()
    }

    /// So many of a batch or cell, whichever.
    fn count(&mut self, desk: &mut Desk, target: &Target, count: Count) -> Result<(), Refusal> {
        let (tray, cell, label) = find_place(desk, target)?;
        let count = some(count, "seedlings", &label)?;
        up::check_sown(desk, &tray, "seedlings removed", self.entry.day)?;
        self.check_standing(desk, &tray, cell, &label, count)?;
        if cell.is_none() && count <= tray.batch.cells && !tray.seedlings().is_empty() {
            let seedling = format!("{label}-{count:02}");
            desk.tell(Notice::CountNotSeedling { count, seedling });
        }
        self.enter(desk, tray.batch.id, None, cell, count);
        Ok(())
    }

    fn check_standing(
        &self,
        desk: &mut Desk,
        tray: &Tray,
        cell: Option<i64>,
        label: &str,
        count: i64,
    ) -> Result<(), Refusal> {
        let taken = match cell {
            None => self.taken_from(tray),
            Some(_) => 0,
        };
        let standing = tray.standing_by(cell, self.entry.day) - taken;
        if count > standing {
            let (place, fate) = (label.to_owned(), verb(self.entry.kind));
            desk.doubt(Excess::Gone {
                place,
                count,
                fate,
                standing: standing.max(0),
            })?;
        }
        Ok(())
    }
}

/// Says that a seedling which is pulled was kept as something else than its label.
fn note_kept(desk: &mut Desk, plant: i64) {
    let facts = desk.facts;
    let Some(adopted) = adoption_of(facts, plant) else {
        return;
    };
    let row = facts.plant.get(plant);
    desk.tell(Notice::KeptPulled {
        seedling: row
            .and_then(|row| facts.seedling_label(row))
            .unwrap_or_default(),
        code: facts.code_of(Thing::Plant, plant).map(str::to_owned),
        parents: super::adopt::named(facts, (adopted.mother_id, adopted.father_id)),
    });
}

fn find_place<'f>(
    desk: &Desk<'f>,
    target: &Target,
) -> Result<(Tray<'f>, Option<i64>, String), Refusal> {
    match target {
        Target::Code(code) => {
            let tray = find::tray(desk.facts, code)?;
            Ok((tray, None, tray.label().to_owned()))
        }
        Target::Spot(code, spot) if spot.part.is_empty() => {
            let tray = find::tray(desk.facts, code)?;
            check_cell(&tray, spot.cell)?;
            Ok((tray, Some(spot.cell), place(&tray, spot)))
        }
        other => Err(Identity::NotOnePlant {
            typed: other.to_string(),
            tray: None,
        }
        .into()),
    }
}

/// What is done to a seedling, in words.
const fn verb(kind: FateKind) -> &'static str {
    match kind {
        FateKind::Culled => "culled",
        FateKind::Thinned => "thinned",
        FateKind::Died => "recorded as dead",
        FateKind::PottedUp => "potted up",
    }
}
