//! The conditions of an expectation as typed: what dies, what is bred from, whose seed it is, what is misread.
//!
//! Called by `expect`.

use std::str::FromStr;

use clap::Args;

use crate::cli::failure::Failure;
use crate::genetics::descent::{Descent, Generation};
use crate::genetics::expect::{ExpectError, Parent};
use crate::genetics::fraction::Fraction;
use crate::genetics::genotype::Diploid;
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::mixing::Misread;
use crate::genetics::notation::Genotype;
use crate::genetics::segregation::AtLocus;
use crate::genetics::selection::Selection;
use crate::records::admit::Remedy;
use crate::records::code::fold;
use crate::records::near::nearest;
use crate::report::conditions::{Conditions, MisreadLine, WeakAllele};
use crate::report::text::{listed, shown};

use super::breeding::unexpected;
use super::stated::bad_genotype;

/// Conditions, as flags.
#[derive(Debug, Default, Args)]
pub struct ConditionArgs {
    /// A genotype that does not live, such as l/l: its seedlings are never seen; again for each
    #[arg(long, value_name = "GENOTYPE")]
    lethal: Vec<String>,
    /// Only plants of this genotype were bred from on the way, such as A/_ in a backcross; with --generation
    #[arg(long, value_name = "GENOTYPE", requires = "generation")]
    kept: Vec<String>,
    /// Pollen with this allele fertilises so often for once that other pollen of the plant does: a=0.5, a=0 for never
    #[arg(long = "weak-pollen", value_name = "ALLELE=SHARE")]
    weak_pollen: Vec<Weak>,
    /// So much of the seed is the mother's own, set by her own pollen: 0.3
    #[arg(long, value_name = "SHARE", allow_negative_numbers = true)]
    selfed: Option<Fraction>,
    /// How often one class is written down as another: purple,green=0.05; again for each pair
    #[arg(long, value_name = "CLASS,CLASS=SHARE", conflicts_with = "age")]
    misread: Vec<Mistaken>,
    /// The look is that of the plant that bears the seed, as in pods and seed coats
    #[arg(long)]
    maternal: bool,
}

/// An allele and how often its pollen fertilises.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Weak {
    allele: String,
    share: Fraction,
}

impl FromStr for Weak {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (allele, share) = text
            .split_once('=')
            .ok_or("write an allele and a share, a=0.5")?;
        Ok(Self {
            allele: allele.trim().to_owned(),
            share: Fraction::parse(share).map_err(|error| error.to_string())?,
        })
    }
}

/// Two classes and how often the first is written down as the second.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Mistaken {
    shown: String,
    written: String,
    share: Fraction,
}

impl FromStr for Mistaken {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let form = || {
            "write the class that is there, the class written down, and how often: purple,green=0.05".to_owned()
        };
        let (pair, share) = text.split_once('=').ok_or_else(form)?;
        let (shown, written) = pair.split_once(',').ok_or_else(form)?;
        let (shown, written) = (shown.trim().to_owned(), written.trim().to_owned());
        if shown.is_empty() || written.is_empty() || fold(&shown) == fold(&written) {
            return Err(form());
        }
        let share = Fraction::parse(share).map_err(|error| error.to_string())?;
        Ok(Self {
            shown,
            written,
            share,
        })
    }
}

impl ConditionArgs {
    /// Refuses conditions that say nothing of the generation asked about.
    ///
    /// # Errors
    /// [`Failure`] naming the flag.
    pub fn check(&self, generation: Option<Generation>) -> Result<(), Failure> {
        let refuse = |flag: &'static str, why: String| {
            Err(Failure::usage(why).try_remedy(Remedy::Without(flag)))
        };
        let Some(generation) = generation else {
            return Ok(());
        };
        if !self.kept.is_empty() && !generation.is_bred_on() {
            return refuse(
                "--kept",
                format!(
                    "--kept says nothing of {generation}: no plant of it was bred from on the way"
                ),
            );
        }
        if self.selfed.is_some() && generation.is_bred_on() {
            return refuse(
                "--selfed",
                format!(
                    "--selfed is the share of selfs in the first cross, and {generation} goes beyond it"
                ),
            );
        }
        if self.maternal && generation.is_doubled() {
            return refuse(
                "--maternal",
                format!("no plant bears {generation}: they grow from pollen"),
            );
        }
        Ok(())
    }

    /// What keeps genotypes and pollen from having their share.
    ///
    /// # Errors
    /// [`Failure`] where a genotype or allele cannot be read.
    pub fn selection(&self, book: &mut LocusBook) -> Result<Vec<Selection>, Failure> {
        let mut found = Vec::new();
        for text in &self.lethal {
            found.extend(lethal(text, book)?);
        }
        for text in &self.kept {
            let genotype = Genotype::parse(text, book)
                .map_err(|error| bad_genotype("--kept", text, &error))?;
            for stated in &genotype.loci {
                let all = Diploid::all(book.get(stated.locus).alleles.len()).into_iter();
                let others = all.filter(|pair| !stated.matches(*pair));
                found.extend(others.map(|pair| Selection::Dropped(stated.locus, pair)));
            }
        }
        found.extend(self.pollen(book)?);
        Ok(found)
    }

    fn pollen(&self, book: &LocusBook) -> Result<Vec<Selection>, Failure> {
        let mut by_locus: Vec<(LocusIx, Vec<Fraction>)> = Vec::new();
        let mut named: Vec<(LocusIx, u8)> = Vec::new();
        for Weak { allele, share } in &self.weak_pollen {
            let (locus, place) = book.locus_of_allele(allele).ok_or_else(|| {
                let known = book.iter().flat_map(|(_, locus)| &locus.alleles);
                let near = nearest(allele, known.map(String::as_str));
                let failure = Failure::refused(format!(
                    "--weak-pollen: there is no allele '{}'",
                    shown(allele)
                ));
                let failure = match near.is_empty() {
                    true => failure,
                    false => failure.because(format!("the nearest: {}", near.join(", "))),
                };
                failure.try_remedy(Remedy::Without("--weak-pollen"))
            })?;
            let at = match by_locus.iter().position(|(known, _)| *known == locus) {
                Some(at) => at,
                None => {
                    let strong = vec![Fraction::ONE; book.get(locus).alleles.len()];
                    by_locus.push((locus, strong));
                    by_locus.len() - 1
                }
            };
            if named.contains(&(locus, place)) {
                let failure = Failure::usage(format!(
                    "--weak-pollen names the allele {allele} more than once"
                ));
                return Err(match self.weak_pollen.len() {
                    2 => failure.try_flag("--weak-pollen", format!("{allele}={share}")),
                    _ => failure.try_remedy(Remedy::Without("--weak-pollen")),
                });
            }
            named.push((locus, place));
            by_locus[at].1[usize::from(place)] = *share;
        }
        let pollen = by_locus.into_iter();
        Ok(pollen
            .map(|(locus, shares)| Selection::Pollen(locus, shares))
            .collect())
    }

    /// The misreadings by the traits' classes.
    ///
    /// # Errors
    /// [`Failure`] where a class is not known, belongs to several traits, or is misread more than always.
    pub fn misread(&self, traits: &[(String, Vec<String>)]) -> Result<Vec<Misread>, Failure> {
        let mut found: Vec<Misread> = Vec::new();
        for Mistaken {
            shown: class,
            written,
            share,
        } in &self.misread
        {
            let place = |classes: &[String], word: &str| {
                classes.iter().position(|known| fold(known) == fold(word))
            };
            let both = |(of, (_, classes)): (usize, &(String, Vec<String>))| {
                Some((of, place(classes, class)?, place(classes, written)?))
            };
            let hits: Vec<_> = traits.iter().enumerate().filter_map(both).collect();
            let [(of, shown, written)] = hits[..] else {
                return Err(self.unclear(class, written, hits.len(), traits));
            };
            found.push(Misread {
                of,
                shown,
                written,
                share: *share,
            });
        }
        for one in &found {
            let same = found
                .iter()
                .filter(|m| m.of == one.of && m.shown == one.shown);
            let all: f64 = same.map(|m| m.share.value()).sum();
            if all > 1.0 + 1e-12 {
                let class = &traits[one.of].1[one.shown];
                return Err(Failure::usage(format!(
                    "--misread takes {} for something else in more than all cases",
                    shown(class)
                ))
                .try_remedy(Remedy::Without("--misread")));
            }
        }
        Ok(found)
    }

    fn unclear(
        &self,
        class: &str,
        written: &str,
        hits: usize,
        traits: &[(String, Vec<String>)],
    ) -> Failure {
        let (class, written) = (shown(class), shown(written));
        let why = match hits {
            0 => format!(
                "--misread: no trait asked about has both classes, '{class}' and '{written}'"
            ),
            _ => format!("--misread: '{class}' and '{written}' are classes of several traits"),
        };
        let classes = traits
            .iter()
            .map(|(name, classes)| format!("{name} has {}", listed(classes, "and")));
        let classes: Vec<String> = classes.collect();
        Failure::refused(why)
            .because(classes.join("; "))
            .try_remedy(Remedy::Without("--misread"))
    }

    /// The share of selfed seed.
    #[must_use]
    pub const fn selfed(&self) -> Option<Fraction> {
        self.selfed
    }

    /// The descent of the plants looked at: the seedlings, or for a maternal look the plants that bear them.
    #[must_use]
    pub fn seen(&self, descent: Descent) -> Descent {
        match descent {
            Descent::Cross(bearer, _) | Descent::Selfed(bearer) if self.maternal => *bearer,
            other => other,
        }
    }

    /// An expectation that cannot be formed, with the condition to leave out.
    #[must_use]
    pub fn unformed(&self, error: &ExpectError) -> Failure {
        let failure = unexpected(error);
        match error {
            ExpectError::NoneLive if !self.kept.is_empty() => {
                let kept = self.kept.join(" and ");
                Failure::refused(format!(
                    "in one generation on the way no plant is {kept}, so none can be bred from"
                ))
                .try_remedy(Remedy::Without("--kept"))
            }
            ExpectError::NoneLive if self.lethal.is_empty() => {
                let never = self.weak_pollen.iter().map(|weak| weak.allele.as_str());
                let never = never.collect::<Vec<_>>().join(" or ");
                Failure::refused("this cross sets no seed")
                    .because(format!("pollen with {never} never fertilises, so a plant that has no other cannot be the father"))
                    .try_remedy(Remedy::Without("--weak-pollen"))
            }
            _ => failure,
        }
    }

    /// What the answer says of them.
    #[must_use]
    pub fn said(&self, generation: Option<Generation>, mother: &str) -> Conditions {
        let weak = |weak: &Weak| WeakAllele {
            allele: weak.allele.clone(),
            share: weak.share.value(),
        };
        let misread = |m: &Mistaken| MisreadLine {
            shown: m.shown.clone(),
            written: m.written.clone(),
            share: m.share.value(),
        };
        let bearer = generation.and_then(Generation::before);
        let bearer = bearer.map_or_else(|| mother.to_owned(), |plants| format!("{plants} plants"));
        Conditions {
            lethal: self.lethal.clone(),
            kept: self.kept.clone(),
            weak_pollen: self.weak_pollen.iter().map(weak).collect(),
            selfed: self.selfed.map(Fraction::value),
            misread: self.misread.iter().map(misread).collect(),
            maternal: self.maternal,
            borne_by: self.maternal.then_some(bearer),
        }
    }
}

/// The genotypes that die, as typed, at one locus.
fn lethal(text: &str, book: &mut LocusBook) -> Result<Vec<Selection>, Failure> {
    let genotype =
        Genotype::parse(text, book).map_err(|error| bad_genotype("--lethal", text, &error))?;
    let [stated] = genotype.loci[..] else {
        return Err(Failure::usage(format!(
            "--lethal '{}' names {} loci; a genotype that dies is named at one",
            shown(text),
            genotype.loci.len()
        ))
        .try_flag("--lethal", genotype.loci[0].written(book)));
    };
    let pairs = stated.compatible(book).into_iter();
    Ok(pairs
        .map(|pair| Selection::Dies(stated.locus, pair))
        .collect())
}

/// Refuses a parent of a genotype that dies.
///
/// # Errors
/// [`Failure`] naming it.
pub fn check_lives(
    who: &str,
    plant: &Parent,
    selection: &[Selection],
    book: &LocusBook,
) -> Result<(), Failure> {
    match dead_at(plant, selection) {
        Some((locus, pair)) => Err(Failure::refused(format!(
            "{who} is {}, which --lethal says does not live",
            pair.written(book.get(locus))
        ))
        .try_remedy(Remedy::Without("--lethal"))),
        None => Ok(()),
    }
}

/// The genotype that a plant is known to have and that dies, where there is one.
#[must_use]
pub fn dead_at(plant: &Parent, selection: &[Selection]) -> Option<(LocusIx, Diploid)> {
    let known = |locus: LocusIx| plant.at(locus).and_then(AtLocus::known);
    selection.iter().find_map(|one| match one {
        Selection::Dies(locus, pair) if known(*locus) == Some(*pair) => Some((*locus, *pair)),
        _ => None,
    })
}
