//! Is it stable yet: whether a plant still splits for a trait, by what its own selfed offspring look like.
//!
//! Every genotype that the plant may have at the trait's loci is a candidate, weighed by everything that is known of the
//! plant but for its own selfed seed, and by the offspring of that seed and of its packets. Seedlings are taken
//! to be its own: what pollen may have gone astray is the business of `suspects`. Pace is the usual one.

use std::collections::HashSet;

use super::batch::BatchModel;
use super::belief::{Beliefs, in_two_threads};
use super::context::Context;
use super::dates::Emergence;
use super::evidence::{Member, Telling, newest_of, telling_readings};
use super::expectation::{Scored, expect};
use super::genotypes::{GenotypeError, at_loci};
use super::kin::Asked;
use super::looks::Look;
use super::posterior::Rules;
use super::related::related_batches;
use super::space::Space;
use crate::genetics::descent::Descent;
use crate::genetics::expect::{Breeding, ExpectError, Parent};
use crate::genetics::progeny::{Candidate, chance_of_splitting, more_needed};
use crate::records::descent::label_parents;
use crate::records::rows::BatchRow;
use crate::stats::logs::normal_cdf;

/// The most genotypes of a plant that are weighed.
pub const MOST_GENOTYPES: usize = 5_000;

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum StableError {
    /// Too many genotypes.
    #[error(
        "{0} genotypes would have to be weighed at the loci of this trait; {MOST_GENOTYPES} at most are"
    )]
    TooMany(usize),
    /// A model reads a locus that is not carried.
    #[error(transparent)]
    Expect(#[from] ExpectError),
    /// What is known of the plant cannot be told.
    #[error(transparent)]
    Genotype(#[from] GenotypeError),
}

/// Whether a plant still splits for a trait.
#[derive(Debug, Clone, PartialEq)]
pub struct Stability {
    /// The class that further offspring are taken to show, as a place among the trait's.
    pub class: usize,
    /// Its selfed offspring of each class.
    pub offspring: Vec<u64>,
    /// The codes of the trays they stand in, by number.
    pub trays: Vec<i64>,
    /// P(it splits) by everything but these offspring; nothing where no genotype explains that.
    pub before: Option<f64>,
    /// P(it splits) now; nothing where no genotype could have given what was seen.
    pub splits: Option<f64>,
    /// How many more, all of the class, until it is stable with 95 % and with 99 %; nothing where none would do, as
    /// where it is known to split with 95 % by an offspring of another class.
    pub more: [Option<u64>; 2],
}

/// The confidences that [`Stability::more`] answers for.
pub const CONFIDENCES: [f64; 2] = [0.95, 0.99];

/// Whether a plant still splits for a trait.
///
/// # Errors
/// [`StableError`]: too many genotypes to weigh, or a model that reads what is not carried.
pub fn stability(
    context: &Context<'_>,
    plant: i64,
    place: usize,
) -> Result<Stability, StableError> {
    let look = &context.looks.traits[place];
    let (seen, trays) = selfed_offspring(context, plant, place);
    let mut offspring = vec![0; look.classes.len()];
    for one in &seen {
        offspring[one.class] += one.count;
    }
    let candidates = candidates(context, plant, place)?;
    let class = class_expected(&offspring, own_class(context, plant, place), &candidates);
    let with = |seen: &[SeenLook]| -> Vec<Candidate> {
        candidates
            .iter()
            .map(|one| Candidate {
                prior: one.prior,
                splits: one.gives.iter().filter(|p| **p > 0.0).count() > 1,
                seen: seen.iter().map(|seen| seen.log_chance(&one.gives)).sum(),
                alike: chance_shown(look, &one.gives, class),
            })
            .collect()
    };
    let now = with(&seen);
    let splits = chance_of_splitting(&now, 0);
    // No number of further offspring takes back one that tells of another class.
    let is_settled = splits.is_some_and(|p| p >= CONFIDENCES[0])
        && seen.iter().any(|one| one.tells_against(class));
    Ok(Stability {
        class,
        offspring,
        trays,
        before: chance_of_splitting(&with(&[]), 0),
        splits,
        more: CONFIDENCES.map(|confidence| match is_settled {
            true => None,
            false => more_needed(&now, confidence),
        }),
    })
}

/// The trays of a plant's own selfed seed and packets.
pub fn selfed_batches<'a>(context: &Context<'a>, plant: i64) -> impl Iterator<Item = &'a BatchRow> {
    let facts = context.index.facts;
    let own = move |batch: &&BatchRow| label_parents(facts, batch) == Some((plant, plant));
    facts.batch.iter().filter(own)
}

/// One genotype that the plant may have.
struct Genotyped {
    /// Its probability by everything but the plant's own selfed seed.
    prior: f64,
    /// The class it shows itself.
    class: usize,
    /// P(an offspring ends in each class).
    gives: Vec<f64>,
}

fn candidates(
    context: &Context<'_>,
    plant: i64,
    place: usize,
) -> Result<Vec<Genotyped>, StableError> {
    let look = &context.looks.traits[place];
    let loci = look.model.loci();
    let looks = context.looks;
    let context = &Context::asking(looks, context.index, context.beliefs, loci)
        .map_err(GenotypeError::from)?;
    let space = context.groups().space(loci);
    if space.size > MOST_GENOTYPES {
        return Err(StableError::TooMany(space.size));
    }
    let known = known_without_its_seed(context, plant, &space)?;
    let cytoplasm = context.plants.cytoplasm(plant);
    let after: Vec<Option<usize>> = look.classes.iter().map(|class| class.after).collect();
    let scored = Scored {
        model: &look.model,
        after: &after,
        onset: None,
    };
    let arrangement = looks
        .linkage
        .arrange(loci, false, &looks.book)
        .map_err(ExpectError::from)?;
    let mut found = Vec::with_capacity(space.size);
    for (joint, prior) in known.into_iter().enumerate().filter(|(_, p)| *p > 0.0) {
        let parent = Parent {
            loci: loci.iter().copied().zip(at_loci(&space, joint)).collect(),
            cytoplasm,
        };
        let mut gives = vec![0.0; look.classes.len()];
        let breeding = Breeding {
            mother: &parent,
            father: &parent,
            descent: &Descent::self_of_mother(),
            arrangement: &arrangement,
            selection: &[],
        };
        for class in expect(&breeding, &[scored], None)?.classes {
            gives[class.classes[0]] += class.final_p;
        }
        found.push(Genotyped {
            prior,
            class: look.model.class_of(&space.genotype(joint), cytoplasm),
            gives,
        });
    }
    Ok(found)
}

/// P(joint genotype of a plant) by everything recorded but the trays of its own selfed seed, which are weighed apart.
fn known_without_its_seed(
    context: &Context<'_>,
    plant: i64,
    space: &Space,
) -> Result<Vec<f64>, GenotypeError> {
    let own: HashSet<i64> = selfed_batches(context, plant).map(|row| row.id).collect();
    let rows = related_batches(context, [plant], own);
    let models = in_two_threads(&rows, |row| BatchModel::new(context, row));
    let asked = Asked {
        plants: vec![plant],
        loci: space.loci.clone(),
    };
    let beliefs = Beliefs::new(context, &models, &Rules::default(), &asked);
    let joint = beliefs.joint_of(plant, &space.loci);
    joint.map_err(|size| GenotypeError::too_large(context, &models, &beliefs, size))
}

/// P(an offspring is written down as a class in the end).
fn chance_shown(look: &Look, gives: &[f64], read: usize) -> f64 {
    let of_class = |(ends, p): (usize, &f64)| p * look.reading_chance(ends, read, None);
    gives.iter().enumerate().map(of_class).sum()
}

/// Offspring of one look and age.
struct SeenLook {
    class: usize,
    count: u64,
    /// For each class it may end in, P(it is written down like this now).
    chances: Vec<f64>,
}

impl SeenLook {
    /// Whether it can hardly end in that class: neither misread, nor doubted, nor too young to have turned.
    fn tells_against(&self, class: usize) -> bool {
        self.class != class
            && self.chances[class] <= (1.0 - CONFIDENCES[0]) * self.chances[self.class]
    }

    fn log_chance(&self, gives: &[f64]) -> f64 {
        let p: f64 = gives
            .iter()
            .zip(&self.chances)
            .map(|(p, chance)| p * chance)
            .sum();
        self.count as f64 * p.ln()
    }
}

fn selfed_offspring(context: &Context<'_>, plant: i64, place: usize) -> (Vec<SeenLook>, Vec<i64>) {
    let look = &context.looks.traits[place];
    let (mut seen, mut trays) = (Vec::new(), Vec::new());
    for batch in selfed_batches(context, plant) {
        let evidence = context.gather(batch, plant);
        let read = |member: &Member| {
            let reading = member.newest_of(place)?;
            Some(SeenLook {
                class: reading.class,
                count: member.count.unsigned_abs(),
                chances: (0..look.classes.len())
                    .map(|ends| {
                        chance_at(
                            look,
                            ends,
                            reading,
                            context.beliefs.doubtful,
                            &member.emergence,
                        )
                    })
                    .collect(),
            })
        };
        let before = seen.len();
        seen.extend(evidence.members.iter().filter_map(read));
        if seen.len() > before {
            trays.push(batch.id);
        }
    }
    (seen, trays)
}

/// P(a plant that ends in a class is written down as another on a day): before the onset of a late class it shows the
/// earlier one; `c Phi(ln(t/median)/spread)` have turned by the age t.
fn chance_at(
    look: &Look,
    ends: usize,
    reading: &Telling,
    doubtful: f64,
    emergence: &Emergence,
) -> f64 {
    let day = reading.day;
    let shown = |class| look.telling_chance(class, reading, doubtful);
    let (Some(early), Some(onset)) = (look.classes[ends].after, look.onset) else {
        return shown(ends);
    };
    let turned_at = |age: i64| match age {
        ..=0 => 0.0,
        age => onset.ceiling * normal_cdf((age as f64 / onset.median_days).ln() / onset.spread),
    };
    let turned: f64 = emergence
        .iter()
        .map(|(up, weight)| weight * turned_at(day.since(*up)))
        .sum();
    turned * shown(ends) + (1.0 - turned) * shown(early)
}

/// The class that a plant was read as last.
fn own_class(context: &Context<'_>, plant: i64, place: usize) -> Option<usize> {
    let readings = telling_readings(context.looks, context.index.readings_of(plant));
    newest_of(&readings, place).map(|reading| reading.class)
}

/// What further offspring are taken to show: the class of most offspring, else its own, else the likeliest.
fn class_expected(offspring: &[u64], own: Option<usize>, candidates: &[Genotyped]) -> usize {
    let mut likely = vec![0.0; offspring.len()];
    for one in candidates {
        likely[one.class] += one.prior;
    }
    let rank = |class: &usize| {
        (
            offspring[*class] as f64,
            f64::from(u8::from(own == Some(*class))),
            likely[*class],
        )
    };
    (0..offspring.len())
        .max_by(|one, other| {
            rank(one)
                .partial_cmp(&rank(other))
                .expect("counts and weights are numbers")
                .then(other.cmp(one))
        })
        .unwrap_or(0)
}
