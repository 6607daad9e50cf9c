//! Sliders and wheels: pads that are segments of one control, interleaved where they meet.

use super::{Origin, Outline, Sourced};
use padfield_engine::units::Length;

/// A control of several pads whose shifts together tell a position.
#[derive(Clone, Debug, PartialEq)]
pub struct Slider {
    /// Pad group; its pads are the segments in order.
    pub group: String,
    pub course: Course,
    /// Middle x, y.
    pub centre: [Length; 2],
    /// What it is judged by.
    pub limits: SliderLimits,
}

/// Limits of the position that a slider tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SliderLimits {
    /// Largest distance between the position told and the true one.
    pub deviation: Sourced<Length>,
    /// How far the total of all segments may fall below its largest value, relative.
    pub ripple: Sourced<f64>,
    /// Longest stretch at either end where the position told hardly moves.
    pub dead_zone: Sourced<Length>,
}

impl Default for SliderLimits {
    /// 1.5 mm, 20 %, 2 mm: common practice, no source.
    fn default() -> Self {
        Self {
            deviation: default(Length::from_mm(1.5)),
            ripple: default(0.2),
            dead_zone: default(Length::from_mm(2.0)),
        }
    }
}

const fn default<T>(value: T) -> Sourced<T> {
    Sourced {
        value,
        origin: Origin::Default,
    }
}

/// What a finger moves along.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Course {
    /// Along x, from left to right.
    Straight {
        /// Distance of neighbouring segments.
        pitch: Length,
    },
    /// Counter-clockwise from the x axis, about the middle.
    Round {
        /// Radius of the middle of the ring.
        radius: Length,
    },
}

/// Segments of a straight slider about 0, 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StraightSegments {
    pub count: usize,
    /// Distance of neighbouring segments.
    pub pitch: Length,
    /// Extent along y.
    pub height: Length,
    /// How far neighbouring segments reach into each other, tip to tip.
    pub overlap: Length,
    /// Teeth of every boundary.
    pub teeth: usize,
    /// Distance between neighbouring segments, across the boundary.
    pub gap: Length,
    /// Whether the first and the last segment have half a pitch.
    pub has_half_ends: bool,
}

impl StraightSegments {
    /// Corners of every segment, counter-clockwise from the lower left.
    pub fn outlines(&self) -> Vec<Outline> {
        let pitch = self.pitch.metres();
        let half_count = self.count as f64 / 2.0;
        let full_end = half_count * pitch;
        let end = match self.has_half_ends {
            true => full_end - 0.5 * pitch,
            false => full_end,
        };
        let boundary = |index: usize, side: f64| -> Vec<[f64; 2]> {
            if index == 0 || index == self.count {
                let x = if index == 0 { -end } else { end };
                let y = self.height.metres() / 2.0;
                return vec![[x, -y], [x, y]];
            }
            let middle = (index as f64 - half_count) * pitch;
            self.zigzag()
                .into_iter()
                .map(|[x, y]| [middle + x + side * self.half_gap_along_x(), y])
                .collect()
        };
        let mut outlines = Vec::with_capacity(self.count);
        for segment in 0..self.count {
            let mut corners = boundary(segment + 1, -1.0);
            corners.extend(boundary(segment, 1.0).into_iter().rev());
            outlines.push(Outline::Polygon {
                corners: corners.into_iter().map(to_lengths).collect(),
            });
        }
        outlines
    }

    /// Where a finger on each segment is aimed: its middle along the slider.
    pub fn centres(&self) -> Vec<[Length; 2]> {
        let half_count = self.count as f64 / 2.0;
        (0..self.count)
            .map(|segment| {
                let mut edges = [
                    segment as f64 - half_count,
                    (segment + 1) as f64 - half_count,
                ];
                if self.has_half_ends {
                    // The outer edges have come in by half a pitch.
                    edges = edges.map(|at| at.clamp(0.5 - half_count, half_count - 0.5));
                }
                [
                    self.pitch * (0.5 * (edges[0] + edges[1])),
                    Length::default(),
                ]
            })
            .collect()
    }

    /// A boundary from bottom to top about x = 0: `teeth` triangles.
    fn zigzag(&self) -> Vec<[f64; 2]> {
        let height = self.height.metres();
        let steps = 2 * self.teeth;
        let reach = self.overlap.metres() / 2.0;
        if reach <= 0.0 {
            return vec![[0.0, -height / 2.0], [0.0, height / 2.0]];
        }
        (0..=steps)
            .map(|step| {
                let x = if step % 2 == 0 { -reach } else { reach };
                [x, height * (step as f64 / steps as f64 - 0.5)]
            })
            .collect()
    }

    fn half_gap_along_x(&self) -> f64 {
        let rise = self.height.metres() / (2 * self.teeth) as f64;
        let slope = self.overlap.metres() / rise;
        self.gap.metres() / 2.0 * slope.hypot(1.0)
    }
}

/// Segments of a wheel about 0, 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WheelSegments {
    pub count: usize,
    /// Outer diameter.
    pub diameter: Length,
    pub inner_diameter: Length,
    /// How far neighbouring segments reach into each other along the middle of the ring, tip to tip.
    pub overlap: Length,
    /// Teeth of every boundary.
    pub teeth: usize,
    /// Distance between neighbouring segments along the ring's middle.
    pub gap: Length,
}

/// Chords a full turn of a wheel's edges is divided into.
const CHORDS: usize = 96;

impl WheelSegments {
    /// Radius of the middle of the ring.
    pub fn radius(&self) -> Length {
        (self.diameter + self.inner_diameter) * 0.25
    }

    /// Where a finger on each segment is aimed: its middle on the middle of the ring.
    pub fn centres(&self) -> Vec<[Length; 2]> {
        let turn = std::f64::consts::TAU / self.count as f64;
        (0..self.count)
            .map(|segment| {
                let angle = turn * segment as f64;
                [self.radius() * angle.cos(), self.radius() * angle.sin()]
            })
            .collect()
    }

    /// Corners of every segment; the middle of the first is on the x axis, the others follow
    /// counter-clockwise.
    pub fn outlines(&self) -> Vec<Outline> {
        let turn = std::f64::consts::TAU / self.count as f64;
        let [outer, inner] = [self.diameter, self.inner_diameter].map(|d| d.metres() / 2.0);
        let middle = self.radius().metres();
        let reach = self.overlap.metres() / 2.0 / middle;
        let half_gap = self.gap.metres() / 2.0 / middle;
        let steps = 2 * self.teeth;
        let boundary = |at: f64, side: f64| -> Vec<[f64; 2]> {
            (0..=steps)
                .map(|step| {
                    let radius = inner + (outer - inner) * step as f64 / steps as f64;
                    let lean = if step % 2 == 0 { -reach } else { reach };
                    [radius, at + lean + side * half_gap]
                })
                .collect()
        };
        (0..self.count)
            .map(|segment| {
                let start = turn * (segment as f64 - 0.5);
                let first = boundary(start, 1.0);
                let second = boundary(start + turn, -1.0);
                let mut polar = first.clone();
                polar.extend(arc(outer, first[steps][1], second[steps][1]));
                polar.extend(second.iter().rev());
                polar.extend(arc(inner, second[0][1], first[0][1]));
                let corners = polar.into_iter().map(|[radius, angle]| {
                    to_lengths([radius * angle.cos(), radius * angle.sin()])
                });
                Outline::Polygon {
                    corners: corners.collect(),
                }
            })
            .collect()
    }
}

/// Points between both ends of an arc, without them.
fn arc(radius: f64, from: f64, to: f64) -> Vec<[f64; 2]> {
    let chord = std::f64::consts::TAU / CHORDS as f64;
    let steps = ((to - from).abs() / chord).ceil().max(1.0) as usize;
    (1..steps)
        .map(|step| [radius, from + (to - from) * step as f64 / steps as f64])
        .collect()
}

fn to_lengths(corner: [f64; 2]) -> [Length; 2] {
    corner.map(Length::from_metres)
}
