//! Values set from outside the file: on the command line, by a sweep, by a rule.

use super::error::ScenarioError;

/// One value set from outside the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Override {
    /// Dotted path: `layer.overlay.thickness`, or `overlay.thickness` where that is unambiguous. A path
    /// into a section `[guard.NAME]` that the file does not have creates it.
    pub path: String,
    /// The value as it would stand between quotes in the file: `5 mm`; a list in brackets. `none` takes
    /// a section away whose path this is (`guard.cross`, `layer.bond`, `climate`), and a single value back
    /// to its default. An area whose `fill` becomes `solid` loses what only its hatch had.
    pub value: String,
}

impl Override {
    /// From the text of `--set`: `layer.overlay.thickness=5 mm`.
    ///
    /// # Errors
    /// When there is no equals sign.
    pub fn parse(text: &str) -> Result<Self, ScenarioError> {
        match text.split_once('=') {
            Some((path, value)) => Ok(Self {
                path: path.trim().to_owned(),
                value: value.trim().to_owned(),
            }),
            None => Err(ScenarioError::in_override(
                "",
                text,
                0..text.len(),
                "the override has no equals sign",
                "write PATH=VALUE, such as layer.overlay.thickness=\"5 mm\"",
            )),
        }
    }

    /// Several of them, with semicolons between: `overlay.thickness=5 mm; idle=floating`. A semicolon
    /// between quotes belongs to its value.
    ///
    /// ```
    /// use padfield::input::Override;
    /// let two = Override::several("overlay.material=glass; title=\"a; b\";")?;
    /// assert_eq!(two[1].value, "\"a; b\"");
    /// # Ok::<(), padfield::input::ScenarioError>(())
    /// ```
    ///
    /// # Errors
    /// No override at all, or one without an equals sign.
    pub fn several(text: &str) -> Result<Vec<Self>, ScenarioError> {
        let all = parts(text)
            .into_iter()
            .map(str::trim)
            .filter(|part| !part.is_empty())
            .map(Self::parse)
            .collect::<Result<Vec<_>, _>>()?;
        if all.is_empty() {
            return Err(ScenarioError::in_override(
                "",
                text,
                0..text.len(),
                "nothing is changed here",
                "write PATH=VALUE; PATH=VALUE, such as \"idle=floating\"",
            ));
        }
        Ok(all)
    }

    pub(super) fn text(&self) -> String {
        format!("{}={}", self.path, self.value)
    }
}

/// The text between semicolons that stand outside quotes.
fn parts(text: &str) -> Vec<&str> {
    let mut parts = Vec::new();
    let mut start = 0;
    let mut quote = None;
    for (at, character) in text.char_indices() {
        match (quote, character) {
            (None, '"' | '\'') => quote = Some(character),
            (Some(open), close) if open == close => quote = None,
            (None, ';') => {
                parts.push(&text[start..at]);
                start = at + 1;
            }
            _ => {}
        }
    }
    parts.push(&text[start..]);
    parts
}
