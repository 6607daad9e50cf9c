//! Mirror planes of a case: found, and used to solve one half only.

use crate::case::{Case, Extent, Kind, Prism, Solid, Wall};
use crate::grid::{Grid, axes_until};
use crate::stop::Stop;
use std::collections::HashMap;

/// A case cut down by its mirror planes.
pub(crate) struct Halved {
    pub case: Case,
    /// What the capacitances of the reduced case are multiplied by.
    pub factor: f64,
    /// Names of the axes whose mirror plane was used.
    pub mirrors: Vec<String>,
}

/// Looks for mirror planes through the middle of the domain that map every conductor and every
/// permittivity onto itself, and keeps the half on the high side of each.
///
/// `absent` is left out of the comparison of nothing: the case with and without it must share the
/// plane, so the full case decides. Anything is found once `stop` is asked for.
pub(crate) fn halve(stop: Stop, case: &Case) -> Halved {
    let mut reduced = case.clone();
    let mut factor = 1.0;
    let mut mirrors = Vec::new();
    for axis in 0..case.kind.dimensions() {
        // The height axis of a panel never has one, and r = 0 is no plane.
        if case.kind == Kind::Axisymmetric {
            break;
        }
        if is_mirror(stop, &reduced, axis) {
            cut(&mut reduced, axis);
            factor *= 2.0;
            mirrors.push(["x", "y", "z"][axis].to_string());
        }
    }
    Halved {
        case: reduced,
        factor,
        mirrors,
    }
}

fn middle(case: &Case, axis: usize) -> f64 {
    0.5 * (case.domain.low_m[axis] + case.domain.high_m[axis])
}

fn is_mirror(stop: Stop, case: &Case, axis: usize) -> bool {
    if case.walls[axis][0] != case.walls[axis][1] {
        return false;
    }
    let centre = middle(case, axis);
    let slack = 1e-9 * (case.domain.high_m[axis] - case.domain.low_m[axis]);
    let same = |a: f64, b: f64| (a - b).abs() <= slack;
    for solid in case.conductors.iter().flat_map(|c| &c.solids) {
        match solid {
            Solid::Block(_) => {}
            Solid::Round(body) => {
                if axis == 2 || !same(body.centre_m[axis], centre) {
                    return false;
                }
            }
            Solid::Prism(prism) => {
                if axis == 2 {
                    return false;
                }
                if stop.asked() || !is_mirrored(prism, axis, centre, slack) {
                    return false;
                }
            }
        }
    }
    // Only blocks and dielectrics are left: compare the painting on the grid of their own lines.
    let mut blocks = case.clone();
    for conductor in &mut blocks.conductors {
        conductor.solids.retain(|s| matches!(s, Solid::Block(_)));
    }
    mirror_image_lines(&blocks, axis, slack) && same_painting(stop, &blocks, axis)
}

/// Whether every corner of a prism has its mirror image among the corners.
///
/// Searched by place: a hatch drawn as lines has a hundred thousand of them.
fn is_mirrored(prism: &Prism, axis: usize, centre: f64, slack: f64) -> bool {
    let other = 1 - axis;
    let cell = |value: f64| (value / (4.0 * slack)).round() as i64;
    let place = |corner: &[f64; 2]| [cell(corner[axis]), cell(corner[other])];
    let corners = || prism.outlines_m.iter().flatten();
    let mut found: HashMap<[i64; 2], Vec<[f64; 2]>> = HashMap::new();
    for corner in corners() {
        found.entry(place(corner)).or_default().push(*corner);
    }
    let near = |a: f64, b: f64| (a - b).abs() <= slack;
    corners().all(|corner| {
        let mut image = *corner;
        image[axis] = 2.0 * centre - image[axis];
        let [row, column] = place(&image);
        let around = (-1..=1).flat_map(|i| (-1..=1).map(move |j| [row + i, column + j]));
        let mut candidates = around.filter_map(|place| found.get(&place)).flatten();
        candidates.any(|c| near(c[0], image[0]) && near(c[1], image[1]))
    })
}

/// Whether the coordinates of all extents mirror onto themselves.
fn mirror_image_lines(case: &Case, axis: usize, slack: f64) -> bool {
    let mut lines: Vec<f64> = case
        .dielectrics
        .iter()
        .map(|d| d.extent)
        .chain(case.screens.iter().map(|s| s.extent))
        .chain(
            case.conductors
                .iter()
                .flat_map(|c| &c.solids)
                .filter_map(|s| match s {
                    Solid::Block(e) => Some(*e),
                    _ => None,
                }),
        )
        .flat_map(|e| [e.low_m[axis], e.high_m[axis]])
        .collect();
    lines.sort_by(f64::total_cmp);
    let centre = middle(case, axis);
    lines.iter().all(|l| {
        let image = 2.0 * centre - l;
        let at = lines.partition_point(|&x| x < image - slack);
        lines.get(at).is_some_and(|&x| (x - image).abs() <= slack)
    })
}

fn same_painting(stop: Stop, case: &Case, axis: usize) -> bool {
    // A coarse fineness gives few cells between the lines, but every line is there, and symmetric
    // lines give a symmetric number of cells.
    let axes = axes_until(stop, case, 0.01);
    let mirrored_counts = {
        let lines = &axes[axis].lines;
        let n = axes[axis].nodes_m.len() - 1;
        lines.iter().all(|&l| lines.contains(&(n - l)))
    };
    if !mirrored_counts {
        return false;
    }
    let grid = Grid::paint_until(stop, case, axes);
    if stop.asked() {
        return false;
    }
    let check = |dims: [usize; 3], equal: &dyn Fn(usize, usize) -> bool| {
        let total: usize = dims.iter().product();
        let stride = [1, dims[0], dims[0] * dims[1]][axis];
        (0..total).all(|n| {
            let i = n / stride % dims[axis];
            equal(n, n - i * stride + (dims[axis] - 1 - i) * stride)
        })
    };
    let eps = |cell: usize| grid.permittivity[grid.material[cell] as usize];
    let last = case.kind.dimensions() - 1;
    let same_screens = grid.screen_faces.is_empty()
        || check(grid.face_dims(last), &|a, b| {
            grid.screen(last, a) == grid.screen(last, b)
        });
    same_screens
        && check(grid.cell_dims(), &|a, b| {
            eps(a) == eps(b) && grid.cell_conductor[a] == grid.cell_conductor[b]
        })
        && check(grid.node_dims(), &|a, b| {
            grid.node_conductor[a] == grid.node_conductor[b]
        })
        && (0..case.kind.dimensions()).all(|d| {
            let faces = &grid.face_conductor[d];
            faces.is_empty() || check(grid.face_dims(d), &|a, b| faces[a] == faces[b])
        })
}

fn cut(case: &mut Case, axis: usize) {
    let centre = middle(case, axis);
    case.domain.low_m[axis] = centre;
    case.walls[axis][0] = Wall::Insulated;
    let clip = |extent: &mut Extent| {
        extent.low_m[axis] = extent.low_m[axis].max(centre);
        extent.high_m[axis] >= centre
    };
    // Dielectrics keep their places, so that material indices stay; one that vanishes is emptied.
    for dielectric in &mut case.dielectrics {
        if !clip(&mut dielectric.extent) {
            dielectric.extent.high_m[axis] = centre;
        }
    }
    // A screen in the plane stays, and counts with its half.
    case.screens.retain_mut(|screen| {
        let flat = screen.extent.low_m[axis] == screen.extent.high_m[axis];
        clip(&mut screen.extent) && (flat || screen.extent.high_m[axis] > centre)
    });
    for conductor in &mut case.conductors {
        conductor.solids.retain_mut(|solid| match solid {
            Solid::Block(extent) => {
                let flat = extent.low_m[axis] == extent.high_m[axis];
                clip(extent) && (flat || extent.high_m[axis] > centre)
            }
            _ => true,
        });
    }
}
