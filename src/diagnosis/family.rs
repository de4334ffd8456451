//! A batch that plants were kept from, as factors over its parents and those plants.
//!
//! Given the parents, the source, the share of off-types and the pace, seedlings are independent. So these three are
//! variables beside the genotypes: the seedlings that nobody kept are one table over them, and each plant kept hangs
//! on them by whether it is as labelled, and by its own readings as a seedling. Called by the beliefs over plants.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::stats::elimination::TooManyCells;
use crate::stats::quadrature::gauss_jacobi_beta;

use super::batch::{BatchModel, Group};
use super::context::Context;
use super::graph::{Node, plain};
use super::space::Space;
use super::terms::{Owner, Term, Terms};
use super::weights::PlantWeights;

/// A factor with its variables named.
pub(super) type NamedFactor = (Vec<Node>, Vec<usize>, Vec<f64>);

/// A batch and the plants kept from it.
#[derive(Debug)]
pub(super) struct Family {
    pub(super) batch_id: i64,
    pub(super) mother: i64,
    pub(super) father: i64,
    pub(super) space: Arc<Space>,
    pub(super) kept: Vec<i64>,
    /// The factors, unless one of them is too large a table.
    pub(super) factors: Result<Vec<NamedFactor>, TooManyCells>,
    /// Whether nothing that was read of the batch is left out of it.
    pub(super) is_whole: bool,
    /// The same with everything but genotypes summed out, where that is little work; of one plant kept with its origin.
    pub(super) summed: Option<NamedFactor>,
}

impl Family {
    /// Whether a plant is a parent or was kept.
    pub(super) fn names(&self, plant: i64) -> bool {
        self.mother == plant || self.father == plant || self.kept.contains(&plant)
    }

    /// The factors of a batch whose profiles tell every genotype apart.
    ///
    /// # Errors
    /// [`TooManyCells`] where a factor would be larger than `limit`, and nothing can be summed out at once.
    pub(super) fn new(
        context: &Context<'_>,
        model: &BatchModel,
        weights: &PlantWeights,
        kept: Vec<i64>,
        limit: u128,
    ) -> Result<Self, TooManyCells> {
        let even = vec![1.0; model.pair_count()];
        let terms = Terms::of(model, Owner::Pair, &even, weights);
        let members = Members::of(context, model, &kept);
        let maker = Maker {
            slots: Slots::of(&terms, model.pair_count(), members.count),
            model,
            terms: &terms,
            members,
        };
        let fits = |needed: u128| match needed > limit {
            true => Err(TooManyCells { needed, limit }),
            false => Ok(()),
        };
        let sources = fits(maker.source_cells());
        let summed = match sources.is_ok() || kept.len() == 1 {
            true => maker.summed_factor(&kept),
            false => None,
        };
        let cells = sources.and_then(|()| fits(maker.descent_cells()));
        let factors = cells.map(|()| maker.factors(&kept));
        if let (None, Err(size)) = (&summed, &factors) {
            return Err(*size);
        }
        Ok(Self {
            batch_id: model.batch_id,
            mother: model.mother,
            father: model.father,
            space: Arc::clone(&model.space),
            kept,
            factors,
            is_whole: model.evidence.set_aside.is_empty(),
            summed,
        })
    }
}

/// The seedlings of a batch, those kept apart from the others.
#[derive(Debug, Clone)]
pub(super) struct Members {
    /// By group of readings: how many were not kept.
    counts: Vec<i64>,
    /// The group of each plant kept; nothing for one without a telling reading.
    kept: Vec<Option<usize>>,
    /// All seedlings in question.
    pub(super) count: usize,
}

impl Members {
    /// Sorts them.
    pub(super) fn of(context: &Context<'_>, model: &BatchModel, kept: &[i64]) -> Self {
        let mut counts: Vec<i64> = model.groups.iter().map(|group| group.count).collect();
        let read = usize::try_from(model.evidence_count()).unwrap_or(0);
        let mut groups = vec![None; kept.len()];
        for (member, group) in model.evidence.members.iter().zip(&model.group_of) {
            let place = member
                .plant
                .and_then(|plant| kept.iter().position(|own| *own == plant));
            if let Some(place) = place {
                counts[*group] -= 1;
                groups[place] = Some(*group);
            }
        }
        for (place, plant) in kept.iter().enumerate() {
            let drawn = groups[place]
                .is_none()
                .then(|| tallied(context, model, *plant));
            if let Some(group) = drawn.flatten().filter(|group| counts[*group] > 0) {
                counts[group] -= 1;
                groups[place] = Some(group);
            }
        }
        let unread = groups.iter().filter(|group| group.is_none()).count();
        Self {
            counts,
            kept: groups,
            count: read + unread,
        }
    }
}

/// The group of readings that a plant without a reading of its own must be of: the tally of its tray or cell counts all
/// that came up, and all alike.
fn tallied(context: &Context<'_>, model: &BatchModel, plant: i64) -> Option<usize> {
    let index = context.index;
    let cell = index.facts.plant.get(plant)?.cell;
    let members = model.evidence.members.iter().zip(&model.group_of);
    let mut of_tally = members.filter(|(member, _)| {
        member.plant.is_none() && (member.cell.is_none() || member.cell == cell)
    });
    let (member, group) = of_tally.next()?;
    let counts_all = model.evidence.up.unwrap_or(0) <= model.evidence_count();
    let grown = index.seedlings_of(model.batch_id).iter();
    let here = grown.filter(|row| member.cell.is_none() || row.cell == member.cell);
    let fits = i64::try_from(here.count()).is_ok_and(|here| here <= member.count);
    (of_tally.next().is_none() && counts_all && fits).then_some(*group)
}

/// Which of the label's and the source's seed there is, and the Beta distribution of the share.
pub(super) type Kind = (bool, bool, Option<(u64, u64)>);

/// The states of the variable for the source: for each pair of parental genotypes the terms that can hold, those of
/// one kind of share at the same places whatever the pair.
pub(super) struct Slots {
    /// By pair and state: the term and its weight, where there is one.
    pub(super) terms: Vec<Vec<Option<(usize, f64)>>>,
    /// By state: the nodes of the share with their log weights.
    pub(super) shares: Vec<Vec<(f64, f64)>>,
}

impl Slots {
    fn of(terms: &Terms<'_>, pairs: usize, seedlings: usize) -> Self {
        let mut by_pair: Vec<BTreeMap<Kind, Vec<(usize, f64)>>> = vec![BTreeMap::new(); pairs];
        for (at, term) in terms.list().iter().enumerate() {
            for (pair, weight) in &term.weights {
                let own = by_pair[*pair].entry(kind_of(term)).or_default();
                own.push((at, *weight));
            }
        }
        let mut most: BTreeMap<Kind, usize> = BTreeMap::new();
        for (kind, list) in by_pair.iter().flatten() {
            let longest = most.entry(*kind).or_default();
            *longest = (*longest).max(list.len());
        }
        let of_pair = |own: &BTreeMap<Kind, Vec<(usize, f64)>>| {
            let states = most.iter().flat_map(|(kind, longest)| {
                let list = own.get(kind).map_or(&[][..], Vec::as_slice);
                (0..*longest).map(|at| list.get(at).copied())
            });
            states.collect()
        };
        let shares = most.iter().flat_map(|(kind, longest)| {
            let nodes = nodes_of(*kind, seedlings);
            std::iter::repeat_n(nodes, *longest)
        });
        Self {
            terms: by_pair.iter().map(of_pair).collect(),
            shares: shares.collect(),
        }
    }

    pub(super) fn nodes(&self) -> usize {
        self.shares.iter().map(Vec::len).max().unwrap_or(1)
    }
}

/// Which kind of share a term has.
pub(super) fn kind_of(term: &Term) -> Kind {
    let beta = term.beta.map(|(a, b)| (a.to_bits(), b.to_bits()));
    (term.on.is_some(), term.off.is_some(), beta)
}

/// The nodes of the share of off-types, which make sums over it exact for this many seedlings.
pub(super) fn nodes_of(kind: Kind, seedlings: usize) -> Vec<(f64, f64)> {
    match kind {
        (_, _, Some((a, b))) => {
            let rule = gauss_jacobi_beta(
                seedlings.div_ceil(2) + 1,
                f64::from_bits(a),
                f64::from_bits(b),
            );
            rule.nodes.iter().copied().zip(rule.ln_weights).collect()
        }
        (true, _, None) => vec![(0.0, 0.0)],
        (false, _, None) => vec![(1.0, 0.0)],
    }
}

/// Makes the factors of one batch.
pub(super) struct Maker<'m> {
    pub(super) model: &'m BatchModel,
    pub(super) terms: &'m Terms<'m>,
    pub(super) slots: Slots,
    pub(super) members: Members,
}

impl<'m> Maker<'m> {
    /// For what each term makes of the seedlings alone.
    pub(super) const fn bare(
        model: &'m BatchModel,
        terms: &'m Terms<'m>,
        members: Members,
    ) -> Self {
        let slots = Slots {
            terms: Vec::new(),
            shares: Vec::new(),
        };
        Self {
            model,
            terms,
            slots,
            members,
        }
    }

    pub(super) fn sources(&self) -> usize {
        self.slots.shares.len()
    }

    /// The cells of the table of the seedlings not kept.
    fn source_cells(&self) -> u128 {
        let pairs = self.model.pair_count() as u128 * self.sources() as u128;
        pairs * self.slots.nodes() as u128 * self.model.paces.len() as u128
    }

    /// The cells of the table of the descent of a plant kept.
    fn descent_cells(&self) -> u128 {
        let pairs = self.model.pair_count() as u128 * self.sources() as u128;
        let cells = 2 * pairs * self.model.space.size as u128;
        match self.is_plain() {
            true => cells,
            false => cells * self.model.paces.len() as u128,
        }
    }

    fn factors(&self, kept: &[i64]) -> Vec<NamedFactor> {
        let mut factors = vec![self.source_factor()];
        for (at, plant) in kept.iter().enumerate() {
            factors.push(self.origin_factor(*plant));
            factors.push(self.descent_factor(*plant, at));
            factors.extend(self.seen_factor(*plant, at));
        }
        factors
    }

    /// Whether what a plant shows depends on its genotype alone, not on its cytoplasm.
    fn is_plain(&self) -> bool {
        self.model.profiles.len() == self.model.space.size
    }

    pub(super) fn genotype_nodes(&self, plant: i64) -> (Vec<Node>, Vec<usize>) {
        let space = &self.model.space;
        let units = space.units.iter();
        units
            .map(|unit| (Node::Plant(plant, unit.key), unit.size()))
            .unzip()
    }

    pub(super) fn parent_nodes(&self) -> (Vec<Node>, Vec<usize>) {
        let (mut nodes, mut sizes) = self.genotype_nodes(self.model.mother);
        if !self.model.is_self() {
            let (of_father, own) = self.genotype_nodes(self.model.father);
            nodes.extend(of_father);
            sizes.extend(own);
        }
        (nodes, sizes)
    }

    /// The seedlings not kept, by source, share, pace and parents.
    pub(super) fn source_factor(&self) -> NamedFactor {
        let model = self.model;
        let (paces, nodes, pairs) = (model.paces.len(), self.slots.nodes(), model.pair_count());
        let by_term = self.ln_by_term();
        let mut lns = vec![f64::NEG_INFINITY; self.sources() * nodes * paces * pairs];
        for (pair, states) in self.slots.terms.iter().enumerate() {
            for (source, state) in states.iter().enumerate() {
                let Some((term, weight)) = state else {
                    continue;
                };
                for (node, (_, ln_node)) in self.slots.shares[source].iter().enumerate() {
                    for (pace, seen) in by_term[*term].iter().enumerate() {
                        let at = ((source * nodes + node) * paces + pace) * pairs + pair;
                        let ln_pace = model.paces.ln_weights[pace];
                        lns[at] = weight.ln() + ln_node + ln_pace + seen[node];
                    }
                }
            }
        }
        let batch = model.batch_id;
        let (parents, parent_sizes) = self.parent_nodes();
        let mut names = vec![Node::Source(batch), Node::Share(batch), Node::Pace(batch)];
        names.extend(parents);
        let mut sizes = vec![self.sources(), nodes, paces];
        sizes.extend(parent_sizes);
        (names, sizes, plain(&lns))
    }

    /// P(genotype, readings) of a plant kept, as labelled and as off-type.
    pub(super) fn seen_by_origin(&self, term: usize, at: usize, pace: usize) -> [Vec<f64>; 2] {
        let term = &self.terms.list()[term];
        [term.on, term.off].map(|seed| {
            let mut row = vec![0.0; self.model.space.size];
            for (profile, p) in seed
                .iter()
                .flat_map(|seed| self.terms.seed(*seed).iter().enumerate())
            {
                row[self.model.profiles.genotype_of(profile)] += p * self.seen(at, profile, pace);
            }
            row
        })
    }

    /// For each term, pace and node of the share: the log likelihood of the seedlings that were not kept.
    pub(super) fn ln_by_term(&self) -> Vec<Vec<Vec<f64>>> {
        let paces = self.model.paces.len();
        let by_pace = |(seed, used): (usize, bool)| {
            let paces = (0..paces).filter(|_| used);
            let seed = self.terms.seed(seed);
            paces.map(|pace| self.chances(seed, pace)).collect()
        };
        let used = self.terms.seeds_used();
        let seeds: Vec<Vec<Vec<f64>>> = used.into_iter().enumerate().map(by_pace).collect();
        let nothing = vec![0.0; self.model.groups.len()];
        let seedlings = self.members.count;
        let of_term = |term: &Term| {
            let nodes = nodes_of(kind_of(term), seedlings);
            let of_pace = |pace: usize| {
                let on = term.on.map_or(&nothing, |seed| &seeds[seed][pace]);
                let off = term.off.map_or(&nothing, |seed| &seeds[seed][pace]);
                let of_node = |(share, _): &(f64, f64)| {
                    let counts = self.members.counts.iter().zip(on.iter().zip(off));
                    let ln = |(count, (on, off)): (&i64, (&f64, &f64))| match count {
                        0 => 0.0,
                        _ => *count as f64 * ((1.0 - share) * on + share * off).ln(),
                    };
                    counts.map(ln).sum::<f64>()
                };
                nodes.iter().map(of_node).collect::<Vec<f64>>()
            };
            (0..paces).map(of_pace).collect::<Vec<_>>()
        };
        self.terms.list().iter().map(of_term).collect()
    }

    /// P(readings | seed, pace) of each group of readings.
    fn chances(&self, seed: &[f64], pace: usize) -> Vec<f64> {
        let paces = self.model.paces.len();
        let of = |group: &Group| {
            let values = &group.likelihood.values;
            let most = values.iter().copied().fold(0.0, f64::max);
            let chance = |(profile, p): (usize, &f64)| p * values[profile * paces + pace] / most;
            seed.iter().enumerate().map(chance).sum()
        };
        self.model.groups.iter().map(of).collect()
    }

    /// Whether a plant is as labelled, by source and share.
    fn origin_factor(&self, plant: i64) -> NamedFactor {
        let (sources, nodes) = (self.sources(), self.slots.nodes());
        let mut values = vec![0.0; 2 * sources * nodes];
        for (source, shares) in self.slots.shares.iter().enumerate() {
            for (node, (share, _)) in shares.iter().enumerate() {
                values[source * nodes + node] = 1.0 - share;
                values[(sources + source) * nodes + node] = *share;
            }
        }
        let batch = self.model.batch_id;
        let names = vec![Node::Origin(plant), Node::Source(batch), Node::Share(batch)];
        (names, vec![2, sources, nodes], values)
    }

    /// The genotype of a plant kept, by its origin, the source and the parents; with its readings where its cytoplasm
    /// matters to what it shows, and then by pace too.
    fn descent_factor(&self, plant: i64, at: usize) -> NamedFactor {
        let (model, batch) = (self.model, self.model.batch_id);
        let (size, pairs, sources) = (model.space.size, model.pair_count(), self.sources());
        let paces = if self.is_plain() {
            1
        } else {
            model.paces.len()
        };
        let mut values = vec![0.0; 2 * sources * paces * pairs * size];
        for (pair, states) in self.slots.terms.iter().enumerate() {
            for (source, state) in states.iter().enumerate() {
                let Some((term, _)) = state else {
                    continue;
                };
                let term = &self.terms.list()[*term];
                for (origin, seed) in [term.on, term.off].into_iter().enumerate() {
                    let Some(seed) = seed else {
                        continue;
                    };
                    for pace in 0..paces {
                        let row = ((origin * sources + source) * paces + pace) * pairs + pair;
                        let row = &mut values[row * size..(row + 1) * size];
                        self.add_seed(row, self.terms.seed(seed), at, pace);
                    }
                }
            }
        }
        let mut names = vec![Node::Origin(plant), Node::Source(batch)];
        let mut sizes = vec![2, sources];
        if !self.is_plain() {
            names.push(Node::Pace(batch));
            sizes.push(paces);
        }
        for (own, own_sizes) in [self.parent_nodes(), self.genotype_nodes(plant)] {
            names.extend(own);
            sizes.extend(own_sizes);
        }
        (names, sizes, values)
    }

    fn add_seed(&self, row: &mut [f64], seed: &[f64], at: usize, pace: usize) {
        for (profile, p) in seed.iter().enumerate() {
            let seen = if self.is_plain() {
                1.0
            } else {
                self.seen(at, profile, pace)
            };
            row[self.model.profiles.genotype_of(profile)] += p * seen;
        }
    }

    /// P(the readings of a plant kept | profile, pace).
    pub(super) fn seen(&self, at: usize, profile: usize, pace: usize) -> f64 {
        self.members.kept[at].map_or(1.0, |group| {
            self.model.groups[group].likelihood.values[profile * self.model.paces.len() + pace]
        })
    }

    /// The readings of a plant kept, by pace and genotype; nothing where they stand in its descent already.
    fn seen_factor(&self, plant: i64, at: usize) -> Option<NamedFactor> {
        self.members.kept[at].filter(|_| self.is_plain())?;
        let (own, own_sizes) = self.genotype_nodes(plant);
        let paces = self.model.paces.len();
        let mut values = vec![0.0; paces * self.model.space.size];
        for pace in 0..paces {
            for profile in 0..self.model.profiles.len() {
                let place = pace * self.model.space.size + self.model.profiles.genotype_of(profile);
                values[place] = self.seen(at, profile, pace);
            }
        }
        let mut names = vec![Node::Pace(self.model.batch_id)];
        names.extend(own);
        let mut sizes = vec![paces];
        sizes.extend(own_sizes);
        Some((names, sizes, values))
    }
}
