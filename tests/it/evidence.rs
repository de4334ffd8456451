//! The evidence: a few seasons whose truth is known meet the targets, and `docs/evidence.md` says what its results say.

use crate::season_truth::counts::Reliability;
use crate::season_truth::figures::{calibration, lost_in_all, misses};
use crate::season_truth::page::agrees;
use crate::season_truth::play::Season;
use crate::season_truth::results::{kept, read};
use crate::season_truth::run::run;
use crate::season_truth::tray::Tray;
use crate::season_truth::world::{Hair, World, own, worlds};

/// What all chance in these tests is drawn from; the page is drawn from another.
const SEED: u64 = 2026;

#[test]
fn the_page_says_what_its_results_say() {
    let lines = read(&kept()).expect("the results can be read");
    let played: Vec<&str> = lines.iter().map(|line| line.world.as_str()).collect();
    for world in worlds() {
        assert!(
            played.contains(&world.name),
            "{} was not played",
            world.name
        );
    }
    assert_eq!(lines.len(), worlds().len());
    agrees(&lines).expect("page and picture are in step with the results");
}

#[test]
fn a_few_seasons_meet_the_targets() {
    let counts = run(&own(), SEED, 24);
    assert_eq!(misses(&counts), Vec::<String>::new());
    let culls: u64 = counts
        .verdicts
        .values()
        .filter_map(|day| day.get("cull"))
        .map(|day| day.0)
        .sum();
    assert!(
        counts.trays >= 230 && culls >= 80,
        "{} trays, {culls} culls",
        counts.trays
    );
    // The program foretells its losses: what was lost lies within three standard errors of what it expected, taking
    // losses for as bunched as one in two (a tray pulled wrongly loses several at once).
    let (lost, expected) = (
        lost_in_all(&counts).of_one * counts.true_up as f64,
        counts.lost_expected,
    );
    assert!(
        (lost - expected).abs() <= 3.0 * (2.0 * expected.max(1.0)).sqrt(),
        "{lost} for {expected}"
    );
}

/// The same check sees it where things go wrong far more often than the program believes.
#[test]
fn a_world_that_is_not_as_believed_misses_them() {
    let counts = run(
        &World {
            trouble: 20.0,
            ..own()
        },
        SEED,
        15,
    );
    assert!(!misses(&counts).is_empty());
}

/// Seasons of one number differ only in what is done: paired comparisons rest on it.
#[test]
fn doing_more_changes_no_seedling() {
    let seeds = |world: &World| -> Vec<_> {
        let season = Season::new(world, SEED, 3);
        assert_eq!(season.plan.sowings.len(), season.trays.len());
        let genes: Vec<_> = season.plants.iter().map(|plant| plant.genes).collect();
        let trays = season.trays.iter().filter(|tray| !tray.sowing.pot);
        let of_tray = |tray: &Tray| -> Vec<_> {
            tray.grown
                .iter()
                .map(|one| (one.cell, one.genes, one.from))
                .collect()
        };
        trays
            .map(|tray| (tray.dim, genes.clone(), of_tray(tray)))
            .collect()
    };
    let plain = seeds(&own());
    assert_eq!(plain.len(), 10);
    let more = World {
        hair: Hair::Always,
        looks: &[14, 28, 42, 56],
        pot: true,
        ..own()
    };
    assert!(plain == seeds(&more));
    assert!(
        plain
            != seeds(&World {
                trouble: 20.0,
                ..own()
            })
    );
}

/// Two groups of ten: five said and seven so, nine said and nine so.
#[test]
fn calibration_is_the_mean_distance_over_groups() {
    let bin = |n, said, off, square| {
        format!(r#"{{"n":{n},"said":{said},"off":{off},"square":{square}}}"#)
    };
    let mut bins = vec![bin(0, 0.0, 0, 0.0); 14];
    bins[8] = bin(10, 5.0, 7, 4.0);
    bins[12] = bin(10, 9.0, 9, 0.0);
    let text = format!(r#"{{"bins":[{}],"brier":5.0}}"#, bins.join(","));
    let of: Reliability = serde_json::from_str(&text).expect("two groups");
    let found = calibration(&of);
    assert_eq!(found.n, 20);
    assert!((found.error - 0.1).abs() < 1e-12);
    // sqrt(4) / 20 x sqrt(2 / pi)
    assert!((found.by_chance - 0.079_788_456).abs() < 1e-8);
    assert!((found.brier - 0.25).abs() < 1e-12);
}
