//! The progeny test: how likely a plant still splits after some of its offspring were all alike, and how many more
//! would settle it.
//!
//! A plant is one of several candidates, each with a probability beforehand and with a chance that one more of its
//! offspring is seen alike; Bayes' rule does the rest. That ten selfed offspring are too few to call a plant pure is
//! Fisher's point on Mendel's counts (1936, Annals of Science 1:115-137). Plants, trays and readings are not known
//! here; the diagnosis and `stable` ask.

/// One thing that a plant may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// How likely it is beforehand; the sum over candidates need not be 1.
    pub prior: f64,
    /// Whether its offspring are of more than one class.
    pub splits: bool,
    /// The natural logarithm of P(the offspring looked at so far).
    pub seen: f64,
    /// P(one more offspring is seen alike).
    pub alike: f64,
}

/// How offspring were made, for one gene with a dominant and a recessive look.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProgenyTest {
    /// Selfed, or crossed with a plant known to carry the recessive allele once.
    Selfed,
    /// Crossed with a plant that is recessive.
    Testcross,
}

impl ProgenyTest {
    /// P(one offspring of a heterozygous plant looks dominant): 3/4 selfed, 1/2 in a testcross (Mendel).
    #[must_use]
    pub const fn alike(self) -> f64 {
        match self {
            Self::Selfed => 0.75,
            Self::Testcross => 0.5,
        }
    }
}

/// How often one look is written down as the other.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Mistakes {
    /// P(a dominant look is written down as recessive).
    pub as_recessive: f64,
    /// P(a recessive look is written down as dominant).
    pub as_dominant: f64,
}

/// Offspring looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Seen {
    /// Of the dominant look.
    pub alike: u64,
    /// Of the recessive one.
    pub unlike: u64,
}

/// The two things that a plant of dominant look may be at one gene: pure, or heterozygous.
///
/// A pure plant's offspring is written down as dominant with `1 - e10`; a heterozygous plant's with
/// `h = g (1 - e10) + (1 - g) e01`, g being [`ProgenyTest::alike`] and e10, e01 the [`Mistakes`]. Counts multiply;
/// without mistakes P(pure | n alike) = p/(p + (1 - p) g^n).
#[must_use]
pub fn one_gene(pure: f64, test: ProgenyTest, seen: Seen, mistakes: Mistakes) -> [Candidate; 2] {
    let g = test.alike();
    let of_pure = 1.0 - mistakes.as_recessive;
    let of_carrier = g * of_pure + (1.0 - g) * mistakes.as_dominant;
    let candidate = |prior, splits, alike: f64| Candidate {
        prior,
        splits,
        seen: times(seen.alike, alike.ln()) + times(seen.unlike, (1.0 - alike).ln()),
        alike,
    };
    [
        candidate(pure, false, of_pure),
        candidate(1.0 - pure, true, of_carrier),
    ]
}

/// `n` times a logarithm; nothing of an impossible thing is no impossibility.
fn times(n: u64, log: f64) -> f64 {
    if n == 0 { 0.0 } else { n as f64 * log }
}

/// P(the plant still splits), after so many more offspring that were all alike; nothing where no candidate could
/// have given what was seen.
#[must_use]
pub fn chance_of_splitting(candidates: &[Candidate], more: u64) -> Option<f64> {
    let logs: Vec<f64> = candidates
        .iter()
        .map(|one| one.prior.ln() + one.seen + times(more, one.alike.ln()))
        .collect();
    let largest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if largest == f64::NEG_INFINITY {
        return None;
    }
    let (mut all, mut splitting) = (0.0, 0.0);
    for (one, log) in candidates.iter().zip(&logs) {
        let weight = (log - largest).exp();
        all += weight;
        if one.splits {
            splitting += weight;
        }
    }
    Some(splitting / all)
}

/// The most further offspring that are tried for [`more_needed`].
pub const MOST_MORE: u64 = 5_000;

/// The fewest further offspring, all alike, after which the plant is pure with a confidence; nothing where
/// [`MOST_MORE`] would not do.
#[must_use]
pub fn more_needed(candidates: &[Candidate], confidence: f64) -> Option<u64> {
    let enough = |more: &u64| {
        // A confidence that is met exactly is met, whatever the last binary digit.
        let splitting = chance_of_splitting(candidates, *more);
        splitting.is_some_and(|p| p <= (1.0 - confidence) * (1.0 + 1e-12))
    };
    (0..=MOST_MORE).find(enough)
}

/// The fewest offspring of a heterozygous plant among which at least one shows it with a confidence: the smallest n
/// with `g^n <= 1 - confidence`.
#[must_use]
pub fn to_expose(test: ProgenyTest, confidence: f64) -> u64 {
    let missed = |n: &u64| times(*n, test.alike().ln()).exp() <= 1.0 - confidence;
    (0..)
        .find(missed)
        .expect("the chance to miss it falls to 0")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_nothing_explains_has_no_answer() {
        let seen = Seen {
            alike: 3,
            unlike: 1,
        };
        let certain = one_gene(1.0, ProgenyTest::Selfed, seen, Mistakes::default());
        assert_eq!(chance_of_splitting(&certain, 0), None);
        assert_eq!(more_needed(&certain, 0.95), None);
        let open = one_gene(0.5, ProgenyTest::Selfed, seen, Mistakes::default());
        assert_eq!(chance_of_splitting(&open, 50), Some(1.0));
        assert_eq!(more_needed(&open, 0.95), None);
    }
}
