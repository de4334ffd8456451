//! Finding what a typed code means, with the nearest known names where it means nothing.

use super::desk::Desk;
use super::refusal::{Identity, Refusal};
use crate::records::code::Code;
use crate::records::day::Day;
use crate::records::facts::Facts;
use crate::records::near::meant;
use crate::records::rows::{CrossRow, LotRow, Thing};
use crate::records::target::Target;
use crate::records::tray::Tray;

pub(super) use super::refusal::Wanted;

/// The thing that a code names, of a wanted kind.
pub(super) fn thing(facts: &Facts, code: &Code, wanted: Wanted) -> Result<(Thing, i64), Refusal> {
    let typed = code.as_str();
    match facts.code_named(typed) {
        Some(row) if wanted.takes(row.thing) => Ok((row.thing, row.thing_id)),
        Some(row) => {
            let typed = row.typed.clone();
            Err(Identity::OtherThing {
                typed,
                is: row.thing,
                wanted,
            }
            .into())
        }
        None => {
            let nearest = meant(facts, typed, |thing| wanted.takes(thing));
            Err(Identity::Unknown {
                wanted,
                typed: typed.to_owned(),
                nearest,
            }
            .into())
        }
    }
}

/// The batch of a tray's code.
pub(super) fn tray<'f>(facts: &'f Facts, code: &Code) -> Result<Tray<'f>, Refusal> {
    let (_, id) = thing(facts, code, Wanted::Tray)?;
    Ok(Tray::of(facts, id).expect("a code names a row that is there"))
}

/// The cross of a code.
pub(super) fn cross<'f>(facts: &'f Facts, code: &Code) -> Result<&'f CrossRow, Refusal> {
    let (_, id) = thing(facts, code, Wanted::Cross)?;
    Ok(facts
        .cross
        .get(id)
        .expect("a code names a row that is there"))
}

/// One plant: a parent by its code, or a seedling by its place.
pub(super) fn plant(desk: &mut Desk, target: &Target, day: Day) -> Result<i64, Refusal> {
    match target {
        Target::Spot(tray_code, spot) => {
            let tray = tray(desk.facts, tray_code)?;
            super::seedlings::at(desk, &tray, spot, day)
        }
        Target::Lot(code, _) => thing(desk.facts, code, Wanted::Plant).and_then(|_| {
            let typed = target.to_string();
            Err(Identity::OtherThing {
                typed,
                is: Thing::Lot,
                wanted: Wanted::Plant,
            }
            .into())
        }),
        Target::Code(code) => match thing(desk.facts, code, Wanted::Plant) {
            Ok((_, id)) => Ok(id),
            Err(Refusal::Identity(Identity::OtherThing {
                typed,
                is: Thing::Batch,
                ..
            })) => Err(Identity::NotOnePlant {
                tray: Some(typed.clone()),
                typed,
            }
            .into()),
            Err(refusal) => Err(refusal),
        },
    }
}

/// Anything that a remark or picture can be about.
pub(super) fn any(desk: &mut Desk, target: &Target, day: Day) -> Result<(Thing, i64), Refusal> {
    match target {
        Target::Code(code) => thing(desk.facts, code, Wanted::Any),
        Target::Spot(..) => plant(desk, target, day).map(|id| (Thing::Plant, id)),
        Target::Lot(code, number) => lot(desk.facts, code, *number).map(|lot| (Thing::Lot, lot.id)),
    }
}

/// The lots of a cross or parent, by number.
pub(super) fn lots(facts: &Facts, thing: Thing, id: i64) -> Vec<&LotRow> {
    let of_source = |lot: &&LotRow| match thing {
        Thing::Cross => lot.cross_id == Some(id),
        _ => lot.plant_id == Some(id),
    };
    facts.lot.iter().filter(of_source).collect()
}

/// The lot of a cross or parent of a number.
pub(super) fn lot<'f>(facts: &'f Facts, code: &Code, number: i64) -> Result<&'f LotRow, Refusal> {
    let (kind, id) = thing(facts, code, Wanted::Seed)?;
    let all = lots(facts, kind, id);
    let label = |number: i64| format!("{}/{number}", facts.code_of(kind, id).unwrap_or("?"));
    let found = all.iter().find(|lot| lot.number == number);
    found.copied().ok_or_else(|| {
        let known = all.iter().map(|lot| label(lot.number)).collect();
        Identity::NoSuchLot {
            typed: label(number),
            known,
        }
        .into()
    })
}

/// A plant as messages name it.
pub(super) fn label(facts: &Facts, plant_id: i64) -> String {
    facts
        .plant
        .get(plant_id)
        .map_or_else(|| "?".to_owned(), |row| facts.plant_label(row))
}

/// The parents of a cross as messages name them: `NL x CW`, `NL selfed`.
pub(super) fn parents(facts: &Facts, cross: &CrossRow) -> String {
    let mother = label(facts, cross.mother_id);
    if cross.mother_id == cross.father_id {
        return format!("{mother} selfed");
    }
    format!("{mother} x {}", label(facts, cross.father_id))
}

/// A thing in words, for messages.
pub(super) fn describe(facts: &Facts, thing: Thing, id: i64) -> String {
    match thing {
        Thing::Plant => {
            let name = facts.plant.get(id).map_or("", |plant| plant.name.as_str());
            if name.is_empty() {
                label(facts, id)
            } else {
                name.to_owned()
            }
        }
        Thing::Cross => facts
            .cross
            .get(id)
            .map_or_else(String::new, |row| parents(facts, row)),
        Thing::Batch => facts.batch.get(id).map_or_else(String::new, |batch| {
            format!("{} seeds sown on {}", batch.seeds, batch.day)
        }),
        Thing::Trait => facts
            .trait_
            .get(id)
            .map_or_else(String::new, |row| row.name.clone()),
        Thing::Lot => facts
            .lot
            .get(id)
            .map_or_else(String::new, |lot| format!("of {}", lot.day)),
    }
}
