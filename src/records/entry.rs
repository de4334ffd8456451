//! What a grower hands in: one entry per recording command, as typed but well formed.
//!
//! Codes, days, counts and cells are already of their own types here; whether the things exist and the
//! numbers agree is judged by [`super::admit`]. The command line makes entries and nothing else does.

use super::cells::{CellRange, Spot};
use super::code::Code;
use super::count::Count;
use super::day::Day;
use super::parentage::{Odd, Parentage};
use super::rows::{FateKind, GoalKind, PlantCytoplasm, PlantKind, TasteMethod};
use super::target::Target;

/// One recording command.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Entry {
    /// A new ledger, with the built-in loci and traits.
    Init,
    /// A parent.
    Parent(NewParent),
    /// A seedling kept as what it probably is.
    Adoption(Adoption),
    /// That a plant's pollen was about.
    InFlower(InFlower),
    /// What is known of a locus.
    Locus(LocusFacts),
    /// A trait and its gene model.
    Trait(NewTrait),
    /// A trait on ordered grades.
    GradedTrait(NewGradedTrait),
    /// A rival gene model of a trait.
    Model(NewModel),
    /// Which gene model of a trait is in use.
    UseModel(UseModel),
    /// A trait offered for scoring or not.
    SwitchTrait(SwitchTrait),
    /// When a trait shows its late classes.
    LateColour(LateColour),
    /// Which trait bare class words belong to.
    BenchTrait(Code),
    /// What is bred for.
    Goal(NewGoal),
    /// What is no longer bred for.
    DropGoal(Seen),
    /// One pollination of a cross or self.
    Pollination(NewPollination),
    /// What became of the flowers of a pollination.
    PodSet(PodSet),
    /// A harvest of a cross.
    Harvest(Harvest),
    /// Seed that came from elsewhere.
    Packet(Packet),
    /// A sowing.
    Sowing(Sowing),
    /// How many are up.
    Up(UpCount),
    /// Readings and tallies.
    Score(Score),
    /// Readings that were tastings.
    Tasted(Tasted),
    /// Grades of a plant.
    Grade(Grades),
    /// What became of seedlings.
    Fate(Fates),
    /// A treatment.
    Care(Care),
    /// Measures of a plant.
    Measure(Measures),
    /// A remark.
    Note(Note),
    /// Pictures.
    Photo(Photos),
    /// A starting belief or threshold.
    Assume(Assume),
    /// Several of them at once.
    AssumeAll(Vec<Assume>),
    /// What is said of a pair of species.
    Species(SpeciesSaid),
}

impl Entry {
    /// Whether one can be corrected into the other: made by one command, a tasting being a reading all the same.
    #[must_use]
    pub fn is_kind_of(&self, other: &Self) -> bool {
        let is_reading = |entry: &Self| matches!(entry, Self::Score(_) | Self::Tasted(_));
        let same = std::mem::discriminant(self) == std::mem::discriminant(other);
        same || (is_reading(self) && is_reading(other))
    }
}

/// `parent add`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewParent {
    /// Its code.
    pub code: Code,
    /// Its name, where given.
    pub name: Option<String>,
    /// Its species, where given.
    pub species: Option<String>,
    /// Line, packet or single plant; no matter with `from`.
    pub kind: PlantKind,
    /// A genotype stated of it.
    pub genotype: Option<String>,
    /// Whether that genotype is proven.
    pub proven: bool,
    /// How it looks when grown.
    pub looks: Vec<Seen>,
    /// Its cytoplasm, where stated.
    pub cytoplasm: Option<PlantCytoplasm>,
    /// The seedling that gets this second code.
    pub from: Option<Target>,
    /// Its pedigree in Purdy's notation, where given.
    pub pedigree: Option<String>,
    /// The day of entry.
    pub day: Day,
}

/// `adopt`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Adoption {
    /// The seedling.
    pub seedling: Target,
    /// The code that it gets beside its place, where given.
    pub code: Option<Code>,
    /// Its name, where given.
    pub name: Option<String>,
    /// The parents that the grower believes it to have; where not said, the likeliest that are not its label's.
    pub chosen: Option<Parentage>,
    /// The parents it may have, each with its probability as worked out when it was kept.
    pub odds: Vec<Odd>,
    /// The day.
    pub day: Day,
}

/// `parent in-flower`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InFlower {
    /// The plant.
    pub plant: Target,
    /// First day.
    pub from: Day,
    /// Last day.
    pub until: Option<Day>,
}

/// `locus set`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LocusFacts {
    /// Its symbol.
    pub symbol: String,
    /// Its alleles in order, where stated.
    pub alleles: Option<Vec<String>>,
    /// The chromosome.
    pub chromosome: Option<String>,
    /// The position in centimorgans, as typed.
    pub at: Option<String>,
    /// Shares of alleles among founders, as typed.
    pub shares: Vec<(String, String)>,
    /// Measured recombination fractions with other loci, as typed.
    pub recombines: Vec<(String, String)>,
}

/// `trait add`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewTrait {
    /// Its code.
    pub code: Code,
    /// What it is, in words.
    pub name: Option<String>,
    /// Its classes, in order.
    pub classes: Vec<String>,
    /// The rules, as typed.
    pub rules: Vec<String>,
    /// In place of classes and rules: one new gene.
    pub one_gene: Option<OneGene>,
    /// Late classes: `purple after green`.
    pub late: Vec<String>,
    /// Median age at onset in days, as typed.
    pub median_days: Option<String>,
    /// Spread of its log, as typed.
    pub spread: Option<String>,
    /// Share that ever shows it, as typed.
    pub ceiling: Option<String>,
    /// P(misread), as typed.
    pub misread: Option<String>,
    /// P(misread) of single classes, as typed.
    pub class_misread: Vec<(String, String)>,
    /// The organ.
    pub organ: Option<String>,
    /// The stage.
    pub stage: Option<String>,
}

/// `trait add` with `--grades`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewGradedTrait {
    /// Its code.
    pub code: Code,
    /// What it is, in words.
    pub name: Option<String>,
    /// The grades as typed: `0-5`, or words from the lowest up.
    pub grades: String,
    /// The organ.
    pub organ: Option<String>,
}

/// One new gene in growers' words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OneGene {
    /// The look of the dominant allele.
    pub dominant: String,
    /// The look of two copies of the recessive allele.
    pub recessive: String,
    /// The look of one copy of each, where it is in between.
    pub between: Option<String>,
}

/// `trait model add`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewModel {
    /// The trait.
    pub of: Code,
    /// The model's name.
    pub name: String,
    /// The rules, as typed.
    pub rules: Vec<String>,
    /// Where it comes from.
    pub source: Option<String>,
}

/// `trait model use`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UseModel {
    /// The trait.
    pub of: Code,
    /// The model's name.
    pub name: String,
}

/// `trait on` and `trait off`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SwitchTrait {
    /// The trait.
    pub of: Code,
    /// Whether it is to be offered for scoring.
    pub on: bool,
}

/// `trait late`: what is left unsaid stays as it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LateColour {
    /// The trait.
    pub of: Code,
    /// Median age at onset in days, as typed.
    pub median_days: Option<String>,
    /// Spread of its log, as typed.
    pub spread: Option<String>,
    /// Share that ever shows it, as typed.
    pub ceiling: Option<String>,
}

/// `goal add`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewGoal {
    /// The look.
    pub look: Seen,
    /// How much it matters.
    pub kind: GoalKind,
    /// The weight of a want, as typed.
    pub weight: Option<String>,
    /// Whether of grades the lower ones are wanted.
    pub less: bool,
}

/// `cross` and `self`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewPollination {
    /// The mother.
    pub mother: Target,
    /// The father; nothing for a self.
    pub father: Option<Target>,
    /// The code of the cross, where given.
    pub code: Option<Code>,
    /// How many flowers.
    pub flowers: Option<Count>,
    /// The tool, or empty.
    pub tool: String,
    /// Whether the tool was cleaned before.
    pub wiped: bool,
    /// Whether the anthers were taken out.
    pub emasculated: bool,
    /// Whether the flower was covered.
    pub covered: bool,
    /// The day; nothing where long forgotten.
    pub day: Option<Day>,
}

/// Which of a cross's pollinations is meant: that of a day, or that of a day long forgotten.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PollinationDay {
    /// That of this day.
    On(Day),
    /// That of an unknown day.
    Unknown,
}

impl PollinationDay {
    /// The day, where it is known.
    #[must_use]
    pub const fn day(self) -> Option<Day> {
        match self {
            Self::On(day) => Some(day),
            Self::Unknown => None,
        }
    }
}

/// `set`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PodSet {
    /// The cross.
    pub cross: Code,
    /// How many flowers became pods.
    pub pods: Option<Count>,
    /// How many dropped.
    pub dropped: Option<Count>,
    /// The day of the pollination meant, where there are several.
    pub pollinated: Option<PollinationDay>,
    /// Which of those of that day, or of all, in the order recorded.
    pub nth: Option<Count>,
    /// The day of the look.
    pub day: Day,
}

/// `harvest`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Harvest {
    /// The cross.
    pub cross: Code,
    /// How many pods.
    pub pods: Option<Count>,
    /// How many seeds.
    pub seeds: Option<Count>,
    /// Whether the seeds are only estimated.
    pub about: bool,
    /// The day of the pollination it came from.
    pub pollinated: Option<PollinationDay>,
    /// Where it is kept.
    pub kept: String,
    /// The day of harvest.
    pub day: Day,
}

/// `packet`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packet {
    /// The parent it is seed of.
    pub plant: Target,
    /// How many seeds.
    pub seeds: Option<Count>,
    /// Its label.
    pub label: String,
    /// Who gave it, by alias.
    pub giver: String,
    /// What the giver says it is.
    pub claim: Option<Claim>,
    /// Where it is kept.
    pub kept: String,
    /// The day of receipt.
    pub day: Day,
}

super::value::stored_words! {
    /// What the giver of a packet says it is.
    Claim {
        /// Seed of a line.
        Line = "line",
        /// Seed of a hybrid's selfing.
        F2 = "F2",
        /// Open pollinated.
        Open = "open",
    }
}

/// `sow`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sowing {
    /// The cross or parent sown, perhaps with the lot: `X1/2`.
    pub source: Target,
    /// The lot's number, where said apart.
    pub lot: Option<i64>,
    /// How many seeds.
    pub seeds: Count,
    /// The tray's code, where given.
    pub tray: Option<Code>,
    /// In how many cells; one per seed where not said.
    pub cells: Option<Count>,
    /// Where it stands.
    pub place: String,
    /// In what medium.
    pub medium: String,
    /// Under what light.
    pub light: String,
    /// How warm the soil is, where said.
    pub warmth: Option<String>,
    /// The day of sowing.
    pub day: Day,
}

/// `up`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UpCount {
    /// The batch.
    pub batch: Code,
    /// How many, and where.
    pub what: UpWhat,
    /// The day.
    pub day: Day,
}

/// How many are up, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum UpWhat {
    /// So many in the whole batch.
    Batch(Count),
    /// One in each of these cells.
    Cells(CellRange),
    /// So many in one cell.
    Cell(i64, Count),
}

/// One piece of a look, as typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Seen {
    /// The trait, where it was named with a colon.
    pub of: Option<String>,
    /// What was seen.
    pub what: SeenWhat,
}

/// What was seen of one trait.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SeenWhat {
    /// A class, plainly.
    Class(String),
    /// A class, written down with `maybe-`.
    Maybe(String),
    /// Too young to be scored.
    Early,
    /// Too dim to be scored.
    Dim,
}

/// A look: classes of one or several traits of one seedling.
pub type Look = Vec<Seen>;

/// `score`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Score {
    /// What was scored.
    pub target: Target,
    /// What was seen.
    pub what: ScoreWhat,
    /// The trait named with `--trait`.
    pub of: Option<Code>,
    /// The age in leaves, where said.
    pub leaves: Option<Count>,
    /// The day.
    pub day: Day,
}

/// `score` with `--tasted`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tasted {
    /// The readings.
    pub score: Score,
    /// What was tasted.
    pub method: TasteMethod,
}

/// What was seen, and of whom.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ScoreWhat {
    /// One look of one plant.
    Plant(Look),
    /// So many seedlings of each look, in the batch or cell.
    Tally(Vec<(Count, Look)>),
    /// Seedlings by their places in the batch.
    Spots(Vec<(Vec<Spot>, Look)>),
}

/// `grade`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Grades {
    /// The plant.
    pub target: Target,
    /// Graded trait and grade, as typed.
    pub grades: Vec<(String, String)>,
    /// The pod, where said.
    pub pod: Option<Count>,
    /// Who gave them, or empty.
    pub taster: String,
    /// The day.
    pub day: Day,
}

/// `cull`, `thin`, `died`, `pot-up`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fates {
    /// What became of them.
    pub kind: FateKind,
    /// Of whom.
    pub whom: Vec<FateWhom>,
    /// The trait named with `--trait`.
    pub of: Option<Code>,
    /// Whether they were chosen without regard to their looks.
    pub blind: bool,
    /// Why.
    pub why: String,
    /// The day.
    pub day: Day,
}

/// Which seedlings are meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FateWhom {
    /// One plant by its place or its own code.
    Plant(Target),
    /// Seedlings by their places in a batch.
    Spots(Code, Vec<Spot>),
    /// So many of a batch or cell, whichever.
    Count(Target, Count),
    /// Those of a look in a batch or cell; all of them without a count.
    Look(Target, Look, Option<Count>),
    /// Those of a look among the seedlings of some cells.
    LookIn(Code, Vec<Spot>, Look),
    /// Seedlings by their places, with the look they have as they go.
    Read(Code, Vec<Spot>, Look),
}

/// `care`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Care {
    /// What for or against.
    pub kind: String,
    /// What got it; nothing for the whole bench.
    pub targets: Vec<Target>,
    /// The product.
    pub product: String,
    /// The dose.
    pub dose: String,
    /// Days until it is due again.
    pub every: Option<Count>,
    /// A remark.
    pub note: String,
    /// The day.
    pub day: Day,
}

/// `measure`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measures {
    /// The plant.
    pub target: Target,
    /// What was measured.
    pub measures: Vec<Measured>,
    /// The day.
    pub day: Day,
}

/// One measure: name, number as typed, unit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measured {
    /// What was measured.
    pub name: String,
    /// The number.
    pub number: String,
    /// The unit, or empty.
    pub unit: String,
}

/// `note`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// What it is about.
    pub target: Target,
    /// The remark.
    pub text: String,
    /// The day.
    pub day: Day,
}

/// `photo`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photos {
    /// What they show.
    pub target: Target,
    /// Path and SHA-256 of each.
    pub files: Vec<(String, String)>,
    /// The day.
    pub day: Day,
}

/// `species` with something to say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpeciesSaid {
    /// The mother's species.
    pub mother: String,
    /// The father's.
    pub father: String,
    /// How hard the cross is, as typed.
    pub crossing: Option<String>,
    /// How fertile the hybrid is, as typed.
    pub fertility: Option<String>,
}

/// `assume`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assume {
    /// The key.
    pub key: String,
    /// The value as typed; nothing for the default again.
    pub value: Option<String>,
}
