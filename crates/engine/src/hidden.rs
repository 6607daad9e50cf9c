//! Characters that a text may hold and nobody sees: they reorder what is shown or take no room in it.
//!
//! Takes a text; gives the first such character with its place; never fails. A name that holds one looks
//! like another name, so whoever reads names and titles from outside refuses them.
//!
//! ```
//! use padfield_engine::hidden::Hidden;
//! let (at, hidden) = Hidden::first_in("key\u{202e}pad").expect("it is there");
//! assert_eq!(at, 3);
//! assert_eq!(hidden.to_string(), "U+202E changes the direction of the text and is not seen itself");
//! assert!(Hidden::first_in("Tür 4 µm ± 10 %").is_none());
//! ```

use std::fmt;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// What to do about one, for the hint of an error.
pub const HIDDEN_REMEDY: &str = "take it out, or type the text again";

/// A character that is not seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hidden {
    /// The character.
    pub character: char,
    /// Whether it changes the direction of the text; otherwise it has no width.
    pub turns: bool,
}

impl Hidden {
    /// The first of a text, with its byte offset.
    pub fn first_in(text: &str) -> Option<(usize, Self)> {
        text.char_indices().find_map(|(at, character)| {
            let turns = turns(character);
            Self::is(character).then_some((at, Self { character, turns }))
        })
    }

    /// Whether a character is one of them.
    pub const fn is(character: char) -> bool {
        turns(character) || has_no_width(character)
    }
}

impl fmt::Display for Hidden {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let does = match self.turns {
            true => "changes the direction of the text and is not seen itself",
            false => "has no width and is not seen",
        };
        write!(formatter, "U+{:04X} {does}", self.character as u32)
    }
}

/// The place of the first hidden character of keys and texts, and what it is; comments may hold what
/// they like. One that is written as an escape is placed at the text it is in.
pub fn hidden_in_table(source: &str, table: &DeTable<'_>) -> Option<(Range<usize>, Hidden)> {
    let (span, hidden) = table.iter().find_map(|(key, value)| {
        let in_key = Hidden::first_in(key.get_ref()).map(|(_, hidden)| (key.span(), hidden));
        in_key.or_else(|| hidden_in_value(source, value))
    })?;
    let within = source.get(span.clone()).and_then(Hidden::first_in);
    Some(match within {
        Some((at, found)) => {
            let at = span.start + at;
            (at..at + found.character.len_utf8(), found)
        }
        None => (span, hidden),
    })
}

fn hidden_in_value(source: &str, value: &Spanned<DeValue<'_>>) -> Option<(Range<usize>, Hidden)> {
    match value.get_ref() {
        DeValue::Array(list) => list.iter().find_map(|item| hidden_in_value(source, item)),
        DeValue::Table(table) => hidden_in_table(source, table),
        other => hidden_in(other).map(|hidden| (value.span(), hidden)),
    }
}

/// The first hidden character of a value that stands alone.
pub fn hidden_in(value: &DeValue<'_>) -> Option<Hidden> {
    match value {
        DeValue::String(text) => Hidden::first_in(text).map(|(_, hidden)| hidden),
        DeValue::Array(list) => list.iter().find_map(|item| hidden_in(item.get_ref())),
        _ => None,
    }
}

/// Unicode's property Bidi_Control (PropList.txt), from memory.
const fn turns(character: char) -> bool {
    matches!(
        character,
        '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
    )
}

/// Format characters and others without any width that belong to no letter, from memory: soft hyphen,
/// joiner of graphemes, fillers, zero-width space and joiners, word joiner and the invisible operators,
/// deprecated format characters, byte order mark, variation selectors, annotation marks, tags.
const fn has_no_width(character: char) -> bool {
    matches!(
        character,
        '\u{ad}'
            | '\u{34f}'
            | '\u{115f}'
            | '\u{1160}'
            | '\u{17b4}'
            | '\u{17b5}'
            | '\u{180b}'..='\u{180f}'
            | '\u{200b}'..='\u{200d}'
            | '\u{2060}'..='\u{2065}'
            | '\u{206a}'..='\u{206f}'
            | '\u{3164}'
            | '\u{fe00}'..='\u{fe0f}'
            | '\u{feff}'
            | '\u{ffa0}'
            | '\u{fff9}'..='\u{fffb}'
            | '\u{e0000}'..='\u{e0fff}'
    )
}
