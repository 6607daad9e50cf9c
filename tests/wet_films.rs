//! Water on the touched face: order and size of its bounds on the half-inch pads.

use padfield::input::Document;
use padfield::panel::lowering::LoweringOptions;
use padfield::panel::symmetry::Mirror;
use padfield::panel::{Model, Panel};
use padfield::questions::window::{Cause, Group, window};
use padfield::response::{Request, Response, ResponseError, respond};
use padfield::store::inputs_of;
use padfield::touch::{Surrounding, WorkLimits, panel_mirrors};
use padfield_engine::field::Settings;

const TWO_PADS: &str = include_str!("../scenarios/two_pads.toml");

fn panel(more: &str) -> Panel {
    let text = format!("{TWO_PADS}\n{more}");
    let document = Document::from_text("wet.toml", &text).expect("TOML");
    document
        .panel(&[])
        .unwrap_or_else(|error| panic!("{error}"))
}

/// 40 mm square, 0.2 mm thick, over both pads.
fn wet(bound: &str) -> Panel {
    panel(&format!(
        "[film.rain]\nsize = \"40 mm x 40 mm\"\nthickness = \"0.2 mm\"\ntreat_as = \"{bound}\"\n\
         conductivity = \"0.05 S/m\"\n"
    ))
}

fn solved(panel: &Panel) -> Response {
    let request = Request {
        panel,
        finger: None,
        pad: Some("left"),
        settings: Settings {
            accuracy: 0.02,
            ..Settings::default()
        },
        options: LoweringOptions::default(),
    };
    respond(&request, &|_| {}).expect("the panel is solved")
}

/// Touch shift of the left pad and neighbour shift of the right one \[pF\].
fn shifts(response: &Response) -> [f64; 2] {
    let touch = response.pads[0].touch.as_ref().expect("left is touched");
    [touch.shift.value.pf(), touch.neighbours[0].shift.value.pf()]
}

/// Bands from a coarse volume solution of this panel by other code: floating +0.79 pF, more than its
/// finger's 0.72 pF; as a dielectric +0.24 pF with 0.61 pF of touch left.
#[test]
fn the_bounds_of_a_film_come_in_order_and_in_their_bands() {
    let dry = solved(&panel(""));
    assert!(dry.steps.is_empty());
    let [dry_shift, dry_neighbour] = shifts(&dry);
    let [dielectric, floating, earthed] = ["dielectric", "floating", "earthed"].map(wet);
    let [dielectric, floating, earthed] = [&dielectric, &floating, &earthed].map(solved);
    let change = |response: &Response| response.steps[0].change.value.pf();
    assert!(
        (change(&floating) / 0.79 - 1.0).abs() < 0.2,
        "{}",
        change(&floating)
    );
    assert!(
        (change(&dielectric) / 0.24 - 1.0).abs() < 0.3,
        "{}",
        change(&dielectric)
    );
    assert!(change(&earthed) > change(&floating));
    assert!(change(&floating) > dry_shift, "water outweighs a finger");
    for response in [&dielectric, &floating, &earthed] {
        assert_eq!(response.steps.len(), 2);
        let dry_base = dry.pads[0].base.expect("in the case").computed;
        let again = response.steps[0].before;
        let difference = (again.value.pf() - dry_base.value.pf()).abs();
        assert!(difference < again.error.pf() + dry_base.error.pf());
        // The base of the face as drawn is the dry one and the change.
        let base = response.pads[0].base.expect("in the case").computed;
        let sum = again.value.pf() + response.steps[0].change.value.pf();
        assert!((base.value.pf() - sum).abs() < base.error.pf() + again.error.pf());
    }
    let [wet_shift, wet_neighbour] = shifts(&dielectric);
    assert!((wet_shift / 0.61 - 1.0).abs() < 0.15, "{wet_shift}");
    assert!(wet_neighbour > dry_neighbour);
    // A finger on a floating film earths it: what is left of the touch is the step from the floating
    // to the earthed film, the same on both pads.
    let [own, other] = shifts(&floating);
    let step = change(&earthed) - change(&floating);
    assert!((own / step - 1.0).abs() < 0.15, "{own} {step}");
    assert!((other / own - 1.0).abs() < 0.1, "{other} {own}");
    assert!(own < 0.5 * dry_shift);
    // An earthed film hides the finger.
    assert!(shifts(&earthed)[0].abs() < 0.01 * dry_shift);
    let line = floating.assumptions.iter().find(|l| l.contains("Wet film"));
    assert!(line.expect("a line").contains("floating conductor"));
}

/// A film the finger does not reach stays a conductor of its own: its row is eliminated with the
/// finger as well.
#[test]
fn a_film_beside_the_finger_floats_with_and_without_it() {
    let beside = |bound: &str| {
        solved(&panel(&format!(
            "[film.rain]\nsize = \"10 mm x 20 mm\"\ncentre = \"12 mm, 0 mm\"\nthickness = \"0.2 mm\"\n\
             treat_as = \"{bound}\"\n"
        )))
    };
    let [dry_shift, dry_neighbour] = shifts(&solved(&panel("")));
    let [floating, earthed] = ["floating", "earthed"].map(beside);
    let ([own, other], [_, shielded]) = (shifts(&floating), shifts(&earthed));
    assert!((own / dry_shift - 1.0).abs() < 0.1, "{own} {dry_shift}");
    // An earthed film over the neighbour screens it from the finger, a floating one less.
    assert!(shielded < other, "{shielded} {other}");
    assert!(shielded < dry_neighbour, "{shielded} {dry_neighbour}");
}

#[test]
fn a_window_weighs_the_step_from_dry_to_wet() {
    let circuit = "[circuit]\nnoise = \"1.5 counts\"\n[window]\nusers = [\"adult\"]\n\
                   supplies = [\"earthed\"]\naim_error = \"0 mm\"\n";
    let film =
        "[film.rain]\nsize = \"40 mm x 40 mm\"\nthickness = \"0.2 mm\"\ntreat_as = \"floating\"\n";
    let limits = WorkLimits::of(Settings {
        accuracy: 0.05,
        ..Settings::default()
    });
    let wet = window(&panel(&format!("{circuit}{film}")), &limits).expect("solved");
    let events: Vec<_> = wet
        .table
        .events
        .iter()
        .filter(|event| event.cause == Cause::Surrounding(Surrounding::Film, "rain".to_owned()))
        .collect();
    assert_eq!(events.len(), 2, "one for each pad");
    for event in &events {
        assert_eq!(event.group, Group::False);
        assert_eq!(event.words(), "wet film rain");
        assert!(event.mean > 0.0 && event.bound > event.mean);
    }
    assert!(!wet.exists(), "a bridging film hides the finger");
    assert!(wet.table.not_described.iter().all(|l| !l.contains("water")));
    let dry = window(&panel(circuit), &limits).expect("solved");
    assert!(dry.table.not_described.iter().any(|l| l.contains("water")));
}

#[test]
fn mirrors_and_stored_inputs_see_the_film() {
    let dry = panel("");
    let centred = wet("floating");
    let aside = panel(
        "[film.drop]\ndiameter = \"8 mm\"\ncentre = \"9 mm, 0 mm\"\nthickness = \"1 mm\"\ntreat_as = \"floating\"\n",
    );
    let pair = |other: &str| {
        panel(&format!(
            "[film.a]\ndiameter = \"8 mm\"\ncentre = \"9 mm, 0 mm\"\nthickness = \"1 mm\"\ntreat_as = \"floating\"\n\
             [film.b]\ndiameter = \"8 mm\"\ncentre = \"-9 mm, 0 mm\"\nthickness = \"1 mm\"\ntreat_as = \"{other}\"\n"
        ))
    };
    let mirrors = |panel: &Panel| -> Vec<Mirror> {
        let found = panel_mirrors(panel).expect("lowered");
        found.iter().map(|one| one.mirror).collect()
    };
    assert_eq!(mirrors(&dry), Mirror::ALL);
    assert_eq!(mirrors(&centred), Mirror::ALL);
    assert_eq!(mirrors(&aside), [Mirror::UpDown]);
    assert_eq!(mirrors(&pair("floating")), Mirror::ALL);
    assert_eq!(mirrors(&pair("earthed")), [Mirror::UpDown]);
    assert!(inputs_of(&dry, None).get("films").is_none());
    assert_ne!(inputs_of(&centred, None), inputs_of(&wet("earthed"), None));
    assert_ne!(inputs_of(&centred, None), inputs_of(&dry, None));
}

#[test]
fn a_film_needs_the_volume_model() {
    let mut section = wet("floating");
    section.model.value = Model::Section;
    let request = Request {
        panel: &section,
        finger: None,
        pad: Some("left"),
        settings: Settings::default(),
        options: LoweringOptions::default(),
    };
    let error = respond(&request, &|_| {}).expect_err("refused");
    assert!(matches!(error, ResponseError::Lowering(_)));
    assert_eq!(error.to_string(), "wet film \"rain\" needs model volume");
}
