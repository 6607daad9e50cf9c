//! Touches solved together: the same numbers as solved one by one, for any return path.

use padfield::field::Settings;
use padfield::panel::lowering::LoweringOptions;
use padfield::panel::{Panel, ReturnPath};
use padfield::response::{Request, Response, respond};
use padfield::scenario::Document;
use padfield::touch::{TouchError, TouchPlace, Touches, WorkLimits, solve_field, solve_touches};
use padfield::units::{Capacitance, Length};

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
    let limits = WorkLimits {
        settings: settings(),
        solver: &solve_field,
        stop: &|| false,
        progress: &|_| {},
    };
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
        solver: &solve_field,
        stop: &|| true,
        progress: &|_| {},
    };
    let ended = solve_touches(&panel, &places(&panel, &[(0, [0.0, 0.0])]), &limits);
    assert!(matches!(ended, Err(TouchError::Interrupted)));
}
