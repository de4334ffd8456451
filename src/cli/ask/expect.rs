//! `expect`: what a cross should give, of two genotypes or of a cross in the ledger.

use std::str::FromStr;

use clap::Args;

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::Context;
use crate::diagnosis::counts::{bench_trait, label_expectation, traits_read};
use crate::diagnosis::expectation::{Mating, expect};
use crate::diagnosis::index::Index;
use crate::diagnosis::looks::Looks;
use crate::genetics::expect::{Parent, founder_genotypes, loci_read};
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::notation::{Genotype, NotationError, StatedLocus};
use crate::genetics::rule::GeneModel;
use crate::records::admit::Remedy;
use crate::records::assumptions::Assumptions;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::genes::{linked_pairs, read_number};
use crate::records::near::nearest;
use crate::records::rows::Thing;
use crate::report::expect::{Asked, ExpectAnswer};
use crate::report::text::shown;

use super::thing::{batches, find, unknown};
use super::wanted::{Traits, Wanted, linked_among, own_trait};

/// Oldest age that is asked about, in days.
const OLDEST: f64 = 10_000.0;

/// What should a cross give? Of two genotypes (`expect --mother "A/a B/b" --father "A/a B/b"`) or of a
/// cross in the ledger (`expect X1`)
#[derive(Debug, Args)]
pub struct ExpectArgs {
    /// A cross of the ledger
    #[arg(value_name = "CROSS", required_unless_present = "mother", conflicts_with_all = ["mother", "father"])]
    cross: Option<String>,
    /// The mother's genotype, loci separated by spaces: "A/a Pun1/pun1"
    #[arg(long, value_name = "GENOTYPE", requires = "father")]
    mother: Option<String>,
    /// The father's genotype
    #[arg(long, value_name = "GENOTYPE", requires = "mother")]
    father: Option<String>,
    /// The trait asked about; again for several at once
    #[arg(long = "trait", value_name = "TRAIT")]
    traits: Vec<String>,
    /// A rule of a gene model of your own, such as 'A/_ => purple', the last one perhaps 'else => green';
    /// again for each rule
    #[arg(long = "rule", value_name = "RULE")]
    rules: Vec<String>,
    /// A recombination fraction of two loci: A,B=0.12; again for each pair
    #[arg(long, value_name = "LOCUS,LOCUS=FRACTION")]
    recombines: Vec<Recombines>,
    /// Age of the seedlings in days since they came up, for traits that show late
    #[arg(long, value_name = "DAYS", allow_negative_numbers = true)]
    age: Option<f64>,
}

/// A recombination fraction as typed with `--recombines`: two loci and the fraction.
#[derive(Debug, Clone, PartialEq)]
struct Recombines {
    loci: [String; 2],
    r: f64,
}

impl FromStr for Recombines {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let form = || "write two loci and a fraction, such as A,B=0.12".to_owned();
        let (pair, r) = text.split_once('=').ok_or_else(form)?;
        let (one, other) = pair.split_once(',').ok_or_else(form)?;
        let loci = [one.trim().to_owned(), other.trim().to_owned()];
        let r = read_number(r).ok_or_else(form)?;
        if !(0.0..=0.5).contains(&r) {
            return Err(format!(
                "{r} is no recombination fraction; it lies from 0 to 0.5"
            ));
        }
        if loci.iter().any(String::is_empty) || loci[0] == loci[1] {
            return Err(form());
        }
        Ok(Self { loci, r })
    }
}

/// Traits, the mother's and the father's genotype, as typed.
type Read = (Vec<Wanted>, Genotype, Genotype);

impl ExpectArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where a genotype, rule, trait or code cannot be read.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        self.check_age()?;
        match (&self.cross, &self.mother, &self.father) {
            (None, Some(mother), Some(father)) => self.of_genotypes(world, mother, father),
            (Some(cross), ..) => self.of_cross(world, cross),
            _ => Err(Failure::usage("name a cross, or two genotypes")
                .try_typing("locule expect --mother A/a --father a/a")),
        }
    }

    fn check_age(&self) -> Result<(), Failure> {
        match self.age {
            Some(age) if !(0.0..=OLDEST).contains(&age) => Err(Failure::usage(format!(
                "--age {age} is no age: give the days since the seedlings came up, 0 to {OLDEST}"
            ))
            .try_typing("locule expect --mother A/a --father a/a --age 14")),
            _ => Ok(()),
        }
    }

    /// Declines what is not computed; free recombination is what an expectation takes for granted.
    ///
    /// # Errors
    /// [`Failure`] naming a locus that is not known, or the pair that is linked.
    fn check_linkage(&self, book: &LocusBook) -> Result<(), Failure> {
        for Recombines { loci, r } in &self.recombines {
            for locus in loci {
                if book.find(locus).is_none() {
                    let known: Vec<&str> = book.iter().map(|(_, l)| l.symbol.as_str()).collect();
                    let near = nearest(locus, known);
                    let what = format!("--recombines: there is no locus '{}'", shown(locus));
                    let mut failure = Failure::refused(what);
                    if !near.is_empty() {
                        failure = failure.because(format!("the nearest: {}", near.join(", ")));
                    }
                    return Err(failure.try_remedy(Remedy::Without("--recombines")));
                }
            }
            if *r < 0.5 {
                let pair = loci.join(" and ");
                return Err(Failure::refused(format!(
                    "{pair} at {r}: linked loci are not computed yet"
                ))
                .because("loci are taken as independent here, as if each fraction were 0.5")
                .try_remedy(Remedy::Without("--recombines")));
            }
        }
        Ok(())
    }

    fn of_cross(&self, world: &World, typed: &str) -> Result<Outcome, Failure> {
        if !self.rules.is_empty() {
            return Err(Failure::usage(
                "--rule goes with --mother and --father, not with a cross of the ledger",
            )
            .because("a gene model of your own for it is recorded with 'trait model add'")
            .try_typing(format!("locule expect {typed}")));
        }
        let (_, facts) = world.ask()?;
        let beliefs = Assumptions::of(&facts);
        let looks = Looks::of(&facts)?;
        self.check_linkage(&looks.book)?;
        let index = Index::new(&facts);
        let context = Context::new(&looks, &index, &beliefs)?;
        let (label, parents) = parents_of(&facts, typed)?;
        let places = self.places(&context, &label)?;
        let expectation = label_expectation(&context, parents, &places, self.age)
            .map_err(|error| Failure::refused(error.to_string()))?;
        let loci = looks.loci_read(&places);
        let genotype = |plant: i64| {
            let code = facts
                .plant
                .get(plant)
                .map_or_else(String::new, |row| facts.plant_label(row));
            let stated: Vec<String> = loci
                .iter()
                .filter_map(|locus| context.plants.stated(plant, *locus))
                .collect();
            if stated.is_empty() {
                code
            } else {
                format!("{code} {}", stated.join(" "))
            }
        };
        let asked = Asked {
            mother: genotype(parents.0),
            father: genotype(parents.1),
            ignored: Vec::new(),
            not_stated: not_stated(&context, &facts, &loci, parents),
            linked: linked_among(linked_pairs(&facts), &looks.book, &loci),
            cross: Some(label),
            traits: places
                .iter()
                .map(|place| {
                    let look = &looks.traits[*place];
                    (
                        look.code.clone(),
                        look.classes
                            .iter()
                            .map(|class| class.name.clone())
                            .collect(),
                    )
                })
                .collect(),
            age: self.age,
        };
        Ok(world.answer(&ExpectAnswer::new(asked, &expectation)))
    }

    /// The traits asked about; without any those read in the trays of the cross, else the bench trait.
    fn places(&self, context: &Context<'_>, cross: &str) -> Result<Vec<usize>, Failure> {
        let facts = context.index.facts;
        let named = self.traits.iter().map(|code| {
            let row = facts
                .code_named(code)
                .filter(|row| row.thing == Thing::Trait);
            row.and_then(|row| context.looks.place(row.thing_id))
                .ok_or_else(|| {
                    unknown(facts, code, &[Thing::Trait]).try_typing("locule trait list")
                })
        });
        let named: Vec<usize> = named.collect::<Result<_, _>>()?;
        if !named.is_empty() {
            return Ok(named);
        }
        let sown = batches(facts, &[cross.to_owned()]).unwrap_or_default();
        let read = traits_read(context, &sown);
        let bench = bench_trait(facts, context.looks);
        match (read.is_empty(), bench) {
            (false, _) => Ok(read),
            (true, Some(bench)) => Ok(vec![bench]),
            (true, None) => Err(
                Failure::refused("which look is meant? there is no bench trait")
                    .try_typing("locule trait bench foliage"),
            ),
        }
    }

    fn of_genotypes(&self, world: &World, mother: &str, father: &str) -> Result<Outcome, Failure> {
        let (traits, remark, asked) = self.read_at_hand(world, mother, father)?;
        let (wanted, mother_genotype, father_genotype) = asked;
        self.check_linkage(&traits.book)?;
        let models: Vec<&GeneModel> = wanted.iter().map(|wanted| &wanted.model).collect();
        let loci = loci_read(&models);
        let at_word = |genotype: &Genotype| {
            Parent::stated(genotype, &loci, |locus| {
                founder_genotypes(&traits.book.get(locus).shares(), 0.0)
            })
        };
        let (mother_plant, father_plant) = (at_word(&mother_genotype), at_word(&father_genotype));
        let scored: Vec<_> = wanted.iter().map(Wanted::scored).collect();
        let expectation = expect(
            Mating::Cross(&mother_plant, &father_plant),
            &scored,
            self.age,
        )
        .map_err(|error| Failure::refused(error.to_string()))?;
        let asked = Asked {
            ignored: ignored(&traits.book, &loci, [&mother_genotype, &father_genotype]),
            not_stated: open_loci(&traits.book, &loci, &mother_genotype, &father_genotype),
            linked: traits.linked(&loci),
            cross: None,
            mother: mother_genotype.written(&traits.book),
            father: father_genotype.written(&traits.book),
            traits: wanted
                .iter()
                .map(|w| (w.name.clone(), w.classes.clone()))
                .collect(),
            age: self.age,
        };
        let outcome = world.answer(&ExpectAnswer::new(asked, &expectation));
        Ok(match remark {
            Some(remark) => outcome.remarking(&remark),
            None => outcome,
        })
    }

    /// The traits and genotypes by what is known at hand; rules of one's own may use symbols that are taken
    /// otherwise among the known loci, so they are read by themselves where they do not fit there.
    fn read_at_hand(
        &self,
        world: &World,
        mother: &str,
        father: &str,
    ) -> Result<(Traits, Option<String>, Read), Failure> {
        let (mut traits, remark) = Traits::at_hand(world);
        let refused = match self.read_genotypes(&mut traits, mother, father) {
            Ok(read) => return Ok((traits, remark, read)),
            Err(refused) => refused,
        };
        if self.traits.is_empty() && !self.rules.is_empty() {
            let mut bare = Traits::none();
            if let Ok(read) = self.read_genotypes(&mut bare, mother, father) {
                return Ok((bare, None, read));
            }
        }
        Err(refused)
    }

    fn read_genotypes(
        &self,
        traits: &mut Traits,
        mother: &str,
        father: &str,
    ) -> Result<Read, Failure> {
        let own = own_trait(&self.rules, &mut traits.book)?;
        let mother = read_genotype("--mother", mother, &mut traits.book)?;
        let father = read_genotype("--father", father, &mut traits.book)?;
        let mut wanted = Vec::new();
        for code in &self.traits {
            wanted.push(traits.named(code)?);
        }
        wanted.extend(own);
        if wanted.is_empty() {
            wanted.push(traits.bench_reading(&[&mother, &father])?);
        }
        Ok((wanted, mother, father))
    }
}

/// What two genotypes state at loci that are not read, each once.
fn ignored(book: &LocusBook, loci: &[LocusIx], genotypes: [&Genotype; 2]) -> Vec<String> {
    let stated = genotypes.into_iter().flat_map(|genotype| &genotype.loci);
    let mut found: Vec<String> = Vec::new();
    for at in stated.filter(|at| !loci.contains(&at.locus)) {
        let written = at.written(book);
        if !found.contains(&written) {
            found.push(written);
        }
    }
    found
}

/// The loci of which two genotypes leave something open, by parent.
fn open_loci(
    book: &LocusBook,
    loci: &[LocusIx],
    mother: &Genotype,
    father: &Genotype,
) -> Vec<String> {
    let open = |who: &'static str, genotype: &Genotype| {
        let open = loci.iter().filter(|locus| {
            genotype
                .at(**locus)
                .and_then(StatedLocus::diploid)
                .is_none()
        });
        open.map(|locus| format!("{who} at {}", book.get(*locus).symbol))
            .collect::<Vec<_>>()
    };
    [open("the mother", mother), open("the father", father)].concat()
}

/// The loci of which nothing is known for certain, by parent.
fn not_stated(
    context: &Context<'_>,
    facts: &Facts,
    loci: &[LocusIx],
    parents: (i64, i64),
) -> Vec<String> {
    let mut plants = vec![parents.0, parents.1];
    plants.dedup();
    let mut found = Vec::new();
    for plant in plants {
        let code = facts
            .plant
            .get(plant)
            .map_or_else(String::new, |row| facts.plant_label(row));
        for locus in loci {
            let sure = context
                .plants
                .at_word(plant, *locus)
                .iter()
                .filter(|p| **p > 0.0)
                .count()
                == 1;
            if !sure {
                found.push(format!(
                    "{code} at {}",
                    context.looks.book.get(*locus).symbol
                ));
            }
        }
    }
    found
}

/// The label and the parents of a cross, of a tray, or of a parent's packet.
fn parents_of(facts: &Facts, typed: &str) -> Result<(String, (i64, i64)), Failure> {
    let found = find(facts, typed)?;
    let parents = match found.thing {
        Thing::Cross => facts
            .cross
            .get(found.id)
            .map(|row| (row.mother_id, row.father_id)),
        Thing::Batch => facts
            .batch
            .get(found.id)
            .and_then(|row| label_parents(facts, row)),
        Thing::Plant | Thing::Trait | Thing::Lot => None,
    };
    parents
        .map(|parents| (found.label.clone(), parents))
        .ok_or_else(|| {
            Failure::refused(format!(
                "{} is a {}, not a cross or tray",
                found.label, found.thing
            ))
            .try_typing("locule expect X1")
        })
}

fn read_genotype(flag: &str, text: &str, book: &mut LocusBook) -> Result<Genotype, Failure> {
    Genotype::parse(text, book).map_err(|error| bad_genotype(flag, text, &error))
}

/// A genotype that cannot be read, with a caret at the character meant.
pub fn bad_genotype(place: &str, text: &str, error: &NotationError) -> Failure {
    let mut failure = Failure::usage(format!("{place}: {error}"));
    for line in error.pointed(text).lines() {
        failure = failure.because(line);
    }
    failure.because(error.hint()).try_typing(
        "locule expect --mother 'A/a Pun1/pun1' --father 'a/a Pun1/Pun1' --trait foliage",
    )
}
