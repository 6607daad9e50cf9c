//! One graded grid axis.

use crate::stop::Stop;

/// A coordinate the grid must pass through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Line {
    /// Coordinate \[m\].
    pub at_m: f64,
    /// Whether the field is singular there: a conductor ends or lies there.
    pub singular: bool,
    /// Distance from a singular line within which the field no longer grows \[m\]: 0 at a conductor,
    /// the depth of a screen where something is cut out of it.
    pub blunt_m: f64,
    /// Limit of the distance within which the field grows towards a singular line \[m\]: what gaps between conductors in
    /// this level ask for; infinite where there are none.
    pub room_m: f64,
}

/// Nodes of one axis, graded towards the singular lines.
#[derive(Clone, Debug, PartialEq)]
pub struct Axis {
    /// Node coordinates, strictly increasing \[m\].
    pub nodes_m: Vec<f64>,
    /// Node index of every forced line, increasing; first and last are the ends of the axis.
    pub lines: Vec<usize>,
    /// Importance of each node: 2 singular line, 1 other forced line, 0 plain.
    pub rank: Vec<u8>,
}

/// A stretch of the axis with its own largest cell size: across round outlines.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Zone {
    pub low_m: f64,
    pub high_m: f64,
    pub largest_cell_m: f64,
    /// Largest cell size outside, in distances from the zone over the fineness; a singular line asks
    /// for 1.
    pub growth: f64,
}

impl Zone {
    /// Cells per length that the zone asks for, inside and, less and less, outside.
    fn density(&self, x: f64, fineness: f64) -> f64 {
        let outside = (self.low_m - x).max(x - self.high_m).max(0.0);
        1.0 / self.largest_cell_m.max(self.growth * outside / fineness)
    }
}

/// Limits of the local length of a singular line [m]: half the distance to the nearest other one,
/// but neither so short that thin copper costs layers of cells nobody needs nor so long that the
/// edge of a lone conductor is missed.
const SHORTEST_LOCAL_LENGTH_M: f64 = 0.15e-3;
const LONGEST_LOCAL_LENGTH_M: f64 = 3e-3;
/// In cases smaller than a panel the limits shrink with the axis.
const SHORTEST_SHARE: f64 = 1.0 / 60.0;
const LONGEST_SHARE: f64 = 1.0 / 4.0;
/// Cell size near a singular line: h = l (d/l)^GRADING / M for d < l, d/M beyond.
const GRADING: f64 = 0.5;
/// How far a segment may be stretched from the axis of its family. On the shipped study of pad sizes
/// neighbouring values jump by up to 1.7 of their error bar with 2, by up to 0.8 with 4.
pub(crate) const LARGEST_STRETCH: f64 = 4.0;
/// Samples per interval for the integral of 1/h.
const SAMPLES: usize = 240;

struct Singular {
    at: f64,
    length: f64,
    blunt: f64,
}

impl Singular {
    /// Cells per length that this line asks for at coordinate x, per unit of fineness.
    fn density(&self, x: f64) -> f64 {
        let d = (x - self.at).abs().max(self.blunt);
        if d < self.length {
            (d / self.length).powf(-GRADING) / self.length
        } else {
            1.0 / d
        }
    }
}

fn singular_lines(lines: &[Line]) -> Vec<Singular> {
    let ends: Vec<&Line> = lines.iter().filter(|l| l.singular).collect();
    let at: Vec<f64> = ends.iter().map(|l| l.at_m).collect();
    let extent = lines[lines.len() - 1].at_m - lines[0].at_m;
    let span = match at.len() {
        0 | 1 => extent,
        n => (at[n - 1] - at[0]).max(extent / 20.0),
    };
    let shortest = SHORTEST_LOCAL_LENGTH_M.min(span * SHORTEST_SHARE);
    let longest = LONGEST_LOCAL_LENGTH_M
        .min(span * LONGEST_SHARE)
        .max(shortest);
    (0..at.len())
        .map(|i| {
            let left = if i > 0 {
                at[i] - at[i - 1]
            } else {
                f64::INFINITY
            };
            let right = at.get(i + 1).map_or(f64::INFINITY, |next| next - at[i]);
            let room = ends[i].room_m.max(shortest);
            let length = (0.5 * left.min(right)).clamp(shortest, longest).min(room);
            Singular {
                at: at[i],
                length,
                blunt: ends[i].blunt_m.min(0.5 * length),
            }
        })
        .collect()
}

/// How much longer every segment between these places is between as many lines; none when there are more or fewer,
/// or one is more than [`LARGEST_STRETCH`] times as long or as short.
pub(super) fn stretches(from_m: &[f64], to: &[Line]) -> Option<Vec<f64>> {
    let factor = |(from, to): (&[f64], &[Line])| {
        let factor = (to[1].at_m - to[0].at_m) / (from[1] - from[0]);
        (1.0 / LARGEST_STRETCH..=LARGEST_STRETCH)
            .contains(&factor)
            .then_some(factor)
    };
    let segments = from_m.windows(2).zip(to.windows(2));
    (from_m.len() == to.len()).then(|| segments.map(factor).collect())?
}

impl Axis {
    /// Grades an axis through `lines` (increasing, at least two) with fineness M.
    ///
    /// Between two lines the cells number ceil(integral of dx/h) and lie at equal steps of that
    /// integral, so that twice the fineness nests.
    ///
    /// Once `stop` is asked for the rest of it has no cells but those of its lines.
    pub(crate) fn graded(stop: Stop, lines: &[Line], zones: &[Zone], fineness: f64) -> Self {
        let singular = singular_lines(lines);
        let extent = lines[lines.len() - 1].at_m - lines[0].at_m;
        let mut nodes_m = vec![lines[0].at_m];
        let mut at_line = vec![0];
        for pair in lines.windows(2) {
            let (a, b) = (pair[0].at_m, pair[1].at_m);
            let density = |x: f64| {
                let lines = singular.iter().map(|s| fineness * s.density(x));
                let zones = zones.iter().map(|z| z.density(x, fineness));
                lines.chain(zones).fold(fineness / extent, f64::max)
            };
            // x = a + (b - a) sin^2(pi t / 2) takes the square-root ends out of the integrand.
            let place = |t: f64| a + (b - a) * (0.5 * std::f64::consts::PI * t).sin().powi(2);
            if stop.asked() {
                nodes_m.push(b);
                at_line.push(nodes_m.len() - 1);
                continue;
            }
            let mut sums = Vec::with_capacity(SAMPLES + 1);
            sums.push(0.0);
            for s in 0..SAMPLES {
                let t = (s as f64 + 0.5) / SAMPLES as f64;
                let slope = 0.5 * std::f64::consts::PI * (b - a) * (std::f64::consts::PI * t).sin();
                sums.push(sums[s] + density(place(t)) * slope / SAMPLES as f64);
            }
            let total = sums[SAMPLES];
            let cells = ((total - 1e-6).ceil() as usize).max(1);
            let mut s = 0;
            for cell in 1..cells {
                let wanted = total * cell as f64 / cells as f64;
                while sums[s + 1] < wanted {
                    s += 1;
                }
                let t = (s as f64 + (wanted - sums[s]) / (sums[s + 1] - sums[s])) / SAMPLES as f64;
                nodes_m.push(place(t));
            }
            nodes_m.push(b);
            at_line.push(nodes_m.len() - 1);
        }
        if nodes_m.len() < 3 {
            nodes_m.insert(1, 0.5 * (nodes_m[0] + nodes_m[1]));
            at_line = vec![0, 2];
        }
        let mut rank = vec![0; nodes_m.len()];
        for (line, &node) in lines.iter().zip(&at_line) {
            rank[node] = if line.singular { 2 } else { 1 };
        }
        Self {
            nodes_m,
            lines: at_line,
            rank,
        }
    }

    /// These nodes with every segment stretched to lie between `lines`; none when there are more or
    /// fewer lines, or a segment would be stretched more than [`LARGEST_STRETCH`] times.
    pub(crate) fn stretched_to(&self, lines: &[Line]) -> Option<Self> {
        let own: Vec<f64> = self.lines.iter().map(|&node| self.nodes_m[node]).collect();
        let factors = stretches(&own, lines)?;
        let mut stretched = self.clone();
        let segments = self.lines.windows(2).zip(lines.windows(2));
        for ((ends, pair), factor) in segments.zip(factors) {
            let a = self.nodes_m[ends[0]];
            let (low, high) = (pair[0].at_m, pair[1].at_m);
            for node in ends[0]..ends[1] {
                stretched.nodes_m[node] = low + factor * (self.nodes_m[node] - a);
            }
            stretched.nodes_m[ends[1]] = high;
        }
        for (line, &node) in lines.iter().zip(&self.lines) {
            stretched.rank[node] = if line.singular { 2 } else { 1 };
        }
        Some(stretched)
    }

    /// An axis without extent: the third axis of planar and axisymmetric cases.
    pub(crate) fn point() -> Self {
        Self {
            nodes_m: vec![0.0],
            lines: vec![0],
            rank: vec![0],
        }
    }

    /// Number of cells.
    #[inline]
    pub fn cells(&self) -> usize {
        self.nodes_m.len() - 1
    }

    /// Width of cell `i` \[m\].
    #[inline]
    pub fn width_m(&self, i: usize) -> f64 {
        self.nodes_m[i + 1] - self.nodes_m[i]
    }

    /// Middle of cell `i` \[m\].
    #[inline]
    pub(crate) fn middle_m(&self, i: usize) -> f64 {
        0.5 * (self.nodes_m[i + 1] + self.nodes_m[i])
    }

    /// Node nearest to a coordinate \[m\].
    pub(crate) fn nearest(&self, x_m: f64) -> usize {
        let after = self.nodes_m.partition_point(|&n| n < x_m);
        if after == 0 {
            return 0;
        }
        if after == self.nodes_m.len() {
            return after - 1;
        }
        if x_m - self.nodes_m[after - 1] < self.nodes_m[after] - x_m {
            after - 1
        } else {
            after
        }
    }
}
