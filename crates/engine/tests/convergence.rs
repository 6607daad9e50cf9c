//! How value and interval close in on exact solutions as the grid is refined, each axis stretched
//! in turn.
//!
//! Source of the exact numbers: a thin sheet at mid-height of a grounded rectangle, conformal map
//! by Jacobi's sn (F. Oberhettinger and W. Magnus, Anwendung der elliptischen Funktionen in Physik
//! und Technik, Springer 1949, from memory), the checks A1.1 to A1.5 of the catalogue; C over
//! vacuum permittivity.

use padfield_engine::case::{Case, Conductor, Extent, Kind, Solid, Wall};
use padfield_engine::field::{FieldAnswer, Settings, solve};
use padfield_engine::units::VACUUM_PERMITTIVITY;

const MM: f64 = 1e-3;
/// Any estimated error is good enough: the first grid is the answer.
const FIRST_GRID: f64 = 1e9;
const FINENESSES: [f64; 4] = [2.0, 3.0, 4.0, 6.0];

/// A sheet `[from, to]` at mid-height of a grounded box, lengths in mm.
#[derive(Clone, Copy)]
struct Strip {
    id: &'static str,
    width: f64,
    height: f64,
    from: f64,
    to: f64,
    exact: f64,
}

const STRIPS: [Strip; 5] = [
    Strip {
        id: "A1.1",
        width: 2.0,
        height: 1.0,
        from: 0.5,
        to: 1.5,
        exact: 5.876_872_126_5,
    },
    Strip {
        id: "A1.2",
        width: 4.0,
        height: 2.0,
        from: 1.5,
        to: 2.5,
        exact: 3.773_555_648_8,
    },
    Strip {
        id: "A1.3",
        width: 4.0,
        height: 2.0,
        from: 0.5,
        to: 1.5,
        exact: 4.041_903_836_4,
    },
    Strip {
        id: "A1.4",
        width: 4.0,
        height: 2.0,
        from: 0.2,
        to: 2.7,
        exact: 7.757_215_839_6,
    },
    Strip {
        id: "A1.5",
        width: 10.0,
        height: 2.0,
        from: 1.0,
        to: 2.0,
        exact: 3.806_102_580_5,
    },
];

impl Strip {
    /// The case; `upright` exchanges the axes, so that the long side lies along y.
    fn case(self, upright: bool) -> Case {
        let turn = |x: f64, y: f64| {
            let (x, y) = if upright { (y, x) } else { (x, y) };
            [x * MM, y * MM, 0.0]
        };
        let middle = 0.5 * self.height;
        let mut walls = [[Wall::Grounded; 2]; 3];
        walls[2] = [Wall::Insulated; 2];
        Case {
            id: self.id.into(),
            title: self.id.into(),
            kind: Kind::Planar,
            domain: Extent {
                low_m: [0.0; 3],
                high_m: turn(self.width, self.height),
            },
            walls,
            background_relative_permittivity: 1.0,
            dielectrics: Vec::new(),
            screens: Vec::new(),
            conductors: vec![Conductor {
                name: "strip".into(),
                solids: vec![Solid::Block(Extent {
                    low_m: turn(self.from, middle),
                    high_m: turn(self.to, middle),
                })],
            }],
        }
    }
}

fn answer(case: &Case, fineness: f64) -> FieldAnswer {
    let settings = Settings {
        accuracy: FIRST_GRID,
        start_fineness: Some(fineness),
        ..Settings::default()
    };
    solve(case, None, &settings, &|_| {}).expect("an answer")
}

/// What one grid says about a strip, over the exact value.
#[derive(Clone, Copy, Debug)]
struct Reading {
    below: f64,
    above: f64,
    value: f64,
    estimated: f64,
}

fn reading(strip: Strip, upright: bool, fineness: f64) -> Reading {
    let answer = answer(&strip.case(upright), fineness);
    assert_eq!(answer.grid.fineness, fineness);
    let over = |matrix: &ndarray::Array2<f64>| matrix[[0, 0]] / (VACUUM_PERMITTIVITY * strip.exact);
    let reading = Reading {
        below: over(&answer.with.guaranteed_below),
        above: over(&answer.with.guaranteed_above),
        value: over(&answer.with.value),
        estimated: over(&answer.with.estimated_error),
    };
    println!(
        "{} upright {upright} M {fineness}: {} cells, below {:+.4} %, value {:+.5} %, \
         above {:+.4} %, estimated {:.5} %",
        strip.id,
        answer.grid.cells,
        100.0 * (reading.below - 1.0),
        100.0 * (reading.value - 1.0),
        100.0 * (reading.above - 1.0),
        100.0 * reading.estimated
    );
    reading
}

/// Both orientations of every strip at every fineness.
fn for_all(check: impl Fn(&str, &[Reading])) {
    for strip in STRIPS {
        for upright in [false, true] {
            let readings = FINENESSES.map(|m| reading(strip, upright, m));
            check(&format!("{} upright {upright}", strip.id), &readings);
        }
    }
}

#[test]
fn the_exact_value_lies_in_the_guaranteed_interval_at_every_fineness() {
    for_all(|name, readings| {
        for r in readings {
            assert!(r.below <= 1.0 && 1.0 <= r.above, "{name}: {r:?}");
            assert!(r.below <= r.value && r.value <= r.above, "{name}: {r:?}");
        }
    });
}

#[test]
fn the_guaranteed_interval_shrinks_faster_than_the_cells_to_the_power_one_and_a_half() {
    // Stretches hold whole numbers of cells: only grids that nest, M and 2 M, compare like with
    // like.
    for_all(|name, readings| {
        for [coarse, fine] in [[0, 2], [1, 3]] {
            let width = |i: usize| readings[i].above - readings[i].below;
            let order = (width(coarse) / width(fine)).log2();
            println!("{name}: order {order:.2} from M {}", FINENESSES[coarse]);
            assert!(
                order >= 1.5,
                "{name} from M {}: {order}",
                FINENESSES[coarse]
            );
        }
    });
}

#[test]
fn the_value_is_within_a_fiftieth_of_a_percent_at_fineness_four() {
    for_all(|name, readings| {
        let error = (readings[2].value - 1.0).abs();
        assert!(error < 2e-4, "{name}: {error}");
    });
}

#[test]
fn the_estimated_error_covers_the_true_one() {
    for_all(|name, readings| {
        for r in readings {
            assert!((r.value - 1.0).abs() <= r.estimated, "{name}: {r:?}");
        }
    });
}
