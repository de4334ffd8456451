//! `cull`, `thin`, `died`, `pot-up`: what became of seedlings.

use super::desk::{Desk, some};
use super::looks::{Reader, Sight};
use super::refusal::{Excess, Identity, LookRefusal, Refusal};
use super::score::check_cell_up;
use super::seedlings::{check_alive, check_cell, place};
use super::{Notice, Subject, find, up};
use crate::records::cells::Spot;
use crate::records::code::fold;
use crate::records::count::Count;
use crate::records::descent::adoption_of;
use crate::records::entry::{FateWhom, Fates, Look, Seen, SeenWhat};
use crate::records::rows::{
    FateClassRow, FateKind, FateRow, PlantRow, ReadingRow, Sureness, TallyRow, Thing,
};
use crate::records::target::Target;
use crate::records::text::{self, NOTE_MAX};
use crate::records::tray::{Tray, gone};

/// Seedlings of a look that stand together: one that is told apart, or so many of a cell or batch.
enum Stand {
    Seedling(i64),
    Unnamed(Option<i64>, i64),
}

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
        let count = count
            .map(|count| some(count, "seedlings", &label))
            .transpose()?;
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

impl Stand {
    const fn size(&self) -> i64 {
        match self {
            Self::Seedling(_) => 1,
            Self::Unnamed(_, count) => *count,
        }
    }

    fn words(&self, desk: &Desk, tray: &Tray) -> String {
        match self {
            Self::Seedling(plant) => {
                let row = desk.facts.plant.get(*plant);
                row.and_then(|row| desk.facts.seedling_label(row))
                    .unwrap_or_default()
            }
            Self::Unnamed(None, _) => tray.label().to_owned(),
            Self::Unnamed(cell @ Some(_), _) => tray.place(*cell),
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

/// Where seedlings of a look stand: by their own readings, else by their cell's newest tally, else by
/// the batch's.
fn standing_of_look(
    desk: &Desk,
    tray: &Tray,
    cell: Option<i64>,
    sights: &[Sight],
    entry: &Fates,
) -> Vec<Stand> {
    let read = tray.ever_scored();
    let here: Vec<&PlantRow> = tray
        .seedlings()
        .into_iter()
        .filter(|plant| read.contains(&plant.id))
        .collect();
    let of_cell = |at: Option<i64>| cell.is_none() || at == cell;
    let mut stands: Vec<Stand> = here
        .iter()
        .filter(|plant| of_cell(plant.cell) && shows(desk, plant.id, sights, entry))
        .map(|plant| Stand::Seedling(plant.id))
        .collect();
    for at in tray.tallied_cells() {
        let is_followed = here.iter().any(|plant| plant.cell == Some(at));
        if of_cell(Some(at)) && !is_followed {
            stands.extend(tallied(desk, tray, Some(at), sights, entry));
        }
    }
    if here.is_empty() && cell.is_none() && tray.tallied_cells().is_empty() {
        stands.extend(tallied(desk, tray, None, sights, entry));
    }
    stands
}

/// Whether the newest readings of a seedling that stands are those of the look.
fn shows(desk: &Desk, plant: i64, sights: &[Sight], entry: &Fates) -> bool {
    let facts = desk.facts;
    if gone(facts, plant, entry.day).is_some() {
        return false;
    }
    let newest = |of: i64| {
        let rows = facts.reading.iter().filter(|row: &&ReadingRow| {
            row.plant_id == plant && row.trait_id == Some(of) && row.day <= entry.day
        });
        rows.max_by_key(|row| (row.day, row.id))
            .map(|row| (row.class_id, row.sureness))
    };
    sights.iter().all(|sight| {
        newest(sight.of).is_some_and(|(class, sureness)| {
            class == sight.class && is_like(sureness, sight.sureness)
        })
    })
}

/// A plain class word means doubtful readings of it too; `maybe-` means those alone.
fn is_like(read: Sureness, meant: Sureness) -> bool {
    meant != Sureness::Doubtful || read == Sureness::Doubtful
}

/// How many of a look the newest tally of a place leaves, less those removed since.
fn tallied(
    desk: &Desk,
    tray: &Tray,
    cell: Option<i64>,
    sights: &[Sight],
    entry: &Fates,
) -> Option<Stand> {
    let tally = tray.newest_tally(cell, entry.day)?;
    let counted = counted_in(desk, tally, sights);
    let removed = removed_since(desk, tray, tally, sights, entry);
    let left = (counted - removed).min(tray.standing_by(cell, entry.day));
    (left > 0).then_some(Stand::Unnamed(cell, left))
}

/// How many of a look can be left of a place where none is known by its own reading or tally; nothing where the
/// look's traits were never scored there. In a cell of a batch that was tallied as a whole, the batch's.
fn left_of_look(
    desk: &Desk,
    tray: &Tray,
    cell: Option<i64>,
    sights: &[Sight],
    entry: &Fates,
) -> Option<i64> {
    let facts = desk.facts;
    let is_meant = |of: Option<i64>| sights.iter().any(|sight| of == Some(sight.of));
    let here = |plant: &PlantRow| cell.is_none() || plant.cell == cell;
    let read = tray.seedlings().into_iter().filter(|plant| here(plant));
    let is_read = read.into_iter().any(|plant| {
        facts
            .reading
            .iter()
            .any(|row| row.plant_id == plant.id && is_meant(row.trait_id) && row.day <= entry.day)
    });
    let tallies_it = |tally: &TallyRow| {
        let of_tally = |look: i64| {
            facts
                .tally_look
                .get(look)
                .is_some_and(|look| look.tally_id == tally.id)
        };
        facts
            .tally_class
            .iter()
            .any(|row| is_meant(row.trait_id) && of_tally(row.look_id))
    };
    if is_read || tray.newest_tally(cell, entry.day).is_some_and(tallies_it) {
        return Some(0);
    }
    let whole = tray
        .newest_tally(None, entry.day)
        .filter(|tally| tallies_it(tally))?;
    let is_finer = !tray.ever_scored().is_empty() || !tray.tallied_cells().is_empty();
    let left = || counted_in(desk, whole, sights) - removed_since(desk, tray, whole, sights, entry);
    (!is_finer).then(|| left().max(0))
}

fn counted_in(desk: &Desk, tally: &TallyRow, sights: &[Sight]) -> i64 {
    let facts = desk.facts;
    let has = |look: i64, sight: &Sight| {
        facts.tally_class.iter().any(|class| {
            class.look_id == look
                && class.trait_id == Some(sight.of)
                && class.class_id == sight.class
                && is_like(class.sureness, sight.sureness)
        })
    };
    let looks = facts
        .tally_look
        .iter()
        .filter(|look| look.tally_id == tally.id);
    looks
        .filter(|look| sights.iter().all(|sight| has(look.id, sight)))
        .map(|look| look.count)
        .sum()
}

/// How many of a look were removed from a place on the day of its tally or later; a count is taken to
/// be made before the pulling.
fn removed_since(
    desk: &Desk,
    tray: &Tray,
    tally: &TallyRow,
    sights: &[Sight],
    entry: &Fates,
) -> i64 {
    let has = |fate: &FateRow, sight: &Sight| {
        desk.facts.fate_class.iter().any(|class| {
            class.fate_id == fate.id
                && class.trait_id == sight.of
                && Some(class.class_id) == sight.class
        })
    };
    let fates = tray.fates().into_iter().filter(|fate| {
        fate.kind.is_gone()
            && (tally.cell.is_none() || fate.cell == tally.cell)
            && fate.plant_id.is_none()
            && (tally.day..=entry.day).contains(&fate.day)
            && sights.iter().all(|sight| has(fate, sight))
    });
    fates.map(|fate| fate.count).sum()
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
