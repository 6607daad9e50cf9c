//! The knee: signal-to-noise ratio and average current against the gate, a line for each resistor.

use super::{Question, Trade};
use crate::measuring_circuit::Scan;
use padfield_chart::{
    Axis, ChartError, LimitLine, LineChart, LinePanel, PlaceMark, Reading, Series, Stacked,
};
use padfield_engine::units::{Resistance, Time};

/// Points of a line.
const POINTS: usize = 41;
/// Most lines in a plot.
const MOST_LINES: usize = 8;

/// The line under the charts of a touch by this finger.
pub fn caption(finger: &str) -> String {
    format!(
        "Touch shift computed for finger {finger}, on the supply of the panel file where the ratio is smallest; \
         bands: its estimated error. Circuit: formulas, measured noise \
         carried on as jitter of independent periods. Response and current: all pads, scan of the panel file or \
         from the response asked for. padfield {}.",
        env!("CARGO_PKG_VERSION")
    )
}

/// Both charts, one below the other. `chosen` is the answer's resistor and gate; `assumption` is printed
/// under each.
///
/// # Errors
/// Nothing that could be drawn: no gate, values that are no numbers.
pub fn picture(
    trade: &Trade,
    question: &Question,
    origin: &str,
    resistors: &[Resistance],
    gates: &[Time],
    chosen: Option<(Resistance, Time)>,
    assumption: &str,
) -> Result<Stacked, ChartError> {
    let scan = match question.response {
        Some(response) => trade.scan_for(response).unwrap_or(*trade.scan()),
        None => *trade.scan(),
    };
    let drawn = drawn_resistors(resistors, chosen.map(|(resistor, _)| resistor));
    let along = along(gates);
    let lines = |value: &dyn Fn(&super::Point) -> (f64, f64)| -> Vec<Series> {
        drawn
            .iter()
            .map(|&resistor| {
                Series::computed(
                    format!("{} kohm", plain(resistor.kilohms())),
                    along.iter().map(|&gate| {
                        let (value, error) = value(&trade.at(resistor, gate, &scan));
                        Reading {
                            x: gate.ms(),
                            value,
                            error,
                        }
                    }),
                )
            })
            .collect()
    };
    let chart = |title: &str, y: Axis, series: Vec<Series>, limits: Vec<LimitLine>| LineChart {
        title: title.to_owned(),
        x: Axis::logarithmic("gate", "ms"),
        y,
        panels: vec![LinePanel {
            series,
            ..LinePanel::default()
        }],
        limits,
        places: places(trade, &scan, &along, chosen),
        assumption: assumption.to_owned(),
        ..LineChart::default()
    };
    let ratio = chart(
        "Signal-to-noise ratio (rms) of the weakest pad against the gate",
        Axis::logarithmic("signal-to-noise ratio", ""),
        lines(&|point| (point.signal_to_noise, point.signal_to_noise_error)),
        vec![LimitLine::at_least(question.signal_to_noise, origin)],
    );
    let current = chart(
        "Average current against the gate",
        Axis::logarithmic("average current", "uA"),
        lines(&|point| (point.budget.average_current.ua(), 0.0)),
        Vec::new(),
    );
    Stacked::new(
        "Signal-to-noise ratio and average current against the gate",
        &[ratio, current],
    )
}

/// At most [`MOST_LINES`] of the resistors, evenly chosen, the chosen one among them.
fn drawn_resistors(resistors: &[Resistance], chosen: Option<Resistance>) -> Vec<Resistance> {
    let room = MOST_LINES - usize::from(chosen.is_some());
    let every = resistors.len().div_ceil(room).max(1);
    let mut drawn: Vec<Resistance> = resistors.iter().copied().step_by(every).collect();
    if let Some(chosen) = chosen
        && !drawn.contains(&chosen)
    {
        drawn.push(chosen);
    }
    drawn.sort_by(|a, b| a.ohms().total_cmp(&b.ohms()));
    drawn
}

/// Gates at equal ratios from the shortest to the longest.
fn along(gates: &[Time]) -> Vec<Time> {
    let seconds = || gates.iter().map(|gate| gate.seconds());
    let least = seconds().fold(f64::INFINITY, f64::min);
    let most = seconds().fold(0.0, f64::max);
    let share = |step: usize| step as f64 / (POINTS - 1) as f64;
    (0..POINTS)
        .map(|step| Time::from_seconds(least * (most / least).powf(share(step))))
        .collect()
}

/// Where the scan of all pads fills the cycle, and the answer.
fn places(
    trade: &Trade,
    scan: &Scan,
    along: &[Time],
    chosen: Option<(Resistance, Time)>,
) -> Vec<PlaceMark> {
    let mut places = Vec::new();
    let longest = scan.cycle.ms() / trade.pads() as f64 - scan.settle.ms();
    let shown = along.first().map_or(0.0, |t| t.ms())..=along.last().map_or(0.0, |t| t.ms());
    if shown.contains(&longest) {
        places.push(PlaceMark {
            x: longest,
            label: format!("scan fills the cycle of {} ms", plain(scan.cycle.ms())),
        });
    }
    if let Some((resistor, gate)) = chosen {
        places.push(PlaceMark {
            x: gate.ms(),
            label: format!("answer: {} kohm", plain(resistor.kilohms())),
        });
    }
    places
}

/// Three significant digits without trailing zeros.
fn plain(value: f64) -> String {
    let magnitude = value.abs().max(1e-9).log10().floor() as i32;
    let text = format!("{value:.*}", (2 - magnitude).max(0) as usize);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}
