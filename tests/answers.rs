//! What answers hold against the schema that `padfield schema COMMAND` prints. Answers of solved panels are
//! held against it where they are asked for anyway: see [`described`].

use assert_cmd::Command;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::sync::{LazyLock, Mutex};

/// Commands that answer with `--json`, as the help of `schema` lists them.
static COMMANDS: LazyLock<Vec<String>> = LazyLock::new(|| {
    let help = padfield(&["schema", "--help"]);
    let list = help.split("[possible values: ").nth(1).expect("a list");
    let list = list.split(']').next().expect("its end");
    list.split(',').map(|word| word.trim().to_owned()).collect()
});

/// Their schemas, where no key is allowed that is not described.
static SCHEMAS: LazyLock<Mutex<BTreeMap<String, Value>>> = LazyLock::new(Mutex::default);

fn padfield(arguments: &[&str]) -> String {
    let mut program = Command::cargo_bin("padfield").expect("the program");
    let output = program.args(arguments).output().expect("it runs");
    assert_eq!(output.status.code(), Some(0), "{arguments:?}");
    String::from_utf8(output.stdout).expect("text")
}

fn schema(command: &str) -> Value {
    let mut schemas = SCHEMAS.lock().expect("no other test failed inside");
    let schema = schemas.entry(command.to_owned()).or_insert_with(|| {
        let text = padfield(&["schema", command]);
        let mut schema: Value = serde_json::from_str(&text).expect("a schema");
        close(&mut schema);
        schema
    });
    schema.clone()
}

/// Forbids what is not described.
fn close(schema: &mut Value) {
    match schema {
        Value::Array(all) => all.iter_mut().for_each(close),
        Value::Object(all) => {
            all.values_mut().for_each(close);
            if all.contains_key("properties") {
                all.insert("unevaluatedProperties".to_owned(), Value::Bool(false));
            }
        }
        _ => {}
    }
}

/// Holds an answer against the schema of its command.
pub fn described(command: &str, answer: &Value) {
    let validator = jsonschema::validator_for(&schema(command)).expect("a schema");
    let errors = validator.iter_errors(answer);
    let errors: Vec<String> = errors
        .map(|error| format!("{}: {error:.300}", error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{command}: {errors:#?}");
}

/// Every property in a schema, with where it is.
fn properties<'s>(schema: &'s Value, place: &str, into: &mut Vec<(String, &'s Value)>) {
    match schema {
        Value::Array(all) => all.iter().for_each(|one| properties(one, place, into)),
        Value::Object(all) => {
            for (key, value) in all {
                properties(value, &format!("{place}/{key}"), into);
                if key == "properties" {
                    let keys = value.as_object().expect("keys");
                    into.extend(
                        keys.iter()
                            .map(|(key, one)| (format!("{place}/{key}"), one)),
                    );
                }
            }
        }
        _ => {}
    }
}

#[test]
fn every_key_of_every_answer_is_described() {
    assert!(COMMANDS.len() > 15, "{COMMANDS:?}");
    for command in COMMANDS.iter() {
        let schema = schema(command);
        let mut keys = Vec::new();
        properties(&schema, command, &mut keys);
        assert!(keys.len() > 5, "{command}: {}", keys.len());
        for (place, key) in keys {
            let words = key["description"].as_str().unwrap_or_default();
            assert!(words.len() > 4 && words.ends_with('.'), "{place}: {key}");
        }
    }
}

#[test]
fn answers_without_a_panel_are_as_described() {
    let read = |text: &str| serde_json::from_str::<Value>(text).expect("JSON");
    described("materials", &read(&padfield(&["materials", "--json"])));
    let folder = tempfile::tempdir().expect("a folder");
    let case = folder.path().join("case.json");
    let strips = json!({ "kind": "planar", "box": [0, 20, 0, 10], "conductors": [
        { "name": "left", "rects": [[5, 7, 4, 5]] },
        { "name": "right", "rects": [[12, 14, 4, 5]] },
    ]});
    std::fs::write(&case, strips.to_string()).expect("a file");
    let case = case.display().to_string();
    let arguments = [
        "field",
        &case,
        "--accuracy",
        "5%",
        "--without",
        "right",
        "--json",
    ];
    let answer = read(&padfield(&arguments));
    described("field", &answer);
    // A key that is missing and one that nobody knows are both found.
    for wrong in [
        |answer: &mut Value| drop(answer.as_object_mut().expect("an object").remove("unit")),
        |answer: &mut Value| answer["grid"]["colour"] = Value::Null,
        |answer: &mut Value| answer["accuracy"]["asked"] = json!("5 %"),
    ] {
        let mut answer = answer.clone();
        wrong(&mut answer);
        let validator = jsonschema::validator_for(&schema("field")).expect("a schema");
        assert!(!validator.is_valid(&answer));
    }
}

#[test]
fn an_estimate_of_a_discharge_is_as_described() {
    let arguments = ["discharge", "scenarios/two_pads.toml", "--json"];
    let answer = serde_json::from_str(&padfield(&arguments)).expect("JSON");
    described("discharge", &answer);
}
