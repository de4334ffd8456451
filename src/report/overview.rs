//! The answer of `list`: what is in the ledger, kind by kind, a line for each.
//!
//! Made from the facts alone; everything about one thing is the answer of `show`.

use serde::Serialize;

use super::adopted::Accident;
use super::table::Table;
use super::text::{shown, wrapped};
use super::{Answer, Page};
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::rows::{BatchRow, CrossRow, LocusRow, LotRow, PlantRow, Thing};
use crate::records::tray::{Tray, stock};

/// What is to be listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Plants that have a code.
    Parents,
    /// Crosses and selfs.
    Crosses,
    /// Lots with seed left.
    Seed,
    /// Trays.
    Trays,
    /// Loci.
    Loci,
}

/// A plant that has a code.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ParentLine {
    /// Its code.
    pub code: String,
    /// Its name.
    pub name: String,
    /// Its species.
    pub species: String,
    /// The genotypes stated of it, oldest first.
    pub genotype: String,
    /// What it was kept as, where its label says otherwise.
    pub accidental: Option<Accident>,
}

/// A cross.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrossLine {
    /// Its code.
    pub code: String,
    /// The mother.
    pub mother: String,
    /// The father.
    pub father: String,
    /// How many pollinations.
    pub pollinations: usize,
    /// How many pods, where counted.
    pub pods: Option<i64>,
    /// Seeds left of its lots; nothing where that is not known.
    pub seeds: Option<i64>,
}

/// A lot of seed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LotLine {
    /// Its name: `X1/2`.
    pub lot: String,
    /// The day of harvest or receipt.
    pub day: String,
    /// Seeds left; nothing where that is not known.
    pub left: Option<i64>,
    /// Where it is kept.
    pub kept: String,
}

/// A tray.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrayLine {
    /// Its code.
    pub code: String,
    /// The cross, or the parent whose packet was sown.
    pub of: String,
    /// The day of sowing.
    pub sown: String,
    /// Seeds sown.
    pub seeds: i64,
    /// Seedlings counted as up; nothing where nobody counted.
    pub up: Option<i64>,
    /// Seedlings standing; nothing where nobody counted.
    pub standing: Option<i64>,
    /// The day of the newest reading.
    pub read: Option<String>,
}

/// A locus.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LocusLine {
    /// Its symbol.
    pub symbol: String,
    /// Its alleles, dominant or wild type first.
    pub alleles: Vec<String>,
    /// Its chromosome, where known.
    pub chromosome: Option<String>,
}

/// What is in the ledger.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Overview {
    /// Plants that have a code.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub parents: Option<Vec<ParentLine>>,
    /// Crosses.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub crosses: Option<Vec<CrossLine>>,
    /// Lots with seed left.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seed: Option<Vec<LotLine>>,
    /// Trays.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trays: Option<Vec<TrayLine>>,
    /// Loci.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loci: Option<Vec<LocusLine>>,
    #[serde(skip)]
    short: bool,
}

impl Overview {
    /// Of one kind of thing, or of all.
    #[must_use]
    pub fn new(facts: &Facts, kind: Option<Kind>) -> Self {
        let wanted = |one: Kind| kind.is_none_or(|kind| kind == one);
        let lots = || facts.lot.iter().filter_map(|row| lot(facts, row)).collect();
        Self {
            parents: wanted(Kind::Parents).then(|| {
                facts
                    .plant
                    .iter()
                    .filter_map(|row| parent(facts, row))
                    .collect()
            }),
            crosses: wanted(Kind::Crosses)
                .then(|| facts.cross.iter().map(|row| cross(facts, row)).collect()),
            seed: wanted(Kind::Seed).then(lots),
            trays: wanted(Kind::Trays)
                .then(|| facts.batch.iter().map(|row| tray(facts, row)).collect()),
            loci: wanted(Kind::Loci)
                .then(|| facts.locus.iter().map(|row| locus(facts, row)).collect()),
            short: kind.is_none(),
        }
    }
}

fn code(facts: &Facts, thing: Thing, id: i64) -> String {
    facts.code_of(thing, id).unwrap_or_default().to_owned()
}

fn label(facts: &Facts, plant: i64) -> String {
    facts
        .plant
        .get(plant)
        .map_or_else(String::new, |row| facts.plant_label(row))
}

fn parent(facts: &Facts, row: &PlantRow) -> Option<ParentLine> {
    let stated = facts.statement.iter().filter(|s| s.plant_id == row.id);
    let genotype: Vec<&str> = stated.map(|s| s.genotype.as_str()).collect();
    Some(ParentLine {
        code: facts.code_of(Thing::Plant, row.id)?.to_owned(),
        name: row.name.clone(),
        species: row.species.clone(),
        genotype: genotype.join("; "),
        accidental: Accident::of(facts, row.id),
    })
}

fn cross(facts: &Facts, row: &CrossRow) -> CrossLine {
    let made: Vec<_> = facts
        .pollination
        .iter()
        .filter(|made| made.cross_id == row.id)
        .collect();
    let lots: Vec<_> = facts
        .lot
        .iter()
        .filter(|lot| lot.cross_id == Some(row.id))
        .collect();
    CrossLine {
        code: code(facts, Thing::Cross, row.id),
        mother: label(facts, row.mother_id),
        father: label(facts, row.father_id),
        pollinations: made.len(),
        pods: made
            .iter()
            .filter_map(|made| made.pods)
            .reduce(|sum, pods| sum + pods),
        seeds: (!lots.is_empty())
            .then(|| lots.iter().map(|lot| stock(facts, lot.id)).sum())
            .flatten(),
    }
}

fn lot(facts: &Facts, row: &LotRow) -> Option<LotLine> {
    let of = match row.cross_id {
        Some(cross) => code(facts, Thing::Cross, cross),
        None => label(facts, row.plant_id?),
    };
    let left = stock(facts, row.id);
    (left != Some(0)).then(|| LotLine {
        lot: format!("{of}/{}", row.number),
        day: row.day.to_string(),
        left,
        kept: row.kept.clone(),
    })
}

fn tray(facts: &Facts, row: &BatchRow) -> TrayLine {
    let of = match row.cross_id {
        Some(cross) => code(facts, Thing::Cross, cross),
        None => row
            .plant_id
            .map_or_else(String::new, |plant| label(facts, plant)),
    };
    let here = |plant: i64| {
        facts
            .plant
            .get(plant)
            .is_some_and(|plant| plant.batch_id == Some(row.id))
    };
    let readings = facts
        .reading
        .iter()
        .filter(|reading| here(reading.plant_id));
    let tallies = facts.tally.iter().filter(|tally| tally.batch_id == row.id);
    let read = readings
        .map(|reading| reading.day)
        .chain(tallies.map(|tally| tally.day))
        .max();
    let days = facts
        .emergence
        .iter()
        .filter(|up| up.batch_id == row.id)
        .map(|up| up.day);
    let fates = facts
        .fate
        .iter()
        .filter(|fate| fate.batch_id == row.id)
        .map(|fate| fate.day);
    let last: Day = days.chain(fates).chain(read).max().unwrap_or(row.day);
    let up = Tray::of(facts, row.id).and_then(|tray| tray.up_by(last));
    let standing = Tray::of(facts, row.id).map(|tray| tray.standing_by(None, last));
    TrayLine {
        code: code(facts, Thing::Batch, row.id),
        of,
        sown: row.day.to_string(),
        seeds: row.seeds,
        up,
        standing: standing.filter(|_| up.is_some() || read.is_some()),
        read: read.map(|day| day.to_string()),
    }
}

fn locus(facts: &Facts, row: &LocusRow) -> LocusLine {
    let mut alleles: Vec<_> = facts
        .allele
        .iter()
        .filter(|a| a.locus_id == row.id)
        .collect();
    alleles.sort_by_key(|allele| allele.ord);
    LocusLine {
        symbol: row.symbol.clone(),
        alleles: alleles
            .into_iter()
            .map(|allele| allele.symbol.clone())
            .collect(),
        chromosome: row.chromosome.clone(),
    }
}

fn known<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(|| "?".to_owned(), |value| value.to_string())
}

/// A table under its title; where there is nothing, that.
fn titled(title: &str, headings: &[&str], rows: Vec<Vec<String>>, page: Page) -> String {
    if rows.is_empty() {
        return format!("{title}: none");
    }
    let mut table = Table::new(headings);
    for row in rows {
        table.row(row);
    }
    format!("{title}\n\n{}", table.text(page))
}

fn parents_words(lines: &[ParentLine], page: Page) -> String {
    let row = |line: &ParentLine| {
        vec![
            line.code.clone(),
            line.name.clone(),
            line.species.clone(),
            line.genotype.clone(),
        ]
    };
    let headings = ["code", "name", "species", "genotype stated"];
    let mut words = titled("Parents", &headings, lines.iter().map(row).collect(), page);
    for line in lines {
        if let Some(accident) = &line.accidental {
            let said = format!("{} is kept as {}.", line.code, accident.words());
            words.push_str(&format!("\n{}", wrapped(&shown(&said), page.width, "  ")));
        }
    }
    words
}

fn crosses_words(lines: &[CrossLine], page: Page) -> String {
    let row = |line: &CrossLine| {
        let pair = if line.mother == line.father {
            format!("{} selfed", line.mother)
        } else {
            format!("{} x {}", line.mother, line.father)
        };
        vec![
            line.code.clone(),
            pair,
            line.pollinations.to_string(),
            known(line.pods),
            known(line.seeds),
        ]
    };
    let headings = ["code", "pair", ">pollinations", ">pods", ">seeds left"];
    titled("Crosses", &headings, lines.iter().map(row).collect(), page)
}

fn seed_words(lines: &[LotLine], page: Page) -> String {
    let row = |line: &LotLine| {
        vec![
            line.lot.clone(),
            line.day.clone(),
            known(line.left),
            line.kept.clone(),
        ]
    };
    let headings = ["lot", "day", ">seeds left", "kept in"];
    titled("Seed", &headings, lines.iter().map(row).collect(), page)
}

fn trays_words(lines: &[TrayLine], page: Page) -> String {
    let row = |line: &TrayLine| {
        vec![
            line.code.clone(),
            line.of.clone(),
            line.sown.clone(),
            line.seeds.to_string(),
            known(line.up),
            known(line.standing),
            line.read.clone().unwrap_or_default(),
        ]
    };
    let headings = [
        "tray",
        "of",
        "sown",
        ">seeds",
        ">up",
        ">standing",
        "last read",
    ];
    titled("Trays", &headings, lines.iter().map(row).collect(), page)
}

fn loci_words(lines: &[LocusLine], short: bool, page: Page) -> String {
    if short {
        let symbols: Vec<&str> = lines.iter().map(|line| line.symbol.as_str()).collect();
        let said = format!(
            "Loci: {} ('locule list loci' says more)",
            symbols.join(", ")
        );
        return wrapped(&shown(&said), page.width, "  ");
    }
    let row = |line: &LocusLine| {
        vec![
            line.symbol.clone(),
            line.alleles.join(", "),
            line.chromosome.clone().unwrap_or_default(),
        ]
    };
    let headings = ["locus", "alleles", "chromosome"];
    titled("Loci", &headings, lines.iter().map(row).collect(), page)
}

impl Answer for Overview {
    fn words(&self, page: Page) -> String {
        let parts = [
            self.parents
                .as_ref()
                .map(|lines| parents_words(lines, page)),
            self.crosses
                .as_ref()
                .map(|lines| crosses_words(lines, page)),
            self.seed.as_ref().map(|lines| seed_words(lines, page)),
            self.trays.as_ref().map(|lines| trays_words(lines, page)),
            self.loci
                .as_ref()
                .map(|lines| loci_words(lines, self.short, page)),
        ];
        parts.into_iter().flatten().collect::<Vec<_>>().join("\n\n")
    }
}
