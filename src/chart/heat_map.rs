//! Heat maps of two variables with limit contours; one plot or small multiples.

use super::axis::{AxisMap, Ends};
use super::canvas::{Anchor, Canvas, Point, Rect, Text};
use super::clip;
use super::colour;
use super::contour::{ValueGrid, contour};
use super::data::{Axis, LimitLine, Scale};
use super::error::ChartError;
use super::font;
use super::limits;
use super::map_image;
use super::map_limits::{draw_contour, label_contour};
use super::page::{LegendEntry, Page, PageSpec, Sample, panel_columns};
use super::placement::Placer;
use super::plot::{Plot, TICK_SIZE, label_room, y_ticks};
use super::raster;

/// Width of the colour scale.
const SCALE_WIDTH: f64 = 16.0;
/// With more values than this in one plot, the dots where they were computed are left out.
const MOST_DOTS: usize = 700;

/// A limit drawn into a map as a contour.
#[derive(Clone, Debug, PartialEq)]
pub struct MapLimit {
    /// The limit.
    pub limit: LimitLine,
    /// Another quantity than the one shown in colour, as in "neighbour ratio"; empty for the same.
    pub name: String,
    /// Unit of the limit and of `values`.
    pub unit: String,
    /// Values of that other quantity, in the order of the map; absent for the one shown in colour.
    pub values: Option<Vec<f64>>,
}

impl MapLimit {
    /// A limit on the quantity the map shows.
    pub fn shown(limit: LimitLine, unit: impl Into<String>) -> Self {
        Self {
            limit,
            name: String::new(),
            unit: unit.into(),
            values: None,
        }
    }

    /// Label at the contour: "limit ≤ 20 %, house rule", with the name of another quantity in front.
    pub fn label(&self) -> String {
        let label = self.limit.label(&self.unit);
        if self.name.is_empty() {
            label
        } else {
            format!("{} {label}", self.name)
        }
    }
}

/// A map of one quantity over two variables.
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
    /// The value at column i and row j is `values[j * x_values.len() + i]`; not finite means absent.
    pub values: Vec<f64>,
    /// Limits drawn as contours.
    pub limits: Vec<MapLimit>,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

/// One plot of small multiples of maps.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MapPanel {
    /// The value of the third variable.
    pub title: String,
    /// Values as in [`HeatMap::values`].
    pub values: Vec<f64>,
    /// Limits drawn as contours in this panel.
    pub limits: Vec<MapLimit>,
}

/// Maps side by side for the values of a third variable; all panels share axes and colours.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MapMultiples {
    /// What the chart answers.
    pub title: String,
    /// The level axis.
    pub x: Axis,
    /// The upright axis.
    pub y: Axis,
    /// The quantity shown in colour.
    pub value: Axis,
    /// Positions along the level axis, strictly increasing.
    pub x_values: Vec<f64>,
    /// Positions along the upright axis, strictly increasing.
    pub y_values: Vec<f64>,
    /// The panels, in reading order.
    pub panels: Vec<MapPanel>,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

impl HeatMap {
    /// The chart as an SVG document.
    ///
    /// # Errors
    ///
    /// Nothing finite to draw, fewer than two positions along an axis or positions that do not
    /// increase, a wrong number of values, values not above zero on a logarithmic axis, or a limit
    /// that is not a number.
    pub fn svg(&self) -> Result<String, ChartError> {
        let panel = MapPanel {
            title: String::new(),
            values: self.values.clone(),
            limits: self.limits.clone(),
        };
        MapMultiples {
            title: self.title.clone(),
            x: self.x.clone(),
            y: self.y.clone(),
            value: self.value.clone(),
            x_values: self.x_values.clone(),
            y_values: self.y_values.clone(),
            panels: vec![panel],
            assumption: self.assumption.clone(),
        }
        .svg()
    }

    /// The chart as the bytes of a PNG picture, `scale` pixels per chart unit.
    ///
    /// # Errors
    ///
    /// As for [`HeatMap::svg`], and for a scale that is not above 0 and at most 8.
    pub fn png(&self, scale: f64) -> Result<Vec<u8>, ChartError> {
        raster::png(&self.svg()?, scale)
    }
}

impl MapMultiples {
    /// The chart as an SVG document.
    ///
    /// # Errors
    ///
    /// As for [`HeatMap::svg`].
    pub fn svg(&self) -> Result<String, ChartError> {
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
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &self.legend(),
            assumption: &self.assumption,
            x_caption: &self.x.caption(),
            y_caption: &self.y.caption(),
            panels: &titles,
            columns,
            plot_height,
            left: label_room(&y_ticks(&y, plot_height)),
            right: 18.0 + SCALE_WIDTH + numbers + 22.0,
        })?;
        for (number, (panel, &frame)) in self.panels.iter().zip(&page.plots).enumerate() {
            let plot = Plot { frame, x, y };
            self.draw_panel(&mut page.canvas, panel, &plot, &value)?;
            let last_in_column = number + columns >= self.panels.len();
            plot.draw_axes(
                &mut page.canvas,
                last_in_column,
                number % columns == 0,
                0.0,
            )?;
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
        self.draw_scale(&mut page.canvas, bar, &value, numbers)?;
        Ok(page.canvas.finish(&self.title, &self.description()))
    }

    /// The chart as the bytes of a PNG picture, `scale` pixels per chart unit.
    ///
    /// # Errors
    ///
    /// As for [`HeatMap::png`].
    pub fn png(&self, scale: f64) -> Result<Vec<u8>, ChartError> {
        raster::png(&self.svg()?, scale)
    }

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
        Ok(())
    }

    fn with_dots(&self) -> bool {
        self.x_values.len() * self.y_values.len() <= MOST_DOTS
    }

    fn legend(&self) -> Vec<LegendEntry> {
        let mut legend = Vec::new();
        if self.with_dots() {
            legend.push(LegendEntry {
                name: "computed; interpolated between".to_owned(),
                sample: Sample::Dot,
            });
        }
        if self.panels.len() > 1 {
            let mut names: Vec<String> = Vec::new();
            for limit in self.panels.iter().flat_map(|panel| &panel.limits) {
                if !names.contains(&limit.label()) {
                    names.push(limit.label());
                }
            }
            legend.extend(names.into_iter().map(|name| LegendEntry {
                name,
                sample: Sample::Limit,
            }));
        }
        let mut values = self.panels.iter().flat_map(|panel| &panel.values);
        if values.any(|value| !value.is_finite()) {
            legend.push(LegendEntry {
                name: "no value".to_owned(),
                sample: Sample::Box(colour::LIGHT, 0.35),
            });
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
        parts.push(self.assumption.clone());
        parts.join(" ")
    }

    fn draw_panel(
        &self,
        canvas: &mut Canvas,
        panel: &MapPanel,
        plot: &Plot,
        value: &AxisMap,
    ) -> Result<(), ChartError> {
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
        })?;
        canvas.picture("map", plot.frame, &map_image::map(&grid, plot.frame)?);
        let mut placer = Placer::new(plot.frame);
        if self.with_dots() {
            self.draw_dots(canvas, panel, plot)?;
        }
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
            draw_contour(canvas, limit, number, &lines)?;
            for line in &lines {
                placer.add_line(line);
            }
            labels.push((limit, lines));
        }
        for (limit, lines) in labels {
            let values = limit.values.as_ref().unwrap_or(&panel.values);
            label_contour(canvas, plot.frame, limit, &lines, values, &mut placer)?;
        }
        Ok(())
    }

    fn draw_dots(
        &self,
        canvas: &mut Canvas,
        panel: &MapPanel,
        plot: &Plot,
    ) -> Result<(), ChartError> {
        canvas.group("dots", &[], |pen| {
            let mut values = panel.values.iter();
            for &y in &self.y_values {
                for &x in &self.x_values {
                    let centre = plot.point(x, y);
                    let present = values.next().is_some_and(|value| value.is_finite());
                    if present && plot.frame.contains(centre) {
                        pen.disc(centre, 1.5, colour::PAPER)?;
                        pen.ring(centre, 1.5, colour::INK, 0.6)?;
                    }
                }
            }
            Ok(())
        })
    }

    fn draw_scale(
        &self,
        canvas: &mut Canvas,
        bar: Rect,
        value: &AxisMap,
        numbers: f64,
    ) -> Result<(), ChartError> {
        canvas.picture("scale", bar, &map_image::scale()?);
        let ticks = y_ticks(value, bar.height());
        let up = |v: f64| bar.bottom - value.fraction(v) * bar.height();
        canvas.group("frame", &[], |pen| {
            pen.frame(bar, colour::INK, 1.0)?;
            for tick in &ticks {
                let (y, long) = (up(tick.value), !tick.text.is_empty());
                let end = bar.right + if long { 5.0 } else { 3.0 };
                pen.line(&[[bar.right, y], [end, y]], colour::INK, 1.0)?;
            }
            Ok(())
        })?;
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
                13.5,
            )
        });
        Ok(())
    }
}
