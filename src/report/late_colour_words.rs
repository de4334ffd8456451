//! When late colours show, in words and tables for a grower.

use super::late_colour::{
    DifferenceLine, DoubtedLine, FittedOnset, LateColourAnswer, LateTrait, OnsetNumbers, Telling,
    TrayLine,
};
use super::numbers::{p_value, percent, several};
use super::table::Table;
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};
use crate::diagnosis::late_colour_batches::WhyNot;
use crate::stats::tails::normal_quantile;

/// What a control pot is.
const CONTROL_POT: &str = "A control pot is selfed seed of a plant that must show the late colour, sown beside the \
    trays it speaks for: 'locule packet NL --seeds 12', then 'locule sow NL --seeds 12 --place tent'. Count what comes \
    up every day or two, and score it a few times while it turns. It settles two things: how fast the colour comes \
    with you, and whether a tray that stays green stands too dark (then the pot stays green too).";

impl LateColourAnswer {
    fn fit_words(&self, one: &LateTrait, page: Page) -> Vec<String> {
        let mut parts = vec![wrapped(&one.headline(), page.width, "")];
        if let Some(fit) = &one.fit {
            parts.push(one.numbers(fit, page));
            parts.push(wrapped(&one.meaning(fit), page.width, ""));
            let doubted = one.doubted_words();
            parts.extend(doubted.map(|text| wrapped(&text, page.width, "")));
            if one.ceiling_wanted && fit.ceiling.is_none() {
                let text = "These trays cannot tell the share that ever turns: that takes old seedlings, some of \
                    which stayed as they were. It was held.";
                parts.push(wrapped(text, page.width, ""));
            }
        }
        if !one.parts.is_empty() {
            parts.push(one.parts_table(page));
            let difference = one.difference.map(DifferenceLine::words);
            parts.extend(difference.map(|text| wrapped(&text, page.width, "")));
        }
        if !one.trays.is_empty() {
            parts.push(one.tray_table(page));
        }
        parts.extend(one.odd_readings(page));
        if let Some(text) = one.more_words() {
            parts.push(wrapped(&text, page.width, ""));
        }
        if one.fit.is_some() && self.stored.is_none() && one.doubted_parents.is_empty() {
            let text = format!(
                "Nothing was recorded. To take it into use: locule late-colour fit --trait {} --store",
                one.of
            );
            parts.push(wrapped(&text, page.width, "  "));
        }
        parts
    }

    fn in_use_words(&self, one: &LateTrait, page: Page) -> String {
        let mut text = format!("{}: {}.", one.of, one.in_use.words(&one.late));
        text.push_str(&match (&one.fit, one.used().count()) {
            _ if !one.switched_on => " The trait is switched off.".to_owned(),
            (Some(fit), trays) => {
                let median = fit.median_days.map_or(one.in_use.median_days, |m| m.value);
                let sure = match (fit.settled, one.doubted_parents.first()) {
                    (_, Some(doubted)) => {
                        format!("or {}; locule late-colour fit says more", doubted.words())
                    }
                    (true, None) => "locule late-colour fit shows it".to_owned(),
                    (false, None) => {
                        "still unsure; locule late-colour fit shows what it takes".to_owned()
                    }
                };
                format!(
                    " Your own {} would say {median:.1} days ({sure}).",
                    trays_word(trays)
                )
            }
            (None, _) => format!(" Too little to learn from: {}", one.too_little()),
        });
        wrapped(&text, page.width, "  ")
    }
}

fn trays_word(trays: usize) -> String {
    several(trays as u64, "tray", "trays")
}

fn days(days: f64) -> String {
    let text = short(days);
    let unit = if text == "1" { "day" } else { "days" };
    format!("{text} {unit}")
}

/// Up to three digits that matter.
fn short(value: f64) -> String {
    let rounded = format!("{value:.2e}").parse::<f64>().unwrap_or(value);
    rounded.to_string()
}

impl OnsetNumbers {
    fn words(&self, late: &[String]) -> String {
        format!(
            "half of the {} seedlings show it by {} after coming up, spread of the log {}, {} ever",
            listed(
                &late.iter().map(|class| shown(class)).collect::<Vec<_>>(),
                "or"
            ),
            days(self.median_days),
            self.spread,
            share_ever(self.ceiling)
        )
    }

    /// The age by which a share of those that ever turn have turned.
    fn age(&self, share: f64) -> f64 {
        (self.median_days.ln() + self.spread * normal_quantile(share)).exp()
    }
}

fn share_ever(ceiling: f64) -> String {
    format!("{} %", short(100.0 * ceiling)).replace("100 %", "all of them")
}

impl DifferenceLine {
    fn words(self) -> String {
        let p = p_value(self.p);
        if self.p < 0.05 {
            format!(
                "They differ by more than chance (p = {p}); one onset for all is then a compromise, \
                 and it is still the one that is stored."
            )
        } else {
            format!("They do not differ by more than chance can (p = {p}).")
        }
    }
}

impl DoubtedLine {
    /// `NL may not be A/A (1.3 %)`
    fn words(&self) -> String {
        let taken = match &self.stated {
            Some(stated) => stated.clone(),
            None => "what its label says".to_owned(),
        };
        let plant = shown(&self.plant);
        format!(
            "{plant} may not be {taken} ({} that it is)",
            percent(self.p_as_stated)
        )
    }
}

impl LateTrait {
    fn used(&self) -> impl Iterator<Item = &TrayLine> {
        self.trays.iter().filter(|line| line.used)
    }

    fn class(&self) -> String {
        listed(
            &self
                .late
                .iter()
                .map(|class| shown(class))
                .collect::<Vec<_>>(),
            "or",
        )
    }

    fn headline(&self) -> String {
        let trays = self.used().count();
        let seedlings: i64 = self.used().map(|line| line.seedlings).sum();
        let on = format!(
            "{} with {}",
            trays_word(trays),
            several(seedlings.unsigned_abs(), "seedling", "seedlings")
        );
        let of = format!("{} ({})", self.of, self.class());
        match &self.fit {
            Some(fit) => {
                let median = fit.median_days.map_or(self.in_use.median_days, |m| m.value);
                let sure = if fit.settled {
                    ""
                } else {
                    " That is still unsure."
                };
                format!(
                    "{of}: in your own trays half have turned by day {median:.1} after coming up; in use is day {}. \
                     It rests on {on}.{sure}",
                    short(self.in_use.median_days)
                )
            }
            None => format!("{of}: too little to learn from: {}", self.too_little()),
        }
    }

    /// Why there is no fit.
    fn too_little(&self) -> String {
        let class = self.class();
        let (mut seedlings, mut turned, mut trays) = (0, 0, 0);
        for line in self.used() {
            trays += 1;
            seedlings += line.seedlings;
            turned += line.turned;
        }
        if !self.switched_on {
            return format!(
                "the trait is switched off, so its readings say nothing. 'locule trait on {}' counts them again.",
                self.of
            );
        }
        let told = match (self.trays.is_empty(), trays, turned) {
            (true, _, _) => "no tray was scored for it yet".to_owned(),
            (_, 0, _) => self.none_teaches(&class),
            (_, _, 0) => format!("no seedling of the trays that promise {class} has turned yet"),
            _ if turned == seedlings => format!(
                "every seedling that was read had turned; looks while some are still on their way tell when {class} comes"
            ),
            _ => format!(
                "{} with {seedlings} seedlings are too little",
                trays_word(trays)
            ),
        };
        format!("{told}. What is in use stays.")
    }

    /// That a parent of the trays may split, so that what looks late may never turn.
    fn doubted_words(&self) -> Option<String> {
        let first = self.doubted_parents.first()?;
        let doubts: Vec<String> = self
            .doubted_parents
            .iter()
            .map(DoubtedLine::words)
            .collect();
        let mut trays: Vec<&String> = Vec::new();
        for tray in self.doubted_parents.iter().flat_map(|one| &one.trays) {
            if !trays.contains(&tray) {
                trays.push(tray);
            }
        }
        let these = match trays.as_slice() {
            [only] => format!("its seedlings in {}", shown(only)),
            [first, .., last] => format!(
                "seedlings of {} trays ({} to {})",
                trays.len(),
                shown(first),
                shown(last)
            ),
            [] => "its seedlings".to_owned(),
        };
        Some(format!(
            "Beware: {}, by everything recorded. Then {these} that have not turned never will, and this fit takes \
             them for late ones. Look at them again when they are much older, or testcross {}; 'locule genotype {}' \
             says what speaks against it.",
            listed(&doubts, "and"),
            shown(&first.plant),
            shown(&first.plant)
        ))
    }

    /// Why no tray can be used.
    fn none_teaches(&self, class: &str) -> String {
        let is_any = |why: WhyNot| self.trays.iter().any(|line| line.why == Some(why));
        let trays = format!("of the trays that promise {class} of every seedling");
        match (is_any(WhyNot::Unexplained), is_any(WhyNot::TooLarge)) {
            (true, false) => format!("nothing explains the readings {trays}"),
            (false, true) => format!("too many loci at once were read {trays}"),
            (true, true) => format!(
                "nothing explains the readings {trays}, or too many loci at once were read of them"
            ),
            (false, false) => format!(
                "no tray can teach it: none promises {class} of every seedling, with its coming up counted"
            ),
        }
    }

    fn numbers(&self, fit: &FittedOnset, page: Page) -> String {
        let mut table = Table::new(&[
            "",
            ">in use",
            ">fitted",
            ">standard error",
            ">95 % interval",
        ]);
        let rows = [
            ("median, days", self.in_use.median_days, fit.median_days),
            ("spread of the log", self.in_use.spread, fit.spread),
            ("share that ever turns", self.in_use.ceiling, fit.ceiling),
        ];
        for (name, in_use, fitted) in rows {
            let cells = match fitted {
                Some(fitted) => [
                    short(fitted.value),
                    short(fitted.se),
                    format!("{} to {}", short(fitted.low), short(fitted.high)),
                ],
                None => ["held".to_owned(), String::new(), String::new()],
            };
            let [fitted, se, interval] = cells;
            table.row([name.to_owned(), in_use.to_string(), fitted, se, interval]);
        }
        table.text(page)
    }

    /// What the numbers mean at the bench.
    fn meaning(&self, fit: &FittedOnset) -> String {
        let fitted = OnsetNumbers {
            median_days: fit.median_days.map_or(self.in_use.median_days, |m| m.value),
            spread: fit.spread.map_or(self.in_use.spread, |s| s.value),
            ceiling: fit.ceiling.map_or(self.in_use.ceiling, |c| c.value),
        };
        let day = |numbers: &OnsetNumbers| numbers.age(0.95).ceil();
        format!(
            "By these figures 19 in 20 true {} seedlings have turned by day {:.0}; by those in use by day {:.0}.",
            self.class(),
            day(&fitted),
            day(&self.in_use)
        )
    }

    fn parts_table(&self, page: Page) -> String {
        let mut table = Table::new(&[
            "where",
            ">trays",
            ">seedlings",
            ">median, days",
            ">95 % interval",
            ">spread",
        ]);
        for part in &self.parts {
            let name = if part.name.is_empty() {
                "not said".to_owned()
            } else {
                part.name.clone()
            };
            let median = part.fit.and_then(|fit| fit.median_days);
            let spread = part.fit.and_then(|fit| fit.spread);
            table.row([
                name,
                part.trays.to_string(),
                part.seedlings.to_string(),
                median.map_or_else(|| "too little".to_owned(), |m| short(m.value)),
                median.map_or_else(String::new, |m| {
                    format!("{} to {}", short(m.low), short(m.high))
                }),
                spread.map_or_else(String::new, |s| short(s.value)),
            ]);
        }
        table.text(page)
    }

    fn tray_table(&self, page: Page) -> String {
        let mut table = Table::new(&["tray", "of", ">read", ">turned", "used"]);
        for line in &self.trays {
            let used = match line.why {
                None if line.control_pot => "yes, a control pot".to_owned(),
                None => "yes".to_owned(),
                Some(WhyNot::NotPromised) => format!(
                    "no: its label promises {} of {} only",
                    self.class(),
                    percent(line.promise)
                ),
                Some(WhyNot::Uncounted) => format!(
                    "no: nobody counted what came up (locule up {} N --on DATE; or --uncounted)",
                    line.tray
                ),
                Some(WhyNot::Unexplained) => "no: nothing explains its readings".to_owned(),
                Some(WhyNot::TooLarge) => "no: it reads too many loci at once".to_owned(),
            };
            table.row([
                line.tray.clone(),
                line.cross.clone(),
                line.seedlings.to_string(),
                line.turned.to_string(),
                used,
            ]);
        }
        table.text(page)
    }

    /// Readings that cannot all be right, and traits that are left out, tray by tray.
    fn odd_readings(&self, page: Page) -> Option<String> {
        let trays = self.trays.iter();
        let said = trays.flat_map(|line| line.odd_readings.iter().chain(&line.traits_left_out));
        let lines: Vec<String> = said.map(|text| wrapped(text, page.width, "  ")).collect();
        (!lines.is_empty()).then(|| lines.join("\n"))
    }

    fn more_words(&self) -> Option<String> {
        let more = self.more.as_ref().filter(|_| self.switched_on)?;
        let ages: Vec<String> = more.ages.iter().map(ToString::to_string).collect();
        let (pots, further) = (
            several(more.pots, "control pot", "control pots"),
            if self.fit.is_some() { " more" } else { "" },
        );
        let pots = pots.replacen(' ', &format!("{further} "), 1);
        Some(format!(
            "What it takes: about {pots} of {} seedlings, looked at {} days after coming up. Then the median is \
             known within 15 % and the spread within 30 %.",
            more.seedlings,
            listed(&ages, "and")
        ))
    }
}

impl Answer for LateColourAnswer {
    fn words(&self, page: Page) -> String {
        let mut parts: Vec<String> = Vec::new();
        parts.extend(self.stored.as_ref().map(|stored| stored.words(page)));
        for one in &self.traits {
            match self.telling {
                Telling::InUse => parts.push(self.in_use_words(one, page)),
                Telling::Fit => parts.extend(self.fit_words(one, page)),
            }
        }
        if self.traits.is_empty() {
            let none = "No trait that is offered for scoring has a class that shows late.";
            parts.push(wrapped(none, page.width, ""));
        } else if self.telling == Telling::InUse {
            parts.push(wrapped(CONTROL_POT, page.width, ""));
        }
        parts.join("\n\n")
    }
}
