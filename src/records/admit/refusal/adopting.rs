//! Why a seedling is not kept as what it probably is: it is kept already, nothing was read of it, its label is likelier.

use super::Remedy;
use super::remedy::show;
use crate::records::day::Day;

/// Why a seedling is not adopted. `code` is the code that it was to get; nothing where it has one already.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Adopting {
    /// A seedling that was adopted before.
    #[error("{seedling} is kept already, as {parents}")]
    Already {
        /// The seedling.
        seedling: String,
        /// As what it is kept.
        parents: String,
    },
    /// A seedling that has another code.
    #[error("{seedling} has a code already: {own}; it is adopted under that")]
    OtherCode {
        /// The seedling.
        seedling: String,
        /// Its code.
        own: String,
    },
    /// A seedling of which nothing was read.
    #[error(
        "nothing was read of {seedling} that speaks against its label; 'parent add' keeps it as labelled"
    )]
    NothingRead {
        /// The seedling.
        seedling: String,
        /// The code that it was to get.
        code: Option<String>,
    },
    /// A seedling that was only counted with others.
    #[error(
        "{seedling} was only counted among others, and which of them it is nobody said; score it by itself first"
    )]
    OnlyCounted {
        /// The seedling.
        seedling: String,
        /// A class that was counted there.
        class: String,
    },
    /// A seedling that was read later than the day on which it is to be adopted.
    #[error("nothing was read of {seedling} by {day}; it was first read on {first}")]
    ReadLater {
        /// The seedling.
        seedling: String,
        /// The code that it was to get.
        code: Option<String>,
        /// The day on which it is to be adopted.
        day: Day,
        /// The day of its first reading.
        first: Day,
    },
    /// A seedling that most likely is what its label says.
    #[error(
        "{seedling} most likely is what its label says, {label} ({}); 'parent add' keeps it so, and --as names other \
         parents if you know better", percentage(.chance)
    )]
    MostLikelyLabel {
        /// The seedling.
        seedling: String,
        /// The label.
        label: String,
        /// P(label).
        chance: String,
        /// The code that it was to get.
        code: Option<String>,
    },
    /// The parents of its label, named.
    #[error(
        "{typed} is its label{}; {seedling} is adopted only as something else", by_readings(.chance.as_deref())
    )]
    Label {
        /// The seedling.
        seedling: String,
        /// The parents as typed.
        typed: String,
        /// P(label), where worked out.
        chance: Option<String>,
        /// The code that it was to get.
        code: Option<String>,
    },
    /// A seedling of which no parents are likelier than not.
    #[error(
        "what {seedling} is cannot be told: {}; say with --as which you believe in", listed(.odds)
    )]
    Untold {
        /// The seedling.
        seedling: String,
        /// The code that it was to get.
        code: Option<String>,
        /// What it may be in words, with the probability, the likeliest first.
        odds: Vec<(String, String)>,
        /// The likeliest that is not its label, as it is typed.
        likeliest: String,
    },
    /// A seedling of which nothing says what it probably is.
    #[error("nothing says what {seedling} probably is; name its parents with --as")]
    NoOdds {
        /// The seedling.
        seedling: String,
        /// The code that it was to get.
        code: Option<String>,
    },
    /// Odds that name the same parents twice.
    #[error("--odds names {parents} twice")]
    TwiceInOdds {
        /// The parents.
        parents: String,
        /// The seedling.
        seedling: String,
    },
    /// Odds that are more than certain.
    #[error("the chances of --odds come to {sum}, and together they are at most 1")]
    OddsAboveOne {
        /// Their sum.
        sum: String,
        /// The seedling.
        seedling: String,
    },
}

/// A chance as a percentage; one decimal below 10 and from 90 on.
fn percentage(chance: &str) -> String {
    let p: f64 = chance.parse().unwrap_or(0.0);
    match 100.0 * p {
        few if few < 0.1 => "under 0.1 %".to_owned(),
        most if most > 99.9 => "over 99.9 %".to_owned(),
        some if (9.95..89.95).contains(&some) => format!("{some:.0} %"),
        some => format!("{some:.1} %"),
    }
}

fn by_readings(chance: Option<&str>) -> String {
    chance.map_or_else(String::new, |chance| {
        format!("; by its readings {}", percentage(chance))
    })
}

fn listed(odds: &[(String, String)]) -> String {
    let words: Vec<String> = odds
        .iter()
        .map(|(words, chance)| format!("{words} {}", percentage(chance)))
        .collect();
    words.join(", ")
}

impl Adopting {
    /// What to type next.
    #[must_use]
    pub fn remedy(&self) -> Remedy {
        let adopt = |seedling: &str, code: Option<&str>, rest: &str| {
            let code = code.map_or_else(String::new, |code| format!(" {code}"));
            format!("locule adopt {seedling}{code}{rest}")
        };
        let as_labelled = |seedling: &str, code: Option<&str>| match code {
            Some(code) => format!("locule parent add {code} --from {seedling}"),
            None => show(seedling),
        };
        Remedy::Command(match self {
            Self::Already { seedling, .. } => format!("locule pedigree {seedling}"),
            Self::OtherCode { own, .. } => format!("locule adopt {own}"),
            Self::NothingRead { seedling, code } | Self::MostLikelyLabel { seedling, code, .. } => {
                as_labelled(seedling, code.as_deref())
            }
            Self::OnlyCounted { seedling, class } => format!("locule score {seedling} {class}"),
            Self::ReadLater {
                seedling,
                code,
                first,
                ..
            } => adopt(seedling, code.as_deref(), &format!(" --on {first}")),
            Self::Label {
                seedling,
                chance,
                code,
                ..
            } => match chance
                .as_ref()
                .and_then(|chance| chance.parse::<f64>().ok())
            {
                Some(p) if p <= 0.5 => adopt(seedling, code.as_deref(), ""),
                _ => as_labelled(seedling, code.as_deref()),
            },
            Self::Untold {
                seedling,
                code,
                likeliest,
                ..
            } => adopt(seedling, code.as_deref(), &format!(" --as {likeliest}")),
            Self::NoOdds { seedling, code } => {
                adopt(seedling, code.as_deref(), " --as unknown-pollen")
            }
            Self::TwiceInOdds { seedling, .. } | Self::OddsAboveOne { seedling, .. } => {
                format!("locule why {seedling}")
            }
        })
    }
}
