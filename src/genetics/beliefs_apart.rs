//! Beliefs over two plants together, with what is independent of the rest taken out.
//!
//! A belief over pairs of genotypes lists every pair. Where a plant's genotype at a locus tells nothing of the other
//! loci and of the other plant, it need not be listed with them: the walk along the chromosomes carries it as a belief
//! of its own, and the list is shorter by as many times as it has genotypes. Where beliefs come from is not known here;
//! `expect --believed` calls.

use std::collections::BTreeMap;

use super::expect::Parent;
use super::genotype::Diploid;
use super::locus::LocusIx;
use super::segregation::AtLocus;

/// Mother and father as they may be together, with the probability of that.
pub type Pair = (Parent, Parent, f64);

/// How far the table may be from the product, all cells together, as a share of the whole.
const FAR: f64 = 1e-12;

/// The genotypes of mother and father at every locus, the mother's first.
type Table = BTreeMap<Vec<Diploid>, f64>;

/// The same beliefs in as few pairs as independence allows: P(g, rest) = P(g) P(rest), held to within 1e-12 of the
/// whole. Pairs must be known at all of the same loci, and others are given back as they are.
#[must_use]
pub fn apart(pairs: Vec<Pair>) -> Vec<Pair> {
    let Some((mut table, loci)) = table_of(&pairs) else {
        return pairs;
    };
    let mut alone: Vec<Option<AtLocus>> = vec![None; 2 * loci.len()];
    for (at, alone) in alone.iter_mut().enumerate() {
        if let Some((belief, rest)) = taken_out(&table, at) {
            *alone = Some(AtLocus::Weighted(belief));
            table = rest;
        }
    }
    let (cytoplasms, count) = ([pairs[0].0.cytoplasm, pairs[0].1.cytoplasm], loci.len());
    let plant = |genotype: &[Diploid], side: usize| {
        let at = |(place, locus): (usize, &LocusIx)| {
            let place = side * count + place;
            let known = AtLocus::Known(genotype[place]);
            (*locus, alone[place].clone().unwrap_or(known))
        };
        Parent {
            loci: loci.iter().enumerate().map(at).collect(),
            cytoplasm: cytoplasms[side],
        }
    };
    let pairs = table.iter();
    pairs
        .map(|(genotype, p)| (plant(genotype, 0), plant(genotype, 1), *p))
        .collect()
}

fn table_of(pairs: &[Pair]) -> Option<(Table, Vec<LocusIx>)> {
    let loci: Vec<LocusIx> = pairs.first()?.0.loci.keys().copied().collect();
    let mut table = Table::new();
    for (mother, father, p) in pairs {
        let at = |plant: &Parent, locus: &LocusIx| match plant.at(*locus) {
            Some(AtLocus::Known(pair)) => Some(*pair),
            _ => None,
        };
        let mothers = loci.iter().map(|locus| at(mother, locus));
        let fathers = loci.iter().map(|locus| at(father, locus));
        let key = mothers.chain(fathers).collect::<Option<Vec<Diploid>>>()?;
        *table.entry(key).or_default() += p;
    }
    Some((table, loci))
}

/// The belief at one place and the table without it, where the two are independent and there is anything to believe.
fn taken_out(table: &Table, at: usize) -> Option<(Vec<(Diploid, f64)>, Table)> {
    let mut belief: BTreeMap<Diploid, f64> = BTreeMap::new();
    for (genotype, p) in table {
        *belief.entry(genotype[at]).or_default() += p;
    }
    let total: f64 = belief.values().sum();
    let first = *belief.keys().next().filter(|_| belief.len() > 1)?;
    let with = |genotype: &[Diploid], pair: Diploid| {
        let mut with = genotype.to_vec();
        with[at] = pair;
        with
    };
    let mut rest = Table::new();
    for (genotype, p) in table {
        *rest.entry(with(genotype, first)).or_default() += p;
    }
    let mut far = 0.0;
    for (genotype, p) in &rest {
        for (pair, share) in &belief {
            let together = table.get(&with(genotype, *pair)).copied();
            far += (together.unwrap_or_default() - p * share / total).abs();
        }
    }
    let belief = belief.into_iter().map(|(pair, p)| (pair, p / total));
    (far <= FAR * total).then(|| (belief.collect(), rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(genotypes: [u8; 4], p: f64) -> Pair {
        let plant = |pairs: [u8; 2]| Parent {
            loci: (0..2)
                .map(|at| {
                    let pair = Diploid::new(0, pairs[at]);
                    (LocusIx(at), AtLocus::Known(pair))
                })
                .collect(),
            ..Parent::default()
        };
        let [a, b, c, d] = genotypes;
        (plant([a, b]), plant([c, d]), p)
    }

    /// By hand: the mother's first locus hangs together with the father's, her second is 1/4 to 3/4 whatever else.
    #[test]
    fn only_what_is_independent_is_taken_out() {
        let listed = vec![
            pair([0, 0, 0, 1], 0.1),
            pair([0, 1, 0, 1], 0.3),
            pair([1, 0, 1, 1], 0.15),
            pair([1, 1, 1, 1], 0.45),
        ];
        let found = apart(listed);
        assert_eq!(found.len(), 2);
        for (at, (mother, father, p)) in (0..).zip(&found) {
            let known = AtLocus::Known(Diploid::new(0, at));
            assert_eq!(
                [mother, father].map(|plant| plant.at(LocusIx(0))),
                [Some(&known); 2]
            );
            assert!((p - [0.4, 0.6][usize::from(at)]).abs() < 1e-12);
            let weights = mother
                .at(LocusIx(1))
                .map(AtLocus::weights)
                .unwrap_or_default();
            let shares: Vec<f64> = weights.iter().map(|(_, p)| *p).collect();
            assert!((shares[0] - 0.25).abs() < 1e-12 && (shares[1] - 0.75).abs() < 1e-12);
            assert_eq!(
                father.at(LocusIx(1)),
                Some(&AtLocus::Known(Diploid::new(0, 1)))
            );
        }
    }
}
