//! Histograms of one or several groups of values, with limits.

use crate::axis::{AxisMap, Ends};
use crate::canvas::{Canvas, Point};
use crate::clip;
use crate::colour;
use crate::data::{Axis, LimitLine, Scale};
use crate::error::ChartError;
use crate::limits;
use crate::marker::Style;
use crate::page::{LegendEntry, Page, PageSpec};
use crate::placement::Placer;
use crate::plot::{Plot, label_room, y_ticks};
use crate::raster::Chart;
use crate::steps::linear_step;

/// Height of the plot.
const PLOT_HEIGHT: f64 = 340.0;
/// Most bins over the range of the values.
const MOST_BINS: usize = 60;
/// Outlines of the second and later groups, in tenths of a chart unit.
const DASHES: [&str; 3] = ["none", "70 30", "25 25"];

/// Values that are counted together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ValueGroup {
    /// Name in the legend.
    pub name: String,
    /// The values, in the unit of the axis; those that are not finite are left out.
    pub values: Vec<f64>,
}

/// How often values occur, in bins with round edges.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Histogram {
    /// What the chart answers.
    pub title: String,
    /// The quantity; always linear.
    pub x: Axis,
    /// What is counted, as in "designs" or "units".
    pub counted: String,
    /// The groups.
    pub groups: Vec<ValueGroup>,
    /// Limits of the quantity.
    pub limits: Vec<LimitLine>,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

/// Bins of equal width with round edges.
struct Bins {
    first: f64,
    width: f64,
    /// Counts per group and bin.
    counts: Vec<Vec<usize>>,
}

impl Chart for Histogram {
    /// # Errors
    /// Nothing finite to draw, an impossible range, or a limit that is not a number.
    fn svg(&self) -> Result<String, ChartError> {
        limits::check(&self.limits)?;
        let axis = Axis {
            scale: Scale::Linear,
            ..self.x.clone()
        };
        let values = || {
            self.groups
                .iter()
                .flat_map(|group| group.values.iter().copied())
        };
        let span = Axis {
            range: None,
            ..axis.clone()
        };
        let data = AxisMap::new(&span, values(), &[], Ends::Tight, &self.title)?;
        let bins = self.bins(&data);
        let edges = [
            bins.first,
            bins.edge(bins.counts.first().map_or(0, Vec::len)),
        ];
        let limits: Vec<f64> = self.limits.iter().map(|limit| limit.value).collect();
        let x = AxisMap::new(&axis, edges, &limits, Ends::Padded, &self.title)?;
        let most = bins.counts.iter().flatten().copied().max().unwrap_or(0);
        let upright = Axis::linear(&self.counted, "");
        let y = AxisMap::new(&upright, [0.0, most as f64], &[], Ends::Round, &self.title)?;
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &self.legend(),
            assumption: &self.assumption,
            x_caption: &self.x.caption(),
            y_caption: &self.counted,
            plot_height: PLOT_HEIGHT,
            left: label_room(&y_ticks(&y, PLOT_HEIGHT)),
            right: 10.0,
            ..PageSpec::default()
        });
        let plot = Plot {
            frame: page.plots[0],
            x,
            y,
        };
        let canvas = &mut page.canvas;
        let mut placer = Placer::new(plot.frame);
        plot.draw_grid(canvas);
        for (number, counts) in bins.counts.iter().enumerate() {
            self.draw_group(
                canvas,
                &plot,
                number,
                &bins.outline(&plot, counts),
                &mut placer,
            );
        }
        limits::draw_upright(canvas, &plot, &self.x.unit, &self.limits, &mut placer);
        plot.draw_axes(canvas, true, true, 0.0);
        Ok(page.canvas.finish(&self.title, &self.description()))
    }
}

impl Histogram {
    fn bins(&self, data: &AxisMap) -> Bins {
        let total: usize = self.groups.iter().map(|group| group.values.len()).sum();
        // About as many bins as the square root of the count, but a picture people can read.
        let wanted = ((total as f64).sqrt().ceil() as usize).clamp(5, MOST_BINS);
        let width = linear_step(data.high() - data.low(), wanted);
        let edge = (data.low() / width + 1e-9).floor() * width;
        let first = if edge.is_finite() { edge } else { data.low() };
        let steps = ((data.high() - first) / width + 1e-9).floor();
        let count = steps.clamp(0.0, (2 * MOST_BINS) as f64) as usize + 1;
        let counts = self
            .groups
            .iter()
            .map(|group| {
                let mut counts = vec![0; count];
                for value in group.values.iter().filter(|value| value.is_finite()) {
                    // A value on an edge belongs to the bin above it.
                    let bin = ((value - first) / width + 1e-9).floor().max(0.0) as usize;
                    counts[bin.min(count - 1)] += 1;
                }
                counts
            })
            .collect();
        Bins {
            first,
            width,
            counts,
        }
    }

    fn legend(&self) -> Vec<LegendEntry> {
        self.groups
            .iter()
            .enumerate()
            .filter(|(_, group)| !group.name.is_empty())
            .map(|(number, group)| {
                LegendEntry::filled(&group.name, Style::new(number, None).colour, 0.35)
            })
            .collect()
    }

    fn description(&self) -> String {
        let mut parts = vec![format!("Histogram of {}.", self.x.caption())];
        for group in &self.groups {
            let count = group
                .values
                .iter()
                .filter(|value| value.is_finite())
                .count();
            parts.push(
                format!("{} {count} {}.", group.name, self.counted)
                    .trim()
                    .to_owned(),
            );
        }
        for limit in &self.limits {
            parts.push(format!("{}.", limit.label(&self.x.unit)));
        }
        parts.push(self.assumption.clone());
        parts.join(" ")
    }

    fn draw_group(
        &self,
        canvas: &mut Canvas,
        plot: &Plot,
        number: usize,
        outline: &[Point],
        placer: &mut Placer,
    ) {
        let colour = colour::series(number);
        let attributes = [
            ("data-name", self.groups[number].name.as_str()),
            ("stroke-dasharray", DASHES[number % DASHES.len()]),
        ];
        canvas.group("histogram", &attributes, |pen| {
            pen.area(&clip::area(outline, plot.frame), colour, 0.35);
            for run in clip::line(outline, plot.frame) {
                pen.line(&run, colour, 1.6);
                placer.add_line(&run);
            }
        })
    }
}

impl Bins {
    fn edge(&self, bin: usize) -> f64 {
        self.first + self.width * bin as f64
    }

    /// The steps of one group, from the base line back to it.
    fn outline(&self, plot: &Plot, counts: &[usize]) -> Vec<Point> {
        let mut points = vec![plot.point(self.first, 0.0)];
        for (bin, &count) in counts.iter().enumerate() {
            points.push(plot.point(self.edge(bin), count as f64));
            points.push(plot.point(self.edge(bin + 1), count as f64));
        }
        points.push(plot.point(self.edge(counts.len()), 0.0));
        points
    }
}
