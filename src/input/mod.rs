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
//! x points right, y up, 0, 0 is the middle of the board; layers run from the touched face to the
//! back. Keys in brackets may be left out; their default is shown.
//!
//! | section | key | value |
//! |---|---|---|
//! | top of the file | \[`title`\] | one line for people |
//! | top of the file | \[`revision`\] | revision of the board, on the first page of the note: `revision = "B"` |
//! | | \[`idle`\] | `"grounded"`, `"floating"` or `"driven"`: pads that are not measured |
//! | | \[`model`\] | `"volume"`, `"axisymmetric"` or `"section"` |
//! | | \[`copper_model`\] | `"sheet"` or `"thick"` |
//! | | \[`wall_distance`\] | `"160 mm"`: from the panel to the outer, open wall |
//! | `[[layer]]` | `name` | part of the dotted path |
//! | | `material`, `permittivity` | one or both: a material by name, a permittivity `"2.8 ± 0.2"` |
//! | | `thickness` | `"4.0 mm ± 0.2 mm"`; a layer of `"0 mm"` is not there |
//! | | `copper` | instead of the three: copper of this thickness, `"35 um"` or `"1 oz"` per square foot, between its neighbours |
//! | | \[`outline`\], \[`centre`\] | that of the board; `"0 mm, 0 mm"` |
//! | | \[`temperature_coefficient`\], \[`moisture`\], \[`ageing`\] | of its permittivity: `"300 ppm/K ± 100 ppm/K"`; dry to damp `"3 % ± 50 %"` (1.5 to 4.5 %); over its life; those of the material |
//! | | \[`dielectric_strength`\], \[`strength_thickness`\] | `"18 kV/mm ± 10 %"` on a sheet of `"3.2 mm"`; those of the material |
//! | `[material.NAME]` | `permittivity`, \[`source`\] | a material of this file; comes before the built-in ones |
//! | `[board]` | `outline` | `"60 mm x 60 mm"`; without `[board]` the copper and 10 mm around it |
//! | `[pads.NAME]` | `layer` | a copper layer |
//! | | `shape` | `"rectangle"`: `size`; `"rounded rectangle"`: `size`, `corner_radius`; `"disc"`: `diameter`; `"ring"`: `diameter`, `inner_diameter`; `"polygon"`: `corners`, a list of `"x, y"` around the pad's centre |
//! | | \[`columns`\], \[`rows`\] | 1 and 1: a row or grid |
//! | | `gap` | edge to edge, `"8 mm"` or `"8 mm, 6 mm"` for x and y; needed for several pads |
//! | | \[`centre`\] | `"0 mm, 0 mm"`: middle of the group |
//! | | \[`rotation`\] | `"0 deg"`: each pad about its centre, counter-clockwise |
//! | | \[`names`\] | one per pad, row by row from the top left; `NAME`, or `NAME-1`, `NAME-2`, ... |
//! | | \[`trace_length`\] | `"50 mm"`: one for all, or a list in the order of the names |
//! | `[ground.NAME]` | `layer` | a copper layer |
//! | | \[`fill`\] | `"solid"` |
//! | | \[`outline`\], \[`centre`\] | the whole board; `"0 mm, 0 mm"` |
//! | | `clearance` | distance kept to pads, needed when there are pads under the area |
//! | `[guard.NAME]` | `between`, `width` | a pad group; a trace in the middle of each gap, as long as the pads |
//! | | `state` | `"grounded"`, `"floating"` or `"driven"` |
//! | `[finger.NAME]` | `contact`, `dome` | diameters of the flat contact and of the dome above it, a paraboloid of revolution |
//! | | \[`length`\] | `"15 mm"` above the touched face |
//! | | \[`on`\], \[`offset`\] | a pad, or each in turn; `"0 mm, 0 mm"` from its centre |
//! | | \[`return`\] | `"earthed"`, or the capacitance to 0 V: `"120 pF"` |
//! | | \[`glove`\], \[`glove_permittivity`\] | thickness of a glove, `"1.5 mm"`, and its permittivity |
//! | | \[`aim_error`\], \[`source`\] | largest distance from the aim, that of `[window]`; for reports |
//! | `[supply.NAME]` | `to_earth` or `held` | `"earthed"` or a capacitance; body to device ground of a held device |
//! | | \[`common_mode`\] | that of `[circuit]`: `"0.5 V"` rms between device ground and earth |
//! | `[window]` | \[`users`\], \[`supplies`\] | by name: of this file or built-in ones |
//! | | \[`body`\], \[`aim_error`\] | `"120 pF"` (80 to 200) to earth; `"3 mm"` |
//! | | \[`palm_distance`\], \[`drift_residue`\] | no palm; no drift |
//! | | \[`near_miss`\] (must act, either, must not act) | either |
//! | | \[`noise_margin`\], \[`wanted_ratio`\], \[`release`\] | 3 standard deviations; 2; 0.75 of the threshold |
//! | | \[`touches_per_day`\], \[`false_per_year`\] | 100; 1 |
//! | top of the file | \[`application`\] | a list: `"mains"`, `"appliance"`, `"machinery"`, `"medical"`, `"emergency stop"`, `"vehicle"`, `"explosive atmosphere"`, `"public"`: which cautions are printed |
//! | `[stray]` | \[`pin`\], \[`trace`\] | `"5 pF"` (3 to 10) and `"0.3 pF/cm"` (0.1 to 0.6), common practice, no source |
//! | `[circuit]` | \[`principle`\] | `"resistor oscillator"`, `"current oscillator"` or `"charge transfer"` |
//! | | \[`resistor`\] | of a resistor oscillator: `"100 kohm"`; with tolerance `"100 kohm ± 1 %"` |
//! | | \[`current`\] | of a current oscillator: `"10 uA"` each way |
//! | | \[`thresholds`\] | of both, over the supply: `"1/3, 2/3"`; also `"25 %, 75 %"` |
//! | | \[`integration_capacitor`\], \[`reference`\], \[`transfer_time`\] | of a charge transfer: `"47 nF"`, `"1/2"` of the supply, `"2 us"` |
//! | | \[`supply`\], \[`comparator_delay`\] | `"3.3 V"`, `"40 ns"` each way |
//! | | \[`gate`\] | `"10 ms"`; or `periods = 100` that a `reference_clock = "16 MHz"` times |
//! | | \[`start`\] | `"free"`, or `"synchronised"` with what it is counted by |
//! | | \[`comparator_noise`\], \[`low_frequency_noise`\] | `"1 mV"` at the comparator, `"0.03 %"` of the count that does not average out, both rms |
//! | | \[`noise`\] | `"1.5 counts"`: measured in total, rms, instead of these two and quantisation |
//! | | \[`common_mode`\] | `"0 V"` rms between device ground and earth: noise while touched |
//! | | \[`series_resistor`\] | none; `"1 kohm"` between pad and pin |
//! | | \[`temperature_coefficient`\], \[`threshold_drift`\] | not counted: `"0 ppm/K ± 100 ppm/K"` of what sets the rate, of period or transfers |
//! | `[scan]` | \[`settle`\], \[`cycle`\] | `"0.1 ms"` before each measurement, `"20 ms"` from scan to scan |
//! | | \[`debounce`\], \[`filter`\], \[`feedback`\] | 2 scans that agree, `"0 ms"`, `"0 ms"` from decision to what the user notices |
//! | | \[`on_current`\], \[`sleep_current`\] | `"1 mA"`, `"2 uA"` |
//! | `[battery]` | `capacity`, \[`self_discharge`\] | `"2000 mAh"` that can be used; `"0 %"` a year |
//! | `[climate]` | \[`lowest`\], \[`highest`\], \[`reference`\] | `"0 degC"`, `"50 degC"`, `"23 degC"` |
//! | | \[`fastest_change`\], \[`moisture`\], \[`held`\] | `"1 K/min"`, `"yes"` or `"no"`, `"10 s"`: common practice, no source |
//! | `[discharge]` | \[`level`\], \[`margin`\], \[`sealed`\] | none: `"air 8 kV"`, `"contact 4 kV"`; 2 on puncture; none: `["left", "right", "bottom", "top"]` |
//! | `[study.NAME]` | `vary` | a list of what varies, see below |
//! | | \[`combine`\] | `"all"`, `"side by side"` or `"sample"` with `samples`, \[`sequence`\] (`"sobol"` or `"random"`), \[`seed`\] (1) |
//! | | \[`report`\] | `["base capacitance", "touch shift", "neighbour ratio"]`; also `"relative touch shift"`, `"neighbour shift"`, `"count shift"`, `"neighbour count shift"`, `"signal-to-noise ratio"`; `"touch shift of vent"` asks for one pad |
//! | | \[`limits`\] | a list of `quantity`, `at_most` or `at_least`, \[`because`\] |
//! | | \[`accuracy`\] | `"1 %"`: wanted estimated error of every base and touch shift |
//! | | \[`finger`\] | the first of the file |
//! | `[tolerance.NAME]` | `of` | values that move together by one draw: `["pads.keys.size", "-pads.keys.gap"]`, the second the other way |
//! | | `within`, or `plus` and `minus` | `"0.05 mm"` or `"5 %"` |
//! | | \[`shape`\], \[`deviations`\] | `"rectangular"`, `"triangular"` or `"normal"`, whose tolerance is 2 standard deviations |
//! | | \[`with`\], \[`correlation`\] | another tolerance before it, -1 to 1 |
//!
//! Without any finger there is one named `adult (default)`: contact 10 mm, dome 16 mm, earthed, on
//! every pad in turn (from memory). Defaults of `[circuit]` and `[scan]`: common practice, no source.
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

mod addition;
mod candidates;
pub mod catalogue;
mod defaults;
mod document;
mod document_question;
mod document_room;
mod document_scaled;
mod document_study;
mod document_tolerance;
mod error;
mod keys;
mod measure;
mod overrides;
mod paths;
pub mod quantity;
pub mod reading;
mod sections;
mod suggestion;
mod toml_text;
mod tree;
mod trust;
pub mod typed;
pub mod typed_circuit;
mod typed_environment;
mod typed_file;
pub mod typed_metal;
pub mod typed_study;
pub mod typed_tolerance;
pub mod words;

pub use addition::Addition;
pub use candidates::Candidate;
pub use document::Document;
pub use document_scaled::Scalable;
pub use document_tolerance::Movable;
pub use error::{Place, ScenarioError};
pub use measure::unit_factor;
pub use overrides::Override;
pub use toml_text::MAX_BYTES;

// For files of other modules that are read in the same way.
pub(crate) use error::Finding;
pub(crate) use keys::{Step, steps};
pub(crate) use trust::study::value_of;
pub(crate) use typed_file::TypedFile;
pub(crate) use words::{listed, nearest};

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

/// JSON Schema (2020-12) of the panel file, generated from [`typed::PanelFile`].
///
/// It describes keys and the form of every value; what values mean together (overlaps, names that
/// must exist) is beyond it.
pub fn schema() -> serde_json::Value {
    let mut schema = schemars::schema_for!(typed::PanelFile).to_value();
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
