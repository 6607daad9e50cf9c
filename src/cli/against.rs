//! `padfield solve FILE --against ...`: variants of the panel as they are written on the command line.

use super::Failure;
use super::input::{self, Input, bad_input, faulty};
use super::no_room;
use super::solve::response_failure;
use crate::input::{Document, Override, Place, ScenarioError};
use crate::panel::Panel;
use crate::questions::against::{CompareError, Variant};
use std::path::Path;

/// The option, for messages.
const AGAINST: &str = "--against";

/// The variants: overrides of `document`, which holds what `set` says, or other panel files with that set.
pub(super) fn variants(
    against: &[String],
    document: &Document,
    set: &[String],
) -> Result<Vec<Variant>, Failure> {
    let read = |text: &String| {
        if text.contains('=') || text.trim_matches([' ', ';']).is_empty() {
            changed(text, document)
        } else if Path::new(text).is_file() {
            other_file(text, set)
        } else {
            Err(bad_input(format!(
                "{AGAINST} {text}: this is neither a panel file nor PATH=VALUE; PATH=VALUE"
            )))
        }
    };
    against.iter().map(read).collect()
}

fn other_file(text: &str, set: &[String]) -> Result<Variant, Failure> {
    let Input { panel, .. } = input::read(Path::new(text), set)?;
    Ok(Variant {
        changes: vec![text.to_owned()],
        panel,
    })
}

fn changed(text: &str, document: &Document) -> Result<Variant, Failure> {
    let overrides = Override::several(text).map_err(|error| faulty(error.given_by(AGAINST)))?;
    let panel = document
        .panel(&overrides)
        .map_err(|error| faulty(placed(error, &overrides)))?;
    Ok(Variant {
        changes: overrides
            .iter()
            .map(|given| in_words(document, given))
            .collect(),
        panel,
    })
}

/// What `--set` says stays what `--set` says.
fn placed(error: ScenarioError, overrides: &[Override]) -> ScenarioError {
    let is_here = |text: &String| {
        let mut all = overrides.iter();
        all.any(|given| format!("{}={}", given.path, given.value) == *text)
    };
    match error.place() {
        Place::Override(text) if is_here(text) => error.given_by(AGAINST),
        _ => error,
    }
}

/// `guard.cross.width = 2 mm`, `without ground.plane`, `ground.plane.angle by default`.
pub(super) fn in_words(document: &Document, given: &Override) -> String {
    match given.value.as_str() {
        "none" if document.value_at(&given.path).is_ok() => format!("{} by default", given.path),
        "none" => format!("without {}", given.path),
        value => format!("{} = {}", given.path, value.trim_matches('"')),
    }
}

/// Why there is no comparison, as a failure of the command on that file.
pub(super) fn failure(asked: (&Document, &Panel), error: &CompareError) -> Failure {
    Failure {
        message: no_room::message(asked, error, error.source.field()),
        ..response_failure(asked, &error.source)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_are_told_in_words() {
        let text = include_str!("../../scenarios/two_pads.toml");
        let document = Document::from_text("two_pads.toml", text).expect("TOML");
        let words = |text: &str| {
            let all = Override::several(text).expect("overrides");
            let each = all.iter().map(|given| in_words(&document, given));
            each.collect::<Vec<_>>().join(", ")
        };
        assert_eq!(
            words(
                "guard.cross.width=2 mm;ground.plane=none; overlay.material=\"glass\"; idle=none"
            ),
            "guard.cross.width = 2 mm, without ground.plane, overlay.material = glass, idle by default"
        );
    }
}
