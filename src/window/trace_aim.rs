//! Where a finger lies on a trace and on no pad.

use crate::panel::outline::{distance, pad_polygons};
use crate::panel::{Finger, Panel, TraceNet};
use crate::units::Length;

/// Distance of the places that are looked at along a trace.
const STEP: Length = Length::from_mm(1.0);

/// A place on a trace.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct TracePlace {
    /// Number of the trace in the panel.
    pub trace: usize,
    /// The pad of the trace.
    pub pad: usize,
    /// From that pad's centre.
    pub offset: [Length; 2],
}

/// For every drawn trace of a pad up to two places for the finger: the one nearest to its pad, and its
/// end, where the contact lies on no pad.
pub(super) fn trace_places(panel: &Panel, finger: &Finger) -> Vec<TracePlace> {
    let outlines: Vec<_> = panel.pads.iter().map(pad_polygons).collect();
    let reach = finger.contact.metres() / 2.0;
    let mut places = Vec::new();
    for (trace, drawn) in panel.traces.iter().enumerate() {
        let TraceNet::Pad(name) = &drawn.net else {
            continue;
        };
        let Some(pad) = panel.pads.iter().position(|pad| pad.name == *name) else {
            continue;
        };
        let is_free = |at: &[f64; 2]| {
            let point = vec![vec![*at]];
            outlines
                .iter()
                .all(|outline| distance(outline, &point) >= reach)
        };
        let points = drawn.points(STEP).into_iter().map(|(at, _)| at);
        let free: Vec<[f64; 2]> = points.filter(is_free).collect();
        let ends = match &free[..] {
            [] => Vec::new(),
            [only] => vec![only],
            [first, .., last] => vec![first, last],
        };
        places.extend(ends.into_iter().map(|at| TracePlace {
            trace,
            pad,
            offset: [0, 1].map(|axis| Length::from_metres(at[axis]) - panel.pads[pad].centre[axis]),
        }));
    }
    places
}
