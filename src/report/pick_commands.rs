//! What to type once a pick is done.
//!
//! Made from its lines; called by its answer.

use super::pick::{CrossToTell, PickLine};
use super::pick_words::place_of;
use crate::diagnosis::answer::{BatchAnswer, EvidenceNote};
use crate::planning::pick::Act;

/// What to type once it is done: what was almost surely off-type as culled, the rest as thinned. Nothing of a tray that most
/// likely stands under a wrong label: that is to be looked for first.
pub(super) fn commands(cross: &CrossToTell<'_>, lines: &[PickLine]) -> Vec<String> {
    let mut found = Vec::new();
    for (verb, off_type) in [("cull", true), ("thin", false)] {
        for batch in cross.batches.iter().filter(|batch| !is_swapped(batch)) {
            let own: Vec<&PickLine> = (lines.iter())
                .filter(|line| line.act == Act::Pull && line.off_type == off_type)
                .filter(|line| line.tray == batch.tray)
                .collect();
            found.extend(pulled_singly(verb, &batch.tray, &own));
            let counted = own.iter().filter(|line| line.seedling.is_none());
            found.extend(counted.map(|line| {
                let place = place_of(line);
                format!("locule {verb} {place} {} {}", line.count, line.word)
            }));
        }
    }
    found
}

fn is_swapped(batch: &BatchAnswer) -> bool {
    let mut notes = batch.notes.iter();
    notes.any(|note| matches!(note, EvidenceNote::LabelsSwapped { .. }))
}

/// `locule thin T1 1-3,5`.
fn pulled_singly(verb: &str, tray: &str, lines: &[&PickLine]) -> Option<String> {
    let plain = |line: &&&PickLine| {
        let cell = line.cell?;
        let name = line.seedling.as_ref()?;
        let part = name.strip_prefix(&format!("{tray}-{cell:02}"))?;
        Some((cell, part.to_owned()))
    };
    let mut spots: Vec<(i64, String)> = lines.iter().filter_map(|line| plain(&line)).collect();
    spots.sort();
    let mut words: Vec<String> = Vec::new();
    for run in
        spots.chunk_by(|one, next| one.1.is_empty() && next.1.is_empty() && next.0 == one.0 + 1)
    {
        words.push(match run {
            [(cell, part)] => format!("{cell}{part}"),
            [(first, _), .., (last, _)] => format!("{first}-{last}"),
            [] => String::new(),
        });
    }
    (!words.is_empty()).then(|| format!("locule {verb} {tray} {}", words.join(",")))
}
