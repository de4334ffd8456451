//! `plan cross`: which two of the ledger's parents to cross.

use clap::Args;

use super::breeding::{Lie, unsorted};
use super::plan_sowing::{Germination, Seed, asked_of_ledger, off_share_to_come};
use super::plan_wishes::{Asked, confidence, off_share, whole};
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::{Basis, Context};
use crate::genetics::fraction::Fraction;
use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::planning::cross::{
    Ask, Found, Linked, MOST_TRAITS, Plan, Question, Scheme, Settle, Steps, Unsettled, Why,
    plan_crosses,
};
use crate::records::admit::Remedy;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{CrossRow, Thing};
use crate::records::tray::stock;
use crate::report::plan_cross::{CrossAnswer, MayHave};
use crate::report::plan_cross_lines::{BringLine, LinkedLine, PlanLine, ShareLine, UnsettledLine};
use crate::report::plan_sowing::{GerminationFrom, GerminationLine, OffFrom, OffLine};

/// Which two parents of the ledger to cross, so that all the looks wanted come together in one plant: the F1, the F1
/// selfed, or the F1 crossed back to either, and parents selfed
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  locule plan cross --want 'purple, not-hot, erect'\n  locule plan cross --want purple,smooth --fixed\n  locule plan cross --want 'corolla-colour:white, cluster' --confidence 0.99 --germination 0.8 --top 10"
)]
pub struct CrossArgs {
    /// The looks wanted together, of up to four traits: 'purple, not-hot'; foliage:purple where a word is of several
    #[arg(long, value_name = "LOOKS", required = true)]
    want: Vec<String>,
    /// The plant is to breed true: all its selfed seed is as wanted too
    #[arg(long)]
    fixed: bool,
    /// With what chance at least one plant is to be as wanted
    #[arg(long, value_name = "CHANCE", default_value = "0.95", allow_hyphen_values = true, value_parser = confidence)]
    confidence: f64,
    /// How much of the seed comes up: 0.8, or as counted 41:50 (41 up of 50). Else the ledger's own counts
    #[arg(long, value_name = "SHARE|UP:SOWN", allow_hyphen_values = true)]
    germination: Option<Germination>,
    /// How much of what comes up of seed crossed by hand is not of the label. Else as 'mishaps' says
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true, value_parser = off_share)]
    off_share: Option<Fraction>,
    /// How many plans to show
    #[arg(long, value_name = "N", default_value_t = 5, allow_negative_numbers = true, value_parser = |text: &str| whole(text, 1, 100))]
    top: u64,
}

impl CrossArgs {
    /// Answers.
    ///
    /// # Errors
    /// [`Failure`] where a look is unknown, two exclude each other, or no cross can give them, with what makes it so.
    pub fn run(self, world: &World) -> Result<Outcome, Failure> {
        let (_, facts) = world.ask()?;
        let basis = Basis::of(&facts)?;
        let context = basis.context()?;
        let mut asked = asked_of_ledger(&facts, context.looks, &[])?;
        let (asks, today) = (self.asks(&mut asked, &context)?, world.day()?);
        let seed = Seed::typed(self.germination, self.off_share);
        let is_typed = self.germination.is_some();
        let (off_share, off_from) = match self.off_share {
            None => self.off_to_come(&context, &asked, today)?,
            Some(_) => (seed.sowing().off_share, seed.off_from),
        };
        let question = Question {
            asks,
            fixed: self.fixed,
            confidence: self.confidence,
            germination: is_typed.then_some(seed.sowing().germination),
            true_share: 1.0 - off_share,
            today,
        };
        let teller = Teller {
            context: &context,
            facts: &facts,
            asks: &question.asks,
            germination_from: seed.germination_from,
            off: OffLine::new(off_share, off_from),
        };
        let top = usize::try_from(self.top).expect("at most a hundred");
        let found = plan_crosses(&context, &question, top).map_err(|why| teller.refused(why))?;
        Ok(world.answer(&teller.answer(&question, &found)?))
    }

    /// How much seed crossed by hand will not be of the label, by the first two parents: before a cross is made there is
    /// nothing in which pairs differ.
    fn off_to_come(
        &self,
        context: &Context<'_>,
        asked: &Asked,
        today: Day,
    ) -> Result<(f64, OffFrom), Failure> {
        let facts = context.index.facts;
        let has_code = |id: &i64| !facts.codes_of(Thing::Plant, *id).is_empty();
        let mut parents = facts.plant.iter().map(|row| row.id).filter(has_code);
        let (Some(one), Some(other)) = (parents.next(), parents.next()) else {
            return Ok((0.0, OffFrom::Nothing));
        };
        let loci = asked.loci();
        let found = off_share_to_come(facts.clone(), context.looks, &loci, (one, other), today)?;
        Ok((found.share, OffFrom::Ledger(found)))
    }

    /// The looks as typed, each of another trait.
    fn asks(&self, asked: &mut Asked, context: &Context<'_>) -> Result<Vec<Ask>, Failure> {
        let typed = self.want.join(",");
        let words = typed.split([',', '/']).map(str::trim);
        let words = words.filter(|word| !word.is_empty());
        let mut asks: Vec<Ask> = Vec::new();
        for word in words.clone() {
            let read = asked.read_classes("--want", word)?;
            let (model, class) = read[0];
            let code = asked.trait_of(model);
            let mut looks = context.looks.traits.iter();
            let look = looks.position(|look| look.code == code);
            let look = look.expect("a class was found among the ledger's traits");
            match asks.iter().find(|ask| ask.look == look) {
                Some(same) if same.class == class => {}
                Some(other) => {
                    let classes = &context.looks.traits[look].classes;
                    let others: Vec<&str> = words.clone().filter(|other| *other != word).collect();
                    let [one, two] = [other.class, class].map(|at| classes[at].name.as_str());
                    return Err(Failure::usage(format!(
                        "--want: no plant is both {one} and {two}, two classes of {code}"
                    ))
                    .try_flag("--want", others.join(",")));
                }
                None => asks.push(Ask { look, class }),
            }
        }
        match asks.len() {
            0 => Err(Failure::usage("--want: no look is named").try_flag("--want", "purple")),
            n if n > MOST_TRAITS => Err(Failure::usage(format!(
                "--want: {n} traits are wanted at once, and up to {MOST_TRAITS} are planned for"
            ))
            .because("each more takes up to four times the seed, which no bench has room for")
            .because("plan for some of them first, and cross what comes of it on")
            .try_remedy(Remedy::Help)),
            _ => Ok(asks),
        }
    }
}

/// Puts what was found into words for its answer.
pub(super) struct Teller<'a> {
    pub(super) context: &'a Context<'a>,
    pub(super) facts: &'a Facts,
    pub(super) asks: &'a [Ask],
    germination_from: GerminationFrom,
    off: OffLine,
}

impl Teller<'_> {
    pub(super) fn look(&self, ask: usize) -> String {
        let ask = self.asks[ask];
        self.class(ask.look, ask.class)
    }

    fn class(&self, look: usize, class: usize) -> String {
        self.context.looks.traits[look].classes[class].name.clone()
    }

    pub(super) fn looks(&self, asks: &[usize]) -> Vec<String> {
        asks.iter().map(|ask| self.look(*ask)).collect()
    }

    pub(super) fn labels(&self, plants: &[i64]) -> Vec<String> {
        let label = |plant: &i64| self.facts.label_of_plant(*plant);
        plants.iter().map(label).collect()
    }

    pub(super) fn symbols(&self, loci: &[LocusIx]) -> Vec<String> {
        self.context.looks.symbols(loci)
    }

    fn answer(&self, question: &Question, found: &Found) -> Result<CrossAnswer, Failure> {
        let looks = self.context.looks;
        let all: Vec<usize> = (0..self.asks.len()).collect();
        let places: Vec<usize> = self.asks.iter().map(|ask| ask.look).collect();
        let arranged = (looks.linkage).arrange(&looks.loci_read(&places), false, &looks.book);
        let open = arranged.map_err(|error| unsorted(&error))?.open;
        let pair = |(one, other): &(LocusIx, LocusIx)| self.symbols(&[*one, *other]).join(" and ");
        let plans = found.plans.iter().zip(&found.why).zip(&found.steps);
        let plans: Result<Vec<PlanLine>, Failure> = plans
            .map(|((plan, why), steps)| self.line(plan, why, steps))
            .collect();
        let unsettled = found.unsettled.iter();
        Ok(CrossAnswer {
            wanted: self.looks(&all),
            fixed: question.fixed,
            confidence: question.confidence,
            off_share: self.off.clone(),
            have: self.labels(&found.have),
            may_have: (found.may_have.iter())
                .map(|(plant, p)| MayHave {
                    plant: self.facts.label_of_plant(*plant),
                    p: *p,
                })
                .collect(),
            no_seed: self.without_seed(&found.plans),
            plans: plans?,
            beside: found.beside,
            parents: found.parents,
            unsettled: unsettled.map(|one| self.unsettled(one)).collect(),
            distance_open: open.iter().map(pair).collect(),
            unexplained: self.labels(&found.unexplained),
            gone: self.labels(&found.gone),
        })
    }

    fn line(&self, plan: &Plan, why: &Why, steps: &Steps) -> Result<PlanLine, Failure> {
        let genotype = |at: &[(LocusIx, Diploid)]| {
            let book = &self.context.looks.book;
            let each = at
                .iter()
                .map(|(locus, pair)| pair.written(book.get(*locus)));
            each.collect::<Vec<_>>().join(" ")
        };
        let brings = why.brings.iter().map(|one| BringLine {
            look: self.look(one.ask),
            by: one.by.into(),
            mother: genotype(&one.genotypes[0]),
            father: genotype(&one.genotypes[1]),
        });
        let hybrid = why.hybrid.iter().zip(self.asks).map(|(classes, ask)| {
            let class = |class: &usize| self.class(ask.look, *class);
            classes.iter().map(class).collect()
        });
        let linked: Result<Vec<LinkedLine>, Failure> =
            why.linked.iter().map(|one| self.linked(one)).collect();
        let labels = self.labels(&plan.mothers);
        let fathers = self.labels(&plan.fathers);
        Ok(PlanLine {
            scheme: plan.scheme.into(),
            seeds: plan.need.map(|need| need.n),
            probability: plan.need.map(|need| need.probability),
            germination: GerminationLine::new(
                plan.sprouting.last.mean(),
                (plan.counts).map_or(self.germination_from, GerminationFrom::Ledger),
            ),
            f1_seeds: steps.hybrid.map(|need| need.n),
            f1_probability: steps.hybrid.map(|need| need.probability),
            test: steps.test.map(Into::into),
            hope: plan.hope,
            share: ShareLine::new(plan.share),
            seasons: plan.scheme.seasons(),
            made_as: self.made(plan),
            mother: labels[0].clone(),
            father: fathers[0].clone(),
            mother_or: labels[1..].to_vec(),
            father_or: fathers[1..].to_vec(),
            crossability: plan.crossing.crossability.to_string(),
            fertility: plan.crossing.fertility.to_string(),
            species: (plan.crossing.is_wide())
                .then(|| [plan.crossing.mother.clone(), plan.crossing.father.clone()]),
            turned: plan.turned.into(),
            brings: brings.collect(),
            hybrid: hybrid.collect(),
            linked: linked?,
            why: String::new(),
        }
        .reasoned())
    }

    fn linked(&self, of: &Linked) -> Result<LinkedLine, Failure> {
        let looks = self.context.looks;
        let arranged = looks.linkage.arrange(&of.loci, false, &looks.book);
        let arranged = arranged.map_err(|error| unsorted(&error))?;
        Ok(LinkedLine {
            looks: self.looks(&of.asks),
            loci: Lie::of(&arranged, &[], &looks.book).linked,
            from_one: of.from_one,
        })
    }

    /// Crosses of the ledger that are the first step of a plan.
    fn made(&self, plan: &Plan) -> Vec<String> {
        let is_it = |row: &&CrossRow| {
            plan.mothers.contains(&row.mother_id) && plan.fathers.contains(&row.father_id) && {
                (row.mother_id == row.father_id) == (plan.scheme == Scheme::Selfed)
            }
        };
        let codes = self.facts.cross.iter().filter(is_it);
        let codes = codes.filter_map(|row| self.facts.code_of(Thing::Cross, row.id));
        codes.map(str::to_owned).collect()
    }

    fn unsettled(&self, one: &Unsettled) -> UnsettledLine {
        let plant = self.facts.label_of_plant(one.plant);
        let (settle, command, seedlings) = match one.by {
            Settle::Look(ask) => {
                let of = &self.context.looks.traits[self.asks[ask].look];
                let command = format!("locule score {plant} {}:{}", of.code, self.look(ask));
                ("look", command, None)
            }
            Settle::Testcross { tester, seedlings } => {
                let tester = self.facts.label_of_plant(tester);
                let command = format!("locule cross {tester} {plant}");
                ("testcross", command, Some(seedlings))
            }
            Settle::Selfed { seedlings } => {
                ("self", format!("locule self {plant}"), Some(seedlings))
            }
            Settle::Phase => ("phase", format!("locule genotype {plant}"), None),
        };
        UnsettledLine {
            loci: self.symbols(&one.loci),
            settle,
            command,
            seedlings,
            plant,
        }
    }

    /// Parents of plans of whose packets no seed is left.
    fn without_seed(&self, plans: &[Plan]) -> Vec<String> {
        let is_empty = |plant: &i64| {
            let lots = self.facts.lot.iter();
            let mut left = (lots.filter(|lot| lot.plant_id == Some(*plant)))
                .map(|lot| stock(self.facts, lot.id))
                .peekable();
            left.peek().is_some() && left.all(|left| left == Some(0))
        };
        let mut plants: Vec<i64> = (plans.iter())
            .flat_map(|plan| [plan.mother(), plan.father()])
            .filter(is_empty)
            .collect();
        plants.sort_unstable();
        plants.dedup();
        self.labels(&plants)
    }
}
