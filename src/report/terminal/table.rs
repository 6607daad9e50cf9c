//! One look for every terminal table: no lines but one under the header, at most 100 columns.

use crate::rounding::significant;
use comfy_table::{
    CellAlignment, ColumnConstraint, ContentArrangement, LineStyle, Table, Width, presets,
};
use std::collections::HashSet;

/// Widest line of a table.
pub const WIDTH: u16 = 100;
/// What is longer is a sentence or a path, and may be torn.
const LONGEST_WORD: usize = 24;

/// A table whose columns from `first_number_column` on hold numbers, aligned to the right.
pub fn table(header: &[&str], first_number_column: usize, rows: Vec<Vec<String>>) -> Table {
    let is_numeric: Vec<bool> = (0..header.len())
        .map(|at| at >= first_number_column)
        .collect();
    aligned(header, &is_numeric, rows)
}

/// A table whose columns of numbers are aligned to the right.
pub(super) fn aligned(header: &[&str], is_numeric: &[bool], rows: Vec<Vec<String>>) -> Table {
    let least: Vec<u16> = (0..header.len()).map(|at| least_width(&rows, at)).collect();
    let words: Vec<u16> = (0..header.len())
        .map(|at| longest_word(&rows, at))
        .collect();
    let texts = rows.iter().flatten().map(String::as_str);
    let texts: Vec<String> = header
        .iter()
        .copied()
        .chain(texts)
        .map(str::to_owned)
        .collect();
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
    for (column, &is_numeric) in table.column_iter_mut().zip(is_numeric) {
        if is_numeric {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    set_least_widths(&mut table, &least);
    // Only where a word is torn: a bound takes room from columns that may be wide.
    if has_torn_word(&texts, &table) {
        let columns = header.iter().zip(&words).zip(&least);
        let whole: Vec<u16> = columns
            .map(|((heading, &word), &least)| widest_word(heading).max(word).max(least))
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

/// Whether a word of these headings and cells does not stand whole in the table.
fn has_torn_word(texts: &[String], table: &Table) -> bool {
    let shown = table.to_string();
    let shown: HashSet<&str> = shown.split_whitespace().collect();
    let mut words = texts.iter().flat_map(|text| text.split_whitespace());
    words.any(|word| word.chars().count() <= LONGEST_WORD && !shown.contains(word))
}

fn widest_line(table: &Table) -> usize {
    let lines = table.to_string();
    let widths = lines.lines().map(|line| line.trim_end().chars().count());
    widths.max().unwrap_or(0)
}

fn longest_word(rows: &[Vec<String>], column: usize) -> u16 {
    let cells = rows.iter().filter_map(|row| row.get(column));
    cells.map(|cell| widest_word(cell)).max().unwrap_or(0)
}

fn widest_word(text: &str) -> u16 {
    let words = text.split_whitespace().map(|word| word.chars().count());
    words
        .filter(|width| *width <= LONGEST_WORD)
        .max()
        .unwrap_or(0) as u16
}

/// Width below which a value of this column would be torn from its error; 0 where no value has one.
fn least_width(rows: &[Vec<String>], column: usize) -> u16 {
    let cells = rows.iter().filter_map(|row| row.get(column));
    let lines = cells.flat_map(|cell| cell.lines());
    let pairs = lines.map(|line| line.split(" (").next().unwrap_or(line));
    let widths = pairs
        .filter(|pair| pair.contains(" ± "))
        .map(|pair| pair.chars().count());
    widths
        .max()
        .filter(|width| *width <= LONGEST_WORD)
        .unwrap_or(0) as u16
}

/// Six significant digits without an exponent, enough for every printed capacitance.
pub fn six_digits(value: f64) -> String {
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

    #[test]
    fn a_cell_is_torn_between_words_only() {
        let number = "0.00000123 ± 0.00000002".to_owned();
        let mut row = vec!["level-1".to_owned(), "bottom".to_owned()];
        row.extend(vec![number; 3]);
        let header = ["trace", "layer", "first", "second", "third"];
        let shown = table(&header, 2, vec![row]).to_string();
        assert!(shown.contains(" bottom "), "{shown}");
    }
}
