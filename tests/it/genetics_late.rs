//! Linked loci over many generations, held against fractions worked out elsewhere and against the published limits.

use locule::genetics::{LinkageMap, Rate, Recombination};

use crate::genetics_look::{Fraction, Look, Shares, assert_exact};

/// Both kinds of line by selfing, and all that is still open.
const LINES: [(&str, &str); 5] = [
    ("A/A B/B", "AB"),
    ("A/A b/b", "Ab"),
    ("a/a B/B", "aB"),
    ("a/a b/b", "ab"),
    ("else", "open"),
];

fn named(shares: [(&str, Fraction); 5]) -> Shares {
    let named = shares.map(|(name, share)| (name.to_owned(), share));
    named.into()
}

/// Plain enumeration of all pairs of haplotypes, generation by generation, in fractions (Python 3.11, `fractions`):
/// of the cross A/A B/B x a/a b/b at r = 1/10, the share of A/A B/B and of A/A b/b.
#[test]
fn linked_loci_selfed() {
    let mut look = Look::new("/").with(&LINES);
    let map = look.map(&[("A", "B", "1/10")]);
    for (name, parental, recombinant) in [
        ("F3", (12_281, 40_000), (1_081, 40_000)),
        ("F4", (1_442_921, 4_000_000), (194_921, 4_000_000)),
        ("F5", (155_285_761, 400_000_000), (25_365_761, 400_000_000)),
    ] {
        let found = look.bred(name, "A/A B/B", "a/a b/b", &map);
        let closed = 2 * (parental.0 + recombinant.0);
        let wanted = named([
            ("AB", parental),
            ("Ab", recombinant),
            ("aB", recombinant),
            ("ab", parental),
            ("open", (parental.1 - closed, parental.1)),
        ]);
        assert_exact(&found, &wanted, name);
    }
}

/// Haldane & Waddington 1931, Genetics 16:357-374: lines by selfing without end are recombinant with R = 2r/(1 + 2r).
#[test]
fn lines_by_selfing_reach_their_limit() {
    for r in [0.01, 0.1, 0.25, 0.4] {
        let mut look = Look::new("/").with(&LINES);
        let [a, b] = ["A", "B"].map(|symbol| look.book.find(symbol).unwrap());
        let mut map = LinkageMap::default();
        map.state(a, b, Recombination::both(Rate::of(r)));
        let found = look.shares_bred("F20", "A/A B/B", "a/a b/b", &map);
        let limit = 2.0 * r / (1.0 + 2.0 * r);
        let recombinant = (found["Ab"] + found["aB"]) / (1.0 - found["open"]);
        assert!(
            (recombinant - limit).abs() < 4e-6,
            "{r}: {recombinant}, not {limit}"
        );
    }
}

/// Many generations of several loci, which 2^meioses would not allow: each locus is that of one locus alone.
#[test]
fn six_linked_loci_late() {
    let symbols = ["A", "B", "C", "D", "E", "F"];
    let mut look = Look::new("/").with(&[
        ("C/c", "open"),
        ("A/A B/B D/D E/E F/F", "all"),
        ("else", "rest"),
    ]);
    let pairs: Vec<(&str, &str, &str)> = symbols.windows(2).map(|p| (p[0], p[1], "0.07")).collect();
    let map = look.map(&pairs);
    let line = |low: bool| {
        let of = |s: &&str| {
            if low {
                s.to_lowercase()
            } else {
                (*s).to_owned()
            }
        };
        symbols
            .iter()
            .map(of)
            .map(|s| format!("{s}/{s}"))
            .collect::<Vec<_>>()
            .join(" ")
    };
    for (name, open) in [
        ("F8", 1.0 / 128.0),
        ("F20", 0.5_f64.powi(19)),
        ("BC3F12", 0.125 * 0.5_f64.powi(11)),
    ] {
        let found = look.shares_bred(name, &line(false), &line(true), &map);
        let sum: f64 = found.values().sum();
        assert!(
            (found["open"] / open - 1.0).abs() < 1e-9 && (sum - 1.0).abs() < 1e-12,
            "{name}: {found:?}"
        );
    }
}
