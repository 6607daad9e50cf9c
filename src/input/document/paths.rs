//! The dotted path of every value: `layer.overlay.thickness`, `pads.keys.gap.x`.

use super::keys::{Key, KeyShape, Leaf, file_keys};
use crate::input::names::shortened;
use crate::input::names::{listed, nearest};
use crate::input::place::{Step, with_step};
use crate::input::sections::study::STUDY;
use crate::input::sections::tolerance::TOLERANCE;
use toml::de::{DeTable, DeValue};

/// A value with a dotted path.
#[derive(Clone, Debug)]
pub(super) struct PathEntry {
    /// The dotted path.
    pub text: String,
    /// How to get there.
    pub steps: Vec<Step>,
    /// Part of the quantity found there.
    pub part: Option<String>,
    /// Whether the value is a whole number.
    pub integer: bool,
}

/// Paths of all values that are written or may be written in the sections of this file.
pub(super) fn paths_of(root: &DeTable<'_>) -> Vec<PathEntry> {
    let mut paths = Vec::new();
    section_paths(file_keys(), Some(root), &[], "", &mut paths);
    // Studies and tolerances are about the panel's values; their own are none of them.
    paths.retain(|entry| {
        !matches!(entry.steps.first(), Some(Step::Key(key)) if key == STUDY || key == TOLERANCE)
    });
    paths
}

fn joined(front: &str, name: &str) -> String {
    if front.is_empty() {
        name.to_owned()
    } else {
        format!("{front}.{name}")
    }
}

fn section_paths(
    keys: &[Key],
    table: Option<&DeTable<'_>>,
    steps: &[Step],
    front: &str,
    paths: &mut Vec<PathEntry>,
) {
    for key in keys {
        let value = table
            .and_then(|t| t.get(key.name.as_str()))
            .map(|v| v.get_ref());
        let inner_steps = with_step(steps, &key.name);
        let text = joined(front, &key.name);
        match (&key.shape, value) {
            (KeyShape::Section(inner), value) => {
                let inner_table = value.and_then(as_table);
                section_paths(inner, inner_table, &inner_steps, &text, paths);
            }
            (KeyShape::Named(inner), Some(DeValue::Table(named))) => {
                for (name, value) in named.iter() {
                    let name = name.get_ref().as_ref();
                    if let (KeyShape::Section(inner), Some(table)) =
                        (&**inner, as_table(value.get_ref()))
                    {
                        let steps = with_step(&inner_steps, name);
                        section_paths(inner, Some(table), &steps, &joined(&text, name), paths);
                    }
                }
            }
            (KeyShape::List(inner), Some(DeValue::Array(list))) => {
                for (index, value) in list.iter().enumerate() {
                    let table = as_table(value.get_ref());
                    let name = table
                        .and_then(|t| t.get("name"))
                        .and_then(|n| n.get_ref().as_str());
                    if let (KeyShape::Section(inner), Some(name)) = (&**inner, name) {
                        let inner: Vec<&Key> = inner.iter().filter(|k| k.name != "name").collect();
                        let steps = with_step(&inner_steps, index);
                        for key in inner {
                            if let KeyShape::Leaf(leaf) = &key.shape {
                                let steps = with_step(&steps, &key.name);
                                let text = joined(&joined(&text, name), &key.name);
                                leaf_paths(leaf, None, table, &steps, &text, paths);
                            }
                        }
                    }
                }
            }
            (KeyShape::Leaf(leaf), value) => {
                leaf_paths(leaf, value, table, &inner_steps, &text, paths);
            }
            _ => {}
        }
    }
}

fn as_table<'v, 'i>(value: &'v DeValue<'i>) -> Option<&'v DeTable<'i>> {
    match value {
        DeValue::Table(table) => Some(table),
        _ => None,
    }
}

fn leaf_paths(
    leaf: &Leaf,
    value: Option<&DeValue<'_>>,
    section: Option<&DeTable<'_>>,
    steps: &[Step],
    text: &str,
    paths: &mut Vec<PathEntry>,
) {
    let mut add = |text: String, steps: &[Step], part: Option<&String>| {
        paths.push(PathEntry {
            text,
            steps: steps.to_vec(),
            part: part.cloned(),
            integer: leaf.integer,
        });
    };
    add(text.to_owned(), steps, None);
    match (value, &leaf.items) {
        (Some(DeValue::Array(list)), Some(parts)) => {
            let names = section.and_then(|s| s.get("names")).map(|n| n.get_ref());
            let key = text.rsplit('.').next().unwrap_or(text);
            for index in 0..list.len() {
                // Trace lengths go by the names of the pads; corners have no names and count from 1.
                let name = match names {
                    Some(DeValue::Array(names)) if key == "trace_length" => {
                        names.get(index).and_then(|n| n.get_ref().as_str())
                    }
                    _ => None,
                };
                let name = name.map_or_else(|| (index + 1).to_string(), str::to_owned);
                let steps = with_step(steps, index);
                let text = joined(text, &name);
                add(text.clone(), &steps, None);
                for part in parts {
                    add(joined(&text, part), &steps, Some(part));
                }
            }
        }
        _ => {
            for part in &leaf.parts {
                add(joined(text, part), steps, Some(part));
            }
        }
    }
}

/// Why a path means no value; put into words only where somebody reads them.
pub(super) struct NoPath<'p, 'w> {
    wanted: &'w str,
    paths: &'p [PathEntry],
    /// Paths it could be short for.
    ambiguous: Vec<&'p str>,
}

impl NoPath<'_, '_> {
    /// Message and hint.
    pub fn told(self) -> (String, String) {
        let wanted = shortened(self.wanted);
        if !self.ambiguous.is_empty() {
            let hint = format!("write {}", listed(self.ambiguous));
            return (format!("\"{wanted}\" is ambiguous"), hint);
        }
        let full = self.paths.iter().map(|entry| entry.text.as_str());
        let short = full
            .clone()
            .filter_map(|text| text.split_once('.').map(|(_, rest)| rest));
        let hint = match nearest(self.wanted, full.chain(short)) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => "a path goes by names, such as layer.overlay.thickness".to_owned(),
        };
        (format!("there is no value at \"{wanted}\""), hint)
    }
}

/// The entry a path means: written in full, or without its section when that is unambiguous.
///
/// # Errors
/// An unknown or ambiguous path.
pub(super) fn find_path<'p, 'w>(
    paths: &'p [PathEntry],
    wanted: &'w str,
) -> Result<&'p PathEntry, NoPath<'p, 'w>> {
    if let Some(entry) = paths.iter().find(|entry| entry.text == wanted) {
        return Ok(entry);
    }
    let without_section = |entry: &&PathEntry| {
        entry
            .text
            .split_once('.')
            .is_some_and(|(_, rest)| rest == wanted)
    };
    let short: Vec<&PathEntry> = paths.iter().filter(without_section).collect();
    match short[..] {
        [entry] => Ok(entry),
        _ => Err(NoPath {
            wanted,
            paths,
            ambiguous: short.iter().map(|entry| entry.text.as_str()).collect(),
        }),
    }
}
