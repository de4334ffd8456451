//! No room: a small disk that is full, a limit on the size of files, a standard output that takes nothing.

use std::fs::{self, File};
use std::path::PathBuf;
use std::process::{Command, Stdio};

use super::judge::{self, Entry, Found};
use super::run::{Batch, Plan, Threat, has_program};
use super::scene;
use super::stage::{self, Run, Tree};

/// The threat.
pub const THREAT: Threat = Threat {
    name: "full",
    short: Plan {
        batches: 2,
        rounds: 50,
    },
    long: Plan {
        batches: 40,
        rounds: 50,
    },
    play,
};

/// The small disk: a file system in memory, mounted over the stage's folder for as long as this lives. It holds the
/// ledger, its copy of the day and what the repair of a broken write needs beside them: six ledgers of this size.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn mount(folder: PathBuf) -> Option<Self> {
        let mut command = Command::new("mount");
        command
            .args(["-t", "tmpfs", "-o", "size=3m", "none"])
            .arg(&folder);
        let done = command.stdout(Stdio::null()).stderr(Stdio::null()).status();
        done.is_ok_and(|status| status.success())
            .then_some(Self(folder))
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(&self.0).status();
    }
}

fn play(batch: &mut Batch) {
    let disk = SmallDisk::mount(batch.stage.folder().to_owned());
    if disk.is_none() {
        batch.count("skipped: no small disk can be mounted", 1);
    }
    batch.stage.clear();
    scene::season(batch.stage);
    let season = batch.stage.tree();
    let known = judge::look(batch.stage).entries().to_vec();
    for number in 0..batch.rounds {
        batch.stage.restore(&season);
        let line = scene::any_line(&mut batch.chance, number);
        let run = match number % 3 {
            0 if disk.is_some() => on_full_disk(batch, &line),
            1 if has_program("prlimit") => with_limit(batch, &season, &line),
            _ => to_full_output(batch, &line),
        };
        batch.round();
        judge_full(batch, &line, &run, &known);
        let _ = fs::remove_file(batch.stage.folder().join("ballast"));
        let after = batch.stage.run("note NL 'there is room again'");
        if !after.ok() {
            batch.fault("stuck", format!("after {line}: {}", after.words()));
        }
    }
    batch.stage.clear();
}

/// Fills the disk but for some pages, then runs a line.
fn on_full_disk(batch: &mut Batch, line: &str) -> Run {
    batch.count("full disks", 1);
    let left = batch.chance.below(24) * 4096;
    let ballast = batch.stage.folder().join("ballast");
    let mut file = File::create(&ballast).expect("the ballast can be made");
    // Writes until the disk refuses: that is what the ballast is for.
    let _ = std::io::copy(&mut std::io::repeat(7), &mut file);
    let length = file.metadata().expect("the ballast is there").len();
    file.set_len(length.saturating_sub(left as u64))
        .expect("the ballast can be cut");
    drop(file);
    let run = batch.stage.run(line);
    let asked = batch.stage.run("history");
    if !asked.ok() {
        batch.fault(
            "unreadable",
            format!("on a full disk, after {line}: {}", asked.words()),
        );
    }
    run
}

/// Lets no file grow beyond a length; beyond it the system kills, or refuses where that signal is ignored.
fn with_limit(batch: &mut Batch, season: &Tree, line: &str) -> Run {
    let ledger = season.file("ledger.db").map_or(0, <[u8]>::len);
    let limit = match batch.chance.below(2) {
        0 => batch.chance.below(48) * 512,
        _ => ledger - 4096 + batch.chance.below(16) * 1024,
    };
    let refuses = batch.chance.once_in(2);
    batch.count("limits on the size of files", 1);
    let mut command = batch.stage.program("prlimit");
    command.arg(format!("--fsize={limit}"));
    if refuses {
        command.args(["sh", "-c", "trap '' XFSZ; exec \"$@\"", "sh"]);
    }
    command.arg(stage::binary()).args(scene::split(line));
    stage::finish(&mut command)
}

fn to_full_output(batch: &mut Batch, line: &str) -> Run {
    batch.count("full outputs", 1);
    let full = File::options()
        .write(true)
        .open("/dev/full")
        .expect("the system has a full device");
    let mut command = batch.stage.command(line);
    let child = command
        .stdout(Stdio::from(full))
        .spawn()
        .expect("the program can be started");
    let run = stage::collect(child);
    if run.ok() {
        batch.fault(
            "false word",
            format!("{line} to a full output: {}", run.words()),
        );
    }
    run
}

fn judge_full(batch: &mut Batch, line: &str, run: &Run, known: &[Entry]) {
    let entries = match judge::look(batch.stage) {
        Found::Sound(entries) => entries,
        other => {
            return batch.fault(
                "damaged",
                format!("{line}: {other:?}; after {}", run.words()),
            );
        }
    };
    let new = entries.len().saturating_sub(known.len());
    if !entries.starts_with(known) || new > 1 {
        batch.fault("lost", format!("{line}: {}", run.words()));
    }
    batch.count("recorded all the same", new as u64);
    if let Some(kind) = judge::belied(run, new == 1, false) {
        batch.fault(kind, format!("{line}: {}", run.words()));
    }
}
