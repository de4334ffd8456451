//! `harvest` and `packet`: lots of seed.

use super::desk::{Desk, some};
use super::flowers::pollinations_on;
use super::refusal::{Excess, Order, Refusal};
use super::{Notice, Subject, find};
use crate::genetics::ripening::{FIRST_GERMINABLE_DAYS, ripe_from};
use crate::records::count::Count;
use crate::records::day::Day;
use crate::records::entry::{Harvest, Packet, PollinationDay};
use crate::records::rows::{LotRow, Table, Thing};
use crate::records::species::species_of;
use crate::records::text::{self, NAME_MAX};

pub(super) fn harvest(desk: &mut Desk, entry: &Harvest) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let kept = text::check("place", &entry.kept, NAME_MAX)?;
    let pods = entry
        .pods
        .map(|pods| some(pods, "pods", &entry.cross))
        .transpose()?;
    let cross = find::cross(desk.facts, &entry.cross)?.id;
    check_pollinated(desk, entry, cross)?;
    check_pods(desk, entry, cross, pods)?;
    check_seeds(desk, entry, pods)?;
    let number = desk.number(&format!("{}:cross:{cross}", Table::Lot.name()));
    let lot = desk.insert(|id| LotRow {
        id,
        cross_id: Some(cross),
        plant_id: None,
        number,
        pods,
        seeds: entry.seeds.map(Count::get),
        about: entry.about,
        day: entry.day,
        pollinated: entry.pollinated.and_then(PollinationDay::day),
        kept,
        label: String::new(),
        giver: String::new(),
        claim: String::new(),
    });
    Ok(Subject::Lot { lot })
}

/// Days from pollination to harvest below which a harvest is doubted. The first seeds able to germinate were 28
/// days old in a study of the ages of fruits in Nigeria; the margin below it is a choice of this program.
const RIPENING_DAYS: i64 = 20;

/// Seeds of one pod above which a harvest is doubted: far above the 170 a pod of a trial of hand-pollinated bell
/// peppers (Garcia-Tierrablanca 2015); a choice of this program.
const SEEDS_PER_POD: i64 = 1000;

/// Doubts a harvest before or soon after the pollination it came from, or the first.
fn check_pollinated(desk: &mut Desk, entry: &Harvest, cross: i64) -> Result<(), Refusal> {
    let facts = desk.facts;
    let since = match entry.pollinated {
        Some(meant) => {
            let row = facts.cross.get(cross).expect("the cross was found");
            pollinations_on(facts, row, Some(meant))?[0].day
        }
        None => first_pollinated(desk, cross),
    };
    let Some(since) = since else {
        return Ok(());
    };
    if entry.day.since(since) >= RIPENING_DAYS {
        tell_young(desk, cross, entry.day.since(since));
        return Ok(());
    }
    let label = facts.code_of(Thing::Cross, cross).unwrap_or("?").to_owned();
    let (effect, cause) = (
        format!("{label} harvested"),
        format!("{label} was pollinated"),
    );
    if entry.day >= since {
        return desk.doubt(Order::TooSoon {
            effect,
            day: entry.day,
            days: entry.day.since(since),
            cause,
            of: label,
            why: "the first seed able to germinate is ripe about 28 days after the flower",
        });
    }
    desk.doubt(Order::Before {
        effect,
        day: entry.day,
        cause,
        since,
        of: label,
    })
}

/// Says where a pod was picked so young that its seed may not come up.
fn tell_young(desk: &mut Desk, cross: i64, days: i64) {
    let mother = desk.facts.cross.get(cross).map(|row| row.mother_id);
    let species = mother.map_or_else(String::new, |mother| species_of(desk.facts, mother));
    if days < FIRST_GERMINABLE_DAYS.max(ripe_from(&species)) {
        desk.tell(Notice::PickedYoung { days, species });
    }
}

/// The first day of a cross's pollinations; nothing where one of them is on an unknown day.
pub(super) fn first_pollinated(desk: &Desk, cross: i64) -> Option<Day> {
    let days = desk
        .facts
        .pollination
        .iter()
        .filter(|row| row.cross_id == cross);
    let days: Option<Vec<Day>> = days.map(|row| row.day).collect();
    days?.into_iter().min()
}

/// Doubts more seeds than the pods can hold.
fn check_seeds(desk: &mut Desk, entry: &Harvest, pods: Option<i64>) -> Result<(), Refusal> {
    match (pods, entry.seeds.map(Count::get)) {
        (Some(pods), Some(seeds)) if seeds > pods * SEEDS_PER_POD => desk.doubt(Excess::Seeds {
            cross: entry.cross.to_string(),
            seeds,
            pods,
        }),
        _ => Ok(()),
    }
}

/// Doubts more pods harvested than flowers pollinated, or than are said to have set.
fn check_pods(
    desk: &mut Desk,
    entry: &Harvest,
    cross: i64,
    pods: Option<i64>,
) -> Result<(), Refusal> {
    let facts = desk.facts;
    let pollinations = || facts.pollination.iter().filter(|row| row.cross_id == cross);
    let flowers: Option<i64> = pollinations().map(|row| row.flowers).sum();
    let set: Option<i64> = pollinations().map(|row| row.pods).sum();
    let before = facts.lot.iter().filter(|lot| lot.cross_id == Some(cross));
    let all = before.filter_map(|lot| lot.pods).sum::<i64>() + pods.unwrap_or(0);
    if let Some(flowers) = flowers.filter(|flowers| pods.is_some() && all > *flowers) {
        desk.doubt(Excess::Flowers {
            cross: entry.cross.to_string(),
            outcome: format!("{all} pods harvested"),
            flowers,
        })?;
    }
    match set {
        Some(set) if pods.is_some() && all > set => desk.doubt(Excess::PodsSet {
            cross: entry.cross.to_string(),
            harvested: Some(all),
            set,
        }),
        Some(0) => desk.doubt(Excess::PodsSet {
            cross: entry.cross.to_string(),
            harvested: None,
            set: 0,
        }),
        _ => Ok(()),
    }
}

pub(super) fn packet(desk: &mut Desk, entry: &Packet) -> Result<Subject, Refusal> {
    desk.not_future(entry.day)?;
    let label = text::check("label", &entry.label, NAME_MAX)?;
    let giver = text::check("giver", &entry.giver, NAME_MAX)?;
    let kept = text::check("place", &entry.kept, NAME_MAX)?;
    let seeds = entry
        .seeds
        .map(|seeds| some(seeds, "seeds", &entry.plant))
        .transpose()?;
    let plant = find::plant(desk, &entry.plant, entry.day)?;
    let number = desk.number(&format!("{}:plant:{plant}", Table::Lot.name()));
    let lot = desk.insert(|id| LotRow {
        id,
        cross_id: None,
        plant_id: Some(plant),
        number,
        pods: None,
        seeds,
        about: false,
        day: entry.day,
        pollinated: None,
        kept,
        label,
        giver,
        claim: entry
            .claim
            .map_or_else(String::new, |claim| claim.to_string()),
    });
    Ok(Subject::Lot { lot })
}
