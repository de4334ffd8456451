//! The whole answer for a season, in the shape in which the program gives it.

use super::evidence::Who;
use super::season::{Day, Season};
use super::verdict::{Decision, Outlook};
use super::visibility::{at_their_word, visibility};
use super::world::World;

/// A named source with a probability.
pub type Named = (&'static str, Option<String>, f64);

/// The answer for one batch.
#[derive(Clone, Debug)]
pub struct BatchAnswer {
    pub tray: String,
    /// Living seedlings with a telling reading, tallied ones counted.
    pub n: usize,
    pub sources: Vec<Named>,
    pub visible: Vec<Named>,
    pub visibility: f64,
    pub seedlings: Vec<SeedlingAnswer>,
    pub true_lost: f64,
    pub off_left: f64,
}

/// The answer for a seedling or for one of a tally's look.
#[derive(Clone, Debug)]
pub struct SeedlingAnswer {
    pub who: Who,
    pub count: usize,
    pub living: bool,
    pub p_off: f64,
    pub sources: Vec<Named>,
    pub decision: Decision,
}

impl Season {
    /// The diagnosis of every batch that has telling readings, on the given day.
    pub fn diagnose(&self, today: Day) -> Vec<BatchAnswer> {
        let season = Season {
            today,
            ..self.clone()
        };
        let world = World::new(&season);
        let read =
            (0..season.batches.len()).filter(|&b| world.batches[b].evidence.newest.is_some());
        read.map(|b| answer(&world, b)).collect()
    }
}

fn answer(world: &World, batch: usize) -> BatchAnswer {
    let season = world.season;
    let model = &world.batches[batch];
    let posterior = world.diagnose(batch);
    let word = at_their_word(world, batch);
    let (visible, average) = visibility(model, &word, &season.traits);
    let named = |source: &super::sources::Source, p: f64| {
        let (name, code) = source.name(season);
        (name, code, p)
    };
    let units = model.evidence.units.iter().zip(&posterior.units);
    let seedlings: Vec<SeedlingAnswer> = units
        .map(|(unit, of)| {
            let outlook = Outlook {
                season,
                model,
                unit,
                posterior: of,
                word: &word,
            };
            SeedlingAnswer {
                who: unit.who.clone(),
                count: unit.count,
                living: unit.living,
                p_off: of.off,
                sources: of.by_source.iter().map(|(s, p)| named(s, *p)).collect(),
                decision: outlook.decide(),
            }
        })
        .collect();
    let living = || seedlings.iter().filter(|s| s.living);
    let culls = |s: &&SeedlingAnswer| s.decision.verdict == super::verdict::Verdict::Cull;
    BatchAnswer {
        tray: season.batches[batch].tray.clone(),
        n: living().map(|s| s.count).sum(),
        sources: model
            .candidates
            .sources
            .iter()
            .zip(&posterior.sources)
            .map(|(s, p)| named(&s.0, *p))
            .collect(),
        visible: visible.iter().map(|(s, p)| named(s, *p)).collect(),
        visibility: average,
        true_lost: living()
            .filter(culls)
            .map(|s| s.count as f64 * (1.0 - s.p_off))
            .sum(),
        off_left: living()
            .filter(|s| !culls(s))
            .map(|s| s.count as f64 * s.p_off)
            .sum(),
        seedlings,
    }
}
