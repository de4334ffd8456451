//! What is wanted of a cross as typed (`green/hairy=3`, `a/a b/b=2`, `1/16`), read into targets.
//!
//! `plan seeds`, `plan space` and `plan line` ask.

use std::str::FromStr;

use crate::cli::failure::Failure;
use crate::genetics::expect::loci_read;
use crate::genetics::fraction::Fraction;
use crate::genetics::locus::LocusIx;
use crate::genetics::notation::Genotype;
use crate::genetics::rule::GeneModel;
use crate::planning::targets::{Asks, Target};
use crate::records::admit::Remedy;
use crate::records::code::fold;
use crate::records::near::nearest;
use crate::report::text::shown;

use super::stated::bad_genotype;
use super::wanted::{Traits, Wanted};

/// Most plants wanted of one kind.
pub const MOST_WANTED: u64 = 10_000;

/// A kind of plant as typed, with how many where that was typed along.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wish {
    /// The kind.
    pub text: String,
    /// How many.
    pub want: Option<u64>,
}

impl FromStr for Wish {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (kind, want) = match text.rsplit_once('=') {
            None => (text, None),
            Some((kind, count)) => {
                let count: Option<u64> = count.trim().parse().ok();
                let count = count.filter(|n| (1..=MOST_WANTED).contains(n));
                let why = || format!("after '=' stands how many, 1 to {MOST_WANTED}");
                (kind, Some(count.ok_or_else(why)?))
            }
        };
        let kind = kind.trim();
        match kind.is_empty() {
            true => Err("what is wanted is missing".to_owned()),
            false => Ok(Self {
                text: kind.to_owned(),
                want,
            }),
        }
    }
}

/// A whole number within bounds.
///
/// # Errors
/// Why the text is none.
pub fn whole(text: &str, least: u64, most: u64) -> Result<u64, String> {
    let number: Option<u64> = text.trim().parse().ok();
    let within = number.filter(|n| (least..=most).contains(n));
    within.ok_or_else(|| format!("it is a whole number from {least} to {most}"))
}

/// A share above 0 and up to 1.
///
/// # Errors
/// Why the text is none.
pub fn chance(text: &str) -> Result<Fraction, String> {
    let share = Fraction::parse(text).map_err(|error| error.to_string())?;
    match share.value() > 0.0 {
        true => Ok(share),
        false => Err(format!("{text} is no chance; it lies above 0, up to 1")),
    }
}

/// A share from 0 up to but not 1.
///
/// # Errors
/// Why the text is none.
pub fn off_share(text: &str) -> Result<Fraction, String> {
    let share = Fraction::parse(text).map_err(|error| error.to_string())?;
    match share.value() < 1.0 {
        true => Ok(share),
        false => Err("were all seed off-type, no seed would do".to_owned()),
    }
}

/// A confidence: above 0 and below 1.
///
/// # Errors
/// Why the text is none.
pub fn confidence(text: &str) -> Result<f64, String> {
    let share = Fraction::parse(text).map_err(|error| error.to_string())?;
    match share.value() {
        p if p <= 0.0 => Err("it lies above 0".to_owned()),
        p if p >= 1.0 => Err("no number of seeds makes it certain; it lies below 1".to_owned()),
        p => Ok(p),
    }
}

/// What is asked of a cross: the models that what is wanted is read by, and what is wanted in their classes.
#[derive(Debug)]
pub struct Asked {
    /// The traits at hand.
    pub traits: Traits,
    /// The bench trait's code.
    bench: Option<String>,
    /// Traits that class words belong to, where they were named.
    named: Vec<Wanted>,
    /// The models, each once.
    models: Vec<(String, GeneModel)>,
    /// What is wanted.
    pub targets: Vec<Target>,
}

impl Asked {
    /// Nothing wanted yet, of some traits.
    #[must_use]
    pub const fn new(traits: Traits, bench: Option<String>, named: Vec<Wanted>) -> Self {
        Self {
            traits,
            bench,
            named,
            models: Vec::new(),
            targets: Vec::new(),
        }
    }

    /// The models in the order of the asks.
    #[must_use]
    pub fn models(&self) -> Vec<&GeneModel> {
        self.models.iter().map(|(_, model)| model).collect()
    }

    /// Whether seedlings show all that is asked for.
    #[must_use]
    pub fn is_early(&self) -> bool {
        let known = |name: &str| {
            let mut all = self.named.iter().chain(self.traits.all());
            all.any(|of| of.name == name && of.is_early)
        };
        self.models.iter().all(|(name, _)| known(name))
    }

    /// The loci that the models read, in the order of the book.
    #[must_use]
    pub fn loci(&self) -> Vec<LocusIx> {
        let mut loci = loci_read(&self.models());
        loci.sort_unstable();
        loci
    }

    /// Adds plants of some classes, those of several traits joined with `/`.
    ///
    /// # Errors
    /// [`Failure`] where a word is no class, or of several traits.
    pub fn want_class(&mut self, flag: &str, wish: &Wish, want: u64) -> Result<(), Failure> {
        let asks = self.read_classes(flag, &wish.text)?;
        let name = self.name_of(&asks);
        self.targets.push(Target {
            name,
            want: wish.want.unwrap_or(want),
            asks,
        });
        Ok(())
    }

    /// Refuses a kind that is asked for twice: a plant would count for both.
    ///
    /// # Errors
    /// [`Failure`] with the kind.
    pub fn check_twice(&self) -> Result<(), Failure> {
        for (at, target) in self.targets.iter().enumerate() {
            if let Some(first) = self.targets[..at]
                .iter()
                .find(|one| one.asks == target.asks)
            {
                let name = shown(&target.name);
                let most = first.want.max(target.want);
                return Err(Failure::usage(format!(
                    "{name} is asked for twice, and a plant would count for both: ask for it once, {name}={most}"
                ))
                .try_remedy(Remedy::Help));
            }
        }
        Ok(())
    }

    /// The classes by which a text names a look, as asks.
    ///
    /// # Errors
    /// [`Failure`] where a word is no class, or of several traits.
    pub fn read_classes(&mut self, flag: &str, text: &str) -> Result<Asks, Failure> {
        let mut asks: Asks = Vec::new();
        for word in text.split('/') {
            let (of, class) = self.find_class(flag, word.trim())?;
            let model = self.place(&of.name, &of.model);
            if asks.iter().any(|(known, _)| *known == model) {
                return Err(Failure::usage(format!(
                    "{flag} {}: {} is asked for twice",
                    shown(text),
                    of.name
                ))
                .try_typing("locule trait list"));
            }
            asks.push((model, class));
        }
        Ok(asks)
    }

    /// The trait that a model explains, by its place in the asks.
    #[must_use]
    pub fn trait_of(&self, model: usize) -> &str {
        &self.models[model].0
    }

    /// The classes in words.
    fn name_of(&self, asks: &[(usize, usize)]) -> String {
        let words = asks.iter().map(|(model, class)| {
            let (_, model) = &self.models[*model];
            model.classes()[*class].as_str()
        });
        words.collect::<Vec<_>>().join("/")
    }

    /// Adds plants of a genotype.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read, or every plant fits it.
    pub fn want_genotype(&mut self, wish: &Wish, want: u64) -> Result<(), Failure> {
        let book = &mut self.traits.book;
        let genotype = Genotype::parse(&wish.text, book)
            .map_err(|error| bad_genotype("--genotype", &wish.text, &error))?;
        let written = genotype.written(book);
        let classes = ["wanted", "other"].map(str::to_owned);
        let rules = [(written.as_str(), "wanted"), ("else", "other")];
        let model = GeneModel::build(&written, &classes, &rules, book).map_err(|error| {
            Failure::usage(format!("--genotype {}: {error}", shown(&wish.text)))
                .try_flag("--genotype", "a/a")
        })?;
        let at = self.place(&written, &model);
        self.targets.push(Target {
            name: written,
            want: wish.want.unwrap_or(want),
            asks: vec![(at, 0)],
        });
        Ok(())
    }

    /// Adds plants that breed true for a genotype, told by what shows of it: at each locus the most dominant of a
    /// plant's alleles, in the order of the book.
    ///
    /// # Errors
    /// [`Failure`] where it cannot be read, or names two different alleles of a locus.
    pub fn want_true(&mut self, wish: &Wish) -> Result<(), Failure> {
        let genotype = Genotype::parse(&wish.text, &mut self.traits.book)
            .map_err(|error| bad_genotype("--genotype", &wish.text, &error))?;
        let mut asks = Asks::new();
        for at in &genotype.loci {
            let locus = self.traits.book.get(at.locus).clone();
            let allele = match (at.first, at.second) {
                (Some(one), Some(other)) if one != other => {
                    return Err(Failure::refused(format!(
                        "no line breeds true for {}: {} makes it impossible",
                        at.written(&self.traits.book),
                        locus.symbol
                    ))
                    .because("a plant with two different alleles splits; name one of them twice")
                    .try_flag(
                        "--genotype",
                        format!("{0}/{0}", locus.alleles[usize::from(one)]),
                    ));
                }
                (one, other) => one.or(other),
            };
            let Some(allele) = allele else { continue };
            let (before, shown) = locus.alleles.split_at(usize::from(allele));
            let other = |allele: &String| (format!("{allele}/_"), "other".to_owned());
            // The last allele shows where there is no other at all.
            let (pattern, mut rules) = match shown {
                [last] => (format!("{last}/{last}"), Vec::new()),
                _ => (
                    format!("{}/_", shown[0]),
                    before.iter().map(other).collect::<Vec<_>>(),
                ),
            };
            rules.push((pattern.clone(), "wanted".to_owned()));
            rules.push(("else".to_owned(), "other".to_owned()));
            let classes = ["wanted", "other"].map(str::to_owned);
            let model = GeneModel::build(&pattern, &classes, &rules, &mut self.traits.book);
            let model = model.expect("an allele of the book makes a sound rule");
            asks.push((self.place(&pattern, &model), 0));
        }
        if asks.is_empty() {
            return Err(Failure::usage(format!(
                "--genotype {}: every plant fits it",
                shown(&wish.text)
            ))
            .try_flag("--genotype", "a/a"));
        }
        self.targets.push(Target {
            name: genotype.written(&self.traits.book),
            want: 1,
            asks,
        });
        Ok(())
    }

    /// The place of a model, which is added where it is not there.
    fn place(&mut self, name: &str, model: &GeneModel) -> usize {
        let known = self.models.iter().position(|(known, _)| known == name);
        known.unwrap_or_else(|| {
            self.models.push((name.to_owned(), model.clone()));
            self.models.len() - 1
        })
    }

    /// The trait and class that a word means: `green`, `foliage:green`.
    fn find_class(&self, flag: &str, word: &str) -> Result<(Wanted, usize), Failure> {
        if let Some((code, class)) = word.split_once(':') {
            let own = self.named.iter().find(|one| fold(&one.name) == fold(code));
            let of = own.map_or_else(|| self.traits.named(code), |own| Ok(own.clone()))?;
            let at = class_at(&of, class).ok_or_else(|| unknown_class(flag, word, &[&of]))?;
            return Ok((of, at));
        }
        let among: Vec<&Wanted> = match self.named.is_empty() {
            true => self.traits.all().collect(),
            false => self.named.iter().collect(),
        };
        let hits: Vec<(&Wanted, usize)> = among
            .iter()
            .filter_map(|of| Some((*of, class_at(of, word)?)))
            .collect();
        let bench = |(of, _): &&(&Wanted, usize)| self.bench.as_deref() == Some(of.name.as_str());
        match hits.as_slice() {
            [] => Err(unknown_class(flag, word, &among)),
            [(of, at)] => Ok(((*of).clone(), *at)),
            several => match several.iter().find(bench) {
                Some((of, at)) => Ok(((*of).clone(), *at)),
                None => {
                    let codes: Vec<String> = several
                        .iter()
                        .map(|(of, _)| format!("{}:{word}", of.name))
                        .collect();
                    Err(Failure::refused(format!(
                        "{flag}: '{}' is a class of several traits",
                        shown(word)
                    ))
                    .because(format!("write {}", codes.join(" or ")))
                    .try_remedy(Remedy::Word {
                        typed: word.to_owned(),
                        by: codes[0].clone(),
                        otherwise: "locule trait list".to_owned(),
                    }))
                }
            },
        }
    }
}

fn class_at(of: &Wanted, word: &str) -> Option<usize> {
    of.classes
        .iter()
        .position(|class| fold(class) == fold(word))
}

/// Words that growers say for a class of the built-in traits (common practice, no source).
const SAID_FOR: [(&str, &str, &str); 12] = [
    ("mild", "pungency", "not-hot"),
    ("sweet", "pungency", "not-hot"),
    ("heatless", "pungency", "not-hot"),
    ("spicy", "pungency", "hot"),
    ("pungent", "pungency", "hot"),
    ("upright", "fruit-attitude", "erect"),
    ("hanging", "fruit-attitude", "pendant"),
    ("drooping", "fruit-attitude", "pendant"),
    ("violet", "foliage", "purple"),
    ("bunched", "bearing", "cluster"),
    ("hairless", "stem-hair", "smooth"),
    ("downy", "stem-hair", "hairy"),
];

/// Refuses a word that is no class: with the class that growers say it for, with commas between words that are classes
/// each, or with the nearest; and with the classes that there are.
fn unknown_class(flag: &str, word: &str, among: &[&Wanted]) -> Failure {
    let failure = Failure::refused(format!("{flag}: no trait has a class '{}'", shown(word)));
    let instead = |by: String| Remedy::Word {
        typed: word.to_owned(),
        by,
        otherwise: "locule trait list".to_owned(),
    };
    let said_for = SAID_FOR.iter().find(|(said, code, class)| {
        let of = among.iter().find(|of| of.name == *code);
        fold(said) == fold(word) && of.is_some_and(|of| class_at(of, class).is_some())
    });
    if let Some((_, code, class)) = said_for {
        return failure
            .because(format!("{code} calls that {class}"))
            .try_remedy(instead((*class).to_owned()));
    }
    let is_class = |word: &str| among.iter().any(|of| class_at(of, word).is_some());
    let words: Vec<&str> = word
        .split([' ', '+', '&', ';'])
        .filter(|w| !w.is_empty())
        .collect();
    if words.len() > 1 && words.iter().all(|word| is_class(word)) {
        let mark = if flag == "--want" { "," } else { "/" };
        return failure
            .because(format!("several looks are parted by '{mark}'"))
            .try_remedy(instead(words.join(mark)));
    }
    let known = among
        .iter()
        .flat_map(|of| of.classes.iter().map(String::as_str));
    let near = nearest(word, known);
    let listed =
        |of: &&&Wanted| near.is_empty() || near.iter().any(|class| class_at(of, class).is_some());
    let classes = |of: &&Wanted| format!("{}: {}", of.name, of.classes.join(", "));
    let classes: Vec<String> = among.iter().filter(listed).map(classes).collect();
    match near.first() {
        Some(best) => failure
            .because(format!("the nearest: {}", near.join(", ")))
            .because(classes.join("; "))
            .try_remedy(instead(best.clone())),
        None => failure
            .because(format!("there are {}", classes.join("; ")))
            .try_typing("locule trait list"),
    }
}
