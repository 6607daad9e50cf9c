//! Bars of signed effects, one level bar per name: sensitivities, tolerances.

use crate::axis::{AxisMap, Ends};
use crate::canvas::{Anchor, Canvas, Rect, Text};
use crate::clip;
use crate::colour;
use crate::data::{Axis, LimitLine, Scale, half_width};
use crate::error::ChartError;
use crate::font::{self, LABEL_SIZE};
use crate::limits;
use crate::number;
use crate::page::{LegendEntry, Page, PageSpec};
use crate::placement::Placer;
use crate::plot::Plot;
use crate::raster::Chart;

/// Height of one row.
const ROW: f64 = 26.0;
/// Half the height of a bar.
const HALF_BAR: f64 = 8.0;
/// Most room for the names, in chart units.
const MOST_NAME_ROOM: f64 = 300.0;
/// Between a bar and its number.
const NUMBER_GAP: f64 = 6.0;
/// Between a number and the frame.
const NUMBER_RIM: f64 = 4.0;
/// Largest share of the plot's width that is kept free for a number.
const MOST_NUMBER_SHARE: f64 = 0.4;
/// Rounds of making room for the numbers on both sides; enough for their largest shares to within 1 %.
const ROUNDS: usize = 25;

/// One row of a bar chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Bar {
    /// What has the effect, as in "overlay thickness +0.2 mm".
    pub name: String,
    /// The effect with its sign, in the unit of the axis; not finite leaves the row empty.
    pub value: f64,
    /// Half-width of its error bar; zero or not finite draws none.
    pub error: f64,
    /// Effect of the change in the other direction, drawn as an open bar.
    pub opposite: Option<f64>,
}

/// Signed effects as level bars from zero, in the given order from top to bottom.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BarChart {
    /// What the chart answers.
    pub title: String,
    /// The effect and its unit; always linear, always with zero.
    pub value: Axis,
    /// The rows.
    pub bars: Vec<Bar>,
    /// Limits of the effect.
    pub limits: Vec<LimitLine>,
    /// Name of the filled bars in the legend, needed when there are opposite effects; empty for none.
    pub name: String,
    /// Name of the open bars in the legend; empty for none.
    pub opposite_name: String,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

impl Chart for BarChart {
    /// # Errors
    /// Nothing finite to draw, an impossible range, or a limit that is not a number.
    fn svg(&self) -> Result<String, ChartError> {
        limits::check(&self.limits)?;
        let axis = Axis {
            scale: Scale::Linear,
            ..self.value.clone()
        };
        let ends = self
            .bars
            .iter()
            .filter(|bar| bar.value.is_finite())
            .flat_map(|bar| {
                let error = half_width(bar.error);
                [
                    bar.value - error,
                    bar.value + error,
                    bar.opposite.unwrap_or(0.0),
                    0.0,
                ]
            });
        let limits: Vec<f64> = self.limits.iter().map(|limit| limit.value).collect();
        let x = AxisMap::new(&axis, ends, &limits, Ends::Padded, &self.title)?;
        let rows = self.bars.len() as f64;
        let y = AxisMap::of_rows(rows);
        let names: Vec<Vec<String>> = self
            .bars
            .iter()
            .map(|bar| font::wrapped(&bar.name, LABEL_SIZE, MOST_NAME_ROOM))
            .collect();
        let room = names
            .iter()
            .flatten()
            .map(|line| font::width(line, LABEL_SIZE))
            .fold(0.0, f64::max);
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &self.legend(),
            assumption: &self.assumption,
            x_caption: &self.value.caption(),
            plot_height: self.head() + ROW * rows + 12.0,
            left: room + 12.0,
            right: 10.0,
            ..PageSpec::default()
        });
        let frame = page.plots[0];
        let roomy = self.with_room_for_numbers(&x, frame.right - frame.left);
        let axis = Axis {
            range: axis.range.or(Some(roomy)),
            ..axis
        };
        let x = AxisMap::new(&axis, [0.0], &limits, Ends::Padded, &self.title)?;
        let plot = Plot { frame, x, y };
        self.draw(&mut page.canvas, &plot, &names);
        Ok(page.canvas.finish(&self.title, &self.description()))
    }
}

impl BarChart {
    /// The numbers written behind the bars, each with the error bar it stands beyond.
    fn numbers(bar: &Bar) -> impl Iterator<Item = (f64, f64)> {
        let value = bar.value.is_finite();
        // On the same side it would stand on top of the other number.
        let opposite = bar.opposite.filter(|v| v * bar.value < 0.0);
        let own = value.then(|| (bar.value, half_width(bar.error)));
        own.into_iter()
            .chain(opposite.map(|opposite| (opposite, 0.0)))
    }

    /// The ends of the axis, moved out until every number has room behind its bar in a plot of this width.
    fn with_room_for_numbers(&self, x: &AxisMap, width: f64) -> [f64; 2] {
        let mut range = [x.low(), x.high()];
        // Every number takes its share of a length that grows with it: a geometric series.
        for _ in 0..ROUNDS {
            let span = range[1] - range[0];
            range = [x.low(), x.high()];
            for (value, error) in self.bars.iter().flat_map(Self::numbers) {
                let text = font::width(&self.number(value), LABEL_SIZE);
                let share = ((text + NUMBER_GAP + NUMBER_RIM) / width).min(MOST_NUMBER_SHARE);
                match value >= 0.0 {
                    true => range[1] = range[1].max(value + error + share * span),
                    false => range[0] = range[0].min(value - error - share * span),
                }
            }
        }
        range
    }

    /// Room above the bars for the labels of the limits.
    fn head(&self) -> f64 {
        16.0 * self.limits.len() as f64
    }

    fn legend(&self) -> Vec<LegendEntry> {
        let mut legend = Vec::new();
        if !self.name.is_empty() {
            legend.push(LegendEntry::filled(&self.name, colour::series(0), 1.0));
        }
        if !self.opposite_name.is_empty() {
            legend.push(LegendEntry::filled(
                &self.opposite_name,
                colour::series(0),
                0.18,
            ));
        }
        legend
    }

    fn description(&self) -> String {
        let rows: Vec<String> = self
            .bars
            .iter()
            .map(|bar| format!("{}: {}.", bar.name, self.number(bar.value)))
            .collect();
        format!(
            "Bars of {}. {} {}",
            self.value.caption(),
            rows.join(" "),
            self.assumption
        )
    }

    /// An effect with its sign and unit.
    fn number(&self, value: f64) -> String {
        let sign = if value > 0.0 { "+" } else { "" };
        number::with_unit(
            &format!("{sign}{}", number::plain(value, 3)),
            &self.value.unit,
        )
    }

    fn draw(&self, canvas: &mut Canvas, plot: &Plot, names: &[Vec<String>]) {
        let frame = plot.frame;
        let mut placer = Placer::new(frame);
        canvas.group("grid", &[], |pen| plot.draw_upright_grid(pen));
        let middle = |row: usize| frame.top + self.head() + 6.0 + ROW * (row as f64 + 0.5);
        let zero = plot.across(0.0);
        let filled = colour::series(0);
        canvas.group("bars", &[], |pen| {
            for (row, bar) in self.bars.iter().enumerate() {
                let present = |value: f64| value.is_finite().then(|| plot.across(value));
                if let Some(end) = bar.opposite.and_then(present) {
                    let area = self.within(frame, zero, end, middle(row));
                    pen.fill(area, filled, 0.18);
                    pen.frame(area, filled, 1.2);
                }
                if let Some(end) = present(bar.value) {
                    pen.fill(self.within(frame, zero, end, middle(row)), filled, 1.0);
                }
            }
        });
        canvas.group("error-bars", &[], |pen| {
            for (row, bar) in self.bars.iter().enumerate() {
                let error = half_width(bar.error);
                if error > 0.0 && bar.value.is_finite() {
                    let ends = [bar.value - error, bar.value + error]
                        .map(|value| [plot.across(value), middle(row)]);
                    for part in clip::line(&ends, frame) {
                        pen.line(&part, colour::INK, 1.4);
                    }
                    for end in ends.into_iter().filter(|end| frame.contains(*end)) {
                        let cap = [[end[0], end[1] - 4.0], [end[0], end[1] + 4.0]];
                        pen.line(&cap, colour::INK, 1.4);
                    }
                }
            }
            pen.line(&[[zero, frame.top], [zero, frame.bottom]], colour::INK, 1.2)
        });
        limits::draw_upright(canvas, plot, &self.value.unit, &self.limits, &mut placer);
        for (row, (bar, lines)) in self.bars.iter().zip(names).enumerate() {
            let centre = middle(row) - 0.5 * LABEL_SIZE * (lines.len() as f64 - 1.0);
            for (line, text) in lines.iter().enumerate() {
                let baseline = centre + 0.36 * LABEL_SIZE + LABEL_SIZE * line as f64;
                let at = [frame.left - 10.0, baseline];
                canvas.text(&Text::new("bar-name", text, at, Anchor::End, LABEL_SIZE));
            }
            for (value, error) in Self::numbers(bar) {
                self.write_number(canvas, plot, value, error, middle(row));
            }
        }
        plot.draw_level_axis(canvas)
    }

    /// A bar from zero to its end, no farther than the frame.
    fn within(&self, frame: Rect, zero: f64, end: f64, middle: f64) -> Rect {
        let inside = |x: f64| x.clamp(frame.left, frame.right);
        Rect {
            left: inside(zero.min(end)),
            top: middle - HALF_BAR,
            right: inside(zero.max(end)),
            bottom: middle + HALF_BAR,
        }
    }

    /// The number beyond the end of its bar.
    fn write_number(&self, canvas: &mut Canvas, plot: &Plot, value: f64, error: f64, middle: f64) {
        let text = self.number(value);
        let width = font::width(&text, LABEL_SIZE);
        let (x, anchor) = if value >= 0.0 {
            let last = plot.frame.right - width - NUMBER_RIM;
            (
                (plot.across(value + error) + NUMBER_GAP).min(last),
                Anchor::Start,
            )
        } else {
            let first = plot.frame.left + width + NUMBER_RIM;
            (
                (plot.across(value - error) - NUMBER_GAP).max(first),
                Anchor::End,
            )
        };
        let at = [x, middle + 0.36 * LABEL_SIZE];
        canvas.text(&Text {
            halo: true,
            ..Text::new("bar-value", &text, at, anchor, LABEL_SIZE)
        });
    }
}
