//! The expectation that `expect` asks for, once everything is read: of the label, or of what is believed.

use crate::cli::failure::Failure;
use crate::diagnosis::expectation::{Expectation, Scored, expect, expect_of};
use crate::genetics::descent::Descent;
use crate::genetics::expect::{Breeding, ExpectError, Parent, breed};
use crate::genetics::linkage::LinkageMap;
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::mixing::Misread;
use crate::genetics::rule::GeneModel;
use crate::genetics::selection::Selection;

use super::breeding::{Lie, add_typed, unsorted};
use super::conditions::check_lives;
use super::expect::ExpectArgs;

/// What an expectation is asked of: two plants with their names, the traits and how the loci lie.
pub(super) struct Question<'q> {
    /// The two plants.
    pub(super) parents: [(&'q str, &'q Parent); 2],
    /// The traits.
    pub(super) scored: &'q [Scored<'q>],
    /// The loci carried.
    pub(super) loci: &'q [LocusIx],
    /// All loci.
    pub(super) book: &'q LocusBook,
    /// How they lie.
    pub(super) linkage: LinkageMap,
    /// From the plants to what is looked at.
    pub(super) descent: Descent,
    /// What keeps genotypes and pollen from having their share.
    pub(super) selection: &'q [Selection],
    /// What is written down wrongly.
    pub(super) misread: &'q [Misread],
}

/// The expectation, that of the tight-linkage what-if where a distance is open, and how the loci lie.
pub(super) type Computed = (Expectation, Option<Expectation>, Lie);

impl ExpectArgs {
    /// The answer to a question.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be formed.
    pub(super) fn compute(&self, mut question: Question<'_>) -> Result<Computed, Failure> {
        add_typed(&mut question.linkage, &self.recombines, question.book)?;
        let (book, descent) = (question.book, &question.descent);
        let [(_, mother), (_, father)] = question.parents;
        for (who, plant) in question.parents {
            check_lives(who, plant, question.selection, book)?;
        }
        let arranged = |tight| {
            let arrangement = question.linkage.arrange(question.loci, tight, book);
            arrangement.map_err(|error| unsorted(&error))
        };
        let answer = |arrangement: &_| {
            let breeding = Breeding {
                mother,
                father,
                descent,
                arrangement,
                selection: question.selection,
            };
            let found = self.counted(&breeding, &question);
            found.map_err(|error| self.conditions.unformed(&error))
        };
        let arrangement = arranged(false)?;
        let found = answer(&arrangement)?;
        let tight = match arrangement.open.is_empty() {
            true => None,
            false => Some(answer(&arranged(true)?)?).filter(|tight| !tight.is_like(&found)),
        };
        let named = match descent {
            Descent::Selfed(plant) if **plant == Descent::Mother => &question.parents[..1],
            _ => &question.parents[..],
        };
        let mut lie = Lie::of(&arrangement, named, book);
        if tight.is_none() && !lie.distance_open.is_empty() {
            // Never parted gives the same where no parent is open at both, or where either phase is as likely.
            lie.phase_open = Lie::of(&arranged(true)?, named, book).phase_open;
            if lie.phase_open.is_empty() {
                lie.distance_open.clear();
            }
        }
        Ok((found, tight, lie))
    }

    /// The shares that are counted: of the seed as it is mixed, in the classes as they are written down.
    fn counted(
        &self,
        breeding: &Breeding<'_>,
        question: &Question<'_>,
    ) -> Result<Expectation, ExpectError> {
        if self.conditions.selfed().is_none() && question.misread.is_empty() {
            return expect(breeding, question.scored, self.age);
        }
        let models: Vec<&GeneModel> = question.scored.iter().map(|scored| scored.model).collect();
        let mut shares = breed(breeding, &models)?;
        if let Some(part) = self.conditions.selfed() {
            let descent = self.conditions.seen(Descent::self_of_mother());
            let selfs = Breeding {
                descent: &descent,
                ..*breeding
            };
            shares = breed(&selfs, &models)?.mixed(part, &shares);
        }
        Ok(expect_of(
            shares.as_written(question.misread),
            question.scored,
            self.age,
        ))
    }

    /// The mean over what the parents may be together; how the loci lie is told of the likeliest pair.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be formed.
    pub(super) fn compute_believed(
        &self,
        word: &Question<'_>,
        pairs: &[(Parent, Parent, f64)],
    ) -> Result<Computed, Failure> {
        let [(mother_name, _), (father_name, _)] = word.parents;
        let (mut found, mut tight, mut lies) = (Vec::new(), Vec::new(), Vec::new());
        for (mother, father, p) in pairs {
            let (expectation, if_tight, lie) = self.compute(Question {
                parents: [(mother_name, mother), (father_name, father)],
                linkage: word.linkage.clone(),
                descent: word.descent.clone(),
                ..*word
            })?;
            tight.push((*p, if_tight.unwrap_or_else(|| expectation.clone())));
            found.push((*p, expectation));
            lies.push((*p, lie));
        }
        let (found, tight) = (Expectation::mean(&found), Expectation::mean(&tight));
        let likeliest = lies
            .into_iter()
            .max_by(|one, other| one.0.total_cmp(&other.0));
        let (_, lie) = likeliest.expect("something explains what is recorded");
        let tight = Some(tight).filter(|tight| !tight.is_like(&found));
        Ok((found, tight, lie))
    }
}
