//! Copper seen from the touched side, to scale.

use super::COPPER;
use padfield_chart::canvas::{Anchor, Canvas, Pen, Point, Rect, Text};
use padfield_chart::colour;
use padfield_chart::colour::Colour;
use padfield_chart::font::{self, LABEL_SIZE};
use padfield_chart::page::{LegendEntry, MARGIN, Page, PageSpec, WIDTH};
use padfield_chart::placement::Placer;
use padfield_chart::{Chart, ChartError};

/// Largest height of the board on paper.
const MOST_HEIGHT: f64 = 480.0;
/// Room for the scale bar under the board.
const FOOT: f64 = 34.0;
/// Chords of a drawn circle.
const CHORDS: usize = 72;

/// What a piece of a [`BoardDrawing`] is: how it looks, how the legend calls it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum PieceLook {
    /// A layer with an outline of its own.
    Cover,
    /// Copper behind the pads.
    GroundBehind,
    /// Copper on the layer of the pads.
    GroundBeside,
    /// Cut out of the copper before it.
    Clearance,
    /// Metal behind or before the panel.
    Object,
    /// A metal frame on the touched face.
    Frame,
    /// A slot in a layer.
    Slot,
    /// Water on the touched face.
    Film,
    /// A guard trace.
    Guard,
    Trace,
    Pad,
    /// A hole in a pad.
    Hole,
}

impl PieceLook {
    /// Fill, opacity and rim; the name in the legend.
    fn style(self) -> (Colour, f64, Colour, &'static str) {
        let rim = colour::GREY;
        match self {
            Self::Cover => (
                Colour(205, 226, 240),
                0.35,
                Colour(0, 114, 178),
                "layer with its own outline",
            ),
            Self::GroundBehind => (colour::LIGHT, 0.35, rim, "ground or shield behind"),
            Self::GroundBeside => (
                Colour(240, 200, 170),
                1.0,
                rim,
                "copper area beside the pads",
            ),
            Self::Clearance | Self::Hole => (colour::PAPER, 1.0, rim, ""),
            Self::Object => (colour::LIGHT, 0.15, rim, "metal near the panel"),
            Self::Frame => (Colour(170, 170, 170), 0.8, rim, "metal frame"),
            Self::Slot => (Colour(86, 180, 233), 0.25, rim, "slot"),
            Self::Film => (Colour(0, 114, 178), 0.15, Colour(0, 114, 178), "wet film"),
            Self::Guard => (Colour(0, 158, 115), 1.0, rim, "guard trace"),
            Self::Trace => (Colour(120, 60, 10), 1.0, Colour(120, 60, 10), "trace"),
            Self::Pad => (COPPER, 0.85, colour::INK, "pad"),
        }
    }
}

/// One closed piece.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardPiece {
    /// Corners x, y \[mm\], the last joins the first; y points up.
    pub corners_mm: Vec<[f64; 2]>,
    pub look: PieceLook,
    /// Written in its middle; empty for nothing.
    pub label: String,
}

/// Copper seen from the touched side.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BoardDrawing {
    /// What is drawn.
    pub title: String,
    /// Size of the board, centred on 0, 0 \[mm\].
    pub size_mm: [f64; 2],
    /// Pieces, later ones over earlier ones.
    pub pieces: Vec<BoardPiece>,
    /// Contact of a finger: centre and diameter \[mm\].
    pub contact_mm: Option<([f64; 2], f64)>,
    /// What was assumed; printed under the drawing.
    pub assumption: String,
}

/// From mm to paper.
struct Scale {
    origin: Point,
    per_mm: f64,
}

impl Scale {
    fn place(&self, [x, y]: [f64; 2]) -> Point {
        [
            self.origin[0] + self.per_mm * x,
            self.origin[1] - self.per_mm * y,
        ]
    }
}

impl Chart for BoardDrawing {
    /// # Errors
    /// A size that is not above zero, a corner that is not a number.
    fn svg(&self) -> Result<String, ChartError> {
        let [least, most] = self.reach()?;
        let inner = WIDTH - 2.0 * MARGIN;
        let span = [most[0] - least[0], most[1] - least[1]];
        let per_mm = (inner / span[0]).min(MOST_HEIGHT / span[1]);
        let mut page = Page::new(&PageSpec {
            title: &self.title,
            legend: &self.legend(),
            assumption: &self.assumption,
            plot_height: per_mm * span[1] + FOOT,
            ..PageSpec::default()
        });
        let area = page.plots[0];
        let scale = Scale {
            origin: [
                0.5 * (area.left + area.right) - 0.5 * per_mm * (least[0] + most[0]),
                area.top + per_mm * most[1],
            ],
            per_mm,
        };
        let [half_width, half_height] = self.size_mm.map(|side| 0.5 * side);
        let corner = |x: f64, y: f64| scale.place([x * half_width, y * half_height]);
        let (low, high) = (corner(-1.0, 1.0), corner(1.0, -1.0));
        let board = Rect {
            left: low[0],
            top: low[1],
            right: high[0],
            bottom: high[1],
        };
        page.canvas.group("board", &[], |pen| {
            pen.fill(board, Colour(250, 250, 250), 1.0);
            pen.frame(board, colour::INK, 1.2)
        });
        for piece in &self.pieces {
            let attributes = [("data-name", piece.label.as_str())];
            page.canvas
                .group("piece", &attributes, |pen| draw(pen, piece, &scale));
        }
        self.draw_contact(&mut page.canvas, &scale);
        let above_foot = Rect {
            bottom: area.bottom - FOOT,
            ..area
        };
        self.write_labels(&mut page.canvas, &scale, above_foot);
        scale_bar(
            &mut page.canvas,
            per_mm,
            [area.left, area.top + per_mm * span[1] + 16.0],
        );
        Ok(page.canvas.finish(&self.title, &self.description()))
    }
}

impl BoardDrawing {
    /// Lowest and highest coordinates of everything.
    fn reach(&self) -> Result<[[f64; 2]; 2], ChartError> {
        let corners = self.pieces.iter().flat_map(|piece| &piece.corners_mm);
        let is_drawable = self
            .size_mm
            .iter()
            .all(|side| *side > 0.0 && side.is_finite())
            && corners.clone().flatten().all(|c| c.is_finite());
        if !is_drawable {
            return Err(ChartError::NoData {
                chart: self.title.clone(),
            });
        }
        let half = self.size_mm.map(|side| 0.5 * side);
        let start = [half.map(|side| -side), half];
        Ok(corners.fold(start, |[low, high], corner| {
            [
                [low[0].min(corner[0]), low[1].min(corner[1])],
                [high[0].max(corner[0]), high[1].max(corner[1])],
            ]
        }))
    }

    fn legend(&self) -> Vec<LegendEntry> {
        let mut looks: Vec<PieceLook> = self.pieces.iter().map(|piece| piece.look).collect();
        looks.sort();
        looks.dedup();
        let named = looks.into_iter().rev().map(PieceLook::style);
        named
            .filter(|(.., name)| !name.is_empty())
            .map(|(fill, opacity, _, name)| LegendEntry::filled(name, fill, opacity))
            .collect()
    }

    fn draw_contact(&self, canvas: &mut Canvas, scale: &Scale) {
        let Some(([x, y], diameter)) = self.contact_mm else {
            return;
        };
        let circle: Vec<Point> = (0..=CHORDS)
            .map(|chord| {
                let angle = std::f64::consts::TAU * chord as f64 / CHORDS as f64;
                scale.place([
                    x + 0.5 * diameter * angle.cos(),
                    y + 0.5 * diameter * angle.sin(),
                ])
            })
            .collect();
        canvas.group("contact", &[("stroke-dasharray", "50 30")], |pen| {
            pen.line(&circle, colour::INK, 1.8)
        })
    }

    /// Names in the middle of their pieces, those of pads before all others; where names would meet, farther
    /// out.
    fn write_labels(&self, canvas: &mut Canvas, scale: &Scale, frame: Rect) {
        let mut placer = Placer::new(frame);
        let named = |is_pad: bool| {
            let pieces = self.pieces.iter();
            pieces.filter(move |piece| {
                !piece.label.is_empty() && (piece.look == PieceLook::Pad) == is_pad
            })
        };
        for piece in named(true).chain(named(false)) {
            let corners: Vec<Point> = piece
                .corners_mm
                .iter()
                .map(|corner| scale.place(*corner))
                .collect();
            let Some((at, anchor)) = placer.place(&piece.label, &places(&corners)) else {
                continue;
            };
            canvas.text(&Text {
                // On a pad the fill is even; elsewhere lines may cross.
                halo: piece.look != PieceLook::Pad,
                ..Text::new("piece", &piece.label, at, anchor, LABEL_SIZE)
            });
        }
    }

    fn description(&self) -> String {
        let pads = self
            .pieces
            .iter()
            .filter(|piece| piece.look == PieceLook::Pad);
        let names: Vec<&str> = pads
            .map(|pad| pad.label.as_str())
            .filter(|name| !name.is_empty())
            .collect();
        format!(
            "Board of {} mm by {} mm, pads: {}",
            self.size_mm[0],
            self.size_mm[1],
            names.join(", ")
        )
    }
}

/// Where the name of a piece may stand: in its middle, a line above or below, in its corners, outside.
fn places(corners: &[Point]) -> Vec<(Point, Anchor)> {
    let ends = |axis: usize| {
        let along = corners.iter().map(|corner| corner[axis]);
        let start = (f64::INFINITY, f64::NEG_INFINITY);
        along.fold(start, |(low, high), at| (low.min(at), high.max(at)))
    };
    let count = corners.len().max(1) as f64;
    let [x, y] = [0, 1].map(|axis| corners.iter().map(|c| c[axis]).sum::<f64>() / count);
    let ((left, right), (top, bottom)) = (ends(0), ends(1));
    let line = 1.35 * LABEL_SIZE;
    let middle = y + 0.5 * font::CAPITAL_HEIGHT * LABEL_SIZE;
    let (below_top, above_bottom) = (top + LABEL_SIZE + 2.0, bottom - 5.0);
    vec![
        ([x, middle], Anchor::Middle),
        ([x, middle - line], Anchor::Middle),
        ([x, middle + line], Anchor::Middle),
        ([left + 4.0, below_top], Anchor::Start),
        ([right - 4.0, below_top], Anchor::End),
        ([left + 4.0, above_bottom], Anchor::Start),
        ([right - 4.0, above_bottom], Anchor::End),
        ([x, bottom + LABEL_SIZE + 2.0], Anchor::Middle),
        ([x, top - 5.0], Anchor::Middle),
    ]
}

fn draw(pen: &mut Pen, piece: &BoardPiece, scale: &Scale) {
    let mut corners: Vec<Point> = piece
        .corners_mm
        .iter()
        .map(|corner| scale.place(*corner))
        .collect();
    let (fill, opacity, rim, _) = piece.look.style();
    pen.area(&corners, fill, opacity);
    if let Some(first) = corners.first().copied() {
        corners.push(first);
    }
    pen.line(&corners, rim, 0.7)
}

/// A bar of 10 mm, or of 1 or 100 where that would be too long or too short.
pub(super) fn scale_bar(canvas: &mut Canvas, per_mm: f64, [x, y]: Point) {
    let length = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0]
        .into_iter()
        .find(|mm| mm * per_mm >= 40.0)
        .unwrap_or(200.0);
    let end = x + length * per_mm;
    canvas.group("scale", &[], |pen| {
        pen.line(&[[x, y], [end, y]], colour::INK, 1.6);
        pen.line(&[[x, y - 4.0], [x, y + 4.0]], colour::INK, 1.6);
        pen.line(&[[end, y - 4.0], [end, y + 4.0]], colour::INK, 1.6)
    });
    canvas.text(&Text::new(
        "scale",
        &format!("{length} mm"),
        [end + 8.0, y + 0.36 * LABEL_SIZE],
        Anchor::Start,
        LABEL_SIZE,
    ));
}
