//! What two parents give at loci that segregate together.
//!
//! Mendel's first law at one locus: each parent hands on one of its two alleles with probability 1/2.
//! A [`Segregation`] is the outcome for a group of loci; independent loci are groups of one, and linked
//! ones would be one group with more loci. Expectations combine the groups.

use super::genotype::Diploid;
use super::locus::LocusIx;

/// What is known of a plant at one locus.
#[derive(Clone, Debug, PartialEq)]
pub enum AtLocus {
    /// The genotype is stated.
    Known(Diploid),
    /// Genotypes with their probabilities, which sum to 1.
    Weighted(Vec<(Diploid, f64)>),
}

impl AtLocus {
    /// The genotypes with their probabilities.
    #[must_use]
    pub fn weights(&self) -> Vec<(Diploid, f64)> {
        match self {
            Self::Known(pair) => vec![(*pair, 1.0)],
            Self::Weighted(weights) => weights.clone(),
        }
    }

    fn gametes(&self) -> Vec<(u8, f64)> {
        let mut gametes = Vec::new();
        for (pair, weight) in self.weights() {
            add(&mut gametes, pair.a(), weight / 2.0);
            add(&mut gametes, pair.b(), weight / 2.0);
        }
        gametes
    }
}

/// The offspring's genotypes at a group of loci, each with a weight: whole numbers whose sum is the
/// common denominator, or probabilities.
#[derive(Clone, Debug, PartialEq)]
pub struct Segregation<W> {
    /// The loci of the group.
    pub loci: Vec<LocusIx>,
    /// Genotypes at these loci, in their order, and the weight.
    pub outcomes: Vec<(Vec<Diploid>, W)>,
}

/// The offspring of two known genotypes at one locus, in the smallest whole numbers.
#[must_use]
pub fn cross_known(locus: LocusIx, mother: Diploid, father: Diploid) -> Segregation<u128> {
    let mut found: Vec<(Diploid, u128)> = Vec::new();
    for from_mother in [mother.a(), mother.b()] {
        for from_father in [father.a(), father.b()] {
            add(&mut found, Diploid::new(from_mother, from_father), 1);
        }
    }
    let fours = found.iter().fold(0, |g, (_, n)| gcd(g, *n));
    single(
        locus,
        found
            .into_iter()
            .map(|(pair, n)| (pair, n / fours))
            .collect(),
    )
}

/// The offspring of two different plants at one locus, each known or believed.
#[must_use]
pub fn cross_believed(locus: LocusIx, mother: &AtLocus, father: &AtLocus) -> Segregation<f64> {
    let mut found = Vec::new();
    let from_father = father.gametes();
    for (one, p) in mother.gametes() {
        for (other, q) in &from_father {
            add(&mut found, Diploid::new(one, *other), p * q);
        }
    }
    single(locus, found)
}

/// The offspring of one plant with its own pollen: both gametes are of the same genotype, whichever
/// that is.
#[must_use]
pub fn self_believed(locus: LocusIx, plant: &AtLocus) -> Segregation<f64> {
    let mut found = Vec::new();
    for (pair, weight) in plant.weights() {
        for one in [pair.a(), pair.b()] {
            for other in [pair.a(), pair.b()] {
                add(&mut found, Diploid::new(one, other), weight / 4.0);
            }
        }
    }
    single(locus, found)
}

/// The greatest common divisor, with gcd(0, n) = n (Euclid).
#[must_use]
pub fn gcd(a: u128, b: u128) -> u128 {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn single<W>(locus: LocusIx, mut found: Vec<(Diploid, W)>) -> Segregation<W> {
    found.sort_by_key(|(pair, _)| *pair);
    let outcomes = found
        .into_iter()
        .map(|(pair, weight)| (vec![pair], weight))
        .collect();
    Segregation {
        loci: vec![locus],
        outcomes,
    }
}

fn add<K: PartialEq, W: Copy + std::ops::AddAssign>(sums: &mut Vec<(K, W)>, key: K, weight: W) {
    match sums.iter_mut().find(|(there, _)| *there == key) {
        Some((_, sum)) => *sum += weight,
        None => sums.push((key, weight)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const A: LocusIx = LocusIx(0);

    #[test]
    fn known_crosses_are_whole_numbers() {
        let [dom, het, rec] = [Diploid::new(0, 0), Diploid::new(0, 1), Diploid::new(1, 1)];
        let weights = |m, f| cross_known(A, m, f).outcomes;
        assert_eq!(
            weights(het, het),
            [(vec![dom], 1), (vec![het], 2), (vec![rec], 1)]
        );
        assert_eq!(weights(het, rec), [(vec![het], 1), (vec![rec], 1)]);
        assert_eq!(weights(dom, rec), [(vec![het], 1)]);
    }

    #[test]
    fn a_self_is_not_a_cross_of_two_doubtful_plants() {
        let [dom, rec] = [Diploid::new(0, 0), Diploid::new(1, 1)];
        let doubtful = AtLocus::Weighted(vec![(dom, 0.5), (rec, 0.5)]);
        let selfed = self_believed(A, &doubtful).outcomes;
        assert_eq!(selfed, [(vec![dom], 0.5), (vec![rec], 0.5)]);
        let crossed = cross_believed(A, &doubtful, &doubtful).outcomes;
        assert_eq!(crossed[1], (vec![Diploid::new(0, 1)], 0.5));
    }
}
