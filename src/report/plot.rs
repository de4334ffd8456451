//! The frame of a plot in plain characters: shares upwards from nothing to all, something else to the right.
//!
//! Called by the pictures, which fill the cells and write the axis below.

/// Columns before the plot: the scale.
pub(super) const SCALE: usize = 7;

/// Most columns of a plot.
const MOST_COLUMNS: usize = 64;

/// Columns of a plot on a page of a width; what stands after the last number has room.
pub(super) fn columns(width: usize) -> usize {
    width.saturating_sub(SCALE + 8).clamp(20, MOST_COLUMNS)
}

/// The cells, row by row from nothing to all, as lines from the top: the scale before them, a base line below.
pub(super) fn framed(plot: &[Vec<char>]) -> Vec<String> {
    let top = plot.len() - 1;
    let line = |(row, cells): (usize, &Vec<char>)| {
        let label = match row {
            0 => "0 %",
            row if row == top => "100 %",
            row if 2 * row == top => "50 %",
            _ => "",
        };
        let cells: String = cells.iter().collect();
        format!("{label:>SCALE$} |{cells}").trim_end().to_owned()
    };
    let mut lines: Vec<String> = plot.iter().enumerate().rev().map(line).collect();
    let columns = plot.first().map_or(0, Vec::len);
    lines.push(format!("{:SCALE$} +{}", "", "-".repeat(columns)));
    lines
}
