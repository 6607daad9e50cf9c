//! A round pad about its axis.

use super::super::outline::{area, pad_polygons};
use super::super::{Connection, Fill, Finger, Outline, Pad, Panel};
use super::cut::extent;
use super::levels::Levels;
use super::{FINGER, GROUND, Lowered, LoweringError, LoweringOptions, finger_body, glove};
use padfield_engine::case::{Case, Conductor, Dielectric, Kind, Screen, Solid, Wall};
use padfield_engine::hatch::square_hatch_depth;
use padfield_engine::units::Length;

pub(super) fn axisymmetric(
    panel: &Panel,
    levels: &Levels,
    pad: &Pad,
    finger: &Finger,
    options: LoweringOptions,
) -> Result<Lowered, LoweringError> {
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
    let [inner, outer] = pad_radii(pad, options, &mut simplifications)?;
    check_layers(panel, pad)?;
    if is_off_centre(pad, [Length::default(); 2]) {
        simplifications.push("the board is moved so that the pad is in its middle".to_owned());
    }
    let board = panel.board.value.map(Length::metres);
    let board_radius = disc_radius(board[0] * board[1]);
    let layers = discs(levels, board_radius);
    let widest = layers.iter().map(|disc| disc.extent.high_m[0]);
    let widest = widest.fold(0.0, f64::max);
    let level = levels.copper_level(panel, pad.layer, &pad.name)?;
    let mut conductors = vec![Conductor {
        name: pad.name.clone(),
        solids: vec![Solid::Block(extent([inner, level[0]], [outer, level[1]]))],
    }];
    let (ground, screens) = ground_discs(panel, levels, pad, outer)?;
    if !(ground.is_empty() && screens.is_empty()) {
        conductors.push(Conductor {
            name: GROUND.to_owned(),
            solids: ground,
        });
    }
    let body = finger_body(levels, finger, [0.0; 2]);
    let glove = glove::sheet(levels, finger, &[[0.0, body.dome_radius_m]]);
    simplifications.extend(glove::simplification(finger));
    conductors.push(Conductor {
        name: FINGER.to_owned(),
        solids: vec![Solid::Round(body)],
    });
    let wall = panel.wall_distance.value.metres();
    let outermost = board_radius.max(widest).max(body.dome_radius_m);
    Ok(Lowered {
        case: Case {
            id: format!("{}-{}", pad.name, finger.name),
            title: panel.title.clone(),
            kind: Kind::Axisymmetric,
            domain: extent(
                [0.0, levels.back_m - wall],
                [outermost + wall, body.top_m + wall],
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

fn refuse<T>(message: String) -> Result<T, LoweringError> {
    Err(LoweringError::Axisymmetric(message))
}

fn disc_radius(area_m2: f64) -> f64 {
    (area_m2 / std::f64::consts::PI).sqrt()
}

fn is_off_centre(pad: &Pad, at: [Length; 2]) -> bool {
    let [x, y] = [0, 1].map(|axis| at[axis].metres() - pad.centre[axis].metres());
    x.hypot(y) > 1e-9
}

/// Inner and outer radius of the pad's copper \[m\].
fn pad_radii(
    pad: &Pad,
    options: LoweringOptions,
    simplifications: &mut Vec<String>,
) -> Result<[f64; 2], LoweringError> {
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
    let hole = pad.hole.map(|diameter| diameter.metres() / 2.0);
    Ok([hole.unwrap_or(inner), outer])
}

/// Layers must be round about the pad.
fn check_layers(panel: &Panel, pad: &Pad) -> Result<(), LoweringError> {
    if let Some(slot) = panel.slots.iter().find(|slot| !slot.is_empty()) {
        return refuse(format!("slot \"{}\" is a straight slot", slot.name));
    }
    let mut own = panel.layers.iter().filter_map(|l| Some((l, l.outline?)));
    match own.find(|(_, outline)| is_off_centre(pad, outline.centre)) {
        Some((layer, _)) => refuse(format!(
            "layer \"{}\" is not centred on the pad",
            layer.name
        )),
        None => Ok(()),
    }
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
            sheet.over(extent([0.0, sheet.bottom_m], [radius, sheet.top_m]))
        })
        .collect()
}

/// Ground areas as discs of the same area, cut back around the pad on its layer: solid ones and hatched ones.
fn ground_discs(
    panel: &Panel,
    levels: &Levels,
    pad: &Pad,
    pad_radius: f64,
) -> Result<(Vec<Solid>, Vec<Screen>), LoweringError> {
    let mut ground = Vec::new();
    let mut screens = Vec::new();
    for area in &panel.grounds {
        if is_off_centre(pad, area.centre) {
            return refuse(format!(
                "ground area \"{}\" is not centred on the pad",
                area.name
            ));
        }
        let level = levels.copper_level(panel, area.layer, &area.name)?;
        let from = if area.layer == pad.layer {
            pad_radius + area.clearance.metres()
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
    Ok((ground, screens))
}
