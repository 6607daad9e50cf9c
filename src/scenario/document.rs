//! A parsed panel file: read once, then turned into a panel as often as there are sets of overrides.

use super::addition::Addition;
use super::error::{Finding, Place, ScenarioError};
use super::keys::{PathEntry, Step, check_keys, find_path, paths_of};
use super::quantity::with_part;
use super::toml_text::{in_two_lines, one_line, parsed, text_of_bytes};
use super::trust::trust;
use super::typed::PanelFile;
use crate::panel::Panel;
use serde::Deserialize;
use std::borrow::Cow;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Spans that start here or later stand for overrides, in the order they were given.
const OVERRIDE_SPAN: usize = usize::MAX / 2;

/// One value set from outside the file: on the command line or by a sweep.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Override {
    /// Dotted path: `layer.overlay.thickness`, or `overlay.thickness` where that is unambiguous.
    pub path: String,
    /// The value as it would stand between quotes in the file: `5 mm`; a list in brackets.
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

    fn text(&self) -> String {
        format!("{}={}", self.path, self.value)
    }
}

/// A panel file that is valid TOML, with its dotted paths.
///
/// The table is parsed again from the text for every panel, a few hundredths of a millisecond: that
/// keeps the document free of borrows.
#[derive(Clone, Debug)]
pub struct Document {
    file: String,
    source: String,
    additions: Vec<Addition>,
    paths: Vec<PathEntry>,
}

impl Document {
    /// Reads the bytes of a file; `file` is its name for messages.
    ///
    /// # Errors
    /// Too large, not UTF-8, not TOML.
    pub fn from_bytes(file: &str, bytes: &[u8]) -> Result<Self, ScenarioError> {
        Self::from_text(file, text_of_bytes(file, "panel file", bytes)?)
    }

    /// Reads a text; `file` is its name for messages.
    ///
    /// # Errors
    /// Too large, not TOML.
    pub fn from_text(file: &str, text: &str) -> Result<Self, ScenarioError> {
        let root = parsed(file, "panel file", text)?;
        let paths = paths_of(root.get_ref());
        Ok(Self {
            file: file.to_owned(),
            source: text.to_owned(),
            additions: Vec::new(),
            paths,
        })
    }

    /// The same panel file with sections added that [`Override`]s then fill in: a ground trace that is
    /// there already stays as it is, a layer is inserted behind another one.
    ///
    /// ```
    /// use padfield::scenario::{Addition, Document, Override};
    /// # let text = "[[layer]]\nname = \"overlay\"\nmaterial = \"acrylic\"\nthickness = \"3 mm\"\n\
    /// # [[layer]]\nname = \"front\"\ncopper = \"35 um\"\n\
    /// # [pads.key]\nlayer = \"front\"\nshape = \"disc\"\ndiameter = \"12 mm\"\n";
    /// let document = Document::from_text("one.toml", text)?;
    /// let air = Addition::Layer { name: "air".into(), behind: "overlay".into() };
    /// let lifted = document.with(&[air])?;
    /// let panel = lifted.panel(&[
    ///     Override::parse("layer.air.permittivity=1")?,
    ///     Override::parse("layer.air.thickness=0.1 mm")?,
    /// ])?;
    /// assert_eq!(panel.layers[1].name, "air");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// The reason why there is no place for one of them.
    pub fn with(&self, additions: &[Addition]) -> Result<Self, String> {
        let mut longer = self.clone();
        let mut root = self.root();
        for addition in additions {
            addition.apply(root.get_mut())?;
            longer.additions.push(addition.clone());
        }
        longer.paths = paths_of(root.get_ref());
        drop(root);
        Ok(longer)
    }

    /// Dotted paths of all values that are written, or may be written, in this file's sections.
    pub fn paths(&self) -> impl Iterator<Item = &str> {
        self.paths.iter().map(|entry| entry.text.as_str())
    }

    /// The text of the value at a path, if the file gives it; numbers as written, lists not.
    ///
    /// # Errors
    /// An unknown or ambiguous path.
    pub fn value_at(&self, path: &str) -> Result<Option<String>, ScenarioError> {
        let entry = find_path(&self.paths, path).map_err(|(message, hint)| {
            ScenarioError::in_override(&self.file, path, 0..path.len(), message, hint)
        })?;
        let root = self.root();
        let text = find(root.get_ref(), &entry.steps).and_then(|v| text_of(v.get_ref()));
        Ok(text.map(|text| match &entry.part {
            Some(part) => super::quantity::part_of(&text, part),
            None => text,
        }))
    }

    /// The checked panel, after `overrides` have been applied in order.
    ///
    /// # Errors
    /// Whatever is wrong first, at its place in the file or in an override.
    pub fn panel(&self, overrides: &[Override]) -> Result<Panel, ScenarioError> {
        self.checked(overrides).map_err(|error| {
            if !matches!(error.place(), Place::File { .. }) {
                return error;
            }
            // The file is at fault only if it fails without the overrides; otherwise the one that
            // turned a good panel into a bad one is.
            let works = |count: &usize| self.checked(&overrides[..*count]).is_ok();
            match (0..overrides.len()).rev().find(works) {
                Some(count) => self.at_override(&overrides[count], error.message(), error.hint()),
                None => error,
            }
        })
    }

    fn checked(&self, overrides: &[Override]) -> Result<Panel, ScenarioError> {
        let (file, root) = self.typed_with_root(overrides)?;
        trust(&file).map_err(|finding| self.place(root.get_ref(), overrides, finding))
    }

    /// The file as typed: every value is of its kind, what they mean together is not checked.
    pub(super) fn typed(&self, overrides: &[Override]) -> Result<PanelFile, ScenarioError> {
        self.typed_with_root(overrides).map(|(file, _)| file)
    }

    fn typed_with_root<'t>(
        &'t self,
        overrides: &'t [Override],
    ) -> Result<(PanelFile, Spanned<DeTable<'t>>), ScenarioError> {
        let mut root = self.root();
        for (index, given) in overrides.iter().enumerate() {
            self.apply(root.get_mut(), index, given)?;
        }
        let table = root.get_ref();
        check_keys(table).map_err(|finding| self.place(table, overrides, finding))?;
        let deserializer = toml::de::Deserializer::from(root.clone());
        let file = PanelFile::deserialize(deserializer)
            .map_err(|error| self.misread(table, overrides, &error))?;
        Ok((file, root))
    }

    /// Name of the file, for messages.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// A finding about the file as it is written.
    pub(super) fn placed(&self, finding: Finding) -> ScenarioError {
        self.place(self.root().get_ref(), &[], finding)
    }

    /// A path in full with whether its value is a whole number; message and hint when there is none.
    pub(super) fn full_path(&self, path: &str) -> Result<(&str, bool), (String, String)> {
        find_path(&self.paths, path).map(|entry| (entry.text.as_str(), entry.integer))
    }

    /// Names of the sections below a top-level key, in file order.
    pub(super) fn sections(&self, key: &str) -> Vec<String> {
        let root = self.root();
        let section = root.get_ref().get(key).and_then(|v| as_table(v.get_ref()));
        let names = section.into_iter().flat_map(|table| table.keys());
        names.map(|name| name.get_ref().to_string()).collect()
    }

    /// The file without comments and blanks, values as written, as far as `keep` wants it: it is asked
    /// for top-level keys (`None`) and for the sections below them.
    pub(super) fn compact(&self, keep: impl Fn(&str, Option<&str>) -> bool) -> String {
        let deserializer = toml::de::Deserializer::from(self.root());
        serde_json::Map::deserialize(deserializer)
            .map(|mut root| {
                root.retain(|key, value| {
                    if let serde_json::Value::Object(table) = value {
                        table.retain(|name, _| keep(key, Some(name)));
                    }
                    keep(key, None)
                });
                serde_json::Value::Object(root).to_string()
            })
            // Only values that JSON has no word for get here; no panel has one.
            .unwrap_or_else(|_| self.source.clone())
    }

    fn root(&self) -> Spanned<DeTable<'_>> {
        let mut root = DeTable::parse(&self.source).expect("this text has been parsed before");
        for addition in &self.additions {
            addition
                .apply(root.get_mut())
                .expect("this has found its place before");
        }
        root
    }

    fn apply<'t>(
        &'t self,
        root: &mut DeTable<'t>,
        index: usize,
        given: &'t Override,
    ) -> Result<(), ScenarioError> {
        let entry = find_path(&self.paths, &given.path).map_err(|(message, hint)| {
            let text = given.text();
            ScenarioError::in_override(&self.file, &text, 0..given.path.len(), message, hint)
        })?;
        let mut value = typed_value(entry, &given.value).map_err(|message| {
            self.at_override(given, message, "a list is written as [\"1 mm\", \"2 mm\"]")
        })?;
        if let Some(part) = &entry.part {
            let current = find(root, &entry.steps).and_then(|v| text_of(v.get_ref()));
            let part_text = text_of(&value).unwrap_or_else(|| given.value.clone());
            let whole = with_part(current.as_deref(), part, &part_text);
            value = DeValue::String(Cow::Owned(whole));
        }
        set(root, &entry.steps, marked(value, OVERRIDE_SPAN + index))
            .map_err(|message| self.at_override(given, message, "correct the file first"))
    }

    fn at_override(
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
        match index.and_then(|index| overrides.get(index)) {
            Some(given) => self.at_override(given, message, hint),
            None => ScenarioError::in_file(&self.file, &self.source, span, message, hint),
        }
    }

    fn place(
        &self,
        table: &DeTable<'_>,
        overrides: &[Override],
        finding: Finding,
    ) -> ScenarioError {
        let span = span_of(table, &finding.steps, finding.at_key);
        self.at_span(overrides, span, finding.message, finding.hint)
    }

    /// A serde error: its message is ours in two lines, or serde's own about a wrong type.
    fn misread(
        &self,
        table: &DeTable<'_>,
        overrides: &[Override],
        error: &toml::de::Error,
    ) -> ScenarioError {
        let span = error.span().unwrap_or(0..0);
        let (message, hint) = in_two_lines(error);
        let is_here = |entry: &&PathEntry| {
            entry.part.is_none()
                && find(table, &entry.steps).is_some_and(|value| value.span() == span)
        };
        let message = match self.paths.iter().find(is_here) {
            Some(entry) => format!("{}: {message}", entry.text),
            None => message,
        };
        self.at_span(overrides, span, message, hint)
    }
}

/// The value of an override: a whole number where one is wanted, a list or a quoted string when it
/// looks like one, otherwise the text itself.
fn typed_value<'t>(entry: &PathEntry, text: &'t str) -> Result<DeValue<'t>, String> {
    let plain = || DeValue::String(Cow::Borrowed(text));
    let is_toml = text.starts_with(['[', '"', '\'']) || (entry.integer && !text.is_empty());
    if !is_toml {
        return Ok(plain());
    }
    match DeValue::parse(text) {
        Ok(value) => Ok(value.into_inner()),
        Err(_) if entry.integer => Ok(plain()),
        Err(error) => Err(format!(
            "this is not a TOML value: {}",
            one_line(error.message())
        )),
    }
}

/// A value all of whose spans point at one override.
fn marked(value: DeValue<'_>, mark: usize) -> Spanned<DeValue<'_>> {
    let value = match value {
        DeValue::Array(mut list) => {
            for item in list.iter_mut() {
                let inner = std::mem::replace(item.get_mut(), DeValue::Boolean(false));
                *item = marked(inner, mark);
            }
            DeValue::Array(list)
        }
        other => other,
    };
    Spanned::new(mark..mark, value)
}

fn step_into<'v, 'i>(
    value: &'v Spanned<DeValue<'i>>,
    step: &Step,
) -> Option<&'v Spanned<DeValue<'i>>> {
    match (value.get_ref(), step) {
        (DeValue::Table(table), Step::Key(key)) => table.get(key.as_str()),
        (DeValue::Array(list), Step::Index(index)) => list.get(*index),
        _ => None,
    }
}

fn find<'v, 'i>(root: &'v DeTable<'i>, steps: &[Step]) -> Option<&'v Spanned<DeValue<'i>>> {
    let (first, rest) = steps.split_first()?;
    let Step::Key(key) = first else { return None };
    rest.iter()
        .try_fold(root.get(key.as_str())?, |value, step| {
            step_into(value, step)
        })
}

/// Sets the value, creating the sections on the way.
fn set<'t>(
    root: &mut DeTable<'t>,
    steps: &[Step],
    value: Spanned<DeValue<'t>>,
) -> Result<(), String> {
    let blocked = || "a value stands where this path needs a section".to_owned();
    let (first, rest) = steps.split_first().ok_or_else(blocked)?;
    let Step::Key(key) = first else {
        return Err(blocked());
    };
    let span = value.span();
    if !root.contains_key(key.as_str()) {
        let section = DeValue::Table(DeTable::new());
        root.insert(
            Spanned::new(span.clone(), Cow::Owned(key.clone())),
            Spanned::new(span, section),
        );
    }
    let mut here = root.get_mut(key.as_str()).ok_or_else(blocked)?;
    for step in rest {
        let span = value.span();
        here = match (here.get_mut(), step) {
            (DeValue::Table(table), Step::Key(key)) => {
                if !table.contains_key(key.as_str()) {
                    table.insert(
                        Spanned::new(span.clone(), Cow::Owned(key.clone())),
                        Spanned::new(span, DeValue::Table(DeTable::new())),
                    );
                }
                table.get_mut(key.as_str()).ok_or_else(blocked)?
            }
            (DeValue::Array(list), Step::Index(index)) => {
                list.get_mut(*index).ok_or_else(blocked)?
            }
            _ => return Err(blocked()),
        };
    }
    *here = value;
    Ok(())
}

fn text_of(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(text) => Some(text.to_string()),
        DeValue::Integer(number) => Some(number.to_string()),
        DeValue::Float(number) => Some(number.to_string()),
        _ => None,
    }
}

/// Span of the value, or of its key; when it is not written, of the nearest section around it.
pub(super) fn span_of(root: &DeTable<'_>, steps: &[Step], at_key: bool) -> Range<usize> {
    let mut span = 0..0;
    let mut key_span = 0..0;
    let mut table = Some(root);
    let mut list: Option<&toml::de::DeArray<'_>> = None;
    for step in steps {
        let value = match step {
            Step::Key(key) => table
                .and_then(|t| t.get_key_value(key.as_str()))
                .map(|(k, v)| {
                    key_span = k.span();
                    v
                }),
            Step::Index(index) => list.and_then(|l| l.get(*index)),
        };
        let Some(value) = value else { return span };
        // Sections are pointed at by their header's last word, values by themselves.
        span = match (value.get_ref(), step) {
            (DeValue::Table(_), Step::Key(_)) => key_span.clone(),
            _ => value.span(),
        };
        table = as_table(value.get_ref());
        list = match value.get_ref() {
            DeValue::Array(list) => Some(list),
            _ => None,
        };
    }
    if at_key { key_span } else { span }
}

fn as_table<'v, 'i>(value: &'v DeValue<'i>) -> Option<&'v DeTable<'i>> {
    match value {
        DeValue::Table(table) => Some(table),
        _ => None,
    }
}
