//! Noise of a count, rms.

use super::{Circuit, NoiseParts, NoiseSource, Principle, Start};
use padfield_engine::units::Capacitance;

/// Peak to peak over rms of a noise that is spread normally: six times, common practice, no source.
pub const PEAK_TO_PEAK_OVER_RMS: f64 = 6.0;

/// Parts of the noise of one count \[counts rms\].
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoiseCounts {
    /// Measured in total.
    Measured(f64),
    /// Computed: independent parts, which add as squares.
    Parts {
        /// Counts are whole.
        quantisation: f64,
        /// Periods differ, independently of one another.
        jitter: f64,
        /// What does not average out.
        low_frequency: f64,
    },
}

impl NoiseCounts {
    /// All of it \[counts rms\].
    pub fn total(&self) -> f64 {
        match *self {
            Self::Measured(total) => total,
            Self::Parts {
                quantisation,
                jitter,
                low_frequency,
            } => quantisation.hypot(jitter).hypot(low_frequency),
        }
    }
}

impl Start {
    /// Noise of a whole count \[counts rms\], over all places the true count may have between two whole
    /// ones: 1/sqrt(6) free-running (both ends are cut off at random), 1/sqrt(12) when both start
    /// together. Exact: variances of the triangular and of the uniform distribution.
    pub fn quantisation(self) -> f64 {
        match self {
            Self::Free => (1.0_f64 / 6.0).sqrt(),
            Self::Synchronised => (1.0_f64 / 12.0).sqrt(),
        }
    }
}

impl Circuit {
    /// Noise of the count of an untouched pad.
    ///
    /// - Quantisation: [`Start::quantisation`].
    /// - Jitter: N (sigma_T/T)/sqrt(periods), that is sqrt(N) sigma_T/T in a gate; sigma_T from the
    ///   comparator's noise, see below, and what was entered as jitter of a period.
    /// - Floor: N times what was entered as low-frequency noise.
    ///
    /// Every crossing sees its threshold displaced by its own draw of the comparator's noise v, which
    /// moves the turning point and so both ramps that meet there: sigma_T = v sqrt((dT/dV_H)² +
    /// (dT/dV_L)²), one over the slope before plus one over the slope after each threshold. Source: noise
    /// over slope as in Abidi and Meyer, Noise in relaxation oscillators, IEEE J. Solid-State Circuits
    /// SC-18(6), 1983; the sum of both ramps derived, checked against a simulation
    /// (tests/measuring_circuit_noise.rs). With charge transfer the noise meets the last voltage step only:
    /// v over the step of one transfer. Assumed: noise small against steps and swing.
    pub fn noise(&self, capacitance: Capacitance) -> NoiseCounts {
        let parts = match self.noise {
            NoiseSource::Measured(total) => return NoiseCounts::Measured(total),
            NoiseSource::Parts(parts) => parts,
        };
        let count = self.count(capacitance);
        let from_comparator = match (self.oscillation(capacitance), self.principle) {
            (Some(period), _) => {
                let sigma = parts.comparator.volts()
                    * period.per_volt_high.hypot(period.per_volt_low)
                    / period.seconds;
                self.jitter_of(capacitance, sigma)
            }
            (
                None,
                Principle::ChargeTransfer {
                    integration_capacitor,
                    reference,
                    ..
                },
            ) => {
                let missing = (1.0 - reference) * self.supply.volts();
                let step = missing * (capacitance / (integration_capacitor.nominal + capacitance));
                parts.comparator.volts() / step
            }
            (None, _) => unreachable!("only charge transfer has no oscillation"),
        };
        NoiseCounts::Parts {
            quantisation: self.start.quantisation(),
            jitter: from_comparator.hypot(self.jitter_of(capacitance, parts.period_jitter)),
            low_frequency: parts.low_frequency * count,
        }
    }

    /// Counts rms from a relative jitter of each period, independent of one another.
    fn jitter_of(&self, capacitance: Capacitance, relative: f64) -> f64 {
        self.count(capacitance) * relative / self.periods(capacitance).sqrt()
    }

    /// Counts rms that the voltage between device ground and earth makes while a finger couples the pad
    /// to earth: a capacitance of coupling times voltage over swing.
    ///
    /// `coupling` is the pad's capacitance to the finger, the body's return path included.
    pub fn common_mode_noise(&self, touched: Capacitance, coupling: Capacitance) -> f64 {
        let farads = coupling.farads().abs() * (self.common_mode / self.swing(touched));
        self.counts_per_farad(touched).abs() * farads
    }

    /// The noise of a count as a capacitance, rms: over the change of the count per capacitance.
    pub fn equivalent_noise(&self, capacitance: Capacitance, counts: f64) -> Capacitance {
        Capacitance::from_farads(counts / self.counts_per_farad(capacitance).abs())
    }

    /// The circuit with a measured noise told as parts, so that it can be carried to another gate or
    /// resistor: quantisation as computed, the rest as jitter of independent periods at `measured_at`.
    ///
    /// What of a measured noise averages out and what does not is not known from one number; as
    /// jitter it falls with the root of the gate over the count.
    pub fn with_noise_in_parts(&self, measured_at: Capacitance) -> Self {
        let NoiseSource::Measured(total) = self.noise else {
            return *self;
        };
        let rest = (total * total - self.start.quantisation().powi(2))
            .max(0.0)
            .sqrt();
        let per_unit = self.jitter_of(measured_at, 1.0);
        Self {
            noise: NoiseSource::Parts(NoiseParts {
                period_jitter: rest / per_unit,
                ..NoiseParts::default()
            }),
            ..*self
        }
    }
}
