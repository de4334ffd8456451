//! The joint distribution of where a seedling came from and what a trait would be read as, and what that tells.
//!
//! Called by the search for the trait to score next; knows no readings.

use crate::stats::information::{entropy, mutual_information};

use super::answer::{Source, SourceShare};
use super::batch::BatchModel;
use super::looks::Look;
use super::membership::Membership;
use super::telling_trait::{Says, origin_of};

/// Where a seedling may come from, with the weight of each profile and pace; as labelled first.
pub(super) struct Origins {
    pub(super) weights: Vec<(Source, Vec<f64>)>,
}

impl Origins {
    pub(super) fn of(model: &BatchModel, membership: &Membership) -> Self {
        let mut weights = vec![(Source::None, membership.on.clone())];
        for (candidate, cells) in model.candidates.iter().zip(&membership.cells_from) {
            let origin = origin_of(&candidate.source);
            match weights.iter_mut().find(|(known, _)| *known == origin) {
                Some((_, sums)) => sums.iter_mut().zip(cells).for_each(|(sum, w)| *sum += w),
                None => weights.push((origin, cells.clone())),
            }
        }
        Self { weights }
    }
}

/// The joint distribution of origin and class read: origin by origin, as labelled first, class by class.
pub(super) struct Table {
    origins: Vec<Source>,
    cells: Vec<Vec<f64>>,
}

impl Table {
    pub(super) fn new(origins: &Origins, mut cells: Vec<Vec<f64>>) -> Self {
        let total: f64 = cells.iter().flatten().sum();
        if total > 0.0 {
            cells.iter_mut().flatten().for_each(|cell| *cell /= total);
        }
        let origins = origins.weights.iter();
        Self {
            origins: origins.map(|(source, _)| source.clone()).collect(),
            cells,
        }
    }

    /// The rows of off-types summed up.
    fn off(&self) -> Vec<f64> {
        let classes = 0..self.cells[0].len();
        classes
            .map(|class| self.cells[1..].iter().map(|row| row[class]).sum())
            .collect()
    }

    fn p_off(&self) -> f64 {
        self.off().iter().sum()
    }

    pub(super) fn verdict_bits(&self) -> f64 {
        mutual_information(&[self.cells[0].clone(), self.off()])
    }

    pub(super) fn origin_bits(&self) -> f64 {
        self.p_off() * mutual_information(&self.cells[1..])
    }

    /// Bits missing about the verdict, and about the origin beyond that.
    pub(super) fn missing(&self) -> (f64, f64) {
        let sums: Vec<f64> = self.cells.iter().map(|row| row.iter().sum()).collect();
        let p_off = self.p_off();
        (entropy(&[sums[0], p_off]), p_off * entropy(&sums[1..]))
    }

    pub(super) fn says(&self, trait_: &Look) -> Vec<Says> {
        let off = self.off();
        let say = |(class, off): (usize, &f64)| {
            let p = self.cells[0][class] + off;
            let share = |(source, row): (&Source, &Vec<f64>)| SourceShare {
                source: source.clone(),
                p: if *off > 0.0 { row[class] / off } else { 0.0 },
            };
            let mut origins: Vec<SourceShare> = self.origins[1..]
                .iter()
                .zip(&self.cells[1..])
                .map(share)
                .collect();
            origins.sort_by(|one, other| other.p.total_cmp(&one.p));
            Says {
                class: trait_.classes[class].name.clone(),
                p,
                p_off: if p > 0.0 { off / p } else { 0.0 },
                origins,
            }
        };
        off.iter().enumerate().map(say).collect()
    }
}
