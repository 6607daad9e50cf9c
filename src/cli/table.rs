//! One look for every terminal table: no lines but one under the header, at most 100 columns.

pub(super) use crate::rounding::significant;
use comfy_table::{CellAlignment, ContentArrangement, LineStyle, Table, presets};

/// Widest line of a table.
pub(super) const WIDTH: u16 = 100;

/// A table whose columns from `first_number_column` on hold numbers, aligned to the right.
pub(super) fn table(header: &[&str], first_number_column: usize, rows: Vec<Vec<String>>) -> Table {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING.header_separator(LineStyle::none().fill('-').junction('-')))
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(WIDTH)
        .set_header(header.to_vec())
        .add_rows(rows);
    for column in table.column_iter_mut() {
        column.set_padding((0, 1));
    }
    for column in table.column_iter_mut().skip(first_number_column) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    table
}

/// Six significant digits without an exponent, enough for every printed capacitance.
pub(super) fn six_digits(value: f64) -> String {
    significant(value, 6)
}
