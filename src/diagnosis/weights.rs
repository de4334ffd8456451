//! How likely the plants that a batch's sources name have each genotype.
//!
//! A plant's genotype is only a weight in the sums over a batch: a donor is a weighting. Made by the beliefs over plants,
//! taken by the terms of a batch; rows are shared by all batches for which they are the same.

use std::sync::Arc;

/// The weights of what a candidate's third plants are, given the pair of mother's and father's joint genotypes: of one
/// plant its joint genotypes, of two the kinds of seed that they make.
#[derive(Debug, Clone, PartialEq)]
pub struct Thirds {
    /// One row for all pairs, or one a pair.
    values: Vec<f64>,
    width: usize,
}

impl Thirds {
    /// Of a candidate that names no third plant.
    #[must_use]
    pub fn nobody() -> Self {
        Self::whatever_the_pair(vec![1.0])
    }

    /// The same row whatever the pair.
    #[must_use]
    pub const fn whatever_the_pair(row: Vec<f64>) -> Self {
        Self {
            width: row.len(),
            values: row,
        }
    }

    /// From joint weights, the pair running slowest: a row for each pair, its sum 1 where the pair can be.
    #[must_use]
    pub fn given_pair(mut joint: Vec<f64>, width: usize) -> Self {
        for row in joint.chunks_mut(width) {
            let total: f64 = row.iter().sum();
            if total > 0.0 {
                row.iter_mut().for_each(|p| *p /= total);
            }
        }
        Self {
            values: joint,
            width,
        }
    }

    /// How many genotypes, or kinds of seed.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.width
    }

    /// The weights given a pair.
    #[must_use]
    pub fn row(&self, pair: usize) -> &[f64] {
        if self.values.len() == self.width {
            &self.values
        } else {
            &self.values[pair * self.width..(pair + 1) * self.width]
        }
    }

    /// The weights whatever the pair, pairs having these weights.
    #[must_use]
    pub fn mean(&self, pairs: &[f64]) -> Vec<f64> {
        if self.values.len() == self.width {
            return self.values.clone();
        }
        let mut sums = vec![0.0; self.width];
        let rows = self.values.chunks(self.width).zip(pairs);
        for (row, weight) in rows.filter(|(_, weight)| **weight > 0.0) {
            sums.iter_mut()
                .zip(row)
                .for_each(|(sum, p)| *sum += weight * p);
        }
        sums
    }

    /// How many numbers it holds.
    pub(super) const fn cells(&self) -> usize {
        self.values.len()
    }

    /// The weights given the pair of a narrower space that each pair falls in, pairs having these weights.
    pub(super) fn narrowed(&self, pairs: &[f64], to: &[usize], count: usize) -> Self {
        if self.values.len() == self.width {
            return self.clone();
        }
        let mut sums = vec![0.0; count * self.width];
        let rows = self.values.chunks(self.width).zip(pairs).zip(to);
        for ((row, weight), to) in rows.filter(|((_, weight), _)| **weight > 0.0) {
            let sums = &mut sums[to * self.width..(to + 1) * self.width];
            sums.iter_mut()
                .zip(row)
                .for_each(|(sum, p)| *sum += weight * p);
        }
        Self::given_pair(sums, self.width)
    }

    /// Adds other weights of the same things, so many times, for so many pairs.
    pub(super) fn add(&mut self, other: &Self, times: f64, pairs: usize) {
        if self.values.len() < other.values.len() {
            self.values = self.values.repeat(pairs);
        }
        for row in self.values.chunks_mut(other.values.len()) {
            row.iter_mut()
                .zip(&other.values)
                .for_each(|(sum, p)| *sum += times * p);
        }
    }

    /// No weight on anything so far.
    pub(super) fn nothing(width: usize) -> Self {
        Self::whatever_the_pair(vec![0.0; width])
    }
}

/// The weights of the plants that a batch's sources name.
#[derive(Debug, Clone)]
pub struct PlantWeights {
    /// Of each pair of mother's and father's joint genotypes.
    pub pairs: Vec<f64>,
    /// For each candidate: of its third plants, given the pair.
    pub thirds: Vec<Arc<Thirds>>,
    /// For each candidate: the same whatever the pair, for mixtures.
    pub alone: Vec<Arc<Vec<f64>>>,
}

impl PlantWeights {
    /// The weights of third plants given the pair, and of pairs.
    #[must_use]
    pub fn new(pairs: Vec<f64>, thirds: Vec<Arc<Thirds>>) -> Self {
        let mut alone: Vec<Arc<Vec<f64>>> = Vec::with_capacity(thirds.len());
        for (at, own) in thirds.iter().enumerate() {
            let known = thirds[..at]
                .iter()
                .rposition(|other| Arc::ptr_eq(own, other));
            alone.push(match known {
                Some(known) => Arc::clone(&alone[known]),
                None => Arc::new(own.mean(&pairs)),
            });
        }
        Self {
            pairs,
            thirds,
            alone,
        }
    }
}
