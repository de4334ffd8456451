//! The factor graph of beliefs over plants: one variable a plant and linkage group, and for a batch that plants were kept
//! from its source, the share of off-types and its pace.
//!
//! Grown from the plants of a question outward, so that only what is tied to them is multiplied; the sums are left to
//! the elimination.

use std::collections::{BTreeMap, HashMap, HashSet};

use crate::records::descent::parents_of;
use crate::stats::elimination::{Factor, TooManyCells};
use crate::stats::log_elimination::log_marginal;

use super::answer::EvidenceNote;
use super::belief::CELLS_LIMIT;
use super::context::Context;
use super::family::{Family, NamedFactor};
use super::group::{GroupKey, LinkageGroup};
use super::kin::Kin;
use super::space::Space;

/// A variable of the graph.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) enum Node {
    /// The genotype of a plant at the loci of a linkage group, or at some of them.
    Plant(i64, GroupKey),
    /// Which seed came into a batch beside the label's, and in what kind of share.
    Source(i64),
    /// The share of off-types of a batch, at a node.
    Share(i64),
    /// The pace of a batch.
    Pace(i64),
    /// Whether a plant kept from a batch is as labelled.
    Origin(i64),
}

/// A piece of evidence that a question can be asked without.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Item {
    /// What was stated of a plant.
    Statement(i64),
    /// A plant's own looks, other than as a seedling of a batch.
    Looks(i64),
    /// A batch: its readings, and what its label says of the plants kept from it.
    Batch(i64),
}

/// What a question leaves out.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct LeftOut {
    /// All batches of this mother and father without plants kept.
    pub(super) pair: Option<(i64, i64)>,
    /// One piece of evidence.
    pub(super) item: Option<Item>,
}

/// The batches of one pair of parents, as tables over the genotypes of both.
#[derive(Debug)]
pub(super) struct PairEvidence {
    pub(super) space: Space,
    /// By batch: log likelihood of each pair, finite or minus infinity, the largest 0.
    pub(super) tables: BTreeMap<i64, Vec<f64>>,
    /// Their sum.
    pub(super) total: Vec<f64>,
}

/// A batch that is too large to weigh.
#[derive(Debug, Clone)]
pub(super) struct Declined {
    pub(super) batch: i64,
    pub(super) mother: i64,
    pub(super) father: i64,
    /// The plants that grew in it.
    pub(super) seedlings: Vec<i64>,
    pub(super) size: TooManyCells,
}

impl Declined {
    /// Whether it would say something of a plant: of its parents and of its own seedlings.
    pub(super) fn names(&self, plant: i64) -> bool {
        self.mother == plant || self.father == plant || self.seedlings.contains(&plant)
    }
}

/// What is known of the plants of a ledger: the factors of the graph.
pub(super) struct Known<'a> {
    /// Statements, priors and own looks come from here.
    pub(super) context: &'a Context<'a>,
    /// Batches without plants kept, by mother and father.
    pub(super) pairs: BTreeMap<(i64, i64), PairEvidence>,
    /// Batches with plants kept.
    pub(super) families: BTreeMap<i64, Family>,
    /// Who can say something of whom.
    pub(super) kin: Kin,
    /// Batches too large to weigh.
    pub(super) declined: Vec<Declined>,
    /// Batches of which some traits are left out, and what is to be said of them.
    pub(super) in_part: Vec<(Declined, Vec<EvidenceNote>)>,
}

impl Known<'_> {
    /// The family that a plant was kept from.
    fn family_of(&self, plant: i64) -> Option<&Family> {
        let batch = self.context.index.facts.plant.get(plant)?.batch_id?;
        let family = self.families.get(&batch)?;
        family.kept.contains(&plant).then_some(family)
    }

    /// How many generations a plant is from founders, the longest way.
    fn depth(&self, plant: i64, known: &mut HashMap<i64, usize>) -> usize {
        let mut left = vec![plant];
        while let Some(at) = left.last().copied() {
            if known.contains_key(&at) {
                left.pop();
                continue;
            }
            let facts = self.context.index.facts;
            let parents = facts.plant.get(at).and_then(|row| parents_of(facts, row));
            let parents: Vec<i64> = parents.map_or_else(Vec::new, |(m, f)| vec![m, f]);
            let open = parents.iter().copied().find(|one| !known.contains_key(one));
            match open.filter(|_| left.len() <= facts.plant.len()) {
                Some(parent) => left.push(parent),
                None => {
                    let above = parents.iter().filter_map(|one| known.get(one)).max();
                    known.insert(at, above.map_or(0, |depth| depth + 1));
                    left.pop();
                }
            }
        }
        known[&plant]
    }

    /// The plants that have offspring which say something.
    fn parents(&self) -> HashSet<i64> {
        let pairs = self.pairs.keys().copied();
        let families = self.families.values();
        let of_families = families.map(|family| (family.mother, family.father));
        let bred = self.kin.bred.values().copied();
        let all = pairs.chain(of_families).chain(bred);
        all.flat_map(|(mother, father)| [mother, father]).collect()
    }

    /// The plants that one factor ties to a plant; the batches of one pair without plants kept left out.
    pub(super) fn tied_to(&self, plant: i64, left_out: (i64, i64)) -> Vec<i64> {
        let has = |key: (i64, i64)| key.0 == plant || key.1 == plant;
        let pairs = self.pairs.keys().filter(|key| **key != left_out);
        let mut tied: Vec<i64> = pairs
            .filter(|key| has(**key))
            .flat_map(|key| [key.0, key.1])
            .collect();
        for family in self.families.values() {
            if has((family.mother, family.father)) || family.kept.contains(&plant) {
                tied.extend([family.mother, family.father]);
                tied.extend(&family.kept);
            }
        }
        for (child, (mother, father)) in &self.kin.bred {
            if *child == plant || has((*mother, *father)) {
                tied.extend([*child, *mother, *father]);
            }
        }
        tied
    }
}

/// The part of the factor graph that a question touches, grown from its plants outward.
pub(super) struct Graph<'b, 'a> {
    known: &'b Known<'a>,
    left_out: LeftOut,
    nodes: HashMap<Node, usize>,
    queue: Vec<(i64, GroupKey)>,
    pub(super) factors: Vec<Factor>,
    /// By place among the factors: the logs of those whose small values vanish as plain numbers.
    logs: BTreeMap<usize, Vec<f64>>,
    /// A batch reached that is too large to weigh.
    pub(super) declined: Option<TooManyCells>,
    /// A table too large to make.
    pub(super) too_large: Option<TooManyCells>,
}

impl<'b, 'a> Graph<'b, 'a> {
    pub(super) fn new(known: &'b Known<'a>, left_out: LeftOut) -> Self {
        Self {
            known,
            left_out,
            nodes: HashMap::new(),
            queue: Vec::new(),
            factors: Vec::new(),
            logs: BTreeMap::new(),
            declined: None,
            too_large: None,
        }
    }

    /// The variable of a plant's genotype at the loci of a group.
    pub(super) fn var(&mut self, plant: i64, of: &LinkageGroup) -> usize {
        self.node(Node::Plant(plant, of.key))
    }

    /// The variable of a node.
    pub(super) fn node(&mut self, node: Node) -> usize {
        let next = self.nodes.len();
        *self.nodes.entry(node).or_insert_with(|| {
            if let Node::Plant(plant, key) = node {
                self.queue.push((plant, key));
            }
            next
        })
    }

    /// For each variable how late it comes: plants by generation; in one generation those with offspring first, then
    /// what is known of the batches they were kept from, then plants of which nothing descends. Summing out the latest
    /// first keeps tables small where few plants of a generation become parents.
    pub(super) fn ranks(&self) -> Vec<usize> {
        let mut depths: HashMap<i64, usize> = HashMap::new();
        let parents = self.known.parents();
        let mut ranks = vec![0; self.nodes.len()];
        for (node, var) in &self.nodes {
            let mut depth = |plant: i64| 3 * self.known.depth(plant, &mut depths);
            ranks[*var] = match node {
                Node::Plant(plant, _) if parents.contains(plant) => depth(*plant),
                Node::Plant(plant, _) | Node::Origin(plant) => depth(*plant) + 2,
                Node::Source(batch) | Node::Share(batch) | Node::Pace(batch) => {
                    let kept = self.known.families.get(batch).and_then(|f| f.kept.first());
                    kept.map_or(0, |plant| depth(*plant) + 1)
                }
            };
        }
        ranks
    }

    /// The joint marginal of variables from logs, for where as plain numbers nothing is left.
    ///
    /// # Errors
    /// [`TooManyCells`] where the exact answer needs too large a table.
    pub(super) fn slow_marginal(&self, asked: &[usize]) -> Result<Vec<f64>, TooManyCells> {
        let in_logs = |(at, factor): (usize, &Factor)| match self.logs.get(&at) {
            Some(lns) => factor.with_values(lns.clone()),
            None => factor.with_values(factor.values().iter().map(|p| p.ln()).collect()),
        };
        let factors: Vec<Factor> = self.factors.iter().enumerate().map(in_logs).collect();
        log_marginal(&factors, asked, CELLS_LIMIT)
    }

    /// Adds the factors of every variable reached.
    pub(super) fn grow(&mut self) {
        let mut plants_done: HashSet<i64> = HashSet::new();
        let mut pairs_done: HashSet<(i64, i64)> = self.left_out.pair.into_iter().collect();
        let mut families_done: HashSet<i64> = HashSet::new();
        let known = self.known;
        while let Some((plant, key)) = self.queue.pop() {
            let of = known.context.groups().whole(key.first);
            if key != of.key {
                self.add_part(plant, of, key);
                continue;
            }
            self.add_descent(plant, of);
            if plants_done.insert(plant) {
                self.add_own(plant);
                let declined = known.declined.iter().find(|one| one.names(plant));
                self.declined = self.declined.or(declined.map(|one| one.size));
            }
            for (child, (mother, father)) in &known.kin.bred {
                let is_parent = *mother == plant || *father == plant;
                if is_parent && known.kin.asks(*child, key.first) {
                    self.var(*child, of);
                }
            }
            for (key, evidence) in &known.pairs {
                let touches = (key.0 == plant || key.1 == plant) && evidence.space.reads(of);
                if touches && pairs_done.insert(*key) {
                    self.add_pair(*key, evidence);
                }
            }
            for (batch, family) in &known.families {
                let touches = family.names(plant) && family.space.reads(of);
                if touches
                    && self.left_out.item != Some(Item::Batch(*batch))
                    && families_done.insert(*batch)
                {
                    self.add_family(family);
                }
            }
        }
    }

    /// A plant's genotype at some loci of a group is part of its genotype at all of them.
    fn add_part(&mut self, plant: i64, whole: &LinkageGroup, key: GroupKey) {
        let vars = vec![self.var(plant, whole), self.node(Node::Plant(plant, key))];
        let part = whole.part(key.part);
        let mut values = vec![0.0; whole.size() * part.size()];
        for (genotype, to) in whole.narrowing(&part).iter().enumerate() {
            values[genotype * part.size() + to] = 1.0;
        }
        let sizes = vec![whole.size(), part.size()];
        self.factors.push(Factor::new(vars, sizes, values));
    }

    /// What a plant's descent and statement say of the loci of a group.
    fn add_descent(&mut self, plant: i64, of: &LinkageGroup) {
        let plants = &self.known.context.plants;
        let var = self.var(plant, of);
        let is_unstated = self.left_out.item == Some(Item::Statement(plant));
        let statement = plants.statement_factor(plant, of);
        let statement = statement.filter(|_| !is_unstated);
        let family = self.known.family_of(plant).filter(|family| {
            family.space.reads(of) && self.left_out.item != Some(Item::Batch(family.batch_id))
        });
        let bred = plants.bred_from(plant);
        if family.is_none() && bred.is_none() {
            let first = if is_unstated {
                plants.unstated(plant, of)
            } else {
                plants.group_factor(plant, of)
            };
            self.factors
                .push(Factor::new(vec![var], vec![first.len()], first));
            return;
        }
        if let (None, Some((mother, father))) = (family, bred) {
            let mut vars = vec![self.var(mother, of)];
            if father != mother {
                vars.push(self.var(father, of));
            }
            vars.push(var);
            self.add_transmission(plant, of, vars);
        }
        if let Some(statement) = statement {
            self.factors
                .push(Factor::new(vec![var], vec![statement.len()], statement));
        }
    }

    /// What parents hand on, unless that is too large a table.
    fn add_transmission(&mut self, plant: i64, of: &LinkageGroup, vars: Vec<usize>) {
        let size = of.size();
        let needed = vars.iter().fold(1_u128, |cells, _| cells * size as u128);
        if needed > CELLS_LIMIT {
            let limit = CELLS_LIMIT;
            self.too_large = Some(TooManyCells { needed, limit });
            return;
        }
        let values = self.known.context.plants.transmission(plant, of);
        let sizes = vec![size; vars.len()];
        self.factors.push(Factor::new(vars, sizes, values));
    }

    /// A plant's own looks.
    fn add_own(&mut self, plant: i64) {
        if self.left_out.item == Some(Item::Looks(plant)) {
            return;
        }
        let context = self.known.context;
        for reading in context.plants.own_looks(plant) {
            let loci = context.looks.traits[reading.look].model.loci();
            let space = context.groups().space(loci);
            let values = context.plants.look_chances(plant, &reading, &space);
            self.add_factor(
                &[plant],
                &space,
                values.expect("the space is of the trait's own loci"),
            );
        }
    }

    fn add_pair(&mut self, key: (i64, i64), evidence: &PairEvidence) {
        let lns = match self.left_out.item {
            Some(Item::Batch(batch)) if evidence.tables.contains_key(&batch) => {
                let others = evidence.tables.iter().filter(|(id, _)| **id != batch);
                sum_tables(others.map(|(_, table)| table))
            }
            _ => evidence.total.clone(),
        };
        if lns.is_empty() {
            return;
        }
        let plants = if key.0 == key.1 {
            vec![key.0]
        } else {
            vec![key.0, key.1]
        };
        self.add_factor(&plants, &evidence.space, plain(&lns));
        self.logs.insert(self.factors.len() - 1, lns);
    }

    fn add_family(&mut self, family: &Family) {
        let origins = family.kept.iter().map(|plant| Node::Origin(*plant));
        let is_asked = origins
            .into_iter()
            .any(|node| self.nodes.contains_key(&node));
        let tells = |summed: &&NamedFactor| {
            let mut names = summed.0.iter();
            !is_asked || names.any(|node| matches!(node, Node::Origin(_)))
        };
        let summed = family.summed.as_ref().filter(tells);
        let factors = match (summed, &family.factors) {
            (Some(summed), _) => std::slice::from_ref(summed),
            (None, Ok(factors)) => factors.as_slice(),
            (None, Err(size)) => {
                self.too_large = Some(*size);
                return;
            }
        };
        for (nodes, sizes, values) in factors {
            let vars = nodes.iter().map(|node| self.node(*node)).collect();
            self.factors
                .push(Factor::new(vars, sizes.clone(), values.clone()));
        }
    }

    fn add_factor(&mut self, plants: &[i64], space: &Space, values: Vec<f64>) {
        let mut vars = Vec::new();
        let mut sizes = Vec::new();
        for plant in plants {
            for unit in &space.units {
                vars.push(self.var(*plant, unit));
                sizes.push(unit.size());
            }
        }
        self.factors.push(Factor::new(vars, sizes, values));
    }
}

/// The sum of tables of logs.
pub(super) fn sum_tables<'t>(tables: impl Iterator<Item = &'t Vec<f64>>) -> Vec<f64> {
    tables.fold(Vec::new(), |sums, table| {
        if sums.is_empty() {
            table.clone()
        } else {
            sums.iter().zip(table).map(|(sum, ln)| sum + ln).collect()
        }
    })
}

/// Logs as plain numbers, the largest 1.
pub(super) fn plain(lns: &[f64]) -> Vec<f64> {
    let most = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    lns.iter()
        .map(|ln| {
            if most.is_finite() {
                (ln - most).exp()
            } else {
                0.0
            }
        })
        .collect()
}
