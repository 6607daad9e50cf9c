//! Overrides that take single values back to their default (`window.near_miss=none`), and what goes along
//! with a value: the lines of a hatch go when the area becomes solid.

use super::keys::is_needed;
use super::paths::PathEntry;
use super::tree::{find, remove, text_of};
use crate::input::names::shortened;
use crate::input::place::{Step, with_step};
use crate::input::sections::{AREAS, OF_A_HATCH, SOLID};
use toml::de::DeTable;

/// The value that takes a section away, or a value back to its default.
pub(super) const NONE: &str = "none";

/// Takes a value out of the file, so that its default counts; one that is not written stays so.
///
/// # Errors
/// Message and hint for a part of a value, and for one that its section cannot be without.
pub(super) fn take_back(root: &mut DeTable<'_>, entry: &PathEntry) -> Result<(), (String, String)> {
    let path = shortened(&entry.text);
    let whole = match (&entry.part, entry.steps.last()) {
        (None, Some(Step::Key(_))) => None,
        // The item of a list, or a part of a quantity or of an item.
        (part, last) => {
            let names =
                usize::from(part.is_some()) + usize::from(matches!(last, Some(Step::Index(_))));
            entry.text.rsplitn(names + 1, '.').last()
        }
    };
    if let Some(whole) = whole {
        return Err((
            format!("\"{path}\" is a part of a value: it has no default of its own"),
            format!("give it a value, or write {}={NONE}", shortened(whole)),
        ));
    }
    if is_needed(&entry.steps) {
        let hint = match section_of(entry) {
            Some(section) => format!("give it a value, or {}", take_section_away(section)),
            None => "give it a value".to_owned(),
        };
        return Err((format!("\"{path}\" has no default"), hint));
    }
    remove(root, &entry.steps);
    Ok(())
}

/// What to write to be rid of a section as a whole.
pub(super) fn take_section_away(section: &str) -> String {
    format!(
        "take the whole section away with {}={NONE}",
        shortened(section)
    )
}

/// Path of the section a value is in: `guard.cross`; none at the top of the file.
pub(super) fn section_of(entry: &PathEntry) -> Option<&str> {
    let is_key = entry.part.is_none() && matches!(entry.steps.last(), Some(Step::Key(_)));
    let (section, _) = entry.text.rsplit_once('.')?;
    is_key.then_some(section)
}

/// Takes away what a value that was just set leaves without meaning.
pub(super) fn take_along(root: &mut DeTable<'_>, entry: &PathEntry) {
    let Some((Step::Key(key), section)) = entry.steps.split_last() else {
        return;
    };
    let is_area =
        matches!(section.first(), Some(Step::Key(kind)) if AREAS.contains(&kind.as_str()));
    if !is_area || key != "fill" {
        return;
    }
    let fill = find(root, &entry.steps).and_then(|value| text_of(value.get_ref()));
    // Without a fill the area is solid by default; a word that is not known is told as such.
    if fill.is_none_or(|word| word == SOLID) {
        for key in OF_A_HATCH {
            remove(root, &with_step(section, key));
        }
    }
}
