//! The page around the plots: title, legend, panels in rows, captions, assumption line.

use crate::canvas::{Anchor, Canvas, Pen, Point, Rect, Text};
use crate::colour;
use crate::colour::Colour;
use crate::font::{self, CAPTION_SIZE, LABEL_SIZE, TICK_SIZE};

/// Width of every chart.
pub const WIDTH: f64 = 800.0;
/// White rim of every chart.
pub const MARGIN: f64 = 18.0;
const TITLE_SIZE: f64 = 18.0;
const LEGEND_SIZE: f64 = 12.5;
const NOTE_SIZE: f64 = 11.5;
/// Distance of baselines over the font size.
const LINE_SPACING: f64 = 1.35;
/// Width of the drawn sample in front of a legend name.
const SAMPLE_WIDTH: f64 = 34.0;
/// Gap between panels in a row.
const COLUMN_GAP: f64 = 16.0;

/// Where the sample in front of a name in the legend is drawn.
#[derive(Clone, Copy, Debug)]
pub struct SamplePlace {
    /// Left end of the middle line.
    left: Point,
}

impl SamplePlace {
    /// The middle line from left to right.
    pub fn line(self) -> [Point; 2] {
        let [x, y] = self.left;
        [self.left, [x + SAMPLE_WIDTH, y]]
    }

    /// The middle.
    pub fn middle(self) -> Point {
        [self.left[0] + 0.5 * SAMPLE_WIDTH, self.left[1]]
    }

    /// An area around the middle, this high above and below it.
    pub fn area(self, half: f64) -> Rect {
        let [[left, y], [right, _]] = self.line();
        Rect {
            left: left + 4.0,
            top: y - half,
            right: right - 4.0,
            bottom: y + half,
        }
    }
}

/// Draws the sample in front of a name.
type DrawSample = Box<dyn Fn(&mut Canvas, SamplePlace)>;

/// One entry of the legend.
pub struct LegendEntry {
    name: String,
    draw: DrawSample,
}

impl LegendEntry {
    /// A name after a sample that is drawn in groups of its own.
    pub fn new(name: impl Into<String>, draw: impl Fn(&mut Canvas, SamplePlace) + 'static) -> Self {
        Self {
            name: name.into(),
            draw: Box::new(draw),
        }
    }

    /// A name after a sample.
    pub fn drawn(name: impl Into<String>, draw: impl Fn(&mut Pen, SamplePlace) + 'static) -> Self {
        Self::new(name, move |canvas, place| {
            canvas.group("legend", &[], |pen| draw(pen, place))
        })
    }

    /// A name after a box with a rim.
    pub fn filled(name: impl Into<String>, colour: Colour, opacity: f64) -> Self {
        Self::drawn(name, move |pen, place| {
            pen.fill(place.area(5.0), colour, opacity);
            pen.frame(place.area(5.0), colour, 1.2)
        })
    }
}

/// What surrounds the plots; without more, one plot without captions.
pub struct PageSpec<'a> {
    /// What the chart answers.
    pub title: &'a str,
    /// Entries of the legend, in rows under the title.
    pub legend: &'a [LegendEntry],
    /// What was assumed; printed under the plots.
    pub assumption: &'a str,
    /// Written under the plots; empty for nothing.
    pub x_caption: &'a str,
    /// Written upwards left of the plots; empty for nothing.
    pub y_caption: &'a str,
    /// Titles of the panels; one empty title makes a chart without panel titles.
    pub panels: &'a [&'a str],
    /// Panels side by side.
    pub columns: usize,
    /// Height of one plot.
    pub plot_height: f64,
    /// Room for the labels left of the plots.
    pub left: f64,
    /// Room right of the plots.
    pub right: f64,
}

impl Default for PageSpec<'_> {
    fn default() -> Self {
        Self {
            title: "",
            legend: &[],
            assumption: "",
            x_caption: "",
            y_caption: "",
            panels: &[""],
            columns: 1,
            plot_height: 0.0,
            left: 0.0,
            right: 0.0,
        }
    }
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

    /// Where the plots go when the first row, its titles of height `head` on it, begins at `top`, and where the
    /// last one ends.
    fn plots(&self, top: f64, head: f64) -> (Vec<Rect>, f64) {
        let row_gap = 10.0;
        let (left, _) = self.sides();
        let columns = self.columns.max(1);
        let rows = self.panels.len().div_ceil(columns);
        let width = self.plot_width();
        let places = (0..self.panels.len()).map(|panel| {
            let (row, column) = (panel / columns, panel % columns);
            let left = left + (width + COLUMN_GAP) * column as f64;
            let top = top + head + (self.plot_height + head + row_gap) * row as f64;
            Rect {
                left,
                top,
                right: left + width,
                bottom: top + self.plot_height,
            }
        });
        let bottom = top + (self.plot_height + head + row_gap) * rows as f64 - row_gap;
        (places.collect(), bottom)
    }
}

/// A page with everything but its plots.
pub struct Page {
    /// What is drawn on.
    pub canvas: Canvas,
    /// Where the plots go, in the order of the panels.
    pub plots: Vec<Rect>,
}

/// How many panels stand side by side.
pub fn panel_columns(count: usize) -> usize {
    match count {
        0 | 1 => 1,
        2 | 4 => 2,
        _ => 3,
    }
}

impl Page {
    /// Lays the page out and draws all that is not a plot.
    pub fn new(spec: &PageSpec) -> Self {
        let inner = WIDTH - 2.0 * MARGIN;
        let title = font::wrapped(spec.title, TITLE_SIZE, inner);
        let note = font::wrapped(spec.assumption, NOTE_SIZE, inner);
        let mut top = MARGIN + TITLE_SIZE * LINE_SPACING * title.len() as f64;
        let (legend, legend_rows) = legend_places(spec.legend, top + LEGEND_SIZE, inner);
        top += LEGEND_SIZE * LINE_SPACING * legend_rows as f64 + 12.0;

        let (left, right) = spec.sides();
        let titled = spec.panels.iter().any(|title| !title.is_empty());
        let head = if titled { LABEL_SIZE * 1.6 } else { 0.0 };
        let (plots, bottom) = spec.plots(top, head);
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
        draw_legend(&mut canvas, spec.legend, &legend);
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
        Self { canvas, plots }
    }
}

fn write_lines(
    canvas: &mut Canvas,
    class: &str,
    lines: &[String],
    top: f64,
    size: f64,
    colour: Colour,
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

fn draw_legend(canvas: &mut Canvas, entries: &[LegendEntry], places: &[Point]) {
    for (entry, &[x, baseline]) in entries.iter().zip(places) {
        let y = baseline - 0.36 * LEGEND_SIZE;
        (entry.draw)(canvas, SamplePlace { left: [x, y] });
        canvas.text(&Text::new(
            "legend",
            &entry.name,
            [x + SAMPLE_WIDTH + 6.0, baseline],
            Anchor::Start,
            LEGEND_SIZE,
        ));
    }
}
