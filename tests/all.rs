//! The tests of the library and of the program as one program: it links once, and cores that one file
//! leaves idle are another's. `cargo test --test all window::` runs those of `tests/window.rs`. What needs
//! a process of its own (a counting allocator, a browser, a cluster, a feature) is named in `Cargo.toml`.

mod accuracy;
mod against;
mod answers;
mod archives;
mod bad_panel_files;
mod bad_rules;
mod beside;
mod catalogue;
mod changed_results;
mod chart_command;
mod checks;
mod circuit;
mod cli;
mod compare;
mod discharge;
// Charts read back as the tests of the charts read them.
#[allow(dead_code)]
#[path = "../crates/chart/tests/drawing/mod.rs"]
mod drawing;
mod drawings;
mod drift;
mod event;
mod every_scenario;
mod exact;
mod figures;
mod find;
mod fuzzed;
mod guide;
mod hazel;
mod hole_and_slot;
mod invented_panels;
mod layering;
mod layout;
mod measuring_circuit;
mod measuring_circuit_noise;
mod messages;
mod named_sections;
mod new_question;
mod note;
mod panel_file;
mod printed;
mod processes;
mod questions;
mod quick;
mod reference;
mod return_path;
mod room;
mod rules;
mod sensitivity;
mod shards;
mod shipped_studies;
mod shown_numbers;
mod slider_decision;
mod so_far;
mod solved_fields;
mod sweep_kill;
mod tolerance;
mod touches;
mod trends;
mod wet_films;
mod whole_panels;
mod window;
