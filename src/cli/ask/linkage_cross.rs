//! `linkage` of a cross in the ledger: its seedlings, counted by two traits at once.

use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::{Basis, Context};
use crate::diagnosis::counts::{JointCounts, descent_of, joint_counts, plant_at_word};
use crate::diagnosis::frozen::{Frozen, counted_before_pulling};
use crate::diagnosis::looks::Look;
use crate::diagnosis::two_point::{Linkage, NoEstimate, classes_of, estimate};
use crate::genetics::expect::Classes;
use crate::genetics::locus::{LocusBook, LocusIx};
use crate::genetics::two_point::TwoPoint;
use crate::records::admit::Remedy;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::report::linkage::{LinkageAnswer, PairLine};
use crate::report::numbers::several;

use super::linkage::{LinkageArgs, names_of};
use super::stated::parents_of;
use super::thing::{batches, unknown};

impl LinkageArgs {
    fn check_cross(&self, typed: &str) -> Result<(), Failure> {
        let counted = [
            ("--with", !self.with.is_empty()),
            ("--from", self.from.is_some()),
            ("--phase", self.phase.is_some()),
            ("--first", !self.first.is_empty()),
            ("--second", !self.second.is_empty()),
            ("--pair", self.pair.is_some()),
        ];
        match counted.iter().find(|(_, is_typed)| *is_typed) {
            Some((flag, _)) => Err(Failure::usage(format!(
                "{flag} goes with counts; of {typed} the ledger says it"
            ))
            .try_remedy(Remedy::Without(flag))),
            None => Ok(()),
        }
    }

    /// The answer from the seedlings of a cross.
    ///
    /// # Errors
    /// [`Failure`] where they say nothing of linkage.
    pub(super) fn of_cross(&self, world: &World, typed: &str) -> Result<Outcome, Failure> {
        self.check_cross(typed)?;
        let (_, facts) = world.ask()?;
        let basis = Basis::counting(&facts)?;
        let context = basis.context()?;
        let (label, parents) = parents_of(&facts, typed)?;
        let places = self.traits_typed(&context, &label)?;
        let sown = batches(&facts, std::slice::from_ref(&label))?;
        let read = places.map(|place| context.looks.traits[place].id);
        let frozen = counted_before_pulling(&facts, &read);
        match &frozen.facts {
            Some(early) => {
                let basis = Basis::counting(early)?;
                self.answer_for(
                    world,
                    &basis.context()?,
                    (&label, parents),
                    (places, &sown),
                    &frozen,
                )
            }
            None => self.answer_for(world, &context, (&label, parents), (places, &sown), &frozen),
        }
    }

    /// Answers by the facts that count.
    fn answer_for(
        &self,
        world: &World,
        context: &Context<'_>,
        (label, parents): (&str, (i64, i64)),
        (places, sown): ([usize; 2], &[&BatchRow]),
        frozen: &Frozen,
    ) -> Result<Outcome, Failure> {
        let counted = joint_counts(context, sown, places);
        let traits = places.map(|place| &context.looks.traits[place]);
        let pairs_of = |one: &LocusIx| {
            let others = traits[1].model.loci().iter().filter(|other| *other != one);
            others.map(|other| [*one, *other]).collect::<Vec<_>>()
        };
        let asked: Vec<[LocusIx; 2]> = traits[0].model.loci().iter().flat_map(pairs_of).collect();
        if asked.is_empty() {
            return Err(Failure::refused(format!(
                "{} and {} read the same locus: one gene with two looks, not two linked ones",
                traits[0].code, traits[1].code
            ))
            .try_typing("locule trait list"));
        }
        if counted.seen.is_empty() {
            return Err(Failure::refused(format!(
                "no seedling of {label} was read for both {} and {}",
                traits[0].code, traits[1].code
            ))
            .try_typing(format!("locule show {label}")));
        }
        let loci = context.looks.loci_read(&places);
        let (mother, father) = (
            plant_at_word(context, parents.0, &loci),
            plant_at_word(context, parents.1, &loci),
        );
        let models = traits.map(|look| &look.model);
        let mut pairs = Vec::new();
        let mut refused = None;
        for pair in asked {
            let question = TwoPoint {
                mother: &mother,
                father: &father,
                descent: &descent_of(parents),
                models: &models,
                pair,
            };
            match self.pair_of_cross(&question, &counted, traits, &context.looks.book) {
                Ok(line) => pairs.push(line),
                Err(failure) => refused = refused.or(Some(failure)),
            }
        }
        if let (true, Some(refused)) = (pairs.is_empty(), refused) {
            return Err(refused);
        }
        Ok(world.answer(&LinkageAnswer {
            from: format!("{label}, {} and {}", traits[0].code, traits[1].code),
            n: counted.seen.values().sum(),
            pairs,
            together: None,
            remarks: [
                of_pulling(context.index.facts, sown, &counted, frozen),
                remarks(&counted, traits),
            ]
            .concat(),
        }))
    }

    fn pair_of_cross(
        &self,
        question: &TwoPoint<'_>,
        counted: &JointCounts,
        traits: [&Look; 2],
        book: &LocusBook,
    ) -> Result<PairLine, Failure> {
        let symbols = question.pair.map(|locus| book.get(locus).symbol.clone());
        let what = symbols.join(" and ");
        let classes = classes_of(question).map_err(|error| self.no_estimate(&error, &[], &what))?;
        let words = traits.map(|look| {
            look.classes
                .iter()
                .map(|c| c.name.clone())
                .collect::<Vec<_>>()
        });
        let names = names_of(&classes, &[&words[0], &words[1]]);
        let is_listed = |seen: &&[usize; 2]| classes.iter().any(|c| c[..] == seen[..]);
        let stray = counted.seen.keys().find(|seen| !is_listed(seen));
        if let Some([one, other]) = stray {
            let name = format!("{}/{}", words[0][*one], words[1][*other]);
            let never = NoEstimate::Impossible(Vec::new());
            return Err(self.no_estimate(&never, &[name], &what));
        }
        let count = |classes: &Classes| counted.seen.get(&[classes[0], classes[1]]).copied();
        let counts: Vec<u64> = classes.iter().map(|c| count(c).unwrap_or(0)).collect();
        let found: Linkage = estimate(question, &counts).map_err(|error| {
            let never = match &error {
                NoEstimate::Impossible(never) => names_of(never, &[&words[0], &words[1]]),
                _ => Vec::new(),
            };
            self.no_estimate(&error, &never, &what)
        })?;
        Ok(PairLine::new(symbols, &found, &names, None))
    }

    fn traits_typed(&self, context: &Context<'_>, label: &str) -> Result<[usize; 2], Failure> {
        let facts = context.index.facts;
        let example = format!("locule linkage {label} --traits foliage,stem-hair");
        let typed = self.traits.as_deref().unwrap_or_default();
        let Some((one, other)) = typed.split_once(',') else {
            return Err(Failure::usage("name the two traits that were read").try_typing(example));
        };
        let place = |code: &str| {
            let row = facts.code_named(code.trim());
            let row = row.filter(|row| row.thing == Thing::Trait);
            row.and_then(|row| context.looks.place(row.thing_id))
                .ok_or_else(|| {
                    unknown(facts, code.trim(), &[Thing::Trait]).try_typing("locule trait list")
                })
        };
        let places = [place(one)?, place(other)?];
        if places[0] == places[1] {
            return Err(Failure::usage(format!("{one} is named twice")).try_typing(example));
        }
        Ok(places)
    }
}

/// What the pulling of seedlings did to the counts, tray by tray.
fn of_pulling(
    facts: &Facts,
    sown: &[&BatchRow],
    counted: &JointCounts,
    frozen: &Frozen,
) -> Vec<String> {
    let tray = |id: i64| facts.code_of(Thing::Batch, id).unwrap_or_default();
    let here = sown
        .iter()
        .filter_map(|row| Some((row.id, frozen.trays.get(&row.id)?)));
    let before = here.map(|(id, out)| {
        format!(
            "{} goes by its count from before seedlings were pulled for their looks, first on {}; the later one, of {}, is left out.",
            tray(id),
            out.pulled,
            several(out.counted, "seedling", "seedlings")
        )
    });
    let missing = counted.missing.iter().map(|(id, count)| {
        format!(
            "The count of {} lacks {}, pulled for looks before it, so this is biased.",
            tray(*id),
            several(*count, "seedling", "seedlings")
        )
    });
    before.chain(missing).collect()
}

fn remarks(counted: &JointCounts, traits: [&Look; 2]) -> Vec<String> {
    let mut remarks = Vec::new();
    if counted.half_read > 0 {
        remarks.push(format!(
            "{} more were read for only one of the two and are left out.",
            counted.half_read
        ));
    }
    if counted.doubtful > 0 {
        remarks.push(format!(
            "{} of those counted are doubtful readings.",
            counted.doubtful
        ));
    }
    for look in traits {
        if look.classes.iter().any(|class| class.after.is_some()) {
            remarks.push(format!(
                "{} shows late: seedlings count by the look of their newest reading, so read once all have turned.",
                look.code
            ));
        }
    }
    remarks.push("Strays and selfs among the seedlings are not allowed for.".to_owned());
    remarks
}
