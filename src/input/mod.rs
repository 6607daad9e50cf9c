//! The panel file: one TOML text that describes a panel, checked and turned into a [`Panel`].
//!
//! Takes the text of a file and a list of overrides, returns a trusted [`Panel`] in SI with its
//! defaults filled in, or the first thing that is wrong with its place and a suggestion. Nothing
//! here touches a disk, and no input panics.
//!
//! ```
//! use padfield::input::{Document, Override};
//! let text = r#"
//! [[layer]]
//! name = "overlay"
//! material = "acrylic"
//! thickness = "3 mm"
//!
//! [[layer]]
//! name = "front"
//! copper = "35 um"
//!
//! [pads.key]
//! layer = "front"
//! shape = "disc"
//! diameter = "12 mm"
//! "#;
//! let document = Document::from_text("one.toml", text)?;
//! let thicker = Override::parse("overlay.thickness=5 mm")?;
//! let panel = document.panel(&[thicker])?;
//! assert_eq!(panel.layers[0].thickness.nominal.mm().round(), 5.0);
//! # Ok::<(), padfield::input::ScenarioError>(())
//! ```
//!
//! # The file
//!
//! x points right, y up, 0, 0 is the middle of the board; layers run from the touched face to the back. Every
//! section has a file in `sections`: its keys with their documentation, its checks, its defaults and what of it
//! can be varied. [`schema`] and the guide's list of every key are written from there.
//!
//! Without any finger there is one named `adult (default)`: contact 10 mm, dome 16 mm, earthed, on
//! every pad in turn (from memory).
//!
//! # Studies
//!
//! An entry of `vary` is a `path` with a list `values = ["2 mm", "4 mm"]` or a range: `from` and `to`
//! with `step = "1 mm"` (exact in decimal) or with `points = 9` and \[`scale`\] (`"linear"` or
//! `"logarithmic"`); in a sample a range needs neither. Without a pad a quantity stands for the panel:
//! the largest base, the weakest touch, the worst neighbour.
//!
//! # Quantities
//!
//! A quantity is a string of a number and its unit, which is never left out: mm, um, cm, m, in, mil;
//! pF, fF, nF; pF/cm, pF/m, pF/mm, pF/in; deg; ohm, kohm, Mohm; s, ms, us, ns; V, mV, uV; Hz, kHz, MHz; A,
//! mA, uA, nA; Ah, mAh; counts; %, ppm; degC; ppm/K, %/K; K/min, K/h, K/s; kV, kV/mm, V/mil. A permittivity has no unit and may be a plain TOML
//! number. Layer values, permittivities, stray capacitances and what
//! sets the rate of the circuit (resistor, current, integration capacitor) may carry a tolerance: `± 0.2 mm`,
//! `± 10 %`, `+0.3 -0.1 mm` (`+/-` for ±). In a pair the first value may leave its unit to the
//! second: `"15 x 12 mm"`.
//!
//! # Dotted paths
//!
//! Every value has a path of names: `layer.overlay.thickness`, `pads.keys.gap`, `stray.pin`. Where it
//! is unambiguous the section may be left out: `overlay.thickness`. Values of several numbers have
//! parts: `pads.keys.size.width` and `.height`, `pads.keys.gap.x` and `.y`, `finger.adult.offset.x`,
//! `layer.overlay.thickness.nominal` and `.tolerance`; trace lengths in a list go by the names of
//! their pads (`pads.keys.trace_length.vent`), corners of a polygon, which have no names, by their
//! number from 1 (`pads.dial.corners.1.x`). [`Document::paths`] lists them all.
//!
//! # Sections from outside
//!
//! An [`Override`] with a path into a section `[SECTION.NAME]` that the file does not have creates it, as in
//! `guard.cross.between=keys` and `guard.cross.width=2 mm`; all the keys it needs must be given, and its name
//! must not be nearly that of another one. `guard.cross=none` takes it away. A layer is added with
//! `layer.air.behind=overlay` before its values are set, and goes with `layer.air=none`. Overrides are
//! applied in their order: what is gone may come back in another form.
//!
//! [`Panel`]: crate::panel::Panel

pub mod catalogue;
mod document;
pub mod materials;
mod names;
mod place;
pub mod quantity;
mod sections;

pub use document::{
    Addition, Candidate, Document, MAX_BYTES, Movable, Override, Place, Scalable, ScenarioError,
};
pub use quantity::measure::unit_factor;

// For files of other modules that are read in the same way.
pub(crate) use document::TypedFile;
pub(crate) use names::{listed, nearest};
pub(crate) use place::{Finding, Step, steps};
pub(crate) use sections::Keyed;
pub(crate) use sections::study::value_of;

use crate::panel::Panel;

/// A panel from the bytes of a file in one step; `file` is its name for messages.
///
/// # Errors
/// The first thing wrong with the file or an override. To build many panels from one file, keep the
/// [`Document`].
pub fn panel_from_bytes(
    file: &str,
    bytes: &[u8],
    overrides: &[Override],
) -> Result<Panel, ScenarioError> {
    Document::from_bytes(file, bytes)?.panel(overrides)
}

/// JSON Schema (2020-12) of the panel file, generated from the structs of the sections.
///
/// It describes keys and the form of every value; what values mean together (overlaps, names that
/// must exist) is beyond it.
pub fn schema() -> serde_json::Value {
    let mut schema = schemars::schema_for!(sections::PanelFile).to_value();
    without_null(&mut schema);
    schema
}

/// TOML has no null: an optional key is left out, so the alternative goes from the schema.
fn without_null(value: &mut serde_json::Value) {
    use serde_json::Value;
    match value {
        Value::Object(object) => {
            if let Some(Value::Array(types)) = object.get_mut("type") {
                types.retain(|kind| kind != "null");
                if let [only] = &types[..] {
                    let only = only.clone();
                    object.insert("type".to_owned(), only);
                }
            }
            if let Some(Value::Array(forms)) = object.get_mut("anyOf") {
                forms.retain(|form| form["type"] != "null");
                if let [Value::Object(only)] = &forms[..] {
                    let only = only.clone();
                    object.shift_remove("anyOf");
                    object.extend(only);
                }
            }
            object.values_mut().for_each(without_null);
        }
        Value::Array(list) => list.iter_mut().for_each(without_null),
        _ => {}
    }
}
