//! Chance that repeats: a seed gives the same draws on every machine.

/// A source of draws (SplitMix64: Steele, Lea and Flood 2014, "Fast splittable pseudorandom number generators", OOPSLA,
/// figure 17).
#[derive(Debug, Clone)]
pub struct Chance(u64);

impl Chance {
    /// A source of its own for a part of the work.
    pub fn of(seed: u64, name: &str, number: u64) -> Self {
        let mut mixed = Self(seed ^ number.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        for byte in name.bytes() {
            mixed = Self(mixed.next() ^ u64::from(byte));
        }
        mixed
    }

    /// The next draw.
    pub const fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A whole number below `end`, which must not be 0.
    pub fn below(&mut self, end: usize) -> usize {
        let wide = u128::from(self.next()) * end as u128;
        (wide >> 64) as usize
    }

    /// True once in `times`.
    pub fn once_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }

    /// A share from 0 to 1.
    pub fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// One of several.
    pub fn one_of<'a, T>(&mut self, things: &'a [T]) -> &'a T {
        &things[self.below(things.len())]
    }
}
