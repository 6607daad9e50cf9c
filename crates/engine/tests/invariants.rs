//! What every capacitance matrix must obey, over random small panels: in cross-section and in
//! three dimensions.

use ndarray::Array2;
use padfield_engine::case::{Case, Conductor, Dielectric, Extent, Kind, Solid, Wall};
use padfield_engine::field::{Bounded, FieldAnswer, Settings, solve};
use proptest::prelude::*;

const MM: f64 = 1e-3;
/// Any estimated error is good enough: the first grid is the answer.
const FIRST_GRID: f64 = 1e9;
/// Coarse grids: the laws hold on every grid, and the error bars know the grid.
const FINENESS_PLANE: f64 = 1.5;
const FINENESS_VOLUME: f64 = 0.4;
/// Iterations end when the energy changes by 1e-8 per step, conductances are held in f32: what
/// is exact otherwise agrees to this share of the diagonals.
const SOLVER: f64 = 1e-6;

/// A panel on a board, its pads in a row; lengths in mm.
#[derive(Clone, Debug)]
struct Panel {
    volume: bool,
    board: (f64, f64),
    overlay: (f64, f64),
    pads: Vec<f64>,
    gap: f64,
    depth: f64,
    margin: f64,
    copper: f64,
    /// Ground plane below the board.
    ground: bool,
    /// Finger on the overlay: width, offset from the middle of the first pad, height.
    finger: Option<(f64, f64, f64)>,
    open: bool,
}

fn panels(volume: bool, finger: bool) -> impl Strategy<Value = Panel> {
    let finger = (4.0..8.0_f64, -1.0..1.0_f64, 1.0..3.0_f64).prop_map(move |f| finger.then_some(f));
    // Copper that is neither thick nor thin would only cost cells.
    let copper = prop_oneof![Just(0.0), Just(0.2)];
    (
        (0.6..1.6_f64, 2.0..10.0_f64),
        (0.8..3.0_f64, 2.0..8.0_f64),
        prop::collection::vec(3.0..6.0_f64, 2..4),
        0.5..2.5_f64,
        3.0..6.0_f64,
        3.0..6.0_f64,
        copper,
        any::<bool>(),
        finger,
        any::<bool>(),
    )
        .prop_map(
            move |(board, overlay, pads, gap, depth, margin, copper, ground, finger, open)| Panel {
                volume,
                board,
                overlay,
                pads,
                gap,
                depth,
                margin,
                copper,
                ground,
                finger,
                open,
            },
        )
}

/// Air below and above the stack [mm].
const AIR_BELOW: f64 = 2.0;
const AIR_ABOVE: f64 = 5.0;

impl Panel {
    /// An extent from ranges across, along and up [mm]; the cross-section has no along.
    fn extent(&self, across: [f64; 2], along: [f64; 2], up: [f64; 2]) -> Extent {
        let corner = |i: usize| {
            if self.volume {
                [across[i] * MM, along[i] * MM, up[i] * MM]
            } else {
                [across[i] * MM, up[i] * MM, 0.0]
            }
        };
        Extent {
            low_m: corner(0),
            high_m: corner(1),
        }
    }

    fn case(&self) -> Case {
        let pads: f64 = self.pads.iter().sum();
        let width = 2.0 * self.margin + pads + self.gap * (self.pads.len() - 1) as f64;
        // Off the middle along, so that no mirror plane hides anything.
        let along = [self.margin, self.margin + self.depth];
        let depth = [0.0, 2.3 * self.margin + self.depth];
        let board = AIR_BELOW + self.board.0;
        let face = board + self.overlay.0;
        let top = face + AIR_ABOVE;
        let across = [0.0, width];
        let mut conductors = Vec::new();
        let mut add = |name: String, extent: Extent| {
            conductors.push(Conductor {
                name,
                solids: vec![Solid::Block(extent)],
            });
        };
        let mut x = self.margin;
        for (i, pad) in self.pads.iter().enumerate() {
            let up = [board, board + self.copper];
            add(format!("pad {i}"), self.extent([x, x + pad], along, up));
            x += pad + self.gap;
        }
        if self.ground {
            let inset = 0.5 * self.margin;
            let ground = self.extent(
                [inset, width - inset],
                [inset, depth[1] - inset],
                [AIR_BELOW, AIR_BELOW],
            );
            add("ground".into(), ground);
        }
        if let Some((size, offset, height)) = self.finger {
            let middle = self.margin + 0.5 * self.pads[0] + offset;
            let finger = self.extent(
                [(middle - 0.5 * size).max(0.4), middle + 0.5 * size],
                [along[0] + 0.7, along[1] - 0.4],
                [face, face + height],
            );
            add("finger".into(), finger);
        }
        let wall = if self.open {
            Wall::Open
        } else {
            Wall::Grounded
        };
        let mut walls = [[wall; 2]; 3];
        if !self.volume {
            walls[2] = [Wall::Insulated; 2];
        }
        let layer = |name: &str, (low, high): (f64, f64), relative_permittivity| Dielectric {
            name: name.into(),
            relative_permittivity,
            extent: self.extent(across, depth, [low, high]),
            comes_with: None,
        };
        Case {
            id: "random".into(),
            title: "random panel".into(),
            kind: if self.volume {
                Kind::Volume
            } else {
                Kind::Planar
            },
            domain: self.extent(across, depth, [0.0, top]),
            walls,
            background_relative_permittivity: 1.0,
            dielectrics: vec![
                layer("board", (AIR_BELOW, board), self.board.1),
                layer("overlay", (board, face), self.overlay.1),
            ],
            screens: Vec::new(),
            conductors,
        }
    }
}

fn settings(case: &Case) -> Settings {
    Settings {
        accuracy: FIRST_GRID,
        start_fineness: Some(if case.kind == Kind::Volume {
            FINENESS_VOLUME
        } else {
            FINENESS_PLANE
        }),
        ..Settings::default()
    }
}

fn answer(case: &Case, without: Option<&str>) -> FieldAnswer {
    solve(case, without, &settings(case), &|_| {}).expect("an answer")
}

/// Every coordinate of a case through `change(axis, coordinate)`, bounds put in order again.
fn moved(case: &Case, change: impl Fn(usize, f64) -> f64) -> Case {
    let mut case = case.clone();
    let apply = |extent: &mut Extent| {
        for d in 0..3 {
            let (a, b) = (change(d, extent.low_m[d]), change(d, extent.high_m[d]));
            extent.low_m[d] = a.min(b);
            extent.high_m[d] = a.max(b);
        }
    };
    apply(&mut case.domain);
    case.dielectrics
        .iter_mut()
        .for_each(|d| apply(&mut d.extent));
    for solid in case.conductors.iter_mut().flat_map(|c| &mut c.solids) {
        match solid {
            Solid::Block(extent) => apply(extent),
            _ => unreachable!("only blocks here"),
        }
    }
    case
}

/// Entry by entry, `|a - b|` at most `share` of the geometric mean of the diagonals plus `bars`.
fn close(
    a: &Array2<f64>,
    b: &Array2<f64>,
    share: f64,
    bars: Option<&Array2<f64>>,
) -> Result<(), TestCaseError> {
    prop_assert_eq!(a.dim(), b.dim());
    for ((i, j), value) in a.indexed_iter() {
        let size = (a[[i, i]] * a[[j, j]]).sqrt();
        let allowed = share * size + bars.map_or(0.0, |bars| bars[[i, j]]);
        let off = (value - b[[i, j]]).abs();
        prop_assert!(
            off <= allowed,
            "entry {i},{j}: {value:e} and {:e} differ by {off:e}, allowed {allowed:e}",
            b[[i, j]]
        );
    }
    Ok(())
}

/// Smallest pivot of Cholesky's factorisation over the largest diagonal: not below 0 for a positive
/// semi-definite matrix.
fn smallest_pivot(matrix: &Array2<f64>) -> f64 {
    let mut a = matrix.clone();
    let n = a.nrows();
    let size = a
        .diag()
        .iter()
        .fold(f64::MIN_POSITIVE, |m, v| m.max(v.abs()));
    let mut smallest = f64::INFINITY;
    for k in 0..n {
        let pivot = a[[k, k]];
        smallest = smallest.min(pivot / size);
        if pivot <= 0.0 {
            break;
        }
        for i in k + 1..n {
            let factor = a[[i, k]] / pivot;
            for j in k + 1..n {
                a[[i, j]] -= factor * a[[k, j]];
            }
        }
    }
    smallest
}

/// Symmetric, no negative capacitance to ground, bounds in order, shares that sum to 1.
fn lawful(matrix: &Bounded) -> Result<(), TestCaseError> {
    let value = &matrix.value;
    let n = value.nrows();
    close(value, &value.t().to_owned(), 1e-12, None)?;
    for i in 0..n {
        let tolerance: f64 = matrix.estimated_error.row(i).sum();
        prop_assert!(value.row(i).sum() >= -tolerance, "row {i}: {value:e}");
        let (below, above) = (&matrix.guaranteed_below, &matrix.guaranteed_above);
        prop_assert!(
            below[[i, i]] <= value[[i, i]] && value[[i, i]] <= above[[i, i]],
            "diagonal {i}: {:e} {:e} {:e}",
            below[[i, i]],
            value[[i, i]],
            above[[i, i]]
        );
        for j in 0..n {
            let entry = value[[i, j]];
            prop_assert!(matrix.lower[[i, j]] <= entry && entry <= matrix.upper[[i, j]]);
            prop_assert!(i == j || entry <= matrix.estimated_error[[i, j]]);
        }
        let share: f64 = matrix.energy_share.row(i).sum();
        prop_assert!((share - 1.0).abs() < 1e-6, "energy shares of {i}: {share}");
    }
    let width = &matrix.guaranteed_above - &matrix.guaranteed_below;
    let pivot = smallest_pivot(&width);
    prop_assert!(pivot >= 0.0, "pivot {pivot:e} of {width:e}");
    Ok(())
}

/// Mirrored and doubled cases, doubled permittivities, exchanged conductors.
fn transforms_as_it_must(case: &Case) -> Result<(), TestCaseError> {
    let first = answer(case, None).with;
    lawful(&first)?;

    let doubled = answer(&moved(case, |_, x| 2.0 * x), None).with;
    let factor = if case.kind == Kind::Volume { 2.0 } else { 1.0 };
    let bars = &first.estimated_error * factor + &doubled.estimated_error;
    close(
        &(&first.value * factor),
        &doubled.value,
        SOLVER,
        Some(&bars),
    )?;

    let mut denser = case.clone();
    denser.background_relative_permittivity *= 2.0;
    for dielectric in &mut denser.dielectrics {
        dielectric.relative_permittivity *= 2.0;
    }
    let denser = answer(&denser, None).with;
    close(&(&first.value * 2.0), &denser.value, 1e-5, None)?;

    let far = case.domain.high_m[0];
    let mirrored = answer(&moved(case, |d, x| if d == 0 { far - x } else { x }), None).with;
    close(&first.value, &mirrored.value, SOLVER, None)?;

    let mut exchanged = case.clone();
    exchanged.conductors.reverse();
    let exchanged = answer(&exchanged, None).with;
    let n = first.value.nrows();
    let back = Array2::from_shape_fn((n, n), |(i, j)| exchanged.value[[n - 1 - i, n - 1 - j]]);
    close(&first.value, &back, SOLVER, None)
}

/// More copper at 0 V and more permittivity can only raise a diagonal.
fn grows_as_it_must(case: &Case, layer: usize, factor: f64) -> Result<(), TestCaseError> {
    let touched = answer(case, Some("finger"));
    lawful(&touched.with)?;
    let shift = touched.shift.expect("a shift");
    lawful(&shift.without)?;
    for (i, rise) in shift.shift.diag().iter().enumerate() {
        let bar = shift.estimated_error[[i, i]] + SOLVER * shift.without.value[[i, i]];
        prop_assert!(*rise >= -bar, "diagonal {i}: {rise:e}, bar {bar:e}");
    }
    let mut denser = case.clone();
    denser.dielectrics[layer].relative_permittivity *= factor;
    let denser = answer(&denser, None).with;
    for i in 0..denser.value.nrows() {
        let (before, after) = (touched.with.value[[i, i]], denser.value[[i, i]]);
        let bar = touched.with.estimated_error[[i, i]] + denser.estimated_error[[i, i]];
        prop_assert!(after >= before - bar, "diagonal {i}: {before:e}, {after:e}");
        // The upper bound of one grid rises strictly.
        let above = |m: &Bounded| m.guaranteed_above[[i, i]];
        prop_assert!(above(&denser) >= above(&touched.with) * (1.0 - SOLVER));
    }
    Ok(())
}

fn same_bits(case: &Case) -> Result<(), TestCaseError> {
    let answers = [1, 2, 5].map(|threads| {
        rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool")
            .install(|| answer(case, Some("finger")))
    });
    for other in &answers[1..] {
        prop_assert_eq!(&answers[0].with, &other.with);
        prop_assert_eq!(&answers[0].shift, &other.shift);
        prop_assert_eq!(&answers[0].solver.iterations, &other.solver.iterations);
    }
    Ok(())
}

/// The panel made symmetric: one pad in the middle, its two neighbours joined into one guard.
fn symmetric(panel: &Panel) -> Case {
    let panel = Panel {
        pads: vec![panel.pads[1], panel.pads[0], panel.pads[1]],
        finger: None,
        ..panel.clone()
    };
    let mut case = panel.case();
    let right = case.conductors.remove(2);
    case.conductors[0].solids.extend(right.solids);
    case
}

fn symmetry_changes_nothing(case: &Case) -> Result<(), TestCaseError> {
    let halved = answer(case, None);
    prop_assert_eq!(&halved.grid.mirrors, &["x".to_string()]);
    let whole = Settings {
        use_symmetry: false,
        ..settings(case)
    };
    let whole = solve(case, None, &whole, &|_| {}).expect("an answer");
    prop_assert!(whole.grid.mirrors.is_empty());
    prop_assert!(whole.grid.cells > halved.grid.cells);
    let bars = &whole.with.estimated_error + &halved.with.estimated_error;
    close(&whole.with.value, &halved.with.value, SOLVER, Some(&bars))
}

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(1),
        max_shrink_iters: 8,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(cases(12))]

    #[test]
    fn sections_transform_as_they_must(panel in panels(false, true)) {
        transforms_as_it_must(&panel.case())?;
    }

    #[test]
    fn sections_grow_as_they_must(panel in panels(false, true), layer in 0..2_usize, factor in 1.05..3.0_f64) {
        grows_as_it_must(&panel.case(), layer, factor)?;
    }

    #[test]
    fn sections_have_the_same_bits_on_any_number_of_threads(panel in panels(false, true)) {
        same_bits(&panel.case())?;
    }

    #[test]
    fn symmetry_changes_no_section(panel in panels(false, false)) {
        symmetry_changes_nothing(&symmetric(&panel))?;
    }
}

proptest! {
    #![proptest_config(cases(12))]

    #[test]
    fn volumes_transform_as_they_must(panel in panels(true, true)) {
        transforms_as_it_must(&panel.case())?;
    }

    #[test]
    fn volumes_grow_as_they_must(panel in panels(true, true), layer in 0..2_usize, factor in 1.05..3.0_f64) {
        grows_as_it_must(&panel.case(), layer, factor)?;
    }

    #[test]
    fn volumes_have_the_same_bits_on_any_number_of_threads(panel in panels(true, true)) {
        same_bits(&panel.case())?;
    }

    #[test]
    fn symmetry_changes_no_volume(panel in panels(true, false)) {
        symmetry_changes_nothing(&symmetric(&panel))?;
    }
}

#[test]
fn the_pivot_tells_definite_from_indefinite() {
    let matrix = |a: f64| Array2::from_shape_fn((2, 2), |(i, j)| if i == j { 1.0 } else { a });
    assert!(smallest_pivot(&matrix(0.9)) > 0.0);
    assert!(smallest_pivot(&matrix(1.1)) < 0.0);
}
