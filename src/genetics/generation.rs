//! What breeders call a plant by its descent: F1, F2, BC1, BC1F2, F2:3, three-way cross.
//!
//! The names follow Acquaah, Principles of Plant Genetics and Breeding: F1 is the first cross of two parents; F2
//! an F1 selfed, or crossed with another F1 of the same two parents; BC1 an F1 crossed back with one of them; F2:3
//! the F3 family of one F2 plant. Two different hybrids crossed are a three- or four-way cross, not an F2. S0 and
//! S1 have two rival meanings and are not used. Codes and rows are not known here; the pedigree of a ledger asks.

use std::collections::BTreeSet;

/// From so many selfings on a plant counts as a parent of its own: an F6 has 1/32 of its loci still open, less
/// than a line is taken to have (design choice).
pub const FIXED_AFTER: u32 = 5;

/// Whether a parent breeds true.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ParentFixed {
    /// It is taken to.
    Yes,
    /// It does not.
    No,
    /// Nobody knows.
    Unknown,
}

/// A plant as the naming of generations sees it: a parent to start from, or the offspring of two earlier plants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// A line, packet or plant that names begin with, whatever is known of its own descent.
    Parent,
    /// The offspring of a mother and a father, as earlier places; of one plant where both are the same.
    Offspring(usize, usize),
}

/// What stands at the beginning of a plant's selfings.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Base {
    /// A parent.
    Parent(usize),
    /// A single cross of two parents, the lower place first.
    Single([usize; 2]),
    /// A single cross crossed back.
    Backcross {
        /// How often.
        times: u32,
        /// The parent it was crossed back with.
        recurrent: usize,
        /// The other parent.
        donor: usize,
    },
    /// A cross of hybrids of three parents in all.
    ThreeWay(BTreeSet<usize>),
    /// A cross of two hybrids of four parents in all.
    FourWay(BTreeSet<usize>),
    /// A cross that has no usual name.
    Other(BTreeSet<usize>),
}

/// A plant's generation.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Generation {
    /// What stands at its beginning.
    pub base: Base,
    /// How often it was selfed since.
    pub selfings: u32,
}

impl Generation {
    const fn new(base: Base) -> Self {
        Self { base, selfings: 0 }
    }

    /// The usual name of a plant: `F1`, `BC1F2`; nothing for a parent, or where there is none.
    #[must_use]
    pub fn name(&self) -> Option<String> {
        let filial = self.selfings + 1;
        match (&self.base, self.selfings) {
            (Base::Parent(_) | Base::Other(_), _) => None,
            (Base::Single(_), _) => Some(format!("F{filial}")),
            (Base::Backcross { times, .. }, 0) => Some(format!("BC{times}")),
            (Base::Backcross { times, .. }, _) => Some(format!("BC{times}F{filial}")),
            (Base::ThreeWay(_), 0) => Some("three-way cross".to_owned()),
            (Base::ThreeWay(_), _) => Some(format!("F{filial} of a three-way cross")),
            (Base::FourWay(_), 0) => Some("four-way cross".to_owned()),
            (Base::FourWay(_), _) => Some(format!("F{filial} of a four-way cross")),
        }
    }

    /// The name of a family, all from the selfed seed of one plant: `F2:3`, `BC1F2:3`; nothing where it is not the
    /// offspring of one plant of an F2 or later, which makes no family apart.
    #[must_use]
    pub fn family(&self) -> Option<String> {
        let (plant, seed) = (self.selfings, self.selfings + 1);
        match &self.base {
            Base::Single(_) if plant > 1 => Some(format!("F{plant}:{seed}")),
            Base::Backcross { times, .. } if plant > 1 => Some(format!("BC{times}F{plant}:{seed}")),
            _ => None,
        }
    }

    /// The parents that it begins with.
    #[must_use]
    pub fn parents(&self) -> BTreeSet<usize> {
        match &self.base {
            Base::Parent(at) => BTreeSet::from([*at]),
            Base::Single(pair) => BTreeSet::from(*pair),
            Base::Backcross {
                recurrent, donor, ..
            } => BTreeSet::from([*recurrent, *donor]),
            Base::ThreeWay(all) | Base::FourWay(all) | Base::Other(all) => all.clone(),
        }
    }
}

/// The expected share of the recurrent parent after some backcrosses: `1 - (1/2)^(n + 1)` (textbook; half of what
/// is left of the donor goes with each cross).
#[must_use]
pub fn recurrent_share(times: u32) -> f64 {
    1.0 - 0.5_f64.powf(f64::from(times) + 1.0)
}

/// The generation of each plant, in order; parents come before their offspring.
#[must_use]
pub fn generations(steps: &[Step]) -> Vec<Generation> {
    let mut found: Vec<Generation> = Vec::with_capacity(steps.len());
    for (at, step) in steps.iter().enumerate() {
        found.push(match step {
            Step::Parent => Generation::new(Base::Parent(at)),
            Step::Offspring(mother, father) if mother == father => {
                let mut selfed = found[*mother].clone();
                selfed.selfings += 1;
                selfed
            }
            Step::Offspring(mother, father) => crossed(
                &as_a_parent(&found[*mother], *mother),
                &as_a_parent(&found[*father], *father),
            ),
        });
    }
    found
}

/// A plant selfed long enough is a parent of its own; selfed seed of a parent is that parent again.
fn as_a_parent(generation: &Generation, at: usize) -> Generation {
    match generation.base {
        Base::Parent(parent) => Generation::new(Base::Parent(parent)),
        _ if generation.selfings >= FIXED_AFTER => Generation::new(Base::Parent(at)),
        _ => generation.clone(),
    }
}

fn crossed(one: &Generation, other: &Generation) -> Generation {
    let all: BTreeSet<usize> = one.parents().union(&other.parents()).copied().collect();
    let base = match (&one.base, &other.base) {
        (Base::Parent(one), Base::Parent(other)) if one == other => Base::Parent(*one),
        (Base::Parent(one), Base::Parent(other)) => {
            Base::Single([*one.min(other), *one.max(other)])
        }
        (Base::Parent(recurrent), _) => with_parent(*recurrent, other, all),
        (_, Base::Parent(recurrent)) => with_parent(*recurrent, one, all),
        (Base::Single(pair), Base::Single(same)) if pair == same => {
            if one.selfings + other.selfings > 0 {
                Base::Other(all)
            } else {
                // Two plants of one first cross: what they give is what one of them selfed gives.
                return Generation {
                    base: Base::Single(*pair),
                    selfings: 1,
                };
            }
        }
        (Base::Single(_), Base::Single(_)) if all.len() == 3 => Base::ThreeWay(all),
        (Base::Single(_), Base::Single(_)) => Base::FourWay(all),
        _ => Base::Other(all),
    };
    Generation::new(base)
}

fn with_parent(parent: usize, hybrid: &Generation, all: BTreeSet<usize>) -> Base {
    let is_first = hybrid.selfings == 0;
    match &hybrid.base {
        Base::Single([one, other]) if is_first && [*one, *other].contains(&parent) => {
            Base::Backcross {
                times: 1,
                recurrent: parent,
                donor: if *one == parent { *other } else { *one },
            }
        }
        Base::Backcross {
            times,
            recurrent,
            donor,
        } if is_first && *recurrent == parent => Base::Backcross {
            times: times + 1,
            recurrent: *recurrent,
            donor: *donor,
        },
        Base::Single(_) if all.len() == 3 => Base::ThreeWay(all),
        _ => Base::Other(all),
    }
}

#[cfg(test)]
mod tests {
    use super::Step::{Offspring, Parent};
    use super::*;

    fn named(steps: &[Step]) -> Vec<Option<String>> {
        generations(steps).iter().map(Generation::name).collect()
    }

    fn last(steps: &[Step]) -> Generation {
        generations(steps).pop().unwrap()
    }

    /// Acquaah, Principles of Plant Genetics and Breeding, on the notation of generations.
    #[test]
    fn generations_have_their_usual_names() {
        let names = named(&[
            Parent,
            Parent,
            Offspring(0, 1),
            Offspring(2, 2),
            Offspring(3, 3),
            Offspring(0, 2),
            Offspring(5, 0),
            Offspring(5, 5),
            Offspring(1, 0),
            Offspring(2, 8),
            Offspring(3, 4),
            Offspring(5, 1),
        ]);
        let wanted = [
            None,
            None,
            Some("F1"),
            Some("F2"),
            Some("F3"),
            Some("BC1"),
            Some("BC2"),
            Some("BC1F2"),
            Some("F1"),
            Some("F2"),
            None,
            None,
        ];
        assert_eq!(names, wanted.map(|name| name.map(str::to_owned)));
    }

    #[test]
    fn two_different_hybrids_make_no_f2() {
        let four = [
            Parent,
            Parent,
            Parent,
            Parent,
            Offspring(0, 1),
            Offspring(2, 3),
        ];
        let with = |step| last(&[&four[..], &[step]].concat());
        assert_eq!(
            with(Offspring(4, 5)).name().as_deref(),
            Some("four-way cross")
        );
        assert_eq!(
            with(Offspring(4, 2)).name().as_deref(),
            Some("three-way cross")
        );
        let shared = [Parent, Parent, Parent, Offspring(0, 1), Offspring(0, 2)];
        let three = last(&[&shared[..], &[Offspring(3, 4)]].concat());
        assert_eq!(three.base, Base::ThreeWay(BTreeSet::from([0, 1, 2])));
    }

    #[test]
    fn a_family_is_named_by_the_plant_it_came_from() {
        let f4 = last(&[
            Parent,
            Parent,
            Offspring(0, 1),
            Offspring(2, 2),
            Offspring(3, 3),
            Offspring(4, 4),
        ]);
        assert_eq!(f4.family().as_deref(), Some("F3:4"));
        let f2 = last(&[Parent, Parent, Offspring(0, 1), Offspring(2, 2)]);
        assert_eq!(f2.family(), None, "all F1 plants are alike");
        let bc = last(&[
            Parent,
            Parent,
            Offspring(0, 1),
            Offspring(2, 0),
            Offspring(3, 3),
            Offspring(4, 4),
        ]);
        assert_eq!(bc.family().as_deref(), Some("BC1F2:3"));
    }

    #[test]
    fn a_plant_selfed_to_an_f6_starts_anew() {
        let mut steps = vec![Parent, Parent, Parent, Offspring(0, 1)];
        for at in 3..7 {
            steps.push(Offspring(at, at));
        }
        steps.push(Offspring(7, 2));
        assert_eq!(last(&steps).name().as_deref(), Some("three-way cross"));
        steps.pop();
        steps.extend([Offspring(7, 7), Offspring(8, 2)]);
        assert_eq!(last(&steps).base, Base::Single([2, 8]));
    }

    #[test]
    fn the_recurrent_parent_comes_back_by_halves() {
        let shares: Vec<f64> = (1..=3).map(recurrent_share).collect();
        assert_eq!(shares, [0.75, 0.875, 0.9375]);
    }
}
