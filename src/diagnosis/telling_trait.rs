//! Which trait, scored next, would tell most about a seedling: is it of the label, and if not, whose pollen was it?
//!
//! For each trait the joint distribution of where the seedling came from and what it would be read as, by everything
//! recorded, misreading included; from that the bits that the reading is expected to tell. Called by `why` and, for
//! seedlings whose pollen may be of several plants, by `suspects`.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use crate::records::day::Day;
use crate::records::rows::BatchRow;

use super::answer::{Source, SourceShare};
use super::batch::BatchModel;
use super::belief::{Beliefs, too_large};
use super::context::Context;
use super::evidence::Member;
use super::kin::Asked;
use super::looks::Look;
use super::posterior::{Posterior, Rules, Weigher};
use super::series::OneMore;
use super::sources::Share;
use super::telling_table::{Origins, Table};
use super::verdict::dot;

/// A reading that tells fewer bits than this is not worth a sentence (design choice).
pub const WORTH_SCORING: f64 = 0.05;

/// For a verdict a look is worth it that tells this share of the bits missing on "of the label or not" (design choice).
pub const WORTH_OF_MISSING: f64 = 0.1;

/// A look at a later stage counts this much of one that can be taken now (design choice).
const LATER: f64 = 0.5;

/// An origin is in play from this share of P(off-type) on (design choice).
pub const IN_PLAY: f64 = 0.05;

/// A trait of another stage than seedlings is looked at this many days after emergence, when every late class has
/// had its time (design choice).
const GROWN: i64 = 150;

/// Most joint genotypes of one plant at which a trait is still weighed here.
const MOST_GENOTYPES: usize = 27;

/// When a trait would be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// On this day.
    On(Day),
    /// At a later stage, named by the trait's own.
    AtItsStage,
}

/// What a class would say if it were seen.
#[derive(Debug, Clone, PartialEq)]
pub struct Says {
    /// The class.
    pub class: String,
    /// P(it is read).
    pub p: f64,
    /// P(off-type) then.
    pub p_off: f64,
    /// Where an off-type would then come from, the likeliest first; together 1.
    pub origins: Vec<SourceShare>,
}

/// What a trait would tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Telling {
    /// The trait's code.
    pub trait_code: String,
    /// Its stage.
    pub stage: String,
    /// Whether it is offered for scoring.
    pub switched_on: bool,
    /// Whether the seedling was read for it already.
    pub again: bool,
    /// When it would be read.
    pub when: When,
    /// Expected bits about "of the label or not".
    pub verdict_bits: f64,
    /// Expected bits about where it came from beyond that: P(off-type) times those given that it is off-type.
    pub origin_bits: f64,
    /// Class by class.
    pub says: Vec<Says>,
}

impl Telling {
    /// Both together: the bits about where the seedling came from, the label being one of the answers.
    #[must_use]
    pub fn bits(&self) -> f64 {
        self.verdict_bits + self.origin_bits
    }
}

/// What could be scored next.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct NextTraits {
    /// Bits missing about "of the label or not".
    pub verdict_bits: f64,
    /// Bits missing about where it came from beyond that.
    pub origin_bits: f64,
    /// What traits would tell: seedling traits first, then the most telling first.
    pub telling: Vec<Telling>,
    /// Traits of which nothing is known of the plants concerned.
    pub silent: Vec<String>,
    /// Traits that are too large to weigh together with what was read.
    pub declined: Vec<String>,
}

impl NextTraits {
    /// The look that would tell most on "of the label or not", one more at what was read included, where it tells a
    /// good part of what is missing.
    #[must_use]
    pub fn best_for_verdict(&self) -> Option<&Telling> {
        let enough = WORTH_SCORING.max(WORTH_OF_MISSING * self.verdict_bits);
        let worth = self.telling.iter();
        let worth = worth.filter(|one| one.verdict_bits >= enough);
        let counts = |one: &Telling| match one.when {
            When::On(_) => one.verdict_bits,
            When::AtItsStage => LATER * one.verdict_bits,
        };
        // Of two that tell as much the first.
        worth
            .rev()
            .max_by(|one, other| counts(one).total_cmp(&counts(other)))
    }

    /// The trait to score next, where one is worth it.
    #[must_use]
    pub fn best(&self) -> Option<&Telling> {
        let mut worth = self.telling.iter();
        worth.find(|one| one.bits() >= WORTH_SCORING && !one.again)
    }
}

/// Where a seedling of a candidate source came from, whole batches and parts of them taken together; swapped labels are
/// no stray seed, and stay what they are.
#[must_use]
pub fn origin_of(source: &Source) -> Source {
    match source {
        Source::AllSelf => Source::SelfPollen,
        Source::AllPollen(plant) => Source::Pollen(plant.clone()),
        other => other.clone(),
    }
}

/// P(off-type) by origin, the likeliest first.
#[must_use]
pub fn by_origin(sources: &[SourceShare]) -> Vec<SourceShare> {
    let mut sums: Vec<SourceShare> = Vec::new();
    for share in sources {
        let source = origin_of(&share.source);
        match sums.iter_mut().find(|known| known.source == source) {
            Some(known) => known.p += share.p,
            None => sums.push(SourceShare { source, p: share.p }),
        }
    }
    sums.sort_by(|one, other| other.p.total_cmp(&one.p));
    sums
}

/// The plants of the ledger whose pollen a seedling may have: how many are in play.
#[must_use]
pub fn donors_in_play(sources: &[SourceShare], p_off: f64) -> usize {
    let unknown = [
        Source::UnknownPollen,
        Source::UnknownSeed,
        Source::Swapped(None),
    ];
    let mut donors: Vec<SourceShare> = Vec::new();
    for share in by_origin(sources) {
        // Seed of a cross has the same donor, stray or under a swapped label.
        let source = match share.source {
            Source::Swapped(Some(cross)) => Source::StraySeed(cross),
            source => source,
        };
        match donors.iter_mut().find(|known| known.source == source) {
            Some(known) => known.p += share.p,
            None => donors.push(SourceShare { source, ..share }),
        }
    }
    let in_play = |share: &&SourceShare| {
        !unknown.contains(&share.source) && share.p >= IN_PLAY * p_off && share.p > 0.0
    };
    donors.iter().filter(in_play).count()
}

/// Looks for the trait to score next.
pub(super) struct Search<'s, 'a> {
    pub(super) context: &'s Context<'a>,
    pub(super) rules: &'s Rules,
    pub(super) row: &'s BatchRow,
    pub(super) model: &'s BatchModel,
    /// The batches that say something about the plants.
    pub(super) models: &'s [BatchModel],
    pub(super) net: &'s Beliefs<'a>,
    /// The batch with the loci of a further trait added, by the trait's place; nothing where that is too large.
    pub(super) weighed: RefCell<HashMap<usize, Option<Rc<Widened>>>>,
    pub(super) today: Day,
}

/// A batch with the loci of a further trait added, and weighed.
pub(super) struct Widened {
    model: BatchModel,
    posterior: Posterior,
}

impl Search<'_, '_> {
    /// What every trait would tell of a member of the batch; one that it was read for already on the day named.
    pub(super) fn every_trait(
        &self,
        member: usize,
        sources: &[SourceShare],
        again_on: Day,
    ) -> NextTraits {
        let mut next = NextTraits::default();
        let plants = self.plants_concerned(sources);
        for (look, trait_) in self.context.looks.traits.iter().enumerate() {
            let own = &self.model.evidence.members[member];
            let again = own.readings.iter().any(|reading| reading.look == look);
            if !again && self.is_read_otherwise(own, trait_) || self.is_of_runts(trait_) {
                continue;
            }
            if !plants.iter().any(|plant| self.is_told(*plant, trait_)) {
                next.silent.push(trait_.code.clone());
                continue;
            }
            let again = again.then_some(again_on);
            match self.weigh(look, member, again) {
                Some((bits, telling)) => {
                    (next.verdict_bits, next.origin_bits) = bits;
                    next.telling.push(telling);
                }
                None => next.declined.push(trait_.code.clone()),
            }
        }
        let later = |one: &Telling| one.when == When::AtItsStage;
        next.telling.sort_by(|one, other| {
            later(one)
                .cmp(&later(other))
                .then(other.bits().total_cmp(&one.bits()))
                .then(other.switched_on.cmp(&one.switched_on))
        });
        next
    }

    /// The most telling seedling trait that reads a locus which nothing was read for in the batch yet, where one is
    /// worth scoring for a member.
    pub(super) fn further_marker(&self, member: usize, sources: &[SourceShare]) -> Option<Telling> {
        let plants = self.plants_concerned(sources);
        let traits = self.context.looks.traits.iter().enumerate();
        let fits = |(_, trait_): &(usize, &Look)| {
            trait_.switched_on
                && is_for_seedlings(trait_)
                && !self.is_of_runts(trait_)
                && trait_
                    .model
                    .loci()
                    .iter()
                    .any(|locus| !self.model.space.loci.contains(locus))
                && plants.iter().any(|plant| self.is_told(*plant, trait_))
        };
        let weighed = traits
            .filter(fits)
            .filter_map(|(look, _)| self.weigh(look, member, None));
        weighed
            .map(|(_, telling)| telling)
            .filter(|telling| telling.bits() >= WORTH_SCORING)
            .max_by(|one, other| one.bits().total_cmp(&other.bits()))
    }

    /// Mother, father and the plants of every source in play.
    fn plants_concerned(&self, sources: &[SourceShare]) -> Vec<i64> {
        let p_off: f64 = sources.iter().map(|share| share.p).sum();
        let mut plants = vec![self.model.mother, self.model.father];
        for (candidate, thirds) in self.model.candidates.iter().zip(self.model.thirds()) {
            let mut own = sources
                .iter()
                .filter(|share| share.source == candidate.source);
            let in_play = own.any(|share| share.p > 0.0 && share.p >= IN_PLAY * p_off);
            if in_play && candidate.share != Share::Nothing {
                plants.extend(thirds);
            }
        }
        plants.sort_unstable();
        plants.dedup();
        plants
    }

    /// Whether anything recorded of a plant speaks of a locus that a trait reads.
    fn is_told(&self, plant: i64, trait_: &Look) -> bool {
        let mut loci = trait_.model.loci().iter();
        loci.any(|locus| self.net.speaks(plant, *locus))
    }

    /// Whether looks of a trait are no evidence in this batch.
    fn is_of_runts(&self, trait_: &Look) -> bool {
        let runts = &self.context.index.runts;
        runts.keeps_out(self.row.id, Some(trait_.id))
    }

    /// Whether a member was read for a trait that shows the same of the same organ.
    fn is_read_otherwise(&self, member: &Member, trait_: &Look) -> bool {
        let mut readings = member.readings.iter();
        readings.any(|reading| self.context.looks.traits[reading.look].shows_the_same_as(trait_))
    }

    /// Bits missing, and what a trait would tell of a member; nothing where it is too large to weigh.
    fn weigh(
        &self,
        look: usize,
        member: usize,
        again: Option<Day>,
    ) -> Option<((f64, f64), Telling)> {
        let trait_ = &self.context.looks.traits[look];
        let widened = self.widened(look)?;
        let wide = &widened.model;
        let membership = &widened.posterior.memberships[wide.group_of[member]];
        let when = again.map_or_else(|| self.when(trait_), When::On);
        let day = match when {
            When::On(day) => day,
            When::AtItsStage => self.grown(&wide.evidence.members[member]),
        };
        let origins = Origins::of(wide, membership);
        let read = self.readings(wide, member, (look, day));
        let table: Vec<Vec<f64>> = origins
            .weights
            .iter()
            .map(|(_, cells)| {
                read.iter()
                    .map(|likelihood| dot(cells, likelihood))
                    .collect()
            })
            .collect();
        let table = Table::new(&origins, table);
        let telling = Telling {
            trait_code: trait_.code.clone(),
            stage: trait_.stage.clone(),
            switched_on: trait_.switched_on,
            again: again.is_some(),
            when,
            verdict_bits: table.verdict_bits(),
            origin_bits: table.origin_bits(),
            says: table.says(trait_),
        };
        Some((table.missing(), telling))
    }

    /// The batch with the loci of a further trait added, weighed once.
    fn widened(&self, look: usize) -> Option<Rc<Widened>> {
        if let Some(known) = self.weighed.borrow().get(&look) {
            return known.clone();
        }
        let made = self.widen(look).map(Rc::new);
        self.weighed.borrow_mut().insert(look, made.clone());
        made
    }

    fn widen(&self, look: usize) -> Option<Widened> {
        let model = BatchModel::for_looks(self.context, self.row, &[look]);
        let is_known = self.model.space.loci.len() == model.space.loci.len();
        let is_large = model.space.size > MOST_GENOTYPES && !is_known;
        if is_large || too_large(&model).is_some() {
            return None;
        }
        let weights = self.weights(&model)?;
        let posterior = Weigher::new(&model, self.rules).posterior_by_cell(&weights);
        Some(Widened { model, posterior })
    }

    /// The weights of the batch's plants at the loci of a further trait too.
    fn weights(&self, wide: &BatchModel) -> Option<super::weights::PlantWeights> {
        let plants = wide.named_plants();
        let heard = |plant: &i64| {
            let mut loci = wide.space.loci.iter();
            loci.all(|locus| self.net.can_be_asked(*plant, *locus))
        };
        if plants.iter().all(heard) {
            return self.net.weights(wide).ok();
        }
        let asked = Asked {
            plants,
            loci: wide.space.loci.clone(),
        };
        let net = Beliefs::new(self.context, self.models, self.rules, &asked);
        net.weights(wide).ok()
    }

    fn when(&self, trait_: &Look) -> When {
        if is_for_seedlings(trait_) {
            When::On(self.today)
        } else {
            When::AtItsStage
        }
    }

    /// A day on which a member is grown, later than today.
    fn grown(&self, member: &Member) -> Day {
        let up = member.emergence.iter().map(|(day, _)| *day).max();
        let grown = up.unwrap_or(self.today).forward(GROWN);
        grown.max(self.today.forward(1))
    }

    /// For each class of a trait: P(own readings, and that class on a day | profile, pace).
    fn readings(
        &self,
        wide: &BatchModel,
        member: usize,
        (look, day): (usize, Day),
    ) -> Vec<Vec<f64>> {
        let member = &wide.evidence.members[member];
        let scale = wide.scale(self.context);
        let prepared = scale.prepare(&member.readings, &member.emergence);
        let classes = 0..self.context.looks.traits[look].classes.len();
        let one = |class: usize| {
            let more = [OneMore { look, class, day }];
            let further = Some((more.as_slice(), member.readings.as_slice()));
            prepared.weigh(&scale, &member.emergence, further).values
        };
        classes.map(one).collect()
    }
}

/// Whether a trait shows on seedlings.
pub(super) fn is_for_seedlings(trait_: &Look) -> bool {
    trait_.stage == "seedling"
}
