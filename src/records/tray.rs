//! How a batch stands on a day: sown, up, scored, gone.
//!
//! Counts what the rows say and judges nothing; the gate, the answers and the diagnosis ask here.

use std::collections::{BTreeMap, BTreeSet, HashSet};

use super::day::Day;
use super::facts::Facts;
use super::rows::{BatchRow, EmergenceRow, FateKind, FateRow, PlantRow, TallyRow, Thing};

/// A batch with the facts around it.
#[derive(Debug, Clone, Copy)]
pub struct Tray<'f> {
    facts: &'f Facts,
    /// The batch.
    pub batch: &'f BatchRow,
}

impl FateKind {
    /// The command that records it.
    #[must_use]
    pub const fn command(self) -> &'static str {
        match self {
            Self::Culled => "cull",
            Self::Thinned => "thin",
            Self::Died => "died",
            Self::PottedUp => "pot-up",
        }
    }

    /// Whether the seedling stands no more.
    #[must_use]
    pub const fn is_gone(self) -> bool {
        matches!(self, Self::Culled | Self::Thinned | Self::Died)
    }
}

impl<'f> Tray<'f> {
    /// The batch of a number.
    #[must_use]
    pub fn of(facts: &'f Facts, batch_id: i64) -> Option<Self> {
        facts.batch.get(batch_id).map(|batch| Self { facts, batch })
    }

    /// Its code.
    #[must_use]
    pub fn label(&self) -> &'f str {
        self.facts
            .code_of(Thing::Batch, self.batch.id)
            .unwrap_or("?")
    }

    /// The batch, or one of its cells, as it is spoken of: `T1`, `T1-03`.
    #[must_use]
    pub fn place(&self, cell: Option<i64>) -> String {
        match cell {
            None => self.label().to_owned(),
            Some(cell) => format!("{}-{cell:02}", self.label()),
        }
    }

    fn emergence(&self) -> impl Iterator<Item = &'f EmergenceRow> + use<'f> {
        let id = self.batch.id;
        self.facts
            .emergence
            .iter()
            .filter(move |row| row.batch_id == id)
    }

    /// The highest count up to a day of the whole batch, or of one cell: what came up once stays counted.
    fn highest_count(&self, cell: Option<i64>, day: Day) -> Option<i64> {
        let rows = self
            .emergence()
            .filter(|row| row.cell == cell && row.day <= day);
        rows.map(|row| row.up).max()
    }

    /// How many are up in one cell by a day; nothing where the cell was never counted.
    #[must_use]
    pub fn cell_up_by(&self, cell: i64, day: Day) -> Option<i64> {
        self.highest_count(Some(cell), day)
    }

    /// How many are up by a day according to the cells alone; nothing where no cell was counted.
    #[must_use]
    pub fn cells_up_by(&self, day: Day) -> Option<i64> {
        let mut highest: BTreeMap<i64, i64> = BTreeMap::new();
        for row in self.emergence().filter(|row| row.day <= day) {
            let Some(cell) = row.cell else { continue };
            let kept = highest.entry(cell).or_insert(row.up);
            *kept = row.up.max(*kept);
        }
        (!highest.is_empty()).then(|| highest.values().sum())
    }

    /// How many came up in one cell, whenever counted.
    #[must_use]
    pub fn cell_up_ever(&self, cell: i64) -> i64 {
        let rows = self.emergence().filter(|row| row.cell == Some(cell));
        rows.map(|row| row.up).max().unwrap_or(0)
    }

    /// How many came up according to the cells alone, whenever counted.
    #[must_use]
    pub fn cells_up_ever(&self) -> i64 {
        let cells: BTreeSet<i64> = self.emergence().filter_map(|row| row.cell).collect();
        cells.iter().map(|cell| self.cell_up_ever(*cell)).sum()
    }

    /// How many are up by a day: the highest count of the batch or the sum of its cells, whichever is
    /// more; nothing where nothing was counted by then.
    #[must_use]
    pub fn up_by(&self, day: Day) -> Option<i64> {
        self.highest_count(None, day).max(self.cells_up_by(day))
    }

    /// The first day on which any seedling was counted as up.
    #[must_use]
    pub fn first_up(&self) -> Option<Day> {
        self.emergence()
            .filter(|row| row.up > 0)
            .map(|row| row.day)
            .min()
    }

    /// The seedlings that were told apart, by cell and letter.
    #[must_use]
    pub fn seedlings(&self) -> Vec<&'f PlantRow> {
        let mut found: Vec<_> = self.facts.seedlings_of(self.batch.id).collect();
        found.sort_by(|a, b| (a.cell, &a.part, a.id).cmp(&(b.cell, &b.part, b.id)));
        found
    }

    /// The seedlings of one cell that were told apart.
    #[must_use]
    pub fn in_cell(&self, cell: i64) -> Vec<&'f PlantRow> {
        let mut found = self.seedlings();
        found.retain(|plant| plant.cell == Some(cell));
        found
    }

    /// What became of the batch's seedlings, in the order of days.
    #[must_use]
    pub fn fates(&self) -> Vec<&'f FateRow> {
        let id = self.batch.id;
        let mut found: Vec<_> = self
            .facts
            .fate
            .iter()
            .filter(|f| f.batch_id == id)
            .collect();
        found.sort_by_key(|fate| (fate.day, fate.id));
        found
    }

    /// How many are gone by a day, of the batch or of one cell.
    #[must_use]
    pub fn gone_by(&self, cell: Option<i64>, day: Day) -> i64 {
        let place = |fate: &FateRow| {
            let plant = fate.plant_id.and_then(|id| self.facts.plant.get(id));
            plant.map_or(fate.cell, |plant| plant.cell)
        };
        let gone = |fate: &&&FateRow| {
            fate.kind.is_gone() && fate.day <= day && (cell.is_none() || place(fate) == cell)
        };
        self.fates()
            .iter()
            .filter(gone)
            .map(|fate| fate.count)
            .sum()
    }

    /// How many seedlings have a reading of their own by a day and are not gone.
    #[must_use]
    pub fn scored_by(&self, day: Day) -> HashSet<i64> {
        let here: HashSet<i64> = self.seedlings().iter().map(|plant| plant.id).collect();
        let gone: HashSet<i64> = self
            .facts
            .fate
            .iter()
            .filter(|fate| fate.kind.is_gone() && fate.day <= day)
            .filter_map(|fate| fate.plant_id)
            .collect();
        let read = self
            .facts
            .reading
            .iter()
            .filter(|reading| reading.day <= day);
        read.map(|reading| reading.plant_id)
            .filter(|id| here.contains(id) && !gone.contains(id))
            .collect()
    }

    /// The seedlings that ever had a reading of their own.
    #[must_use]
    pub fn ever_scored(&self) -> HashSet<i64> {
        let here: HashSet<i64> = self.seedlings().iter().map(|plant| plant.id).collect();
        let read = self.facts.reading.iter().map(|reading| reading.plant_id);
        read.filter(|id| here.contains(id)).collect()
    }

    /// The newest tally of the whole batch, or of one cell, up to a day.
    #[must_use]
    pub fn newest_tally(&self, cell: Option<i64>, day: Day) -> Option<&'f TallyRow> {
        let id = self.batch.id;
        let here =
            move |tally: &&TallyRow| tally.batch_id == id && tally.cell == cell && tally.day <= day;
        self.facts
            .tally
            .iter()
            .filter(here)
            .max_by_key(|tally| (tally.day, tally.id))
    }

    /// The cells that have a tally.
    #[must_use]
    pub fn tallied_cells(&self) -> Vec<i64> {
        let id = self.batch.id;
        let here = self.facts.tally.iter().filter(|tally| tally.batch_id == id);
        let mut cells: Vec<i64> = here.filter_map(|tally| tally.cell).collect();
        cells.sort_unstable();
        cells.dedup();
        cells
    }

    /// Whether the batch as a whole was ever tallied.
    #[must_use]
    pub fn has_batch_tally(&self) -> bool {
        let id = self.batch.id;
        self.facts
            .tally
            .iter()
            .any(|tally| tally.batch_id == id && tally.cell.is_none())
    }

    /// How many seedlings a tally counts.
    #[must_use]
    pub fn tally_total(&self, tally: &TallyRow) -> i64 {
        let looks = self
            .facts
            .tally_look
            .iter()
            .filter(|look| look.tally_id == tally.id);
        looks.map(|look| look.count).sum()
    }

    /// How many stood at the end of a day by what was counted as up; nothing where nobody counted.
    #[must_use]
    pub fn stood_on(&self, cell: Option<i64>, day: Day) -> Option<i64> {
        let up = match cell {
            None => self.up_by(day),
            Some(cell) => self.cell_up_by(cell, day),
        };
        up.map(|up| up - self.gone_by(cell, day))
    }

    /// How many can be standing on a day: those up, or tallied and gone on days before, or at most the seeds sown, less
    /// those gone.
    #[must_use]
    pub fn standing_by(&self, cell: Option<i64>, day: Day) -> i64 {
        let with_gone =
            |tally: &TallyRow| self.tally_total(tally) + self.gone_by(cell, tally.day.back(1));
        let tallied = self.newest_tally(cell, day).map(with_gone);
        let up = match cell {
            None => self.up_by(day),
            Some(cell) => self.cell_up_by(cell, day),
        };
        up.max(tallied).unwrap_or_else(|| self.seeds_in(cell)) - self.gone_by(cell, day)
    }

    /// The most seeds that can lie in the batch or one of its cells: in a cell one, where there are as many cells.
    const fn seeds_in(&self, cell: Option<i64>) -> i64 {
        match cell {
            Some(_) if self.batch.seeds <= self.batch.cells => 1,
            _ => self.batch.seeds,
        }
    }
}

/// How a seedling went, where it did by a day.
#[must_use]
pub fn gone(facts: &Facts, plant_id: i64, day: Day) -> Option<&FateRow> {
    let of_plant =
        |fate: &&FateRow| fate.plant_id == Some(plant_id) && fate.kind.is_gone() && fate.day <= day;
    facts
        .fate
        .iter()
        .filter(of_plant)
        .min_by_key(|fate| (fate.day, fate.id))
}

/// How some seedlings went, in words.
#[must_use]
pub const fn went(fate: FateKind, count: usize) -> &'static str {
    match (fate, count) {
        (FateKind::Culled, 1) => "was culled",
        (FateKind::Culled, _) => "were culled",
        (FateKind::Thinned, 1) => "was thinned",
        (FateKind::Thinned, _) => "were thinned",
        (FateKind::Died, _) => "died",
        (FateKind::PottedUp, 1) => "was potted up",
        (FateKind::PottedUp, _) => "were potted up",
    }
}

/// How many seeds of a lot are left; nothing where its number of seeds is not known.
#[must_use]
pub fn stock(facts: &Facts, lot_id: i64) -> Option<i64> {
    let harvested = facts.lot.get(lot_id)?.seeds?;
    let drawn = facts.batch_seed.iter().filter(|draw| draw.lot_id == lot_id);
    Some(harvested - drawn.map(|draw| draw.seeds).sum::<i64>())
}
