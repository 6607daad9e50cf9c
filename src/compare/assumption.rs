//! Assumptions that may be wrong, and the panel with another value of one.

use crate::measuring_circuit::Principle;
use crate::panel::{Layer, LayerContent, Panel};
use crate::units::{Capacitance, Length, LineCapacitance, Permittivity, Resistance, Toleranced};

/// Largest permittivity that is tried.
const MOST_PERMITTIVITY: f64 = 100.0;
/// Widest air gap that is tried \[mm\].
const MOST_GAP_MM: f64 = 3.0;
/// Name of the layer of air.
const GAP: &str = "air gap";

/// One value that may differ from what was assumed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Assumption {
    /// Capacitance of pin and package \[pF\].
    Pin,
    /// Capacitance per length of the traces that are not drawn \[pF/cm\].
    Trace,
    /// The resistor of the oscillator \[kohm\].
    Resistor,
    /// Permittivity of the layer of that index.
    Permittivity(usize),
    /// Thickness of a layer of air before the copper of the pads \[mm\].
    AirGap,
}

impl Assumption {
    /// Those that a panel has.
    pub fn all(panel: &Panel) -> Vec<Self> {
        let mut all = vec![Self::Pin];
        let has_traces = panel
            .pads
            .iter()
            .any(|pad| pad.trace_length.value.metres() > 0.0);
        if has_traces {
            all.push(Self::Trace);
        }
        if matches!(
            panel.electronics.circuit.principle,
            Principle::ResistorOscillator { .. }
        ) {
            all.push(Self::Resistor);
        }
        let layers = panel.layers.iter().enumerate();
        let is_material = |layer: &Layer| match &layer.content {
            LayerContent::Dielectric { permittivity, .. } => permittivity.nominal.relative() > 1.0,
            LayerContent::Copper => false,
        };
        all.extend(
            layers
                .filter(|(_, layer)| is_material(layer))
                .map(|(index, _)| Self::Permittivity(index)),
        );
        all.push(Self::AirGap);
        all
    }

    /// In words.
    pub fn words(self, panel: &Panel) -> String {
        match self {
            Self::Pin => "pin capacitance".to_owned(),
            Self::Trace => "trace capacitance per length".to_owned(),
            Self::Resistor => "resistor".to_owned(),
            Self::Permittivity(layer) => {
                let name = panel.layers.get(layer).map_or("", |layer| &layer.name);
                format!("permittivity of layer \"{name}\"")
            }
            Self::AirGap => "air gap before the pads".to_owned(),
        }
    }

    /// Unit of its value, empty for a plain number.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Pin => "pF",
            Self::Trace => "pF/cm",
            Self::Resistor => "kohm",
            Self::Permittivity(_) => "",
            Self::AirGap => "mm",
        }
    }

    /// Whether the field has to be solved again for another value.
    pub const fn is_of_field(self) -> bool {
        matches!(self, Self::Permittivity(_) | Self::AirGap)
    }

    /// The value a panel has: nominal, least, most.
    pub fn assumed(self, panel: &Panel) -> [f64; 3] {
        let ends = |nominal: f64, least: f64, most: f64| [nominal, least, most];
        match self {
            Self::Pin => {
                let pin = panel.stray.pin.value;
                ends(pin.nominal.pf(), pin.least.pf(), pin.most.pf())
            }
            Self::Trace => {
                let trace = panel.stray.trace.value;
                [trace.nominal, trace.least, trace.most].map(LineCapacitance::pf_per_cm)
            }
            Self::Resistor => match panel.electronics.circuit.principle {
                Principle::ResistorOscillator { resistor, .. } => {
                    [resistor.nominal, resistor.least, resistor.most].map(Resistance::kilohms)
                }
                _ => [f64::NAN; 3],
            },
            Self::Permittivity(layer) => {
                match panel.layers.get(layer).map(|layer| &layer.content) {
                    Some(LayerContent::Dielectric {
                        permittivity: p, ..
                    }) => [p.nominal, p.least, p.most].map(Permittivity::relative),
                    _ => [f64::NAN; 3],
                }
            }
            Self::AirGap => [0.0; 3],
        }
    }

    /// Smallest and largest value that is tried.
    pub const fn limits(self) -> [f64; 2] {
        match self {
            Self::Pin | Self::Trace => [0.0, f64::INFINITY],
            Self::Resistor => [1e-3, f64::INFINITY],
            Self::Permittivity(_) => [1.0, MOST_PERMITTIVITY],
            Self::AirGap => [0.0, MOST_GAP_MM],
        }
    }

    /// First step away from the assumed value.
    pub fn step(self, assumed: f64) -> f64 {
        match self {
            Self::AirGap => 0.05,
            _ => 0.1 * assumed.max(0.1),
        }
    }

    /// The panel with this value.
    pub fn applied(self, panel: &Panel, value: f64) -> Panel {
        let mut changed = panel.clone();
        match self {
            Self::Pin => changed.stray.pin.value = Toleranced::exact(Capacitance::from_pf(value)),
            Self::Trace => {
                changed.stray.trace.value =
                    Toleranced::exact(LineCapacitance::from_pf_per_cm(value));
            }
            Self::Resistor => {
                if let Principle::ResistorOscillator { resistor, .. } =
                    &mut changed.electronics.circuit.principle
                {
                    *resistor = Toleranced::exact(Resistance::from_kilohms(value));
                }
            }
            Self::Permittivity(layer) => {
                if let Some(LayerContent::Dielectric { permittivity, .. }) = changed
                    .layers
                    .get_mut(layer)
                    .map(|layer| &mut layer.content)
                {
                    *permittivity = Toleranced::exact(Permittivity::from_relative(value));
                }
            }
            Self::AirGap if value > 0.0 => add_gap(&mut changed, Length::from_mm(value)),
            Self::AirGap => {}
        }
        changed
    }
}

/// Puts a layer of air before the foremost copper of pads; what lies on later layers moves along.
fn add_gap(panel: &mut Panel, thickness: Length) {
    let Some(front) = panel.pads.iter().map(|pad| pad.layer).min() else {
        return;
    };
    panel.layers.insert(
        front,
        Layer {
            name: GAP.to_owned(),
            thickness: Toleranced::exact(thickness),
            content: LayerContent::Dielectric {
                material: "air".to_owned(),
                permittivity: Toleranced::exact(Permittivity::from_relative(1.0)),
                source: "assumed".to_owned(),
            },
        },
    );
    let layers = panel.pads.iter_mut().map(|pad| &mut pad.layer);
    let layers = layers.chain(panel.grounds.iter_mut().map(|area| &mut area.layer));
    let layers = layers.chain(panel.guards.iter_mut().map(|guard| &mut guard.layer));
    let layers = layers.chain(panel.traces.iter_mut().map(|trace| &mut trace.layer));
    let layers = layers.chain(panel.slots.iter_mut().map(|slot| &mut slot.layer));
    for layer in layers.filter(|layer| **layer >= front) {
        *layer += 1;
    }
}
