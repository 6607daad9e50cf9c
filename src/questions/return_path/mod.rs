//! Return path: what is left of a touch when the device's ground is tied to earth weakly, and the noise that
//! comes through it.
//!
//! Takes a panel with its supplies and a finger; gives a [`ReturnStudy`]: per pad the shift against the
//! capacitance between body and device ground, the least capacitance that keeps a share of the earthed shift
//! or a number of counts, and every supply with its shift and its common-mode noise; fails when a touch
//! cannot be solved. One field problem per pad gives all of it: the finger floats in the algebra of
//! [`padfield_engine::capacitance`].
//!
//! - Return of a supply: body and device to earth in series, or the hand that holds the device
//!   ([`Supply::return_range`](crate::panel::Supply::return_range)).
//! - Common mode: a voltage between device ground and earth is in series with the finger; as a capacitance
//!   coupling times voltage over swing
//!   ([`Circuit::common_mode_noise`](crate::measuring_circuit::Circuit::common_mode_noise)).
//!
//! The search for the least capacitance, on the textbook series formula `C' = C C_ret/(C + C_ret)`, of which
//! 90 % are left at nine times the touch shift:
//!
//! ```
//! use padfield::questions::return_path::least_return;
//! use padfield_engine::units::Capacitance;
//!
//! let series = |path: Capacitance| 0.72 * path.pf() / (0.72 + path.pf());
//! let least = least_return(&|path| Some(series(path)), 0.9 * 0.72).expect("there is one");
//! assert!((least.pf() - 9.0 * 0.72).abs() < 1e-6);
//! ```

mod checks;
mod compute;
mod picture;
mod record;
mod report;

pub use compute::{least_return, return_study};
pub use picture::picture;
pub use record::ReturnRecord;
pub use report::report;

use padfield_engine::field::Printed;
use padfield_engine::units::{Capacitance, Voltage};

/// Capacitances that are looked at \[pF\]: from less than a wire in the air to more than any body.
pub const RANGE_PF: [f64; 2] = [0.1, 10_000.0];

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question<'q> {
    /// The finger; none: the first of the file.
    pub finger: Option<&'q str>,
    /// Share of the earthed shift to keep.
    pub share: f64,
    /// Counts to keep on every supply.
    pub counts: Option<f64>,
}

/// Share of the earthed shift that a return path shall keep when nobody says another one (common practice, no
/// source).
pub const KEPT_SHARE: f64 = 0.9;

impl Default for Question<'_> {
    fn default() -> Self {
        Self {
            finger: None,
            share: KEPT_SHARE,
            counts: None,
        }
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct OnSupply {
    pub supply: String,
    /// Body to device ground at nominal values; none: without limit.
    pub path: Option<Capacitance>,
    /// Touch shift at nominal values and at the ends of the return path \[F\]: nominal, weakest, strongest.
    pub shift: [f64; 3],
    /// Estimated numerical error of the nominal shift \[F\].
    pub shift_error: f64,
    /// The same as count shifts.
    pub counts: [f64; 3],
    /// Estimated numerical error of the nominal one \[counts\].
    pub counts_error: f64,
    /// Voltage between device ground and earth, rms.
    pub common_mode: Voltage,
    /// Whether it is that of the supply; otherwise that of the circuit.
    pub common_mode_is_own: bool,
    /// Noise it makes while touched \[counts rms\].
    pub common_mode_counts: f64,
    /// All noise while touched \[counts rms\].
    pub noise_counts: f64,
}

/// Least capacitance that meets a wish.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Least {
    /// This much.
    Needs(Capacitance),
    /// Any return path does.
    Any,
    /// Not even an earthed finger does.
    Never,
}

/// A pad under every return path.
#[derive(Clone, Debug, PartialEq)]
pub struct PadReturn {
    /// Panel index.
    pub pad: usize,
    pub name: String,
    /// Touch shift of an earthed finger \[F\].
    pub earthed: f64,
    /// Its estimated numerical error \[F\].
    pub earthed_error: f64,
    /// The same as a count shift.
    pub earthed_count_shift: f64,
    /// Its estimated numerical error \[counts\].
    pub earthed_count_shift_error: f64,
    /// Return capacitance and what it leaves of the earthed shift, rising.
    pub curve: Vec<(Capacitance, f64)>,
    /// Least return that keeps the share asked for.
    pub for_share: Least,
    /// Least return that keeps the counts asked for.
    pub for_counts: Option<Least>,
    /// On every supply of the panel.
    pub supplies: Vec<OnSupply>,
}

/// A panel under every return path.
#[derive(Clone, Debug, PartialEq)]
pub struct ReturnStudy {
    pub finger: String,
    /// Share asked for.
    pub share: f64,
    /// Counts asked for.
    pub counts: Option<f64>,
    /// The pads; segments of sliders are not among them.
    pub pads: Vec<PadReturn>,
    pub assumptions: Vec<String>,
    /// Field problems solved, each untouched and touched.
    pub field_problems: usize,
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
}

impl PadReturn {
    /// Share of the earthed shift at a return capacitance \[pF\], between the points of the curve.
    pub fn at(&self, pf: f64) -> f64 {
        let after = self.curve.partition_point(|(path, _)| path.pf() < pf);
        let point = |index: usize| {
            self.curve
                .get(index)
                .map(|(path, share)| (path.pf(), *share))
        };
        match (after.checked_sub(1).and_then(point), point(after)) {
            (Some((low, below)), Some((high, above))) => {
                below + (above - below) * (pf / low).ln() / (high / low).ln()
            }
            (Some((_, share)), None) | (None, Some((_, share))) => share,
            (None, None) => f64::NAN,
        }
    }
}

impl ReturnStudy {
    /// Whether every pad keeps the counts asked for at the weakest return of every supply; true when none are
    /// asked for.
    pub fn keeps_counts(&self) -> bool {
        let Some(wanted) = self.counts else {
            return true;
        };
        let supplies = self.pads.iter().flat_map(|pad| &pad.supplies);
        supplies
            .into_iter()
            .all(|supply| supply.counts[1] >= wanted)
    }
}
