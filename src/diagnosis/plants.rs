//! What is known of a plant before any of its offspring: statements, priors, its own looks.
//!
//! The first factor of a plant is its statement or prior; "at its word" takes a statement as certain, and a seedling that
//! was adopted as the child of the parents it was adopted by. A plant of known parents has what they hand on, and its
//! statement beside it. All are by linkage group, most of them of one locus; what
//! is stated of several loci of a group, phases among it, stands next door.

use std::collections::HashMap;
use std::sync::{Mutex, OnceLock};

use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::notation::{Genotype, StatedLocus};
use crate::genetics::rule::Cytoplasm;
use crate::records::assumptions::Assumptions;
use crate::records::descent::{adoption_of, cytoplasm_of, fixed_since, likely_parents, parents_of};
use crate::records::rows::{PlantCytoplasm, PlantKind, PlantRow};

use super::DiagnosisError;
use super::evidence::{Telling, telling_readings};
use super::group::{GroupKey, LinkageGroup, Side};
use super::groups::Groups;
use super::index::Index;
use super::looks::Looks;
use super::said::Said;
use super::space::Space;

/// A genotype stated of one plant at one locus.
#[derive(Debug, Clone)]
pub(super) struct Statement {
    pub(super) at: StatedLocus,
    pub(super) proven: bool,
}

type Memo = Mutex<HashMap<(i64, GroupKey), Vec<f64>>>;

/// What is known of the plants of a ledger before any batch.
#[derive(Debug)]
pub struct Plants<'a> {
    index: &'a Index<'a>,
    looks: &'a Looks,
    beliefs: &'a Assumptions,
    statements: HashMap<(i64, usize), Statement>,
    /// Which loci are tied together.
    pub(super) groups: Groups,
    shares: Vec<OnceLock<Vec<f64>>>,
    firsts: Memo,
    words: Memo,
}

/// Deepest descent followed; deeper is a ring of records.
const DEEPEST: usize = 500;

impl<'a> Plants<'a> {
    /// Reads the statements; `asked` are loci that matter beside those read or stated.
    ///
    /// # Errors
    /// [`DiagnosisError::Unreadable`] where a stored statement is no genotype.
    pub fn new(
        index: &'a Index<'a>,
        looks: &'a Looks,
        beliefs: &'a Assumptions,
        asked: &[LocusIx],
    ) -> Result<Self, DiagnosisError> {
        let mut statements: HashMap<(i64, usize), Statement> = HashMap::new();
        let mut book = looks.book.clone();
        for row in &index.facts.statement {
            let genotype = Genotype::parse(&row.genotype, &mut book).map_err(|error| {
                DiagnosisError::Unreadable {
                    what: format!("genotype '{}'", row.genotype),
                    why: error.to_string(),
                }
            })?;
            for at in genotype.loci {
                if at.first.is_some() || at.second.is_some() {
                    statements.insert(
                        (row.plant_id, at.locus.0),
                        Statement {
                            at,
                            proven: row.proven,
                        },
                    );
                }
            }
        }
        let shares = (0..looks.book.len()).map(|_| OnceLock::new()).collect();
        let stated = statements.keys().map(|key| LocusIx(key.1));
        let groups = Groups::new(looks, index, stated.chain(asked.iter().copied()));
        Ok(Self {
            groups,
            index,
            looks,
            beliefs,
            statements,
            shares,
            firsts: Memo::default(),
            words: Memo::default(),
        })
    }

    /// The genotypes of a locus.
    #[must_use]
    pub fn pairs(&self, locus: LocusIx) -> Vec<Diploid> {
        Diploid::all(self.looks.book.get(locus).alleles.len())
    }

    /// The cytoplasm of a plant: stated, else its mother's.
    #[must_use]
    pub fn cytoplasm(&self, plant: i64) -> Cytoplasm {
        match cytoplasm_of(self.index.facts, plant) {
            PlantCytoplasm::Normal => Cytoplasm::Normal,
            PlantCytoplasm::Sterile => Cytoplasm::Sterile,
            PlantCytoplasm::Unknown => Cytoplasm::Unknown,
        }
    }

    /// P(genotype) from the loci's shares and the plant's inbreeding, or from its parents' first factors.
    fn prior(&self, plant: i64, of: &LinkageGroup, depth: usize, word: bool) -> Vec<f64> {
        let row = self.index.facts.plant.get(plant);
        if depth < DEEPEST
            && word
            && let Some(adopted) = adoption_of(self.index.facts, plant)
        {
            return self.born_of((adopted.mother_id, adopted.father_id), of, depth + 1);
        }
        if depth < DEEPEST
            && let Some(row) = row
            && let Some((mother, father)) = parents_of(self.index.facts, row)
        {
            let fixed = fixed_since(self.index.facts, self.beliefs, row);
            let known = |parent: i64| self.known(parent, of, depth + 1, word);
            let born = match mother == father {
                true => of.selfed(&known(mother)),
                false => of.union(
                    &of.mean_gametes(&known(mother), Side::Egg),
                    &of.mean_gametes(&known(father), Side::Pollen),
                ),
            };
            return of.selfed_since(born, fixed);
        }
        let inbreeding = row.map_or(self.beliefs.inbreeding_plant, |row| {
            fixed_since(self.index.facts, self.beliefs, row)
        });
        let of_locus = |locus: &LocusIx| {
            let shares = self.looks.book.get(*locus).shares();
            founder_prior(&self.pairs(*locus), &shares, inbreeding)
        };
        let by_locus: Vec<Vec<f64>> = of.loci.iter().map(of_locus).collect();
        of.spread(&by_locus)
    }

    /// The offspring that two plants promise, both at their word.
    #[must_use]
    pub fn offspring_at_word(&self, mother: i64, father: i64, of: &LinkageGroup) -> Vec<f64> {
        self.born_of((Some(mother), Some(father)), of, 0)
    }

    /// What the likely parents of a plant promise, at their word; nothing where none are on record.
    #[must_use]
    pub fn promised(&self, plant: &PlantRow, of: &LinkageGroup) -> Option<Vec<f64>> {
        let facts = self.index.facts;
        let is_told = adoption_of(facts, plant.id).is_some() || parents_of(facts, plant).is_some();
        is_told.then(|| self.born_of(likely_parents(facts, plant), of, 0))
    }

    /// The offspring of two plants at their word; for one that is not of the ledger a stranger's gametes.
    fn born_of(
        &self,
        (mother, father): (Option<i64>, Option<i64>),
        of: &LinkageGroup,
        depth: usize,
    ) -> Vec<f64> {
        if let Some(parent) = mother.filter(|_| mother == father) {
            return of.selfed(&self.known(parent, of, depth, true));
        }
        let gametes = |parent: Option<i64>, side: Side| match parent {
            Some(parent) => of.mean_gametes(&self.known(parent, of, depth, true), side),
            None => self.strangers(of),
        };
        of.union(&gametes(mother, Side::Egg), &gametes(father, Side::Pollen))
    }

    /// The eggs of a plant at its word.
    #[must_use]
    pub fn eggs_at_word(&self, plant: i64, of: &LinkageGroup) -> Vec<f64> {
        of.mean_gametes(&self.group_at_word(plant, of), Side::Egg)
    }

    fn known(&self, plant: i64, of: &LinkageGroup, depth: usize, word: bool) -> Vec<f64> {
        let memo = if word { &self.words } else { &self.firsts };
        let key = (plant, of.key);
        if let Some(known) = memo
            .lock()
            .expect("no thread panics while it holds the memo")
            .get(&key)
        {
            return known.clone();
        }
        let known = self.compute(plant, of, depth, word);
        memo.lock()
            .expect("no thread panics while it holds the memo")
            .insert(key, known.clone());
        known
    }

    fn compute(&self, plant: i64, of: &LinkageGroup, depth: usize, word: bool) -> Vec<f64> {
        let prior = self.prior(plant, of, depth, word);
        let said = self.said(plant, of, word);
        if said.is_silent() {
            return prior;
        }
        said.over(of, &prior)
    }

    /// What is stated of a plant at the loci of a group, and how far it is trusted.
    fn said(&self, plant: i64, of: &LinkageGroup, word: bool) -> Said<'_> {
        let of_locus = |locus: &LocusIx| {
            let statement = self.statements.get(&(plant, locus.0))?;
            let trust = if word {
                1.0
            } else {
                self.trust(statement, *locus)
            };
            Some((statement, trust))
        };
        let phase_trust = |said: &Statement| match (word, said.proven) {
            (true, _) => 1.0,
            (false, true) => self.beliefs.trust_proven,
            (false, false) => self.beliefs.trust_stated,
        };
        Said::new(of.loci.iter().map(of_locus).collect(), phase_trust)
    }

    fn trust(&self, statement: &Statement, locus: LocusIx) -> f64 {
        let last = self.looks.book.get(locus).alleles.len() - 1;
        let seen = statement
            .at
            .diploid()
            .is_some_and(|pair| usize::from(pair.a()) == last && usize::from(pair.b()) == last);
        if statement.proven || seen {
            self.beliefs.trust_proven
        } else {
            self.beliefs.trust_stated
        }
    }

    /// The plant's statement with its trust, or its prior: a distribution over the genotypes of a group.
    #[must_use]
    pub fn group_factor(&self, plant: i64, of: &LinkageGroup) -> Vec<f64> {
        self.known(plant, of, 0, false)
    }

    /// The same at one locus.
    #[must_use]
    pub fn first_factor(&self, plant: i64, locus: LocusIx) -> Vec<f64> {
        self.group_factor(plant, &self.groups.alone(locus))
    }

    /// What a plant is before its statement: its prior, or what its parents' first factors give.
    #[must_use]
    pub fn unstated(&self, plant: i64, of: &LinkageGroup) -> Vec<f64> {
        self.prior(plant, of, 0, false)
    }

    /// Whether genotypes at some loci are as stated of a plant, as far as anything is.
    #[must_use]
    pub fn fits(&self, plant: i64, loci: &[LocusIx], genotype: &[Diploid]) -> bool {
        loci.iter().zip(genotype).all(|(locus, pair)| {
            let statement = self.statements.get(&(plant, locus.0));
            statement.is_none_or(|statement| statement.at.matches(*pair))
        })
    }

    /// What is stated of a plant at some loci, in notation.
    #[must_use]
    pub fn stated_at(&self, plant: i64, loci: &[LocusIx]) -> String {
        let stated = loci.iter().filter_map(|locus| self.stated(plant, *locus));
        stated.collect::<Vec<_>>().join(" ")
    }

    /// Everything stated of a plant, in notation.
    #[must_use]
    pub fn all_stated(&self, plant: i64) -> String {
        let mut loci: Vec<LocusIx> = self.stated_loci(plant).collect();
        loci.sort_unstable();
        self.stated_at(plant, &loci)
    }

    /// The loci stated of a plant.
    pub fn stated_loci(&self, plant: i64) -> impl Iterator<Item = LocusIx> + '_ {
        let own = self.statements.keys().filter(move |key| key.0 == plant);
        own.map(|key| LocusIx(key.1))
    }

    /// P(what is stated | genotype) of a plant whose descent says something already: the trust for each genotype that
    /// fits, the rest shared evenly by the others.
    #[must_use]
    pub fn statement_factor(&self, plant: i64, of: &LinkageGroup) -> Option<Vec<f64>> {
        let said = self.said(plant, of, false);
        (!said.is_silent()).then(|| said.likelihood(of))
    }

    /// The parents of a plant that came from no batch.
    #[must_use]
    pub fn bred_from(&self, plant: i64) -> Option<(i64, i64)> {
        let row = self.index.facts.plant.get(plant)?;
        parents_of(self.index.facts, row).filter(|_| row.batch_id.is_none())
    }

    /// P(genotype | those of its parents) of a plant that came from no batch, selfings since in it: mother's genotype
    /// running slowest, its own fastest; for a self the parent's alone.
    #[must_use]
    pub fn transmission(&self, plant: i64, of: &LinkageGroup) -> Vec<f64> {
        let facts = self.index.facts;
        let row = facts.plant.get(plant);
        let fixed = row.map_or(0.0, |row| fixed_since(facts, self.beliefs, row));
        let is_self = self
            .bred_from(plant)
            .is_some_and(|(mother, father)| mother == father);
        let all = 0..of.size();
        let since: Vec<Vec<f64>> = all
            .clone()
            .map(|genotype| {
                let mut born = vec![0.0; of.size()];
                born[genotype] = 1.0;
                of.selfed_since(born, fixed)
            })
            .collect();
        let grown = |born: Vec<f64>| {
            if fixed == 0.0 {
                return born;
            }
            let mut sums = vec![0.0; of.size()];
            for (p, since) in born.iter().zip(&since) {
                sums.iter_mut()
                    .zip(since)
                    .for_each(|(sum, q)| *sum += p * q);
            }
            sums
        };
        if is_self {
            return all.flat_map(|parent| grown(of.self_of(parent))).collect();
        }
        let [eggs, pollen] = [Side::Egg, Side::Pollen].map(|side| {
            let gametes = all.clone().map(|genotype| of.gametes(genotype, side));
            gametes.collect::<Vec<_>>()
        });
        let pairs = eggs
            .iter()
            .flat_map(|egg| pollen.iter().map(move |grain| (egg, grain)));
        pairs
            .flat_map(|(egg, grain)| grown(of.union(egg, grain)))
            .collect()
    }

    /// The plant's stated genotype as certain; or its prior, that of an adopted seedling by its adopted parents.
    #[must_use]
    pub fn group_at_word(&self, plant: i64, of: &LinkageGroup) -> Vec<f64> {
        self.known(plant, of, 0, true)
    }

    /// The same at one locus.
    #[must_use]
    pub fn at_word(&self, plant: i64, locus: LocusIx) -> Vec<f64> {
        self.group_at_word(plant, &self.groups.alone(locus))
    }

    /// The gametes of a stranger: each locus by its allele shares.
    #[must_use]
    pub fn strangers(&self, of: &LinkageGroup) -> Vec<f64> {
        let shares: Vec<&[f64]> = of.loci.iter().map(|l| self.allele_shares(*l)).collect();
        of.equilibrium(&shares)
    }

    /// Which allele of a plant came from its mother and which from its father: as stated, or where a parent
    /// can have given only one. Nothing for a plant that is not certainly heterozygous.
    #[must_use]
    pub fn phase(&self, plant: i64, locus: LocusIx) -> Option<[u8; 2]> {
        let pairs = self.pairs(locus);
        let certain = |plant: i64| {
            let chances = self.at_word(plant, locus);
            let mut left = pairs.iter().zip(&chances).filter(|(_, p)| **p > 0.0);
            let only = left.next().map(|(pair, _)| *pair);
            only.filter(|_| left.next().is_none())
        };
        let pair = certain(plant).filter(|pair| !pair.is_homozygous())?;
        if let Some(Statement { at, .. }) = self.statements.get(&(plant, locus.0))
            && at.phased
        {
            return at.first.zip(at.second).map(|(one, other)| [one, other]);
        }
        let row = self.index.facts.plant.get(plant)?;
        let (mother, father) = likely_parents(self.index.facts, row);
        let gives = |parent: Option<i64>| certain(parent?).filter(|pair| pair.is_homozygous());
        let other_than = |allele: u8| {
            if pair.a() == allele {
                pair.b()
            } else {
                pair.a()
            }
        };
        match (gives(mother), gives(father)) {
            (Some(from), _) if pair.carries(from.a()) => Some([from.a(), other_than(from.a())]),
            (_, Some(from)) if pair.carries(from.a()) => Some([other_than(from.a()), from.a()]),
            _ => None,
        }
    }

    /// Each allele's mean expected share over the founders by their first factor, one extra founder at the locus's
    /// own shares counted in.
    #[must_use]
    pub fn allele_shares(&self, locus: LocusIx) -> &[f64] {
        self.shares[locus.0].get_or_init(|| {
            let of = self.groups.alone(locus);
            let mut sums = self.looks.book.get(locus).shares();
            let mut founders = 1.0;
            for plant in self
                .index
                .facts
                .plant
                .iter()
                .filter(|row| self.is_founder(row))
            {
                let gametes = of.mean_gametes(&self.group_factor(plant.id, &of), Side::Egg);
                sums.iter_mut()
                    .zip(gametes)
                    .for_each(|(sum, share)| *sum += share);
                founders += 1.0;
            }
            sums.iter().map(|sum| sum / founders).collect()
        })
    }

    fn is_founder(&self, row: &PlantRow) -> bool {
        matches!(
            row.kind,
            PlantKind::Line | PlantKind::Packet | PlantKind::Single
        ) && parents_of(self.index.facts, row).is_none()
    }

    /// A parent's own readings, each of its final class; a seedling's are part of its batch.
    #[must_use]
    pub fn own_looks(&self, plant: i64) -> Vec<Telling> {
        match self.index.facts.plant.get(plant) {
            Some(row) if row.batch_id.is_none() => {
                telling_readings(self.looks, self.index.readings_of(plant))
            }
            _ => Vec::new(),
        }
    }

    /// P(one of a plant's own readings | genotype) for each joint genotype of a space; nothing where the space lacks a
    /// locus that its trait reads.
    #[must_use]
    pub fn look_chances(&self, plant: i64, reading: &Telling, space: &Space) -> Option<Vec<f64>> {
        let look = &self.looks.traits[reading.look];
        let place = |locus: &LocusIx| space.loci.iter().position(|own| own == locus);
        let places: Option<Vec<usize>> = look.model.loci().iter().map(place).collect();
        let places = places?;
        let cytoplasm = self.cytoplasm(plant);
        let chance = |joint: usize| {
            let genotype = space.genotype(joint);
            let pairs: Vec<Diploid> = places.iter().map(|place| genotype[*place]).collect();
            let shown = look.model.class_of(&pairs, cytoplasm);
            look.telling_chance(shown, reading, self.beliefs.doubtful)
        };
        Some((0..space.size).map(chance).collect())
    }

    /// Whether a genotype was stated of a plant at a locus, and how it was written.
    #[must_use]
    pub fn stated(&self, plant: i64, locus: LocusIx) -> Option<String> {
        self.statements
            .get(&(plant, locus.0))
            .map(|statement| statement.at.written(&self.looks.book))
    }
}

/// P(g) = p^2 + F p q for a homozygote, 2 p q (1 - F) for a heterozygote.
#[must_use]
pub fn founder_prior(pairs: &[Diploid], shares: &[f64], inbreeding: f64) -> Vec<f64> {
    pairs
        .iter()
        .map(|pair| {
            let (p, q) = (shares[usize::from(pair.a())], shares[usize::from(pair.b())]);
            if pair.is_homozygous() {
                p * p + inbreeding * p * (1.0 - p)
            } else {
                2.0 * p * q * (1.0 - inbreeding)
            }
        })
        .collect()
}
