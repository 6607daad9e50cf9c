//! What a panel is expected to show where something was measured.

use super::read::{MeasuredValue, Quantity};
use crate::panel::Panel;
use crate::response::{Estimated, Response};
use padfield_engine::units::Capacitance;

/// Field part of a pad: what circuit and stray capacitance do not change.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldPart {
    pub pad: String,
    /// Base capacitance.
    pub base: Estimated,
    /// Touch shift, when it was touched.
    pub shift: Option<Estimated>,
}

pub(super) fn field_parts(response: &Response) -> Vec<FieldPart> {
    let pads = response.pads.iter();
    pads.filter_map(|pad| {
        Some(FieldPart {
            pad: pad.name.clone(),
            base: pad.base?.computed,
            shift: pad.touch.as_ref().map(|touch| touch.shift),
        })
    })
    .collect()
}

/// The value a panel with these field parts shows, and its numerical error; none when that pad or its touch
/// is not among them.
pub(super) fn predicted(
    panel: &Panel,
    parts: &[FieldPart],
    value: &MeasuredValue,
) -> Option<[f64; 2]> {
    let part = parts.iter().find(|part| part.pad == value.pad)?;
    let pad = panel.pads.iter().find(|pad| pad.name == value.pad)?;
    let circuit = &panel.electronics.circuit;
    let base = part.base.value + panel.stray.of(pad).total().nominal;
    let shifted = |shift: Capacitance, base: Capacitance| circuit.counts_towards_touch(base, shift);
    Some(match value.quantity {
        Quantity::BaseCount => {
            let slope = circuit.counts_per_farad(base);
            [
                circuit.count(base),
                (slope * part.base.error.farads()).abs(),
            ]
        }
        Quantity::BaseAtPin => [base.pf(), part.base.error.pf()],
        Quantity::TouchShift => {
            let shift = part.shift?;
            [shift.value.pf(), shift.error.pf()]
        }
        Quantity::CountShift => {
            let shift = part.shift?;
            let counts = shifted(shift.value, base);
            let of_shift = shifted(shift.value + shift.error, base) - counts;
            let of_base = shifted(shift.value, base + part.base.error) - counts;
            [counts, of_shift.abs() + of_base.abs()]
        }
    })
}
