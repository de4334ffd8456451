//! P(all of some seedlings of a batch are off-type), subset by subset: every set of off-type seedlings that holds them.

use super::model::{Model, Term};
use super::sources::Share;
use super::world::World;

/// Sets summed one by one per batch at most.
const SETS_AT_MOST: usize = 1_000_000;

impl World<'_> {
    /// P(mother, father | everything) for each pair of genotypes, and that times the chance that all of a choice are off-type
    /// given it; nothing for a batch with too many sets of seedlings.
    pub fn all_off_by_parents(
        &self,
        batch: usize,
        choice: &[(usize, usize)],
    ) -> Option<Vec<[f64; 2]>> {
        let model = &self.batches[batch];
        let weights = self.joint_without(Some(batch), &model.lists());
        let terms = model.terms(&weights, true);
        let n: usize = model.evidence.units.iter().map(|unit| unit.count).sum();
        if n > 14 || (terms.len() * model.states.len()) << n > SETS_AT_MOST {
            return None;
        }
        let each = by_term(model, &terms, choice);
        let total: f64 = each.iter().map(|[_, all]| all).sum();
        let mut pairs = vec![[0.0; 2]; model.kinds * model.kinds];
        for (term, [off, all]) in terms.iter().zip(each) {
            let pair = &mut pairs[term.parents.0 * model.kinds + term.parents.1];
            pair[0] += all / total;
            pair[1] += off / total;
        }
        Some(pairs)
    }

    /// For each choice (a unit and how many of it) the chance that all of it are off-type; nothing for a batch with too
    /// many sets of seedlings.
    pub fn all_off(&self, batch: usize, choices: &[Vec<(usize, usize)>]) -> Option<Vec<f64>> {
        let model = &self.batches[batch];
        let weights = self.joint_without(Some(batch), &model.lists());
        let terms = model.terms(&weights, false);
        let n: usize = model.evidence.units.iter().map(|unit| unit.count).sum();
        if n > 14 || (terms.len() * model.states.len() * choices.len()) << n > SETS_AT_MOST {
            return None;
        }
        Some(
            choices
                .iter()
                .map(|choice| all_off(model, &terms, choice))
                .collect(),
        )
    }
}

/// P(all of a choice are off-type | readings).
fn all_off(model: &Model, terms: &[Term], choice: &[(usize, usize)]) -> f64 {
    let each = by_term(model, terms, choice);
    let [off, all] = [0, 1].map(|at| each.iter().map(|both| both[at]).sum::<f64>());
    off / all
}

/// Per term its weight times P(readings), once with all of a choice off-type.
fn by_term(model: &Model, terms: &[Term], choice: &[(usize, usize)]) -> Vec<[f64; 2]> {
    let mut chosen = Vec::new();
    for (unit, own) in model.evidence.units.iter().enumerate() {
        let of_it = choice.iter().find(|(other, _)| *other == unit);
        let taken = of_it.map_or(0, |(_, count)| *count);
        chosen.extend((0..own.count).map(|at| at < taken));
    }
    let mut each = Vec::new();
    for term in terms {
        let (mut off, mut all) = (0.0, 0.0);
        let share = model.candidates.sources[term.source].0.share();
        for (k, state) in model.states.iter().enumerate() {
            let (mut a, mut b) = (Vec::new(), Vec::new());
            for (unit, likelihood) in model.evidence.units.iter().zip(&model.likelihood) {
                let given = |looks: &[f64]| -> f64 {
                    looks.iter().zip(&likelihood[k]).map(|(p, q)| p * q).sum()
                };
                a.extend(std::iter::repeat_n(given(&term.label), unit.count));
                b.extend(std::iter::repeat_n(given(&term.brood), unit.count));
            }
            let (own, whole) = of_sets(&a, &b, &chosen, share);
            off += term.weight * state.weight * own;
            all += term.weight * state.weight * whole;
        }
        each.push([off, all]);
    }
    each
}

/// Sums over sets of off-type seedlings: those that hold all that are chosen, and all sets.
fn of_sets(a: &[f64], b: &[f64], chosen: &[bool], share: Share) -> (f64, f64) {
    let n = a.len();
    let wanted = (0..n)
        .filter(|at| chosen[*at])
        .fold(0, |set, at| set | 1_usize << at);
    let (mut off, mut all) = (0.0, 0.0);
    for set in 0..1_usize << n {
        let size = set.count_ones();
        let chance = match share {
            Share::Zero => f64::from(u8::from(size == 0)),
            Share::One => f64::from(u8::from(size as usize == n)),
            Share::Beta(second) => of_size(size, n as u32, second),
        };
        if chance == 0.0 {
            continue;
        }
        let readings: f64 = (0..n)
            .map(|at| if set >> at & 1 == 1 { b[at] } else { a[at] })
            .product();
        all += chance * readings;
        if set & wanted == wanted {
            off += chance * readings;
        }
    }
    (off, all)
}

/// P(just these k of n are off-type) for a share from Beta(1, s): s k! (n - k + s - 1)! / (n + s)!.
fn of_size(k: u32, n: u32, s: u32) -> f64 {
    let factorial = |m: u32| (1..=m).map(f64::from).product::<f64>();
    f64::from(s) * factorial(k) * factorial(n - k + s - 1) / factorial(n + s)
}
