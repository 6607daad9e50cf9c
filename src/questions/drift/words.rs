//! What the numbers of a drift hang on.

use super::{Drift, TRACKING_OVER_DRIFT, USUAL_THRESHOLD_SHARE};
use crate::panel::{Climate, Finger, Origin, Panel, ReturnPath};

fn mark(origin: Origin) -> &'static str {
    match origin {
        Origin::Given => "",
        Origin::Default => " [default]",
    }
}

/// The climate in one line.
pub(super) fn climate(climate: &Climate) -> String {
    format!(
        "Climate: {}{} to {}{} degC, values hold at {}{} degC; fastest change {:.2} K/min{}; {}{}; a finger \
         is held for {} s{}.",
        climate.lowest_celsius.value,
        mark(climate.lowest_celsius.origin),
        climate.highest_celsius.value,
        mark(climate.highest_celsius.origin),
        climate.reference_celsius.value,
        mark(climate.reference_celsius.origin),
        60.0 * climate.fastest_change_k_per_s.value,
        mark(climate.fastest_change_k_per_s.origin),
        match climate.moisture.value {
            true => "layers become damp",
            false => "layers stay dry",
        },
        mark(climate.moisture.origin),
        climate.held.value.seconds(),
        mark(climate.held.origin),
    )
}

pub(super) fn assumptions(
    panel: &Panel,
    finger: &Finger,
    drift: &Drift,
    simplifications: &[String],
) -> Vec<String> {
    let path = match finger.return_path {
        ReturnPath::Earthed => "earthed".to_owned(),
        ReturnPath::Through(path) => format!("through {:.1} pF", path.pf()),
    };
    let mut lines = vec![
        climate(&drift.climate),
        format!(
            "Finger {} centred on each pad as in the file, {path}; threshold {}.",
            finger.name,
            match drift.threshold_is_given {
                true => "as asked".to_owned(),
                false => format!(
                    "{} % of its touch [default, common practice, no source]",
                    100.0 * USUAL_THRESHOLD_SHARE
                ),
            }
        ),
        "Drift linear in temperature, from the shares of the field energy (d ln C/d ln permittivity); \
         intervals: every coefficient at its unfavourable end at once. Counts to first order about the \
         base at the pin."
            .to_owned(),
        format!(
            "Tracking {TRACKING_OVER_DRIFT} times as fast as the fastest drift (common practice, no \
             source), and not stopped by a touch."
        ),
        "Not included: thermal expansion, stray capacitance of pin and traces that are not drawn, wet \
         films, gloves, water in slots."
            .to_owned(),
    ];
    let drifts = panel.electronics.drift;
    if drifts.component_per_k.is_none() && drifts.threshold_per_k.is_none() {
        lines.push(
            "The circuit does not drift: nothing is said (circuit.temperature_coefficient, \
             circuit.threshold_drift)."
                .to_owned(),
        );
    }
    lines.extend(
        simplifications
            .iter()
            .map(|text| format!("Simplified: {text}.")),
    );
    lines
}

pub(super) fn warnings(panel: &Panel, drift: &Drift) -> Vec<String> {
    let mut lines = Vec::new();
    let missing = |known: &dyn Fn(&super::LayerDrift) -> bool| {
        let layers = drift.layers.iter().filter(|layer| !known(layer));
        let named = layers.map(|layer| match layer.name == layer.material {
            true => layer.name.clone(),
            false => format!("{} ({})", layer.name, layer.material),
        });
        named.collect::<Vec<_>>().join(", ")
    };
    let mut tell = |what: &str, names: String| {
        if !names.is_empty() {
            lines.push(format!("No {what} is known of {names}: not counted."));
        }
    };
    tell(
        "temperature coefficient",
        missing(&|layer| layer.per_k.is_some()),
    );
    if drift.climate.moisture.value {
        tell(
            "moisture uptake",
            missing(&|layer| layer.moisture.is_some()),
        );
    }
    tell("ageing", missing(&|layer| layer.ageing.is_some()));
    let is_memory = |source: &str| source == "from memory";
    let from_memory: Vec<&str> = drift
        .layers
        .iter()
        .filter(|layer| {
            let coefficients = [&layer.per_k, &layer.moisture, &layer.ageing];
            coefficients
                .into_iter()
                .flatten()
                .any(|(_, source)| is_memory(source))
        })
        .map(|layer| layer.name.as_str())
        .collect();
    if !from_memory.is_empty() {
        lines.push(format!(
            "Coefficients of {} are from memory, low confidence: a data sheet or a measurement in a chamber \
             should replace them (temperature_coefficient, moisture, ageing of the layer).",
            from_memory.join(", ")
        ));
    }
    if !panel.sliders.is_empty() {
        lines.push("Segments of sliders and wheels are not judged.".to_owned());
    }
    lines
}
