//! `ratio` on trays and crosses: their counts beside what the label, or a ratio typed along, expects.

use std::collections::BTreeSet;

use super::breeding::{Lie, unsorted};
use super::ratio::read_ratio;
use super::stated::not_stated;
use super::thing::{batches, unknown};
use crate::cli::exit::Outcome;
use crate::cli::failure::Failure;
use crate::cli::world::World;
use crate::diagnosis::context::{Basis, Context};
use crate::diagnosis::counts::{TrayCounts, bench_trait, plant_at_word, traits_read, tray_counts};
use crate::diagnosis::frozen::{Frozen, LeftOut, counted_before_pulling};
use crate::diagnosis::looks::Look;
use crate::genetics::expect::Parent;
use crate::genetics::locus::LocusIx;
use crate::genetics::ratio::Ratio;
use crate::genetics::rule::GeneModel;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, Thing};
use crate::report::pulling::{PulledClass, PullingLine, WithPulled};
use crate::report::ratio::{Tested, USUAL_LEVEL};
use crate::report::ratio_trays::{Agreement, CrossLine, Linkage, TrayLine, TraysAnswer};
use crate::report::remarks::remark;
use crate::report::text::listed;
use crate::stats::counts::{ClassCount, Decides, GoodnessOfFit, expected_counts, goodness_of_fit};
use crate::stats::heterogeneity::{heterogeneity_of, holm};

/// Answers for trays and crosses.
///
/// # Errors
/// [`Failure`] where a code or trait is unknown, or nothing was scored for it.
pub fn answer(
    world: &World,
    typed: &[String],
    to: Option<&str>,
    of: Option<&str>,
) -> Result<Outcome, Failure> {
    let (_, facts) = world.ask()?;
    let basis = Basis::counting(&facts)?;
    let context = basis.context()?;
    let rows = batches(&facts, typed)?;
    let place = choose_trait(&context, &rows, of)?;
    let frozen = counted_before_pulling(&facts, &[context.looks.traits[place].id]);
    match &frozen.facts {
        Some(counted) => {
            let basis = Basis::counting(counted)?;
            answer_for(world, &basis.context()?, &rows, (place, to), &frozen)
        }
        None => answer_for(world, &context, &rows, (place, to), &frozen),
    }
}

/// Answers for one trait, by the facts that count for it.
fn answer_for(
    world: &World,
    context: &Context<'_>,
    rows: &[&BatchRow],
    (place, to): (usize, Option<&str>),
    frozen: &Frozen,
) -> Result<Outcome, Failure> {
    let facts = context.index.facts;
    let look = &context.looks.traits[place];
    let names: Vec<String> = look
        .classes
        .iter()
        .map(|class| class.name.clone())
        .collect();
    let ratio = to.map(|to| read_ratio(to, names.len())).transpose()?;
    let mut trays = Vec::new();
    let mut not_scored = Vec::new();
    for row in rows {
        let label = facts
            .code_of(Thing::Batch, row.id)
            .unwrap_or_default()
            .to_owned();
        let counts = tray_counts(context, row, place)
            .map_err(|error| Failure::refused(error.to_string()))?;
        match counts {
            Some(counts) => {
                let mut tray = Counted::new(facts, row, label, counts, ratio.as_ref());
                tray.frozen = frozen.trays.get(&row.id).copied();
                tray.turns = turning(look);
                trays.push(tray);
            }
            None => not_scored.push(label),
        }
    }
    if trays.is_empty() {
        return Err(
            Failure::refused(format!("none of these trays was scored for {}", look.code))
                .try_typing(format!(
                    "locule score {} {}:{}=1",
                    not_scored[0], look.code, names[0]
                )),
        );
    }
    let parents: BTreeSet<(i64, i64)> = rows
        .iter()
        .filter_map(|row| label_parents(facts, row))
        .collect();
    let (linkage, not_stated) = if ratio.is_some() {
        (Linkage::default(), Vec::new())
    } else {
        let open = |pair: &(i64, i64)| not_stated(context, facts, look.model.loci(), *pair);
        let open: BTreeSet<String> = parents.iter().flat_map(open).collect();
        let linkage = linkage_of(context, &[&look.model], parents.iter().copied())?;
        (linkage, open.into_iter().collect())
    };
    Ok(world.answer(&TraysAnswer {
        linkage,
        not_stated,
        ..assemble(&trays, &look.code, &names, not_scored)
    }))
}

/// The trait to count: the one named, else the bench trait where it was read, else the one that was.
///
/// # Errors
/// [`Failure`] where the one named is unknown, none was read, or several were.
pub fn choose_trait(
    context: &Context<'_>,
    rows: &[&BatchRow],
    of: Option<&str>,
) -> Result<usize, Failure> {
    let facts = context.index.facts;
    if let Some(code) = of {
        let row = facts
            .code_named(code)
            .filter(|row| row.thing == Thing::Trait);
        return row
            .and_then(|row| context.looks.place(row.thing_id))
            .ok_or_else(|| unknown(facts, code, &[Thing::Trait]));
    }
    let read = traits_read(context, rows);
    let bench = bench_trait(facts, context.looks);
    match (bench, read.as_slice()) {
        (Some(bench), read) if read.contains(&bench) => Ok(bench),
        (_, [one]) => Ok(*one),
        (_, []) => Err(Failure::refused("none of these trays was scored yet")
            .try_typing("locule score T1 purple=9 green=2")),
        (_, several) => {
            let codes: Vec<&str> = several
                .iter()
                .map(|place| context.looks.traits[*place].code.as_str())
                .collect();
            Err(
                Failure::refused(format!("several traits were read: {}", codes.join(", ")))
                    .try_flag("--trait", codes[0]),
            )
        }
    }
}

/// How the loci that some gene models read lie, where one of them reads several; the phase of parents is taken from
/// their word.
///
/// # Errors
/// [`Failure`] where the loci cannot be sorted into chromosomes.
pub fn linkage_of(
    context: &Context<'_>,
    models: &[&GeneModel],
    parents: impl Iterator<Item = (i64, i64)>,
) -> Result<Linkage, Failure> {
    let looks = context.looks;
    let facts = context.index.facts;
    let mut plants: Vec<i64> = parents.flat_map(|(m, f)| [m, f]).collect();
    plants.sort_unstable();
    plants.dedup();
    let mut found = Linkage::default();
    for model in models.iter().filter(|model| model.loci().len() > 1) {
        let arrangement = looks
            .linkage
            .arrange(model.loci(), false, &looks.book)
            .map_err(|error| unsorted(&error))?;
        let named: Vec<(String, Parent)> = plants
            .iter()
            .filter_map(|plant| facts.plant.get(*plant))
            .map(|row| {
                let parent = plant_at_word(context, row.id, model.loci());
                (facts.plant_label(row), parent)
            })
            .collect();
        let named: Vec<(&str, &Parent)> = named.iter().map(|(n, p)| (n.as_str(), p)).collect();
        let lie = Lie::of(&arrangement, &named, &looks.book);
        let symbols = |locus: &LocusIx| looks.book.get(*locus).symbol.clone();
        let free = arrangement
            .chromosomes
            .iter()
            .all(|one| one.loci.len() == 1);
        if free && lie.distance_open.is_empty() {
            let symbols: Vec<String> = model.loci().iter().map(symbols).collect();
            found.independent.push(listed(&symbols, "and"));
        }
        found.used.extend(lie.linked);
        found.distance_open.extend(lie.distance_open);
        found.phase_open.extend(lie.phase_open);
    }
    for lines in [
        &mut found.used,
        &mut found.distance_open,
        &mut found.phase_open,
        &mut found.independent,
    ] {
        lines.sort_unstable();
        lines.dedup();
    }
    Ok(found)
}

/// A tray's counts, the shares expected of it and what it is a tray of.
struct Counted {
    tray: String,
    cross: String,
    counts: TrayCounts,
    shares: Vec<f64>,
    ratio: Option<String>,
    frozen: Option<LeftOut>,
    /// Classes from which seedlings may yet turn.
    turns: Vec<usize>,
}

/// The classes that a late class follows.
fn turning(look: &Look) -> Vec<usize> {
    look.classes
        .iter()
        .filter_map(|class| class.after)
        .collect()
}

impl Counted {
    fn new(
        facts: &Facts,
        row: &BatchRow,
        tray: String,
        mut counts: TrayCounts,
        to: Option<&Ratio>,
    ) -> Self {
        if to.is_some() {
            counts.too_young.clear();
            counts.in_the_end = None;
            counts.at_an_age = false;
        }
        let cross = match (row.cross_id, row.plant_id) {
            (Some(id), _) => facts.code_of(Thing::Cross, id),
            (None, Some(id)) => facts.code_of(Thing::Plant, id),
            (None, None) => None,
        };
        Self {
            tray,
            cross: cross.unwrap_or_default().to_owned(),
            shares: to.map_or_else(|| counts.expected.clone(), Ratio::probabilities),
            ratio: to.map(ToString::to_string).or_else(|| counts.ratio.clone()),
            counts,
            frozen: None,
            turns: Vec::new(),
        }
    }

    /// What pulling did to the counts, and what they would be with those that are missing.
    fn pulling(&self, names: &[String]) -> PullingLine {
        let pulling = &self.counts.pulling;
        let class = |(class, count): &(usize, u64)| PulledClass {
            class: names[*class].clone(),
            count: *count,
            may_turn: self.turns.contains(class),
        };
        PullingLine {
            short: pulling.short.iter().map(class).collect(),
            uncounted: pulling.uncounted,
            unsaid: pulling.unsaid,
            first: pulling.first.map(|day| day.to_string()),
            blind: pulling.blind,
            counted_in: pulling.counted_in,
            same_day: pulling.same_day,
            counted_before: self.frozen.map(|out| out.pulled.to_string()),
            left_out: self.frozen.map_or(0, |out| out.counted),
            with_pulled: self.with_pulled(),
        }
    }

    /// The counts with those that were pulled for a class known; nothing where none is missing or some are of no class said.
    fn with_pulled(&self) -> Option<WithPulled> {
        let pulling = &self.counts.pulling;
        if pulling.short.is_empty() || pulling.unsaid > 0 {
            return None;
        }
        let mut observed = self.counts.observed.clone();
        for (class, count) in &pulling.short {
            observed[*class] += count;
        }
        let p = goodness_of_fit(&observed, &self.shares, 0).p;
        Some(WithPulled { observed, p })
    }

    /// The test against what the label ends in, where that fits though the shares of the readings' ages do not, since a class
    /// that shows late came sooner than expected.
    fn sooner(&self, now: &GoodnessOfFit, names: &[String]) -> Option<Tested> {
        let ends_in = self.counts.in_the_end.as_ref()?;
        if now.p.is_none_or(|p| p >= USUAL_LEVEL) {
            return None;
        }
        let end = goodness_of_fit(&self.counts.observed, ends_in, 0);
        let fits = end.decides != Decides::Impossible && end.p.is_none_or(|p| p >= USUAL_LEVEL);
        fits.then(|| Tested::new(&end, self.ratio.clone(), names))
    }

    /// The tray tested by itself.
    fn line(&self, of: &str, names: &[String]) -> TrayLine {
        let counts = &self.counts;
        let fit = goodness_of_fit(&counts.observed, &self.shares, 0);
        let too_young = counts.too_young.iter();
        TrayLine {
            tray: self.tray.clone(),
            cross: self.cross.clone(),
            of: of.to_owned(),
            doubtful: counts.doubtful,
            tasted_mild: counts.tasted_mild,
            pulled_before: counts.pulling.biases(),
            pulling: self.pulling(names),
            left_out: counts.left_out.iter().filter_map(remark).collect(),
            too_young: too_young.map(|class| names[*class].clone()).collect(),
            at_an_age: counts.at_an_age,
            sooner: self.sooner(&fit, names),
            tested: Tested::new(&fit, self.ratio.clone(), names),
        }
    }

    fn table(&self) -> Vec<ClassCount> {
        expected_counts(&self.counts.observed, &self.shares)
    }
}

fn assemble(trays: &[Counted], of: &str, names: &[String], not_scored: Vec<String>) -> TraysAnswer {
    let batches = trays.iter().map(|tray| tray.line(of, names)).collect();
    let mut crosses = Vec::new();
    for tray in trays {
        if !crosses
            .iter()
            .any(|line: &CrossLine| line.cross == tray.cross)
        {
            let of_cross: Vec<&Counted> = trays
                .iter()
                .filter(|other| other.cross == tray.cross)
                .collect();
            crosses.push(together(&of_cross, names));
        }
    }
    let asked: Vec<usize> = (0..crosses.len())
        .filter(|at| crosses[*at].pooled.p.is_some() && crosses[*at].pooled.df > 0)
        .collect();
    let p: Vec<f64> = asked
        .iter()
        .filter_map(|at| crosses[*at].pooled.p)
        .collect();
    for (at, adjusted) in asked.iter().zip(holm(&p)) {
        crosses[*at].p_holm = Some(adjusted);
    }
    let heterogeneity = match crosses.as_slice() {
        [one] => one.heterogeneity,
        _ => None,
    };
    TraysAnswer {
        batches,
        heterogeneity,
        crosses,
        not_scored,
        linkage: Linkage::default(),
        not_stated: Vec::new(),
    }
}

/// The p of some trays together.
fn p_together(trays: &[&Counted]) -> Option<f64> {
    let tables: Vec<Vec<ClassCount>> = trays.iter().map(|tray| tray.table()).collect();
    let (observed, expected) = summed(&tables);
    goodness_of_fit(&observed, &expected, 0).p
}

/// Counts and expected counts of several trays, class by class.
fn summed(tables: &[Vec<ClassCount>]) -> (Vec<u64>, Vec<f64>) {
    let classes = 0..tables.first().map_or(0, Vec::len);
    let sums = classes.map(|at| {
        let own = tables.iter().map(|table| &table[at]);
        let observed: u64 = own.clone().map(|class| class.observed).sum();
        (observed, own.map(|class| class.expected).sum::<f64>())
    });
    sums.unzip()
}

/// The trays of one cross together.
fn together(trays: &[&Counted], names: &[String]) -> CrossLine {
    let tables: Vec<Vec<ClassCount>> = trays.iter().map(|tray| tray.table()).collect();
    let (observed, expected) = summed(&tables);
    let (biased, others): (Vec<&Counted>, Vec<&Counted>) =
        trays.iter().partition(|tray| tray.counts.pulling.biases());
    let p_of_others = (!biased.is_empty() && !others.is_empty())
        .then(|| p_together(&others))
        .flatten();
    CrossLine {
        cross: trays[0].cross.clone(),
        trays: trays.iter().map(|tray| tray.tray.clone()).collect(),
        pooled: Tested::new(
            &goodness_of_fit(&observed, &expected, 0),
            trays[0].ratio.clone(),
            names,
        ),
        heterogeneity: (trays.len() > 1)
            .then(|| heterogeneity_of(&tables))
            .flatten()
            .as_ref()
            .map(Agreement::new),
        p_holm: None,
        biased: biased.iter().map(|tray| tray.tray.clone()).collect(),
        p_of_others,
    }
}
