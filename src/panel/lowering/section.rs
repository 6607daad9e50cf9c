//! A cut of the panel with a finger on its face, as a planar case; the cut through the touched pad.

use super::super::{Finger, Pad, Panel};
use super::cut::{CutMetal, Plane, extent};
use super::levels::Levels;
use super::{
    EffectiveLengths, FINGER, GROUND, Lowered, LoweringError, copper, extent_along_y, finger_body,
    finger_centre, glove, slot, surroundings,
};
use padfield_engine::case::{Case, Conductor, Dielectric, Kind, Solid, Wall};
use padfield_engine::units::Length;

/// Steps the dome of a finger is drawn with in a section.
const DOME_STEPS: usize = 4;

pub(super) fn section(
    panel: &Panel,
    levels: &Levels,
    pad: &Pad,
    finger: &Finger,
) -> Result<Lowered, LoweringError> {
    let plane = Plane {
        normal: 1,
        at_m: pad.centre[1].metres(),
    };
    let copper::Metal {
        conductors,
        mut parts,
        screens,
        ..
    } = copper::metal(panel, levels, &[])?;
    let metal = plane.metal(conductors, screens);
    let names = metal.conductors.iter().map(|conductor| &conductor.name);
    let is_pad = |name: &&String| *name != GROUND && parts.iter().all(|part| part.name != **name);
    let pads: Vec<String> = names.filter(is_pad).cloned().collect();
    if metal.missed.contains(&pad.name) {
        return Err(LoweringError::SectionMisses(pad.name.clone()));
    }
    parts.retain(|part| metal.conductors.iter().any(|c| c.name == part.name));
    let missed = metal.missed.iter();
    let mut simplifications: Vec<String> = missed
        .map(|name| format!("the cut does not meet \"{name}\""))
        .collect();
    if finger.offset[1].metres() != 0.0 {
        simplifications.push("the finger's offset along y is ignored".to_owned());
    }
    let [x, _] = finger_centre(pad, finger);
    simplifications.extend(glove::simplification(finger));
    let pad_length = extent_along_y(pad);
    let lengths = EffectiveLengths {
        base: Length::from_metres(pad_length),
        shift: Length::from_metres(pad_length.min(finger.contact.metres())),
    };
    simplifications.push(format!(
        "trend only: a cut along x at y = {} mm, times {:.2} mm for bases (the pad's extent) and \
         {:.2} mm for shifts (the finger's contact)",
        crate::rounding::fixed(1e3 * plane.at_m, 2),
        lengths.base.mm(),
        lengths.shift.mm()
    ));
    Ok(Lowered {
        case: planar_case(panel, levels, plane, metal, (finger, x), &pad.name),
        pads,
        effective_lengths: Some(lengths),
        parts,
        simplifications,
    })
}

/// What a plane meets of a panel, under a finger whose middle is at a place in it \[m\]; the case has the
/// name of `what` is cut.
pub(super) fn planar_case(
    panel: &Panel,
    levels: &Levels,
    plane: Plane,
    mut metal: CutMetal,
    (finger, at_m): (&Finger, f64),
    what: &str,
) -> Case {
    let body = finger_body(levels, finger, [at_m, 0.0]);
    let tip = [at_m - body.dome_radius_m, at_m + body.dome_radius_m];
    metal.conductors.push(Conductor {
        name: FINGER.to_owned(),
        solids: finger_section(levels, finger, at_m),
    });
    let [least, most] = surroundings::span(panel, levels, plane.across());
    let [lowest, highest] = surroundings::reach(panel, levels);
    let wall = panel.wall_distance.value.metres();
    let slots = slot::boxes(panel, levels).into_iter();
    Case {
        id: format!("{what}-{}", finger.name),
        title: panel.title.clone(),
        kind: Kind::Planar,
        domain: extent(
            [tip[0].min(least) - wall, lowest - wall],
            [tip[1].max(most) + wall, body.top_m.max(highest) + wall],
        ),
        walls: [[Wall::Open; 2]; 3],
        background_relative_permittivity: 1.0,
        dielectrics: dielectrics(levels, plane)
            .chain(slots.filter_map(|slot| plane.dielectric(slot)))
            .chain(glove::sheet(levels, finger, &[tip]))
            .collect(),
        screens: metal.screens,
        conductors: metal.conductors,
    }
}

/// What a plane leaves of the layers.
fn dielectrics(levels: &Levels, plane: Plane) -> impl Iterator<Item = Dielectric> {
    let (normal, across) = (plane.normal, plane.across());
    let met = levels.dielectrics.iter().filter(move |sheet| {
        let [low, high] = sheet.plane_m;
        low[normal] <= plane.at_m && plane.at_m <= high[normal]
    });
    met.map(move |sheet| {
        let [low, high] = sheet.plane_m.map(|corner| corner[across]);
        sheet.over(extent([low, sheet.bottom_m], [high, sheet.top_m]))
    })
}

/// The finger's middle cut, the dome in equal steps of its half width.
fn finger_section(levels: &Levels, finger: &Finger, x: f64) -> Vec<Solid> {
    let body = finger_body(levels, finger, [x, 0.0]);
    let (contact, dome) = (body.contact_radius_m, body.dome_radius_m);
    let bar =
        |half: f64, bottom: f64| Solid::Block(extent([x - half, bottom], [x + half, body.top_m]));
    let mut bars = vec![bar(contact, body.bottom_m)];
    if dome > contact {
        let step = (dome - contact) / DOME_STEPS as f64;
        for k in 1..=DOME_STEPS {
            let middle = contact + (k as f64 - 0.5) * step;
            let rise = (middle * middle - contact * contact) / (2.0 * dome);
            let bottom = body.bottom_m + rise;
            if bottom < body.top_m {
                bars.push(bar(contact + k as f64 * step, bottom));
            }
        }
    }
    bars
}
