//! One season, told: what was so and what was said, seedling by seedling.

use locule::diagnosis::answer::BatchAnswer;

use super::season_truth::play::{Season, means};
use super::season_truth::tray::{Grown, Tray};
use super::season_truth::world::{Followed, World};

/// Plays a season and prints it.
pub fn season(world: &World, seed: u64, number: u64) {
    println!("world {}, seed {seed}, season {number}", world.name);
    let season = Season::new(world, seed, number);
    for plant in &season.plants {
        let stated = plant.genotype().unwrap_or_default();
        println!("{} stated {stated:?} is {:?}", plant.code, plant.genes);
    }
    for one in &season.plan.pollinations {
        println!("{one:?}");
    }
    season.play(|day, tray, answer| tell(world.followed, day, tray, answer));
}

fn tell(followed: Followed, day: i64, tray: &Tray, answer: &BatchAnswer) {
    println!(
        "\nday {day}: {} of {}, {:?}, {:?}, dim: {}",
        answer.tray, answer.cross, tray.sowing.stock, tray.trouble.parts, tray.dim
    );
    for share in answer.sources.iter().filter(|share| share.p >= 0.01) {
        println!("  {:?} {:.3}", share.source, share.p);
    }
    for one in &answer.seedlings {
        let meant = tray
            .grown
            .iter()
            .filter(|grown| means(one, grown, followed));
        let truth: Vec<(&Option<_>, [usize; 2])> = meant
            .map(|grown: &Grown| (&grown.from, grown.genes))
            .collect();
        let seen: Vec<&str> = one
            .readings
            .iter()
            .map(|seen| seen.class.as_str())
            .collect();
        println!(
            "  {:?} x{} {seen:?} off {:.4} {}: {truth:?}",
            one.cell,
            one.count,
            one.p_off,
            one.verdict.word()
        );
    }
}
