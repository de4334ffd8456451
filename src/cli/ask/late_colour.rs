//! `late-colour`: when late classes show, what is in use, and what the ledger's own trays teach.

use clap::{Args, Subcommand};

use super::thing::unknown;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::late_colour::{OnsetFit, Split, TraitFit, Wanted, fit_traits, late_traits};
use crate::diagnosis::looks::Looks;
use crate::records::code::Code;
use crate::records::entry::{Entry, LateColour};
use crate::records::facts::Facts;
use crate::records::rows::Thing;
use crate::report::late_colour::{LateColourAnswer, Stored, Telling};
use crate::report::recorded::RecordedAnswer;

/// Show when late colours show, and learn it from your own trays
#[derive(Debug, Args)]
#[command(
    args_conflicts_with_subcommands = true,
    after_help = "Examples:\n  locule late-colour\n  locule late-colour fit\n  locule late-colour fit --trait foliage --by-place\n  locule late-colour fit --trait foliage --store\n\nA control pot is selfed seed of a plant that must show the late colour, sown beside the trays it speaks for:\n  locule packet NL --seeds 12\n  locule sow NL --seeds 12 --place tent"
)]
pub struct LateColourArgs {
    #[command(subcommand)]
    what: Option<LateColourCommand>,
    /// The trait; without it every trait with a late class
    #[arg(long = "trait", value_name = "CODE")]
    of: Option<String>,
}

#[derive(Debug, Subcommand)]
enum LateColourCommand {
    /// Learn from your own trays when a late colour shows; nothing is recorded without --store
    ///
    /// From trays whose label promises the late colour of every seedling: control pots first. Selfs and strays, a tray
    /// that is slower as a whole and dim light are all reckoned with.
    #[command(
        after_help = "Examples:\n  locule late-colour fit\n  locule late-colour fit --trait foliage --by-light\n  locule late-colour fit --trait foliage --store"
    )]
    Fit(FitArgs),
}

#[derive(Debug, Args)]
struct FitArgs {
    /// The trait; without it every trait with a late class
    #[arg(long = "trait", value_name = "CODE")]
    of: Option<String>,
    /// Fit the places where trays stand apart, too
    #[arg(long, conflicts_with_all = ["by_light", "store"])]
    by_place: bool,
    /// Fit the lights that trays stand under apart, too
    #[arg(long, conflicts_with = "store")]
    by_light: bool,
    /// Fit the ceiling too, the share of plants that ever show it; it takes many old seedlings
    #[arg(long)]
    ceiling: bool,
    /// Use trays too of which nobody counted what came up; their ages are a guess
    #[arg(long)]
    uncounted: bool,
    /// Take the fitted figures into use, as one entry of the history
    #[arg(long)]
    store: bool,
}

impl LateColourArgs {
    /// Answers, and records where that is asked for.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or written, a code is no trait with a late class, or there is
    /// nothing to store.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match self.what {
            Some(LateColourCommand::Fit(args)) => args.run(world),
            None => {
                let (_, facts) = world.ask()?;
                let wanted = Wanted {
                    split: Split::Together,
                    ceiling: false,
                    uncounted: false,
                };
                let fits = fits(&facts, self.of.as_deref(), wanted)?;
                Ok(world.answer(&LateColourAnswer::new(&fits, Telling::InUse, None)))
            }
        }
    }
}

impl FitArgs {
    fn run(&self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let split = match (self.by_place, self.by_light) {
            (true, _) => Split::ByPlace,
            (_, true) => Split::ByLight,
            _ => Split::Together,
        };
        let wanted = Wanted {
            split,
            ceiling: self.ceiling,
            uncounted: self.uncounted,
        };
        let mut fits = fits(&facts, self.of.as_deref(), wanted)?;
        // What was never scored is told only where nothing was.
        if fits.iter().any(|fit| !fit.batches.is_empty()) {
            fits.retain(|fit| !fit.batches.is_empty());
        }
        if !self.store {
            return Ok(world.answer(&LateColourAnswer::new(&fits, Telling::Fit, None)));
        }
        let (fit, onset) = self.storable(world, &fits)?;
        let (entry, command) = entry_of(fit, onset)?;
        let recorded = world.record_as(&entry, &command)?;
        let said = RecordedAnswer::new(recorded.entry, &recorded.facts, &recorded.admitted);
        let stored = Stored {
            entry: recorded.entry,
            recorded: said.recorded,
        };
        let answer = LateColourAnswer::new(&fits, Telling::Fit, Some(stored));
        Ok(world.answer(&answer).kept(recorded.entry))
    }

    /// The one fit that can be stored.
    fn storable<'f>(
        &self,
        world: &World,
        fits: &'f [TraitFit],
    ) -> Result<(&'f TraitFit, &'f OnsetFit), Failure> {
        let fitted: Vec<(&TraitFit, &OnsetFit)> = fits
            .iter()
            .filter_map(|fit| Some((fit, fit.fit.as_ref()?)))
            .collect();
        match fitted.as_slice() {
            [] => Err(Failure::refused("there is nothing to store: no fit yet")
                .try_typing("locule late-colour fit")),
            [(fit, onset)] if world.even_so => Ok((fit, onset)),
            [(fit, _)] if !fit.doubted.is_empty() => Err(Failure::refused(format!(
                "the fit of {} rests on {}, of which everything recorded speaks otherwise",
                fit.code, fit.doubted[0].plant
            ))
            .because("seedlings that never turn would pass for late ones: locule late-colour fit")
            .try_flag("--even-so", "")),
            [(fit, onset)] if onset.is_settled() => Ok((fit, onset)),
            [(fit, _)] => Err(Failure::refused(format!(
                "the fit of {} rests on too little to be relied on",
                fit.code
            ))
            .because("what it takes: locule late-colour fit")
            .try_flag("--even-so", "")),
            [(first, _), ..] => Err(Failure::refused(
                "several traits were fitted, and one is stored at a time",
            )
            .try_typing(format!(
                "locule late-colour fit --trait {} --store",
                first.code
            ))),
        }
    }
}

/// The fits of the trait named, else of every late trait that is offered for scoring.
fn fits(facts: &Facts, of: Option<&str>, wanted: Wanted) -> Result<Vec<TraitFit>, Failure> {
    let looks = Looks::of(facts)?;
    let traits = match of {
        None => late_traits(&looks),
        Some(code) => vec![late_trait(facts, &looks, code)?],
    };
    Ok(fit_traits(facts, &looks, &traits, wanted)?)
}

fn late_trait(facts: &Facts, looks: &Looks, code: &str) -> Result<usize, Failure> {
    let row = facts
        .code_named(code)
        .filter(|row| row.thing == Thing::Trait);
    let place = row.and_then(|row| looks.place(row.thing_id));
    let place = place.ok_or_else(|| unknown(facts, code, &[Thing::Trait]))?;
    let look = &looks.traits[place];
    if look.onset.is_some() {
        return Ok(place);
    }
    Err(Failure::refused(format!(
        "the trait {} has no class that shows late: its looks are there from the start",
        look.code
    ))
    .try_typing("locule late-colour"))
}

/// What is recorded: the fitted numbers to four digits, as the command that says them.
fn entry_of(fit: &TraitFit, onset: &OnsetFit) -> Result<(Entry, String), Failure> {
    let text = |fitted: bool, value: f64| fitted.then(|| four_digits(value));
    let median_days = text(onset.median_days.is_some(), onset.onset.median_days);
    let spread = text(onset.spread.is_some(), onset.onset.spread);
    let ceiling = text(onset.ceiling.is_some(), onset.onset.ceiling);
    let of: Code = fit
        .code
        .parse()
        .map_err(|error: crate::records::code::CodeError| Failure::system(error.to_string()))?;
    let flags = [
        ("--median-days", &median_days),
        ("--spread", &spread),
        ("--ceiling", &ceiling),
    ];
    let flag = |(flag, value): &(&str, &Option<String>)| {
        value.as_ref().map(|value| format!(" {flag} {value}"))
    };
    let flags: String = flags.iter().filter_map(flag).collect();
    let command = format!("trait late {}{flags}", fit.code);
    let entry = LateColour {
        of,
        median_days,
        spread,
        ceiling,
    };
    Ok((Entry::LateColour(entry), command))
}

/// A number to four significant digits, as short as it can be written.
#[must_use]
pub fn four_digits(value: f64) -> String {
    let rounded = format!("{value:.3e}").parse::<f64>();
    rounded.map_or_else(|_| value.to_string(), |value| value.to_string())
}
