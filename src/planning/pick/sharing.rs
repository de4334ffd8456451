//! How places are shared over crosses.
//!
//! As many as possible are to have a true seedling, each counted by what it is worth; called by the pick.

use super::Field;
use super::table::Table;
use crate::planning::space::ByWorth;

/// Most further places that are tried to find how many every cross would need.
const MOST_MORE: usize = 200;

/// Sharings of up to some number of places.
pub(super) struct Sharing {
    /// The crosses, those of a mother that has fewer before it last.
    takers: Vec<usize>,
    slots: Vec<usize>,
    most: usize,
    by_worth: ByWorth,
}

impl Sharing {
    /// Of up to so many places; a cross can use no more than its slots.
    pub(super) fn of(fields: &[Field], tables: &[Table], slots: &[usize], places: usize) -> Self {
        let before = |at: usize| {
            let earlier = fields[..at].iter();
            earlier
                .filter(|other| other.mother == fields[at].mother)
                .count()
        };
        // Of equally good sharings the one that leaves earlier takers fewer is taken.
        let mut takers: Vec<usize> = (0..fields.len()).rev().collect();
        takers.sort_by_key(|at| std::cmp::Reverse(before(*at)));
        let worths: Vec<Vec<f64>> = takers
            .iter()
            .map(|at| tables[*at].worths[..=slots[*at]].to_vec())
            .collect();
        let most = places.min(slots.iter().sum());
        Self {
            by_worth: ByWorth::of(&worths, most),
            takers,
            slots: slots.to_vec(),
            most,
        }
    }

    /// So many places shared, or as many as can be used; what helps no cross goes to those that lack most, crosses of a
    /// mother that has none yet first.
    pub(super) fn given(&self, places: usize) -> Vec<usize> {
        let most = places.min(self.most);
        let mut given = vec![0; self.slots.len()];
        for (at, own) in self.takers.iter().zip(self.by_worth.given(most)) {
            given[*at] = own;
        }
        let mut left = most - given.iter().sum::<usize>();
        while left > 0 {
            let lacking = self.takers.iter().rev();
            let lacking = lacking.filter(|at| given[**at] < self.slots[**at]);
            let at = *lacking
                .min_by_key(|at| given[**at])
                .expect("there are no more places than slots");
            given[at] += 1;
            left -= 1;
        }
        given
    }
}

/// The fewest places, more than some, that leave no cross with seedlings to choose and none kept before without one;
/// nothing where that takes very many.
pub(super) fn enough_for_each(
    (fields, tables, slots): (&[Field], &[Table], &[usize]),
    kept: &[usize],
    places: usize,
) -> Option<usize> {
    let most = slots.iter().sum::<usize>().min(places + MOST_MORE);
    let sharing = Sharing::of(fields, tables, slots, most);
    let is_lost = |(at, given): (usize, usize)| given == 0 && slots[at] > 0 && kept[at] == 0;
    (places + 1..=most).find(|all| !sharing.given(*all).into_iter().enumerate().any(is_lost))
}

/// Places in reserve: one by one to the cross that gains most by its next seedling.
pub(super) fn reserves(tables: &[Table], places: &[usize], reserve: usize) -> Vec<usize> {
    let mut given = vec![0; places.len()];
    for _ in 0..reserve {
        let next =
            (0..places.len()).filter(|at| tables[*at].worths.len() > places[*at] + given[*at] + 1);
        let gain = |at: usize| {
            let (worths, n) = (&tables[at].worths, places[at] + given[at]);
            worths[n + 1] - worths[n]
        };
        let best = next.reduce(|best, at| if gain(at) > gain(best) { at } else { best });
        let Some(at) = best else { break };
        given[at] += 1;
    }
    given
}
