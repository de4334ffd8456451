//! What would show selfs of the mother where nothing that was read in a batch ever can.
//!
//! Every plant is taken at its word, misreading and age left out: a self is blind here not because it is early but because
//! it ends in what the label ends in. Changes no probability. Called by the remarks of `suspects`.

use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;
use crate::genetics::species::Crossability;
use crate::records::rows::Thing;
use crate::records::species::Crossing;

use super::answer::{OtherWay, SeedlingAnswer, SelfsUnseen, Source, Tells};
use super::batch::BatchModel;
use super::context::Context;
use super::looks::Look;

/// A self counts as shown by a trait from this share of selfs on (design choice).
const SHOWN: f64 = 0.5;

/// Less than this share of selfs shown is none (as for visibility).
const HARDLY: f64 = 0.05;

/// A parent or label ends in one class for sure from this probability on (design choice).
const SURE: f64 = 0.95;

/// Most combinations of genotypes looked at; a trait of more loci is passed over.
const MOST: usize = 10_000;

/// Most traits named.
const NAMED: usize = 2;

/// Beliefs about a plant at one locus, genotype by genotype.
type AtLocus = Vec<f64>;

/// What would show selfs of the mother, where what was read cannot.
#[must_use]
pub fn selfs_unseen(
    context: &Context<'_>,
    model: &BatchModel,
    seedlings: &[SeedlingAnswer],
) -> Option<SelfsUnseen> {
    let is_self = |source: &Source| matches!(source, Source::SelfPollen | Source::AllSelf);
    let possible = model.candidates.iter().any(|one| is_self(&one.source));
    if !possible || model.evidence.members.is_empty() {
        return None;
    }
    let pair = Pair::new(context, model.mother, model.father);
    let read: Vec<&Look> = looks_of(context, model);
    let unseen = |look: &&Look| pair.tells(look).is_some_and(|one| one.share < HARDLY);
    if !read.iter().all(unseen) {
        return None;
    }
    let facts = context.index.facts;
    let back = Pair::new(context, model.father, model.mother);
    Some(SelfsUnseen {
        mother: facts.label_of_plant(model.mother),
        father: facts.label_of_plant(model.father),
        all_like_mother: all_like_mother(&pair, &read, seedlings),
        traits: further_traits(context, model, &pair),
        other_way: read
            .iter()
            .find_map(|look| back.shown_by(look))
            .and_then(|tells| other_way(context, model, tells)),
        father_as: read.iter().find_map(|look| father_that_shows(&pair, look)),
    })
}

/// The cross made the other way round; nothing where it is not expected to give seedlings and none were sown.
fn other_way(context: &Context<'_>, model: &BatchModel, tells: Tells) -> Option<OtherWay> {
    let facts = context.index.facts;
    let (mother, father) = (model.father, model.mother);
    let made =
        |row: &&crate::records::rows::CrossRow| (row.mother_id, row.father_id) == (mother, father);
    let made: Vec<i64> = facts.cross.iter().filter(made).map(|row| row.id).collect();
    let sown = facts.batch.iter();
    let sown = sown.filter(|row| row.cross_id.is_some_and(|id| made.contains(&id)));
    let code = |thing, id| facts.code_of(thing, id).unwrap_or_default().to_owned();
    let way = OtherWay {
        tells,
        crossability: Crossing::of_plants(facts, mother, father).crossability,
        trays: sown.map(|row| code(Thing::Batch, row.id)).collect(),
        crosses: made.iter().map(|id| code(Thing::Cross, *id)).collect(),
    };
    let is_vain = way.crossability == Crossability::NotExpected && way.trays.is_empty();
    (!is_vain).then_some(way)
}

fn looks_of<'c>(context: &'c Context<'_>, model: &BatchModel) -> Vec<&'c Look> {
    let places = model.profiles.traits.iter();
    places.map(|place| &context.looks.traits[*place]).collect()
}

/// Traits not read here, of which enough is stated of both parents to know that they show selfs: of seedlings first.
fn further_traits(context: &Context<'_>, model: &BatchModel, pair: &Pair<'_>) -> Vec<Tells> {
    let is_stated = |locus: &LocusIx| {
        let stated = |plant| context.plants.stated(plant, *locus).is_some();
        stated(model.mother) && stated(model.father)
    };
    let looks = context.looks.traits.iter().enumerate();
    let runts = &context.index.runts;
    let unread = looks.filter(|(at, look)| {
        let is_evidence = !runts.keeps_out(model.batch_id, Some(look.id));
        let is_read = model.profiles.traits.contains(at);
        is_evidence && !is_read && look.model.loci().iter().all(is_stated)
    });
    let mut found: Vec<(bool, Tells)> = unread
        .filter_map(|(_, look)| Some((look.stage != "seedling", pair.shown_by(look)?)))
        .collect();
    found.sort_by_key(|(later, tells)| (*later, !tells.switched_on));
    found.truncate(NAMED);
    found.into_iter().map(|(_, tells)| tells).collect()
}

/// The class that the mother, its selfs and the label all end in, where all seedlings were read so.
fn all_like_mother(
    pair: &Pair<'_>,
    read: &[&Look],
    seedlings: &[SeedlingAnswer],
) -> Option<String> {
    let like = |look: &&&Look| {
        let class = sure(&pair.itself(look)?)?;
        let same = sure(&pair.label(look)?)? == class;
        let name = &look.classes[class].name;
        let seen = |one: &SeedlingAnswer| {
            let mut readings = one.readings.iter();
            readings.any(|seen| seen.trait_code == look.code && seen.class == *name)
        };
        (same && !seedlings.is_empty() && seedlings.iter().all(seen)).then(|| name.clone())
    };
    read.iter().find_map(|look| like(&look))
}

fn sure(chances: &[f64]) -> Option<usize> {
    chances.iter().position(|p| *p >= SURE)
}

/// A homozygous father that would show selfs where this one does not, and what is stated of this one.
fn father_that_shows(pair: &Pair<'_>, look: &Look) -> Option<(String, Option<String>)> {
    let [locus] = look.model.loci() else {
        return None;
    };
    let pairs = pair.context.plants.pairs(*locus);
    let now = pair.context.plants.at_word(pair.father, *locus);
    let carries = |allele: u8| {
        let mut open = pairs.iter().zip(&now);
        open.any(|(own, p)| *p > 0.0 && own.carries(allele))
    };
    let candidates = pairs.iter().enumerate();
    let mut homozygous = candidates.filter(|(_, one)| one.is_homozygous() && carries(one.a()));
    homozygous.find_map(|(at, one)| {
        let mut fixed = vec![0.0; pairs.len()];
        fixed[at] = 1.0;
        let selfs = pair.selfs(look)?;
        let mother = pair.context.plants.at_word(pair.mother, *locus);
        let label = pair.classes(look, &[offspring(&pairs, &mother, &fixed)])?;
        let shown = not_allowed(pair.context.beliefs.allowed, &label, &selfs);
        let stated = pair.context.plants.stated(pair.father, *locus);
        (shown >= SHOWN).then(|| (one.written(pair.context.looks.book.get(*locus)), stated))
    })
}

/// Mother and father, each at its word.
struct Pair<'c> {
    context: &'c Context<'c>,
    mother: i64,
    father: i64,
    cytoplasm: Cytoplasm,
}

/// How much of the selfs a trait shows, and in which class.
struct Shows {
    share: f64,
    of_self: usize,
    of_label: usize,
}

impl<'c> Pair<'c> {
    fn new(context: &'c Context<'c>, mother: i64, father: i64) -> Self {
        Self {
            context,
            mother,
            father,
            cytoplasm: context.plants.cytoplasm(mother),
        }
    }

    /// P(each class in the end) of a plant with these beliefs, locus by locus; nothing where they are too many to go
    /// through.
    fn classes(&self, look: &Look, at: &[AtLocus]) -> Option<Vec<f64>> {
        let loci = look.model.loci();
        let pairs: Vec<Vec<Diploid>> = loci.iter().map(|l| self.context.plants.pairs(*l)).collect();
        let combinations = pairs.iter().map(Vec::len).product::<usize>();
        if combinations > MOST {
            return None;
        }
        let mut sums = vec![0.0; look.classes.len()];
        for mut number in 0..combinations {
            let (mut genotypes, mut chance) = (Vec::with_capacity(loci.len()), 1.0);
            for (pairs, at) in pairs.iter().zip(at) {
                let place = number % pairs.len();
                number /= pairs.len();
                genotypes.push(pairs[place]);
                chance *= at[place];
            }
            if chance > 0.0 {
                sums[look.model.class_of(&genotypes, self.cytoplasm)] += chance;
            }
        }
        Some(sums)
    }

    fn at_word(&self, plant: i64, look: &Look) -> Vec<AtLocus> {
        let loci = look.model.loci().iter();
        loci.map(|locus| self.context.plants.at_word(plant, *locus))
            .collect()
    }

    /// What the mother itself shows.
    fn itself(&self, look: &Look) -> Option<Vec<f64>> {
        self.classes(look, &self.at_word(self.mother, look))
    }

    fn selfs(&self, look: &Look) -> Option<Vec<f64>> {
        let loci = look.model.loci().iter();
        let mother = self.at_word(self.mother, look);
        let at: Vec<AtLocus> = loci
            .zip(&mother)
            .map(|(locus, own)| selfed(&self.context.plants.pairs(*locus), own))
            .collect();
        self.classes(look, &at)
    }

    fn label(&self, look: &Look) -> Option<Vec<f64>> {
        let loci = look.model.loci().iter();
        let (mother, father) = (
            self.at_word(self.mother, look),
            self.at_word(self.father, look),
        );
        let at: Vec<AtLocus> = loci
            .zip(mother.iter().zip(&father))
            .map(|(locus, (m, f))| offspring(&self.context.plants.pairs(*locus), m, f))
            .collect();
        self.classes(look, &at)
    }

    /// How much of the selfs a trait shows.
    fn tells(&self, look: &Look) -> Option<Shows> {
        let (selfs, label) = (self.selfs(look)?, self.label(look)?);
        let allowed = self.context.beliefs.allowed;
        let foreign = |class: &usize| label[*class] < allowed;
        let likeliest = |list: &[f64], of: &dyn Fn(&usize) -> bool| {
            let classes = (0..list.len()).filter(|class| of(class));
            classes.max_by(|one, other| list[*one].total_cmp(&list[*other]))
        };
        let of_label = likeliest(&label, &|_| true)?;
        Some(Shows {
            share: not_allowed(allowed, &label, &selfs),
            of_self: likeliest(&selfs, &foreign).unwrap_or(of_label),
            of_label,
        })
    }

    /// What a trait would show of selfs, where it shows most of them.
    fn shown_by(&self, look: &Look) -> Option<Tells> {
        let shows = self.tells(look).filter(|shows| shows.share >= SHOWN)?;
        Some(Tells {
            trait_code: look.code.clone(),
            switched_on: look.switched_on,
            of_self: look.classes[shows.of_self].name.clone(),
            of_label: look.classes[shows.of_label].name.clone(),
        })
    }
}

/// P(a self ends in a class that the label does not allow).
fn not_allowed(allowed: f64, label: &[f64], selfs: &[f64]) -> f64 {
    let both = label.iter().zip(selfs);
    both.filter(|(label, _)| **label < allowed)
        .map(|(_, own)| own)
        .sum()
}

/// The offspring at one locus of two plants with these beliefs.
fn offspring(pairs: &[Diploid], mother: &[f64], father: &[f64]) -> AtLocus {
    let mut sums = vec![0.0; pairs.len()];
    for (m, p) in pairs.iter().zip(mother).filter(|(_, p)| **p > 0.0) {
        for (f, q) in pairs.iter().zip(father).filter(|(_, q)| **q > 0.0) {
            add_offspring(pairs, &mut sums, (*m, *f), p * q);
        }
    }
    sums
}

/// The selfed offspring at one locus of a plant with these beliefs.
fn selfed(pairs: &[Diploid], own: &[f64]) -> AtLocus {
    let mut sums = vec![0.0; pairs.len()];
    for (one, p) in pairs.iter().zip(own).filter(|(_, p)| **p > 0.0) {
        add_offspring(pairs, &mut sums, (*one, *one), *p);
    }
    sums
}

fn add_offspring(pairs: &[Diploid], sums: &mut [f64], (m, f): (Diploid, Diploid), p: f64) {
    for (egg, grain) in [
        (m.a(), f.a()),
        (m.a(), f.b()),
        (m.b(), f.a()),
        (m.b(), f.b()),
    ] {
        let child = Diploid::new(egg, grain);
        let place = pairs.iter().position(|pair| *pair == child);
        sums[place.expect("every pair of alleles is listed")] += p / 4.0;
    }
}
