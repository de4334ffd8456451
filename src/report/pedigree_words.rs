//! A pedigree in words: sentences, the tree, the table of kinship.

use super::adopted::Accident;
use super::pedigree::{AncestorLine, OnePedigree, ParentState, PedigreeAnswer};
use super::table::Table;
use super::text::{columns, listed, shown, wrapped};
use super::{Answer, Page};

/// Columns that a line of the tree keeps for its text; a branch that leaves fewer is cut.
const LEAST_TEXT: usize = 30;

/// The most plants whose kinship is shown as a square.
const MOST_SQUARE: usize = 6;

/// The most founders that are listed.
const MOST_FOUNDERS: usize = 12;

/// A coefficient between 0 and 1, to four places.
fn coefficient(value: f64) -> String {
    let text = format!("{value:.4}");
    let short = text.trim_end_matches('0').trim_end_matches('.');
    match short {
        "1" if value < 1.0 => "over 0.9999".to_owned(),
        "0" if value > 0.0 => "under 0.0001".to_owned(),
        short => short.to_owned(),
    }
}

/// A share that is a sum of halves of halves, as exactly as it can be read: `87.5 %`, `93.75 %`.
fn portion(share: f64) -> String {
    let text = format!("{:.2}", 100.0 * share);
    match text.trim_end_matches('0').trim_end_matches('.') {
        "0" if share > 0.0 => "under 0.01 %".to_owned(),
        "100" if share < 1.0 => "over 99.99 %".to_owned(),
        short => format!("{short} %"),
    }
}

/// A kind of plant with its article.
fn a_kind(kind: &str) -> String {
    match kind {
        "plant" => "a single plant".to_owned(),
        "ancestor" => "an ancestor".to_owned(),
        kind => format!("a {kind}"),
    }
}

impl Answer for PedigreeAnswer {
    fn words(&self, page: Page) -> String {
        let mut parts: Vec<String> = self
            .plants
            .iter()
            .map(|one| one_in_words(one, page))
            .collect();
        if self.plants.len() > 1 {
            parts.push(self.kinship_in_words(page));
        }
        parts.join("\n\n")
    }
}

impl PedigreeAnswer {
    fn kinship_in_words(&self, page: Page) -> String {
        let codes: Vec<&str> = self.plants.iter().map(|one| one.code.as_str()).collect();
        let table = if codes.len() <= MOST_SQUARE {
            let right: Vec<String> = codes
                .iter()
                .map(|code| format!(">{}", shown(code)))
                .collect();
            let heads: Vec<&str> = std::iter::once("kinship")
                .chain(right.iter().map(String::as_str))
                .collect();
            let mut table = Table::new(&heads);
            let mut lines = self.kinship.iter();
            for (at, code) in codes.iter().enumerate() {
                let cells = lines
                    .by_ref()
                    .take(at + 1)
                    .map(|line| coefficient(line.kinship));
                let row: Vec<String> = std::iter::once((*code).to_owned()).chain(cells).collect();
                table.row(row);
            }
            table
        } else {
            let mut table = Table::new(&["one", "other", ">kinship"]);
            for line in self.kinship.iter().filter(|line| line.one != line.other) {
                table.row([&line.one, &line.other, &coefficient(line.kinship)]);
            }
            table
        };
        let meaning = wrapped(
            "Kinship is the chance that an allele of either is a copy of the same one: the inbreeding of their \
             offspring. Founders count as unrelated.",
            page.width,
            "",
        );
        format!("{}\n\n{meaning}", table.text(page))
    }
}

fn one_in_words(one: &OnePedigree, page: Page) -> String {
    let mut lines = vec![wrapped(&heading(one), page.width, "  ")];
    if let Some(accident) = own_accident(one) {
        let said = format!(
            "  Kept as {}. Its label says {}.",
            shown(&accident.words()),
            shown(&accident.label)
        );
        lines.push(wrapped(&said, page.width, "  "));
    }
    match (&one.pedigree, one.founders.len()) {
        (Some(pedigree), _) => lines.push(folded("  Pedigree: ", &shown(pedigree), "    ", page)),
        (None, ..=1) => {}
        (None, _) => {
            lines.push("  Pedigree: too long for Purdy's notation; see the tree.".to_owned())
        }
    }
    if let Some(pedigree) = &one.pedigree_by_name {
        lines.push(folded("  By name: ", &shown(pedigree), "    ", page));
    }
    let mut add = |text: String| lines.push(wrapped(&format!("  {text}"), page.width, "  "));
    if !one.parents_fixed.is_empty() {
        add(uniformity(&one.parents_fixed));
    }
    if let Some(back) = &one.recurrent {
        let parent = shown(&back.parent);
        add(format!(
            "Expected share of {parent}, crossed back {}: {}.",
            times(back.backcrosses),
            portion(back.share)
        ));
    }
    if let (Some(generation), "plant") = (&one.selfed_seed, one.of) {
        add(format!("Its selfed seed is {generation}."));
    }
    add(format!(
        "Inbreeding {}, where 0 is none and 1 wholly fixed.",
        coefficient(one.inbreeding)
    ));
    if one.founders.len() > 1 {
        add(format!("Expected from the founders: {}.", founders(one)));
    }
    lines.push(String::new());
    tree(&one.ancestors, page, &mut lines);
    lines.join("\n")
}

/// A text with pedigrees in it on lines of the page, broken at blanks and before slashes; further lines begin with
/// `hang`.
fn folded(lead: &str, text: &str, hang: &str, page: Page) -> String {
    let mut folded = lead.to_owned();
    let mut line = columns(lead);
    for (at, piece) in pieces(text).into_iter().enumerate() {
        if at > 0 && line + columns(piece.trim_end()) > page.width {
            folded.truncate(folded.trim_end().len());
            folded.push('\n');
            folded.push_str(hang);
            line = columns(hang);
        }
        folded.push_str(piece);
        line += columns(piece);
    }
    folded
}

/// The text cut behind blanks and before slashes, the slashes of one cross kept together.
fn pieces(text: &str) -> Vec<&str> {
    let mut cuts = vec![0];
    for (at, sign) in text.char_indices() {
        let before = text[..at].trim_end_matches(|c: char| c.is_ascii_digit());
        match sign {
            ' ' => cuts.push(at + 1),
            '/' if !before.ends_with('/') => cuts.push(at),
            _ => {}
        }
    }
    cuts.push(text.len());
    cuts.dedup();
    cuts.windows(2)
        .map(|ends| &text[ends[0]..ends[1]])
        .collect()
}

fn times(n: u32) -> String {
    match n {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        n => format!("{n} times"),
    }
}

/// How a plant was kept that is asked about, where its label says otherwise.
fn own_accident(one: &OnePedigree) -> Option<&Accident> {
    let own = one.ancestors.last().filter(|_| one.of == "plant")?;
    own.accidental.as_ref()
}

/// `T2-04 (a seedling): F3, of the family F2:3`
fn heading(one: &OnePedigree) -> String {
    let what = one.kind.map_or_else(|| "seed".to_owned(), a_kind);
    format!("{} ({what}): {}", shown(&one.code), generation(one))
}

fn generation(one: &OnePedigree) -> String {
    let is_cross = one.founders.len() > 1;
    let own = one.ancestors.last();
    let is_line = one.of == "plant" && matches!(one.kind, Some("line" | "packet"));
    match (&one.generation, &one.family, &one.out_of) {
        (Some(name), Some(family), _) if one.of == "seed" => {
            format!("{family}, all {name} from one plant")
        }
        (Some(name), Some(family), _) => format!("{name}, of the family {family}"),
        (Some(name), None, _) => name.clone(),
        (None, _, Some(cross)) => {
            let article = if cross.starts_with('F') { "an" } else { "a" };
            format!("selfed out of {article} {cross}")
        }
        (None, ..) if is_cross && is_line => {
            "selfed out of a cross without a usual name".to_owned()
        }
        (None, ..) if is_cross => "a generation without a usual name".to_owned(),
        (None, ..) => match own.and_then(|own| own.mother.as_deref()) {
            Some(parent) => format!("{} selfed", shown(parent)),
            None => "its parents are not recorded".to_owned(),
        },
    }
}

fn uniformity(parents: &[ParentState]) -> String {
    let first = "An F1 is uniform only if both parents breed true";
    if parents.iter().all(|parent| parent.fixed == "yes") {
        let names: Vec<String> = parents.iter().map(|parent| shown(&parent.parent)).collect();
        return format!("{first}; {} are taken to.", listed(&names, "and"));
    }
    let said: Vec<String> = parents
        .iter()
        .map(|parent| {
            let so = match parent.fixed {
                "yes" => "is taken to",
                "no" => "does not",
                _ => "may not",
            };
            format!("{} ({}) {so}", shown(&parent.parent), a_kind(parent.kind))
        })
        .collect();
    format!("{first}: {}.", listed(&said, "and"))
}

fn founders(one: &OnePedigree) -> String {
    let mut said: Vec<String> = one
        .founders
        .iter()
        .take(MOST_FOUNDERS)
        .map(|founder| format!("{} {}", shown(&founder.founder), portion(founder.share)))
        .collect();
    let rest: f64 = one
        .founders
        .iter()
        .skip(MOST_FOUNDERS)
        .map(|founder| founder.share)
        .sum();
    if rest > 0.0 {
        let more = one.founders.len() - MOST_FOUNDERS;
        said.push(format!("{more} more together {}", portion(rest)));
    }
    said.join(", ")
}

/// The tree, the plant asked about at its root; a plant met again is not followed again.
fn tree(ancestors: &[AncestorLine], page: Page, lines: &mut Vec<String>) {
    let Some(root) = ancestors.len().checked_sub(1) else {
        return;
    };
    let mut grown = vec![false; ancestors.len()];
    // What is still to be drawn: the plant, how it is called as a parent, the lead of its line and of those below.
    let mut left: Vec<(usize, &str, String, String)> =
        vec![(root, "", "  ".to_owned(), "  ".to_owned())];
    while let Some((at, role, lead, below)) = left.pop() {
        let line = &ancestors[at];
        let deep = columns(&below) + LEAST_TEXT > page.width;
        let note = match line.parents {
            Some(_) if grown[at] => ", as above",
            Some(_) if deep => ", and so on: ask for its own pedigree",
            _ => "",
        };
        let text = format!("{role}{}{note}", plant_in_words(line));
        lines.push(folded(&lead, &text, &format!("{below}  "), page));
        if grown[at] || deep {
            continue;
        }
        grown[at] = true;
        match line.parents {
            None => {}
            Some((mother, father)) if mother == father => {
                left.push((
                    mother,
                    "selfed: ",
                    format!("{below}`- "),
                    format!("{below}   "),
                ));
            }
            Some((mother, father)) => {
                left.push((
                    father,
                    "father: ",
                    format!("{below}`- "),
                    format!("{below}   "),
                ));
                left.push((
                    mother,
                    "mother: ",
                    format!("{below}|- "),
                    format!("{below}|  "),
                ));
            }
        }
    }
}

fn plant_in_words(line: &AncestorLine) -> String {
    let mut words = vec![shown(&line.plant)];
    words.extend(line.name.as_deref().map(shown));
    match (&line.generation, line.kind) {
        (Some(generation), _) => words.push(generation.clone()),
        (None, Some(kind)) => words.push(a_kind(kind)),
        (None, None) => {}
    }
    words.extend(line.accidental.as_ref().map(Accident::sureness));
    words.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pedigrees_are_broken_before_their_slashes() {
        assert_eq!(
            pieces("A1/B*3//Old Bell/3/7 Q/12*C"),
            ["A1", "/B*3", "//Old ", "Bell", "/3/7 ", "Q", "/12*C"]
        );
        let text = folded(
            "  Pedigree: ",
            "ABCDE/FGHIJ//KLMNO/3/PQRST",
            "    ",
            Page { width: 30 },
        );
        assert_eq!(text, "  Pedigree: ABCDE/FGHIJ//KLMNO\n    /3/PQRST");
        assert!(text.lines().all(|line| columns(line) <= 30));
    }

    #[test]
    fn shares_and_coefficients_are_never_rounded_to_nothing_or_all() {
        assert_eq!(
            [0.5, 0.9375, 0.015625].map(portion),
            ["50 %", "93.75 %", "1.56 %"]
        );
        assert_eq!(
            [1e-9, 1.0 - 1e-9, 1.0].map(portion),
            ["under 0.01 %", "over 99.99 %", "100 %"]
        );
        assert_eq!(
            [0.0, 0.4875, 1e-9, 1.0 - 1e-9].map(coefficient),
            ["0", "0.4875", "under 0.0001", "over 0.9999"]
        );
    }
}
