//! A glove as a flat sheet between touched face and fingertip, which comes and goes with the finger.

use super::FINGER;
use super::levels::Levels;
use crate::panel::Finger;
use padfield_engine::case::{Dielectric, Extent};

/// What is simplified about a glove.
pub(super) fn simplification(finger: &Finger) -> Option<String> {
    finger
        .glove
        .map(|_| "the glove is a flat sheet under the fingertip, of the same area".to_owned())
}

/// How far the fingertip is lifted \[m\].
pub(super) fn lift_m(finger: &Finger) -> f64 {
    let glove = finger.glove.map_or(0.0, |glove| glove.thickness.metres());
    finger.distance.metres() + glove
}

/// The sheet over the extent of the fingertip in the first `ends.len()` axes \[m\]; heights follow.
pub(super) fn sheet(levels: &Levels, finger: &Finger, ends: &[[f64; 2]]) -> Option<Dielectric> {
    let glove = finger.glove?;
    let bottom = levels.touched_face_m + finger.distance.metres();
    let mut extent = Extent {
        low_m: [0.0; 3],
        high_m: [0.0; 3],
    };
    for (axis, [low, high]) in ends.iter().enumerate() {
        extent.low_m[axis] = *low;
        extent.high_m[axis] = *high;
    }
    extent.low_m[ends.len()] = bottom;
    extent.high_m[ends.len()] = bottom + glove.thickness.metres();
    Some(Dielectric {
        name: "glove".to_owned(),
        relative_permittivity: glove.permittivity.relative(),
        extent,
        comes_with: Some(FINGER.to_owned()),
    })
}
