//! Every stage of a solve leaves what is in its hands once an end is asked for.

use super::cell_scheme::CellScheme;
use super::derivatives::{RowSums, cell_slopes, node_slopes};
use super::mirror::halve;
use super::node_scheme::NodeScheme;
use super::pairs::Pairs;
use crate::case::{Case, Conductor, Dielectric, Extent, Kind, RoundBody, Solid, Wall};
use crate::grid::{FREE, Grid, axes, axes_until};
use crate::multigrid::Hierarchy;
use crate::stop::Stop;
use std::sync::atomic::AtomicBool;

static ASKED: AtomicBool = AtomicBool::new(true);
const NOW: Stop = Stop::when(&ASKED);

/// A round and a square pad on a board, in the middle of the domain.
fn case() -> Case {
    let extent = |low_m: [f64; 3], high_m: [f64; 3]| Extent { low_m, high_m };
    let disc = Solid::Round(RoundBody {
        centre_m: [-0.002, 0.0],
        contact_radius_m: 0.001,
        dome_radius_m: 0.001,
        bottom_m: 0.0,
        top_m: 0.0005,
    });
    let square = Solid::Block(extent([0.001, -0.001, 0.0], [0.003, 0.001, 0.0]));
    let conductor = |name: &str, solid| Conductor {
        name: name.into(),
        solids: vec![solid],
    };
    Case {
        id: "stopped".into(),
        title: String::new(),
        kind: Kind::Volume,
        domain: extent([-0.01; 3], [0.01; 3]),
        walls: [[Wall::Open; 2]; 3],
        background_relative_permittivity: 1.0,
        dielectrics: vec![Dielectric {
            name: "board".into(),
            relative_permittivity: 4.4,
            extent: extent([-0.01, -0.01, -0.001], [0.01, 0.01, 0.0]),
            comes_with: None,
        }],
        conductors: vec![conductor("disc", disc), conductor("square", square)],
        screens: Vec::new(),
    }
}

#[test]
fn axes_and_painting_are_left() {
    let case = case();
    let coarse = axes_until(NOW, &case, 1.0);
    let whole = axes(&case, 1.0);
    for (left, whole) in coarse.iter().zip(&whole) {
        assert_eq!(left.nodes_m.len(), left.lines.len());
        assert!(left.nodes_m.len() < whole.nodes_m.len());
    }
    let grid = Grid::paint_until(NOW, &case, whole);
    assert!(grid.node_conductor.iter().all(|&mark| mark == FREE));
    assert!(grid.material.iter().all(|&material| material == 1));
    // Both halves in y are the same; nobody has looked.
    assert_eq!(halve(Stop::NEVER, &case).mirrors, ["y"]);
    assert!(halve(NOW, &case).mirrors.is_empty());
}

#[test]
fn networks_and_hierarchies_are_left() {
    let case = case();
    let mut grid = Grid::paint(&case, axes(&case, 0.7));
    let whole = NodeScheme::new(&grid).system.network;
    assert!(Hierarchy::until(Stop::NEVER, &whole).is_some());
    assert!(Hierarchy::until(NOW, &whole).is_none());
    grid.stop = NOW;
    for network in [
        NodeScheme::new(&grid).system.network,
        CellScheme::new(&grid).system.network,
    ] {
        assert!(network.link.iter().flatten().all(|&link| link == 0.0));
    }
}

#[test]
fn energies_and_derivatives_are_left() {
    let case = case();
    let mut grid = Grid::paint(&case, axes(&case, 0.7));
    let drives = [0, 1];
    let (nodes, cells) = (NodeScheme::new(&grid), CellScheme::new(&grid));
    let potentials = |count: usize| {
        let of = |drive: usize| (0..count).map(|n| ((n + drive) % 7) as f64).collect();
        [0, 1].map(of).to_vec()
    };
    let at_nodes: Vec<Vec<f64>> = potentials(grid.node_conductor.len());
    let at_cells: Vec<Vec<f64>> = potentials(grid.cells());
    let pairs = Pairs::all(drives.len());
    let mut found = [false, true].map(|is_left| {
        grid.stop = if is_left { NOW } else { Stop::NEVER };
        let [mut above, mut below] = [0, 1].map(|_| RowSums::new(&grid, &pairs));
        let energies = nodes.energies(&grid, &at_nodes, &drives, &pairs, Some(&mut above));
        let fluxes = cells.energies(&grid, &at_cells, &drives, &pairs, Some(&mut below));
        let slopes = [
            node_slopes(&grid, &at_nodes, &drives, &pairs, &above),
            cell_slopes(&grid, &cells, &at_cells, &drives, &pairs, &below),
        ];
        let largest = |slopes: &super::derivatives::Slopes| {
            let all = slopes.segments.iter().flatten().flatten();
            all.fold(0.0_f64, |most, v| most.max(v.abs()))
        };
        [
            energies.node.sum(),
            fluxes.cell.sum(),
            largest(&slopes[0]),
            largest(&slopes[1]),
        ]
    });
    found[0].sort_by(f64::total_cmp);
    assert!(found[0][0] > 0.0, "{found:?}");
    assert_eq!(found[1], [0.0; 4]);
}
