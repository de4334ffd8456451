//! How many plants stand in an area at a spacing.
//!
//! Every plant has a circle as wide as the spacing to itself, wholly inside the area. Lengths are whole millimetres
//! and compared as such, so that 60 cm hold exactly two plants at 30 cm. Asked by `plan space`.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

/// A length in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Length(u64);

/// Longest side of an area, in millimetres.
const LONGEST: u64 = 1_000_000;

/// Why a text is no length or area.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum LengthError {
    /// No unit, or one that is not known.
    #[error("\"{0}\" has no unit that is known; write m, cm or mm: 30cm")]
    Unit(String),
    /// No number, or finer than a millimetre.
    #[error("\"{0}\" is no length in whole millimetres; write 30cm or 1.2m")]
    Number(String),
    /// Nothing, or longer than a kilometre.
    #[error("\"{0}\" is no length to plant in; it lies from 1 mm to 1000 m")]
    Outside(String),
    /// No two sides.
    #[error("\"{0}\" is no area; write its two sides, 1.2x0.6m")]
    Sides(String),
}

impl Length {
    /// Millimetres.
    #[must_use]
    pub const fn millimetres(self) -> u64 {
        self.0
    }
}

impl FromStr for Length {
    type Err = LengthError;

    fn from_str(text: &str) -> Result<Self, LengthError> {
        let text = text.trim();
        let at = text.find(|c: char| c.is_alphabetic()).unwrap_or(text.len());
        let (number, unit) = text.split_at(at);
        let decimals = match unit.to_lowercase().as_str() {
            "m" => 3,
            "cm" => 1,
            "mm" => 0,
            _ => return Err(LengthError::Unit(text.to_owned())),
        };
        let millimetres = in_tenths(number.trim(), decimals)
            .ok_or_else(|| LengthError::Number(text.to_owned()))?;
        match millimetres {
            1..=LONGEST => Ok(Self(millimetres)),
            _ => Err(LengthError::Outside(text.to_owned())),
        }
    }
}

/// A plain decimal times ten to the power of `decimals`, where that is whole.
fn in_tenths(number: &str, decimals: usize) -> Option<u64> {
    let (before, behind) = number.split_once('.').unwrap_or((number, ""));
    let behind = behind.trim_end_matches('0');
    let plain = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    let fits = behind.len() <= decimals && before.len() <= 9;
    if !fits || !plain(before) || !plain(behind) || number.trim_matches('.').is_empty() {
        return None;
    }
    let digits = format!("{before}{behind:0<decimals$}");
    digits.parse().ok()
}

/// A rectangle: `1.2x0.6m`, `120cm x 60cm`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Area {
    /// One side.
    pub width: Length,
    /// The other.
    pub depth: Length,
}

impl FromStr for Area {
    type Err = LengthError;

    fn from_str(text: &str) -> Result<Self, LengthError> {
        let text = text.trim();
        let (one, other) = text
            .split_once(['x', 'X', '\u{d7}'])
            .ok_or_else(|| LengthError::Sides(text.to_owned()))?;
        let (one, other) = (one.trim(), other.trim());
        let unit: String = other.chars().filter(|c| c.is_alphabetic()).collect();
        let has_unit = one.contains(|c: char| c.is_alphabetic());
        let one = if has_unit {
            one.to_owned()
        } else {
            format!("{one}{unit}")
        };
        Ok(Self {
            width: one.parse()?,
            depth: other.parse()?,
        })
    }
}

/// The widest spacing, a usual one where that does, at which an area holds a plant.
#[must_use]
pub fn widest_spacing(area: Area) -> Length {
    let side = area.width.min(area.depth);
    let mut usual = USUAL_SPACINGS.into_iter().map(Length);
    usual.find(|one| *one <= side).unwrap_or(side)
}

/// Usual spacings, the widest first, in millimetres.
const USUAL_SPACINGS: [u64; 6] = [300, 200, 150, 100, 50, 20];

impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.0 % 10 {
            0 => write!(f, "{}cm", self.0 / 10),
            _ => write!(f, "{}mm", self.0),
        }
    }
}

/// How plants stand to one another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Packing {
    /// In rows and columns.
    Square,
    /// Every other row moved by half a spacing, so that rows stand closer.
    Staggered,
}

/// How many plants an area holds: in rows and columns `floor(w/s) floor(d/s)`; staggered, rows `s sqrt(3)/2` apart
/// along whichever side holds more.
#[must_use]
pub fn places(area: Area, spacing: Length, packing: Packing) -> u64 {
    let (w, d, s) = (area.width.0, area.depth.0, spacing.0);
    match packing {
        Packing::Square => (w / s) * (d / s),
        Packing::Staggered => staggered(w, d, s).max(staggered(d, w, s)),
    }
}

/// Staggered rows along `w`, one behind the other over `d`.
fn staggered(w: u64, d: u64, s: u64) -> u64 {
    if w < s || d < s {
        return 0;
    }
    // Rows behind the first: the largest r with r s sqrt(3)/2 <= d - s, that is 3 (r s)^2 <= 4 (d - s)^2.
    let room = 4 * (d - s) * (d - s);
    let further = (room / (3 * s * s)).isqrt();
    let (odd, even) = (w / s, (2 * w - s) / (2 * s));
    let rows = further + 1;
    rows.div_ceil(2) * odd + rows / 2 * even
}

#[cfg(test)]
mod tests {
    use super::*;

    fn counted(area: &str, spacing: &str) -> [u64; 2] {
        let (area, spacing) = (area.parse().unwrap(), spacing.parse().unwrap());
        [Packing::Square, Packing::Staggered].map(|packing| places(area, spacing, packing))
    }

    /// Counted on paper.
    #[test]
    fn plants_are_counted_as_they_stand() {
        assert_eq!(counted("1.2x0.6m", "30cm"), [8, 7]);
        assert_eq!(counted("60cm x 60cm", "20 cm"), [9, 8]);
        // Eleven rows of 10 and 9 by turns: 1 + floor(0.9/(0.1 sqrt(3)/2)) = 11.
        assert_eq!(counted("1x1m", "10cm"), [100, 105]);
        assert_eq!(counted("29cm x 3m", "300mm"), [0, 0]);
        // Two rows at 10 cm take 100 + 86.6 mm.
        assert_eq!(counted("100mm x 187mm", "100mm"), [1, 1]);
        assert_eq!(counted("250mm x 187mm", "100mm"), [2, 4]);
        assert_eq!(counted("250mm x 186mm", "100mm"), [2, 2]);
    }

    /// No two plants of the staggered rows stand closer than the spacing, and none over the edge.
    #[test]
    fn staggered_plants_keep_their_distance() {
        for (w, d, s) in [(1_000, 1_000, 100), (950, 730, 130), (1_200, 610, 300)] {
            let rise = s as f64 * 3_f64.sqrt() / 2.0;
            let mut at = Vec::new();
            let rows = 1 + ((d - s) as f64 / rise + 1e-9).floor() as u64;
            for row in 0..rows {
                let lead = if row % 2 == 1 { s as f64 / 2.0 } else { 0.0 };
                let mut x = lead + s as f64 / 2.0;
                while x + s as f64 / 2.0 <= w as f64 + 1e-9 {
                    at.push((x, s as f64 / 2.0 + row as f64 * rise));
                    x += s as f64;
                }
            }
            assert_eq!(at.len() as u64, staggered(w, d, s), "{w} {d} {s}");
        }
    }

    #[test]
    fn what_is_no_length_is_refused_with_the_reason() {
        let of = |text: &str| text.parse::<Length>().unwrap_err();
        assert!(matches!(of("30"), LengthError::Unit(_)));
        assert!(matches!(of("30in"), LengthError::Unit(_)));
        assert!(matches!(of("cm"), LengthError::Number(_)));
        assert!(matches!(of("1.25cm"), LengthError::Number(_)));
        assert!(matches!(of("-3cm"), LengthError::Number(_)));
        assert!(matches!(of("0cm"), LengthError::Outside(_)));
        assert!(matches!("3m".parse::<Area>(), Err(LengthError::Sides(_))));
        assert_eq!("1.250m".parse(), Ok(Length(1_250)));
    }
}
