//! Noise figures against seeded simulations of the counter and of the comparator.
//!
//! A standard deviation from n independent draws has a relative standard error of sqrt((k - 1)/(4 n)),
//! k the kurtosis, at most 3 here; every bound below is four of them, and the seeds are fixed.

use padfield::measuring_circuit::{
    Circuit, Counting, NoiseParts, NoiseSource, Principle, Start, Thresholds,
};
use padfield_engine::units::{
    Capacitance, Current, Frequency, Resistance, Time, Toleranced, Voltage,
};
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

const BASE: Capacitance = Capacitance::from_farads(15e-12);

fn generator(seed: u64) -> ChaCha8Rng {
    ChaCha8Rng::seed_from_u64(seed)
}

/// A standard normal number from two uniform ones (Box and Muller 1958).
fn normal(random: &mut ChaCha8Rng) -> f64 {
    let radius = (-2.0 * (1.0 - random.random::<f64>()).ln()).sqrt();
    radius * (std::f64::consts::TAU * random.random::<f64>()).cos()
}

fn deviation(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
}

fn agrees(values: &[f64], expected: f64) {
    let found = deviation(values);
    let bound = 4.0 * (0.5 / values.len() as f64).sqrt();
    let difference = (found / expected - 1.0).abs();
    assert!(
        difference <= bound,
        "{found} against {expected}: off by {difference}, bound {bound}"
    );
}

/// Error of a whole count against the true number of periods in the gate, over gates of any length.
fn quantisation_errors(start: Start, draws: usize) -> Vec<f64> {
    let mut random = generator(11);
    (0..draws)
        .map(|_| {
            let periods = 1000.0 + random.random::<f64>();
            let phase = match start {
                Start::Free => random.random::<f64>(),
                Start::Synchronised => 0.0,
            };
            (periods + phase).floor() - periods
        })
        .collect()
}

#[test]
fn whole_counts() {
    for start in [Start::Free, Start::Synchronised] {
        agrees(&quantisation_errors(start, 40_000), start.quantisation());
    }
}

fn circuit(noise: NoiseParts) -> Circuit {
    Circuit {
        noise: NoiseSource::Parts(noise),
        ..Circuit::default()
    }
}

/// Counts in a gate whose periods differ by `jitter` of themselves, independently.
#[test]
fn independent_periods_in_a_gate() {
    let mut circuit = circuit(NoiseParts {
        period_jitter: 0.08,
        ..NoiseParts::default()
    });
    let period = circuit.period(BASE).seconds();
    for (start, seed) in [(Start::Free, 21), (Start::Synchronised, 22)] {
        circuit.start = start;
        let mut random = generator(seed);
        let errors: Vec<f64> = (0..4000)
            .map(|_| {
                // Of any length, so that the true count lies anywhere between two whole ones.
                let gate = period * (600.0 + random.random::<f64>());
                let mut time = match start {
                    Start::Free => -period * random.random::<f64>(),
                    Start::Synchronised => 0.0,
                };
                let mut count = 0.0;
                while time <= gate {
                    count += f64::from(u8::from(time > 0.0));
                    time += period * (1.0 + 0.08 * normal(&mut random));
                }
                count - gate / period
            })
            .collect();
        circuit.counting = Counting::Gate(Time::from_seconds(600.5 * period));
        agrees(&errors, circuit.noise(BASE).total());
    }
}

/// The reference clock times so many jittering periods.
#[test]
fn independent_periods_timed_by_a_clock() {
    let clock = 16e6;
    let circuit = Circuit {
        counting: Counting::Periods {
            periods: 200,
            reference_clock: Frequency::from_hertz(clock),
        },
        ..circuit(NoiseParts {
            period_jitter: 0.01,
            ..NoiseParts::default()
        })
    };
    let period = circuit.period(BASE).seconds();
    let mut random = generator(31);
    let counts: Vec<f64> = (0..10_000)
        .map(|_| {
            let time: f64 = (0..200)
                .map(|_| period * (1.0 + 0.01 * normal(&mut random)))
                .sum();
            let phase = random.random::<f64>();
            (clock * time + phase).floor()
        })
        .collect();
    agrees(&counts, circuit.noise(BASE).total());
}

/// A frequency that wanders between measurements and stands still within one.
#[test]
fn what_does_not_average_out() {
    let circuit = circuit(NoiseParts {
        low_frequency: 1e-3,
        ..NoiseParts::default()
    });
    let mut random = generator(41);
    let counts: Vec<f64> = (0..20_000)
        .map(|_| {
            let wandering = 1.0 + 1e-3 * normal(&mut random);
            (circuit.count(BASE) * wandering + random.random::<f64>()).floor()
        })
        .collect();
    agrees(&counts, circuit.noise(BASE).total());
}

/// Time of `periods` periods of an oscillator whose comparator adds a fresh normal `noise` (volts) to
/// the node at every crossing. `ramp(from, to, rising)` is the time from one voltage to another,
/// `beyond(volts, rising)` where the node is a delay later.
struct NoisyOscillator<'o> {
    low: f64,
    high: f64,
    delay: f64,
    ramp: &'o dyn Fn(f64, f64, bool) -> f64,
    beyond: &'o dyn Fn(f64, bool) -> f64,
}

impl NoisyOscillator<'_> {
    fn time(&self, periods: usize, noise: f64, random: &mut ChaCha8Rng) -> f64 {
        let mut time = 0.0;
        let mut volts = (self.beyond)(self.low, false);
        for half in 0..2 * periods {
            let rising = half % 2 == 0;
            let threshold = if rising { self.high } else { self.low };
            // The node crosses when node plus noise reaches the threshold.
            let crossing = threshold - noise * normal(random);
            time += (self.ramp)(volts, crossing, rising) + self.delay;
            volts = (self.beyond)(crossing, rising);
        }
        time
    }
}

/// Jitter of the count over many periods from noise at the comparator: both ramps that meet at a
/// displaced threshold lose or gain time.
#[test]
fn noise_at_the_comparator() {
    let noise = 5e-3;
    let delay = 60e-9;
    let periods = 400;
    let supply = 3.3;
    let thresholds = Thresholds {
        low: 0.3,
        high: 0.6,
    };
    let [low, high] = [thresholds.low, thresholds.high].map(|share| share * supply);

    let constant = 100e3 * BASE.farads();
    let target = |rising: bool| if rising { supply } else { 0.0 };
    let through_resistor = NoisyOscillator {
        low,
        high,
        delay,
        ramp: &|from, to, rising| constant * ((target(rising) - from) / (target(rising) - to)).ln(),
        beyond: &|volts, rising| {
            target(rising) + (volts - target(rising)) * (-delay / constant).exp()
        },
    };
    let rate = 10e-6 / BASE.farads();
    let with_current = NoisyOscillator {
        low,
        high,
        delay,
        ramp: &|from, to, _| (to - from).abs() / rate,
        beyond: &|volts, rising| volts + if rising { rate * delay } else { -rate * delay },
    };
    let resistor = Principle::ResistorOscillator {
        resistor: Toleranced::exact(Resistance::from_kilohms(100.0)),
        thresholds,
    };
    let current = Principle::CurrentOscillator {
        current: Toleranced::exact(Current::from_ua(10.0)),
        thresholds,
    };
    for (principle, oscillator, seed) in [
        (resistor, through_resistor, 51),
        (current, with_current, 52),
    ] {
        let circuit = Circuit {
            principle,
            comparator_delay: Time::from_seconds(delay),
            // Fast enough that whole counts make no noise.
            counting: Counting::Periods {
                periods: periods as u32,
                reference_clock: Frequency::from_hertz(1e11),
            },
            ..circuit(NoiseParts {
                comparator: Voltage::from_volts(noise),
                ..NoiseParts::default()
            })
        };
        let mut random = generator(seed);
        let counts: Vec<f64> = (0..5000)
            .map(|_| 1e11 * oscillator.time(periods, noise, &mut random))
            .collect();
        // Half a threshold's share is missing at the two ends of 400 periods: 0.1 %, far below the
        // bound of 4 %.
        agrees(&counts, circuit.noise(BASE).total());
    }
}

/// Charge transfer that stops at the first transfer whose voltage, noise added, reaches the reference.
#[test]
fn noise_at_the_end_of_a_charge_transfer() {
    let (store, reference, supply) = (4.7e-9, 0.5, 3.3);
    let circuit = Circuit {
        principle: Principle::ChargeTransfer {
            integration_capacitor: Toleranced::exact(Capacitance::from_farads(store)),
            reference,
            transfer_time: Time::from_us(2.0),
        },
        // A draw that holds for a measurement: with fresh ones the first outlier would end it.
        ..circuit(NoiseParts {
            comparator: Voltage::from_volts(0.03),
            ..NoiseParts::default()
        })
    };
    let circuit = Circuit {
        start: Start::Synchronised,
        ..circuit
    };
    let mut random = generator(61);
    let share = store / (store + BASE.farads());
    let counts: Vec<f64> = (0..10_000)
        .map(|_| {
            let offset = 0.03 * normal(&mut random);
            let mut missing = supply;
            let mut transfers = 0.0;
            while supply - missing + offset < reference * supply {
                missing *= share;
                transfers += 1.0;
            }
            transfers
        })
        .collect();
    agrees(&counts, circuit.noise(BASE).total());
}
