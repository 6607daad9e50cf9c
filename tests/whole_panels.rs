//! Whole panel files against independent finite-element values (`tests/reference/panels/`): what no raw
//! record checks, how a panel file becomes a field problem. Solved coarsely: every value must lie within the
//! error bar that is printed with it.
//!
//! Run with `--nocapture` for the table.

use padfield::input::{Document, Override};
use padfield::panel::Panel;
use padfield::panel::lowering::LoweringOptions;
use padfield::response::{Estimated, Request, Response, respond};
use padfield_engine::field::Settings;
use rayon::prelude::*;
use serde_json::Value;
use std::path::Path;

/// Every panel is solved at both: a bar that holds at one only is luck.
const ACCURACIES: [f64; 2] = [0.04, 0.01];

/// Most that a touch shift may be off by at 1 %, relative; the cut of the round finger is as good as that.
const TOUCH_SHIFT: f64 = 0.002;

fn folder() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/panels")
}

/// A panel file with what is set in it, as the values name it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Variant {
    panel: String,
    overrides: Vec<String>,
}

impl Variant {
    fn of(value: &Value) -> Self {
        let text = |value: &Value| value.as_str().expect("text").to_owned();
        Self {
            panel: text(&value["panel"]),
            overrides: value["overrides"]
                .as_array()
                .expect("a list")
                .iter()
                .map(text)
                .collect(),
        }
    }

    fn panel(&self) -> Panel {
        // "B_earth" is "B" with its overrides.
        let file = match self.overrides.is_empty() {
            true => self.panel.as_str(),
            false => self.panel.split('_').next().expect("a name"),
        };
        let path = folder().join(format!("{file}.toml"));
        let text = std::fs::read_to_string(&path).expect("the panel is there");
        let document = Document::from_text(file, &text).expect("TOML");
        let overrides: Vec<Override> = self
            .overrides
            .iter()
            .map(|one| {
                let (path, value) = one.split_once('=').expect("path=value");
                Override {
                    path: path.to_owned(),
                    value: value.to_owned(),
                }
            })
            .collect();
        let panel = document.panel(&overrides);
        panel.unwrap_or_else(|error| panic!("{error}"))
    }

    fn solved(&self, accuracy: f64) -> Response {
        let panel = self.panel();
        let request = Request {
            panel: &panel,
            finger: None,
            pad: None,
            settings: Settings {
                accuracy,
                ..Settings::default()
            },
            options: LoweringOptions::default(),
        };
        respond(&request, &|_| {}).unwrap_or_else(|error| panic!("{}: {error}", self.panel))
    }
}

/// The printed value that "PAD QUANTITY" names.
fn printed(response: &Response, name: &str) -> Estimated {
    let (pad, quantity) = name.split_once(' ').expect("pad and quantity");
    let of = response.pads.iter().find(|one| one.name == pad);
    let of = of.expect("a pad of the panel");
    let step = || response.steps.iter().find(|one| one.pad == pad);
    match quantity {
        "base" => of.base.expect("in the case").computed,
        "touch shift" => of.touch.as_ref().expect("touched").shift,
        "neighbour shift" => {
            let mut touches = response.pads.iter().filter_map(|one| one.touch.as_ref());
            let touch = touches.next().expect("a touch");
            let own = touch.neighbours.iter().find(|one| one.pad == pad);
            own.expect("a neighbour").shift
        }
        "base dry" => step().expect("a film").before,
        "film change" => step().expect("a film").change,
        other => panic!("no quantity {other}"),
    }
}

#[test]
fn every_value_lies_within_its_bar() {
    let text = std::fs::read_to_string(folder().join("values.json")).expect("the values are there");
    let values: Vec<Value> = serde_json::from_str(&text).expect("JSON");
    assert_eq!(values.len(), 26);
    let mut variants: Vec<Variant> = values.iter().map(Variant::of).collect();
    variants.sort();
    variants.dedup();
    let runs: Vec<(f64, &Variant)> = ACCURACIES
        .iter()
        .flat_map(|&accuracy| variants.iter().map(move |variant| (accuracy, variant)))
        .collect();
    let answers: Vec<Response> = runs
        .par_iter()
        .map(|(accuracy, variant)| variant.solved(*accuracy))
        .collect();
    println!(
        "panel    quantity              asked  computed         finite elements    off by      bar"
    );
    let mut outside = Vec::new();
    for ((accuracy, variant), response) in runs.iter().zip(&answers) {
        for value in values.iter().filter(|one| Variant::of(one) == **variant) {
            let quantity = value["quantity"].as_str().expect("text");
            let number = |key: &str| value[key].as_f64().expect("a number");
            let found = printed(response, quantity);
            let [computed, bar] = [found.value, found.error].map(|one| one.pf());
            let [expected, uncertain] = ["fem_value", "fem_error"].map(number);
            let off = computed - expected;
            let line = format!(
                "{:8} {quantity:21} {:3.0} %  {computed:.5} ± {bar:.5}  {expected:.5} ± {uncertain:.5}  \
                 {:+6.2} %  {:6.2} %",
                variant.panel,
                100.0 * accuracy,
                100.0 * off / expected,
                100.0 * bar / expected,
            );
            println!("{line}");
            // What the round finger is off by at the accuracy that commands ask for by themselves.
            let is_touch = *accuracy <= 0.01 && quantity.ends_with("touch shift");
            let allowed = match is_touch {
                true => bar.min(TOUCH_SHIFT * expected),
                false => bar,
            };
            if off.abs().is_nan() || off.abs() > allowed + uncertain {
                outside.push(line);
            }
        }
    }
    assert!(
        outside.is_empty(),
        "outside their bars:\n{}",
        outside.join("\n")
    );
}
