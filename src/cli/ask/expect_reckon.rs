//! The expectation that `expect` asks for, once everything is read: of the label, or of what is believed.

use crate::cli::failure::Failure;
use crate::diagnosis::expectation::{Expectation, Scored, expect, expect_of};
use crate::genetics::beliefs_apart::{Pair, apart};
use crate::genetics::descent::Descent;
use crate::genetics::expect::{Breeding, ExpectError, Parent, Shares, breed, steps_of};
use crate::genetics::linkage::{Arrangement, LinkageMap};
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::lots::{Lot, breed_lots};
use crate::genetics::mixing::Misread;
use crate::genetics::rule::GeneModel;
use crate::genetics::selection::Selection;
use crate::records::admit::Remedy;

use super::breeding::{Lie, add_typed, unsorted};
use super::conditions::{check_lives, dead_at};
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

/// The loci by chromosome, and as if those at an open distance were never parted.
struct Arranged {
    plain: Arrangement,
    tight: Option<Arrangement>,
}

/// Less of the whole than this makes no difference to any digit.
const LEAST_SHARE: f64 = 1e-15;

/// The most steps of working out the pairs that parents may be, all together.
const MOST_STEPS: f64 = 5e7;

impl ExpectArgs {
    /// The answer to a question.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be formed.
    pub(super) fn compute(&self, mut question: Question<'_>) -> Result<Computed, Failure> {
        let arranged = self.arranged(&mut question)?;
        let [(_, mother), (_, father)] = question.parents;
        for (who, plant) in question.parents {
            check_lives(who, plant, question.selection, question.book)?;
        }
        let answer = |arrangement: &_| {
            let found = self.of_stated(&question.breeding(mother, father, arrangement), &question);
            found.map_err(|error| self.conditions.unformed(&error))
        };
        let found = answer(&arranged.plain)?;
        let tight = arranged.tight.as_ref().map(answer).transpose()?;
        Ok(question.told(&arranged, [mother, father], found, tight))
    }

    /// The mean over what the parents may be together, being alive; how the loci lie is told of the likeliest pair.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be formed, or the pairs are too many.
    pub(super) fn compute_believed(
        &self,
        mut question: Question<'_>,
        pairs: Vec<Pair>,
    ) -> Result<Computed, Failure> {
        let arranged = self.arranged(&mut question)?;
        let pairs = self.living_pairs(&question, pairs)?;
        let likeliest = pairs.iter().max_by(|one, other| one.2.total_cmp(&other.2));
        let (mother, father, _) = likeliest.expect("a pair is left").clone();
        let pairs = apart(pairs);
        self.check_steps(&question, &arranged, &pairs)?;
        let answer = |arrangement: &_| {
            let found = self.of_believed(&question, &pairs, arrangement);
            found.map_err(|error| self.conditions.unformed(&error))
        };
        let found = answer(&arranged.plain)?;
        let tight = arranged.tight.as_ref().map(answer).transpose()?;
        Ok(question.told(&arranged, [&mother, &father], found, tight))
    }

    fn arranged(&self, question: &mut Question<'_>) -> Result<Arranged, Failure> {
        add_typed(&mut question.linkage, &self.recombines, question.book)?;
        let arranged = |tight| {
            let arrangement = question
                .linkage
                .arrange(question.loci, tight, question.book);
            arrangement.map_err(|error| unsorted(&error))
        };
        let plain = arranged(false)?;
        let tight = match plain.open.is_empty() {
            true => None,
            false => Some(arranged(true)?),
        };
        Ok(Arranged { plain, tight })
    }

    /// The expectation of what is stated.
    fn of_stated(
        &self,
        breeding: &Breeding<'_>,
        question: &Question<'_>,
    ) -> Result<Expectation, ExpectError> {
        if self.conditions.selfed().is_none() && question.misread.is_empty() {
            return expect(breeding, question.scored, self.age);
        }
        let shares = self.shares(breeding, &question.models())?;
        let written = shares.as_written(question.misread);
        Ok(expect_of(written, question.scored, self.age))
    }

    /// The mean of what each pair of parents gives.
    fn of_believed(
        &self,
        question: &Question<'_>,
        pairs: &[Pair],
        arrangement: &Arrangement,
    ) -> Result<Expectation, ExpectError> {
        let models = question.models();
        let mut each = Vec::with_capacity(pairs.len());
        for (mother, father, p) in pairs {
            match self.shares(&question.breeding(mother, father, arrangement), &models) {
                Ok(shares) => each.push((*p, shares)),
                Err(ExpectError::NoneLive) => {}
                Err(error) => return Err(error),
            }
        }
        let mean = Shares::mean(&each).ok_or(ExpectError::NoneLive)?;
        let written = mean.as_written(question.misread);
        Ok(expect_of(written, question.scored, self.age))
    }

    /// The shares of the living seedlings, of the seed as it is mixed.
    fn shares(
        &self,
        breeding: &Breeding<'_>,
        models: &[&GeneModel],
    ) -> Result<Shares, ExpectError> {
        let Some(part) = self.conditions.selfed() else {
            return breed(breeding, models);
        };
        let selfs = self.conditions.seen(Descent::self_of_mother());
        let lots = [
            Lot {
                part,
                descent: &selfs,
            },
            Lot {
                part: part.rest(),
                descent: breeding.descent,
            },
        ];
        breed_lots(breeding, &lots, models)
    }

    /// The pairs of which both live, without those that make no difference; each once where the father has no part.
    fn living_pairs(
        &self,
        question: &Question<'_>,
        pairs: Vec<Pair>,
    ) -> Result<Vec<Pair>, Failure> {
        let lives = |plant: &Parent| dead_at(plant, question.selection).is_none();
        let has_any = !pairs.is_empty();
        let mut pairs = pairs;
        pairs.retain(|(mother, father, _)| lives(mother) && lives(father));
        let total: f64 = pairs.iter().map(|(.., p)| p).sum();
        pairs.retain(|(.., p)| *p > LEAST_SHARE * total);
        if pairs.is_empty() && has_any {
            let [(mother, _), (father, _)] = question.parents;
            return Err(Failure::refused(format!(
                "by everything recorded {mother} or {father} is of a genotype that --lethal says does not live"
            ))
            .try_remedy(Remedy::Without("--lethal")));
        }
        if !question.descent.names_father() {
            pairs.dedup_by(|later, first| {
                let same = later.0 == first.0;
                if same {
                    first.2 += later.2;
                }
                same
            });
        }
        Ok(pairs)
    }

    /// Refuses more pairs than are worked out in a little while.
    fn check_steps(
        &self,
        question: &Question<'_>,
        arranged: &Arranged,
        pairs: &[Pair],
    ) -> Result<(), Failure> {
        let of_one = |(mother, father, _): &Pair| {
            steps_of(&question.breeding(mother, father, &arranged.plain))
        };
        let all: Result<f64, ExpectError> = pairs.iter().map(of_one).sum();
        let all = all.map_err(|error| self.conditions.unformed(&error))?;
        if all <= MOST_STEPS {
            return Ok(());
        }
        Err(Failure::refused(format!(
            "--believed: the parents may be {} different pairs of genotypes, about {} million steps of work; up to {} million are",
            pairs.len(),
            (all / 1e6).ceil(),
            MOST_STEPS / 1e6
        ))
        .because("every gene that the traits read multiplies them; ask of one trait at a time")
        .try_remedy(Remedy::Without("--believed")))
    }
}

impl Question<'_> {
    fn models(&self) -> Vec<&GeneModel> {
        self.scored.iter().map(|scored| scored.model).collect()
    }

    fn breeding<'b>(
        &'b self,
        mother: &'b Parent,
        father: &'b Parent,
        arrangement: &'b Arrangement,
    ) -> Breeding<'b> {
        Breeding {
            mother,
            father,
            descent: &self.descent,
            arrangement,
            selection: self.selection,
        }
    }

    /// What was found, with how the loci of two plants lie.
    fn told(
        &self,
        arranged: &Arranged,
        plants: [&Parent; 2],
        found: Expectation,
        tight: Option<Expectation>,
    ) -> Computed {
        let tight = tight.filter(|tight| !tight.is_like(&found));
        let [(mother, _), (father, _)] = self.parents;
        let both = [(mother, plants[0]), (father, plants[1])];
        let named = match &self.descent {
            Descent::Selfed(plant) if **plant == Descent::Mother => &both[..1],
            _ => &both[..],
        };
        let mut lie = Lie::of(&arranged.plain, named, self.book);
        if let (None, Some(never)) = (&tight, &arranged.tight) {
            // Never parted gives the same where no parent is open at both, or where either phase is as likely.
            lie.phase_open = Lie::of(never, named, self.book).phase_open;
            if lie.phase_open.is_empty() {
                lie.distance_open.clear();
            }
        }
        (found, tight, lie)
    }
}
