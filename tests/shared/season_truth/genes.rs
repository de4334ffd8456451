//! Two genes: leaf colour and stem hair; how they are stated, what is believed of them, and how they are passed on.
//!
//! They lie on different chromosomes here, which is what the diagnosis takes them for.

use super::dice::Dice;

/// The place of leaf colour among the genes.
pub const LEAF: usize = 0;
/// The place of stem hair.
pub const STEM: usize = 1;

/// Copies of the recessive allele, 0 to 2, of leaf colour and stem hair.
pub type Genes = [usize; 2];

/// Probabilities of 0, 1 and 2 copies of the recessive allele.
pub type Belief = [f64; 3];

/// What is stated of one gene of a plant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stated {
    /// Nothing.
    Nothing,
    /// So many copies of the recessive allele.
    Copies(usize),
    /// At least one dominant allele: `A/_`.
    Dominant,
}

impl Stated {
    /// As it is typed.
    pub fn typed(self, gene: usize) -> Option<String> {
        let (dominant, recessive) = [("A", "a"), ("H", "h")][gene];
        match self {
            Self::Nothing => None,
            Self::Copies(0) => Some(format!("{dominant}/{dominant}")),
            Self::Copies(1) => Some(format!("{dominant}/{recessive}")),
            Self::Copies(_) => Some(format!("{recessive}/{recessive}")),
            Self::Dominant => Some(format!("{dominant}/_")),
        }
    }

    /// Whether a genotype is what is stated.
    pub const fn fits(self, copies: usize) -> bool {
        match self {
            Self::Nothing => true,
            Self::Copies(stated) => stated == copies,
            Self::Dominant => copies < 2,
        }
    }

    /// How far the statement is trusted.
    const fn trust(self, proven: bool) -> f64 {
        match self {
            Self::Copies(2) => 0.999,
            _ if proven => 0.999,
            _ => 0.99,
        }
    }

    /// What is believed of a plant of this inbreeding of which this is stated: what fits has the trust, in proportion
    /// to the founder's prior, the rest is even.
    pub fn believed(self, proven: bool, inbreeding: f64) -> Belief {
        self.weighed(self.trust(proven), inbreeding)
    }

    /// What would be so if the statement were certain.
    pub fn at_its_word(self, inbreeding: f64) -> Belief {
        self.weighed(1.0, inbreeding)
    }

    fn weighed(self, trust: f64, inbreeding: f64) -> Belief {
        let prior = founder(inbreeding);
        if self == Self::Nothing {
            return prior;
        }
        let fitting: f64 = (0..3).filter(|g| self.fits(*g)).map(|g| prior[g]).sum();
        let others = (0..3).filter(|g| !self.fits(*g)).count() as f64;
        std::array::from_fn(|g| {
            if self.fits(g) {
                trust * prior[g] / fitting
            } else {
                (1.0 - trust) / others
            }
        })
    }
}

/// Wright's genotype shares of a founder at allele shares of one half.
fn founder(inbreeding: f64) -> Belief {
    let both = 0.25 + 0.25 * inbreeding;
    [both, 0.5 * (1.0 - inbreeding), both]
}

/// The share of recessive alleles among a plant's gametes.
pub fn recessive_gametes(belief: &Belief) -> f64 {
    belief[1] / 2.0 + belief[2]
}

/// P(two copies of the recessive allele) among the seed of a pair, or of a self.
pub fn recessive_seed(mother: &Belief, father: Option<&Belief>) -> f64 {
    match father {
        Some(father) => recessive_gametes(mother) * recessive_gametes(father),
        None => mother[1] / 4.0 + mother[2],
    }
}

/// Whether the dominant look shows: purple leaves, hairy stem.
pub const fn shows(genes: Genes, gene: usize) -> bool {
    genes[gene] < 2
}

/// A grain or egg of a plant: recessive or not, gene by gene.
pub fn gamete(dice: &mut Dice, genes: Genes) -> Genes {
    genes.map(|copies| usize::from(dice.chance(copies as f64 / 2.0)))
}

/// A gamete of the unknown.
pub fn stranger(dice: &mut Dice, recessive_shares: [f64; 2]) -> Genes {
    recessive_shares.map(|share| usize::from(dice.chance(share)))
}

/// The seed of two gametes.
pub fn seed(egg: Genes, grain: Genes) -> Genes {
    std::array::from_fn(|gene| egg[gene] + grain[gene])
}
