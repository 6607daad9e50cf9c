//! The command line: the only place that reads files and prints.

pub mod field;
mod table;
pub mod verify;

/// Exit code of a command.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Success = 0,
    /// A fault of the program itself.
    Internal = 1,
    /// Bad input or usage.
    BadInput = 2,
    /// A check or a limit failed.
    CheckFailed = 3,
    /// Not converged, or the accuracy asked for was not reached.
    NotReached = 4,
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
