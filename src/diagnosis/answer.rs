//! What the diagnosis answers, in numbers and reasons; words are made elsewhere, from these alone.

use std::sync::Arc;

use super::clash::Clash;
use super::kept::Kept;
use super::sensitivity::Trial;
use super::split::Split;
use super::telling_trait::Telling;
use crate::genetics::species::Crossability;
use crate::records::day::Day;
use crate::records::rows::{FateKind, Sureness};

/// A plant or cross as an answer names it.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Named {
    /// Its number in its table.
    pub id: i64,
    /// Its code.
    pub code: Arc<str>,
}

/// Where the seed of a batch, or of one of its seedlings, came from.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Source {
    /// As labelled.
    None,
    /// Some flowers set seed with the mother's own pollen.
    SelfPollen,
    /// Pollen of a plant of the ledger reached the stigma.
    Pollen(Named),
    /// Pollen of plants not in the ledger.
    UnknownPollen,
    /// Seeds of another cross fell in.
    StraySeed(Named),
    /// A seed from outside the ledger.
    UnknownSeed,
    /// Several of the above.
    Mixed,
    /// The whole batch is selfed.
    AllSelf,
    /// The whole batch has another father.
    AllPollen(Named),
    /// The whole batch is another cross, or one from outside.
    Swapped(Option<Named>),
}

impl Source {
    /// The word scripts rely on.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::None => "none",
            Self::SelfPollen => "self",
            Self::Pollen(_) => "pollen",
            Self::UnknownPollen => "unknown-pollen",
            Self::StraySeed(_) => "stray-seed",
            Self::UnknownSeed => "unknown-seed",
            Self::Mixed => "mixed",
            Self::AllSelf => "all-self",
            Self::AllPollen(_) => "all-pollen",
            Self::Swapped(_) => "swapped",
        }
    }

    /// The plant or cross it names.
    #[must_use]
    pub const fn named(&self) -> Option<&Named> {
        match self {
            Self::Pollen(named) | Self::StraySeed(named) | Self::AllPollen(named) => Some(named),
            Self::Swapped(named) => named.as_ref(),
            _ => None,
        }
    }
}

/// A source and a probability.
#[derive(Debug, Clone, PartialEq)]
pub struct SourceShare {
    /// The source.
    pub source: Source,
    /// The probability.
    pub p: f64,
}

/// What to do with a seedling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Pull it: it is almost surely not the cross on the label.
    Cull,
    /// A later look is likely to settle it.
    Wait,
    /// Its looks speak for the label.
    Keep,
    /// Nothing speaks against it, and nothing could have.
    Unproven,
    /// One more look at the trait read last will not settle it; something else may.
    Undecided,
}

impl Verdict {
    /// The word scripts rely on.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Cull => "cull",
            Self::Wait => "wait",
            Self::Keep => "keep",
            Self::Unproven => "unproven",
            Self::Undecided => "undecided",
        }
    }
}

/// One class seen on one day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// The trait's code.
    pub trait_code: String,
    /// The class.
    pub class: String,
    /// How sure.
    pub sureness: Sureness,
    /// The day.
    pub day: Day,
}

/// Why a verdict fell as it did: the facts a sentence can be made of.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    /// The reading that speaks loudest for the verdict, of the newest of each trait.
    pub loudest: Seen,
    /// Age in days at that reading, averaged over the days of emergence.
    pub age: f64,
    /// P(the label ends in that class).
    pub label_ends_in_it: f64,
    /// P(the label shows that class at that age), misreading left out.
    pub label_shows_it: f64,
    /// Every class that the label can end in, with its probability.
    pub label_ends_in: Vec<(String, f64)>,
    /// Whether the label can still turn from this class into another that it ends in.
    pub may_still_turn: bool,
    /// The day from which a true seedling that still looks so would be rare (under 1 in 100), where the class is an
    /// earlier one.
    pub rare_from: Option<Day>,
    /// How likely these readings are from the sources, as a multiple of how likely they are from the label.
    pub times_as_likely_off: f64,
    /// The likeliest source of an off-type, with its share of P(off).
    pub likeliest: Option<SourceShare>,
    /// An older firm reading of a class that shows only after this one: what has turned does not turn back.
    pub turned_before: Option<Seen>,
    /// The trait read newest, the one that would be looked at again.
    pub newest_trait: String,
    /// The traits of which the label may still turn from the newest reading into another class.
    pub may_yet_turn: Vec<String>,
    /// Days from the seedling's newest reading to the day asked about.
    pub unseen_for: i64,
}

/// The answer for one seedling, or for the seedlings of one tallied look.
#[derive(Debug, Clone, PartialEq)]
pub struct SeedlingAnswer {
    /// The seedling, or nothing for a tallied look.
    pub seedling: Option<String>,
    /// The cell, where known.
    pub cell: Option<i64>,
    /// The newest readings, one per trait, in the order of the days.
    pub readings: Arc<[Seen]>,
    /// How many living seedlings this answer is about.
    pub count: i64,
    /// As what it was adopted, where it was: it is not pulled, whatever the verdict on its label.
    pub kept: Option<Kept>,
    /// P(not the cross on the label).
    pub p_off: f64,
    /// What to do.
    pub verdict: Verdict,
    /// When to look again, for [`Verdict::Wait`].
    pub look_again: Option<Day>,
    /// Why.
    pub reason: Arc<Reason>,
    /// P(off) split over sources; they sum to it.
    pub sources: Split,
    /// For a cull: what would come of it if something were otherwise.
    pub trials: Vec<Trial>,
    /// For a suspect whose pollen may be of several plants: the further trait to score next, where one is worth it.
    pub next_trait: Option<Telling>,
    /// For one that is undecided: the look that would tell most about whether it is of the label, where one is worth it.
    pub settling: Option<Telling>,
}

/// Something the answer has to say about its evidence.
#[derive(Debug, Clone, PartialEq)]
pub enum EvidenceNote {
    /// A batch's tally was set aside because its cells have readings of their own.
    BatchTallySetAside {
        /// Its day.
        day: Day,
    },
    /// A cell's tally was set aside because its seedlings have readings of their own.
    CellTallySetAside {
        /// The cell.
        cell: i64,
        /// Its day.
        day: Day,
    },
    /// Seedlings were pulled for their looks before the newest tally, which alone is evidence: they are forgotten.
    PulledBefore {
        /// The cell, or nothing for the batch.
        cell: Option<i64>,
        /// The day of the tally.
        day: Day,
        /// How many of each look that was said.
        of_look: Vec<(String, i64)>,
        /// How many more of which nobody said it.
        unsaid: i64,
        /// The day of the tally before it, if any.
        earlier: Option<Day>,
    },
    /// A reading from before the sowing stays out of the sums.
    BeforeSowing {
        /// What it is of.
        what: String,
        /// Its day.
        day: Day,
    },
    /// Dimness was ruled out by a late colour seen at the same place.
    LightProven {
        /// The batch whose seedling showed it.
        tray: String,
        /// The place.
        place: String,
        /// The day.
        day: Day,
        /// Whether that one reading is the only one that says so.
        alone: bool,
    },
    /// Nobody counted emergence; the age rests on the usual days.
    EmergenceGuessed {
        /// The usual days.
        days: i64,
        /// How many seedlings, where others were dated by their leaves.
        others: Option<i64>,
    },
    /// The leaves counted on seedlings fit no day from the sowing to their first reading.
    LeavesFitNoDay {
        /// Which seedlings.
        whose: Vec<String>,
    },
    /// Nobody counted emergence; seedlings were dated by their leaves.
    DatedByLeaves {
        /// How many seedlings.
        count: i64,
        /// How many records of leaves and age the clock rests on.
        pairs: usize,
    },
    /// A control pot in the same place has to show the late colour and does not yet.
    ControlPotNotTurned {
        /// Its code.
        tray: String,
        /// The place.
        place: String,
    },
    /// A pot that has to show the late colour and does not, though other seedlings coloured there: the pot itself is odd.
    OddPot {
        /// Its code.
        tray: String,
        /// The place.
        place: String,
        /// The plant whose seed its label says it is.
        plant: String,
    },
    /// The labels are most likely swapped.
    LabelsSwapped {
        /// The code of what the batch more likely is; nothing for seed from elsewhere.
        other: Option<String>,
        /// With this probability.
        p: f64,
    },
    /// Readings of a switched-off trait are no evidence.
    TraitOff {
        /// The trait's code.
        trait_code: String,
    },
    /// The exact answer for this batch needs too large a table.
    TooLarge {
        /// Cells needed.
        needed: u128,
        /// Cells allowed.
        limit: u128,
        /// Linked loci read here, which are weighed as one: group by group.
        linked: Vec<Vec<String>>,
        /// The trait that is missed least, where several were read here.
        least: Option<String>,
    },
    /// A trait is left out of the sums, since with it they would be too large.
    TraitLeftOut {
        /// The trait's code.
        trait_code: String,
        /// The plants whose readings are left out; a tray's code for what was tallied there.
        whose: Vec<String>,
        /// Cells needed with it.
        needed: u128,
    },
    /// Another batch of the same plants is left out of what is known of them, being too large to weigh.
    LeftOut {
        /// Its code.
        tray: String,
    },
    /// The readings of some seedlings contradict each other and are set aside.
    Contradictory {
        /// How many.
        count: i64,
    },
    /// A late colour was read at an age at which hardly any seedling shows it.
    ColouredEarly {
        /// The class.
        class: String,
        /// How many showed it.
        count: i64,
    },
    /// Colour is late in the whole batch, more likely for want of light than for its seed.
    LikelyDim {
        /// With this probability.
        p: f64,
    },
    /// Loci read here stand on one chromosome, and are taken as independent all the same: nothing says how far apart they
    /// are, or in which order.
    TakenAsIndependent {
        /// Their symbols.
        loci: Vec<String>,
    },
    /// Some seedlings were removed without saying which look they had.
    RemovedUnseen {
        /// How many.
        count: i64,
    },
    /// No trait that was read can tell anything here.
    NothingReads,
    /// A weak seedling of a cross between species may be the true hybrid; or a cross within a species is hard by the
    /// grower's own word.
    WideCross {
        /// The mother's species.
        mother: String,
        /// The father's species.
        father: String,
        /// How hard such a cross is.
        crossability: Crossability,
        /// How many times likelier a whole tray of selfs is than within a species.
        all_self_times: f64,
    },
    /// Selfs of the mother cannot be told from the cross by anything read here.
    SelfsUnseen(Box<SelfsUnseen>),
    /// What was read of the growth of seedlings stays out of the sums, since the cross is one between species.
    RuntsLeftOut {
        /// The trait's code.
        trait_code: String,
        /// Which seedlings; none where only tallies say so.
        whose: Vec<String>,
        /// Whether tallies counted it.
        in_tallies: bool,
    },
    /// A firm class was read of a seedling or parent and then, on the same day, another look of the same trait; the one
    /// recorded last counts.
    ReadTwice {
        /// Which plants.
        whose: Vec<String>,
        /// The day.
        day: Day,
        /// The trait's code.
        trait_code: String,
        /// The class recorded before.
        set_aside: String,
        /// The look that counts: `green`, `maybe green`, `early`.
        counted: String,
    },
    /// Plants were read after they were recorded as gone; these readings stay out of the sums.
    ReadWhenGone {
        /// Which plants.
        whose: Vec<String>,
        /// The day of the reading.
        day: Day,
        /// The trait's code.
        trait_code: String,
        /// What was read.
        class: String,
        /// What had become of them.
        fate: FateKind,
        /// When.
        since: Day,
    },
    /// A plant that was about by the records was sown no earlier than this cross, and is no donor.
    DonorSownLater {
        /// The plant.
        plant: String,
        /// When it was sown.
        sown: Day,
        /// The day of the pollination.
        crossed: Day,
    },
    /// A parent by its label was firmly read as a class that its statement cannot give.
    ParentLooksOtherwise {
        /// The parent.
        plant: String,
        /// What is stated of it.
        stated: String,
        /// The trait.
        trait_code: String,
        /// The class read.
        class: String,
        /// The day of the reading.
        day: Day,
    },
    /// A pot of a parent's own seed that has not turned and yet is no control of this batch.
    NoControl {
        /// Its code.
        pot: String,
        /// The parent.
        parent: String,
        /// The batch that it is no control of.
        tray: String,
        /// Why.
        why: NoControl,
    },
    /// Readings from after the day asked about are left out.
    LaterReadings {
        /// How many.
        count: i64,
        /// The day asked about.
        asked: Day,
    },
    /// A parent of which an allele was left open may well be the kind that gives what looks foreign here.
    OpenParent {
        /// The parent.
        plant: String,
        /// What is stated of it.
        stated: String,
        /// What it may well be.
        likelier: String,
        /// With this probability.
        p: f64,
        /// The class that it then gives.
        class: String,
    },
    /// Plants kept from the batch, and their offspring, say something else of its seedlings than its list does.
    KeptSay {
        /// The batch's code.
        tray: String,
        /// Which seedlings.
        seedlings: Vec<OffByAll>,
    },
    /// Seedlings show what the parents as stated cannot give.
    Clash(Clash),
    /// None of the readings is well explained: not by the label, not by any source.
    LabelFitsBadly {
        /// The plant most likely not what is stated.
        plant: String,
        /// Its stated genotype.
        stated: String,
        /// The genotype it more likely has.
        likelier: String,
        /// The class that the plant itself would then show, where the stated genotype would show another.
        would_show: Option<String>,
        /// With this probability.
        p: f64,
        /// Whether a pot of its own seed was read already.
        has_pot: bool,
    },
}

/// P(off-type) of seedlings read alike by everything recorded, where the list of their batch says something else.
#[derive(Debug, Clone, PartialEq)]
pub struct OffByAll {
    /// Their names and cells.
    pub whose: Vec<(String, Option<i64>)>,
    /// The code of a plant kept.
    pub code: Option<String>,
    /// P(off-type) on the list.
    pub listed: f64,
    /// The same by everything recorded.
    pub p_off: f64,
}

/// Why a pot of a parent's own seed is no control.
#[derive(Debug, Clone, PartialEq)]
pub enum NoControl {
    /// Its seedlings need not turn.
    NeedNotTurn {
        /// P(one of them ends in a late class).
        share: f64,
        /// What is stated of the parent.
        stated: Option<String>,
    },
    /// It stands elsewhere, or nobody named where.
    OtherPlace {
        /// Its place, or empty.
        pot: String,
        /// That of the batch, or empty.
        tray: String,
    },
    /// It was looked at on another day.
    OtherDay {
        /// Its newest look.
        pot: Day,
        /// That of the batch.
        tray: Day,
    },
    /// It need not have turned yet.
    TooYoung,
}

/// A trait that shows selfs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tells {
    /// Its code.
    pub trait_code: String,
    /// Whether it is offered for scoring.
    pub switched_on: bool,
    /// The class that tells a self.
    pub of_self: String,
    /// The class of the label.
    pub of_label: String,
}

/// The cross made the other way round, which shows selfs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OtherWay {
    /// How a trait read here shows them.
    pub tells: Tells,
    /// How hard that cross is.
    pub crossability: Crossability,
    /// The codes of such crosses that were made already.
    pub crosses: Vec<String>,
    /// The codes of trays of them.
    pub trays: Vec<String>,
}

/// What would show selfs of the mother where nothing read here can.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SelfsUnseen {
    /// The mother.
    pub mother: String,
    /// The father.
    pub father: String,
    /// The class in which mother, selfs and label all end, where all seedlings were read so.
    pub all_like_mother: Option<String>,
    /// Traits that would show selfs.
    pub traits: Vec<Tells>,
    /// How a trait read here would show selfs of the cross made the other way round.
    pub other_way: Option<OtherWay>,
    /// A homozygous father that would show them, and what is stated of the father as he is.
    pub father_as: Option<(String, Option<String>)>,
}

/// How far a stated genotype is doubted, given everything recorded and this batch.
#[derive(Debug, Clone, PartialEq)]
pub struct Doubt {
    /// The parent.
    pub plant: String,
    /// What is stated.
    pub stated: String,
    /// P(it is something else).
    pub p: f64,
    /// The class that the plant would show if it were what is likeliest else, where a look at it tells: class, genotype.
    pub would_show: Option<(String, String)>,
    /// Whether a pot of its own seed was read already.
    pub has_pot: bool,
}

/// The answer for one batch.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchAnswer {
    /// The batch's number.
    pub batch_id: i64,
    /// Its code.
    pub tray: String,
    /// The code of the cross sown, or of the parent whose packet was sown.
    pub cross: String,
    /// Whether a packet was sown.
    pub packet: bool,
    /// Mother and father as on the label.
    pub label: (String, String),
    /// The day of sowing.
    pub sown: Day,
    /// Living seedlings with a telling reading.
    pub n: i64,
    /// Living seedlings without one.
    pub unscored: i64,
    /// Their places, of those that can be named.
    pub known_unscored: Vec<String>,
    /// How much of what can go wrong the marker could show.
    pub visibility: f64,
    /// P(source | everything recorded).
    pub sources: Vec<SourceShare>,
    /// For each source, P(an off-type seedling from it shows a class the label does not allow).
    pub visible: Vec<SourceShare>,
    /// The seedlings and tallied looks.
    pub seedlings: Vec<SeedlingAnswer>,
    /// Expected true seedlings among the culls.
    pub true_lost_by_culling: f64,
    /// Expected off-types among the rest.
    pub off_left_by_keeping: f64,
    /// P(off-type) of a seedling without a telling reading.
    pub p_off_unscored: f64,
    /// Where a seedling is explained by nothing: how far each stated parent is doubted, the most doubtful first.
    pub doubts: Vec<Doubt>,
    /// What has to be said about the evidence.
    pub notes: Vec<EvidenceNote>,
}

/// The answer of `suspects`.
#[derive(Debug, Clone, PartialEq)]
pub struct Suspects {
    /// The day it was asked.
    pub today: Day,
    /// Batch by batch.
    pub batches: Vec<BatchAnswer>,
    /// Starting beliefs and thresholds that are not the default, with their values.
    pub changed_beliefs: Vec<(&'static str, f64)>,
}
