//! Loci, genotypes, traits and gene models that cannot stand.

use super::{Kind, Remedy};
use crate::records::genes::UnreadableRow;
use crate::records::rows::GoalKind;

/// What is wrong with a locus, a genotype, a trait or its model.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GeneRefusal {
    /// A genotype that cannot be read, with a pointer to the character.
    #[error("{message}\n{pointer}")]
    Genotype {
        /// What is wrong.
        message: String,
        /// The text and a caret under the character meant.
        pointer: String,
        /// What to write instead.
        hint: String,
    },
    /// A pedigree that cannot be read, with a pointer to the character.
    #[error("the pedigree cannot be read: {message}\n{pointer}")]
    Pedigree {
        /// What is wrong.
        message: String,
        /// The text and a caret under the character meant.
        pointer: String,
        /// What to write instead.
        hint: String,
    },
    /// A locus that cannot be entered.
    #[error("{message}")]
    Locus {
        /// What is wrong.
        message: String,
        /// What to write instead.
        hint: String,
    },
    /// Shares that do not add up.
    #[error("{message}")]
    Shares {
        /// The locus.
        locus: String,
        /// What is wrong.
        message: String,
        /// The alleles it has.
        alleles: Vec<String>,
    },
    /// A row that no command of this program writes.
    #[error(transparent)]
    Unreadable(#[from] UnreadableRow),
    /// The alleles of a locus that is used already.
    #[error(
        "locus {locus} is used by {by}: its alleles {old} can be added to, but neither dropped nor put in another order"
    )]
    AllelesUsed {
        /// The locus.
        locus: String,
        /// What uses it.
        by: String,
        /// The alleles it has.
        old: String,
    },
    /// Nothing said of a locus.
    #[error("nothing is said of locus {0}")]
    NothingSaid(String),
    /// A number out of its range.
    #[error("{what} takes {wanted}, not '{typed}'")]
    Number {
        /// What the number is.
        what: String,
        /// What was typed.
        typed: String,
        /// What belongs there.
        wanted: &'static str,
        /// What to type instead.
        remedy: Box<Remedy>,
    },
    /// A locus that is not known.
    #[error("there is no locus '{typed}'{}", near(.nearest))]
    UnknownLocus {
        /// As typed.
        typed: String,
        /// Known loci that are near.
        nearest: Vec<String>,
    },
    /// A trait or gene model that cannot stand.
    #[error("trait {of}: {message}")]
    Trait {
        /// The trait.
        of: String,
        /// What is wrong.
        message: String,
        /// What to write instead.
        hint: String,
    },
    /// A trait one of whose looks is bred for.
    #[error("{look} of {of} is a goal; its classes stand as long as it is one")]
    IsGoal {
        /// The trait.
        of: String,
        /// The class.
        look: String,
    },
    /// No such grade.
    #[error("{of} has no grade '{typed}'; it has {}", .known.join(", "))]
    NoGrade {
        /// The trait.
        of: String,
        /// As typed.
        typed: String,
        /// The grades there are.
        known: Vec<String>,
    },
    /// A pod of number 0.
    #[error("--pod 0 names no pod: the pods of a plant are numbered from 1")]
    NoPod,
    /// A trait that is scored, where grades are meant.
    #[error("{0} is scored by its looks, not graded")]
    NotGraded(String),
    /// A trait that is told by what is measured, where grades are meant.
    #[error("{0} is measured, not graded: its goal goes by the newest measure of each plant")]
    Measured(String),
    /// A trait on grades, where one that is scored is meant.
    #[error("{0} is graded: it has no gene model and is not scored")]
    Graded(String),
    /// Grades or measures as a must, or to be avoided.
    #[error(
        "{0} comes in degrees: more of it can be wanted, or less of it; it is no must, and not avoided"
    )]
    OnlyWanted(String),
    /// Less of a look that is there or not.
    #[error("--less is of grades, and '{0}' is a look that is there or not")]
    NotLess(String),
    /// A tally of tastings.
    #[error("--tasted is of single plants, and this is a tally")]
    TastedTally,
    /// A trait that is not tasted.
    #[error("{0} has no class 'hot', so it is not told by tasting")]
    NotTasted(String),
    /// Goals on two looks of one trait that no plant can meet.
    #[error(
        "{look} of {of} {}, {earlier} {} already, and a plant shows one look of {of}: no plant could meet both",
        as_goal(*.kind, "cannot be"),
        as_goal(*.kind, "is")
    )]
    GoalsClash {
        /// The trait.
        of: String,
        /// The look that is typed.
        look: String,
        /// The look of the goal that stands.
        earlier: String,
        /// What both would be.
        kind: GoalKind,
    },
    /// How hot is to be a goal, and no trait of grades says it yet.
    #[error("no trait is called '{0}' yet: how hot a plant is, is graded, on a trait that you add")]
    NoScaleYet(String),
    /// One trait graded twice in one command.
    #[error("{0} is given two grades at once: which of them is meant?")]
    TwoGrades(String),
    /// A look that is no goal.
    #[error("{0} is no goal")]
    NoGoal(String),
    /// A trait without a late class.
    #[error("the trait {0} has no class that shows late: its looks are there from the start")]
    NotLate(String),
    /// A trait that has been scored.
    #[error("the trait {of} has been scored {}; its classes stand", times(*.scored))]
    Scored {
        /// The trait.
        of: String,
        /// How often it was scored.
        scored: i64,
    },
    /// A trait that came with the ledger.
    #[error("the trait {0} is built in, and this puts another one in its place")]
    BuiltIn(String),
    /// No such stage.
    #[error("--stage takes {}, not '{typed}'", .known.join(", "))]
    Stage {
        /// As typed.
        typed: String,
        /// The stages there are.
        known: Vec<&'static str>,
    },
    /// No such gene model.
    #[error("the trait {of} has no model '{typed}'; it has {}", .known.join(", "))]
    UnknownModel {
        /// The trait.
        of: String,
        /// As typed.
        typed: String,
        /// The models there are.
        known: Vec<String>,
    },
    /// A model's name that is taken.
    #[error("the trait {of} has a model '{name}' already")]
    ModelTaken {
        /// The trait.
        of: String,
        /// The name.
        name: String,
    },
    /// A trait switched off cannot be the bench trait.
    #[error("the trait {0} is switched off")]
    SwitchedOff(String),
    /// The bench trait cannot be switched off.
    #[error("{0} is the bench trait, to which bare class words belong")]
    BenchTrait(String),
}

fn as_goal(kind: GoalKind, verb: &str) -> String {
    match kind {
        GoalKind::Must => format!("{verb} a must"),
        GoalKind::Want => format!("{verb} wanted"),
        GoalKind::Avoid => format!("{verb} avoided"),
    }
}

fn times(scored: i64) -> String {
    match scored {
        1 => "once".to_owned(),
        scored => format!("{scored} times"),
    }
}

fn near(nearest: &[String]) -> String {
    match nearest {
        [] => String::new(),
        near => format!("; the nearest known: {}", near.join(", ")),
    }
}

impl GeneRefusal {
    /// What sort of refusal it is.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::UnknownLocus { .. }
            | Self::UnknownModel { .. }
            | Self::NoGoal(_)
            | Self::NoGrade { .. } => Kind::Unknown,
            Self::BuiltIn(_) => Kind::Implausible,
            _ => Kind::Impossible,
        }
    }

    /// What to type next.
    #[must_use]
    pub fn remedy(&self) -> Remedy {
        Remedy::Command(match self {
            Self::Genotype { hint, .. }
            | Self::Pedigree { hint, .. }
            | Self::Trait { hint, .. } => {
                return Remedy::Advice(hint.clone());
            }
            Self::Number { remedy, .. } => return (**remedy).clone(),
            Self::Stage { known, .. } => {
                let first = known.first().copied().unwrap_or_default();
                return Remedy::Flags(vec![("--stage", first.to_owned())]);
            }
            Self::Locus { hint, .. } => hint.clone(),
            Self::Shares { locus, alleles, .. } => {
                let share = 1.0 / alleles.len().max(1) as f64;
                let flags = alleles
                    .iter()
                    .map(|allele| format!(" --share {allele}={share:.3}"));
                format!("locule locus set {locus}{}", flags.collect::<String>())
            }
            Self::Unreadable(_) => "locule check-ledger".to_owned(),
            Self::AllelesUsed { locus, old, .. } => {
                format!("locule locus set {locus} --alleles {old},NEW")
            }
            Self::NothingSaid(locus) => {
                format!("locule locus set {locus} --chromosome 10 --at 33")
            }
            Self::UnknownLocus { typed, nearest } => {
                let otherwise = format!("locule locus set {typed} --alleles {typed},OTHER");
                return match nearest.first() {
                    Some(near) => Remedy::word(typed, near, otherwise),
                    None => Remedy::Command(otherwise),
                };
            }
            Self::Scored { of, .. } | Self::BuiltIn(of) => format!(
                "locule trait model add {of} NAME --rule 'A/_ => purple' --rule 'else => green'"
            ),
            Self::IsGoal { of, look } => format!("locule goal remove {of}:{look}"),
            Self::NoGoal(_) => "locule goal list".to_owned(),
            Self::GoalsClash { of, earlier, .. } => format!("locule goal remove {of}:{earlier}"),
            Self::NoScaleYet(of) => format!("locule trait add {of} --grades 0-5"),
            Self::TwoGrades(of) => format!("locule grade T1-03 {of}=4"),
            Self::NoGrade { typed, known, .. } => {
                let middle = known.get(known.len() / 2).cloned().unwrap_or_default();
                return Remedy::word(typed, &middle, "locule grade --help".to_owned());
            }
            Self::NoPod => return Remedy::Flags(vec![("--pod", "1".to_owned())]),
            Self::TastedTally => "locule score T1-03 hot --tasted tip".to_owned(),
            Self::NotTasted(of) => format!("locule trait show {of}"),
            Self::NotGraded(of) => format!("locule trait show {of}"),
            Self::Measured(of) => format!("locule measure T1-03 {of}=42mm"),
            Self::Graded(of) => format!("locule grade --help; its grades: locule trait show {of}"),
            Self::OnlyWanted(of) => format!("locule goal add {of} --want 1"),
            Self::NotLess(look) => format!("locule goal add {look} --avoid"),
            Self::UnknownModel { of, known, .. } => match known.first() {
                Some(model) => format!("locule trait model use {of} '{model}'"),
                None => format!("locule show {of}"),
            },
            Self::ModelTaken { of, name } => format!("locule trait model use {of} '{name}'"),
            Self::SwitchedOff(of) => format!("locule trait on {of}"),
            Self::BenchTrait(_) | Self::NotLate(_) => "locule trait list".to_owned(),
        })
    }
}
