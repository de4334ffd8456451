//! What a pot without a label may be, one by one, and how likely that is.
//!
//! A unit is a seedling that was told apart, the seedlings of one tallied look, those of a tray that nobody read, or the
//! seed of a cross in the box. A tray is weighed once with one more seedling in it that nobody read: what that would be is
//! what the pot would be if it were of the tray.

use std::collections::BTreeSet;

use crate::records::code::fold;
use crate::records::day::Day;
use crate::records::rows::{BatchRow, Thing};
use crate::records::tray::stock as seeds_left;

use super::SEASON_DAYS;
use super::pot::place_chance;
use super::stand::{Bench, Stand, share};
use crate::diagnosis::answer::EvidenceNote;
use crate::diagnosis::belief::in_two_threads;
use crate::diagnosis::context::Context;
use crate::diagnosis::dates::Emergence;
use crate::diagnosis::set_aside::notes_of;
use crate::diagnosis::sources::{Stock, stock_of};
use crate::diagnosis::verdict::dot;

/// Seeds that a cross is taken to have where nobody counted them (design choice).
const UNCOUNTED: i64 = 10;

/// How far the days of emergence of a stranger are followed beyond its age, in standard deviations.
const REACH: f64 = 4.0;

/// What a unit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum What {
    /// Seedlings of a tray that nobody read.
    Unread(i64),
    /// A seedling of a tray that was read, or those of one tallied look.
    Seedling {
        /// The tray.
        tray: i64,
        /// The seedling, where it was told apart.
        plant: Option<i64>,
        /// Its place among the tray's evidence.
        member: usize,
    },
    /// Seed in the box, so many where counted.
    Seeds(Option<i64>),
}

/// Something that the pot may be.
#[derive(Debug, Clone)]
pub(super) struct Unit {
    pub(super) stock: Stock,
    pub(super) what: What,
    /// How many seedlings or seeds.
    pub(super) count: i64,
    /// Its weight by number and place.
    weight: f64,
    /// Log of P(age, looks | it).
    pub(super) ln: f64,
    /// P(not as labelled | it is this).
    pub(super) p_off: f64,
    /// How old it is on average; nothing for seed.
    pub(super) age: Option<f64>,
    /// Whether nobody counted when it came up.
    pub(super) guessed: bool,
    /// P(it is this) by number and place alone.
    pub(super) before: f64,
    /// P(it is this).
    pub(super) p: f64,
}

impl Unit {
    /// The tray it stands in.
    pub(super) const fn tray(&self) -> Option<i64> {
        match self.what {
            What::Unread(tray) | What::Seedling { tray, .. } => Some(tray),
            What::Seeds(_) => None,
        }
    }
}

/// Everything that the pot may be.
pub(super) struct Units<'u> {
    pub(super) bench: Bench<'u>,
    pub(super) list: Vec<Unit>,
    /// P(it comes from elsewhere).
    pub(super) elsewhere: f64,
    pub(super) declined: Vec<String>,
    pub(super) traits_left_out: Vec<EvidenceNote>,
    /// Whether a tray is of the pot's age, as far as that is known.
    pub(super) is_of_age: bool,
}

impl<'u> Units<'u> {
    /// Looks for everything that the pot may be, and weighs it.
    pub(super) fn of(bench: Bench<'u>) -> Self {
        let (context, known) = (bench.context, bench.known);
        let mut units = Self {
            bench,
            list: Vec::new(),
            elsewhere: 0.0,
            declined: Vec::new(),
            traits_left_out: Vec::new(),
            is_of_age: known.age.is_none(),
        };
        let facts = context.index.facts;
        let since = known.day.back(SEASON_DAYS);
        let in_season = |row: &&BatchRow| row.day >= since && row.day <= known.day;
        let trays: Vec<&BatchRow> = facts.batch.iter().filter(in_season).collect();
        let stands = in_two_threads(&trays, |row| bench.stand_of_tray(row, &known.traits));
        for (row, stand) in trays.iter().zip(stands) {
            match stand {
                Some(stand) => {
                    let notes = notes_of(&stand.model.evidence);
                    units.traits_left_out.extend(notes);
                    units.add_tray(row, &stand);
                }
                None => units
                    .declined
                    .extend(facts.code_of(Thing::Batch, row.id).map(str::to_owned)),
            }
        }
        units.add_boxes();
        units.settle();
        units
    }

    /// The seedlings of a tray that stand without account: of each look, and those that nobody read.
    fn add_tray(&mut self, row: &BatchRow, stand: &Stand) {
        let evidence = &stand.model.evidence;
        for (at, member) in evidence.members.iter().enumerate() {
            let accounted = member.plant.is_some() && member.newest().day >= self.bench.known.day;
            if member.living == 0 || accounted {
                continue;
            }
            let (ln, p_off) = self.bench.weigh_member(stand, at, member);
            let known = self.bench.known;
            self.is_of_age |= known.may_be_of_age(&member.emergence, stand.guessed);
            let what = What::Seedling {
                tray: row.id,
                plant: member.plant,
                member: at,
            };
            self.add(row, stand, what, member.living, (ln, p_off));
        }
        let unread = if evidence.up.is_none() && evidence.members.is_empty() {
            self.sown_and_standing(row)
        } else {
            evidence.unscored
        };
        if unread > 0 {
            let weighed = self.bench.weigh_extra(stand);
            let known = self.bench.known;
            self.is_of_age |= known.may_be_of_age(&stand.emergence, stand.guessed);
            self.add(row, stand, What::Unread(row.id), unread, weighed);
        }
    }

    /// Seeds of a tray that nobody counted, less those gone.
    fn sown_and_standing(&self, row: &BatchRow) -> i64 {
        let fates = self.bench.context.index.fates_of(row.id).iter();
        let gone: i64 = fates
            .filter(|fate| fate.kind.is_gone())
            .map(|fate| fate.count)
            .sum();
        (row.seeds - gone).max(0)
    }

    fn add(
        &mut self,
        row: &BatchRow,
        stand: &Stand,
        what: What,
        count: i64,
        (ln, p_off): (f64, f64),
    ) {
        let beliefs = self.bench.context.beliefs;
        let place = place_chance(
            &self.bench.known.place,
            &row.place,
            self.places(),
            beliefs.lost_moved,
        );
        let age = |(up, p): &(Day, f64)| p * self.bench.known.day.since(*up).max(0) as f64;
        self.list.push(Unit {
            stock: stock_of(row),
            what,
            count,
            weight: count as f64 * place,
            ln,
            p_off,
            age: Some(stand.emergence.iter().map(age).sum()),
            guessed: stand.guessed,
            before: 0.0,
            p: 0.0,
        });
    }

    /// How many places there are, the pot's own among them.
    fn places(&self) -> usize {
        let named = self.bench.context.index.facts.batch.iter();
        let mut places: BTreeSet<String> = named.map(|row| fold(row.place.trim())).collect();
        places.insert(fold(self.bench.known.place.trim()));
        places.remove("");
        places.len()
    }

    /// Crosses and packets with seed in the box, and crosses of which nobody recorded any.
    fn add_boxes(&mut self) {
        let facts = self.bench.context.index.facts;
        let crosses = facts.cross.iter().map(|row| Stock::Cross(row.id));
        let packets: BTreeSet<i64> = facts.lot.iter().filter_map(|lot| lot.plant_id).collect();
        let packets = packets.into_iter().map(Stock::Packet);
        let stocks: Vec<Stock> = crosses.chain(packets).collect();
        for stock in stocks {
            let seeds = self.seeds(stock);
            let count = seeds.unwrap_or(UNCOUNTED);
            let beliefs = self.bench.context.beliefs;
            let weight = count as f64 * beliefs.lost_unrecorded;
            if weight <= 0.0 {
                continue;
            }
            let Some(stand) = self.bench.stand_of_seed(stock, &self.bench.known.traits) else {
                continue;
            };
            let place = place_chance(
                &self.bench.known.place,
                "",
                self.places(),
                beliefs.lost_moved,
            );
            let (ln, p_off) = self.bench.weigh_extra(&stand);
            self.list.push(Unit {
                stock,
                what: What::Seeds(seeds),
                count,
                weight: weight * place,
                ln,
                p_off,
                age: None,
                guessed: false,
                before: 0.0,
                p: 0.0,
            });
        }
    }

    /// Seeds left of a cross or packet; nothing where nobody counted.
    fn seeds(&self, stock: Stock) -> Option<i64> {
        let facts = self.bench.context.index.facts;
        let lots = self.bench.lots(stock);
        let left: Option<Vec<i64>> = lots.iter().map(|lot| seeds_left(facts, lot.id)).collect();
        left.filter(|left| !left.is_empty())
            .map(|left| left.iter().map(|seeds| (*seeds).max(0)).sum())
    }

    /// The days on which a seedling from elsewhere may have come up: any of the year, or of as many as it is old, alike.
    fn stranger_days(&self) -> Emergence {
        let known = self.bench.known;
        let oldest = known
            .age
            .map_or(0.0, |age| age.days + REACH * age.deviation);
        let days = (oldest.ceil() as i64).max(SEASON_DAYS);
        let p = 1.0 / (days + 1) as f64;
        (0..=days)
            .rev()
            .map(|ago| (known.day.back(ago), p))
            .collect()
    }

    /// Log of P(age, looks) of a seedling from elsewhere: any genotype at the allele shares, of any age.
    fn ln_elsewhere(&self) -> f64 {
        let stocks = self.list.iter().map(|unit| unit.stock);
        let stand = stocks.into_iter().find_map(|stock| {
            self.bench
                .stand_of_seed(stock, &self.bench.known.traits)
                .or_else(|| self.any_tray(stock))
        });
        let Some(stand) = stand else {
            return f64::NEG_INFINITY;
        };
        let (days, ln_age) = self.bench.known.dated(&self.stranger_days(), false);
        let scale = stand.model.scale(self.bench.context);
        let weighed = ln_age
            .is_finite()
            .then(|| scale.weigh_in_full(&self.bench.known.readings, &days))
            .flatten();
        let Some((likelihood, ln_scale)) = weighed else {
            return f64::NEG_INFINITY;
        };
        let paces: Vec<f64> = stand
            .model
            .paces
            .ln_weights
            .iter()
            .map(|ln| ln.exp())
            .collect();
        let seed = stand.model.unknown_seed();
        let by_profile = likelihood.values.chunks(paces.len());
        let p: f64 = seed
            .iter()
            .zip(by_profile)
            .map(|(p, row)| p * dot(&paces, row))
            .sum();
        p.ln() + ln_scale + ln_age
    }

    fn any_tray(&self, stock: Stock) -> Option<Stand> {
        let facts = self.bench.context.index.facts;
        let row = facts.batch.iter().find(|row| stock_of(row) == stock)?;
        self.bench.stand_of_tray(row, &self.bench.known.traits)
    }

    /// Makes probabilities of the weights.
    fn settle(&mut self) {
        let beliefs = self.bench.context.beliefs;
        let place = place_chance(
            &self.bench.known.place,
            "",
            self.places(),
            beliefs.lost_moved,
        );
        let stranger = beliefs.lost_stranger * place;
        let ln_stranger = if stranger > 0.0 {
            self.ln_elsewhere()
        } else {
            f64::NEG_INFINITY
        };
        let before: f64 = self.list.iter().map(|unit| unit.weight).sum::<f64>() + stranger;
        let most = self
            .list
            .iter()
            .map(|unit| unit.ln)
            .fold(ln_stranger, f64::max);
        let chance = |weight: f64, ln: f64| {
            if most.is_finite() {
                weight * (ln - most).exp()
            } else {
                0.0
            }
        };
        let stray = chance(stranger, ln_stranger);
        let total: f64 = stray
            + self
                .list
                .iter()
                .map(|unit| chance(unit.weight, unit.ln))
                .sum::<f64>();
        for unit in &mut self.list {
            unit.before = share(unit.weight, before);
            unit.p = share(chance(unit.weight, unit.ln), total);
        }
        self.elsewhere = share(stray, total);
    }

    /// The likeliest unit of a cross.
    pub(super) fn best_of(&self, context: &Context<'_>, code: &str) -> Option<&Unit> {
        let own = self
            .list
            .iter()
            .filter(|unit| context.sources.name_stock(unit.stock).code.as_ref() == code);
        own.max_by(|one, other| one.p.total_cmp(&other.p))
    }
}
