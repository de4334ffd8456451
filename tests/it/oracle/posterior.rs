//! One batch: P(batch | source, plants) and what follows for the sources and for each seedling.

use std::collections::HashMap;

use super::beliefs::{Beliefs, first_beliefs, outside_plant};
use super::evidence::{Evidence, Reading, Unit, dim_ruled_out, gather, traits_read};
use super::exact::{Route, Split, split};
use super::genes::{Genes, all_looks};
use super::onset::{Mark, State, series, states};
use super::season::{Day, Season};
use super::sources::{Candidates, Share, Source, candidates};

/// Subsets summed one by one per batch at most; beyond it the exact sums go by number of off-types.
const SUBSETS_AT_MOST: usize = 400_000;

/// A season with everything worked out that does not depend on the batch asked about.
pub struct World<'a> {
    pub season: &'a Season,
    pub genes: Genes<'a>,
    pub beliefs: Beliefs,
    pub batches: Vec<Model<'a>>,
    /// Per batch: P(batch | mother, father) over pairs of genotypes.
    pub factors: Vec<Vec<f64>>,
}

/// One batch with its tables.
pub struct Model<'a> {
    season: &'a Season,
    kinds: usize,
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

/// The answer for one kind of seedling, with what a further reading needs.
#[derive(Clone, Debug)]
pub struct UnitPosterior {
    pub off: f64,
    pub by_source: Vec<(Source, f64)>,
    /// Joint weights (state, final look) of the seedling without its own likelihood: true to label, off-type.
    pub as_labelled: Vec<Vec<f64>>,
    pub as_off: Vec<Vec<f64>>,
}

/// The answer for one batch.
#[derive(Clone, Debug)]
pub struct Posterior {
    pub sources: Vec<f64>,
    pub units: Vec<UnitPosterior>,
}

impl<'a> World<'a> {
    /// Reads a season.
    pub fn new(season: &'a Season) -> World<'a> {
        let evidence: Vec<Evidence> = (0..season.batches.len())
            .map(|b| gather(season, b))
            .collect();
        let mut traits: Vec<usize> = evidence.iter().flat_map(traits_read).collect();
        traits.extend(
            season
                .parents
                .iter()
                .flat_map(|p| p.looks.iter().map(|l| l.0)),
        );
        traits.extend(
            season
                .parents
                .iter()
                .flat_map(|p| p.scores.iter().map(|s| s.1)),
        );
        let genes = Genes::new(season, &traits);
        let beliefs = first_beliefs(&genes);
        let models = (0..season.batches.len()).map(|b| Model::new(&genes, &beliefs, &evidence, b));
        let batches: Vec<Model> = models.collect();
        let factors = batches.iter().map(|m| m.factor(&beliefs)).collect();
        World {
            season,
            beliefs,
            batches,
            factors,
            genes,
        }
    }

    /// The joint belief of lists of plants from everything except one batch, by running through every joint
    /// genotype of all plants.
    pub fn joint_without(&self, batch: Option<usize>, lists: &[Vec<usize>]) -> Weights {
        let kinds = self.genes.all.len();
        let plants = self.season.parents.len();
        let size = |list: &Vec<usize>| kinds.pow(u32::try_from(list.len()).expect("few plants"));
        let mut tables: Vec<Vec<f64>> = lists.iter().map(|l| vec![0.0; size(l)]).collect();
        let mut total = 0.0;
        let mut genotypes = vec![0; plants];
        loop {
            let mut weight: f64 = (0..plants)
                .map(|p| self.beliefs.own[p][genotypes[p]])
                .product();
            for (b, model) in self.batches.iter().enumerate() {
                if Some(b) != batch {
                    weight *=
                        self.factors[b][genotypes[model.mother] * kinds + genotypes[model.father]];
                }
            }
            total += weight;
            for (list, table) in lists.iter().zip(&mut tables) {
                table[list.iter().fold(0, |at, &p| at * kinds + genotypes[p])] += weight;
            }
            if !advance(&mut genotypes, kinds) {
                break;
            }
        }
        tables.iter_mut().flatten().for_each(|w| *w /= total);
        lists.iter().cloned().zip(tables).collect()
    }

    /// The posterior of a batch.
    pub fn diagnose(&self, batch: usize) -> Posterior {
        let model = &self.batches[batch];
        let weights = self.joint_without(Some(batch), &model.lists());
        model.posterior(&model.terms(&weights, false))
    }
}

/// Steps through all tuples of genotypes; false after the last.
fn advance(tuple: &mut [usize], kinds: usize) -> bool {
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
    fn new(genes: &Genes<'a>, beliefs: &Beliefs, all: &[Evidence], batch: usize) -> Model<'a> {
        let season = genes.season;
        let evidence = all[batch].clone();
        let traits = traits_read(&evidence);
        let looks = all_looks(season, &traits);
        let kinds = genes.all.len();
        let gametes: Vec<_> = (0..kinds).map(|g| genes.gametes(g)).collect();
        let pool = genes.pool(&beliefs.shares);
        let mate = |x, y| genes.offspring(x, y, &traits, &looks);
        let cross: Vec<Vec<f64>> = gametes
            .iter()
            .flat_map(|x| gametes.iter().map(|y| mate(x, y)).collect::<Vec<_>>())
            .collect();
        let plant = outside_plant(genes, &pool);
        let (mother, father) = season.parents_of(batch);
        let mut model = Model {
            by_unknown_pollen: gametes.iter().map(|x| mate(x, &pool)).collect(),
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
    fn lists(&self) -> Vec<Vec<usize>> {
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

    fn factor(&self, beliefs: &Beliefs) -> Vec<f64> {
        let mut table = vec![0.0; self.kinds * self.kinds];
        if self.evidence.units.is_empty() {
            table.fill(1.0);
            return table;
        }
        for term in self.terms(&self.product_weights(&beliefs.own, false), true) {
            let at = term.parents.0 * self.kinds + term.parents.1;
            table[at] += term.weight
                * self
                    .states
                    .iter()
                    .enumerate()
                    .map(|(k, s)| s.weight * self.plain(&term, k).0)
                    .sum::<f64>();
        }
        table
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
    #[expect(
        clippy::type_complexity,
        reason = "brood, parts and share are taken apart at once"
    )]
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

    /// Each unit's probability of its readings as labelled and as off-type.
    fn readings_given(&self, term: &Term, state: usize) -> (Vec<f64>, Vec<f64>) {
        let given = |looks: &[f64]| {
            self.likelihood
                .iter()
                .map(|unit| dot(looks, &unit[state]))
                .collect()
        };
        (given(&term.label), given(&term.brood))
    }

    /// Evidence in doubles, and per unit its coefficients: evidence = a z0 + b z1 for one seedling of it.
    fn plain(&self, term: &Term, state: usize) -> (f64, Vec<(f64, f64)>) {
        let (a, b) = self.readings_given(term, state);
        let counts: Vec<usize> = self.evidence.units.iter().map(|u| u.count).collect();
        let share = self.candidates.sources[term.source].0.share();
        let mut total = plain_evidence(&a, &b, &counts, None, share).0;
        let mut each = Vec::new();
        for i in 0..a.len() {
            let (_, z0, z1) = plain_evidence(&a, &b, &counts, Some(i), share);
            total = a[i] * z0 + b[i] * z1;
            each.push((z0, z1));
        }
        (total, each)
    }

    /// The posterior over sources and, per unit, of being off-type.
    pub fn posterior(&self, terms: &[Term]) -> Posterior {
        let units = &self.evidence.units;
        let n: usize = units.iter().map(|u| u.count).sum();
        let subsets = terms.len() * self.states.len() << n.min(40);
        let route = if n <= 12 && subsets <= SUBSETS_AT_MOST {
            Route::Subsets
        } else {
            Route::BySize
        };
        let mut sums = Sums::new(self);
        let mut known: HashMap<Vec<u64>, Split> = HashMap::new();
        for term in terms {
            for (k, state) in self.states.iter().enumerate() {
                let weight = term.weight * state.weight;
                let (plain, each) = self.plain(term, k);
                let exact = self.exact(term, k, route, &mut known).unwrap_or_else(|| {
                    let (a, b) = self.readings_given(term, k);
                    let labelled = self.candidates.sources[term.source].0.share() == Share::Zero;
                    let off = each
                        .iter()
                        .zip(a.iter().zip(b))
                        .map(|(z, (_, b))| if labelled { 0.0 } else { b * z.1 });
                    Split {
                        total: plain,
                        off: off.collect(),
                    }
                });
                assert!(
                    (exact.total - plain).abs() <= 1e-11 * exact.total,
                    "doubles agree with exact integers"
                );
                sums.add(self, term, k, weight, &exact, &each);
            }
        }
        sums.finish(self)
    }

    /// The exact split where the share is uncertain; per unit the part of one of its seedlings.
    fn exact(
        &self,
        term: &Term,
        state: usize,
        route: Route,
        known: &mut HashMap<Vec<u64>, Split>,
    ) -> Option<Split> {
        let Share::Beta(second) = self.candidates.sources[term.source].0.share() else {
            return None;
        };
        let (a, b) = self.readings_given(term, state);
        let key = a
            .iter()
            .chain(&b)
            .map(|x| x.to_bits())
            .chain([u64::from(second)])
            .collect();
        let fresh = || {
            let spread = |x: &[f64]| -> Vec<f64> {
                let units = self.evidence.units.iter().zip(x);
                units
                    .flat_map(|(u, &x)| std::iter::repeat_n(x, u.count))
                    .collect()
            };
            let whole = split(&spread(&a), &spread(&b), second, route);
            let mut first = 0;
            let firsts = self.evidence.units.iter().map(|u| {
                first += u.count;
                whole.off[first - u.count]
            });
            Split {
                off: firsts.collect(),
                total: whole.total,
            }
        };
        Some(known.entry(key).or_insert_with(fresh).clone())
    }
}

/// Running sums of a posterior.
struct Sums {
    total: f64,
    sources: Vec<f64>,
    units: Vec<UnitPosterior>,
}

impl Sums {
    fn new(model: &Model) -> Sums {
        let blank = vec![vec![0.0; model.looks.len()]; model.states.len()];
        let unit = UnitPosterior {
            off: 0.0,
            by_source: Vec::new(),
            as_labelled: blank.clone(),
            as_off: blank,
        };
        Sums {
            total: 0.0,
            sources: vec![0.0; model.candidates.sources.len()],
            units: vec![unit; model.evidence.units.len()],
        }
    }

    fn add(
        &mut self,
        model: &Model,
        term: &Term,
        state: usize,
        weight: f64,
        exact: &Split,
        each: &[(f64, f64)],
    ) {
        self.total += weight * exact.total;
        self.sources[term.source] += weight * exact.total;
        for (i, unit) in self.units.iter_mut().enumerate() {
            let off = weight * exact.off[i];
            unit.off += off;
            let source = &model.candidates.sources[term.source].0;
            if *source == Source::Mixed {
                let likelihood = &model.likelihood[i][state];
                let whole = dot(&term.brood, likelihood);
                for (part, (drawn, _)) in term.parts.iter().zip(&model.candidates.drawn) {
                    if whole > 0.0 {
                        credit(
                            &mut unit.by_source,
                            drawn,
                            off * dot(part, likelihood) / whole,
                        );
                    }
                }
            } else if *source != Source::None {
                credit(&mut unit.by_source, source, off);
            }
            let (z0, z1) = each[i];
            for look in 0..model.looks.len() {
                unit.as_labelled[state][look] += weight * z0 * term.label[look];
                unit.as_off[state][look] += weight * z1 * term.brood[look];
            }
        }
    }

    fn finish(mut self, _model: &Model) -> Posterior {
        let total = self.total;
        self.sources.iter_mut().for_each(|s| *s /= total);
        for unit in &mut self.units {
            unit.off /= total;
            unit.by_source.iter_mut().for_each(|s| s.1 /= total);
            unit.as_labelled
                .iter_mut()
                .chain(&mut unit.as_off)
                .flatten()
                .for_each(|w| *w /= total);
        }
        Posterior {
            sources: self.sources,
            units: self.units,
        }
    }
}

fn credit(held: &mut Vec<(Source, f64)>, source: &Source, p: f64) {
    match held.iter_mut().find(|h| h.0 == *source) {
        Some(h) => h.1 += p,
        None => held.push((source.clone(), p)),
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

fn dot(x: &[f64], y: &[f64]) -> f64 {
    x.iter().zip(y).map(|(x, y)| x * y).sum()
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

/// Evidence of all seedlings but one of unit `without` (or of all) with that one as labelled, and off-type:
/// (all as they are, E[(1 - phi) prod], E[phi prod]). All terms are positive, so doubles lose nothing.
fn plain_evidence(
    a: &[f64],
    b: &[f64],
    counts: &[usize],
    without: Option<usize>,
    share: Share,
) -> (f64, f64, f64) {
    let others = |i: usize| counts[i] - usize::from(without == Some(i));
    let product = |x: &[f64]| -> f64 {
        x.iter()
            .enumerate()
            .map(|(i, x)| (0..others(i)).map(|_| x).product::<f64>())
            .product()
    };
    let second = match share {
        Share::Zero => return (product(a), product(a), 0.0),
        Share::One => return (product(b), 0.0, product(b)),
        Share::Beta(second) => second,
    };
    let mut sizes = vec![1.0];
    for i in 0..a.len() {
        for _ in 0..others(i) {
            sizes.push(0.0);
            for k in (0..sizes.len()).rev() {
                sizes[k] = sizes[k] * a[i] + if k > 0 { sizes[k - 1] * b[i] } else { 0.0 };
            }
        }
    }
    let n = sizes.len() - 1;
    let sum = |n: usize, extra: usize| -> f64 {
        sizes
            .iter()
            .enumerate()
            .map(|(k, c)| c * moment(n, k + extra, second))
            .sum()
    };
    (sum(n, 0), sum(n + 1, 0), sum(n + 1, 1))
}

/// B(1 + k, s + n - k) / B(1, s) = s k! (s + n - k - 1)! / (s + n)!.
fn moment(n: usize, k: usize, second: u32) -> f64 {
    let s = f64::from(second);
    // s / (s + n) times the inverse of C(s + n - 1, k).
    let (n, k) = (n as f64, k as f64);
    let choose = (0..k as usize).fold(1.0, |c, i| c * (s + n - 1.0 - i as f64) / (i as f64 + 1.0));
    s / (s + n) / choose
}
