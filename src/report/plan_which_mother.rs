//! Which of two plants to take as mother, in words and JSON: both directions side by side.

use std::cmp::Ordering;

use serde::Serialize;

use super::numbers::percent;
use super::table::Table;
use super::text::{listed, rests_on, shown, wrapped};
use super::{Answer, Page};
use crate::genetics::species::Crossability;
use crate::planning::which_mother::Revealed;

/// Shares of off-types that a marker shows.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RevealedLine {
    /// Of the mother's selfs; nothing where she makes no pollen.
    pub selfs: Option<f64>,
    /// Of seed by strange pollen.
    pub pollen: f64,
    /// Of strange seed.
    pub seed: f64,
    /// Of all, by the starting beliefs.
    pub all: f64,
}

impl From<Revealed> for RevealedLine {
    fn from(found: Revealed) -> Self {
        Self {
            selfs: found.selfs,
            pollen: found.pollen,
            seed: found.seed,
            all: found.all,
        }
    }
}

/// What one trait reveals.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarkerLine {
    /// Its code.
    #[serde(rename = "trait")]
    pub of: String,
    /// Whether it only grades what a plainer one shows.
    pub graded: bool,
    /// The classes that true seedlings show.
    pub label_shows: Vec<String>,
    /// What it reveals.
    #[serde(flatten)]
    pub revealed: RevealedLine,
}

/// One direction.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DirectionLine {
    /// The mother.
    pub mother: String,
    /// The father.
    pub father: String,
    /// All markers together, those that only grade left out.
    #[serde(flatten)]
    pub revealed: RevealedLine,
    /// Marker by marker.
    pub traits: Vec<MarkerLine>,
    /// How readily it sets: `same-species`, `usual`, `hard`, `very-hard`, `not-expected`, `unknown`.
    pub crossability: String,
    /// How fertile the F1 is: `high`, `partial`, `variable`, `unknown`.
    pub fertility: String,
    /// The species, mother and father, where both are stated.
    pub species: Option<[String; 2]>,
    /// Whether the mother makes no pollen.
    pub mother_without_pollen: bool,
    /// Whether the father makes none.
    pub father_without_pollen: bool,
    /// How readily it sets, for the words.
    #[serde(skip)]
    pub kind: Crossability,
}

impl DirectionLine {
    fn pair(&self) -> String {
        format!("{} x {}", shown(&self.mother), shown(&self.father))
    }

    /// How readily it sets, as it goes on after the pair or after "of" and the pair.
    const fn sets(&self) -> &'static str {
        match self.kind {
            Crossability::SameSpecies => "sets readily",
            Crossability::Usual => "usually sets",
            Crossability::Hard => "few pods and few seeds are to be expected",
            Crossability::VeryHard => "rarely a seed is to be expected",
            Crossability::NotExpected => "no seed is expected without embryo culture",
            Crossability::Unknown => "nothing is known",
        }
    }

    /// Whether its F1 may look like runts: a cross between species with a mother of which that is in print.
    fn may_be_runts(&self) -> bool {
        let wide = self.species.as_ref().filter(|[one, other]| one != other);
        wide.is_some_and(|[mother, _]| matches!(mother.as_str(), "chinense" | "frutescens"))
            && self.kind != Crossability::NotExpected
    }
}

/// The answer of `plan which-mother`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WhichMotherAnswer {
    /// The better mother; nothing where both are alike, or no seed is expected.
    pub mother: Option<String>,
    /// Both directions, as asked first.
    pub directions: Vec<DirectionLine>,
    /// What is not stated of them: `CW at A`.
    pub not_stated: Vec<String>,
    #[serde(skip)]
    choice: Choice,
}

/// How much harder than usual a cross is, for taking the easier way: of what nobody has reported as little is hoped as of
/// a hard one (design choice).
const fn effort(crossability: Crossability) -> u8 {
    match crossability {
        Crossability::SameSpecies | Crossability::Usual => 0,
        Crossability::Hard | Crossability::Unknown => 1,
        Crossability::VeryHard => 2,
        Crossability::NotExpected => 3,
    }
}

/// Which of the two is taken as mother, by its place, and why.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Choice {
    /// Neither makes pollen.
    NoPollen,
    /// No seed is expected of any way there is; the one whose markers reveal more, should embryos be rescued.
    NoSeed(Option<usize>),
    /// The only way there is pollen for.
    OnlyPollen(usize),
    /// The only way of which seed is expected.
    OnlySeed(usize),
    /// The markers reveal more.
    Markers(usize),
    /// The markers reveal as much either way, and it sets more readily.
    Easier(usize),
    /// Both are alike.
    Either,
}

impl Choice {
    fn of(directions: &[DirectionLine]) -> Self {
        let [one, other] = directions else {
            return Self::Either;
        };
        let by_markers = match one.revealed.all - other.revealed.all {
            more if more >= ALIKE => Some(0),
            less if less <= -ALIKE => Some(1),
            _ => None,
        };
        let possible: Vec<usize> = (0..2)
            .filter(|at| !directions[*at].father_without_pollen)
            .collect();
        let hopeful: Vec<usize> = possible
            .iter()
            .copied()
            .filter(|at| directions[*at].kind != Crossability::NotExpected)
            .collect();
        match (possible.as_slice(), hopeful.as_slice()) {
            ([], _) => Self::NoPollen,
            ([only], []) => Self::NoSeed(Some(*only)),
            (_, []) => Self::NoSeed(by_markers),
            ([only], _) => Self::OnlyPollen(*only),
            (_, [only]) => Self::OnlySeed(*only),
            _ => match (by_markers, effort(one.kind).cmp(&effort(other.kind))) {
                (Some(at), _) => Self::Markers(at),
                (None, Ordering::Less) => Self::Easier(0),
                (None, Ordering::Greater) => Self::Easier(1),
                (None, Ordering::Equal) => Self::Either,
            },
        }
    }

    const fn mother(self) -> Option<usize> {
        match self {
            Self::OnlyPollen(at) | Self::OnlySeed(at) | Self::Markers(at) | Self::Easier(at) => {
                Some(at)
            }
            Self::NoPollen | Self::NoSeed(_) | Self::Either => None,
        }
    }
}

/// Directions that reveal shares nearer than this are alike.
const ALIKE: f64 = 5e-3;

impl WhichMotherAnswer {
    /// The answer of both directions.
    #[must_use]
    pub fn new(directions: Vec<DirectionLine>, not_stated: Vec<String>) -> Self {
        let choice = Choice::of(&directions);
        let mother = choice.mother().map(|at| directions[at].mother.clone());
        Self {
            mother,
            directions,
            not_stated,
            choice,
        }
    }

    fn headline(&self) -> String {
        let pair = |at: usize| self.directions[at].pair();
        let named = |at: usize| shown(&self.directions[at].mother);
        let revealed = |at: usize| percent(self.directions[at].revealed.all);
        match self.choice {
            Choice::NoPollen => {
                "Neither of the two makes pollen: they cannot be crossed.".to_owned()
            }
            Choice::NoSeed(best) => format!(
                "No seed is expected of {} or {} without embryo culture.{}",
                pair(0),
                pair(1),
                best.map_or_else(String::new, |at| format!(
                    " If you rescue embryos, take {} as mother: {}.",
                    named(at),
                    self.shows(at)
                ))
            ),
            Choice::OnlyPollen(at) => format!(
                "Take {} as mother: it makes no pollen, so the other way cannot be.{}",
                named(at),
                self.hard_work(at)
            ),
            Choice::OnlySeed(at) => format!(
                "Take {} as mother: of {} no seed is expected without embryo culture. With {0} as mother {}.{}",
                named(at),
                pair(1 - at),
                self.shows(at),
                self.hard_work(at)
            ),
            Choice::Easier(at) => format!(
                "Take {} as mother: {} {}, of {} {}; the markers reveal as much either way, {} of all that can go wrong.",
                named(at),
                pair(at),
                self.directions[at].sets(),
                pair(1 - at),
                self.directions[1 - at].sets(),
                revealed(at)
            ),
            Choice::Markers(at) => format!(
                "Take {} as mother: {}; with {} as mother {}.{}",
                named(at),
                self.shows(at),
                named(1 - at),
                revealed(1 - at),
                self.hard_work(at)
            ),
            Choice::Either => {
                let alike = match self.directions[0].revealed.all < ALIKE {
                    true => "no seedling marker that is switched on reveals an accident in either direction"
                        .to_owned(),
                    false => format!(
                        "the markers reveal {} of what can go wrong in both directions",
                        revealed(0)
                    ),
                };
                format!("Either way: {alike}.{}", self.hard_work(0))
            }
        }
    }

    /// What the markers reveal with one of the two as mother.
    fn shows(&self, at: usize) -> String {
        let RevealedLine { selfs, all, .. } = self.directions[at].revealed;
        let selfs = match selfs {
            Some(p) => format!("{} of its selfs", percent(p)),
            None => "no selfs at all, for it makes no pollen".to_owned(),
        };
        format!(
            "the markers then reveal {selfs}, and {} of all that can go wrong",
            percent(all)
        )
    }

    /// That a direction sets hardly, and whether the other is easier.
    fn hard_work(&self, at: usize) -> String {
        let (own, other) = (&self.directions[at], &self.directions[1 - at]);
        if !own.kind.is_hard() {
            return String::new();
        }
        let easier = match effort(other.kind) < effort(own.kind) && !other.father_without_pollen {
            true => format!(", while {} {}", other.pair(), other.sets()),
            false => String::new(),
        };
        format!(" Mind that of {} {}{easier}.", own.pair(), own.sets())
    }

    fn table(&self, page: Page) -> String {
        let mut table = Table::new(&[
            "mother",
            "marker",
            "true ones show",
            ">selfs",
            ">stray pollen",
            ">stray seed",
        ]);
        for line in &self.directions {
            let mut mother = shown(&line.mother);
            for marker in line.traits.iter().filter(|marker| self.tells(&marker.of)) {
                let shows = listed(&marker.label_shows, "or");
                table.row(row(
                    std::mem::take(&mut mother),
                    &marker.of,
                    &shows,
                    marker.revealed,
                ));
            }
            table.row(row(mother, "all together", "", line.revealed));
        }
        table.text(page)
    }

    /// Whether a marker reveals anything, in either direction.
    fn tells(&self, of: &str) -> bool {
        let mut markers = self.directions.iter().flat_map(|line| &line.traits);
        markers.any(|marker| {
            let found = marker.revealed;
            let most = found.selfs.unwrap_or(0.0).max(found.pollen).max(found.seed);
            marker.of == of && most >= ALIKE
        })
    }

    fn cautions(&self) -> Vec<String> {
        let mut said = Vec::new();
        for line in &self.directions {
            let (mother, father) = (shown(&line.mother), shown(&line.father));
            let pair = line.pair();
            if let Some([one, other]) = &line.species {
                let word = setting_word(&line.crossability, &line.fertility);
                if !word.is_empty() {
                    said.push(format!(
                        "{pair}, {} by {}: {word}",
                        shown(one),
                        shown(other)
                    ));
                }
            }
            if line.may_be_runts() && !line.father_without_pollen {
                said.push(format!(
                    "{pair}: F1 seedlings may look dwarf or virus-sick (Manzur 2015, of such mothers): spare the weak ones"
                ));
            }
            if line.father_without_pollen {
                said.push(format!("{pair} cannot be: {father} makes no pollen"));
            }
            if line.mother_without_pollen && !line.father_without_pollen {
                said.push(format!(
                    "{pair}: no selfs, but what makes {mother} sterile may come down to the seedlings from her alone"
                ));
            }
        }
        let graded = self
            .directions
            .first()
            .into_iter()
            .flat_map(|line| &line.traits);
        let graded: Vec<&str> = graded
            .filter(|one| one.graded && self.tells(&one.of))
            .map(|one| one.of.as_str())
            .collect();
        if !graded.is_empty() {
            said.push(format!(
                "{}: only where its grades can be told from one another; not counted among all together",
                listed(&graded, "and")
            ));
        }
        if !self.not_stated.is_empty() {
            said.push(format!(
                "not stated: {}; there the looks they were scored with and the starting beliefs stand in",
                listed(&self.not_stated, "and")
            ));
        }
        said.push(
            "once late colours show; strange pollen and seed by the allele shares; all that can go wrong by the starting beliefs for emasculated flowers".to_owned(),
        );
        said.push("the pod on the mother looks as hers always do and proves nothing".to_owned());
        said
    }
}

/// How readily a pair of species sets, in words; nothing of one species.
pub(super) fn setting_word(crossability: &str, fertility: &str) -> &'static str {
    match (crossability, fertility) {
        ("hard", _) => "few pods and few seeds are to be expected",
        ("very-hard", _) => "rarely a seed is to be expected",
        ("not-expected", _) => "no seed is expected without embryo culture",
        ("usual", "high") => "it usually sets, and its F1 is fertile",
        ("usual", "partial") => "it usually sets, though its F1 is only partly fertile",
        ("usual", "variable") => {
            "it usually sets; how fertile its F1 is differs from cross to cross"
        }
        ("usual", _) => "it usually sets; how fertile its F1 is nobody has reported",
        ("unknown", _) => "nothing is known of this pair of species",
        _ => "",
    }
}

fn row(mother: String, marker: &str, shows: &str, found: RevealedLine) -> [String; 6] {
    [
        mother,
        marker.to_owned(),
        shows.to_owned(),
        found.selfs.map_or_else(|| "none come".to_owned(), percent),
        percent(found.pollen),
        percent(found.seed),
    ]
}

impl Answer for WhichMotherAnswer {
    fn words(&self, page: Page) -> String {
        let head = wrapped(&self.headline(), page.width, "");
        let rests = rests_on(&self.cautions(), page.width);
        format!("{head}\n\n{}\n\n{rests}", self.table(page))
    }
}
