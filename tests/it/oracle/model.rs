//! One batch and its tables: likelihoods of readings, and every combination of source and genotypes.

use std::collections::HashMap;

use super::beliefs::{Beliefs, outside_plant};
use super::evidence::{Evidence, Reading, Unit, dim_ruled_out, traits_read};
use super::genes::{Genes, Sex, all_looks};
use super::onset::{Mark, State, series, states};
use super::season::{Day, Season};
use super::sources::{Candidates, Source, candidates};

/// One batch with its tables.
pub struct Model<'a> {
    season: &'a Season,
    /// How many joint genotypes there are.
    pub kinds: usize,
    pub mother: usize,
    pub father: usize,
    pub evidence: Evidence,
    pub traits: Vec<usize>,
    /// The final looks that the traits read can give.
    pub looks: Vec<Vec<usize>>,
    pub states: Vec<State>,
    pub candidates: Candidates,
    cross: Vec<Vec<f64>>,
    by_unknown_pollen: Vec<Vec<f64>>,
    unknown_seed: Vec<f64>,
    outside: Vec<(Vec<f64>, f64)>,
    /// Likelihood per unit, state and final look.
    pub likelihood: Vec<Vec<Vec<f64>>>,
}

/// Weights of the genotypes of lists of plants, first plant slowest.
pub type Weights = HashMap<Vec<usize>, Vec<f64>>;

/// Genotype combinations that give the same looks, taken together.
#[derive(Clone, Debug)]
pub struct Term {
    pub source: usize,
    pub weight: f64,
    pub parents: (usize, usize),
    /// Looks of seedlings as labelled and of off-type ones.
    pub label: Vec<f64>,
    pub brood: Vec<f64>,
    /// For `mixed`: per drawn source its part of the brood.
    pub parts: Vec<Vec<f64>>,
}

/// Steps through all tuples of genotypes; false after the last.
pub fn advance(tuple: &mut [usize], kinds: usize) -> bool {
    for at in (0..tuple.len()).rev() {
        tuple[at] += 1;
        if tuple[at] < kinds {
            return true;
        }
        tuple[at] = 0;
    }
    false
}

impl<'a> Model<'a> {
    /// Works out a batch's tables.
    pub fn new(genes: &Genes<'a>, beliefs: &Beliefs, all: &[Evidence], batch: usize) -> Model<'a> {
        let season = genes.season;
        let evidence = all[batch].clone();
        let traits = traits_read(&evidence);
        let looks = all_looks(season, &traits);
        let kinds = genes.all.len();
        let eggs: Vec<_> = (0..kinds).map(|g| genes.gametes(g, Sex::Female)).collect();
        let grains: Vec<_> = (0..kinds).map(|g| genes.gametes(g, Sex::Male)).collect();
        let pool = genes.pool(&beliefs.shares);
        let mate = |x, y| genes.offspring(x, y, &traits, &looks);
        let cross: Vec<Vec<f64>> = eggs
            .iter()
            .flat_map(|x| grains.iter().map(|y| mate(x, y)).collect::<Vec<_>>())
            .collect();
        let plant = outside_plant(genes, &pool);
        let (mother, father) = season.parents_of(batch);
        let mut model = Model {
            by_unknown_pollen: eggs.iter().map(|x| mate(x, &pool)).collect(),
            unknown_seed: mate(&pool, &pool),
            outside: from_outside(&cross, &plant),
            states: states(dim_ruled_out(season, all, batch)),
            candidates: candidates(season, batch),
            likelihood: Vec::new(),
            season,
            kinds,
            mother,
            father,
            evidence,
            traits,
            looks,
            cross,
        };
        model.likelihood = model
            .evidence
            .units
            .iter()
            .map(|u| model.likelihoods(&u.readings, u))
            .collect();
        model
    }

    /// Per state and final look, the likelihood of readings of a seedling with a unit's dates of emergence.
    pub fn likelihoods(&self, readings: &[Reading], unit: &Unit) -> Vec<Vec<f64>> {
        let of_look = |look: &Vec<usize>, shift| {
            let on_date = |&(date, w): &(Day, f64)| w * self.one_date(look, readings, date, shift);
            unit.emerged.iter().map(on_date).sum()
        };
        self.states
            .iter()
            .map(|s| self.looks.iter().map(|l| of_look(l, s.shift)).collect())
            .collect()
    }

    fn one_date(&self, look: &[usize], readings: &[Reading], date: Day, shift: Option<f64>) -> f64 {
        let of_trait = |(&t, &end): (&usize, &usize)| {
            let marks: Vec<Mark> = readings
                .iter()
                .filter(|r| r.of == t)
                .map(|r| Mark {
                    age: (r.day - date).max(0),
                    class: r.class,
                    error: r.error,
                })
                .collect();
            series(&self.season.traits[t], end, &marks, shift)
        };
        self.traits.iter().zip(look).map(of_trait).product()
    }

    fn thirds(&self, source: &Source) -> Vec<usize> {
        let named = match source {
            Source::Pollen(d) | Source::AllPollen(d) => vec![*d],
            Source::StraySeed(c) | Source::Swapped(Some(c)) => {
                let (mother, father) = self.season.parents_of_cross(c);
                if mother == father {
                    vec![mother]
                } else {
                    vec![mother, father]
                }
            }
            _ => Vec::new(),
        };
        named
            .into_iter()
            .filter(|&p| p != self.mother && p != self.father)
            .collect()
    }

    fn named(&self, source: &Source) -> Vec<usize> {
        let mut plants = vec![self.mother];
        plants.extend((self.father != self.mother).then_some(self.father));
        plants.extend(self.thirds(source));
        plants
    }

    /// Every list of plants whose weights the sources need.
    pub fn lists(&self) -> Vec<Vec<usize>> {
        let sources = self.candidates.sources.iter().map(|s| &s.0);
        let mut lists: Vec<Vec<usize>> = sources
            .flat_map(|s| [self.named(s), self.thirds(s)])
            .collect();
        lists.sort();
        lists.dedup();
        lists
    }

    /// Weights as a product of separate beliefs; `parents_too` or only those of third plants.
    pub fn product_weights(&self, belief: &[Vec<f64>], parents_too: bool) -> Weights {
        let one = |list: &Vec<usize>| {
            let mut table = vec![1.0];
            for &p in list {
                let parent = p == self.mother || p == self.father;
                let factor = |g: usize| {
                    if parent && !parents_too {
                        1.0
                    } else {
                        belief[p][g]
                    }
                };
                table = table
                    .iter()
                    .flat_map(|w| (0..self.kinds).map(move |g| w * factor(g)))
                    .collect();
            }
            table
        };
        self.lists()
            .into_iter()
            .map(|l| (l.clone(), one(&l)))
            .collect()
    }

    /// All sources with all genotypes of the plants they name; `by_parents` keeps the parents' genotypes apart.
    pub fn terms(&self, weights: &Weights, by_parents: bool) -> Vec<Term> {
        let mut merged: HashMap<Vec<u64>, Term> = HashMap::new();
        for (at, (source, prior)) in self.candidates.sources.iter().enumerate() {
            let plants = self.named(source);
            let mut genotypes = vec![0; plants.len()];
            for weight in &weights[&plants] {
                for (brood, parts, share) in self.broods(source, &plants, &genotypes, weights) {
                    let (m, f) = (
                        genotypes[0],
                        genotypes[usize::from(self.father != self.mother)],
                    );
                    let term = Term {
                        source: at,
                        weight: prior * weight * share,
                        parents: (m, f),
                        label: self.cross[m * self.kinds + f].clone(),
                        brood,
                        parts,
                    };
                    merge(&mut merged, term, by_parents);
                }
                advance(&mut genotypes, self.kinds);
            }
        }
        let mut terms: Vec<Term> = merged.into_values().collect();
        terms.sort_by(|x, y| {
            (x.source, x.parents)
                .cmp(&(y.source, y.parents))
                .then(y.weight.total_cmp(&x.weight))
        });
        terms
    }

    /// The looks of a source's seedlings: usually one distribution, for labels from outside one per pair of looks.
    fn broods(
        &self,
        source: &Source,
        plants: &[usize],
        genotypes: &[usize],
        weights: &Weights,
    ) -> Vec<(Vec<f64>, Vec<Vec<f64>>, f64)> {
        match source {
            Source::Swapped(None) => self
                .outside
                .iter()
                .map(|(b, w)| (b.clone(), Vec::new(), *w))
                .collect(),
            Source::Mixed => {
                let drawn = self.candidates.drawn.iter();
                let parts: Vec<Vec<f64>> = drawn
                    .map(|(s, w)| self.drawn(s, *w, plants, genotypes, weights))
                    .collect();
                let brood = (0..self.looks.len())
                    .map(|l| parts.iter().map(|p| p[l]).sum())
                    .collect();
                vec![(brood, parts, 1.0)]
            }
            _ => vec![(self.brood(source, plants, genotypes), Vec::new(), 1.0)],
        }
    }

    /// A drawn source's part of a mixed brood, third plants averaged by their own joint belief.
    fn drawn(
        &self,
        source: &Source,
        share: f64,
        plants: &[usize],
        genotypes: &[usize],
        weights: &Weights,
    ) -> Vec<f64> {
        let thirds = self.thirds(source);
        let named = [plants, &thirds].concat();
        let mut chosen = vec![0; thirds.len()];
        let mut part = vec![0.0; self.looks.len()];
        for weight in &weights[&thirds] {
            let brood = self.brood(source, &named, &[genotypes, &chosen].concat());
            part.iter_mut()
                .zip(brood)
                .for_each(|(p, b)| *p += share * weight * b);
            advance(&mut chosen, self.kinds);
        }
        part
    }

    fn brood(&self, source: &Source, plants: &[usize], genotypes: &[usize]) -> Vec<f64> {
        let of = |p: usize| {
            genotypes[plants
                .iter()
                .position(|&q| q == p)
                .expect("a source's plants are named")]
        };
        let mated = |x: usize, y: usize| self.cross[of(x) * self.kinds + of(y)].clone();
        match source {
            Source::None => mated(self.mother, self.father),
            Source::SelfPollen | Source::AllSelf => mated(self.mother, self.mother),
            Source::Pollen(d) | Source::AllPollen(d) => mated(self.mother, *d),
            Source::UnknownPollen => self.by_unknown_pollen[of(self.mother)].clone(),
            Source::UnknownSeed => self.unknown_seed.clone(),
            Source::StraySeed(c) | Source::Swapped(Some(c)) => {
                let (mother, father) = self.season.parents_of_cross(c);
                mated(mother, father)
            }
            Source::Mixed | Source::Swapped(None) => unreachable!("taken apart before"),
        }
    }
}

fn merge(merged: &mut HashMap<Vec<u64>, Term>, term: Term, by_parents: bool) {
    let mut key = vec![term.source as u64];
    if by_parents {
        key.extend([term.parents.0 as u64, term.parents.1 as u64]);
    }
    let numbers = term
        .label
        .iter()
        .chain(&term.brood)
        .chain(term.parts.iter().flatten());
    key.extend(numbers.map(|x| x.to_bits()));
    match merged.get_mut(&key) {
        Some(held) => held.weight += term.weight,
        None => {
            merged.insert(key, term);
        }
    }
}

/// Looks of the offspring of two plants from outside, with their probabilities.
fn from_outside(cross: &[Vec<f64>], plant: &[f64]) -> Vec<(Vec<f64>, f64)> {
    let mut merged: HashMap<Vec<u64>, (Vec<f64>, f64)> = HashMap::new();
    for (x, p) in plant.iter().enumerate() {
        for (y, q) in plant.iter().enumerate() {
            let brood = &cross[x * plant.len() + y];
            let key = brood.iter().map(|b| b.to_bits()).collect();
            merged.entry(key).or_insert((brood.clone(), 0.0)).1 += p * q;
        }
    }
    merged.into_values().collect()
}
