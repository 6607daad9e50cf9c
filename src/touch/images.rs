//! Which places are the same, or images of each other in a symmetry of the panel.

use super::mirrors::PanelMirror;
use super::places::TouchPlace;
use crate::panel::{IdleState, Model, Panel, ReturnPath};
use padfield_engine::units::Length;
use std::collections::HashMap;

/// Places closer than this \[m\] are the same.
const SAME_PLACE_M: f64 = 1e-9;

/// A finger's shape, the pad it stands for, and its place in steps of [`SAME_PLACE_M`].
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
struct Key {
    place: [i64; 2],
    pad: usize,
    shape: [u64; 6],
}

/// Places that need a field problem of their own, and where the others get theirs from.
pub(super) struct Sharing {
    /// The first of all places that are images of each other, in the order asked but for the most typical of them,
    /// which comes first.
    pub solved: Vec<TouchPlace>,
    /// Return paths of the fingers whose place each of them is.
    pub paths: Vec<Vec<ReturnPath>>,
    /// For each place the number of its field problem, and the symmetry that leads from there to it.
    pub from: Vec<(usize, Option<PanelMirror>)>,
}

impl Sharing {
    pub fn of(panel: &Panel, places: &[TouchPlace], mirrors: &[PanelMirror]) -> Self {
        let mut numbers: HashMap<Key, usize> = HashMap::new();
        let mut solved: Vec<TouchPlace> = Vec::new();
        let mut from = Vec::with_capacity(places.len());
        for place in places {
            let own = key(panel, place);
            if let Some(&number) = numbers.get(&own) {
                from.push((number, None));
                continue;
            }
            // Every symmetry here is its own inverse.
            let image = mirrors.iter().find_map(|mirror| {
                let number = numbers.get(&key(panel, &mirrored_place(place, mirror)))?;
                Some((*number, Some(mirror.clone())))
            });
            from.push(image.unwrap_or_else(|| {
                numbers.insert(own, solved.len());
                solved.push(place.clone());
                (solved.len() - 1, None)
            }));
        }
        let mut paths = vec![Vec::new(); solved.len()];
        for (place, &(number, _)) in places.iter().zip(&from) {
            let paths: &mut Vec<ReturnPath> = &mut paths[number];
            if !paths.contains(&place.finger.return_path) {
                paths.push(place.finger.return_path);
            }
        }
        let mut sharing = Self {
            solved,
            paths,
            from,
        };
        sharing.put_typical_first();
        sharing
    }

    /// The place nearest to the middle of its pad goes first: what it finds to be fine enough, the others start at, and
    /// one off all pads would have all of them solved as finely as it needs.
    fn put_typical_first(&mut self) {
        let off = |index: &usize| {
            let [x, y] = self.solved[*index].finger.offset.map(Length::metres);
            x.hypot(y)
        };
        let typical = (0..self.solved.len()).min_by(|a, b| off(a).total_cmp(&off(b)));
        let typical = typical.unwrap_or(0);
        if typical > 0 {
            self.solved.swap(0, typical);
            self.paths.swap(0, typical);
            for (number, _) in &mut self.from {
                *number = match *number {
                    0 => typical,
                    number if number == typical => 0,
                    number => number,
                };
            }
        }
    }
}

fn key(panel: &Panel, place: &TouchPlace) -> Key {
    let pad = &panel.pads[place.pad];
    let finger = &place.finger;
    let at = [0, 1].map(|axis| (pad.centre[axis] + finger.offset[axis]).metres());
    let (glove, permittivity) = finger.glove.map_or((0.0, 1.0), |glove| {
        (glove.thickness.metres(), glove.permittivity.relative())
    });
    Key {
        place: at.map(|metres| (metres / SAME_PLACE_M).round() as i64),
        pad: stand_in(panel, place.pad),
        shape: [
            finger.contact.metres(),
            finger.dome.metres(),
            finger.length.value.metres(),
            glove,
            permittivity,
            finger.distance.metres(),
        ]
        .map(f64::to_bits),
    }
}

/// The first pad that makes the same field problem of a finger at a place as this one: in a volume the
/// touched pad only tells its layer and which sliders are pieces of the ground. A cut is of one pad.
fn stand_in(panel: &Panel, index: usize) -> usize {
    if panel.model.value != Model::Volume {
        return index;
    }
    let own = &panel.pads[index];
    let same_ground = |other: &crate::panel::Pad| {
        panel.idle.value != IdleState::Grounded
            || other.group == own.group
            || !(panel.is_segment(own) || panel.is_segment(other))
    };
    panel
        .pads
        .iter()
        .position(|other| other.layer == own.layer && same_ground(other))
        .unwrap_or(index)
}

fn mirrored_place(place: &TouchPlace, mirror: &PanelMirror) -> TouchPlace {
    let signs = mirror.mirror.signs();
    let mut image = place.clone();
    for axis in 0..2 {
        image.finger.offset[axis] = place.finger.offset[axis] * signs[axis];
    }
    image.pad = mirror.images[place.pad];
    image
}
