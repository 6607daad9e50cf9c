//! Line charts: series with error bands, limits, crossings; one plot or small multiples.

use super::axis::{AxisMap, Ends};
use super::canvas::{Anchor, Canvas, Point, Rect};
use super::clip;
use super::colour;
use super::data::{Axis, CrossingMark, LimitLine, PlaceMark, Reading, Series};
use super::error::ChartError;
use super::limits;
use super::marker::Style;
use super::number;
use super::page::{LegendEntry, Page, PageSpec, Plot, Sample, label_room, panel_columns, y_ticks};
use super::placement::Placer;
use super::raster;

/// A line chart with one plot.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LineChart {
    /// What the chart answers.
    pub title: String,
    /// The level axis.
    pub x: Axis,
    /// The upright axis.
    pub y: Axis,
    /// The lines.
    pub series: Vec<Series>,
    /// Limits of the upright axis.
    pub limits: Vec<LimitLine>,
    /// Places on the level axis worth a mark.
    pub places: Vec<PlaceMark>,
    /// Where lines meet limits.
    pub crossings: Vec<CrossingMark>,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

/// One plot of small multiples.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LinePanel {
    /// The value of the third variable, as in "overlay: acrylic".
    pub title: String,
    /// The lines; series of the same name look the same in every panel.
    pub series: Vec<Series>,
    /// Where lines meet limits.
    pub crossings: Vec<CrossingMark>,
}

/// Line charts side by side for the values of a third variable; all panels share both axes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LineMultiples {
    /// What the chart answers.
    pub title: String,
    /// The level axis.
    pub x: Axis,
    /// The upright axis.
    pub y: Axis,
    /// The panels, in reading order.
    pub panels: Vec<LinePanel>,
    /// Limits of the upright axis, in every panel.
    pub limits: Vec<LimitLine>,
    /// Places on the level axis worth a mark, in every panel.
    pub places: Vec<PlaceMark>,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

impl LineChart {
    /// The chart as an SVG document.
    ///
    /// # Errors
    ///
    /// Nothing finite to draw, a logarithmic axis with values not above zero, an impossible range, or
    /// a limit or mark that is not a number.
    pub fn svg(&self) -> Result<String, ChartError> {
        let panel = LinePanel {
            title: String::new(),
            series: self.series.clone(),
            crossings: self.crossings.clone(),
        };
        LineMultiples {
            title: self.title.clone(),
            x: self.x.clone(),
            y: self.y.clone(),
            panels: vec![panel],
            limits: self.limits.clone(),
            places: self.places.clone(),
            assumption: self.assumption.clone(),
        }
        .svg()
    }

    /// The chart as the bytes of a PNG picture, `scale` pixels per chart unit.
    ///
    /// # Errors
    ///
    /// As for [`LineChart::svg`], and for a scale that is not above 0 and at most 8.
    pub fn png(&self, scale: f64) -> Result<Vec<u8>, ChartError> {
        raster::png(&self.svg()?, scale)
    }
}

impl LineMultiples {
    /// The chart as an SVG document.
    ///
    /// # Errors
    ///
    /// As for [`LineChart::svg`].
    pub fn svg(&self) -> Result<String, ChartError> {
        self.check()?;
        let styles = self.styles();
        let (x, y) = self.axes()?;
        let columns = panel_columns(self.panels.len());
        let plot_height = if columns == 1 { 370.0 } else { 230.0 };
        let titles: Vec<&str> = self.panels.iter().map(|p| p.title.as_str()).collect();
        let legend = self.legend(&styles);
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &legend,
            assumption: &self.assumption,
            x_caption: &self.x.caption(),
            y_caption: &self.y.caption(),
            panels: &titles,
            columns,
            plot_height,
            left: label_room(&y_ticks(&y, plot_height)),
            right: 8.0,
        })?;
        for (number, (panel, &frame)) in self.panels.iter().zip(&page.plots).enumerate() {
            let plot = Plot { frame, x, y };
            self.draw_panel(&mut page.canvas, panel, &plot, &styles)?;
            let last_in_column = number + columns >= self.panels.len();
            plot.draw_axes(&mut page.canvas, last_in_column, number % columns == 0)?;
        }
        Ok(page.canvas.finish(&self.title, &self.description()))
    }

    /// The chart as the bytes of a PNG picture, `scale` pixels per chart unit.
    ///
    /// # Errors
    ///
    /// As for [`LineChart::png`].
    pub fn png(&self, scale: f64) -> Result<Vec<u8>, ChartError> {
        raster::png(&self.svg()?, scale)
    }

    fn check(&self) -> Result<(), ChartError> {
        limits::check(&self.limits)?;
        for place in &self.places {
            limits::finite(|| format!("mark \"{}\"", place.label), place.x)?;
        }
        for mark in self.panels.iter().flat_map(|panel| &panel.crossings) {
            for value in [mark.x, mark.low, mark.high, mark.value] {
                limits::finite(|| format!("crossing \"{}\"", mark.label), value)?;
            }
        }
        Ok(())
    }

    fn readings(&self) -> impl Iterator<Item = &Reading> {
        self.panels
            .iter()
            .flat_map(|panel| &panel.series)
            .flat_map(|series| &series.points)
            .filter(|reading| reading.x.is_finite() && reading.value.is_finite())
    }

    fn axes(&self) -> Result<(AxisMap, AxisMap), ChartError> {
        let places = self.places.iter().map(|place| place.x);
        let x = AxisMap::new(
            &self.x,
            self.readings().map(|reading| reading.x).chain(places),
            &[],
            Ends::Padded,
            &self.title,
        )?;
        // Where no value is below zero, an error bar that is does not widen the axis: it is cut off.
        let signed = self.readings().any(|reading| reading.value < 0.0);
        let values = self.readings().flat_map(|reading| {
            let low = reading.value - half_width(reading);
            let low = if low > 0.0 || signed {
                low
            } else {
                reading.value
            };
            [low, reading.value + half_width(reading)]
        });
        let limits: Vec<f64> = self.limits.iter().map(|limit| limit.value).collect();
        let y = AxisMap::new(&self.y, values, &limits, Ends::Round, &self.title)?;
        Ok((x, y))
    }

    /// Style per name, in the order of first appearance.
    fn styles(&self) -> Vec<(String, Style)> {
        let mut styles: Vec<(String, Style)> = Vec::new();
        let mut dashed = 0;
        for series in self.panels.iter().flat_map(|panel| &panel.series) {
            if styles.iter().any(|(name, _)| *name == series.name) {
                continue;
            }
            let dash = series.dashed.then_some(dashed);
            dashed += usize::from(series.dashed);
            styles.push((series.name.clone(), Style::new(styles.len(), dash)));
        }
        styles
    }

    fn legend(&self, styles: &[(String, Style)]) -> Vec<LegendEntry> {
        let mut legend: Vec<LegendEntry> = styles
            .iter()
            .filter(|(name, _)| !name.is_empty())
            .map(|(name, style)| LegendEntry {
                name: name.clone(),
                sample: Sample::Line(*style),
            })
            .collect();
        if self.readings().any(|reading| half_width(reading) > 0.0) {
            legend.push(LegendEntry {
                name: "estimated error".to_owned(),
                sample: Sample::Band,
            });
        }
        legend
    }

    fn description(&self) -> String {
        let mut parts = vec![format!(
            "Line chart of {} against {}.",
            self.y.caption(),
            self.x.caption()
        )];
        for limit in &self.limits {
            parts.push(format!("{}.", limit.label(&self.y.unit)));
        }
        for panel in &self.panels {
            for mark in &panel.crossings {
                parts.push(
                    format!("{} at {}.", panel.title, self.crossing_label(mark))
                        .trim()
                        .to_owned(),
                );
            }
        }
        parts.push(self.assumption.clone());
        parts.join(" ")
    }

    fn crossing_label(&self, mark: &CrossingMark) -> String {
        let place = number::with_interval(mark.x, mark.low, mark.high, &self.x.unit);
        if mark.label.is_empty() {
            place
        } else {
            format!("{}: {place}", mark.label)
        }
    }

    fn draw_panel(
        &self,
        canvas: &mut Canvas,
        panel: &LinePanel,
        plot: &Plot,
        styles: &[(String, Style)],
    ) -> Result<(), ChartError> {
        let mut placer = Placer::new(plot.frame);
        plot.draw_grid(canvas)?;
        for mark in &panel.crossings {
            draw_interval(canvas, plot, mark)?;
        }
        let style_of = |name: &str| {
            styles
                .iter()
                .find(|(known, _)| known == name)
                .map_or_else(|| Style::new(0, None), |(_, style)| *style)
        };
        for series in &panel.series {
            draw_band(canvas, plot, series, style_of(&series.name))?;
        }
        limits::draw_level(canvas, plot, &self.limits, &mut placer)?;
        for series in &panel.series {
            draw_series(canvas, plot, series, style_of(&series.name), &mut placer)?;
        }
        for mark in &panel.crossings {
            draw_crossing(canvas, plot, mark)?;
            if plot.frame.contains(plot.point(mark.x, mark.value)) {
                let [x, y] = plot.point(mark.x, mark.value);
                placer.take(square([x, y], 7.0));
            }
        }
        limits::draw_places(canvas, plot, &self.places, &mut placer)?;
        limits::label_level(canvas, plot, &self.y.unit, &self.limits, &mut placer);
        for mark in &panel.crossings {
            let [x, y] = plot.point(mark.x, mark.value);
            if plot.frame.contains([x, y]) {
                let text = self.crossing_label(mark);
                placer.write(canvas, "crossing", &text, &around(x, y), false);
            }
        }
        Ok(())
    }
}

/// Half-width of the error bar; zero where there is none.
fn half_width(reading: &Reading) -> f64 {
    if reading.error.is_finite() {
        reading.error.abs()
    } else {
        0.0
    }
}

fn square([x, y]: Point, half: f64) -> Rect {
    Rect {
        left: x - half,
        top: y - half,
        right: x + half,
        bottom: y + half,
    }
}

/// Where the label of a point may stand.
fn around(x: f64, y: f64) -> Vec<(Point, Anchor)> {
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
fn draw_interval(canvas: &mut Canvas, plot: &Plot, mark: &CrossingMark) -> Result<(), ChartError> {
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
            pen.area(&clip::area(&band, plot.frame), colour::LIGHT, 0.45)?;
        }
        let drop = [
            [plot.across(mark.x), y],
            [plot.across(mark.x), plot.frame.bottom],
        ];
        for run in clip::line(&drop, plot.frame) {
            pen.line(&run, colour::GREY, 0.9)?;
        }
        Ok(())
    })
}

fn draw_crossing(canvas: &mut Canvas, plot: &Plot, mark: &CrossingMark) -> Result<(), ChartError> {
    let centre = plot.point(mark.x, mark.value);
    if !plot.frame.contains(centre) {
        return Ok(());
    }
    canvas.group("crossing", &[("data-label", &mark.label)], |pen| {
        let bar = [
            plot.point(mark.low, mark.value),
            plot.point(mark.high, mark.value),
        ];
        for run in clip::line(&bar, plot.frame) {
            pen.line(&run, colour::INK, 3.0)?;
        }
        for end in bar.into_iter().filter(|end| plot.frame.contains(*end)) {
            pen.line(
                &[[end[0], end[1] - 5.0], [end[0], end[1] + 5.0]],
                colour::INK,
                1.2,
            )?;
        }
        pen.disc(centre, 5.5, colour::PAPER)?;
        pen.ring(centre, 5.5, colour::INK, 1.8)
    })
}

fn draw_band(
    canvas: &mut Canvas,
    plot: &Plot,
    series: &Series,
    style: Style,
) -> Result<(), ChartError> {
    let present = |r: &Reading| r.x.is_finite() && r.value.is_finite();
    canvas.group("band", &[("data-name", &series.name)], |pen| {
        for run in series.points.split(|reading| !present(reading)) {
            if run.iter().all(|reading| half_width(reading) == 0.0) {
                continue;
            }
            if let [single] = run {
                let ends = [
                    single.value - half_width(single),
                    single.value + half_width(single),
                ];
                let bar = ends.map(|value| on_paper(plot, single.x, value));
                for part in clip::line(&bar, plot.frame) {
                    pen.line(&part, style.colour, 1.2)?;
                }
                continue;
            }
            let upper = run
                .iter()
                .map(|r| on_paper(plot, r.x, r.value + half_width(r)));
            let lower = run
                .iter()
                .map(|r| on_paper(plot, r.x, r.value - half_width(r)));
            let outline: Vec<Point> = upper.chain(lower.rev()).collect();
            pen.area(&clip::area(&outline, plot.frame), style.colour, 0.22)?;
        }
        Ok(())
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

fn draw_series(
    canvas: &mut Canvas,
    plot: &Plot,
    series: &Series,
    style: Style,
    placer: &mut Placer,
) -> Result<(), ChartError> {
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
            pen.line(&run, style.colour, 2.0)?;
            placer.add_line(&run);
        }
        Ok(())
    })?;
    let shown: Vec<Point> = points
        .into_iter()
        .filter(|point| point[0].is_finite() && point[1].is_finite() && plot.frame.contains(*point))
        .collect();
    // On dense lines a marker at every reading would hide the line.
    let every = shown.len().div_ceil(60).max(1);
    canvas.group("markers", &[("data-name", &series.name)], |pen| {
        for &centre in shown.iter().step_by(every) {
            pen.marker(
                style.marker,
                centre,
                3.6,
                style.colour,
                style.dash.is_some(),
            )?;
        }
        Ok(())
    })
}
