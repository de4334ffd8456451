//! One gene model held against the counts of some trays.
//!
//! Goes through the genotypes that the parents may have by their word, tray by tray and over all trays that share a
//! parent. What the model's rivals make of the same counts is not known here. The weighing of gene models asks.

use std::collections::BTreeMap;

use super::context::Context;
use super::counts::{
    Sighting, TrayCounts, averaged, counts_beside, descent_of, expectation_of, plant_at_word,
};
use super::expectation::Expectation;
use super::gene_models::{ModelsError, ParentGenotype};
use super::looks::Look;
use crate::genetics::expect::{ExpectError, Parent};
use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::segregation::AtLocus;
use crate::stats::logs::log_sum_exp;
use crate::stats::rivals::ln_multinomial;

/// Most expectations worked out for one tray.
const MOST_EXPECTED: usize = 50_000;

/// Most joint genotypes of parents that share crosses.
const MOST_JOINT: usize = 2_000_000;

/// The log-likelihood of a tray for each pair of places among the genotypes of its mother and father.
type Likelihoods = BTreeMap<[usize; 2], f64>;

/// A genotype that a parent may have.
struct Candidate {
    parent: Parent,
    ln_p: f64,
}

/// One model held against the trays.
pub(super) struct Weighing<'c, 'a> {
    context: &'c Context<'a>,
    place: usize,
    loci: Vec<LocusIx>,
    seen: &'c [Sighting],
    /// The parents of the trays and the genotypes that each may have.
    plants: BTreeMap<i64, Vec<Candidate>>,
}

/// The logs of a model's likelihoods and what it says of the parents.
pub(super) struct Weighed {
    pub(super) together: f64,
    pub(super) alone: Vec<f64>,
    pub(super) parents: Vec<ParentGenotype>,
    pub(super) trays: Vec<(TrayCounts, Vec<f64>)>,
}

impl<'c, 'a> Weighing<'c, 'a> {
    pub(super) fn new(
        context: &'c Context<'a>,
        place: usize,
        seen: &'c [Sighting],
    ) -> Result<Self, ModelsError> {
        let mut weighing = Self {
            context,
            place,
            loci: context.looks.loci_read(&[place]),
            seen,
            plants: BTreeMap::new(),
        };
        for plant in seen
            .iter()
            .flat_map(|tray| [tray.parents.0, tray.parents.1])
        {
            if !weighing.plants.contains_key(&plant) {
                let open = weighing.possible(plant)?;
                weighing.plants.insert(plant, open);
            }
        }
        Ok(weighing)
    }

    fn look(&self) -> &'c Look {
        &self.context.looks.traits[self.place]
    }

    /// The genotypes that a plant may have by its word.
    fn possible(&self, plant: i64) -> Result<Vec<Candidate>, ModelsError> {
        let word = plant_at_word(self.context, plant, &self.loci);
        let size: usize = word.loci.values().map(|at| at.weights().len()).product();
        if size > MOST_EXPECTED {
            return Err(self.too_many(size, &[plant], MOST_EXPECTED));
        }
        let mut found = vec![Candidate {
            parent: Parent {
                loci: BTreeMap::new(),
                cytoplasm: word.cytoplasm,
            },
            ln_p: 0.0,
        }];
        for (locus, at) in &word.loci {
            let kinds: Vec<(AtLocus, f64)> = match at {
                AtLocus::Weighted(weights) => weights
                    .iter()
                    .map(|(pair, p)| (AtLocus::Known(*pair), p.ln()))
                    .collect(),
                settled => vec![(settled.clone(), 0.0)],
            };
            let with = |one: &Candidate, (at, ln_p): &(AtLocus, f64)| {
                let mut parent = one.parent.clone();
                parent.loci.insert(*locus, at.clone());
                Candidate {
                    parent,
                    ln_p: one.ln_p + ln_p,
                }
            };
            found = found
                .iter()
                .flat_map(|one| kinds.iter().map(move |kind| with(one, kind)))
                .collect();
        }
        Ok(found)
    }

    fn too_many(&self, combinations: usize, plants: &[i64], most: usize) -> ModelsError {
        let facts = self.context.index.facts;
        let label = |plant: &i64| facts.label_of_plant(*plant);
        let open = plants
            .iter()
            .max_by_key(|plant| self.plants.get(plant).map_or(usize::MAX, Vec::len));
        ModelsError::TooMany {
            model: self.look().model.name().to_owned(),
            combinations: format!("{combinations:.0e}"),
            plants: plants.iter().map(label).collect::<Vec<_>>().join(", "),
            most,
            open: open.copied().unwrap_or_default(),
        }
    }

    fn expected(
        &self,
        tray: &Sighting,
        [mother, father]: [&Candidate; 2],
        age: Option<f64>,
    ) -> Result<Expectation, ExpectError> {
        let descent = descent_of(tray.parents);
        let parents = [&mother.parent, &father.parent];
        expectation_of(self.context, parents, &descent, &[self.place], age)
    }

    fn fault(&self, error: ExpectError) -> ModelsError {
        let model = self.look().model.name().to_owned();
        ModelsError::Expect {
            model,
            error: Box::new(error),
        }
    }

    /// Shares of the classes as they are written down: each shown class is now and then misread.
    fn written(&self, shown: &[f64]) -> Vec<f64> {
        let look = self.look();
        let read = |class: usize| {
            let parts = shown.iter().enumerate();
            parts
                .map(|(at, share)| share * look.reading_chance(at, class, None))
                .sum()
        };
        (0..shown.len()).map(read).collect()
    }

    /// The pairs of places among the genotypes of a tray's parents; a self has one plant in both places.
    fn pairs(&self, tray: &Sighting) -> Vec<[usize; 2]> {
        let (mothers, fathers) = (
            self.plants[&tray.parents.0].len(),
            self.plants[&tray.parents.1].len(),
        );
        if tray.parents.0 == tray.parents.1 {
            return (0..mothers).map(|at| [at, at]).collect();
        }
        (0..mothers)
            .flat_map(|m| (0..fathers).map(move |f| [m, f]))
            .collect()
    }

    fn options(&self, tray: &Sighting, [m, f]: [usize; 2]) -> [&Candidate; 2] {
        [
            &self.plants[&tray.parents.0][m],
            &self.plants[&tray.parents.1][f],
        ]
    }

    /// The log-likelihood of a tray for every pair of genotypes of its parents.
    fn likelihoods(&self, tray: &Sighting) -> Result<Likelihoods, ModelsError> {
        let pairs = self.pairs(tray);
        let size = pairs.len().saturating_mul(tray.ages.len());
        if size > MOST_EXPECTED {
            let parents = [tray.parents.0, tray.parents.1];
            return Err(self.too_many(size, &parents, MOST_EXPECTED));
        }
        let one = |pair: [usize; 2]| {
            let options = self.options(tray, pair);
            let shown = averaged(tray, |age| self.expected(tray, options, age))?;
            Ok((pair, ln_multinomial(&tray.observed, &self.written(&shown))))
        };
        let found: Result<_, ExpectError> = pairs.into_iter().map(one).collect();
        found.map_err(|error| self.fault(error))
    }

    pub(super) fn weigh(&self) -> Result<Weighed, ModelsError> {
        let likelihoods: Vec<Likelihoods> = self
            .seen
            .iter()
            .map(|tray| self.likelihoods(tray))
            .collect::<Result<_, _>>()?;
        let alone = self.seen.iter().zip(&likelihoods).map(|(tray, known)| {
            let log = |(pair, log): (&[usize; 2], &f64)| {
                let [mother, father] = self.options(tray, *pair);
                let father = if tray.parents.0 == tray.parents.1 {
                    0.0
                } else {
                    father.ln_p
                };
                mother.ln_p + father + log
            };
            log_sum_exp(&known.iter().map(log).collect::<Vec<_>>())
        });
        let alone = alone.collect();
        let mut together = 0.0;
        let mut chosen: BTreeMap<i64, (usize, f64)> = BTreeMap::new();
        for family in self.families() {
            together += self.weigh_family(&family, &likelihoods, &mut chosen)?;
        }
        let tray = |tray: &Sighting| {
            let options =
                self.options(tray, [chosen[&tray.parents.0].0, chosen[&tray.parents.1].0]);
            let at = |age: Option<f64>| self.expected(tray, options, age);
            let counts = counts_beside(self.look(), tray, at)?;
            let mut finals = vec![0.0; tray.observed.len()];
            for class in at(None)?.classes {
                finals[class.classes[0]] += class.final_p;
            }
            Ok((counts, self.written(&finals)))
        };
        let trays: Result<_, ExpectError> = self.seen.iter().map(tray).collect();
        Ok(Weighed {
            together,
            alone,
            parents: chosen
                .iter()
                .map(|(plant, (at, p))| self.genotype(*plant, *at, *p))
                .collect(),
            trays: trays.map_err(|error| self.fault(error))?,
        })
    }

    fn genotype(&self, plant: i64, at: usize, p: f64) -> ParentGenotype {
        let options = &self.plants[&plant];
        let written = |(locus, at): (&LocusIx, &AtLocus)| {
            let pair = at.known().unwrap_or_else(|| Diploid::new(0, 0));
            pair.written(self.context.looks.book.get(*locus))
        };
        let loci: Vec<String> = options[at].parent.loci.iter().map(written).collect();
        ParentGenotype {
            plant,
            genotype: loci.join(" "),
            p,
            settled: options.len() == 1,
        }
    }

    /// The parents in groups that no cross connects.
    fn families(&self) -> Vec<Vec<i64>> {
        let mut families: Vec<Vec<i64>> = Vec::new();
        for tray in self.seen {
            let (mother, father) = tray.parents;
            let mut joined = vec![mother, father];
            families.retain(|family| {
                let apart = !family.contains(&mother) && !family.contains(&father);
                if !apart {
                    joined.extend(family);
                }
                apart
            });
            joined.sort_unstable();
            joined.dedup();
            families.push(joined);
        }
        families
    }

    /// Goes through the joint genotypes of a family: gives the log of its likelihood and enters for each plant its
    /// place in the likeliest joint genotype, with how likely the plant has that genotype.
    fn weigh_family(
        &self,
        family: &[i64],
        likelihoods: &[Likelihoods],
        chosen: &mut BTreeMap<i64, (usize, f64)>,
    ) -> Result<f64, ModelsError> {
        let sizes: Vec<usize> = family
            .iter()
            .map(|plant| self.plants[plant].len())
            .collect();
        let size = sizes.iter().fold(1_usize, |all, n| all.saturating_mul(*n));
        if size > MOST_JOINT {
            return Err(self.too_many(size, family, MOST_JOINT));
        }
        let place = |plant: i64| family.iter().position(|one| *one == plant);
        let trays: Vec<([usize; 2], &Likelihoods)> = self
            .seen
            .iter()
            .zip(likelihoods)
            .filter_map(|(tray, known)| {
                Some(([place(tray.parents.0)?, place(tray.parents.1)?], known))
            })
            .collect();
        let joint = |at: usize| {
            let digits = digits(at, &sizes);
            let prior: f64 = family
                .iter()
                .zip(&digits)
                .map(|(plant, digit)| self.plants[plant][*digit].ln_p)
                .sum();
            let trays = trays
                .iter()
                .map(|([m, f], known)| known[&[digits[*m], digits[*f]]]);
            prior + trays.sum::<f64>()
        };
        let logs: Vec<f64> = (0..size).map(joint).collect();
        let all = log_sum_exp(&logs);
        let best = (0..size)
            .max_by(|a, b| logs[*a].total_cmp(&logs[*b]))
            .expect("every plant has a genotype");
        let best = digits(best, &sizes);
        for (at, plant) in family.iter().enumerate() {
            let same = (0..size).filter(|joint| digits(*joint, &sizes)[at] == best[at]);
            let p: f64 = same.map(|joint| (logs[joint] - all).exp()).sum();
            chosen.insert(*plant, (best[at], p.min(1.0)));
        }
        Ok(all)
    }
}

/// The places that a number stands for, one for each of these sizes.
fn digits(mut number: usize, sizes: &[usize]) -> Vec<usize> {
    let digit = |size: &usize| {
        let digit = number % size;
        number /= size;
        digit
    };
    sizes.iter().map(digit).collect()
}
