//! The chance that at least one seedling of a pick is true: against sums over every set of off-type seedlings, and against
//! seasons whose truth is known.

use locule::diagnosis::answer::BatchAnswer;
use locule::diagnosis::suspects::suspects_then;
use locule::planning::pick::{Act, Chance, Field, Stand, Wanted, pick};
use serde_json::Value;

use crate::oracle::commands::seedling_code;
use crate::oracle::evidence::Who;
use crate::oracle::season::{Season, Sown, iso};
use crate::oracle::world::World;
use crate::random_season::random_season;
use crate::season_truth::play::{Season as Played, means};
use crate::season_truth::world::own;
use crate::support::Bench;

/// Seasons in which a cross was sown in two trays.
const SEEDS_WITH_TWO_TRAYS: [u64; 2] = [0, 27];

/// A random season in a ledger of its own.
fn written(season: &Season) -> Bench {
    let mut bench = Bench::new();
    bench.on(&iso(season.today));
    for line in season.commands() {
        let run = bench.run_words(&line);
        assert_eq!(run.status, Some(0), "{line:?}: {}", run.err);
    }
    bench
}

/// Whether a line of a pick is about a unit of the oracle's.
fn is_about(season: &Season, tray: &str, line: &Value, who: &Who) -> bool {
    match who {
        Who::Seedling(one) => line["seedling"] == seedling_code(tray, *one).as_str(),
        Who::Tallied(cell, look) => {
            let same = |(of, class): &(usize, usize)| {
                let of = &season.traits[*of];
                line["reading"][&of.code] == of.classes[*class].as_str()
            };
            let named = line["reading"].as_object().unwrap().len();
            line["seedling"].is_null()
                && line["cell"].as_u64().map(|cell| cell as usize) == *cell
                && named == look.len()
                && look.iter().all(same)
        }
    }
}

/// What a tray's pick keeps or holds a place for, as units of the oracle's, and the chance it gives.
fn picked(world: &World<'_>, batch: usize, told: &Value) -> Option<(Vec<(usize, usize)>, f64)> {
    let cross = &told["crosses"][0];
    let chance = cross["p_at_least_one_true"].as_f64()?;
    assert_eq!(cross["exact"], true);
    Some((chosen(world, batch, cross), chance))
}

/// What a cross keeps or holds a place for in a tray, as units of the oracle's.
fn chosen(world: &World<'_>, batch: usize, cross: &Value) -> Vec<(usize, usize)> {
    let season = world.season;
    let tray = &season.batches[batch].tray;
    let mut choice: Vec<(usize, usize)> = Vec::new();
    for (list, count) in [("keep", "count"), ("spare", "holds"), ("settle", "holds")] {
        let lines = cross[list].as_array().unwrap().iter();
        for line in lines.filter(|line| line["tray"] == tray.as_str()) {
            let count = line[count].as_u64().unwrap() as usize;
            let mut units = world.batches[batch].evidence.units.iter();
            let unit = units.position(|unit| is_about(season, tray, line, &unit.who));
            let unit = unit.unwrap_or_else(|| panic!("{line} is no unit of the oracle's"));
            if count > 0 {
                choice.push((unit, count));
            }
        }
    }
    choice
}

#[test]
fn it_agrees_with_sums_over_every_set_of_off_types() {
    let (mut compared, mut joint) = (0, 0);
    for seed in 0..4 {
        let season = random_season(seed);
        let bench = written(&season);
        let world = World::new(&season);
        for batch in 0..season.batches.len() {
            if world.batches[batch].evidence.newest.is_none() {
                continue;
            }
            let tray = &season.batches[batch].tray;
            let told = bench.json(&format!("pick {tray} --per-cross 3"));
            let Some((choice, chance)) = picked(&world, batch, &told) else {
                continue;
            };
            let Some(all_off) = world.all_off(batch, std::slice::from_ref(&choice)) else {
                continue;
            };
            assert!(
                (1.0 - all_off[0] - chance).abs() < 1e-9,
                "season {seed}, {tray}: {chance}, by every set {}",
                1.0 - all_off[0]
            );
            compared += 1;
            joint += usize::from(choice.iter().map(|(_, count)| count).sum::<usize>() > 1);
        }
    }
    assert!(
        compared >= 6 && joint >= 5,
        "{compared} trays, {joint} of several"
    );
}

/// The trays of a season that are two of one cross, both looked at.
fn pairs_of_trays(season: &Season) -> Vec<(String, [usize; 2])> {
    let mut of_cross: std::collections::BTreeMap<String, Vec<usize>> = Default::default();
    for (at, batch) in season.batches.iter().enumerate() {
        if matches!(batch.sown, Sown::Cross(_)) {
            of_cross.entry(season.cross_code(at)).or_default().push(at);
        }
    }
    let pairs = of_cross.into_iter();
    pairs
        .filter_map(|(code, trays)| Some((code, trays.try_into().ok()?)))
        .collect()
}

/// Two trays of one cross have its parents in common: given their genotypes each is summed over every set of its own.
#[test]
fn over_two_trays_it_agrees_with_sums_given_the_parents() {
    let mut compared = 0;
    for seed in SEEDS_WITH_TWO_TRAYS {
        let season = random_season(seed);
        let bench = written(&season);
        let world = World::new(&season);
        for (code, trays) in pairs_of_trays(&season) {
            let told = bench.json(&format!("pick {code} --per-cross 4"));
            let cross = &told["crosses"][0];
            let number = |name: &str| cross[name].as_f64();
            let Some(chance) = number("p_at_least_one_true") else {
                continue;
            };
            let choices = trays.map(|batch| chosen(&world, batch, cross));
            if choices.iter().any(Vec::is_empty) {
                continue;
            }
            let [one, other] = [0, 1].map(|at| world.all_off_by_parents(trays[at], &choices[at]));
            let (Some(one), Some(other)) = (one, other) else {
                continue;
            };
            let given = |[weight, off]: [f64; 2]| if weight > 0.0 { off / weight } else { 1.0 };
            let both = one
                .iter()
                .zip(&other)
                .map(|(one, other)| (one[0] + other[0]) / 2.0 * given(*one) * given(*other));
            let all_off: f64 = both.sum();
            assert!(
                (1.0 - all_off - chance).abs() < 1e-9,
                "season {seed}, {code}: {chance}, by every set {}",
                1.0 - all_off
            );
            assert!(number("p_at_least_one_true_low").is_some_and(|low| low < chance - 1e-3));
            compared += 1;
        }
    }
    assert_eq!(compared, 3);
}

/// A tray's answer as what is chosen from.
fn field(answer: &BatchAnswer) -> Field {
    let seedlings = answer.seedlings.iter().enumerate();
    Field {
        trays: vec![answer.batch_id],
        mother: 0,
        stands: seedlings.map(|(at, one)| Stand::of(one, 0, at)).collect(),
    }
}

/// Of many picks of two those without a true seedling are as many as foretold: within three standard errors, by the
/// variance of independent trays. Reckoned as a product of chances they would be foretold far fewer.
#[test]
fn picks_without_a_true_seedling_are_as_many_as_foretold() {
    let world = own();
    let (mut foretold, mut variance, mut product, mut failed, mut trays) = (0.0, 0.0, 0.0, 0, 0);
    for number in 0..16 {
        let mut season = Played::new(&world, 77, number);
        let day = season
            .trays
            .iter()
            .map(|tray| tray.sowing.day)
            .max()
            .unwrap()
            + 10
            + world.looks[0];
        let due = season.look_at_all(day);
        let asked: Vec<String> = due
            .iter()
            .map(|at| season.trays[*at].sowing.code.clone())
            .filter(|code| code.starts_with('T'))
            .collect();
        let facts = &season.ledger.facts;
        let ids: Vec<i64> = asked
            .iter()
            .map(|code| facts.code_named(code).unwrap().thing_id)
            .collect();
        let wanted = Wanted {
            per_cross: 2,
            places: None,
            reserve: 0,
        };
        suspects_then(
            facts,
            season.ledger.day(day),
            Some(&ids),
            |found, together| {
                for answer in &found.batches {
                    let field = field(answer);
                    let chosen = pick(std::slice::from_ref(&field), wanted, &|batch, choices| {
                        together.all_off(batch, choices)
                    });
                    let one = &chosen.crosses[0];
                    let Some(Chance { p, .. }) = one.chance else {
                        continue;
                    };
                    let kept: Vec<_> = one
                        .lines
                        .iter()
                        .filter(|line| line.act == Act::Keep)
                        .collect();
                    if kept.is_empty() || kept.iter().map(|line| line.count).sum::<i64>() < 2 {
                        continue;
                    }
                    let tray = season
                        .trays
                        .iter()
                        .find(|tray| tray.sowing.code == answer.tray)
                        .unwrap();
                    // Of seedlings that were only counted any would do: the first that look so.
                    let is_true = |line: &&locule::planning::pick::Line| {
                        let seen = &answer.seedlings[field.stands[line.stand].at];
                        let meant = tray
                            .grown
                            .iter()
                            .filter(|one| means(seen, one, world.followed));
                        let mut taken = meant.take(line.count as usize);
                        taken.any(|one| one.from.is_none())
                    };
                    foretold += 1.0 - p;
                    variance += p * (1.0 - p);
                    product += kept
                        .iter()
                        .map(|line| field.stands[line.stand].p_off.powi(line.count as i32))
                        .product::<f64>();
                    failed += i32::from(!kept.iter().any(is_true));
                    trays += 1;
                }
            },
        )
        .unwrap();
    }
    let far = (f64::from(failed) - foretold).abs();
    assert!(trays > 60, "{trays} trays");
    assert!(
        far <= 3.0 * variance.sqrt(),
        "{failed} of {trays} without a true one, {foretold:.2} foretold"
    );
    assert!(product < foretold / 2.0, "{product} against {foretold}");
}
