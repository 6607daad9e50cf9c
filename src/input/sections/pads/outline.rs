//! Outlines of pads: the keys of each shape, holes, polygons.

use super::super::common::*;
use super::{PadsEntry, Shape};
use crate::panel::Outline;
use crate::panel::outline::{area, crosses_itself, largest_hole, outline_polygons};

/// Most corners of one polygon.
const MOST_CORNERS: usize = 1000;

/// Keys that describe each shape.
fn keys_of(shape: Shape) -> (&'static str, &'static [&'static str]) {
    match shape {
        Shape::Rectangle => ("a rectangle", &["size"]),
        Shape::RoundedRectangle => ("a rounded rectangle", &["size", "corner_radius"]),
        Shape::Disc => ("a disc", &["diameter"]),
        Shape::Ring => ("a ring", &["diameter", "inner_diameter"]),
        Shape::Polygon => ("a polygon", &["corners"]),
        Shape::Slider => ("a slider", &["segments", "pitch", "height", "gap"]),
        Shape::Wheel => (
            "a wheel",
            &["segments", "diameter", "inner_diameter", "gap"],
        ),
    }
}

/// Keys of pads of every shape.
const OF_EVERY_SHAPE: [&str; 6] = ["layer", "shape", "gap", "centre", "names", "trace_length"];

/// Nothing is given that the shape does not have.
pub(crate) fn only_keys_of_shape(group: &str, entry: &Keyed<PadsEntry>) -> Result<(), Finding> {
    let (described, keys) = keys_of(entry.shape.0);
    let more: &[&str] = match entry.shape.0 {
        Shape::Slider => &[
            "overlap",
            "teeth",
            "ends",
            "largest_deviation",
            "largest_ripple",
            "largest_dead_zone",
        ],
        Shape::Wheel => &["overlap", "teeth", "largest_deviation", "largest_ripple"],
        _ => &["columns", "rows", "hole", "rotation"],
    };
    let allowed = [keys, more, &OF_EVERY_SHAPE[..]].concat();
    match entry.any_but(&allowed) {
        Some(key) => Err(Finding::at_key(
            steps!["pads", group, key],
            format!("{described} has no \"{key}\""),
            format!("{described} is described by {}", keys.join(" and ")),
        )),
        None => Ok(()),
    }
}

/// What a shape needs and is not given.
pub(crate) fn missing_key(group: &str, entry: &Keyed<PadsEntry>, key: &str) -> Finding {
    let (described, keys) = keys_of(entry.shape.0);
    Finding::at(
        steps!["pads", group, "shape"],
        format!("pads \"{group}\" has no \"{key}\""),
        format!("{described} is described by {}", keys.join(" and ")),
    )
}

pub(crate) fn outline(group: &str, entry: &Keyed<PadsEntry>) -> Result<Outline, Finding> {
    let at = |key: &str| steps!["pads", group, key];
    only_keys_of_shape(group, entry)?;
    let missing = |key: &str| missing_key(group, entry, key);
    let size = || {
        let size = entry.size.ok_or_else(|| missing("size"))?;
        positive_size(|| at("size"), size, ["the width", "the height"])
    };
    let diameter = || {
        let given = entry.diameter.ok_or_else(|| missing("diameter"))?;
        positive(at("diameter"), given.0, "the diameter")
    };
    match entry.shape.0 {
        Shape::Rectangle => size().map(|[width, height]| Outline::Rectangle { width, height }),
        Shape::RoundedRectangle => {
            let [width, height] = size()?;
            let radius = entry
                .corner_radius
                .ok_or_else(|| missing("corner_radius"))?;
            let radius = not_negative(at("corner_radius"), radius.0, "the corner radius")?;
            rounded(at("corner_radius"), [width, height], radius)
        }
        Shape::Disc => diameter().map(|diameter| Outline::Disc { diameter }),
        Shape::Ring => {
            let outer_diameter = diameter()?;
            let inner = entry
                .inner_diameter
                .ok_or_else(|| missing("inner_diameter"))?;
            let inner_diameter = positive(at("inner_diameter"), inner.0, "the inner diameter")?;
            if inner_diameter >= outer_diameter {
                return Err(Finding::at(
                    at("inner_diameter"),
                    "the hole is as large as the ring",
                    format!("write less than {}", show_mm(outer_diameter)),
                ));
            }
            Ok(Outline::Ring {
                outer_diameter,
                inner_diameter,
            })
        }
        Shape::Polygon => {
            let corners = entry.corners.as_ref().ok_or_else(|| missing("corners"))?;
            polygon(group, corners.iter().map(|corner| corner.0).collect())
        }
        Shape::Slider | Shape::Wheel => unreachable!("segments have a way of their own"),
    }
}

/// The outline with its hole. A disc with a hole is a ring, however it is written.
pub(crate) fn with_hole(
    group: &str,
    entry: &Keyed<PadsEntry>,
    outline: Outline,
) -> Result<(Outline, Option<Length>), Finding> {
    let Some(given) = entry.hole else {
        return Ok((outline, None));
    };
    let at = || steps!["pads", group, "hole"];
    let hole = not_negative(at(), given.0, "the hole")?;
    if let Outline::Ring { .. } = outline {
        return Err(Finding::at_key(
            at(),
            "a ring has its hole already",
            "write its diameter as inner_diameter, or shape = \"disc\" with a hole",
        ));
    }
    if hole.metres() == 0.0 {
        return Ok((outline, None));
    }
    // The true diameter: the corners of a disc's polygon lie outside it.
    let largest = match outline {
        Outline::Disc { diameter } => diameter,
        _ => largest_hole(&outline),
    };
    if largest.metres() == 0.0 {
        return Err(Finding::at(
            at(),
            "the hole is about 0, 0 of the corners, which lies outside the polygon",
            "move the corners so that 0 mm, 0 mm is where the hole shall be",
        ));
    }
    if hole >= largest {
        return Err(Finding::at(
            at(),
            "the hole is as large as the pad",
            format!("write less than {}", show_mm(largest)),
        ));
    }
    Ok(match outline {
        Outline::Disc { diameter } => (
            Outline::Ring {
                outer_diameter: diameter,
                inner_diameter: hole,
            },
            None,
        ),
        other => (other, Some(hole)),
    })
}

fn rounded(
    steps: Vec<Step>,
    [width, height]: [Length; 2],
    corner_radius: Length,
) -> Result<Outline, Finding> {
    let smaller = if width < height { width } else { height };
    if corner_radius * 2.0 > smaller {
        return Err(Finding::at(
            steps,
            "the corner radius is more than half the smaller side",
            format!("write at most {}", show_mm(smaller * 0.5)),
        ));
    }
    Ok(if corner_radius.metres() == 0.0 {
        Outline::Rectangle { width, height }
    } else {
        Outline::RoundedRectangle {
            width,
            height,
            corner_radius,
        }
    })
}

fn polygon(group: &str, corners: Vec<[Length; 2]>) -> Result<Outline, Finding> {
    let at = || steps!["pads", group, "corners"];
    if !(3..=MOST_CORNERS).contains(&corners.len()) {
        return Err(Finding::at(
            at(),
            format!("the polygon has {} corners", corners.len()),
            format!("write 3 to {MOST_CORNERS} corners"),
        ));
    }
    for (index, corner) in corners.iter().enumerate() {
        for coordinate in *corner {
            in_range(
                steps!["pads", group, "corners", index],
                coordinate,
                "the corner",
            )?;
        }
    }
    let outline = Outline::Polygon { corners };
    let polygons = outline_polygons(&outline, 0.0, [Length::default(); 2]);
    if crosses_itself(&polygons[0]) || area(&polygons) < 1e-18 {
        return Err(Finding::at(
            at(),
            "the polygon crosses or touches itself, or has no area",
            "list every corner once, in order around the pad",
        ));
    }
    Ok(outline)
}
