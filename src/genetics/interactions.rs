//! The ratios of one trait in an F2, spelled out as rules.
//!
//! For counts without a ledger: a trait said to be `9:7` becomes a gene model over loci A and B. Textbook
//! ratios (Bateson 1909, Mendel's Principles of Heredity, for those of two genes; from memory). The estimate of
//! linkage asks.

/// A ratio with the rules that give it; `{0}` and `{1}` stand for the letters of its genes.
#[derive(Debug, Clone, Copy)]
pub struct Interaction {
    /// As it is written: `9:7`.
    pub ratio: &'static str,
    /// What gives it.
    pub meaning: &'static str,
    /// How many genes it needs.
    pub genes: usize,
    rules: &'static [(&'static str, &'static str)],
}

/// Those known, the first gene being the one whose linkage is asked about.
pub const INTERACTIONS: &[Interaction] = &[
    Interaction {
        ratio: "3:1",
        meaning: "one gene, first class dominant",
        genes: 1,
        rules: &[("{0}/_", "1"), ("else", "2")],
    },
    Interaction {
        ratio: "1:2:1",
        meaning: "one gene, the heterozygote looks different",
        genes: 1,
        rules: &[("{0}/{0}", "1"), ("{0}/_", "2"), ("else", "3")],
    },
    Interaction {
        ratio: "9:7",
        meaning: "two genes, both needed for the first class",
        genes: 2,
        rules: &[("{0}/_ {1}/_", "1"), ("else", "2")],
    },
    Interaction {
        ratio: "15:1",
        meaning: "two genes, either is enough for the first class",
        genes: 2,
        rules: &[("{0}/_", "1"), ("{1}/_", "1"), ("else", "2")],
    },
    Interaction {
        ratio: "13:3",
        meaning: "two genes, the linked one suppresses the other",
        genes: 2,
        rules: &[("{0}/_", "1"), ("{1}/_", "2"), ("else", "1")],
    },
    Interaction {
        ratio: "9:3:4",
        meaning: "two genes, the linked one hides the other when recessive",
        genes: 2,
        rules: &[("{0}/_ {1}/_", "1"), ("{0}/_", "2"), ("else", "3")],
    },
    Interaction {
        ratio: "12:3:1",
        meaning: "two genes, the linked one hides the other when dominant",
        genes: 2,
        rules: &[("{0}/_", "1"), ("{1}/_", "2"), ("else", "3")],
    },
    Interaction {
        ratio: "9:6:1",
        meaning: "two genes, either alone looks the same",
        genes: 2,
        rules: &[
            ("{0}/_ {1}/_", "1"),
            ("{0}/_", "2"),
            ("{1}/_", "2"),
            ("else", "3"),
        ],
    },
];

impl Interaction {
    /// The one of a ratio.
    #[must_use]
    pub fn of(ratio: &str) -> Option<&'static Self> {
        INTERACTIONS.iter().find(|one| one.ratio == ratio)
    }

    /// Its rules over genes of these letters.
    #[must_use]
    pub fn rules(&self, letters: &[&str]) -> Vec<(String, String)> {
        let spell = |pattern: &str| {
            let numbered = letters.iter().enumerate();
            numbered.fold(pattern.to_owned(), |text, (at, letter)| {
                text.replace(&format!("{{{at}}}"), letter)
            })
        };
        let rules = self.rules.iter();
        rules
            .map(|(pattern, class)| (spell(pattern), (*class).to_owned()))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::genetics::descent::Descent;
    use crate::genetics::expect::{Breeding, Parent, breed, independent};
    use crate::genetics::{AtLocus, Diploid, GeneModel, LocusBook};

    /// Every ratio comes out of its own rules, by the sixteen squares.
    #[test]
    fn rules_give_their_ratio() {
        for one in INTERACTIONS {
            let mut book = LocusBook::new();
            let rules = one.rules(&["A", "B"][..one.genes]);
            let classes: Vec<String> = (1..=one.ratio.split(':').count())
                .map(|n| n.to_string())
                .collect();
            let model = GeneModel::build("m", &classes, &rules, &mut book).unwrap();
            let het = model
                .loci()
                .iter()
                .map(|l| (*l, AtLocus::Known(Diploid::new(0, 1))));
            let f1 = Parent {
                loci: het.collect(),
                ..Parent::default()
            };
            let breeding = Breeding {
                mother: &f1,
                father: &f1,
                descent: &Descent::self_of_mother(),
                arrangement: &independent(model.loci()),
                selection: &[],
            };
            let exact = breed(&breeding, &[&model]).unwrap().exact.unwrap();
            assert_eq!(exact.ratio(256).unwrap().to_string(), one.ratio);
        }
    }
}
