//! What is known of the genotypes of a batch's plants from everything but that batch.
//!
//! One variable a plant and linkage group; factors are the plants' statements or priors, their own looks, what parents hand on,
//! and every other batch: as a table over its mother and father, or, where plants kept from it say something, as
//! factors over these too. Marginals are exact, by variable elimination.

use std::collections::{BTreeMap, HashMap};
use std::sync::Mutex;

use crate::genetics::locus::LocusIx;
use crate::records::rows::Thing;
use crate::stats::elimination::{Factor, TooManyCells, marginal};
use crate::stats::junction::marginals;

use super::answer::EvidenceNote;
use super::batch::BatchModel;
use super::context::Context;
use super::family::Family;
use super::graph::{Declined, Graph, Item, Known, LeftOut, Node, PairEvidence, plain, sum_tables};
use super::kin::{Asked, Kin};
use super::posterior::{Rules, Weigher};
use super::space::Space;
use super::terms::PlantWeights;

/// Largest table a question may need, in cells (128 MB).
pub const CELLS_LIMIT: u128 = 16_000_000;

/// Largest table over the genotypes of two parents that a batch may need.
pub const PAIR_CELLS_LIMIT: u128 = 10_000;

/// From this many cells on it is looked whether third plants can be weighed apart from the parents.
const WORTH_SPLITTING: usize = 20_000;

type JointKey = (i64, i64, Vec<i64>, Vec<LocusIx>, Option<i64>);

/// Beliefs over the plants of a ledger.
pub struct Beliefs<'a> {
    known: Known<'a>,
    joints: Mutex<HashMap<JointKey, Vec<f64>>>,
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

impl<'a> Beliefs<'a> {
    /// Turns every batch with evidence into a table over its parents, and every batch that plants were kept from which
    /// say something into factors over both; those that are too large are left out.
    #[must_use]
    pub fn new(
        context: &'a Context<'a>,
        models: &[BatchModel],
        rules: &Rules,
        asked: &Asked,
    ) -> Self {
        let mut beliefs = Self {
            known: Known {
                context,
                pairs: BTreeMap::new(),
                families: BTreeMap::new(),
                kin: Kin::of(context, models, asked),
                declined: Vec::new(),
            },
            joints: Mutex::default(),
        };
        beliefs.add_families(models);
        let with_table = |model: &&BatchModel| {
            !model.space.loci.is_empty()
                && !beliefs.known.families.contains_key(&model.batch_id)
                && too_large(model).is_none()
        };
        let read: Vec<&BatchModel> = models.iter().filter(with_table).collect();
        let tables = in_two_threads(&read, |model| {
            context.pair_table(model.batch_id, || {
                Weigher::new(model, context, rules).pair_table(&beliefs.local_weights(model))
            })
        });
        for (model, table) in read.iter().zip(&tables) {
            beliefs.add_table(model, table);
        }
        for evidence in beliefs.known.pairs.values_mut() {
            evidence.total = sum_tables(evidence.tables.values());
        }
        beliefs
    }

    /// The batches that plants were kept from which say something; what is too large is noted, of any batch.
    fn add_families(&mut self, models: &[BatchModel]) {
        let context = self.known.context;
        let kept: Vec<&BatchModel> = models
            .iter()
            .filter(|model| self.known.kin.kept.contains_key(&model.batch_id))
            .collect();
        let made = in_two_threads(&kept, |model| {
            let row = context.index.facts.batch.get(model.batch_id)?;
            let loci = self.known.kin.loci_of_batch(model.batch_id);
            let fine = BatchModel::for_family(context, row, &loci);
            if let Some(declined) = too_large(&fine) {
                return Some(Err(declined));
            }
            let weights = self.local_weights(&fine);
            let plants = self.known.kin.kept[&model.batch_id].clone();
            Some(Family::new(context, &fine, &weights, plants, CELLS_LIMIT))
        });
        let seedlings_of = |model: &BatchModel| {
            let rows = context.index.seedlings_of(model.batch_id).iter();
            rows.map(|row| row.id).collect()
        };
        let decline = |model: &BatchModel, size| Declined {
            batch: model.batch_id,
            mother: model.mother,
            father: model.father,
            seedlings: seedlings_of(model),
            size,
        };
        for (model, family) in kept.iter().zip(made) {
            match family {
                Some(Ok(family)) => {
                    self.known.families.insert(model.batch_id, family);
                }
                Some(Err(size)) => self.known.declined.push(decline(model, size)),
                None => {}
            }
        }
        for model in models {
            let is_new = self
                .known
                .declined
                .iter()
                .all(|one| one.batch != model.batch_id);
            if let Some(size) = too_large(model).filter(|_| is_new) {
                self.known.declined.push(decline(model, size));
            }
        }
    }

    /// Batches of the same plants that are left out of what is known of them, being too large to weigh.
    #[must_use]
    pub fn left_out(&self, model: &BatchModel) -> Vec<EvidenceNote> {
        let plants = model.named_plants();
        let facts = self.known.context.index.facts;
        self.known
            .declined
            .iter()
            .filter(|one| {
                one.batch != model.batch_id && plants.iter().any(|plant| one.names(*plant))
            })
            .map(|one| EvidenceNote::LeftOut {
                tray: facts
                    .code_of(Thing::Batch, one.batch)
                    .unwrap_or_default()
                    .to_owned(),
            })
            .collect()
    }

    /// Whether a batch is weighed together with plants that were kept from it.
    pub(super) fn is_family(&self, batch: i64) -> bool {
        self.known.families.contains_key(&batch)
    }

    /// The batch that is left out since it needs a table of this size.
    pub(super) fn declined_batch(&self, size: TooManyCells) -> Option<i64> {
        let mut declined = self.known.declined.iter();
        declined.find(|one| one.size == size).map(|one| one.batch)
    }

    /// Whether a question about a plant at a locus can be put as it is: the plant speaks there, or nobody before it
    /// has to be heard.
    #[must_use]
    pub fn can_be_asked(&self, plant: i64, locus: LocusIx) -> bool {
        let row = self.known.context.index.facts.plant.get(plant);
        self.known.kin.asks(plant, locus) || row.is_none_or(|row| row.batch_id.is_none())
    }

    /// Whether anything recorded of a plant or of its offspring speaks of a locus.
    #[must_use]
    pub fn speaks(&self, plant: i64, locus: LocusIx) -> bool {
        self.known.kin.asks(plant, locus)
    }

    /// The joint distribution of a plant's genotypes over the space of some loci, from everything.
    ///
    /// # Errors
    /// [`TooManyCells`] where the exact answer needs too large a table.
    pub fn joint_of(&self, plant: i64, loci: &[LocusIx]) -> Result<Vec<f64>, TooManyCells> {
        let space = self.known.context.groups().space(loci);
        Ok(self.ask(&[nodes_of(plant, &space)], None)?.remove(0))
    }

    /// The joint distribution of a mother's and a father's genotypes over the space of some loci, from everything, the
    /// mother's running slowest; of one plant where both are.
    ///
    /// # Errors
    /// [`TooManyCells`] where the exact answer needs too large a table.
    pub fn joint_of_pair(
        &self,
        (mother, father): (i64, i64),
        loci: &[LocusIx],
    ) -> Result<Vec<f64>, TooManyCells> {
        let space = self.known.context.groups().space(loci);
        let mut nodes = nodes_of(mother, &space);
        if mother != father {
            nodes.extend(nodes_of(father, &space));
        }
        Ok(self.ask(&[nodes], None)?.remove(0))
    }

    /// P(a plant kept from a batch is not of its label), from everything; nothing for one of which nothing else
    /// is known.
    ///
    /// # Errors
    /// [`TooManyCells`] where the exact answer needs too large a table.
    pub fn off_chance(&self, plant: i64) -> Result<Option<f64>, TooManyCells> {
        let is_kept = |family: &Family| family.kept.contains(&plant);
        let Some(family) = self.known.families.values().find(|family| is_kept(family)) else {
            return Ok(None);
        };
        let Some(unit) = family.space.units.first() else {
            return Ok(None);
        };
        let nodes = vec![Node::Origin(plant), Node::Plant(plant, unit.key)];
        let joint = self.ask(&[nodes], None)?.remove(0);
        Ok(Some(joint[joint.len() / 2..].iter().sum()))
    }

    /// The marginals of plants over a space, from everything but one piece of evidence; each normalised, all zeros where
    /// nothing explains what is recorded.
    ///
    /// # Errors
    /// [`TooManyCells`] where the exact answer needs too large a table.
    pub fn marginals(
        &self,
        plants: &[i64],
        space: &Space,
        without: Option<Item>,
    ) -> Result<Vec<Vec<f64>>, TooManyCells> {
        let sets = plants.iter().map(|plant| nodes_of(*plant, space));
        self.ask(&sets.collect::<Vec<_>>(), without)
    }

    /// The joint marginals of sets of variables, from everything but one piece of evidence.
    fn ask(
        &self,
        sets: &[Vec<Node>],
        without: Option<Item>,
    ) -> Result<Vec<Vec<f64>>, TooManyCells> {
        let left_out = LeftOut {
            pair: None,
            item: without,
        };
        let mut graph = Graph::new(&self.known, left_out);
        let vars: Vec<Vec<usize>> = sets
            .iter()
            .map(|set| set.iter().map(|node| graph.node(*node)).collect())
            .collect();
        graph.grow();
        if let Some(size) = graph.declined {
            return Err(size);
        }
        if let Some(size) = graph.too_large {
            return Err(size);
        }
        let answers = marginals(&graph.factors, &vars, &graph.ranks(), CELLS_LIMIT)?;
        let answers = answers.iter().zip(&vars);
        answers
            .map(|(answer, asked)| in_logs_if_nothing(&graph, answer, asked))
            .collect()
    }

    /// Weights of a batch's plants by their first factor and own looks alone; used inside other batches' tables.
    pub(super) fn local_weights(&self, model: &BatchModel) -> PlantWeights {
        let alone: Vec<Vec<f64>> = model
            .candidates
            .iter()
            .map(|candidate| {
                let thirds = model.third_plants(candidate.seed);
                thirds.iter().fold(vec![1.0], |joint, plant| {
                    let own = self.alone(*plant, &model.space);
                    joint
                        .iter()
                        .flat_map(|p| own.iter().map(move |q| p * q))
                        .collect()
                })
            })
            .collect();
        PlantWeights {
            pairs: vec![1.0; model.pair_count()],
            thirds: alone.iter().map(|row| vec![row.clone()]).collect(),
            thirds_alone: alone,
        }
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
        let total: f64 = joint.iter().sum();
        if total > 0.0 {
            joint.iter_mut().for_each(|p| *p /= total);
        }
        joint
    }

    fn add_table(&mut self, model: &BatchModel, table: &[f64]) {
        let key = (model.mother, model.father);
        let held = self.known.pairs.remove(&key);
        let mut loci = model.space.loci.clone();
        loci.extend(held.iter().flat_map(|held| held.space.loci.iter().copied()));
        loci.sort_unstable();
        loci.dedup();
        let space = self.known.context.groups().space(&loci);
        let selfed = model.is_self();
        let mut tables = BTreeMap::new();
        if let Some(held) = held {
            for (batch, old) in held.tables {
                let table = if held.space.size == space.size {
                    old
                } else {
                    widen(&old, &held.space, &space, selfed)
                };
                tables.insert(batch, table);
            }
        }
        let most = table.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let own: Vec<f64> = table
            .iter()
            .map(|ln| if most.is_finite() { ln - most } else { *ln })
            .collect();
        tables.insert(model.batch_id, widen(&own, &model.space, &space, selfed));
        self.known.pairs.insert(
            key,
            PairEvidence {
                space,
                tables,
                total: Vec::new(),
            },
        );
    }

    /// The weights of the plants that a batch names, from everything but that batch.
    ///
    /// # Errors
    /// [`TooManyCells`] where the exact answer needs too large a table.
    pub fn weights(&self, model: &BatchModel) -> Result<PlantWeights, TooManyCells> {
        if model.space.loci.is_empty() {
            return Ok(self.local_weights(model));
        }
        let pairs = self.joint(model, &[])?;
        let mut thirds = Vec::new();
        let mut alone = Vec::new();
        for candidate in &model.candidates {
            let plants = model.third_plants(candidate.seed);
            if plants.is_empty() {
                thirds.push(vec![vec![1.0]]);
                alone.push(vec![1.0]);
                continue;
            }
            let cells = model.pair_count()
                * model
                    .space
                    .size
                    .pow(u32::try_from(plants.len()).unwrap_or(2));
            if cells > WORTH_SPLITTING && !self.tied_to_parents(model, &plants) {
                let row = self.thirds_apart(model, &plants)?;
                thirds.push(vec![row.clone()]);
                alone.push(row);
                continue;
            }
            let joint = self.joint(model, &plants)?;
            let size = joint.len() / model.pair_count();
            let mut mean = vec![0.0; size];
            let rows: Vec<Vec<f64>> = joint
                .chunks(size)
                .map(|row| {
                    mean.iter_mut().zip(row).for_each(|(sum, p)| *sum += p);
                    let total: f64 = row.iter().sum();
                    row.iter()
                        .map(|p| if total > 0.0 { p / total } else { 0.0 })
                        .collect()
                })
                .collect();
            thirds.push(rows);
            alone.push(mean);
        }
        Ok(PlantWeights {
            pairs,
            thirds,
            thirds_alone: alone,
        })
    }

    /// Whether anything but this pair's own batches ties these plants to the mother or father.
    fn tied_to_parents(&self, model: &BatchModel, plants: &[i64]) -> bool {
        let own = (model.mother, model.father);
        let mut met: Vec<i64> = plants.to_vec();
        let mut at = 0;
        while at < met.len() {
            let plant = met[at];
            if plant == model.mother || plant == model.father {
                return true;
            }
            for partner in self.known.tied_to(plant, own) {
                if !met.contains(&partner) {
                    met.push(partner);
                }
            }
            at += 1;
        }
        false
    }

    /// The joint distribution of third plants that nothing ties to the parents.
    fn thirds_apart(&self, model: &BatchModel, plants: &[i64]) -> Result<Vec<f64>, TooManyCells> {
        let mut graph = Graph::new(&self.known, LeftOut::asking(model));
        let mut asked: Vec<usize> = Vec::new();
        for plant in plants {
            asked.extend(model.space.units.iter().map(|unit| graph.var(*plant, unit)));
        }
        graph.grow();
        if let Some(size) = graph.too_large {
            return Err(size);
        }
        let answer = marginal(&graph.factors, &asked, CELLS_LIMIT)?;
        Ok(answer.values().to_vec())
    }

    /// The joint distribution of mother, father and further plants over the batch's joint genotypes, from everything
    /// but the batch; mother's running slowest.
    fn joint(&self, model: &BatchModel, thirds: &[i64]) -> Result<Vec<f64>, TooManyCells> {
        let key = (model.mother, model.father);
        let pair = self.known.pairs.get(&key);
        let wide = pair.map_or_else(|| model.space.clone(), |pair| self.both(&pair.space, model));
        let base = self.base_joint(model, &wide, thirds)?;
        let pair_cells = if model.is_self() {
            wide.size
        } else {
            wide.size * wide.size
        };
        let rest = base.len() / pair_cells;
        let mut others = self.others(model, pair_cells);
        if let Some(held) = pair.filter(|held| held.space.size < wide.size) {
            others = widen(&others, &held.space, &wide, model.is_self());
        }
        let mut sums = vec![0.0; model.pair_count() * rest];
        let narrow = wide.narrowing(&model.space);
        for (at, own) in base.chunks(rest).enumerate() {
            let to = if model.is_self() {
                narrow[at]
            } else {
                narrow[at / wide.size] * model.space.size + narrow[at % wide.size]
            };
            let weight = others[at];
            for (sum, p) in sums[to * rest..(to + 1) * rest].iter_mut().zip(own) {
                *sum += weight * p;
            }
        }
        let total: f64 = sums.iter().sum();
        if total > 0.0 {
            sums.iter_mut().for_each(|p| *p /= total);
        }
        Ok(sums)
    }

    /// The space of a pair of parents, with the loci that a batch of theirs is asked about besides.
    fn both(&self, held: &Space, model: &BatchModel) -> Space {
        let mut loci = held.loci.clone();
        loci.extend(&model.space.loci);
        loci.sort_unstable();
        loci.dedup();
        if loci.len() == held.loci.len() {
            return held.clone();
        }
        self.known.context.groups().space(&loci)
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
            Some(_) if pair.tables.len() == 1 => return vec![1.0; cells],
            Some(_) => sum_tables(
                pair.tables
                    .iter()
                    .filter(|(id, _)| **id != model.batch_id)
                    .map(|(_, table)| table),
            ),
        };
        plain(&lns)
    }

    /// The joint distribution from everything but the batches of this pair of parents.
    fn base_joint(
        &self,
        model: &BatchModel,
        wide: &Space,
        thirds: &[i64],
    ) -> Result<Vec<f64>, TooManyCells> {
        let key = (
            model.mother,
            model.father,
            thirds.to_vec(),
            model.space.loci.clone(),
            self.known
                .families
                .contains_key(&model.batch_id)
                .then_some(model.batch_id),
        );
        if let Some(known) = self
            .joints
            .lock()
            .expect("no thread panics while it holds the joints")
            .get(&key)
        {
            return Ok(known.clone());
        }
        let mut graph = Graph::new(&self.known, LeftOut::asking(model));
        let mut asked: Vec<usize> = Vec::new();
        let parents = if model.is_self() {
            vec![model.mother]
        } else {
            vec![model.mother, model.father]
        };
        for parent in parents {
            asked.extend(wide.units.iter().map(|unit| graph.var(parent, unit)));
        }
        for third in thirds {
            asked.extend(model.space.units.iter().map(|unit| graph.var(*third, unit)));
        }
        graph.grow();
        if let Some(size) = graph.too_large {
            return Err(size);
        }
        let answer = marginal(&graph.factors, &asked, CELLS_LIMIT)?;
        let values = in_logs_if_nothing(&graph, &answer, &asked)?;
        self.joints
            .lock()
            .expect("no thread panics while it holds the joints")
            .insert(key, values.clone());
        Ok(values)
    }
}

/// How many cells the two parents of a batch need, where that is more than can be weighed.
#[must_use]
pub fn too_large(model: &BatchModel) -> Option<TooManyCells> {
    let needed = (model.space.size as u128).pow(2);
    (needed > PAIR_CELLS_LIMIT).then_some(TooManyCells {
        needed,
        limit: PAIR_CELLS_LIMIT,
    })
}

/// An answer, reckoned anew in logs where as plain numbers nothing is left.
fn in_logs_if_nothing(
    graph: &Graph<'_, '_>,
    answer: &Factor,
    asked: &[usize],
) -> Result<Vec<f64>, TooManyCells> {
    let any = answer.values().iter().any(|p| *p > 0.0);
    match any {
        true => Ok(answer.values().to_vec()),
        false => graph.slow_marginal(asked),
    }
}

/// The variables of a plant's genotypes over a space.
fn nodes_of(plant: i64, space: &Space) -> Vec<Node> {
    let units = space.units.iter();
    units.map(|unit| Node::Plant(plant, unit.key)).collect()
}

/// A table over pairs of a narrow space as one over pairs of a wide space.
fn widen(table: &[f64], narrow: &Space, wide: &Space, selfed: bool) -> Vec<f64> {
    let map = wide.narrowing(narrow);
    if selfed {
        return map.iter().map(|at| table[*at]).collect();
    }
    map.iter()
        .flat_map(|mother| {
            map.iter()
                .map(move |father| table[mother * narrow.size + father])
        })
        .collect()
}

/// Maps a list on two threads, the order kept.
pub fn in_two_threads<T: Sync, R: Send>(list: &[T], work: impl Fn(&T) -> R + Sync) -> Vec<R> {
    if list.len() < 8 {
        return list.iter().map(work).collect();
    }
    let (first, second) = list.split_at(list.len() / 2);
    std::thread::scope(|scope| {
        let other = scope.spawn(|| second.iter().map(&work).collect::<Vec<R>>());
        let mut done: Vec<R> = first.iter().map(&work).collect();
        done.extend(
            other
                .join()
                .expect("the other thread does the same work as this one"),
        );
        done
    })
}
