//! Several trays of one cross: do they agree with the ratio, and with each other?
//!
//! Splits the summed chi-square (or G) of the trays into that of the pooled counts and the rest, the
//! heterogeneity. Also Holm's adjustment, for several crosses tested at once.

use super::counts::{ClassCount, expected_counts, g_statistic, pearson};
use super::tails::chi_square_upper;

/// A statistic with its degrees of freedom and upper tail.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tested {
    /// Chi-square or G.
    pub value: f64,
    /// Degrees of freedom.
    pub df: usize,
    /// Upper tail of the chi-square distribution; `None` without degrees of freedom.
    pub p: Option<f64>,
}

/// One statistic of several trays, taken apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Partition {
    /// Each tray's own, in the order given; a tray without plants has value 0 and no degrees of freedom.
    pub individual: Vec<Tested>,
    /// The sum over trays.
    pub total: Tested,
    /// Of the counts added up.
    pub pooled: Tested,
    /// Total less pooled: how much the trays differ among themselves.
    pub heterogeneity: Tested,
}

/// The trays tested together.
#[derive(Debug, Clone, PartialEq)]
pub struct Heterogeneity {
    /// The counts of all trays added up.
    pub pooled_counts: Vec<u64>,
    /// By Pearson's chi-square; the parts add up by definition, the heterogeneity is only
    /// approximately chi-square.
    pub chi2: Partition,
    /// By G, whose parts add up exactly.
    pub g: Partition,
}

/// Takes the chi-square and G of several trays against one ratio apart.
///
/// `None` if a tray holds a class of weight 0: such a table is impossible and has no statistic.
/// Source: Sokal and Rohlf, Biometry, section "replicated tests of goodness of fit".
///
/// # Panics
/// As [`goodness_of_fit`](super::counts::goodness_of_fit), for any tray.
pub fn heterogeneity<T: AsRef<[u64]>>(trays: &[T], weights: &[f64]) -> Option<Heterogeneity> {
    let tables: Vec<_> = trays
        .iter()
        .map(|tray| expected_counts(tray.as_ref(), weights))
        .collect();
    heterogeneity_of(&tables)
}

/// As [`heterogeneity`], of trays that each have expectations of their own, such as trays read at different
/// ages; the pooled counts are held against the sum of the expectations.
///
/// `None` if a tray holds a class of which nothing is expected, or if there is no tray.
///
/// # Panics
/// If the trays differ in their number of classes.
#[must_use]
pub fn heterogeneity_of(tables: &[Vec<ClassCount>]) -> Option<Heterogeneity> {
    let impossible = |class: &ClassCount| class.observed > 0 && class.expected == 0.0;
    if tables.iter().flatten().any(impossible) {
        return None;
    }
    let classes = tables.first()?.len();
    let mut pooled = vec![
        ClassCount {
            observed: 0,
            expected: 0.0
        };
        classes
    ];
    for table in tables {
        assert_eq!(table.len(), classes, "the trays have the same classes");
        for (sum, class) in pooled.iter_mut().zip(table) {
            sum.observed += class.observed;
            sum.expected += class.expected;
        }
    }
    Some(Heterogeneity {
        pooled_counts: pooled.iter().map(|class| class.observed).collect(),
        chi2: partition(tables, &pooled, pearson),
        g: partition(tables, &pooled, g_statistic),
    })
}

fn partition(
    tables: &[Vec<ClassCount>],
    pooled: &[ClassCount],
    statistic: fn(&[ClassCount]) -> f64,
) -> Partition {
    let test = |table: &[ClassCount]| {
        let open = table.iter().filter(|c| c.expected > 0.0).count();
        tested(statistic(table), open.saturating_sub(1))
    };
    let individual: Vec<Tested> = tables.iter().map(|t| test(t)).collect();
    let total = tested(
        individual.iter().map(|t| t.value).sum(),
        individual.iter().map(|t| t.df).sum(),
    );
    let pooled = test(pooled);
    // With one ratio for all trays never negative but for rounding, since both statistics are convex in the
    // counts; with a ratio for each it can be, and 0 is all that it then says.
    let heterogeneity = tested(
        (total.value - pooled.value).max(0.0),
        total.df.saturating_sub(pooled.df),
    );
    Partition {
        individual,
        total,
        pooled,
        heterogeneity,
    }
}

fn tested(value: f64, df: usize) -> Tested {
    Tested {
        value,
        df,
        p: (df > 0).then(|| chi_square_upper(value, df)),
    }
}

/// Holm's step-down adjusted p-values, in the order given.
///
/// The i-th smallest of m is multiplied by `m - i + 1`, kept from falling, and held to 1.
/// Source: Holm 1979, Scandinavian Journal of Statistics 6:65-70.
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&i, &j| p[i].total_cmp(&p[j]));
    let (mut adjusted, mut least) = (vec![0.0; p.len()], 0.0f64);
    for (rank, &i) in order.iter().enumerate() {
        least = least.max((p.len() - rank) as f64 * p[i]).min(1.0);
        adjusted[i] = least;
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand from the definition: 3 * 0.01, 2 * 0.02 is less than 2 * 0.03, and 0.04 is kept from
    /// falling below it.
    #[test]
    fn holm_steps_down() {
        let adjusted = holm(&[0.04, 0.01, 0.03]);
        for (ours, by_hand) in adjusted.iter().zip([0.06, 0.03, 0.06]) {
            assert!((ours - by_hand).abs() < 1e-15, "{adjusted:?}");
        }
        assert_eq!(holm(&[0.6, 0.9]), [1.0, 1.0]);
        assert!(holm(&[]).is_empty());
    }

    #[test]
    fn an_empty_tray_takes_no_degree_of_freedom() {
        let with = heterogeneity(&[[12, 4], [0, 0], [9, 7]], &[3.0, 1.0]).expect("a lawful table");
        let without = heterogeneity(&[[12, 4], [9, 7]], &[3.0, 1.0]).expect("a lawful table");
        assert_eq!(with.chi2.heterogeneity, without.chi2.heterogeneity);
        assert_eq!(with.g.total, without.g.total);
        assert_eq!(
            with.chi2.individual[1],
            Tested {
                value: 0.0,
                df: 0,
                p: None
            }
        );
    }

    #[test]
    fn an_impossible_tray_has_no_partition() {
        assert_eq!(heterogeneity(&[[12, 0], [11, 1]], &[1.0, 0.0]), None);
        let lawful = heterogeneity(&[[12, 0], [11, 0]], &[1.0, 0.0]).expect("a lawful table");
        assert_eq!((lawful.chi2.total.df, lawful.chi2.total.p), (0, None));
    }
}
