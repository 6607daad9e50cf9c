//! From the bytes of a file to a TOML table, and TOML's messages in our form: what is wrong, what to write.

use super::error::ScenarioError;
use padfield_engine::hidden::{HIDDEN_REMEDY, hidden_in_table};
use toml::Spanned;
use toml::de::DeTable;

/// Largest file \[bytes\].
pub const MAX_BYTES: usize = 1 << 20;

/// The text of a file; `kind` says what it should be.
pub(super) fn text_of_bytes<'b>(
    file: &str,
    kind: &str,
    bytes: &'b [u8],
) -> Result<&'b str, ScenarioError> {
    check_size(file, kind, bytes)?;
    std::str::from_utf8(bytes).map_err(|error| {
        let at = error.valid_up_to();
        ScenarioError::in_file(
            file,
            &String::from_utf8_lossy(bytes),
            at..at + '\u{fffd}'.len_utf8(),
            format!("byte {at} is not UTF-8 text"),
            "save the file as UTF-8",
        )
    })
}

/// The table of a TOML text that is not too large.
pub(super) fn parsed<'t>(
    file: &str,
    kind: &str,
    text: &'t str,
) -> Result<Spanned<DeTable<'t>>, ScenarioError> {
    check_size(file, kind, text.as_bytes())?;
    let root = DeTable::parse(text).map_err(|error| {
        ScenarioError::in_file(
            file,
            text,
            error.span().unwrap_or(0..0),
            format!("this is not TOML: {}", one_line(error.message())),
            "expected [section] lines and key = \"value\" lines",
        )
    })?;
    match hidden_in_table(text, root.get_ref()) {
        Some((span, hidden)) => {
            let message = hidden.to_string();
            Err(ScenarioError::in_file(
                file,
                text,
                span,
                message,
                HIDDEN_REMEDY,
            ))
        }
        None => Ok(root),
    }
}

fn check_size(file: &str, kind: &str, bytes: &[u8]) -> Result<(), ScenarioError> {
    if bytes.len() <= MAX_BYTES {
        return Ok(());
    }
    let start = String::from_utf8_lossy(&bytes[..200]);
    Err(ScenarioError::in_file(
        file,
        &start,
        0..1,
        format!(
            "the file has {:.1} MB; a {kind} has at most 1 MB",
            bytes.len() as f64 / 1e6
        ),
        format!("is this a {kind}?"),
    ))
}

/// Message and hint of a serde error: ours in two lines, or serde's own about a wrong type.
pub(super) fn in_two_lines(error: &toml::de::Error) -> (String, String) {
    if let Some((message, hint)) = error.message().split_once('\n') {
        return (message.to_owned(), hint.to_owned());
    }
    match error.message().split_once(", expected ") {
        Some((found, expected)) => {
            // serde calls a TOML table a map and a list a sequence.
            let found = match found.trim_start_matches("invalid type: ") {
                "map" => "a table",
                "sequence" => "a list",
                other => other,
            };
            (
                format!("{found} cannot stand here"),
                format!("write {expected}"),
            )
        }
        None => (error.message().to_owned(), "correct this value".to_owned()),
    }
}

pub(super) fn one_line(message: &str) -> String {
    message.split_whitespace().collect::<Vec<_>>().join(" ")
}
