//! Pad groups: outlines, the places of a row or grid, names and trace lengths.

use super::super::error::Finding;
use super::super::keys::{NAME_RULE, check_name, steps};
use super::super::typed::{PadsEntry, PanelFile, TraceLengths};
use super::super::words::Shape;
use super::segments::segment_pads;
use super::{find_name, in_range, not_negative, positive, show_mm, sourced};
use crate::panel::outline::{area, bounding_box, crosses_itself, largest_hole, outline_polygons};
use crate::panel::{GroupLayout, Layer, LayerContent, Outline, Pad, PadGroup, Slider};
use padfield_engine::units::Length;

/// Most pads in one panel.
pub(super) const MOST_PADS: usize = 1000;
/// Most corners of one polygon.
const MOST_CORNERS: usize = 1000;
/// Common practice, no source.
const DEFAULT_TRACE_LENGTH: Length = Length::from_mm(50.0);

/// The pads of a file, how they are placed, and which groups are one control.
pub(super) struct Pads {
    pub pads: Vec<Pad>,
    pub groups: Vec<PadGroup>,
    pub sliders: Vec<Slider>,
}

pub(super) fn pads(file: &PanelFile, layers: &[Layer]) -> Result<Pads, Finding> {
    let mut pads: Vec<Pad> = Vec::new();
    let mut groups = Vec::new();
    let mut sliders = Vec::new();
    for (group, entry) in &file.pads {
        let count = match entry.segments {
            Some(segments) => segments.0 as usize,
            None => columns(entry) * rows(entry),
        };
        if pads.len() + count > MOST_PADS {
            return Err(Finding::at(
                steps!["pads", group],
                format!("there are more than {MOST_PADS} pads"),
                "write smaller numbers of columns and rows",
            ));
        }
        let drawn: Vec<&str> = file
            .trace
            .values()
            .filter_map(|trace| trace.pad.as_deref())
            .collect();
        let (more, mut placed) = match entry.shape.0 {
            Shape::Slider | Shape::Wheel => {
                let (more, placed, slider) = segment_pads(group, entry, layers, &drawn)?;
                sliders.push(slider);
                (more, placed)
            }
            _ => group_pads(group, entry, layers, &drawn)?,
        };
        placed.members = pads.len()..pads.len() + more.len();
        groups.push(placed);
        for pad in &more {
            if pads.iter().any(|other| other.name == pad.name) {
                return Err(Finding::at(
                    steps!["pads", group, "names"],
                    format!("there are two pads \"{}\"", pad.name),
                    "give every pad a name of its own",
                ));
            }
        }
        pads.extend(more);
    }
    if pads.is_empty() {
        return Err(Finding::at(
            steps!["pads"],
            "there are no pads",
            "add at least one [pads.NAME]",
        ));
    }
    Ok(Pads {
        pads,
        groups,
        sliders,
    })
}

fn columns(entry: &PadsEntry) -> usize {
    entry.columns.map_or(1, |count| count.0 as usize)
}

fn rows(entry: &PadsEntry) -> usize {
    entry.rows.map_or(1, |count| count.0 as usize)
}

/// Index of a copper layer by name.
pub(super) fn copper_layer(
    steps: Vec<super::super::keys::Step>,
    name: &str,
    layers: &[Layer],
) -> Result<usize, Finding> {
    let copper = layers
        .iter()
        .filter(|layer| layer.content == LayerContent::Copper)
        .map(|layer| layer.name.as_str());
    match layers.iter().position(|layer| layer.name == name) {
        Some(index) if layers[index].content == LayerContent::Copper => Ok(index),
        Some(_) => Err(Finding::at(
            steps,
            format!("layer \"{name}\" is not copper"),
            format!("write {}", super::listed(copper)),
        )),
        None => find_name(steps, name, "copper layer", copper),
    }
}

/// Whether something may run between the pads of a group.
pub(super) fn has_gaps(
    steps: Vec<super::super::keys::Step>,
    group: &str,
    groups: &[PadGroup],
) -> Result<(), Finding> {
    let found = groups.iter().find(|known| known.name == group);
    match found.map(|group| group.layout) {
        Some(GroupLayout::Segments { .. }) => Err(Finding::at(
            steps,
            format!("\"{group}\" is one control: nothing runs between its segments"),
            "name a group with several columns or rows; a guard may run around a slider",
        )),
        Some(GroupLayout::Single) => Err(Finding::at(
            steps,
            format!("\"{group}\" has only one pad: there is nothing between"),
            "name a group with several columns or rows",
        )),
        Some(GroupLayout::Grid { .. }) | None => Ok(()),
    }
}

fn group_pads(
    group: &str,
    entry: &PadsEntry,
    layers: &[Layer],
    drawn: &[&str],
) -> Result<(Vec<Pad>, PadGroup), Finding> {
    let at = |key: &str| steps!["pads", group, key];
    let layer = copper_layer(at("layer"), &entry.layer, layers)?;
    let (outline, hole) = with_hole(group, entry, outline(group, entry)?)?;
    let rotation_degrees = entry.rotation.map_or(0.0, |angle| angle.degrees);
    let [columns, rows] = [columns(entry), rows(entry)];
    let count = columns * rows;
    let gap = gap(group, entry, [columns, rows])?;
    let centre = entry.centre.map_or([Length::default(); 2], |given| given.0);
    for coordinate in centre {
        in_range(at("centre"), coordinate, "the centre")?;
    }
    let corners = bounding_box(&outline, rotation_degrees, [Length::default(); 2]);
    let placed = PadGroup {
        name: group.to_owned(),
        members: 0..count,
        layout: match count {
            1 => GroupLayout::Single,
            _ => GroupLayout::Grid { columns, rows, gap },
        },
        centre,
        pad_box: corners.map(|corner| corner.map(Length::from_metres)),
    };
    let names = names(group, entry, count)?;
    let trace_lengths = trace_lengths(group, entry, count)?;
    let pads = names.into_iter().zip(trace_lengths).enumerate();
    let pads = pads.map(|(place, (name, trace_length))| Pad {
        group: group.to_owned(),
        layer,
        outline: outline.clone(),
        rotation_degrees,
        centre: placed.pad_centre(place),
        hole,
        feature: Length::from_metres(f64::INFINITY),
        trace_length: left_over(trace_length, &name, drawn),
        name,
    });
    Ok((pads.collect(), placed))
}

/// Length of the trace that is not drawn: as given, none beside a drawn trace, or the default.
pub(super) fn left_over(
    given: Option<Length>,
    pad: &str,
    drawn: &[&str],
) -> crate::panel::Sourced<Length> {
    let default = match drawn.contains(&pad) {
        true => Length::default(),
        false => DEFAULT_TRACE_LENGTH,
    };
    sourced(given, default)
}

fn gap(group: &str, entry: &PadsEntry, counts: [usize; 2]) -> Result<[Length; 2], Finding> {
    if counts == [1, 1] {
        return Ok([Length::default(); 2]);
    }
    let Some(gap) = entry.gap else {
        return Err(Finding::at(
            steps!["pads", group],
            format!("pads \"{group}\" has several pads but no gap"),
            "add gap = \"8 mm\"",
        ));
    };
    for (gap, count) in gap.0.into_iter().zip(counts) {
        if count > 1 && gap.metres() <= 0.0 {
            return Err(Finding::at(
                steps!["pads", group, "gap"],
                format!("with a gap of {} the pads are shorted", show_mm(gap)),
                "write more than 0 mm",
            ));
        }
        if count > 1 {
            positive(steps!["pads", group, "gap"], gap, "the gap")?;
        }
    }
    Ok(gap.0)
}

pub(super) fn names(group: &str, entry: &PadsEntry, count: usize) -> Result<Vec<String>, Finding> {
    let Some(names) = &entry.names else {
        return Ok(match count {
            1 => vec![group.to_owned()],
            _ => (1..=count).map(|n| format!("{group}-{n}")).collect(),
        });
    };
    let at = || steps!["pads", group, "names"];
    if names.len() != count {
        return Err(Finding::at(
            at(),
            format!("names are given for {} of {count} pads", names.len()),
            "write one name per pad, row by row from the top left",
        ));
    }
    for (index, name) in names.iter().enumerate() {
        if let Err(reason) = check_name(name) {
            return Err(Finding::at(
                steps!["pads", group, "names", index],
                reason,
                NAME_RULE,
            ));
        }
        if names[..index].contains(name) {
            return Err(Finding::at(
                steps!["pads", group, "names", index],
                format!("there are two pads \"{name}\""),
                "give every pad a name of its own",
            ));
        }
    }
    Ok(names.clone())
}

pub(super) fn trace_lengths(
    group: &str,
    entry: &PadsEntry,
    count: usize,
) -> Result<Vec<Option<Length>>, Finding> {
    let what = "the trace length";
    match &entry.trace_length {
        None => Ok(vec![None; count]),
        Some(TraceLengths::Same(one)) => {
            let one = not_negative(steps!["pads", group, "trace_length"], one.0, what)?;
            Ok(vec![Some(one); count])
        }
        Some(TraceLengths::Each(list)) if list.len() != count => Err(Finding::at(
            steps!["pads", group, "trace_length"],
            format!("trace lengths are given for {} of {count} pads", list.len()),
            "write one length for all pads or one per pad",
        )),
        Some(TraceLengths::Each(list)) => list
            .iter()
            .enumerate()
            .map(|(index, length)| {
                let steps = steps!["pads", group, "trace_length", index];
                not_negative(steps, length.0, what).map(Some)
            })
            .collect(),
    }
}

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

/// Nothing is given that the shape does not have.
pub(super) fn only_keys_of_shape(group: &str, entry: &PadsEntry) -> Result<(), Finding> {
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
    let given = [
        ("size", entry.size.is_some()),
        ("corner_radius", entry.corner_radius.is_some()),
        ("diameter", entry.diameter.is_some()),
        ("inner_diameter", entry.inner_diameter.is_some()),
        ("corners", entry.corners.is_some()),
        ("segments", entry.segments.is_some()),
        ("pitch", entry.pitch.is_some()),
        ("height", entry.height.is_some()),
        ("overlap", entry.overlap.is_some()),
        ("teeth", entry.teeth.is_some()),
        ("ends", entry.ends.is_some()),
        ("largest_deviation", entry.largest_deviation.is_some()),
        ("largest_ripple", entry.largest_ripple.is_some()),
        ("largest_dead_zone", entry.largest_dead_zone.is_some()),
        ("columns", entry.columns.is_some()),
        ("rows", entry.rows.is_some()),
        ("hole", entry.hole.is_some()),
        ("rotation", entry.rotation.is_some()),
    ];
    for (key, given) in given {
        if given && !keys.contains(&key) && !more.contains(&key) {
            return Err(Finding::at_key(
                steps!["pads", group, key],
                format!("{described} has no \"{key}\""),
                format!("{described} is described by {}", keys.join(" and ")),
            ));
        }
    }
    Ok(())
}

/// What a shape needs and is not given.
pub(super) fn missing_key(group: &str, entry: &PadsEntry, key: &str) -> Finding {
    let (described, keys) = keys_of(entry.shape.0);
    Finding::at(
        steps!["pads", group, "shape"],
        format!("pads \"{group}\" has no \"{key}\""),
        format!("{described} is described by {}", keys.join(" and ")),
    )
}

fn outline(group: &str, entry: &PadsEntry) -> Result<Outline, Finding> {
    let at = |key: &str| steps!["pads", group, key];
    only_keys_of_shape(group, entry)?;
    let missing = |key: &str| missing_key(group, entry, key);
    let size = || -> Result<[Length; 2], Finding> {
        let [width, height] = entry.size.ok_or_else(|| missing("size"))?.0;
        Ok([
            positive(at("size"), width, "the width")?,
            positive(at("size"), height, "the height")?,
        ])
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
fn with_hole(
    group: &str,
    entry: &PadsEntry,
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
    steps: Vec<super::super::keys::Step>,
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
