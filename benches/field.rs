//! Time of a field solution in units of a memory triad, and of complete answers.
//!
//! Run with `cargo bench --bench field`. A table comes first (best of a few runs), then criterion's
//! own statistics. A triad is a pass `a = b + s c` over three f64 arrays with one entry per cell,
//! measured in the same run: what the machine's memory gives, so ratios compare across machines. It moves 24 bytes per
//! cell, so that what a phase of a touch takes is at most as many bytes per cell as 24 times its triads.

use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::{Criterion, criterion_group, criterion_main};
use padfield::input::panel_from_bytes;
use padfield::panel::lowering::{FINGER, LoweringOptions};
use padfield::response::{Request, Response, respond};
use padfield::touch::{TouchPlace, prepared, sharing};
use padfield_engine::case::{Case, Kind};
use padfield_engine::case_record;
use padfield_engine::field::{self, FieldAnswer, Phases, Settings};
use padfield_engine::grid::{FREE, Grid};
use padfield_engine::multigrid::{Hierarchy, Network, Stopping, solve};

/// Fall of the residual a single solution is asked for.
const RESIDUAL: f64 = 1e-10;

/// Reads one record of the reference file.
fn record(id: &str) -> Case {
    let file: serde_json::Value =
        serde_json::from_str(include_str!("../tests/reference/shared.json"))
            .expect("the reference file is JSON");
    let records = file["cases"].as_array().expect("a list of cases");
    let record = records
        .iter()
        .find(|record| record["id"] == id)
        .unwrap_or_else(|| panic!("the reference file has no record {id}"));
    case_record::parse(&record.to_string()).expect("a valid record")
}

/// The node network of a grid of boxes, and the right-hand side of its first conductor.
struct NodeProblem {
    network: Network,
    right_hand_side: Vec<f64>,
}

impl NodeProblem {
    /// Edge conductance: over the adjacent cells, permittivity x their share of the dual face /
    /// edge length.
    fn new(grid: &Grid) -> Self {
        assert!(
            !grid.has_shapes && grid.kind != Kind::Axisymmetric,
            "only boxes, in the plane or in space"
        );
        let dimensions = grid.dimensions();
        let (nodes, cells) = (grid.node_dims(), grid.cell_dims());
        let strides = [1, nodes[0], nodes[0] * nodes[1]];
        let count: usize = nodes.iter().product();
        let mut link = [0, 1, 2].map(|d| vec![0.0_f32; if d < dimensions { count } else { 0 }]);
        let mut cell = 0;
        for k in 0..cells[2] {
            for j in 0..cells[1] {
                for i in 0..cells[0] {
                    let index = [i, j, k];
                    let permittivity = grid.permittivity[usize::from(grid.material[cell])];
                    let corner = i + strides[1] * j + strides[2] * k;
                    for d in 0..dimensions {
                        let across: Vec<usize> = (0..dimensions).filter(|&a| a != d).collect();
                        let face: f64 = across
                            .iter()
                            .map(|&a| 0.5 * grid.axes[a].width_m(index[a]))
                            .product();
                        let conductance =
                            (permittivity * face / grid.axes[d].width_m(index[d])) as f32;
                        for choice in 0..1_usize << across.len() {
                            let offset: usize = across
                                .iter()
                                .enumerate()
                                .map(|(bit, &a)| ((choice >> bit) & 1) * strides[a])
                                .sum();
                            link[d][corner + offset] += conductance;
                        }
                    }
                    cell += 1;
                }
            }
        }
        let conductor = &grid.node_conductor;
        let mut right_hand_side = vec![0.0; count];
        for d in 0..dimensions {
            for low in 0..count - strides[d] {
                let high = low + strides[d];
                for (driven, other) in [(low, high), (high, low)] {
                    if conductor[driven] == 0 && conductor[other] == FREE {
                        right_hand_side[other] += f64::from(link[d][low]);
                    }
                }
            }
        }
        let network = Network {
            coordinates: [0, 1, 2].map(|d| grid.axes[d].nodes_m.clone()),
            rank: [0, 1, 2].map(|d| grid.axes[d].rank.clone()),
            link,
            ground: vec![0.0; count],
            fixed: conductor.iter().map(|&mark| mark != FREE).collect(),
        };
        Self {
            network,
            right_hand_side,
        }
    }

    /// One solution on a hierarchy that is already there; gives the iterations.
    fn solve(&self, hierarchy: &Hierarchy) -> usize {
        let mut work = hierarchy.workspace();
        let mut potentials = vec![0.0; self.right_hand_side.len()];
        let solved = solve(
            hierarchy,
            &mut work,
            &self.right_hand_side,
            &mut potentials,
            Stopping::Residual(RESIDUAL),
        )
        .expect("the reference cases converge");
        black_box(potentials);
        solved.iterations
    }
}

/// Time of one triad over arrays of `cells` entries, best of several.
fn triad(cells: usize) -> Duration {
    let (b, c) = (vec![1.5_f64; cells], vec![2.5_f64; cells]);
    let mut a = vec![0.0_f64; cells];
    best_of(9, || {
        let scale = black_box(3.0);
        for ((a, b), c) in a.iter_mut().zip(&b).zip(&c) {
            *a = b + scale * c;
        }
        black_box(&mut a);
    })
    .0
}

/// Shortest time of several runs, and what the last one gave.
fn best_of<T>(runs: usize, mut work: impl FnMut() -> T) -> (Duration, T) {
    let mut timed = || {
        let start = Instant::now();
        let result = work();
        (start.elapsed(), result)
    };
    let mut best = timed();
    for _ in 1..runs {
        let (time, result) = timed();
        best = (best.0.min(time), result);
    }
    best
}

/// Prints one line; iterations are blank where nothing iterates.
fn print_row(case: &str, cells: usize, iterations: Option<usize>, time: Duration) {
    let iterations = iterations.map_or_else(String::new, |count| count.to_string());
    let triads = time.as_secs_f64() / triad(cells).as_secs_f64();
    println!(
        "{case:<42} {cells:>9} {iterations:>10} {:>10.2} {triads:>9.0}",
        1e3 * time.as_secs_f64()
    );
}

/// The touched and untouched answer of a record at fineness 1 on one thread, whatever its accuracy.
fn complete_answer(case: &Case, pool: &rayon::ThreadPool) -> FieldAnswer {
    let settings = Settings {
        // Met at once: the first grid is the one measured.
        accuracy: 1.0,
        start_fineness: Some(1.0),
        ..Settings::default()
    };
    pool.install(|| field::solve(case, Some("finger"), &settings, &|_| {}))
        .expect("the reference case has an answer")
}

fn one_thread() -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .expect("one thread can be had")
}

/// The panel of the README's command at its default accuracy, reading the file included.
fn demo_panel() -> Response {
    let text = include_bytes!("../scenarios/clover.toml");
    let panel = panel_from_bytes("clover.toml", text, &[]).expect("the demo panel is valid");
    let request = Request {
        panel: &panel,
        finger: None,
        pad: None,
        settings: Settings {
            accuracy: 0.01, // what `padfield solve` asks for by default
            ..Settings::default()
        },
        options: LoweringOptions::default(),
    };
    respond(&request, &|_| {}).expect("the demo panel has an answer")
}

/// A touch of a board of 14 electrodes, traces and slider, on a segment of the slider, so that all are driven; on one
/// thread, the untouched board solved before.
fn touch_of_a_board(pool: &rayon::ThreadPool) -> FieldAnswer {
    let text = include_bytes!("../scenarios/hazel.toml");
    let panel = panel_from_bytes("hazel.toml", text, &[]).expect("a valid panel");
    let settings = sharing(&Settings {
        // Met at once: the first grid is the one measured.
        accuracy: 1.0,
        start_fineness: Some(0.5),
        ..Settings::default()
    });
    let solve = |pad: &str| {
        let index = panel.pads.iter().position(|known| known.name == pad);
        let place = TouchPlace {
            finger: panel.fingers[0].clone(),
            pad: index.expect("a pad of the panel"),
        };
        let (lowered, settings) = prepared(&panel, &place, None, &settings).expect("a volume");
        pool.install(|| field::solve(&lowered.case, Some(FINGER), &settings, &|_| {}))
            .expect("an answer")
    };
    solve("rate-3");
    solve("rate-4")
}

fn print_touch_of_a_board(pool: &rayon::ThreadPool) {
    let answer = touch_of_a_board(pool);
    let Phases {
        set_up_s,
        iterations_s,
        energies_s,
    } = answer.solver.phases;
    let most = answer.solver.iterations.iter().copied().max();
    for (phase, seconds, iterations) in [
        ("set-up", set_up_s, None),
        ("iterations", iterations_s, most),
        ("energies", energies_s, None),
    ] {
        let title = format!("touch of a board, one thread, {phase}");
        let time = Duration::from_secs_f64(seconds);
        print_row(&title, answer.grid.cells, iterations, time);
    }
}

fn table(_: &mut Criterion) {
    println!(
        "{:<42} {:>9} {:>10} {:>10} {:>9}",
        "case, best of a few runs", "cells", "iterations", "time, ms", "triads"
    );
    for (name, id, finenesses) in [
        ("planar", "PEER2D", [6.0, 12.0, 24.0]),
        ("volume", "PEER3D", [1.0, 2.0, 4.6]),
    ] {
        let case = record(id);
        for fineness in finenesses {
            let grid = Grid::new(&case, fineness);
            let problem = NodeProblem::new(&grid);
            let (set_up, hierarchy) = best_of(3, || Hierarchy::new(&problem.network));
            let (time, iterations) = best_of(3, || problem.solve(&hierarchy));
            let title = format!("{name}, fineness {fineness}");
            let bytes = hierarchy.bytes() as f64 / grid.cells() as f64;
            let set_up_title = format!("{title}, set-up, {bytes:.0} bytes/cell");
            print_row(&set_up_title, grid.cells(), None, set_up);
            let solve_title = format!("{title}, solved to 1e-10");
            print_row(&solve_title, grid.cells(), Some(iterations), time);
        }
    }
    let (case, pool) = (record("PEER3D"), one_thread());
    let (time, answer) = best_of(3, || complete_answer(&case, &pool));
    let most = answer.solver.iterations.iter().copied().max();
    print_row(
        "volume, complete, one thread",
        answer.grid.cells,
        most,
        time,
    );
    print_touch_of_a_board(&pool);
    let (time, response) = best_of(3, demo_panel);
    let numerics = &response.numerics;
    print_row(
        "demo panel, all cores",
        numerics.cells,
        Some(numerics.iterations),
        time,
    );
}

fn statistics(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("field");
    group.sample_size(10);
    group.measurement_time(Duration::from_secs(3));
    for (name, id, fineness) in [("planar", "PEER2D", 6.0), ("volume", "PEER3D", 1.0)] {
        let problem = NodeProblem::new(&Grid::new(&record(id), fineness));
        let hierarchy = Hierarchy::new(&problem.network);
        group.bench_function(format!("{name} to 1e-10"), |bencher| {
            bencher.iter(|| problem.solve(&hierarchy));
        });
    }
    let (case, pool) = (record("PEER3D"), one_thread());
    group.bench_function("complete answer on one thread", |bencher| {
        bencher.iter(|| complete_answer(&case, &pool));
    });
    group.bench_function("demo panel", |bencher| bencher.iter(demo_panel));
    group.finish();
}

criterion_group!(benches, table, statistics);
criterion_main!(benches);
