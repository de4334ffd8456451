//! `ratio` on bare counts without `--to`: which of the usual ratios fits.

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::genetics::ratio_models::of_classes;
use crate::report::ratio::{ModelLine, ModelsAnswer, MoreLine, Tested};
use crate::stats::rivals::weigh;
use crate::stats::separation::{Wanted, more_to_tell};

/// When two explanations count as told apart: the usual 95 %, by convention only.
pub const TOLD_APART: Wanted = Wanted {
    weight: 0.95,
    chance: 0.95,
};

/// Answers for bare counts.
///
/// # Errors
/// [`Failure`] where no usual ratio has that many classes.
pub fn answer(world: &World, counts: &[u64]) -> Result<Outcome, Failure> {
    let answer = compare(counts, &[]).ok_or_else(|| {
        let classes = match counts.len() {
            1 => "1 class".to_owned(),
            n => format!("{n} classes"),
        };
        Failure::refused(format!(
            "no usual ratio has {classes}, so there is nothing to compare with"
        ))
        .because("name the ratio to test against with --to")
        .try_typing("locule ratio 88 30 --to 3:1")
    })?;
    Ok(world.answer(&answer))
}

/// Counts against the usual ratios of that many classes; nothing where there are none.
#[must_use]
pub fn compare(counts: &[u64], names: &[String]) -> Option<ModelsAnswer> {
    let models: Vec<_> = of_classes(counts.len()).collect();
    if models.is_empty() {
        return None;
    }
    let prior = 1.0 / models.len() as f64;
    let rivals: Vec<(Vec<f64>, f64)> = models
        .iter()
        .map(|model| (model.parts.iter().map(|part| *part as f64).collect(), prior))
        .collect();
    let mut weighed: Vec<_> = models
        .iter()
        .zip(&rivals)
        .zip(weigh(counts, &rivals))
        .collect();
    weighed.sort_by(|a, b| b.1.posterior.total_cmp(&a.1.posterior));
    let n: u64 = counts.iter().sum();
    let more = match weighed.as_slice() {
        [((one, (p, _)), first), ((other, (q, _)), second), ..] if n > 0 => {
            let names = [one.to_string(), other.to_string()];
            Some(more_between(
                names,
                [p, q],
                [first.posterior, second.posterior],
            ))
        }
        _ => None,
    };
    let lines = weighed
        .into_iter()
        .map(|((model, _), weighed)| ModelLine {
            meaning: model.meaning,
            posterior: weighed.posterior,
            tested: Tested::new(&weighed.fit, Some(model.to_string()), names),
        })
        .collect();
    Some(ModelsAnswer {
        observed: counts.to_vec(),
        classes: names.to_vec(),
        n,
        models: lines,
        more,
    })
}

/// How many more plants would tell two explanations with these shares and weights apart.
#[must_use]
pub fn more_between(names: [String; 2], shares: [&[f64]; 2], weights: [f64; 2]) -> MoreLine {
    let odds = weights[0] / weights[1];
    let found = more_to_tell(shares[0], shares[1], odds, TOLD_APART);
    MoreLine {
        between: names,
        more: found.map(|found| found.more),
        weight: TOLD_APART.weight,
        chance: TOLD_APART.chance,
        exact: found.is_none_or(|found| found.chance.is_some()),
    }
}
