//! Sums over every subset of off-type seedlings, in exact integers.
//!
//! `P(batch) = sum over subsets of prod_off b_i prod_others a_i B(a + k, b + n - k) / B(a, b)` with k the size of
//! the subset. Every a_i and b_i is a double, that is an integer times a power of two, so the sums have no
//! rounding at all; only the finished value is rounded to a double.

use num_bigint::BigUint;
use num_rational::BigRational;
use num_traits::{One, ToPrimitive, Zero};

/// The evidence of a batch under a Beta share, and per seedling the part of it with that seedling off-type.
#[derive(Clone, Debug)]
pub struct Split {
    pub total: f64,
    pub off: Vec<f64>,
}

/// How the subsets are summed; both ways are exact and give the same integers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Route {
    /// Every subset on its own.
    Subsets,
    /// By number of off-types: the coefficients of prod (a_i + b_i x).
    BySize,
}

/// Integer pair proportional to one seedling's (a, b).
type Pair = (BigUint, BigUint);

/// Sums by number of off-types: over all subsets, and over those with a given seedling in them.
struct Sizes {
    all: Vec<BigUint>,
    with: Vec<Vec<BigUint>>,
}

/// The exact split under a Beta(1, `second`) share.
pub fn split(a: &[f64], b: &[f64], second: u32, route: Route) -> Split {
    let scaled: Vec<(Pair, i64)> = a.iter().zip(b).map(|(&a, &b)| scale(a, b)).collect();
    let exponent: i64 = scaled.iter().map(|s| s.1).sum();
    let pairs: Vec<Pair> = scaled.into_iter().map(|s| s.0).collect();
    let sizes = match route {
        Route::Subsets => by_subsets(&pairs),
        Route::BySize => by_size(&pairs),
    };
    let n = pairs.len() as u32;
    let weigh = |sums: &[BigUint]| {
        let moments = (0..=n).map(|k| moment_numerator(n, k, second));
        let sum: BigUint = sums.iter().zip(moments).map(|(s, m)| s * m).sum();
        to_double(sum, factorial(second + n), exponent)
    };
    Split {
        total: weigh(&sizes.all),
        off: sizes.with.iter().map(|s| weigh(s)).collect(),
    }
}

fn by_subsets(pairs: &[Pair]) -> Sizes {
    let n = pairs.len();
    let mut sizes = Sizes {
        all: vec![BigUint::zero(); n + 1],
        with: vec![vec![BigUint::zero(); n + 1]; n],
    };
    descend(pairs, &BigUint::one(), &mut Vec::new(), 0, &mut sizes);
    sizes
}

fn descend(pairs: &[Pair], product: &BigUint, off: &mut Vec<usize>, at: usize, sizes: &mut Sizes) {
    if at == pairs.len() {
        sizes.all[off.len()] += product;
        for &i in off.iter() {
            sizes.with[i][off.len()] += product;
        }
        return;
    }
    descend(pairs, &(product * &pairs[at].0), off, at + 1, sizes);
    off.push(at);
    descend(pairs, &(product * &pairs[at].1), off, at + 1, sizes);
    off.pop();
}

fn by_size(pairs: &[Pair]) -> Sizes {
    let n = pairs.len();
    let with = (0..n).map(|i| {
        let others = coefficients(
            pairs
                .iter()
                .enumerate()
                .filter(|(j, _)| *j != i)
                .map(|(_, p)| p),
        );
        let shifted = others.iter().map(|c| c * &pairs[i].1);
        std::iter::once(BigUint::zero()).chain(shifted).collect()
    });
    Sizes {
        all: coefficients(pairs.iter()),
        with: with.collect(),
    }
}

fn coefficients<'a>(pairs: impl Iterator<Item = &'a Pair>) -> Vec<BigUint> {
    let mut poly = vec![BigUint::one()];
    for (a, b) in pairs {
        poly.push(BigUint::zero());
        for k in (0..poly.len()).rev() {
            let from_below = if k > 0 {
                &poly[k - 1] * b
            } else {
                BigUint::zero()
            };
            poly[k] = &poly[k] * a + from_below;
        }
    }
    poly
}

/// B(1 + k, s + n - k) / B(1, s) = s k! (s + n - k - 1)! / (s + n)!; this is its numerator.
fn moment_numerator(n: u32, k: u32, second: u32) -> BigUint {
    factorial(k) * factorial(second + n - k - 1) * second
}

fn factorial(n: u32) -> BigUint {
    (1..=n).map(BigUint::from).product()
}

/// Two doubles as integers times one power of two.
fn scale(a: f64, b: f64) -> (Pair, i64) {
    let (ma, ea) = parts(a);
    let (mb, eb) = parts(b);
    let low = match (ma, mb) {
        (0, 0) => 0,
        (0, _) => eb,
        (_, 0) => ea,
        _ => ea.min(eb),
    };
    let lift = |m: u64, e: i64| {
        if m == 0 {
            BigUint::zero()
        } else {
            BigUint::from(m) << (e - low)
        }
    };
    ((lift(ma, ea), lift(mb, eb)), low)
}

/// A non-negative double as mantissa times two to a power, in lowest terms (IEEE 754 binary64).
fn parts(x: f64) -> (u64, i64) {
    assert!(
        x >= 0.0 && x.is_finite(),
        "likelihoods are finite and not negative: {x}"
    );
    if x == 0.0 {
        return (0, 0);
    }
    let bits = x.to_bits();
    let field = ((bits >> 52) & 0x7ff) as i64;
    let fraction = bits & ((1 << 52) - 1);
    let (mantissa, power) = match field {
        0 => (fraction, -1074),
        _ => (fraction | (1 << 52), field - 1075),
    };
    let shift = mantissa.trailing_zeros();
    (mantissa >> shift, power + i64::from(shift))
}

fn to_double(numerator: BigUint, denominator: BigUint, exponent: i64) -> f64 {
    let (up, down) = if exponent > 0 {
        (exponent, 0)
    } else {
        (0, -exponent)
    };
    let ratio = BigRational::new((numerator << up).into(), (denominator << down).into());
    ratio
        .to_f64()
        .expect("a ratio of integers rounds to a double")
}

#[test]
fn both_routes_give_the_same_doubles() {
    let a = [0.995, 0.3, 1.0, 0.005, 0.0625, 0.71, 1e-9];
    let b = [0.005, 0.7, 0.0, 0.995, 0.25, 0.71, 1e-3];
    for second in [1, 4, 19] {
        let subsets = split(&a, &b, second, Route::Subsets);
        let sized = split(&a, &b, second, Route::BySize);
        assert_eq!(subsets.total, sized.total);
        assert_eq!(subsets.off, sized.off);
    }
}

#[test]
fn one_seedling_has_the_mean_share() {
    // E[phi] = 1 / (1 + s) under Beta(1, s); dyadic factors leave nothing to round.
    for (second, mean) in [(1, 0.5), (4, 0.2), (19, 0.05)] {
        let one = split(&[0.25], &[0.75], second, Route::Subsets);
        assert!((one.total - (0.25 * (1.0 - mean) + 0.75 * mean)).abs() < 1e-16);
        assert!((one.off[0] - 0.75 * mean).abs() < 1e-16);
    }
}

#[test]
fn twelve_alike_follow_the_beta_binomial() {
    // With a = 0, b = 1 for k seedlings and a = 1, b = 0 for the rest, one subset is left: under a uniform share
    // its moment is 1 / ((n + 1) C(n, k)) (the beta-binomial with a = b = 1 is uniform over k).
    for k in 0..=12_u32 {
        let off: Vec<f64> = (0..12).map(|i| f64::from(i < k)).collect();
        let on: Vec<f64> = off.iter().map(|x| 1.0 - x).collect();
        let choose = (0..k).fold(1.0, |c, i| c * f64::from(12 - i) / f64::from(i + 1));
        let got = split(&on, &off, 1, Route::Subsets).total;
        assert!((got * 13.0 * choose - 1.0).abs() < 1e-14, "{k}");
    }
}
