//! `expect`: what a cross should give, of two genotypes or of a cross in the ledger.

use clap::Args;

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::Context;
use crate::diagnosis::counts::{Promise, bench_trait, descent_of, plant_at_word, traits_read};
use crate::diagnosis::expectation::Scored;
use crate::diagnosis::index::Index;
use crate::diagnosis::looks::Looks;
use crate::genetics::descent::{Descent, Generation, Recurrent};
use crate::genetics::expect::{Parent, founder_genotypes, loci_read};
use crate::genetics::notation::Genotype;
use crate::genetics::rule::{Cytoplasm, GeneModel};
use crate::genetics::selection::Selection;
use crate::records::admit::Remedy;
use crate::records::assumptions::Assumptions;
use crate::records::rows::Thing;
use crate::report::expect::{Asked, ExpectAnswer};

use super::believed::believed;
use super::breeding::{Recombines, unsorted};
use super::conditions::ConditionArgs;
use super::expect_reckon::Question;
use super::stated::{ignored, not_stated, open_loci, parents_of, read_genotype};
use super::thing::{batches, unknown};
use super::wanted::{Traits, Wanted, own_trait};

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
    /// How often two loci are parted: A,B=0.12, or in mothers and fathers apart A,B=0.1:0.3; again for each pair.
    /// It goes before what the ledger says
    #[arg(long, value_name = "LOCUS,LOCUS=FRACTION")]
    pub(super) recombines: Vec<Recombines>,
    /// A generation from the two parents: F1, F2, F3 ..., BC1, BC2 ..., BC1F2 ... or DH (doubled gametes of the F1)
    #[arg(long, value_name = "GENERATION")]
    generation: Option<Generation>,
    /// The parent that the hybrid is crossed back to, in a BC generation [default: mother]
    #[arg(long, value_name = "mother|father", value_parser = read_recurrent, requires = "generation")]
    recurrent: Option<Recurrent>,
    #[command(flatten)]
    pub(super) conditions: ConditionArgs,
    /// Say what to expect among so many plants
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    plants: Option<u64>,
    /// Average over what is known of the parents by everything recorded, their offspring included, instead of taking
    /// what is stated at its word
    #[arg(long, conflicts_with_all = ["mother", "father"])]
    believed: bool,
    /// Age of the seedlings in days since they came up, for traits that show late
    #[arg(long, value_name = "DAYS", allow_negative_numbers = true)]
    pub(super) age: Option<f64>,
}

pub(super) fn read_recurrent(text: &str) -> Result<Recurrent, String> {
    match text.to_lowercase().as_str() {
        "mother" => Ok(Recurrent::Mother),
        "father" => Ok(Recurrent::Father),
        _ => Err("it is mother or father".to_owned()),
    }
}

/// Traits, the mother's and the father's genotype, as typed.
type Read = (Vec<Wanted>, (Genotype, Cytoplasm), (Genotype, Cytoplasm));

impl ExpectArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where a genotype, rule, trait or code cannot be read.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        self.check_age()?;
        self.check_generation()?;
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

    /// The descent of the plants looked at, of a generation where one is named.
    fn seen(&self, plain: Descent) -> Descent {
        let recurrent = self.recurrent.unwrap_or_default();
        let of = |generation: Generation| generation.descent(recurrent);
        self.conditions.seen(self.generation.map_or(plain, of))
    }

    /// The generation in words, with the parent it goes back to.
    fn generation_words(&self) -> Option<String> {
        let generation = self.generation?;
        let back = match self.recurrent.unwrap_or_default() {
            Recurrent::Mother => "back to the mother",
            Recurrent::Father => "back to the father",
        };
        Some(match generation.is_backcross() {
            true => format!("{generation} ({back})"),
            false => generation.to_string(),
        })
    }

    fn check_generation(&self) -> Result<(), Failure> {
        self.conditions.check(self.generation)?;
        match (self.recurrent, self.generation) {
            (Some(_), Some(generation)) if !generation.is_backcross() => {
                Err(Failure::usage(format!(
                    "--recurrent says nothing of {generation}: only backcrosses go back to a parent"
                ))
                .try_flag("--generation", "BC1"))
            }
            _ => Ok(()),
        }
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
        let mut looks = Looks::of(&facts)?;
        let selection = self.conditions.selection(&mut looks.book)?;
        let index = Index::new(&facts);
        let context = Context::new(&looks, &index, &beliefs)?;
        let (label, parents) = parents_of(&facts, typed)?;
        let places = self.places(&context, &label)?;
        let mut loci = looks.loci_read(&places);
        loci.extend(Selection::further_loci(&selection, &loci, |locus| {
            [parents.0, parents.1]
                .iter()
                .any(|plant| context.plants.stated(*plant, locus).is_some())
        }));
        let promises: Vec<Promise<'_>> = places
            .iter()
            .map(|place| Promise::of(&looks.traits[*place]))
            .collect();
        let scored: Vec<Scored<'_>> = promises.iter().map(Promise::scored).collect();
        let names = [parents.0, parents.1].map(|plant| facts.label_of_plant(plant));
        if self.generation.is_some() && parents.0 == parents.1 {
            return Err(Failure::refused(format!(
                "{label} is {} selfed; generations are named from two parents",
                names[0]
            ))
            .try_typing(format!("locule expect {typed}")));
        }
        if self.conditions.selfed().is_some() && parents.0 == parents.1 {
            return Err(
                Failure::refused(format!("{label} is {} selfed, all of it", names[0]))
                    .try_remedy(Remedy::Without("--selfed")),
            );
        }
        let named: Vec<(String, Vec<String>)> = places
            .iter()
            .map(|place| {
                let look = &looks.traits[*place];
                let classes = look.classes.iter().map(|class| class.name.clone());
                (look.code.clone(), classes.collect())
            })
            .collect();
        let (mother, father) = (
            plant_at_word(&context, parents.0, &loci),
            plant_at_word(&context, parents.1, &loci),
        );
        let misread = self.conditions.misread(&named)?;
        let question = Question {
            parents: [(&names[0], &mother), (&names[1], &father)],
            scored: &scored,
            loci: &loci,
            book: &looks.book,
            linkage: looks.linkage.clone(),
            descent: self.seen(descent_of(parents)),
            selection: &selection,
            misread: &misread,
        };
        let (expectation, tight, lie) = if self.believed {
            self.compute_believed(question, believed(&context, parents, &loci)?)?
        } else {
            self.compute(question)?
        };
        let genotype = |plant: i64| {
            let code = facts.label_of_plant(plant);
            let stated: Vec<String> = loci
                .iter()
                .filter_map(|locus| context.plants.stated(plant, *locus))
                .collect();
            if self.believed {
                format!("{code} as believed")
            } else if stated.is_empty() {
                code
            } else {
                format!("{code} {}", stated.join(" "))
            }
        };
        let asked = Asked {
            mother: genotype(parents.0),
            father: genotype(parents.1),
            ignored: Vec::new(),
            not_stated: if self.believed {
                Vec::new()
            } else {
                not_stated(&context, &facts, &loci, parents)
            },
            linked: lie.linked,
            phase_open: lie.phase_open,
            distance_open: lie.distance_open,
            overruled: lie.overruled,
            generation: self.generation_words(),
            plants: self.plants,
            conditions: self.conditions.said(self.generation, &names[0]),
            cross: Some(label),
            traits: named,
            age: self.age,
        };
        Ok(world.answer(&ExpectAnswer::new(asked, &expectation, tight.as_ref())))
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
        let (mut traits, remark, asked) = self.read_at_hand(world, mother, father)?;
        let selection = self.conditions.selection(&mut traits.book)?;
        let (wanted, (mother_genotype, mother_cytoplasm), (father_genotype, _)) = asked;
        for genotype in [&mother_genotype, &father_genotype] {
            let phase = traits.linkage.check_phase(genotype, &traits.book);
            phase.map_err(|error| unsorted(&error))?;
        }
        let models: Vec<&GeneModel> = wanted.iter().map(|wanted| &wanted.model).collect();
        let mut loci = loci_read(&models);
        loci.extend(Selection::further_loci(&selection, &loci, |locus| {
            [&mother_genotype, &father_genotype]
                .iter()
                .any(|one| one.at(locus).is_some())
        }));
        loci.sort_unstable();
        let at_word = |genotype: &Genotype| {
            Parent::stated(genotype, &loci, |locus| {
                founder_genotypes(&traits.book.get(locus).shares(), 0.0)
            })
        };
        let (mut mother_plant, father_plant) =
            (at_word(&mother_genotype), at_word(&father_genotype));
        mother_plant.cytoplasm = mother_cytoplasm;
        let scored: Vec<_> = wanted.iter().map(Wanted::scored).collect();
        let named: Vec<(String, Vec<String>)> = wanted
            .iter()
            .map(|wanted| (wanted.name.clone(), wanted.classes.clone()))
            .collect();
        let (expectation, tight, lie) = self.compute(Question {
            parents: [("the mother", &mother_plant), ("the father", &father_plant)],
            scored: &scored,
            loci: &loci,
            book: &traits.book,
            linkage: traits.linkage.clone(),
            descent: self.seen(Descent::first_cross()),
            selection: &selection,
            misread: &self.conditions.misread(&named)?,
        })?;
        let asked = Asked {
            ignored: ignored(&traits.book, &loci, [&mother_genotype, &father_genotype]),
            not_stated: open_loci(&traits.book, &loci, &mother_genotype, &father_genotype),
            linked: lie.linked,
            phase_open: lie.phase_open,
            distance_open: lie.distance_open,
            overruled: lie.overruled,
            generation: self.generation_words(),
            plants: self.plants,
            conditions: self.conditions.said(self.generation, "the mother"),
            cross: None,
            mother: mother_genotype.written(&traits.book),
            father: father_genotype.written(&traits.book),
            traits: named,
            age: self.age,
        };
        let outcome = world.answer(&ExpectAnswer::new(asked, &expectation, tight.as_ref()));
        if let Some(remark) = remark {
            world.remark(remark);
        }
        Ok(outcome)
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
        let own = own_trait("--rule", &self.rules, &mut traits.book)?;
        let mother = read_genotype("--mother", mother, &mut traits.book)?;
        let father = read_genotype("--father", father, &mut traits.book)?;
        let mut wanted = Vec::new();
        for code in &self.traits {
            wanted.push(traits.named(code)?);
        }
        wanted.extend(own);
        if wanted.is_empty() {
            wanted.push(traits.bench_reading(&[&mother.0, &father.0])?);
        }
        Ok((wanted, mother, father))
    }
}
