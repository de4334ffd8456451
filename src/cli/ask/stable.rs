//! `stable`: how likely a plant still splits for a trait.

use clap::Args;

use super::genotype::failed;
use super::thing::{find, unknown};
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::{Basis, Context};
use crate::diagnosis::counts::{bench_trait, traits_read};
use crate::diagnosis::frozen::counted_before_pulling;
use crate::diagnosis::stable::{CONFIDENCES, Stability, StableError, selfed_batches, stability};
use crate::genetics::progeny::{
    Mistakes, ProgenyTest, Seen, chance_of_splitting, more_needed, one_gene,
};
use crate::records::facts::Facts;
use crate::records::rows::Thing;
use crate::report::stable::{ClassSeen, StableAnswer, StableTrait};

/// Is it stable yet: how likely a plant still splits for a trait, and how many more of its selfed seedlings, all
/// alike, would settle it
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (the last two need no ledger; 1/3 is the chance that an F2 plant of dominant look is pure):\n  locule stable NL\n  locule stable T2-04 --trait foliage\n  locule stable --alike 12\n  locule stable --alike 6 --testcross --pure 1/2"
)]
pub struct StableArgs {
    /// The plant: NL, or a seedling's place
    #[arg(
        value_name = "PLANT",
        required_unless_present = "alike",
        conflicts_with = "alike"
    )]
    plant: Option<String>,
    /// The trait; without it those that its selfed seedlings were scored for
    #[arg(long = "trait", value_name = "CODE", conflicts_with = "alike")]
    of: Option<String>,
    /// Seedlings of the dominant look, of a plant of that look; one gene
    #[arg(long, value_name = "N")]
    alike: Option<u64>,
    /// Seedlings of the other look beside them
    #[arg(long, value_name = "N", requires = "alike", default_value_t = 0)]
    unlike: u64,
    /// They are of a testcross with the recessive look, not of selfed seed
    #[arg(long, requires = "alike")]
    testcross: bool,
    /// The chance that the plant is pure before its seedlings were looked at
    #[arg(long, value_name = "CHANCE", requires = "alike", default_value = "1/3", value_parser = chance)]
    pure: f64,
}

/// A probability as a decimal or a fraction: 0.5, 1/3.
fn chance(text: &str) -> Result<f64, String> {
    let number = |text: &str| text.trim().parse::<f64>().ok();
    let value = match text.split_once('/') {
        Some((n, d)) => number(n).zip(number(d)).map(|(n, d)| n / d),
        None => number(text),
    };
    value
        .filter(|p| (0.0..=1.0).contains(p))
        .ok_or_else(|| "write a chance from 0 to 1, such as 0.5 or 1/3".to_owned())
}

/// The most seedlings that are taken as a bare count.
const MOST_COUNTED: u64 = 1_000_000;

impl StableArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where the ledger cannot be read, or a code is unknown or names no plant or trait.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        match (&self.plant, self.alike) {
            (Some(plant), _) => of_plant(world, plant, self.of.as_deref()),
            (None, alike) => self.of_counts(world, alike.unwrap_or(0)),
        }
    }

    fn of_counts(&self, world: &World, alike: u64) -> Result<Outcome, Failure> {
        if alike.max(self.unlike) > MOST_COUNTED {
            return Err(
                Failure::usage(format!("at most {MOST_COUNTED} seedlings can be counted"))
                    .try_typing("locule stable --alike 12"),
            );
        }
        let (test, word) = if self.testcross {
            (ProgenyTest::Testcross, "testcross")
        } else {
            (ProgenyTest::Selfed, "self")
        };
        let seen = Seen {
            alike,
            unlike: self.unlike,
        };
        let open = one_gene(self.pure, test, Seen::default(), Mistakes::default());
        let now = one_gene(self.pure, test, seen, Mistakes::default());
        let [more_for_95, more_for_99] =
            CONFIDENCES.map(|confidence| more_needed(&now, confidence));
        let count = |class: &str, count| ClassSeen {
            class: class.to_owned(),
            count,
        };
        Ok(world.answer(&StableAnswer {
            plant: None,
            test: word,
            traits: vec![StableTrait {
                of: None,
                class: "alike".to_owned(),
                offspring: vec![count("alike", alike), count("unlike", self.unlike)],
                trays: Vec::new(),
                p_splits_before: chance_of_splitting(&open, 0),
                p_splits: chance_of_splitting(&now, 0),
                more_for_95,
                more_for_99,
            }],
        }))
    }
}

fn of_plant(world: &World, typed: &str, of: Option<&str>) -> Result<Outcome, Failure> {
    let (_, facts) = world.ask()?;
    let found = find(&facts, typed)?;
    if found.thing != Thing::Plant {
        return Err(Failure::refused(format!(
            "{} is a {}, and one plant is meant",
            found.label, found.thing
        ))
        .try_typing(format!("locule pedigree {}", found.label)));
    }
    let basis = Basis::of(&facts)?;
    let context = basis.context()?;
    let mut traits = Vec::new();
    for place in choose_traits(&context, found.id, of)? {
        let answer = stability_of(&facts, &context, found.id, place)?
            .map_err(|error| untold(error, &context.looks.traits[place].code))?;
        let look = &context.looks.traits[place];
        let [more_for_95, more_for_99] = answer.more;
        traits.push(StableTrait {
            of: Some(look.code.clone()),
            class: look.classes[answer.class].name.clone(),
            offspring: look
                .classes
                .iter()
                .zip(&answer.offspring)
                .map(|(class, count)| ClassSeen {
                    class: class.name.clone(),
                    count: *count,
                })
                .collect(),
            trays: answer.trays.iter().map(|id| tray(&facts, *id)).collect(),
            p_splits_before: answer.before,
            p_splits: answer.splits,
            more_for_95,
            more_for_99,
        });
    }
    Ok(world.answer(&StableAnswer {
        plant: Some(found.label),
        test: "self",
        traits,
    }))
}

/// Why nothing is said of a plant, as a failure.
fn untold(error: StableError, of: &str) -> Failure {
    match error {
        StableError::Genotype(error) => failed(error),
        other => Failure::refused(other.to_string()).try_typing(format!("locule show {of}")),
    }
}

fn tray(facts: &Facts, id: i64) -> String {
    facts
        .code_of(Thing::Batch, id)
        .unwrap_or_default()
        .to_owned()
}

/// How stable a plant is in a trait, by what was counted of its offspring before any were pulled for their looks.
fn stability_of(
    facts: &Facts,
    context: &Context<'_>,
    plant: i64,
    place: usize,
) -> Result<Result<Stability, StableError>, Failure> {
    match counted_before_pulling(facts, &[context.looks.traits[place].id]).facts {
        Some(counted) => {
            let basis = Basis::of(&counted)?;
            Ok(stability(&basis.context()?, plant, place))
        }
        None => Ok(stability(context, plant, place)),
    }
}

/// The trait named, else those that the plant's own seedlings were scored for, else the bench trait.
fn choose_traits(
    context: &Context<'_>,
    plant: i64,
    of: Option<&str>,
) -> Result<Vec<usize>, Failure> {
    let facts = context.index.facts;
    if let Some(code) = of {
        let row = facts
            .code_named(code)
            .filter(|row| row.thing == Thing::Trait);
        let place = row.and_then(|row| context.looks.place(row.thing_id));
        return place
            .map(|place| vec![place])
            .ok_or_else(|| unknown(facts, code, &[Thing::Trait]));
    }
    let batches: Vec<_> = selfed_batches(context, plant).collect();
    let read = traits_read(context, &batches);
    match (read.is_empty(), bench_trait(facts, context.looks)) {
        (false, _) => Ok(read),
        (true, Some(bench)) => Ok(vec![bench]),
        (true, None) => Err(Failure::refused("none of its selfed seedlings was scored")
            .try_flag("--trait", "foliage")),
    }
}
