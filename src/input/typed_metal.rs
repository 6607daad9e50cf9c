//! Copper that is no pad, and metal around the panel, as typed.

use super::quantity::{Angle, OneLength, PlainNumber, Position, Size};
use super::words::{BezelWord, ConnectionWord, DrawnWord, FillWord, PresenceWord};
use schemars::JsonSchema;

/// One `[ground.NAME]`: a copper area at 0 V.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GroundEntry {
    /// Copper layer the area is on.
    pub layer: String,
    /// How the area is filled; default solid.
    pub fill: Option<FillWord>,
    /// Width of the lines of a hatch.
    pub line: Option<OneLength>,
    /// From middle to middle of neighbouring lines of a hatch.
    pub pitch: Option<OneLength>,
    /// Angle of the lines of a hatch, 0 or 45 deg; default 0 deg.
    pub angle: Option<Angle>,
    /// A hatch enters the field as a "sheet" that leaks as one cell of it does (default), or with all
    /// its "lines", for small areas.
    #[serde(rename = "treat_as")]
    pub drawn: Option<DrawnWord>,
    /// Width by height; default the whole board.
    pub outline: Option<Size>,
    /// Middle of the area; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Distance kept to pads on the same layer; needed if there are any.
    pub clearance: Option<OneLength>,
}

/// One `[shield.NAME]`: a copper area that is driven with the measured pad, or left open.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ShieldEntry {
    /// Copper layer the area is on.
    pub layer: String,
    /// Its potential over that of the measured pad; default 1.
    pub gain: Option<PlainNumber>,
    /// "driven" (default), "floating" or "grounded".
    pub state: Option<ConnectionWord>,
    /// How the area is filled; default solid.
    pub fill: Option<FillWord>,
    /// Width of the lines of a hatch.
    pub line: Option<OneLength>,
    /// From middle to middle of neighbouring lines of a hatch.
    pub pitch: Option<OneLength>,
    /// Angle of the lines of a hatch, 0 or 45 deg; default 0 deg.
    pub angle: Option<Angle>,
    /// A hatch enters the field as a "sheet" (default) or with all its "lines".
    #[serde(rename = "treat_as")]
    pub drawn: Option<DrawnWord>,
    /// Width by height; default the whole board.
    pub outline: Option<Size>,
    /// Middle of the area; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Distance kept to pads on the same layer; needed if there are any.
    pub clearance: Option<OneLength>,
}

impl ShieldEntry {
    /// The keys it shares with a ground area.
    pub(super) fn area(&self) -> GroundEntry {
        GroundEntry {
            layer: self.layer.clone(),
            fill: self.fill,
            line: self.line,
            pitch: self.pitch,
            angle: self.angle,
            drawn: self.drawn,
            outline: self.outline,
            centre: self.centre,
            clearance: self.clearance,
        }
    }
}

/// One `[guard.NAME]`: a trace in the middle of every gap of a pad group, or around the group.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GuardEntry {
    /// Pad group whose gaps it runs in.
    pub between: Option<String>,
    /// Pad group it runs around.
    pub around: Option<String>,
    /// Width of the trace; 0 mm for none.
    pub width: Option<OneLength>,
    /// Distance to the pads: around a group, or in its gaps instead of a width.
    pub clearance: Option<OneLength>,
    /// Copper layer it is on; default that of the pads.
    pub layer: Option<String>,
    /// "grounded" (at 0 V), "floating" (connected to nothing) or "driven" (follows the measured pad). There
    /// is no default: neighbours, base and touch differ several times between them.
    pub state: ConnectionWord,
    /// Potential of a driven guard over that of the measured pad; default 1.
    pub gain: Option<PlainNumber>,
}

/// One `[trace.NAME]`: a trace that is part of the field.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TraceEntry {
    /// Pad it leads to; without one it is a foreign line.
    pub pad: Option<String>,
    /// What a foreign line is connected to: "grounded" (default, a line that something holds still) or
    /// "floating".
    pub state: Option<ConnectionWord>,
    /// Copper layer it is on.
    pub layer: String,
    /// Its width.
    pub width: OneLength,
    /// Corners x, y of its middle line, from the pad on; every piece runs along x or along y.
    pub path: Vec<Position>,
    /// Width of the strip around it that ground and guards of its layer keep free.
    pub keepout: Option<OneLength>,
    /// Side of the square via to a pad on another layer; default the width of the trace.
    pub via: Option<OneLength>,
}

/// One `[bezel.NAME]`: a metal frame on the touched face.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BezelEntry {
    /// Clear width by height of its opening.
    pub opening: Size,
    /// Middle of the opening; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Width of the frame around the opening.
    pub width: OneLength,
    /// Height above the touched face; default 2 mm.
    pub height: Option<OneLength>,
    /// "earthed", "floating", or "held" by the user's other hand.
    pub state: BezelWord,
}

/// One `[object.NAME]`: flat metal near the panel.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ObjectEntry {
    /// Width by height.
    pub size: Size,
    /// Middle; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Extent away from the panel; default 1 mm.
    pub thickness: Option<OneLength>,
    /// Distance behind the last layer.
    pub behind: Option<OneLength>,
    /// Distance before the touched face.
    pub before: Option<OneLength>,
    /// "grounded" (default) or "floating".
    pub state: Option<ConnectionWord>,
    /// There "always" (default) or "at times": a door, a drum, a tray.
    pub present: Option<PresenceWord>,
}
