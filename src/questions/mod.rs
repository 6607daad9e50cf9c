//! What an engineer asks of a panel: one room a question.
//!
//! `mod.rs` of a room computes the answer, `record.rs` says it as JSON, `picture.rs` draws it, `checks.rs` tells what of
//! it failed or is open. A room may use those before it in this list, and nothing above: no command line, no note.

pub mod against;
pub mod circuit;
pub mod compare;
pub mod discharge;
pub mod drift;
pub mod find;
pub mod return_path;
pub mod rules;
pub mod slider;
pub mod tolerance;
pub mod traces;
pub mod walk;
pub mod window;
