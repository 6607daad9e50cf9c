//! How the pads of a group are placed, as the file says it: columns, rows and the gaps between them.
//!
//! Whatever runs in a gap or asks for the nearest pad takes it from here; outlines and boxes of pads do
//! not tell it again.

use super::Panel;
use super::outline::Rectangle;
use padfield_engine::units::Length;
use std::ops::Range;

/// How the pads of a group stand to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum GroupLayout {
    /// One pad.
    Single,
    /// Columns side by side, rows one below the other; one of the two may be 1.
    Grid {
        /// Pads side by side.
        columns: usize,
        /// Pads one below the other.
        rows: usize,
        /// Distance along x and y between the edges of neighbouring pads.
        gap: [Length; 2],
    },
    /// Segments of a slider or a wheel: one control, nothing runs between them.
    Segments {
        /// Distance between neighbouring segments.
        gap: Length,
    },
}

/// Pads that were drawn together.
#[derive(Clone, Debug, PartialEq)]
pub struct PadGroup {
    pub name: String,
    /// Indices into [`Panel::pads`]: row by row from the top left, segments in their order.
    pub members: Range<usize>,
    pub layout: GroupLayout,
    /// Middle x, y of the whole group.
    pub centre: [Length; 2],
    /// Lower left and upper right corner of one pad about its own centre; of all segments together
    /// about the group's.
    pub pad_box: [[Length; 2]; 2],
}

impl PadGroup {
    /// Pads side by side; segments count as one.
    pub fn columns(&self) -> usize {
        match self.layout {
            GroupLayout::Grid { columns, .. } => columns,
            GroupLayout::Single | GroupLayout::Segments { .. } => 1,
        }
    }

    /// Pads one below the other; segments count as one.
    pub fn rows(&self) -> usize {
        match self.layout {
            GroupLayout::Grid { rows, .. } => rows,
            GroupLayout::Single | GroupLayout::Segments { .. } => 1,
        }
    }

    /// Whether pads of it stand beside each other with a gap that something may run in.
    pub fn has_gaps(&self) -> bool {
        self.columns() * self.rows() > 1
    }

    /// Distance along x and y between the edges of neighbouring pads; none along an axis without
    /// neighbours.
    pub fn gap(&self) -> [Option<Length>; 2] {
        let counts = self.counts();
        let GroupLayout::Grid { gap, .. } = self.layout else {
            return [None; 2];
        };
        [0, 1].map(|axis| (counts[axis] > 1).then_some(gap[axis]))
    }

    /// The smallest distance between neighbours, segments among them; none for a single pad.
    pub fn least_gap(&self) -> Option<Length> {
        if let GroupLayout::Segments { gap } = self.layout {
            return Some(gap);
        }
        let gaps = self.gap().into_iter().flatten();
        gaps.min_by(|a, b| a.metres().total_cmp(&b.metres()))
    }

    /// Distance along x and y between the centres of neighbouring pads; zero without a grid.
    pub fn pitch(&self) -> [Length; 2] {
        let GroupLayout::Grid { gap, .. } = self.layout else {
            return [Length::default(); 2];
        };
        let [low, high] = self.pad_box;
        [0, 1].map(|axis| high[axis] - low[axis] + gap[axis])
    }

    /// Centre of a pad of a grid by its place in [`PadGroup::members`]; the group's own otherwise.
    pub fn pad_centre(&self, place: usize) -> [Length; 2] {
        let columns = self.columns();
        let pitch = self.pitch();
        [
            self.centre[0] + pitch[0] * self.steps_from_middle(0, place % columns),
            self.centre[1] - pitch[1] * self.steps_from_middle(1, place / columns),
        ]
    }

    /// Corners of the box around all pads \[m\].
    pub fn extent(&self) -> Rectangle {
        let last = self.counts().map(|count| count - 1);
        let [low, high] = self.pad_box;
        [
            [0, 1].map(|axis| (self.line(axis, 0) + low[axis]).metres()),
            [0, 1].map(|axis| (self.line(axis, last[axis]) + high[axis]).metres()),
        ]
    }

    /// Strips \[m\] in the middle of every gap: one upright per gap between columns, as tall as all the
    /// pads together, then one level per gap between rows, as wide as all the pads together. `width_m`
    /// tells the width of a strip from that of its gap; without width there is no strip.
    pub fn gap_strips(&self, width_m: impl Fn(f64) -> f64) -> Vec<Rectangle> {
        let counts = self.counts();
        let [low, high] = self.pad_box;
        let mut strips = Vec::new();
        for axis in 0..2 {
            for index in 1..counts[axis] {
                let from = (self.line(axis, index - 1) + high[axis]).metres();
                let to = (self.line(axis, index) + low[axis]).metres();
                let middle = (from + to) / 2.0;
                let half = width_m(to - from) / 2.0;
                if half > 0.0 {
                    let mut strip = self.extent();
                    strip[0][axis] = middle - half;
                    strip[1][axis] = middle + half;
                    strips.push(strip);
                }
            }
        }
        strips
    }

    /// Pads of a grid that stand beside each other, in order, each pair with its gap.
    pub fn neighbours(&self) -> Vec<([usize; 2], Length)> {
        let [columns, rows] = self.counts();
        let gap = self.gap();
        let mut pairs = Vec::new();
        for place in 0..columns * rows {
            let own = self.members.start + place;
            if let (Some(gap), true) = (gap[0], place % columns + 1 < columns) {
                pairs.push(([own, own + 1], gap));
            }
            if let (Some(gap), true) = (gap[1], place / columns + 1 < rows) {
                pairs.push(([own, own + columns], gap));
            }
        }
        pairs
    }

    /// The same centres with pads of another box: what the pads grow by, the gaps lose.
    #[must_use]
    pub fn with_pad_box(&self, pad_box: [[Length; 2]; 2]) -> Self {
        let mut changed = self.clone();
        changed.pad_box = pad_box;
        if let GroupLayout::Grid { gap, .. } = &mut changed.layout {
            let [low, high] = pad_box;
            let pitch = self.pitch();
            *gap = [0, 1].map(|axis| pitch[axis] - (high[axis] - low[axis]));
        }
        changed
    }

    fn counts(&self) -> [usize; 2] {
        [self.columns(), self.rows()]
    }

    /// Places from the middle of so many.
    fn steps_from_middle(&self, axis: usize, place: usize) -> f64 {
        place as f64 - (self.counts()[axis] as f64 - 1.0) / 2.0
    }

    /// Centres of a column, or of a row counted upwards.
    fn line(&self, axis: usize, index: usize) -> Length {
        self.centre[axis] + self.pitch()[axis] * self.steps_from_middle(axis, index)
    }
}

impl Panel {
    /// The pad group of a name.
    pub fn group(&self, name: &str) -> Option<&PadGroup> {
        self.groups.iter().find(|group| group.name == name)
    }
}

/// The gap strips of the group of a name; none without such a group.
pub(super) fn strips_between(
    groups: &[PadGroup],
    name: &str,
    width_m: impl Fn(f64) -> f64,
) -> Vec<Rectangle> {
    let group = groups.iter().find(|group| group.name == name);
    group.map_or_else(Vec::new, |group| group.gap_strips(width_m))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(value: f64) -> Length {
        Length::from_mm(value)
    }

    fn grid(columns: usize, rows: usize, gap: [f64; 2]) -> PadGroup {
        PadGroup {
            name: "keys".to_owned(),
            members: 3..3 + columns * rows,
            layout: GroupLayout::Grid {
                columns,
                rows,
                gap: gap.map(mm),
            },
            centre: [mm(0.0); 2],
            pad_box: [[mm(-7.5); 2], [mm(7.5); 2]],
        }
    }

    fn assert_near(strip: Rectangle, expected: Rectangle) {
        let both = strip.iter().flatten().zip(expected.iter().flatten());
        for (got, expected) in both {
            approx::assert_abs_diff_eq!(got * 1e3, *expected, epsilon = 1e-9);
        }
    }

    #[test]
    fn strips_run_in_the_middle_of_every_gap() {
        let strips = grid(2, 2, [8.0; 2]).gap_strips(|_| 1e-3);
        assert_eq!(strips.len(), 2);
        assert_near(strips[0], [[-0.5, -19.0], [0.5, 19.0]]);
        assert_near(strips[1], [[-19.0, -0.5], [19.0, 0.5]]);
        // Three columns of one row with pads that are not about their centre: the strips follow the boxes.
        let mut row = grid(3, 1, [2.0, 0.0]);
        row.pad_box = [[mm(-2.0), mm(-1.0)], [mm(6.0), mm(1.0)]];
        let strips = row.gap_strips(|gap_m| gap_m - 1e-3);
        assert_eq!(strips.len(), 2);
        // Centres at -10, 0, 10: gaps from -4 to -2 and from 6 to 8.
        assert_near(strips[0], [[-3.5, -1.0], [-2.5, 1.0]]);
        assert_near(strips[1], [[6.5, -1.0], [7.5, 1.0]]);
        assert!(row.gap_strips(|_| 0.0).is_empty());
    }

    #[test]
    fn neighbours_stand_beside_each_other_and_nowhere_else() {
        let group = grid(3, 2, [8.0, 5.0]);
        let pairs: Vec<[usize; 2]> = group
            .neighbours()
            .into_iter()
            .map(|(pair, _)| pair)
            .collect();
        assert_eq!(
            pairs,
            [[3, 4], [3, 6], [4, 5], [4, 7], [5, 8], [6, 7], [7, 8]]
        );
        assert_eq!(group.least_gap(), Some(mm(5.0)));
        let column = grid(1, 3, [0.0, 5.0]);
        assert_eq!(column.gap(), [None, Some(mm(5.0))]);
        assert_eq!(column.least_gap(), Some(mm(5.0)));
        let wider = group.with_pad_box([[mm(-8.5), mm(-7.5)], [mm(8.5), mm(7.5)]]);
        assert!((wider.least_gap().map_or(0.0, Length::mm) - 5.0).abs() < 1e-9);
        assert!((wider.gap()[0].map_or(0.0, Length::mm) - 6.0).abs() < 1e-9);
        let single = PadGroup {
            layout: GroupLayout::Single,
            members: 0..1,
            ..group
        };
        assert!(!single.has_gaps() && single.least_gap().is_none());
        assert_near(single.extent(), [[-7.5; 2], [7.5; 2]]);
        assert!(single.neighbours().is_empty() && single.gap_strips(|_| 1.0).is_empty());
    }
}
