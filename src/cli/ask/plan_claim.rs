//! What is wanted of one cross that shares places, as typed: `X1=green/not-hot,want=2,weight=3`.
//!
//! `plan space` asks.

use std::str::FromStr;

use crate::genetics::descent::{Generation, UnknownGeneration};
use crate::genetics::fraction::Fraction;
use crate::records::code::fold;
use crate::report::text::shown;

use super::plan_wishes::{MOST_WANTED, chance};

/// A cross with what is wanted of it, as typed.
#[derive(Debug, Clone, PartialEq)]
pub struct Claim {
    /// What it is called, or its code.
    pub name: String,
    /// The chance or the look.
    pub wanted: String,
    /// How many.
    pub want: u64,
    /// How much it counts.
    pub weight: f64,
    /// The early look that alone gets a place.
    pub marker: Option<String>,
    /// The generation that is sown.
    pub generation: Option<Generation>,
}

/// Largest weight.
const HEAVIEST: f64 = 1e6;

impl FromStr for Claim {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (name, rest) = text
            .split_once('=')
            .ok_or("write a cross and what is wanted of it: X1=1/16, X1=green/not-hot,want=2")?;
        let mut parts = rest.split(',').map(str::trim);
        let wanted = parts.next().unwrap_or_default();
        if name.trim().is_empty() || wanted.is_empty() {
            return Err("a name stands before '=', a chance or a look after it".to_owned());
        }
        let mut claim = Self {
            name: name.trim().to_owned(),
            wanted: wanted.to_owned(),
            want: 1,
            weight: 1.0,
            marker: None,
            generation: None,
        };
        parts.try_for_each(|part| claim.add(part))?;
        Ok(claim)
    }
}

impl Claim {
    fn add(&mut self, part: &str) -> Result<(), String> {
        let (key, value) = part.split_once('=').unwrap_or((part, ""));
        let value = value.trim();
        match key.trim().to_lowercase().as_str() {
            "want" => {
                let want = value.parse().ok().filter(|n| (1..=MOST_WANTED).contains(n));
                self.want = want.ok_or_else(|| format!("want is a number, 1 to {MOST_WANTED}"))?;
            }
            "weight" => {
                let weight = value
                    .parse::<f64>()
                    .ok()
                    .filter(|w| *w > 0.0 && *w <= HEAVIEST);
                self.weight = weight
                    .ok_or_else(|| format!("weight is a number above 0, up to {HEAVIEST}"))?;
            }
            "marker" if !value.is_empty() => self.marker = Some(value.to_owned()),
            "generation" => {
                self.generation = Some(
                    value
                        .parse()
                        .map_err(|error: UnknownGeneration| error.to_string())?,
                );
            }
            _ => {
                return Err(format!(
                    "'{}' is none of want=N, weight=W, marker=CLASS, generation=F2",
                    shown(part)
                ));
            }
        }
        Ok(())
    }

    /// Whether it asks for the same look of the same seed.
    #[must_use]
    pub fn is_like(&self, other: &Self) -> bool {
        fold(&self.name) == fold(&other.name)
            && fold(&self.wanted) == fold(&other.wanted)
            && (&self.marker, self.generation) == (&other.marker, other.generation)
    }

    /// The chance as typed, where it is one and not a look.
    #[must_use]
    pub fn chance(&self) -> Option<Result<Fraction, String>> {
        let is_number = self
            .wanted
            .starts_with(|c: char| c.is_ascii_digit() || "-.".contains(c));
        is_number.then(|| chance(&self.wanted))
    }
}
