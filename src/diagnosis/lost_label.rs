//! Which of the season's crosses a pot without a label is of, from its looks, age and place.
//!
//! Every seedling that stands without account, every seed in the box and one from elsewhere may be the pot; each counts
//! by how many there are, and by how likely the pot's place, age and looks are of it. The looks are weighed by everything
//! recorded of its tray, off-types and pace included. Called by `lost-label`; makes no words.

mod answering;
mod next;
mod pot;
mod stand;
mod units;

use crate::records::assumptions::Assumptions;
use crate::records::change::RowChange;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{FateKind, Sureness};
use crate::records::tray::gone;

use super::DiagnosisError;
use super::answer::{EvidenceNote, Seen};
use super::belief::Beliefs;
use super::context::Context;
use super::index::Index;
use super::kin::Asked;
use super::looks::Looks;
use super::posterior::Rules;
use super::sources::stock_of;
use super::suspects::models_of;
use answering::Answering;
use next::next_look;
pub use pot::Age;
use pot::known_of;
use stand::Bench;
use units::Units;

/// Trays sown longer ago than this are of another season (design choice).
const SEASON_DAYS: i64 = 365;

/// A class that is read with less than this chance is left out of what a look may tell (design choice).
pub const HARDLY_READ: f64 = 0.02;

/// The pot that is asked about.
#[derive(Debug, Clone, PartialEq)]
pub enum Pot {
    /// One that is in no tray: what it looks like.
    Unknown {
        /// The classes seen, by their numbers.
        classes: Vec<(i64, Sureness)>,
        /// How old, where said.
        age: Option<StatedAge>,
        /// Where it stands, or empty.
        place: String,
    },
    /// A seedling of a tray whose label is not to be trusted.
    Seedling(i64),
}

/// How old a pot is said to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StatedAge {
    /// Days since it came up.
    Days(i64),
    /// Leaves.
    Leaves(i64),
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LostLabelError {
    /// A stored text cannot be read.
    #[error(transparent)]
    Unreadable(#[from] DiagnosisError),
    /// Nothing telling was seen of it.
    #[error("nothing was seen of it that tells anything")]
    NothingSeen,
    /// Nothing but its growth was seen, and true seedlings of a cross between species may be dwarf.
    #[error(
        "how it grows says nothing of its cross: {0} is one between species, and a dwarf seedling of such may be the true hybrid"
    )]
    OnlyGrowth(String),
    /// Not a seedling of any batch.
    #[error("it is no seedling of a tray")]
    NoSeedling,
    /// Leaves were stated and the ledger has no clock of them.
    #[error("the ledger knows too little of leaves by age")]
    NoLeafClock,
    /// More or fewer leaves than the clock was made of.
    #[error("no age is known of seedlings with {leaves} leaves")]
    LeavesBeyond {
        /// The leaves stated.
        leaves: i64,
        /// The fewest that the clock was made of.
        fewest: i64,
        /// The most.
        most: i64,
    },
    /// Nothing that stands can look so at that age.
    #[error("nothing that stands can look so at that age")]
    NothingFits,
    /// Nothing stands that it could be.
    #[error("nothing sown within a year stands without account")]
    NothingStands,
}

/// How much of a candidate looks like the pot.
#[derive(Debug, Clone, PartialEq)]
pub struct LookShare {
    /// The trait.
    pub trait_code: String,
    /// The class seen.
    pub class: String,
    /// P(a seedling that is as labelled is read so on that day).
    pub share: f64,
}

/// One tray of a candidate.
#[derive(Debug, Clone, PartialEq)]
pub struct TrayShare {
    /// Its code.
    pub tray: String,
    /// Where it stands, or empty.
    pub place: String,
    /// How many of its seedlings the pot may be.
    pub seedlings: i64,
    /// How old they are on that day, on average over the days of emergence.
    pub age: Option<f64>,
    /// Whether nobody counted what came up.
    pub guessed: bool,
    /// P(it is of this tray).
    pub p: f64,
    /// The likeliest of its seedlings that were told apart, where one has at least half of that.
    pub likeliest: Option<String>,
}

/// Seed of a candidate in the box.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxShare {
    /// Seeds left; nothing where nobody counted.
    pub seeds: Option<i64>,
    /// P(it was sown of these without a record).
    pub p: f64,
}

/// One cross or packet that the pot may be of.
#[derive(Debug, Clone, PartialEq)]
pub struct LostCandidate {
    /// The code of the cross, or of the parent whose packet it is.
    pub code: String,
    /// Whether it is a packet.
    pub packet: bool,
    /// Mother and father.
    pub label: (String, String),
    /// P(it is of this one), by number and place alone.
    pub before: f64,
    /// P(it is of this one).
    pub p: f64,
    /// P(not as labelled | it is of this one).
    pub p_off: f64,
    /// What its seedlings look like by then.
    pub looks: Vec<LookShare>,
    /// Its trays, the likeliest first.
    pub trays: Vec<TrayShare>,
    /// Its seed in the box.
    pub seeds: Option<BoxShare>,
}

/// A look that tells the likeliest two apart.
#[derive(Debug, Clone, PartialEq)]
pub struct NextLook {
    /// The trait.
    pub trait_code: String,
    /// Its stage.
    pub stage: String,
    /// When it would be read; nothing for a trait of a later stage.
    pub on: Option<Day>,
    /// Expected bits about which of the two it is.
    pub bits: f64,
    /// Class by class: P(it is read), and P(the first of the two | it is read, one of the two).
    pub says: Vec<(String, f64, f64)>,
}

/// The answer of `lost-label`.
#[derive(Debug, Clone, PartialEq)]
pub struct LostLabel {
    /// The day asked about.
    pub day: Day,
    /// The seedling asked about, where it is one of a tray.
    pub seedling: Option<String>,
    /// What was seen.
    pub readings: Vec<Seen>,
    /// How old it is.
    pub age: Option<Age>,
    /// Where it stands, or empty.
    pub place: String,
    /// The candidates, the likeliest first.
    pub candidates: Vec<LostCandidate>,
    /// P(it comes from elsewhere).
    pub elsewhere: f64,
    /// How many times as likely the look and age are of the first as of the second.
    pub times_as_likely: Option<f64>,
    /// What would tell the likeliest two apart.
    pub next: Option<NextLook>,
    /// Trays that are too large to weigh.
    pub declined: Vec<String>,
    /// Traits of trays that are weighed without them, since with them the sums would be too large.
    pub traits_left_out: Vec<EvidenceNote>,
    /// Whether an age is stated and no tray is of it.
    pub no_tray_of_age: bool,
    /// The places named of trays, where none ever stood at the pot's.
    pub other_places: Vec<String>,
    /// The label of a seedling asked about, which counts for nothing here.
    pub set_aside: Option<String>,
    /// What became of it, where it stands no more.
    pub gone: Option<(FateKind, Day)>,
    /// Where looks of growth count for nothing: the code of a cross between species, whose true seedlings may be dwarf.
    pub growth_of: Option<String>,
}

/// Which of the season's crosses a pot without a label is of, as on a day.
///
/// # Errors
/// [`LostLabelError`] where nothing was seen of it, or nothing stands that it could be.
pub fn lost_label(facts: &Facts, day: Day, pot: &Pot) -> Result<LostLabel, LostLabelError> {
    let seen_by_then = facts.seen_until(day);
    let facts = seen_by_then.as_ref().unwrap_or(facts);
    let looks = Looks::of(facts)?;
    let known = known_of(facts, &looks, day, pot)?;
    let mut without = facts.clone();
    if let Pot::Seedling(plant) = pot {
        let own = facts.reading.iter().filter(|row| row.plant_id == *plant);
        own.for_each(|row| without.apply(&RowChange::delete(row.clone())));
    }
    let index = Index::new(&without);
    let beliefs = Assumptions::of(&without);
    let loci = looks.loci_read(&known.traits);
    let context = Context::asking(&looks, &index, &beliefs, &loci)?;
    let rules = Rules::default();
    let rows: Vec<_> = without.batch.iter().collect();
    let (models, _) = models_of(&context, &rows, false);
    let asked = Asked {
        plants: kept_plants(&without),
        loci,
    };
    let net = Beliefs::new(&context, &models, &rules, &asked);
    let bench = Bench {
        context: &context,
        net: &net,
        rules: &rules,
        known: &known,
    };
    let units = Units::of(bench);
    if units.list.is_empty() {
        return Err(LostLabelError::NothingStands);
    }
    let likely: f64 = units.list.iter().map(|unit| unit.p).sum();
    if likely + units.elsewhere <= 0.0 {
        return Err(LostLabelError::NothingFits);
    }
    let label = match pot {
        Pot::Seedling(plant) => facts
            .plant
            .get(*plant)
            .and_then(|row| facts.seedling_label(row)),
        Pot::Unknown { .. } => None,
    };
    let mut answer = Answering {
        units: &units,
        context: &context,
        known: &known,
    }
    .answer(label);
    if let Pot::Seedling(plant) = pot {
        let batch = facts.plant.get(*plant).and_then(|row| row.batch_id);
        let batch = batch.and_then(|id| facts.batch.get(id));
        answer.set_aside =
            batch.map(|row| context.sources.name_stock(stock_of(row)).code.to_string());
        answer.gone = gone(facts, *plant, day).map(|fate| (fate.kind, fate.day));
    }
    answer.next = match answer.candidates.as_slice() {
        [first, second, ..] if second.p > 0.0 => {
            let best = |code: &str| units.best_of(&context, code);
            best(&first.code)
                .zip(best(&second.code))
                .and_then(|pair| next_look(&units, (first.p, second.p), pair))
        }
        _ => None,
    };
    Ok(answer)
}

/// Seedlings that are parents of something, or whose pollen was about.
fn kept_plants(facts: &Facts) -> Vec<i64> {
    let parents = facts
        .cross
        .iter()
        .flat_map(|row| [row.mother_id, row.father_id]);
    let packets = facts.batch.iter().filter_map(|row| row.plant_id);
    let packets = packets.chain(facts.in_flower.iter().map(|row| row.plant_id));
    let seedling = |id: &i64| {
        facts
            .plant
            .get(*id)
            .is_some_and(|row| row.batch_id.is_some())
    };
    let mut kept: Vec<i64> = parents.chain(packets).filter(seedling).collect();
    kept.sort_unstable();
    kept.dedup();
    kept
}
