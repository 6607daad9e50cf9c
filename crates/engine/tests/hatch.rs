//! Screen depths of copper patterns, and screens against the copper they stand for.
//!
//! Sources: gratings exactly by conformal mapping (textbook; derivation in `crates/engine/src/hatch/mod.rs`); square
//! hatches by an independent spectral Galerkin method, `tests/reference/hatch_depth.py`; drawn strips and
//! hatches by the field engine on copper without any screen. Tables with
//! `cargo test --test all hatch:: -- --nocapture`.

use crate::screened::{MM, answer, conductor, empty, extent, layer, screen};
use padfield_engine::case::{Case, Extent, Kind, Solid, Wall};
use padfield_engine::field::FieldAnswer;
use padfield_engine::hatch::{
    HatchError, grating_depth_m, reach_beyond_last_line_m, square_hatch_depth,
};
use padfield_engine::units::VACUUM_PERMITTIVITY;

/// Half a strip on the floor of half a unit cell, mirror planes around it, under a grounded lid one
/// pitch of 1 mm above.
fn grating_cell(share: f64) -> Case {
    let mut walls = [[Wall::Insulated; 2]; 3];
    walls[1][1] = Wall::Grounded;
    let kind = Kind::Planar;
    let mut case = empty(kind, extent(kind, [0.0; 3], [0.5, 0.0, 1.0]), walls);
    let strip = extent(kind, [0.0; 3], [0.5 * share, 0.0, 0.0]);
    case.conductors = vec![conductor("strips", vec![strip])];
    case
}

#[test]
fn the_unit_cell_of_a_grating_gives_its_exact_depth() {
    for share in [0.02, 0.1, 0.3, 0.5, 0.8, 0.95] {
        let with = answer(&grating_cell(share), 8.0).with;
        let depth = |c: f64| 0.5 * (0.5 * VACUUM_PERMITTIVITY / c - 1.0);
        let computed = depth(with.value[[0, 0]]);
        let exact = grating_depth_m(1.0, share).expect("a grating");
        let interval = [&with.upper, &with.lower].map(|m| depth(m[[0, 0]]));
        println!("width {share} of the pitch: depth {computed:.6}, exact {exact:.6} pitches");
        // The lid of the cell takes at most 7e-6 off a depth.
        assert!(interval[0] <= exact && exact <= interval[1] * (1.0 + 7e-6));
        assert!((computed - exact).abs() < 1e-4, "{computed} {exact}");
    }
}

#[test]
fn a_square_hatch_leaks_what_an_independent_method_says() {
    // Width over pitch and depth over pitch of tests/reference/hatch_depth.py, good to 2e-5 of the
    // value.
    let references = [
        (0.05, 0.186_93),
        (0.1, 0.130_062),
        (0.25, 0.058_123),
        (0.5, 0.014_876),
        (0.8, 0.000_912_0),
    ];
    for (share, reference) in references {
        let start = square_hatch_depth(2.0 * MM, share * 2.0 * MM, 0.0).expect("a hatch");
        let [depth, error] = [start.depth_m, start.estimated_error_m].map(|v| v / (2.0 * MM));
        let [lower, upper] = start.interval_m.map(|v| v / (2.0 * MM));
        println!(
            "width {share} of the pitch: depth {depth:.6} ± {error:.6}, {lower:.6} to {upper:.6}, \
             reference {reference:.6} pitches"
        );
        let slack = 2e-5 * reference;
        assert!((depth - reference).abs() <= error + slack);
        assert!(lower - slack <= reference && reference <= upper + slack);
        assert!(error < 2e-3 * (1.0 + depth));
        // The same ratio at another pitch: the same bits, from the cache.
        let again = square_hatch_depth(2.0 * MM, share * 2.0 * MM, 0.0).expect("a hatch");
        assert_eq!(start, again);
    }
}

#[test]
fn depths_grow_with_the_openings_and_end_in_a_solid_sheet() {
    let mut last = f64::INFINITY;
    for share in [0.01, 0.1, 0.4, 0.7, 0.9, 1.0] {
        let hatch = square_hatch_depth(MM, share * MM, 0.0)
            .expect("a hatch")
            .depth_m;
        let grating = grating_depth_m(MM, share * MM).expect("a grating");
        assert!(hatch < last, "{share}: {hatch:e}");
        // A hatch is the grating and more copper.
        assert!(hatch <= grating);
        last = hatch;
    }
    assert_eq!(last, 0.0);
    assert_eq!(grating_depth_m(MM, MM).expect("a sheet"), 0.0);
}

#[test]
fn what_is_no_pattern_is_refused() {
    for (pitch, width) in [
        (MM, 0.0),
        (MM, 1.1 * MM),
        (MM, -MM),
        (0.0, 0.0),
        (MM, f64::NAN),
        (f64::INFINITY, MM),
        (MM, 1e-4 * MM),
    ] {
        let refused = square_hatch_depth(pitch, width, 0.0).expect_err("no hatch");
        assert!(matches!(refused, HatchError::NoPattern { .. }), "{refused}");
        assert!(grating_depth_m(pitch, width).is_err());
    }
    for thickness in [-1e-6, 1.1 * MM, f64::NAN] {
        assert!(square_hatch_depth(MM, 0.1 * MM, thickness).is_err());
    }
    let refused = square_hatch_depth(MM, 2.0 * MM, 0.0).expect_err("no hatch");
    assert_eq!(
        refused.to_string(),
        "lines 0.002 m wide and 0 m thick every 0.001 m are no hatch: the width must lie between a \
         thousandth of the pitch and the pitch, the thickness between 0 and the pitch"
    );
}

/// Percent that entry i, j over a screen is off from that over the copper drawn.
fn off(drawn: &FieldAnswer, screened: &FieldAnswer, i: usize, j: usize) -> f64 {
    100.0 * (screened.with.value[[i, j]] / drawn.with.value[[i, j]] - 1.0)
}

/// A grating of 21 strips every millimetre in a board under a pad, a plate behind it, both `height`
/// from the strips; lengths in mm.
fn over_strips(pad: f64, height: f64, width: f64, effective: bool) -> Case {
    let kind = Kind::Planar;
    let at = |x: [f64; 2], z: [f64; 2]| extent(kind, [x[0], 0.0, z[0]], [x[1], 0.0, z[1]]);
    let walls = [[Wall::Open; 2]; 3];
    let mut case = empty(kind, at([-60.0, 60.0], [-60.0, 60.0]), walls);
    case.dielectrics = vec![
        layer("board", 4.4, at([-60.0, 60.0], [-height, height])),
        layer("overlay", 2.8, at([-60.0, 60.0], [height, height + 3.0])),
    ];
    case.conductors = vec![
        conductor("pad", vec![at([-0.5 * pad, 0.5 * pad], [height; 2])]),
        conductor("plate", vec![at([-9.0, 9.0], [-height; 2])]),
        conductor("hatch", Vec::new()),
    ];
    if effective {
        let depth_m = grating_depth_m(MM, width * MM).expect("a grating");
        case.screens = vec![screen(at([-10.5, 10.5], [0.0; 2]), depth_m)];
    } else {
        case.conductors[2].solids = (-10..=10)
            .map(f64::from)
            .map(|x| Solid::Block(at([x - 0.5 * width, x + 0.5 * width], [0.0; 2])))
            .collect();
    }
    case
}

/// Height over pitch, accepted error of the base and of the coupling through the strips \[%\]: the
/// largest measured over these pads and widths, a fifth more for pads between them.
const BANDS: [(f64, f64, f64); 4] = [
    (0.25, 2.0, 7.5),
    (0.5, 0.18, 0.9),
    (1.0, 0.03, 0.5),
    (2.0, 0.05, 2.1),
];

#[test]
fn a_screen_stands_for_drawn_strips_from_half_a_pitch_up() {
    println!(
        "off by %, worst of four pads: height/pitch, width/pitch, base, coupling to the plate, to the \
         strips"
    );
    for (height, base_limit, coupling_limit) in BANDS {
        for width in [0.1, 0.3, 0.6] {
            let mut worst = [0.0_f64; 3];
            for pad in [8.0, 8.25, 8.5, 8.75] {
                let drawn = answer(&over_strips(pad, height, width, false), 3.0);
                let screened = answer(&over_strips(pad, height, width, true), 3.0);
                for (slot, j) in worst.iter_mut().zip(0..3) {
                    let off = off(&drawn, &screened, 0, j);
                    if off.abs() > slot.abs() {
                        *slot = off;
                    }
                }
            }
            let [base, plate, strips] = worst;
            println!("{height:5} {width:5} {base:+8.3} {plate:+8.3} {strips:+8.3}");
            assert!(base.abs() < base_limit, "{height} {width}: {worst:?}");
            assert!(plate.abs() < coupling_limit, "{height} {width}: {worst:?}");
        }
    }
}

/// A square hatch of 2 mm pitch in a board: `lines` both ways, `width` wide, cut at `outline`; lengths in
/// mm.
#[derive(Clone, Copy)]
struct Hatch {
    lines: &'static [f64],
    width: f64,
    thickness: f64,
    outline: f64,
}

/// The edges of a pad of 6 mm lie half way between these lines.
const EVEN: &[f64] = &[-4.0, -2.0, 0.0, 2.0, 4.0];
/// The edges of a pad of 6 mm lie on lines.
const ODD: &[f64] = &[-5.0, -3.0, -1.0, 1.0, 3.0, 5.0];

/// The hatch under a pad of 6 mm at `height` over its middle, a plate 1.6 mm behind; as a screen when it
/// gets the reach of one.
fn over_hatch(hatch: Hatch, height: f64, reach: Option<f64>) -> Case {
    let kind = Kind::Volume;
    let at = |x: [f64; 2], y: [f64; 2], z: [f64; 2]| -> Extent {
        extent(kind, [x[0], y[0], z[0]], [x[1], y[1], z[1]])
    };
    let all = [-25.0, 25.0];
    let mut case = empty(kind, at(all, all, all), [[Wall::Open; 2]; 3]);
    case.dielectrics = vec![
        layer("overlay", 2.8, at(all, all, [height, height + 3.0])),
        layer("board", 4.4, at(all, all, [-1.6, height])),
    ];
    let square = |half: f64, z: f64| at([-half, half], [-half, half], [z; 2]);
    case.conductors = vec![
        conductor("pad", vec![square(3.0, height)]),
        conductor("plate", vec![square(6.0, -1.6)]),
        conductor("hatch", Vec::new()),
    ];
    let Hatch {
        lines,
        width,
        thickness,
        outline,
    } = hatch;
    if let Some(reach) = reach {
        let depth = square_hatch_depth(2.0 * MM, width * MM, thickness * MM).expect("a hatch");
        case.screens = vec![screen(square(reach, 0.0), depth.depth_m)];
    } else {
        let half = 0.5 * width;
        let levels = [-0.5 * thickness, 0.5 * thickness];
        let drawn = lines.iter().flat_map(|&c| {
            let (line, long) = ([c - half, c + half], [-outline, outline]);
            [at(line, long, levels), at(long, line, levels)]
        });
        case.conductors[2].solids = drawn.map(Solid::Block).collect();
    }
    case
}

/// Percent that a screen is off from the drawn hatch: base of the pad, its coupling to the plate and
/// to the hatch, the plate and the hatch themselves.
fn off_of(hatch: Hatch, height: f64, reach: f64) -> [f64; 5] {
    let drawn = answer(&over_hatch(hatch, height, None), 1.5);
    let screened = answer(&over_hatch(hatch, height, Some(reach)), 1.5);
    let pairs = [(0, 0), (0, 1), (0, 2), (1, 1), (2, 2)];
    let off = pairs.map(|(i, j)| off(&drawn, &screened, i, j));
    println!(
        "{:5} {:5} {:6} {height:5} {reach:6.3}  {}  cells {} and {}",
        hatch.width,
        hatch.thickness,
        hatch.outline,
        off.map(|v| format!("{v:+7.2}")).join(" "),
        drawn.grid.cells,
        screened.grid.cells
    );
    off
}

/// Height over pitch, accepted error of the base and of the coupling through the hatch \[%\]: the
/// largest measured, a fifth more. The drawn copper itself is solved to an estimated 0.2 % of the
/// base and 0.7 % of the coupling.
const HATCH_BANDS: [(f64, f64, f64); 4] = [
    (0.25, 0.6, 5.4),
    (0.5, 0.12, 2.5),
    (0.8, 0.12, 2.2),
    (1.5, 0.12, 2.5),
];

#[test]
fn a_screen_stands_for_a_drawn_hatch() {
    println!(
        "off by %: width, thickness, outline, height, reach; base, to plate, to hatch, plate, hatch"
    );
    for (height, base_limit, coupling_limit) in HATCH_BANDS {
        for width in [0.2, 1.0] {
            for (lines, outline) in [(EVEN, 5.0), (ODD, 6.0)] {
                // Where the pad's edges lie matters close to the hatch only.
                if lines == ODD && height > 0.25 {
                    continue;
                }
                let hatch = Hatch {
                    lines,
                    width,
                    thickness: 0.0,
                    outline,
                };
                let [base, coupling, ..] = off_of(hatch, 2.0 * height, outline);
                assert!(base.abs() < base_limit, "{base}");
                assert!(coupling.abs() < coupling_limit, "{coupling}");
            }
        }
    }
}

#[test]
fn a_hatch_that_ends_in_a_line_reaches_a_quarter_of_the_pitch_further() {
    for width in [0.2, 0.5] {
        let hatch = Hatch {
            lines: EVEN,
            width,
            thickness: 0.0,
            outline: 4.0 + 0.5 * width,
        };
        let reach = 4.0 + reach_beyond_last_line_m(2.0, 0.5 * width);
        let [base, coupling, ..] = off_of(hatch, 1.6, reach);
        // A tenth of a millimetre of reach is worth 3 to 4 % of the coupling; the copper alone, without
        // what it reaches beyond itself, would be 12 % and more off.
        assert!(base.abs() < 0.3, "{base}");
        assert!(coupling.abs() < 5.0, "{coupling}");
    }
}

#[test]
fn thick_copper_leaks_less_by_what_its_depth_says() {
    let hatch = Hatch {
        lines: EVEN,
        width: 0.2,
        thickness: 0.035,
        outline: 5.0,
    };
    let [base, coupling, ..] = off_of(hatch, 1.6, 5.0);
    // With the depth of thin copper the coupling would be 10 % too large.
    assert!(base.abs() < 0.3, "{base}");
    assert!(coupling.abs() < 2.5, "{coupling}");
}
