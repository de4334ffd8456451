//! `plan`: what to sow, how to come to a line, how many to count, which mother and how to share places, before anything is sown.

use clap::{Args, Subcommand};

use super::plan_calendar::CalendarArgs;
use super::plan_cross::CrossArgs;
use super::plan_enough::EnoughArgs;
use super::plan_line::LineArgs;
use super::plan_seeds::SeedsArgs;
use super::plan_space::SpaceArgs;
use super::plan_which_mother::WhichMotherArgs;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;

/// Plan what to sow, how many to count and how to share places
#[derive(Debug, Args)]
#[command(
    arg_required_else_help = true,
    subcommand_required = true,
    after_help = "Examples:\n  locule plan seeds --want 3 --chance 1/16\n  locule plan enough 3:1 1:1\n  locule plan space --pots 40 'X1=1/16,weight=2' X2=3/16\n  locule plan which-mother CW NL\n  locule plan cross --want 'purple, not-hot'\n  locule plan line X1 --class green\n  locule plan calendar --ripe-seed 1nov"
)]
pub struct PlanArgs {
    #[command(subcommand)]
    what: Plan,
}

#[derive(Debug, Subcommand)]
enum Plan {
    /// Show how many seeds to sow
    ///
    /// Of a bare chance (plan seeds --chance 1/16), of two genotypes (plan seeds --mother A/a --father A/a --genotype
    /// a/a), which need no ledger, or of a cross in the ledger (plan seeds X1 --class green).
    Seeds(Box<SeedsArgs>),
    /// Show which two parents to cross
    Cross(CrossArgs),
    /// Show how to come to a line that breeds true: selfing and backcross schemes side by side
    ///
    /// From two genotypes (plan line --mother A/A --father a/a --class green) or from one plant (plan line --plant A/a
    /// --class green), which need no ledger, or from a cross or plant in the ledger (plan line X1 --class green).
    Line(Box<LineArgs>),
    /// Show when to sow and to cross so that seed is ripe in time
    Calendar(CalendarArgs),
    /// Show how many plants tell two ratios apart
    Enough(EnoughArgs),
    /// Show which of two plants to take as mother
    WhichMother(WhichMotherArgs),
    /// Show how to share places over crosses
    Space(SpaceArgs),
}

impl PlanArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] in words, with its exit status.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match self.what {
            Plan::Seeds(args) => args.run(world),
            Plan::Cross(args) => args.run(world),
            Plan::Line(args) => args.run(world),
            Plan::Calendar(args) => args.run(world),
            Plan::Enough(args) => args.run(world),
            Plan::WhichMother(args) => args.run(world),
            Plan::Space(args) => args.run(world),
        }
    }
}
