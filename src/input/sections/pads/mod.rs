//! Pad groups: outlines, the places of a row or grid, names and trace lengths.

use super::common::*;
use crate::panel::outline::bounding_box;
use crate::panel::{GroupLayout, Layer, Pad, PadGroup, Slider};
use outline::{outline, with_hole};
use schemars::{Schema, SchemaGenerator, json_schema};
use segments::segment_pads;
use serde::de::value::SeqAccessDeserializer;
use serde::de::{self, Deserializer, IntoDeserializer, SeqAccess, Visitor};
use std::borrow::Cow;
use std::fmt;

mod outline;
mod segments;

/// One `[pads.NAME]`: one pad, or `columns` by `rows` of them.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PadsEntry {
    /// Copper layer the pads are on.
    pub layer: String,
    /// Shape of one pad.
    pub shape: Word<Shape>,
    /// Width by height of a rectangle or rounded rectangle.
    pub size: Option<Size>,
    /// Corner radius of a rounded rectangle.
    pub corner_radius: Option<One<Length>>,
    /// Diameter of a disc, outer diameter of a ring.
    pub diameter: Option<One<Length>>,
    /// Inner diameter of a ring.
    pub inner_diameter: Option<One<Length>>,
    /// Diameter of a round hole in the middle of every pad; 0 mm for none.
    pub hole: Option<One<Length>>,
    /// Corners x, y of a polygon around the pad's own centre.
    pub corners: Option<Vec<Position>>,
    /// Segments of a slider or a wheel.
    pub segments: Option<Count>,
    /// Distance of neighbouring segments of a slider.
    pub pitch: Option<One<Length>>,
    /// Extent of a slider along y.
    pub height: Option<One<Length>>,
    /// How far neighbouring segments reach into each other, tip to tip; default 0 mm.
    pub overlap: Option<One<Length>>,
    /// Teeth where segments meet; default 1.
    pub teeth: Option<Count>,
    /// The first and last segment of a slider are "full" (default) or "half" a pitch long.
    pub ends: Option<Word<Ends>>,
    /// Largest deviation of the position that a slider or wheel tells; default 1.5 mm.
    pub largest_deviation: Option<One<Length>>,
    /// Largest fall of the total of all segments below its largest value; default 20 %.
    pub largest_ripple: Option<One<Share>>,
    /// Longest dead zone at either end of a slider; default 2 mm.
    pub largest_dead_zone: Option<One<Length>>,
    /// Counter-clockwise rotation of every pad about its centre.
    pub rotation: Option<One<Angle>>,
    /// Pads side by side; default 1.
    pub columns: Option<Count>,
    /// Pads one below the other; default 1.
    pub rows: Option<Count>,
    /// Distance between the edges of neighbouring pads.
    pub gap: Option<Spacing>,
    /// Middle of the whole group; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Pad names row by row from the top left.
    pub names: Option<Vec<String>>,
    /// Length of the trace from the edge of the pad to the controller, what is drawn of it included: one for
    /// all, or a list in the order of the names.
    pub trace_length: Option<TraceLengths>,
}

/// What of `[pads]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        edge("size", [1.0, 100.0], TURNED),
        edge("corner_radius", [0.0, 50.0], SPREAD),
        edge("diameter", [1.0, 200.0], TURNED),
        edge("inner_diameter", [0.5, 200.0], TURNED),
        edge("hole", [0.0, 50.0], DOUBTED),
        edge("corners", [-200.0, 200.0], NONE),
        edge("pitch", [1.0, 100.0], TURNED),
        edge("height", [1.0, 100.0], TURNED),
        edge("overlap", [0.0, 50.0], TURNED),
        solved("rotation", Measure::Angle, [-180.0, 180.0], NONE),
        edge("gap", [0.1, 100.0], TURNED),
        place("centre"),
        circuit("trace_length", Measure::Length, [0.0, 1000.0], REMEDY),
    ],
    fixed: &[
        choice(&["segments", "teeth", "columns", "rows"], COUNTED),
        still(
            &["largest_deviation", "largest_ripple", "largest_dead_zone"],
            "it is a limit that a slider is judged by",
        ),
    ],
};

words!(
    /// Shape of a pad; its measures are keys of their own.
    Shape as "Shape":
        "rectangle" => Rectangle, "rounded rectangle" => RoundedRectangle, "disc" => Disc,
        "ring" => Ring, "polygon" => Polygon, "slider" => Slider, "wheel" => Wheel
);
words!(
    /// Ends of a slider: as long as the other segments, or half as long.
    Ends as "Ends": "full" => Full, "half" => Half
);

/// Trace lengths of a pad group.
#[derive(Clone, Debug, PartialEq)]
pub enum TraceLengths {
    /// One length for every pad.
    Same(One<Length>),
    /// One length per pad, in the order of the names.
    Each(Vec<One<Length>>),
}

impl<'de> Deserialize<'de> for TraceLengths {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(LengthsVisitor)
    }
}

struct LengthsVisitor;

impl<'de> Visitor<'de> for LengthsVisitor {
    type Value = TraceLengths;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("a length such as \"40 mm\" or a list of lengths")
    }
    fn visit_str<E: de::Error>(self, text: &str) -> Result<TraceLengths, E> {
        One::deserialize(text.into_deserializer()).map(TraceLengths::Same)
    }
    fn visit_i64<E: de::Error>(self, value: i64) -> Result<TraceLengths, E> {
        One::deserialize(value.into_deserializer()).map(TraceLengths::Same)
    }
    fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<TraceLengths, A::Error> {
        let list = SeqAccessDeserializer::new(list);
        Vec::deserialize(list).map(TraceLengths::Each)
    }
}

impl JsonSchema for TraceLengths {
    fn schema_name() -> Cow<'static, str> {
        "TraceLengths".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let one = generator.subschema_for::<One<Length>>();
        json_schema!({ "anyOf": [one, { "type": "array", "items": one }] })
    }
}

/// Most pads in one panel.
const MOST_PADS: usize = 1000;
/// Common practice, no source.
const DEFAULT_TRACE_LENGTH: Length = Length::from_mm(50.0);

/// The pads of a file, how they are placed, and which groups are one control.
pub(crate) struct Pads {
    pub pads: Vec<Pad>,
    pub groups: Vec<PadGroup>,
    pub sliders: Vec<Slider>,
}

pub(crate) fn pads(file: &PanelFile, layers: &[Layer]) -> Result<Pads, Finding> {
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

fn columns(entry: &Keyed<PadsEntry>) -> usize {
    entry.columns.map_or(1, |count| count.0 as usize)
}

fn rows(entry: &Keyed<PadsEntry>) -> usize {
    entry.rows.map_or(1, |count| count.0 as usize)
}

/// Whether something may run between the pads of a group.
pub(crate) fn has_gaps(steps: Vec<Step>, group: &str, groups: &[PadGroup]) -> Result<(), Finding> {
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
    entry: &Keyed<PadsEntry>,
    layers: &[Layer],
    drawn: &[&str],
) -> Result<(Vec<Pad>, PadGroup), Finding> {
    let at = |key: &str| steps!["pads", group, key];
    let layer = copper_layer(at("layer"), &entry.layer, layers)?;
    let (outline, hole) = with_hole(group, entry, outline(group, entry)?)?;
    let rotation_degrees = entry.rotation.map_or(0.0, |angle| angle.0);
    let [columns, rows] = [columns(entry), rows(entry)];
    let count = columns * rows;
    let gap = gap(group, entry, [columns, rows])?;
    let centre = centre(|| at("centre"), entry.centre)?;
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
pub(crate) fn left_over(given: Option<Length>, pad: &str, drawn: &[&str]) -> Sourced<Length> {
    let default = match drawn.contains(&pad) {
        true => Length::default(),
        false => DEFAULT_TRACE_LENGTH,
    };
    sourced(given, default)
}

fn gap(group: &str, entry: &Keyed<PadsEntry>, counts: [usize; 2]) -> Result<[Length; 2], Finding> {
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

pub(crate) fn names(
    group: &str,
    entry: &Keyed<PadsEntry>,
    count: usize,
) -> Result<Vec<String>, Finding> {
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

pub(crate) fn trace_lengths(
    group: &str,
    entry: &Keyed<PadsEntry>,
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
