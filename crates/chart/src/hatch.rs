//! Hatching: what tells areas apart when the colours are gone.

use crate::canvas::{Pen, Rect};
use crate::clip;
use crate::colour::Colour;

/// Which way the strokes go.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Slant {
    Rising,
    Falling,
}

/// Slanted strokes over an area, `every` apart along its edges. Strokes of areas side by side meet.
pub(crate) fn hatch(pen: &mut Pen, area: Rect, every: f64, slant: Slant, colour: Colour) {
    let (width, height) = (area.width(), area.height());
    if !(width > 0.0 && height > 0.0) {
        return;
    }
    let turn = match slant {
        Slant::Rising => 1.0,
        Slant::Falling => -1.0,
    };
    // Every stroke lies on x + turn y = a multiple of the distance.
    let ends = [area.top, area.bottom].map(|y| turn * y);
    let from = area.left + ends[0].min(ends[1]);
    let to = area.right + ends[0].max(ends[1]);
    let mut at = (from / every).ceil() * every;
    while at < to {
        let stroke = [area.top, area.bottom].map(|y| [at - turn * y, y]);
        for part in clip::line(&stroke, area) {
            pen.line(&part, colour, 0.9);
        }
        at += every;
    }
}
