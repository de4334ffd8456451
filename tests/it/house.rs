//! The house keeps its order: a room stands only on the rooms below it, pure rooms know nothing of the world
//! outside, and nothing is printed but at the door.

use std::fs;
use std::path::{Path, PathBuf};

/// Each room with the rooms it may stand on.
const ROOMS: [(&str, &[&str]); 9] = [
    ("stats", &[]),
    ("genetics", &["stats"]),
    ("records", &["stats", "genetics"]),
    ("diagnosis", &["stats", "genetics", "records"]),
    ("growing", &["stats", "genetics", "records", "diagnosis"]),
    (
        "planning",
        &["stats", "genetics", "records", "diagnosis", "growing"],
    ),
    ("store", &["records"]),
    (
        "report",
        &[
            "stats",
            "genetics",
            "records",
            "diagnosis",
            "growing",
            "planning",
        ],
    ),
    (
        "cli",
        &[
            "stats",
            "genetics",
            "records",
            "diagnosis",
            "growing",
            "planning",
            "store",
            "report",
        ],
    ),
];

/// Rooms that know no file, clock, database or terminal.
const PURE: [&str; 7] = [
    "stats",
    "genetics",
    "records",
    "diagnosis",
    "growing",
    "planning",
    "report",
];

/// Words that only the rooms at the edge may use.
const WORLDLY: [&str; 13] = [
    "rusqlite",
    "std::fs",
    "std::env",
    "std::io::stdin",
    "std::io::stdout",
    "std::io::stderr",
    "std::process",
    "std::net",
    "SystemTime",
    "Instant::now",
    "Utc::now",
    "Local::now",
    "getrandom",
];

fn sources_of(room: &str) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    let mut left = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src").join(room)];
    while let Some(folder) = left.pop() {
        for entry in fs::read_dir(&folder).expect("a folder of sources") {
            let path = entry.expect("an entry of a folder").path();
            if path.is_dir() {
                left.push(path);
            } else if path.extension().is_some_and(|ending| ending == "rs") {
                let text = fs::read_to_string(&path).expect("a source is text");
                found.push((path, text));
            }
        }
    }
    assert!(!found.is_empty(), "the room {room} has no file");
    found
}

/// The rooms that a source names with `crate::`.
fn rooms_named(text: &str) -> Vec<&str> {
    text.match_indices("crate::")
        .flat_map(|(at, word)| {
            let rest = &text[at + word.len()..];
            let list = rest
                .strip_prefix('{')
                .and_then(|inner| inner.split(';').next());
            let heads: Vec<&str> = list.map_or_else(
                || vec![rest],
                |list| list.split(',').map(str::trim).collect(),
            );
            heads.into_iter().map(|head| {
                head.split(|c: char| !(c.is_ascii_lowercase() || c == '_'))
                    .next()
                    .unwrap_or_default()
            })
        })
        .collect()
}

#[test]
fn each_room_stands_only_on_rooms_below() {
    for (room, below) in ROOMS {
        for (path, text) in sources_of(room) {
            for named in rooms_named(&text) {
                let is_room = ROOMS.iter().any(|(other, _)| *other == named);
                assert!(
                    !is_room || named == room || below.contains(&named),
                    "{}: the room {room} may not stand on {named}",
                    path.display()
                );
            }
        }
    }
}

#[test]
fn pure_rooms_know_nothing_of_the_world_outside() {
    for room in PURE {
        for (path, text) in sources_of(room) {
            for word in WORLDLY {
                assert!(
                    !text.contains(word),
                    "{}: a pure room names {word}",
                    path.display()
                );
            }
            let sql = ["SELECT ", "INSERT INTO", "CREATE TABLE", "DELETE FROM"];
            assert!(
                !sql.iter().any(|word| text.contains(word)),
                "{}: SQL in a pure room",
                path.display()
            );
        }
    }
}

#[test]
fn the_check_itself_sees_a_trespass() {
    assert_eq!(rooms_named("use crate::store::Ledger;"), ["store"]);
    assert_eq!(
        rooms_named("use crate::{cli::door, stats::logs};"),
        ["cli", "stats"]
    );
}

#[test]
fn every_file_of_tests_is_compiled() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it");
    let main = fs::read_to_string(folder.join("main.rs")).expect("the list of modules");
    for entry in fs::read_dir(&folder).expect("the folder of tests") {
        let path = entry.expect("an entry of a folder").path();
        let name = path.file_stem().and_then(|name| name.to_str());
        let name = name.expect("tests have plain names");
        let is_source = path.is_dir() || path.extension().is_some_and(|ending| ending == "rs");
        if is_source && name != "main" {
            assert!(
                main.lines().any(|line| line == format!("mod {name};")),
                "tests/it/main.rs does not name {name}, so its tests are never run"
            );
        }
    }
}
