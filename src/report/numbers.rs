//! Numbers for links: which table, which picture, which command.

use super::document::{Block, Document};
use serde_json::{Value, json};

/// The document as data for a template: tables and pictures have their `number` (each kind from 1) and
/// `printed_by`, the number of their command in the list of commands, 0 without one.
pub(super) fn numbered(document: &Document) -> Value {
    let blocks = || document.sections.iter().flat_map(|section| &section.blocks);
    let commands: Vec<&str> = blocks()
        .filter_map(|block| match block {
            Block::Commands { commands } => Some(commands),
            _ => None,
        })
        .flatten()
        .map(|printer| printer.command.as_str())
        .collect();
    let printed_by = |command: &str| {
        let place = commands.iter().position(|one| *one == command);
        place.map_or(0, |place| place + 1)
    };
    let mut numbers = [0, 0];
    let mut data = json!(document);
    let sections = document.sections.iter().enumerate();
    for (at, section) in sections {
        for (place, block) in section.blocks.iter().enumerate() {
            let (kind, command) = match block {
                Block::Table(table) => (0, &table.command),
                Block::Figure(figure) => (1, &figure.command),
                _ => continue,
            };
            numbers[kind] += 1;
            let shown = &mut data["sections"][at]["blocks"][place];
            shown["number"] = json!(numbers[kind]);
            shown["printed_by"] = json!(printed_by(command));
        }
    }
    data
}
