//! Cautions that belong to a panel: what its numbers do not decide.
//!
//! Takes a panel with what it is part of; gives lines of text; never fails.

use crate::panel::{Application, EarthPath, LayerContent, Panel};

/// Whatever the panel is part of.
const ALWAYS: &str = "Local codes, standards in force and licensed or accredited practice override anything printed \
     here. Standards are named from memory: check the editions in force. A prototype must confirm the \
     numbers.";

/// What capacitors from the device to earth change beside sensitivity.
pub const CAPACITORS_TO_EARTH: &str = "Capacitors to earth, like an earthed bezel, change protection class and touch \
     current: a safety decision, not a matter of sensitivity.";

/// Least wall under a slot in plastic \[mm\]: common practice, no source.
const LEAST_WALL_MM: f64 = 1.0;

fn caution(application: Application) -> &'static str {
    match application {
        Application::Mains => {
            "Mains: an overlay that a person touches over a circuit that is not isolated is safety \
             insulation, which is not calculated here. Creepage, clearance, solid insulation and touch \
             current belong to a competent person and an accredited laboratory (IEC 60664-1, IEC \
             60335-1, IEC 62368-1, IEC 61010-1 as they apply)."
        }
        Application::Appliance => {
            "Appliance: a touch key should not be the only means that starts or keeps a hazard (heat, \
             blades, motors, doors, gas): water, a fault or interference may look like a touch (IEC \
             60335-1, IEC 60730-1)."
        }
        Application::Machinery => {
            "Machinery: a touch key should not be the only means that starts or keeps a movement (ISO \
             13849-1, IEC 61508)."
        }
        Application::Medical => {
            "Medical: the output is design information, not evidence (IEC 60601-1, IEC 60601-1-2, IEC \
             62366-1, ISO 14971)."
        }
        Application::EmergencyStop => {
            "Emergency stop: a touch pad does not stop a hazard; the emergency stop is a device of its \
             own (ISO 13850)."
        }
        Application::Vehicle => {
            "Ships, vehicles, aircraft have rules of their own (for example IEC 60945 for bridge \
             equipment)."
        }
        Application::ExplosiveAtmosphere => {
            "Explosive atmosphere: charging of a plastic overlay matters; own rules apply (IEC 60079 \
             series)."
        }
        Application::Public => {
            "Public use: flat touch keys may exclude blind users and users of a prosthesis; local law \
             may ask for tactile alternatives."
        }
    }
}

/// The cautions of a panel, the general one last.
pub fn cautions(panel: &Panel) -> Vec<String> {
    let mut lines = particular_cautions(panel);
    lines.push(ALWAYS.to_owned());
    lines
}

/// The cautions that not every panel has.
pub fn particular_cautions(panel: &Panel) -> Vec<String> {
    let mut applications = panel.usage.applications.clone();
    applications.sort();
    applications.dedup();
    let mut lines: Vec<String> = applications
        .into_iter()
        .map(|application| caution(application).to_owned())
        .collect();
    let has_earth =
        panel.usage.supplies.value.iter().any(
            |supply| matches!(supply.to_earth, EarthPath::Capacitance(c) if c.most.pf() > 1000.0),
        );
    if has_earth {
        lines.push(CAPACITORS_TO_EARTH.to_owned());
    }
    let is_glass = panel.layers.iter().any(|layer| {
        matches!(&layer.content, LayerContent::Dielectric { material, .. } if material.contains("glass"))
    });
    if is_glass {
        lines.push("Glass: breakage, sharp edges and film retention are not covered.".to_owned());
    }
    let cut = panel.slots.iter().filter(|slot| !slot.is_empty());
    lines.extend(cut.filter_map(|slot| {
        let left = slot.wall_left(&panel.layers).mm();
        let layer = panel.layers.get(slot.layer)?;
        (left < LEAST_WALL_MM - 1e-9).then(|| {
            format!(
                "Slot \"{}\" leaves {:.2} mm of \"{}\", less than {LEAST_WALL_MM} mm (common practice, no \
                 source): strength, moulding, puncture and discharge path are not computed.",
                slot.name,
                left.max(0.0),
                layer.name
            )
        })
    }));
    lines
}
