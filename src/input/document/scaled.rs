//! Values of a panel file that can be made a little larger or smaller: what a design can turn.

use super::Document;
use super::numbers::Movable;
use super::overrides::Override;
use crate::input::catalogue::{Motion, Role, Varied, varied};
use crate::input::quantity::measure::unit_factor;
use crate::panel::{LayerContent, Panel};
use padfield_engine::units::{Permittivity, Toleranced};

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
    /// How the field follows it.
    pub motion: Motion,
    /// Smallest and largest value that makes sense, in [`Scalable::unit`]; the value itself is within.
    pub range: [f64; 2],
    parts: Vec<Part>,
}

#[derive(Clone, Debug, PartialEq)]
enum Part {
    Number(Movable),
    /// A permittivity with its tolerance, which keeps its share.
    Permittivity(String, Toleranced<Permittivity>),
}

impl Scalable {
    /// The overrides that multiply the value.
    pub fn overrides(&self, factor: f64) -> Vec<Override> {
        let number = |value: f64| {
            // Nine digits: enough for any dimension, and no tail of binary digits.
            let text = format!("{value:.9}");
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        };
        let each = self.parts.iter().map(|part| match part {
            Part::Number(part) => Override {
                path: part.path.clone(),
                value: format!("{} {}", number(part.value * factor), part.unit)
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

    fn new(path: String, entry: &Varied, value: f64, unit: String, parts: Vec<Part>) -> Self {
        let per_unit = unit_factor(entry.unit()) / unit_factor(&unit);
        let [least, most] = entry.range.map(|end| end * per_unit);
        Self {
            path,
            value,
            unit,
            changes_field: entry.motion.changes_field(),
            motion: entry.motion,
            range: [least.min(value), most.max(value)],
            parts,
        }
    }
}

impl Document {
    /// Everything in this file a design can turn, in file order: the remedies of the
    /// [catalogue](crate::input::catalogue) that the file writes down, above zero; `panel` is what the file
    /// became.
    pub fn scalables(&self, panel: &Panel) -> Vec<Scalable> {
        let mut found = Vec::new();
        for layer in &panel.layers {
            let LayerContent::Dielectric { permittivity, .. } = &layer.content else {
                continue;
            };
            found.extend(self.scalable(&format!("layer.{}.thickness", layer.name)));
            // Of the material, where the file does not write it.
            let path = format!("layer.{}.permittivity", layer.name);
            found.extend(remedy(&path).map(|entry| {
                let parts = vec![Part::Permittivity(path.clone(), *permittivity)];
                let value = permittivity.nominal.relative();
                Scalable::new(path.clone(), entry, value, String::new(), parts)
            }));
        }
        for path in self.value_paths() {
            if !path.starts_with("layer.") {
                found.extend(self.scalable(&path));
            }
        }
        found
    }

    /// Everything in this file that adds noise to every touch, in file order.
    pub fn disturbances(&self) -> Vec<Scalable> {
        let paths = self.value_paths().into_iter();
        paths
            .filter_map(|path| self.scalable_as(&path, Role::Disturbance))
            .collect()
    }

    /// The remedy at a path, if the file writes it down above zero.
    fn scalable(&self, path: &str) -> Option<Scalable> {
        self.scalable_as(path, Role::Remedy)
    }

    fn scalable_as(&self, path: &str, role: Role) -> Option<Scalable> {
        let entry = varied(path).filter(|entry| entry.is(role))?;
        let mut numbers = self.numbers_at(path);
        numbers.retain(|number| number.value > 0.0);
        let first = numbers.first()?.clone();
        let parts = numbers.into_iter().map(Part::Number).collect();
        Some(Scalable::new(
            path.to_owned(),
            entry,
            first.value,
            first.unit,
            parts,
        ))
    }
}

fn remedy(path: &str) -> Option<&'static Varied> {
    varied(path).filter(|entry| entry.is(Role::Remedy))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_design_can_turn_is_found_and_scaled() {
        let text = include_str!("../../../scenarios/fern.toml");
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

    #[test]
    fn holes_slots_shields_hatches_traces_and_bonds_are_remedies() {
        let text = include_str!("../../../tests/panels/everything.toml");
        let document = Document::from_text("everything.toml", text).expect("TOML");
        let panel = document.panel(&[]).unwrap_or_else(|e| panic!("{e}"));
        let all = document.scalables(&panel);
        for path in [
            "layer.bond.thickness",
            "pads.keys.hole",
            "pads.keys.trace_length",
            "slot.ditch.width",
            "slot.ditch.depth",
            "ground.plane.line",
            "ground.plane.pitch",
            "shield.front.clearance",
            "shield.front.gain",
            "guard.cross.width",
            "trace.a.width",
            "trace.a.keepout",
            "object.chassis.behind",
        ] {
            let found = all.iter().find(|one| one.path == path);
            let found = found.unwrap_or_else(|| panic!("no {path}"));
            let [least, most] = found.range;
            assert!(least <= found.value && found.value <= most, "{found:?}");
            for factor in [0.97, 1.03] {
                let changed = document.panel(&found.overrides(factor));
                let changed = changed.unwrap_or_else(|e| panic!("{path}: {e}"));
                assert_ne!(changed, panel, "{path}");
            }
        }
        // A range is told in the unit of the file: 0.8 mm is written as 800 um.
        let ditch = all.iter().find(|one| one.path == "slot.ditch.depth");
        let ditch = ditch.expect("the slot");
        assert_eq!((ditch.unit.as_str(), ditch.value), ("um", 800.0));
        assert!((ditch.range[1] - 50_000.0).abs() < 1e-6);
        // Lengths of a list go together.
        let lengths = all.iter().find(|one| one.path == "pads.keys.trace_length");
        let longer = lengths.expect("the lengths");
        let longer = longer.overrides(45.0 / longer.value);
        let longer = document.panel(&longer).expect("valid");
        let mm = longer.pads.iter().map(|pad| pad.trace_length.value.mm());
        let mm: Vec<f64> = mm.map(|length| length.round()).collect();
        // 14 mm of the first are drawn, from the edge of its pad at 16 mm to 30 mm.
        assert_eq!(mm, [31.0, 60.0, 75.0, 90.0]);
    }
}
