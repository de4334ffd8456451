//! The origins of a few plants of a batch, and the blocks of loci that hang on them, as factors.
//!
//! Given whether each of these plants is as labelled, and if not, what kind of seed it is, nothing read at one block says
//! anything of another. So each block is a table of its own over the origins, the parents' genotypes and those of the
//! plants kept. Called by the blocks next door; which loci make a block is not known here.

use crate::stats::elimination::TooManyCells;

use super::batch::BatchModel;
use super::belief::CELLS_LIMIT;
use super::context::Context;
use super::family::{Maker, Members, NamedFactor, kind_of, nodes_of};
use super::family_blocks::{Block, Kinds};
use super::graph::Node;
use super::sources::{Candidate, Seed};
use super::space::Space;
use super::terms::Terms;

/// Largest table of one block where one table of all loci would be small too.
const SMALL_CELLS: u128 = 500_000;

/// Most genotypes of a plant for which one table of all loci is small.
pub(super) const FEW_GENOTYPES: usize = 27;

/// The plants that tie the blocks of a batch together, and what they can be.
pub(super) struct Tied {
    plants: Vec<i64>,
    /// Of each whether its genotypes are variables; those of others are summed out.
    is_kept: Vec<bool>,
    kinds: Kinds,
    /// Whether seed of a mixture has origins of its own: plants that one source brought share its parents, those of a
    /// mixture do not.
    is_doubled: bool,
}

impl Tied {
    pub(super) fn new(blocks: &[Block], plants: &[i64], kept: &[i64]) -> Self {
        let (core, side) = blocks.split_first().expect("there are two blocks or more");
        let mut candidates = core.model.candidates.iter();
        let is_mixed = candidates.any(|own| own.seed == Seed::Mixed && own.prior > 0.0);
        Self {
            plants: plants.to_vec(),
            is_kept: plants.iter().map(|plant| kept.contains(plant)).collect(),
            kinds: Kinds::new(&core.model, side),
            is_doubled: plants.len() > 1 && is_mixed,
        }
    }

    const fn kinds(&self) -> usize {
        self.kinds.first.len()
    }

    /// What a plant can be: as labelled, of one of the kinds as the batch's source, or of one of them in a mixture.
    const fn origins(&self) -> usize {
        1 + self.kinds() * if self.is_doubled { 2 } else { 1 }
    }

    const fn of_source(kind: usize) -> usize {
        1 + kind
    }

    const fn of_mixture(&self, kind: usize) -> usize {
        1 + kind + if self.is_doubled { self.kinds() } else { 0 }
    }

    /// The batch and its plants as a factor for each block.
    ///
    /// # Errors
    /// [`TooManyCells`] where one would be too large.
    pub(super) fn factors(
        &self,
        context: &Context<'_>,
        blocks: &[Block],
    ) -> Result<Vec<NamedFactor>, TooManyCells> {
        let all: usize = blocks.iter().map(|block| block.model.space.size).product();
        let limit = match all <= FEW_GENOTYPES {
            true => SMALL_CELLS,
            false => CELLS_LIMIT,
        };
        for block in blocks {
            let origins = self.plants.iter().map(|_| self.origins() as u128);
            let kept = self.is_kept.iter().filter(|is_kept| **is_kept);
            let genotypes = kept.map(|_| block.model.space.size as u128);
            let pairs = block.model.pair_count() as u128;
            let needed = origins.chain(genotypes).fold(pairs, u128::saturating_mul);
            if needed > limit {
                return Err(TooManyCells { needed, limit });
            }
        }
        let (core, side) = blocks.split_first().expect("there are two blocks or more");
        let mut factors = vec![self.core_factor(context, core)];
        factors.extend(side.iter().map(|block| self.side_factor(block)));
        Ok(factors)
    }

    /// A table over the origins of the plants, their parents' genotypes and those of the plants kept.
    fn named(&self, model: &BatchModel, mut values: Vec<f64>) -> NamedFactor {
        let origins = self.plants.iter().map(|plant| Node::Origin(*plant));
        let mut nodes: Vec<Node> = origins.collect();
        let mut sizes = vec![self.origins(); nodes.len()];
        let of_pair = if model.is_self() { 1 } else { 2 };
        let parents = [model.mother, model.father].into_iter().take(of_pair);
        let plants = self.plants.iter().zip(&self.is_kept);
        let kept = plants.filter(|(_, is_kept)| **is_kept);
        for own in parents.chain(kept.map(|(plant, _)| *plant)) {
            nodes.extend(units_of(own, &model.space));
            sizes.extend(model.space.units.iter().map(|unit| unit.size()));
        }
        let most = values.iter().copied().fold(0.0, f64::max);
        if most > 0.0 {
            values.iter_mut().for_each(|value| *value /= most);
        }
        (nodes, sizes, values)
    }

    fn table(&self, model: &BatchModel) -> Table {
        let kept = self.is_kept.iter().filter(|is_kept| **is_kept);
        let row = kept.map(|_| model.space.size).product();
        let states: usize = self.plants.iter().map(|_| self.origins()).product();
        let pairs = model.pair_count();
        Table {
            origins: self.origins(),
            values: vec![0.0; states * pairs * row],
            pairs,
            row,
        }
    }

    /// Genotypes of one of the plants, its readings in, by the profiles that its seed may have: summed up where the
    /// plant is not kept.
    fn seen_row(&self, model: &BatchModel, at: usize, seed: &[f64], seen: &[f64]) -> Vec<f64> {
        let mut row = vec![0.0; model.space.size];
        for (profile, (p, seen)) in seed.iter().zip(seen).enumerate() {
            row[model.profiles.genotype_of(profile)] += p * seen;
        }
        self.narrowed(at, row)
    }

    fn narrowed(&self, at: usize, row: Vec<f64>) -> Vec<f64> {
        match self.is_kept[at] {
            true => row,
            false => vec![row.iter().sum()],
        }
    }

    /// The batch at the loci that its seedlings were read for; source, share and pace are summed out.
    fn core_factor(&self, context: &Context<'_>, core: &Block) -> NamedFactor {
        let model = &core.model;
        let members = Members::of(context, model, &self.plants);
        let of_kind = |kind: usize| {
            core.with(|at, own| Candidate {
                prior: match self.kinds.of[at] == Some(kind) {
                    true => own.prior,
                    false => 0.0,
                },
                ..own.clone()
            })
        };
        let mut brought: Vec<Brought> = Vec::new();
        for kind in 0..self.kinds() {
            let of_kind = of_kind(kind);
            let terms = core.terms(&of_kind);
            brought.extend(self.brought(&of_kind, &terms, &members, Some(kind)));
        }
        let mixed = core.only_mixed(|_| true);
        brought.extend(self.brought(&mixed, &core.terms(&mixed), &members, None));
        let lns = brought.iter().map(|one| one.ln);
        let most = lns.fold(f64::NEG_INFINITY, f64::max);
        let parts = self.parts(core);
        let mut table = self.table(model);
        for one in &brought {
            let scale = (one.ln - most).exp();
            match one.kind {
                Some(kind) => self.add_source(&mut table, one, scale, kind),
                None => self.add_mixture(&mut table, one, scale, (model, &parts)),
            }
        }
        self.named(model, table.values)
    }

    /// What brings seed of a model's candidates, term by term and pace by pace.
    fn brought(
        &self,
        model: &BatchModel,
        terms: &Terms<'_>,
        members: &Members,
        kind: Option<usize>,
    ) -> Vec<Brought> {
        let maker = Maker::bare(model, terms, members.clone());
        let by_term = maker.ln_by_term();
        let mut found = Vec::new();
        for (at, (term, by_pace)) in terms.list().iter().zip(&by_term).enumerate() {
            let nodes = nodes_of(kind_of(term), members.count);
            for (pace, lns) in by_pace.iter().enumerate() {
                let lns = lns.iter().zip(&nodes).map(|(ln, (_, node))| ln + node);
                let lns: Vec<f64> = lns.collect();
                let most = lns.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                if most == f64::NEG_INFINITY {
                    continue;
                }
                let mut by_off = vec![0.0; self.plants.len() + 1];
                for (ln, (share, _)) in lns.iter().zip(&nodes) {
                    let weight = (ln - most).exp();
                    for (off, sum) in by_off.iter_mut().enumerate() {
                        let on = self.plants.len() - off;
                        *sum += weight * power(1.0 - share, on) * power(*share, off);
                    }
                }
                let plants = 0..self.plants.len();
                let rows = plants.clone().map(|plant| {
                    let rows = maker.seen_by_origin(at, plant, pace);
                    rows.map(|row| self.narrowed(plant, row))
                });
                let seen = |plant: usize| -> Vec<f64> {
                    let profiles = 0..model.profiles.len();
                    profiles.map(|one| maker.seen(plant, one, pace)).collect()
                };
                found.push(Brought {
                    kind,
                    weights: term.weights.clone(),
                    ln: most + model.paces.ln_weights[pace],
                    by_off,
                    rows: rows.collect(),
                    seen: plants.map(seen).collect(),
                });
            }
        }
        found
    }

    /// The kinds that a mixture is of.
    fn parts(&self, core: &Block) -> Vec<Part> {
        let shares = self.kinds.mixed(&core.model.candidates);
        let shares = shares.into_iter().enumerate();
        let part = |(kind, share): (usize, f64)| {
            let alone = core.only_mixed(|at| self.kinds.of[at] == Some(kind));
            let terms = core.terms(&alone);
            let mut rows = vec![vec![0.0; alone.profiles.len()]; alone.pair_count()];
            for term in terms.list() {
                for (pair, _) in &term.weights {
                    if let Some(seed) = term.off {
                        rows[*pair] = terms.seed(seed).to_vec();
                    }
                }
            }
            Part { kind, share, rows }
        };
        shares.filter(|(_, share)| *share > 0.0).map(part).collect()
    }

    fn add_source(&self, table: &mut Table, one: &Brought, scale: f64, kind: usize) {
        for off in 0..1_usize << self.plants.len() {
            let is_off = |plant: usize| off >> plant & 1;
            let weight = scale * one.by_off[off.count_ones() as usize];
            let plants = 0..self.plants.len();
            let rows: Vec<&[f64]> = plants
                .clone()
                .map(|plant| one.rows[plant][is_off(plant)].as_slice())
                .collect();
            let origins: Vec<usize> = plants
                .map(|plant| is_off(plant) * Self::of_source(kind))
                .collect();
            let product = outer(weight, &rows);
            for (pair, weight) in &one.weights {
                table.add(&origins, *pair, *weight, &product);
            }
        }
    }

    fn add_mixture(
        &self,
        table: &mut Table,
        one: &Brought,
        scale: f64,
        (model, parts): (&BatchModel, &[Part]),
    ) {
        for (pair, weight) in &one.weights {
            // For each plant the ways it can be: its origin, how much that weighs if it is off-type, its genotypes.
            let ways = |plant: usize| -> Vec<(usize, f64, Vec<f64>)> {
                let label = (0, 1.0, one.rows[plant][0].clone());
                let of = |part: &Part| {
                    let row = &part.rows[*pair];
                    let row = self.seen_row(model, plant, row, &one.seen[plant]);
                    (self.of_mixture(part.kind), part.share, row)
                };
                std::iter::once(label).chain(parts.iter().map(of)).collect()
            };
            let ways: Vec<_> = (0..self.plants.len()).map(ways).collect();
            for chosen in choices(&ways.iter().map(Vec::len).collect::<Vec<_>>()) {
                let of = || ways.iter().zip(&chosen).map(|(ways, at)| &ways[*at]);
                let origins: Vec<usize> = of().map(|way| way.0).collect();
                let rows: Vec<&[f64]> = of().map(|way| way.2.as_slice()).collect();
                let off = origins.iter().filter(|origin| **origin > 0).count();
                let share: f64 = of().map(|way| way.1).product();
                let product = outer(scale * one.by_off[off] * share, &rows);
                table.add(&origins, *pair, *weight, &product);
            }
        }
    }

    /// The plants at loci that no other seedling was read for, given their origins.
    fn side_factor(&self, block: &Block) -> NamedFactor {
        let model = &block.model;
        let seen: Vec<Vec<f64>> = self
            .plants
            .iter()
            .map(|plant| seen(model, *plant))
            .collect();
        let narrow = |seed: &[f64]| -> Vec<Vec<f64>> {
            let plants = seen.iter().enumerate();
            plants
                .map(|(at, seen)| self.seen_row(model, at, seed, seen))
                .collect()
        };
        let kinds: Vec<Brings> = (self.kinds.first.iter())
            .map(|first| Brings::of(block, *first))
            .collect();
        let mut table = self.table(model);
        let origins = vec![self.origins(); self.plants.len()];
        for pair in 0..model.pair_count() {
            let (mother, father) = model.pair(pair);
            let label = model.seed_of_pair(mother, father, model.mother_cytoplasm());
            let mut alone = vec![narrow(&label)];
            for _ in 0..(self.origins() - 1) / self.kinds().max(1) {
                alone.extend(kinds.iter().map(|kind| narrow(&kind.mean[pair])));
            }
            for chosen in choices(&origins) {
                let of = |plant: usize| alone[chosen[plant]][plant].as_slice();
                let rows: Vec<&[f64]> = (0..chosen.len()).map(of).collect();
                let Some(shared) = self.shared(&chosen) else {
                    table.add(&chosen, pair, 1.0, &outer(1.0, &rows));
                    continue;
                };
                let Some(kind) = shared else {
                    continue;
                };
                for (weight, seed) in &kinds[kind].seeds[pair] {
                    let own = narrow(seed);
                    let is_of = |plant: &usize| chosen[*plant] == Self::of_source(kind);
                    let mut rows = rows.clone();
                    for plant in (0..chosen.len()).filter(is_of) {
                        rows[plant] = &own[plant];
                    }
                    table.add(&chosen, pair, *weight, &outer(1.0, &rows));
                }
            }
        }
        self.named(model, table.values)
    }

    /// Of origins whether two plants or more are of the batch's source: of which kind, or of several, which cannot be.
    fn shared(&self, origins: &[usize]) -> Option<Option<usize>> {
        let of_source = |origin: &&usize| (1..=self.kinds()).contains(*origin);
        let kinds: Vec<usize> = origins
            .iter()
            .filter(of_source)
            .map(|one| one - 1)
            .collect();
        match kinds[..] {
            [] | [_] => None,
            [first, ref others @ ..] => {
                Some(others.iter().all(|other| *other == first).then_some(first))
            }
        }
    }
}

/// P(the readings of a plant | profile) at loci where the pace does not matter.
fn seen(model: &BatchModel, plant: i64) -> Vec<f64> {
    let members = model.evidence.members.iter().zip(&model.group_of);
    let mut own = members.filter(|(member, _)| member.plant == Some(plant));
    let group = own.next().map(|(_, group)| &model.groups[*group]);
    let paces = model.paces.len();
    let of = |profile: usize| group.map_or(1.0, |g| g.likelihood.values[profile * paces]);
    (0..model.profiles.len()).map(of).collect()
}

fn units_of(plant: i64, space: &Space) -> impl Iterator<Item = Node> + '_ {
    let units = space.units.iter();
    units.map(move |unit| Node::Plant(plant, unit.key))
}

/// A table over origins, pairs of parental genotypes and genotypes of plants kept, in this order.
struct Table {
    origins: usize,
    pairs: usize,
    row: usize,
    values: Vec<f64>,
}

impl Table {
    fn add(&mut self, origins: &[usize], pair: usize, weight: f64, row: &[f64]) {
        let state = origins.iter().fold(0, |at, own| at * self.origins + own);
        let from = (state * self.pairs + pair) * self.row;
        let own = self.values[from..from + self.row].iter_mut();
        own.zip(row).for_each(|(sum, p)| *sum += weight * p);
    }
}

/// One term at one pace: how the seedlings that were not kept weigh it, and what the plants then are.
struct Brought {
    /// The kind of seed beside the label's; nothing for a mixture.
    kind: Option<usize>,
    /// By pair of parental genotypes.
    weights: Vec<(usize, f64)>,
    /// Log of what is taken out of the weights below.
    ln: f64,
    /// By how many of the plants are off-type: the weight of certain ones being so.
    by_off: Vec<f64>,
    /// By plant: its genotypes as labelled and as off-type, its readings in.
    rows: Vec<[Vec<f64>; 2]>,
    /// By plant: P(its readings | profile).
    seen: Vec<Vec<f64>>,
}

/// One kind of seed in a mixture.
struct Part {
    kind: usize,
    /// Its share of the mixture.
    share: f64,
    /// By pair of parental genotypes: its distribution over profiles.
    rows: Vec<Vec<f64>>,
}

/// What a kind of seed is at a block, by pair of parental genotypes.
struct Brings {
    /// Distributions over profiles, each the same for all seed of one batch, with their chances.
    seeds: Vec<Vec<(f64, Vec<f64>)>>,
    /// Their mean.
    mean: Vec<Vec<f64>>,
}

impl Brings {
    fn of(block: &Block, candidate: usize) -> Self {
        let alone = block.with(|at, own| Candidate {
            prior: if at == candidate { 1.0 } else { 0.0 },
            ..own.clone()
        });
        let terms = block.terms(&alone);
        let mut brings = Self {
            seeds: vec![Vec::new(); alone.pair_count()],
            mean: vec![vec![0.0; alone.profiles.len()]; alone.pair_count()],
        };
        for term in terms.list() {
            let Some(seed) = term.off.map(|seed| terms.seed(seed)) else {
                continue;
            };
            for (pair, weight) in &term.weights {
                brings.seeds[*pair].push((*weight, seed.to_vec()));
                let sums = brings.mean[*pair].iter_mut().zip(seed);
                sums.for_each(|(sum, p)| *sum += weight * p);
            }
        }
        brings
    }
}

/// The product of rows, the last running fastest.
fn outer(weight: f64, rows: &[&[f64]]) -> Vec<f64> {
    rows.iter().fold(vec![weight], |product, row| {
        let cells = product.iter();
        cells.flat_map(|p| row.iter().map(move |q| p * q)).collect()
    })
}

fn power(base: f64, times: usize) -> f64 {
    std::iter::repeat_n(base, times).product()
}

/// Every choice of one of so many ways for each of some things.
fn choices(ways: &[usize]) -> Vec<Vec<usize>> {
    ways.iter().fold(vec![Vec::new()], |chosen, ways| {
        let with =
            |before: Vec<usize>| (0..*ways).map(move |way| [before.as_slice(), &[way]].concat());
        chosen.into_iter().flat_map(with).collect()
    })
}
