//! Text made fit to be shown: strange characters by number, lines wrapped by width.

use unicode_width::UnicodeWidthStr;

use crate::records::code::is_bidi;
use crate::records::rows::FateKind;

fn strange(c: char) -> bool {
    c.is_control()
        || is_bidi(c)
        || matches!(c, '\u{2028}' | '\u{2029}' | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E007F}')
}

fn by_number(c: char) -> String {
    format!("U+{:04X}", u32::from(c))
}

/// Sentences one under another, what runs over indented; nothing where there are none.
#[must_use]
pub fn one_under_another(sentences: &[String], width: usize) -> Option<String> {
    let lines = sentences.iter().map(|line| wrapped(line, width, "  "));
    let lines: Vec<String> = lines.collect();
    (!lines.is_empty()).then(|| lines.join("\n"))
}

/// What an answer rests on, line by line, under its heading.
#[must_use]
pub fn rests_on(what: &[String], width: usize) -> String {
    let lines = what
        .iter()
        .map(|line| wrapped(&format!("  {line}"), width, "  "));
    let lines: Vec<String> = lines.collect();
    format!("What it rests on:\n{}", lines.join("\n"))
}

/// What became of a seedling, as it is spoken.
#[must_use]
pub const fn fate_word(kind: FateKind) -> &'static str {
    match kind {
        FateKind::PottedUp => "potted up",
        other => other.word(),
    }
}

/// Text with every control and direction character but the line feed shown by number.
#[must_use]
pub fn harmless(text: &str) -> String {
    spelled(text, |c| c != '\n' && strange(c))
}

/// A name or value within a line: as [`harmless`], line feeds shown too.
#[must_use]
pub fn shown(text: &str) -> String {
    spelled(text, strange)
}

fn spelled(text: &str, hidden: impl Fn(char) -> bool) -> String {
    if !text.contains(&hidden) {
        return text.to_owned();
    }
    text.chars()
        .map(|c| {
            if hidden(c) {
                by_number(c)
            } else {
                c.to_string()
            }
        })
        .collect()
}

/// JSON text with the characters that JSON lets through raw, but a terminal should not see, escaped.
#[must_use]
pub fn escaped_json(json: &str) -> String {
    let mut escaped = String::with_capacity(json.len());
    for c in json.chars() {
        if c != '\n' && strange(c) {
            for unit in c.encode_utf16(&mut [0; 2]) {
                escaped.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            escaped.push(c);
        }
    }
    escaped
}

/// Columns a text takes.
#[must_use]
pub fn columns(text: &str) -> usize {
    UnicodeWidthStr::width(text)
}

/// Text wrapped at blanks to a width, further lines indented.
#[must_use]
pub fn wrapped(text: &str, width: usize, indent: &str) -> String {
    let mut lines: Vec<String> = Vec::new();
    for paragraph in text.split('\n') {
        let lead: String = paragraph.chars().take_while(|c| *c == ' ').collect();
        let mut line = lead.clone();
        let mut fresh = true;
        for word in words_kept_whole(paragraph) {
            if !fresh && columns(&line) + 1 + columns(&word) > width {
                lines.push(std::mem::replace(&mut line, format!("{lead}{indent}")));
                fresh = true;
            }
            if !fresh {
                line.push(' ');
            }
            line.push_str(&word);
            fresh = false;
        }
        lines.push(line);
    }
    lines.join("\n")
}

/// The words of a line, a number and its `%` as one.
fn words_kept_whole(line: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in line.split_whitespace() {
        match words.last_mut() {
            Some(last) if word.starts_with('%') && last.ends_with(|c: char| c.is_ascii_digit()) => {
                last.push(' ');
                last.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// Names in a sentence, the first six and how many more.
#[must_use]
pub fn a_few<T: AsRef<str>>(names: &[T]) -> String {
    const NAMED: usize = 6;
    let mut few: Vec<String> = names
        .iter()
        .take(NAMED)
        .map(|name| name.as_ref().to_owned())
        .collect();
    if names.len() > NAMED {
        few.push(format!("{} more", names.len() - NAMED));
    }
    listed(&few, "and")
}

/// A list as a person says it: `a`, `a and b`, `a, b and c`.
#[must_use]
pub fn listed<T: AsRef<str>>(items: &[T], joint: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [most @ .., last] => {
            let most: Vec<&str> = most.iter().map(AsRef::as_ref).collect();
            format!("{} {joint} {}", most.join(", "), last.as_ref())
        }
    }
}

/// A text with its first letter as a capital.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_reaches_a_terminal_raw() {
        assert_eq!(harmless("a\u{1b}[31mb\u{202e}c\n"), "aU+001B[31mbU+202Ec\n");
        assert_eq!(shown("a\nb\tc"), "aU+000AbU+0009c");
        assert_eq!(escaped_json("\"\u{9b}\u{202e}é\""), "\"\\u009b\\u202eé\"");
        assert_eq!(escaped_json("\"\u{e0041}\""), "\"\\udb40\\udc41\"");
    }

    #[test]
    fn lines_are_wrapped_by_width() {
        assert_eq!(wrapped("one two three", 7, "  "), "one two\n  three");
        assert_eq!(wrapped("辣椒 辣椒", 6, ""), "辣椒\n辣椒");
        assert_eq!(wrapped("", 6, ""), "");
    }

    #[test]
    fn lists_are_spoken() {
        assert_eq!(listed(&["a", "b", "c"], "or"), "a, b or c");
        assert_eq!(listed(&["a"], "or"), "a");
    }
}
