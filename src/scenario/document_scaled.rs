//! Values of a panel file that can be made a little larger or smaller: what a design can turn.

use super::document::Document;
use super::overrides::Override;
use super::reading::number_and_unit;
use crate::panel::{LayerContent, Panel};
use crate::units::{Permittivity, Toleranced};

/// A dimension, a material constant or a circuit value with its dotted path.
#[derive(Clone, Debug, PartialEq)]
pub struct Scalable {
    /// Dotted path.
    pub path: String,
    /// The value, of the first part when there are several, in [`Scalable::unit`].
    pub value: f64,
    /// Unit; empty for plain numbers.
    pub unit: String,
    /// Whether the field changes with it; otherwise only what the circuit makes of the field.
    pub changes_field: bool,
    parts: Vec<Part>,
}

#[derive(Clone, Debug, PartialEq)]
enum Part {
    /// Path, number, unit.
    Number(String, f64, String),
    /// A permittivity with its tolerance, which keeps its share.
    Permittivity(String, Toleranced<Permittivity>),
}

/// Sections and keys of dimensions that a design can turn, with the parts that go together.
const DIMENSIONS: [(&str, &str, &[&str]); 5] = [
    ("pads", "size", &["width", "height"]),
    ("pads", "diameter", &[]),
    ("pads", "gap", &["x", "y"]),
    ("guard", "width", &[]),
    ("ground", "clearance", &[]),
];
/// Values that only the circuit sees.
const CIRCUIT: [&str; 5] = [
    "stray.pin",
    "stray.trace",
    "circuit.resistor",
    "circuit.current",
    "circuit.gate",
];

impl Scalable {
    /// The overrides that multiply the value.
    pub fn overrides(&self, factor: f64) -> Vec<Override> {
        let number = |value: f64| {
            // Nine digits: enough for any dimension, and no tail of binary digits.
            let text = format!("{value:.9}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        };
        let each = self.parts.iter().map(|part| match part {
            Part::Number(path, value, unit) => Override {
                path: path.clone(),
                value: format!("{} {unit}", number(value * factor))
                    .trim_end()
                    .to_owned(),
            },
            Part::Permittivity(path, value) => {
                let [nominal, least, most] =
                    [value.nominal, value.least, value.most].map(|p| p.relative() * factor);
                Override {
                    path: path.clone(),
                    value: if least < nominal || most > nominal {
                        format!(
                            "{} +{} -{}",
                            number(nominal),
                            number(most - nominal),
                            number(nominal - least)
                        )
                    } else {
                        number(nominal)
                    },
                }
            }
        });
        each.collect()
    }
}

impl Document {
    /// Everything in this file a design can turn, in file order; `panel` is what the file became.
    pub fn scalables(&self, panel: &Panel) -> Vec<Scalable> {
        let mut found = Vec::new();
        for layer in &panel.layers {
            let LayerContent::Dielectric { permittivity, .. } = &layer.content else {
                continue;
            };
            let path = format!("layer.{}.thickness", layer.name);
            found.extend(self.scalable(&path, &["nominal"], true));
            let path = format!("layer.{}.permittivity", layer.name);
            found.push(Scalable {
                value: permittivity.nominal.relative(),
                unit: String::new(),
                changes_field: true,
                parts: vec![Part::Permittivity(path.clone(), *permittivity)],
                path,
            });
        }
        let paths: Vec<String> = self.paths().map(str::to_owned).collect();
        for path in &paths {
            if let [section, _, key] = path.split('.').collect::<Vec<_>>()[..] {
                let known = DIMENSIONS
                    .iter()
                    .find(|known| (known.0, known.1) == (section, key));
                if let Some((_, _, parts)) = known {
                    found.extend(self.scalable(path, parts, true));
                }
            }
            if CIRCUIT.contains(&path.as_str()) {
                let toleranced = !path.ends_with("gate");
                let parts: &[&str] = if toleranced { &["nominal"] } else { &[] };
                found.extend(self.scalable(path, parts, false));
            }
        }
        found
    }

    /// A value that the file writes down, above zero.
    fn scalable(&self, path: &str, parts: &[&str], changes_field: bool) -> Option<Scalable> {
        self.value_at(path).ok()??;
        let paths: Vec<String> = match parts {
            [] => vec![path.to_owned()],
            parts => parts.iter().map(|part| format!("{path}.{part}")).collect(),
        };
        let mut read = Vec::new();
        for path in paths {
            let text = self.value_at(&path).ok()??;
            let (value, unit) = number_and_unit(&text)?;
            if value <= 0.0 {
                return None;
            }
            read.push(Part::Number(path, value, unit));
        }
        let Some(Part::Number(_, value, unit)) = read.first().cloned() else {
            return None;
        };
        Some(Scalable {
            path: path.to_owned(),
            value,
            unit,
            changes_field,
            parts: read,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_design_can_turn_is_found_and_scaled() {
        let text = include_str!("../../scenarios/fern.toml");
        let document = Document::from_text("fern.toml", text).expect("TOML");
        let panel = document.panel(&[]).expect("valid");
        let all = document.scalables(&panel);
        let find = |path: &str| {
            let found = all.iter().find(|one| one.path == path);
            found.unwrap_or_else(|| panic!("no {path} in {all:?}"))
        };
        let thicker = document.panel(&find("layer.overlay.thickness").overrides(1.25));
        let overlay = thicker.expect("valid").layers[0].thickness;
        // 4.0 mm times 1.25 with its tolerance of 0.2 mm.
        let mm = [overlay.least, overlay.nominal, overlay.most].map(|t| (t.mm() * 1e6).round());
        assert_eq!(mm, [4.8e6, 5.0e6, 5.2e6]);
        let denser = document.panel(&find("layer.overlay.permittivity").overrides(2.0));
        let LayerContent::Dielectric { permittivity, .. } =
            &denser.expect("valid").layers[0].content
        else {
            panic!("the overlay is a dielectric");
        };
        let ends = [permittivity.least, permittivity.nominal, permittivity.most];
        let ends = ends.map(|p| (p.relative() * 1e6).round() / 1e6);
        assert_eq!(ends, [5.2, 5.6, 6.4]);
        let smaller = document
            .panel(&find("pads.keys.size").overrides(0.8))
            .expect("valid");
        let crate::panel::Outline::Rectangle { width, height } = smaller.pads[0].outline else {
            panic!("the pads are rectangles");
        };
        assert_eq!([width, height].map(|side| side.mm().round()), [12.0, 12.0]);
        assert!(!find("stray.pin").changes_field);
        assert!(find("pads.keys.gap").changes_field);
    }
}
