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
    /// The first asked for of all places that are images of each other, the most typical ones first.
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
        let order = typical_first(panel, &solved);
        let mut number_of = vec![0; order.len()];
        for (number, &before) in order.iter().enumerate() {
            number_of[before] = number;
        }
        for (number, _) in &mut from {
            *number = number_of[*number];
        }
        Self {
            solved: order.iter().map(|&at| solved[at].clone()).collect(),
            paths: order.iter().map(|&at| paths[at].clone()).collect(),
            from,
        }
    }
}

/// The places nearest to the middle of a pad go first, and of these those in the middle of all: what a first one finds to
/// be fine enough, others start at, and one off all pads or at the end of a slider would have them solved as finely as it
/// needs.
fn typical_first(panel: &Panel, places: &[TouchPlace]) -> Vec<usize> {
    let at = |place: &TouchPlace| {
        let centre = panel.pads[place.pad].centre;
        [0, 1].map(|axis| (centre[axis] + place.finger.offset[axis]).metres())
    };
    let all: Vec<[f64; 2]> = places.iter().map(at).collect();
    let middle = [0, 1].map(|axis| {
        let along = all.iter().map(|place| place[axis]);
        along.sum::<f64>() / all.len().max(1) as f64
    });
    let steps = |metres: f64| (metres / SAME_PLACE_M).round() as i64;
    let apart = |a: [f64; 2], b: [f64; 2]| steps((a[0] - b[0]).hypot(a[1] - b[1]));
    let centres = panel.pads.iter().map(|pad| pad.centre.map(Length::metres));
    let centres: Vec<[f64; 2]> = centres.collect();
    let off = |place: [f64; 2]| centres.iter().map(|&centre| apart(place, centre)).min();
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by_cached_key(|&number| (off(all[number]), apart(all[number], middle)));
    order
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

#[cfg(test)]
mod tests {
    use super::super::places::on_single_pads;
    use super::*;
    use crate::panel::sample::four_keys;

    #[test]
    fn places_on_pads_go_first_and_of_these_those_in_the_middle() {
        let panel = four_keys();
        let on_pads = on_single_pads(&panel, &panel.fingers[0]);
        let beside = on_pads.iter().map(|place| {
            let mut beside = place.clone();
            beside.finger.offset[0] = Length::from_mm(2.0);
            beside
        });
        // What is off its pad is asked for first.
        let asked: Vec<TouchPlace> = beside.chain(on_pads.clone()).collect();
        let sharing = Sharing::of(&panel, &asked, &[]);
        let is_on_pad = |place: &TouchPlace| place.finger.offset[0] == Length::default();
        let solved = &sharing.solved;
        assert!(solved[..on_pads.len()].iter().all(is_on_pad));
        assert!(!solved[on_pads.len()..].iter().any(is_on_pad));
        for (place, (number, _)) in asked.iter().zip(&sharing.from) {
            assert_eq!(solved[*number].finger.offset, place.finger.offset);
            assert_eq!(
                panel.pads[solved[*number].pad].centre,
                panel.pads[place.pad].centre
            );
        }
        let at = |place: &TouchPlace| panel.pads[place.pad].centre.map(Length::metres);
        let all: Vec<[f64; 2]> = solved.iter().map(at).collect();
        let middle = [0, 1].map(|axis| {
            let shifted = asked.iter().map(|place| {
                (panel.pads[place.pad].centre[axis] + place.finger.offset[axis]).metres()
            });
            shifted.sum::<f64>() / asked.len() as f64
        });
        let off = all[..on_pads.len()].iter();
        let off = off.map(|at| (at[0] - middle[0]).hypot(at[1] - middle[1]));
        let steps: Vec<i64> = off.map(|off| (off / SAME_PLACE_M).round() as i64).collect();
        assert!(steps.is_sorted(), "{steps:?}");
    }
}
