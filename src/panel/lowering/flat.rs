//! The two-dimensional models: a round pad about its axis, and a cut along x.

use super::super::outline::{area, pad_polygons};
use super::super::{Finger, Outline, Pad, Panel};
use super::copper;
use super::levels::Levels;
use super::{
    EffectiveLengths, FINGER, GROUND, Lowered, LoweringError, LoweringOptions, extent_along_y,
    finger_body, finger_centre, glove, relief,
};
use crate::case::{Case, Conductor, Dielectric, Extent, Kind, Solid, Wall};
use crate::units::Length;

/// Steps the dome of a finger is drawn with in a section.
const DOME_STEPS: usize = 4;

fn extent(low: [f64; 2], high: [f64; 2]) -> Extent {
    Extent {
        low_m: [low[0], low[1], 0.0],
        high_m: [high[0], high[1], 0.0],
    }
}

fn disc_radius(area_m2: f64) -> f64 {
    (area_m2 / std::f64::consts::PI).sqrt()
}

fn dielectrics(levels: &Levels, low: f64, high: f64) -> Vec<Dielectric> {
    levels
        .dielectrics
        .iter()
        .map(|sheet| Dielectric {
            name: sheet.name.clone(),
            relative_permittivity: sheet.relative_permittivity,
            extent: extent([low, sheet.bottom_m], [high, sheet.top_m]),
        })
        .collect()
}

pub(super) fn axisymmetric(
    panel: &Panel,
    levels: &Levels,
    pad: &Pad,
    finger: &Finger,
    options: LoweringOptions,
) -> Result<Lowered, LoweringError> {
    let refuse = |message: String| Err(LoweringError::Axisymmetric(message));
    if panel.pads.len() != 1 {
        return refuse(format!(
            "needs a panel with one pad, this one has {}",
            panel.pads.len()
        ));
    }
    if finger.offset.iter().any(|offset| offset.metres() != 0.0) {
        return refuse(format!("finger \"{}\" is off centre", finger.name));
    }
    let mut simplifications = vec!["board and ground areas are discs of the same area".to_owned()];
    let [inner, outer] = match &pad.outline {
        Outline::Disc { diameter } => [0.0, diameter.metres() / 2.0],
        Outline::Ring {
            outer_diameter,
            inner_diameter,
        } => [inner_diameter.metres() / 2.0, outer_diameter.metres() / 2.0],
        _ if options.equal_area_disc => {
            let radius = disc_radius(area(&pad_polygons(pad)[..1]));
            simplifications.push(format!(
                "pad \"{}\" is the disc of its area, diameter {:.2} mm",
                pad.name,
                2e3 * radius
            ));
            [0.0, radius]
        }
        _ => {
            return refuse(format!(
                "pad \"{}\" is not round; use a disc or a ring, the volume model, or ask for the \
                 disc of the same area",
                pad.name
            ));
        }
    };
    let inner = match pad.hole {
        Some(diameter) => diameter.metres() / 2.0,
        None => inner,
    };
    if let Some(relief) = panel.reliefs.iter().find(|relief| !relief.is_empty()) {
        return refuse(format!("relief \"{}\" is a straight slot", relief.name));
    }
    let centre = pad.centre.map(Length::metres);
    let is_off_centre =
        |at: [Length; 2]| (at[0].metres() - centre[0]).hypot(at[1].metres() - centre[1]) > 1e-9;
    if is_off_centre([Length::default(); 2]) {
        simplifications.push("the board is moved so that the pad is in its middle".to_owned());
    }
    let board = panel.board.value.map(Length::metres);
    let board_radius = disc_radius(board[0] * board[1]);
    let level = levels.copper_level(panel, pad.layer, &pad.name)?;
    let mut conductors = vec![Conductor {
        name: pad.name.clone(),
        solids: vec![Solid::Block(extent([inner, level[0]], [outer, level[1]]))],
    }];
    let mut ground = Vec::new();
    for area in &panel.grounds {
        if is_off_centre(area.centre) {
            return refuse(format!(
                "ground area \"{}\" is not centred on the pad",
                area.name
            ));
        }
        let level = levels.copper_level(panel, area.layer, &area.name)?;
        let from = if area.layer == pad.layer {
            outer + area.clearance.metres()
        } else {
            0.0
        };
        let to = disc_radius(area.size[0].metres() * area.size[1].metres());
        if to > from {
            ground.push(Solid::Block(extent([from, level[0]], [to, level[1]])));
        }
    }
    if !ground.is_empty() {
        conductors.push(Conductor {
            name: GROUND.to_owned(),
            solids: ground,
        });
    }
    let body = finger_body(levels, finger, [0.0; 2]);
    let tip = [[0.0, body.dome_radius_m]];
    let glove = glove::sheet(levels, finger, &tip, &mut simplifications);
    conductors.push(Conductor {
        name: FINGER.to_owned(),
        solids: vec![Solid::Round(body)],
    });
    let wall = panel.wall_distance.value.metres();
    Ok(Lowered {
        case: Case {
            id: format!("{}-{}", pad.name, finger.name),
            title: panel.title.clone(),
            kind: Kind::Axisymmetric,
            domain: extent(
                [0.0, levels.back_m - wall],
                [
                    board_radius.max(body.dome_radius_m) + wall,
                    body.top_m + wall,
                ],
            ),
            walls: [
                [Wall::Insulated, Wall::Open],
                [Wall::Open; 2],
                [Wall::Open; 2],
            ],
            background_relative_permittivity: 1.0,
            dielectrics: dielectrics(levels, 0.0, board_radius)
                .into_iter()
                .chain(glove)
                .collect(),
            screens: Vec::new(),
            conductors,
        },
        pads: vec![pad.name.clone()],
        effective_lengths: None,
        films: Vec::new(),
        simplifications,
    })
}

pub(super) fn section(
    panel: &Panel,
    levels: &Levels,
    pad: &Pad,
    finger: &Finger,
) -> Result<Lowered, LoweringError> {
    let cut_y = pad.centre[1].metres();
    let mut simplifications = Vec::new();
    let mut conductors = Vec::new();
    for conductor in copper::conductors(panel, levels)? {
        let solids: Vec<Solid> = conductor
            .solids
            .iter()
            .flat_map(|solid| cut_solid(solid, cut_y))
            .collect();
        if !solids.is_empty() {
            conductors.push(Conductor {
                solids,
                ..conductor
            });
        } else if conductor.name == pad.name {
            return Err(LoweringError::SectionMisses(conductor.name));
        } else {
            simplifications.push(format!("the cut does not meet \"{}\"", conductor.name));
        }
    }
    let pads = conductors
        .iter()
        .map(|conductor| conductor.name.clone())
        .filter(|name| name != GROUND)
        .collect();
    if finger.offset[1].metres() != 0.0 {
        simplifications.push("the finger's offset along y is ignored".to_owned());
    }
    let [x, _] = finger_centre(pad, finger);
    conductors.push(Conductor {
        name: FINGER.to_owned(),
        solids: finger_section(levels, finger, x),
    });
    let half = panel.board.value[0].metres() / 2.0;
    let wall = panel.wall_distance.value.metres();
    let body = finger_body(levels, finger, [x, 0.0]);
    let tip = [[x - body.dome_radius_m, x + body.dome_radius_m]];
    let glove = glove::sheet(levels, finger, &tip, &mut simplifications);
    let slots = relief::boxes(panel, levels)
        .into_iter()
        .filter(|slot| slot.extent.low_m[1] <= cut_y && cut_y <= slot.extent.high_m[1])
        .map(|slot| {
            let Extent { low_m, high_m } = slot.extent;
            Dielectric {
                extent: extent([low_m[0], low_m[2]], [high_m[0], high_m[2]]),
                ..slot
            }
        });
    let pad_length = extent_along_y(pad);
    let lengths = EffectiveLengths {
        base: Length::from_metres(pad_length),
        shift: Length::from_metres(pad_length.min(finger.contact.metres())),
    };
    simplifications.push(format!(
        "trend only: a cut along x at y = {:.2} mm, times {:.2} mm for bases (the pad's extent) and \
         {:.2} mm for shifts (the finger's contact)",
        1e3 * cut_y,
        lengths.base.mm(),
        lengths.shift.mm()
    ));
    Ok(Lowered {
        case: Case {
            id: format!("{}-{}", pad.name, finger.name),
            title: panel.title.clone(),
            kind: Kind::Planar,
            domain: extent(
                [
                    (x - body.dome_radius_m).min(-half) - wall,
                    levels.back_m - wall,
                ],
                [(x + body.dome_radius_m).max(half) + wall, body.top_m + wall],
            ),
            walls: [[Wall::Open; 2]; 3],
            background_relative_permittivity: 1.0,
            dielectrics: dielectrics(levels, -half, half)
                .into_iter()
                .chain(slots)
                .chain(glove)
                .collect(),
            screens: Vec::new(),
            conductors,
        },
        pads,
        effective_lengths: Some(lengths),
        films: Vec::new(),
        simplifications,
    })
}

/// The pieces a solid leaves in the plane y = `cut_y`, axes x and z.
fn cut_solid(solid: &Solid, cut_y: f64) -> Vec<Solid> {
    let (chords, bottom, top) = match solid {
        Solid::Block(block) => {
            let inside = block.low_m[1] <= cut_y && cut_y <= block.high_m[1];
            let chord = inside.then_some([block.low_m[0], block.high_m[0]]);
            (chord.into_iter().collect(), block.low_m[2], block.high_m[2])
        }
        // Copper discs are straight cylinders: contact and dome radius agree.
        Solid::Round(round) => {
            let off = cut_y - round.centre_m[1];
            let squared = round.contact_radius_m.powi(2) - off * off;
            let chord = (squared > 0.0).then(|| {
                let half = squared.sqrt();
                [round.centre_m[0] - half, round.centre_m[0] + half]
            });
            (chord.into_iter().collect(), round.bottom_m, round.top_m)
        }
        Solid::Prism(prism) => (
            polygon_chords(&prism.outlines_m, cut_y),
            prism.bottom_m,
            prism.top_m,
        ),
    };
    chords
        .into_iter()
        .map(|[low, high]: [f64; 2]| Solid::Block(extent([low, bottom], [high, top])))
        .collect()
}

/// Intervals along x where the line y = `cut_y` runs inside the outlines (even-odd rule).
fn polygon_chords(outlines: &[Vec<[f64; 2]>], cut_y: f64) -> Vec<[f64; 2]> {
    let mut crossings: Vec<f64> = outlines
        .iter()
        .flat_map(|outline| {
            let next = outline.iter().cycle().skip(1);
            outline.iter().zip(next)
        })
        .filter(|(a, b)| (a[1] > cut_y) != (b[1] > cut_y))
        .map(|(a, b)| a[0] + (cut_y - a[1]) / (b[1] - a[1]) * (b[0] - a[0]))
        .collect();
    crossings.sort_by(f64::total_cmp);
    crossings
        .chunks_exact(2)
        .map(|pair| [pair[0], pair[1]])
        .filter(|[low, high]| low < high)
        .collect()
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
