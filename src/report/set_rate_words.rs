//! What none of so many flowers proves, in words: the weather, bad luck, the mother, the other way.

use super::numbers::{percent, several};
use super::set_rate::{Pods, ZeroLine};
use super::text::listed;
use crate::genetics::species::Crossability;

/// What is asked before a cross is called a failure.
pub(super) const WEATHER_FIRST: &str = "Where none set, first the weather: were nights above 30 °C, or days of \
    24 °C with nights of 12 °C or colder (AVRDC 06-667; Mercado 1997)? Then it says nothing of the cross.";

/// So many other flowers without a pod speak for the weather (design choice).
const TELLING: u64 = 3;

impl ZeroLine {
    pub(super) fn words(&self) -> Vec<String> {
        let flowers = several(self.flowers, "flower", "flowers");
        let mut lines = vec![format!(
            "{}: none of {flowers} set. {}",
            self.pair,
            self.do_next()
        )];
        lines.extend(self.weather());
        lines.extend(self.reckoning());
        lines.extend(self.mother());
        lines.extend(self.other_way());
        lines
    }

    /// What to do, in one sentence.
    fn do_next(&self) -> String {
        let beyond = "That is more than bad luck";
        let weather = self.same_weather;
        match (self.advice, self.more_flowers) {
            ("go-on", Some(more)) => format!(
                "That proves nothing yet: go on, with up to {}.",
                several(more, "more flower", "more flowers")
            ),
            ("other-way" | "stop", _) if weather.pods == 0 && weather.flowers >= TELLING => {
                format!(
                    "{beyond}, but nothing else set within a week either: not before the weather is ruled out is it the \
                 cross's."
                )
            }
            ("other-way", _) => format!("{beyond}, if the weather was right: try {}.", self.back),
            ("stop", _) if self.back == self.pair => {
                format!(
                    "{beyond}, if the weather was right: stop, and look to the plant and its pollen."
                )
            }
            ("stop", _) => format!(
                "{beyond}, if the weather was right, and the other way failed too: stop, or take other parents."
            ),
            ("not-expected", _) => "Seed of such a pair is not expected.".to_owned(),
            _ => "What that proves cannot be reckoned.".to_owned(),
        }
    }

    /// What other flowers of those days did.
    fn weather(&self) -> Option<String> {
        let Pods { pods, flowers } = self.same_weather;
        match (pods, flowers) {
            _ if !self.dated => None,
            (_, 0) => {
                Some("No other flower within a week of it is recorded to compare with.".to_owned())
            }
            (0, n) => Some(format!(
                "Of {} of other pairs within a week none set either: that speaks for the weather.",
                several(n, "flower", "flowers")
            )),
            (k, n) => Some(format!(
                "Other pairs within a week set {k} of {n}: the weather alone is not it."
            )),
        }
    }

    fn reckoning(&self) -> Vec<String> {
        let Some(rates) = &self.rates else {
            return vec![match self.kind.0 {
                Crossability::NotExpected => format!(
                    "{}: no viable F1, or by embryo culture only (IBPGR 1983); no rate of set is published.",
                    self.species
                ),
                _ if !self.hybrids.is_empty() => self.descent(),
                _ if self.species.contains("not recorded") || self.species.contains("unknown") => {
                    format!(
                        "The species of {} are not all recorded; 'locule amend ENTRY --species annuum' with the entry of \
                     'locule history' says them.",
                        self.pair
                    )
                }
                _ => format!("Nobody has published how often {} sets.", self.species),
            }];
        };
        let n = self.flowers;
        let [at_low, at_high] = rates.chance_of_none.map(percent);
        let [enough, few] = rates.enough_flowers;
        let mut text = if rates.low < rates.high {
            format!(
                "If {} sets {} to {} of its flowers ({}), none of {n} happens with (1 - {})^{n} = {at_low} at the least \
                 and (1 - {})^{n} = {at_high} at the best; under 5 % it is from {enough} flowers on, at best from {few}.",
                self.species,
                percent(rates.low),
                percent(rates.high),
                rates.source,
                rates.low,
                rates.high
            )
        } else {
            format!(
                "If {} sets {} of its flowers ({}), none of {n} happens with (1 - {})^{n} = {at_low}; under 5 % it is \
                 from {enough} flowers on.",
                self.species,
                percent(rates.low),
                rates.source,
                rates.low
            )
        };
        if !rates.others.is_empty() {
            text.push_str(&format!(" Others found otherwise: {}.", rates.others));
        }
        let own = rates.own.filter(|own| own.rate < rates.low).map(|own| {
            format!(
                "Your own flowers within a species set {} of {}, which speaks for {}: then none of {n} happens with {}, \
                 and under 5 % it is from {} flowers on.",
                own.pods,
                own.flowers,
                percent(own.rate),
                percent(own.chance_of_none),
                own.enough_flowers
            )
        });
        std::iter::once(text).chain(own).collect()
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
        let Pods { pods, flowers } = self.same_mother;
        (flowers > 0).then(|| {
            let verdict = if pods > 0 {
                "the plant itself can set"
            } else {
                "perhaps the plant sets nothing just now"
            };
            format!(
                "The same mother set {pods} of {flowers} other flowers within a week: {verdict}."
            )
        })
    }

    fn other_way(&self) -> Option<String> {
        if self.back == self.pair {
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
                " and is the easier way by species"
            }
            () if back > forth && back != Crossability::Unknown => ", the harder way by species",
            () => "",
        };
        let Pods { pods, flowers } = self.other_way;
        Some(if flowers == 0 {
            format!("The other way, {}, is not tried yet{how}.", self.back)
        } else {
            format!(
                "The other way, {}, set {pods} of {flowers}{how}.",
                self.back
            )
        })
    }
}
