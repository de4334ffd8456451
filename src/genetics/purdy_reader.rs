//! Reads pedigrees in Purdy's notation: cuts a text into slashes and parents, then splits it at its highest slash.
//!
//! Behind the `FromStr` of [`Purdy`]; what the names mean is not known here.

use std::str::FromStr;

use super::purdy::{
    MOST_DOSES, Pedigree, Purdy, PurdyDoubt, PurdyError, PurdyFault, lone_bracket, slash,
};

/// The highest order of a slash that is read.
const MOST_ORDER: u32 = 99;

impl FromStr for Purdy {
    type Err = PurdyError;

    /// Reads a pedigree.
    ///
    /// # Errors
    /// [`PurdyError`] with the place of the fault.
    fn from_str(text: &str) -> Result<Self, PurdyError> {
        let (pieces, selection) = Lexer::new(text).read()?;
        if !pieces
            .iter()
            .any(|piece| matches!(piece.what, What::Slash(_)))
        {
            let start = pieces.first().map_or(0, |piece| piece.at);
            return Err(PurdyError::new(start, PurdyFault::NoCross));
        }
        let mut reader = Reader {
            all: pieces.len(),
            doubts: Vec::new(),
        };
        Ok(Self {
            pedigree: reader.side(&pieces, 0, 0)?.pedigree,
            selection,
            doubts: reader.doubts,
        })
    }
}

#[derive(Clone, Debug)]
enum What {
    Slash(u32),
    Parent {
        name: String,
        /// Doses in front (`3*A`) and behind (`A*3`).
        before: Option<u32>,
        behind: Option<u32>,
    },
}

#[derive(Clone, Debug)]
struct Piece {
    at: usize,
    what: What,
}

/// Cuts a text into slashes and parents.
struct Lexer {
    text: Vec<char>,
    at: usize,
}

impl Lexer {
    fn new(text: &str) -> Self {
        Self {
            text: text.chars().collect(),
            at: 0,
        }
    }

    fn peek(&self) -> Option<char> {
        self.text.get(self.at).copied()
    }

    fn skip_blanks(&mut self) {
        while self.peek().is_some_and(char::is_whitespace) {
            self.at += 1;
        }
    }

    fn read(mut self) -> Result<(Vec<Piece>, Option<String>), PurdyError> {
        let mut pieces: Vec<Piece> = Vec::new();
        loop {
            self.skip_blanks();
            let at = self.at;
            match self.peek() {
                None => return Ok((pieces, None)),
                Some('-')
                    if matches!(
                        pieces.last(),
                        Some(Piece {
                            what: What::Parent { .. },
                            ..
                        })
                    ) =>
                {
                    let history: String = self.text[at + 1..].iter().collect();
                    let history = history.trim().to_owned();
                    if history.is_empty() || history.contains('/') {
                        return Err(PurdyError::new(at, PurdyFault::LoneDash));
                    }
                    return Ok((pieces, Some(history)));
                }
                Some('/') => {
                    let what = What::Slash(self.slash()?);
                    pieces.push(Piece { at, what });
                }
                Some(_) => {
                    let what = self.parent()?;
                    pieces.push(Piece { at, what });
                }
            }
        }
    }

    fn count(&self, from: usize, wanted: impl Fn(char) -> bool) -> usize {
        self.text[from..].iter().take_while(|c| wanted(**c)).count()
    }

    /// `/`, `//` and so on, or `/3/`. Of `/3*A` only the slash is taken, for the 3 is a dose.
    fn slash(&mut self) -> Result<u32, PurdyError> {
        let start = self.at;
        let run = self.count(start, |c| c == '/');
        let digits = self.count(start + run, |c| c.is_ascii_digit());
        let close = start + run + digits;
        if run == 1 && digits > 0 && self.text.get(close) == Some(&'/') {
            self.at = close + 1;
            let order = self
                .number(start + 1, digits)
                .filter(|order| *order <= MOST_ORDER);
            return match order {
                Some(0) => Err(PurdyError::new(start, PurdyFault::OrderZero)),
                Some(order) => Ok(order),
                None => Err(PurdyError::new(start, PurdyFault::TooLarge)),
            };
        }
        self.at = start + run;
        let order = u32::try_from(run).ok().filter(|order| *order <= MOST_ORDER);
        order.ok_or_else(|| PurdyError::new(start, PurdyFault::TooLarge))
    }

    fn number(&self, from: usize, digits: usize) -> Option<u32> {
        let text: String = self.text[from..from + digits].iter().collect();
        text.parse().ok()
    }

    /// A parent with its doses.
    fn parent(&mut self) -> Result<What, PurdyError> {
        let start = self.at;
        let before = self.doses_before()?;
        self.skip_blanks();
        let name = match self.peek() {
            Some(quote @ ('\'' | '"')) => self.quoted(quote)?,
            _ => self.plain()?,
        };
        if name.is_empty() {
            return Err(PurdyError::new(start, PurdyFault::LoneStar));
        }
        let behind = self.doses_behind()?;
        if before.is_some() && behind.is_some() {
            return Err(PurdyError::new(start, PurdyFault::DoseTwice));
        }
        let bare = before.is_none() && self.text[start].is_ascii_digit();
        if bare && name.chars().all(|c| c.is_ascii_digit()) {
            return Err(PurdyError::new(start, PurdyFault::OnlyDigits(name)));
        }
        Ok(What::Parent {
            name,
            before,
            behind,
        })
    }

    fn doses_before(&mut self) -> Result<Option<u32>, PurdyError> {
        let start = self.at;
        let digits = self.count(start, |c| c.is_ascii_digit());
        let blanks = self.count(start + digits, char::is_whitespace);
        let star = start + digits + blanks;
        if digits == 0 || self.text.get(star) != Some(&'*') {
            return Ok(None);
        }
        self.at = star + 1;
        self.dose(start, digits).map(Some)
    }

    fn doses_behind(&mut self) -> Result<Option<u32>, PurdyError> {
        self.skip_blanks();
        if self.peek() != Some('*') {
            return Ok(None);
        }
        let star = self.at;
        self.at += 1;
        self.skip_blanks();
        let (start, digits) = (self.at, self.count(self.at, |c| c.is_ascii_digit()));
        self.at += digits;
        self.skip_blanks();
        let ends = matches!(self.peek(), None | Some('/' | '-'));
        if digits == 0 || !ends {
            return Err(PurdyError::new(star, PurdyFault::LoneStar));
        }
        self.dose(start, digits).map(Some)
    }

    fn dose(&self, from: usize, digits: usize) -> Result<u32, PurdyError> {
        let dose = self.number(from, digits);
        dose.filter(|dose| (2..=MOST_DOSES).contains(dose))
            .ok_or_else(|| PurdyError::new(from, PurdyFault::BadDose))
    }

    /// A name up to the next slash or star, or to a dash behind a blank.
    fn plain(&mut self) -> Result<String, PurdyError> {
        let start = self.at;
        while let Some(c) = self.peek() {
            let blank_before = self.at > start && self.text[self.at - 1].is_whitespace();
            if matches!(c, '/' | '*') || (c == '-' && blank_before) {
                break;
            }
            self.at += 1;
        }
        let name = &self.text[start..self.at];
        if let Some(at) = lone_bracket(name.iter().copied()) {
            return Err(PurdyError::new(start + at, PurdyFault::LoneBracket));
        }
        Ok(name.iter().collect::<String>().trim().to_owned())
    }

    fn quoted(&mut self, quote: char) -> Result<String, PurdyError> {
        let start = self.at;
        let mut name = String::new();
        loop {
            self.at += 1;
            match self.peek() {
                None => return Err(PurdyError::new(start, PurdyFault::OpenQuote)),
                Some(c) if c == quote && self.text.get(self.at + 1) == Some(&quote) => {
                    self.at += 1;
                    name.push(quote);
                }
                Some(c) if c == quote => break,
                Some(c) => name.push(c),
            }
        }
        self.at += 1;
        let next = self.at + self.count(self.at, char::is_whitespace);
        if !matches!(self.text.get(next), None | Some('/' | '*' | '-')) {
            return Err(PurdyError::new(next, PurdyFault::AfterQuote));
        }
        if name.trim().is_empty() {
            return Err(PurdyError::new(start, PurdyFault::EmptyName));
        }
        Ok(name)
    }
}

/// Splits pieces at their highest slash, and again on either side.
struct Reader {
    /// How many pieces there are in all.
    all: usize,
    doubts: Vec<PurdyDoubt>,
}

/// One side of a slash.
struct Side {
    pedigree: Pedigree,
    /// The highest order of slash in it.
    order: u32,
    doses: Option<Doses>,
}

/// Doses that stand at a parent by itself.
#[derive(Clone, Copy)]
struct Doses {
    times: u32,
    in_front: bool,
    /// Whether the number begins or ends the whole text, so that it can face no other slash.
    at_edge: bool,
    at: usize,
}

impl Reader {
    /// One side of a slash, or all of the text; `first` says which piece of all it begins with.
    fn side(&mut self, pieces: &[Piece], first: usize, beside: usize) -> Result<Side, PurdyError> {
        let order_of = |piece: &Piece| match piece.what {
            What::Slash(order) => order,
            What::Parent { .. } => 0,
        };
        match pieces {
            [] => Err(PurdyError::new(beside, PurdyFault::MissingParent)),
            [piece] => self.parent(piece, first),
            _ => {
                let order = pieces.iter().map(order_of).max().unwrap_or(0);
                let highest: Vec<usize> = (0..pieces.len())
                    .filter(|at| order_of(&pieces[*at]) == order)
                    .collect();
                if let [_, second, ..] = highest[..] {
                    let fault = PurdyFault::SlashTwice(slash(order));
                    return Err(PurdyError::new(pieces[second].at, fault));
                }
                let at = highest[0];
                let mother = self.side(&pieces[..at], first, pieces[at].at)?;
                let father = self.side(&pieces[at + 1..], first + at + 1, pieces[at].at)?;
                self.cross(mother, father, order)
            }
        }
    }

    fn parent(&self, piece: &Piece, place: usize) -> Result<Side, PurdyError> {
        let What::Parent {
            name,
            before,
            behind,
        } = &piece.what
        else {
            return Err(PurdyError::new(piece.at, PurdyFault::MissingParent));
        };
        let edge = if before.is_some() { 0 } else { self.all - 1 };
        let doses = before.or(*behind).map(|times| Doses {
            times,
            in_front: before.is_some(),
            at_edge: place == edge,
            at: piece.at,
        });
        Ok(Side {
            pedigree: Pedigree::named(name),
            order: 0,
            doses,
        })
    }

    fn cross(&mut self, mother: Side, father: Side, order: u32) -> Result<Side, PurdyError> {
        let below = mother.order.max(father.order);
        if order > below + 1 {
            self.doubts.push(PurdyDoubt::SlashSkipped {
                written: slash(order),
                enough: slash(below + 1),
            });
        }
        let (doses, away) = match (mother.doses, father.doses) {
            (Some(_), Some(doses)) => {
                return Err(PurdyError::new(doses.at, PurdyFault::BothDosed));
            }
            (Some(doses), None) => (doses.times, Some(doses).filter(|doses| doses.in_front)),
            (None, Some(doses)) => (doses.times, Some(doses).filter(|doses| !doses.in_front)),
            (None, None) => (1, None),
        };
        let is_mother = mother.doses.is_some();
        let (recurrent, mut other) = if is_mother {
            (mother.pedigree, father.pedigree)
        } else {
            (father.pedigree, mother.pedigree)
        };
        if let Some(lost) = away.filter(|doses| !doses.at_edge) {
            let fault = PurdyFault::DoseAway(recurrent.to_string());
            return Err(PurdyError::new(lost.at, fault));
        }
        for _ in 0..doses {
            other = if is_mother {
                Pedigree::cross(recurrent.clone(), other)
            } else {
                Pedigree::cross(other, recurrent.clone())
            };
        }
        if away.is_some() {
            self.doubts.push(PurdyDoubt::DoseTurned {
                read_as: other.to_string(),
            });
        }
        Ok(Side {
            pedigree: other,
            order,
            doses: None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault(text: &str) -> (usize, PurdyFault) {
        let error = text.parse::<Purdy>().unwrap_err();
        (error.at, error.fault)
    }

    #[test]
    fn what_is_malformed_is_pointed_at() {
        let twice = |slash: &str| PurdyFault::SlashTwice(slash.to_owned());
        for (text, at, wanted) in [
            ("A//B//C", 4, twice("//")),
            ("A/B/C", 3, twice("/")),
            ("A/B//C/D//E", 8, twice("//")),
            ("A", 0, PurdyFault::NoCross),
            ("", 0, PurdyFault::NoCross),
            ("A x B", 0, PurdyFault::NoCross),
            ("A*3", 0, PurdyFault::NoCross),
            ("/B", 0, PurdyFault::MissingParent),
            ("A/", 1, PurdyFault::MissingParent),
            ("A/B//", 3, PurdyFault::MissingParent),
            ("A/0/B", 1, PurdyFault::OrderZero),
            ("A/100/B", 1, PurdyFault::TooLarge),
            ("A/3", 2, PurdyFault::OnlyDigits("3".to_owned())),
            ("7/B", 0, PurdyFault::OnlyDigits("7".to_owned())),
            ("A*/B", 1, PurdyFault::LoneStar),
            ("A/*B", 2, PurdyFault::LoneStar),
            ("A*3B/C", 1, PurdyFault::LoneStar),
            ("A*1/B", 2, PurdyFault::BadDose),
            ("A*31/B", 2, PurdyFault::BadDose),
            ("3*A*3/B", 0, PurdyFault::DoseTwice),
            ("A*3/2*B", 4, PurdyFault::BothDosed),
            ("A/B*3//C", 2, PurdyFault::DoseAway("B".to_owned())),
            ("C//3*A/B", 3, PurdyFault::DoseAway("A".to_owned())),
            ("(A/B)//C", 0, PurdyFault::LoneBracket),
            ("A/B)//C", 3, PurdyFault::LoneBracket),
            ("A/'B", 2, PurdyFault::OpenQuote),
            ("A/'B'C", 5, PurdyFault::AfterQuote),
            ("A/''", 2, PurdyFault::EmptyName),
            ("A/' '", 2, PurdyFault::EmptyName),
            ("A -3/B", 2, PurdyFault::LoneDash),
            ("A/B -", 4, PurdyFault::LoneDash),
        ] {
            assert_eq!(fault(text), (at, wanted), "{text}");
        }
        let error = "辣/B/C".parse::<Purdy>().unwrap_err();
        assert_eq!(error.pointed("辣/B/C"), "辣/B/C\n    ^");
    }

    #[test]
    fn what_old_lists_write_is_read_and_doubted() {
        let doubts = |text: &str| text.parse::<Purdy>().unwrap().doubts;
        let skipped = |written: &str, enough: &str| PurdyDoubt::SlashSkipped {
            written: written.to_owned(),
            enough: enough.to_owned(),
        };
        assert_eq!(doubts("A//B"), [skipped("//", "/")]);
        assert_eq!(doubts("A/B/3/C"), [skipped("/3/", "//")]);
        assert_eq!(doubts("A/B///C"), [skipped("/3/", "//")]);
        assert_eq!(doubts("A/2/B/C"), []);
        let turned = |read_as: &str| PurdyDoubt::DoseTurned {
            read_as: read_as.to_owned(),
        };
        assert_eq!(doubts("B/A*3"), [turned("B/3*A")]);
        assert_eq!(doubts("3*A/B"), [turned("A*3/B")]);
    }

    #[test]
    fn selection_history_is_kept_apart() {
        let read: Purdy = "Black Reed/B-7 -12-3".parse().unwrap();
        assert_eq!(read.selection.as_deref(), Some("12-3"));
        assert_eq!(read.pedigree.names(), ["Black Reed", "B-7"]);
        assert_eq!(read.to_string(), "Black Reed/B-7 -12-3");
    }
}
