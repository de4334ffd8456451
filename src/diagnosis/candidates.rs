//! What is known of each of several plants at some loci together, by everything recorded: the stuff a ranking is made of.
//!
//! Plants are asked one by one, those of a tray that were read alike once for all. Called by [`super::rank`]; what is
//! wanted of a plant is not known here.

use std::collections::HashMap;

use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;
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
    /// P(it is not of its label); nothing for a plant that came from no tray, or from one of which nothing is known.
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
    if loci.is_empty() {
        let all = plants.iter().map(|plant| unasked(context, *plant));
        return Ok((all.collect(), Vec::new()));
    }
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

/// A plant of whose genes nothing is asked.
fn unasked(context: &Context<'_>, plant: i64) -> Candidate {
    Candidate {
        plant,
        joint: vec![1.0],
        p_off: None,
        cytoplasm: context.plants.cytoplasm(plant),
    }
}

fn ask(
    context: &Context<'_>,
    models: &[BatchModel],
    plant: i64,
    loci: &[LocusIx],
) -> Result<Candidate, GenotypeError> {
    let asked = Asked {
        plants: vec![plant],
        loci: loci.to_vec(),
    };
    let beliefs = Beliefs::new(context, models, &Rules::default(), &asked);
    let too_large = |size| GenotypeError::too_large(context, models, &beliefs, size);
    Ok(Candidate {
        plant,
        joint: beliefs.joint_of(plant, loci).map_err(too_large)?,
        p_off: beliefs.off_chance(plant).map_err(too_large)?,
        cytoplasm: context.plants.cytoplasm(plant),
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
