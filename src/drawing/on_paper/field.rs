//! A field in a cut: lines of equal potential over the density of the flux, several states side by side.

use super::COPPER;
use super::board::scale_bar;
use padfield_chart::canvas::{Anchor, Canvas, Point, Rect, Text};
use padfield_chart::clip;
use padfield_chart::colour;
use padfield_chart::contour::{ValueGrid, contour};
use padfield_chart::font::LABEL_SIZE;
use padfield_chart::map_image;
use padfield_chart::outlines;
use padfield_chart::page::{LegendEntry, MARGIN, Page, PageSpec, WIDTH};
use padfield_chart::{Chart, ChartError};

/// Lines of equal potential: every tenth of the driven one.
const LINES: usize = 10;
/// Decades of the shade.
const DECADES: f64 = 2.5;
/// Gap between the pictures, as the page lays them out.
const GAP: f64 = 16.0;
/// Room for the scale bar.
const FOOT: f64 = 34.0;

/// States of one cut.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FieldDrawing {
    /// What is drawn.
    pub title: String,
    /// The states, side by side.
    pub states: Vec<FieldState>,
    /// What is shown of the cut: lowest x and z, highest x and z \[mm\].
    pub shown_mm: [[f64; 2]; 2],
    /// Flux density of the brightest shade, in the unit of [`FieldState::flux`].
    pub brightest: f64,
    /// Faces between layers: height \[mm\] and name of the layer below.
    pub faces_mm: Vec<(f64, String)>,
    /// Ends of the layers along x \[mm\].
    pub layer_ends_mm: [f64; 2],
    /// What was assumed; printed under the drawing.
    pub assumption: String,
}

/// One state of a cut.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FieldState {
    /// Its name, above the picture.
    pub name: String,
    /// Places along x, strictly increasing \[mm\].
    pub x_mm: Vec<f64>,
    /// Heights, strictly increasing \[mm\].
    pub z_mm: Vec<f64>,
    /// Potential at column i and row j over the driven one, `potential[j * x_mm.len() + i]`.
    pub potential: Vec<f64>,
    /// Flux density in the middle of cell i, j, one fewer of each than places, in any unit.
    pub flux: Vec<f64>,
    /// Conductors: low and high corner \[mm\] and whether it is the driven one.
    pub conductors_mm: Vec<([[f64; 2]; 2], bool)>,
}

/// From the cut to paper.
struct Scale {
    frame: Rect,
    low_mm: [f64; 2],
    per_mm: f64,
}

impl Scale {
    fn x(&self, x_mm: f64) -> f64 {
        self.frame.left + self.per_mm * (x_mm - self.low_mm[0])
    }

    fn z(&self, z_mm: f64) -> f64 {
        self.frame.bottom - self.per_mm * (z_mm - self.low_mm[1])
    }
}

impl Chart for FieldDrawing {
    /// # Errors
    /// No state, a part of the cut without extent, values that are too few.
    fn svg(&self) -> Result<String, ChartError> {
        let [low, high] = self.shown_mm;
        let span = [high[0] - low[0], high[1] - low[1]];
        let is_whole = |state: &FieldState| {
            let (columns, rows) = (state.x_mm.len(), state.z_mm.len());
            columns > 1
                && rows > 1
                && state.potential.len() == columns * rows
                && state.flux.len() == (columns - 1) * (rows - 1)
        };
        let is_drawable = !self.states.is_empty()
            && span.iter().all(|side| *side > 0.0 && side.is_finite())
            && self.brightest > 0.0
            && self.states.iter().all(is_whole);
        if !is_drawable {
            return Err(ChartError::NoData {
                chart: self.title.clone(),
            });
        }
        let columns = self.states.len();
        let width = (WIDTH - 2.0 * MARGIN - GAP * (columns - 1) as f64) / columns as f64;
        let per_mm = width / span[0];
        let names: Vec<&str> = self
            .states
            .iter()
            .map(|state| state.name.as_str())
            .collect();
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &[
                LegendEntry::filled("measured pad", COPPER, 1.0),
                LegendEntry::filled("other conductors", colour::LIGHT, 1.0),
                outlines::legend_entry("equal potential, every 10 %"),
            ],
            assumption: &self.assumption,
            panels: &names,
            columns,
            plot_height: per_mm * span[1],
            ..PageSpec::default()
        });
        let frames = page.plots.clone();
        for (state, &frame) in self.states.iter().zip(&frames) {
            let scale = Scale {
                frame,
                low_mm: low,
                per_mm,
            };
            self.draw(&mut page.canvas, state, &scale);
        }
        let foot = frames[0].bottom + 0.5 * FOOT;
        scale_bar(&mut page.canvas, per_mm, [frames[0].left, foot]);
        let description = format!("States: {}", names.join(", "));
        Ok(page.canvas.finish(&self.title, &description))
    }
}

impl FieldDrawing {
    fn draw(&self, canvas: &mut Canvas, state: &FieldState, scale: &Scale) {
        let frame = scale.frame;
        let middles = |places: &[f64]| -> Vec<f64> {
            places
                .windows(2)
                .map(|pair| 0.5 * (pair[0] + pair[1]))
                .collect()
        };
        let on_x = |places: &[f64]| -> Vec<f64> { places.iter().map(|x| scale.x(*x)).collect() };
        let on_z = |places: &[f64]| -> Vec<f64> { places.iter().map(|z| scale.z(*z)).collect() };
        let shades: Vec<f64> = state
            .flux
            .iter()
            .map(|flux| (1.0 + (flux / self.brightest).log10() / DECADES).clamp(0.0, 1.0))
            .collect();
        let map = map_image::map(
            &ValueGrid {
                x: &on_x(&middles(&state.x_mm)),
                y: &on_z(&middles(&state.z_mm)),
                values: &shades,
            },
            frame,
        );
        canvas.picture("flux", frame, &map);
        self.draw_faces(canvas, scale);
        let (x, z) = (on_x(&state.x_mm), on_z(&state.z_mm));
        let grid = ValueGrid {
            x: &x,
            y: &z,
            values: &state.potential,
        };
        let parts: Vec<Vec<Point>> = (1..LINES)
            .flat_map(|line| contour(&grid, line as f64 / LINES as f64))
            .flat_map(|line| clip::line(&line, frame))
            .collect();
        canvas.group("potential", &[("stroke-linejoin", "round")], |pen| {
            parts
                .iter()
                .for_each(|part| pen.line(part, colour::INK, 2.2));
            parts
                .iter()
                .for_each(|part| pen.line(part, colour::PAPER, 1.1))
        });
        canvas.group("conductor", &[], |pen| {
            for (corners, is_driven) in &state.conductors_mm {
                if let Some(piece) = shown(scale, *corners) {
                    let fill = if *is_driven { COPPER } else { colour::LIGHT };
                    pen.fill(piece, fill, 1.0);
                }
            }
            pen.frame(frame, colour::GREY, 1.0)
        })
    }

    fn draw_faces(&self, canvas: &mut Canvas, scale: &Scale) {
        let frame = scale.frame;
        let ends = self
            .layer_ends_mm
            .map(|end| scale.x(end).clamp(frame.left, frame.right));
        for (height, name) in &self.faces_mm {
            let z = scale.z(*height);
            if !(frame.top..=frame.bottom).contains(&z) {
                continue;
            }
            canvas.group("face", &[], |pen| {
                pen.line(&[[ends[0], z], [ends[1], z]], colour::PAPER, 1.0)
            });
            let below = self
                .faces_mm
                .iter()
                .map(|(other, _)| *other)
                .filter(|other| other < height)
                .fold(f64::NEG_INFINITY, f64::max);
            if scale.per_mm * (height - below) >= LABEL_SIZE + 4.0 && !name.is_empty() {
                canvas.text(&Text {
                    colour: colour::PAPER,
                    ..Text::new(
                        "face",
                        name,
                        [ends[0].max(frame.left) + 5.0, z + LABEL_SIZE + 2.0],
                        Anchor::Start,
                        LABEL_SIZE,
                    )
                });
            }
        }
    }
}

/// A conductor on paper, at least as thick as a line, as far as it is shown.
fn shown(scale: &Scale, [low, high]: [[f64; 2]; 2]) -> Option<Rect> {
    let frame = scale.frame;
    let (top, bottom) = (scale.z(high[1]), scale.z(low[1]));
    let thicker = (1.5 - 0.5 * (bottom - top)).max(0.0);
    let piece = Rect {
        left: scale.x(low[0]).max(frame.left),
        right: scale.x(high[0]).min(frame.right),
        top: (top - thicker).max(frame.top),
        bottom: (bottom + thicker).min(frame.bottom),
    };
    (piece.left < piece.right && piece.top < piece.bottom).then_some(piece)
}
