//! How large seedlings are by what was measured: groups compared, runts named.
//!
//! The newest measure of each seedling up to a day. A runt is small beside its own tray, and no more than that: in a
//! cross between species it may be the one true hybrid.

use super::grouping::{Grouping, group_of, pair_label, species_pair};
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::measures::{
    OUTLIER, SAME_AGE_DAYS, converted, names_of, newest_of_each, scores, usual_unit,
};
use crate::records::rows::{BatchRow, MeasureRow, Thing};
use crate::records::tray::gone;
use crate::stats::heterogeneity::holm;
use crate::stats::two_samples::{RankTest, Welch, modified_z, rank_test, welch};

/// Means are compared by Welch's t from so many seedlings on a side on, where none lies far out (design choice).
const MEANS_FROM: usize = 10;

/// Up to so many groups every two are compared; of more only the two directions of a pair.
const COMPARED: usize = 4;

/// What is asked.
#[derive(Debug, Clone)]
pub struct Asked {
    /// The measure; nothing for the only one there is.
    pub of: Option<String>,
    /// By what seedlings are put together.
    pub by: Grouping,
    /// The day asked about.
    pub on: Day,
}

/// Why there is nothing to tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Nothing {
    /// No seedling of these trays was measured.
    Measured,
    /// Nothing of that name was.
    OfThatName(String, Vec<String>),
    /// Several things were.
    Several(Vec<String>),
}

/// One seedling's newest measure.
#[derive(Debug, Clone)]
pub struct Size {
    /// The seedling.
    pub seedling: String,
    /// Its tray.
    pub tray: String,
    /// The number, in the unit of the answer.
    pub value: f64,
    /// The day it was measured.
    pub day: Day,
    /// Days from sowing to it.
    pub age: i64,
    /// Whether it still stands.
    pub standing: bool,
    /// Its modified z-score within its tray; nothing where too few were measured.
    pub z: Option<f64>,
    batch_id: i64,
}

impl Size {
    /// Whether it is far smaller than its tray.
    #[must_use]
    pub fn is_runt(&self) -> bool {
        self.standing && self.z.is_some_and(|z| z <= -OUTLIER)
    }
}

/// Seedlings put together.
#[derive(Debug, Clone)]
pub struct SizeGroup {
    /// Its name.
    pub name: String,
    /// The seedlings, by their place in [`Sizes::sizes`].
    pub sizes: Vec<usize>,
    /// The one pair of plants they all come from.
    pub parents: Option<(i64, i64)>,
    /// Whether one is of a cross between species.
    pub wide: bool,
    /// Whether they were measured at ages further apart than makes one age.
    pub mixes_ages: bool,
    /// How many of them are gone since.
    pub gone: usize,
}

/// Which test decides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Decides {
    /// Welch's t.
    Welch,
    /// The rank test.
    Ranks,
}

/// Two groups compared.
#[derive(Debug, Clone)]
pub struct SizeComparison {
    /// The first group, by its place.
    pub one: usize,
    /// The second.
    pub other: usize,
    /// Whether they are the two directions of one pair.
    pub reciprocal: bool,
    /// Welch's t.
    pub welch: Option<Welch>,
    /// The rank test.
    pub ranks: RankTest,
    /// Which decides.
    pub decides: Decides,
    /// The p that decides.
    pub p: f64,
    /// The same adjusted by Holm for the number of pairs.
    pub p_holm: f64,
    /// Mean age of the first less that of the second, in days.
    pub older_by: f64,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct Sizes {
    /// What was measured.
    pub name: String,
    /// Its unit, or empty.
    pub unit: String,
    /// By what seedlings were put together.
    pub by: Grouping,
    /// The day asked about.
    pub on: Day,
    /// The seedlings.
    pub sizes: Vec<Size>,
    /// The groups.
    pub groups: Vec<SizeGroup>,
    /// The groups compared.
    pub comparisons: Vec<SizeComparison>,
    /// Seedlings left out since their unit is another.
    pub other_unit: Vec<String>,
    /// Mother and father of the trays with runts that are crosses between species.
    pub wide_runts: Vec<String>,
}

/// How large the seedlings of some batches are.
///
/// # Errors
/// [`Nothing`] where none was measured, or it is not said which of several measures is meant.
pub fn sizes(facts: &Facts, batches: &[&BatchRow], asked: &Asked) -> Result<Sizes, Nothing> {
    let rows = measured(facts, batches, asked.on);
    let name = chosen(names_of(&rows), asked.of.as_deref())?;
    let named = |row: &&MeasureRow| fold(&row.name) == fold(&name);
    let rows: Vec<_> = rows.into_iter().filter(named).collect();
    let newest = newest_of_each(&rows);
    let unit = usual_unit(&newest);
    let (mut sizes, mut other_unit) = (Vec::new(), Vec::new());
    for row in newest {
        match size_of(facts, row, &unit, asked.on) {
            Some(size) => sizes.push(size),
            None => other_unit.push(facts.label_of_plant(row.plant_id)),
        }
    }
    score(&mut sizes);
    let groups = grouped(facts, &sizes, asked.by);
    let comparisons = compare(&sizes, &groups);
    let wide_runts = wide_runts(facts, &sizes);
    Ok(Sizes {
        name,
        unit,
        by: asked.by,
        on: asked.on,
        sizes,
        groups,
        comparisons,
        other_unit,
        wide_runts,
    })
}

/// The measures of the seedlings of some batches, up to a day.
fn measured<'f>(facts: &'f Facts, batches: &[&BatchRow], on: Day) -> Vec<&'f MeasureRow> {
    let is_here = |row: &&MeasureRow| {
        let batch = facts
            .plant
            .get(row.plant_id)
            .and_then(|plant| plant.batch_id);
        batch.is_some_and(|batch| batches.iter().any(|one| one.id == batch))
    };
    let rows = facts.measure.iter();
    rows.filter(|row| row.day <= on).filter(is_here).collect()
}

/// The measure meant: the one named, else the only one.
fn chosen(names: Vec<String>, of: Option<&str>) -> Result<String, Nothing> {
    let Some(of) = of else {
        return match names.as_slice() {
            [] => Err(Nothing::Measured),
            [one] => Ok(one.clone()),
            _ => Err(Nothing::Several(names)),
        };
    };
    let found = names.iter().find(|name| fold(name) == fold(of)).cloned();
    match found {
        Some(name) => Ok(name),
        None if names.is_empty() => Err(Nothing::Measured),
        None => Err(Nothing::OfThatName(of.to_owned(), names)),
    }
}

fn size_of(facts: &Facts, row: &MeasureRow, unit: &str, on: Day) -> Option<Size> {
    let batch = facts.batch.get(facts.plant.get(row.plant_id)?.batch_id?)?;
    let number: f64 = row.number.parse().ok()?;
    let tray = facts.code_of(Thing::Batch, batch.id).unwrap_or_default();
    Some(Size {
        seedling: facts.label_of_plant(row.plant_id),
        tray: tray.to_owned(),
        value: converted(number, &row.unit, unit)?,
        day: row.day,
        age: row.day.since(batch.day),
        standing: gone(facts, row.plant_id, on).is_none(),
        z: None,
        batch_id: batch.id,
    })
}

/// Gives every seedling its score beside those of its tray.
fn score(sizes: &mut [Size]) {
    let mut trays: Vec<i64> = sizes.iter().map(|size| size.batch_id).collect();
    trays.sort_unstable();
    trays.dedup();
    for tray in trays {
        let mut own: Vec<&mut Size> = sizes
            .iter_mut()
            .filter(|size| size.batch_id == tray)
            .collect();
        let aged: Vec<(f64, i64)> = own.iter().map(|size| (size.value, size.age)).collect();
        for (size, score) in own.iter_mut().zip(scores(&aged)) {
            size.z = score;
        }
    }
}

fn grouped(facts: &Facts, sizes: &[Size], by: Grouping) -> Vec<SizeGroup> {
    let mut groups: Vec<SizeGroup> = Vec::new();
    for (at, size) in sizes.iter().enumerate() {
        let batch = facts
            .batch
            .get(size.batch_id)
            .expect("it was just measured");
        let name = group_of(facts, batch, by);
        let parents = label_parents(facts, batch);
        let wide = parents.is_some_and(|pair| is_wide(facts, pair));
        match groups.iter_mut().find(|group| group.name == name) {
            Some(group) => {
                group.sizes.push(at);
                group.parents = group.parents.filter(|pair| Some(*pair) == parents);
                group.wide |= wide;
            }
            None => groups.push(SizeGroup {
                name,
                sizes: vec![at],
                parents,
                wide,
                mixes_ages: false,
                gone: 0,
            }),
        }
    }
    for group in &mut groups {
        let ages = || group.sizes.iter().map(|at| sizes[*at].age);
        let span = ages()
            .max()
            .zip(ages().min())
            .map_or(0, |(old, young)| old - young);
        group.mixes_ages = span as f64 > SAME_AGE_DAYS;
        group.gone = group
            .sizes
            .iter()
            .filter(|at| !sizes[**at].standing)
            .count();
    }
    groups
}

/// Whether two plants are of different species, as far as recorded.
fn is_wide(facts: &Facts, pair: (i64, i64)) -> bool {
    let [mother, father] = species_pair(facts, pair);
    mother.is_some() && father.is_some() && mother != father
}

/// The pairs of the trays with runts that are crosses between species.
fn wide_runts(facts: &Facts, sizes: &[Size]) -> Vec<String> {
    let runts = sizes.iter().filter(|size| size.is_runt());
    let pairs = runts.filter_map(|size| label_parents(facts, facts.batch.get(size.batch_id)?));
    let mut wide: Vec<String> = pairs
        .filter(|pair| is_wide(facts, *pair))
        .map(|pair| pair_label(facts, pair))
        .collect();
    wide.dedup();
    wide
}

fn compare(sizes: &[Size], groups: &[SizeGroup]) -> Vec<SizeComparison> {
    let reciprocal = |one: usize, other: usize| match (groups[one].parents, groups[other].parents) {
        (Some((a, b)), Some(back)) => a != b && back == (b, a),
        _ => false,
    };
    let mut found = Vec::new();
    for one in 0..groups.len() {
        for other in one + 1..groups.len() {
            let turned = reciprocal(one, other);
            if groups.len() <= COMPARED || turned {
                found.extend(compare_two(sizes, groups, (one, other), turned));
            }
        }
    }
    let adjusted = holm(&found.iter().map(|one| one.p).collect::<Vec<_>>());
    for (comparison, p) in found.iter_mut().zip(adjusted) {
        comparison.p_holm = p;
    }
    found
}

fn compare_two(
    sizes: &[Size],
    groups: &[SizeGroup],
    (one, other): (usize, usize),
    reciprocal: bool,
) -> Option<SizeComparison> {
    let values = |group: usize| -> Vec<f64> {
        let own = groups[group].sizes.iter();
        own.map(|at| sizes[*at].value).collect()
    };
    let age = |group: usize| {
        let own = &groups[group].sizes;
        own.iter().map(|at| sizes[*at].age).sum::<i64>() as f64 / own.len() as f64
    };
    let (a, b) = (values(one), values(other));
    let by_means = welch(&a, &b, 0.95);
    let ranks = rank_test(&a, &b)?;
    let calm = |sample: &[f64]| {
        sample.len() >= MEANS_FROM && modified_z(sample).iter().all(|z| z.abs() <= OUTLIER)
    };
    let (decides, p) = match by_means {
        Some(test) if calm(&a) && calm(&b) => (Decides::Welch, test.p),
        _ => (Decides::Ranks, ranks.p),
    };
    Some(SizeComparison {
        one,
        other,
        reciprocal,
        welch: by_means,
        ranks,
        decides,
        p,
        p_holm: p,
        older_by: age(one) - age(other),
    })
}
