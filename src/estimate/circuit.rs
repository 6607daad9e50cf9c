//! What the circuit makes of a shift.

use padfield_engine::units::Capacitance;

/// Touch shift seen through the body's return capacitance, dC C_ret / (dC + C_ret).
///
/// Slightly optimistic: eliminating the finger from the matrix also counts its own capacitance to
/// everything else. Source: two capacitances in series.
///
/// ```
/// use padfield::estimate::series_return;
/// use padfield_engine::units::Capacitance;
///
/// let shift = series_return(Capacitance::from_pf(1.0), Capacitance::from_pf(9.0));
/// assert!((shift.pf() - 0.9).abs() < 1e-12);
/// ```
pub fn series_return(shift: Capacitance, return_path: Capacitance) -> Capacitance {
    shift * (return_path / (shift + return_path))
}

/// Relative shift dC / C_b, change over the untouched base (0.1 = 10 %): the change of an oscillator's
/// period. Its frequency falls by less, by dC / (C_b + dC).
///
/// The base is the one at the pin: field part, trace and pin together. Leaving trace and pin out
/// overstates the shift 1.5 to 5 times. Source: a period grows with the capacitance it charges.
///
/// ```
/// use padfield::estimate::relative_shift;
/// use padfield_engine::units::Capacitance;
///
/// let shift = relative_shift(Capacitance::from_pf(1.0), Capacitance::from_pf(10.0));
/// assert!((shift - 0.1).abs() < 1e-12);
/// ```
pub fn relative_shift(shift: Capacitance, base_at_pin: Capacitance) -> f64 {
    shift / base_at_pin
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_earthed_finger_loses_nothing() {
        let shift = Capacitance::from_pf(0.7);
        let earthed = series_return(shift, Capacitance::from_pf(1e9));
        assert!((earthed.pf() - 0.7).abs() < 1e-9);
        let battery = series_return(shift, Capacitance::from_pf(0.7));
        assert!((battery.pf() - 0.35).abs() < 1e-12);
    }

    #[test]
    fn stray_capacitance_dilutes_the_shift() {
        let shift = Capacitance::from_pf(0.72);
        let field_only = relative_shift(shift, Capacitance::from_pf(5.73));
        let at_pin = relative_shift(shift, Capacitance::from_pf(5.73 + 8.0));
        // 0.72 / 5.73 by hand.
        assert!((field_only - 0.1257).abs() < 1e-4);
        assert!(field_only / at_pin > 1.5);
    }
}
