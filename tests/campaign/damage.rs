//! Files altered behind the program's back: cut, flipped, overwritten, taken back in time.
//!
//! An alteration may go unseen only where every record and every line of the history reads as before.

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::os::unix::fs::FileExt;
use std::path::Path;

use locule::records::change::RowChange;
use locule::records::rows::{CodeRow, PlantCytoplasm, PlantKind, PlantRow, RemarkRow, Thing};
use locule::store::{EntryKind, EntryNote, Identity, Ledger, State};

use super::judge;
use super::run::{Batch, Plan, Threat, has_program};
use super::scene;
use super::stage;

/// The threat: the rounds are flipped bits; in the long form all bits there are, whatever their number.
pub const THREAT: Threat = Threat {
    name: "damage",
    short: Plan {
        batches: 4,
        rounds: 12_500,
    },
    long: Plan {
        batches: 64,
        rounds: u64::MAX,
    },
    play,
};

const PAGE: usize = 4096;

/// A ledger that is altered and put right again.
struct Victim<'a> {
    path: &'a Path,
    state: State,
    whole: Vec<u8>,
    facts: Vec<String>,
}

impl<'a> Victim<'a> {
    fn new(batch: &Batch, path: &'a Path) -> Self {
        Self {
            path,
            state: State::at(batch.stage.folder().join("state")),
            whole: fs::read(path).expect("the ledger is there"),
            facts: judge::everything(path).expect("the ledger can be read"),
        }
    }

    /// Whether an alteration of the file is seen, or alters nothing that anybody reads.
    fn is_honest(&self) -> bool {
        match Ledger::open_to_check(self.path, &self.state) {
            Err(_) => true,
            Ok(ledger) if !ledger.check().is_empty() => true,
            Ok(_) => judge::everything(self.path).is_ok_and(|facts| facts == self.facts),
        }
    }

    fn open(&self) -> File {
        let file = OpenOptions::new().write(true).open(self.path);
        file.expect("the ledger can be written")
    }

    fn write(&self, at: usize, bytes: &[u8]) {
        self.open()
            .write_all_at(bytes, at as u64)
            .expect("the ledger can be written");
    }

    /// Whether nothing was written to the file beside the alteration, by what only asks.
    fn put_right(&self, at: usize, length: usize) {
        self.write(at, &self.whole[at..at + length]);
    }
}

fn play(batch: &mut Batch) {
    small(batch);
    let path = batch.stage.ledger();
    let victim = Victim::new(batch, &path);
    assert!(
        Ledger::open_to_check(&path, &victim.state).is_ok_and(|ledger| ledger.check().is_empty())
    );
    cut_off(batch, &victim);
    flip(batch, &victim);
    back_in_time(batch);
    stray_journals(batch);
    pages(batch);
}

/// Every length shorter than the whole, shared among the batches.
fn cut_off(batch: &mut Batch, victim: &Victim) {
    let whole = victim.whole.len() as u64;
    let file = victim.open();
    let (number, of) = (batch.number, batch.of);
    for length in (0..whole).rev().filter(|length| length % of == number) {
        file.set_len(length).expect("the ledger can be cut");
        batch.count("lengths", 1);
        if Ledger::open_to_check(victim.path, &victim.state).is_ok() {
            batch.fault("silent", format!("cut to {length} bytes"));
        }
    }
    fs::write(victim.path, &victim.whole).expect("the ledger can be put right");
}

fn flip(batch: &mut Batch, victim: &Victim) {
    let all = victim.whole.len() as u64 * 8;
    let (from, to) = (
        all * batch.number / batch.of,
        all * (batch.number + 1) / batch.of,
    );
    let count = batch.rounds.min(to - from);
    for at in 0..count {
        let bit = if count == to - from {
            from + at
        } else {
            batch.chance.below(all as usize) as u64
        };
        let byte = (bit / 8) as usize;
        victim.write(byte, &[victim.whole[byte] ^ (1 << (bit % 8))]);
        batch.round();
        if !victim.is_honest() {
            batch.fault("silent", format!("bit {} of byte {byte}", bit % 8));
        }
        if at % 500 == 0 {
            by_the_program(batch, victim, &format!("bit {} of byte {byte}", bit % 8));
        }
        victim.put_right(byte, 1);
    }
}

/// The real program: what it does not refuse leaves the records as they were.
fn by_the_program(batch: &mut Batch, victim: &Victim, what: &str) {
    let altered = fs::read(victim.path).expect("the ledger is there");
    let run = batch.stage.run("note NL 'written after the damage'");
    batch.count("by the program", 1);
    if run.status.is_none_or(|status| status > 5) {
        batch.fault("status", format!("{what}: {}", run.words()));
    }
    let kept = || {
        judge::everything(victim.path)
            .is_ok_and(|now| victim.facts.iter().all(|fact| holds(&now, fact)))
    };
    if run.ok() && !kept() {
        batch.fault("written on", format!("{what}: {}", run.words()));
    }
    if !run.ok() && fs::read(victim.path).ok() != Some(altered) {
        batch.fault(
            "altered",
            format!("{what}: refused, and the file is another one"),
        );
    }
    fs::write(victim.path, &victim.whole).expect("the ledger can be put right");
}

/// Whether a line of before is still there; counters move on.
fn holds(now: &[String], fact: &String) -> bool {
    fact.starts_with("counter ") || now.contains(fact)
}

/// An older state of the file put back while the user's state is the newer one.
fn back_in_time(batch: &mut Batch) {
    for _ in 0..rounds(batch, 6) {
        batch.stage.clear();
        scene::season(batch.stage);
        let older = fs::read(batch.stage.ledger()).expect("the ledger is there");
        for number in 0..=batch.chance.below(3) as u64 {
            batch.stage.ok(&format!("note NL 'later {number}'"));
        }
        fs::write(batch.stage.ledger(), older).expect("the ledger can be put back");
        batch.count("older files put back", 1);
        expect_reported(batch, "an older file put back");
    }
}

/// What was taken back in time is pointed out to who asks, and not written on.
fn expect_reported(batch: &mut Batch, what: &str) {
    let asked = batch.stage.run("history");
    if asked.ok() && asked.err.is_empty() {
        batch.fault("silent", format!("{what}: history says nothing of it"));
    }
    let wrote = batch.stage.run("note NL 'on top of it'");
    if wrote.ok() {
        batch.fault("written on", format!("{what}: {}", wrote.words()));
    }
}

/// A journal of another moment, or of another ledger, beside the ledger.
fn stray_journals(batch: &mut Batch) {
    if !has_program("strace") {
        batch.count("skipped: strace is missing", 1);
        return;
    }
    for _ in 0..rounds(batch, 6) {
        batch.stage.clear();
        scene::season(batch.stage);
        let foreign = batch.chance.once_in(2);
        let before = batch.stage.tree();
        if foreign {
            batch.stage.clear();
            batch.stage.ok("init");
            batch.stage.ok("parent add NL 'of another ledger'");
        }
        let journal = journal_of(batch);
        batch.stage.restore(&before);
        let later = batch.chance.below(3) as u64;
        for number in 0..later {
            batch.stage.ok(&format!("note NL 'later {number}'"));
        }
        let facts = judge::everything(&batch.stage.ledger()).expect("the ledger can be read");
        fs::write(batch.stage.journal(), &journal).expect("a journal can be put there");
        batch.count("stray journals", 1);
        let asked = batch.stage.run("history");
        let same = judge::everything(&batch.stage.ledger()).is_ok_and(|now| now == facts);
        if asked.ok() && asked.err.is_empty() && !same {
            batch.fault(
                "silent",
                format!("a journal ({foreign}, {later} entries later) took the ledger elsewhere"),
            );
        }
        let wrote = batch.stage.run("note NL 'on top of it'");
        let kept = judge::everything(&batch.stage.ledger())
            .is_ok_and(|now| facts.iter().all(|fact| holds(&now, fact)));
        if wrote.ok() && !kept {
            batch.fault(
                "written on",
                format!("a journal ({foreign}, {later} entries later)"),
            );
        }
    }
}

/// The journal of a command killed when all was written: at the first name it takes away while a journal stands there.
fn journal_of(batch: &Batch) -> Vec<u8> {
    let call = if cfg!(target_arch = "x86_64") {
        "unlink"
    } else {
        "unlinkat"
    };
    let before = batch.stage.tree();
    for nth in 1..20 {
        batch.stage.restore(&before);
        let mut command = batch.stage.program("strace");
        let (trace, inject) = (
            format!("trace={call}"),
            format!("inject={call}:signal=KILL:when={nth}"),
        );
        command
            .args(["-f", "-qq", "-e", &trace, "-e", &inject, "-o"])
            .arg(batch.stage.log());
        command
            .arg(stage::binary())
            .args(["note", "NL", "never acknowledged"]);
        stage::finish(&mut command);
        if let Ok(journal) = fs::read(batch.stage.journal()) {
            return journal;
        }
    }
    panic!("no journal was left")
}

/// A few rounds in the short form, more in the long one.
const fn rounds(batch: &Batch, short: u64) -> u64 {
    if batch.long { 4 * short } else { short }
}

/// Random pages of a ledger of 3 MB: zeros, noise, or another of its pages.
fn pages(batch: &mut Batch) {
    batch.stage.clear();
    large(batch);
    let path = batch.stage.ledger();
    let victim = Victim::new(batch, &path);
    let count = victim.whole.len() / PAGE;
    assert!(count > 700, "the large ledger has only {count} pages");
    for _ in 0..rounds(batch, 25) {
        let (page, other) = (batch.chance.below(count), batch.chance.below(count));
        let bytes: Vec<u8> = match batch.chance.below(3) {
            0 => vec![0; PAGE],
            1 => (0..PAGE).map(|_| batch.chance.next() as u8).collect(),
            _ => victim.whole[other * PAGE..(other + 1) * PAGE].to_vec(),
        };
        victim.write(page * PAGE, &bytes);
        batch.count("pages", 1);
        if !victim.is_honest() {
            batch.fault("silent", format!("page {page} overwritten (page {other})"));
        }
        victim.put_right(page * PAGE, PAGE);
    }
}

/// A ledger of one parent and some remarks, which is quickly checked, recorded through the library.
fn small(batch: &Batch) {
    let state = State::at(batch.stage.folder().join("state"));
    let identity = Identity {
        ledger_id: "campaign".to_owned(),
    };
    let made = Ledger::create(&batch.stage.ledger(), &identity, &state);
    let mut ledger = made.expect("a ledger can be made");
    let parent = PlantRow {
        id: 1,
        kind: PlantKind::Line,
        name: "Night Lantern".to_owned(),
        species: "annuum".to_owned(),
        cytoplasm: PlantCytoplasm::Unknown,
        batch_id: None,
        cell: None,
        part: String::new(),
        mother_id: None,
        father_id: None,
        entered: stage::TODAY.parse().expect("a day"),
    };
    let code = CodeRow {
        id: 1,
        key: "nl".to_owned(),
        typed: "NL".to_owned(),
        thing: Thing::Plant,
        thing_id: 1,
    };
    record(
        &mut ledger,
        EntryKind::Init,
        0,
        &[RowChange::insert(parent), RowChange::insert(code)],
    );
    for id in 1..=20 {
        record(
            &mut ledger,
            EntryKind::Record,
            id,
            &[remark(id, &"looks well ".repeat(3 * id as usize))],
        );
    }
}

fn remark(id: i64, text: &str) -> RowChange {
    RowChange::insert(RemarkRow {
        id,
        thing: Thing::Plant,
        thing_id: 1,
        text: format!("{id} {text}"),
        day: stage::TODAY.parse().expect("a day"),
    })
}

fn record(ledger: &mut Ledger, kind: EntryKind, number: i64, changes: &[RowChange]) {
    let note = EntryNote {
        at_utc: format!("{}T12:00:00Z", stage::TODAY),
        utc_offset: "+00:00".to_owned(),
        command: format!("note NL {number}"),
        kind,
    };
    let recorded = ledger.record(&note, changes, &BTreeMap::new());
    recorded.expect("a sound entry can be recorded");
}

/// A ledger of 3 MB, recorded through the library.
fn large(batch: &Batch) {
    batch.stage.ok("init");
    batch.stage.ok("parent add NL 'Night Lantern'");
    let state = State::at(batch.stage.folder().join("state"));
    let mut ledger = Ledger::open_to_write(&batch.stage.ledger(), &state).expect("a sound ledger");
    for id in 1..=850 {
        record(
            &mut ledger,
            EntryKind::Record,
            id,
            &[remark(id, &"a long remark ".repeat(100))],
        );
    }
}
