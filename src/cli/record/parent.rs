//! `parent`: lines, packets, single plants, seedlings kept; and when their pollen was about.

use clap::{Args, Subcommand, ValueEnum};

use super::typed;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::code::Code;
use crate::records::entry::{Entry, InFlower, NewParent};
use crate::records::rows::{PlantCytoplasm, PlantKind};
use crate::records::target::Target;

/// Parents
#[derive(Debug, Args)]
#[command(arg_required_else_help = true)]
pub struct ParentArgs {
    #[command(subcommand)]
    what: ParentCommand,
}

#[derive(Debug, Subcommand)]
enum ParentCommand {
    /// Enter a parent: a line, a packet, a single plant, or a seedling that is kept
    Add(AddArgs),
    /// Write down that a plant's pollen was about
    InFlower(InFlowerArgs),
}

/// Enter a parent; its day of entry forbids no earlier cross
#[derive(Debug, Args)]
struct AddArgs {
    /// Its code, as it will stand on tags: NL
    code: Code,
    /// Its name: "Night Lantern"
    name: Option<String>,
    /// Its species: annuum, chinense, frutescens, baccatum, pubescens or another word
    #[arg(long)]
    species: Option<String>,
    /// A line that breeds true (this is the default)
    #[arg(long, group = "kind")]
    line: bool,
    /// A named packet of less certain descent
    #[arg(long, group = "kind")]
    packet: bool,
    /// A single plant of unknown origin
    #[arg(long, group = "kind")]
    plant: bool,
    /// What is known of its genotype: "A/A pun1/pun1"
    #[arg(long)]
    genotype: Option<String>,
    /// The genotype is proven, by a test or by its seedlings
    #[arg(long, requires = "genotype")]
    proven: bool,
    /// How it looks when grown: purple,red
    #[arg(long, value_name = "CLASSES")]
    looks: Option<String>,
    /// Its cytoplasm
    #[arg(long, value_enum, ignore_case = true)]
    cytoplasm: Option<CytoplasmWord>,
    /// A seedling of a tray that gets this code beside its place: T1-02
    #[arg(long, value_name = "SEEDLING", conflicts_with = "kind")]
    from: Option<Target>,
    /// Where it comes from, mother first, in Purdy's notation: "A/B//C" is (A x B) x C, "A*2/B" is A x (A x B).
    /// A line or packet was selfed since; with --plant it is a plant of the cross itself
    #[arg(long, value_name = "PEDIGREE", conflicts_with = "from")]
    pedigree: Option<String>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum CytoplasmWord {
    /// Pollen is made
    Normal,
    /// Pollen only with a restorer
    Sterile,
    /// Not known
    Unknown,
}

/// Write down that a plant's pollen was about; --on says from when
#[derive(Debug, Args)]
struct InFlowerArgs {
    /// The plant: NL, or a seedling's place
    plant: Target,
    /// The last day
    #[arg(long, value_name = "DATE")]
    until: Option<String>,
}

impl ParentArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        match self.what {
            ParentCommand::Add(args) => args.entry(world),
            ParentCommand::InFlower(args) => args.entry(world),
        }
    }
}

impl AddArgs {
    fn entry(self, world: &World) -> Result<Entry, Failure> {
        let kind = match (self.packet, self.plant) {
            (true, _) => PlantKind::Packet,
            (_, true) => PlantKind::Single,
            _ => PlantKind::Line,
        };
        let looks = self.looks.as_deref().map(typed::looks_of_one).transpose();
        let looks = looks.map_err(|failure| {
            failure.or_try(format!(
                "locule parent add {} --looks purple,red",
                self.code
            ))
        })?;
        let cytoplasm = self.cytoplasm.map(|word| match word {
            CytoplasmWord::Normal => PlantCytoplasm::Normal,
            CytoplasmWord::Sterile => PlantCytoplasm::Sterile,
            CytoplasmWord::Unknown => PlantCytoplasm::Unknown,
        });
        Ok(Entry::Parent(NewParent {
            code: self.code,
            name: self.name,
            species: self.species,
            kind,
            genotype: self.genotype,
            proven: self.proven,
            looks: looks.unwrap_or_default(),
            cytoplasm,
            from: self.from,
            pedigree: self.pedigree,
            day: world.day()?,
        }))
    }
}

impl InFlowerArgs {
    fn entry(self, world: &World) -> Result<Entry, Failure> {
        let until = self
            .until
            .map(|text| world.read_day("--until", &text))
            .transpose()?;
        Ok(Entry::InFlower(InFlower {
            plant: self.plant,
            from: world.day()?,
            until,
        }))
    }
}
