//! Genotypes as breeders write them: `A/a Pun1/pun1`, `A/_`, `A|a`.
//!
//! Two alleles per locus, loci apart by spaces. `/` leaves open which parent an allele came from, `|`
//! says mother | father (the convention of the Variant Call Format, where genotypes are written
//! `0/1` and `0|1`). `_` is an unknown allele; a locus that is not named is unknown. A locus first met
//! here is entered in the book with the alleles written; an allele written alone brings its case twin.
//! Plants and what is believed of them are not known here.

use super::allele::{case_twin, check_symbol, dominant_first};
use super::genotype::Diploid;
use super::locus::{LocusBook, LocusIx};

pub use super::notation_error::{AlleleOf, NotationError, NotationFault};

/// What is stated of one locus. Without phase the more dominant allele stands first and an unknown one
/// last; with phase the mother's allele is first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct StatedLocus {
    /// The locus.
    pub locus: LocusIx,
    /// First allele, `None` if unknown.
    pub first: Option<u8>,
    /// Second allele, `None` if unknown.
    pub second: Option<u8>,
    /// Whether the first allele is known to come from the mother and the second from the father.
    pub phased: bool,
}

impl StatedLocus {
    /// Whether a pair of alleles fits the statement; the phase is no matter.
    #[must_use]
    pub fn matches(&self, pair: Diploid) -> bool {
        match (self.first, self.second) {
            (Some(one), Some(other)) => pair == Diploid::new(one, other),
            (Some(known), None) | (None, Some(known)) => pair.carries(known),
            (None, None) => true,
        }
    }

    /// All pairs that fit, in the order of [`Diploid::all`].
    #[must_use]
    pub fn compatible(&self, book: &LocusBook) -> Vec<Diploid> {
        let mut pairs = Diploid::all(book.get(self.locus).alleles.len());
        pairs.retain(|pair| self.matches(*pair));
        pairs
    }

    /// The pair, if both alleles are stated.
    #[must_use]
    pub fn diploid(&self) -> Option<Diploid> {
        Some(Diploid::new(self.first?, self.second?))
    }

    /// As it is written: `A/a`, `A/_`, `A|a`.
    #[must_use]
    pub fn written(&self, book: &LocusBook) -> String {
        let alleles = &book.get(self.locus).alleles;
        let symbol = |allele: Option<u8>| match allele {
            Some(i) => alleles[usize::from(i)].as_str(),
            None => "_",
        };
        let sign = if self.phased { '|' } else { '/' };
        format!("{}{sign}{}", symbol(self.first), symbol(self.second))
    }
}

/// A genotype stated at some loci, each at most once, in the order written.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Genotype {
    /// The statements.
    pub loci: Vec<StatedLocus>,
}

impl Genotype {
    /// Reads a genotype. Loci not met before are entered at the end of the book; the caller finds them
    /// with [`LocusBook::since`].
    ///
    /// # Errors
    /// [`NotationError`] with the place of the fault; the book is then as before.
    pub fn parse(text: &str, book: &mut LocusBook) -> Result<Self, NotationError> {
        let genotype = Self::parse_any(text, book)?;
        if genotype.loci.is_empty() {
            let fault = NotationFault::Empty;
            return Err(NotationError {
                at: 0,
                piece: String::new(),
                fault,
            });
        }
        Ok(genotype)
    }

    /// Reads a genotype that may also name no locus at all.
    pub(super) fn parse_any(text: &str, book: &mut LocusBook) -> Result<Self, NotationError> {
        let before = book.len();
        let read = read_pieces(text, book);
        if read.is_err() {
            book.truncate(before);
        }
        read
    }

    /// What is stated of a locus.
    #[must_use]
    pub fn at(&self, locus: LocusIx) -> Option<&StatedLocus> {
        self.loci.iter().find(|stated| stated.locus == locus)
    }

    /// Whether a pair of alleles at a locus fits; at a locus not named every pair does.
    #[must_use]
    pub fn matches(&self, locus: LocusIx, pair: Diploid) -> bool {
        self.at(locus).is_none_or(|stated| stated.matches(pair))
    }

    /// As it is written; [`Genotype::parse`] reads it back.
    #[must_use]
    pub fn written(&self, book: &LocusBook) -> String {
        let pieces: Vec<String> = self
            .loci
            .iter()
            .map(|stated| stated.written(book))
            .collect();
        pieces.join(" ")
    }
}

/// A stretch of text and the place of its first character.
#[derive(Clone, Copy)]
pub(super) struct Piece<'t> {
    pub(super) text: &'t str,
    pub(super) at: usize,
}

impl Piece<'_> {
    pub(super) fn fault(self, offset: usize, fault: NotationFault) -> NotationError {
        NotationError {
            at: self.at + offset,
            piece: self.text.to_owned(),
            fault,
        }
    }
}

/// The pieces of a text between white space.
pub(super) fn pieces(text: &str) -> Vec<Piece<'_>> {
    let mut found = Vec::new();
    let mut at = 0;
    for part in text.split(char::is_whitespace) {
        if !part.is_empty() {
            found.push(Piece { text: part, at });
        }
        at += part.chars().count() + 1;
    }
    found
}

fn read_pieces(text: &str, book: &mut LocusBook) -> Result<Genotype, NotationError> {
    let mut genotype = Genotype::default();
    for piece in pieces(text) {
        let stated = read_piece(piece, book)?;
        if genotype.at(stated.locus).is_some() {
            let locus = book.get(stated.locus).symbol.clone();
            return Err(piece.fault(0, NotationFault::LocusTwice { locus }));
        }
        genotype.loci.push(stated);
    }
    Ok(genotype)
}

fn read_piece(piece: Piece<'_>, book: &mut LocusBook) -> Result<StatedLocus, NotationError> {
    let (left, right, phased) = split_alleles(piece)?;
    let mut sides = [None, None];
    for (side, (symbol, offset)) in sides.iter_mut().zip([left, right]) {
        *side = read_allele(piece, symbol, offset)?;
    }
    let (locus, [first, second]) = resolve(piece, sides, book)?;
    let swap = !phased && first.unwrap_or(u8::MAX) > second.unwrap_or(u8::MAX);
    let (first, second) = if swap {
        (second, first)
    } else {
        (first, second)
    };
    Ok(StatedLocus {
        locus,
        first,
        second,
        phased,
    })
}

/// An allele as written and its offset in the piece.
type Written<'t> = (&'t str, usize);

fn split_alleles(piece: Piece<'_>) -> Result<(Written<'_>, Written<'_>, bool), NotationError> {
    let is_sign = |c: char| c == '/' || c == '|';
    let Some((left, right)) = piece.text.split_once(is_sign) else {
        read_allele(piece, piece.text, 0)?;
        return Err(piece.fault(0, NotationFault::MissingSlash));
    };
    let place = left.chars().count();
    if let Some((between, _)) = right.split_once(is_sign) {
        let second = place + 1 + between.chars().count();
        return Err(piece.fault(second, NotationFault::TooManyAlleles));
    }
    let phased = piece.text.contains('|');
    Ok(((left, 0), (right, place + 1), phased))
}

fn read_allele<'t>(
    piece: Piece<'_>,
    symbol: &'t str,
    offset: usize,
) -> Result<Option<Written<'t>>, NotationError> {
    use super::allele::SymbolFault;
    if symbol == "_" {
        return Ok(None);
    }
    match check_symbol(symbol) {
        Ok(()) => Ok(Some((symbol, offset))),
        Err(SymbolFault::Empty) => Err(piece.fault(offset, NotationFault::MissingAllele)),
        Err(fault) => {
            let within = if let SymbolFault::Illegal(_, place) = fault {
                place
            } else {
                0
            };
            Err(piece.fault(offset + within, NotationFault::Symbol(fault)))
        }
    }
}

fn resolve(
    piece: Piece<'_>,
    sides: [Option<Written<'_>>; 2],
    book: &mut LocusBook,
) -> Result<(LocusIx, [Option<u8>; 2]), NotationError> {
    let known = sides.map(|side| side.and_then(|(symbol, _)| book.locus_of_allele(symbol)));
    if let [Some((one, _)), Some((other, _))] = known
        && one != other
    {
        return Err(mixed(piece, sides, [one, other], book));
    }
    let locus = match known.iter().flatten().next() {
        Some((locus, _)) => *locus,
        None => enter_locus(piece, sides, book)?,
    };
    let mut alleles = [None, None];
    for (allele, (symbol, offset)) in alleles
        .iter_mut()
        .zip(sides)
        .filter_map(|(a, s)| Some((a, s?)))
    {
        let index = book.get(locus).allele(symbol);
        *allele = Some(index.ok_or_else(|| unknown(piece, (symbol, offset), locus, book))?);
    }
    Ok((locus, alleles))
}

/// Enters the locus of alleles none of which is known.
fn enter_locus(
    piece: Piece<'_>,
    sides: [Option<Written<'_>>; 2],
    book: &mut LocusBook,
) -> Result<LocusIx, NotationError> {
    let written: Vec<Written<'_>> = sides.into_iter().flatten().collect();
    for side in &written {
        if let Some(near) = book.near(side.0) {
            return Err(unknown(piece, *side, near, book));
        }
    }
    let (one, other) = match written[..] {
        [] => return Err(piece.fault(0, NotationFault::NoAllele)),
        [(one, _), (other, _)] if one != other => (one.to_owned(), other.to_owned()),
        [(alone, offset), ..] => {
            let twin = case_twin(alone).ok_or_else(|| no_twin(piece, (alone, offset)))?;
            (alone.to_owned(), twin)
        }
    };
    let alleles = dominant_first(one, other);
    // A letter whose other case is spelled in a way that no symbol may be has no twin.
    book.declare(&alleles[0].clone(), &alleles)
        .map_err(|_| no_twin(piece, written[0]))
}

fn no_twin(piece: Piece<'_>, (symbol, offset): Written<'_>) -> NotationError {
    piece.fault(
        offset,
        NotationFault::NoTwin {
            allele: symbol.to_owned(),
        },
    )
}

fn mixed(
    piece: Piece<'_>,
    sides: [Option<Written<'_>>; 2],
    loci: [LocusIx; 2],
    book: &LocusBook,
) -> NotationError {
    let named = |i: usize| AlleleOf {
        allele: sides[i].map_or("_", |(symbol, _)| symbol).to_owned(),
        locus: book.get(loci[i]).symbol.clone(),
    };
    let offset = sides[1].map_or(0, |(_, offset)| offset);
    piece.fault(
        offset,
        NotationFault::MixedLoci(Box::new([named(0), named(1)])),
    )
}

fn unknown(
    piece: Piece<'_>,
    (symbol, offset): Written<'_>,
    locus: LocusIx,
    book: &LocusBook,
) -> NotationError {
    let locus = book.get(locus);
    let fault = NotationFault::UnknownAllele {
        allele: symbol.to_owned(),
        locus: locus.symbol.clone(),
        known: locus.alleles.clone(),
    };
    piece.fault(offset, fault)
}
