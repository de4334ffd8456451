//! What `plan line` starts with: two parents or one plant, as typed or of the ledger, strand by strand, and what the
//! line is to breed true for.

use super::plan_bred::{Asking, Bred};
use super::plan_line::LineArgs;
use super::plan_sowing::{Seed, asked_of_ledger, cross_of};
use super::plan_wishes::Asked;
use super::stated::read_genotype;
use super::thing::{find, seed_parents};
use super::wanted::{Traits, own_trait};
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::Context;
use crate::diagnosis::index::Index;
use crate::diagnosis::looks::Looks;
use crate::genetics::catalogue::BENCH_TRAIT;
use crate::genetics::descent::Recurrent;
use crate::genetics::locus::LocusIx;
use crate::planning::cross::SETTLED;
use crate::planning::line::hindered::brought_in;
use crate::planning::line::kinds::{self, Kinds, Order, Strands, Wish, crossed, every_way};
use crate::planning::targets::{Asks, Pair};
use crate::records::admit::Remedy;
use crate::records::assumptions::Assumptions;
use crate::records::rows::Thing;
use crate::report::numbers::percent;

/// The plants at the beginning, and the wish.
pub struct Opening {
    /// The plants.
    pub bred: Bred,
    /// The traits and models.
    pub asked: Asked,
    /// How seed does.
    pub seed: Seed,
    /// What is wanted, in words.
    pub wanted: String,
    /// Whether two plants are crossed; else one is selfed.
    pub is_crossed: bool,
    /// The tray that was named for its parents, where one was.
    pub tray: Option<String>,
    /// The parent gone back to.
    pub recurrent: Option<Recurrent>,
    /// Their names, mother first.
    pub(super) names: [String; 2],
    /// What they may be, with how likely that is: at their word the one pair that is stated.
    pub(super) may_be: Vec<Pair>,
    /// Whether that is by everything recorded.
    pub(super) is_believed: bool,
    /// How likely they are what they are taken for.
    taken_with: f64,
    asks: Asks,
}

/// A scheme's beginning, strand by strand.
pub struct Start {
    /// Every kind of plant that it leads to.
    pub kinds: Kinds,
    /// Whether the donor can test carriers.
    pub can_test: bool,
    /// The parent gone back to and the donor.
    pub named: Option<[String; 2]>,
    /// The loci at which the line must have the donor parent's allele.
    pub brought_in: Vec<LocusIx>,
}

impl Opening {
    /// As typed, or of the ledger.
    ///
    /// # Errors
    /// [`Failure`] where something cannot be read.
    pub fn at_hand(args: &LineArgs, world: &World) -> Result<Self, Failure> {
        let opening = match (&args.of, &args.plant, &args.mother, &args.father) {
            (Some(of), ..) => Self::of_ledger(args, world, of)?,
            (None, Some(plant), ..) if is_code(plant) && world.ledger.exists() => {
                Self::of_ledger(args, world, plant)?
            }
            _ if args.believed => {
                return Err(Failure::usage(
                    "--believed is of plants in the ledger; of a genotype as typed nothing more is known",
                )
                .try_remedy(Remedy::Without("--believed")));
            }
            (None, Some(plant), ..) => Self::of_genotypes(args, world, [plant, plant], false)?,
            (None, None, Some(mother), Some(father)) => {
                Self::of_genotypes(args, world, [mother, father], true)?
            }
            _ => {
                return Err(Failure::usage(
                    "from what? name a cross or plant of the ledger, or genotypes",
                )
                .try_typing("locule plan line --mother A/A --father a/a --class green"));
            }
        };
        if args.recurrent.is_some() && !opening.is_crossed {
            return Err(Failure::usage(
                "to cross back takes two parents, and here is one plant",
            )
            .try_typing("locule plan line --mother A/A --father a/a --recurrent mother --class green"));
        }
        Ok(opening)
    }

    fn of_ledger(args: &LineArgs, world: &World, typed: &str) -> Result<Self, Failure> {
        if !args.rules.is_empty() {
            return Err(Failure::usage(
                "--rule goes with genotypes, not with plants of the ledger",
            )
            .because("a gene model of your own for them is recorded with 'trait model add'")
            .try_remedy(Remedy::Without("--rule")));
        }
        let (_, facts) = world.ask()?;
        let found = find(&facts, typed)?;
        let parents = match found.thing {
            Thing::Plant => Some((found.id, found.id)),
            _ if args.plant.is_some() => {
                return Err(Failure::usage(format!(
                    "{} is a {}, not a plant",
                    found.label, found.thing
                ))
                .try_typing(format!("locule plan line {} --class green", found.label)));
            }
            _ => seed_parents(&facts, &found),
        };
        let parents = parents.ok_or_else(|| {
            Failure::refused(format!(
                "{} is a {}, not a cross, tray or plant",
                found.label, found.thing
            ))
            .try_typing("locule plan line X1 --class green")
        })?;
        let looks = Looks::of(&facts)?;
        let mut asked = asked_of_ledger(&facts, &looks, &args.traits)?;
        let (wanted, asks) = args.read_wish(&mut asked)?;
        let (beliefs, index) = (Assumptions::of(&facts), Index::new(&facts));
        let known: Vec<LocusIx> = asked
            .loci()
            .into_iter()
            .filter(|locus| locus.0 < looks.book.len())
            .collect();
        let context = Context::asking(&looks, &index, &beliefs, &known)?;
        let asking = Asking {
            is_believed: args.believed,
            ..Asking::default()
        };
        let label = (found.thing != Thing::Plant).then_some(found.label.as_str());
        let mut bred = Bred::of_plants(&context, &asked, label, parents, asking, &args.recombines)?;
        let mut seed = Seed::typed(args.germination, args.off_share);
        seed.learn(
            &context,
            world.day()?,
            cross_of(&facts, typed)?,
            parents.0,
            true,
        )?;
        let names = [parents.0, parents.1].map(|plant| facts.label_of_plant(plant));
        let is_crossed = parents.0 != parents.1;
        let (may_be, taken_with) = taken_for(&bred, is_crossed)?;
        if args.believed {
            bred.phase_open.clear();
        }
        let plant = |code: &str| {
            let found = find(&facts, code).ok()?;
            (found.thing == Thing::Plant).then_some(found.id)
        };
        let side = |typed: &str| match plant(typed) {
            Some(id) if id == parents.0 => Some(Recurrent::Mother),
            Some(id) if id == parents.1 => Some(Recurrent::Father),
            _ => None,
        };
        Ok(Self {
            tray: (found.thing == Thing::Batch).then(|| found.label.clone()),
            recurrent: args.read_back(side, &names)?,
            names,
            is_crossed,
            is_believed: args.believed,
            may_be,
            taken_with,
            bred,
            asked,
            seed,
            wanted,
            asks,
        })
    }

    fn of_genotypes(
        args: &LineArgs,
        world: &World,
        [mother, father]: [&String; 2],
        is_crossed: bool,
    ) -> Result<Self, Failure> {
        let (at_hand, remark) = Traits::at_hand(world);
        let [one, other] = match is_crossed {
            true => ["--mother", "--father"],
            false => ["--plant"; 2],
        };
        let read = |mut traits: Traits| {
            let own = own_trait("--rule", &args.rules, &mut traits.book)?;
            let genotypes = [
                read_genotype(one, mother, &mut traits.book)?,
                read_genotype(other, father, &mut traits.book)?,
            ];
            let named = args.traits.iter().map(|code| traits.named(code));
            let mut named: Vec<_> = named.collect::<Result<_, _>>()?;
            named.extend(own);
            let mut asked = Asked::new(traits, Some(BENCH_TRAIT.to_owned()), named);
            let wish = args.read_wish(&mut asked)?;
            Ok((asked, genotypes, wish))
        };
        let (asked, [mother, father], (wanted, asks)) = match read(at_hand) {
            Ok(read) => read,
            // Genotypes and rules of one's own may use symbols that are taken otherwise among the known loci.
            Err(refused) => match args.traits.is_empty() {
                true => read(Traits::none()).map_err(|_: Failure| refused)?,
                false => return Err(refused),
            },
        };
        let plain = Asking::default();
        let mut bred = Bred::of_genotypes(&asked, [&mother, &father], plain, &args.recombines)?;
        let mut names = ["the mother", "the father"].map(str::to_owned);
        if !is_crossed {
            bred.sown = format!("{}, selfed", mother.0.written(&asked.traits.book));
            names = ["the plant", "the plant"].map(str::to_owned);
            bred.not_stated
                .retain(|what| what.starts_with("the mother"));
            bred.phase_open.truncate(1);
            for what in bred.not_stated.iter_mut().chain(&mut bred.phase_open) {
                *what = what.replacen("the mother", "the plant", 1);
            }
        }
        let mut seed = Seed::typed(args.germination, args.off_share);
        seed.remark = remark;
        Ok(Self {
            tray: None,
            recurrent: args.read_back(|_| None, &names)?,
            may_be: taken_for(&bred, is_crossed)?.0,
            taken_with: 1.0,
            is_believed: false,
            bred,
            asked,
            seed,
            wanted,
            is_crossed,
            names,
            asks,
        })
    }

    /// How likely the plants are what they are taken for; nothing where they are taken at their word.
    #[must_use]
    pub fn taken_for(&self) -> Option<f64> {
        self.is_believed.then_some(self.taken_with)
    }

    /// Whether a chance of being as wanted already leaves nothing to plan: of a cross all of its seed is.
    #[must_use]
    pub fn is_enough(&self, chance: f64, confidence: f64) -> bool {
        let least = if self.is_crossed { 1.0 } else { confidence };
        chance >= least - 1e-9
    }

    /// A generation by its name.
    #[must_use]
    pub fn generation(&self, back: u32, selfed: u32) -> String {
        match (self.is_crossed, back, selfed) {
            (true, 0, _) => format!("F{}", selfed + 1),
            (true, _, 0) => format!("BC{back}"),
            (true, ..) => format!("BC{back}F{}", selfed + 1),
            (false, _, 1) => "selfed once".to_owned(),
            (false, _, 2) => "selfed twice".to_owned(),
            (false, ..) => format!("selfed {selfed} times"),
        }
    }

    /// How what is wanted shows.
    #[must_use]
    pub fn wanted_look(&self) -> String {
        let look: Vec<usize> = self.asks.iter().map(|(_, class)| *class).collect();
        self.look(&look)
    }

    /// A look of the wish's models in words.
    #[must_use]
    pub fn look(&self, look: &[usize]) -> String {
        let models = self.asked.models();
        let mut joint = "/";
        let words = self.asks.iter().zip(look).map(|((model, _), class)| {
            let model = models[*model];
            let is_genotype = model.classes()[0] == "wanted";
            if is_genotype {
                joint = " ";
            }
            match (is_genotype, class) {
                (true, 0) => model.name().to_owned(),
                (true, _) => format!("not {}", model.name()),
                _ => model.classes()[*class].clone(),
            }
        });
        let words: Vec<String> = words.collect();
        words.join(joint)
    }
}

/// Whether a text is a code or a place of the ledger rather than a genotype.
fn is_code(text: &str) -> bool {
    !text.contains(['/', ':', ' ', '|'])
}

/// What the plants may be and how likely they are that: at their word one pair; by everything recorded of one plant all
/// that it may be, of two what they are settled to be.
fn taken_for(bred: &Bred, is_crossed: bool) -> Result<(Vec<Pair>, f64), Failure> {
    let breeding = bred.breeding();
    let Some(pairs) = bred.believed_pairs() else {
        let stated = Pair {
            weight: 1.0,
            mother: breeding.mother.clone(),
            father: breeding.father.clone(),
        };
        return Ok((vec![stated], 1.0));
    };
    if !is_crossed {
        return Ok((pairs.to_vec(), 1.0));
    }
    let likeliest = pairs.iter().max_by(|a, b| a.weight.total_cmp(&b.weight));
    match likeliest.filter(|pair| pair.weight >= SETTLED) {
        Some(pair) => Ok((vec![pair.clone()], pair.weight)),
        None => Err(Failure::refused(format!(
            "what the parents of {} are is not settled: the likeliest is {} likely, and a line of a cross is planned from {} on",
            bred.sown,
            percent(likeliest.map_or(0.0, |pair| pair.weight)),
            percent(SETTLED)
        ))
        .because("score more of their seedlings, or plan from one seedling of the cross, by its place: T1-03")
        .try_remedy(Remedy::Without("--believed"))),
    }
}

impl Start {
    /// The beginning of an opening, with the parent gone back to.
    ///
    /// # Errors
    /// [`Failure`] where something is not stated, no line can be as wanted, or the schemes are too large.
    pub fn of(opening: &Opening) -> Result<Self, Failure> {
        opening.check_stated()?;
        let breeding = opening.bred.breeding();
        let order = Order::of(breeding.arrangement);
        let models = opening.asked.models();
        let ask = |(model, class): &(usize, usize)| (models[*model], *class);
        let wish = Wish {
            asks: opening.asks.iter().map(ask).collect(),
            cytoplasm: breeding.mother.cytoplasm,
        };
        opening.check_hindrance(&order, &wish)?;
        let linked: Vec<&[LocusIx]> = (breeding.arrangement.chromosomes.iter())
            .map(|chromosome| chromosome.loci.as_slice())
            .collect();
        let strands_of =
            |pair: &Pair| [&pair.mother, &pair.father].map(|plant| every_way(plant, &linked));
        let strands = strands_of(&opening.may_be[0]);
        let first = match opening.is_crossed {
            false => mixed(&opening.may_be, |pair| every_way(&pair.mother, &linked)),
            true => crossed(&order, &strands),
        };
        let (mut back, mut named, mut can_test, mut found) = (None, None, false, Vec::new());
        if let Some(recurrent) = opening.recurrent {
            let [mother, father] = &strands;
            let [one, other] = opening.names.clone();
            let (to, donor, names) = match recurrent {
                Recurrent::Mother => (mother, father, [one, other]),
                Recurrent::Father => (father, mother, [other, one]),
            };
            let (to, donor) = (to[0].0.clone(), donor[0].0.clone());
            opening.check_recurrent(&order, &wish, &to, &names)?;
            found = brought_in(&order, &wish, &to[0], &donor[0]);
            can_test = donor[0] == donor[1];
            (back, named) = (Some([to, donor]), Some(names));
        }
        let start = kinds::Start { first, back };
        let kinds = Kinds::of(&start, &order, &wish).map_err(|error| {
            Failure::refused(error.to_string())
                .because("plan for fewer genes at once: those that show first, then the rest from the line that comes of it")
                .try_typing("locule plan line --help")
        })?;
        Ok(Self {
            kinds,
            can_test,
            named,
            brought_in: found,
        })
    }
}

/// The plants that one may be, each once, with how likely it is.
fn mixed(pairs: &[Pair], ways: impl Fn(&Pair) -> Vec<(Strands, f64)>) -> Vec<(Strands, f64)> {
    let mut found: Vec<(Strands, f64)> = Vec::new();
    for pair in pairs {
        for (strands, p) in ways(pair) {
            match found.iter_mut().find(|(known, _)| *known == strands) {
                Some((_, sum)) => *sum += pair.weight * p,
                None => found.push((strands, pair.weight * p)),
            }
        }
    }
    found
}
