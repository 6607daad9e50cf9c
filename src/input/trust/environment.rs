//! Climate, discharge and what they do to the layers: `[climate]`, `[discharge]`, keys of `[[layer]]`.

use super::super::error::Finding;
use super::super::keys::{Step, steps};
use super::super::quantity::OneLength;
use super::super::typed::{LayerEntry, MaterialEntry, PanelFile};
use super::super::typed_environment::{ClimateEntry, DischargeEntry};
use super::{positive, sourced};
use crate::materials::{self, SourcedRange};
use crate::panel::{Climate, Demand, Edge, Environment, LayerProperties, SourcedInterval};
use padfield_engine::units::{Length, Toleranced};

/// Absolute zero, and beyond what any layer stands \[degrees Celsius\].
const TEMPERATURE_RANGE: [f64; 2] = [-273.15, 1000.0];
/// Permittivities do not change faster in one kelvin \[1/K\].
const PER_KELVIN: f64 = 0.1;
/// Voltages of a test \[V\].
const TEST_VOLTS: [f64; 2] = [100.0, 100e3];

pub(super) fn environment(file: &PanelFile) -> Result<Environment, Finding> {
    for (name, entry) in &file.material {
        let section = steps!["material", name];
        check(section, &written(&TypedProperties::of_material(entry)))?;
    }
    let layers = file.layer.iter().enumerate();
    Ok(Environment {
        layers: layers
            .map(|(index, entry)| layer(file, index, entry))
            .collect::<Result<_, _>>()?,
        climate: climate(file.climate.as_ref())?,
        discharge: discharge(file.discharge.as_ref())?,
    })
}

/// The keys that a layer and a material share.
struct TypedProperties {
    temperature_coefficient: Option<Toleranced<f64>>,
    moisture: Option<Toleranced<f64>>,
    ageing: Option<Toleranced<f64>>,
    dielectric_strength: Option<Toleranced<f64>>,
    strength_thickness: Option<OneLength>,
}

impl TypedProperties {
    fn of_layer(entry: &LayerEntry) -> Self {
        Self {
            temperature_coefficient: entry.temperature_coefficient.map(|given| given.0),
            moisture: entry.moisture.map(|given| given.0),
            ageing: entry.ageing.map(|given| given.0),
            dielectric_strength: entry.dielectric_strength.map(|given| given.0),
            strength_thickness: entry.strength_thickness,
        }
    }

    fn of_material(entry: &MaterialEntry) -> Self {
        Self {
            temperature_coefficient: entry.temperature_coefficient.map(|given| given.0),
            moisture: entry.moisture.map(|given| given.0),
            ageing: entry.ageing.map(|given| given.0),
            dielectric_strength: entry.dielectric_strength.map(|given| given.0),
            strength_thickness: entry.strength_thickness,
        }
    }
}

fn written(typed: &TypedProperties) -> LayerProperties {
    let given = |value: Option<Toleranced<f64>>| {
        value.map(|value| SourcedInterval {
            value,
            source: "given".to_owned(),
        })
    };
    LayerProperties {
        temperature_coefficient_per_k: given(typed.temperature_coefficient),
        moisture: given(typed.moisture),
        ageing: given(typed.ageing),
        dielectric_strength_v_per_m: given(typed.dielectric_strength),
        strength_thickness: typed.strength_thickness.map(|given| given.0),
        is_air: false,
    }
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
                at(&section, key),
                format!("{key} is out of range"),
                format!("write {words}"),
            ));
        }
    }
    if let Some(thickness) = properties.strength_thickness {
        positive(
            at(&section, "strength_thickness"),
            thickness,
            "the thickness of the test",
        )?;
    }
    Ok(())
}

fn at(section: &[Step], key: &str) -> Vec<Step> {
    let mut steps = section.to_vec();
    steps.push(key.into());
    steps
}

fn layer(file: &PanelFile, index: usize, entry: &LayerEntry) -> Result<LayerProperties, Finding> {
    let own = written(&TypedProperties::of_layer(entry));
    check(steps!["layer", index], &own)?;
    let material = match &entry.material {
        Some(name) => of_material(file, name),
        None => LayerProperties::default(),
    };
    let voids = entry.voids.map_or(0.0, |given| given.0);
    let share = solid_share(file, entry, voids);
    let scaled = |found: Option<SourcedInterval>| {
        found.map(|mut found| {
            let Toleranced {
                nominal,
                least,
                most,
            } = found.value;
            found.value = Toleranced {
                nominal: nominal * share,
                least: least * share,
                most: most * share,
            };
            found
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
        return written(&TypedProperties::of_material(own));
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

fn climate(entry: Option<&ClimateEntry>) -> Result<Climate, Finding> {
    let default = Climate::default();
    let Some(entry) = entry else {
        return Ok(default);
    };
    let temperatures = [
        ("lowest", entry.lowest),
        ("highest", entry.highest),
        ("reference", entry.reference),
    ];
    for (key, given) in temperatures {
        let [least, most] = TEMPERATURE_RANGE;
        if given.is_some_and(|given| !(least..=most).contains(&given.0)) {
            return Err(Finding::at(
                steps!["climate", key],
                "a temperature out of range",
                format!("write {least} degC to {most} degC"),
            ));
        }
    }
    let lowest = sourced(entry.lowest.map(|t| t.0), default.lowest_celsius.value);
    let highest = sourced(entry.highest.map(|t| t.0), default.highest_celsius.value);
    if lowest.value >= highest.value {
        let key = match entry.highest {
            Some(_) => "highest",
            None => "lowest",
        };
        return Err(Finding::at(
            steps!["climate", key],
            format!(
                "the climate goes from {} to {} degC",
                lowest.value, highest.value
            ),
            "write a highest temperature above the lowest",
        ));
    }
    let reference = sourced(
        entry.reference.map(|t| t.0),
        default
            .reference_celsius
            .value
            .clamp(lowest.value, highest.value),
    );
    let fastest = entry.fastest_change.map(|given| given.0);
    if fastest.is_some_and(|rate| !(rate > 0.0 && rate <= 1000.0)) {
        return Err(Finding::at(
            steps!["climate", "fastest_change"],
            "a change of temperature out of range",
            "write more than 0 K/min, as in \"2 K/min\"",
        ));
    }
    let held = entry.held.map(|given| given.0);
    if held.is_some_and(|time| !(0.0..=86_400.0).contains(&time.seconds())) {
        return Err(Finding::at(
            steps!["climate", "held"],
            "the time a finger is held is out of range",
            "write 0 s to 86400 s, as in \"10 s\"",
        ));
    }
    Ok(Climate {
        is_given: true,
        lowest_celsius: lowest,
        highest_celsius: highest,
        reference_celsius: reference,
        fastest_change_k_per_s: sourced(fastest, default.fastest_change_k_per_s.value),
        moisture: sourced(entry.moisture.map(|word| word.0), default.moisture.value),
        held: sourced(held, default.held.value),
    })
}

fn discharge(entry: Option<&DischargeEntry>) -> Result<Demand, Finding> {
    let default = Demand::default();
    let Some(entry) = entry else {
        return Ok(default);
    };
    let level = entry.level.map(|given| given.0);
    let [least, most] = TEST_VOLTS;
    if level.is_some_and(|level| !(least..=most).contains(&level.voltage.volts())) {
        return Err(Finding::at(
            steps!["discharge", "level"],
            "a voltage out of range",
            "write 0.1 kV to 100 kV, as in \"air 8 kV\"",
        ));
    }
    let margin = entry.margin.map(|given| given.0);
    if margin.is_some_and(|margin| !(1.0..=100.0).contains(&margin)) {
        return Err(Finding::at(
            steps!["discharge", "margin"],
            "a margin out of range",
            "write a number from 1 to 100",
        ));
    }
    let given = entry.sealed.as_deref().unwrap_or_default();
    Ok(Demand {
        level,
        margin: sourced(margin, default.margin.value),
        sealed: Edge::ALL.map(|edge| given.iter().any(|word| word.0 == edge)),
    })
}
