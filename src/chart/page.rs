//! The page around the plots: title, legend, panels in rows, captions, assumption line.

use plotters::style::RGBColor;

use super::axis::{AxisMap, Tick};
use super::canvas::{Anchor, Canvas, Pen, Point, Rect, Text};
use super::colour;
use super::error::ChartError;
use super::font;
use super::marker::Style;

/// Width of every chart.
const WIDTH: f64 = 800.0;
const MARGIN: f64 = 18.0;
const TITLE_SIZE: f64 = 18.0;
const CAPTION_SIZE: f64 = 13.5;
const LEGEND_SIZE: f64 = 12.5;
const NOTE_SIZE: f64 = 11.5;
/// Size of the numbers along the axes.
pub(super) const TICK_SIZE: f64 = 12.0;
/// Size of labels inside a plot.
pub(super) const LABEL_SIZE: f64 = 12.0;
/// Distance of baselines over the font size.
const LINE_SPACING: f64 = 1.35;
/// Width of the drawn sample in front of a legend name.
const SAMPLE_WIDTH: f64 = 34.0;
/// About how many numbers a level axis has at least.
const FEWEST_NUMBERS: usize = 2;
/// About how many numbers a level axis has at most.
const MOST_NUMBERS: usize = 10;
/// Gap between panels in a row.
const COLUMN_GAP: f64 = 16.0;

/// What stands in front of a name in the legend.
pub(super) enum Sample {
    /// A line with its marker.
    Line(Style),
    /// A marker alone.
    Marker(Style),
    /// The band of the estimated error.
    Band,
    /// A filled box.
    Box(RGBColor, f64),
    /// The line that joins the best trade-offs.
    Front,
    /// The dot where a value of a map was computed.
    Dot,
}

/// One entry of the legend.
pub(super) struct LegendEntry {
    pub name: String,
    pub sample: Sample,
}

/// What surrounds the plots.
pub(super) struct PageSpec<'a> {
    pub title: &'a str,
    pub legend: &'a [LegendEntry],
    pub assumption: &'a str,
    pub x_caption: &'a str,
    pub y_caption: &'a str,
    /// Titles of the panels; one empty title makes a chart without panel titles.
    pub panels: &'a [&'a str],
    pub columns: usize,
    /// Height of one plot.
    pub plot_height: f64,
    /// Room for the labels left of the plots.
    pub left: f64,
    /// Room right of the plots.
    pub right: f64,
}

/// A page with everything but its plots.
pub(super) struct Page {
    pub canvas: Canvas,
    /// Where the plots go, in the order of the panels.
    pub plots: Vec<Rect>,
}

/// Room that tick labels need left of a plot.
pub(super) fn label_room(ticks: &[Tick]) -> f64 {
    ticks
        .iter()
        .map(|tick| font::width(&tick.text, TICK_SIZE))
        .fold(0.0, f64::max)
        + 10.0
}

/// How many panels stand side by side.
pub(super) fn panel_columns(count: usize) -> usize {
    match count {
        0 | 1 => 1,
        2 | 4 => 2,
        _ => 3,
    }
}

impl Page {
    /// Lays the page out and draws all that is not a plot.
    pub fn new(spec: &PageSpec) -> Result<Self, ChartError> {
        let inner = WIDTH - 2.0 * MARGIN;
        let title = font::wrapped(spec.title, TITLE_SIZE, inner);
        let note = font::wrapped(spec.assumption, NOTE_SIZE, inner);
        let mut top = MARGIN + TITLE_SIZE * LINE_SPACING * title.len() as f64;
        let (legend, legend_rows) = legend_places(spec.legend, top + LEGEND_SIZE, inner);
        top += LEGEND_SIZE * LINE_SPACING * legend_rows as f64 + 12.0;

        let y_room = if spec.y_caption.is_empty() {
            0.0
        } else {
            CAPTION_SIZE * 1.6
        };
        let left = MARGIN + y_room + spec.left;
        let right = WIDTH - MARGIN - spec.right;
        let columns = spec.columns.max(1);
        let rows = spec.panels.len().div_ceil(columns);
        let width = (right - left - COLUMN_GAP * (columns - 1) as f64) / columns as f64;
        let titled = spec.panels.iter().any(|title| !title.is_empty());
        let head = if titled { LABEL_SIZE * 1.6 } else { 0.0 };
        let row_gap = 10.0;
        let plots: Vec<Rect> = (0..spec.panels.len())
            .map(|panel| {
                let (row, column) = (panel / columns, panel % columns);
                let left = left + (width + COLUMN_GAP) * column as f64;
                let top = top + head + (spec.plot_height + head + row_gap) * row as f64;
                Rect {
                    left,
                    top,
                    right: left + width,
                    bottom: top + spec.plot_height,
                }
            })
            .collect();
        let bottom = top + (spec.plot_height + head + row_gap) * rows as f64 - row_gap;
        let ticks_end = bottom + 8.0 + TICK_SIZE;
        let caption = ticks_end + CAPTION_SIZE * 1.5;
        let note_top = caption + 14.0;
        let note_lines = NOTE_SIZE * LINE_SPACING * note.len() as f64;
        let height = note_top + note_lines + if note.is_empty() { 0.0 } else { MARGIN - 6.0 };

        let mut canvas = Canvas::new(WIDTH, height);
        write_lines(
            &mut canvas,
            "title",
            &title,
            MARGIN,
            TITLE_SIZE,
            colour::INK,
        );
        draw_legend(&mut canvas, spec.legend, &legend)?;
        let middle = 0.5 * (left + right);
        canvas.text(&Text::new(
            "caption",
            spec.x_caption,
            [middle, caption],
            Anchor::Middle,
            CAPTION_SIZE,
        ));
        if !spec.y_caption.is_empty() {
            canvas.text(&Text {
                upright: true,
                ..Text::new(
                    "caption",
                    spec.y_caption,
                    [MARGIN + CAPTION_SIZE * 0.8, 0.5 * (top + head + bottom)],
                    Anchor::Middle,
                    CAPTION_SIZE,
                )
            });
        }
        for (title, plot) in spec.panels.iter().zip(&plots) {
            canvas.text(&Text::new(
                "panel",
                title,
                [0.5 * (plot.left + plot.right), plot.top - 6.0],
                Anchor::Middle,
                LABEL_SIZE,
            ));
        }
        write_lines(
            &mut canvas,
            "assumption",
            &note,
            note_top,
            NOTE_SIZE,
            colour::GREY,
        );
        Ok(Self { canvas, plots })
    }
}

fn write_lines(
    canvas: &mut Canvas,
    class: &str,
    lines: &[String],
    top: f64,
    size: f64,
    colour: RGBColor,
) {
    for (number, line) in lines.iter().enumerate() {
        let baseline = top + size * (1.0 + LINE_SPACING * number as f64);
        canvas.text(&Text {
            colour,
            ..Text::new(class, line, [MARGIN, baseline], Anchor::Start, size)
        });
    }
}

/// Where the samples of the legend start (on the baseline), and how many rows they fill.
fn legend_places(entries: &[LegendEntry], first: f64, inner: f64) -> (Vec<Point>, usize) {
    let mut places = Vec::new();
    let (mut x, mut row) = (0.0, 0);
    for entry in entries {
        let width = SAMPLE_WIDTH + 6.0 + font::width(&entry.name, LEGEND_SIZE) + 22.0;
        if x > 0.0 && x + width - 22.0 > inner {
            x = 0.0;
            row += 1;
        }
        places.push([
            MARGIN + x,
            first + 6.0 + LEGEND_SIZE * LINE_SPACING * f64::from(row),
        ]);
        x += width;
    }
    let rows = if entries.is_empty() {
        0
    } else {
        row as usize + 1
    };
    (places, rows)
}

fn draw_legend(
    canvas: &mut Canvas,
    entries: &[LegendEntry],
    places: &[Point],
) -> Result<(), ChartError> {
    for (entry, &[x, baseline]) in entries.iter().zip(places) {
        let y = baseline - 0.36 * LEGEND_SIZE;
        let dash = match &entry.sample {
            Sample::Line(Style {
                dash: Some(dash), ..
            }) => vec![("stroke-dasharray", *dash)],
            _ => Vec::new(),
        };
        canvas.group("legend", &dash, |pen| draw_sample(pen, &entry.sample, x, y))?;
        if let Sample::Line(style) = entry.sample {
            // Apart from the line, so that its outline is not dashed.
            canvas.group("legend", &[], |pen| {
                let centre = [x + 0.5 * SAMPLE_WIDTH, y];
                pen.marker(
                    style.marker,
                    centre,
                    4.0,
                    style.colour,
                    style.dash.is_some(),
                )
            })?;
        }
        canvas.text(&Text::new(
            "legend",
            &entry.name,
            [x + SAMPLE_WIDTH + 6.0, baseline],
            Anchor::Start,
            LEGEND_SIZE,
        ));
    }
    Ok(())
}

fn draw_sample(pen: &Pen, sample: &Sample, x: f64, y: f64) -> Result<(), ChartError> {
    let (end, middle) = (x + SAMPLE_WIDTH, x + 0.5 * SAMPLE_WIDTH);
    let around = |half: f64| Rect {
        left: x + 4.0,
        top: y - half,
        right: end - 4.0,
        bottom: y + half,
    };
    match sample {
        Sample::Line(style) => pen.line(&[[x, y], [end, y]], style.colour, 2.0),
        Sample::Marker(style) => pen.marker(style.marker, [middle, y], 4.5, style.colour, false),
        Sample::Band => pen.fill(around(5.0), colour::GREY, 0.3),
        Sample::Box(colour, opacity) => {
            pen.fill(around(5.0), *colour, *opacity)?;
            pen.frame(around(5.0), *colour, 1.2)
        }
        Sample::Front => {
            pen.line(&[[x, y], [end, y]], colour::INK, 1.6)?;
            pen.ring([middle, y], 6.0, colour::INK, 1.6)
        }
        Sample::Dot => pen.ring([middle, y], 2.0, colour::INK, 0.8),
    }
}

/// One plot: where it is, and its axes.
#[derive(Clone, Copy)]
pub(super) struct Plot {
    pub frame: Rect,
    pub x: AxisMap,
    pub y: AxisMap,
}

impl Plot {
    /// Where a pair of values lies on paper; not finite for what an axis cannot show.
    pub fn point(&self, x: f64, y: f64) -> Point {
        [self.across(x), self.up(y)]
    }

    pub fn across(&self, x: f64) -> f64 {
        self.frame.left + self.x.fraction(x) * self.frame.width()
    }

    pub fn up(&self, y: f64) -> f64 {
        self.frame.bottom - self.y.fraction(y) * self.frame.height()
    }

    /// Grid lines, to be drawn first.
    pub fn draw_grid(&self, canvas: &mut Canvas) -> Result<(), ChartError> {
        let frame = self.frame;
        canvas.group("grid", &[], |pen| {
            for tick in self.x_ticks().iter().filter(|tick| !tick.text.is_empty()) {
                let x = self.across(tick.value);
                pen.line(&[[x, frame.top], [x, frame.bottom]], colour::FAINT, 0.8)?;
            }
            for tick in self.y_ticks().iter().filter(|tick| !tick.text.is_empty()) {
                let y = self.up(tick.value);
                pen.line(&[[frame.left, y], [frame.right, y]], colour::FAINT, 0.8)?;
            }
            Ok(())
        })
    }

    /// Frame and level axis alone, where the rows have names instead of numbers.
    pub fn draw_level_axis(&self, canvas: &mut Canvas) -> Result<(), ChartError> {
        canvas.group("frame", &[], |pen| {
            pen.frame(self.frame, colour::INK, 1.0)?;
            self.draw_x_strokes(pen)
        })?;
        self.write_x_numbers(canvas);
        Ok(())
    }

    fn draw_x_strokes(&self, pen: &Pen) -> Result<(), ChartError> {
        let bottom = self.frame.bottom;
        for tick in self.x_ticks() {
            let (x, long) = (self.across(tick.value), !tick.text.is_empty());
            let end = bottom + if long { 5.0 } else { 3.0 };
            pen.line(&[[x, bottom], [x, end]], colour::INK, 1.0)?;
        }
        Ok(())
    }

    fn write_x_numbers(&self, canvas: &mut Canvas) {
        for tick in self.x_ticks().iter().filter(|tick| !tick.text.is_empty()) {
            let at = [
                self.across(tick.value),
                self.frame.bottom + 8.0 + 0.85 * TICK_SIZE,
            ];
            canvas.text(&Text::new(
                "x-tick",
                &tick.text,
                at,
                Anchor::Middle,
                TICK_SIZE,
            ));
        }
    }

    /// Frame, tick strokes and numbers, to be drawn after the data.
    pub fn draw_axes(
        &self,
        canvas: &mut Canvas,
        number_x: bool,
        number_y: bool,
    ) -> Result<(), ChartError> {
        let frame = self.frame;
        canvas.group("frame", &[], |pen| {
            pen.frame(frame, colour::INK, 1.0)?;
            self.draw_x_strokes(pen)?;
            for tick in self.y_ticks() {
                let (y, long) = (self.up(tick.value), !tick.text.is_empty());
                let end = frame.left - if long { 5.0 } else { 3.0 };
                pen.line(&[[frame.left, y], [end, y]], colour::INK, 1.0)?;
            }
            Ok(())
        })?;
        if number_x {
            self.write_x_numbers(canvas);
        }
        if number_y {
            for tick in self.y_ticks().iter().filter(|tick| !tick.text.is_empty()) {
                let drop = 0.5 * font::CAPITAL_HEIGHT * TICK_SIZE;
                let at = [frame.left - 8.0, self.up(tick.value) + drop];
                canvas.text(&Text::new("y-tick", &tick.text, at, Anchor::End, TICK_SIZE));
            }
        }
        Ok(())
    }

    /// Ticks of the level axis.
    pub fn x_ticks(&self) -> Vec<Tick> {
        // As many numbers as stand side by side with air between them.
        (FEWEST_NUMBERS..=MOST_NUMBERS)
            .rev()
            .map(|wanted| self.x.ticks(wanted))
            .find(|ticks| self.apart(ticks))
            .unwrap_or_else(|| self.x.ticks(FEWEST_NUMBERS))
    }

    /// Whether the numbers of a level axis leave each other room.
    fn apart(&self, ticks: &[Tick]) -> bool {
        const AIR: f64 = 12.0;
        let mut numbers: Vec<(f64, f64)> = ticks
            .iter()
            .filter(|tick| !tick.text.is_empty())
            .map(|tick| (self.across(tick.value), font::width(&tick.text, TICK_SIZE)))
            .collect();
        numbers.sort_by(|a, b| a.0.total_cmp(&b.0));
        numbers
            .windows(2)
            .all(|w| w[1].0 - w[0].0 >= 0.5 * (w[0].1 + w[1].1) + AIR)
    }

    /// Ticks of the upright axis.
    pub fn y_ticks(&self) -> Vec<Tick> {
        y_ticks(&self.y, self.frame.height())
    }
}

/// Ticks of an upright axis of this height.
pub(super) fn y_ticks(axis: &AxisMap, height: f64) -> Vec<Tick> {
    axis.ticks(((height / 45.0) as usize).clamp(3, 8))
}
