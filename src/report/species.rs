//! The answer of `species`: how hard it is to cross two species, mother first, and what the sums make of it.

use serde::Serialize;

use super::table::Table;
use super::text::wrapped;
use super::{Answer, Page};
use crate::genetics::species::{Crossability, PAIRS, SOURCE, in_print};
use crate::records::assumptions::Assumptions;
use crate::records::facts::Facts;
use crate::records::species::{Crossing, all_self_times, bare, own_pairs};

/// One ordered pair.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairLine {
    /// The mother's species.
    pub mother: String,
    /// The father's.
    pub father: String,
    /// How hard the cross is.
    pub crossing: String,
    /// How fertile the hybrid is.
    pub fertility: String,
    /// How hard it is by what is in print.
    pub crossing_in_print: String,
    /// How fertile the hybrid is by what is in print.
    pub fertility_in_print: String,
    /// How many times likelier a whole tray of selfs is than within a species.
    pub all_self_times: f64,
    /// The printed code; nothing where there is none.
    pub code: Option<&'static str>,
    /// Where the code comes from.
    pub source: Option<&'static str>,
    /// How far what is said here can be trusted.
    pub standing: &'static str,
}

/// The pairs asked about.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SpeciesAnswer {
    /// The list.
    pub pairs: Vec<PairLine>,
}

impl SpeciesAnswer {
    /// All pairs in print or of which the ledger says something, or one.
    #[must_use]
    pub fn new(facts: &Facts, pair: Option<(&str, &str)>) -> Self {
        let own = own_pairs(facts);
        let printed = PAIRS.iter().map(|pair| (pair.mother, pair.father));
        let mut wanted: Vec<(String, String)> = match pair {
            Some((mother, father)) => vec![(bare(mother), bare(father))],
            None => printed
                .map(|(mother, father)| (mother.to_owned(), father.to_owned()))
                .collect(),
        };
        let further = own
            .iter()
            .filter(|own| pair.is_none() && !wanted.contains(own));
        let further: Vec<_> = further.cloned().collect();
        wanted.extend(further);
        let beliefs = Assumptions::of(facts);
        let line = |(mother, father): &(String, String)| {
            let is_own = own
                .iter()
                .any(|own| own == &(mother.clone(), father.clone()));
            line_of(&Crossing::of(facts, mother, father), &beliefs, is_own)
        };
        Self {
            pairs: wanted.iter().map(line).collect(),
        }
    }
}

fn line_of(crossing: &Crossing, beliefs: &Assumptions, is_own: bool) -> PairLine {
    let (mother, father) = (crossing.mother.as_str(), crossing.father.as_str());
    let (crossability, fertility) = in_print(mother, father);
    let mut pairs = PAIRS.iter();
    let printed = pairs.find(|pair| (pair.mother, pair.father) == (mother, father));
    let nothing = crossability == Crossability::Unknown;
    PairLine {
        mother: mother.to_owned(),
        father: father.to_owned(),
        crossing: crossing.crossability.to_string(),
        fertility: crossing.fertility.to_string(),
        crossing_in_print: crossability.to_string(),
        fertility_in_print: fertility.to_string(),
        all_self_times: all_self_times(crossing.crossability, beliefs),
        code: printed.map(|pair| pair.code),
        source: printed.map(|_| SOURCE),
        standing: match (is_own, nothing) {
            (true, _) => "your own",
            (false, true) => "nothing in print",
            (false, false) => "design choice",
        },
    }
}

impl SpeciesAnswer {
    fn table(&self, page: Page) -> String {
        let heads = [
            "mother",
            "father",
            "crossing",
            "hybrid fertile",
            "code",
            ">all selfs",
        ];
        let mut table = Table::new(&heads);
        for line in &self.pairs {
            let own = if line.standing == "your own" {
                ", your own"
            } else {
                ""
            };
            table.row([
                line.mother.clone(),
                line.father.clone(),
                format!("{}{own}", line.crossing),
                line.fertility.clone(),
                line.code.unwrap_or("-").to_owned(),
                format!("x {}", line.all_self_times),
            ]);
        }
        table.text(page)
    }
}

impl Answer for SpeciesAnswer {
    fn words(&self, page: Page) -> String {
        let foot = [
            "A hard cross gives few seeds of its own, so a whole tray of selfs is that many times likelier than within a \
             species. Nothing is forbidden.",
            &format!(
                "The codes are of {SOURCE}: PF partly fertile, NG germinates, IV/EC embryo culture only, HF highly fertile. \
                 What they mean for a cross is a design choice; accession and direction decide."
            ),
            "Say what you know, mother first: locule species annuum baccatum hard --fertility partial",
        ];
        let foot = foot.map(|line| wrapped(line, page.width, "  "));
        format!("{}\n\n{}", self.table(page), foot.join("\n"))
    }
}
