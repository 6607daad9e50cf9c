//! What every section is written with: quantities, findings, and checks of single values.

pub use super::PanelFile;
pub use super::keyed::Keyed;
pub use super::variation::*;
pub(crate) use crate::input::names::{NAME_RULE, check_name, listed, nearest};
pub(crate) use crate::input::place::{Finding, Step, steps, with_step};
pub use crate::input::quantity::measure::Measure;
pub(crate) use crate::input::quantity::words;
pub use crate::input::quantity::{
    Angle, CopperThickness, Count, Counts, Discharge, Earth, FieldStrength, FileWord, Fraction,
    FractionPair, Number, One, PlainValue, Position, Return, Share, Size, Spacing, Temperature,
    TemperatureCoefficient, TemperatureRate, WholeNumber, WithTolerance, Word,
};
pub use crate::panel::{Origin, Sourced};
pub use padfield_engine::units::{
    Capacitance, Charge, Conductivity, Current, Frequency, Length, LineCapacitance, Permittivity,
    Resistance, Time, Toleranced, Voltage,
};
pub use schemars::JsonSchema;
pub use serde::Deserialize;

use crate::panel::outline::Rectangle;
use crate::panel::{Layer, LayerContent, Model};

/// Shortest and longest plausible dimension: beyond, a unit has been mistaken.
const SHORTEST: Length = Length::from_metres(1e-9);
const LONGEST: Length = Length::from_metres(10.0);
/// Copper, films and slots closer than this touch: rounding of coordinates, not a gap.
pub const TOUCHING_M: f64 = 1e-9;

/// What was given, or the default, marked as one.
pub fn sourced<T>(given: Option<T>, default: T) -> Sourced<T> {
    let origin = match given {
        Some(_) => Origin::Given,
        None => Origin::Default,
    };
    let value = given.unwrap_or(default);
    Sourced { value, origin }
}

/// A length in millimetres without trailing zeros.
pub fn show_mm(length: Length) -> String {
    let text = format!("{:.6}", length.mm());
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{} mm", if text == "-0" { "0" } else { text })
}

/// A length of a plausible size, whatever its sign.
pub fn in_range(steps: Vec<Step>, length: Length, what: &str) -> Result<Length, Finding> {
    if length.metres().abs() > LONGEST.metres() {
        return Err(Finding::at(
            steps,
            format!("{what} is out of range"),
            "write at most 10 m",
        ));
    }
    Ok(length)
}

/// A dimension more than zero and within the plausible range.
pub fn positive(steps: Vec<Step>, length: Length, what: &str) -> Result<Length, Finding> {
    if length.metres() <= 0.0 {
        return Err(Finding::at(
            steps,
            format!("{what} is {}", show_mm(length)),
            "write more than 0 mm",
        ));
    }
    if length < SHORTEST {
        return Err(Finding::at(
            steps,
            format!("{what} is out of range"),
            "write at least 1e-6 mm",
        ));
    }
    in_range(steps, length, what)
}

/// A dimension that may be left out.
pub fn if_positive(
    steps: Vec<Step>,
    given: Option<One<Length>>,
    what: &str,
) -> Result<Option<Length>, Finding> {
    given
        .map(|given| positive(steps, given.0, what))
        .transpose()
}

/// A dimension of zero or more.
pub fn not_negative(steps: Vec<Step>, length: Length, what: &str) -> Result<Length, Finding> {
    if length.metres() == 0.0 {
        return Ok(length);
    }
    positive(steps, length, what).map_err(|finding| Finding {
        hint: finding.hint.replace("more than 0 mm", "0 mm or more"),
        ..finding
    })
}

/// A dimension of zero or more that may be left out.
pub fn if_not_negative(
    steps: Vec<Step>,
    given: Option<One<Length>>,
    what: &str,
) -> Result<Option<Length>, Finding> {
    given
        .map(|given| not_negative(steps, given.0, what))
        .transpose()
}

/// Width and height, each more than zero; `what` names them.
pub fn positive_size(
    at: impl Fn() -> Vec<Step>,
    size: Size,
    what: [&str; 2],
) -> Result<[Length; 2], Finding> {
    let [width, height] = size.0;
    Ok([
        positive(at(), width, what[0])?,
        positive(at(), height, what[1])?,
    ])
}

/// A thickness whose whole tolerance interval is positive.
pub fn positive_interval(
    steps: Vec<Step>,
    length: Toleranced<Length>,
    what: &str,
) -> Result<Toleranced<Length>, Finding> {
    positive(steps.clone(), length.nominal, what)?;
    if length.least.metres() <= 0.0 {
        return Err(Finding::at(
            steps,
            format!(
                "the tolerance lets {what} fall to {}",
                show_mm(length.least)
            ),
            "make the tolerance smaller than the value",
        ));
    }
    Ok(length)
}

/// A point; 0 mm, 0 mm when it is not given.
pub fn centre(at: impl Fn() -> Vec<Step>, given: Option<Position>) -> Result<[Length; 2], Finding> {
    let centre = given.map(|given| given.0).unwrap_or_default();
    for coordinate in centre {
        in_range(at(), coordinate, "the centre")?;
    }
    Ok(centre)
}

/// Index of the name among `known`, or a finding with the nearest one.
pub fn find_name<'k>(
    steps: Vec<Step>,
    name: &str,
    kind: &str,
    known: impl Iterator<Item = &'k str> + Clone,
) -> Result<usize, Finding> {
    known
        .clone()
        .position(|k| k == name)
        .ok_or_else(|| unknown_name(steps, name, kind, known))
}

/// A name that is not among those known, with the nearest one.
pub fn unknown_name<'k>(
    steps: Vec<Step>,
    name: &str,
    kind: &str,
    known: impl Iterator<Item = &'k str> + Clone,
) -> Finding {
    let hint = match nearest(name, known.clone()) {
        Some(near) => format!("did you mean \"{near}\"?"),
        None => format!("write {}", listed(known)),
    };
    Finding::at(steps, format!("there is no {kind} \"{name}\""), hint)
}

/// A capacitance of a plausible size.
pub fn capacitance_in_range(steps: Vec<Step>, capacitance: Capacitance) -> Result<(), Finding> {
    if (0.0..=1.0).contains(&capacitance.farads()) {
        return Ok(());
    }
    Err(Finding::at(
        steps,
        "a capacitance of this size makes no sense here",
        "write 0 pF or more, as in \"6 pF\"",
    ))
}

/// Index of a copper layer by name.
pub fn copper_layer(steps: Vec<Step>, name: &str, layers: &[Layer]) -> Result<usize, Finding> {
    let copper = layers
        .iter()
        .filter(|layer| layer.content == LayerContent::Copper)
        .map(|layer| layer.name.as_str());
    match layers.iter().position(|layer| layer.name == name) {
        Some(index) if layers[index].content == LayerContent::Copper => Ok(index),
        Some(_) => Err(Finding::at(
            steps,
            format!("layer \"{name}\" is not copper"),
            format!("write {}", listed(copper)),
        )),
        None => find_name(steps, name, "copper layer", copper),
    }
}

/// Whether two rectangles overlap or touch.
pub fn meet(one: &Rectangle, other: &Rectangle) -> bool {
    (0..2).all(|axis| {
        one[0][axis] <= other[1][axis] + TOUCHING_M && other[0][axis] <= one[1][axis] + TOUCHING_M
    })
}

/// What is only known in a volume.
pub fn needs_volume(file: &PanelFile, section: &str, name: &str) -> Result<(), Finding> {
    if file.model.is_some_and(|word| word.0 != Model::Volume) {
        return Err(Finding::at_key(
            steps![section, name],
            format!("{section} \"{name}\" needs the volume model"),
            "leave out model or write model = \"volume\"",
        ));
    }
    Ok(())
}

/// What may be written for a quantity: smallest, largest, in base units and in words. Beyond, a unit
/// has been mistaken.
pub struct Bounds {
    pub least: f64,
    pub most: f64,
    pub words: &'static str,
}

/// Smallest, largest, and both in words.
pub const fn bounds(least: f64, most: f64, words: &'static str) -> Bounds {
    Bounds { least, most, words }
}

impl Bounds {
    /// A value of `[section]`.
    pub fn check(&self, section: &str, key: &str, value: f64) -> Result<(), Finding> {
        if (self.least..=self.most).contains(&value) {
            return Ok(());
        }
        Err(Finding::at(
            steps![section, key],
            format!("{section}.{key} is out of range"),
            format!("write {}", self.words),
        ))
    }

    /// A value of `[section]` and the ends of its tolerance.
    pub fn check_all<Q: Copy>(
        &self,
        section: &str,
        key: &str,
        value: Toleranced<Q>,
        base: impl Fn(Q) -> f64,
    ) -> Result<(), Finding> {
        self.check(section, key, base(value.nominal))?;
        for end in [value.least, value.most] {
            self.check(section, key, base(end))
                .map_err(|finding| Finding {
                    message: format!("the tolerance takes {section}.{key} out of range"),
                    ..finding
                })?;
        }
        Ok(())
    }
}
