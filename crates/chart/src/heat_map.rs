//! Heat maps of two variables with limit contours; one plot or small multiples.

use crate::axis::{AxisMap, Ends};
use crate::canvas::{Anchor, Canvas, Point, Rect, Text};
use crate::clip;
use crate::colour;
use crate::contour::{ValueGrid, contour};
use crate::data::{Axis, Scale};
use crate::error::ChartError;
use crate::font::{self, CAPTION_SIZE, TICK_SIZE};
use crate::limits;
use crate::map_image;
use crate::map_limits::{MapLimit, draw_contour, label_contour};
use crate::outlines::{self, MapOutline};
use crate::page::{LegendEntry, Page, PageSpec, panel_columns};
use crate::placement::Placer;
use crate::plot::{Plot, label_room, y_ticks};
use crate::raster::Chart;

/// Width of the colour scale.
const SCALE_WIDTH: f64 = 16.0;
/// With more values than this in one plot, the dots where they were computed are left out.
const MOST_DOTS: usize = 700;

/// Largest height of a plot with equal scale: alone, and beside others.
const MOST_HEIGHT: [f64; 2] = [560.0, 300.0];
/// Smallest width or height of a plot with equal scale.
const LEAST_SIDE: f64 = 40.0;
/// Smallest height of the colour scale.
const LEAST_SCALE_HEIGHT: f64 = 110.0;

/// One plot of a heat map.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MapPanel {
    /// The value of the third variable; empty for a map alone.
    pub title: String,
    /// The value at column i and row j is `values[j * x_values.len() + i]`; not finite means absent.
    pub values: Vec<f64>,
    /// Limits drawn as contours in this panel.
    pub limits: Vec<MapLimit>,
}

/// A map of one quantity over two variables, or several for the values of a third; all share axes and colours.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HeatMap {
    /// What the chart answers.
    pub title: String,
    /// The level axis.
    pub x: Axis,
    /// The upright axis.
    pub y: Axis,
    /// The quantity shown in colour, its unit and whether the colours follow its logarithm.
    pub value: Axis,
    /// Positions along the level axis, strictly increasing.
    pub x_values: Vec<f64>,
    /// Positions along the upright axis, strictly increasing.
    pub y_values: Vec<f64>,
    /// Of so many positions along each axis one was computed, the first among them; whoever gives the values has
    /// interpolated the others. 1: all of them.
    pub computed_every: usize,
    /// The panels, in reading order.
    pub panels: Vec<MapPanel>,
    /// Closed outlines drawn over the map in every panel, as of pads.
    pub outlines: Vec<MapOutline>,
    /// What the outlines are, for the legend, as in "copper"; empty leaves them out of it.
    pub outline_name: String,
    /// A millimetre along both axes is equally long, so that a square looks square; needs two linear
    /// axes in the same unit. Very slender maps are stretched to stay visible.
    pub equal_scale: bool,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

impl Chart for HeatMap {
    /// # Errors
    /// Nothing finite to draw, fewer than two positions along an axis or positions that do not
    /// increase, a wrong number of values, values not above zero on a logarithmic axis, a limit that
    /// is not a number, an outline with fewer than three corners or one that is not a number, or equal
    /// scale on axes that cannot have it.
    fn svg(&self) -> Result<String, ChartError> {
        self.check()?;
        let axis = |axis: &Axis, values: &[f64]| {
            AxisMap::new(axis, values.iter().copied(), &[], Ends::Tight, &self.title)
        };
        let (x, y) = (
            axis(&self.x, &self.x_values)?,
            axis(&self.y, &self.y_values)?,
        );
        let all = self
            .panels
            .iter()
            .flat_map(|panel| panel.values.iter().copied());
        let value = AxisMap::new(&self.value, all, &[], Ends::Tight, &self.title)?;
        let columns = panel_columns(self.panels.len());
        let plot_height = if columns == 1 { 370.0 } else { 210.0 };
        let rows = self.panels.len().div_ceil(columns);
        let titles: Vec<&str> = self.panels.iter().map(|p| p.title.as_str()).collect();
        let numbers = label_room(&y_ticks(&value, plot_height * rows as f64));
        let legend = self.legend();
        let (x_caption, y_caption) = (self.x.caption(), self.y.caption());
        let mut spec = PageSpec {
            title: &self.title,
            legend: &legend,
            assumption: &self.assumption,
            x_caption: &x_caption,
            y_caption: &y_caption,
            panels: &titles,
            columns,
            plot_height,
            left: label_room(&y_ticks(&y, plot_height)),
            right: 18.0 + SCALE_WIDTH + numbers + 22.0,
        };
        // Room above a plot that is lower than its place.
        let mut above = 0.0;
        if self.equal_scale {
            let wide = spec.plot_width();
            let [width, height] = equal_scale(wide, columns, &x, &y);
            spec.right += (wide - width) * columns as f64;
            // Neither the colour scale nor a caption along it may be longer than the plots.
            let captions = [&y_caption, &self.value.caption()]
                .map(|caption| font::width(caption, CAPTION_SIZE) + 12.0);
            let least = captions.into_iter().fold(LEAST_SCALE_HEIGHT, f64::max);
            spec.plot_height = height.max(least / rows as f64);
            above = spec.plot_height - height;
        }
        let mut page = Page::new(&spec);
        for (number, (panel, &frame)) in self.panels.iter().zip(&page.plots).enumerate() {
            let frame = Rect {
                top: frame.top + above,
                ..frame
            };
            let plot = Plot { frame, x, y };
            self.draw_panel(&mut page.canvas, panel, &plot, &value);
            let last_in_column = number + columns >= self.panels.len();
            plot.draw_axes(&mut page.canvas, last_in_column, number % columns == 0, 0.0);
        }
        let right = page.plots.iter().map(|plot| plot.right).fold(0.0, f64::max);
        let bottom = page
            .plots
            .iter()
            .map(|plot| plot.bottom)
            .fold(0.0, f64::max);
        let bar = Rect {
            left: right + 18.0,
            top: page.plots[0].top,
            right: right + 18.0 + SCALE_WIDTH,
            bottom,
        };
        self.draw_scale(&mut page.canvas, bar, &value, numbers);
        Ok(page.canvas.finish(&self.title, &self.description()))
    }
}

impl HeatMap {
    fn check(&self) -> Result<(), ChartError> {
        let (columns, rows) = (self.x_values.len(), self.y_values.len());
        for (axis, values) in [(&self.x, &self.x_values), (&self.y, &self.y_values)] {
            let rising = values.windows(2).all(|w| w[0] < w[1]);
            if values.len() < 2 || !rising || !values.iter().all(|v| v.is_finite()) {
                return Err(ChartError::NotIncreasing {
                    axis: axis.label.clone(),
                });
            }
        }
        if self.panels.is_empty() {
            return Err(ChartError::NoData {
                chart: self.title.clone(),
            });
        }
        for panel in &self.panels {
            let others = panel
                .limits
                .iter()
                .filter_map(|limit| limit.values.as_ref());
            for values in std::iter::once(&panel.values).chain(others) {
                if values.len() != columns * rows {
                    return Err(ChartError::Shape {
                        chart: self.title.clone(),
                        columns,
                        rows,
                        found: values.len(),
                    });
                }
            }
            for limit in &panel.limits {
                limits::finite(|| limit.label(), limit.limit.value)?;
            }
        }
        let linear = [&self.x, &self.y].map(|axis| axis.scale) == [Scale::Linear; 2];
        if self.equal_scale && !(linear && self.x.unit == self.y.unit) {
            return Err(ChartError::UnequalAxes {
                chart: self.title.clone(),
            });
        }
        outlines::check(&self.outlines)
    }

    fn with_dots(&self) -> bool {
        let computed = |values: &Vec<f64>| values.len().div_ceil(self.computed_every.max(1));
        computed(&self.x_values) * computed(&self.y_values) <= MOST_DOTS
    }

    fn legend(&self) -> Vec<LegendEntry> {
        let mut legend = Vec::new();
        if self.with_dots() {
            legend.push(LegendEntry::drawn(
                "computed; interpolated between",
                |pen, place| pen.ring(place.middle(), 2.0, colour::INK, 0.8),
            ));
        }
        if self.panels.len() > 1 || !self.outlines.is_empty() {
            let mut names: Vec<String> = Vec::new();
            for limit in self.panels.iter().flat_map(|panel| &panel.limits) {
                if !names.contains(&limit.label()) {
                    names.push(limit.label());
                }
            }
            legend.extend(names.into_iter().map(limits::legend_entry));
        }
        if !self.outlines.is_empty() && !self.outline_name.is_empty() {
            legend.push(outlines::legend_entry(&self.outline_name));
        }
        let mut values = self.panels.iter().flat_map(|panel| &panel.values);
        if values.any(|value| !value.is_finite()) {
            legend.push(LegendEntry::filled("no value", colour::LIGHT, 0.35));
        }
        legend
    }

    fn description(&self) -> String {
        let mut parts = vec![format!(
            "Map of {} over {} and {}.",
            self.value.caption(),
            self.x.caption(),
            self.y.caption()
        )];
        for panel in &self.panels {
            for limit in &panel.limits {
                parts.push(
                    format!("{} {}.", panel.title, limit.label())
                        .trim()
                        .to_owned(),
                );
            }
        }
        let outlined: Vec<&str> = self
            .outlines
            .iter()
            .map(|outline| outline.label.as_str())
            .filter(|label| !label.is_empty())
            .collect();
        if !outlined.is_empty() {
            let name = match self.outline_name.as_str() {
                "" => "Outlines",
                name => name,
            };
            parts.push(format!("{name}: {}.", outlined.join(", ")));
        }
        parts.push(self.assumption.clone());
        parts.join(" ")
    }

    fn draw_panel(&self, canvas: &mut Canvas, panel: &MapPanel, plot: &Plot, value: &AxisMap) {
        let across: Vec<f64> = self.x_values.iter().map(|&x| plot.across(x)).collect();
        let up: Vec<f64> = self.y_values.iter().map(|&y| plot.up(y)).collect();
        // Fractions of the colour scale: what lies between two values is interpolated there.
        let shades: Vec<f64> = panel.values.iter().map(|&v| value.fraction(v)).collect();
        let grid = ValueGrid {
            x: &across,
            y: &up,
            values: &shades,
        };
        canvas.group("no-value", &[], |pen| {
            pen.fill(plot.frame, colour::LIGHT, 0.35)
        });
        canvas.picture("map", plot.frame, &map_image::map(&grid, plot.frame));
        let mut placer = Placer::new(plot.frame);
        if self.with_dots() {
            self.draw_dots(canvas, panel, plot);
        }
        outlines::draw(canvas, plot, &self.outlines, &mut placer);
        let mut labels = Vec::new();
        for (number, limit) in panel.limits.iter().enumerate() {
            let lines = match &limit.values {
                Some(values) => contour(&ValueGrid { values, ..grid }, limit.limit.value),
                None if self.value.scale == Scale::Logarithmic && limit.limit.value <= 0.0 => {
                    Vec::new()
                }
                None => contour(&grid, value.fraction(limit.limit.value)),
            };
            let lines: Vec<Vec<Point>> = lines
                .iter()
                .flat_map(|line| clip::line(line, plot.frame))
                .collect();
            draw_contour(canvas, limit, number, &lines);
            for line in &lines {
                placer.add_line(line);
            }
            labels.push((limit, lines));
        }
        outlines::label(canvas, plot, &self.outlines, &mut placer);
        // Between outlines there is little room for what the legend says as well.
        let in_legend = !self.outlines.is_empty() && labels.len() == 1;
        for (limit, lines) in labels {
            if in_legend && !lines.is_empty() {
                continue;
            }
            let values = limit.values.as_ref().unwrap_or(&panel.values);
            label_contour(canvas, plot.frame, limit, &lines, values, &mut placer);
        }
    }

    fn draw_dots(&self, canvas: &mut Canvas, panel: &MapPanel, plot: &Plot) {
        canvas.group("dots", &[], |pen| {
            let every = self.computed_every.max(1);
            let rows = panel.values.chunks(self.x_values.len());
            for (&y, row) in self.y_values.iter().zip(rows).step_by(every) {
                for (&x, value) in self.x_values.iter().zip(row).step_by(every) {
                    let centre = plot.point(x, y);
                    if value.is_finite() && plot.frame.contains(centre) {
                        pen.disc(centre, 1.5, colour::PAPER);
                        pen.ring(centre, 1.5, colour::INK, 0.6);
                    }
                }
            }
        })
    }

    fn draw_scale(&self, canvas: &mut Canvas, bar: Rect, value: &AxisMap, numbers: f64) {
        canvas.picture("scale", bar, &map_image::scale());
        let ticks = y_ticks(value, bar.height());
        let up = |v: f64| bar.bottom - value.fraction(v) * bar.height();
        canvas.group("frame", &[], |pen| {
            pen.frame(bar, colour::INK, 1.0);
            for tick in &ticks {
                let (y, long) = (up(tick.value), !tick.text.is_empty());
                let end = bar.right + if long { 5.0 } else { 3.0 };
                pen.line(&[[bar.right, y], [end, y]], colour::INK, 1.0);
            }
        });
        for tick in ticks.iter().filter(|tick| !tick.text.is_empty()) {
            let drop = 0.5 * font::CAPITAL_HEIGHT * TICK_SIZE;
            let at = [bar.right + 8.0, up(tick.value) + drop];
            canvas.text(&Text::new(
                "scale-tick",
                &tick.text,
                at,
                Anchor::Start,
                TICK_SIZE,
            ));
        }
        canvas.text(&Text {
            upright: true,
            ..Text::new(
                "caption",
                &self.value.caption(),
                [bar.right + numbers + 18.0, 0.5 * (bar.top + bar.bottom)],
                Anchor::Middle,
                CAPTION_SIZE,
            )
        });
    }
}

/// Width and height of a plot on which both axes have the same scale, at most `wide`.
fn equal_scale(wide: f64, columns: usize, x: &AxisMap, y: &AxisMap) -> [f64; 2] {
    let slope = (y.high() - y.low()) / (x.high() - x.low());
    let most = MOST_HEIGHT[usize::from(columns > 1)];
    let height = (wide * slope).min(most);
    let width = (height / slope).min(wide);
    [width.max(LEAST_SIDE), height.max(LEAST_SIDE)]
}
