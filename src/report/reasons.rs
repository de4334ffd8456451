//! The sentences of a diagnosis: sources, verdicts, remarks, each made from the result structs alone.

use super::genotype::{explanations_words, records_words};
use super::numbers::percent;
use super::remarks::{doubts_words, likely_words, pot_or_testcross, remark};
use super::text::{a_few, capital, listed};
use crate::diagnosis::answer::{
    BatchAnswer, Doubt, EvidenceNote, SeedlingAnswer, Seen, Source, SourceShare, Verdict,
};
use crate::records::day::Day;
use crate::records::rows::Sureness;

/// A class that the label ends in less often than this is not said to be one of its own.
const WORTH_NAMING: f64 = 0.05;

/// A class that the label ends in at least this often is what it should show.
const NEARLY_ALWAYS: f64 = 0.95;

/// The pair on a batch's label: `NL x CW`, `NL selfed`.
#[must_use]
pub fn label_of(batch: &BatchAnswer) -> String {
    let (mother, father) = &batch.label;
    if mother == father {
        format!("{mother} selfed")
    } else {
        format!("{mother} x {father}")
    }
}

/// A source in words, after "most likely".
#[must_use]
pub fn source_words(source: &Source, batch: &BatchAnswer) -> String {
    let mother = &batch.label.0;
    match source {
        Source::None => format!("{} as labelled", label_of(batch)),
        Source::SelfPollen => format!("a self of {mother}"),
        Source::Pollen(plant) => format!("pollen of {}", plant.code),
        Source::UnknownPollen => "pollen of a plant that is not in the ledger".to_owned(),
        Source::StraySeed(cross) => format!("a stray seed of {}", cross.code),
        Source::UnknownSeed => "a stray seed from elsewhere".to_owned(),
        Source::Mixed => "several things at once".to_owned(),
        Source::AllSelf => format!("the whole tray is selfed {mother}"),
        Source::AllPollen(plant) => format!("the whole tray has {} as its father", plant.code),
        Source::Swapped(Some(cross)) => format!("labels swapped: the tray is {}", cross.code),
        Source::Swapped(None) => "labels swapped: the tray is seed from elsewhere".to_owned(),
    }
}

/// A class as seen: `green`, `maybe green`.
#[must_use]
pub fn class_seen(seen: &Seen) -> String {
    match seen.sureness {
        Sureness::Doubtful => format!("maybe {}", seen.class),
        _ => seen.class.clone(),
    }
}

/// Day and month, short: `12 Mar`; of another year than that of a day `12 Mar 2025`.
#[must_use]
pub fn short_day(day: Day, today: Day) -> String {
    let spoken = day.spoken_on(today);
    match spoken.split_once(' ') {
        Some((number, rest)) => {
            let (month, year) = rest.split_once(' ').unwrap_or((rest, ""));
            let month: String = month.chars().take(3).collect();
            format!("{number} {month} {year}").trim_end().to_owned()
        }
        None => spoken,
    }
}

/// The day on which it was asked.
#[must_use]
pub fn asked_on(one: &SeedlingAnswer) -> Day {
    let read = one.readings.iter().map(|seen| seen.day);
    let newest = read.max().unwrap_or(one.reason.loudest.day);
    newest.forward(one.reason.unseen_for)
}

/// The newest readings, one per trait: `green 12 Mar`; the trait is named only where two classes share a word.
#[must_use]
pub fn readings_words(one: &SeedlingAnswer) -> String {
    let shared = |seen: &Seen| {
        one.readings
            .iter()
            .filter(|other| other.class == seen.class)
            .count()
            > 1
    };
    let word = |seen: &Seen| {
        let class = class_seen(seen);
        let of = if shared(seen) {
            format!("{} ", seen.trait_code)
        } else {
            String::new()
        };
        format!("{of}{class} {}", short_day(seen.day, asked_on(one)))
    };
    one.readings.iter().map(word).collect::<Vec<_>>().join(", ")
}

/// What the label can end in: `only purple`, `purple or green`.
fn promised(one: &SeedlingAnswer) -> String {
    let ends_in = &one.reason.label_ends_in;
    let often: Vec<&str> = ends_in
        .iter()
        .filter(|(_, p)| *p >= WORTH_NAMING)
        .map(|(class, _)| class.as_str())
        .collect();
    match often.as_slice() {
        [] => listed(
            &ends_in
                .iter()
                .map(|(class, _)| class.as_str())
                .collect::<Vec<_>>(),
            "or",
        ),
        [only] if ends_in.len() > 1 => format!("nearly only {only}"),
        [only] => format!("only {only}"),
        several => listed(several, "or"),
    }
}

/// The classes that a seedling may still turn into.
fn turning(one: &SeedlingAnswer) -> String {
    let newest = &one.reason.loudest.class;
    let classes: Vec<&str> = one
        .reason
        .label_ends_in
        .iter()
        .filter(|(class, p)| class != newest && *p >= WORTH_NAMING)
        .map(|(class, _)| class.as_str())
        .collect();
    listed(&classes, "or")
}

fn most_likely(one: &SeedlingAnswer, batch: &BatchAnswer) -> String {
    match &one.reason.likeliest {
        Some(share) if one.p_off > 0.0 => {
            let sure = if share.p / one.p_off > 0.8 {
                "most likely"
            } else {
                "perhaps"
            };
            format!("{sure} {}", source_words(&share.source, batch))
        }
        _ => "nothing else is known to have happened".to_owned(),
    }
}

/// How long it had been up: `12 days after coming up`.
fn since_up(one: &SeedlingAnswer) -> String {
    let days = format!("{:.0}", one.reason.age);
    let unit = if days == "1" { "day" } else { "days" };
    format!("{days} {unit} after coming up")
}

/// Why the verdict fell as it did, in a sentence a grower would say.
#[must_use]
pub fn why(one: &SeedlingAnswer, batch: &BatchAnswer) -> String {
    let seen = capital(&class_seen(&one.reason.loudest));
    let days = since_up(one);
    let label = label_of(batch);
    let foreign = one.reason.label_ends_in_it < WORTH_NAMING;
    if let Some(said) = turned_back(one, batch).or_else(|| open_parent(one, batch)) {
        return said;
    }
    if is_stale(one) && matches!(one.verdict, Verdict::Wait | Verdict::Unproven) {
        return format!(
            "{seen} when last looked at, on {}: look now if it still stands, or say what became of it.",
            one.reason.loudest.day
        );
    }
    match one.verdict {
        Verdict::Cull if foreign && !one.reason.may_still_turn => {
            format!(
                "{seen}, where {label} gives {}: {}.",
                promised(one),
                most_likely(one, batch)
            )
        }
        Verdict::Cull if one.reason.may_still_turn => {
            let by = one.reason.rare_from.map_or_else(String::new, |day| {
                format!(" (nearly all of {label} have by {})", day.spoken())
            });
            format!(
                "Still {} {days}, not yet {}{by}: {}.",
                class_seen(&one.reason.loudest),
                turning(one),
                most_likely(one, batch)
            )
        }
        Verdict::Cull => format!(
            "{seen} fits the label, but the tray as a whole does not: {}.",
            most_likely(one, batch)
        ),
        Verdict::Keep => format!(
            "{seen}, as {label} {} be, and what can have gone wrong would seldom look so.",
            if one.reason.label_ends_in_it >= NEARLY_ALWAYS {
                "should"
            } else {
                "may"
            }
        ),
        Verdict::Unproven if foreign && overdue(one) && lagging_pot(batch).is_some() => format!(
            "Still {} {days}, when nearly all of {label} should have turned {}; {}.",
            class_seen(&one.reason.loudest),
            turning(one),
            what_would(batch)
        ),
        Verdict::Unproven if foreign && overdue(one) && likely_doubt(batch).is_some() => format!(
            "Still {} {days}, when nearly all of {label} as stated should have turned {}: more likely a parent than the light. {}",
            class_seen(&one.reason.loudest),
            turning(one),
            doubted(batch)
        ),
        Verdict::Unproven if foreign && overdue(one) && light_is_proven(batch) => format!(
            "Still {} {days}, when nearly all of {label} should have turned {}, though the light there is good. Look again.",
            class_seen(&one.reason.loudest),
            turning(one)
        ),
        Verdict::Unproven if foreign && overdue(one) => format!(
            "Still {} {days}, when nearly all of {label} should have turned {}: more likely the light than the seed. Give light, then look again.",
            class_seen(&one.reason.loudest),
            turning(one)
        ),
        Verdict::Unproven if foreign && one.reason.may_still_turn => format!(
            "Still {} {days}: {label} can yet turn {}, and nothing speaks against it so far.",
            class_seen(&one.reason.loudest),
            turning(one)
        ),
        Verdict::Unproven => format!(
            "{label} may look so; nothing speaks against it, but what can have gone wrong would look the same{}.",
            yet_to_turn(one)
        ),
        Verdict::Wait if overdue(one) => format!(
            "Still {} {days}, when nearly all of {label} have turned {}. Look once more before pulling it, from {}.",
            class_seen(&one.reason.loudest),
            turning(one),
            look_day(one)
        ),
        Verdict::Wait if one.reason.may_still_turn => format!(
            "Still {} {days}: {label} can yet turn {}. Look again from {}.",
            class_seen(&one.reason.loudest),
            turning(one),
            look_day(one)
        ),
        Verdict::Wait => format!(
            "{seen}: one more look should settle it. Look again from {}.",
            look_day(one)
        ),
        Verdict::Undecided if foreign && overdue(one) && !lags_for_light(batch) => format!(
            "Still {} {days}, when nearly all of {label} have turned {}: {}",
            class_seen(&one.reason.loudest),
            turning(one),
            unexplained(one, batch)
        ),
        Verdict::Undecided if foreign && !one.reason.may_still_turn => format!(
            "{seen}, where {label} gives {}: {}",
            promised(one),
            unexplained(one, batch)
        ),
        Verdict::Undecided => format!(
            "{seen} settles nothing ({}): {}.",
            most_likely(one, batch),
            what_would(batch)
        ),
    }
}

/// What a later look may show that the loudest reading cannot.
fn yet_to_turn(one: &SeedlingAnswer) -> String {
    let loudest = &one.reason.loudest.trait_code;
    let others = one.reason.may_yet_turn.iter();
    let others: Vec<&str> = others
        .filter(|code| *code != loudest)
        .map(String::as_str)
        .collect();
    if others.is_empty() {
        return String::new();
    }
    format!(" so far; {} may yet turn", listed(&others, "and"))
}

/// What is said of a seedling that stands no more: how it looked, and what that spoke for; nothing to be done.
#[must_use]
pub fn why_gone(one: &SeedlingAnswer, batch: &BatchAnswer) -> String {
    let seen = capital(&class_seen(&one.reason.loudest));
    let days = since_up(one);
    let label = label_of(batch);
    if one.reason.label_ends_in_it < WORTH_NAMING {
        format!(
            "{seen} {days}, where {label} gives {}: {}.",
            promised(one),
            most_likely(one, batch)
        )
    } else {
        format!("{seen} {days}, and {label} may look so.")
    }
}

/// Days without a look after which a seedling is no longer waited for (design choice).
const STALE_DAYS: i64 = 60;

/// Whether a seedling was last looked at so long ago that it is past waiting for.
#[must_use]
pub fn is_stale(one: &SeedlingAnswer) -> bool {
    one.reason.unseen_for > STALE_DAYS
}

/// What is said of a seedling that showed a late class before and an earlier one now.
fn turned_back(one: &SeedlingAnswer, batch: &BatchAnswer) -> Option<String> {
    let (now, before) = (&one.reason.loudest, one.reason.turned_before.as_ref()?);
    let next = match one.verdict {
        Verdict::Cull => format!("the newest look weighs more: {}", most_likely(one, batch)),
        Verdict::Wait => format!("look again from {}", look_day(one)),
        Verdict::Keep | Verdict::Unproven | Verdict::Undecided => "look again".to_owned(),
    };
    Some(format!(
        "{} {}, but {} {}: what has turned does not turn back, so one of the two was misread or is of another plant; {next}.",
        capital(&class_seen(now)),
        short_day(now.day, asked_on(one)),
        before.class,
        short_day(before.day, asked_on(one))
    ))
}

/// What is said of a seedling that looks foreign only because an allele of a parent was left open.
fn open_parent(one: &SeedlingAnswer, batch: &BatchAnswer) -> Option<String> {
    let said = batch.notes.iter().find_map(|note| match note {
        EvidenceNote::OpenParent {
            plant,
            likelier,
            class,
            p,
            ..
        } if *class == one.reason.loudest.class => Some((plant, likelier, *p)),
        _ => None,
    });
    let (plant, likelier, p) =
        said.filter(|_| !matches!(one.verdict, Verdict::Cull | Verdict::Keep))?;
    let wait = match one.look_again {
        Some(_) => format!(" Look again from {}.", look_day(one)),
        None => String::new(),
    };
    Some(format!(
        "{}, and {plant} {} {likelier}: then {} gives {} too.{wait}",
        capital(&class_seen(&one.reason.loudest)),
        likely_words(p),
        label_of(batch),
        one.reason.loudest.class
    ))
}

/// What is said of a seedling that the label does not give: what most likely happened, or that a parent is doubted, by
/// which of the two is the likelier.
fn unexplained(one: &SeedlingAnswer, batch: &BatchAnswer) -> String {
    let doubt = batch.doubts.first().map_or(0.0, |doubt| doubt.p);
    let likeliest = one.reason.likeliest.as_ref();
    match likeliest.filter(|share| share.p > doubt && share.p > 0.5) {
        Some(share) => format!(
            "{} ({}), which is not sure enough to pull it; {}.",
            most_likely(one, batch),
            percent(share.p),
            what_would(batch)
        ),
        None => format!("not explained by the label. {}", doubted(batch)),
    }
}

/// Which parent may not be what is stated, and what would settle it.
fn doubted(batch: &BatchAnswer) -> String {
    doubts_words(&batch.doubts).unwrap_or_else(|| {
        let parents = match &batch.label {
            (mother, father) if mother == father => mother.clone(),
            (mother, father) => format!("{mother} and {father}"),
        };
        format!("Nothing is stated of {parents}: look there, and say what is seen.")
    })
}

/// The statement about a parent that is more likely wrong than right.
#[must_use]
pub fn likely_doubt(batch: &BatchAnswer) -> Option<&Doubt> {
    batch.doubts.first().filter(|doubt| doubt.p > 0.5)
}

/// What would settle an undecided seedling.
#[must_use]
pub fn what_would(batch: &BatchAnswer) -> String {
    let is_odd = |note: &EvidenceNote| matches!(note, EvidenceNote::OddPot { .. });
    match lagging_pot(batch) {
        Some(tray) => format!(
            "the control pot {tray} beside it has not turned either; give both more light, then look at both again"
        ),
        None if batch.label.0 == batch.label.1 || batch.notes.iter().any(is_odd) => {
            "another trait or a testcross would".to_owned()
        }
        None => "another trait, a testcross or a control pot would".to_owned(),
    }
}

/// The control pot at the place of a batch that has not turned either.
#[must_use]
pub fn lagging_pot(batch: &BatchAnswer) -> Option<&str> {
    batch.notes.iter().find_map(|note| match note {
        EvidenceNote::ControlPotNotTurned { tray, .. } => Some(tray.as_str()),
        _ => None,
    })
}

/// Whether a late colour beside the tray shows that the light is good.
#[must_use]
pub fn light_is_proven(batch: &BatchAnswer) -> bool {
    let mut notes = batch.notes.iter();
    notes.any(|note| matches!(note, EvidenceNote::LightProven { .. }))
}

/// Expected losses in words: `about 0.04`, `fewer than 0.01`.
#[must_use]
pub fn about(expected: f64) -> String {
    if expected < 0.01 {
        "fewer than 0.01".to_owned()
    } else {
        format!("about {expected:.2}")
    }
}

/// What culling as listed costs and leaves, in a sentence.
#[must_use]
pub fn culling_words(true_lost: f64, off_left: f64) -> String {
    format!(
        "Culling as listed loses {} true seedlings and leaves {} off-types.",
        about(true_lost),
        about(off_left)
    )
}

/// Whether a remark must be read before anything is pulled.
#[must_use]
pub const fn comes_first(note: &EvidenceNote) -> bool {
    matches!(
        note,
        EvidenceNote::TooLarge { .. }
            | EvidenceNote::TraitLeftOut { .. }
            | EvidenceNote::WideCross { .. }
            | EvidenceNote::RuntsLeftOut { .. }
            | EvidenceNote::LabelsSwapped { .. }
            | EvidenceNote::ControlPotNotTurned { .. }
            | EvidenceNote::LabelFitsBadly { .. }
            | EvidenceNote::KeptSay { .. }
            | EvidenceNote::LaterReadings { .. }
            | EvidenceNote::OpenParent { .. }
    )
}

/// Whether the batch lags for want of light rather than for its seed.
fn lags_for_light(batch: &BatchAnswer) -> bool {
    let light = |note: &EvidenceNote| {
        matches!(
            note,
            EvidenceNote::ControlPotNotTurned { .. } | EvidenceNote::LikelyDim { .. }
        )
    };
    batch.notes.iter().any(light)
}

/// Whether a seedling that may still turn should have turned by its newest reading.
#[must_use]
pub fn overdue(one: &SeedlingAnswer) -> bool {
    let rare = one
        .reason
        .rare_from
        .filter(|_| one.reason.turned_before.is_none());
    one.reason.may_still_turn && rare.is_some_and(|day| day <= one.reason.loudest.day)
}

fn look_day(one: &SeedlingAnswer) -> String {
    one.look_again
        .map_or_else(|| "later".to_owned(), Day::spoken)
}

/// Whether anything was read that the sums rest on, be its seedling alive or not.
#[must_use]
pub fn anything_scored(batch: &BatchAnswer) -> bool {
    !batch.notes.contains(&EvidenceNote::NothingReads)
}

/// Whether a batch was too large to weigh, so that nothing is said of it.
#[must_use]
pub fn is_declined(batch: &BatchAnswer) -> bool {
    let too_large = |note: &EvidenceNote| matches!(note, EvidenceNote::TooLarge { .. });
    batch.notes.iter().any(too_large)
}

/// What the marker can show of what goes wrong, in a sentence.
#[must_use]
pub fn visibility_words(batch: &BatchAnswer) -> String {
    if !anything_scored(batch) {
        return "Nothing has been scored here yet, so the tray says nothing.".to_owned();
    }
    if batch.n == 0 {
        return "No seedling that was scored is left.".to_owned();
    }
    let blind: Vec<&SourceShare> = batch
        .visible
        .iter()
        .filter(|share| share.p < WORTH_NAMING)
        .collect();
    let selfs = blind
        .iter()
        .any(|share| matches!(share.source, Source::SelfPollen | Source::AllSelf));
    let mut seedlings = batch.seedlings.iter();
    let turning = seedlings.any(|one| !one.reason.may_yet_turn.is_empty());
    let so_far = if turning { " so far" } else { "" };
    let tail = if selfs {
        format!(
            " A self of {} would look the same{so_far}, so a clean tray proves nothing about selfs here.",
            batch.label.0
        )
    } else {
        String::new()
    };
    format!(
        "If something went wrong here, this marker would show it in {} seedlings at this age.{tail}",
        of_a_hundred(batch.visibility)
    )
}

/// A share as a count that is never rounded to none or all: `78 of 100`.
fn of_a_hundred(share: f64) -> String {
    match (100.0 * share).round() {
        _ if share <= 0.0 => "none of 100".to_owned(),
        _ if share >= 1.0 => "all".to_owned(),
        0.0 => "fewer than 1 of 100".to_owned(),
        100.0 => "more than 99 of 100".to_owned(),
        count => format!("{count:.0} of 100"),
    }
}

/// How likely each story of the batch is: its sources, likeliest first, those under 1 in 200 summed up.
#[must_use]
pub fn sources_line(batch: &BatchAnswer) -> String {
    const NAMED: f64 = 0.005;
    let mut shares: Vec<&SourceShare> = batch
        .sources
        .iter()
        .filter(|share| share.p >= NAMED)
        .collect();
    shares.sort_by(|one, other| other.p.total_cmp(&one.p));
    let word = |share: &&SourceShare| {
        let what = match &share.source {
            Source::None => "all as labelled".to_owned(),
            Source::SelfPollen => format!("some selfs of {}", batch.label.0),
            Source::Pollen(plant) => format!("some pollen of {}", plant.code),
            Source::UnknownPollen => "some unknown pollen".to_owned(),
            Source::StraySeed(cross) => format!("stray seed of {}", cross.code),
            Source::UnknownSeed => "stray seed from elsewhere".to_owned(),
            other => source_words(other, batch),
        };
        format!("{what} {}", percent(share.p))
    };
    let mut words: Vec<String> = shares.iter().map(word).collect();
    let rest: f64 = batch
        .sources
        .iter()
        .map(|share| share.p)
        .filter(|p| *p < NAMED)
        .sum();
    if rest >= 0.001 {
        words.push(format!("anything else {}", percent(rest)));
    }
    words.join("; ")
}

/// A remark on the evidence, in a sentence.
#[must_use]
pub fn note_words(note: &EvidenceNote) -> String {
    if let Some(remark) = remark(note) {
        return remark;
    }
    match note {
        EvidenceNote::Clash(clash) => format!(
            "Records clash: {}. {}.",
            records_words(&clash.records),
            explanations_words(clash)
        ),
        EvidenceNote::BeforeSowing { what, day } => {
            format!(
                "{what}: the reading of {day} is from before the sowing and stays out of the sums."
            )
        }
        EvidenceNote::LightProven {
            tray,
            place,
            day,
            alone,
        } => format!(
            "The light at the place '{place}' is not to blame: a seedling of {tray} coloured there ({}).{}",
            day.spoken(),
            if *alone {
                " That is one reading, and all that says so: look at it once more."
            } else {
                ""
            }
        ),
        EvidenceNote::ControlPotNotTurned { tray, place } => format!(
            "The control pot {tray} at the place '{place}' has to turn and has not yet: the light there may be to blame, so do not pull for want of colour."
        ),
        EvidenceNote::LabelsSwapped { other, p } => {
            let what = other
                .as_ref()
                .map_or_else(|| "seed from elsewhere".to_owned(), Clone::clone);
            format!(
                "Before you pull anything: this tray is most likely {what} under a wrong label ({}). Look for the other label.",
                percent(*p)
            )
        }
        EvidenceNote::DatedByLeaves { count, pairs } => format!(
            "Nobody counted what came up: {} dated by the leaves counted, as {pairs} records of leaves and age in this ledger go.",
            match count {
                1 => "1 seedling is".to_owned(),
                n => format!("{n} seedlings are"),
            }
        ),
        EvidenceNote::EmergenceGuessed { days, others: None } => format!(
            "Nobody counted what came up, so ages rest on the usual {days} days from sowing."
        ),
        EvidenceNote::EmergenceGuessed {
            days,
            others: Some(count),
        } => match count {
            1 => format!("The age of the other 1 rests on the usual {days} days from sowing."),
            n => format!("The ages of the other {n} rest on the usual {days} days from sowing."),
        },
        EvidenceNote::LeavesFitNoDay { whose } => format!(
            "{}: these leaves fit no day since the sowing, as the records of leaves and age in this ledger go, and say nothing here.",
            a_few(whose)
        ),
        EvidenceNote::RemovedUnseen { count } => format!(
            "{count} of them {} without a word on which or how {} looked: all are listed still.",
            if *count == 1 {
                "was removed"
            } else {
                "were removed"
            },
            if *count == 1 { "it" } else { "they" }
        ),
        EvidenceNote::NothingReads => {
            "Nothing that was read here can tell the cross from anything else.".to_owned()
        }
        EvidenceNote::LabelFitsBadly {
            plant,
            stated,
            likelier,
            would_show,
            p,
            has_pot,
        } => {
            let look = match would_show {
                Some(class) => format!("Look at {plant} itself: {class} would mean {likelier}."),
                None => format!(
                    "Looking at {plant} cannot tell; {} can.",
                    pot_or_testcross(*has_pot)
                ),
            };
            format!(
                "{plant} is stated as {stated}, but its seedlings speak for {likelier} ({}). {look}",
                percent(*p)
            )
        }
        _ => String::new(),
    }
}

/// What a verdict means, in a few words.
const fn verdict_words(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Cull => "almost surely not the cross on the label; pull it",
        Verdict::Wait => "a later look is likely to settle it",
        Verdict::Keep => "its looks speak for the label",
        Verdict::Unproven => {
            "nothing speaks against it, and what was read could hardly have shown a mishap so far"
        }
        Verdict::Undecided => {
            "the same look once more would not settle it, another would; 'locule why' names what may"
        }
    }
}

/// What the verdicts that occur mean, a line for each.
#[must_use]
pub fn legend(batches: &[BatchAnswer]) -> Vec<String> {
    let occurs = |verdict: &&Verdict| {
        let mut seedlings = batches.iter().flat_map(|batch| &batch.seedlings);
        seedlings.any(|one| one.verdict == **verdict && one.kept.is_none())
    };
    let doubted = batches.iter().any(|batch| !batch.doubts.is_empty());
    let words = |verdict: &Verdict| match (verdict, doubted) {
        (Verdict::Unproven, true) => {
            "nothing speaks against it: what was read could hardly have shown a mishap, or speaks rather against a parent"
        }
        _ => verdict_words(*verdict),
    };
    super::suspects::LISTED
        .iter()
        .filter(occurs)
        .map(|verdict| format!("{}: {}", verdict.word(), words(verdict)))
        .collect()
}

/// The starting beliefs that were changed, in a line.
#[must_use]
pub fn changed_words(changed: &[(&'static str, f64)]) -> Option<String> {
    let words: Vec<String> = changed
        .iter()
        .map(|(key, value)| format!("{key} {value}"))
        .collect();
    (!words.is_empty()).then(|| format!("starting beliefs changed: {}", words.join(", ")))
}
