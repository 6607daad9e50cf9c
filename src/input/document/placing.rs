//! Where an error of a panel file is: at a span of its text, or in the override that brought it.

use super::defaults::{NONE, section_of, take_section_away};
use super::error::ScenarioError;
use super::overrides::Override;
use super::paths::{PathEntry, find_path};
use super::toml_text::in_two_lines;
use super::tree::{find, span_of};
use super::{Document, OVERRIDE_SPAN};
use crate::input::place::Finding;
use std::ops::Range;
use toml::de::DeTable;

impl Document {
    /// A hint about a panel that cannot be without the value that an override took back: the section
    /// can.
    pub(super) fn or_without(&self, given: &Override, hint: &str) -> String {
        let entry = find_path(&self.paths, &given.path).ok();
        match entry.and_then(section_of) {
            Some(section) if given.value == NONE => {
                format!("{hint}; or {}", take_section_away(section))
            }
            _ => hint.to_owned(),
        }
    }

    /// An error about the path of an override.
    pub(super) fn at_path(
        &self,
        given: &Override,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> ScenarioError {
        let text = given.text();
        ScenarioError::in_override(&self.file, &text, 0..given.path.len(), message, hint)
    }

    pub(super) fn at_override(
        &self,
        given: &Override,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> ScenarioError {
        let text = given.text();
        let span = given.path.len() + 1..text.len();
        ScenarioError::in_override(&self.file, &text, span, message, hint)
    }

    fn at_span(
        &self,
        overrides: &[Override],
        span: Range<usize>,
        message: String,
        hint: String,
    ) -> ScenarioError {
        let index = span.start.checked_sub(OVERRIDE_SPAN);
        match index.and_then(|index| self.set().chain(overrides).nth(index)) {
            Some(given) => self.at_override(given, message, hint),
            None => ScenarioError::in_file(&self.file, &self.source, span, message, hint),
        }
    }

    pub(super) fn place(
        &self,
        table: &DeTable<'_>,
        overrides: &[Override],
        finding: Finding,
    ) -> ScenarioError {
        let span = span_of(table, &finding.steps, finding.at_key);
        self.at_span(overrides, span, finding.message, finding.hint)
    }

    /// A serde error: its message is ours in two lines, or serde's own about a wrong type.
    pub(super) fn misread(
        &self,
        table: &DeTable<'_>,
        paths: &[PathEntry],
        overrides: &[Override],
        error: &toml::de::Error,
    ) -> ScenarioError {
        let span = error.span().unwrap_or(0..0);
        let (message, hint) = in_two_lines(error);
        let is_here = |entry: &&PathEntry| {
            entry.part.is_none()
                && find(table, &entry.steps).is_some_and(|value| value.span() == span)
        };
        let message = match paths.iter().find(is_here) {
            Some(entry) => format!("{}: {message}", entry.text),
            None => message,
        };
        self.at_span(overrides, span, message, hint)
    }
}
