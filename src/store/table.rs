//! The table of a study as CSV: RFC 4180, UTF-8, units in the header, whole rows only. Text that a
//! spreadsheet would calculate is defused ([`crate::cells`]).

use super::read::{Outcome, Reader, Row, StudyRecord};
use super::whole::Unfinished;
use super::{StoreError, TABLE};
use crate::cells::defused;
use crate::study::{Coordinate, Quantity, QuantityKind, Study};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

/// Heading of a quantity's value: `touch shift of vent [pF]`.
pub fn heading(quantity: &Quantity) -> String {
    in_unit(quantity.to_string(), quantity.kind.unit())
}

/// The heading with its unit; a plain number has none.
fn in_unit(heading: String, unit: &str) -> String {
    match unit {
        "" => heading,
        unit => format!("{heading} [{unit}]"),
    }
}

/// Writes the recorded rows of a study to `points.csv` in `folder`, under another name first: the
/// table under its own name is always a whole one. Gives its path.
///
/// # Errors
/// A damaged store, a folder that cannot be written; an earlier table then stays.
pub fn write_table(
    reader: &Reader,
    study: &StudyRecord,
    folder: &Path,
) -> Result<PathBuf, StoreError> {
    let path = folder.join(TABLE);
    let fault = |error: io::Error| StoreError::from_files(&path, &error);
    let mut unfinished = Unfinished::new(&path).map_err(fault)?;
    write_rows(reader, study, &mut unfinished, &path)?;
    unfinished.finish().map_err(fault)?;
    Ok(path)
}

fn write_rows(
    reader: &Reader,
    study: &StudyRecord,
    unfinished: &mut Unfinished,
    path: &Path,
) -> Result<(), StoreError> {
    let fault = |error: io::Error| StoreError::from_files(path, &error);
    let mut table = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(BufWriter::new(unfinished.file()));
    let csv_fault = |error: csv::Error| match error.into_kind() {
        csv::ErrorKind::Io(error) => fault(error),
        other => fault(io::Error::other(format!("{other:?}"))),
    };
    table
        .write_record(header(&study.study))
        .map_err(csv_fault)?;
    reader.visit_rows::<StoreError>(study, |row| {
        table
            .write_record(cells(&study.study, &row))
            .map_err(csv_fault)
    })?;
    let mut buffer = table.into_inner().map_err(|e| fault(e.into_error()))?;
    buffer.flush().map_err(fault)
}

fn header(study: &Study) -> Vec<String> {
    let mut header = vec!["point".to_owned()];
    header.extend(study.variables.iter().map(|v| v.heading()));
    for quantity in &study.report {
        let unit = quantity.kind.unit();
        header.push(heading(quantity));
        header.push(in_unit(format!("{quantity}: estimated error"), unit));
        if quantity.kind == QuantityKind::BaseCapacitance {
            header.push(format!("{quantity}: lower bound [{unit}]"));
            header.push(format!("{quantity}: upper bound [{unit}]"));
            header.push(format!("{quantity}: bounds guaranteed"));
        }
    }
    let rest = [
        "state",
        "answer",
        "accuracy reached",
        "cells",
        "iterations",
        "reason",
    ];
    header.extend(rest.map(str::to_owned));
    header
        .iter()
        .map(|text| defused(text).into_owned())
        .collect()
}

fn yes_or_no(value: bool) -> String {
    if value { "yes" } else { "no" }.to_owned()
}

/// The cells of one row; what is absent is blank.
fn cells(study: &Study, row: &Row) -> Vec<String> {
    let mut cells = vec![(row.index + 1).to_string()];
    cells.extend(row.coordinates.iter().map(|coordinate| match coordinate {
        Coordinate::Number(_) => coordinate.to_string(),
        Coordinate::Word(word) => defused(word).into_owned(),
    }));
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    for quantity in &study.report {
        let reported = row.outcome.values().and_then(|values| values.of(quantity));
        cells.push(number(reported.map(|r| r.value)));
        cells.push(number(reported.map(|r| r.error)));
        if quantity.kind == QuantityKind::BaseCapacitance {
            cells.push(number(reported.and_then(|r| r.lower)));
            cells.push(number(reported.and_then(|r| r.upper)));
            cells.push(reported.map_or_else(String::new, |r| yes_or_no(r.guaranteed)));
        }
    }
    match &row.outcome {
        Outcome::Done {
            values,
            accuracy_reached,
            missed,
            iterations,
            cells: count,
        } => cells.extend([
            "done".to_owned(),
            if values.is_reduced {
                "reduced"
            } else {
                "direct"
            }
            .to_owned(),
            yes_or_no(*accuracy_reached),
            count.to_string(),
            iterations.to_string(),
            defused(missed).into_owned(),
        ]),
        Outcome::Failed { kind, reason } => cells.extend([
            format!("failed: {}", kind.word()),
            String::new(),
            String::new(),
            String::new(),
            String::new(),
            defused(reason).into_owned(),
        ]),
    }
    cells
}

#[cfg(test)]
mod tests {
    use super::super::read::FailureKind;
    use super::super::tests::study;
    use super::*;
    use crate::cells::restored;
    use crate::study::Values;

    #[test]
    fn text_that_would_be_calculated_is_defused_and_numbers_stay_numbers() {
        let mut study = study();
        study.variables[1].path = "-thing".to_owned();
        study.variables[1].values = Values::Words(vec!["@SUM(1)".to_owned()]);
        let row = Row {
            index: 0,
            coordinates: vec![
                Coordinate::Number("-2.50".parse().expect("a number")),
                Coordinate::Word("@SUM(1)".to_owned()),
            ],
            outcome: Outcome::Failed {
                kind: FailureKind::Geometry,
                reason: "=1+1".to_owned(),
            },
        };
        let cells = cells(&study, &row);
        assert_eq!(cells[..3], ["1", "-2.5", "'@SUM(1)"]);
        assert_eq!(cells.last().map(String::as_str), Some("'=1+1"));
        assert_eq!(restored(&cells[2]), "@SUM(1)");
        assert_eq!(header(&study)[2], "'-thing");
    }
}
