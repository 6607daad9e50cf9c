//! Capacitance in parallel with the field part: `[stray]`.

use super::common::*;
use crate::panel::Stray;

/// `[stray]`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StrayEntry {
    /// Pin and package; default 5 pF between 3 and 10 pF.
    pub pin: Option<WithTolerance<Capacitance>>,
    /// Per length of trace; default 0.3 pF/cm between 0.1 and 0.6 pF/cm.
    pub trace: Option<WithTolerance<LineCapacitance>>,
}

/// What of `[stray]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        circuit("pin", Measure::Capacitance, [0.0, 100.0], DOUBTED),
        circuit("trace", Measure::LineCapacitance, [0.0, 5.0], DOUBTED),
    ],
    fixed: &[],
};

/// Nominal, least, most. Common practice, no source.
const DEFAULT_PIN_PF: [f64; 3] = [5.0, 3.0, 10.0];
/// Common practice, no source.
const DEFAULT_TRACE_PF_PER_CM: [f64; 3] = [0.3, 0.1, 0.6];

pub(crate) fn stray(file: &PanelFile) -> Result<Stray, Finding> {
    let entry = file.stray.as_ref();
    let pin = entry.and_then(|stray| stray.pin).map(|given| given.0);
    if let Some(given) = pin {
        capacitance_in_range(steps!["stray", "pin"], given.least)?;
        capacitance_in_range(steps!["stray", "pin"], given.most)?;
    }
    let trace = entry.and_then(|stray| stray.trace).map(|given| given.0);
    if let Some(given) = trace {
        let per_metre = given.map(|value| Capacitance::from_farads(value.farads_per_metre()));
        capacitance_in_range(steps!["stray", "trace"], per_metre.least)?;
        capacitance_in_range(steps!["stray", "trace"], per_metre.most)?;
    }
    let default_trace = Toleranced::of(DEFAULT_TRACE_PF_PER_CM);
    Ok(Stray {
        pin: sourced(
            pin,
            Toleranced::of(DEFAULT_PIN_PF).map(Capacitance::from_pf),
        ),
        trace: sourced(trace, default_trace.map(LineCapacitance::from_pf_per_cm)),
    })
}
