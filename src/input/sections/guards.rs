//! Guards: where they run, how wide, and what they must not touch.

use super::common::*;
use super::connection::{ConnectionKind, connection};
use super::copper::{Beside, corners, inside_board};
use super::pads::has_gaps;
use crate::panel::outline::are_closer;
use crate::panel::{Connection, Guard, GuardPlace, Layer};

/// The section of guards.
pub const GUARD: &str = "guard";
/// What a guard can be connected to.
pub const STATES: &str = "add state = \"grounded\" (at 0 V: takes the field between pads, \
    and some of the touch), \"floating\" (connected to nothing: carries the field from pad to pad) or \
    \"driven\" (follows the measured pad: takes little of the touch, and needs a driver)";

/// One `[guard.NAME]`: a trace in the middle of every gap of a pad group, or around the group.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GuardEntry {
    /// Pad group whose gaps it runs in.
    pub between: Option<String>,
    /// Pad group it runs around.
    pub around: Option<String>,
    /// Width of the trace; 0 mm for none.
    pub width: Option<One<Length>>,
    /// Distance to the pads: around a group, or in its gaps instead of a width.
    pub clearance: Option<One<Length>>,
    /// Copper layer it is on; default that of the pads.
    pub layer: Option<String>,
    /// "grounded" (at 0 V), "floating" (connected to nothing) or "driven" (follows the measured pad). There
    /// is no default: neighbours, base and touch differ several times between them.
    pub state: Word<ConnectionKind>,
    /// Potential of a driven guard over that of the measured pad; default 1.
    pub gain: Option<One<Number>>,
}

/// What of `[guard]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        edge("width", [0.0, 20.0], TURNED),
        edge("clearance", [0.1, 20.0], TURNED),
        solved("gain", Measure::Number, [0.0, 1.2], UNSURE),
    ],
    fixed: &[],
};

pub(crate) fn guards(
    file: &PanelFile,
    layers: &[Layer],
    beside: &Beside<'_>,
) -> Result<Vec<Guard>, Finding> {
    let mut guards = Vec::new();
    for (name, entry) in &file.guard {
        let guard = guard(file, name, entry, layers, beside)?;
        touches_nothing(entry, &guard, beside)?;
        guards.push(guard);
    }
    Ok(guards)
}

fn guard(
    file: &PanelFile,
    name: &str,
    entry: &GuardEntry,
    layers: &[Layer],
    beside: &Beside<'_>,
) -> Result<Guard, Finding> {
    let at = |key: &str| steps!["guard", name, key];
    let groups = file.pads.keys().map(String::as_str);
    let (key, group) = match (&entry.between, &entry.around) {
        (Some(group), None) => ("between", group),
        (None, Some(group)) => ("around", group),
        (Some(_), Some(_)) => {
            return Err(Finding::at_key(
                at("around"),
                format!("guard \"{name}\" runs between and around pads"),
                "write two guards, one for each",
            ));
        }
        (None, None) => {
            return Err(Finding::at(
                steps!["guard", name],
                format!("nothing says where guard \"{name}\" runs"),
                "add between = \"keys\" or around = \"keys\", the name of a pad group",
            ));
        }
    };
    find_name(at(key), group, "pad group", groups)?;
    if key == "between" {
        has_gaps(at(key), group, beside.groups)?;
    }
    let width = if_not_negative(at("width"), entry.width, "the guard width")?;
    let clearance = if_positive(at("clearance"), entry.clearance, "the clearance")?;
    let place = match (key, width, clearance) {
        ("between", Some(width), None) => GuardPlace::Between { width },
        ("between", None, Some(clearance)) => GuardPlace::BetweenKeeping { clearance },
        ("between", Some(_), Some(_)) => {
            return Err(Finding::at_key(
                at("clearance"),
                "a guard in the middle of a gap has a width or a clearance, not both",
                "leave one of them out",
            ));
        }
        (_, Some(width), Some(clearance)) => GuardPlace::Around { width, clearance },
        _ => {
            let missing = match (key, width) {
                ("around", Some(_)) => "clearance",
                _ => "width",
            };
            return Err(Finding::at(
                steps!["guard", name],
                format!("guard \"{name}\" has no {missing}"),
                format!("add {missing} = \"1 mm\""),
            ));
        }
    };
    let layer = match &entry.layer {
        Some(layer) => copper_layer(at("layer"), layer, layers)?,
        None => {
            let mut members = beside.pads.iter().filter(|pad| pad.group == *group);
            members.next().map_or(0, |pad| pad.layer)
        }
    };
    Ok(Guard {
        name: name.to_owned(),
        group: group.clone(),
        layer,
        place,
        connection: connection(
            ("guard", name),
            Some(entry.state),
            entry.gain,
            Connection::Grounded,
        )?,
    })
}

fn touches_nothing(entry: &GuardEntry, guard: &Guard, beside: &Beside<'_>) -> Result<(), Finding> {
    let key = match entry.width {
        Some(_) => "width",
        None => "clearance",
    };
    let at = || steps!["guard", &guard.name, key];
    let strips = guard.strips(beside.groups);
    if strips.is_empty() && !guard.is_empty() {
        return Err(Finding::at(
            at(),
            format!("guard \"{}\" finds no room between the pads", guard.name),
            "write a smaller clearance or a wider gap",
        ));
    }
    for strip in strips {
        let on_layer = beside
            .pads
            .iter()
            .zip(beside.placed)
            .filter(|(pad, _)| pad.layer == guard.layer);
        let mut touched =
            on_layer.filter(|(_, polygons)| are_closer(&corners(strip), polygons, TOUCHING_M));
        if let Some((pad, _)) = touched.next() {
            let width = guard.width().map_or_else(
                || "this guard".to_owned(),
                |width| format!("a guard of {}", show_mm(width)),
            );
            return Err(Finding::at(
                at(),
                format!("{width} touches pad \"{}\": they are shorted", pad.name),
                "write less than the gap between the pads",
            ));
        }
        if !inside_board(strip, beside.board) {
            let [width, height] = beside.board.map(show_mm);
            return Err(Finding::at(
                at(),
                format!(
                    "guard \"{}\" reaches outside the board ({width} x {height})",
                    guard.name
                ),
                "make it narrower or the board larger",
            ));
        }
    }
    Ok(())
}
