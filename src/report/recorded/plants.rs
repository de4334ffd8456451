//! Parents, pollinations and seed in words.

use super::{Said, several};
use crate::records::day::Day;
use crate::records::descent::adoption_of;
use crate::records::facts::Facts;
use crate::records::rows::{CrossRow, LotRow, PlantCytoplasm, PlantKind, PlantRow, Thing};
use crate::records::tray::stock;
use crate::report::adopted::adopted_as;
use crate::report::pedigree::purdy_of;
use crate::report::text::listed;

/// A plant by its code or place.
pub(super) fn label(facts: &Facts, plant: i64) -> String {
    facts
        .plant
        .get(plant)
        .map_or_else(|| "?".to_owned(), |row| facts.plant_label(row))
}

/// `NL x CW`, `NL selfed`.
pub(super) fn parents(facts: &Facts, cross: &CrossRow) -> String {
    let mother = label(facts, cross.mother_id);
    if cross.mother_id == cross.father_id {
        format!("{mother} selfed")
    } else {
        format!("{mother} x {}", label(facts, cross.father_id))
    }
}

pub(super) fn parent(facts: &Facts, plant: i64, new_loci: &[String]) -> Said {
    let Some(row) = facts.plant.get(plant) else {
        return Said::bare("a parent");
    };
    let mut words = Vec::new();
    if !row.name.is_empty() {
        words.push(row.name.clone());
    }
    words.push(origin(facts, row));
    words
        .extend(adoption_of(facts, plant).map(|row| format!("kept as {}", adopted_as(facts, row))));
    let stated = facts
        .statement
        .iter()
        .filter(|stated| stated.plant_id == plant);
    if let Some(stated) = stated.into_iter().next_back() {
        let how = if stated.proven { "proven" } else { "as stated" };
        words.push(format!("genotype {} ({how})", stated.genotype));
    }
    let looks = looks_of(facts, plant);
    if !looks.is_empty() {
        words.push(format!("looks {}", looks.join(", ")));
    }
    if row.cytoplasm != PlantCytoplasm::Unknown {
        words.push(format!("cytoplasm {}", row.cytoplasm));
    }
    let mut said = words.join("; ");
    if !new_loci.is_empty() {
        said.push_str(&format!("; first met: {}", listed(new_loci, "and")));
    }
    Said::of(label(facts, plant), format!("{said}."))
}

pub(super) fn adoption(facts: &Facts, id: i64) -> Said {
    let Some(row) = facts.adoption.get(id) else {
        return Said::bare("a seedling kept as what it probably is");
    };
    let Some(plant) = facts.plant.get(row.plant_id) else {
        return Said::bare(adopted_as(facts, row));
    };
    let mut words = Vec::new();
    if !plant.name.is_empty() {
        words.push(plant.name.clone());
    }
    let place = facts.seedling_label(plant);
    if facts.code_of(Thing::Plant, plant.id).is_some() {
        words.extend(place.map(|place| format!("the seedling {place}")));
    }
    words.push(format!("kept as {}", adopted_as(facts, row)));
    Said::of(label(facts, row.plant_id), format!("{}.", words.join("; ")))
}

fn kind_words(kind: PlantKind) -> &'static str {
    match kind {
        PlantKind::Line => "a line",
        PlantKind::Packet => "a packet",
        PlantKind::Single => "a single plant",
        PlantKind::Seedling => "a seedling",
        PlantKind::Ancestor => "an ancestor",
    }
}

fn origin(facts: &Facts, row: &PlantRow) -> String {
    let kind = kind_words(row.kind);
    let species = if row.species.is_empty() {
        String::new()
    } else {
        format!(" of {}", row.species)
    };
    match (facts.seedling_label(row), purdy_of(facts, row.id)) {
        (Some(place), _) => format!("the seedling {place}{species}"),
        (None, Some(pedigree)) if row.kind == PlantKind::Single => {
            format!("{kind}{species} of {pedigree}")
        }
        (None, Some(pedigree)) => format!("{kind}{species} out of {pedigree}"),
        (None, None) => format!("{kind}{species}"),
    }
}

fn looks_of(facts: &Facts, plant: i64) -> Vec<String> {
    let readings = facts
        .reading
        .iter()
        .filter(|reading| reading.plant_id == plant);
    let class = |id: Option<i64>| id.and_then(|id| facts.trait_class.get(id));
    readings
        .filter_map(|reading| class(reading.class_id))
        .map(|class| {
            let of = facts.code_of(Thing::Trait, class.trait_id).unwrap_or("?");
            format!("{} ({of})", class.name)
        })
        .collect()
}

pub(super) fn in_flower(facts: &Facts, id: i64) -> Said {
    let Some(row) = facts.in_flower.get(id) else {
        return Said::bare("in flower");
    };
    let words = match row.until_day {
        None => format!("in flower on {}.", dated(row.from_day)),
        Some(until) => format!(
            "in flower from {} to {}.",
            dated(row.from_day),
            dated(until)
        ),
    };
    Said::of(label(facts, row.plant_id), words)
}

/// A day with its year: `1 March 2026`.
pub(super) fn dated(day: Day) -> String {
    format!("{} {}", day.spoken(), day.year())
}

fn cross_of(facts: &Facts, id: i64) -> (String, String) {
    let code = facts.code_of(Thing::Cross, id).unwrap_or("?").to_owned();
    let pair = facts
        .cross
        .get(id)
        .map_or_else(String::new, |cross| parents(facts, cross));
    (code, pair)
}

pub(super) fn pollination(facts: &Facts, id: i64, number: usize) -> Said {
    let Some(row) = facts.pollination.get(id) else {
        return Said::bare("a pollination");
    };
    let (code, pair) = cross_of(facts, row.cross_id);
    let when = row.day.map_or_else(
        || "on an unknown day".to_owned(),
        |day| format!("on {}", dated(day)),
    );
    let flowers = row
        .flowers
        .map_or_else(String::new, |n| format!(", {}", several(n, "flower")));
    let further = if number > 1 {
        format!(", pollination {number}")
    } else {
        String::new()
    };
    let anthers = if row.emasculated {
        "anthers taken out"
    } else {
        "anthers left in"
    };
    let cover = if row.covered { ", covered" } else { "" };
    let tool = tool_words(&row.tool, row.wiped);
    let words = format!("{pair}{further}{flowers} {when}; {anthers}{cover}{tool}.");
    let on_tag = row.day.map_or_else(String::new, |day| format!(" {day}"));
    let tag = format!("{code} {pair}{on_tag}");
    Said {
        tag: Some(tag),
        ..Said::of(code, words)
    }
}

fn tool_words(tool: &str, wiped: bool) -> String {
    match (tool.is_empty(), wiped) {
        (true, false) => String::new(),
        (true, true) => "; tool wiped before".to_owned(),
        (false, false) => format!("; tool {tool}"),
        (false, true) => format!("; tool {tool}, wiped before"),
    }
}

pub(super) fn pod_set(facts: &Facts, id: i64) -> Said {
    let Some(row) = facts.pollination.get(id) else {
        return Said::bare("pods");
    };
    let (code, _) = cross_of(facts, row.cross_id);
    let mut outcome = Vec::new();
    if let Some(pods) = row.pods {
        outcome.push(format!("{} set", several(pods, "pod")));
    }
    if let Some(dropped) = row.dropped {
        outcome.push(format!("{dropped} dropped"));
    }
    let of = row
        .flowers
        .map_or_else(String::new, |n| format!("of {} ", several(n, "flower")));
    let when = row
        .day
        .map_or_else(String::new, |day| format!(", pollinated on {}", dated(day)));
    let open = match (
        row.flowers,
        row.pods.unwrap_or(0) + row.dropped.unwrap_or(0),
    ) {
        (Some(flowers), done) if flowers > done => format!("; {} still open", flowers - done),
        _ => String::new(),
    };
    Said::of(code, format!("{of}{}{open}{when}.", outcome.join(", ")))
}

pub(super) fn lot(facts: &Facts, id: i64) -> Said {
    let Some(row) = facts.lot.get(id) else {
        return Said::bare("a lot of seed");
    };
    let about = if row.about { "about " } else { "" };
    let seeds = row.seeds.map_or_else(
        || "seeds not counted".to_owned(),
        |n| format!("{about}{}", several(n, "seed")),
    );
    let what = match (row.cross_id, row.pods) {
        (Some(_), Some(pods)) => format!("{seeds} of {}", several(pods, "pod")),
        (Some(_), None) => seeds,
        (None, _) => format!("a packet, {seeds}"),
    };
    let mut words = what;
    for (text, before) in [
        (&row.label, "labelled "),
        (&row.giver, "from "),
        (&row.claim, "said to be "),
        (&row.kept, "kept in "),
    ] {
        if !text.is_empty() {
            words.push_str(&format!(", {before}{text}"));
        }
    }
    let of_source =
        |other: &&LotRow| other.cross_id == row.cross_id && other.plant_id == row.plant_id;
    let all: Option<i64> = facts
        .lot
        .iter()
        .filter(of_source)
        .map(|lot| stock(facts, lot.id))
        .sum();
    let label = facts.lot_label(row.id);
    let source = label.split('/').next().unwrap_or_default();
    let about = if facts.lot.iter().filter(of_source).any(|lot| lot.about) {
        "about "
    } else {
        ""
    };
    let left = all.map_or_else(String::new, |n| {
        let seeds = several(n.max(0), "seed");
        format!(" {source} has {about}{seeds} in store.")
    });
    Said::of(label.clone(), format!("{words}.{left}"))
}
