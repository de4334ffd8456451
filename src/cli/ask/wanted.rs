//! The traits that an expectation is asked for: of the ledger, built in, or of rules typed along.

use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::expectation::Scored;
use crate::diagnosis::looks::{Look, Looks};
use crate::genetics::catalogue;
use crate::genetics::linkage::LinkageMap;
use crate::genetics::locus::LocusBook;
use crate::genetics::notation::Genotype;
use crate::genetics::rule::{GeneModel, RuleError, parse_rule};
use crate::genetics::traits::{Onset, Stage, TraitSpec};
use crate::records::code::fold;
use crate::records::near::nearest;
use crate::report::text::shown;

/// A trait with what an expectation needs of it.
#[derive(Debug, Clone)]
pub struct Wanted {
    /// Its code, or `rules` for rules typed along.
    pub name: String,
    /// Its classes.
    pub classes: Vec<String>,
    /// For each class the one shown before it.
    pub after: Vec<Option<usize>>,
    /// When its late classes show.
    pub onset: Option<Onset>,
    /// Its gene model.
    pub model: GeneModel,
    /// Whether seedlings show it.
    pub is_early: bool,
}

impl Wanted {
    /// As an expectation reads it.
    #[must_use]
    pub fn scored(&self) -> Scored<'_> {
        Scored {
            model: &self.model,
            after: &self.after,
            onset: self.onset,
        }
    }
}

/// The traits there are, with the loci they read.
#[derive(Debug)]
pub struct Traits {
    /// The loci.
    pub book: LocusBook,
    /// Where the loci are, and how often pairs of them are parted.
    pub linkage: LinkageMap,
    traits: Vec<Wanted>,
}

impl Traits {
    /// No trait and no locus: for rules typed along.
    #[must_use]
    pub fn none() -> Self {
        Self {
            book: LocusBook::new(),
            linkage: LinkageMap::default(),
            traits: Vec::new(),
        }
    }

    /// The built-in traits.
    #[must_use]
    pub fn built_in() -> Self {
        let mut book = catalogue::book();
        let traits = catalogue::traits()
            .iter()
            .map(|spec| read_spec(spec, &mut book))
            .collect();
        Self {
            linkage: catalogue::places(&book),
            book,
            traits,
        }
    }

    /// The traits of the ledger where there is one, else the built-in ones; with a remark where there is a
    /// ledger that cannot be read.
    #[must_use]
    pub fn at_hand(world: &World) -> (Self, Option<String>) {
        if !world.ledger.exists() {
            return (Self::built_in(), None);
        }
        let read = world.ask().and_then(|(_, facts)| {
            let looks = Looks::of(&facts)?;
            Ok(Self::of_ledger(looks))
        });
        match read {
            Ok(traits) => (traits, None),
            Err(_) => {
                let remark = format!(
                    "note: {} cannot be read, so the built-in traits are used",
                    shown(&world.ledger.display().to_string())
                );
                (Self::built_in(), Some(remark))
            }
        }
    }

    /// The traits of a ledger.
    #[must_use]
    pub fn of_ledger(looks: Looks) -> Self {
        let wanted = |look: Look| Wanted {
            name: look.code,
            after: look.classes.iter().map(|class| class.after).collect(),
            classes: look.classes.into_iter().map(|class| class.name).collect(),
            onset: look.onset,
            model: look.model,
            is_early: look.stage == Stage::Seedling.to_string(),
        };
        Self {
            book: looks.book,
            traits: looks.traits.into_iter().map(wanted).collect(),
            linkage: looks.linkage,
        }
    }

    /// The traits, in order.
    pub fn all(&self) -> impl Iterator<Item = &Wanted> {
        self.traits.iter()
    }

    /// The trait of a code.
    ///
    /// # Errors
    /// [`Failure`] naming the nearest codes.
    pub fn named(&self, code: &str) -> Result<Wanted, Failure> {
        let key = fold(code);
        let found = self.traits.iter().find(|wanted| fold(&wanted.name) == key);
        found.cloned().ok_or_else(|| {
            let near = nearest(code, self.traits.iter().map(|wanted| wanted.name.as_str()));
            let failure = Failure::refused(format!("there is no trait '{code}'"));
            match near.first() {
                Some(best) => failure
                    .because(format!("the nearest: {}", near.join(", ")))
                    .try_flag("--trait", best),
                None => failure.try_typing("locule trait list"),
            }
        })
    }

    /// The bench trait, where one of the genotypes states a locus that it reads.
    ///
    /// # Errors
    /// [`Failure`] where they say nothing about it, so that another trait must be meant.
    pub fn bench_reading(&self, genotypes: &[&Genotype]) -> Result<Wanted, Failure> {
        let reads = |wanted: &&Wanted| {
            let loci = wanted.model.loci();
            genotypes
                .iter()
                .any(|g| g.loci.iter().any(|stated| loci.contains(&stated.locus)))
        };
        let bench = self
            .traits
            .iter()
            .find(|wanted| wanted.name == catalogue::BENCH_TRAIT);
        bench.filter(reads).cloned().ok_or_else(|| {
            Failure::usage(format!(
                "which look is meant? '{}' reads none of these loci",
                catalogue::BENCH_TRAIT
            ))
            .because("name a trait with --trait, or say with --rule what each genotype looks like")
            .try_typing("locule expect --mother 'A/a B/b' --father 'A/a B/b' --rule 'A/_ B/_ => purple' --rule 'else => white'")
        })
    }
}

fn read_spec(spec: &TraitSpec, book: &mut LocusBook) -> Wanted {
    let models = spec.check(book).expect("the built-in traits are sound");
    let in_use = spec
        .model_in_use()
        .expect("every built-in trait has a model in use");
    Wanted {
        name: spec.code.clone(),
        classes: spec.class_names(),
        after: (0..spec.classes.len()).map(|at| spec.earlier(at)).collect(),
        onset: spec.onset,
        is_early: spec.stage == Stage::Seedling,
        model: models
            .into_iter()
            .nth(in_use)
            .expect("one model for each that was specified"),
    }
}

/// The trait that rules typed along with a flag make; nothing without rules.
///
/// # Errors
/// [`Failure`] naming the rule.
pub fn own_trait(
    flag: &'static str,
    rules: &[String],
    book: &mut LocusBook,
) -> Result<Option<Wanted>, Failure> {
    if rules.is_empty() {
        return Ok(None);
    }
    let mut classes: Vec<String> = Vec::new();
    let mut pairs = Vec::new();
    for rule in rules {
        let (pattern, class) = parse_rule(rule).map_err(|error| bad_rule(flag, &error))?;
        if !classes.contains(&class) {
            classes.push(class.clone());
        }
        pairs.push((pattern, class));
    }
    let model = GeneModel::build("rules", &classes, &pairs, book)
        .map_err(|error| bad_rule(flag, &error))?;
    Ok(Some(Wanted {
        name: "rules".to_owned(),
        after: vec![None; classes.len()],
        onset: None,
        classes,
        model,
        is_early: false,
    }))
}

fn bad_rule(flag: &str, error: &RuleError) -> Failure {
    let mut failure = Failure::usage(format!("{flag}: {error}"));
    for line in error.pointed().iter().flat_map(|pointed| pointed.lines()) {
        failure = failure.because(line);
    }
    if let RuleError::Pattern { error, .. } = error {
        failure = failure.because(error.hint());
    }
    failure.try_typing(
        "locule expect --mother A/a --father A/a --rule 'A/_ => purple' --rule 'else => green'",
    )
}
