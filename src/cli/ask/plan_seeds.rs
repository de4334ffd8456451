//! `plan seeds`: how many seeds to sow, in one stage or two.

use clap::Args;

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::genetics::descent::{Generation, Recurrent};
use crate::genetics::fraction::Fraction;
use crate::planning::f1_plants::CasesOfF1;
use crate::planning::next_year::{Passing, families};
use crate::planning::seeds::Marker;
use crate::planning::targets::{Asks, Share, Target, outcomes, share_of};
use crate::records::admit::Remedy;
use crate::report::plan_beside::EverythingLine;
use crate::report::plan_seeds::TargetLine;
use crate::stats::begun::Case;
use crate::stats::reach::Outcome as Kind;

use super::breeding::{Recombines, unexpected};
use super::expect::read_recurrent;
use super::plan_bred::{Bred, CaseOf};
use super::plan_sowing::{Germination, Seed, seed_at_hand};
use super::plan_wishes::{Asked, MOST_WANTED, Wish, chance, confidence, off_share, whole};

/// How many seeds to sow, so that with a chance there are enough of what is wanted
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (only the last ones need a ledger):\n  locule plan seeds --want 3 --chance 1/16\n  locule plan seeds --chance 1/16 --germination 41:50 --off-share 0.03\n  locule plan seeds --mother A/a --father A/a --genotype a/a\n  locule plan seeds --mother 'A/a Pun1/pun1' --father 'A/a Pun1/pun1' --class green/not-hot --marker green --pots 12\n  locule plan seeds X1 --generation F2 --class green=2 --class purple=3\n  locule plan seeds --mother CW --father NL --class purple"
)]
pub struct SeedsArgs {
    /// A cross of the ledger
    #[arg(value_name = "CROSS", conflicts_with_all = ["mother", "father", "chances"])]
    pub(super) cross: Option<String>,
    /// The chance that a true seedling is as wanted: 1/16; CHANCE=N for how many, again for another kind
    #[arg(long = "chance", value_name = "CHANCE", allow_hyphen_values = true)]
    chances: Vec<Wish>,
    /// A look that is wanted: green, green/hairy, foliage:green; CLASS=N for how many, again for another kind
    #[arg(long = "class", value_name = "CLASS", conflicts_with = "chances")]
    classes: Vec<Wish>,
    /// A genotype that is wanted: 'a/a b/b', 'A/_'; GENOTYPE=N for how many, again for another kind
    #[arg(long = "genotype", value_name = "GENOTYPE", conflicts_with = "chances")]
    genotypes: Vec<Wish>,
    /// How many are wanted [default: 1]
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = |text: &str| whole(text, 1, MOST_WANTED))]
    want: Option<u64>,
    /// With what chance there are to be enough
    #[arg(long, value_name = "CHANCE", default_value = "0.95", allow_hyphen_values = true, value_parser = confidence)]
    pub(super) confidence: f64,
    /// How much of the seed comes up: 0.8, or as counted 41:50 (41 up of 50). Of a cross in the ledger its own counts
    #[arg(long, value_name = "SHARE|UP:SOWN", allow_hyphen_values = true)]
    pub(super) germination: Option<Germination>,
    /// How much of what comes up is not of the label. Of a cross in the ledger as 'mishaps' says
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true, value_parser = off_share)]
    pub(super) off_share: Option<Fraction>,
    /// The mother: a plant of the ledger, or a genotype, loci separated by spaces
    #[arg(long, value_name = "PLANT|GENOTYPE", requires = "father")]
    pub(super) mother: Option<String>,
    /// The father: a plant of the ledger, or a genotype
    #[arg(long, value_name = "PLANT|GENOTYPE", requires = "mother")]
    pub(super) father: Option<String>,
    /// Take the parents for what everything recorded says of them, their looks and offspring included, instead of at
    /// their word
    #[arg(long, conflicts_with = "chances")]
    pub(super) believed: bool,
    /// The generation that is sown, of the two parents: F1, F2, BC1 ...
    #[arg(long, value_name = "GENERATION", conflicts_with = "chances")]
    pub(super) generation: Option<Generation>,
    /// The parent that a backcross goes back to [default: mother]
    #[arg(long, value_name = "mother|father", value_parser = read_recurrent, requires = "generation")]
    pub(super) recurrent: Option<Recurrent>,
    /// How many F1 plants the seed is of, where they are not alike [default: many, a seed or so of each]
    #[arg(long, value_name = "N", requires = "generation", conflicts_with = "marker", allow_negative_numbers = true, value_parser = |text: &str| whole(text, 1, MOST_F1_PLANTS))]
    pub(super) f1_plants: Option<u64>,
    /// The trait that class words belong to; again for several
    #[arg(long = "trait", value_name = "TRAIT")]
    pub(super) traits: Vec<String>,
    /// A rule of a gene model of your own, 'A/_ => purple'; again for each rule
    #[arg(long = "rule", value_name = "RULE", conflicts_with = "cross")]
    pub(super) rules: Vec<String>,
    /// How often two loci are parted: A,B=0.12
    #[arg(long, value_name = "LOCUS,LOCUS=FRACTION")]
    pub(super) recombines: Vec<Recombines>,
    /// In two stages: seedlings that do not show this look are discarded, the rest potted and judged grown
    #[arg(long, value_name = "CLASS", conflicts_with = "chances")]
    marker: Option<String>,
    /// The same with --chance: the share of true seedlings that show the early look, the wanted ones among them
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true, value_parser = chance, requires = "chances")]
    marker_chance: Option<Fraction>,
    /// Pots there are for those that pass
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = |text: &str| whole(text, 1, 10_000))]
    pub(super) pots: Option<u64>,
}

/// What the parents may be with less than this is left out of the range of a share (design choice).
const WORTH_SAYING: f64 = 0.01;

/// Most F1 plants that are thought of.
const MOST_F1_PLANTS: u64 = 1_000;

/// What is wanted, as shares of true seed.
pub(super) struct Question {
    pub(super) targets: Vec<TargetLine>,
    pub(super) cases: Vec<Case>,
    pub(super) stage: Option<Stage>,
    /// What is sown, where parents were named.
    pub(super) bred: Option<Bred>,
    /// What each F1 plant's own seed is, by what the parents may be; nothing where none is grown, all are alike, or that is
    /// not worked out.
    pub(super) f1: Option<CasesOfF1>,
}

/// The early look.
pub(super) struct Stage {
    pub(super) name: Option<String>,
    pub(super) pass: f64,
    pub(super) markers: Vec<Marker>,
    /// What those that pass may be; nothing where that is not worked out.
    pub(super) passing: Option<Vec<Passing>>,
}

impl SeedsArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where something cannot be read, a target cannot come, or no number of seeds would do.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        self.check()?;
        let (question, better, seed) = if self.chances.is_empty() {
            self.of_parents(world)?
        } else {
            let seed = Seed::typed(self.germination, self.off_share);
            (self.of_chances()?, None, seed)
        };
        let mut answer = self.plan(&question, &seed)?;
        answer.by_everything = better.map(|better| {
            let found = self.plan(&better, &seed).ok();
            EverythingLine {
                seeds: found.as_ref().and_then(|found| found.seeds),
                probability: found.and_then(|found| found.probability),
            }
        });
        let outcome = world.answer(&answer);
        if let Some(remark) = seed.remark {
            world.remark(remark);
        }
        Ok(outcome)
    }

    fn check(&self) -> Result<(), Failure> {
        let kinds = self.chances.len() + self.classes.len() + self.genotypes.len();
        let is_staged = self.marker.is_some() || self.marker_chance.is_some();
        let all = self
            .chances
            .iter()
            .chain(&self.classes)
            .chain(&self.genotypes);
        if let (Some(want), Some(last)) = (self.want, all.last())
            && let Some(own) = last.want
        {
            let typed = format!("{}={own}", last.text);
            return Err(Failure::usage(format!(
                "--want {want} and {typed}: how many is said twice"
            ))
            .try_remedy(Remedy::Without("--want")));
        }
        if self.f1_plants.is_some() && kinds > 1 {
            return Err(Failure::usage(
                "of a number of F1 plants one kind of plant is planned for",
            )
            .try_remedy(Remedy::Without("--f1-plants")));
        }
        if kinds == 0 {
            return Err(
                Failure::usage("what is wanted? name a chance, a class or a genotype")
                    .try_flag("--chance", "1/16"),
            );
        }
        if self.chances.is_empty() && self.cross.is_none() && self.mother.is_none() {
            return Err(Failure::usage(
                "of which seed? name a cross of the ledger, or two genotypes",
            )
            .try_typing("locule plan seeds --mother A/a --father A/a --genotype a/a"));
        }
        if is_staged && kinds > 1 {
            return Err(
                Failure::usage("in two stages one kind of plant is planned for")
                    .try_typing("locule plan seeds --chance 1/16 --marker-chance 1/4"),
            );
        }
        if self.pots.is_some() && !is_staged {
            return Err(
                Failure::usage("--pots are those for seedlings that pass an early look")
                    .because("name the look with --marker, its share with --marker-chance")
                    .try_remedy(Remedy::Without("--pots")),
            );
        }
        Ok(())
    }

    fn wanted(&self) -> u64 {
        self.want.unwrap_or(1)
    }

    fn of_chances(&self) -> Result<Question, Failure> {
        let (mut targets, mut outcomes, mut all) = (Vec::new(), Vec::new(), 0.0);
        for (at, wish) in self.chances.iter().enumerate() {
            let share = chance(&wish.text).map_err(|why| {
                Failure::usage(format!("--chance {}: {why}", wish.text))
                    .try_flag("--chance", "1/16")
            })?;
            all += share.value();
            outcomes.push(Kind {
                p: share.value(),
                counts_for: vec![at],
            });
            let (n, of) = share.whole();
            let name = (self.chances.len() > 1).then(|| format!("of {n}/{of}"));
            let want = wish.want.unwrap_or(self.wanted());
            let share = Share {
                p: share.value(),
                fraction: Some((n, of)),
            };
            targets.push(TargetLine::new(name, want, share));
        }
        if all > 1.0 + 1e-12 {
            return Err(Failure::usage("the chances add up to more than 1")
                .because("several chances are those of different kinds: no seedling is two of them")
                .try_typing("locule plan seeds --chance 1/16=2 --chance 3/16"));
        }
        let pass = self.marker_chance.map(Fraction::value);
        if pass.is_some_and(|pass| pass < all - 1e-12) {
            return Err(Failure::usage(
                "--marker-chance is less than --chance: those wanted are among those that pass",
            )
            .try_remedy(Remedy::Without("--marker-chance")));
        }
        let stage = |pass: f64| Stage {
            name: None,
            pass,
            markers: vec![Marker {
                weight: 1.0,
                pass,
                wanted: (all / pass).min(1.0),
            }],
            passing: None,
        };
        Ok(Question {
            targets,
            cases: vec![Case {
                weight: 1.0,
                outcomes,
            }],
            stage: pass.map(stage),
            bred: None,
            f1: None,
        })
    }

    /// What is asked of the parents at their word or as asked for, and of what they are by everything recorded where that
    /// is more.
    fn of_parents(&self, world: &World) -> Result<(Question, Option<Question>, Seed), Failure> {
        let mut seed = seed_at_hand(self, world, |asked| self.read_wishes(asked))?;
        let wished = seed.wished.take().expect("parents were named");
        let (asked, marker) = (wished.asked, wished.marker);
        let better = wished
            .better
            .map(|bred| self.question(bred, &asked, &marker));
        let question = self.question(wished.bred, &asked, &marker)?;
        // What cannot be worked out of it is left to --believed to say.
        Ok((question, better.and_then(Result::ok), seed))
    }

    fn question(&self, bred: Bred, asked: &Asked, marker: &Asks) -> Result<Question, Failure> {
        let f2 = Remedy::Flags(vec![("--generation", "F2".to_owned())]);
        let found = bred.cases(asked, &f2)?;
        let mean = CaseOf::mean(&found);
        let line = |target: &Target| {
            let each = found.iter().filter(|case| case.pair.weight >= WORTH_SAYING);
            let each = each.map(|case| share_of(&case.shares, &target.asks).p);
            TargetLine::new(
                Some(target.name.clone()),
                target.want,
                share_of(&mean, &target.asks),
            )
            .ranging(each)
        };
        let mut cases: Vec<Case> = Vec::new();
        for one in &found {
            let outcomes = outcomes(&one.shares, &asked.targets);
            match cases.iter_mut().find(|known| known.outcomes == outcomes) {
                Some(known) => known.weight += one.pair.weight,
                None => cases.push(Case {
                    weight: one.pair.weight,
                    outcomes,
                }),
            }
        }
        Ok(Question {
            targets: asked.targets.iter().map(line).collect(),
            stage: self.stage_of(&bred, &found, asked, marker)?,
            cases,
            f1: bred.f1_plants(&found, asked)?,
            bred: Some(bred),
        })
    }

    /// What is wanted, and the early look.
    fn read_wishes(&self, asked: &mut Asked) -> Result<Asks, Failure> {
        for wish in &self.classes {
            asked.want_class("--class", wish, self.wanted())?;
        }
        for wish in &self.genotypes {
            asked.want_genotype(wish, self.wanted())?;
        }
        asked.check_twice()?;
        match &self.marker {
            Some(text) => asked.read_classes("--marker", text),
            None => Ok(Vec::new()),
        }
    }

    /// The early look; the one target must be able to show it.
    fn stage_of(
        &self,
        bred: &Bred,
        cases: &[CaseOf],
        asked: &Asked,
        marker: &[(usize, usize)],
    ) -> Result<Option<Stage>, Failure> {
        let Some(text) = &self.marker else {
            return Ok(None);
        };
        let target = &asked.targets[0];
        let both = [&target.asks, marker].concat();
        let mean = CaseOf::mean(cases);
        if share_of(&mean, &both).p <= 0.0 {
            return Err(Failure::refused(format!(
                "no seedling that is {} shows {text}, so all of them would be discarded",
                target.name
            ))
            .try_remedy(Remedy::Without("--marker")));
        }
        let models = asked.models();
        let (mut markers, mut passing) = (Vec::new(), Some(Vec::new()));
        for case in cases {
            let (weight, pass) = (case.pair.weight, share_of(&case.shares, marker).p);
            let wanted = match pass > 0.0 {
                true => share_of(&case.shares, &both).p / pass,
                false => 0.0,
            };
            markers.push(Marker {
                weight,
                pass,
                wanted,
            });
            let breeding = bred.breeding_of(&case.pair);
            let found = families(&breeding, &models, &target.asks, marker, &asked.traits.book);
            let found = found.map_err(|error| unexpected(&error))?;
            passing = passing.zip(found).map(|(mut all, families)| {
                all.push(Passing {
                    weight,
                    pass,
                    families,
                });
                all
            });
        }
        Ok(Some(Stage {
            name: Some(text.clone()),
            pass: share_of(&mean, marker).p,
            markers,
            passing,
        }))
    }
}
