//! The threshold window of the five invented panels, solved coarsely: the verdicts their comments tell.

use padfield::field::Settings;
use padfield::scenario::Document;
use padfield::touch::WorkLimits;
use padfield::window::{Window, window};
use std::path::Path;

fn decided(name: &str) -> Window {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name);
    let text = std::fs::read_to_string(&path).expect("the scenario is there");
    let document = Document::from_text(name, &text).expect("TOML");
    let panel = document
        .panel(&[])
        .unwrap_or_else(|error| panic!("{error}"));
    let limits = WorkLimits {
        settings: Settings {
            accuracy: 0.15,
            ..Settings::default()
        },
        stop: &|| false,
        progress: &|_| {},
    };
    window(&panel, &limits).expect("the panel is solved")
}

/// File, window ratio of the default accuracy, user of the weakest true event, of the strongest false.
const EXPECTED: [(&str, f64, &str, &str); 5] = [
    ("fern.toml", 2.3, "child", "thumb"),
    ("tern.toml", 2.8, "light touch", "thumb"),
    ("clover.toml", 2.4, "two-layers", "damp-leather"),
    ("acorn.toml", 2.2, "light touch", "thumb"),
    ("lantern.toml", 1.5, "child", "palm"),
];

#[test]
fn every_invented_panel_has_the_window_its_comment_tells() {
    for (file, ratio, weakest, strongest) in EXPECTED {
        let window = decided(file);
        let binding = window.binding();
        // A coarse solve has wider bars, which narrow the window.
        let share = binding.ratio / ratio;
        assert!((0.85..1.05).contains(&share), "{file}: {}", binding.ratio);
        let user = |index: Option<usize>| {
            let event = &window.table.events[index.expect("an event")];
            let gesture = event.cause.gesture();
            gesture.map_or_else(String::new, |gesture| gesture.user.clone())
        };
        assert_eq!(user(binding.weakest_true), weakest, "{file}");
        assert_eq!(user(binding.strongest_false), strongest, "{file}");
    }
}

#[test]
fn an_appliance_prints_its_cautions_and_a_ship_its_own() {
    let cautions = |name: &str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("scenarios")
            .join(name);
        let text = std::fs::read_to_string(&path).expect("the scenario is there");
        let document = Document::from_text(name, &text).expect("TOML");
        padfield::cautions::cautions(&document.panel(&[]).expect("valid")).join("\n")
    };
    let acorn = cautions("acorn.toml");
    assert!(acorn.contains("safety insulation") && acorn.contains("only means that starts"));
    assert!(cautions("tern.toml").contains("Ships") && cautions("tern.toml").contains("Glass"));
    assert!(!cautions("fern.toml").contains("Mains"));
}
