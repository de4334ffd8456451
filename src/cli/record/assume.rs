//! `assume`: starting beliefs and thresholds, shown or changed.

use clap::Args;

use super::book;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::entry::{Assume, Entry};
use crate::report::assumptions::AssumptionsAnswer;

/// Show the starting beliefs and thresholds, or change them
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (the second changes two at once, as one entry):\n  locule assume dim 0.05\n  locule assume none.emasculated 0.8 none.covered 0.9\n  locule assume dim default"
)]
pub struct AssumeArgs {
    /// The key, as in the list: dim
    key: Option<String>,
    /// The value; `default` takes the default again
    #[arg(requires = "key", allow_negative_numbers = true)]
    value: Option<String>,
    /// Further keys, each with its value, recorded as one entry
    #[arg(
        requires = "value",
        allow_negative_numbers = true,
        value_name = "KEY VALUE"
    )]
    more: Vec<String>,
}

impl AssumeArgs {
    /// Shows or records.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read or written, or the gate refuses the value.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match self.entry()? {
            Some(entry) => book::record(world, &entry),
            None => {
                let (_, facts) = world.ask()?;
                let answer = AssumptionsAnswer::new(&facts, self.key.as_deref());
                let answer = answer.map_err(crate::records::admit::Refusal::from)?;
                Ok(world.answer(&answer))
            }
        }
    }

    /// The entry of what was typed; nothing where it only asks.
    ///
    /// # Errors
    /// [`Failure`] where the last key has no value.
    pub fn entry(&self) -> Result<Option<Entry>, Failure> {
        let Some((key, value)) = self.key.as_ref().zip(self.value.as_ref()) else {
            return Ok(None);
        };
        let first = assume(key, value);
        if self.more.is_empty() {
            return Ok(Some(Entry::Assume(first)));
        }
        let mut all = vec![first];
        for pair in self.more.chunks(2) {
            match pair {
                [key, value] => all.push(assume(key, value)),
                _ => {
                    return Err(
                        Failure::usage(format!("the key '{}' has no value", pair[0]))
                            .try_typing("locule assume none.emasculated 0.8 none.covered 0.9"),
                    );
                }
            }
        }
        Ok(Some(Entry::AssumeAll(all)))
    }
}

fn assume(key: &str, value: &str) -> Assume {
    let value = (!value.eq_ignore_ascii_case("default")).then(|| value.to_owned());
    let key = key.to_owned();
    Assume { key, value }
}
