//! Limits in a heat map: contours with strokes towards the side that is ruled out, and their labels.

use crate::canvas::{Anchor, Canvas, Pen, Point, Rect};
use crate::colour;
use crate::data::{LimitLine, Sense};
use crate::font::{self, LABEL_SIZE};
use crate::placement::Placer;

/// Dashes that tell the contours of several limits apart, in tenths of a chart unit.
const DASHES: [&str; 3] = ["none", "90 40", "30 30"];

/// A limit drawn into a map as a contour.
#[derive(Clone, Debug, PartialEq)]
pub struct MapLimit {
    /// The limit.
    pub limit: LimitLine,
    /// Another quantity than the one shown in colour, as in "neighbour ratio"; empty for the same.
    pub name: String,
    /// Unit of the limit and of `values`.
    pub unit: String,
    /// Values of that other quantity, in the order of the map; absent for the one shown in colour.
    pub values: Option<Vec<f64>>,
}

impl MapLimit {
    /// A limit on the quantity the map shows.
    pub fn shown(limit: LimitLine, unit: impl Into<String>) -> Self {
        Self {
            limit,
            name: String::new(),
            unit: unit.into(),
            values: None,
        }
    }

    /// Label at the contour: "limit ≤ 20 %, house rule", with the name of another quantity in front.
    pub fn label(&self) -> String {
        let label = self.limit.label(&self.unit);
        if self.name.is_empty() {
            label
        } else {
            format!("{} {label}", self.name)
        }
    }
}

/// The contour of a limit; `number` picks its dashes.
pub(crate) fn draw_contour(
    canvas: &mut Canvas,
    limit: &MapLimit,
    number: usize,
    lines: &[Vec<Point>],
) {
    canvas.group("contour-halo", &[("stroke-linejoin", "round")], |pen| {
        lines
            .iter()
            .for_each(|line| pen.line(line, colour::PAPER, 4.6))
    });
    let attributes = [
        ("data-because", limit.limit.because.as_str()),
        ("stroke-linejoin", "round"),
        ("stroke-dasharray", DASHES[number % DASHES.len()]),
    ];
    canvas.group("contour", &attributes, |pen| {
        lines
            .iter()
            .for_each(|line| pen.line(line, colour::INK, 2.0))
    });
    canvas.group("contour-strokes", &[], |pen| {
        lines
            .iter()
            .for_each(|line| side_strokes(pen, line, limit.limit.sense))
    })
}

/// Strokes along a contour towards the side that is ruled out; higher values lie on its right.
fn side_strokes(pen: &mut Pen, line: &[Point], sense: Sense) {
    const EVERY: f64 = 14.0;
    const LENGTH: f64 = 7.0;
    let side = match sense {
        Sense::AtMost => 1.0,
        Sense::AtLeast => -1.0,
    };
    let mut next = 0.5 * EVERY;
    for pair in line.windows(2) {
        let (dx, dy) = (pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
        let length = dx.hypot(dy);
        while next <= length && length > 0.0 {
            let foot = [
                pair[0][0] + next / length * dx,
                pair[0][1] + next / length * dy,
            ];
            let away = [-side * dy / length, side * dx / length];
            let tip = [foot[0] + LENGTH * away[0], foot[1] + LENGTH * away[1]];
            pen.line(&[foot, tip], colour::PAPER, 2.6);
            pen.line(&[foot, tip], colour::INK, 1.1);
            next += EVERY;
        }
        next -= length;
    }
}

/// The label on a contour, or what to say when there is none.
pub(crate) fn label_contour(
    canvas: &mut Canvas,
    frame: Rect,
    limit: &MapLimit,
    lines: &[Vec<Point>],
    values: &[f64],
    placer: &mut Placer,
) {
    let mut text = limit.label();
    let Some(longest) = lines.iter().max_by_key(|line| line.len()) else {
        let kept = |value: &&f64| match limit.limit.sense {
            Sense::AtMost => **value <= limit.limit.value,
            Sense::AtLeast => **value >= limit.limit.value,
        };
        let present = || values.iter().filter(|value| value.is_finite());
        let verdict = if present().all(|value| kept(&value)) {
            "kept everywhere"
        } else {
            "kept nowhere"
        };
        let places: Vec<(Point, Anchor)> = (0..5)
            .map(|line| {
                (
                    [frame.left + 8.0, frame.top + 18.0 + 17.0 * f64::from(line)],
                    Anchor::Start,
                )
            })
            .collect();
        placer.write_on_plate(canvas, "limit", &format!("{text}: {verdict}"), &places);
        return;
    };
    if font::width(&text, LABEL_SIZE) > frame.width() - 12.0 {
        let bare = LimitLine {
            because: String::new(),
            ..limit.limit.clone()
        };
        text = bare.label(&limit.unit);
    }
    // Centred on its own line, so that nobody takes it for the label of another.
    let half = 0.36 * LABEL_SIZE;
    let places: Vec<(Point, Anchor)> = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.1, 0.9]
        .into_iter()
        .map(|part| along(longest, part))
        .map(|[x, y]| ([x, y + half], Anchor::Middle))
        .collect();
    placer.write_on_plate(canvas, "limit", &text, &places)
}

/// The place at this part of the length of a line.
fn along(line: &[Point], part: f64) -> Point {
    let length = |pair: &[Point]| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]);
    let mut left = part * line.windows(2).map(length).sum::<f64>();
    for pair in line.windows(2) {
        let here = length(pair);
        if left <= here && here > 0.0 {
            let t = left / here;
            return [
                pair[0][0] + t * (pair[1][0] - pair[0][0]),
                pair[0][1] + t * (pair[1][1] - pair[0][1]),
            ];
        }
        left -= here;
    }
    line[line.len() - 1]
}
