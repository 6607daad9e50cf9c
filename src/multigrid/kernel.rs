//! The innermost loops: relaxation, residual and operator application, one grid row at a time.
//!
//! Rows are contiguous and every array is padded, so a row kernel has no branch. Each kernel is
//! compiled twice, for the baseline processor and for AVX2, and the choice is made at run time;
//! both do the same operations in the same order, so the results have the same bits.

use super::level::{FIXED_DIAGONAL, Level};

/// Over-relaxation factor of the red-black sweeps.
pub(crate) const RELAXATION: f32 = 1.3;

macro_rules! dispatched {
    ($(#[$doc:meta])* fn $name:ident, $body:ident, $wide:ident ($($arg:ident: $ty:ty),* $(,)?)) => {
        #[cfg(target_arch = "x86_64")]
        #[target_feature(enable = "avx2")]
        #[allow(clippy::too_many_arguments)]
        unsafe fn $wide($($arg: $ty),*) {
            $body($($arg),*)
        }
        $(#[$doc])*
        #[allow(clippy::too_many_arguments)]
        pub(crate) fn $name($($arg: $ty),*) {
            #[cfg(target_arch = "x86_64")]
            if std::arch::is_x86_feature_detected!("avx2") {
                // SAFETY: the processor has AVX2.
                return unsafe { $wide($($arg),*) };
            }
            $body($($arg),*)
        }
    };
}

/// Net flow out of a row of nodes for potentials `x`, without ground: sum of link x (neighbour),
/// minus diagonal x (node), plus `b`: the residual b - A x.
macro_rules! row_residual {
    ($out:expr, $x:expr, $level:expr, $at:expr, $n:expr, $seed:expr) => {{
        let (at, n) = ($at, $n);
        let s1 = $level.dims[0];
        let diagonal = &$level.diagonal[at..at + n];
        let l0 = &$level.link[0][at..at + n];
        let l0b = &$level.link[0][at - 1..at - 1 + n];
        let l1 = &$level.link[1][at..at + n];
        let l1b = &$level.link[1][at - s1..at - s1 + n];
        let x0 = &$x[at..at + n];
        let xl = &$x[at - 1..at - 1 + n];
        let xr = &$x[at + 1..at + 1 + n];
        let xd = &$x[at - s1..at - s1 + n];
        let xu = &$x[at + s1..at + s1 + n];
        let out = &mut $out[..n];
        if $level.dims[2] > 1 {
            let s2 = s1 * $level.dims[1];
            let l2 = &$level.link[2][at..at + n];
            let l2b = &$level.link[2][at - s2..at - s2 + n];
            let xf = &$x[at - s2..at - s2 + n];
            let xk = &$x[at + s2..at + s2 + n];
            for i in 0..n {
                out[i] = $seed(i)
                    + l0b[i] * xl[i]
                    + l0[i] * xr[i]
                    + l1b[i] * xd[i]
                    + l1[i] * xu[i]
                    + l2b[i] * xf[i]
                    + l2[i] * xk[i]
                    - diagonal[i] * x0[i];
            }
        } else {
            for i in 0..n {
                out[i] = $seed(i) + l0b[i] * xl[i] + l0[i] * xr[i] + l1b[i] * xd[i] + l1[i] * xu[i]
                    - diagonal[i] * x0[i];
            }
        }
    }};
}

#[inline(always)]
fn relax_body(
    level: &Level,
    x: &mut [f32],
    b: &[f32],
    weight: &[Vec<f32>; 2],
    colour: usize,
    row: &mut [f32],
) {
    let [n0, n1, n2] = level.dims;
    for k in 0..n2 {
        for j in 0..n1 {
            let at = level.pad + n0 * (j + n1 * k);
            let rhs = &b[at..at + n0];
            row_residual!(row, x, level, at, n0, |i: usize| rhs[i]);
            let weight = &weight[(colour + j + k) & 1][..n0];
            let diagonal = &level.diagonal[at..at + n0];
            let row = &row[..n0];
            let x = &mut x[at..at + n0];
            for i in 0..n0 {
                x[i] += weight[i] * (row[i] / diagonal[i]);
            }
        }
    }
}
dispatched!(
    /// Half a red-black sweep: moves the nodes of one colour. `weight[p][i]` is the relaxation
    /// factor where `i + p` is even and 0 elsewhere; `row` is scratch of one row.
    fn relax, relax_body, relax_wide(level: &Level, x: &mut [f32], b: &[f32], weight: &[Vec<f32>; 2], colour: usize, row: &mut [f32])
);

#[inline(always)]
fn relax_from_zero_body(
    level: &Level,
    x: &mut [f32],
    b: &[f32],
    weight: &[Vec<f32>; 2],
    colour: usize,
) {
    let [n0, n1, n2] = level.dims;
    for k in 0..n2 {
        for j in 0..n1 {
            let at = level.pad + n0 * (j + n1 * k);
            let weight = &weight[(colour + j + k) & 1][..n0];
            let diagonal = &level.diagonal[at..at + n0];
            let rhs = &b[at..at + n0];
            let x = &mut x[at..at + n0];
            for i in 0..n0 {
                x[i] = weight[i] * (rhs[i] / diagonal[i]);
            }
        }
    }
}
dispatched!(
    /// The first half sweep from a zero guess, which needs no neighbours.
    fn relax_from_zero, relax_from_zero_body, relax_from_zero_wide(level: &Level, x: &mut [f32], b: &[f32], weight: &[Vec<f32>; 2], colour: usize)
);

#[inline(always)]
fn residual_row_body(level: &Level, x: &[f32], b: &[f32], at: usize, row: &mut [f32]) {
    let n = level.dims[0];
    let rhs = &b[at..at + n];
    row_residual!(row, x, level, at, n, |i: usize| rhs[i]);
    let diagonal = &level.diagonal[at..at + n];
    for (value, &d) in row[..n].iter_mut().zip(diagonal) {
        *value *= f32::from(u8::from(d < FIXED_DIAGONAL));
    }
}
dispatched!(
    /// Residual b - A x of the row that starts at padded index `at`; 0 at fixed nodes.
    fn residual_row, residual_row_body, residual_row_wide(level: &Level, x: &[f32], b: &[f32], at: usize, row: &mut [f32])
);

#[inline(always)]
fn apply_body(level: &Level, ground: &[f32], x: &[f64], out: &mut [f64], dots: &mut Vec<f64>) {
    let [n0, n1, n2] = level.dims;
    dots.clear();
    let s1 = n0;
    let s2 = n0 * n1;
    for row in 0..n1 * n2 {
        let at = level.pad + n0 * row;
        let diagonal = &level.diagonal[at..at + n0];
        let l0 = &level.link[0][at..at + n0];
        let l0b = &level.link[0][at - 1..at - 1 + n0];
        let l1 = &level.link[1][at..at + n0];
        let l1b = &level.link[1][at - s1..at - s1 + n0];
        let x0 = &x[at..at + n0];
        let xl = &x[at - 1..at - 1 + n0];
        let xr = &x[at + 1..at + 1 + n0];
        let xd = &x[at - s1..at - s1 + n0];
        let xu = &x[at + s1..at + s1 + n0];
        let out = &mut out[at..at + n0];
        let ground = &ground[n0 * row..n0 * (row + 1)];
        // The form sum c (x_i - x_nb) + g x_i keeps full precision for smooth potentials, which the
        // rounded f32 diagonal would not.
        if n2 > 1 {
            let l2 = &level.link[2][at..at + n0];
            let l2b = &level.link[2][at - s2..at - s2 + n0];
            let xf = &x[at - s2..at - s2 + n0];
            let xk = &x[at + s2..at + s2 + n0];
            for i in 0..n0 {
                let v = x0[i];
                let flow = f64::from(l0b[i]) * (v - xl[i])
                    + f64::from(l0[i]) * (v - xr[i])
                    + f64::from(l1b[i]) * (v - xd[i])
                    + f64::from(l1[i]) * (v - xu[i])
                    + f64::from(l2b[i]) * (v - xf[i])
                    + f64::from(l2[i]) * (v - xk[i])
                    + f64::from(ground[i]) * v;
                out[i] = flow * f64::from(u8::from(diagonal[i] < FIXED_DIAGONAL));
            }
        } else {
            for i in 0..n0 {
                let v = x0[i];
                let flow = f64::from(l0b[i]) * (v - xl[i])
                    + f64::from(l0[i]) * (v - xr[i])
                    + f64::from(l1b[i]) * (v - xd[i])
                    + f64::from(l1[i]) * (v - xu[i])
                    + f64::from(ground[i]) * v;
                out[i] = flow * f64::from(u8::from(diagonal[i] < FIXED_DIAGONAL));
            }
        }
        dots.push(dot(out, x0));
    }
}
dispatched!(
    /// out = A x in f64 on free nodes, 0 on fixed ones; `dots` receives x.A x row by row. `ground`
    /// is the unpadded ground conductance of each node.
    fn apply, apply_body, apply_wide(level: &Level, ground: &[f32], x: &[f64], out: &mut [f64], dots: &mut Vec<f64>)
);

/// Dot product in eight fixed lanes: vectorised, and the same bits everywhere.
#[inline(always)]
pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0; 8];
    let (ca, ra) = a.as_chunks::<8>();
    let (cb, rb) = b.as_chunks::<8>();
    for (x, y) in ca.iter().zip(cb) {
        for l in 0..8 {
            lanes[l] += x[l] * y[l];
        }
    }
    let mut rest = 0.0;
    for (x, y) in ra.iter().zip(rb) {
        rest += x * y;
    }
    ((lanes[0] + lanes[4]) + (lanes[1] + lanes[5]))
        + ((lanes[2] + lanes[6]) + (lanes[3] + lanes[7]))
        + rest
}

#[inline(always)]
fn advance_body(
    step: f64,
    p: &[f64],
    ap: &[f64],
    x: &mut [f64],
    r: &mut [f64],
    r_single: &mut [f32],
) {
    let n = x.len();
    let (p, ap, r, s) = (&p[..n], &ap[..n], &mut r[..n], &mut r_single[..n]);
    for i in 0..n {
        x[i] += step * p[i];
        r[i] -= step * ap[i];
        s[i] = r[i] as f32;
    }
}
dispatched!(
    /// x += step p, r -= step A p, and r again in f32.
    fn advance, advance_body, advance_wide(step: f64, p: &[f64], ap: &[f64], x: &mut [f64], r: &mut [f64], r_single: &mut [f32])
);

#[inline(always)]
fn direction_body(beta: f64, z: &[f32], p: &mut [f64]) {
    let n = p.len();
    let z = &z[..n];
    for i in 0..n {
        p[i] = f64::from(z[i]) + beta * p[i];
    }
}
dispatched!(
    /// p = z + beta p.
    fn direction, direction_body, direction_wide(beta: f64, z: &[f32], p: &mut [f64])
);

/// Dot product of an f64 and an f32 vector in eight fixed lanes.
#[inline(always)]
fn mixed_dot_body(a: &[f64], b: &[f32], out: &mut f64) {
    let mut lanes = [0.0; 8];
    let (ca, ra) = a.as_chunks::<8>();
    let (cb, rb) = b.as_chunks::<8>();
    for (x, y) in ca.iter().zip(cb) {
        for l in 0..8 {
            lanes[l] += x[l] * f64::from(y[l]);
        }
    }
    let mut rest = 0.0;
    for (x, y) in ra.iter().zip(rb) {
        rest += x * f64::from(*y);
    }
    *out = ((lanes[0] + lanes[4]) + (lanes[1] + lanes[5]))
        + ((lanes[2] + lanes[6]) + (lanes[3] + lanes[7]))
        + rest;
}
dispatched!(
    /// out = a.b with b in f32.
    fn mixed_dot, mixed_dot_body, mixed_dot_wide(a: &[f64], b: &[f32], out: &mut f64)
);
