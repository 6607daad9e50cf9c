//! The measuring circuit against published and exact values, and against an integration of the circuit
//! in time.

use padfield::measuring_circuit::{
    Battery, Circuit, Counting, NoiseCounts, NoiseParts, NoiseSource, Principle, Scan, Start,
    Thresholds,
};
use padfield_engine::units::{
    Capacitance, Charge, Current, Frequency, Resistance, Time, Toleranced, Voltage,
};

fn close(found: f64, expected: f64, relative: f64) {
    let difference = (found / expected - 1.0).abs();
    assert!(difference <= relative, "{found} against {expected}");
}

fn pf(value: f64) -> Capacitance {
    Capacitance::from_pf(value)
}

/// 100 kohm without a delay, 10 ms.
fn resistor(thresholds: Thresholds) -> Circuit {
    Circuit {
        principle: Principle::ResistorOscillator {
            resistor: Toleranced::exact(Resistance::from_kilohms(100.0)),
            thresholds,
        },
        comparator_delay: Time::from_seconds(0.0),
        ..Circuit::default()
    }
}

/// Check E3: textbook, exact.
#[test]
fn thirds_give_two_logarithms_of_two() {
    let period = resistor(Thresholds::THIRDS).period(pf(15.0));
    close(period.seconds(), 2.079_441_5e-6, 1e-7);
}

/// Check E3b: 2 ln 3, as in the "Relaxation oscillator" article of a general encyclopedia.
#[test]
fn quarters_give_two_logarithms_of_three() {
    let period = resistor(Thresholds::QUARTERS).period(pf(15.0));
    close(period.seconds() / (100e3 * 15e-12), 2.197_224_6, 1e-7);
}

/// Check E4: arithmetic.
#[test]
fn counts_in_ten_milliseconds() {
    let circuit = resistor(Thresholds::THIRDS);
    close(circuit.count(pf(15.0)), 4808.98, 1e-6);
    close(circuit.count_shift(pf(15.0), pf(0.5)), -155.13, 1e-5);
    close(circuit.dilution(pf(15.0)), 1.0, 1e-12);
}

/// Check E5: variances of the uniform and of the triangular distribution.
#[test]
fn whole_counts_have_their_noise() {
    close(Start::Synchronised.quantisation(), 0.288_675_13, 1e-7);
    close(Start::Free.quantisation(), 0.408_248_29, 1e-7);
}

/// One state of the oscillator: voltage over the pad, and which way it is driven.
#[derive(Clone, Copy)]
struct Node {
    volts: f64,
    rising: bool,
}

/// Period of an oscillator by integrating dv/dt = `slope(v, rising)` with the classical Runge-Kutta
/// method. A crossing of the comparator's threshold is found by bisection on the step; the drive turns
/// round a delay later.
fn integrated_period(
    slope: &dyn Fn(f64, bool) -> f64,
    low: f64,
    high: f64,
    delay: f64,
    step: f64,
) -> f64 {
    let advance = |node: Node, step: f64| {
        let f = |v: f64| slope(v, node.rising);
        let a = f(node.volts);
        let b = f(node.volts + 0.5 * step * a);
        let c = f(node.volts + 0.5 * step * b);
        let d = f(node.volts + step * c);
        Node {
            volts: node.volts + step / 6.0 * (a + 2.0 * b + 2.0 * c + d),
            ..node
        }
    };
    let advance_by = |mut node: Node, time: f64| {
        let steps = (time / step).ceil().max(1.0);
        for _ in 0..steps as usize {
            node = advance(node, time / steps);
        }
        node
    };
    let crossed = |node: Node| match node.rising {
        true => node.volts >= high,
        false => node.volts <= low,
    };
    let mut node = Node {
        volts: 0.0,
        rising: true,
    };
    let mut time = 0.0;
    let mut starts = Vec::new();
    // The first periods let the start from zero die away.
    while starts.len() < 6 {
        while !crossed(advance(node, step)) {
            node = advance(node, step);
            time += step;
        }
        let (mut before, mut after) = (0.0, step);
        for _ in 0..60 {
            let middle = 0.5 * (before + after);
            match crossed(advance(node, middle)) {
                true => after = middle,
                false => before = middle,
            }
        }
        node = advance(node, after);
        time += after;
        if delay > 0.0 {
            node = advance_by(node, delay);
            time += delay;
        }
        node.rising = !node.rising;
        if node.rising {
            starts.push(time);
        }
    }
    starts[5] - starts[4]
}

#[test]
fn periods_agree_with_an_integration_of_the_resistor_oscillator() {
    for (ohms, picofarads, delay_ns, thresholds) in [
        (100e3, 15.0, 0.0, Thresholds::THIRDS),
        (100e3, 15.0, 40.0, Thresholds::THIRDS),
        (47e3, 8.0, 150.0, Thresholds::QUARTERS),
        (10e3, 6.0, 200.0, Thresholds::THIRDS),
        (
            470e3,
            6.9,
            40.0,
            Thresholds {
                low: 0.2,
                high: 0.7,
            },
        ),
    ] {
        let circuit = Circuit {
            principle: Principle::ResistorOscillator {
                resistor: Toleranced::exact(Resistance::from_ohms(ohms)),
                thresholds,
            },
            comparator_delay: Time::from_ns(delay_ns),
            ..Circuit::default()
        };
        let constant = ohms * picofarads * 1e-12;
        let slope = |volts: f64, rising: bool| {
            let target = if rising { 3.3 } else { 0.0 };
            (target - volts) / constant
        };
        let (low, high) = (3.3 * thresholds.low, 3.3 * thresholds.high);
        let expected = integrated_period(&slope, low, high, delay_ns * 1e-9, constant / 500.0);
        // Steps of 1/500 of the time constant: the method's error is below 1e-11.
        close(circuit.period(pf(picofarads)).seconds(), expected, 1e-9);
    }
}

#[test]
fn periods_agree_with_an_integration_of_the_current_oscillator() {
    for (microamperes, picofarads, delay_ns) in [(10.0, 15.0, 0.0), (5.0, 9.0, 60.0)] {
        let circuit = Circuit {
            principle: Principle::CurrentOscillator {
                current: Toleranced::exact(Current::from_ua(microamperes)),
                thresholds: Thresholds::QUARTERS,
            },
            comparator_delay: Time::from_ns(delay_ns),
            ..Circuit::default()
        };
        let rate = microamperes / picofarads * 1e6;
        let slope = |_: f64, rising: bool| if rising { rate } else { -rate };
        let expected = integrated_period(
            &slope,
            0.25 * 3.3,
            0.75 * 3.3,
            delay_ns * 1e-9,
            3.3 / rate / 777.0,
        );
        close(circuit.period(pf(picofarads)).seconds(), expected, 1e-9);
    }
}

/// The usual "+ 2 t_d" is as wrong as it is large: the node has to come back what it overran.
#[test]
fn a_delay_costs_more_than_twice_itself() {
    let circuit = Circuit {
        comparator_delay: Time::from_ns(40.0),
        ..resistor(Thresholds::THIRDS)
    };
    let without = resistor(Thresholds::THIRDS).period(pf(15.0)).ns();
    let added = circuit.period(pf(15.0)).ns() - without;
    assert!(added > 1.45 * 80.0 && added < 1.5 * 80.0, "{added} ns");
}

/// What is missing to the supply shrinks by every transfer: stepping the balance of charge.
#[test]
fn transfers_agree_with_the_balance_of_charge() {
    for (picofarads, nanofarads, reference) in [(15.0, 47.0, 0.5), (8.0, 10.0, 0.8)] {
        let circuit = Circuit {
            principle: Principle::ChargeTransfer {
                integration_capacitor: Toleranced::exact(pf(1000.0 * nanofarads)),
                reference,
                transfer_time: Time::from_us(2.0),
            },
            ..Circuit::default()
        };
        let (pad, store) = (picofarads * 1e-12, nanofarads * 1e-9);
        let (mut volts, mut before, mut transfers) = (0.0, 0.0, 0.0);
        while volts < reference * 3.3 {
            before = volts;
            volts = (pad * 3.3 + store * volts) / (pad + store);
            transfers += 1.0;
        }
        // The real number of transfers ends in the last step, up to its curvature.
        let part = (reference * 3.3 - before) / (volts - before);
        let expected = transfers - 1.0 + part;
        close(circuit.count(pf(picofarads)), expected, 1e-6);
        assert!(circuit.count_shift(pf(picofarads), pf(0.5)) < 0.0);
        let time = circuit.measuring_time(pf(picofarads));
        close(time.us(), 2.0 * expected, 1e-6);
    }
}

fn all_circuits() -> Vec<Circuit> {
    let base = Circuit {
        comparator_delay: Time::from_ns(60.0),
        ..Circuit::default()
    };
    let timed = Counting::Periods {
        periods: 200,
        reference_clock: Frequency::from_khz(16_000.0),
    };
    let current = Principle::CurrentOscillator {
        current: Toleranced::exact(Current::from_ua(10.0)),
        thresholds: Thresholds::THIRDS,
    };
    let transfer = Principle::ChargeTransfer {
        integration_capacitor: Toleranced::exact(pf(47_000.0)),
        reference: 0.5,
        transfer_time: Time::from_us(2.0),
    };
    vec![
        base,
        Circuit {
            counting: timed,
            ..base
        },
        Circuit {
            principle: current,
            ..base
        },
        Circuit {
            principle: current,
            counting: timed,
            ..base
        },
        Circuit {
            principle: transfer,
            ..base
        },
    ]
}

#[test]
fn slopes_are_those_of_the_counts() {
    for circuit in all_circuits() {
        let at = |picofarads: f64| circuit.count(pf(picofarads));
        let slope = (at(15.0 + 1e-4) - at(15.0 - 1e-4)) / 2e-16;
        close(circuit.counts_per_farad(pf(15.0)), slope, 1e-6);
        let relative = circuit.counts_per_farad(pf(15.0)).abs() * 15e-12 / at(15.0);
        close(circuit.dilution(pf(15.0)), relative, 1e-9);
        assert!(circuit.dilution(pf(15.0)) < 1.0);
    }
}

#[test]
fn timing_periods_counts_up_and_finer() {
    let [gate, timed, ..] = all_circuits()[..] else {
        unreachable!("there are five")
    };
    assert!(gate.count_shift(pf(15.0), pf(0.5)) < 0.0);
    assert!(timed.count_shift(pf(15.0), pf(0.5)) > 0.0);
    // At equal time the clock of 16 MHz gives more counts than the oscillator of 0.46 MHz.
    let per_second = |c: &Circuit| c.count(pf(15.0)) / c.measuring_time(pf(15.0)).seconds();
    close(per_second(&timed), 16e6, 1e-9);
    assert!(per_second(&gate) < 0.5e6);
}

#[test]
fn a_finger_brings_common_mode_noise() {
    let circuit = Circuit {
        common_mode: Voltage::from_mv(110.0),
        ..resistor(Thresholds::THIRDS)
    };
    // 0.11 V over a swing of 1.1 V through 0.6 pF: as 60 fF.
    let counts = circuit.common_mode_noise(pf(15.0), pf(0.6));
    close(circuit.equivalent_noise(pf(15.0), counts).ff(), 60.0, 1e-9);
}

#[test]
fn a_measured_noise_is_kept_at_its_own_gate() {
    let measured = Circuit {
        noise: NoiseSource::Measured(1.5),
        ..Circuit::default()
    };
    let parts = measured.with_noise_in_parts(pf(15.0));
    close(parts.noise(pf(15.0)).total(), 1.5, 1e-12);
    let longer = Circuit {
        counting: Counting::Gate(Time::from_ms(40.0)),
        ..parts
    };
    let NoiseCounts::Parts { jitter, .. } = longer.noise(pf(15.0)) else {
        panic!("told as parts")
    };
    close(jitter, 2.0 * (1.5_f64.powi(2) - 1.0 / 6.0).sqrt(), 1e-12);
    // Less than a whole count's own noise cannot be split.
    let quiet = Circuit {
        noise: NoiseSource::Measured(0.2),
        ..Circuit::default()
    };
    let NoiseSource::Parts(NoiseParts { period_jitter, .. }) =
        quiet.with_noise_in_parts(pf(15.0)).noise
    else {
        panic!("told as parts")
    };
    assert_eq!(period_jitter, 0.0);
}

/// Own worked example, unpublished: a hive scale on two cells (invented).
#[test]
fn time_and_current_of_a_scan() {
    let circuit = Circuit {
        principle: Principle::ResistorOscillator {
            resistor: Toleranced::exact(Resistance::from_kilohms(470.0)),
            thresholds: Thresholds::THIRDS,
        },
        counting: Counting::Gate(Time::from_ms(4.0)),
        ..Circuit::default()
    };
    let scan = Scan {
        settle: Time::from_ms(0.5),
        cycle: Time::from_ms(120.0),
        debounce: 1,
        filter: Time::from_ms(5.0),
        feedback: Time::from_ms(10.0),
        on_current: Current::from_ua(600.0),
        sleep_current: Current::from_ua(1.5),
    };
    let bases = [pf(6.9); 3];
    let budget = scan.budget(&circuit, &bases);
    close(budget.scan.ms(), 13.5, 1e-12);
    close(budget.response.ms(), 2.0 * 120.0 + 15.0, 1e-12);
    assert!(!budget.cycle_is_stretched);
    let pads = circuit.charging_current(pf(6.9)).ua() * 12.0 / 120.0;
    let expected = (600.0 * 13.5 + 1.5 * 106.5) / 120.0 + pads;
    close(budget.average_current.ua(), expected, 1e-12);
    // 6.9 pF through 1 V, 220000 times a second.
    assert!((0.1..0.3).contains(&pads), "{pads} uA");

    let battery = Battery {
        capacity: Charge::from_mah(2000.0),
        self_discharge_per_year: 0.0,
    };
    close(battery.life(Current::from_ua(66.0)).years(), 3.46, 1e-3);
    let leaking = Battery {
        self_discharge_per_year: 0.1,
        ..battery
    };
    let life = leaking.life(Current::from_ua(66.0)).years();
    close(1.0 / life, 1.0 / 3.4593 + 0.1, 1e-4);

    let hurried = Scan {
        cycle: Time::from_ms(10.0),
        ..scan
    };
    let budget = hurried.budget(&circuit, &bases);
    assert!(budget.cycle_is_stretched);
    close(budget.cycle.ms(), 13.5, 1e-12);
}

#[test]
fn limits_are_checked_with_their_values() {
    let circuit = Circuit {
        series_resistor: Some(Resistance::from_kilohms(10.0)),
        ..resistor(Thresholds::THIRDS)
    };
    let holds = |circuit: &Circuit, name: &str| {
        let checks = circuit.checks(pf(15.0));
        let check = checks.iter().find(|check| check.name == name);
        check.expect("there is such a check").holds()
    };
    for name in ["frequency", "base count", "resistor"] {
        assert!(holds(&circuit, name), "{name}");
    }
    // 10 kohm x 15 pF = 150 ns, 7 % of the period.
    assert!(!holds(&circuit, "series resistor times base over period"));
    let slow = Circuit {
        principle: Principle::ResistorOscillator {
            resistor: Toleranced::exact(Resistance::from_kilohms(1000.0)),
            thresholds: Thresholds::THIRDS,
        },
        series_resistor: Some(Resistance::from_kilohms(10.0)),
        ..circuit
    };
    assert!(!holds(&slow, "frequency") && !holds(&slow, "base count") && !holds(&slow, "resistor"));
    assert!(holds(&slow, "series resistor times base over period"));
}
