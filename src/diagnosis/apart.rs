//! What is known of each of several plants at several sets of loci, each set by itself, by everything recorded.
//!
//! Asking set by set keeps the tables small, where a question about all loci at once would be too large: what is known
//! of one set is taken to say nothing of another. A seedling kept from a tray is asked linkage group by linkage group,
//! unless its own looks speak of several of a set together. Called by the plans of crosses; what is wanted of a plant is
//! not known here.

use crate::genetics::locus::LocusIx;
use crate::records::rows::BatchRow;

use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads};
use super::context::Context;
use super::genotypes::GenotypeError;
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
        if plants.is_empty() {
            return Ok(Vec::new());
        }
        for unit in &space.units {
            let own = self.context.groups().space(&unit.loci);
            let asked = self.asking(plants.to_vec(), &unit.loci);
            let answers = match self.marginals(&asked, plants, &own) {
                Ok(answers) => answers,
                Err(_) => self.one_by_one(plants, &own)?,
            };
            by_plant
                .iter_mut()
                .zip(answers)
                .for_each(|(list, answer)| list.push(answer));
        }
        Ok(by_plant
            .iter()
            .map(|by_unit| space.joint(by_unit))
            .collect())
    }

    fn one_by_one(&self, plants: &[i64], space: &Space) -> Result<Vec<Vec<f64>>, GenotypeError> {
        let ask = |plant: &i64| {
            let asked = self.asking(vec![*plant], &space.loci);
            let answer = self.marginals(&asked, &[*plant], space);
            answer.map(|mut answer| answer.remove(0))
        };
        plants.iter().map(ask).collect()
    }
}
