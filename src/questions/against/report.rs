//! Variants beside the panel as written: one table per pad, then every pad in one.

use super::{
    BASE_CHANGE_LIMIT, COUNT_CHANGE_LIMIT, Compared, Comparison, Difference, FINER, Figure,
    PadComparison, VERDICT_SOURCE, VariantComparison, Verdict,
};
use crate::accuracy::missed_words;
use crate::report::terminal::WIDTH;
use crate::report::{Block, Report, Table};
use crate::rounding::{rounded_up, rounded_with_error, signed_with_error, significant};
use padfield_engine::field::joined_printed;

/// Longest words of a variant that head a column; longer ones get a letter.
const LONGEST_HEAD: usize = 19;
/// Digits of a value: one more than the answer itself, or a change of a percent would not be seen.
const CHANGE_DIGITS: i32 = 2;
const NO_DIFFERENCE: &str = "no difference";

/// What the variants change, in blocks.
pub fn report(comparison: &Comparison) -> Report {
    let heads = heads(comparison);
    let mut report = Report::default();
    for line in introduction(comparison, &heads) {
        report.say(Block::paragraph(line));
    }
    for pad in shown_pads(comparison) {
        for table in pad_tables(comparison, &heads, &pad) {
            report.say(table);
        }
    }
    if let Some(table) = every_pad(comparison, &heads) {
        report.say(table);
    }
    for line in notes(comparison, &heads) {
        report.say(Block::paragraph(line));
    }
    report.detail(Block::paragraph(numerics(comparison)));
    report
}

/// The words of every variant, or letters when some are too long for a column.
fn heads(comparison: &Comparison) -> Vec<String> {
    let all = comparison.variants.iter();
    let words: Vec<String> = all.map(|variant| variant.changes.join("; ")).collect();
    if words
        .iter()
        .all(|text| text.chars().count() <= LONGEST_HEAD)
    {
        return words;
    }
    (0..words.len()).map(letter).collect()
}

/// A to Z, then A1, B1 and so on.
fn letter(number: usize) -> String {
    let letter = char::from(b'A' + (number % 26) as u8);
    match number / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{round}"),
    }
}

fn introduction(comparison: &Comparison, heads: &[String]) -> Vec<String> {
    let mut lines = vec![format!(
        "Against the panel as written, touched by \"{}\". First line: value with its numerical error. \
         Second line: change, and change in percent with its error; \"{NO_DIFFERENCE}\" where it is \
         below that, a smaller --accuracy may tell more.",
        comparison.as_written.finger
    )];
    for (variant, head) in comparison.variants.iter().zip(heads) {
        let words = variant.changes.join("; ");
        if words != *head {
            lines.push(format!("{head}: {words}"));
        }
    }
    lines
}

/// Pads with a table of their own: no mirror images of others, whose field is the same.
fn shown_pads(comparison: &Comparison) -> Vec<String> {
    let touched = comparison.as_written.pads.iter();
    touched
        .filter(|pad| pad.touch.is_some())
        .filter(|pad| {
            let mut all = comparison
                .variants
                .iter()
                .filter_map(|v| find(v, &pad.name));
            all.any(|pad| pad.mirrored_from.is_none())
        })
        .map(|pad| pad.name.clone())
        .collect()
}

fn find<'v>(variant: &'v VariantComparison, name: &str) -> Option<&'v PadComparison> {
    variant.pads.iter().find(|pad| pad.pad == name)
}

/// The variants of one pad, as many side by side as a line holds.
fn pad_tables(comparison: &Comparison, heads: &[String], name: &str) -> Vec<Table> {
    let pads = comparison
        .variants
        .iter()
        .map(|variant| find(variant, name));
    let columns: Vec<(&String, &PadComparison)> = heads
        .iter()
        .zip(pads)
        .filter_map(|(head, pad)| Some((head, pad?)))
        .collect();
    let mut tables = Vec::new();
    let mut rest = &columns[..];
    while !rest.is_empty() {
        let fits = |count: &usize| {
            let lines = pad_rows(&rest[..*count]);
            width(&lines) <= usize::from(WIDTH)
        };
        let count = (2..=rest.len()).rev().find(fits).unwrap_or(1);
        let (now, later) = rest.split_at(count);
        tables.push(pad_table(name, now));
        rest = later;
    }
    tables
}

/// Width of a table with these rows: two blanks between columns, one after the last.
fn width(rows: &[Vec<String>]) -> usize {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let cells = |column: usize| rows.iter().filter_map(move |row| row.get(column));
    let widest = |column: usize| {
        let lines = cells(column).flat_map(|cell| cell.lines());
        lines.map(|line| line.chars().count()).max().unwrap_or(0)
    };
    let cells: usize = (0..columns).map(widest).sum();
    cells + 2 * columns.saturating_sub(1) + 1
}

fn pad_table(name: &str, columns: &[(&String, &PadComparison)]) -> Table {
    let title = format!("pad \"{name}\"");
    let mut header = vec![title.as_str(), "as written"];
    header.extend(columns.iter().map(|(head, _)| head.as_str()));
    let mut table = Table::new("", &header, 1);
    for row in pad_rows(columns) {
        table.row(row);
    }
    table
}

fn pad_rows(columns: &[(&String, &PadComparison)]) -> Vec<Vec<String>> {
    let row = |quantity: Compared| {
        let all: Vec<_> = columns.iter().map(|(_, pad)| pad.of(quantity)).collect();
        // The side as written is the same in all of them.
        let first = all.iter().flatten().next()?;
        let mut row = vec![label(quantity).to_owned(), figure(first.as_written)];
        row.extend(all.iter().map(|one| one.map_or_else(String::new, cell)));
        Some(row)
    };
    Compared::ALL.into_iter().filter_map(row).collect()
}

const fn label(quantity: Compared) -> &'static str {
    match quantity {
        Compared::Base => "base field, pF",
        Compared::BaseAtPin => "base at pin, pF",
        Compared::TouchShift => "touch shift, pF",
        Compared::RelativeTouchShift => "shift at pin, %",
        Compared::NeighbourShift => "neighbour, pF",
        Compared::NeighbourRatio => "neighbour, %",
        Compared::CountShift => "count shift",
    }
}

fn figure(figure: Figure) -> String {
    rounded_with_error(figure.value, figure.error)
}

fn cell(difference: &Difference) -> String {
    format!("{}\n{}", figure(difference.variant), change(difference))
}

/// `-0.018, -45 ± 2 %`.
fn change(difference: &Difference) -> String {
    if !difference.is_told_apart() {
        return NO_DIFFERENCE.to_owned();
    }
    let absolute = signed(difference.change().value);
    match difference.relative() {
        Some(relative) => format!("{absolute}, {} %", percent(relative)),
        None => absolute,
    }
}

fn signed(value: f64) -> String {
    let sign = if value > 0.0 { "+" } else { "" };
    format!("{sign}{}", significant(value, CHANGE_DIGITS))
}

/// A share in percent with its sign and its error.
fn percent(share: Figure) -> String {
    signed_with_error(100.0 * share.value, 100.0 * share.error)
}

/// One row per pad and variant, when there is more than one pad or a verdict.
fn every_pad(comparison: &Comparison, heads: &[String]) -> Option<Table> {
    let variants = &comparison.variants;
    let has_verdict = variants
        .iter()
        .flat_map(|v| &v.pads)
        .any(|pad| pad.verdict.is_some());
    let has_several = variants.iter().any(|variant| variant.pads.len() > 1);
    if !has_verdict && !has_several {
        return None;
    }
    let mut table = Table::new(
        "Change of every pad in percent",
        &[
            "pad",
            "variant",
            "base at\nthe pin, %",
            "touch\nshift, %",
            "neighbour\nratio, %",
            "count\nshift, %",
            "constants",
        ],
        2,
    );
    for (variant, head) in variants.iter().zip(heads) {
        for pad in &variant.pads {
            let mut row = vec![pad.pad.clone(), head.clone()];
            for quantity in SUMMARY {
                row.push(pad.of(quantity).map_or_else(String::new, summary_cell));
            }
            row.push(pad.verdict.map_or("", Verdict::words).to_owned());
            table.row(row);
        }
    }
    if has_verdict {
        table.caption += &format!(
            ". The firmware keeps its constants while the base at the pin changes by less than {} % \
             and the count shift by less than {} % ({VERDICT_SOURCE}); \"cannot tell\" where an error \
             bar holds a limit.",
            significant(100.0 * BASE_CHANGE_LIMIT, 2),
            significant(100.0 * COUNT_CHANGE_LIMIT, 2),
        );
    } else {
        table.drop_column(6);
    }
    Some(table)
}

const SUMMARY: [Compared; 4] = [
    Compared::BaseAtPin,
    Compared::TouchShift,
    Compared::NeighbourRatio,
    Compared::CountShift,
];

fn summary_cell(difference: &Difference) -> String {
    match difference.relative() {
        None => String::new(),
        Some(relative) if difference.is_told_apart() => percent(relative),
        Some(relative) => format!("within {}", rounded_up(100.0 * relative.error)),
    }
}

/// What else differs: pads without a counterpart, other neighbours, assumptions, cautions.
fn notes(comparison: &Comparison, heads: &[String]) -> Vec<String> {
    let mut lines = Vec::new();
    for (variant, head) in comparison.variants.iter().zip(heads) {
        let mut note = |text: String| lines.push(format!("{head}: {text}"));
        if !variant.only_as_written.is_empty() {
            note(format!(
                "no counterpart of {}.",
                quoted(&variant.only_as_written)
            ));
        }
        if !variant.only_in_variant.is_empty() {
            note(format!(
                "{} has no counterpart in the panel as written.",
                quoted(&variant.only_in_variant)
            ));
        }
        for pad in &variant.pads {
            if let [Some(before), Some(after)] = &pad.worst_neighbours
                && before != after
            {
                note(format!(
                    "the worst neighbour of \"{}\" is \"{after}\", as written \"{before}\".",
                    pad.pad
                ));
            }
        }
        let (as_written, response) = (&comparison.as_written, &variant.response);
        let new = |known: &[String], lines: &[String]| -> Vec<String> {
            let new = lines.iter().filter(|line| !known.contains(line));
            new.cloned().collect()
        };
        let assumptions = new(&as_written.assumptions, &response.assumptions);
        if !assumptions.is_empty() {
            note(format!(
                "assumptions that differ. {}",
                assumptions.join(" ")
            ));
        }
        for caution in new(&as_written.cautions, &response.cautions) {
            note(format!("caution. {caution}"));
        }
    }
    lines
}

fn quoted(names: &[String]) -> String {
    let all: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    all.join(", ")
}

fn numerics(comparison: &Comparison) -> String {
    let variants = comparison.variants.iter().map(|variant| &variant.response);
    let all: Vec<_> = variants.chain([&comparison.as_written]).collect();
    let seconds: f64 = all.iter().map(|response| response.numerics.seconds).sum();
    let missed = all.iter().map(|response| &response.numerics.missed[..]);
    let reached = match (
        comparison.accuracy_reached(),
        missed_words(&joined_printed(missed)),
    ) {
        (true, _) => "reached by all".to_owned(),
        (false, names) if names.is_empty() => "NOT reached by all".to_owned(),
        (false, names) => format!("NOT reached by all: missed by {names}"),
    };
    format!(
        "Compared {} panels in {} s, each solved to {} % because both errors count in a difference; \
         {} % of every value {reached}. Inputs at nominal values on both sides: the tolerance of one unit does not \
         tell two boards apart.",
        all.len(),
        significant(seconds, 2),
        significant(100.0 * comparison.accuracy_asked / FINER, 2),
        significant(100.0 * comparison.accuracy_asked, 2),
    )
}
