//! Which of the season's crosses a pot without a label is of, in words and JSON.

use serde::{Serialize, Serializer};

use super::numbers::{percent, several};
use super::remarks::remark;
use super::text::{listed, shown, wrapped};
use super::{Answer, Page};
use crate::diagnosis::lost_label::{
    HARDLY_READ, LookShare, LostCandidate, LostLabel, NextLook, TrayShare,
};
use crate::records::rows::{FateKind, Sureness};

/// From this probability on it is called sure (design choice).
const SURE: f64 = 0.95;

/// Candidates less likely than this are summed up.
const HARDLY: f64 = 0.02;

/// The most candidates that are shown one by one.
const MOST: usize = 5;

/// Looks that are at most so many times as likely of one as of the other do not tell them apart (design choice).
const ALIKE: f64 = 1.25;

/// The answer of `lost-label`.
#[derive(Debug, Clone, PartialEq)]
pub struct LostLabelAnswer(pub LostLabel);

impl Answer for LostLabelAnswer {
    fn words(&self, page: Page) -> String {
        let answer = &self.0;
        let mut lines = vec![wrapped(&verdict(answer), page.width, "  ")];
        lines.push(wrapped(&pot_words(answer), page.width, "  "));
        if answer.no_tray_of_age {
            lines.push(wrapped("No tray is of that age.", page.width, "  "));
        }
        if !answer.other_places.is_empty() {
            let known = listed(&answer.other_places, "and");
            let text = format!(
                "No tray ever stood at '{}'; named are {known}.",
                answer.place
            );
            lines.push(wrapped(&text, page.width, "  "));
        }
        lines.extend(set_aside(answer).map(|text| wrapped(&text, page.width, "  ")));
        lines.extend(growth_words(answer).map(|text| wrapped(&text, page.width, "  ")));
        let top = shown_ones(answer);
        for one in &answer.candidates[..top] {
            lines.push(String::new());
            lines.extend(candidate(one, page));
        }
        lines.push(String::new());
        let mut add = |text: String| lines.push(wrapped(&text, page.width, "  "));
        add(rest_words(answer, top));
        for text in apart(answer) {
            add(text);
        }
        add(
            "Counted are all seedlings of the year that stand without account; seed in the box and seedlings from \
             elsewhere at a small share ('locule assume' says which)."
                .to_owned(),
        );
        if !answer.declined.is_empty() {
            add(format!(
                "Left out, too many traits to weigh: {}.",
                listed(&answer.declined, "and")
            ));
        }
        answer
            .traits_left_out
            .iter()
            .filter_map(remark)
            .for_each(&mut add);
        lines.join("\n")
    }
}

/// That the label of a seedling counts for nothing here, and what became of it.
fn set_aside(answer: &LostLabel) -> Option<String> {
    let (seedling, label) = (answer.seedling.as_deref()?, answer.set_aside.as_deref()?);
    let (seedling, label) = (shown(seedling), shown(label));
    let gone = answer.gone.map_or_else(String::new, |(kind, day)| {
        let how = match kind {
            FateKind::Died => "died",
            FateKind::Thinned => "was thinned",
            _ => "was culled",
        };
        format!(" It {how} on {}.", day.spoken())
    });
    Some(format!(
        "Its own label, {label}, is set aside here on purpose; 'locule why {seedling}' weighs it as {label}.{gone}"
    ))
}

/// That growth counts for nothing, since a dwarf may be the true hybrid of a cross between species.
fn growth_words(answer: &LostLabel) -> Option<String> {
    let wide = shown(answer.growth_of.as_deref()?);
    Some(format!(
        "How it grows is set aside: {wide} is a cross between species, and a dwarf seedling of one may be the true hybrid."
    ))
}

/// A probability of one that may always be it, however little.
fn chance(p: f64) -> String {
    percent(p.max(f64::MIN_POSITIVE))
}

/// That it comes from elsewhere is never quite certain while anything stands.
fn elsewhere_words(answer: &LostLabel) -> String {
    percent(answer.elsewhere.min(1.0 - f64::EPSILON))
}

/// How many candidates are shown one by one.
fn shown_ones(answer: &LostLabel) -> usize {
    let likely = answer
        .candidates
        .iter()
        .filter(|one| one.p >= HARDLY)
        .count();
    likely.clamp(1, MOST).min(answer.candidates.len())
}

/// `Most likely X3, CW x NL: 62 %.`
fn verdict(answer: &LostLabel) -> String {
    let what = answer.seedling.as_deref().map_or("The pot", |code| code);
    let Some(first) = answer.candidates.first() else {
        return format!("{} may be of nothing that the ledger knows.", shown(what));
    };
    if answer.elsewhere > first.p {
        return format!(
            "{} most likely is of none of your crosses: from elsewhere {}.",
            shown(what),
            elsewhere_words(answer)
        );
    }
    let how = match first.p {
        p if p >= SURE => "almost surely is",
        p if p >= 0.5 => "most likely is",
        _ => "cannot be told; likeliest it is",
    };
    format!(
        "{} {how} {}: {}.",
        shown(what),
        named(first),
        chance(first.p)
    )
}

/// `X3, CW x NL`
fn named(one: &LostCandidate) -> String {
    let (mother, father) = &one.label;
    match (one.packet, mother == father) {
        (true, _) => format!("{}, its own seed", shown(&one.code)),
        (false, true) => format!("{}, {} selfed", shown(&one.code), shown(mother)),
        (false, false) => format!(
            "{}, {} x {}",
            shown(&one.code),
            shown(mother),
            shown(father)
        ),
    }
}

/// What the answer goes by: `By purple (14 March), hairy; about 30 days old; in tent.`
fn pot_words(answer: &LostLabel) -> String {
    let seen = answer.readings.iter().map(|one| {
        let maybe = if one.sureness == Sureness::Doubtful {
            "maybe "
        } else {
            ""
        };
        let on = if one.day == answer.day {
            String::new()
        } else {
            format!(" on {}", one.day.spoken())
        };
        format!("{maybe}{}{on}", shown(&one.class))
    });
    let mut words = vec![listed(&seen.collect::<Vec<_>>(), "and")];
    words.extend(answer.age.map(|age| {
        format!(
            "about {:.0} days old, give or take {:.0}",
            age.days, age.deviation
        )
    }));
    if !answer.place.is_empty() {
        words.push(format!("in {}", shown(&answer.place)));
    }
    format!("Going by: {}.", words.join("; "))
}

fn candidate(one: &LostCandidate, page: Page) -> Vec<String> {
    let mut lines = vec![wrapped(
        &format!("{}: {}", named(one), chance(one.p)),
        page.width,
        "  ",
    )];
    let mut add = |text: String| lines.push(wrapped(&format!("  {text}"), page.width, "    "));
    for look in &one.looks {
        add(look_words(look));
    }
    if one.p_off >= 0.5 {
        add(format!(
            "If it is of this one, it is not as labelled ({}).",
            percent(one.p_off)
        ));
    }
    for tray in one.trays.iter().filter(|tray| tray.p >= HARDLY * one.p) {
        add(tray_words(tray));
    }
    if let Some(seeds) = one.seeds.as_ref().filter(|seeds| seeds.p >= HARDLY * one.p) {
        let left = seeds.seeds.map_or_else(
            || "seed that nobody counted".to_owned(),
            |n| several(n.unsigned_abs(), "seed", "seeds"),
        );
        add(format!(
            "Box: {left}, had some been sown without a record: {}.",
            percent(seeds.p)
        ));
    }
    lines
}

/// `All of its seedlings would be read purple by now.`
fn look_words(look: &LookShare) -> String {
    let class = shown(&look.class);
    let how = match look.share {
        p if p >= 0.985 => "All",
        p if p >= 0.9 => "Nearly all",
        p if p >= 0.6 => "Most",
        p if p >= 0.4 => "About half",
        p if p >= 0.15 => "Some",
        p if p >= 0.03 => "Few",
        _ => "Hardly any",
    };
    format!(
        "{how} of its seedlings would be read {class} by then ({}).",
        percent(look.share)
    )
}

/// `T3 (tent), 40 days old: 5 without account; 60 %. Likeliest T3-04.`
fn tray_words(tray: &TrayShare) -> String {
    let place = if tray.place.is_empty() {
        String::new()
    } else {
        format!(" ({})", shown(&tray.place))
    };
    let age = tray.age.map_or_else(String::new, |age| {
        let about = if tray.guessed { "perhaps " } else { "" };
        format!(", {about}{age:.0} days old")
    });
    let likeliest = tray
        .likeliest
        .as_deref()
        .map_or_else(String::new, |code| format!(" Likeliest {}.", shown(code)));
    format!(
        "{}{place}{age}: {} without account; {}.{likeliest}",
        shown(&tray.tray),
        several(tray.seedlings.unsigned_abs(), "seedling", "seedlings"),
        percent(tray.p)
    )
}

fn rest_words(answer: &LostLabel, top: usize) -> String {
    let others: f64 = answer.candidates[top..].iter().map(|one| one.p).sum();
    let elsewhere = format!("From elsewhere: {}.", elsewhere_words(answer));
    match answer.candidates.len() - top {
        0 => elsewhere,
        n => format!(
            "{}: {}. {elsewhere}",
            several(n as u64, "other", "others"),
            percent(others)
        ),
    }
}

/// What tells the likeliest two apart.
fn apart(answer: &LostLabel) -> Vec<String> {
    let [first, second, ..] = answer.candidates.as_slice() else {
        return Vec::new();
    };
    if first.p >= SURE || second.p < HARDLY {
        return Vec::new();
    }
    let (one, other) = (shown(&first.code), shown(&second.code));
    let mut lines = Vec::new();
    let alike = |times: f64| (1.0 / ALIKE..=ALIKE).contains(&times);
    if answer.times_as_likely.is_some_and(alike) {
        lines.push(format!(
            "{one} and {other} look alike in what was seen: only how many of each stand, and where, tells them apart."
        ));
    }
    lines.push(match &answer.next {
        Some(next) => next_words(next, &one, &other),
        None => format!(
            "No look that the ledger knows of would tell {one} from {other}: write both on its label, or let it go."
        ),
    });
    lines
}

/// `Score stem-hair: hairy speaks for X3 (91 %), smooth for X1 (88 %).`
fn next_words(next: &NextLook, one: &str, other: &str) -> String {
    let when = next.on.map_or_else(
        || format!(" at the stage {}", shown(&next.stage)),
        |day| format!(" on {}", day.spoken()),
    );
    let likely = next.says.iter().filter(|(_, p, _)| *p >= HARDLY_READ);
    let says: Vec<String> = likely
        .map(|(class, _, first)| match *first >= 0.5 {
            true => format!("{} speaks for {one} ({})", shown(class), percent(*first)),
            false => format!(
                "{} speaks for {other} ({})",
                shown(class),
                percent(1.0 - first)
            ),
        })
        .collect();
    format!(
        "To tell {one} from {other}, score {}{when}: {}.",
        shown(&next.trait_code),
        says.join(", ")
    )
}

#[derive(Serialize)]
struct SeenJson<'a> {
    #[serde(rename = "trait")]
    of: &'a str,
    class: &'a str,
    sureness: &'static str,
    on: String,
}

#[derive(Serialize)]
struct AgeJson {
    days: f64,
    deviation: f64,
}

#[derive(Serialize)]
struct GoneJson {
    how: String,
    on: String,
}

/// A text that may be empty, as JSON has it.
fn some(text: &str) -> Option<&str> {
    (!text.is_empty()).then_some(text)
}

#[derive(Serialize)]
struct LookJson<'a> {
    #[serde(rename = "trait")]
    of: &'a str,
    class: &'a str,
    share: f64,
}

#[derive(Serialize)]
struct TrayJson<'a> {
    tray: &'a str,
    place: Option<&'a str>,
    seedlings: i64,
    age: Option<f64>,
    guessed: bool,
    p: f64,
    likeliest: Option<&'a str>,
}

#[derive(Serialize)]
struct BoxJson {
    seeds: Option<i64>,
    p: f64,
}

#[derive(Serialize)]
struct CandidateJson<'a> {
    code: &'a str,
    packet: bool,
    mother: &'a str,
    father: &'a str,
    before: f64,
    p: f64,
    p_off: f64,
    looks: Vec<LookJson<'a>>,
    trays: Vec<TrayJson<'a>>,
    seeds: Option<BoxJson>,
}

impl<'a> CandidateJson<'a> {
    fn of(one: &'a LostCandidate) -> Self {
        let look = |look: &'a LookShare| LookJson {
            of: &look.trait_code,
            class: &look.class,
            share: look.share,
        };
        let tray = |tray: &'a TrayShare| TrayJson {
            tray: &tray.tray,
            place: some(&tray.place),
            seedlings: tray.seedlings,
            age: tray.age,
            guessed: tray.guessed,
            p: tray.p,
            likeliest: tray.likeliest.as_deref(),
        };
        Self {
            code: &one.code,
            packet: one.packet,
            mother: &one.label.0,
            father: &one.label.1,
            before: one.before,
            p: one.p,
            p_off: one.p_off,
            looks: one.looks.iter().map(look).collect(),
            trays: one.trays.iter().map(tray).collect(),
            seeds: one.seeds.as_ref().map(|seeds| BoxJson {
                seeds: seeds.seeds,
                p: seeds.p,
            }),
        }
    }
}

#[derive(Serialize)]
struct ClassJson<'a> {
    class: &'a str,
    p: f64,
    p_first: f64,
}

#[derive(Serialize)]
struct NextJson<'a> {
    #[serde(rename = "trait")]
    of: &'a str,
    stage: &'a str,
    on: Option<String>,
    bits: f64,
    classes: Vec<ClassJson<'a>>,
}

#[derive(Serialize)]
struct LostJson<'a> {
    on: String,
    seedling: Option<&'a str>,
    readings: Vec<SeenJson<'a>>,
    age: Option<AgeJson>,
    place: Option<&'a str>,
    no_tray_of_that_age: bool,
    other_places: &'a [String],
    label_set_aside: Option<&'a str>,
    gone: Option<GoneJson>,
    growth_set_aside_for: Option<&'a str>,
    candidates: Vec<CandidateJson<'a>>,
    elsewhere: f64,
    times_as_likely: Option<f64>,
    next: Option<NextJson<'a>>,
    too_large: &'a [String],
    traits_left_out: Vec<String>,
}

impl Serialize for LostLabelAnswer {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let answer = &self.0;
        let readings = answer.readings.iter().map(|one| SeenJson {
            of: &one.trait_code,
            class: &one.class,
            sureness: one.sureness.word(),
            on: one.day.to_string(),
        });
        let next = answer.next.as_ref().map(|next| NextJson {
            of: &next.trait_code,
            stage: &next.stage,
            on: next.on.map(|day| day.to_string()),
            bits: next.bits,
            classes: next
                .says
                .iter()
                .map(|(class, p, p_first)| ClassJson {
                    class,
                    p: *p,
                    p_first: *p_first,
                })
                .collect(),
        });
        let json = LostJson {
            on: answer.day.to_string(),
            seedling: answer.seedling.as_deref(),
            readings: readings.collect(),
            age: answer.age.map(|age| AgeJson {
                days: age.days,
                deviation: age.deviation,
            }),
            place: some(&answer.place),
            no_tray_of_that_age: answer.no_tray_of_age,
            other_places: &answer.other_places,
            label_set_aside: answer.set_aside.as_deref(),
            gone: answer.gone.map(|(kind, day)| GoneJson {
                how: kind.to_string(),
                on: day.to_string(),
            }),
            growth_set_aside_for: answer.growth_of.as_deref(),
            candidates: answer.candidates.iter().map(CandidateJson::of).collect(),
            elsewhere: answer.elsewhere,
            times_as_likely: answer.times_as_likely,
            next,
            too_large: &answer.declined,
            traits_left_out: answer.traits_left_out.iter().filter_map(remark).collect(),
        };
        json.serialize(serializer)
    }
}
