//! One look for every terminal table: no lines but one under the header, at most 100 columns.

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

/// A number with so many significant digits.
pub(super) fn significant(value: f64, digits: i32) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let magnitude = value.abs().log10().floor();
    if !(-7.0..12.0).contains(&magnitude) {
        return format!("{value:.*e}", (digits - 1) as usize);
    }
    let decimals = (digits - 1 - magnitude as i32).max(0);
    format!("{value:.*}", decimals as usize)
}

#[cfg(test)]
mod tests {
    use super::significant;

    #[test]
    fn numbers_keep_their_digits() {
        assert_eq!(significant(436.780_368, 6), "436.780");
        assert_eq!(significant(-0.003_526_2, 3), "-0.00353");
        assert_eq!(significant(0.0, 6), "0");
        assert_eq!(significant(1.5e-20, 2), "1.5e-20");
        assert_eq!(significant(f64::NAN, 2), "NaN");
        assert_eq!(significant(f64::INFINITY, 2), "inf");
    }
}
