//! `plan space`: how to share places over crosses.

use clap::{Args, ValueEnum};

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::Context;
use crate::diagnosis::index::Index;
use crate::diagnosis::looks::Looks;
use crate::genetics::fraction::Fraction;
use crate::growing::lots::in_store_or_sown;
use crate::planning::off_share::OffShares;
use crate::planning::packing::{Area, Length, Packing, places, widest_spacing};
use crate::planning::space::{self, MOST_PLACES, MOST_WISHES, share, share_evenly};
use crate::planning::targets::share_of;
use crate::records::admit::Remedy;
use crate::records::assumptions::Assumptions;
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::Thing;
use crate::report::plan_known::known_lines;
use crate::report::plan_space::{AreaLine, MoreLine, SpaceAnswer, SpaceLine};

use super::plan_bred::{Asking, Bred, CaseOf};
use super::plan_claim::Claim;
use super::plan_sowing::asked_of_ledger;
use super::plan_space_weighed::{Weighed, fewest_places};
use super::plan_wishes::{Wish, chance, off_share, whole};
use super::stated::parents_of;
use super::thing::find;

/// Most places that can be named; fewer are shared.
const MOST_NAMED: u64 = 1_000_000;

/// How to share places over crosses, so that as many targets as possible are reached
#[derive(Debug, Args)]
#[command(
    after_help = "A cross is NAME=WANTED, then want=N, weight=W, marker=CLASS, generation=F2 as needed, with commas.\nWANTED is a chance (no ledger is needed), or a look of a cross in the ledger.\n\nExamples:\n  locule plan space --pots 40 mild=1/16,want=2,weight=3 erect=1/4\n  locule plan space --area 1.2x0.6m --spacing 30cm --losses 0.1 mild=1/4 erect=1/4,want=3\n  locule plan space --pots 20 --reserve 2 X1=green/not-hot,generation=F2,marker=green X2=purple"
)]
pub struct SpaceArgs {
    /// The crosses with what is wanted of each
    #[arg(value_name = "CROSS=WANTED", required = true)]
    crosses: Vec<Claim>,
    /// How many places there are
    #[arg(long, value_name = "N", conflicts_with_all = ["area", "spacing"], required_unless_present = "area", allow_negative_numbers = true, value_parser = |text: &str| whole(text, 0, MOST_NAMED))]
    pots: Option<u64>,
    /// The area to plant: 1.2x0.6m, 120cm x 60cm
    #[arg(
        long,
        value_name = "AREA",
        requires = "spacing",
        allow_hyphen_values = true
    )]
    area: Option<String>,
    /// How far apart plants stand: 30cm
    #[arg(
        long,
        value_name = "LENGTH",
        requires = "area",
        allow_hyphen_values = true
    )]
    spacing: Option<String>,
    /// How they stand to one another
    #[arg(long, value_name = "HOW", value_enum, default_value_t = How::Square, requires = "area")]
    packing: How,
    /// Places kept free, from which every plant that is lost is replaced. Instead of --losses, which gives all away
    #[arg(long, value_name = "N", default_value_t = 0, allow_negative_numbers = true, value_parser = |text: &str| whole(text, 0, MOST_NAMED))]
    reserve: u64,
    /// The share of plants that is lost before it is judged, and not replaced
    #[arg(long, value_name = "SHARE", value_parser = losses, allow_hyphen_values = true)]
    losses: Option<Fraction>,
    /// How much of what comes up is not of the label. Of a cross in the ledger as 'mishaps' says
    #[arg(long, value_name = "SHARE", value_parser = off_share, allow_hyphen_values = true)]
    off_share: Option<Fraction>,
    /// Take parents for what everything recorded says of them, their looks and offspring included, instead of at their
    /// word
    #[arg(long)]
    believed: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum How {
    /// In rows and columns
    Square,
    /// Every other row moved by half a spacing
    Staggered,
}

fn losses(text: &str) -> Result<Fraction, String> {
    off_share(text).map_err(|why| match why.starts_with("were") {
        true => "were all plants lost, no place would do".to_owned(),
        false => why,
    })
}

impl SpaceArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where a cross, a look or a length cannot be read, a target cannot come, or there is no place.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        if self.crosses.len() > MOST_WISHES {
            return Err(
                Failure::usage(format!("at most {MOST_WISHES} crosses share places"))
                    .try_typing("locule plan space --help"),
            );
        }
        self.check()?;
        let (all, area) = self.places()?;
        let shared = self.shared(all)?;
        let weighed = self.weigh(world)?;
        let lives = 1.0 - self.losses.map_or(0.0, Fraction::value);
        let wish = |(claim, one): (&Claim, &Weighed)| space::Wish {
            cases: one
                .cases
                .iter()
                .map(|(weight, p)| (*weight, p * lives))
                .collect(),
            want: claim.want,
            weight: claim.weight,
        };
        let wishes: Vec<space::Wish> = self.crosses.iter().zip(&weighed).map(wish).collect();
        let (now, more) = share(&wishes, shared);
        let even = share_evenly(&wishes, shared);
        let named_twice = |at: usize| {
            let mut others = self.crosses.iter().enumerate();
            others
                .any(|(other, one)| other != at && fold(&one.name) == fold(&self.crosses[at].name))
        };
        let typed = |at: usize| named_twice(at).then(|| self.crosses[at].wanted.clone());
        let line = |at: usize| SpaceLine {
            name: self.crosses[at].name.clone(),
            target: weighed[at].target.clone().or_else(|| typed(at)),
            want: self.crosses[at].want,
            weight: self.crosses[at].weight,
            chance: wishes[at].cases.iter().map(|(weight, p)| weight * p).sum(),
            off_share: weighed[at].off_share,
            seeds: weighed[at].seeds,
            places: now.places[at],
            probability: now.chances[at],
            probability_if_even: even.chances[at],
            probability_by_tray: weighed[at].by_tray(now.places[at], self.crosses[at].want, lives),
            never_by_tray: weighed[at].off_share.map(|_| {
                let trays = weighed[at].off_by_tray.iter();
                trays
                    .filter(|(_, off)| *off >= 1.0)
                    .map(|(weight, _)| weight)
                    .sum()
            }),
            places_for_99: fewest_places(&wishes[at], now.places[at]),
        };
        let lines: Vec<SpaceLine> = (0..wishes.len()).map(line).collect();
        let name = |at: usize| match named_twice(at) {
            true => lines[at].called(),
            false => lines[at].name.clone(),
        };
        let changed = |at: &usize| more.sharing.places[*at] != now.places[*at];
        let changes = (0..wishes.len()).filter(changed);
        let changes = changes.map(|at| (name(at), more.sharing.places[at]));
        Ok(world.answer(&SpaceAnswer {
            places: all,
            reserve: self.reserve,
            left: shared - now.places.iter().sum::<usize>(),
            losses: 1.0 - lives,
            area,
            worth: now.worth,
            most_worth: wishes.iter().map(|wish| wish.weight).sum(),
            worth_if_even: even.worth,
            one_more: MoreLine {
                gain: more.gain,
                changes: changes.collect(),
            },
            believed: self.believed,
            not_stated: each_once(weighed.iter().flat_map(|one| one.not_stated.clone())),
            phase_open: each_once(weighed.iter().flat_map(|one| one.phase_open.clone())),
            better_known: each_once(weighed.iter().flat_map(|one| one.better_known.clone())),
            f1_differ: self
                .crosses
                .iter()
                .zip(&weighed)
                .filter(|(_, one)| one.is_of_f1_plants)
                .map(|(claim, _)| claim.name.clone())
                .collect(),
            crosses: lines,
        }))
    }

    /// Refuses what would be counted twice: the same look of one cross, and what is lost.
    fn check(&self) -> Result<(), Failure> {
        if self.reserve > 0 && self.losses.is_some_and(|losses| losses.value() > 0.0) {
            return Err(Failure::usage(
                "--losses and --reserve are two ways to allow for the same plants; together they would count twice",
            )
            .because("with --losses all places are given away and what dies is gone; with --reserve it is replaced")
            .try_remedy(Remedy::Without("--reserve"))
            .try_remedy(Remedy::Without("--losses")));
        }
        for (at, claim) in self.crosses.iter().enumerate() {
            let Some(first) = self.crosses[..at].iter().find(|first| first.is_like(claim)) else {
                continue;
            };
            let (name, wanted) = (&claim.name, &claim.wanted);
            let want = first.want + claim.want;
            return Err(Failure::usage(format!(
                "{name}={wanted} stands there twice, and a plant counts once: ask for {want} of it at once"
            ))
            .try_typing(format!(
                "locule plan space --pots {} {name}={wanted},want={want}",
                self.pots.unwrap_or(40)
            )));
        }
        Ok(())
    }

    /// How many places there are, and how the area is filled where they are counted from one.
    fn places(&self) -> Result<(u64, Option<AreaLine>), Failure> {
        let (Some(area_typed), Some(spacing_typed)) = (&self.area, &self.spacing) else {
            return Ok((self.pots.unwrap_or(0), None));
        };
        let area: Area = area_typed.parse().map_err(|error| {
            Failure::usage(format!("--area: {error}")).try_flag("--area", "1.2x0.6m")
        })?;
        let spacing: Length = spacing_typed.parse().map_err(|error| {
            Failure::usage(format!("--spacing: {error}")).try_flag("--spacing", "30cm")
        })?;
        let [square, staggered] =
            [Packing::Square, Packing::Staggered].map(|how| places(area, spacing, how));
        let (packing, here, other) = match self.packing {
            How::Square => ("square", square, staggered),
            How::Staggered => ("staggered", staggered, square),
        };
        if here == 0 {
            return Err(Failure::refused(format!(
                "{area_typed} holds no plant that has {spacing_typed} to itself"
            ))
            .because("half the spacing is kept to every edge")
            .try_flag("--spacing", widest_spacing(area).to_string()));
        }
        let line = AreaLine {
            area: area_typed.clone(),
            spacing: spacing_typed.clone(),
            packing,
            places: here,
            places_otherwise: other,
        };
        Ok((here, Some(line)))
    }

    /// How many places are shared: not more than can be, and some beside the reserve.
    fn shared(&self, all: u64) -> Result<usize, Failure> {
        let left = all.saturating_sub(self.reserve);
        if left == 0 {
            let failure = Failure::refused(format!(
                "no place is left: {all} in all, {} in reserve",
                self.reserve
            ));
            return Err(match self.reserve {
                0 => failure.try_flag("--pots", "40"),
                _ => failure.try_remedy(Remedy::Without("--reserve")),
            });
        }
        match usize::try_from(left) {
            Ok(places) if places <= MOST_PLACES => Ok(places),
            _ => Err(Failure::refused(format!(
                "{left} places are more than are shared; up to {MOST_PLACES} are"
            ))
            .try_typing("locule plan space --help")),
        }
    }

    fn weigh(&self, world: &World) -> Result<Vec<Weighed>, Failure> {
        let is_typed = |claim: &Claim| claim.chance().is_some();
        if self.crosses.iter().all(is_typed) {
            return self
                .crosses
                .iter()
                .map(|claim| self.weigh_typed(claim))
                .collect();
        }
        let (_, facts) = world.ask()?;
        let looks = Looks::of(&facts)?;
        let (beliefs, index) = (Assumptions::of(&facts), Index::new(&facts));
        let context = Context::new(&looks, &index, &beliefs)?;
        let shares = match self.off_share {
            Some(_) => None,
            None => Some(OffShares::learn(&context)?),
        };
        let ledger = Ledger {
            facts: &facts,
            context: &context,
            off: shares.as_ref(),
            today: world.day()?,
        };
        let one = |claim: &Claim| match is_typed(claim) {
            true => self.weigh_typed(claim),
            false => self.weigh_cross(claim, &ledger),
        };
        self.crosses.iter().map(one).collect()
    }

    fn weigh_typed(&self, claim: &Claim) -> Result<Weighed, Failure> {
        let typed = claim.chance().unwrap_or_else(|| chance(&claim.wanted));
        let share = typed.map_err(|why| {
            Failure::usage(format!("{}={}: {why}", claim.name, claim.wanted))
                .try_typing("locule plan space --pots 40 X1=1/16 X2=3/16")
        })?;
        if claim.marker.is_some() || claim.generation.is_some() {
            return Err(Failure::usage(format!(
                "{}: marker and generation go with a look of a cross in the ledger, not with a chance",
                claim.name
            ))
            .because("give the chance among the plants that get a place")
            .try_typing("locule plan space --pots 40 X1=1/4 X2=3/16"));
        }
        Ok(Weighed {
            target: None,
            cases: vec![(1.0, share.value() * self.stated_true())],
            off_share: None,
            seeds: None,
            off_by_tray: Vec::new(),
            not_stated: Vec::new(),
            phase_open: Vec::new(),
            better_known: Vec::new(),
            is_of_f1_plants: false,
        })
    }

    /// The share that is of the label, as typed.
    fn stated_true(&self) -> f64 {
        1.0 - self.off_share.map_or(0.0, Fraction::value)
    }

    fn weigh_cross(&self, claim: &Claim, ledger: &Ledger<'_>) -> Result<Weighed, Failure> {
        let (label, parents) = parents_of(ledger.facts, &claim.name)?;
        let mut asked = asked_of_ledger(ledger.facts, ledger.context.looks, &[])?;
        let wish = Wish {
            text: claim.wanted.clone(),
            want: None,
        };
        asked.want_class(&claim.name, &wish, claim.want)?;
        let marker = match &claim.marker {
            Some(text) => asked.read_classes("marker", text)?,
            None => Vec::new(),
        };
        let asking = Asking {
            generation: claim.generation,
            is_believed: self.believed,
            ..Asking::default()
        };
        let bred = Bred::of_plants(ledger.context, &asked, Some(&label), parents, asking, &[])?;
        let f2 = Remedy::Word {
            typed: claim.wanted.clone(),
            by: format!("{},generation=F2", claim.wanted),
            otherwise: "locule plan space --help".to_owned(),
        };
        let cases = bred.cases(&asked, &f2)?;
        let target = &asked.targets[0];
        let both = [&target.asks, &marker[..]].concat();
        if share_of(&CaseOf::mean(&cases), &both).p <= 0.0 {
            return Err(Failure::refused(format!(
                "{}: no seedling that is {} shows {}, so all of them would be discarded",
                claim.name,
                target.name,
                claim.marker.as_deref().unwrap_or_default()
            ))
            .try_typing("locule plan space --help"));
        }
        let found = find(ledger.facts, &claim.name)?;
        let off = match (ledger.off, found.thing) {
            (Some(off), Thing::Cross) if claim.generation.is_none() || asking.is_by_hand() => {
                let of = off.of(ledger.context, found.id, ledger.today).share;
                let by_tray = off.by_tray(ledger.context, found.id, ledger.today);
                Some((of, by_tray))
            }
            _ => None,
        };
        let (off, off_by_tray) =
            off.map_or((None, Vec::new()), |(of, by_tray)| (Some(of), by_tray));
        let seeds = match (found.thing, claim.generation) {
            (Thing::Cross, None) => in_store_or_sown(ledger.facts, found.id),
            _ => None,
        };
        let is_true = off.map_or(self.stated_true(), |off| 1.0 - off);
        let mut chances: Vec<(f64, f64)> = Vec::new();
        for case in &cases {
            let pass = share_of(&case.shares, &marker).p;
            let wanted = share_of(&case.shares, &both).p;
            let chance = if pass > 0.0 {
                wanted / pass * is_true
            } else {
                0.0
            };
            match chances.iter_mut().find(|(_, known)| *known == chance) {
                Some((weight, _)) => *weight += case.pair.weight,
                None => chances.push((case.pair.weight, chance)),
            }
        }
        Ok(Weighed {
            cases: chances,
            target: Some(target.name.clone()),
            off_share: off,
            seeds,
            off_by_tray,
            is_of_f1_plants: bred.f1_plants(&cases, &asked)?.is_some(),
            phase_open: bred.phase_open.clone(),
            not_stated: bred.not_stated.clone(),
            better_known: known_lines(&bred.better_known),
        })
    }
}

/// Things in their order, each once.
fn each_once<T: PartialEq>(all: impl Iterator<Item = T>) -> Vec<T> {
    all.fold(Vec::new(), |mut once, one| {
        if !once.contains(&one) {
            once.push(one);
        }
        once
    })
}

/// What is read of the ledger once.
struct Ledger<'l> {
    facts: &'l Facts,
    context: &'l Context<'l>,
    off: Option<&'l OffShares>,
    today: Day,
}
