//! Which keys a panel file may have, taken from the schema of the typed form.

use crate::input::names::{NAME_RULE, check_name, nearest, shortened};
use crate::input::place::{Finding, Step, with_step};
use crate::input::quantity::PARTS_KEY;
use crate::input::sections::study::STUDY;
use crate::input::sections::tolerance::TOLERANCE;
use crate::input::sections::{GUARD, GUARD_STATES};
use serde_json::Value as Json;
use std::sync::LazyLock;
use toml::de::{DeTable, DeValue};

/// What may stand at a place of a file.
#[derive(Debug)]
pub(crate) enum KeyShape {
    /// A section with fixed keys.
    Section(Vec<Key>),
    /// Sections by free names: `[pads.NAME]`.
    Named(Box<KeyShape>),
    /// A list of sections that each carry a `name`: `[[layer]]`.
    List(Box<KeyShape>),
    /// A value.
    Leaf(Leaf),
}

#[derive(Debug)]
pub(crate) struct Key {
    pub(crate) name: String,
    required: bool,
    pub(crate) shape: KeyShape,
}

#[derive(Debug)]
pub(crate) struct Leaf {
    pub(crate) parts: Vec<String>,
    /// Parts of the items, for values that may be lists of quantities.
    pub(crate) items: Option<Vec<String>>,
    pub(crate) integer: bool,
}

static FILE_SHAPE: LazyLock<KeyShape> =
    LazyLock::new(|| KeyShape::of_file(&crate::input::schema()));

impl KeyShape {
    /// Of a whole file, from its schema.
    pub fn of_file(schema: &Json) -> Self {
        shape_of(schema, schema)
    }

    /// Unknown keys, missing keys, values where sections belong, names that cannot be part of a path.
    pub fn check(&self, root: &DeTable<'_>) -> Result<(), Finding> {
        match self {
            Self::Section(keys) => check_section(keys, keys, root, &[]),
            _ => unreachable!("a file itself is a section"),
        }
    }
}

fn shape_of(schema: &Json, root: &Json) -> KeyShape {
    let schema = resolve(schema, root);
    if let Some(properties) = schema["properties"].as_object() {
        let required = |name: &String| {
            schema["required"]
                .as_array()
                .is_some_and(|all| all.iter().any(|r| r == name))
        };
        return KeyShape::Section(
            properties
                .iter()
                .map(|(name, inner)| Key {
                    name: name.clone(),
                    required: required(name),
                    shape: shape_of(inner, root),
                })
                .collect(),
        );
    }
    if schema["additionalProperties"].is_object() {
        return KeyShape::Named(Box::new(shape_of(&schema["additionalProperties"], root)));
    }
    if schema["items"].is_object()
        && let section @ KeyShape::Section(_) = shape_of(&schema["items"], root)
    {
        return KeyShape::List(Box::new(section));
    }
    KeyShape::Leaf(Leaf {
        parts: parts_of(schema),
        items: items_of(schema, root),
        integer: schema["type"] == "integer",
    })
}

fn resolve<'s>(schema: &'s Json, root: &'s Json) -> &'s Json {
    schema["$ref"]
        .as_str()
        .and_then(|reference| root.pointer(reference.trim_start_matches('#')))
        .unwrap_or(schema)
}

fn parts_of(schema: &Json) -> Vec<String> {
    let parts = schema[PARTS_KEY].as_array();
    parts
        .into_iter()
        .flatten()
        .filter_map(|part| part.as_str().map(str::to_owned))
        .collect()
}

/// Parts of the items of a list of quantities, `None` for anything else.
fn items_of(schema: &Json, root: &Json) -> Option<Vec<String>> {
    let forms = schema["anyOf"].as_array().into_iter().flatten();
    let item = std::iter::once(schema)
        .chain(forms)
        .find_map(|form| form.get("items"))?;
    let item = resolve(item, root);
    item.get("pattern").map(|_| parts_of(item))
}

/// The top-level keys of a panel file.
pub(crate) fn file_keys() -> &'static [Key] {
    match &*FILE_SHAPE {
        KeyShape::Section(keys) => keys,
        _ => unreachable!("a file itself is a section"),
    }
}

/// Keys of the sections `[SECTION.NAME]` of a panel file, each with whether it is needed; none when
/// there are no such sections, or when they are studies.
pub(crate) fn keys_of_named(section: &str) -> Option<Vec<(&'static str, bool)>> {
    let key = file_keys().iter().find(|key| key.name == section)?;
    match &key.shape {
        KeyShape::Named(inner) if section != STUDY && section != TOLERANCE => match &**inner {
            KeyShape::Section(keys) => {
                let each = keys.iter().map(|key| (key.name.as_str(), key.required));
                Some(each.collect())
            }
            _ => None,
        },
        _ => None,
    }
}

/// Whether the section around a value cannot be without it.
pub(crate) fn is_needed(steps: &[Step]) -> bool {
    let mut shape = &*FILE_SHAPE;
    let mut needed = false;
    for step in steps {
        shape = match (shape, step) {
            (KeyShape::Section(keys), Step::Key(name)) => {
                let Some(key) = keys.iter().find(|key| key.name == *name) else {
                    return false;
                };
                needed = key.required;
                &key.shape
            }
            (KeyShape::Named(inner) | KeyShape::List(inner), _) => inner,
            _ => return false,
        };
    }
    needed
}

/// Whether a top-level key is that of a section without a name: `[window]`.
pub(crate) fn is_plain_section(name: &str) -> bool {
    let mut keys = file_keys().iter();
    keys.any(|key| key.name == name && matches!(key.shape, KeyShape::Section(_)))
}

/// The sections of a panel file that have a name of their own: `guard` of `[guard.NAME]`.
pub(crate) fn named_sections() -> impl Iterator<Item = &'static str> {
    let names = file_keys().iter().map(|key| key.name.as_str());
    names.filter(|name| keys_of_named(name).is_some())
}

/// Whether a top-level key is that of sections, with or without names of their own.
pub(crate) fn named_or_plain(section: &str) -> bool {
    let mut keys = file_keys().iter();
    keys.any(|key| key.name == section && !matches!(key.shape, KeyShape::Leaf(_)))
}

/// Whether sections below a top-level key have names: `[pads.NAME]`, `[[layer]]`.
pub(crate) fn is_section_with_names(section: &str) -> bool {
    let mut keys = file_keys().iter().filter(|key| key.name == section);
    keys.any(|key| matches!(key.shape, KeyShape::Named(_) | KeyShape::List(_)))
}

/// The keys of a panel file.
pub(crate) fn check_keys(root: &DeTable<'_>) -> Result<(), Finding> {
    FILE_SHAPE.check(root)
}

/// `top`: the keys of the file itself.
fn check_shape(
    shape: &KeyShape,
    top: &[Key],
    value: &DeValue<'_>,
    steps: &[Step],
) -> Result<(), Finding> {
    match (shape, value) {
        (KeyShape::Leaf(_), _) => Ok(()),
        (KeyShape::Section(keys), DeValue::Table(table)) => check_section(keys, top, table, steps),
        (KeyShape::Named(inner), DeValue::Table(table)) => {
            for (name, value) in table.iter() {
                let steps = with_step(steps, name.get_ref().as_ref());
                if let Err(reason) = check_name(name.get_ref()) {
                    return Err(Finding::at_key(steps, reason, NAME_RULE));
                }
                check_shape(inner, top, value.get_ref(), &steps)?;
            }
            Ok(())
        }
        (KeyShape::List(inner), DeValue::Array(list)) => {
            for (index, value) in list.iter().enumerate() {
                check_shape(inner, top, value.get_ref(), &with_step(steps, index))?;
            }
            Ok(())
        }
        (KeyShape::Section(keys), _) if matches!(steps.last(), Some(Step::Index(_))) => {
            let keys = keys.iter().map(|key| key.name.as_str());
            Err(Finding::at(
                steps.to_vec(),
                format!("an entry of {} is a table, not a value", header(steps)),
                format!("write {{ ... }} with some of {}", listed_plain(keys)),
            ))
        }
        (expected, _) => {
            let name = match steps.last() {
                Some(Step::Key(name)) => name.as_str(),
                _ => "this",
            };
            let form = match expected {
                KeyShape::List(_) if steps.len() == 1 => {
                    format!("start each one with a line [[{name}]]")
                }
                KeyShape::List(_) => format!("write {name} = [{{ ... }}, {{ ... }}]"),
                KeyShape::Named(_) => format!("start each one with a line [{name}.NAME]"),
                _ => format!("write its keys under a line [{}]", header(steps)),
            };
            let kind = match expected {
                KeyShape::List(_) if steps.len() > 1 => "a list of tables",
                _ => "a section",
            };
            Err(Finding::at(
                steps.to_vec(),
                format!("\"{name}\" is {kind}, not a value"),
                form,
            ))
        }
    }
}

fn header(steps: &[Step]) -> String {
    let keys = steps.iter().filter_map(|step| match step {
        Step::Key(key) => Some(key.as_str()),
        Step::Index(_) => None,
    });
    keys.collect::<Vec<_>>().join(".")
}

fn section_name(steps: &[Step]) -> String {
    match steps {
        [] => "the top level".to_owned(),
        [Step::Key(list), Step::Index(_)] => format!("[[{list}]]"),
        _ => format!("[{}]", header(steps)),
    }
}

fn check_section(
    keys: &[Key],
    top: &[Key],
    table: &DeTable<'_>,
    steps: &[Step],
) -> Result<(), Finding> {
    let names = || keys.iter().map(|key| key.name.as_str());
    for (name, value) in table.iter() {
        let name = name.get_ref().as_ref();
        let inner_steps = with_step(steps, name);
        match keys.iter().find(|key| key.name == name) {
            Some(key) => check_shape(&key.shape, top, value.get_ref(), &inner_steps)?,
            None => {
                let section = section_name(steps);
                let hint = match (nearest(name, names()), is_top_level(top, name)) {
                    (Some(near), _) => format!("did you mean \"{near}\"?"),
                    (None, true) => {
                        format!(
                            "\"{name}\" belongs at the top of the file, before the first section"
                        )
                    }
                    (None, false) => format!("keys of {section}: {}", listed_plain(names())),
                };
                return Err(Finding::at_key(
                    inner_steps,
                    format!("{section} has no key \"{}\"", shortened(name)),
                    hint,
                ));
            }
        }
    }
    let missing = |key: &&Key| key.required && !table.contains_key(key.name.as_str());
    if let Some(key) = keys.iter().find(missing) {
        let (message, hint) = match &key.shape {
            KeyShape::List(_) if steps.is_empty() => (
                format!("there is no [[{}]]", key.name),
                format!("add at least one [[{}]]", key.name),
            ),
            KeyShape::Named(_) => (
                format!("there is no [{}.NAME]", key.name),
                format!("add at least one [{}.NAME]", key.name),
            ),
            _ => (
                format!("{} has no \"{}\"", section_name(steps), key.name),
                choice_of(steps, &key.name)
                    .map_or_else(|| format!("add a line {} = ...", key.name), str::to_owned),
            ),
        };
        return Err(Finding::at(steps.to_vec(), message, hint));
    }
    Ok(())
}

/// What the choices of a needed key mean, where its words alone do not tell.
fn choice_of(steps: &[Step], key: &str) -> Option<&'static str> {
    match (steps, key) {
        ([Step::Key(section), ..], "state") if section == GUARD => Some(GUARD_STATES),
        _ => None,
    }
}

fn is_top_level(top: &[Key], name: &str) -> bool {
    top.iter()
        .any(|key| key.name == name && matches!(key.shape, KeyShape::Leaf(_)))
}

fn listed_plain<'k>(names: impl Iterator<Item = &'k str>) -> String {
    names.collect::<Vec<_>>().join(", ")
}
