//! What is known of each of several plants at several sets of loci, each set by itself, by everything recorded.
//!
//! Asking set by set keeps the tables small, where a question about all loci at once would be too large: what is known
//! of one set is taken to say nothing of another. A seedling kept from a tray is asked linkage group by linkage group,
//! unless its own looks speak of several of a set together; where nothing recorded of it or its tray speaks of a group it
//! has what its likely parents hand on. Called by the plans of crosses; what is wanted of a plant is not known here.

use std::collections::HashMap;

use crate::genetics::locus::LocusIx;
use crate::records::descent::likely_parents;
use crate::records::rows::BatchRow;

use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads};
use super::context::Context;
use super::genotypes::GenotypeError;
use super::group::{LinkageGroup, Side};
use super::kin::Asked;
use super::posterior::Rules;
use super::related::related_batches;
use super::space::Space;

/// P(joint genotype) of each plant over the space of each set of loci, set by set and plant by plant; all zeros where
/// nothing explains what is recorded. The context has to be asking about these loci.
///
/// # Errors
/// [`GenotypeError`] where the exact answer needs too large a table.
pub fn known_apart(
    context: &Context<'_>,
    plants: &[i64],
    sets: &[Vec<LocusIx>],
) -> Result<Vec<Vec<Vec<f64>>>, GenotypeError> {
    let rows = related_batches(context, plants.iter().copied(), Default::default());
    let models = in_two_threads(&rows, |row: &&BatchRow| BatchModel::new(context, row));
    let rules = Rules::default();
    let inquiry = Inquiry {
        context,
        base: Beliefs::new(context, &models, &rules, &Asked::default()),
        models: &models,
        rules: &rules,
    };
    sets.iter().map(|set| inquiry.of_set(plants, set)).collect()
}

/// A question put to the same batches over and over.
struct Inquiry<'i> {
    context: &'i Context<'i>,
    models: &'i [BatchModel],
    rules: &'i Rules,
    /// The beliefs where nobody asks.
    base: Beliefs<'i>,
}

impl Inquiry<'_> {
    fn of_set(&self, plants: &[i64], loci: &[LocusIx]) -> Result<Vec<Vec<f64>>, GenotypeError> {
        let space = self.context.groups().space(loci);
        let (ready, kept): (Vec<i64>, Vec<i64>) = plants.iter().partition(|plant| {
            let can = |locus: &LocusIx| self.base.can_be_asked(**plant, *locus);
            loci.iter().all(can)
        });
        let answers = self.marginals(&self.base, &ready, &space)?;
        let mut found: Vec<(i64, Vec<f64>)> = ready.into_iter().zip(answers).collect();
        let (together, apart): (Vec<i64>, Vec<i64>) = kept
            .iter()
            .partition(|plant| self.speaks_of_several(**plant, &space));
        let mut left = apart;
        for plant in together {
            let asked = self.asking(vec![plant], loci);
            match self.marginals(&asked, &[plant], &space) {
                Ok(mut answer) => found.push((plant, answer.remove(0))),
                Err(_) => left.push(plant),
            }
        }
        let answers = self.group_by_group(&left, &space)?;
        found.extend(left.into_iter().zip(answers));
        let of = |plant: &i64| {
            let own = found.iter().position(|(known, _)| known == plant);
            found[own.expect("every plant was asked")].1.clone()
        };
        Ok(plants.iter().map(of).collect())
    }

    /// Whether the looks recorded of a plant speak of several linkage groups at once.
    fn speaks_of_several(&self, plant: i64, space: &Space) -> bool {
        let speaks = |locus: &LocusIx| self.base.speaks(plant, *locus);
        let units = space.units.iter();
        units.filter(|unit| unit.loci.iter().any(speaks)).count() > 1
    }

    fn asking(&self, plants: Vec<i64>, loci: &[LocusIx]) -> Beliefs<'_> {
        let asked = Asked {
            plants,
            loci: loci.to_vec(),
        };
        Beliefs::new(self.context, self.models, self.rules, &asked)
    }

    fn marginals(
        &self,
        beliefs: &Beliefs<'_>,
        plants: &[i64],
        space: &Space,
    ) -> Result<Vec<Vec<f64>>, GenotypeError> {
        let found = beliefs.marginals(plants, space, None);
        found.map_err(|size| GenotypeError::too_large(self.context, self.models, beliefs, size))
    }

    /// Plants asked about each linkage group by itself.
    fn group_by_group(
        &self,
        plants: &[i64],
        space: &Space,
    ) -> Result<Vec<Vec<f64>>, GenotypeError> {
        let mut by_plant: Vec<Vec<Vec<f64>>> = vec![Vec::new(); plants.len()];
        for unit in &space.units {
            let answers = self.at_group(plants, unit)?;
            let lists = by_plant.iter_mut().zip(answers);
            lists.for_each(|(list, answer)| list.push(answer));
        }
        Ok(by_plant
            .iter()
            .map(|by_unit| space.joint(by_unit))
            .collect())
    }

    fn at_group(
        &self,
        plants: &[i64],
        unit: &LinkageGroup,
    ) -> Result<Vec<Vec<f64>>, GenotypeError> {
        let space = self.context.groups().space(&unit.loci);
        let (silent, heard): (Vec<i64>, Vec<i64>) = plants
            .iter()
            .partition(|plant| self.is_silent(**plant, unit));
        let answers = match heard.is_empty() {
            true => Vec::new(),
            false => self.asked_of_all(&heard, &space)?,
        };
        let mut found: HashMap<i64, Vec<f64>> = heard.into_iter().zip(answers).collect();
        for plant in silent {
            let handed_on = self.handed_on(plant, unit, &mut found)?;
            found.insert(plant, handed_on);
        }
        Ok(plants.iter().map(|plant| found[plant].clone()).collect())
    }

    /// Whether nothing recorded of a seedling, its offspring or its tray speaks of a linkage group.
    fn is_silent(&self, plant: i64, unit: &LinkageGroup) -> bool {
        let row = self.context.index.facts.plant.get(plant);
        let batch = row.and_then(|row| row.batch_id);
        let read = batch.map(|batch| self.base.known.kin.loci_of_batch(batch));
        let speaks = |locus: &LocusIx| {
            self.base.speaks(plant, *locus)
                || read.as_ref().is_some_and(|read| read.contains(locus))
        };
        batch.is_some() && !unit.loci.iter().any(speaks)
    }

    /// What the likely parents of a seedling hand on to it; `known` are plants worked out already.
    fn handed_on(
        &self,
        plant: i64,
        unit: &LinkageGroup,
        known: &mut HashMap<i64, Vec<f64>>,
    ) -> Result<Vec<f64>, GenotypeError> {
        let facts = self.context.index.facts;
        let row = facts.plant.get(plant);
        let (mother, father) = row.map_or((None, None), |row| likely_parents(facts, row));
        let mut of = |parent: Option<i64>| -> Result<Option<Vec<f64>>, GenotypeError> {
            let Some(parent) = parent else {
                return Ok(None);
            };
            if !known.contains_key(&parent) {
                let own = match self.is_silent(parent, unit) {
                    true => self.handed_on(parent, unit, known)?,
                    false => {
                        let space = self.context.groups().space(&unit.loci);
                        self.asked_of_all(&[parent], &space)?.remove(0)
                    }
                };
                known.insert(parent, own);
            }
            Ok(Some(known[&parent].clone()))
        };
        let (she, he) = (of(mother)?, of(father)?);
        let grains = |own: Option<&Vec<f64>>, side: Side| match own {
            Some(own) => unit.mean_gametes(own, side),
            None => self.context.plants.strangers(unit),
        };
        Ok(match &she {
            Some(own) if mother == father => unit.selfed(own),
            _ => unit.union(
                &grains(she.as_ref(), Side::Egg),
                &grains(he.as_ref(), Side::Pollen),
            ),
        })
    }

    /// Plants asked all at once, or one by one where that is too large.
    fn asked_of_all(&self, plants: &[i64], space: &Space) -> Result<Vec<Vec<f64>>, GenotypeError> {
        let is_ready = |plant: &i64| {
            let mut loci = space.loci.iter();
            loci.all(|locus| self.base.can_be_asked(*plant, *locus))
        };
        if plants.iter().all(is_ready) {
            return self.marginals(&self.base, plants, space);
        }
        let asked = self.asking(plants.to_vec(), &space.loci);
        if let Ok(answers) = self.marginals(&asked, plants, space) {
            return Ok(answers);
        }
        let ask = |plant: &i64| {
            let asked = self.asking(vec![*plant], &space.loci);
            let answer = self.marginals(&asked, &[*plant], space);
            answer.map(|mut answer| answer.remove(0))
        };
        plants.iter().map(ask).collect()
    }
}
