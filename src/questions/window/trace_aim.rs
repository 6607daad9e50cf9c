//! Where a finger lies on a trace and on no pad.

use crate::panel::outline::{distance, pad_polygons};
use crate::panel::{Finger, Panel, TraceNet};
use padfield_engine::units::Length;

/// Distance of the places that are looked at along a trace.
const STEP: Length = Length::from_mm(1.0);

/// How a finger came to lie on a trace.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum OnTrace {
    /// Nobody who aims at any pad could land here: the contact is clear of all pads by the aim error.
    Clear,
    /// Somebody who aimed at the pad of the trace and missed it by no more than the aim error.
    WithinAim,
}

/// A place on a trace.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct TracePlace {
    /// Number of the trace in the panel.
    pub trace: usize,
    /// The pad of the trace.
    pub pad: usize,
    /// From that pad's centre.
    pub offset: [Length; 2],
    /// How the finger came there.
    pub kind: OnTrace,
}

/// For every drawn trace of a pad up to three places for the finger: the nearest to its pad where nobody
/// who aims at a pad could land, the end of the trace, and the near miss: off the pad, but within the aim
/// error.
pub(crate) fn trace_places(panel: &Panel, finger: &Finger) -> Vec<TracePlace> {
    let outlines: Vec<_> = panel.pads.iter().map(pad_polygons).collect();
    let contact = finger.contact.metres() / 2.0;
    let aim_error = finger.aim_error.value.metres();
    let mut places = Vec::new();
    for (trace, drawn) in panel.traces.iter().enumerate() {
        let TraceNet::Pad(name) = &drawn.net else {
            continue;
        };
        let Some(pad) = panel.pads.iter().position(|pad| pad.name == *name) else {
            continue;
        };
        // Distance of the contact patch from a pad's copper.
        let gap = |outline: &Vec<_>, at: &[f64; 2]| distance(outline, &[vec![*at]]) - contact;
        let is_off = |at: &[f64; 2], least: f64| outlines.iter().all(|o| gap(o, at) >= least);
        let points: Vec<[f64; 2]> = drawn.points(STEP).into_iter().map(|(at, _)| at).collect();
        let own = &outlines[pad];
        let by_gap = |a: &&[f64; 2], b: &&[f64; 2]| gap(own, a).total_cmp(&gap(own, b));
        let clear = || points.iter().filter(|at| is_off(at, aim_error));
        let (nearest, end) = (clear().min_by(by_gap), clear().max_by(by_gap));
        let missed = points
            .iter()
            .filter(|at| is_off(at, 0.0) && gap(own, at) < aim_error)
            .min_by(by_gap);
        let ends = [
            (nearest, OnTrace::Clear),
            (end.filter(|_| end != nearest), OnTrace::Clear),
            (missed, OnTrace::WithinAim),
        ];
        places.extend(ends.into_iter().filter_map(|(at, kind)| {
            let at = at?;
            Some(TracePlace {
                trace,
                pad,
                offset: [0, 1]
                    .map(|axis| Length::from_metres(at[axis]) - panel.pads[pad].centre[axis]),
                kind,
            })
        }));
    }
    places
}
