//! What is known of plants, crosses, lots and trays, line by line, for `show`.

use std::collections::{BTreeMap, BTreeSet};

use super::adopted::Accident;
use super::grades::mean_words;
use super::numbers::several;
use super::pedigree::purdy_of;
use super::show::Known;
use super::text::fate_word;
use crate::diagnosis::grades::Graded;
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{
    BatchRow, CrossRow, EmergenceRow, FateRow, LocusRow, LotRow, PlantCytoplasm, PlantKind,
    PlantRow, PollinationRow, ReadingRow, Sureness, Table, TallyRow, Thing,
};
use crate::records::tray::{Tray, stock};

#[derive(Default)]
struct Lines(Vec<Known>);

impl Lines {
    fn add(&mut self, what: &'static str, known: impl Into<String>) {
        let known = known.into();
        if !known.is_empty() {
            self.0.push(Known { what, known });
        }
    }
}

fn label(facts: &Facts, plant_id: i64) -> String {
    facts
        .plant
        .get(plant_id)
        .map_or_else(|| format!("plant {plant_id}"), |row| facts.plant_label(row))
}

fn code(facts: &Facts, thing: Thing, id: i64) -> String {
    facts
        .code_of(thing, id)
        .map_or_else(|| format!("{thing} {id}"), str::to_owned)
}

fn count(n: i64, one: &str, many: &str) -> String {
    several(n.unsigned_abs(), one, many)
}

pub(super) fn plant(facts: &Facts, row: &PlantRow) -> Vec<Known> {
    let mut lines = Lines::default();
    lines.add("name", row.name.as_str());
    let codes = facts.codes_of(Thing::Plant, row.id);
    if codes.len() > 1 || (row.kind == PlantKind::Seedling && !codes.is_empty()) {
        lines.add("codes", codes.join(", "));
    }
    lines.add("kind", row.kind.word());
    lines.add("stands", facts.seedling_label(row).unwrap_or_default());
    lines.add("species", row.species.as_str());
    if let Some(batch) = row.batch_id.and_then(|id| facts.batch.get(id)) {
        lines.add("of", source(facts, batch));
    }
    if let Some(accident) = Accident::of(facts, row.id) {
        lines.add("kept as", accident.words());
    }
    lines.add("pedigree", purdy_of(facts, row.id).unwrap_or_default());
    for statement in facts.statement.iter().filter(|s| s.plant_id == row.id) {
        let proven = if statement.proven { ", proven" } else { "" };
        lines.add(
            "genotype",
            format!("{} (stated {}{proven})", statement.genotype, statement.day),
        );
    }
    if row.cytoplasm != PlantCytoplasm::Unknown {
        lines.add("cytoplasm", row.cytoplasm.word());
    }
    for flower in facts.in_flower.iter().filter(|f| f.plant_id == row.id) {
        let until = flower
            .until_day
            .map_or_else(String::new, |day| format!(" to {day}"));
        lines.add("in flower", format!("{}{until}", flower.from_day));
    }
    for cross in facts
        .cross
        .iter()
        .filter(|c| c.mother_id == row.id || c.father_id == row.id)
    {
        lines.add(
            "cross",
            format!(
                "{}: {}",
                code(facts, Thing::Cross, cross.id),
                pair(facts, cross)
            ),
        );
    }
    for lot in facts.lot.iter().filter(|lot| lot.plant_id == Some(row.id)) {
        lines.add("packet", lot_words(facts, lot));
    }
    for reading in all_readings(facts, row.id) {
        lines.add("reading", reading);
    }
    for fate in facts.fate.iter().filter(|f| f.plant_id == Some(row.id)) {
        lines.add("fate", fate_words(fate));
    }
    for line in grades(facts, row.id) {
        lines.add("grade", line);
    }
    for measure in facts.measure.iter().filter(|m| m.plant_id == row.id) {
        lines.add(
            "measure",
            format!(
                "{}: {} {}{}",
                measure.day, measure.name, measure.number, measure.unit
            ),
        );
    }
    lines.0
}

/// Trait by trait what a plant's grades come to, and each of them.
fn grades(facts: &Facts, plant_id: i64) -> Vec<String> {
    let mut traits: Vec<i64> = Vec::new();
    for grade in facts.grade.iter().filter(|g| g.plant_id == plant_id) {
        if !traits.contains(&grade.trait_id) {
            traits.push(grade.trait_id);
        }
    }
    let line = |of: &i64| {
        let graded = Graded::of(facts, *of)?;
        let own = graded.plant(plant_id)?;
        let given = facts.grade.iter();
        let given = given.filter(|g| g.plant_id == plant_id && g.trait_id == *of);
        let given: Vec<String> = given
            .map(|grade| {
                let step = graded.scale.step(grade.class_id);
                let name = step.map_or("?", |step| step.name.as_str());
                let by = match grade.taster.as_str() {
                    "" => String::new(),
                    taster => format!(" by {taster}"),
                };
                let pod = grade
                    .pod
                    .map_or_else(String::new, |pod| format!(", pod {pod}"));
                format!("{name}{by} {}{pod}", grade.day)
            })
            .collect();
        let mean = mean_words(&graded, own);
        Some(format!(
            "{}: {mean}: {}",
            graded.scale.code,
            given.join("; ")
        ))
    };
    traits.iter().filter_map(line).collect()
}

fn pair(facts: &Facts, row: &CrossRow) -> String {
    if row.mother_id == row.father_id {
        format!("{} selfed", label(facts, row.mother_id))
    } else {
        format!(
            "{} x {}",
            label(facts, row.mother_id),
            label(facts, row.father_id)
        )
    }
}

pub(super) fn cross(facts: &Facts, row: &CrossRow) -> Vec<Known> {
    let mut lines = Lines::default();
    lines.add("parents", pair(facts, row));
    for pollination in facts.pollination.iter().filter(|p| p.cross_id == row.id) {
        lines.add("pollinated", pollination_words(pollination));
    }
    for lot in facts.lot.iter().filter(|lot| lot.cross_id == Some(row.id)) {
        lines.add("lot", lot_words(facts, lot));
    }
    for batch in facts
        .batch
        .iter()
        .filter(|batch| batch.cross_id == Some(row.id))
    {
        lines.add(
            "sown",
            format!(
                "{}: {} on {}",
                code(facts, Thing::Batch, batch.id),
                count(batch.seeds, "seed", "seeds"),
                batch.day
            ),
        );
    }
    lines.0
}

fn pollination_words(row: &PollinationRow) -> String {
    let mut words = vec![
        row.day
            .map_or_else(|| "day not known".to_owned(), |day| day.to_string()),
    ];
    words.extend(row.flowers.map(|n| count(n, "flower", "flowers")));
    words.push(
        if row.emasculated {
            "anthers taken out"
        } else {
            "anthers left in"
        }
        .to_owned(),
    );
    words.extend(row.covered.then(|| "covered".to_owned()));
    if !row.tool.is_empty() {
        let wiped = if row.wiped { ", wiped before" } else { "" };
        words.push(format!("with {}{wiped}", row.tool));
    }
    words.extend(row.pods.map(|n| count(n, "pod", "pods")));
    words.extend(row.dropped.map(|n| format!("{n} dropped")));
    words.join(", ")
}

fn lot_words(facts: &Facts, row: &LotRow) -> String {
    let source = row
        .cross_id
        .map(|id| code(facts, Thing::Cross, id))
        .or_else(|| row.plant_id.map(|id| label(facts, id)))
        .unwrap_or_default();
    let mut words = vec![format!("{source}/{} of {}", row.number, row.day)];
    let about = if row.about { "about " } else { "" };
    words.extend(row.pods.map(|n| count(n, "pod", "pods")));
    words.extend(
        row.seeds
            .map(|n| format!("{about}{}", count(n, "seed", "seeds"))),
    );
    words.extend(row.pollinated.map(|day| format!("pollinated {day}")));
    let named = [
        ("label", &row.label),
        ("from", &row.giver),
        ("said to be", &row.claim),
        ("kept in", &row.kept),
    ];
    words.extend(
        named
            .iter()
            .filter(|(_, text)| !text.is_empty())
            .map(|(what, text)| format!("{what} {text}")),
    );
    words.join(", ")
}

pub(super) fn lot(facts: &Facts, row: &LotRow) -> Vec<Known> {
    let mut lines = Lines::default();
    lines.add("lot", lot_words(facts, row));
    for drawn in facts
        .batch_seed
        .iter()
        .filter(|drawn| drawn.lot_id == row.id)
    {
        lines.add(
            "sown",
            format!(
                "{}: {}",
                code(facts, Thing::Batch, drawn.batch_id),
                count(drawn.seeds, "seed", "seeds")
            ),
        );
    }
    if let Some(left) = stock(facts, row.id) {
        lines.add("left", count(left, "seed", "seeds"));
    }
    lines.0
}

fn source(facts: &Facts, row: &BatchRow) -> String {
    match (
        row.cross_id.and_then(|id| facts.cross.get(id)),
        row.plant_id,
    ) {
        (Some(cross), _) => format!(
            "{} ({})",
            code(facts, Thing::Cross, cross.id),
            pair(facts, cross)
        ),
        (None, Some(plant)) => format!("a packet of {}", label(facts, plant)),
        (None, None) => String::new(),
    }
}

pub(super) fn batch(facts: &Facts, row: &BatchRow) -> Vec<Known> {
    let mut lines = Lines::default();
    lines.add("of", source(facts, row));
    let draws = facts.batch_seed.iter();
    for draw in draws.filter(|draw| draw.batch_id == row.id) {
        lines.add("lot", facts.lot_label(draw.lot_id));
    }
    lines.add(
        "sown",
        format!(
            "{}, {} in {}",
            row.day,
            count(row.seeds, "seed", "seeds"),
            count(row.cells, "cell", "cells")
        ),
    );
    lines.add("place", row.place.as_str());
    lines.add("medium", row.medium.as_str());
    lines.add("light", row.light.as_str());
    for said in emergence_words(facts, row.id) {
        lines.add("up", said);
    }
    for tally in newest_of_each_day(facts, row.id) {
        let cell = tally
            .cell
            .map_or_else(String::new, |cell| format!(" in cell {cell:02}"));
        lines.add(
            "counted",
            format!("{}{cell}: {}", tally.day, looks(facts, tally.id)),
        );
    }
    if let Some(tray) = Tray::of(facts, row.id) {
        for seedling in tray.seedlings() {
            lines.add("seedling", seedling_words(facts, seedling));
        }
    }
    for fate in facts
        .fate
        .iter()
        .filter(|fate| fate.batch_id == row.id && fate.plant_id.is_none())
    {
        lines.add("fate", fate_words(fate));
    }
    lines.0
}

/// What came up, day by day; cells with one seedling each as ranges.
fn emergence_words(facts: &Facts, batch_id: i64) -> Vec<String> {
    let mut days: BTreeMap<Day, (Vec<String>, BTreeSet<i64>)> = BTreeMap::new();
    for up in facts.emergence.iter().filter(|up| up.batch_id == batch_id) {
        let (counts, ones) = days.entry(up.day).or_default();
        match up.cell {
            Some(cell) if up.up == 1 => {
                ones.insert(cell);
            }
            Some(cell) => counts.push(format!("{} in cell {cell:02}", up.up)),
            None => counts.push(up.up.to_string()),
        }
    }
    let said = |(day, (mut counts, ones)): (Day, (Vec<String>, BTreeSet<i64>))| {
        let cells = if ones.len() == 1 { "cell" } else { "cells" };
        counts.extend((!ones.is_empty()).then(|| format!("{cells} {}", ranges(&ones))));
        format!("{day}: {}", counts.join("; "))
    };
    days.into_iter().map(said).collect()
}

/// Numbers with neighbours as ranges: `1-5, 9`.
fn ranges(numbers: &BTreeSet<i64>) -> String {
    let mut runs: Vec<(i64, i64)> = Vec::new();
    for number in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *number => *last = *number,
            _ => runs.push((*number, *number)),
        }
    }
    let written = |(first, last): &(i64, i64)| match first == last {
        true => first.to_string(),
        false => format!("{first}-{last}"),
    };
    runs.iter().map(written).collect::<Vec<_>>().join(", ")
}

/// Of several counts of one day and place the newest, in the order of days.
fn newest_of_each_day(facts: &Facts, batch_id: i64) -> Vec<&TallyRow> {
    let mut newest: BTreeMap<(Day, Option<i64>), &TallyRow> = BTreeMap::new();
    for tally in facts
        .tally
        .iter()
        .filter(|tally| tally.batch_id == batch_id)
    {
        newest.insert((tally.day, tally.cell), tally);
    }
    newest.into_values().collect()
}

/// Every reading of a plant in the order of days, in words: of several of one trait and day, the older ones say so.
fn all_readings(facts: &Facts, plant_id: i64) -> Vec<String> {
    let of_plant = facts.reading.iter().filter(|row| row.plant_id == plant_id);
    let mut rows: Vec<&ReadingRow> = of_plant.collect();
    rows.sort_by_key(|row| (row.day, row.id));
    let is_outvoted = |row: &ReadingRow| {
        let same = |other: &&&ReadingRow| {
            (other.day, other.trait_id) == (row.day, row.trait_id) && other.id > row.id
        };
        rows.iter().any(|other| same(&other))
    };
    let words = |row: &&ReadingRow| {
        let outvoted = if is_outvoted(row) {
            " (a newer one of that day counts)"
        } else {
            ""
        };
        format!("{}{outvoted}", reading_words(facts, row))
    };
    rows.iter().map(words).collect()
}

/// What was recorded of a cell in which no seedling was told apart.
pub(super) fn cell(facts: &Facts, row: &BatchRow, cell: i64) -> Vec<Known> {
    let mut lines = Lines::default();
    lines.add("of", source(facts, row));
    let of_cell = |up: &&EmergenceRow| (up.batch_id, up.cell) == (row.id, Some(cell));
    for up in facts.emergence.iter().filter(of_cell) {
        lines.add("up", format!("{}: {}", up.day, up.up));
    }
    let counted = newest_of_each_day(facts, row.id);
    for tally in counted.into_iter().filter(|tally| tally.cell == Some(cell)) {
        lines.add(
            "counted",
            format!("{}: {}", tally.day, looks(facts, tally.id)),
        );
    }
    let gone = |fate: &&FateRow| (fate.batch_id, fate.cell) == (row.id, Some(cell));
    for fate in facts.fate.iter().filter(gone) {
        lines.add("fate", fate_words(fate));
    }
    lines.0
}

/// What is known of a locus.
pub(super) fn locus(facts: &Facts, row: &LocusRow) -> Vec<Known> {
    let mut lines = Lines::default();
    let mut alleles: Vec<_> = facts
        .allele
        .iter()
        .filter(|a| a.locus_id == row.id)
        .collect();
    alleles.sort_by_key(|allele| allele.ord);
    let words = alleles.iter().map(|allele| match &allele.share {
        Some(share) => format!("{} (share {share})", allele.symbol),
        None => allele.symbol.clone(),
    });
    lines.add("alleles", words.collect::<Vec<_>>().join(", "));
    lines.add("chromosome", row.chromosome.clone().unwrap_or_default());
    lines.add(
        "at",
        row.at_cm
            .as_ref()
            .map_or_else(String::new, |at| format!("{at} cM")),
    );
    for pair in &facts.recombination {
        let other = match (pair.locus_a == row.id, pair.locus_b == row.id) {
            (true, _) => pair.locus_b,
            (_, true) => pair.locus_a,
            _ => continue,
        };
        let other = facts
            .locus
            .get(other)
            .map_or("", |other| other.symbol.as_str());
        lines.add("recombines", format!("with {other}: {}", pair.r));
    }
    lines.0
}

fn seedling_words(facts: &Facts, row: &PlantRow) -> String {
    let readings = all_readings(facts, row.id).into_iter();
    let fates = facts
        .fate
        .iter()
        .filter(|f| f.plant_id == Some(row.id))
        .map(fate_words);
    let place = facts.place_label(row);
    let label = facts.plant_label(row);
    let own = if label == place {
        String::new()
    } else {
        format!(" ({label})")
    };
    let notes = facts
        .remark
        .iter()
        .filter(|r| (r.thing, r.thing_id) == (Thing::Plant, row.id))
        .map(|r| format!("{}: {}", r.day, r.text));
    let said: Vec<String> = readings.chain(fates).chain(notes).collect();
    format!("{place}{own}: {}", said.join("; "))
}

/// Whether another trait that was read has a class of this name.
fn another_trait_has(facts: &Facts, trait_id: i64, class: &str) -> bool {
    let was_read = |of: i64| {
        facts.reading.iter().any(|row| row.trait_id == Some(of))
            || facts.tally_class.iter().any(|row| row.trait_id == Some(of))
    };
    let mut others = facts
        .trait_class
        .iter()
        .filter(|row| row.trait_id != trait_id && fold(&row.name) == fold(class));
    others.any(|row| was_read(row.trait_id))
}

fn class_words(
    facts: &Facts,
    trait_id: Option<i64>,
    class_id: Option<i64>,
    sureness: Sureness,
) -> String {
    let class = class_id
        .and_then(|id| facts.trait_class.get(id))
        .map_or("", |row| row.name.as_str());
    let of = trait_id
        .filter(|id| another_trait_has(facts, *id, class))
        .map_or_else(String::new, |id| {
            format!("{}:", code(facts, Thing::Trait, id))
        });
    match sureness {
        Sureness::Firm => format!("{of}{class}"),
        Sureness::Doubtful => format!("{of}maybe-{class}"),
        Sureness::Early | Sureness::Dim => sureness.word().to_owned(),
    }
}

fn reading_words(facts: &Facts, row: &ReadingRow) -> String {
    let leaves = row.leaves.map_or_else(String::new, |n| {
        format!(" at {}", count(n, "leaf", "leaves"))
    });
    let mut tastings = facts.tasting.iter();
    let tasted = tastings.find(|tasting| tasting.reading_id == row.id);
    let tasted = tasted.map_or_else(String::new, |row| format!(", tasted at the {}", row.method));
    format!(
        "{}: {}{tasted}{leaves}",
        row.day,
        class_words(facts, row.trait_id, row.class_id, row.sureness)
    )
}

fn looks(facts: &Facts, tally_id: i64) -> String {
    let mut looks: Vec<_> = facts
        .tally_look
        .iter()
        .filter(|look| look.tally_id == tally_id)
        .collect();
    looks.sort_by_key(|look| look.ord);
    let words = looks.iter().map(|look| {
        let classes = facts
            .tally_class
            .iter()
            .filter(|class| class.look_id == look.id);
        let classes: Vec<String> = classes
            .map(|class| class_words(facts, class.trait_id, class.class_id, class.sureness))
            .collect();
        format!("{} {}", look.count, classes.join("/"))
    });
    words.collect::<Vec<_>>().join(", ")
}

fn fate_words(row: &FateRow) -> String {
    let cell = row
        .cell
        .map_or_else(String::new, |cell| format!(" in cell {cell:02}"));
    let many = if row.plant_id.is_some() {
        String::new()
    } else {
        format!("{} ", row.count)
    };
    let blind = if row.blind { ", chosen blindly" } else { "" };
    let why = if row.why.is_empty() {
        String::new()
    } else {
        format!(": {}", row.why)
    };
    format!(
        "{}: {many}{}{cell}{blind}{why}",
        row.day,
        fate_word(row.kind)
    )
}

/// Remarks, pictures and treatments of anything.
/// The ledgers that a record came from, and what it was called there.
pub(super) fn came_from(facts: &Facts, table: Table, id: i64) -> Vec<Known> {
    let mut lines = Lines::default();
    let notes = facts.came_from.iter();
    for note in notes.filter(|note| note.entity == table.name() && note.entity_id == id) {
        let Some(ledger) = facts.imported_ledger.get(note.imported_id) else {
            continue;
        };
        let called = if note.called.is_empty() {
            String::new()
        } else {
            format!("; called {} there", note.called)
        };
        let [short, print] =
            [&ledger.ledger, &ledger.head].map(|text| text.chars().take(8).collect::<String>());
        let entries = count(ledger.entries, "entry", "entries");
        lines.add(
            "from",
            format!(
                "the ledger {short} as of {entries}, fingerprint {print}, brought in on {}{called}",
                ledger.day
            ),
        );
    }
    lines.0
}

pub(super) fn remarks(facts: &Facts, thing: Thing, id: i64) -> Vec<Known> {
    let mut lines = Lines::default();
    for target in facts
        .care_target
        .iter()
        .filter(|t| (t.thing, t.thing_id) == (thing, id))
    {
        if let Some(care) = facts.care.get(target.care_id) {
            let words = [&care.kind, &care.product, &care.dose, &care.note];
            let words: Vec<&str> = words
                .iter()
                .map(|text| text.as_str())
                .filter(|text| !text.is_empty())
                .collect();
            lines.add("care", format!("{}: {}", care.day, words.join(", ")));
        }
    }
    for remark in facts
        .remark
        .iter()
        .filter(|r| (r.thing, r.thing_id) == (thing, id))
    {
        lines.add("remark", format!("{}: {}", remark.day, remark.text));
    }
    for photo in facts
        .photo
        .iter()
        .filter(|p| (p.thing, p.thing_id) == (thing, id))
    {
        lines.add("picture", format!("{}: {}", photo.day, photo.path));
    }
    lines.0
}
