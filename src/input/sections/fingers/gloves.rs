//! Gloves: one or several, insulating or, damp, a part of the finger.

use super::super::common::*;
use super::{FingerEntry, GloveKind};

use crate::panel::Glove;

/// What a finger wears.
#[derive(Default)]
pub(crate) struct Worn {
    /// As an insulating layer.
    pub insulates: Option<Glove>,
    /// Thickness that is part of the finger instead.
    pub conducts: Length,
}

pub(crate) fn worn(name: &str, entry: &FingerEntry) -> Result<Worn, Finding> {
    let at = |key: &str| steps!["finger", name, key];
    let is_conductor = entry
        .glove_as
        .is_some_and(|word| word.0 == GloveKind::Conductor);
    let layers = layers(name, entry, is_conductor)?;
    if layers.is_empty() {
        let stray = [
            ("glove_permittivity", entry.glove_permittivity.is_some()),
            ("glove_as", entry.glove_as.is_some()),
        ];
        return match stray.iter().find(|(_, given)| *given) {
            Some((key, _)) => Err(Finding::at(
                at(key),
                format!(
                    "there is a {} but no glove",
                    key.replace("glove_", "").replace("as", "state")
                ),
                "add its thickness: glove = \"1.5 mm\"",
            )),
            None => Ok(Worn::default()),
        };
    }
    let thickness_m: f64 = layers.iter().map(|(thickness, _)| thickness.metres()).sum();
    let thickness = Length::from_metres(thickness_m);
    if is_conductor {
        return Ok(Worn {
            insulates: None,
            conducts: thickness,
        });
    }
    // Layers over each other: the permittivity of one layer as thick as all of them.
    let equivalent_m: f64 = layers.iter().map(|(t, p)| t.metres() / p).sum();
    Ok(Worn {
        insulates: Some(Glove {
            thickness,
            permittivity: Permittivity::from_relative(thickness_m / equivalent_m),
        }),
        conducts: Length::default(),
    })
}

/// Thickness and relative permittivity of every glove.
fn layers(
    name: &str,
    entry: &FingerEntry,
    is_conductor: bool,
) -> Result<Vec<(Length, f64)>, Finding> {
    let at = |key: &str| steps!["finger", name, key];
    match (&entry.glove_layers, entry.glove) {
        (Some(_), Some(_)) => Err(Finding::at_key(
            at("glove_layers"),
            "there is one glove and there are several",
            "leave out glove, or glove_layers",
        )),
        (Some(several), None) => {
            if entry.glove_permittivity.is_some() {
                return Err(Finding::at_key(
                    at("glove_permittivity"),
                    "every glove of glove_layers has its own permittivity",
                    "leave out glove_permittivity",
                ));
            }
            let several = several.iter().enumerate();
            let layers = several.map(|(index, layer)| {
                let at = |key: &str| steps!["finger", name, "glove_layers", index, key];
                let thickness = positive(at("thickness"), layer.thickness.0, THICKNESS)?;
                let permittivity = permittivity(at("permittivity"), layer.permittivity.0)?;
                Ok((thickness, permittivity))
            });
            layers.collect()
        }
        (None, Some(thickness)) => {
            let thickness = positive(at("glove"), thickness.0, THICKNESS)?;
            let given = match entry.glove_permittivity {
                Some(given) => permittivity(at("glove_permittivity"), given.0)?,
                None if is_conductor => 1.0,
                None => {
                    return Err(Finding::at(
                        at("glove"),
                        "the glove has no permittivity",
                        "add a line glove_permittivity = 3",
                    ));
                }
            };
            Ok(vec![(thickness, given)])
        }
        (None, None) => Ok(Vec::new()),
    }
}

const THICKNESS: &str = "the thickness of the glove";

fn permittivity(steps: Vec<Step>, given: f64) -> Result<f64, Finding> {
    if (1.0..=1000.0).contains(&given) {
        return Ok(given);
    }
    Err(Finding::at(
        steps,
        format!("a permittivity of {given} makes no sense here"),
        "write at least 1, as in 3",
    ))
}
