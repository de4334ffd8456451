//! Is it stable yet: whether a plant still splits for a trait, by what its own selfed offspring look like.
//!
//! Every genotype that the plant may have at the trait's loci is a candidate, weighed by what is known of it (its
//! statement, its parents, its own look) and by the offspring of its selfed seed and packets. Seedlings are taken
//! to be its own: what pollen may have gone astray is the business of `suspects`. Pace is the usual one.

use super::context::Context;
use super::dates::Emergence;
use super::evidence::{Member, Telling, newest_of, telling_readings};
use super::expectation::{Scored, expect};
use super::looks::Look;
use crate::genetics::descent::Descent;
use crate::genetics::expect::{Breeding, ExpectError, Parent};
use crate::genetics::genotype::Diploid;
use crate::genetics::progeny::{Candidate, chance_of_splitting, more_needed};
use crate::genetics::segregation::AtLocus;
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
    /// P(it splits) before its offspring were looked at; nothing where its own look fits no genotype.
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
    let own = own_look(context, plant, place);
    let candidates = candidates(context, plant, place)?;
    let weighed: Vec<(f64, &Genotyped)> = candidates
        .iter()
        .map(|one| {
            (
                one.prior
                    * own
                        .as_ref()
                        .map_or(1.0, |own| own.chance(context, look, one.class)),
                one,
            )
        })
        .collect();
    let class = class_expected(&offspring, own.as_ref(), &weighed);
    let with = |seen: &[SeenLook]| -> Vec<Candidate> {
        weighed
            .iter()
            .map(|(prior, one)| Candidate {
                prior: *prior,
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
    let pairs: Vec<Vec<Diploid>> = look
        .model
        .allele_counts()
        .iter()
        .map(|alleles| Diploid::all(*alleles))
        .collect();
    let size = pairs
        .iter()
        .fold(1_usize, |size, of| size.saturating_mul(of.len()));
    if size > MOST_GENOTYPES {
        return Err(StableError::TooMany(size));
    }
    let priors: Vec<Vec<f64>> = loci
        .iter()
        .map(|locus| context.plants.first_factor(plant, *locus))
        .collect();
    let cytoplasm = context.plants.cytoplasm(plant);
    let after: Vec<Option<usize>> = look.classes.iter().map(|class| class.after).collect();
    let scored = Scored {
        model: &look.model,
        after: &after,
        onset: None,
    };
    let looks = context.looks;
    let arrangement = looks
        .linkage
        .arrange(loci, false, &looks.book)
        .map_err(ExpectError::from)?;
    let mut found = Vec::with_capacity(size);
    for number in 0..size {
        let mut rest = number;
        let mut genotype = Vec::with_capacity(loci.len());
        let mut prior = 1.0;
        for (of, weights) in pairs.iter().zip(&priors) {
            let at = rest % of.len();
            rest /= of.len();
            genotype.push(of[at]);
            prior *= weights[at];
        }
        if prior <= 0.0 {
            continue;
        }
        let known = loci
            .iter()
            .copied()
            .zip(genotype.iter().map(|pair| AtLocus::Known(*pair)));
        let parent = Parent {
            loci: known.collect(),
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
            class: look.model.class_of(&genotype, cytoplasm),
            gives,
        });
    }
    Ok(found)
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

/// What the plant itself looks like.
struct OwnLook {
    class: usize,
    reading: Telling,
    /// Whether it may yet turn into a later class.
    may_turn: bool,
}

impl OwnLook {
    fn chance(&self, context: &Context<'_>, look: &Look, ends: usize) -> f64 {
        let doubtful = context.beliefs.doubtful;
        let turns = self.may_turn && look.classes[ends].after == Some(self.class);
        if turns {
            look.telling_chance(self.class, &self.reading, doubtful)
        } else {
            look.telling_chance(ends, &self.reading, doubtful)
        }
    }
}

/// Its newest reading; as a seedling it may have been read before it turned, and then that says nothing of it.
fn own_look(context: &Context<'_>, plant: i64, place: usize) -> Option<OwnLook> {
    let readings = telling_readings(context.looks, context.index.readings_of(plant));
    let reading = newest_of(&readings, place)?;
    let row = context.index.facts.plant.get(plant);
    Some(OwnLook {
        class: reading.class,
        reading: reading.clone(),
        may_turn: row.is_some_and(|row| row.batch_id.is_some()),
    })
}

/// What further offspring are taken to show: the class of most offspring, else its own, else the likeliest.
fn class_expected(
    offspring: &[u64],
    own: Option<&OwnLook>,
    weighed: &[(f64, &Genotyped)],
) -> usize {
    let mut likely = vec![0.0; offspring.len()];
    for (weight, one) in weighed {
        likely[one.class] += weight;
    }
    let own = own.map(|own| own.class);
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
