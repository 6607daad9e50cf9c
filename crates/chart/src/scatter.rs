//! Scatter charts of samples, and the trade-off front of two quantities.

use crate::axis::{AxisMap, Ends, with_errors};
use crate::canvas::{Anchor, Canvas, Point, Rect};
use crate::clip;
use crate::colour;
use crate::data::{Axis, Better, Cloud, LimitLine, Sample as Design, half_width};
use crate::error::ChartError;
use crate::limits;
use crate::marker::Style;
use crate::page::{LegendEntry, Page, PageSpec};
use crate::placement::Placer;
use crate::plot::{Plot, label_room, y_ticks};
use crate::raster::Chart;

/// Height of the plot.
const PLOT_HEIGHT: f64 = 380.0;
/// Error bars shorter than the marker are not drawn.
const SHORTEST_BAR: f64 = 4.0;

/// Samples of two quantities as points.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scatter {
    /// What the chart answers.
    pub title: String,
    /// The level axis.
    pub x: Axis,
    /// The upright axis.
    pub y: Axis,
    /// The samples, in named groups.
    pub clouds: Vec<Cloud>,
    /// Limits of the level axis.
    pub x_limits: Vec<LimitLine>,
    /// Limits of the upright axis.
    pub y_limits: Vec<LimitLine>,
    /// What was assumed; printed under the chart.
    pub assumption: String,
}

/// A scatter chart in which both axes have a better direction: the designs that no other design beats
/// on both are joined and marked.
#[derive(Clone, Debug, PartialEq)]
pub struct TradeOff {
    /// The designs and axes.
    pub scatter: Scatter,
    /// Better direction of the level axis.
    pub x_better: Better,
    /// Better direction of the upright axis.
    pub y_better: Better,
}

impl Chart for Scatter {
    /// # Errors
    /// Nothing finite to draw, a logarithmic axis with values not above zero, an impossible range, or
    /// a limit that is not a number.
    fn svg(&self) -> Result<String, ChartError> {
        self.drawn(None)
    }
}

impl Scatter {
    fn present(&self) -> impl Iterator<Item = &Design> + Clone {
        self.clouds
            .iter()
            .flat_map(|cloud| &cloud.samples)
            .filter(|sample| is_present(sample))
    }

    fn axis(
        &self,
        axis: &Axis,
        limits: &[LimitLine],
        part: impl Fn(&Design) -> (f64, f64) + Clone,
    ) -> Result<AxisMap, ChartError> {
        let limits: Vec<f64> = limits.iter().map(|limit| limit.value).collect();
        AxisMap::new(
            axis,
            with_errors(self.present().map(part)),
            &limits,
            Ends::Round,
            &self.title,
        )
    }

    fn drawn(&self, front: Option<&[&Design]>) -> Result<String, ChartError> {
        limits::check(&self.x_limits)?;
        limits::check(&self.y_limits)?;
        let x = self.axis(&self.x, &self.x_limits, |s| (s.x, half_width(s.x_error)))?;
        let y = self.axis(&self.y, &self.y_limits, |s| (s.y, half_width(s.y_error)))?;
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &self.legend(front.is_some()),
            assumption: &self.assumption,
            x_caption: &self.x.caption(),
            y_caption: &self.y.caption(),
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
        for (number, cloud) in self.clouds.iter().enumerate() {
            let style = Style::new(number, None);
            draw_cloud(canvas, &plot, cloud, style, front, &mut placer);
        }
        let on_paper: Vec<Point> = front
            .unwrap_or_default()
            .iter()
            .map(|design| plot.point(design.x, design.y))
            .collect();
        draw_front(canvas, &plot, &on_paper, &mut placer);
        limits::draw_level(canvas, &plot, &self.y_limits, &mut placer);
        limits::draw_upright(canvas, &plot, &self.x.unit, &self.x_limits, &mut placer);
        limits::label_level(
            canvas,
            &plot,
            &self.y.unit,
            &self.y_limits,
            false,
            &mut placer,
        );
        for (design, &[x, y]) in front.unwrap_or_default().iter().zip(&on_paper) {
            if !design.label.is_empty() && plot.frame.contains([x, y]) {
                placer.write_if_room(canvas, "design", &design.label, &beside(x, y));
            }
        }
        plot.draw_axes(canvas, true, true, 0.0);
        Ok(page.canvas.finish(&self.title, &self.description(front)))
    }

    fn legend(&self, with_front: bool) -> Vec<LegendEntry> {
        let mut legend: Vec<LegendEntry> = self
            .clouds
            .iter()
            .enumerate()
            .filter(|(_, cloud)| !cloud.name.is_empty())
            .map(|(number, cloud)| {
                let style = Style::new(number, None);
                LegendEntry::drawn(&cloud.name, move |pen, place| {
                    pen.marker(style.marker, place.middle(), 4.5, style.colour, false)
                })
            })
            .collect();
        if with_front {
            legend.push(LegendEntry::drawn(
                "no other design is better in both",
                |pen, place| {
                    pen.line(&place.line(), colour::INK, 1.6);
                    pen.ring(place.middle(), 6.0, colour::INK, 1.6)
                },
            ));
        }
        legend
    }

    fn description(&self, front: Option<&[&Design]>) -> String {
        let mut parts = vec![format!(
            "{} designs: {} against {}.",
            self.present().count(),
            self.y.caption(),
            self.x.caption()
        )];
        let limits = |axis: &Axis, limits: &[LimitLine]| -> Vec<String> {
            limits
                .iter()
                .map(|limit| format!("{} {}.", axis.label, limit.label(&axis.unit)))
                .collect()
        };
        parts.extend(limits(&self.x, &self.x_limits));
        parts.extend(limits(&self.y, &self.y_limits));
        let best: Vec<&str> = front
            .unwrap_or_default()
            .iter()
            .map(|design| design.label.as_str())
            .filter(|label| !label.is_empty())
            .collect();
        if !best.is_empty() {
            parts.push(format!("Best trade-offs: {}.", best.join("; ")));
        }
        parts.push(self.assumption.clone());
        parts.join(" ")
    }
}

impl Chart for TradeOff {
    /// # Errors
    /// As for [`Scatter::svg`].
    fn svg(&self) -> Result<String, ChartError> {
        self.scatter.drawn(Some(&self.front()))
    }
}

impl TradeOff {
    /// The designs that no other design beats or equals on one axis and beats on the other, from the
    /// smallest to the largest value of the level axis.
    pub fn front(&self) -> Vec<&Design> {
        let turned = |value: f64, better: Better| match better {
            Better::Higher => value,
            Better::Lower => -value,
        };
        let key = |design: &Design| {
            (
                turned(design.x, self.x_better),
                turned(design.y, self.y_better),
            )
        };
        let mut designs: Vec<&Design> = self.scatter.present().collect();
        // Best x first, among equals best y first: then a design is on the front exactly when its y
        // is better than every y before it.
        designs.sort_by(|a, b| {
            let (a, b) = (key(a), key(b));
            b.0.total_cmp(&a.0).then(b.1.total_cmp(&a.1))
        });
        let mut best = f64::NEG_INFINITY;
        designs.retain(|design| {
            let y = key(design).1;
            let better = y > best;
            best = best.max(y);
            better
        });
        designs.sort_by(|a, b| a.x.total_cmp(&b.x));
        designs
    }
}

fn is_present(sample: &Design) -> bool {
    sample.x.is_finite() && sample.y.is_finite()
}

/// Where the name of a design may stand.
fn beside(x: f64, y: f64) -> Vec<(Point, Anchor)> {
    vec![
        ([x + 11.0, y + 17.0], Anchor::Start),
        ([x - 11.0, y - 9.0], Anchor::End),
        ([x + 11.0, y - 9.0], Anchor::Start),
        ([x - 11.0, y + 17.0], Anchor::End),
        ([x, y - 13.0], Anchor::Middle),
        ([x, y + 22.0], Anchor::Middle),
        ([x + 11.0, y - 26.0], Anchor::Start),
        ([x - 11.0, y - 26.0], Anchor::End),
        ([x + 16.0, y + 4.0], Anchor::Start),
        ([x - 16.0, y + 4.0], Anchor::End),
    ]
}

fn draw_cloud(
    canvas: &mut Canvas,
    plot: &Plot,
    cloud: &Cloud,
    style: Style,
    front: Option<&[&Design]>,
    placer: &mut Placer,
) {
    let shown: Vec<(&Design, Point)> = cloud
        .samples
        .iter()
        .filter(|sample| is_present(sample))
        .map(|sample| (sample, plot.point(sample.x, sample.y)))
        .filter(|(_, at)| plot.frame.contains(*at))
        .collect();
    canvas.group("error-bars", &[("data-name", &cloud.name)], |pen| {
        for (sample, at) in &shown {
            let across =
                [-1.0, 1.0].map(|s| plot.across(sample.x + s * half_width(sample.x_error)));
            let up = [-1.0, 1.0].map(|s| plot.up(sample.y + s * half_width(sample.y_error)));
            // The end a logarithmic axis cannot show lies beyond the frame.
            let across = across.map(|x| {
                if x.is_finite() {
                    x
                } else {
                    plot.frame.left - 10.0
                }
            });
            let up = up.map(|y| {
                if y.is_finite() {
                    y
                } else {
                    plot.frame.bottom + 10.0
                }
            });
            let bars = [
                [[across[0], at[1]], [across[1], at[1]]],
                [[at[0], up[0]], [at[0], up[1]]],
            ];
            for bar in bars {
                let length = (bar[1][0] - bar[0][0]).abs() + (bar[1][1] - bar[0][1]).abs();
                if length > 2.0 * SHORTEST_BAR {
                    for part in clip::line(&bar, plot.frame) {
                        pen.line(&part, style.colour, 0.9);
                    }
                }
            }
        }
    });
    // With many samples small markers show their density.
    let radius = if shown.len() > 150 { 2.6 } else { 4.0 };
    let on_front = |sample: &Design| front.is_none_or(|front| front.contains(&sample));
    for (opacity, wanted) in [("0.55", false), ("1", true)] {
        let attributes = [("data-name", cloud.name.as_str()), ("opacity", opacity)];
        canvas.group("markers", &attributes, |pen| {
            for &(_, at) in shown
                .iter()
                .filter(|(sample, _)| on_front(sample) == wanted)
            {
                pen.marker(style.marker, at, radius, style.colour, false);
                placer.add_line(&[at]);
            }
        });
    }
}

fn draw_front(canvas: &mut Canvas, plot: &Plot, front: &[Point], placer: &mut Placer) {
    canvas.group("front", &[("stroke-linejoin", "round")], |pen| {
        for run in clip::line(front, plot.frame) {
            pen.line(&run, colour::INK, 1.4);
            placer.add_line(&run);
        }
    });
    canvas.group("front-marks", &[], |pen| {
        for &[x, y] in front.iter().filter(|at| plot.frame.contains(**at)) {
            pen.ring([x, y], 6.5, colour::INK, 1.5);
            placer.take(Rect::around([x, y], 6.0));
        }
    })
}
