//! Periods and counts of a capacitance at the pin.

use super::{Circuit, Counting, Principle, Thresholds};
use padfield_engine::units::{Capacitance, Current, Frequency, Time, Voltage};

/// One period of an oscillator at a capacitance, with what follows from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Period {
    /// \[s\]
    pub seconds: f64,
    /// Change per capacitance \[s/F\].
    pub per_farad: f64,
    /// Change when the upper threshold rises \[s/V\].
    pub per_volt_high: f64,
    /// Change when the lower threshold falls \[s/V\].
    pub per_volt_low: f64,
    /// What the node really swings through, overrun included \[V\].
    pub swing_volts: f64,
}

impl Circuit {
    /// The oscillator's period; none for charge transfer.
    ///
    /// During the delay t_d the node runs on beyond its threshold and has that way to come back. The
    /// usual "+ 2 t_d" leaves the way back out: small for t_d << T, but of the size of 2 t_d itself.
    /// Resistor, x = t_d/(R C), with the upper threshold h and the lower one l over the supply:
    /// T = 2 t_d + R C \[ln((1 - l e^-x)/(1 - h)) + ln((1 - (1 - h) e^-x)/l)\].
    /// Constant current: T = 2 C (h - l) V/I + 4 t_d. Source: derived; checked against an integration
    /// of the circuit in time (tests/circuit.rs).
    pub(super) fn oscillation(&self, capacitance: Capacitance) -> Option<Period> {
        let delay = self.comparator_delay.seconds();
        let supply = self.supply.volts();
        let farads = capacitance.farads();
        match self.principle {
            Principle::ResistorOscillator {
                resistor,
                thresholds: Thresholds { low, high },
            } => {
                let ohms = resistor.nominal.ohms();
                let constant = ohms * farads;
                let passed = delay / constant;
                let left = (-passed).exp();
                let top = 1.0 - (1.0 - high) * left;
                let bottom = low * left;
                let logarithms = ((1.0 - bottom) / (1.0 - high)).ln() + (top / low).ln();
                // Of the logarithms to x.
                let change = bottom / (1.0 - bottom) + (1.0 - high) * left / top;
                Some(Period {
                    seconds: 2.0 * delay + constant * logarithms,
                    per_farad: ohms * (logarithms - passed * change),
                    per_volt_high: constant * (1.0 / (1.0 - high) + left / top) / supply,
                    per_volt_low: constant * (1.0 / low + left / (1.0 - bottom)) / supply,
                    swing_volts: (top - bottom) * supply,
                })
            }
            Principle::CurrentOscillator {
                current,
                thresholds,
            } => {
                let amperes = current.nominal.amperes();
                let volts = thresholds.swing() * supply;
                let per_farad = 2.0 * volts / amperes;
                let per_volt = 2.0 * farads / amperes;
                Some(Period {
                    seconds: farads * per_farad + 4.0 * delay,
                    per_farad,
                    per_volt_high: per_volt,
                    per_volt_low: per_volt,
                    swing_volts: volts + 2.0 * amperes * delay / farads,
                })
            }
            Principle::ChargeTransfer { .. } => None,
        }
    }

    /// Transfers until the integration capacitor has the reference voltage, as a real number; none for
    /// oscillators.
    ///
    /// Every transfer joins the pad, charged to the supply, with the integration capacitor, so that
    /// what is missing to the supply shrinks by C_int/(C_int + C): after n transfers the integration
    /// capacitor has V \[1 - (C_int/(C_int + C))^n\], and n = ln(1 - r)/ln(C_int/(C_int + C)) at the
    /// reference r V. Assumed: it starts empty, every transfer is complete, nothing leaks. Source:
    /// derived from the balance of charge.
    fn transfers(&self, capacitance: Capacitance) -> Option<f64> {
        match self.principle {
            Principle::ChargeTransfer {
                integration_capacitor,
                reference,
                ..
            } => {
                let ratio = capacitance / integration_capacitor.nominal;
                Some(-(-reference).ln_1p() / ratio.ln_1p())
            }
            _ => None,
        }
    }

    /// Period of the oscillator, or time of one transfer, at a capacitance at the pin.
    ///
    /// ```
    /// use padfield::measuring_circuit::Circuit;
    /// use padfield_engine::units::{Capacitance, Time};
    ///
    /// let mut circuit = Circuit { comparator_delay: Time::from_ns(0.0), ..Circuit::default() };
    /// let base = Capacitance::from_pf(15.0);
    /// assert!((circuit.period(base).us() - 2.0794415).abs() < 1e-7);
    /// // A delay counts three times: twice by itself, once for the way back.
    /// circuit.comparator_delay = Time::from_ns(1.0);
    /// assert!((circuit.period(base).us() - 2.0794415 - 0.003).abs() < 1e-6);
    /// ```
    pub fn period(&self, capacitance: Capacitance) -> Time {
        match (self.oscillation(capacitance), self.principle) {
            (Some(period), _) => Time::from_seconds(period.seconds),
            (None, Principle::ChargeTransfer { transfer_time, .. }) => transfer_time,
            (None, _) => unreachable!("only charge transfer has no oscillation"),
        }
    }

    /// Frequency of the oscillator, or of the transfers.
    pub fn frequency(&self, capacitance: Capacitance) -> Frequency {
        Frequency::from_hertz(1.0 / self.period(capacitance).seconds())
    }

    /// The count at a capacitance at the pin, as a real number: the mean of many whole ones.
    pub fn count(&self, capacitance: Capacitance) -> f64 {
        if let Some(transfers) = self.transfers(capacitance) {
            return transfers;
        }
        let period = self.period(capacitance).seconds();
        match self.counting {
            Counting::Gate(gate) => gate.seconds() / period,
            Counting::Periods {
                periods,
                reference_clock,
            } => f64::from(periods) * period * reference_clock.hertz(),
        }
    }

    /// Change of the count when a shift comes on top of the base at the pin, as a difference of the two
    /// counts. Negative where the count falls: in a fixed gate and with charge transfer.
    ///
    /// The usual N dC/C times the dilution is the same to first order.
    pub fn count_shift(&self, base: Capacitance, shift: Capacitance) -> f64 {
        self.count(base + shift) - self.count(base)
    }

    /// Change of the count per capacitance \[counts/F\], with its sign.
    pub fn counts_per_farad(&self, capacitance: Capacitance) -> f64 {
        match (self.principle, self.oscillation(capacitance)) {
            (_, Some(period)) => {
                let relative = period.per_farad / period.seconds;
                let sign = match self.counting {
                    Counting::Gate(_) => -1.0,
                    Counting::Periods { .. } => 1.0,
                };
                sign * relative * self.count(capacitance)
            }
            (
                Principle::ChargeTransfer {
                    integration_capacitor,
                    ..
                },
                None,
            ) => {
                let integration = integration_capacitor.nominal;
                let logarithm = (capacitance / integration).ln_1p();
                -self.count(capacitance) / logarithm / (integration + capacitance).farads()
            }
            (_, None) => unreachable!("only charge transfer has no oscillation"),
        }
    }

    /// Share of a relative change of capacitance that reaches the period (or the count of transfers):
    /// 1 without a delay. The comparator's delay dilutes the shift: k R C/(k R C + 2 t_d) to first
    /// order, here with the way back (see [`Circuit::period`]).
    pub fn dilution(&self, capacitance: Capacitance) -> f64 {
        match self.oscillation(capacitance) {
            Some(period) => capacitance.farads() * period.per_farad / period.seconds,
            None => {
                let slope = self.counts_per_farad(capacitance).abs();
                slope * capacitance.farads() / self.count(capacitance)
            }
        }
    }

    /// Periods or transfers in one measurement.
    pub(super) fn periods(&self, capacitance: Capacitance) -> f64 {
        match (self.principle, self.counting) {
            (Principle::ChargeTransfer { .. }, _) | (_, Counting::Gate(_)) => {
                self.count(capacitance)
            }
            (_, Counting::Periods { periods, .. }) => f64::from(periods),
        }
    }

    /// Time of one measurement.
    pub fn measuring_time(&self, capacitance: Capacitance) -> Time {
        match (self.principle, self.counting) {
            (Principle::ChargeTransfer { .. }, _) | (_, Counting::Periods { .. }) => {
                self.period(capacitance) * self.periods(capacitance)
            }
            (_, Counting::Gate(gate)) => gate,
        }
    }

    /// Mean current from the supply into the pad while it is measured: the charge of one swing per
    /// period, or that of the integration capacitor per measurement.
    pub fn charging_current(&self, capacitance: Capacitance) -> Current {
        Current::from_amperes(match (self.oscillation(capacitance), self.principle) {
            (Some(period), _) => capacitance.farads() * period.swing_volts / period.seconds,
            (
                None,
                Principle::ChargeTransfer {
                    integration_capacitor,
                    reference,
                    ..
                },
            ) => {
                let charge =
                    integration_capacitor.nominal.farads() * reference * self.supply.volts();
                charge / self.measuring_time(capacitance).seconds()
            }
            (None, _) => unreachable!("only charge transfer has no oscillation"),
        })
    }

    /// Voltage the pad swings through in one period; the whole supply for charge transfer.
    pub fn swing(&self, capacitance: Capacitance) -> Voltage {
        let supply = self.supply;
        self.oscillation(capacitance)
            .map_or(supply, |period| Voltage::from_volts(period.swing_volts))
    }
}
