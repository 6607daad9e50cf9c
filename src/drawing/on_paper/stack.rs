//! A stackup as bars from the touched face to the back, thin layers thickened and marked.

use super::COPPER;
use padfield_chart::canvas::{Anchor, Canvas, Pen, Rect, Text};
use padfield_chart::colour;
use padfield_chart::colour::Colour;
use padfield_chart::font::{CAPTION_SIZE, LABEL_SIZE};
use padfield_chart::page::{LegendEntry, Page, PageSpec};
use padfield_chart::{Chart, ChartError};

/// Height of all layers together that are drawn to scale.
const SCALED_HEIGHT: f64 = 260.0;
/// Layers that would be lower are drawn this high, with a zigzag.
const LEAST_HEIGHT: f64 = 16.0;
/// Height of copper, which is never to scale.
const COPPER_HEIGHT: f64 = 7.0;
/// Least distance of two labels.
const LABEL_STEP: f64 = 19.0;
/// Width of the bars; the labels stand right of them.
const BAR_WIDTH: f64 = 300.0;
/// Fills of dielectric layers in turn, all light enough for text.
const FILLS: [Colour; 4] = [
    Colour(205, 226, 240),
    Colour(240, 228, 200),
    Colour(206, 232, 222),
    Colour(232, 222, 236),
];

#[derive(Clone, Debug, Default, PartialEq)]
pub struct StackDrawing {
    /// What is drawn.
    pub title: String,
    /// Layers from the touched face to the back.
    pub layers: Vec<DrawnLayer>,
    /// What was assumed; printed under the drawing.
    pub assumption: String,
}

/// A layer of a [`StackDrawing`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DrawnLayer {
    /// Written beside it.
    pub label: String,
    /// Thickness \[mm\]; above zero.
    pub thickness_mm: f64,
    /// Stretches of copper as shares of the width, 0 to 1; none for a layer of dielectric.
    pub copper: Option<Vec<[f64; 2]>>,
}

/// A layer on paper.
struct Placed {
    frame: Rect,
    is_to_scale: bool,
}

impl Chart for StackDrawing {
    /// # Errors
    /// No layer, or a thickness that is not above zero.
    fn svg(&self) -> Result<String, ChartError> {
        let total: f64 = self.dielectrics().map(|layer| layer.thickness_mm).sum();
        let is_positive =
            |layer: &DrawnLayer| layer.thickness_mm > 0.0 && layer.thickness_mm.is_finite();
        if self.layers.is_empty() || !self.layers.iter().all(is_positive) {
            return Err(ChartError::NoData {
                chart: self.title.clone(),
            });
        }
        let height: f64 = self
            .layers
            .iter()
            .map(|layer| self.height(layer, total).0)
            .sum();
        let labels = LABEL_STEP * self.layers.len() as f64;
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &[LegendEntry::filled("copper", COPPER, 1.0)],
            assumption: &self.assumption,
            plot_height: height.max(labels) + 40.0,
            ..PageSpec::default()
        });
        let area = page.plots[0];
        let mut top = area.top + 24.0;
        let placed: Vec<Placed> = self
            .layers
            .iter()
            .map(|layer| {
                let (height, is_to_scale) = self.height(layer, total);
                let frame = Rect {
                    left: area.left,
                    top,
                    right: area.left + BAR_WIDTH,
                    bottom: top + height,
                };
                top += height;
                Placed { frame, is_to_scale }
            })
            .collect();
        page.canvas.text(&Text::new(
            "face",
            "touched face",
            [area.left, area.top + 16.0],
            Anchor::Start,
            CAPTION_SIZE,
        ));
        let mut number = 0;
        for (layer, at) in self.layers.iter().zip(&placed) {
            page.canvas
                .group("layer", &[("data-name", &layer.label)], |pen| {
                    draw_layer(pen, layer, at, FILLS[number % FILLS.len()])
                });
            number += usize::from(layer.copper.is_none());
        }
        self.write_labels(&mut page.canvas, &placed, area);
        let description = self.layers.iter().map(|layer| layer.label.clone());
        let description = description.collect::<Vec<_>>().join("; ");
        Ok(page.canvas.finish(&self.title, &description))
    }
}

impl StackDrawing {
    fn dielectrics(&self) -> impl Iterator<Item = &DrawnLayer> {
        self.layers.iter().filter(|layer| layer.copper.is_none())
    }

    /// Height on paper and whether it is to scale.
    fn height(&self, layer: &DrawnLayer, total_mm: f64) -> (f64, bool) {
        if layer.copper.is_some() {
            return (COPPER_HEIGHT, false);
        }
        let scaled = SCALED_HEIGHT * layer.thickness_mm / total_mm;
        (scaled.max(LEAST_HEIGHT), scaled >= LEAST_HEIGHT)
    }

    /// Labels in the order of the layers, pushed down where they would overlap, joined to their bars.
    fn write_labels(&self, canvas: &mut Canvas, placed: &[Placed], area: Rect) {
        let mut last = f64::NEG_INFINITY;
        let left = area.left + BAR_WIDTH + 46.0;
        for (layer, at) in self.layers.iter().zip(placed) {
            let middle = 0.5 * (at.frame.top + at.frame.bottom);
            let y = middle.max(last + LABEL_STEP);
            last = y;
            canvas.group("leader", &[], |pen| {
                pen.line(
                    &[
                        [at.frame.right + 4.0, middle],
                        [left - 22.0, y],
                        [left - 6.0, y],
                    ],
                    colour::GREY,
                    0.8,
                )
            });
            canvas.text(&Text::new(
                "layer",
                &layer.label,
                [left, y + 0.36 * LABEL_SIZE],
                Anchor::Start,
                LABEL_SIZE,
            ));
        }
    }
}

fn draw_layer(pen: &mut Pen, layer: &DrawnLayer, at: &Placed, fill: Colour) {
    let frame = at.frame;
    if let Some(stretches) = &layer.copper {
        for [low, high] in stretches {
            let place = |share: f64| frame.left + frame.width() * share.clamp(0.0, 1.0);
            let piece = Rect {
                left: place(*low),
                right: place(*high),
                ..frame
            };
            pen.fill(piece, COPPER, 1.0);
        }
        return;
    }
    pen.fill(frame, fill, 1.0);
    pen.frame(frame, colour::GREY, 0.8);
    if at.is_to_scale {
        return;
    }
    let step = frame.height() / 4.0;
    let zigzag: Vec<[f64; 2]> = (0..=4)
        .map(|corner| {
            let out = if corner % 2 == 0 { 4.0 } else { 12.0 };
            [frame.left + out, frame.top + step * f64::from(corner)]
        })
        .collect();
    pen.line(&zigzag, colour::INK, 1.2)
}
