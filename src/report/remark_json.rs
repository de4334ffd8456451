//! Remarks as fields: those that name plants, days or numbers, so that a script need not read the sentence.
//!
//! Beside the sentences of `notes`, in `suspects`, `why` and `genotype`; remarks that are no more than their sentence are
//! left to it.

use serde::Serialize;

use crate::diagnosis::answer::{EvidenceNote, NoControl, OffByAll, SelfsUnseen, Tells};

/// A trait that shows selfs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TellsJson<'a> {
    #[serde(rename = "trait")]
    of: &'a str,
    on: bool,
    of_self: &'a str,
    of_label: &'a str,
}

impl<'a> TellsJson<'a> {
    fn of(tells: &'a Tells) -> Self {
        Self {
            of: &tells.trait_code,
            on: tells.switched_on,
            of_self: &tells.of_self,
            of_label: &tells.of_label,
        }
    }
}

/// P(off-type) of seedlings by everything recorded.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OffByAllJson<'a> {
    seedlings: Vec<&'a str>,
    kept_as: Option<&'a str>,
    p_off_listed: f64,
    p_off: f64,
}

impl<'a> OffByAllJson<'a> {
    fn of(one: &'a OffByAll) -> Self {
        Self {
            seedlings: one.whose.iter().map(|(name, _)| name.as_str()).collect(),
            kept_as: one.code.as_deref(),
            p_off_listed: one.listed,
            p_off: one.p_off,
        }
    }
}

/// The cross made the other way round.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OtherWayJson<'a> {
    #[serde(flatten)]
    tells: TellsJson<'a>,
    crossing: String,
    crosses: &'a [String],
    trays: &'a [String],
}

/// A father that would show selfs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FatherJson<'a> {
    genotype: &'a str,
    stated: Option<&'a str>,
}

/// A remark, its `kind` first.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum RemarkJson<'a> {
    /// A cross between species, or a hard one within.
    WideCross {
        /// The mother's species.
        mother: &'a str,
        /// The father's.
        father: &'a str,
        /// How hard the cross is.
        crossing: String,
        /// How many times likelier a whole tray of selfs is.
        all_self_times: f64,
    },
    /// A batch that is too large to weigh.
    TooLarge {
        /// Cells needed.
        needed: f64,
        /// Cells allowed.
        limit: f64,
        /// The trait that is missed least.
        #[serde(rename = "trait")]
        of: Option<&'a str>,
    },
    /// A trait left out, since with it the sums would be too large.
    TraitLeftOut {
        /// The trait.
        #[serde(rename = "trait")]
        of: &'a str,
        /// Which plants; a tray for what was tallied there.
        whose: &'a [String],
        /// Cells needed with it.
        needed: f64,
    },
    /// Looks of growth that are no evidence.
    RuntsLeftOut {
        /// The trait.
        #[serde(rename = "trait")]
        of: &'a str,
        /// Which seedlings.
        whose: &'a [String],
        /// Whether tallies counted it.
        in_tallies: bool,
    },
    /// Two looks on one day.
    ReadTwice {
        /// Which plants.
        whose: &'a [String],
        /// The day.
        day: String,
        /// The trait.
        #[serde(rename = "trait")]
        of: &'a str,
        /// The look that does not count.
        set_aside: &'a str,
        /// The look that does.
        counted: &'a str,
    },
    /// A look from after the end.
    ReadWhenGone {
        /// Which plants.
        whose: &'a [String],
        /// The day of the look.
        day: String,
        /// The trait.
        #[serde(rename = "trait")]
        of: &'a str,
        /// The look.
        class: &'a str,
        /// How they had gone.
        fate: String,
        /// When.
        since: String,
    },
    /// A plant that is no donor, being sown too late.
    DonorSownLater {
        /// The plant.
        plant: &'a str,
        /// When it was sown.
        sown: String,
        /// The day of the cross.
        crossed: String,
    },
    /// A parent read as a class that its statement cannot give.
    ParentLooksOtherwise {
        /// The parent.
        plant: &'a str,
        /// What is stated of it.
        stated: &'a str,
        /// The trait.
        #[serde(rename = "trait")]
        of: &'a str,
        /// The class read.
        class: &'a str,
        /// The day of the reading.
        on: String,
    },
    /// A pot that is no control.
    NoControl {
        /// The pot.
        pot: &'a str,
        /// Whose seed it is.
        parent: &'a str,
        /// The tray that it is no control of.
        tray: &'a str,
        /// Why: `need-not-turn`, `other-place`, `other-day`, `too-young`.
        why: &'static str,
    },
    /// What plants kept from a tray and their offspring say of its seedlings, and its list does not.
    KeptSay {
        /// Seedlings read alike together.
        seedlings: Vec<OffByAllJson<'a>>,
    },
    /// What would show selfs.
    SelfsUnseen {
        /// The mother.
        mother: &'a str,
        /// The father.
        father: &'a str,
        /// The class that all show, as the mother does.
        all_like_mother: Option<&'a str>,
        /// Traits that would.
        traits: Vec<TellsJson<'a>>,
        /// The cross the other way round.
        other_way: Option<OtherWayJson<'a>>,
        /// A father that would.
        father_as: Option<FatherJson<'a>>,
    },
}

impl<'a> RemarkJson<'a> {
    /// Of a remark; nothing for those that are no more than their sentence.
    #[must_use]
    pub fn of(note: &'a EvidenceNote) -> Option<Self> {
        Some(match note {
            EvidenceNote::WideCross {
                mother,
                father,
                crossability,
                all_self_times,
            } => Self::WideCross {
                mother,
                father,
                crossing: crossability.to_string(),
                all_self_times: *all_self_times,
            },
            EvidenceNote::TooLarge {
                needed,
                limit,
                least,
                ..
            } => Self::TooLarge {
                needed: *needed as f64,
                limit: *limit as f64,
                of: least.as_deref(),
            },
            EvidenceNote::TraitLeftOut {
                trait_code,
                whose,
                needed,
            } => Self::TraitLeftOut {
                of: trait_code,
                whose,
                needed: *needed as f64,
            },
            EvidenceNote::RuntsLeftOut {
                trait_code,
                whose,
                in_tallies,
            } => Self::RuntsLeftOut {
                of: trait_code,
                whose,
                in_tallies: *in_tallies,
            },
            EvidenceNote::ReadTwice {
                whose,
                day,
                trait_code,
                set_aside,
                counted,
            } => Self::ReadTwice {
                whose,
                day: day.to_string(),
                of: trait_code,
                set_aside,
                counted,
            },
            EvidenceNote::ReadWhenGone {
                whose,
                day,
                trait_code,
                class,
                fate,
                since,
            } => Self::ReadWhenGone {
                whose,
                day: day.to_string(),
                of: trait_code,
                class,
                fate: fate.to_string(),
                since: since.to_string(),
            },
            EvidenceNote::DonorSownLater {
                plant,
                sown,
                crossed,
            } => Self::DonorSownLater {
                plant,
                sown: sown.to_string(),
                crossed: crossed.to_string(),
            },
            EvidenceNote::ParentLooksOtherwise {
                plant,
                stated,
                trait_code,
                class,
                day,
            } => Self::ParentLooksOtherwise {
                plant,
                stated,
                of: trait_code,
                class,
                on: day.to_string(),
            },
            EvidenceNote::NoControl {
                pot,
                parent,
                tray,
                why,
            } => Self::NoControl {
                pot,
                parent,
                tray,
                why: why_word(why),
            },
            EvidenceNote::KeptSay { seedlings, .. } => Self::KeptSay {
                seedlings: seedlings.iter().map(OffByAllJson::of).collect(),
            },
            EvidenceNote::SelfsUnseen(unseen) => selfs_unseen(unseen),
            _ => return None,
        })
    }

    /// Of all remarks that have fields.
    #[must_use]
    pub fn all(notes: &'a [EvidenceNote]) -> Vec<Self> {
        notes.iter().filter_map(Self::of).collect()
    }
}

const fn why_word(why: &NoControl) -> &'static str {
    match why {
        NoControl::NeedNotTurn { .. } => "need-not-turn",
        NoControl::OtherPlace { .. } => "other-place",
        NoControl::OtherDay { .. } => "other-day",
        NoControl::TooYoung => "too-young",
    }
}

fn selfs_unseen(unseen: &SelfsUnseen) -> RemarkJson<'_> {
    RemarkJson::SelfsUnseen {
        mother: &unseen.mother,
        father: &unseen.father,
        all_like_mother: unseen.all_like_mother.as_deref(),
        traits: unseen.traits.iter().map(TellsJson::of).collect(),
        other_way: unseen.other_way.as_ref().map(|way| OtherWayJson {
            tells: TellsJson::of(&way.tells),
            crossing: way.crossability.to_string(),
            crosses: &way.crosses,
            trays: &way.trays,
        }),
        father_as: unseen
            .father_as
            .as_ref()
            .map(|(genotype, stated)| FatherJson {
                genotype,
                stated: stated.as_deref(),
            }),
    }
}
