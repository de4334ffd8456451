//! Puts what a pot without a label may be together, cross by cross.

use crate::records::code::fold;
use crate::records::rows::Thing;

use super::pot::Known;
use super::units::{Unit, Units, What};
use super::{BoxShare, LookShare, LostCandidate, LostLabel, TrayShare};
use crate::diagnosis::context::Context;
use crate::diagnosis::evidence::Telling;
use crate::diagnosis::reason::seen;
use crate::diagnosis::sources::Stock;

/// Puts the units together by cross.
pub(super) struct Answering<'u> {
    pub(super) units: &'u Units<'u>,
    pub(super) context: &'u Context<'u>,
    pub(super) known: &'u Known,
}

impl Answering<'_> {
    /// The answer, nothing to score next in it yet.
    pub(super) fn answer(&self, seedling: Option<String>) -> LostLabel {
        let mut stocks: Vec<Stock> = Vec::new();
        for unit in &self.units.list {
            if !stocks.contains(&unit.stock) {
                stocks.push(unit.stock);
            }
        }
        let mut candidates: Vec<LostCandidate> = stocks
            .into_iter()
            .map(|stock| self.candidate(stock))
            .collect();
        candidates.sort_by(|one, other| other.p.total_cmp(&one.p));
        let odds = |one: &LostCandidate| one.p / one.before;
        LostLabel {
            day: self.known.day,
            seedling,
            readings: self
                .known
                .readings
                .iter()
                .map(|one| seen(self.context, one))
                .collect(),
            age: self.known.age,
            place: self.known.place.clone(),
            times_as_likely: match candidates.as_slice() {
                [first, second, ..] if second.p > 0.0 => Some(odds(first) / odds(second)),
                _ => None,
            },
            candidates,
            elsewhere: self.units.elsewhere,
            next: None,
            declined: self.units.declined.clone(),
            traits_left_out: self.units.traits_left_out.clone(),
            no_tray_of_age: !self.units.is_of_age,
            other_places: self.other_places(),
            set_aside: None,
            gone: None,
            growth_of: self.known.growth_of.clone(),
        }
    }

    /// The places named of trays where none ever stood at the pot's; none where no place is said.
    fn other_places(&self) -> Vec<String> {
        let own = fold(self.known.place.trim());
        let rows = self.context.index.facts.batch.iter();
        let named = rows
            .map(|row| row.place.trim())
            .filter(|place| !place.is_empty());
        let mut places: Vec<String> = named.map(str::to_owned).collect();
        places.sort();
        places.dedup();
        match own.is_empty() || places.iter().any(|place| fold(place) == own) {
            true => Vec::new(),
            false => places,
        }
    }

    fn candidate(&self, stock: Stock) -> LostCandidate {
        let own: Vec<&Unit> = self
            .units
            .list
            .iter()
            .filter(|unit| unit.stock == stock)
            .collect();
        let facts = self.context.index.facts;
        let (mother, father) = self.context.sources.parents(stock);
        let p: f64 = own.iter().map(|unit| unit.p).sum();
        let off: f64 = own.iter().map(|unit| unit.p * unit.p_off).sum();
        let best = own
            .iter()
            .copied()
            .max_by(|one, other| one.p.total_cmp(&other.p));
        let mut trays: Vec<i64> = own.iter().filter_map(|unit| unit.tray()).collect();
        trays.dedup();
        let mut trays: Vec<TrayShare> = trays
            .into_iter()
            .map(|tray| self.tray(tray, &own))
            .collect();
        trays.sort_by(|one, other| other.p.total_cmp(&one.p));
        let seeds = own.iter().find_map(|unit| match unit.what {
            What::Seeds(seeds) => Some(BoxShare { seeds, p: unit.p }),
            _ => None,
        });
        LostCandidate {
            code: self.context.sources.name_stock(stock).code.to_string(),
            packet: matches!(stock, Stock::Packet(_)),
            label: (facts.label_of_plant(mother), facts.label_of_plant(father)),
            before: own.iter().map(|unit| unit.before).sum(),
            p,
            p_off: if p > 0.0 { off / p } else { 0.0 },
            looks: best.map_or_else(Vec::new, |unit| self.looks(unit)),
            trays,
            seeds,
        }
    }

    fn tray(&self, tray: i64, own: &[&Unit]) -> TrayShare {
        let facts = self.context.index.facts;
        let here: Vec<&&Unit> = own
            .iter()
            .filter(|unit| unit.tray() == Some(tray))
            .collect();
        let p: f64 = here.iter().map(|unit| unit.p).sum();
        let batch = facts.batch.get(tray);
        let aged = here.iter().find_map(|unit| unit.age);
        let named = here.iter().filter_map(|unit| match unit.what {
            What::Seedling {
                plant: Some(plant), ..
            } => Some((plant, unit.p)),
            _ => None,
        });
        let likeliest = named.max_by(|one, other| one.1.total_cmp(&other.1));
        let likeliest = likeliest.filter(|(_, own)| *own >= 0.5 * p && p > 0.0);
        let place_of = |plant: i64| {
            facts
                .plant
                .get(plant)
                .and_then(|row| facts.seedling_label(row))
        };
        TrayShare {
            tray: facts
                .code_of(Thing::Batch, tray)
                .unwrap_or_default()
                .to_owned(),
            place: batch.map_or_else(String::new, |row| row.place.clone()),
            seedlings: here.iter().map(|unit| unit.count).sum(),
            age: aged,
            guessed: here.iter().any(|unit| unit.guessed),
            p,
            likeliest: likeliest.and_then(|(plant, _)| place_of(plant)),
        }
    }

    /// What a unit's seedlings look like on the day of each newest reading of the pot.
    fn looks(&self, unit: &Unit) -> Vec<LookShare> {
        let mut newest: Vec<&Telling> = Vec::new();
        for reading in &self.known.readings {
            newest.retain(|older| older.look != reading.look);
            newest.push(reading);
        }
        let share = |reading: &&Telling| LookShare {
            trait_code: self.context.looks.traits[reading.look].code.clone(),
            class: self.context.looks.traits[reading.look].classes[reading.class]
                .name
                .clone(),
            share: self.units.bench.share_as_labelled(unit, reading),
        };
        newest.iter().map(share).collect()
    }
}
