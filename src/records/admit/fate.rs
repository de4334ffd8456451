//! `cull`, `thin`, `died`, `pot-up`: what became of seedlings.

use super::desk::{Desk, some};
use super::looks::{Reader, Sight};
use super::refusal::{Excess, Identity, LookRefusal, Refusal};
use super::seedlings::{check_alive, check_cell, place};
use super::standing::{Stand, left_of_look, standing_of_look};
use super::{Notice, Subject, find, up};
use crate::records::code::fold;
use crate::records::count::Count;
use crate::records::entry::{FateWhom, Fates, Look, Seen, SeenWhat};
use crate::records::rows::{FateClassRow, FateKind, FateRow};
use crate::records::target::Target;
use crate::records::text::{self, NOTE_MAX};
use crate::records::tray::Tray;

pub(super) fn remove(desk: &mut Desk, entry: &Fates) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let why = text::check("reason", &entry.why, NOTE_MAX)?;
    let mut maker = Maker {
        entry,
        why,
        batch: None,
        fates: Vec::new(),
        seen: Vec::new(),
    };
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
        }
    }
    let Some(batch) = maker.batch else {
        return Err(Identity::Nothing { what: "seedlings" }.into());
    };
    Ok(Subject::Fate {
        batch,
        kind: entry.kind,
        fates: maker.fates,
        day: entry.day,
    })
}

struct Maker<'e> {
    entry: &'e Fates,
    why: String,
    /// The batch of the first seedling named.
    batch: Option<i64>,
    fates: Vec<i64>,
    /// Plants named so far.
    seen: Vec<i64>,
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
        self.fates.push(fate);
        fate
    }

    fn plant(&mut self, desk: &mut Desk, target: &Target) -> Result<(), Refusal> {
        let plant = find::plant(desk, target, self.entry.day)?;
        self.named(desk, plant, target)
    }

    fn named(&mut self, desk: &mut Desk, plant: i64, target: &Target) -> Result<(), Refusal> {
        if self.seen.contains(&plant) {
            return Err(LookRefusal::SeedlingTwice(target.to_string()).into());
        }
        self.seen.push(plant);
        check_alive(desk, plant, verb(self.entry.kind), self.entry.day)?;
        let batch = match target {
            Target::Spot(code, _) => find::tray(desk.facts, code)?.batch.id,
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

    /// So many of a batch or cell, whichever.
    fn count(&mut self, desk: &mut Desk, target: &Target, count: Count) -> Result<(), Refusal> {
        let (tray, cell, label) = find_place(desk, target)?;
        let count = some(count, "seedlings")?;
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
        let standing = tray.standing_by(cell, self.entry.day);
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

    /// Those of a look: single seedlings read so, and so many of cells or of the batch tallied so.
    fn look(
        &mut self,
        desk: &mut Desk,
        target: &Target,
        look: &Look,
        count: Option<Count>,
    ) -> Result<(), Refusal> {
        let (tray, cell, label) = find_place(desk, target)?;
        let reader = Reader::seedlings(desk.facts, self.entry.of.as_ref())?;
        let sights = reader
            .read(look)
            .map_err(|refusal| self.all_of(&tray, look, refusal))?;
        let words = reader.words(&sights);
        if sights.iter().any(|sight| sight.class.is_none()) {
            return Err(LookRefusal::NoClass(words).into());
        }
        let count = count.map(|count| some(count, "seedlings")).transpose()?;
        up::check_sown(desk, &tray, "seedlings removed", self.entry.day)?;
        let stands = standing_of_look(desk, &tray, cell, &sights, self.entry);
        let standing: i64 = stands.iter().map(Stand::size).sum();
        match count {
            None if standing == 0 => Err(LookRefusal::NoneOfLook {
                place: label,
                look: words,
            }
            .into()),
            None => self.take_all(desk, &tray, stands, &sights),
            Some(count) if count == standing => self.take_all(desk, &tray, stands, &sights),
            Some(count) => match &stands[..] {
                [] => {
                    if let Some(standing) =
                        left_of_look(desk, &tray, cell, &sights, self.entry).filter(|n| count > *n)
                    {
                        self.doubt_look(desk, &label, count, standing, words)?;
                    }
                    self.check_standing(desk, &tray, cell, &label, count)?;
                    self.unnamed(desk, &tray, cell, count, &sights);
                    Ok(())
                }
                [Stand::Unnamed(at, most)] => {
                    if count > *most {
                        self.doubt_look(desk, &label, count, *most, words)?;
                    }
                    let at = *at;
                    self.unnamed(desk, &tray, at, count, &sights);
                    Ok(())
                }
                several => {
                    let candidates = several
                        .iter()
                        .map(|stand| stand.words(desk, &tray))
                        .collect();
                    let (place, look) = (label, words);
                    Err(LookRefusal::WhichOfLook {
                        verb: self.entry.kind.command(),
                        place,
                        look,
                        count,
                        standing,
                        candidates,
                    }
                    .into())
                }
            },
        }
    }

    /// A refusal of a look's words, or one of a word for all seedlings where that was typed.
    fn all_of(&self, tray: &Tray, look: &Look, refusal: Refusal) -> Refusal {
        match (&refusal, &look[..]) {
            (
                Refusal::Look(LookRefusal::UnknownClass { word, .. }),
                [
                    Seen {
                        what: SeenWhat::Class(_),
                        ..
                    },
                ],
            ) if ["all", "everything", "every", "rest"].contains(&&fold(word)[..]) => {
                LookRefusal::AllOf {
                    word: word.clone(),
                    verb: self.entry.kind.command(),
                    tray: tray.label().to_owned(),
                    cells: tray.batch.cells,
                }
                .into()
            }
            _ => refusal,
        }
    }

    fn doubt_look(
        &self,
        desk: &mut Desk,
        label: &str,
        count: i64,
        standing: i64,
        look: String,
    ) -> Result<(), Refusal> {
        desk.doubt(Excess::LookGone {
            place: label.to_owned(),
            count,
            fate: verb(self.entry.kind),
            standing,
            look,
        })
    }

    fn take_all(
        &mut self,
        desk: &mut Desk,
        tray: &Tray,
        stands: Vec<Stand>,
        sights: &[Sight],
    ) -> Result<(), Refusal> {
        for stand in stands {
            match stand {
                Stand::Seedling(plant) => {
                    self.seen.push(plant);
                    self.enter(desk, tray.batch.id, Some(plant), None, 1);
                }
                Stand::Unnamed(cell, count) => self.unnamed(desk, tray, cell, count, sights),
            }
        }
        Ok(())
    }

    fn unnamed(
        &mut self,
        desk: &mut Desk,
        tray: &Tray,
        cell: Option<i64>,
        count: i64,
        sights: &[Sight],
    ) {
        let fate_id = self.enter(desk, tray.batch.id, None, cell, count);
        for Sight { of, class, .. } in sights {
            if let Some(class_id) = *class {
                let trait_id = *of;
                desk.insert(|id| FateClassRow {
                    id,
                    fate_id,
                    trait_id,
                    class_id,
                });
            }
        }
    }
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
