//! Pedigrees as breeders write them, in Purdy's notation: `A/B//C`, `A*3/B`.
//!
//! The mother stands first. `/` is the first cross, `//` the second, `/3/` the third; the highest slash was made
//! last and splits the text. `A*3/B` counts doses of the recurrent parent, the first cross among them: A x (A x
//! (A x B)), and `B/3*A` is ((B x A) x A) x A. After Purdy, Loegering, Konzak, Peterson and Allan 1968, Crop
//! Science 8:405-406, where the doses stand from memory; refusing `A//B//C` and quoting names are design choices.
//! Which plants the names mean is not known here; the gate asks for that, and `pedigree` writes with it.

use std::fmt;

pub use super::purdy_error::{PurdyDoubt, PurdyError, PurdyFault};

/// The most doses of a recurrent parent that are read.
pub const MOST_DOSES: u32 = 30;

/// A pedigree: a name, or a cross of two pedigrees.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Pedigree {
    /// A parent by its name.
    Named(String),
    /// A cross, mother first.
    Cross(Box<[Pedigree; 2]>),
}

/// A text in Purdy's notation, as it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Purdy {
    /// The pedigree; always a cross.
    pub pedigree: Pedigree,
    /// The selection history behind a dash at the end (` -12-3`), without that first dash.
    pub selection: Option<String>,
    /// What is doubtful in it.
    pub doubts: Vec<PurdyDoubt>,
}

impl Pedigree {
    /// A parent by its name.
    #[must_use]
    pub fn named(name: impl Into<String>) -> Self {
        Self::Named(name.into())
    }

    /// A cross of a mother and a father.
    #[must_use]
    pub fn cross(mother: Self, father: Self) -> Self {
        Self::Cross(Box::new([mother, father]))
    }

    /// The names in the order written, each once.
    #[must_use]
    pub fn names(&self) -> Vec<&str> {
        let mut names = Vec::new();
        self.each_leaf(1.0, &mut |name, _| {
            if !names.contains(&name) {
                names.push(name);
            }
        });
        names
    }

    /// The expected share of each named parent, in the order of [`Pedigree::names`]: half for each cross between
    /// it and the top, summed over its places (each gamete carries half of a plant's genes; textbook). Exact, as
    /// sums of powers of two, down to 50 crosses.
    #[must_use]
    pub fn shares(&self) -> Vec<(&str, f64)> {
        let mut shares: Vec<(&str, f64)> = Vec::new();
        self.each_leaf(1.0, &mut |name, share| match shares
            .iter_mut()
            .find(|(known, _)| *known == name)
        {
            Some((_, sum)) => *sum += share,
            None => shares.push((name, share)),
        });
        shares
    }

    fn each_leaf<'a>(&'a self, share: f64, visit: &mut impl FnMut(&'a str, f64)) {
        match self {
            Self::Named(name) => visit(name, share),
            Self::Cross(pair) => {
                for parent in pair.iter() {
                    parent.each_leaf(share / 2.0, visit);
                }
            }
        }
    }

    /// The order of the slash that a writing of it splits at last; 0 for a name.
    fn order(&self) -> u32 {
        match self {
            Self::Named(_) => 0,
            Self::Cross(pair) => {
                let (_, [mother, father]) = self.dosed(pair);
                1 + mother.order().max(father.order())
            }
        }
    }

    /// A cross with the doses of its recurrent parent taken together: which side they stand on and how many,
    /// and the two sides of the one slash that is written.
    fn dosed<'a>(&'a self, pair: &'a [Self; 2]) -> (Option<(usize, u32)>, [&'a Self; 2]) {
        for side in [0, 1] {
            let mut other = &pair[1 - side];
            let mut doses = 1;
            while let (Self::Named(_), Self::Cross(inner)) = (&pair[side], other) {
                if inner[side] != pair[side] || doses == MOST_DOSES {
                    break;
                }
                doses += 1;
                other = &inner[1 - side];
            }
            if doses > 1 {
                let mut sides = [&pair[side]; 2];
                sides[1 - side] = other;
                return (Some((side, doses)), sides);
            }
        }
        (None, [&pair[0], &pair[1]])
    }
}

impl fmt::Display for Pedigree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let pair = match self {
            Self::Named(name) => return f.write_str(&quoted(name)),
            Self::Cross(pair) => pair,
        };
        let (doses, [mother, father]) = self.dosed(pair);
        mother.fmt(f)?;
        if let Some((0, n)) = doses {
            write!(f, "*{n}")?;
        }
        f.write_str(&slash(self.order()))?;
        if let Some((1, n)) = doses {
            write!(f, "{n}*")?;
        }
        father.fmt(f)
    }
}

pub(super) fn slash(order: u32) -> String {
    match order {
        1 => "/".to_owned(),
        2 => "//".to_owned(),
        order => format!("/{order}/"),
    }
}

/// A name as it is written: in quotes where it could be read as something else.
fn quoted(name: &str) -> String {
    let digits = name.chars().all(|c| c.is_ascii_digit());
    let unclear = name.contains(['/', '*'])
        || name.starts_with(['\'', '"', '-'])
        || name.contains(" -")
        || lone_bracket(name.chars()).is_some()
        || name != name.trim();
    if digits || unclear {
        format!("'{}'", name.replace('\'', "''"))
    } else {
        name.to_owned()
    }
}

/// Where a bracket stands that has no fellow.
pub(super) fn lone_bracket(name: impl Iterator<Item = char>) -> Option<usize> {
    let mut open = Vec::new();
    for (at, c) in name.enumerate() {
        match c {
            '(' => open.push(at),
            ')' if open.pop().is_none() => return Some(at),
            _ => {}
        }
    }
    open.first().copied()
}

impl fmt::Display for Purdy {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.pedigree.fmt(f)?;
        match &self.selection {
            Some(history) => write!(f, " -{history}"),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_could_be_read_otherwise_stand_in_quotes() {
        for (name, written) in [
            ("Hen's Foot", "Hen's Foot"),
            ("7", "'7'"),
            ("A/B", "'A/B'"),
            ("X*", "'X*'"),
            ("Reed -3", "'Reed -3'"),
            ("'s Reed/1", "'''s Reed/1'"),
            ("7 x 7", "7 x 7"),
            ("Reed (old)", "Reed (old)"),
            ("Reed :)", "'Reed :)'"),
        ] {
            assert_eq!(Pedigree::named(name).to_string(), written);
            let cross = Pedigree::cross(Pedigree::named(name), Pedigree::named("B"));
            let read: Purdy = cross.to_string().parse().unwrap();
            assert_eq!(read.pedigree, cross, "{written}");
        }
    }
}
