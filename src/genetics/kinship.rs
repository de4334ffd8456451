//! Inbreeding, kinship and founder shares of plants whose descent is known.
//!
//! The kinship of two plants is the probability that an allele drawn from one and an allele drawn from the other
//! are copies of one allele of a founder; the inbreeding of a plant is the kinship of its parents (Malecot 1948;
//! Wright 1922, American Naturalist 56:330-338, by counting paths). It is worked out here by the tabular method
//! (Emik & Terrill 1949, Journal of Heredity 40:51-55), parents before offspring; all sources from memory.
//! Founders are taken as unrelated, each with an inbreeding of its own. Codes and rows are not known here; the
//! pedigree of a ledger asks.

use thiserror::Error;

/// The most plants that are worked out together: the table then holds 12.5 million numbers (100 MB).
pub const MOST_MEMBERS: usize = 5_000;

/// One plant in a descent.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Member {
    /// Mother and father as places in the descent; nothing for a founder.
    pub parents: Option<(usize, usize)>,
    /// The share of its heterozygous loci that were fixed since the cross it comes from; for a founder its
    /// inbreeding. 0 for a plant of the cross itself, near 1 for a line out of it.
    pub fixed: f64,
}

/// Plants with their parents, parents first.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Descent {
    members: Vec<Member>,
}

/// Why a descent cannot be worked out.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum DescentError {
    /// A parent that does not stand earlier.
    #[error("a parent does not stand before its offspring")]
    LaterParent,
    /// A share of fixed loci that is no probability.
    #[error("{0} is no probability")]
    NoProbability(f64),
    /// Too many plants for one table.
    #[error("kinship of {0} plants needs a table of {cells} numbers; at most {MOST_MEMBERS} plants are worked out together", cells = .0 * (.0 + 1) / 2)]
    TooMany(usize),
}

impl Descent {
    /// Adds a plant and gives its place.
    ///
    /// # Errors
    /// [`DescentError`] where a parent does not stand earlier, or `fixed` is no probability.
    pub fn push(&mut self, member: Member) -> Result<usize, DescentError> {
        let place = self.members.len();
        if !(0.0..=1.0).contains(&member.fixed) {
            return Err(DescentError::NoProbability(member.fixed));
        }
        match member.parents {
            Some((mother, father)) if mother.max(father) >= place => Err(DescentError::LaterParent),
            _ => {
                self.members.push(member);
                Ok(place)
            }
        }
    }

    /// The plants, parents first.
    #[must_use]
    pub fn members(&self) -> &[Member] {
        &self.members
    }

    /// The kinship of every two plants.
    ///
    /// With parents m and f of the later plant i: `k(i, j) = [k(m, j) + k(f, j)]/2` for every earlier j, and
    /// `k(i, i) = (1 + F_i)/2` with `F_i = 1 - (1 - s_i)(1 - k(m, f))`, s_i being the share fixed since the cross: t
    /// selfings leave (1/2)^t of the heterozygous loci (textbook). Sums of powers of two, exact where they fit.
    ///
    /// # Errors
    /// [`DescentError::TooMany`] with the size.
    pub fn kinship(&self) -> Result<Kinship, DescentError> {
        let size = self.members.len();
        if size > MOST_MEMBERS {
            return Err(DescentError::TooMany(size));
        }
        let mut table = Kinship {
            cells: Vec::with_capacity(size * (size + 1) / 2),
        };
        for (place, member) in self.members.iter().enumerate() {
            for other in 0..place {
                let cell = member.parents.map_or(0.0, |(mother, father)| {
                    (table.of(mother, other) + table.of(father, other)) / 2.0
                });
                table.cells.push(cell);
            }
            let before = member
                .parents
                .map_or(0.0, |(mother, father)| table.of(mother, father));
            let inbreeding = 1.0 - (1.0 - member.fixed) * (1.0 - before);
            table.cells.push((1.0 + inbreeding) / 2.0);
        }
        Ok(table)
    }

    /// The expected share of each founder in a plant: half its mother's and half its father's shares (textbook).
    /// Founders in the order of their places, those without a share left out.
    #[must_use]
    pub fn founder_shares(&self, place: usize) -> Vec<(usize, f64)> {
        let mut share = vec![0.0; self.members.len()];
        share[place] = 1.0;
        for at in (0..=place).rev() {
            if let Some((mother, father)) = self.members[at].parents {
                let half = share[at] / 2.0;
                share[at] = 0.0;
                share[mother] += half;
                share[father] += half;
            }
        }
        let shares = share.into_iter().enumerate();
        shares.filter(|(_, share)| *share > 0.0).collect()
    }
}

/// The kinship of every two plants of a descent.
#[derive(Clone, Debug, PartialEq)]
pub struct Kinship {
    /// The lower triangle, row by row.
    cells: Vec<f64>,
}

impl Kinship {
    /// The kinship of two plants, or of a plant with itself.
    #[must_use]
    pub fn of(&self, one: usize, other: usize) -> f64 {
        let (low, high) = (one.min(other), one.max(other));
        self.cells[high * (high + 1) / 2 + low]
    }

    /// The inbreeding coefficient of a plant: `F = 2 k(i, i) - 1`.
    #[must_use]
    pub fn inbreeding(&self, place: usize) -> f64 {
        2.0 * self.of(place, place) - 1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn founder(fixed: f64) -> Member {
        Member {
            parents: None,
            fixed,
        }
    }

    #[test]
    fn what_is_no_descent_is_refused() {
        let mut descent = Descent::default();
        assert_eq!(
            descent.push(founder(1.5)),
            Err(DescentError::NoProbability(1.5))
        );
        let own = Member {
            parents: Some((0, 0)),
            fixed: 0.0,
        };
        assert_eq!(descent.push(own), Err(DescentError::LaterParent));
        assert_eq!(descent.push(founder(0.0)), Ok(0));
        assert_eq!(descent.push(own), Ok(1));
        for _ in 0..MOST_MEMBERS {
            descent.push(founder(0.0)).unwrap();
        }
        let too_many = descent.kinship().unwrap_err();
        assert_eq!(too_many, DescentError::TooMany(MOST_MEMBERS + 2));
        assert!(
            too_many.to_string().contains("12512503 numbers"),
            "{too_many}"
        );
    }
}
