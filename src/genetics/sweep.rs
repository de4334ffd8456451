//! Adding up classes locus by locus.
//!
//! To know how often each combination of classes comes out, one need not list whole genotypes. Going
//! through the loci one group at a time, all that matters of the loci passed is which rules of each
//! model are still open; genotypes that leave the same rules open are added together. The work grows
//! with the number of such states, not with 3^k. Gene models are checked, and expectations formed,
//! with this one walk.

use std::collections::BTreeMap;

use super::genotype::Diploid;
use super::locus::LocusIx;
use super::rule::{Cytoplasm, GeneModel};

/// Genotypes at the loci of a group, in the order of its loci.
pub(super) type Outcome = Vec<Diploid>;

/// A group of loci that segregate together and the ways it can turn out, each with something of type
/// `W` (a count, a probability).
pub(super) struct Group<'g, W> {
    pub(super) loci: &'g [LocusIx],
    pub(super) outcomes: &'g [(Outcome, W)],
}

/// Per model the rules still open, as bits.
pub(super) type Open = Vec<u64>;

/// Walks through all groups and adds up what leads to each state: `extend` carries a value over one
/// outcome, `merge` adds two values that lead to the same state.
pub(super) fn walk<V, W>(
    models: &[&GeneModel],
    groups: &[Group<'_, W>],
    cytoplasm: Cytoplasm,
    start: V,
    extend: impl Fn(&V, &Outcome, &W) -> V,
    merge: impl Fn(&V, V) -> V,
) -> BTreeMap<Open, V> {
    let opening: Open = models.iter().map(|m| m.rules_for(cytoplasm)).collect();
    let mut states = BTreeMap::from([(opening, start)]);
    for (passed, group) in groups.iter().enumerate() {
        let pending = pending_rules(models, &groups[passed + 1..]);
        let steps: Vec<Open> = group
            .outcomes
            .iter()
            .map(|(o, _)| open_rules(models, group.loci, o))
            .collect();
        let mut next: BTreeMap<Open, V> = BTreeMap::new();
        for (state, value) in &states {
            for (step, (outcome, weight)) in steps.iter().zip(group.outcomes) {
                let narrowed = narrow(state, step, &pending);
                let carried = extend(value, outcome, weight);
                let sum = match next.get(&narrowed) {
                    Some(there) => merge(there, carried),
                    None => carried,
                };
                next.insert(narrowed, sum);
            }
        }
        states = next;
    }
    states
}

/// For every state that a model can end in, the rules open there and one genotype that leads to it.
pub(super) fn uncover(model: &GeneModel, cytoplasm: Cytoplasm) -> Vec<(u64, Outcome)> {
    let counts = model.allele_counts();
    let all: Vec<Vec<(Outcome, ())>> = counts.iter().map(|k| every_genotype(*k)).collect();
    let groups: Vec<Group<'_, ()>> = (model.loci().iter().zip(&all))
        .map(|(locus, outcomes)| Group {
            loci: std::slice::from_ref(locus),
            outcomes,
        })
        .collect();
    let extend = |so_far: &Outcome, outcome: &Outcome, (): &()| [&so_far[..], outcome].concat();
    let ends = walk(
        &[model],
        &groups,
        cytoplasm,
        Outcome::new(),
        extend,
        |first, _| first.clone(),
    );
    ends.into_iter()
        .map(|(open, witness)| (open[0], witness))
        .collect()
}

/// All genotypes of one locus as outcomes of a group.
pub(super) fn every_genotype(alleles: usize) -> Vec<(Outcome, ())> {
    Diploid::all(alleles)
        .into_iter()
        .map(|pair| (vec![pair], ()))
        .collect()
}

/// The rules that genotypes at some loci do not rule out.
pub(super) fn open_rules(models: &[&GeneModel], loci: &[LocusIx], outcome: &[Diploid]) -> Open {
    let open = |model: &&GeneModel| {
        let pairs = loci.iter().zip(outcome);
        pairs.fold(u64::MAX, |open, (locus, pair)| match place(model, *locus) {
            Some(i) => open & model.rules_at(i, *pair),
            None => open,
        })
    };
    models.iter().map(open).collect()
}

/// The rules that name a locus of the groups still to come.
fn pending_rules<W>(models: &[&GeneModel], ahead: &[Group<'_, W>]) -> Open {
    let loci: Vec<LocusIx> = ahead.iter().flat_map(|g| g.loci).copied().collect();
    pending_at(models, &loci)
}

/// The rules that name one of some loci.
pub(super) fn pending_at(models: &[&GeneModel], ahead: &[LocusIx]) -> Open {
    let named = |model: &&GeneModel| {
        let places = ahead.iter().filter_map(|locus| place(model, *locus));
        places.fold(0, |named, i| named | model.rules_naming(i))
    };
    models.iter().map(named).collect()
}

/// Keeps the open rules that can still be the first to match.
pub(super) fn narrow(state: &Open, step: &Open, pending: &Open) -> Open {
    let narrowed = state
        .iter()
        .zip(step)
        .zip(pending)
        .map(|((state, step), pending)| {
            let open = state & step;
            let settled = open & !pending;
            // All rules up to the first settled one: lowest set bit and everything below it.
            open & (settled ^ settled.wrapping_sub(1))
        });
    narrowed.collect()
}

fn place(model: &GeneModel, locus: LocusIx) -> Option<usize> {
    model.loci().iter().position(|l| *l == locus)
}
