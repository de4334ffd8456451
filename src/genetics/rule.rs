//! Gene models: ordered rules that give every genotype its class.
//!
//! A rule is `pattern => class`; the first that matches wins, and `else` matches whatever is left.
//! A pattern may name several loci, which is all that epistasis needs, and ask for the cytoplasm
//! (`cytoplasm:sterile`). Whether readings are late or mistaken is not known here. Traits build their
//! models here; expectations and the diagnosis ask them for classes.

use thiserror::Error;

use super::allele::same_but_for_case;
use super::genotype::Diploid;
use super::locus::{LocusBook, LocusIx};
use super::notation::{Genotype, NotationFault, StatedLocus, pieces};
use super::sweep::{Outcome, uncover};

pub use super::rule_error::RuleError;

/// The most rules that one model may have.
const MOST_RULES: usize = 64;

/// The cytoplasm of a plant, which comes from its mother.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cytoplasm {
    /// Normal: pollen is fertile whatever the restorer.
    Normal,
    /// Male-sterile unless a restorer gene stands against it.
    Sterile,
    /// Not stated. Rules take it as normal, since sterile cytoplasm is the rarity that breeders keep
    /// track of.
    #[default]
    Unknown,
}

impl Cytoplasm {
    fn is_sterile(self) -> bool {
        self == Self::Sterile
    }
}

/// What a rule asks for: genotypes at some loci, and perhaps the cytoplasm.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pattern {
    /// The loci it names.
    pub loci: Vec<StatedLocus>,
    /// The cytoplasm it asks for, if any.
    pub cytoplasm: Option<Cytoplasm>,
}

impl Pattern {
    /// Whether the cytoplasm fits; an unknown one counts as normal.
    #[must_use]
    pub fn suits(&self, cytoplasm: Cytoplasm) -> bool {
        self.cytoplasm
            .is_none_or(|asked| asked.is_sterile() == cytoplasm.is_sterile())
    }

    fn at(&self, locus: LocusIx) -> Option<&StatedLocus> {
        self.loci.iter().find(|stated| stated.locus == locus)
    }
}

/// A rule: pattern and class.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rule {
    /// The pattern; `None` is `else`.
    pub pattern: Option<Pattern>,
    /// Index into the classes of the model.
    pub class: usize,
}

/// A gene model of a trait: every genotype has exactly one class.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GeneModel {
    name: String,
    classes: Vec<String>,
    rules: Vec<Rule>,
    loci: Vec<LocusIx>,
    allele_counts: Vec<usize>,
    /// Per locus read and genotype there, the rules (as bits) that the genotype does not rule out.
    open: Vec<Vec<u64>>,
    /// Per locus read, the rules that name it.
    named: Vec<u64>,
}

impl GeneModel {
    /// Builds a model from rules in order, each a pattern (or `else`) and a class. Loci first met in a
    /// pattern are entered in the book.
    ///
    /// # Errors
    /// [`RuleError`]: a rule that cannot be read, names no class of the trait, stands behind `else` or
    /// can never match, or a genotype that no rule gives a class. The book is then as before.
    pub fn build<P: AsRef<str>, C: AsRef<str>>(
        name: &str,
        classes: &[String],
        rules: &[(P, C)],
        book: &mut LocusBook,
    ) -> Result<Self, RuleError> {
        let before = book.len();
        let built = Self::try_build(name, classes, rules, book);
        if built.is_err() {
            book.truncate(before);
        }
        built
    }

    /// The model's name within its trait.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The classes of the trait, in its order; a model may give only some of them.
    #[must_use]
    pub fn classes(&self) -> &[String] {
        &self.classes
    }

    /// The rules in order.
    #[must_use]
    pub fn rules(&self) -> &[Rule] {
        &self.rules
    }

    /// The loci that the rules read, in the order in which they are first named.
    #[must_use]
    pub fn loci(&self) -> &[LocusIx] {
        &self.loci
    }

    /// How many alleles each of [`GeneModel::loci`] has.
    #[must_use]
    pub fn allele_counts(&self) -> &[usize] {
        &self.allele_counts
    }

    /// Whether any rule asks for the cytoplasm.
    #[must_use]
    pub fn reads_cytoplasm(&self) -> bool {
        self.rules
            .iter()
            .filter_map(|rule| rule.pattern.as_ref())
            .any(|p| p.cytoplasm.is_some())
    }

    /// The class of a plant with the given genotypes at [`GeneModel::loci`], in that order.
    ///
    /// # Panics
    /// If there are fewer genotypes than loci, or one holds an allele that its locus does not have.
    #[must_use]
    pub fn class_of(&self, genotypes: &[Diploid], cytoplasm: Cytoplasm) -> usize {
        let start = self.rules_for(cytoplasm);
        let open =
            (0..self.loci.len()).fold(start, |open, i| open & self.rules_at(i, genotypes[i]));
        self.first_class(open)
    }

    /// The rules, as bits, that a cytoplasm does not rule out.
    pub(super) fn rules_for(&self, cytoplasm: Cytoplasm) -> u64 {
        let suits = |rule: &Rule| rule.pattern.as_ref().is_none_or(|p| p.suits(cytoplasm));
        bits(self.rules.iter().map(suits))
    }

    /// The rules that a genotype at the `i`th locus read does not rule out.
    pub(super) fn rules_at(&self, i: usize, genotype: Diploid) -> u64 {
        self.open[i][genotype.index(self.allele_counts[i])]
    }

    /// The rules that name the `i`th locus read.
    pub(super) fn rules_naming(&self, i: usize) -> u64 {
        self.named[i]
    }

    /// The class of the first of some rules.
    pub(super) fn first_class(&self, open: u64) -> usize {
        self.rules[open.trailing_zeros() as usize].class
    }

    fn try_build<P: AsRef<str>, C: AsRef<str>>(
        name: &str,
        classes: &[String],
        texts: &[(P, C)],
        book: &mut LocusBook,
    ) -> Result<Self, RuleError> {
        match texts.len() {
            0 => return Err(RuleError::NoRules),
            count if count > MOST_RULES => return Err(RuleError::TooManyRules(count)),
            _ => {}
        }
        let texts: Vec<RuleText<'_>> = texts
            .iter()
            .map(|(p, c)| RuleText {
                pattern: p.as_ref(),
                class: c.as_ref(),
            })
            .collect();
        let mut rules = Vec::with_capacity(texts.len());
        for text in &texts {
            if rules.iter().any(|rule: &Rule| rule.pattern.is_none()) {
                return Err(RuleError::AfterElse { rule: text.whole() });
            }
            rules.push(text.read(classes, book)?);
        }
        let model = Self::compile(name, classes, rules, book);
        model.check_reach(&texts, book)?;
        Ok(model)
    }

    fn compile(name: &str, classes: &[String], rules: Vec<Rule>, book: &LocusBook) -> Self {
        let mut loci: Vec<LocusIx> = Vec::new();
        for stated in rules
            .iter()
            .filter_map(|r| r.pattern.as_ref())
            .flat_map(|p| &p.loci)
        {
            if !loci.contains(&stated.locus) {
                loci.push(stated.locus);
            }
        }
        let stated = |rule: &Rule, locus| rule.pattern.as_ref().and_then(|p| p.at(locus).copied());
        let allele_counts: Vec<usize> = loci.iter().map(|l| book.get(*l).alleles.len()).collect();
        let open = loci.iter().zip(&allele_counts).map(|(locus, count)| {
            let fits = |pair| {
                bits(
                    rules
                        .iter()
                        .map(|r| stated(r, *locus).is_none_or(|s| s.matches(pair))),
                )
            };
            Diploid::all(*count).into_iter().map(fits).collect()
        });
        let open: Vec<Vec<u64>> = open.collect();
        let named = loci
            .iter()
            .map(|l| bits(rules.iter().map(|r| stated(r, *l).is_some())))
            .collect();
        let (name, classes) = (name.to_owned(), classes.to_vec());
        Self {
            name,
            classes,
            rules,
            loci,
            allele_counts,
            open,
            named,
        }
    }

    /// Every genotype must have a class, and every rule but `else` some genotype. An `else` with
    /// nothing left is let pass: it says nothing wrong, and serves once a locus gets another allele.
    fn check_reach(&self, texts: &[RuleText<'_>], book: &LocusBook) -> Result<(), RuleError> {
        let mut reached = 0_u64;
        for cytoplasm in [Cytoplasm::Normal, Cytoplasm::Sterile] {
            for (open, witness) in uncover(self, cytoplasm) {
                if open == 0 {
                    let genotype = self.written(&witness, cytoplasm, book);
                    return Err(RuleError::NoClass { genotype });
                }
                reached |= 1 << open.trailing_zeros();
            }
        }
        let idle = (0..self.rules.len())
            .find(|i| reached & (1 << i) == 0 && self.rules[*i].pattern.is_some());
        match idle {
            Some(i) => Err(RuleError::Shadowed {
                rule: texts[i].whole(),
            }),
            None => Ok(()),
        }
    }

    fn written(&self, witness: &Outcome, cytoplasm: Cytoplasm, book: &LocusBook) -> String {
        let pairs = self.loci.iter().zip(witness);
        let mut pieces: Vec<String> = pairs.map(|(l, pair)| pair.written(book.get(*l))).collect();
        if self.reads_cytoplasm() {
            let word = if cytoplasm.is_sterile() {
                "sterile"
            } else {
                "normal"
            };
            pieces.push(format!("cytoplasm:{word}"));
        }
        pieces.join(" ")
    }
}

/// Splits the text of a rule, `A/_ => purple`, into its pattern and its class.
///
/// # Errors
/// [`RuleError::NoArrow`] or [`RuleError::Half`].
pub fn parse_rule(text: &str) -> Result<(String, String), RuleError> {
    let rule = || text.to_owned();
    let (pattern, class) = text
        .split_once("=>")
        .ok_or_else(|| RuleError::NoArrow { rule: rule() })?;
    let (pattern, class) = (pattern.trim(), class.trim());
    match (pattern.is_empty(), class.is_empty()) {
        (true, _) => Err(RuleError::Half {
            rule: rule(),
            lacks: "pattern",
        }),
        (_, true) => Err(RuleError::Half {
            rule: rule(),
            lacks: "class",
        }),
        _ => Ok((pattern.to_owned(), class.to_owned())),
    }
}

struct RuleText<'t> {
    pattern: &'t str,
    class: &'t str,
}

impl RuleText<'_> {
    fn whole(&self) -> String {
        format!("{} => {}", self.pattern, self.class)
    }

    fn read(&self, classes: &[String], book: &mut LocusBook) -> Result<Rule, RuleError> {
        let class = find_class(classes, self.class).ok_or_else(|| RuleError::UnknownClass {
            rule: self.whole(),
            class: self.class.to_owned(),
            classes: classes.to_vec(),
        })?;
        let pattern = match self.pattern.trim().to_lowercase().as_str() {
            "else" => None,
            _ => Some(self.read_pattern(book)?),
        };
        Ok(Rule { pattern, class })
    }

    fn read_pattern(&self, book: &mut LocusBook) -> Result<Pattern, RuleError> {
        let (cytoplasm, loci_text) =
            split_cytoplasm(self.pattern).map_err(|fault| match fault {
                CytoplasmFault::Word(word) => RuleError::CytoplasmWord {
                    rule: self.whole(),
                    word,
                },
                CytoplasmFault::Twice => RuleError::CytoplasmTwice { rule: self.whole() },
            })?;
        let read = match cytoplasm {
            Some(_) => Genotype::parse_any(&loci_text, book),
            None => Genotype::parse(&loci_text, book),
        };
        let fail = |error| RuleError::Pattern {
            rule: self.whole(),
            pattern: self.pattern.to_owned(),
            error: Box::new(error),
        };
        let loci = read.map_err(fail)?.loci;
        if loci.iter().any(|stated| stated.phased) {
            let phased = pieces(&loci_text)
                .into_iter()
                .find(|p| p.text.contains('|'));
            let piece = phased.expect("a phased statement was read from a piece with a bar");
            let bar = piece.text.chars().take_while(|c| *c != '|').count();
            return Err(fail(piece.fault(bar, NotationFault::Phased)));
        }
        Ok(Pattern { loci, cytoplasm })
    }
}

/// What is wrong with a `cytoplasm:...`.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum CytoplasmFault {
    /// A word that is no cytoplasm.
    #[error("cytoplasm is normal or sterile, not \"{}\"", .0.escape_debug())]
    Word(String),
    /// Named twice.
    #[error("the cytoplasm is named twice")]
    Twice,
}

/// Takes `cytoplasm:...` out of a pattern or genotype and leaves as many spaces, so that places in what is
/// left are places in the text.
///
/// # Errors
/// [`CytoplasmFault`].
pub fn split_cytoplasm(text: &str) -> Result<(Option<Cytoplasm>, String), CytoplasmFault> {
    let mut cytoplasm = None;
    let mut loci_text: Vec<char> = text.chars().collect();
    for piece in pieces(text) {
        let lower = piece.text.to_lowercase();
        let Some(word) = lower.strip_prefix("cytoplasm:") else {
            continue;
        };
        let asked = match word {
            "normal" => Cytoplasm::Normal,
            "sterile" => Cytoplasm::Sterile,
            _ => return Err(CytoplasmFault::Word(word.to_owned())),
        };
        if cytoplasm.replace(asked).is_some() {
            return Err(CytoplasmFault::Twice);
        }
        loci_text[piece.at..piece.at + piece.text.chars().count()].fill(' ');
    }
    Ok((cytoplasm, loci_text.into_iter().collect()))
}

/// The class of a word: spelled alike, or else alike but for case.
fn find_class(classes: &[String], word: &str) -> Option<usize> {
    let exact = classes.iter().position(|class| class == word);
    exact.or_else(|| {
        classes
            .iter()
            .position(|class| same_but_for_case(class, word))
    })
}

fn bits(flags: impl Iterator<Item = bool>) -> u64 {
    flags
        .enumerate()
        .fold(0, |bits, (i, flag)| bits | (u64::from(flag) << i))
}
