//! Second thoughts on the seedlings of a batch that was weighed: what their culls rest on, and what would tell more.
//!
//! Asks the suppositions and the search for traits, and enters what they say. Called while a batch is answered and by the
//! argument for one seedling.

use std::cell::RefCell;
use std::collections::BTreeMap;

use super::answer::{SeedlingAnswer, Verdict};
use super::batch::BatchModel;
use super::sensitivity::{AsWeighed, Trial};
use super::suspects::Desk;
use super::telling_trait::{Search, Telling, donors_in_play};
use super::verdict::Judged;
use super::weighed::Weighed;

/// By how much a further locus of two alleles multiplies the genotypes of a plant.
const ONE_MORE_LOCUS: usize = 3;

/// Days from today to one more look at what was read already, where no day is named (design choice).
pub(super) const A_WEEK: i64 = 7;

/// Most combinations of parental genotypes and sources, over all batches asked about, at which further traits are
/// searched for; a question of more is for one batch at a time.
const MOST_SEARCHED: usize = 1_000_000;

impl<'a> Desk<'_, 'a> {
    /// Tries the culls of a batch: would they be culls if something were otherwise?
    pub(super) fn try_culls(
        &self,
        model: &BatchModel,
        batch: &Weighed,
        judged: &BTreeMap<usize, Judged>,
        answered: &[(usize, usize)],
        seedlings: &mut [SeedlingAnswer],
    ) {
        let culls: Vec<(usize, &Judged)> = judged
            .iter()
            .filter(|(_, judged)| judged.verdict == Verdict::Cull)
            .map(|(group, judged)| (*group, judged))
            .collect();
        if culls.is_empty() {
            return;
        }
        let tried = self.trials(model, batch, &culls);
        for ((_, group), seedling) in answered.iter().zip(seedlings) {
            if let Some(at) = culls.iter().position(|(own, _)| own == group) {
                seedling.trials.clone_from(&tried[at]);
            }
        }
    }

    /// What would come of some groups of a batch if something were otherwise.
    pub(super) fn trials(
        &self,
        model: &BatchModel,
        batch: &Weighed,
        asked: &[(usize, &Judged)],
    ) -> Vec<Vec<Trial>> {
        let as_weighed = AsWeighed {
            model,
            weights: &batch.weights,
            posterior: &batch.posterior,
        };
        self.suppositions
            .trials(self.context, self.net, self.rules, as_weighed, asked)
    }

    /// For suspects whose pollen may be of several plants the further trait to score next; for those undecided the look
    /// that would settle most.
    pub(super) fn name_next_traits(
        &self,
        model: &BatchModel,
        answered: &[(usize, usize)],
        seedlings: &mut [SeedlingAnswer],
    ) {
        let pairs = (ONE_MORE_LOCUS * model.space.size).pow(2);
        if self.asked * model.candidates.len() * pairs > MOST_SEARCHED {
            return;
        }
        let Some(search) = self.search(model) else {
            return;
        };
        let mut known: BTreeMap<usize, Option<Telling>> = BTreeMap::new();
        let mut settling: BTreeMap<usize, Option<Telling>> = BTreeMap::new();
        for ((member, group), one) in answered.iter().zip(seedlings) {
            if one.verdict == Verdict::Undecided && one.kept.is_none() {
                let best = settling.entry(*group).or_insert_with(|| {
                    let again_on = self.today.forward(A_WEEK);
                    let next = search.every_trait(*member, &one.sources.list(), again_on);
                    next.best_for_verdict().cloned()
                });
                one.settling.clone_from(best);
            }
            let suspect = matches!(
                one.verdict,
                Verdict::Cull | Verdict::Wait | Verdict::Undecided
            );
            if !suspect {
                continue;
            }
            let next = known.entry(*group).or_insert_with(|| {
                let sources = one.sources.list();
                let is_open = donors_in_play(&sources, one.p_off) > 1;
                is_open.then(|| search.further_marker(*member, &sources))?
            });
            one.next_trait.clone_from(next);
        }
    }

    /// The search for traits to score next in a batch.
    pub(super) fn search<'s>(&'s self, model: &'s BatchModel) -> Option<Search<'s, 'a>> {
        Some(Search {
            context: self.context,
            rules: self.rules,
            row: self.context.index.facts.batch.get(model.batch_id)?,
            model,
            models: self.models,
            net: self.net,
            weighed: RefCell::default(),
            today: self.today,
        })
    }
}
