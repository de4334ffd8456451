//! What is stated of one plant at the loci of a linkage group, its phase among it, as a factor over genotypes.
//!
//! A statement replaces a prior ([`Said::over`]) or stands beside what descent says ([`Said::likelihood`]). Called by the
//! plants of a ledger; knows no parents.

use std::collections::HashMap;

use crate::genetics::genotype::Diploid;

use super::group::LinkageGroup;
use super::plants::Statement;

/// The statements about a plant at the loci of a group, with their trust.
pub(super) struct Said<'s> {
    loci: Vec<Option<(&'s Statement, f64)>>,
    phase_trust: f64,
}

impl<'s> Said<'s> {
    /// One statement or none a locus. The phase is trusted as the least trusted of the statements that it rests on.
    pub(super) fn new(
        loci: Vec<Option<(&'s Statement, f64)>>,
        phase_trust: impl Fn(&Statement) -> f64,
    ) -> Self {
        let phased = loci.iter().flatten().map(|(said, _)| *said);
        let phased = phased.filter(|said| is_phased(said));
        let phase_trust = phased.map(phase_trust).fold(1.0, f64::min);
        Self { loci, phase_trust }
    }

    /// Whether nothing is stated.
    pub(super) fn is_silent(&self) -> bool {
        self.loci.iter().all(Option::is_none)
    }

    fn stated(&self) -> impl Iterator<Item = (usize, &'s Statement, f64)> {
        let loci = self.loci.iter().enumerate();
        loci.filter_map(|(place, said)| said.map(|(said, trust)| (place, said, trust)))
    }

    /// The places at which a genotype is not as stated, as bits.
    fn misfits(&self, of: &LinkageGroup, genotype: usize) -> u64 {
        self.stated().fold(0, |misfits, (place, said, _)| {
            let misfit = !said.at.matches(of.pair(genotype, place));
            misfits | u64::from(misfit) << place
        })
    }

    /// P(the statements at these places are wrong and the others right), an even share of it for each genotype that
    /// could be there instead.
    fn chance(&self, of: &LinkageGroup, misfits: u64) -> f64 {
        let of_locus = |(place, said, trust): (usize, &Statement, f64)| {
            let all = Diploid::all(of.alleles[place]);
            let others = all.iter().filter(|pair| !said.at.matches(**pair)).count();
            match misfits & (1 << place) {
                0 if others == 0 => 1.0,
                0 => trust,
                _ => (1.0 - trust) / others as f64,
            }
        };
        self.stated().map(of_locus).product()
    }

    /// The statements in place of a prior: at the loci where they are right the trust is shared in proportion to it,
    /// at the others the rest evenly; then the same of the phase.
    pub(super) fn over(&self, of: &LinkageGroup, prior: &[f64]) -> Vec<f64> {
        if of.is_alone() {
            return self.over_locus(of, 0, prior);
        }
        let misfits: Vec<u64> = (0..of.size()).map(|at| self.misfits(of, at)).collect();
        let fitting = prior
            .iter()
            .zip(&misfits)
            .filter(|(_, misfits)| **misfits == 0);
        let values = match fitting.map(|(p, _)| p).sum::<f64>() > 0.0 {
            true => self.over_loci(of, prior, &misfits),
            false => self.over_apart(of, prior),
        };
        self.laid(of, values)
    }

    /// At one locus: the trust over the matching genotypes in proportion to the prior, the rest evenly over the others.
    fn over_locus(&self, of: &LinkageGroup, place: usize, prior: &[f64]) -> Vec<f64> {
        let Some((said, _)) = self.loci[place] else {
            return prior.to_vec();
        };
        let pairs = Diploid::all(of.alleles[place]);
        let fits: Vec<bool> = pairs.iter().map(|pair| said.at.matches(*pair)).collect();
        let fitting = fits.iter().filter(|fit| **fit).count();
        let inside = prior.iter().zip(&fits).filter(|(_, fit)| **fit);
        let mass: f64 = inside.map(|(p, _)| p).sum();
        let only = Self {
            loci: (0..self.loci.len())
                .map(|at| self.loci[at].filter(|_| at == place))
                .collect(),
            phase_trust: self.phase_trust,
        };
        let [right, wrong] = [0, 1 << place].map(|misfits| only.chance(of, misfits));
        let share = |(p, fit): (&f64, &bool)| match (fit, mass > 0.0) {
            (true, true) => right * p / mass,
            (true, false) => right / fitting as f64,
            (false, _) => wrong,
        };
        prior.iter().zip(&fits).map(share).collect()
    }

    /// Locus by locus, where the prior leaves no genotype that is as stated everywhere.
    fn over_apart(&self, of: &LinkageGroup, prior: &[f64]) -> Vec<f64> {
        let of_locus = |place: usize| {
            let mut alone = vec![0.0; Diploid::all(of.alleles[place]).len()];
            for (pair, p) in of.pairs_at(place).iter().zip(prior) {
                alone[pair.index(of.alleles[place])] += p;
            }
            self.over_locus(of, place, &alone)
        };
        let by_locus: Vec<Vec<f64>> = (0..of.loci.len()).map(of_locus).collect();
        of.spread(&by_locus)
    }

    fn over_loci(&self, of: &LinkageGroup, prior: &[f64], misfits: &[u64]) -> Vec<f64> {
        let mut values = vec![0.0; of.size()];
        let mut wrong: Vec<u64> = misfits.to_vec();
        wrong.sort_unstable();
        wrong.dedup();
        for wrong in wrong {
            let chance = self.chance(of, wrong);
            let right = of.all() & !wrong;
            if chance == 0.0 {
                continue;
            }
            let own = (0..of.size()).filter(|at| misfits[*at] == wrong);
            if right == 0 {
                own.for_each(|at| values[at] = chance / of.phases(at) as f64);
                continue;
            }
            let part = of.part(right);
            let map = of.narrowing(&part);
            let mut narrow = vec![0.0; part.size()];
            map.iter().zip(prior).for_each(|(to, p)| narrow[*to] += p);
            let mut fits = vec![false; part.size()];
            let as_stated = (0..of.size()).filter(|at| misfits[*at] & right == 0);
            as_stated.for_each(|at| fits[map[at]] = true);
            let inside = narrow.iter().zip(&fits).filter(|(_, fit)| **fit);
            let mass: f64 = inside.map(|(p, _)| p).sum();
            for at in own {
                let ways = of.phases(at) / part.phases(map[at]);
                values[at] = chance * narrow[map[at]] / mass / ways as f64;
            }
        }
        values
    }

    /// How many of the loci whose phase is stated are heterozygous as stated, and whether they lie as stated.
    fn lie(&self, of: &LinkageGroup, genotype: usize) -> (u32, bool) {
        let [one, _] = of.strands(genotype);
        let phased = self.stated().filter(|(place, said, _)| {
            is_phased(said) && said.at.matches(of.pair(genotype, *place))
        });
        let mothers: Vec<bool> = phased
            .map(|(place, said, _)| said.at.first == Some(one[place]))
            .collect();
        let count = u32::try_from(mothers.len()).expect("a group has few loci");
        (count, mothers.iter().all(|of| *of == mothers[0]))
    }

    /// The phase as stated gets its trust, the other phases of the same alleles the rest, evenly.
    fn laid(&self, of: &LinkageGroup, mut values: Vec<f64>) -> Vec<f64> {
        let mut alike: HashMap<Vec<Diploid>, Vec<usize>> = HashMap::new();
        for at in 0..of.size() {
            if self.lie(of, at).0 > 1 {
                alike.entry(of.unphased(at)).or_default().push(at);
            }
        }
        for genotypes in alike.values() {
            let (right, wrong): (Vec<usize>, Vec<usize>) =
                genotypes.iter().partition(|at| self.lie(of, **at).1);
            let sum = |of: &[usize]| of.iter().map(|at| values[*at]).sum::<f64>();
            let (mass, all) = (sum(&right), sum(&right) + sum(&wrong));
            for at in &right {
                let share = match mass > 0.0 {
                    true => values[*at] / mass,
                    false => 1.0 / right.len() as f64,
                };
                values[*at] = self.phase_trust * all * share;
            }
            for at in &wrong {
                values[*at] = (1.0 - self.phase_trust) * all / wrong.len() as f64;
            }
        }
        values
    }

    /// P(what is stated | genotype): the trust where it fits, the rest shared evenly by the others, of the phase too.
    pub(super) fn likelihood(&self, of: &LinkageGroup) -> Vec<f64> {
        let phased = self.stated().filter(|(_, said, _)| is_phased(said)).count();
        let ways = |loci: u32| 2.0_f64.powi(loci.saturating_sub(1) as i32);
        let all = ways(u32::try_from(phased).expect("a group has few loci"));
        let of_phase = |at: usize| match self.lie(of, at) {
            (0 | 1, _) => 1.0 / all,
            (loci, true) => self.phase_trust * ways(loci) / all,
            (loci, false) => (1.0 - self.phase_trust) / (ways(loci) - 1.0) * ways(loci) / all,
        };
        (0..of.size())
            .map(|at| self.chance(of, self.misfits(of, at)) * of_phase(at))
            .collect()
    }
}

/// Whether a statement says from which parent either of two different alleles came.
fn is_phased(said: &Statement) -> bool {
    let alleles = said.at.first.zip(said.at.second);
    said.at.phased && alleles.is_some_and(|(one, other)| one != other)
}
