//! What all the copper means together: board, ground areas, guards, and what must not touch.

use super::areas::{Drawing, OF_A_HATCH, Under};
use super::common::*;
use super::connection::connection;
use super::guards::guards;
use super::traces::traces;

use crate::panel::metal::rectangle;
use crate::panel::outline::{Rectangle, are_closer, pad_box, pad_polygons, polygon_box};
use crate::panel::{Connection, GroundArea, Guard, Layer, Pad, PadGroup, Trace};
use padfield_engine::units::Length;

/// `[board]`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoardEntry {
    /// Width by height, centred on 0, 0; default the copper and 10 mm around it.
    pub outline: Size,
}

/// What of `[board]` can be varied.
pub const BOARD_ROWS: Rows = Rows {
    varied: &[edge("outline", [5.0, 1000.0], NONE)],
    fixed: &[],
};

/// Kept around the copper when the board has no outline.
const DEFAULT_MARGIN: Length = Length::from_mm(10.0);

pub(crate) type Polygons = Vec<Vec<[f64; 2]>>;

/// Copper of a panel beside its pads, and the board under all of it.
pub(crate) struct Copper {
    pub board: Sourced<[Length; 2]>,
    pub grounds: Vec<GroundArea>,
    pub guards: Vec<Guard>,
    pub traces: Vec<Trace>,
}

pub(crate) fn copper(
    file: &PanelFile,
    layers: &[Layer],
    pads: &[Pad],
    groups: &[PadGroup],
) -> Result<Copper, Finding> {
    let board = board(file, pads)?;
    let placed: Vec<Polygons> = pads.iter().map(pad_polygons).collect();
    pads_on_board(file, pads, board.value)?;
    pads_apart(file, pads, &placed)?;
    let mut grounds = Vec::new();
    let mut drawing = Drawing::default();
    let under = Under {
        layers,
        pads,
        placed: &placed,
        board: board.value,
    };
    for (name, entry) in &file.ground {
        let place = ("ground", name.as_str());
        grounds.push(under.area(place, entry, entry.any_of(&OF_A_HATCH), &mut drawing)?);
    }
    for (name, entry) in &file.shield {
        let place = ("shield", name.as_str());
        let hatch_key = entry.any_of(&OF_A_HATCH);
        let mut area = under.area(place, &entry.area(), hatch_key, &mut drawing)?;
        let driven = Connection::Driven { gain: 1.0 };
        area.connection = connection(place, entry.state, entry.gain, driven)?;
        grounds.push(area);
    }
    let mut copper = Beside {
        pads,
        groups,
        placed: &placed,
        grounds: &grounds,
        guards: &[],
        board: board.value,
    };
    let guards = guards(file, layers, &copper)?;
    copper.guards = &guards;
    let traces = traces(file, layers, &copper)?;
    Ok(Copper {
        board,
        grounds,
        guards,
        traces,
    })
}

/// The copper that is placed already: what guards and traces must keep away from.
pub(crate) struct Beside<'p> {
    pub pads: &'p [Pad],
    pub groups: &'p [PadGroup],
    pub placed: &'p [Polygons],
    pub grounds: &'p [GroundArea],
    pub guards: &'p [Guard],
    pub board: [Length; 2],
}

fn board(file: &PanelFile, pads: &[Pad]) -> Result<Sourced<[Length; 2]>, Finding> {
    let given = match &file.board {
        None => None,
        Some(entry) => Some(positive_size(
            || steps!["board", "outline"],
            entry.outline,
            ["the board's width", "the board's height"],
        )?),
    };
    let boxes = pads.iter().map(|pad| pad_box(pad).to_vec());
    let areas = file.ground.values().filter_map(|entry| {
        let size = entry.outline?.0;
        let centre = entry.centre.map_or([Length::default(); 2], |given| given.0);
        Some(rectangle(size, centre).to_vec())
    });
    let bounds = polygon_box(&boxes.chain(areas).collect::<Vec<_>>());
    // The board is centred on 0, 0, so its half width is the farther of the two sides.
    let default = [0, 1].map(|axis| {
        let reach = Length::from_metres(bounds[1][axis].max(-bounds[0][axis]));
        (reach + DEFAULT_MARGIN) * 2.0
    });
    Ok(sourced(given, default))
}

pub(crate) fn inside_board(bounds: Rectangle, board: [Length; 2]) -> bool {
    (0..2).all(|axis| {
        let half = board[axis].metres() / 2.0 + TOUCHING_M;
        bounds[0][axis] >= -half && bounds[1][axis] <= half
    })
}

fn pads_on_board(file: &PanelFile, pads: &[Pad], board: [Length; 2]) -> Result<(), Finding> {
    let outside = |pad: &&Pad| !inside_board(pad_box(pad), board);
    let Some(pad) = pads.iter().find(outside) else {
        return Ok(());
    };
    let moved = file
        .pads
        .get(&pad.group)
        .is_some_and(|entry| entry.centre.is_some());
    let steps = if moved {
        steps!["pads", &pad.group, "centre"]
    } else {
        steps!["pads", &pad.group]
    };
    let [width, height] = board.map(show_mm);
    Err(Finding::at(
        steps,
        format!(
            "pad \"{}\" is outside the board ({width} x {height})",
            pad.name
        ),
        "move it inwards or make the board larger",
    ))
}

fn pads_apart(file: &PanelFile, pads: &[Pad], placed: &[Polygons]) -> Result<(), Finding> {
    for second in 0..pads.len() {
        for first in 0..second {
            if pads[first].layer == pads[second].layer
                && are_closer(&placed[first], &placed[second], TOUCHING_M)
            {
                return Err(shorted_pads(file, &pads[first], &pads[second]));
            }
        }
    }
    Ok(())
}

fn shorted_pads(file: &PanelFile, first: &Pad, second: &Pad) -> Finding {
    let entry = file.pads.get(&second.group);
    let steps = if first.group == second.group {
        steps!["pads", &second.group, "gap"]
    } else if entry.is_some_and(|entry| entry.centre.is_some()) {
        steps!["pads", &second.group, "centre"]
    } else {
        steps!["pads", &second.group]
    };
    Finding::at(
        steps,
        format!(
            "pads \"{}\" and \"{}\" overlap or touch: they are shorted",
            first.name, second.name
        ),
        "move them apart or put them on different layers",
    )
}

/// The outline of a rectangle.
pub(crate) fn corners(area: Rectangle) -> Polygons {
    vec![crate::panel::outline::corners(area)]
}
