//! The ledger as it stood on a day: what was seen later left out.
//!
//! For questions put as on a day past. Only what was seen or became of seedlings goes: crosses, seed and statements have
//! no bearing on what was seen when, and stay.

use super::change::RowChange;
use super::day::Day;
use super::facts::Facts;

impl Facts {
    /// The same facts without readings, counts and fates of later days; nothing where there are none of those.
    #[must_use]
    pub fn seen_until(&self, day: Day) -> Option<Self> {
        let mut later: Vec<RowChange> = Vec::new();
        let readings = self.reading.iter().filter(|row| row.day > day);
        later.extend(readings.map(|row| RowChange::delete(row.clone())));
        let tallies = self.tally.iter().filter(|row| row.day > day);
        later.extend(tallies.map(|row| RowChange::delete(row.clone())));
        let counts = self.emergence.iter().filter(|row| row.day > day);
        later.extend(counts.map(|row| RowChange::delete(row.clone())));
        let fates = self.fate.iter().filter(|row| row.day > day);
        later.extend(fates.map(|row| RowChange::delete(row.clone())));
        if later.is_empty() {
            return None;
        }
        let mut facts = self.clone();
        later.iter().for_each(|change| facts.apply(change));
        Some(facts)
    }
}
