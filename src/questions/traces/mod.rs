//! What drawn traces cost: capacitance per length, a finger on them, coupling where they pass pads.
//!
//! Takes a panel with traces, a finger, and the response of its pads; gives [`TraceTable`]; fails when a
//! section or the untouched panel cannot be solved.
//!
//! - **Per length** comes from a plane cut across the trace where it is farthest from all pads
//!   ([`trace_section`](crate::panel::lowering::trace_section)), everything else at 0 V. In the plane the finger is endless along the trace:
//!   times its contact length this is the touch of the trace, ends left out.
//! - **Coupling** comes from the panel in three dimensions, untouched: between a trace's pad and every pad
//!   it passes, with all traces and without any; the difference is what the traces add.

mod checks;
mod coupling;
mod record;
mod report;
mod section;

pub use coupling::Crossing;
pub use record::TracesRecord;
pub use report::report;
pub use section::PerLength;

use crate::panel::lowering::LoweringError;
use crate::panel::{Finger, Panel, TraceNet};
use crate::response::{Estimated, Response};
use crate::touch::{Tally, WorkLimits};
use padfield_engine::field::{FieldError, Printed, join_printed};
use padfield_engine::units::{Capacitance, Length};

/// Share of a typical touch that a threshold is taken for. Common practice, no source.
pub const THRESHOLD_SHARE: f64 = 0.5;
/// Share of the threshold that a touch of a trace may reach. Common practice, no source.
pub const HARMLESS_SHARE: f64 = 0.25;

/// Figures of one trace.
#[derive(Clone, Debug, PartialEq)]
pub struct TraceRow {
    pub name: String,
    /// Its pad; none for a foreign line.
    pub pad: Option<String>,
    pub layer: String,
    /// Length of its middle line outside of the copper of its own pad.
    pub length: Length,
    /// Length of its middle line as drawn.
    pub drawn: Length,
    /// Capacitance per length, untouched and by the finger.
    pub per_length: PerLength,
    /// Shift of the finger's contact length on the trace.
    pub touch: Estimated,
    /// The same over [`THRESHOLD_SHARE`] of the touch shift of its pad; none without a touch to compare
    /// with.
    pub over_threshold: Option<f64>,
    /// Contact length along the trace at which the shift is [`HARMLESS_SHARE`] of that threshold.
    pub harmless: Option<Length>,
}

/// Figures of all traces of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct TraceTable {
    pub finger: String,
    /// Its contact length along a trace.
    pub contact: Length,
    /// One row per trace, in file order.
    pub rows: Vec<TraceRow>,
    /// Pads that a trace of another pad or a foreign line passes on another layer or beside.
    pub crossings: Vec<Crossing>,
    /// Whether the accuracy was reached everywhere.
    pub accuracy_reached: bool,
    /// What of the capacitances per length missed it.
    pub missed: Vec<Printed>,
}

#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TraceError {
    #[error(transparent)]
    Lowering(#[from] LoweringError),
    /// The field engine gave no answer.
    #[error(transparent)]
    Field(#[from] FieldError),
}

/// Solves the sections of all traces and the couplings of the untouched panel; none without traces.
///
/// # Errors
/// See [`TraceError`].
pub fn trace_table(
    panel: &Panel,
    finger: &Finger,
    response: &Response,
    limits: &WorkLimits<'_>,
) -> Result<Option<TraceTable>, TraceError> {
    if panel.traces.is_empty() {
        return Ok(None);
    }
    let mut table = TraceTable {
        finger: finger.name.clone(),
        contact: finger.contact,
        rows: Vec::new(),
        crossings: Vec::new(),
        accuracy_reached: true,
        missed: Vec::new(),
    };
    // Each in a cut of its own, then what they couple with.
    let tally = Tally::new(
        panel.traces.len() + 1,
        "solves of traces done",
        limits.progress,
    );
    let tell = |text: &str| tally.tell(text);
    let limits = limits.heard_by(&tell);
    for (index, trace) in panel.traces.iter().enumerate() {
        let per_length = section::per_length(panel, index, finger, &limits)?;
        tally.add();
        table.accuracy_reached &= per_length.accuracy_reached;
        join_printed(&mut table.missed, per_length.missed.iter().cloned());
        let pad = match &trace.net {
            TraceNet::Pad(name) => Some(name.clone()),
            TraceNet::Own(_) => None,
        };
        let own = panel
            .pads
            .iter()
            .find(|own| Some(&own.name) == pad.as_ref());
        let along = |farads_per_metre: f64| {
            Capacitance::from_farads(farads_per_metre * finger.contact.metres())
        };
        let touch = Estimated {
            value: along(per_length.touch.value),
            error: along(per_length.touch.error),
        };
        let threshold = pad.as_ref().and_then(|name| {
            let own = response.pads.iter().find(|pad| pad.name == *name)?;
            Some(own.touch.as_ref()?.shift.value * THRESHOLD_SHARE)
        });
        let over = threshold.map(|threshold| touch.value.farads() / threshold.farads());
        table.rows.push(TraceRow {
            name: trace.name.clone(),
            pad,
            layer: panel.layers[trace.layer].name.clone(),
            length: own.map_or(trace.length(), |own| trace.length_outside(own)),
            drawn: trace.length(),
            touch,
            over_threshold: over,
            harmless: over
                .filter(|over| *over > 0.0)
                .map(|over| finger.contact * (HARMLESS_SHARE / over)),
            per_length,
        });
    }
    let again = limits.starting_at(Some(response.numerics.fineness));
    let (crossings, reached) = coupling::crossings(panel, finger, &again)?;
    table.crossings = crossings;
    table.accuracy_reached &= reached;
    Ok(Some(table))
}
