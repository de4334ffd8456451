//! `trait`: looks, their gene models, which are offered, and the bench trait.

use clap::{Args, Subcommand};

use super::book;
use super::typed::pair;
use crate::cli::ask::traits;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::code::Code;
use crate::records::entry::{
    Entry, LateColour, NewGradedTrait, NewModel, NewTrait, OneGene, SwitchTrait, UseModel,
};

/// Traits
#[derive(Debug, Args)]
#[command(arg_required_else_help = true)]
pub struct TraitArgs {
    #[command(subcommand)]
    what: TraitCommand,
}

#[derive(Debug, Subcommand)]
enum TraitCommand {
    #[command(flatten)]
    Ask(TraitQuestion),
    #[command(flatten)]
    Record(Box<TraitRecord>),
}

#[derive(Debug, Subcommand)]
enum TraitQuestion {
    /// List the traits
    List,
    /// Show a trait with its classes, its onset and its gene models; or all genotypes that fit one of its looks
    Show {
        /// The trait
        code: String,
        /// The look whose genotypes are asked for: purple
        #[arg(long, value_name = "CLASS")]
        look: Option<String>,
    },
}

#[derive(Debug, Subcommand)]
enum TraitRecord {
    /// Enter a trait and its gene model; it is switched on
    Add(Box<AddArgs>),
    /// Gene models of a trait
    #[command(subcommand)]
    Model(ModelCommand),
    /// Set when a trait shows its late classes; 'locule late-colour fit' learns it from your own trays
    #[command(
        after_help = "Example (half of the purple seedlings show it 10.5 days after coming up):\n  locule trait late foliage --median-days 10.5 --spread 0.3"
    )]
    Late(LateArgs),
    /// Make a trait the one that bare class words belong to first
    Bench {
        /// The trait
        code: Code,
    },
    /// Offer a trait for scoring
    On {
        /// The trait
        code: Code,
    },
    /// No longer offer a trait for scoring
    Off {
        /// The trait
        code: Code,
    },
}

/// Enter a trait and its gene model; it is a seedling trait unless --stage says otherwise
#[derive(Debug, Args)]
struct AddArgs {
    /// Its code: leaf-edge
    code: Code,
    /// What it is, in words
    #[arg(long)]
    name: Option<String>,
    /// Its classes: purple,green
    #[arg(
        long,
        value_delimiter = ',',
        required_unless_present_any = ["dominant", "grades"],
        conflicts_with = "dominant"
    )]
    classes: Vec<String>,
    /// A rule of its gene model, the first match wins: 'A/_ => purple', the last one perhaps
    /// 'else => green'; again for each rule
    #[arg(
        long = "rule",
        value_name = "RULE",
        required_unless_present_any = ["dominant", "grades"],
        conflicts_with = "dominant"
    )]
    rules: Vec<String>,
    /// In place of all these, for a trait on ordered grades without a gene model: 0-5, or words from the lowest up
    /// (none,mild,hot); then 'locule grade'
    #[arg(
        long,
        value_name = "GRADES",
        conflicts_with_all = ["classes", "rules", "dominant", "late", "misread", "stage"]
    )]
    grades: Option<String>,
    /// In place of --classes and --rule, for one new gene with a symbol of its own: the look of a plant with one or two
    /// copies of the dominant allele
    #[arg(long, value_name = "CLASS", requires = "recessive")]
    dominant: Option<String>,
    /// With --dominant: the look of a plant with two copies of the recessive allele
    #[arg(long, value_name = "CLASS", requires = "dominant")]
    recessive: Option<String>,
    /// With --dominant: the look of a plant with one copy of each, where it is in between
    #[arg(long, value_name = "CLASS", requires = "dominant")]
    between: Option<String>,
    /// A class that shows late: 'purple after green'; again for each
    #[arg(long, value_name = "CLASS after CLASS")]
    late: Vec<String>,
    /// The median age at which late classes show, in days from emergence
    #[arg(
        long,
        value_name = "DAYS",
        requires = "late",
        allow_negative_numbers = true
    )]
    median_days: Option<String>,
    /// The spread of the logarithm of that age
    #[arg(long, requires = "late", allow_negative_numbers = true)]
    spread: Option<String>,
    /// The share of plants that ever show a late class
    #[arg(
        long,
        value_name = "SHARE",
        requires = "late",
        allow_negative_numbers = true
    )]
    ceiling: Option<String>,
    /// The chance that a plant is written down as another class: 0.005, or of one class: green=0.01
    #[arg(long, value_name = "CHANCE", allow_negative_numbers = true)]
    misread: Vec<String>,
    /// The organ that is looked at
    #[arg(long)]
    organ: Option<String>,
    /// When it is scored: seedling, plant, flower, fruit, chemistry or inoculation
    #[arg(long)]
    stage: Option<String>,
}

#[derive(Debug, Args)]
#[command(group(
    clap::ArgGroup::new("ages")
        .args(["median_days", "spread", "ceiling"])
        .required(true)
        .multiple(true)
))]
struct LateArgs {
    /// The trait
    code: Code,
    /// The median age at which late classes show, in days from emergence
    #[arg(long, value_name = "DAYS", allow_negative_numbers = true)]
    median_days: Option<String>,
    /// The spread of the logarithm of that age
    #[arg(long, allow_negative_numbers = true)]
    spread: Option<String>,
    /// The share of plants that ever show a late class
    #[arg(long, value_name = "SHARE", allow_negative_numbers = true)]
    ceiling: Option<String>,
}

#[derive(Debug, Subcommand)]
enum ModelCommand {
    /// Enter a rival gene model of a trait
    Add {
        /// The trait
        code: Code,
        /// The model's name
        name: String,
        /// A rule, the first match wins; again for each
        #[arg(long = "rule", value_name = "RULE", required = true)]
        rules: Vec<String>,
        /// Where the model comes from
        #[arg(long)]
        source: Option<String>,
    },
    /// Use another gene model of a trait
    Use {
        /// The trait
        code: Code,
        /// The model's name
        name: String,
    },
}

impl TraitArgs {
    /// Shows or records.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or written, or the gate refuses.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match self.what {
            TraitCommand::Ask(TraitQuestion::List) => traits::list(world),
            TraitCommand::Ask(TraitQuestion::Show { code, look }) => {
                traits::show(world, &code, look.as_deref())
            }
            TraitCommand::Record(command) => book::record(world, &command.entry()?),
        }
    }
}

impl TraitArgs {
    /// The entry of what was typed; nothing where it only asks.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self) -> Result<Option<Entry>, Failure> {
        match self.what {
            TraitCommand::Ask(_) => Ok(None),
            TraitCommand::Record(command) => command.entry().map(Some),
        }
    }
}

impl TraitRecord {
    fn entry(self) -> Result<Entry, Failure> {
        Ok(match self {
            Self::Add(args) => return args.entry(),
            Self::Model(ModelCommand::Add {
                code,
                name,
                rules,
                source,
            }) => Entry::Model(NewModel {
                of: code,
                name,
                rules,
                source,
            }),
            Self::Model(ModelCommand::Use { code, name }) => {
                Entry::UseModel(UseModel { of: code, name })
            }
            Self::Late(args) => Entry::LateColour(LateColour {
                of: args.code,
                median_days: args.median_days,
                spread: args.spread,
                ceiling: args.ceiling,
            }),
            Self::Bench { code } => Entry::BenchTrait(code),
            Self::On { code } => Entry::SwitchTrait(SwitchTrait { of: code, on: true }),
            Self::Off { code } => Entry::SwitchTrait(SwitchTrait {
                of: code,
                on: false,
            }),
        })
    }
}

impl AddArgs {
    fn entry(self) -> Result<Entry, Failure> {
        if let Some(grades) = self.grades {
            return Ok(Entry::GradedTrait(NewGradedTrait {
                code: self.code,
                name: self.name,
                grades,
                organ: self.organ,
            }));
        }
        let (of_classes, of_all): (Vec<_>, Vec<_>) = self
            .misread
            .into_iter()
            .partition(|text| text.contains('='));
        let class_misread: Result<_, _> = of_classes
            .iter()
            .map(|text| pair(text, "--misread 0.005 --misread green=0.01"))
            .collect();
        Ok(Entry::Trait(NewTrait {
            code: self.code,
            name: self.name,
            classes: self.classes,
            rules: self.rules,
            one_gene: self
                .dominant
                .zip(self.recessive)
                .map(|(dominant, recessive)| OneGene {
                    dominant,
                    recessive,
                    between: self.between,
                }),
            late: self.late,
            median_days: self.median_days,
            spread: self.spread,
            ceiling: self.ceiling,
            misread: of_all.into_iter().next_back(),
            class_misread: class_misread?,
            organ: self.organ,
            stage: self.stage,
        }))
    }
}
