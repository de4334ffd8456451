//! Sets of counts as typed for `linkage`: the first by the flags, further ones with `--with`.

use clap::ValueEnum;

use crate::cli::failure::Failure;

use super::linkage::{EXAMPLE, From, LinkageArgs, TypedPhase};
use super::ratio::read_count;

/// Counts of the classes of one cross.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct CountedSet {
    /// The counts.
    pub(super) counts: Vec<u64>,
    /// What was counted.
    pub(super) from: From,
    /// How the alleles lay in the F1, where it is stated.
    pub(super) phase: Option<TypedPhase>,
}

impl CountedSet {
    /// What was counted, in words: `F2 in repulsion`.
    pub(super) fn words(&self) -> String {
        let phase = match self.phase {
            Some(TypedPhase::Coupling) => " in coupling",
            Some(TypedPhase::Repulsion) => " in repulsion",
            None => "",
        };
        format!("{}{phase}", self.from.words())
    }

    /// Reads `226 95 97 1 f2 repulsion`; what is not said is as in the set before.
    fn read(text: &str, before: &Self) -> Result<Self, Failure> {
        let mut set = Self {
            counts: Vec::new(),
            ..*before
        };
        for word in text.split_whitespace() {
            if let Ok(from) = From::from_str(word, true) {
                set.from = from;
            } else if let Ok(phase) = TypedPhase::from_str(word, true) {
                set.phase = Some(phase);
            } else {
                let count = read_count(word).map_err(|failure| {
                    failure
                        .because(
                            "--with takes counts, then f2 or testcross, then coupling or repulsion",
                        )
                        .try_flag("--with", "226 95 97 1 f2 repulsion")
                })?;
                set.counts.push(count);
            }
        }
        Ok(set)
    }
}

impl LinkageArgs {
    /// The sets of counts.
    ///
    /// # Errors
    /// [`Failure`] naming what is no count.
    pub(super) fn sets_typed(&self) -> Result<Vec<CountedSet>, Failure> {
        let counts = self.counts.iter().map(|text| read_count(text));
        let counts = counts
            .collect::<Result<Vec<_>, _>>()
            .map_err(|failure| failure.try_typing(EXAMPLE))?;
        let first = CountedSet {
            counts,
            from: self.from.unwrap_or_default(),
            phase: self.phase,
        };
        let mut sets = vec![first];
        for text in &self.with {
            let next = CountedSet::read(text, &sets[0])?;
            sets.push(next);
        }
        if sets.iter().flat_map(|set| &set.counts).all(|n| *n == 0) {
            return Err(
                Failure::refused("no plant was counted: nothing can be said of linkage")
                    .try_typing(EXAMPLE),
            );
        }
        Ok(sets)
    }
}
