//! What all the copper means together: board, ground areas, guards, and what must not touch.

use super::super::error::Finding;
use super::super::keys::steps;
use super::super::typed::PanelFile;
use super::super::typed_metal::GroundEntry;
use super::super::words::{Drawn, FillKind};
use super::connection::connection;
use super::guards::guards;
use super::hatch_lines::Drawing;
use super::pads::copper_layer;
use super::traces::traces;
use super::{in_range, not_negative, positive, show_mm, sourced};
use crate::panel::metal::rectangle;
use crate::panel::outline::{Rectangle, distance, pad_box, pad_polygons, polygon_box};
use crate::panel::{
    Connection, Fill, GroundArea, Guard, Hatch, Layer, Pad, PadGroup, Sourced, Trace,
};
use padfield_engine::units::Length;

/// Kept around the copper when the board has no outline.
const DEFAULT_MARGIN: Length = Length::from_mm(10.0);
/// Copper closer than this counts as touching: rounding of coordinates, not a gap.
pub(super) const TOUCHING_M: f64 = 1e-9;

pub(super) type Polygons = Vec<Vec<[f64; 2]>>;

/// Copper of a panel beside its pads, and the board under all of it.
pub(super) struct Copper {
    pub board: Sourced<[Length; 2]>,
    pub grounds: Vec<GroundArea>,
    pub guards: Vec<Guard>,
    pub traces: Vec<Trace>,
}

pub(super) fn copper(
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
    for (name, entry) in &file.ground {
        let place = ("ground", name.as_str());
        let area = area(place, entry, layers, pads, &placed, board.value)?;
        drawing.add(place, &area)?;
        grounds.push(area);
    }
    for (name, entry) in &file.shield {
        let place = ("shield", name.as_str());
        let mut area = area(place, &entry.area(), layers, pads, &placed, board.value)?;
        drawing.add(place, &area)?;
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
pub(super) struct Beside<'p> {
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
        Some(entry) => {
            let [width, height] = entry.outline.0;
            let at = || steps!["board", "outline"];
            Some([
                positive(at(), width, "the board's width")?,
                positive(at(), height, "the board's height")?,
            ])
        }
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

pub(super) fn inside_board(bounds: Rectangle, board: [Length; 2]) -> bool {
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

fn overlap_box(one: &[[f64; 2]; 2], other: &[[f64; 2]; 2]) -> bool {
    (0..2).all(|axis| {
        one[0][axis] <= other[1][axis] + TOUCHING_M && other[0][axis] <= one[1][axis] + TOUCHING_M
    })
}

fn pads_apart(file: &PanelFile, pads: &[Pad], placed: &[Polygons]) -> Result<(), Finding> {
    let boxes: Vec<_> = placed
        .iter()
        .map(|polygons| polygon_box(polygons))
        .collect();
    for second in 0..pads.len() {
        for first in 0..second {
            let near = pads[first].layer == pads[second].layer
                && overlap_box(&boxes[first], &boxes[second]);
            if near && distance(&placed[first], &placed[second]) < TOUCHING_M {
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

fn area(
    (section, name): (&str, &str),
    entry: &GroundEntry,
    layers: &[Layer],
    pads: &[Pad],
    placed: &[Polygons],
    board: [Length; 2],
) -> Result<GroundArea, Finding> {
    let at = |key: &str| steps![section, name, key];
    let layer = copper_layer(at("layer"), &entry.layer, layers)?;
    let size = match entry.outline {
        None => board,
        Some(given) => [
            positive(at("outline"), given.0[0], "the area's width")?,
            positive(at("outline"), given.0[1], "the area's height")?,
        ],
    };
    let centre = entry.centre.map_or([Length::default(); 2], |given| given.0);
    for coordinate in centre {
        in_range(at("centre"), coordinate, "the centre")?;
    }
    let bounds = rectangle(size, centre);
    if !inside_board(bounds, board) {
        let key = if entry.outline.is_some() {
            "outline"
        } else {
            "centre"
        };
        let [width, height] = board.map(show_mm);
        return Err(Finding::at(
            at(key),
            format!("{section} \"{name}\" reaches outside the board ({width} x {height})"),
            "make it smaller or the board larger",
        ));
    }
    let touched = pads
        .iter()
        .zip(placed)
        .filter(|(pad, _)| pad.layer == layer)
        .find(|(_, polygons)| distance(&corners(bounds), polygons) < TOUCHING_M)
        .map(|(pad, _)| pad);
    let clearance = match (entry.clearance, touched) {
        (Some(given), _) => not_negative(at("clearance"), given.0, "the clearance")?,
        (None, None) => Length::default(),
        (None, Some(pad)) => {
            return Err(Finding::at(
                steps![section, name],
                format!(
                    "{section} \"{name}\" covers pad \"{}\": they are shorted",
                    pad.name
                ),
                "add clearance = \"1 mm\", the distance it keeps to pads",
            ));
        }
    };
    if let Some(pad) = touched
        && clearance.metres() < TOUCHING_M
    {
        return Err(Finding::at(
            at("clearance"),
            format!(
                "without clearance {section} \"{name}\" and pad \"{}\" are shorted",
                pad.name
            ),
            "write more than 0 mm",
        ));
    }
    Ok(GroundArea {
        name: name.to_owned(),
        layer,
        size,
        centre,
        clearance,
        fill: fill((section, name), entry)?,
        connection: Connection::Grounded,
    })
}

/// Widest mesh that is plausible.
const LARGEST_PITCH: Length = Length::from_mm(50.0);

fn fill((section, name): (&str, &str), entry: &GroundEntry) -> Result<Fill, Finding> {
    let at = |key: &str| steps![section, name, key];
    let is_hatched = entry.fill.is_some_and(|word| word.0 == FillKind::Hatch);
    if !is_hatched {
        let given = [
            ("line", entry.line.is_some()),
            ("pitch", entry.pitch.is_some()),
            ("angle", entry.angle.is_some()),
            ("treat_as", entry.drawn.is_some()),
        ];
        return match given.iter().find(|(_, given)| *given) {
            Some((key, _)) => Err(Finding::at_key(
                at(key),
                format!("a solid area has no \"{key}\""),
                "add fill = \"hatch\"",
            )),
            None => Ok(Fill::Solid),
        };
    }
    let missing = |key: &str| {
        Finding::at(
            at("fill"),
            format!("the hatch of {section} \"{name}\" has no \"{key}\""),
            "a hatch is described by line and pitch, such as line = \"0.2 mm\", pitch = \"2 mm\"",
        )
    };
    let line = entry.line.ok_or_else(|| missing("line"))?;
    let pitch = entry.pitch.ok_or_else(|| missing("pitch"))?;
    let line = positive(at("line"), line.0, "the line width")?;
    let pitch = positive(at("pitch"), pitch.0, "the pitch")?;
    if line >= pitch {
        return Err(Finding::at(
            at("line"),
            format!(
                "lines of {} leave nothing open at a pitch of {}",
                show_mm(line),
                show_mm(pitch)
            ),
            "write less than the pitch, or fill = \"solid\"",
        ));
    }
    if pitch > LARGEST_PITCH {
        return Err(Finding::at(
            at("pitch"),
            "the pitch is out of range",
            format!("write at most {}", show_mm(LARGEST_PITCH)),
        ));
    }
    let degrees = entry.angle.map_or(0.0, |angle| angle.degrees);
    let is_diagonal = match degrees.rem_euclid(90.0) {
        0.0 => false,
        45.0 => true,
        _ => {
            return Err(Finding::at(
                at("angle"),
                format!("lines at {degrees} degrees are not known here"),
                "write \"0 deg\" or \"45 deg\"",
            ));
        }
    };
    Ok(Fill::Hatch(Hatch {
        line,
        pitch,
        is_diagonal,
        is_drawn: entry.drawn.is_some_and(|word| word.0 == Drawn::Lines),
    }))
}

pub(super) fn corners([low, high]: Rectangle) -> Polygons {
    vec![vec![low, [high[0], low[1]], high, [low[0], high[1]]]]
}
