//! Sowings, counts, scores and fates in words.

use super::plants::{dated, label, parents};
use super::{Said, several};
use crate::records::assumptions::Assumptions;
use crate::records::cells::CellRange;
use crate::records::day::Day;
use crate::records::descent::label_parents;
use crate::records::facts::Facts;
use crate::records::rows::{
    BatchRow, FateKind, FateRow, ReadingRow, Sureness, TallyLookRow, Thing,
};
use crate::records::species::bare;
use crate::records::tray::{Tray, stock};
use crate::records::warmth::warmth_of;
use crate::report::numbers::share;
use crate::report::text::{fate_word, listed};

pub(super) fn sowing(facts: &Facts, id: i64) -> Said {
    let Some(tray) = Tray::of(facts, id) else {
        return Said::bare("a sowing");
    };
    let batch = tray.batch;
    let place = if batch.place.is_empty() {
        String::new()
    } else {
        format!(", {}", batch.place)
    };
    let warmth = warmth_of(facts, batch, batch.day).map_or_else(String::new, |warmth| {
        format!(", in soil at {} °C", warmth.celsius)
    });
    let words = format!(
        "{} of {} in {} on {}{place}{warmth}{}. Up from about {}.",
        several(batch.seeds, "seed"),
        source(facts, batch),
        several(batch.cells, "cell"),
        dated(batch.day),
        lots(facts, batch),
        batch.day.forward(usual_days(facts, batch)).spoken(),
    );
    Said::of(tray.label(), words)
}

fn source(facts: &Facts, batch: &BatchRow) -> String {
    if let Some(plant) = batch.plant_id {
        return label(facts, plant);
    }
    let cross = batch.cross_id.and_then(|id| facts.cross.get(id));
    cross.map_or_else(String::new, |cross| {
        let code = facts.code_of(Thing::Cross, cross.id).unwrap_or("?");
        format!("{code} ({})", parents(facts, cross))
    })
}

fn lots(facts: &Facts, batch: &BatchRow) -> String {
    let draws = facts
        .batch_seed
        .iter()
        .filter(|draw| draw.batch_id == batch.id);
    let named: Vec<String> = draws
        .filter_map(|draw| facts.lot.get(draw.lot_id))
        .map(|lot| match stock(facts, lot.id) {
            Some(left) => format!("{} ({} left)", facts.lot_label(lot.id), left.max(0)),
            None => facts.lot_label(lot.id),
        })
        .collect();
    if named.is_empty() {
        ", of no recorded lot".to_owned()
    } else {
        format!(", from {}", listed(&named, "and"))
    }
}

/// Usual days from sowing to emergence, by the mother's species.
fn usual_days(facts: &Facts, batch: &BatchRow) -> i64 {
    let mother = label_parents(facts, batch).and_then(|(mother, _)| facts.plant.get(mother));
    let values = Assumptions::of(facts);
    let is_annuum = mother.is_some_and(|plant| bare(&plant.species) == "annuum");
    let days = if is_annuum {
        values.days_annuum
    } else {
        values.days_other
    };
    days as i64
}

pub(super) fn up(facts: &Facts, batch: i64, cells: &[i64], day: Day) -> Said {
    let Some(tray) = Tray::of(facts, batch) else {
        return Said::bare("seedlings up");
    };
    let (up, sown) = (tray.up_by(day).unwrap_or(0), tray.batch.seeds);
    let of_sown = share(up as f64 / sown.max(1) as f64);
    let place = match cells {
        [] => String::new(),
        [cell] => {
            let here = tray.cell_up_by(*cell, day).unwrap_or(0);
            format!("{here} up in cell {cell}; ")
        }
        several => format!("up in cells {}; ", CellRange::from(several.to_vec())),
    };
    Said::of(
        tray.label(),
        format!("{place}{up} of {sown} up, {of_sown}."),
    )
}

/// A class, doubt and all; what could not be seen by its word.
fn sight(facts: &Facts, class: Option<i64>, sureness: Sureness) -> String {
    let name = class
        .and_then(|id| facts.trait_class.get(id))
        .map(|class| class.name.as_str());
    match (name, sureness) {
        (Some(name), Sureness::Doubtful) => format!("maybe-{name}"),
        (Some(name), _) => name.to_owned(),
        (None, Sureness::Dim) => "too dim to score".to_owned(),
        (None, _) => "too early to score".to_owned(),
    }
}

fn trait_codes(facts: &Facts, of: impl Iterator<Item = Option<i64>>) -> String {
    let mut codes: Vec<&str> = Vec::new();
    for code in of
        .flatten()
        .filter_map(|id| facts.code_of(Thing::Trait, id))
    {
        if !codes.contains(&code) {
            codes.push(code);
        }
    }
    listed(&codes, "and")
}

pub(super) fn tally(facts: &Facts, id: i64) -> Said {
    let Some(row) = facts.tally.get(id) else {
        return Said::bare("a tally");
    };
    let Some(tray) = Tray::of(facts, row.batch_id) else {
        return Said::bare("a tally");
    };
    let mut looks: Vec<&TallyLookRow> = facts
        .tally_look
        .iter()
        .filter(|look| look.tally_id == id)
        .collect();
    looks.sort_by_key(|look| look.ord);
    let classes_of = |look: i64| {
        facts
            .tally_class
            .iter()
            .filter(move |row| row.look_id == look)
    };
    let counted: Vec<String> = looks
        .iter()
        .map(|look| {
            let sights = classes_of(look.id).map(|row| sight(facts, row.class_id, row.sureness));
            let mut sights: Vec<String> = sights.collect();
            sights.dedup();
            format!("{} {}", look.count, sights.join("/"))
        })
        .collect();
    let traits = trait_codes(
        facts,
        looks
            .iter()
            .flat_map(|look| classes_of(look.id))
            .map(|row| row.trait_id),
    );
    let (place, of) = match row.cell {
        None => (
            tray.label().to_owned(),
            up_words(tray.up_by(row.day), tray.batch.seeds),
        ),
        Some(cell) => {
            let up = tray.cell_up_by(cell, row.day).filter(|up| *up > 0);
            let of = up.map_or_else(String::new, |up| format!(" of {up} up"));
            (format!("{}-{cell:02}", tray.label()), of)
        }
    };
    Said::of(place, format!("{}{of} ({traits}).", counted.join(", ")))
}

fn up_words(up: Option<i64>, sown: i64) -> String {
    match up {
        Some(up) => format!(" of {up} up"),
        None => format!(" of {sown} sown"),
    }
}

/// What was tasted for a reading: ` by the tip`; nothing where it was no tasting.
fn tasted(facts: &Facts, reading: i64) -> String {
    let mut rows = facts.tasting.iter();
    let row = rows.find(|row| row.reading_id == reading);
    row.map_or_else(String::new, |row| format!(" by the {}", row.method))
}

pub(super) fn readings(facts: &Facts, ids: &[i64]) -> Said {
    let rows: Vec<&ReadingRow> = ids.iter().filter_map(|id| facts.reading.get(*id)).collect();
    let mut plants: Vec<i64> = rows.iter().map(|row| row.plant_id).collect();
    plants.dedup();
    let look_of = |plant: i64| -> String {
        let of_plant = rows.iter().filter(|row| row.plant_id == plant);
        let mut sights: Vec<String> = of_plant
            .map(|row| {
                let seen = sight(facts, row.class_id, row.sureness);
                format!("{seen}{}", tasted(facts, row.id))
            })
            .collect();
        sights.dedup();
        sights.join("/")
    };
    let traits = trait_codes(facts, rows.iter().map(|row| row.trait_id));
    if let [plant] = plants[..] {
        return Said::of(
            label(facts, plant),
            format!("{} ({traits}).", look_of(plant)),
        );
    }
    let mut looks: Vec<(String, i64)> = Vec::new();
    for plant in &plants {
        let look = look_of(*plant);
        match looks.iter_mut().find(|(known, _)| *known == look) {
            Some((_, count)) => *count += 1,
            None => looks.push((look, 1)),
        }
    }
    let counted: Vec<String> = looks
        .iter()
        .map(|(look, n)| format!("{n} {look}"))
        .collect();
    let first = plants.first().and_then(|plant| facts.plant.get(*plant));
    let tray = first
        .and_then(|plant| plant.batch_id)
        .and_then(|id| Tray::of(facts, id));
    let Some(tray) = tray else {
        return Said::bare(counted.join(", "));
    };
    let day = rows.first().map_or(tray.batch.day, |row| row.day);
    let scored = several(tray.scored_by(day).len() as i64, "seedling");
    let of = up_words(tray.up_by(day), tray.batch.seeds);
    Said::of(
        tray.label(),
        format!(
            "{} ({traits}); {scored}{of} scored one by one.",
            counted.join(", ")
        ),
    )
}

pub(super) fn fates(facts: &Facts, batch: i64, kind: FateKind, ids: &[i64], day: Day) -> Said {
    let Some(tray) = Tray::of(facts, batch) else {
        return Said::bare(fate_word(kind));
    };
    let rows: Vec<&FateRow> = ids.iter().filter_map(|id| facts.fate.get(*id)).collect();
    let whom: Vec<String> = rows.iter().map(|row| whom(facts, &tray, row)).collect();
    let standing = tray.standing_by(None, day).max(0);
    let blind = if rows.iter().any(|row| row.blind) {
        " blind"
    } else {
        ""
    };
    let left = if rows.iter().all(|row| row.batch_id == batch) {
        format!("; {standing} of {} still standing", tray.label())
    } else {
        String::new()
    };
    let words = format!("{} {}{blind}{left}.", listed(&whom, "and"), fate_word(kind));
    Said::of(tray.label(), words)
}

fn whom(facts: &Facts, tray: &Tray, fate: &FateRow) -> String {
    let classes = facts
        .fate_class
        .iter()
        .filter(|class| class.fate_id == fate.id);
    let look: Vec<&str> = classes
        .filter_map(|class| facts.trait_class.get(class.class_id))
        .map(|class| class.name.as_str())
        .collect();
    if let Some(plant) = fate.plant_id.and_then(|id| facts.plant.get(id)) {
        let place = facts.place_label(plant);
        return match &look[..] {
            [] => place,
            look => format!("{place} ({})", look.join("/")),
        };
    }
    let what = if look.is_empty() {
        several(fate.count, "seedling")
    } else {
        format!("{} {}", fate.count, look.join("/"))
    };
    match fate.cell {
        None => what,
        Some(cell) => format!("{what} in {}-{cell:02}", tray.label()),
    }
}
