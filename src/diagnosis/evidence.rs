//! What was seen in a batch, sorted out: which readings and tallies count, at what age, of how many.
//!
//! The ledger keeps everything; this decides what is evidence (the newest reading of a seedling, trait and
//! day; the newest tally; the finer of two readings) and says what it set aside.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use crate::records::day::Day;
use crate::records::rows::{
    BatchRow, FateRow, PlantRow, ReadingRow, Sureness, TallyClassRow, TallyRow, TasteMethod, Thing,
};

use super::answer::EvidenceNote;
use super::dates::{Dates, Emergence};
use super::index::Index;
use super::leaf_clock::{Dated, LeafClock, emergence_of_all};
use super::looks::Looks;
use super::odd_readings::{odd_of_parents, odd_readings};
use super::pulling::{cell_of, placed, pulled_before, went_after};
use super::runts::runts_left_out;

/// One telling reading.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Telling {
    /// The trait, as a place among the ledger's.
    pub look: usize,
    /// The class, as a place among the trait's.
    pub class: usize,
    /// Whether it is a doubtful one.
    pub doubtful: bool,
    /// What of the pod was tasted, where it was a tasting.
    pub taste: Option<TasteMethod>,
    /// The day.
    pub day: Day,
    /// Its place in the order of recording.
    pub order: i64,
}

impl Telling {
    /// How sure it is.
    #[must_use]
    pub const fn sureness(&self) -> Sureness {
        if self.doubtful {
            Sureness::Doubtful
        } else {
            Sureness::Firm
        }
    }
}

/// One seedling, or the seedlings of one tallied look.
#[derive(Debug, Clone)]
pub struct Member {
    /// The seedling's row number; nothing for a tallied look.
    pub plant: Option<i64>,
    /// The cell, where known.
    pub cell: Option<i64>,
    /// How many seedlings are evidence.
    pub count: i64,
    /// How many of them live.
    pub living: i64,
    /// The telling readings, by day and order.
    pub readings: Vec<Telling>,
    /// When they came up.
    pub emergence: Emergence,
}

impl Member {
    /// The reading taken newest; of two on one day the one recorded last.
    #[must_use]
    pub fn newest(&self) -> &Telling {
        self.readings
            .iter()
            .max_by_key(|reading| (reading.day, reading.order))
            .expect("a member has at least one telling reading")
    }

    /// The newest reading of a trait.
    #[must_use]
    pub fn newest_of(&self, look: usize) -> Option<&Telling> {
        newest_of(&self.readings, look)
    }
}

/// The newest of some readings that is of a trait; of two on one day the one recorded last.
#[must_use]
pub fn newest_of(readings: &[Telling], look: usize) -> Option<&Telling> {
    let of_trait = readings.iter().filter(|reading| reading.look == look);
    of_trait.max_by_key(|reading| (reading.day, reading.order))
}

/// The evidence of one batch.
#[derive(Debug, Clone)]
pub struct BatchEvidence {
    /// Seedlings and tallied looks with a telling reading.
    pub members: Vec<Member>,
    /// The traits read, as places among the ledger's, ascending.
    pub traits: Vec<usize>,
    /// Living seedlings with a telling reading.
    pub n: i64,
    /// Living seedlings without one.
    pub unscored: i64,
    /// How many came up, as far as counted.
    pub up: Option<i64>,
    /// The day of the newest telling reading.
    pub newest: Option<Day>,
    /// When the batch came up, as far as its newest reading can tell.
    pub emergence: Emergence,
    /// Whether nobody counted what came up, so that ages are a guess.
    pub guessed: bool,
    /// What has to be said.
    pub notes: Vec<EvidenceNote>,
    /// Traits read, as places among the ledger's, that were set aside since one table of the parents would be too large.
    pub set_aside: Vec<usize>,
}

/// The telling readings of a plant: the newest of each trait and day, the finer of two on one day, what one method of
/// tasting found once, by day.
#[must_use]
pub fn telling_readings(looks: &Looks, rows: &[&ReadingRow]) -> Vec<Telling> {
    let mut newest: BTreeMap<(Day, Option<i64>), &ReadingRow> = BTreeMap::new();
    for row in rows {
        let slot = newest.entry((row.day, row.trait_id)).or_insert(row);
        if row.id > slot.id {
            *slot = row;
        }
    }
    let mut telling: Vec<Telling> = newest
        .values()
        .filter_map(|row| {
            let told = telling(looks, row.class_id, row.sureness, row.day, row.id)?;
            let taste = looks.tasted(row.id);
            Some(Telling { taste, ..told })
        })
        .collect();
    keep_finer(looks, &mut telling);
    telling.sort_by_key(|reading| (reading.day, reading.order));
    taste_once(&mut telling);
    telling
}

/// What one method of tasting found of a plant counts once, a firm tasting before a doubtful one and the newest of
/// several: a tip without heat is the plant's way, not an error that another tip would make good.
fn taste_once(telling: &mut Vec<Telling>) {
    let found = |one: &Telling| (one.look, one.class, one.taste);
    let better = |one: &Telling| (!one.doubtful, one.day, one.order);
    let all = telling.clone();
    telling.retain(|one| {
        let alike = all.iter().filter(|other| found(other) == found(one));
        let best = alike.map(better).max();
        one.taste.is_none() || best == Some(better(one))
    });
}

fn telling(
    looks: &Looks,
    class_id: Option<i64>,
    sureness: Sureness,
    day: Day,
    order: i64,
) -> Option<Telling> {
    let doubtful = match sureness {
        Sureness::Firm => false,
        Sureness::Doubtful => true,
        Sureness::Early | Sureness::Dim => return None,
    };
    let (look, class) = looks.class_place(class_id?)?;
    looks.traits[look].switched_on.then_some(Telling {
        look,
        class,
        doubtful,
        taste: None,
        day,
        order,
    })
}

/// Of a graded and a plain reading of one organ and day only the finer counts.
pub(super) fn keep_finer(looks: &Looks, readings: &mut Vec<Telling>) {
    let finer: HashSet<(Day, usize)> = readings.iter().map(|r| (r.day, r.look)).collect();
    readings.retain(|reading| {
        !finer.iter().any(|(day, look)| {
            *day == reading.day && looks.traits[*look].is_finer_than(&looks.traits[reading.look])
        })
    });
}

/// The evidence of one batch.
#[must_use]
pub fn gather(
    index: &Index<'_>,
    looks: &Looks,
    batch: &BatchRow,
    usual_days: i64,
    clock: Option<&LeafClock>,
) -> BatchEvidence {
    let dates = Dates::of(index.emergences_of(batch.id), batch, usual_days);
    let mut notes = Vec::new();
    let mut members = seedling_members(index, looks, batch, &dates, &mut notes);
    let by_clock = match clock.filter(|_| dates.guessed) {
        Some(clock) => clock.date(index, batch, &mut members),
        None => Dated::default(),
    };
    let by_leaves = by_clock.count;
    let read = |plant: &&&PlantRow| !index.readings_of(plant.id).is_empty();
    let read_cells: HashSet<i64> = index
        .seedlings_of(batch.id)
        .iter()
        .filter(read)
        .filter_map(|plant| plant.cell)
        .collect();
    let any_read = index
        .seedlings_of(batch.id)
        .iter()
        .any(|plant| read(&plant));
    members.extend(tally_members(
        index,
        looks,
        batch,
        &dates,
        &read_cells,
        any_read,
        &mut notes,
    ));
    let newest = members.iter().map(|member| member.newest().day).max();
    let counted: i64 = members.iter().map(|member| member.count).sum();
    if let Some(clock) = clock.filter(|_| by_leaves > 0) {
        let (count, pairs) = (by_leaves, clock.pairs);
        notes.push(EvidenceNote::DatedByLeaves { count, pairs });
    }
    let guessed = dates.guessed && counted > by_leaves;
    if guessed {
        notes.push(EvidenceNote::EmergenceGuessed {
            days: usual_days,
            others: (by_leaves > 0).then_some(counted - by_leaves),
        });
    }
    if !by_clock.unfit.is_empty() {
        let whose = by_clock.unfit;
        notes.push(EvidenceNote::LeavesFitNoDay { whose });
    }
    let mut traits: Vec<usize> = members
        .iter()
        .flat_map(|m| m.readings.iter().map(|r| r.look))
        .collect();
    traits.sort_unstable();
    traits.dedup();
    let up = dates.up;
    let (known, removed) = known_and_removed(index, batch, up);
    if removed >= known {
        members.iter_mut().for_each(|member| member.living = 0);
    } else {
        notes.extend(removed_unseen(index, batch, &members));
    }
    notes.extend(runts_left_out(index, batch));
    notes.extend(odd_readings(index, batch));
    notes.extend(odd_of_parents(index, batch));
    notes.extend(traits_off(index, looks, batch));
    let n: i64 = members.iter().map(|member| member.living).sum();
    let unscored = (known - removed - n).max(0);
    let emergence = if by_leaves > 0 {
        emergence_of_all(&members)
    } else {
        dates.of_batch(newest)
    };
    BatchEvidence {
        members,
        traits,
        n,
        unscored,
        up,
        newest,
        emergence,
        guessed: guessed || counted == 0 && dates.guessed,
        notes,
        set_aside: Vec::new(),
    }
}

/// How many seedlings are known of: those up, tallied or gone before the tally, or mentioned, whichever is most; and how
/// many were removed.
fn known_and_removed(index: &Index<'_>, batch: &BatchRow, up: Option<i64>) -> (i64, i64) {
    let removed = index
        .fates_of(batch.id)
        .iter()
        .filter(|fate| fate.kind.is_gone())
        .map(|fate| fate.count)
        .sum();
    let (mut whole, mut in_cells) = (0, 0);
    for tally in newest_tallies(index, batch.id) {
        let looks = index.looks_of(tally.id);
        let counted: i64 = looks.iter().map(|(look, _)| look.count).sum();
        let known = counted + gone_before(index, tally);
        match tally.cell {
            None => whole = known,
            Some(_) => in_cells += known,
        }
    }
    let mentioned = i64::try_from(index.seedlings_of(batch.id).len()).unwrap_or(i64::MAX);
    let known = up.unwrap_or(0).max(whole).max(in_cells).max(mentioned);
    (known, removed)
}

fn seedling_members(
    index: &Index<'_>,
    looks: &Looks,
    batch: &BatchRow,
    dates: &Dates,
    notes: &mut Vec<EvidenceNote>,
) -> Vec<Member> {
    let dead: HashSet<i64> = index
        .fates_of(batch.id)
        .iter()
        .filter(|fate| fate.kind.is_gone())
        .filter_map(|fate| fate.plant_id)
        .collect();
    let mut members = Vec::new();
    for plant in index.seedlings_of(batch.id) {
        let mut readings = telling_readings(looks, index.readings_of(plant.id));
        for early in readings.extract_if(.., |reading| reading.day < batch.day) {
            let what = index.facts.plant_label(plant);
            notes.push(EvidenceNote::BeforeSowing {
                what,
                day: early.day,
            });
        }
        if readings.is_empty() {
            continue;
        }
        // A look that was too early to score still shows that the seedling was there.
        let looked = index.readings_of(plant.id).iter().map(|row| row.day);
        let first = looked
            .filter(|day| *day >= batch.day)
            .min()
            .unwrap_or(batch.day);
        members.push(Member {
            plant: Some(plant.id),
            cell: plant.cell,
            count: 1,
            living: i64::from(!dead.contains(&plant.id)),
            readings,
            emergence: dates.of_cell(plant.cell, first),
        });
    }
    members.sort_by_key(|member| {
        let plant = member.plant.and_then(|id| index.facts.plant.get(id));
        plant.map(|plant| (plant.cell, plant.part.clone(), plant.id))
    });
    members
}

/// The newest tally of each cell and of the batch.
fn newest_tallies<'a>(index: &Index<'a>, batch_id: i64) -> Vec<&'a TallyRow> {
    let mut newest: BTreeMap<Option<i64>, &TallyRow> = BTreeMap::new();
    for tally in index.tallies_of(batch_id) {
        let slot = newest.entry(tally.cell).or_insert(tally);
        if (tally.day, tally.id) > (slot.day, slot.id) {
            *slot = tally;
        }
    }
    newest.into_values().collect()
}

fn tally_members(
    index: &Index<'_>,
    looks: &Looks,
    batch: &BatchRow,
    dates: &Dates,
    read_cells: &HashSet<i64>,
    any_read: bool,
    notes: &mut Vec<EvidenceNote>,
) -> Vec<Member> {
    let tallies = newest_tallies(index, batch.id);
    let any_cell = tallies.iter().any(|tally| tally.cell.is_some());
    let mut members = Vec::new();
    for tally in tallies {
        match tally.cell {
            None if any_cell || any_read => {
                notes.push(EvidenceNote::BatchTallySetAside { day: tally.day });
                continue;
            }
            Some(cell) if read_cells.contains(&cell) => {
                notes.push(EvidenceNote::CellTallySetAside {
                    cell,
                    day: tally.day,
                });
                continue;
            }
            _ => {}
        }
        if tally.day < batch.day {
            let what = index
                .facts
                .code_of(Thing::Batch, batch.id)
                .unwrap_or_default()
                .to_owned();
            notes.push(EvidenceNote::BeforeSowing {
                what,
                day: tally.day,
            });
            continue;
        }
        notes.extend(pulled_before(index, looks, tally));
        members.extend(members_of_tally(index, looks, batch, tally, dates));
    }
    members
}

fn members_of_tally(
    index: &Index<'_>,
    looks: &Looks,
    batch: &BatchRow,
    tally: &TallyRow,
    dates: &Dates,
) -> Vec<Member> {
    let mut members = Vec::new();
    let mut keys: Vec<Vec<(i64, i64)>> = Vec::new();
    for (look, classes) in index.looks_of(tally.id) {
        let mut readings: Vec<Telling> = classes
            .iter()
            .filter(|class| !index.runts.keeps_out(batch.id, class.trait_id))
            .filter_map(|class| telling(looks, class.class_id, class.sureness, tally.day, class.id))
            .collect();
        keep_finer(looks, &mut readings);
        if readings.is_empty() || look.count == 0 {
            continue;
        }
        keys.push(
            classes
                .iter()
                .filter_map(|class| Some((class.trait_id?, class.class_id?)))
                .collect(),
        );
        members.push(Member {
            plant: None,
            cell: tally.cell,
            count: look.count,
            living: look.count,
            readings,
            emergence: dates.of_cell(tally.cell, tally.day),
        });
    }
    take_removed(index, batch, tally, &mut members, &keys);
    members
}

/// Takes the seedlings removed since a tally off its looks: by look where one was named, then the unnamed ones off the
/// only look still living.
fn take_removed(
    index: &Index<'_>,
    batch: &BatchRow,
    tally: &TallyRow,
    members: &mut [Member],
    keys: &[Vec<(i64, i64)>],
) {
    let mut unnamed = 0;
    let placed = placed(index, tally);
    for fate in index.fates_of(batch.id) {
        let elsewhere = tally.cell.is_some() && cell_of(index, fate) != tally.cell;
        if !fate.kind.is_gone() || elsewhere || !went_after(fate, tally, &placed) {
            continue;
        }
        let named = index
            .fate_classes
            .get(&fate.id)
            .map_or(&[][..], Vec::as_slice);
        if named.is_empty() {
            unnamed += fate.count;
            continue;
        }
        let fitting = members
            .iter_mut()
            .zip(keys)
            .filter(|(_, key)| named.iter().all(|class| key.contains(class)));
        let mut left = fate.count;
        for (member, _) in fitting {
            let taken = left.min(member.living);
            member.living -= taken;
            left -= taken;
        }
    }
    let mut living: Vec<&mut Member> = members
        .iter_mut()
        .filter(|member| member.living > 0)
        .collect();
    if let [only] = living.as_mut_slice() {
        only.living -= unnamed.min(only.living);
    }
}

/// How many went from a tally's place before it was made.
fn gone_before(index: &Index<'_>, tally: &TallyRow) -> i64 {
    let placed = placed(index, tally);
    let is_before = |fate: &&&FateRow| {
        let covers = tally.cell.is_none() || cell_of(index, fate) == tally.cell;
        fate.kind.is_gone() && covers && !went_after(fate, tally, &placed)
    };
    let fates = index.fates_of(tally.batch_id).iter().filter(is_before);
    fates.map(|fate| fate.count).sum()
}

/// Seedlings removed without a word on their looks, where several looks still stand.
fn removed_unseen(index: &Index<'_>, batch: &BatchRow, members: &[Member]) -> Option<EvidenceNote> {
    let read: HashSet<i64> = members.iter().filter_map(|member| member.plant).collect();
    let unseen: i64 = index
        .fates_of(batch.id)
        .iter()
        .filter(|fate| fate.kind.is_gone() && !index.fate_classes.contains_key(&fate.id))
        .filter(|fate| fate.plant_id.is_none_or(|id| !read.contains(&id)))
        .map(|fate| fate.count)
        .sum();
    let living = members.iter().filter(|member| member.living > 0).count();
    (unseen > 0 && living > 1).then_some(EvidenceNote::RemovedUnseen { count: unseen })
}

/// Readings of switched-off traits are no evidence; their traits are named.
fn traits_off(index: &Index<'_>, looks: &Looks, batch: &BatchRow) -> Vec<EvidenceNote> {
    let of_plants = index
        .seedlings_of(batch.id)
        .iter()
        .flat_map(|plant| index.readings_of(plant.id));
    let of_tallies = newest_tallies(index, batch.id)
        .into_iter()
        .flat_map(|tally| index.looks_of(tally.id));
    let mut classes: Vec<i64> = of_plants.filter_map(|row| row.class_id).collect();
    let counts = |class: &&&TallyClassRow| !index.runts.keeps_out(batch.id, class.trait_id);
    classes.extend(of_tallies.flat_map(|(_, classes)| {
        let all = classes.iter().filter(counts);
        all.filter_map(|class| class.class_id)
    }));
    let places = classes.iter().filter_map(|class| looks.class_place(*class));
    let off: BTreeSet<usize> = places
        .map(|(look, _)| look)
        .filter(|look| !looks.traits[*look].switched_on)
        .collect();
    off.iter()
        .map(|look| EvidenceNote::TraitOff {
            trait_code: looks.traits[*look].code.clone(),
        })
        .collect()
}
