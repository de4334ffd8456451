//! What none of so many flowers proves, in words: the weather, bad luck, the mother, the other way.

use super::numbers::{percent, several};
use super::set_rate_zero::{OwnLine, Pods, RatesLine, SameDaysLine, ZeroLine};
use super::text::listed;
use crate::genetics::species::Crossability;
use crate::growing::no_set::Advice;
use crate::growing::same_days::Weather;

/// What is asked before a cross is called a failure.
pub(super) const WEATHER_FIRST: &str = "Where none set, first the weather: were nights above 30 °C, or days of \
    24 °C with nights of 12 °C or colder (AVRDC 06-667; Mercado 1997)? Then it says nothing of the cross.";

fn flowers_word(n: u64) -> String {
    several(n, "flower", "flowers")
}

fn more_word(n: u64) -> String {
    several(n, "more flower", "more flowers")
}

/// `5 of 7`, `none of 3`.
fn pods_of(pods: u64, flowers: u64) -> String {
    match pods {
        0 => format!("none of {flowers}"),
        _ => format!("{pods} of {flowers}"),
    }
}

/// Pods to be expected: `4.6 to 5.9`, `17 to 22`.
fn expected([low, high]: [f64; 2]) -> String {
    let word = |pods: f64| match pods < 9.95 {
        true => format!("{pods:.1}"),
        false => format!("{pods:.0}"),
    };
    let (low, high) = (word(low), word(high));
    match low == high {
        true => low,
        false => format!("{low} to {high}"),
    }
}

impl ZeroLine {
    pub(super) fn words(&self) -> Vec<String> {
        let mut lines = vec![self.headline()];
        lines.extend(self.weather());
        lines.extend(self.reckoning());
        lines.extend(self.mother());
        lines.extend(self.other_way());
        lines
    }

    /// What happened and what to do.
    pub(super) fn headline(&self) -> String {
        let flowers = flowers_word(self.flowers);
        format!("{}: none of {flowers} set. {}", self.pair, self.do_next())
    }

    fn is_self(&self) -> bool {
        self.back == self.pair
    }

    /// What to do, in one sentence.
    fn do_next(&self) -> String {
        match (self.to_do, self.more_flowers) {
            (Advice::NotExpected, _) => "Seed of such a pair is not expected.".to_owned(),
            (Advice::NoRate, _) => "What that proves cannot be reckoned.".to_owned(),
            (_, None) if self.weather == Weather::Bad => {
                "That is more than bad luck, but other pairs set far too little within a week as well: not before the \
                 weather is ruled out is it the cross's."
                    .to_owned()
            }
            (_, Some(_)) if self.weather == Weather::Bad => {
                "That proves nothing, for other pairs set far too little within a week as well: first rule out the \
                 weather."
                    .to_owned()
            }
            (_, None) => format!(
                "That is more than bad luck, if the weather was right{}.",
                self.beyond_luck()
            ),
            (_, Some(more)) => self.within_luck(more),
        }
    }

    /// What to do where none is more than bad luck.
    fn beyond_luck(&self) -> String {
        match self.to_do {
            Advice::OtherWay => format!(": {}", self.turn_round()),
            _ if self.is_self() => ": stop, and look to the plant and its pollen".to_owned(),
            _ => ", and the other way failed too: stop, or take other parents".to_owned(),
        }
    }

    /// What to do where more flowers would be wanted to prove anything.
    fn within_luck(&self, more: u64) -> String {
        let more = more_word(more);
        match self.to_do {
            Advice::OtherWay if self.other_way.pods > 0 => {
                format!(
                    "That proves nothing yet, which would take {more}: {}.",
                    self.turn_round()
                )
            }
            Advice::OtherWay => format!(
                "That proves nothing, and it would take {more}, beyond any bench, to prove something: {}.",
                self.turn_round()
            ),
            Advice::Stop if self.is_self() => format!(
                "That proves nothing, and it would take {more}, beyond any bench, to prove something: stop, and look to \
                 the plant and its pollen."
            ),
            Advice::Stop => format!(
                "That proves nothing, and it would take {more}, beyond any bench, to prove something; nor is the other \
                 way any better: stop, or take other parents."
            ),
            _ if self.is_self() || self.other_way.flowers > 0 => {
                format!("That proves nothing yet: go on, with up to {more}.")
            }
            _ => format!(
                "That proves nothing yet: {}, or go on, with up to {more}.",
                self.turn_round()
            ),
        }
    }

    /// To take the other way, or to wait for it.
    fn turn_round(&self) -> String {
        let (back, way) = (&self.back, self.way);
        if way.part.k > 0 {
            return format!(
                "go on with {back}, which set {}",
                pods_of(way.part.k, way.part.n)
            );
        }
        match way.open {
            0 if way.is_uncounted => format!("see what became of {back}"),
            0 if way.is_untried() => format!("try {back}, the other way"),
            0 => format!("go on with {back}, the other way"),
            open => format!("see what became of the {} of {back}", flowers_word(open)),
        }
    }

    /// What other flowers of those days did.
    fn weather(&self) -> Option<String> {
        if !self.dated {
            return None;
        }
        let SameDaysLine {
            pods,
            flowers,
            not_weighed,
            ..
        } = self.same_weather;
        Some(match (flowers, not_weighed) {
            (0, Pods { flowers: 0, .. }) => {
                "No other flower within a week of it is recorded to compare with.".to_owned()
            }
            (0, Pods { pods, flowers }) => format!(
                "Other pairs within a week set {}; how often such pairs set nobody knows, so that tells nothing sure of \
                 the weather.",
                pods_of(pods, flowers)
            ),
            (_, left_out) => {
                let verdict = match self.weather {
                    Weather::Bad => "that speaks for the weather",
                    Weather::Good => "the weather alone is not it",
                    Weather::Open => "too little to tell the weather by",
                };
                format!(
                    "Other pairs within a week set {}, where {} were to be expected: {verdict}.{}",
                    pods_of(pods, flowers),
                    expected(self.same_weather.expected),
                    not_weighed_words(left_out)
                )
            }
        })
    }

    fn reckoning(&self) -> Vec<String> {
        let Some(rates) = &self.rates else {
            return vec![self.no_rate()];
        };
        let own = rates.own.filter(|own| own.rate < rates.low);
        let own = own.map(|own| self.own_words(own));
        std::iter::once(self.at_rates(rates)).chain(own).collect()
    }

    /// Why there is no rate to reckon with.
    fn no_rate(&self) -> String {
        if self.kind.0 == Crossability::NotExpected {
            return format!(
                "{}: no viable F1, or by embryo culture only (IBPGR 1983); no rate of set is published.",
                self.species
            );
        }
        if !self.hybrids.is_empty() {
            return self.descent();
        }
        if self.species.contains("not recorded") || self.species.contains("unknown") {
            return format!(
                "The species of {} are not all recorded; 'locule amend ENTRY --species annuum' with the entry of \
                 'locule history' says them.",
                self.pair
            );
        }
        format!("Nobody has published how often {} sets.", self.species)
    }

    /// What none proves at the published rates.
    fn at_rates(&self, rates: &RatesLine) -> String {
        let (n, species, source) = (self.flowers, &self.species, rates.source);
        let [at_low, at_high] = rates.chance_of_none.map(percent);
        let [enough, few] = rates.enough_flowers;
        let (low, high) = (rates.low, rates.high);
        let mut text = if low < high {
            format!(
                "If {species} sets {} to {} of its flowers ({source}), none of {n} happens with (1 - {low})^{n} = {at_low} \
                 at the least and (1 - {high})^{n} = {at_high} at the best; under 5 % it is from {enough} flowers on, at \
                 best from {few}.",
                percent(low),
                percent(high),
            )
        } else {
            format!(
                "If {species} sets {} of its flowers ({source}), none of {n} happens with (1 - {low})^{n} = {at_low}; \
                 under 5 % it is from {enough} flowers on.",
                percent(low),
            )
        };
        if !rates.others.is_empty() {
            text.push_str(&format!(" Others found otherwise: {}.", rates.others));
        }
        text
    }

    /// What the grower's own flowers of such pairs make of it.
    fn own_words(&self, own: OwnLine) -> String {
        let which = match self.kind.0 {
            _ if self.is_self() => "selfs of",
            Crossability::SameSpecies => "crosses within",
            _ => "crosses of",
        };
        let left_out = match own.left_out {
            0 => String::new(),
            n => format!(" ({} of pairs that set nothing left out)", flowers_word(n)),
        };
        format!(
            "Your own other {which} {} set {} of {}{left_out}, which speaks for {}: then none of {} happens with {}, and \
             under 5 % it is from {} flowers on.",
            self.species,
            own.pods,
            own.flowers,
            percent(own.rate),
            self.flowers,
            percent(own.chance_of_none),
            own.enough_flowers
        )
    }

    /// That plants between species may be of low fertility themselves.
    fn descent(&self) -> String {
        let each: Vec<String> = self
            .hybrids
            .iter()
            .map(|one| {
                format!(
                    "{} descends from {}",
                    one.plant,
                    listed(&one.species, "and")
                )
            })
            .collect();
        format!(
            "{}: a plant between species is often of low fertility itself, whatever it is crossed with (IBPGR 1983), and \
             no rate of set is published. Look whether it sheds pollen, try many flowers, take a fertile plant as mother.",
            listed(&each, "and")
        )
    }

    fn mother(&self) -> Option<String> {
        let days = &self.same_mother;
        let pods = days.pods + days.not_weighed.pods;
        let flowers = days.flowers + days.not_weighed.flowers;
        let verdict = match (pods, days.weather) {
            (0, "bad") => "perhaps the plant sets nothing just now",
            (0, _) => "too little to judge the plant by",
            _ => "the plant itself can set",
        };
        (flowers > 0).then(|| {
            let set = pods_of(pods, flowers);
            format!("The same mother set {set} other flowers within a week: {verdict}.")
        })
    }

    fn other_way(&self) -> Option<String> {
        if self.is_self() {
            let pubescens = self.species == "pubescens";
            return Some(if pubescens {
                "Some pubescens are self-incompatible (Yaqub and Smith 1971): try two plants of it."
                    .to_owned()
            } else {
                "A self that sets nothing: is its pollen good? Try it on another plant.".to_owned()
            });
        }
        let (forth, back) = self.kind;
        let how = match () {
            () if back < forth && back != Crossability::Unknown => {
                " It is the easier way by species."
            }
            () if back > forth && back != Crossability::Unknown => {
                " It is the harder way by species."
            }
            () => "",
        };
        Some(format!(
            "The other way, {}, {}.{how}",
            self.back,
            self.other_way_so_far()
        ))
    }

    /// How the other way did so far.
    fn other_way_so_far(&self) -> String {
        let (set, open) = (self.way.part, self.way.open);
        let set_words = format!("set {}", pods_of(set.k, set.n));
        match (set.n, open) {
            (0, 0) if self.way.is_uncounted => {
                "is pollinated, and nobody has said what came of it".to_owned()
            }
            (0, 0) => "is not tried yet".to_owned(),
            (_, 0) => set_words,
            (0, open) => format!(
                "has {} pollinated, and nobody has said what became of them",
                flowers_word(open)
            ),
            (_, open) => format!("{set_words}; of {} nobody has said", more_word(open)),
        }
    }
}

/// That some flowers are not weighed.
fn not_weighed_words(left_out: Pods) -> String {
    match left_out.flowers {
        0 => String::new(),
        n => format!(
            " {} are not weighed, for nobody knows how often such pairs set.",
            more_word(n)
        ),
    }
}
