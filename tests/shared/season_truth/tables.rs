//! How figures are written in the page: shares, numbers, tables.

use std::fmt::Write;

use super::figures::Share;

/// A share in percent: one digit after the point, two where it is small.
pub fn percent(share: f64) -> String {
    if !share.is_finite() {
        "-".to_owned()
    } else if share < 0.02 || share > 0.98 && share < 1.0 {
        format!("{:.2} %", 100.0 * share)
    } else {
        format!("{:.1} %", 100.0 * share)
    }
}

/// A share in whole percent.
pub fn whole_percent(share: f64) -> String {
    if share.is_finite() {
        format!("{:.0} %", 100.0 * share)
    } else {
        "-".to_owned()
    }
}

/// So many of so many.
pub fn part(n: u64, of: u64) -> f64 {
    n as f64 / of as f64
}

/// A number with its thousands set apart.
pub fn spaced(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// A share of 1,000, with two standard errors.
pub fn in_thousand(share: Share) -> String {
    format!("{:.2} ± {:.2}", 1000.0 * share.of_one, 2000.0 * share.error)
}

/// A table: head, then rows.
pub fn table(head: &[&str], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let mut text = format!("| {} |\n|{}\n", head.join(" | "), "---|".repeat(head.len()));
    for row in rows {
        let _ = writeln!(text, "| {} |", row.join(" | "));
    }
    text
}
