//! The chance that none of the trials begun so far was a success, trial by trial, where only some of them take place.
//!
//! Plain arithmetic; the planning of crosses asks, of many shares at once.

use super::begun::Begun;

/// P(none of n trials is a success), going up from n = 0: a trial takes place as [`Begun`] says, and then succeeds with
/// probability p, independently.
///
/// With a known chance g that is (1 - gp)^n. With g only known from counts, Beta(a, b), it is the mean of that,
/// 2F1(-n, a; a + b; p), by Gauss's relation between neighbours (Abramowitz and Stegun 1964, 15.2.10, from memory):
/// (c + n) F(n + 1) = (c + 2n - (n + a) p) F(n) - n (1 - p) F(n - 1), c = a + b.
#[derive(Debug, Clone, Copy)]
pub struct NoneYet {
    begun: Begun,
    p: f64,
    n: f64,
    before: f64,
    now: f64,
}

impl NoneYet {
    /// Before any trial.
    #[must_use]
    pub const fn of(begun: Begun, p: f64) -> Self {
        Self {
            begun,
            p,
            n: 0.0,
            before: 0.0,
            now: 1.0,
        }
    }

    /// The chance for the trials so far.
    #[must_use]
    pub const fn chance(&self) -> f64 {
        self.now
    }

    /// One trial more.
    pub fn go_on(&mut self) {
        let (n, p) = (self.n, self.p);
        let next = match self.begun {
            Begun::Known(g) => self.now * (1.0 - g * p),
            Begun::Counted { a, b } => {
                let c = a + b;
                ((c + 2.0 * n - (n + a) * p) * self.now - n * (1.0 - p) * self.before) / (c + n)
            }
        };
        (self.before, self.now, self.n) = (self.now, next.max(0.0), n + 1.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The beta-binomial sum, its weights by the ratio of neighbours from nothing up: (b)_n/(a + b)_n first.
    fn summed(n: u32, a: f64, b: f64, p: f64) -> f64 {
        let none = (0..n).fold(1.0, |w, i| w * (b + f64::from(i)) / (a + b + f64::from(i)));
        let (mut weight, mut sum) = (none, none);
        for u in 0..n {
            let (u, left) = (f64::from(u), f64::from(n - u));
            weight *= left / (u + 1.0) * (a + u) / (b + left - 1.0);
            sum += weight * (1.0 - p).powf(u + 1.0);
        }
        sum
    }

    #[test]
    fn counted_chances_are_the_beta_binomial_sum() {
        for (a, b) in [(1.0, 1.0), (18.0, 4.0), (3.0, 40.0)] {
            for p in [0.004, 0.0625, 0.3, 1.0] {
                let mut none = NoneYet::of(Begun::Counted { a, b }, p);
                for n in 0..=150 {
                    let wanted = summed(n, a, b, p);
                    assert!((none.chance() - wanted).abs() < 1e-11, "{a} {b} {p} {n}");
                    none.go_on();
                }
            }
        }
    }

    #[test]
    fn a_known_chance_is_a_power() {
        let mut none = NoneYet::of(Begun::Known(0.8), 0.25);
        (0..7).for_each(|_| none.go_on());
        assert!((none.chance() - 0.8_f64.powi(7)).abs() < 1e-14);
    }
}
