//! Names: unknown, taken, of another kind of thing, or of nothing that is there.

use std::fmt;

use super::remedy::show;
use super::{Kind, Remedy};
use crate::records::rows::Thing;

/// A name that does not fit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Identity {
    /// No such thing.
    Unknown {
        /// What was looked for: plant, cross, tray, trait.
        wanted: Wanted,
        /// As typed.
        typed: String,
        /// Known names that are near.
        nearest: Vec<String>,
    },
    /// The code names something else.
    OtherThing {
        /// As typed.
        typed: String,
        /// What it names.
        is: Thing,
        /// What was looked for.
        wanted: Wanted,
    },
    /// The code is taken.
    Taken {
        /// The code.
        code: String,
        /// What has it.
        by: Thing,
        /// That thing in words.
        holder: String,
    },
    /// A code of the form that crosses and trays are given by themselves.
    Automatic {
        /// The code.
        code: String,
    },
    /// A cross's code given with other parents.
    OtherParents {
        /// The cross.
        cross: String,
        /// Its parents.
        parents: String,
    },
    /// A cell beyond the tray.
    NoSuchCell {
        /// The tray.
        tray: String,
        /// The cell typed.
        cell: i64,
        /// How many it has.
        cells: i64,
    },
    /// Several seedlings stand in the cell.
    SeveralInCell {
        /// The place typed.
        place: String,
        /// How many stand there.
        standing: i64,
        /// Those told apart.
        known: Vec<String>,
    },
    /// No such lot.
    NoSuchLot {
        /// What was typed.
        typed: String,
        /// The lots there are.
        known: Vec<String>,
    },
    /// No such pollination.
    NoSuchPollination {
        /// The cross.
        cross: String,
        /// The day asked for, or nothing where one of several was not said.
        day: Option<String>,
        /// The days there are.
        known: Vec<String>,
        /// Crosses that were pollinated on the day asked for.
        others: Vec<String>,
    },
    /// Several pollinations of the day, or none of that number.
    WhichPollination {
        /// The cross.
        cross: String,
        /// The day asked for.
        day: Option<String>,
        /// Each in words, in the order recorded.
        several: Vec<String>,
    },
    /// A seedling that has a code of its own already.
    NamedAlready {
        /// The seedling.
        seedling: String,
        /// Its code.
        code: String,
    },
    /// A whole tray or cross where one plant is meant.
    NotOnePlant {
        /// As typed.
        typed: String,
        /// The tray a place of which would do, if any.
        tray: Option<String>,
    },
    /// A parent where a seedling of a tray is meant.
    NoSeedling {
        /// As typed.
        typed: String,
    },
    /// A count of zero where that says nothing.
    Nothing {
        /// What it is of.
        of: String,
        /// What was counted.
        what: &'static str,
    },
    /// A whole tray where its seedlings are meant.
    WholeTray {
        /// The tray.
        tray: String,
        /// The command typed.
        command: &'static str,
    },
    /// More cells than a batch can have.
    TooManyCells {
        /// How many.
        cells: i64,
        /// How many it may have.
        most: i64,
    },
    /// A plant crossed with itself by name.
    SelfNamed {
        /// The plant.
        plant: String,
    },
    /// A plant that would be its own ancestor.
    OwnAncestor {
        /// The plant.
        plant: String,
        /// The records that clash: each plant with its parents, from the plant's parent on.
        through: Vec<String>,
        /// A plant among them that has a code.
        look_at: Option<String>,
    },
    /// A name that several plants have.
    SeveralNamed {
        /// The name.
        name: String,
        /// Their codes or places.
        codes: Vec<String>,
    },
    /// The ledger holds something already.
    NotEmpty,
    /// The ledger says so already.
    Unchanged,
}

/// A pollination's day where it is long forgotten, in words.
pub(in crate::records::admit) const UNKNOWN_DAY: &str = "an unknown day";

/// What was looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// A parent or a seedling.
    Plant,
    /// A cross or a self.
    Cross,
    /// A tray or pot.
    Tray,
    /// A trait.
    Trait,
    /// A trait on grades.
    Graded,
    /// A cross or a parent to sow from.
    Seed,
    /// Anything with a code.
    Any,
}

impl Wanted {
    const fn words(self) -> &'static str {
        match self {
            Self::Plant => "parent or seedling",
            Self::Cross => "cross",
            Self::Tray => "tray",
            Self::Trait => "trait",
            Self::Graded => "graded trait",
            Self::Seed => "cross or parent",
            Self::Any => "thing",
        }
    }

    /// Whether a kind of thing is wanted.
    #[must_use]
    pub const fn takes(self, thing: Thing) -> bool {
        match self {
            Self::Plant => matches!(thing, Thing::Plant),
            Self::Cross => matches!(thing, Thing::Cross),
            Self::Tray => matches!(thing, Thing::Batch),
            Self::Trait | Self::Graded => matches!(thing, Thing::Trait),
            Self::Seed => matches!(thing, Thing::Plant | Thing::Cross),
            Self::Any => true,
        }
    }
}

const fn thing_words(thing: Thing) -> &'static str {
    match thing {
        Thing::Plant => "a plant",
        Thing::Cross => "a cross",
        Thing::Batch => "a tray",
        Thing::Trait => "a trait",
        Thing::Lot => "a lot of seed",
    }
}

fn listed(names: &[String]) -> String {
    match names {
        [] => "none".to_owned(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

impl fmt::Display for Identity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown {
                wanted,
                typed,
                nearest,
            } => {
                write!(f, "there is no {} '{typed}'", wanted.words())?;
                match &nearest[..] {
                    [] => Ok(()),
                    near => write!(f, "; the nearest known: {}", near.join(", ")),
                }
            }
            Self::OtherThing { typed, is, wanted } => {
                write!(
                    f,
                    "{typed} is {}, and a {} is needed here",
                    thing_words(*is),
                    wanted.words()
                )
            }
            Self::Taken { code, by, holder } => {
                let who = match holder.is_empty() {
                    true => String::new(),
                    false => format!(": {holder}"),
                };
                write!(f, "the code {code} is taken by {}{who}", thing_words(*by))
            }
            Self::Automatic { code } => {
                write!(
                    f,
                    "the code {code} is kept free: crosses are numbered X1, X2 and trays T1, T2 by themselves"
                )
            }
            Self::OtherParents { cross, parents } => {
                write!(
                    f,
                    "{cross} is {parents}; a further pollination has the same parents"
                )
            }
            Self::NoSuchCell { tray, cell, cells } => {
                write!(
                    f,
                    "{tray} has no cell {cell}; its cells run from 1 to {cells}"
                )
            }
            Self::SeveralInCell {
                place,
                standing,
                known,
            } => {
                write!(f, "{standing} seedlings stand in {place}; say which")?;
                match &known[..] {
                    [] => Ok(()),
                    known => write!(f, " (told apart: {})", listed(known)),
                }
            }
            Self::NoSuchLot { typed, known } => {
                write!(f, "there is no lot {typed}; recorded: {}", listed(known))
            }
            Self::NoSuchPollination {
                cross,
                day: Some(day),
                known,
                others,
            } => {
                let recorded = match &others[..] {
                    [] => "; recorded".to_owned(),
                    [one] => format!(", but {one} was; recorded of {cross}"),
                    several => {
                        format!(", but {} were; recorded of {cross}", listed(several))
                    }
                };
                write!(
                    f,
                    "{cross} was not pollinated on {day}{recorded}: {}",
                    listed(known)
                )
            }
            Self::WhichPollination {
                cross,
                day,
                several,
            } => {
                let on = day
                    .as_ref()
                    .map_or_else(String::new, |day| format!(" on {day}"));
                let times = match several.len() {
                    1 => "once".to_owned(),
                    n => format!("{n} times"),
                };
                write!(
                    f,
                    "{cross} was pollinated {times}{on}; say which with --nth"
                )?;
                for (number, words) in (1..).zip(several) {
                    write!(f, "\n{number}: {words}")?;
                }
                Ok(())
            }
            Self::NoSuchPollination {
                cross,
                day: None,
                known,
                ..
            } => {
                write!(
                    f,
                    "{cross} was pollinated more than once: {}; say which",
                    listed(known)
                )
            }
            Self::NamedAlready { seedling, code } => {
                write!(f, "{seedling} has a code already: {code}")
            }
            Self::NotOnePlant {
                typed,
                tray: Some(tray),
            } => {
                write!(
                    f,
                    "{typed} is a whole tray, and one plant is meant; its seedlings are {tray}-01, {tray}-02 and so on"
                )
            }
            Self::NotOnePlant { typed, tray: None } => {
                write!(
                    f,
                    "{typed} is one plant, and only a tray or cell can be counted"
                )
            }
            Self::NoSeedling { typed } => {
                write!(f, "{typed} is a parent, and a seedling of a tray is meant")
            }
            Self::Nothing { of, what } => {
                write!(f, "{of}: 0 {what}: there is nothing to record")
            }
            Self::WholeTray { tray, .. } => write!(
                f,
                "{tray} is a whole tray; say how many of it are meant, or which"
            ),
            Self::TooManyCells { cells, most } => {
                write!(
                    f,
                    "{cells} cells are more than the {most} a batch can have; say --cells"
                )
            }
            Self::SelfNamed { plant } => {
                write!(
                    f,
                    "{plant} is named as mother and as father; that is a self"
                )
            }
            Self::OwnAncestor { plant, through, .. } => {
                write!(f, "{plant} would be its own ancestor")?;
                match &through[..] {
                    [] => write!(f, ": its pedigree names {plant} itself"),
                    _ => write!(f, "; the ledger says that {}", listed(through)),
                }
            }
            Self::SeveralNamed { name, codes } => {
                write!(f, "several plants are named '{name}': {}", listed(codes))
            }
            Self::NotEmpty => f.write_str("this ledger holds records already"),
            Self::Unchanged => {
                f.write_str("the ledger says so already; there is nothing to record")
            }
        }
    }
}

impl std::error::Error for Identity {}

impl Identity {
    /// What sort of refusal it is.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::Unknown { .. } | Self::NoSuchLot { .. } => Kind::Unknown,
            Self::SeveralInCell { .. }
            | Self::SeveralNamed { .. }
            | Self::WhichPollination { .. }
            | Self::NoSuchPollination { day: None, .. } => Kind::Ambiguous,
            Self::SelfNamed { .. } => Kind::Implausible,
            _ => Kind::Impossible,
        }
    }

    /// What to type next.
    #[must_use]
    pub fn remedy(&self) -> Remedy {
        Remedy::Command(match self {
            Self::Unknown {
                wanted,
                typed,
                nearest,
            } => unknown_hint(*wanted, typed, nearest),
            Self::OtherThing { typed, .. }
            | Self::NotOnePlant { typed, .. }
            | Self::NoSeedling { typed } => show(typed),
            Self::Taken { code, .. } | Self::NamedAlready { code, .. } => show(code),
            Self::Automatic { code } => {
                return Remedy::word(code, &format!("P{code}"), "locule history".to_owned());
            }
            Self::OtherParents { cross, .. } => show(cross),
            Self::NoSuchCell { tray, .. } => show(tray),
            Self::SeveralInCell { place, known, .. } => {
                let letter = format!("{place}a");
                let first = known.first().unwrap_or(&letter);
                return Remedy::word(place, first, show(place));
            }
            Self::NoSuchLot { typed, .. } => {
                let source = typed.split_once('/').map_or(&typed[..], |(code, _)| code);
                show(source)
            }
            Self::WhichPollination { several, .. } => {
                return Remedy::Flags(vec![("--nth", several.len().to_string())]);
            }
            Self::NoSuchPollination { known, .. } => {
                let days = |day: &&String| day.starts_with(|c: char| c.is_ascii_digit());
                return match known.iter().rfind(days) {
                    Some(day) => Remedy::Flags(vec![("--pollinated", day.clone())]),
                    None if known.iter().any(|day| day == UNKNOWN_DAY) => {
                        Remedy::Flags(vec![("--pollinated", "unknown".to_owned())])
                    }
                    None => Remedy::Without("--pollinated"),
                };
            }
            Self::Nothing { .. } => return Remedy::Help,
            Self::TooManyCells { most, .. } => {
                return Remedy::Flags(vec![("--cells", most.to_string())]);
            }
            Self::WholeTray { tray, command } => format!("locule {command} {tray} 3"),
            Self::SelfNamed { plant } => format!("locule self {plant}"),
            Self::OwnAncestor {
                plant,
                look_at: None,
                ..
            } => {
                return Remedy::Advice(format!(
                    "name the parents of {plant}, or give the new plant another name"
                ));
            }
            Self::OwnAncestor {
                look_at: Some(code),
                ..
            } => format!("locule pedigree {code}"),
            Self::SeveralNamed { name, codes } => {
                let first = codes.first().map_or("", String::as_str);
                return Remedy::word(name, first, show(first));
            }
            Self::NotEmpty | Self::Unchanged => "locule history".to_owned(),
        })
    }
}

fn unknown_hint(wanted: Wanted, typed: &str, nearest: &[String]) -> String {
    if let Some(near) = nearest.first() {
        return format!("locule show {near}");
    }
    match wanted {
        Wanted::Plant | Wanted::Seed | Wanted::Any => {
            format!("locule parent add {typed} \"Its name\"")
        }
        Wanted::Cross => format!("locule cross MOTHER FATHER --code {typed}"),
        Wanted::Tray => format!("locule sow CROSS --seeds 12 --tray {typed}"),
        Wanted::Trait => format!("locule trait add {typed} --classes purple,green"),
        Wanted::Graded => format!("locule trait add {typed} --grades 0-5"),
    }
}
