//! Seedlings named by a look as they are pulled: those that were read so, those tallied so, and those read as they go.
//!
//! Made for `fate`, which enters what is found.

use super::super::desk::{Desk, some};
use super::super::looks::{Reader, Sight, enter_reading};
use super::super::refusal::{Excess, LookRefusal, Refusal};
use super::super::score::check_plants;
use super::super::seedlings::{check_cell, place};
use super::super::standing::{
    Ask, Pulled, Stand, counted_by, left_of_look, left_of_tally, shows, standing_of_look,
};
use super::super::{Notice, find, up};
use super::{Maker, find_place, verb};
use crate::records::cells::{Spot, listed_spots};
use crate::records::code::{Code, fold};
use crate::records::count::Count;
use crate::records::entry::{Look, Seen, SeenWhat};
use crate::records::rows::FateClassRow;
use crate::records::target::Target;
use crate::records::tray::Tray;

impl Maker<'_> {
    /// Those of a look: single seedlings read so, and so many of cells or of the batch tallied so.
    pub(super) fn look(
        &mut self,
        desk: &mut Desk,
        target: &Target,
        look: &Look,
        count: Option<Count>,
    ) -> Result<(), Refusal> {
        let (tray, cell, label) = find_place(desk, target)?;
        let (sights, words) = self.read_look(desk, &tray, look)?;
        let count = count
            .map(|count| some(count, "seedlings", &label))
            .transpose()?;
        up::check_sown(desk, &tray, "seedlings removed", self.entry.day)?;
        let ask = self.ask(desk, &tray, &sights);
        let stands = standing_of_look(&ask, cell);
        let left = left_of_look(&ask, cell);
        let standing: i64 = stands.iter().map(Stand::size).sum();
        match count {
            None if standing == 0 => Err(match cell {
                Some(cell) => LookRefusal::NoneOfLookIn {
                    verb: self.entry.kind.command(),
                    tray: tray.label().to_owned(),
                    cells: cell.to_string(),
                    look: words,
                },
                None => LookRefusal::NoneOfLook {
                    place: label,
                    look: words,
                },
            }
            .into()),
            None => self.take_all(desk, &tray, stands, &sights),
            Some(count) if count == standing => self.take_all(desk, &tray, stands, &sights),
            Some(count) => match &stands[..] {
                [] => {
                    if let Some(standing) = left.filter(|left| count > *left) {
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

    fn ask<'a, 'f>(
        &'a self,
        desk: &'a Desk<'f>,
        tray: &'a Tray<'f>,
        sights: &'a [Sight],
    ) -> Ask<'a, 'f> {
        Ask {
            desk,
            tray,
            sights,
            day: self.entry.day,
            taken: &self.pulled,
        }
    }

    /// A look by which seedlings are named; it has to name classes.
    fn read_look(
        &self,
        desk: &Desk,
        tray: &Tray,
        look: &Look,
    ) -> Result<(Vec<Sight>, String), Refusal> {
        let reader = Reader::seedlings(desk.facts, self.entry.of.as_ref())?;
        let sights = reader
            .read(look)
            .map_err(|refusal| self.all_of(tray, look, refusal))?;
        let words = reader.words(&sights);
        if sights.iter().any(|sight| sight.class.is_none()) {
            return Err(LookRefusal::NoClass(words).into());
        }
        Ok((sights, words))
    }

    /// Those of a look among the seedlings of some cells.
    pub(super) fn look_in(
        &mut self,
        desk: &mut Desk,
        code: &Code,
        spots: &[Spot],
        look: &Look,
    ) -> Result<(), Refusal> {
        let tray = find::tray(desk.facts, code)?;
        let (sights, words) = self.read_look(desk, &tray, look)?;
        up::check_sown(desk, &tray, "seedlings removed", self.entry.day)?;
        let mut stands = Vec::new();
        for (at, spot) in spots.iter().enumerate() {
            check_cell(&tray, spot.cell)?;
            if spots[..at].contains(spot) {
                return Err(LookRefusal::SeedlingTwice(place(&tray, spot)).into());
            }
            let ask = self.ask(desk, &tray, &sights);
            if spot.part.is_empty() {
                stands.extend(standing_of_look(&ask, Some(spot.cell)));
                continue;
            }
            let here = tray.in_cell(spot.cell);
            let own = here.iter().find(|plant| plant.part == spot.part);
            stands.extend(
                own.filter(|plant| shows(&ask, plant.id))
                    .map(|plant| Stand::Seedling(plant.id)),
            );
        }
        if stands.is_empty() {
            return Err(LookRefusal::NoneOfLookIn {
                verb: self.entry.kind.command(),
                tray: tray.label().to_owned(),
                cells: listed_spots(spots),
                look: words,
            }
            .into());
        }
        self.take_all(desk, &tray, stands, &sights)
    }

    /// Seedlings by their places, with the look they have as they go: a reading of each where seedlings of the tray are read
    /// one by one, else its class alone, for a reading would take the place of a tally, made before or later.
    pub(super) fn read(
        &mut self,
        desk: &mut Desk,
        code: &Code,
        spots: &[Spot],
        look: &Look,
    ) -> Result<(), Refusal> {
        let tray = find::tray(desk.facts, code)?;
        let day = self.entry.day;
        let (sights, words) = self.read_look(desk, &tray, look)?;
        up::check_sown(desk, &tray, "seedlings removed", day)?;
        let mut unread = Vec::new();
        for spot in spots {
            let target = Target::Spot(code.clone(), spot.clone());
            let plant = find::plant(desk, &target, day)?;
            let tally = counted_by(&tray, spot.cell, day);
            if tally.is_none() && !tray.ever_scored().is_empty() {
                self.named(desk, plant, &target)?;
                unread.push(plant);
                continue;
            }
            let left = tally.and_then(|one| left_of_tally(&self.ask(desk, &tray, &sights), one));
            if let (Some(tally), Some(left)) = (tally, left.filter(|left| *left < 1)) {
                self.doubt_look(desk, &tray.place(tally.cell), 1, left, words.clone())?;
            }
            self.named(desk, plant, &target)?;
            let fate = *self
                .fates
                .last()
                .expect("the seedling was entered just now");
            self.name_look(desk, fate, &sights);
            self.pulled.push(Pulled {
                batch: tray.batch.id,
                cell: Some(spot.cell),
                sights: sights.clone(),
                count: 1,
            });
            desk.tell(match tally {
                Some(tally) => Notice::CountedInTally {
                    place: tray.place(tally.cell),
                    day: tally.day,
                },
                None => Notice::LookOfPulled {
                    tray: tray.label().to_owned(),
                },
            });
        }
        if !unread.is_empty() {
            check_plants(desk, &tray, &unread, day)?;
        }
        for plant in unread {
            enter_reading(desk, plant, &sights, day, None);
        }
        Ok(())
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
                Stand::Seedling(plant) if self.seen.contains(&plant) => {
                    let twice = stand.words(desk, tray);
                    return Err(LookRefusal::SeedlingTwice(twice).into());
                }
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
        let fate = self.enter(desk, tray.batch.id, None, cell, count);
        self.name_look(desk, fate, sights);
        self.pulled.push(Pulled {
            batch: tray.batch.id,
            cell,
            sights: sights.to_vec(),
            count,
        });
    }

    /// Keeps for which look seedlings went.
    fn name_look(&self, desk: &mut Desk, fate_id: i64, sights: &[Sight]) {
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
