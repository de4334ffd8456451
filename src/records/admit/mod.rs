//! The gate: every bench rule, and the only maker of row changes.
//!
//! [`admit`] judges one entry by the facts and says which rows change, or refuses in words. It writes
//! nothing, and knows neither the clock nor where rows are kept; the command line calls it and hands the
//! changes on. One file per kind of entry; `desk` is what they share.

mod adopt;
mod bench;
mod contradict;
mod desk;
mod fate;
mod find;
mod flowers;
mod goal;
mod grade;
mod init;
mod late;
#[cfg(test)]
mod laws;
mod locus;
mod looks;
mod one_gene;
mod parent;
mod pedigree;
mod read_twice;
mod refusal;
mod runt;
mod score;
mod seed;
mod seedlings;
mod shared_words;
mod sow;
mod species;
mod standing;
mod subject;
mod tally_twice;
mod taste;
mod traits;
mod up;

use std::collections::BTreeMap;

pub use refusal::{
    Adopting, Excess, GeneRefusal, Identity, Kind, LookRefusal, Order, Refusal, Remedy, Wanted,
};
pub use subject::{Notice, ParentChance, Subject, TraitDone};

use super::change::RowChange;
use super::day::Day;
use super::entry::{Entry, Look};
use super::facts::Facts;
use super::rows::Sureness;
use super::target::Target;
use desk::Desk;

/// What the gate has to be told beside the facts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bench {
    /// Today.
    pub today: Day,
    /// Whether the implausible is recorded all the same.
    pub even_so: bool,
}

/// What an admitted entry changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Admitted {
    /// The rows, in an order in which each may refer to earlier ones.
    pub changes: Vec<RowChange>,
    /// Next numbers to give, by table or series; only those that moved.
    pub counters: BTreeMap<String, i64>,
    /// What the grower should know beside the answer.
    pub notices: Vec<Notice>,
    /// What the answer is about.
    pub subject: Subject,
}

/// The classes that a look of a seedling names, as [`Entry::Score`] reads them; what could not be scored is left out.
///
/// # Errors
/// [`Refusal`] where a word is no class of a seedling's traits, or of several.
pub fn classes_seen(facts: &Facts, look: &Look) -> Result<Vec<(i64, Sureness)>, Refusal> {
    looks::classes_seen(facts, look)
}

/// The plant that a target means on a day.
///
/// # Errors
/// [`Refusal`] where it is none that the ledger knows.
pub fn plant_meant(facts: &Facts, target: &Target, day: Day) -> Result<i64, Refusal> {
    let bench = Bench {
        today: day,
        even_so: false,
    };
    find::plant(&mut Desk::new(facts, bench), target, day)
}

/// Judges an entry.
///
/// # Errors
/// [`Refusal`]: what is impossible always, what is merely implausible unless [`Bench::even_so`].
pub fn admit(facts: &Facts, entry: &Entry, bench: &Bench) -> Result<Admitted, Refusal> {
    let mut desk = Desk::new(facts, *bench);
    let subject = match entry {
        Entry::Init => init::begin(&mut desk),
        Entry::Parent(entry) => parent::add(&mut desk, entry),
        Entry::Adoption(entry) => adopt::adopt(&mut desk, entry),
        Entry::InFlower(entry) => flowers::in_flower(&mut desk, entry),
        Entry::Locus(entry) => locus::set(&mut desk, entry),
        Entry::Trait(entry) => traits::add(&mut desk, entry),
        Entry::GradedTrait(entry) => grade::add(&mut desk, entry),
        Entry::Model(entry) => traits::add_model(&mut desk, entry),
        Entry::UseModel(entry) => traits::use_model(&mut desk, entry),
        Entry::SwitchTrait(entry) => traits::switch(&mut desk, entry),
        Entry::LateColour(entry) => late::set_late(&mut desk, entry),
        Entry::BenchTrait(code) => traits::make_bench(&mut desk, code),
        Entry::Goal(entry) => goal::add(&mut desk, entry),
        Entry::DropGoal(look) => goal::remove(&mut desk, look),
        Entry::Pollination(entry) => flowers::pollinate(&mut desk, entry),
        Entry::PodSet(entry) => flowers::set(&mut desk, entry),
        Entry::Harvest(entry) => seed::harvest(&mut desk, entry),
        Entry::Packet(entry) => seed::packet(&mut desk, entry),
        Entry::Sowing(entry) => sow::sow(&mut desk, entry),
        Entry::Up(entry) => up::count(&mut desk, entry),
        Entry::Score(entry) => score::score(&mut desk, entry),
        Entry::Tasted(entry) => taste::tasted(&mut desk, entry),
        Entry::Grade(entry) => grade::grade(&mut desk, entry),
        Entry::Fate(entry) => fate::remove(&mut desk, entry),
        Entry::Care(entry) => bench::care(&mut desk, entry),
        Entry::Measure(entry) => bench::measure(&mut desk, entry),
        Entry::Note(entry) => bench::note(&mut desk, entry),
        Entry::Photo(entry) => bench::photo(&mut desk, entry),
        Entry::Assume(entry) => bench::assume(&mut desk, entry),
        Entry::AssumeAll(entries) => bench::assume_all(&mut desk, entries),
        Entry::Species(entry) => species::pair(&mut desk, entry),
    }?;
    if desk.is_blank() {
        return Err(Identity::Unchanged.into());
    }
    Ok(desk.close(subject))
}
