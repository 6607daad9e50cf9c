//! The studies of a panel file: read on demand, since a panel does not need them.

use super::Document;
use super::error::ScenarioError;
use super::overrides::Override;
use crate::input::catalogue::refused;
use crate::input::names::{listed, nearest};
use crate::input::place::Finding;
use crate::input::place::steps;
use crate::input::sections::study::STUDY;
use crate::input::sections::study::{Checks, study};
use crate::input::sections::tolerance::TOLERANCE;
use crate::study::Study;

/// Keys whose values are names of other things: a wrong one is found before a night is spent.
const NAMING_KEYS: [&str; 4] = [".material", ".layer", ".on", ".between"];

/// Keys that change no answer.
const LABELS: [&str; 2] = ["title", "revision"];

impl Document {
    /// Names of the studies in file order.
    pub fn studies(&self) -> Vec<String> {
        self.sections(STUDY)
    }

    /// A study of the file, checked against the file's panel: the panel must be valid by itself.
    ///
    /// # Errors
    /// Whatever is wrong first with the panel or the study, at its place.
    pub fn study(&self, name: &str) -> Result<Study, ScenarioError> {
        let panel = self.panel(&[])?;
        let file = self.typed(&[])?;
        let Some(entry) = file.study.get(name) else {
            let known = || file.study.keys().map(String::as_str);
            let hint = match nearest(name, known()) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None if file.study.is_empty() => {
                    "add a section [study.NAME] with vary = [...]".to_owned()
                }
                None => format!("studies of this file: {}", listed(known())),
            };
            let message = format!("there is no study \"{name}\"");
            return Err(self.placed(Finding::at(steps![STUDY], message, hint)));
        };
        let checks = Checks {
            path: &|path| {
                let found = self.full_path(path)?;
                match refused(found.0) {
                    Some(refusal) => Err(refusal),
                    None => Ok(found),
                }
            },
            value: &|path, value| self.check_value(path, value),
        };
        study(name, entry, &panel, &checks).map_err(|finding| self.placed(finding))
    }

    /// Message and hint when a value cannot stand at a path, whatever the other values are.
    pub(super) fn check_value(&self, path: &str, value: &str) -> Result<(), (String, String)> {
        let given = [Override {
            path: path.to_owned(),
            value: value.to_owned(),
        }];
        let checked = if NAMING_KEYS.iter().any(|key| path.ends_with(key)) {
            self.panel(&given).map(|_| ())
        } else {
            self.typed(&given).map(|_| ())
        };
        checked.map_err(|error| (error.message().to_owned(), error.hint().to_owned()))
    }

    /// What a study's points depend on as one text: the file without its title, revision and other
    /// studies, comments and blanks. Not canonical beyond that: two texts may mean the same panels.
    pub fn identity(&self, study: &str) -> String {
        self.compact(|section, name| match section {
            STUDY => name.is_none_or(|name| name == study),
            TOLERANCE => false,
            _ => !LABELS.contains(&section),
        })
    }

    /// What any answer depends on as one text: the file without title, revision, comments and blanks. Not
    /// canonical beyond that: two texts may mean the same panel.
    pub fn contents(&self) -> String {
        self.compact(|section, _| !LABELS.contains(&section))
    }
}
