//! How many days after the flower the seed of a pod is ripe enough to be taken.
//!
//! What is in print of young pods, and by species what is common practice. When a pod was picked is not known here; the
//! gate says it where one was picked young, the planning room leaves such pods out of a grower's own days.

/// The youngest pods whose seed germinated at all were 28 days old (a study of the ages of fruits in Nigeria, read).
pub const FIRST_GERMINABLE_DAYS: i64 = 28;

/// Days from the flower before which a pod of a mother's species, by its bare word, is hardly ripe. Seed was best of pods
/// of 44 days in one study and of 52 in another (Nigeria, read), species not stated: taken for annuum, wild ones and those
/// not known. Of the others common practice, no source.
#[must_use]
pub fn ripe_from(species: &str) -> i64 {
    match species {
        "chinense" | "frutescens" | "baccatum" => 50,
        "pubescens" => 60,
        _ => 44,
    }
}

/// Whether [`ripe_from`] rests on common practice alone.
#[must_use]
pub fn is_practice(species: &str) -> bool {
    matches!(
        species,
        "chinense" | "frutescens" | "baccatum" | "pubescens"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slow_species_ripen_later() {
        let all = ["annuum", "", "chinense", "pubescens"].map(ripe_from);
        assert_eq!(all, [44, 44, 50, 60]);
        assert!(all.iter().all(|days| *days > FIRST_GERMINABLE_DAYS));
        assert!(is_practice("baccatum") && !is_practice("annuum") && !is_practice(""));
    }
}
