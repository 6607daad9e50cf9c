//! The panel file as typed: one struct per section, exactly the keys a person may write. Serde reads
//! it and schemars describes it; what the keys mean together is checked in the trust step.

use super::quantity::{
    Angle, CopperThickness, Earth, OneConductivity, OneLength, OneShare, OneVoltage, PlainNumber,
    Position, Return, Size, Spacing, TolerancedCapacitance, TolerancedFieldStrength,
    TolerancedLength, TolerancedLineCapacitance, TolerancedPermittivity, TolerancedShare,
    TolerancedTemperatureCoefficient,
};
use super::reading::Misread;
use super::typed_circuit::{BatteryEntry, CircuitEntry, ScanEntry};
use super::typed_environment::{ClimateEntry, DischargeEntry};
use super::typed_metal::{
    BezelEntry, GroundEntry, GuardEntry, ObjectEntry, ShieldEntry, TraceEntry,
};
use super::typed_study::StudyEntry;
use super::typed_tolerance::ToleranceEntry;
use super::words::{
    ApplicationWord, CopperModelWord, EndsWord, FillingWord, FilmWord, GloveWord, IdleWord,
    ModelWord, NearMissWord, ShapeWord, SideWord,
};
use indexmap::IndexMap;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, Deserialize, Deserializer, SeqAccess, Visitor};
use std::borrow::Cow;
use std::fmt;

/// Largest number of columns or rows in one pad group.
pub const MAX_COUNT: u32 = 100;

/// A whole panel file.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PanelFile {
    /// One line for people.
    pub title: Option<String>,
    /// Revision of the board: on the first page of the note.
    pub revision: Option<String>,
    /// State of the pads that are not measured; default grounded.
    pub idle: Option<IdleWord>,
    /// How the panel becomes a field problem; default volume.
    pub model: Option<ModelWord>,
    /// How copper enters the field problem; default sheet.
    pub copper_model: Option<CopperModelWord>,
    /// Distance from the panel to the outer, open wall; default 160 mm.
    pub wall_distance: Option<OneLength>,
    /// Layers from the touched face to the back.
    pub layer: Vec<LayerEntry>,
    /// Materials of this panel, by name; they come before the built-in ones.
    #[serde(default)]
    pub material: IndexMap<String, MaterialEntry>,
    /// Size of board and overlay.
    pub board: Option<BoardEntry>,
    /// Pads by group name: one pad, a row or a grid.
    pub pads: IndexMap<String, PadsEntry>,
    /// Ground areas by name.
    #[serde(default)]
    pub ground: IndexMap<String, GroundEntry>,
    /// Copper areas that are driven with the measured pad, by name.
    #[serde(default)]
    pub shield: IndexMap<String, ShieldEntry>,
    /// Guard traces between and around pads, by name.
    #[serde(default)]
    pub guard: IndexMap<String, GuardEntry>,
    /// Traces that are part of the field, by name.
    #[serde(default)]
    pub trace: IndexMap<String, TraceEntry>,
    /// Metal frames on the touched face, by name.
    #[serde(default)]
    pub bezel: IndexMap<String, BezelEntry>,
    /// Metal near the panel, by name.
    #[serde(default)]
    pub object: IndexMap<String, ObjectEntry>,
    /// Slots cut into dielectric layers, by name.
    #[serde(default)]
    pub slot: IndexMap<String, SlotEntry>,
    /// Wet films and drops on the touched face, by name.
    #[serde(default)]
    pub film: IndexMap<String, FilmEntry>,
    /// Fingers by name; default one adult finger.
    #[serde(default)]
    pub finger: IndexMap<String, FingerEntry>,
    /// Capacitance in parallel with the field part.
    pub stray: Option<StrayEntry>,
    /// What the panel is part of: which cautions are printed.
    pub application: Option<Vec<ApplicationWord>>,
    /// Ways the device is powered, by name.
    #[serde(default)]
    pub supply: IndexMap<String, SupplyEntry>,
    /// Users, supplies and demands of the threshold.
    pub window: Option<WindowEntry>,
    /// Temperature, moisture and how fast they change.
    pub climate: Option<ClimateEntry>,
    /// Which discharge the overlay shall stand.
    pub discharge: Option<DischargeEntry>,
    /// The measuring circuit; default a resistor oscillator.
    pub circuit: Option<CircuitEntry>,
    /// How the pads are scanned.
    pub scan: Option<ScanEntry>,
    /// What feeds the panel when it is not the mains.
    pub battery: Option<BatteryEntry>,
    /// Studies by name: what `sweep` varies.
    #[serde(default)]
    pub study: IndexMap<String, StudyEntry>,
    /// How values spread from unit to unit, by name: what `tolerance` asks for.
    #[serde(default)]
    pub tolerance: IndexMap<String, ToleranceEntry>,
}

/// One `[[layer]]`: a dielectric (material or permittivity, and thickness) or copper.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LayerEntry {
    /// Name used in dotted paths.
    pub name: String,
    /// Material by name.
    pub material: Option<String>,
    /// Permittivity relative to vacuum; overrides the material's.
    pub permittivity: Option<TolerancedPermittivity>,
    /// Share of its area that is air instead, all through the layer: voids of a bond; default 0 %.
    pub voids: Option<OneShare>,
    /// Thickness of a dielectric layer.
    pub thickness: Option<TolerancedLength>,
    /// Thickness of a copper layer, or its weight per square foot: "35 um", "1 oz".
    pub copper: Option<CopperThickness>,
    /// Width by height of a dielectric layer that is larger or smaller than the board, such as a cover.
    pub outline: Option<Size>,
    /// Middle of that outline; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Relative change of its permittivity with temperature; default that of the material.
    pub temperature_coefficient: Option<TolerancedTemperatureCoefficient>,
    /// Relative rise of its permittivity from dry to damp; default that of the material.
    pub moisture: Option<TolerancedShare>,
    /// Relative change of its permittivity over its life; default that of the material.
    pub ageing: Option<TolerancedShare>,
    /// Field at which it is punctured; default that of the material.
    pub dielectric_strength: Option<TolerancedFieldStrength>,
    /// Thickness at which the strength was measured; default 3.2 mm.
    pub strength_thickness: Option<OneLength>,
}

/// One `[material.NAME]`.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MaterialEntry {
    /// Permittivity relative to vacuum.
    pub permittivity: TolerancedPermittivity,
    /// Where the value comes from, for reports.
    pub source: Option<String>,
    /// Relative change of its permittivity with temperature.
    pub temperature_coefficient: Option<TolerancedTemperatureCoefficient>,
    /// Relative rise of its permittivity from dry to damp.
    pub moisture: Option<TolerancedShare>,
    /// Relative change of its permittivity over its life.
    pub ageing: Option<TolerancedShare>,
    /// Field at which it is punctured.
    pub dielectric_strength: Option<TolerancedFieldStrength>,
    /// Thickness at which the strength was measured; default 3.2 mm.
    pub strength_thickness: Option<OneLength>,
}

/// `[board]`.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoardEntry {
    /// Width by height, centred on 0, 0; default the copper and 10 mm around it.
    pub outline: Size,
}

/// One `[pads.NAME]`: one pad, or `columns` by `rows` of them.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PadsEntry {
    /// Copper layer the pads are on.
    pub layer: String,
    /// Shape of one pad.
    pub shape: ShapeWord,
    /// Width by height of a rectangle or rounded rectangle.
    pub size: Option<Size>,
    /// Corner radius of a rounded rectangle.
    pub corner_radius: Option<OneLength>,
    /// Diameter of a disc, outer diameter of a ring.
    pub diameter: Option<OneLength>,
    /// Inner diameter of a ring.
    pub inner_diameter: Option<OneLength>,
    /// Diameter of a round hole in the middle of every pad; 0 mm for none.
    pub hole: Option<OneLength>,
    /// Corners x, y of a polygon around the pad's own centre.
    pub corners: Option<Vec<Position>>,
    /// Segments of a slider or a wheel.
    pub segments: Option<Count>,
    /// Distance of neighbouring segments of a slider.
    pub pitch: Option<OneLength>,
    /// Extent of a slider along y.
    pub height: Option<OneLength>,
    /// How far neighbouring segments reach into each other, tip to tip; default 0 mm.
    pub overlap: Option<OneLength>,
    /// Teeth where segments meet; default 1.
    pub teeth: Option<Count>,
    /// The first and last segment of a slider are "full" (default) or "half" a pitch long.
    pub ends: Option<EndsWord>,
    /// Largest deviation of the position that a slider or wheel tells; default 1.5 mm.
    pub largest_deviation: Option<OneLength>,
    /// Largest fall of the total of all segments below its largest value; default 20 %.
    pub largest_ripple: Option<OneShare>,
    /// Longest dead zone at either end of a slider; default 2 mm.
    pub largest_dead_zone: Option<OneLength>,
    /// Counter-clockwise rotation of every pad about its centre.
    pub rotation: Option<Angle>,
    /// Pads side by side; default 1.
    pub columns: Option<Count>,
    /// Pads one below the other; default 1.
    pub rows: Option<Count>,
    /// Distance between the edges of neighbouring pads.
    pub gap: Option<Spacing>,
    /// Middle of the whole group; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Pad names row by row from the top left.
    pub names: Option<Vec<String>>,
    /// Length of the trace from the edge of the pad to the controller, what is drawn of it included: one for
    /// all, or a list in the order of the names.
    pub trace_length: Option<TraceLengths>,
}

/// One `[slot.NAME]`: a slot (air relief) in the middle of every gap of a pad group, or one slot of its own.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SlotEntry {
    /// Dielectric layer it is cut into.
    pub layer: String,
    /// Pad group whose gaps it follows.
    pub between: Option<String>,
    /// Width of the slots in the gaps; 0 mm for none.
    pub width: Option<OneLength>,
    /// Middle of one slot of its own; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Extent along x and y of one slot of its own.
    pub size: Option<Size>,
    /// How deep it is cut, at most the thickness of the layer; 0 mm for none.
    pub depth: OneLength,
    /// Face of the layer it is cut from; default back.
    pub side: Option<SideWord>,
    /// What is in it; default air.
    pub filled: Option<FillingWord>,
}

/// One `[film.NAME]`: a wet film or a drop on the touched face.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FilmEntry {
    /// Width by height of a rectangular film.
    pub size: Option<Size>,
    /// Diameter of a round drop.
    pub diameter: Option<OneLength>,
    /// Middle of the film; default 0 mm, 0 mm.
    pub centre: Option<Position>,
    /// Thickness of the water.
    pub thickness: OneLength,
    /// Dielectric and floating bound the truth of a film that is connected to nothing; earthed stands
    /// for one that reaches a grounded frame.
    #[serde(rename = "treat_as")]
    pub bound: FilmWord,
    /// Conductivity of the water: tells how far the film conducts.
    pub conductivity: Option<OneConductivity>,
}

/// One `[finger.NAME]`.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FingerEntry {
    /// Diameter of the flat contact.
    pub contact: OneLength,
    /// Diameter of dome and barrel.
    pub dome: OneLength,
    /// Height above the touched face; default 15 mm.
    pub length: Option<OneLength>,
    /// Name of the pad it touches; default every pad in turn.
    pub on: Option<String>,
    /// Offset x, y from the pad's centre; default 0 mm, 0 mm.
    pub offset: Option<Position>,
    /// "earthed" (default) or the capacitance to 0 V.
    #[serde(rename = "return")]
    pub return_path: Option<Return>,
    /// Height of its lowest point above the touched face; default 0 mm, it touches.
    pub distance: Option<OneLength>,
    /// Thickness of the glove it wears; default none.
    pub glove: Option<OneLength>,
    /// Permittivity of the glove relative to vacuum.
    pub glove_permittivity: Option<PlainNumber>,
    /// What the glove is taken for: a "dielectric" (default) or, damp, a "conductor".
    pub glove_as: Option<GloveWord>,
    /// Several gloves over each other, instead of one.
    pub glove_layers: Option<Vec<GloveLayerEntry>>,
    /// Largest distance by which it misses the middle of a pad; default that of `[window]`.
    pub aim_error: Option<OneLength>,
    /// Where the dimensions come from, for reports.
    pub source: Option<String>,
}

/// One glove of several.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GloveLayerEntry {
    /// Thickness.
    pub thickness: OneLength,
    /// Permittivity relative to vacuum.
    pub permittivity: PlainNumber,
}

/// One `[supply.NAME]`: a way the device is powered.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SupplyEntry {
    /// Device ground to earth: "earthed", or a capacitance.
    pub to_earth: Option<Earth>,
    /// Body to device ground of a device that is held in the hand, instead of `to_earth`.
    pub held: Option<TolerancedCapacitance>,
    /// Voltage between device ground and earth in the band of the measurement, rms; default that of
    /// `[circuit]`.
    pub common_mode: Option<OneVoltage>,
    /// Where the value comes from, for reports.
    pub source: Option<String>,
}

/// `[window]`: who touches, and what the threshold shall hold.
#[derive(Clone, Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WindowEntry {
    /// Users by name: fingers of this file or of the default population.
    pub users: Option<Vec<String>>,
    /// Supplies by name: of this file or of the built-in ones.
    pub supplies: Option<Vec<String>>,
    /// Body to earth; default 120 pF between 80 and 200 pF.
    pub body: Option<TolerancedCapacitance>,
    /// Largest distance by which a user misses the middle of a pad; default 3 mm.
    pub aim_error: Option<OneLength>,
    /// From the middle of a pad to the edge of a palm that leans on the panel; default no palm.
    pub palm_distance: Option<OneLength>,
    /// What a pad should make of a finger that missed it, within the aim error, onto its own trace:
    /// "must act", "either", "must not act"; default either.
    pub near_miss: Option<NearMissWord>,
    /// What baseline tracking leaves of the drift; default none.
    pub drift_residue: Option<TolerancedCapacitance>,
    /// Standard deviations of the noise between a mean and its bound; default 3.
    pub noise_margin: Option<PlainNumber>,
    /// Window ratio asked for; default 2.
    pub wanted_ratio: Option<PlainNumber>,
    /// Release threshold over threshold; default 0.75.
    pub release: Option<PlainNumber>,
    /// How often anyone touches any pad in a day; default 100.
    pub touches_per_day: Option<PlainNumber>,
    /// False events allowed in a year; default 1.
    pub false_per_year: Option<PlainNumber>,
}

/// `[stray]`.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StrayEntry {
    /// Pin and package; default 5 pF between 3 and 10 pF.
    pub pin: Option<TolerancedCapacitance>,
    /// Per length of trace; default 0.3 pF/cm between 0.1 and 0.6 pF/cm.
    pub trace: Option<TolerancedLineCapacitance>,
}

/// Number of columns or rows: 1 to [`MAX_COUNT`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Count(pub u32);

impl<'de> Deserialize<'de> for Count {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct CountVisitor;
        impl Visitor<'_> for CountVisitor {
            type Value = Count;
            fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(formatter, "a whole number from 1 to {MAX_COUNT}")
            }
            fn visit_i64<E: de::Error>(self, value: i64) -> Result<Count, E> {
                u32::try_from(value)
                    .ok()
                    .filter(|count| (1..=MAX_COUNT).contains(count))
                    .map(Count)
                    .ok_or_else(|| {
                        super::quantity::two_lines(Misread::new(
                            format!("{value} is out of range"),
                            format!("write a whole number from 1 to {MAX_COUNT}"),
                        ))
                    })
            }
        }
        deserializer.deserialize_any(CountVisitor)
    }
}

impl JsonSchema for Count {
    fn schema_name() -> Cow<'static, str> {
        "Count".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "integer", "minimum": 1, "maximum": MAX_COUNT })
    }
}

/// Trace lengths of a pad group.
#[derive(Clone, Debug, PartialEq)]
pub enum TraceLengths {
    /// One length for every pad.
    Same(OneLength),
    /// One length per pad, in the order of the names.
    Each(Vec<OneLength>),
}

impl<'de> Deserialize<'de> for TraceLengths {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct LengthsVisitor;
        impl<'de> Visitor<'de> for LengthsVisitor {
            type Value = TraceLengths;
            fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
                formatter.write_str("a length such as \"40 mm\" or a list of lengths")
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<TraceLengths, E> {
                <OneLength as super::quantity::FileQuantity>::read(text)
                    .map(TraceLengths::Same)
                    .map_err(super::quantity::two_lines)
            }
            fn visit_i64<E: de::Error>(self, value: i64) -> Result<TraceLengths, E> {
                <OneLength as super::quantity::FileQuantity>::read_number(
                    value as f64,
                    &value.to_string(),
                )
                .map(TraceLengths::Same)
                .map_err(super::quantity::two_lines)
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<TraceLengths, A::Error> {
                let mut lengths = Vec::new();
                while let Some(length) = list.next_element()? {
                    lengths.push(length);
                }
                Ok(TraceLengths::Each(lengths))
            }
        }
        deserializer.deserialize_any(LengthsVisitor)
    }
}

impl JsonSchema for TraceLengths {
    fn schema_name() -> Cow<'static, str> {
        "TraceLengths".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let one = generator.subschema_for::<OneLength>();
        json_schema!({ "anyOf": [one, { "type": "array", "items": one }] })
    }
}
