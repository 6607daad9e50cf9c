//! Ranges of events in groups, one row each: does a threshold fit between what must act and what must
//! not?

use plotters::style::RGBColor;

use super::axis::{AxisMap, Ends};
use super::canvas::{Canvas, Pen, Point, Rect};
use super::colour;
use super::data::{Axis, PlaceMark, Scale};
use super::error::ChartError;
use super::hatch::{Slant, hatch};
use super::limits;
use super::marker::Marker;
use super::page::{LegendEntry, MARGIN, Page, PageSpec, Sample, WIDTH};
use super::plot::Plot;
use super::range_rows::{self, Line, LineKind};
use super::raster;
use super::staircase::{self, Flag};

/// Half the height of a bar.
const HALF_BAR: f64 = 5.5;
/// How far a cap reaches beyond its bar, above and below.
const CAP: f64 = 2.5;
/// Most decades of a logarithmic axis that chooses its own range; smaller values are cut off.
const MOST_DECADES: f64 = 4.0;
/// Dashes of the marks, in tenths of a chart unit; they tell lines apart where they are close.
const DASHES: [&str; 4] = ["none", "80 40", "20 30", "90 30 20 30"];
/// Room for the sign of a binding row between its name and the plot.
const SIGN_ROOM: f64 = 19.0;
/// Words of the legend for bars with and without a mean.
const RANGE_NAMES: [&str; 2] = [
    "lowest to highest value, with mean",
    "lowest to highest value",
];
/// Words of the legend for the rows that decide.
const BINDING_NAME: &str = "binding: decides the window";

/// One event: the range its value may have, and its mean where it has one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RangeRow {
    /// What happens, as in "child, 4 mm off centre, on vent"; long names are wrapped.
    pub name: String,
    /// Mean, in the unit of the axis; none and a value that is not finite draw no marker.
    pub mean: Option<f64>,
    /// Lowest value, in the unit of the axis; without two finite ends no bar is drawn.
    pub low: f64,
    /// Highest value, in the unit of the axis.
    pub high: f64,
    /// This row decides: drawn bold, with a sign in front.
    pub binding: bool,
    /// A short remark printed under the name; empty for none.
    pub note: String,
}

/// Rows under one heading, as in "must act".
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RangeGroup {
    /// The heading.
    pub title: String,
    /// The rows, from top to bottom; a group without rows says so.
    pub rows: Vec<RangeRow>,
}

/// What is left between two groups: the window, or the overlap where there is none.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RangeBand {
    /// Strongest bound of what must not act, in the unit of the axis.
    pub low: f64,
    /// Weakest bound of what must act. Below `low` there is no window; the overlap is then hatched.
    pub high: f64,
    /// Label of the band, as in "window, ratio 2.4" or "no window".
    pub label: String,
}

/// Ranges of events as level bars, in groups, with upright marks and the window between the groups.
///
/// Values that a logarithmic axis cannot show, or that lie beyond the axis, end in an arrow; the
/// numbers at the right tell them.
#[derive(Clone, Debug, PartialEq)]
pub struct RangeChart {
    /// What the chart answers.
    pub title: String,
    /// The quantity, its unit and scale; logarithmic count shifts by default. Without a range it
    /// covers at most four decades below the largest value.
    pub value: Axis,
    /// The groups, from top to bottom.
    pub groups: Vec<RangeGroup>,
    /// Upright lines with label and origin, as in "threshold 48 counts, equal ratio to both sides".
    pub marks: Vec<PlaceMark>,
    /// The window or the overlap; none draws none.
    pub band: Option<RangeBand>,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

impl Default for RangeChart {
    fn default() -> Self {
        Self {
            title: String::new(),
            value: Axis::logarithmic("count shift", "counts"),
            groups: Vec::new(),
            marks: Vec::new(),
            band: None,
            assumption: String::new(),
        }
    }
}

/// How the bars of one group look: filled or open, and which marker the mean has.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    colour: RGBColor,
    opacity: f64,
    marker: Marker,
}

impl Look {
    /// The look of the group with this number; every second one is open.
    fn new(group: usize) -> Self {
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

impl RangeRow {
    /// The mean that is drawn.
    pub(super) fn finite_mean(&self) -> Option<f64> {
        self.mean.filter(|mean| mean.is_finite())
    }
}

impl RangeChart {
    /// The chart as an SVG document.
    ///
    /// # Errors
    ///
    /// Nothing finite to draw, nothing above zero on a logarithmic axis, an impossible range, or a mark
    /// or band that is not a number.
    pub fn svg(&self) -> Result<String, ChartError> {
        for mark in &self.marks {
            limits::finite(|| format!("mark \"{}\"", mark.label), mark.x)?;
        }
        if let Some(band) = &self.band {
            for end in [band.low, band.high] {
                limits::finite(|| format!("band \"{}\"", band.label), end)?;
            }
        }
        let x = self.axis()?;
        let (lines, rows_height) = range_rows::lines(&self.groups);
        let upright = Axis {
            range: Some([0.0, 1.0]),
            ..Axis::default()
        };
        let y = AxisMap::new(&upright, [0.0], &[], Ends::Tight, &self.title)?;
        let texts = self.texts(&x);
        let head = staircase::height(texts.iter().map(String::as_str));
        let (left, right) = (
            range_rows::name_room(&lines),
            range_rows::number_room(&lines),
        );
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &self.legend(&x),
            assumption: &self.assumption,
            x_caption: &self.value.caption(),
            y_caption: "",
            panels: &[""],
            columns: 1,
            plot_height: head + rows_height,
            left: left + SIGN_ROOM,
            right,
        })?;
        let whole = page.plots[0];
        let frame = Rect {
            top: whole.top + head,
            ..whole
        };
        let (plot, canvas) = (Plot { frame, x, y }, &mut page.canvas);
        self.draw_ground(canvas, &plot, &lines)?;
        let flags = self.flags(&plot, &texts);
        let ends = (MARGIN, WIDTH - MARGIN);
        staircase::draw(canvas, &flags, ends, whole.top, frame.bottom)?;
        for line in &lines {
            self.draw_line(canvas, &plot, line)?;
        }
        plot.draw_level_axis(canvas)?;
        Ok(page.canvas.finish(&self.title, &self.description()))
    }

    /// The chart as the bytes of a PNG picture, `scale` pixels per chart unit.
    ///
    /// # Errors
    ///
    /// As for [`RangeChart::svg`], and for a scale that is not above 0 and at most 8.
    pub fn png(&self, scale: f64) -> Result<Vec<u8>, ChartError> {
        raster::png(&self.svg()?, scale)
    }

    fn rows(&self) -> impl Iterator<Item = &RangeRow> {
        self.groups.iter().flat_map(|group| &group.rows)
    }

    fn axis(&self) -> Result<AxisMap, ChartError> {
        let rows = self
            .rows()
            .flat_map(|row| [row.mean.unwrap_or(f64::NAN), row.low, row.high]);
        let band = self.band.iter().flat_map(|band| [band.low, band.high]);
        let marks: Vec<f64> = self.marks.iter().map(|mark| mark.x).chain(band).collect();
        let values: Vec<f64> = rows.filter(|value| value.is_finite()).collect();
        if self.value.scale == Scale::Linear {
            return AxisMap::new(&self.value, values, &marks, Ends::Round, &self.title);
        }
        let positive = |values: &[f64]| -> Vec<f64> {
            values
                .iter()
                .copied()
                .filter(|value| *value > 0.0)
                .collect()
        };
        let mut shown = positive(&values);
        if shown.is_empty() {
            // The marks alone make the axis, unless there is nothing at all.
            shown = positive(&marks);
        }
        if shown.is_empty() {
            shown = values;
        }
        let largest = shown.iter().copied().fold(f64::MIN, f64::max);
        if largest > 0.0 {
            shown.retain(|value| *value >= largest / 10f64.powf(MOST_DECADES));
        }
        AxisMap::new(&self.value, shown, &marks, Ends::Round, &self.title)
    }

    /// Labels of the marks, then of the band, as they are written.
    fn texts(&self, x: &AxisMap) -> Vec<String> {
        let mark = |mark: &PlaceMark| match x.fraction(mark.x) {
            fraction if fraction < 0.0 => format!("← {} (left of this chart)", mark.label),
            fraction if fraction > 1.0 => format!("{} (right of this chart) →", mark.label),
            _ => mark.label.clone(),
        };
        let band = self.band.iter().map(|band| band.label.clone());
        self.marks.iter().map(mark).chain(band).collect()
    }

    fn flags(&self, plot: &Plot, texts: &[String]) -> Vec<Flag> {
        let inside = |value: f64| plot.across(value).clamp(plot.frame.left, plot.frame.right);
        let marks = self.marks.iter().enumerate().map(|(number, mark)| {
            let dash = DASHES[number % DASHES.len()];
            (
                "mark",
                [mark.x; 2],
                &mark.label,
                plot.x.contains(mark.x).then_some(dash),
            )
        });
        let band = self.band.iter().map(|band| {
            let ends = [band.low.min(band.high), band.low.max(band.high)];
            ("band", ends, &band.label, Some("none"))
        });
        marks
            .chain(band)
            .zip(texts)
            .map(|((class, ends, name, dash), text)| {
                Flag::new(class, name, text, ends.map(inside), dash)
            })
            .collect()
    }

    fn legend(&self, x: &AxisMap) -> Vec<LegendEntry> {
        let has_mean = range_rows::have_mean(&self.groups);
        let mut legend = vec![LegendEntry {
            name: RANGE_NAMES[usize::from(!has_mean)].to_owned(),
            sample: Sample::Range {
                look: Look::new(0),
                has_mean,
            },
        }];
        if self.rows().any(|row| row.binding) {
            legend.push(LegendEntry {
                name: BINDING_NAME.to_owned(),
                sample: Sample::Binding,
            });
        }
        let cut = |value: f64| value.is_finite() && !x.contains(value);
        if self.rows().any(|row| cut(row.low) || cut(row.high)) {
            legend.push(LegendEntry {
                name: "goes on beyond the axis".to_owned(),
                sample: Sample::Beyond,
            });
        }
        legend
    }

    fn description(&self) -> String {
        let mut parts = vec![format!("Ranges of {}.", self.value.caption())];
        for group in &self.groups {
            let rows: Vec<String> = group
                .rows
                .iter()
                .map(|row| {
                    let binding = if row.binding { ", binding" } else { "" };
                    format!("{}: {}{binding}", row.name, range_rows::numbers(row))
                })
                .collect();
            parts.push(format!("{}: {}.", group.title, rows.join("; ")));
        }
        parts.extend(self.marks.iter().map(|mark| format!("{}.", mark.label)));
        parts.extend(self.band.iter().map(|band| format!("{}.", band.label)));
        parts.push(self.assumption.clone());
        parts.join(" ")
    }

    /// What lies behind the bars: the band, the grid, a guide along every row.
    fn draw_ground(
        &self,
        canvas: &mut Canvas,
        plot: &Plot,
        lines: &[Line],
    ) -> Result<(), ChartError> {
        let frame = plot.frame;
        if let Some(band) = &self.band {
            let ends =
                [band.low, band.high].map(|end| plot.across(end).clamp(frame.left, frame.right));
            let area = Rect {
                left: ends[0].min(ends[1]),
                right: ends[0].max(ends[1]),
                ..frame
            };
            let overlap = band.high < band.low;
            let class = if overlap { "overlap" } else { "window" };
            canvas.group(class, &[], |pen| match overlap {
                true => {
                    pen.fill(area, colour::LIGHT, 0.35)?;
                    hatch(pen, area, 9.0, Slant::Rising, colour::LIGHT)
                }
                false => pen.fill(area, colour::series(2), 0.2),
            })?;
        }
        canvas.group("grid", &[], |pen| {
            let ticks = plot.x_ticks();
            for tick in ticks.iter().filter(|tick| !tick.text.is_empty()) {
                let x = plot.across(tick.value);
                pen.line(&[[x, frame.top], [x, frame.bottom]], colour::FAINT, 0.8)?;
            }
            Ok(())
        })?;
        canvas.group("guides", &[], |pen| {
            for line in lines {
                if let LineKind::Row { .. } = line.kind {
                    let y = frame.top + line.middle();
                    pen.line(&[[frame.left, y], [frame.right, y]], colour::FAINT, 0.8)?;
                }
            }
            Ok(())
        })
    }

    fn draw_line(&self, canvas: &mut Canvas, plot: &Plot, line: &Line) -> Result<(), ChartError> {
        let frame = plot.frame;
        let middle = frame.top + line.middle();
        if let LineKind::Row { group, row } = line.kind {
            canvas.group("range", &[("data-name", &row.name)], |pen| {
                draw_row(pen, plot, Look::new(group), row, middle)
            })?;
            if row.binding {
                let tip = [frame.left - 5.0, middle];
                canvas.group("binding", &[("data-name", &row.name)], |pen| {
                    draw_binding(pen, tip)
                })?;
            }
        }
        let names_end = frame.left - SIGN_ROOM;
        range_rows::write(canvas, line, frame.top, [names_end, frame.right + 8.0]);
        Ok(())
    }
}

/// The bar of one row, with arrows where it goes on beyond the axis.
fn draw_row(
    pen: &Pen,
    plot: &Plot,
    look: Look,
    row: &RangeRow,
    middle: f64,
) -> Result<(), ChartError> {
    let frame = plot.frame;
    let mean = row
        .finite_mean()
        .filter(|mean| plot.x.contains(*mean))
        .map(|mean| plot.across(mean));
    if row.low.is_finite() && row.high.is_finite() {
        let ends = [row.low.min(row.high), row.low.max(row.high)];
        let [left, right] = ends.map(|end| plot.across(end).clamp(frame.left, frame.right));
        let area = Rect {
            left,
            right,
            top: middle - HALF_BAR,
            bottom: middle + HALF_BAR,
        };
        let caps = ends.map(|end| plot.x.contains(end));
        if right > left || caps == [true; 2] {
            draw_capped(pen, look, area, caps, row.binding)?;
        }
        if ends[0] < plot.x.low() && !caps[0] {
            draw_arrow(pen, [frame.left + 2.0, middle], -1.0)?;
        }
        if ends[1] > plot.x.high() && !caps[1] {
            draw_arrow(pen, [frame.right - 2.0, middle], 1.0)?;
        }
    } else if let (Some(beyond), None) = (row.finite_mean(), mean) {
        let below = plot.x.fraction(beyond) < 0.0;
        return match below {
            true => draw_arrow(pen, [frame.left + 2.0, middle], -1.0),
            false => draw_arrow(pen, [frame.right - 2.0, middle], 1.0),
        };
    }
    mean.map_or(Ok(()), |x| draw_mean(pen, look, [x, middle]))
}

/// A bar, with its mean where bars have one, as the legend shows it.
pub(super) fn draw_sample(
    pen: &Pen,
    look: Look,
    has_mean: bool,
    area: Rect,
) -> Result<(), ChartError> {
    draw_capped(pen, look, area, [true; 2], false)?;
    if !has_mean {
        return Ok(());
    }
    let middle = [
        0.5 * (area.left + area.right),
        0.5 * (area.top + area.bottom),
    ];
    draw_mean(pen, look, middle)
}

/// A bar with a cap at each end that is not cut off.
fn draw_capped(
    pen: &Pen,
    look: Look,
    area: Rect,
    caps: [bool; 2],
    heavy: bool,
) -> Result<(), ChartError> {
    let (ink, width) = match heavy {
        true => (colour::INK, 2.2),
        false => (look.colour, 1.2),
    };
    pen.fill(area, look.colour, look.opacity)?;
    for y in [area.top, area.bottom] {
        pen.line(&[[area.left, y], [area.right, y]], ink, width)?;
    }
    for (x, shown) in [area.left, area.right].into_iter().zip(caps) {
        if shown {
            let cap = [[x, area.top - CAP], [x, area.bottom + CAP]];
            pen.line(&cap, colour::INK, width.max(1.6))?;
        }
    }
    Ok(())
}

fn draw_mean(pen: &Pen, look: Look, centre: Point) -> Result<(), ChartError> {
    pen.marker(look.marker, centre, 4.6, colour::PAPER, false)?;
    pen.marker(look.marker, centre, 3.4, colour::INK, false)
}

/// The sign in front of a row that decides, pointing right to its tip.
pub(super) fn draw_binding(pen: &Pen, tip: Point) -> Result<(), ChartError> {
    let [x, y] = tip;
    pen.area(
        &[[x, y], [x - 9.0, y - 5.5], [x - 9.0, y + 5.5]],
        colour::INK,
        1.0,
    )
}

/// The arrow of a bar that goes on: to the left (-1) or to the right (1) of its tip.
pub(super) fn draw_arrow(pen: &Pen, tip: Point, direction: f64) -> Result<(), ChartError> {
    let [x, y] = tip;
    let foot = x - 9.0 * direction;
    pen.line(&[[x, y], [foot - 5.0 * direction, y]], colour::INK, 1.6)?;
    pen.area(
        &[[x, y], [foot, y - 4.5], [foot, y + 4.5]],
        colour::INK,
        1.0,
    )
}
