//! `plan seeds`: how many seeds to sow, in one stage or two.

use clap::Args;

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::genetics::descent::{Generation, Recurrent};
use crate::genetics::fraction::Fraction;
use crate::planning::next_year::{MOST_PLANTS, Passing, families, next_year};
use crate::planning::seeds::{Marker, NoPlan, Sowing, TwoStages, two_stages};
use crate::planning::targets::{Asks, Share, Target, outcomes, share_of};
use crate::records::admit::Remedy;
use crate::report::numbers::percent;
use crate::report::plan_known::{KnownLine, known_lines};
use crate::report::plan_seeds::{RowLine, SeedsAnswer, StagesLine, TargetLine};
use crate::report::plan_sowing::{GerminationLine, OffLine};
use crate::report::text::listed;
use crate::stats::begun::{Begun, Case, TooLarge};
use crate::stats::reach::Outcome as Kind;

use super::breeding::{Recombines, unexpected};
use super::expect::read_recurrent;
use super::plan_bred::{Bred, CaseOf};
use super::plan_sowing::{Germination, Seed, seed_at_hand};
use super::plan_wishes::{Asked, MOST_WANTED, Wish, chance, confidence, off_share, whole};

/// How many seeds to sow, so that with a chance there are enough of what is wanted
#[derive(Debug, Args)]
#[command(
    after_help = "Examples (only the last ones need a ledger):\n  locule plan seeds --want 3 --chance 1/16\n  locule plan seeds --chance 1/16 --germination 41:50 --off-share 0.03\n  locule plan seeds --mother A/a --father A/a --genotype a/a\n  locule plan seeds --mother 'A/a Pun1/pun1' --father 'A/a Pun1/pun1' --class green/mild --marker green --pots 12\n  locule plan seeds X1 --generation F2 --class green=2 --class purple=3\n  locule plan seeds --mother CW --father NL --class purple"
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
    /// How many are wanted
    #[arg(long, value_name = "N", default_value_t = 1, allow_negative_numbers = true, value_parser = |text: &str| whole(text, 1, MOST_WANTED))]
    want: u64,
    /// With what chance there are to be enough
    #[arg(long, value_name = "CHANCE", default_value = "0.95", allow_hyphen_values = true, value_parser = confidence)]
    confidence: f64,
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
    pots: Option<u64>,
}

/// What is wanted, as shares of true seed.
struct Question {
    targets: Vec<TargetLine>,
    cases: Vec<Case>,
    stage: Option<Stage>,
    /// What is sown, where parents were named.
    bred: Option<Bred>,
}

/// The early look.
struct Stage {
    name: Option<String>,
    pass: f64,
    markers: Vec<Marker>,
    /// What those that pass may be; nothing where that is not worked out.
    passing: Option<Vec<Passing>>,
}

impl SeedsArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where something cannot be read, a target cannot come, or no number of seeds would do.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        self.check()?;
        let (question, seed) = if self.chances.is_empty() {
            self.of_parents(world)?
        } else {
            (
                self.of_chances()?,
                Seed::typed(self.germination, self.off_share),
            )
        };
        let answer = self.plan(&question, &seed)?;
        let outcome = world.answer(&answer);
        if let Some(remark) = seed.remark {
            world.remark(remark);
        }
        Ok(outcome)
    }

    fn check(&self) -> Result<(), Failure> {
        let kinds = self.chances.len() + self.classes.len() + self.genotypes.len();
        let is_staged = self.marker.is_some() || self.marker_chance.is_some();
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
            let want = wish.want.unwrap_or(self.want);
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
        })
    }

    fn of_parents(&self, world: &World) -> Result<(Question, Seed), Failure> {
        let mut seed = seed_at_hand(self, world, |asked| self.read_wishes(asked))?;
        let wished = seed.wished.take().expect("parents were named");
        let (bred, asked, marker) = (wished.bred, wished.asked, wished.marker);
        let f2 = Remedy::Flags(vec![("--generation", "F2".to_owned())]);
        let found = bred.cases(&asked, &f2)?;
        let mean = CaseOf::mean(&found);
        let line = |target: &Target| {
            let share = share_of(&mean, &target.asks);
            TargetLine::new(Some(target.name.clone()), target.want, share)
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
        let question = Question {
            targets: asked.targets.iter().map(line).collect(),
            stage: self.stage_of(&bred, &found, &asked, &marker)?,
            cases,
            bred: Some(bred),
        };
        Ok((question, seed))
    }

    /// What is wanted, and the early look.
    fn read_wishes(&self, asked: &mut Asked) -> Result<Asks, Failure> {
        for wish in &self.classes {
            asked.want_class("--class", wish, self.want)?;
        }
        for wish in &self.genotypes {
            asked.want_genotype(wish, self.want)?;
        }
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

    fn plan(&self, question: &Question, seed: &Seed) -> Result<SeedsAnswer, Failure> {
        let wants: Vec<u64> = question.targets.iter().map(|target| target.want).collect();
        let sowing = seed.sowing();
        let bred = question.bred.as_ref();
        let mut answer = SeedsAnswer {
            seeds: None,
            probability: None,
            confidence: self.confidence,
            in_store: seed.in_store,
            sown: bred.map(|bred| bred.sown.clone()),
            targets: question.targets.clone(),
            germination: GerminationLine::new(sowing.germination.mean(), seed.germination_from)
                .leaving_out(&seed.counted_early),
            off_share: OffLine::new(sowing.off_share, seed.off_from),
            believed: self.believed,
            not_stated: bred.map_or_else(Vec::new, |bred| bred.not_stated.clone()),
            better_known: bred.map_or_else(Vec::new, |bred| known_lines(&bred.better_known)),
            phase_open: bred.map_or_else(Vec::new, |bred| bred.phase_open.clone()),
            distance_open: bred.map_or_else(Vec::new, |bred| bred.distance_open.clone()),
            table: Vec::new(),
            stages: None,
            next_year: None,
        };
        match &question.stage {
            None => {
                let (found, rows) = sowing
                    .plan(&wants, &question.cases, self.confidence)
                    .map_err(|error| self.no_plan(error, question, &sowing))?;
                answer.seeds = Some(found.n);
                answer.probability = Some(found.probability);
                answer.table = rows.into_iter().map(RowLine::from).collect();
            }
            Some(stage) => self.stage(&mut answer, question, stage, &sowing)?,
        }
        Ok(answer)
    }

    fn stage(
        &self,
        answer: &mut SeedsAnswer,
        question: &Question,
        stage: &Stage,
        sowing: &Sowing,
    ) -> Result<(), Failure> {
        let want = question.targets[0].want;
        let mut line = StagesLine {
            marker: stage.name.clone(),
            pass_share: stage.pass,
            pots_there: self.pots,
            pass: None,
            pots: None,
            pots_needed: None,
            chance_with_all_filled: None,
        };
        let most = self.pots.unwrap_or(MOST_PLANTS);
        let saved = stage.passing.as_ref();
        let saved =
            saved.and_then(|passing| next_year(passing, sowing, want, most, self.confidence));
        answer.next_year = saved.map(Into::into);
        match two_stages(sowing, &stage.markers, want, self.pots, self.confidence) {
            Ok(TwoStages { seeds, pass, pots }) => {
                answer.seeds = Some(seeds.n);
                answer.probability = Some(seeds.probability);
                (line.pass, line.pots) = (Some(pass), Some(pots));
            }
            Err(NoPlan::TooFewPots { needed, chance, .. }) => {
                line.pots_needed = needed;
                line.chance_with_all_filled = Some(chance);
            }
            Err(error) => return Err(self.no_plan(error, question, sowing)),
        }
        answer.stages = Some(line);
        Ok(())
    }

    fn no_plan(&self, error: NoPlan, question: &Question, sowing: &Sowing) -> Failure {
        match error {
            NoPlan::Hopeless { chance } => self.hopeless(chance, question.bred.as_ref()),
            NoPlan::TooLarge(error) => Failure::refused(match error {
                TooLarge::States(error) => error.to_string(),
                TooLarge::Work { trials, .. } => format!(
                    "this is too large to work out: it takes {trials} seeds or more, each with every count of each kind kept apart"
                ),
            })
                .because("every kind wanted multiplies the work by how many are wanted and one: ask for fewer of each, or for one kind at a time")
                .try_remedy(Remedy::Help),
            NoPlan::NoNumber | NoPlan::TooFewPots { .. } => {
                let failure = Failure::refused(
                    "no number of seeds that is looked at would do, up to 131,072",
                );
                let failure = match sowing.germination {
                    Begun::Known(_) => failure,
                    Begun::Counted { .. } => failure.because("with a germination known from few counts it may be lower than any number of seeds makes up for; --germination 0.8 states it"),
                };
                failure.try_flag("--confidence", "0.9")
            }
        }
    }

    /// Refuses where what the parents may be makes it impossible too often.
    fn hopeless(&self, chance: f64, bred: Option<&Bred>) -> Failure {
        let failure = Failure::refused(format!(
            "no number of seeds gives {}: with {} the parents are such that none can be as wanted",
            percent(self.confidence),
            percent(chance)
        ));
        let Some(bred) = bred.filter(|_| !self.believed) else {
            return failure
                .because("that is by everything recorded of them; take other parents, or ask for a lower --confidence")
                .try_remedy(Remedy::Help);
        };
        let known = known_lines(&bred.better_known);
        let failure = failure.because(format!("not stated: {}", listed(&bred.not_stated, "and")));
        if !known.is_empty() {
            let known: Vec<String> = known.iter().map(KnownLine::said).collect();
            return failure
                .because(format!(
                    "but the ledger knows more: {}",
                    listed(&known, "and")
                ))
                .try_flag("--believed", "");
        }
        let Some(plant) = bred.open_plant().filter(|_| bred.is_of_ledger) else {
            return failure
                .because("state the genotype there, or ask for a lower --confidence")
                .try_remedy(Remedy::Help);
        };
        failure
            .because(format!(
                "nothing recorded tells more of it. State it, where you know it: 'locule amend ENTRY --genotype A/a', with the number of the entry that added {plant}; or ask for a lower --confidence"
            ))
            .try_typing(format!("locule history {plant}"))
    }
}
