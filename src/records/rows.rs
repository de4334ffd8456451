//! The rows of the ledger: one struct per table, with the same fields in the same order.
//!
//! This is the one list of what is kept. Whoever stores the rows takes the table names and columns from
//! here; whoever reasons about them gets typed fields. Fractions are kept as the text that was typed.

use super::day::Day;
use super::value::{Field, MisfitError, Value, stored_words};

stored_words! {
    /// What a code or a remark belongs to.
    Thing {
        /// A parent or a seedling.
        Plant = "plant",
        /// A cross or a self.
        Cross = "cross",
        /// A tray or pot of seedlings of one sowing.
        Batch = "batch",
        /// A trait.
        Trait = "trait",
        /// A lot of seed.
        Lot = "lot",
    }
}

stored_words! {
    /// How a plant came to be in the ledger.
    PlantKind {
        /// A line that breeds true.
        Line = "line",
        /// A named packet of less certain descent.
        Packet = "packet",
        /// A single plant of unknown origin.
        Single = "plant",
        /// A seedling of one of the ledger's batches.
        Seedling = "seedling",
        /// An unnamed ancestor in a pedigree.
        Ancestor = "ancestor",
    }
}

stored_words! {
    /// The cytoplasm a plant has from its mother.
    PlantCytoplasm {
        /// Normal: pollen is made.
        Normal = "normal",
        /// Sterile: pollen only with a restorer.
        Sterile = "sterile",
        /// Not known.
        Unknown = "unknown",
    }
}

stored_words! {
    /// How sure a reading is.
    Sureness {
        /// Plainly seen.
        Firm = "firm",
        /// Written down with a `maybe-`.
        Doubtful = "doubtful",
        /// The seedling was too young to be scored.
        Early = "early",
        /// The light was too dim to score.
        Dim = "dim",
    }
}

stored_words! {
    /// What became of a seedling.
    FateKind {
        /// Pulled as not wanted.
        Culled = "culled",
        /// Pulled to give the others room.
        Thinned = "thinned",
        /// Died by itself.
        Died = "died",
        /// Moved on to a pot of its own; alive.
        PottedUp = "potted-up",
    }
}

stored_words! {
    /// What of a pod was tasted.
    TasteMethod {
        /// A crumb of the wall at the tip.
        Tip = "tip",
        /// The wall near the stalk.
        Wall = "wall",
        /// The placenta, where the heat is made.
        Placenta = "placenta",
    }
}

stored_words! {
    /// How much a goal matters.
    GoalKind {
        /// A plant that can't give it is not worth keeping.
        Must = "must",
        /// The more of it, the better.
        Want = "want",
        /// A plant that shows it is not worth keeping.
        Avoid = "avoid",
    }
}

/// A row of one table.
pub trait Record: Sized + Clone {
    /// The table it stands in.
    const TABLE: Table;
    /// The columns after `id`, in order.
    const COLUMNS: &'static [&'static str];
    /// The record's number, never given twice within its table.
    fn id(&self) -> i64;
    /// The values after `id`, in the order of [`Record::COLUMNS`].
    fn values(&self) -> Vec<Value>;
    /// The row from its number and values.
    ///
    /// # Errors
    /// [`MisfitError`] naming the field whose value does not fit.
    fn from_values(id: i64, values: &[Value]) -> Result<Self, MisfitError>;
}

macro_rules! tables {
    ($( $(#[$meta:meta])* $Row:ident as $Variant:ident at $shelf:ident in $table:literal
        { $( $(#[$fmeta:meta])* $field:ident : $ty:ty ),+ $(,)? } )+) => {
        $(
            $(#[$meta])*
            #[derive(Debug, Clone, PartialEq, Eq)]
            pub struct $Row {
                /// The record's number, never given twice within its table.
                pub id: i64,
                $( $(#[$fmeta])* pub $field: $ty ),+
            }

            impl Record for $Row {
                const TABLE: Table = Table::$Variant;
                const COLUMNS: &'static [&'static str] = &[$(stringify!($field)),+];
                fn id(&self) -> i64 {
                    self.id
                }
                fn values(&self) -> Vec<Value> {
                    vec![$( Field::to_value(&self.$field) ),+]
                }
                fn from_values(id: i64, values: &[Value]) -> Result<Self, MisfitError> {
                    let mut values = values.iter();
                    Ok(Self {
                        id,
                        $( $field: read_field($table, id, stringify!($field), values.next())? ),+
                    })
                }
            }
        )+

        /// Every table that the change log can alter, in the order in which rows may refer to earlier ones.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum Table {
            $( #[doc = concat!("`", $table, "`")] $Variant ),+
        }

        impl Table {
            /// All tables, in order.
            pub const ALL: &'static [Self] = &[$(Self::$Variant),+];
            /// The table's name.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$Variant => $table),+ }
            }
            /// The columns after `id`, in order.
            #[must_use]
            pub const fn columns(self) -> &'static [&'static str] {
                match self { $(Self::$Variant => $Row::COLUMNS),+ }
            }
            /// The table of a name.
            #[must_use]
            pub fn named(name: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|table| table.name() == name)
            }
        }

        /// A row of any table.
        #[derive(Debug, Clone, PartialEq, Eq)]
        pub enum Row {
            $( #[doc = concat!("A row of `", $table, "`")] $Variant($Row) ),+
        }

        impl Row {
            /// The table it stands in.
            #[must_use]
            pub const fn table(&self) -> Table {
                match self { $(Self::$Variant(_) => Table::$Variant),+ }
            }
            /// The record's number.
            #[must_use]
            pub fn id(&self) -> i64 {
                match self { $(Self::$Variant(row) => row.id),+ }
            }
            /// The values after `id`.
            #[must_use]
            pub fn values(&self) -> Vec<Value> {
                match self { $(Self::$Variant(row) => row.values()),+ }
            }
            /// The row of a table from its number and values.
            ///
            /// # Errors
            /// [`MisfitError`] naming the field whose value does not fit.
            pub fn from_values(table: Table, id: i64, values: &[Value]) -> Result<Self, MisfitError> {
                match table {
                    $(Table::$Variant => $Row::from_values(id, values).map(Self::$Variant)),+
                }
            }
        }

        $(
            impl From<$Row> for Row {
                fn from(row: $Row) -> Self {
                    Self::$Variant(row)
                }
            }
        )+

        /// All rows of the ledger, table by table.
        #[derive(Debug, Clone, Default, PartialEq, Eq)]
        pub struct Rows {
            $( #[doc = concat!("The rows of `", $table, "`")] pub $shelf: super::facts::Shelf<$Row> ),+
        }

        impl Rows {
            /// Puts a row in its place, replacing one of the same number.
            pub fn put(&mut self, row: Row) {
                match row { $(Row::$Variant(row) => self.$shelf.put(row)),+ }
            }
            /// Takes a row away, giving it back.
            pub fn take(&mut self, table: Table, id: i64) -> Option<Row> {
                match table { $(Table::$Variant => self.$shelf.take(id).map(Row::$Variant)),+ }
            }
            /// A copy of a row.
            #[must_use]
            pub fn find(&self, table: Table, id: i64) -> Option<Row> {
                match table { $(Table::$Variant => self.$shelf.get(id).cloned().map(Row::$Variant)),+ }
            }
            /// Every row of one table, by number.
            #[must_use]
            pub fn all(&self, table: Table) -> Vec<Row> {
                match table { $(Table::$Variant => self.$shelf.iter().cloned().map(Row::$Variant).collect()),+ }
            }
        }
    };
}

fn read_field<T: Field>(
    table: &'static str,
    id: i64,
    field: &'static str,
    value: Option<&Value>,
) -> Result<T, MisfitError> {
    value.and_then(T::from_value).ok_or_else(|| MisfitError {
        table,
        id,
        field,
        found: value.map_or_else(|| "nothing".to_owned(), |value| format!("{value:?}")),
        wanted: T::WANTED,
    })
}

tables! {
    /// A starting belief or threshold that was changed, what the grower says of a pair of species, or the bench trait.
    SettingRow as Setting at setting in "setting" {
        /// The key, e.g. `dim`.
        key: String,
        /// The value as typed.
        value: String,
    }
    /// A code and the thing it names; the first of several codes of a thing is its main one.
    CodeRow as Code at code in "code" {
        /// The key it is compared by.
        key: String,
        /// As typed.
        typed: String,
        /// What kind of thing it names.
        thing: Thing,
        /// The number of that thing.
        thing_id: i64,
    }
    /// A locus.
    LocusRow as Locus at locus in "locus" {
        /// Its symbol.
        symbol: String,
        /// The chromosome, or nothing where not known.
        chromosome: Option<String>,
        /// The position in centimorgans, as typed.
        at_cm: Option<String>,
    }
    /// One allele of a locus; dominant or wild type first.
    AlleleRow as Allele at allele in "allele" {
        /// Its locus.
        locus_id: i64,
        /// Its symbol, case as it matters.
        symbol: String,
        /// Its place in the order, from 0.
        ord: i64,
        /// The share among founders, as typed.
        share: Option<String>,
    }
    /// A measured recombination fraction of two loci.
    RecombinationRow as Recombination at recombination in "recombination" {
        /// The one locus, the smaller number.
        locus_a: i64,
        /// The other.
        locus_b: i64,
        /// The fraction, as typed.
        r: String,
    }
    /// A trait: what the eye scores. Its code stands in `code`.
    TraitRow as Trait at trait_ in "trait" {
        /// What it is, in words.
        name: String,
        /// The organ it is scored on.
        organ: String,
        /// The stage at which it shows, e.g. `seedling`.
        stage: String,
        /// P(misread) as typed, for all classes without their own.
        misread: String,
        /// Whether it is offered for scoring.
        switched_on: bool,
        /// Whether it is built in.
        built_in: bool,
        /// How far the trait can be trusted, or a caution.
        note: String,
    }
    /// One class of a trait.
    TraitClassRow as TraitClass at trait_class in "trait_class" {
        /// Its trait.
        trait_id: i64,
        /// Its place in the order, from 0.
        ord: i64,
        /// Its name.
        name: String,
        /// The class shown before this one, for a late class.
        after_class: Option<String>,
        /// P(misread) of this class as typed, where it has its own.
        misread: Option<String>,
    }
    /// A gene model of a trait.
    TraitModelRow as TraitModel at trait_model in "trait_model" {
        /// Its trait.
        trait_id: i64,
        /// Its name.
        name: String,
        /// Whether it is the one in use.
        in_use: bool,
        /// Where it comes from.
        source: String,
        /// How far it can be trusted.
        standing: String,
    }
    /// One rule of a gene model; the first match wins.
    TraitRuleRow as TraitRule at trait_rule in "trait_rule" {
        /// Its model.
        model_id: i64,
        /// Its place in the order, from 0.
        ord: i64,
        /// The genotype pattern, or `else`.
        pattern: String,
        /// The class it gives.
        class: String,
    }
    /// When the late classes of a trait show.
    OnsetRow as Onset at onset in "onset" {
        /// Its trait.
        trait_id: i64,
        /// Median age in days, as typed.
        median_days: String,
        /// Spread of the log, as typed.
        spread: String,
        /// Share that ever shows it, as typed.
        ceiling: String,
        /// How far it can be trusted.
        standing: String,
    }
    /// A plant: parent, seedling or ancestor.
    PlantRow as Plant at plant in "plant" {
        /// How it came to be here.
        kind: PlantKind,
        /// Its name, or empty.
        name: String,
        /// Its species, or empty.
        species: String,
        /// Its cytoplasm.
        cytoplasm: PlantCytoplasm,
        /// For a seedling: its batch.
        batch_id: Option<i64>,
        /// For a seedling: its cell.
        cell: Option<i64>,
        /// For one of several seedlings in a cell: its letter.
        part: String,
        /// The mother, where the plant came without a batch.
        mother_id: Option<i64>,
        /// The father, likewise.
        father_id: Option<i64>,
        /// The day it was entered.
        entered: Day,
    }
    /// A genotype stated of a plant; a later one of the same locus holds.
    StatementRow as Statement at statement in "statement" {
        /// The plant.
        plant_id: i64,
        /// The genotype, in notation.
        genotype: String,
        /// Whether it is marked as proven.
        proven: bool,
        /// The day it was stated.
        day: Day,
    }
    /// That a plant's pollen was about.
    InFlowerRow as InFlower at in_flower in "in_flower" {
        /// The plant.
        plant_id: i64,
        /// First day.
        from_day: Day,
        /// Last day, or nothing for a single day.
        until_day: Option<Day>,
    }
    /// A cross of two plants, or a self where both are one.
    CrossRow as Cross at cross in "cross" {
        /// The mother.
        mother_id: i64,
        /// The father.
        father_id: i64,
    }
    /// One pollination; the numbers give the order within a day.
    PollinationRow as Pollination at pollination in "pollination" {
        /// Its cross.
        cross_id: i64,
        /// The day, or nothing where long forgotten.
        day: Option<Day>,
        /// How many flowers.
        flowers: Option<i64>,
        /// The tool, or empty.
        tool: String,
        /// Whether the tool was cleaned before it.
        wiped: bool,
        /// Whether the anthers were taken out first.
        emasculated: bool,
        /// Whether the flower was covered.
        covered: bool,
        /// How many flowers became pods.
        pods: Option<i64>,
        /// How many dropped.
        dropped: Option<i64>,
    }
    /// A lot of seed: one harvest of a cross, or a packet of a parent.
    LotRow as Lot at lot in "lot" {
        /// The cross, for a harvest.
        cross_id: Option<i64>,
        /// The parent, for a packet.
        plant_id: Option<i64>,
        /// The lot's number within its cross or parent, from 1.
        number: i64,
        /// How many pods.
        pods: Option<i64>,
        /// How many seeds.
        seeds: Option<i64>,
        /// Whether the seeds are only estimated.
        about: bool,
        /// The day of harvest or receipt.
        day: Day,
        /// The day of the pollination it came from, where said.
        pollinated: Option<Day>,
        /// Where it is kept.
        kept: String,
        /// A packet's label.
        label: String,
        /// Who gave it, by alias.
        giver: String,
        /// What the giver says it is: line, F2, open.
        claim: String,
    }
    /// A batch: the seedlings of one sowing. Its code stands in `code`.
    BatchRow as Batch at batch in "batch" {
        /// The cross sown, or nothing for a packet.
        cross_id: Option<i64>,
        /// The parent whose packet was sown, or nothing for a cross.
        plant_id: Option<i64>,
        /// The day of sowing.
        day: Day,
        /// How many seeds.
        seeds: i64,
        /// In how many cells.
        cells: i64,
        /// Where it stands.
        place: String,
        /// In what medium.
        medium: String,
        /// Under what light.
        light: String,
    }
    /// From which lot how many seeds of a batch came.
    BatchSeedRow as BatchSeed at batch_seed in "batch_seed" {
        /// The batch.
        batch_id: i64,
        /// The lot.
        lot_id: i64,
        /// How many seeds.
        seeds: i64,
    }
    /// How many are up so far, in a batch or in one of its cells.
    EmergenceRow as Emergence at emergence in "emergence" {
        /// The batch.
        batch_id: i64,
        /// The cell, or nothing for the batch.
        cell: Option<i64>,
        /// The day.
        day: Day,
        /// How many, cumulative.
        up: i64,
    }
    /// One reading of one plant.
    ReadingRow as Reading at reading in "reading" {
        /// The plant.
        plant_id: i64,
        /// The trait, or nothing for a plant that could not be scored at all.
        trait_id: Option<i64>,
        /// The class seen, or nothing where it could not be scored.
        class_id: Option<i64>,
        /// How sure.
        sureness: Sureness,
        /// The day.
        day: Day,
        /// The age in leaves, where said.
        leaves: Option<i64>,
    }
    /// A count of looks in a batch or one of its cells.
    TallyRow as Tally at tally in "tally" {
        /// The batch.
        batch_id: i64,
        /// The cell, or nothing for the batch.
        cell: Option<i64>,
        /// The day.
        day: Day,
    }
    /// How many seedlings of a tally looked one way.
    TallyLookRow as TallyLook at tally_look in "tally_look" {
        /// Its tally.
        tally_id: i64,
        /// Its place in the order typed, from 0.
        ord: i64,
        /// How many.
        count: i64,
    }
    /// One class of a tallied look.
    TallyClassRow as TallyClass at tally_class in "tally_class" {
        /// Its look.
        look_id: i64,
        /// The trait, or nothing for seedlings that could not be scored.
        trait_id: Option<i64>,
        /// The class seen, or nothing where it could not be scored.
        class_id: Option<i64>,
        /// How sure.
        sureness: Sureness,
    }
    /// What became of one seedling, or of some of a batch or cell.
    FateRow as Fate at fate in "fate" {
        /// The batch.
        batch_id: i64,
        /// The seedling, where one is meant.
        plant_id: Option<i64>,
        /// The cell, where seedlings of a cell are meant without naming one.
        cell: Option<i64>,
        /// How many: 1 for a named seedling.
        count: i64,
        /// What became of it.
        kind: FateKind,
        /// Whether it was chosen without regard to its looks.
        blind: bool,
        /// The day.
        day: Day,
        /// Why.
        why: String,
    }
    /// The look by which seedlings of a fate were chosen, where no readings of their own say it.
    FateClassRow as FateClass at fate_class in "fate_class" {
        /// Its fate.
        fate_id: i64,
        /// The trait.
        trait_id: i64,
        /// The class.
        class_id: i64,
    }
    /// A treatment.
    CareRow as Care at care in "care" {
        /// What against or for: feed, gnats, mould or another word.
        kind: String,
        /// The product.
        product: String,
        /// The dose.
        dose: String,
        /// Days until it is due again.
        interval_days: Option<i64>,
        /// The day.
        day: Day,
        /// A remark.
        note: String,
    }
    /// What a treatment was given to.
    CareTargetRow as CareTarget at care_target in "care_target" {
        /// The treatment.
        care_id: i64,
        /// What kind of thing got it.
        thing: Thing,
        /// The number of that thing.
        thing_id: i64,
    }
    /// A measure of a plant.
    MeasureRow as Measure at measure in "measure" {
        /// The plant.
        plant_id: i64,
        /// What was measured, e.g. `height`.
        name: String,
        /// The number, as typed.
        number: String,
        /// The unit, or empty.
        unit: String,
        /// The day.
        day: Day,
    }
    /// A remark.
    RemarkRow as Remark at remark in "remark" {
        /// What kind of thing it is about.
        thing: Thing,
        /// The number of that thing.
        thing_id: i64,
        /// The remark.
        text: String,
        /// The day.
        day: Day,
    }
    /// A picture: its path, its checksum, its day.
    PhotoRow as Photo at photo in "photo" {
        /// What kind of thing it shows.
        thing: Thing,
        /// The number of that thing.
        thing_id: i64,
        /// The path as typed.
        path: String,
        /// SHA-256 of the file, in hexadecimal.
        sha256: String,
        /// The day.
        day: Day,
    }
    /// Another ledger whose records were brought in, as it stood in its export.
    ImportedLedgerRow as ImportedLedger at imported_ledger in "imported_ledger" {
        /// Its id.
        ledger: String,
        /// The last hash of its history, in hexadecimal; the first eight digits are its fingerprint.
        head: String,
        /// How many entries its history had.
        entries: i64,
        /// SHA-256 of the lines of its export, as the last line says it.
        sum: String,
        /// What was put before its codes, or empty.
        prefix: String,
        /// The day it was brought in.
        day: Day,
    }
    /// Where a record came from that another ledger brought.
    CameFromRow as CameFrom at came_from in "came_from" {
        /// The ledger.
        imported_id: i64,
        /// The table of the record.
        entity: String,
        /// The number of the record here.
        entity_id: i64,
        /// Its number there.
        number: i64,
        /// What it was called there: its code, place, lot or symbol; empty where it had no name.
        called: String,
    }
    /// A seedling kept as what it probably is, which is not what its label says.
    AdoptionRow as Adoption at adoption in "adoption" {
        /// The seedling.
        plant_id: i64,
        /// Its likely mother, or nothing where she is not of the ledger.
        mother_id: Option<i64>,
        /// Its likely father, likewise; the mother again for a self.
        father_id: Option<i64>,
        /// How likely these parents were when it was kept, as typed; nothing where not worked out.
        chance: Option<String>,
        /// The day it was kept.
        day: Day,
    }
    /// What is bred for: a look that a plant must have, is wanted to have, or is not to have; or high or low grades.
    GoalRow as Goal at goal in "goal" {
        /// How much it matters.
        kind: GoalKind,
        /// The trait.
        trait_id: i64,
        /// The class; nothing for the grades of a graded trait as a whole.
        class_id: Option<i64>,
        /// The weight of a want, as typed; empty otherwise.
        weight: String,
        /// Whether of grades the lower ones are wanted.
        less: bool,
    }
    /// One grade given to one plant by one taster or looker.
    GradeRow as Grade at grade in "grade" {
        /// The plant.
        plant_id: i64,
        /// The graded trait.
        trait_id: i64,
        /// The grade.
        class_id: i64,
        /// The pod, where said.
        pod: Option<i64>,
        /// Who gave it, or empty.
        taster: String,
        /// The day.
        day: Day,
    }
    /// That a reading was a tasting, and of what.
    TastingRow as Tasting at tasting in "tasting" {
        /// The reading.
        reading_id: i64,
        /// What was tasted.
        method: TasteMethod,
    }
}
