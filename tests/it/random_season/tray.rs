//! One tray: who its seedlings really are, and how it was looked at and written down.

use super::dice::Dice;
use super::{Hidden, end_class};
use crate::oracle::season::{Day, Event, Look, Season, Seedling, Seen, What};

/// One tray as it really was.
pub struct Tray {
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
    /// A tray's seedlings, drawn.
    pub fn new(season: &Season, dice: &mut Dice, batch: usize, hidden: &[Hidden]) -> Tray {
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

    /// Writes down emergence and looks.
    pub fn grow(&self, season: &mut Season, dice: &mut Dice) {
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
