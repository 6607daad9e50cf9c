//! The layers and their materials.

pub mod properties;
pub mod sheet;

use super::common::*;
use crate::input::materials;
use crate::panel::{Layer, LayerContent, LayerOutline};

/// One `[[layer]]`: a dielectric (material or permittivity, and thickness) or copper.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LayerEntry {
    /// Name used in dotted paths.
    pub name: String,
    /// Material by name.
    pub material: Option<String>,
    /// Permittivity relative to vacuum; overrides the material's.
    pub permittivity: Option<WithTolerance<Permittivity>>,
    /// Share of its area that is air instead, all through the layer: voids of a bond; default 0 %.
    pub voids: Option<One<Share>>,
    /// Thickness of a dielectric layer.
    pub thickness: Option<WithTolerance<Length>>,
    /// Thickness of a copper layer, or its weight per square foot: "35 um", "1 oz".
    pub copper: Option<CopperThickness>,
    /// Width by height of a dielectric layer that is larger or smaller than the board, such as a cover.
    pub outline: Option<Size>,
    /// Middle of that outline; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Relative change of its permittivity with temperature; default that of the material.
    pub temperature_coefficient: Option<WithTolerance<TemperatureCoefficient>>,
    /// Relative rise of its permittivity from dry to damp; default that of the material.
    pub moisture: Option<WithTolerance<Share>>,
    /// Relative change of its permittivity over its life; default that of the material.
    pub ageing: Option<WithTolerance<Share>>,
    /// Field at which it is punctured; default that of the material.
    pub dielectric_strength: Option<WithTolerance<FieldStrength>>,
    /// Thickness at which the strength was measured; default 3.2 mm.
    pub strength_thickness: Option<One<Length>>,
}

/// One `[material.NAME]`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MaterialEntry {
    /// Permittivity relative to vacuum.
    pub permittivity: WithTolerance<Permittivity>,
    /// Where the value comes from, for reports.
    pub source: Option<String>,
    /// Relative change of its permittivity with temperature.
    pub temperature_coefficient: Option<WithTolerance<TemperatureCoefficient>>,
    /// Relative rise of its permittivity from dry to damp.
    pub moisture: Option<WithTolerance<Share>>,
    /// Relative change of its permittivity over its life.
    pub ageing: Option<WithTolerance<Share>>,
    /// Field at which it is punctured.
    pub dielectric_strength: Option<WithTolerance<FieldStrength>>,
    /// Thickness at which the strength was measured; default 3.2 mm.
    pub strength_thickness: Option<One<Length>>,
}

/// What of `[layer]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        edge("thickness", [0.0, 50.0], DOUBTED),
        edge("outline", [5.0, 1000.0], NONE),
        place("centre"),
        permittivity("permittivity", Measure::Number, [1.0, 100.0], DOUBTED),
        permittivity("voids", Measure::Share, [0.0, 100.0], NONE),
        edge("copper", [0.001, 0.4], NONE),
    ],
    fixed: &[
        still(&["temperature_coefficient", "moisture", "ageing"], OF_DRIFT),
        still(&["dielectric_strength", "strength_thickness"], OF_DISCHARGE),
    ],
};

/// What of `[material]` can be varied.
pub const MATERIAL_ROWS: Rows = Rows {
    varied: &[permittivity(
        "permittivity",
        Measure::Number,
        [1.0, 100.0],
        NONE,
    )],
    fixed: &[
        still(&["temperature_coefficient", "moisture", "ageing"], OF_DRIFT),
        still(&["dielectric_strength", "strength_thickness"], OF_DISCHARGE),
    ],
};

/// Vacuum is the least; beyond the most a decimal point has been lost.
const PERMITTIVITY_RANGE: [f64; 2] = [1.0, 100_000.0];

pub(crate) fn layers(file: &PanelFile) -> Result<Vec<Layer>, Finding> {
    for (name, material) in &file.material {
        permittivity_in_range(
            steps!["material", name, "permittivity"],
            material.permittivity.0,
        )?;
    }
    let mut layers: Vec<Layer> = Vec::new();
    for (index, entry) in file.layer.iter().enumerate() {
        if let Err(reason) = check_name(&entry.name) {
            return Err(Finding::at(
                steps!["layer", index, "name"],
                reason,
                NAME_RULE,
            ));
        }
        if layers.iter().any(|layer| layer.name == entry.name) {
            return Err(Finding::at(
                steps!["layer", index, "name"],
                format!("there are two layers \"{}\"", entry.name),
                "give every layer a name of its own",
            ));
        }
        let layer = layer(file, index, entry)?;
        if layer.content == LayerContent::Copper {
            let before = layers.last().map(|before| &before.content);
            if let None | Some(LayerContent::Copper) = before {
                return Err(copper_against(index, layers.last()));
            }
            insulated(&layers)?;
        }
        layers.push(layer);
    }
    insulated(&layers)?;
    if layers.is_empty() {
        return Err(Finding::at(
            steps!["layer"],
            "there are no layers",
            "add at least an overlay and a copper layer",
        ));
    }
    if layers.iter().all(|l| l.content != LayerContent::Copper) {
        return Err(Finding::at_key(
            steps!["layer", layers.len() - 1],
            "there is no copper layer",
            "add a [[layer]] with copper = \"35 um\" for the pads",
        ));
    }
    Ok(layers)
}

/// Layers of zero thickness are not there, as a bond without air; of those before a copper layer, and of
/// those behind the last one, not all may be.
fn insulated(layers: &[Layer]) -> Result<(), Finding> {
    let is_copper = |layer: &Layer| layer.content == LayerContent::Copper;
    let first = layers.iter().rposition(is_copper).map_or(0, |at| at + 1);
    let run = &layers[first..];
    if run.is_empty()
        || run
            .iter()
            .any(|layer| layer.thickness.nominal.metres() > 0.0)
    {
        return Ok(());
    }
    let steps = steps!["layer", first, "thickness"];
    positive(steps, run[0].thickness.nominal, "the thickness").map(|_| ())
}

fn copper_against(index: usize, before: Option<&Layer>) -> Finding {
    match before {
        None => Finding::at(
            steps!["layer", index],
            "the touched face is copper: the finger would short it",
            "write an overlay, the layer that is touched, before it",
        ),
        Some(before) => Finding::at(
            steps!["layer", index],
            format!(
                "this copper lies directly on copper layer \"{}\"",
                before.name
            ),
            "write the dielectric between them",
        ),
    }
}

fn layer(file: &PanelFile, index: usize, entry: &Keyed<LayerEntry>) -> Result<Layer, Finding> {
    let at = |key: &str| steps!["layer", index, key];
    let name = &entry.name;
    if let Some(copper) = entry.copper {
        if let Some(key) = entry.any_but(&["name", "copper"]) {
            return Err(Finding::at_key(
                at(key),
                format!("layer \"{name}\" has both \"copper\" and \"{key}\""),
                "copper = \"35 um\" says it all; write dielectrics as layers of their own",
            ));
        }
        return Ok(Layer {
            name: name.clone(),
            thickness: positive_interval(at("copper"), copper.0, "the copper thickness")?,
            content: LayerContent::Copper,
            outline: None,
        });
    }
    let content = dielectric(file, index, entry)?;
    let thickness = entry.thickness.ok_or_else(|| {
        Finding::at(
            steps!["layer", index],
            format!("layer \"{name}\" has no thickness"),
            "add thickness = \"4 mm\"",
        )
    })?;
    Ok(Layer {
        name: name.clone(),
        thickness: if thickness.0 == Toleranced::exact(Length::default()) {
            thickness.0
        } else {
            positive_interval(at("thickness"), thickness.0, "the thickness")?
        },
        content,
        outline: outline(index, entry)?,
    })
}

fn outline(index: usize, entry: &Keyed<LayerEntry>) -> Result<Option<LayerOutline>, Finding> {
    let at = |key: &str| steps!["layer", index, key];
    let Some(size) = entry.outline else {
        return match entry.centre {
            Some(_) => Err(Finding::at_key(
                at("centre"),
                format!("layer \"{}\" is as large as the board", entry.name),
                "add outline = \"90 mm x 70 mm\", or leave out centre",
            )),
            None => Ok(None),
        };
    };
    let what = ["the width of the outline", "the height of the outline"];
    Ok(Some(LayerOutline {
        centre: centre(|| at("centre"), entry.centre)?,
        size: positive_size(|| at("outline"), size, what)?,
    }))
}

fn dielectric(
    file: &PanelFile,
    index: usize,
    entry: &Keyed<LayerEntry>,
) -> Result<LayerContent, Finding> {
    let found = match &entry.material {
        Some(name) => Some(material(file, index, name)?),
        None => None,
    };
    let (material, permittivity, source) = match (entry.permittivity, found) {
        (Some(given), found) => {
            let given = permittivity_in_range(steps!["layer", index, "permittivity"], given.0)?;
            let name = found.map_or_else(|| entry.name.clone(), |(name, ..)| name);
            (name, given, "given".to_owned())
        }
        (None, Some(found)) => found,
        (None, None) => {
            return Err(Finding::at(
                steps!["layer", index],
                format!("nothing says what layer \"{}\" is made of", entry.name),
                "add material = \"acrylic\", permittivity = \"2.8\" or copper = \"35 um\"",
            ));
        }
    };
    let Some(voids) = entry.voids else {
        return Ok(LayerContent::Dielectric {
            material,
            permittivity,
            source,
        });
    };
    let voids = voids.0;
    if !(0.0..=1.0).contains(&voids) {
        return Err(Finding::at(
            steps!["layer", index, "voids"],
            format!("{} % of the area cannot be voids", 100.0 * voids),
            "write 0 % to 100 %",
        ));
    }
    Ok(LayerContent::Dielectric {
        material: format!("{material} with {} % voids", 100.0 * voids),
        permittivity: with_voids(permittivity, voids),
        source,
    })
}

/// Side by side, large against the thickness of the layer: permittivities add by area, exact for uniform
/// flux. Voids that are smaller than the layer is thick cost a little more.
fn with_voids(solid: Toleranced<Permittivity>, voids: f64) -> Toleranced<Permittivity> {
    solid.map(|p| Permittivity::from_relative((1.0 - voids) * p.relative() + voids))
}

/// Name, permittivity and source: from the file's own materials, then from the built-in ones.
fn material(
    file: &PanelFile,
    index: usize,
    name: &str,
) -> Result<(String, Toleranced<Permittivity>, String), Finding> {
    if let Some(own) = file.material.get(name) {
        let source = own.source.clone().unwrap_or_else(|| "given".to_owned());
        return Ok((name.to_owned(), own.permittivity.0, source));
    }
    match materials::find(name) {
        Ok(built_in) => Ok((
            name.to_owned(),
            built_in.permittivity,
            built_in.permittivity_source.clone(),
        )),
        Err(unknown) => {
            let own = nearest(name, file.material.keys().map(String::as_str));
            let hint = match own.or(unknown.nearest.as_deref()) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => {
                    "write permittivity = \"2.8\", or describe it in [material.NAME]".to_owned()
                }
            };
            Err(Finding::at(
                steps!["layer", index, "material"],
                unknown.to_string(),
                hint,
            ))
        }
    }
}

fn permittivity_in_range(
    steps: Vec<Step>,
    value: Toleranced<Permittivity>,
) -> Result<Toleranced<Permittivity>, Finding> {
    let [least, most] = PERMITTIVITY_RANGE;
    for permittivity in [value.nominal, value.least, value.most] {
        let permittivity = permittivity.relative();
        if !(least..=most).contains(&permittivity) {
            return Err(Finding::at(
                steps,
                format!(
                    "a permittivity of {} is out of range",
                    (permittivity * 1e6).round() / 1e6
                ),
                "it is relative to vacuum: write 1 or more, tolerance included",
            ));
        }
    }
    Ok(value)
}
