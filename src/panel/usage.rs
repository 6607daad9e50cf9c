//! Who touches the panel, on which supply, and what is asked of the threshold.

use super::{Finger, Panel, Sourced};
use crate::measuring_circuit::Circuit;
use padfield_engine::units::{Capacitance, Length, Toleranced, Voltage};

/// How the device's ground is tied to earth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EarthPath {
    /// Directly, or through so much capacitance that it makes no difference.
    Earthed,
    /// Through the capacitance of wiring, transformer, capacitors across the barrier, or the case to
    /// the room.
    Capacitance(Toleranced<Capacitance>),
    /// The other hand holds the device: body to device ground, beside the way through earth.
    Held(Toleranced<Capacitance>),
}

/// One way the device is powered.
#[derive(Clone, Debug, PartialEq)]
pub struct Supply {
    pub name: String,
    /// Device ground to earth.
    pub to_earth: EarthPath,
    /// Voltage between device ground and earth in the band of the measurement, rms; none: that of the
    /// circuit.
    pub common_mode: Option<Voltage>,
    pub source: String,
}

/// Extremes of the capacitance between body and device ground; none means without limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReturnRange {
    /// The weakest return.
    pub least: Option<Capacitance>,
    /// With nominal values.
    pub nominal: Option<Capacitance>,
    /// The strongest return.
    pub most: Option<Capacitance>,
}

impl Panel {
    /// The measuring circuit on a supply, whose common-mode voltage comes before the circuit's own.
    pub fn circuit_on(&self, supply: &Supply) -> Circuit {
        let mut circuit = self.electronics.circuit;
        circuit.common_mode = supply.common_mode.unwrap_or(circuit.common_mode);
        circuit
    }
}

impl Supply {
    /// Body to device ground with the body's own capacitance to earth in the way.
    ///
    /// Capacitances in series, `1 / (1 / C_body + 1 / C_device)`; a held device has its own way from
    /// hand to ground.
    pub fn return_range(&self, body: &Toleranced<Capacitance>) -> ReturnRange {
        let series = |a: Capacitance, b: Capacitance| {
            let sum = (a + b).farads();
            Capacitance::from_farads(if sum > 0.0 {
                a.farads() * b.farads() / sum
            } else {
                0.0
            })
        };
        match self.to_earth {
            // The body's own capacitance to earth remains in the way.
            EarthPath::Earthed => ReturnRange {
                least: Some(body.least),
                nominal: Some(body.nominal),
                most: Some(body.most),
            },
            EarthPath::Capacitance(device) => ReturnRange {
                least: Some(series(body.least, device.least)),
                nominal: Some(series(body.nominal, device.nominal)),
                most: Some(series(body.most, device.most)),
            },
            EarthPath::Held(hand) => ReturnRange {
                least: Some(hand.least),
                nominal: Some(hand.nominal),
                most: Some(hand.most),
            },
        }
    }
}

/// What a pad should make of a finger that lies on its trace, off the pad, but no farther than a user who aims
/// at it may land.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NearMiss {
    /// The user meant the pad.
    MustAct,
    /// Either is fine.
    Either,
    /// The user has to hit the pad.
    MustNotAct,
}

/// What kind of product the panel is part of: which cautions belong to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Application {
    /// Powered from the mains.
    Mains,
    /// Household or similar appliance.
    Appliance,
    /// Machinery with moving parts.
    Machinery,
    /// Medical equipment.
    Medical,
    /// A control that stops a hazard.
    EmergencyStop,
    /// Ship, vehicle or aircraft.
    Vehicle,
    ExplosiveAtmosphere,
    /// Used by the public.
    Public,
}

/// Who touches, how the device is powered, what the threshold shall hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Usage {
    /// Everyone who must be able to operate the panel.
    pub users: Sourced<Vec<Finger>>,
    /// All ways of powering the device.
    pub supplies: Sourced<Vec<Supply>>,
    /// Body to earth.
    pub body: Sourced<Toleranced<Capacitance>>,
    /// A hand that leans on the panel.
    pub palm: Option<Finger>,
    /// Where it leans beside a pad: from the pad's centre to the edge of the palm.
    pub palm_distance: Option<Length>,
    /// What a pad should make of a finger that missed it onto its own trace.
    pub near_miss: Sourced<NearMiss>,
    /// What baseline tracking leaves of the drift.
    pub drift_residue: Option<Capacitance>,
    /// Standard deviations of the noise between a mean and its bound.
    pub noise_margin: Sourced<f64>,
    pub wanted_ratio: Sourced<f64>,
    /// Release threshold over threshold.
    pub release_share: Sourced<f64>,
    /// How often anyone touches any pad, per day.
    pub touches_per_day: Sourced<f64>,
    /// False events allowed per year.
    pub false_per_year: Sourced<f64>,
    /// What the panel is part of.
    pub applications: Vec<Application>,
}
