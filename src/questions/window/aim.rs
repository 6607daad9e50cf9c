//! Where a user who aims at a pad may land.

use crate::panel::{Finger, Model, Panel};
use padfield_engine::units::Length;

/// Other pads up to this many times as far as the nearest one count as neighbours.
const NEIGHBOURHOOD: f64 = 1.25;

/// An offset from the pad's centre and the pad it points to.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Aim {
    pub offset: [Length; 2],
    pub towards: Option<usize>,
}

/// The middle, and the aim error along both axes and towards every neighbour: between them a pad sees
/// no less of a finger that left and no more of one that came.
pub(super) fn aims(panel: &Panel, pad: usize, user: &Finger) -> Vec<Aim> {
    // About an axis there is no other place than the middle.
    if panel.model.value == Model::Axisymmetric {
        return vec![Aim {
            offset: [Length::default(); 2],
            towards: None,
        }];
    }
    let own = user.offset;
    let reach = user.aim_error.value.metres();
    let mut aims = vec![Aim {
        offset: own,
        towards: None,
    }];
    if reach <= 0.0 {
        return aims;
    }
    let neighbours = neighbours(panel, pad);
    let mut directions: Vec<([f64; 2], Option<usize>)> = neighbours
        .iter()
        .map(|&(other, direction)| (direction, Some(other)))
        .collect();
    for axis in [[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]] {
        let is_there = |(direction, _): &([f64; 2], Option<usize>)| {
            direction[0] * axis[0] + direction[1] * axis[1] > 1.0 - 1e-9
        };
        if !directions.iter().any(is_there) {
            directions.push((axis, None));
        }
    }
    aims.extend(directions.into_iter().map(|(direction, towards)| Aim {
        offset:
            [0, 1].map(|axis| Length::from_metres(own[axis].metres() + reach * direction[axis])),
        towards,
    }));
    aims
}

/// Neighbouring pads with the unit vector towards each.
fn neighbours(panel: &Panel, pad: usize) -> Vec<(usize, [f64; 2])> {
    let here = panel.pads[pad].centre;
    let vectors: Vec<(usize, [f64; 2], f64)> = (0..panel.pads.len())
        .filter(|&other| other != pad)
        .map(|other| {
            let there = panel.pads[other].centre;
            let [x, y] = [0, 1].map(|axis| (there[axis] - here[axis]).metres());
            (other, [x, y], x.hypot(y))
        })
        .filter(|(_, _, distance)| *distance > 0.0)
        .collect();
    let nearest = vectors.iter().map(|v| v.2).fold(f64::INFINITY, f64::min);
    vectors
        .into_iter()
        .filter(|(_, _, distance)| *distance <= NEIGHBOURHOOD * nearest)
        .map(|(other, [x, y], distance)| (other, [x / distance, y / distance]))
        .collect()
}

/// Middles of a palm of so large a radius whose edge is so far from the pad's centre and from no other
/// pad's nearer; offsets from the pad's centre.
pub(crate) fn palm_offsets(
    panel: &Panel,
    pad: usize,
    edge: Length,
    radius: Length,
) -> Vec<[Length; 2]> {
    let reach = edge.metres() + radius.metres();
    [[1.0, 0.0], [-1.0, 0.0], [0.0, 1.0], [0.0, -1.0]]
        .into_iter()
        .map(|direction| direction.map(|part| Length::from_metres(part * reach)))
        .filter(|offset| {
            panel.pads.iter().all(|other| {
                let [x, y] = [0, 1].map(|axis| {
                    let middle = panel.pads[pad].centre[axis] + offset[axis];
                    (middle - other.centre[axis]).metres()
                });
                x.hypot(y) >= reach - 1e-9
            })
        })
        .collect()
}
