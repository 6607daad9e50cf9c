//! The two-dimensional models: a round pad about its axis, and a cut along x.

use super::super::outline::{area, pad_polygons};
use super::super::{Connection, Fill, Finger, Outline, Pad, Panel};
use super::copper;
use super::cut::{cut_box, cut_screen, cut_solid, extent};
use super::levels::Levels;
use super::{
    EffectiveLengths, FINGER, GROUND, Lowered, LoweringError, LoweringOptions, extent_along_y,
    finger_body, finger_centre, glove, slot,
};
use padfield_engine::case::{Case, Conductor, Dielectric, Kind, Screen, Solid, Wall};
use padfield_engine::hatch::square_hatch_depth;
use padfield_engine::units::Length;

/// Steps the dome of a finger is drawn with in a section.
const DOME_STEPS: usize = 4;

fn disc_radius(area_m2: f64) -> f64 {
    (area_m2 / std::f64::consts::PI).sqrt()
}

/// What the plane where coordinate `normal` (0 is x, 1 is y) is `at_m` leaves of the layers.
pub(super) fn dielectrics(levels: &Levels, normal: usize, at_m: f64) -> Vec<Dielectric> {
    let across = 1 - normal;
    let met = levels.dielectrics.iter().filter(|sheet| {
        let [low, high] = sheet.plane_m;
        low[normal] <= at_m && at_m <= high[normal]
    });
    met.map(|sheet| {
        let [low, high] = sheet.plane_m.map(|corner| corner[across]);
        Dielectric {
            name: sheet.name.clone(),
            relative_permittivity: sheet.relative_permittivity,
            extent: extent([low, sheet.bottom_m], [high, sheet.top_m]),
            comes_with: None,
        }
    })
    .collect()
}

/// Layers as discs of the same area, each with its radius \[m\].
fn discs(levels: &Levels, board_radius: f64) -> Vec<Dielectric> {
    let sheets = levels.dielectrics.iter();
    sheets
        .map(|sheet| {
            let radius = sheet.outline.map_or(board_radius, |outline| {
                let [width, height] = outline.size.map(Length::metres);
                disc_radius(width * height)
            });
            Dielectric {
                name: sheet.name.clone(),
                relative_permittivity: sheet.relative_permittivity,
                extent: extent([0.0, sheet.bottom_m], [radius, sheet.top_m]),
                comes_with: None,
            }
        })
        .collect()
}

/// Least and largest coordinate of board and layers along an axis \[m\].
pub(super) fn span(panel: &Panel, levels: &Levels, axis: usize) -> [f64; 2] {
    let half = panel.board.value[axis].metres() / 2.0;
    let ends = levels.dielectrics.iter();
    let ends = ends.map(|sheet| sheet.plane_m.map(|corner| corner[axis]));
    ends.fold([-half, half], |all, [low, high]| {
        [all[0].min(low), all[1].max(high)]
    })
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
    if let Some(slot) = panel.slots.iter().find(|slot| !slot.is_empty()) {
        return refuse(format!("slot \"{}\" is a straight slot", slot.name));
    }
    let centre = pad.centre.map(Length::metres);
    let is_off_centre =
        |at: [Length; 2]| (at[0].metres() - centre[0]).hypot(at[1].metres() - centre[1]) > 1e-9;
    if is_off_centre([Length::default(); 2]) {
        simplifications.push("the board is moved so that the pad is in its middle".to_owned());
    }
    let board = panel.board.value.map(Length::metres);
    let board_radius = disc_radius(board[0] * board[1]);
    let mut own = panel.layers.iter().filter_map(|l| Some((l, l.outline?)));
    if let Some((layer, _)) = own.find(|(_, outline)| is_off_centre(outline.centre)) {
        return refuse(format!(
            "layer \"{}\" is not centred on the pad",
            layer.name
        ));
    }
    let layers = discs(levels, board_radius);
    let widest = layers.iter().map(|disc| disc.extent.high_m[0]);
    let widest = widest.fold(0.0, f64::max);
    let level = levels.copper_level(panel, pad.layer, &pad.name)?;
    let mut conductors = vec![Conductor {
        name: pad.name.clone(),
        solids: vec![Solid::Block(extent([inner, level[0]], [outer, level[1]]))],
    }];
    let mut ground = Vec::new();
    let mut screens = Vec::new();
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
        if area.connection != Connection::Grounded {
            return refuse(format!("shield \"{}\" needs the volume model", area.name));
        }
        if to <= from {
            continue;
        }
        match area.fill {
            Fill::Hatch(hatch) => {
                let depth = square_hatch_depth(hatch.pitch.metres(), hatch.line.metres(), 0.0)?;
                let height = 0.5 * (level[0] + level[1]);
                screens.push(Screen {
                    conductor: GROUND.to_owned(),
                    extent: extent([from, height], [to, height]),
                    depth_m: depth.depth_m,
                });
            }
            Fill::Solid => ground.push(Solid::Block(extent([from, level[0]], [to, level[1]]))),
        }
    }
    if !(ground.is_empty() && screens.is_empty()) {
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
                    board_radius.max(widest).max(body.dome_radius_m) + wall,
                    body.top_m + wall,
                ],
            ),
            walls: [
                [Wall::Insulated, Wall::Open],
                [Wall::Open; 2],
                [Wall::Open; 2],
            ],
            background_relative_permittivity: 1.0,
            dielectrics: layers.into_iter().chain(glove).collect(),
            screens,
            conductors,
        },
        pads: vec![pad.name.clone()],
        effective_lengths: None,
        parts: Vec::new(),
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
    let copper::Metal {
        conductors: whole,
        parts,
        screens,
        ..
    } = copper::metal(panel, levels, &[])?;
    let screens: Vec<Screen> = screens
        .into_iter()
        .filter_map(|screen| cut_screen(screen, 1, cut_y))
        .collect();
    for conductor in whole {
        let solids: Vec<Solid> = conductor
            .solids
            .iter()
            .flat_map(|solid| cut_solid(solid, 1, cut_y))
            .collect();
        let is_screen = screens
            .iter()
            .any(|screen| screen.conductor == conductor.name);
        if is_screen || !solids.is_empty() {
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
        .filter(|name| name != GROUND && parts.iter().all(|part| part.name != *name))
        .collect();
    let parts = parts
        .into_iter()
        .filter(|part| conductors.iter().any(|c| c.name == part.name))
        .collect();
    if finger.offset[1].metres() != 0.0 {
        simplifications.push("the finger's offset along y is ignored".to_owned());
    }
    let [x, _] = finger_centre(pad, finger);
    conductors.push(Conductor {
        name: FINGER.to_owned(),
        solids: finger_section(levels, finger, x),
    });
    let [least, most] = span(panel, levels, 0);
    let wall = panel.wall_distance.value.metres();
    let body = finger_body(levels, finger, [x, 0.0]);
    let tip = [[x - body.dome_radius_m, x + body.dome_radius_m]];
    let glove = glove::sheet(levels, finger, &tip, &mut simplifications);
    let slots = slot::boxes(panel, levels);
    let slots = slots.into_iter().filter_map(|slot| cut_box(slot, 1, cut_y));
    let pad_length = extent_along_y(pad);
    let lengths = EffectiveLengths {
        base: Length::from_metres(pad_length),
        shift: Length::from_metres(pad_length.min(finger.contact.metres())),
    };
    simplifications.push(format!(
        "trend only: a cut along x at y = {} mm, times {:.2} mm for bases (the pad's extent) and \
         {:.2} mm for shifts (the finger's contact)",
        crate::rounding::fixed(1e3 * cut_y, 2),
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
                    (x - body.dome_radius_m).min(least) - wall,
                    levels.back_m - wall,
                ],
                [(x + body.dome_radius_m).max(most) + wall, body.top_m + wall],
            ),
            walls: [[Wall::Open; 2]; 3],
            background_relative_permittivity: 1.0,
            dielectrics: dielectrics(levels, 1, cut_y)
                .into_iter()
                .chain(slots)
                .chain(glove)
                .collect(),
            screens,
            conductors,
        },
        pads,
        effective_lengths: Some(lengths),
        parts,
        simplifications,
    })
}

/// The finger's middle cut, the dome in equal steps of its half width.
pub(super) fn finger_section(levels: &Levels, finger: &Finger, x: f64) -> Vec<Solid> {
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
