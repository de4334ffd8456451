//! What an undo must not pull from under later entries.
//!
//! What rows refer to is known in [`crate::records::references`]; what they say of each other in words is
//! looked at by trying: the records as they would then be are asked whether they agree.

use std::collections::BTreeSet;

use crate::records::change::RowChange;
use crate::records::coherence::{Discord, discords};
use crate::records::facts::Facts;
pub(super) use crate::records::references::of;
use crate::records::rows::{Row, Table};

/// What no longer agrees once these changes are made, and did before.
pub(super) fn new_discords(facts: &Facts, changes: &[RowChange]) -> Vec<Discord> {
    let mut then = facts.clone();
    for change in changes {
        then.apply(change);
    }
    let mut found = discords(&then);
    if !found.is_empty() {
        let old = discords(facts);
        found.retain(|discord| !old.contains(discord));
    }
    found
}

/// Whether any of the changes touches a row that takes part in a discord.
pub(super) fn meets(discord: &Discord, changes: &[RowChange]) -> bool {
    let mut rows = changes.iter().map(|change| (change.table, change.id));
    rows.any(|row| discord.rows.contains(&row))
}

/// Whether later changes touch the rows of an entry, or refer to rows that it made.
pub(super) fn builds_on(later: &[RowChange], own: &[RowChange]) -> bool {
    let touched: BTreeSet<(Table, i64)> =
        own.iter().map(|change| (change.table, change.id)).collect();
    let made: BTreeSet<(Table, i64)> = own
        .iter()
        .filter(|change| change.before.is_none())
        .map(|change| (change.table, change.id))
        .collect();
    later.iter().any(|change| {
        let refers = |row: &Row| of(row).iter().any(|to| made.contains(to));
        touched.contains(&(change.table, change.id)) || change.after.as_ref().is_some_and(refers)
    })
}

#[cfg(test)]
mod tests {
    use crate::records::references::REFERENCES;
    use crate::store::{schema, settings};

    #[test]
    fn references_are_the_foreign_keys_of_the_schema() {
        let mut connection = rusqlite::Connection::open_in_memory().unwrap();
        settings::settle(&mut connection).unwrap();
        schema::upgrade(&connection, 0).unwrap();
        let mut keys: Vec<(String, String, String)> = connection
            .prepare(
                "SELECT t.name, k.\"from\", k.\"table\" FROM pragma_table_list AS t, \
                 pragma_foreign_key_list(t.name) AS k",
            )
            .unwrap()
            .query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
            .unwrap()
            .collect::<Result<_, _>>()
            .unwrap();
        let mut listed: Vec<(String, String, String)> = REFERENCES
            .iter()
            .map(|(from, column, to)| {
                (
                    from.name().to_owned(),
                    (*column).to_owned(),
                    to.name().to_owned(),
                )
            })
            .collect();
        keys.sort();
        listed.sort();
        assert_eq!(listed, keys);
    }
}
