//! Power cuts: what commands asked of the system, replayed into a disk that keeps only what was flushed.

mod disk;
mod trace;

use std::collections::HashMap;

use disk::Disk;
use trace::Call;

use super::judge::{self, Found};
use super::run::{Batch, Plan, Threat, has_program};
use super::scene;
use super::stage::{Stage, Tree};

/// The threat.
pub const THREAT: Threat = Threat {
    name: "power",
    short: Plan {
        batches: 8,
        rounds: 2500,
    },
    long: Plan {
        batches: 100,
        rounds: 10_000,
    },
    play,
};

/// A row of commands and the states they lead through.
struct Course {
    lines: Vec<String>,
    /// What the disk was asked, command by command.
    calls: Vec<(usize, Call)>,
    begin: Tree,
    /// What the ledger holds, before the first and after each command.
    found: Vec<Found>,
    /// The whole folder, likewise.
    trees: Vec<Tree>,
    /// Files written for the user.
    written: Vec<String>,
}

fn play(batch: &mut Batch) {
    if !has_program("strace") {
        batch.count("skipped: strace is missing", 1);
        return;
    }
    let course = match batch.number % 4 {
        0 | 1 => recording(batch),
        2 => outputs(batch),
        _ => beginnings(batch),
    };
    let Some(course) = course else { return };
    let moments = course.calls.len() as u64 + 1;
    batch.count("commands", course.lines.len() as u64);
    batch.count("moments", moments);
    let mut disk = Disk::new(&course.begin);
    let mut seen = HashMap::new();
    let (mut acknowledged, mut running) = (0, 0);
    for moment in 0..moments {
        let upto = |at: u64| at * batch.rounds / moments;
        for _ in upto(moment)..upto(moment + 1) {
            let tree = disk.cut(&mut batch.chance);
            judge_cut(batch, &course, &tree, acknowledged, running, &mut seen);
        }
        if let Some((command, call)) = course.calls.get(moment as usize) {
            running = *command;
            disk.take(call);
            if *call == Call::Said {
                acknowledged = command + 1;
            }
        }
    }
    batch.count("different states opened", seen.len() as u64);
}

/// Commands that record, one after another.
fn recording(batch: &mut Batch) -> Option<Course> {
    batch.stage.clear();
    scene::season(batch.stage);
    let mut lines = vec![(*batch.chance.one_of(&scene::RECORDING[..20])).to_owned()];
    std::fs::write(batch.stage.folder().join("picture.txt"), "a picture")
        .expect("the stage can be filled");
    for number in 0..5 {
        lines.push(scene::any_line(&mut batch.chance, 900 + number));
    }
    course(batch, lines, &[])
}

/// Files written for the user.
fn outputs(batch: &mut Batch) -> Option<Course> {
    batch.stage.clear();
    scene::season(batch.stage);
    let lines = [
        "export one.jsonl",
        "note NL 'between two exports'",
        "export one.jsonl --force",
        "export two.jsonl",
        "import two.jsonl --ledger other.db",
        "backup copy.db",
        "note NL 'later than the copy'",
        "backup copy.db --force",
        "undo",
        "restore copy.db --force",
    ];
    course(
        batch,
        lines.map(str::to_owned).to_vec(),
        &["one.jsonl", "two.jsonl", "other.db", "copy.db"],
    )
}

/// A new ledger, one made of an export, or one of the first tables carried forward.
fn beginnings(batch: &mut Batch) -> Option<Course> {
    batch.stage.clear();
    let mut lines = Vec::new();
    if batch.number % 8 == 7 {
        let old = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fixtures/schema_1.db");
        std::fs::copy(old, batch.stage.ledger()).expect("there is a ledger of the first tables");
        lines.push("assume dim 0.08".to_owned());
        lines.push("undo".to_owned());
    } else if batch.chance.once_in(2) {
        scene::season(batch.stage);
        let export = batch.stage.ok("export").out;
        batch.stage.clear();
        std::fs::write(batch.stage.folder().join("season.jsonl"), export)
            .expect("the stage can be filled");
        if batch.chance.once_in(2) {
            lines.push("init".to_owned());
        }
        lines.push("import season.jsonl".to_owned());
        lines.push("note NL 'the first of its own'".to_owned());
    } else {
        lines.push("init".to_owned());
        lines.push("parent add NL 'Night Lantern' --genotype A/A".to_owned());
    }
    course(batch, lines, &[])
}

/// Plays commands under strace; nothing where the model of the disk does not follow them.
fn course(batch: &mut Batch, lines: Vec<String>, written: &[&str]) -> Option<Course> {
    let stage = batch.stage;
    let begin = stage.tree();
    let mut course = Course {
        lines: Vec::new(),
        calls: Vec::new(),
        found: vec![judge::look(stage)],
        trees: vec![begin.clone()],
        begin,
        written: written.iter().map(|name| (*name).to_owned()).collect(),
    };
    stage.restore(&course.begin);
    let mut disk = Disk::new(&course.begin);
    for line in lines {
        let (run, calls) = trace::record(stage, &line);
        if !run.ok() {
            // A line that chance drew may have nothing to do, as a redo has not.
            continue;
        }
        let number = course.lines.len();
        for call in calls {
            disk.take(&call);
            course.calls.push((number, call));
        }
        let tree = stage.tree();
        if disk.tree() != tree {
            batch.fault(
                "model",
                format!("the model of the disk does not follow '{line}'"),
            );
            return None;
        }
        course.found.push(judge::look(stage));
        stage.restore(&tree);
        course.trees.push(tree);
        course.lines.push(line);
    }
    Some(course)
}

fn judge_cut(
    batch: &mut Batch,
    course: &Course,
    tree: &Tree,
    acknowledged: usize,
    running: usize,
    seen: &mut HashMap<u64, Found>,
) {
    batch.round();
    let latest = (running + 1).min(course.lines.len());
    let place = || {
        let line = course.lines.get(running).map_or("", String::as_str);
        format!(
            "in or after '{line}', {acknowledged} of {} acknowledged",
            course.lines.len()
        )
    };
    for name in &course.written {
        let stands = tree.file(name);
        if !(acknowledged..=latest).any(|at| course.trees[at].file(name) == stands) {
            let known = course.trees.iter().any(|tree| tree.file(name) == stands);
            let length = stands.map(<[u8]>::len);
            batch.fault(
                if known { "lost" } else { "half" },
                format!("{name} ({length:?} bytes); {}", place()),
            );
        }
    }
    let fresh = !seen.contains_key(&tree.digest());
    let found = seen.entry(tree.digest()).or_insert_with(|| {
        batch.stage.restore(tree);
        look(batch.stage, course, acknowledged)
    });
    let found = found.clone();
    if let Found::Damaged(words) = &found {
        return batch.fault("damaged", format!("{}: {words}", place()));
    }
    let entries = found.entries();
    match (acknowledged..=latest).find(|at| course.found[*at].entries() == entries) {
        Some(at) => batch.count(
            "cuts that kept what was not acknowledged",
            u64::from(at > acknowledged),
        ),
        None => batch.fault("lost", format!("{} entries; {}", entries.len(), place())),
    }
    if fresh && !entries.is_empty() && batch.chance.once_in(8) {
        write_on(batch, tree, entries.len(), &place());
    }
}

/// As [`judge::look`]; where nothing was acknowledged, a beginning must be one that can be begun again.
fn look(stage: &Stage, course: &Course, acknowledged: usize) -> Found {
    let found = judge::look(stage);
    let unbegun = acknowledged == 0 && course.found[0] == Found::Nothing;
    if unbegun && matches!(found, Found::Damaged(_)) && stage.run(&course.lines[0]).ok() {
        return Found::Nothing;
    }
    found
}

/// After a cut the ledger takes the next entry.
fn write_on(batch: &mut Batch, tree: &Tree, entries: usize, place: &str) {
    batch.stage.restore(tree);
    let run = batch.stage.run("assume dim 0.07");
    let now = judge::look(batch.stage).entries().len();
    batch.count("cuts after which an entry was recorded", 1);
    if !run.ok() || now != entries + 1 {
        batch.fault(
            "stuck",
            format!("{place}: {now} entries after {entries}; {}", run.words()),
        );
    }
}
