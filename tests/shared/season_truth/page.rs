//! The page `docs/evidence.md` and its picture: their figures come from the results file and from nowhere else.
//!
//! The words around the figures are written by hand; each block between two marks is written from the results.

use std::fmt::Write;
use std::fs;
use std::path::PathBuf;

use super::counts::{Counts, ENDS, Lost, Reliability, Treated};
use super::figures::{
    Calibration, ERROR_TARGET, LOOKS_TARGET, LOST_TARGET, Share, calibration, difference, lost,
    lost_in_all, lost_to_looks, lost_to_looks_with_care, standard_error,
};
use super::picture;
use super::results::Line;
use super::world::{World, helped, own, wrong};

const END: &str = "<!-- end of figures -->\n";
const ORDER: [&str; 5] = ["cull", "keep", "unproven", "wait", "undecided"];

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

/// A share in percent: one digit after the point, two where it is small.
fn percent(share: f64) -> String {
    if !share.is_finite() {
        "-".to_owned()
    } else if share < 0.02 || share > 0.98 && share < 1.0 {
        format!("{:.2} %", 100.0 * share)
    } else {
        format!("{:.1} %", 100.0 * share)
    }
}

fn whole_percent(share: f64) -> String {
    if share.is_finite() {
        format!("{:.0} %", 100.0 * share)
    } else {
        "-".to_owned()
    }
}

fn part(n: u64, of: u64) -> f64 {
    n as f64 / of as f64
}

/// A number with its thousands set apart.
fn spaced(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

fn in_thousand(share: Share) -> String {
    format!("{:.2} ± {:.2}", 1000.0 * share.of_one, 2000.0 * share.error)
}

/// A table: head, then rows.
fn table(head: &[&str], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut text = format!("| {} |\n|{}\n", head.join(" | "), "---|".repeat(head.len()));
    for row in rows {
        let _ = writeln!(text, "| {} |", row.join(" | "));
    }
    text
}

fn short(counts: &Counts, strict: &Counts) -> String {
    let Calibration {
        error, by_chance, ..
    } = calibration(&counts.reliability);
    let by = |day: i64| part(counts.off_by_looks.by(day), counts.off_by_looks.all);
    let held = |held: bool| if held { "met" } else { "**missed**" }.to_owned();
    let lost = |what: &str, share: Share, target: f64| {
        let target_words = format!("at most {target}");
        vec![
            what.to_owned(),
            in_thousand(share),
            target_words,
            held(1000.0 * share.of_one <= target),
        ]
    };
    table(
        &["what", "found", "target", ""],
        [
            vec![
                "distance between said and so, on average (calibration error)".to_owned(),
                format!("{error:.4}; {by_chance:.4} of it by chance alone"),
                format!("under {ERROR_TARGET}"),
                held(error < ERROR_TARGET),
            ],
            lost(
                "true seedlings lost, of 1,000",
                lost_in_all(counts),
                LOST_TARGET,
            ),
            lost(
                "of these to lateness, dim light or a slip of the pen",
                lost_to_looks(counts),
                LOOKS_TARGET,
            ),
            lost(
                "the same where the anthers were taken out",
                lost_to_looks_with_care(counts),
                LOOKS_TARGET,
            ),
            lost(
                "the same, all flowers, after `assume verdict.cull 0.99`",
                lost_to_looks(strict),
                LOOKS_TARGET,
            ),
            vec![
                "off-types that look wrong, pulled by day 28".to_owned(),
                percent(by(28)),
                "what the looks allow".to_owned(),
                String::new(),
            ],
            vec![
                "the same by day 42".to_owned(),
                percent(by(42)),
                "about half".to_owned(),
                held(by(42) >= 0.5),
            ],
        ],
    )
}

fn groups(of: &Reliability, so: &str) -> String {
    let starts = [0.0].into_iter().chain(ENDS);
    let rows = starts
        .zip(ENDS)
        .zip(&of.bins)
        .filter(|(_, bin)| bin.n > 0)
        .map(|((from, to), bin)| {
            let n = bin.n as f64;
            vec![
                format!("{:.0} to {:.0} %", 100.0 * from, 100.0 * to),
                spaced(bin.n),
                percent(bin.said / n),
                percent(bin.off as f64 / n),
                percent(2.0 * standard_error(bin)),
            ]
        });
    table(&["said", "how often", "on average", so, "±"], rows)
}

fn said(of: &Reliability) -> String {
    groups(of, "were off-types")
}

fn likeliest(counts: &Counts) -> String {
    groups(&counts.likeliest, "was so")
}

fn days(counts: &Counts) -> String {
    let rows = counts.by_day.iter().map(|(day, of)| {
        let Calibration {
            n,
            error,
            by_chance,
            brier,
        } = calibration(of);
        vec![
            format!("day {day}"),
            spaced(n),
            format!("{error:.4}"),
            format!("{by_chance:.4}"),
            format!("{brier:.4}"),
        ]
    });
    table(
        &[
            "look",
            "predictions",
            "calibration error",
            "by chance alone",
            "Brier score",
        ],
        rows,
    )
}

const fn cause_words(cause: Lost) -> &'static str {
    match cause {
        Lost::Misread => "a slip of the pen",
        Lost::Late => "purple came late",
        Lost::Dim => "no light, so no purple",
        Lost::Parent => "a parent was not what was stated",
        Lost::Other => "its look is of the label, but its tray spoke against it",
    }
}

fn losses(counts: &Counts) -> String {
    let share = |cause: Lost| lost(counts.lost.get(cause.word()).into_iter(), counts.true_up);
    let n = |cause: Lost| counts.lost.get(cause.word()).map_or(0, |lost| lost.n);
    let mut rows: Vec<Vec<String>> = Lost::ALL
        .into_iter()
        .map(|cause| {
            vec![
                cause_words(cause).to_owned(),
                spaced(n(cause)),
                in_thousand(share(cause)),
            ]
        })
        .collect();
    let all = Lost::ALL.into_iter().map(n).sum();
    rows.push(vec![
        "all".to_owned(),
        spaced(all),
        in_thousand(lost_in_all(counts)),
    ]);
    let expected = 1000.0 * counts.lost_expected / counts.true_up as f64;
    rows.push(vec![
        "what the program itself expected".to_owned(),
        format!("{:.0}", counts.lost_expected),
        format!("{expected:.2}"),
    ]);
    table(&["why", "true seedlings", "of 1,000"], rows)
}

fn care(counts: &Counts) -> String {
    let row = |(word, one): (&String, &Treated)| {
        vec![
            word.clone(),
            spaced(one.trays),
            percent(part(one.off, one.off + one.true_up)),
            whole_percent(part(one.betrayed_pulled, one.betrayed)),
            in_thousand(lost([&one.lost].into_iter(), one.true_up)),
            in_thousand(lost([&one.lost_to_looks].into_iter(), one.true_up)),
        ]
    };
    table(
        &[
            "flowers",
            "trays",
            "seedlings that are off-types",
            "of those that look wrong, pulled",
            "true ones lost, of 1,000",
            "to lateness, light or a slip",
        ],
        counts.treated.iter().map(row),
    )
}

fn verdicts(counts: &Counts) -> String {
    let days: Vec<i64> = counts.verdicts.keys().copied().collect();
    let heads: Vec<String> = days
        .iter()
        .flat_map(|day| [format!("day {day}"), "off-types".to_owned()])
        .collect();
    let head: Vec<&str> = ["verdict"]
        .into_iter()
        .chain(heads.iter().map(String::as_str))
        .collect();
    let row = |verdict: &str| {
        let mut row = vec![format!("`{verdict}`")];
        for day in &days {
            let (n, off) = counts.verdicts[day]
                .get(verdict)
                .copied()
                .unwrap_or_default();
            row.extend([spaced(n), percent(part(off, n))]);
        }
        row
    };
    table(&head, ORDER.into_iter().map(row))
}

fn sources(counts: &Counts) -> String {
    let mut list: Vec<_> = counts.sources.iter().collect();
    list.sort_by_key(|(_, named)| std::cmp::Reverse(named.trays));
    let rows = list.into_iter().map(|(word, named)| {
        vec![
            format!("`{word}`"),
            spaced(named.trays),
            whole_percent(part(named.right, named.trays)),
            whole_percent(named.said / named.trays as f64),
            spaced(named.betrayed),
            whole_percent(part(named.betrayed_right, named.betrayed)),
        ]
    });
    table(
        &[
            "what really happened",
            "trays",
            "named first",
            "probability given to it",
            "trays in which an off-type looks wrong",
            "of these named first",
        ],
        rows,
    )
}

/// The share of trays whose likeliest source is the true one.
fn named_right(counts: &Counts) -> f64 {
    let sum = |of: fn(&super::counts::Named) -> u64| counts.sources.values().map(of).sum::<u64>();
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
