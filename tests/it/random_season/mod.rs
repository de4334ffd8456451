//! Seeded random seasons: plants with hidden genotypes, pollinations, sowings with accidents, readings with slips.
//!
//! What is recorded is always plausible (no more up than sown, nothing scored before it is up), so that no command
//! needs to be forced. [`features()`] names what a season holds, for the test that all of the method is reached.

pub mod dice;
mod features;
mod tray;

pub use features::features;

use dice::Dice;
use tray::Tray;

use crate::oracle::season::{
    Batch, Day, InFlower, Kind, Locus, Lot, Packet, Parent, Pollination, Season, Slot, Sown, Step,
    Trait,
};

/// The first day on which anything is pollinated.
const FIRST: Day = 20_300;

/// The species a plant is stated to be of, or none.
const SPECIES: [Option<&str>; 8] = [
    None,
    None,
    Some("annuum"),
    Some("annuum"),
    Some("chinense"),
    Some("frutescens"),
    Some("baccatum"),
    Some("pubescens"),
];

/// A plant's hidden alleles per locus.
type Hidden = Vec<(u8, u8)>;

/// The season of a seed.
pub fn random_season(seed: u64) -> Season {
    let mut dice = Dice::new(seed);
    let mut season = Season::new(FIRST);
    let most = describe_traits(&mut season, &mut dice, seed);
    let hidden = choose_parents(&mut season, &mut dice, most);
    pollinate(&mut season, &mut dice);
    sow(&mut season, &mut dice);
    for batch in 0..season.batches.len() {
        Tray::new(&season, &mut dice, batch, &hidden).grow(&mut season, &mut dice);
    }
    season.events.sort_by_key(|e| e.day);
    let last = season.events.last().map_or(FIRST + 120, |e| e.day);
    season.today = last + dice.days(0, 4);
    season
}

/// Chooses traits; more loci leave room for fewer plants, since the oracle runs through all joint genotypes.
fn describe_traits(season: &mut Season, dice: &mut Dice, seed: u64) -> usize {
    if dice.chance(0.2) {
        season.loci[0].share = Some(0.3);
    }
    let felt = |season: &mut Season| {
        season.loci.push(Locus::pair("Q", "q"));
        let locus = season.loci.len() - 1;
        season
            .traits
            .push(Trait::dominant("felt", ["felted", "bald"], &[locus]));
    };
    match seed % 8 {
        4 if seed % 16 == 12 => {
            felt(season);
            let r = [0.02, 0.1, 0.3][dice.below(3)];
            season.chromosome.push(Step {
                from: 0,
                to: 1,
                r: [r, r],
            });
            3
        }
        1 | 4 => {
            felt(season);
            season.traits[1].misread = if dice.chance(0.5) { 0.02 } else { 0.005 };
            5
        }
        6 => {
            season
                .loci
                .extend([Locus::pair("J", "j"), Locus::pair("Z", "z")]);
            season
                .traits
                .push(Trait::dominant("sheen", ["satin", "matt"], &[1, 2]));
            3
        }
        _ => 6,
    }
}

fn choose_parents(season: &mut Season, dice: &mut Dice, most: usize) -> Vec<Hidden> {
    let codes = ["NL", "CW", "ED", "BR", "SK", "OT"];
    let count = dice.between(3, most);
    let mut hidden = Vec::new();
    for (at, code) in codes.iter().take(count).enumerate() {
        let kind = [Kind::Line, Kind::Line, Kind::Packet, Kind::Plant][dice.below(4)];
        let mut stated = Vec::new();
        let mut genotype = Hidden::new();
        let linked = !season.chromosome.is_empty();
        let phased = linked && dice.chance(0.6);
        for locus in 0..season.loci.len() {
            let homozygote = u8::from(dice.chance(0.5));
            let real = if dice.chance(if linked { 0.6 } else { 0.15 }) {
                (0, 1)
            } else {
                (homozygote, homozygote)
            };
            genotype.push(real);
            if let Some(mut slots) = statement(dice, real) {
                if phased && dice.chance(0.5) {
                    slots.reverse();
                }
                stated.push((locus, slots));
            }
        }
        let mut looks = Vec::new();
        for of in 0..season.traits.len() {
            if dice.chance(0.2) {
                looks.push((of, end_class(&season.traits[of], &genotype)));
            }
        }
        let mut scores = Vec::new();
        if looks.is_empty() && dice.chance(0.1) {
            scores.push((FIRST + 20, 0, end_class(&season.traits[0], &genotype)));
        }
        season.parents.push(Parent {
            code: (*code).into(),
            kind,
            stated,
            phased,
            proven: dice.chance(0.15),
            looks,
            scores,
            species: SPECIES[dice.below(SPECIES.len())].map(String::from),
            // A sterile plant is a mother only; the first two plants stay fertile.
            sterile: at > 1 && dice.chance(0.12),
        });
        if season.parents[at].stated.is_empty() {
            season.parents[at].proven = false;
        }
        hidden.push(genotype);
    }
    hidden
}

/// Mostly the truth, sometimes half of it, nothing, or (rarely) wrong.
fn statement(dice: &mut Dice, real: (u8, u8)) -> Option<[Slot; 2]> {
    let (x, y) = if dice.chance(0.03) {
        (1 - real.0, 1 - real.0)
    } else {
        real
    };
    match dice.unit() {
        u if u < 0.72 => Some([Some(x), Some(y)]),
        u if u < 0.85 => Some([Some(x), None]),
        _ => None,
    }
}

fn end_class(t: &Trait, genotype: &Hidden) -> usize {
    let carried = t.rules[0]
        .pattern
        .iter()
        .all(|&(l, _)| genotype[l].0 == 0 || genotype[l].1 == 0);
    if carried {
        t.rules[0].class
    } else {
        t.rules[1].class
    }
}

fn pollinate(season: &mut Season, dice: &mut Dice) {
    let days = [FIRST, FIRST + dice.days(1, 2), FIRST + dice.days(3, 6)];
    let mut day = 0;
    for at in 0..dice.between(2, 6) {
        day = if dice.chance(0.35) {
            (day + 1).min(2)
        } else {
            day
        };
        let again = at > 0 && dice.chance(0.12);
        let (cross, mother, father) = match again {
            true => {
                let old = &season.pollinations[dice.below(at)];
                (old.cross.clone(), old.mother, old.father)
            }
            false => {
                let (mother, father) = choose_pair(season, dice);
                (format!("X{}", at + 1), mother, father)
            }
        };
        season.pollinations.push(Pollination {
            cross,
            mother,
            father,
            day: days[day],
            tool: [
                None,
                Some("brush".to_string()),
                Some("tweezers".to_string()),
            ][dice.below(3)]
            .clone(),
            wiped: dice.chance(0.2),
            covered: dice.chance(0.3),
            emasculated: mother == father || dice.chance(0.75),
        });
        // Without a tool there is nothing to wipe.
        let newest = season.pollinations.last_mut().expect("just pushed");
        newest.wiped &= newest.tool.is_some();
    }
    if dice.chance(0.3) {
        let plant = dice.below(season.parents.len());
        let from = FIRST + dice.days(-8, 6);
        let until = from + dice.days(0, 4);
        season.in_flower.push(InFlower { plant, from, until });
    }
}

fn choose_pair(season: &Season, dice: &mut Dice) -> (usize, usize) {
    let n = season.parents.len();
    let mother = dice.below(n);
    if !season.parents[mother].sterile && dice.chance(0.15) {
        return (mother, mother);
    }
    let fathers: Vec<usize> = (0..n)
        .filter(|&p| p != mother && !season.parents[p].sterile)
        .collect();
    (mother, fathers[dice.below(fathers.len())])
}

fn sow(season: &mut Season, dice: &mut Dice) {
    let days = [FIRST + 100, FIRST + 100 + dice.days(1, 8)];
    let fertile: Vec<usize> = (0..season.parents.len())
        .filter(|&p| !season.parents[p].sterile)
        .collect();
    // Three loci make every batch dear to run through.
    let most = if season.loci.len() > 2 { 2 } else { 6 };
    for at in 0..dice.between(1, most) {
        let sown = match dice.chance(0.15) {
            true => Sown::Packet(fertile[dice.below(fertile.len())]),
            false => Sown::Cross(
                season.pollinations[dice.below(season.pollinations.len())]
                    .cross
                    .clone(),
            ),
        };
        let seeds = dice.between(4, 12);
        season.batches.push(Batch {
            tray: format!("T{}", at + 1),
            sown,
            day: days[dice.below(2)],
            seeds,
            cells: dice.chance(0.25).then(|| seeds.div_ceil(3)),
            place: [None, Some("tent".to_string()), Some("sill".to_string())][dice.below(3)]
                .clone(),
        });
    }
    store_seed(season, dice);
}

/// Enough seed for what is sown; of some crosses no harvest was written down.
fn store_seed(season: &mut Season, dice: &mut Dice) {
    for batch in season.batches.clone() {
        let sum = |season: &Season, code: &str| -> usize {
            let same = (0..season.batches.len()).filter(|&b| season.cross_code(b) == code);
            same.map(|b| season.batches[b].seeds).sum()
        };
        match batch.sown {
            Sown::Packet(plant) if season.packets.iter().all(|p| p.plant != plant) => {
                let seeds = sum(season, &season.parents[plant].code) + 5;
                let day = FIRST + 10;
                season.packets.push(Packet { plant, seeds, day });
            }
            Sown::Cross(cross)
                if season.lots.iter().all(|l| l.cross != cross) && dice.chance(0.7) =>
            {
                let seeds = sum(season, &cross) + 7;
                let day = FIRST + 60;
                season.lots.push(Lot {
                    cross,
                    pods: 2,
                    seeds,
                    day,
                });
            }
            _ => {}
        }
    }
}
