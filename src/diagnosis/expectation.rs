//! What a cross is expected to show: final classes as whole numbers where they are, and by age.
//!
//! Answers for the label: stated genotypes are taken at their word, nothing is misread. `expect` and
//! `ratio` ask; where the plants and traits come from is not known here.

use std::collections::BTreeMap;

use crate::genetics::expect::{Breeding, Classes, ExpectError, Parent, Shares, breed};
use crate::genetics::genotype::Diploid;
use crate::genetics::ratio::MOST_PARTS;
use crate::genetics::rule::GeneModel;
use crate::genetics::segregation::{AtLocus, gcd};
use crate::genetics::traits::Onset;
use crate::stats::logs::normal_cdf;

/// A trait as an expectation reads it.
#[derive(Debug, Clone, Copy)]
pub struct Scored<'a> {
    /// Its gene model.
    pub model: &'a GeneModel,
    /// For each class the one shown before it, for late classes.
    pub after: &'a [Option<usize>],
    /// When its late classes show.
    pub onset: Option<Onset>,
}

/// One class, or one combination of classes of several traits.
#[derive(Debug, Clone, PartialEq)]
pub struct ExpectedClass {
    /// A class of each trait.
    pub classes: Classes,
    /// P(a seedling ends in it).
    pub final_p: f64,
    /// P(a seedling shows it at the age asked about); without an age as `final_p`.
    pub p: f64,
    /// Its part of the final ratio, where that is one of small whole numbers.
    pub parts: Option<u64>,
    /// `final_p` as numerator and denominator in lowest terms, where it is known exactly.
    pub fraction: Option<(u128, u128)>,
}

/// What a cross is expected to show.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// The classes in the order of the traits; among them those that this cross cannot give.
    pub classes: Vec<ExpectedClass>,
}

impl Expectation {
    /// Whether another expectation gives the same shares.
    #[must_use]
    pub fn is_like(&self, other: &Self) -> bool {
        let pairs = self.classes.iter().zip(&other.classes);
        let mut same =
            pairs.map(|(a, b)| a.classes == b.classes && (a.final_p - b.final_p).abs() < 1e-12);
        self.classes.len() == other.classes.len() && same.all(|same| same)
    }

    /// The final ratio of the classes that can come, where it is one of small whole numbers.
    #[must_use]
    pub fn ratio(&self) -> Option<String> {
        let parts: Option<Vec<u64>> = self.classes.iter().map(|class| class.parts).collect();
        let coming: Vec<String> = parts?
            .iter()
            .filter(|n| **n > 0)
            .map(u64::to_string)
            .collect();
        Some(coming.join(":"))
    }
}

/// The expectation of some traits in what is bred, at an age in days where one is given.
///
/// The ratio is exact where both parents are known at every locus read. By age, a late class shows from
/// its onset on and the class before it until then, in a batch neither faster nor slower than the median.
///
/// # Errors
/// [`ExpectError`] where a parent lacks a locus that a model reads, no seedling lives, or it is too large.
pub fn expect(
    breeding: &Breeding<'_>,
    traits: &[Scored<'_>],
    age: Option<f64>,
) -> Result<Expectation, ExpectError> {
    let models: Vec<&GeneModel> = traits.iter().map(|scored| scored.model).collect();
    let shares = breed(breeding, &models)?;
    let parts = match shares.exact {
        Some(_) => None,
        None => certain_parts(breeding, &models),
    };
    Ok(with_parts(shares, parts, traits, age))
}

/// What some shares show, as [`expect`]; the ratio is that of the shares, where they are exact.
#[must_use]
pub fn expect_of(shares: Shares, traits: &[Scored<'_>], age: Option<f64>) -> Expectation {
    with_parts(shares, None, traits, age)
}

fn with_parts(
    shares: Shares,
    certain: Option<Vec<u64>>,
    traits: &[Scored<'_>],
    age: Option<f64>,
) -> Expectation {
    let exact = shares.exact.as_ref();
    let parts = exact.map_or(certain, |exact| exact.parts(MOST_PARTS));
    let finals = shares
        .classes
        .into_iter()
        .enumerate()
        .map(|(at, (classes, p))| {
            let fraction = exact.map(|exact| lowest(exact.classes[at].1, exact.denominator));
            let parts = parts.as_ref().map(|parts| parts[at]);
            (classes, p, parts, fraction)
        });
    Expectation {
        classes: assemble(finals.collect(), parts.is_some(), traits, age),
    }
}

/// A fraction in lowest terms.
fn lowest(n: u128, d: u128) -> (u128, u128) {
    let common = gcd(n, d);
    (n / common, d / common)
}

/// Most combinations of uncertain genotypes that are tried for [`certain_parts`].
const MOST_TRIED: usize = 4_096;

/// The parts of the ratio where what is uncertain of the parents makes no difference to it.
fn certain_parts(breeding: &Breeding<'_>, models: &[&GeneModel]) -> Option<Vec<u64>> {
    let parts = |(mother, father): &(&Parent, &Parent)| {
        let breeding = Breeding {
            mother,
            father,
            ..*breeding
        };
        breed(&breeding, models).ok()?.exact?.parts(MOST_PARTS)
    };
    let may_be = |parent: &Parent| possible(&parent.living(breeding.selection)?);
    let mothers = may_be(breeding.mother)?;
    let fathers = if breeding.needs_father() {
        may_be(breeding.father)?
    } else {
        vec![breeding.father.clone()]
    };
    if mothers.len() * fathers.len() > MOST_TRIED {
        return None;
    }
    let pairs: Vec<(&Parent, &Parent)> = mothers
        .iter()
        .flat_map(|m| fathers.iter().map(move |f| (m, f)))
        .collect();
    let (first, rest) = pairs.split_first()?;
    let found = parts(first)?;
    rest.iter()
        .all(|pair| parts(pair).as_ref() == Some(&found))
        .then_some(found)
}

/// Every plant that an uncertain one may be; nothing where they are too many.
fn possible(plant: &Parent) -> Option<Vec<Parent>> {
    let mut found = vec![Parent {
        loci: BTreeMap::new(),
        cytoplasm: plant.cytoplasm,
    }];
    for (locus, at) in &plant.loci {
        if let AtLocus::Known(_) | AtLocus::Phased(_) = at {
            for one in &mut found {
                one.loci.insert(*locus, at.clone());
            }
            continue;
        }
        let pairs: Vec<Diploid> = at
            .weights()
            .into_iter()
            .filter(|(_, p)| *p > 0.0)
            .map(|(pair, _)| pair)
            .collect();
        if found.len() * pairs.len() > MOST_TRIED {
            return None;
        }
        let with = |one: &Parent, pair: &Diploid| {
            let mut one = one.clone();
            one.loci.insert(*locus, AtLocus::Known(*pair));
            one
        };
        found = found
            .iter()
            .flat_map(|one| pairs.iter().map(move |pair| with(one, pair)))
            .collect();
    }
    Some(found)
}

/// A final class, its probability, part and fraction.
type Final = (Classes, f64, Option<u64>, Option<(u128, u128)>);

fn assemble(
    finals: Vec<Final>,
    has_parts: bool,
    traits: &[Scored<'_>],
    age: Option<f64>,
) -> Vec<ExpectedClass> {
    let mut lines: BTreeMap<Classes, ExpectedClass> = BTreeMap::new();
    let blank = |classes: &Classes| ExpectedClass {
        classes: classes.clone(),
        final_p: 0.0,
        p: 0.0,
        parts: has_parts.then_some(0),
        fraction: None,
    };
    for (classes, final_p, parts, fraction) in finals {
        let line = lines
            .entry(classes.clone())
            .or_insert_with(|| blank(&classes));
        line.final_p = final_p;
        line.parts = parts;
        line.fraction = fraction;
        for (shown, p) in shown_of(&classes, traits, age) {
            lines
                .entry(shown.clone())
                .or_insert_with(|| blank(&shown))
                .p += final_p * p;
        }
    }
    lines.into_values().collect()
}

/// What seedlings that end in these classes show at an age, with probabilities.
fn shown_of(classes: &Classes, traits: &[Scored<'_>], age: Option<f64>) -> Vec<(Classes, f64)> {
    let mut shown = vec![(Vec::new(), 1.0)];
    for (class, scored) in classes.iter().zip(traits) {
        let turned = turned_by(scored, *class, age);
        let mut longer = Vec::new();
        for (before, p) in &shown {
            let mut add = |class: usize, share: f64| {
                if share > 0.0 {
                    longer.push(([before.as_slice(), &[class]].concat(), p * share));
                }
            };
            add(*class, turned);
            if let Some(early) = scored.after[*class] {
                add(early, 1.0 - turned);
            }
        }
        shown = longer;
    }
    shown
}

/// P(a seedling that ends in a class shows it by an age): the lognormal distribution function of the age at
/// onset times the ceiling, `c Phi(ln(t/median)/spread)`; 1 for a class that is not late.
fn turned_by(scored: &Scored<'_>, class: usize, age: Option<f64>) -> f64 {
    match (scored.after[class], scored.onset, age) {
        (Some(_), Some(onset), Some(age)) if age > 0.0 => {
            onset.ceiling * normal_cdf((age / onset.median_days).ln() / onset.spread)
        }
        (Some(_), Some(_), Some(_)) => 0.0,
        _ => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::genetics::descent::Descent;
    use crate::genetics::expect::independent;
    use crate::genetics::locus::LocusBook;
    use crate::genetics::notation::Genotype;

    fn model(book: &mut LocusBook, classes: &[&str], rules: &[(&str, &str)]) -> GeneModel {
        let classes: Vec<String> = classes.iter().map(|class| (*class).to_owned()).collect();
        GeneModel::build("m", &classes, rules, book).unwrap()
    }

    fn crossed(
        mother: &Parent,
        father: &Parent,
        scored: Scored<'_>,
        age: Option<f64>,
    ) -> Expectation {
        let arrangement = independent(scored.model.loci());
        let breeding = Breeding {
            mother,
            father,
            descent: &Descent::first_cross(),
            arrangement: &arrangement,
            selection: &[],
        };
        expect(&breeding, &[scored], age).unwrap()
    }

    fn parent(book: &mut LocusBook, text: &str, model: &GeneModel) -> Parent {
        let genotype = Genotype::parse(text, book).unwrap();
        Parent::stated(&genotype, model.loci(), |_| Vec::new())
    }

    #[test]
    fn two_genes_both_needed_give_9_to_7() {
        let mut book = LocusBook::new();
        let model = model(
            &mut book,
            &["purple", "white"],
            &[("A/_ B/_", "purple"), ("else", "white")],
        );
        let plant = parent(&mut book, "A/a B/b", &model);
        let scored = Scored {
            model: &model,
            after: &[None, None],
            onset: None,
        };
        let found = crossed(&plant, &plant, scored, None);
        assert_eq!(found.ratio().unwrap(), "9:7");
        assert_eq!(found.classes[0].p, 0.5625);
        let white = parent(&mut book, "a/a b/b", &model);
        let found = crossed(&white, &white, scored, None);
        assert_eq!(found.ratio().unwrap(), "1");
        assert_eq!((found.classes[0].p, found.classes[0].parts), (0.0, Some(0)));
    }

    #[test]
    fn a_ratio_needs_genotypes_that_are_known_where_it_matters() {
        let mut book = LocusBook::new();
        let rules = [("a/a", "white"), ("B/_", "purple"), ("else", "red")];
        let model = model(&mut book, &["purple", "red", "white"], &rules);
        let scored = Scored {
            model: &model,
            after: &[None, None, None],
            onset: None,
        };
        let halves =
            |locus| crate::genetics::expect::founder_genotypes(&book.get(locus).shares(), 0.0);
        let open = |text: &str| {
            let genotype = Genotype::parse(text, &mut book.clone()).unwrap();
            Parent::stated(&genotype, model.loci(), halves)
        };
        let (white, purple) = (open("a/a"), open("A/A"));
        let found = |one: &Parent, other: &Parent| crossed(one, other, scored, None);
        assert_eq!(found(&white, &white).ratio().unwrap(), "1");
        assert_eq!(found(&white, &purple).ratio(), None);
        assert!((found(&white, &purple).classes[0].p - 0.75).abs() < 1e-12);
    }

    /// At the median age half of those that ever turn have turned, by the definition of a median.
    #[test]
    fn late_classes_come_with_age() {
        let mut book = LocusBook::new();
        let model = model(
            &mut book,
            &["purple", "green"],
            &[("A/_", "purple"), ("else", "green")],
        );
        let plant = parent(&mut book, "A/a", &model);
        let onset = Onset {
            median_days: 12.0,
            spread: 0.35,
            ceiling: 0.98,
        };
        let scored = Scored {
            model: &model,
            after: &[Some(1), None],
            onset: Some(onset),
        };
        let at = |age| crossed(&plant, &plant, scored, Some(age)).classes;
        assert!((at(12.0)[0].p - 0.75 * 0.49).abs() < 1e-12);
        assert!((at(12.0)[1].p - (0.25 + 0.75 * 0.51)).abs() < 1e-12);
        assert_eq!(
            (at(0.0)[0].p, at(0.0)[0].final_p, at(0.0)[0].parts),
            (0.0, 0.75, Some(3))
        );
        let sum: f64 = at(20.0).iter().map(|class| class.p).sum();
        assert!((sum - 1.0).abs() < 1e-12);
    }
}
