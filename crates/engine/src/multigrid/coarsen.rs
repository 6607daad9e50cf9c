//! Coarsening that follows the grading, and coarse networks by elimination of resistors.

use super::level::Network;
use super::transfer::AxisTransfer;
use crate::stop::Stop;

/// A level is small enough when it has at most this share of the nodes.
const WANTED_SHARE: f64 = 0.6;
/// Share of the nodes that must at least go once merging has run ahead of the smallest spacing. In
/// the plane it is this share at this number of lines along both axes together and falls with the
/// root of their number: 6 to 8 iterations from 0.05 to 4 M nodes on the engine's axes; without the
/// fall 6 to 13, with 0.1 instead 12 to 24 at 0.5 M.
const LAG_LOSS_PLANE: f64 = 0.02;
const LAG_LINES_PLANE: f64 = 450.0;
/// The share accepted in volumes, up to so many nodes and beyond. On boards with traces of 0.3 M nodes 0.75 takes a twentieth
/// more iterations than 0.85 and an eighth off the time, because the levels hold a quarter less. Less converges too
/// slowly on some: to 1e-10 at 4 M nodes 0.65 takes 19 iterations, 0.75 takes 15, 0.85 takes 11.
const LAG_SHARE_VOLUME: f64 = 0.75;
const LAG_SHARE_LARGE: f64 = 0.85;
const LARGE_NODES: f64 = 3.5e5;
/// How far the merging length may run ahead of the smallest remaining spacing.
const LAG_LIMIT: f64 = 3.0;
/// Growth of the merging length while a level is still too large.
const LENGTH_STEP: f64 = 1.25;
/// Conductor and dielectric lines go only when their neighbours lie within this share of the length.
const LINE_SHARE: f64 = 0.25;

/// Nodes that stay when neighbours closer than `length` are merged pairwise, left to right.
fn kept(x: &[f64], rank: &[u8], length: f64) -> Vec<usize> {
    let n = x.len();
    let mut kept = vec![0];
    if n == 1 {
        return kept;
    }
    let may_go = |left: f64, i: usize| {
        let reach = if rank[i] > 0 {
            length * LINE_SHARE
        } else {
            length
        };
        x[i + 1] - left <= reach
    };
    let mut left_was_kept = true;
    for i in 1..n - 1 {
        let better_next = i + 2 < n && rank[i] > rank[i + 1] && may_go(x[i], i + 1);
        if left_was_kept && may_go(x[i - 1], i) && !better_next {
            left_was_kept = false;
        } else {
            kept.push(i);
            left_was_kept = true;
        }
    }
    kept.push(n - 1);
    kept
}

fn smallest_gap(x: &[f64], kept: &[usize]) -> f64 {
    kept.windows(2)
        .map(|w| x[w[1]] - x[w[0]])
        .fold(f64::INFINITY, f64::min)
}

/// The next coarser network with its transfers; none when nothing more can be merged, or once `stop` is asked for.
pub(crate) fn coarsen(stop: Stop, fine: &Network) -> Option<(Network, [AxisTransfer; 3])> {
    let all: [Vec<usize>; 3] = [0, 1, 2].map(|d| (0..fine.coordinates[d].len()).collect());
    let smallest = |kept: &[Vec<usize>; 3]| {
        (0..3)
            .map(|d| smallest_gap(&fine.coordinates[d], &kept[d]))
            .fold(f64::INFINITY, f64::min)
    };
    let total = fine.len() as f64;
    let longest = (0..3)
        .map(|d| fine.coordinates[d].last().unwrap_or(&0.0) - fine.coordinates[d][0])
        .fold(0.0, f64::max);
    let lag_share = if fine.coordinates[2].len() == 1 {
        let lines = (fine.coordinates[0].len() + fine.coordinates[1].len()) as f64;
        1.0 - LAG_LOSS_PLANE * (LAG_LINES_PLANE / lines).sqrt()
    } else if total > LARGE_NODES {
        LAG_SHARE_LARGE
    } else {
        LAG_SHARE_VOLUME
    };
    let mut length = 2.0 * smallest(&all) * (1.0 + 1e-6);
    let kept = loop {
        let kept = [0, 1, 2].map(|d| kept(&fine.coordinates[d], &fine.rank[d], length));
        let share = kept.iter().map(|k| k.len() as f64).product::<f64>() / total;
        let ahead = LENGTH_STEP * length > LAG_LIMIT * smallest(&kept);
        if share <= WANTED_SHARE || (share <= lag_share && ahead) {
            break kept;
        }
        if length > 8.0 * longest {
            if share < 1.0 {
                break kept;
            }
            return None;
        }
        length *= LENGTH_STEP;
    };
    let transfers = [0, 1, 2].map(|d| AxisTransfer::new(&fine.coordinates[d], &kept[d]));
    let mut coarse = None;
    for d in 0..3 {
        if stop.asked() {
            return None;
        }
        if kept[d].len() < fine.coordinates[d].len() {
            coarse = Some(eliminate(coarse.as_ref().unwrap_or(fine), d, &kept[d]));
        }
    }
    Some((coarse?, transfers))
}

/// A row of nodes that go: their links to either side, their ground, which of them are fixed.
struct Removed<'f> {
    links: [&'f [f32]; 2],
    ground: &'f [f32],
    fixed: &'f [bool],
}

impl Removed<'_> {
    /// Leaves the links between its neighbours and adds to the grounds of these.
    #[inline]
    fn to_neighbours(&self, along: &mut [f32], (low, high): (&mut [f32], &mut [f32])) {
        let ([c1, c2], g) = (self.links, self.ground);
        for v in 0..g.len() {
            let (a, b) = (c1[v], c2[v]);
            let inverse = 1.0 / (a + b + g[v]).max(f32::MIN_POSITIVE);
            let fixed = self.fixed[v];
            along[v] = if fixed { 0.0 } else { a * b * inverse };
            low[v] += if fixed { a } else { a * g[v] * inverse };
            high[v] += if fixed { b } else { b * g[v] * inverse };
        }
    }
}

/// Removes all nodes along axis `d` that are not in `kept`; between two kept nodes at most one goes.
///
/// A removed node with links c1, c2 and ground g leaves the link c1 c2/S and the grounds c1 g/S and
/// c2 g/S, S = c1 + c2 + g (star to triangle); a removed fixed node leaves c1 and c2 to ground.
/// Links across are handed to the kept neighbours with linear weights.
fn eliminate(fine: &Network, d: usize, kept: &[usize]) -> Network {
    match fine.dims()[..d].iter().product() {
        // Single nodes: known to the compiler, which then makes no loops of them.
        1 => eliminate_rows(fine, d, kept, 1),
        inner => eliminate_rows(fine, d, kept, inner),
    }
}

/// The same for rows of `inner` nodes.
#[inline(always)]
fn eliminate_rows(fine: &Network, d: usize, kept: &[usize], inner: usize) -> Network {
    let dims = fine.dims();
    let outer: usize = dims[d + 1..].iter().product();
    let (n, x) = (dims[d], &fine.coordinates[d]);
    let size = outer * kept.len() * inner;
    let mut ground = Vec::with_capacity(size);
    let mut fixed = Vec::with_capacity(size);
    let mut link = [0, 1, 2].map(|t| Vec::with_capacity(if dims[t] > 1 { size } else { 0 }));
    // Kept node before and place of each that goes, how far it lies on the way to the next kept one.
    let gone: Vec<(usize, usize, f32)> = (1..kept.len())
        .filter(|&c| kept[c] > kept[c - 1] + 1)
        .map(|c| (c - 1, kept[c - 1] + 1, kept[c]))
        .map(|(c, i, next)| (c, i, ((x[i] - x[i - 1]) / (x[next] - x[i - 1])) as f32))
        .collect();
    for o in 0..outer {
        let start = ground.len();
        let block = o * n * inner..(o + 1) * n * inner;
        take_rows(&fine.ground[block.clone()], kept, inner, &mut ground);
        take_rows(&fine.fixed[block.clone()], kept, inner, &mut fixed);
        for t in (0..3).filter(|&t| dims[t] > 1) {
            take_rows(&fine.link[t][block.clone()], kept, inner, &mut link[t]);
        }
        for &(c, i, share) in &gone {
            let row = |i: usize| block.start + i * inner..block.start + (i + 1) * inner;
            let both = start + c * inner..start + (c + 2) * inner;
            let removed = Removed {
                links: [&fine.link[d][row(i - 1)], &fine.link[d][row(i)]],
                ground: &fine.ground[row(i)],
                fixed: &fine.fixed[row(i)],
            };
            let neighbours = ground[both.clone()].split_at_mut(inner);
            let along = &mut link[d][both.start..both.start + inner];
            removed.to_neighbours(along, neighbours);
            for t in (0..3).filter(|&t| t != d && dims[t] > 1) {
                let from = &fine.link[t][row(i)];
                let (low, high) = link[t][both.clone()].split_at_mut(inner);
                for v in 0..inner {
                    low[v] += (1.0 - share) * from[v];
                    high[v] += share * from[v];
                }
            }
        }
    }
    let mut coordinates = fine.coordinates.clone();
    coordinates[d] = kept.iter().map(|&i| x[i]).collect();
    let mut rank = fine.rank.clone();
    rank[d] = kept.iter().map(|&i| fine.rank[d][i]).collect();
    Network {
        coordinates,
        rank,
        link,
        ground,
        fixed,
    }
}

/// Adds the kept ones of successive rows of `inner` values.
#[inline(always)]
fn take_rows<T: Copy>(rows: &[T], kept: &[usize], inner: usize, into: &mut Vec<T>) {
    if inner == 1 {
        into.extend(kept.iter().map(|&i| rows[i]));
        return;
    }
    for &i in kept {
        into.extend_from_slice(&rows[i * inner..(i + 1) * inner]);
    }
}
