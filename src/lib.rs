//! padfield: capacitive touch panels from one panel file, with error bars.
//!
//! How many picofarads does a pad have, how many more under a finger, how many of those reach its
//! neighbour, and how far can each number be trusted? The answer goes one way through the crate;
//! every step is a function of the one before:
//!
//! ```text
//! panel file -> panel -> case -> painted grid -> two networks -> matrix with bounds -> response
//! ```
//!
//! | step | module | takes | gives |
//! |---|---|---|---|
//! | read | [`input`], [`input::materials`] | text of a panel file, overrides | a checked [`panel::Panel`] |
//! | lower | [`panel::lowering`] | panel, touched pad, finger | a [`engine::case::Case`] |
//! | (or read) | [`engine::case_record`] | text of a raw case record | a [`engine::case::Case`] |
//! | grade, paint | [`engine::grid`] | case, fineness | cells with permittivity, nodes and faces with conductors |
//! | solve | [`engine::field`], with [`engine::multigrid`] | case, accuracy | [`engine::field::FieldAnswer`]: matrix, bounds, shift |
//! | hatch | [`engine::hatch`] | pitch, width, thickness of a copper pattern | how much it leaks: its screen depth |
//! | reduce | [`engine::capacitance`] | matrix, role of every conductor | what one pin sees |
//! | compare | [`estimate`] | lengths, permittivities | hand estimates |
//! | touch | [`touch`] | panel, places of fingers | fields of all pads, for any return path |
//! | count | [`measuring_circuit`] | capacitances at the pin | counts, noise, scan time, current |
//! | happen | [`event`] | an event, what pads show of it, inputs | its counts, nominal and over all tolerances |
//! | answer | [`response`] | panel, finger, settings | [`response::Response`]: base, touch shift, neighbours |
//! | weigh | [`questions::against`] | panel, its variants, finger | what a change buys and costs, pad by pad |
//! | decide | [`questions::window`] | panel, its users | events in counts, thresholds, what widens the window |
//! | walk | [`questions::walk`] | panel, fingers, a line or a raster | counts of every pad at every place |
//! | outlast | [`questions::drift`] | panel with a climate, a finger | walk of the baseline, tracking, what a reference leaves |
//! | return | [`questions::return_path`] | panel with supplies, a finger | shift over return capacitance, common-mode noise |
//! | discharge | [`questions::discharge`] | panel with strengths | what every path holds, what each level needs |
//! | trade | [`questions::circuit`] | a response, resistors, gates | signal-to-noise ratio against response and current |
//! | register | [`checks`] | what failed, is open, undecided, unusual | one list: exit codes, warnings, risks |
//! | caution | [`cautions`] | panel, what it is part of | what its numbers do not decide |
//! | draw | [`chart`] | series, maps, samples, limits | SVG text, PNG bytes |
//! | vary | [`study`] | variables of a panel file | a plan of points |
//! | remember | [`solved`] | rounds of the engine | the same rounds, from one command to the next |
//! | keep | [`store`] | finished points | a durable record, tables |
//! | choose charts | [`figures`] | rows of a study | charts, crossings with limits |
//! | sweep | [`sweep`] | panel file, study, store | the plan, solved |
//! | share out | [`cluster`] | a study, what a few points took | a job script for many machines |
//! | find | [`questions::find`] | panel file, a range, a condition | where a quantity meets its limit |
//! | judge | [`questions::rules`] | panel file, rules of thumb | which hold, are more careful than needed, fail |
//! | correlate | [`questions::compare`] | measured values, a panel | which single assumption explains them |
//! | revise | [`questions::compare::revision`] | two panels compared, a window | keep, retune, reject, pad by pad |
//! | picture | [`drawing`] | panel, finger | stackup, board, the field of a touch in a cut |
//! | say | [`report`] | an answer in blocks | text for a terminal; HTML, Markdown, PDF of a note |
//! | write down | [`note`] | panel file, all answers | the design note in blocks |
//! | check | [`engine::verify`] | catalogue, settings | computed beside published values |
//! | show | [`cli`] | arguments | text, exit code |
//!
//! These modules are private but for [`checks`], [`report`], [`rounding`] and [`cli`]; what one builds on is named
//! at the end of this file: [`panel_from_bytes`], [`respond`], [`run_sweep`] and what they take and give.
//!
//! What begins with `engine` is the crate `padfield-engine` in `crates/engine`, which knows no pad and no panel:
//! begin there for how a field is solved; [`chart`] is `padfield-chart` in `crates/chart`, which knows neither.
//! [`engine::units`] carries values with their unit across the borders: SI inside, millimetres and picofarads at the
//! edges; [`engine::hidden`] says which characters no name may hold. [`accuracy`] says what missed the accuracy asked,
//! [`rounding`] how many digits of a number are shown, [`cells`] how text stands in a CSV. Only [`cli`] prints, only [`cli`] and [`store`] touch files. Bad input is an error with its
//! place, never a panic.
//!
//! # Example
//!
//! ```
//! use padfield::engine::field::Settings;
//! use padfield::{LoweringOptions, Request, panel_from_bytes, respond};
//!
//! let text = br#"
//! model = "axisymmetric"
//! [[layer]]
//! name = "overlay"
//! material = "acrylic"
//! thickness = "3 mm"
//! [[layer]]
//! name = "front"
//! copper = "35 um"
//! [pads.key]
//! layer = "front"
//! shape = "disc"
//! diameter = "12 mm"
//! "#;
//! let panel = panel_from_bytes("key.toml", text, &[])?;
//! let request = Request {
//!     panel: &panel,
//!     finger: None,
//!     pad: None,
//!     settings: Settings { accuracy: 0.02, ..Settings::default() },
//!     options: LoweringOptions::default(),
//! };
//! let response = respond(&request, &|_| {})?;
//! assert!(response.pads[0].touch.is_some());
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

// What a room shows it also shows to tests; to nobody else does it owe a sentence for every item.
#![cfg_attr(not(feature = "rooms"), allow(unused_imports))]
#![cfg_attr(feature = "rooms", allow(missing_docs))]

/// The charts: figures, drawings and notes of this crate are made of them.
pub use padfield_chart as chart;
/// The field engine: its types stand in the panels, settings and answers of this crate.
pub use padfield_engine as engine;

pub mod checks;
pub mod cli;
pub mod report;
pub mod rounding;

// What one builds on: read a panel, ...
pub use input::{Document, Override, ScenarioError, panel_from_bytes};
pub use panel::{Panel, lowering::LoweringOptions};
// ... solve it, with the error bars of every number, ...
pub use response::{PadResponse, Request, Response, ResponseError, respond, respond_under};
pub use touch::WorkLimits;
// ... and sweep over variants of it.
pub use store::{Reader, Row, Store, StoreError, StudyRecord};
pub use study::Study;
pub use sweep::{
    Job, Limits, ModelSummary, Progress, Summary, Survey, SweepError, Use, run as run_sweep,
};

/// The other rooms of the application: private, so that the compiler finds what nobody uses, but for its own
/// tests and benches (feature `rooms`).
#[path = ""]
mod house {
    pub mod accuracy;
    pub mod cautions;
    pub mod cells;
    pub mod cluster;
    pub mod drawing;
    pub mod estimate;
    pub mod event;
    pub mod figures;
    pub mod input;
    pub mod measuring_circuit;
    pub mod note;
    pub mod panel;
    pub mod questions;
    pub mod record;
    pub mod response;
    pub mod sensitivity;
    pub mod solved;
    pub mod spread;
    pub mod store;
    pub mod study;
    pub mod sweep;
    pub mod touch;
}

#[cfg(not(feature = "rooms"))]
use house::*;
#[cfg(feature = "rooms")]
pub use house::*;
