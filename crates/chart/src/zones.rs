//! What a line chart shows along its level axis besides lines: shaded zones behind them, and a strip
//! of copper under the plot.

use crate::canvas::{Anchor, Canvas, Pen, Rect, Text};
use crate::colour;
use crate::colour::Colour;
use crate::data::{StripRow, Zone};
use crate::error::ChartError;
use crate::font::{self, LABEL_SIZE, TICK_SIZE};
use crate::hatch::{Slant, hatch};
use crate::limits;
use crate::placement::Placer;
use crate::plot::Plot;

/// Height of one row of the strip.
const ROW: f64 = 19.0;
/// Air above the first row, between rows and below the last.
const AIR: f64 = 4.0;
/// Smallest drawn width of a piece, so that a thin trace does not vanish.
const LEAST_WIDTH: f64 = 1.5;
/// Smallest size of labels of the strip.
const LEAST_LABEL_SIZE: f64 = 9.0;
/// Air between a piece and a label beside it.
const BESIDE: f64 = 3.0;
/// Fills of the rows; they repeat after two.
const FILLS: [Colour; 2] = [Colour(222, 178, 136), Colour(205, 205, 205)];

/// An error for the first zone or piece whose ends are not numbers.
pub(crate) fn check<'a>(
    zones: impl Iterator<Item = &'a Zone>,
    strip: &[StripRow],
) -> Result<(), ChartError> {
    for zone in zones {
        for end in [zone.low, zone.high] {
            limits::finite(|| format!("zone \"{}\"", zone.label), end)?;
        }
    }
    for piece in strip.iter().flat_map(|row| &row.pieces) {
        for end in [piece.low, piece.high] {
            limits::finite(|| format!("piece \"{}\" of the strip", piece.label), end)?;
        }
    }
    Ok(())
}

/// Labels of zones, each once, in the order of first appearance: the place of a label is its kind.
pub(crate) fn kinds<'a>(zones: impl Iterator<Item = &'a Zone>) -> Vec<&'a str> {
    let mut kinds: Vec<&str> = Vec::new();
    for zone in zones {
        if !kinds.contains(&zone.label.as_str()) {
            kinds.push(&zone.label);
        }
    }
    kinds
}

/// The look of a zone of this kind.
pub(crate) fn shade(pen: &mut Pen, area: Rect, kind: usize) {
    pen.fill(area, colour::LIGHT, 0.42);
    match kind % 3 {
        1 => hatch(pen, area, 9.0, Slant::Rising, colour::GREY),
        2 => hatch(pen, area, 9.0, Slant::Falling, colour::GREY),
        _ => {}
    }
    for x in [area.left, area.right] {
        pen.line(&[[x, area.top], [x, area.bottom]], colour::GREY, 0.9);
    }
}

/// Draws the zones of one plot, as far as they lie in it.
pub(crate) fn draw(
    canvas: &mut Canvas,
    plot: &Plot,
    zones: &[Zone],
    kinds: &[&str],
    placer: &mut Placer,
) {
    for zone in zones {
        let Some((left, right)) = shown(plot, zone.low, zone.high) else {
            continue;
        };
        let kind = kinds.iter().position(|known| *known == zone.label);
        let area = Rect {
            left,
            right,
            ..plot.frame
        };
        canvas.group("zone", &[("data-name", &zone.label)], |pen| {
            shade(pen, area, kind.unwrap_or(0))
        });
        for x in [left, right] {
            placer.add_line(&[[x, area.top], [x, area.bottom]]);
        }
    }
}

/// Height of the strip; zero when there is none.
pub(crate) fn strip_height(strip: &[StripRow]) -> f64 {
    match strip.len() {
        0 => 0.0,
        rows => AIR + (ROW + AIR) * rows as f64,
    }
}

/// Room that the names of the rows need left of the plot.
pub(crate) fn name_room(strip: &[StripRow]) -> f64 {
    strip
        .iter()
        .map(|row| font::width(&row.name, TICK_SIZE) + 10.0)
        .fold(0.0, f64::max)
}

/// Draws the strip under a plot.
pub(crate) fn draw_strip(canvas: &mut Canvas, plot: &Plot, strip: &[StripRow], named: bool) {
    for (number, row) in strip.iter().enumerate() {
        let top = plot.frame.bottom + AIR + (ROW + AIR) * number as f64;
        let pieces = placed(plot, row, top);
        canvas.group("strip", &[("data-name", &row.name)], |pen| {
            for (area, _) in &pieces {
                pen.fill(*area, FILLS[number % FILLS.len()], 1.0);
                pen.frame(*area, colour::INK, 0.8);
            }
        });
        let middle = top + 0.5 * ROW;
        write_labels(canvas, &pieces, plot.frame, middle);
        if named {
            let baseline = middle + 0.5 * font::CAPITAL_HEIGHT * TICK_SIZE;
            let at = [plot.frame.left - 8.0, baseline];
            canvas.text(&Text::new(
                "strip-name",
                &row.name,
                at,
                Anchor::End,
                TICK_SIZE,
            ));
        }
    }
}

/// The pieces of a row on paper, from left to right.
fn placed<'a>(plot: &Plot, row: &'a StripRow, top: f64) -> Vec<(Rect, &'a str)> {
    let mut placed: Vec<(Rect, &str)> = row
        .pieces
        .iter()
        .filter_map(|piece| {
            let (left, right) = shown(plot, piece.low, piece.high)?;
            let widen = 0.5 * (LEAST_WIDTH - (right - left)).max(0.0);
            let area = Rect {
                left: (left - widen).max(plot.frame.left),
                top,
                right: (right + widen).min(plot.frame.right),
                bottom: top + ROW,
            };
            Some((area, piece.label.as_str()))
        })
        .collect();
    placed.sort_by(|a, b| a.0.left.total_cmp(&b.0.left));
    placed
}

/// Writes the labels of a row: on their piece, else beside it, else not at all.
fn write_labels(canvas: &mut Canvas, pieces: &[(Rect, &str)], frame: Rect, middle: f64) {
    // One size for the row, smaller where that puts a label on its piece.
    let inside = |area: &Rect| area.width() - BESIDE;
    let size = pieces
        .iter()
        .map(|(area, label)| LABEL_SIZE * inside(area) / font::width(label, LABEL_SIZE))
        .filter(|size| *size >= LEAST_LABEL_SIZE)
        .fold(LABEL_SIZE, f64::min);
    let mut taken = frame.left + BESIDE;
    for (at, (area, label)) in pieces.iter().enumerate() {
        let width = font::width(label, size);
        let next = pieces
            .get(at + 1)
            .map_or(frame.right, |(next, _)| next.left);
        let beside_right = area.right + BESIDE;
        let beside_left = area.left - BESIDE - width;
        let place = if width <= inside(area) + 1e-9 {
            Some(0.5 * (area.left + area.right - width))
        } else if beside_right + width <= next - BESIDE {
            Some(beside_right)
        } else if beside_left >= taken {
            Some(beside_left)
        } else {
            None
        };
        taken = taken.max(area.right + BESIDE);
        let Some(x) = place.filter(|_| !label.is_empty()) else {
            continue;
        };
        taken = taken.max(x + width + BESIDE);
        let at = [x, middle + 0.5 * font::CAPITAL_HEIGHT * size];
        canvas.text(&Text::new("strip", label, at, Anchor::Start, size));
    }
}

/// Both ends of a stretch on paper, cut off at the frame; none when it lies outside.
fn shown(plot: &Plot, low: f64, high: f64) -> Option<(f64, f64)> {
    let frame = plot.frame;
    let ends = [low.min(high), low.max(high)].map(|value| plot.across(value));
    let outside = ends[1] < frame.left || ends[0] > frame.right || ends[1].is_nan();
    (!outside).then(|| {
        (
            ends[0].max(frame.left),
            ends[1].clamp(frame.left, frame.right),
        )
    })
}
