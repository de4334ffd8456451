//! Why `plan cross` names no plan, in words: what excludes what, and what no parent has.

use super::genotype::failed;
use super::plan_cross::Teller;
use crate::cli::failure::Failure;
use crate::genetics::locus::LocusIx;
use crate::planning::cross::{Lack, NoCross};
use crate::records::admit::Remedy;
use crate::report::text::{a_few, listed, shown};

impl Teller<'_> {
    pub(super) fn refused(&self, why: NoCross) -> Failure {
        let said = why.to_string();
        let names = |asks: &[usize]| listed(&self.looks(asks), "and");
        match why {
            NoCross::Genotype(error) => failed(error),
            NoCross::TooManyGenotypes { .. } => Failure::refused(said)
                .because("ask for fewer traits at once")
                .try_remedy(Remedy::Help),
            NoCross::NoParents => {
                Failure::refused("there is no living parent in the ledger to cross")
                    .try_typing("locule parent add NL 'Night Lantern' --genotype A/A")
            }
            NoCross::NeverTogether(asks) => Failure::refused(format!(
                "no plant is {} at once: no genotype shows that",
                names(&asks)
            ))
            .because(self.models(&asks))
            .try_typing(self.show(&asks)),
            NoCross::NeverTrue(asks) => Failure::refused(format!(
                "no plant that is {} breeds true: its seed always throws others",
                names(&asks)
            ))
            .because(self.models(&asks))
            .try_remedy(Remedy::Without("--fixed")),
            NoCross::Lacking(lacks) => {
                let asks: Vec<usize> = lacks.iter().map(|lack| lack.ask).collect();
                let failure = Failure::refused(format!(
                    "no parent in the ledger can give {}",
                    listed(&self.looks(&asks), "or")
                ));
                let lines = lacks.iter().flat_map(|lack| self.lack(lack));
                lines
                    .fold(failure, Failure::because)
                    .try_typing("locule parent add --help")
            }
            NoCross::Apart(carriers) => {
                let failure = Failure::refused(format!(
                    "no single cross of the ledger's parents brings {} together",
                    names(&(0..self.asks.len()).collect::<Vec<_>>())
                ));
                let line = |(ask, plants): &(usize, Vec<i64>)| {
                    let plants = a_few(&self.labels(plants));
                    format!("{} comes from {plants}", self.look(*ask))
                };
                (carriers.iter().map(line))
                    .fold(failure, Failure::because)
                    .because("plan for some of them first, and cross what comes of it on")
                    .try_flag(
                        "--want",
                        self.looks(&[0, 1.min(self.asks.len() - 1)]).join(","),
                    )
            }
        }
    }

    fn models(&self, asks: &[usize]) -> String {
        let rule = |ask: &usize| {
            let look = &self.context.looks.traits[self.asks[*ask].look];
            format!(
                "{} by {}",
                look.code,
                listed(&self.symbols(look.model.loci()), "and")
            )
        };
        let rules: Vec<String> = asks.iter().map(rule).collect();
        rules.join("; ")
    }

    fn show(&self, asks: &[usize]) -> String {
        let look = &self.context.looks.traits[self.asks[asks[0]].look];
        format!("locule trait show {}", shown(&look.code))
    }

    fn lack(&self, lack: &Lack) -> Vec<String> {
        let book = &self.context.looks.book;
        let look = self.look(lack.ask);
        let together = lack.alleles.iter().all(|(_, alleles)| alleles.is_empty());
        if together {
            let loci: Vec<LocusIx> = lack.alleles.iter().map(|(locus, _)| *locus).collect();
            return vec![format!(
                "{look}: {} make it impossible together",
                listed(&self.symbols(&loci), "and")
            )];
        }
        let line = |(locus, alleles): &(LocusIx, Vec<u8>)| {
            let locus = book.get(*locus);
            let missing = alleles.iter().map(|at| &locus.alleles[usize::from(*at)]);
            let missing: Vec<&String> = missing.collect();
            format!(
                "{look}: {} makes it impossible, for no parent carries {}",
                locus.symbol,
                listed(&missing, "or")
            )
        };
        lack.alleles.iter().map(line).collect()
    }
}
