//! A quarter of the unit cell of a square hatch, solved in volume.

use super::{HatchError, ScreenDepth};
use crate::case::{Case, Conductor, Extent, Kind, Solid, Wall};
use crate::field::{Settings, solve};
use crate::units::VACUUM_PERMITTIVITY;
use std::collections::HashMap;
use std::f64::consts::PI;
use std::sync::{LazyLock, Mutex, PoisonError};

/// Pitch of the cell that is solved \[m\]; a panel's, so that the grid has its usual lengths.
const PITCH_M: f64 = 1e-3;
/// Height of the lid over the copper, in pitches.
const LID_HEIGHT: f64 = 1.0;
/// Asked of the capacitance between hatch and lid, relative.
const ACCURACY: f64 = 2e-4;
/// Fineness that reaches it at most widths.
const START_FINENESS: f64 = 4.0;

/// Depth over pitch of hatches that were solved before, by the bits of both ratios.
type Solved = HashMap<[u64; 2], ScreenDepth>;
static SOLVED: LazyLock<Mutex<Solved>> = LazyLock::new(Mutex::default);

/// Depth, error and interval over the pitch, for a width over pitch from a thousandth to 1 and a
/// thickness over pitch from 0 to 1.
pub(super) fn relative_depth(width: f64, thickness: f64) -> Result<ScreenDepth, HatchError> {
    let key = [width, thickness].map(f64::to_bits);
    let solved = || SOLVED.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(&depth) = solved().get(&key) {
        return Ok(depth);
    }
    // Solved outside the lock: two threads that ask at once get the same bits.
    let depth = solved_cell(width, thickness)?;
    solved().insert(key, depth);
    Ok(depth)
}

/// The capacitance C of hatch and lid is that of solid plates at a distance of 2 depths more than that
/// from the middle of the copper to the lid.
fn solved_cell(width: f64, thickness: f64) -> Result<ScreenDepth, HatchError> {
    if width == 1.0 {
        return Ok(ScreenDepth {
            depth_m: 0.0,
            estimated_error_m: 0.0,
            interval_m: [0.0; 2],
        });
    }
    let settings = Settings {
        accuracy: ACCURACY,
        start_fineness: Some(START_FINENESS),
        ..Settings::default()
    };
    let answer = solve(&quarter_cell(width, thickness), None, &settings, &|_| {})?;
    let entry = |matrix: &ndarray::Array2<f64>| matrix[[0, 0]] / VACUUM_PERMITTIVITY / PITCH_M;
    let value = entry(&answer.with.value);
    // A quarter of a square of side 1.
    let depth = |c: f64| (0.5 * (0.25 / c - lid_level(thickness))).max(0.0);
    // Under the lid a wave k of the pattern meets the admittance k coth(k height) instead of k. The
    // depth is the reciprocal of a form linear in these, so it falls by at most that of the longest.
    let lid = 1.0 / (2.0 * PI * LID_HEIGHT).tanh();
    let error = entry(&answer.with.estimated_error);
    Ok(ScreenDepth {
        depth_m: depth(value),
        estimated_error_m: 0.125 / value * (error / value) + (lid - 1.0) * depth(value),
        interval_m: [
            depth(entry(&answer.with.upper)),
            depth(entry(&answer.with.lower)) * lid,
        ],
    })
}

/// Height of the lid over the middle of the copper, in pitches.
fn lid_level(thickness: f64) -> f64 {
    LID_HEIGHT + 0.5 * thickness
}

/// The upper halves of two half lines along two sides of the floor, under a grounded lid. The sides are
/// mirror planes; so is the floor, where no field crosses the opening.
fn quarter_cell(width: f64, thickness: f64) -> Case {
    let half = 0.5 * PITCH_M;
    let line = |high: [f64; 2]| {
        Solid::Block(Extent {
            low_m: [0.0; 3],
            high_m: [high[0], high[1], thickness * half],
        })
    };
    let mut walls = [[Wall::Insulated; 2]; 3];
    walls[2][1] = Wall::Grounded;
    Case {
        id: "hatch".into(),
        title: "a quarter of the unit cell of a square hatch".into(),
        kind: Kind::Volume,
        domain: Extent {
            low_m: [0.0; 3],
            high_m: [half, half, lid_level(thickness) * PITCH_M],
        },
        walls,
        background_relative_permittivity: 1.0,
        dielectrics: Vec::new(),
        conductors: vec![Conductor {
            name: "hatch".into(),
            solids: vec![line([width * half, half]), line([half, width * half])],
        }],
        screens: Vec::new(),
    }
}
