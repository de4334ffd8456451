//! How much one question tells about another, in bits.
//!
//! Tables of joint probabilities in, Shannon's entropy and mutual information out; what the rows and columns mean is for
//! the rooms above. The search for the trait to score next asks.

/// Entropy in bits: `-sum p log2 p` over the weights' shares of their sum, 0 log 0 being 0. Shannon 1948, Bell System
/// Technical Journal 27:379-423.
///
/// Weights need not sum to 1; where all are 0 the entropy is 0.
///
/// ```
/// use locule::stats::information::entropy;
/// assert_eq!(entropy(&[0.5, 0.5]), 1.0);
/// assert_eq!(entropy(&[1.0, 0.0]), 0.0);
/// ```
#[must_use]
pub fn entropy(weights: &[f64]) -> f64 {
    let total: f64 = weights.iter().sum();
    if total <= 0.0 {
        return 0.0;
    }
    let parts = weights.iter().filter(|weight| **weight > 0.0);
    let bits: f64 = parts
        .map(|weight| -(weight / total) * (weight / total).log2())
        .sum();
    bits.max(0.0)
}

/// Mutual information in bits of row and column of a table of joint weights, `joint[row][column]`:
/// `sum p(r, c) log2 [p(r, c) / (p(r) p(c))]`, over the weights' shares of their sum. Shannon 1948, as [`entropy`];
/// never under 0, never over the entropy of the rows or of the columns.
///
/// ```
/// use locule::stats::information::mutual_information;
/// // The column tells the row in full, or nothing of it.
/// assert_eq!(mutual_information(&[vec![0.5, 0.0], vec![0.0, 0.5]]), 1.0);
/// assert_eq!(mutual_information(&[vec![0.25, 0.25], vec![0.25, 0.25]]), 0.0);
/// ```
#[must_use]
pub fn mutual_information(joint: &[Vec<f64>]) -> f64 {
    let total: f64 = joint.iter().flatten().sum();
    if total <= 0.0 {
        return 0.0;
    }
    let columns = joint.iter().map(Vec::len).max().unwrap_or(0);
    let of_column = |column: usize| -> f64 { joint.iter().filter_map(|row| row.get(column)).sum() };
    let column_sums: Vec<f64> = (0..columns).map(of_column).collect();
    let mut bits = 0.0;
    for row in joint {
        let row_sum: f64 = row.iter().sum();
        for (weight, column_sum) in row.iter().zip(&column_sums).filter(|(w, _)| **w > 0.0) {
            bits += weight / total * (weight * total / (row_sum * column_sum)).log2();
        }
    }
    bits.max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// 0 <= I(R; C) <= min(H(R), H(C)), and it is the same both ways round.
        #[test]
        fn information_lies_between_nothing_and_the_entropies(
            table in proptest::collection::vec(proptest::collection::vec(0.0f64..1.0, 4), 1..6)
        ) {
            let rows: Vec<f64> = table.iter().map(|row| row.iter().sum()).collect();
            let turned: Vec<Vec<f64>> =
                (0..4).map(|c| table.iter().map(|row| row[c]).collect()).collect();
            let columns: Vec<f64> = turned.iter().map(|column| column.iter().sum()).collect();
            let bits = mutual_information(&table);
            prop_assert!(bits >= 0.0);
            prop_assert!(bits <= entropy(&rows) + 1e-12 && bits <= entropy(&columns) + 1e-12);
            prop_assert!((bits - mutual_information(&turned)).abs() < 1e-12);
        }

        /// Rows that share one distribution of columns tell nothing.
        #[test]
        fn rows_that_are_alike_tell_nothing(
            row in proptest::collection::vec(0.01f64..1.0, 3), sizes in proptest::collection::vec(0.01f64..5.0, 4)
        ) {
            let table: Vec<Vec<f64>> =
                sizes.iter().map(|size| row.iter().map(|p| size * p).collect()).collect();
            prop_assert!(mutual_information(&table) < 1e-12);
        }
    }

    #[test]
    fn a_table_without_weight_tells_nothing() {
        assert_eq!(mutual_information(&[vec![0.0, 0.0], vec![0.0, 0.0]]), 0.0);
        assert_eq!(entropy(&[]), 0.0);
    }

    /// Symmetric binary channel with error 1/8: 1 - H(1/8) = 1 - (3/8 + 7/8 log2(8/7)) bits. Cover & Thomas, Elements of
    /// Information Theory, 7.1.4 (from memory).
    #[test]
    fn a_noisy_answer_tells_less() {
        let joint = [vec![7.0, 1.0], vec![1.0, 7.0]];
        let expected = 1.0 - (3.0 / 8.0 + 7.0 / 8.0 * (8.0f64 / 7.0).log2());
        assert!((mutual_information(&joint) - expected).abs() < 1e-15);
    }
}
