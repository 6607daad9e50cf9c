//! Traces that are drawn: where they run, and what they belong to.

use super::metal::Connection;
use super::outline::Rectangle;
use crate::units::Length;

/// What a trace belongs to.
#[derive(Clone, Debug, PartialEq)]
pub enum TraceNet {
    /// The pad of that name: a part of its conductor.
    Pad(String),
    /// A conductor of its own: a signal, a lead, a foreign line.
    Own(Connection),
}

/// A trace along x and y on one copper layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// Name.
    pub name: String,
    /// What it belongs to.
    pub net: TraceNet,
    /// Index into [`Panel::layers`](super::Panel::layers); a copper layer.
    pub layer: usize,
    /// Width.
    pub width: Length,
    /// Corners x, y of its middle line; every piece runs along x or along y.
    pub path: Vec<[Length; 2]>,
    /// Width of the strip around it that ground and guards of its layer keep free.
    pub keepout: Length,
    /// Side of the square via from its first corner to its pad; used when the pad is on another layer.
    pub via: Length,
}

impl Trace {
    /// Length of the middle line.
    pub fn length(&self) -> Length {
        let pieces = self.path.windows(2).map(|ends| {
            let [x, y] = [0, 1].map(|axis| (ends[1][axis] - ends[0][axis]).metres());
            x.hypot(y)
        });
        Length::from_metres(pieces.sum())
    }

    /// Outlines of its pieces \[m\]; they overlap at the corners.
    pub fn strips(&self) -> Vec<Rectangle> {
        self.widened(self.width)
    }

    /// Outlines that ground and guards of its layer keep free \[m\].
    pub fn keepout_strips(&self) -> Vec<Rectangle> {
        self.widened(self.keepout)
    }

    /// Outline of the via \[m\].
    pub fn via_outline(&self) -> Rectangle {
        let half = self.via.metres() / 2.0;
        let at = self.path[0].map(Length::metres);
        [at.map(|c| c - half), at.map(|c| c + half)]
    }

    /// Points along its middle line, at most `step` apart, the corners among them \[m\], each with the axis
    /// its piece runs along.
    pub fn points(&self, step: Length) -> Vec<([f64; 2], usize)> {
        let mut points = Vec::new();
        for ends in self.path.windows(2) {
            let [from, to] = [ends[0], ends[1]].map(|end| end.map(Length::metres));
            let run = [0, 1].map(|axis| to[axis] - from[axis]);
            let axis = usize::from(run[1].abs() > run[0].abs());
            let steps = (run[0].hypot(run[1]) / step.metres()).ceil().max(1.0) as usize;
            points.extend((0..=steps).map(|number| {
                let share = number as f64 / steps as f64;
                ([0, 1].map(|a| from[a] + share * run[a]), axis)
            }));
        }
        points
    }

    fn widened(&self, width: Length) -> Vec<Rectangle> {
        let half = width.metres() / 2.0;
        let pieces = self.path.windows(2).map(|ends| {
            let [from, to] = [ends[0], ends[1]].map(|end| end.map(Length::metres));
            let edge = |axis: usize, side: f64| match side < 0.0 {
                true => from[axis].min(to[axis]) - half,
                false => from[axis].max(to[axis]) + half,
            };
            [[edge(0, -1.0), edge(1, -1.0)], [edge(0, 1.0), edge(1, 1.0)]]
        });
        pieces.collect()
    }
}
