//! Blocks as text for a terminal: the one look of every answer, no line wider than a hundred columns.

mod paragraph;
mod table;

pub use paragraph::{wrap, wrap_indented};
pub use table::{WIDTH, six_digits, table};

use super::answer::Report;
use super::document::{Block, Table};
use comfy_table::ColumnConstraint;

/// A whole answer under its title, with a newline at the end.
pub fn answer(title: &str, report: &Report) -> String {
    let mut text = wrap(title);
    let mut is_headed = false;
    for shown in report.blocks() {
        let Some(part) = block(shown) else {
            continue;
        };
        text += match (text.is_empty(), is_headed) {
            (true, _) => "",
            // What follows a heading stands right below it.
            (false, true) => "\n",
            (false, false) => "\n\n",
        };
        text += &part;
        is_headed = matches!(shown, Block::Heading { .. });
    }
    text + "\n"
}

/// Pictures are files: the command says which ones it wrote.
fn block(block: &Block) -> Option<String> {
    let lines = |items: &[String], line: fn(&String) -> String| {
        items.iter().map(line).collect::<Vec<_>>().join("\n")
    };
    let text = match block {
        Block::Heading { text } | Block::Paragraph { text } | Block::Verdict { text } => wrap(text),
        Block::List { items } => lines(items, |item| wrap_indented(item, "  ", "    ")),
        Block::Cautions { items } => lines(items, |item| wrap(&format!("Caution. {item}"))),
        Block::Table(table) => table_text(table),
        Block::Figure(_) | Block::Commands { .. } => return None,
    };
    Some(text)
}

fn table_text(shown: &Table) -> String {
    let rows = shown.rows.iter();
    let rows = rows.map(|row| row.iter().map(|cell| cell.text.clone()).collect());
    let headers: Vec<&str> = shown.columns.iter().map(|c| c.header.as_str()).collect();
    let is_numeric: Vec<bool> = shown.columns.iter().map(|column| column.numeric).collect();
    let mut drawn = table::aligned(&headers, &is_numeric, rows.collect());
    for (column, said) in drawn.column_iter_mut().zip(&shown.columns) {
        if said.whole {
            column.set_constraint(ColumnConstraint::ContentWidth);
        }
    }
    let mut text = match shown.caption.is_empty() {
        true => drawn.to_string(),
        false => format!("{}\n{drawn}", wrap(&shown.caption)),
    };
    if !shown.remark.is_empty() {
        text += &format!("\n\n{}", wrap(&shown.remark));
    }
    text
}
