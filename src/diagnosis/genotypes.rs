//! What is known of the genotype of plants, and which records moved it.
//!
//! Every record that can move a plant is left out in turn, and what the answer loses is what the record told. Called by
//! `genotype`; asks nothing of the future.

use std::collections::HashMap;

use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::records::assumptions::Assumptions;
use crate::records::descent::parents_of;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::stats::elimination::TooManyCells;

use super::DiagnosisError;
use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads};
use super::clash::{Clash, clashes_of};
use super::context::Context;
use super::graph::Item;
use super::index::Index;
use super::kin::Asked;
use super::looks::Looks;
use super::posterior::Rules;
use super::related::related_batches;
use super::space::Space;
use super::told::{Told, told};

/// A record that moves no probability by this much moves nothing worth a sentence (design choice).
const WORTH_SAYING: f64 = 0.001;

/// Why a plant's genotype is not told.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GenotypeError {
    /// A stored text cannot be read.
    #[error(transparent)]
    Unreadable(#[from] DiagnosisError),
    /// The exact answer needs too large a table.
    #[error(transparent)]
    TooLarge(#[from] TooManyCells),
}

/// What is known of a plant at one locus.
#[derive(Debug, Clone, PartialEq)]
pub struct LocusBelief {
    /// The locus.
    pub locus: String,
    /// Its genotypes with their probabilities, the likeliest first; none where nothing explains what is recorded.
    pub genotypes: Vec<(String, f64)>,
    /// What is stated of the plant.
    pub stated: Option<String>,
    /// Whether anything recorded of the plant or its kin speaks of this locus.
    pub is_told: bool,
}

/// A record and what it moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// The record.
    pub told: Told,
    /// The locus where it moved most.
    pub locus: String,
    /// The genotype there whose probability changed most.
    pub genotype: String,
    /// Its probability from everything else.
    pub without: f64,
    /// Its probability from everything.
    pub with: f64,
    /// Half the sum of all changes at the locus.
    pub moved: f64,
}

/// What is known of a plant.
#[derive(Debug, Clone, PartialEq)]
pub struct PlantBelief {
    /// The plant's number.
    pub plant: i64,
    /// Its code or place.
    pub label: String,
    /// Locus by locus.
    pub loci: Vec<LocusBelief>,
    /// What moved it, most moving first; not worked out where all plants are asked about at once.
    pub evidence: Vec<Moved>,
    /// Records that clash.
    pub clashes: Vec<Clash>,
}

/// What is known of one plant, what moved it, and what clashes.
///
/// # Errors
/// [`GenotypeError`] where a stored text cannot be read or the exact answer needs too large a table.
pub fn genotype_of(facts: &Facts, plant: i64) -> Result<PlantBelief, GenotypeError> {
    let beliefs = Assumptions::of(facts);
    let looks = Looks::of(facts)?;
    let index = Index::new(facts);
    let context = Context::new(&looks, &index, &beliefs)?;
    let rows = related_batches(&context, [plant], Default::default());
    let asked = Question::new(&context, &rows, vec![plant], loci_asked(&context));
    let mut found = asked.answer()?.remove(0);
    found.evidence = asked.evidence_of(plant, &found)?;
    found.clashes = clashes_of(&context, &asked.rules, &asked.models, &asked.base, plant)?;
    Ok(found)
}

/// What is known of every plant that has a code, at the loci of which anything is recorded.
///
/// # Errors
/// [`GenotypeError`] as for one plant.
pub fn genotypes_of_all(facts: &Facts) -> Result<Vec<PlantBelief>, GenotypeError> {
    let beliefs = Assumptions::of(facts);
    let looks = Looks::of(facts)?;
    let index = Index::new(facts);
    let context = Context::new(&looks, &index, &beliefs)?;
    let has_code = |id: &i64| !facts.codes_of(Thing::Plant, *id).is_empty();
    let plants = facts.plant.iter().map(|row| row.id).filter(has_code);
    let rows: Vec<_> = facts.batch.iter().collect();
    let mut asked = Question::new(&context, &rows, plants.collect(), Vec::new());
    asked.loci = asked.loci_recorded();
    asked.answer()
}

/// Genotypes of a mother and of a father, locus by locus, and their probability.
pub type BelievedPair = (Vec<Diploid>, Vec<Diploid>, f64);

/// The genotypes that a mother and a father may have together at some loci, with their probability from everything
/// recorded; for a self both are one plant.
///
/// # Errors
/// [`GenotypeError`] where the exact answer needs too large a table.
pub fn parents_believed(
    context: &Context<'_>,
    (mother, father): (i64, i64),
    loci: &[LocusIx],
) -> Result<Vec<BelievedPair>, GenotypeError> {
    let rows = related_batches(context, [mother, father], Default::default());
    let models = in_two_threads(&rows, |row| BatchModel::new(context, row));
    let asked = Asked {
        plants: vec![mother, father],
        loci: loci.to_vec(),
    };
    let beliefs = Beliefs::new(context, &models, &Rules::default(), &asked);
    let joint = beliefs.joint_of_pair((mother, father), loci)?;
    let space = Space::new(&context.looks.book, loci);
    let pair = |at: usize| match mother == father {
        true => (at, at),
        false => (at / space.size, at % space.size),
    };
    let certain = joint.iter().enumerate().filter(|(_, p)| **p > 0.0);
    Ok(certain
        .map(|(at, p)| (space.genotype(pair(at).0), space.genotype(pair(at).1), *p))
        .collect())
}

/// The loci that some switched-on trait reads or that were stated of some plant.
fn loci_asked(context: &Context<'_>) -> Vec<LocusIx> {
    let traits = context.looks.traits.iter().filter(|look| look.switched_on);
    let mut loci: Vec<LocusIx> = traits
        .flat_map(|look| look.model.loci().iter().copied())
        .collect();
    let plants = context.index.facts.plant.iter();
    loci.extend(plants.flat_map(|row| context.plants.stated_loci(row.id)));
    loci.sort_unstable();
    loci.dedup();
    loci
}

/// A question about plants at loci.
struct Question<'c, 'a> {
    context: &'c Context<'a>,
    models: Vec<BatchModel>,
    rules: Rules,
    plants: Vec<i64>,
    loci: Vec<LocusIx>,
    /// The beliefs where nobody asks.
    base: Beliefs<'c>,
}

impl<'c, 'a> Question<'c, 'a> {
    fn new(
        context: &'c Context<'a>,
        rows: &[&'a BatchRow],
        plants: Vec<i64>,
        loci: Vec<LocusIx>,
    ) -> Self {
        let models = in_two_threads(rows, |row| BatchModel::new(context, row));
        let rules = Rules::default();
        let base = Beliefs::new(context, &models, &rules, &Asked::default());
        Self {
            context,
            models,
            rules,
            plants,
            loci,
            base,
        }
    }

    /// The loci of which anything is recorded: stated of a plant, or read by a trait that some plant was scored for.
    fn loci_recorded(&self) -> Vec<LocusIx> {
        let context = self.context;
        let mut loci: Vec<LocusIx> = self
            .models
            .iter()
            .flat_map(|model| model.space.loci.iter().copied())
            .collect();
        for row in &context.index.facts.plant {
            loci.extend(context.plants.stated_loci(row.id));
            for reading in context.plants.own_looks(row.id) {
                loci.extend(context.looks.traits[reading.look].model.loci());
            }
        }
        loci.sort_unstable();
        loci.dedup();
        loci
    }

    /// The beliefs in which these plants can be asked about at a locus; nothing where those of nobody asking will do.
    fn asking(&self, plants: &[i64], locus: LocusIx) -> Option<Beliefs<'c>> {
        let will_do = |plant: &i64| self.base.can_be_asked(*plant, locus);
        (!plants.iter().all(will_do)).then(|| {
            let asked = Asked {
                plants: plants.to_vec(),
                loci: vec![locus],
            };
            Beliefs::new(self.context, &self.models, &self.rules, &asked)
        })
    }

    /// For each plant the one that is asked in its stead: of seedlings of one batch that were read alike and of which
    /// nothing else is known, the first.
    fn stand_ins(&self, locus: LocusIx) -> Vec<i64> {
        let facts = self.context.index.facts;
        let mut first: HashMap<(i64, Option<usize>), i64> = HashMap::new();
        let mut groups = HashMap::new();
        for model in &self.models {
            for (member, group) in model.evidence.members.iter().zip(&model.group_of) {
                groups.extend(member.plant.map(|plant| (plant, *group)));
            }
        }
        let stand_in = |plant: &i64| {
            let batch = facts.plant.get(*plant).and_then(|row| row.batch_id);
            match batch {
                Some(batch) if !self.base.speaks(*plant, locus) => *first
                    .entry((batch, groups.get(plant).copied()))
                    .or_insert(*plant),
                _ => *plant,
            }
        };
        self.plants.iter().map(stand_in).collect()
    }

    fn answer(&self) -> Result<Vec<PlantBelief>, GenotypeError> {
        let facts = self.context.index.facts;
        let mut found: Vec<PlantBelief> = self
            .plants
            .iter()
            .map(|plant| PlantBelief {
                plant: *plant,
                label: facts
                    .plant
                    .get(*plant)
                    .map_or_else(String::new, |row| facts.plant_label(row)),
                loci: Vec::new(),
                evidence: Vec::new(),
                clashes: Vec::new(),
            })
            .collect();
        for locus in &self.loci {
            let stand_ins = self.stand_ins(*locus);
            let mut distinct = stand_ins.clone();
            distinct.sort_unstable();
            distinct.dedup();
            let own = self.asking(&distinct, *locus);
            let questions: Vec<(i64, LocusIx)> =
                distinct.iter().map(|plant| (*plant, *locus)).collect();
            let answers = own
                .as_ref()
                .unwrap_or(&self.base)
                .marginals(&questions, None)?;
            for (belief, stand_in) in found.iter_mut().zip(&stand_ins) {
                let at = distinct
                    .binary_search(stand_in)
                    .expect("every stand-in is asked");
                belief
                    .loci
                    .push(self.locus_belief(belief.plant, *locus, &answers[at]));
            }
        }
        Ok(found)
    }

    fn locus_belief(&self, plant: i64, locus: LocusIx, chances: &[f64]) -> LocusBelief {
        let of = self.context.looks.book.get(locus);
        let is_read = |model: &BatchModel| model.space.loci.contains(&locus);
        let is_stated = |id: i64| self.context.plants.stated(id, locus).is_some();
        let mut genotypes: Vec<(String, f64)> = self
            .context
            .plants
            .pairs(locus)
            .iter()
            .zip(chances)
            .map(|(pair, p)| (pair.written(of), *p))
            .collect();
        if chances.iter().all(|p| *p == 0.0) {
            genotypes.clear();
        }
        genotypes.sort_by(|one, other| other.1.total_cmp(&one.1));
        let related = self.models.iter();
        LocusBelief {
            locus: of.symbol.clone(),
            genotypes,
            stated: self.context.plants.stated(plant, locus),
            is_told: self.base.speaks(plant, locus)
                || related.clone().any(is_read)
                || related
                    .flat_map(|model| [model.mother, model.father])
                    .any(is_stated),
        }
    }

    /// What moved a plant, most moving first.
    fn evidence_of(&self, plant: i64, found: &PlantBelief) -> Result<Vec<Moved>, GenotypeError> {
        let items = self.items_near(plant);
        let mut best: Vec<Option<Moved>> = vec![None; items.len()];
        let told_loci = self
            .loci
            .iter()
            .zip(&found.loci)
            .filter(|(_, own)| own.is_told);
        for (locus, belief) in told_loci {
            let own = self.asking(&[plant], *locus);
            let beliefs = own.as_ref().unwrap_or(&self.base);
            let with = &beliefs.marginals(&[(plant, *locus)], None)?[0];
            for (item, best) in items.iter().zip(&mut best) {
                let without = &beliefs.marginals(&[(plant, *locus)], Some(*item))?[0];
                let changes = || with.iter().zip(without).map(|(a, b)| (a - b).abs());
                let moved = changes().sum::<f64>() / 2.0;
                if moved < WORTH_SAYING || best.as_ref().is_some_and(|best| best.moved >= moved) {
                    continue;
                }
                let most = changes()
                    .enumerate()
                    .max_by(|one, other| one.1.total_cmp(&other.1))
                    .map_or(0, |(at, _)| at);
                let of = self.context.looks.book.get(*locus);
                *best = Some(Moved {
                    told: told(self.context, &self.models, plant, *item),
                    locus: belief.locus.clone(),
                    genotype: self.context.plants.pairs(*locus)[most].written(of),
                    without: without[most],
                    with: with[most],
                    moved,
                });
            }
        }
        let mut found: Vec<Moved> = best.into_iter().flatten().collect();
        found.sort_by(|one, other| other.moved.total_cmp(&one.moved));
        Ok(found)
    }

    /// The records that can move a plant: its own statement and looks, those of its parents, partners and brood, and
    /// the batches that these are parents of or were kept from.
    fn items_near(&self, plant: i64) -> Vec<Item> {
        let facts = self.context.index.facts;
        let mut near = vec![plant];
        let row = facts.plant.get(plant);
        let parents = row.and_then(|row| parents_of(facts, row));
        near.extend(
            parents
                .into_iter()
                .flat_map(|(mother, father)| [mother, father]),
        );
        let own = self
            .models
            .iter()
            .filter(|model| model.mother == plant || model.father == plant);
        for model in own {
            near.extend([model.mother, model.father]);
            near.extend(
                self.context
                    .index
                    .seedlings_of(model.batch_id)
                    .iter()
                    .map(|row| row.id),
            );
        }
        near.sort_unstable();
        near.dedup();
        let origin = row.and_then(|row| row.batch_id);
        let is_near = |model: &&BatchModel| {
            Some(model.batch_id) == origin
                || near.contains(&model.mother)
                || near.contains(&model.father)
        };
        let batches = self.models.iter().filter(is_near);
        let mut items: Vec<Item> = batches.map(|model| Item::Batch(model.batch_id)).collect();
        for id in near {
            if self.context.plants.stated_loci(id).next().is_some() {
                items.push(Item::Statement(id));
            }
            if !self.context.plants.own_looks(id).is_empty() {
                items.push(Item::Looks(id));
            }
        }
        items
    }
}
