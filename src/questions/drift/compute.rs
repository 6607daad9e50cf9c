//! From solved touches to the drift of every pad.

use super::words::{assumptions, warnings};
use super::{
    Drift, End, LayerDrift, PadDrift, Question, ReferenceChannel, TRACKING_OVER_DRIFT,
    USUAL_THRESHOLD_SHARE, WalkPart,
};
use crate::event::{
    LinearDrift, Spread, coefficients, linear_drift, shift_per_k, touch_over_kelvin, weighted,
};
use crate::panel::{Climate, Finger, LayerContent, LayerProperties, Panel, SourcedInterval};
use crate::touch::{SeenTouch, TouchError, Touches, WorkLimits, on_single_pads, solve_touches};
use padfield_engine::units::Capacitance;

/// Pads that are measured each on its own.
pub(super) fn single_pads(panel: &Panel) -> Vec<usize> {
    (0..panel.pads.len())
        .filter(|&pad| !panel.is_segment(&panel.pads[pad]))
        .collect()
}

/// The finger asked for, or the first.
pub(super) fn finger<'p>(panel: &'p Panel, name: Option<&str>) -> Option<&'p Finger> {
    match name {
        Some(name) => panel.fingers.iter().find(|finger| finger.name == name),
        None => panel.fingers.first(),
    }
}

/// The finger on every single pad in turn.
pub(super) fn touches(
    panel: &Panel,
    finger: &Finger,
    limits: &WorkLimits<'_>,
) -> Result<Touches, TouchError> {
    solve_touches(panel, &on_single_pads(panel, finger), limits)
}

/// Drift of every pad that is measured on its own, from one solved touch each. A finger that is not in the
/// file counts as the first.
///
/// # Errors
/// See [`TouchError`].
pub fn drift(
    panel: &Panel,
    question: &Question<'_>,
    limits: &WorkLimits<'_>,
) -> Result<Drift, TouchError> {
    let climate = panel.environment.climate;
    let layers = layers(panel);
    let mut found = Drift {
        climate,
        finger: String::new(),
        threshold_is_given: question.threshold.is_some(),
        layers,
        pads: Vec::new(),
        assumptions: Vec::new(),
        warnings: Vec::new(),
        field_problems: 0,
        fineness: None,
        accuracy_reached: true,
        missed: Vec::new(),
    };
    let Some(finger) = finger(panel, question.finger).or(panel.fingers.first()) else {
        return Ok(found);
    };
    found.finger.clone_from(&finger.name);
    let solved = touches(panel, finger, limits)?;
    let mut linear: Vec<(usize, SeenTouch, LinearDrift)> = Vec::new();
    for (place, pad) in single_pads(panel).into_iter().enumerate() {
        let seen = solved.seen(place, finger.return_path)?;
        if let Some(own) = linear_drift(panel, &seen, pad) {
            linear.push((pad, seen, own));
        }
    }
    for (pad, seen, own) in &linear {
        let mut one = pad_drift(panel, &climate, question, *pad, seen, own);
        one.reference = reference(panel, &climate, *pad, own, &linear, one.largest_drift());
        found.pads.push(one);
    }
    found.field_problems = solved.problems();
    found.fineness = solved.fineness;
    found.accuracy_reached = solved.accuracy_reached;
    found.missed.clone_from(&solved.missed);
    found.assumptions = assumptions(panel, finger, &found, &solved.simplifications);
    found.warnings = warnings(panel, &found);
    Ok(found)
}

fn layers(panel: &Panel) -> Vec<LayerDrift> {
    let pair = |known: Option<SourcedInterval>| {
        known.map(|known| (Spread::from(known.value), known.source))
    };
    let each = panel.dielectric_layers().map(|index| {
        let properties = panel.properties(index);
        let layer = &panel.layers[index];
        let material = match &layer.content {
            LayerContent::Dielectric { material, .. } => material.clone(),
            LayerContent::Copper => String::new(),
        };
        LayerDrift {
            name: layer.name.clone(),
            material,
            per_k: pair(properties.temperature_coefficient_per_k),
            moisture: pair(properties.moisture),
            ageing: pair(properties.ageing),
        }
    });
    each.collect()
}

fn pad_drift(
    panel: &Panel,
    climate: &Climate,
    question: &Question<'_>,
    pad: usize,
    seen: &SeenTouch,
    own: &LinearDrift,
) -> PadDrift {
    let circuit = &panel.electronics.circuit;
    let shift = seen.shifts[pad].map_or(0.0, |shift| shift.value);
    let count_shift = touch_over_kelvin(panel, seen, pad, own, 0.0).nominal;
    let neighbour = (0..panel.pads.len())
        .filter(|&other| other != pad)
        .filter_map(|other| Some((other, seen.shifts[other]?.value)))
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let per_k = own.counts_per_k();
    let range = climate.highest_celsius.value - climate.lowest_celsius.value;
    let over_range = per_k.scaled(range);
    let threshold = question
        .threshold
        .unwrap_or(USUAL_THRESHOLD_SHARE * count_shift);
    let rate = per_k.largest_size() * climate.fastest_change_k_per_s.value;
    let held = climate.held.value.seconds();
    let per_farad = circuit.counts_per_farad(own.base_at_pin).abs();
    let in_counts = |known| by_layers(panel, own, known).scaled(per_farad);
    let parts = own.parts.iter();
    let relative_error = own.base_error / own.base.abs().max(f64::MIN_POSITIVE);
    PadDrift {
        pad,
        name: panel.pads[pad].name.clone(),
        base: own.base,
        base_error: own.base_error,
        base_at_pin: own.base_at_pin,
        base_count: own.base_count,
        shift,
        count_shift,
        count_shift_error: circuit.count_error(
            own.base_at_pin,
            Capacitance::from_farads(shift),
            Capacitance::from_farads(own.base_error),
            Capacitance::from_farads(seen.shifts[pad].map_or(0.0, |shift| shift.error)),
        ),
        neighbour: neighbour.map(|(other, shift)| (panel.pads[other].name.clone(), shift)),
        threshold,
        parts: parts
            .map(|part| WalkPart {
                name: part.name.clone(),
                share: part
                    .layer
                    .map(|_| part.counts / (per_farad * own.base.abs())),
                counts: part.per_k.scaled(part.counts * range),
            })
            .collect(),
        ends: [climate.lowest_celsius.value, climate.highest_celsius.value].map(|celsius| {
            end(
                panel,
                celsius,
                celsius - climate.reference_celsius.value,
                pad,
                neighbour.map(|(other, _)| other),
                seen,
                own,
            )
        }),
        over_range,
        numerical_error: over_range.nominal.abs() * (relative_error + own.energy_mismatch),
        moisture: climate
            .moisture
            .value
            .then(|| in_counts(|properties| &properties.moisture)),
        ageing: in_counts(|properties| &properties.ageing),
        rate,
        loss: TRACKING_OVER_DRIFT * rate * held / count_shift.abs().max(f64::MIN_POSITIVE),
        reference: None,
    }
}

/// What a relative change of the permittivity of every layer makes of the base \[F\].
fn by_layers(
    panel: &Panel,
    own: &LinearDrift,
    known: fn(&LayerProperties) -> &Option<SourcedInterval>,
) -> Spread {
    let layers = panel.dielectric_layers();
    let changes: Vec<Spread> = layers
        .map(|layer| {
            let properties = panel.properties(layer);
            let known = known(&properties).as_ref();
            known.map_or_else(Spread::default, |known| known.value.into())
        })
        .collect();
    weighted(&own.base_by_layer, changes.iter())
}

/// One end of the climate, `kelvin` from the reference.
fn end(
    panel: &Panel,
    celsius: f64,
    kelvin: f64,
    pad: usize,
    neighbour: Option<usize>,
    seen: &SeenTouch,
    own: &LinearDrift,
) -> End {
    let base = weighted(&own.base_by_layer, coefficients(panel).iter()).scaled(kelvin);
    let shift_change = |pad: usize| {
        let per_k = shift_per_k(panel, seen, pad).unwrap_or_default();
        per_k.scaled(kelvin)
    };
    End {
        celsius,
        base,
        counts: own.counts_per_k().scaled(kelvin),
        shift: shift_change(pad),
        count_shift: touch_over_kelvin(panel, seen, pad, own, kelvin),
        neighbour: neighbour.map(shift_change),
    }
}

/// The untouched pad whose relative drift, subtracted, leaves least.
fn reference(
    panel: &Panel,
    climate: &Climate,
    pad: usize,
    own: &LinearDrift,
    all: &[(usize, SeenTouch, LinearDrift)],
    drift: f64,
) -> Option<ReferenceChannel> {
    let range = climate.highest_celsius.value - climate.lowest_celsius.value;
    let others = all.iter().filter(|(other, ..)| *other != pad);
    let left = others.map(|(other, _, reference)| {
        let ratio = own.base_count / reference.base_count;
        // The same layer, the same coefficient: what is left is one effect, not two.
        let parts = own.parts.iter().zip(&reference.parts);
        let left = parts.fold(Spread::default(), |sum, (own, other)| {
            sum.plus(own.per_k.scaled(own.counts - ratio * other.counts))
        });
        (*other, left.scaled(range))
    });
    let (other, left) = left.min_by(|a, b| a.1.largest_size().total_cmp(&b.1.largest_size()))?;
    Some(ReferenceChannel {
        pad: panel.pads[other].name.clone(),
        share: if drift > 0.0 {
            left.largest_size() / drift
        } else {
            0.0
        },
        left,
    })
}
