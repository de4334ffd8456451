//! How many trials until every one of several counts is reached.
//!
//! Trials fall into outcomes, and an outcome may count towards several wants. Every sum has positive terms only, so that the chance of missing
//! keeps its digits however small it is. Knows neither seeds nor plants; [`super::begun`] asks where
//! trials are themselves of an unknown number, and the planning of sowings.

/// What one trial may turn out as, apart from nothing that counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Its probability.
    pub p: f64,
    /// The wants that it counts towards, by place.
    pub counts_for: Vec<usize>,
}

/// A question too large to be worked out exactly: states and outcomes of one trial, multiplied.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("this would need {states:.0} counts to be kept apart; up to {MOST_STATES} are")]
pub struct TooManyStates {
    /// How many.
    pub states: f64,
}

/// The state in which everything is reached.
const REACHED: usize = usize::MAX;

/// Most combinations of counts that are kept apart.
pub const MOST_STATES: usize = 200_000;

/// A walk from trial to trial over states, each step going up; in some states everything is reached.
#[derive(Debug, Clone)]
pub struct Walk {
    /// Weight of each state after the trials so far; what has reached everything is taken out.
    weights: Vec<f64>,
    /// For each state where its trials lead, with probabilities, one state after the other; [`REACHED`] leads out.
    moves: Vec<(usize, f64)>,
    /// For each state how many moves there are up to its last, and how likely a trial leaves it where it is.
    states: Vec<(usize, f64)>,
    /// P(not everything is reached) after 0, 1, 2... trials.
    misses: Vec<f64>,
}

impl Walk {
    /// Towards `wants` successes of each kind, by independent trials of these outcomes.
    ///
    /// The state is `(min(x_1, k_1), min(x_2, k_2), ...)`; after `n` trials the weight of the full state is
    /// `P(X_1 >= k_1, X_2 >= k_2, ...)` of the multinomial, exactly.
    ///
    /// # Errors
    /// [`TooManyStates`].
    ///
    /// # Panics
    /// If an outcome counts for a want that is not there.
    pub fn to_all(wants: &[u64], outcomes: &[Outcome]) -> Result<Self, TooManyStates> {
        let states: f64 = wants.iter().map(|k| *k as f64 + 1.0).product();
        check_states(states)?;
        let sizes: Vec<usize> = wants.iter().map(|k| *k as usize + 1).collect();
        let full = sizes.iter().product::<usize>() - 1;
        let step = |state: usize| {
            let led = outcomes.iter().map(|outcome| {
                let next = counted(state, &sizes, &outcome.counts_for);
                (next, outcome.p)
            });
            let away = led.filter(|(next, _)| *next != state);
            away.map(|(next, p)| ((next != full).then_some(next), p))
                .collect()
        };
        Ok(Self::from((0..full).map(step).collect()))
    }

    fn from(each: Vec<Vec<(Option<usize>, f64)>>) -> Self {
        let mut weights = vec![0.0; each.len()];
        if let Some(first) = weights.first_mut() {
            *first = 1.0;
        }
        let (mut moves, mut states) = (Vec::new(), Vec::with_capacity(each.len()));
        for own in &each {
            let leaving: f64 = own.iter().map(|(_, p)| p).sum();
            moves.extend(own.iter().map(|(next, p)| (next.unwrap_or(REACHED), *p)));
            states.push((moves.len(), (1.0 - leaving).max(0.0)));
        }
        Self {
            misses: vec![if each.is_empty() { 0.0 } else { 1.0 }],
            weights,
            moves,
            states,
        }
    }

    /// P(not everything is reached) after a number of trials.
    pub fn miss(&mut self, trials: usize) -> f64 {
        while self.misses.len() <= trials {
            self.step();
        }
        self.misses[trials]
    }

    /// States never go down in number, so a trial is worked out in place from the last state back.
    fn step(&mut self) {
        let mut end = self.moves.len();
        for state in (0..self.weights.len()).rev() {
            let from = if state > 0 {
                self.states[state - 1].0
            } else {
                0
            };
            let weight = self.weights[state];
            if weight > 0.0 {
                for (next, p) in &self.moves[from..end] {
                    if *next != REACHED {
                        self.weights[*next] += weight * p;
                    }
                }
                self.weights[state] = weight * self.states[state].1;
            }
            end = from;
        }
        self.misses.push(self.weights.iter().sum());
    }

    /// Additions that one trial takes.
    pub(super) fn work(&self) -> u64 {
        (self.moves.len() + self.states.len()) as u64
    }
}

fn check_states(states: f64) -> Result<(), TooManyStates> {
    match states > MOST_STATES as f64 {
        true => Err(TooManyStates { states }),
        false => Ok(()),
    }
}

/// The state after one more of some counts, each held to its want.
fn counted(state: usize, sizes: &[usize], counts_for: &[usize]) -> usize {
    let (mut next, mut place) = (state, 1);
    for (at, size) in sizes.iter().enumerate() {
        let had = state / place % size;
        if counts_for.contains(&at) && had + 1 < *size {
            next += place;
        }
        place *= size;
    }
    next
}

#[cfg(test)]
mod tests {
    use super::super::tails::binomial_tails;
    use super::*;

    fn outcome(p: f64, counts_for: &[usize]) -> Outcome {
        Outcome {
            p,
            counts_for: counts_for.to_vec(),
        }
    }

    #[test]
    fn one_want_is_a_binomial_tail() {
        let mut walk = Walk::to_all(&[3], &[outcome(0.0625, &[0])]).unwrap();
        for n in [0, 2, 3, 40, 98, 99] {
            let miss = binomial_tails(3, n, 0.0625).1;
            assert!((walk.miss(n as usize) - miss).abs() < 1e-14, "{n}");
        }
    }

    /// Every sequence of six trials, one by one; one outcome counts for both wants.
    #[test]
    fn several_wants_agree_with_every_sequence_of_trials() {
        let outcomes = [
            outcome(0.3, &[0]),
            outcome(0.2, &[1]),
            outcome(0.1, &[0, 1]),
        ];
        let mut walk = Walk::to_all(&[2, 1], &outcomes).unwrap();
        let mut reached = 0.0;
        for code in 0..4096_u32 {
            let (mut p, mut counts) = (1.0, [0, 0]);
            for trial in 0..6 {
                match (code >> (2 * trial)) & 3 {
                    3 => p *= 0.4,
                    at => {
                        let one = &outcomes[at as usize];
                        p *= one.p;
                        one.counts_for.iter().for_each(|want| counts[*want] += 1);
                    }
                }
            }
            if counts[0] >= 2 && counts[1] >= 1 {
                reached += p;
            }
        }
        assert!((1.0 - walk.miss(6) - reached).abs() < 1e-14);
    }
}
