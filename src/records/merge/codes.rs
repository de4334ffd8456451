//! The codes that come: what each becomes, which are taken here, which would be none.
//!
//! With a prefix every code that comes gets it, clash or not, so that a glance at a tag tells whose it is; a trait
//! that both have keeps its code.

use super::Meeting;
use super::outlook::{Clash, NewName, Unfit};
use crate::records::code::Code;
use crate::records::facts::Facts;
use crate::records::rows::{CodeRow, Table, Thing};

/// Finds what becomes of their codes.
pub(super) fn meet(ours: &Facts, theirs: &Facts, prefix: &str, meeting: &mut Meeting) {
    for code in &theirs.code {
        let held = ours.code_named(&code.typed);
        let trait_here = meeting.same.get(&(Table::Trait, code.thing_id)).copied();
        let is_one = |held: &&CodeRow| {
            (code.thing, held.thing) == (Thing::Trait, Thing::Trait)
                && trait_here == Some(held.thing_id)
        };
        if let Some(held) = held.filter(is_one) {
            meeting.take(Table::Code, code.id, held.id);
            continue;
        }
        let here = format!("{prefix}{}", code.typed);
        let outlook = &mut meeting.outlook;
        if let Err(why) = here.parse::<Code>() {
            outlook.unfit.push(Unfit {
                there: code.typed.clone(),
                why,
            });
        } else if let Some(held) = ours.code_named(&here) {
            outlook.clashes.push(Clash {
                code: here.clone(),
                there: code.thing,
                here: held.thing,
            });
        }
        outlook.names.push(NewName {
            thing: code.thing,
            there: code.typed.clone(),
            here,
        });
    }
}

/// A prefix of one letter and a dot under which all their codes could come.
pub(super) fn free_prefix(ours: &Facts, names: &[NewName]) -> Option<String> {
    let fits = |prefix: &String| {
        names.iter().all(|name| {
            let here = format!("{prefix}{}", name.there);
            here.parse::<Code>().is_ok() && ours.code_named(&here).is_none()
        })
    };
    ('B'..='Z').map(|letter| format!("{letter}.")).find(fits)
}
