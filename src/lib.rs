//! padfield: capacitive touch panels from one panel file, with error bars.

pub mod capacitance;
pub mod case;
pub mod case_record;
pub mod cli;
pub mod estimate;
pub mod field;
pub mod grid;
pub mod materials;
pub mod multigrid;
pub mod panel;
pub mod response;
pub mod scenario;
pub mod units;
pub mod verify;
