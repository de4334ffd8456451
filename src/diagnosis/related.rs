//! Which batches can say something about given plants.

use std::collections::{HashMap, HashSet};

use crate::records::descent::parents_of;
use crate::records::rows::BatchRow;

use super::context::Context;
use super::sources::stock_of;

/// The batches that can say something about plants: those they are parents of, those they were kept from, and so on
/// through parents, partners and plants kept; without those `known` already.
pub(super) fn related_batches<'a>(
    context: &Context<'a>,
    plants: impl IntoIterator<Item = i64>,
    mut known: HashSet<i64>,
) -> Vec<&'a BatchRow> {
    let facts = context.index.facts;
    let mut by_parent: HashMap<i64, Vec<&BatchRow>> = HashMap::new();
    for row in &facts.batch {
        let (mother, father) = context.sources.parents(stock_of(row));
        by_parent.entry(mother).or_default().push(row);
        by_parent.entry(father).or_default().push(row);
    }
    let mut bred: HashMap<i64, Vec<i64>> = HashMap::new();
    for row in facts.plant.iter().filter(|row| row.batch_id.is_none()) {
        if let Some((mother, father)) = parents_of(facts, row) {
            for (own, other) in [
                (mother, row.id),
                (father, row.id),
                (row.id, mother),
                (row.id, father),
            ] {
                bred.entry(own).or_default().push(other);
            }
        }
    }
    let mut left: Vec<i64> = plants.into_iter().collect();
    let mut met: HashSet<i64> = left.iter().copied().collect();
    let mut done: HashSet<i64> = HashSet::new();
    let mut related = Vec::new();
    while let Some(plant) = left.pop() {
        let mut next: Vec<i64> = bred.get(&plant).cloned().unwrap_or_default();
        let row = facts.plant.get(plant);
        let origin = row.and_then(|row| facts.batch.get(row.batch_id?));
        for row in by_parent
            .get(&plant)
            .into_iter()
            .flatten()
            .copied()
            .chain(origin)
        {
            if !done.insert(row.id) {
                continue;
            }
            if known.insert(row.id) {
                related.push(row);
            }
            let (mother, father) = context.sources.parents(stock_of(row));
            next.extend([mother, father]);
            let seedlings = context.index.seedlings_of(row.id).iter();
            next.extend(seedlings.map(|row| row.id).filter(|id| {
                by_parent.contains_key(id)
                    || bred.contains_key(id)
                    || context.plants.stated_loci(*id).next().is_some()
            }));
        }
        left.extend(next.into_iter().filter(|plant| met.insert(*plant)));
    }
    related
}
