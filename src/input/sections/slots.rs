//! Slots in dielectric layers: where they run and how deep they are cut.

use super::common::*;
use super::layers::sheet::Sheet;
use super::pads::has_gaps;
use crate::panel::{Layer, LayerContent, PadGroup, Slot, SlotFilling, SlotPlace, SlotSide};

words!(for SlotSide as "Side": "back" => Back, "front" => Front);
words!(for SlotFilling as "Filling": "air" => Air, "water" => Water);

/// One `[slot.NAME]`: a slot (air relief) in the middle of every gap of a pad group, or one slot of its own.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SlotEntry {
    /// Dielectric layer it is cut into.
    pub layer: String,
    /// Pad group whose gaps it follows.
    pub between: Option<String>,
    /// Width of the slots in the gaps; 0 mm for none.
    pub width: Option<One<Length>>,
    /// Middle of one slot of its own; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Extent along x and y of one slot of its own.
    pub size: Option<Size>,
    /// How deep it is cut, at most the thickness of the layer; 0 mm for none.
    pub depth: One<Length>,
    /// Face of the layer it is cut from; default back.
    pub side: Option<Word<SlotSide>>,
    /// What is in it; default air.
    pub filled: Option<Word<SlotFilling>>,
}

/// What of `[slot]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        edge("width", [0.0, 50.0], DOUBTED),
        place("centre"),
        edge("size", [0.0, 200.0], DOUBTED),
        edge("depth", [0.0, 50.0], DOUBTED),
    ],
    fixed: &[],
};

pub(crate) fn slots(
    file: &PanelFile,
    layers: &[Layer],
    groups: &[PadGroup],
    board: [Length; 2],
) -> Result<Vec<Slot>, Finding> {
    file.slot
        .iter()
        .map(|(name, entry)| slot(file, name, entry, layers, groups, board))
        .collect()
}

fn slot(
    file: &PanelFile,
    name: &str,
    entry: &SlotEntry,
    layers: &[Layer],
    groups: &[PadGroup],
    board: [Length; 2],
) -> Result<Slot, Finding> {
    let at = |key: &str| steps!["slot", name, key];
    let layer = dielectric_layer(at("layer"), &entry.layer, layers)?;
    let place = match (&entry.between, entry.size) {
        (Some(group), None) => between(file, name, entry, group, groups)?,
        (None, Some(size)) => own_slot(name, entry, size.0)?,
        (Some(_), Some(_)) => {
            return Err(Finding::at_key(
                at("size"),
                format!("slot \"{name}\" has both \"between\" and \"size\""),
                "a slot in every gap has between and width, a slot of its own size and centre",
            ));
        }
        (None, None) => {
            return Err(Finding::at(
                steps!["slot", name],
                format!("nothing says where slot \"{name}\" runs"),
                "add between = \"a pad group\" and width, or size = \"2 mm x 30 mm\"",
            ));
        }
    };
    let depth = not_negative(at("depth"), entry.depth.0, "the depth")?;
    let thickness = layers[layer].thickness.nominal;
    if depth.metres() > thickness.metres() + TOUCHING_M {
        return Err(Finding::at(
            at("depth"),
            format!(
                "slot \"{name}\" is deeper than layer \"{}\" is thick ({})",
                layers[layer].name,
                show_mm(thickness)
            ),
            format!("write at most {}", show_mm(thickness)),
        ));
    }
    let slot = Slot {
        name: name.to_owned(),
        layer,
        place,
        depth,
        side: entry.side.map_or(SlotSide::Back, |word| word.0),
        filling: entry.filled.map_or(SlotFilling::Air, |word| word.0),
    };
    let sheet = Sheet::of(layers, slot.layer, board);
    let strips = slot.strips(groups);
    if strips.into_iter().any(|strip| !sheet.holds(strip)) {
        let key = match slot.place {
            SlotPlace::Between { .. } => "width",
            SlotPlace::Own { .. } => "size",
        };
        return Err(Finding::at(
            at(key),
            format!("slot \"{name}\" reaches outside {}", sheet.words("board")),
            "make it smaller, move it inwards or make the board larger",
        ));
    }
    Ok(slot)
}

fn dielectric_layer(steps: Vec<Step>, name: &str, layers: &[Layer]) -> Result<usize, Finding> {
    let dielectrics = layers
        .iter()
        .filter(|layer| layer.content != LayerContent::Copper)
        .map(|layer| layer.name.as_str());
    match layers.iter().position(|layer| layer.name == name) {
        Some(index) if layers[index].content != LayerContent::Copper => Ok(index),
        Some(_) => Err(Finding::at(
            steps,
            format!("layer \"{name}\" is copper: no slot is cut into it"),
            format!("write {}", listed(dielectrics)),
        )),
        None => find_name(steps, name, "dielectric layer", dielectrics),
    }
}

fn between(
    file: &PanelFile,
    name: &str,
    entry: &SlotEntry,
    group: &str,
    groups: &[PadGroup],
) -> Result<SlotPlace, Finding> {
    let at = |key: &str| steps!["slot", name, key];
    if entry.centre.is_some() {
        return Err(Finding::at_key(
            at("centre"),
            "a slot between pads has no \"centre\"",
            "it runs in the middle of every gap; a slot of its own has size and centre",
        ));
    }
    let known = file.pads.keys().map(String::as_str);
    find_name(at("between"), group, "pad group", known)?;
    has_gaps(at("between"), group, groups)?;
    let Some(width) = entry.width else {
        return Err(Finding::at(
            steps!["slot", name],
            format!("slot \"{name}\" has no width"),
            "add width = \"2 mm\"",
        ));
    };
    Ok(SlotPlace::Between {
        group: group.to_owned(),
        width: not_negative(at("width"), width.0, "the width")?,
    })
}

fn own_slot(name: &str, entry: &SlotEntry, size: [Length; 2]) -> Result<SlotPlace, Finding> {
    let at = |key: &str| steps!["slot", name, key];
    if entry.width.is_some() {
        return Err(Finding::at_key(
            at("width"),
            "a slot of its own has no \"width\"",
            "its size says it all, as in size = \"2 mm x 30 mm\"",
        ));
    }
    let centre = centre(|| at("centre"), entry.centre)?;
    Ok(SlotPlace::Own {
        centre,
        size: [
            not_negative(at("size"), size[0], "the slot's width")?,
            not_negative(at("size"), size[1], "the slot's height")?,
        ],
    })
}
