//! Which way layout choices move base, touch and neighbours, and by how much.
//!
//! Bands are from a coarse volume solution by other code (two half-inch pads a quarter inch apart, FR-4 of
//! 1.6 mm, finger 10 mm across with a dome of 16 mm, steps of 0.5 to 0.7 mm, 5 % on bases and shifts, 15 to
//! 20 % on neighbour shifts) unless a test names another source.

use padfield::input::{Document, Override};
use padfield::panel::lowering::LoweringOptions;
use padfield::response::{Request, Response, respond};
use padfield_engine::field::Settings;

const TWO_PADS: &str = include_str!("../scenarios/two_pads.toml");

/// Base, touch shift, neighbour shift of the left pad \[pF\].
struct Figures {
    base: f64,
    shift: f64,
    neighbour: f64,
}

impl Figures {
    fn of(response: &Response) -> Self {
        let pad = &response.pads[0];
        let touch = pad.touch.as_ref().expect("left is touched");
        Self {
            base: pad.base.expect("in the case").computed.value.pf(),
            shift: touch.shift.value.pf(),
            neighbour: touch.neighbours[0].shift.value.pf(),
        }
    }

    fn ratio(&self) -> f64 {
        self.neighbour / self.shift
    }

    /// Shift over base and shift, field parts only.
    fn relative(&self) -> f64 {
        self.shift / (self.base + self.shift)
    }
}

fn solved(more: &str, changes: &[(&str, &str)]) -> Figures {
    solve_text(&format!("{TWO_PADS}\n{more}"), changes)
}

fn solve_text(text: &str, changes: &[(&str, &str)]) -> Figures {
    let document = Document::from_text("trend.toml", text).expect("TOML");
    let overrides: Vec<Override> = changes
        .iter()
        .map(|(path, value)| Override {
            path: (*path).to_owned(),
            value: (*value).to_owned(),
        })
        .collect();
    let panel = document
        .panel(&overrides)
        .unwrap_or_else(|error| panic!("{error}"));
    let request = Request {
        panel: &panel,
        finger: None,
        pad: Some("left"),
        settings: Settings {
            accuracy: 0.005,
            ..Settings::default()
        },
        options: LoweringOptions::default(),
    };
    Figures::of(&respond(&request, &|_| {}).expect("the panel is solved"))
}

fn without_plane() -> Figures {
    solve_text(
        &TWO_PADS.replace("[ground.plane]\nlayer = \"back\"\n", ""),
        &[],
    )
}

fn near(found: f64, band: f64, share: f64, what: &str) {
    assert!(
        (found / band - 1.0).abs() < share,
        "{what}: {found}, band {band}"
    );
}

/// The share of the touch in the base has a maximum where the pad is as large as the finger's shadow.
#[test]
fn a_pad_has_a_best_size_over_a_plane() {
    let sizes = [
        ("6 mm", 0.097),
        ("8 mm", 0.116),
        ("10 mm", 0.127),
        ("12.7 mm", 0.126),
        ("15 mm", 0.120),
        ("20 mm", 0.095),
    ];
    let found: Vec<Figures> = sizes
        .iter()
        .map(|(size, _)| solved("", &[("pads.pair.size", size)]))
        .collect();
    for (figures, (size, band)) in found.iter().zip(sizes) {
        near(figures.relative(), band, 0.12, size);
    }
    let best = found.iter().map(Figures::relative).fold(0.0, f64::max);
    assert!(best > found[0].relative() && best > found[5].relative());
    for pair in found.windows(2) {
        assert!(pair[1].base > pair[0].base, "the base grows with the area");
    }
    // The touch grows ever more slowly than the area, by 78 % from 15 to 20 mm: the base has the rest.
    let growth = |from: usize, to: usize| found[to].shift / found[from].shift;
    assert!(
        growth(4, 5) < 0.8 * (20.0_f64 / 15.0).powi(2),
        "{}",
        growth(4, 5)
    );
    assert!(found[5].base / found[4].base > 1.1 * growth(4, 5));
}

/// Aim matters more than distance: the same gap, the finger ever further off.
#[test]
fn the_neighbour_sees_aim_more_than_distance() {
    let at = |offset: &str| solved("", &[("finger.adult.offset", offset)]).ratio();
    let found = [
        "0 mm, 0 mm",
        "3 mm, 0 mm",
        "6.35 mm, 0 mm",
        "9.525 mm, 0 mm",
    ]
    .map(at);
    near(found[0], 0.009, 0.25, "centred");
    near(found[1], 0.03, 0.25, "3 mm off");
    near(found[2], 0.16, 0.25, "on the edge");
    // Midway both pads see the same: exact by symmetry.
    near(found[3], 1.0, 0.02, "midway");
}

/// A slot in thick dielectric lowers the coupling of the pads, not what the finger does to the neighbour.
#[test]
fn a_slot_between_pads_does_little_against_the_finger() {
    let glass: &[(&str, &str)] = &[("layer.overlay.permittivity", "7.3")];
    let slot = "[slot.gap]\nlayer = \"overlay\"\nbetween = \"pair\"\nwidth = \"3 mm\"\n\
                depth = \"2.5 mm\"\n";
    let (plain, cut) = (solved("", glass), solved(slot, glass));
    near(cut.neighbour, plain.neighbour, 0.15, "neighbour shift");
    let gain = cut.shift / plain.shift - 1.0;
    assert!((-0.005..0.03).contains(&gain), "{gain}");
}

/// Faster than 1/thickness, and the faster the thicker.
#[test]
fn the_touch_falls_faster_than_the_overlay_grows() {
    let bands = [
        ("2 mm", 1.19),
        ("3 mm", 0.72),
        ("4 mm", 0.48),
        ("6 mm", 0.24),
        ("8 mm", 0.13),
    ];
    let found = bands.map(|(thickness, band)| {
        let figures = solved("", &[("layer.overlay.thickness", thickness)]);
        near(figures.shift, band, 0.12, thickness);
        figures.shift
    });
    let exponent = |from: usize, to: usize, ratio: f64| (found[to] / found[from]).ln() / ratio.ln();
    assert!(exponent(0, 1, 1.5) < -1.05);
    let thick = exponent(1, 4, 8.0 / 3.0);
    near(thick, -1.8, 0.1, "exponent from 3 to 8 mm");
}

/// Ground closer behind: more base, less touch, far less of it at the neighbour.
#[test]
fn ground_behind_costs_touch_and_quiets_the_neighbour() {
    let bands = [
        ("1.6 mm", 5.7, 0.72),
        ("3 mm", 2.2, 0.87),
        ("5 mm", 1.6, 0.93),
        ("10 mm", 1.3, 0.99),
    ];
    // The board keeps its thickness; the plane moves back behind air.
    let text = TWO_PADS.replace(
        "[[layer]]\nname = \"back\"",
        "[[layer]]\nname = \"space\"\nmaterial = \"air\"\nthickness = \"1 mm\"\n\n[[layer]]\nname = \"back\"",
    );
    let figures = |space: &str| solve_text(&text, &[("layer.space.thickness", space)]);
    let near_plane = solved("", &[]);
    near(near_plane.base, bands[0].1, 0.1, "base over the board");
    near(near_plane.shift, bands[0].2, 0.1, "shift over the board");
    let spaced = ["1.4 mm", "3.4 mm", "8.4 mm"].map(figures);
    for (found, (distance, base, shift)) in spaced.iter().zip(&bands[1..]) {
        near(found.base, *base, 0.15, distance);
        near(found.shift, *shift, 0.1, distance);
    }
    let none = without_plane();
    near(none.base, 1.1, 0.15, "base without ground");
    near(none.shift, 1.04, 0.1, "shift without ground");
    assert!(near_plane.base > 4.0 * none.base);
    assert!(none.ratio() > 3.0 * near_plane.ratio());
}
