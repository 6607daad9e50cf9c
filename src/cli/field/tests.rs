use super::*;
use ndarray::array;
use padfield_engine::field::{Accuracy, Bounded, Consistent, GridSummary, Phases, SolverSummary};

const RECORD: &str = r#"{"id": "demo", "kind": "planar", "box": [0, 4, 0, 2],
 "conductors": [{"name": "pad", "rects": [[1, 2, 1, 1]]}, {"name": "finger", "rects": [[1, 2, 1.5, 1.5]]}]}"#;

fn bounded(names: &[&str], value: Array2<f64>) -> Bounded {
    let off = |by: f64| value.mapv(|v| v + by);
    let entries = Consistent {
        value: value.clone(),
        estimated_error: value.mapv(|_| 0.5e-12),
        error_parts: [value.mapv(|_| 0.0), value.mapv(|_| 0.0)],
    };
    Bounded {
        conductors: names.iter().map(|&name| name.to_owned()).collect(),
        lower: off(-1e-12),
        upper: off(2e-12),
        estimated_error: value.mapv(|_| 0.5e-12),
        at_pin: entries.clone(),
        in_shifts: entries,
        shape_term: value.mapv(|_| 0.0),
        guaranteed_below: off(-1e-12),
        guaranteed_above: off(2e-12),
        energy_share: array![[1.0], [1.0]],
        value,
    }
}

fn answer() -> FieldAnswer {
    FieldAnswer {
        with: bounded(
            &["pad", "finger"],
            array![[50e-12, -20e-12], [-20e-12, 40e-12]],
        ),
        shift: Some(Shift {
            conductor: "finger".to_owned(),
            without: bounded(&["pad"], array![[45e-12]]),
            shift: array![[5e-12]],
            estimated_error: array![[6e-12]],
            shape_term: array![[0.0]],
        }),
        by_permittivity: Vec::new(),
        by_permittivity_without: Vec::new(),
        derivatives: None,
        derivatives_without: None,
        grid: GridSummary {
            cells: 1200,
            shape: vec![40, 30],
            fineness: 3.0,
            mirrors: vec!["x".to_owned()],
        },
        solver: SolverSummary {
            iterations: vec![7, 8],
            residual: 1e-9,
            seconds: 0.01,
            phases: Phases::default(),
        },
        accuracy: Accuracy {
            asked: 0.005,
            estimated: 0.002,
            reached: true,
            of_entries: 0.002,
            missed: Vec::new(),
            is_short_of_memory: false,
        },
        potentials: None,
    }
}

#[test]
fn json_holds_the_agreed_keys_in_picofarads() {
    let case = case_record::parse(RECORD).unwrap();
    let object = serde_json::to_value(FieldRecord::of(&case, &answer())).unwrap();
    let keys: Vec<&String> = object.as_object().unwrap().keys().collect();
    let agreed = [
        "case",
        "kind",
        "unit",
        "conductors",
        "matrix",
        "lower",
        "upper",
        "estimated_error",
        "shape_term",
        "guaranteed",
        "grid",
        "solver",
        "accuracy",
        "without",
    ];
    assert_eq!(keys, agreed);
    assert_eq!(object["unit"], "pF/m");
    assert_eq!(object["guaranteed"], true);
    let at = |pointer: &str| object.pointer(pointer).unwrap().as_f64().unwrap();
    assert!((at("/matrix/0/1") + 20.0).abs() < 1e-9);
    assert!((at("/upper/1/1") - 42.0).abs() < 1e-9);
    assert!((at("/without/shift/0/0") - 5.0).abs() < 1e-9);
    assert_eq!(object["without"]["conductor"], "finger");
}

#[test]
fn round_shapes_are_not_called_guaranteed() {
    let text = r#"{"kind": "3d", "box": [0, 4, 0, 4, 0, 4],
        "conductors": [{"name": "disc", "cylinders": [[2, 2, 1, 2, 2]]}]}"#;
    assert!(!guaranteed(&case_record::parse(text).unwrap()));
}

#[test]
fn table_fits_and_flags_what_is_below_resolution() {
    let case = case_record::parse(RECORD).unwrap();
    let text = to_table(&case, &answer());
    for line in text.lines() {
        assert!(line.chars().count() <= 100, "too wide: {line}");
    }
    assert!(text.contains("below resolution"));
    assert!(text.contains("asked 0.50 %, estimated 0.20 %: reached"));
}

#[test]
fn a_wrong_conductor_name_is_answered_with_the_nearest() {
    let case = case_record::parse(RECORD).unwrap();
    let failure = check_conductor(&case, "fingre").unwrap_err();
    assert_eq!(failure.exit, Exit::BadInput);
    assert!(failure.message.ends_with("did you mean `finger`?"));
}
