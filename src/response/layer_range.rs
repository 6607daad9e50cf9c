//! Count shifts over the tolerances of the layers.

use super::answer::Response;
use super::compute::{Request, ResponseError};
use crate::event::{FieldEnds, field_varies};
use crate::panel::{Finger, Panel};
use crate::sensitivity::PanelFamily;
use crate::touch::{PadTouch, TouchPlace, WorkLimits};
use crate::units::Capacitance;
use rayon::prelude::*;

/// Widens the range of every touch's counts by thickness and permittivity of the layers at the ends of their
/// tolerances, and says how many field problems that took. The ends follow from exact derivatives; where these
/// move base or shift far they are solved again. Ranges of neighbours stay those of stray capacitance and
/// circuit.
pub(super) fn widen(
    response: &mut Response,
    request: &Request,
    finger: &Finger,
    limits: &WorkLimits<'_>,
) -> Result<usize, ResponseError> {
    let panel = request.panel;
    let family = PanelFamily::of_panel(panel);
    if !field_varies(&family) {
        return Ok(0);
    }
    let own = |index: &usize| {
        let touch = response.pads[*index].touch.as_ref();
        touch.is_some_and(|touch| touch.mirrored_from.is_none())
    };
    let asked: Vec<usize> = (0..panel.pads.len()).filter(own).collect();
    let solved: Vec<(usize, FieldEnds)> = asked
        .par_iter()
        .filter_map(|&pad| {
            let place = TouchPlace {
                finger: finger.clone(),
                pad,
            };
            let counts = |touch: &PadTouch| counts(panel, pad, finger, touch);
            let ends = FieldEnds::solve(&family, &place, pad, None, &counts, limits);
            ends.map(|ends| ends.map(|ends| (pad, ends))).transpose()
        })
        .collect::<Result<_, _>>()?;
    let circuit = &panel.electronics.circuit;
    for index in 0..panel.pads.len() {
        let pad = &response.pads[index];
        let (Some(touch), Some(base)) = (&pad.touch, pad.base) else {
            continue;
        };
        let is_source = |source: usize| match &touch.mirrored_from {
            Some(name) => *name == panel.pads[source].name,
            None => source == index,
        };
        let Some((_, ends)) = solved.iter().find(|(source, _)| is_source(*source)) else {
            continue;
        };
        let nominal = ends.nominal;
        let path = finger.return_path;
        let ranges: Vec<[f64; 2]> = ends
            .ends
            .iter()
            .map(|end| {
                let field = base.computed.value.farads() * end.base / nominal.base;
                let at_pin = panel.stray.of(&panel.pads[index]);
                let at_pin = at_pin.at_pin(Capacitance::from_farads(field));
                let share = end.shift(path) / nominal.shift(path);
                let shift = touch.shift.value * share;
                let none = Capacitance::default();
                circuit
                    .shift_in_counts(&at_pin, none, &[shift], none)
                    .tolerance_range
            })
            .collect();
        let counted = response
            .counts
            .pads
            .iter_mut()
            .find(|counted| counted.pad == panel.pads[index].name);
        if let Some(own) = counted.and_then(|counted| counted.touch.as_mut()) {
            for [low, high] in ranges {
                let range = &mut own.shift.tolerance_range;
                *range = [range[0].min(low), range[1].max(high)];
            }
        }
    }
    Ok(solved.iter().map(|(_, ends)| ends.problems).sum())
}

/// Counts of the finger's touch under its own return path.
fn counts(panel: &Panel, pad: usize, finger: &Finger, touch: &PadTouch) -> f64 {
    let stray = panel.stray.of(&panel.pads[pad]);
    let base = stray.at_pin(Capacitance::from_farads(touch.base)).nominal;
    let circuit = &panel.electronics.circuit;
    circuit.counts_towards_touch(base, touch.shift(finger.return_path))
}
