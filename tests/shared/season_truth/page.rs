//! The page `docs/evidence.md` and its picture: their figures come from the results file and from nowhere else.
//!
//! The words around the figures are written by hand; each block between two marks is written from the results.

use std::fs;
use std::path::PathBuf;

use super::believed::{care, days, likeliest, losses, said, short, sources, verdicts};
use super::counts::{Counts, Named};
use super::figures::{Calibration, calibration, difference, lost_in_all, lost_to_looks};
use super::picture;
use super::results::Line;
use super::tables::{in_thousand, part, percent, spaced, table, whole_percent};
use super::world::{World, helped, own, wrong};

const END: &str = "<!-- end of figures -->\n";

fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("docs")
        .join(name)
}

/// Whether page and picture say what some results say.
pub fn agrees(lines: &[Line]) -> Result<(), String> {
    for (path, text) in both(lines)? {
        if fs::read_to_string(&path).is_ok_and(|kept| kept == text) {
            continue;
        }
        return Err(format!(
            "{} says other than tests/evidence/results.jsonl: cargo bench --bench evidence -- --page",
            path.display()
        ));
    }
    Ok(())
}

/// Page and picture as they must read, each with where it stands.
pub fn both(lines: &[Line]) -> Result<[(PathBuf, String); 2], String> {
    let page = path("evidence.md");
    let text = fs::read_to_string(&page).map_err(|error| format!("{}: {error}", page.display()))?;
    let results = Results(lines);
    let (own, other) = (results.of(&own())?, results.named("trouble")?);
    let drawn = picture::reliability(
        own,
        "as the program believes",
        other,
        "contamination five times as likely",
    );
    Ok([
        (page, with_figures(&text, &results)?),
        (path("evidence.svg"), drawn),
    ])
}

fn with_figures(page: &str, results: &Results) -> Result<String, String> {
    let own_counts = results.of(&own())?;
    let blocks = [
        ("short", short(own_counts, results.named("strict")?)),
        ("said", said(&own_counts.reliability)),
        ("days", days(own_counts)),
        ("lost", losses(own_counts)),
        ("care", care(own_counts)),
        ("verdicts", verdicts(own_counts)),
        ("sources", sources(own_counts)),
        ("likeliest", likeliest(own_counts)),
        ("helped", more(results)?),
        ("wrong", otherwise(results)?),
        ("run", ran(results)),
    ];
    let mut text = page.to_owned();
    for (name, block) in blocks {
        let mark = format!("<!-- figures {name}: cargo bench --bench evidence -- --page -->\n");
        let from = text.find(&mark).ok_or(format!("the page lacks: {mark}"))? + mark.len();
        let length = text[from..]
            .find(END)
            .ok_or(format!("the page lacks: {END}"))?;
        text.replace_range(from..from + length, &format!("\n{block}\n"));
    }
    Ok(text)
}

/// Results by world.
struct Results<'l>(&'l [Line]);

impl<'l> Results<'l> {
    fn named(&self, name: &str) -> Result<&'l Counts, String> {
        let line = self.0.iter().find(|line| line.world == name);
        line.map(|line| &line.counts)
            .ok_or(format!("the results lack the world '{name}'"))
    }

    fn of(&self, world: &World) -> Result<&'l Counts, String> {
        self.named(world.name)
    }
}

/// The share of trays whose likeliest source is the true one.
fn named_right(counts: &Counts) -> f64 {
    let sum = |of: fn(&Named) -> u64| counts.sources.values().map(of).sum::<u64>();
    part(sum(|named| named.right), sum(|named| named.trays))
}

fn otherwise(results: &Results) -> Result<String, String> {
    let mut rows = Vec::new();
    for world in [vec![own()], wrong()].concat() {
        let counts = results.of(&world)?;
        let Calibration { error, brier, .. } = calibration(&counts.reliability);
        let by =
            |day: i64| whole_percent(part(counts.off_by_looks.by(day), counts.off_by_looks.all));
        let (culls, off) = counts
            .verdicts
            .values()
            .filter_map(|day| day.get("cull"))
            .fold((0, 0), |(n, off), day| (n + day.0, off + day.1));
        rows.push(vec![
            world.title.to_owned(),
            format!("{error:.3}"),
            format!("{brier:.3}"),
            in_thousand(lost_in_all(counts)),
            in_thousand(lost_to_looks(counts)),
            percent(part(off, culls)),
            by(28),
            by(42),
            whole_percent(named_right(counts)),
        ]);
    }
    Ok(table(
        &[
            "how things really went",
            "calibration error",
            "Brier score",
            "true ones lost, of 1,000",
            "to lateness, light or a slip",
            "culls that are off-types",
            "wrong looks pulled by day 28",
            "by day 42",
            "source named",
        ],
        rows,
    ))
}

fn more(results: &Results) -> Result<String, String> {
    let mut rows = Vec::new();
    let leaves = results.named("leaves")?;
    for world in helped() {
        let counts = results.of(&world)?;
        let by =
            |day: i64| whole_percent(part(counts.off_by_leaves.by(day), counts.off_by_leaves.all));
        let gain = difference(counts, leaves);
        let gain_words = if world.name == "leaves" {
            String::new()
        } else {
            format!("{:+.1} ± {:.1}", 100.0 * gain.of_one, 200.0 * gain.error)
        };
        rows.push(vec![
            world.title.to_owned(),
            by(28),
            by(42),
            by(i64::MAX),
            gain_words,
            whole_percent(part(counts.off.by(i64::MAX), counts.off.all)),
            in_thousand(lost_in_all(counts)),
            in_thousand(lost_to_looks(counts)),
        ]);
    }
    Ok(table(
        &[
            "what is read and done",
            "pulled by day 28",
            "by day 42",
            "in the end",
            "more than leaves alone, in points",
            "of all off-types",
            "true ones lost, of 1,000",
            "to lateness, light or a slip",
        ],
        rows,
    ))
}

fn ran(results: &Results) -> String {
    let rows = results.0.iter().map(|line| {
        vec![
            format!("`{}`", line.world),
            format!("{}", line.seed),
            spaced(line.counts.seasons),
            spaced(line.counts.trays),
            spaced(line.counts.true_up + line.counts.off.all),
            spaced(line.counts.off.all),
        ]
    });
    table(
        &[
            "world",
            "seed",
            "seasons",
            "trays",
            "seedlings",
            "off-types",
        ],
        rows,
    )
}
