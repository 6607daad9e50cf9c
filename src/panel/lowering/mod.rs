//! A panel with a finger on one pad becomes a case for the field engine.
//!
//! Takes a checked [`Panel`], the touched pad, a finger and options; gives a [`Lowered`] case in
//! metres; fails when the panel's shapes do not fit the model asked for.
//!
//! Conventions
//! - **Heights.** z points out of the touched face towards the finger. z = 0 is the lower face of the
//!   copper the touched pad is on (the sheet itself with [`CopperModel::Sheet`](super::CopperModel)).
//! - **Copper.** Sheets have no height and lie at the face of their layer towards the touched side;
//!   thick copper takes the height of its layer, and the space beside it is filled by the dielectric on
//!   its touched side, which is simply extended down.
//! - **Sliders.** The segments of a slider or wheel are at 0 V, pieces of the ground, while another pad is
//!   touched and idle pads are grounded.
//! - **Conductors.** One per pad under the pad's name, its traces and vias included, then [`GROUND`]
//!   (ground areas, guards and objects at 0 V), then one per part under its own name ([`LoweredPart`]:
//!   guards and areas that are not grounded, traces of their own, frames, objects that move, conducting
//!   wet films), then [`FINGER`].
//! - **Wet films.** A film that conducts is a sheet on the touched face; a bare finger that touches it
//!   is one conductor with it ([`LoweredPart::is_touched`]), as is one that touches a frame. A film of
//!   dielectric is a box of water that the finger displaces. Films, frames, objects and drawn traces
//!   need the volume model.
//! - **Ground beside pads.** An area on a layer that carries pads is cut back by its clearance around
//!   each of them; corners stay sharp, and the hole of a pad is kept free. Areas and guards keep the
//!   keepout of every trace and via free.
//! - **Hatch.** An area that is not drawn line by line is a [`Screen`](padfield_engine::case::Screen) of the
//!   ground or of its own conductor; around pads of its layer it keeps the clearance from their boxes.
//! - **Slots.** Boxes painted over their layer in the order of the file, under the glove and all copper;
//!   the fingertip stays flat over a slot in the touched face.
//! - **Walls.** Open on every face, [`Panel::wall_distance`] away from the board and the finger.
//! - **Axisymmetric.** Axis 0 is r, axis 1 is z, about the pad's own centre; board and ground areas
//!   become discs of the same area.
//! - **Section.** Axis 0 is x, axis 1 is z, cut along x through the touched pad's centre. Results per
//!   metre are multiplied by [`EffectiveLengths`]. A trend only, never a value to design with.

mod axisymmetric;
mod copper;
mod cut;
mod glove;
mod hatch;
mod levels;
mod part;
mod polygon;
mod section;
mod slot;
mod surroundings;
#[cfg(test)]
mod tests;
mod trace_section;
mod wet;

use super::outline::pad_box;
use super::{Connection, Finger, IdleState, Model, Panel};
pub use copper::{PanelMetal, panel_metal};
use levels::Levels;
use padfield_engine::case::{Case, Conductor, Extent, Kind, RoundBody, Solid, Wall};
use padfield_engine::hatch::HatchError;
use padfield_engine::units::Length;
pub use part::LoweredPart;
pub use trace_section::{TraceSection, trace_section};

/// Name of the conductor that joins all ground areas and guards.
pub const GROUND: &str = "ground";
/// Name of the finger's conductor.
pub const FINGER: &str = "finger";

/// Choices that are not part of the panel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LoweringOptions {
    /// Axisymmetric model: let a pad that is not round become the disc of the same area.
    pub equal_area_disc: bool,
}

/// Lengths a section's results per metre are multiplied with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EffectiveLengths {
    /// For base capacitances: the touched pad's extent along y.
    pub base: Length,
    /// For shifts: the finger's contact diameter, at most the pad's extent along y.
    pub shift: Length,
}

/// A panel as a field problem.
#[derive(Clone, Debug, PartialEq)]
pub struct Lowered {
    /// The field problem, finger included.
    pub case: Case,
    /// Pads that are conductors of the case, in panel order.
    pub pads: Vec<String>,
    /// Factors from per metre to a capacitance; only for [`Model::Section`].
    pub effective_lengths: Option<EffectiveLengths>,
    /// Conductors of the case that are neither pad nor ground nor finger.
    pub parts: Vec<LoweredPart>,
    /// What was simplified on the way, one line each, for the reader of the result.
    pub simplifications: Vec<String>,
}

impl Lowered {
    /// Conductors that need a row of the matrix: pads, and parts that are not held at 0 V.
    pub fn driven(&self) -> Vec<String> {
        let parts = self.parts.iter();
        let live = parts.filter(|part| part.connection != Connection::Grounded);
        let names = live.map(|part| part.name.clone());
        self.pads.iter().cloned().chain(names).collect()
    }
}

/// Why a panel cannot become a case.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum LoweringError {
    #[error("there is no pad \"{name}\"; pads: {}", .known.join(", "))]
    UnknownPad {
        /// Name asked for.
        name: String,
        /// Names there are.
        known: Vec<String>,
    },
    /// A pad is called like one of the conductors every case has.
    #[error("a pad may not be called \"{0}\": the name stands for that conductor itself")]
    ReservedName(String),
    /// Copper the finger would touch.
    #[error("copper layer \"{0}\" is the touched face: put an insulating layer before it")]
    Uncovered(String),
    /// Two copper layers without anything between.
    #[error(
        "copper layers \"{first}\" and \"{second}\" touch: put an insulating layer between them"
    )]
    TouchingCopper {
        /// Layer towards the touched face.
        first: String,
        /// Layer behind it.
        second: String,
    },
    /// Copper is drawn on a layer that is not copper.
    #[error("\"{name}\" is drawn on layer \"{layer}\", which is not copper")]
    NotCopper {
        /// Pad, ground area or guard.
        name: String,
        layer: String,
    },
    /// A guard is wider than its gap.
    #[error("guard \"{name}\" is {width_mm:.3} mm wide and touches pad \"{pad}\"")]
    GuardTouches {
        name: String,
        width_mm: f64,
        pad: String,
    },
    /// Something that a model cannot hold.
    #[error("{what} \"{name}\" needs model volume")]
    NeedsVolume {
        /// Wet film, frame, object, trace.
        what: &'static str,
        name: String,
    },
    /// A hatch has no screen depth.
    #[error(transparent)]
    Hatch(#[from] HatchError),
    /// The axisymmetric model does not fit.
    #[error("model axisymmetric: {0}")]
    Axisymmetric(String),
    /// The cut meets no copper of the touched pad.
    #[error("model section: the cut along x through the centre of pad \"{0}\" misses its copper")]
    SectionMisses(String),
}

/// Lowers `panel` with `finger` on pad `touched`, following [`Panel::model`].
///
/// # Errors
/// See [`LoweringError`].
pub fn lower(
    panel: &Panel,
    touched: &str,
    finger: &Finger,
    options: LoweringOptions,
) -> Result<Lowered, LoweringError> {
    let Some(pad) = panel.pads.iter().find(|pad| pad.name == touched) else {
        return Err(LoweringError::UnknownPad {
            name: touched.to_owned(),
            known: panel.pads.iter().map(|pad| pad.name.clone()).collect(),
        });
    };
    if let Some(reserved) = panel
        .pads
        .iter()
        .find(|pad| pad.name == GROUND || pad.name == FINGER)
    {
        return Err(LoweringError::ReservedName(reserved.name.clone()));
    }
    if panel.model.value != Model::Volume {
        let films = panel.films.iter().map(|film| ("wet film", &film.name));
        let bezels = panel.bezels.iter().map(|bezel| ("frame", &bezel.name));
        let objects = panel.objects.iter().map(|object| ("object", &object.name));
        let traces = panel.traces.iter().map(|trace| ("trace", &trace.name));
        let mut all = films.chain(bezels).chain(objects).chain(traces);
        if let Some((what, name)) = all.next() {
            let name = name.clone();
            return Err(LoweringError::NeedsVolume { what, name });
        }
    }
    let levels = Levels::new(panel, pad.layer)?;
    match panel.model.value {
        Model::Volume => volume(panel, &levels, pad, finger),
        Model::Axisymmetric => axisymmetric::axisymmetric(panel, &levels, pad, finger, options),
        Model::Section => section::section(panel, &levels, pad, finger),
    }
}

fn volume(
    panel: &Panel,
    levels: &Levels,
    pad: &super::Pad,
    finger: &Finger,
) -> Result<Lowered, LoweringError> {
    let centre = finger_centre(pad, finger);
    let body = finger_body(levels, finger, centre);
    let quiet = quiet_groups(panel, pad);
    let mut metal = copper::metal(panel, levels, &quiet)?;
    let wet = wet::wet(panel, levels, finger, centre)?;
    let mut simplifications = wet.simplifications;
    let joined = surroundings::join(panel, levels, &body, &mut metal, &mut simplifications);
    simplifications.extend(hatch::simplifications(panel, levels));
    let mut conductors = metal.conductors;
    conductors.extend(wet.conductors);
    conductors.push(Conductor {
        name: FINGER.to_owned(),
        solids: std::iter::once(Solid::Round(body))
            .chain(wet.joined)
            .chain(joined)
            .collect(),
    });
    // A square of the same area as the round fingertip.
    let half_tip = body.dome_radius_m * std::f64::consts::PI.sqrt() / 2.0;
    let tip = centre.map(|at| [at - half_tip, at + half_tip]);
    let glove = glove::sheet(levels, finger, &tip);
    simplifications.extend(glove::simplification(finger));
    let layers = levels.dielectrics.iter().map(|sheet| {
        let [low, high] = sheet.plane_m;
        sheet.over(Extent {
            low_m: [low[0], low[1], sheet.bottom_m],
            high_m: [high[0], high[1], sheet.top_m],
        })
    });
    let pads = panel.pads.iter();
    let pads = pads.filter(|pad| !quiet.contains(&pad.group.as_str()));
    Ok(Lowered {
        case: Case {
            id: format!("{}-{}", pad.name, finger.name),
            title: panel.title.clone(),
            kind: Kind::Volume,
            domain: volume_domain(panel, levels, &body),
            walls: [[Wall::Open; 2]; 3],
            background_relative_permittivity: 1.0,
            dielectrics: layers
                .chain(slot::boxes(panel, levels))
                .chain(wet.dielectrics)
                .chain(glove)
                .collect(),
            screens: metal.screens,
            conductors,
        },
        pads: pads.map(|pad| pad.name.clone()).collect(),
        effective_lengths: None,
        parts: metal.parts.into_iter().chain(wet.parts).collect(),
        simplifications,
    })
}

/// Everything there is, the finger too, and the distance of the walls around it.
fn volume_domain(panel: &Panel, levels: &Levels, body: &RoundBody) -> Extent {
    let wall = panel.wall_distance.value.metres();
    let [x, y] = [0, 1].map(|axis| {
        let [least, most] = surroundings::span(panel, levels, axis);
        let [at, reach] = [body.centre_m[axis], body.dome_radius_m];
        [
            (at - reach).min(least) - wall,
            (at + reach).max(most) + wall,
        ]
    });
    let [lowest, highest] = surroundings::reach(panel, levels);
    Extent {
        low_m: [x[0], y[0], lowest - wall],
        high_m: [x[1], y[1], body.top_m.max(highest) + wall],
    }
}

/// Sliders and wheels that are at 0 V while another pad is touched: nothing is asked of their segments.
fn quiet_groups<'p>(panel: &'p Panel, touched: &super::Pad) -> Vec<&'p str> {
    if panel.idle.value != IdleState::Grounded {
        return Vec::new();
    }
    let groups = panel.sliders.iter().map(|slider| slider.group.as_str());
    groups.filter(|group| *group != touched.group).collect()
}

/// Middle of the contact, x and y \[m\].
fn finger_centre(pad: &super::Pad, finger: &Finger) -> [f64; 2] {
    [0, 1].map(|axis| (pad.centre[axis] + finger.offset[axis]).metres())
}

fn finger_body(levels: &Levels, finger: &Finger, centre_m: [f64; 2]) -> RoundBody {
    let contact_radius_m = finger.contact.metres() / 2.0;
    RoundBody {
        centre_m,
        contact_radius_m,
        dome_radius_m: (finger.dome.metres() / 2.0).max(contact_radius_m),
        bottom_m: levels.touched_face_m + glove::lift_m(finger),
        top_m: levels.touched_face_m + glove::lift_m(finger) + finger.length.value.metres(),
    }
}

/// The pad's extent along y \[m\].
fn extent_along_y(pad: &super::Pad) -> f64 {
    let [low, high] = pad_box(pad);
    high[1] - low[1]
}
