//! Limits and marks inside a plot: lines with strokes towards the side that is ruled out.

use crate::canvas::{Anchor, Canvas, Pen, Point};
use crate::colour;
use crate::data::{LimitLine, PlaceMark, Sense};
use crate::error::ChartError;
use crate::font::{self, LABEL_SIZE};
use crate::page::LegendEntry;
use crate::placement::Placer;
use crate::plot::Plot;

/// Distance between the strokes that point to the side ruled out.
const STROKE_EVERY: f64 = 11.0;
/// Length of those strokes along each direction.
const STROKE: f64 = 5.0;

/// An error for the first limit that is not a number.
pub(crate) fn check(limits: &[LimitLine]) -> Result<(), ChartError> {
    for limit in limits {
        finite(|| format!("limit \"{}\"", limit.because), limit.value)?;
    }
    Ok(())
}

/// An error unless the value is a number.
pub(crate) fn finite(what: impl Fn() -> String, value: f64) -> Result<(), ChartError> {
    if value.is_finite() {
        Ok(())
    } else {
        Err(ChartError::NotFinite {
            what: what(),
            value,
        })
    }
}

/// Draws limits of the upright axis as level lines.
pub(crate) fn draw_level(
    canvas: &mut Canvas,
    plot: &Plot,
    limits: &[LimitLine],
    placer: &mut Placer,
) {
    let frame = plot.frame;
    for limit in limits.iter().filter(|limit| plot.y.contains(limit.value)) {
        let y = plot.up(limit.value);
        let line = [[frame.left, y], [frame.right, y]];
        let away = match limit.sense {
            Sense::AtMost => -1.0,
            Sense::AtLeast => 1.0,
        };
        canvas.group("limit", &[("data-because", &limit.because)], |pen| {
            pen.line(&line, colour::INK, 1.5);
            strokes(pen, line[0], line[1], [0.0, away])
        });
        placer.add_line(&line);
    }
}

/// Writes the labels of level limits, after all lines are known. `named` says that the legend has them
/// too: where every place hides lines, they are then left out.
pub(crate) fn label_level(
    canvas: &mut Canvas,
    plot: &Plot,
    unit: &str,
    limits: &[LimitLine],
    named: bool,
    placer: &mut Placer,
) {
    let frame = plot.frame;
    for limit in limits {
        let text = fitted(&limit.label(unit), limit, unit, frame.width());
        if !plot.y.contains(limit.value) {
            let above = limit.value > plot.y.high();
            let y = if above {
                frame.top + 16.0
            } else {
                frame.bottom - 8.0
            };
            outside(canvas, &text, above, [frame.right - 8.0, y], placer);
            continue;
        }
        let y = plot.up(limit.value);
        let (over, under) = (y - STROKE - 4.0, y + STROKE + LABEL_SIZE);
        let mut places = Vec::new();
        for baseline in [
            over,
            under,
            over - 18.0,
            under + 18.0,
            over - 36.0,
            under + 36.0,
        ] {
            places.push(([frame.right - 8.0, baseline], Anchor::End));
            places.push(([frame.left + 8.0, baseline], Anchor::Start));
            places.push(([0.5 * (frame.left + frame.right), baseline], Anchor::Middle));
        }
        if named {
            placer.write_if_room(canvas, "limit", &text, &places);
        } else {
            placer.write(canvas, "limit", &text, &places);
        }
    }
}

/// Draws and labels limits of the level axis as upright lines. Labels go below one another.
pub(crate) fn draw_upright(
    canvas: &mut Canvas,
    plot: &Plot,
    unit: &str,
    limits: &[LimitLine],
    placer: &mut Placer,
) {
    let frame = plot.frame;
    for limit in limits.iter().filter(|limit| plot.x.contains(limit.value)) {
        let x = plot.across(limit.value);
        let line = [[x, frame.bottom], [x, frame.top]];
        let away = match limit.sense {
            Sense::AtMost => 1.0,
            Sense::AtLeast => -1.0,
        };
        canvas.group("limit", &[("data-because", &limit.because)], |pen| {
            pen.line(&line, colour::INK, 1.5);
            strokes(pen, line[0], line[1], [away, 0.0])
        });
        placer.add_line(&line);
    }
    for limit in limits {
        let text = fitted(&limit.label(unit), limit, unit, frame.width());
        if plot.x.contains(limit.value) {
            upright_label(canvas, plot, limit.value, "limit", &text, placer);
        } else {
            let beyond = limit.value > plot.x.high();
            let (x, anchor) = if beyond {
                (frame.right - 8.0, Anchor::End)
            } else {
                (frame.left + 8.0, Anchor::Start)
            };
            let side = if beyond { "right" } else { "left" };
            let text = format!("{text} ({side} of this chart)");
            placer.write(canvas, "limit", &text, &[([x, frame.top + 16.0], anchor)]);
        }
    }
}

/// Draws thin dotted lines at places worth a mark, with their labels.
pub(crate) fn draw_places(
    canvas: &mut Canvas,
    plot: &Plot,
    marks: &[PlaceMark],
    placer: &mut Placer,
) {
    let frame = plot.frame;
    let shown = || marks.iter().filter(|mark| plot.x.contains(mark.x));
    for mark in shown() {
        let x = plot.across(mark.x);
        let line = [[x, frame.bottom], [x, frame.top]];
        canvas.group("place", &[("stroke-dasharray", "15 30")], |pen| {
            pen.line(&line, colour::GREY, 1.3)
        });
        placer.add_line(&line);
    }
    for mark in shown() {
        upright_label(canvas, plot, mark.x, "place", &mark.label, placer);
    }
}

/// A label beside an upright line, at the top or at the bottom, right or left of it.
fn upright_label(
    canvas: &mut Canvas,
    plot: &Plot,
    x: f64,
    class: &str,
    text: &str,
    placer: &mut Placer,
) {
    let (at, frame) = (plot.across(x), plot.frame);
    let mut places = Vec::new();
    for line in 0..4 {
        let down = 16.0 + 16.0 * f64::from(line);
        for baseline in [frame.top + down, frame.bottom - down + 8.0] {
            places.push(([at + STROKE + 4.0, baseline], Anchor::Start));
            places.push(([at - STROKE - 4.0, baseline], Anchor::End));
        }
    }
    placer.write(canvas, class, text, &places);
}

fn outside(canvas: &mut Canvas, text: &str, above: bool, [x, y]: Point, placer: &mut Placer) {
    let (arrow, side) = if above {
        ("↑", "above")
    } else {
        ("↓", "below")
    };
    let text = format!("{arrow} {text} ({side} this chart)");
    placer.write(canvas, "limit", &text, &[([x, y], Anchor::End)]);
}

/// The label, or only its number where the plot is too narrow for the reason.
fn fitted(label: &str, limit: &LimitLine, unit: &str, width: f64) -> String {
    if font::width(label, LABEL_SIZE) <= width - 16.0 {
        return label.to_owned();
    }
    let bare = LimitLine {
        because: String::new(),
        ..limit.clone()
    };
    bare.label(unit)
}

/// Slanted strokes from a straight line towards `away`.
fn strokes(pen: &mut Pen, from: Point, to: Point, away: Point) {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let length = dx.hypot(dy);
    if length < STROKE_EVERY {
        return;
    }
    let along = [dx / length, dy / length];
    let mut at = 0.5 * STROKE_EVERY;
    while at < length - STROKE {
        let foot = [from[0] + at * along[0], from[1] + at * along[1]];
        let tip = [
            foot[0] + STROKE * (away[0] + along[0]),
            foot[1] + STROKE * (away[1] + along[1]),
        ];
        pen.line(&[foot, tip], colour::INK, 0.9);
        at += STROKE_EVERY;
    }
}

/// A name in the legend after a limit, for plots too narrow for its reason.
pub(crate) fn legend_entry(name: String) -> LegendEntry {
    LegendEntry::drawn(name, |pen, place| {
        let [from, to] = place.line();
        pen.line(&[from, to], colour::INK, 1.5);
        strokes(pen, from, to, [0.0, -1.0])
    })
}
