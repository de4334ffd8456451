//! Parents: what is stated of them, and what they really are, drawn from what the program believes given the statement.

use locule::records::rows::PlantKind;

use super::dice::Dice;
use super::genes::{Belief, Genes, LEAF, STEM, Stated, recessive_gametes, shows};
use super::world::World;

/// A parent.
#[derive(Debug, Clone)]
pub struct Plant {
    /// Its code.
    pub code: String,
    /// Line, packet or single plant.
    pub kind: PlantKind,
    /// What is stated, gene by gene.
    pub stated: [Stated; 2],
    /// Whether the statement is proven.
    pub proven: bool,
    /// Whether its own leaves were written down as purple, where they were.
    pub look: Option<bool>,
    /// What it really is.
    pub genes: Genes,
}

impl Plant {
    fn inbreeding(&self) -> f64 {
        match self.kind {
            PlantKind::Line => 0.95,
            PlantKind::Packet => 0.8,
            _ => 0.0,
        }
    }

    /// The stated genotype as typed.
    pub fn genotype(&self) -> Option<String> {
        let typed: Vec<String> = [LEAF, STEM]
            .into_iter()
            .filter_map(|gene| self.stated[gene].typed(gene))
            .collect();
        (!typed.is_empty()).then(|| typed.join(" "))
    }

    /// What its statement makes of a gene, trusted as far as statements are.
    fn believed(&self, gene: usize) -> Belief {
        self.stated[gene].believed(self.proven, self.inbreeding())
    }

    /// What its statement makes of a gene, taken as certain.
    pub fn at_its_word(&self, gene: usize) -> Belief {
        self.stated[gene].at_its_word(self.inbreeding())
    }

    /// Whether it is what is stated of it.
    pub fn is_as_stated(&self) -> bool {
        [LEAF, STEM]
            .into_iter()
            .all(|gene| self.stated[gene].fits(self.genes[gene]))
    }
}

/// What is stated of the leaves of each plant of a season, and its kind: two lines of either colour, a hybrid, a packet
/// that looks purple, and one of which nothing is stated.
const CAST: [(PlantKind, Stated); 7] = [
    (PlantKind::Line, Stated::Copies(2)),
    (PlantKind::Line, Stated::Copies(0)),
    (PlantKind::Line, Stated::Copies(2)),
    (PlantKind::Line, Stated::Copies(0)),
    (PlantKind::Single, Stated::Copies(1)),
    (PlantKind::Packet, Stated::Dominant),
    (PlantKind::Line, Stated::Nothing),
];

/// The place of the hybrid in the cast.
pub const HYBRID: usize = 4;
/// The place of a purple line, whose selfed seed makes control pots.
pub const PURPLE: usize = 1;

/// The parents of a season.
pub fn raise(world: &World, key: &[u64]) -> Vec<Plant> {
    let grow = |(at, (kind, leaf)): (usize, &(PlantKind, Stated))| {
        let dice = &mut Dice::of(&[key, &[1, at as u64]].concat());
        let hair = [Stated::Copies(0), Stated::Copies(2), Stated::Nothing];
        let stem = hair[dice.weighted([0.4, 0.4, 0.2].into_iter())];
        let mut plant = Plant {
            code: format!("P{}", at + 1),
            kind: *kind,
            stated: [*leaf, stem],
            proven: world.proven,
            look: None,
            genes: [0, 0],
        };
        plant.genes =
            [LEAF, STEM].map(|gene| draw(dice, plant.stated[gene], &plant.believed(gene)));
        let looked_at = *leaf == Stated::Nothing && dice.chance(0.5);
        let slip = dice.chance(world.misread);
        plant.look = looked_at.then(|| shows(plant.genes, LEAF) != slip);
        plant
    };
    CAST.iter().enumerate().map(grow).collect()
}

/// A genotype from a belief; what fits the statement takes the low end of chance, so that more trust changes no plant
/// that was as stated.
fn draw(dice: &mut Dice, stated: Stated, belief: &Belief) -> usize {
    let mut left = dice.unit();
    let fitting = (0..3).filter(|g| stated.fits(*g));
    let order: Vec<usize> = fitting.chain((0..3).filter(|g| !stated.fits(*g))).collect();
    for g in &order {
        left -= belief[*g];
        if left < 0.0 {
            return *g;
        }
    }
    *order.last().expect("three genotypes")
}

/// The share of recessive alleles among strangers: the mean over the parents by what is believed of them, with one
/// founder at even shares counted in.
pub fn strangers(plants: &[Plant]) -> [f64; 2] {
    [LEAF, STEM].map(|gene| {
        let known = plants
            .iter()
            .map(|plant| recessive_gametes(&plant.believed(gene)));
        (known.sum::<f64>() + 0.5) / (plants.len() as f64 + 1.0)
    })
}
