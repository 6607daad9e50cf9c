//! Holes in pads and slots in overlays: what they do to base, touch shift and neighbour shift.
//!
//! Run with `--nocapture` for the numbers.

use padfield::cautions::particular_cautions;
use padfield::input::panel_from_bytes;
use padfield::panel::lowering::{FINGER, Lowered, LoweringOptions, lower};
use padfield::panel::{Outline, Panel};
use padfield::store::inputs_of;
use padfield::touch::panel_mirrors;
use padfield_engine::field::{FieldAnswer, Settings, solve};
use padfield_engine::units::{Length, Toleranced};

/// Two pads behind 3 mm of glass over a plane (invented).
const PAIR: &str = r#"
[[layer]]
name = "overlay"
permittivity = "7.3"
thickness = "3 mm"
[[layer]]
name = "front"
copper = "35 um"
[[layer]]
name = "board"
permittivity = "4.4"
thickness = "1.6 mm"
[[layer]]
name = "back"
copper = "35 um"
[pads.keys]
layer = "front"
shape = "rectangle"
size = "12.7 mm x 12.7 mm"
columns = 2
gap = "6.35 mm"
names = ["left", "right"]
[ground.plane]
layer = "back"
[finger.adult]
contact = "10 mm"
dome = "16 mm"
"#;

/// One pad behind 3 mm of plastic over a plane (invented); its shape follows.
const KEY: &str = r#"
[[layer]]
name = "overlay"
permittivity = "2.8"
thickness = "3 mm"
[[layer]]
name = "front"
copper = "35 um"
[[layer]]
name = "board"
permittivity = "4.4"
thickness = "1.6 mm"
[[layer]]
name = "back"
copper = "35 um"
[board]
outline = "40 mm x 40 mm"
[ground.plane]
layer = "back"
[finger.adult]
contact = "10 mm"
dome = "16 mm"
[pads.key]
layer = "front"
"#;

const SQUARE: &str = "shape = \"rectangle\"\nsize = \"14 mm x 14 mm\"\n";

fn panel(text: &str, more: &str) -> Panel {
    panel_from_bytes("panel.toml", format!("{text}{more}").as_bytes(), &[])
        .unwrap_or_else(|error| panic!("{error}"))
}

fn lowered(panel: &Panel) -> Lowered {
    let options = LoweringOptions::default();
    lower(panel, &panel.pads[0].name, &panel.fingers[0], options).expect("valid")
}

fn solved(panel: &Panel, accuracy: f64) -> FieldAnswer {
    let settings = Settings {
        accuracy,
        ..Settings::default()
    };
    solve(&lowered(panel).case, Some(FINGER), &settings, &|_| {}).expect("an answer")
}

/// A value and its estimated error \[pF\].
type Bar = [f64; 2];

/// Base of the first pad and its touch shift.
fn base_and_shift(answer: &FieldAnswer) -> [Bar; 2] {
    let shift = answer.shift.as_ref().expect("a finger");
    let base = &shift.without;
    [
        [base.value[[0, 0]], base.estimated_error[[0, 0]]],
        [shift.shift[[0, 0]], shift.estimated_error[[0, 0]]],
    ]
    .map(|bar| bar.map(|farads| 1e12 * farads))
}

/// Coupling of the two pads without the finger, and shift of the second with the finger on the first.
fn coupling_and_neighbour(answer: &FieldAnswer) -> [Bar; 2] {
    let shift = answer.shift.as_ref().expect("a finger");
    let base = &shift.without;
    [
        [-base.value[[0, 1]], base.estimated_error[[0, 1]]],
        [shift.shift[[1, 1]], shift.estimated_error[[1, 1]]],
    ]
    .map(|bar| bar.map(|farads| 1e12 * farads))
}

fn agree(first: Bar, second: Bar) -> bool {
    (first[0] - second[0]).abs() <= first[1] + second[1]
}

#[test]
fn a_disc_with_a_hole_is_a_ring() {
    let disc = "shape = \"disc\"\ndiameter = \"14 mm\"\nhole = \"4 mm\"\n";
    let ring = "shape = \"ring\"\ndiameter = \"14 mm\"\ninner_diameter = \"4 mm\"\n";
    assert_eq!(panel(KEY, disc).pads, panel(KEY, ring).pads);
    let none = "shape = \"disc\"\ndiameter = \"14 mm\"\nhole = \"0 mm\"\n";
    assert!(matches!(
        panel(KEY, none).pads[0].outline,
        Outline::Disc { .. }
    ));
    assert_eq!(
        panel(KEY, &format!("{SQUARE}hole = \"0 mm\"\n")),
        panel(KEY, SQUARE)
    );
}

#[test]
fn a_hole_costs_less_shift_than_the_contact_loses_of_pad() {
    let plain = base_and_shift(&solved(&panel(KEY, SQUARE), 0.01));
    // A pin hole takes nothing: the pad as an outline off the grid equals the pad as a block.
    let pin = panel(KEY, &format!("{SQUARE}hole = \"0.02 mm\"\n"));
    let pin = base_and_shift(&solved(&pin, 0.01));
    println!("plain {plain:.4?} pin hole {pin:.4?}");
    for (plain, pin) in plain.iter().zip(pin) {
        assert!(agree(*plain, pin), "{plain:?} {pin:?}");
        assert!((pin[0] / plain[0] - 1.0).abs() < 0.02, "{plain:?} {pin:?}");
    }
    for diameter in [3.5, 5.0] {
        let holed = panel(KEY, &format!("{SQUARE}hole = \"{diameter} mm\"\n"));
        let [base, shift] = base_and_shift(&solved(&holed, 0.01));
        let area = std::f64::consts::FRAC_PI_4 * diameter * diameter / (14.0 * 14.0);
        let overlap = diameter * diameter / (10.0 * 10.0);
        let lost = [1.0 - base[0] / plain[0][0], 1.0 - shift[0] / plain[1][0]];
        println!("hole {diameter} mm: area {area:.4}, base and shift lost {lost:.4?}");
        // The finger sits on the hole: the shift loses more of itself than the base does, and the
        // fringe gives back about half of the contact's overlap with the pad. The share of the pad's
        // area is an upper limit only while the hole is about as wide as the overlay is thick.
        assert!(lost[0] > 0.0 && lost[0] < 0.5 * area, "{lost:?} of {area}");
        assert!(
            lost[1] > lost[0] && lost[1] < 0.6 * overlap,
            "{lost:?} of {overlap}"
        );
        if diameter < 4.0 {
            assert!(lost[1] < area, "{lost:?} of {area}");
        }
    }
}

#[test]
fn a_round_pad_with_a_hole_has_the_numbers_of_a_ring() {
    let ring = "shape = \"ring\"\ndiameter = \"14 mm\"\ninner_diameter = \"5 mm\"\n";
    // Drawn as a square whose corners are all rounding, the hole is cut out of a polygon.
    let holed = "shape = \"rounded rectangle\"\nsize = \"14 mm x 14 mm\"\ncorner_radius = \"7 mm\"\n\
                 hole = \"5 mm\"\n";
    let volume = base_and_shift(&solved(&panel(KEY, holed), 0.01));
    let as_ring = base_and_shift(&solved(&panel(KEY, ring), 0.01));
    let about_axis = format!("model = \"axisymmetric\"\n{KEY}");
    let twin = base_and_shift(&solved(&panel(&about_axis, ring), 0.002));
    println!("holed {volume:.4?} ring {as_ring:.4?} axisymmetric {twin:.4?}");
    for ((volume, as_ring), twin) in volume.iter().zip(as_ring).zip(twin) {
        assert!(
            (volume[0] / as_ring[0] - 1.0).abs() < 1e-3,
            "{volume:?} {as_ring:?}"
        );
        assert!(agree(*volume, twin), "{volume:?} {twin:?}");
        assert!(
            (volume[0] / twin[0] - 1.0).abs() < 0.02,
            "{volume:?} {twin:?}"
        );
    }
}

/// The pair with a slot between its pads.
fn slot(more: &str) -> Panel {
    panel(
        PAIR,
        &format!("[slot.gap]\nlayer = \"overlay\"\nbetween = \"keys\"\n{more}"),
    )
}

#[test]
fn a_slot_cuts_the_coupling_but_hardly_the_neighbour_shift_of_a_finger() {
    let without = solved(&panel(PAIR, ""), 0.005);
    let with = solved(&slot("width = \"3 mm\"\ndepth = \"2.5 mm\"\n"), 0.005);
    let wet = solved(
        &slot("width = \"3 mm\"\ndepth = \"2.5 mm\"\nside = \"front\"\nfilled = \"water\"\n"),
        0.005,
    );
    let [coupling, neighbour] = coupling_and_neighbour(&without);
    let [cut_coupling, cut_neighbour] = coupling_and_neighbour(&with);
    let [wet_coupling, wet_neighbour] = coupling_and_neighbour(&wet);
    println!("coupling {coupling:.5?} cut {cut_coupling:.5?} wet {wet_coupling:.5?}");
    println!("neighbour {neighbour:.5?} cut {cut_neighbour:.5?} wet {wet_neighbour:.5?}");
    let shifts = [&without, &with, &wet].map(|answer| base_and_shift(answer)[1]);
    println!("touch shift {shifts:.5?}");
    let fall = 1.0 - cut_coupling[0] / coupling[0];
    assert!((0.25..0.45).contains(&fall), "{fall}");
    let change = cut_neighbour[0] / neighbour[0] - 1.0;
    assert!(change.abs() < 0.15, "{change}");
    let rise = shifts[1][0] / shifts[0][0] - 1.0;
    assert!((0.0..0.03).contains(&rise), "{rise}");
    assert!(wet_coupling[0] > coupling[0]);
}

#[test]
fn a_slot_without_depth_or_width_is_none() {
    let plain = panel(PAIR, "");
    for more in [
        "width = \"3 mm\"\ndepth = \"0 mm\"\n",
        "width = \"0 mm\"\ndepth = \"2 mm\"\n",
    ] {
        let none = slot(more);
        assert_eq!(lowered(&none).case, lowered(&plain).case);
        assert_eq!(inputs_of(&none, None), inputs_of(&plain, None));
        assert!(particular_cautions(&none).is_empty());
    }
}

#[test]
fn slots_lie_in_their_layer_at_their_face() {
    let heights = |panel: &Panel| {
        let case = lowered(panel).case;
        let slot = case.dielectrics.iter().find(|d| d.name == "gap");
        let extent = slot.expect("a slot").extent;
        let rounded = |m: f64| (m * 1e9).round() / 1e6;
        [
            [0, 1, 2].map(|axis| rounded(extent.low_m[axis])),
            [0, 1, 2].map(|axis| rounded(extent.high_m[axis])),
        ]
    };
    let back = slot("width = \"3 mm\"\ndepth = \"2.5 mm\"\n");
    assert_eq!(heights(&back), [[-1.5, -6.35, 0.0], [1.5, 6.35, 2.5]]);
    let front = slot("width = \"3 mm\"\ndepth = \"2.5 mm\"\nside = \"front\"\n");
    assert_eq!(heights(&front), [[-1.5, -6.35, 0.5], [1.5, 6.35, 3.0]]);
    let one = panel(
        PAIR,
        "[slot.gap]\nlayer = \"board\"\nsize = \"2 mm x 8 mm\"\ncentre = \"1 mm, -2 mm\"\n\
         depth = \"1.6 mm\"\n",
    );
    assert_eq!(heights(&one), [[0.0, -6.0, -1.6], [2.0, 2.0, 0.0]]);
    // At the thin end of its tolerance the layer is cut through, and no more than that.
    let mut thin = back.clone();
    thin.layers[0].thickness = Toleranced::exact(Length::from_mm(2.0));
    assert_eq!(heights(&thin), [[-1.5, -6.35, 0.0], [1.5, 6.35, 2.0]]);
    // Beside thick copper the overlay reaches down to the board; the slot does not.
    let thick = panel(
        &format!("copper_model = \"thick\"\n{PAIR}"),
        "[slot.gap]\nlayer = \"overlay\"\nbetween = \"keys\"\nwidth = \"3 mm\"\ndepth = \"1 mm\"\n",
    );
    assert_eq!(heights(&thick), [[-1.5, -6.35, 0.035], [1.5, 6.35, 1.035]]);
}

#[test]
fn a_section_cuts_the_slot_and_a_round_model_refuses_it() {
    let slot =
        "[slot.gap]\nlayer = \"overlay\"\nbetween = \"keys\"\nwidth = \"3 mm\"\ndepth = \"2 mm\"\n";
    let cut = lowered(&panel(&format!("model = \"section\"\n{PAIR}"), slot));
    let found = cut.case.dielectrics.iter().find(|d| d.name == "gap");
    let extent = found.expect("a slot").extent;
    assert!((extent.high_m[0] - 1.5e-3).abs() < 1e-12 && (extent.high_m[1] - 2e-3).abs() < 1e-12);
    let round = panel(
        &format!("model = \"axisymmetric\"\n{KEY}"),
        "shape = \"disc\"\ndiameter = \"12 mm\"\n[slot.gap]\nlayer = \"overlay\"\n\
         size = \"2 mm x 8 mm\"\ndepth = \"1 mm\"\n",
    );
    let refused = lower(
        &round,
        "key",
        &round.fingers[0],
        LoweringOptions {
            equal_area_disc: true,
        },
    );
    assert_eq!(
        refused.expect_err("refused").to_string(),
        "model axisymmetric: slot \"gap\" is a straight slot"
    );
}

#[test]
fn mirrors_see_slots_and_holes() {
    let count = |panel: &Panel| panel_mirrors(panel).expect("valid").len();
    let plain = panel(PAIR, "");
    assert_eq!(count(&plain), 3);
    assert_eq!(
        count(&slot("width = \"3 mm\"\ndepth = \"2 mm\"\n")),
        3,
        "the slot is its own image"
    );
    let beside = "[slot.gap]\nlayer = \"overlay\"\nsize = \"2 mm x 8 mm\"\ncentre = \"3 mm, 0 mm\"\n\
                  depth = \"1 mm\"\n";
    assert_eq!(count(&panel(PAIR, beside)), 1, "only up and down is left");
    let both = format!(
        "{beside}{}",
        beside
            .replace("gap", "other")
            .replace("\"3 mm,", "\"-3 mm,")
    );
    assert_eq!(count(&panel(PAIR, &both)), 3);
    let deeper = format!(
        "{beside}{}",
        beside
            .replace("gap", "other")
            .replace("\"3 mm,", "\"-3 mm,")
            .replace("depth = \"1 mm\"", "depth = \"2 mm\"")
    );
    assert_eq!(count(&panel(PAIR, &deeper)), 1);
    let mut one_hole = plain.clone();
    one_hole.pads[0].hole = Some(Length::from_mm(3.0));
    assert_eq!(count(&one_hole), 1);
    one_hole.pads[1].hole = one_hole.pads[0].hole;
    assert_eq!(count(&one_hole), 3);
}

#[test]
fn the_store_tells_holes_and_slots_apart() {
    let inputs = |panel: &Panel| inputs_of(panel, None).to_string();
    let mut seen = vec![
        inputs(&panel(PAIR, "")),
        inputs(&slot("width = \"3 mm\"\ndepth = \"2 mm\"\n")),
        inputs(&slot("width = \"2 mm\"\ndepth = \"2 mm\"\n")),
        inputs(&slot("width = \"3 mm\"\ndepth = \"1 mm\"\n")),
        inputs(&slot(
            "width = \"3 mm\"\ndepth = \"2 mm\"\nside = \"front\"\n",
        )),
        inputs(&slot(
            "width = \"3 mm\"\ndepth = \"2 mm\"\nfilled = \"water\"\n",
        )),
        inputs(&panel(KEY, SQUARE)),
        inputs(&panel(KEY, &format!("{SQUARE}hole = \"3 mm\"\n"))),
        inputs(&panel(KEY, &format!("{SQUARE}hole = \"4 mm\"\n"))),
    ];
    let count = seen.len();
    seen.sort();
    seen.dedup();
    assert_eq!(seen.len(), count);
    assert_eq!(
        inputs(&slot("width = \"3 mm\"\ndepth = \"2 mm\"\n")),
        inputs(&slot(
            "width = \"0.3 cm\"\ndepth = \"2 mm\"\nside = \"back\"\nfilled = \"air\"\n"
        ))
    );
}

#[test]
fn a_thin_wall_is_named() {
    let thin = particular_cautions(&slot("width = \"3 mm\"\ndepth = \"2.5 mm\"\n"));
    assert!(
        thin.iter()
            .any(|line| line.starts_with("Slot \"gap\" leaves 0.50 mm of \"overlay\"")),
        "{thin:?}"
    );
    let enough = particular_cautions(&slot("width = \"3 mm\"\ndepth = \"2 mm\"\n"));
    assert!(enough.is_empty(), "{enough:?}");
}
