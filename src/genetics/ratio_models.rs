//! The ratios that one, two or three genes give in the usual crosses, each with what it means.
//!
//! Offered where counts are asked about without naming a ratio. Textbook ratios (Bateson 1909, Mendel's
//! Principles of Heredity, for those of two genes acting together).

/// A ratio and the crosses it comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RatioModel {
    /// The parts, in the order usually written.
    pub parts: &'static [u64],
    /// What gives it.
    pub meaning: &'static str,
}

/// The ratios weighed against each other, shortest first.
pub const RATIO_MODELS: &[RatioModel] = &[
    model(&[1, 1], "one gene, testcross"),
    model(&[3, 1], "one gene, F2, first class dominant"),
    model(&[1, 3], "one gene, F2, second class dominant"),
    model(&[9, 7], "two genes, F2, both needed for the first class"),
    model(&[13, 3], "two genes, F2, one suppresses the other"),
    model(
        &[15, 1],
        "two genes, F2, either is enough for the first class",
    ),
    model(&[27, 37], "three genes, F2, all needed for the first class"),
    model(&[1, 2, 1], "one gene, F2, the heterozygote looks different"),
    model(
        &[9, 3, 4],
        "two genes, F2, one hides the other when recessive",
    ),
    model(
        &[12, 3, 1],
        "two genes, F2, one hides the other when dominant",
    ),
    model(&[9, 6, 1], "two genes, F2, either alone looks the same"),
    model(&[1, 1, 1, 1], "two genes, testcross"),
    model(&[9, 3, 3, 1], "two genes, F2, each with its own look"),
    model(
        &[3, 6, 1, 2, 4],
        "two genes, F2, one with a visible heterozygote, hidden by the other when recessive",
    ),
];

const fn model(parts: &'static [u64], meaning: &'static str) -> RatioModel {
    RatioModel { parts, meaning }
}

/// The models with a number of classes.
pub fn of_classes(classes: usize) -> impl Iterator<Item = &'static RatioModel> {
    RATIO_MODELS
        .iter()
        .filter(move |model| model.parts.len() == classes)
}

impl std::fmt::Display for RatioModel {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let parts: Vec<String> = self.parts.iter().map(u64::to_string).collect();
        f.pad(&parts.join(":"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_sum_to_what_the_genes_give() {
        for model in RATIO_MODELS {
            let sum: u64 = model.parts.iter().sum();
            assert!([2, 4, 16, 64].contains(&sum), "{model} sums to {sum}");
        }
    }
}
