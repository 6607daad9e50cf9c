//! The air a panel has between overlay and pads, at its largest, or what is assumed where it has none.

use super::bench::Scene;
use super::read::twelve_digits;
use super::subject::Subject;
use super::words::number;
use crate::input::{Addition, Document, Override};
use crate::panel::{Layer, LayerContent, Panel};
use padfield_engine::units::Length;

/// Layers whose permittivity is no larger are air: foams begin above.
const LARGEST_PERMITTIVITY: f64 = 1.01;

/// Name and material of the layer that is assumed.
const ASSUMED: &str = "air of the rule";
const ASSUMED_MATERIAL: &str = "air";

/// Air to judge, and the panel without it.
pub(super) struct Air {
    /// What takes the panel's air away.
    pub without: Vec<Override>,
    /// The file that `with` is set in.
    pub document: Document,
    /// What sets all of it to its largest.
    pub with: Vec<Override>,
    /// What is judged, for the reason.
    pub words: String,
}

fn set(path: String, value: impl Into<String>) -> Override {
    Override {
        path,
        value: value.into(),
    }
}

fn mm(thickness: Length) -> f64 {
    twelve_digits(thickness.mm())
}

impl Air {
    /// Of the layers between the touched one and the pads of the group on `panel`, which is `scene` as it
    /// is drawn: those of air and those with voids. Slots are made on purpose and are none of it.
    pub fn of(
        scene: &Scene,
        subject: &Subject,
        panel: &Panel,
        assumed: Length,
    ) -> Result<Self, String> {
        let file = scene.document.overridden(&scene.overrides);
        let file = file.map_err(|error| error.message().to_owned())?;
        let pads = panel.pads.iter().find(|pad| pad.group == subject.group);
        let between = panel.layers.get(1..pads.map_or(1, |pad| pad.layer));
        let mut air = Self {
            without: Vec::new(),
            document: scene.document.clone(),
            with: Vec::new(),
            words: String::new(),
        };
        let mut parts = Vec::new();
        for layer in between.into_iter().flatten() {
            parts.extend(air.gap(layer).or_else(|| air.voids(layer, &file)));
        }
        if parts.is_empty() {
            return air.assume(subject, assumed);
        }
        air.words = format!("air of the panel itself, {}", parts.join(" and "));
        Ok(air)
    }

    fn gap(&mut self, layer: &Layer) -> Option<String> {
        let LayerContent::Dielectric { permittivity, .. } = &layer.content else {
            return None;
        };
        let largest = layer.thickness.most;
        let is_air = permittivity.nominal.relative() <= LARGEST_PERMITTIVITY;
        if !is_air || largest.metres() <= 0.0 {
            return None;
        }
        let path = || format!("layer.{}.thickness", layer.name);
        self.without.push(set(path(), "0 mm"));
        self.with.push(set(path(), format!("{} mm", mm(largest))));
        let at_most = match largest > layer.thickness.nominal {
            true => " at its largest",
            false => "",
        };
        Some(format!(
            "layer \"{}\"{at_most}: {} mm",
            layer.name,
            number(mm(largest))
        ))
    }

    /// Voids have no tolerance: they stay as drawn.
    fn voids(&mut self, layer: &Layer, file: &Document) -> Option<String> {
        let path = format!("layer.{}.voids", layer.name);
        let share = file.numbers_at(&path).first()?.si();
        if share <= 0.0 || layer.thickness.most.metres() <= 0.0 {
            return None;
        }
        self.without.push(set(path, "0 %"));
        Some(format!(
            "{} % voids in layer \"{}\"",
            number(twelve_digits(100.0 * share)),
            layer.name
        ))
    }

    fn assume(mut self, subject: &Subject, thickness: Length) -> Result<Self, String> {
        let layer = Addition::Layer {
            name: ASSUMED.to_owned(),
            behind: subject.overlay.clone(),
        };
        self.document = self.document.with(&[layer])?;
        let path = |key: &str| format!("layer.{ASSUMED}.{key}");
        self.with.push(set(path("material"), ASSUMED_MATERIAL));
        let written = format!("{} mm", mm(thickness));
        self.with.push(set(path("thickness"), written));
        self.words = format!(
            "no air in this panel file: {} mm behind layer \"{}\" is assumed",
            number(mm(thickness)),
            subject.overlay
        );
        Ok(self)
    }
}
