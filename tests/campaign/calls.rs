//! The program killed at, or failed by, every system call it makes on files, through strace's fault injection.
//!
//! Calls that the loader and the runtime make before the program first names a file of its own are left alone.

use std::collections::{BTreeMap, HashMap};
use std::path::Path;

use super::judge::{self, Entry, Found};
use super::run::{Batch, Plan, Threat, has_program};
use super::scene;
use super::stage::{self, Run, Stage, Tree};

/// The threat: a batch for each command, shared among the first ones in the short form.
pub const THREAT: Threat = Threat {
    name: "calls",
    short: Plan {
        batches: 36,
        rounds: 12,
    },
    long: Plan {
        batches: 36,
        rounds: u64::MAX,
    },
    play,
};

/// Calls on files; those that a machine does not know are marked so.
const CALLS: &str = "?open,openat,?creat,read,pread64,readv,write,pwrite64,writev,fsync,fdatasync,\
    ftruncate,truncate,fallocate,?unlink,unlinkat,?rename,renameat,renameat2,?link,linkat,?symlink,?mkdir,mkdirat,\
    ?rmdir,?stat,?lstat,fstat,newfstatat,statx,?access,faccessat,faccessat2,?readlink,readlinkat,getcwd,fcntl,flock,\
    lseek,fchmod,?chmod,fchown,?chown,utimensat,?getdents,getdents64,copy_file_range,sendfile,close,statfs,fstatfs,ioctl";

/// Calls that alter something, or flush it.
const ALTERING: &[&str] = &[
    "creat",
    "write",
    "pwrite64",
    "writev",
    "fsync",
    "fdatasync",
    "ftruncate",
    "truncate",
    "fallocate",
    "unlink",
    "unlinkat",
    "rename",
    "renameat",
    "renameat2",
    "link",
    "linkat",
    "symlink",
    "mkdir",
    "mkdirat",
    "rmdir",
    "copy_file_range",
    "sendfile",
    "fchmod",
    "chmod",
];

/// What a disk can answer.
const ERRORS: &[&str] = &["EIO", "ENOSPC", "EDQUOT", "EROFS"];

/// One call of a run: its name, and how many of its name came before it, and whether it alters.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Call {
    name: String,
    nth: usize,
    alters: bool,
}

/// What is done to a call.
#[derive(Debug, Clone, Copy)]
enum Blow {
    Kill,
    Fail {
        error: &'static str,
        ever_after: bool,
    },
}

/// A command, where it is typed, and what it leads to.
struct Case {
    line: String,
    tree: Tree,
    /// Files that the command writes for the user: each is to be old, new, or not there.
    written: Vec<&'static str>,
    before: Found,
    after: Found,
    tree_after: Tree,
    /// Before and after, where the entry whose write was interrupted stayed.
    kept: Option<(Found, Found)>,
}

/// Where the command begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Begin {
    Season,
    HotJournal,
    Empty,
}

/// The commands, and how much of each the short form does: those marked `true` wholly.
fn cases() -> Vec<(String, Begin, bool)> {
    let recording = scene::RECORDING.iter().enumerate().map(|(at, line)| {
        let begin = if *line == "init" {
            Begin::Empty
        } else {
            Begin::Season
        };
        ((*line).to_owned(), begin, at == 0)
    });
    let more = [
        ("history", Begin::HotJournal, true),
        ("note NL 'after the crash'", Begin::HotJournal, false),
        ("export out.jsonl --force", Begin::Season, false),
        ("import season.jsonl", Begin::Empty, false),
        ("backup copy.db --force", Begin::Season, false),
        ("restore copy.db --force", Begin::Season, false),
    ];
    let more = more.map(|(line, begin, whole)| (line.to_owned(), begin, whole));
    recording.chain(more).collect()
}

fn play(batch: &mut Batch) {
    if !has_program("strace") {
        batch.count("skipped: strace is missing", 1);
        return;
    }
    let cases = cases();
    let Some((line, begin, whole)) = cases.get(batch.number as usize) else {
        return;
    };
    let case = prepare(batch.stage, line, *begin);
    let calls = calls_of(batch.stage, &case);
    let mut seen = HashMap::new();
    seen.insert(case.tree.digest(), case.before.clone());
    seen.insert(case.tree_after.digest(), case.after.clone());
    let mut rounds = rounds_of(&calls, batch.long);
    if !batch.long && !whole {
        let kept = usize::try_from(batch.rounds).expect("small");
        while rounds.len() > kept {
            let at = batch.chance.below(rounds.len());
            rounds.swap_remove(at);
        }
    }
    let whole = batch.long || *whole;
    batch.count("commands", 1);
    batch.count("calls", if whole { calls.len() as u64 } else { 0 });
    batch.count("commands at every call", u64::from(whole));
    for (call, blow) in rounds {
        strike(batch, &case, &call, blow, &mut seen);
    }
}

/// Every blow of every call; the short form fails calls that only look with EIO alone.
fn rounds_of(calls: &[Call], long: bool) -> Vec<(Call, Blow)> {
    let mut rounds = Vec::new();
    for call in calls {
        rounds.push((call.clone(), Blow::Kill));
        for error in ERRORS {
            if !long && !call.alters && *error != "EIO" {
                continue;
            }
            for ever_after in [false, true] {
                rounds.push((call.clone(), Blow::Fail { error, ever_after }));
            }
        }
    }
    rounds
}

fn prepare(stage: &Stage, line: &str, begin: Begin) -> Case {
    let mut tree = match begin {
        Begin::Season => scene::stage_for(stage, line),
        Begin::Empty => scene::stage_for(stage, "init"),
        Begin::HotJournal => hot_journal(stage),
    };
    if line.starts_with("import") {
        stage.clear();
        scene::season(stage);
        let export = stage.ok("export").out.into_bytes();
        tree.0.insert("season.jsonl".into(), Some(export));
    }
    let mut written = Vec::new();
    if line.starts_with("export") {
        tree.0
            .insert("out.jsonl".into(), Some(b"an older export\n".to_vec()));
        written.push("out.jsonl");
    }
    if line.starts_with("backup") || line.starts_with("restore") {
        stage.restore(&tree);
        stage.ok("backup copy.db");
        stage.ok("note NL 'later than the copy'");
        tree = stage.tree();
        written.push("copy.db");
    }
    stage.restore(&tree);
    let before = judge::look(stage);
    stage.restore(&tree);
    stage.ok(line);
    let tree_after = stage.tree();
    let after = judge::look(stage);
    let kept = (begin == Begin::HotJournal).then(|| {
        let mut tree = tree.clone();
        tree.0.remove(Path::new("ledger.db-journal"));
        stage.restore(&tree);
        let before = judge::look(stage);
        stage.ok(line);
        (before, judge::look(stage))
    });
    Case {
        line: line.to_owned(),
        tree,
        written,
        before,
        after,
        tree_after,
        kept,
    }
}

/// A season whose last command was killed when all was written but the journal not yet gone.
fn hot_journal(stage: &Stage) -> Tree {
    scene::stage_for(stage, "note");
    let run = stage::finish(&mut strace(
        stage,
        "note NL 'never acknowledged'",
        "?unlink,unlinkat",
        "signal=KILL:when=1",
    ));
    let tree = stage.tree();
    assert!(
        stage.journal().exists(),
        "no journal was left: {}",
        run.words()
    );
    tree
}

fn strace_words(stage: &Stage, line: &str, words: &[&str]) -> std::process::Command {
    let mut command = stage.program("strace");
    command.args(["-f", "-qq"]).args(words);
    command.arg(stage::binary()).args(scene::split(line));
    command
}

/// The program under strace with one fault.
fn strace(stage: &Stage, line: &str, calls: &str, fault: &str) -> std::process::Command {
    let inject = format!("inject={calls}:{fault}");
    let trace = format!("trace={calls}");
    let log = stage.log().to_string_lossy().into_owned();
    strace_words(stage, line, &["-o", &log, "-e", &trace, "-e", &inject])
}

/// The calls that a command makes from the first that names something on the stage.
fn calls_of(stage: &Stage, case: &Case) -> Vec<Call> {
    stage.restore(&case.tree);
    let list = stage.log();
    let file = list.to_string_lossy().into_owned();
    let trace = format!("trace={CALLS}");
    let run = stage::finish(&mut strace_words(
        stage,
        &case.line,
        &["-y", "-o", &file, "-e", &trace],
    ));
    assert!(run.ok(), "strace {}: {}", case.line, run.words());
    let text = std::fs::read_to_string(&list).expect("strace wrote its list");
    read_calls(&text, stage.folder())
}

fn read_calls(text: &str, folder: &Path) -> Vec<Call> {
    let folder = folder.to_string_lossy();
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    let mut begun = false;
    let mut calls = Vec::new();
    for line in text.lines() {
        let Some((name, rest)) = line
            .trim_start_matches(|c: char| c.is_ascii_digit() || c == ' ')
            .split_once('(')
        else {
            continue;
        };
        let nth = counts.entry(name.to_owned()).or_default();
        *nth += 1;
        let first = rest.split(')').next().unwrap_or("");
        begun |= first
            .replace(&format!("AT_FDCWD<{folder}>"), "")
            .contains(folder.as_ref());
        if begun {
            let alters =
                ALTERING.contains(&name) || rest.contains("O_CREAT") || rest.contains("O_RDWR");
            calls.push(Call {
                name: name.to_owned(),
                nth: *nth,
                alters,
            });
        }
    }
    calls
}

fn strike(batch: &mut Batch, case: &Case, call: &Call, blow: Blow, seen: &mut HashMap<u64, Found>) {
    let stage = batch.stage;
    stage.restore(&case.tree);
    let fault = match blow {
        Blow::Kill => format!("signal=KILL:when={}", call.nth),
        Blow::Fail { error, ever_after } => {
            format!(
                "error={error}:when={}{}",
                call.nth,
                if ever_after { "+" } else { "" }
            )
        }
    };
    let run = stage::finish(&mut strace(stage, &case.line, &call.name, &fault));
    let log = std::fs::read_to_string(stage.log()).expect("strace wrote its list");
    let struck = match blow {
        Blow::Kill => run.signal == Some(9) && log.contains("killed by SIGKILL"),
        Blow::Fail { .. } => log.contains("(INJECTED)"),
    };
    if !struck {
        return batch.fault(
            "not struck",
            format!("{}, {} {fault}: {}", case.line, call.name, run.words()),
        );
    }
    batch.round();
    batch.count(
        if matches!(blow, Blow::Kill) {
            "kills"
        } else {
            "failures"
        },
        1,
    );
    let place = format!("{}, {} {fault}: {}", case.line, call.name, run.words());
    let tree = stage.tree();
    for name in &case.written {
        let stands = tree.file(name);
        let is_new = stands == case.tree_after.file(name);
        if !is_new && stands != case.tree.file(name) {
            batch.fault("half", format!("{name} is neither old nor new; {place}"));
        }
        if run.ok() && !is_new {
            batch.fault("false word", format!("{name} is not the new one; {place}"));
        }
    }
    let found = seen
        .entry(tree.digest())
        .or_insert_with(|| look(stage, case));
    judge_blow(batch, case, call, &run, &found.clone(), &place);
}

/// As [`judge::look`]; a beginning that was interrupted must be one that can be begun again.
fn look(stage: &Stage, case: &Case) -> Found {
    let found = judge::look(stage);
    let unbegun = matches!(found, Found::Damaged(_)) && case.before == Found::Nothing;
    if unbegun && stage.run(&case.line).ok() && judge::look(stage) == case.after {
        return Found::Nothing;
    }
    found
}

fn judge_blow(batch: &mut Batch, case: &Case, call: &Call, run: &Run, found: &Found, place: &str) {
    let (before, after) = (case.before.entries(), case.after.entries());
    let entries: &[Entry] = match found {
        Found::Damaged(words) => return batch.fault("damaged", format!("{words}; after {place}")),
        sound => sound.entries(),
    };
    let kept = case.kept.as_ref();
    let kept_before = kept.is_some_and(|(before, _)| before.entries() == entries);
    let kept_after = kept.is_some_and(|(_, after)| after.entries() == entries);
    batch.count(
        "interrupted entries that stayed",
        u64::from(kept_before || kept_after),
    );
    if entries != before && entries != after && !kept_before && !kept_after {
        return batch.fault(
            "lost",
            format!(
                "{} entries, neither as before nor as after; {place}",
                entries.len()
            ),
        );
    }
    let records = before != after;
    let there = records && (entries == after || kept_after);
    if records && !there && (run.ok() || run.out.contains('\n')) {
        batch.fault("false recorded", place);
    }
    // The language's own library stops a program where a folder it has listed cannot be closed.
    if call.name == "close" && run.err.contains("closedir") {
        return batch.count("stopped where a folder could not be closed", 1);
    }
    let Some(status) = run.status else {
        if run.signal != Some(9) {
            batch.fault("status", place);
        }
        return;
    };
    // What could not be written could not be said either.
    let mute = call.name == "write";
    if let Some(kind) = judge::belied(run, there, mute) {
        batch.fault(kind, format!("{place} (status {status})"));
    }
}
