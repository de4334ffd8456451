//! Answers laid out to be printed: 80 columns by 60 lines a page, which A4 and Letter both hold.
//!
//! What belongs together comes as one block of lines and is not torn apart unless it is longer than a page. Knows nothing of
//! what is printed; the lists for the bench call it.

use super::text::{columns, shown};

/// Lines of a printed page.
const PAGE_LINES: usize = 60;

/// Columns of a printed page.
pub(super) const PAGE_COLUMNS: usize = 80;

/// Tick boxes beside each other, as many as a line holds.
pub(super) fn beside_each_other(boxes: &[String], width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for tick in boxes {
        let tick = shown(tick);
        let line = lines.last_mut().expect("there is a first line");
        if line.is_empty() {
            *line = format!("  {tick}");
        } else if columns(line) + 3 + columns(&tick) <= width {
            line.push_str(&format!("   {tick}"));
        } else {
            lines.push(format!("  {tick}"));
        }
    }
    lines
}

/// Lines that belong together, and what stands above them where they begin a page.
pub(super) struct Block {
    pub(super) goes_on: String,
    pub(super) lines: Vec<String>,
}

impl Block {
    pub(super) const fn new(goes_on: String, lines: Vec<String>) -> Self {
        Self { goes_on, lines }
    }
}

/// Pages of blocks: a block that no longer fits begins a new page, which says what goes on there.
fn pages(blocks: Vec<Block>, room: usize) -> Vec<Vec<String>> {
    let mut pages: Vec<Vec<String>> = vec![Vec::new()];
    let begin = |pages: &mut Vec<Vec<String>>, goes_on: &String| {
        let head = Some(goes_on).filter(|text| !text.is_empty());
        pages.push(head.into_iter().cloned().collect());
    };
    for Block { goes_on, lines } in blocks {
        let fits = pages
            .last()
            .is_some_and(|page| page.len() + lines.len() <= room);
        if !fits && lines.len() + usize::from(!goes_on.is_empty()) <= room {
            begin(&mut pages, &goes_on);
        }
        for line in lines {
            if pages.last().is_some_and(|page| page.len() >= room) {
                begin(&mut pages, &goes_on);
            }
            let page = pages.last_mut().expect("there is a first page");
            if !page.is_empty() || !line.is_empty() {
                page.push(line);
            }
        }
    }
    pages
}

/// Blocks as pages, the title and the day over each, the foot and the number of the page under it.
pub(super) fn on_paper(
    title: &str,
    today: &str,
    foot: &str,
    blocks: Vec<Block>,
    width: usize,
) -> String {
    let pages = pages(blocks, PAGE_LINES - 4);
    let all = pages.len();
    let mut out = Vec::new();
    for (at, mut page) in pages.into_iter().enumerate() {
        out.push(format!(
            "{title}{today:>left$}",
            left = width - columns(title)
        ));
        out.push(String::new());
        if at + 1 < all {
            page.resize(PAGE_LINES - 4, String::new());
        }
        out.append(&mut page);
        out.push(String::new());
        out.push(format!("{foot}, page {} of {all}", at + 1));
    }
    out.join("\n")
}

/// Text in which Markdown sees nothing but text.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in shown(text).chars() {
        if "\\`*_[]<>|#&~".contains(c) {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_are_not_torn_unless_longer_than_a_page() {
        let block = |n: usize| Block::new(String::new(), vec!["x".to_owned(); n]);
        let lengths = |pages: Vec<Vec<String>>| pages.iter().map(Vec::len).collect::<Vec<_>>();
        assert_eq!(lengths(pages(vec![block(6), block(6)], 10)), [6, 6]);
        assert_eq!(lengths(pages(vec![block(4), block(6)], 10)), [10]);
        assert_eq!(lengths(pages(vec![block(4), block(25)], 10)), [10, 10, 9]);
        let keep = Block::new(
            "T2, continued: KEEP".to_owned(),
            vec!["[ ] T2-03".to_owned(); 4],
        );
        let paged = pages(vec![block(8), keep], 10);
        assert_eq!(lengths(paged.clone()), [8, 5]);
        assert_eq!(paged[1][..2], ["T2, continued: KEEP", "[ ] T2-03"]);
    }

    #[test]
    fn markdown_sees_only_text() {
        assert_eq!(escaped("T_1 [x] <b>"), "T\\_1 \\[x\\] \\<b\\>");
    }
}
