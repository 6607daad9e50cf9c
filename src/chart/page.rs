//! The page around the plots: title, legend, panels in rows, captions, assumption line.

use plotters::style::RGBColor;

use super::canvas::{Anchor, Canvas, Pen, Point, Rect, Text};
use super::colour;
use super::error::ChartError;
use super::font;
use super::limits;
use super::marker::Style;
use super::outlines;
use super::plot::TICK_SIZE;
use super::ranges::{self, Look};
use super::zones;

/// Width of every chart.
pub(super) const WIDTH: f64 = 800.0;
/// White rim of every chart.
pub(super) const MARGIN: f64 = 18.0;
const TITLE_SIZE: f64 = 18.0;
/// Size of captions along axes.
pub(super) const CAPTION_SIZE: f64 = 13.5;
const LEGEND_SIZE: f64 = 12.5;
const NOTE_SIZE: f64 = 11.5;
/// Size of labels inside a plot.
pub(super) const LABEL_SIZE: f64 = 12.0;
/// Distance of baselines over the font size.
const LINE_SPACING: f64 = 1.35;
/// Width of the drawn sample in front of a legend name.
const SAMPLE_WIDTH: f64 = 34.0;
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
    /// A limit, whose reason a narrow plot has no room for.
    Limit,
    /// The dot where a value of a map was computed.
    Dot,
    /// A bar from the lowest to the highest value, with its mean where bars have one.
    Range { look: Look, has_mean: bool },
    /// The sign in front of what decides.
    Binding,
    /// The arrow of a bar that goes on beyond the axis.
    Beyond,
    /// A shaded stretch of the level axis, by the number of its kind.
    Zone(usize),
    /// An outline drawn over a map.
    Outline,
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

impl PageSpec<'_> {
    /// Left end of the first and right end of the last column of plots.
    fn sides(&self) -> (f64, f64) {
        let y_room = if self.y_caption.is_empty() {
            0.0
        } else {
            CAPTION_SIZE * 1.6
        };
        (MARGIN + y_room + self.left, WIDTH - MARGIN - self.right)
    }

    /// Width of one plot.
    pub fn plot_width(&self) -> f64 {
        let (left, right) = self.sides();
        let columns = self.columns.max(1);
        (right - left - COLUMN_GAP * (columns - 1) as f64) / columns as f64
    }
}

/// A page with everything but its plots.
pub(super) struct Page {
    pub canvas: Canvas,
    /// Where the plots go, in the order of the panels.
    pub plots: Vec<Rect>,
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

        let (left, right) = spec.sides();
        let columns = spec.columns.max(1);
        let rows = spec.panels.len().div_ceil(columns);
        let width = spec.plot_width();
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
        Sample::Limit => {
            pen.line(&[[x, y], [end, y]], colour::INK, 1.5)?;
            limits::strokes(pen, [x, y], [end, y], [0.0, -1.0])
        }
        Sample::Dot => pen.ring([middle, y], 2.0, colour::INK, 0.8),
        Sample::Range { look, has_mean } => ranges::draw_sample(pen, *look, *has_mean, around(5.5)),
        Sample::Binding => ranges::draw_binding(pen, [end - 8.0, y]),
        Sample::Beyond => ranges::draw_arrow(pen, [middle - 4.0, y], -1.0),
        Sample::Zone(kind) => zones::shade(pen, around(6.0), *kind),
        Sample::Outline => outlines::stroke(pen, &[[x + 2.0, y], [end - 2.0, y]]),
    }
}
