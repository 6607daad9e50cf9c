//! What the solved touches make of every pad: its base, its touch, its neighbours, as shares of the base.

use super::answer::{
    BaseCapacitance, Estimated, Neighbour, PadResponse, RelativeShift, StrayPart, Touch,
};
use super::estimates::hand_estimates;
use crate::estimate::relative_shift;
use crate::panel::{Finger, Model, Pad, Panel};
use crate::touch::SeenTouch;
use padfield_engine::capacitance::{Estimate, Measurement};
use padfield_engine::units::Capacitance;

/// One touch with its field results, solved or mirrored.
pub(super) struct Solved {
    pub touched: usize,
    pub mirrored_from: Option<usize>,
    pub field: SeenTouch,
}

/// The base of a pad, from the grid of its own touch where there is one.
pub(super) fn base_of(solved: &[Solved], index: usize) -> Option<Measurement> {
    let own = solved.iter().filter(|one| one.touched == index);
    own.chain(solved).find_map(|one| one.field.bases[index])
}

/// Every pad of the panel, in its order, with its base.
pub(super) fn pad_responses(
    panel: &Panel,
    finger: &Finger,
    solved: &[Solved],
    bases: &[Option<Measurement>],
) -> Vec<PadResponse> {
    let loads_of = |index: usize| -> Vec<(String, Estimated)> {
        let own = solved.iter().filter(|one| one.touched == index);
        let found = own
            .chain(solved)
            .find(|one| one.field.bases[index].is_some());
        let loads = found.map(|one| one.field.loads[index].clone());
        let loads = loads.unwrap_or_default().into_iter();
        loads.map(|(name, load)| (name, estimated(load))).collect()
    };
    let mut pads: Vec<PadResponse> = panel
        .pads
        .iter()
        .enumerate()
        .map(|(index, pad)| PadResponse {
            driver_loads: loads_of(index),
            ..untouched(panel, pad, bases[index])
        })
        .collect();
    for one in solved {
        if let Some(touch) = touch(panel, finger, &pads, one) {
            pads[one.touched].touch = Some(touch);
        }
    }
    pads
}

fn untouched(panel: &Panel, pad: &Pad, base: Option<Measurement>) -> PadResponse {
    let stray = panel.stray.of(pad);
    let (pin, trace) = (stray.pin, stray.trace);
    let base = base.map(|measured| BaseCapacitance {
        computed: estimated(measured.estimate),
        bounds: [measured.bounds.lower, measured.bounds.upper].map(Capacitance::from_farads),
        bounds_are_guaranteed: measured.shape_term == 0.0 && panel.model.value != Model::Section,
    });
    PadResponse {
        name: pad.name.clone(),
        base_at_pin: base.map(|base| stray.at_pin(base.computed.value)),
        base,
        pin: StrayPart {
            value: pin,
            origin: panel.stray.pin.origin,
        },
        trace: StrayPart {
            value: trace,
            origin: panel.stray.trace.origin,
        },
        driver_loads: Vec::new(),
        touch: None,
    }
}

pub(super) fn estimated(estimate: Estimate) -> Estimated {
    Estimated {
        value: Capacitance::from_farads(estimate.value),
        error: Capacitance::from_farads(estimate.error),
    }
}

fn touch(panel: &Panel, finger: &Finger, pads: &[PadResponse], solved: &Solved) -> Option<Touch> {
    let own = &pads[solved.touched];
    let shift = estimated(solved.field.shifts[solved.touched]?);
    let base = own.base?;
    let neighbours = (0..pads.len())
        .filter(|&index| index != solved.touched)
        .filter_map(|index| {
            let other = estimated(solved.field.shifts[index]?);
            let [part, whole] = [other, shift].map(|s| s.value.farads());
            let ratio = part / whole;
            Some(Neighbour {
                pad: pads[index].name.clone(),
                shift: other,
                ratio,
                ratio_range: [ratio; 2],
                ratio_error: (other.error.farads() + ratio.abs() * shift.error.farads())
                    / whole.abs(),
                relative: relative(&pads[index], other)?,
            })
        })
        .collect();
    Some(Touch {
        relative: relative(own, shift)?,
        shift,
        neighbours,
        estimates: hand_estimates(
            panel,
            &panel.pads[solved.touched],
            finger,
            base.computed,
            shift.value,
        ),
        mirrored_from: solved
            .mirrored_from
            .map(|index| panel.pads[index].name.clone()),
    })
}

/// Shift over the untouched base at the pin; its error to first order.
fn relative(pad: &PadResponse, shift: Estimated) -> Option<RelativeShift> {
    let at_pin = pad.base_at_pin?;
    let base_error = pad.base?.computed.error;
    let at = |base: Capacitance| relative_shift(shift.value, base);
    let value = at(at_pin.nominal);
    let ends = [at(at_pin.most), at(at_pin.least)];
    Some(RelativeShift {
        value,
        error: shift.error / at_pin.nominal + value.abs() * (base_error / at_pin.nominal),
        stray_tolerance_range: [ends[0].min(ends[1]), ends[0].max(ends[1])],
    })
}
