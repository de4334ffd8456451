//! The weights of the plants that one batch names, from everything but that batch.
//!
//! What the batches of other parents say of mother, father and every further plant is asked at once and kept for all
//! batches of one pair: given the pair's genotypes, no batch of theirs tells more of a third plant. The other batches of
//! the pair are then weights of its genotypes. Called where a batch is weighed; the sums over plants are left to the
//! elimination.

use std::collections::{HashMap, HashSet};
use std::sync::{Arc, Mutex};

use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;
use crate::stats::elimination::{Factor, TooManyCells, marginal};
use crate::stats::junction::marginals;

use super::batch::BatchModel;
use super::belief::{Beliefs, CELLS_LIMIT, in_logs_if_nothing, widen};
use super::graph::{Graph, Item, LeftOut, plain, sum_tables};
use super::recipe::Recipe;
use super::space::Space;
use super::weights::{PlantWeights, Thirds};

/// Most cells of joint weights that are kept from batch to batch (64 MB).
const MOST_KEPT: usize = 8_000_000;

/// The third plants of a source, and the cytoplasm of the seed that two of them make.
type ThirdPlants = (Vec<i64>, Option<Cytoplasm>);

/// By what joint weights are told apart: mother and father, traits read, loci of the pair's batches, and the batch
/// itself where plants were kept from it.
type JointKey = (i64, i64, Vec<usize>, Vec<LocusIx>, Option<i64>);

/// What all batches but those of one pair of parents say of them and of further plants.
#[derive(Debug, Clone)]
struct Joint {
    /// Of each pair of genotypes.
    pairs: Arc<Vec<f64>>,
    /// Of third plants, given the pair.
    thirds: HashMap<ThirdPlants, Arc<Thirds>>,
}

/// By plant: the weight of each joint genotype.
type ByPlant = HashMap<i64, Arc<Vec<f64>>>;

/// What is kept from batch to batch.
#[derive(Debug, Default)]
pub(super) struct Kept {
    joints: Mutex<HashMap<JointKey, Arc<Joint>>>,
    /// Plants by their first factor and own looks, by loci.
    alone: Mutex<HashMap<Vec<LocusIx>, ByPlant>>,
}

impl LeftOut {
    /// What is left out for a batch that is asked about: itself, and the others of its parents, which are weighed in
    /// one by one.
    const fn asking(model: &BatchModel) -> Self {
        Self {
            pair: Some((model.mother, model.father)),
            item: Some(Item::Batch(model.batch_id)),
        }
    }
}

/// What the third plants of each candidate are told apart by; nothing for one that names none.
fn third_plants(model: &BatchModel) -> impl Iterator<Item = Option<ThirdPlants>> + '_ {
    let candidates = model.thirds().iter().zip(model.recipes());
    candidates.map(|(plants, recipe)| {
        let cytoplasm = match recipe {
            Recipe::Plants(_, _, cytoplasm) if plants.len() > 1 => Some(*cytoplasm),
            _ => None,
        };
        (!plants.is_empty()).then(|| (plants.clone(), cytoplasm))
    })
}

impl Beliefs<'_> {
    /// Weights of a batch's plants by their first factor and own looks alone; used inside other batches' tables.
    pub(super) fn local_weights(&self, model: &BatchModel) -> PlantWeights {
        let held = "no thread panics while it looks up a plant";
        let mut alone = self.kept.alone.lock().expect(held);
        if !alone.contains_key(&model.space.loci) {
            alone.insert(model.space.loci.clone(), HashMap::new());
        }
        let known = alone
            .get_mut(&model.space.loci)
            .expect("it was just looked up");
        let mut own = |plant: i64| {
            let made = || Arc::new(self.alone(plant, &model.space));
            Arc::clone(known.entry(plant).or_insert_with(made))
        };
        let nobody = Arc::new(Thirds::nobody());
        let thirds = third_plants(model).map(|plants| match plants {
            None => Arc::clone(&nobody),
            Some((plants, None)) => Arc::new(Thirds::whatever_the_pair(own(plants[0]).to_vec())),
            Some((plants, Some(cytoplasm))) => {
                let [of, by] = [own(plants[0]), own(plants[1])];
                let joint = of.iter().flat_map(|p| by.iter().map(move |q| p * q));
                let joint: Vec<f64> = joint.collect();
                let seeds = model.frame().seeds().of_plants(&joint, cytoplasm);
                Arc::new(Thirds::whatever_the_pair(seeds))
            }
        });
        let thirds = thirds.collect();
        PlantWeights::new(vec![1.0; model.pair_count()], thirds)
    }

    /// A plant's first factor and own looks over the joint genotypes of a space, normalised.
    pub(super) fn alone(&self, plant: i64, space: &Space) -> Vec<f64> {
        let units = space.units.iter();
        let by_unit: Vec<Vec<f64>> = units
            .map(|unit| self.known.context.plants.group_factor(plant, unit))
            .collect();
        let mut joint = space.joint(&by_unit);
        let plants = &self.known.context.plants;
        for reading in plants.own_looks(plant) {
            let chances = plants.look_chances(plant, &reading, space);
            for (p, chance) in joint.iter_mut().zip(chances.into_iter().flatten()) {
                *p *= chance;
            }
        }
        normalise(&mut joint);
        joint
    }

    /// The weights of the plants that a batch names, from everything but that batch.
    ///
    /// # Errors
    /// [`TooManyCells`] where the exact answer needs too large a table.
    pub fn weights(&self, model: &BatchModel) -> Result<PlantWeights, TooManyCells> {
        if model.space.loci.is_empty() {
            return Ok(self.local_weights(model));
        }
        let held = self.known.pairs.get(&(model.mother, model.father));
        let wide = held.map_or_else(
            || Arc::clone(&model.space),
            |held| self.both(&held.space, model),
        );
        let joint = self.joint(model, &wide)?;
        let mut others = self.others(model, joint.pairs.len());
        if let Some(held) = held.filter(|held| held.space.size < wide.size) {
            others = widen(&others, &held.space, &wide, model.is_self());
        }
        let mut pairs: Vec<f64> = joint
            .pairs
            .iter()
            .zip(&others)
            .map(|(p, weight)| p * weight)
            .collect();
        normalise(&mut pairs);
        let narrowed;
        let (pairs, thirds) = if wide.size == model.space.size {
            (pairs, &joint.thirds)
        } else {
            let to = pairs_within(model, &wide);
            let all = joint.thirds.iter();
            let narrow = |(plants, own): (&ThirdPlants, &Arc<Thirds>)| {
                let own = own.narrowed(&pairs, &to, model.pair_count());
                (plants.clone(), Arc::new(own))
            };
            narrowed = all.map(narrow).collect();
            let mut sums = vec![0.0; model.pair_count()];
            to.iter().zip(&pairs).for_each(|(to, p)| sums[*to] += p);
            (sums, &narrowed)
        };
        let nobody = Arc::new(Thirds::nobody());
        let of = |plants: Option<ThirdPlants>| {
            let own = plants.map_or(&nobody, |plants| &thirds[&plants]);
            Arc::clone(own)
        };
        let thirds = third_plants(model).map(of).collect();
        Ok(PlantWeights::new(pairs, thirds))
    }

    /// The space of a pair of parents, with the loci that a batch of theirs is asked about besides.
    fn both(&self, held: &Space, model: &BatchModel) -> Arc<Space> {
        let mut loci = held.loci.clone();
        loci.extend(&model.space.loci);
        loci.sort_unstable();
        loci.dedup();
        if loci == model.space.loci {
            return Arc::clone(&model.space);
        }
        Arc::new(self.known.context.groups().space(&loci))
    }

    /// Likelihood of the other batches of the same parents, for each pair of genotypes.
    fn others(&self, model: &BatchModel, cells: usize) -> Vec<f64> {
        let Some(pair) = self.known.pairs.get(&(model.mother, model.father)) else {
            return vec![1.0; cells];
        };
        let lns = match pair.tables.get(&model.batch_id) {
            None => pair.total.clone(),
            Some(own) if own.iter().all(|ln| ln.is_finite()) => pair
                .total
                .iter()
                .zip(own)
                .map(|(sum, ln)| sum - ln)
                .collect(),
            Some(own) if pair.tables.len() == 1 => return vec![1.0; own.len()],
            Some(_) => sum_tables(
                pair.tables
                    .iter()
                    .filter(|(id, _)| **id != model.batch_id)
                    .map(|(_, table)| table),
            ),
        };
        plain(&lns)
    }

    /// The joint weights of a batch's plants over pairs of genotypes of a wide space, from everything but the batches of
    /// its pair of parents; what is not kept yet is worked out.
    fn joint(&self, model: &BatchModel, wide: &Space) -> Result<Arc<Joint>, TooManyCells> {
        let is_family = self.known.families.contains_key(&model.batch_id);
        let key = (
            model.mother,
            model.father,
            model.profiles.traits.clone(),
            wide.loci.clone(),
            is_family.then_some(model.batch_id),
        );
        let held = "no thread panics while it holds the joints";
        let known = self.kept.joints.lock().expect(held).get(&key).cloned();
        let mut missing: Vec<ThirdPlants> = Vec::new();
        for plants in third_plants(model).flatten() {
            let known = known.as_ref();
            let is_known = known.is_some_and(|joint| joint.thirds.contains_key(&plants));
            if !is_known && !missing.contains(&plants) {
                missing.push(plants);
            }
        }
        if let Some(known) = known.as_ref().filter(|_| missing.is_empty()) {
            return Ok(Arc::clone(known));
        }
        let mut made = self.ask_joint(model, wide, missing)?;
        if let Some(known) = known {
            let before = known.thirds.iter();
            let before = before.map(|(plants, own)| (plants.clone(), Arc::clone(own)));
            made.thirds.extend(before);
        }
        let made = Arc::new(made);
        let mut joints = self.kept.joints.lock().expect(held);
        let cells: usize = joints.values().map(|joint| joint.cells()).sum();
        if cells + made.cells() > MOST_KEPT {
            joints.clear();
        }
        joints.insert(key, Arc::clone(&made));
        Ok(made)
    }

    fn ask_joint(
        &self,
        model: &BatchModel,
        wide: &Space,
        thirds: Vec<ThirdPlants>,
    ) -> Result<Joint, TooManyCells> {
        let tied = self.tied_to_parents(model);
        let mut graph = Graph::new(&self.known, LeftOut::asking(model));
        let mut parents: Vec<usize> = Vec::new();
        let of_pair = if model.is_self() { 1 } else { 2 };
        for parent in [model.mother, model.father].into_iter().take(of_pair) {
            parents.extend(wide.units.iter().map(|unit| graph.var(parent, unit)));
        }
        let mut sets = vec![parents.clone()];
        for (plants, _) in &thirds {
            let is_tied = plants.iter().any(|plant| tied.contains(plant));
            let mut set = if is_tied { parents.clone() } else { Vec::new() };
            for plant in plants {
                set.extend(model.space.units.iter().map(|unit| graph.var(*plant, unit)));
            }
            sets.push(set);
        }
        graph.grow();
        if let Some(size) = graph.too_large {
            return Err(size);
        }
        let mut answers = answers(&graph, &sets)?.into_iter();
        let pairs = answers.next().expect("the pair was asked first");
        let states =
            |plants: &[i64]| -> usize { plants.iter().map(|_| model.space.size).product() };
        let rows = thirds.into_iter().zip(answers);
        let rows = rows.map(|((plants, cytoplasm), joint)| {
            let width = states(&plants);
            let seeds = model.frame().seeds();
            let rows = match cytoplasm {
                None => Thirds::given_pair(joint, width),
                Some(cytoplasm) => {
                    let rows = joint.chunks(width);
                    let by_seed = rows.flat_map(|row| seeds.of_plants(row, cytoplasm));
                    Thirds::given_pair(by_seed.collect(), seeds.len())
                }
            };
            ((plants, cytoplasm), Arc::new(rows))
        });
        Ok(Joint {
            thirds: rows.collect(),
            pairs: Arc::new(pairs),
        })
    }

    /// The plants that anything but this pair's own batches ties to the mother or father.
    fn tied_to_parents(&self, model: &BatchModel) -> HashSet<i64> {
        let own = (model.mother, model.father);
        let mut left = vec![model.mother, model.father];
        let mut met: HashSet<i64> = left.iter().copied().collect();
        while let Some(plant) = left.pop() {
            let partners = self.known.tied_to(plant, own).into_iter();
            left.extend(partners.filter(|partner| met.insert(*partner)));
        }
        met
    }
}

impl Joint {
    fn cells(&self) -> usize {
        self.pairs.len() + self.thirds.values().map(|own| own.cells()).sum::<usize>()
    }
}

/// The joint weights of sets of variables: all at once, or set by set where that would need too large a table.
fn answers(graph: &Graph<'_, '_>, sets: &[Vec<usize>]) -> Result<Vec<Vec<f64>>, TooManyCells> {
    let each = |answer: &Factor, asked: &Vec<usize>| in_logs_if_nothing(graph, answer, asked);
    if let Ok(answers) = marginals(&graph.factors, sets, &graph.ranks(), CELLS_LIMIT) {
        let all = answers.iter().zip(sets);
        return all.map(|(answer, asked)| each(answer, asked)).collect();
    }
    let one = |asked: &Vec<usize>| each(&marginal(&graph.factors, asked, CELLS_LIMIT)?, asked);
    sets.iter().map(one).collect()
}

/// For each pair of genotypes of a wide space the pair of the batch's own that it falls in.
fn pairs_within(model: &BatchModel, wide: &Space) -> Vec<usize> {
    let narrow = wide.narrowing(&model.space);
    if model.is_self() {
        return narrow;
    }
    let rows = narrow.iter().map(|mother| mother * model.space.size);
    rows.flat_map(|row| narrow.iter().map(move |father| row + father))
        .collect()
}

fn normalise(weights: &mut [f64]) {
    let total: f64 = weights.iter().sum();
    if total > 0.0 {
        weights.iter_mut().for_each(|p| *p /= total);
    }
}
