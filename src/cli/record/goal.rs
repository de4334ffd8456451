//! `goal`: what is bred for.

use clap::{Args, Subcommand};

use super::book;
use super::typed;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::admit::Remedy;
use crate::records::entry::{Entry, NewGoal, Seen};
use crate::records::rows::GoalKind;
use crate::records::text::shown;
use crate::report::goals::GoalsAnswer;

/// What is bred for
#[derive(Debug, Args)]
#[command(
    arg_required_else_help = true,
    after_help = "Examples (a plant has to be purple or able to give purple; more than one goal counts by its weight; hairy plants are out; of the grades of heat, once there is such a trait, the lower ones; of what was measured the higher numbers):\n  locule goal add purple --must\n  locule goal add pungency:not-hot --want 3\n  locule goal add hairy --avoid\n  locule trait add heat --grades 0-5\n  locule goal add heat --want 2 --less\n  locule goal add height --want 1\n  locule goal list\n  locule goal remove hairy\nThen: locule rank T1"
)]
pub struct GoalArgs {
    #[command(subcommand)]
    what: GoalCommand,
}

#[derive(Debug, Subcommand)]
enum GoalCommand {
    /// List the goals
    List,
    /// Set a goal; one of the same look is replaced
    Add(AddArgs),
    /// Give a goal up
    Remove {
        /// The look: purple, or foliage:purple
        #[arg(value_name = "LOOK")]
        look: String,
    },
}

#[derive(Debug, Args)]
#[command(group(clap::ArgGroup::new("how").args(["must", "want", "avoid"]).required(true)))]
struct AddArgs {
    /// The look: purple, or foliage:purple; or a graded trait: heat; or something that was measured: height
    #[arg(value_name = "LOOK")]
    look: String,
    /// A plant that neither shows it nor can give it is not worth keeping
    #[arg(long)]
    must: bool,
    /// It counts by this weight; 3 counts three times as much as 1
    #[arg(long, value_name = "WEIGHT", allow_negative_numbers = true)]
    want: Option<String>,
    /// A plant that shows it is not worth keeping
    #[arg(long)]
    avoid: bool,
    /// Of a graded trait or a measure: the lower ones are wanted
    #[arg(long, requires = "want")]
    less: bool,
}

impl GoalArgs {
    /// Shows or records.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or written, or the gate refuses.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match self.entry()? {
            Some(entry) => book::record(world, &entry),
            None => {
                let (_, facts) = world.ask()?;
                Ok(world.answer(&GoalsAnswer::new(&facts)))
            }
        }
    }

    /// The entry of what was typed; nothing where it only asks.
    ///
    /// # Errors
    /// [`Failure`] where the look cannot be read.
    pub fn entry(&self) -> Result<Option<Entry>, Failure> {
        Ok(match &self.what {
            GoalCommand::List => None,
            GoalCommand::Add(args) => Some(Entry::Goal(args.goal()?)),
            GoalCommand::Remove { look } => Some(Entry::DropGoal(one_look(look)?)),
        })
    }
}

impl AddArgs {
    fn goal(&self) -> Result<NewGoal, Failure> {
        let kind = match (self.must, self.avoid) {
            (true, _) => GoalKind::Must,
            (_, true) => GoalKind::Avoid,
            _ => GoalKind::Want,
        };
        Ok(NewGoal {
            look: one_look(&self.look)?,
            kind,
            weight: self.want.clone(),
            less: self.less,
        })
    }
}

/// The one look of a goal.
fn one_look(text: &str) -> Result<Seen, Failure> {
    let mut look = typed::looks_of_one(text)?;
    match look.len() {
        1 => Ok(look.remove(0)),
        _ => {
            let first = text.split([',', '/']).next().unwrap_or_default().trim();
            let failure = Failure::usage(format!("'{}' names several looks", shown(text)));
            Err(failure
                .because("a goal is one look; set them one by one")
                .try_remedy(Remedy::Word {
                    typed: text.to_owned(),
                    by: first.to_owned(),
                    otherwise: format!("locule goal add {} --must", shown(first)),
                }))
        }
    }
}
