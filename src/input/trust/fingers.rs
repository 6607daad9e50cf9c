//! Fingers: those of the file, and the built-in population a file may name.

use super::super::error::Finding;
use super::super::keys::steps;
use super::super::typed::{FingerEntry, PanelFile, SupplyEntry};
use super::gloves::worn;
use super::sheet::Sheet;
use super::{capacitance_in_range, find_name, not_negative, positive, show_mm, sourced};
use crate::panel::{Finger, Pad, ReturnPath};
use indexmap::IndexMap;
use padfield_engine::units::Length;
use std::sync::LazyLock;

const DEFAULT_FINGER_LENGTH: Length = Length::from_mm(15.0);
/// Common practice, no source.
const DEFAULT_AIM_ERROR: Length = Length::from_mm(3.0);

/// Users and supplies known by name.
#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Population {
    /// Users and gestures.
    pub finger: IndexMap<String, FingerEntry>,
    /// Ways of powering a device.
    pub supply: IndexMap<String, SupplyEntry>,
}

/// The built-in population, from its data file.
pub(super) static POPULATION: LazyLock<Population> = LazyLock::new(|| {
    toml::from_str(include_str!("../population.toml")).expect("a test reads the built-in data")
});

/// A finger of the built-in population.
pub(super) fn known_finger(file: &PanelFile, name: &str) -> Option<Result<Finger, Finding>> {
    let entry = POPULATION.finger.get(name)?;
    Some(finger(
        file,
        name,
        entry,
        &[],
        &Sheet::of(&[], 0, [Length::default(); 2]),
    ))
}

/// The aim error of users that have none of their own, when the file gives one.
fn general_aim_error(file: &PanelFile) -> Result<Option<Length>, Finding> {
    let given = file.window.as_ref().and_then(|window| window.aim_error);
    given
        .map(|given| not_negative(steps!["window", "aim_error"], given.0, "the aim error"))
        .transpose()
}

pub(super) fn fingers(
    file: &PanelFile,
    pads: &[Pad],
    touched_layer: &Sheet,
) -> Result<Vec<Finger>, Finding> {
    if file.finger.is_empty() {
        return Ok(vec![default_finger()]);
    }
    file.finger
        .iter()
        .map(|(name, entry)| finger(file, name, entry, pads, touched_layer))
        .collect()
}

/// A bare adult finger, earthed, on every pad in turn (from memory); its name says that it was not given.
fn default_finger() -> Finger {
    Finger {
        name: "adult (default)".to_owned(),
        contact: Length::from_mm(10.0),
        dome: Length::from_mm(16.0),
        length: sourced(None, DEFAULT_FINGER_LENGTH),
        on: None,
        offset: [Length::from_mm(0.0); 2],
        distance: Length::default(),
        return_path: ReturnPath::Earthed,
        glove: None,
        aim_error: sourced(None, DEFAULT_AIM_ERROR),
        source: "from memory".to_owned(),
    }
}

fn finger(
    file: &PanelFile,
    name: &str,
    entry: &FingerEntry,
    pads: &[Pad],
    touched_layer: &Sheet,
) -> Result<Finger, Finding> {
    let at = |key: &str| steps!["finger", name, key];
    let worn = worn(name, entry)?;
    let contact = positive(at("contact"), entry.contact.0, "the contact diameter")?;
    let dome = positive(at("dome"), entry.dome.0, "the dome diameter")?;
    if contact > dome {
        return Err(Finding::at(
            at("contact"),
            format!(
                "the contact ({}) is larger than the dome ({})",
                show_mm(contact),
                show_mm(dome)
            ),
            "a contact is at most as wide as the dome above it",
        ));
    }
    let length = match entry.length {
        Some(given) if given.0.metres() < 0.0 => {
            return Err(Finding::at(
                at("length"),
                "the finger would lie inside the overlay",
                "the length counts upwards from the touched face: write more than 0 mm",
            ));
        }
        Some(given) => Some(positive(at("length"), given.0, "the finger length")?),
        None => None,
    };
    if let Some(on) = &entry.on {
        find_name(
            at("on"),
            on,
            "pad",
            pads.iter().map(|pad| pad.name.as_str()),
        )?;
    }
    let offset = entry.offset.map_or([Length::default(); 2], |given| given.0);
    let touched = pads
        .iter()
        .filter(|pad| entry.on.as_ref().is_none_or(|on| *on == pad.name));
    for pad in touched {
        let outside = |axis: usize| {
            let place = (pad.centre[axis] + offset[axis]).metres();
            let [low, high] = touched_layer.bounds_m;
            place < low[axis] || place > high[axis]
        };
        if outside(0) || outside(1) {
            return Err(Finding::at(
                at("offset"),
                format!("the finger on pad \"{}\" is outside the board", pad.name),
                "write a smaller offset",
            ));
        }
    }
    let return_path = entry
        .return_path
        .map_or(ReturnPath::Earthed, |given| given.0);
    if let ReturnPath::Through(capacitance) = return_path {
        capacitance_in_range(at("return"), capacitance)?;
    }
    let general_aim_error = general_aim_error(file)?;
    let aim_error = entry
        .aim_error
        .map(|given| not_negative(at("aim_error"), given.0, "the aim error"))
        .transpose()?;
    let distance = match entry.distance {
        Some(given) => not_negative(at("distance"), given.0, "the distance")?,
        None => Length::default(),
    };
    let source = entry.source.as_deref().unwrap_or("given, no source");
    Ok(Finger {
        name: name.to_owned(),
        contact: contact + worn.conducts * 2.0,
        dome: dome + worn.conducts * 2.0,
        length: sourced(length, DEFAULT_FINGER_LENGTH),
        on: entry.on.clone(),
        offset,
        distance,
        return_path,
        glove: worn.insulates,
        aim_error: sourced(aim_error.or(general_aim_error), DEFAULT_AIM_ERROR),
        source: match worn.conducts.metres() > 0.0 {
            true => format!(
                "{source}; {} of glove as part of it",
                show_mm(worn.conducts)
            ),
            false => source.to_owned(),
        },
    })
}
