//! Which plants to keep: candidates put in order by the goals set, how sure that order is, and what their seed will throw.
//!
//! Everything rests on what is known of each plant's genotype; a look is worth something only by what it tells of that.
//! Called by `rank`. What a goal is worth (`goal.carried`, weights) is the grower's to change; nothing is culled here.

use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;
use crate::records::facts::Facts;
use crate::records::rows::{GoalKind, GoalRow, Thing};
use crate::stats::order::{Spread, chances_of_being_best, chances_of_holding};
use crate::stats::tails::normal_quantile;
use crate::stats::two_way::t_quantile;

use super::answer::EvidenceNote;
use super::candidates::{Candidate, candidates};
use super::context::{Basis, Context};
use super::genotypes::GenotypeError;
use super::grades::Graded;
use super::group::Side;
use super::measured::Measured;
use super::set_aside::least_useful;
use super::space::{Profiles, Space};

/// Two merits that differ by less are equal but for rounding.
const LEVEL: f64 = 1e-9;

/// Plants whose expected worths differ by less are level: half a point of the index, which nobody would choose by
/// (design choice).
const LEVEL_WORTH: f64 = 0.005;

/// Genotypes less likely than this add nothing to what a plant's seed will throw.
const NEGLIGIBLE: f64 = 1e-12;

/// Why nothing is ranked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RankError {
    /// A genotype is not told.
    #[error(transparent)]
    Genotype(#[from] GenotypeError),
    /// No goal is set.
    #[error("no goal is set, so nothing makes one plant better than another")]
    NoGoals,
    /// A goal on a trait that no gene model explains.
    #[error("the trait {0} has no gene model in use, so no genotype tells who shows it")]
    NoModel(String),
}

/// A goal as the ranking sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Aim {
    /// The trait's code.
    pub of: String,
    /// The class; nothing for the grades of a graded trait.
    pub class: Option<String>,
    /// How much it matters.
    pub kind: GoalKind,
    /// The weight of a want; 0 otherwise.
    pub weight: f64,
    /// Whether of grades or measures the lower ones are wanted.
    pub less: bool,
    /// The unit of the measure that tells it; nothing where none does.
    pub unit: Option<String>,
    mark: Mark,
}

/// By what a goal is told.
#[derive(Debug, Clone, PartialEq)]
enum Mark {
    /// A class: the trait as a place among those ranked by, and the class as a place among the trait's.
    Look(usize, usize),
    /// The grades of a trait.
    Grades(Box<Graded>),
    /// A measure of the plants.
    Measure(Box<Measured>),
}

/// Over how many equally likely values a mean grade that is not known for sure is spread (design choice).
const GRADE_STEPS: usize = 21;

/// What a candidate has of one goal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Merit {
    /// P(it shows the look in the end).
    pub shows: f64,
    /// P(it shows it, or its selfed seed can).
    pub carries: f64,
    /// Of grades and measures: the plant's mean grade or its newest number, where it has any. Then the other two are how far
    /// up the scale it stands on the side that is wanted, from 0 to 1.
    pub grade: Option<f64>,
    /// How far the share of the scale may be off; 0 of looks.
    error: f64,
}

/// A candidate in its place.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranked {
    /// The plant's number.
    pub plant: i64,
    /// Its code or place.
    pub label: String,
    /// Its place from 1; plants that are level share one.
    pub place: usize,
    /// What it is expected to be worth, from 0 to 1.
    pub index: f64,
    /// P(it is worth no less than each in a later place).
    pub holds: f64,
    /// P(it is worth no less than any other).
    pub best: f64,
    /// P(it shows or carries every must, and shows nothing to be avoided).
    pub fit: f64,
    /// Goal by goal, in the order of [`Ranking::aims`].
    pub merits: Vec<Merit>,
    /// The expected share of its selfed seedlings that show every must.
    pub seed_shows: f64,
    /// The expected share of its selfed seedlings that show or carry every must.
    pub seed_carries: f64,
    /// P(it is not of its label), where it came from a tray.
    pub p_off: Option<f64>,
    /// Another candidate that is better by some goal and worse by none: the first such.
    pub beaten_by: Option<String>,
}

/// Candidates in order.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranking {
    /// The goals: musts, wants, what is to be avoided.
    pub aims: Vec<Aim>,
    /// The candidates, the best first.
    pub ranked: Vec<Ranked>,
    /// Plants of which nothing explains what is recorded.
    pub unexplained: Vec<String>,
    /// Traits that are left out of what is known of the plants, since with them the sums would be too large.
    pub left_out: Vec<EvidenceNote>,
    /// Goals that are left out, since with them the sums would be too large, and the cells that these would need.
    pub goals_left_out: Vec<(Aim, u128)>,
    /// Graded traits of which the plants were graded by tasters who cannot be set against each other.
    pub apart: Vec<String>,
    /// Measures by which the plants are compared at different ages.
    pub ages_apart: Vec<String>,
}

/// Ranks plants by the goals of a ledger.
///
/// # Errors
/// [`RankError`] where no goal is set, a goal's trait has no gene model, or the exact answer needs too large a table.
pub fn rank(facts: &Facts, plants: &[i64]) -> Result<Ranking, RankError> {
    let basis = Basis::of(facts).map_err(GenotypeError::from)?;
    let context = &basis.context().map_err(GenotypeError::from)?;
    let (mut aims, traits) = aims(context, plants)?;
    let mut asked = traits.clone();
    let mut goals_left_out = Vec::new();
    let (known, left_out) = loop {
        let loci = context.looks.loci_read(&asked);
        let (size, error) = match candidates(context, plants, &loci) {
            Ok(found) => break found,
            Err(error) => match &error {
                GenotypeError::TooLarge { size, .. } => (*size, error),
                GenotypeError::Unreadable(_) => return Err(error.into()),
            },
        };
        let several = asked.len() > 1;
        let Some(look) = least_useful(context, &asked).filter(|_| several) else {
            return Err(error.into());
        };
        asked.retain(|other| *other != look);
        let is_of = |aim: &mut Aim| matches!(aim.mark, Mark::Look(at, _) if traits[at] == look);
        let gone = aims.extract_if(.., is_of);
        goals_left_out.extend(gone.map(|aim| (aim, size.needed)));
    };
    for aim in &mut aims {
        if let Mark::Look(at, _) = &mut aim.mark {
            let place = asked.iter().position(|own| *own == traits[*at]);
            *at = place.expect("goals on traits not asked for are left out");
        }
    }
    let loci = context.looks.loci_read(&asked);
    let field = Field::new(context, aims, (&asked, &loci), &known);
    Ok(Ranking {
        left_out,
        goals_left_out,
        ..field.order(facts, &known)
    })
}

/// The goals, and the traits they are about as places among the ledger's.
fn aims(context: &Context<'_>, plants: &[i64]) -> Result<(Vec<Aim>, Vec<usize>), RankError> {
    let facts = context.index.facts;
    let mut rows: Vec<&GoalRow> = facts.goal.iter().collect();
    rows.sort_by_key(|goal| match goal.kind {
        GoalKind::Must => 0,
        GoalKind::Want => 1,
        GoalKind::Avoid => 2,
    });
    let (mut aims, mut traits): (Vec<Aim>, Vec<usize>) = (Vec::new(), Vec::new());
    for goal in rows {
        let code = facts.code_of(Thing::Trait, goal.trait_id);
        let code = code.unwrap_or_default().to_owned();
        let (class, mark) = mark(context, goal, (&code, plants), &mut traits)?;
        aims.push(Aim {
            unit: match &mark {
                Mark::Measure(measured) => Some(measured.unit.clone()),
                Mark::Look(..) | Mark::Grades(_) => None,
            },
            of: code,
            class,
            kind: goal.kind,
            weight: goal.weight.parse().unwrap_or(0.0),
            less: goal.less,
            mark,
        });
    }
    match aims.is_empty() {
        true => Err(RankError::NoGoals),
        false => Ok((aims, traits)),
    }
}

/// By what a goal is told, and the name of its class; the trait joins those ranked by.
fn mark(
    context: &Context<'_>,
    goal: &GoalRow,
    (code, plants): (&str, &[i64]),
    traits: &mut Vec<usize>,
) -> Result<(Option<String>, Mark), RankError> {
    let untold = || RankError::NoModel(code.to_owned());
    let Some(class) = goal.class_id else {
        if let Some(measured) = Measured::of(context.index.facts, goal.trait_id, plants) {
            return Ok((None, Mark::Measure(Box::new(measured))));
        }
        let graded = Graded::of(context.index.facts, goal.trait_id).ok_or_else(untold)?;
        return Ok((None, Mark::Grades(Box::new(graded))));
    };
    let (look, place) = context.looks.class_place(class).ok_or_else(untold)?;
    let at = traits.iter().position(|own| *own == look);
    let at = at.unwrap_or_else(|| {
        traits.push(look);
        traits.len() - 1
    });
    let class = &context.looks.traits[look].classes[place];
    Ok((Some(class.name.clone()), Mark::Look(at, place)))
}

/// What every genotype is worth.
struct Field {
    aims: Vec<Aim>,
    carried: f64,
    /// By the cytoplasms that candidates have, by joint genotype.
    worths: Vec<(Cytoplasm, Vec<Worth>)>,
}

/// What one genotype has of each goal.
struct Worth {
    shows: Vec<bool>,
    /// Whether its selfed seed can show it; what is shown is among it, since a selfed plant can give its own genotype.
    carries: Vec<bool>,
    /// Shares of its selfed seedlings that show, and that show or carry, every must.
    seed: [f64; 2],
}

impl Field {
    fn new(
        context: &Context<'_>,
        aims: Vec<Aim>,
        (traits, loci): (&[usize], &[LocusIx]),
        known: &[Candidate],
    ) -> Self {
        let space = context.groups().space(loci);
        let profiles = Profiles::new(context.looks, &space, traits);
        let mut field = Self {
            aims,
            carried: context.beliefs.goal_carried,
            worths: Vec::new(),
        };
        for candidate in known {
            let cytoplasm = candidate.cytoplasm;
            if field.worths.iter().all(|(own, _)| *own != cytoplasm) {
                let worths = field.work_out(&space, &profiles, cytoplasm);
                field.worths.push((cytoplasm, worths));
            }
        }
        field
    }

    fn work_out(&self, space: &Space, profiles: &Profiles, cytoplasm: Cytoplasm) -> Vec<Worth> {
        let shows = |joint: usize| -> Vec<bool> {
            let classes = profiles.classes_of(joint, cytoplasm);
            let aims = self.aims.iter();
            aims.map(|aim| matches!(aim.mark, Mark::Look(at, place) if classes[at] == place))
                .collect()
        };
        let shown: Vec<Vec<bool>> = (0..space.size).map(shows).collect();
        let carries = |joint: usize| {
            let mut found = vec![false; self.aims.len()];
            for (child, _) in offspring(space, joint) {
                let of_child = found.iter_mut().zip(&shown[child]);
                of_child.for_each(|(own, is)| *own |= is);
            }
            found
        };
        let carried: Vec<Vec<bool>> = (0..space.size).map(carries).collect();
        let worth = |joint: usize| {
            let mut seed = [0.0, 0.0];
            for (child, p) in offspring(space, joint) {
                for (share, has) in seed.iter_mut().zip([&shown[child], &carried[child]]) {
                    *share += if self.every_must(has) { p } else { 0.0 };
                }
            }
            Worth {
                shows: shown[joint].clone(),
                carries: carried[joint].clone(),
                seed,
            }
        };
        (0..space.size).map(worth).collect()
    }

    fn worth(&self, joint: usize, candidate: &Candidate) -> &Worth {
        let mut worths = self.worths.iter();
        let own = worths.find(|(own, _)| *own == candidate.cytoplasm);
        &own.expect("worked out for every candidate").1[joint]
    }

    fn order(&self, facts: &Facts, known: &[Candidate]) -> Ranking {
        let mut unexplained = Vec::new();
        let mut seen: Vec<(Ranked, Spread)> = Vec::new();
        for candidate in known {
            let label = facts.label_of_plant(candidate.plant);
            match self.judge(candidate, &label) {
                Some(judged) => seen.push(judged),
                None => unexplained.push(label),
            }
        }
        seen.sort_by_key(|(one, _)| [one.index, one.seed_shows].map(|value| -steps(value)));
        let places = level_places(&mut seen);
        let (mut ranked, spreads): (Vec<Ranked>, Vec<Spread>) = seen.into_iter().unzip();
        let holds = chances_of_holding(&spreads, &places);
        let best = chances_of_being_best(&spreads);
        let beaten: Vec<Option<String>> = (ranked.iter())
            .map(|one| self.beaten_by(one, &ranked))
            .collect();
        for (at, beaten_by) in beaten.into_iter().enumerate() {
            ranked[at].place = places[at];
            ranked[at].holds = holds[at];
            ranked[at].best = best[at];
            ranked[at].beaten_by = beaten_by;
        }
        Ranking {
            apart: self.apart(&ranked),
            ages_apart: self.ages_apart(),
            aims: self.aims.clone(),
            ranked,
            unexplained,
            left_out: Vec::new(),
            goals_left_out: Vec::new(),
        }
    }

    /// The graded traits of which not all these plants can be compared.
    fn apart(&self, ranked: &[Ranked]) -> Vec<String> {
        let is_apart = |aim: &&Aim| match &aim.mark {
            Mark::Grades(graded) => graded.is_in_parts(ranked.iter().map(|one| one.plant)),
            Mark::Look(..) | Mark::Measure(_) => false,
        };
        let apart = self.aims.iter().filter(is_apart);
        apart.map(|aim| aim.of.clone()).collect()
    }

    /// The measures that were taken at different ages.
    fn ages_apart(&self) -> Vec<String> {
        let is_apart = |aim: &&Aim| matches!(&aim.mark, Mark::Measure(one) if one.mixes_ages);
        let apart = self.aims.iter().filter(is_apart);
        apart.map(|aim| aim.of.clone()).collect()
    }

    /// A candidate by itself, and what it may be worth; nothing where no genotype explains what is recorded.
    fn judge(&self, candidate: &Candidate, label: &str) -> Option<(Ranked, Spread)> {
        let total: f64 = candidate.joint.iter().sum();
        let (merits, grades) = self.by_grades(candidate.plant);
        let mut ranked = Ranked {
            plant: candidate.plant,
            label: label.to_owned(),
            place: 0,
            index: 0.0,
            holds: 1.0,
            best: 1.0,
            fit: 0.0,
            merits,
            seed_shows: 0.0,
            seed_carries: 0.0,
            p_off: candidate.p_off,
            beaten_by: None,
        };
        let mut values = Vec::new();
        for (joint, p) in candidate.joint.iter().enumerate() {
            let p = p / total;
            if p.is_nan() || p <= NEGLIGIBLE {
                continue;
            }
            let worth = self.worth(joint, candidate);
            for (merit, (shows, carries)) in
                (ranked.merits.iter_mut()).zip(worth.shows.iter().zip(&worth.carries))
            {
                merit.shows += if *shows { p } else { 0.0 };
                merit.carries += if *carries { p } else { 0.0 };
            }
            ranked.seed_shows += p * worth.seed[0];
            ranked.seed_carries += p * worth.seed[1];
            ranked.fit += if self.is_fit(worth) { p } else { 0.0 };
            let gate = self.gate(worth);
            let own = grades.iter().map(|by| gate * self.wanted(worth, *by));
            values.extend(own.map(|value| (value, p / grades.len() as f64)));
        }
        let spread = Spread::new(values)?;
        ranked.index = spread.mean();
        Some((ranked, spread))
    }

    fn every_must(&self, has: &[bool]) -> bool {
        let of_must = |(aim, has): (&Aim, &bool)| aim.kind != GoalKind::Must || *has;
        self.aims.iter().zip(has).all(of_must)
    }

    fn is_fit(&self, worth: &Worth) -> bool {
        let avoided = |(aim, shows): (&Aim, &bool)| aim.kind == GoalKind::Avoid && *shows;
        self.every_must(&worth.carries) && !self.aims.iter().zip(&worth.shows).any(avoided)
    }

    /// 1 where every must is shown and nothing to be avoided is; less for each must that is only carried; 0 otherwise.
    fn gate(&self, worth: &Worth) -> f64 {
        let of_goal = |(at, aim): (usize, &Aim)| match (aim.kind, worth.shows[at]) {
            (GoalKind::Must, true) | (GoalKind::Avoid, false) | (GoalKind::Want, _) => 1.0,
            (GoalKind::Must, false) if worth.carries[at] => self.carried,
            (GoalKind::Must, false) | (GoalKind::Avoid, true) => 0.0,
        };
        self.aims.iter().enumerate().map(of_goal).product()
    }

    /// (1 + the weights of the wants that are shown, those of grades in part) / (1 + the weights of all).
    fn wanted(&self, worth: &Worth, by_grades: f64) -> f64 {
        let all: f64 = self.aims.iter().map(|aim| aim.weight).sum();
        let own: f64 = (self.aims.iter().zip(&worth.shows))
            .map(|(aim, shows)| if *shows { aim.weight } else { 0.0 })
            .sum();
        (1.0 + own + by_grades) / (1.0 + all)
    }

    /// What a plant has of each goal so far, that of grades alone; and what its grades may add to the wants, in equally
    /// likely values: a sum of weighted means, spread as Student's t with the fewest degrees of freedom of them (as normal
    /// without any) and kept within what all can add.
    fn by_grades(&self, plant: i64) -> (Vec<Merit>, Vec<f64>) {
        let (mut merits, mut sum, mut variance, mut most) = (Vec::new(), 0.0, 0.0, 0.0);
        let mut df: Option<usize> = None;
        for aim in &self.aims {
            let mut merit = Merit {
                shows: 0.0,
                carries: 0.0,
                grade: None,
                error: 0.0,
            };
            let scaled = match &aim.mark {
                Mark::Look(..) => None,
                Mark::Grades(graded) => Some((
                    graded.relative(plant),
                    graded.plant(plant).map(|own| own.mean),
                    graded.freedom_of(plant),
                )),
                Mark::Measure(own) => Some((own.relative(plant), own.value(plant), None)),
            };
            if let Some(((up, error), grade, freedom)) = scaled {
                let had = if aim.less { 1.0 - up } else { up };
                merit.shows = had;
                merit.carries = had;
                merit.grade = grade;
                merit.error = error;
                df = [df, freedom].into_iter().flatten().min();
                sum += aim.weight * had;
                variance += (aim.weight * error).powi(2);
                most += aim.weight;
            }
            merits.push(merit);
        }
        let spread = variance.sqrt();
        if spread == 0.0 {
            return (merits, vec![sum]);
        }
        let chance = |step: usize| (step as f64 + 0.5) / GRADE_STEPS as f64;
        let quantile = |p: f64| {
            df.and_then(|df| t_quantile(df, p))
                .unwrap_or_else(|| normal_quantile(p))
        };
        let value = |step| (sum + spread * quantile(chance(step))).clamp(0.0, most);
        (merits, (0..GRADE_STEPS).map(value).collect())
    }

    /// The first that is better by some goal and worse by none. By grades one is better only by more than the standard
    /// error of the difference; who was not graded is neither.
    fn beaten_by(&self, one: &Ranked, all: &[Ranked]) -> Option<String> {
        let beats = |other: &&Ranked| {
            let pairs = other.merits.iter().zip(&one.merits);
            let by = self.aims.iter().zip(pairs);
            let orders: Option<Vec<[bool; 2]>> = by
                .map(|(aim, (theirs, own))| self.compare(aim, theirs, own))
                .collect();
            orders.is_some_and(|orders| {
                orders.iter().all(|[no_worse, _]| *no_worse)
                    && orders.iter().any(|[_, better]| *better)
            })
        };
        all.iter().find(beats).map(|other| other.label.clone())
    }

    /// Whether one is no worse by a goal than another, and whether it is better; nothing where that is not known.
    fn compare(&self, aim: &Aim, theirs: &Merit, own: &Merit) -> Option<[bool; 2]> {
        let value = |merit: &Merit| match aim.kind {
            GoalKind::Must => merit.shows + self.carried * (merit.carries - merit.shows),
            GoalKind::Want => merit.shows,
            GoalKind::Avoid => 1.0 - merit.shows,
        };
        if !matches!(aim.mark, Mark::Look(..)) {
            theirs.grade.and(own.grade)?;
        }
        let more = value(theirs) - value(own);
        let error = theirs.error.hypot(own.error);
        Some([more >= -LEVEL, more > error.max(LEVEL)])
    }
}

/// The place of each in an order by worth, which plants that are level share; among those the one whose seed throws more
/// of what is asked goes first.
fn level_places(seen: &mut [(Ranked, Spread)]) -> Vec<usize> {
    let mut places = Vec::with_capacity(seen.len());
    while places.len() < seen.len() {
        let from = places.len();
        let top = steps(seen[from].0.index) - steps(LEVEL_WORTH);
        let level = seen[from..].iter();
        let level = level.take_while(|(one, _)| steps(one.index) > top).count();
        seen[from..from + level]
            .sort_by_key(|(one, _)| [one.seed_shows, one.index].map(|value| -steps(value)));
        places.resize(from + level, from + 1);
    }
    places
}

/// A worth from 0 to 1 in steps of [`LEVEL`].
#[expect(
    clippy::cast_possible_truncation,
    reason = "a worth lies between 0 and 1"
)]
fn steps(worth: f64) -> i64 {
    (worth / LEVEL).round() as i64
}

/// The offspring of one selfed plant with their chances, none that cannot be.
fn offspring(space: &Space, joint: usize) -> impl Iterator<Item = (usize, f64)> {
    let [egg, pollen] = [Side::Egg, Side::Pollen].map(|side| space.gametes(joint, side));
    let all = space.offspring(&egg, &pollen).into_iter().enumerate();
    all.filter(|(_, p)| *p > 0.0)
}
