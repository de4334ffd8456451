//! What the label expects of a cross in the ledger, and the counts of its trays beside it.
//!
//! Answers for the label: stated genotypes at their word, nothing misread, late classes at the ages of the
//! readings in a batch of the usual pace. `expect` and `ratio` ask; what else can have happened is not
//! considered here.

use std::collections::BTreeMap;

use super::answer::EvidenceNote;
use super::context::Context;
use super::dates::Emergence;
use super::evidence::{Member, Telling};
use super::expectation::{Expectation, Scored, expect};
use super::looks::{Look, Looks};
use super::odd_readings::odd_readings;
use super::pulling::{Pulling, missing_for_looks, pulling};
use crate::genetics::descent::Descent;
use crate::genetics::expect::{Breeding, ExpectError, Parent};
use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::segregation::AtLocus;
use crate::genetics::traits::Onset;
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, TasteMethod};
use crate::records::taste::HOT;

/// The parts of a trait that an expectation reads.
#[derive(Debug, Clone)]
pub struct Promise<'a> {
    look: &'a Look,
    after: Vec<Option<usize>>,
}

impl<'a> Promise<'a> {
    /// Of a trait of the ledger.
    #[must_use]
    pub fn of(look: &'a Look) -> Self {
        Self {
            look,
            after: look.classes.iter().map(|class| class.after).collect(),
        }
    }

    /// As an expectation reads it.
    #[must_use]
    pub fn scored(&self) -> Scored<'_> {
        let onset = self.look.onset.map(|onset| Onset {
            median_days: onset.median_days,
            spread: onset.spread,
            ceiling: onset.ceiling,
        });
        Scored {
            model: &self.look.model,
            after: &self.after,
            onset,
        }
    }
}

/// A plant at its word: stated genotypes as certain, priors at the other loci.
#[must_use]
pub fn plant_at_word(context: &Context<'_>, plant: i64, loci: &[LocusIx]) -> Parent {
    let at = |locus: &LocusIx| {
        let pairs = Diploid::all(context.looks.book.get(*locus).alleles.len());
        let weights: Vec<(Diploid, f64)> = pairs
            .into_iter()
            .zip(context.plants.at_word(plant, *locus))
            .filter(|(_, p)| *p > 0.0)
            .collect();
        match weights.as_slice() {
            [(pair, _)] => match context.plants.phase(plant, *locus) {
                Some(phase) => (*locus, AtLocus::Phased(phase)),
                None => (*locus, AtLocus::Known(*pair)),
            },
            _ => (*locus, AtLocus::Weighted(weights)),
        }
    };
    Parent {
        loci: loci.iter().map(at).collect(),
        cytoplasm: context.plants.cytoplasm(plant),
    }
}

/// What the label of two plants expects of some traits, at an age in days where one is given.
///
/// # Errors
/// [`ExpectError`] where a model reads a locus that is not carried.
pub fn label_expectation(
    context: &Context<'_>,
    parents: (i64, i64),
    traits: &[usize],
    age: Option<f64>,
) -> Result<Expectation, ExpectError> {
    let loci = context.looks.loci_read(traits);
    let mother = plant_at_word(context, parents.0, &loci);
    let father = plant_at_word(context, parents.1, &loci);
    expectation_of(
        context,
        [&mother, &father],
        &descent_of(parents),
        traits,
        age,
    )
}

/// What some traits are expected to show in the seedlings of two plants of which this much is known, at an age in
/// days where one is given.
///
/// # Errors
/// [`ExpectError`] where a model reads a locus that is not carried.
pub fn expectation_of(
    context: &Context<'_>,
    [mother, father]: [&Parent; 2],
    descent: &Descent,
    traits: &[usize],
    age: Option<f64>,
) -> Result<Expectation, ExpectError> {
    let looks = context.looks;
    let loci = looks.loci_read(traits);
    let promises: Vec<Promise<'_>> = traits
        .iter()
        .map(|place| Promise::of(&looks.traits[*place]))
        .collect();
    let scored: Vec<Scored<'_>> = promises.iter().map(Promise::scored).collect();
    let arrangement = looks.linkage.arrange(&loci, false, &looks.book)?;
    let breeding = Breeding {
        mother,
        father,
        descent,
        arrangement: &arrangement,
        selection: &[],
    };
    expect(&breeding, &scored, age)
}

/// The descent of the seedlings of two plants, which may be one and the same.
#[must_use]
pub fn descent_of((mother, father): (i64, i64)) -> Descent {
    if mother == father {
        Descent::self_of_mother()
    } else {
        Descent::first_cross()
    }
}

/// The counts of one tray in the classes of one trait, beside what the label expects of them.
#[derive(Debug, Clone, PartialEq)]
pub struct TrayCounts {
    /// Seedlings seen of each class of the trait, those removed since counted in.
    pub observed: Vec<u64>,
    /// For each class the share that the label expects at the ages of these readings.
    pub expected: Vec<f64>,
    /// The final ratio of the label, where it is one of small whole numbers.
    pub ratio: Option<String>,
    /// Of the seedlings counted, those of a doubtful reading.
    pub doubtful: u64,
    /// Of the seedlings counted, those found not hot by a taste of the tip or wall alone.
    pub tasted_mild: u64,
    /// What the pulling of seedlings does to the count.
    pub pulling: Pulling,
    /// Classes seen although the readings are too young to expect them; then the shares are those of the end.
    pub too_young: Vec<usize>,
    /// Whether the shares expected are those of an age at which not all show yet what they end in.
    pub at_an_age: bool,
    /// The shares that the label ends in, where those expected are of an earlier age and a class that shows late has come
    /// oftener than at that age; seedlings that may yet turn are taken as not yet turned.
    pub in_the_end: Option<Vec<f64>>,
    /// Readings of the trait that are left out, since a newer one of the day or the seedling's end stands against them.
    pub left_out: Vec<EvidenceNote>,
}

/// A late class is not expected yet where fewer than this share of those that end in it show it (design choice).
const TOO_YOUNG: f64 = 0.01;

/// A share of an age that differs by less from that of the end is not spoken of (design choice).
const WORTH_SAYING: f64 = 0.001;

/// The share given to a class that the label shows on the way to another and has long left behind.
const LEFT_BEHIND: f64 = 1e-9;

/// What was seen of one trait in a tray, before anything is expected of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Sighting {
    /// The label's mother and father.
    pub parents: (i64, i64),
    /// Seedlings seen of each class of the trait, those removed since counted in.
    pub observed: Vec<u64>,
    /// Of the seedlings counted, those of a doubtful reading.
    pub doubtful: u64,
    /// Of the seedlings counted, those found not hot by a taste of the tip or wall alone.
    pub tasted_mild: u64,
    /// What the pulling of seedlings does to the count.
    pub pulling: Pulling,
    /// Ages in days at the readings, each with the seedlings of that age.
    pub ages: BTreeMap<i64, f64>,
    /// Readings of the trait that are left out.
    pub left_out: Vec<EvidenceNote>,
}

/// What was seen of a trait in a tray; nothing where the tray was not scored for it or its label has no parents.
#[must_use]
pub fn sighting(context: &Context<'_>, batch: &BatchRow, place: usize) -> Option<Sighting> {
    let parents = label_parents(context.index.facts, batch)?;
    let evidence = context.gather(batch, parents.0);
    let read: Vec<(&Member, &Telling)> = evidence
        .members
        .iter()
        .filter_map(|member| member.newest_of(place).map(|reading| (member, reading)))
        .collect();
    if read.is_empty() {
        return None;
    }
    let classes = context.looks.traits[place].classes.len();
    let mut found = Sighting {
        parents,
        observed: vec![0; classes],
        doubtful: 0,
        tasted_mild: 0,
        pulling: pulling(context, batch, context.looks.traits[place].id, &read),
        ages: BTreeMap::new(),
        left_out: left_out(context, batch, &context.looks.traits[place].code),
    };
    let set_aside = |note: &&EvidenceNote| {
        matches!(
            note,
            EvidenceNote::BatchTallySetAside { .. } | EvidenceNote::CellTallySetAside { .. }
        )
    };
    let tallies = evidence.notes.iter().filter(set_aside);
    found.left_out.extend(tallies.cloned());
    for (member, reading) in &read {
        let count = member.count.unsigned_abs();
        found.observed[reading.class] += count;
        found.doubtful += if reading.doubtful { count } else { 0 };
        found.tasted_mild += if is_mild_taste(context.looks, reading) {
            count
        } else {
            0
        };
        for (age, weight) in ages_of(&member.emergence, reading.day) {
            *found.ages.entry(age).or_default() += weight * count as f64;
        }
    }
    Some(found)
}

/// Whether no heat was found where a hot pod has little.
fn is_mild_taste(looks: &Looks, reading: &Telling) -> bool {
    let class = &looks.traits[reading.look].classes[reading.class];
    let lightly = matches!(reading.taste, Some(TasteMethod::Tip | TasteMethod::Wall));
    lightly && fold(&class.name) != HOT
}

/// The counts of a tray in a trait; nothing where the tray was not scored for it or its label has no parents.
///
/// # Errors
/// [`ExpectError`] where a model reads a locus that is not carried.
pub fn tray_counts(
    context: &Context<'_>,
    batch: &BatchRow,
    place: usize,
) -> Result<Option<TrayCounts>, ExpectError> {
    let Some(seen) = sighting(context, batch, place) else {
        return Ok(None);
    };
    let at = |age: Option<f64>| label_expectation(context, seen.parents, &[place], age);
    counts_beside(&context.looks.traits[place], &seen, at).map(Some)
}

/// What was seen of a trait in a tray beside what is expected of it, by a function that says what shows at an age,
/// or in the end.
///
/// # Errors
/// [`ExpectError`] as that function.
pub fn counts_beside(
    look: &Look,
    seen: &Sighting,
    at: impl Fn(Option<f64>) -> Result<Expectation, ExpectError>,
) -> Result<TrayCounts, ExpectError> {
    let at_age = averaged(seen, &at)?;
    let last = at(None)?;
    let ends = Ends::of(look, &seen.observed, &last);
    let too_young = ends.too_young(&at_age);
    let expected = ends.expected(&at_age, &too_young);
    let sooner = too_young.is_empty() && ends.came_sooner(&at_age);
    let shows_less = |class: usize| at_age[class] < ends.final_p[class] - WORTH_SAYING;
    Ok(TrayCounts {
        observed: seen.observed.clone(),
        at_an_age: too_young.is_empty() && (0..at_age.len()).any(shows_less),
        in_the_end: sooner.then(|| ends.shares()),
        expected,
        ratio: last.ratio(),
        doubtful: seen.doubtful,
        tasted_mild: seen.tasted_mild,
        pulling: seen.pulling.clone(),
        too_young,
        left_out: seen.left_out.clone(),
    })
}

/// Readings of a trait that no count of a batch holds.
fn left_out(context: &Context<'_>, batch: &BatchRow, of: &str) -> Vec<EvidenceNote> {
    let mut odd = odd_readings(context.index, batch);
    odd.retain(|note| match note {
        EvidenceNote::ReadTwice { trait_code, .. }
        | EvidenceNote::ReadWhenGone { trait_code, .. } => trait_code == of,
        _ => false,
    });
    odd
}

/// What the label ends in, beside what was seen on the way there.
///
/// Seedlings that still show a class which the label only passes through are taken as not yet turned, so they speak neither
/// for nor against it.
struct Ends<'a> {
    look: &'a Look,
    observed: &'a [u64],
    /// For each class the share that the label ends in.
    final_p: Vec<f64>,
}

impl<'a> Ends<'a> {
    fn of(look: &'a Look, observed: &'a [u64], last: &Expectation) -> Self {
        let mut final_p = vec![0.0; observed.len()];
        for class in &last.classes {
            final_p[class.classes[0]] += class.final_p;
        }
        Self {
            look,
            observed,
            final_p,
        }
    }

    fn seen(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.observed.len()).filter(|class| self.observed[*class] > 0)
    }

    /// The classes seen that the label only passes through.
    fn on_the_way(&self) -> impl Iterator<Item = usize> + '_ {
        let leads_to = |class: usize, end: usize| {
            self.look.classes[end].after == Some(class) && self.final_p[end] > 0.0
        };
        self.seen().filter(move |class| {
            self.final_p[*class] == 0.0 && (0..self.observed.len()).any(|end| leads_to(*class, end))
        })
    }

    /// The classes seen although hardly any seedling shows them at that age.
    fn too_young(&self, at_age: &[f64]) -> Vec<usize> {
        self.seen()
            .filter(|class| at_age[*class] < TOO_YOUNG * self.final_p[*class])
            .collect()
    }

    /// Whether more seedlings show a late class than were expected to at that age.
    fn came_sooner(&self, at_age: &[f64]) -> bool {
        let n: u64 = self.observed.iter().sum();
        let late = (0..self.observed.len()).filter(|class| {
            self.look.classes[*class].after.is_some() && self.final_p[*class] > 0.0
        });
        let (seen, expected) = late.fold((0.0, 0.0), |(seen, expected), class| {
            let share = self.observed[class] as f64;
            (seen + share, expected + at_age[class] * n as f64)
        });
        seen > expected
    }

    /// The shares to hold counts against: those of that age or, where some classes were too young for it, of the end.
    fn expected(&self, at_age: &[f64], too_young: &[usize]) -> Vec<f64> {
        if !too_young.is_empty() {
            return self.shares();
        }
        let mut expected = at_age.to_vec();
        for class in self.on_the_way() {
            expected[class] = expected[class].max(LEFT_BEHIND);
        }
        expected
    }

    /// The shares of the end.
    fn shares(&self) -> Vec<f64> {
        let all: u64 = self.observed.iter().sum();
        let unturned = |class: usize| self.observed[class] as f64 / all as f64;
        let turned = 1.0 - self.on_the_way().map(unturned).sum::<f64>();
        let mut shares: Vec<f64> = self.final_p.iter().map(|p| p * turned).collect();
        for class in self.on_the_way() {
            shares[class] = unturned(class);
        }
        shares
    }
}

fn ages_of(emergence: &Emergence, day: Day) -> impl Iterator<Item = (i64, f64)> + '_ {
    emergence
        .iter()
        .map(move |(up, weight)| (day.since(*up).max(0), *weight))
}

/// Shares of the classes, averaged over the ages of the readings.
///
/// # Errors
/// [`ExpectError`] as the function that says what shows at an age.
pub fn averaged(
    seen: &Sighting,
    at: impl Fn(Option<f64>) -> Result<Expectation, ExpectError>,
) -> Result<Vec<f64>, ExpectError> {
    let total: f64 = seen.ages.values().sum();
    let mut expected = vec![0.0; seen.observed.len()];
    for (age, weight) in &seen.ages {
        for class in at(Some(*age as f64))?.classes {
            expected[class.classes[0]] += class.p * weight / total;
        }
    }
    Ok(expected)
}

/// Seedlings of some trays counted by the classes of two traits at once.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct JointCounts {
    /// Seedlings of each pair of classes.
    pub seen: BTreeMap<[usize; 2], u64>,
    /// Seedlings of which only one of the two was read.
    pub half_read: u64,
    /// Of those counted, the ones with a doubtful reading.
    pub doubtful: u64,
    /// Trays, by number, whose count lacks seedlings that were pulled for their looks, and how many.
    pub missing: Vec<(i64, u64)>,
}

/// Counts the seedlings of some trays by the newest readings of two traits.
#[must_use]
pub fn joint_counts(
    context: &Context<'_>,
    batches: &[&BatchRow],
    traits: [usize; 2],
) -> JointCounts {
    let mut found = JointCounts::default();
    for batch in batches {
        let mother = label_parents(context.index.facts, batch).map_or(0, |(mother, _)| mother);
        let evidence = context.gather(batch, mother);
        let ids = traits.map(|place| context.looks.traits[place].id);
        let read: Vec<(&Member, &Telling)> = (evidence.members.iter())
            .filter(|member| member.newest_of(traits[1]).is_some())
            .filter_map(|member| Some((member, member.newest_of(traits[0])?)))
            .collect();
        let missing = missing_for_looks(context, batch, &ids, &read);
        if missing > 0 {
            found.missing.push((batch.id, missing));
        }
        for member in &evidence.members {
            let count = member.count.unsigned_abs();
            match traits.map(|place| member.newest_of(place)) {
                [Some(one), Some(other)] => {
                    *found.seen.entry([one.class, other.class]).or_default() += count;
                    if one.doubtful || other.doubtful {
                        found.doubtful += count;
                    }
                }
                [None, None] => {}
                _ => found.half_read += count,
            }
        }
    }
    found
}

/// The traits that were read in some batches, as places among the ledger's, in their order.
#[must_use]
pub fn traits_read(context: &Context<'_>, batches: &[&BatchRow]) -> Vec<usize> {
    let mut read: Vec<usize> = batches
        .iter()
        .flat_map(|batch| {
            let mother = label_parents(context.index.facts, batch).map_or(0, |(mother, _)| mother);
            context.gather(batch, mother).traits
        })
        .collect();
    read.sort_unstable();
    read.dedup();
    read
}

/// The place of the trait that bare class words belong to.
#[must_use]
pub fn bench_trait(facts: &Facts, looks: &Looks) -> Option<usize> {
    let code = facts.setting("bench-trait")?;
    let row = facts.code_named(code)?;
    looks.place(row.thing_id)
}
