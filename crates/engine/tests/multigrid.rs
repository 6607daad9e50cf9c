//! The multigrid iteration on conductance networks built here: iterations over sizes, gradings and
//! contrasts, and its arithmetic against naive loops and a direct factorisation.

use padfield_engine::case::{Case, Conductor, Dielectric, Extent, Kind, Solid, Wall};
use padfield_engine::grid;
use padfield_engine::multigrid::{Hierarchy, Network, Solved, Stopping, solve};

/// Residual reduction asked of every iteration count.
const REDUCTION: f64 = 1e-10;
/// Most iterations to it: measured evidence in three dimensions and in the plane.
const MOST_IN_VOLUME: usize = 12;
const MOST_IN_PLANE: usize = 26;
/// The same with layers of 50 um and below.
const MOST_WITH_THIN_LAYERS: usize = 15;
/// How much the count may grow from the smallest to the largest network of a family.
const FLAT: usize = 3;

const MM: f64 = 1e-3;

/// How nodes lie between the lines of an axis.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Spacing {
    /// Equal steps.
    Uniform,
    /// Square-root grading towards both ends of every stretch.
    Root,
    /// The axes the engine makes for the same panel.
    Engine,
}

/// Where a network lives: lines of each axis [m] and how densely nodes lie between them.
struct Layout {
    lines: [Vec<f64>; 3],
    spacing: Spacing,
    plane: bool,
    /// Level of the driven sheet: index of the line along the vertical axis.
    sheet_level: usize,
    /// Permittivity between two lines of the vertical axis.
    layers: Vec<f64>,
}

/// Nodes between `a` and `b`: equal steps, or a square-root grading towards both ends, where the
/// spacing grows as the root of the distance.
fn between(a: f64, b: f64, cells: usize, graded: bool) -> impl Iterator<Item = f64> {
    (0..cells).map(move |i| {
        let t = i as f64 / cells as f64;
        let t = if graded {
            (0.5 * std::f64::consts::PI * t).sin().powi(2)
        } else {
            t
        };
        a + (b - a) * t
    })
}

/// Nodes through all lines, with their rank; cells are shared out by the root of each stretch when
/// graded, by its length otherwise.
fn nodes(lines: &[f64], cells: usize, graded: bool) -> (Vec<f64>, Vec<u8>) {
    let weight = |w: &[f64]| {
        if graded {
            (w[1] - w[0]).sqrt()
        } else {
            w[1] - w[0]
        }
    };
    let total: f64 = lines.windows(2).map(weight).sum();
    let (mut at, mut rank) = (Vec::new(), Vec::new());
    for w in lines.windows(2) {
        let share = ((weight(w) / total * cells as f64).round() as usize).max(2);
        for (i, x) in between(w[0], w[1], share, graded).enumerate() {
            at.push(x);
            rank.push(if i == 0 { 2 } else { 0 });
        }
    }
    at.push(lines[lines.len() - 1]);
    rank.push(2);
    (at, rank)
}

impl Layout {
    /// A pad on a board below an overlay: permittivities 4.4, `overlay` and 1.
    fn panel(overlay: f64, thickness_m: f64, spacing: Spacing, plane: bool) -> Self {
        let across = vec![0.0, 12.0 * MM, 20.0 * MM, 35.0 * MM];
        let up = vec![0.0, 1.6 * MM, 1.6 * MM + thickness_m, 15.0 * MM];
        Self {
            lines: if plane {
                [across, up, vec![]]
            } else {
                [across.clone(), across, up]
            },
            spacing,
            plane,
            sheet_level: 1,
            layers: vec![4.4, overlay, 1.0],
        }
    }

    fn vertical(&self) -> usize {
        if self.plane { 1 } else { 2 }
    }

    /// Nodes and ranks of each axis: about `cells` cells along each, or, with the engine's axes,
    /// about as many nodes in all.
    fn axes(&self, cells: usize) -> [(Vec<f64>, Vec<u8>); 3] {
        if self.spacing == Spacing::Engine {
            return self.engine_axes(cells);
        }
        [0, 1, 2].map(|d| {
            if self.lines[d].is_empty() {
                (vec![0.0], vec![0])
            } else {
                nodes(&self.lines[d], cells, self.spacing == Spacing::Root)
            }
        })
    }

    fn engine_axes(&self, cells: usize) -> [(Vec<f64>, Vec<u8>); 3] {
        let case = self.case();
        let wanted = cells.pow(if self.plane { 2 } else { 3 });
        let at = |fineness: f64| grid::axes(&case, fineness).map(|a| (a.nodes_m, a.rank));
        let size =
            |axes: &[(Vec<f64>, Vec<u8>); 3]| axes.iter().map(|a| a.0.len()).product::<usize>();
        let mut fineness = 0.5;
        let mut axes = at(fineness);
        while size(&axes) < wanted {
            fineness *= 1.03;
            axes = at(fineness);
        }
        axes
    }

    /// The same panel as a field case.
    fn case(&self) -> Case {
        let vertical = self.vertical();
        let (low, high) = (
            [0, 1, 2].map(|_| 0.0),
            self.lines.each_ref().map(|l| l.last()),
        );
        let domain = Extent {
            low_m: low,
            high_m: high.map(|h| h.copied().unwrap_or(0.0)),
        };
        let mut sheet = domain;
        for d in 0..vertical {
            (sheet.low_m[d], sheet.high_m[d]) = (self.lines[d][1], self.lines[d][2]);
        }
        let level = self.lines[vertical][self.sheet_level];
        (sheet.low_m[vertical], sheet.high_m[vertical]) = (level, level);
        let layer = |(i, &relative_permittivity): (usize, &f64)| {
            let mut extent = domain;
            extent.low_m[vertical] = self.lines[vertical][i];
            extent.high_m[vertical] = self.lines[vertical][i + 1];
            Dielectric {
                name: format!("layer {i}"),
                relative_permittivity,
                extent,
                comes_with: None,
            }
        };
        Case {
            id: "panel".into(),
            title: "one pad below an overlay".into(),
            kind: if self.plane {
                Kind::Planar
            } else {
                Kind::Volume
            },
            domain,
            walls: [[Wall::Grounded; 2]; 3],
            background_relative_permittivity: 1.0,
            dielectrics: self.layers.iter().enumerate().map(layer).collect(),
            screens: Vec::new(),
            conductors: vec![Conductor {
                name: "pad".into(),
                solids: vec![Solid::Block(sheet)],
            }],
        }
    }

    fn permittivity(&self, height: f64) -> f64 {
        let lines = &self.lines[self.vertical()];
        let layer = lines
            .partition_point(|&l| l <= height)
            .clamp(1, lines.len() - 1);
        self.layers[layer - 1]
    }

    /// Whether a point lies on the driven sheet: the middle stretch across at the sheet's level.
    fn on_sheet(&self, point: [f64; 3]) -> bool {
        let vertical = self.vertical();
        let slack = 1e-9;
        (point[vertical] - self.lines[vertical][self.sheet_level]).abs() < slack
            && (0..vertical)
                .all(|d| point[d] > self.lines[d][1] - slack && point[d] < self.lines[d][2] + slack)
    }

    /// Node-centred network, as the bound from above uses it: outer nodes and the sheet are fixed.
    fn node_network(&self, cells: usize) -> (Network, Vec<f64>) {
        let axes = self.axes(cells);
        let mut network = empty(&axes);
        let dims = network.dims();
        let width = |d: usize, i: usize| axes[d].0[i + 1] - axes[d].0[i];
        let dual = |d: usize, i: usize| {
            if dims[d] == 1 {
                return 1.0;
            }
            let low = if i > 0 { width(d, i - 1) } else { 0.0 };
            let high = if i + 1 < dims[d] { width(d, i) } else { 0.0 };
            0.5 * (low + high)
        };
        let vertical = self.vertical();
        // Permittivity x height of the half cells around a node of the vertical axis.
        let level = |i: usize| {
            let mut sum = 0.0;
            for cell in [i.wrapping_sub(1), i] {
                if cell < dims[vertical] - 1 {
                    let middle = 0.5 * (axes[vertical].0[cell] + axes[vertical].0[cell + 1]);
                    sum += 0.5 * width(vertical, cell) * self.permittivity(middle);
                }
            }
            sum
        };
        let mut sheet = vec![0.0; network.len()];
        for (n, potential) in sheet.iter_mut().enumerate() {
            let index = index(n, dims);
            for d in (0..3).filter(|&d| index[d] + 1 < dims[d]) {
                let mut c = 1.0 / width(d, index[d]);
                for t in (0..3).filter(|&t| t != d) {
                    c *= if t == vertical {
                        level(index[t])
                    } else {
                        dual(t, index[t])
                    };
                }
                if d == vertical {
                    let middle = axes[d].0[index[d]] + 0.5 * width(d, index[d]);
                    c *= self.permittivity(middle);
                }
                network.link[d][n] = c as f32;
            }
            let point = [0, 1, 2].map(|d| axes[d].0[index[d]]);
            let outer = (0..3).any(|d| dims[d] > 1 && (index[d] == 0 || index[d] + 1 == dims[d]));
            let driven = self.on_sheet(point);
            network.fixed[n] = outer || driven;
            *potential = f64::from(u8::from(driven));
        }
        let b = flow_into_free(&network, &sheet);
        (network, b)
    }

    /// Cell-centred network, as the bound from below uses it: faces of the walls and of the sheet
    /// are conductances to ground, and the sheet's faces drive.
    fn cell_network(&self, cells: usize) -> (Network, Vec<f64>) {
        let axes = self.axes(cells);
        let middles = [0, 1, 2].map(|d| {
            let nodes = &axes[d].0;
            if nodes.len() == 1 {
                return (nodes.clone(), vec![0]);
            }
            let middles: Vec<f64> = nodes.windows(2).map(|w| 0.5 * (w[0] + w[1])).collect();
            let rank = vec![0; middles.len()];
            (middles, rank)
        });
        let mut network = empty(&middles);
        let dims = network.dims();
        let vertical = self.vertical();
        let width = |d: usize, i: usize| {
            if dims[d] == 1 {
                1.0
            } else {
                axes[d].0[i + 1] - axes[d].0[i]
            }
        };
        let mut b = vec![0.0; network.len()];
        for (n, load) in b.iter_mut().enumerate() {
            let index = index(n, dims);
            let point = [0, 1, 2].map(|d| middles[d].0[index[d]]);
            let own = self.permittivity(point[vertical]);
            for d in (0..3).filter(|&d| dims[d] > 1) {
                let area: f64 = (0..3)
                    .filter(|&t| t != d)
                    .map(|t| width(t, index[t]))
                    .product();
                let half = own * area / (0.5 * width(d, index[d]));
                for side in [0, 1] {
                    let mut face = point;
                    face[d] = axes[d].0[index[d] + side];
                    let outer = index[d] + side == 0 || index[d] + side == dims[d];
                    let driven = d == vertical && self.on_sheet(face);
                    if outer || driven {
                        network.ground[n] += half as f32;
                        *load += if driven { f64::from(half as f32) } else { 0.0 };
                    } else if side == 1 {
                        let next =
                            middles[vertical].0[index[vertical] + usize::from(d == vertical)];
                        let across =
                            self.permittivity(next) * area / (0.5 * width(d, index[d] + 1));
                        network.link[d][n] = (half * across / (half + across)) as f32;
                    }
                }
            }
        }
        (network, b)
    }
}

fn empty(axes: &[(Vec<f64>, Vec<u8>); 3]) -> Network {
    let size = axes.iter().map(|a| a.0.len()).product();
    Network {
        coordinates: [0, 1, 2].map(|d| axes[d].0.clone()),
        rank: [0, 1, 2].map(|d| axes[d].1.clone()),
        link: [0, 1, 2].map(|_| vec![0.0; size]),
        ground: vec![0.0; size],
        fixed: vec![false; size],
    }
}

fn index(n: usize, dims: [usize; 3]) -> [usize; 3] {
    [n % dims[0], n / dims[0] % dims[1], n / dims[0] / dims[1]]
}

/// Links of a node with the node at the other end.
fn neighbours(network: &Network, n: usize) -> Vec<(usize, f64)> {
    let (dims, strides) = (network.dims(), network.strides());
    let at = index(n, dims);
    let mut found = Vec::new();
    for d in 0..3 {
        if at[d] > 0 {
            let other = n - strides[d];
            found.push((other, f64::from(network.link[d][other])));
        }
        if at[d] + 1 < dims[d] {
            found.push((n + strides[d], f64::from(network.link[d][n])));
        }
    }
    found
}

/// A x on the free nodes by the plainest loop; 0 on fixed ones.
fn naive(network: &Network, x: &[f64]) -> Vec<f64> {
    (0..network.len())
        .map(|n| {
            if network.fixed[n] {
                return 0.0;
            }
            let links: f64 = neighbours(network, n)
                .iter()
                .map(|&(other, c)| c * (x[n] - x[other]))
                .sum();
            links + f64::from(network.ground[n]) * x[n]
        })
        .collect()
}

/// What potentials of fixed nodes push into the free nodes: the right-hand side.
fn flow_into_free(network: &Network, potential: &[f64]) -> Vec<f64> {
    (0..network.len())
        .map(|n| {
            if network.fixed[n] {
                return 0.0;
            }
            neighbours(network, n)
                .iter()
                .map(|&(other, c)| c * potential[other])
                .sum()
        })
        .collect()
}

fn norm(v: &[f64]) -> f64 {
    v.iter().map(|a| a * a).sum::<f64>().sqrt()
}

fn solved(network: &Network, b: &[f64], reduction: f64) -> (Vec<f64>, Solved) {
    let hierarchy = Hierarchy::new(network);
    let mut x = vec![0.0; b.len()];
    let done = solve(
        &hierarchy,
        &mut hierarchy.workspace(),
        b,
        &mut x,
        Stopping::Residual(reduction),
    )
    .unwrap_or_else(|e| panic!("not converged: {:?}", e.history));
    (x, done)
}

/// Repeatable numbers in -1..1: a linear congruential sequence.
fn scatter(n: usize) -> Vec<f64> {
    let mut state = 12_345_u64;
    (0..n)
        .map(|_| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
        })
        .collect()
}

/// Iterations of both networks of a layout at each number of cells per axis; what is over its limit
/// or grows comes back as text.
fn misses(name: &str, layout: &Layout, cells: &[usize], most: usize) -> Vec<String> {
    type Build = fn(&Layout, usize) -> (Network, Vec<f64>);
    let builds: [(&str, Build); 2] = [
        ("node", Layout::node_network),
        ("cell", Layout::cell_network),
    ];
    let mut misses = Vec::new();
    for (kind, build) in builds {
        let counts: Vec<(usize, usize)> = cells
            .iter()
            .map(|&cells| {
                let (network, b) = build(layout, cells);
                let (_, done) = solved(&network, &b, REDUCTION);
                (network.len(), done.iterations)
            })
            .collect();
        let line = format!("{name}, {kind} network, (nodes, iterations): {counts:?}");
        println!("{line}");
        let (first, last) = (counts[0].1, counts[counts.len() - 1].1);
        if counts.iter().any(|c| c.1 > most) || last > first + FLAT {
            misses.push(format!("{line}, at most {most}, growing by at most {FLAT}"));
        }
    }
    misses
}

/// Fails with everything that was missed.
fn hold(misses: &[String]) {
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

/// About 0.05 M, 0.15 M and 0.5 M nodes.
const VOLUME_CELLS: [usize; 3] = [36, 52, 78];
const PLANE_CELLS: [usize; 3] = [224, 390, 700];

#[test]
fn iterations_in_uniform_volumes() {
    let layout = Layout::panel(3.0, 3.0 * MM, Spacing::Uniform, false);
    hold(&misses(
        "uniform volume",
        &layout,
        &VOLUME_CELLS,
        MOST_IN_VOLUME,
    ));
}

#[test]
fn iterations_in_graded_volumes() {
    let mut missed = Vec::new();
    for (spacing, contrast) in [
        (Spacing::Root, 1.0),
        (Spacing::Root, 80.0),
        (Spacing::Engine, 7.3),
        (Spacing::Engine, 80.0),
    ] {
        let layout = Layout::panel(contrast, 3.0 * MM, spacing, false);
        let name = format!("volume, {spacing:?}, overlay {contrast}");
        missed.extend(misses(&name, &layout, &VOLUME_CELLS, MOST_IN_VOLUME));
    }
    hold(&missed);
}

#[test]
fn iterations_in_volumes_with_a_thin_layer() {
    let mut missed = Vec::new();
    for spacing in [Spacing::Root, Spacing::Engine] {
        let layout = Layout::panel(3.0, 0.05 * MM, spacing, false);
        let name = format!("thin layer, {spacing:?}");
        missed.extend(misses(&name, &layout, &VOLUME_CELLS, MOST_WITH_THIN_LAYERS));
    }
    hold(&missed);
}

#[test]
fn iterations_in_the_plane() {
    let mut missed = Vec::new();
    for spacing in [Spacing::Uniform, Spacing::Engine, Spacing::Root] {
        for contrast in [1.0, 7.3, 80.0] {
            let layout = Layout::panel(contrast, 3.0 * MM, spacing, true);
            let name = format!("plane, {spacing:?}, overlay {contrast}");
            missed.extend(misses(&name, &layout, &PLANE_CELLS, MOST_IN_PLANE));
        }
    }
    hold(&missed);
}

#[test]
fn iterations_from_a_twentieth_to_four_million_nodes() {
    let volume = Layout::panel(7.3, 3.0 * MM, Spacing::Engine, false);
    let mut missed = misses("volume to 4 M", &volume, &[36, 156], MOST_IN_VOLUME);
    let plane = Layout::panel(7.3, 3.0 * MM, Spacing::Engine, true);
    missed.extend(misses("plane to 4 M", &plane, &[224, 1980], MOST_IN_PLANE));
    hold(&missed);
}

#[test]
fn the_potentials_have_the_same_bits_on_any_number_of_threads() {
    // Large enough that sweeps and products are shared out among threads.
    let (network, b) = Layout::panel(7.3, 3.0 * MM, Spacing::Engine, false).node_network(103);
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.expect("threads can be had")
            .install(|| solved(&network, &b, REDUCTION).0)
    };
    let alone = on(1);
    for threads in [2, 5] {
        let together = on(threads);
        let same = alone
            .iter()
            .zip(&together)
            .all(|(a, b)| a.to_bits() == b.to_bits());
        assert!(same, "{threads} threads give other bits than one");
    }
}

#[test]
fn the_solution_satisfies_the_network_by_naive_loops() {
    for (plane, cells) in [(false, 24), (true, 90)] {
        for build in [Layout::node_network, Layout::cell_network] {
            let (network, drive) =
                build(&Layout::panel(80.0, 3.0 * MM, Spacing::Root, plane), cells);
            // A scattered load on top of the drive reaches every free node.
            let size = norm(&drive) / (drive.len() as f64).sqrt();
            let b: Vec<f64> = scatter(drive.len())
                .iter()
                .zip(&drive)
                .zip(&network.fixed)
                .map(|((s, d), &fixed)| if fixed { 0.0 } else { d + size * s })
                .collect();
            let (x, done) = solved(&network, &b, 1e-12);
            let missing: Vec<f64> = naive(&network, &x)
                .iter()
                .zip(&b)
                .map(|(a, b)| b - a)
                .collect();
            let residual = norm(&missing) / norm(&b);
            println!(
                "plane {plane}: residual {residual:.2e}, told {:.2e}",
                done.residual
            );
            assert!(residual < 1e-9, "{residual}");
            // Both are of the same vector; rounding of sums in another order is all that differs.
            assert!(
                (residual - done.residual).abs() <= 1e-12,
                "{residual} {done:?}"
            );
            // A sweep moves a fixed node by a share of 1e-16 of the link over its diagonal.
            let stray = x
                .iter()
                .zip(&network.fixed)
                .filter(|(_, fixed)| **fixed)
                .fold(0.0_f64, |most, (value, _)| most.max(value.abs()));
            println!("largest potential of a fixed node: {stray:.1e}");
            assert!(stray < 1e-12, "{stray}");
        }
    }
}

#[test]
fn a_drive_delivers_as_much_energy_as_charge() {
    let (network, b) = Layout::panel(7.3, 3.0 * MM, Spacing::Root, false).node_network(24);
    let (x, _) = solved(&network, &b, 1e-10);
    let charge: f64 = x.iter().zip(&b).map(|(x, b)| x * b).sum();
    let energy: f64 = x.iter().zip(naive(&network, &x)).map(|(x, a)| x * a).sum();
    assert!((energy / charge - 1.0).abs() < 1e-9, "{energy} {charge}");
    // Potentials between two conductors stay between theirs.
    assert!(x.iter().all(|&v| (-1e-9..=1.0 + 1e-9).contains(&v)));
}

/// A small network without any regularity: scattered links, grounds and fixed nodes.
fn small() -> (Network, Vec<f64>) {
    let axis = |n: usize| {
        let at = (0..n).map(|i| i as f64 + 0.3 * (i as f64).sin()).collect();
        (at, vec![0; n])
    };
    let mut network = empty(&[axis(6), axis(5), axis(4)]);
    let dims = network.dims();
    let numbers = scatter(6 * network.len());
    for n in 0..network.len() {
        let at = index(n, dims);
        for d in (0..3).filter(|&d| at[d] + 1 < dims[d]) {
            network.link[d][n] = (2.0 * numbers[6 * n + d]).exp() as f32;
        }
        network.ground[n] = if numbers[6 * n + 3] > 0.5 { 0.2 } else { 0.0 };
        network.fixed[n] = numbers[6 * n + 4] > 0.85;
    }
    let b = (0..network.len())
        .map(|n| {
            if network.fixed[n] {
                0.0
            } else {
                numbers[6 * n + 5]
            }
        })
        .collect();
    (network, b)
}

/// Gaussian elimination with row exchange on the free nodes.
fn direct(network: &Network, b: &[f64]) -> Vec<f64> {
    let size = network.len();
    let mut rows: Vec<Vec<f64>> = (0..size)
        .map(|n| {
            let mut row = vec![0.0; size + 1];
            row[size] = b[n];
            if network.fixed[n] {
                row[n] = 1.0;
                return row;
            }
            row[n] = f64::from(network.ground[n]);
            for (other, c) in neighbours(network, n) {
                row[n] += c;
                row[other] -= c;
            }
            row
        })
        .collect();
    for column in 0..size {
        let pivot = (column..size)
            .max_by(|&a, &b| rows[a][column].abs().total_cmp(&rows[b][column].abs()))
            .expect("a row");
        rows.swap(column, pivot);
        let (done, below) = rows.split_at_mut(column + 1);
        let top = &done[column];
        for row in below {
            let factor = row[column] / top[column];
            for (value, t) in row.iter_mut().zip(top).skip(column) {
                *value -= factor * t;
            }
        }
    }
    let mut x = vec![0.0; size];
    for n in (0..size).rev() {
        let known: f64 = (n + 1..size).map(|m| rows[n][m] * x[m]).sum();
        x[n] = (rows[n][size] - known) / rows[n][n];
    }
    x
}

#[test]
fn a_small_network_equals_its_direct_factorisation() {
    let (network, b) = small();
    assert!(network.fixed.iter().any(|&f| f) && network.ground.iter().any(|&g| g > 0.0));
    let reference = direct(&network, &b);
    let (x, _) = solved(&network, &b, 1e-13);
    let off: Vec<f64> = x.iter().zip(&reference).map(|(a, b)| a - b).collect();
    let error = norm(&off) / norm(&reference);
    println!("against elimination: {error:.2e}");
    assert!(error < 1e-9, "{error}");
}

#[test]
fn a_first_guess_and_an_empty_load_are_taken_as_they_are() {
    let (network, b) = small();
    let hierarchy = Hierarchy::new(&network);
    let mut work = hierarchy.workspace();
    let reference = direct(&network, &b);
    let mut x = reference.clone();
    x[network.fixed.iter().position(|&f| !f).expect("a free node")] += 0.5;
    solve(&hierarchy, &mut work, &b, &mut x, Stopping::Residual(1e-10)).expect("convergence");
    let off: Vec<f64> = x.iter().zip(&reference).map(|(a, b)| a - b).collect();
    assert!(norm(&off) < 1e-8 * norm(&reference));
    let none = vec![0.0; b.len()];
    let done = solve(
        &hierarchy,
        &mut work,
        &none,
        &mut x,
        Stopping::Residual(1e-10),
    )
    .expect("convergence");
    assert_eq!(done.iterations, 0);
    assert!(x.iter().all(|&v| v == 0.0));
}
