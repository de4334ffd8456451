//! How sure an order is: things put in order by what they are expected to be worth, each worth known only as a spread.
//!
//! Nothing here knows what is put in order; ranking calls it.

/// A worth that is not known for sure: values with their chances.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Ascending, each once.
    values: Vec<f64>,
    /// P(at most the value at the same place).
    up_to: Vec<f64>,
}

/// Values nearer to each other than this are one.
const ONE_VALUE: f64 = 1e-12;

impl Spread {
    /// A spread over values with weights that need not sum to 1; nothing where no weight is above 0.
    #[must_use]
    pub fn new(mut weighted: Vec<(f64, f64)>) -> Option<Self> {
        weighted.retain(|(_, weight)| *weight > 0.0);
        weighted.sort_by(|one, other| one.0.total_cmp(&other.0));
        let total: f64 = weighted.iter().map(|(_, weight)| weight).sum();
        if weighted.is_empty() {
            return None;
        }
        let (mut values, mut up_to): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
        let mut sum = 0.0;
        for (value, weight) in weighted {
            sum += weight / total;
            match values.last() {
                Some(last) if value - last <= ONE_VALUE => {
                    *up_to.last_mut().expect("one for each value") = sum;
                }
                _ => {
                    values.push(value);
                    up_to.push(sum);
                }
            }
        }
        *up_to.last_mut().expect("a weight is above 0") = 1.0;
        Some(Self { values, up_to })
    }

    /// The values with their chances.
    pub fn iter(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        let before = std::iter::once(&0.0).chain(&self.up_to);
        let chances = self.up_to.iter().zip(before).map(|(now, was)| now - was);
        self.values.iter().copied().zip(chances)
    }

    /// The expected value.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.iter().map(|(value, p)| value * p).sum()
    }

    /// P(at most `bound`).
    #[must_use]
    pub fn at_most(&self, bound: f64) -> f64 {
        let reached = self
            .values
            .partition_point(|value| *value <= bound + ONE_VALUE);
        reached.checked_sub(1).map_or(0.0, |at| self.up_to[at])
    }
}

/// For each of an order the chance that it is worth no less than each that stands in a later place; those that share a
/// place stand next to each other and are not held against one another.
///
/// P(hold k) = sum over v of P(V_k = v) times the product over j in later places of P(V_j <= v), the worths being
/// independent (elementary probability). The last place always holds.
///
/// # Panics
/// If there are not as many places as worths.
#[must_use]
pub fn chances_of_holding(order: &[Spread], places: &[usize]) -> Vec<f64> {
    assert_eq!(order.len(), places.len(), "a place for each");
    (0..order.len())
        .map(|at| {
            let later = (at..order.len()).find(|other| places[*other] != places[at]);
            no_less_than(&order[at], order[later.unwrap_or(order.len())..].iter())
        })
        .collect()
}

/// For each of several the chance that it is worth no less than each of the others; where several are level at the top
/// each of them counts, so that these can sum to more than 1.
#[must_use]
pub fn chances_of_being_best(all: &[Spread]) -> Vec<f64> {
    (0..all.len())
        .map(|at| {
            let others = all.iter().enumerate().filter(|(other, _)| *other != at);
            no_less_than(&all[at], others.map(|(_, spread)| spread))
        })
        .collect()
}

fn no_less_than<'s>(one: &Spread, others: impl Iterator<Item = &'s Spread> + Clone) -> f64 {
    let all_below = |bound: f64| -> f64 { others.clone().map(|own| own.at_most(bound)).product() };
    one.iter().map(|(value, p)| p * all_below(value)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spread(values: &[(f64, f64)]) -> Spread {
        Spread::new(values.to_vec()).unwrap()
    }

    /// All outcomes gone through one by one.
    fn by_hand(order: &[Spread], holds: impl Fn(&[f64], usize) -> bool) -> Vec<f64> {
        let mut outcomes: Vec<(Vec<f64>, f64)> = vec![(Vec::new(), 1.0)];
        for own in order {
            outcomes = outcomes
                .iter()
                .flat_map(|(values, p)| {
                    own.iter().map(move |(value, q)| {
                        let mut values = values.clone();
                        values.push(value);
                        (values, p * q)
                    })
                })
                .collect();
        }
        let chance = |at: usize| {
            let held = outcomes.iter().filter(|(values, _)| holds(values, at));
            held.map(|(_, p)| p).sum()
        };
        (0..order.len()).map(chance).collect()
    }

    #[test]
    fn places_hold_as_often_as_in_all_outcomes_gone_through() {
        let order = [
            spread(&[(1.0, 0.6), (0.0, 0.4)]),
            spread(&[(0.75, 2.0), (0.5, 1.0), (0.0, 1.0)]),
            spread(&[(0.75, 0.2), (0.25, 0.8)]),
            spread(&[(0.3, 1.0)]),
        ];
        let holds = by_hand(&order, |values, at| {
            values[at..].iter().all(|other| *other <= values[at])
        });
        let best = by_hand(&order, |values, at| {
            values.iter().all(|other| *other <= values[at])
        });
        for (found, wanted) in chances_of_holding(&order, &[1, 2, 3, 4]).iter().zip(&holds) {
            assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
        }
        for (found, wanted) in chances_of_being_best(&order).iter().zip(&best) {
            assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
        }
        assert_eq!(chances_of_holding(&order, &[1, 2, 3, 4])[3], 1.0);
        // Two that share a place are held against what comes after both.
        let shared = by_hand(&order, |values, at| {
            values[at.max(3)..].iter().all(|other| *other <= values[at])
                && (at != 0 || values[1..].iter().all(|other| *other <= values[0]))
        });
        for (found, wanted) in chances_of_holding(&order, &[1, 2, 2, 4])
            .iter()
            .zip(&shared)
        {
            assert!((found - wanted).abs() < 1e-12, "{found} {wanted}");
        }
    }

    #[test]
    fn what_is_level_counts_for_each() {
        let sure = spread(&[(0.5, 1.0)]);
        assert_eq!(
            chances_of_being_best(&[sure.clone(), sure.clone()]),
            [1.0, 1.0]
        );
        assert_eq!(
            chances_of_holding(&[sure.clone(), sure], &[1, 1]),
            [1.0, 1.0]
        );
    }

    #[test]
    fn weights_become_chances_and_equal_values_one() {
        let spread = spread(&[(2.0, 1.0), (1.0, 2.0), (2.0, 1.0), (7.0, 0.0)]);
        let values: Vec<(f64, f64)> = spread.iter().collect();
        assert_eq!(values, [(1.0, 0.5), (2.0, 0.5)]);
        assert_eq!(spread.mean(), 1.5);
        assert_eq!((spread.at_most(0.9), spread.at_most(1.0)), (0.0, 0.5));
        assert_eq!(Spread::new(vec![(1.0, 0.0)]), None);
        assert_eq!(Spread::new(Vec::new()), None);
        assert_eq!(Spread::new(vec![(1.0, f64::NAN)]), None);
    }
}
