//! Loci and the book that holds them.
//!
//! A locus has a symbol and its alleles in order, the dominant or wild type first. The book finds a
//! locus by its symbol or by one of its alleles, and sees to it that an allele symbol belongs to one
//! locus only. Chromosomes and distances are not kept here. Genotypes, rules and the records room
//! look loci up in the book.

use std::collections::HashMap;

use thiserror::Error;

use super::allele::{SymbolFault, check_symbol, same_but_for_case};

/// The most alleles that one locus may have.
pub const MOST_ALLELES: usize = 20;

/// How far a sum of shares may be from 1, for rounding.
const SUM_SLACK: f64 = 1e-6;

/// The place of a locus in its [`LocusBook`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LocusIx(pub usize);

/// A locus: symbol and alleles.
#[derive(Clone, Debug, PartialEq)]
pub struct Locus {
    /// The symbol, such as `Pun1`.
    pub symbol: String,
    /// Allele symbols, dominant or wild type first.
    pub alleles: Vec<String>,
    /// The stated share of each allele among founders, in the order of the alleles.
    stated: Vec<Option<f64>>,
}

impl Locus {
    /// The shares of all alleles among founders: as stated, what is left spread evenly over the unstated
    /// ones; 1/k each where nothing is stated. They sum to 1.
    #[must_use]
    pub fn shares(&self) -> Vec<f64> {
        let sum: f64 = self.stated.iter().flatten().sum();
        let open = self.stated.iter().filter(|share| share.is_none()).count();
        if open == 0 {
            return self.stated.iter().flatten().map(|p| p / sum).collect();
        }
        let rest = (1.0 - sum).max(0.0) / open as f64;
        let share = |stated: &Option<f64>| stated.unwrap_or(rest);
        self.stated.iter().map(share).collect()
    }

    /// The index of an allele by its symbol, case-sensitive.
    #[must_use]
    pub fn allele(&self, symbol: &str) -> Option<u8> {
        let place = self.alleles.iter().position(|a| a == symbol)?;
        Some(place as u8)
    }
}

/// Why a locus cannot be entered in the book.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum LocusError {
    /// A symbol that cannot be spelled so.
    #[error("\"{}\" cannot be a symbol: {fault}", .symbol.escape_debug())]
    Symbol {
        /// The symbol as written.
        symbol: String,
        /// What is wrong with it.
        fault: SymbolFault,
    },
    /// The locus is in the book already, or its symbol is an allele of another.
    #[error("{symbol} is taken: it is a symbol at locus {locus}")]
    SymbolTaken {
        /// The symbol wanted.
        symbol: String,
        /// The locus that has it.
        locus: String,
    },
    /// An allele belongs to another locus.
    #[error(
        "allele {allele} belongs to locus {locus}; an allele symbol can stand for one locus only"
    )]
    AlleleTaken {
        /// The allele wanted.
        allele: String,
        /// The locus that has it.
        locus: String,
    },
    /// One allele is written twice.
    #[error("allele {allele} is written twice for locus {locus}")]
    AlleleTwice {
        /// The allele.
        allele: String,
        /// The locus.
        locus: String,
    },
    /// Fewer than two alleles, or more than [`MOST_ALLELES`].
    #[error("locus {locus} was given {count} alleles; it needs 2 to {MOST_ALLELES}")]
    AlleleCount {
        /// The locus.
        locus: String,
        /// How many were written.
        count: usize,
    },
    /// A share that does not lie between 0 and 1.
    #[error("{share} cannot be the share of {allele} at locus {locus}; it lies between 0 and 1")]
    Share {
        /// The locus.
        locus: String,
        /// The allele.
        allele: String,
        /// The share as given.
        share: f64,
    },
    /// Shares that add up to more than 1, or to less where every allele has one.
    #[error("the shares of locus {locus} add up to {sum}, not 1: {shares}")]
    ShareSum {
        /// The locus.
        locus: String,
        /// Their sum.
        sum: f64,
        /// Each allele with its share.
        shares: String,
    },
}

/// All loci known, in the order they were met.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LocusBook {
    loci: Vec<Locus>,
    by_symbol: HashMap<String, LocusIx>,
    by_allele: HashMap<String, (LocusIx, u8)>,
}

impl LocusBook {
    /// An empty book.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// How many loci it holds. Parsing may add some: whoever stores loci compares before and after
    /// (see [`LocusBook::since`]).
    #[must_use]
    pub fn len(&self) -> usize {
        self.loci.len()
    }

    /// Whether no locus is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.loci.is_empty()
    }

    /// The locus at an index that this book gave.
    ///
    /// # Panics
    /// If the index is of another, longer book.
    #[must_use]
    pub fn get(&self, ix: LocusIx) -> &Locus {
        &self.loci[ix.0]
    }

    /// All loci in order.
    pub fn iter(&self) -> impl Iterator<Item = (LocusIx, &Locus)> {
        self.since(0)
    }

    /// The loci that were added after the book had the given length.
    pub fn since(&self, length: usize) -> impl Iterator<Item = (LocusIx, &Locus)> {
        let numbered = self.loci.iter().enumerate();
        numbered.skip(length).map(|(i, locus)| (LocusIx(i), locus))
    }

    /// The locus of a symbol, case-sensitive.
    #[must_use]
    pub fn find(&self, symbol: &str) -> Option<LocusIx> {
        self.by_symbol.get(symbol).copied()
    }

    /// The locus that an allele belongs to, and the allele's index there; case-sensitive.
    #[must_use]
    pub fn locus_of_allele(&self, allele: &str) -> Option<(LocusIx, u8)> {
        self.by_allele.get(allele).copied()
    }

    /// A locus whose symbol, or one of whose alleles, is spelled like this but for case.
    #[must_use]
    pub fn near(&self, symbol: &str) -> Option<LocusIx> {
        let alike = |known: &String| same_but_for_case(known, symbol);
        self.iter()
            .find(|(_, locus)| alike(&locus.symbol) || locus.alleles.iter().any(alike))
            .map(|(ix, _)| ix)
    }

    /// Enters a locus with its alleles, dominant or wild type first.
    ///
    /// # Errors
    /// [`LocusError`] when a symbol cannot be spelled so, is taken or written twice, or when there are
    /// too few or too many alleles. The book is then as before.
    pub fn declare<S: AsRef<str>>(
        &mut self,
        symbol: &str,
        alleles: &[S],
    ) -> Result<LocusIx, LocusError> {
        check_spelling(symbol)?;
        if let Some(holder) = self.holder(symbol) {
            let locus = self.get(holder).symbol.clone();
            return Err(LocusError::SymbolTaken {
                symbol: symbol.into(),
                locus,
            });
        }
        let ix = LocusIx(self.loci.len());
        let alleles = self.admit_alleles(ix, symbol, alleles)?;
        self.loci.push(Locus {
            symbol: symbol.into(),
            stated: vec![None; alleles.len()],
            alleles,
        });
        self.index(ix);
        Ok(ix)
    }

    /// Gives a known locus another list of alleles, whose shares are then unstated. Genotypes and gene
    /// models read before hold indices into the old list and must be read again.
    ///
    /// # Errors
    /// As [`LocusBook::declare`]; the book is then as before.
    pub fn redeclare<S: AsRef<str>>(
        &mut self,
        ix: LocusIx,
        alleles: &[S],
    ) -> Result<(), LocusError> {
        let symbol = self.get(ix).symbol.clone();
        let alleles = self.admit_alleles(ix, &symbol, alleles)?;
        self.by_allele.retain(|_, (holder, _)| *holder != ix);
        self.loci[ix.0].stated = vec![None; alleles.len()];
        self.loci[ix.0].alleles = alleles;
        self.index(ix);
        Ok(())
    }

    /// States the shares of a locus's alleles among founders, one for each allele in order; the unstated
    /// ones share the rest evenly. Alleles beyond the end of the list are unstated.
    ///
    /// # Errors
    /// [`LocusError::Share`] outside [0, 1]; [`LocusError::ShareSum`] where they add up to more than 1, or
    /// where every allele has one and they add up to less. The book is then as before.
    pub fn set_shares(&mut self, ix: LocusIx, shares: Vec<Option<f64>>) -> Result<(), LocusError> {
        let locus = self.get(ix);
        let mut stated = shares;
        stated.resize(locus.alleles.len(), None);
        check_shares(locus, &stated)?;
        self.loci[ix.0].stated = stated;
        Ok(())
    }

    /// Forgets every locus added after the book had the given length.
    pub(super) fn truncate(&mut self, length: usize) {
        self.loci.truncate(length);
        self.by_symbol.retain(|_, ix| ix.0 < length);
        self.by_allele.retain(|_, (ix, _)| ix.0 < length);
    }

    fn holder(&self, symbol: &str) -> Option<LocusIx> {
        self.find(symbol)
            .or_else(|| self.locus_of_allele(symbol).map(|(ix, _)| ix))
    }

    fn admit_alleles<S: AsRef<str>>(
        &self,
        ix: LocusIx,
        locus: &str,
        alleles: &[S],
    ) -> Result<Vec<String>, LocusError> {
        let count = alleles.len();
        if !(2..=MOST_ALLELES).contains(&count) {
            return Err(LocusError::AlleleCount {
                locus: locus.into(),
                count,
            });
        }
        let mut admitted: Vec<String> = Vec::with_capacity(count);
        for allele in alleles.iter().map(AsRef::as_ref) {
            check_spelling(allele)?;
            if let Some(other) = self.holder(allele).filter(|other| *other != ix) {
                let locus = self.get(other).symbol.clone();
                return Err(LocusError::AlleleTaken {
                    allele: allele.into(),
                    locus,
                });
            }
            if admitted.iter().any(|a| a == allele) {
                let (allele, locus) = (allele.into(), locus.into());
                return Err(LocusError::AlleleTwice { allele, locus });
            }
            admitted.push(allele.into());
        }
        Ok(admitted)
    }

    fn index(&mut self, ix: LocusIx) {
        let locus = &self.loci[ix.0];
        self.by_symbol.insert(locus.symbol.clone(), ix);
        for (i, allele) in locus.alleles.iter().enumerate() {
            self.by_allele.insert(allele.clone(), (ix, i as u8));
        }
    }
}

fn check_shares(locus: &Locus, stated: &[Option<f64>]) -> Result<(), LocusError> {
    let named = || locus.alleles.iter().zip(stated);
    let named = || named().filter_map(|(allele, share)| Some((allele, (*share)?)));
    if let Some((allele, share)) = named().find(|(_, p)| !(0.0..=1.0).contains(p)) {
        let (locus, allele) = (locus.symbol.clone(), allele.clone());
        return Err(LocusError::Share {
            locus,
            allele,
            share,
        });
    }
    let sum: f64 = stated.iter().flatten().sum();
    let is_whole = stated.iter().all(Option::is_some);
    if sum <= 1.0 + SUM_SLACK && (!is_whole || sum >= 1.0 - SUM_SLACK) {
        return Ok(());
    }
    let shares: Vec<String> = named().map(|(a, share)| format!("{a} {share}")).collect();
    Err(LocusError::ShareSum {
        locus: locus.symbol.clone(),
        sum,
        shares: shares.join(", "),
    })
}

fn check_spelling(symbol: &str) -> Result<(), LocusError> {
    check_symbol(symbol).map_err(|fault| LocusError::Symbol {
        symbol: symbol.into(),
        fault,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_by_symbol_and_by_allele() {
        let mut book = LocusBook::new();
        let a = book.declare("A", &["A", "a"]).unwrap();
        let l = book.declare("L", &["L4", "L3", "l"]).unwrap();
        assert_eq!(book.find("L"), Some(l));
        assert_eq!(book.find("l"), None);
        assert_eq!(book.locus_of_allele("l"), Some((l, 2)));
        assert_eq!(book.locus_of_allele("a"), Some((a, 1)));
        assert_eq!(book.near("l3"), Some(l));
        assert_eq!(book.since(1).map(|(ix, _)| ix).collect::<Vec<_>>(), [l]);
        assert_eq!(book.get(l).allele("L3"), Some(1));
    }

    #[test]
    fn an_allele_belongs_to_one_locus() {
        let mut book = LocusBook::new();
        book.declare("A", &["A", "a"]).unwrap();
        let before = book.clone();
        let taken = book.declare("B", &["B", "a"]).unwrap_err();
        assert_eq!(
            taken,
            LocusError::AlleleTaken {
                allele: "a".into(),
                locus: "A".into()
            }
        );
        let again = book.declare("A", &["A", "a"]).unwrap_err();
        assert!(matches!(again, LocusError::SymbolTaken { .. }));
        let twice = book.declare("B", &["B", "B"]).unwrap_err();
        assert!(matches!(twice, LocusError::AlleleTwice { .. }));
        let one = book.declare("B", &["B"]).unwrap_err();
        assert!(matches!(one, LocusError::AlleleCount { count: 1, .. }));
        assert_eq!(book, before);
    }

    #[test]
    fn alleles_can_be_listed_anew() {
        let mut book = LocusBook::new();
        let a = book.declare("A", &["A", "a"]).unwrap();
        book.redeclare(a, &["A", "a2", "a1"]).unwrap();
        assert_eq!(book.locus_of_allele("a"), None);
        assert_eq!(book.locus_of_allele("a1"), Some((a, 2)));
    }

    #[test]
    fn shares_sum_to_one() {
        let mut book = LocusBook::new();
        let l = book.declare("L", &["L4", "L3", "l"]).unwrap();
        assert_eq!(book.get(l).shares(), [1.0 / 3.0; 3].to_vec());
        book.set_shares(l, vec![Some(0.5)]).unwrap();
        assert_eq!(book.get(l).shares(), [0.5, 0.25, 0.25]);
        book.set_shares(l, vec![None, None, Some(0.5)]).unwrap();
        assert_eq!(book.get(l).shares(), [0.25, 0.25, 0.5]);
        let whole = vec![Some(0.5), Some(0.25), Some(0.25)];
        book.set_shares(l, whole).unwrap();
        assert_eq!(book.get(l).shares(), [0.5, 0.25, 0.25]);
        let before = book.clone();
        for bad in [
            vec![Some(1.5)],
            vec![None, Some(f64::NAN)],
            vec![Some(0.6), None, Some(0.5)],
            vec![Some(0.1), Some(0.2), Some(0.3)],
        ] {
            assert!(book.set_shares(l, bad).is_err());
        }
        assert_eq!(book, before);
    }
}
