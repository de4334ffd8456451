//! Class words and looks that mean nothing, or several things.

use super::remedy::show;
use super::{Kind, Remedy};

/// A class word or look that does not fit.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LookRefusal {
    /// No trait has such a class.
    #[error("no trait has a class '{word}'{}{}", near(.nearest), offered_lines(.offered))]
    UnknownClass {
        /// As typed.
        word: String,
        /// Known classes that are near.
        nearest: Vec<String>,
        /// The traits that seedlings are scored for, each with its classes.
        offered: Vec<String>,
        /// What to write for it, where that can be told.
        meant: Option<String>,
    },
    /// A word for all of them.
    #[error("'{word}' is no look; name the seedlings by their cells")]
    AllOf {
        /// As typed.
        word: String,
        /// The command.
        verb: &'static str,
        /// The tray.
        tray: String,
        /// How many cells it has.
        cells: i64,
    },
    /// The trait has no such class.
    #[error("{of} has no class '{word}'; its classes are {}", .classes.join(", "))]
    NotOfTrait {
        /// As typed.
        word: String,
        /// The trait.
        of: String,
        /// Its classes.
        classes: Vec<String>,
    },
    /// Several traits have it, or only traits that are not meant by themselves.
    #[error("'{word}' could be {}", .candidates.join(" or "))]
    Ambiguous {
        /// As typed.
        word: String,
        /// The readings it could be, with their traits.
        candidates: Vec<String>,
    },
    /// Two classes of one trait in one look.
    #[error("one look names {of} twice: {first} and {second}")]
    TraitTwice {
        /// The trait.
        of: String,
        /// The one class.
        first: String,
        /// The other.
        second: String,
    },
    /// A tally counts one look twice.
    #[error("the look {0} is counted twice in one tally")]
    LookTwice(String),
    /// Looks of one tally that name different traits.
    #[error(
        "one look names {first} and another {second}; every look of a tally names the same traits"
    )]
    UnlikeLooks {
        /// The traits of the one look.
        first: String,
        /// The traits of the other.
        second: String,
    },
    /// A seedling named twice in one entry.
    #[error("{0} is named twice")]
    SeedlingTwice(String),
    /// Nothing of that look stands there.
    #[error("nothing standing in {place} was scored {look}; say how many are meant")]
    NoneOfLook {
        /// The tray or cell.
        place: String,
        /// The look.
        look: String,
    },
    /// None of some cells was read so.
    #[error(
        "nothing standing in {tray} {cells} was scored {look}; with '=' the look is recorded as they go"
    )]
    NoneOfLookIn {
        /// The command.
        verb: &'static str,
        /// The tray.
        tray: String,
        /// The cells, as typed.
        cells: String,
        /// The look.
        look: String,
    },
    /// Chosen by a look, and blindly.
    #[error(
        "seedlings chosen by a look are not chosen blindly\n--blind says that nobody looked; what was picked by its look biases the ratio"
    )]
    BlindByLook,
    /// Which of several is meant.
    #[error("{count} of {place} are meant, but {standing} of the look {look} stand there: {}", .candidates.join(", "))]
    WhichOfLook {
        /// The command.
        verb: &'static str,
        /// The tray or cell.
        place: String,
        /// The look.
        look: String,
        /// How many were meant.
        count: i64,
        /// How many there are.
        standing: i64,
        /// Where they stand.
        candidates: Vec<String>,
    },
    /// A plant that could not be scored is no look to remove by.
    #[error("'{0}' says that nothing could be seen; name a class")]
    NoClass(String),
    /// A doubtful look as a goal.
    #[error("'maybe-{0}' is a look in doubt, and a goal is a plain one")]
    InDoubt(String),
}

/// One line for each trait on offer.
fn offered_lines(offered: &[String]) -> String {
    offered.iter().map(|line| format!("\n{line}")).collect()
}

fn near(nearest: &[String]) -> String {
    match nearest {
        [] => String::new(),
        near => format!("; the nearest known: {}", near.join(", ")),
    }
}

impl LookRefusal {
    /// What sort of refusal it is.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::UnknownClass { .. } | Self::NotOfTrait { .. } => Kind::Unknown,
            Self::Ambiguous { .. } | Self::WhichOfLook { .. } => Kind::Ambiguous,
            Self::BlindByLook => Kind::Contrary,
            _ => Kind::Impossible,
        }
    }

    /// What to type next.
    #[must_use]
    pub fn remedy(&self) -> Remedy {
        let list = || "locule trait list".to_owned();
        match self {
            Self::UnknownClass {
                nearest,
                word,
                meant,
                ..
            } => match meant.as_ref().or(nearest.first()) {
                Some(class) => Remedy::word(word, class, list()),
                None => Remedy::Command(list()),
            },
            Self::AllOf {
                verb, tray, cells, ..
            } => Remedy::Command(format!("locule {verb} {tray} 1-{cells}")),
            Self::NotOfTrait { of, word, classes } => match classes.first() {
                Some(class) => Remedy::word(word, class, format!("locule trait show {of}")),
                None => Remedy::Command(format!("locule trait show {of}")),
            },
            Self::Ambiguous { candidates, word } => match candidates.first() {
                Some(class) => Remedy::word(word, class, list()),
                None => Remedy::Command(list()),
            },
            Self::TraitTwice { of, .. } => Remedy::Command(format!("locule trait show {of}")),
            Self::LookTwice(look) => Remedy::Advice(format!("{look} once, with the whole count")),
            Self::UnlikeLooks { .. } => Remedy::Advice(
                "score each trait by itself, or both at once: purple/hairy=5".to_owned(),
            ),
            Self::SeedlingTwice(place) => Remedy::show(place),
            Self::NoneOfLook { place, .. } => Remedy::show(place),
            Self::NoneOfLookIn {
                verb,
                tray,
                cells,
                look,
            } => Remedy::Command(format!("locule {verb} {tray} {cells}={look}")),
            Self::BlindByLook => Remedy::Without("--blind"),
            Self::WhichOfLook {
                candidates,
                place,
                verb,
                ..
            } => match candidates.first() {
                Some(first) => Remedy::Command(format!("locule {verb} {first}")),
                None => Remedy::Command(show(place)),
            },
            Self::NoClass(_) => Remedy::Command(list()),
            Self::InDoubt(class) => Remedy::word(
                &format!("maybe-{class}"),
                class,
                format!("locule goal add {class} --must"),
            ),
        }
    }
}
