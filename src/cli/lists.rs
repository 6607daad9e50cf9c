//! `padfield materials` and `padfield schema`: what the panel file may hold.

use crate::report::terminal::{table, wrap_indented};
use std::io::Write;

use serde_json::{Value, json};

use super::{Exit, Failure, json_line, print};
use crate::input;
use crate::materials::{Material, SourcedRange, all, sources};
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
        let list: Vec<Value> = all().iter().map(material_json).collect();
        json_line(Value::Array(list))
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

/// Prints the JSON Schema of the panel file.
///
/// # Errors
/// An output that cannot be written.
pub fn schema(output: &mut dyn Write) -> Result<Exit, Failure> {
    let schema = input::schema();
    print(output, &format!("{schema:#}\n"))?;
    Ok(Exit::Success)
}

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

fn material_json(material: &Material) -> Value {
    let range = |range: &Option<SourcedRange>| {
        range
            .as_ref()
            .map(|range| json!({"least": range.least, "most": range.most, "source": range.source}))
    };
    json!({
        "name": material.name,
        "also": material.also,
        "permittivity": {
            "nominal": material.permittivity.nominal.relative(),
            "least": material.permittivity.least.relative(),
            "most": material.permittivity.most.relative(),
            "source": material.permittivity_source,
        },
        "dielectric_strength_kv_per_mm": range(&material.dielectric_strength_kv_per_mm),
        "dielectric_strength_thickness_mm": material.dielectric_strength_thickness_mm,
        "temperature_coefficient_ppm_per_k": range(&material.temperature_coefficient_ppm_per_k),
        "moisture_percent": range(&material.moisture_percent),
        "ageing_percent": range(&material.ageing_percent),
        "note": material.note,
    })
}
