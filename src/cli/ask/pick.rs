//! `pick`: which seedlings to keep, which to pull and which to spare for now.

use std::collections::HashMap;

use clap::Args;

use super::thing::batches;
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::answer::{BatchAnswer, SeedlingAnswer, Suspects};
use crate::diagnosis::rank::{RankError, rank};
use crate::diagnosis::suspects::suspects_then;
use crate::diagnosis::together::Together;
use crate::growing::grouping::Grouping;
use crate::growing::sizes::{Asked, Nothing, Sizes, sizes};
use crate::planning::pick::{AsKept, Field, Stand, Wanted, pick};
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::records::species::is_wide_batch;
use crate::records::tray::Tray;
use crate::report::pick::{CrossToTell, PickAnswer, Rest, Told};
use crate::report::sheet::Style;

/// Most places that can be shared, as for `plan space`.
const MOST: u64 = 5_000;

/// Which seedlings to keep, which to pull and which to spare until a day: by how likely each is the cross on its label, the
/// goals set with `goal add`, what was measured, and pots and trays. With --on DATE it is judged as on that day
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  locule pick T1\n  locule pick X1 X2 --per-cross 2 --places 10\n  locule pick --places 12 --reserve 2 --paper > pick.txt\n\nNothing is recorded. What you pulled is recorded with 'cull' and 'thin'; the answer ends with the words to type."
)]
pub struct PickArgs {
    /// Trays and crosses; without any, everything sown
    #[arg(value_name = "TRAY|CROSS")]
    of: Vec<String>,
    /// How many to keep of each cross
    #[arg(long, value_name = "N", default_value = "2", value_parser = clap::value_parser!(u64).range(1..=MOST))]
    per_cross: u64,
    /// How many places there are in all, shared over the crosses so that most have a true one, each counted by what it is worth
    /// by your goals; without it every cross may have its number
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=MOST))]
    places: Option<u64>,
    /// How many seedlings to keep in reserve, for what may be lost; they come out of --places
    #[arg(long, value_name = "N", default_value = "0", value_parser = clap::value_parser!(u64).range(0..=MOST))]
    reserve: u64,
    /// The measure that says how large they are, where several were recorded
    #[arg(long, value_name = "MEASURE")]
    size: Option<String>,
    /// Lay it out in pages to print, 80 columns by 60 lines
    #[arg(long)]
    paper: bool,
    /// Write it as Markdown
    #[arg(long, conflicts_with = "paper")]
    markdown: bool,
}

impl PickArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, a code is unknown, or what is wanted in reserve leaves no place to keep one.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let wanted = self.wanted()?;
        let (ledger, facts) = world.ask()?;
        let rows = batches(&facts, &self.of)?;
        let ids: Vec<i64> = rows.iter().map(|row| row.id).collect();
        let aside = Aside::of(world, &facts, &rows, self.size.as_deref())?;
        let answer = |mut found: Suspects, together: &Together<'_, '_>| {
            let place = |batch: &BatchAnswer| ids.iter().position(|id| *id == batch.batch_id);
            found.batches.sort_by_key(place);
            let crosses = aside.crosses(&found);
            let fields: Vec<Field> = crosses.iter().map(|cross| cross.field.clone()).collect();
            let picked = pick(&fields, wanted, &|batch, choices| {
                together.all_off(batch, choices)
            });
            PickAnswer::new(&found, &crosses, &picked, wanted, aside.rest.clone())
        };
        let answer = suspects_then(&facts, world.day()?, Some(&ids), answer)?;
        let style = match (self.paper, self.markdown) {
            (true, _) => Some(Style::Plain),
            (_, true) => Some(Style::Markdown),
            _ => None,
        };
        Ok(world.answer(&answer.laid_out(style, ledger.fingerprint())))
    }

    fn wanted(&self) -> Result<Wanted, Failure> {
        let number = |n: u64| usize::try_from(n).expect("it is at most 5,000");
        if let Some(places) = self.places.filter(|places| *places <= self.reserve) {
            let there = match places {
                1 => "there is 1 place".to_owned(),
                n => format!("there are {n} places"),
            };
            return Err(Failure::usage(format!(
                "{} are to be kept in reserve, but {there}, so nothing could be kept",
                self.reserve
            ))
            .try_flag("--reserve", (places - 1).to_string()));
        }
        Ok(Wanted {
            per_cross: number(self.per_cross),
            places: self.places.map(number),
            reserve: number(self.reserve),
        })
    }
}

/// What is known of seedlings beside the diagnosis.
struct Aside<'f> {
    facts: &'f Facts,
    /// Seedlings by the name that the diagnosis has for them.
    plants: HashMap<String, i64>,
    /// What each is worth by the goals.
    merits: HashMap<i64, f64>,
    sizes: Option<Sizes>,
    rest: Rest,
}

impl<'f> Aside<'f> {
    fn of(
        world: &World,
        facts: &'f Facts,
        rows: &[&BatchRow],
        measure: Option<&str>,
    ) -> Result<Self, Failure> {
        let trays = rows.iter().filter_map(|row| Tray::of(facts, row.id));
        let seedlings = trays.flat_map(|tray| tray.seedlings());
        let named = seedlings.map(|row| (facts.place_label(row), row.id));
        let plants: HashMap<String, i64> = named.collect();
        let mut rest = Rest::default();
        let (sizes, several) = sizes_of(world, facts, rows, measure)?;
        rest.several_measures = several;
        let mut ids: Vec<i64> = plants.values().copied().collect();
        ids.sort_unstable();
        let seen = facts.seen_until(world.day()?);
        let merits = match rank(seen.as_ref().unwrap_or(facts), &ids) {
            Ok(ranking) => {
                rest.goals = true;
                let ranked = ranking.ranked.iter();
                ranked.map(|one| (one.plant, one.if_true)).collect()
            }
            Err(RankError::NoGoals) => HashMap::new(),
            Err(error) => {
                rest.goals_declined = Some(error.to_string());
                HashMap::new()
            }
        };
        Ok(Self {
            facts,
            plants,
            merits,
            sizes,
            rest,
        })
    }

    /// The seedlings by what was sown, in the order of their trays.
    fn crosses<'s>(&self, found: &'s Suspects) -> Vec<CrossToTell<'s>> {
        let mut crosses: Vec<CrossToTell<'s>> = Vec::new();
        for batch in &found.batches {
            let same = |cross: &CrossToTell<'_>| {
                let first = cross.batches[0];
                (first.packet, &first.cross) == (batch.packet, &batch.cross)
            };
            let at = crosses.iter().position(same).unwrap_or_else(|| {
                crosses.push(CrossToTell {
                    batches: vec![],
                    field: Field {
                        trays: vec![],
                        mother: self.mother(batch.batch_id),
                        stands: vec![],
                    },
                    told: vec![],
                    goals_left_out: false,
                });
                crosses.len() - 1
            });
            self.add(&mut crosses[at], batch);
        }
        if self.rest.goals {
            crosses.iter_mut().for_each(leave_out_goals_of_some);
        }
        crosses
    }

    fn mother(&self, batch: i64) -> i64 {
        let row = self.facts.batch.get(batch);
        row.and_then(|row| label_parents(self.facts, row))
            .map_or(0, |(mother, _)| mother)
    }

    fn add<'s>(&self, cross: &mut CrossToTell<'s>, batch: &'s BatchAnswer) {
        let tray = cross.field.trays.len();
        cross.field.trays.push(batch.batch_id);
        cross.batches.push(batch);
        let row = self.facts.batch.get(batch.batch_id);
        let wide = row.is_some_and(|row| is_wide_batch(self.facts, row));
        for (at, one) in batch.seedlings.iter().enumerate() {
            let plant = one
                .seedling
                .as_ref()
                .and_then(|name| self.plants.get(name).copied());
            let (stand, told) = self.stand((tray, at), one, plant, wide);
            cross.field.stands.push(stand);
            cross.told.push(told);
        }
    }

    fn stand(
        &self,
        (tray, at): (usize, usize),
        one: &SeedlingAnswer,
        plant: Option<i64>,
        wide: bool,
    ) -> (Stand, Told) {
        let code = plant.and_then(|plant| self.facts.code_of(Thing::Plant, plant));
        let kept = match (&one.kept, code) {
            (Some(_), _) => Some(AsKept::Adopted),
            (None, Some(_)) => Some(AsKept::Label),
            (None, None) => None,
        };
        let sizes = self.sizes.as_ref();
        let size = plant.zip(sizes).and_then(|(plant, sizes)| {
            let label = self.facts.label_of_plant(plant);
            sizes.sizes.iter().find(|size| size.seedling == label)
        });
        let stand = Stand {
            merit: plant.and_then(|plant| self.merits.get(&plant).copied()),
            size: size.and_then(|size| size.z).filter(|_| !wide),
            runt: size.is_some_and(|size| size.is_runt()) && !wide,
            kept,
            ..Stand::of(one, tray, at)
        };
        let told = Told {
            code: code.map(str::to_owned),
            measure: size.zip(sizes).map(|(size, sizes)| {
                let unit = match sizes.unit.as_str() {
                    "" => String::new(),
                    unit => format!(" {unit}"),
                };
                format!("{} {}{unit}", sizes.name, size.value)
            }),
            wide,
        };
        (stand, told)
    }
}

/// Goals count in a cross where all that can be chosen were ranked: a count follows no seedling, so none of it is.
fn leave_out_goals_of_some(cross: &mut CrossToTell<'_>) {
    let stands = &mut cross.field.stands;
    if stands.iter().any(|stand| stand.merit.is_none()) {
        cross.goals_left_out = true;
        stands.iter_mut().for_each(|stand| stand.merit = None);
    }
}

/// How large seedlings are, where one thing was measured; else what was, if several things were.
fn sizes_of(
    world: &World,
    facts: &Facts,
    rows: &[&BatchRow],
    measure: Option<&str>,
) -> Result<(Option<Sizes>, Vec<String>), Failure> {
    let asked = Asked {
        of: measure.map(str::to_owned),
        by: Grouping::Tray,
        on: world.day()?,
    };
    match (sizes(facts, rows, &asked), measure) {
        (Ok(sizes), _) => Ok((Some(sizes), Vec::new())),
        (Err(Nothing::Several(names)), _) => Ok((None, names)),
        (Err(_), None) => Ok((None, Vec::new())),
        (Err(Nothing::OfThatName(name, known)), Some(_)) => Err(Failure::refused(format!(
            "nothing called {name} was measured of these"
        ))
        .because(format!("measured: {}", known.join(", ")))
        .try_flag("--size", &known[0])),
        (Err(Nothing::Measured), Some(name)) => {
            Err(Failure::refused("no seedling of these was measured")
                .try_typing(format!("locule measure T1-03 {name}=42mm")))
        }
    }
}
