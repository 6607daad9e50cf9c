//! What all the copper means together: board, ground areas, guards, and what must not touch.

use super::super::error::Finding;
use super::super::keys::steps;
use super::super::typed::{GroundEntry, GuardEntry, PanelFile};
use super::pads::copper_layer;
use super::{find_name, in_range, not_negative, positive, show_mm, sourced};
use crate::panel::outline::{distance, guard_strips, pad_box, pad_polygons, polygon_box};
use crate::panel::{GroundArea, Guard, Layer, Pad, Sourced};
use crate::units::Length;

/// Kept around the copper when the board has no outline.
const DEFAULT_MARGIN: Length = Length::from_mm(10.0);
/// Copper closer than this counts as touching: rounding of coordinates, not a gap.
const TOUCHING_M: f64 = 1e-9;

type Polygons = Vec<Vec<[f64; 2]>>;
type Copper = (Sourced<[Length; 2]>, Vec<GroundArea>, Vec<Guard>);

pub(super) fn copper(file: &PanelFile, layers: &[Layer], pads: &[Pad]) -> Result<Copper, Finding> {
    let board = board(file, pads)?;
    let placed: Vec<Polygons> = pads.iter().map(pad_polygons).collect();
    pads_on_board(file, pads, board.value)?;
    pads_apart(file, pads, &placed)?;
    let mut grounds = Vec::new();
    for (name, entry) in &file.ground {
        grounds.push(ground(name, entry, layers, pads, &placed, board.value)?);
    }
    let mut guards = Vec::new();
    for (name, entry) in &file.guard {
        guards.push(guard(file, name, entry, pads, &placed)?);
    }
    Ok((board, grounds, guards))
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
        Some(rectangle_box(size, centre).to_vec())
    });
    let bounds = polygon_box(&boxes.chain(areas).collect::<Vec<_>>());
    // The board is centred on 0, 0, so its half width is the farther of the two sides.
    let default = [0, 1].map(|axis| {
        let reach = Length::from_metres(bounds[1][axis].max(-bounds[0][axis]));
        (reach + DEFAULT_MARGIN) * 2.0
    });
    Ok(sourced(given, default))
}

fn rectangle_box(size: [Length; 2], centre: [Length; 2]) -> [[f64; 2]; 2] {
    let edge = |side: f64| [0, 1].map(|axis| (centre[axis] + size[axis] * (0.5 * side)).metres());
    [edge(-1.0), edge(1.0)]
}

fn inside_board(bounds: [[f64; 2]; 2], board: [Length; 2]) -> bool {
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

fn ground(
    name: &str,
    entry: &GroundEntry,
    layers: &[Layer],
    pads: &[Pad],
    placed: &[Polygons],
    board: [Length; 2],
) -> Result<GroundArea, Finding> {
    let at = |key: &str| steps!["ground", name, key];
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
    let bounds = rectangle_box(size, centre);
    if !inside_board(bounds, board) {
        let key = if entry.outline.is_some() {
            "outline"
        } else {
            "centre"
        };
        let [width, height] = board.map(show_mm);
        return Err(Finding::at(
            at(key),
            format!("ground \"{name}\" reaches outside the board ({width} x {height})"),
            "make it smaller or the board larger",
        ));
    }
    let touched = pads
        .iter()
        .zip(placed)
        .filter(|(pad, _)| pad.layer == layer)
        .find(|(_, polygons)| distance(&rectangle(bounds), polygons) < TOUCHING_M)
        .map(|(pad, _)| pad);
    let clearance = match (entry.clearance, touched) {
        (Some(given), _) => not_negative(at("clearance"), given.0, "the clearance")?,
        (None, None) => Length::default(),
        (None, Some(pad)) => {
            return Err(Finding::at(
                steps!["ground", name],
                format!(
                    "ground \"{name}\" covers pad \"{}\": they are shorted",
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
                "without clearance ground \"{name}\" and pad \"{}\" are shorted",
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
    })
}

fn rectangle([low, high]: [[f64; 2]; 2]) -> Polygons {
    vec![vec![low, [high[0], low[1]], high, [low[0], high[1]]]]
}

fn guard(
    file: &PanelFile,
    name: &str,
    entry: &GuardEntry,
    pads: &[Pad],
    placed: &[Polygons],
) -> Result<Guard, Finding> {
    let at = |key: &str| steps!["guard", name, key];
    let groups = file.pads.keys().map(String::as_str);
    find_name(at("between"), &entry.between, "pad group", groups)?;
    let group: Vec<&Pad> = pads
        .iter()
        .filter(|pad| pad.group == entry.between)
        .collect();
    let [first, _, ..] = group[..] else {
        return Err(Finding::at(
            at("between"),
            format!(
                "\"{}\" has only one pad: there is nothing between",
                entry.between
            ),
            "name a group with several columns or rows",
        ));
    };
    let width = not_negative(at("width"), entry.width.0, "the guard width")?;
    if width.metres() > 0.0 {
        for strip in guard_strips(&group, width) {
            let touched = pads
                .iter()
                .zip(placed)
                .filter(|(pad, _)| pad.layer == first.layer)
                .find(|(_, polygons)| distance(&rectangle(strip), polygons) < TOUCHING_M);
            if let Some((pad, _)) = touched {
                return Err(Finding::at(
                    at("width"),
                    format!(
                        "a guard of {} touches pad \"{}\": they are shorted",
                        show_mm(width),
                        pad.name
                    ),
                    "write less than the gap between the pads",
                ));
            }
        }
    }
    Ok(Guard {
        name: name.to_owned(),
        group: entry.between.clone(),
        layer: first.layer,
        width,
    })
}
