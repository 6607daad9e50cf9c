//! Ranges of events in groups, one row each: does a threshold fit between what must act and what must
//! not?

use crate::axis::{AxisMap, Ends};
use crate::canvas::{Canvas, Pen, Rect};
use crate::colour;
use crate::data::{Axis, PlaceMark, Scale};
use crate::error::ChartError;
use crate::hatch::{Slant, hatch};
use crate::limits;
use crate::page::{LegendEntry, MARGIN, Page, PageSpec, WIDTH};
use crate::plot::Plot;
use crate::range_marks::{Look, draw_arrow, draw_binding, draw_capped, draw_mean, draw_sample};
use crate::range_rows::{self, Line, LineKind, RangeGroup, RangeRow};
use crate::raster::Chart;
use crate::staircase::{self, Flag};

/// Half the height of a bar.
const HALF_BAR: f64 = 5.5;
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

impl Chart for RangeChart {
    /// # Errors
    /// Nothing finite to draw, nothing above zero on a logarithmic axis, an impossible range, or a mark
    /// or band that is not a number.
    fn svg(&self) -> Result<String, ChartError> {
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
        let y = AxisMap::of_rows(1.0);
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
            plot_height: head + rows_height,
            left: left + SIGN_ROOM,
            right,
            ..PageSpec::default()
        });
        let whole = page.plots[0];
        let frame = Rect {
            top: whole.top + head,
            ..whole
        };
        let (plot, canvas) = (Plot { frame, x, y }, &mut page.canvas);
        self.draw_ground(canvas, &plot, &lines);
        let flags = self.flags(&plot, &texts);
        let ends = (MARGIN, WIDTH - MARGIN);
        staircase::draw(canvas, &flags, ends, whole.top, frame.bottom);
        for line in &lines {
            self.draw_line(canvas, &plot, line);
        }
        plot.draw_level_axis(canvas);
        Ok(page.canvas.finish(&self.title, &self.description()))
    }
}

impl RangeChart {
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
        let mut legend = vec![LegendEntry::drawn(
            RANGE_NAMES[usize::from(!has_mean)],
            move |pen, place| draw_sample(pen, Look::new(0), has_mean, place.area(5.5)),
        )];
        if self.rows().any(|row| row.binding) {
            legend.push(LegendEntry::drawn(BINDING_NAME, |pen, place| {
                let [_, [end, y]] = place.line();
                draw_binding(pen, [end - 8.0, y])
            }));
        }
        let cut = |value: f64| value.is_finite() && !x.contains(value);
        if self.rows().any(|row| cut(row.low) || cut(row.high)) {
            legend.push(LegendEntry::drawn(
                "goes on beyond the axis",
                |pen, place| {
                    let [x, y] = place.middle();
                    draw_arrow(pen, [x - 4.0, y], -1.0)
                },
            ));
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
    fn draw_ground(&self, canvas: &mut Canvas, plot: &Plot, lines: &[Line]) {
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
                    pen.fill(area, colour::LIGHT, 0.35);
                    hatch(pen, area, 9.0, Slant::Rising, colour::LIGHT)
                }
                false => pen.fill(area, colour::series(2), 0.2),
            });
        }
        canvas.group("grid", &[], |pen| plot.draw_upright_grid(pen));
        canvas.group("guides", &[], |pen| {
            for line in lines {
                if let LineKind::Row { .. } = line.kind {
                    let y = frame.top + line.middle();
                    pen.line(&[[frame.left, y], [frame.right, y]], colour::FAINT, 0.8);
                }
            }
        })
    }

    fn draw_line(&self, canvas: &mut Canvas, plot: &Plot, line: &Line) {
        let frame = plot.frame;
        let middle = frame.top + line.middle();
        if let LineKind::Row { group, row } = line.kind {
            canvas.group("range", &[("data-name", &row.name)], |pen| {
                draw_row(pen, plot, Look::new(group), row, middle)
            });
            if row.binding {
                let tip = [frame.left - 5.0, middle];
                canvas.group("binding", &[("data-name", &row.name)], |pen| {
                    draw_binding(pen, tip)
                });
            }
        }
        let names_end = frame.left - SIGN_ROOM;
        range_rows::write(canvas, line, frame.top, [names_end, frame.right + 8.0]);
    }
}

/// The bar of one row, with arrows where it goes on beyond the axis.
fn draw_row(pen: &mut Pen, plot: &Plot, look: Look, row: &RangeRow, middle: f64) {
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
            draw_capped(pen, look, area, caps, row.binding);
        }
        if ends[0] < plot.x.low() && !caps[0] {
            draw_arrow(pen, [frame.left + 2.0, middle], -1.0);
        }
        if ends[1] > plot.x.high() && !caps[1] {
            draw_arrow(pen, [frame.right - 2.0, middle], 1.0);
        }
    } else if let (Some(beyond), None) = (row.finite_mean(), mean) {
        let below = plot.x.fraction(beyond) < 0.0;
        return match below {
            true => draw_arrow(pen, [frame.left + 2.0, middle], -1.0),
            false => draw_arrow(pen, [frame.right - 2.0, middle], 1.0),
        };
    }
    if let Some(x) = mean {
        draw_mean(pen, look, [x, middle]);
    }
}
