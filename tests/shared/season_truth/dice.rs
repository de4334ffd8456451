//! Seeded chance, cut into streams: what falls in one place does not depend on what was drawn in another, so that two
//! worlds played from one seed differ only in what they are meant to differ in.

const STEP: u64 = 0x9e37_79b9_7f4a_7c15;

/// One stream of SplitMix64 (Steele, Lea and Flood 2014): small, seeded, the same everywhere.
pub struct Dice(u64);

fn scramble(state: u64) -> u64 {
    let z = (state ^ (state >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Dice {
    /// The stream of these keys.
    pub fn of(keys: &[u64]) -> Self {
        let mix = |state: u64, key: &u64| scramble(state ^ scramble(key.wrapping_add(STEP)));
        Self(keys.iter().fold(0x7a11, mix))
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(STEP);
        scramble(self.0)
    }

    /// A number from 0 to below 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Whether something of this probability happens.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A whole number from `low` to `high`, both included.
    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        let span = u64::try_from(high - low + 1).expect("low is not above high");
        low + i64::try_from(self.next() % span).expect("below the span")
    }

    /// An index below a length.
    pub fn below(&mut self, length: usize) -> usize {
        usize::try_from(self.next() % length as u64).expect("below the length")
    }

    /// An index, each with its weight.
    pub fn weighted(&mut self, weights: impl Iterator<Item = f64> + Clone) -> usize {
        let mut left = self.unit() * weights.clone().sum::<f64>();
        let mut last = 0;
        for (at, weight) in weights.enumerate().filter(|(_, weight)| *weight > 0.0) {
            last = at;
            left -= weight;
            if left < 0.0 {
                break;
            }
        }
        last
    }

    /// A standard normal value (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (1.0 - self.unit(), self.unit());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    /// A value of Beta(1, b): its distribution function is 1 - (1 - x)^b.
    pub fn beta_of_one(&mut self, b: f64) -> f64 {
        1.0 - (1.0 - self.unit()).powf(1.0 / b)
    }
}
