//! Line charts: series with error bands, limits, crossings; one plot or small multiples.

use crate::axis::{AxisMap, Ends, with_errors};
use crate::canvas::{Canvas, Rect};
use crate::colour;
use crate::curves::{around, draw_band, draw_crossing, draw_interval, draw_series};
use crate::data::{
    Axis, CrossingMark, LimitLine, PlaceMark, Reading, Series, StripRow, Zone, half_width,
};
use crate::error::ChartError;
use crate::limits;
use crate::marker::{Style, legend_line};
use crate::number;
use crate::page::{LegendEntry, Page, PageSpec, panel_columns};
use crate::placement::Placer;
use crate::plot::{Plot, label_room, y_ticks};
use crate::raster::Chart;
use crate::zones;

/// One plot of a line chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LinePanel {
    /// The value of the third variable, as in "overlay: acrylic"; empty for a plot alone.
    pub title: String,
    /// The lines; series of the same name look the same in every panel.
    pub series: Vec<Series>,
    /// Where lines meet limits.
    pub crossings: Vec<CrossingMark>,
    /// Stretches of the level axis shaded behind the lines.
    pub zones: Vec<Zone>,
}

/// Lines in one plot, or in several side by side for the values of a third variable; all share both axes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LineChart {
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
    /// What lies along the level axis, drawn under every panel: one or two rows.
    pub strip: Vec<StripRow>,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

impl Chart for LineChart {
    /// # Errors
    /// Nothing finite to draw, a logarithmic axis with values not above zero, an impossible range, or
    /// a limit, mark, zone or piece of the strip that is not a number.
    fn svg(&self) -> Result<String, ChartError> {
        self.check()?;
        let styles = self.styles();
        let (x, y) = self.axes()?;
        let columns = panel_columns(self.panels.len());
        let plot_height = if columns == 1 { 370.0 } else { 230.0 };
        let titles: Vec<&str> = self.panels.iter().map(|p| p.title.as_str()).collect();
        let kinds = zones::kinds(self.zones());
        let strip = zones::strip_height(&self.strip);
        let legend = self.legend(&styles, &kinds);
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &legend,
            assumption: &self.assumption,
            x_caption: &self.x.caption(),
            y_caption: &self.y.caption(),
            panels: &titles,
            columns,
            plot_height: plot_height + strip,
            left: label_room(&y_ticks(&y, plot_height)).max(zones::name_room(&self.strip)),
            right: 8.0,
        });
        for (number, (panel, &frame)) in self.panels.iter().zip(&page.plots).enumerate() {
            let frame = Rect {
                bottom: frame.bottom - strip,
                ..frame
            };
            let (plot, canvas) = (Plot { frame, x, y }, &mut page.canvas);
            self.draw_panel(canvas, panel, &plot, &styles, &kinds);
            let last_in_column = number + columns >= self.panels.len();
            let first_in_row = number % columns == 0;
            zones::draw_strip(canvas, &plot, &self.strip, first_in_row);
            plot.draw_axes(canvas, last_in_column, first_in_row, strip);
        }
        Ok(page.canvas.finish(&self.title, &self.description()))
    }
}

impl LineChart {
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
        zones::check(self.zones(), &self.strip)
    }

    fn zones(&self) -> impl Iterator<Item = &Zone> {
        self.panels.iter().flat_map(|panel| &panel.zones)
    }

    fn readings(&self) -> impl Iterator<Item = &Reading> + Clone {
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
        let values = self
            .readings()
            .map(|reading| (reading.value, half_width(reading.error)));
        let limits: Vec<f64> = self.limits.iter().map(|limit| limit.value).collect();
        let y = AxisMap::new(
            &self.y,
            with_errors(values),
            &limits,
            Ends::Round,
            &self.title,
        )?;
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

    fn legend(&self, styles: &[(String, Style)], kinds: &[&str]) -> Vec<LegendEntry> {
        let mut legend: Vec<LegendEntry> = styles
            .iter()
            .filter(|(name, _)| !name.is_empty())
            .map(|(name, style)| legend_line(name, *style))
            .collect();
        if self.panels.len() > 1 {
            legend.extend(
                self.limits
                    .iter()
                    .map(|limit| limits::legend_entry(limit.label(&self.y.unit))),
            );
        }
        if self
            .readings()
            .any(|reading| half_width(reading.error) > 0.0)
        {
            legend.push(LegendEntry::drawn("estimated error", |pen, place| {
                pen.fill(place.area(5.0), colour::GREY, 0.3)
            }));
        }
        let named = kinds
            .iter()
            .enumerate()
            .filter(|(_, name)| !name.is_empty());
        legend.extend(named.map(|(kind, name)| {
            LegendEntry::drawn(*name, move |pen, place| {
                zones::shade(pen, place.area(6.0), kind)
            })
        }));
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
        for panel in &self.panels {
            for zone in &panel.zones {
                let stretch = self.stretch(zone.low, zone.high);
                let part = format!("{} {} {stretch}.", panel.title, zone.label);
                parts.push(part.trim().to_owned());
            }
        }
        for row in &self.strip {
            let pieces: Vec<String> = row
                .pieces
                .iter()
                .map(|piece| format!("{} {}", piece.label, self.stretch(piece.low, piece.high)))
                .collect();
            parts.push(format!("{}: {}.", row.name, pieces.join(", ")));
        }
        parts.push(self.assumption.clone());
        parts.join(" ")
    }

    /// A stretch of the level axis in words.
    fn stretch(&self, low: f64, high: f64) -> String {
        let [low, high] = [low.min(high), low.max(high)].map(|end| number::plain(end, 4));
        format!("from {low} to {}", number::with_unit(&high, &self.x.unit))
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
        kinds: &[&str],
    ) {
        let mut placer = Placer::new(plot.frame);
        zones::draw(canvas, plot, &panel.zones, kinds, &mut placer);
        plot.draw_grid(canvas);
        for mark in &panel.crossings {
            draw_interval(canvas, plot, mark);
        }
        let style_of = |name: &str| {
            styles
                .iter()
                .find(|(known, _)| known == name)
                .map_or_else(|| Style::new(0, None), |(_, style)| *style)
        };
        for series in &panel.series {
            draw_band(canvas, plot, series, style_of(&series.name));
        }
        limits::draw_level(canvas, plot, &self.limits, &mut placer);
        for series in &panel.series {
            draw_series(canvas, plot, series, style_of(&series.name), &mut placer);
        }
        for mark in &panel.crossings {
            draw_crossing(canvas, plot, mark);
            if plot.frame.contains(plot.point(mark.x, mark.value)) {
                let [x, y] = plot.point(mark.x, mark.value);
                placer.take(Rect::around([x, y], 7.0));
            }
        }
        limits::draw_places(canvas, plot, &self.places, &mut placer);
        let named = self.panels.len() > 1;
        limits::label_level(canvas, plot, &self.y.unit, &self.limits, named, &mut placer);
        for mark in &panel.crossings {
            let [x, y] = plot.point(mark.x, mark.value);
            if plot.frame.contains([x, y]) {
                let text = self.crossing_label(mark);
                placer.write(canvas, "crossing", &text, &around(x, y));
            }
        }
    }
}
