//! A whole season made ready for questions: every plant's first belief and every batch's factor.

use super::beliefs::{Beliefs, first_beliefs};
use super::evidence::{Evidence, gather, traits_read};
use super::genes::Genes;
use super::model::{Model, Weights, advance};
use super::posterior::Posterior;
use super::season::Season;

/// A season with everything worked out that does not depend on the batch asked about.
pub struct World<'a> {
    pub season: &'a Season,
    pub genes: Genes<'a>,
    pub beliefs: Beliefs,
    pub batches: Vec<Model<'a>>,
    /// Per batch: P(batch | mother, father) over pairs of genotypes.
    pub factors: Vec<Vec<f64>>,
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
