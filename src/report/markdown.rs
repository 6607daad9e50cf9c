//! A note as Markdown (CommonMark with tables) and its pictures as files beside it.

use super::document::{Block, Document, Figure, Table};

/// Folder of the pictures beside the text.
pub const PICTURES: &str = "charts";

/// The text; pictures are `charts/NAME.svg` for every figure of the document.
pub fn markdown(document: &Document) -> String {
    let mut parts = vec![
        format!("# {}", escaped(&document.title)),
        paragraph(&document.made_from),
    ];
    for (number, section) in document.sections.iter().enumerate() {
        parts.push(format!(
            "## {}\\. {}",
            number + 1,
            escaped(&section.heading)
        ));
        parts.extend(section.blocks.iter().flat_map(block));
    }
    parts.join("\n\n") + "\n"
}

#[cfg(test)]
pub(super) fn in_section(blocks: &[Block]) -> String {
    let parts: Vec<String> = blocks.iter().flat_map(block).collect();
    parts.join("\n\n")
}

fn block(block: &Block) -> Vec<String> {
    match block {
        Block::Heading { text } => vec![format!("### {}", escaped(text))],
        Block::Paragraph { text } => vec![paragraph(text)],
        Block::Verdict { text } => vec![format!("**{}**", escaped(text.trim()))],
        Block::List { items } | Block::Cautions { items } => {
            let lines = items.iter().map(|item| format!("- {}", paragraph(item)));
            vec![lines.collect::<Vec<_>>().join("\n")]
        }
        Block::Table(table) => table_parts(table),
        Block::Figure(figure) => figure_parts(figure),
        Block::Commands { commands } => {
            let lines = commands.iter().enumerate().map(|(place, printer)| {
                let prints = printer
                    .prints
                    .iter()
                    .map(|one| format!("   - {}", paragraph(&one.caption)));
                let head = format!("{}. {}", place + 1, code(&printer.command));
                std::iter::once(head)
                    .chain(prints)
                    .collect::<Vec<_>>()
                    .join("\n")
            });
            vec![lines.collect::<Vec<_>>().join("\n")]
        }
    }
}

fn table_parts(table: &Table) -> Vec<String> {
    let line = |cells: Vec<String>| format!("| {} |", cells.join(" | "));
    let mut lines = vec![
        line(table.columns.iter().map(|c| escaped(&c.header)).collect()),
        line(
            table
                .columns
                .iter()
                .map(|column| if column.numeric { "---:" } else { "---" }.to_owned())
                .collect(),
        ),
    ];
    lines.extend(table.rows.iter().map(|row| {
        line(
            row.iter()
                .map(|cell| match (cell.strong, escaped(cell.text.trim())) {
                    (true, text) if !text.is_empty() => format!("**{text}**"),
                    (_, text) => text,
                })
                .collect(),
        )
    }));
    let mut parts = vec![
        format!("**{}**", escaped(table.caption.trim())),
        lines.join("\n"),
    ];
    if !table.remark.is_empty() {
        parts.push(paragraph(&table.remark));
    }
    parts.extend(source("Printed by", &table.command));
    parts
}

fn figure_parts(figure: &Figure) -> Vec<String> {
    let mut parts = vec![
        format!(
            "![{}]({PICTURES}/{}.svg)",
            escaped(&figure.alternative),
            figure.name
        ),
        paragraph(&figure.caption),
    ];
    parts.extend(source("Drawn by", &figure.command));
    parts
}

fn source(by: &str, command: &str) -> Option<String> {
    (!command.is_empty()).then(|| format!("{by} {}", code(command)))
}

/// A code span whose fence is longer than any run of backticks inside.
fn code(text: &str) -> String {
    let text = one_line(text);
    let longest = text.split(|c| c != '`').map(str::len).max().unwrap_or(0);
    let fence = "`".repeat(longest + 1);
    match longest {
        0 => format!("{fence}{text}{fence}"),
        _ => format!("{fence} {text} {fence}"),
    }
}

/// A text at the start of a line, where more signs have a meaning.
fn paragraph(text: &str) -> String {
    let text = escaped(text.trim());
    let digits = text.len() - text.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    match text[digits..].chars().next() {
        Some('.' | ')') if digits > 0 => format!("{}\\{}", &text[..digits], &text[digits..]),
        Some('-' | '+' | '=') if digits == 0 => format!("\\{text}"),
        _ => text,
    }
}

/// Text that Markdown takes as text: no markup, no HTML, no links that are made of bare addresses.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in one_line(text).chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '#' | '|' | '!' | '~' | '$' | '@' => {
                safe.push('\\');
                safe.push(c);
            }
            c => safe.push(c),
        }
    }
    // Readers make links of these without any brackets.
    safe.replace("://", "\\://").replace("www.", "www\\.")
}

/// Control characters and line ends as spaces.
fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}
