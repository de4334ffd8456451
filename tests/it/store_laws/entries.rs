//! Random entries of the gate through a real ledger, with undo and redo in between: whatever is taken back,
//! what is left can be checked and asked.

use std::collections::BTreeMap;

use locule::diagnosis::looks::Looks;
use locule::diagnosis::suspects::suspects;
use locule::records::admit::{Bench, admit};
use locule::records::change::RowChange;
use locule::records::count::Count;
use locule::records::day::Day;
use locule::records::entry::*;
use locule::records::rows::{FateKind, PlantKind};
use locule::store::{EntryKind, Identity, Ledger, StoreError};
use proptest::prelude::*;

use super::seasons::{all_rows, export, note, stamp, state};

/// What one random step is made of: its kind, two choices, a number.
type Dice = (u8, u8, u8, u8);

fn today() -> Day {
    "2026-06-01".parse().expect("a day")
}

fn pick<'w>(words: &[&'w str], at: u8) -> &'w str {
    words[usize::from(at) % words.len()]
}

fn parsed<T: std::str::FromStr>(words: &[&str], at: u8) -> T {
    let parsed = pick(words, at).parse();
    parsed.unwrap_or_else(|_| panic!("{words:?} can be read"))
}

fn list(text: &str) -> Vec<String> {
    text.split(',').map(str::to_owned).collect()
}

fn count(number: u8) -> Count {
    Count::new(i64::from(number)).expect("a count of the bench")
}

fn look(at: u8) -> Look {
    let class = pick(&["purple", "green", "wavy", "flat"], at);
    vec![Seen {
        of: None,
        what: SeenWhat::Class(class.to_owned()),
    }]
}

/// Loci and traits, whose rows speak of each other in words, come up most.
fn entry((kind, a, b, n): Dice) -> Entry {
    let flag = n.is_multiple_of(2);
    match kind % 16 {
        0 | 1 => locus(a, b, flag),
        2 => parent(a, b, flag),
        3 | 4 => new_trait(a, b),
        5 => Entry::Model(NewModel {
            of: parsed(&["hh", "gg", "foliage"], a),
            name: pick(&["rival", "other"], b).to_owned(),
            rules: rules(b),
            source: None,
        }),
        6 => Entry::UseModel(UseModel {
            of: parsed(&["hh", "gg", "foliage"], a),
            name: pick(&["rival", "other", "own"], b).to_owned(),
        }),
        7 => Entry::SwitchTrait(SwitchTrait {
            of: parsed(&["hh", "gg", "foliage", "stem-hair"], a),
            on: flag,
        }),
        8 => Entry::BenchTrait(parsed(&["hh", "foliage", "stem-hair", "gg"], a)),
        9 => Entry::Assume(Assume {
            key: pick(&["dim", "self", "dim"], a).to_owned(),
            value: (b % 3 != 0).then(|| pick(&["0.1", "0.02"], b).to_owned()),
        }),
        _ => bench_work(kind, a, b, n),
    }
}

fn locus(a: u8, b: u8, flag: bool) -> Entry {
    let symbol = pick(&["J", "Z", "A"], a);
    let alleles: &[&str] = match symbol {
        "J" => &["J,j", "J,j,jx", "jx,J,j", "J,j,z2"],
        "Z" => &["Z,z", "Z,z2", "Z,z,z2,z3", "z,Z"],
        _ => &["A,a", "A,a,a2", "A,a2,a", "A,a,a3"],
    };
    Entry::Locus(LocusFacts {
        symbol: symbol.to_owned(),
        alleles: Some(list(pick(alleles, b))),
        chromosome: None,
        at: None,
        shares: Vec::new(),
        recombines: (flag && symbol != "A")
            .then(|| ("A".to_owned(), pick(&["0.1", "0.2"], b).to_owned()))
            .into_iter()
            .collect(),
    })
}

fn parent(a: u8, b: u8, flag: bool) -> Entry {
    let genotypes = [
        "J/jx",
        "J/j",
        "A/a",
        "Z/z2 A/a2",
        "a2/a3",
        "z/z",
        "a/a",
        "j/_",
    ];
    Entry::Parent(NewParent {
        code: parsed(&["NL", "CW", "K1", "P3"], a),
        name: None,
        species: None,
        kind: PlantKind::Line,
        genotype: Some(pick(&genotypes, b).to_owned()),
        proven: flag,
        looks: Vec::new(),
        cytoplasm: None,
        from: None,
        pedigree: flag.then(|| {
            pick(
                &[
                    "Old Bell/New Bell//Long Bell",
                    "K1/P3",
                    "K1*2/Old Bell",
                    "P3/NL",
                ],
                b,
            )
            .to_owned()
        }),
        day: today().back(100),
    })
}

fn rules(at: u8) -> Vec<String> {
    let rules = [
        "J/_ => wavy,else => flat",
        "jx/_ => wavy,else => flat",
        "A/_ => wavy,a/a => flat,else => wavy",
        "Z/_ A/_ => flat,else => wavy",
        "a2/_ => wavy,else => flat",
    ];
    list(pick(&rules, at))
}

fn new_trait(a: u8, b: u8) -> Entry {
    Entry::Trait(NewTrait {
        code: parsed(&["hh", "gg"], a),
        name: None,
        classes: list("wavy,flat"),
        rules: rules(b),
        one_gene: None,
        late: Vec::new(),
        median_days: None,
        spread: None,
        ceiling: None,
        misread: None,
        class_misread: Vec::new(),
        organ: None,
        stage: None,
    })
}

fn bench_work(kind: u8, a: u8, b: u8, n: u8) -> Entry {
    let day = today().back(i64::from(50 - n % 40));
    match kind % 16 {
        10 => Entry::Pollination(NewPollination {
            mother: parsed(&["NL", "CW"], a),
            father: n.is_multiple_of(2).then(|| parsed(&["NL", "CW", "K1"], b)),
            code: None,
            flowers: Some(count(3)),
            tool: String::new(),
            wiped: true,
            emasculated: true,
            covered: true,
            day: Some(today().back(90)),
        }),
        11 | 12 => Entry::Sowing(Sowing {
            source: parsed(&["X1", "X2", "NL"], a),
            lot: None,
            seeds: count(1 + n % 5),
            tray: None,
            cells: None,
            place: String::new(),
            medium: String::new(),
            light: String::new(),
            warmth: None,
            day: today().back(60),
        }),
        13 | 14 => Entry::Score(Score {
            target: parsed(&["T1-01", "T1-02", "T2-01"], a),
            what: ScoreWhat::Plant(look(b)),
            of: None,
            leaves: None,
            day,
        }),
        _ => Entry::Fate(Fates {
            kind: FateKind::ALL[usize::from(a) % 4],
            whom: vec![FateWhom::Plant(parsed(&["T1-01", "T1-02", "T2-01"], b))],
            of: None,
            blind: false,
            why: String::new(),
            day,
        }),
    }
}

fn begun(folder: &tempfile::TempDir) -> Ledger {
    let identity = Identity {
        ledger_id: "tray".to_owned(),
    };
    let path = folder.path().join("ledger.db");
    let mut ledger = Ledger::create(&path, &identity, &state()).expect("it can be made");
    assert!(record(&mut ledger, &Entry::Init, EntryKind::Init));
    for dice in [(2, 0, 2, 0), (2, 1, 6, 0), (10, 1, 0, 0), (11, 0, 0, 4)] {
        assert!(record(&mut ledger, &entry(dice), EntryKind::Record));
    }
    ledger
}

/// Records an entry, if the gate lets it through.
fn record(ledger: &mut Ledger, entry: &Entry, kind: EntryKind) -> bool {
    let bench = Bench {
        today: today(),
        even_so: false,
    };
    let facts = ledger.facts().expect("it can be read");
    let Ok(admitted) = admit(&facts, entry, &bench) else {
        return false;
    };
    ledger
        .record(
            &note(&format!("{entry:?}"), kind),
            &admitted.changes,
            &admitted.counters,
        )
        .unwrap_or_else(|error| panic!("{entry:?}: {error}"));
    true
}

/// One of the recorded entries that stand.
fn recorded(ledger: &Ledger, at: usize) -> Option<i64> {
    let history = ledger.history().expect("it can be read");
    let stands = history
        .iter()
        .filter(|entry| entry.kind == EntryKind::Record && entry.undone_by.is_none());
    let numbers: Vec<i64> = stands.map(|entry| entry.entry).collect();
    (!numbers.is_empty()).then(|| numbers[at % numbers.len()])
}

/// Undoes or redoes; whether it was done. A refusal says why and leaves the ledger as it was.
fn meddle(ledger: &mut Ledger, (kind, a, b, _): Dice) -> bool {
    let before = export(ledger);
    let outcome = match kind % 4 {
        0 => ledger.redo(&stamp()),
        1 => ledger.undo(None, &stamp()),
        _ => {
            let chosen = recorded(ledger, usize::from(a) * 256 + usize::from(b));
            ledger.undo(chosen, &stamp())
        }
    };
    match outcome {
        Ok(_) => true,
        Err(
            StoreError::NothingToUndo { .. }
            | StoreError::NothingToRedo { .. }
            | StoreError::BuiltUpon { .. }
            | StoreError::CodeTaken { .. }
            | StoreError::Discord { .. },
        ) => {
            assert_eq!(export(ledger), before);
            false
        }
        Err(other) => panic!("{other}: {:?}", other.causes()),
    }
}

/// Every question can be answered, or is too large to be.
fn assert_sound(ledger: &mut Ledger) {
    assert_eq!(ledger.check(), vec![]);
    let facts = ledger.facts().expect("it can be read");
    if let Err(error) = Looks::of(&facts) {
        panic!("{error}");
    }
    match suspects(&facts, today(), None) {
        Ok(_) => {}
        Err(error) => panic!("{error}"),
    }
}

fn dice() -> impl Strategy<Value = Dice> {
    any::<Dice>()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, ..ProptestConfig::default() })]

    #[test]
    fn whatever_is_taken_back_what_is_left_can_be_asked(
        steps in prop::collection::vec((0_u8..5, dice()), 1..80),
    ) {
        let folder = tempfile::tempdir().unwrap();
        let mut ledger = begun(&folder);
        for (turn, dice) in steps {
            let changed = if turn < 2 {
                meddle(&mut ledger, dice)
            } else {
                let before = all_rows(&mut ledger);
                let recorded = record(&mut ledger, &entry(dice), EntryKind::Record);
                if recorded && turn == 2 {
                    let after = all_rows(&mut ledger);
                    ledger.undo(None, &stamp()).unwrap();
                    prop_assert_eq!(all_rows(&mut ledger), before);
                    ledger.redo(&stamp()).unwrap();
                    prop_assert_eq!(all_rows(&mut ledger), after);
                }
                recorded
            };
            if changed {
                assert_sound(&mut ledger);
            }
        }
    }
}

/// The dice reach every kind of entry, and undo of numbered entries both passes and is refused: a law that
/// nothing is put to would always hold.
#[test]
fn the_dice_are_admitted_and_taken_back_often_enough() {
    let folder = tempfile::tempdir().unwrap();
    let mut ledger = begun(&folder);
    let mut admitted = [0; 16];
    let mut back = [0; 2];
    for at in 0..800_u32 {
        let byte = |factor: u32| (at * factor / 7 % 256) as u8;
        let dice = ((at % 16) as u8, byte(37), byte(101), byte(59));
        if at % 5 == 4 {
            let kind = if at % 3 == 0 { 1 } else { 2 };
            let done = meddle(&mut ledger, (kind, 0, byte(11), 0));
            back[usize::from(done)] += 1;
        } else if record(&mut ledger, &entry(dice), EntryKind::Record) {
            admitted[(at % 16) as usize] += 1;
        }
    }
    assert!(admitted.iter().all(|n| *n > 0), "{admitted:?}");
    assert!(back.iter().all(|n| *n > 5), "{back:?}");
    assert_sound(&mut ledger);
}

/// The store applies what it is given; a statement whose alleles are taken from under it is found.
#[test]
fn a_text_that_names_what_is_gone_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let mut ledger = begun(&folder);
    assert!(record(&mut ledger, &entry((2, 2, 0, 0)), EntryKind::Record));
    assert_eq!(ledger.check(), vec![]);
    let facts = ledger.facts().unwrap();
    let locus = facts.locus.iter().find(|row| row.symbol == "J").unwrap();
    let mut changes: Vec<RowChange> = facts
        .allele
        .iter()
        .filter(|row| row.locus_id == locus.id)
        .map(|row| RowChange::delete(row.clone()))
        .collect();
    changes.push(RowChange::delete(locus.clone()));
    ledger
        .record(
            &note("by hand", EntryKind::Record),
            &changes,
            &BTreeMap::new(),
        )
        .unwrap();
    let found = ledger.check();
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].place.starts_with("statement"), "{}", found[0]);
    assert!(found[0].what.contains("allele J"), "{}", found[0]);
}
