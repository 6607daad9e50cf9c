//! Answers for machines: the form in which every key of an answer is written down once, and the shapes that
//! many answers share.
//!
//! Takes values in the unit that the key names; gives types that serialise to JSON and know their schema; never
//! fails. A key has one line that says its name, its type and where it comes from, and above it what it is:
//! that sentence is its description in the schema, which `padfield schema` prints.

use crate::rounding::rounded_with_error;
use padfield_engine::units::{Capacitance, Toleranced};
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt;

/// A part of an answer as machines read it: a struct whose fields are the keys, and its making from what the
/// question found.
///
/// `record! { /** What it is. */ pub struct Name(found: &Found) { /** What the key says. */ key: f64 = found.value, } }`
/// is a `#[derive(Serialize, JsonSchema)] struct Name { key: f64 }` with `Name::of(found)`. Attributes of serde
/// stand beside the sentence of a key.
macro_rules! record {
    ($(
        $(#[$about:meta])*
        $visibility:vis struct $name:ident($($from:ident: $source:ty),+ $(,)?) {
            $($(#[$key_is:meta])* $key:ident: $type:ty = $value:expr,)+
        }
    )+) => {$(
        $(#[$about])*
        #[derive(Clone, Debug, serde::Serialize, schemars::JsonSchema)]
        $visibility struct $name {
            $($(#[$key_is])* pub $key: $type,)+
        }

        impl $name {
            /// From what was found.
            $visibility fn of($($from: $source),+) -> Self {
                Self { $($key: $value,)+ }
            }
        }
    )+};
}
pub(crate) use record;

/// A number and how far off it may be, in the same unit.
///
/// It is printed with as many digits as its error allows.
///
/// ```
/// use padfield::record::Uncertain;
///
/// let shift = Uncertain { value: 0.6412, error: 0.0213 };
/// assert_eq!(shift.to_string(), "0.64 ± 0.03");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Uncertain {
    /// The number.
    pub value: f64,
    /// Its estimated numerical error, never negative.
    #[serde(rename = "estimated_error")]
    pub error: f64,
}

impl fmt::Display for Uncertain {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&rounded_with_error(self.value, self.error))
    }
}

record! {
    /// A computed capacitance and how far off it may be.
    pub struct Picofarads(value: f64, error: f64) {
        /// Its value, pF.
        value_pf: f64 = value,
        /// Its estimated numerical error, pF.
        estimated_error_pf: f64 = error,
    }

    /// A capacitance over the tolerances of the inputs.
    pub struct PicofaradBounds(of: &Toleranced<Capacitance>) {
        /// At nominal inputs, pF.
        nominal_pf: f64 = of.nominal.pf(),
        /// The least that the tolerances allow, pF.
        least_pf: f64 = of.least.pf(),
        /// The most that the tolerances allow, pF.
        most_pf: f64 = of.most.pf(),
    }
}

/// A ratio as JSON has it, which has no word for one without an end.
pub(crate) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// A list of what was found as a list of records.
pub(crate) fn all<'f, F: 'f, R>(
    found: impl IntoIterator<Item = &'f F>,
    of: fn(&'f F) -> R,
) -> Vec<R> {
    found.into_iter().map(of).collect()
}
