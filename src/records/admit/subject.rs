//! What an answer is about: numbers of the rows that an admitted entry made or touched.
//!
//! Made by the gate; the report puts it into words from the facts as they are afterwards.

use crate::genetics::purdy::PurdyDoubt;
use crate::records::day::Day;
use crate::records::entry::OneGene;
use crate::records::rows::{FateKind, GoalRow};
use crate::records::species::Crossing;

/// Parents that a seedling may have, each where it is a plant of the ledger.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ParentChance {
    /// The mother.
    pub mother: Option<i64>,
    /// The father.
    pub father: Option<i64>,
    /// Their probability.
    pub chance: String,
}

/// What the answer is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Subject {
    /// A new ledger.
    Ledger {
        /// How many traits it has.
        traits: usize,
        /// How many loci it has.
        loci: usize,
    },
    /// A parent, new or a seedling with a new code.
    Parent {
        /// The plant.
        plant: i64,
        /// Symbols of loci first met in its genotype.
        new_loci: Vec<String>,
    },
    /// A seedling kept as what it probably is.
    Adoption {
        /// The row.
        adoption: i64,
        /// Everything that it may be, as far as the entry says.
        odds: Vec<ParentChance>,
    },
    /// A plant in flower.
    InFlower {
        /// The row.
        in_flower: i64,
    },
    /// A locus.
    Locus {
        /// The locus.
        locus: i64,
        /// Whether it is new.
        new: bool,
    },
    /// A trait.
    Trait {
        /// The trait.
        of: i64,
        /// What was done.
        done: TraitDone,
        /// Symbols of loci first met in its rules.
        new_loci: Vec<String>,
    },
    /// A goal.
    Goal {
        /// The row.
        goal: i64,
        /// The goal that was set before of the same look.
        before: Option<GoalRow>,
    },
    /// A goal that was given up.
    GoalGone {
        /// The row as it was.
        goal: GoalRow,
    },
    /// A pollination.
    Pollination {
        /// The row.
        pollination: i64,
        /// Which of its cross's pollinations it is, from 1.
        number: usize,
    },
    /// What became of the flowers of a pollination.
    PodSet {
        /// The pollination.
        pollination: i64,
    },
    /// A lot of seed.
    Lot {
        /// The lot.
        lot: i64,
    },
    /// A sowing.
    Sowing {
        /// The batch.
        batch: i64,
    },
    /// How many are up.
    Up {
        /// The batch.
        batch: i64,
        /// The cells counted; none for a count of the batch.
        cells: Vec<i64>,
        /// The day.
        day: Day,
    },
    /// A tally.
    Tally {
        /// The tally.
        tally: i64,
    },
    /// Grades of a plant.
    Grades {
        /// The grades.
        grades: Vec<i64>,
    },
    /// Readings of single plants.
    Readings {
        /// The readings.
        readings: Vec<i64>,
    },
    /// What became of seedlings.
    Fate {
        /// The batch.
        batch: i64,
        /// What became of them.
        kind: FateKind,
        /// The rows.
        fates: Vec<i64>,
        /// The day.
        day: Day,
    },
    /// A treatment.
    Care {
        /// The row.
        care: i64,
    },
    /// Measures.
    Measures {
        /// The rows.
        measures: Vec<i64>,
    },
    /// A remark.
    Remark {
        /// The row.
        remark: i64,
    },
    /// Pictures.
    Photos {
        /// The rows.
        photos: Vec<i64>,
    },
    /// A starting belief.
    Assumption {
        /// The key.
        key: &'static str,
        /// The value as it was, where it had been changed.
        before: Option<String>,
    },
    /// What is said of a pair of species.
    SpeciesPair {
        /// The mother's species.
        mother: String,
        /// The father's.
        father: String,
    },
    /// Several starting beliefs at once: each with the value as it was, where it had been changed.
    Assumptions {
        /// The keys.
        changed: Vec<(&'static str, Option<String>)>,
    },
}

/// What was done to a trait.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TraitDone {
    /// Newly added.
    Added,
    /// Put in the place of one of the same code that was never scored.
    Redefined,
    /// Given a rival model.
    ModelAdded,
    /// Given another model to use.
    ModelChosen,
    /// Switched on.
    SwitchedOn,
    /// Switched off.
    SwitchedOff,
    /// Told when its late classes show.
    LateSet,
    /// Made the bench trait.
    MadeBench,
}

/// What the grower should know beside the answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notice {
    /// Something implausible that was recorded all the same, in words.
    EvenSo(String),
    /// A tally that is kept but is no evidence, since single seedlings are followed there.
    TallyIdle {
        /// The tray or cell.
        place: String,
        /// What is counted in its stead.
        instead: String,
    },
    /// Earlier tallies of a place that are no evidence from now on.
    TallyOverruled {
        /// The tray or cell.
        place: String,
        /// What is counted in their stead.
        instead: String,
    },
    /// A reading from before the sowing stays out of the sums.
    OutOfSums {
        /// The tray, cell or seedling.
        place: String,
    },
    /// A count of those up that is lower than the one before.
    FewerUp {
        /// How many there were.
        before: i64,
    },
    /// Gene models that went with the old definition of a trait.
    ModelsGone {
        /// The trait.
        of: String,
        /// Their names.
        models: Vec<String>,
    },
    /// A cross that was made on purpose and has the parents that a seedling is kept as having.
    StandsElsewhere {
        /// The seedling.
        seedling: String,
        /// The parents.
        parents: String,
        /// The codes of the crosses.
        crosses: Vec<String>,
    },
    /// A seedling is kept as something that what was recorded of it speaks against.
    AgainstRecords {
        /// The seedling.
        seedling: String,
        /// The parents.
        parents: String,
        /// Their probability.
        chance: String,
    },
    /// A seedling was pulled that is kept as something else than its label.
    KeptPulled {
        /// The seedling.
        seedling: String,
        /// Its code, where it has one.
        code: Option<String>,
        /// The parents that it is kept as having.
        parents: String,
    },
    /// A gene that got symbols of its own.
    Gene {
        /// The locus, and its dominant allele.
        symbol: String,
        /// Its recessive allele.
        recessive: String,
        /// Its looks.
        words: OneGene,
    },
    /// A first reading in a tray of which nobody counted what came up.
    NobodyUp {
        /// The tray.
        tray: String,
    },
    /// A bare number that was taken as a count where it could be a cell.
    CountNotSeedling {
        /// The number.
        count: i64,
        /// The seedling of that number.
        seedling: String,
    },
    /// A measure far off those of the other seedlings of its tray.
    FarOff {
        /// The measure, as it is written.
        measure: String,
        /// How many others were measured.
        others: usize,
        /// The median of those, in the same unit.
        usual: String,
    },
    /// Seedlings of an unread tray whose look is kept with their end alone.
    LookOfPulled {
        /// The tray.
        tray: String,
    },
    /// Seedlings whose look is kept with their end, since a tally has counted them.
    CountedInTally {
        /// What was tallied.
        place: String,
        /// When.
        day: Day,
    },
    /// A pod picked so young that its seed may not come up.
    PickedYoung {
        /// Days from the pollination, the first where there were several.
        days: i64,
        /// The mother's species; empty where it is not known.
        species: String,
    },
    /// Pods and drops of a pollination that are fewer than were recorded before.
    FewerSet {
        /// The cross.
        cross: String,
        /// Pods and drops as they were.
        before: [i64; 2],
        /// As they are now.
        now: [i64; 2],
        /// Whether so many flowers were pollinated that both could be counted together.
        may_be_further: bool,
    },
    /// Seed is sown of a cross of which no flower is recorded to have set, and no harvest.
    NothingSet {
        /// The cross.
        cross: String,
    },
    /// Which of several lots was drawn on.
    LotTaken {
        /// The lot.
        lot: String,
        /// The other lots at hand.
        others: Vec<String>,
    },
    /// A look that a stated genotype cannot give.
    Unlike {
        /// The plant.
        plant: String,
        /// Its genotype as stated.
        genotype: String,
        /// The trait.
        of: String,
        /// The look.
        class: String,
        /// The looks that the genotype can give.
        gives: Vec<String>,
    },
    /// Something doubtful in a pedigree that was read all the same.
    Pedigree(PurdyDoubt),
    /// Names of a pedigree that no plant of the ledger has, entered as ancestors.
    NewAncestors {
        /// The names.
        names: Vec<String>,
        /// A name that one of them may have meant.
        nearest: Option<(String, String)>,
    },
    /// An ancestor named in earlier pedigrees that is a parent from now on.
    WasAncestor {
        /// Its name.
        name: String,
    },
    /// A cross of species that seldom gives seed of its own.
    HardCross(Crossing),
    /// Seedlings of a cross between species were pulled as weak.
    RuntPulled(Crossing),
    /// Class words of a new trait that another trait on offer has too.
    SharedWords {
        /// The new trait.
        added: String,
        /// The other.
        of: String,
        /// The words.
        shared: Vec<String>,
    },
    /// A tool that was never named, spelt nearly as one that was.
    NearTool {
        /// As typed.
        tool: String,
        /// The one that is known.
        near: String,
    },
    /// The same pair was crossed before.
    SamePair {
        /// The cross that it was.
        cross: String,
        /// The day, where it is the same.
        day: Option<Day>,
    },
    /// Fewer leaves than were counted before.
    FewerLeaves {
        /// The seedling or tray.
        place: String,
        /// How many there were.
        before: i64,
        /// On what day.
        since: Day,
    },
    /// A second tally of a place on one day; the newer counts.
    TalliedTwice {
        /// The tray or cell.
        place: String,
        /// The day.
        day: Day,
        /// The tally before, in words.
        looks: String,
    },
    /// Fewer of a late colour than in the tally before, though not so many went: it does not go once it is there.
    LateColourWent {
        /// The tray or cell.
        place: String,
        /// The late class.
        class: String,
        /// How many had it.
        had: i64,
        /// On what day.
        since: Day,
        /// How many have it now.
        has: i64,
    },
    /// Two firm classes of one trait were read of a seedling on one day; the newer counts.
    ReadTwice {
        /// The seedlings or parents.
        places: Vec<String>,
        /// The day.
        day: Day,
        /// The class read before.
        before: String,
        /// The class read now.
        now: String,
    },
    /// A taster graded the same pod of a plant twice on one day; the newer counts.
    GradedTwice {
        /// The seedling or parent.
        place: String,
        /// The day.
        day: Day,
        /// The grade before: `heat 5`.
        before: String,
        /// The grade now.
        now: String,
    },
    /// A plant graded for heat that nobody said to be hot or not.
    NotTasted {
        /// The seedling or parent.
        place: String,
    },
    /// A measure of nought.
    NothingMeasured {
        /// Name, number and unit.
        measure: String,
    },
    /// A measure without a unit, where others of its name have one.
    NoUnit {
        /// The measure.
        name: String,
        /// The unit of the newest of the others.
        unit: String,
    },
    /// A reading of a seedling from after it went stays out of the sums.
    ReadWhenGone {
        /// The seedling.
        place: String,
    },
    /// A plant is said to flower sooner after its sowing than one can.
    HardlyInFlower {
        /// The plant.
        plant: String,
        /// Days from its sowing.
        days: i64,
    },
    /// The first warmth recorded: what to mind of mats, lamps and water.
    FirstWarmth,
    /// A measure in a unit that is put into no other, and that nothing was measured in before.
    OddUnit {
        /// The unit.
        unit: String,
    },
    /// A measure whose name is new, and near to one that was measured before.
    NearMeasure {
        /// As typed.
        typed: String,
        /// The name it may have meant.
        near: String,
    },
    /// A measure beyond what a pepper plant gets to.
    LargeMeasure {
        /// Name, number and unit.
        measure: String,
    },
    /// A species that is not one of the cultivated five.
    OtherSpecies {
        /// As typed.
        species: String,
        /// The one of them that may be meant.
        near: Option<String>,
    },
}
