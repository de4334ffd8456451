//! Where plants and seed come from: tree, Purdy's notation, generation, inbreeding, founders, kinship.

use serde::Serialize;

use super::adopted::Accident;
use crate::genetics::generation::{Base, FIXED_AFTER, Generation, ParentFixed, recurrent_share};
use crate::genetics::kinship::{DescentError, Kinship};
use crate::genetics::purdy::Pedigree;
use crate::records::assumptions::Assumptions;
use crate::records::descent::adoption_of;
use crate::records::facts::Facts;
use crate::records::pedigree::{Kin, Lineage, LineageError};
use crate::records::rows::{PlantKind, Thing};

/// One ancestor, or the plant or seed asked about.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AncestorLine {
    /// Its code, place, name or pedigree.
    pub plant: String,
    /// Its name beside its code.
    pub name: Option<String>,
    /// Its kind: line, packet, plant, seedling, ancestor; nothing for seed.
    pub kind: Option<&'static str>,
    /// Its mother.
    pub mother: Option<String>,
    /// Its father; the mother again for a self.
    pub father: Option<String>,
    /// Its generation, where that has a usual name.
    pub generation: Option<String>,
    /// Its inbreeding coefficient.
    pub inbreeding: f64,
    /// Where it was kept as what its label does not say: as what, and how sure that was.
    pub accidental: Option<Accident>,
    /// Mother and father by their places in the list of ancestors.
    #[serde(skip)]
    pub(super) parents: Option<(usize, usize)>,
}

/// A founder's share.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FounderShare {
    /// The founder.
    pub founder: String,
    /// Its expected share.
    pub share: f64,
}

/// Whether a parent of a cross breeds true.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ParentState {
    /// The parent.
    pub parent: String,
    /// Its kind.
    pub kind: &'static str,
    /// `yes`, `no` or `unknown`.
    pub fixed: &'static str,
}

/// What comes back of the recurrent parent.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Recurrent {
    /// The parent.
    pub parent: String,
    /// How often it was crossed back.
    pub backcrosses: u32,
    /// Its expected share.
    pub share: f64,
}

/// The pedigree of one plant or of the seed of one cross, lot or tray.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OnePedigree {
    /// As asked: a code, a place, a lot.
    pub code: String,
    /// Whether it is a plant, or seed and what is sown of it.
    pub of: &'static str,
    /// Its kind; nothing for seed.
    pub kind: Option<&'static str>,
    /// In Purdy's notation, by codes; nothing for a founder, or where it would be too long.
    pub pedigree: Option<String>,
    /// The same by names, where there are some.
    pub pedigree_by_name: Option<String>,
    /// The generation, where it has a usual name: `F2`.
    pub generation: Option<String>,
    /// The family of seed from one plant, or that a plant comes from: `F2:3`.
    pub family: Option<String>,
    /// Of a line or packet the generation of the cross it came out of.
    pub out_of: Option<String>,
    /// The generation of its selfed seed.
    pub selfed_seed: Option<String>,
    /// Of a first cross, whether its parents breed true.
    pub parents_fixed: Vec<ParentState>,
    /// Of a backcross, what comes back of the recurrent parent.
    pub recurrent: Option<Recurrent>,
    /// The inbreeding coefficient.
    pub inbreeding: f64,
    /// Expected shares of the founders, largest first.
    pub founders: Vec<FounderShare>,
    /// The plant or seed and its ancestors, parents first, itself last.
    pub ancestors: Vec<AncestorLine>,
}

/// The kinship of two.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct KinshipLine {
    /// The one.
    pub one: String,
    /// The other.
    pub other: String,
    /// The chance that an allele of either is a copy of the same one.
    pub kinship: f64,
}

/// The answer of `pedigree`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PedigreeAnswer {
    /// One by one, in the order asked.
    pub plants: Vec<OnePedigree>,
    /// Every two of them, and each with itself; none where one was asked about.
    pub kinship: Vec<KinshipLine>,
}

/// The pedigree of a plant in Purdy's notation, by codes; nothing for a founder or where it would be too long.
#[must_use]
pub fn purdy_of(facts: &Facts, plant: i64) -> Option<String> {
    let row = facts.plant.get(plant)?;
    if row.batch_id.is_some() && adoption_of(facts, plant).is_none() {
        return None;
    }
    let lineage = Lineage::of(facts, &Assumptions::of(facts), &[Kin::Plant(plant)]).ok()?;
    let names = Names::of(facts, &lineage);
    let place = *lineage.asked.first()?;
    let found = lineage.purdy(place, |at| names.codes[at].clone())?;
    Some(found.to_string())
}

impl PedigreeAnswer {
    /// Of some plants and seed as they were called.
    ///
    /// # Errors
    /// [`LineageError`] where a plant descends from itself, or too many plants would have to be worked out.
    pub fn new(facts: &Facts, asked: &[(String, Kin)]) -> Result<Self, LineageError> {
        let kin: Vec<Kin> = asked.iter().map(|(_, kin)| *kin).collect();
        let lineage = Lineage::of(facts, &Assumptions::of(facts), &kin)?;
        let kinship = lineage.kinship()?;
        let view = View {
            generations: lineage.generations(),
            names: Names::of(facts, &lineage),
            lineage: &lineage,
            kinship: &kinship,
        };
        let places = || asked.iter().zip(&lineage.asked);
        let plants = places().map(|((code, kin), place)| view.one(facts, code, *kin, *place));
        let plants = plants.collect::<Result<_, _>>()?;
        let mut lines = Vec::new();
        for (at, ((one, _), place)) in places().enumerate().filter(|_| asked.len() > 1) {
            for ((other, _), beside) in places().take(at + 1) {
                lines.push(KinshipLine {
                    one: one.clone(),
                    other: other.clone(),
                    kinship: kinship.of(*place, *beside),
                });
            }
        }
        Ok(Self {
            plants,
            kinship: lines,
        })
    }
}

/// What the plants of a lineage are called.
struct Names {
    /// By code or place; without one by name, else by pedigree.
    codes: Vec<String>,
    /// By name, else as above.
    names: Vec<String>,
}

impl Names {
    fn of(facts: &Facts, lineage: &Lineage) -> Self {
        let (mut codes, mut names): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
        for (place, relative) in lineage.relatives().iter().enumerate() {
            let row = match relative.kin {
                Kin::Plant(id) => facts.plant.get(id),
                Kin::Seed(..) | Kin::Stranger(_) => None,
            };
            let unnamed = |known: &[String]| {
                let pedigree = lineage.purdy(place, |at| known[at].clone());
                pedigree.map_or_else(|| "seed".to_owned(), |pedigree| pedigree.to_string())
            };
            let code = row.map(
                |row| match (facts.code_of(Thing::Plant, row.id), row.kind) {
                    (None, PlantKind::Ancestor) if row.name.is_empty() => unnamed(&codes),
                    _ => facts.plant_label(row),
                },
            );
            let name = row
                .map(|row| row.name.clone())
                .filter(|name| !name.is_empty());
            let code = code.unwrap_or_else(|| match relative.kin {
                Kin::Stranger(_) => "unknown".to_owned(),
                _ => unnamed(&codes),
            });
            names.push(name.unwrap_or_else(|| match relative.is_parent() {
                true => code.clone(),
                false => unnamed(&names),
            }));
            codes.push(code);
        }
        Self { codes, names }
    }
}

/// A lineage with everything worked out.
struct View<'a> {
    lineage: &'a Lineage,
    kinship: &'a Kinship,
    generations: Vec<Generation>,
    names: Names,
}

impl View<'_> {
    fn one(
        &self,
        facts: &Facts,
        code: &str,
        kin: Kin,
        place: usize,
    ) -> Result<OnePedigree, DescentError> {
        let relative = &self.lineage.relatives()[place];
        let generation = &self.generations[place];
        let written = |names: &[String]| {
            let found: Option<Pedigree> = self.lineage.purdy(place, |at| names[at].clone());
            found.map(|pedigree| pedigree.to_string())
        };
        let by_code = written(&self.names.codes);
        let by_name = written(&self.names.names);
        let out_of = self.lineage.out_of(place);
        let named = out_of.as_ref().unwrap_or(generation);
        let mut selfed = generation.clone();
        selfed.selfings += 1;
        let is_plant = matches!(kin, Kin::Plant(_));
        Ok(OnePedigree {
            code: code.to_owned(),
            of: if is_plant { "plant" } else { "seed" },
            kind: is_plant.then(|| relative.kind.word()),
            pedigree_by_name: by_name.filter(|name| by_code.as_ref() != Some(name)),
            pedigree: by_code,
            generation: generation.name(),
            family: generation.family(),
            out_of: out_of.as_ref().and_then(Generation::name),
            selfed_seed: selfed.name(),
            parents_fixed: self.parents_fixed(generation),
            recurrent: self.recurrent(named),
            inbreeding: self.kinship.inbreeding(place),
            founders: self.founders(place),
            ancestors: self.ancestors(facts, code, place),
        })
    }

    fn parents_fixed(&self, generation: &Generation) -> Vec<ParentState> {
        let (Base::Single(pair), 0) = (&generation.base, generation.selfings) else {
            return Vec::new();
        };
        let state = |place: &usize| {
            let relative = &self.lineage.relatives()[*place];
            let selfed_long = self.generations[*place].selfings >= FIXED_AFTER;
            ParentState {
                parent: self.names.codes[*place].clone(),
                kind: relative.kind.word(),
                fixed: match relative.fixed() {
                    _ if selfed_long => "yes",
                    ParentFixed::Yes => "yes",
                    ParentFixed::No => "no",
                    ParentFixed::Unknown => "unknown",
                },
            }
        };
        pair.iter().map(state).collect()
    }

    fn recurrent(&self, generation: &Generation) -> Option<Recurrent> {
        let Base::Backcross {
            times, recurrent, ..
        } = &generation.base
        else {
            return None;
        };
        Some(Recurrent {
            parent: self.names.codes[*recurrent].clone(),
            backcrosses: *times,
            share: recurrent_share(*times),
        })
    }

    fn founders(&self, place: usize) -> Vec<FounderShare> {
        let mut shares = self.lineage.founder_shares(place);
        shares.sort_by(|one, other| other.1.total_cmp(&one.1).then(one.0.cmp(&other.0)));
        shares
            .into_iter()
            .map(|(founder, share)| FounderShare {
                founder: self.names.codes[founder].clone(),
                share,
            })
            .collect()
    }

    /// The ancestors of one, parents first; those of others asked about are left out.
    fn ancestors(&self, facts: &Facts, code: &str, place: usize) -> Vec<AncestorLine> {
        let relatives = self.lineage.relatives();
        let mut wanted = vec![false; place + 1];
        wanted[place] = true;
        for at in (0..=place).rev() {
            if wanted[at] {
                mark(&mut wanted, relatives[at].parents);
            }
        }
        let mut line_of = vec![0; place + 1];
        let mut lines: Vec<AncestorLine> = Vec::new();
        for at in (0..=place).filter(|at| wanted[*at]) {
            line_of[at] = lines.len();
            let relative = &relatives[at];
            let row = match relative.kin {
                Kin::Plant(id) => facts.plant.get(id),
                Kin::Seed(..) | Kin::Stranger(_) => None,
            };
            let name = |parent: usize| self.names.codes[parent].clone();
            let plant = match relative.kin {
                Kin::Seed(..) => code.to_owned(),
                Kin::Plant(_) | Kin::Stranger(_) => name(at),
            };
            lines.push(AncestorLine {
                name: row
                    .map(|row| row.name.clone())
                    .filter(|name| !name.is_empty() && *name != plant),
                plant,
                accidental: row.and_then(|row| Accident::of(facts, row.id)),
                kind: row.map(|row| row.kind.word()),
                mother: relative.parents.map(|(mother, _)| name(mother)),
                father: relative.parents.map(|(_, father)| name(father)),
                generation: self.generations[at].name(),
                inbreeding: self.kinship.inbreeding(at),
                parents: relative
                    .parents
                    .map(|(mother, father)| (line_of[mother], line_of[father])),
            });
        }
        lines
    }
}

fn mark(wanted: &mut [bool], parents: Option<(usize, usize)>) {
    if let Some((mother, father)) = parents {
        wanted[mother] = true;
        wanted[father] = true;
    }
}
