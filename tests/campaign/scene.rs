//! An invented season, and every command that records, each ready to be typed after it.

use super::chance::Chance;
use super::stage::{Stage, Tree};

/// The season, without the beginning.
const SEASON: &[&str] = &[
    "parent add NL 'Night Lantern' --genotype A/A --on 2026-01-05",
    "parent add PH 'Pale Heron' --genotype a/a --on 2026-01-05",
    "cross PH NL --flowers 3 --on 2026-01-10",
    "harvest X1 --pods 2 --seeds 400 --on 2026-03-20",
    "sow X1 --seeds 12 --on 2026-04-01",
    "up T1 10 --on 2026-04-12",
    "score T1 1-4=purple 5=green --on 2026-05-20",
    "note NL 'from the swap table'",
];

/// Every command that records something, as typed after the season.
pub const RECORDING: &[&str] = &[
    "note T1 'looks well'",
    "parent add MB 'Moss Button'",
    "parent in-flower NL",
    "cross NL PH --flowers 2 --on 2026-01-12",
    "self NL --flowers 2 --on 2026-01-12",
    "set X1 --pods 2 --dropped 1 --on 2026-02-14",
    "harvest X1 --pods 1 --seeds 4 --on 2026-03-22",
    "packet NL --seeds 20 --label 'own seed' --claim line",
    "sow X1 --seeds 6",
    "up T1 11 --on 2026-04-14",
    "score T1 6=purple",
    "cull T1-05",
    "thin T1 2",
    "died T1-04",
    "pot-up T1 1,2",
    "care feed T1 --product 'tomato feed' --dose half",
    "measure NL height=42mm",
    "photo NL picture.txt",
    "assume dim 0.05",
    "trait add edge --classes smooth,wavy --rule 'A/_ => smooth' --rule 'else => wavy'",
    "trait model add foliage always --rule 'else => purple'",
    "trait bench stem-hair",
    "trait off pungency",
    "trait on yellow-bud",
    "locus set Zz --alleles Zz,zz",
    "undo",
    "undo 7",
    "redo",
    "amend 5 harvest X1 --pods 2 --seeds 390 --on 2026-03-20",
    "init",
];

/// What must have been typed before a command, other than the season.
pub fn stage_for(stage: &Stage, line: &str) -> Tree {
    stage.clear();
    if line != "init" {
        season(stage);
    }
    std::fs::write(stage.folder().join("picture.txt"), "a picture")
        .expect("the stage can be filled");
    if line == "redo" {
        stage.ok("undo");
    }
    stage.tree()
}

/// Plays the season.
pub fn season(stage: &Stage) {
    stage.ok("init");
    for line in SEASON {
        stage.ok(line);
    }
}

/// A line that can be typed at any time after the season, again and again.
pub fn any_line(chance: &mut Chance, number: u64) -> String {
    match chance.below(10) {
        0 => format!("parent add K{number} 'Kite {number}'"),
        1 => format!("cross PH NL --flowers 2 --tool brush{number} --on 2026-01-11 --even-so"),
        2 => format!("sow X1 --seeds 2 --place shelf{number} --even-so"),
        3 => format!("care feed T1 --product feed{number}"),
        4 => format!("measure NL height={number}mm"),
        5 => format!("assume dim 0.0{}", number % 97 + 1),
        6 => "undo".to_owned(),
        7 => "redo".to_owned(),
        _ => format!("note NL 'remark {number}'"),
    }
}

/// Splits a command line at blanks, single quotes holding words together.
pub fn split(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    for (at, part) in line.split('\'').enumerate() {
        if at % 2 == 1 {
            words.push(part.to_owned());
        } else {
            words.extend(
                part.split(' ')
                    .filter(|word| !word.is_empty())
                    .map(str::to_owned),
            );
        }
    }
    words
}
