//! How many more plants tell two ratios apart, against exact fractions and a simulation.

use locule::stats::separation::{Wanted, more_to_tell};

const USUAL: Wanted = Wanted {
    weight: 0.95,
    chance: 0.95,
};

/// Two ratios, the odds of the first, the plants and the chance.
type Told = (&'static [f64], &'static [f64], f64, u64, f64);

/// The smallest `n` and the smaller of the two chances, by adding up every outcome of `n = 1, 2, ...` plants in
/// fractions (Python 3 `fractions.Fraction`, `odds * prod (p_i/q_i)^x_i >= 19` compared exactly).
#[test]
fn agrees_with_exact_fractions() {
    let rows: &[Told] = &[
        (&[3.0, 1.0], &[1.0, 1.0], 1.0, 76, 0.954_125_615_696_427_1),
        (&[3.0, 1.0], &[9.0, 7.0], 2.0, 140, 0.952_467_564_278_082_5),
        (
            &[1.0, 2.0, 1.0],
            &[9.0, 3.0, 4.0],
            1.0,
            37,
            0.953_510_301_561_306_5,
        ),
        (
            &[9.0, 3.0, 4.0],
            &[9.0, 6.0, 1.0],
            1.0,
            56,
            0.950_017_580_913_680_2,
        ),
        (
            &[1.0, 1.0, 1.0, 1.0],
            &[9.0, 3.0, 3.0, 1.0],
            1.0,
            38,
            0.954_125_615_696_427_1,
        ),
        (&[1.0, 0.0], &[3.0, 1.0], 1.0, 11, 0.957_764_863_967_895_5),
        (&[3.0, 1.0], &[13.0, 3.0], 1.0, 916, 0.950_729_869_573_450_4),
    ];
    for (one, other, odds, more, chance) in rows {
        let found = more_to_tell(one, other, *odds, USUAL).unwrap();
        assert_eq!(found.more, *more, "{one:?} {other:?}");
        let exact = found.chance.expect("few enough terms to add up");
        assert!((exact - chance).abs() < 1e-9, "{exact} is not {chance}");
        let turned = more_to_tell(other, one, 1.0 / odds, USUAL).unwrap();
        assert_eq!(turned.more, *more, "the order makes no difference");
    }
}

#[test]
fn what_is_told_apart_or_cannot_be_needs_no_plants() {
    let ratio = [3.0, 1.0];
    let told = more_to_tell(&ratio, &[1.0, 1.0], 19.0, USUAL).unwrap();
    assert_eq!(told.more, 0);
    let told = more_to_tell(&ratio, &[1.0, 1.0], 0.0, USUAL).unwrap();
    assert_eq!(told.more, 0);
    assert_eq!(more_to_tell(&ratio, &[6.0, 2.0], 1.0, USUAL), None);
}

/// Numbers from a fixed seed (splitmix64, Steele, Lea & Flood 2014, from memory), as shares of 1.
struct Draws(u64);

impl Draws {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((mixed ^ (mixed >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn class(&mut self, shares: &[f64]) -> usize {
        let mut left = self.next() * shares.iter().sum::<f64>();
        let reached = shares.iter().position(|share| {
            left -= share;
            left < 0.0
        });
        reached.unwrap_or(shares.len() - 1)
    }
}

/// How often the true one of two ratios ends with at least 95 % of their weight, in 4,000 trays drawn from it.
fn told_by_drawing(truth: &[f64], rival: &[f64], odds: f64, n: u64, draws: &mut Draws) -> f64 {
    let scale = rival.iter().sum::<f64>() / truth.iter().sum::<f64>();
    let told = (0..4_000).filter(|_| {
        let start = odds.ln();
        let end = (0..n).fold(start, |log, _| {
            let class = draws.class(truth);
            log + (truth[class] / rival[class] * scale).ln()
        });
        end >= 19.0_f64.ln()
    });
    told.count() as f64 / 4_000.0
}

/// The exact number and one by the normal approximation (six classes, close to each other) against drawn trays: the
/// worse of the two chances is 95 % within three standard errors, and for the approximation within 2 % more.
#[test]
fn agrees_with_drawn_trays() {
    let mut draws = Draws(1);
    let near = [10.0, 9.0, 8.0, 7.0, 6.0, 5.0];
    let close = [9.5, 9.4, 8.3, 6.7, 6.5, 4.6];
    let rows: [(&[f64], &[f64], f64, bool); 3] = [
        (&[9.0, 7.0], &[3.0, 1.0], 1.0, true),
        (&[9.0, 3.0, 4.0], &[12.0, 3.0, 1.0], 3.0, true),
        (&near, &close, 1.0, false),
    ];
    for (one, other, odds, exact) in rows {
        let found = more_to_tell(one, other, odds, USUAL).unwrap();
        assert_eq!(found.chance.is_some(), exact, "{one:?}");
        let drawn = [
            told_by_drawing(one, other, odds, found.more, &mut draws),
            told_by_drawing(other, one, 1.0 / odds, found.more, &mut draws),
        ];
        let worse = drawn[0].min(drawn[1]);
        let slack = 3.0 * (0.05_f64 * 0.95 / 4_000.0).sqrt() + if exact { 0.0 } else { 0.02 };
        assert!(worse > 0.95 - slack, "{drawn:?} with {}", found.more);
        let wanted = found.chance.unwrap_or(0.95);
        assert!((worse - wanted).abs() < slack, "{drawn:?}, {wanted}");
    }
}
