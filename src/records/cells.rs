//! Cells and the seedlings that stand in them: `T1-03`, `T1-03a`, `1-6,9`.
//!
//! A cell is a tray cell or a pot; a part letter tells several seedlings of one cell apart.

use std::fmt;
use std::str::FromStr;

/// Most cells a batch can stand in.
pub const CELLS_MAX: i64 = 10_000;

/// Where one seedling stands within its batch: a cell, and a letter where the cell holds several.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Spot {
    /// The cell, from 1.
    pub cell: i64,
    /// The part letter, or empty.
    pub part: String,
}

/// A list of cells as typed: `1-6,9`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellRange(Vec<i64>);

/// Why a text names no cell.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CellError {
    /// Not a cell number.
    #[error("'{0}' is no cell; write 3, 03, 3a, or a list such as 1-6,9")]
    Unreadable(String),
    /// Counts start at 1.
    #[error("'{0}': cells are counted from 1 to {CELLS_MAX}")]
    OutOfRange(String),
    /// A range that runs backwards.
    #[error("'{0}' runs backwards; write the smaller cell first")]
    Backwards(String),
}

fn read_cell(text: &str) -> Result<i64, CellError> {
    if text.is_empty() || !text.bytes().all(|b| b.is_ascii_digit()) {
        return Err(CellError::Unreadable(text.to_owned()));
    }
    match text.parse::<i64>() {
        Ok(cell) if (1..=CELLS_MAX).contains(&cell) => Ok(cell),
        _ => Err(CellError::OutOfRange(text.to_owned())),
    }
}

/// Places of one batch as they are typed: `7-9,11a`.
#[must_use]
pub fn listed_spots(spots: &[Spot]) -> String {
    let whole = spots.iter().filter(|spot| spot.part.is_empty());
    let cells: Vec<i64> = whole.map(|spot| spot.cell).collect();
    let lettered = spots.iter().filter(|spot| !spot.part.is_empty());
    let mut words: Vec<String> = lettered
        .map(|spot| format!("{}{}", spot.cell, spot.part))
        .collect();
    if !cells.is_empty() {
        words.insert(0, CellRange::from(cells).to_string());
    }
    words.join(",")
}

impl FromStr for Spot {
    type Err = CellError;

    fn from_str(text: &str) -> Result<Self, CellError> {
        let digits = text.bytes().take_while(u8::is_ascii_digit).count();
        let (cell, part) = text.split_at(digits);
        let part = part.to_lowercase();
        if part.chars().count() > 2 || !part.bytes().all(|b| b.is_ascii_lowercase()) {
            return Err(CellError::Unreadable(text.to_owned()));
        }
        Ok(Self {
            cell: read_cell(cell).map_err(|error| match error {
                CellError::Unreadable(_) => CellError::Unreadable(text.to_owned()),
                other => other,
            })?,
            part,
        })
    }
}

impl fmt::Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}{}", self.cell, self.part)
    }
}

impl CellRange {
    /// These cells; nothing where there are none.
    #[must_use]
    pub fn of(cells: impl IntoIterator<Item = i64>) -> Option<Self> {
        let mut cells: Vec<i64> = cells.into_iter().collect();
        cells.sort_unstable();
        cells.dedup();
        (!cells.is_empty()).then_some(Self(cells))
    }

    /// The cells, ascending, each once.
    #[must_use]
    pub fn cells(&self) -> &[i64] {
        &self.0
    }
}

impl FromStr for CellRange {
    type Err = CellError;

    fn from_str(text: &str) -> Result<Self, CellError> {
        let mut cells = Vec::new();
        for piece in text.split(',') {
            let piece = piece.trim();
            match piece.split_once('-') {
                None => cells.push(read_cell(piece)?),
                Some((from, to)) => {
                    let (from, to) = (read_cell(from.trim())?, read_cell(to.trim())?);
                    if from > to {
                        return Err(CellError::Backwards(piece.to_owned()));
                    }
                    cells.extend(from..=to);
                }
            }
        }
        cells.sort_unstable();
        cells.dedup();
        Ok(Self(cells))
    }
}

impl fmt::Display for CellRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        let mut at = 0;
        while at < self.0.len() {
            let mut end = at;
            while end + 1 < self.0.len() && self.0[end + 1] == self.0[end] + 1 {
                end += 1;
            }
            if !first {
                f.write_str(",")?;
            }
            first = false;
            if end == at {
                write!(f, "{}", self.0[at])?;
            } else {
                write!(f, "{}-{}", self.0[at], self.0[end])?;
            }
            at = end + 1;
        }
        Ok(())
    }
}

impl From<Vec<i64>> for CellRange {
    fn from(mut cells: Vec<i64>) -> Self {
        cells.sort_unstable();
        cells.dedup();
        Self(cells)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spots_and_ranges_are_read() {
        assert_eq!("3".parse::<Spot>().unwrap().to_string(), "03");
        assert_eq!("03A".parse::<Spot>().unwrap().to_string(), "03a");
        assert_eq!(
            "1-6,9".parse::<CellRange>().unwrap().cells(),
            [1, 2, 3, 4, 5, 6, 9]
        );
        for bad in [
            "",
            "0",
            "-1",
            "6-1",
            "1,,2",
            "a3",
            "99999999999999999999",
            "1-",
        ] {
            assert!(bad.parse::<CellRange>().is_err(), "{bad:?}");
        }
        assert!("3abc".parse::<Spot>().is_err());
    }

    proptest::proptest! {
        #[test]
        fn ranges_round_trip(cells in proptest::collection::vec(1i64..60, 1..20)) {
            let range = CellRange::from(cells);
            proptest::prop_assert_eq!(range.to_string().parse::<CellRange>().unwrap(), range);
        }
    }
}
