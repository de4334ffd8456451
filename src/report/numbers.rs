//! Numbers as a grower reads them.

/// From this probability on a seedling is culled, up to the other it may be kept, unless the ledger says otherwise.
const CULLED_FROM: f64 = 0.95;
const KEPT_UP_TO: f64 = 0.20;

/// A probability as a percentage: `82 %`, `94.6 %`, `3.4 %`, `over 99.9 %`, `under 0.1 %`; `0 %` and `100 %` only
/// where exact. One decimal below 10 and from 90 on; more where rounding would cross the threshold of a verdict.
#[must_use]
pub fn percent(p: f64) -> String {
    if let Some(end) = near_an_end(p) {
        return end.to_owned();
    }
    let hundredfold = 100.0 * p;
    let fewest = usize::from(!(9.95..89.95).contains(&hundredfold));
    let written = |decimals: usize| format!("{hundredfold:.decimals$}");
    let sides = |p: f64| (p >= CULLED_FROM, p <= KEPT_UP_TO);
    let true_to_it = |text: &String| {
        let rounded: f64 = text.parse().expect("a number was just written");
        sides(rounded / 100.0) == sides(p)
    };
    let number = (fewest..MOST_DECIMALS)
        .map(written)
        .find(true_to_it)
        .unwrap_or_else(|| written(MOST_DECIMALS));
    format!("{number} %")
}

/// A percentage as it stands in a column of numbers, where `over` and `under` would be torn from their number.
#[must_use]
pub fn in_a_column(text: &str) -> String {
    let short = |text: &str| text.replace("over ", ">").replace("under ", "<");
    match text.strip_suffix(" %") {
        Some(number) if number.split_whitespace().count() <= 5 => short(text),
        _ => text.to_owned(),
    }
}

/// From the one percentage to the other, `50 to 99.8 %`; one where both look the same.
#[must_use]
pub fn percents(least: f64, most: f64) -> String {
    let [least, most] = [least, most].map(percent);
    if least == most {
        return most;
    }
    format!("{} to {most}", least.trim_end_matches(" %"))
}

/// A number that is nought but for rounding as nought, without a sign.
#[must_use]
pub fn nought(value: f64) -> f64 {
    if value.abs() < 1e-12 { 0.0 } else { value }
}

/// A number with some decimals; nought has no sign.
#[must_use]
pub fn decimals(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let is_nought = text.chars().all(|char| "-0.".contains(char));
    match text.strip_prefix('-') {
        Some(plain) if is_nought => plain.to_owned(),
        _ => text,
    }
}

/// The percentage of a share of things counted, which decides nothing: whole from 10 to 99, `92 %`.
#[must_use]
pub fn share(p: f64) -> String {
    let hundredfold = 100.0 * p;
    match near_an_end(p) {
        _ if p > 1.0 => format!("{hundredfold:.0} %"),
        Some(end) => end.to_owned(),
        None if (9.95..99.0).contains(&hundredfold) => format!("{hundredfold:.0} %"),
        None => format!("{hundredfold:.1} %"),
    }
}

/// What is said of probabilities that rounding would make certain.
fn near_an_end(p: f64) -> Option<&'static str> {
    if p <= 0.0 {
        Some("0 %")
    } else if p >= 1.0 {
        Some("100 %")
    } else if p > 0.999 {
        Some("over 99.9 %")
    } else if p < 0.001 {
        Some("under 0.1 %")
    } else {
        None
    }
}

/// Most decimals of a percentage that comes close to a threshold.
const MOST_DECIMALS: usize = 6;

/// A p value: three significant digits, tiny ones as a power of ten; never rounded up to 1.
#[must_use]
pub fn p_value(p: f64) -> String {
    if p < 1e-300 {
        "under 1e-300".to_owned()
    } else if p > 0.9995 && p < 1.0 {
        "over 0.999".to_owned()
    } else if p < 1e-4 {
        format!("{p:.1e}")
    } else if p < 0.1 {
        format!("{p:.4}")
    } else {
        format!("{p:.3}")
    }
}

/// An expected count: whole where it is whole, else two decimals.
#[must_use]
pub fn count(value: f64) -> String {
    if (value - value.round()).abs() < 1e-9 {
        format!("{value:.0}")
    } else {
        format!("{value:.2}")
    }
}

/// A number of things: `1 seedling`, `3 seedlings`.
#[must_use]
pub fn several(n: u64, one: &str, many: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {many}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn certainty_is_never_rounded_up() {
        assert_eq!(percent(0.9999999), "over 99.9 %");
        assert_eq!(percent(1e-12), "under 0.1 %");
        assert_eq!(percent(0.97), "97.0 %");
        assert_eq!(percent(0.82), "82 %");
        assert_eq!(
            (share(0.9167), share(0.9999)),
            ("92 %".to_owned(), "over 99.9 %".to_owned())
        );
        assert_eq!(percent(0.994), "99.4 %");
        assert_eq!(percent(0.034), "3.4 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.0), "0 %");
    }

    #[test]
    fn nought_has_no_sign_and_columns_hold_their_numbers() {
        assert_eq!(decimals(-5.6e-17, 1), "0.0");
        assert_eq!(
            (decimals(-0.06, 1), decimals(-0.0, 0)),
            ("-0.1".into(), "0".into())
        );
        assert_eq!(in_a_column(&percent(0.9999)), ">99.9 %");
        assert_eq!(in_a_column("under 0.1 to 12 %"), "<0.1 to 12 %");
        assert_eq!(in_a_column("perhaps over 2"), "perhaps over 2");
        assert_eq!(percents(0.5, 0.9999), "50 to over 99.9 %");
        assert_eq!(percents(0.991, 0.9911), "99.1 %");
    }

    #[test]
    fn no_percentage_is_rounded_across_a_threshold() {
        assert_eq!(
            (percent(0.946), percent(0.951)),
            ("94.6 %".to_owned(), "95.1 %".to_owned())
        );
        assert_eq!(
            (percent(0.9496), percent(0.95)),
            ("94.96 %".to_owned(), "95.0 %".to_owned())
        );
        assert_eq!(
            (percent(0.2004), percent(0.2)),
            ("20.04 %".to_owned(), "20 %".to_owned())
        );
        assert_eq!(percent(0.199), "20 %");
    }

    #[test]
    fn counts_and_p_values_are_short() {
        assert_eq!(count(312.75), "312.75");
        assert_eq!(count(12.0), "12");
        assert_eq!(p_value(0.925_425_9), "0.925");
        assert_eq!(p_value(3.2e-9), "3.2e-9");
        assert_eq!(p_value(0.9999), "over 0.999");
        assert_eq!(p_value(0.0), "under 1e-300");
        assert_eq!(several(1, "seed", "seeds"), "1 seed");
    }
}
