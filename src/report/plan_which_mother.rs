//! Which of two plants to take as mother, in words and JSON: both directions side by side.

use serde::Serialize;

use super::numbers::percent;
use super::table::Table;
use super::text::{listed, rests_on, shown, wrapped};
use super::{Answer, Page};
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
    /// The species, mother and father, where both are stated.
    pub species: Option<[String; 2]>,
    /// Whether the mother makes no pollen.
    pub mother_without_pollen: bool,
    /// Whether the father makes none.
    pub father_without_pollen: bool,
}

/// The answer of `plan which-mother`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WhichMotherAnswer {
    /// The better mother; nothing where both are alike.
    pub mother: Option<String>,
    /// Both directions, as asked first.
    pub directions: Vec<DirectionLine>,
    /// What is not stated of them: `CW at A`.
    pub not_stated: Vec<String>,
}

/// Directions that reveal shares nearer than this are alike.
const ALIKE: f64 = 5e-3;

impl WhichMotherAnswer {
    /// The answer of both directions.
    #[must_use]
    pub fn new(directions: Vec<DirectionLine>, not_stated: Vec<String>) -> Self {
        let can = |line: &&DirectionLine| !line.father_without_pollen;
        let possible: Vec<&DirectionLine> = directions.iter().filter(can).collect();
        let mother = match possible.as_slice() {
            [only] => Some(only.mother.clone()),
            [one, other] if (one.revealed.all - other.revealed.all).abs() < ALIKE => None,
            [one, other] => {
                let better = if one.revealed.all > other.revealed.all {
                    one
                } else {
                    other
                };
                Some(better.mother.clone())
            }
            _ => None,
        };
        Self {
            mother,
            directions,
            not_stated,
        }
    }

    fn headline(&self) -> String {
        let [one, other] = self.directions.as_slice() else {
            return String::new();
        };
        if one.father_without_pollen && other.father_without_pollen {
            return "Neither of the two makes pollen: they cannot be crossed.".to_owned();
        }
        let better = self
            .directions
            .iter()
            .find(|line| Some(&line.mother) == self.mother.as_ref());
        let Some(better) = better else {
            return match one.revealed.all < ALIKE {
                true => "Either way: no seedling marker that is switched on reveals an accident in either direction.".to_owned(),
                false => format!(
                    "Either way: the markers reveal {} of what can go wrong in both directions.",
                    percent(one.revealed.all)
                ),
            };
        };
        let mother = shown(&better.mother);
        let worse = if std::ptr::eq(better, one) {
            other
        } else {
            one
        };
        if worse.father_without_pollen {
            return format!(
                "Take {mother} as mother: it makes no pollen, so the other way cannot be."
            );
        }
        let selfs = match better.revealed.selfs {
            Some(p) => format!("{} of its selfs", percent(p)),
            None => "no selfs at all, for it makes no pollen".to_owned(),
        };
        format!(
            "Take {mother} as mother: the markers then reveal {selfs}, and {} of all that can go wrong; with {} as mother {}.",
            percent(better.revealed.all),
            shown(&worse.mother),
            percent(worse.revealed.all)
        )
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
            let pair = format!("{mother} x {father}");
            if let Some([one, other]) = &line.species {
                let word = setting_word(&line.crossability);
                if !word.is_empty() {
                    said.push(format!(
                        "{pair}, {} by {}: {word}",
                        shown(one),
                        shown(other)
                    ));
                }
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
                "not stated: {}; there the starting beliefs stand in",
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
pub(super) fn setting_word(crossability: &str) -> &'static str {
    match crossability {
        "hard" => "few pods and few seeds are to be expected",
        "very-hard" => "rarely a seed is to be expected",
        "not-expected" => "no seed is expected without embryo culture",
        "usual" => "it usually sets, though its F1 is only partly fertile",
        "unknown" => "nothing is known of this pair of species",
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
