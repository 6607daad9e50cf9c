//! The trusted panel: what remains of a panel file once it is checked, in SI, with defaults filled in.
//!
//! x points right, y up, the panel's middle is 0, 0; layers run from the touched face to the back.

mod electronics;
mod environment;
mod fill;
pub mod film;
mod group;
mod guard;
mod heaviest;
pub mod lowering;
pub mod metal;
pub mod outline;
#[cfg(test)]
pub(crate) mod sample;
mod slider;
mod slot;
pub mod symmetry;
mod trace;
mod usage;

pub use electronics::{CircuitDrift, Electronics};
pub use environment::{
    Climate, Demand, DischargeKind, DischargeLevel, Edge, Environment, LayerProperties,
    SourcedInterval,
};
pub(crate) use fill::SHEET_REMEDY;
pub use fill::{Fill, Hatch};
pub use film::{Film, FilmBound, FilmShape};
pub use group::{GroupLayout, PadGroup};
pub use guard::{Guard, GuardPlace};
pub use heaviest::Heaviest;
pub use metal::{Bezel, Connection, MetalObject, ObjectSide};
pub use slider::{Course, Slider, SliderLimits, StraightSegments, WheelSegments};
pub use slot::{Slot, SlotFilling, SlotPlace, SlotSide};
pub use trace::{Trace, TraceNet};
pub use usage::{Application, EarthPath, NearMiss, ReturnRange, Supply, Usage};

use padfield_engine::units::{Capacitance, Length, LineCapacitance, Permittivity, Toleranced};

/// Where a value came from: printed so that no default is silent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Written in the panel file or given on the command line.
    Given,
    /// Built-in value of the tool.
    Default,
}

/// A value together with its origin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sourced<T> {
    pub value: T,
    pub origin: Origin,
}

/// How the panel becomes a field problem.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Model {
    /// Full three dimensions: the default.
    Volume,
    /// A round pad on its own, rotated about its centre.
    Axisymmetric,
    /// A cut along x through the touched pad, times an effective length: trend only.
    Section,
}

/// State of the pads that are not being measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum IdleState {
    /// Held at 0 V.
    Grounded,
    /// Left open.
    Floating,
    /// Driven in phase with the measured pad.
    Driven,
}

/// How copper of finite thickness enters the field problem.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CopperModel {
    /// Zero thickness, at the face of the layer towards the touched side.
    Sheet,
    /// True thickness.
    Thick,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Name used in dotted paths.
    pub name: String,
    pub thickness: Toleranced<Length>,
    pub content: LayerContent,
    /// Its own outline, such as that of a cover that is larger than the board; none: that of the board.
    pub outline: Option<LayerOutline>,
}

/// A rectangle that a layer covers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LayerOutline {
    /// Width and height.
    pub size: [Length; 2],
    /// Middle x, y.
    pub centre: [Length; 2],
}

impl LayerOutline {
    /// Its corners with the least and the largest x and y \[m\].
    pub fn bounds_m(&self) -> outline::Rectangle {
        let edge = |side: f64| {
            [0, 1].map(|axis| (self.centre[axis] + self.size[axis] * (0.5 * side)).metres())
        };
        [edge(-1.0), edge(1.0)]
    }
}

/// What a layer is made of.
#[derive(Clone, Debug, PartialEq)]
pub enum LayerContent {
    /// Insulating sheet over the whole outline of its layer.
    Dielectric {
        /// Material name as written, for reports.
        material: String,
        /// Permittivity relative to vacuum.
        permittivity: Toleranced<Permittivity>,
        /// Source of the permittivity as it is printed ("given", "from memory", a title, ...).
        source: String,
    },
    /// Copper layer: pads, ground areas and guards are drawn on it; the rest is filled by the
    /// dielectric towards the touched side.
    Copper,
}

/// Outline of a piece of copper, centred on its own origin.
#[derive(Clone, Debug, PartialEq)]
pub enum Outline {
    /// Width along x, height along y.
    Rectangle {
        /// Along x.
        width: Length,
        /// Along y.
        height: Length,
    },
    /// Rectangle with quarter circles at its corners.
    RoundedRectangle {
        /// Along x.
        width: Length,
        /// Along y.
        height: Length,
        corner_radius: Length,
    },
    /// Full disc.
    Disc { diameter: Length },
    /// Disc with a concentric round hole.
    Ring {
        outer_diameter: Length,
        inner_diameter: Length,
    },
    /// Closed polygon, corners x, y.
    Polygon {
        /// Corners in order; the last joins the first.
        corners: Vec<[Length; 2]>,
    },
}

#[derive(Clone, Debug, PartialEq)]
pub struct Pad {
    pub name: String,
    /// Name of the pad group (row, grid or single) it was drawn in.
    pub group: String,
    /// Index into [`Panel::layers`]; a copper layer.
    pub layer: usize,
    pub outline: Outline,
    /// Counter-clockwise rotation about the centre, degrees.
    pub rotation_degrees: f64,
    /// Centre x, y.
    pub centre: [Length; 2],
    /// Diameter of a round hole about the centre, for a light; the hole of a disc makes it an
    /// [`Outline::Ring`] instead.
    pub hole: Option<Length>,
    /// Smallest width or gap of the outline that the field must resolve; infinite when the outline says
    /// enough.
    pub feature: Length,
    /// Length of the trace to the controller that is not drawn, for the stray estimate.
    pub trace_length: Sourced<Length>,
}

/// A copper area: ground, or a shield.
#[derive(Clone, Debug, PartialEq)]
pub struct GroundArea {
    pub name: String,
    /// Index into [`Panel::layers`]; a copper layer.
    pub layer: usize,
    /// Width along x and height along y.
    pub size: [Length; 2],
    /// Centre x, y.
    pub centre: [Length; 2],
    /// Distance kept to the pads of the same layer.
    pub clearance: Length,
    pub fill: Fill,
    pub connection: Connection,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ReturnPath {
    /// Finger at 0 V.
    Earthed,
    /// Finger floating with this capacitance to 0 V.
    Through(Capacitance),
}

/// An insulating glove: a flat layer under the whole fingertip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Glove {
    /// Thickness of its fabric.
    pub thickness: Length,
    /// Permittivity relative to vacuum.
    pub permittivity: Permittivity,
}

/// A finger model: flat contact disc, paraboloid dome, straight barrel.
#[derive(Clone, Debug, PartialEq)]
pub struct Finger {
    pub name: String,
    /// Contact diameter.
    pub contact: Length,
    /// Diameter of the dome and barrel.
    pub dome: Length,
    /// Height of the finger above the touched face.
    pub length: Sourced<Length>,
    /// Pad it touches; none: each pad in turn.
    pub on: Option<String>,
    /// Offset x, y of the contact from the pad's centre.
    pub offset: [Length; 2],
    /// Height of its lowest point, glove included, above the touched face; zero when it touches.
    pub distance: Length,
    pub return_path: ReturnPath,
    pub glove: Option<Glove>,
    /// Largest distance by which it misses the middle of a pad when it aims at it.
    pub aim_error: Sourced<Length>,
    /// Where its dimensions come from.
    pub source: String,
}

/// Capacitance in parallel with the field part, entered by the user or defaulted.
#[derive(Clone, Debug, PartialEq)]
pub struct Stray {
    /// Pin and package.
    pub pin: Sourced<Toleranced<Capacitance>>,
    /// Per length of trace.
    pub trace: Sourced<Toleranced<LineCapacitance>>,
}

/// Entered capacitance of one pad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PadStray {
    /// Pin and package.
    pub pin: Toleranced<Capacitance>,
    /// Capacitance per length of the trace times its length.
    pub trace: Toleranced<Capacitance>,
}

impl Stray {
    /// What is entered for a pad.
    pub fn of(&self, pad: &Pad) -> PadStray {
        let length_m = pad.trace_length.value.metres();
        let per_length = self.trace.value;
        let along = |c: LineCapacitance| Capacitance::from_farads(c.farads_per_metre() * length_m);
        PadStray {
            pin: self.pin.value,
            trace: Toleranced {
                nominal: along(per_length.nominal),
                least: along(per_length.least),
                most: along(per_length.most),
            },
        }
    }
}

impl PadStray {
    /// Base at the pin: a field part and what is entered.
    pub fn at_pin(&self, field_part: Capacitance) -> Toleranced<Capacitance> {
        let stray = self.total();
        Toleranced {
            nominal: field_part + stray.nominal,
            least: field_part + stray.least,
            most: field_part + stray.most,
        }
    }

    /// Pin, package and trace together; tolerances at the same end.
    pub fn total(&self) -> Toleranced<Capacitance> {
        Toleranced {
            nominal: self.pin.nominal + self.trace.nominal,
            least: self.pin.least + self.trace.least,
            most: self.pin.most + self.trace.most,
        }
    }
}

impl Panel {
    /// Whether a pad is a segment of a slider or wheel.
    pub fn is_segment(&self, pad: &Pad) -> bool {
        self.sliders.iter().any(|slider| slider.group == pad.group)
    }
}

/// A checked panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Panel {
    /// One line for people.
    pub title: String,
    /// Revision of the board, for the note; none when nobody wrote one.
    pub revision: Option<String>,
    /// Size x, y of the board and overlay, centred on 0, 0.
    pub board: Sourced<[Length; 2]>,
    /// Layers from the touched face to the back.
    pub layers: Vec<Layer>,
    /// Pads in file order.
    pub pads: Vec<Pad>,
    /// How they are placed, group by group in file order.
    pub groups: Vec<PadGroup>,
    /// Pad groups that are one control.
    pub sliders: Vec<Slider>,
    /// Copper areas: ground and shields.
    pub grounds: Vec<GroundArea>,
    /// Guard traces between and around pads.
    pub guards: Vec<Guard>,
    /// Traces that are drawn.
    pub traces: Vec<Trace>,
    /// Metal frames on the touched face.
    pub bezels: Vec<Bezel>,
    /// Metal near the panel.
    pub objects: Vec<MetalObject>,
    /// Slots cut into layers.
    pub slots: Vec<Slot>,
    /// Wet films and drops on the touched face.
    pub films: Vec<Film>,
    /// Fingers in file order; the first is the one `solve` reports unless told otherwise.
    pub fingers: Vec<Finger>,
    /// State of idle pads.
    pub idle: Sourced<IdleState>,
    /// Stray capacitances.
    pub stray: Stray,
    /// Measuring circuit, scan, battery.
    pub electronics: Electronics,
    /// Volume, axisymmetric or section.
    pub model: Sourced<Model>,
    /// Sheets or true copper thickness.
    pub copper: Sourced<CopperModel>,
    /// Distance from the panel to the outer, open wall.
    pub wall_distance: Sourced<Length>,
    /// Who touches it, how it is powered, what its thresholds shall hold.
    pub usage: Usage,
    /// What climate, age and discharges do to the layers, and what they are.
    pub environment: Environment,
}
