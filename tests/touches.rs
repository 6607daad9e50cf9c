//! Touches solved together: the same numbers as solved one by one, for any return path.

use padfield::input::Document;
use padfield::panel::lowering::LoweringOptions;
use padfield::panel::{IdleState, Panel, ReturnPath};
use padfield::response::{Request, Response, respond};
use padfield::touch::{
    KeptFields, Progress, TouchError, TouchPlace, Touches, WorkLimits, solve_touches,
};
use padfield_engine::case::Case;
use padfield_engine::field::Settings;
use padfield_engine::units::{Capacitance, Length};
use std::sync::atomic::{AtomicUsize, Ordering};

const TWO_PADS: &str = include_str!("../scenarios/two_pads.toml");

fn panel(more: &str) -> Panel {
    let text = format!("{TWO_PADS}\n{more}");
    let document = Document::from_text("two_pads.toml", &text).expect("TOML");
    document
        .panel(&[])
        .unwrap_or_else(|error| panic!("{error}"))
}

fn settings() -> Settings {
    Settings {
        accuracy: 0.05,
        ..Settings::default()
    }
}

fn places(panel: &Panel, offsets_mm: &[(usize, [f64; 2])]) -> Vec<TouchPlace> {
    offsets_mm
        .iter()
        .map(|(pad, offset)| {
            let mut finger = panel.fingers[0].clone();
            finger.offset = offset.map(Length::from_mm);
            TouchPlace { finger, pad: *pad }
        })
        .collect()
}

fn touches(panel: &Panel, places: &[TouchPlace]) -> Touches {
    let limits = WorkLimits::of(settings());
    solve_touches(panel, places, &limits).expect("the panel is solved")
}

fn alone(panel: &Panel, finger: &str) -> Response {
    let request = Request {
        panel,
        finger: Some(finger),
        pad: Some("left"),
        settings: settings(),
        options: LoweringOptions::default(),
    };
    respond(&request, &|_| {}).expect("the panel is solved")
}

#[test]
fn one_field_answers_for_every_return_path() {
    let panel =
        panel("[finger.battery]\ncontact = \"10 mm\"\ndome = \"16 mm\"\nreturn = \"5 pF\"\n");
    let touches = touches(&panel, &places(&panel, &[(0, [0.0, 0.0])]));
    let through = ReturnPath::Through(Capacitance::from_pf(5.0));
    for (finger, return_path) in [("adult", ReturnPath::Earthed), ("battery", through)] {
        let seen = touches.seen(0, return_path).expect("positive capacitances");
        let response = alone(&panel, finger);
        let touch = response.pads[0].touch.as_ref().expect("left is touched");
        let together = seen.shifts[0].expect("in the case");
        // Driving the finger as well may lead to another grid: the same within both error bars.
        let difference = (together.value - touch.shift.value.farads()).abs();
        assert!(
            difference <= together.error + touch.shift.error.farads(),
            "{finger}: {difference:e}"
        );
        let base = seen.bases[0].expect("in the case");
        let other = response.pads[0].base.expect("in the case").computed;
        let difference = (base.estimate.value - other.value.farads()).abs();
        assert!(difference <= base.estimate.error + other.error.farads());
    }
}

#[test]
fn the_shift_falls_with_the_return_and_ends_at_the_earthed_one() {
    let panel = panel("");
    let touches = touches(&panel, &places(&panel, &[(0, [3.0, 0.0])]));
    let shift = |return_path| {
        let seen = touches.seen(0, return_path).expect("positive capacitances");
        seen.shifts[0].expect("in the case").value
    };
    let through = |pf: f64| shift(ReturnPath::Through(Capacitance::from_pf(pf)));
    let values: Vec<f64> = [1.0, 5.0, 20.0, 150.0, 1e6].map(through).to_vec();
    assert!(
        values.windows(2).all(|pair| pair[0] < pair[1]),
        "{values:?}"
    );
    let earthed = shift(ReturnPath::Earthed);
    assert!((values[4] / earthed - 1.0).abs() < 1e-5);
}

#[test]
fn mirror_images_are_not_solved_again_and_equal_the_ones_that_are() {
    let panel = panel("");
    let wanted = [
        (0, [3.0, 0.0]),
        (1, [-3.0, 0.0]),
        (0, [2.0, 1.0]),
        (1, [-2.0, -1.0]),
        (0, [0.0, 0.0]),
    ];
    let together = touches(&panel, &places(&panel, &wanted));
    assert_eq!((together.len(), together.problems()), (5, 3));
    for (index, pair) in [(1, 0), (3, 2)] {
        // The image of one and the solved field of the other, solved on its own.
        let own = touches(&panel, &places(&panel, &wanted[index..=index]));
        let image = together.seen(index, ReturnPath::Earthed).expect("solved");
        let direct = own.seen(0, ReturnPath::Earthed).expect("solved");
        let partner = together.seen(pair, ReturnPath::Earthed).expect("solved");
        for pad in 0..2 {
            let [a, b, c] = [&image, &direct, &partner].map(|seen| seen.shifts[pad]);
            let (a, b, c) = (a.expect("pad"), b.expect("pad"), c.expect("pad"));
            assert!((a.value - b.value).abs() <= a.error + b.error);
            // What is on the left of one is on the right of the other.
            let swapped = partner.shifts[1 - pad].expect("pad");
            assert_eq!(a.value, swapped.value);
            assert_ne!(a.value, c.value);
        }
    }
}

#[test]
fn a_glove_weakens_the_touch_and_an_interrupt_ends_the_work() {
    let panel = panel(
        "[finger.gloved]\ncontact = \"10 mm\"\ndome = \"16 mm\"\nglove = \"1.5 mm\"\n\
         glove_permittivity = 3\n",
    );
    let [bare, gloved] = ["adult", "gloved"].map(|finger| {
        let response = alone(&panel, finger);
        let touch = response.pads[0].touch.as_ref().expect("left is touched");
        touch.shift.value.pf()
    });
    // 3 mm of acrylic (2.8) become 3 mm and 1.5 mm of leather (3): the plates' shift falls to
    // 1.071 / (1.071 + 0.5) = 0.68 (series of two dielectrics, textbook); a field that spreads falls
    // further, but not to half of that.
    assert!((0.34..0.68).contains(&(gloved / bare)), "{}", gloved / bare);
    let limits = WorkLimits {
        settings: settings(),
        solver: &padfield_engine::field::solve,
        stop: &|| true,
        progress: &|_| {},
    };
    let ended = solve_touches(&panel, &places(&panel, &[(0, [0.0, 0.0])]), &limits);
    assert!(matches!(ended, Err(TouchError::Interrupted)));
}

/// A round pad under 3 mm of acrylic, a bare finger and one in leather, solved about its axis.
const ROUND: &str = "model = \"axisymmetric\"\n[[layer]]\nname = \"overlay\"\npermittivity = \"2.8\"\n\
    thickness = \"3 mm\"\n[[layer]]\nname = \"front\"\ncopper = \"35 um\"\n[[layer]]\nname = \"board\"\n\
    permittivity = \"4.4\"\nthickness = \"1.6 mm\"\n[board]\noutline = \"40 mm x 40 mm\"\n[pads.key]\n\
    layer = \"front\"\nshape = \"disc\"\ndiameter = \"14 mm\"\n[finger.bare]\ncontact = \"10 mm\"\n\
    dome = \"16 mm\"\n[finger.gloved]\ncontact = \"10 mm\"\ndome = \"16 mm\"\nglove = \"1.5 mm\"\n\
    glove_permittivity = 3\n";

fn round(finger: &str, replace: [&str; 2]) -> padfield::touch::SeenTouch {
    let text = ROUND.replace(replace[0], replace[1]);
    let document = Document::from_text("round.toml", &text).expect("TOML");
    let panel = document.panel(&[]);
    let panel = panel.unwrap_or_else(|error| panic!("{error}"));
    let finger = panel.fingers.iter().find(|one| one.name == finger);
    let place = TouchPlace {
        finger: finger.expect("a finger of the panel").clone(),
        pad: 0,
    };
    let limits = WorkLimits::of(Settings {
        accuracy: 0.003,
        ..Settings::default()
    });
    let solved = solve_touches(&panel, &[place], &limits).expect("the panel is solved");
    solved.seen(0, ReturnPath::Earthed).expect("seen")
}

/// A glove is there with the finger only: without it the pad is the one that a bare finger leaves, and the
/// permittivity of the glove is nothing to it. Independent values of a gloved touch are F18 of
/// `tests/reference.rs`.
#[test]
fn a_glove_comes_and_goes_with_the_finger() {
    let as_is = ["", ""];
    let bare = round("bare", as_is);
    let gloved = round("gloved", as_is);
    let base = |seen: &padfield::touch::SeenTouch| seen.bases[0].expect("a pad").estimate;
    let shift = |seen: &padfield::touch::SeenTouch| seen.shifts[0].expect("a pad");
    // Left there, the glove added 4 % to this base. Two grids: a tenth of a percent.
    let apart = base(&gloved).value / base(&bare).value - 1.0;
    assert!(apart.abs() < 1e-3, "{apart}");
    // A glove of air is the finger lifted by its thickness: the same body in the same space.
    let airy = round(
        "gloved",
        ["glove_permittivity = 3", "glove_permittivity = 1"],
    );
    let lifted = round(
        "gloved",
        [
            "glove = \"1.5 mm\"\nglove_permittivity = 3\n",
            "distance = \"1.5 mm\"\n",
        ],
    );
    let apart = shift(&airy).value / shift(&lifted).value - 1.0;
    assert!(apart.abs() < 3e-3, "{apart}");
    assert!(shift(&gloved).value > 1.1 * shift(&airy).value);
    // The rate to the glove's permittivity is all in the touched state, and is that of solved touches.
    let glove = gloved.dielectrics.iter().position(|name| name == "glove");
    let glove = glove.expect("a glove");
    let parts = |parts: &[Option<Vec<f64>>]| parts[0].as_ref().expect("a pad")[glove];
    assert_eq!(parts(&gloved.base_parts), 0.0);
    let [less, more] = ["2.94", "3.06"].map(|eps| {
        let to = format!("glove_permittivity = {eps}");
        shift(&round("gloved", ["glove_permittivity = 3", &to])).value
    });
    let rate = (more - less) / 0.04;
    let told = parts(&gloved.shift_parts);
    assert!((told / rate - 1.0).abs() < 0.02, "{told} {rate}");
}

/// The hand that holds a frame hangs on the finger's return path also where no finger is: base and change
/// of an object that comes are those of the touch.
#[test]
fn a_held_frame_hangs_on_the_return_path_without_a_finger() {
    let answer = |state: &str, path: &str| {
        let text = TWO_PADS.replace(
            "[finger.adult]",
            &format!("[finger.adult]\nreturn = \"{path}\""),
        );
        // A ground plane would take nearly all of what the frame does.
        let text = text.replace("[ground.plane]\nlayer = \"back\"\n", "");
        let more = format!(
            "[bezel.frame]\nopening = \"36 mm x 18 mm\"\nwidth = \"4 mm\"\nheight = \"1 mm\"\n\
             state = \"{state}\"\n[object.lid]\nsize = \"40 mm x 24 mm\"\nbehind = \"3 mm\"\n\
             present = \"at times\"\n"
        );
        let document = Document::from_text("held.toml", &format!("{text}\n{more}"));
        let panel = document.expect("TOML").panel(&[]);
        let panel = panel.unwrap_or_else(|error| panic!("{error}"));
        alone(&panel, "adult")
    };
    let [weak, earthed, earth] = [
        ("held", "5 pF"),
        ("held", "earthed"),
        ("earthed", "earthed"),
    ]
    .map(|(state, path)| answer(state, path));
    let step = |response: &Response| {
        let left = response.steps.iter().find(|one| one.pad == "left");
        left.expect("a change").clone()
    };
    // Held by an earthed hand the frame is earthed.
    // The frame has a row in one of them, which decides how fine the grid is: errors of both.
    let [same, known] = [step(&earthed), step(&earth)];
    for (one, other) in [(same.before, known.before), (same.change, known.change)] {
        let apart = (one.value.pf() - other.value.pf()).abs();
        assert!(
            apart < one.error.pf() + other.error.pf(),
            "{one:?} {other:?}"
        );
    }
    // What the touch calls the base is what stands there when the object has come.
    for response in [&weak, &earthed] {
        let base = response.pads[0].base.expect("in the case").computed;
        let one = step(response);
        let sum = one.before.value.pf() + one.change.value.pf();
        let apart = sum - base.value.pf();
        assert!(apart.abs() < 0.02 * base.value.pf(), "{sum} {base:?}");
    }
    // A weak return leaves more to the object, less to the frame.
    let [weak, earthed] = [weak, earthed].map(|response| step(&response));
    let less = 1.0 - weak.before.value.pf() / earthed.before.value.pf();
    assert!(less > 0.05, "{less}");
    assert!(weak.change.value.pf() > 1.1 * earthed.change.value.pf());
}

/// The same questions by the same fields; another accuracy, another place or another permittivity is another field.
#[test]
fn kept_fields_are_solved_once_and_have_the_bits_of_solved_ones() {
    let text = format!("model = \"section\"\n{TWO_PADS}");
    let document = Document::from_text("two_pads.toml", &text).expect("TOML");
    let section = document.panel(&[]).expect("a panel");
    let solved = AtomicUsize::new(0);
    let counted = |case: &Case, without: Option<&str>, settings: &Settings, tell: &Progress<'_>| {
        solved.fetch_add(1, Ordering::Relaxed);
        padfield_engine::field::solve(case, without, settings, tell)
    };
    let kept = KeptFields::of(&counted);
    let with = |panel: &Panel, places: &[TouchPlace], accuracy: f64| {
        let limits = WorkLimits {
            settings: Settings {
                accuracy,
                ..settings()
            },
            solver: &|case, without, settings, tell| kept.solve(case, without, settings, tell),
            stop: &|| false,
            progress: &|_| {},
        };
        let before = solved.load(Ordering::Relaxed);
        let touches = solve_touches(panel, places, &limits).expect("the panel is solved");
        (touches, solved.load(Ordering::Relaxed) - before)
    };
    let spots = places(&section, &[(0, [0.0, 0.0]), (1, [1.0, 0.0])]);
    let (first, solves) = with(&section, &spots, 0.05);
    assert_eq!(solves, 2);
    let (again, solves) = with(&section, &spots, 0.05);
    assert_eq!(solves, 0);
    let seen = |touches: &Touches| {
        let each = 0..touches.len();
        each.map(|place| touches.seen(place, ReturnPath::Earthed).expect("an answer"))
            .collect::<Vec<_>>()
    };
    assert_eq!(seen(&first), seen(&again));
    assert_eq!(seen(&first), seen(&touches(&section, &spots)));
    assert_eq!(with(&section, &spots, 0.02).1, 2);
    let moved = places(&section, &[(0, [0.5, 0.0])]);
    assert_eq!(with(&section, &moved, 0.05).1, 1);
    let mut other = section.clone();
    other.idle.value = IdleState::Floating;
    assert_eq!(with(&other, &spots[..1], 0.05).1, 1);
}
