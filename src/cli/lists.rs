//! `padfield materials`: what the table of materials holds.

use crate::report::terminal::{table, wrap_indented};
use std::io::Write;

use super::{Exit, Failure, json_line, print};
use crate::input::materials::{Material, SourcedRange, all, sources};
use crate::record::{self, record};
use padfield_engine::units::{Permittivity, Toleranced};

/// List the built-in materials with their sources
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = "Example: padfield materials --json")]
pub struct MaterialsArguments {
    /// Print one JSON array instead of a table
    #[arg(long)]
    pub json: bool,
}

/// Prints the built-in materials.
///
/// # Errors
/// An output that cannot be written.
pub fn materials(arguments: &MaterialsArguments, output: &mut dyn Write) -> Result<Exit, Failure> {
    let text = if arguments.json {
        json_line(&record::all(all(), MaterialRecord::of))?
    } else {
        let rows = all().iter().map(material_row).collect();
        let header = [
            "material",
            "permittivity",
            "kV/mm",
            "ppm/K",
            "source of the permittivity; note",
        ];
        let sources: Vec<String> = sources()
            .map(|(source, text)| wrap_indented(&format!("{source}: {text}"), "  ", "    "))
            .collect();
        let table = table(&header, header.len(), rows);
        format!("{table}\n\nSources\n{}\n", sources.join("\n"))
    };
    print(output, &text)?;
    Ok(Exit::Success)
}

/// The built-in materials for machines.
pub(super) type MaterialsRecord = Vec<MaterialRecord>;

fn material_row(material: &Material) -> Vec<String> {
    let mut name = material.name.clone();
    if !material.also.is_empty() {
        name = format!("{name} (also {})", material.also.join(", "));
    }
    let range = |range: &Option<SourcedRange>| {
        range.as_ref().map_or(String::new(), |range| {
            let ends = if range.least == range.most {
                range.least.to_string()
            } else {
                format!("{} to {}", range.least, range.most)
            };
            format!("{ends} [{}]", range.source)
        })
    };
    let mut source = material.permittivity_source.clone();
    if !material.note.is_empty() {
        source = format!("{source}; {}", material.note);
    }
    vec![
        name,
        permittivity_text(&material.permittivity),
        range(&material.dielectric_strength_kv_per_mm),
        range(&material.temperature_coefficient_ppm_per_k),
        source,
    ]
}

fn permittivity_text(value: &Toleranced<Permittivity>) -> String {
    let [nominal, least, most] =
        [value.nominal, value.least, value.most].map(|p| p.relative().to_string());
    if least == most {
        nominal
    } else {
        format!("{nominal} ({least} to {most})")
    }
}

record! {
    /// A built-in material.
    pub(super) struct MaterialRecord(material: &Material) {
        /// Name in panel files; upper and lower case are the same.
        name: String = material.name.clone(),
        /// Other names it is found by.
        also: Vec<String> = material.also.clone(),
        /// Permittivity at 100 kHz to 1 MHz.
        permittivity: PermittivityRecord = PermittivityRecord::of(material),
        /// Dielectric strength, kV/mm; null where it is not known.
        dielectric_strength_kv_per_mm: Option<SourcedRange> =
            material.dielectric_strength_kv_per_mm.clone(),
        /// Thickness at which the strength holds, mm; null where the source does not say it.
        dielectric_strength_thickness_mm: Option<f64> = material.dielectric_strength_thickness_mm,
        /// Temperature coefficient of the permittivity, ppm/K; null where it is not known.
        temperature_coefficient_ppm_per_k: Option<SourcedRange> =
            material.temperature_coefficient_ppm_per_k.clone(),
        /// Rise of the permittivity from dry to damp, %; null where it is not known.
        moisture_percent: Option<SourcedRange> = material.moisture_percent.clone(),
        /// Change of the permittivity over its life, %; null where it is not known.
        ageing_percent: Option<SourcedRange> = material.ageing_percent.clone(),
        /// What else to know; empty if nothing.
        note: String = material.note.clone(),
    }

    /// A permittivity, relative to vacuum.
    pub(super) struct PermittivityRecord(material: &Material) {
        /// The value computed with.
        nominal: f64 = material.permittivity.nominal.relative(),
        /// Smallest value the source allows.
        least: f64 = material.permittivity.least.relative(),
        /// Largest value the source allows.
        most: f64 = material.permittivity.most.relative(),
        /// The source.
        source: String = material.permittivity_source.clone(),
    }
}
