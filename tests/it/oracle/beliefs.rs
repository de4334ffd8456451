//! What is known of each plant's genotype before, and apart from, the batch asked about.

use super::choices::LABEL_USES_OWN_LOOKS;
use super::genes::{Genes, Genotype, Grain, lies, matches, pairs};
use super::season::{Kind, Parent, Slot};

/// Per plant and genotype: two different beliefs.
#[derive(Clone, Debug)]
pub struct Beliefs {
    /// Founder factor (statement trusted so far, or prior) times the plant's own looks.
    pub own: Vec<Vec<f64>>,
    /// The statement at its word.
    pub word: Vec<Vec<f64>>,
    /// Allele shares per carried locus.
    pub shares: Vec<Vec<f64>>,
}

/// Works out all first beliefs of a season's plants.
pub fn first_beliefs(genes: &Genes) -> Beliefs {
    let parents = &genes.season.parents;
    let founder: Vec<Vec<f64>> = parents
        .iter()
        .map(|p| by_locus(genes, p, Trust::Usual))
        .collect();
    let own: Vec<Vec<f64>> = parents
        .iter()
        .zip(&founder)
        .map(|(p, f)| with_looks(genes, p, f))
        .collect();
    let word = parents.iter().map(|p| {
        let plain = by_locus(genes, p, Trust::AtItsWord);
        if LABEL_USES_OWN_LOOKS {
            with_looks(genes, p, &plain)
        } else {
            plain
        }
    });
    Beliefs {
        word: word.collect(),
        shares: (0..genes.loci.len())
            .map(|at| allele_shares(genes, at, &founder))
            .collect(),
        own,
    }
}

/// How far a statement is believed.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Trust {
    Usual,
    AtItsWord,
}

fn by_locus(genes: &Genes, parent: &Parent, trust: Trust) -> Vec<f64> {
    let per_locus: Vec<Vec<f64>> = genes
        .loci
        .iter()
        .map(|&l| locus_belief(genes, parent, l, trust))
        .collect();
    let joint = |g: &Vec<(u8, u8)>| {
        let at = |(i, pair): (usize, &(u8, u8))| {
            let all = pairs(genes.season.loci[genes.loci[i]].alleles.len());
            let unordered = (pair.0.min(pair.1), pair.0.max(pair.1));
            per_locus[i][all
                .iter()
                .position(|p| *p == unordered)
                .expect("every pair is listed")]
        };
        let p: f64 = g.iter().enumerate().map(at).product();
        p * share_of_order(genes, g) * phase_factor(genes, parent, g, trust)
    };
    genes.all.iter().map(joint).collect()
}

/// Either order of a mixed pair is equally likely.
fn share_of_order(genes: &Genes, genotype: &Genotype) -> f64 {
    let mixed = genotype.iter().filter(|(x, y)| x != y).count();
    match genes.ordered {
        true => 0.5_f64.powi(i32::try_from(mixed).expect("few loci")),
        false => 1.0,
    }
}

/// Of the phases of the same alleles the stated one gets the trust, the others the rest evenly: against an even share.
fn phase_factor(genes: &Genes, parent: &Parent, genotype: &Genotype, trust: Trust) -> f64 {
    let (mixed, as_stated) = lies(genes, &parent.stated, genotype);
    if !genes.ordered || !parent.phased || mixed < 2 {
        return 1.0;
    }
    let phases = 2.0_f64.powi(mixed - 1);
    let trusted = match trust {
        Trust::AtItsWord => 1.0,
        Trust::Usual => phase_trust(parent),
    };
    match as_stated {
        true => trusted * phases,
        false => (1.0 - trusted) / (phases - 1.0) * phases,
    }
}

/// How far a stated phase is trusted.
pub fn phase_trust(parent: &Parent) -> f64 {
    if parent.proven { 0.999 } else { 0.99 }
}

/// The founder factor of one locus over its unordered pairs.
fn locus_belief(genes: &Genes, parent: &Parent, locus: usize, trust: Trust) -> Vec<f64> {
    let prior = inbred_shares(&first_shares(genes, locus), inbreeding(parent.kind));
    let Some((_, slots)) = parent.stated.iter().find(|s| s.0 == locus) else {
        return prior;
    };
    let all = pairs(genes.season.loci[locus].alleles.len());
    let fits: Vec<bool> = all.iter().map(|&p| matches(*slots, p)).collect();
    let inside: f64 = prior.iter().zip(&fits).filter(|f| *f.1).map(|f| f.0).sum();
    let outside = fits.iter().filter(|f| !**f).count();
    let trusted = match trust {
        Trust::Usual if outside > 0 => usual_trust(genes, parent, locus, *slots),
        _ => 1.0,
    };
    let share = |(&p, &fit): (&f64, &bool)| match fit {
        true => trusted * p / inside,
        false => (1.0 - trusted) / outside as f64,
    };
    prior.iter().zip(&fits).map(share).collect()
}

fn usual_trust(genes: &Genes, parent: &Parent, locus: usize, slots: [Slot; 2]) -> f64 {
    let last =
        u8::try_from(genes.season.loci[locus].alleles.len() - 1).expect("a locus has few alleles");
    if parent.proven || slots == [Some(last), Some(last)] {
        0.999
    } else {
        0.99
    }
}

/// p_i^2 + F p_i (1 - p_i) for homozygotes, 2 p_i p_j (1 - F) for heterozygotes.
fn inbred_shares(shares: &[f64], f: f64) -> Vec<f64> {
    let one = |&(x, y): &(u8, u8)| {
        let (p, q) = (shares[usize::from(x)], shares[usize::from(y)]);
        if x == y {
            p * p + f * p * (1.0 - p)
        } else {
            2.0 * p * q * (1.0 - f)
        }
    };
    pairs(shares.len()).iter().map(one).collect()
}

fn inbreeding(kind: Kind) -> f64 {
    match kind {
        Kind::Line => 0.95,
        Kind::Packet => 0.8,
        Kind::Plant => 0.0,
    }
}

/// The locus's own share option, or 1/k each.
fn first_shares(genes: &Genes, locus: usize) -> Vec<f64> {
    let locus = &genes.season.loci[locus];
    match locus.share {
        Some(p) => vec![p, 1.0 - p],
        None => vec![1.0 / locus.alleles.len() as f64; locus.alleles.len()],
    }
}

/// Mean expected share over the founders' first factors, one more founder at the locus's share counted in.
fn allele_shares(genes: &Genes, at: usize, founder: &[Vec<f64>]) -> Vec<f64> {
    let extra = first_shares(genes, genes.loci[at]);
    let expected = |allele: usize| -> f64 {
        let held = |g: &Vec<(u8, u8)>| {
            let (x, y) = g[at];
            f64::from(u8::from(usize::from(x) == allele) + u8::from(usize::from(y) == allele)) / 2.0
        };
        founder
            .iter()
            .map(|f| {
                f.iter()
                    .zip(&genes.all)
                    .map(|(w, g)| w * held(g))
                    .sum::<f64>()
            })
            .sum()
    };
    (0..extra.len())
        .map(|a| (expected(a) + extra[a]) / (founder.len() + 1) as f64)
        .collect()
}

fn with_looks(genes: &Genes, parent: &Parent, founder: &[f64]) -> Vec<f64> {
    let mut scores: Vec<(usize, usize)> = parent.looks.clone();
    scores.extend(parent.scores.iter().map(|&(_, t, c)| (t, c)));
    let seen = |g: &Vec<(u8, u8)>| -> f64 {
        let one = |&(of, class): &(usize, usize)| {
            let t = &genes.season.traits[of];
            match genes.classes(g, &[of])[0] == class {
                true => 1.0 - t.misread,
                false => t.misread / (t.classes.len() - 1) as f64,
            }
        };
        scores.iter().map(one).product()
    };
    let looked: Vec<f64> = founder
        .iter()
        .zip(&genes.all)
        .map(|(f, g)| f * seen(g))
        .collect();
    let total: f64 = looked.iter().sum();
    looked.iter().map(|w| w / total).collect()
}

/// A plant of unknown genotype at the allele shares (Hardy-Weinberg): two independent grains.
pub fn outside_plant(genes: &Genes, pool: &[Grain]) -> Vec<f64> {
    let mut weights = vec![0.0; genes.all.len()];
    for (x, p) in pool {
        for (y, q) in pool {
            let pair = genes.child(x, y);
            let at = genes
                .all
                .iter()
                .position(|g| *g == pair)
                .expect("every genotype is listed");
            weights[at] += p * q;
        }
    }
    weights
}
