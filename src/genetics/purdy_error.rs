//! What can be wrong with a pedigree in Purdy's notation, and what is doubtful in one, in words and with a
//! pointer to the character.
//!
//! Made by the parser of [`super::purdy`]; the gate and the command line show it.

use thiserror::Error;

use super::pointer::pointed;
use super::purdy::MOST_DOSES;

/// What is wrong with a pedigree.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PurdyFault {
    /// No slash at all.
    #[error("a pedigree names two parents with a slash between them")]
    NoCross,
    /// Nothing stands on one side of a slash.
    #[error("a parent is missing beside this slash")]
    MissingParent,
    /// The highest slash stands twice, so that it is open which cross was made first.
    #[error(
        "{0} stands twice here and is the highest slash, so it is open which cross was made last"
    )]
    SlashTwice(String),
    /// An order of 0.
    #[error("the crosses are numbered from 1, so there is no /0/")]
    OrderZero,
    /// An order beyond reason.
    #[error("this pedigree has more crosses than can be read")]
    TooLarge,
    /// A name of digits alone without quotes.
    #[error(
        "{0} is only digits: a name like that stands in quotes, a dose has a star, an order a slash on either side"
    )]
    OnlyDigits(String),
    /// A star without a number and a name at its sides.
    #[error("a star stands between a name and the number of its doses")]
    LoneStar,
    /// A dose that is none.
    #[error(
        "a dose counts the first cross too: 2 is the first backcross, and {MOST_DOSES} the most that is read"
    )]
    BadDose,
    /// Two numbers of doses for one parent.
    #[error("this parent has its doses on both sides")]
    DoseTwice,
    /// Both parents of a cross have a dose.
    #[error("both parents of this cross have doses; only one can be the recurrent one")]
    BothDosed,
    /// The number stands towards a slash that its parent does not belong to.
    #[error("the doses of {0} stand towards another slash than the one that crosses it")]
    DoseAway(String),
    /// A dash behind a blank that begins no selection history at the end.
    #[error("a dash behind a blank begins the selection history, which ends the pedigree")]
    LoneDash,
    /// A bracket without its fellow in one name.
    #[error(
        "the order of crosses is told by slashes, not by brackets; this bracket has no fellow in its name"
    )]
    LoneBracket,
    /// A quote that is never closed.
    #[error("this quote is never closed")]
    OpenQuote,
    /// Something stands right behind a closing quote.
    #[error("behind a quoted name comes a slash, a star or the end")]
    AfterQuote,
    /// A quoted name of nothing.
    #[error("the name between the quotes is empty")]
    EmptyName,
}

/// A pedigree that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{fault}")]
pub struct PurdyError {
    /// Where: characters from the start of the text, counted from 0.
    pub at: usize,
    /// What is wrong.
    pub fault: PurdyFault,
}

impl PurdyError {
    pub(super) const fn new(at: usize, fault: PurdyFault) -> Self {
        Self { at, fault }
    }

    /// What to write instead.
    #[must_use]
    pub fn hint(&self) -> String {
        match &self.fault {
            PurdyFault::NoCross => "write mother/father, such as A/B".into(),
            PurdyFault::MissingParent => "name a parent on either side: A/B//C".into(),
            PurdyFault::SlashTwice(_) => {
                "give the last cross the highest slash: A/B//C is (A x B) x C, A/B//C/3/D goes on".into()
            }
            PurdyFault::OrderZero => "write / for the first cross, // for the second, /3/ for the third".into(),
            PurdyFault::TooLarge => "enter an earlier parent by itself, and name it here".into(),
            PurdyFault::OnlyDigits(digits) => {
                format!("write '{digits}' in quotes, or 3*A for doses, or /3/ for a third cross")
            }
            PurdyFault::LoneStar => "write A*3/B or B/3*A; a name that holds a star stands in quotes".into(),
            PurdyFault::BadDose => "write A/B for a plain cross, A*2/B for the first backcross".into(),
            PurdyFault::DoseTwice => "write the number once, towards the slash: A*3/B or B/3*A".into(),
            PurdyFault::BothDosed => "leave the doses with the recurrent parent alone".into(),
            PurdyFault::DoseAway(_) => {
                "put the number towards the slash of its cross: A*3/B where A is the mother, B/3*A where it is the father".into()
            }
            PurdyFault::LoneDash => "write A/B -12-3; a name that holds ' -' stands in quotes".into(),
            PurdyFault::LoneBracket => {
                "write A/B//C for (A x B) x C; a name that holds a bracket stands in quotes".into()
            }
            PurdyFault::OpenQuote => "close it; a quote inside a name is doubled".into(),
            PurdyFault::AfterQuote => "put the whole name in quotes".into(),
            PurdyFault::EmptyName => "name the parent".into(),
        }
    }

    /// Two lines: the text, and under it a caret at the character that is meant. Control characters are shown
    /// as the replacement character.
    #[must_use]
    pub fn pointed(&self, text: &str) -> String {
        pointed(text, self.at)
    }
}

/// What is doubtful in a pedigree that was read all the same.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PurdyDoubt {
    /// A slash higher than the crosses below it ask for, as in `A//B`; old lists have such.
    SlashSkipped {
        /// The slash as written: `//`, `/3/`.
        written: String,
        /// The one that would have done.
        enough: String,
    },
    /// Doses on the far side of their parent, as in `B/A*3`.
    DoseTurned {
        /// How it was read.
        read_as: String,
    },
}
