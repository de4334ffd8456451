//! Everything about the ledger that every batch needs, worked out once per question.

use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, Mutex};

use crate::genetics::locus::LocusIx;
use crate::records::assumptions::Assumptions;
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::records::species::bare;

use super::control_pot::PotLook;
use super::evidence::{BatchEvidence, gather, telling_readings};
use super::frame::Frame;
use super::groups::Groups;
use super::index::Index;
use super::leaf_clock::LeafClock;
use super::looks::Looks;
use super::paces::OnsetTables;
use super::plants::Plants;
use super::recipe::Story;
use super::set_aside::SetAside;
use super::sources::{SourceBook, Stock, stock_of};
use super::space::Profiles;

/// How many days a late colour at a place speaks for the light there.
pub const LIGHT_DAYS: i64 = 7;

/// A seedling of another batch that showed a late colour at the same place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LightProof {
    /// The code of its batch.
    pub tray: String,
    /// The day.
    pub day: Day,
    /// Whether it is the only reading there that says so.
    pub alone: bool,
}

/// What a [`Context`] stands on: the facts of a ledger in the forms that the diagnosis reads.
#[derive(Debug)]
pub struct Basis<'f> {
    beliefs: Assumptions,
    looks: Looks,
    index: Index<'f>,
}

impl<'f> Basis<'f> {
    /// Reads the facts.
    ///
    /// # Errors
    /// [`super::DiagnosisError::Unreadable`] where a stored text cannot be read.
    pub fn of(facts: &'f Facts) -> Result<Self, super::DiagnosisError> {
        Ok(Self {
            beliefs: Assumptions::of(facts),
            looks: Looks::of(facts)?,
            index: Index::new(facts),
        })
    }

    /// The same for counting what was seen, whatever it says of labels: the dwarfs of crosses between species are in.
    ///
    /// # Errors
    /// As [`Self::of`].
    pub fn counting(facts: &'f Facts) -> Result<Self, super::DiagnosisError> {
        Ok(Self {
            beliefs: Assumptions::of(facts),
            looks: Looks::of(facts)?,
            index: Index::with_runts(facts),
        })
    }

    /// The ledger as every batch sees it.
    ///
    /// # Errors
    /// [`super::DiagnosisError::Unreadable`] where a stored text cannot be read.
    pub fn context(&self) -> Result<Context<'_>, super::DiagnosisError> {
        Context::new(&self.looks, &self.index, &self.beliefs)
    }
}

/// Late colours seen: by place and trait, by day, the batches with how many readings say so (at most three batches, and
/// two readings of each; more would not change an answer).
type LateColours = HashMap<(String, usize), BTreeMap<Day, Vec<(i64, u64)>>>;

/// By what the seed of batches is told apart: stock, day of sowing and pollinations.
type StoryKey = (Stock, Day, Vec<i64>);

/// The ledger as every batch sees it.
#[derive(Debug)]
pub struct Context<'a> {
    /// Traits and loci.
    pub looks: &'a Looks,
    /// The facts by the thing they belong to.
    pub index: &'a Index<'a>,
    /// Starting beliefs.
    pub beliefs: &'a Assumptions,
    /// What is known of plants before any batch.
    pub plants: Plants<'a>,
    /// What candidate sources are drawn from.
    pub sources: SourceBook<'a>,
    /// Leaves as a clock, where the ledger has enough to go by.
    leaf_clock: Option<LeafClock>,
    /// When late classes show, worked out once per trait.
    pub onset_tables: OnsetTables,
    /// Late colours seen.
    late_seen: LateColours,
    /// Selfed pots by place.
    pots: HashMap<String, Vec<&'a BatchRow>>,
    /// Pots of a plant's own seed, by the plant.
    pots_of: HashMap<i64, Vec<&'a BatchRow>>,
    /// What a question does without, since with it the sums would be too large.
    pub(super) set_aside: SetAside,
    /// For pots looked at already: how they stood.
    pot_looks: Mutex<HashMap<i64, Option<PotLook>>>,
    /// For batches weighed already: the log likelihood of each pair of parental genotypes.
    pair_tables: Mutex<HashMap<i64, Vec<f64>>>,
    /// By the traits read: what batches share.
    frames: Mutex<HashMap<Vec<usize>, Arc<Frame>>>,
    /// By stock, day of sowing and pollinations: what may have become of the seed.
    stories: Mutex<HashMap<StoryKey, Story>>,
}

impl<'a> Context<'a> {
    /// Works it out.
    ///
    /// # Errors
    /// [`super::DiagnosisError::Unreadable`] where a stored text cannot be read.
    pub fn new(
        looks: &'a Looks,
        index: &'a Index<'a>,
        beliefs: &'a Assumptions,
    ) -> Result<Self, super::DiagnosisError> {
        Self::asking(looks, index, beliefs, &[])
    }

    /// The same for a question about some loci, which then matter too.
    ///
    /// # Errors
    /// [`super::DiagnosisError::Unreadable`] where a stored text cannot be read.
    pub fn asking(
        looks: &'a Looks,
        index: &'a Index<'a>,
        beliefs: &'a Assumptions,
        loci: &[LocusIx],
    ) -> Result<Self, super::DiagnosisError> {
        let sources = SourceBook::new(index.facts);
        let mut pots: HashMap<String, Vec<&BatchRow>> = HashMap::new();
        let mut pots_of: HashMap<i64, Vec<&BatchRow>> = HashMap::new();
        for row in &index.facts.batch {
            let (mother, father) = sources.parents(stock_of(row));
            let place = fold(row.place.trim());
            if mother == father {
                pots_of.entry(mother).or_default().push(row);
                if !place.is_empty() {
                    pots.entry(place).or_default().push(row);
                }
            }
        }
        Ok(Self {
            pots,
            pots_of,
            set_aside: SetAside::default(),
            pot_looks: Mutex::default(),
            pair_tables: Mutex::default(),
            frames: Mutex::default(),
            stories: Mutex::default(),
            looks,
            index,
            beliefs,
            plants: Plants::new(index, looks, beliefs, loci)?,
            sources,
            leaf_clock: LeafClock::of(index),
            onset_tables: OnsetTables::default(),
            late_seen: late_colours(index, looks),
        })
    }

    /// The same for a question that does without some traits.
    #[must_use]
    pub fn without(mut self, set_aside: SetAside) -> Self {
        self.set_aside = set_aside;
        self
    }

    /// Which loci are tied together.
    #[must_use]
    pub const fn groups(&self) -> &Groups {
        &self.plants.groups
    }

    /// The selfed pots that stand at a place.
    #[must_use]
    pub fn pots_at(&self, place: &str) -> &[&'a BatchRow] {
        self.pots
            .get(&fold(place.trim()))
            .map_or(&[], Vec::as_slice)
    }

    /// The pots of a plant's own seed, selfed or from a packet.
    #[must_use]
    pub fn pots_of(&self, plant: i64) -> &[&'a BatchRow] {
        self.pots_of.get(&plant).map_or(&[], Vec::as_slice)
    }

    /// How a pot stood at its newest reading, worked out once.
    ///
    /// # Panics
    /// Where another thread panicked while it looked at a pot.
    pub fn pot_look(
        &self,
        batch_id: i64,
        work_out: impl FnOnce() -> Option<PotLook>,
    ) -> Option<PotLook> {
        let held = "no thread panics while it holds the pots";
        let known = self.pot_looks.lock().expect(held).get(&batch_id).copied();
        known.unwrap_or_else(|| {
            let look = work_out();
            self.pot_looks.lock().expect(held).insert(batch_id, look);
            look
        })
    }

    /// The table of a batch over its parents, worked out once.
    ///
    /// # Panics
    /// Where another thread panicked while it looked at a table.
    pub fn pair_table(&self, batch_id: i64, work_out: impl FnOnce() -> Vec<f64>) -> Vec<f64> {
        let held = "no thread panics while it holds the tables";
        let known = self.pair_tables.lock().expect(held).get(&batch_id).cloned();
        known.unwrap_or_else(|| {
            let table = work_out();
            let mut tables = self.pair_tables.lock().expect(held);
            tables.insert(batch_id, table.clone());
            table
        })
    }

    /// What batches that were read for these traits share, made once.
    pub(super) fn frame(&self, traits: &[usize]) -> Arc<Frame> {
        let held = "no thread panics while it makes a frame";
        let mut frames = self.frames.lock().expect(held);
        let known = frames.get(traits).map(Arc::clone);
        known.unwrap_or_else(|| {
            let space = self.groups().space(&self.looks.loci_read(traits));
            let profiles = Profiles::new(self.looks, &space, traits);
            let made = Arc::new(Frame::new(self, space, profiles));
            frames.insert(traits.to_vec(), Arc::clone(&made));
            made
        })
    }

    /// What may have become of the seed of a batch, worked out once for all of one stock and day.
    pub(super) fn story(&self, batch: &BatchRow) -> Story {
        let pollinations = self.sources.pollinations_of(batch);
        let rows = pollinations.iter().map(|row| row.id).collect();
        let key = (stock_of(batch), batch.day, rows);
        let held = "no thread panics while it looks for sources";
        let mut stories = self.stories.lock().expect(held);
        let made = || self.story_with(batch, self.beliefs);
        stories.entry(key).or_insert_with(made).clone()
    }

    /// The same with other starting beliefs.
    pub(super) fn story_with(&self, batch: &BatchRow, beliefs: &Assumptions) -> Story {
        let parents = self.sources.parents(stock_of(batch));
        let candidates = self.sources.candidates(batch, beliefs);
        Story::new(&self.plants, parents, candidates)
    }

    /// The evidence of a batch.
    #[must_use]
    pub fn gather(&self, batch: &BatchRow, mother: i64) -> BatchEvidence {
        let days = self.usual_days(mother);
        let clock = self.leaf_clock.as_ref();
        gather(self.index, self.looks, batch, days, clock)
    }

    /// Usual days from sowing to emergence for a mother.
    #[must_use]
    pub fn usual_days(&self, mother: i64) -> i64 {
        let row = self.index.facts.plant.get(mother);
        let annuum = row.is_some_and(|row| bare(&row.species) == "annuum");
        (if annuum {
            self.beliefs.days_annuum
        } else {
            self.beliefs.days_other
        }) as i64
    }

    /// A firm late colour on a plant of another batch in the same named place, within days of one of this batch's
    /// readings of that trait: then the light is not to blame.
    #[must_use]
    pub fn light_proof(&self, batch: &BatchRow, evidence: &BatchEvidence) -> Option<LightProof> {
        let place = fold(batch.place.trim());
        if place.is_empty() {
            return None;
        }
        let readings = evidence.members.iter().flat_map(|member| &member.readings);
        let mut asked: Vec<(usize, Day)> = readings.map(|one| (one.look, one.day)).collect();
        asked.sort_unstable();
        asked.dedup();
        let mut found: BTreeMap<(usize, Day, i64), u64> = BTreeMap::new();
        for (look, day) in asked {
            let Some(days) = self.late_seen.get(&(place.clone(), look)) else {
                continue;
            };
            let near = days.range(day.back(LIGHT_DAYS)..=day.forward(LIGHT_DAYS));
            for (day, batches) in near {
                let others = batches.iter().filter(|(other, _)| *other != batch.id);
                found.extend(others.map(|(other, readings)| ((look, *day, *other), *readings)));
            }
            if found.values().sum::<u64>() > 1 {
                break;
            }
        }
        let ((_, day, other), _) = found.first_key_value()?;
        let tray = self.index.facts.code_of(Thing::Batch, *other);
        Some(LightProof {
            tray: tray.unwrap_or_default().to_owned(),
            day: *day,
            alone: found.values().sum::<u64>() == 1,
        })
    }
}

fn late_colours(index: &Index<'_>, looks: &Looks) -> LateColours {
    let mut seen = LateColours::new();
    for batch in &index.facts.batch {
        let place = fold(batch.place.trim());
        if place.is_empty() {
            continue;
        }
        for (look, day, count) in late_readings(index, looks, batch) {
            let days = seen.entry((place.clone(), look)).or_default();
            let batches = days.entry(day).or_default();
            let known = batches.iter().position(|(known, _)| *known == batch.id);
            if let Some(at) = known {
                batches[at].1 = (batches[at].1 + count).min(2);
            } else if batches.len() < 3 {
                batches.push((batch.id, count.min(2)));
            }
        }
    }
    seen
}

/// Firm readings of late classes in a batch, tallies too: trait, day and how many.
fn late_readings(index: &Index<'_>, looks: &Looks, batch: &BatchRow) -> Vec<(usize, Day, u64)> {
    let late = |class_id: Option<i64>| {
        let (look, class) = looks.class_place(class_id?)?;
        let trait_ = &looks.traits[look];
        (trait_.onset.is_some() && trait_.classes[class].after.is_some()).then_some(look)
    };
    let mut found = Vec::new();
    for plant in index.seedlings_of(batch.id) {
        for reading in telling_readings(looks, index.readings_of(plant.id)) {
            let class = &looks.traits[reading.look].classes[reading.class];
            if !reading.doubtful && late(Some(class.id)).is_some() {
                found.push((reading.look, reading.day, 1));
            }
        }
    }
    for tally in index.tallies_of(batch.id) {
        for (look, classes) in index.looks_of(tally.id) {
            for class in classes
                .iter()
                .filter(|class| class.sureness == crate::records::rows::Sureness::Firm)
            {
                if let Some(trait_place) = late(class.class_id).filter(|_| look.count > 0) {
                    found.push((trait_place, tally.day, look.count.unsigned_abs()));
                }
            }
        }
    }
    found
}
