//! HAZEL, the invented panel with every trace drawn: what its file promises, without solving a field.

use padfield::input::Document;
use padfield::panel::lowering::{LoweringOptions, lower};
use padfield::panel::outline::{distance, pad_polygons};
use padfield::panel::symmetry::Mirror;
use padfield::panel::{EarthPath, Panel, TraceNet};
use padfield::touch::panel_mirrors;
use padfield_engine::grid::axes;

fn hazel() -> Panel {
    let text = include_str!("../scenarios/hazel.toml");
    let document = Document::from_text("hazel.toml", text).expect("TOML");
    document.panel(&[]).expect("a valid panel")
}

#[test]
fn every_channel_has_its_trace_to_a_contact_and_none_passes_a_foreign_pad() {
    let hazel = hazel();
    assert_eq!(hazel.pads.len(), 14);
    assert_eq!((hazel.traces.len(), hazel.sliders.len()), (14, 1));
    let strips = |trace: usize| -> Vec<Vec<[f64; 2]>> {
        let each = hazel.traces[trace].strips().into_iter();
        each.map(|[[x0, y0], [x1, y1]]| vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
            .collect()
    };
    for pad in &hazel.pads {
        let own = |net: &TraceNet| matches!(net, TraceNet::Pad(name) if *name == pad.name);
        let drawn = hazel.traces.iter().filter(|trace| own(&trace.net));
        assert_eq!(drawn.count(), 1, "{}", pad.name);
        assert_eq!(pad.trace_length.value.metres(), 0.0, "{}", pad.name);
        for (index, trace) in hazel.traces.iter().enumerate() {
            let end = trace.path.last().expect("a corner")[1].mm();
            assert!((end + 7.0).abs() < 1.0 + 1e-9, "{}: {end}", trace.name);
            if own(&trace.net) {
                continue;
            }
            for strip in strips(index) {
                let apart = distance(&pad_polygons(pad), &[strip]);
                assert!(apart > 1e-3, "{} passes {}: {apart}", trace.name, pad.name);
            }
        }
    }
    // Nor any other trace, by more than twice the width.
    for first in 0..hazel.traces.len() {
        for second in first + 1..hazel.traces.len() {
            for (one, other) in strips(first)
                .iter()
                .flat_map(|one| strips(second).into_iter().map(move |other| (one, other)))
            {
                let apart = distance(std::slice::from_ref(one), &[other]);
                assert!(apart > 0.5e-3, "{first} and {second}: {apart}");
            }
        }
    }
}

#[test]
fn left_is_the_image_of_right_and_the_grid_stays_small() {
    let hazel = hazel();
    let mirrors = panel_mirrors(&hazel).expect("a panel");
    let mirrors: Vec<Mirror> = mirrors.iter().map(|mirror| mirror.mirror).collect();
    assert_eq!(mirrors, [Mirror::LeftRight]);
    // 14 traces in places of their own double the cells of the same panel without traces. At the finest
    // that solving starts from.
    for pad in ["cone", "rate-1"] {
        let options = LoweringOptions::default();
        let lowered = lower(&hazel, pad, &hazel.fingers[0], options).expect("a case");
        let cells: usize = axes(&lowered.case, 0.8)
            .iter()
            .map(padfield_engine::grid::Axis::cells)
            .product();
        assert!(cells < 1_800_000, "{pad}: {cells}");
    }
}

#[test]
fn users_supplies_and_cautions_are_those_of_a_kiln() {
    let hazel = hazel();
    let users = &hazel.usage.users.value;
    assert_eq!(users.len(), 4);
    assert!(users.iter().any(|user| user.glove.is_some()));
    assert!(users.iter().all(|user| user.aim_error.value.mm() > 0.0));
    let supplies = &hazel.usage.supplies.value;
    assert_eq!(supplies.len(), 2);
    let with_voltage = supplies.iter().filter(|one| one.common_mode.is_some());
    assert_eq!(with_voltage.count(), 1);
    let ways = supplies
        .iter()
        .all(|one| matches!(one.to_earth, EarthPath::Capacitance(_)));
    assert!(ways && hazel.environment.climate.is_given);
    let cautions = padfield::cautions::cautions(&hazel).join("\n");
    for word in ["Mains", "Machinery", "Capacitors to earth", "Glass"] {
        assert!(cautions.contains(word), "{word}: {cautions}");
    }
}
