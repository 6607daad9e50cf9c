//! Values in a parsed TOML tree: found, set, taken for text, pointed at.

use super::paths::PathEntry;
use super::toml_text::one_line;
use crate::input::place::Step;
use std::borrow::Cow;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The value of an override: a whole number where one is wanted, a list or a quoted string when it
/// looks like one, otherwise the text itself.
pub(super) fn typed_value<'t>(entry: &PathEntry, text: &'t str) -> Result<DeValue<'t>, String> {
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
pub(super) fn marked(value: DeValue<'_>, mark: usize) -> Spanned<DeValue<'_>> {
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

/// The value at the end of the steps.
pub(super) fn find<'v, 'i>(
    root: &'v DeTable<'i>,
    steps: &[Step],
) -> Option<&'v Spanned<DeValue<'i>>> {
    let (first, rest) = steps.split_first()?;
    let Step::Key(key) = first else { return None };
    rest.iter()
        .try_fold(root.get(key.as_str())?, |value, step| {
            step_into(value, step)
        })
}

/// Sets the value, creating the sections on the way.
pub(super) fn set<'t>(
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

/// Takes a value out of the section it is in, if it is written there.
pub(super) fn remove(root: &mut DeTable<'_>, steps: &[Step]) {
    let Some((Step::Key(key), section)) = steps.split_last() else {
        return;
    };
    let Some((Step::Key(first), rest)) = section.split_first() else {
        root.remove(key.as_str());
        return;
    };
    let Some(mut here) = root.get_mut(first.as_str()) else {
        return;
    };
    for step in rest {
        let inner = match (here.get_mut(), step) {
            (DeValue::Table(table), Step::Key(key)) => table.get_mut(key.as_str()),
            (DeValue::Array(list), Step::Index(index)) => list.get_mut(*index),
            _ => None,
        };
        let Some(inner) = inner else { return };
        here = inner;
    }
    if let DeValue::Table(table) = here.get_mut() {
        table.remove(key.as_str());
    }
}

/// A value as text; lists and tables have none.
pub(super) fn text_of(value: &DeValue<'_>) -> Option<String> {
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

pub(super) fn as_table<'v, 'i>(value: &'v DeValue<'i>) -> Option<&'v DeTable<'i>> {
    match value {
        DeValue::Table(table) => Some(table),
        _ => None,
    }
}
