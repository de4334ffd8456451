//! Traits that both ledgers have: one trait where it means the same, two where it does not.
//!
//! A trait means the same where organ, stage, classes and the rules of the gene model in use are the same, and
//! no rival model of one name has other rules. How often it is misread, when late classes show and whether it
//! is offered stay as they are here.

use super::{Meeting, differ};
use crate::records::code::fold;
use crate::records::facts::Facts;
use crate::records::genes::{classes_of, models_of};
use crate::records::rows::{OnsetRow, Table, Thing, TraitModelRow, TraitRow, TraitRuleRow};

/// Finds the traits that both have.
pub(super) fn meet(ours: &Facts, theirs: &Facts, meeting: &mut Meeting) {
    for row in &theirs.trait_ {
        let Some(code) = theirs.code_of(Thing::Trait, row.id) else {
            continue;
        };
        let named = ours
            .code_named(code)
            .filter(|code| code.thing == Thing::Trait);
        let Some(own) = named.and_then(|code| ours.trait_.get(code.thing_id)) else {
            continue;
        };
        let (here, there) = (
            Side {
                facts: ours,
                row: own,
            },
            Side { facts: theirs, row },
        );
        if here.means(&there) {
            here.take(&there, meeting);
            here.compare(&there, code, meeting);
        }
    }
}

/// A trait in its ledger.
struct Side<'f> {
    facts: &'f Facts,
    row: &'f TraitRow,
}

/// A gene model by what it says: pattern and class of each rule.
type Rules = Vec<(String, String)>;

impl Side<'_> {
    fn means(&self, other: &Side) -> bool {
        let of = |side: &Side| (fold(&side.row.organ), fold(&side.row.stage), side.classes());
        of(self) == of(other) && self.in_use() == other.in_use() && self.names_agree(other)
    }

    fn classes(&self) -> Vec<(String, Option<String>)> {
        let classes = classes_of(self.facts, self.row.id);
        let words = classes.iter().map(|class| {
            let after = class.after_class.as_deref().map(fold);
            (fold(&class.name), after)
        });
        words.collect()
    }

    fn in_use(&self) -> Option<Rules> {
        let models = models_of(self.facts, self.row.id);
        let used = models.into_iter().find(|model| model.in_use)?;
        Some(self.rules(used))
    }

    fn rule_rows(&self, model: &TraitModelRow) -> Vec<&TraitRuleRow> {
        let rules = self.facts.trait_rule.iter();
        let mut rules: Vec<_> = rules.filter(|rule| rule.model_id == model.id).collect();
        rules.sort_by_key(|rule| rule.ord);
        rules
    }

    fn rules(&self, model: &TraitModelRow) -> Rules {
        let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
        let rules = self.rule_rows(model).into_iter();
        rules
            .map(|rule| (words(&rule.pattern), fold(&rule.class)))
            .collect()
    }

    /// Whether models of one name have the same rules.
    fn names_agree(&self, other: &Side) -> bool {
        models_of(other.facts, other.row.id).iter().all(|model| {
            let named = models_of(self.facts, self.row.id);
            let named = named
                .into_iter()
                .find(|own| fold(&own.name) == fold(&model.name));
            named.is_none_or(|own| self.rules(own) == other.rules(model))
        })
    }

    /// Takes the other's rows as one's own; a rival model known only there comes along.
    fn take(&self, other: &Side, meeting: &mut Meeting) {
        meeting.take(Table::Trait, other.row.id, self.row.id);
        let classes = classes_of(self.facts, self.row.id);
        for (own, class) in classes.iter().zip(classes_of(other.facts, other.row.id)) {
            meeting.take(Table::TraitClass, class.id, own.id);
        }
        if let (Some(own), Some(onset)) = (self.onset(), other.onset()) {
            meeting.take(Table::Onset, onset.id, own.id);
        }
        let here = models_of(self.facts, self.row.id);
        for model in models_of(other.facts, other.row.id) {
            let rules = other.rules(model);
            let named = here.iter().find(|own| fold(&own.name) == fold(&model.name));
            let own = named.or_else(|| here.iter().find(|own| self.rules(own) == rules));
            let Some(own) = own else {
                let gain = format!("trait {}: rival model {}", other.code(), model.name);
                meeting.outlook.gains.push(gain);
                continue;
            };
            meeting.take(Table::TraitModel, model.id, own.id);
            for (own, rule) in self.rule_rows(own).iter().zip(other.rule_rows(model)) {
                meeting.take(Table::TraitRule, rule.id, own.id);
            }
        }
    }

    fn code(&self) -> &str {
        let code = self.facts.code_of(Thing::Trait, self.row.id);
        code.unwrap_or_default()
    }

    fn onset(&self) -> Option<&OnsetRow> {
        let mut rows = self.facts.onset.iter();
        rows.find(|row| row.trait_id == self.row.id)
    }

    /// What differs without another meaning.
    fn compare(&self, other: &Side, code: &str, meeting: &mut Meeting) {
        let differing = &mut meeting.outlook.differing;
        let offered = |row: &TraitRow| if row.switched_on { "on" } else { "off" }.to_owned();
        differ(differing, code, offered(self.row), offered(other.row));
        let misread = |side: &Side| side.row.misread.clone();
        differ(
            differing,
            format!("misreading of {code}"),
            misread(self),
            misread(other),
        );
        let theirs = classes_of(other.facts, other.row.id);
        for (own, class) in classes_of(self.facts, self.row.id).iter().zip(theirs) {
            let word = |misread: &Option<String>| {
                misread
                    .clone()
                    .unwrap_or_else(|| "that of the trait".to_owned())
            };
            let what = format!("misreading of {code}:{}", own.name);
            differ(differing, what, word(&own.misread), word(&class.misread));
        }
        let onset = |side: &Side| {
            side.onset().map_or_else(String::new, |row| {
                let numbers = [&row.median_days, &row.spread, &row.ceiling];
                numbers.map(String::as_str).join(", ")
            })
        };
        let what = format!("onset of {code} (median days, spread, ceiling)");
        differ(differing, what, onset(self), onset(other));
    }
}
