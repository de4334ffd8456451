//! The changes that bring the other ledger's records in.

use std::collections::BTreeMap;

use super::{Guest, Merge, MergeRefusal, Survey, codes, is_record, stays};
use crate::records::change::RowChange;
use crate::records::code::fold;
use crate::records::coherence::discords;
use crate::records::facts::Facts;
use crate::records::genes::Loci;
use crate::records::references::renumbered;
use crate::records::rows::{CameFromRow, ImportedLedgerRow, RecombinationRow, Row, Table, Thing};

/// The series by which crosses and trays get their codes.
const CODE_SERIES: [&str; 2] = ["X", "T"];

impl Survey<'_> {
    /// A prefix of one letter and a dot that would do.
    #[must_use]
    pub fn free_prefix(&self) -> Option<String> {
        codes::free_prefix(self.ours, &self.outlook().names)
    }

    /// The changes that bring everything in.
    ///
    /// # Errors
    /// [`MergeRefusal`] where codes clash, statements contradict each other, or the records would not agree.
    pub fn settle(&self, guest: &Guest) -> Result<Merge, MergeRefusal> {
        self.refuse()?;
        let numbers = self.number();
        let mut changes = self.meeting.gains.clone();
        for table in Table::ALL.iter().copied().filter(|table| !stays(*table)) {
            let coming = self.coming(table).into_iter();
            changes.extend(
                coming
                    .filter_map(|row| self.bring(&row, &numbers))
                    .map(RowChange::insert),
            );
        }
        changes.extend(self.provenance(guest, &numbers));
        self.refuse_discord(&changes)?;
        Ok(Merge {
            changes,
            counters: self.counters(&numbers),
        })
    }

    fn refuse(&self) -> Result<(), MergeRefusal> {
        let outlook = self.outlook();
        if !outlook.contradictions.is_empty() {
            let contradictions = outlook.contradictions.clone();
            return Err(MergeRefusal::Contradictions { contradictions });
        }
        if !outlook.unfit.is_empty() {
            let codes = outlook.unfit.clone();
            let free = self.free_prefix();
            return Err(MergeRefusal::Unfit { codes, free });
        }
        if !outlook.clashes.is_empty() {
            let clashes = outlook.clashes.clone();
            let free = self.free_prefix();
            return Err(MergeRefusal::Clashes { clashes, free });
        }
        Ok(())
    }

    /// Their rows of a table that are not taken as rows of ours.
    fn coming(&self, table: Table) -> Vec<Row> {
        let mut rows = self.theirs.all(table);
        rows.retain(|row| !self.meeting.same.contains_key(&(table, row.id())));
        rows
    }

    /// The number here of every row of theirs.
    fn number(&self) -> BTreeMap<(Table, i64), i64> {
        let mut numbers = self.meeting.same.clone();
        for table in Table::ALL {
            let ids = (self.ours.next_id(*table)..).zip(self.coming(*table));
            numbers.extend(ids.map(|(id, row)| ((*table, row.id()), id)));
        }
        numbers
    }

    /// A row of theirs as it stands here; nothing for a note on a record that is no more.
    fn bring(&self, row: &Row, numbers: &BTreeMap<(Table, i64), i64>) -> Option<Row> {
        let number = |table: Table, id: i64| numbers.get(&(table, id)).copied().unwrap_or(id);
        let place = self.meeting.places.get(&row.id()).copied();
        let row = renumbered(row, number(row.table(), row.id()), number);
        Some(match row {
            Row::Code(mut code) => {
                code.typed = format!("{}{}", self.prefix, code.typed);
                code.key = fold(&code.typed);
                code.into()
            }
            Row::Allele(mut allele) => {
                allele.ord = place.unwrap_or(allele.ord);
                allele.into()
            }
            Row::Recombination(pair) => RecombinationRow {
                locus_a: pair.locus_a.min(pair.locus_b),
                locus_b: pair.locus_a.max(pair.locus_b),
                ..pair
            }
            .into(),
            Row::Trait(mut row) => {
                row.built_in = false;
                row.into()
            }
            Row::CameFrom(mut row) => {
                let table = Table::named(&row.entity)?;
                row.entity_id = numbers.get(&(table, row.entity_id)).copied()?;
                row.into()
            }
            row => row,
        })
    }

    /// A row for the ledger, and one for each record that comes.
    fn provenance(&self, guest: &Guest, numbers: &BTreeMap<(Table, i64), i64>) -> Vec<RowChange> {
        let after = |table: Table| {
            let brought = self.coming(table).len();
            self.ours.next_id(table) + i64::try_from(brought).expect("rows can be counted")
        };
        let imported = ImportedLedgerRow {
            id: after(Table::ImportedLedger),
            ledger: guest.ledger.clone(),
            head: guest.head.clone(),
            entries: guest.entries,
            sum: guest.sum.clone(),
            prefix: self.prefix.to_owned(),
            day: guest.day,
        };
        let records = Table::ALL.iter().copied().filter(|table| is_record(*table));
        let records = records.flat_map(|table| self.coming(table));
        let notes = (after(Table::CameFrom)..).zip(records).map(|(id, row)| {
            RowChange::insert(CameFromRow {
                id,
                imported_id: imported.id,
                entity: row.table().name().to_owned(),
                entity_id: numbers[&(row.table(), row.id())],
                number: row.id(),
                called: called(self.theirs, &row),
            })
        });
        let notes: Vec<RowChange> = notes.collect();
        std::iter::once(RowChange::insert(imported))
            .chain(notes)
            .collect()
    }

    /// The series that go on: of lots under their new numbers; of codes where those come as they are.
    fn counters(&self, numbers: &BTreeMap<(Table, i64), i64>) -> BTreeMap<String, i64> {
        let mut counters = BTreeMap::new();
        for (series, next) in self.theirs.counters() {
            let name = if CODE_SERIES.contains(&series.as_str()) {
                self.prefix.is_empty().then(|| series.clone())
            } else {
                lot_series(series, numbers)
            };
            if let Some(name) = name {
                let next = self.ours.next_number(&name).max(*next);
                counters.insert(name, next);
            }
        }
        counters
    }

    fn refuse_discord(&self, changes: &[RowChange]) -> Result<(), MergeRefusal> {
        let mut then = self.ours.clone();
        for change in changes {
            then.apply(change);
        }
        let mut found = discords(&then);
        if !found.is_empty() {
            let old = discords(self.ours);
            found.retain(|discord| !old.contains(discord));
        }
        let mut leaves: Vec<String> = found.iter().map(ToString::to_string).collect();
        leaves.extend(
            Loci::of(&then)
                .err()
                .map(|unreadable| unreadable.to_string()),
        );
        if leaves.is_empty() {
            return Ok(());
        }
        Err(MergeRefusal::Discords { leaves })
    }
}

/// `lot:cross:3` under the cross's number here; nothing for other series, and for what is no more.
fn lot_series(series: &str, numbers: &BTreeMap<(Table, i64), i64>) -> Option<String> {
    let rest = series.strip_prefix(Table::Lot.name())?.strip_prefix(':')?;
    let (table, id) = rest.split_once(':')?;
    let (table, id) = (Table::named(table)?, id.parse().ok()?);
    let number = numbers.get(&(table, id))?;
    Some(format!("{}:{}:{number}", Table::Lot.name(), table.name()))
}

/// What a row is called in its ledger; empty where it has no name.
fn called(facts: &Facts, row: &Row) -> String {
    let code = |thing, id| facts.code_of(thing, id).unwrap_or_default().to_owned();
    match row {
        Row::Code(row) => row.typed.clone(),
        Row::Locus(row) => row.symbol.clone(),
        Row::Allele(row) => row.symbol.clone(),
        Row::Trait(row) => code(Thing::Trait, row.id),
        Row::TraitClass(row) => format!("{}:{}", code(Thing::Trait, row.trait_id), row.name),
        Row::TraitModel(row) => row.name.clone(),
        Row::Plant(row) => facts.plant_label(row),
        Row::Cross(row) => code(Thing::Cross, row.id),
        Row::Batch(row) => code(Thing::Batch, row.id),
        Row::Lot(row) => facts.lot_label(row.id),
        _ => String::new(),
    }
}
