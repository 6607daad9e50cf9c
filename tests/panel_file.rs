//! Shipped panel files, their schema, dotted paths and overrides.

use padfield::input::{Document, Override, Place, schema};
use padfield::measuring_circuit::{Counting, NoiseSource, Principle, Thresholds};
use padfield::panel::outline::pad_box;
use padfield::panel::{GroupLayout, LayerContent, Origin, Outline, Panel, ReturnPath};
use std::path::{Path, PathBuf};

fn shipped() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    assert!(files.len() >= 3);
    files
}

fn document(name: &str) -> Document {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name);
    Document::from_bytes(name, &std::fs::read(path).unwrap())
        .unwrap_or_else(|e| panic!("{}", e.render(false)))
}

fn panel(document: &Document, overrides: &[&str]) -> Panel {
    let overrides: Vec<Override> = overrides
        .iter()
        .map(|o| Override::parse(o).unwrap())
        .collect();
    document
        .panel(&overrides)
        .unwrap_or_else(|e| panic!("{}", e.render(false)))
}

fn error(document: &Document, overrides: &[&str]) -> String {
    let overrides: Vec<Override> = overrides
        .iter()
        .map(|o| Override::parse(o).unwrap())
        .collect();
    document.panel(&overrides).unwrap_err().to_string()
}

/// Millimetres, rounded far below any dimension that matters.
fn mm(length: padfield_engine::units::Length) -> f64 {
    (length.mm() * 1e6).round() / 1e6
}

#[test]
fn every_shipped_file_is_a_panel_and_matches_the_schema() {
    let schema = schema();
    let validator = jsonschema::validator_for(&schema).unwrap();
    for path in shipped() {
        let text = std::fs::read_to_string(&path).unwrap();
        let value: toml::Value = toml::from_str(&text).unwrap();
        let json = serde_json::to_value(value).unwrap();
        let errors: Vec<String> = validator
            .iter_errors(&json)
            .map(|e| e.to_string())
            .collect();
        assert!(errors.is_empty(), "{}: {errors:?}", path.display());
        panel(&Document::from_text("shipped", &text).unwrap(), &[]);
    }
}

#[test]
fn the_schema_rejects_what_the_reader_rejects() {
    let schema = schema();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let fern = include_str!("../scenarios/fern.toml");
    for (from, to) in [
        ("\"4.0 mm ± 0.2 mm\"", "4.0"),
        ("\"4.0 mm ± 0.2 mm\"", "\"4.0\""),
        ("thickness =", "thicknes ="),
        ("columns = 2", "columns = 0"),
        ("\"rectangle\"", "\"square\""),
        ("trace = \"0.45 pF/cm\"", "trace = \"0.45 pF\""),
    ] {
        assert!(fern.contains(from));
        let text = fern.replace(from, to);
        let value: toml::Value = toml::from_str(&text).unwrap();
        assert!(
            !validator.is_valid(&serde_json::to_value(value).unwrap()),
            "{to}"
        );
        assert!(
            Document::from_text("fern", &text)
                .unwrap()
                .panel(&[])
                .is_err(),
            "{to}"
        );
    }
}

#[test]
fn fern_becomes_the_panel_it_describes() {
    let fern = panel(&document("fern.toml"), &[]);
    assert_eq!(fern.layers.len(), 5);
    assert_eq!(mm(fern.layers[0].thickness.least), 3.8);
    assert!(matches!(fern.layers[2].content, LayerContent::Copper));
    let LayerContent::Dielectric {
        permittivity,
        source,
        ..
    } = &fern.layers[0].content
    else {
        panic!("the overlay is acrylic");
    };
    assert_eq!(source, "given");
    assert!((permittivity.most.relative() - 3.2).abs() < 1e-12);
    let centres: Vec<(&str, [f64; 2])> = fern
        .pads
        .iter()
        .map(|pad| (pad.name.as_str(), pad.centre.map(mm)))
        .collect();
    let expected = [
        ("vent", [-11.5, 11.5]),
        ("mist", [11.5, 11.5]),
        ("light", [-11.5, -11.5]),
        ("set", [11.5, -11.5]),
    ];
    assert_eq!(centres, expected);
    assert_eq!(mm(fern.pads[3].trace_length.value), 72.0);
    assert_eq!(fern.grounds[0].size.map(mm), [60.0, 60.0]);
    assert_eq!(fern.fingers[0].name, "adult");
    assert_eq!(fern.wall_distance.origin, Origin::Default);
    assert_eq!(fern.idle.origin, Origin::Given);
    let isolated = panel(&document("fern.toml"), &["finger.child.return=40 pF"]);
    let path = isolated.fingers[1].return_path;
    assert!(matches!(path, ReturnPath::Through(c) if (c.pf() - 40.0).abs() < 1e-9));
}

/// Columns, rows, gaps and extents of every group, as the boxes of its pads show them.
#[test]
fn pad_groups_keep_what_the_boxes_of_their_pads_show() {
    let changes: [&[&str]; 4] = [
        &[],
        &[
            "board.outline=90 mm x 90 mm",
            "pads.keys.columns=3",
            "pads.keys.gap=3 mm, 5 mm",
        ],
        &[
            "board.outline=90 mm x 90 mm",
            "pads.keys.rows=3",
            "pads.keys.columns=1",
            "pads.keys.centre=1 mm, -2 mm",
        ],
        &["pads.keys.rotation=30 deg", "board.outline=120 mm x 120 mm"],
    ];
    let fern = document("fern.toml");
    let without_names = Document::from_text(
        "fern.toml",
        &std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/fern.toml"))
            .unwrap()
            .lines()
            .filter(|line| !line.starts_with("names =") && !line.starts_with("trace_length = ["))
            .collect::<Vec<_>>()
            .join("\n"),
    )
    .unwrap();
    let mut panels: Vec<Panel> = shipped()
        .iter()
        .map(|path| panel(&document(&path.file_name().unwrap().to_string_lossy()), &[]))
        .collect();
    panels.extend(changes.iter().map(|set| {
        let is_counted = set
            .iter()
            .any(|text| text.contains("rows") || text.contains("columns"));
        panel(if is_counted { &without_names } else { &fern }, set)
    }));
    for panel in &panels {
        let members: Vec<usize> = panel
            .groups
            .iter()
            .flat_map(|g| g.members.clone())
            .collect();
        assert!(
            members.into_iter().eq(0..panel.pads.len()),
            "{}",
            panel.title
        );
        for group in &panel.groups {
            let pads = &panel.pads[group.members.clone()];
            assert!(pads.iter().all(|pad| pad.group == group.name));
            let boxes: Vec<_> = pads.iter().map(pad_box).collect();
            for axis in 0..2 {
                let least = boxes
                    .iter()
                    .map(|b| b[0][axis])
                    .fold(f64::INFINITY, f64::min);
                let most = boxes
                    .iter()
                    .map(|b| b[1][axis])
                    .fold(f64::NEG_INFINITY, f64::max);
                let extent = group.extent();
                // Coordinates are sums of a few lengths.
                assert!((extent[0][axis] - least).abs() < 1e-12);
                assert!((extent[1][axis] - most).abs() < 1e-12);
            }
            for ([a, b], gap) in group.neighbours() {
                let [a, b] = [a, b].map(|pad| boxes[pad - group.members.start]);
                let apart =
                    (0..2).map(|axis| (b[0][axis] - a[1][axis]).max(a[0][axis] - b[1][axis]));
                let apart = apart.fold(f64::NEG_INFINITY, f64::max);
                assert!((apart - gap.metres()).abs() < 1e-12, "{}", group.name);
            }
        }
    }
    let dim = panels.iter().find_map(|panel| panel.group("dim"));
    let dim = dim.expect("the shipped slider");
    assert!(matches!(dim.layout, GroupLayout::Segments { .. }) && !dim.has_gaps());
    assert!((dim.least_gap().map_or(0.0, |gap| gap.mm()) - 0.3).abs() < 1e-12);
}

#[test]
fn the_circuit_is_read_and_what_nobody_wrote_is_a_default() {
    let fern = panel(&document("fern.toml"), &[]).electronics;
    let Principle::ResistorOscillator {
        resistor,
        thresholds,
    } = fern.circuit.principle
    else {
        panic!("FERN has a resistor oscillator")
    };
    let ohms = [resistor.nominal, resistor.least, resistor.most].map(|r| r.ohms().round());
    assert_eq!(ohms, [120_000.0, 118_800.0, 121_200.0]);
    assert_eq!(thresholds, Thresholds::THIRDS);
    assert_eq!(fern.circuit.noise, NoiseSource::Measured(1.5));
    assert_eq!(fern.origin("circuit.gate"), Origin::Given);
    assert_eq!(fern.origin("circuit.start"), Origin::Default);
    assert!(fern.is_scan_given() && fern.battery.is_none());

    let clover = panel(&document("clover.toml"), &[]).electronics;
    let battery = clover.battery.expect("CLOVER runs on two cells");
    assert!((battery.capacity.mah() - 2000.0).abs() < 1e-9);
    assert_eq!(clover.origin("battery.self_discharge"), Origin::Default);
    assert!((clover.scan.cycle.ms() - 120.0).abs() < 1e-9);

    let pair = panel(&document("two_pads.toml"), &[]).electronics;
    assert_eq!(pair, padfield::panel::Electronics::default());
}

#[test]
fn every_value_of_the_circuit_has_a_path() {
    let pair = document("two_pads.toml");
    let changed = panel(
        &pair,
        &[
            "circuit.principle=current oscillator",
            "circuit.current=5 uA ± 10 %",
            "circuit.thresholds=25 %, 3/4",
            "circuit.periods=100",
            "circuit.reference_clock=16 MHz",
            "circuit.start=synchronised",
            "circuit.supply=5 V",
            "circuit.comparator_delay=60 ns",
            "circuit.comparator_noise=2 mV",
            "circuit.low_frequency_noise=200 ppm",
            "circuit.common_mode=100 mV",
            "circuit.series_resistor=1 k\u{3a9}",
            "scan.debounce=3",
            "battery.capacity=1.2 Ah",
            "battery.self_discharge=2 %",
        ],
    )
    .electronics;
    let Principle::CurrentOscillator {
        current,
        thresholds,
    } = changed.circuit.principle
    else {
        panic!("a current oscillator was asked for")
    };
    assert!((current.most.ua() - 5.5).abs() < 1e-9);
    assert_eq!(thresholds, Thresholds::QUARTERS);
    let Counting::Periods { periods, .. } = changed.circuit.counting else {
        panic!("periods are timed")
    };
    assert_eq!((periods, changed.scan.debounce), (100, 3));
    assert_eq!(changed.given.len(), 15);
    let battery = changed.battery.expect("a battery was given");
    assert!((battery.capacity.mah() - 1200.0).abs() < 1e-9);
    assert_eq!(
        error(&pair, &["circuit.resistor=100 kohm ± 100 %"]),
        "--set circuit.resistor=100 kohm ± 100 %: the tolerance takes circuit.resistor out of range; \
         write 1 ohm to 1000 Mohm"
    );
}

#[test]
fn a_board_that_is_not_given_surrounds_the_copper() {
    let text = include_str!("../scenarios/two_pads.toml");
    let without = text.replace("[board]\noutline = \"80 mm x 50 mm\"\n", "");
    assert_ne!(without, text);
    let document = Document::from_text("two_pads.toml", &without).expect("a valid file");
    let panel = panel(&document, &[]);
    assert_eq!(panel.board.origin, Origin::Default);
    assert_eq!(panel.board.value.map(mm), [51.75, 32.7]);
    assert_eq!(panel.grounds[0].size.map(mm), [51.75, 32.7]);
    assert_eq!(panel.stray.pin.origin, Origin::Default);
}

#[test]
fn overrides_reach_every_kind_of_value() {
    let fern = document("fern.toml");
    let changed = panel(
        &fern,
        &[
            "layer.overlay.thickness=5 mm",
            "bond.thickness.nominal=0.2 mm",
            "pads.keys.size.width=12 mm",
            "pads.keys.gap.y=\"6 mm\"",
            "keys.columns=1",
            "pads.keys.rows=4",
            "pads.keys.trace_length.light=10 mm",
            "board.outline.height=100 mm",
            "idle=floating",
            "finger.adult.offset.x=3 mm",
            "finger.adult.on=set",
            "wall_distance=80 mm",
            "layer.overlay.material=glass",
            "layer.board.permittivity=4.6 ± 0.1",
        ],
    );
    assert_eq!(mm(changed.layers[0].thickness.most), 5.0);
    assert_eq!(mm(changed.layers[1].thickness.most), 0.23);
    let Outline::Rectangle { width, height } = changed.pads[0].outline else {
        panic!("pads are rectangles");
    };
    assert_eq!([width, height].map(mm), [12.0, 15.0]);
    assert_eq!(mm(changed.pads[0].centre[1]), 31.5);
    assert_eq!(mm(changed.pads[2].trace_length.value), 10.0);
    assert_eq!(mm(changed.board.value[1]), 100.0);
    assert_eq!(changed.fingers[0].offset.map(mm), [3.0, 0.0]);
    assert_eq!(mm(changed.wall_distance.value), 80.0);
    let LayerContent::Dielectric { permittivity, .. } = &changed.layers[3].content else {
        panic!("the board is a dielectric");
    };
    assert!((permittivity.least.relative() - 4.5).abs() < 1e-12);
    // The document itself is unchanged.
    assert_eq!(mm(panel(&fern, &[]).layers[0].thickness.nominal), 4.0);
}

#[test]
fn every_path_can_be_set_to_the_value_it_has() {
    for path in shipped() {
        let text = std::fs::read_to_string(&path).unwrap();
        let document = Document::from_text("shipped", &text).unwrap();
        let original = panel(&document, &[]);
        let mut set = 0;
        for path in document.paths() {
            let Some(value) = document.value_at(path).unwrap().filter(|v| !v.is_empty()) else {
                continue;
            };
            let same = panel(&document, &[&format!("{path}={value}")]);
            assert_eq!(same, original, "{path}={value}");
            set += 1;
        }
        assert!(set > 20, "{set}");
    }
}

#[test]
fn errors_in_overrides_point_at_the_override() {
    let fern = document("fern.toml");
    let cases = [
        (
            "layer.overlai.thickness=5 mm",
            "--set layer.overlai.thickness=5 mm: there is no value at \"layer.overlai.thickness\"; did you mean \"layer.overlay.thickness\"?",
        ),
        (
            "overlay.thickness=5",
            "--set overlay.thickness=5: layer.overlay.thickness: 5 has no unit; did you mean \"5 mm\"?",
        ),
        (
            "overlay.thickness=-5 mm",
            "--set overlay.thickness=-5 mm: the thickness is -5 mm; write more than 0 mm",
        ),
        (
            "keys.gap=-1 mm",
            "--set keys.gap=-1 mm: with a gap of -1 mm the pads are shorted; write more than 0 mm",
        ),
        (
            "keys.columns=two",
            "--set keys.columns=two: pads.keys.columns: string \"two\" cannot stand here; write a whole number from 1 to 100",
        ),
        (
            "keys.size.width=80 mm",
            "--set keys.size.width=80 mm: pad \"vent\" is outside the board (60 mm x 60 mm); move it inwards or make the board larger",
        ),
        (
            "keys.trace_length=[\"1 mm\"",
            "--set keys.trace_length=[\"1 mm\": this is not a TOML value: unclosed array, expected `]`; a list is written as [\"1 mm\", \"2 mm\"]",
        ),
    ];
    for (given, expected) in cases {
        assert_eq!(error(&fern, &[given]), expected);
    }
    let no_sign = Override::parse("overlay.thickness").unwrap_err();
    assert_eq!(
        no_sign.place(),
        &Place::Override("overlay.thickness".to_owned())
    );
}

#[test]
fn short_paths_that_could_mean_two_things_are_refused() {
    let text = include_str!("../scenarios/fern.toml").replace("[ground.plane]", "[ground.front]");
    let document = Document::from_text("fern.toml", &text).unwrap();
    // ground.front.layer is unique, but nothing else called front has a layer; outline is not.
    assert_eq!(
        document.value_at("front.layer").unwrap().as_deref(),
        Some("back")
    );
    let text = text
        .replace("[finger.child]", "[finger.keys]")
        .replace("[pads.keys]", "[pads.keys]\nrotation = \"0 deg\"");
    let text = format!(
        "{text}\n[guard.cross]\nbetween = \"keys\"\nwidth = \"1 mm\"\nstate = \"grounded\"\n[guard.overlay]\nbetween = \"keys\"\nwidth = \"1 mm\"\nstate = \"grounded\"\n[ground.overlay]\nlayer = \"back\"\n[pads.front]\nlayer = \"front\"\nshape = \"disc\"\ndiameter = \"1 mm\"\n"
    );
    let document = Document::from_text("fern.toml", &text).unwrap();
    let ambiguous = document.value_at("front.layer").unwrap_err().to_string();
    assert!(
        ambiguous.contains("write \"pads.front.layer\" or \"ground.front.layer\""),
        "{ambiguous}"
    );
}

const STUDY: &str = r#"
[study.spacing]
vary = [
  { path = "keys.gap", from = "2 mm", to = "0.5 in", step = "0.1 mm" },
  { path = "layer.overlay.thickness", from = "1 mm", to = "8 mm", points = 4, scale = "logarithmic" },
  { path = "overlay.material", values = ["acrylic", "soda-lime glass"] },
]
report = ["touch shift", "neighbour ratio of vent"]
limits = [{ quantity = "touch shift", at_least = "300 fF", because = "house rule" }]
accuracy = "0.5 %"
finger = "child"

[study.spread]
vary = [{ path = "overlay.permittivity", from = 2.6, to = 3.5 }]
combine = "sample"
samples = 20
sequence = "random"
seed = 7
"#;

#[test]
fn a_study_is_read_as_the_schema_describes_it() {
    let text = include_str!("../scenarios/fern.toml").to_owned() + STUDY;
    let value: toml::Value = toml::from_str(&text).unwrap();
    let schema = schema();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let json = serde_json::to_value(value).unwrap();
    let errors: Vec<String> = validator
        .iter_errors(&json)
        .map(|e| e.to_string())
        .collect();
    assert!(errors.is_empty(), "{errors:?}");
    let document = Document::from_text("fern.toml", &text).unwrap();
    assert_eq!(document.studies(), ["spacing", "spread"]);
    assert!(document.paths().all(|path| !path.starts_with("study")));
    let study = document.study("spacing").unwrap();
    let headings: Vec<String> = study.variables.iter().map(|v| v.heading()).collect();
    assert_eq!(
        headings,
        [
            "pads.keys.gap [mm]",
            "layer.overlay.thickness [mm]",
            "layer.overlay.material"
        ]
    );
    // 2 to 12.7 mm by 0.1 mm.
    assert_eq!(study.plan().len(), 108 * 4 * 2);
    assert!((study.limits[0].value - 0.3).abs() < 1e-12, "in pF");
    assert_eq!(study.accuracy, 0.005);
    assert_eq!(study.finger.as_deref(), Some("child"));
    let spread = document.study("spread").unwrap();
    assert_eq!(spread.plan().len(), 20);
    let missing = document.study("spacin").unwrap_err().to_string();
    assert!(missing.contains("did you mean \"spacing\"?"), "{missing}");
}

#[test]
fn the_identity_of_a_study_leaves_out_what_does_not_matter() {
    let text = include_str!("../scenarios/fern.toml").to_owned() + STUDY;
    let identity = |text: &str| Document::from_text("x", text).unwrap().identity("spacing");
    let same = [
        text.replace("title = \"FERN", "title = \"FIR"),
        text.replace("[study.spacing]", "# a remark\n[study.spacing]"),
        text.replace("seed = 7", "seed = 8"),
    ];
    for other in same {
        assert_ne!(other, text);
        assert_eq!(identity(&other), identity(&text));
    }
    for (from, to) in [("0.1 mm\" }", "0.2 mm\" }"), ("\"8 mm\"", "\"9 mm\"")] {
        assert!(text.contains(from), "{from}");
        assert_ne!(identity(&text.replace(from, to)), identity(&text));
    }
}
