//! What plants kept from a tray, and their offspring, say of the seedlings of that tray.
//!
//! The list of a tray goes by the tray and by what everything else says of the plants that its sources name; what the
//! offspring of a plant kept from it say of that seedling is not in it. Here everything recorded is asked, so that the
//! answer can name the seedlings of which it says something else. Called where a batch is answered, and where a
//! seedling is adopted; moves no verdict.

use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::Thing;
use crate::stats::elimination::TooManyCells;

use super::DiagnosisError;
use super::answer::{EvidenceNote, OffByAll, SeedlingAnswer, Source, SourceShare};
use super::batch::{BatchModel, Group};
use super::belief::{Beliefs, too_large};
use super::context::{Basis, Context};
use super::graph::Item;
use super::kin::Asked;
use super::posterior::{Rules, Weigher};
use super::space::Space;
use super::suspects::{Desk, models_of};

/// Chances of being off-type that differ by less are the same (design choice).
const WORTH_SAYING: f64 = 0.01;

/// Looks of a tray beside those of plants kept that are asked about, each anew (design choice).
const MOST_LOOKS: usize = 6;

/// Trays with plants kept from them, beyond which a question about several trays leaves this to one tray at a time: each
/// takes a sum over the whole pedigree (design choice).
const MOST_TRAYS: usize = 20;

impl Desk<'_, '_> {
    /// The seedlings of a batch of which everything recorded says something else than the batch's own list, where plants
    /// kept from it have offspring: those kept, and where one batch is asked about the others too.
    pub(super) fn kept_say(
        &self,
        model: &BatchModel,
        answered: &[(usize, usize)],
        seedlings: &[SeedlingAnswer],
    ) -> Option<EvidenceNote> {
        let families = &self.net.known.families;
        if self.asked > 1 && families.len() > MOST_TRAYS {
            return None;
        }
        let family = families.get(&model.batch_id)?;
        let facts = self.context.index.facts;
        let plant = |at: usize| model.evidence.members[at].plant;
        let is_kept = |at: usize| plant(at).is_some_and(|own| family.kept.contains(&own));
        let listed = answered.iter().zip(seedlings);
        let (kept, listed): (Vec<i64>, Vec<&SeedlingAnswer>) = listed
            .filter_map(|((at, _), one)| Some((plant(*at).filter(|_| is_kept(*at))?, one)))
            .unzip();
        if kept.is_empty() {
            return None;
        }
        let by_all = self.net.off_chances(family, &kept).unwrap_or_default();
        let mut found: Vec<OffByAll> = Vec::new();
        for ((plant, one), p_off) in kept.iter().zip(listed).zip(by_all) {
            if (p_off - one.p_off).abs() >= WORTH_SAYING {
                let code = facts.code_of(Thing::Plant, *plant);
                found.push(OffByAll {
                    whose: vec![(one.seedling.clone().unwrap_or_default(), one.cell)],
                    code: code.map(str::to_owned),
                    listed: one.p_off,
                    p_off,
                });
            }
        }
        if found.is_empty() {
            return None;
        }
        if self.asked == 1 {
            let others = answered.iter().zip(seedlings);
            let others = others.filter(|((at, _), _)| plant(*at).is_some() && !is_kept(*at));
            found.extend(self.others_by_all(model, others));
        }
        Some(EvidenceNote::KeptSay {
            tray: facts
                .code_of(Thing::Batch, model.batch_id)
                .unwrap_or_default()
                .to_owned(),
            seedlings: found,
        })
    }

    /// The same of seedlings that were not kept, those read alike together.
    fn others_by_all<'s>(
        &self,
        model: &BatchModel,
        others: impl Iterator<Item = (&'s (usize, usize), &'s SeedlingAnswer)>,
    ) -> Vec<OffByAll> {
        let mut groups: Vec<(usize, i64, OffByAll)> = Vec::new();
        for ((at, group), one) in others {
            let name = (one.seedling.clone().unwrap_or_default(), one.cell);
            match groups.iter_mut().find(|(own, _, _)| own == group) {
                Some((_, _, known)) => known.whose.push(name),
                None => groups.extend(model.evidence.members[*at].plant.map(|plant| {
                    let said = OffByAll {
                        whose: vec![name],
                        code: None,
                        listed: one.p_off,
                        p_off: one.p_off,
                    };
                    (*group, plant, said)
                })),
            }
        }
        let asked = |(_, plant, said): (usize, i64, OffByAll)| {
            let asked = Asked {
                plants: vec![plant],
                loci: model.space.loci.clone(),
            };
            let net = Beliefs::new(self.context, self.models, self.rules, &asked);
            let p_off = net.off_chance(plant).ok().flatten()?;
            let differs = (p_off - said.listed).abs() >= WORTH_SAYING;
            differs.then_some(OffByAll { p_off, ..said })
        };
        let few = groups.into_iter().take(MOST_LOOKS);
        few.filter_map(asked).collect()
    }
}

/// P(off-type) of a seedling and its split over sources by everything recorded, as on a day; nothing where no plant kept
/// from its batch says more than the batch does, or where that is too large to work out.
///
/// # Errors
/// [`DiagnosisError`] where a stored text cannot be read.
pub(super) fn off_by_everything(
    facts: &Facts,
    today: Day,
    plant: i64,
) -> Result<Option<(f64, Vec<SourceShare>)>, DiagnosisError> {
    let seen = facts.seen_until(today);
    let facts = seen.as_ref().unwrap_or(facts);
    let row = facts.plant.get(plant);
    let Some(batch) = row.and_then(|row| facts.batch.get(row.batch_id?)) else {
        return Ok(None);
    };
    let basis = Basis::of(facts)?;
    let context = basis.context()?;
    let rules = Rules::default();
    let (models, _) = models_of(&context, &[batch], true);
    let silent = Beliefs::new(&context, &models, &rules, &Asked::default());
    if !silent.is_family(batch.id) {
        return Ok(None);
    }
    let loci = silent.known.kin.loci_of_batch(batch.id);
    let fine = BatchModel::for_family(&context, batch, &loci);
    let mut plants = fine.named_plants();
    plants.push(plant);
    let asked = Asked {
        plants,
        loci: fine.space.loci.clone(),
    };
    let net = Beliefs::new(&context, &models, &rules, &asked);
    Ok(split(&context, &net, &rules, fine, plant).ok().flatten())
}

/// P(off-type) of a seedling by everything recorded, and its split: by the batch with what its offspring say of each plant
/// kept taken as one more reading of that plant.
fn split(
    context: &Context<'_>,
    net: &Beliefs<'_>,
    rules: &Rules,
    mut fine: BatchModel,
    plant: i64,
) -> Result<Option<(f64, Vec<SourceShare>)>, TooManyCells> {
    let Some(family) = net.known.families.get(&fine.batch_id) else {
        return Ok(None);
    };
    if let Some(size) = too_large(&fine) {
        return Err(size);
    }
    let Some(p_off) = net.off_chance(plant)? else {
        return Ok(None);
    };
    let mut own = None;
    for kept in &family.kept {
        let Some(says) = offspring_say(context, net, &fine, *kept)? else {
            return Ok(None);
        };
        let group = read_once_more(context, &mut fine, *kept, &says);
        if *kept == plant {
            own = Some(group);
        }
    }
    let weights = net.weights(&fine)?;
    let posterior = Weigher::new(&fine, rules).posterior(&weights);
    let Some(own) = own else {
        return Ok(None);
    };
    let parts = &posterior.memberships[own].off_from_as_read;
    let total: f64 = parts.iter().sum();
    let candidates = fine.candidates.iter().zip(parts);
    let named = candidates.filter(|(candidate, _)| {
        candidate.source != Source::None && candidate.source != Source::Mixed
    });
    let share = |(candidate, part): (&super::sources::Candidate, &f64)| SourceShare {
        source: candidate.source.clone(),
        p: if total > 0.0 {
            p_off * part / total
        } else {
            0.0
        },
    };
    Ok(Some((p_off, named.map(share).collect())))
}

/// How likely everything but its batch is by the genotype of a plant kept; nothing where its descent rules one out, so
/// that nobody has asked.
fn offspring_say(
    context: &Context<'_>,
    net: &Beliefs<'_>,
    fine: &BatchModel,
    plant: i64,
) -> Result<Option<Vec<f64>>, TooManyCells> {
    let space = &fine.space;
    let without = Some(Item::Batch(fine.batch_id));
    let told = net.marginals(&[plant], space, without)?.remove(0);
    let first = of_units(space, |unit| context.plants.group_factor(plant, unit));
    let stated = of_units(space, |unit| {
        let factor = context.plants.statement_factor(plant, unit);
        factor.unwrap_or_else(|| vec![1.0; unit.size()])
    });
    if first.iter().any(|p| *p <= 0.0) {
        return Ok(None);
    }
    let says = told.iter().zip(&first).zip(&stated);
    Ok(Some(
        says.map(|((p, first), stated)| p / first * stated)
            .collect(),
    ))
}

/// A joint table of what is known unit by unit.
fn of_units(space: &Space, of: impl Fn(&super::group::LinkageGroup) -> Vec<f64>) -> Vec<f64> {
    let by_unit: Vec<Vec<f64>> = space.units.iter().map(|unit| of(unit)).collect();
    space.joint(&by_unit)
}

/// Gives a seedling a group of its own, with one more reading: how likely each genotype is by that. Its group.
fn read_once_more(context: &Context<'_>, fine: &mut BatchModel, plant: i64, says: &[f64]) -> usize {
    let members = &fine.evidence.members;
    let at = members
        .iter()
        .position(|member| member.plant == Some(plant));
    let mut likelihood = match at {
        Some(at) => fine.groups[fine.group_of[at]].likelihood.clone(),
        None => fine.scale(context).says_nothing(),
    };
    let paces = fine.paces.len();
    for (profile, row) in likelihood.values.chunks_mut(paces).enumerate() {
        let more = says[fine.profiles.genotype_of(profile)];
        row.iter_mut().for_each(|value| *value *= more);
    }
    let own = fine.groups.len();
    if let Some(at) = at {
        fine.groups[fine.group_of[at]].count -= 1;
        fine.group_of[at] = own;
    }
    fine.groups.push(Group {
        likelihood,
        contradictory: false,
        count: 1,
    });
    own
}
