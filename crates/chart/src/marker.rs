//! Markers and dashes: what tells series apart when the colours are gone.

use crate::canvas::{Pen, Point};
use crate::colour;
use crate::colour::Colour;
use crate::page::LegendEntry;

/// Shape of a marker.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Marker {
    Disc,
    Square,
    TriangleUp,
    Diamond,
    TriangleDown,
    Star,
}

const MARKERS: [Marker; 6] = [
    Marker::Disc,
    Marker::Square,
    Marker::TriangleUp,
    Marker::Diamond,
    Marker::TriangleDown,
    Marker::Star,
];

/// Dashes of hand estimates, in tenths of a chart unit; dash lengths tell several apart.
const DASHES: [&str; 3] = ["60 40", "20 30", "90 30 20 30"];

impl Marker {
    /// Corners around a centre, sized to look as large as a disc of this radius; none for a disc.
    pub fn corners(self, [x, y]: Point, radius: f64) -> Option<Vec<Point>> {
        let around = |count: usize, turn: f64, reach: &dyn Fn(usize) -> f64| -> Vec<Point> {
            (0..count)
                .map(|k| {
                    let angle = std::f64::consts::TAU * (k as f64 / count as f64 + turn);
                    [x + reach(k) * angle.sin(), y - reach(k) * angle.cos()]
                })
                .collect()
        };
        match self {
            Marker::Disc => None,
            Marker::Square => Some(around(4, 0.125, &|_| 1.27 * radius)),
            Marker::TriangleUp => Some(around(3, 0.0, &|_| 1.45 * radius)),
            Marker::Diamond => Some(around(4, 0.0, &|_| 1.4 * radius)),
            Marker::TriangleDown => Some(around(3, 0.5, &|_| 1.45 * radius)),
            Marker::Star => Some(around(10, 0.0, &|k| {
                radius * if k % 2 == 0 { 1.6 } else { 0.7 }
            })),
        }
    }
}

impl Pen {
    /// A marker; an open one is white inside.
    pub(crate) fn marker(
        &mut self,
        marker: Marker,
        centre: Point,
        radius: f64,
        colour: Colour,
        open: bool,
    ) {
        let inside = if open { colour::PAPER } else { colour };
        let Some(mut corners) = marker.corners(centre, radius) else {
            self.disc(centre, radius, inside);
            if open {
                self.ring(centre, radius, colour, 1.4);
            }
            return;
        };
        self.area(&corners, inside, 1.0);
        if open {
            corners.push(corners[0]);
            self.line(&corners, colour, 1.4);
        }
    }
}

/// How one series looks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Style {
    pub colour: Colour,
    pub marker: Marker,
    /// Value of `stroke-dasharray`; solid when absent.
    pub dash: Option<&'static str>,
}

impl Style {
    /// Style of the series with this number; `dashed` is the number among the dashed series.
    pub fn new(number: usize, dashed: Option<usize>) -> Self {
        Self {
            colour: colour::series(number),
            marker: MARKERS[number % MARKERS.len()],
            dash: dashed.map(|number| DASHES[number % DASHES.len()]),
        }
    }
}

/// A name in the legend after a line with its marker.
pub(crate) fn legend_line(name: &str, style: Style) -> LegendEntry {
    LegendEntry::new(name, move |canvas, place| {
        let dash = style.dash.map(|dash| ("stroke-dasharray", dash));
        canvas.group("legend", dash.as_slice(), |pen| {
            pen.line(&place.line(), style.colour, 2.0)
        });
        // Apart from the line, so that its outline is not dashed.
        canvas.group("legend", &[], |pen| {
            pen.marker(
                style.marker,
                place.middle(),
                4.0,
                style.colour,
                style.dash.is_some(),
            )
        })
    })
}
