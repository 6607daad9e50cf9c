//! Frames on the touched face and objects near the panel as conductors.

use super::super::metal::{Connection, ObjectSide};
use super::super::{Bezel, MetalObject, Panel};
use super::LoweringError;
use super::copper::{Metal, block};
use super::levels::Levels;
use padfield_engine::case::{RoundBody, Solid};

/// Adds every frame and object.
pub(super) fn add(panel: &Panel, levels: &Levels, metal: &mut Metal) -> Result<(), LoweringError> {
    for bezel in &panel.bezels {
        let face = levels.touched_face_m;
        let height = [face, face + bezel.height.metres()];
        let sides = bezel.sides().map(|side| block(side, height)).to_vec();
        // A conductor of its own even at 0 V: a finger may touch it.
        metal.add_own(&bezel.name, bezel.connection, sides)?;
    }
    for object in &panel.objects {
        let solids = vec![block(object.outline(), heights(object, levels))];
        // What may be gone is a conductor of its own even at 0 V.
        if object.moves {
            metal.add_own(&object.name, object.connection, solids)?;
        } else {
            metal.add(&object.name, object.connection, solids)?;
        }
    }
    Ok(())
}

/// Marks the parts that the finger touches, or that its other hand holds; gives their pieces.
pub(super) fn join(
    panel: &Panel,
    levels: &Levels,
    body: &RoundBody,
    metal: &mut Metal,
    simplifications: &mut Vec<String>,
) -> Vec<Solid> {
    let mut joined = Vec::new();
    for part in &mut metal.parts {
        let bezel = panel.bezels.iter().find(|bezel| bezel.name == part.name);
        let is_reached = bezel.is_some_and(|bezel| reaches(body, levels, bezel));
        part.is_touched = is_reached || part.connection == Connection::Body;
        if !part.is_touched {
            continue;
        }
        let conductor = metal.conductors.iter().find(|c| c.name == part.name);
        joined.extend(conductor.into_iter().flat_map(|c| c.solids.iter().cloned()));
        simplifications.push(match is_reached {
            true => format!(
                "finger and frame \"{}\" touch and are one conductor",
                part.name
            ),
            false => format!(
                "finger and \"{}\" are one conductor: the user's body",
                part.name
            ),
        });
    }
    joined
}

/// Whether the fingertip meets a frame.
fn reaches(body: &RoundBody, levels: &Levels, bezel: &Bezel) -> bool {
    // Radius of the paraboloid at the height of the frame's upper edge.
    let height = levels.touched_face_m + bezel.height.metres() - body.bottom_m;
    if height < 0.0 {
        return false;
    }
    let radius = (body.contact_radius_m.powi(2) + 2.0 * body.dome_radius_m * height)
        .sqrt()
        .min(body.dome_radius_m);
    bezel.sides().iter().any(|[low, high]| {
        let away = [0, 1].map(|axis| {
            let at = body.centre_m[axis];
            (low[axis] - at).max(at - high[axis]).max(0.0)
        });
        away[0].hypot(away[1]) <= radius
    })
}

/// Least and largest coordinate of everything there is beside the finger along x or y \[m\].
pub(super) fn span(panel: &Panel, levels: &Levels, axis: usize) -> [f64; 2] {
    let half = panel.board.value[axis].metres() / 2.0;
    let objects = panel.objects.iter().map(|object| object.outline());
    let sheets = levels.dielectrics.iter().map(|sheet| sheet.plane_m);
    objects
        .chain(sheets)
        .fold([-half, half], |[least, most], [low, high]| {
            [least.min(low[axis]), most.max(high[axis])]
        })
}

/// Lowest and highest face of everything there is beside the finger \[m\].
pub(super) fn reach(panel: &Panel, levels: &Levels) -> [f64; 2] {
    let objects = panel.objects.iter().map(|object| heights(object, levels));
    let all = objects.chain([[levels.back_m, levels.touched_face_m]]);
    all.fold(
        [f64::INFINITY, f64::NEG_INFINITY],
        |[low, high], [bottom, top]| [low.min(bottom), high.max(top)],
    )
}

fn heights(object: &MetalObject, levels: &Levels) -> [f64; 2] {
    let [distance, thickness] = [object.distance, object.thickness].map(|l| l.metres());
    match object.side {
        ObjectSide::Behind => {
            let top = levels.back_m - distance;
            [top - thickness, top]
        }
        ObjectSide::Before => {
            let bottom = levels.touched_face_m + distance;
            [bottom, bottom + thickness]
        }
    }
}
