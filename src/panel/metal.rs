//! Metal that is no pad: what it is connected to, frames on the touched face, objects near the panel.

use super::outline::Rectangle;
use padfield_engine::units::Length;

/// What a piece of metal that is no pad is connected to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Connection {
    /// Held at 0 V.
    Grounded,
    /// Connected to nothing.
    Floating,
    /// Driven with `gain` times the potential of the pad that is measured.
    Driven {
        /// 1 for a perfect follower.
        gain: f64,
    },
    /// Touched by the other hand of the user: at the potential of the finger, with or without it.
    Body,
}

/// A metal frame on the touched face.
#[derive(Clone, Debug, PartialEq)]
pub struct Bezel {
    pub name: String,
    /// Clear opening along x and y.
    pub opening: [Length; 2],
    /// Middle of the opening x, y.
    pub centre: [Length; 2],
    /// Width of the frame around the opening.
    pub width: Length,
    /// Height above the touched face.
    pub height: Length,
    pub connection: Connection,
}

impl Bezel {
    /// Its four sides \[m\]: left and right over the whole height, bottom and top between them.
    pub fn sides(&self) -> [Rectangle; 4] {
        frame(rectangle(self.opening, self.centre), self.width.metres())
    }
}

/// Side of the panel an object is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ObjectSide {
    /// Behind the last layer.
    Behind,
    /// In front of the touched face.
    Before,
}

/// A flat metal object near the panel: chassis, battery, display, a part that moves.
#[derive(Clone, Debug, PartialEq)]
pub struct MetalObject {
    pub name: String,
    /// Extent along x and y.
    pub size: [Length; 2],
    /// Middle x, y.
    pub centre: [Length; 2],
    /// Extent away from the panel.
    pub thickness: Length,
    pub side: ObjectSide,
    /// Distance from the panel; more than zero.
    pub distance: Length,
    pub connection: Connection,
    /// Whether it may be gone at times.
    pub moves: bool,
}

impl MetalObject {
    /// Its outline \[m\].
    pub fn outline(&self) -> Rectangle {
        rectangle(self.size, self.centre)
    }
}

/// A rectangle of that size about that middle \[m\].
pub fn rectangle(size: [Length; 2], centre: [Length; 2]) -> Rectangle {
    let edge = |side: f64| [0, 1].map(|axis| (centre[axis] + size[axis] * (0.5 * side)).metres());
    [edge(-1.0), edge(1.0)]
}

/// A frame of that width around a rectangle \[m\]: left and right over the whole height, bottom and top
/// between them.
pub(super) fn frame([low, high]: Rectangle, width_m: f64) -> [Rectangle; 4] {
    let (outer_low, outer_high) = (low.map(|at| at - width_m), high.map(|at| at + width_m));
    [
        [outer_low, [low[0], outer_high[1]]],
        [[high[0], outer_low[1]], outer_high],
        [[low[0], outer_low[1]], [high[0], low[1]]],
        [[low[0], high[1]], [high[0], outer_high[1]]],
    ]
}
