//! Loci, traits, care, measures, remarks, pictures and starting beliefs in words.

use super::Said;
use super::plants::{dated, label};
use crate::genetics::species::in_print;
use crate::records::admit::TraitDone;
use crate::records::assumptions::{self, Assumptions};
use crate::records::facts::Facts;
use crate::records::genes::{alleles_of, linked_pairs, models_of, trait_spec};
use crate::records::rows::Thing;
use crate::records::species::{BETWEEN, Crossing, all_self_times};
use crate::report::text::{listed, shown};

/// A thing by its code, place or lot.
fn thing_label(facts: &Facts, thing: Thing, id: i64) -> String {
    match thing {
        Thing::Plant => label(facts, id),
        Thing::Lot => facts
            .lot
            .get(id)
            .map_or_else(String::new, |lot| facts.lot_label(lot.id)),
        other => facts.code_of(other, id).unwrap_or("?").to_owned(),
    }
}

pub(super) fn locus(facts: &Facts, id: i64, new: bool) -> Said {
    let Some(row) = facts.locus.get(id) else {
        return Said::bare("a locus");
    };
    let alleles = alleles_of(facts, id);
    let allele = |allele: &&crate::records::rows::AlleleRow| match &allele.share {
        Some(share) => format!("{} (share {share})", allele.symbol),
        None => allele.symbol.clone(),
    };
    let named: Vec<String> = alleles.iter().map(allele).collect();
    let mut words = vec![format!("alleles {}", named.join(", "))];
    if let Some(chromosome) = &row.chromosome {
        let at = row
            .at_cm
            .as_ref()
            .map_or_else(String::new, |at| format!(" at {at} cM"));
        words.push(format!("chromosome {chromosome}{at}"));
    }
    for pair in &facts.recombination {
        let other = match (pair.locus_a == id, pair.locus_b == id) {
            (true, _) => pair.locus_b,
            (_, true) => pair.locus_a,
            _ => continue,
        };
        let other = facts
            .locus
            .get(other)
            .map_or("?", |other| other.symbol.as_str());
        words.push(format!("recombines with {other} at {}", pair.r));
    }
    let new = if new { "a new locus; " } else { "" };
    let has = |pair: &&(&str, &str)| pair.0 == row.symbol || pair.1 == row.symbol;
    let linked = match linked_pairs(facts).iter().find(has) {
        Some(_) => " Expectations, suspects and genotype reckon with it.",
        None => "",
    };
    let words = format!("{new}{}.{linked}", words.join("; "));
    Said::of(row.symbol.clone(), words)
}

pub(super) fn trait_done(facts: &Facts, id: i64, done: TraitDone, new_loci: &[String]) -> Said {
    let Ok(Some(spec)) = trait_spec(facts, id) else {
        return Said::bare("a trait");
    };
    let classes = spec.class_names().join(", ");
    let models = models_of(facts, id);
    let in_use = models
        .iter()
        .find(|model| model.in_use)
        .map_or("none", |model| &model.name);
    let newest = models.last().map_or("none", |model| &model.name);
    let words = match done {
        TraitDone::Added if models.is_empty() => format!(
            "a new graded trait, from the lowest up: {classes}. Then: locule grade T1-03 {}={}",
            spec.code,
            spec.class_names().last().map_or("", String::as_str)
        ),
        TraitDone::Added => format!("a new {} trait with classes {classes}", spec.stage),
        TraitDone::Redefined => format!("defined anew with classes {classes}"),
        TraitDone::ModelAdded => format!("rival model {newest}; {in_use} stays in use"),
        TraitDone::ModelChosen => format!("model {in_use} is in use"),
        TraitDone::SwitchedOn => format!("offered for scoring, with classes {classes}"),
        TraitDone::SwitchedOff => "no longer offered for scoring".to_owned(),
        TraitDone::LateSet => late_words(&spec),
        TraitDone::MadeBench => {
            format!("the bench trait; {classes} belong to it when typed alone")
        }
    };
    let met = match new_loci {
        [] => String::new(),
        loci => format!("; loci first met: {}", listed(loci, "and")),
    };
    Said::of(spec.code, format!("{words}{met}."))
}

/// When a trait shows its late classes.
fn late_words(spec: &crate::genetics::traits::TraitSpec) -> String {
    let late = spec.classes.iter().filter(|class| class.after.is_some());
    let late: Vec<String> = late.map(|class| class.name.clone()).collect();
    let Some(onset) = spec.onset else {
        return "no late class".to_owned();
    };
    format!(
        "half of the {} seedlings show it {} after coming up, spread of the log {}, {} ever",
        listed(&late, "or"),
        days(onset.median_days),
        onset.spread,
        onset.ceiling
    )
}

fn days(days: f64) -> String {
    let unit = if days == 1.0 { "day" } else { "days" };
    format!("{days} {unit}")
}

pub(super) fn care(facts: &Facts, id: i64) -> Said {
    let Some(row) = facts.care.get(id) else {
        return Said::bare("care");
    };
    let targets = facts
        .care_target
        .iter()
        .filter(|target| target.care_id == id);
    let targets: Vec<String> = targets
        .map(|target| thing_label(facts, target.thing, target.thing_id))
        .collect();
    let whom = if targets.is_empty() {
        "the whole bench".to_owned()
    } else {
        listed(&targets, "and")
    };
    let mut words = vec![format!("{} for {whom} on {}", row.kind, dated(row.day))];
    words.extend(
        [&row.product, &row.dose]
            .into_iter()
            .filter(|text| !text.is_empty())
            .cloned(),
    );
    let due = row.interval_days.map_or_else(String::new, |days| {
        format!("; due again on {}", dated(row.day.forward(days)))
    });
    Said::bare(format!("{}{due}.", words.join(", ")))
}

pub(super) fn measures(facts: &Facts, ids: &[i64]) -> Said {
    let rows: Vec<_> = ids.iter().filter_map(|id| facts.measure.get(*id)).collect();
    let Some(first) = rows.first() else {
        return Said::bare("measures");
    };
    let words: Vec<String> = rows
        .iter()
        .map(|row| {
            format!("{} {} {}", row.name, row.number, row.unit)
                .trim_end()
                .to_owned()
        })
        .collect();
    Said::of(
        label(facts, first.plant_id),
        format!("{} on {}.", words.join(", "), dated(first.day)),
    )
}

pub(super) fn remark(facts: &Facts, id: i64) -> Said {
    let Some(row) = facts.remark.get(id) else {
        return Said::bare("noted");
    };
    Said::of(
        thing_label(facts, row.thing, row.thing_id),
        format!("noted: {}", shown(&row.text)),
    )
}

pub(super) fn photos(facts: &Facts, ids: &[i64]) -> Said {
    let rows: Vec<_> = ids.iter().filter_map(|id| facts.photo.get(*id)).collect();
    let Some(first) = rows.first() else {
        return Said::bare("pictures");
    };
    let paths: Vec<&str> = rows.iter().map(|row| row.path.as_str()).collect();
    let words = format!("{} of {}.", listed(&paths, "and"), dated(first.day));
    Said::of(thing_label(facts, first.thing, first.thing_id), words)
}

pub(super) fn species_pair(facts: &Facts, mother: &str, father: &str) -> Said {
    let crossing = Crossing::of(facts, mother, father);
    let (printed, printed_fertility) = in_print(mother, father);
    let beside = |now: String, printed: String| match now == printed {
        true => format!("{now}, as in print"),
        false => format!("{now} (in print {printed})"),
    };
    let times = all_self_times(crossing.crossability, &Assumptions::of(facts));
    let beside_what = match crossing.is_within_species() {
        true => "where crosses take readily",
        false => "within a species",
    };
    let how_much = match times == 1.0 {
        true => "as".to_owned(),
        false => format!("{times} times as"),
    };
    let words = format!(
        "the crossing is {}; the hybrid's fertility {}. A whole tray of selfs counts {how_much} likely as {beside_what}.",
        beside(crossing.crossability.to_string(), printed.to_string()),
        beside(
            crossing.fertility.to_string(),
            printed_fertility.to_string()
        ),
    );
    Said::of(format!("{mother}{BETWEEN}{father}"), words)
}

pub(super) fn assumptions(facts: &Facts, changed: &[(&'static str, Option<String>)]) -> Said {
    let one = |(key, before): &(&'static str, Option<String>)| {
        let (now, was) = now_and_was(facts, key, before.as_deref());
        format!("{key} {now} (was {was})")
    };
    let all: Vec<String> = changed.iter().map(one).collect();
    Said::bare(format!("{}.", all.join(", ")))
}

pub(super) fn assumption(facts: &Facts, key: &str, before: Option<&str>) -> Said {
    let meaning = assumptions::find(key).map_or("", |known| known.meaning);
    let (now, was) = now_and_was(facts, key, before);
    Said::of(key, format!("{now} (was {was}): {meaning}."))
}

/// A starting belief as it is and as it was.
fn now_and_was(facts: &Facts, key: &str, before: Option<&str>) -> (String, String) {
    let known = assumptions::find(key);
    let default = known.map_or_else(String::new, |known| known.default.to_string());
    let now = facts
        .setting(key)
        .map_or_else(|| format!("{default} again, the default"), str::to_owned);
    let was = before.map_or_else(|| format!("{default}, the default"), str::to_owned);
    (now, was)
}
