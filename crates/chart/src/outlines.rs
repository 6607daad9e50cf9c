//! Outlines over a heat map: where copper lies under what the colours show.

use crate::canvas::{Anchor, Canvas, Pen, Point, Rect};
use crate::clip;
use crate::colour;
use crate::error::ChartError;
use crate::font::{self, LABEL_SIZE};
use crate::limits;
use crate::page::LegendEntry;
use crate::placement::Placer;
use crate::plot::Plot;

/// A closed outline drawn over a map: white with a dark rim, so that it reads on every colour.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MapOutline {
    /// Corners in order, in the units of the level and the upright axis; the last is joined to the
    /// first. At least three.
    pub corners: Vec<[f64; 2]>,
    /// Name written inside or beside it; empty for none.
    pub label: String,
}

/// An error for the first outline that encloses nothing or has a corner that is not a number.
pub(crate) fn check(outlines: &[MapOutline]) -> Result<(), ChartError> {
    for outline in outlines {
        if outline.corners.len() < 3 {
            return Err(ChartError::FewCorners {
                label: outline.label.clone(),
                corners: outline.corners.len(),
            });
        }
        for &coordinate in outline.corners.iter().flatten() {
            limits::finite(
                || format!("corner of outline \"{}\"", outline.label),
                coordinate,
            )?;
        }
    }
    Ok(())
}

/// One line in the look of an outline.
fn stroke(pen: &mut Pen, line: &[Point]) {
    pen.line(line, colour::INK, 4.0);
    pen.line(line, colour::PAPER, 1.8)
}

/// Draws the outlines, as far as they lie in the plot.
pub(crate) fn draw(canvas: &mut Canvas, plot: &Plot, outlines: &[MapOutline], placer: &mut Placer) {
    for outline in outlines {
        let attributes = [
            ("data-name", outline.label.as_str()),
            ("stroke-linejoin", "miter"),
        ];
        let parts = clip::line(&on_paper(plot, outline), plot.frame);
        canvas.group("outline", &attributes, |pen| {
            parts.iter().for_each(|part| stroke(pen, part))
        });
        for part in &parts {
            placer.add_line(part);
        }
    }
}

/// Writes the labels of the outlines, after all lines are known: inside where they fit, else beside.
pub(crate) fn label(
    canvas: &mut Canvas,
    plot: &Plot,
    outlines: &[MapOutline],
    placer: &mut Placer,
) {
    for outline in outlines.iter().filter(|outline| !outline.label.is_empty()) {
        let parts = clip::line(&on_paper(plot, outline), plot.frame).concat();
        let Some(seen) = bounds(&parts) else {
            continue;
        };
        let middle = 0.5 * (seen.left + seen.right);
        let centre = 0.5 * (seen.top + seen.bottom) + 0.5 * font::CAPITAL_HEIGHT * LABEL_SIZE;
        let fits = font::width(&outline.label, LABEL_SIZE) + 12.0 <= seen.width()
            && LABEL_SIZE + 12.0 <= seen.height();
        let mut places = Vec::new();
        if fits {
            let (highest, lowest) = (seen.top + LABEL_SIZE + 8.0, seen.bottom - 8.0);
            for baseline in [
                centre,
                0.5 * (centre + highest),
                0.5 * (centre + lowest),
                highest,
                lowest,
            ] {
                places.push(([middle, baseline], Anchor::Middle));
            }
        } else {
            places.push(([middle, seen.top - 8.0], Anchor::Middle));
            places.push(([middle, seen.bottom + LABEL_SIZE + 4.0], Anchor::Middle));
            places.push(([seen.right + 7.0, centre], Anchor::Start));
            places.push(([seen.left - 7.0, centre], Anchor::End));
        }
        placer.write_on_free_plate(canvas, "outline", &outline.label, &places);
    }
}

/// The closed line of an outline. It starts in the middle of its first side, so that its ends meet on
/// a straight line and not in a corner, where they would leave a notch.
fn on_paper(plot: &Plot, outline: &MapOutline) -> Vec<Point> {
    let corners = outline.corners.iter().map(|&[x, y]| plot.point(x, y));
    let mut closed: Vec<Point> = corners.collect();
    let (first, second) = (closed[0], closed[1]);
    let start = [0, 1].map(|axis| 0.5 * (first[axis] + second[axis]));
    closed.rotate_left(1);
    closed.insert(0, start);
    closed.push(start);
    closed
}

fn bounds(points: &[Point]) -> Option<Rect> {
    let first = *points.first()?;
    let start = Rect {
        left: first[0],
        top: first[1],
        right: first[0],
        bottom: first[1],
    };
    Some(points.iter().fold(start, |seen, point| Rect {
        left: seen.left.min(point[0]),
        top: seen.top.min(point[1]),
        right: seen.right.max(point[0]),
        bottom: seen.bottom.max(point[1]),
    }))
}

/// A name in the legend after a piece of an outline.
pub fn legend_entry(name: impl Into<String>) -> LegendEntry {
    LegendEntry::drawn(name, |pen, place| {
        let [[left, y], [right, _]] = place.line();
        stroke(pen, &[[left + 2.0, y], [right - 2.0, y]])
    })
}
