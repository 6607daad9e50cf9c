//! What climate, age and discharges do to the layers of a panel, and what climate and which discharge that is.

use super::{LayerContent, Origin, Panel, Sourced};
use padfield_engine::units::{Length, Time, Toleranced, Voltage};

/// An interval with the mark of its source.
#[derive(Clone, Debug, PartialEq)]
pub struct SourcedInterval {
    /// The interval, in the unit that the field's name gives.
    pub value: Toleranced<f64>,
    /// "given", or a mark of [`crate::input::materials`].
    pub source: String,
}

/// What of a layer changes with climate and age, and what it stands; none: no figure is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LayerProperties {
    /// Relative change of the permittivity per kelvin \[1/K\].
    pub temperature_coefficient_per_k: Option<SourcedInterval>,
    /// Relative rise of the permittivity from dry to damp.
    pub moisture: Option<SourcedInterval>,
    /// Relative change of the permittivity over its life.
    pub ageing: Option<SourcedInterval>,
    /// Field at which it is punctured \[V/m\].
    pub dielectric_strength_v_per_m: Option<SourcedInterval>,
    /// Thickness at which that field was measured; none: not said.
    pub strength_thickness: Option<Length>,
    /// Whether it is air: its strength does not change with its thickness here.
    pub is_air: bool,
}

/// What the panel lives in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Climate {
    /// Whether anything about it was written down.
    pub is_given: bool,
    /// Lowest temperature \[degrees Celsius\].
    pub lowest_celsius: Sourced<f64>,
    /// Highest temperature \[degrees Celsius\].
    pub highest_celsius: Sourced<f64>,
    /// Temperature at which permittivities and circuit hold \[degrees Celsius\].
    pub reference_celsius: Sourced<f64>,
    /// Fastest change of temperature \[K/s\], above zero.
    pub fastest_change_k_per_s: Sourced<f64>,
    /// Whether the layers become damp.
    pub moisture: Sourced<bool>,
    /// How long a finger is held on a pad.
    pub held: Sourced<Time>,
}

impl Default for Climate {
    /// 0 to 50 degrees about 23, 1 K/min, damp, held for 10 s. Common practice, no source.
    fn default() -> Self {
        fn default<T>(value: T) -> Sourced<T> {
            Sourced {
                value,
                origin: Origin::Default,
            }
        }
        Self {
            is_given: false,
            lowest_celsius: default(0.0),
            highest_celsius: default(50.0),
            reference_celsius: default(23.0),
            fastest_change_k_per_s: default(1.0 / 60.0),
            moisture: default(true),
            held: default(Time::from_seconds(10.0)),
        }
    }
}

/// How a discharge is brought to the panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DischargeKind {
    /// A charged tip is moved to the surface until a spark jumps: for insulating surfaces.
    Air,
    /// The tip touches metal, then the charge is switched on: for bare metal.
    Contact,
}

impl DischargeKind {
    /// As in a panel file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Air => "air",
            Self::Contact => "contact",
        }
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DischargeLevel {
    /// How it is brought.
    pub kind: DischargeKind,
    /// Voltage of the test.
    pub voltage: Voltage,
}

/// What is asked of the overlay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    /// The discharge it shall stand; none: nothing is asked.
    pub level: Option<DischargeLevel>,
    /// Estimated puncture voltage over the voltage of the test.
    pub margin: Sourced<f64>,
    /// Edges of the overlay along which no discharge passes while the seal holds, in the order of
    /// [`Edge::ALL`].
    pub sealed: [bool; 4],
}

/// An edge of board and overlay, seen from the touched side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// Least x.
    Left,
    /// Largest x.
    Right,
    /// Least y.
    Bottom,
    /// Largest y.
    Top,
}

impl Edge {
    pub const ALL: [Self; 4] = [Self::Left, Self::Right, Self::Bottom, Self::Top];

    /// As in the panel file.
    pub fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Bottom => "bottom",
            Self::Top => "top",
        }
    }

    /// The axis across it, 0 or 1, and the side on that axis, -1 or 1.
    pub fn side(self) -> (usize, f64) {
        match self {
            Self::Left => (0, -1.0),
            Self::Right => (0, 1.0),
            Self::Bottom => (1, -1.0),
            Self::Top => (1, 1.0),
        }
    }
}

impl Default for Demand {
    /// Twice the voltage of the test. Common practice, no source.
    fn default() -> Self {
        Self {
            level: None,
            margin: Sourced {
                value: 2.0,
                origin: Origin::Default,
            },
            sealed: [false; 4],
        }
    }
}

/// Climate, discharges, and what they do to the layers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Environment {
    /// One per layer of the panel; copper has none of it.
    pub layers: Vec<LayerProperties>,
    pub climate: Climate,
    /// What it shall stand.
    pub discharge: Demand,
}

impl Panel {
    /// What is known of a layer.
    pub fn properties(&self, layer: usize) -> LayerProperties {
        let known = self.environment.layers.get(layer);
        known.cloned().unwrap_or_default()
    }

    /// What a layer covers \[m\]: its own outline, or the board.
    pub fn layer_bounds_m(&self, layer: usize) -> super::outline::Rectangle {
        let board = super::LayerOutline {
            size: self.board.value,
            centre: [Length::default(); 2],
        };
        let own = self.layers.get(layer).and_then(|layer| layer.outline);
        own.unwrap_or(board).bounds_m()
    }

    /// Indices of the layers that insulate, from the touched face.
    pub fn dielectric_layers(&self) -> impl Iterator<Item = usize> + '_ {
        let is_dielectric = |index: &usize| self.layers[*index].content != LayerContent::Copper;
        (0..self.layers.len()).filter(is_dielectric)
    }
}
