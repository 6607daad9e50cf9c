//! What a line chart draws into a plot: bands, lines with markers, crossings with their interval.

use crate::canvas::{Anchor, Canvas, Point};
use crate::clip;
use crate::colour;
use crate::data::{CrossingMark, Reading, Series, half_width};
use crate::marker::Style;
use crate::placement::Placer;
use crate::plot::Plot;

/// Least distance of markers along the level axis, on average.
const MARKER_EVERY: f64 = 12.0;

/// Where the label of a point may stand.
pub(crate) fn around(x: f64, y: f64) -> Vec<(Point, Anchor)> {
    let mut places = Vec::new();
    for away in [22.0, 40.0, 58.0, 76.0, 94.0] {
        for baseline in [y - away + 8.0, y + away] {
            places.push(([x + 9.0, baseline], Anchor::Start));
            places.push(([x - 9.0, baseline], Anchor::End));
        }
    }
    places
}

/// The upright band of the places a crossing may have.
pub(crate) fn draw_interval(canvas: &mut Canvas, plot: &Plot, mark: &CrossingMark) {
    let (low, high) = (mark.low.min(mark.high), mark.low.max(mark.high));
    let y = plot.up(mark.value);
    let band = [
        [plot.across(low), plot.frame.bottom],
        [plot.across(high), plot.frame.bottom],
        [plot.across(high), y],
        [plot.across(low), y],
    ];
    let finite = band.iter().flatten().all(|c| c.is_finite());
    canvas.group("crossing-interval", &[], |pen| {
        if finite {
            pen.area(&clip::area(&band, plot.frame), colour::LIGHT, 0.45);
        }
        let drop = [
            [plot.across(mark.x), y],
            [plot.across(mark.x), plot.frame.bottom],
        ];
        for run in clip::line(&drop, plot.frame) {
            pen.line(&run, colour::GREY, 0.9);
        }
    })
}

/// The ring at a crossing, with the level bar of its interval.
pub(crate) fn draw_crossing(canvas: &mut Canvas, plot: &Plot, mark: &CrossingMark) {
    let centre = plot.point(mark.x, mark.value);
    if !plot.frame.contains(centre) {
        return;
    }
    canvas.group("crossing", &[("data-label", &mark.label)], |pen| {
        let bar = [
            plot.point(mark.low, mark.value),
            plot.point(mark.high, mark.value),
        ];
        for run in clip::line(&bar, plot.frame) {
            pen.line(&run, colour::INK, 3.0);
        }
        for end in bar.into_iter().filter(|end| plot.frame.contains(*end)) {
            pen.line(
                &[[end[0], end[1] - 5.0], [end[0], end[1] + 5.0]],
                colour::INK,
                1.2,
            );
        }
        pen.disc(centre, 5.5, colour::PAPER);
        pen.ring(centre, 5.5, colour::INK, 1.8)
    })
}

/// The area of the error bars of one series; a lone reading gets an upright bar.
pub(crate) fn draw_band(canvas: &mut Canvas, plot: &Plot, series: &Series, style: Style) {
    let present = |r: &Reading| r.x.is_finite() && r.value.is_finite();
    canvas.group("band", &[("data-name", &series.name)], |pen| {
        for run in series.points.split(|reading| !present(reading)) {
            if run.iter().all(|reading| half_width(reading.error) == 0.0) {
                continue;
            }
            if let [single] = run {
                let ends = [
                    single.value - half_width(single.error),
                    single.value + half_width(single.error),
                ];
                let bar = ends.map(|value| on_paper(plot, single.x, value));
                for part in clip::line(&bar, plot.frame) {
                    pen.line(&part, style.colour, 1.2);
                }
                continue;
            }
            let upper = run
                .iter()
                .map(|r| on_paper(plot, r.x, r.value + half_width(r.error)));
            let lower = run
                .iter()
                .map(|r| on_paper(plot, r.x, r.value - half_width(r.error)));
            let outline: Vec<Point> = upper.chain(lower.rev()).collect();
            pen.area(&clip::area(&outline, plot.frame), style.colour, 0.22);
        }
    })
}

/// A point of a band; what a logarithmic axis cannot show lies just below the frame.
fn on_paper(plot: &Plot, x: f64, value: f64) -> Point {
    let [across, up] = plot.point(x, value);
    [
        across,
        if up.is_finite() {
            up
        } else {
            plot.frame.bottom + 20.0
        },
    ]
}

/// The line of one series and its markers.
pub(crate) fn draw_series(
    canvas: &mut Canvas,
    plot: &Plot,
    series: &Series,
    style: Style,
    placer: &mut Placer,
) {
    let points: Vec<Point> = series
        .points
        .iter()
        .map(|reading| plot.point(reading.x, reading.value))
        .collect();
    let dash: Vec<(&str, &str)> = [
        ("data-name", series.name.as_str()),
        ("stroke-linejoin", "round"),
    ]
    .into_iter()
    .chain(style.dash.map(|dash| ("stroke-dasharray", dash)))
    .collect();
    canvas.group("series", &dash, |pen| {
        for run in clip::line(&points, plot.frame) {
            pen.line(&run, style.colour, 2.0);
            placer.add_line(&run);
        }
    });
    let shown: Vec<Point> = points
        .into_iter()
        .filter(|point| point[0].is_finite() && point[1].is_finite() && plot.frame.contains(*point))
        .collect();
    // On dense lines a marker at every reading would hide the line.
    let room = ((plot.frame.width() / MARKER_EVERY) as usize).max(1);
    let every = shown.len().div_ceil(room).max(1);
    canvas.group("markers", &[("data-name", &series.name)], |pen| {
        for &centre in shown.iter().step_by(every) {
            pen.marker(
                style.marker,
                centre,
                3.6,
                style.colour,
                style.dash.is_some(),
            );
        }
    })
}
