//! Who a plant comes from, as recorded: mother, father, cytoplasm, and whether it makes pollen.
//!
//! Follows the rows and asks no readings; what the seedlings say of it is the diagnosis's business.

use std::collections::HashMap;
use std::collections::hash_map::Entry;

use super::assumptions::Assumptions;
use super::facts::Facts;
use super::genes::Loci;
use super::rows::{AdoptionRow, BatchRow, PlantCytoplasm, PlantKind, PlantRow, StatementRow};
use crate::genetics::notation::StatedLocus;
use crate::genetics::{Genotype, LocusBook};

/// Days from sowing before which no pepper is in flower; the quickest take about twice as long (design choice).
pub const FLOWERING_DAYS: i64 = 30;

/// The allele that restores pollen in sterile cytoplasm.
const RESTORER: &str = "Rf";

/// Recessive alleles that, homozygous, leave a plant without pollen.
const STERILE: [&str; 3] = ["ms3", "ms10", "msw"];

/// The mother and father of a batch by its label; a packet counts as a self of its parent.
#[must_use]
pub fn label_parents(facts: &Facts, batch: &BatchRow) -> Option<(i64, i64)> {
    if let Some(plant) = batch.plant_id {
        return Some((plant, plant));
    }
    facts
        .cross
        .get(batch.cross_id?)
        .map(|cross| (cross.mother_id, cross.father_id))
}

/// The mother and father of a plant: by the label of its batch, else as entered.
#[must_use]
pub fn parents_of(facts: &Facts, plant: &PlantRow) -> Option<(i64, i64)> {
    match plant.batch_id.and_then(|id| facts.batch.get(id)) {
        Some(batch) => label_parents(facts, batch),
        None => plant.mother_id.zip(plant.father_id),
    }
}

/// As what a seedling was kept that is not what its label says; nothing where it was not.
#[must_use]
pub fn adoption_of(facts: &Facts, plant: i64) -> Option<&AdoptionRow> {
    facts.adoption.iter().find(|row| row.plant_id == plant)
}

/// The likely mother and father of a plant, each where known: as it was adopted, else as [`parents_of`] says.
#[must_use]
pub fn likely_parents(facts: &Facts, plant: &PlantRow) -> (Option<i64>, Option<i64>) {
    match adoption_of(facts, plant.id) {
        Some(adopted) => (adopted.mother_id, adopted.father_id),
        None => parents_of(facts, plant).unzip(),
    }
}

/// Every plant that a plant is said to come from, by its label and as it was adopted, each once.
#[must_use]
pub fn all_parents(facts: &Facts, plant: &PlantRow) -> Vec<i64> {
    let label = parents_of(facts, plant).unzip();
    let likely = likely_parents(facts, plant);
    let mut all: Vec<i64> = [label.0, label.1, likely.0, likely.1]
        .into_iter()
        .flatten()
        .collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// The mother of a plant, where recorded: as it was adopted, else by its label, else as entered.
#[must_use]
pub fn mother_of(facts: &Facts, plant: &PlantRow) -> Option<i64> {
    match adoption_of(facts, plant.id) {
        Some(adopted) => adopted.mother_id,
        None => parents_of(facts, plant)
            .map(|(mother, _)| mother)
            .or(plant.mother_id),
    }
}

/// The share of a plant's loci taken as fixed, beyond what its parents give: its inbreeding where nothing is known
/// of them. A line or packet out of a cross was selfed since; an ancestor of which only the name is known is taken
/// as a line, for pedigrees name varieties.
#[must_use]
pub fn fixed_since(facts: &Facts, beliefs: &Assumptions, plant: &PlantRow) -> f64 {
    match plant.kind {
        PlantKind::Line => beliefs.inbreeding_line,
        PlantKind::Packet => beliefs.inbreeding_packet,
        PlantKind::Ancestor if parents_of(facts, plant).is_none() => beliefs.inbreeding_line,
        PlantKind::Single if parents_of(facts, plant).is_none() => beliefs.inbreeding_plant,
        PlantKind::Single | PlantKind::Seedling | PlantKind::Ancestor => 0.0,
    }
}

/// The way on which a plant would be its own ancestor if it came from some plants: from one of them on, each plant
/// followed by one of its parents, the plant itself last.
#[must_use]
pub fn ring_through(facts: &Facts, plant: i64, from: &[i64]) -> Option<Vec<i64>> {
    let mut came_from: HashMap<i64, i64> = HashMap::new();
    let mut left = from.to_vec();
    while let Some(at) = left.pop() {
        if at == plant {
            let below = |at: &i64| came_from.get(at).copied();
            let way = std::iter::successors(Some(at), below).take(facts.plant.len() + 1);
            let mut ring: Vec<i64> = way.collect();
            ring.reverse();
            return Some(ring);
        }
        let above = facts.plant.get(at).map(|row| all_parents(facts, row));
        for parent in above.into_iter().flatten() {
            if let Entry::Vacant(place) = came_from.entry(parent) {
                place.insert(at);
                left.push(parent);
            }
        }
    }
    None
}

/// The cytoplasm of a plant: its own where stated, else that of its mother's line.
#[must_use]
pub fn cytoplasm_of(facts: &Facts, plant_id: i64) -> PlantCytoplasm {
    let mut next = Some(plant_id);
    // A plant is never its own ancestor, so the walk is no longer than the ledger.
    for _ in 0..=facts.plant.len() {
        let Some(plant) = next.and_then(|id| facts.plant.get(id)) else {
            break;
        };
        if plant.cytoplasm != PlantCytoplasm::Unknown {
            return plant.cytoplasm;
        }
        next = mother_of(facts, plant);
    }
    PlantCytoplasm::Unknown
}

/// Why a plant makes no pollen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoPollen {
    /// Its cytoplasm is sterile, and no restorer is stated.
    Cytoplasm,
    /// It is stated to be homozygous for this recessive allele.
    Recessive(&'static str),
}

/// Why a plant makes no pollen by what is recorded of it; nothing where nothing says so. Its cytoplasm is
/// its own or its mother's line's; of statements about one locus the latest holds. What cannot be read of
/// the loci counts as not stated.
#[must_use]
pub fn no_pollen(facts: &Facts, plant_id: i64) -> Option<NoPollen> {
    let is_sterile = cytoplasm_of(facts, plant_id) == PlantCytoplasm::Sterile;
    let is_stated = facts.statement.iter().any(|row| row.plant_id == plant_id);
    let loci = is_stated.then(|| Loci::of(facts).ok()).flatten();
    let carried = |allele: &str| {
        let book = &loci.as_ref()?.book;
        copies_stated(facts, book, plant_id, allele)
    };
    let recessive = STERILE
        .into_iter()
        .find(|allele| carried(allele) == Some(2));
    match recessive {
        Some(allele) => Some(NoPollen::Recessive(allele)),
        None if is_sterile && carried(RESTORER).unwrap_or(0) == 0 => Some(NoPollen::Cytoplasm),
        None => None,
    }
}

/// Whether a plant makes no pollen by what is recorded of it; see [`no_pollen`].
#[must_use]
pub fn makes_no_pollen(facts: &Facts, plant_id: i64) -> bool {
    no_pollen(facts, plant_id).is_some()
}

/// Whether a restorer of pollen is stated of a plant.
#[must_use]
pub fn carries_restorer(facts: &Facts, plant_id: i64) -> bool {
    let is_stated = facts.statement.iter().any(|row| row.plant_id == plant_id);
    let loci = is_stated.then(|| Loci::of(facts).ok()).flatten();
    let copies = loci.and_then(|loci| copies_stated(facts, &loci.book, plant_id, RESTORER));
    copies.is_some_and(|copies| copies > 0)
}

/// How many copies of an allele the statement in force says a plant has; nothing where its locus is not
/// stated.
fn copies_stated(facts: &Facts, book: &LocusBook, plant_id: i64, allele: &str) -> Option<usize> {
    let (locus, allele) = book.locus_of_allele(allele)?;
    let mut scratch = book.clone();
    let mut in_force: Option<StatedLocus> = None;
    let of_plant = |row: &&StatementRow| row.plant_id == plant_id;
    for row in facts.statement.iter().filter(of_plant) {
        let genotype = Genotype::parse(&row.genotype, &mut scratch).ok();
        let at = genotype.as_ref().and_then(|genotype| genotype.at(locus));
        let says_something = |at: &&StatedLocus| at.first.is_some() || at.second.is_some();
        in_force = at.filter(says_something).copied().or(in_force);
    }
    let copies = in_force.map(|at| [at.first, at.second])?;
    Some(copies.iter().filter(|one| **one == Some(allele)).count())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::admit::{Bench, admit};
    use crate::records::change::RowChange;
    use crate::records::entry::Entry;

    fn ledger() -> Facts {
        let mut facts = Facts::default();
        let bench = Bench {
            today: "2026-03-01".parse().unwrap(),
            even_so: false,
        };
        for change in admit(&facts, &Entry::Init, &bench).unwrap().changes {
            facts.apply(&change);
        }
        facts
    }

    fn plant(facts: &mut Facts, id: i64, cytoplasm: PlantCytoplasm, mother_id: Option<i64>) {
        facts.apply(&RowChange::insert(PlantRow {
            id,
            kind: PlantKind::Line,
            name: String::new(),
            species: String::new(),
            cytoplasm,
            batch_id: None,
            cell: None,
            part: String::new(),
            mother_id,
            father_id: None,
            entered: "2026-01-01".parse().unwrap(),
        }));
    }

    fn state(facts: &mut Facts, plant_id: i64, genotype: &str) {
        let id = facts.statement.len() as i64 + 1;
        facts.apply(&RowChange::insert(StatementRow {
            id,
            plant_id,
            genotype: genotype.to_owned(),
            proven: false,
            day: "2026-01-01".parse().unwrap(),
        }));
    }

    #[test]
    fn sterile_cytoplasm_comes_from_the_mother_and_a_restorer_lifts_it() {
        let mut facts = ledger();
        plant(&mut facts, 1, PlantCytoplasm::Sterile, None);
        plant(&mut facts, 2, PlantCytoplasm::Unknown, Some(1));
        plant(&mut facts, 3, PlantCytoplasm::Unknown, None);
        assert_eq!(no_pollen(&facts, 2), Some(NoPollen::Cytoplasm));
        assert!(!makes_no_pollen(&facts, 3));
        state(&mut facts, 2, "Rf/rf A/a");
        assert!(!makes_no_pollen(&facts, 2));
        state(&mut facts, 2, "A/A");
        assert!(!makes_no_pollen(&facts, 2), "nothing new is said of Rf");
        state(&mut facts, 2, "rf/rf");
        assert!(makes_no_pollen(&facts, 2), "the later statement holds");
    }

    #[test]
    fn a_double_recessive_makes_no_pollen() {
        let mut facts = ledger();
        plant(&mut facts, 1, PlantCytoplasm::Normal, None);
        for (genotype, wanted) in [
            ("Ms3/ms3", None),
            ("ms3/_", None),
            ("ms3/ms3", Some(NoPollen::Recessive("ms3"))),
            ("Ms3/ms3", None),
            ("msw/msw", Some(NoPollen::Recessive("msw"))),
        ] {
            state(&mut facts, 1, genotype);
            assert_eq!(no_pollen(&facts, 1), wanted, "{genotype}");
        }
    }
}
