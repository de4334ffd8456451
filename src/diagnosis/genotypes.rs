//! What is known of the genotype of plants, and which records moved it.
//!
//! Every record that can move a plant is left out in turn, and what the answer loses is what the record told. Called by
//! `genotype`; asks nothing of the future.

use std::collections::HashMap;
use std::sync::Arc;

use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::segregation::AtLocus;
use crate::records::descent::parents_of;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::stats::elimination::TooManyCells;

use super::DiagnosisError;
use super::answer::EvidenceNote;
use super::batch::BatchModel;
use super::belief::{Beliefs, PAIR_CELLS_LIMIT, in_two_threads, too_large};
use super::clash::{Clash, clashes_of};
use super::context::{Basis, Context};
use super::graph::Item;
use super::group::LinkageGroup;
use super::kin::Asked;
use super::looks::Look;
use super::odd_readings::odd_of_plant;
use super::posterior::Rules;
use super::related::related_batches;
use super::set_aside::{SetAside, least_useful};
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
    #[error("{size}")]
    TooLarge {
        /// How large.
        size: TooManyCells,
        /// What makes it so large.
        cause: TooLargeCause,
        /// Linked loci, which are weighed as one: group by group.
        linked: Vec<Vec<String>>,
    },
}

/// What makes an exact answer too large.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TooLargeCause {
    /// A tray of which too many loci were read.
    Tray {
        /// Its code.
        tray: String,
        /// The traits read of it, the one missed least first.
        traits: Vec<String>,
    },
    /// Plants that are tied to each other in too many ways.
    Pedigree,
}

impl TooLargeCause {
    /// The first of some batches that can only be weighed without one of its traits.
    fn in_part(context: &Context<'_>, models: &[BatchModel]) -> Option<GenotypeError> {
        let mut in_part = models
            .iter()
            .filter(|one| !one.evidence.set_aside.is_empty());
        let model = in_part.next()?;
        let needed = model.evidence.notes.iter().find_map(|note| match note {
            EvidenceNote::TraitLeftOut { needed, .. } => Some(*needed),
            _ => None,
        });
        let code = context.index.facts.code_of(Thing::Batch, model.batch_id);
        let looks = model.evidence.set_aside.iter();
        let codes = looks.map(|at| context.looks.traits[*at].code.clone());
        Some(GenotypeError::TooLarge {
            size: TooManyCells {
                needed: needed.unwrap_or_default(),
                limit: PAIR_CELLS_LIMIT,
            },
            cause: Self::Tray {
                tray: code.unwrap_or_default().to_owned(),
                traits: codes.collect(),
            },
            linked: Vec::new(),
        })
    }

    /// Whether it is a batch.
    pub(super) fn is_of(&self, context: &Context<'_>, model: &BatchModel) -> bool {
        let code = context.index.facts.code_of(Thing::Batch, model.batch_id);
        matches!(self, Self::Tray { tray, .. } if Some(tray.as_str()) == code)
    }

    fn of(
        context: &Context<'_>,
        models: &[BatchModel],
        beliefs: &Beliefs<'_>,
        size: TooManyCells,
    ) -> Self {
        let declined = beliefs.declined_batch(size);
        let is_cause = |model: &&BatchModel| match declined {
            Some(batch) => model.batch_id == batch,
            None => too_large(model) == Some(size),
        };
        let mut of_traits = models
            .iter()
            .filter(|model| !model.profiles.traits.is_empty());
        let Some(model) = of_traits.find(is_cause) else {
            return Self::Pedigree;
        };
        let mut left = model.profiles.traits.clone();
        let mut read: Vec<&Look> = Vec::new();
        while let Some(at) = least_useful(context, &left) {
            left.retain(|other| *other != at);
            read.push(&context.looks.traits[at]);
        }
        let code = context.index.facts.code_of(Thing::Batch, model.batch_id);
        Self::Tray {
            tray: code.unwrap_or_default().to_owned(),
            traits: read.iter().map(|look| look.code.clone()).collect(),
        }
    }
}

impl GenotypeError {
    pub(super) fn too_large(
        context: &Context<'_>,
        models: &[BatchModel],
        beliefs: &Beliefs<'_>,
        size: TooManyCells,
    ) -> Self {
        let groups = context.groups().several();
        let symbols = |group: &Arc<LinkageGroup>| context.looks.symbols(&group.loci);
        let linked = groups.map(symbols).collect();
        let cause = TooLargeCause::of(context, models, beliefs, size);
        Self::TooLarge {
            size,
            cause,
            linked,
        }
    }
}

/// What is known of a plant at one locus.
#[derive(Debug, Clone, PartialEq)]
pub struct LocusBelief {
    /// The locus.
    pub locus: String,
    /// Its genotypes with their probabilities, the likeliest first; none where nothing explains what is recorded, where
    /// nothing is recorded of this locus, or nothing that speaks of the plant and the exact answer needs too large a
    /// table.
    pub genotypes: Vec<(String, f64)>,
    /// What is stated of the plant.
    pub stated: Option<String>,
    /// Whether anything recorded of the plant or its kin speaks of this locus.
    pub is_told: bool,
    /// How large a table the exact answer needs, where that is too large.
    pub declined: Option<TooManyCells>,
}

/// What is known of a plant at linked loci together.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupBelief {
    /// The loci, in their order along the chromosome.
    pub loci: Vec<String>,
    /// Its genotypes strand by strand with their probabilities, the likeliest first; none where nothing explains what is
    /// recorded.
    pub genotypes: Vec<(String, f64)>,
    /// P(it is heterozygous at two of them or more), so that its phase matters.
    pub has_phase: f64,
    /// How large a table the exact answer needs, where that is too large.
    pub declined: Option<TooManyCells>,
}

/// A record and what it moved.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// The record.
    pub told: Told,
    /// The locus where it moved most; where it moved nothing but how linked loci lie, all of these.
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
    /// Linked loci of which anything is recorded, together.
    pub groups: Vec<GroupBelief>,
    /// What moved it, most moving first; not worked out where all plants are asked about at once.
    pub evidence: Vec<Moved>,
    /// Records that clash.
    pub clashes: Vec<Clash>,
    /// What has to be said of its own readings; not worked out where all plants are asked about at once.
    pub odd: Vec<EvidenceNote>,
    /// The size of the table that telling which records moved it, or clash, would need, where that is too large.
    pub untold: Option<TooManyCells>,
    /// Traits that are left out, since with them the sums would be too large.
    pub left_out: Vec<EvidenceNote>,
}

/// What is known of one plant, what moved it, and what clashes.
///
/// # Errors
/// [`GenotypeError`] where a stored text cannot be read or the exact answer needs too large a table.
pub fn genotype_of(facts: &Facts, plant: i64) -> Result<PlantBelief, GenotypeError> {
    let basis = Basis::of(facts)?;
    let mut aside = SetAside::default();
    let mut first: Option<(PlantBelief, GenotypeError)> = None;
    // Ends, since one trait more is set aside each time.
    loop {
        let context = basis.context()?.without(aside.clone());
        let rows = related_batches(&context, [plant], Default::default());
        let mut asked = Question::new(&context, &rows, vec![plant], Vec::new());
        asked.loci = asked.loci_recorded();
        let mut found = asked.answer().remove(0);
        if let Some((before, _)) = &first {
            found.take_answered(before);
        }
        let Some(size) = found.declined() else {
            asked.finish(&mut found, plant);
            return Ok(found);
        };
        let error = asked.too_large(size);
        if !asked.set_aside_one(&mut aside, size) {
            return Err(first.map_or(error, |(_, error)| error));
        }
        first = Some(match first {
            Some((_, error)) => (found, error),
            None => (found, error),
        });
    }
}

/// What is known of every plant that has a code, at the loci of which anything is recorded; where the exact answer for one
/// of them at one locus is too large, this says so in its place.
///
/// # Errors
/// [`GenotypeError`] where a stored text cannot be read.
pub fn genotypes_of_all(facts: &Facts) -> Result<Vec<PlantBelief>, GenotypeError> {
    let basis = Basis::of(facts)?;
    let context = basis.context()?;
    let has_code = |id: &i64| !facts.codes_of(Thing::Plant, *id).is_empty();
    let plants = facts.plant.iter().map(|row| row.id).filter(has_code);
    let rows: Vec<_> = facts.batch.iter().collect();
    let mut asked = Question::new(&context, &rows, plants.collect(), Vec::new());
    asked.loci = asked.loci_recorded();
    let mut all = asked.answer();
    for found in &mut all {
        found.left_out = asked.base.traits_left_out_of(found.plant);
        if found.declined().is_some() {
            found.take_from_others(facts)?;
        }
    }
    Ok(all)
}

impl PlantBelief {
    /// How large a table is needed, where at some locus that is too large.
    fn declined(&self) -> Option<TooManyCells> {
        let by_locus = self.loci.iter().map(|own| own.declined);
        let all = by_locus.chain(self.groups.iter().map(|own| own.declined));
        all.flatten().next()
    }

    /// Takes from another answer about the same plant what was answered there in full.
    fn take_answered(&mut self, before: &Self) {
        for own in &mut self.loci {
            let mut there = before.loci.iter().filter(|one| one.declined.is_none());
            if let Some(answered) = there.find(|one| one.locus == own.locus) {
                *own = answered.clone();
            }
        }
        for own in &mut self.groups {
            let mut there = before.groups.iter().filter(|one| one.declined.is_none());
            if let Some(answered) = there.find(|one| one.loci == own.loci) {
                *own = answered.clone();
            }
        }
    }

    /// What is too large to answer beside all other plants is asked alone, with traits set aside where it must be.
    fn take_from_others(&mut self, facts: &Facts) -> Result<(), GenotypeError> {
        match genotype_of(facts, self.plant) {
            Ok(alone) => {
                for own in self.loci.iter_mut().filter(|own| own.declined.is_some()) {
                    let answered = alone.loci.iter().find(|one| one.locus == own.locus);
                    answered.into_iter().for_each(|one| *own = one.clone());
                }
                for own in self.groups.iter_mut().filter(|own| own.declined.is_some()) {
                    let answered = alone.groups.iter().find(|one| one.loci == own.loci);
                    answered.into_iter().for_each(|one| *own = one.clone());
                }
                self.left_out = alone.left_out;
                Ok(())
            }
            Err(GenotypeError::TooLarge { .. }) => Ok(()),
            Err(unreadable) => Err(unreadable),
        }
    }
}

/// Genotypes of a mother and of a father, locus by locus, and their probability.
pub type BelievedPair = (Vec<AtLocus>, Vec<AtLocus>, f64);

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
    let context = &Context::asking(context.looks, context.index, context.beliefs, loci)?;
    let rows = related_batches(context, [mother, father], Default::default());
    let models = in_two_threads(&rows, |row| BatchModel::new(context, row));
    let asked = Asked {
        plants: vec![mother, father],
        loci: loci.to_vec(),
    };
    let beliefs = Beliefs::new(context, &models, &Rules::default(), &asked);
    if let Some(cause) = TooLargeCause::in_part(context, &models) {
        return Err(cause);
    }
    let joint = beliefs.joint_of_pair((mother, father), loci);
    let joint = joint.map_err(|size| GenotypeError::too_large(context, &models, &beliefs, size))?;
    let space = context.groups().space(loci);
    let pair = |at: usize| match mother == father {
        true => (at, at),
        false => (at / space.size, at % space.size),
    };
    let certain = joint.iter().enumerate().filter(|(_, p)| **p > 0.0);
    Ok(certain
        .map(|(at, p)| (at_loci(&space, pair(at).0), at_loci(&space, pair(at).1), *p))
        .collect())
}

/// A joint genotype locus by locus, those that are linked with their phase.
pub(super) fn at_loci(space: &Space, joint: usize) -> Vec<AtLocus> {
    let strands = space.strands(joint);
    let of_locus = |(place, strands): (usize, &[u8; 2])| match space.is_linked(place) {
        true => AtLocus::Phased(*strands),
        false => AtLocus::Known(Diploid::new(strands[0], strands[1])),
    };
    strands.iter().enumerate().map(of_locus).collect()
}

/// The loci that some switched-on trait reads and of which nothing is recorded.
fn unrecorded(context: &Context<'_>, recorded: &[LocusIx]) -> Vec<LocusBelief> {
    let traits = context.looks.traits.iter().enumerate();
    let on: Vec<usize> = traits
        .filter(|(_, look)| look.switched_on)
        .map(|(at, _)| at)
        .collect();
    let mut loci = context.looks.loci_read(&on);
    loci.retain(|locus| !recorded.contains(locus));
    let symbols = context.looks.symbols(&loci).into_iter();
    symbols
        .map(|locus| LocusBelief {
            locus,
            genotypes: Vec::new(),
            stated: None,
            is_told: false,
            declined: None,
        })
        .collect()
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

    fn answer(&self) -> Vec<PlantBelief> {
        let facts = self.context.index.facts;
        let mut found: Vec<PlantBelief> = self
            .plants
            .iter()
            .map(|plant| PlantBelief {
                plant: *plant,
                label: facts.label_of_plant(*plant),
                loci: Vec::new(),
                groups: Vec::new(),
                evidence: Vec::new(),
                clashes: Vec::new(),
                odd: Vec::new(),
                untold: None,
                left_out: Vec::new(),
            })
            .collect();
        for locus in &self.loci {
            let answers = self.each_marginal(&self.context.groups().space(&[*locus]));
            for (belief, answer) in found.iter_mut().zip(answers) {
                let chances = answer.as_ref().map_or(&[][..], |all| all);
                let mut own = self.locus_belief(belief.plant, *locus, chances);
                own.declined = answer.err().filter(|_| own.is_told);
                belief.loci.push(own);
            }
        }
        for group in self.context.groups().several() {
            let answers = self.each_marginal(&self.context.groups().space(&group.loci));
            for (belief, answer) in found.iter_mut().zip(answers) {
                let chances = answer.as_ref().map_or(&[][..], |all| all);
                let mut own = self.group_belief(group, chances);
                own.declined = answer.err();
                belief.groups.push(own);
            }
        }
        found
    }

    /// For each plant asked about its marginal over a space of loci handed on together, or why there is none: asked one
    /// by one where the question for all of them at once is too large.
    fn each_marginal(&self, space: &Space) -> Vec<Result<Vec<f64>, TooManyCells>> {
        let stand_ins = self.stand_ins(space.loci[0]);
        match self.marginals(&stand_ins, space) {
            Ok(answers) => answers.into_iter().map(Ok).collect(),
            Err(size) if stand_ins.len() == 1 => vec![Err(size)],
            Err(_) => {
                let one = |plant: &i64| Ok(self.marginals(&[*plant], space)?.remove(0));
                stand_ins.iter().map(one).collect()
            }
        }
    }

    /// The marginals of some plants over a space of loci handed on together.
    fn marginals(&self, stand_ins: &[i64], space: &Space) -> Result<Vec<Vec<f64>>, TooManyCells> {
        let mut distinct = stand_ins.to_vec();
        distinct.sort_unstable();
        distinct.dedup();
        let own = self.asking(&distinct, space.loci[0]);
        let beliefs = own.as_ref().unwrap_or(&self.base);
        let answers = beliefs.marginals(&distinct, space, None)?;
        let of = |stand_in: &i64| {
            let at = distinct.binary_search(stand_in);
            answers[at.expect("every stand-in is asked")].clone()
        };
        Ok(stand_ins.iter().map(of).collect())
    }

    /// What moved a plant, what clashes, and what has to be said.
    fn finish(&self, found: &mut PlantBelief, plant: i64) {
        // What is known stands even where the records cannot be left out one by one.
        match self.evidence_of(plant, found) {
            Ok(evidence) => found.evidence = evidence,
            Err(size) => found.untold = Some(size),
        }
        found.odd = odd_of_plant(self.context.index, plant);
        found.loci.extend(unrecorded(self.context, &self.loci));
        match clashes_of(self.context, &self.rules, &self.models, &self.base, plant) {
            Ok(clashes) => found.clashes = clashes,
            Err(size) => found.untold = Some(size),
        }
        found.left_out = self.base.traits_left_out();
    }

    /// Sets one more trait aside, of the batch that is too large where one is; false where none is left.
    fn set_aside_one(&self, aside: &mut SetAside, size: TooManyCells) -> bool {
        let declined = self.base.declined_batch(size);
        let is_first = |model: &&BatchModel| Some(model.batch_id) == declined;
        let (first, others): (Vec<&BatchModel>, Vec<_>) = self.models.iter().partition(is_first);
        aside.add(self.context, &[first, others].concat(), size)
    }

    fn too_large(&self, size: TooManyCells) -> GenotypeError {
        GenotypeError::too_large(self.context, &self.models, &self.base, size)
    }

    fn group_belief(&self, group: &LinkageGroup, chances: &[f64]) -> GroupBelief {
        let book = &self.context.looks.book;
        let all = chances.iter().enumerate().filter(|(_, p)| **p > 0.0);
        let mut genotypes: Vec<(String, f64)> = all
            .clone()
            .map(|(at, p)| (group.written(at, book), *p))
            .collect();
        genotypes.sort_by(|one, other| other.1.total_cmp(&one.1));
        GroupBelief {
            loci: self.context.looks.symbols(&group.loci),
            genotypes,
            has_phase: all
                .filter(|(at, _)| group.phases(*at) > 1)
                .map(|(_, p)| p)
                .sum(),
            declined: None,
        }
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
            declined: None,
            is_told: self.base.speaks(plant, locus)
                || related.clone().any(is_read)
                || related
                    .flat_map(|model| [model.mother, model.father])
                    .any(is_stated),
        }
    }

    /// What moved a plant, most moving first.
    fn evidence_of(&self, plant: i64, found: &PlantBelief) -> Result<Vec<Moved>, TooManyCells> {
        let items = self.items_near(plant);
        let mut best: Vec<Option<Moved>> = vec![None; items.len()];
        let told_loci = self
            .loci
            .iter()
            .zip(&found.loci)
            .filter(|(_, own)| own.is_told);
        for (locus, _) in told_loci {
            let space = self.context.groups().space(&[*locus]);
            self.move_most(plant, &space, &items, &mut best)?;
        }
        for group in self.context.groups().several() {
            let space = self.context.groups().space(&group.loci);
            let silent: Vec<usize> = (0..items.len()).filter(|at| best[*at].is_none()).collect();
            let left: Vec<Item> = silent.iter().map(|at| items[*at]).collect();
            let mut phase: Vec<Option<Moved>> = vec![None; left.len()];
            self.move_most(plant, &space, &left, &mut phase)?;
            silent
                .iter()
                .zip(phase)
                .for_each(|(at, moved)| best[*at] = moved);
        }
        let mut found: Vec<Moved> = best.into_iter().flatten().collect();
        found.sort_by(|one, other| other.moved.total_cmp(&one.moved));
        Ok(found)
    }

    /// Leaves records out in turn, and enters for each what it moves over a space where that is more than before.
    fn move_most(
        &self,
        plant: i64,
        space: &Space,
        items: &[Item],
        best: &mut [Option<Moved>],
    ) -> Result<(), TooManyCells> {
        let (unit, book) = (&space.units[0], &self.context.looks.book);
        let own = self.asking(&[plant], space.loci[0]);
        let beliefs = own.as_ref().unwrap_or(&self.base);
        let with = &beliefs.marginals(&[plant], space, None)?[0];
        for (item, best) in items.iter().zip(best) {
            let without = &beliefs.marginals(&[plant], space, Some(*item))?[0];
            let changes = || with.iter().zip(without).map(|(a, b)| (a - b).abs());
            let moved = changes().sum::<f64>() / 2.0;
            if moved < WORTH_SAYING || best.as_ref().is_some_and(|best| best.moved >= moved) {
                continue;
            }
            let most = changes()
                .enumerate()
                .max_by(|one, other| one.1.total_cmp(&other.1))
                .map_or(0, |(at, _)| at);
            *best = Some(Moved {
                told: told(self.context, &self.models, plant, *item),
                locus: self.context.looks.symbols(&unit.loci).join(" "),
                genotype: unit.written(most, book),
                without: without[most],
                with: with[most],
                moved,
            });
        }
        Ok(())
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
