//! A parsed panel file: read once, then turned into a panel as often as there are sets of overrides.

mod addition;
mod candidates;
mod defaults;
mod error;
pub mod keys;
mod named;
mod numbers;
mod overrides;
mod paths;
mod placing;
mod question;
mod room;
mod scaled;
mod study;
mod toml_text;
mod tree;
mod typed_file;

pub use addition::Addition;
pub use candidates::Candidate;
pub use error::{Place, ScenarioError};
pub use numbers::Movable;
pub use overrides::Override;
pub use scaled::Scalable;
pub use toml_text::MAX_BYTES;
pub(crate) use typed_file::TypedFile;

use crate::input::place::Finding;
use crate::input::quantity::{part_of, with_part};
use crate::input::sections::PanelFile;
use crate::input::sections::trust;
use crate::panel::Panel;
use defaults::{NONE, take_along, take_back};
use keys::check_keys;
use named::{Changed, NewSection, change, lacking};
use padfield_engine::hidden::{HIDDEN_REMEDY, Hidden, hidden_in};
use paths::{NoPath, PathEntry, find_path, paths_of};
use serde::Deserialize;
use std::borrow::Cow;
use std::sync::OnceLock;
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use toml_text::{parsed, text_of_bytes};
use tree::{as_table, find, marked, set, text_of, typed_value};

/// Spans that start here or later stand for overrides, in the order they were given.
const OVERRIDE_SPAN: usize = usize::MAX / 2;

/// A panel file that is valid TOML, with its dotted paths.
///
/// The table is parsed again from the text for every panel, a few hundredths of a millisecond: that
/// keeps the document free of borrows.
#[derive(Clone, Debug)]
pub struct Document {
    file: String,
    source: String,
    changes: Vec<Change>,
    paths: Vec<PathEntry>,
    /// What is written at each of the paths, once somebody has asked for one.
    texts: OnceLock<Vec<Option<String>>>,
}

/// What makes a document differ from its text.
#[derive(Clone, Debug)]
enum Change {
    Added(Addition),
    Set(Override),
}

/// The tree of a file while values are set in it.
struct Tree<'t, 'p> {
    root: Spanned<DeTable<'t>>,
    /// Its paths: sections come and go.
    paths: Cow<'p, [PathEntry]>,
    /// Sections that came, each with the number of the override that created it.
    new: Vec<(NewSection, usize)>,
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
            changes: Vec::new(),
            paths,
            texts: OnceLock::new(),
        })
    }

    /// The same panel file with sections added that [`Override`]s then fill in: a ground trace that is
    /// there already stays as it is, a layer is inserted behind another one.
    ///
    /// ```
    /// use padfield::input::{Addition, Document, Override};
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
            longer.changes.push(Change::Added(addition.clone()));
        }
        longer.paths = paths_of(root.get_ref());
        longer.texts = OnceLock::new();
        drop(root);
        Ok(longer)
    }

    /// The same panel file with values set for good: its paths, values and studies are those of the
    /// changed file. What the values mean together is not checked.
    ///
    /// ```
    /// use padfield::input::{Document, Override};
    /// # let text = "[[layer]]\nname = \"overlay\"\nmaterial = \"acrylic\"\nthickness = \"3 mm\"\n\
    /// # [[layer]]\nname = \"front\"\ncopper = \"35 um\"\n\
    /// # [pads.key]\nlayer = \"front\"\nshape = \"disc\"\ndiameter = \"12 mm\"\n";
    /// let document = Document::from_text("one.toml", text)?;
    /// let air = Override::several("layer.air.behind=overlay; air.permittivity=1; air.thickness=0.1 mm")?;
    /// let lifted = document.overridden(&air)?;
    /// assert_eq!(lifted.panel(&[])?.layers[1].name, "air");
    /// let flush = lifted.panel(&[Override::parse("layer.air=none")?])?;
    /// assert_eq!(flush.layers[1].name, "front");
    /// # Ok::<(), padfield::input::ScenarioError>(())
    /// ```
    ///
    /// # Errors
    /// An override whose path or value cannot be read.
    pub fn overridden(&self, overrides: &[Override]) -> Result<Self, ScenarioError> {
        let mut changed = self.clone();
        changed.paths = self.tree(overrides)?.paths.into_owned();
        let set = overrides.iter().cloned().map(Change::Set);
        changed.changes.extend(set);
        changed.texts = OnceLock::new();
        Ok(changed)
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
        let entry = find_path(&self.paths, path).map_err(|none| {
            let (message, hint) = none.told();
            ScenarioError::in_override(&self.file, path, 0..path.len(), message, hint)
        })?;
        Ok(self.text_of_entry(entry))
    }

    /// The same; nothing for an unknown or ambiguous path.
    pub(super) fn known_value_at(&self, path: &str) -> Option<String> {
        self.text_of_entry(find_path(&self.paths, path).ok()?)
    }

    fn text_of_entry(&self, entry: &PathEntry) -> Option<String> {
        let texts = self.texts.get_or_init(|| {
            let root = self.root();
            let written = |entry: &PathEntry| {
                let value = find(root.get_ref(), &entry.steps)?;
                let text = text_of(value.get_ref())?;
                Some(match &entry.part {
                    Some(part) => part_of(&text, part),
                    None => text,
                })
            };
            self.paths.iter().map(written).collect()
        });
        let own = |other: &PathEntry| std::ptr::eq(other, entry);
        texts[self.paths.iter().position(own)?].clone()
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
                Some(count) => {
                    let hint = self.or_without(&overrides[count], error.hint());
                    self.at_override(&overrides[count], error.message(), hint)
                }
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
        let Tree { root, paths, new } = self.tree(overrides)?;
        let table = root.get_ref();
        let lacks =
            |(section, number): &(NewSection, usize)| Some((lacking(table, section)?, *number));
        if let Some(((message, hint), number)) = new.iter().find_map(lacks) {
            return Err(self.at_path(&overrides[number], message, hint));
        }
        check_keys(table).map_err(|finding| self.place(table, overrides, finding))?;
        let deserializer = toml::de::Deserializer::from(root.clone());
        let file = PanelFile::deserialize(deserializer)
            .map_err(|error| self.misread(table, &paths, overrides, &error))?;
        Ok((file, root))
    }

    /// The tree with values set.
    fn tree<'t>(&'t self, overrides: &'t [Override]) -> Result<Tree<'t, 't>, ScenarioError> {
        let mut tree = Tree {
            root: self.root(),
            paths: Cow::Borrowed(&self.paths),
            new: Vec::new(),
        };
        let first = self.set().count();
        for (number, given) in overrides.iter().enumerate() {
            let mark = OVERRIDE_SPAN + first + number;
            if let Some(section) = self.apply(&mut tree, mark, given)? {
                tree.new.push((section, number));
            }
        }
        Ok(tree)
    }

    /// Overrides that have been set for good.
    fn set(&self) -> impl Iterator<Item = &Override> {
        self.changes.iter().filter_map(|change| match change {
            Change::Set(given) => Some(given),
            Change::Added(_) => None,
        })
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
        let entry = find_path(&self.paths, path).map_err(NoPath::told)?;
        Ok((entry.text.as_str(), entry.integer))
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
        let root = DeTable::parse(&self.source).expect("this text has been parsed before");
        if self.changes.is_empty() {
            return root;
        }
        let mut tree = Tree {
            paths: Cow::Owned(paths_of(root.get_ref())),
            root,
            new: Vec::new(),
        };
        let mut mark = OVERRIDE_SPAN;
        for change in &self.changes {
            match change {
                Change::Added(addition) => {
                    let root = tree.root.get_mut();
                    addition
                        .apply(root)
                        .expect("this has found its place before");
                    tree.paths = Cow::Owned(paths_of(root));
                }
                Change::Set(given) => {
                    self.apply(&mut tree, mark, given)
                        .expect("this has been set before");
                    mark += 1;
                }
            }
        }
        tree.root
    }

    /// Sets one value; gives the section that was created for it.
    fn apply<'t>(
        &'t self,
        tree: &mut Tree<'t, '_>,
        mark: usize,
        given: &'t Override,
    ) -> Result<Option<NewSection>, ScenarioError> {
        if let Some((at, hidden)) = Hidden::first_in(&given.text()) {
            let span = at..at + hidden.character.len_utf8();
            let message = hidden.to_string();
            let text = given.text();
            return Err(ScenarioError::in_override(
                &self.file,
                &text,
                span,
                message,
                HIDDEN_REMEDY,
            ));
        }
        let root = tree.root.get_mut();
        let refused = |(message, hint)| self.at_path(given, message, hint);
        let changed = change(root, &tree.paths, given, mark).map_err(refused)?;
        if !matches!(changed, Changed::Nothing) {
            tree.paths = Cow::Owned(paths_of(root));
        }
        let new = match changed {
            Changed::Nothing => None,
            Changed::Whole => return Ok(None),
            Changed::Created(section) => Some(section),
        };
        let entry = find_path(&tree.paths, &given.path).map_err(|none| refused(none.told()))?;
        if given.value == NONE {
            take_back(root, entry)
                .map_err(|(message, hint)| self.at_override(given, message, hint))?;
            take_along(root, entry);
            return Ok(new);
        }
        let mut value = typed_value(entry, &given.value).map_err(|message| {
            self.at_override(given, message, "a list is written as [\"1 mm\", \"2 mm\"]")
        })?;
        if let Some(hidden) = hidden_in(&value) {
            return Err(self.at_override(given, hidden.to_string(), HIDDEN_REMEDY));
        }
        if let Some(part) = &entry.part {
            let current = find(root, &entry.steps).and_then(|v| text_of(v.get_ref()));
            let part_text = text_of(&value).unwrap_or_else(|| given.value.clone());
            let whole = with_part(current.as_deref(), part, &part_text);
            value = DeValue::String(Cow::Owned(whole));
        }
        set(root, &entry.steps, marked(value, mark))
            .map_err(|message| self.at_override(given, message, "correct the file first"))?;
        take_along(root, entry);
        Ok(new)
    }
}
