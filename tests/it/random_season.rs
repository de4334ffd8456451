//! Seeded random seasons: plants with hidden genotypes, pollinations, sowings with accidents, readings with slips.
//!
//! What is recorded is always plausible (no more up than sown, nothing scored before it is up), so that no command
//! needs to be forced. [`features`] names what a season holds, for the test that all of the method is reached.

use super::oracle::season::{
    Batch, Day, Event, InFlower, Kind, Locus, Look, Lot, Packet, Parent, Pollination, Season,
    Seedling, Seen, Slot, Sown, Trait, What,
};

/// The first day on which anything is pollinated.
const FIRST: Day = 20_300;

/// SplitMix64 (Steele, Lea and Flood 2014): small, seeded, the same everywhere.
pub struct Dice(u64);

impl Dice {
    /// Dice that fall the same way for the same seed.
    pub fn new(seed: u64) -> Dice {
        Dice(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5eed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % n as u64).expect("below n")
    }

    fn between(&mut self, low: usize, high: usize) -> usize {
        low + self.below(high - low + 1)
    }

    fn days(&mut self, low: Day, high: Day) -> Day {
        low + Day::try_from(self.below(usize::try_from(high - low + 1).expect("ordered")))
            .expect("few days")
    }

    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A standard normal value (sum of twelve uniforms: near enough for a simulation).
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

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
        for locus in 0..season.loci.len() {
            let homozygote = u8::from(dice.chance(0.5));
            let real = if dice.chance(0.15) {
                (0, 1)
            } else {
                (homozygote, homozygote)
            };
            genotype.push(real);
            if let Some(slots) = statement(dice, real) {
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
            proven: dice.chance(0.15),
            looks,
            scores,
            species: [
                None,
                Some("annuum".to_string()),
                Some("chinense".to_string()),
            ][dice.below(3)]
            .clone(),
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
    for at in 0..dice.between(1, 6) {
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

/// One tray as it really was.
struct Tray {
    batch: usize,
    sown: Day,
    places: Vec<Seedling>,
    seedlings: Vec<Hidden>,
    onset: Vec<f64>,
    dim: bool,
}

/// How a tray is written down.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Style {
    OneByOne,
    WholeTally,
    CellTallies,
}

impl Tray {
    fn new(season: &Season, dice: &mut Dice, batch: usize, hidden: &[Hidden]) -> Tray {
        let of = &season.batches[batch];
        let cells = of.cells.unwrap_or(of.seeds);
        let per_cell = of.seeds.div_ceil(cells);
        let place = |i: usize| Seedling {
            cell: i / per_cell + 1,
            part: (per_cell > 1)
                .then(|| char::from(b'a' + u8::try_from(i % per_cell).expect("few in a cell"))),
        };
        let up = of.seeds - dice.below(2).min(of.seeds - 1);
        let places: Vec<Seedling> = (0..up).map(place).collect();
        let (mother, father) = season.parents_of(batch);
        let (share, dam, sire) = accident(season, dice, batch);
        let seedlings: Vec<Hidden> = places
            .iter()
            .map(|_| match dice.chance(share) {
                true => child(dice, &hidden[dam], &hidden[sire]),
                false => child(dice, &hidden[mother], &hidden[father]),
            })
            .collect();
        let shift = 0.25 * dice.normal();
        Tray {
            batch,
            sown: of.day,
            onset: places
                .iter()
                .map(|_| 12.0 * (shift + 0.35 * dice.normal()).exp())
                .collect(),
            dim: dice.chance(0.1),
            places,
            seedlings,
        }
    }

    fn grow(&self, season: &mut Season, dice: &mut Dice) {
        let per_cell = self.places[0].part.is_some();
        let style = match dice.below(10) {
            0..=1 => Style::WholeTally,
            2..=4 if per_cell => Style::CellTallies,
            _ => Style::OneByOne,
        };
        let up = self.sown + dice.days(8, 15);
        let looks = self.look_days(dice, up);
        self.emerge(season, dice, up, looks[0], per_cell, style);
        for (nth, &day) in looks.iter().enumerate() {
            let last = nth + 1 == looks.len();
            match style {
                Style::WholeTally => self.tally_all(season, dice, up, day),
                Style::CellTallies => self.tally_cells(season, dice, up, day, last),
                Style::OneByOne => self.score_all(season, dice, up, day),
            }
        }
        if style == Style::OneByOne && dice.chance(0.3) {
            let scored: Vec<Seedling> = season
                .events
                .iter()
                .filter_map(|e| scored(e, self.batch))
                .collect();
            let gone = scored[dice.below(scored.len())];
            self.record(season, looks[looks.len() - 1], What::Cull(gone));
        }
    }

    fn look_days(&self, dice: &mut Dice, up: Day) -> Vec<Day> {
        let mut days = vec![up + dice.days(7, 30)];
        while days.len() < 3 && dice.chance(0.5) {
            days.push(days[days.len() - 1] + dice.days(3, 15));
        }
        days
    }

    fn record(&self, season: &mut Season, day: Day, what: What) {
        season.events.push(Event {
            batch: self.batch,
            day,
            what,
        });
    }

    fn emerge(
        &self,
        season: &mut Season,
        dice: &mut Dice,
        up: Day,
        first: Day,
        per_cell: bool,
        style: Style,
    ) {
        let n = self.places.len();
        match dice.below(4) {
            0 => {}
            1 if !per_cell && style == Style::OneByOne => {
                let early = dice.between(1, n - 1);
                let cells = |range: &[Seedling]| range.iter().map(|s| s.cell).collect();
                self.record(season, up, What::UpCells(cells(&self.places[..early])));
                self.record(
                    season,
                    (up + 3).min(first),
                    What::UpCells(cells(&self.places[early..])),
                );
            }
            1 if per_cell => {
                for cell in 1..=self.places[n - 1].cell {
                    let here = self.places.iter().filter(|s| s.cell == cell).count();
                    self.record(season, up, What::UpInCell(cell, here));
                }
            }
            _ => {
                if n > 4 && dice.chance(0.7) {
                    self.record(season, up, What::UpCount(dice.between(1, n - 2)));
                    self.record(season, up + 2, What::UpCount(n - 1));
                }
                self.record(season, up + 4, What::UpCount(n));
            }
        }
    }

    fn class_seen(&self, season: &Season, dice: &mut Dice, i: usize, of: usize, age: f64) -> usize {
        let t = &season.traits[of];
        let end = end_class(t, &self.seedlings[i]);
        let shown = match &t.late {
            Some(l) if l.class == end && (self.dim || age < self.onset[i]) => l.after,
            _ => end,
        };
        if dice.chance(0.01) { 1 - shown } else { shown }
    }

    fn score_all(&self, season: &mut Season, dice: &mut Dice, up: Day, day: Day) {
        let mut traits: Vec<usize> = (0..season.traits.len())
            .filter(|&t| t == 0 || dice.chance(0.7))
            .collect();
        if dice.chance(0.3) {
            traits.reverse();
        }
        for of in traits {
            for (i, &s) in self.places.iter().enumerate() {
                let class = self.class_seen(season, dice, i, of, (day - up) as f64);
                let seen = match dice.unit() {
                    u if u < 0.08 => Seen::Doubtful(class),
                    u if u < 0.13 => Seen::Early,
                    _ => Seen::Firm(class),
                };
                self.record(season, day, What::Score(s, of, seen));
                if dice.chance(0.03) {
                    self.record(season, day, What::Score(s, of, Seen::Firm(class)));
                }
            }
        }
    }

    fn tally_all(&self, season: &mut Season, dice: &mut Dice, up: Day, day: Day) {
        let looks = self.count(
            season,
            dice,
            &(0..self.places.len()).collect::<Vec<_>>(),
            (day - up) as f64,
        );
        self.record(season, day, What::Tally(None, looks));
    }

    /// Tallies per cell; at the last look some cells may be read seedling by seedling.
    fn tally_cells(&self, season: &mut Season, dice: &mut Dice, up: Day, day: Day, last: bool) {
        for cell in 1..=self.places[self.places.len() - 1].cell {
            let here: Vec<usize> = (0..self.places.len())
                .filter(|&i| self.places[i].cell == cell)
                .collect();
            if last && dice.chance(0.25) {
                for i in here {
                    let class = self.class_seen(season, dice, i, 0, (day - up) as f64);
                    self.record(
                        season,
                        day,
                        What::Score(self.places[i], 0, Seen::Firm(class)),
                    );
                }
            } else {
                let looks = self.count(season, dice, &here, (day - up) as f64);
                self.record(season, day, What::Tally(Some(cell), looks));
            }
        }
    }

    fn count(
        &self,
        season: &Season,
        dice: &mut Dice,
        which: &[usize],
        age: f64,
    ) -> Vec<(Look, usize)> {
        let both = season.traits.len() > 1 && dice.chance(0.6);
        let mut looks: Vec<(Look, usize)> = Vec::new();
        for &i in which {
            let traits = 0..if both { 2 } else { 1 };
            let look: Look = traits
                .map(|of| (of, self.class_seen(season, dice, i, of, age)))
                .collect();
            match looks.iter_mut().find(|l| l.0 == look) {
                Some(l) => l.1 += 1,
                None => looks.push((look, 1)),
            }
        }
        looks
    }
}

fn scored(event: &Event, batch: usize) -> Option<Seedling> {
    match event.what {
        What::Score(s, _, _) if event.batch == batch => Some(s),
        _ => None,
    }
}

/// Share of off-type seedlings and their parents.
fn accident(season: &Season, dice: &mut Dice, batch: usize) -> (f64, usize, usize) {
    let (mother, father) = season.parents_of(batch);
    let other = dice.below(season.parents.len());
    let stray = &season.pollinations[dice.below(season.pollinations.len())];
    match dice.below(20) {
        0..=8 => (0.0, mother, father),
        9..=12 => (0.4, mother, mother),
        13..=15 => (0.3, mother, other),
        16 => (0.2, stray.mother, stray.father),
        17 => (1.0, mother, mother),
        18 => (1.0, mother, other),
        _ => (1.0, stray.mother, stray.father),
    }
}

fn child(dice: &mut Dice, mother: &Hidden, father: &Hidden) -> Hidden {
    let mut grain = |of: &(u8, u8)| if dice.chance(0.5) { of.0 } else { of.1 };
    mother
        .iter()
        .zip(father)
        .map(|(m, f)| (grain(m), grain(f)))
        .collect()
}

/// What a season holds, in words that the covering test asks for.
pub fn features(season: &Season) -> Vec<&'static str> {
    use super::oracle::evidence::{dim_ruled_out, gather};
    let all: Vec<_> = (0..season.batches.len())
        .map(|b| gather(season, b))
        .collect();
    let events = || season.events.iter().map(|e| &e.what);
    let tally = |f: fn(&Option<usize>, usize) -> bool| {
        events().any(|w| matches!(w, What::Tally(c, l) if f(c, l[0].0.len())))
    };
    let crosses = |x: usize, y: usize| season.cross_code(x) != season.cross_code(y);
    let batches = season.batches.len();
    let pairs = || (0..batches).flat_map(move |x| (0..x).map(move |y| (x, y)));
    let pollinations = &season.pollinations;
    let shared = |i: usize| {
        let p = &pollinations[i];
        p.tool.is_some()
            && pollinations[..i]
                .iter()
                .any(|q| q.tool == p.tool && q.day == p.day && q.cross != p.cross)
    };
    let half = |p: &Parent| p.stated.iter().any(|s| s.1[1].is_none());
    let ages =
        |u: &super::oracle::evidence::Unit| u.readings.iter().any(|r| r.day != u.readings[0].day);
    let found = [
        ("two ages", all.iter().any(|e| e.units.iter().any(ages))),
        (
            "dim ruled out",
            (0..batches).any(|b| dim_ruled_out(season, &all, b)),
        ),
        ("self", pollinations.iter().any(|p| p.mother == p.father)),
        (
            "packet",
            season
                .batches
                .iter()
                .any(|b| matches!(b.sown, Sown::Packet(_))),
        ),
        ("shared tool", (0..pollinations.len()).any(shared)),
        ("wiped", pollinations.iter().any(|p| p.wiped)),
        (
            "two crosses one day",
            pairs().any(|(x, y)| crosses(x, y) && season.batches[x].day == season.batches[y].day),
        ),
        (
            "two traits",
            all.iter()
                .any(|e| super::oracle::evidence::traits_read(e).len() > 1),
        ),
        (
            "two-locus trait",
            season.traits.iter().any(|t| t.rules[0].pattern.len() > 1),
        ),
        (
            "unstated parent",
            season.parents.iter().any(|p| p.stated.is_empty()),
        ),
        ("half stated parent", season.parents.iter().any(half)),
        (
            "two batches of one pair",
            pairs().any(|(x, y)| season.parents_of(x) == season.parents_of(y)),
        ),
        ("batch tally", tally(|c, _| c.is_none())),
        ("cell tally", tally(|c, _| c.is_some())),
        ("two-trait tally", tally(|_, traits| traits > 1)),
        (
            "emergence by cell",
            events().any(|w| matches!(w, What::UpCells(_) | What::UpInCell(..))),
        ),
        (
            "emergence by count",
            events().any(|w| matches!(w, What::UpCount(_))),
        ),
        (
            "doubtful",
            events().any(|w| matches!(w, What::Score(_, _, Seen::Doubtful(_)))),
        ),
        (
            "early",
            events().any(|w| matches!(w, What::Score(_, _, Seen::Early))),
        ),
        ("culled", events().any(|w| matches!(w, What::Cull(_)))),
        ("covered", pollinations.iter().any(|p| p.covered)),
        (
            "not emasculated",
            pollinations.iter().any(|p| !p.emasculated),
        ),
        (
            "sterile mother",
            pollinations
                .iter()
                .any(|p| season.parents[p.mother].sterile),
        ),
        ("in flower", !season.in_flower.is_empty()),
        (
            "several in a cell",
            events().any(|w| matches!(w, What::Score(s, _, _) if s.part.is_some())),
        ),
        ("looks", season.parents.iter().any(|p| !p.looks.is_empty())),
    ];
    found.into_iter().filter(|f| f.1).map(|f| f.0).collect()
}
