//! Sections that are added to a panel file from outside, to be filled in by overrides.

use std::borrow::Cow;
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
            Self::Guard(name) => guard(root, name),
            Self::Layer { name, behind } => layer(root, name, behind),
        }
    }
}

fn key(text: &str) -> Spanned<Cow<'static, str>> {
    Spanned::new(0..0, Cow::Owned(text.to_owned()))
}

fn guard(root: &mut DeTable<'_>, name: &str) -> Result<(), String> {
    if !root.contains_key("guard") {
        root.insert(
            key("guard"),
            Spanned::new(0..0, DeValue::Table(DeTable::new())),
        );
    }
    match root.get_mut("guard").map(Spanned::get_mut) {
        Some(DeValue::Table(guards)) => {
            if !guards.contains_key(name) {
                let empty = DeValue::Table(DeTable::new());
                guards.insert(key(name), Spanned::new(0..0, empty));
            }
            Ok(())
        }
        _ => Err("\"guard\" is not a section of this file".to_owned()),
    }
}

fn layer(root: &mut DeTable<'_>, name: &str, behind: &str) -> Result<(), String> {
    let Some(DeValue::Array(layers)) = root.get_mut("layer").map(Spanned::get_mut) else {
        return Err("there are no layers in this file".to_owned());
    };
    let name_of = |layer: &Spanned<DeValue<'_>>| match layer.get_ref() {
        DeValue::Table(table) => {
            let name = table.get("name").and_then(|name| name.get_ref().as_str());
            name.map(str::to_owned)
        }
        _ => None,
    };
    if layers.iter().any(|l| name_of(l).as_deref() == Some(name)) {
        return Err(format!("there is already a layer \"{name}\""));
    }
    let Some(at) = layers
        .iter()
        .position(|l| name_of(l).as_deref() == Some(behind))
    else {
        return Err(format!("there is no layer \"{behind}\""));
    };
    let mut longer = DeArray::new();
    for (index, given) in layers.iter().enumerate() {
        longer.push(given.clone());
        if index == at {
            let mut table = DeTable::new();
            let value = DeValue::String(Cow::Owned(name.to_owned()));
            table.insert(key("name"), Spanned::new(given.span(), value));
            longer.push(Spanned::new(given.span(), DeValue::Table(table)));
        }
    }
    *layers = longer;
    Ok(())
}
