//! What the grower should know beside an answer, one sentence each.

use crate::genetics::purdy::PurdyDoubt;
use crate::genetics::ripening::{FIRST_GERMINABLE_DAYS, is_practice, ripe_from};
use crate::genetics::species::Crossability;
use crate::records::admit::Notice;
use crate::records::entry::OneGene;
use crate::records::species::Crossing;
use crate::report::adopted::chance_words;
use crate::report::text::{a_few, listed};

/// A notice in words.
pub(super) fn note(notice: &Notice) -> String {
    match notice {
        Notice::EvenSo(doubt) => format!("recorded even so: {doubt}"),
        Notice::TallyIdle { place, instead } => {
            format!("this tally of {place} is kept but is no evidence, for {instead} are counted")
        }
        Notice::TallyOverruled { place, instead } => format!(
            "earlier tallies of {place} are kept but are no evidence from now on; {instead} are counted, so score the others there too"
        ),
        Notice::StandsElsewhere {
            seedling,
            parents,
            crosses,
        } => {
            let is = if crosses.len() == 1 { "is" } else { "are" };
            format!(
                "{} {is} the same cross, {parents}, made on purpose; {seedling} is an accident beside it, so keep their tags and seed apart",
                listed(crosses, "and")
            )
        }
        Notice::AgainstRecords {
            seedling,
            parents,
            chance,
        } => format!(
            "the records speak against {parents} for {seedling} ({})",
            chance_words(chance.parse().unwrap_or(0.0))
        ),
        Notice::KeptPulled {
            seedling,
            code,
            parents,
        } => {
            let code = code
                .as_ref()
                .map_or_else(String::new, |code| format!(" as {code}"));
            format!(
                "{seedling} was kept{code}, {parents}, an accident; if it still stands, 'locule undo' takes this back"
            )
        }
        Notice::OutOfSums { place } => {
            format!("{place}: a reading from before the sowing stays out of the sums")
        }
        Notice::FewerUp { before } => {
            format!(
                "that is fewer than the {before} counted before; a count that falls adds nothing, and {before} stays: was that one wrong, then 'locule history' and amend it"
            )
        }
        Notice::NobodyUp { tray } => format!(
            "nobody counted what came up in {tray}; 'locule up {tray} N --on DAY' makes the ages right"
        ),
        Notice::CountNotSeedling { count, seedling } => {
            let number = seedling.rsplit('-').next().unwrap_or_default();
            let many = super::several(*count, "seedling");
            format!(
                "{many}, not seedling {number}: for that one write {seedling}; 'locule undo' takes this back"
            )
        }
        Notice::FarOff {
            measure,
            others,
            usual,
        } => format!(
            "{measure}: the {others} others of the tray have {usual} in the middle; if that is a slip, 'locule undo'"
        ),
        Notice::LookOfPulled { tray } => format!(
            "their look is kept with what became of them, for nobody has read {tray} yet: score those that still stand, and 'locule ratio {tray}' counts these in"
        ),
        Notice::CountedInTally { place, day } => format!(
            "the count of {place} of {} stays what counts: it holds them, and their look is kept with what became of them",
            day.spoken()
        ),
        Notice::ModelsGone { of, models } => {
            let (models, verb) = match &models[..] {
                [only] => (format!("the gene model {only}"), "goes"),
                several => (format!("the gene models {}", listed(several, "and")), "go"),
            };
            format!("{models} of {of} {verb} with its old definition")
        }
        Notice::Gene {
            symbol,
            recessive,
            words,
        } => gene(symbol, recessive, words),
        Notice::PickedYoung { days, species } => picked_young(*days, species),
        Notice::FewerSet {
            cross,
            before,
            now,
            may_be_further,
        } => fewer_set(cross, *before, *now, *may_be_further),
        Notice::NothingSet { cross } => format!(
            "no flower of {cross} set by what is recorded, so where is the seed from? 'locule set {cross} --pods 1' says what did, 'locule undo' takes this back"
        ),
        Notice::LotTaken { lot, others } => format!(
            "the seed is taken from {lot}, the oldest lot with enough; --lot takes another ({})",
            others.join(", ")
        ),
        Notice::Unlike {
            plant,
            genotype,
            of,
            class,
            gives,
        } => format!(
            "{plant} is said to look {class} ({of}), but its stated genotype {genotype} gives {}; one of the two is wrong",
            gives.join(" or ")
        ),
        Notice::Pedigree(PurdyDoubt::SlashSkipped { written, enough }) => {
            format!(
                "{written} stands in the pedigree where {enough} would do; if a cross is missing, it is missing here too"
            )
        }
        Notice::Pedigree(PurdyDoubt::DoseTurned { read_as }) => {
            format!("the doses stand away from their slash; read as {read_as}")
        }
        Notice::NewAncestors { names, nearest } => {
            let (plants, ancestors) = match names.len() {
                1 => ("is no plant", "an ancestor"),
                _ => ("are no plants", "ancestors"),
            };
            let named = listed(names, "and");
            let entered = format!("{named} {plants} of the ledger; entered as {ancestors}");
            match nearest {
                Some((typed, near)) => {
                    format!("{entered}; if {typed} is {near}, 'locule undo' and write {near}")
                }
                None => entered,
            }
        }
        Notice::WasAncestor { name } => {
            format!("{name} stood in pedigrees as an ancestor; this is the same plant from now on")
        }
        Notice::HardCross(crossing) => hard_cross(crossing),
        Notice::RuntPulled(crossing) => runt_pulled(crossing),
        Notice::SharedWords { added, of, shared } => format!(
            "{of} has {} too, so write {added}:{} to mean the new trait",
            listed(shared, "and"),
            shared[0]
        ),
        Notice::NearTool { tool, near } => format!(
            "'{tool}' is a tool of its own; if it is '{near}', take this back with 'locule undo' and write that: tools of two names share no pollen"
        ),
        Notice::SamePair {
            cross,
            day: Some(day),
        } => format!(
            "{cross} is the same pair, on {} already; if this is the same pollination, 'locule undo' takes it back",
            day.spoken()
        ),
        Notice::SamePair { cross, day: None } => format!(
            "{cross} is the same pair; to make this a further pollination of it, 'locule undo' and add --code {cross}"
        ),
        Notice::FewerLeaves {
            place,
            before,
            since,
        } => format!(
            "{place} had {before} leaves on {}: one of the two counts is off, and ages by leaves rest on both",
            since.spoken()
        ),
        Notice::TalliedTwice { place, day, looks } => format!(
            "{place} was counted on {} already, {looks}; both are kept, and the newer counts",
            day.spoken()
        ),
        Notice::LateColourWent {
            place,
            class,
            had,
            since,
            has,
        } => format!(
            "{place} had {had} {class} on {}, and has {has} now; {class} does not go once it is \
             there, so one of the counts is off: count again, or score them one by one",
            since.spoken()
        ),
        Notice::ReadTwice {
            places,
            day,
            before,
            now,
        } => format!(
            "{} {} read {before} on {} already; both are kept, and {now}, the newer, counts",
            a_few(places),
            if places.len() == 1 { "was" } else { "were" },
            day.spoken()
        ),
        Notice::GradedTwice {
            place,
            day,
            before,
            now,
        } => format!(
            "{place} was graded {before} on {} by the same taster already; both are kept, and {now}, the newer, counts. \
             Of another pod it is said with --pod",
            day.spoken()
        ),
        Notice::NotTasted { place } => format!(
            "a grade does not say hot or not, which the genes explain: 'locule score {place} hot --tasted tip', or not-hot"
        ),
        Notice::NothingMeasured { measure } => {
            format!(
                "{measure}: nothing that stands measures nought; if that is a slip, 'locule undo'"
            )
        }
        Notice::NoUnit { name, unit } => format!(
            "{name} has no unit here, and was measured in {unit}: it is left out where those are compared; if {unit} is \
             meant, 'locule undo' and type it with {unit}"
        ),
        Notice::ReadWhenGone { place } => {
            format!("{place}: a reading from after it went is kept and stays out of the sums")
        }
        Notice::HardlyInFlower { plant, days } => format!(
            "{plant} was sown {} before: hardly in flower yet; is it the right plant?",
            super::several(*days, "day")
        ),
        Notice::FirstWarmth => {
            "mats, lamps and plugs stay dry, on a circuit with a residual current breaker; \
             pull the plug before you water (common practice)"
                .to_owned()
        }
        Notice::OddUnit { unit } => format!(
            "'{unit}' is none of mm, cm, m, mg, g and kg: numbers in it are compared with their like alone; if that is a slip, 'locule undo'"
        ),
        Notice::NearMeasure { typed, near } => format!(
            "'{typed}' was not measured before, '{near}' was: they are two measures; if that is a slip, 'locule undo'"
        ),
        Notice::LargeMeasure { measure } => {
            format!("{measure}: larger than a pepper gets; if that is a slip, 'locule undo'")
        }
        Notice::OtherSpecies { species, near } => {
            let meant = near.as_ref().map_or_else(String::new, |near| {
                format!("; if it is {near}, amend this entry with --species {near}")
            });
            format!(
                "'{species}' is none of annuum, chinense, frutescens, baccatum and pubescens{meant}"
            )
        }
    }
}

/// What is to be feared of the seed of a young pod.
fn picked_young(days: i64, species: &str) -> String {
    let pod = format!("a pod of {}", super::several(days, "day"));
    let keep = "seed kept 14 days in the picked fruit does better (Sánchez 1993). It is left out of your own days to ripe seed";
    if days < FIRST_GERMINABLE_DAYS {
        return format!(
            "{pod}: the youngest pods whose seed germinated were {FIRST_GERMINABLE_DAYS} days old in one study; {keep}"
        );
    }
    if is_practice(species) {
        let ripe = ripe_from(species);
        return format!(
            "{pod}: those of {species} are seldom ripe before {ripe} days (common practice), so the seed may come up poorly; {keep}"
        );
    }
    format!(
        "{pod}: seed was best of pods of 44 and of 52 days in two studies, so this may come up poorly; {keep}"
    )
}

/// What a count of pods and drops that falls replaces.
fn fewer_set(cross: &str, before: [i64; 2], now: [i64; 2], may_be_further: bool) -> String {
    let words = |[pods, dropped]: [i64; 2]| {
        let verb = if pods + dropped == 1 { "was" } else { "were" };
        format!(
            "{} and {dropped} dropped {verb}",
            super::several(pods, "pod")
        )
    };
    let all = [before[0] + now[0], before[1] + now[1]];
    let further = match may_be_further {
        true => format!(
            " If these are further ones, 'locule set {cross} --pods {} --dropped {}'",
            all[0], all[1]
        ),
        false => " If that is a slip, 'locule undo'".to_owned(),
    };
    format!(
        "{} recorded of {cross} before; this replaces them, for counts are of all flowers so far.{further}",
        words(before)
    )
}

/// What a weak seedling of a cross between species may be.
fn runt_pulled(crossing: &Crossing) -> String {
    let Crossing { mother, father, .. } = crossing;
    let vigorous = if crossing.crossability.is_hard() {
        ", and the vigorous ones the selfs"
    } else {
        ""
    };
    format!(
        "{mother} x {father} is a cross between species: a weak or dwarf seedling may be the true hybrid{vigorous}; weak is no sign of an off-type. If it still stands, 'locule undo' and keep it"
    )
}

/// What to expect of a cross of species that seldom gives seed of its own.
fn hard_cross(crossing: &Crossing) -> String {
    let Crossing { mother, father, .. } = crossing;
    if crossing.is_within_species() {
        return format!(
            "crosses within {mother} are {} by what you said: few seeds, and what comes up may well be selfs of the mother ('locule species {mother} {father} default' takes it back)",
            crossing.crossability
        );
    }
    let hard = match crossing.crossability {
        Crossability::NotExpected => "is not expected to give seedlings without embryo culture",
        Crossability::VeryHard => "is very hard to cross: few seeds, if any",
        _ => "is hard to cross: few seeds",
    };
    format!(
        "{mother} x {father} {hard}; what comes up may well be selfs of the mother, and a weak seedling the true hybrid"
    )
}

/// A gene that got symbols of its own, said back.
fn gene(symbol: &str, recessive: &str, words: &OneGene) -> String {
    let OneGene {
        dominant,
        recessive: plain,
        between,
    } = words;
    let looks = match between {
        None => format!("{symbol}/_ is {dominant}"),
        Some(between) => format!("{symbol}/{symbol} is {dominant}, {symbol}/{recessive} {between}"),
    };
    format!(
        "the new gene is called {symbol}: {looks}, {recessive}/{recessive} {plain}; 'locule parent add CODE --genotype {symbol}/{recessive}' states what a parent has"
    )
}
