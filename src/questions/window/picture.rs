//! The window of one pad as a chart: what must act, what must not, and the threshold between.

use super::{PadWindow, Window};
use crate::event::{Cause, Event, Group};
use crate::measuring_circuit::PEAK_TO_PEAK_OVER_RMS;
use padfield_chart::{Axis, PlaceMark, RangeBand, RangeChart, RangeGroup, RangeRow};

/// The chart of a pad's window; `title` is that of the panel.
pub fn picture(title: &str, window: &Window, pad: &PadWindow) -> RangeChart {
    let table = &window.table;
    let name = pad.pad.map_or("all pads", |pad| &table.pads[pad]);
    let of_pad = |event: &&Event| pad.pad.is_none_or(|pad| event.pad == pad);
    let is_binding = |event: &Event| {
        let is = |index: Option<usize>| {
            index.is_some_and(|index| std::ptr::eq(&table.events[index], event))
        };
        is(pad.weakest_true) || is(pad.strongest_false)
    };
    let rows = |group: Group| -> Vec<RangeRow> {
        let mut events: Vec<&Event> = table
            .events
            .iter()
            .filter(of_pad)
            .filter(|event| event.group == group)
            .collect();
        events.sort_by(|a, b| b.bound.total_cmp(&a.bound));
        events
            .into_iter()
            .map(|event| row(event, is_binding(event)))
            .collect()
    };
    let mut marks = Vec::new();
    if let Some(choice) = &pad.choice {
        marks.push(PlaceMark {
            x: choice.threshold,
            label: format!(
                "threshold {:.0} counts, same ratio to both",
                choice.threshold
            ),
        });
        marks.push(PlaceMark {
            x: choice.release,
            label: format!("release {:.0} counts", choice.release),
        });
    }
    let reference = table.references.iter().find(|r| pad.pad == Some(r.pad));
    if let Some(reference) = reference.filter(|reference| reference.noise > 0.0) {
        let six = PEAK_TO_PEAK_OVER_RMS * reference.noise;
        marks.push(PlaceMark {
            x: six,
            label: format!("6 sigma of the noise, {six:.1} counts"),
        });
    }
    let bounds = pad
        .strongest_false
        .zip(pad.weakest_true)
        .map(|(low, high)| [low, high].map(|index| table.events[index].bound));
    RangeChart {
        title: format!("Threshold window of pad \"{name}\": {title}"),
        value: Axis::logarithmic("count shift", "counts"),
        groups: [Group::True, Group::False, Group::Either]
            .into_iter()
            .map(|group| RangeGroup {
                title: group.words().to_owned(),
                rows: rows(group),
            })
            .filter(|group| group.title != Group::Either.words() || !group.rows.is_empty())
            .collect(),
        marks,
        band: bounds.map(|[low, high]| RangeBand {
            low,
            high,
            label: if pad.ratio > 1.0 {
                format!("window, W = {:.2}", pad.ratio)
            } else {
                format!("no window, W = {:.2}", pad.ratio)
            },
        }),
        assumption: assumption(window),
    }
}

/// From the favourable end to the bound.
fn row(event: &Event, binding: bool) -> RangeRow {
    let favourable = match event.group {
        Group::True => event.input_range[1] + event.numerical_error,
        Group::False | Group::Either => event.input_range[0] - event.numerical_error,
    };
    RangeRow {
        name: event.words(),
        // A mean of nothing has no place on a logarithmic axis.
        mean: match event.cause {
            Cause::Noise => None,
            _ => Some(event.mean),
        },
        low: favourable.min(event.bound),
        high: favourable.max(event.bound),
        binding,
        note: String::new(),
    }
}

fn assumption(window: &Window) -> String {
    let mut text =
        "Bars: over return path, stray capacitance, circuit and layer tolerances; the end \
                    towards the threshold also with numerical error and noise. "
            .to_owned();
    text += &window
        .assumptions
        .iter()
        .filter(|line| line.starts_with("Supplies"))
        .map(String::as_str)
        .collect::<Vec<_>>()
        .join(" ");
    let missing = &window.table.not_described;
    if !missing.is_empty() {
        text += &format!(" Not described, so not judged: {}.", missing.join("; "));
    }
    text
}
