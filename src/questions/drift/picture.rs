//! The baseline over temperature, with its parts and the threshold.

use super::{Drift, PadDrift, Spread};
use padfield_chart::{Axis, LimitLine, LineChart, LinePanel, Reading, Series};

/// Most lines for single layers; the smaller parts are left to the table.
const MOST_PARTS: usize = 4;

/// The drift of the worst pad; none without pads. `title` is that of the panel.
pub fn picture(title: &str, drift: &Drift) -> Option<LineChart> {
    let pad = drift.worst()?;
    let climate = &drift.climate;
    let reference = climate.reference_celsius.value;
    let [lowest, highest] = [climate.lowest_celsius.value, climate.highest_celsius.value];
    let range = highest - lowest;
    let steps = 10;
    let line = |name: String, over_range: f64, dashed: bool| Series {
        name,
        points: (0..=steps)
            .map(|step| {
                let x = lowest + range * f64::from(step) / f64::from(steps);
                Reading {
                    x,
                    value: over_range * (x - reference) / range,
                    error: 0.0,
                }
            })
            .collect(),
        dashed,
    };
    let Spread {
        nominal,
        least,
        most,
    } = pad.over_range;
    let mut series = vec![line("all together".to_owned(), nominal, false)];
    series.extend(parts(pad).map(|part| line(part.name.clone(), part.counts.nominal, false)));
    series.push(line("all, least coefficients".to_owned(), least, true));
    series.push(line("all, largest coefficients".to_owned(), most, true));
    // Three digits are enough for a label.
    let digits = 10f64.powf(pad.threshold.abs().max(1e-9).log10().floor() - 2.0);
    let threshold = (pad.threshold / digits).round() * digits;
    let because = match drift.threshold_is_given {
        true => "threshold, as asked",
        false => "threshold, half a touch",
    };
    Some(LineChart {
        title: format!("Baseline of pad \"{}\" over temperature: {title}", pad.name),
        x: Axis::linear("temperature", "degC"),
        y: Axis::linear("drift of the baseline towards a touch", "counts"),
        panels: vec![LinePanel {
            series,
            ..LinePanel::default()
        }],
        limits: vec![
            LimitLine::at_most(threshold, because),
            LimitLine::at_least(-threshold, "the same downwards"),
        ],
        assumption: format!(
            "Beyond the threshold a baseline that is not tracked acts by itself or swallows a touch. Dashed: \
             all coefficients at one end. {} Linear; thermal expansion not included. padfield {}.",
            super::words::climate(climate),
            env!("CARGO_PKG_VERSION")
        ),
        ..LineChart::default()
    })
}

/// The largest parts that are not nothing, in the order of the layers.
fn parts(pad: &PadDrift) -> impl Iterator<Item = &super::WalkPart> {
    let mut sizes: Vec<f64> = pad
        .parts
        .iter()
        .map(|part| part.counts.nominal.abs())
        .collect();
    sizes.sort_by(|a, b| b.total_cmp(a));
    let least = sizes.get(MOST_PARTS).copied().unwrap_or(0.0);
    pad.parts
        .iter()
        .filter(move |part| part.counts.nominal.abs() > least)
}
