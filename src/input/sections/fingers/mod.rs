//! Fingers: those of the file, and the built-in population a file may name.

mod gloves;

use super::common::*;
use super::layers::sheet::Sheet;
use super::window::SupplyEntry;

use crate::panel::{Finger, Pad, ReturnPath};
use gloves::worn;
use indexmap::IndexMap;
use std::sync::LazyLock;

words!(
    /// What a glove is taken for: an insulating layer, or a part of the finger.
    GloveKind as "GloveAs": "dielectric" => Dielectric, "conductor" => Conductor
);

/// One `[finger.NAME]`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FingerEntry {
    /// Diameter of the flat contact.
    pub contact: One<Length>,
    /// Diameter of dome and barrel.
    pub dome: One<Length>,
    /// Height above the touched face; default 15 mm.
    pub length: Option<One<Length>>,
    /// Name of the pad it touches; default every pad in turn.
    pub on: Option<String>,
    /// Offset x, y from the pad's centre; default 0 mm, 0 mm.
    pub offset: Option<Position>,
    /// "earthed" (default) or the capacitance to 0 V.
    #[serde(rename = "return")]
    pub return_path: Option<Return>,
    /// Height of its lowest point above the touched face; default 0 mm, it touches.
    pub distance: Option<One<Length>>,
    /// Thickness of the glove it wears; default none.
    pub glove: Option<One<Length>>,
    /// Permittivity of the glove relative to vacuum.
    pub glove_permittivity: Option<One<Number>>,
    /// What the glove is taken for: a "dielectric" (default) or, damp, a "conductor".
    pub glove_as: Option<Word<GloveKind>>,
    /// Several gloves over each other, instead of one.
    pub glove_layers: Option<Vec<GloveLayerEntry>>,
    /// Largest distance by which it misses the middle of a pad; default that of `[window]`.
    pub aim_error: Option<One<Length>>,
    /// Where the dimensions come from, for reports.
    pub source: Option<String>,
}

/// One glove of several.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GloveLayerEntry {
    /// Thickness.
    pub thickness: One<Length>,
    /// Permittivity relative to vacuum.
    pub permittivity: One<Number>,
}

/// What of `[finger]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        // The profile between contact and dome has no grid lines.
        solved("contact", Measure::Length, [2.0, 30.0], SPREAD),
        solved("dome", Measure::Length, [3.0, 40.0], SPREAD),
        edge("length", [1.0, 200.0], NONE),
        edge("offset", [-50.0, 50.0], SPREAD),
        circuit("return", Measure::Capacitance, [1.0, 1000.0], NONE),
        edge("distance", [0.0, 300.0], NONE),
        solved("glove", Measure::Length, [0.0, 10.0], NONE),
        permittivity("glove_permittivity", Measure::Number, [1.0, 100.0], NONE),
        event("aim_error", Measure::Length, [0.0, 30.0], NONE),
    ],
    fixed: &[still(
        &["glove_layers"],
        "gloves of a list have no paths; glove and glove_permittivity have",
    )],
};

const DEFAULT_FINGER_LENGTH: Length = Length::from_mm(15.0);
/// Common practice, no source.
const DEFAULT_AIM_ERROR: Length = Length::from_mm(3.0);

/// Users and supplies known by name.
#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Population {
    /// Users and gestures.
    pub finger: IndexMap<String, FingerEntry>,
    /// Ways of powering a device.
    pub supply: IndexMap<String, SupplyEntry>,
}

/// The built-in population, from its data file.
pub(crate) static POPULATION: LazyLock<Population> = LazyLock::new(|| {
    toml::from_str(include_str!("population.toml")).expect("a test reads the built-in data")
});

/// A finger of the built-in population.
pub(crate) fn known_finger(file: &PanelFile, name: &str) -> Option<Result<Finger, Finding>> {
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
    if_not_negative(steps!["window", "aim_error"], given, "the aim error")
}

pub(crate) fn fingers(
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

fn length(name: &str, entry: &FingerEntry) -> Result<Option<Length>, Finding> {
    let at = || steps!["finger", name, "length"];
    match entry.length {
        Some(given) if given.0.metres() < 0.0 => Err(Finding::at(
            at(),
            "the finger would lie inside the overlay",
            "the length counts upwards from the touched face: write more than 0 mm",
        )),
        given => if_positive(at(), given, "the finger length"),
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
    let length = length(name, entry)?;
    if let Some(on) = &entry.on {
        find_name(
            at("on"),
            on,
            "pad",
            pads.iter().map(|pad| pad.name.as_str()),
        )?;
    }
    let offset = entry.offset.map_or([Length::default(); 2], |given| given.0);
    let is_touched = |pad: &&Pad| entry.on.as_ref().is_none_or(|on| *on == pad.name);
    for pad in pads.iter().filter(is_touched) {
        let place = [0, 1].map(|axis| (pad.centre[axis] + offset[axis]).metres());
        let [low, high] = touched_layer.bounds_m;
        if [0, 1]
            .iter()
            .any(|&axis| place[axis] < low[axis] || place[axis] > high[axis])
        {
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
    let aim_error = if_not_negative(at("aim_error"), entry.aim_error, "the aim error")?;
    let distance = if_not_negative(at("distance"), entry.distance, "the distance")?;
    let source = entry.source.as_deref().unwrap_or("given, no source");
    Ok(Finger {
        name: name.to_owned(),
        contact: contact + worn.conducts * 2.0,
        dome: dome + worn.conducts * 2.0,
        length: sourced(length, DEFAULT_FINGER_LENGTH),
        on: entry.on.clone(),
        offset,
        distance: distance.unwrap_or_default(),
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
