//! The electronics trade: resistor and gate time against signal-to-noise ratio, response time and
//! average current.
//!
//! Takes a [`Response`] with the electronics of its panel, solved once; evaluates the measuring circuit
//! at any resistor and gate, which needs no further solve; gives rows of a table, the pair of least
//! current that meets a question, a chart of the knee. Fails when the circuit has no resistor, or when
//! no pad was touched.
//!
//! - Signal-to-noise ratio: count shift over noise while touched, rms, of the touched pad and the supply where it is
//!   smallest: under the finger's own return path, and on every supply that the panel describes with the voltage
//!   that comes through the finger there.
//! - A noise that was measured in total holds at the file's own resistor and gate. What of it is not
//!   quantisation is carried on as jitter of independent periods: in counts it grows with the root of
//!   the number of periods.
//! - All pads are scanned, segments of sliders and wheels too; the current holds what goes into them. Segments
//!   have no signal-to-noise ratio of their own ([`judged_elsewhere`]).

mod answer;
mod checks;
mod picture;
mod record;
mod report;
mod rows;

pub use answer::{Answer, Nearest, Question, answer, two_digit_gates};
pub use picture::{caption, picture};
pub use record::CircuitRecord;
pub use report::{Told, report};
pub use rows::{Row, rows};

use crate::measuring_circuit::{Battery, Circuit, Counting, Principle, Scan, ScanBudget};
use crate::panel::{Electronics, Panel};
use crate::response::Response;
use padfield_engine::units::{Capacitance, Frequency, Resistance, Time, Toleranced, Voltage};

/// Smallest signal-to-noise ratio asked for when nobody says one: common practice, no source.
pub const USUAL_SIGNAL_TO_NOISE: f64 = 15.0;
/// Resistors of a table: six a decade, for [`preferred_resistors`].
pub const TABLE_EVERY: usize = 2;

/// Why there is nothing to trade.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TradeError {
    /// The principle has no resistor.
    #[error(
        "the trade is about the resistor of a resistor oscillator, and this circuit has none; write \
         circuit.principle = \"resistor oscillator\""
    )]
    NoResistor,
    /// No pad was touched in the model.
    #[error("no pad is touched in this model, so that there is no count shift to trade")]
    NoTouch,
}

/// Which sliders and wheels have no signal-to-noise ratio here, and where they are judged; none when every
/// channel was touched.
pub fn judged_elsewhere(panel: &Panel, response: &Response) -> Option<String> {
    let is_touched = |group: &str| {
        let own = panel.pads.iter().zip(&response.pads);
        let mut own = own.filter(|(pad, _)| pad.group == group);
        own.any(|(_, response)| response.touch.is_some())
    };
    let groups = panel.sliders.iter().map(|slider| &slider.group);
    let untouched: Vec<String> = groups
        .filter(|group| !is_touched(group))
        .map(|group| format!("\"{group}\""))
        .collect();
    (!untouched.is_empty()).then(|| {
        format!(
            "Segments of {} are scanned, so that scan, response, current and limits count them; they have no \
             threshold of their own and no S/N here: padfield window judges their total, noise included.",
            untouched.join(", ")
        )
    })
}

#[derive(Clone, Debug, PartialEq)]
struct TouchedPad {
    name: String,
    /// None: under the finger's own return path.
    supply: Option<String>,
    base: Capacitance,
    shift: Capacitance,
    /// Estimated numerical error of the shift.
    error: Capacitance,
    through: Option<Capacitance>,
    /// Voltage in series with the finger.
    common_mode: Voltage,
}

impl TouchedPad {
    /// Error of what is in proportion to the shift; none of what is nothing.
    fn error_of(&self, value: f64) -> f64 {
        match self.shift.farads() == 0.0 {
            true => 0.0,
            false => (value * (self.error / self.shift)).abs(),
        }
    }
}

/// Everything that a choice of resistor and gate is judged by.
#[derive(Clone, Debug, PartialEq)]
pub struct Trade {
    circuit: Circuit,
    scan: Scan,
    battery: Option<Battery>,
    bases: Vec<Capacitance>,
    touched: Vec<TouchedPad>,
    /// Resistor and gate of the panel file.
    own: (Resistance, Time),
}

/// A resistor and a gate with what they give.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    pub resistor: Resistance,
    /// Time of one measurement.
    pub gate: Time,
    /// The touched pad with the smallest signal-to-noise ratio; frequency and counts are its own.
    pub pad: String,
    /// The supply on which it is smallest; none: under the finger's own return path.
    pub supply: Option<String>,
    /// Frequency of the untouched pad.
    pub frequency: Frequency,
    pub base_count: f64,
    pub count_shift: f64,
    pub count_shift_error: f64,
    /// Count shift over noise while touched, rms.
    pub signal_to_noise: f64,
    pub signal_to_noise_error: f64,
    /// Time and current.
    pub budget: ScanBudget,
    /// Time the battery lasts, when there is one.
    pub battery_life: Option<Time>,
    /// Names of the limits that some pad breaks: those of [`Circuit::checks`], and `"cycle"` when the
    /// scan takes longer.
    pub broken: Vec<&'static str>,
}

impl Trade {
    /// From an answer for all touched pads.
    ///
    /// # Errors
    /// See [`TradeError`].
    pub fn new(electronics: &Electronics, response: &Response) -> Result<Self, TradeError> {
        let circuit = &electronics.circuit;
        let Principle::ResistorOscillator { resistor, .. } = &circuit.principle else {
            return Err(TradeError::NoResistor);
        };
        let bases = response.pads.iter().filter_map(|pad| pad.base_at_pin);
        let touched: Vec<TouchedPad> = response
            .pads
            .iter()
            .filter_map(|pad| {
                let shift = pad.touch.as_ref()?.shift;
                let in_counts = response.counts.pad(&pad.name)?.touch.as_ref()?;
                let own = TouchedPad {
                    name: pad.name.clone(),
                    supply: None,
                    base: pad.base_at_pin?.nominal,
                    shift: shift.value,
                    error: shift.error,
                    through: in_counts.through,
                    common_mode: circuit.common_mode,
                };
                let on_supplies = in_counts.on_supplies.iter().map(|one| TouchedPad {
                    supply: Some(one.supply.clone()),
                    shift: one.shift,
                    error: shift.error * (one.shift / shift.value).abs(),
                    through: Some(one.through),
                    common_mode: one.common_mode_voltage,
                    ..own.clone()
                });
                let on_supplies: Vec<TouchedPad> = on_supplies.collect();
                Some(std::iter::once(own).chain(on_supplies))
            })
            .flatten()
            .collect();
        let own_ratio = |pad: &TouchedPad| ratio(circuit, pad).1;
        let weakest = touched
            .iter()
            .min_by(|a, b| own_ratio(a).total_cmp(&own_ratio(b)))
            .ok_or(TradeError::NoTouch)?;
        let gate = match circuit.counting {
            Counting::Gate(gate) => gate,
            Counting::Periods { .. } => circuit.measuring_time(weakest.base),
        };
        Ok(Self {
            own: (resistor.nominal, gate),
            // As `solve` does, the measured noise is taken to hold while touched.
            circuit: circuit.with_noise_in_parts(weakest.base + weakest.shift),
            scan: electronics.scan,
            battery: electronics.battery,
            bases: bases.map(|base| base.nominal).collect(),
            touched,
        })
    }

    /// Resistor and gate of the panel file; with timed periods the time they take on the weakest pad.
    pub fn own(&self) -> (Resistance, Time) {
        self.own
    }

    /// The scan as the file has it.
    pub fn scan(&self) -> &Scan {
        &self.scan
    }

    /// Pads that are scanned.
    pub fn pads(&self) -> usize {
        self.bases.len()
    }

    /// The scan with the longest cycle that gives this response; none when filter and feedback alone
    /// take longer.
    pub fn scan_for(&self, response: Time) -> Option<Scan> {
        let left = response - self.scan.filter - self.scan.feedback;
        let cycle = left * (1.0 / (f64::from(self.scan.debounce) + 1.0));
        (cycle.seconds() > 0.0).then_some(Scan { cycle, ..self.scan })
    }

    /// What a resistor and a gate give.
    pub fn at(&self, resistor: Resistance, gate: Time, scan: &Scan) -> Point {
        let circuit = self.with(resistor, gate);
        let (pad, (count_shift, signal_to_noise)) = self
            .touched
            .iter()
            .map(|pad| (pad, ratio(&circuit, pad)))
            .min_by(|a, b| a.1.1.total_cmp(&b.1.1))
            .expect("a trade has a touched pad");
        let budget = scan.budget(&circuit, &self.bases);
        let mut broken = Vec::new();
        for check in self.bases.iter().flat_map(|base| circuit.checks(*base)) {
            if !check.holds() && !broken.contains(&check.name) {
                broken.push(check.name);
            }
        }
        if budget.cycle_is_stretched {
            broken.push("cycle");
        }
        Point {
            resistor,
            gate,
            pad: pad.name.clone(),
            supply: pad.supply.clone(),
            frequency: circuit.frequency(pad.base),
            base_count: circuit.count(pad.base),
            count_shift,
            count_shift_error: pad.error_of(count_shift),
            signal_to_noise,
            signal_to_noise_error: pad.error_of(signal_to_noise),
            battery_life: self
                .battery
                .map(|battery| battery.life(budget.average_current)),
            budget,
            broken,
        }
    }

    /// The circuit with another resistor and gate; with timed periods as many as fill the gate.
    fn with(&self, resistor: Resistance, gate: Time) -> Circuit {
        let mut circuit = self.circuit;
        if let Principle::ResistorOscillator { resistor: own, .. } = &mut circuit.principle {
            *own = Toleranced::exact(resistor);
        }
        circuit.counting = match circuit.counting {
            Counting::Gate(_) => Counting::Gate(gate),
            Counting::Periods {
                reference_clock, ..
            } => Counting::Periods {
                periods: (gate / circuit.period(self.touched[0].base))
                    .round()
                    .max(1.0) as u32,
                reference_clock,
            },
        };
        circuit
    }
}

/// Count shift of a touched pad and its signal-to-noise ratio.
fn ratio(circuit: &Circuit, pad: &TouchedPad) -> (f64, f64) {
    let circuit = Circuit {
        common_mode: pad.common_mode,
        ..*circuit
    };
    let shift = circuit.counts_towards_touch(pad.base, pad.shift);
    let noise = circuit.noise_while_touched(pad.base + pad.shift, pad.through);
    (shift, shift / noise)
}

/// Steps of a decade of resistors: three, six or twelve (IEC 60063, values from memory).
const TWELVE_STEPS: [f64; 12] = [1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2];

/// Preferred resistors from 10 kohm to 1 Mohm: every `every`-th of the twelve steps of a decade (1 for
/// all of them, 2 for six a decade, 4 for three).
pub fn preferred_resistors(every: usize) -> Vec<Resistance> {
    let mut all: Vec<Resistance> = [1e4, 1e5]
        .into_iter()
        .flat_map(|decade| {
            let steps = TWELVE_STEPS.into_iter().step_by(every.max(1));
            steps.map(move |step| Resistance::from_ohms(step * decade))
        })
        .collect();
    all.push(Resistance::from_ohms(1e6));
    all
}

/// Gates from 0.5 to 50 ms in steps of 1, 2 and 5.
pub fn usual_gates() -> Vec<Time> {
    [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0]
        .map(Time::from_ms)
        .to_vec()
}
