//! Coupling between a trace and the pads it passes, from the untouched panel with and without traces.

use super::TraceError;
use crate::panel::lowering::{FINGER, LoweringOptions, lower};
use crate::panel::outline::{distance, pad_polygons};
use crate::panel::{Finger, Panel, Trace, TraceNet};
use crate::response::Estimated;
use crate::touch::WorkLimits;
use padfield_engine::field::{Bounded, Settings};
use padfield_engine::units::{Capacitance, Length};

/// A trace nearer to a pad than this passes it.
const NEAR: Length = Length::from_mm(5.0);
/// Distance of the places that are looked at along a trace.
const STEP: Length = Length::from_mm(0.5);

/// A trace that passes the pad of another one.
#[derive(Clone, Debug, PartialEq)]
pub struct Crossing {
    pub trace: String,
    /// The pad it passes.
    pub pad: String,
    /// Length of the trace under or over the copper of the pad.
    pub overlap: Length,
    /// Smallest distance in the plane of the board; zero with an overlap.
    pub distance: Length,
    /// Between the pad and the conductor of the trace, with all traces.
    pub coupling: Estimated,
    /// The same between both pads without any trace; none for a foreign line.
    pub without_traces: Option<Estimated>,
}

pub(super) fn crossings(
    panel: &Panel,
    finger: &Finger,
    limits: &WorkLimits<'_>,
) -> Result<(Vec<Crossing>, bool), TraceError> {
    let mut found: Vec<Crossing> = Vec::new();
    for trace in &panel.traces {
        found.extend(passed(panel, trace));
    }
    if found.is_empty() {
        return Ok((found, true));
    }
    let (with, mut reached) = untouched(panel, finger, limits)?;
    let mut bare = panel.clone();
    bare.traces.clear();
    let has_own_pads = panel
        .traces
        .iter()
        .any(|t| matches!(t.net, TraceNet::Pad(_)));
    let without = match has_own_pads {
        true => {
            let (without, also) = untouched(&bare, finger, limits)?;
            reached &= also;
            Some(without)
        }
        false => None,
    };
    for crossing in &mut found {
        let trace = panel
            .traces
            .iter()
            .find(|trace| trace.name == crossing.trace);
        let Some(trace) = trace else { continue };
        let (conductor, pad) = match &trace.net {
            TraceNet::Pad(pad) => (pad, Some(pad)),
            TraceNet::Own(_) => (&trace.name, None),
        };
        if let Some(coupling) = between(&with, conductor, &crossing.pad) {
            crossing.coupling = coupling;
        }
        crossing.without_traces = pad
            .zip(without.as_ref())
            .and_then(|(pad, matrix)| between(matrix, pad, &crossing.pad));
    }
    Ok((found, reached))
}

/// Pads a trace passes, couplings not yet known.
fn passed(panel: &Panel, trace: &Trace) -> Vec<Crossing> {
    let points: Vec<[f64; 2]> = trace.points(STEP).into_iter().map(|(at, _)| at).collect();
    let nothing = Estimated {
        value: Capacitance::default(),
        error: Capacitance::default(),
    };
    let others = panel
        .pads
        .iter()
        .filter(|pad| !matches!(&trace.net, TraceNet::Pad(own) if *own == pad.name));
    others
        .filter_map(|pad| {
            let outline = pad_polygons(pad);
            let apart = points.iter().map(|at| distance(&outline, &[vec![*at]]));
            let apart = Length::from_metres(apart.fold(f64::INFINITY, f64::min));
            (apart <= NEAR).then(|| Crossing {
                trace: trace.name.clone(),
                pad: pad.name.clone(),
                overlap: trace.length() - trace.length_outside(pad),
                distance: apart,
                coupling: nothing,
                without_traces: None,
            })
        })
        .collect()
}

/// Matrix of pads and foreign lines without finger, and whether its accuracy was reached.
fn untouched(
    panel: &Panel,
    finger: &Finger,
    limits: &WorkLimits<'_>,
) -> Result<(Bounded, bool), TraceError> {
    let bare = Finger {
        glove: None,
        ..finger.clone()
    };
    let first = panel.pads.first().map_or("", |pad| pad.name.as_str());
    let lowered = lower(panel, first, &bare, LoweringOptions::default())?;
    let mut drive = lowered.pads.clone();
    let foreign = panel
        .traces
        .iter()
        .filter(|t| matches!(t.net, TraceNet::Own(_)));
    drive.extend(foreign.map(|trace| trace.name.clone()));
    let mut case = lowered.case;
    case.conductors.retain(|conductor| conductor.name != FINGER);
    let settings = Settings {
        drive: Some(drive),
        ..limits.settings.clone()
    };
    let answer = limits.solve("couplings of the untouched panel", &case, None, &settings)?;
    Ok((answer.with, answer.accuracy.reached))
}

fn between(matrix: &Bounded, one: &str, other: &str) -> Option<Estimated> {
    let index = |name: &str| matrix.conductors.iter().position(|known| known == name);
    let (i, j) = (index(one)?, index(other)?);
    Some(Estimated {
        value: Capacitance::from_farads(-matrix.value[[i, j]]),
        error: Capacitance::from_farads(matrix.estimated_error[[i, j]]),
    })
}
