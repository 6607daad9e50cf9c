//! Hand estimates for one pad and finger, beside the computed values.

use super::answer::{Estimated, HandEstimate, Subject};
use crate::estimate::{
    Slab, disc_over_plane, equal_area_radius, isolated_disc, pad_to_plane, plates, series_return,
};
use crate::panel::outline::{area, pad_polygons};
use crate::panel::{Connection, Finger, LayerContent, Pad, Panel, ReturnPath};
use padfield_engine::units::{Area, Capacitance, Length, Permittivity};

const CONTACT_PLATES: &str = "plates, contact area";
const CONTACT_PLATES_WITH_RETURN: &str = "plates, contact area, with return path";
const PAD_PLATES: &str = "plates, pad area";
const PAD_TO_PLANE: &str = "pad to plane";
const DISC_OVER_PLANE: &str = "disc over plane, with edge";
const ISOLATED_DISC: &str = "isolated disc in air";

/// Names of all hand estimates; which of them apply depends on the panel and the finger.
pub const HAND_ESTIMATES: [&str; 6] = [
    CONTACT_PLATES,
    CONTACT_PLATES_WITH_RETURN,
    PAD_PLATES,
    PAD_TO_PLANE,
    DISC_OVER_PLANE,
    ISOLATED_DISC,
];

/// All estimates that apply; `base` and `shift` are the computed values.
pub(super) fn hand_estimates(
    panel: &Panel,
    pad: &Pad,
    finger: &Finger,
    base: Estimated,
    shift: Capacitance,
) -> Vec<HandEstimate> {
    let of_base = base_estimates(panel, pad)
        .into_iter()
        .map(|one| (Subject::Base, base.value, one));
    let of_shift = shift_estimates(panel, pad, finger).into_iter();
    let of_shift = of_shift.map(|one| (Subject::TouchShift, shift, one));
    of_shift
        .chain(of_base)
        .map(
            |(subject, computed, (name, value, known_bias))| HandEstimate {
                name,
                subject,
                value,
                ratio: value / computed,
                known_bias,
                floor_below: (name == ISOLATED_DISC).then(|| base.error / base.value),
            },
        )
        .collect()
}

/// Name, value, known bias.
type Guess = (&'static str, Capacitance, &'static str);

fn area_of(pad: &Pad) -> Area {
    Area::from_square_metres(area(&pad_polygons(pad)))
}

fn shift_estimates(panel: &Panel, pad: &Pad, finger: &Finger) -> Vec<Guess> {
    let pad_area = area_of(pad);
    let contact_radius = finger.contact.metres() / 2.0;
    let contact = std::f64::consts::PI * contact_radius * contact_radius;
    let overlap = Area::from_square_metres(contact.min(pad_area.square_metres()));
    let mut above = slabs(panel, 0, pad.layer);
    if finger.distance.metres() > 0.0 {
        above.push(Slab {
            thickness: finger.distance,
            permittivity: Permittivity::from_relative(1.0),
        });
    }
    let over_contact = plates(overlap, &above);
    let mut guesses = vec![(
        CONTACT_PLATES,
        over_contact,
        "no fringe, dome, ground behind",
    )];
    if let ReturnPath::Through(capacitance) = finger.return_path {
        guesses.push((
            CONTACT_PLATES_WITH_RETURN,
            series_return(over_contact, capacitance),
            "also no finger to ground",
        ));
    }
    let over_pad = plates(pad_area, &above);
    guesses.push((PAD_PLATES, over_pad, "too high: pad larger than contact"));
    guesses
}

fn base_estimates(panel: &Panel, pad: &Pad) -> Vec<Guess> {
    let pad_area = area_of(pad);
    let radius = equal_area_radius(pad_area);
    let Some(layers) = plane_behind(panel, pad) else {
        return vec![(
            ISOLATED_DISC,
            isolated_disc(radius, Permittivity::from_relative(1.0)),
            "a floor: no board, overlay, neighbours",
        )];
    };
    let height = Length::from_metres(layers.iter().map(|l| l.thickness.metres()).sum());
    let equivalent_m: f64 = layers
        .iter()
        .map(|l| l.thickness.metres() / l.permittivity.relative())
        .sum();
    let permittivity = Permittivity::from_relative(height.metres() / equivalent_m);
    vec![
        (
            PAD_TO_PLANE,
            pad_to_plane(pad_area, height, permittivity),
            "too low: no fringe, overlay, neighbours",
        ),
        (
            DISC_OVER_PLANE,
            disc_over_plane(radius, height, permittivity),
            "too low: no overlay, neighbours",
        ),
    ]
}

/// Dielectric layers from index `from` up to but without `to`.
fn slabs(panel: &Panel, from: usize, to: usize) -> Vec<Slab> {
    panel.layers[from..to]
        .iter()
        .filter_map(|layer| match &layer.content {
            LayerContent::Dielectric { permittivity, .. } => Some(Slab {
                thickness: layer.thickness.nominal,
                permittivity: permittivity.nominal,
            }),
            LayerContent::Copper => None,
        })
        .collect()
}

/// Layers between the pad and the nearest ground area behind it that covers the pad's centre.
fn plane_behind(panel: &Panel, pad: &Pad) -> Option<Vec<Slab>> {
    let covers = |axis: usize, centre: [Length; 2], size: [Length; 2]| {
        (pad.centre[axis] - centre[axis]).metres().abs() <= size[axis].metres() / 2.0
    };
    panel
        .grounds
        .iter()
        .filter(|area| area.layer > pad.layer && area.connection == Connection::Grounded)
        .filter(|area| (0..2).all(|axis| covers(axis, area.centre, area.size)))
        .map(|area| area.layer)
        .min()
        .map(|layer| slabs(panel, pad.layer, layer))
}
