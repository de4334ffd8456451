//! Starting beliefs and thresholds: what the diagnosis takes for granted until the ledger says otherwise.
//!
//! Each has a key, a default, a range and a standing; the ledger keeps only those that were changed.

use super::code::fold;
use super::facts::Facts;
use super::genes::read_number;
use super::near::nearest;

/// How far a starting belief can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// What growers do or say; no published source.
    CommonPractice,
    /// Our own default.
    DesignChoice,
}

impl Standing {
    /// In words.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::CommonPractice => "common practice, no source",
            Self::DesignChoice => "design choice",
        }
    }
}

/// What numbers a key accepts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Range {
    /// A probability, 0 and 1 included.
    Probability,
    /// A weight: zero or more.
    Weight,
    /// A number above zero.
    Positive,
    /// Whole days from the first to the second.
    Days(i64, i64),
}

impl Range {
    fn holds(self, value: f64) -> bool {
        match self {
            Self::Probability => (0.0..=1.0).contains(&value),
            Self::Weight => (0.0..=1e6).contains(&value),
            Self::Positive => value > 0.0 && value <= 1e6,
            Self::Days(from, to) => {
                value.fract() == 0.0 && value >= from as f64 && value <= to as f64
            }
        }
    }

    /// What belongs there, in words.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::Probability => "a probability from 0 to 1".to_owned(),
            Self::Weight => "a weight of 0 or more".to_owned(),
            Self::Positive => "a number above 0".to_owned(),
            Self::Days(from, to) => format!("whole days from {from} to {to}"),
        }
    }
}

/// One starting belief or threshold.
#[derive(Debug, Clone, Copy)]
pub struct Assumption {
    /// The key, as typed with `assume`.
    pub key: &'static str,
    /// Its default.
    pub default: f64,
    /// What it accepts.
    pub range: Range,
    /// How far the default can be trusted.
    pub standing: Standing,
    /// What it means, in a grower's words.
    pub meaning: &'static str,
}

/// Why a value is refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum AssumeError {
    /// No such key.
    #[error("there is no starting belief '{}'{}", .0, near_words(.0))]
    UnknownKey(String),
    /// A keep threshold at or above the cull threshold.
    #[error(
        "verdict.keep {keep} must lie below verdict.cull {cull}, or one seedling would be both kept and culled"
    )]
    KeepAboveCull {
        /// The keep threshold that would be in force.
        keep: String,
        /// The cull threshold that would be in force.
        cull: String,
    },
    /// Not a number, or outside the range.
    #[error("'{key}' takes {wanted}, not '{value}'")]
    BadValue {
        /// The key.
        key: &'static str,
        /// What was typed.
        value: String,
        /// What belongs there.
        wanted: String,
    },
}

impl AssumeError {
    /// A command to type next.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::UnknownKey(typed) => match nearest_keys(typed).first() {
                Some(key) => format!("locule assume {key}"),
                None => "locule assume".to_owned(),
            },
            Self::KeepAboveCull { .. } => "locule assume verdict.keep 0.2".to_owned(),
            Self::BadValue { .. } => "locule assume".to_owned(),
        }
    }
}

fn near_words(typed: &str) -> String {
    match &nearest_keys(typed)[..] {
        [] => String::new(),
        near => format!("; the nearest: {}", near.join(", ")),
    }
}

/// The keys that a mistyped one may have meant: those spelled nearly so, else those that hold it.
fn nearest_keys(typed: &str) -> Vec<String> {
    let keys = || ASSUMPTIONS.iter().map(|known| known.key);
    let near = nearest(typed, keys());
    let word = fold(typed);
    if !near.is_empty() || word.is_empty() {
        return near;
    }
    let holding = keys().filter(|key| key.contains(&word));
    holding.take(3).map(str::to_owned).collect()
}

macro_rules! assumptions {
    ($( $field:ident, $key:literal, $default:expr, $range:expr, $standing:ident, $meaning:literal; )+) => {
        /// Every starting belief and threshold, in the order shown.
        pub const ASSUMPTIONS: &[Assumption] = &[
            $( Assumption { key: $key, default: $default, range: $range,
                standing: Standing::$standing, meaning: $meaning } ),+
        ];

        /// The values in force.
        #[derive(Debug, Clone, PartialEq)]
        pub struct Assumptions {
            $( #[doc = $meaning] pub $field: f64 ),+
        }

        impl Default for Assumptions {
            fn default() -> Self {
                Self { $( $field: $default ),+ }
            }
        }

        impl Assumptions {
            /// The values in force in a ledger.
            #[must_use]
            pub fn of(facts: &Facts) -> Self {
                let mut values = Self::default();
                for row in &facts.setting {
                    if let Ok(value) = read_value(&row.key, &row.value) {
                        values.set(&row.key, value);
                    }
                }
                values
            }

            /// The same values with one of them changed.
            #[must_use]
            pub fn with(mut self, key: &str, value: f64) -> Self {
                self.set(key, value);
                self
            }

            fn set(&mut self, key: &str, value: f64) {
                match key {
                    $( $key => self.$field = value, )+
                    _ => {}
                }
            }

            /// The value of a key.
            #[must_use]
            pub fn get(&self, key: &str) -> Option<f64> {
                match key {
                    $( $key => Some(self.$field), )+
                    _ => None,
                }
            }
        }
    };
}

assumptions! {
    none_not_emasculated, "none.not-emasculated", 0.10, Range::Probability, CommonPractice,
        "chance that a tray is wholly as labelled, of a cross whose anthers were left in";
    none_emasculated, "none.emasculated", 0.70, Range::Probability, CommonPractice,
        "the same, anthers taken out";
    none_covered, "none.covered", 0.85, Range::Probability, CommonPractice,
        "the same, anthers taken out and flower covered";
    none_self_open, "none.self-open", 0.90, Range::Probability, CommonPractice,
        "the same, of a self left open and of a packet";
    none_self_covered, "none.self-covered", 0.98, Range::Probability, CommonPractice,
        "the same, of a covered self";
    self_not_emasculated, "self.not-emasculated", 20.0, Range::Weight, CommonPractice,
        "weight of the mother's own pollen, anthers left in";
    self_emasculated, "self.emasculated", 4.0, Range::Weight, CommonPractice,
        "weight of the mother's own pollen, anthers taken out";
    self_covered, "self.covered", 4.0, Range::Weight, CommonPractice,
        "weight of the mother's own pollen, anthers taken out and flower covered";
    mixed_not_emasculated, "mixed.not-emasculated", 8.0, Range::Weight, DesignChoice,
        "weight of several sources at once, anthers left in";
    mixed_emasculated, "mixed.emasculated", 1.0, Range::Weight, DesignChoice,
        "weight of several sources at once, anthers taken out";
    mixed_covered, "mixed.covered", 1.0, Range::Weight, DesignChoice,
        "weight of several sources at once, anthers taken out and flower covered";
    mixed_self_open, "mixed.self-open", 1.0, Range::Weight, DesignChoice,
        "weight of several sources at once, of a self left open and of a packet";
    mixed_self_covered, "mixed.self-covered", 1.0, Range::Weight, DesignChoice,
        "weight of several sources at once, of a covered self";
    unknown_pollen, "weight.unknown-pollen", 2.0, Range::Weight, CommonPractice,
        "weight of pollen from plants that are not in the ledger";
    unknown_seed, "weight.unknown-seed", 0.5, Range::Weight, CommonPractice,
        "weight of a seed from outside the ledger";
    stray_seed, "weight.stray-seed", 0.5, Range::Weight, CommonPractice,
        "weight of seed of each other cross sown on the same day";
    donor_same_tool, "donor.same-tool", 4.0, Range::Weight, CommonPractice,
        "weight of a plant handled before with the same tool, not wiped";
    donor_same_day, "donor.same-day", 1.0, Range::Weight, CommonPractice,
        "weight of a plant otherwise handled or in flower that day";
    donor_near_day, "donor.near-day", 0.5, Range::Weight, CommonPractice,
        "weight of a plant handled or in flower some days before or after";
    donor_window, "donor.window", 3.0, Range::Days(0, 60), CommonPractice,
        "how many days before or after still count";
    whole_batch, "whole-batch", 0.01, Range::Probability, CommonPractice,
        "chance that a whole tray is something else: all selfs, all stray pollen, or a swapped label";
    wide_usual, "wide.usual", 1.0, Range::Positive, DesignChoice,
        "how many times likelier a tray is all selfs where mother and father are of two species that cross as a rule";
    wide_hard, "wide.hard", 4.0, Range::Positive, DesignChoice,
        "the same, species that are hard to cross";
    wide_very_hard, "wide.very-hard", 7.0, Range::Positive, DesignChoice,
        "the same, species that are very hard to cross";
    wide_not_expected, "wide.not-expected", 70.0, Range::Positive, DesignChoice,
        "the same, species that are not expected to cross";
    share_self_a, "share.self.a", 1.0, Range::Positive, DesignChoice,
        "share of selfed or mixed seed in a tray that has some: Beta, first number";
    share_self_b, "share.self.b", 1.0, Range::Positive, DesignChoice,
        "the same, second number";
    share_pollen_a, "share.pollen.a", 1.0, Range::Positive, DesignChoice,
        "share of stray pollen in a tray that has some: Beta, first number";
    share_pollen_b, "share.pollen.b", 4.0, Range::Positive, DesignChoice,
        "the same, second number";
    share_seed_a, "share.seed.a", 1.0, Range::Positive, DesignChoice,
        "share of stray seed in a tray that has some: Beta, first number";
    share_seed_b, "share.seed.b", 19.0, Range::Positive, DesignChoice,
        "the same, second number";
    trust_stated, "trust.stated", 0.99, Range::Probability, DesignChoice,
        "how far a stated genotype is trusted";
    trust_proven, "trust.proven", 0.999, Range::Probability, DesignChoice,
        "the same where proven, or where the eye sees it (homozygous for the last allele)";
    inbreeding_line, "inbreeding.line", 0.95, Range::Probability, DesignChoice,
        "inbreeding of a line";
    inbreeding_packet, "inbreeding.packet", 0.8, Range::Probability, DesignChoice,
        "inbreeding of a named packet";
    inbreeding_plant, "inbreeding.plant", 0.0, Range::Probability, DesignChoice,
        "inbreeding of a single plant of unknown origin";
    batch_spread, "batch-spread", 0.25, Range::Weight, DesignChoice,
        "how much a whole tray is slower or faster to colour (spread of the log of days)";
    dim, "dim", 0.02, Range::Probability, DesignChoice,
        "chance that nothing at all colours in a tray, for want of light";
    doubtful, "doubtful", 0.10, Range::Probability, DesignChoice,
        "chance that a reading written down with maybe- is wrong";
    days_annuum, "days-to-emergence.annuum", 10.0, Range::Days(0, 120), DesignChoice,
        "usual days from sowing to emergence where nothing was counted, Capsicum annuum";
    days_other, "days-to-emergence.other", 14.0, Range::Days(0, 120), DesignChoice,
        "the same, other and unknown species";
    lost_moved, "lost.moved", 0.2, Range::Probability, DesignChoice,
        "chance that a pot without a label stands elsewhere than its tray";
    lost_age, "lost.age", 3.0, Range::Positive, DesignChoice,
        "how far off a stated age of a pot without a label is, in days (standard deviation)";
    lost_unrecorded, "lost.unrecorded", 0.01, Range::Probability, DesignChoice,
        "how many seedlings without a record a seed in the box stands for";
    lost_stranger, "lost.stranger", 0.1, Range::Weight, DesignChoice,
        "how many seedlings from elsewhere stand among the pots";
    not_dead_annuum, "not-dead.annuum", 28.0, Range::Days(1, 365), DesignChoice,
        "days after sowing, at 25 to 28 °C, up to which seed is not called dead, Capsicum annuum";
    not_dead_other, "not-dead.other", 42.0, Range::Days(1, 365), DesignChoice,
        "the same, other cultivated and unknown species";
    not_dead_wild, "not-dead.wild", 60.0, Range::Days(1, 365), DesignChoice,
        "the same, wild species";
    cull, "verdict.cull", 0.95, Range::Probability, DesignChoice,
        "cull from this chance of being off-type";
    keep, "verdict.keep", 0.20, Range::Probability, DesignChoice,
        "keep up to this chance of being off-type";
    settle, "verdict.settle", 0.5, Range::Probability, DesignChoice,
        "wait where a later look settles it with at least this chance";
    proof, "verdict.proof", 0.5, Range::Probability, DesignChoice,
        "a keep is proven where its looks are at most this many times as likely off-type";
    horizon, "verdict.horizon", 60.0, Range::Days(1, 365), DesignChoice,
        "how many days ahead a further look is considered";
    allowed, "verdict.allowed", 0.05, Range::Probability, DesignChoice,
        "a class counts as allowed by the label from this chance";
    taste_tip, "taste.tip", 0.30, Range::Probability, DesignChoice,
        "chance that a hot pod is not found hot by a crumb of the wall at its tip";
    taste_wall, "taste.wall", 0.10, Range::Probability, DesignChoice,
        "the same, by the wall near the stalk";
    taste_placenta, "taste.placenta", 0.01, Range::Probability, DesignChoice,
        "the same, by the placenta";
    taste_false_hot, "taste.false-hot", 0.01, Range::Probability, DesignChoice,
        "chance that a pod without heat is found hot, however tasted";
    goal_carried, "goal.carried", 0.5, Range::Probability, DesignChoice,
        "what a must is worth that a plant only carries: 1 as much as shown, 0 nothing";
}

/// The assumption of a key.
#[must_use]
pub fn find(key: &str) -> Option<&'static Assumption> {
    ASSUMPTIONS
        .iter()
        .find(|assumption| assumption.key.eq_ignore_ascii_case(key))
}

/// A typed value as it is kept: a plain number, a percentage where a probability is meant.
#[must_use]
pub fn plain_value(known: &Assumption, typed: &str) -> String {
    let typed = typed.trim();
    let percent = typed
        .strip_suffix('%')
        .filter(|_| known.range == Range::Probability);
    let number = percent.and_then(|text| read_number(text.trim_end()));
    number.map_or_else(|| typed.to_owned(), |percent| (percent / 100.0).to_string())
}

/// Checks a typed value for a key.
///
/// # Errors
/// [`AssumeError`] where there is no such key or the value is outside its range.
pub fn read_value(key: &str, text: &str) -> Result<f64, AssumeError> {
    let assumption = find(key).ok_or_else(|| AssumeError::UnknownKey(key.to_owned()))?;
    let value = text.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    value
        .filter(|v| assumption.range.holds(*v))
        .ok_or_else(|| AssumeError::BadValue {
            key: assumption.key,
            value: text.to_owned(),
            wanted: assumption.range.words(),
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_lie_in_their_ranges_and_are_found() {
        for assumption in ASSUMPTIONS {
            assert!(
                assumption.range.holds(assumption.default),
                "{}",
                assumption.key
            );
            assert_eq!(
                Assumptions::default().get(assumption.key),
                Some(assumption.default)
            );
        }
    }

    #[test]
    fn values_are_checked() {
        assert_eq!(read_value("dim", "0.05"), Ok(0.05));
        assert!(matches!(
            read_value("dim", "1.5"),
            Err(AssumeError::BadValue { .. })
        ));
        assert!(matches!(
            read_value("dim", "NaN"),
            Err(AssumeError::BadValue { .. })
        ));
        assert!(matches!(
            read_value("dimm", "0"),
            Err(AssumeError::UnknownKey(_))
        ));
    }
}
