//! Sections with a name of their own that overrides create or take away: `guard.cross.width=2 mm` in a
//! file without `[guard.cross]`, `guard.cross=none`, `layer.air.behind=overlay`.

use super::addition::{insert_layer, layer_names, section_table};
use super::defaults::NONE;
use super::keys::{is_plain_section, keys_of_named, named_sections};
use super::overrides::Override;
use super::paths::{PathEntry, find_path};
use super::tree::as_table;
use crate::input::names::{NAME_RULE, check_name, shortened};
use crate::input::names::{listed, nearest};
use crate::input::sections::{GUARD, GUARD_STATES};
use std::borrow::Cow;
use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

/// The list of layers.
const LAYER: &str = "layer";
/// What a layer that is added says instead of a place in the list.
const BEHIND: &str = "behind";

/// Message and hint.
type Refusal = (String, String);

/// What an override has done to the sections of a file.
pub(super) enum Changed {
    /// Nothing: its path is that of a value, or of nothing known.
    Nothing,
    /// A section is there or gone; there is no value left to set.
    Whole,
    /// A section is there, its value is still to be set.
    Created(NewSection),
}

/// `[SECTION.NAME]` that the file does not have.
pub(super) struct NewSection {
    section: String,
    name: String,
}

/// Creates or takes away the section that an override is about, where its path is not yet that of a
/// value. Spans of what is created are `mark..mark`.
pub(super) fn change(
    root: &mut DeTable<'_>,
    paths: &[PathEntry],
    given: &Override,
    mark: usize,
) -> Result<Changed, Refusal> {
    let path = given.path.as_str();
    if find_path(paths, path).is_ok() {
        return Ok(Changed::Nothing);
    }
    let is_none = given.value == NONE;
    match path.split('.').collect::<Vec<_>>()[..] {
        [LAYER, name] if is_none => take_layer(root, name).map(|()| Changed::Whole),
        [section, name] if is_none && keys_of_named(section).is_some() => {
            take_section(root, section, name).map(|()| Changed::Whole)
        }
        [name] if is_none && is_plain_section(name) => {
            root.remove(name).map(|_| Changed::Whole).ok_or_else(|| {
                (
                    format!("there is no [{name}] to take away"),
                    "leave it out: its defaults count".to_owned(),
                )
            })
        }
        [name] if is_none => match sections_called(root, name).as_slice() {
            [] => Ok(Changed::Nothing),
            all => Err((
                format!("\"{}\" is not the whole path of a section", shortened(name)),
                format!("write {}", listed(all.iter().map(String::as_str))),
            )),
        },
        [LAYER, name, BEHIND] => add_layer(root, name, &given.value, mark).map(|()| Changed::Whole),
        [LAYER, name, _, ..] => unknown_layer(root, path, name).map(|()| Changed::Nothing),
        [section, name, _, ..] if is_none && is_absent(root, section, name) => {
            take_section(root, section, name).map(|()| Changed::Nothing)
        }
        [section, name, key, ..] => match keys_of_named(section) {
            Some(keys) => create(root, &keys, [section, name, key], path, mark),
            None => Ok(Changed::Nothing),
        },
        _ => Ok(Changed::Nothing),
    }
}

/// What a created section still lacks once all overrides are set.
pub(super) fn lacking(root: &DeTable<'_>, new: &NewSection) -> Option<Refusal> {
    let NewSection { section, name } = new;
    // It may have been taken away again.
    let table = as_table(
        as_table(root.get(section.as_str())?.get_ref())?
            .get(name.as_str())?
            .get_ref(),
    )?;
    let keys = keys_of_named(section)?;
    let is_missing = |(key, needed): &&(&str, bool)| *needed && !table.contains_key(*key);
    let missing: Vec<&str> = keys
        .iter()
        .filter(is_missing)
        .map(|(key, _)| *key)
        .collect();
    if missing.is_empty() {
        return None;
    }
    let paths: Vec<String> = missing
        .iter()
        .map(|key| format!("{section}.{name}.{key}"))
        .collect();
    let others: Vec<String> = names(root, section)
        .into_iter()
        .filter(|other| other != name)
        .map(|other| format!("[{section}.{other}]"))
        .collect();
    let mut hint = format!("give {} as well", paths.join(", "));
    if section == GUARD && missing.contains(&"state") {
        hint += &format!("; {GUARD_STATES}");
    }
    if !others.is_empty() {
        hint += &format!("; this file has {}", others.join(", "));
    }
    Some((
        format!(
            "the new section [{section}.{}] has no {}",
            shortened(name),
            listed(missing).replace(" or ", " and no ")
        ),
        hint,
    ))
}

/// Names of the sections below a top-level key, in file order.
fn names(root: &DeTable<'_>, section: &str) -> Vec<String> {
    let table = root
        .get(section)
        .and_then(|value| as_table(value.get_ref()));
    let keys = table.into_iter().flat_map(|table| table.keys());
    keys.map(|name| name.get_ref().to_string()).collect()
}

/// Whether a section could have this name, and does not.
fn is_absent(root: &DeTable<'_>, section: &str, name: &str) -> bool {
    let is_here = |known: &String| known == name;
    keys_of_named(section).is_some() && !names(root, section).iter().any(is_here)
}

/// Whole paths of the sections and layers of that name.
fn sections_called(root: &DeTable<'_>, name: &str) -> Vec<String> {
    let is_layer = layer_names(root).iter().any(|layer| layer == name);
    let layer = is_layer.then(|| format!("{LAYER}.{name}"));
    let has_it = |section: &&str| names(root, section).iter().any(|known| known == name);
    let sections = named_sections().filter(has_it);
    let sections = sections.map(|section| format!("{section}.{name}"));
    layer.into_iter().chain(sections).collect()
}

/// What to write instead of the name of a section that is not there.
fn instead(section: &str, name: &str, known: &[String]) -> String {
    let paths: Vec<String> = known.iter().map(|k| format!("{section}.{k}")).collect();
    match nearest(name, known.iter().map(String::as_str)) {
        Some(near) => format!("did you mean \"{section}.{near}\"?"),
        None if paths.is_empty() => format!("this file has no [{section}.NAME]"),
        None => format!("write {}", listed(paths.iter().map(String::as_str))),
    }
}

fn take_section(root: &mut DeTable<'_>, section: &str, name: &str) -> Result<(), Refusal> {
    let known = names(root, section);
    let table = root.get_mut(section).map(Spanned::get_mut);
    let removed = match table {
        Some(DeValue::Table(table)) => table.remove(name).is_some(),
        _ => false,
    };
    if !removed {
        return Err((
            format!("there is no [{section}.{}] to take away", shortened(name)),
            instead(section, name, &known),
        ));
    }
    if known.len() == 1 {
        root.remove(section);
    }
    Ok(())
}

fn take_layer(root: &mut DeTable<'_>, name: &str) -> Result<(), Refusal> {
    let known = layer_names(root);
    let (Some(at), Some(DeValue::Array(layers))) = (
        known.iter().position(|layer| layer == name),
        root.get_mut(LAYER).map(Spanned::get_mut),
    ) else {
        return Err((
            format!("there is no layer \"{}\" to take away", shortened(name)),
            instead(LAYER, name, &known),
        ));
    };
    let kept = layers.iter().enumerate().filter(|(index, _)| *index != at);
    let kept: DeArray<'_> = kept.map(|(_, layer)| layer.clone()).collect();
    *layers = kept;
    Ok(())
}

fn add_layer(root: &mut DeTable<'_>, name: &str, behind: &str, mark: usize) -> Result<(), Refusal> {
    check_name(name).map_err(|reason| (reason, NAME_RULE.to_owned()))?;
    let known = layer_names(root);
    if known.iter().any(|layer| layer == name) {
        return Err((
            format!("the layer \"{name}\" is there already"),
            "give the new layer a name of its own".to_owned(),
        ));
    }
    let behind = behind.trim_matches('"');
    insert_layer(root, name, behind, Some(mark..mark)).map_err(|reason| {
        let layers = || known.iter().map(String::as_str);
        let hint = match nearest(behind, layers()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("write {}", listed(layers())),
        };
        (reason, hint)
    })
}

/// Why a path leads into no layer, unless a nearer one is told anyway.
fn unknown_layer(root: &DeTable<'_>, path: &str, name: &str) -> Result<(), Refusal> {
    let known = layer_names(root);
    let is_near = nearest(name, known.iter().map(String::as_str)).is_some();
    if is_near || known.is_empty() {
        return Ok(());
    }
    Err((
        format!("there is no value at \"{}\"", shortened(path)),
        format!(
            "a new layer starts with {LAYER}.{}.{BEHIND}={}, the layer before it",
            shortened(name),
            known[0]
        ),
    ))
}

fn create(
    root: &mut DeTable<'_>,
    keys: &[(&'static str, bool)],
    [section, name, key]: [&str; 3],
    path: &str,
    mark: usize,
) -> Result<Changed, Refusal> {
    let known = names(root, section);
    if known.iter().any(|there| there == name) {
        return Ok(Changed::Nothing);
    }
    if let Some(near) = nearest(name, known.iter().map(String::as_str)) {
        let rest = path.splitn(3, '.').last().unwrap_or_default();
        return Err((
            format!("there is no value at \"{}\"", shortened(path)),
            format!(
                "did you mean \"{section}.{near}.{}\"? the name of a new section must be less like \
                 \"{near}\"",
                shortened(rest)
            ),
        ));
    }
    check_name(name).map_err(|reason| (reason, NAME_RULE.to_owned()))?;
    let all = || keys.iter().map(|(key, _)| *key);
    if !all().any(|known| known == key) {
        let hint = match nearest(key, all()) {
            Some(near) => format!("did you mean \"{section}.{name}.{near}\"?"),
            None => format!(
                "keys of [{section}.{name}]: {}",
                all().collect::<Vec<_>>().join(", ")
            ),
        };
        return Err((
            format!("[{section}.{name}] has no key \"{}\"", shortened(key)),
            hint,
        ));
    }
    let blocked = |message| (message, "correct the file first".to_owned());
    let table = section_table(root, section, mark..mark).map_err(blocked)?;
    table.insert(
        Spanned::new(mark..mark, Cow::Owned(name.to_owned())),
        Spanned::new(mark..mark, DeValue::Table(DeTable::new())),
    );
    Ok(Changed::Created(NewSection {
        section: section.to_owned(),
        name: name.to_owned(),
    }))
}
