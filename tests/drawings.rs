//! Drawings of a panel: lengths on paper against those of the panel, the field of a cut against its own
//! boundary conditions.

use padfield::chart::Chart;
use padfield::drawing::FieldState;
use padfield::drawing::{board_drawing, section_view, stack_drawing};
use padfield::input::Document;
use padfield::panel::Panel;
use std::path::Path;

fn panel(name: &str) -> Panel {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name);
    let text = std::fs::read_to_string(path).expect("the scenario is there");
    let document = Document::from_text(name, &text).expect("TOML");
    document
        .panel(&[])
        .unwrap_or_else(|error| panic!("{error}"))
}

/// Width and height of every filled rectangle of the elements of a class, by the name they carry.
fn boxes(svg: &str, class: &str) -> Vec<(String, [f64; 2])> {
    let document = roxmltree::Document::parse(svg).expect("XML");
    let mut found = Vec::new();
    for group in document
        .descendants()
        .filter(|node| node.attribute("class") == Some(class))
    {
        let name = group.attribute("data-name").unwrap_or_default().to_owned();
        for piece in group.descendants().filter(|node| node.has_tag_name("rect")) {
            let side = |key: &str| {
                piece
                    .attribute(key)
                    .expect("a side")
                    .parse::<f64>()
                    .expect("a number")
            };
            found.push((name.clone(), ["width", "height"].map(side)));
        }
    }
    found
}

#[test]
fn layers_are_as_high_as_they_are_thick() {
    let panel = panel("fern.toml");
    let svg = stack_drawing(&panel).svg().expect("a drawing");
    let layers = boxes(&svg, "layer");
    let height = |start: &str| {
        let found = layers.iter().find(|(name, _)| name.starts_with(start));
        found.unwrap_or_else(|| panic!("no {start}")).1[1]
    };
    // 4 mm of acrylic on 1.6 mm of board, both to scale; drawn in tenths of a unit, of some thousand.
    let ratio = height("overlay") / height("board");
    assert!((ratio - 4.0 / 1.6).abs() < 0.01, "{ratio}");
    // The tape of 0.1 mm would be 5 units high; it is drawn higher and marked.
    assert!(height("bond") > 2.0 * height("overlay") * 0.1 / 4.0);
    assert!(svg.contains("zigzag marks"));
    // 15 mm pads on a board of 60 mm: copper of the front is a quarter of the width, twice.
    let front: Vec<f64> = layers
        .iter()
        .filter(|(name, _)| name.starts_with("front"))
        .map(|(_, [width, _])| *width)
        .collect();
    let back = layers
        .iter()
        .find(|(name, _)| name.starts_with("back"))
        .expect("the plane")
        .1[0];
    assert_eq!(front.len(), 2);
    assert!(
        front
            .iter()
            .all(|width| (width / back - 0.25).abs() < 0.002),
        "{front:?} of {back}"
    );
}

#[test]
fn the_board_is_to_scale_with_every_pad_in_its_place() {
    let panel = panel("tern.toml");
    let drawing = board_drawing(&panel, panel.fingers.first(), "reading");
    let pads: Vec<_> = drawing
        .pieces
        .iter()
        .filter(|piece| piece.look == padfield::drawing::PieceLook::Pad)
        .collect();
    assert_eq!(pads.len(), panel.pads.len());
    let reading = pads
        .iter()
        .find(|pad| pad.label == "reading")
        .expect("the pad");
    let extent = |axis: usize| {
        let all = reading.corners_mm.iter().map(|corner| corner[axis]);
        [
            all.clone().fold(f64::INFINITY, f64::min),
            all.fold(f64::NEG_INFINITY, f64::max),
        ]
    };
    // 14 mm square at (0, 18) mm, as the panel file says.
    for (axis, [low, high]) in [[-7.0, 7.0], [11.0, 25.0]].into_iter().enumerate() {
        let found = extent(axis);
        assert!(
            (found[0] - low).abs() < 1e-9 && (found[1] - high).abs() < 1e-9,
            "{found:?}"
        );
    }
    assert_eq!(drawing.contact_mm, Some(([0.0, 18.0], 10.0)));
    roxmltree::Document::parse(&drawing.svg().expect("a drawing")).expect("XML");
}

/// Potential at the node nearest to a place.
fn at(state: &FieldState, x_mm: f64, z_mm: f64) -> f64 {
    let nearest = |places: &[f64], at: f64| {
        let by_distance = |i: &usize| (places[*i] - at).abs();
        (0..places.len())
            .min_by(|a, b| by_distance(a).total_cmp(&by_distance(b)))
            .expect("places")
    };
    let (i, j) = (nearest(&state.x_mm, x_mm), nearest(&state.z_mm, z_mm));
    state.potential[j * state.x_mm.len() + i]
}

#[test]
fn the_field_of_the_cut_keeps_its_conductors_and_its_bounds() {
    let panel = panel("two_pads.toml");
    let view = section_view(&panel, "adult", "left", &|_| {}).expect("a picture");
    let [untouched, touched] = &view.picture.states[..] else {
        panic!("two states");
    };
    let left = panel.pads[0].centre[0].mm();
    let right = panel.pads[1].centre[0].mm();
    for state in [untouched, touched] {
        // Maximum principle: everything lies between the conductors' potentials.
        let all = state.potential.iter();
        assert!(all.clone().all(|v| (-1e-6..=1.0 + 1e-6).contains(v)));
        // The measured pad is at 1, its idle neighbour and the plane at 0.
        assert!((at(state, left, 0.0) - 1.0).abs() < 1e-9);
        assert!(at(state, right, 0.0).abs() < 1e-9);
        assert!(at(state, left, -1.6).abs() < 1e-9);
    }
    // Under the finger the touched face is at 0 V; without it, it is not.
    assert!(at(touched, left, 3.0).abs() < 1e-9);
    assert!(at(untouched, left, 3.0) > 0.3);
    // Between pad and finger the field is nearly that of plates: half way, half the potential.
    let half_way = at(touched, left, 1.5);
    assert!((half_way - 0.5).abs() < 0.08, "{half_way}");
    let svg = view.picture.svg().expect("a picture");
    let document = roxmltree::Document::parse(&svg).expect("XML");
    let pictures = document
        .descendants()
        .filter(|node| node.has_tag_name("image"));
    assert_eq!(pictures.count(), 2);
}

#[test]
fn what_a_cut_cannot_hold_is_told() {
    let view = section_view(&panel("tern.toml"), "adult", "reading", &|_| {}).expect("a picture");
    for name in ["frame \"frame\"", "object \"chassis\"", "trace \"diode\""] {
        assert!(view.left_out.iter().any(|one| one == name), "{name}");
    }
    let none = section_view(&panel("tern.toml"), "adult", "no such pad", &|_| {});
    assert!(none.is_err_and(|reason| reason.contains("no such pad")));
}

#[test]
fn names_on_the_board_do_not_meet() {
    for name in [
        "acorn", "clover", "fern", "hazel", "lantern", "slider", "tern", "two_pads",
    ] {
        let panel = panel(&format!("{name}.toml"));
        let first = &panel.pads[0].name;
        let svg = board_drawing(&panel, panel.fingers.first(), first)
            .svg()
            .expect("a drawing");
        let document = roxmltree::Document::parse(&svg).expect("XML");
        let texts = document
            .descendants()
            .filter(|node| node.has_tag_name("text") && node.attribute("class") == Some("piece"));
        let boxes: Vec<(String, [f64; 4])> = texts
            .map(|node| {
                let number = |key: &str| {
                    node.attribute(key)
                        .expect("a number")
                        .parse::<f64>()
                        .expect("a number")
                };
                let text = node.text().unwrap_or_default().to_owned();
                // Narrow letters: less than any name really takes.
                let width = 0.4 * number("font-size") * text.chars().count() as f64;
                let left = number("x")
                    - width
                        * match node.attribute("text-anchor") {
                            Some("middle") => 0.5,
                            Some("end") => 1.0,
                            _ => 0.0,
                        };
                let base = number("y");
                (
                    text,
                    [left, base - 0.7 * number("font-size"), left + width, base],
                )
            })
            .collect();
        assert!(boxes.len() >= panel.pads.len(), "{name}: {boxes:?}");
        for (place, (a, [left, top, right, bottom])) in boxes.iter().enumerate() {
            for (b, other) in &boxes[place + 1..] {
                let is_apart =
                    other[0] > *right || other[2] < *left || other[1] > *bottom || other[3] < *top;
                assert!(is_apart, "{name}: \"{a}\" and \"{b}\"");
            }
        }
    }
}
