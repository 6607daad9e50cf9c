//! What the numbers hang on, in plain lines: printed with every answer.

use super::answer::PadResponse;
use super::circuit_words::{circuit_line, scan_line};
use super::film_words::film_lines;
use super::metal_words::{ground_line, metal_lines};
use super::slot_words::slot_lines;
use crate::panel::film::equivalent_thickness;
use crate::panel::{
    CopperModel, Finger, IdleState, LayerContent, Model, Origin, Panel, ReturnPath, Sourced,
};
use crate::rounding::fixed;
use padfield_engine::units::Toleranced;

/// The mark behind a value that nobody wrote down.
pub(super) fn mark(origin: Origin) -> &'static str {
    match origin {
        Origin::Given => "",
        Origin::Default => " [default]",
    }
}

fn marked<T>(sourced: &Sourced<T>) -> &'static str {
    mark(sourced.origin)
}

/// `"4 mm"` or `"4 mm (3.8 to 4.2)"`; `decimals` is the most that is printed.
pub(super) fn toleranced<Q: Copy>(
    value: &Toleranced<Q>,
    unit: &str,
    decimals: usize,
    number: impl Fn(Q) -> f64,
) -> String {
    let unit = if unit.is_empty() {
        String::new()
    } else {
        format!(" {unit}")
    };
    let [nominal, least, most] =
        [value.nominal, value.least, value.most].map(|q| plain(number(q), decimals));
    if least == most {
        format!("{nominal}{unit}")
    } else {
        format!("{nominal}{unit} ({least} to {most})")
    }
}

/// A number without trailing zeros.
pub(super) fn plain(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Layers that are not as large as the board.
fn outlines(panel: &Panel) -> String {
    let own = panel.layers.iter().filter_map(|layer| {
        let outline = layer.outline?;
        let [width, height] = outline.size.map(|side| plain(side.mm(), 2));
        let [x, y] = outline.centre.map(|at| plain(at.mm(), 2));
        Some(format!(
            ", layer {} {width} x {height} mm about {x}, {y} mm",
            layer.name
        ))
    });
    own.collect()
}

/// The lines, most important first. `mirrored` counts touches taken from mirror images.
pub(super) fn assumptions(
    panel: &Panel,
    finger: &Finger,
    pads: &[PadResponse],
    simplifications: &[String],
    mirrored: usize,
) -> Vec<String> {
    let mut lines = vec![model(panel), idle(panel), ground_line(panel)];
    lines.extend(metal_lines(panel));
    lines.push(format!(
        "Outer wall: open (stands for endless space), {} mm from board and finger{}; its error is not \
         part of the bounds.",
        plain(panel.wall_distance.value.mm(), 1),
        marked(&panel.wall_distance)
    ));
    lines.push(finger_line(finger));
    lines.push(format!(
        "Layers from the touched face: {}; before the first copper as much as {} mm of air (thickness over \
         permittivity, estimate); board {} x {} mm{}{}; bonded without air unless a layer says so; permittivities lossless and at the frequency of the measuring circuit.",
        layers(panel),
        plain(equivalent_thickness(panel).mm(), 2),
        plain(panel.board.value[0].mm(), 2),
        plain(panel.board.value[1].mm(), 2),
        marked(&panel.board),
        outlines(panel)
    ));
    lines.extend(slot_lines(panel));
    lines.push(format!(
        "Stray capacitance is entered, not computed: pin {}{}, trace {}{}; {}.",
        toleranced(&panel.stray.pin.value, "pF", 2, |c| c.pf()),
        marked(&panel.stray.pin),
        toleranced(&panel.stray.trace.value, "pF/cm", 3, |c| c.pf_per_cm()),
        marked(&panel.stray.trace),
        match panel.traces.is_empty() {
            true => "traces are not part of the field",
            false => "only drawn traces are part of the field",
        }
    ));
    lines.push(format!(
        "Touched face {}; {}.",
        if panel.films.is_empty() {
            "dry and clean"
        } else {
            "wet, with and without finger"
        },
        finger.glove.map_or_else(
            || match finger.distance.mm() {
                distance if distance > 0.0 =>
                    format!("finger bare, {} mm above it", plain(distance, 2)),
                _ => "finger bare".to_owned(),
            },
            |glove| format!(
                "glove {} mm of permittivity {}",
                plain(glove.thickness.mm(), 3),
                plain(glove.permittivity.relative(), 3)
            )
        )
    ));
    lines.extend(film_lines(panel, pads));
    lines.push(circuit_line(panel));
    if panel.electronics.is_scan_given() {
        lines.push(scan_line(&panel.electronics));
    }
    if mirrored > 0 {
        lines.push(format!(
            "Touches taken from the mirror image of a solved one: {mirrored}."
        ));
    }
    lines.extend(
        simplifications
            .iter()
            .map(|text| format!("Simplified: {text}.")),
    );
    lines.push(format!("padfield {}.", env!("CARGO_PKG_VERSION")));
    lines
}

fn model(panel: &Panel) -> String {
    let model = match panel.model.value {
        Model::Volume => "volume (three dimensions)",
        Model::Axisymmetric => "axisymmetric (the pad on its own)",
        Model::Section => "section (2-D: trend only)",
    };
    let copper = match panel.copper.value {
        CopperModel::Sheet => "sheets without thickness",
        CopperModel::Thick => "its true thickness",
    };
    format!(
        "Model: {model}{}, copper as {copper}{}, electrostatic, conductors perfect.",
        marked(&panel.model),
        marked(&panel.copper)
    )
}

fn idle(panel: &Panel) -> String {
    let state = match panel.idle.value {
        IdleState::Grounded => "held at 0 V",
        IdleState::Floating => "left open",
        IdleState::Driven => "driven in phase with the measured pad",
    };
    format!(
        "Idle pads: {state}{} while one is measured.",
        marked(&panel.idle)
    )
}

fn finger_line(finger: &Finger) -> String {
    let [x, y] = finger.offset.map(|offset| offset.mm());
    let place = if x == 0.0 && y == 0.0 {
        "centred on the pad".to_owned()
    } else {
        format!(
            "{} mm, {} mm from the pad's centre",
            plain(x, 2),
            plain(y, 2)
        )
    };
    let path = match finger.return_path {
        ReturnPath::Earthed => "earthed".to_owned(),
        ReturnPath::Through(capacitance) => {
            format!("returning to 0 V through {} pF", plain(capacitance.pf(), 2))
        }
    };
    format!(
        "Finger \"{}\": rigid conductor, contact {} mm, dome {} mm, {} mm high{}, {place}, {path}.",
        finger.name,
        plain(finger.contact.mm(), 2),
        plain(finger.dome.mm(), 2),
        plain(finger.length.value.mm(), 2),
        marked(&finger.length)
    )
}

fn layers(panel: &Panel) -> String {
    let described: Vec<String> = panel
        .layers
        .iter()
        .map(|layer| match &layer.content {
            LayerContent::Dielectric {
                material,
                permittivity,
                source,
            } => format!(
                "{} {material} {}, permittivity {} [{source}]",
                layer.name,
                toleranced(&layer.thickness, "mm", 3, |t| t.mm()),
                toleranced(permittivity, "", 3, |p| p.relative())
            ),
            LayerContent::Copper => format!("{} copper", layer.name),
        })
        .collect();
    described.join("; ")
}
