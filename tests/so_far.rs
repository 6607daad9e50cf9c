//! What interrupted commands tell: how many touches are known and what these say, held against the whole answer.

use crate::processes::signalled;
use padfield::input::Document;
use padfield::panel::Panel;
use padfield::questions::walk::{
    Direction, map_so_far, slide, slides_so_far, touch_map, usual_fingers, walk, walk_so_far,
};
use padfield::response::{Request, pads_so_far, respond, single_pads_so_far};
use padfield::rounding::rounded_with_error;
use padfield::touch::{Remembered, WorkLimits};
use padfield_engine::field::Settings;
use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Three bars and a key, of which none is the image of another.
const PANEL: &str = r#"
title = "Three bars and two keys"
idle = "grounded"
[[layer]]
name = "overlay"
permittivity = "4"
thickness = "3 mm"
[[layer]]
name = "front"
copper = "35 um"
[[layer]]
name = "board"
permittivity = "4.4"
thickness = "1.6 mm ± 0.2 mm"
[board]
outline = "40 mm x 60 mm"
[pads.dim]
layer = "front"
shape = "slider"
segments = 3
pitch = "8 mm"
height = "12 mm"
gap = "1 mm"
centre = "0 mm, -16 mm"
[pads.one]
layer = "front"
shape = "rectangle"
size = "12 mm x 12 mm"
centre = "-8 mm, 4 mm"
[pads.two]
layer = "front"
shape = "rectangle"
size = "10 mm x 10 mm"
centre = "8 mm, 20 mm"
[finger.adult]
contact = "10 mm"
dome = "16 mm"
[window]
users = ["adult"]
"#;

fn panel() -> Panel {
    let document = Document::from_text("bars.toml", PANEL).expect("TOML");
    document
        .panel(&[])
        .unwrap_or_else(|error| panic!("{error}"))
}

/// What is told before a question, after it was ended by somebody who is asked before every field problem, and after it
/// went on from there; with its answer.
fn told_on_the_way<T, E: std::fmt::Debug>(
    ended_after: usize,
    question: impl Fn(&WorkLimits<'_>) -> Result<T, E>,
    so_far: impl Fn(&WorkLimits<'_>) -> String,
) -> ([String; 3], T) {
    let settings = Settings {
        accuracy: 0.3,
        keeper: Some(Remembered::before(None)),
        ..Settings::default()
    };
    let limits = WorkLimits::of(settings.clone());
    let before = so_far(&limits);
    let asked = AtomicUsize::new(0);
    let stopped = WorkLimits {
        stop: &|| asked.fetch_add(1, Ordering::Relaxed) >= ended_after,
        ..WorkLimits::of(settings)
    };
    assert!(question(&stopped).is_err(), "not ended");
    let halfway = so_far(&limits);
    let answer = question(&limits).expect("solved");
    ([before, halfway, so_far(&limits)], answer)
}

/// Touches that are known, and all there are.
fn counted(words: &str) -> [usize; 2] {
    let (_, rest) = words.split_once("so far ").expect("a count");
    let (known, rest) = rest.split_once(" of ").expect("a count");
    let (all, _) = rest.split_once(" touches are solved").expect("a count");
    [known, all].map(|text| text.parse().expect("a number"))
}

fn counts_up(told: &[String; 3]) {
    let [before, halfway, after] = told.each_ref().map(|words| counted(words));
    assert_eq!(before[0], 0, "{told:?}");
    assert!(0 < halfway[0] && halfway[0] < halfway[1], "{told:?}");
    assert_eq!(after, [before[1]; 2], "{told:?}");
}

#[test]
fn a_walk_tells_the_counts_of_its_places() {
    let panel = panel();
    let fingers = usual_fingers(&panel);
    let supply = &panel.usage.supplies.value[0];
    let section = Panel {
        model: padfield::panel::Sourced {
            value: padfield::panel::Model::Section,
            ..panel.model
        },
        ..panel.clone()
    };
    let (through, direction) = (3, Direction::Across);
    let (told, found) = told_on_the_way(
        6,
        |limits| walk(&section, &fingers, supply, through, direction, limits),
        |limits| walk_so_far(&section, &fingers, supply, through, direction, limits).expect("told"),
    );
    counts_up(&told);
    let (place, peak) = found.curves[0].peak(through).expect("counts");
    let most = format!(
        "{} on \"one\" at {:.1}, ",
        rounded_with_error(peak.value, peak.error),
        found.places[place].mm()
    );
    assert!(told[2].contains(&most), "{most}: {}", told[2]);
}

#[test]
fn a_map_tells_the_counts_of_its_places() {
    let panel = panel();
    let fingers = usual_fingers(&panel);
    let supply = &panel.usage.supplies.value[0];
    let (told, found) = told_on_the_way(
        6,
        |limits| touch_map(&panel, &fingers[0], supply, limits),
        |limits| {
            let told = map_so_far(&panel, &fingers[0], supply, limits);
            told.expect("told").expect("a map")
        },
    );
    counts_up(&told);
    let found = found.expect("a map");
    let counts = found.counts.iter().flatten().flatten();
    let most = counts.max_by(|a, b| a.value.total_cmp(&b.value));
    let most = most.expect("counts");
    let words = rounded_with_error(most.value, most.error);
    let line = format!("largest count shift among them {words} on ");
    assert!(told[2].contains(&line), "{line}: {}", told[2]);
}

#[test]
fn a_slider_tells_its_largest_deviation() {
    let panel = panel();
    let fingers = &usual_fingers(&panel)[..1];
    let supply = &panel.usage.supplies.value[0];
    let slider = &panel.sliders[0];
    let (told, found) = told_on_the_way(
        2,
        |limits| slide(&panel, slider, &fingers[0], supply, limits),
        |limits| slides_so_far(&panel, slider, fingers, supply, limits).expect("told"),
    );
    counts_up(&told);
    let of = |place: &&padfield::questions::walk::SlidePlace| place.deviation().mm().abs();
    let worst = found.live().max_by(|a, b| of(a).total_cmp(&of(b)));
    let worst = worst.expect("a place");
    let deviation = rounded_with_error(found.linearity().mm(), worst.estimate_error.mm());
    let words = format!("largest deviation among them {deviation} mm, at ");
    assert!(told[2].contains(&words), "{words}: {}", told[2]);
}

#[test]
fn touches_of_pads_tell_base_and_shift() {
    let panel = panel();
    let request = |limits: &WorkLimits<'_>| Request {
        panel: &panel,
        finger: None,
        pad: None,
        settings: limits.settings.clone(),
        options: Default::default(),
    };
    let (told, found) = told_on_the_way(
        1,
        |limits| padfield::response::respond_under(&request(limits), limits),
        |limits| pads_so_far(&request(limits), limits).expect("told"),
    );
    counts_up(&told);
    for pad in &found.pads {
        let Some(touch) = &pad.touch else { continue };
        let base = pad.base.expect("a base").computed.shown();
        let line = format!(
            "{}: base {base} pF, touch shift {} pF",
            pad.name,
            touch.shift.shown()
        );
        assert!(told[2].contains(&line), "{line}: {}", told[2]);
    }
    // A question about the same touches knows them by another way to ask.
    let settings = Settings {
        accuracy: 0.3,
        keeper: Some(Remembered::before(None)),
        ..Settings::default()
    };
    let limits = WorkLimits::of(settings);
    respond(&request(&limits), &|_| {}).expect("solved");
    let single = single_pads_so_far(&panel, None, &limits).expect("told");
    assert_eq!(counted(&single)[1], 2, "{single}");
}

/// Whether a cache holds a field: in a folder of its own, under its last name.
#[cfg(unix)]
fn keeps_something(folder: &Path) -> bool {
    let inside = |folder: &Path| {
        let entries = std::fs::read_dir(folder).into_iter().flatten();
        entries.filter_map(|entry| Some(entry.ok()?.path()))
    };
    let mut kept = inside(folder).flat_map(|shelf| inside(&shelf).collect::<Vec<_>>());
    kept.any(|file| file.extension().is_none())
}

/// Every command that solves touches, ended once it has solved something: what it says, and that the next run goes on.
#[cfg(unix)]
#[test]
fn every_interrupted_command_tells_what_it_knows() {
    let place = tempfile::tempdir().expect("a folder");
    std::fs::write(place.path().join("a.toml"), PANEL).expect("a panel");
    let measured = "pad,touch_shift_pf\none,0.1\n";
    std::fs::write(place.path().join("m.csv"), measured).expect("values");
    let commands: [(&[&str], &str); 12] = [
        (&["solve", "a.toml"], "so far "),
        (
            &["solve", "a.toml", "--against", "idle=floating"],
            "as written: so far ",
        ),
        (&["window", "a.toml"], "so far "),
        (&["walk", "a.toml"], "map: so far "),
        (&["walk", "a.toml", "--slider", "dim"], "adult: so far "),
        (&["tolerance", "a.toml"], "window: so far "),
        (&["rules", "a.toml"], "rules are judged"),
        (&["drift", "a.toml"], "so far "),
        (&["return-path", "a.toml"], "so far "),
        (&["circuit", "a.toml"], "so far "),
        (&["compare", "m.csv", "a.toml"], "so far "),
        (&["note", "a.toml"], "done: "),
    ];
    for (arguments, words) in commands {
        let folder = place.path().join(arguments.join("_"));
        let mut command = Command::new(env!("CARGO_BIN_EXE_padfield"));
        command.current_dir(place.path()).args(arguments);
        // Rounds beyond the first take minutes.
        command
            .args(["--accuracy", "0.01%", "--cache"])
            .arg(&folder);
        let output = signalled(&mut command, "INT", |_| keeps_something(&folder));
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(130), "{arguments:?}: {told}");
        assert!(told.contains("interrupted: "), "{arguments:?}: {told}");
        assert!(told.contains(words), "{arguments:?}: {told}");
        assert!(
            told.contains("the same command goes on from there"),
            "{arguments:?}: {told}"
        );
        assert!(!place.path().join("results/a/note/note.html").exists());
    }
}
