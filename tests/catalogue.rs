//! The catalogue of what can be varied: complete over the schema, and the same in every consumer.

use padfield::input::catalogue::{FIXED, Known, Role, VARIED, known, varied};
use padfield::input::quantity::reading::measure_of;
use padfield::input::{Document, Override, schema};
use padfield::sensitivity::{PanelFamily, parameters};
use padfield::study::Values;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::path::Path;

fn everything() -> Document {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/panels/everything.toml");
    let text = std::fs::read_to_string(path).expect("a readable file");
    Document::from_text("everything.toml", &text).expect("TOML")
}

/// Hole, slot, shield, hatch, trace, bond: a path of each with a range that makes valid panels.
const NEW: [(&str, &str, &str); 9] = [
    ("pads.keys.hole", "1 mm", "5 mm"),
    ("slot.ditch.depth", "0.2 mm", "2 mm"),
    ("slot.ditch.width", "0.5 mm", "3 mm"),
    ("shield.front.gain", "0", "1"),
    ("shield.front.pitch", "0.8 mm", "3 mm"),
    ("ground.plane.line", "0.1 mm", "0.6 mm"),
    ("ground.plane.pitch", "0.5 mm", "4 mm"),
    ("trace.a.width", "0.1 mm", "1 mm"),
    ("layer.bond.thickness", "0 mm", "1 mm"),
];

fn resolved<'s>(schema: &'s Value, root: &'s Value) -> &'s Value {
    let to = schema["$ref"].as_str();
    to.and_then(|to| root.pointer(to.trim_start_matches('#')))
        .unwrap_or(schema)
}

/// Whether a value is a number with or without a unit, or a list or choice of such.
fn is_number(schema: &Value, root: &Value) -> bool {
    let schema = resolved(schema, root);
    let kinds = match &schema["type"] {
        Value::Array(kinds) => kinds.clone(),
        one => vec![one.clone()],
    };
    schema["pattern"].is_string()
        || kinds
            .iter()
            .any(|kind| kind == "integer" || kind == "number")
        || (schema["items"].is_object() && is_number(&schema["items"], root))
        || schema["anyOf"]
            .as_array()
            .is_some_and(|forms| forms.iter().any(|form| is_number(form, root)))
}

/// Every key that holds a number: section and key.
fn numbers_of_the_schema() -> BTreeSet<(String, String)> {
    let root = schema();
    let mut found = BTreeSet::new();
    let mut of_section = |section: &str, schema: &Value| {
        let keys = schema["properties"].as_object().expect("a section");
        for (key, inner) in keys {
            let is_table = resolved(&inner["items"], &root)["properties"].is_object();
            if is_table || is_number(inner, &root) {
                found.insert((section.to_owned(), key.clone()));
            }
        }
    };
    for (section, inner) in root["properties"].as_object().expect("keys") {
        // They are about values, and have none of their own.
        if ["study", "tolerance"].contains(&section.as_str()) {
            continue;
        }
        let inner = resolved(inner, &root);
        let forms = [inner, &inner["additionalProperties"], &inner["items"]];
        let mut forms = forms.into_iter().map(|form| resolved(form, &root));
        match forms.find(|form| form["properties"].is_object()) {
            Some(keys) => of_section(section, keys),
            None => {
                let alone = json!({ "properties": { section: inner } });
                of_section("", &alone);
            }
        }
    }
    found
}

#[test]
fn every_number_of_the_schema_is_in_the_catalogue_or_says_why_not() {
    let found = numbers_of_the_schema();
    assert!(found.len() > 90, "only {} keys: {found:?}", found.len());
    let listed: BTreeSet<(String, String)> = VARIED
        .iter()
        .map(|one| (one.section.to_owned(), one.key.to_owned()))
        .chain(FIXED.iter().flat_map(|fixed| {
            let keys = fixed.keys.iter();
            keys.map(|key| (fixed.section.to_owned(), (*key).to_owned()))
        }))
        .collect();
    let forgotten: Vec<_> = found.difference(&listed).collect();
    assert!(
        forgotten.is_empty(),
        "add these to their sections in src/input/sections, with unit, range, motion and roles or with the reason why \
         nothing varies them: {forgotten:?}"
    );
    let unknown: Vec<_> = listed.difference(&found).collect();
    assert!(
        unknown.is_empty(),
        "no such numbers in the schema: {unknown:?}"
    );
}

#[test]
fn the_catalogue_has_the_measures_of_the_schema() {
    let root = schema();
    let mut checked = 0;
    for one in VARIED.iter() {
        let section = &root["properties"][one.section];
        let section = match one.section {
            "" => &root,
            _ => resolved(section, &root),
        };
        let forms = [section, &section["additionalProperties"], &section["items"]];
        let mut forms = forms.into_iter().map(|form| resolved(form, &root));
        let keys = forms
            .find(|form| form["properties"].is_object() && !form["properties"][one.key].is_null());
        let key = &keys.unwrap_or_else(|| panic!("{one:?}"))["properties"][one.key];
        let whole = json!({ "$defs": root["$defs"], "allOf": [key] });
        let takes = jsonschema::validator_for(&whole).expect("a schema");
        let text = match one.unit() {
            "" => "2".to_owned(),
            unit => format!("2 {unit}"),
        };
        let pair = format!("{text}, {text}");
        // Alone, as a pair, or as a list of pairs.
        let forms = [json!(text), json!(pair), json!([pair])];
        assert!(
            forms.iter().any(|form| takes.is_valid(form)),
            "{one:?} does not take \"{text}\""
        );
        assert_eq!(measure_of(one.unit()), Some(one.measure));
        checked += 1;
    }
    assert_eq!(checked, VARIED.len());
}

#[test]
fn searches_and_studies_take_holes_slots_shields_hatches_traces_and_layers() {
    let document = everything();
    for (path, from, to) in NEW {
        let range = document.range(&format!("{path}={from}..{to}"));
        let range = range.unwrap_or_else(|e| panic!("{path}: {}", e.render(false)));
        assert!(matches!(range.values, Values::Range { .. }));
        for value in [from, to] {
            let set = Override::parse(&format!("{path}={value}")).expect("an override");
            document
                .panel(&[set])
                .unwrap_or_else(|e| panic!("{path}: {}", e.render(false)));
        }
        let study = document_with(&format!(
            "[study.one]\nvary = [{{ path = \"{path}\", values = [\"{from}\", \"{to}\"] }}]\n"
        ));
        let study = study
            .study("one")
            .unwrap_or_else(|e| panic!("{}", e.render(false)));
        assert_eq!(study.plan().len(), 2, "{path}");
    }
}

fn document_with(more: &str) -> Document {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/panels/everything.toml");
    let text = std::fs::read_to_string(path).expect("a readable file");
    Document::from_text("everything.toml", &format!("{text}{more}")).expect("TOML")
}

/// A search over what moves no touch was solved place by place and found nothing.
#[test]
fn what_moves_no_touch_is_refused_with_its_reason() {
    let document = everything();
    for (text, message) in [
        (
            "window.body=80 pF..200 pF",
            "\"window.body\" moves no quantity of a touch",
        ),
        (
            "scan.cycle=5 ms..50 ms",
            "\"scan.cycle\" cannot be varied: it moves response time and current only, which padfield circuit tells",
        ),
        (
            "window.wanted_ratio=1..3",
            "\"window.wanted_ratio\" cannot be varied: it is a demand, no property of the panel",
        ),
    ] {
        let refused = document.range(text).expect_err(text);
        assert_eq!(refused.message(), message);
        let (path, ends) = text.split_once('=').expect("a range");
        let (from, to) = ends.split_once("..").expect("two ends");
        let study = document_with(&format!(
            "[study.one]\nvary = [{{ path = \"{path}\", values = [\"{from}\", \"{to}\"] }}]\n"
        ));
        assert_eq!(study.study("one").expect_err(text).message(), message);
    }
    let demand = document_with("[tolerance.x]\nof = [\"window.release\"]\nwithin = \"5 %\"\n");
    let refused = demand.variations().expect_err("a demand has no tolerance");
    assert!(
        refused.message().contains("it is a demand"),
        "{}",
        refused.message()
    );
}

#[test]
fn tolerances_take_them_and_make_panels_of_them() {
    let document = everything();
    let panel = document
        .panel(&[])
        .unwrap_or_else(|e| panic!("{}", e.render(false)));
    let found = parameters(&document, &panel, None).expect("tolerances");
    let family = PanelFamily {
        document: Some(document.clone()),
        panel: panel.clone(),
        parameters: found,
    };
    for (path, ..) in NEW {
        let index = family.parameters.iter().position(|one| one.path == path);
        let index = index.unwrap_or_else(|| panic!("no {path}"));
        let parameter = &family.parameters[index];
        let entry = varied(path).expect("in the catalogue");
        assert!(parameter.changes_field && entry.is(Role::Spread), "{path}");
        assert_eq!(
            parameter.may_be_followed(),
            entry.motion.has_derivatives(),
            "{path}"
        );
        let moved = family.panel(&[(index, 1.02 * parameter.value)]);
        let moved = moved.unwrap_or_else(|e| panic!("{path}: {}", e.render(false)));
        assert_ne!(moved, panel, "{path}");
    }
    let mill = family
        .parameters
        .iter()
        .find(|one| one.path == "slot.ditch.depth");
    let spread = mill
        .and_then(|one| one.spread)
        .expect("the tolerance of the file");
    assert!((spread.most - 0.84e-3).abs() < 1e-12);
}

/// Every value that the file writes down and the catalogue knows is one the document finds, and words are
/// in neither.
#[test]
fn numbers_of_a_file_are_known() {
    let document = everything();
    let mut seen = 0;
    for path in document.value_paths() {
        let numbers = document.numbers_at(&path);
        if numbers.is_empty() {
            continue;
        }
        seen += 1;
        match known(&path) {
            Some(Known::Varied(entry)) => {
                assert!(
                    numbers
                        .iter()
                        .all(|one| measure_of(&one.unit) == Some(entry.measure)),
                    "{path}"
                );
            }
            Some(Known::Fixed(_)) => {}
            None => panic!("{path} is a number that the catalogue does not know"),
        }
    }
    assert!(seen > 25, "{seen}");
}
