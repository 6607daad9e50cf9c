//! The marks of a range chart: bars with caps and means, the sign of what decides, arrows beyond the axis.

use crate::canvas::{Pen, Point, Rect};
use crate::colour::{self, Colour};
use crate::marker::Marker;

/// How far a cap reaches beyond its bar, above and below.
const CAP: f64 = 2.5;

/// How the bars of one group look: filled or open, and which marker the mean has.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Look {
    pub colour: Colour,
    opacity: f64,
    marker: Marker,
}

impl Look {
    /// The look of the group with this number; every second one is open.
    pub fn new(group: usize) -> Self {
        const COLOURS: [usize; 4] = [0, 4, 2, 5];
        let (opacity, marker) = match group % 2 {
            0 => (0.45, Marker::Disc),
            _ => (0.08, Marker::Diamond),
        };
        Self {
            colour: colour::series(COLOURS[group % COLOURS.len()]),
            opacity,
            marker,
        }
    }
}

/// A bar, with its mean where bars have one, as the legend shows it.
pub(crate) fn draw_sample(pen: &mut Pen, look: Look, has_mean: bool, area: Rect) {
    draw_capped(pen, look, area, [true; 2], false);
    if !has_mean {
        return;
    }
    let middle = [
        0.5 * (area.left + area.right),
        0.5 * (area.top + area.bottom),
    ];
    draw_mean(pen, look, middle)
}

/// A bar with a cap at each end that is not cut off.
pub(crate) fn draw_capped(pen: &mut Pen, look: Look, area: Rect, caps: [bool; 2], heavy: bool) {
    let (ink, width) = match heavy {
        true => (colour::INK, 2.2),
        false => (look.colour, 1.2),
    };
    pen.fill(area, look.colour, look.opacity);
    for y in [area.top, area.bottom] {
        pen.line(&[[area.left, y], [area.right, y]], ink, width);
    }
    for (x, shown) in [area.left, area.right].into_iter().zip(caps) {
        if shown {
            let cap = [[x, area.top - CAP], [x, area.bottom + CAP]];
            pen.line(&cap, colour::INK, width.max(1.6));
        }
    }
}

pub(crate) fn draw_mean(pen: &mut Pen, look: Look, centre: Point) {
    pen.marker(look.marker, centre, 4.6, colour::PAPER, false);
    pen.marker(look.marker, centre, 3.4, colour::INK, false)
}

/// The sign in front of a row that decides, pointing right to its tip.
pub(crate) fn draw_binding(pen: &mut Pen, tip: Point) {
    let [x, y] = tip;
    pen.area(
        &[[x, y], [x - 9.0, y - 5.5], [x - 9.0, y + 5.5]],
        colour::INK,
        1.0,
    )
}

/// The arrow of a bar that goes on: to the left (-1) or to the right (1) of its tip.
pub(crate) fn draw_arrow(pen: &mut Pen, tip: Point, direction: f64) {
    let [x, y] = tip;
    let foot = x - 9.0 * direction;
    pen.line(&[[x, y], [foot - 5.0 * direction, y]], colour::INK, 1.6);
    pen.area(
        &[[x, y], [foot, y - 4.5], [foot, y + 4.5]],
        colour::INK,
        1.0,
    )
}
