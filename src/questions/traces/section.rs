//! Capacitance per length of a trace, and what a finger adds, from a plane cut.

use super::TraceError;
use crate::estimate::microstrip;
use crate::panel::lowering::{FINGER, trace_section};
use crate::panel::{Connection, Finger, LayerContent, Panel, Trace};
use crate::touch::WorkLimits;
use padfield_engine::capacitance::{Bounds, Estimate, Measurement, Role, measure, measure_shift};
use padfield_engine::field::{Bounded, Judge, Printed, SMALL_SHIFT, Settings, Shift};
use padfield_engine::units::{Length, LineCapacitance, Permittivity};

/// A trace per metre.
#[derive(Clone, Debug, PartialEq)]
pub struct PerLength {
    /// Where the cut meets the trace, x and y.
    pub at: [Length; 2],
    /// Untouched \[F/m\].
    pub untouched: Estimate,
    /// Bounds of it \[F/m\].
    pub bounds: Bounds,
    /// Added by an earthed finger above it \[F/m\].
    pub touch: Estimate,
    /// Hand estimate: a strip over the nearest ground on another layer, nothing before it.
    pub microstrip: Option<LineCapacitance>,
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
}

pub(super) fn per_length(
    panel: &Panel,
    trace: usize,
    finger: &Finger,
    limits: &WorkLimits<'_>,
) -> Result<PerLength, TraceError> {
    let section = trace_section(panel, trace, finger)?;
    let settings = Settings {
        drive: Some(vec![section.conductor.clone()]),
        start_fineness: None,
        judge: Some(judge(&panel.traces[trace].name)),
        ..limits.settings.clone()
    };
    let what = format!("section of trace {}", panel.traces[trace].name);
    let answer = limits.solve(&what, &section.case, Some(FINGER), &settings)?;
    let shift = answer.shift.as_ref().expect("the finger is left out");
    let (untouched, touch) =
        untouched_and_touch(&answer.with, shift).expect("one row and one role");
    Ok(PerLength {
        at: section.at_m.map(Length::from_metres),
        untouched: untouched.estimate,
        bounds: untouched.bounds,
        touch,
        microstrip: over_ground(panel, &panel.traces[trace], section.at_m),
        accuracy_reached: answer.accuracy.reached,
        missed: answer.accuracy.missed,
    })
}

/// Capacitance per length and what the finger adds. One conductor has a row; everything else is at 0 V.
fn untouched_and_touch(with: &Bounded, shift: &Shift) -> Option<(Measurement, Estimate)> {
    let roles = [Role::Measured];
    let untouched = measure(&shift.without, &roles).ok()?;
    let touch = measure_shift(with, shift, &roles, &roles).ok()?;
    Some((untouched, touch))
}

/// By what is printed of a section: the capacitance per length by itself, what a finger adds by no less than
/// [`SMALL_SHIFT`] of that: under a ground it adds next to nothing.
fn judge(trace: &str) -> Judge {
    let names = ["capacitance per length", "touch per length"]
        .map(|what| format!("{what} of trace \"{trace}\""));
    Judge::new(move |answer| {
        let Some(shift) = &answer.shift else {
            return Vec::new();
        };
        let whole = untouched_and_touch(&answer.with, shift);
        let rest = untouched_and_touch(&answer.with.without_outlines(), &shift.without_outlines());
        let (Some((whole, touch)), Some((rest, touch_rest))) = (whole, rest) else {
            return Vec::new();
        };
        let untouched = whole.estimate.value;
        let size = touch.value.abs().max(SMALL_SHIFT * untouched);
        let told = [
            (whole.estimate, rest.estimate, untouched),
            (touch, touch_rest, size),
        ];
        let each = names.iter().zip(told);
        each.filter_map(|(name, (whole, rest, size))| {
            let value = [whole.value, whole.error];
            Printed::new(name.clone(), value, rest.error, size).map(Printed::per_length)
        })
        .collect()
    })
}

/// The closed form over the nearest grounded area of another layer that lies under or over the place.
fn over_ground(panel: &Panel, trace: &Trace, at_m: [f64; 2]) -> Option<LineCapacitance> {
    let covers = |area: &&crate::panel::GroundArea| {
        area.connection == Connection::Grounded
            && area.layer != trace.layer
            && (0..2).all(|axis| {
                let away = (at_m[axis] - area.centre[axis].metres()).abs();
                away <= area.size[axis].metres() / 2.0
            })
    };
    let nearest = panel.grounds.iter().filter(covers).map(|area| {
        let between = trace.layer.min(area.layer)..trace.layer.max(area.layer);
        let layers = panel.layers[between].iter();
        let slabs = layers.filter_map(|layer| match &layer.content {
            LayerContent::Dielectric { permittivity, .. } => {
                let thickness = layer.thickness.nominal.metres();
                Some([thickness, thickness / permittivity.nominal.relative()])
            }
            LayerContent::Copper => None,
        });
        slabs.fold([0.0; 2], |sum, slab| [sum[0] + slab[0], sum[1] + slab[1]])
    });
    let [height, equivalent] = nearest.min_by(|a, b| a[0].total_cmp(&b[0]))?;
    (height > 0.0).then(|| {
        microstrip(
            trace.width,
            Length::from_metres(height),
            Permittivity::from_relative(height / equivalent),
        )
    })
}
