//! Pads, ground areas and guards as conductors of a volume.

use super::super::outline::{guard_strips, pad_box, pad_polygons};
use super::super::{GroundArea, Outline, Pad, Panel};
use super::levels::Levels;
use super::polygon::{Rectangle, grow, subtract_polygons, subtract_rectangles};
use super::{GROUND, LoweringError};
use crate::case::{Conductor, Extent, Prism, RoundBody, Solid};

/// Copper of a panel as conductors, without finger: pads in panel order, then the ground if any.
///
/// Heights count from the lower face of the first pad's copper.
///
/// # Errors
/// See [`LoweringError`]; a panel without pads gives no conductor but the ground.
pub fn copper_conductors(panel: &Panel) -> Result<Vec<Conductor>, LoweringError> {
    let reference = panel.pads.first().map(|pad| pad.layer);
    match reference {
        Some(layer) => conductors(panel, &Levels::new(panel, layer)?),
        None => Ok(Vec::new()),
    }
}

pub(super) fn conductors(panel: &Panel, levels: &Levels) -> Result<Vec<Conductor>, LoweringError> {
    let mut conductors = Vec::with_capacity(panel.pads.len() + 2);
    for pad in &panel.pads {
        let level = levels.copper_level(panel, pad.layer, &pad.name)?;
        conductors.push(Conductor {
            name: pad.name.clone(),
            solids: vec![pad_solid(pad, level)],
        });
    }
    let mut ground = Vec::new();
    for area in &panel.grounds {
        let level = levels.copper_level(panel, area.layer, &area.name)?;
        ground.extend(ground_solids(panel, area, level));
    }
    for guard in &panel.guards {
        if guard.width.metres() <= 0.0 {
            continue;
        }
        let level = levels.copper_level(panel, guard.layer, &guard.name)?;
        let group: Vec<&Pad> = panel
            .pads
            .iter()
            .filter(|pad| pad.group == guard.group)
            .collect();
        for strip in guard_strips(&group, guard.width) {
            let same_layer = panel.pads.iter().filter(|pad| pad.layer == guard.layer);
            if let Some(pad) = same_layer
                .into_iter()
                .find(|pad| touches(strip, pad_box(pad)))
            {
                return Err(LoweringError::GuardTouches {
                    name: guard.name.clone(),
                    width_mm: guard.width.mm(),
                    pad: pad.name.clone(),
                });
            }
            ground.push(block(strip, level));
        }
    }
    if !ground.is_empty() {
        conductors.push(Conductor {
            name: GROUND.to_owned(),
            solids: ground,
        });
    }
    Ok(conductors)
}

fn touches(a: Rectangle, b: Rectangle) -> bool {
    (0..2).all(|axis| a[0][axis] <= b[1][axis] && b[0][axis] <= a[1][axis])
}

fn pad_solid(pad: &Pad, level: [f64; 2]) -> Solid {
    let [bottom_m, top_m] = level;
    match &pad.outline {
        Outline::Rectangle { .. } if is_upright(pad) && pad.hole.is_none() => {
            block(pad_box(pad), level)
        }
        Outline::Disc { diameter } if pad.hole.is_none() => Solid::Round(RoundBody {
            centre_m: pad.centre.map(|at| at.metres()),
            contact_radius_m: diameter.metres() / 2.0,
            dome_radius_m: diameter.metres() / 2.0,
            bottom_m,
            top_m,
        }),
        _ => Solid::Prism(Prism {
            outlines_m: pad_polygons(pad),
            bottom_m,
            top_m,
        }),
    }
}

/// Whether a rectangle's sides stay along x and y.
fn is_upright(pad: &Pad) -> bool {
    pad.rotation_degrees.rem_euclid(90.0) == 0.0
}

fn block(area: Rectangle, [bottom_m, top_m]: [f64; 2]) -> Solid {
    let [low, high] = area;
    Solid::Block(Extent {
        low_m: [low[0], low[1], bottom_m],
        high_m: [high[0], high[1], top_m],
    })
}

fn ground_solids(panel: &Panel, ground: &GroundArea, level: [f64; 2]) -> Vec<Solid> {
    let area = ground_rectangle(ground);
    let clearance_m = ground.clearance.metres();
    let pads: Vec<&Pad> = panel
        .pads
        .iter()
        .filter(|pad| pad.layer == ground.layer)
        .collect();
    let all_boxes = pads
        .iter()
        .all(|pad| matches!(pad.outline, Outline::Rectangle { .. }) && is_upright(pad));
    if all_boxes {
        let holes: Vec<Rectangle> = pads
            .iter()
            .map(|pad| {
                let [low, high] = pad_box(pad);
                [
                    low.map(|at| at - clearance_m),
                    high.map(|at| at + clearance_m),
                ]
            })
            .collect();
        return subtract_rectangles(area, &holes)
            .into_iter()
            .map(|rest| block(rest, level))
            .collect();
    }
    let holes: Vec<Vec<[f64; 2]>> = pads
        .iter()
        .flat_map(|pad| {
            // The first outline is the outer one: a hole carries no ground.
            grow(&pad_polygons(pad)[0], clearance_m)
        })
        .collect();
    subtract_polygons(area, &holes)
        .into_iter()
        .map(|outlines_m| {
            Solid::Prism(Prism {
                outlines_m,
                bottom_m: level[0],
                top_m: level[1],
            })
        })
        .collect()
}

pub(super) fn ground_rectangle(ground: &GroundArea) -> Rectangle {
    let at = |axis: usize, side: f64| {
        ground.centre[axis].metres() + side * ground.size[axis].metres() / 2.0
    };
    [[at(0, -1.0), at(1, -1.0)], [at(0, 1.0), at(1, 1.0)]]
}
