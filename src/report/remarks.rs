//! Remarks on how far an answer reaches: what was set aside, what is too large, what the light did.

use super::numbers::percent;
use super::suspects::name_members;
use super::text::{a_few, capital, listed, shown};
use crate::diagnosis::answer::{
    Doubt, EvidenceNote, NoControl, OffByAll, OtherWay, SelfsUnseen, Tells,
};
use crate::genetics::species::Crossability;
use crate::records::day::Day;
use crate::records::tray::went;

/// Why linked loci need large tables; nothing where there are none.
#[must_use]
pub fn weighed_as_one(linked: &[Vec<String>]) -> Option<String> {
    let groups: Vec<String> = linked.iter().map(|loci| listed(loci, "and")).collect();
    (!groups.is_empty()).then(|| format!("linked loci are weighed as one: {}", groups.join("; ")))
}

/// How likely something open turns out so.
#[must_use]
pub fn likely_words(p: f64) -> &'static str {
    if p >= 0.5 {
        "is most likely"
    } else {
        "may well be"
    }
}

/// How many cells a table has, in round numbers: `43 million`.
#[must_use]
pub fn cells_words(cells: u128) -> String {
    let scales = [
        (1_000_000_000_000_000, "million billion"),
        (1_000_000_000, "billion"),
        (1_000_000, "million"),
        (1_000, "thousand"),
    ];
    let scale = scales.iter().find(|(scale, _)| cells >= *scale);
    match scale {
        Some((scale, word)) => format!("{} {word}", (cells + scale / 2) / scale),
        None => cells.to_string(),
    }
}

/// A remark in a sentence; nothing for those that the diagnosis words elsewhere.
#[must_use]
pub fn remark(note: &EvidenceNote) -> Option<String> {
    Some(match note {
        EvidenceNote::TraitOff { trait_code } => format!(
            "Readings of {trait_code} are left out, since it is switched off ('locule trait on {trait_code}' takes them in)."
        ),
        EvidenceNote::BatchTallySetAside { day } => format!(
            "The tray's count of {} is set aside, since its cells have readings of their own.",
            day.spoken()
        ),
        EvidenceNote::CellTallySetAside { cell, day } => format!(
            "The count of {} in cell {cell:02} is set aside, since its seedlings have readings of their own.",
            day.spoken()
        ),
        EvidenceNote::PulledBefore {
            cell,
            day,
            of_look,
            unsaid,
            earlier,
        } => pulled_before_words(*cell, (*day, *earlier), of_look, *unsaid),
        EvidenceNote::TooLarge {
            needed,
            limit,
            linked,
            least,
        } => format!(
            "{} (the exact answer needs {} cells, {} are allowed{}).{}",
            match least {
                Some(_) =>
                    "Nothing is said of these seedlings: too many traits were read here to weigh them all at once",
                None =>
                    "Nothing is said of these seedlings: their plants are tied to too many others to be weighed with them",
            },
            cells_words(*needed),
            cells_words(*limit),
            weighed_as_one(linked).map_or_else(String::new, |why| format!("; {why}")),
            least.as_ref().map_or_else(String::new, |of| {
                format!(" Switch off the one that matters least: 'locule trait off {of}'.")
            })
        ),
        EvidenceNote::TraitLeftOut {
            trait_code,
            whose,
            needed,
        } => format!(
            "{trait_code} of {} is left out: with it the sums would need {} cells.",
            a_few(whose),
            cells_words(*needed)
        ),
        EvidenceNote::LeftOut { tray } => format!(
            "{tray} is too large to weigh and is left out of what is known of these plants."
        ),
        EvidenceNote::Contradictory { count } => format!(
            "The readings of {count} {} contradict each other and are set aside; look again.",
            if *count == 1 { "seedling" } else { "seedlings" }
        ),
        EvidenceNote::ColouredEarly { class, count } => format!(
            "{} {class} at an age at which hardly any has turned, as days were counted: they came up before that. Say when ('locule up TRAY N --on DAY'), or their age says nothing.",
            if *count == 1 {
                "1 seedling was".to_owned()
            } else {
                format!("{count} seedlings were")
            }
        ),
        EvidenceNote::OpenParent {
            plant,
            stated,
            likelier,
            p,
            class,
        } => format!(
            "{plant} is stated {stated}; by its seedlings it {} {likelier} ({}), and then {class} is as labelled too. 'locule genotype {plant}' says more.",
            likely_words(*p),
            percent(*p)
        ),
        EvidenceNote::LaterReadings { count, asked } => format!(
            "{count} {} after {} {} left out.",
            if *count == 1 { "reading" } else { "readings" },
            asked.spoken(),
            if *count == 1 { "is" } else { "are" }
        ),
        EvidenceNote::LikelyDim { p } => format!(
            "The whole tray lags, more likely for want of light than for its seed ({}). More light, then look again.",
            percent(*p)
        ),
        EvidenceNote::TakenAsIndependent { loci } => format!(
            "{} stand on one chromosome, how far apart nobody has stated; taken as independent, they prove less together than is said here ('locule locus set' with --recombines states it).",
            listed(loci, "and")
        ),
        EvidenceNote::WideCross {
            mother,
            father,
            crossability,
            all_self_times,
        } => wide_words((mother, father), *crossability, *all_self_times),
        EvidenceNote::RuntsLeftOut {
            trait_code,
            whose,
            in_tallies,
        } => runts_words(trait_code, whose, *in_tallies),
        EvidenceNote::KeptSay { tray, seedlings } => kept_say_words(tray, seedlings),
        EvidenceNote::SelfsUnseen(unseen) => selfs_unseen_words(unseen),
        EvidenceNote::ReadTwice {
            whose,
            day,
            set_aside,
            counted,
            ..
        } => format!(
            "{} {} read {set_aside} and {counted} on {}: {counted}, recorded last, counts; {set_aside} is kept and stays out of the sums.",
            a_few(whose),
            was_or_were(whose.len()),
            day.spoken()
        ),
        EvidenceNote::ReadWhenGone {
            whose,
            day,
            class,
            fate,
            since,
            ..
        } => format!(
            "{} {} read {class} on {}, but {} on {}: that reading is kept and stays out of the sums. One of the two records is wrong.",
            a_few(whose),
            was_or_were(whose.len()),
            day.spoken(),
            went(*fate, whose.len()),
            since.spoken()
        ),
        EvidenceNote::DonorSownLater {
            plant,
            sown,
            crossed,
        } => sown_later_words(plant, *sown, *crossed),
        EvidenceNote::ParentLooksOtherwise {
            plant,
            stated,
            class,
            day,
            ..
        } => format!(
            "{plant} was read {class} on {}, but {stated} is stated of it: one of the two is wrong, and the sums weigh both ('locule genotype {plant}').",
            day.spoken()
        ),
        EvidenceNote::OddPot { tray, place, plant } => format!(
            "The control pot {tray} at the place '{place}' has to turn and has not, though others coloured there: not the light but the pot is odd. Either it is other seed than its label says, or {plant} is not what is stated of it ('locule suspects {tray}')."
        ),
        EvidenceNote::NoControl {
            pot,
            parent,
            tray,
            why,
        } => format!(
            "{pot}, seed of {parent}, has not turned either, but is no control pot for {tray}: {}. It says nothing of the light there; as seed of {parent} it counts.",
            no_control_words(parent, why)
        ),
        _ => return None,
    })
}

/// What the newest count of a place does not know of.
fn pulled_before_words(
    cell: Option<i64>,
    (day, earlier): (Day, Option<Day>),
    of_look: &[(String, i64)],
    unsaid: i64,
) -> String {
    let mut gone: Vec<String> = (of_look.iter())
        .map(|(look, count)| format!("{count} {look}"))
        .collect();
    if unsaid > 0 {
        gone.push(format!("{unsaid} of no look said"));
    }
    let all: i64 = of_look.iter().map(|(_, count)| count).sum::<i64>() + unsaid;
    let place = cell.map_or_else(String::new, |cell| format!(" in cell {cell:02}"));
    let ratio = earlier.map_or_else(String::new, |before| {
        format!(" 'locule ratio' goes by the count of {}.", before.spoken())
    });
    format!(
        "{} {} pulled before the count of {}{place}, the newest, by which this goes: what {} looked like is not weighed here.{ratio}",
        listed(&gone, "and"),
        was_or_were(usize::try_from(all).unwrap_or(usize::MAX)),
        day.spoken(),
        if all == 1 { "it" } else { "they" }
    )
}

const fn was_or_were(count: usize) -> &'static str {
    if count == 1 { "was" } else { "were" }
}

/// What is done with readings of growth in a cross between species.
fn runts_words(trait_code: &str, whose: &[String], in_tallies: bool) -> String {
    let of = match (whose, in_tallies) {
        ([], _) => String::new(),
        (whose, false) => format!(" of {}", a_few(whose)),
        (whose, true) => format!(" of {} and in tallies", a_few(whose)),
    };
    format!(
        "What was read for {trait_code}{of} is kept and stays out of the sums: in a cross between species a dwarf may be the true hybrid."
    )
}

/// What a cross between species means for a weak seedling; or that one within a species goes hard.
fn wide_words((mother, father): (&str, &str), how: Crossability, times: f64) -> String {
    if mother == father {
        return format!(
            "Crosses within {mother} are {how} by what you said: a whole tray of selfs counts {times} times as likely as where they take readily ('locule species')."
        );
    }
    let cross = match how {
        Crossability::Hard => "a hard cross between species",
        Crossability::VeryHard => "a very hard cross between species",
        Crossability::NotExpected => {
            "a cross between species that is not expected to give seedlings without embryo culture"
        }
        _ => {
            return format!(
                "{mother} x {father} is a cross between species: a weak or dwarf seedling may be the true hybrid, and weak is no sign of an off-type."
            );
        }
    };
    if times == 1.0 {
        return format!(
            "{mother} x {father} is {cross}: a weak or dwarf seedling may be the true hybrid, and weak is no sign of an off-type."
        );
    }
    format!(
        "{mother} x {father} is {cross}: a weak or dwarf seedling may be the true hybrid, and the vigorous ones are the suspects. A whole tray of selfs counts {times} times as likely as within a species ('locule species' says why)."
    )
}

/// What would show selfs where nothing read here can.
/// What the offspring of plants kept say of a tray, which its list does not have.
fn kept_say_words(tray: &str, seedlings: &[OffByAll]) -> String {
    let said = |one: &OffByAll| {
        let whose = one
            .whose
            .iter()
            .map(|(name, cell)| (Some(name.clone()), *cell, 1));
        let names = name_members(tray, &whose.collect::<Vec<_>>());
        let code = one.code.as_ref().filter(|code| **code != names);
        let code = code.map_or_else(String::new, |code| format!(" ({})", shown(code)));
        let (by_all, listed) = (percent(one.p_off), percent(one.listed));
        format!("{names}{code} off-type {by_all}, not {listed}")
    };
    let all: Vec<String> = seedlings.iter().map(said).collect();
    let kept = seedlings.iter().find_map(|one| one.code.as_deref());
    let more = kept.map_or_else(String::new, |code| {
        format!(" 'locule genotype {}' says why.", shown(code))
    });
    format!(
        "The list of {tray} goes by {tray} alone. What was kept from it and came of that says more: {}.{more}",
        all.join("; ")
    )
}

fn selfs_unseen_words(unseen: &SelfsUnseen) -> String {
    let SelfsUnseen { mother, father, .. } = unseen;
    let label = format!("{mother} x {father}");
    let mut said = String::new();
    if let Some(class) = &unseen.all_like_mother {
        said =
            format!("All look like {mother} itself ({class}), as {label} and a self alike would. ");
    }
    let of_trait = |one: &Tells| {
        let off = if one.switched_on {
            ""
        } else {
            ", switched off now"
        };
        format!(
            "{} (a self is {}, {label} {}{off})",
            one.trait_code, one.of_self, one.of_label
        )
    };
    let mut ways: Vec<String> = Vec::new();
    let traits: Vec<String> = unseen.traits.iter().map(of_trait).collect();
    if !traits.is_empty() {
        ways.push(format!("score {}", listed(&traits, "or")));
    }
    if let Some(one) = &unseen.other_way {
        ways.push(other_way_words((mother, father), one));
    }
    if let Some((genotype, stated)) = &unseen.father_as {
        ways.push(match stated {
            Some(stated) => {
                format!("take a father proven {genotype} ({father} is stated {stated})")
            }
            None => format!("prove that {father} is {genotype}, which nobody has stated"),
        });
    }
    match ways.as_slice() {
        [] => said.push_str(&format!(
            "No trait of which enough is stated of both parents would show a self of {mother}: one would that {father} has and {mother} lacks."
        )),
        ways => said.push_str(&format!("What would show a self of {mother}: {}.", ways.join("; or "))),
    }
    said
}

/// The cross made the other way round: to be made, to be sown, or to be looked at.
fn other_way_words((mother, father): (&str, &str), way: &OtherWay) -> String {
    let how = match way.crossability {
        Crossability::Usual => " (between species, takes as a rule)",
        Crossability::Hard => " (a hard cross: few seeds)",
        Crossability::VeryHard => " (a very hard cross: few seeds, if any)",
        _ => "",
    };
    let crosses = listed(&way.crosses, "or");
    let what = match (way.crosses.as_slice(), way.trays.as_slice()) {
        ([], _) => format!("make the cross the other way round{how}"),
        (_, []) => format!("sow the cross the other way round, {crosses}"),
        (_, trays) => format!(
            "look at the cross the other way round, {crosses} in {}",
            listed(trays, "and")
        ),
    };
    let Tells {
        of_label, of_self, ..
    } = &way.tells;
    format!("{what}: {father} x {mother} is {of_label}, a self of {father} {of_self}")
}

fn sown_later_words(plant: &str, sown: Day, crossed: Day) -> String {
    let when = if crossed < sown {
        format!("after the cross of {}", crossed.spoken())
    } else {
        "the day of the cross".to_owned()
    };
    format!(
        "{plant} was sown on {}, {when}: it cannot have given pollen, and stays out of the donors. One of the records is wrong.",
        sown.spoken()
    )
}

/// Why a pot is no control, in part of a sentence.
fn no_control_words(parent: &str, why: &NoControl) -> String {
    let named = |place: &String| match place.as_str() {
        "" => "at no named place".to_owned(),
        place => format!("at '{place}'"),
    };
    match why {
        NoControl::NeedNotTurn { share, stated } => {
            let stated = match stated {
                Some(stated) => format!("stated {stated}"),
                None => "nothing stated".to_owned(),
            };
            let turn = match *share {
                0.0 => "none of its seedlings has to turn".to_owned(),
                share => format!("only {} of its seedlings have to turn", percent(share)),
            };
            format!("by what is known of {parent} ({stated}) {turn}")
        }
        NoControl::OtherPlace { pot, tray } => {
            format!("it stands {}, the tray {}", named(pot), named(tray))
        }
        NoControl::OtherDay { pot, tray } => format!(
            "it was last looked at on {}, the tray on {}, more than 7 days apart",
            pot.spoken(),
            tray.spoken()
        ),
        NoControl::TooYoung => "at its age half of it need not have turned yet".to_owned(),
    }
}

/// A parent is named as doubtful where its statement is wrong with at least this probability (design choice).
pub const WORTH_DOUBTING: f64 = 0.05;

/// Which parents are doubted where nothing explains a seedling, and what would settle it; nothing where none was stated.
#[must_use]
pub fn doubts_words(doubts: &[Doubt]) -> Option<String> {
    let first = doubts.first()?;
    let worth = doubts.iter().filter(|doubt| doubt.p >= WORTH_DOUBTING);
    let worth: Vec<&Doubt> = worth.collect();
    if worth.is_empty() {
        return Some(
            "What is stated of the parents is hardly in doubt: another trait or a testcross would tell more."
                .to_owned(),
        );
    }
    let one = |doubt: &&Doubt| {
        format!(
            "{} is not {} {}",
            doubt.plant,
            doubt.stated,
            percent(doubt.p)
        )
    };
    let chances: Vec<String> = worth.iter().map(one).collect();
    Some(format!(
        "A parent may not be what is stated: {}. {}.",
        chances.join(", "),
        capital(&parent_words(first))
    ))
}

/// How a doubted parent is looked into: by its look where that tells, else by its seed.
#[must_use]
pub fn parent_words(doubt: &Doubt) -> String {
    let (plant, settles) = (&doubt.plant, pot_or_testcross(doubt.has_pot));
    match &doubt.would_show {
        Some((class, likelier)) => {
            format!("look at {plant} itself ({class} would mean {likelier}); {settles} settles it")
        }
        None => format!("looking at {plant} cannot tell; {settles} can"),
    }
}

/// What tells a plant's genotype where its look cannot: no pot is asked for where one was read.
#[must_use]
pub const fn pot_or_testcross(has_pot: bool) -> &'static str {
    if has_pot {
        "a testcross"
    } else {
        "a pot of its own selfed seed or a testcross"
    }
}
