//! The pedigree of a new parent: names become plants of the ledger, and what the ledger does not know becomes
//! ancestors.
//!
//! A name is a code, a seedling's place or a plant's name, tried in this order. Crosses between are entered as
//! ancestors without a name.

use std::collections::HashMap;

use super::desk::Desk;
use super::refusal::{GeneRefusal, Identity, Refusal, Wanted};
use super::{Notice, find};
use crate::genetics::purdy::{Pedigree, Purdy};
use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::descent::{label_parents, parents_of, ring_through};
use crate::records::entry::NewParent;
use crate::records::facts::Facts;
use crate::records::near::nearest;
use crate::records::rows::{PlantCytoplasm, PlantKind, PlantRow, RemarkRow, Thing};
use crate::records::target::Target;
use crate::records::text::{self, NAME_MAX};

/// Longest pedigree, in characters.
const PEDIGREE_MAX: usize = 1_000;

fn read(typed: &str) -> Result<Purdy, Refusal> {
    let text = text::require("pedigree", typed, PEDIGREE_MAX)?;
    text.parse::<Purdy>().map_err(|error| {
        GeneRefusal::Pedigree {
            message: error.to_string(),
            pointer: error.pointed(&text),
            hint: error.hint(),
        }
        .into()
    })
}

/// The ancestor without a code that a new plant's code or name means.
pub(super) fn ancestor_named<'f>(
    facts: &'f Facts,
    code: &str,
    name: Option<&str>,
) -> Option<&'f PlantRow> {
    let wanted = fold(name.unwrap_or(code));
    facts.plant.iter().find(|row| {
        row.kind == PlantKind::Ancestor
            && !row.name.is_empty()
            && fold(&row.name) == wanted
            && facts.code_of(Thing::Plant, row.id).is_none()
    })
}

/// The mother and father that a pedigree gives to a new plant; `known` is the ancestor that it has been so far.
pub(super) fn parents(
    desk: &mut Desk,
    entry: &NewParent,
    name: Option<&str>,
    known: Option<&PlantRow>,
) -> Result<Option<(i64, i64)>, Refusal> {
    let Some(typed) = &entry.pedigree else {
        return Ok(None);
    };
    let purdy = read(typed)?;
    let itself = |text: &&str| {
        [Some(entry.code.as_str()), name]
            .into_iter()
            .flatten()
            .any(|own| fold(own) == fold(text))
    };
    if let Some(own) = purdy.pedigree.names().into_iter().find(itself) {
        return Err(Identity::OwnAncestor {
            plant: own.to_owned(),
            through: Vec::new(),
            look_at: None,
        }
        .into());
    }
    let mut entering = Entering {
        desk,
        day: entry.day,
        plants: HashMap::new(),
        from: Vec::new(),
        unknown: Vec::new(),
    };
    let Pedigree::Cross(pair) = &purdy.pedigree else {
        return Ok(None);
    };
    let parents = (entering.plant(&pair[0])?, entering.plant(&pair[1])?);
    let (unknown, from) = (entering.unknown, entering.from);
    if let Some(ring) = known.and_then(|row| ring_through(desk.facts, row.id, &from)) {
        return Err(own_ancestor(desk.facts, &ring));
    }
    for doubt in purdy.doubts {
        desk.tell(Notice::Pedigree(doubt));
    }
    tell_of_unknown(desk, unknown);
    Ok(Some(parents))
}

/// Enters the selection history behind a pedigree as a remark on the plant.
pub(super) fn note_selection(
    desk: &mut Desk,
    entry: &NewParent,
    plant: i64,
) -> Result<(), Refusal> {
    let purdy = entry.pedigree.as_deref().map(read).transpose()?;
    if let Some(history) = purdy.and_then(|purdy| purdy.selection) {
        let day = entry.day;
        desk.insert(|id| RemarkRow {
            id,
            thing: Thing::Plant,
            thing_id: plant,
            text: format!("selection history {history}"),
            day,
        });
    }
    Ok(())
}

fn tell_of_unknown(desk: &mut Desk, names: Vec<String>) {
    if names.is_empty() {
        return;
    }
    let facts = desk.facts;
    let plants = facts.code.iter().filter(|row| row.thing == Thing::Plant);
    let known: Vec<&str> = plants
        .map(|row| row.typed.as_str())
        .chain(facts.plant.iter().map(|row| row.name.as_str()))
        .filter(|name| !name.is_empty())
        .collect();
    // Every short code is near to every other: only a name long enough can be a slip of the finger.
    let slips = names.iter().filter(|name| name.chars().count() > 3);
    let nearest = slips
        .filter_map(|name| {
            Some((
                name.clone(),
                nearest(name, known.iter().copied()).into_iter().next()?,
            ))
        })
        .next();
    desk.tell(Notice::NewAncestors { names, nearest });
}

/// Which records clash: the parents of every plant on the way that has a name.
pub(super) fn own_ancestor(facts: &Facts, ring: &[i64]) -> Refusal {
    let has_name = |id: &&i64| {
        facts
            .plant
            .get(**id)
            .is_some_and(|row| !is_unnamed(facts, row))
    };
    let says = ring.iter().filter(has_name).filter_map(|id| {
        let (mother, father) = facts
            .plant
            .get(*id)
            .and_then(|row| parents_of(facts, row))?;
        let from = match mother == father {
            true => format!("{} selfed", named(facts, mother)),
            false => format!("{} x {}", named(facts, mother), named(facts, father)),
        };
        Some(format!("{} comes from {from}", named(facts, *id)))
    });
    let codes = ring
        .iter()
        .filter_map(|id| facts.code_of(Thing::Plant, *id));
    Identity::OwnAncestor {
        plant: ring.last().map_or_else(String::new, |id| named(facts, *id)),
        through: says.collect(),
        look_at: codes.map(str::to_owned).next(),
    }
    .into()
}

fn is_unnamed(facts: &Facts, row: &PlantRow) -> bool {
    let is_ancestor = row.kind == PlantKind::Ancestor && row.name.is_empty();
    is_ancestor && facts.code_of(Thing::Plant, row.id).is_none()
}

/// A plant as messages name it; a cross between by its parents.
fn named(facts: &Facts, id: i64) -> String {
    let cross = facts.plant.get(id).filter(|row| is_unnamed(facts, row));
    match cross.and_then(|row| parents_of(facts, row)) {
        Some((mother, father)) if mother < id && father < id => {
            format!("({} x {})", named(facts, mother), named(facts, father))
        }
        _ => find::label(facts, id),
    }
}

/// The plants of one pedigree while they are entered.
struct Entering<'d, 'f> {
    desk: &'d mut Desk<'f>,
    day: Day,
    /// Plants by the folded name, so that a name means one plant throughout.
    plants: HashMap<String, i64>,
    /// Plants of the ledger that it begins with.
    from: Vec<i64>,
    unknown: Vec<String>,
}

impl Entering<'_, '_> {
    fn plant(&mut self, pedigree: &Pedigree) -> Result<i64, Refusal> {
        match pedigree {
            Pedigree::Named(name) => self.named(name),
            Pedigree::Cross(pair) => {
                let (mother, father) = (self.plant(&pair[0])?, self.plant(&pair[1])?);
                Ok(self.ancestor(String::new(), Some((mother, father))))
            }
        }
    }

    fn named(&mut self, name: &str) -> Result<i64, Refusal> {
        let key = fold(name);
        if let Some(plant) = self.plants.get(&key) {
            return Ok(*plant);
        }
        let plant = match self.known(name)? {
            Some(plant) => {
                self.from.push(plant);
                plant
            }
            None => {
                let name = text::require("name", name, NAME_MAX)?;
                self.unknown.push(name.clone());
                self.ancestor(name, None)
            }
        };
        self.plants.insert(key, plant);
        Ok(plant)
    }

    /// The plant that a name means: by its code, by its place in a tray, by its name.
    fn known(&mut self, name: &str) -> Result<Option<i64>, Refusal> {
        let facts = self.desk.facts;
        if let Ok(target @ (Target::Code(_) | Target::Spot(..))) = name.parse::<Target>() {
            let row = facts.code_named(target.code().as_str());
            // X7 and T7 are numbers of crosses and trays, so they name no ancestor either.
            let is_number = target.code().is_automatic();
            match (row.map(|row| (row, row.thing)), &target) {
                (None, _) if is_number => {
                    return find::plant(self.desk, &target, self.day).map(Some);
                }
                (Some((row, Thing::Plant)), Target::Code(_)) => return Ok(Some(row.thing_id)),
                (Some((row, Thing::Batch)), Target::Spot(..)) => {
                    // A seedling first mentioned here is not among the facts yet, its tray is.
                    let batch = facts.batch.get(row.thing_id);
                    let parents = batch.and_then(|batch| label_parents(facts, batch));
                    self.from
                        .extend(parents.into_iter().flat_map(|(m, f)| [m, f]));
                    return find::plant(self.desk, &target, self.day).map(Some);
                }
                (Some((row, Thing::Cross | Thing::Batch)), Target::Code(_)) => {
                    let (typed, is, wanted) = (row.typed.clone(), row.thing, Wanted::Plant);
                    return Err(Identity::OtherThing { typed, is, wanted }.into());
                }
                _ => {}
            }
        }
        let wanted = fold(name);
        let named = |row: &&PlantRow| !row.name.is_empty() && fold(&row.name) == wanted;
        let plants: Vec<&PlantRow> = facts.plant.iter().filter(named).collect();
        match &plants[..] {
            [] => Ok(None),
            [one] => Ok(Some(one.id)),
            several => Err(Identity::SeveralNamed {
                name: name.to_owned(),
                codes: several.iter().map(|row| facts.plant_label(row)).collect(),
            }
            .into()),
        }
    }

    fn ancestor(&mut self, name: String, parents: Option<(i64, i64)>) -> i64 {
        let (mother_id, father_id) = parents.unzip();
        let entered = self.day;
        self.desk.insert(|id| PlantRow {
            id,
            kind: PlantKind::Ancestor,
            name,
            species: String::new(),
            cytoplasm: PlantCytoplasm::Unknown,
            batch_id: None,
            cell: None,
            part: String::new(),
            mother_id,
            father_id,
            entered,
        })
    }
}
