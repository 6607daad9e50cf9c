//! Metal frames on the touched face and objects near the panel.

use super::common::*;
use super::connection::{ConnectionKind, connection};
use super::layers::sheet::Sheet;
use crate::panel::outline::Rectangle;
use crate::panel::{Bezel, Connection, MetalObject, ObjectSide};

words!(
    /// What a metal frame is connected to: 0 V, nothing, or the user's other hand.
    BezelKind as "BezelState": "earthed" => Earthed, "floating" => Floating, "held" => Held
);
words!(
    /// When an object is there.
    Presence as "Presence": "always" => Always, "at times" => AtTimes
);

/// One `[bezel.NAME]`: a metal frame on the touched face.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BezelEntry {
    /// Clear width by height of its opening.
    pub opening: Size,
    /// Middle of the opening; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Width of the frame around the opening.
    pub width: One<Length>,
    /// Height above the touched face; default 2 mm.
    pub height: Option<One<Length>>,
    /// "earthed", "floating", or "held" by the user's other hand.
    pub state: Word<BezelKind>,
}

/// One `[object.NAME]`: flat metal near the panel.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ObjectEntry {
    /// Width by height.
    pub size: Size,
    /// Middle; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Extent away from the panel; default 1 mm.
    pub thickness: Option<One<Length>>,
    /// Distance behind the last layer.
    pub behind: Option<One<Length>>,
    /// Distance before the touched face.
    pub before: Option<One<Length>>,
    /// "grounded" (default) or "floating".
    pub state: Option<Word<ConnectionKind>>,
    /// There "always" (default) or "at times": a door, a drum, a tray.
    pub present: Option<Word<Presence>>,
}

/// What of `[bezel]` can be varied.
pub const BEZEL_ROWS: Rows = Rows {
    varied: &[
        edge("opening", [5.0, 1000.0], SPREAD),
        place("centre"),
        edge("width", [0.5, 100.0], SPREAD),
        edge("height", [0.1, 50.0], SPREAD),
    ],
    fixed: &[],
};

/// What of `[object]` can be varied.
pub const OBJECT_ROWS: Rows = Rows {
    varied: &[
        edge("size", [1.0, 1000.0], SPREAD),
        place("centre"),
        edge("thickness", [0.1, 100.0], SPREAD),
        edge("behind", [0.0, 200.0], TURNED),
        edge("before", [0.0, 200.0], SPREAD),
    ],
    fixed: &[],
};

/// Common practice, no source.
const DEFAULT_HEIGHT: Length = Length::from_mm(2.0);
const DEFAULT_THICKNESS: Length = Length::from_mm(1.0);

pub(crate) fn bezels(file: &PanelFile, touched: &Sheet) -> Result<Vec<Bezel>, Finding> {
    let mut bezels: Vec<Bezel> = Vec::new();
    for (name, entry) in &file.bezel {
        needs_volume(file, "bezel", name)?;
        let bezel = bezel(name, entry, touched)?;
        let overlap = |a: &Rectangle, b: &Rectangle| {
            (0..2).all(|axis| a[0][axis] < b[1][axis] && b[0][axis] < a[1][axis])
        };
        let meets = |other: &&Bezel| {
            let theirs = other.sides();
            bezel
                .sides()
                .iter()
                .any(|a| theirs.iter().any(|b| overlap(a, b)))
        };
        if let Some(other) = bezels.iter().find(meets) {
            return Err(Finding::at(
                steps!["bezel", name, "opening"],
                format!("frames \"{}\" and \"{name}\" overlap", other.name),
                "move them apart",
            ));
        }
        bezels.push(bezel);
    }
    Ok(bezels)
}

fn bezel(name: &str, entry: &BezelEntry, touched: &Sheet) -> Result<Bezel, Finding> {
    let at = |key: &str| steps!["bezel", name, key];
    let bezel = Bezel {
        name: name.to_owned(),
        opening: positive_size(
            || at("opening"),
            entry.opening,
            ["the width of the opening", "the height of the opening"],
        )?,
        centre: centre(|| at("centre"), entry.centre)?,
        width: positive(at("width"), entry.width.0, "the width of the frame")?,
        height: if_positive(at("height"), entry.height, "the height of the frame")?
            .unwrap_or(DEFAULT_HEIGHT),
        connection: match entry.state.0 {
            BezelKind::Earthed => Connection::Grounded,
            BezelKind::Floating => Connection::Floating,
            BezelKind::Held => Connection::Body,
        },
    };
    if bezel.sides().iter().any(|side| !touched.holds(*side)) {
        return Err(Finding::at(
            at("opening"),
            format!(
                "frame \"{name}\" reaches outside {}",
                touched.words("overlay")
            ),
            "make the frame narrower or the board larger",
        ));
    }
    Ok(bezel)
}

pub(crate) fn objects(file: &PanelFile) -> Result<Vec<MetalObject>, Finding> {
    let mut objects = Vec::new();
    for (name, entry) in &file.object {
        needs_volume(file, "object", name)?;
        objects.push(object(name, entry)?);
    }
    Ok(objects)
}

fn object(name: &str, entry: &ObjectEntry) -> Result<MetalObject, Finding> {
    let at = |key: &str| steps!["object", name, key];
    let (side, distance) = match (entry.behind, entry.before) {
        (Some(behind), None) => (
            ObjectSide::Behind,
            positive(at("behind"), behind.0, "the distance")?,
        ),
        (None, Some(before)) => (
            ObjectSide::Before,
            positive(at("before"), before.0, "the distance")?,
        ),
        (Some(_), Some(_)) => {
            return Err(Finding::at_key(
                at("before"),
                format!("object \"{name}\" is behind and before the panel"),
                "leave one of them out",
            ));
        }
        (None, None) => {
            return Err(Finding::at(
                steps!["object", name],
                format!("nothing says where object \"{name}\" is"),
                "add behind = \"12 mm\" (behind the last layer) or before = \"50 mm\"",
            ));
        }
    };
    if entry
        .state
        .is_some_and(|word| word.0 == ConnectionKind::Driven)
    {
        return Err(Finding::at(
            at("state"),
            "an object is not driven with the measured pad",
            "write \"grounded\" or \"floating\"; a driven area of copper is a [shield.NAME]",
        ));
    }
    let size = positive_size(|| at("size"), entry.size, ["the width", "the height"])?;
    let centre = centre(|| at("centre"), entry.centre)?;
    Ok(MetalObject {
        name: name.to_owned(),
        size,
        centre,
        thickness: if_positive(at("thickness"), entry.thickness, "the thickness")?
            .unwrap_or(DEFAULT_THICKNESS),
        side,
        distance,
        connection: connection(("object", name), entry.state, None, Connection::Grounded)?,
        moves: entry
            .present
            .is_some_and(|word| word.0 == Presence::AtTimes),
    })
}
