//! Transfers between a level and the next coarser one: linear along each axis, restriction the
//! transpose of interpolation.

use super::kernel::dispatched;
use super::layout::Layout;
use super::level::Level;

/// Linear interpolation along one axis, of which at most one node goes between two kept ones.
#[derive(Clone, Debug)]
pub(crate) struct AxisTransfer {
    /// Fine nodes that a coarse node takes from, itself first, with their weights.
    gather: Vec<[(u32, f32); 3]>,
    /// Coarse nodes that a fine node takes from, with their weights; the second may be 0.
    spread: Vec<[(u32, f32); 2]>,
}

impl AxisTransfer {
    /// From the coordinates of the fine nodes and the indices of those kept.
    pub fn new(x: &[f64], kept: &[usize]) -> Self {
        let mut spread = vec![[(0, 0.0); 2]; x.len()];
        let mut gather: Vec<[(u32, f32); 3]> = kept
            .iter()
            .map(|&i| [(i as u32, 1.0), (i as u32, 0.0), (i as u32, 0.0)])
            .collect();
        for (c, &i) in kept.iter().enumerate() {
            let coarse = c as u32;
            spread[i] = [(coarse, 1.0), (coarse, 0.0)];
            if let Some(&next) = kept.get(c + 1)
                && next == i + 2
            {
                let share = ((x[i + 1] - x[i]) / (x[next] - x[i])) as f32;
                spread[i + 1] = [(coarse, 1.0 - share), (coarse + 1, share)];
                gather[c][2] = (i as u32 + 1, 1.0 - share);
                gather[c + 1][1] = (i as u32 + 1, share);
            }
        }
        Self { gather, spread }
    }

    fn keeps_all(&self) -> bool {
        self.gather.len() == self.spread.len()
    }
}

/// The transfer along axis 0 in the order rows are stored: even nodes, then odd ones.
#[derive(Clone, Debug)]
struct RowTransfer {
    /// Positions in a fine row and weights, for each position of a coarse row.
    gather: Vec<[(u32, f32); 3]>,
    /// Positions in a coarse row and weights, for each position of a fine row.
    spread: Vec<[(u32, f32); 2]>,
}

impl RowTransfer {
    fn new(axis: &AxisTransfer) -> Self {
        let (fine, coarse) = (axis.spread.len(), axis.gather.len());
        let position = |i: u32, n: usize| (i & 1) * n.div_ceil(2) as u32 + (i >> 1);
        let stored = |n: usize| (0..n).step_by(2).chain((1..n).step_by(2));
        Self {
            gather: stored(coarse)
                .map(|c| axis.gather[c].map(|(i, w)| (position(i, fine), w)))
                .collect(),
            spread: stored(fine)
                .map(|i| axis.spread[i].map(|(c, w)| (position(c, coarse), w)))
                .collect(),
        }
    }
}

/// Transfers between two levels.
#[derive(Clone, Debug)]
pub(crate) struct Transfer {
    axes: [AxisTransfer; 3],
    rows: RowTransfer,
}

/// Rows in use while a correction goes up or a residual goes down.
#[derive(Clone, Debug, Default)]
pub(crate) struct RowBuffers {
    row: Vec<f32>,
    planes: [Vec<f32>; 2],
}

impl Transfer {
    pub fn new(axes: [AxisTransfer; 3]) -> Self {
        let rows = RowTransfer::new(&axes[0]);
        Self { axes, rows }
    }

    /// Brings the residual of the fine level down: fills `out`, the coarse right-hand side.
    pub fn restrict(
        &self,
        fine: &Layout,
        coarse: &Layout,
        residual: &[f32],
        out: &mut [f32],
        buffers: &mut RowBuffers,
    ) {
        restrict(self, fine, coarse, residual, out, &mut buffers.row);
    }

    /// Adds the interpolated coarse correction to the free nodes of the fine level.
    pub fn prolong(
        &self,
        fine: &Level,
        coarse: &Layout,
        from: &[f32],
        x: &mut [f32],
        buffers: &mut RowBuffers,
    ) {
        prolong(self, fine, coarse, from, x, buffers);
    }
}

#[inline(always)]
fn restrict_body(
    transfer: &Transfer,
    fine: &Layout,
    coarse: &Layout,
    residual: &[f32],
    out: &mut [f32],
    row: &mut Vec<f32>,
) {
    let (n, m) = (fine.row_halves(), coarse.row_halves());
    row.resize(fine.dims[0], 0.0);
    let row = &mut row[..fine.dims[0]];
    let [along, across, up] = &transfer.axes;
    for kc in 0..coarse.dims[2] {
        for jc in 0..coarse.dims[1] {
            let (evens, odds) = row.split_at_mut(n[0]);
            // The kept row itself, with weight 1, then what removed neighbours hand over.
            for (t, (k, wk)) in up.gather[kc].into_iter().enumerate() {
                for (s, (j, wj)) in across.gather[jc].into_iter().enumerate() {
                    let weight = wj * wk;
                    if weight == 0.0 {
                        continue;
                    }
                    let [even, odd] = fine.row(j as usize, k as usize);
                    let (from_even, from_odd) =
                        (&residual[even..even + n[0]], &residual[odd..odd + n[1]]);
                    if s + t == 0 {
                        evens.copy_from_slice(from_even);
                        odds.copy_from_slice(from_odd);
                    } else {
                        add_row(evens, from_even, weight);
                        add_row(odds, from_odd, weight);
                    }
                }
            }
            let [even, odd] = coarse.row(jc, kc);
            if along.keeps_all() {
                out[even..even + m[0]].copy_from_slice(evens);
                out[odd..odd + m[1]].copy_from_slice(odds);
            } else {
                let (evens, odds) = transfer.rows.gather.split_at(m[0]);
                gather_row(&mut out[even..even + m[0]], evens, row);
                gather_row(&mut out[odd..odd + m[1]], odds, row);
            }
        }
    }
}
dispatched!(fn restrict, restrict_body, restrict_wide(transfer: &Transfer, fine: &Layout, coarse: &Layout, residual: &[f32], out: &mut [f32], row: &mut Vec<f32>));

#[inline(always)]
fn prolong_body(
    transfer: &Transfer,
    fine: &Level,
    coarse: &Layout,
    from: &[f32],
    x: &mut [f32],
    buffers: &mut RowBuffers,
) {
    let layout = &fine.layout;
    let (n, m) = (layout.row_halves(), coarse.row_halves());
    let n0 = layout.dims[0];
    let RowBuffers { row, planes } = buffers;
    row.resize(n0.max(coarse.dims[0]), 0.0);
    for plane in planes.iter_mut() {
        plane.resize(n0 * coarse.dims[1], 0.0);
    }
    let [along, across, up] = &transfer.axes;
    // Coarse planes stretched to fine rows; a fine plane lies between two of them.
    let mut ready = [usize::MAX; 2];
    for k in 0..layout.dims[2] {
        for (kc, weight) in up.spread[k] {
            let kc = kc as usize;
            if weight == 0.0 || ready[kc % 2] == kc || along.keeps_all() {
                continue;
            }
            ready[kc % 2] = kc;
            let stretched = planes[kc % 2].chunks_exact_mut(n0);
            for (jc, stretched) in stretched.take(coarse.dims[1]).enumerate() {
                let [even, odd] = coarse.row(jc, kc);
                row[..m[0]].copy_from_slice(&from[even..even + m[0]]);
                row[m[0]..m[0] + m[1]].copy_from_slice(&from[odd..odd + m[1]]);
                spread_row(stretched, &transfer.rows.spread, &row[..m[0] + m[1]]);
            }
        }
        for j in 0..layout.dims[1] {
            let source = |jc: u32, kc: u32| {
                if along.keeps_all() {
                    let [even, odd] = coarse.row(jc as usize, kc as usize);
                    (&from[even..even + n[0]], &from[odd..odd + n[1]])
                } else {
                    let at = n0 * jc as usize;
                    planes[kc as usize % 2][at..at + n0].split_at(n[0])
                }
            };
            let ([(ka, wka), (kb, wkb)], [(ja, wja), (jb, wjb)]) = (up.spread[k], across.spread[j]);
            let [even, odd] = layout.row(j, k);
            let (to_even, to_odd) = (even..even + n[0], odd..odd + n[1]);
            let (free_even, free_odd) = (
                &fine.inverse[to_even.clone()],
                &fine.inverse[to_odd.clone()],
            );
            if wkb == 0.0 && wjb == 0.0 {
                let (evens, odds) = source(ja, ka);
                correct(&mut x[to_even], free_even, evens);
                correct(&mut x[to_odd], free_odd, odds);
                continue;
            }
            let (evens, odds) = row[..n0].split_at_mut(n[0]);
            evens.fill(0.0);
            odds.fill(0.0);
            for (jc, kc, weight) in [
                (ja, ka, wja * wka),
                (jb, ka, wjb * wka),
                (ja, kb, wja * wkb),
                (jb, kb, wjb * wkb),
            ] {
                if weight != 0.0 {
                    let (from_even, from_odd) = source(jc, kc);
                    add_row(evens, from_even, weight);
                    add_row(odds, from_odd, weight);
                }
            }
            correct(&mut x[to_even], free_even, evens);
            correct(&mut x[to_odd], free_odd, odds);
        }
    }
}
dispatched!(fn prolong, prolong_body, prolong_wide(transfer: &Transfer, fine: &Level, coarse: &Layout, from: &[f32], x: &mut [f32], buffers: &mut RowBuffers));

/// sum += weight x row.
#[inline(always)]
fn add_row(sum: &mut [f32], row: &[f32], weight: f32) {
    for (s, r) in sum.iter_mut().zip(row) {
        *s += weight * r;
    }
}

/// Adds a correction where nodes are free.
#[inline(always)]
fn correct(x: &mut [f32], inverse: &[f32], correction: &[f32]) {
    for ((x, &inverse), &value) in x.iter_mut().zip(inverse).zip(correction) {
        *x += f32::from(u8::from(inverse > 0.0)) * value;
    }
}

#[inline(always)]
fn gather_row(out: &mut [f32], table: &[[(u32, f32); 3]], row: &[f32]) {
    for (value, [(a, wa), (b, wb), (c, wc)]) in out.iter_mut().zip(table) {
        *value = wa * row[*a as usize] + wb * row[*b as usize] + wc * row[*c as usize];
    }
}

#[inline(always)]
fn spread_row(out: &mut [f32], table: &[[(u32, f32); 2]], row: &[f32]) {
    for (value, [(a, wa), (b, wb)]) in out.iter_mut().zip(table) {
        *value = wa * row[*a as usize] + wb * row[*b as usize];
    }
}
