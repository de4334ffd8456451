//! How seed does, as typed or by the ledger's own trays, and the parents it is of.
//!
//! `plan seeds`, `plan line` and `plan cross` ask.

use std::str::FromStr;

use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::Context;
use crate::diagnosis::counts::bench_trait;
use crate::diagnosis::index::Index;
use crate::diagnosis::looks::Looks;
use crate::genetics::catalogue::BENCH_TRAIT;
use crate::genetics::fraction::Fraction;
use crate::genetics::locus::LocusIx;
use crate::growing::lots::in_store;
use crate::planning::germination::{Sown, counted_early, counts_for, from_counts};
use crate::planning::off_share::{OffShare, OffShares};
use crate::planning::seeds::Sowing;
use crate::planning::targets::Asks;
use crate::records::admit::Remedy;
use crate::records::assumptions::Assumptions;
use crate::records::change::RowChange;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{CrossRow, PollinationRow, Table, Thing};
use crate::report::plan_sowing::{GerminationFrom, OffFrom};
use crate::stats::begun::Begun;

use super::plan_bred::{Asking, Bred};
use super::plan_seeds::SeedsArgs;
use super::plan_wishes::{Asked, chance};
use super::stated::{parents_of, read_genotype};
use super::thing::find;
use super::wanted::{Traits, own_trait};

/// Most seeds that typed counts are of.
const MOST_COUNTED: u64 = 1_000_000;

/// How much of the seed comes up, as typed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Germination {
    /// A share.
    Share(Fraction),
    /// Counts: up, sown.
    Counts(u64, u64),
}

impl FromStr for Germination {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let Some((up, sown)) = text.split_once(':') else {
            return chance(text).map(Self::Share);
        };
        let form = || "write how many are up of how many sown, 41:50".to_owned();
        let number = |text: &str| text.trim().parse::<u64>().ok();
        let (up, sown) = number(up).zip(number(sown)).ok_or_else(form)?;
        match sown {
            0 => Err(
                "of no seeds sown nothing is known; write how many are up of how many sown, 41:50"
                    .to_owned(),
            ),
            _ if sown > MOST_COUNTED => Err(format!(
                "counts of up to {MOST_COUNTED} seeds are read; give the share instead, 0.8"
            )),
            _ if up > sown => Err(format!(
                "{up} up of {sown} cannot be; write those that are up first, then all that were sown: {sown}:{up}"
            )),
            _ => Ok(Self::Counts(up, sown)),
        }
    }
}

/// Two parents and what is asked of their seed.
#[derive(Debug)]
pub struct Wished {
    /// The parents.
    pub bred: Bred,
    /// What is wanted.
    pub asked: Asked,
    /// The early look.
    pub marker: Asks,
    /// The parents by everything recorded, where that is more than is stated of them.
    pub better: Option<Bred>,
}

/// How seed does and where that comes from, and the parents.
#[derive(Debug)]
pub struct Seed {
    germination: Begun,
    /// Where it comes from.
    pub germination_from: GerminationFrom,
    /// Trays of the cross that were last counted too early to tell.
    pub counted_early: Vec<String>,
    /// Seeds of the cross in store, where that is known and it is its seed that is sown.
    pub in_store: Option<u64>,
    off_share: f64,
    /// Where that comes from.
    pub off_from: OffFrom,
    /// The share tray by tray, with how likely each is, where the ledger tells it.
    pub off_by_tray: Vec<(f64, f64)>,
    /// The parents with what is asked of their seed, where they were named.
    pub wished: Option<Wished>,
    /// What is to be said beside the answer.
    pub remark: Option<String>,
}

impl Seed {
    /// As typed; every seed comes up true where nothing was.
    #[must_use]
    pub fn typed(germination: Option<Germination>, off_share: Option<Fraction>) -> Self {
        let (germination, germination_from) = match germination {
            None => (Begun::Known(1.0), GerminationFrom::Nothing),
            Some(Germination::Share(share)) => {
                (Begun::Known(share.value()), GerminationFrom::Typed)
            }
            Some(Germination::Counts(up, sown)) => (
                from_counts(up, sown),
                GerminationFrom::TypedCounts(up, sown),
            ),
        };
        Self {
            germination,
            germination_from,
            counted_early: Vec::new(),
            in_store: None,
            off_share: off_share.map_or(0.0, Fraction::value),
            off_from: off_share.map_or(OffFrom::Nothing, |_| OffFrom::Typed),
            off_by_tray: Vec::new(),
            wished: None,
            remark: None,
        }
    }

    /// As the plan reckons with it.
    #[must_use]
    pub const fn sowing(&self) -> Sowing {
        Sowing {
            germination: self.germination,
            off_share: self.off_share,
        }
    }

    /// What was not typed, by the ledger's own trays of a cross.
    ///
    /// # Errors
    /// [`Failure`] where the trays cannot be weighed.
    pub fn learn(
        &mut self,
        context: &Context<'_>,
        today: Day,
        cross: Option<i64>,
        mother: i64,
        is_sown_itself: bool,
    ) -> Result<(), Failure> {
        let facts = context.index.facts;
        if self.germination_from == GerminationFrom::Nothing {
            let seed = match is_sown_itself {
                true => Sown::Itself(cross),
                false => Sown::Later,
            };
            if let Some(counts) = counts_for(facts, seed, mother, today) {
                self.germination = counts.begun();
                self.germination_from = GerminationFrom::Ledger(counts);
            }
            if let (true, Some(cross)) = (is_sown_itself, cross) {
                self.counted_early = counted_early(facts, cross, today);
            }
        }
        match cross.filter(|_| is_sown_itself) {
            Some(cross) => self.learn_off(context, today, cross),
            None => Ok(()),
        }
    }

    /// How much is not of the label, where that was not typed, by the ledger's own trays of a cross.
    ///
    /// # Errors
    /// [`Failure`] where the trays cannot be weighed.
    pub fn learn_off(
        &mut self,
        context: &Context<'_>,
        today: Day,
        cross: i64,
    ) -> Result<(), Failure> {
        if self.off_from == OffFrom::Nothing {
            let learnt = OffShares::learn(context)?;
            let found = learnt.of(context, cross, today);
            self.off_share = found.share;
            self.off_from = OffFrom::Ledger(found);
            self.off_by_tray = learnt.by_tray(context, cross, today);
        }
        Ok(())
    }
}

/// What `plan seeds` is about: parents of the ledger or as typed, with what `wishes` reads of them.
///
/// # Errors
/// [`Failure`] where something cannot be read.
pub fn seed_at_hand(
    args: &SeedsArgs,
    world: &World,
    wishes: impl Fn(&mut Asked) -> Result<Asks, Failure>,
) -> Result<Seed, Failure> {
    let asking = Asking {
        generation: args.generation,
        recurrent: args.recurrent.unwrap_or_default(),
        is_believed: args.believed,
    };
    match (&args.cross, &args.mother, &args.father) {
        (Some(cross), ..) => {
            let (_, facts) = world.ask()?;
            let (label, parents) = parents_of(&facts, cross)?;
            let sown = SeedOf {
                label: Some(&label),
                cross: cross_of(&facts, cross)?,
                parents,
            };
            of_plants(args, world, &facts, sown, asking, wishes)
        }
        (None, Some(mother), Some(father)) => match coded(world, [mother, father])? {
            Some(_) if !args.rules.is_empty() => Err(Failure::usage(
                "--rule goes with two genotypes, not with plants of the ledger",
            )
            .because("a gene model of your own for them is recorded with 'trait model add'")
            .try_remedy(Remedy::Without("--rule"))),
            Some((facts, parents)) => of_pair(args, world, facts, parents, asking, wishes),
            None if args.believed => Err(Failure::usage(
                "--believed is of plants in the ledger; of a genotype as typed nothing more is known",
            )
            .try_remedy(Remedy::Without("--believed"))),
            None => of_genotypes(args, world, [mother, father], asking, wishes),
        },
        _ => Err(Failure::usage("of which seed?")
            .try_typing("locule plan seeds --mother A/a --father A/a --genotype a/a")),
    }
}

/// Seed of two plants of the ledger.
struct SeedOf<'s> {
    /// What it is called, where it is a cross or a tray.
    label: Option<&'s str>,
    /// The cross, where it is of one.
    cross: Option<i64>,
    /// Mother and father.
    parents: (i64, i64),
}

fn of_plants(
    args: &SeedsArgs,
    world: &World,
    facts: &Facts,
    sown: SeedOf<'_>,
    asking: Asking,
    wishes: impl Fn(&mut Asked) -> Result<Asks, Failure>,
) -> Result<Seed, Failure> {
    let looks = Looks::of(facts)?;
    let mut asked = asked_of_ledger(facts, &looks, &args.traits)?;
    let marker = wishes(&mut asked)?;
    let (beliefs, index) = (Assumptions::of(facts), Index::new(facts));
    let known: Vec<_> = asked
        .loci()
        .into_iter()
        .filter(|l| l.0 < looks.book.len())
        .collect();
    let context = Context::asking(&looks, &index, &beliefs, &known)?;
    let (parents, recombines) = (sown.parents, &args.recombines);
    let bred = Bred::of_plants(&context, &asked, sown.label, parents, asking, recombines)?;
    let mut seed = Seed::typed(args.germination, args.off_share);
    let is_own = asking.generation.is_none_or(|one| one.before().is_none());
    seed.in_store = sown
        .cross
        .filter(|_| is_own)
        .and_then(|cross| in_store(facts, cross));
    seed.learn(&context, world.day()?, sown.cross, parents.0, is_own)?;
    // A backcross is made by hand as the cross itself was.
    if let (Some(cross), true) = (sown.cross, asking.is_by_hand()) {
        seed.learn_off(&context, world.day()?, cross)?;
    }
    let better = match bred.better_known.is_empty() {
        true => None,
        // What cannot be worked out of it is left to --believed to say.
        false => {
            let asking = Asking {
                is_believed: true,
                ..asking
            };
            Bred::of_plants(&context, &asked, sown.label, parents, asking, recombines).ok()
        }
    };
    seed.wished = Some(Wished {
        bred,
        asked,
        marker,
        better,
    });
    Ok(seed)
}

/// Of two plants that were not crossed yet, as if they were on no known day, the anthers taken out.
fn of_pair(
    args: &SeedsArgs,
    world: &World,
    mut facts: Facts,
    parents: (i64, i64),
    asking: Asking,
    wishes: impl Fn(&mut Asked) -> Result<Asks, Failure>,
) -> Result<Seed, Failure> {
    let cross_id = add_cross(&mut facts, parents);
    let sown = SeedOf {
        label: None,
        cross: Some(cross_id),
        parents,
    };
    of_plants(args, world, &facts, sown, asking, wishes)
}

/// Adds a cross of two plants to what is known, made on no known day with the anthers taken out; gives its number.
fn add_cross(facts: &mut Facts, (mother_id, father_id): (i64, i64)) -> i64 {
    let (id, cross_id) = (
        facts.next_id(Table::Pollination),
        facts.next_id(Table::Cross),
    );
    facts.apply(&RowChange::insert(CrossRow {
        id: cross_id,
        mother_id,
        father_id,
    }));
    facts.apply(&RowChange::insert(PollinationRow {
        id,
        cross_id,
        day: None,
        flowers: None,
        tool: String::new(),
        wiped: false,
        emasculated: mother_id != father_id,
        covered: false,
        pods: None,
        dropped: None,
    }));
    cross_id
}

/// How much seed of a cross that is not made yet will not be of the label, at some loci, by the ledger's own mishaps.
///
/// # Errors
/// [`Failure`] where the trays cannot be weighed.
pub fn off_share_to_come(
    mut facts: Facts,
    looks: &Looks,
    loci: &[LocusIx],
    parents: (i64, i64),
    today: Day,
) -> Result<OffShare, Failure> {
    let cross = add_cross(&mut facts, parents);
    let (beliefs, index) = (Assumptions::of(&facts), Index::new(&facts));
    let context = Context::asking(looks, &index, &beliefs, loci)?;
    Ok(OffShares::learn(&context)?.of(&context, cross, today))
}

/// A ledger and two of its plants.
type Coded = (Facts, (i64, i64));

/// The two plants where both are named by codes of the ledger; nothing where genotypes are meant.
fn coded(world: &World, typed: [&String; 2]) -> Result<Option<Coded>, Failure> {
    let is_code = |text: &String| !text.contains(['/', ':', ' ', '|']);
    if !typed.iter().any(|text| is_code(text)) || !world.ledger.exists() {
        return Ok(None);
    }
    let Ok((_, facts)) = world.ask() else {
        return Ok(None);
    };
    let plant = |text: &String| {
        let found = find(&facts, text).ok()?;
        (is_code(text) && found.thing == Thing::Plant).then_some(found.id)
    };
    match typed.map(plant) {
        [Some(mother), Some(father)] => Ok(Some((facts, (mother, father)))),
        [None, None] => Ok(None),
        [mother, _] => {
            let (code, other) = if mother.is_some() {
                (typed[0], typed[1])
            } else {
                (typed[1], typed[0])
            };
            if is_code(other) {
                find(&facts, other)?;
            }
            Err(Failure::usage(format!(
                "{code} is a plant of the ledger, and {other} is none: name two plants, or two genotypes"
            ))
            .try_typing(format!("locule genotype {code}")))
        }
    }
}

/// The traits of a ledger, those named first to be asked for classes.
///
/// # Errors
/// [`Failure`] where a named trait is not known.
pub fn asked_of_ledger(facts: &Facts, looks: &Looks, named: &[String]) -> Result<Asked, Failure> {
    let bench = bench_trait(facts, looks).map(|place| looks.traits[place].code.clone());
    let traits = Traits::of_ledger(looks.clone());
    let named = named
        .iter()
        .map(|code| traits.named(code))
        .collect::<Result<_, _>>()?;
    Ok(Asked::new(traits, bench, named))
}

/// The cross that a text names by itself or by one of its trays.
///
/// # Errors
/// [`Failure`] where nothing has that name.
pub fn cross_of(facts: &Facts, typed: &str) -> Result<Option<i64>, Failure> {
    let found = find(facts, typed)?;
    Ok(match found.thing {
        Thing::Cross => Some(found.id),
        Thing::Batch => facts.batch.get(found.id).and_then(|row| row.cross_id),
        _ => None,
    })
}

fn of_genotypes(
    args: &SeedsArgs,
    world: &World,
    [mother, father]: [&String; 2],
    asking: Asking,
    wishes: impl Fn(&mut Asked) -> Result<Asks, Failure>,
) -> Result<Seed, Failure> {
    let (at_hand, remark) = Traits::at_hand(world);
    let read = |mut traits: Traits| {
        let own = own_trait("--rule", &args.rules, &mut traits.book)?;
        let genotypes = [
            read_genotype("--mother", mother, &mut traits.book)?,
            read_genotype("--father", father, &mut traits.book)?,
        ];
        let named = args.traits.iter().map(|code| traits.named(code));
        let mut named: Vec<_> = named.collect::<Result<_, _>>()?;
        named.extend(own);
        let mut asked = Asked::new(traits, Some(BENCH_TRAIT.to_owned()), named);
        let marker = wishes(&mut asked)?;
        Ok((asked, genotypes, marker))
    };
    let (asked, [mother, father], marker) = match read(at_hand) {
        Ok(read) => read,
        // Genotypes and rules of one's own may use symbols that are taken otherwise among the known loci.
        Err(refused) => match args.traits.is_empty() {
            true => read(Traits::none()).map_err(|_| refused)?,
            false => return Err(refused),
        },
    };
    let bred = Bred::of_genotypes(&asked, [&mother, &father], asking, &args.recombines)?;
    Ok(Seed {
        wished: Some(Wished {
            bred,
            asked,
            marker,
            better: None,
        }),
        remark,
        ..Seed::typed(args.germination, args.off_share)
    })
}
