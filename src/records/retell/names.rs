//! What things were called when words were typed: a code that was corrected since is found by its old name again.

use std::collections::{BTreeMap, BTreeSet};

use crate::records::change::RowChange;
use crate::records::facts::Facts;
use crate::records::rows::{CodeRow, Row, Table};

/// The names of every code, from the entry on that gave each.
#[derive(Debug, Clone, Default)]
pub struct Names(BTreeMap<i64, Vec<(i64, Option<CodeRow>)>>);

impl Names {
    /// Reads the row changes of a history.
    #[must_use]
    pub fn of(changes: &BTreeMap<i64, Vec<RowChange>>) -> Self {
        let mut names = Self::default();
        for (entry, changes) in changes {
            for change in changes.iter().filter(|one| one.table == Table::Code) {
                let code = match &change.after {
                    Some(Row::Code(code)) => Some(code.clone()),
                    _ => None,
                };
                names.0.entry(change.id).or_default().push((*entry, code));
            }
        }
        names
    }

    /// What is called otherwise by now than just before an entry: by its old key, its code.
    #[must_use]
    pub fn since(&self, facts: &Facts, entry: i64) -> BTreeMap<String, String> {
        let code = |row: Option<&Row>| match row {
            Some(Row::Code(code)) => Some((code.id, code.clone())),
            _ => None,
        };
        let back = self.turned_back(facts, entry);
        let now: BTreeMap<i64, CodeRow> = back
            .iter()
            .filter_map(|one| code(one.before.as_ref()))
            .collect();
        let was = back.iter().filter_map(|one| code(one.after.as_ref()));
        was.filter_map(|(id, was)| Some((was.key, now.get(&id)?.typed.clone())))
            .collect()
    }

    /// The code row of a number as it was just before an entry.
    fn before(&self, id: i64, entry: i64) -> Option<&CodeRow> {
        let named = self.0.get(&id)?;
        let last = named.iter().rev().find(|(since, _)| *since < entry)?;
        last.1.as_ref()
    }

    /// What gives the codes of a ledger the names they had just before an entry: old ones go, then new ones come.
    /// Nothing where two things would have one name, one of them being there only by a later correction.
    pub(super) fn turned_back(&self, facts: &Facts, entry: i64) -> Vec<RowChange> {
        let (mut go, mut come, mut keys) = (Vec::new(), Vec::new(), BTreeSet::new());
        for code in &facts.code {
            let was = self.before(code.id, entry);
            let was = was.filter(|was| (was.thing, was.thing_id) == (code.thing, code.thing_id));
            let was = was.unwrap_or(code);
            if !keys.insert(&was.key) {
                return Vec::new();
            }
            if was.typed != code.typed {
                go.push(RowChange::delete(code.clone()));
                come.push(RowChange::insert(was.clone()));
            }
        }
        go.into_iter().chain(come).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::rows::Thing;

    fn code(id: i64, typed: &str) -> CodeRow {
        CodeRow {
            id,
            key: typed.to_lowercase(),
            typed: typed.to_owned(),
            thing: Thing::Plant,
            thing_id: id,
        }
    }

    fn named(names: &Names, mut facts: Facts, entry: i64) -> Vec<Option<i64>> {
        for change in names.turned_back(&facts, entry) {
            facts.apply(&change);
        }
        let id = |typed| facts.code_named(typed).map(|code| code.id);
        ["RB", "RBL", "NL"].map(id).to_vec()
    }

    #[test]
    fn codes_have_the_names_of_their_day_even_where_two_exchanged_them() {
        let changes = BTreeMap::from([
            (2, vec![RowChange::insert(code(1, "RB"))]),
            (3, vec![RowChange::insert(code(2, "NL"))]),
            (5, vec![RowChange::update(code(1, "RB"), code(1, "RBL"))]),
            (7, vec![RowChange::update(code(2, "NL"), code(2, "RB"))]),
            (9, vec![RowChange::update(code(1, "RBL"), code(1, "NL"))]),
        ]);
        let mut facts = Facts::default();
        for change in changes.values().flatten() {
            facts.apply(change);
        }
        let names = Names::of(&changes);
        for (entry, wanted) in [
            (4, [Some(1), None, Some(2)]),
            (5, [Some(1), None, Some(2)]),
            (6, [None, Some(1), Some(2)]),
            (8, [Some(2), Some(1), None]),
            (i64::MAX, [Some(2), None, Some(1)]),
        ] {
            assert_eq!(named(&names, facts.clone(), entry), wanted, "{entry}");
        }
        // What came by a later correction keeps the name that it has.
        facts.apply(&RowChange::insert(code(3, "RBL")));
        assert_eq!(names.turned_back(&facts, 6), []);
    }
}
