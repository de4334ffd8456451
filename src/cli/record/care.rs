//! `care`, `measure`, `note`: what else is written down at the bench.

use clap::Args;

use super::typed;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::records::admit::Remedy;
use crate::records::count::Count;
use crate::records::entry::{Care, Entry, Measured, Measures, Note};
use crate::records::target::Target;
use crate::records::text::shown;
use crate::records::warmth::WARMTH;

/// Record a treatment: `care feed T1`, `care gnats T1 T2`, `care mould`; or how warm the soil is: `care warmth T1 --at 24`
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (the last says what the soil of every tray is now; 'germination' then waits for seed accordingly):\n  locule care feed T1 --product 'tomato feed' --dose '2 ml/l' --every 14\n  locule care gnats\n  locule care warmth T1 --at 24\n  locule care warmth --at 75F\nElectricity and water: mats, lamps and plugs stay dry and off the floor, the leads hang in a loop below the plug, the circuit has a residual current breaker, and the plug is pulled before watering. A mat goes by a thermostat whose probe is in the soil (common practice, no source)."
)]
pub struct CareArgs {
    /// What for or against: feed, gnats, mould or another word
    kind: String,
    /// What got it; without any the whole bench
    targets: Vec<Target>,
    /// The product
    #[arg(long, default_value = "", hide_default_value = true)]
    product: String,
    /// The dose: "2 ml/l"
    #[arg(long, default_value = "", hide_default_value = true)]
    dose: String,
    /// Of warmth: the degrees of the soil, in °C, or in °F with an F: 24, 75F
    #[arg(
        long,
        value_name = "DEGREES",
        conflicts_with = "dose",
        allow_hyphen_values = true
    )]
    at: Option<String>,
    /// Days until it is due again
    #[arg(long, value_name = "DAYS", allow_negative_numbers = true)]
    every: Option<Count>,
    /// A remark
    #[arg(long, default_value = "", hide_default_value = true)]
    note: String,
}

/// Record measures of a plant: `measure T1-03 height=42mm leaves=6`
#[derive(Debug, Args)]
pub struct MeasureArgs {
    /// The seedling or parent
    target: Target,
    /// What was measured: height=42mm
    #[arg(required = true, value_name = "NAME=NUMBER")]
    measures: Vec<String>,
}

/// Record a remark about anything with a code: `note T1-03 "leans to the light"`
#[derive(Debug, Args)]
pub struct NoteArgs {
    /// What it is about: a parent, cross, tray, seedling, trait, or a lot (X1/1)
    target: Target,
    /// The remark
    #[arg(required = true)]
    text: Vec<String>,
}

impl CareArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        if self.at.is_some() && !self.kind.trim().eq_ignore_ascii_case(WARMTH) {
            let kind = shown(&self.kind);
            return Err(Failure::usage(format!(
                "--at says how warm it is, and not how {kind} was given"
            ))
            .try_remedy(Remedy::Without("--at")));
        }
        Ok(Entry::Care(Care {
            kind: self.kind,
            targets: self.targets,
            product: self.product,
            dose: self.at.unwrap_or(self.dose),
            every: self.every,
            note: self.note,
            day: world.day()?,
        }))
    }
}

impl MeasureArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        let measures: Result<_, _> = self.measures.iter().map(|text| measured(text)).collect();
        let (measures, day) = (measures?, world.day()?);
        Ok(Entry::Measure(Measures {
            target: self.target,
            measures,
            day,
        }))
    }
}

/// `height=42mm` as name, number and unit.
fn measured(text: &str) -> Result<Measured, Failure> {
    let example = "locule measure T1-03 height=42mm";
    let (name, value) = typed::pair(text, example)?;
    let (number, unit) = value.split_at(number_end(&value));
    if number.is_empty() {
        return Err(
            Failure::usage(format!("'{}' holds no number", shown(text))).try_typing(example)
        );
    }
    Ok(Measured {
        number: decimal(&name, number, unit)?,
        name,
        unit: unit.trim().to_owned(),
    })
}

/// Where the number ends that a text begins with, its exponent included.
fn number_end(text: &str) -> usize {
    let in_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+');
    let end = text.find(|c| !in_number(c)).unwrap_or(text.len());
    let Some(exponent) = text[end..].strip_prefix(['e', 'E']) else {
        return end;
    };
    let digits = exponent.strip_prefix(['-', '+']).unwrap_or(exponent);
    let rest = digits.trim_start_matches(|c: char| c.is_ascii_digit());
    if rest.len() == digits.len() {
        return end;
    }
    text.len() - rest.len()
}

/// A number with a decimal point where a comma was typed; a comma before three digits could be either.
fn decimal(name: &str, number: &str, unit: &str) -> Result<String, Failure> {
    let Some((whole, part)) = number.split_once(',') else {
        return Ok(number.to_owned());
    };
    if part.len() != 3 || part.contains(['.', ',']) || whole.contains('.') {
        return Ok(number.replacen(',', ".", 1));
    }
    let with = |by: &str| Remedy::Word {
        typed: number.to_owned() + unit,
        by: format!("{whole}{by}{part}{unit}"),
        otherwise: format!("locule measure T1-03 {name}={whole}{by}{part}{unit}"),
    };
    Err(Failure::usage(format!(
        "'{number}' could be {whole}.{part} or {whole}{part}"
    ))
    .try_remedy(with("."))
    .try_remedy(with("")))
}

impl NoteArgs {
    /// The entry of what was typed.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read.
    pub fn entry(self, world: &World) -> Result<Entry, Failure> {
        let (text, day) = (self.text.join(" "), world.day()?);
        Ok(Entry::Note(Note {
            target: self.target,
            text,
            day,
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn measures_are_split_into_number_and_unit() {
        let read = |text: &str| measured(text).unwrap();
        let height = read("height=42mm");
        assert_eq!((&height.number[..], &height.unit[..]), ("42", "mm"));
        assert_eq!(read("leaves=6").unit, "");
        let comma = read("height=4,2cm");
        assert_eq!((&comma.number[..], &comma.unit[..]), ("4.2", "cm"));
        assert!(measured("height=1,000mm").is_err());
        assert_eq!(read("weight=1.5 g").unit, "g");
        let weight = read("weight=1.5e-3kg");
        assert_eq!((&weight.number[..], &weight.unit[..]), ("1.5e-3", "kg"));
        assert_eq!(read("height=1e400").number, "1e400");
        assert_eq!(read("food=5eggs").unit, "eggs");
        assert_eq!(read("food=5é").unit, "é");
        for bad in ["height", "height=", "=42", "height=tall"] {
            assert!(measured(bad).is_err(), "{bad}");
        }
    }
}
