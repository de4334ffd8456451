//! `plan line`: from a plant or a cross to a line that breeds true.

use std::str::FromStr;

use clap::{Args, ValueEnum};

use super::breeding::Recombines;
use super::expect::read_recurrent;
use super::plan_line_start::{Opening, Start};
use super::plan_sowing::Germination;
use super::plan_wishes::{Asked, Wish, confidence, off_share, whole};
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::genetics::descent::Recurrent;
use crate::genetics::drag::donor_piece;
use crate::genetics::fraction::Fraction;
use crate::genetics::generation::recurrent_share;
use crate::planning::line::leg::Sowable;
use crate::planning::line::{Fewest, Question, Scheme, schemes};
use crate::planning::targets::Asks;
use crate::records::admit::Remedy;
use crate::report::numbers::percent;
use crate::report::plan_line::{BackLine, DragLine, LineAnswer, SchemeLine};
use crate::report::plan_sowing::{GerminationLine, OffLine};
use crate::report::text::shown;

/// How to come to a line that breeds true for what is wanted: selfing and backcross schemes side by side
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (only the last three need a ledger):\n  locule plan line --mother A/A --father a/a --class purple\n  locule plan line --plant 'A/a Pun1/pun1 pAMT/pAMT' --class green/not-hot\n  locule plan line --mother A/A --father a/a --recurrent mother --class green --arm 60\n  locule plan line X1 --class green/not-hot --germination 0.8\n  locule plan line X1 --recurrent father --backcrosses 2 --class purple\n  locule plan line T1-03 --believed --class green"
)]
pub struct LineArgs {
    /// A cross of the ledger, or a plant that is selfed
    #[arg(value_name = "CROSS|PLANT", conflicts_with_all = ["mother", "father", "plant"])]
    pub(super) of: Option<String>,
    /// A look that the line is to breed true for: green, green/hairy, foliage:green; again for more of it
    #[arg(long = "class", value_name = "CLASS")]
    pub(super) classes: Vec<Wish>,
    /// A genotype that it is to breed true for: 'a/a b/b', 'A/A'. Of a locus the more dominant allele shows
    #[arg(long = "genotype", value_name = "GENOTYPE")]
    pub(super) genotypes: Vec<Wish>,
    /// How many lines are wanted
    #[arg(long, value_name = "N", default_value_t = 1, allow_negative_numbers = true, value_parser = |text: &str| whole(text, 1, 100))]
    want: u64,
    /// With what chance they are to be there at the end
    #[arg(long, value_name = "CHANCE", default_value = "0.95", allow_hyphen_values = true, value_parser = confidence)]
    confidence: f64,
    /// How much of the seed comes up: 0.8, or as counted 41:50 (41 up of 50). Of a cross in the ledger its own counts
    #[arg(long, value_name = "SHARE|UP:SOWN", allow_hyphen_values = true)]
    pub(super) germination: Option<Germination>,
    /// How much of what comes up of crossed seed is not of the label. Of a cross in the ledger as 'mishaps' says
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true, value_parser = off_share)]
    pub(super) off_share: Option<Fraction>,
    /// The mother's genotype, loci separated by spaces
    #[arg(long, value_name = "GENOTYPE", requires = "father")]
    pub(super) mother: Option<String>,
    /// The father's genotype
    #[arg(long, value_name = "GENOTYPE", requires = "mother")]
    pub(super) father: Option<String>,
    /// One plant that is selfed: its genotype, or a plant of the ledger, a seedling too: T1-03
    #[arg(long, value_name = "PLANT|GENOTYPE", conflicts_with_all = ["mother", "father"])]
    pub(super) plant: Option<String>,
    /// Take plants of the ledger for what everything recorded says of them, their looks and offspring included, instead of
    /// at their word
    #[arg(long)]
    pub(super) believed: bool,
    /// The trait that class words belong to; again for several
    #[arg(long = "trait", value_name = "TRAIT")]
    pub(super) traits: Vec<String>,
    /// A rule of a gene model of your own, 'A/_ => purple'; again for each rule
    #[arg(long = "rule", value_name = "RULE", conflicts_with = "of")]
    pub(super) rules: Vec<String>,
    /// How often two loci are parted: A,B=0.12
    #[arg(long, value_name = "LOCUS,LOCUS=FRACTION")]
    pub(super) recombines: Vec<Recombines>,
    /// Cross back to this parent, instead of only selfing; of a cross in the ledger by its code, too
    #[arg(long, value_name = "mother|father|PARENT")]
    pub(super) recurrent: Option<String>,
    /// Which scheme goes first: the one with the fewest seasons, or with the fewest plants
    #[arg(long, value_name = "WHAT", value_enum, default_value_t = First::Seasons)]
    fewest: First,
    /// How often to cross back [default: 3]
    #[arg(long, value_name = "N", requires = "recurrent", allow_negative_numbers = true, value_parser = |text: &str| whole(text, 1, 8))]
    backcrosses: Option<u64>,
    /// Most generations of selfing, without crossing back [default: 4]
    #[arg(long, value_name = "N", conflicts_with = "recurrent", allow_negative_numbers = true, value_parser = |text: &str| whole(text, 1, 8))]
    selfings: Option<u64>,
    /// How far the chromosome reaches on either side of a gene that is brought in, in centimorgans: 60, 30,90, A=30,90
    #[arg(
        long = "arm",
        value_name = "[LOCUS=]CM[,CM]",
        requires = "recurrent",
        allow_hyphen_values = true
    )]
    arms: Vec<Arms>,
}

/// What the first scheme takes the fewest of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum First {
    /// Seasons, then plants
    Seasons,
    /// Plants, then seasons
    #[value(alias = "seeds")]
    Plants,
}

/// Backcrosses where none are said: the donor parent is then down to a sixteenth (design choice).
const BACKCROSSES: u32 = 3;

/// Generations of selfing where none are said: up to the F5 (design choice).
const SELFINGS: u32 = 4;

/// A number of generations, of which eight are the most.
fn count(typed: u64) -> u32 {
    u32::try_from(typed).expect("at most eight")
}

/// The longest arm of a chromosome that is taken, in centimorgans: longer ones are typing errors.
const LONGEST_ARM: f64 = 500.0;

/// How far a chromosome reaches beside a gene, as typed.
#[derive(Debug, Clone, PartialEq)]
struct Arms {
    /// The gene; every one where none is named.
    locus: Option<String>,
    /// Centimorgans on both sides.
    cm: [f64; 2],
}

impl FromStr for Arms {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (locus, lengths) = match text.split_once('=') {
            Some((locus, lengths)) => (Some(locus.trim().to_owned()), lengths),
            None => (None, text),
        };
        let read: Vec<f64> = lengths
            .split(',')
            .map(centimorgans)
            .collect::<Result<_, _>>()?;
        let cm = match read.as_slice() {
            [both] => [*both; 2],
            [one, other] => [*one, *other],
            _ => return Err("write one length for both sides, or two: 30,90".to_owned()),
        };
        Ok(Self { locus, cm })
    }
}

/// A length of chromosome: `60`, `60cM`, `0.6M`.
fn centimorgans(text: &str) -> Result<f64, String> {
    let text = text.trim();
    let end = text.find(|c: char| c.is_ascii_alphabetic());
    let (number, unit) = text.split_at(end.unwrap_or(text.len()));
    let times = match unit.trim() {
        "" | "cM" | "cm" => 1.0,
        "M" => 100.0,
        other => {
            return Err(format!(
                "'{other}' is no unit of a chromosome's length; write centimorgans, 60 or 60cM, or Morgans, 0.6M"
            ));
        }
    };
    let length = number.trim().parse::<f64>().ok().map(|n| n * times);
    length
        .filter(|cm| *cm > 0.0 && *cm <= LONGEST_ARM)
        .ok_or_else(|| format!("an arm is above 0 and up to {LONGEST_ARM} cM long"))
}

impl LineArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where something cannot be read, no line can be as wanted, or no scheme reaches the confidence.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        if self.classes.len() + self.genotypes.len() == 0 {
            return Err(Failure::usage(
                "what is the line to breed true for? name a class or a genotype",
            )
            .try_flag("--class", "green"));
        }
        let opening = Opening::at_hand(&self, world)?;
        let start = Start::of(&opening)?;
        let sowing = opening.seed.sowing();
        let comes = sowing.germination.mean();
        let question = Question {
            kinds: &start.kinds,
            is_crossed: opening.is_crossed,
            seed: Sowable {
                selfed: comes,
                crossed: comes * sowing.true_share(),
            },
            want: self.want,
            confidence: self.confidence,
            selfings: self.selfings.map_or(SELFINGS, count),
            backcrosses: opening.recurrent.map(|_| self.times()),
            can_test: start.can_test,
            is_early: opening.asked.is_early(),
        };
        let answer = self.answer(&opening, &start, &question)?;
        let outcome = world.answer(&answer);
        if let Some(remark) = opening.seed.remark {
            world.remark(remark);
        }
        Ok(outcome)
    }

    fn answer(
        &self,
        opening: &Opening,
        start: &Start,
        question: &Question<'_>,
    ) -> Result<LineAnswer, Failure> {
        let already = Some(question.already()).filter(|p| opening.is_enough(*p, self.confidence));
        let fewest = match self.fewest {
            First::Seasons => Fewest::Seasons,
            First::Plants => Fewest::Plants,
        };
        let found = match already {
            Some(_) => Vec::new(),
            None => schemes(question, fewest),
        };
        let best = found.first();
        if best.is_none() && already.is_none() {
            return Err(self.out_of_reach(question));
        }
        let is_early = question.is_early;
        let name = |back: u32, selfed: u32| opening.generation(back, selfed);
        let look = |look: &[usize]| opening.look(look);
        let lines = found
            .iter()
            .map(|scheme| SchemeLine::new(scheme, &name, &look, is_early));
        let sowing = opening.seed.sowing();
        Ok(LineAnswer {
            already,
            seasons: best.map_or(0, |best| best.seasons),
            seeds: best.map_or(0.0, Scheme::all_seeds),
            probability: best.map_or(already.unwrap_or(0.0), |best| best.chance),
            confidence: self.confidence,
            want: self.want,
            wanted: opening.wanted.clone(),
            shown: opening.wanted_look(),
            start: opening.bred.sown.clone(),
            tray: opening.tray.clone(),
            is_crossed: opening.is_crossed,
            believed: opening.taken_for(),
            fewest: match self.fewest {
                First::Seasons => "seasons",
                First::Plants => "plants",
            },
            recurrent: start.named.as_ref().map(|[back, _]| back.clone()),
            donor_parent: start.named.as_ref().map(|[_, donor]| donor.clone()),
            schemes: lines.collect(),
            after_backcrosses: match already {
                Some(_) => Vec::new(),
                None => self.after_backcrosses(opening, start)?,
            },
            germination: GerminationLine::new(
                sowing.germination.mean(),
                opening.seed.germination_from,
            ),
            off_share: OffLine::new(sowing.off_share, opening.seed.off_from),
            phase_open: opening.bred.phase_open.clone(),
            distance_open: opening.bred.distance_open.clone(),
            is_early,
            by_dominance: !self.genotypes.is_empty(),
        })
    }

    fn times(&self) -> u32 {
        self.backcrosses.map_or(BACKCROSSES, count)
    }

    fn out_of_reach(&self, question: &Question<'_>) -> Failure {
        let hope = question.hope();
        if hope < self.confidence {
            return Failure::refused(format!(
                "no scheme gives it with {}: it is {} likely that the plant can give such a line at all",
                percent(self.confidence),
                percent(hope)
            ))
            .because("sow some of its seed and score it, which tells; or take another plant")
            .try_remedy(Remedy::Help);
        }
        let failure = Failure::refused(format!(
            "no scheme that is looked at gives it with {}",
            percent(self.confidence)
        ))
        .because("up to 100,000 seeds are sown in a generation, and 2,000 of each plant in a test");
        failure.try_flag("--confidence", "0.8")
    }

    /// What is left of the donor parent, backcross by backcross.
    fn after_backcrosses(
        &self,
        opening: &Opening,
        start: &Start,
    ) -> Result<Vec<BackLine>, Failure> {
        if opening.recurrent.is_none() {
            return Ok(Vec::new());
        }
        let book = &opening.asked.traits.book;
        for arms in &self.arms {
            if let Some(symbol) = &arms.locus
                && !start
                    .brought_in
                    .iter()
                    .any(|locus| book.get(*locus).symbol == *symbol)
            {
                return Err(Failure::refused(format!(
                    "--arm {symbol}: that is no gene that is brought in here"
                ))
                .try_remedy(Remedy::Without("--arm")));
            }
        }
        let arms_of = |locus: &crate::genetics::locus::LocusIx| -> [Option<f64>; 2] {
            let symbol = &book.get(*locus).symbol;
            let own = |arms: &&Arms| arms.locus.as_deref() == Some(symbol.as_str());
            let any = |arms: &&Arms| arms.locus.is_none();
            let typed = self.arms.iter().rfind(own);
            if let Some(typed) = typed.or_else(|| self.arms.iter().rfind(any)) {
                return typed.cm.map(|cm| Some(cm / 100.0));
            }
            let place = opening.asked.traits.linkage.place_of(*locus);
            [place.and_then(|place| place.at).map(|at| at / 100.0), None]
        };
        let drag = |times: u32| {
            let of = |locus: &crate::genetics::locus::LocusIx| {
                let arms = arms_of(locus);
                let piece = |arm: Option<f64>| {
                    let morgans = donor_piece(times, arm);
                    100.0 * morgans.expect("after a backcross there is a bound")
                };
                DragLine {
                    locus: book.get(*locus).symbol.clone(),
                    cm: arms.map(piece),
                    end_known: arms.map(|arm| arm.is_some()),
                }
            };
            start.brought_in.iter().map(of).collect()
        };
        let line = |times: u32| BackLine {
            backcrosses: times,
            recurrent_share: recurrent_share(times),
            still_open: 0.5_f64.powf(f64::from(times)),
            drag: drag(times),
        };
        Ok((1..=self.times()).map(line).collect())
    }
}

impl LineArgs {
    /// The parent gone back to, as typed: by its side, or by a code that `side` knows.
    pub(super) fn read_back(
        &self,
        side: impl Fn(&str) -> Option<Recurrent>,
        names: &[String; 2],
    ) -> Result<Option<Recurrent>, Failure> {
        let Some(typed) = &self.recurrent else {
            return Ok(None);
        };
        let found = read_recurrent(typed).ok().or_else(|| side(typed));
        found.map(Some).ok_or_else(|| {
            let [mother, father] = names;
            let known = match mother.starts_with("the ") {
                true => "it is mother or father".to_owned(),
                false => format!("it is mother or father, or {mother} or {father}"),
            };
            Failure::usage(format!("--recurrent {}: {known}", shown(typed)))
                .try_flag("--recurrent", "mother")
        })
    }

    /// What is wanted, all of it together, in words and as asks.
    pub(super) fn read_wish(&self, asked: &mut Asked) -> Result<(String, Asks), Failure> {
        for wish in self.classes.iter().chain(&self.genotypes) {
            if wish.want.is_some() {
                return Err(Failure::usage(format!(
                    "{}: how many lines are wanted stands with --want",
                    wish.text
                ))
                .try_flag("--want", "2"));
            }
        }
        for wish in &self.classes {
            asked.want_class("--class", wish, 1)?;
        }
        for wish in &self.genotypes {
            asked.want_true(wish)?;
        }
        let names: Vec<&str> = asked.targets.iter().map(|one| one.name.as_str()).collect();
        let mut asks = Asks::new();
        for ask in asked.targets.iter().flat_map(|one| &one.asks) {
            if asks
                .iter()
                .any(|(model, class)| *model == ask.0 && *class != ask.1)
            {
                return Err(Failure::usage(
                    "no line is of two classes of one trait: name one of them",
                )
                .try_typing("locule plan line --help"));
            }
            if !asks.contains(ask) {
                asks.push(*ask);
            }
        }
        Ok((names.join(" and "), asks))
    }
}
