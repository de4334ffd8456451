//! Parents that were read as what their statement cannot give.
//!
//! One of the two is wrong; the sums weigh both, and here it is said. Changes no probability. Called for the remarks of a
//! batch.

use std::collections::BTreeMap;

use crate::records::rows::{PlantKind, ReadingRow, Sureness};

use super::answer::EvidenceNote;
use super::batch::BatchModel;
use super::context::Context;

/// Parents whose newest firm look in a trait of one locus is none that their statement gives.
#[must_use]
pub fn odd_parents(context: &Context<'_>, model: &BatchModel) -> Vec<EvidenceNote> {
    let mut parents = vec![model.mother, model.father];
    parents.dedup();
    let odd = |plant: &i64| {
        let rows = context.index.readings_of(*plant).iter();
        let firm = rows.filter(|row| row.sureness == Sureness::Firm);
        let mut newest: BTreeMap<usize, (&ReadingRow, usize)> = BTreeMap::new();
        for row in firm {
            if let Some((look, class)) = row.class_id.and_then(|id| context.looks.class_place(id)) {
                let kept = newest.entry(look).or_insert((*row, class));
                if (row.day, row.id) > (kept.0.day, kept.0.id) {
                    *kept = (*row, class);
                }
            }
        }
        let note = |(look, (row, class)): (usize, (&ReadingRow, usize))| {
            let stated = contradicted(context, *plant, look, class)?;
            let trait_ = &context.looks.traits[look];
            Some(EvidenceNote::ParentLooksOtherwise {
                plant: context.index.facts.label_of_plant(*plant),
                stated,
                trait_code: trait_.code.clone(),
                class: trait_.classes[class].name.clone(),
                day: row.day,
            })
        };
        newest.into_iter().filter_map(note).collect::<Vec<_>>()
    };
    parents.iter().flat_map(odd).collect()
}

/// What is stated of a plant at the one locus of a trait, where it cannot show a class by it; a seedling that was kept may
/// have been read before its colour came.
fn contradicted(context: &Context<'_>, plant: i64, look: usize, class: usize) -> Option<String> {
    let trait_ = &context.looks.traits[look];
    let &[locus] = trait_.model.loci() else {
        return None;
    };
    let stated = context.plants.stated(plant, locus)?;
    let word = context.plants.at_word(plant, locus);
    let of = context.groups().alone(locus);
    let cytoplasm = context.plants.cytoplasm(plant);
    let grown = context.index.facts.plant.get(plant);
    let grown = grown.is_none_or(|row| row.kind != PlantKind::Seedling);
    let fits = |genotype: usize| {
        let shown = trait_.model.class_of(&[of.pair(genotype, 0)], cytoplasm);
        shown == class || (!grown && trait_.classes[shown].after == Some(class))
    };
    let possible = |genotype: usize| word[genotype] > 0.0 && fits(genotype);
    (!(0..word.len()).any(possible)).then_some(stated)
}
