//! `parent add`: a line, a packet, a single plant, or a seedling that gets a second code.

use super::desk::Desk;
use super::init::enter_new_loci;
use super::locus::loci_of;
use super::looks::{self, Reader};
use super::refusal::{GeneRefusal, Identity, Refusal};
use super::{Notice, Subject, contradict, find, pedigree, read_twice, seedlings};
use crate::genetics::Genotype;
use crate::genetics::species::CULTIVATED;
use crate::records::code::fold;
use crate::records::entry::NewParent;
use crate::records::genes::linkage_map;
use crate::records::near::nearest;
use crate::records::rows::{PlantCytoplasm, PlantRow, StatementRow, Thing};
use crate::records::species::{bare, is_cultivated};
use crate::records::target::Target;
use crate::records::text::{self, NAME_MAX};

pub(super) fn add(desk: &mut Desk, entry: &NewParent) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    desk.free_of_series(&entry.code)?;
    let name = entry
        .name
        .as_ref()
        .map(|name| text::require("name", name, NAME_MAX))
        .transpose()?;
    let species = entry
        .species
        .as_ref()
        .map(|word| check_species(desk, word))
        .transpose()?;
    let plant = match &entry.from {
        Some(place) => rename(desk, entry, place, name, species)?,
        None => enter(desk, entry, name, species)?,
    };
    desk.name(&entry.code, Thing::Plant, plant);
    let new_loci = state(desk, entry, plant)?;
    read_looks(desk, entry, plant)?;
    Ok(Subject::Parent { plant, new_loci })
}

/// Enters a new plant, or makes one of an ancestor that pedigrees have named before.
fn enter(
    desk: &mut Desk,
    entry: &NewParent,
    name: Option<String>,
    species: Option<String>,
) -> Result<i64, Refusal> {
    let known = pedigree::ancestor_named(desk.facts, entry.code.as_str(), name.as_deref());
    let parents = pedigree::parents(desk, entry, name.as_deref(), known)?;
    let (mother_id, father_id) = parents.unzip();
    let row = |id| PlantRow {
        id,
        kind: entry.kind,
        name: name.unwrap_or_default(),
        species: species.unwrap_or_default(),
        cytoplasm: entry.cytoplasm.unwrap_or(PlantCytoplasm::Unknown),
        batch_id: None,
        cell: None,
        part: String::new(),
        mother_id,
        father_id,
        entered: entry.day,
    };
    let plant = match known {
        None => desk.insert(row),
        Some(before) => {
            desk.tell(Notice::WasAncestor {
                name: before.name.clone(),
            });
            desk.update(before, row(before.id));
            before.id
        }
    };
    pedigree::note_selection(desk, entry, plant)?;
    Ok(plant)
}

/// A cultivated species by its bare word, with what stands below the species as typed; any other is taken as typed, with a
/// remark.
fn check_species(desk: &mut Desk, typed: &str) -> Result<String, Refusal> {
    let word = text::require("species", typed, NAME_MAX)?;
    let short = bare(&word);
    if is_cultivated(&short) {
        let says_more = !fold(&word).ends_with(&short);
        return Ok(if says_more { word } else { short });
    }
    desk.tell(Notice::OtherSpecies {
        near: nearest(&short, CULTIVATED).into_iter().next(),
        species: word.clone(),
    });
    Ok(word)
}

/// Gives a seedling its second code, and a name where one is stated.
fn rename(
    desk: &mut Desk,
    entry: &NewParent,
    place: &Target,
    name: Option<String>,
    species: Option<String>,
) -> Result<i64, Refusal> {
    let plant = find::plant(desk, place, entry.day)?;
    if let Some(code) = desk.facts.code_of(Thing::Plant, plant) {
        let (seedling, code) = (place.to_string(), code.to_owned());
        return Err(Identity::NamedAlready { seedling, code }.into());
    }
    seedlings::check_alive(desk, plant, "kept as a parent", entry.day)?;
    let Some(before) = desk.facts.plant.get(plant) else {
        desk.amend_fresh(plant, |row| fill(row, entry, name, species));
        return Ok(plant);
    };
    let mut after = before.clone();
    fill(&mut after, entry, name, species);
    desk.update(before, after);
    Ok(plant)
}

fn fill(row: &mut PlantRow, entry: &NewParent, name: Option<String>, species: Option<String>) {
    row.name = name.unwrap_or_else(|| row.name.clone());
    row.species = species.unwrap_or_else(|| row.species.clone());
    row.cytoplasm = entry.cytoplasm.unwrap_or(row.cytoplasm);
}

/// Enters the stated genotype; gives the loci first met in it.
fn state(desk: &mut Desk, entry: &NewParent, plant: i64) -> Result<Vec<String>, Refusal> {
    let Some(typed) = &entry.genotype else {
        return Ok(Vec::new());
    };
    let mut loci = loci_of(desk.facts)?;
    let known = loci.book.len();
    let genotype = Genotype::parse(typed, &mut loci.book).map_err(|error| {
        let (message, pointer) = (error.to_string(), error.pointed(typed));
        GeneRefusal::Genotype {
            message,
            pointer,
            hint: error.hint(),
        }
    })?;
    let phase = linkage_map(desk.facts, &loci)?.check_phase(&genotype, &loci.book);
    phase.map_err(|error| GeneRefusal::Genotype {
        message: error.to_string(),
        pointer: typed.clone(),
        hint: "write a slash where a locus has no phased neighbour on its chromosome".to_owned(),
    })?;
    let new_loci = enter_new_loci(desk, &loci.book, known);
    let (genotype, proven, day) = (genotype.written(&loci.book), entry.proven, entry.day);
    desk.insert(|id| StatementRow {
        id,
        plant_id: plant,
        genotype,
        proven,
        day,
    });
    Ok(new_loci)
}

fn read_looks(desk: &mut Desk, entry: &NewParent, plant: i64) -> Result<(), Refusal> {
    if entry.looks.is_empty() {
        return Ok(());
    }
    let look = Reader::grown(desk.facts, None)?.read(&entry.looks)?;
    match &entry.genotype {
        Some(genotype) => contradict::remark(desk, plant, entry.code.as_str(), genotype, &look),
        None => contradict::remark_on_stated(desk, plant, &look),
    }
    read_twice::tell(desk, &[(plant, &look[..])], entry.day);
    looks::enter_reading(desk, plant, &look, entry.day, None);
    Ok(())
}
