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

/// A plant by its grades.
#[derive(Debug, Clone, PartialEq)]
pub struct GradedPlant {
    /// Its number.
    pub plant: i64,
    /// How many grades it has.
    pub grades: usize,
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
        let rows: Vec<&GradeRow> = (facts.grade.iter())
            .filter(|row| row.trait_id == trait_id && scale.step(row.class_id).is_some())
            .collect();
        let mut plants: Vec<i64> = Vec::new();
        let mut tasters: Vec<String> = Vec::new();
        let mut judgements = Vec::new();
        for row in rows {
            let taster = row.taster.to_lowercase();
            let judged = (
                place_of(&mut plants, row.plant_id),
                place_of(&mut tasters, taster),
            );
            let value = scale.step(row.class_id).map_or(0.0, |step| step.value);
            judgements.push(Judgement {
                thing: judged.0,
                judge: judged.1,
                value,
            });
        }
        let fit = TwoWay::fit(&judgements, plants.len(), tasters.len());
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
    /// root of the number of grades; design choice).
    #[must_use]
    pub fn relative(&self, plant: i64) -> (f64, f64) {
        let [low, high] = self.scale.ends();
        let (width, even) = (high - low, 1.0 / 12.0_f64.sqrt());
        let on_scale = |mean: f64| (mean - low) / width;
        if let Some(own) = self.plant(plant) {
            let rough = even / (own.grades as f64).sqrt();
            return (
                on_scale(own.mean),
                own.error.map_or(rough, |error| error / width),
            );
        }
        let all: Vec<f64> = self.plants.iter().map(|own| on_scale(own.mean)).collect();
        let n = all.len() as f64;
        if n < 2.0 {
            return (0.5, even);
        }
        let mean = all.iter().sum::<f64>() / n;
        let squares: f64 = all.iter().map(|own| (own - mean).powi(2)).sum();
        (mean, (squares / (n - 1.0)).sqrt())
    }
}

fn place_of<T: PartialEq>(known: &mut Vec<T>, one: T) -> usize {
    known.iter().position(|own| *own == one).unwrap_or_else(|| {
        known.push(one);
        known.len() - 1
    })
}
