//! The innermost loops: relaxation, residual and operator application over one colour.
//!
//! Every kernel walks contiguous arrays in chunks, each compiled twice, for the baseline processor
//! and for AVX2; the choice is made at run time. Both do the same operations in the same order and
//! chunks are always the same, so results have the same bits on any number of threads.

use super::level::Level;
use rayon::prelude::*;
use std::ops::Range;

/// Over-relaxation factor of the red-black sweeps.
pub(crate) const RELAXATION: f32 = 1.3;
/// Places one call works on.
const CHUNK: usize = 1 << 12;
/// Fewest chunks handed to a thread together.
const CHUNKS_AT_ONCE: usize = 4;
/// Colours with fewer places than this stay on one thread: hand-overs cost more than they save (two
/// threads take 0.9 of the time of one at 1.1 and 4.1 M nodes, 1.4 of it at 0.4 M).
const PARALLEL: usize = 1 << 19;

/// A function compiled for the baseline processor and for AVX2.
macro_rules! dispatched {
    ($(#[$doc:meta])* $vis:vis fn $name:ident, $body:ident, $wide:ident ($($arg:ident: $ty:ty),* $(,)?) $(-> $out:ty)?) => {
        #[cfg(target_arch = "x86_64")]
        #[target_feature(enable = "avx2")]
        #[allow(clippy::too_many_arguments)]
        unsafe fn $wide($($arg: $ty),*) $(-> $out)? {
            $body($($arg),*)
        }
        $(#[$doc])*
        #[inline]
        #[allow(clippy::too_many_arguments)]
        $vis fn $name($($arg: $ty),*) $(-> $out)? {
            #[cfg(target_arch = "x86_64")]
            if std::arch::is_x86_feature_detected!("avx2") {
                // SAFETY: the processor has AVX2.
                return unsafe { $wide($($arg),*) };
            }
            $body($($arg),*)
        }
    };
}

pub(crate) use dispatched;

/// A run of nodes of one colour: their links, and the potentials at the other ends. Axes that are
/// not there are empty.
#[derive(Clone, Copy)]
struct Run<'a, T> {
    /// Links ahead and behind along each axis.
    links: [[&'a [f32]; 2]; 3],
    /// Potentials ahead and behind.
    ends: [[&'a [T]; 2]; 3],
    volume: bool,
}

impl<'a, T> Run<'a, T> {
    /// Places `from..from + n` of `colour`; `other` is the other colour's block of potentials.
    fn new(level: &'a Level, colour: usize, other: &'a [T], from: usize, n: usize) -> Self {
        let layout = &level.layout;
        let (own, opposite) = (colour * layout.block, (1 - colour) * layout.block);
        let place = layout.pad + from;
        let mut links: [[&[f32]; 2]; 3] = [[&[]; 2]; 3];
        let mut ends: [[&[T]; 2]; 3] = [[&[]; 2]; 3];
        for d in (0..3).filter(|&d| !level.link[d].is_empty()) {
            let (ahead, behind) = layout.reach(colour, d);
            links[d] = [
                &level.link[d][own + place..own + place + n],
                &level.link[d][opposite + place - behind..opposite + place - behind + n],
            ];
            ends[d] = [
                &other[place + ahead..place + ahead + n],
                &other[place - behind..place - behind + n],
            ];
        }
        Self {
            links,
            ends,
            volume: !level.link[2].is_empty(),
        }
    }
}

/// Whether so many places of a colour are worth sharing out among threads, where some are `idle`.
pub(crate) fn is_shared(places: usize, idle: bool) -> bool {
    idle && places >= PARALLEL && rayon::current_num_threads() > 1
}

/// Runs `work` over chunks of the places of one colour from place `first` on: first place and chunk.
fn in_chunks<A: Send>(
    first: usize,
    places: &mut [A],
    idle: bool,
    work: impl Fn(usize, &mut [A]) + Sync,
) {
    if is_shared(places.len(), idle) {
        let chunks = places.par_chunks_mut(CHUNK).enumerate();
        let chunks = chunks.with_min_len(CHUNKS_AT_ONCE);
        chunks.for_each(|(c, places)| work(first + c * CHUNK, places));
    } else {
        for (c, places) in places.chunks_mut(CHUNK).enumerate() {
            work(first + c * CHUNK, places);
        }
    }
}

/// The same with what belongs to each chunk: `share` entries of `other`.
fn in_chunk_pairs<A: Send, B: Send>(
    first: usize,
    places: &mut [A],
    (other, share): (&mut [B], usize),
    idle: bool,
    work: impl Fn(usize, &mut [A], &mut [B]) + Sync,
) {
    if is_shared(places.len(), idle) {
        let chunks = places.par_chunks_mut(CHUNK);
        let chunks = chunks.zip(other.par_chunks_mut(share)).enumerate();
        let chunks = chunks.with_min_len(CHUNKS_AT_ONCE);
        chunks.for_each(|(c, (places, other))| work(first + c * CHUNK, places, other));
    } else {
        let chunks = places.chunks_mut(CHUNK).zip(other.chunks_mut(share));
        for (c, (places, other)) in chunks.enumerate() {
            work(first + c * CHUNK, places, other);
        }
    }
}

/// Splits an array into the block of `colour`, to be written, and the other one.
fn split<T>(x: &mut [T], block: usize, colour: usize) -> (&mut [T], &[T]) {
    let (red, black) = x.split_at_mut(block);
    if colour == 0 {
        (red, black)
    } else {
        (black, red)
    }
}

/// Inflow at node `$i` of a run, `$b` included, with slices bound for the compiler to see.
macro_rules! with_inflow {
    ($run:ident, $n:expr, $b:ident, |$i:ident, $inflow:ident| $body:block) => {{
        let n = $n;
        let [[la, lb], [ma, mb], [na, nb]] = $run.links;
        let [[xa, xb], [ya, yb], [za, zb]] = $run.ends;
        let (la, lb, ma, mb) = (&la[..n], &lb[..n], &ma[..n], &mb[..n]);
        let (xa, xb, ya, yb) = (&xa[..n], &xb[..n], &ya[..n], &yb[..n]);
        let $b = &$b[..n];
        if $run.volume {
            let (na, nb, za, zb) = (&na[..n], &nb[..n], &za[..n], &zb[..n]);
            for $i in 0..n {
                let $inflow = $b[$i]
                    + (la[$i] * xa[$i] + lb[$i] * xb[$i])
                    + (ma[$i] * ya[$i] + mb[$i] * yb[$i])
                    + (na[$i] * za[$i] + nb[$i] * zb[$i]);
                $body
            }
        } else {
            for $i in 0..n {
                let $inflow = $b[$i]
                    + (la[$i] * xa[$i] + lb[$i] * xb[$i])
                    + (ma[$i] * ya[$i] + mb[$i] * yb[$i]);
                $body
            }
        }
    }};
}

#[inline(always)]
fn relax_run_body(run: Run<f32>, inverse: &[f32], b: &[f32], x: &mut [f32]) {
    let n = x.len();
    let (inverse, x) = (&inverse[..n], &mut x[..n]);
    with_inflow!(run, n, b, |i, inflow| {
        x[i] += RELAXATION * (inverse[i] * inflow - x[i]);
    });
}
dispatched!(fn relax_run, relax_run_body, relax_run_wide(run: Run<f32>, inverse: &[f32], b: &[f32], x: &mut [f32]));

#[inline(always)]
fn relax_keep_run_body(
    run: Run<f32>,
    inverse: &[f32],
    b: &[f32],
    x: &mut [f32],
    residual: &mut [f32],
) {
    let n = x.len();
    let (inverse, x, residual) = (&inverse[..n], &mut x[..n], &mut residual[..n]);
    with_inflow!(run, n, b, |i, inflow| {
        let change = inverse[i] * inflow - x[i];
        x[i] += RELAXATION * change;
        residual[i] = (1.0 - RELAXATION) * change / inverse[i].max(f32::MIN_POSITIVE);
    });
}
dispatched!(fn relax_keep_run, relax_keep_run_body, relax_keep_run_wide(run: Run<f32>, inverse: &[f32], b: &[f32], x: &mut [f32], residual: &mut [f32]));

#[inline(always)]
fn residual_run_body(run: Run<f32>, inverse: &[f32], b: &[f32], x: &[f32], residual: &mut [f32]) {
    let n = residual.len();
    let (inverse, x, residual) = (&inverse[..n], &x[..n], &mut residual[..n]);
    with_inflow!(run, n, b, |i, inflow| {
        residual[i] = (inverse[i] * inflow - x[i]) / inverse[i].max(f32::MIN_POSITIVE);
    });
}
dispatched!(fn residual_run, residual_run_body, residual_run_wide(run: Run<f32>, inverse: &[f32], b: &[f32], x: &[f32], residual: &mut [f32]));

/// Some places of a colour: which of them, and whether threads are idle that could share them.
#[derive(Clone)]
pub(crate) struct Places {
    pub colour: usize,
    pub places: Range<usize>,
    pub idle: bool,
}

impl Places {
    /// Where they lie in an array of a level.
    fn of(&self, level: &Level) -> Range<usize> {
        let first = self.colour * level.layout.block + level.layout.pad;
        first + self.places.start..first + self.places.end
    }

    /// Where they lie in the block of their colour.
    fn in_block(&self, level: &Level) -> Range<usize> {
        let pad = level.layout.pad;
        pad + self.places.start..pad + self.places.end
    }
}

/// Half a red-black sweep: moves nodes of one colour.
pub(crate) fn relax(level: &Level, x: &mut [f32], b: &[f32], at: &Places) {
    let (own, other) = split(x, level.layout.block, at.colour);
    let (inverse, b) = (&level.inverse[at.of(level)], &b[at.of(level)]);
    let first = at.places.start;
    in_chunks(first, &mut own[at.in_block(level)], at.idle, |from, x| {
        let own = from - first..from - first + x.len();
        let run = Run::new(level, at.colour, other, from, x.len());
        relax_run(run, &inverse[own.clone()], &b[own], x);
    });
}

/// The same, and the residual that these nodes are left with.
pub(crate) fn relax_and_keep(
    level: &Level,
    x: &mut [f32],
    b: &[f32],
    residual: &mut [f32],
    at: &Places,
) {
    let (own, other) = split(x, level.layout.block, at.colour);
    let (inverse, b) = (&level.inverse[at.of(level)], &b[at.of(level)]);
    let kept = (&mut residual[at.of(level)], CHUNK);
    let first = at.places.start;
    let x = &mut own[at.in_block(level)];
    in_chunk_pairs(first, x, kept, at.idle, |from, x, residual| {
        let own = from - first..from - first + x.len();
        let run = Run::new(level, at.colour, other, from, x.len());
        relax_keep_run(run, &inverse[own.clone()], &b[own], x, residual);
    });
}

/// Residual b - A x of nodes of one colour; 0 at fixed nodes.
pub(crate) fn residual(level: &Level, x: &[f32], b: &[f32], residual: &mut [f32], at: &Places) {
    let (red, black) = x.split_at(level.layout.block);
    let other = if at.colour == 0 { black } else { red };
    let (inverse, b, x) = (
        &level.inverse[at.of(level)],
        &b[at.of(level)],
        &x[at.of(level)],
    );
    let first = at.places.start;
    let kept = &mut residual[at.of(level)];
    in_chunks(first, kept, at.idle, |from, residual| {
        let own = from - first..from - first + residual.len();
        let run = Run::new(level, at.colour, other, from, residual.len());
        let (inverse, b, x) = (&inverse[own.clone()], &b[own.clone()], &x[own]);
        residual_run(run, inverse, b, x, residual);
    });
}

#[inline(always)]
fn scaled_run_body(inverse: &[f32], b: &[f32], x: &mut [f32]) {
    let n = x.len();
    let (inverse, b) = (&inverse[..n], &b[..n]);
    for i in 0..n {
        x[i] = RELAXATION * (inverse[i] * b[i]);
    }
}
dispatched!(fn scaled_run, scaled_run_body, scaled_run_wide(inverse: &[f32], b: &[f32], x: &mut [f32]));

/// The first half sweep from a zero guess, which needs no neighbours; zeros those of the other colour.
pub(crate) fn relax_from_zero(level: &Level, x: &mut [f32], b: &[f32], at: &Places) {
    let own = at.of(level);
    scaled_run(&level.inverse[own.clone()], &b[own.clone()], &mut x[own]);
    let others = Places {
        colour: 1 - at.colour,
        ..at.clone()
    };
    x[others.of(level)].fill(0.0);
}

#[inline(always)]
fn apply_run_body(run: Run<f64>, ground: &[f64], x: &[f64], out: &mut [f64]) -> f64 {
    let n = out.len();
    let (ground, x, out) = (&ground[..n], &x[..n], &mut out[..n]);
    // The form sum c (x_i - x_nb) + g x_i keeps full precision for smooth potentials, which a
    // rounded diagonal would not.
    let [[la, lb], [ma, mb], [na, nb]] = run.links;
    let [[xa, xb], [ya, yb], [za, zb]] = run.ends;
    let (la, lb, ma, mb) = (&la[..n], &lb[..n], &ma[..n], &mb[..n]);
    let (xa, xb, ya, yb) = (&xa[..n], &xb[..n], &ya[..n], &yb[..n]);
    if run.volume {
        let (na, nb, za, zb) = (&na[..n], &nb[..n], &za[..n], &zb[..n]);
        for i in 0..n {
            let v = x[i];
            out[i] = f64::from(la[i]) * (v - xa[i])
                + f64::from(lb[i]) * (v - xb[i])
                + f64::from(ma[i]) * (v - ya[i])
                + f64::from(mb[i]) * (v - yb[i])
                + f64::from(na[i]) * (v - za[i])
                + f64::from(nb[i]) * (v - zb[i])
                + ground[i] * v;
        }
    } else {
        for i in 0..n {
            let v = x[i];
            out[i] = f64::from(la[i]) * (v - xa[i])
                + f64::from(lb[i]) * (v - xb[i])
                + f64::from(ma[i]) * (v - ya[i])
                + f64::from(mb[i]) * (v - yb[i])
                + ground[i] * v;
        }
    }
    dot(out, x)
}
dispatched!(fn apply_run, apply_run_body, apply_run_wide(run: Run<f64>, ground: &[f64], x: &[f64], out: &mut [f64]) -> f64);

/// out = A x in f64, 0 at fixed nodes; gives x.A x. `dots` holds one value per chunk; `idle` says whether threads are.
pub(crate) fn apply(
    level: &Level,
    ground: &[f64],
    x: &[f64],
    out: &mut [f64],
    (dots, idle): (&mut Vec<f64>, bool),
) -> f64 {
    let layout = &level.layout;
    let mut total = 0.0;
    for colour in 0..2 {
        let (red, black) = x.split_at(layout.block);
        let other = if colour == 0 { black } else { red };
        let first = colour * layout.block + layout.pad;
        let places = &mut out[first..first + layout.half];
        dots.clear();
        dots.resize(layout.half.div_ceil(CHUNK), 0.0);
        in_chunk_pairs(0, places, (dots, 1), idle, |from, out, dot| {
            let (n, at) = (out.len(), first + from);
            let run = Run::new(level, colour, other, from, n);
            dot[0] = apply_run(run, &ground[at..at + n], &x[at..at + n], out);
        });
        total += dots.iter().sum::<f64>();
    }
    total
}

/// Dot product in eight fixed lanes: vectorised, and the same bits everywhere.
#[inline(always)]
fn dot(a: &[f64], b: &[f64]) -> f64 {
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
fn advance_body(step: f64, p: &[f64], ap: &[f64], x: &mut [f64], r: &mut [f64], s: &mut [f32]) {
    let n = x.len();
    let (p, ap, r, s) = (&p[..n], &ap[..n], &mut r[..n], &mut s[..n]);
    for i in 0..n {
        x[i] += step * p[i];
        r[i] -= step * ap[i];
        s[i] = r[i] as f32;
    }
}
dispatched!(
    /// x += step p, r -= step A p, and s = r in f32.
    pub(crate) fn advance, advance_body, advance_wide(step: f64, p: &[f64], ap: &[f64], x: &mut [f64], r: &mut [f64], s: &mut [f32])
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
    pub(crate) fn direction, direction_body, direction_wide(beta: f64, z: &[f32], p: &mut [f64])
);

#[inline(always)]
fn mixed_dot_body(a: &[f64], b: &[f32]) -> f64 {
    let mut lanes = [0.0; 16];
    let (ca, ra) = a.as_chunks::<16>();
    let (cb, rb) = b.as_chunks::<16>();
    for (x, y) in ca.iter().zip(cb) {
        for l in 0..16 {
            lanes[l] += x[l] * f64::from(y[l]);
        }
    }
    let mut sum = 0.0;
    for (x, y) in ra.iter().zip(rb) {
        sum += x * f64::from(*y);
    }
    for lane in lanes {
        sum += lane;
    }
    sum
}
dispatched!(
    /// a.b with b in f32.
    pub(crate) fn mixed_dot, mixed_dot_body, mixed_dot_wide(a: &[f64], b: &[f32]) -> f64
);
