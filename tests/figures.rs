//! The charts of real studies, read back from their SVG and held against the rows of the store.

use crate::drawing::{Drawing, Ruler, Shape, centre};
use padfield::chart::Chart;
use padfield::figures::crossing::crossings;
use padfield::figures::{Figures, Picture, Sheet};
use padfield::input::Document;
use padfield::store::{Outcome, Reader, Row, Store, StudyRecord};
use padfield::study::{Quantity, Reported};
use padfield::sweep::{Job, Limits, Use, run};
use padfield_engine::field::Stop;
use std::collections::HashMap;
use std::sync::{LazyLock, Mutex};

const ROUND: &str = r#"
model = "axisymmetric"
[[layer]]
name = "overlay"
material = "acrylic"
thickness = "2 mm"
[[layer]]
name = "front"
copper = "35 um"
[[layer]]
name = "board"
material = "FR-4"
thickness = "1.6 mm"
[[layer]]
name = "back"
copper = "35 um"
[pads.key]
layer = "front"
shape = "disc"
diameter = "12 mm"
[ground.plane]
layer = "back"
[finger.adult]
contact = "10 mm"
dome = "16 mm"
[study.words]
vary = [
  { path = "overlay.thickness", from = "1 mm", to = "5 mm", step = "1 mm" },
  { path = "overlay.material", values = ["soda-lime glass", "acrylic"] },
]
report = ["touch shift", "base capacitance"]
limits = [{ quantity = "touch shift", at_least = "0.5 pF", because = "requirement" }]
accuracy = "10 %"
[study.two]
vary = [
  { path = "overlay.thickness", from = "1 mm", to = "4 mm", points = 4, scale = "logarithmic" },
  { path = "finger.adult.contact", values = ["8 mm", "10 mm", "20 mm"] },
]
report = ["touch shift"]
limits = [{ quantity = "touch shift", at_least = "0.5 pF", because = "requirement" }]
accuracy = "10 %"
[study.sample]
vary = [
  { path = "overlay.thickness", from = "1 mm", to = "4 mm" },
  { path = "pads.key.diameter", from = "8 mm", to = "14 mm" },
]
combine = "sample"
samples = 6
report = ["touch shift", "base capacitance"]
accuracy = "10 %"
"#;

const PAIR: &str = r#"
model = "section"
[[layer]]
name = "overlay"
material = "acrylic"
thickness = "3 mm"
[[layer]]
name = "front"
copper = "35 um"
[pads.pair]
layer = "front"
shape = "rectangle"
size = "12 mm x 12 mm"
columns = 2
gap = "4 mm"
names = ["left", "right"]
[finger.adult]
contact = "10 mm"
dome = "16 mm"
[study.gap]
vary = [{ path = "pads.pair.gap", values = ["2 mm", "5 mm", "9 mm"] }]
report = ["touch shift", "neighbour ratio"]
limits = [
  { quantity = "neighbour ratio", at_most = "10 %", because = "house rule" },
  { quantity = "touch shift", at_least = "0.1 pF" },
]
accuracy = "20 %"
"#;

/// A swept study, solved once for all tests.
#[derive(Clone)]
struct Swept {
    record: StudyRecord,
    rows: Vec<Row>,
}

fn swept(panel: &'static str, study: &'static str) -> Swept {
    static DONE: LazyLock<Mutex<HashMap<&str, Swept>>> = LazyLock::new(Mutex::default);
    let mut done = DONE.lock().expect("no test panics in here");
    done.entry(study)
        .or_insert_with(|| {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let document = Document::from_text("panel.toml", panel).expect("a panel");
            let study = document.study(study).unwrap_or_else(|e| panic!("{e}"));
            let job = Job {
                document: &document,
                study: &study,
            };
            let limits = Limits {
                threads: 2,
                memory_cap_bytes: 1 << 30,
                stop: Stop::NEVER,
                reduced: Use::Never,
            };
            let mut store = Store::open(&folder.path().join("study"), || false).expect("a store");
            let summary = run(&job, &mut store, &limits, &|| false, &mut |_| {}).expect("a sweep");
            let reader: &Reader = store.reader();
            let record = reader.studies().expect("studies").pop().expect("a study");
            let rows = reader.rows(&summary.study).expect("rows");
            Swept { record, rows }
        })
        .clone()
}

impl Swept {
    fn figures(&self) -> Figures {
        let mut sheet = Sheet::new(&self.record);
        for row in &self.rows {
            sheet.add(row);
        }
        sheet.figures()
    }

    fn value(&self, row: &Row, quantity: &str) -> Option<Reported> {
        let quantity: Quantity = quantity.parse().expect("a quantity");
        row.outcome.values()?.of(&quantity)
    }

    /// x and reported value of the rows whose coordinate number `of` reads `word`.
    fn line(&self, quantity: &str, of: usize, word: &str) -> Vec<(f64, Reported)> {
        let rows = self
            .rows
            .iter()
            .filter(|row| row.coordinates[of].to_string() == word);
        let mut line: Vec<_> = rows
            .filter_map(|row| {
                let x = row.coordinates[0].number().expect("a number");
                Some((x, self.value(row, quantity)?))
            })
            .collect();
        line.sort_by(|a, b| a.0.total_cmp(&b.0));
        line
    }
}

fn names(figures: &Figures) -> Vec<&str> {
    figures.figures.iter().map(|f| f.name.as_str()).collect()
}

fn svg(figures: &Figures, name: &str) -> String {
    let figure = figures.figures.iter().find(|f| f.name == name);
    let figure = figure.unwrap_or_else(|| panic!("{name} in {:?}", names(figures)));
    figure.picture.svg().expect("a picture")
}

fn is_close(a: f64, b: f64, within: f64) -> bool {
    (a - b).abs() <= within * b.abs()
}

/// The points of a line as values; a pixel of the drawing is far below 1 % here.
fn assert_line(shapes: &[Shape], x: &Ruler, y: &Ruler, expected: &[(f64, f64)], what: &str) {
    let drawn: Vec<[f64; 2]> = shapes.concat();
    assert_eq!(drawn.len(), expected.len(), "{what}");
    for (point, &(at, value)) in drawn.iter().zip(expected) {
        let (px, py) = (x.value(point[0]), y.value(point[1]));
        assert!(is_close(px, at, 0.01), "{what}: x {px} for {at}");
        assert!(is_close(py, value, 0.01), "{what}: {py} for {value}");
    }
}

#[test]
fn lines_bands_limits_and_crossings_are_those_of_the_rows() {
    let swept = swept(ROUND, "words");
    let figures = swept.figures();
    assert_eq!(names(&figures), ["touch-shift", "base-capacitance"]);
    assert_eq!(figures.left_out, [""; 0]);
    let text = svg(&figures, "touch-shift");
    let drawing = Drawing::of(&text);
    assert_eq!(
        drawing.words("title"),
        ["Touch shift against overlay thickness"]
    );
    assert_eq!(
        drawing.words("caption"),
        ["overlay thickness (mm)", "touch shift (pF)"]
    );
    assert_eq!(drawing.words("limit"), ["limit ≥ 0.5 pF, requirement"]);
    // Words are lines, in the order of the panel file.
    assert_eq!(
        drawing.words("legend"),
        [
            "soda-lime glass",
            "acrylic",
            "soda-lime glass, plate estimate",
            "acrylic, plate estimate",
            "estimated error"
        ]
    );
    let (x, y) = (drawing.x_axis(false), drawing.y_axis(false));
    for word in ["soda-lime glass", "acrylic"] {
        let line = swept.line("touch shift", 1, word);
        assert_eq!(line.len(), 5);
        let values: Vec<_> = line.iter().map(|(x, r)| (*x, r.value)).collect();
        assert_line(&drawing.shapes("series", Some(word)), &x, &y, &values, word);
        let band = drawing.shapes("band", Some(word)).concat();
        let reach = |end: f64| line.iter().map(move |(_, r)| r.value + end * r.error);
        let most = reach(1.0).fold(0.0, f64::max);
        let top = band.iter().map(|p| y.value(p[1])).fold(0.0, f64::max);
        assert!(is_close(top, most, 0.01), "{top} for {most}");
    }
    // 1/t: half the estimate under twice the overlay.
    let plates = drawing
        .shapes("series", Some("acrylic, plate estimate"))
        .concat();
    let values: Vec<f64> = plates.iter().map(|p| y.value(p[1])).collect();
    assert!(
        is_close(values[1], values[0] / 2.0, 0.02) && is_close(values[3], values[0] / 4.0, 0.04)
    );
}

#[test]
fn the_crossing_drawn_is_the_one_found_in_the_rows() {
    let swept = swept(ROUND, "words");
    let figures = swept.figures();
    let text = svg(&figures, "touch-shift");
    let drawing = Drawing::of(&text);
    let (x, y) = (drawing.x_axis(false), drawing.y_axis(false));
    let line = swept.line("touch shift", 1, "acrylic");
    let readings: Vec<padfield::chart::Reading> = line
        .iter()
        .map(|(x, r)| padfield::chart::Reading {
            x: *x,
            value: r.value,
            error: r.error,
        })
        .collect();
    let met = crossings(&readings, 0.5);
    let [only] = met.found[..] else {
        panic!("{met:?}")
    };
    let before = line
        .iter()
        .rfind(|(_, r)| r.value > 0.5)
        .expect("above at first");
    assert!(only.x > before.0 && only.x < before.0 + 1.0 && !only.rising);
    let rings: Vec<[f64; 2]> = drawing
        .shapes("crossing", Some("acrylic"))
        .iter()
        .chain(&drawing.shapes("crossing", None))
        .filter(|shape| shape.len() == 1)
        .map(centre)
        .collect();
    let hit = rings
        .iter()
        .any(|c| is_close(x.value(c[0]), only.x, 0.01) && is_close(y.value(c[1]), 0.5, 0.01));
    assert!(hit, "no ring at {}, {rings:?}", only.x);
    let notes = figures.figures[0].notes.join("\n");
    let told = format!(
        "Crossing of touch shift (acrylic) with limit ≥ 0.5 pF, requirement: {}",
        only.describe("mm")
    );
    assert!(notes.contains(&told), "{told:?} in {notes}");
    assert!(
        drawing
            .words("crossing")
            .iter()
            .any(|label| label.starts_with("acrylic: "))
    );
}

#[test]
fn the_assumption_line_says_what_the_numbers_hang_on() {
    let swept = swept(ROUND, "words");
    let text = svg(&swept.figures(), "touch-shift");
    let line = Drawing::of(&text).words("assumption").join(" ");
    let scenario = format!(
        "accuracy asked 10 %, scenario {}.",
        &swept.record.scenario[..8]
    );
    for needed in [
        "Model: axisymmetric",
        "Finger \"adult\": rigid conductor, contact 10 mm",
        "Ground at 0 V",
        &swept.record.engine,
        &scenario,
    ] {
        assert!(line.contains(needed), "{needed:?} in {line:?}");
    }
    // The overlay varies: what it was at one point is not told.
    assert!(!line.contains("Layers from"), "{line}");
    assert!(
        line.chars().count() <= 340,
        "{}: {line}",
        line.chars().count()
    );
}

#[test]
fn two_numbers_make_a_map_and_lines_and_failed_points_are_gaps() {
    let swept = swept(ROUND, "two");
    let failed = swept
        .rows
        .iter()
        .filter(|r| matches!(r.outcome, Outcome::Failed { .. }));
    assert_eq!(
        failed.count(),
        4,
        "a contact of 20 mm is wider than the dome"
    );
    let figures = swept.figures();
    assert_eq!(names(&figures), ["touch-shift", "touch-shift-map"]);
    let Picture::Map(map) = &figures.figures[1].picture else {
        panic!("a map")
    };
    assert_eq!(map.x_values.len(), 4);
    assert_eq!(map.y_values, [8.0, 10.0, 20.0]);
    assert_eq!(map.x.caption(), "overlay thickness (mm)");
    for row in &swept.rows {
        let at = |axis: &[f64], number: f64| axis.iter().position(|v| *v == number).expect("there");
        let [x, y] = [0, 1].map(|v| row.coordinates[v].number().expect("a number"));
        let drawn = map.panels[0].values[at(&map.y_values, y) * 4 + at(&map.x_values, x)];
        match swept.value(row, "touch shift") {
            Some(reported) => assert_eq!(drawn, reported.value),
            None => assert!(drawn.is_nan()),
        }
    }
    let text = svg(&figures, "touch-shift-map");
    let drawing = Drawing::of(&text);
    assert!(text.contains("limit ≥ 0.5 pF, requirement"));
    let dots: usize = drawing.shapes("dots", None).len();
    assert_eq!(dots, 16, "a disc and a ring for each of 8 numbers");
    let text = svg(&figures, "touch-shift");
    let drawing = Drawing::of(&text);
    let (x, y) = (drawing.x_axis(true), drawing.y_axis(false));
    for (word, name) in [("8", "8 mm"), ("10", "10 mm")] {
        let name = format!("contact of finger adult {name}");
        let line = swept.line("touch shift", 1, word);
        let values: Vec<_> = line.iter().map(|(x, r)| (*x, r.value)).collect();
        assert_eq!(values.len(), 4);
        assert_line(
            &drawing.shapes("series", Some(&name)),
            &x,
            &y,
            &values,
            &name,
        );
    }
    let note = drawing.words("assumption").join(" ");
    assert!(note.contains("4 points failed and are gaps."), "{note}");
    assert!(
        !note.contains("Finger \"adult\""),
        "the finger varies: {note}"
    );
}

#[test]
fn a_half_done_study_is_drawn_as_far_as_it_is() {
    let mut swept = swept(ROUND, "two");
    swept.rows.truncate(3);
    let figures = swept.figures();
    let text = svg(&figures, "touch-shift");
    let note = Drawing::of(&text).words("assumption").join(" ");
    assert!(note.contains("3 of 12 points recorded so far."), "{note}");
    swept.rows.clear();
    let figures = swept.figures();
    assert!(figures.figures.is_empty());
    assert_eq!(figures.left_out, ["no point is recorded yet"]);
}

#[test]
fn samples_are_points_against_every_variable() {
    let swept = swept(ROUND, "sample");
    let figures = swept.figures();
    assert_eq!(
        names(&figures),
        [
            "touch-shift-against-overlay-thickness",
            "touch-shift-against-diameter-of-key",
            "base-capacitance-against-overlay-thickness",
            "base-capacitance-against-diameter-of-key",
            "base-capacitance-against-touch-shift",
        ]
    );
    let text = svg(&figures, "base-capacitance-against-diameter-of-key");
    let drawing = Drawing::of(&text);
    assert_eq!(
        drawing.words("caption"),
        ["diameter of key (mm)", "base capacitance (pF)"]
    );
    let (x, y) = (drawing.x_axis(false), drawing.y_axis(false));
    let marks: Vec<[f64; 2]> = drawing.shapes("markers", None).iter().map(centre).collect();
    assert_eq!(marks.len(), 6);
    for row in &swept.rows {
        let at = row.coordinates[1].number().expect("a number");
        let value = swept.value(row, "base capacitance").expect("done").value;
        let drawn = marks
            .iter()
            .any(|m| is_close(x.value(m[0]), at, 0.005) && is_close(y.value(m[1]), value, 0.005));
        assert!(drawn, "{at} mm, {value} pF is not drawn");
    }
}

#[test]
fn touch_and_neighbour_make_a_trade_off_with_both_limits() {
    let swept = swept(PAIR, "gap");
    let figures = swept.figures();
    assert_eq!(
        names(&figures),
        ["touch-shift", "neighbour-ratio", "trade-off"]
    );
    let text = svg(&figures, "trade-off");
    let drawing = Drawing::of(&text);
    assert_eq!(
        drawing.words("title"),
        ["Neighbour ratio of the worst pad against touch shift of the weakest pad"]
    );
    let mut limits = drawing.words("limit");
    limits.sort();
    assert_eq!(limits, ["limit ≤ 10 %, house rule", "limit ≥ 0.1 pF"]);
    let Picture::TradeOff(chart) = &figures.figures[2].picture else {
        panic!("a front")
    };
    let designs = &chart.scatter.clouds[0].samples;
    assert_eq!(designs.len(), 3);
    for (row, design) in swept.rows.iter().zip(designs) {
        let reported = |name: &str| swept.value(row, name).expect("done");
        assert_eq!(design.x, reported("touch shift").value);
        assert_eq!(design.y, reported("neighbour ratio").value);
        assert_eq!(design.y_error, reported("neighbour ratio").error);
        assert_eq!(
            design.label,
            format!("gap of pair {} mm", row.coordinates[0])
        );
    }
}
