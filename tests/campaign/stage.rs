//! The folder a batch has to itself: a ledger, the user's state, and whatever the commands write there.
//!
//! It lies in memory where the system has such a place: nothing here leaves out of account what a disk does, the power cut
//! models that.

use std::collections::BTreeMap;
use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use super::scene::split;

/// The day on which all is typed.
pub const TODAY: &str = "2026-06-01";

/// A stage.
#[derive(Debug)]
pub struct Stage {
    folder: tempfile::TempDir,
    logs: tempfile::TempDir,
}

/// What lay in the folder: folders, and files with what they hold.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Tree(pub BTreeMap<PathBuf, Option<Vec<u8>>>);

/// How a run ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    /// The exit status; nothing where a signal ended it.
    pub status: Option<i32>,
    /// The signal that ended it.
    pub signal: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Run {
    /// Whether it ended well.
    pub fn ok(&self) -> bool {
        self.status == Some(0)
    }

    /// How it ended, in words for a fault.
    pub fn words(&self) -> String {
        let end = match (self.status, self.signal) {
            (Some(status), _) => format!("status {status}"),
            (None, Some(signal)) => format!("signal {signal}"),
            (None, None) => "no status".to_owned(),
        };
        format!(
            "{end}; out {:?}; err {:?}",
            self.out.trim(),
            self.err.trim()
        )
    }
}

impl Stage {
    /// An empty stage.
    pub fn new() -> Result<Self, String> {
        let memory = Path::new("/dev/shm");
        let place = if memory.is_dir() {
            memory.to_owned()
        } else {
            std::env::temp_dir()
        };
        let made = || {
            tempfile::Builder::new()
                .prefix("locule-campaign-")
                .tempdir_in(&place)
                .map_err(|error| format!("no folder to play in: {error}"))
        };
        Ok(Self {
            folder: made()?,
            logs: made()?,
        })
    }

    /// Its folder.
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Where the ledger lies.
    pub fn ledger(&self) -> PathBuf {
        self.folder().join("ledger.db")
    }

    /// Where its journal lies while a write is going on.
    pub fn journal(&self) -> PathBuf {
        self.folder().join("ledger.db-journal")
    }

    /// A file outside the folder, for what watches a run.
    pub fn log(&self) -> PathBuf {
        self.logs.path().join("log.txt")
    }

    /// The program of another name run in the same surroundings, for what runs the program.
    pub fn program(&self, name: &str) -> Command {
        let mut command = Command::new(name);
        command
            .current_dir(self.folder())
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap_or_default())
            .env("HOME", self.folder())
            .env("LOCULE_LEDGER", self.ledger())
            .env("LOCULE_STATE", self.folder().join("state"))
            .env("LOCULE_TODAY", TODAY)
            .env("LOCULE_SEED", "campaign")
            .env("COLUMNS", "80")
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    /// The program, ready to be run with a line as a person types it.
    pub fn command(&self, line: &str) -> Command {
        let mut command = self.program(binary());
        command.args(split(line));
        command
    }

    /// Runs a line.
    pub fn run(&self, line: &str) -> Run {
        finish(&mut self.command(line))
    }

    /// Runs a line that must end well.
    pub fn ok(&self, line: &str) -> Run {
        let run = self.run(line);
        assert!(run.ok(), "{line}: {}", run.words());
        run
    }

    /// Empties the folder.
    pub fn clear(&self) {
        self.restore(&Tree::default());
    }

    /// What lies in the folder.
    pub fn tree(&self) -> Tree {
        let mut tree = Tree::default();
        gather(self.folder(), self.folder(), &mut tree);
        tree
    }

    /// Makes the folder hold exactly what a tree says.
    pub fn restore(&self, tree: &Tree) {
        for entry in fs::read_dir(self.folder()).expect("the stage is there") {
            let path = entry.expect("the stage can be listed").path();
            if path.is_dir() {
                fs::remove_dir_all(&path).expect("the stage can be emptied");
            } else {
                fs::remove_file(&path).expect("the stage can be emptied");
            }
        }
        for (path, held) in &tree.0 {
            let path = self.folder().join(path);
            match held {
                None => fs::create_dir_all(&path),
                Some(bytes) => fs::write(&path, bytes),
            }
            .expect("the stage can be filled");
        }
    }
}

impl Tree {
    /// A number that tells trees apart.
    pub fn digest(&self) -> u64 {
        let mut hasher = DefaultHasher::new();
        self.hash(&mut hasher);
        hasher.finish()
    }

    /// What a file holds.
    pub fn file(&self, name: &str) -> Option<&[u8]> {
        self.0.get(Path::new(name))?.as_deref()
    }
}

fn gather(root: &Path, folder: &Path, tree: &mut Tree) {
    for entry in fs::read_dir(folder).expect("the stage can be listed") {
        let path = entry.expect("the stage can be listed").path();
        let name = path.strip_prefix(root).expect("below the root").to_owned();
        if path.is_dir() {
            tree.0.insert(name, None);
            gather(root, &path, tree);
        } else {
            tree.0.insert(name, fs::read(&path).ok());
        }
    }
}

/// The program under test.
pub const fn binary() -> &'static str {
    env!("CARGO_BIN_EXE_locule")
}

/// Longest that a run may take before it counts as one that never ends.
const LONGEST: Duration = Duration::from_secs(30);

/// Runs a command to its end; one that does not end is killed, which its signal then tells.
pub fn finish(command: &mut Command) -> Run {
    let child = command.spawn().expect("the program can be started");
    let id = child.id();
    let (tell, told) = std::sync::mpsc::channel::<()>();
    let watch = std::thread::spawn(move || {
        if told.recv_timeout(LONGEST) == Err(std::sync::mpsc::RecvTimeoutError::Timeout) {
            let _ = Command::new("kill").args(["-9", &id.to_string()]).status();
        }
    });
    let run = collect(child);
    drop(tell);
    watch.join().expect("the watch does not panic");
    run
}

/// What a child said and how it ended.
pub fn collect(child: Child) -> Run {
    let output = child
        .wait_with_output()
        .expect("the child can be waited for");
    Run {
        status: output.status.code(),
        signal: output.status.signal(),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// How long something takes.
pub fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let begun = Instant::now();
    let made = work();
    (made, begun.elapsed())
}
