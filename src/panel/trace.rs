//! Traces that are drawn: where they run, and what they belong to.

use super::Pad;
use super::metal::Connection;
use super::outline::{Rectangle, contains, pad_polygons};
use padfield_engine::units::Length;

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
    pub name: String,
    pub net: TraceNet,
    /// Index into [`Panel::layers`](super::Panel::layers); a copper layer.
    pub layer: usize,
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

    /// Length of the middle line that lies outside of the copper of a pad: beneath or above it, and within it,
    /// a trace adds next to nothing to its own pad.
    pub fn length_outside(&self, pad: &Pad) -> Length {
        let outline = pad_polygons(pad);
        let pieces = self.path.windows(2).map(|ends| {
            let [from, to] = [ends[0], ends[1]].map(|end| end.map(Length::metres));
            let at = |share: f64| [0, 1].map(|axis| from[axis] + share * (to[axis] - from[axis]));
            let mut shares = crossings(&outline, from, to);
            shares.extend([0.0, 1.0]);
            shares.sort_by(f64::total_cmp);
            let outside = shares.windows(2).filter(|pair| {
                let middle = at(0.5 * (pair[0] + pair[1]));
                !contains(&outline, middle)
            });
            let share: f64 = outside.map(|pair| pair[1] - pair[0]).sum();
            share * (to[0] - from[0]).hypot(to[1] - from[1])
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

/// Where the stretch from one point to another meets the edges of an outline, as shares of the stretch.
fn crossings(outline: &[Vec<[f64; 2]>], from: [f64; 2], to: [f64; 2]) -> Vec<f64> {
    let run = [to[0] - from[0], to[1] - from[1]];
    let cross = |a: [f64; 2], b: [f64; 2]| a[0] * b[1] - a[1] * b[0];
    let edges = outline.iter().flat_map(|polygon| {
        let next = polygon.iter().cycle().skip(1);
        polygon.iter().zip(next)
    });
    edges
        .filter_map(|(start, end)| {
            let edge = [end[0] - start[0], end[1] - start[1]];
            let apart = [start[0] - from[0], start[1] - from[1]];
            let turn = cross(run, edge);
            let (along, on_edge) = (cross(apart, edge) / turn, cross(apart, run) / turn);
            let is_met = (0.0..=1.0).contains(&along) && (0.0..=1.0).contains(&on_edge);
            (turn != 0.0 && is_met).then_some(along)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::sample::{mm, square_pad};
    use super::*;

    fn trace(path: &[[f64; 2]]) -> Trace {
        Trace {
            name: "t".to_owned(),
            net: TraceNet::Pad("pad".to_owned()),
            layer: 4,
            width: mm(0.2),
            path: path.iter().map(|corner| corner.map(mm)).collect(),
            keepout: mm(0.2),
            via: mm(0.2),
        }
    }

    #[test]
    fn only_what_lies_outside_the_pad_counts() {
        // A square of 12 mm about 1, 2: its right edge is at 7 mm, its upper one at 8 mm.
        let mut pad = square_pad("pad", 12.0, 1.0, 2.0);
        let outside = |path: &[[f64; 2]], pad: &Pad| trace(path).length_outside(pad).mm();
        let near = |value: f64, wanted: f64| assert!((value - wanted).abs() < 1e-9, "{value}");
        near(outside(&[[1.0, 2.0], [20.0, 2.0]], &pad), 13.0);
        // Out, around the corner, and on: 3 mm, 9 mm, 10 mm.
        let bent = [[5.0, 0.0], [10.0, 0.0], [10.0, 9.0], [0.0, 9.0]];
        near(outside(&bent, &pad), 22.0);
        near(trace(&bent).length().mm(), 24.0);
        // Out and back under it.
        let back = [[1.0, 2.0], [9.0, 2.0], [9.0, 5.0], [1.0, 5.0]];
        near(outside(&back, &pad), 2.0 + 3.0 + 2.0);
        // Along y through the hole of a pad, which is no copper: 4 mm of 6 in it.
        pad.hole = Some(mm(4.0));
        let through = outside(&[[1.0, -4.0], [1.0, 8.0]], &pad);
        assert!((through - 4.0).abs() < 0.02, "{through}");
    }
}
