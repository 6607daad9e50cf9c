//! padfield: capacitive touch panels from one panel file, with error bars.

pub mod capacitance;
pub mod case;
pub mod field;
pub mod panel;
pub mod units;
