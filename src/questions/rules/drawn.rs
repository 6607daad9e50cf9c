//! Values of a panel by their dotted paths, and pads of another outline.

use super::data::Form;
use super::read::twelve_digits;
use crate::input::catalogue::varied;
use crate::input::{Document, unit_factor};
use crate::panel::outline::{area, bounding_box, distance, pad_box, pad_polygons};
use crate::panel::{LayerContent, Outline, Pad, Panel};
use padfield_engine::units::Length;

/// The value at a path in the usual unit of its measure, the smallest of several: anything that the
/// catalogue of the panel file knows and this file writes down, and of what is filled in the permittivity
/// of a layer, the gap of pads and a finger. None when there is no such value.
///
/// `document` is the file, with everything set, that became `panel`.
pub(super) fn drawn_value(document: &Document, panel: &Panel, path: &str) -> Option<f64> {
    let parts: Vec<&str> = path.split('.').collect();
    let filled_in = match parts[..] {
        ["layer", name, "permittivity"] => {
            let layer = panel.layers.iter().find(|layer| layer.name == name)?;
            match &layer.content {
                LayerContent::Dielectric { permittivity, .. } => {
                    Some(permittivity.nominal.relative())
                }
                LayerContent::Copper => None,
            }
        }
        // The gap of a single pad can be written, but is none.
        ["pads", group, "gap"] => return Some(panel.group(group)?.least_gap()?.mm()),
        ["finger", name, what] => {
            let finger = panel.fingers.iter().find(|finger| finger.name == name)?;
            match what {
                "contact" => Some(finger.contact.mm()),
                "dome" => Some(finger.dome.mm()),
                "length" => Some(finger.length.value.mm()),
                _ => None,
            }
        }
        _ => None,
    };
    filled_in.or_else(|| {
        let per_usual = unit_factor(varied(path)?.unit());
        let numbers = document.numbers_at(path).into_iter();
        let least = numbers.map(|number| number.si()).min_by(f64::total_cmp)?;
        Some(twelve_digits(least / per_usual))
    })
}

/// Usual unit of the values at a path.
pub(super) fn unit_of(path: &str) -> &'static str {
    varied(path).map_or("", |entry| entry.unit())
}

fn pads_of<'p>(panel: &'p Panel, group: &str) -> impl Iterator<Item = &'p Pad> {
    panel.pads.iter().filter(move |pad| pad.group == group)
}

/// Area of one pad of the group \[mm2\].
pub(super) fn pad_area(panel: &Panel, group: &str) -> Option<f64> {
    let pad = pads_of(panel, group).next()?;
    Some(1e6 * area(&pad_polygons(pad)))
}

/// The panel with every pad of a group in another outline of the same area about the same centre; none
/// when it has that outline already.
pub(super) fn reshaped(panel: &Panel, group: &str, form: Form) -> Result<Option<Panel>, String> {
    let mut other = panel.clone();
    let mut is_new = false;
    for pad in other.pads.iter_mut().filter(|pad| pad.group == group) {
        let area_m2 = area(&pad_polygons(pad));
        let outline = of_area(form, area_m2);
        is_new |= !is_the_same(&pad.outline, &outline) || pad.hole.is_some();
        pad.outline = outline;
        pad.hole = None;
    }
    let outline = other.pads.iter().find(|pad| pad.group == group);
    let corners =
        outline.map(|pad| bounding_box(&pad.outline, pad.rotation_degrees, [Length::default(); 2]));
    let groups = other.groups.iter_mut().filter(|known| known.name == group);
    for (known, corners) in groups.zip(corners) {
        *known = known.with_pad_box(corners.map(|corner| corner.map(Length::from_metres)));
    }
    if !is_new {
        return Ok(None);
    }
    let outlines: Vec<_> = other.pads.iter().map(pad_polygons).collect();
    for (index, first) in outlines.iter().enumerate() {
        for (offset, second) in outlines[index + 1..].iter().enumerate() {
            let other_index = index + 1 + offset;
            let same_layer = other.pads[index].layer == other.pads[other_index].layer;
            if same_layer && distance(first, second) <= 0.0 {
                return Err(format!(
                    "as {}s of the same area the pads \"{}\" and \"{}\" would touch",
                    form.words(),
                    other.pads[index].name,
                    other.pads[other_index].name
                ));
            }
        }
    }
    let fits = |pad: &Pad| {
        let [low, high] = pad_box(pad);
        (0..2).all(|axis| {
            let half = other.board.value[axis].metres() / 2.0;
            low[axis] >= -half && high[axis] <= half
        })
    };
    match other.pads.iter().find(|pad| !fits(pad)) {
        Some(pad) => Err(format!(
            "as {} of the same area the pad \"{}\" would stand out of the board",
            form.words(),
            pad.name
        )),
        None => Ok(Some(other)),
    }
}

fn of_area(form: Form, area_m2: f64) -> Outline {
    let metres = Length::from_metres;
    match form {
        Form::Disc => Outline::Disc {
            diameter: metres((4.0 * area_m2 / std::f64::consts::PI).sqrt()),
        },
        Form::Square => Outline::Rectangle {
            width: metres(area_m2.sqrt()),
            height: metres(area_m2.sqrt()),
        },
        Form::UprightRectangle => Outline::Rectangle {
            width: metres((0.5 * area_m2).sqrt()),
            height: metres((2.0 * area_m2).sqrt()),
        },
    }
}

fn is_the_same(a: &Outline, b: &Outline) -> bool {
    let near = |a: Length, b: Length| (a - b).metres().abs() < 1e-9;
    match (a, b) {
        (Outline::Disc { diameter: a }, Outline::Disc { diameter: b }) => near(*a, *b),
        (
            Outline::Rectangle { width, height },
            Outline::Rectangle {
                width: w,
                height: h,
            },
        ) => near(*width, *w) && near(*height, *h),
        _ => false,
    }
}
