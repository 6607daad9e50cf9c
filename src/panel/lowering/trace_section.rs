//! A cut across a trace, with a finger on the face above it: planar, results per metre of trace.

use super::super::outline::{distance, pad_polygons};
use super::super::{Connection, Finger, Panel, Trace, TraceNet};
use super::LoweringError;
use super::copper;
use super::cut::Plane;
use super::levels::Levels;
use super::section::planar_case;
use padfield_engine::case::Case;
use padfield_engine::units::Length;

/// Distance of the places that are looked at for the cut.
const STEP: Length = Length::from_mm(1.0);

/// A trace and what lies around it, as a planar field problem.
#[derive(Clone, Debug, PartialEq)]
pub struct TraceSection {
    /// The problem; conductors besides the trace and the finger are to be held at 0 V.
    pub case: Case,
    /// Name of the trace's conductor.
    pub conductor: String,
    /// Where the cut meets the middle of the trace, x and y \[m\].
    pub at_m: [f64; 2],
    /// Whether the cut meets the trace's own pad.
    pub meets_own_pad: bool,
}

/// Cuts trace number `trace` where it is farthest from all pads, under a finger on its middle.
///
/// # Errors
/// See [`LoweringError`].
pub fn trace_section(
    panel: &Panel,
    trace: usize,
    finger: &Finger,
) -> Result<TraceSection, LoweringError> {
    let drawn = &panel.traces[trace];
    let (at_m, along) = farthest_from_pads(panel, drawn);
    let plane = Plane {
        normal: along,
        at_m: at_m[along],
    };
    // On its own the trace is a conductor with a row.
    let mut alone = panel.clone();
    alone.traces[trace].net = TraceNet::Own(Connection::Grounded);
    // Its pad may have the same name.
    let conductor = format!("trace {}", drawn.name);
    alone.traces[trace].name.clone_from(&conductor);
    let levels = Levels::new(panel, drawn.layer)?;
    let metal = copper::metal(&alone, &levels, &[])?;
    let metal = plane.metal(metal.conductors, metal.screens);
    let mut met = metal.conductors.iter();
    let meets_own_pad =
        matches!(&drawn.net, TraceNet::Pad(pad) if met.any(|conductor| conductor.name == *pad));
    let under = (finger, at_m[plane.across()]);
    Ok(TraceSection {
        case: planar_case(panel, &levels, plane, metal, under, &drawn.name),
        conductor,
        at_m,
        meets_own_pad,
    })
}

/// Place on the middle of a trace, and the axis that it runs along there.
fn farthest_from_pads(panel: &Panel, trace: &Trace) -> ([f64; 2], usize) {
    let outlines: Vec<_> = panel.pads.iter().map(pad_polygons).collect();
    let room = |at: &[f64; 2]| {
        let point = vec![vec![*at]];
        let distances = outlines.iter().map(|outline| distance(outline, &point));
        distances.fold(f64::INFINITY, f64::min)
    };
    let points = trace.points(STEP);
    // Between corners, so that the cut is across one piece.
    let inner = points
        .windows(2)
        .filter(|pair| pair[0].1 == pair[1].1)
        .map(|pair| {
            let middle = [0, 1].map(|axis| 0.5 * (pair[0].0[axis] + pair[1].0[axis]));
            (middle, pair[0].1)
        });
    inner
        .max_by(|a, b| room(&a.0).total_cmp(&room(&b.0)))
        .unwrap_or(points[0])
}
