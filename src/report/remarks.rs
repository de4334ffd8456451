//! Remarks on how far an answer reaches: what was set aside, what is too large, what the light did.

use super::numbers::percent;
use super::text::listed;
use crate::diagnosis::answer::EvidenceNote;

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

/// A remark in a sentence; nothing for those that the diagnosis words elsewhere.
#[must_use]
pub fn remark(note: &EvidenceNote) -> Option<String> {
    Some(match note {
        EvidenceNote::TraitOff { trait_code } => format!(
            "Readings of {trait_code} are left out, since it is switched off ('locule trait on {trait_code}' takes them in)."
        ),
        EvidenceNote::TooLarge {
            needed,
            limit,
            linked,
        } => format!(
            "Too many traits were read here to weigh them all at once (the exact answer needs {needed} cells, {limit} are allowed{}). Switch off those that matter least: 'locule trait off CODE'.",
            weighed_as_one(linked).map_or_else(String::new, |why| format!("; {why}"))
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
        _ => return None,
    })
}
