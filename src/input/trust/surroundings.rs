//! Metal frames on the touched face and objects near the panel.

use super::super::error::Finding;
use super::super::keys::steps;
use super::super::typed::PanelFile;
use super::super::typed_metal::{BezelEntry, ObjectEntry};
use super::super::words::{BezelKind, ConnectionKind, Presence};
use super::connection::connection;
use super::sheet::Sheet;
use super::{in_range, positive};
use crate::panel::outline::Rectangle;
use crate::panel::{Bezel, Connection, MetalObject, Model, ObjectSide};
use padfield_engine::units::Length;

/// Common practice, no source.
const DEFAULT_HEIGHT: Length = Length::from_mm(2.0);
const DEFAULT_THICKNESS: Length = Length::from_mm(1.0);

pub(super) fn bezels(file: &PanelFile, touched: &Sheet) -> Result<Vec<Bezel>, Finding> {
    let mut bezels: Vec<Bezel> = Vec::new();
    for (name, entry) in &file.bezel {
        needs_volume(file, "bezel", name)?;
        let bezel = bezel(name, entry, touched)?;
        let overlap = |a: &Rectangle, b: &Rectangle| {
            (0..2).all(|axis| a[0][axis] < b[1][axis] && b[0][axis] < a[1][axis])
        };
        let meets = |other: &&Bezel| {
            let theirs = other.sides();
            bezel
                .sides()
                .iter()
                .any(|a| theirs.iter().any(|b| overlap(a, b)))
        };
        if let Some(other) = bezels.iter().find(meets) {
            return Err(Finding::at(
                steps!["bezel", name, "opening"],
                format!("frames \"{}\" and \"{name}\" overlap", other.name),
                "move them apart",
            ));
        }
        bezels.push(bezel);
    }
    Ok(bezels)
}

fn bezel(name: &str, entry: &BezelEntry, touched: &Sheet) -> Result<Bezel, Finding> {
    let at = |key: &str| steps!["bezel", name, key];
    let [width, height] = entry.opening.0;
    let bezel = Bezel {
        name: name.to_owned(),
        opening: [
            positive(at("opening"), width, "the width of the opening")?,
            positive(at("opening"), height, "the height of the opening")?,
        ],
        centre: centre(at("centre"), entry.centre.map(|given| given.0))?,
        width: positive(at("width"), entry.width.0, "the width of the frame")?,
        height: match entry.height {
            Some(height) => positive(at("height"), height.0, "the height of the frame")?,
            None => DEFAULT_HEIGHT,
        },
        connection: match entry.state.0 {
            BezelKind::Earthed => Connection::Grounded,
            BezelKind::Floating => Connection::Floating,
            BezelKind::Held => Connection::Body,
        },
    };
    if bezel.sides().iter().any(|side| !touched.holds(*side)) {
        return Err(Finding::at(
            at("opening"),
            format!(
                "frame \"{name}\" reaches outside {}",
                touched.words("overlay")
            ),
            "make the frame narrower or the board larger",
        ));
    }
    Ok(bezel)
}

pub(super) fn objects(file: &PanelFile) -> Result<Vec<MetalObject>, Finding> {
    let mut objects = Vec::new();
    for (name, entry) in &file.object {
        needs_volume(file, "object", name)?;
        objects.push(object(name, entry)?);
    }
    Ok(objects)
}

fn object(name: &str, entry: &ObjectEntry) -> Result<MetalObject, Finding> {
    let at = |key: &str| steps!["object", name, key];
    let (side, distance) = match (entry.behind, entry.before) {
        (Some(behind), None) => (
            ObjectSide::Behind,
            positive(at("behind"), behind.0, "the distance")?,
        ),
        (None, Some(before)) => (
            ObjectSide::Before,
            positive(at("before"), before.0, "the distance")?,
        ),
        (Some(_), Some(_)) => {
            return Err(Finding::at_key(
                at("before"),
                format!("object \"{name}\" is behind and before the panel"),
                "leave one of them out",
            ));
        }
        (None, None) => {
            return Err(Finding::at(
                steps!["object", name],
                format!("nothing says where object \"{name}\" is"),
                "add behind = \"12 mm\" (behind the last layer) or before = \"50 mm\"",
            ));
        }
    };
    if entry
        .state
        .is_some_and(|word| word.0 == ConnectionKind::Driven)
    {
        return Err(Finding::at(
            at("state"),
            "an object is not driven with the measured pad",
            "write \"grounded\" or \"floating\"; a driven area of copper is a [shield.NAME]",
        ));
    }
    let [width, height] = entry.size.0;
    let size = [
        positive(at("size"), width, "the width")?,
        positive(at("size"), height, "the height")?,
    ];
    let centre = centre(at("centre"), entry.centre.map(|given| given.0))?;
    Ok(MetalObject {
        name: name.to_owned(),
        size,
        centre,
        thickness: match entry.thickness {
            Some(thickness) => positive(at("thickness"), thickness.0, "the thickness")?,
            None => DEFAULT_THICKNESS,
        },
        side,
        distance,
        connection: connection(("object", name), entry.state, None, Connection::Grounded)?,
        moves: entry
            .present
            .is_some_and(|word| word.0 == Presence::AtTimes),
    })
}

fn centre(
    steps: Vec<super::super::keys::Step>,
    given: Option<[Length; 2]>,
) -> Result<[Length; 2], Finding> {
    let centre = given.unwrap_or_default();
    for coordinate in centre {
        in_range(steps.clone(), coordinate, "the centre")?;
    }
    Ok(centre)
}

fn needs_volume(file: &PanelFile, section: &str, name: &str) -> Result<(), Finding> {
    if file.model.is_some_and(|word| word.0 != Model::Volume) {
        return Err(Finding::at_key(
            steps![section, name],
            format!("{section} \"{name}\" needs the volume model"),
            "leave out model or write model = \"volume\"",
        ));
    }
    Ok(())
}
