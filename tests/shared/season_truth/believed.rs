//! The blocks of the page that are about the world that the program believes in.

use super::counts::{Counts, ENDS, Lost, Reliability, Treated};
use super::figures::{
    Calibration, ERROR_TARGET, LOOKS_TARGET, LOST_TARGET, Share, calibration, lost, lost_in_all,
    lost_to_looks, lost_to_looks_with_care, standard_error,
};
use super::tables::{in_thousand, part, percent, spaced, table, whole_percent};

const ORDER: [&str; 5] = ["cull", "keep", "unproven", "wait", "undecided"];

/// Targets and what was found.
pub fn short(counts: &Counts, strict: &Counts) -> String {
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

/// All predictions by group.
pub fn said(of: &Reliability) -> String {
    groups(of, "were off-types")
}

/// The likeliest source, by the probability given to it.
pub fn likeliest(counts: &Counts) -> String {
    groups(&counts.likeliest, "was so")
}

/// Calibration by day of looking.
pub fn days(counts: &Counts) -> String {
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

/// True seedlings lost, by why.
pub fn losses(counts: &Counts) -> String {
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

/// The same by how the flowers were treated.
pub fn care(counts: &Counts) -> String {
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

/// Verdicts by day, and what they were about.
pub fn verdicts(counts: &Counts) -> String {
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

/// Trays by what really happened.
pub fn sources(counts: &Counts) -> String {
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
