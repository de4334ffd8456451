//! Random seasons entered by commands into the real program, its diagnosis compared with the oracle's.
//!
//! Every season is simulated from a seed: hidden genotypes, one accident per batch or none, onset, slips of the
//! pen. The program runs in a cleared environment and its own folder; what `suspects --json` says must agree
//! with the independent sums in every probability and verdict.

use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;

use super::oracle::answer::{BatchAnswer, Named, SeedlingAnswer};
use super::oracle::commands::seedling_code;
use super::oracle::evidence::Who;
use super::oracle::season::{Season, iso};
use super::oracle::verdict::Verdict;
use super::random_season::random_season;

/// How far a probability may be from the oracle's; what the sums allow is far less.
const TOLERANCE: f64 = 1e-4;

/// How far it is meant to be: all sums on both sides are well conditioned.
const AIM: f64 = 1e-9;

/// Seasons per test; four tests run side by side. `ORACLE_SEASONS` asks for more of them.
const SEASONS: u64 = 15;

fn seasons() -> u64 {
    let asked = std::env::var("ORACLE_SEASONS").ok();
    asked.map_or(SEASONS, |n| {
        n.parse().expect("ORACLE_SEASONS is a number of seasons")
    })
}

/// Everything in which an answer differs from the oracle's, and how many verdicts were compared.
#[derive(Default)]
struct Comparison {
    differences: Vec<String>,
    largest: f64,
    /// Where it was.
    farthest: String,
    verdicts: usize,
    fragile: usize,
}

fn locule(folder: &Path, season: &Season, line: &[String]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_locule"))
        .env_clear()
        .env("HOME", folder)
        .env("XDG_DATA_HOME", folder.join("data"))
        .env("XDG_STATE_HOME", folder.join("state"))
        .env("LOCULE_STATE", folder.join("mark"))
        .env("LOCULE_TODAY", iso(season.today))
        .env("LOCULE_SEED", "7")
        .current_dir(folder)
        .arg("--ledger")
        .arg(folder.join("season.db"))
        .args(line)
        .output()
        .expect("the program can be started")
}

/// Runs one command line that must succeed, and gives its standard output.
fn must(folder: &Path, season: &Season, line: &[String]) -> Result<String, String> {
    let done = locule(folder, season, line);
    let said = String::from_utf8_lossy(&done.stdout).into_owned();
    match done.status.success() {
        true => Ok(said),
        false => Err(format!(
            "`locule {}` ended with {:?}: {}",
            line.join(" "),
            done.status.code(),
            String::from_utf8_lossy(&done.stderr)
        )),
    }
}

fn suspects(season: &Season) -> Result<Value, String> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for line in season.commands() {
        must(folder.path(), season, &line)?;
    }
    let said = must(folder.path(), season, &["suspects".into(), "--json".into()])?;
    serde_json::from_str(&said).map_err(|e| format!("`suspects --json` is not JSON: {e}: {said:?}"))
}

impl Comparison {
    fn number(&mut self, what: &str, got: Option<f64>, expected: f64) {
        let far = got.map_or(f64::INFINITY, |g| (g - expected).abs());
        if far.is_finite() && far > self.largest {
            self.largest = far;
            self.farthest = format!("{what}: {got:?}, oracle {expected}");
        }
        if far.is_nan() || far > TOLERANCE {
            self.differences
                .push(format!("{what}: {got:?}, oracle {expected}"));
        }
    }

    /// Named probabilities; what is under 1e-6 may have been lumped as `other`.
    fn named(&mut self, what: &str, got: &Value, expected: &[Named], may_lump: bool) {
        let Some(got) = got.as_array() else {
            self.differences.push(format!("{what}: no list"));
            return;
        };
        let is = |v: &Value, n: &Named| v["source"] == n.0 && v["code"].as_str() == n.1.as_deref();
        let mut lumped = 0.0;
        for name in expected {
            let label = format!("{what} {} {}", name.0, name.1.as_deref().unwrap_or(""));
            match got.iter().find(|v| is(v, name)) {
                Some(v) => self.number(&label, v["p"].as_f64(), name.2),
                None if may_lump && name.2 < 1.1e-6 => lumped += name.2,
                None => self.number(&label, None, name.2),
            }
        }
        for v in got {
            if v["source"] == "other" {
                self.number(&format!("{what} other"), v["p"].as_f64(), lumped);
            } else if !expected.iter().any(|n| is(v, n)) {
                self.differences
                    .push(format!("{what}: {v} is no source of the oracle's"));
            }
        }
    }

    fn batch(&mut self, season: &Season, got: &Value, expected: &BatchAnswer) {
        let tray = &expected.tray;
        if got["n"].as_u64() != Some(expected.n as u64) {
            self.differences
                .push(format!("{tray} n: {}, oracle {}", got["n"], expected.n));
        }
        self.named(
            &format!("{tray} sources"),
            &got["sources"],
            &expected.sources,
            true,
        );
        self.named(
            &format!("{tray} visible"),
            &got["visible"],
            &expected.visible,
            false,
        );
        self.number(
            &format!("{tray} visibility"),
            got["visibility"].as_f64(),
            expected.visibility,
        );
        let firm = expected.seedlings.iter().all(|s| !s.decision.fragile);
        if firm {
            self.number(
                &format!("{tray} true_lost"),
                got["true_lost_by_culling"].as_f64(),
                expected.true_lost,
            );
        }
        if firm && got["unscored"] == 0 {
            self.number(
                &format!("{tray} off_left"),
                got["off_left_by_keeping"].as_f64(),
                expected.off_left,
            );
        }
        for seedling in &expected.seedlings {
            self.seedling(season, tray, &got["seedlings"], seedling);
        }
    }

    fn seedling(&mut self, season: &Season, tray: &str, list: &Value, expected: &SeedlingAnswer) {
        let label = match &expected.who {
            Who::Seedling(s) => seedling_code(tray, *s),
            Who::Tallied(cell, look) => format!("{tray} cell {cell:?} look {look:?}"),
        };
        let entries = list.as_array().map(Vec::as_slice).unwrap_or_default();
        let Some(got) = entries
            .iter()
            .find(|v| is_about(season, tray, v, &expected.who))
        else {
            // A seedling that is gone need not be listed.
            if expected.living {
                self.differences.push(format!("{label}: not listed"));
            }
            return;
        };
        self.number(
            &format!("{label} p_off"),
            got["p_off"].as_f64(),
            expected.p_off,
        );
        self.named(
            &format!("{label} sources"),
            &got["sources"],
            &expected.sources,
            true,
        );
        if let Who::Tallied(..) = expected.who
            && got["count"].as_u64() != Some(expected.count as u64)
        {
            self.differences.push(format!(
                "{label} count: {}, oracle {}",
                got["count"], expected.count
            ));
        }
        if expected.living {
            self.verdict(&label, got, expected);
        }
    }

    fn verdict(&mut self, label: &str, got: &Value, expected: &SeedlingAnswer) {
        let decision = expected.decision;
        if decision.fragile {
            self.fragile += 1;
            return;
        }
        self.verdicts += 1;
        let word = match decision.verdict {
            Verdict::Cull => "cull",
            Verdict::Keep => "keep",
            Verdict::Unproven => "unproven",
            Verdict::Wait => "wait",
            Verdict::Undecided => "undecided",
        };
        let day = decision.look_again.map(iso);
        if got["verdict"] != word || got["look_again"].as_str() != day.as_deref() {
            let said = format!("{} {}", got["verdict"], got["look_again"]);
            self.differences.push(format!(
                "{label}: {said}, oracle {word} {day:?} at p_off {}",
                expected.p_off
            ));
        }
    }
}

/// Whether an entry of the answer is about a seedling, or about a look of a tally.
fn is_about(season: &Season, tray: &str, entry: &Value, who: &Who) -> bool {
    match who {
        Who::Seedling(s) => entry["seedling"] == seedling_code(tray, *s).as_str(),
        Who::Tallied(cell, look) => {
            let same = |&(t, c): &(usize, usize)| {
                let t = &season.traits[t];
                entry["reading"][&t.code] == t.classes[c].as_str()
            };
            let named = entry["reading"].as_object().map_or(0, serde_json::Map::len);
            let cell_fits = match cell {
                None => entry["cell"].is_null(),
                Some(c) => cell_number(&entry["cell"]) == Some(*c),
            };
            entry["seedling"].is_null() && cell_fits && named == look.len() && look.iter().all(same)
        }
    }
}

/// A cell given as a number, as `03` or as `T1-03`.
fn cell_number(cell: &Value) -> Option<usize> {
    let number = cell.as_u64().and_then(|n| usize::try_from(n).ok());
    number.or_else(|| cell.as_str()?.rsplit('-').next()?.parse().ok())
}

fn compare(seed: u64) -> Comparison {
    let season = random_season(seed);
    let mut comparison = Comparison::default();
    let answer = match suspects(&season) {
        Ok(answer) => answer,
        Err(said) => {
            comparison.differences.push(said);
            return comparison;
        }
    };
    let batches = answer["batches"].as_array().cloned().unwrap_or_default();
    for expected in season.diagnose(season.today) {
        match batches.iter().find(|b| b["tray"] == expected.tray.as_str()) {
            Some(got) => comparison.batch(&season, got, &expected),
            None => comparison
                .differences
                .push(format!("{}: not answered", expected.tray)),
        }
    }
    comparison
}

/// Compares a range of seasons; the message lists all that differs.
fn agree(seeds: std::ops::Range<u64>) {
    let mut report = Vec::new();
    let (mut verdicts, mut fragile, mut loose) = (0, 0, Vec::new());
    for seed in seeds {
        let comparison = compare(seed);
        verdicts += comparison.verdicts;
        fragile += comparison.fragile;
        if comparison.largest >= AIM {
            loose.push(format!("season {seed}: {}", comparison.farthest));
        }
        report.extend(
            comparison
                .differences
                .iter()
                .map(|d| format!("season {seed}: {d}")),
        );
    }
    assert!(
        report.is_empty(),
        "{} differences\n{}",
        report.len(),
        report.join("\n")
    );
    assert!(verdicts > 100, "{verdicts} verdicts compared");
    assert!(
        fragile * 20 < verdicts,
        "{fragile} of {verdicts} verdicts hang on rounding"
    );
    assert!(
        loose.is_empty(),
        "agreement only within {TOLERANCE:e}: {loose:#?}"
    );
}

#[test]
fn seasons_agree_with_the_oracle_first_quarter() {
    agree(0..seasons());
}

#[test]
fn seasons_agree_with_the_oracle_second_quarter() {
    agree(seasons()..2 * seasons());
}

#[test]
fn seasons_agree_with_the_oracle_third_quarter() {
    agree(2 * seasons()..3 * seasons());
}

#[test]
fn seasons_agree_with_the_oracle_last_quarter() {
    agree(3 * seasons()..4 * seasons());
}

/// The generator reaches what it is meant to reach; otherwise agreement would say little.
#[test]
fn the_random_seasons_cover_the_method() {
    let mut seen = std::collections::BTreeMap::<String, usize>::new();
    let mut note = |what: String| *seen.entry(what).or_default() += 1;
    for seed in 0..4 * SEASONS {
        let season = random_season(seed);
        // One locus is quick, and enough to see every verdict.
        let quick = season.loci.len() == 1;
        let answers = if quick {
            season.diagnose(season.today)
        } else {
            Vec::new()
        };
        for answer in answers {
            answer
                .sources
                .iter()
                .filter(|s| s.2 > 0.1)
                .for_each(|s| note(format!("source {}", s.0)));
            for s in answer.seedlings {
                note(format!("{:?}", s.decision.verdict));
                if s.decision.fragile {
                    note("fragile".into());
                }
            }
        }
        super::random_season::features(&season)
            .into_iter()
            .for_each(|f| note(f.into()));
    }
    let expected = [
        "Cull",
        "Keep",
        "Unproven",
        "Wait",
        "Undecided",
        "source none",
        "source self",
        "source pollen",
        "source mixed",
        "source swapped",
        "two ages",
        "dim ruled out",
        "self",
        "packet",
        "shared tool",
        "wiped",
        "two crosses one day",
        "two traits",
        "two-locus trait",
        "unstated parent",
        "half stated parent",
        "two batches of one pair",
        "batch tally",
        "cell tally",
        "emergence by cell",
        "emergence by count",
        "doubtful",
        "early",
        "culled",
        "covered",
        "not emasculated",
        "sterile mother",
        "in flower",
        "several in a cell",
        "two-trait tally",
        "looks",
        "linked",
        "phased",
        "usual wide cross",
        "hard cross",
        "very hard cross",
        "cross not expected",
    ];
    let missing: Vec<_> = expected
        .iter()
        .filter(|f| !seen.contains_key(**f))
        .collect();
    assert!(missing.is_empty(), "missing {missing:?} in {seen:#?}");
}
