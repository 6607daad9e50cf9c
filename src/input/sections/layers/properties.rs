//! What climate and discharge do to the layers: keys of `[[layer]]` and `[material.NAME]`.

use super::super::common::*;
use super::LayerEntry;
use crate::input::materials::{self, SourcedRange};
use crate::input::quantity::Quantity;
use crate::panel::{LayerProperties, SourcedInterval};

/// Permittivities do not change faster in one kelvin \[1/K\].
const PER_KELVIN: f64 = 0.1;

/// The properties that an entry gives: a layer and a material have the same keys for them.
macro_rules! written {
    ($entry:expr) => {
        LayerProperties {
            temperature_coefficient_per_k: given($entry.temperature_coefficient),
            moisture: given($entry.moisture),
            ageing: given($entry.ageing),
            dielectric_strength_v_per_m: given($entry.dielectric_strength),
            strength_thickness: $entry.strength_thickness.map(|given| given.0),
            is_air: false,
        }
    };
}

pub fn properties(file: &PanelFile) -> Result<Vec<LayerProperties>, Finding> {
    for (name, entry) in &file.material {
        let section = steps!["material", name];
        check(section, &written!(entry))?;
    }
    let layers = file.layer.iter().enumerate();
    layers
        .map(|(index, entry)| layer(file, index, entry))
        .collect()
}

fn given<Q: Quantity<Value = f64>>(value: Option<WithTolerance<Q>>) -> Option<SourcedInterval> {
    value.map(|value| SourcedInterval {
        value: value.0,
        source: "given".to_owned(),
    })
}

/// Ranges: beyond, a unit or a decimal point has been mistaken.
fn check(section: Vec<Step>, properties: &LayerProperties) -> Result<(), Finding> {
    let keys = [
        (
            "temperature_coefficient",
            &properties.temperature_coefficient_per_k,
            [-PER_KELVIN, PER_KELVIN],
            "-100000 ppm/K to 100000 ppm/K, tolerance included",
        ),
        (
            "moisture",
            &properties.moisture,
            [0.0, 1.0],
            "0 % to 100 %, tolerance included",
        ),
        (
            "ageing",
            &properties.ageing,
            [-0.9, 1.0],
            "-90 % to 100 %, tolerance included",
        ),
        (
            "dielectric_strength",
            &properties.dielectric_strength_v_per_m,
            [1e4, 1e10],
            "0.01 kV/mm to 10000 kV/mm, tolerance included",
        ),
    ];
    for (key, value, [least, most], words) in keys {
        let Some(SourcedInterval { value, .. }) = value else {
            continue;
        };
        let ends = [value.nominal, value.least, value.most];
        if ends.iter().any(|end| !(least..=most).contains(end)) {
            return Err(Finding::at(
                with_step(&section, key),
                format!("{key} is out of range"),
                format!("write {words}"),
            ));
        }
    }
    if let Some(thickness) = properties.strength_thickness {
        positive(
            with_step(&section, "strength_thickness"),
            thickness,
            "the thickness of the test",
        )?;
    }
    Ok(())
}

fn layer(file: &PanelFile, index: usize, entry: &LayerEntry) -> Result<LayerProperties, Finding> {
    let own = written!(entry);
    check(steps!["layer", index], &own)?;
    let material = match &entry.material {
        Some(name) => of_material(file, name),
        None => LayerProperties::default(),
    };
    let voids = entry.voids.map_or(0.0, |given| given.0);
    let share = solid_share(file, entry, voids);
    let scaled = |found: Option<SourcedInterval>| {
        found.map(|found| SourcedInterval {
            value: found.value.map(|value| value * share),
            ..found
        })
    };
    // A layer full of voids breaks down through its air.
    let (strength, is_air) = match (own.dielectric_strength_v_per_m, voids > 0.0) {
        (Some(own), _) => (Some(own), false),
        (None, true) => (of_air(), true),
        (None, false) => (material.dielectric_strength_v_per_m, material.is_air),
    };
    Ok(LayerProperties {
        temperature_coefficient_per_k: own
            .temperature_coefficient_per_k
            .or(scaled(material.temperature_coefficient_per_k)),
        moisture: own.moisture.or(scaled(material.moisture)),
        ageing: own.ageing.or(scaled(material.ageing)),
        dielectric_strength_v_per_m: strength,
        strength_thickness: own.strength_thickness.or(material.strength_thickness),
        is_air,
    })
}

/// Share of a layer's permittivity that is its solid's, with voids side by side: what a relative change of
/// the solid is worth.
fn solid_share(file: &PanelFile, entry: &LayerEntry, voids: f64) -> f64 {
    if voids <= 0.0 {
        return 1.0;
    }
    let of_material = |name: &String| match file.material.get(name) {
        Some(own) => Some(own.permittivity.0),
        None => materials::find(name).ok().map(|found| found.permittivity),
    };
    let solid = entry
        .permittivity
        .map(|given| given.0)
        .or_else(|| entry.material.as_ref().and_then(of_material))
        .map_or(1.0, |found| found.nominal.relative());
    (1.0 - voids) * solid / ((1.0 - voids) * solid + voids)
}

fn of_air() -> Option<SourcedInterval> {
    let air = materials::find(AIR).ok()?;
    interval(&air.dielectric_strength_kv_per_mm, 1e6)
}

const AIR: &str = "air";

fn of_material(file: &PanelFile, name: &str) -> LayerProperties {
    if let Some(own) = file.material.get(name) {
        return written!(own);
    }
    // A name that is not known was found when the layers were read.
    let Ok(found) = materials::find(name) else {
        return LayerProperties::default();
    };
    LayerProperties {
        temperature_coefficient_per_k: interval(&found.temperature_coefficient_ppm_per_k, 1e-6),
        moisture: interval(&found.moisture_percent, 0.01),
        ageing: interval(&found.ageing_percent, 0.01),
        dielectric_strength_v_per_m: interval(&found.dielectric_strength_kv_per_mm, 1e6),
        strength_thickness: found.dielectric_strength_thickness_mm.map(Length::from_mm),
        is_air: found.name == AIR,
    }
}

/// A range of the table with its middle as nominal value.
fn interval(range: &Option<SourcedRange>, factor: f64) -> Option<SourcedInterval> {
    range.as_ref().map(|range| SourcedInterval {
        value: Toleranced {
            nominal: 0.5 * (range.least + range.most) * factor,
            least: range.least * factor,
            most: range.most * factor,
        },
        source: range.source.clone(),
    })
}
