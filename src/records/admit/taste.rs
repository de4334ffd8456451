//! `score --tasted`: readings that were tastings.

use super::desk::Desk;
use super::refusal::{GeneRefusal, Refusal};
use super::{Subject, score};
use crate::records::code::{Code, fold};
use crate::records::entry::{Look, Score, ScoreWhat, SeenWhat, Tasted};
use crate::records::facts::Facts;
use crate::records::genes::classes_of;
use crate::records::rows::{TastingRow, Thing};
use crate::records::taste::hot_class;

pub(super) fn tasted(desk: &mut Desk, entry: &Tasted) -> Result<Subject, Refusal> {
    if matches!(entry.score.what, ScoreWhat::Tally(_)) {
        return Err(GeneRefusal::TastedTally.into());
    }
    let score = Score {
        of: entry.score.of.clone().or_else(|| meant(desk.facts, entry)),
        ..entry.score.clone()
    };
    let subject = score::score(desk, &score)?;
    let readings = match &subject {
        Subject::Readings { readings } => &readings[..],
        _ => &[],
    };
    for reading in readings {
        let of = desk.trait_read(*reading);
        if let Some(of) = of.filter(|of| hot_class(desk.facts, *of).is_none()) {
            let code = desk.facts.code_of(Thing::Trait, of).unwrap_or("?");
            return Err(GeneRefusal::NotTasted(code.to_owned()).into());
        }
        let (reading_id, method) = (*reading, entry.method);
        desk.insert(|id| TastingRow {
            id,
            reading_id,
            method,
        });
    }
    Ok(subject)
}

/// The trait that is tasted, where none is named and only one that is switched on has all the words as classes.
fn meant(facts: &Facts, entry: &Tasted) -> Option<Code> {
    let looks: Vec<&Look> = match &entry.score.what {
        ScoreWhat::Plant(look) => vec![look],
        ScoreWhat::Spots(spots) => spots.iter().map(|(_, look)| look).collect(),
        ScoreWhat::Tally(_) => return None,
    };
    let mut words = Vec::new();
    for seen in looks.into_iter().flatten() {
        match (&seen.of, &seen.what) {
            (None, SeenWhat::Class(word) | SeenWhat::Maybe(word)) => words.push(fold(word)),
            (Some(_), _) => return None,
            (None, SeenWhat::Early | SeenWhat::Dim) => {}
        }
    }
    let fits = |of: i64| {
        let classes: Vec<String> = classes_of(facts, of)
            .iter()
            .map(|class| fold(&class.name))
            .collect();
        words.iter().all(|word| classes.contains(word))
    };
    let on = facts.trait_.iter().filter(|row| row.switched_on);
    let mut tasted = on.filter(|row| hot_class(facts, row.id).is_some() && fits(row.id));
    let only = tasted.next().filter(|_| tasted.next().is_none())?;
    facts.code_of(Thing::Trait, only.id)?.parse().ok()
}
