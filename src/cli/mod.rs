//! The command line: the only place that reads files and prints, the latter in `writer` alone.

mod against;
mod app;
pub mod cache;
mod changes;
pub mod chart;
mod chart_files;
pub mod circuit;
pub mod cluster;
pub mod common;
pub mod compare;
mod date;
pub mod discharge;
pub mod drift;
mod ending;
pub mod field;
pub mod find;
mod input;
mod interrupt;
mod last_words;
mod left_behind;
pub mod lists;
mod memory;
pub mod merge;
mod merge_text;
mod no_room;
pub mod note;
mod progress;
pub mod return_path;
pub mod rules;
pub mod schemas;
mod shard;
mod shell;
mod so_far;
pub mod solve;
mod study_folders;
mod study_record;
pub mod sweep;
mod sweep_progress;
mod sweep_text;
mod threads;
mod told;
pub mod tolerance;
pub mod verify;
pub mod walk;
mod walk_slider;
pub mod window;
mod writer;

pub use app::run;
pub use last_words::LastWords;
pub use memory::keep_freed_memory;
use padfield_engine::units::MEMORY_UNITS;

/// Exit code of a command.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Success = 0,
    /// A fault of the program itself, or nowhere to print the result.
    Internal = 1,
    /// Bad input or usage.
    BadInput = 2,
    /// A check or a limit failed.
    CheckFailed = 3,
    /// Not converged, or the accuracy asked for was not reached.
    NotReached = 4,
    /// Interrupted from the keyboard.
    Interrupted = 130,
}

impl Exit {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Success,
        Self::Internal,
        Self::BadInput,
        Self::CheckFailed,
        Self::NotReached,
        Self::Interrupted,
    ];

    /// What it says, for `--help` and the guide.
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::Success => "success",
            Self::Internal => "internal fault, or stdout cannot be written",
            Self::BadInput => "bad input or usage",
            Self::CheckFailed => "a check failed",
            Self::NotReached => "not converged, or the accuracy asked for was not reached",
            Self::Interrupted => "interrupted",
        }
    }
}

impl From<Exit> for std::process::ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

/// A command that could not give its result: what to print and the exit code.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct Failure {
    /// Text for the person, without a trailing newline.
    pub message: String,
    /// Exit code.
    pub exit: Exit,
}

/// A relative accuracy as typed: `0.5%`, `0.5 %` or `0.005`.
///
/// # Errors
/// Not a number, or not between 0 and 100 %.
///
/// ```
/// assert_eq!(padfield::cli::parse_accuracy("0.5 %"), Ok(0.005));
/// assert!(padfield::cli::parse_accuracy("5 mm").is_err());
/// ```
pub fn parse_accuracy(text: &str) -> Result<f64, String> {
    let (number, scale) = match text.trim().strip_suffix('%') {
        Some(number) => (number.trim_end(), 100.0),
        None => (text.trim(), 1.0),
    };
    match number.parse::<f64>() {
        // Dividing keeps 0.5 % equal to 0.005, multiplying by 0.01 does not.
        Ok(value) if value > 0.0 && value / scale <= 1.0 => Ok(value / scale),
        _ => Err("expected a share such as 0.5% or 0.005, above 0 and at most 100 %".to_owned()),
    }
}

/// The shortest text that [`parse_memory`] reads as so many bytes.
fn memory_word(bytes: u64) -> String {
    MEMORY_UNITS
        .into_iter()
        .map(|(unit, size)| format!("{}{unit}", bytes as f64 / size))
        .filter(|text| parse_memory(text) == Ok(bytes))
        .min_by_key(String::len)
        .unwrap_or_else(|| format!("{}MB", bytes as f64 / 1e6))
}

/// A memory size as typed: `8GB`, `500 MB`, `2GiB`; bytes out.
///
/// # Errors
/// No number, no unit, or less than a megabyte.
///
/// ```
/// assert_eq!(padfield::cli::parse_memory("8GB"), Ok(8_000_000_000));
/// assert_eq!(padfield::cli::parse_memory("0.5 GiB"), Ok(1 << 29));
/// assert!(padfield::cli::parse_memory("8").is_err());
/// ```
pub fn parse_memory(text: &str) -> Result<u64, String> {
    let text = text.trim();
    MEMORY_UNITS
        .into_iter()
        .find_map(|(unit, bytes)| Some((text.strip_suffix(unit)?.trim_end(), bytes)))
        .and_then(|(number, bytes)| Some(number.parse::<f64>().ok()? * bytes))
        .filter(|bytes| (1e6..1e18).contains(bytes))
        .map(|bytes| bytes as u64)
        .ok_or_else(|| "expected a size such as 8GB, 500MB or 2GiB, at least 1MB".to_owned())
}

/// A record as one line of JSON. A zero has no sign there either; what is not a number is null.
fn json_line(record: &impl serde::Serialize) -> Result<String, Failure> {
    let mut record = serde_json::to_value(record).map_err(|error| Failure {
        message: format!("cannot write the result as JSON: {error}"),
        exit: Exit::Internal,
    })?;
    without_signed_zeros(&mut record);
    Ok(format!("{record}\n"))
}

fn print_json(
    output: &mut dyn std::io::Write,
    record: &impl serde::Serialize,
) -> Result<(), Failure> {
    print(output, &json_line(record)?)
}

fn without_signed_zeros(value: &mut serde_json::Value) {
    use serde_json::Value;
    match value {
        Value::Number(number) if number.is_f64() && number.as_f64() == Some(0.0) => {
            *value = 0.0.into();
        }
        Value::Array(all) => all.iter_mut().for_each(without_signed_zeros),
        Value::Object(all) => all.values_mut().for_each(without_signed_zeros),
        _ => {}
    }
}

/// Writes the result of a command.
fn print(output: &mut dyn std::io::Write, text: &str) -> Result<(), Failure> {
    output.write_all(text.as_bytes()).map_err(|error| Failure {
        message: format!("cannot print the result: {error}"),
        exit: Exit::Internal,
    })
}
