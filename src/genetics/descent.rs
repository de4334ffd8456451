//! How a seedling comes down from one or two plants: crosses, selfs, backcrosses, doubled gametes.
//!
//! A [`Descent`] is the little pedigree between the parents that were named and the seedlings asked about. It
//! knows no genotypes; the walk along the chromosomes asks which of the parents' strands a seedling carries
//! for each way the meioses can turn out.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use super::genotype::Diploid;
use super::locus::LocusIx;
use super::pointer::pointed;
use super::selection::{Selection, dies, is_dropped};

/// The most generations of selfing, or of backcrossing, that are read.
const MOST_GENERATIONS: u32 = 20;

/// A plant by its descent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Descent {
    /// The plant named as mother.
    Mother,
    /// The plant named as father.
    Father,
    /// An offspring, its mother first.
    Cross(Box<Self>, Box<Self>),
    /// An offspring by its own pollen.
    Selfed(Box<Self>),
    /// A gamete doubled: homozygous throughout.
    Doubled(Box<Self>),
}

impl Descent {
    /// The first cross.
    #[must_use]
    pub fn first_cross() -> Self {
        Self::Cross(Box::new(Self::Mother), Box::new(Self::Father))
    }

    /// Whether the plant named as father has any part in it.
    #[must_use]
    pub fn names_father(&self) -> bool {
        match self {
            Self::Mother => false,
            Self::Father => true,
            Self::Cross(one, other) => one.names_father() || other.names_father(),
            Self::Selfed(plant) | Self::Doubled(plant) => plant.names_father(),
        }
    }

    /// The mother selfed.
    #[must_use]
    pub fn self_of_mother() -> Self {
        Self::Selfed(Box::new(Self::Mother))
    }
}

/// Which parent a hybrid goes back to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Recurrent {
    /// The mother of the first cross.
    #[default]
    Mother,
    /// The father of the first cross.
    Father,
}

/// A generation by its name: F1, F2, BC1, BC2F3, DH.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Generation {
    backcrosses: u32,
    selfings: u32,
    doubled: bool,
}

/// A word that names no generation.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error(
    "\"{}\" is no generation\n  {}\n  {}",
    .text.escape_debug(),
    pointed(.text, *.at).replace('\n', "\n  "),
    hint(.text)
)]
pub struct UnknownGeneration {
    /// As typed.
    pub text: String,
    /// Where it goes wrong: characters from the start, counted from 0.
    pub at: usize,
}

fn hint(text: &str) -> String {
    let word = text.trim().to_uppercase();
    let family = word
        .split_once(':')
        .filter(|(plant, _)| plant.starts_with(['F', 'B']));
    match family.map(|(plant, seed)| (plant.find('F'), seed)) {
        Some((Some(at), seed))
            if format!("{}F{seed}", &word[..at])
                .parse::<Generation>()
                .is_ok() =>
        {
            let generation = format!("{}F{seed}", &word[..at]);
            format!("a family named by its plant and its seed; the generation is {generation}")
        }
        _ => format!(
            "write F1, F2, F3 ..., BC1, BC2 ..., BC1F2 ... or DH (doubled gametes of the F1), up to {MOST_GENERATIONS} of each"
        ),
    }
}

/// Where a word stops being the name of a generation: at a letter or digit that does not belong there, at a number
/// that is none of theirs, or at the end where more should come.
fn fault_place(word: &str) -> usize {
    let digits = |from: usize| word[from..].bytes().take_while(u8::is_ascii_digit).count();
    let is_read = |from: usize, to: usize| {
        let number = word[from..to].parse::<u32>();
        number.is_ok_and(|n| (1..=MOST_GENERATIONS).contains(&n))
    };
    let mut at = 0;
    for letters in ["BC", "F"] {
        if word[at..].starts_with(letters) {
            let start = at + letters.len();
            at = start + digits(start);
            if !is_read(start, at) {
                return start;
            }
        }
    }
    at
}

impl FromStr for Generation {
    type Err = UnknownGeneration;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let word = text.trim().to_uppercase();
        let unknown = || {
            let before = text.chars().take_while(|c| c.is_whitespace()).count();
            let ascii = word.is_ascii();
            UnknownGeneration {
                text: text.to_owned(),
                at: before + if ascii { fault_place(&word) } else { 0 },
            }
        };
        let number = |digits: &str| {
            let plain = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
            let read = plain.then(|| digits.parse::<u32>().ok()).flatten();
            read.filter(|n| (1..=MOST_GENERATIONS).contains(n))
                .ok_or_else(unknown)
        };
        let (backcrosses, selfed) = match word.strip_prefix("BC") {
            _ if word == "DH" => (0, None),
            Some(rest) => {
                let (n, selfed) = rest
                    .split_once('F')
                    .map_or((rest, None), |(n, s)| (n, Some(s)));
                (number(n)?, selfed)
            }
            None => (0, Some(word.strip_prefix('F').ok_or_else(unknown)?)),
        };
        Ok(Self {
            backcrosses,
            selfings: selfed.map(number).transpose()?.map_or(0, |n| n - 1),
            doubled: word == "DH",
        })
    }
}

impl fmt::Display for Generation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.doubled, self.backcrosses, self.selfings) {
            (true, ..) => write!(f, "DH"),
            (_, 0, selfings) => write!(f, "F{}", selfings + 1),
            (_, n, 0) => write!(f, "BC{n}"),
            (_, n, selfings) => write!(f, "BC{n}F{}", selfings + 1),
        }
    }
}

impl Generation {
    /// Whether it is a backcross or comes from one.
    #[must_use]
    pub fn is_backcross(self) -> bool {
        self.backcrosses > 0
    }

    /// Whether its seed is selfed seed.
    #[must_use]
    pub fn is_selfed(self) -> bool {
        self.selfings > 0
    }

    /// Whether plants between the two parents and it were bred from: any but the F1.
    #[must_use]
    pub fn is_bred_on(self) -> bool {
        self.backcrosses + self.selfings > 0 || self.doubled
    }

    /// Whether it comes of doubled gametes.
    #[must_use]
    pub fn is_doubled(self) -> bool {
        self.doubled
    }

    /// The generation whose plants bear its seed; nothing for the F1, which the mother bears.
    #[must_use]
    pub fn before(self) -> Option<Self> {
        let (backcrosses, selfings) = match (self.backcrosses, self.selfings) {
            (0, 0) => {
                return self.doubled.then_some(Self {
                    doubled: false,
                    ..self
                });
            }
            (n, 0) => (n - 1, 0),
            (n, selfings) => (n, selfings - 1),
        };
        Some(Self {
            backcrosses,
            selfings,
            doubled: false,
        })
    }

    /// Its descent from two parents: BC1 = F1 x recurrent parent, F2 = F1 selfed, BC1F2 = BC1 selfed (Acquaah,
    /// Principles of Plant Genetics and Breeding). The hybrid is the mother of each backcross.
    #[must_use]
    pub fn descent(self, recurrent: Recurrent) -> Descent {
        let mut plant = Descent::first_cross();
        for _ in 0..self.backcrosses {
            let back = match recurrent {
                Recurrent::Mother => Descent::Mother,
                Recurrent::Father => Descent::Father,
            };
            plant = Descent::Cross(Box::new(plant), Box::new(back));
        }
        for _ in 0..self.selfings {
            plant = Descent::Selfed(Box::new(plant));
        }
        if self.doubled {
            plant = Descent::Doubled(Box::new(plant));
        }
        plant
    }
}

/// Egg or pollen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sex {
    Female,
    Male,
}

/// A plant of the little pedigree; parents by their place in the list. The bit says which meiosis decides the
/// strand; there is none where the parent's two strands are alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kin {
    Parent(usize),
    Child {
        from: [usize; 2],
        bits: [Option<usize>; 2],
    },
    Doubled {
        from: usize,
        bit: Option<usize>,
    },
}

impl Kin {
    /// The places of the plants it comes from.
    pub(super) fn parents(&self) -> Vec<usize> {
        match self {
            Self::Parent(_) => Vec::new(),
            Self::Child { from, .. } => from.to_vec(),
            Self::Doubled { from, .. } => vec![*from],
        }
    }
}

/// The little pedigree in order, the seedling last, and the sex of each meiosis that matters.
#[derive(Clone, Debug, Default)]
pub(super) struct Line {
    pub(super) kin: Vec<Kin>,
    pub(super) meioses: Vec<Sex>,
}

impl Line {
    /// Lays a descent out; `alike` says of mother and father whether their two strands are the same.
    pub(super) fn of(descent: &Descent, alike: [bool; 2]) -> Self {
        let mut line = Self::default();
        line.add(descent, alike);
        line
    }

    fn add(&mut self, descent: &Descent, alike: [bool; 2]) -> usize {
        let kin = match descent {
            Descent::Mother => Kin::Parent(0),
            Descent::Father => Kin::Parent(1),
            Descent::Cross(mother, father) => {
                let from = [self.add(mother, alike), self.add(father, alike)];
                let bits = [
                    self.meiosis(from[0], Sex::Female, alike),
                    self.meiosis(from[1], Sex::Male, alike),
                ];
                Kin::Child { from, bits }
            }
            Descent::Selfed(plant) => {
                let plant = self.add(plant, alike);
                let bits = [Sex::Female, Sex::Male].map(|sex| self.meiosis(plant, sex, alike));
                Kin::Child {
                    from: [plant, plant],
                    bits,
                }
            }
            Descent::Doubled(plant) => {
                let from = self.add(plant, alike);
                let bit = self.meiosis(from, Sex::Male, alike);
                Kin::Doubled { from, bit }
            }
        };
        if let Kin::Parent(_) = kin
            && let Some(there) = self.kin.iter().position(|known| *known == kin)
        {
            return there;
        }
        self.kin.push(kin);
        self.kin.len() - 1
    }

    fn meiosis(&mut self, of: usize, sex: Sex, alike: [bool; 2]) -> Option<usize> {
        if let Kin::Parent(parent) = self.kin[of]
            && alike[parent]
        {
            return None;
        }
        self.meioses.push(sex);
        Some(self.meioses.len() - 1)
    }

    /// The strands of every plant of the pedigree, as numbers: 0 and 1 the mother's, 2 and 3 the father's.
    pub(super) fn strands(&self, turned: usize) -> Vec<[u8; 2]> {
        let mut strands: Vec<[u8; 2]> = Vec::with_capacity(self.kin.len());
        for kin in &self.kin {
            let pick = |from: usize, bit: Option<usize>| {
                strands[from][bit.map_or(0, |bit| turned >> bit & 1)]
            };
            let here = match kin {
                Kin::Parent(parent) => [2 * *parent as u8, 2 * *parent as u8 + 1],
                Kin::Child { from, bits } => [pick(from[0], bits[0]), pick(from[1], bits[1])],
                Kin::Doubled { from, bit } => [pick(*from, *bit); 2],
            };
            strands.push(here);
        }
        strands
    }

    /// Whether a plant on the way that has a genotype at a locus is out: dead, or not bred from. The two that were
    /// named are there, whatever they are; of the seedlings see [`Self::lives`].
    pub(super) fn is_gone(
        &self,
        at: usize,
        locus: LocusIx,
        pair: Diploid,
        selection: &[Selection],
    ) -> bool {
        let is_named = matches!(self.kin[at], Kin::Parent(_));
        let is_bred_from = at + 1 < self.kin.len();
        !is_named
            && is_bred_from
            && (dies(selection, locus, pair) || is_dropped(selection, locus, pair))
    }

    /// Whether a seedling that has a genotype at a locus lives; a plant that was named does.
    pub(super) fn lives(&self, locus: LocusIx, pair: Diploid, selection: &[Selection]) -> bool {
        let is_named = matches!(self.kin.last(), Some(Kin::Parent(_)));
        is_named || !dies(selection, locus, pair)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn generations_are_read_and_written() {
        for name in ["F1", "F2", "F12", "BC1", "BC3", "BC1F2", "BC2F4", "DH"] {
            assert_eq!(name.parse::<Generation>().unwrap().to_string(), name);
        }
        assert_eq!("bc1f1".parse::<Generation>().unwrap().to_string(), "BC1");
        for bad in [
            "", "F", "F0", "BC", "BC0", "BCF2", "F2F3", "F99", "2", "BC1F", "S1",
        ] {
            assert!(bad.parse::<Generation>().is_err(), "{bad}");
        }
    }

    /// The hybrid bears the seed of a backcross.
    #[test]
    fn seed_is_a_generation_ahead_of_its_plant() {
        let before = |name: &str| {
            let generation = name.parse::<Generation>().unwrap();
            generation.before().map(|one| one.to_string())
        };
        let pairs = [
            ("F1", None),
            ("F2", Some("F1")),
            ("F5", Some("F4")),
            ("BC1", Some("F1")),
            ("BC2F3", Some("BC2F2")),
        ];
        for (name, wanted) in pairs {
            assert_eq!(before(name).as_deref(), wanted, "{name}");
        }
    }

    /// Lines need no meiosis of their own: an F2 has two that matter, a BC1F2 three.
    #[test]
    fn only_meioses_that_matter_are_followed() {
        let count = |name: &str, alike| {
            let descent = name
                .parse::<Generation>()
                .unwrap()
                .descent(Recurrent::Mother);
            Line::of(&descent, alike).meioses.len()
        };
        assert_eq!(count("F1", [true, true]), 0);
        assert_eq!(count("F2", [true, true]), 2);
        assert_eq!(count("F2", [false, true]), 3);
        assert_eq!(count("BC1", [true, true]), 1);
        assert_eq!(count("BC1F2", [true, true]), 3);
    }
}
