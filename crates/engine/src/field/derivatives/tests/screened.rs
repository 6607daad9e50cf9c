//! The same around and beside screens.

use super::{MM, axisymmetric, blocks, check_permittivities, check_segments, extent, planar};
use crate::case::{Case, Conductor, Kind, Screen};

/// A case with a screen of a conductor of its own.
fn screened(mut case: Case, low: [f64; 3], high: [f64; 3]) -> Case {
    case.id = format!("screened {}", case.id);
    case.conductors.push(Conductor {
        name: "hatch".into(),
        solids: Vec::new(),
    });
    case.screens.push(Screen {
        conductor: "hatch".into(),
        extent: extent(low, high),
        depth_m: 0.3 * MM,
    });
    case
}

/// On a face of the overlay, partly covered by the finger and beyond the end of the board; inside a board.
pub(super) fn all_screened() -> [(Case, f64); 3] {
    [
        (screened(planar(), [9.0, 4.6, 0.0], [48.0, 4.6, 0.0]), 1.5),
        (
            screened(axisymmetric(), [2.0, 1.0, 0.0], [12.0, 1.0, 0.0]),
            1.5,
        ),
        (screened(blocks(), [6.0, 10.0, 1.0], [22.0, 24.0, 1.0]), 0.6),
    ]
}

#[test]
fn segments_around_screens() {
    for (case, fineness) in all_screened() {
        // About an axis all that lies beyond a segment moves; elsewhere those that start at an edge or
        // at the level of the screen tell enough.
        let all = case.kind == Kind::Axisymmetric;
        let starts = case.screens[0].extent.low_m;
        check_segments(&case, fineness, |axis, low, _| {
            all || (low - starts[axis]).abs() < 1e-9
        });
    }
}

#[test]
fn permittivities_beside_screens() {
    for (case, fineness) in all_screened() {
        check_permittivities(&case, fineness, 1e-7);
    }
}
