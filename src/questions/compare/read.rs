//! The table of measured values.

use crate::cells::restored;
use csv::{ReaderBuilder, StringRecord, Trim};

/// What was measured of a pad.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Count of the untouched pad.
    BaseCount,
    /// Counts towards a touch.
    CountShift,
    /// Base capacitance at the pin \[pF\].
    BaseAtPin,
    /// Touch shift \[pF\].
    TouchShift,
}

impl Quantity {
    pub const ALL: [Self; 4] = [
        Self::BaseCount,
        Self::CountShift,
        Self::BaseAtPin,
        Self::TouchShift,
    ];

    /// Heading of its column.
    pub const fn column(self) -> &'static str {
        match self {
            Self::BaseCount => "base_count",
            Self::CountShift => "count_shift",
            Self::BaseAtPin => "base_pf",
            Self::TouchShift => "touch_shift_pf",
        }
    }

    /// In words, with the unit.
    pub const fn words(self) -> &'static str {
        match self {
            Self::BaseCount => "base, counts",
            Self::CountShift => "touch, counts",
            Self::BaseAtPin => "base at the pin, pF",
            Self::TouchShift => "touch, pF",
        }
    }

    /// Whether a finger is needed for it.
    pub const fn is_of_touch(self) -> bool {
        matches!(self, Self::CountShift | Self::TouchShift)
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct MeasuredValue {
    pub pad: String,
    /// What was measured.
    pub quantity: Quantity,
    /// The value in the unit of the quantity.
    pub value: f64,
}

/// What is wrong with the table, with its place.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{file}:{line}{}: {message}", .column.as_ref().map_or(String::new(), |name| format!(" (column {name})")))]
pub struct MeasuredError {
    /// The file as it was named.
    pub file: String,
    /// Line, counted from 1.
    pub line: u64,
    /// Heading of the column.
    pub column: Option<String>,
    /// What is wrong and what was expected.
    pub message: String,
}

/// Reads a CSV table: a column `pad` and one or more of `base_count`, `count_shift`, `base_pf`,
/// `touch_shift_pf`; cells without a value are left out, lines that start with # are comments.
///
/// A name that begins with `-` or another sign may stand behind an apostrophe, as in tables of ours.
///
/// `known` are the names of the panel's pads. A shift of a count counts towards a touch, positive.
///
/// # Errors
/// The first thing that is wrong, with its place.
///
/// ```
/// use padfield::questions::compare::{Quantity, read};
/// let values = read("bench.csv", b"pad,base_count\nup,3100\n", &["up".to_owned()])?;
/// assert_eq!((values[0].quantity, values[0].value), (Quantity::BaseCount, 3100.0));
/// # Ok::<(), padfield::questions::compare::MeasuredError>(())
/// ```
pub fn read(
    file: &str,
    bytes: &[u8],
    known: &[String],
) -> Result<Vec<MeasuredValue>, MeasuredError> {
    let mut reader = ReaderBuilder::new()
        .trim(Trim::All)
        .comment(Some(b'#'))
        .from_reader(bytes);
    let broken = |error: csv::Error| {
        let line = error.position().map_or(1, csv::Position::line);
        let message = format!("not a table of comma-separated values: {error}");
        wrong(file, line, None, message)
    };
    let headers = reader.headers().map_err(broken)?.clone();
    let Columns { pad, quantities } = columns(&headers)
        .map_err(|(unknown, message)| wrong(file, 1, unknown.as_deref(), message))?;
    let mut values: Vec<MeasuredValue> = Vec::new();
    for row in reader.records() {
        let row = row.map_err(broken)?;
        let line = row.position().map_or(0, csv::Position::line);
        let pad = restored(row.get(pad).unwrap_or_default());
        if !known.iter().any(|name| name == pad) {
            let message = format!("there is no pad \"{pad}\"; pads: {}", known.join(", "));
            return Err(wrong(file, line, Some("pad"), message));
        }
        for &(place, quantity) in &quantities {
            let text = row.get(place).unwrap_or_default();
            if text.is_empty() {
                continue;
            }
            let is_same = |one: &MeasuredValue| one.pad == pad && one.quantity == quantity;
            let value = match value_in(text) {
                Ok(_) if values.iter().any(is_same) => {
                    Err(format!("pad \"{pad}\" has this value already"))
                }
                value => value,
            };
            let value =
                value.map_err(|message| wrong(file, line, Some(quantity.column()), message))?;
            values.push(MeasuredValue {
                pad: pad.to_owned(),
                quantity,
                value,
            });
        }
    }
    if values.is_empty() {
        let message = "there is no measured value in it".to_owned();
        return Err(wrong(file, 1, None, message));
    }
    Ok(values)
}

fn wrong(file: &str, line: u64, column: Option<&str>, message: String) -> MeasuredError {
    MeasuredError {
        file: file.to_owned(),
        line,
        column: column.map(str::to_owned),
        message,
    }
}

/// Where the columns of a table stand.
struct Columns {
    pad: usize,
    quantities: Vec<(usize, Quantity)>,
}

/// Reads the headings; an error is the heading that is unknown, if that is it, and what is wrong.
fn columns(headers: &StringRecord) -> Result<Columns, (Option<String>, String)> {
    let names = Quantity::ALL.map(Quantity::column).join(", ");
    let expected = format!("expected a column \"pad\" and one or more of {names}");
    let mut quantities = Vec::new();
    let mut pad = None;
    for (place, header) in headers.iter().enumerate() {
        let mut all = Quantity::ALL.into_iter();
        match (header, all.find(|quantity| quantity.column() == header)) {
            ("pad", _) => pad = Some(place),
            (_, Some(quantity)) => quantities.push((place, quantity)),
            (unknown, None) => {
                let message = format!("unknown column; {expected}");
                return Err((Some(unknown.to_owned()), message));
            }
        }
    }
    match pad {
        Some(pad) if !quantities.is_empty() => Ok(Columns { pad, quantities }),
        _ => Err((None, expected)),
    }
}

fn value_in(text: &str) -> Result<f64, String> {
    let value = text.parse::<f64>().ok();
    let value = value.filter(|value| value.is_finite() && *value > 0.0);
    value.ok_or_else(|| {
        format!("\"{text}\" is not a number above zero; write it plainly, as 3100 or 12.5")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_a_spreadsheet_would_calculate_comes_back_as_it_was() {
        let known = ["-left".to_owned(), "@home".to_owned(), "up".to_owned()];
        let table = b"pad,base_count\n'-left,1\n@home,2\nup,3\n";
        let values = read("bench.csv", table, &known).unwrap_or_else(|error| panic!("{error}"));
        let pads: Vec<&str> = values.iter().map(|value| value.pad.as_str()).collect();
        assert_eq!(pads, ["-left", "@home", "up"]);
        let twice = read("bench.csv", b"pad,base_count\n''-left,1\n", &known).unwrap_err();
        assert!(
            twice.message.contains("there is no pad \"'-left\""),
            "{twice}"
        );
    }
}
