//! A shift of capacitance as a shift of the count, with what is uncertain about it.

use super::{Circuit, Counting, Principle};
use padfield_engine::units::{Capacitance, Toleranced};

/// A shift in counts, positive when the capacitance rises, whichever way the count goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CountShift {
    /// The shift \[counts\], at nominal values.
    pub value: f64,
    /// Estimated numerical error \[counts\], never negative.
    pub error: f64,
    /// Smallest and largest over the input tolerance of the stray capacitance and of what sets the
    /// circuit's rate: over the corners of both.
    pub tolerance_range: [f64; 2],
}

impl Circuit {
    /// Whether a rising capacitance makes the count rise; otherwise it falls.
    pub fn rises(&self) -> bool {
        !matches!(self.principle, Principle::ChargeTransfer { .. })
            && matches!(self.counting, Counting::Periods { .. })
    }

    /// Counts towards a touch: [`Circuit::count_shift`] with the sign that makes a rise of capacitance
    /// positive.
    pub fn counts_towards_touch(&self, base: Capacitance, shift: Capacitance) -> f64 {
        let sign = if self.rises() { 1.0 } else { -1.0 };
        sign * self.count_shift(base, shift)
    }

    /// The shift of a count, exact at nominal values, its error to first order in those of base and
    /// shift, its range over the corners of the tolerances.
    ///
    /// `at_pin` is the base at the pin with the tolerance of its stray part; `shift` is the first of
    /// `shifts`, the others widen the range.
    ///
    /// # Panics
    /// Without any shift.
    pub fn shift_in_counts(
        &self,
        at_pin: &Toleranced<Capacitance>,
        base_error: Capacitance,
        shifts: &[Capacitance],
        shift_error: Capacitance,
    ) -> CountShift {
        let shift = *shifts.first().expect("at least one shift");
        let base = at_pin.nominal;
        let value = self.counts_towards_touch(base, shift);
        let [slow, fast] = self.at_tolerance_ends();
        let mut tolerance_range = [value; 2];
        for circuit in [self, &slow, &fast] {
            for base in [at_pin.least, at_pin.nominal, at_pin.most] {
                for &shift in shifts {
                    let corner = circuit.counts_towards_touch(base, shift);
                    tolerance_range = [
                        tolerance_range[0].min(corner),
                        tolerance_range[1].max(corner),
                    ];
                }
            }
        }
        CountShift {
            value,
            error: self.count_error(base, shift, base_error, shift_error),
            tolerance_range,
        }
    }

    /// Estimated numerical error of the counts of a shift, to first order in those of base and shift
    /// \[counts\].
    pub fn count_error(
        &self,
        base: Capacitance,
        shift: Capacitance,
        base_error: Capacitance,
        shift_error: Capacitance,
    ) -> f64 {
        let slope = |capacitance| self.counts_per_farad(capacitance);
        let touched = slope(base + shift);
        touched.abs() * shift_error.farads() + (touched - slope(base)).abs() * base_error.farads()
    }

    /// Noise of the count of a touched pad \[counts rms\]: its own and what comes through the finger,
    /// where the capacitance through the finger is known.
    pub fn noise_while_touched(&self, touched: Capacitance, through: Option<Capacitance>) -> f64 {
        let common_mode = through.map_or(0.0, |c| self.common_mode_noise(touched, c));
        self.noise(touched).total().hypot(common_mode)
    }
}
