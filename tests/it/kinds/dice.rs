//! Seeded chance for the random seasons.

/// SplitMix64 (Steele, Lea and Flood 2014): small, seeded, the same everywhere.
pub struct Dice(u64);

impl Dice {
    /// Dice that fall the same way for the same seed.
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5ea5)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number from `low` to `high`, both included.
    pub fn between(&mut self, low: i64, high: i64) -> i64 {
        let span = u64::try_from(high - low + 1).expect("low is not above high");
        low + i64::try_from(self.next() % span).expect("below the span")
    }

    /// A number from 0 to below 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Whether something of this probability happens.
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }

    /// A standard normal value (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (1.0 - self.unit(), self.unit());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }

    /// One of a list.
    pub fn pick<T: Copy>(&mut self, list: &[T]) -> T {
        let last = i64::try_from(list.len()).expect("a short list") - 1;
        list[usize::try_from(self.between(0, last)).expect("an index")]
    }

    /// Puts a list into random order (Fisher and Yates).
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for at in (1..list.len()).rev() {
            let last = i64::try_from(at).expect("a short list");
            list.swap(
                at,
                usize::try_from(self.between(0, last)).expect("an index"),
            );
        }
    }
}
