//! One look for every terminal table: no lines but one under the header, at most 100 columns.

pub(super) use crate::rounding::significant;
use comfy_table::{
    CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Table, Width, presets,
};

/// Widest line of a table.
pub(super) const WIDTH: u16 = 100;

/// A table whose columns from `first_number_column` on hold numbers, aligned to the right.
pub(super) fn table(header: &[&str], first_number_column: usize, rows: Vec<Vec<String>>) -> Table {
    let least: Vec<u16> = (0..header.len()).map(|at| least_width(&rows, at)).collect();
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
    set_least_widths(&mut table, &least);
    // Only where a word is torn: a bound takes room from columns that may be wide.
    if has_torn_heading(header, &table) {
        let whole: Vec<u16> = header
            .iter()
            .zip(&least)
            .map(|(heading, &least)| longest_word(heading).max(least))
            .collect();
        set_least_widths(&mut table, &whole);
        // Bounds may leave too little room for the rest: then a torn word is the lesser evil.
        if widest_line(&table) > usize::from(WIDTH) {
            for column in table.column_iter_mut() {
                column.remove_constraint();
            }
            set_least_widths(&mut table, &least);
        }
    }
    table
}

fn set_least_widths(table: &mut Table, least: &[u16]) {
    for (column, &least) in table.column_iter_mut().zip(least) {
        if least > 0 {
            column.set_constraint(ColumnConstraint::LowerBoundary(Width::Fixed(least + 1)));
        }
    }
}

fn has_torn_heading(header: &[&str], table: &Table) -> bool {
    let shown = table.to_string();
    let headings = shown.split("\n-").next().unwrap_or(&shown);
    let mut words = header.iter().flat_map(|heading| heading.split_whitespace());
    !words.all(|word| headings.split_whitespace().any(|whole| whole == word))
}

fn widest_line(table: &Table) -> usize {
    let lines = table.to_string();
    let widths = lines.lines().map(|line| line.trim_end().chars().count());
    widths.max().unwrap_or(0)
}

fn longest_word(heading: &str) -> u16 {
    let words = heading.split_whitespace().map(|word| word.chars().count());
    words.max().unwrap_or(0) as u16
}

/// Width below which a value of this column would be torn from its error; 0 where no value has one.
fn least_width(rows: &[Vec<String>], column: usize) -> u16 {
    let cells = rows.iter().filter_map(|row| row.get(column));
    let lines = cells.flat_map(|cell| cell.lines());
    let pairs = lines.map(|line| line.split(" (").next().unwrap_or(line));
    let widths = pairs
        .filter(|pair| pair.contains(" ± "))
        .map(|pair| pair.chars().count());
    // Longer words are sentences.
    widths.max().filter(|width| *width <= 24).unwrap_or(0) as u16
}

/// Six significant digits without an exponent, enough for every printed capacitance.
pub(super) fn six_digits(value: f64) -> String {
    significant(value, 6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_heading_is_torn_between_words_only() {
        let long = "a sentence about what the panel does under a wet film and a thumb ".repeat(4);
        let rows = vec![vec![long.clone(), long.clone(), long, "1".to_owned()]];
        let header = ["what", "where it is seen", "why", "half tolerance"];
        let shown = table(&header, 3, rows).to_string();
        for word in header.iter().flat_map(|heading| heading.split(' ')) {
            assert!(shown.contains(word), "{shown}");
        }
        assert!(
            shown.lines().all(|line| line.chars().count() <= 100),
            "{shown}"
        );
    }
}
