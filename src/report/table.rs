//! Tables that fit the page: a line under the headings, columns wrapped, numbers to the right.

use comfy_table::{
    CellAlignment, ColumnConstraint, ContentArrangement, ContentLineStyle, LineStyle, Width,
};
use comfy_table::{Table as Grid, TableStyle};

use super::Page;
use super::numbers::in_a_column;
use super::text::{columns, shown, wrapped};

const PLAIN: TableStyle = TableStyle::new()
    .header_lines(ContentLineStyle::none())
    .header_separator(LineStyle::none().fill('-').junction('-'))
    .content_lines(ContentLineStyle::none());

/// A table under construction.
#[derive(Debug)]
pub struct Table {
    grid: Grid,
    rights: Vec<usize>,
    wholes: Vec<(usize, u16)>,
    /// Columns that are never wrapped.
    unwrapped: Vec<usize>,
    /// How much of the page the first column leaves to the others; nothing where it is never wrapped.
    leaves: Option<usize>,
    remarks: Vec<String>,
}

/// Marks the line where a remark belongs until the table is laid out.
const REMARK: char = '\u{E000}';

/// Stands for a blank at which no line is broken until the table is laid out.
const TIED: char = '\u{E001}';

/// A first column is wrapped to no fewer columns than this.
const LEAST_FIRST: usize = 16;

/// The columns of a page that a column of a table takes beside its words, where there is room: a blank on either side and
/// one to the next.
const BETWEEN: usize = 3;

/// The same where with that words would be torn: a blank less on the right.
const BETWEEN_CLOSE: usize = 2;

/// How far a remark under a row is set in.
const INDENT: &str = "     ";

impl Table {
    /// A table with these headings; one that begins with `>` stands over a column set to the right.
    #[must_use]
    pub fn new(headings: &[&str]) -> Self {
        let mut grid = Grid::new();
        grid.load_style(PLAIN)
            .force_no_tty()
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_header(headings.iter().map(|text| text.trim_start_matches('>')));
        let rights = (0..headings.len())
            .filter(|at| headings[*at].starts_with('>'))
            .collect();
        Self {
            grid,
            rights,
            wholes: Vec::new(),
            unwrapped: Vec::new(),
            leaves: None,
            remarks: Vec::new(),
        }
    }

    /// Adds a row. In a column set to the right a percentage is written short and never torn from its sign.
    pub fn row<T: AsRef<str>>(&mut self, cells: impl IntoIterator<Item = T>) {
        let rights = &self.rights;
        let cells = cells.into_iter().enumerate().map(|(at, cell)| {
            let text = shown(cell.as_ref());
            match rights.contains(&at) {
                true => in_a_column(&text).replace(" %", &format!("{TIED}%")),
                false => text,
            }
        });
        self.grid.add_row(cells);
    }

    /// Makes a column wide enough for a word, so that it is not torn.
    pub fn keep_whole(&mut self, column: usize, word: &str) {
        let width = u16::try_from(columns(word)).unwrap_or(u16::MAX);
        self.wholes.push((column, width));
    }

    /// Never wraps a column: for numbers, which are none when they are torn.
    pub fn never_wrap(&mut self, column: usize) {
        self.unwrapped.push(column);
    }

    /// Wraps the first column where it would leave less than this of the page to the others: for sentences, not names.
    pub const fn wrap_first(&mut self, leaves: usize) {
        self.leaves = Some(leaves);
    }

    /// Adds a remark under the row added last, as wide as the page.
    pub fn remark(&mut self, text: &str) {
        self.grid.add_row([REMARK.to_string()]);
        self.remarks.push(shown(text));
    }

    /// How wide each column but the first must be so that no word is torn, and how far they stand from each other; on a
    /// page too narrow for all of them columns come closer, and then the widest give way.
    fn whole_words(&self, page: Page) -> (Vec<(usize, u16)>, usize) {
        let rows = self.grid.header().into_iter().chain(self.grid.row_iter());
        let mut words: Vec<u16> = Vec::new();
        let mut names = 0;
        for row in rows {
            for (at, cell) in row.cell_iter().enumerate() {
                let text = cell.content();
                let longest = text.split_whitespace().map(columns).max().unwrap_or(0);
                words.resize(words.len().max(at + 1), 0);
                words[at] = words[at].max(u16::try_from(longest).unwrap_or(u16::MAX));
                if at == 0 {
                    names = names.max(columns(&text));
                }
            }
        }
        let first = match self.leaves {
            None => names,
            Some(leaves) => names.min(page.width.saturating_sub(leaves).max(LEAST_FIRST)),
        };
        let room = |between: usize| page.width.saturating_sub(first + words.len() * between);
        let whole = |at: usize| self.wholes.iter().find(|(own, _)| *own == at);
        let bound = |at: usize, most: u16| match whole(at) {
            Some((_, width)) => words[at].min(most).max(*width),
            None => words[at].min(most),
        };
        let fits = |most: u16, between: usize| {
            let all = (1..words.len()).map(|at| usize::from(bound(at, most)));
            all.sum::<usize>() <= room(between)
        };
        let widest = words.iter().skip(1).copied().max().unwrap_or(0);
        let between = match fits(widest, BETWEEN) {
            true => BETWEEN,
            false => BETWEEN_CLOSE,
        };
        let mut narrower = (1..=widest).rev();
        let most = narrower.find(|most| fits(*most, between)).unwrap_or(1);
        let bounds = (1..words.len()).map(|at| (at, bound(at, most)));
        (bounds.collect(), between)
    }

    /// The table as text for a page, without a line feed at the end.
    #[must_use]
    pub fn text(mut self, page: Page) -> String {
        self.grid
            .set_width(u16::try_from(page.width).unwrap_or(u16::MAX));
        // The first column names the row: a name torn apart is no name.
        if let Some(column) = self.grid.column_mut(0) {
            column.set_constraint(match self.leaves {
                None => ColumnConstraint::ContentWidth,
                Some(leaves) => {
                    let most = page.width.saturating_sub(leaves).max(LEAST_FIRST);
                    let most = u16::try_from(most).unwrap_or(u16::MAX);
                    ColumnConstraint::UpperBoundary(Width::Fixed(most))
                }
            });
        }
        let (bounds, between) = self.whole_words(page);
        let blanks = if between == BETWEEN { (1, 1) } else { (1, 0) };
        self.grid
            .column_iter_mut()
            .for_each(|column| _ = column.set_padding(blanks));
        for (at, width) in bounds {
            if let Some(column) = self.grid.column_mut(at) {
                // A bound holds the blanks on either side of the words too.
                let width = width.saturating_add(blanks.0 + blanks.1);
                column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(width)));
            }
        }
        for at in self.unwrapped {
            if let Some(column) = self.grid.column_mut(at) {
                column.set_constraint(ColumnConstraint::ContentWidth);
            }
        }
        for at in self.rights {
            if let Some(column) = self.grid.column_mut(at) {
                column.set_cell_alignment(CellAlignment::Right);
            }
        }
        let mut remarks = self.remarks.into_iter();
        let lines: Vec<String> = self
            .grid
            .lines()
            .map(|line| match remarks.as_slice() {
                [_, ..] if line.trim() == REMARK.to_string() => {
                    let remark = remarks.next().expect("there is one more");
                    wrapped(&format!("{INDENT}{remark}"), page.width, "")
                }
                _ => line.trim_end().replace(TIED, " "),
            })
            .collect();
        lines.join("\n")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_word_is_torn_while_the_page_has_room_for_it() {
        let mut table = Table::new(&["trait", "stage", "classes", "what it is"]);
        let classes = "red, pale-orange-yellow, lemon-yellow, orange-yellow, brown, green";
        table.row([
            "placenta-blisters",
            "inoculation",
            classes,
            "Ripe fruit colour, as the eye has it",
        ]);
        let wide = table.text(Page { width: 72 });
        assert!(wide.contains("pale-orange-yellow,"), "{wide}");
        assert!(wide.lines().all(|line| columns(line) <= 72), "{wide}");
        let mut table = Table::new(&["trait", "classes"]);
        table.row(["ripe-colour", &"pale-orange-yellow-".repeat(5)]);
        let narrow = table.text(Page { width: 40 });
        assert!(narrow.lines().all(|line| columns(line) <= 40), "{narrow}");
    }

    #[test]
    fn a_percentage_keeps_its_sign_on_its_line() {
        let mut table = Table::new(&["plant", ">looks", ">seed"]);
        table.row(["T1-01", "over 99.9 %", "54 to 71 %"]);
        let text = table.text(Page { width: 25 });
        assert!(text.contains(">99.9 %"), "{text}");
        let torn = |line: &str| line.trim_start().starts_with('%');
        assert!(!text.lines().any(torn) && !text.contains(TIED), "{text}");
    }

    /// Nine columns of seven: 90 with a blank on either side of each, 81 with one.
    #[test]
    fn columns_come_closer_before_a_word_is_torn() {
        let mut table = Table::new(&[">"; 9].map(|_| ">purple"));
        table.row(["over 99.9 %"; 9]);
        let wide = table.text(Page { width: 92 });
        assert_eq!(wide.lines().count(), 3, "{wide}");
        let mut table = Table::new(&[">"; 9].map(|_| ">purple"));
        table.row(["over 99.9 %"; 9]);
        let close = table.text(Page { width: 82 });
        assert_eq!(close.lines().count(), 3, "{close}");
    }

    #[test]
    fn tables_keep_to_the_page() {
        let mut table = Table::new(&["class", ">seen", "why"]);
        table.row([
            "purple",
            "9",
            &"a long reason that must be wrapped ".repeat(5),
        ]);
        table.row(["辣椒 \u{1b}[31m", "10", ""]);
        table.remark(&"why it is so ".repeat(9));
        let text = table.text(Page { width: 60 });
        assert!(text.lines().all(|line| columns(line) <= 60), "{text}");
        assert!(text.contains("\n     why it is so why") && !text.contains(REMARK));
        assert!(text.contains("U+001B") && !text.contains('\u{1b}'));
        assert!(text.lines().any(|line| line.contains("    9")), "{text}");
    }
}
