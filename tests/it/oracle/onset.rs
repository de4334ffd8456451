//! When a late class shows, how readings err, and the likelihood of a series of readings of one trait.

use super::season::Trait;

/// Standard normal nodes and weights (weights divided by sqrt(2 pi)) of nine-point Gauss-Hermite quadrature:
/// `scipy.special.roots_hermitenorm(9)`; digits from the roots of He9 and w = 9! / (9 He8(x))^2 at 40 digits (mpmath).
pub const NORMAL_NODES: [(f64, f64); 9] = [
    (-4.512_745_863_399_783, 2.2345844007746583e-05),
    (-3.205_429_002_856_47, 0.002_789_141_321_231_769),
    (-2.076_847_978_677_83, 0.049_916_406_765_217_87),
    (-1.023_255_663_789_132_6, 0.244_097_502_894_939_45),
    (0.0, 0.406_349_206_349_206_35),
    (1.023_255_663_789_132_6, 0.244_097_502_894_939_45),
    (2.076_847_978_677_83, 0.049_916_406_765_217_87),
    (3.205_429_002_856_47, 0.002_789_141_321_231_769),
    (4.512_745_863_399_783, 2.2345844007746583e-05),
];

/// Standard deviation of a batch's shift of the log median.
pub const BATCH_SHIFT: f64 = 0.25;

/// Starting belief that nothing late shows where the batch stands.
pub const DIM: f64 = 0.02;

/// Probability that a doubtful reading names another class.
pub const DOUBTFUL_MISREAD: f64 = 0.10;

/// The state of a batch: its shift, or so dim that nothing late shows.
#[derive(Clone, Copy, Debug)]
pub struct State {
    pub weight: f64,
    /// Shift of the log median; `None` is dim.
    pub shift: Option<f64>,
}

/// The nine shifts and, unless it is ruled out, the dim state.
pub fn states(dim_ruled_out: bool) -> Vec<State> {
    let dim = if dim_ruled_out { 0.0 } else { DIM };
    let lit = NORMAL_NODES.iter().map(|&(x, w)| State {
        weight: (1.0 - dim) * w,
        shift: Some(BATCH_SHIFT * x),
    });
    let dark = State {
        weight: dim,
        shift: None,
    };
    lit.chain((dim > 0.0).then_some(dark)).collect()
}

/// One reading of a trait: age in days, class written down, probability of a wrong class.
#[derive(Clone, Copy, Debug)]
pub struct Mark {
    pub age: i64,
    pub class: usize,
    pub error: f64,
}

/// P(the late class shows by an age): ceiling x Phi((ln age - ln median - shift) / spread).
pub fn shown_by(t: &Trait, age: i64, shift: Option<f64>) -> f64 {
    let late = t.late.as_ref().expect("asked of a late trait only");
    match shift {
        Some(shift) if age > 0 => {
            let z = ((age as f64).ln() - late.median.ln() - shift) / late.spread;
            late.ceiling * normal_cdf(z)
        }
        _ => 0.0,
    }
}

/// P(a reading | the class shown).
fn written(t: &Trait, mark: Mark, shown: usize) -> f64 {
    match mark.class == shown {
        true => 1.0 - mark.error,
        false => mark.error / (t.classes.len() - 1) as f64,
    }
}

/// P(series | final class, state): the sum over the intervals between readings in which onset may have fallen.
pub fn series(t: &Trait, end: usize, marks: &[Mark], shift: Option<f64>) -> f64 {
    let Some(late) = t.late.as_ref().filter(|l| l.class == end) else {
        return marks.iter().map(|&m| written(t, m, end)).product();
    };
    let mut sum = 0.0;
    let mut before = 0.0;
    for j in 0..=marks.len() {
        let by = if j < marks.len() {
            shown_by(t, marks[j].age, shift)
        } else {
            1.0
        };
        let shown = |i: usize| if i >= j { late.class } else { late.after };
        let read: f64 = marks
            .iter()
            .enumerate()
            .map(|(i, &m)| written(t, m, shown(i)))
            .product();
        sum += (by - before) * read;
        before = by;
    }
    sum
}

/// Phi(z) by the Taylor series of its integral near zero and Laplace's continued fraction in the tails
/// (Abramowitz and Stegun 26.2.11 and 26.2.14).
pub fn normal_cdf(z: f64) -> f64 {
    let density = (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt();
    if z.abs() < 3.0 {
        let (mut term, mut sum) = (z, z);
        for n in 1..200 {
            term *= z * z / f64::from(2 * n + 1);
            sum += term;
        }
        return 0.5 + density * sum;
    }
    let tail = density
        / (1..=200)
            .rev()
            .fold(z.abs(), |f, k| z.abs() + f64::from(k) / f);
    if z > 0.0 { 1.0 - tail } else { tail }
}

fn near(x: f64, y: f64, tolerance: f64) {
    assert!((x - y).abs() <= tolerance, "{x} against {y}");
}

#[test]
fn the_normal_distribution_has_its_reference_values() {
    // mpmath.ncdf at 40 digits.
    let reference = [
        (-8.0, 6.220960574271784e-16),
        (-3.0, 0.001_349_898_031_630_094_6),
        (-1.5, 0.066_807_201_268_858_07),
        (0.3, 0.617_911_422_188_952_6),
        (2.5, 0.993_790_334_674_224),
        (4.0, 0.999_968_328_758_166_9),
    ];
    for (z, p) in reference {
        assert!(
            (normal_cdf(z) / p - 1.0).abs() < 1e-13,
            "{z}: {}",
            normal_cdf(z)
        );
    }
}

#[test]
fn nine_nodes_integrate_polynomials_of_degree_seventeen() {
    // Moments of the standard normal: E x^(2k) = (2k - 1)!!.
    for (power, moment) in [
        (0, 1.0),
        (2, 1.0),
        (4, 3.0),
        (6, 15.0),
        (8, 105.0),
        (16, 2_027_025.0),
    ] {
        let sum: f64 = NORMAL_NODES.iter().map(|(x, w)| w * x.powi(power)).sum();
        assert!((sum / moment - 1.0).abs() < 1e-13, "{power}: {sum}");
    }
}

#[test]
fn onset_is_at_half_its_ceiling_at_the_median() {
    let t = Trait::foliage(0);
    near(shown_by(&t, 12, Some(0.0)), 0.9999 / 2.0, 1e-15);
    assert_eq!(shown_by(&t, 0, Some(0.0)), 0.0);
    assert_eq!(shown_by(&t, 90, None), 0.0);
}

/// P(true | purple) = c / (c + sp) and P(not true | green) = (f + s0 + e sp) / (f + s0 + e sp + e c) with
/// c = 0.90, f = 0.08, s0 = sp = 0.01 (arithmetic of the same table): from the oracle's series of one reading.
#[test]
fn one_seedling_agrees_with_the_worked_values() {
    let (c, f, s0, sp) = (0.90, 0.08, 0.01, 0.01);
    let t = Trait::foliage(0);
    let green = |end: usize, shift: Option<f64>, age: i64| {
        let mark = Mark {
            age,
            class: 1,
            error: 0.0,
        };
        series(&t, end, &[mark], shift)
    };
    for (still_green, expected) in [
        (0.30, 0.2562),
        (0.10, 0.5028),
        (0.05, 0.6679),
        (0.02, 0.8336),
    ] {
        // The shift that makes a purple seedling of 20 days still green with the wanted probability.
        let (mut low, mut high) = (-5.0, 5.0);
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if green(0, Some(middle), 20) < still_green {
                low = middle
            } else {
                high = middle
            }
        }
        let e = green(0, Some(low), 20);
        let off = f * green(1, Some(low), 20) + s0 * green(1, Some(low), 20) + sp * e;
        near(off / (off + c * e), expected, 5e-5);
    }
    near(c / (c + sp), 0.9890, 5e-5);
}
