//! Derivatives against differences of the discrete systems themselves: the same cells on stretched
//! axes, every coordinate of the case moved along, both networks assembled and solved in f64.
//!
//! The differences are central and extrapolated over two steps, so what is left is the step of the
//! coefficient derivatives (1e-8) and, for permittivities, the f32 conductances (1e-7).

mod screened;

use super::{RowSums, Slopes, cell_slopes, node_slopes};
use crate::case::{Case, Conductor, Dielectric, Extent, Kind, Prism, RoundBody, Solid, Wall};
use crate::field::cell_faces::{CellFaces, Conductance};
use crate::field::cell_scheme::CellScheme;
use crate::field::node_scheme::{NodeScheme, edge_cuts, node_links, open_walls, wall_cuts};
use crate::field::pairs::Pairs;
use crate::field::screen::screen_faces;
use crate::field::system::potential;
use crate::grid::{Axis, FREE, Grid, REFERENCE, axes, unflatten};
use ndarray::Array2;

/// Largest difference of a derivative to ln(length), relative to the largest capacitance.
const TOLERANCE: f64 = 2e-8;
/// Larger of the two relative steps of the differences.
const STEP: f64 = 4e-3;

/// A network in f64.
struct Network {
    links: Vec<(usize, usize, f64)>,
    sources: Vec<(usize, u16, f64)>,
    conductor: Vec<u16>,
}

impl Network {
    fn node(grid: &Grid) -> Self {
        let dims = grid.node_dims();
        let strides = [1, dims[0], dims[0] * dims[1]];
        let mut conductance = [0, 1, 2].map(|_| vec![0.0; grid.node_conductor.len()]);
        for (axis, conductance) in conductance.iter_mut().enumerate().take(grid.dimensions()) {
            node_links(grid, axis, &mut |node, c| conductance[node] += c);
        }
        let cuts: Vec<_> = wall_cuts(grid)
            .map(|(axis, low, ratio)| (axis, low, ratio * conductance[axis][low]))
            .chain(edge_cuts(grid, &|_| true))
            .collect();
        for (axis, low, gain) in cuts {
            conductance[axis][low] += gain;
        }
        let mut sources = Vec::new();
        open_walls(grid, &mut |node, c, _| sources.push((node, REFERENCE, c)));
        for face in screen_faces(grid) {
            let corners = face.corner_conductances();
            sources.extend(corners.map(|(node, c)| (node, face.conductor, c)));
        }
        Self {
            links: conductance
                .iter()
                .zip(strides)
                .flat_map(|(c, stride)| {
                    let links = c.iter().enumerate().filter(|(_, c)| **c != 0.0);
                    links.map(move |(n, &c)| (n, n + stride, c))
                })
                .collect(),
            sources,
            conductor: grid.node_conductor.clone(),
        }
    }

    fn cell(grid: &Grid) -> Self {
        let dims = grid.cell_dims();
        let strides = [1, dims[0], dims[0] * dims[1]];
        let (mut links, mut sources) = (Vec::new(), Vec::new());
        let faces = CellFaces::new(grid);
        for axis in 0..grid.dimensions() {
            for cell in 0..grid.cells() {
                faces.visit(unflatten(cell, dims), axis, &mut |item| match item {
                    Conductance::Link {
                        cell, conductance, ..
                    } => links.push((cell, cell + strides[axis], conductance)),
                    Conductance::Source { source, .. } => {
                        sources.push((source.node as usize, source.conductor, source.conductance));
                    }
                });
            }
        }
        Self {
            links,
            sources,
            conductor: grid.cell_conductor.clone(),
        }
    }

    /// A x with A the conductances, a row per unknown; fixed ones have none.
    fn apply(&self, x: &[f64], driven: Option<u16>, out: &mut [f64]) {
        out.fill(0.0);
        for &(i, j, c) in &self.links {
            let flux = c * (x[i] - x[j]);
            out[i] += flux;
            out[j] -= flux;
        }
        for &(i, conductor, c) in &self.sources {
            out[i] += c * (x[i] - driven.map_or(0.0, |driven| potential(conductor, driven)));
        }
        for (value, &conductor) in out.iter_mut().zip(&self.conductor) {
            if conductor != FREE {
                *value = 0.0;
            }
        }
    }

    /// Potentials with one conductor at 1 V, by conjugate gradients with diagonal scaling.
    fn solve(&self, driven: u16) -> Vec<f64> {
        let n = self.conductor.len();
        let mut scale = vec![0.0; n];
        for &(i, j, c) in &self.links {
            scale[i] += c;
            scale[j] += c;
        }
        for &(i, _, c) in &self.sources {
            scale[i] += c;
        }
        let mut x: Vec<f64> = self
            .conductor
            .iter()
            .map(|&c| if c == FREE { 0.0 } else { potential(c, driven) })
            .collect();
        let mut residual = vec![0.0; n];
        self.apply(&x, Some(driven), &mut residual);
        residual.iter_mut().for_each(|r| *r = -*r);
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let scaled = |r: &[f64]| -> Vec<f64> {
            r.iter()
                .zip(&scale)
                .map(|(r, s)| if *s > 0.0 { r / s } else { 0.0 })
                .collect()
        };
        let mut z = scaled(&residual);
        let mut direction = z.clone();
        let mut product = vec![0.0; n];
        let mut energy = dot(&residual, &z);
        let start = energy;
        for _ in 0..5000 {
            if energy <= 1e-26 * start {
                return x;
            }
            self.apply(&direction, None, &mut product);
            let alpha = energy / dot(&direction, &product);
            for i in 0..n {
                x[i] += alpha * direction[i];
                residual[i] -= alpha * product[i];
            }
            z = scaled(&residual);
            let next = dot(&residual, &z);
            for i in 0..n {
                direction[i] = z[i] + next / energy * direction[i];
            }
            energy = next;
        }
        panic!("no convergence: {energy:e} of {start:e}");
    }

    fn potentials(&self, drives: usize) -> Vec<Vec<f64>> {
        (0..drives).map(|d| self.solve(d as u16)).collect()
    }

    fn energies(&self, potentials: &[Vec<f64>]) -> Array2<f64> {
        let drives = potentials.len();
        Array2::from_shape_fn((drives, drives), |(a, b)| {
            let (xa, xb) = (&potentials[a], &potentials[b]);
            let links = self.links.iter();
            let sources = self.sources.iter();
            links
                .map(|&(i, j, c)| c * (xa[i] - xa[j]) * (xb[i] - xb[j]))
                .sum::<f64>()
                + sources
                    .map(|&(i, conductor, c)| {
                        let over = |x: &[f64], d: usize| x[i] - potential(conductor, d as u16);
                        c * over(xa, a) * over(xb, b)
                    })
                    .sum::<f64>()
        })
    }
}

/// Energies of the node and of the cell network.
fn solved(grid: &Grid) -> [Array2<f64>; 2] {
    [Network::node(grid), Network::cell(grid)].map(|network| {
        let potentials = network.potentials(grid.conductors);
        network.energies(&potentials)
    })
}

/// Central difference, extrapolated over two steps, of what `at` gives at relative steps.
fn difference(at: impl Fn(f64) -> [Array2<f64>; 2]) -> [Array2<f64>; 2] {
    let central = |step: f64| {
        let [more, less] = [at(step), at(-step)];
        [0, 1].map(|n| (&more[n] - &less[n]) / (2.0 * step))
    };
    let (wide, narrow) = (central(STEP), central(0.5 * STEP));
    [0, 1].map(|n| (&narrow[n] * 4.0 - &wide[n]) / 3.0)
}

/// A case with everything beyond `low` stretched, and beyond `high` moved, along an axis.
fn stretched(case: &Case, axis: usize, low: f64, high: f64, factor: f64) -> Case {
    let place = |at: &mut f64| *at += (factor - 1.0) * (at.clamp(low, high) - low);
    let mut moved = case.clone();
    let extent = |e: &mut Extent| {
        place(&mut e.low_m[axis]);
        place(&mut e.high_m[axis]);
    };
    extent(&mut moved.domain);
    for dielectric in &mut moved.dielectrics {
        extent(&mut dielectric.extent);
    }
    for screen in &mut moved.screens {
        extent(&mut screen.extent);
    }
    for solid in moved.conductors.iter_mut().flat_map(|c| &mut c.solids) {
        match solid {
            Solid::Block(e) => extent(e),
            Solid::Round(body) if axis < 2 => place(&mut body.centre_m[axis]),
            Solid::Round(body) => {
                place(&mut body.bottom_m);
                place(&mut body.top_m);
            }
            Solid::Prism(prism) if axis < 2 => {
                for corner in prism.outlines_m.iter_mut().flatten() {
                    place(&mut corner[axis]);
                }
            }
            Solid::Prism(prism) => {
                place(&mut prism.bottom_m);
                place(&mut prism.top_m);
            }
        }
    }
    moved
}

/// Derivatives of the node and of the cell network, from the potentials of each.
fn slopes(grid: &Grid, node: &[Vec<f64>], cell: &[Vec<f64>], drives: &[u16]) -> [Slopes; 2] {
    let pairs = Pairs::all(drives.len());
    let mut rows = [0, 1].map(|_| RowSums::new(grid, &pairs));
    let [node_rows, cell_rows] = &mut rows;
    NodeScheme::new(grid).energies(grid, node, drives, &pairs, Some(node_rows));
    let scheme = CellScheme::new(grid);
    scheme.energies(grid, cell, drives, &pairs, Some(cell_rows));
    [
        node_slopes(grid, node, drives, &pairs, node_rows),
        cell_slopes(grid, &scheme, cell, drives, &pairs, cell_rows),
    ]
}

/// Compares the derivatives to the segments that `chosen` (axis, ends) names, for both networks.
fn check_segments(case: &Case, fineness: f64, chosen: impl Fn(usize, f64, f64) -> bool) {
    let base_axes = axes(case, fineness);
    let grid = Grid::paint(case, base_axes.clone());
    let drives: Vec<u16> = (0..grid.conductors as u16).collect();
    let node = Network::node(&grid).potentials(drives.len());
    let cell = Network::cell(&grid).potentials(drives.len());
    let derivatives = slopes(&grid, &node, &cell, &drives);
    let largest = Network::node(&grid).energies(&node)[[0, 0]];
    let mut checked = 0;
    let mut worst = 0.0_f64;
    for axis in 0..grid.dimensions() {
        let Axis { nodes_m, lines, .. } = &base_axes[axis];
        for (segment, ends) in lines.windows(2).enumerate() {
            let (low, high) = (nodes_m[ends[0]], nodes_m[ends[1]]);
            if !chosen(axis, low, high) {
                continue;
            }
            checked += 1;
            let differences = difference(|step| {
                let mut axes = base_axes.clone();
                for node in &mut axes[axis].nodes_m {
                    *node += step * (node.clamp(low, high) - low);
                }
                solved(&Grid::paint(
                    &stretched(case, axis, low, high, 1.0 + step),
                    axes,
                ))
            });
            for (network, difference) in differences.iter().enumerate() {
                let derivative = &derivatives[network].segments[axis][segment];
                let error = (derivative - difference)
                    .iter()
                    .fold(0.0_f64, |a, v| a.max(v.abs()));
                worst = worst.max(error / largest);
                assert!(
                    error <= TOLERANCE * largest,
                    "{} network {network}, axis {axis}, {low} to {high} m:\n{derivative:e}\n{difference:e}",
                    case.id
                );
            }
        }
    }
    assert!(checked > 0);
    println!("{}: {checked} segments, worst {worst:.1e}", case.id);
}

/// Compares the derivatives to the permittivities.
fn check_permittivities(case: &Case, fineness: f64, tolerance: f64) {
    let grid = Grid::new(case, fineness);
    let drives: Vec<u16> = (0..grid.conductors as u16).collect();
    let node = Network::node(&grid).potentials(drives.len());
    let cell = Network::cell(&grid).potentials(drives.len());
    let derivatives = slopes(&grid, &node, &cell, &drives);
    let largest = Network::node(&grid).energies(&node)[[0, 0]];
    for material in 0..grid.permittivity.len() {
        let differences = difference(|step| {
            let mut changed = grid.clone();
            changed.permittivity[material] *= 1.0 + step;
            solved(&changed)
        });
        for network in 0..2 {
            let error = (&derivatives[network].permittivity[material] - &differences[network])
                .iter()
                .fold(0.0_f64, |a, v| a.max(v.abs()));
            println!(
                "{} network {network}, material {material}: {:.1e}",
                case.id,
                error / largest
            );
            assert!(error <= tolerance * largest);
        }
    }
}

const MM: f64 = 1e-3;

fn extent(low: [f64; 3], high: [f64; 3]) -> Extent {
    Extent {
        low_m: low.map(|v| v * MM),
        high_m: high.map(|v| v * MM),
    }
}

fn conductor(name: &str, solid: Solid) -> Conductor {
    Conductor {
        name: name.into(),
        solids: vec![solid],
    }
}

fn block(name: &str, low: [f64; 3], high: [f64; 3]) -> Conductor {
    conductor(name, Solid::Block(extent(low, high)))
}

fn dielectric(name: &str, relative_permittivity: f64, extent: Extent) -> Dielectric {
    Dielectric {
        name: name.into(),
        relative_permittivity,
        extent,
        comes_with: None,
    }
}

/// A grounded floor, open elsewhere.
fn case(id: &str, kind: Kind, domain: Extent, layers: Vec<Dielectric>, on: Vec<Conductor>) -> Case {
    let mut walls = [[Wall::Open; 2]; 3];
    walls[kind.dimensions() - 1][0] = Wall::Grounded;
    if kind == Kind::Axisymmetric {
        walls[0][0] = Wall::Insulated;
    }
    Case {
        id: id.into(),
        title: String::new(),
        kind,
        domain,
        walls,
        background_relative_permittivity: 1.0,
        dielectrics: layers,
        screens: Vec::new(),
        conductors: on,
    }
}

/// Two pads, one thick, and a finger; the board ends before the wall.
fn planar() -> Case {
    case(
        "planar",
        Kind::Planar,
        extent([0.0; 3], [50.0, 20.0, 0.0]),
        vec![
            dielectric("board", 4.4, extent([0.0; 3], [45.0, 1.6, 0.0])),
            dielectric("overlay", 3.0, extent([0.0, 1.6, 0.0], [45.0, 4.6, 0.0])),
        ],
        vec![
            block("left", [15.0, 1.6, 0.0], [25.0, 1.6, 0.0]),
            block("right", [30.0, 1.6, 0.0], [38.0, 2.0, 0.0]),
            block("finger", [17.0, 4.6, 0.0], [23.0, 12.0, 0.0]),
        ],
    )
}

fn axisymmetric() -> Case {
    case(
        "axisymmetric",
        Kind::Axisymmetric,
        extent([0.0; 3], [30.0, 20.0, 0.0]),
        vec![
            dielectric("board", 4.4, extent([0.0; 3], [20.0, 1.6, 0.0])),
            dielectric("overlay", 3.0, extent([0.0, 1.6, 0.0], [30.0, 4.6, 0.0])),
        ],
        vec![
            block("pad", [0.0, 1.6, 0.0], [6.0, 1.6, 0.0]),
            block("ring", [8.0, 1.6, 0.0], [9.0, 2.0, 0.0]),
            block("finger", [0.0, 4.6, 0.0], [5.0, 12.0, 0.0]),
        ],
    )
}

/// Layers of a volume 30 mm wide under `on`.
fn volume(id: &str, on: Vec<Conductor>) -> Case {
    case(
        id,
        Kind::Volume,
        extent([0.0; 3], [30.0, 28.0, 18.0]),
        vec![
            dielectric("board", 4.4, extent([0.0; 3], [30.0, 28.0, 1.6])),
            dielectric("overlay", 3.0, extent([0.0, 0.0, 1.6], [30.0, 28.0, 4.6])),
        ],
        on,
    )
}

fn blocks() -> Case {
    volume(
        "blocks",
        vec![
            block("pad", [8.0, 9.0, 1.6], [18.0, 19.0, 1.6]),
            block("finger", [10.0, 11.0, 4.6], [16.0, 17.0, 12.0]),
        ],
    )
}

/// A pad and a finger over the same outline, turned by 30 degrees.
fn turned() -> Case {
    let (sine, cosine) = 30_f64.to_radians().sin_cos();
    let outline: Vec<[f64; 2]> = [[-4.0, -4.0], [4.0, -4.0], [4.0, 4.0], [-4.0, 4.0]]
        .map(|[x, y]: [f64; 2]| {
            [
                MM * (14.0 + x * cosine - y * sine),
                MM * (14.5 + x * sine + y * cosine),
            ]
        })
        .to_vec();
    let prism = |bottom: f64, top: f64| {
        Solid::Prism(Prism {
            outlines_m: vec![outline.clone()],
            bottom_m: bottom * MM,
            top_m: top * MM,
            feature_m: f64::INFINITY,
        })
    };
    volume(
        "turned",
        vec![
            conductor("pad", prism(1.6, 1.6)),
            conductor("finger", prism(4.6, 12.0)),
        ],
    )
}

/// A disc under a cylinder.
fn round() -> Case {
    let round = |radius: f64, bottom: f64, top: f64| {
        Solid::Round(RoundBody {
            centre_m: [14.0 * MM, 14.5 * MM],
            contact_radius_m: radius * MM,
            dome_radius_m: radius * MM,
            bottom_m: bottom * MM,
            top_m: top * MM,
        })
    };
    volume(
        "round",
        vec![
            conductor("pad", round(5.0, 1.6, 1.6)),
            conductor("finger", round(4.0, 4.6, 12.0)),
        ],
    )
}

#[test]
fn every_segment_in_the_plane() {
    check_segments(&planar(), 1.5, |_, _, _| true);
}

#[test]
fn every_segment_about_an_axis() {
    check_segments(&axisymmetric(), 1.5, |_, _, _| true);
}

#[test]
fn every_segment_of_blocks_in_a_volume() {
    check_segments(&blocks(), 0.6, |_, _, _| true);
}

#[test]
fn every_segment_of_slanted_outlines() {
    check_segments(&turned(), 0.6, |_, _, _| true);
}

#[test]
fn position_and_height_of_round_outlines() {
    // A stretched disc is no disc: segments beside it, which move it, and heights.
    let beside = |low: f64, high: f64| high <= 9.0 * MM + 1e-9 || low >= 19.5 * MM - 1e-9;
    // At a fineness at which no layer ends, within a step, just as far from an edge as that can feel.
    check_segments(&round(), 0.55, |axis, low, high| {
        axis == 2 || beside(low, high)
    });
}

#[test]
fn permittivities() {
    for (case, fineness) in [(planar(), 1.5), (axisymmetric(), 1.5), (blocks(), 0.6)] {
        check_permittivities(&case, fineness, 1e-7);
    }
}

#[test]
fn permittivities_around_slanted_outlines() {
    for case in [turned(), round()] {
        check_permittivities(&case, 0.6, 1e-7);
    }
}

#[test]
fn faces_taken_row_by_row_conduct_what_each_does() {
    let screened = screened::all_screened().map(|(case, _)| case);
    let plain = [planar(), axisymmetric(), blocks(), turned(), round()];
    for case in plain.into_iter().chain(screened) {
        let grid = Grid::new(&case, 0.5);
        let faces = CellFaces::new(&grid);
        for axis in 0..grid.dimensions() {
            let (mut each, mut all) = (Vec::new(), Vec::new());
            for cell in 0..grid.cells() {
                let place = unflatten(cell, grid.cell_dims());
                faces.visit(place, axis, &mut |item| each.push((cell, item)));
            }
            faces.visit_all(axis, &mut |cell, item| all.push((cell, item)));
            // Links inside of solids are left out.
            let conducts = |(_, item): &(usize, Conductance)| {
                !matches!(
                    item,
                    Conductance::Link {
                        conductance: 0.0,
                        ..
                    }
                )
            };
            each.retain(conducts);
            all.retain(conducts);
            assert_eq!(format!("{each:?}"), format!("{all:?}"), "{}", case.id);
        }
    }
}
