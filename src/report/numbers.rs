//! Numbers as a grower reads them.

/// A probability as a percentage: `97 %`, `3.4 %`, `over 99.9 %`, `under 0.1 %`; `0 %` and `100 %` only where exact.
#[must_use]
pub fn percent(p: f64) -> String {
    if p <= 0.0 {
        return "0 %".to_owned();
    }
    if p >= 1.0 {
        return "100 %".to_owned();
    }
    if p > 0.999 {
        return "over 99.9 %".to_owned();
    }
    if p < 0.001 {
        return "under 0.1 %".to_owned();
    }
    let hundredfold = 100.0 * p;
    if (9.95..99.0).contains(&hundredfold) {
        format!("{hundredfold:.0} %")
    } else {
        format!("{hundredfold:.1} %")
    }
}

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
        assert_eq!(percent(0.97), "97 %");
        assert_eq!(percent(0.994), "99.4 %");
        assert_eq!(percent(0.034), "3.4 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.0), "0 %");
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
