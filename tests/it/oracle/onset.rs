//! When a late class shows, how readings err, and the likelihood of a series of readings of one trait.

use super::season::Trait;

/// Standard normal nodes and weights (weights divided by sqrt(2 pi)) of nine-point Gauss-Hermite quadrature:
/// `scipy.special.roots_hermitenorm(9)`; digits from the roots of He9 and w = 9! / (9 He8(x))^2 at 40 digits (mpmath).
pub const NORMAL_NODES: [(f64, f64); 9] = [
    (-4.512_745_863_399_782_7, 0.000_022_345_844_007_746_583_6),
    (-3.205_429_002_856_469_9, 0.002_789_141_321_231_768_63),
    (-2.076_847_978_677_830_1, 0.049_916_406_765_217_874_0),
    (-1.023_255_663_789_132_5, 0.244_097_502_894_939_436),
    (0.0, 0.406_349_206_349_206_349),
    (1.023_255_663_789_132_5, 0.244_097_502_894_939_436),
    (2.076_847_978_677_830_1, 0.049_916_406_765_217_874_0),
    (3.205_429_002_856_469_9, 0.002_789_141_321_231_768_63),
    (4.512_745_863_399_782_7, 0.000_022_345_844_007_746_583_6),
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
