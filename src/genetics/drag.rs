//! Linkage drag: how long a piece of the donor's chromosome stays beside a gene that is bred in.
//!
//! In Haldane's model, without interference, a chromosome of x Morgans comes through t meioses without a crossover
//! with probability exp(-tx). Which gene it is and how often a scheme has crossed is not known here; `plan line`
//! asks.

/// The expected length, in Morgans, of the donor's piece on one side of a gene that was handed on through `meioses`
/// meioses of plants with one strand of each parent, the chromosome ending `arm` Morgans from the gene:
/// `(1 - exp(-t L)) / t`, the integral of exp(-t x) over 0 to L; `L` itself before any meiosis, and `1 / t` where the
/// arm has no known end.
///
/// The gene was chosen in every generation, no other place was. The result for a target gene is that of Stam and
/// Zeven 1981, Euphytica 30:227-238, and on a chromosome without end of Hanson 1959, Genetics 44:197-209 (both from memory,
/// not checked against the papers); the integral is held against played meioses.
#[must_use]
pub fn donor_piece(meioses: u32, arm: Option<f64>) -> Option<f64> {
    let t = f64::from(meioses);
    match (meioses, arm) {
        (0, arm) => arm,
        (_, None) => Some(1.0 / t),
        (_, Some(arm)) => Some(-(-t * arm).exp_m1() / t),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Simpson's rule over exp(-t x), a thousand strips.
    #[test]
    fn the_piece_is_the_integral_of_unbroken_chromosomes() {
        for meioses in 1..=8 {
            for arm in [0.05, 0.5, 1.3] {
                let strips = 1_000;
                let step = arm / f64::from(strips);
                let at = |i: i32| (-f64::from(meioses) * f64::from(i) * step).exp();
                let inner = (1..strips).map(|i| at(i) * if i % 2 == 1 { 4.0 } else { 2.0 });
                let integral = (at(0) + inner.sum::<f64>() + at(strips)) * step / 3.0;
                let found = donor_piece(meioses, Some(arm)).unwrap();
                assert!(
                    (found - integral).abs() < 1e-10,
                    "{meioses} {arm}: {found} {integral}"
                );
            }
        }
    }

    /// After six backcrosses 32 cM stay around a gene in the middle of a chromosome of 100 cM (Stam and Zeven 1981,
    /// Euphytica 30:227-238; the number from memory). On a chromosome without end a side is 1/t, an exponential's mean:
    /// Hanson 1959, Genetics 44:197-209 (from memory).
    #[test]
    fn the_piece_is_that_in_print() {
        let both_sides = 2.0 * donor_piece(6, Some(0.5)).unwrap();
        assert_eq!((100.0 * both_sides).round(), 32.0);
        assert!((donor_piece(6, Some(40.0)).unwrap() - 1.0 / 6.0).abs() < 1e-12);
    }

    #[test]
    fn an_arm_without_end_is_the_bound() {
        assert_eq!(donor_piece(4, None), Some(0.25));
        assert!((donor_piece(4, Some(50.0)).unwrap() - 0.25).abs() < 1e-12);
        assert_eq!(donor_piece(0, Some(0.6)), Some(0.6));
        assert_eq!(donor_piece(0, None), None);
    }
}
