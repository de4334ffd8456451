//! What a class word means: the bench trait first, then the only seedling trait that has it.

use super::desk::Desk;
use super::find::{Wanted, thing};
use super::grade::refuse_graded;
use super::refusal::{LookRefusal, Refusal};
use super::traits::bench_trait;
use crate::records::code::{Code, fold};
use crate::records::day::Day;
use crate::records::entry::{Look, Seen, SeenWhat};
use crate::records::facts::Facts;
use crate::records::genes::{classes_of, is_seedling_trait};
use crate::records::near::nearest;
use crate::records::rows::{ReadingRow, Sureness, Thing, TraitClassRow};
use crate::records::text::shown;

/// One trait of a look: the class, or nothing where it could not be seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Sight {
    pub(super) of: i64,
    pub(super) class: Option<i64>,
    pub(super) sureness: Sureness,
}

/// The classes that a seedling's look names, each with how sure; what could not be scored is left out.
pub(super) fn classes_seen(facts: &Facts, look: &Look) -> Result<Vec<(i64, Sureness)>, Refusal> {
    let sights = Reader::seedlings(facts, None)?.read(look)?;
    let seen = |sight: &Sight| Some((sight.class?, sight.sureness));
    Ok(sights.iter().filter_map(seen).collect())
}

/// Reads class words by the ledger's traits.
pub(super) struct Reader<'f> {
    facts: &'f Facts,
    /// The trait named for all words.
    named: Option<i64>,
    bench: Option<i64>,
    /// Whether grown plants are read, of which any trait may be meant.
    grown: bool,
}

impl<'f> Reader<'f> {
    /// For seedlings.
    pub(super) fn seedlings(facts: &'f Facts, of: Option<&Code>) -> Result<Self, Refusal> {
        let named = of
            .map(|code| thing(facts, code, Wanted::Trait))
            .transpose()?;
        let named = named.map(|(_, id)| id);
        Ok(Self {
            facts,
            named,
            bench: bench_trait(facts),
            grown: false,
        })
    }

    /// For grown plants.
    pub(super) fn grown(facts: &'f Facts, of: Option<&Code>) -> Result<Self, Refusal> {
        Ok(Self {
            grown: true,
            ..Self::seedlings(facts, of)?
        })
    }

    /// Reads a look: each trait at most once.
    pub(super) fn read(&self, look: &Look) -> Result<Vec<Sight>, Refusal> {
        let mut sights: Vec<Sight> = Vec::new();
        for seen in look {
            let sight = self.read_one(seen, look.len() == 1)?;
            if let Some(other) = sights.iter().find(|other| other.of == sight.of) {
                let (first, second) = (self.word(other), self.word(&sight));
                return Err(LookRefusal::TraitTwice {
                    of: self.code(sight.of),
                    first,
                    second,
                }
                .into());
            }
            sights.push(sight);
        }
        Ok(sights)
    }

    /// Reads the looks of one entry. An `early` or `dim` without a trait is of those named beside it.
    pub(super) fn read_all(&self, looks: &[&Look]) -> Result<Vec<Vec<Sight>>, Refusal> {
        let mut read: Vec<Vec<Sight>> = Vec::new();
        for look in looks {
            read.push(self.read(look)?);
        }
        let beside: Option<Vec<i64>> = looks
            .iter()
            .zip(&read)
            .find(|(look, _)| !self.is_loose(look))
            .map(|(_, sights)| sights.iter().map(|sight| sight.of).collect());
        let Some(beside) = beside else {
            return Ok(read);
        };
        for (look, sights) in looks.iter().zip(&mut read) {
            if self.is_loose(look) {
                let sureness = sights[0].sureness;
                *sights = beside
                    .iter()
                    .map(|of| Sight {
                        of: *of,
                        class: None,
                        sureness,
                    })
                    .collect();
            }
        }
        Ok(read)
    }

    fn is_loose(&self, look: &Look) -> bool {
        let unseen =
            |seen: &Seen| seen.of.is_none() && matches!(seen.what, SeenWhat::Early | SeenWhat::Dim);
        self.named.is_none() && look.len() == 1 && look.iter().all(unseen)
    }

    fn read_one(&self, seen: &Seen, alone: bool) -> Result<Sight, Refusal> {
        let of = seen
            .of
            .as_ref()
            .map(|word| self.trait_named(word))
            .transpose()?;
        let (word, sureness) = match &seen.what {
            SeenWhat::Class(word) => (word, Sureness::Firm),
            SeenWhat::Maybe(word) => (word, Sureness::Doubtful),
            SeenWhat::Early => return self.unseen(of, Sureness::Early),
            SeenWhat::Dim => return self.unseen(of, Sureness::Dim),
        };
        let class = match (of, self.named) {
            (Some(of), _) => self.of_trait(of, word)?,
            (None, Some(named)) if alone => self.of_trait(named, word)?,
            (None, Some(named)) => match self.class(named, word) {
                Some(class) => class,
                None => self.bare(word)?,
            },
            (None, None) => self.bare(word)?,
        };
        refuse_graded(self.facts, class.trait_id)?;
        Ok(Sight {
            of: class.trait_id,
            class: Some(class.id),
            sureness,
        })
    }

    fn unseen(&self, of: Option<i64>, sureness: Sureness) -> Result<Sight, Refusal> {
        let of = of.or(self.named).or(self.bench);
        let of = of.ok_or_else(|| LookRefusal::Ambiguous {
            word: sureness.to_string(),
            candidates: self
                .offered()
                .map(|id| format!("{}:{sureness}", self.code(id)))
                .collect(),
        })?;
        Ok(Sight {
            of,
            class: None,
            sureness,
        })
    }

    fn trait_named(&self, word: &str) -> Result<i64, Refusal> {
        let code: Code = word.parse().map_err(|_| {
            let known = self
                .facts
                .code
                .iter()
                .filter(|row| row.thing == Thing::Trait);
            let nearest = nearest(word, known.map(|row| row.typed.as_str()));
            super::refusal::Identity::Unknown {
                wanted: Wanted::Trait,
                typed: shown(word),
                nearest,
            }
        })?;
        thing(self.facts, &code, Wanted::Trait).map(|(_, id)| id)
    }

    fn class(&self, of: i64, word: &str) -> Option<&'f TraitClassRow> {
        let wanted = fold(word);
        let classes = self.facts.trait_class.iter();
        classes
            .into_iter()
            .find(|class| class.trait_id == of && fold(&class.name) == wanted)
    }

    fn of_trait(&self, of: i64, word: &str) -> Result<&'f TraitClassRow, Refusal> {
        self.class(of, word).ok_or_else(|| {
            let classes = self
                .facts
                .trait_class
                .iter()
                .filter(|class| class.trait_id == of);
            let classes = classes.map(|class| class.name.clone()).collect();
            LookRefusal::NotOfTrait {
                word: shown(word),
                of: self.code(of),
                classes,
            }
            .into()
        })
    }

    /// The traits offered for scoring.
    fn offered(&self) -> impl Iterator<Item = i64> + use<'f> {
        self.facts
            .trait_
            .iter()
            .filter(|row| row.switched_on)
            .map(|row| row.id)
    }

    /// A class word without its trait.
    fn bare(&self, word: &str) -> Result<&'f TraitClassRow, Refusal> {
        if let Some(class) = self.bench.and_then(|bench| self.class(bench, word)) {
            return Ok(class);
        }
        let all: Vec<_> = self
            .offered()
            .filter_map(|of| self.class(of, word))
            .collect();
        let is_seedling = |class: &&&TraitClassRow| {
            self.facts
                .trait_
                .get(class.trait_id)
                .is_some_and(is_seedling_trait)
        };
        let seedling: Vec<_> = all.iter().filter(is_seedling).copied().collect();
        match (&seedling[..], &all[..]) {
            ([only], _) => Ok(only),
            ([], [only]) if self.grown => Ok(only),
            ([], []) => Err(self.unknown(word)),
            ([], several) | (several, _) => {
                let full = |class: &&TraitClassRow| {
                    format!("{}:{}", self.code(class.trait_id), class.name)
                };
                let candidates = several.iter().map(full).collect();
                Err(LookRefusal::Ambiguous {
                    word: shown(word),
                    candidates,
                }
                .into())
            }
        }
    }

    /// A word that no trait on offer has: a class of one switched off, or of none.
    fn unknown(&self, word: &str) -> Refusal {
        let off = self.facts.trait_.iter().filter(|row| !row.switched_on);
        let off = off.filter_map(|row| self.class(row.id, word)).next();
        if let Some(class) = off {
            let candidates = vec![format!("{}:{}", self.code(class.trait_id), class.name)];
            return LookRefusal::Ambiguous {
                word: shown(word),
                candidates,
            }
            .into();
        }
        let known = self
            .facts
            .trait_class
            .iter()
            .map(|class| class.name.as_str());
        LookRefusal::UnknownClass {
            word: shown(word),
            nearest: nearest(word, known),
            offered: self.seedling_traits(),
            meant: self.meant_by(word),
        }
        .into()
    }

    /// The seedling traits on offer, each with its classes: `foliage: purple, green`.
    fn seedling_traits(&self) -> Vec<String> {
        let rows = self.facts.trait_.iter();
        let offered = rows.filter(|row| row.switched_on && is_seedling_trait(row));
        let line = |of: i64| {
            let classes = classes_of(self.facts, of).into_iter();
            let names: Vec<&str> = classes.map(|class| class.name.as_str()).collect();
            format!("{}: {}", self.code(of), names.join(", "))
        };
        offered.map(|row| line(row.id)).collect()
    }

    /// Whether any trait on offer has a class of a name.
    fn is_class(&self, word: &str) -> bool {
        self.offered().any(|of| self.class(of, word).is_some())
    }

    /// What a made-up word stands for: doubt put before a class, or classes joined by commas.
    fn meant_by(&self, word: &str) -> Option<String> {
        let pieces: Vec<&str> = word.split(',').map(str::trim).collect();
        if pieces.len() > 1 && pieces.iter().all(|piece| self.is_class(piece)) {
            return Some(pieces.join("/"));
        }
        let at = word.match_indices('-').map(|(at, _)| at);
        let mut ends = at.map(|at| &word[at + 1..]);
        ends.find(|end| self.is_class(end))
            .map(|class| format!("maybe-{class}"))
    }

    /// A sight as it was typed.
    pub(super) fn word(&self, sight: &Sight) -> String {
        let class = sight.class.and_then(|id| self.facts.trait_class.get(id));
        match (class, sight.sureness) {
            (Some(class), Sureness::Doubtful) => format!("maybe-{}", class.name),
            (Some(class), _) => class.name.clone(),
            (None, sureness) => sureness.to_string(),
        }
    }

    /// A look as it was typed: `purple/hairy`.
    pub(super) fn words(&self, look: &[Sight]) -> String {
        look.iter()
            .map(|sight| self.word(sight))
            .collect::<Vec<_>>()
            .join("/")
    }

    /// The code of a trait.
    pub(super) fn code(&self, of: i64) -> String {
        self.facts
            .code_of(Thing::Trait, of)
            .unwrap_or("?")
            .to_owned()
    }
}

/// Enters the readings of one plant, one per trait; gives their numbers.
pub(super) fn enter_reading(
    desk: &mut Desk,
    plant_id: i64,
    look: &[Sight],
    day: Day,
    leaves: Option<i64>,
) -> Vec<i64> {
    let enter = |sight: &Sight| {
        let Sight {
            of,
            class,
            sureness,
        } = *sight;
        desk.insert(|id| ReadingRow {
            id,
            plant_id,
            trait_id: Some(of),
            class_id: class,
            sureness,
            day,
            leaves,
        })
    };
    look.iter().map(enter).collect()
}
