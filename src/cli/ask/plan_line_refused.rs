//! What keeps `plan line` from an answer: plants of which too little is stated, and what no line can be.

use super::plan_line_start::Opening;
use crate::cli::failure::Failure;
use crate::genetics::expect::Parent;
use crate::genetics::genotype::Diploid;
use crate::genetics::locus::LocusIx;
use crate::genetics::segregation::AtLocus;
use crate::planning::line::hindered::{Hindered, hindered};
use crate::planning::line::kinds::{Order, Strands, Wish};
use crate::records::admit::Remedy;
use crate::report::text::listed;

/// Alleles by locus.
type Alleles = Vec<Vec<u8>>;

impl Opening {
    /// Refuses plants at their word of which something is not stated.
    pub(super) fn check_stated(&self) -> Result<(), Failure> {
        let bred = &self.bred;
        if bred.not_stated.is_empty() {
            return Ok(());
        }
        let failure = Failure::refused(format!(
            "a line is planned from stated genotypes, and not stated is {}",
            listed(&bred.not_stated, "and")
        ));
        Err(match bred.is_of_ledger {
            true => failure
                .because(
                    "--believed takes everything recorded instead, looks and offspring included",
                )
                .try_flag("--believed", ""),
            false => failure
                .because("state both alleles there")
                .try_remedy(Remedy::Flags(self.stated_fully())),
        })
    }

    /// The genotypes as typed with two different alleles wherever nothing is stated.
    fn stated_fully(&self) -> Vec<(&'static str, String)> {
        let book = &self.asked.traits.book;
        let breeding = self.bred.breeding();
        let written = |plant: &Parent| {
            let at = |locus: &LocusIx| {
                let known = plant.at(*locus).and_then(AtLocus::known);
                let locus = book.get(*locus);
                let last = locus.alleles.len().saturating_sub(1) as u8;
                known
                    .unwrap_or_else(|| Diploid::new(0, last))
                    .written(locus)
            };
            let all: Vec<String> = self.asked.loci().iter().map(at).collect();
            all.join(" ")
        };
        match self.is_crossed {
            false => vec![("--plant", written(breeding.mother))],
            true => vec![
                ("--mother", written(breeding.mother)),
                ("--father", written(breeding.father)),
            ],
        }
    }

    /// The alleles that the plants may have, and all that there are.
    fn alleles(&self, order: &Order) -> (Alleles, Alleles) {
        let book = &self.asked.traits.book;
        let there = |locus: &LocusIx| {
            let plants = self
                .may_be
                .iter()
                .flat_map(|pair| [&pair.mother, &pair.father]);
            let pairs = plants.filter_map(|plant| plant.at(*locus).and_then(AtLocus::known));
            let mut alleles: Vec<u8> = pairs.flat_map(|pair| [pair.a(), pair.b()]).collect();
            alleles.sort_unstable();
            alleles.dedup();
            alleles
        };
        let all = |locus: &LocusIx| (0..book.get(*locus).alleles.len() as u8).collect();
        (
            order.loci.iter().map(there).collect(),
            order.loci.iter().map(all).collect(),
        )
    }

    /// Refuses what no line can be.
    pub(super) fn check_hindrance(&self, order: &Order, wish: &Wish<'_>) -> Result<(), Failure> {
        let (there, all) = self.alleles(order);
        let symbols = |loci: &[LocusIx]| self.symbols(loci);
        let make = |loci: &[LocusIx]| if loci.len() == 1 { "makes" } else { "make" };
        match hindered(order, wish, &there, &all) {
            None => Ok(()),
            Some(Hindered::NeverTrue(loci)) => Err(Failure::refused(format!(
                "no line breeds true for {}: {} {} it impossible",
                self.wanted,
                symbols(&loci),
                make(&loci)
            ))
            .because(format!(
                "only plants with two different alleles at {} show it, and their seed splits",
                symbols(&loci)
            ))
            .try_typing("locule trait list")),
            Some(Hindered::Lacking(loci)) => {
                let failure = Failure::refused(format!(
                    "no line from {} can be {}: {} {} it impossible",
                    self.bred.sown,
                    self.wanted,
                    symbols(&loci),
                    make(&loci)
                ));
                let failure = loci
                    .iter()
                    .fold(failure, |failure, locus| failure.because(self.have(*locus)));
                let partner = self.partner(order, wish, (&there, &all), &loci);
                Err(self.with_partner(failure, partner))
            }
        }
    }

    fn symbols(&self, loci: &[LocusIx]) -> String {
        let book = &self.asked.traits.book;
        let symbols = loci.iter().map(|l| book.get(*l).symbol.as_str());
        listed(&symbols.collect::<Vec<_>>(), "and")
    }

    /// What the plants are at a locus: `A: the plant is A/A`.
    fn have(&self, locus: LocusIx) -> String {
        let book = &self.asked.traits.book;
        let pair = &self.may_be[0];
        let at = |plant: &Parent| {
            let known = plant.at(locus).and_then(AtLocus::known);
            known.map_or_else(String::new, |pair| pair.written(book.get(locus)))
        };
        let symbol = &book.get(locus).symbol;
        match self.is_crossed {
            true => format!(
                "{symbol}: {} is {}, {} {}",
                self.names[0],
                at(&pair.mother),
                self.names[1],
                at(&pair.father)
            ),
            false => format!("{symbol}: {} is {}", self.names[0], at(&pair.mother)),
        }
    }

    /// A genotype that breeds true and has what the plants lack, where one locus is all that they lack.
    fn partner(
        &self,
        order: &Order,
        wish: &Wish<'_>,
        (there, all): (&Alleles, &Alleles),
        lacking: &[LocusIx],
    ) -> Option<String> {
        let book = &self.asked.traits.book;
        let lacking = lacking.first()?;
        let place = order.loci.iter().position(|locus| locus == lacking)?;
        let brings = |allele: &&u8| {
            let mut with = there.clone();
            with[place] = vec![**allele];
            hindered(order, wish, &with, all).is_none()
        };
        let allele = all[place].iter().find(brings)?;
        let at = |(at, locus): (usize, &LocusIx)| {
            let own = if at == place {
                *allele
            } else {
                *there[at].first()?
            };
            Some(Diploid::new(own, own).written(book.get(*locus)))
        };
        let written: Option<Vec<String>> = order.loci.iter().enumerate().map(at).collect();
        written.map(|loci| loci.join(" "))
    }

    /// Adds a command that helps: which of the ledger's parents to cross, or a plant that has what is lacking.
    fn with_partner(&self, failure: Failure, partner: Option<String>) -> Failure {
        if self.bred.is_of_ledger {
            let failure = failure.because("a cross with a plant that has it would bring it in");
            return match self.is_genotype() {
                true => failure.try_typing("locule plan cross --help"),
                false => failure.try_typing(format!(
                    "locule plan cross --want {} --fixed",
                    self.wanted.replace(" and ", ",").replace('/', ",")
                )),
            };
        }
        let Some(partner) = partner else {
            return failure.try_remedy(Remedy::Help);
        };
        match self.is_crossed {
            true => failure.try_flag("--father", partner),
            false => {
                let [(_, own)] = &self.stated_fully()[..] else {
                    return failure.try_remedy(Remedy::Help);
                };
                let asked = if self.is_genotype() {
                    "--genotype"
                } else {
                    "--class"
                };
                failure
                    .because("a cross with a plant that has it brings it in")
                    .try_typing(format!(
                        "locule plan line --mother '{own}' --father '{partner}' {asked} '{}'",
                        self.wanted
                    ))
            }
        }
    }

    /// Whether what is wanted is named as a genotype.
    fn is_genotype(&self) -> bool {
        let models = self.asked.models();
        models.iter().any(|model| model.classes()[0] == "wanted")
    }

    /// Refuses to go back to a parent that splits, or that has nothing to gain.
    pub(super) fn check_recurrent(
        &self,
        order: &Order,
        wish: &Wish<'_>,
        back: &Strands,
        [name, other]: &[String; 2],
    ) -> Result<(), Failure> {
        let open = order.loci.iter().enumerate();
        let open = open.filter(|(at, _)| back[0][*at] != back[1][*at]);
        let open: Vec<LocusIx> = open.map(|(_, locus)| *locus).collect();
        if !open.is_empty() {
            return Err(Failure::refused(format!(
                "{name} splits at {}, so crossing back to it leads to no line",
                self.symbols(&open)
            ))
            .because("cross back to a plant that breeds true, or self")
            .try_remedy(Remedy::Without("--recurrent")));
        }
        if wish.is_met(&wish.look(order, back)) {
            return Err(Failure::refused(format!(
                "{name} breeds true for {} already, so there is nothing to bring in",
                self.wanted
            ))
            .because("go back to the other parent, or self")
            .try_flag("--recurrent", other.trim_start_matches("the ")));
        }
        Ok(())
    }
}
