//! `score --tasted`: readings that were tastings.

use super::desk::Desk;
use super::refusal::{GeneRefusal, Refusal};
use super::{Subject, score};
use crate::records::entry::{ScoreWhat, Tasted};
use crate::records::rows::{TastingRow, Thing};
use crate::records::taste::hot_class;

pub(super) fn tasted(desk: &mut Desk, entry: &Tasted) -> Result<Subject, Refusal> {
    if matches!(entry.score.what, ScoreWhat::Tally(_)) {
        return Err(GeneRefusal::TastedTally.into());
    }
    let subject = score::score(desk, &entry.score)?;
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
