//! Any other TOML file of typed keys, read with the care of the panel file: places, nearest keys, hints.

use super::error::ScenarioError;
use super::keys::KeyShape;
use super::toml_text::{in_two_lines, parsed, text_of_bytes};
use super::tree::span_of;
use crate::input::place::Finding;
use schemars::JsonSchema;
use serde::de::DeserializeOwned;
use toml::de::DeTable;

/// A file as typed: every value is of its kind, what they mean together is not checked.
#[derive(Clone, Debug)]
pub(crate) struct TypedFile<T> {
    file: String,
    source: String,
    /// What it says.
    pub value: T,
}

impl<T: DeserializeOwned + JsonSchema> TypedFile<T> {
    /// Reads the bytes of a file; `kind` says what it should be ("rules file"), `file` is its name for
    /// messages.
    ///
    /// # Errors
    /// Too large, not UTF-8, not TOML, an unknown key, a value of the wrong kind.
    pub fn from_bytes(file: &str, kind: &str, bytes: &[u8]) -> Result<Self, ScenarioError> {
        let source = text_of_bytes(file, kind, bytes)?;
        let root = parsed(file, kind, source)?;
        let mut schema = schemars::schema_for!(T).to_value();
        crate::input::without_null(&mut schema);
        KeyShape::of_file(&schema)
            .check(root.get_ref())
            .map_err(|finding| placed(file, source, root.get_ref(), &finding))?;
        let value = T::deserialize(toml::de::Deserializer::from(root)).map_err(|error| {
            let (message, hint) = in_two_lines(&error);
            ScenarioError::in_file(file, source, error.span().unwrap_or(0..0), message, hint)
        })?;
        Ok(Self {
            file: file.to_owned(),
            source: source.to_owned(),
            value,
        })
    }
}

impl<T> TypedFile<T> {
    /// A finding about this file at its place.
    pub fn placed(&self, finding: &Finding) -> ScenarioError {
        let root = DeTable::parse(&self.source).expect("this text has been parsed before");
        placed(&self.file, &self.source, root.get_ref(), finding)
    }
}

fn placed(file: &str, source: &str, root: &DeTable<'_>, finding: &Finding) -> ScenarioError {
    let span = span_of(root, &finding.steps, finding.at_key);
    ScenarioError::in_file(file, source, span, &*finding.message, &*finding.hint)
}
