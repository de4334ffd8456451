//! One season from the first flower to the last look: written down as the grower would, asked of the program, pulled as
//! the program says, and counted against the truth.

use locule::diagnosis::answer::{BatchAnswer, SeedlingAnswer, Verdict};

use super::counts::{Counts, Lost, Prediction};
use super::ledger::{Ledger, at_cells, of_look};
use super::plan::Plan;
use super::plants::{Plant, raise};
use super::tray::{Grown, Tray, UP, word};
use super::world::{Followed, World};

/// A season under way.
pub struct Season {
    world: World,
    /// Its parents.
    pub plants: Vec<Plant>,
    /// What the grower does.
    pub plan: Plan,
    /// Its trays, control pots among them.
    pub trays: Vec<Tray>,
    /// What was written down.
    pub ledger: Ledger,
}

impl Season {
    /// The season of a number, sown and counted up.
    pub fn new(world: &World, seed: u64, number: u64) -> Self {
        let key = [seed, number];
        let plants = raise(world, &key);
        let plan = Plan::new(world, &plants, &key);
        let mut ledger = Ledger::of(world, &plan, &plants);
        let sow = |at: usize| Tray::new(world, &plan, &plants, at, &key);
        let trays: Vec<Tray> = (0..plan.sowings.len()).map(sow).collect();
        for tray in &trays {
            tray.count_up(world, &mut ledger);
        }
        Self {
            world: world.clone(),
            plants,
            plan,
            trays,
            ledger,
        }
    }

    /// Plays it to the end; `tell` hears every answer with its tray before anything is pulled.
    pub fn play(mut self, mut tell: impl FnMut(i64, &Tray, &BatchAnswer)) -> Counts {
        let mut counts = Counts::default();
        let mut days: Vec<i64> = self
            .trays
            .iter()
            .flat_map(|tray| {
                self.world
                    .looks
                    .iter()
                    .map(|look| tray.sowing.day + UP + look)
            })
            .collect();
        days.sort_unstable();
        days.dedup();
        for day in days {
            let due = self.look_at_all(day);
            let codes: Vec<&str> = due
                .iter()
                .map(|at| self.trays[*at].sowing.code.as_str())
                .collect();
            let asked: Vec<&str> = codes
                .iter()
                .copied()
                .filter(|code| code.starts_with('T'))
                .collect();
            let answers = self.ledger.ask(&asked, day);
            for answer in &answers {
                let known = |tray: &&Tray| tray.sowing.code == answer.tray;
                tell(
                    day,
                    self.trays.iter().find(known).expect("it was asked about"),
                    answer,
                );
                self.judge(day, answer, &mut counts);
            }
        }
        for tray in self.trays.iter().filter(|tray| !tray.sowing.pot) {
            counts.enter_tray(tray);
        }
        counts.close_season();
        counts
    }

    /// Looks at every tray that is due; which they are.
    pub fn look_at_all(&mut self, day: i64) -> Vec<usize> {
        let mut due = Vec::new();
        for (at, tray) in self.trays.iter_mut().enumerate() {
            // A pot is a day older than the tray beside it, and read with it.
            let since = day - tray.sowing.day - UP - i64::from(tray.sowing.pot);
            let stands = tray.grown.iter().any(|one| one.stands);
            if self.world.looks.contains(&since) && stands {
                tray.look(&self.world, &mut self.ledger, day);
                due.push(at);
            }
        }
        due
    }

    /// Counts what the program says of a tray, and pulls what it says to pull.
    fn judge(&mut self, day: i64, answer: &BatchAnswer, counts: &mut Counts) {
        let tray = self
            .trays
            .iter_mut()
            .find(|tray| tray.sowing.code == answer.tray)
            .expect("it was asked about");
        let since = day - tray.sowing.day - UP;
        let last = Some(&since) == self.world.looks.last();
        let pulls = self.world.culls || last;
        let (mut cells, mut looks) = (Vec::new(), Vec::new());
        for one in &answer.seedlings {
            let meant: Vec<usize> = (0..tray.grown.len())
                .filter(|at| means(one, &tray.grown[*at], self.world.followed))
                .collect();
            assert_eq!(
                meant.len() as i64,
                one.count,
                "{} of {}",
                one.count,
                answer.tray
            );
            for at in meant {
                let off = tray.grown[at].from.is_some();
                counts.predict(&Prediction {
                    since,
                    p: one.p_off,
                    off,
                    verdict: one.verdict,
                });
                if one.verdict == Verdict::Cull && pulls {
                    let why = Lost::of(tray, &tray.grown[at]);
                    counts.pull(since, tray, &tray.grown[at], why, one.p_off);
                    tray.grown[at].stands = false;
                    cells.push(tray.grown[at].cell);
                    looks.push(tray.grown[at].look.clone());
                }
            }
        }
        looks.dedup();
        let code = &tray.sowing.code;
        let whom = match self.world.followed {
            Followed::OneByOne if cells.is_empty() => Vec::new(),
            Followed::OneByOne => vec![at_cells(code, &cells)],
            Followed::Counted => looks.into_iter().map(|look| of_look(code, look)).collect(),
        };
        if !whom.is_empty() {
            self.ledger.cull(whom, day);
        }
        if last || tray.grown.iter().all(|one| !one.stands) {
            counts.enter_sources(tray, answer);
        }
    }
}

/// Whether an answer is about a seedling.
pub fn means(answer: &SeedlingAnswer, one: &Grown, followed: Followed) -> bool {
    match followed {
        Followed::OneByOne => one.stands && answer.cell == Some(one.cell),
        Followed::Counted => {
            let fits = |class: &str| answer.readings.iter().any(|seen| seen.class == class);
            one.stands && one.look.iter().all(|seen| fits(word(seen)))
        }
    }
}
