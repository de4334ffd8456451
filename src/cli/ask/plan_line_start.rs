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
use crate::genetics::expect::Parent;
use crate::genetics::locus::LocusIx;
use crate::genetics::segregation::AtLocus;
use crate::planning::line::hindered::{Hindered, brought_in, hindered};
use crate::planning::line::kinds::{self, Kinds, Order, Strands, Wish, crossed, every_way};
use crate::planning::targets::Asks;
use crate::records::assumptions::Assumptions;
use crate::records::rows::Thing;
use crate::report::text::listed;

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
    /// Their names, mother first.
    names: [String; 2],
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
        let (_, facts) = world.ask()?;
        let found = find(&facts, typed)?;
        let parents = match found.thing {
            Thing::Plant => Some((found.id, found.id)),
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
        let plain = Asking::default();
        let bred = Bred::of_plants(
            &context,
            &asked,
            Some(&found.label),
            parents,
            plain,
            &args.recombines,
        )?;
        let mut seed = Seed::typed(args.germination, args.off_share);
        seed.learn(
            &context,
            world.day()?,
            cross_of(&facts, typed)?,
            parents.0,
            true,
        )?;
        Ok(Self {
            names: [parents.0, parents.1].map(|plant| facts.label_of_plant(plant)),
            is_crossed: parents.0 != parents.1,
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
        if !is_crossed {
            bred.sown = format!("{}, selfed", mother.0.written(&asked.traits.book));
            bred.not_stated
                .retain(|what| what.starts_with("the mother"));
        }
        let names = ["the mother", "the father"].map(str::to_owned);
        let mut seed = Seed::typed(args.germination, args.off_share);
        seed.remark = remark;
        Ok(Self {
            bred,
            asked,
            seed,
            wanted,
            is_crossed,
            names,
            asks,
        })
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

impl LineArgs {
    /// What is wanted, all of it together, in words and as asks.
    fn read_wish(&self, asked: &mut Asked) -> Result<(String, Asks), Failure> {
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

impl Start {
    /// The beginning of an opening, with the parent gone back to.
    ///
    /// # Errors
    /// [`Failure`] where something is not stated, no line can be as wanted, or the schemes are too large.
    pub fn of(opening: &Opening, recurrent: Option<Recurrent>) -> Result<Self, Failure> {
        let (asked, bred) = (&opening.asked, &opening.bred);
        if !bred.not_stated.is_empty() {
            return Err(Failure::refused(format!(
                "a line is planned from stated genotypes, and not stated is {}",
                listed(&bred.not_stated, "and")
            ))
            .because(
                "state both alleles there; 'genotype' says what is likely of a plant in the ledger",
            )
            .try_typing("locule parent add --help"));
        }
        let breeding = bred.breeding();
        let order = Order::of(breeding.arrangement);
        let models = asked.models();
        let ask = |(model, class): &(usize, usize)| (models[*model], *class);
        let wish = Wish {
            asks: opening.asks.iter().map(ask).collect(),
            cytoplasm: breeding.mother.cytoplasm,
        };
        let plants = [breeding.mother, breeding.father];
        opening.check_hindrance(&order, &wish, plants)?;
        let linked: Vec<&[LocusIx]> = (breeding.arrangement.chromosomes.iter())
            .map(|chromosome| chromosome.loci.as_slice())
            .collect();
        let strands = plants.map(|plant| every_way(plant, &linked));
        let first = match opening.is_crossed {
            false => strands[0].clone(),
            true => crossed(&order, &strands),
        };
        let (back, can_test) = match recurrent {
            None => (None, false),
            Some(recurrent) => {
                let [mother, father] = &strands;
                let (back, donor) = match recurrent {
                    Recurrent::Mother => (mother, father),
                    Recurrent::Father => (father, mother),
                };
                (
                    Some([back[0].0.clone(), donor[0].0.clone()]),
                    donor[0].0[0] == donor[0].0[1],
                )
            }
        };
        let named = recurrent.map(|recurrent| {
            let [mother, father] = opening.names.clone();
            match recurrent {
                Recurrent::Mother => [mother, father],
                Recurrent::Father => [father, mother],
            }
        });
        let mut found = Vec::new();
        if let (Some([back, donor]), Some([name, _])) = (&back, &named) {
            opening.check_recurrent(&order, &wish, back, name)?;
            found = brought_in(&order, &wish, &back[0], &donor[0]);
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

impl Opening {
    /// Refuses what no line can be.
    fn check_hindrance(
        &self,
        order: &Order,
        wish: &Wish<'_>,
        plants: [&Parent; 2],
    ) -> Result<(), Failure> {
        let book = &self.asked.traits.book;
        let there = |locus: &LocusIx| {
            let pairs = plants.map(|plant| plant.at(*locus).and_then(AtLocus::known));
            let mut alleles: Vec<u8> = (pairs.iter().flatten())
                .flat_map(|pair| [pair.a(), pair.b()])
                .collect();
            alleles.sort_unstable();
            alleles.dedup();
            alleles
        };
        let all = |locus: &LocusIx| (0..book.get(*locus).alleles.len() as u8).collect();
        let there: Vec<Vec<u8>> = order.loci.iter().map(there).collect();
        let all: Vec<Vec<u8>> = order.loci.iter().map(all).collect();
        let symbols = |loci: &[LocusIx]| {
            let symbols = loci.iter().map(|l| book.get(*l).symbol.as_str());
            listed(&symbols.collect::<Vec<_>>(), "and")
        };
        let make = |loci: &[LocusIx]| if loci.len() == 1 { "makes" } else { "make" };
        match hindered(order, wish, &there, &all) {
            None => Ok(()),
            Some(Hindered::NeverTrue(loci)) => Err(Failure::refused(format!(
                "no line breeds true for {}: {} {} it impossible",
                self.wanted,
                symbols(&loci),
                make(&loci)
            ))
            .because(format!(
                "only plants with two different alleles at {} show it, and their seed splits",
                symbols(&loci)
            ))
            .try_typing("locule trait list")),
            Some(Hindered::Lacking(loci)) => {
                let failure = Failure::refused(format!(
                    "no line from {} can be {}: {} {} it impossible",
                    self.bred.sown,
                    self.wanted,
                    symbols(&loci),
                    make(&loci)
                ));
                let why = |locus: &LocusIx| {
                    let at = |plant: &Parent| {
                        let known = plant.at(*locus).and_then(AtLocus::known);
                        known.map_or_else(String::new, |pair| pair.written(book.get(*locus)))
                    };
                    let symbol = &book.get(*locus).symbol;
                    match self.is_crossed {
                        true => format!(
                            "{symbol}: {} is {}, {} {}",
                            self.names[0],
                            at(plants[0]),
                            self.names[1],
                            at(plants[1])
                        ),
                        false => format!("{symbol}: the plant is {}", at(plants[0])),
                    }
                };
                let failure = loci
                    .iter()
                    .fold(failure, |failure, locus| failure.because(why(locus)));
                Err(failure.try_typing("locule plan line --help"))
            }
        }
    }

    /// Refuses to go back to a parent that splits, or that has nothing to gain.
    fn check_recurrent(
        &self,
        order: &Order,
        wish: &Wish<'_>,
        back: &Strands,
        name: &str,
    ) -> Result<(), Failure> {
        let book = &self.asked.traits.book;
        let open = order.loci.iter().enumerate();
        let open = open.filter(|(at, _)| back[0][*at] != back[1][*at]);
        let open: Vec<&str> = open.map(|(_, l)| book.get(*l).symbol.as_str()).collect();
        if !open.is_empty() {
            return Err(Failure::refused(format!(
                "{name} splits at {}, so crossing back to it leads to no line",
                listed(&open, "and")
            ))
            .because("cross back to a plant that breeds true, or self")
            .try_typing("locule plan line --help"));
        }
        if wish.is_met(&wish.look(order, back)) {
            return Err(Failure::refused(format!(
                "{name} breeds true for {} already, so there is nothing to bring in",
                self.wanted
            ))
            .because("go back to the other parent, or self")
            .try_typing("locule plan line --help"));
        }
        Ok(())
    }
}
