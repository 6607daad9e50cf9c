//! Slots in dielectric layers: where they run and how deep they are cut.

use super::super::error::Finding;
use super::super::keys::{Step, steps};
use super::super::typed::{PanelFile, SlotEntry};
use super::pads::has_gaps;
use super::sheet::Sheet;
use super::{find_name, in_range, listed, not_negative, show_mm};
use crate::panel::{Layer, LayerContent, PadGroup, Slot, SlotFilling, SlotPlace, SlotSide};
use padfield_engine::units::Length;

/// Rounding of coordinates, not a slot that stands out of the board.
const TOUCHING_M: f64 = 1e-9;

pub(super) fn slots(
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
    let centre = entry.centre.map_or([Length::default(); 2], |given| given.0);
    for coordinate in centre {
        in_range(at("centre"), coordinate, "the centre")?;
    }
    Ok(SlotPlace::Own {
        centre,
        size: [
            not_negative(at("size"), size[0], "the slot's width")?,
            not_negative(at("size"), size[1], "the slot's height")?,
        ],
    })
}
