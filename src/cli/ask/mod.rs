//! Commands that answer a question or keep the ledger itself.

pub mod accept;
pub mod believed;
pub mod breeding;
mod conditions;
pub mod copies;
pub mod expect;
mod expect_reckon;
pub mod genotype;
pub mod germination;
pub mod grades;
pub mod history;
pub mod import;
pub mod init;
pub mod keep;
pub mod late_colour;
pub mod linkage;
pub mod linkage_cross;
mod linkage_sets;
pub mod list;
pub mod lost_label;
pub mod mishaps;
pub mod pedigree;
pub mod pick;
pub mod plan;
pub mod plan_bred;
pub mod plan_calendar;
mod plan_claim;
pub mod plan_cross;
mod plan_cross_refused;
pub mod plan_enough;
pub mod plan_line;
mod plan_line_refused;
mod plan_line_start;
pub mod plan_seeds;
mod plan_seeds_found;
mod plan_seeds_refused;
pub mod plan_sowing;
pub mod plan_space;
mod plan_space_weighed;
pub mod plan_which_mother;
pub mod plan_wishes;
pub mod rank;
pub mod ratio;
pub mod ratio_gene_models;
pub mod ratio_models;
pub mod ratio_trays;
pub mod set_rate;
pub mod sheet;
pub mod show;
pub mod size;
pub mod stable;
pub mod stated;
pub mod suspects;
pub mod thing;
pub mod traits;
pub mod wanted;
pub mod why;

use clap::Subcommand;

use super::exit::Outcome;
use super::failure::Failure;
use super::world::World;

/// A command that asks, or that keeps the ledger itself.
#[derive(Debug, Subcommand)]
pub enum Ask {
    /// Record the beginning of a new ledger, with the built-in traits
    #[command(display_order = 1)]
    Init(init::InitArgs),
    /// Show what a cross should give
    ///
    /// Of two genotypes (expect --mother "A/a B/b" --father "A/a B/b"), which needs no ledger, or of a
    /// cross in the ledger (expect X1).
    #[command(display_order = 24)]
    Expect(expect::ExpectArgs),
    /// Show whether counts fit a ratio
    ///
    /// Bare counts (ratio 315 108 101 32 --to 9:3:3:1), which need no ledger, or trays and crosses of the
    /// ledger (ratio T1 T2), whose label then gives the ratio.
    #[command(display_order = 25)]
    Ratio(ratio::RatioArgs),
    /// Show how often two genes are parted, from counts of two traits
    ///
    /// Bare counts (linkage 284 21 21 55 --phase coupling), which need no ledger: first trait's first class with
    /// the second's first, first with second, second with first, second with second. Or a cross of the ledger
    /// whose seedlings were read for both (linkage X1 --traits foliage,stem-hair).
    #[command(display_order = 25)]
    Linkage(linkage::LinkageArgs),
    /// Show how seed came up: how many, how fast, what is not dead yet, groups compared
    ///
    /// Of trays, crosses or parents; without any, of everything sown. With --on DATE counts up to that day.
    #[command(display_order = 24)]
    Germination(germination::GerminationArgs),
    /// Show how many flowers set, by direction, technique or week, and what it proves where none did
    ///
    /// Of crosses or parents; without any, of every pollination.
    #[command(display_order = 24)]
    SetRate(set_rate::SetRateArgs),
    /// Show how large seedlings are: crosses or directions compared, runts named
    ///
    /// By what was recorded with 'measure': the newest measure of each seedling, up to --on DATE.
    #[command(display_order = 24)]
    Size(size::SizeArgs),
    /// Show which seedlings look like contaminants, why, and whose pollen it was
    ///
    /// With --on DATE judged as on that day: what was seen or counted later is left out.
    #[command(display_order = 22)]
    Suspects(suspects::SuspectsArgs),
    /// Show the cull and keep list, to print
    ///
    /// With --on DATE judged as on that day: what was seen or counted later is left out.
    #[command(display_order = 23)]
    Sheet(sheet::SheetArgs),
    /// Show the whole argument for one seedling: what was read when, what each source predicts, what to do next
    ///
    /// Of a seedling (why T1-03) or of one of those that look alike in a count (why T1 green).
    #[command(display_order = 22)]
    Why(why::WhyArgs),
    /// Show which of the season's crosses a pot without a label is of
    ///
    /// From its looks, age and place (lost-label --looks purple,hairy), or from what was read of a seedling whose label
    /// you do not trust (lost-label T9-01).
    #[command(display_order = 23)]
    LostLabel(lost_label::LostLabelArgs),
    /// Show where plants and seed come from: the tree, the generation, inbreeding and kinship
    ///
    /// Of plants, seedlings, crosses, lots and trays; of several also how much they are related.
    #[command(display_order = 25)]
    Pedigree(pedigree::PedigreeArgs),
    /// Show how likely each genotype of a plant is, and which records told it
    ///
    /// By everything recorded of it, its parents and its offspring (genotype NL, genotype T1-03, genotype --all).
    #[command(display_order = 25)]
    Genotype(genotype::GenotypeArgs),
    /// Show what the grades of a trait say of each plant, tasters' biases taken out
    #[command(display_order = 25)]
    Grades(grades::GradesArgs),
    /// Show which plants to keep, in order of the goals set, and how sure that order is
    ///
    /// Living seedlings and kept plants (rank X2, rank T1, rank T1-03 NL): what each is worth by 'goal list', which are
    /// beaten on everything, and what the seed of each will still throw.
    #[command(display_order = 25)]
    Rank(rank::RankArgs),
    /// Show which seedlings to keep, which to pull and which to spare for now
    ///
    /// Of trays and crosses; without any, of everything sown. By how likely each is the cross on its label, the goals set,
    /// what was measured, and pots; with --places, shared so that as many crosses as can be have a true seedling.
    #[command(display_order = 23)]
    Pick(pick::PickArgs),
    /// Show whether a plant is stable yet: how likely it still splits for a trait
    ///
    /// By the seedlings of its own selfed seed in the ledger (stable NL), or by bare counts (stable --alike 12),
    /// which need no ledger.
    #[command(display_order = 25)]
    Stable(stable::StableArgs),
    /// Show when late colours show, and learn it from your own trays
    ///
    /// Bare: what is in use for every trait with a late class, and whether your trays would teach better. 'fit' learns
    /// it, 'fit --store' takes it into use.
    #[command(display_order = 25)]
    LateColour(late_colour::LateColourArgs),
    /// Show how often something went wrong with your trays, and learn it from them
    ///
    /// The chance that a tray is wholly as labelled by how its flowers were treated, the share of off-types in those
    /// that are not, and what covering flowers or wiping tools would have bought. Nothing is recorded without --store.
    #[command(display_order = 25)]
    Mishaps(mishaps::MishapsArgs),
    /// Plan what to sow, how many to count and how to share places
    #[command(display_order = 25)]
    Plan(plan::PlanArgs),
    /// Show what was recorded, entry by entry, and what each changed
    #[command(display_order = 27)]
    History(history::HistoryArgs),
    /// Show what is in the ledger: parents, crosses, seed, trays, loci
    #[command(display_order = 26)]
    List(list::ListArgs),
    /// Show everything recorded of one thing, now or after an entry
    #[command(display_order = 26)]
    Show(show::ShowArgs),
    /// Undo the newest entry, or the one named, and show what that changes
    #[command(display_order = 28)]
    Undo(history::UndoArgs),
    /// Redo what was undone last
    #[command(display_order = 29)]
    Redo(history::RedoArgs),
    /// Check the ledger: the file, its history, every record
    #[command(display_order = 32)]
    CheckLedger(keep::CheckArgs),
    /// Take the ledger as it stands, although this computer knows it otherwise
    #[command(display_order = 32)]
    Accept(accept::AcceptArgs),
    /// Write the whole ledger, its history included, as lines of JSON
    #[command(display_order = 30)]
    Export(keep::ExportArgs),
    /// Bring an export in: as a new ledger, or beside the records of this one
    #[command(display_order = 31)]
    Import(import::ImportArgs),
    /// Keep a copy of the ledger, verified
    #[command(display_order = 33)]
    Backup(copies::BackupArgs),
    /// Put a copy back in place of the ledger
    #[command(display_order = 34)]
    Restore(copies::RestoreArgs),
}

impl Ask {
    /// Carries the command out.
    ///
    /// # Errors
    /// [`Failure`] in words, with its exit status.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match self {
            Self::Init(command) => command.run(world),
            Self::Expect(command) => command.run(world),
            Self::Ratio(command) => command.run(world),
            Self::Linkage(command) => command.run(world),
            Self::Suspects(command) => command.run(world),
            Self::Sheet(command) => command.run(world),
            Self::Why(command) => command.run(world),
            Self::LostLabel(command) => command.run(world),
            Self::Pedigree(command) => command.run(world),
            Self::Genotype(command) => command.run(world),
            Self::Germination(command) => command.run(world),
            Self::SetRate(command) => command.run(world),
            Self::Size(command) => command.run(world),
            Self::Grades(command) => command.run(world),
            Self::Rank(command) => command.run(world),
            Self::Pick(command) => command.run(world),
            Self::Stable(command) => command.run(world),
            Self::LateColour(command) => command.run(world),
            Self::Mishaps(command) => command.run(world),
            Self::Plan(command) => command.run(world),
            Self::History(command) => command.run(world),
            Self::List(command) => command.run(world),
            Self::Show(command) => command.run(world),
            Self::Undo(command) => command.run(world),
            Self::Redo(command) => command.run(world),
            Self::CheckLedger(command) => command.run(world),
            Self::Accept(command) => command.run(world),
            Self::Export(command) => command.run(world),
            Self::Import(command) => command.run(world),
            Self::Backup(command) => command.run(world),
            Self::Restore(command) => command.run(world),
        }
    }
}
