//! Which two of a ledger's parents to cross, so that looks come together in one plant.
//!
//! Every pair is tried, each way round: the F1, the F1 selfed, the F1 crossed back to either; and every parent selfed.
//! A plan is worth the seeds of its last generation and the seasons it takes; the seed of its F1 and the test of which plant
//! breeds true stand beside. What the parents are comes from everything
//! recorded of them; what is not settled is weighed, plan by plan. Places, money and what else a grower wants of a parent
//! are not known here. Asked by `plan cross`.

mod enough;
mod field;
mod impossible;
mod order;
mod reasons;
mod seed;
mod steps;
mod stock;

use std::collections::{BTreeMap, HashMap};

use super::germination::{Counted, Counts, Sown};
use crate::diagnosis::context::Context;
use crate::diagnosis::genotypes::GenotypeError;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::species::Crossing;
use crate::stats::begun::Begun;
use crate::stats::power::TrialsNeeded;

pub use enough::{Seen, Spread, fewest};
pub use impossible::{Lack, NoCross};
pub use reasons::{Bringing, By, Linked, Settle, Unsettled, Why};
pub use seed::Scheme;
pub use steps::{Sprouting, Steps, Test};

use enough::seen;
use field::Field;
use order::{Ranked, first};
use seed::Shares;
use stock::{Flock, flocks};

/// Most traits asked of one plan.
pub const MOST_TRAITS: usize = 4;

/// From this probability on a genotype is taken as settled (design choice).
pub const SETTLED: f64 = 0.95;

/// A plan that can give what is wanted with less than this is none (design choice).
const WORTH_TRYING: f64 = 0.01;

/// A parent that is as wanted with this or more is worth a look before anything is crossed (design choice).
const WORTH_A_LOOK: f64 = 0.05;

/// A look that is wanted: the trait by its place among the ledger's, and the class.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ask {
    /// The trait.
    pub look: usize,
    /// The class.
    pub class: usize,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// The looks wanted, each of another trait.
    pub asks: Vec<Ask>,
    /// Whether a plant is only wanted if its selfed seed is as wanted too, all of it.
    pub fixed: bool,
    /// With what chance one plant at least is to be as wanted.
    pub confidence: f64,
    /// How much of the seed comes up, where it was typed; else by the ledger's own counts, and where there are none all.
    pub germination: Option<Begun>,
    /// How much of seed crossed by hand is of the label.
    pub true_share: f64,
    /// The day: who is dead by then is no parent.
    pub today: Day,
}

/// One plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// What is done.
    pub scheme: Scheme,
    /// Plants that can be the mother, all alike in what matters; of a self the plant.
    pub mothers: Vec<i64>,
    /// Plants that can be the father, likewise.
    pub fathers: Vec<i64>,
    /// Seeds of the last generation; nothing where what is not settled leaves too little hope.
    pub need: Option<TrialsNeeded>,
    /// How likely the parents are such that any seed can be as wanted.
    pub hope: f64,
    /// The share of seed as wanted.
    pub share: Seen,
    /// How readily mother and father cross.
    pub crossing: Crossing,
    /// How it stands with the other way round.
    pub turned: Turned,
    /// How its seed does.
    pub sprouting: Sprouting,
    /// The counts by which that of its last generation comes up; nothing where it was typed, or nobody counted any.
    pub counts: Option<Counts>,
}

/// How it stands with mother and father in each other's place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turned {
    /// It is as good.
    AsGood,
    /// It sets less readily.
    Harder,
    /// It takes more seeds.
    MoreSeeds,
    /// It cannot be, for pollen is missing.
    NoPollen,
}

impl Plan {
    /// The plant named as mother.
    #[must_use]
    pub fn mother(&self) -> i64 {
        self.mothers[0]
    }

    /// The plant named as father; of a self the same.
    #[must_use]
    pub fn father(&self) -> i64 {
        self.fathers[0]
    }
}

/// What was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// Parents that are as wanted already.
    pub have: Vec<i64>,
    /// Parents that may be, with how likely that is.
    pub may_have: Vec<(i64, f64)>,
    /// Plans, the best first; none where a parent is as wanted already.
    pub plans: Vec<Plan>,
    /// The reasons of each.
    pub why: Vec<Why>,
    /// What goes before and after each.
    pub steps: Vec<Steps>,
    /// How many plans there are beside them.
    pub beside: usize,
    /// What is not settled of their parents and matters, and what would settle it.
    pub unsettled: Vec<Unsettled>,
    /// Plants of which nothing explains what is recorded.
    pub unexplained: Vec<i64>,
    /// Kept plants that are gone.
    pub gone: Vec<i64>,
    /// How many parents were looked at.
    pub parents: usize,
}

/// The best plans, at most `top`.
///
/// # Errors
/// [`NoCross`] where no plan can give what is wanted, with what makes it so, or the exact answer is too large.
pub fn plan_crosses(
    context: &Context<'_>,
    question: &Question,
    top: usize,
) -> Result<Found, NoCross> {
    let facts = context.index.facts;
    let loci = field::loci_of(context, &question.asks);
    let context = &Context::asking(context.looks, context.index, context.beliefs, &loci)
        .map_err(GenotypeError::from)?;
    let mut field = Field::new(context, &question.asks, question.fixed)?;
    let crowd = flocks(context, &mut field, question.today)?;
    let (mut have, mut may_have) = (Vec::new(), Vec::new());
    for flock in &crowd.flocks {
        match field.has_it(flock) {
            p if p >= SETTLED => have.extend(&flock.plants),
            p if p >= WORTH_A_LOOK => may_have.extend(flock.plants.iter().map(|one| (*one, p))),
            _ => {}
        }
    }
    let all = match have.is_empty() {
        true => Planner::new(facts, &field, &crowd.flocks, question).all(),
        false => Vec::new(),
    };
    if have.is_empty() && all.is_empty() {
        return Err(impossible::why(context, question, &crowd.flocks));
    }
    let beside = all.len().saturating_sub(top);
    let best: Vec<Ranked> = all.into_iter().take(top).collect();
    let pair = |one: &Ranked| [&crowd.flocks[one.pair[0]], &crowd.flocks[one.pair[1]]];
    Ok(Found {
        have,
        may_have,
        why: (best.iter())
            .map(|one| field.why(context, one.plan.scheme, pair(one)))
            .collect(),
        steps: (best.iter())
            .map(|one| {
                let plan = &one.plan;
                let steps = field.steps(plan, pair(one), question.confidence);
                Steps {
                    test: steps.test.filter(|_| question.fixed),
                    ..steps
                }
            })
            .collect(),
        unsettled: field.unsettled(context, &best, &crowd.flocks, question.confidence),
        plans: best.into_iter().map(|one| one.plan).collect(),
        beside,
        unexplained: crowd.unexplained,
        gone: crowd.gone,
        parents: crowd.flocks.iter().map(|flock| flock.plants.len()).sum(),
    })
}

/// Goes through every pair.
struct Planner<'a> {
    facts: &'a Facts,
    flocks: &'a [Flock],
    shares: Shares<'a>,
    question: &'a Question,
    crossings: BTreeMap<(String, String), Crossing>,
    counted: Counted,
    counts: HashMap<(i64, bool), Option<Counts>>,
}

impl<'a> Planner<'a> {
    fn new(
        facts: &'a Facts,
        field: &'a Field,
        flocks: &'a [Flock],
        question: &'a Question,
    ) -> Self {
        Self {
            facts,
            flocks,
            shares: Shares::new(field),
            question,
            crossings: BTreeMap::new(),
            counted: Counted::of(facts, question.today),
            counts: HashMap::new(),
        }
    }

    /// Every plan that is worth a thought, the best first: of the two ways round the better, and none that another of
    /// the same parents spares.
    fn all(mut self) -> Vec<Ranked> {
        let mut found = Vec::new();
        for mother in 0..self.flocks.len() {
            found.extend(self.plan(Scheme::Selfed, [mother, mother]));
            for father in 0..self.flocks.len() {
                for scheme in self.schemes([mother, father]) {
                    found.extend(self.plan(scheme, [mother, father]));
                }
            }
        }
        found.sort_by(first);
        let mut kept: Vec<Ranked> = Vec::new();
        for one in found {
            let known = kept
                .iter_mut()
                .find(|known| known.same_as() == one.same_as());
            if let Some(known) = known {
                known.plan.turned = known.turned(&one);
            } else if !kept.iter().any(|known| one.is_spared_by(known)) {
                kept.push(one);
            }
        }
        kept
    }

    /// What can be done with a mother and a father by the pollen there is.
    fn schemes(&self, [mother, father]: [usize; 2]) -> Vec<Scheme> {
        let (she, he) = (&self.flocks[mother], &self.flocks[father]);
        if !he.sheds || (mother == father && she.plants.len() < 2) {
            return Vec::new();
        }
        let hybrid_sheds = !she.is_sterile || she.restores || he.restores;
        let mut schemes = vec![Scheme::First, Scheme::BackToFather];
        if hybrid_sheds {
            schemes.push(Scheme::Second);
        }
        match (she.sheds, hybrid_sheds) {
            (true, _) => schemes.push(Scheme::BackToMother),
            (false, true) => schemes.push(Scheme::OntoMother),
            (false, false) => {}
        }
        schemes
    }

    fn plan(&mut self, scheme: Scheme, pair: [usize; 2]) -> Option<Ranked> {
        let [she, he] = pair.map(|at| &self.flocks[at]);
        if scheme == Scheme::Selfed && !she.sheds {
            return None;
        }
        let spread = self.shares.spread(scheme, she, he);
        let share = seen(&spread);
        if share.hope < WORTH_TRYING {
            return None;
        }
        let (mothers, fathers) = match (scheme, pair[0] == pair[1]) {
            (Scheme::Selfed, _) => (she.plants.clone(), she.plants.clone()),
            (_, true) => (vec![she.plants[0]], she.plants[1..].to_vec()),
            (_, false) => (she.plants.clone(), he.plants.clone()),
        };
        let crossing = match scheme {
            Scheme::Selfed => Crossing::selfed(she.species.clone()),
            _ => self.crossing(&she.species, &he.species),
        };
        let own = self.counts(she.plants[0], true);
        let counts = match scheme.is_borne_by_mother() {
            true => own,
            false => self.counts(she.plants[0], false),
        };
        let sprouting = Sprouting {
            first: self.begun(own),
            last: self.begun(counts),
            true_share: self.question.true_share,
        };
        let true_share = match scheme.is_crossed() {
            true => sprouting.true_share,
            false => 1.0,
        };
        let confidence = self.question.confidence;
        Some(Ranked {
            plan: Plan {
                need: fewest(&spread, sprouting.last, true_share, confidence),
                sprouting,
                counts,
                hope: share.hope,
                scheme,
                mothers,
                fathers,
                share,
                crossing,
                turned: match pair[0] == pair[1] {
                    true => Turned::AsGood,
                    false => Turned::NoPollen,
                },
            },
            pair,
        })
    }

    /// The counts nearest to seed that a plant bears, or that her descendants do; nothing where germination was typed.
    fn counts(&mut self, mother: i64, is_borne_by_her: bool) -> Option<Counts> {
        if self.question.germination.is_some() {
            return None;
        }
        let seed = match is_borne_by_her {
            true => Sown::Itself(None),
            false => Sown::Later,
        };
        let (facts, counted) = (self.facts, &self.counted);
        let known = self.counts.entry((mother, is_borne_by_her));
        *known.or_insert_with(|| counted.nearest(facts, seed, mother))
    }

    fn begun(&self, counts: Option<Counts>) -> Begun {
        let known = self.question.germination;
        known.unwrap_or_else(|| counts.map_or(Begun::Known(1.0), |counts| counts.begun()))
    }

    fn crossing(&mut self, mother: &str, father: &str) -> Crossing {
        let facts = self.facts;
        let key = (mother.to_owned(), father.to_owned());
        let known = self.crossings.entry(key);
        known
            .or_insert_with(|| Crossing::of(facts, mother, father))
            .clone()
    }
}
