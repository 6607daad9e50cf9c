//! The catalogue's numbers recomputed from their formulas, so that none hangs on memory.

use std::f64::consts::PI;

use super::reference::reference;
use crate::elliptic::{complete_first_kind, first_kind_ratio};
use crate::units::VACUUM_PERMITTIVITY;

/// Published digits: ten to twelve of them.
#[track_caller]
fn assert_published(id: &str, value: f64) {
    let published = reference(id).value;
    let error = (value / published - 1.0).abs();
    assert!(error < 1e-9, "{id}: {value} is not {published}");
}

/// Capacitance over eps between two arcs of the real line seen from one half-plane; electrodes
/// `b..c` and `d..a`, passing through infinity when `a < b`. Conformal cross-ratio, textbook.
fn between_arcs(a: f64, b: f64, c: f64, d: f64) -> f64 {
    let parameter = (c - b) * (d - a) / ((c - a) * (d - b));
    first_kind_ratio(parameter, 1.0 - parameter)
}

/// Maps the lower side of a rectangle onto the real line, corners onto -1 and 1, the upper ones
/// onto -1/k and 1/k: Jacobi's sn by theta series.
struct RectangleMap {
    width: f64,
    nome: f64,
    modulus: f64,
    amplitude: f64,
}

impl RectangleMap {
    fn new(width: f64, height: f64) -> Self {
        let nome = (-2.0 * PI * height / width).exp();
        let term = |n: i32| nome.powi(n * n);
        let half_term = |n: i32| nome.powf((f64::from(n) + 0.5).powi(2));
        let theta2: f64 = 2.0 * (0..40).map(half_term).sum::<f64>();
        let theta3: f64 = 1.0 + 2.0 * (1..40).map(term).sum::<f64>();
        Self {
            width,
            nome,
            modulus: (theta2 / theta3).powi(2),
            amplitude: theta3 / theta2,
        }
    }

    fn real_line(&self, x: f64) -> f64 {
        let z = PI * (x / self.width - 0.5);
        let sign = |n: i32| if n % 2 == 0 { 1.0 } else { -1.0 };
        let theta1: f64 = (0..40)
            .map(|n| {
                let half = f64::from(n) + 0.5;
                2.0 * sign(n) * self.nome.powf(half * half) * (2.0 * half * z).sin()
            })
            .sum();
        let theta4: f64 = 1.0
            + (1..40)
                .map(|n| 2.0 * sign(n) * self.nome.powi(n * n) * (2.0 * f64::from(n) * z).cos())
                .sum::<f64>();
        self.amplitude * theta1 / theta4
    }
}

/// Sheet at mid-height of a closed box: both halves are the same rectangle.
fn strip_in_box(width: f64, height: f64, x: [f64; 2]) -> f64 {
    let map = RectangleMap::new(width, 0.5 * height);
    2.0 * between_arcs(-1.0, map.real_line(x[0]), map.real_line(x[1]), 1.0)
}

/// The same with an insulated right side.
fn strip_beside_mirror(width: f64, height: f64, x: [f64; 2]) -> f64 {
    let map = RectangleMap::new(width, 0.5 * height);
    let right = 1.0 / map.modulus;
    2.0 * between_arcs(-1.0, map.real_line(x[0]), map.real_line(x[1]), right)
}

#[test]
fn strips_in_boxes() {
    assert_published("A1.1", strip_in_box(2.0, 1.0, [0.5, 1.5]));
    assert_published("A1.2", strip_in_box(4.0, 2.0, [1.5, 2.5]));
    assert_published("A1.3", strip_in_box(4.0, 2.0, [0.5, 1.5]));
    assert_published("A1.4", strip_in_box(4.0, 2.0, [0.2, 2.7]));
    assert_published("A1.5", strip_in_box(10.0, 2.0, [1.0, 2.0]));
    // Halves of different permittivity act by their mean.
    assert_published("A2.1", 2.7 * strip_in_box(4.0, 2.0, [1.5, 2.5]));
    assert_published("A2.2", 5.05 * strip_in_box(4.0, 2.0, [1.0, 3.0]));
    for (id, strip) in [("A4.25", 0.25), ("A4.50", 0.5), ("A4.75", 0.75)] {
        let x = [0.5 - 0.5 * strip, 0.5 + 0.5 * strip];
        assert_published(id, strip_in_box(1.0, 16.0, x));
    }
}

#[test]
fn strip_pairs_in_boxes() {
    let pair = |width: f64, height: f64, strip: f64, gap: f64| {
        let right = 0.5 * (width - gap);
        let x = [right - strip, right];
        let odd = strip_in_box(0.5 * width, height, x);
        let even = strip_beside_mirror(0.5 * width, height, x);
        (0.5 * (even + odd), 0.5 * (even - odd))
    };
    for (own_id, mutual_id, (own, mutual)) in [
        ("A3.1", "A3.1m", pair(6.0, 2.0, 1.0, 1.0)),
        ("A3.2", "A3.2m", pair(4.0, 2.0, 1.0, 0.5)),
        ("A3.3", "A3.3m", pair(8.0, 4.0, 2.0, 0.25)),
    ] {
        assert_published(own_id, own);
        assert_published(mutual_id, mutual);
    }
    assert_published("A3.1e", 2.0 * pair(6.0, 2.0, 1.0, 1.0).1);
}

#[test]
fn cross_capacitors() {
    let series = |width: f64| -> f64 {
        let odd = (1..60).step_by(2).map(f64::from);
        odd.map(|n| 8.0 / (n * PI * (n * PI * width).sinh())).sum()
    };
    for (id, width) in [("A5.1", 1.0), ("A5.2", 2.0), ("A5.0.5", 0.5)] {
        assert_published(id, series(width));
    }
    assert_published("A5.1", 2.0_f64.ln() / PI);
    assert_published("A5.pF", 1e12 * VACUUM_PERMITTIVITY * 2.0_f64.ln() / PI);
}

/// Gauss's hypergeometric series, |x| < 1.
fn hypergeometric(a: f64, b: f64, c: f64, x: f64) -> f64 {
    let (mut term, mut sum, mut n) = (1.0, 1.0, 0.0);
    while term > 1e-17 * sum && n < 1e6 {
        term *= (a + n) * (b + n) / ((c + n) * (n + 1.0)) * x;
        sum += term;
        n += 1.0;
    }
    sum
}

#[test]
fn square_coaxes() {
    // One eighth is a trapezium: Schwarz-Christoffel with its corners at 0, s, 1 and infinity.
    let beta_half_three_quarters = 2.396_280_469_471_184_4;
    let sides = |s: f64| {
        let diagonal = PI * 2.0_f64.sqrt() * hypergeometric(0.5, 0.25, 1.0, 1.0 - s);
        let inner = beta_half_three_quarters * s.powf(0.25) * hypergeometric(0.75, 0.5, 1.25, s);
        diagonal / inner
    };
    for (id, ratio) in [("A6.1.5", 1.5), ("A6.2", 2.0), ("A6.3", 3.0), ("A6.4", 4.0)] {
        let wanted = 2.0_f64.sqrt() * (ratio - 1.0);
        let (mut low, mut high) = (1e-3, 0.999);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if sides(middle) > wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        assert_published(id, 8.0 * first_kind_ratio(low, 1.0 - low));
    }
}

#[test]
fn checkerboards_and_coaxes() {
    assert_published("A7.1", (1.0_f64 * 4.0).sqrt());
    assert_published("A7.2", (1.0_f64 * 9.0).sqrt());
    assert_published("D5", 2.0 * PI / 2.0_f64.ln());
    let layers = 1.5_f64.ln() / 4.0 + (2.0_f64 / 1.5).ln();
    assert_published("D5.layers", 2.0 * PI / layers);
}

#[test]
fn striplines() {
    let stripline = |modulus: f64| {
        let complement = (1.0 - modulus) * (1.0 + modulus);
        4.0 * first_kind_ratio(modulus * modulus, complement)
    };
    let (width, gap, height) = (2.0, 1.0, 2.0);
    let own = (0.5 * PI * width / height).tanh();
    let both = (0.5 * PI * (width + gap) / height).tanh();
    assert_published("B1", stripline((0.5 * PI).tanh()));
    assert_published("B2e", stripline(own * both));
    assert_published("B2o", stripline(own / both));
}

/// Integral of (1 - m sin^2)^power from 0 to an angle by Simpson's rule: the incomplete elliptic
/// integral of the first kind for power -1/2, of the second for 1/2.
fn incomplete(angle: f64, parameter: f64, power: f64) -> f64 {
    let steps = 20_000;
    let step = angle / f64::from(steps);
    let weight = |i: i32| match i {
        0 => 1.0,
        i if i == steps => 1.0,
        i if i % 2 == 1 => 4.0,
        _ => 2.0,
    };
    let terms = (0..=steps).map(|i| {
        let sine = (f64::from(i) * step).sin();
        weight(i) * (1.0 - parameter * sine * sine).powf(power)
    });
    step / 3.0 * terms.sum::<f64>()
}

#[test]
fn strips_over_ground() {
    // w/(2h) = 2/pi [K E(phi) - E F(phi)], sin^2 phi = (K - E)/(m K), C = 2 eps K(m)/K(1 - m)
    // (A. E. H. Love 1923, from memory).
    let width = |m: f64| {
        let first = complete_first_kind(m);
        let second = incomplete(0.5 * PI, m, 0.5);
        let angle = ((first - second) / (m * first)).sqrt().asin();
        let partial_second = incomplete(angle, m, 0.5);
        let partial_first = incomplete(angle, m, -0.5);
        4.0 / PI * (first * partial_second - second * partial_first)
    };
    for (id, wanted) in [("B3.0.5", 0.5), ("B3.1", 1.0), ("B3.2", 2.0), ("B3.5", 5.0)] {
        let (mut low, mut high) = (1e-6, 1.0 - 1e-9);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if width(middle) < wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        // The integrals near m = 1 leave about ten digits.
        assert_published(id, 2.0 * first_kind_ratio(low, 1.0 - low));
    }
}

#[test]
fn coplanar_conductors() {
    // Both half-planes: factor 2; a symmetric guide folds to w = x^2: factor 4.
    assert_published("B4", 2.0 * between_arcs(3.0, -3.0, -1.0, 1.0));
    assert_published("B5", 2.0 * between_arcs(4.5, 0.0, 1.0, 1.5));
    assert_published("B6", 4.0 * between_arcs(36.0, 0.0, 1.0, 4.0));
    let mean = 0.5 * (1.0 + 4.4);
    assert_published("B7", mean * 4.0 * first_kind_ratio(0.25, 0.75));
}

/// Bessel function of order 0 or 1 from its integral; the periodic rule converges exponentially.
fn bessel(order: f64, x: f64) -> f64 {
    let steps = 400;
    let terms = (0..steps).map(|i| {
        let angle = 2.0 * PI * f64::from(i) / f64::from(steps);
        (order * angle - x * angle.sin()).cos()
    });
    terms.sum::<f64>() / f64::from(steps)
}

/// Zeros of J0: McMahon's first term, then Newton's method (J0' = -J1).
fn bessel_zeros(count: u32) -> impl Iterator<Item = f64> {
    (1..=count).map(|n| {
        let start = PI * (f64::from(n) - 0.25);
        (0..8).fold(start, |x, _| x + bessel(0.0, x) / bessel(1.0, x))
    })
}

/// Flux through the ceiling per volt of one mode on the floor, over its decay constant: layers of
/// (relative permittivity, thickness) as a chain of transmission lines, ceiling at 0 V.
fn transfer(decay: f64, layers: &[(f64, f64)]) -> f64 {
    // Chain matrix with flux scaled by the decay constant.
    let mut chain = [[1.0, 0.0], [0.0, 1.0]];
    for &(relative, thickness) in layers {
        let (cosh, sinh) = ((decay * thickness).cosh(), (decay * thickness).sinh());
        let next = [[cosh, sinh / relative], [sinh * relative, cosh]];
        chain = [0, 1].map(|i| [0, 1].map(|j| chain[i][0] * next[0][j] + chain[i][1] * next[1][j]));
    }
    1.0 / chain[0][1]
}

const WHOLE: [(f64, f64); 1] = [(1.0, 1.0)];
const HALVES: [(f64, f64); 2] = [(4.4, 0.5), (1.0, 0.5)];

#[test]
fn can_walls() {
    let series = |radius: f64, disc: f64, layers: &[(f64, f64)]| -> f64 {
        let terms = bessel_zeros(60).map(|zero| {
            let decay = zero / radius;
            let coefficient = 2.0 * disc / radius * bessel(1.0, zero * disc / radius)
                / (zero * bessel(1.0, zero).powi(2));
            let ceiling = 2.0 * PI * radius * radius * bessel(1.0, zero) / zero;
            coefficient * decay * transfer(decay, layers) * ceiling
        });
        terms.sum()
    };
    assert_published("D3.1", series(1.0, 1.0, &WHOLE));
    assert_published("D3.2", series(1.0, 1.0, &HALVES));
    assert_published("D4.1", series(2.0, 1.0, &WHOLE));
    assert_published("D4.2", series(2.0, 1.0, &HALVES));
}

#[test]
fn box_walls() {
    let series = |side: f64, patch: [f64; 2], layers: &[(f64, f64)]| -> f64 {
        let wave = |n: i32| f64::from(n) * PI / side;
        let patch_part =
            |n: i32| ((wave(n) * patch[0]).cos() - (wave(n) * patch[1]).cos()) / wave(n);
        let ceiling_part = |n: i32| 2.0 / wave(n);
        let mut sum = 0.0;
        for m in (1..400).step_by(2) {
            for n in (1..400).step_by(2) {
                let decay = wave(m).hypot(wave(n));
                // Beyond this the mode does not reach the ceiling.
                if decay > 40.0 {
                    break;
                }
                let coefficient = 4.0 / (side * side) * patch_part(m) * patch_part(n);
                sum += coefficient
                    * decay
                    * transfer(decay, layers)
                    * ceiling_part(m)
                    * ceiling_part(n);
            }
        }
        sum
    };
    assert_published("T1.1", series(1.0, [0.0, 1.0], &WHOLE));
    assert_published("T1.2", series(1.0, [0.0, 1.0], &HALVES));
    assert_published("T1.3", series(2.0, [0.0, 2.0], &WHOLE));
    assert_published("T2.1", series(4.0, [1.0, 3.0], &WHOLE));
    assert_published(
        "T2.2",
        series(40.0, [15.0, 25.0], &[(4.4, 1.6), (3.0, 3.0)]),
    );
}
