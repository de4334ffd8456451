//! What a record said, in the pieces that a sentence is made of.

use std::collections::BTreeMap;

use super::batch::BatchModel;
use super::context::Context;
use super::evidence::{Member, Telling};
use super::graph::Item;
use crate::records::rows::Thing;

/// How many seedlings showed a class of a trait.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClassCount {
    /// The trait's code.
    pub trait_code: String,
    /// The class.
    pub class: String,
    /// How many.
    pub count: i64,
}

/// What a record said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Told {
    /// A genotype stated of a plant.
    Statement {
        /// The plant; nothing for the one asked about.
        plant: Option<String>,
        /// The genotype, at all loci stated.
        genotype: String,
    },
    /// A plant's own looks.
    Looks {
        /// The plant; nothing for the one asked about.
        plant: Option<String>,
        /// The classes.
        classes: Vec<String>,
    },
    /// Seedlings of the plant asked about.
    Offspring {
        /// The tray.
        tray: String,
        /// The other parent; nothing for a self.
        with: Option<String>,
        /// What the other parent shows in the traits read, where nothing else is likely.
        looking: Vec<String>,
        /// What they showed last.
        seen: Vec<ClassCount>,
    },
    /// The batch that the plant was kept from, its own reading among the others.
    Origin {
        /// The tray.
        tray: String,
        /// Mother and father.
        of: (String, String),
        /// What it showed itself.
        own: Vec<String>,
        /// What all of the batch showed last.
        seen: Vec<ClassCount>,
    },
    /// Another batch.
    Kin {
        /// The tray.
        tray: String,
        /// Mother and father.
        of: (String, String),
        /// What they showed last.
        seen: Vec<ClassCount>,
    },
}

/// From this probability on a plant is said to look like something (design choice).
const LOOKS_LIKE: f64 = 0.95;

/// What a record said of or about a plant.
pub(super) fn told(context: &Context<'_>, models: &[BatchModel], plant: i64, item: Item) -> Told {
    let facts = context.index.facts;
    let label = |id: i64| facts.label_of_plant(id);
    let other = |id: i64| (id != plant).then(|| label(id));
    match item {
        Item::Statement(id) => Told::Statement {
            plant: other(id),
            genotype: context.plants.all_stated(id),
        },
        Item::Looks(id) => Told::Looks {
            plant: other(id),
            classes: context
                .plants
                .own_looks(id)
                .iter()
                .map(|reading| class_name(context, reading.look, reading.class))
                .collect(),
        },
        Item::Batch(id) => {
            let tray = facts
                .code_of(Thing::Batch, id)
                .unwrap_or_default()
                .to_owned();
            let model = models
                .iter()
                .find(|model| model.batch_id == id)
                .expect("only batches at hand are left out");
            let seen = counts(context, model, |_, _, _| true);
            let of = (label(model.mother), label(model.father));
            let origin = facts.plant.get(plant).and_then(|row| row.batch_id);
            let partner = match (model.mother == plant, model.father == plant) {
                (true, true) => None,
                (true, false) => Some(model.father),
                (false, true) => Some(model.mother),
                (false, false) if origin == Some(id) => {
                    let own = own_classes(context, model, plant);
                    return Told::Origin {
                        tray,
                        of,
                        own,
                        seen,
                    };
                }
                (false, false) => return Told::Kin { tray, of, seen },
            };
            Told::Offspring {
                tray,
                with: partner.map(label),
                looking: partner.map_or_else(Vec::new, |id| looking(context, model, id)),
                seen,
            }
        }
    }
}

fn class_name(context: &Context<'_>, look: usize, class: usize) -> String {
    context.looks.traits[look].classes[class].name.clone()
}

/// What the seedlings of a batch showed last, trait by trait, of those readings that count: told by the trait's place
/// among the batch's.
pub(super) fn counts(
    context: &Context<'_>,
    model: &BatchModel,
    does_count: impl Fn(usize, &Member, &Telling) -> bool,
) -> Vec<ClassCount> {
    let mut sums: BTreeMap<(usize, usize), i64> = BTreeMap::new();
    for member in &model.evidence.members {
        for (at, look) in model.profiles.traits.iter().enumerate() {
            let newest = member.newest_of(*look);
            if let Some(reading) = newest.filter(|reading| does_count(at, member, reading)) {
                *sums.entry((*look, reading.class)).or_default() += member.count;
            }
        }
    }
    let count = |((look, class), count): ((usize, usize), i64)| ClassCount {
        trait_code: context.looks.traits[look].code.clone(),
        class: class_name(context, look, class),
        count,
    };
    sums.into_iter().map(count).collect()
}

fn own_classes(context: &Context<'_>, model: &BatchModel, plant: i64) -> Vec<String> {
    let mut members = model.evidence.members.iter();
    let own = members.find(|member| member.plant == Some(plant));
    own.map_or_else(Vec::new, |member| {
        let reading = member.newest();
        vec![class_name(context, reading.look, reading.class)]
    })
}

/// What a plant at its word shows in the traits read in a batch.
fn looking(context: &Context<'_>, model: &BatchModel, plant: i64) -> Vec<String> {
    let units = model.space.units.iter();
    let by_unit: Vec<Vec<f64>> = units
        .map(|unit| context.plants.group_at_word(plant, unit))
        .collect();
    let shown = model.profiles.project(
        &model.space.joint(&by_unit),
        context.plants.cytoplasm(plant),
    );
    let traits = model.profiles.traits.iter().enumerate();
    let of_trait = |(at, look): (usize, &usize)| {
        let classes = 0..context.looks.traits[*look].classes.len();
        let chance = |class: usize| -> f64 {
            let own = model.profiles.classes.iter().zip(&shown);
            own.filter(|(classes, _)| classes[at] == class)
                .map(|(_, p)| p)
                .sum()
        };
        let mut classes = classes.filter(|class| chance(*class) >= LOOKS_LIKE);
        classes
            .next()
            .map(|class| class_name(context, *look, class))
    };
    traits.filter_map(of_trait).collect()
}
