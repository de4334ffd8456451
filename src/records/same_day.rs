//! A count and pullings of one day: which came first, as far as the numbers show.
//!
//! The ledger keeps days and no hours. Knows no rows; the gate, the diagnosis and the counts of ratios fill in the numbers
//! and go by this one rule.

use std::collections::{BTreeMap, BTreeSet};

/// Seedlings that went on the day of a tally, one record of them.
#[derive(Debug, Clone, Default)]
pub struct Gone {
    /// The number of the record.
    pub id: i64,
    /// How many.
    pub count: i64,
    /// For which classes they were pulled, each with its trait; none where nobody said it.
    pub classes: Vec<(i64, i64)>,
}

/// A tally, and what went on its day.
#[derive(Debug, Clone, Default)]
pub struct SameDay {
    /// What the tally counts: trait, class, how many.
    pub counted: Vec<(i64, i64, i64)>,
    /// How many seedlings it counts.
    pub total: i64,
    /// What went on its day, in the order of recording.
    pub gone: Vec<Gone>,
    /// How many stood at the end of that day by what was counted as up; nothing where nobody counted.
    pub stood: Option<i64>,
}

/// What of a day went before the tally.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Placed {
    /// The numbers of the records of what went before it.
    pub before: BTreeSet<i64>,
    /// Whether the numbers show nothing, so that all is taken to have gone after it.
    pub unsure: bool,
}

impl SameDay {
    /// What went before the tally was made.
    ///
    /// After it went, of what was recorded last, as much as the tally counts beyond those that stood in the end, and never
    /// more of a class than it counts. Where nobody counted what is up, or the tally has not even those that stood, only
    /// the classes tell.
    #[must_use]
    pub fn placed(&self) -> Placed {
        let beyond = self.stood.map(|stood| self.total - stood);
        let beyond = beyond.filter(|beyond| *beyond >= 0);
        let (mut after, mut of_class) = (0, BTreeMap::<i64, i64>::new());
        let mut rest = self.gone.as_slice();
        while let Some((newest, older)) = rest.split_last() {
            if beyond.is_some_and(|beyond| after >= beyond) || !self.holds(newest, &mut of_class) {
                break;
            }
            after += newest.count;
            rest = older;
        }
        Placed {
            before: rest.iter().map(|gone| gone.id).collect(),
            unsure: beyond.is_none() && rest.is_empty(),
        }
    }

    /// Whether the tally has seedlings of the classes for which these were pulled, beside those that went after it already.
    fn holds(&self, gone: &Gone, of_class: &mut BTreeMap<i64, i64>) -> bool {
        let is_read = |of: i64| self.counted.iter().any(|(own, ..)| *own == of);
        let counted = |class: i64| -> i64 {
            let own = self.counted.iter().filter(|(_, own, _)| *own == class);
            own.map(|(.., count)| count).sum()
        };
        let mut holds = true;
        for (of, class) in &gone.classes {
            let sum = of_class.entry(*class).or_default();
            *sum += gone.count;
            holds &= !is_read(*of) || *sum <= counted(*class);
        }
        holds
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Felted (4) and bald (5) of trait 1; what went is numbered from 1.
    fn before(counted: [i64; 2], stood: Option<i64>, gone: &[(i64, bool)]) -> (Vec<i64>, bool) {
        let gone = (1..).zip(gone).map(|(id, (count, is_bald))| Gone {
            id,
            count: *count,
            classes: if *is_bald { vec![(1, 5)] } else { Vec::new() },
        });
        let day = SameDay {
            counted: vec![(1, 4, counted[0]), (1, 5, counted[1])],
            total: counted.iter().sum(),
            gone: gone.collect(),
            stood,
        };
        let placed = day.placed();
        (placed.before.into_iter().collect(), placed.unsure)
    }

    /// Forty up throughout.
    #[test]
    fn numbers_place_a_count() {
        let none = Vec::new();
        assert_eq!(before([30, 6], Some(36), &[(4, false)]), (vec![1], false));
        assert_eq!(
            before([30, 10], Some(36), &[(4, false)]),
            (none.clone(), false)
        );
        assert_eq!(
            before([29, 10], Some(36), &[(4, false)]),
            (none.clone(), false),
            "one was missed"
        );
        assert_eq!(
            before([20, 6], Some(36), &[(4, false)]),
            (none.clone(), true)
        );
        assert_eq!(
            before([20, 2], Some(36), &[(4, true)]),
            (vec![1], false),
            "more than counted"
        );
        assert_eq!(before([20, 2], None, &[(4, true)]), (vec![1], false));
        assert_eq!(before([20, 4], None, &[(4, true)]), (none, true));
    }

    /// Thinned, counted, and thinned again: 4 went before the count of 36, 6 after it.
    #[test]
    fn a_count_between_two_pullings() {
        assert_eq!(
            before([30, 6], Some(30), &[(4, true), (6, true)]),
            (vec![1], false)
        );
        assert_eq!(
            before([30, 6], Some(30), &[(4, false), (6, false)]),
            (vec![1], false)
        );
        assert_eq!(
            before([30, 6], None, &[(4, true), (6, true)]),
            (vec![1], false)
        );
    }

    #[test]
    fn a_class_of_a_trait_that_is_not_counted_says_nothing() {
        let day = SameDay {
            counted: vec![(2, 7, 8)],
            total: 8,
            gone: vec![Gone {
                id: 1,
                count: 3,
                classes: vec![(1, 5)],
            }],
            stood: None,
        };
        assert_eq!(
            day.placed(),
            Placed {
                before: BTreeSet::new(),
                unsure: true
            }
        );
    }
}
