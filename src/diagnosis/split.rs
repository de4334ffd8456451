//! P(off) of a seedling split over the sources of its batch, held in little room.
//!
//! A season's answer holds some millions of these chances; the sources they belong to are those of the batch, which are
//! there once. Made where a member of a batch is answered; whoever reads an answer goes through them in order.

use std::sync::Arc;

use super::answer::{Source, SourceShare};
use super::sources::Candidate;

/// A probability split over sources, the likeliest first.
#[derive(Debug, Clone)]
pub struct Split {
    of: Arc<[Candidate]>,
    /// By rank the candidate's place.
    places: Arc<[u32]>,
    /// By rank the probability.
    chances: Arc<[f64]>,
}

/// One of a [`Split`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part<'s> {
    /// The source.
    pub source: &'s Source,
    /// The probability.
    pub p: f64,
}

impl Split {
    /// Splits by candidate; of two alike likely the first comes first. Those that are no source of a single seedling
    /// are left out: "as labelled", and mixtures, which draw from the others.
    pub(super) fn new(of: &Arc<[Candidate]>, chances: &[f64]) -> Self {
        let is_source = |at: &u32| {
            let source = &of[*at as usize].source;
            *source != Source::None && *source != Source::Mixed
        };
        let mut places: Vec<u32> = (0..).take(of.len()).filter(is_source).collect();
        let p = |at: &u32| chances[*at as usize];
        places.sort_by(|one, other| p(other).total_cmp(&p(one)));
        Self {
            of: Arc::clone(of),
            chances: places.iter().map(p).collect(),
            places: places.into(),
        }
    }

    /// The sources with their probabilities, the likeliest first.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = Part<'_>> {
        let both = self.places.iter().zip(self.chances.iter());
        both.map(|(at, p)| Part {
            source: &self.of[*at as usize].source,
            p: *p,
        })
    }

    /// The same as a list of its own.
    #[must_use]
    pub fn list(&self) -> Vec<SourceShare> {
        let own = |part: Part<'_>| SourceShare {
            source: part.source.clone(),
            p: part.p,
        };
        self.iter().map(own).collect()
    }
}

impl PartialEq for Split {
    fn eq(&self, other: &Self) -> bool {
        self.iter().eq(other.iter())
    }
}
