//! `expect`: what a cross should give, of two genotypes or of a cross in the ledger.

use clap::Args;

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::session::Session;
use crate::diagnosis::expectation::{Mating, expect};
use crate::genetics::expect::{Parent, founder_genotypes, loci_read};
use crate::genetics::locus::LocusBook;
use crate::genetics::notation::{Genotype, NotationError};
use crate::genetics::rule::GeneModel;
use crate::report::expect::{Asked, ExpectAnswer};

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
    /// Age of the seedlings in days since they came up, for traits that show late
    #[arg(long, value_name = "DAYS", allow_negative_numbers = true)]
    age: Option<f64>,
}

impl ExpectArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where a genotype, rule, trait or code cannot be read.
    pub fn run(self, session: &Session) -> Result<Outcome, Failure> {
        self.check_age()?;
        match (&self.cross, &self.mother, &self.father) {
            (None, Some(mother), Some(father)) => self.of_genotypes(session, mother, father),
            _ => Err(Failure::refused("crosses of the ledger are not there yet")),
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

    fn of_genotypes(
        &self,
        session: &Session,
        mother: &str,
        father: &str,
    ) -> Result<Outcome, Failure> {
        let mut traits = Traits::built_in();
        let asked = match self.read_genotypes(&mut traits, mother, father) {
            Err(_) if self.traits.is_empty() => {
                // Rules of one's own may use symbols that are taken otherwise among the known loci.
                let mut bare = Traits::none();
                self.read_genotypes(&mut bare, mother, father)
                    .map(|asked| {
                        traits = bare;
                        asked
                    })
                    .or_else(|_| self.read_genotypes(&mut traits, mother, father))
            }
            read => read,
        }?;
        let (wanted, mother_genotype, father_genotype) = asked;
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
            cross: None,
            mother: mother_genotype.written(&traits.book),
            father: father_genotype.written(&traits.book),
            traits: wanted
                .iter()
                .map(|w| (w.name.clone(), w.classes.clone()))
                .collect(),
            age: self.age,
        };
        Ok(session.answer(&ExpectAnswer::new(asked, &expectation)))
    }

    fn read_genotypes(
        &self,
        traits: &mut Traits,
        mother: &str,
        father: &str,
    ) -> Result<(Vec<Wanted>, Genotype, Genotype), Failure> {
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
