//! What is known of every plant of a small ledger, by running through every genotype of all of them at once.
//!
//! Written from section 10 of `docs/method.md` alone. A batch is summed over its source, the genotypes of the plants
//! that the source names, its pace, and how many of its seedlings are off-type; plants kept from it have the genotype
//! of the run.

use std::collections::HashMap;

use super::beliefs::{Beliefs, first_beliefs, outside_plant, phase_trust};
use super::genes::{Genes, Grain, Sex, lies, matches, pairs};
use super::model::advance;
use super::onset::{Mark, State, series, states};
use super::season::{Parent, Season, Slot};
use super::sources::{Candidates, Share, Source, candidates};

/// Where a plant that is no founder came from.
#[derive(Clone, Copy, Debug)]
pub enum Origin {
    /// It is a seedling of a batch.
    Kept { batch: usize, seedling: usize },
    /// By its pedigree; selfings since then fixed this share of the heterozygotes.
    Bred { parents: (usize, usize), fixed: f64 },
}

/// A ledger: the season's first parents are the founders, those after them have an origin.
pub struct Ledger {
    pub season: Season,
    pub origins: Vec<Origin>,
    /// Per batch and seedling: trait and reading.
    pub seedlings: Vec<Vec<Vec<(usize, Mark)>>>,
}

struct Brood {
    candidates: Candidates,
    parents: (usize, usize),
    /// By seedling, state and genotype.
    seen: Vec<Vec<Vec<f64>>>,
    states: Vec<State>,
    kept: Vec<Option<usize>>,
}

struct World<'a> {
    ledger: &'a Ledger,
    genes: &'a Genes<'a>,
    beliefs: &'a Beliefs,
    mated: Vec<Vec<f64>>,
    pool: Vec<Grain>,
    outside: Vec<f64>,
}

impl Ledger {
    /// Per plant, P(genotype | everything recorded), over the joint genotypes of [`Genes`].
    pub fn marginals(&self, traits: &[usize]) -> Vec<Vec<f64>> {
        let founders = self.season.parents.len() - self.origins.len();
        let mut first = self.season.clone();
        first.parents.truncate(founders);
        let genes = Genes::new(&first, traits);
        let beliefs = first_beliefs(&genes);
        let pool = genes.pool(&beliefs.shares);
        let kinds = genes.all.len();
        let mut world = World {
            ledger: self,
            genes: &genes,
            beliefs: &beliefs,
            mated: Vec::new(),
            outside: outside_plant(&genes, &pool),
            pool,
        };
        world.mated = (0..kinds * kinds)
            .map(|at| world.mate(at / kinds, at % kinds))
            .collect();
        let broods: Vec<Brood> = (0..self.season.batches.len())
            .map(|batch| world.brood(batch))
            .collect();
        let mut known: Vec<HashMap<Vec<usize>, f64>> = vec![HashMap::new(); broods.len()];
        let plants = self.season.parents.len();
        let mut sums = vec![vec![0.0; kinds]; plants];
        let mut genotypes = vec![0; plants];
        loop {
            let mut weight = world.alone(founders, &genotypes);
            for (brood, known) in broods.iter().zip(&mut known) {
                let mut key = vec![genotypes[brood.parents.0], genotypes[brood.parents.1]];
                key.extend(brood.kept.iter().flatten().map(|plant| genotypes[*plant]));
                weight *= *known
                    .entry(key)
                    .or_insert_with(|| world.likelihood(brood, &genotypes));
            }
            for (sums, genotype) in sums.iter_mut().zip(&genotypes) {
                sums[*genotype] += weight;
            }
            if !advance(&mut genotypes, kinds) {
                break;
            }
        }
        for own in &mut sums {
            let total: f64 = own.iter().sum();
            own.iter_mut().for_each(|p| *p /= total);
        }
        sums
    }
}

impl World<'_> {
    fn mate(&self, mother: usize, father: usize) -> Vec<f64> {
        if let Some(known) = self.mated.get(mother * self.genes.all.len() + father) {
            return known.clone();
        }
        let egg = self.genes.gametes(mother, Sex::Female);
        self.born(&egg, &self.genes.gametes(father, Sex::Male))
    }

    fn born(&self, eggs: &[Grain], grains: &[Grain]) -> Vec<f64> {
        let mut shares = vec![0.0; self.genes.all.len()];
        for (egg, p) in eggs {
            for (grain, q) in grains {
                let child = self.genes.child(egg, grain);
                let at = self.genes.all.iter().position(|g| *g == child);
                shares[at.expect("every genotype is listed")] += p * q;
            }
        }
        shares
    }

    /// Founders, pedigrees and statements.
    fn alone(&self, founders: usize, genotypes: &[usize]) -> f64 {
        let mut weight: f64 = (0..founders)
            .map(|plant| self.beliefs.own[plant][genotypes[plant]])
            .product();
        for (at, origin) in self.ledger.origins.iter().enumerate() {
            let plant = founders + at;
            weight *= self.statement(plant, genotypes[plant]);
            if let Origin::Bred { parents, fixed } = origin {
                let kinds = self.genes.all.len();
                let born = &self.mated[genotypes[parents.0] * kinds + genotypes[parents.1]];
                weight *= self.selfed_since(born, *fixed)[genotypes[plant]];
            }
        }
        weight
    }

    /// One locus: each heterozygote is fixed with this chance, for either allele alike. Linked loci: a line (0.95) is
    /// four selfings old (1/16 left mixed) with probability 0.6 and five (1/32) with 0.4, which leaves 0.05.
    fn selfed_since(&self, born: &[f64], fixed: f64) -> Vec<f64> {
        let mut since = born.to_vec();
        if fixed == 0.0 {
            return since;
        }
        if self.genes.ordered {
            assert!(fixed == 0.95, "only lines are drawn");
            for _ in 0..4 {
                since = self.selfed(&since);
            }
            let fifth = self.selfed(&since);
            let mix = since.iter().zip(fifth);
            return mix.map(|(four, five)| 0.6 * four + 0.4 * five).collect();
        }
        for (at, genotype) in self.genes.all.iter().enumerate() {
            let [(x, y)] = genotype[..] else {
                panic!("lines of known pedigree are drawn at one locus only");
            };
            if x != y {
                since[at] -= fixed * born[at];
                for allele in [x, y] {
                    let pure = self.genes.all.iter().position(|g| g[0] == (allele, allele));
                    since[pure.expect("every genotype is listed")] += fixed * born[at] / 2.0;
                }
            }
        }
        since
    }

    fn selfed(&self, plant: &[f64]) -> Vec<f64> {
        let kinds = self.genes.all.len();
        let mut sums = vec![0.0; kinds];
        for (at, weight) in plant.iter().enumerate() {
            let born = &self.mated[at * kinds + at];
            sums.iter_mut()
                .zip(born)
                .for_each(|(sum, p)| *sum += weight * p);
        }
        sums
    }

    /// P(statement | genotype): right with the trust, else one of the statements that could have been made instead.
    fn statement(&self, plant: usize, genotype: usize) -> f64 {
        let of_locus = |(locus, slots): &(usize, [Slot; 2])| {
            let all = pairs(2);
            let others = all.iter().filter(|pair| !matches(*slots, **pair)).count();
            let trust = if *slots == [Some(1), Some(1)] {
                0.999
            } else {
                0.99
            };
            let place = self.genes.loci.iter().position(|own| own == locus);
            let own = self.genes.all[genotype][place.expect("stated loci are carried")];
            match matches(*slots, own) {
                true => trust,
                false => (1.0 - trust) / others as f64,
            }
        };
        let parent = &self.ledger.season.parents[plant];
        let of_loci: f64 = parent.stated.iter().map(of_locus).product();
        of_loci * self.phase_statement(parent, genotype)
    }

    /// P(the phases stated | genotype): with n mixed pairs stated there are 2^(n-1) phases to state. Among the pairs that
    /// are as stated it is right with the trust, else any other; those that are wrong lie either way.
    fn phase_statement(&self, parent: &Parent, genotype: usize) -> f64 {
        let is_mixed = |slots: &[Slot; 2]| slots[0] != slots[1] && !slots.contains(&None);
        let stated = parent.stated.iter().filter(|s| is_mixed(&s.1)).count();
        if !self.genes.ordered || !parent.phased || stated < 2 {
            return 1.0;
        }
        let ways = |pairs: i32| 2.0_f64.powi((pairs - 1).max(0));
        let (right, as_stated) = lies(self.genes, &parent.stated, &self.genes.all[genotype]);
        let among_right = match (right, as_stated) {
            (0 | 1, _) => 1.0,
            (_, true) => phase_trust(parent),
            (_, false) => (1.0 - phase_trust(parent)) / (ways(right) - 1.0),
        };
        among_right * ways(right) / ways(i32::try_from(stated).expect("few loci"))
    }

    fn brood(&self, batch: usize) -> Brood {
        let ledger = self.ledger;
        let season = &ledger.season;
        let founders = season.parents.len() - ledger.origins.len();
        let is_late = |(of, _): &(usize, Mark)| season.traits[*of].late.is_some();
        let states = match ledger.seedlings[batch].iter().flatten().any(is_late) {
            true => states(false),
            false => vec![State {
                weight: 1.0,
                shift: Some(0.0),
            }],
        };
        let chance = |marks: &[(usize, Mark)], state: &State, genotype: usize| -> f64 {
            let of_trait = |of: usize| {
                let own: Vec<Mark> = marks
                    .iter()
                    .filter(|(other, _)| *other == of)
                    .map(|(_, mark)| *mark)
                    .collect();
                let end = self.genes.classes(&self.genes.all[genotype], &[of])[0];
                series(&season.traits[of], end, &own, state.shift)
            };
            let read = (0..season.traits.len()).filter(|of| marks.iter().any(|m| m.0 == *of));
            read.map(of_trait).product()
        };
        let mut kept = vec![None; ledger.seedlings[batch].len()];
        for (at, origin) in ledger.origins.iter().enumerate() {
            if let Origin::Kept {
                batch: own,
                seedling,
            } = origin
                && *own == batch
            {
                kept[*seedling] = Some(founders + at);
            }
        }
        Brood {
            candidates: candidates(season, batch),
            parents: season.parents_of(batch),
            seen: ledger.seedlings[batch]
                .iter()
                .map(|marks| {
                    states
                        .iter()
                        .map(|state| {
                            (0..self.genes.all.len())
                                .map(|g| chance(marks, state, g))
                                .collect()
                        })
                        .collect()
                })
                .collect(),
            states,
            kept,
        }
    }

    /// P(readings of a batch, genotypes of the plants kept | genotypes of its parents).
    fn likelihood(&self, brood: &Brood, genotypes: &[usize]) -> f64 {
        let (mother, father) = brood.parents;
        let kinds = self.genes.all.len();
        let label = &self.mated[genotypes[mother] * kinds + genotypes[father]];
        let mut sum = 0.0;
        for (source, prior) in &brood.candidates.sources {
            for (off, weight) in self.off_types(brood, source, genotypes) {
                for (at, state) in brood.states.iter().enumerate() {
                    let given = |seed: &[f64]| -> Vec<f64> {
                        let of = |(i, kept): (usize, &Option<usize>)| match kept {
                            Some(plant) => {
                                seed[genotypes[*plant]] * brood.seen[i][at][genotypes[*plant]]
                            }
                            None => seed
                                .iter()
                                .zip(&brood.seen[i][at])
                                .map(|(p, l)| p * l)
                                .sum(),
                        };
                        brood.kept.iter().enumerate().map(of).collect()
                    };
                    let shared = mixed(&given(label), &given(&off), source.share());
                    sum += prior * weight * state.weight * shared;
                }
            }
        }
        sum
    }

    /// The genotypes of a source's seedlings, for each genotype of the plants it names.
    fn off_types(
        &self,
        brood: &Brood,
        source: &Source,
        genotypes: &[usize],
    ) -> Vec<(Vec<f64>, f64)> {
        let (mother, father) = brood.parents;
        let of = |plant: usize| -> Vec<(usize, f64)> {
            if plant == mother || plant == father {
                return vec![(genotypes[plant], 1.0)];
            }
            self.beliefs.own[plant]
                .iter()
                .copied()
                .enumerate()
                .collect()
        };
        let two = |one: usize, other: usize| -> Vec<(Vec<f64>, f64)> {
            let mut found = Vec::new();
            for (x, p) in of(one) {
                for (y, q) in of(other) {
                    match one == other {
                        true if x == y => found.push((self.mate(x, x), p)),
                        true => {}
                        false => found.push((self.mate(x, y), p * q)),
                    }
                }
            }
            found
        };
        match source {
            Source::None => vec![(vec![0.0; self.genes.all.len()], 1.0)],
            Source::SelfPollen | Source::AllSelf => two(mother, mother),
            Source::Pollen(donor) | Source::AllPollen(donor) => two(mother, *donor),
            Source::UnknownPollen => {
                let eggs = self.genes.gametes(genotypes[mother], Sex::Female);
                vec![(self.born(&eggs, &self.pool), 1.0)]
            }
            Source::StraySeed(code) | Source::Swapped(Some(code)) => {
                let (one, other) = self.ledger.season.parents_of_cross(code);
                two(one, other)
            }
            Source::UnknownSeed => vec![(self.born(&self.pool, &self.pool), 1.0)],
            Source::Swapped(None) => {
                let mut found = Vec::new();
                for (x, p) in self.outside.iter().enumerate() {
                    for (y, q) in self.outside.iter().enumerate() {
                        found.push((self.mate(x, y), p * q));
                    }
                }
                found
            }
            Source::Mixed => {
                let mut whole = vec![0.0; self.genes.all.len()];
                for (drawn, share) in &brood.candidates.drawn {
                    for (off, weight) in self.off_types(brood, drawn, genotypes) {
                        let parts = whole.iter_mut().zip(off);
                        parts.for_each(|(sum, p)| *sum += share * weight * p);
                    }
                }
                vec![(whole, 1.0)]
            }
        }
    }
}

/// Every seedling as labelled (`a`) or off-type (`b`), by how many are: for k of n off-type and a share of Beta(1, s)
/// the integral is s k! (s + n - k - 1)! / (s + n)!.
fn mixed(a: &[f64], b: &[f64], share: Share) -> f64 {
    let second = match share {
        Share::Zero => return a.iter().product(),
        Share::One => return b.iter().product(),
        Share::Beta(second) => f64::from(second),
    };
    let mut by_count = vec![1.0];
    for (a, b) in a.iter().zip(b) {
        let mut next = vec![0.0; by_count.len() + 1];
        for (k, sum) in by_count.iter().enumerate() {
            next[k] += sum * a;
            next[k + 1] += sum * b;
        }
        by_count = next;
    }
    let n = a.len();
    let weight = |k: usize| -> f64 {
        let mut product = second / (second + n as f64);
        for i in 1..=k {
            product *= i as f64 / (second + n as f64 - i as f64);
        }
        product
    };
    by_count
        .iter()
        .enumerate()
        .map(|(k, sum)| sum * weight(k))
        .sum()
}
