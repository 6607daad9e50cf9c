//! Text in cells of a CSV that a spreadsheet would take for a formula.
//!
//! Takes the text of a cell; gives it as it stands in a table of ours, and back; never fails. A cell that
//! begins with `=`, `+`, `-`, `@`, a tab or a line end is calculated by spreadsheets, so an apostrophe goes
//! before it (common practice, OWASP \"CSV Injection\"); what has apostrophes before such a character already
//! gets one more, so that every text comes back as it was. Numbers are not for this: -2 stays -2.
//!
//! ```
//! use padfield::cells::{defused, restored};
//! assert_eq!(defused("=1+1"), "'=1+1");
//! assert_eq!(defused("'=1+1"), "''=1+1");
//! assert_eq!(defused("key 1"), "key 1");
//! assert_eq!(restored("'=1+1"), "=1+1");
//! assert_eq!(restored("'tis"), "'tis");
//! ```

use std::borrow::Cow;

/// What a text in a table of ours looks like.
pub fn defused(text: &str) -> Cow<'_, str> {
    match is_calculated(text.trim_start_matches('\'')) {
        true => Cow::Owned(format!("'{text}")),
        false => Cow::Borrowed(text),
    }
}

/// The text of a cell that [`defused`] made.
pub fn restored(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(text) if is_calculated(text.trim_start_matches('\'')) => text,
        _ => cell,
    }
}

/// Whether a spreadsheet takes it for a formula; the wide forms are those of East Asian keyboards.
fn is_calculated(text: &str) -> bool {
    text.starts_with([
        '=', '+', '-', '@', '\t', '\r', '\n', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}',
    ])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_text_comes_back_and_none_is_calculated(text in "['=+@\t\r\n a-c1-]{0,6}") {
            let cell = defused(&text);
            prop_assert!(!is_calculated(&cell));
            prop_assert_eq!(restored(&cell), &text);
        }
    }
}
