//! What rows say of each other in words rather than by number: alleles in genotypes and rules, classes in
//! rules, the code of the bench trait, and keys that only one row may have.
//!
//! The gate lets no entry through that breaks these; taking entries back or bringing them back could, and
//! so could another program. The store asks here before it undoes, and when it checks a ledger. How rows
//! are kept is not known here.

use std::collections::{BTreeMap, BTreeSet};

use super::descent::all_parents;
use super::facts::{Facts, Shelf};
use super::genes::{BENCH_SETTING, alleles_of, locus_named, models_of, trait_spec};
use super::rows::{LocusRow, Record, Table, Thing, TraitRow};
use crate::genetics::{Genotype, LocusBook, LocusError};

/// Rows that do not agree with each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Discord {
    /// The row that speaks of another.
    pub row: (Table, i64),
    /// What is wrong with it.
    pub what: String,
    /// Every row that takes part, `row` among them.
    pub rows: BTreeSet<(Table, i64)>,
}

impl Discord {
    fn new(row: (Table, i64), what: impl Into<String>) -> Self {
        Self {
            row,
            what: what.into(),
            rows: BTreeSet::from([row]),
        }
    }

    fn with(mut self, rows: impl IntoIterator<Item = (Table, i64)>) -> Self {
        self.rows.extend(rows);
        self
    }
}

impl std::fmt::Display for Discord {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (table, id) = self.row;
        write!(f, "{} {id}: {}", table.name(), self.what)
    }
}

/// Everything in a ledger that does not agree; nothing found means that all of it can be read.
#[must_use]
pub fn discords(facts: &Facts) -> Vec<Discord> {
    let mut found = doubles(facts);
    let mut book = read_loci(facts, &mut found);
    for statement in &facts.statement {
        let row = place(statement);
        let fault = match unknown_symbol(&statement.genotype, &book) {
            Some(symbol) => Some(nameless(&symbol)),
            None => Genotype::parse(&statement.genotype, &mut book)
                .err()
                .map(|error| error.to_string()),
        };
        found.extend(fault.map(|what| Discord::new(row, what)));
    }
    for row in &facts.trait_ {
        found.extend(judge_trait(facts, row, &mut book));
    }
    found.extend(judge_bench(facts));
    found.extend(own_ancestors(facts));
    found
}

/// Plants that descend from themselves, each once.
fn own_ancestors(facts: &Facts) -> Vec<Discord> {
    let mut sound: BTreeSet<i64> = BTreeSet::new();
    let mut found = Vec::new();
    for start in &facts.plant {
        // Plants on the way down, each with those of its parents that are still to be looked at.
        let mut way: Vec<(i64, Vec<i64>)> = vec![(start.id, parents(facts, start.id))];
        while let Some((at, left)) = way.last_mut() {
            let (at, next) = (*at, left.pop());
            match next {
                None => {
                    sound.insert(at);
                    way.pop();
                }
                Some(parent) if sound.contains(&parent) => {}
                Some(parent) => match way.iter().position(|(on_way, _)| *on_way == parent) {
                    Some(begin) => {
                        let ring = way[begin..].iter().map(|(id, _)| (Table::Plant, *id));
                        found.push(
                            Discord::new((Table::Plant, parent), "it is its own ancestor")
                                .with(ring.collect::<Vec<_>>()),
                        );
                    }
                    None => way.push((parent, parents(facts, parent))),
                },
            }
        }
    }
    found
}

fn parents(facts: &Facts, plant: i64) -> Vec<i64> {
    let row = facts.plant.get(plant);
    row.map_or_else(Vec::new, |row| all_parents(facts, row))
}

/// The allele symbols that stand in a genotype or in the pattern of a rule, each once.
#[must_use]
pub fn symbols_in(text: &str) -> BTreeSet<&str> {
    let is_else = text.trim().eq_ignore_ascii_case("else");
    let pieces = text.split_whitespace().filter(|_| !is_else);
    pieces
        .filter(|piece| !piece.to_lowercase().starts_with("cytoplasm:"))
        .flat_map(|piece| piece.split(['/', '|']))
        .filter(|symbol| !symbol.is_empty() && *symbol != "_")
        .collect()
}

fn unknown_symbol(text: &str, book: &LocusBook) -> Option<String> {
    let mut symbols = symbols_in(text).into_iter();
    symbols
        .find(|symbol| book.locus_of_allele(symbol).is_none())
        .map(str::to_owned)
}

fn nameless(symbol: &str) -> String {
    format!("it names the allele {symbol}, which no locus has")
}

fn place<R: Record>(row: &R) -> (Table, i64) {
    (R::TABLE, row.id())
}

fn places<'r, R: Record + 'r>(rows: impl IntoIterator<Item = &'r R>) -> Vec<(Table, i64)> {
    rows.into_iter().map(place).collect()
}

/// A locus with its alleles.
fn locus_rows(facts: &Facts, locus: &LocusRow) -> Vec<(Table, i64)> {
    let mut rows = places(alleles_of(facts, locus.id));
    rows.push(place(locus));
    rows
}

fn read_loci(facts: &Facts, found: &mut Vec<Discord>) -> LocusBook {
    let mut book = LocusBook::new();
    for locus in &facts.locus {
        let alleles = alleles_of(facts, locus.id);
        let symbols: Vec<&str> = alleles.iter().map(|row| row.symbol.as_str()).collect();
        let Err(error) = book.declare(&locus.symbol, &symbols) else {
            continue;
        };
        let other = match &error {
            LocusError::SymbolTaken { locus, .. } | LocusError::AlleleTaken { locus, .. } => {
                locus_named(facts, locus)
            }
            _ => None,
        };
        let rows = other.into_iter().flat_map(|other| locus_rows(facts, other));
        let discord = Discord::new(place(locus), error.to_string());
        found.push(discord.with(rows).with(locus_rows(facts, locus)));
    }
    book
}

/// A trait whose models cannot be read, or which leave a genotype without a class.
fn judge_trait(facts: &Facts, row: &TraitRow, book: &mut LocusBook) -> Option<Discord> {
    let models = models_of(facts, row.id);
    let spec = match trait_spec(facts, row.id) {
        Ok(spec) => spec.filter(|_| !models.is_empty())?,
        Err(unreadable) => return Some(Discord::new(place(row), unreadable.to_string())),
    };
    let rules = facts.trait_rule.iter();
    let rules = rules.filter(|rule| models.iter().any(|model| model.id == rule.model_id));
    let mut rows: BTreeSet<(Table, i64)> = places(models.iter().copied()).into_iter().collect();
    for rule in rules {
        if let Some(symbol) = unknown_symbol(&rule.pattern, book) {
            return Some(Discord::new(place(rule), nameless(&symbol)).with([place(row)]));
        }
        rows.insert(place(rule));
        for symbol in symbols_in(&rule.pattern) {
            let (ix, _) = book.locus_of_allele(symbol).expect("the book knows it");
            let locus = locus_named(facts, &book.get(ix).symbol);
            rows.extend(locus.into_iter().flat_map(|locus| locus_rows(facts, locus)));
        }
    }
    let error = spec.check(book).err()?;
    let classes = facts.trait_class.iter();
    rows.extend(places(classes.filter(|class| class.trait_id == row.id)));
    Some(Discord::new(place(row), error.to_string()).with(rows))
}

/// The bench trait must be there, and switched on.
fn judge_bench(facts: &Facts) -> Option<Discord> {
    let mut settings = facts.setting.iter();
    let setting = settings.find(|row| row.key == BENCH_SETTING)?;
    let code = facts.code_named(&setting.value);
    let code = code.filter(|code| code.thing == Thing::Trait);
    let named = code.and_then(|code| facts.trait_.get(code.thing_id));
    let what = match named {
        Some(row) if row.switched_on => return None,
        Some(_) => format!("the bench trait {} is switched off", setting.value),
        None => format!(
            "it names the trait {}, which is not in the ledger",
            setting.value
        ),
    };
    let rows = named.map(place).into_iter().chain(code.map(place));
    Some(Discord::new(place(setting), what).with(rows))
}

/// Two rows of a table with a key that only one may have.
#[must_use]
pub fn doubles(facts: &Facts) -> Vec<Discord> {
    let mut found = same_key(&facts.setting, "its key", |row| Some(row.key.clone()));
    found.extend(same_key(&facts.code, "its code", |row| {
        Some(row.key.clone())
    }));
    found.extend(same_key(&facts.locus, "its symbol", |row| {
        Some(row.symbol.clone())
    }));
    found.extend(same_key(&facts.allele, "its place at its locus", |row| {
        Some((row.locus_id, row.ord))
    }));
    found.extend(same_key(&facts.allele, "its symbol", |row| {
        Some((row.locus_id, row.symbol.clone()))
    }));
    found.extend(same_key(&facts.recombination, "its pair of loci", |row| {
        Some((row.locus_a, row.locus_b))
    }));
    found.extend(same_key(
        &facts.trait_class,
        "its place in its trait",
        |row| Some((row.trait_id, row.ord)),
    ));
    found.extend(same_key(&facts.trait_class, "its name", |row| {
        Some((row.trait_id, row.name.clone()))
    }));
    found.extend(same_key(&facts.tasting, "its reading", |row| {
        Some(row.reading_id)
    }));
    found.extend(same_key(&facts.goal, "its look", |row| {
        Some((row.trait_id, row.class_id))
    }));
    found.extend(same_key(&facts.plant, "its place in its tray", |row| {
        Some((row.batch_id?, row.cell?, row.part.clone()))
    }));
    found.extend(same_key(&facts.adoption, "its seedling", |row| {
        Some(row.plant_id)
    }));
    found
}

fn same_key<R: Record, K: Ord>(
    rows: &Shelf<R>,
    what: &str,
    key: impl Fn(&R) -> Option<K>,
) -> Vec<Discord> {
    let mut first: BTreeMap<K, i64> = BTreeMap::new();
    let mut found = Vec::new();
    for row in rows.iter() {
        let Some(key) = key(row) else { continue };
        let holder = *first.entry(key).or_insert(row.id());
        if holder != row.id() {
            let what = format!("{what} is that of {} {holder} too", R::TABLE.name());
            found.push(Discord::new(place(row), what).with([(R::TABLE, holder)]));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::admit::{Bench, admit};
    use crate::records::change::RowChange;
    use crate::records::day::Day;
    use crate::records::entry::{Entry, NewParent};
    use crate::records::rows::{PlantKind, PlantRow, SettingRow};

    fn day() -> Day {
        "2026-03-01".parse().expect("a day")
    }

    fn play(facts: &mut Facts, entry: &Entry) {
        let bench = Bench {
            today: day(),
            even_so: false,
        };
        let admitted = admit(facts, entry, &bench).expect("it is admitted");
        for change in &admitted.changes {
            facts.apply(change);
        }
        for (series, next) in &admitted.counters {
            facts.advance_counter(series, *next);
        }
    }

    fn begun() -> Facts {
        let mut facts = Facts::default();
        play(&mut facts, &Entry::Init);
        play(
            &mut facts,
            &Entry::Parent(NewParent {
                code: "P3".parse().expect("a code"),
                name: None,
                species: None,
                kind: PlantKind::Line,
                genotype: Some("J/j2 A|a".to_owned()),
                proven: false,
                looks: Vec::new(),
                cytoplasm: None,
                from: None,
                pedigree: None,
                day: day(),
            }),
        );
        facts
    }

    #[test]
    fn symbols_are_what_stands_between_the_signs() {
        let found = |text| symbols_in(text).into_iter().collect::<Vec<_>>();
        assert_eq!(found("J/jx A|a  Pun1/_"), ["A", "J", "Pun1", "a", "jx"]);
        assert_eq!(found("Rf/_ Cytoplasm:sterile"), ["Rf"]);
        assert_eq!(found(" Else "), [] as [&str; 0]);
    }

    #[test]
    fn a_plant_that_is_its_own_ancestor_is_found() {
        let mut facts = begun();
        let one = facts.plant.iter().next().expect("it was entered").clone();
        let child = PlantRow {
            id: 50,
            mother_id: Some(one.id),
            father_id: Some(one.id),
            ..one.clone()
        };
        facts.apply(&RowChange::insert(child));
        assert_eq!(discords(&facts), []);
        let ring = PlantRow {
            mother_id: Some(50),
            father_id: Some(50),
            ..one.clone()
        };
        facts.apply(&RowChange::update(one.clone(), ring));
        let found = discords(&facts);
        assert_eq!(found.len(), 1, "{found:?}");
        let rows = BTreeSet::from([(Table::Plant, one.id), (Table::Plant, 50)]);
        assert_eq!(found[0].rows, rows);
        assert!(found[0].what.contains("its own ancestor"), "{}", found[0]);
    }

    #[test]
    fn what_the_gate_lets_through_agrees() {
        assert_eq!(discords(&begun()), []);
    }

    #[test]
    fn an_allele_that_is_gone_is_missed_where_it_is_named() {
        let mut facts = begun();
        let gone = facts.allele.iter().find(|row| row.symbol == "j2");
        facts.apply(&RowChange::delete(gone.expect("it was entered").clone()));
        let found = discords(&facts);
        let tables: Vec<Table> = found.iter().map(|discord| discord.row.0).collect();
        assert_eq!(tables, [Table::Locus, Table::Statement]);
        assert!(found[1].what.contains("allele J"), "{}", found[1]);
    }

    #[test]
    fn a_rule_misses_its_alleles_and_the_bench_its_trait() {
        let mut facts = begun();
        let at_a = locus_named(&facts, "A").expect("it is built in").clone();
        let rows: Vec<_> = alleles_of(&facts, at_a.id).into_iter().cloned().collect();
        for row in rows {
            facts.apply(&RowChange::delete(row));
        }
        facts.apply(&RowChange::delete(at_a));
        let bench = facts.setting.iter().find(|row| row.key == BENCH_SETTING);
        let bench = bench.expect("init names it").clone();
        let other = SettingRow {
            value: "hh".to_owned(),
            ..bench.clone()
        };
        facts.apply(&RowChange::update(bench, other.clone()));
        let mut second = other;
        second.id = 99;
        facts.apply(&RowChange::insert(second));
        let tables: BTreeSet<Table> = discords(&facts).iter().map(|d| d.row.0).collect();
        let wanted = [Table::Setting, Table::Statement, Table::TraitRule];
        assert_eq!(tables, BTreeSet::from(wanted));
        let settings = discords(&facts);
        let settings = settings.iter().filter(|d| d.row.0 == Table::Setting);
        assert_eq!(
            settings.count(),
            2,
            "a second one of its key, and no trait hh"
        );
    }
}
