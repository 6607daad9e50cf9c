//! The values of a panel that can move, and the panel with some of them moved.

use crate::input::catalogue::{Role, varied};
use crate::input::{Document, Movable, Override, Scalable, ScenarioError};
use crate::measuring_circuit::Principle;
use crate::panel::{EarthPath, Finger, LayerContent, Panel};
use crate::spread::{Distribution, Shape, Variation};
use padfield_engine::units::{
    Capacitance, Current, Length, LineCapacitance, Permittivity, Resistance, Toleranced,
};

/// A measure of the finger.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FingerPart {
    /// Diameter of the contact.
    Contact,
    /// Diameter of the dome.
    Dome,
    OffsetX,
    OffsetY,
}

/// What of the panel a parameter is.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// Thickness of the layer of that index \[m\].
    Thickness(usize),
    /// Relative permittivity of the layer of that index.
    Permittivity(usize),
    /// Capacitance of pin and package \[F\].
    PinCapacitance,
    /// Capacitance per length of trace \[F/m\].
    TraceCapacitance,
    /// The part that sets the rate of the circuit \[ohm, A or F\].
    CircuitRate,
    /// Body to earth \[F\].
    Body,
    /// Device ground to earth, or to the hand, on the supply of that index \[F\].
    Supply(usize),
    /// Relative change per kelvin of the permittivity of the layer of that index \[1/K\].
    TemperatureCoefficient(usize),
    /// Relative change per kelvin of what sets the circuit's rate \[1/K\].
    ComponentCoefficient,
    /// Relative change per kelvin of the count through thresholds and comparator \[1/K\].
    ThresholdCoefficient,
    /// Numbers of the panel file, each with the factor it moves by.
    Written(Vec<(Movable, f64)>),
    /// A value that a design can turn, as a factor of itself.
    Turned(Scalable),
    /// A measure of the finger \[m\].
    Finger(FingerPart),
}

/// A value of the panel that can move.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// Dotted path, or the name of the tolerance that moves several values.
    pub path: String,
    /// Unit it is shown in; empty for plain numbers.
    pub unit: String,
    /// That unit in SI.
    pub unit_si: f64,
    /// Nominal value in SI, of the first of several.
    pub value: f64,
    /// How it spreads, in SI; none without a tolerance.
    pub spread: Option<Distribution>,
    /// Index of a parameter it is correlated with, before it, and the correlation.
    pub with: Option<(usize, f64)>,
    /// Whether the field changes with it; otherwise only what circuit and return path make of it.
    pub changes_field: bool,
    /// Whether several values move by the same share rather than by the same amount.
    pub moves_in_shares: bool,
    pub subject: Subject,
}

impl Parameter {
    /// Whether the derivatives of a solution may hold it; what the grid lines do not carry is solved
    /// again at once.
    pub fn may_be_followed(&self) -> bool {
        let follows = |path: &str| varied(path).is_none_or(|entry| entry.motion.has_derivatives());
        self.changes_field
            && match &self.subject {
                Subject::Written(numbers) => {
                    numbers.iter().all(|(number, _)| follows(&number.path))
                }
                Subject::Turned(scalable) => scalable.motion.has_derivatives(),
                // The catalogue has fingers by name.
                Subject::Finger(_) => follows(&self.path.replacen('.', ".any.", 1)),
                _ => follows(&self.path),
            }
    }
}

/// Every value that can move, in the order of the file: layers, dimensions, the finger, the circuit.
///
/// `document` is the file that became `panel`. `finger` says whether the finger's measures count.
///
/// # Errors
/// A tolerance of the file that cannot be read.
pub fn parameters(
    document: &Document,
    panel: &Panel,
    finger: Option<&Finger>,
) -> Result<Vec<Parameter>, ScenarioError> {
    let variations = document.variations()?;
    let mut found = Vec::new();
    layer_parameters(panel, &mut found);
    for path in document.value_paths() {
        // Layers, finger and what is beside the field come from the panel, defaults among them.
        let is_of_panel = path.starts_with("layer.") || path.starts_with("finger.");
        let entry = varied(&path).filter(|entry| entry.is(Role::Spread));
        if entry.is_some_and(|entry| entry.motion.changes_field() && !is_of_panel) {
            found.extend(written(document, path.clone(), &[(path, 1.0)]));
        }
    }
    if let Some(finger) = finger {
        let each = [
            ("contact", finger.contact, FingerPart::Contact),
            ("dome", finger.dome, FingerPart::Dome),
            ("offset.x", finger.offset[0], FingerPart::OffsetX),
            ("offset.y", finger.offset[1], FingerPart::OffsetY),
        ];
        found.extend(each.into_iter().map(|(key, length, part)| Parameter {
            value: length.metres(),
            ..plain(
                format!("finger.{key}"),
                "mm",
                1e-3,
                true,
                Subject::Finger(part),
            )
        }));
    }
    circuit_parameters(panel, &mut found);
    climate_parameters(panel, &mut found);
    for variation in &variations {
        vary(document, variation, &mut found);
    }
    // Names of tolerances become indices once all parameters have their place.
    for (name, other, correlation) in variations.iter().filter_map(|variation| {
        let (other, correlation) = variation.with.as_ref()?;
        Some((&variation.name, other, *correlation))
    }) {
        let named = |name: &String| {
            let variation = variations.iter().find(|variation| variation.name == *name);
            found.iter().position(|parameter| {
                variation.is_some_and(|variation| is_of(parameter, variation))
            })
        };
        if let (Some(own), Some(other)) = (named(name), named(other)) {
            found[own].with = Some((other, correlation));
        }
    }
    Ok(found)
}

fn is_of(parameter: &Parameter, variation: &Variation) -> bool {
    match &variation.moves[..] {
        [(path, _)] => parameter.path == *path,
        _ => parameter.path == variation.name,
    }
}

fn plain(
    path: String,
    unit: &str,
    unit_si: f64,
    changes_field: bool,
    subject: Subject,
) -> Parameter {
    Parameter {
        path,
        unit: unit.to_owned(),
        unit_si,
        value: 0.0,
        spread: None,
        with: None,
        changes_field,
        moves_in_shares: false,
        subject,
    }
}

fn toleranced<Q: Copy>(
    parameter: Parameter,
    value: &Toleranced<Q>,
    si: impl Fn(Q) -> f64,
) -> Parameter {
    let [nominal, least, most] = [value.nominal, value.least, value.most].map(si);
    let spread = Distribution {
        nominal,
        least,
        most,
        shape: Shape::Rectangular,
    };
    Parameter {
        value: nominal,
        spread: spread.varies().then_some(spread),
        ..parameter
    }
}

fn layer_parameters(panel: &Panel, found: &mut Vec<Parameter>) {
    for (index, layer) in panel.layers.iter().enumerate() {
        let LayerContent::Dielectric { permittivity, .. } = &layer.content else {
            continue;
        };
        // A layer that is not there has nothing to move.
        if layer.thickness.nominal.metres() == 0.0 {
            continue;
        }
        let path = format!("layer.{}.thickness", layer.name);
        let thickness = plain(path, "mm", 1e-3, true, Subject::Thickness(index));
        found.push(toleranced(thickness, &layer.thickness, Length::metres));
        let path = format!("layer.{}.permittivity", layer.name);
        let of_layer = plain(path, "", 1.0, true, Subject::Permittivity(index));
        found.push(toleranced(of_layer, permittivity, Permittivity::relative));
    }
}

fn circuit_parameters(panel: &Panel, found: &mut Vec<Parameter>) {
    let beside = |path: &str, unit: &str, unit_si: f64, subject: Subject| {
        plain(path.to_owned(), unit, unit_si, false, subject)
    };
    let pin = beside("stray.pin", "pF", 1e-12, Subject::PinCapacitance);
    found.push(toleranced(pin, &panel.stray.pin.value, Capacitance::farads));
    let trace = beside("stray.trace", "pF/cm", 1e-10, Subject::TraceCapacitance);
    let per_length = LineCapacitance::farads_per_metre;
    found.push(toleranced(trace, &panel.stray.trace.value, per_length));
    found.push(match &panel.electronics.circuit.principle {
        Principle::ResistorOscillator { resistor, .. } => {
            let rate = beside("circuit.resistor", "kohm", 1e3, Subject::CircuitRate);
            toleranced(rate, resistor, Resistance::ohms)
        }
        Principle::CurrentOscillator { current, .. } => {
            let rate = beside("circuit.current", "uA", 1e-6, Subject::CircuitRate);
            toleranced(rate, current, Current::amperes)
        }
        Principle::ChargeTransfer {
            integration_capacitor,
            ..
        } => {
            let path = "circuit.integration_capacitor";
            let rate = beside(path, "nF", 1e-9, Subject::CircuitRate);
            toleranced(rate, integration_capacitor, Capacitance::farads)
        }
    });
    let body = beside("window.body", "pF", 1e-12, Subject::Body);
    found.push(toleranced(
        body,
        &panel.usage.body.value,
        Capacitance::farads,
    ));
    for (index, supply) in panel.usage.supplies.value.iter().enumerate() {
        let (key, value) = match &supply.to_earth {
            EarthPath::Earthed => continue,
            EarthPath::Capacitance(value) => ("to_earth", value),
            EarthPath::Held(value) => ("held", value),
        };
        let path = format!("supply.{}.{key}", supply.name);
        let of_supply = plain(path, "pF", 1e-12, false, Subject::Supply(index));
        found.push(toleranced(of_supply, value, Capacitance::farads));
    }
}

/// Temperature coefficients, which decide the drift event; none without a climate.
fn climate_parameters(panel: &Panel, found: &mut Vec<Parameter>) {
    if !panel.environment.climate.is_given {
        return;
    }
    let mut add = |path: String, known: Option<Toleranced<f64>>, subject: Subject| {
        if let Some(known) = known {
            let parameter = plain(path, "ppm/K", 1e-6, false, subject);
            found.push(toleranced(parameter, &known, |per_k| per_k));
        }
    };
    for layer in panel.dielectric_layers() {
        let path = format!("layer.{}.temperature_coefficient", panel.layers[layer].name);
        let known = panel.properties(layer).temperature_coefficient_per_k;
        let known = known.map(|known| known.value);
        add(path, known, Subject::TemperatureCoefficient(layer));
    }
    let drift = panel.electronics.drift;
    let (component, threshold) = (drift.component_per_k, drift.threshold_per_k);
    add(
        "circuit.temperature_coefficient".to_owned(),
        component,
        Subject::ComponentCoefficient,
    );
    add(
        "circuit.threshold_drift".to_owned(),
        threshold,
        Subject::ThresholdCoefficient,
    );
}

/// A parameter of numbers in the file; none when nothing at the first path is a number above zero.
fn written(document: &Document, name: String, moves: &[(String, f64)]) -> Option<Parameter> {
    let mut numbers = Vec::new();
    for (path, factor) in moves {
        let each = document.movable(path).into_iter();
        numbers.extend(each.map(|number| (number, *factor)));
    }
    let first = numbers.first()?.0.clone();
    // What the catalogue does not know moves the field for all that is known.
    let changes =
        |(path, _): &(String, f64)| varied(path).is_none_or(|entry| entry.motion.changes_field());
    (first.value != 0.0).then(|| Parameter {
        value: first.si(),
        ..plain(
            name,
            &first.unit,
            first.factor,
            moves.iter().any(changes),
            Subject::Written(numbers),
        )
    })
}

/// Puts a tolerance of the file to its parameter, or adds one for values that move together.
fn vary(document: &Document, variation: &Variation, found: &mut Vec<Parameter>) {
    let known = match &variation.moves[..] {
        [(path, factor)] if *factor > 0.0 => {
            found.iter().position(|parameter| parameter.path == *path)
        }
        _ => None,
    };
    let index = match known {
        Some(index) => index,
        None => {
            let name = match &variation.moves[..] {
                [(path, _)] => path.clone(),
                _ => variation.name.clone(),
            };
            match written(document, name, &variation.moves) {
                Some(parameter) => found.push(parameter),
                None => return,
            }
            found.len() - 1
        }
    };
    let parameter = &mut found[index];
    let scale = match variation.is_relative {
        true => parameter.value.abs(),
        false => 1.0,
    };
    parameter.moves_in_shares = variation.is_relative;
    parameter.spread = Some(Distribution {
        nominal: parameter.value,
        least: parameter.value + scale * variation.least,
        most: parameter.value + scale * variation.most,
        shape: variation.shape,
    });
}

/// A panel and what of it can move.
#[derive(Clone, Debug)]
pub struct PanelFamily {
    /// The file, with everything set that the command line sets; none for a panel without one, of which
    /// layers, circuit and return path can move.
    pub document: Option<Document>,
    /// The panel with nominal values.
    pub panel: Panel,
    /// What can move.
    pub parameters: Vec<Parameter>,
}

impl PanelFamily {
    /// The family of a panel file.
    ///
    /// # Errors
    /// A panel or a tolerance that cannot be read.
    pub fn of_document(document: &Document) -> Result<Self, ScenarioError> {
        let panel = document.panel(&[])?;
        Ok(Self {
            parameters: parameters(document, &panel, None)?,
            document: Some(document.clone()),
            panel,
        })
    }

    /// The family of a panel whose file is not known: layers, circuit, return path and climate move.
    pub fn of_panel(panel: &Panel) -> Self {
        let mut found = Vec::new();
        layer_parameters(panel, &mut found);
        circuit_parameters(panel, &mut found);
        climate_parameters(panel, &mut found);
        Self {
            document: None,
            panel: panel.clone(),
            parameters: found,
        }
    }

    /// The panel of a file with values that a design can turn, each as a factor of itself.
    pub fn turning(document: &Document, panel: &Panel, scalables: &[Scalable]) -> Self {
        let turned = |scalable: &Scalable| Parameter {
            value: 1.0,
            ..plain(
                scalable.path.clone(),
                "",
                1.0,
                scalable.changes_field,
                Subject::Turned(scalable.clone()),
            )
        };
        Self {
            document: Some(document.clone()),
            panel: panel.clone(),
            parameters: scalables.iter().map(turned).collect(),
        }
    }

    /// The panel with parameters at other values, each by its index, in SI.
    ///
    /// # Errors
    /// An impossible panel.
    pub fn panel(&self, moved: &[(usize, f64)]) -> Result<Panel, ScenarioError> {
        let mut overrides: Vec<Override> = Vec::new();
        for &(index, value) in moved {
            let parameter = &self.parameters[index];
            match &parameter.subject {
                Subject::Written(numbers) => {
                    let by = value - parameter.value;
                    overrides.extend(numbers.iter().map(|(number, factor)| {
                        number.set_to(match parameter.moves_in_shares {
                            true => number.si() * (1.0 + factor * by / parameter.value),
                            false => number.si() + factor * by,
                        })
                    }));
                }
                Subject::Turned(scalable) => overrides.extend(scalable.overrides(value)),
                _ => {}
            }
        }
        let mut panel = match &self.document {
            Some(document) if !overrides.is_empty() => document.panel(&overrides)?,
            _ => self.panel.clone(),
        };
        for &(index, value) in moved {
            set(&mut panel, &self.parameters[index].subject, value);
        }
        Ok(panel)
    }

    /// A finger with its own parameters at other values.
    pub fn finger(&self, finger: &Finger, moved: &[(usize, f64)]) -> Finger {
        let mut finger = finger.clone();
        for &(index, value) in moved {
            if let Subject::Finger(part) = self.parameters[index].subject {
                let length = Length::from_metres(value);
                match part {
                    FingerPart::Contact => finger.contact = length,
                    FingerPart::Dome => finger.dome = length,
                    FingerPart::OffsetX => finger.offset[0] = length,
                    FingerPart::OffsetY => finger.offset[1] = length,
                }
            }
        }
        finger
    }
}

/// Sets a value of the checked panel itself.
fn set(panel: &mut Panel, subject: &Subject, value: f64) {
    match *subject {
        Subject::Thickness(index) => {
            panel.layers[index].thickness.nominal = Length::from_metres(value);
        }
        Subject::Permittivity(index) => {
            if let LayerContent::Dielectric { permittivity, .. } = &mut panel.layers[index].content
            {
                permittivity.nominal = Permittivity::from_relative(value);
            }
        }
        Subject::PinCapacitance => {
            panel.stray.pin.value.nominal = Capacitance::from_farads(value);
        }
        Subject::TraceCapacitance => {
            panel.stray.trace.value.nominal = LineCapacitance::from_farads_per_metre(value);
        }
        Subject::CircuitRate => match &mut panel.electronics.circuit.principle {
            Principle::ResistorOscillator { resistor, .. } => {
                resistor.nominal = Resistance::from_ohms(value);
            }
            Principle::CurrentOscillator { current, .. } => {
                current.nominal = Current::from_amperes(value);
            }
            Principle::ChargeTransfer {
                integration_capacitor,
                ..
            } => integration_capacitor.nominal = Capacitance::from_farads(value),
        },
        Subject::Body => panel.usage.body.value.nominal = Capacitance::from_farads(value),
        Subject::Supply(index) => match &mut panel.usage.supplies.value[index].to_earth {
            EarthPath::Earthed => {}
            EarthPath::Capacitance(path) | EarthPath::Held(path) => {
                path.nominal = Capacitance::from_farads(value);
            }
        },
        Subject::TemperatureCoefficient(layer) => {
            let layers = &mut panel.environment.layers;
            let properties = layers.get_mut(layer);
            let known = properties.and_then(|of| of.temperature_coefficient_per_k.as_mut());
            if let Some(known) = known {
                known.value.nominal = value;
            }
        }
        Subject::ComponentCoefficient => {
            if let Some(known) = &mut panel.electronics.drift.component_per_k {
                known.nominal = value;
            }
        }
        Subject::ThresholdCoefficient => {
            if let Some(known) = &mut panel.electronics.drift.threshold_per_k {
                known.nominal = value;
            }
        }
        Subject::Written(_) | Subject::Turned(_) | Subject::Finger(_) => {}
    }
}
