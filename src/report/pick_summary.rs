//! What a pick comes to, over all its crosses, and what it rests on.
//!
//! Made from its answer alone; called by that.

use super::numbers::several;
use super::pick::{PickAnswer, PickCross, PickLine};
use super::text::listed;
use crate::records::day::Day;

/// What to do, how many crosses have a true one, and what is lost or left.
pub(super) fn summary(answer: &PickAnswer) -> Vec<String> {
    let mut said = vec![headline(answer)];
    let chosen = answer.crosses.iter();
    let chosen = chosen
        .filter(|cross| cross.lines().next().is_some())
        .count();
    if chosen > 1 {
        said.push(format!(
            "Of {chosen} crosses {:.2} have a true one on average.",
            answer.crosses_true
        ));
    }
    said.extend(who_goes_without(answer));
    said.extend(who_is_lost(answer));
    said.extend(what_is_left(answer));
    said
}

/// What to do tomorrow, in one sentence.
fn headline(answer: &PickAnswer) -> String {
    let sum = |of: fn(&PickCross) -> &Vec<PickLine>| -> i64 {
        let lines = answer.crosses.iter().flat_map(of);
        lines.map(|line| line.count).sum()
    };
    let kept = several(
        sum(|cross| &cross.keep).unsigned_abs(),
        "seedling",
        "seedlings",
    );
    let acts = [
        ("pull ", sum(|cross| &cross.pull), String::new()),
        (
            "keep ",
            sum(|cross| &cross.reserve),
            " in reserve".to_owned(),
        ),
        ("spare ", sum(|cross| &cross.spare), until(answer)),
        (
            "leave ",
            sum(|cross| &cross.settle),
            " until settled".to_owned(),
        ),
        (
            "score ",
            answer.crosses.iter().map(|cross| cross.unscored).sum(),
            " first".to_owned(),
        ),
    ];
    let some = acts.iter().filter(|(_, count, _)| *count > 0);
    let some = some.map(|(act, count, how)| format!("{act}{count}{how}"));
    let said: Vec<String> = std::iter::once(format!("Keep {kept}"))
        .chain(some)
        .collect();
    format!("{}.", said.join(", "))
}

/// Until when seedlings are spared: ` until 14 May`, ` (the first until 14 May)`.
fn until(answer: &PickAnswer) -> String {
    let spared = answer.crosses.iter().flat_map(|cross| &cross.spare);
    let mut days: Vec<Day> = spared.filter_map(|line| line.day).collect();
    days.sort_unstable();
    match (days.first(), days.last()) {
        (Some(first), Some(last)) if first == last => format!(" until {}", first.spoken()),
        (Some(first), _) => format!(" (the first until {})", first.spoken()),
        _ => String::new(),
    }
}

/// Crosses that get no place though they have seedlings for one, and what is lost with them.
fn who_goes_without(answer: &PickAnswer) -> Option<String> {
    let without = answer.crosses.iter().filter(|cross| cross.goes_without);
    let without: Vec<&PickCross> = without.collect();
    let names: Vec<&str> = without.iter().map(|cross| cross.cross.as_str()).collect();
    let likely = |n: i64| {
        several(
            n.unsigned_abs(),
            "likely true seedling",
            "likely true seedlings",
        )
    };
    let losing = without.iter().filter(|cross| cross.likely_lost > 0);
    let each: Vec<String> = losing
        .map(|cross| format!("{} of {}", likely(cross.likely_lost), cross.cross))
        .collect();
    let loss = match each.is_empty() {
        true => String::new(),
        false => format!(", so {} would be lost", listed(&each, "and")),
    };
    let enough = match answer.places_for_each {
        Some(all) => format!("--places {all} has one for every cross"),
        None => "raise --places".to_owned(),
    };
    let get = if names.len() == 1 { "gets" } else { "get" };
    (!names.is_empty()).then(|| {
        let names = listed(&names, "and");
        format!("{names} {get} no place{loss}: {enough}.")
    })
}

/// Crosses of which all that was scored is off-type.
fn who_is_lost(answer: &PickAnswer) -> Option<String> {
    let lost = |cross: &&PickCross| {
        let mut lines = cross.lines().peekable();
        lines.peek().is_some() && lines.all(|line| line.off_type)
    };
    let lost = answer.crosses.iter().filter(lost);
    let names: Vec<&str> = lost.map(|cross| cross.cross.as_str()).collect();
    (!names.is_empty() && answer.crosses.len() > 1).then(|| {
        let names = listed(&names, "and");
        format!("Of {names} nothing that was scored can be kept as labelled.")
    })
}

/// Places that nobody takes, and why.
fn what_is_left(answer: &PickAnswer) -> Vec<String> {
    let mut said = Vec::new();
    if let Some(left) = answer.places_left.filter(|left| *left > 0) {
        let left = several(left as u64, "place is", "places are");
        let asked = match answer.per_cross {
            1 => "the one asked for".to_owned(),
            n => format!("the {n} asked for"),
        };
        let or_less = match answer
            .crosses
            .iter()
            .all(|cross| cross.places == cross.wanted)
        {
            true => "",
            false => ", or all that it can have",
        };
        let more = match answer.crosses.iter().any(|cross| cross.more > 0) {
            true => format!("; --per-cross {} uses more", answer.per_cross + 1),
            false => String::new(),
        };
        said.push(format!(
            "{left} left: each cross has {asked}{or_less}{more}."
        ));
    }
    if answer.reserve_left > 0 {
        let left = several(
            answer.reserve_left as u64,
            "place in reserve is",
            "places in reserve are",
        );
        said.push(format!(
            "{left} left: no cross has another seedling to step in."
        ));
    }
    said
}

/// What stands under everything.
pub(super) fn foot(answer: &PickAnswer) -> Vec<String> {
    let rest = &answer.rests_on;
    let mut said = Vec::new();
    match (&rest.goals_declined, rest.goals) {
        (Some(why), _) => said.push(format!("Goals do not count here: {why}.")),
        (None, false) => {
            said.push("No goal is set ('locule goal add'), so none decides here.".to_owned());
        }
        (None, true) => {}
    }
    let counted = answer.crosses.iter().filter(|cross| cross.goals_left_out);
    let counted: Vec<&str> = counted.map(|cross| cross.cross.as_str()).collect();
    if !counted.is_empty() {
        said.push(format!(
            "Goals do not count in {}: seedlings that were only counted cannot be ranked.",
            listed(&counted, "and")
        ));
    }
    said.extend(how_shared(answer));
    if !rest.several_measures.is_empty() {
        said.push(format!(
            "Size does not count: {} were measured; --size {} takes one.",
            listed(&rest.several_measures, "and"),
            rest.several_measures[0]
        ));
    }
    if answer.crosses.iter().any(|cross| cross.wide && cross.sized) {
        said.push("Between species size does not count: a runt may be the true hybrid.".to_owned());
    }
    if answer.crosses.iter().any(|cross| cross.trays.len() > 1) {
        said.push(
            "Over several trays a chance is reckoned by what they share, their parents; 'at least' holds whatever else they share."
                .to_owned(),
        );
    }
    said
}

/// By what places were shared, where they lacked.
fn how_shared(answer: &PickAnswer) -> Vec<String> {
    let lacks = |cross: &PickCross| cross.places < cross.wanted && cross.more > 0;
    if answer.places.is_none() || answer.crosses.len() < 2 || !answer.crosses.iter().any(lacks) {
        return Vec::new();
    }
    let left_out = answer.crosses.iter().any(|cross| cross.goals_left_out);
    let by_what = match (answer.goals_share_places, left_out) {
        (false, _) => "Places go where they add most to the chance that each cross has a true one.",
        (true, false) => {
            "Places go where they add most to what the best true one of each cross is worth by your goals."
        }
        (true, true) => {
            "Places go where they add most to what the best true one of each cross is worth by your goals: as much as in the others on average where they do not count."
        }
    };
    let mut said = vec![by_what.to_owned()];
    if answer.mothers_shared {
        said.push(
            "Where crosses gain as much, one whose mother has none before it comes first."
                .to_owned(),
        );
    }
    said
}
