//! Questions whose field failed, told with their file, and at what makes a grid large when it finds no room.

use super::writer::is_terminal;
use crate::input::Document;
use crate::panel::Panel;
use padfield_engine::field::FieldError;
use std::fmt::Display;

/// The message of an error; `field` is what the field engine said of it, if it did.
pub(super) fn message(
    (document, panel): (&Document, &Panel),
    error: &dyn Display,
    field: Option<&FieldError>,
) -> String {
    let placed = field
        .filter(|field| field.has_no_room())
        .and_then(|_| document.without_room(panel, &error.to_string()));
    match placed {
        Some(placed) => placed.render(is_terminal()),
        None => format!("{}: {error}", document.file()),
    }
}
