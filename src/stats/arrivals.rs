//! When things counted day by day arrived: the indices of germination trials on cumulative counts.
//!
//! Knows times and counts only. A count says that so many came since the one before, not on which day: the indices
//! named after their authors take the day of the count as theirs do, and [`Arrivals::mean_bounds`] says between what
//! the mean must lie. Times run from the start, at which none had arrived. The growing room calls it.

use super::survival::{Censored, Lifetimes};

/// So many that arrived between two counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Newly {
    /// The count before; 0 for the first.
    pub after: f64,
    /// The count at which they were there.
    pub by: f64,
    /// How many.
    pub n: u64,
}

/// Arrivals out of a number that could have arrived, from counts of one or several trays.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Arrivals {
    total: u64,
    newly: Vec<Newly>,
    /// Time and how many were there by then, a straight line between.
    knots: Vec<(f64, f64)>,
    /// Not there at the last count, by its time.
    missing: Vec<(f64, u64)>,
}

impl Arrivals {
    /// Of one tray: `total` that could arrive, and how many were there at each time, times rising. A count that falls
    /// adds nothing, and takes nothing away.
    ///
    /// # Panics
    /// If the times do not rise from 0 or more, or more arrived than could.
    #[must_use]
    pub fn of(total: u64, counts: &[(f64, u64)]) -> Self {
        let mut arrivals = Self {
            total,
            ..Self::default()
        };
        let (mut before, mut there) = (0.0, 0);
        for (time, up) in counts {
            let first = arrivals.knots.is_empty();
            assert!(
                *time > before || (first && *time >= 0.0),
                "the counts of a tray are in the order of time"
            );
            if *up > there {
                arrivals.newly.push(Newly {
                    after: before,
                    by: *time,
                    n: up - there,
                });
                there = *up;
            }
            arrivals.knots.push((*time, there as f64));
            before = *time;
        }
        assert!(there <= total, "{there} of {total} arrived");
        if total > there {
            arrivals.missing.push((before, total - there));
        }
        arrivals
    }

    /// What was seen of one tray by a time; later counts are left out.
    #[must_use]
    pub fn up_to(&self, time: f64) -> Self {
        let knots = self.knots.iter().filter(|knot| knot.0 <= time);
        let counts: Vec<(f64, u64)> = knots.map(|(at, up)| (*at, up.round() as u64)).collect();
        Self::of(self.total, &counts)
    }

    /// Several trays as one. Where they were counted at different times each is taken to rise straight from count to
    /// count, and to stay after its last.
    #[must_use]
    pub fn pooled(trays: &[Self]) -> Self {
        let mut newly: Vec<Newly> = Vec::new();
        for one in trays.iter().flat_map(|tray| &tray.newly) {
            let same = |known: &&mut Newly| (known.after, known.by) == (one.after, one.by);
            match newly.iter_mut().find(same) {
                Some(known) => known.n += one.n,
                None => newly.push(*one),
            }
        }
        newly.sort_by(|a, b| {
            (a.by, a.after)
                .partial_cmp(&(b.by, b.after))
                .expect("times are numbers")
        });
        let mut times: Vec<f64> = trays
            .iter()
            .flat_map(|tray| tray.knots.iter().map(|knot| knot.0))
            .collect();
        times.sort_by(f64::total_cmp);
        times.dedup();
        let by = |time: f64| trays.iter().map(|tray| tray.there_by(time)).sum();
        Self {
            total: trays.iter().map(|tray| tray.total).sum(),
            newly,
            knots: times.into_iter().map(|time| (time, by(time))).collect(),
            missing: trays.iter().flat_map(|tray| tray.missing.clone()).collect(),
        }
    }

    /// What arrived between which counts, in the order of the counts.
    #[must_use]
    pub fn newly(&self) -> &[Newly] {
        &self.newly
    }

    /// How many could have arrived.
    #[must_use]
    pub const fn total(&self) -> u64 {
        self.total
    }

    /// How many did.
    #[must_use]
    pub fn arrived(&self) -> u64 {
        self.newly.iter().map(|one| one.n).sum()
    }

    /// The time of the last count; nothing where nobody counted.
    #[must_use]
    pub fn last(&self) -> Option<f64> {
        self.knots.last().map(|knot| knot.0)
    }

    /// Time and how many were there by then, at every count.
    #[must_use]
    pub fn knots(&self) -> &[(f64, f64)] {
        &self.knots
    }

    /// How many were there by a time, a straight line from count to count and from none at the start.
    #[must_use]
    pub fn there_by(&self, time: f64) -> f64 {
        let after = self.knots.iter().position(|knot| knot.0 >= time);
        let Some(at) = after else {
            return self.knots.last().map_or(0.0, |knot| knot.1);
        };
        let (to, there) = self.knots[at];
        let (from, before) = at.checked_sub(1).map_or((0.0, 0.0), |at| self.knots[at]);
        if to <= from {
            return there;
        }
        before + (there - before) * (time - from) / (to - from)
    }

    /// Whether any arrived; every index of time is without meaning where none did.
    fn any(&self) -> Option<f64> {
        let arrived = self.arrived();
        (arrived > 0).then_some(arrived as f64)
    }

    fn sum(&self, term: impl Fn(&Newly) -> f64) -> f64 {
        self.newly.iter().map(term).sum()
    }

    /// Mean germination time, `sum n_i t_i / N`, with t_i the time of the count.
    ///
    /// Source: Ellis and Roberts 1981, Seed Science and Technology 9:373-409; Labouriau 1983 (from memory).
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        Some(self.sum(|one| one.n as f64 * one.by) / self.any()?)
    }

    /// What the mean lies between, since those of a count came at any time after the one before:
    /// `sum n_i t_(i-1) / N` and `sum n_i t_i / N`. Exact bounds, by the definition of the counts.
    #[must_use]
    pub fn mean_bounds(&self) -> Option<[f64; 2]> {
        let arrived = self.any()?;
        Some([
            self.sum(|one| one.n as f64 * one.after) / arrived,
            self.mean()?,
        ])
    }

    /// Variance of the times, `sum n_i (t_i - mean)^2 / (N - 1)`; nothing for a single one.
    ///
    /// Source: Labouriau 1983; Ranal and Santana 2006, Revista Brasileira de Botânica 29:1-11 (from memory).
    #[must_use]
    pub fn variance(&self) -> Option<f64> {
        let arrived = self.any()?;
        (arrived > 1.0).then(|| self.squares().unwrap_or(0.0) / (arrived - 1.0))
    }

    fn squares(&self) -> Option<f64> {
        let mean = self.mean()?;
        Some(self.sum(|one| one.n as f64 * (one.by - mean).powi(2)))
    }

    /// Standard error of the mean, `s / sqrt(N)` (Ranal and Santana 2006, from memory).
    #[must_use]
    pub fn mean_se(&self) -> Option<f64> {
        Some((self.variance()? / self.any()?).sqrt())
    }

    /// The time by which a number were there: `t_i + (target - C_i)(t_j - t_i)/(C_j - C_i)`, `C_i < target <= C_j`;
    /// none at time 0 goes before the first count. Nothing where so many never were.
    #[must_use]
    pub fn time_of(&self, target: f64) -> Option<f64> {
        let [from, to] = self.counts_around(target)?;
        let (before, there) = (self.there_by(from), self.there_by(to));
        if there <= before || from >= to {
            return Some(to);
        }
        Some(from + (target - before) * (to - from) / (there - before))
    }

    /// The two counts between which a number was reached.
    #[must_use]
    pub fn counts_around(&self, target: f64) -> Option<[f64; 2]> {
        let at = self.knots.iter().position(|knot| knot.1 >= target)?;
        let from = at.checked_sub(1).map_or(0.0, |at| self.knots[at].0);
        Some([from, self.knots[at].0])
    }

    /// The time by which a share of those that arrived were there, by [`Arrivals::time_of`]: T50 with 0.5.
    ///
    /// Source: Farooq, Basra, Ahmad and Hafeez 2005, Journal of Integrative Plant Biology 47:187 (from memory).
    #[must_use]
    pub fn quantile(&self, share: f64) -> Option<f64> {
        self.time_of(share * self.any()?)
    }

    /// T50 by the count `(N + 1)/2` in place of `N/2`.
    ///
    /// Source: Coolbear, Francis and Grierson 1984, Journal of Experimental Botany 35:1609-1617 (from memory).
    #[must_use]
    pub fn median_coolbear(&self) -> Option<f64> {
        self.time_of((self.any()? + 1.0) / 2.0)
    }

    /// The time by which half of all that could arrive were there; nothing where fewer ever were.
    #[must_use]
    pub fn median_of_all(&self) -> Option<f64> {
        self.any()?;
        self.time_of(self.total as f64 / 2.0)
    }

    /// Speed of emergence, `sum n_i / t_i`; nothing where any was there at time 0.
    ///
    /// Source: Maguire 1962, Crop Science 2:176-177 (from memory).
    #[must_use]
    pub fn speed(&self) -> Option<f64> {
        self.any()?;
        let possible = self.newly.iter().all(|one| one.by > 0.0);
        possible.then(|| self.sum(|one| one.n as f64 / one.by))
    }

    /// Coefficient of uniformity, `N / sum n_i (t_i - mean)^2`; nothing where all were counted at one time.
    ///
    /// Source: Heydecker 1972; Bewley and Black 1994 (from memory).
    #[must_use]
    pub fn uniformity(&self) -> Option<f64> {
        let squares = self.squares()?;
        (squares > 0.0).then_some(self.any()? / squares)
    }

    /// How spread over the counts, in bits: `-sum f_i log2 f_i`, `f_i = n_i/N`.
    ///
    /// Source: Labouriau and Valadares 1976; Ranal and Santana 2006 (from memory).
    #[must_use]
    pub fn uncertainty(&self) -> Option<f64> {
        let arrived = self.any()?;
        let bits = |n: f64| -(n / arrived) * (n / arrived).log2();
        // All at one count is no uncertainty, and no negative nought.
        Some(self.by_count().map(bits).sum::<f64>().max(0.0))
    }

    /// The chance that two of those that arrived were counted first at one time, `sum n_i (n_i - 1) / (N (N - 1))`.
    ///
    /// Source: Primack 1980; Ranal and Santana 2006 (from memory).
    #[must_use]
    pub fn synchrony(&self) -> Option<f64> {
        let arrived = self.any()?;
        let pairs = |n: f64| n * (n - 1.0);
        (arrived > 1.0).then(|| self.by_count().map(pairs).sum::<f64>() / pairs(arrived))
    }

    /// How many arrived by the time they were counted, whatever the count before was.
    fn by_count(&self) -> impl Iterator<Item = f64> {
        let mut times: Vec<(f64, u64)> = Vec::new();
        for one in &self.newly {
            match times.last_mut().filter(|last| last.0 == one.by) {
                Some(last) => last.1 += one.n,
                None => times.push((one.by, one.n)),
            }
        }
        times.into_iter().map(|(_, n)| n as f64)
    }

    /// The same as lifetimes: an arrival ends one at the time of its count, what was missing at the last count is
    /// censored then.
    #[must_use]
    pub fn lifetimes(&self) -> Lifetimes {
        Lifetimes {
            ends: self.newly.iter().map(|one| (one.by, one.n)).collect(),
            censored: self.missing.clone(),
        }
    }

    /// The same as intervals: `(count before, count]`, open above for what was missing at the last count.
    #[must_use]
    pub fn intervals(&self) -> Vec<Censored> {
        // What was there at the start came at some time before it.
        let newly = self.newly.iter().map(|one| Censored {
            after: if one.by > one.after {
                one.after
            } else {
                one.after - 1.0
            },
            by: one.by,
            n: one.n,
        });
        let missing = self.missing.iter().map(|(time, n)| Censored {
            after: *time,
            by: f64::INFINITY,
            n: *n,
        });
        newly.chain(missing).collect()
    }

    /// The times of the counts.
    #[must_use]
    pub fn times(&self) -> Vec<f64> {
        self.knots.iter().map(|knot| knot.0).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: of four that came by day 10, half are there on day 5 of a straight line from the sowing.
    #[test]
    fn a_first_count_past_half_is_reached_from_the_start() {
        let tray = Arrivals::of(8, &[(10.0, 4)]);
        assert_eq!(tray.quantile(0.5), Some(5.0));
        assert_eq!(tray.mean_bounds(), Some([0.0, 10.0]));
        assert_eq!(tray.median_of_all(), Some(10.0));
        assert_eq!(tray.variance(), Some(0.0));
    }

    #[test]
    fn later_counts_can_be_left_out() {
        let tray = Arrivals::of(8, &[(5.0, 1), (7.0, 3), (12.0, 6)]);
        assert_eq!(tray.up_to(11.0), Arrivals::of(8, &[(5.0, 1), (7.0, 3)]));
        assert_eq!(tray.up_to(12.0), tray);
        assert_eq!(tray.up_to(4.0).lifetimes().censored, [(0.0, 8)]);
    }

    #[test]
    fn a_count_that_falls_takes_nothing_away() {
        let tray = Arrivals::of(8, &[(5.0, 3), (6.0, 2), (7.0, 4)]);
        assert_eq!(tray.arrived(), 4);
        assert_eq!(tray.newly.len(), 2);
        assert_eq!(tray.knots()[1], (6.0, 3.0));
    }

    #[test]
    fn trays_counted_on_the_same_days_pool_to_their_sum() {
        let (one, other) = (
            Arrivals::of(10, &[(5.0, 2), (8.0, 6)]),
            Arrivals::of(12, &[(5.0, 1), (8.0, 9)]),
        );
        let both = Arrivals::pooled(&[one, other]);
        let sum = Arrivals::of(22, &[(5.0, 3), (8.0, 15)]);
        assert_eq!(
            (both.mean(), both.quantile(0.5)),
            (sum.mean(), sum.quantile(0.5))
        );
        assert_eq!(both.newly, sum.newly);
        assert_eq!(both.synchrony(), sum.synchrony());
    }

    #[test]
    fn trays_counted_on_other_days_rise_between_their_counts() {
        let both = Arrivals::pooled(&[
            Arrivals::of(4, &[(4.0, 0), (8.0, 4)]),
            Arrivals::of(4, &[(6.0, 4)]),
        ]);
        assert_eq!(both.there_by(6.0), 2.0 + 4.0);
        assert_eq!(both.there_by(99.0), 8.0);
        assert_eq!(both.arrived(), 8);
    }

    #[test]
    fn nothing_up_has_no_time() {
        let tray = Arrivals::of(10, &[(5.0, 0), (9.0, 0)]);
        assert_eq!(
            (tray.mean(), tray.quantile(0.5), tray.speed()),
            (None, None, None)
        );
        assert_eq!(tray.lifetimes().censored, [(9.0, 10)]);
        assert_eq!(Arrivals::of(10, &[]).last(), None);
    }
}
