//! What is known of each of several plants at some loci together, by everything recorded: the stuff a ranking is made of.
//!
//! Plants are asked one by one, those of a tray that were read alike once for all. Called by [`super::rank`]; what is
//! wanted of a plant is not known here.

use std::collections::HashMap;

use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;
use crate::records::descent::adoption_of;
use crate::records::rows::BatchRow;

use super::answer::EvidenceNote;
use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads};
use super::context::Context;
use super::genotypes::GenotypeError;
use super::kin::Asked;
use super::posterior::Rules;
use super::related::related_batches;
use super::set_aside::SetAside;

/// What is known of one plant.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Its number.
    pub plant: i64,
    /// P(joint genotype) over the space of the loci asked; all zeros where nothing explains what is recorded.
    pub joint: Vec<f64>,
    /// The same with it being what it is kept as: of its label; whatever it is where it was adopted or came from no tray.
    pub as_meant: Vec<f64>,
    /// P(it is not of its label); nothing for a plant that came from no tray.
    pub p_off: Option<f64>,
    /// Its cytoplasm.
    pub cytoplasm: Cytoplasm,
}

/// What is known of plants at some loci, in the order given; and what is left out of it, since with it the sums would be
/// too large.
///
/// # Errors
/// [`GenotypeError`] where a stored text cannot be read or the exact answer needs too large a table.
pub fn candidates(
    context: &Context<'_>,
    plants: &[i64],
    loci: &[LocusIx],
) -> Result<(Vec<Candidate>, Vec<EvidenceNote>), GenotypeError> {
    let mut aside = SetAside::default();
    let mut first = None;
    // Ends, since one trait more is set aside each time.
    loop {
        let asking = Context::asking(context.looks, context.index, context.beliefs, loci)?;
        let asking = asking.without(aside.clone());
        let rows = related_batches(&asking, plants.iter().copied(), Default::default());
        let models = in_two_threads(&rows, |row: &&BatchRow| BatchModel::new(&asking, row));
        let error = match ask_all(&asking, &models, plants, loci) {
            Err(error @ GenotypeError::TooLarge { .. }) => error,
            answered => return answered,
        };
        let GenotypeError::TooLarge { size, cause, .. } = &error else {
            return Err(error);
        };
        let is_first = |model: &&BatchModel| cause.is_of(&asking, model);
        let (own, others): (Vec<&BatchModel>, Vec<_>) = models.iter().partition(is_first);
        if !aside.add(&asking, &[own, others].concat(), *size) {
            return Err(first.unwrap_or(error));
        }
        first.get_or_insert(error);
    }
}

fn ask_all(
    context: &Context<'_>,
    models: &[BatchModel],
    plants: &[i64],
    loci: &[LocusIx],
) -> Result<(Vec<Candidate>, Vec<EvidenceNote>), GenotypeError> {
    let silent = Beliefs::new(context, models, &Rules::default(), &Asked::default());
    let alike = Alike::of(models);
    let mut known: HashMap<(i64, usize), Candidate> = HashMap::new();
    let mut found = Vec::new();
    for plant in plants {
        let group = alike.group_of(context, *plant).filter(|_| {
            let speaks = |locus: &LocusIx| silent.speaks(*plant, *locus);
            !loci.iter().any(speaks)
        });
        let twin = group.and_then(|group| known.get(&group));
        let candidate = match twin {
            Some(twin) => Candidate {
                plant: *plant,
                ..twin.clone()
            },
            None => ask(context, models, *plant, loci)?,
        };
        if let Some(group) = group {
            known.entry(group).or_insert_with(|| candidate.clone());
        }
        found.push(candidate);
    }
    Ok((found, silent.traits_left_out()))
}

/// The loci that a question about one plant is put at: those asked; where none is, what its tray was read for, or any locus,
/// so that its chance of being off-type is told all the same.
fn put_at(models: &[BatchModel], batch: Option<i64>, loci: &[LocusIx]) -> Vec<LocusIx> {
    if !loci.is_empty() || batch.is_none() {
        return loci.to_vec();
    }
    let own = models.iter().find(|model| Some(model.batch_id) == batch);
    let read = own.map(|model| model.space.loci.clone());
    read.filter(|read| !read.is_empty())
        .unwrap_or_else(|| vec![LocusIx(0)])
}

fn ask(
    context: &Context<'_>,
    models: &[BatchModel],
    plant: i64,
    loci: &[LocusIx],
) -> Result<Candidate, GenotypeError> {
    let row = context.index.facts.plant.get(plant);
    let put = put_at(models, row.and_then(|row| row.batch_id), loci);
    let cytoplasm = context.plants.cytoplasm(plant);
    if put.is_empty() {
        return Ok(Candidate {
            plant,
            joint: vec![1.0],
            as_meant: vec![1.0],
            p_off: None,
            cytoplasm,
        });
    }
    let asked = Asked {
        plants: vec![plant],
        loci: put.clone(),
    };
    let beliefs = Beliefs::new(context, models, &Rules::default(), &asked);
    let too_large = |size| GenotypeError::too_large(context, models, &beliefs, size);
    let [on, off] = beliefs.joint_by_label(plant, &put).map_err(too_large)?;
    let from_tray = beliefs.grew_in_a_family(plant);
    let total: f64 = on.iter().chain(&off).sum();
    let p_off = (from_tray && total > 0.0).then(|| off.iter().sum::<f64>() / total);
    let both: Vec<f64> = on.iter().zip(&off).map(|(on, off)| on + off).collect();
    let by_label = p_off.is_some() && adoption_of(context.index.facts, plant).is_none();
    let as_meant = if by_label { on } else { both.clone() };
    // Asked about none of its genes, all genotypes are one.
    let of_loci = |joint: Vec<f64>| match loci.is_empty() {
        true => vec![joint.iter().sum()],
        false => joint,
    };
    Ok(Candidate {
        plant,
        joint: of_loci(both),
        as_meant: of_loci(as_meant),
        p_off,
        cytoplasm,
    })
}

/// Which seedlings of a tray were read alike.
struct Alike(HashMap<i64, usize>);

/// The group of seedlings of which nothing was read.
const UNREAD: usize = usize::MAX;

impl Alike {
    fn of(models: &[BatchModel]) -> Self {
        let members = models
            .iter()
            .flat_map(|model| model.evidence.members.iter().zip(&model.group_of));
        Self(
            members
                .filter_map(|(member, group)| Some((member.plant?, *group)))
                .collect(),
        )
    }

    /// The tray and the group of a seedling; nothing for a plant of no tray.
    fn group_of(&self, context: &Context<'_>, plant: i64) -> Option<(i64, usize)> {
        let batch = context.index.facts.plant.get(plant)?.batch_id?;
        Some((batch, self.0.get(&plant).copied().unwrap_or(UNREAD)))
    }
}
