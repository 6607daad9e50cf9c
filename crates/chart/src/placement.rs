//! Labels inside a plot: each goes where it hides least.

use crate::canvas::{Anchor, Canvas, Point, Rect, Text};
use crate::colour;
use crate::font::{self, LABEL_SIZE};

/// Distance at which a line is sampled to see what a label would hide.
const STEP: f64 = 4.0;

/// Knows what has been drawn in a plot and finds room for labels.
pub struct Placer {
    frame: Rect,
    ink: Vec<Point>,
    taken: Vec<Rect>,
}

/// Where a label may go, and what it hides there.
struct Spot {
    at: Point,
    anchor: Anchor,
    area: Rect,
    hidden: f64,
}

impl Placer {
    /// Knows of nothing drawn in the frame yet.
    pub fn new(frame: Rect) -> Self {
        Self {
            frame,
            ink: Vec::new(),
            taken: Vec::new(),
        }
    }

    /// Remembers a line that labels should not hide.
    pub fn add_line(&mut self, points: &[Point]) {
        self.ink.extend(points.first());
        for pair in points.windows(2) {
            let (dx, dy) = (pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
            let steps = (dx.hypot(dy) / STEP).ceil().min(1000.0) as usize;
            for step in 1..=steps {
                let t = step as f64 / steps as f64;
                self.ink.push([pair[0][0] + t * dx, pair[0][1] + t * dy]);
            }
        }
    }

    /// Remembers an area no other label may cover.
    pub fn take(&mut self, area: Rect) {
        self.taken.push(area);
    }

    /// Writes the text at the best of the given baselines, which come in order of preference.
    pub fn write(
        &mut self,
        canvas: &mut Canvas,
        class: &str,
        text: &str,
        candidates: &[(Point, Anchor)],
    ) {
        if let Some(spot) = self.best(text, candidates) {
            self.put(canvas, class, text, &spot);
        }
    }

    /// Takes the best of the given baselines for a text that the caller writes; none without any.
    pub fn place(&mut self, text: &str, candidates: &[(Point, Anchor)]) -> Option<(Point, Anchor)> {
        let spot = self.best(text, candidates)?;
        self.taken.push(spot.area);
        Some((spot.at, spot.anchor))
    }

    /// As [`Placer::write`], but writes nothing where every place hides too much.
    pub fn write_if_room(
        &mut self,
        canvas: &mut Canvas,
        class: &str,
        text: &str,
        candidates: &[(Point, Anchor)],
    ) {
        const MOST_HIDDEN: f64 = 6.0;
        if let Some(spot) = self.best(text, candidates)
            && spot.hidden <= MOST_HIDDEN
        {
            self.put(canvas, class, text, &spot);
        }
    }

    /// As [`Placer::write_on_plate`], but writes nothing where every place covers another label.
    pub fn write_on_free_plate(
        &mut self,
        canvas: &mut Canvas,
        class: &str,
        text: &str,
        candidates: &[(Point, Anchor)],
    ) {
        let free: Vec<(Point, Anchor)> = candidates
            .iter()
            .copied()
            .filter(|&(at, anchor)| {
                let area = covered(self.moved_inside(at, anchor, text), anchor, text);
                self.taken.iter().all(|other| common(area, *other) == 0.0)
            })
            .collect();
        self.write_on_plate(canvas, class, text, &free)
    }

    /// As [`Placer::write`], on a white plate that keeps it readable on top of a picture.
    pub fn write_on_plate(
        &mut self,
        canvas: &mut Canvas,
        class: &str,
        text: &str,
        candidates: &[(Point, Anchor)],
    ) {
        if let Some(spot) = self.best(text, candidates) {
            let Rect { left, right, .. } = spot.area;
            let plate = Rect {
                left: left - 2.0,
                right: right + 2.0,
                ..spot.area
            };
            canvas.group("plate", &[], |pen| pen.fill(plate, colour::PAPER, 0.88));
            self.put(canvas, class, text, &spot);
        }
    }

    fn best(&self, text: &str, candidates: &[(Point, Anchor)]) -> Option<Spot> {
        let mut best: Option<(f64, Spot)> = None;
        for (rank, &(at, anchor)) in candidates.iter().enumerate() {
            let at = self.moved_inside(at, anchor, text);
            let area = covered(at, anchor, text);
            let ink = self.ink.iter().filter(|p| area.contains(**p)).count() as f64;
            let overlap: f64 = self.taken.iter().map(|other| common(area, *other)).sum();
            let hidden = ink + 2.0 * overlap;
            let cost = hidden + 0.5 * rank as f64;
            if best.as_ref().is_none_or(|(least, _)| cost < *least) {
                let spot = Spot {
                    at,
                    anchor,
                    area,
                    hidden,
                };
                best = Some((cost, spot));
            }
        }
        best.map(|(_, spot)| spot)
    }

    fn put(&mut self, canvas: &mut Canvas, class: &str, text: &str, spot: &Spot) {
        canvas.text(&Text {
            halo: true,
            ..Text::new(class, text, spot.at, spot.anchor, LABEL_SIZE)
        });
        self.taken.push(spot.area);
    }

    /// The baseline moved so that the text stays inside the frame, where it fits at all.
    fn moved_inside(&self, [x, y]: Point, anchor: Anchor, text: &str) -> Point {
        const AIR: f64 = 4.0;
        let area = covered([x, y], anchor, text);
        let mut shift = 0.0_f64;
        if area.right > self.frame.right - AIR {
            shift = self.frame.right - AIR - area.right;
        }
        if area.left + shift < self.frame.left + AIR {
            shift = self.frame.left + AIR - area.left;
        }
        let mut drop = 0.0_f64;
        if area.top < self.frame.top + AIR {
            drop = self.frame.top + AIR - area.top;
        }
        if area.bottom > self.frame.bottom - AIR {
            drop = self.frame.bottom - AIR - area.bottom;
        }
        [x + shift, y + drop]
    }
}

/// The area a label covers.
fn covered([x, y]: Point, anchor: Anchor, text: &str) -> Rect {
    let width = font::width(text, LABEL_SIZE);
    let left = match anchor {
        Anchor::Start => x,
        Anchor::Middle => x - 0.5 * width,
        Anchor::End => x - width,
    };
    Rect {
        left: left - 2.0,
        top: y - 0.85 * LABEL_SIZE,
        right: left + width + 2.0,
        bottom: y + 0.3 * LABEL_SIZE,
    }
}

/// Area two rectangles share.
fn common(a: Rect, b: Rect) -> f64 {
    let width = a.right.min(b.right) - a.left.max(b.left);
    let height = a.bottom.min(b.bottom) - a.top.max(b.top);
    if width > 0.0 && height > 0.0 {
        width * height
    } else {
        0.0
    }
}
