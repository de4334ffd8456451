//! Which of two plants to take as mother: what the seedling markers reveal of accidents, either way round.
//!
//! As the visibility of a batch, before there is one: every plant at its word, where it has none by what its own looks
//! say, late classes shown, nothing misread. Asked by `plan which-mother`.

use crate::diagnosis::context::Context;
use crate::diagnosis::counts::plant_at_word;
use crate::diagnosis::genotypes::parents_believed;
use crate::genetics::descent::Descent;
use crate::genetics::expect::{Breeding, ExpectError, Parent, Shares, breed, founder_genotypes};
use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::rule::GeneModel;
use crate::genetics::segregation::AtLocus;
use crate::records::descent::makes_no_pollen;

/// The share of off-types of each origin that shows a class which the label does not allow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Revealed {
    /// Of the mother's selfs; nothing where she makes no pollen.
    pub selfs: Option<f64>,
    /// Of seed by strange pollen.
    pub pollen: f64,
    /// Of strange seed.
    pub seed: f64,
    /// Of all three, by the weights of the starting beliefs for emasculated flowers.
    pub all: f64,
}

/// What one trait shows of a cross.
#[derive(Debug, Clone, PartialEq)]
pub struct TraitReveals {
    /// The trait, by its place.
    pub place: usize,
    /// Whether it only grades what a plainer one shows: it counts for itself, not among all together.
    pub is_graded: bool,
    /// The classes that the label allows.
    pub allowed: Vec<usize>,
    /// What it reveals.
    pub revealed: Revealed,
}

/// One direction of a cross.
#[derive(Debug, Clone, PartialEq)]
pub struct Direction {
    /// The mother.
    pub mother: i64,
    /// The father.
    pub father: i64,
    /// Trait by trait, those that reveal nothing included.
    pub traits: Vec<TraitReveals>,
    /// All together, those that only grade left out.
    pub together: Revealed,
    /// Whether the mother makes no pollen.
    pub is_mother_pollenless: bool,
    /// Whether the father makes none, so that this direction cannot be.
    pub is_father_pollenless: bool,
}

/// Both directions, by the seedling traits that are switched on: the first plant as mother, then the other.
///
/// # Errors
/// [`ExpectError`].
pub fn directions(
    context: &Context<'_>,
    one: i64,
    other: i64,
) -> Result<[Direction; 2], ExpectError> {
    let looks = context.looks;
    let is_marker = |place: &usize| {
        let look = &looks.traits[*place];
        look.switched_on && look.stage == "seedling"
    };
    let places: Vec<usize> = (0..looks.traits.len()).filter(is_marker).collect();
    let loci = looks.loci_read(&places);
    let [first, second] = [one, other].map(|plant| (plant, as_known(context, plant, &loci)));
    Ok([
        direction(context, &first, &second, &places)?,
        direction(context, &second, &first, &places)?,
    ])
}

/// A plant at its word; at loci where it has none and was scored itself by what is recorded of it, where that can be
/// worked out.
fn as_known(context: &Context<'_>, plant: i64, loci: &[LocusIx]) -> Parent {
    let mut known = plant_at_word(context, plant, loci);
    let was_scored = context
        .index
        .facts
        .reading
        .iter()
        .any(|row| row.plant_id == plant);
    for (locus, at) in &mut known.loci {
        if let (true, AtLocus::Weighted(_)) = (was_scored, &*at)
            && let Some(weights) = believed_at(context, plant, *locus)
        {
            *at = AtLocus::Weighted(weights);
        }
    }
    known
}

/// What a plant may be at one locus, by everything recorded.
fn believed_at(context: &Context<'_>, plant: i64, locus: LocusIx) -> Option<Vec<(Diploid, f64)>> {
    let pairs = parents_believed(context, (plant, plant), &[locus]).ok()?;
    let own = pairs.into_iter().map(|(own, _, p)| match own.as_slice() {
        [AtLocus::Known(pair)] => Some((*pair, p)),
        _ => None,
    });
    own.collect::<Option<Vec<_>>>()
        .filter(|all| !all.is_empty())
}

fn direction(
    context: &Context<'_>,
    (mother, own): &(i64, Parent),
    (father, other): &(i64, Parent),
    places: &[usize],
) -> Result<Direction, ExpectError> {
    let looks = context.looks;
    let seeds = Seeds::of(context, *mother, [own, other], places)?;
    let allowed: Vec<Vec<bool>> = (0..places.len())
        .map(|at| {
            seeds.allowed(
                at,
                looks.traits[places[at]].classes.len(),
                context.beliefs.allowed,
            )
        })
        .collect();
    let grades = |at: &usize| {
        let look = &looks.traits[places[*at]];
        places
            .iter()
            .any(|other| look.is_finer_than(&looks.traits[*other]))
    };
    let all: Vec<usize> = (0..places.len()).collect();
    let plain: Vec<usize> = all.iter().copied().filter(|at| !grades(at)).collect();
    let traits = all.iter().map(|at| TraitReveals {
        place: places[*at],
        is_graded: grades(at),
        allowed: (0..allowed[*at].len())
            .filter(|class| allowed[*at][*class])
            .collect(),
        revealed: seeds.revealed(context, &[*at], &allowed),
    });
    Ok(Direction {
        mother: *mother,
        father: *father,
        traits: traits.collect(),
        together: seeds.revealed(context, &plain, &allowed),
        is_mother_pollenless: makes_no_pollen(context.index.facts, *mother),
        is_father_pollenless: makes_no_pollen(context.index.facts, *father),
    })
}

/// The classes of the seed that a label and accidents bring, of all traits jointly.
struct Seeds {
    label: Shares,
    selfs: Option<Shares>,
    pollen: Shares,
    strange: Shares,
}

impl Seeds {
    fn of(
        context: &Context<'_>,
        mother: i64,
        [own, other]: [&Parent; 2],
        places: &[usize],
    ) -> Result<Self, ExpectError> {
        let looks = context.looks;
        let loci = looks.loci_read(places);
        let models: Vec<&GeneModel> = places
            .iter()
            .map(|place| &looks.traits[*place].model)
            .collect();
        let arrangement = looks.linkage.arrange(&loci, false, &looks.book)?;
        let stranger = stranger(context, &loci);
        let (cross, selfed) = (Descent::first_cross(), Descent::self_of_mother());
        let seed = |mother: &Parent, father: &Parent, descent: &Descent| {
            let breeding = Breeding {
                mother,
                father,
                descent,
                arrangement: &arrangement,
                selection: &[],
            };
            breed(&breeding, &models)
        };
        let selfs = match makes_no_pollen(context.index.facts, mother) {
            true => None,
            false => Some(seed(own, own, &selfed)?),
        };
        Ok(Self {
            label: seed(own, other, &cross)?,
            selfs,
            pollen: seed(own, &stranger, &cross)?,
            strange: seed(&stranger, &stranger, &cross)?,
        })
    }

    /// Which classes of a trait the label allows: those with at least a chance.
    fn allowed(&self, at: usize, classes: usize, least: f64) -> Vec<bool> {
        let mut chances = vec![0.0; classes];
        for (shown, p) in &self.label.classes {
            chances[shown[at]] += p;
        }
        chances.into_iter().map(|p| p >= least).collect()
    }

    fn revealed(&self, context: &Context<'_>, ats: &[usize], allowed: &[Vec<bool>]) -> Revealed {
        let shows = |shares: &Shares| -> f64 {
            let hits = shares
                .classes
                .iter()
                .filter(|(shown, _)| ats.iter().any(|at| !allowed[*at][shown[*at]]));
            hits.map(|(_, p)| p).sum::<f64>().min(1.0)
        };
        let beliefs = context.beliefs;
        let selfs = self.selfs.as_ref().map(&shows);
        let (pollen, seed) = (shows(&self.pollen), shows(&self.strange));
        let weights = [
            selfs.map_or(0.0, |_| beliefs.self_emasculated),
            beliefs.unknown_pollen,
            beliefs.unknown_seed,
        ];
        let total: f64 = weights.iter().sum();
        let each = weights
            .into_iter()
            .zip([selfs.unwrap_or(0.0), pollen, seed]);
        let sum: f64 = each.map(|(weight, p)| weight * p).sum();
        Revealed {
            selfs,
            pollen,
            seed,
            all: if total > 0.0 { sum / total } else { 0.0 },
        }
    }
}

/// A plant whose two grains are drawn at the allele shares.
fn stranger(context: &Context<'_>, loci: &[LocusIx]) -> Parent {
    let at = |locus: &LocusIx| {
        let shares = context.plants.allele_shares(*locus);
        (*locus, AtLocus::Weighted(founder_genotypes(shares, 0.0)))
    };
    Parent {
        loci: loci.iter().map(at).collect(),
        ..Parent::default()
    }
}
