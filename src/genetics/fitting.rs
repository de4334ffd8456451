//! All genotypes that fit a look: a gene model read backwards.
//!
//! A look says less than a genotype: orange may be one gene or another. Goes through the loci in the model's order
//! and keeps together whatever leads to the same rules, so that the answer is short; how likely each genotype is, is
//! not known here. `trait show --look` asks.

use super::genotype::Diploid;
use super::locus::{Locus, LocusBook};
use super::rule::{Cytoplasm, GeneModel};

/// Genotypes that fit: at each locus of the model the pairs that do, freely combined.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fitting {
    /// The pairs at each of [`GeneModel::loci`].
    pub at: Vec<Vec<Diploid>>,
}

/// Every genotype that a model gives a class in a cytoplasm, in groups without overlap.
///
/// # Panics
/// If the model has no such class.
#[must_use]
pub fn fitting(model: &GeneModel, class: usize, cytoplasm: Cytoplasm) -> Vec<Fitting> {
    assert!(class < model.classes().len(), "the model has class {class}");
    let mut search = Search {
        model,
        class,
        found: Vec::new(),
    };
    search.follow(model.rules_for(cytoplasm), &mut Vec::new());
    search.found
}

struct Search<'m> {
    model: &'m GeneModel,
    class: usize,
    found: Vec<Fitting>,
}

impl Search<'_> {
    /// Follows the rules still open after the loci passed.
    fn follow(&mut self, open: u64, passed: &mut Vec<Vec<Diploid>>) {
        let alleles = self.model.allele_counts();
        let classes = self.classes(open);
        let first = *classes
            .first()
            .expect("a gene model gives every genotype a class");
        if classes.iter().all(|class| *class == first) {
            if first == self.class {
                let rest = alleles[passed.len()..]
                    .iter()
                    .map(|count| Diploid::all(*count));
                let at = passed.iter().cloned().chain(rest).collect();
                self.found.push(Fitting { at });
            }
            return;
        }
        let place = passed.len();
        let mut ways: Vec<(u64, Vec<Diploid>)> = Vec::new();
        for pair in Diploid::all(alleles[place]) {
            let left = self.reachable(open & self.model.rules_at(place, pair), place + 1);
            match ways.iter_mut().find(|(known, _)| *known == left) {
                Some((_, pairs)) => pairs.push(pair),
                None => ways.push((left, vec![pair])),
            }
        }
        for (left, pairs) in ways {
            passed.push(pairs);
            self.follow(left, passed);
            passed.pop();
        }
    }

    /// The open rules up to the first that none of the loci from a place on can still rule out.
    fn reachable(&self, open: u64, place: usize) -> u64 {
        let loci = self.model.loci().len();
        let pending = (place..loci).fold(0, |bits, at| bits | self.model.rules_naming(at));
        let sure = open & !pending;
        if sure == 0 {
            return open;
        }
        let first = sure.trailing_zeros();
        open & (u64::MAX >> (63 - first))
    }

    fn classes(&self, open: u64) -> Vec<usize> {
        let rules = self.model.rules();
        (0..rules.len())
            .filter(move |at| open & (1 << at) != 0)
            .map(move |at| rules[at].class)
            .collect()
    }
}

impl Fitting {
    /// How many genotypes these are.
    #[must_use]
    pub fn count(&self) -> u128 {
        self.at.iter().map(|pairs| pairs.len() as u128).product()
    }

    /// As a pattern: `Y/_ c2/c2`; loci at which anything fits are left out, and nothing is left of a group that
    /// anything fits. Pairs that no pattern sums up are listed with commas.
    #[must_use]
    pub fn written(&self, model: &GeneModel, book: &LocusBook) -> String {
        let loci = model.loci().iter().zip(&self.at);
        let pieces: Vec<String> = loci
            .filter_map(|(locus, pairs)| summed_up(book.get(*locus), pairs))
            .collect();
        pieces.join(" ")
    }

    /// Every genotype written out.
    #[must_use]
    pub fn genotypes(&self, model: &GeneModel, book: &LocusBook) -> Vec<String> {
        let mut found = vec![String::new()];
        for (locus, pairs) in model.loci().iter().zip(&self.at) {
            let with = |so_far: &String, pair: &Diploid| {
                let pair = pair.written(book.get(*locus));
                let blank = if so_far.is_empty() { "" } else { " " };
                format!("{so_far}{blank}{pair}")
            };
            found = found
                .iter()
                .flat_map(|so_far| pairs.iter().map(move |pair| with(so_far, pair)))
                .collect();
        }
        found
    }
}

/// Pairs of one locus as a person writes them; nothing where they are all there are.
fn summed_up(locus: &Locus, pairs: &[Diploid]) -> Option<String> {
    let all = Diploid::all(locus.alleles.len());
    if pairs.len() == all.len() {
        return None;
    }
    if let [only] = pairs {
        return Some(only.written(locus));
    }
    let carried = (0..locus.alleles.len()).find(|allele| {
        let carriers = all.iter().filter(|pair| pair.carries(*allele as u8));
        carriers.eq(pairs.iter())
    });
    Some(match carried {
        Some(allele) => format!("{}/_", locus.alleles[allele]),
        None => {
            let listed: Vec<String> = pairs.iter().map(|pair| pair.written(locus)).collect();
            listed.join(",")
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::genetics::catalogue;

    /// Every class of every built-in model, against the class of each genotype listed one by one.
    #[test]
    fn agrees_with_going_through_all_genotypes() {
        for spec in catalogue::traits() {
            let mut book = catalogue::book();
            for model in spec.check(&mut book).unwrap() {
                for cytoplasm in [Cytoplasm::Normal, Cytoplasm::Sterile] {
                    for class in 0..model.classes().len() {
                        let found = fitting(&model, class, cytoplasm);
                        let fits = |g: &[Diploid]| {
                            let inside =
                                |f: &&Fitting| f.at.iter().zip(g).all(|(ps, p)| ps.contains(p));
                            found.iter().filter(inside).count()
                        };
                        for genotype in every(model.allele_counts()) {
                            let wanted = model.class_of(&genotype, cytoplasm) == class;
                            assert_eq!(fits(&genotype), usize::from(wanted), "{}", spec.code);
                        }
                    }
                }
            }
        }
    }

    fn every(counts: &[usize]) -> Vec<Vec<Diploid>> {
        counts.iter().fold(vec![Vec::new()], |found, count| {
            let longer = |so_far: &Vec<Diploid>| {
                let so_far = so_far.clone();
                Diploid::all(*count).into_iter().map(move |pair| {
                    let mut longer = so_far.clone();
                    longer.push(pair);
                    longer
                })
            };
            found.iter().flat_map(longer).collect()
        })
    }

    /// By hand: of nine genotypes at two loci five lack one of the two dominants, the seven sixteenths of 9:7.
    #[test]
    fn is_written_as_patterns() {
        let mut book = catalogue::book();
        let traits = catalogue::traits();
        let spec = traits.iter().find(|spec| spec.code == "pungency").unwrap();
        let model = &spec.check(&mut book).unwrap()[0];
        let found = fitting(model, 1, Cytoplasm::Unknown);
        let written: Vec<String> = found.iter().map(|f| f.written(model, &book)).collect();
        assert_eq!(written, ["Pun1/_ pamt/pamt", "pun1/pun1"]);
        assert_eq!(found.iter().map(Fitting::count).sum::<u128>(), 5);
        assert_eq!(
            found[0].genotypes(model, &book),
            ["Pun1/Pun1 pamt/pamt", "Pun1/pun1 pamt/pamt"]
        );
    }
}
