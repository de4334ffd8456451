//! What every genotype is worth by the goals, and the candidates weighed and put in order by it.
//!
//! A plant counts by what it is as what it is kept as: an off-type is not what was wanted, however it looks. Who asks, and
//! for which plants, is not known here; [`super`] calls it.

use std::collections::HashSet;

use crate::genetics::locus::LocusIx;
use crate::genetics::rule::Cytoplasm;
use crate::records::facts::Facts;
use crate::records::rows::GoalKind;
use crate::stats::order::{Spread, chances_of_being_best, chances_of_holding};
use crate::stats::tails::normal_quantile;
use crate::stats::two_way::t_quantile;

use super::super::candidates::Candidate;
use super::super::context::Context;
use super::super::group::Side;
use super::super::space::{Profiles, Space};
use super::{Aim, Mark, Merit, Ranked, Ranking};

/// Two worths that differ by less are equal (design choice): a hundredth of a point of the index is no difference.
const EQUAL: f64 = 1e-4;

/// Plants whose expected worths differ by less are level: half a point of the index, which nobody would choose by (design
/// choice).
const LEVEL: f64 = 0.005;

/// By a look, or by the chance of being off-type, one is better or worse from a whole point on (design choice): the place
/// is decided by the index, and this only says who is of no use beside whom.
const NO_WORSE: f64 = 0.01;

/// Two shares of a scale that differ by less are equal but for rounding.
const ROUNDING: f64 = 1e-9;

/// Genotypes less likely than this add nothing to what a plant's seed will throw.
const NEGLIGIBLE: f64 = 1e-12;

/// Over how many equally likely values a mean grade that is not known for sure is spread (design choice).
const GRADE_STEPS: usize = 21;

/// What every genotype is worth.
pub(super) struct Field {
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
    pub(super) fn new(
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

    /// Weighs the candidates and puts them in order.
    pub(super) fn order(
        &self,
        facts: &Facts,
        known: &[Candidate],
        culls: &HashSet<i64>,
    ) -> Ranking {
        let mut unexplained = Vec::new();
        let mut seen: Vec<(Ranked, Spread)> = Vec::new();
        for candidate in known {
            let label = facts.label_of_plant(candidate.plant);
            match self.judge(candidate, &label) {
                Some((mut ranked, spread)) => {
                    ranked.is_cull = culls.contains(&candidate.plant);
                    seen.push((ranked, spread));
                }
                None => unexplained.push(label),
            }
        }
        let key = |one: &Ranked| [one.index, one.seed_shows].map(|value| -steps(value));
        seen.sort_by_key(|(one, _)| (one.is_cull, key(one)));
        let places = level_places(&mut seen);
        let (mut ranked, spreads): (Vec<Ranked>, Vec<Spread>) = seen.into_iter().unzip();
        let holds = chances_of_holding(&spreads, &places);
        let best = chances_of_being_best(&spreads);
        for (at, one) in ranked.iter_mut().enumerate() {
            one.place = places[at];
            one.holds = holds[at];
            one.best = best[at];
        }
        let beaten = ranked.iter().map(|one| self.beaten_by(one, &ranked));
        let beaten: Vec<Option<String>> = beaten.collect();
        for (one, beaten_by) in ranked.iter_mut().zip(beaten) {
            one.beaten_by = beaten_by;
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
            if_true: 0.0,
            is_cull: false,
            holds: 1.0,
            best: 1.0,
            fit: 0.0,
            merits,
            seed_shows: 0.0,
            seed_carries: 0.0,
            p_off: candidate.p_off,
            beaten_by: None,
        };
        let (mut values, mut p_true) = (Vec::new(), 0.0);
        let both = candidate.joint.iter().zip(&candidate.as_meant);
        for (joint, (p, as_meant)) in both.enumerate() {
            let [p, as_meant] = [p, as_meant].map(|p| p / total);
            if p.is_nan() || p <= NEGLIGIBLE {
                continue;
            }
            p_true += as_meant;
            let worth = self.worth(joint, candidate);
            for (merit, (shows, carries)) in
                (ranked.merits.iter_mut()).zip(worth.shows.iter().zip(&worth.carries))
            {
                merit.shows += if *shows { p } else { 0.0 };
                merit.carries += if *carries { p } else { 0.0 };
                merit.true_to_it[0] += if *shows { as_meant } else { 0.0 };
                merit.true_to_it[1] += if *carries { as_meant } else { 0.0 };
            }
            ranked.seed_shows += p * worth.seed[0];
            ranked.seed_carries += p * worth.seed[1];
            ranked.fit += if self.is_fit(worth) { p } else { 0.0 };
            let gate = self.gate(worth);
            let own = grades.iter().map(|by| gate * self.wanted(worth, *by));
            values.extend(own.map(|value| (value, as_meant / grades.len() as f64)));
            values.push((0.0, p - as_meant));
        }
        let spread = Spread::new(values)?;
        ranked.index = spread.mean();
        ranked.if_true = if p_true > 0.0 {
            ranked.index / p_true
        } else {
            0.0
        };
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

    /// The weights of all wants; of several looks of one trait, of which a plant shows one, the largest.
    fn all_weights(&self) -> f64 {
        let largest = |(at, aim): (usize, &Aim)| {
            let same =
                |other: &&Aim| (aim.class.is_some() && other.class.is_some()) && other.of == aim.of;
            let before = self.aims[..at].iter().filter(same);
            let before = before.map(|other| other.weight).fold(0.0, f64::max);
            (aim.weight - before).max(0.0)
        };
        self.aims.iter().enumerate().map(largest).sum()
    }

    /// (1 + the weights of the wants that are shown, those of grades in part) / (1 + the weights of all).
    fn wanted(&self, worth: &Worth, by_grades: f64) -> f64 {
        let all = self.all_weights();
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
                true_to_it: [0.0; 2],
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

    /// The first in an earlier place that is better by some goal and worse by none, and no likelier an off-type. By a look
    /// one is better or worse beyond a point, by grades better only by more than the standard error of the
    /// difference; who was not graded is neither.
    fn beaten_by(&self, one: &Ranked, all: &[Ranked]) -> Option<String> {
        let off = |plant: &Ranked| plant.p_off.unwrap_or(0.0);
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
        let ahead = all.iter().filter(|other| other.place < one.place);
        let mut as_true = ahead.filter(|other| off(other) <= off(one) + NO_WORSE);
        as_true.find(beats).map(|other| other.label.clone())
    }

    /// Whether one is no worse by a goal than another, and whether it is better; nothing where that is not known.
    fn compare(&self, aim: &Aim, theirs: &Merit, own: &Merit) -> Option<[bool; 2]> {
        if !matches!(aim.mark, Mark::Look(..)) {
            theirs.grade.and(own.grade)?;
            let more = theirs.shows - own.shows;
            let error = theirs.error.hypot(own.error);
            return Some([more >= -ROUNDING, more > error.max(ROUNDING)]);
        }
        let value = |merit: &Merit| match (aim.kind, merit.true_to_it) {
            (GoalKind::Must, [shows, carries]) => shows + self.carried * (carries - shows),
            (GoalKind::Want, [shows, _]) => shows,
            (GoalKind::Avoid, _) => 1.0 - merit.shows,
        };
        let more = value(theirs) - value(own);
        Some([more >= -NO_WORSE, more > NO_WORSE])
    }
}

/// The place of each in an order by worth, which plants that are level share; among those the one whose seed throws more
/// of what is asked goes first. None that is to be culled is level with one that is not.
fn level_places(seen: &mut [(Ranked, Spread)]) -> Vec<usize> {
    let mut places = Vec::with_capacity(seen.len());
    while places.len() < seen.len() {
        let from = places.len();
        let first = &seen[from].0;
        let (top, is_cull) = (steps(first.index) - steps(LEVEL), first.is_cull);
        let level = seen[from..].iter();
        let level = level
            .take_while(|(one, _)| steps(one.index) > top && one.is_cull == is_cull)
            .count();
        seen[from..from + level]
            .sort_by_key(|(one, _)| [one.seed_shows, one.index].map(|value| -steps(value)));
        places.resize(from + level, from + 1);
    }
    places
}

/// A worth from 0 to 1 in steps of [`EQUAL`].
#[expect(
    clippy::cast_possible_truncation,
    reason = "a worth lies between 0 and 1"
)]
fn steps(worth: f64) -> i64 {
    (worth / EQUAL).round() as i64
}

/// The offspring of one selfed plant with their chances, none that cannot be.
fn offspring(space: &Space, joint: usize) -> impl Iterator<Item = (usize, f64)> {
    let [egg, pollen] = [Side::Egg, Side::Pollen].map(|side| space.gametes(joint, side));
    let all = space.offspring(&egg, &pollen).into_iter().enumerate();
    all.filter(|(_, p)| *p > 0.0)
}
