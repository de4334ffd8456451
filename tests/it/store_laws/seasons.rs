//! Ledgers to try things on, and lists of changes made up from random numbers.

use std::collections::BTreeMap;
use std::path::Path;

use locule::records::change::RowChange;
use locule::records::day::Day;
use locule::records::facts::Facts;
use locule::records::rows::{
    BatchRow, CodeRow, CrossRow, PlantCytoplasm, PlantKind, PlantRow, Record, RemarkRow, Row,
    SettingRow, Table, Thing,
};
use locule::store::{EntryKind, EntryNote, Identity, Ledger, Stamp, State};

thread_local! {
    static STATE: tempfile::TempDir = tempfile::tempdir().expect("a temporary folder can be made");
}

/// What this computer keeps about the ledgers of the running test.
pub fn state() -> State {
    STATE.with(|folder| State::at(folder.path()))
}

pub fn stamp() -> Stamp {
    Stamp {
        at_utc: "2026-03-01T12:00:00Z".to_owned(),
        utc_offset: "+00:00".to_owned(),
    }
}

pub fn note(command: &str, kind: EntryKind) -> EntryNote {
    EntryNote {
        at_utc: stamp().at_utc,
        utc_offset: stamp().utc_offset,
        command: command.to_owned(),
        kind,
    }
}

fn day() -> Day {
    "2026-03-01".parse().unwrap()
}

fn plant(id: i64, name: String, batch_id: Option<i64>, mother_id: Option<i64>) -> PlantRow {
    PlantRow {
        id,
        kind: if batch_id.is_some() {
            PlantKind::Seedling
        } else {
            PlantKind::Line
        },
        name,
        species: String::new(),
        cytoplasm: PlantCytoplasm::Unknown,
        batch_id,
        cell: batch_id.map(|_| id),
        part: String::new(),
        mother_id,
        father_id: None,
        entered: day(),
    }
}

fn code(id: i64, typed: String, thing: Thing, thing_id: i64) -> CodeRow {
    CodeRow {
        id,
        key: typed.to_lowercase(),
        typed,
        thing,
        thing_id,
    }
}

/// A new ledger of the id `tray`, with a setting built in.
pub fn begun(path: &Path) -> Ledger {
    let identity = Identity {
        ledger_id: "tray".to_owned(),
    };
    let mut ledger = Ledger::create(path, &identity, &state()).unwrap();
    let setting = SettingRow {
        id: 1,
        key: "dim".to_owned(),
        value: "0.02".to_owned(),
    };
    ledger
        .record(
            &note("init", EntryKind::Init),
            &[RowChange::insert(setting)],
            &BTreeMap::new(),
        )
        .unwrap();
    ledger
}

/// A small season: two parents, a cross, a tray with seedlings, a remark and an undone entry.
pub fn season(path: &Path) -> Ledger {
    let mut ledger = begun(path);
    for (kind, salt) in [
        (0, 1),
        (0, 2),
        (1, 3),
        (2, 4),
        (3, 5),
        (4, 6),
        (5, 7),
        (3, 8),
    ] {
        play(&mut ledger, kind, salt);
    }
    ledger.undo(None, &stamp()).unwrap();
    ledger
}

/// Records one entry made up from two numbers; whether there was anything to record.
pub fn play(ledger: &mut Ledger, kind: u8, salt: u8) -> bool {
    let facts = ledger.facts().unwrap();
    let (changes, counters) = invent(&facts, kind, salt);
    if changes.is_empty() {
        return false;
    }
    ledger
        .record(
            &note(&format!("play {kind} \"{salt}\""), EntryKind::Record),
            &changes,
            &counters,
        )
        .unwrap();
    true
}

fn pick<R: Record>(rows: &locule::records::facts::Shelf<R>, salt: u8) -> Option<R> {
    let at = usize::from(salt) % rows.len().max(1);
    rows.iter().nth(at).cloned()
}

fn invent(facts: &Facts, kind: u8, salt: u8) -> (Vec<RowChange>, BTreeMap<String, i64>) {
    let mut counters = BTreeMap::new();
    let changes = match kind % 8 {
        0 => add_parent(facts, salt),
        1 => cross(facts, salt, &mut counters),
        2 => sow(facts, salt, &mut counters),
        3 => remark(facts, salt),
        4 => rename(facts, salt),
        5 => assume(facts, salt),
        6 => drop_remark(facts, salt),
        _ => rename_code(facts, salt),
    };
    (changes, counters)
}

fn add_parent(facts: &Facts, salt: u8) -> Vec<RowChange> {
    let id = facts.next_id(Table::Plant);
    let mother = pick(&facts.plant, salt).map(|plant| plant.id);
    let typed = format!("P{id}");
    vec![
        RowChange::insert(plant(id, format!("Näme \"{salt}\""), None, mother)),
        RowChange::insert(code(facts.next_id(Table::Code), typed, Thing::Plant, id)),
    ]
}

fn cross(facts: &Facts, salt: u8, counters: &mut BTreeMap<String, i64>) -> Vec<RowChange> {
    let (Some(mother), Some(father)) = (pick(&facts.plant, salt), pick(&facts.plant, salt / 2))
    else {
        return Vec::new();
    };
    let id = facts.next_id(Table::Cross);
    let number = facts.next_number("X");
    counters.insert("X".to_owned(), number + 1);
    vec![
        RowChange::insert(CrossRow {
            id,
            mother_id: mother.id,
            father_id: father.id,
        }),
        RowChange::insert(code(
            facts.next_id(Table::Code),
            format!("X{number}"),
            Thing::Cross,
            id,
        )),
    ]
}

/// The seedlings come before their batch, as deferred foreign keys allow.
fn sow(facts: &Facts, salt: u8, counters: &mut BTreeMap<String, i64>) -> Vec<RowChange> {
    let Some(cross) = pick(&facts.cross, salt) else {
        return Vec::new();
    };
    let id = facts.next_id(Table::Batch);
    let number = facts.next_number("T");
    counters.insert("T".to_owned(), number + 1);
    let first = facts.next_id(Table::Plant);
    let mut changes: Vec<RowChange> = (0..2)
        .map(|at| RowChange::insert(plant(first + at, String::new(), Some(id), None)))
        .collect();
    changes.push(RowChange::insert(BatchRow {
        id,
        cross_id: Some(cross.id),
        plant_id: None,
        day: day(),
        seeds: i64::from(salt),
        cells: 2,
        place: String::new(),
        medium: String::new(),
        light: String::new(),
    }));
    let typed = format!("T{number}");
    changes.push(RowChange::insert(code(
        facts.next_id(Table::Code),
        typed,
        Thing::Batch,
        id,
    )));
    changes
}

fn remark(facts: &Facts, salt: u8) -> Vec<RowChange> {
    let Some(plant) = pick(&facts.plant, salt) else {
        return Vec::new();
    };
    vec![RowChange::insert(RemarkRow {
        id: facts.next_id(Table::Remark),
        thing: Thing::Plant,
        thing_id: plant.id,
        text: format!("line one\nline \\{salt}\t{}", '\u{1}'),
        day: day(),
    })]
}

/// A row changed twice in one entry.
fn rename(facts: &Facts, salt: u8) -> Vec<RowChange> {
    let Some(before) = pick(&facts.plant, salt) else {
        return Vec::new();
    };
    let named = |name: &str| PlantRow {
        name: name.to_owned(),
        ..before.clone()
    };
    vec![
        RowChange::update(before.clone(), named("on the way")),
        RowChange::update(named("on the way"), named(&format!("renamed {salt}"))),
    ]
}

fn assume(facts: &Facts, salt: u8) -> Vec<RowChange> {
    let key = format!("key.{}", salt % 3);
    let value = format!("0.{salt}");
    match facts.setting.iter().find(|row| row.key == key) {
        Some(row) if salt.is_multiple_of(5) => vec![RowChange::delete(row.clone())],
        Some(row) => vec![RowChange::update(
            row.clone(),
            SettingRow {
                value,
                ..row.clone()
            },
        )],
        None => vec![RowChange::insert(SettingRow {
            id: facts.next_id(Table::Setting),
            key,
            value,
        })],
    }
}

fn drop_remark(facts: &Facts, salt: u8) -> Vec<RowChange> {
    pick(&facts.remark, salt)
        .map(|row| vec![RowChange::delete(row)])
        .unwrap_or_default()
}

/// A code that is freed and may be taken by another.
fn rename_code(facts: &Facts, salt: u8) -> Vec<RowChange> {
    let Some(before) = pick(&facts.code, salt) else {
        return Vec::new();
    };
    let typed = format!("Free{}", salt % 4);
    if facts.code_named(&typed).is_some() {
        return Vec::new();
    }
    let after = code(before.id, typed, before.thing, before.thing_id);
    vec![RowChange::update(before, after)]
}

/// The lines of an export that hold records.
pub fn record_lines(ledger: &Ledger) -> Vec<String> {
    export(ledger)
        .lines()
        .filter(|line| line.starts_with("{\"table\""))
        .map(str::to_owned)
        .collect()
}

/// The export as text.
pub fn export(ledger: &Ledger) -> String {
    let mut bytes = Vec::new();
    ledger.export(&mut bytes).unwrap();
    String::from_utf8(bytes).unwrap()
}

/// Every row, table by table.
pub fn all_rows(ledger: &mut Ledger) -> Vec<Row> {
    let facts = ledger.facts().unwrap();
    Table::ALL
        .iter()
        .flat_map(|table| facts.all(*table))
        .collect()
}
