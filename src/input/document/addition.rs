//! Sections that are added to a panel file from outside, to be filled in by overrides.

use std::borrow::Cow;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

/// A section to add to a panel file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Addition {
    /// `[guard.NAME]`, unless there is one of that name.
    Guard(String),
    /// A `[[layer]]` of that name behind another one.
    Layer {
        /// Its own name.
        name: String,
        /// Name of the layer that comes before it, seen from the touched face.
        behind: String,
    },
}

impl Addition {
    /// Adds the section, empty but for its name.
    ///
    /// # Errors
    /// The reason why there is no place for it.
    pub(super) fn apply(&self, root: &mut DeTable<'_>) -> Result<(), String> {
        match self {
            Self::Guard(name) => {
                let guards = section_table(root, "guard", 0..0)?;
                if !guards.contains_key(name.as_str()) {
                    let empty = DeValue::Table(DeTable::new());
                    guards.insert(key(name, 0..0), Spanned::new(0..0, empty));
                }
                Ok(())
            }
            Self::Layer { name, behind } => insert_layer(root, name, behind, None),
        }
    }
}

fn key(text: &str, span: Range<usize>) -> Spanned<Cow<'static, str>> {
    Spanned::new(span, Cow::Owned(text.to_owned()))
}

/// The table of the sections `[SECTION.NAME]`, created where the file has none.
pub(super) fn section_table<'r, 'i>(
    root: &'r mut DeTable<'i>,
    section: &str,
    span: Range<usize>,
) -> Result<&'r mut DeTable<'i>, String> {
    if !root.contains_key(section) {
        let empty = DeValue::Table(DeTable::new());
        root.insert(key(section, span.clone()), Spanned::new(span, empty));
    }
    match root.get_mut(section).map(Spanned::get_mut) {
        Some(DeValue::Table(table)) => Ok(table),
        _ => Err(format!("\"{section}\" is not a section of this file")),
    }
}

fn name_of<'v>(layer: &'v Spanned<DeValue<'_>>) -> Option<&'v str> {
    match layer.get_ref() {
        DeValue::Table(table) => table.get("name")?.get_ref().as_str(),
        _ => None,
    }
}

/// Names of the layers from the touched face to the back.
pub(super) fn layer_names(root: &DeTable<'_>) -> Vec<String> {
    match root.get("layer").map(Spanned::get_ref) {
        Some(DeValue::Array(layers)) => {
            let names = layers.iter().filter_map(name_of);
            names.map(str::to_owned).collect()
        }
        _ => Vec::new(),
    }
}

/// Inserts a layer with nothing but its name; its spans are those of the layer before it unless given.
pub(super) fn insert_layer(
    root: &mut DeTable<'_>,
    name: &str,
    behind: &str,
    span: Option<Range<usize>>,
) -> Result<(), String> {
    let Some(DeValue::Array(layers)) = root.get_mut("layer").map(Spanned::get_mut) else {
        return Err("there are no layers in this file".to_owned());
    };
    if layers.iter().any(|layer| name_of(layer) == Some(name)) {
        return Err(format!("there is already a layer \"{name}\""));
    }
    let is_before = |layer: &Spanned<DeValue<'_>>| name_of(layer) == Some(behind);
    let Some(at) = layers.iter().position(is_before) else {
        return Err(format!("there is no layer \"{behind}\""));
    };
    let mut longer = DeArray::new();
    for (index, given) in layers.iter().enumerate() {
        longer.push(given.clone());
        if index == at {
            let span = span.clone().unwrap_or(given.span());
            let mut table = DeTable::new();
            let value = DeValue::String(Cow::Owned(name.to_owned()));
            table.insert(key("name", span.clone()), Spanned::new(span.clone(), value));
            longer.push(Spanned::new(span, DeValue::Table(table)));
        }
    }
    *layers = longer;
    Ok(())
}
