//! What the grades of a trait say of each plant, tasters' biases taken out.
//!
//! Grades are taken as numbers with equal steps. Called by `grades`, `show` and the ranking; what a high grade is worth is
//! not known here.

use crate::records::facts::Facts;
use crate::records::rows::GradeRow;
use crate::records::scale::Scale;
use crate::stats::two_way::{Judgement, TwoWay};

/// The level of the intervals.
pub const LEVEL: f64 = 0.95;

/// How far apart two neighbouring grades are.
const STEP: f64 = 1.0;

/// A plant by its grades.
#[derive(Debug, Clone, PartialEq)]
pub struct GradedPlant {
    /// Its number.
    pub plant: i64,
    /// How many grades count of it.
    pub grades: usize,
    /// The pod, where all of several grades are of one.
    pub only_pod: Option<i64>,
    /// Its mean as all tasters of its part together would have given it.
    pub mean: f64,
    /// The standard error of that mean; nothing where no grade is to spare.
    pub error: Option<f64>,
    /// The interval, within the ends of the scale.
    pub interval: Option<[f64; 2]>,
    /// Its part: plants of different parts have no taster in common, even in steps.
    pub part: usize,
}

/// A taster by the grades given.
#[derive(Debug, Clone, PartialEq)]
pub struct Taster {
    /// The name; empty where none was said.
    pub name: String,
    /// How many grades.
    pub grades: usize,
    /// How much higher than the tasters of the same part together.
    pub bias: f64,
    /// The interval.
    pub interval: Option<[f64; 2]>,
    /// The part.
    pub part: usize,
    /// Whether there is another in that part, so that there is a bias to speak of.
    pub compared: bool,
}

/// What all grades of a trait say.
#[derive(Debug, Clone, PartialEq)]
pub struct Graded {
    /// The grades.
    pub scale: Scale,
    /// The plants, as they were first graded.
    pub plants: Vec<GradedPlant>,
    /// The tasters, likewise.
    pub tasters: Vec<Taster>,
    /// The spread of one grade of one plant by one taster.
    pub spread: Option<f64>,
    /// Degrees of freedom behind it.
    pub df: usize,
}

impl Graded {
    /// Of a trait; nothing for one that is not graded. Without a grade no plant stands in it.
    #[must_use]
    pub fn of(facts: &Facts, trait_id: i64) -> Option<Self> {
        let scale = Scale::of(facts, trait_id)?;
        let mut plants: Vec<i64> = Vec::new();
        let mut tasters: Vec<String> = Vec::new();
        let mut judgements = Vec::new();
        let counted = counted(facts, &scale);
        for one in &counted {
            judgements.push(Judgement {
                thing: place_of(&mut plants, one.plant),
                judge: place_of(&mut tasters, one.taster.clone()),
                value: one.value,
            });
        }
        let fit = TwoWay::fit(&judgements, plants.len(), tasters.len(), STEP);
        let Some(fit) = fit.filter(|_| !judgements.is_empty()) else {
            return Some(Self {
                scale,
                plants: Vec::new(),
                tasters: Vec::new(),
                spread: None,
                df: 0,
            });
        };
        let [low, high] = scale.ends();
        let names = |judge: usize| {
            let mut rows = facts.grade.iter().filter(|row| row.trait_id == trait_id);
            let own = rows.find(|row| row.taster.to_lowercase() == tasters[judge]);
            own.map_or_else(String::new, |row| row.taster.clone())
        };
        let plant = |(thing, plant): (usize, &i64)| {
            let own = judgements.iter().filter(|one| one.thing == thing);
            let effect = fit.things[thing];
            let interval = effect.interval(fit.df, LEVEL);
            GradedPlant {
                plant: *plant,
                grades: own.clone().count(),
                only_pod: only_pod(&counted, *plant),
                mean: effect.value,
                error: effect.error,
                interval: interval.map(|ends| ends.map(|end| end.clamp(low, high))),
                part: own.clone().next().map_or(0, |one| fit.parts[one.judge]),
            }
        };
        let taster = |judge: usize| Taster {
            name: names(judge),
            grades: judgements.iter().filter(|one| one.judge == judge).count(),
            bias: fit.judges[judge].value,
            interval: fit.judges[judge].interval(fit.df, LEVEL),
            part: fit.parts[judge],
            compared: fit
                .parts
                .iter()
                .filter(|part| **part == fit.parts[judge])
                .count()
                > 1,
        };
        Some(Self {
            plants: plants.iter().enumerate().map(plant).collect(),
            tasters: (0..tasters.len()).map(taster).collect(),
            spread: fit.spread,
            df: fit.df,
            scale,
        })
    }

    /// What is known of one plant.
    #[must_use]
    pub fn plant(&self, plant: i64) -> Option<&GradedPlant> {
        self.plants.iter().find(|own| own.plant == plant)
    }

    /// How many parts there are whose tasters have no plant in common.
    #[must_use]
    pub fn parts(&self) -> usize {
        let last = self.tasters.iter().map(|taster| taster.part).max();
        last.map_or(0, |last| last + 1)
    }

    /// The mean of a plant and how far it may be off, on a scale from 0 to 1: as graded, else as the others of the trait
    /// are spread.
    ///
    /// Without a spread of grades, or without grades, the scale's own even spread stands in (its width / sqrt 12, over the
    /// root of the number of grades; design choice); no plant is known more finely than a grade is rounded. A plant whose
    /// tasters cannot be set against most of the others may be off by their biases too.
    #[must_use]
    pub fn relative(&self, plant: i64) -> (f64, f64) {
        let [low, high] = self.scale.ends();
        let (width, even) = (high - low, 1.0 / 12.0_f64.sqrt());
        let on_scale = |mean: f64| (mean - low) / width;
        if let Some(own) = self.plant(plant) {
            let rough = even / (own.grades as f64).sqrt();
            let error = own.error.map_or(rough, |error| error / width);
            let apart = self.apart(own.part) / width;
            return (on_scale(own.mean), error.hypot(apart));
        }
        let all: Vec<f64> = self.plants.iter().map(|own| on_scale(own.mean)).collect();
        let n = all.len() as f64;
        if n < 2.0 {
            return (0.5, even);
        }
        let mean = all.iter().sum::<f64>() / n;
        let squares: f64 = all.iter().map(|own| (own - mean).powi(2)).sum();
        let rounding = STEP / 12.0_f64.sqrt() / width;
        (mean, (squares / (n - 1.0)).sqrt().max(rounding))
    }

    /// The degrees of freedom behind a plant's standard error, where it has one.
    #[must_use]
    pub fn freedom_of(&self, plant: i64) -> Option<usize> {
        self.plant(plant)?.error.map(|_| self.df)
    }

    /// How far the plants of a part may be off against those of the part with most plants, since nobody knows how its
    /// tasters grade: the biases of tasters, or one step where that is more, over the roots of the tasters of both
    /// (design choice).
    fn apart(&self, part: usize) -> f64 {
        let plants = |part: usize| self.plants.iter().filter(|own| own.part == part).count();
        let tasters = |part: usize| self.tasters.iter().filter(|own| own.part == part).count();
        let main = (0..self.parts()).max_by_key(|part| (plants(*part), std::cmp::Reverse(*part)));
        let Some(main) = main.filter(|main| *main != part) else {
            return 0.0;
        };
        let compared: Vec<f64> = (self.tasters.iter())
            .filter(|own| own.compared)
            .map(|own| own.bias.powi(2))
            .collect();
        let mean = compared.iter().sum::<f64>() / (compared.len() as f64).max(1.0);
        let each = |part: usize| 1.0 / (tasters(part) as f64).max(1.0);
        mean.sqrt().max(STEP) * (each(part) + each(main)).sqrt()
    }

    /// Whether some of these plants were graded by tasters who cannot be set against those of others of them.
    #[must_use]
    pub fn is_in_parts(&self, plants: impl Iterator<Item = i64>) -> bool {
        let mut parts = plants.filter_map(|plant| Some(self.plant(plant)?.part));
        let first = parts.next();
        parts.any(|part| Some(part) != first)
    }
}

/// A grade that counts.
struct Counted {
    plant: i64,
    taster: String,
    pod: Option<i64>,
    value: f64,
}

/// The grades that count: of one taster, plant, pod and day the one recorded last, which corrects the others; of one
/// taster and pod on several days their mean, for a pod is one thing.
fn counted(facts: &Facts, scale: &Scale) -> Vec<Counted> {
    let mut newest: Vec<(&GradeRow, String, f64)> = Vec::new();
    for row in facts.grade.iter().filter(|row| row.trait_id == scale.of) {
        let Some(step) = scale.step(row.class_id) else {
            continue;
        };
        let one = (row, row.taster.to_lowercase(), step.value);
        let same = |(known, taster, _): &&mut (&GradeRow, String, f64)| {
            (known.plant_id, known.pod, known.day) == (row.plant_id, row.pod, row.day)
                && *taster == one.1
        };
        match newest.iter_mut().find(same) {
            Some(known) => *known = one,
            None => newest.push(one),
        }
    }
    let mut found: Vec<(Counted, f64)> = Vec::new();
    for (row, taster, value) in newest {
        let same = |(known, _): &&mut (Counted, f64)| {
            row.pod.is_some()
                && (known.plant, known.pod, &known.taster) == (row.plant_id, row.pod, &taster)
        };
        match found.iter_mut().find(same) {
            Some((known, n)) => {
                known.value += (value - known.value) / (*n + 1.0);
                *n += 1.0;
            }
            None => found.push((
                Counted {
                    plant: row.plant_id,
                    taster,
                    pod: row.pod,
                    value,
                },
                1.0,
            )),
        }
    }
    found.into_iter().map(|(one, _)| one).collect()
}

/// The pod that all of a plant's grades are of, where there are several.
fn only_pod(counted: &[Counted], plant: i64) -> Option<i64> {
    let own: Vec<Option<i64>> = (counted.iter())
        .filter(|one| one.plant == plant)
        .map(|one| one.pod)
        .collect();
    let first = *own.first()?;
    (own.len() > 1 && own.iter().all(|pod| *pod == first)).then_some(first)?
}

fn place_of<T: PartialEq>(known: &mut Vec<T>, one: T) -> usize {
    known.iter().position(|own| *own == one).unwrap_or_else(|| {
        known.push(one);
        known.len() - 1
    })
}
