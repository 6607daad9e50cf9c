//! Built-in materials: permittivity, dielectric strength and temperature coefficient as ranges, each
//! with the source as it is printed.
//!
//! The data are in `materials.toml`, read once. A panel file overrides any of them with
//! `[material.NAME]`.

use padfield_engine::units::{Permittivity, Toleranced};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A range with its source.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SourcedRange {
    /// Smallest value of the range, in the unit the field name gives.
    pub least: f64,
    /// Largest value of the range, in the unit the field name gives.
    pub most: f64,
    /// Source as it is printed; what stands behind it is in [`sources`].
    pub source: String,
}

/// One built-in material.
#[derive(Clone, Debug, PartialEq)]
pub struct Material {
    /// Name in panel files; upper and lower case are the same.
    pub name: String,
    /// Other names it is found by.
    pub also: Vec<String>,
    /// Permittivity at 100 kHz to 1 MHz.
    pub permittivity: Toleranced<Permittivity>,
    pub permittivity_source: String,
    /// Dielectric strength \[kV/mm\], where known.
    pub dielectric_strength_kv_per_mm: Option<SourcedRange>,
    /// Thickness at which the strength holds \[mm\], where the source says it.
    pub dielectric_strength_thickness_mm: Option<f64>,
    /// Temperature coefficient of the permittivity \[ppm/K\], where known.
    pub temperature_coefficient_ppm_per_k: Option<SourcedRange>,
    /// Rise of the permittivity from dry to damp \[%\], where known.
    pub moisture_percent: Option<SourcedRange>,
    /// Change of the permittivity over its life \[%\], where known.
    pub ageing_percent: Option<SourcedRange>,
    /// What else to know; empty if nothing.
    pub note: String,
}

/// A material name that is not in the table.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("there is no material \"{name}\"")]
pub struct UnknownMaterial {
    /// The name asked for.
    pub name: String,
    /// The name in the table that is spelled most like it, if any is close.
    pub nearest: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    material: Vec<Row>,
    source: BTreeMap<String, String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    name: String,
    #[serde(default)]
    also: Vec<String>,
    permittivity: PermittivityRow,
    dielectric_strength_kv_per_mm: Option<SourcedRange>,
    dielectric_strength_thickness_mm: Option<f64>,
    temperature_coefficient_ppm_per_k: Option<SourcedRange>,
    moisture_percent: Option<SourcedRange>,
    ageing_percent: Option<SourcedRange>,
    #[serde(default)]
    note: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PermittivityRow {
    nominal: f64,
    least: f64,
    most: f64,
    source: String,
}

impl From<Row> for Material {
    fn from(row: Row) -> Self {
        Self {
            name: row.name,
            also: row.also,
            permittivity: Toleranced {
                nominal: Permittivity::from_relative(row.permittivity.nominal),
                least: Permittivity::from_relative(row.permittivity.least),
                most: Permittivity::from_relative(row.permittivity.most),
            },
            permittivity_source: row.permittivity.source,
            dielectric_strength_kv_per_mm: row.dielectric_strength_kv_per_mm,
            dielectric_strength_thickness_mm: row.dielectric_strength_thickness_mm,
            temperature_coefficient_ppm_per_k: row.temperature_coefficient_ppm_per_k,
            moisture_percent: row.moisture_percent,
            ageing_percent: row.ageing_percent,
            note: row.note,
        }
    }
}

struct BuiltIn {
    materials: Vec<Material>,
    sources: BTreeMap<String, String>,
}

static BUILT_IN: LazyLock<BuiltIn> = LazyLock::new(|| {
    let table: Table = toml::from_str(include_str!("materials.toml"))
        .expect("the built-in materials table is valid");
    BuiltIn {
        materials: table.material.into_iter().map(Material::from).collect(),
        sources: table.source,
    }
});

/// All built-in materials, in the order of the table.
pub fn all() -> &'static [Material] {
    &BUILT_IN.materials
}

/// All sources of the table with what stands behind each.
pub fn sources() -> impl Iterator<Item = (&'static str, &'static str)> {
    let sources = BUILT_IN.sources.iter();
    sources.map(|(source, text)| (source.as_str(), text.as_str()))
}

/// The material with this name or other name, whatever the case of its letters.
///
/// # Errors
/// [`UnknownMaterial`] with the nearest name.
///
/// ```
/// use padfield::input::materials;
/// assert_eq!(materials::find("pmma").unwrap().name, "acrylic");
/// assert_eq!(materials::find("acrilic").unwrap_err().nearest.as_deref(), Some("acrylic"));
/// ```
pub fn find(name: &str) -> Result<&'static Material, UnknownMaterial> {
    let wanted = name.trim().to_lowercase();
    let is_wanted = |known: &String| known.to_lowercase() == wanted;
    all()
        .iter()
        .find(|m| is_wanted(&m.name) || m.also.iter().any(is_wanted))
        .ok_or_else(|| UnknownMaterial {
            name: name.to_owned(),
            nearest: nearest(&wanted).map(str::to_owned),
        })
}

fn nearest(wanted: &str) -> Option<&'static str> {
    const LIKE_ENOUGH: f64 = 0.6;
    all()
        .iter()
        .flat_map(|m| std::iter::once(&m.name).chain(&m.also))
        .map(|name| (strsim::jaro_winkler(wanted, &name.to_lowercase()), name))
        .filter(|(likeness, _)| *likeness >= LIKE_ENOUGH)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_ordered_and_every_source_explained() {
        for material in all() {
            let p = &material.permittivity;
            assert!(
                p.least <= p.nominal && p.nominal <= p.most,
                "{}",
                material.name
            );
            assert!(p.least.relative() >= 1.0, "{}", material.name);
            assert!(BUILT_IN.sources.contains_key(&material.permittivity_source));
            let ranges = [
                &material.dielectric_strength_kv_per_mm,
                &material.temperature_coefficient_ppm_per_k,
                &material.moisture_percent,
                &material.ageing_percent,
            ];
            for range in ranges.into_iter().flatten() {
                assert!(range.least <= range.most, "{}", material.name);
                assert!(
                    BUILT_IN.sources.contains_key(&range.source),
                    "{}",
                    range.source
                );
            }
        }
    }

    #[test]
    fn names_and_other_names_are_unique() {
        let mut names: Vec<String> = all()
            .iter()
            .flat_map(|m| std::iter::once(&m.name).chain(&m.also))
            .map(|n| n.to_lowercase())
            .collect();
        names.sort();
        let count = names.len();
        names.dedup();
        assert_eq!(names.len(), count);
    }
}
