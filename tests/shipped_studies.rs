//! The tables under results/ are what the shipped studies give, and they obey physics.
//!
//! A thicker overlay takes flux from the finger, a wider gap takes coupling from the neighbour
//! (common practice, no source), and on one family of grids
//! nothing may jump between neighbouring points by more than the estimated error. The tables were
//! written by `padfield sweep scenarios/two_pads.toml`; one of their points is solved again here.

use padfield::input::{Document, Override};
use padfield::panel::lowering::LoweringOptions;
use padfield::response::{Request, respond};
use padfield_engine::field::Settings;
use std::collections::BTreeMap;
use std::path::Path;

/// A table of results: rows by column heading.
type Table = Vec<BTreeMap<String, String>>;

fn read(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn table(study: &str) -> Table {
    let text = read(&format!("results/two_pads/{study}/points.csv"));
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader
        .deserialize()
        .collect::<Result<_, _>>()
        .expect("a table with a heading")
}

fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    let text = row
        .get(column)
        .unwrap_or_else(|| panic!("no column {column:?}"));
    text.parse()
        .unwrap_or_else(|_| panic!("{column}: {text:?} is no number"))
}

/// Values and errors of a quantity along `along`, one line for every setting of `fixed`.
fn lines(
    table: &Table,
    fixed: &[&str],
    along: &str,
    quantity: &str,
    unit: &str,
) -> Vec<Vec<(f64, f64, f64)>> {
    let mut lines: BTreeMap<Vec<&str>, Vec<(f64, f64, f64)>> = BTreeMap::new();
    for row in table {
        let key = fixed.iter().map(|column| row[*column].as_str()).collect();
        lines.entry(key).or_default().push((
            number(row, along),
            number(row, &format!("{quantity} [{unit}]")),
            number(row, &format!("{quantity}: estimated error [{unit}]")),
        ));
    }
    let mut lines: Vec<_> = lines.into_values().collect();
    for line in &mut lines {
        line.sort_by(|a, b| a.0.total_cmp(&b.0));
    }
    lines
}

const MATERIAL: &str = "layer.overlay.material";
const OVERLAY: &str = "layer.overlay.thickness [mm]";
const BOARD: &str = "layer.board.thickness [mm]";
const GAP: &str = "pads.pair.gap [mm]";
const SIZE: &str = "pads.pair.size [mm]";

#[test]
fn every_point_has_a_number_of_the_accuracy_asked() {
    for (study, points) in [("spacing", 2 * 4 * 31), ("size", 5 * 21)] {
        let table = table(study);
        assert_eq!(table.len(), points, "{study}");
        for row in &table {
            assert_eq!(
                (row["state"].as_str(), row["accuracy reached"].as_str()),
                ("done", "yes")
            );
        }
    }
}

#[test]
fn touch_shift_falls_with_thickness_and_neighbour_ratio_with_the_gap() {
    let spacing = table("spacing");
    for line in lines(&spacing, &[MATERIAL, GAP], OVERLAY, "touch shift", "pF") {
        assert_eq!(line.len(), 4);
        assert!(line.windows(2).all(|w| w[1].1 < w[0].1), "{line:?}");
    }
    for line in lines(&spacing, &[MATERIAL, OVERLAY], GAP, "neighbour ratio", "%") {
        assert_eq!(line.len(), 31);
        assert!(line.windows(2).all(|w| w[1].1 < w[0].1), "{line:?}");
    }
    // A larger pad under the same finger never sees less of it.
    for line in lines(&table("size"), &[BOARD], SIZE, "touch shift", "pF") {
        assert_eq!(line.len(), 21);
        assert!(
            line.windows(2).all(|w| w[1].1 > w[0].1 - w[0].2),
            "{line:?}"
        );
    }
}

#[test]
fn nothing_jumps_by_more_than_the_estimated_error() {
    let (spacing, size) = (table("spacing"), table("size"));
    for quantity in ["base capacitance", "touch shift"] {
        let along_gap = lines(&spacing, &[MATERIAL, OVERLAY], GAP, quantity, "pF");
        let along_size = lines(&size, &[BOARD], SIZE, quantity, "pF");
        // Along the gap all points share one grid pattern. A pad's edge that passes under the edges of
        // the finger changes the lines of the grid.
        let all = along_gap.iter().map(|line| (line, 0.2));
        for (line, share) in all.chain(along_size.iter().map(|line| (line, 1.0))) {
            for w in line.windows(5) {
                // How far a point lies off the cubic through its four neighbours: a jump of one
                // point shows in full, a smooth dependence hardly.
                let around = 4.0 * (w[1].1 + w[3].1) - (w[0].1 + w[4].1);
                let jump = (w[2].1 - around / 6.0).abs();
                // The four neighbours err too, and their bars differ; the widest is still stricter
                // than the sum that the triangle inequality allows.
                let error = w.iter().map(|point| point.2).fold(0.0, f64::max);
                assert!(
                    jump <= share * error,
                    "{quantity}: {jump:e} beyond {error:e} at {w:?}"
                );
            }
        }
    }
}

/// Polynomials of degree 1 to 3 that are orthogonal on eight equal steps, and their squared norms
/// (R. A. Fisher and F. Yates, Statistical Tables, table of orthogonal polynomials, n = 8; from
/// memory).
const ORTHOGONAL: [([f64; 8], f64); 3] = [
    ([-7.0, -5.0, -3.0, -1.0, 1.0, 3.0, 5.0, 7.0], 168.0),
    ([7.0, 1.0, -3.0, -5.0, -5.0, -3.0, 1.0, 7.0], 168.0),
    ([-7.0, 5.0, 7.0, 3.0, -3.0, -7.0, -5.0, 7.0], 264.0),
];

/// What eight values in a row leave over from their least-squares cubic.
fn beside_cubic(values: &[f64]) -> Vec<f64> {
    let mut rest = values.to_vec();
    let mean = rest.iter().sum::<f64>() / 8.0;
    rest.iter_mut().for_each(|v| *v -= mean);
    for (polynomial, norm) in ORTHOGONAL {
        let product: f64 = polynomial.iter().zip(values).map(|(p, v)| p * v).sum();
        for (rest, p) in rest.iter_mut().zip(polynomial) {
            *rest -= product / norm * p;
        }
    }
    rest
}

#[test]
fn neighbours_jump_by_no_more_than_the_estimated_error() {
    // Two neighbours in the middle of eight, beside the cubic through them all: sees a lone point that
    // is off and a step between two stretches of points alike.
    let (spacing, size) = (table("spacing"), table("size"));
    for quantity in ["base capacitance", "touch shift"] {
        let along_gap = lines(&spacing, &[MATERIAL, OVERLAY], GAP, quantity, "pF");
        let along_size = lines(&size, &[BOARD], SIZE, quantity, "pF");
        let mut worst: f64 = 0.0;
        for line in along_gap.iter().chain(&along_size) {
            for i in 0..line.len() - 1 {
                let first = i.saturating_sub(3).min(line.len() - 8);
                let window = &line[first..first + 8];
                let values: Vec<f64> = window.iter().map(|point| point.1).collect();
                let rest = beside_cubic(&values);
                let jump = (rest[i + 1 - first] - rest[i - first]).abs();
                let error = line[i].2.max(line[i + 1].2);
                assert!(
                    jump <= error,
                    "{quantity}: {jump:e} beyond {error:e} at {:?}",
                    line[i]
                );
                worst = worst.max(jump / error);
            }
        }
        println!("{quantity}: neighbours jump by at most {worst:.2} of their estimated error");
    }
}

#[test]
fn a_point_of_the_table_solved_alone_agrees_within_the_bars() {
    let table = table("spacing");
    let row = &table[table.len() / 3];
    let document = Document::from_text("two_pads.toml", &read("scenarios/two_pads.toml"))
        .expect("the scenario is valid");
    let set = |path: &str, value: String| Override {
        path: path.to_owned(),
        value,
    };
    let panel = document
        .panel(&[
            set("layer.overlay.material", row[MATERIAL].clone()),
            set("layer.overlay.thickness", format!("{} mm", row[OVERLAY])),
            set("pads.pair.gap", format!("{} mm", row[GAP])),
        ])
        .expect("a valid panel");
    let request = Request {
        panel: &panel,
        finger: None,
        pad: None,
        settings: Settings {
            accuracy: 0.01,
            ..Settings::default()
        },
        options: LoweringOptions::default(),
    };
    let response = respond(&request, &|_| {}).expect("an answer");
    let shift = response.pads[0].touch.as_ref().expect("a touch").shift;
    let (value, error) = (
        number(row, "touch shift [pF]"),
        number(row, "touch shift: estimated error [pF]"),
    );
    let off = (shift.value.pf() - value).abs();
    assert!(off <= error + shift.error.pf(), "{off} pF apart, {row:?}");
    // The same field problem on another member of the family of grids: much closer than the bars.
    assert!(off <= 0.01 * value, "{off} pF apart, {row:?}");
}
