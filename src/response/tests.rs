use std::sync::Mutex;

use approx::{assert_abs_diff_eq, assert_relative_eq};
use ndarray::{Array1, Array2};

use super::*;
use crate::checks::Findings;
use crate::measuring_circuit::{Principle, Thresholds};
use crate::panel::lowering::{FINGER, LoweringOptions};
use crate::panel::sample::{four_keys, mm};
use crate::panel::{IdleState, Panel, ReturnPath};
use crate::touch::Progress;
use padfield_engine::case::Case;
use padfield_engine::field::{
    Accuracy, Bounded, Consistent, FieldAnswer, FieldError, GridSummary, Phases, Settings, Shift,
    SolverSummary,
};
use padfield_engine::units::{Capacitance, Resistance, Time, Toleranced, Voltage};

fn request(panel: &Panel) -> Request<'_> {
    Request {
        panel,
        finger: None,
        pad: None,
        settings: Settings::default(),
        options: LoweringOptions::default(),
    }
}

fn bounded(conductors: Vec<String>, value: Array2<f64>) -> Bounded {
    let entries = Consistent {
        value: value.clone(),
        estimated_error: value.mapv(|entry| 1e-3 * entry.abs()),
        error_parts: [
            Array2::zeros(value.raw_dim()),
            Array2::zeros(value.raw_dim()),
        ],
    };
    Bounded {
        lower: &value - 1e-14,
        upper: &value + 1e-14,
        estimated_error: value.mapv(|entry| 1e-3 * entry.abs()),
        at_pin: entries.clone(),
        in_shifts: entries,
        shape_term: Array2::zeros(value.raw_dim()),
        guaranteed_below: &value - &Array2::from_diag_elem(value.nrows(), 1e-14),
        guaranteed_above: &value + &Array2::from_diag_elem(value.nrows(), 1e-14),
        energy_share: Array2::ones((value.nrows(), 1)),
        conductors,
        value,
    }
}

/// Bases of 8 pF with 0.1 pF between pads; a touch adds 0.65 pF on its own pad, 0.02 on the next
/// column, 0.03 on the next row and 0.0001 across; the finger itself has 3 pF.
fn answer(case: &Case, settings: &Settings) -> FieldAnswer {
    let driven = settings.drive.clone().expect("rows are chosen");
    let pads: Vec<String> = driven.iter().filter(|n| *n != FINGER).cloned().collect();
    let names = ["vent", "mist", "light", "set"];
    let place = |name: &str| {
        let index = names.iter().position(|n| *n == name).expect("known pad");
        (index % 2, index / 2)
    };
    let touched = case.id.split('-').next().expect("id starts with the pad");
    let touched_place = place(touched);
    let change = |name: &str| {
        let (column, row) = place(name);
        match (column == touched_place.0, row == touched_place.1) {
            (true, true) => 0.65e-12,
            (false, true) => 0.02e-12,
            (true, false) => 0.03e-12,
            (false, false) => 0.0001e-12,
        }
    };
    let count = pads.len();
    let without = Array2::from_shape_fn(
        (count, count),
        |(i, j)| {
            if i == j { 8e-12 } else { -0.1e-12 }
        },
    );
    let shift = Array2::from_diag(&Array1::from_iter(pads.iter().map(|p| change(p))));
    let mut with = Array2::zeros((driven.len(), driven.len()));
    for i in 0..count {
        for j in 0..count {
            with[[i, j]] = without[[i, j]] + shift[[i, j]];
        }
    }
    if driven.len() > count {
        with[[count, count]] = 3e-12;
        for (i, pad) in pads.iter().enumerate() {
            let coupling = -2.0 * change(pad);
            with[[i, count]] = coupling;
            with[[count, i]] = coupling;
        }
    }
    FieldAnswer {
        with: bounded(driven, with),
        shift: Some(Shift {
            conductor: FINGER.to_owned(),
            without: bounded(pads, without),
            estimated_error: Array2::from_elem((count, count), 0.002e-12),
            shape_term: Array2::zeros((count, count)),
            shift,
        }),
        by_permittivity: Vec::new(),
        by_permittivity_without: Vec::new(),
        derivatives: None,
        derivatives_without: None,
        grid: GridSummary {
            cells: 1000,
            shape: vec![10; 3],
            fineness: 1.0,
            mirrors: Vec::new(),
        },
        solver: SolverSummary {
            iterations: vec![5, 7],
            residual: 1e-9,
            seconds: 0.1,
            phases: Phases::default(),
        },
        accuracy: Accuracy {
            asked: settings.accuracy,
            estimated: 0.003,
            reached: true,
            of_entries: 0.003,
            missed: Vec::new(),
            is_short_of_memory: false,
        },
        potentials: None,
    }
}

fn solve(panel: &Panel) -> Response {
    respond_with(&request(panel), &|case, _, settings, _| {
        Ok(answer(case, settings))
    })
    .expect("response")
}

#[test]
fn symmetric_touches_are_solved_once_and_mirrored() {
    let panel = four_keys();
    let calls = Mutex::new(Vec::new());
    let response = respond_with(&request(&panel), &|case, without, settings, _| {
        calls.lock().expect("no panic").push((
            case.id.clone(),
            without.expect("the finger").to_owned(),
            settings.drive.clone().expect("rows are chosen"),
        ));
        Ok(answer(case, settings))
    })
    .expect("response");
    let drive: Vec<String> = ["vent", "mist", "light", "set"].map(String::from).to_vec();
    let expected = [("vent-adult".to_owned(), FINGER.to_owned(), drive)];
    assert_eq!(calls.into_inner().expect("no panic"), expected);
    assert_eq!(response.numerics.solves, 1);
    assert_eq!(response.numerics.iterations, 7);

    // The neighbour in the same row is the one in the other column, also in the mirror.
    let shifts_of = |index: usize| -> Vec<(String, f64)> {
        let touch = response.pads[index].touch.as_ref().expect("touched");
        let neighbours = touch.neighbours.iter();
        neighbours
            .map(|n| (n.pad.clone(), (n.shift.value.pf() * 1e4).round() / 1e4))
            .collect()
    };
    let named = |list: [(&str, f64); 3]| list.map(|(name, value)| (name.to_owned(), value));
    assert_eq!(
        shifts_of(0),
        named([("mist", 0.02), ("light", 0.03), ("set", 0.0001)])
    );
    assert_eq!(
        shifts_of(1),
        named([("vent", 0.02), ("light", 0.0001), ("set", 0.03)])
    );
    assert_eq!(
        shifts_of(3),
        named([("vent", 0.0001), ("mist", 0.03), ("light", 0.02)])
    );
    let from: Vec<_> = response
        .pads
        .iter()
        .map(|pad| pad.touch.as_ref().and_then(|t| t.mirrored_from.as_deref()))
        .collect();
    assert_eq!(from, [None, Some("vent"), Some("vent"), Some("vent")]);
    assert!(
        response
            .assumptions
            .iter()
            .any(|line| line.ends_with("solved one: 3."))
    );
}

#[test]
fn an_uneven_panel_or_finger_is_solved_pad_by_pad() {
    let mut panel = four_keys();
    panel.fingers[0].offset = [mm(2.0), mm(1.0)];
    assert_eq!(solve(&panel).numerics.solves, 4);
    panel.fingers[0].offset = [mm(2.0), mm(0.0)];
    assert_eq!(solve(&panel).numerics.solves, 2);
    panel.fingers[0].on = Some("light".to_owned());
    let response = solve(&panel);
    assert_eq!(response.numerics.solves, 1);
    let touched: Vec<_> = response
        .pads
        .iter()
        .map(|pad| pad.touch.is_some())
        .collect();
    assert_eq!(touched, [false, false, true, false]);
    assert!(response.pads.iter().all(|pad| pad.base.is_some()));
}

/// Parts of the memory that touches are solved in, `enough` of them being enough for one: the divisors, in order.
fn parts_of_memory(threads: usize, enough: u64) -> Vec<u64> {
    let mut panel = four_keys();
    panel.fingers[0].offset = [mm(2.0), mm(1.0)];
    let cap = request(&panel).settings.memory_cap_bytes;
    let calls = Mutex::new(Vec::new());
    let solver = |case: &Case, _: Option<&str>, settings: &Settings, _: &Progress<'_>| {
        let part = cap / settings.memory_cap_bytes;
        calls.lock().expect("no panic").push(part);
        match part > enough {
            true => Err(FieldError::TooLarge {
                cells: 1,
                needed_bytes: cap,
                cap_bytes: settings.memory_cap_bytes,
            }),
            false => Ok(answer(case, settings)),
        }
    };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    let pool = pool.expect("threads");
    let response = pool.install(|| respond_with(&request(&panel), &solver));
    let response = response.expect("all of the memory is enough");
    assert_eq!(response.pads, solve(&panel).pads);
    let mut calls = calls.into_inner().expect("no panic");
    calls.sort_unstable();
    calls
}

#[test]
fn what_fails_in_shared_memory_is_solved_again_with_more_of_it() {
    // The first touch is alone, three others share the memory of two or three threads and come again.
    assert_eq!(parts_of_memory(2, 1), [1, 1, 1, 1, 2, 2, 2]);
    assert_eq!(parts_of_memory(3, 2), [1, 2, 2, 2, 3, 3, 3]);
    assert_eq!(parts_of_memory(3, 1), [1, 1, 1, 1, 2, 2, 2, 3, 3, 3]);
    assert_eq!(parts_of_memory(3, 3), [1, 3, 3, 3]);
}

#[test]
fn base_at_the_pin_and_percent_include_the_stray_parts() {
    let response = solve(&four_keys());
    let pad = &response.pads[0];
    let at_pin = pad.base_at_pin.expect("in the model");
    // 8 pF field, 40 mm of 0.45 pF/cm, pin 6 pF from 4.8 to 7.2 pF.
    assert_abs_diff_eq!(at_pin.nominal.pf(), 15.8, epsilon = 1e-9);
    assert_abs_diff_eq!(at_pin.least.pf(), 14.6, epsilon = 1e-9);
    assert_abs_diff_eq!(at_pin.most.pf(), 17.0, epsilon = 1e-9);
    let touch = pad.touch.as_ref().expect("touched");
    // Change over the untouched base at the pin.
    assert_relative_eq!(touch.relative.value, 0.65 / 15.8, max_relative = 1e-12);
    assert_relative_eq!(
        touch.relative.stray_tolerance_range[0],
        0.65 / 17.0,
        max_relative = 1e-12
    );
    let error = 0.002 / 15.8 + 0.65 * 0.008 / (15.8 * 15.8);
    assert_relative_eq!(touch.relative.error, error, max_relative = 1e-9);
    let worst = touch.worst_neighbour().expect("has neighbours");
    assert_eq!(worst.pad, "light");
    assert_relative_eq!(worst.ratio, 0.03 / 0.65, max_relative = 1e-12);
    let ratio_error = (0.002 + 0.03 / 0.65 * 0.002) / 0.65;
    assert_relative_eq!(worst.ratio_error, ratio_error, max_relative = 1e-9);
    assert!(!worst.shift.is_below_resolution());
    assert!(touch.neighbours[2].shift.is_below_resolution());
    let base = pad.base.expect("in the model");
    assert!(base.bounds_are_guaranteed);
    assert_abs_diff_eq!(base.bounds[0].pf(), 7.99, epsilon = 1e-9);
    assert_abs_diff_eq!(base.bounds[1].pf(), 8.01, epsilon = 1e-9);
}

#[test]
fn counts_stand_on_the_base_at_the_pin() {
    let mut panel = four_keys();
    panel.electronics.circuit.comparator_delay = Time::from_ns(0.0);
    let response = solve(&panel);
    // 100 kohm, thirds, 10 ms: N = 10 ms/(2 ln 2 R C), C the 15.8 pF of the test above.
    let count = |pf: f64| 1e-2 / (2.0 * 2.0_f64.ln() * 1e5 * pf * 1e-12);
    let pad = &response.counts.pads[0];
    assert_relative_eq!(pad.base_count, count(15.8), max_relative = 1e-9);
    let touch = pad.touch.as_ref().expect("touched");
    let wanted = count(15.8) - count(16.45);
    assert_relative_eq!(touch.shift.value, wanted, max_relative = 1e-9);
    assert!(!response.counts.rises);
    assert_relative_eq!(
        touch.shift.tolerance_range[0],
        count(17.0) - count(17.65),
        max_relative = 1e-9
    );
    // The field part alone would make twice as much of it.
    assert!(touch.shift.value < 0.6 * (count(8.0) - count(8.65)));
    // Error of the shift times the slope, error of the base times the change of the slope.
    let error = count(16.45) / 16.45 * 0.002 + (count(15.8) / 15.8 - count(16.45) / 16.45) * 0.008;
    assert_relative_eq!(touch.shift.error, error, max_relative = 1e-9);
    let worst = touch.worst_neighbour().expect("has neighbours");
    assert_eq!(worst.pad, "light");
    assert_relative_eq!(
        touch.signal_to_noise,
        touch.shift.value / touch.noise,
        max_relative = 1e-12
    );
    let values = point_values(&response);
    let of = |text: &str| values.of(&text.parse().expect("a quantity"));
    assert_eq!(
        of("count shift of vent").map(|r| r.value),
        Some(touch.shift.value)
    );
    assert_eq!(
        of("neighbour count shift of vent").map(|r| r.value),
        Some(worst.shift.value)
    );
    assert_eq!(
        of("signal-to-noise ratio of vent").map(|r| r.value),
        Some(touch.signal_to_noise)
    );
}

#[test]
fn a_wider_tolerance_of_the_resistor_widens_the_count_shift() {
    let width = |percent: f64| {
        let mut panel = four_keys();
        let nominal = Resistance::from_kilohms(100.0);
        panel.electronics.circuit.principle = Principle::ResistorOscillator {
            resistor: Toleranced {
                nominal,
                least: nominal * (1.0 - percent / 100.0),
                most: nominal * (1.0 + percent / 100.0),
            },
            thresholds: Thresholds::THIRDS,
        };
        let response = solve(&panel);
        let touch = response.counts.pads[0].touch.as_ref().expect("touched");
        let [least, most] = touch.shift.tolerance_range;
        assert!(least <= touch.shift.value && touch.shift.value <= most);
        most - least
    };
    assert!(width(1.0) > width(0.0) && width(5.0) > width(1.0));
}

#[test]
fn common_mode_comes_through_the_finger() {
    let mut panel = four_keys();
    panel.electronics.circuit.common_mode = Voltage::from_mv(100.0);
    let noise = |panel: &Panel| {
        let response = respond_with(&request(panel), &|case, _, settings, _| {
            let drive = settings.drive.as_ref().expect("rows are chosen");
            assert_eq!(drive.last().map(String::as_str), Some(FINGER));
            Ok(answer(case, settings))
        })
        .expect("response");
        let pad = &response.counts.pads[0];
        let touch = pad.touch.as_ref().expect("touched");
        assert!(touch.noise > pad.noise.total());
        touch.common_mode
    };
    let earthed = noise(&panel);
    let circuit = panel.electronics.circuit;
    // 1.3 pF to the finger, 16.45 pF touched.
    let [touched, coupling] = [16.45, 1.3].map(Capacitance::from_pf);
    let wanted = circuit.common_mode_noise(touched, coupling);
    assert_relative_eq!(earthed, wanted, max_relative = 1e-9);
    // In series with 5 pF, and 3 pF of the finger beside it, the pad sees 5/8 of it.
    panel.fingers[0].return_path = ReturnPath::Through(Capacitance::from_pf(5.0));
    assert!((noise(&panel) / earthed - 0.625).abs() < 0.03);
}

#[test]
fn a_return_path_takes_part_of_the_shift() {
    let mut panel = four_keys();
    panel.fingers[0].return_path = ReturnPath::Through(Capacitance::from_pf(5.0));
    let response = respond_with(&request(&panel), &|case, _, settings, _| {
        let drive = settings.drive.as_ref().expect("rows are chosen");
        assert_eq!(drive.last().map(String::as_str), Some(FINGER));
        Ok(answer(case, settings))
    })
    .expect("response");
    let touch = response.pads[0].touch.as_ref().expect("touched");
    let wanted = 0.65 - 1.3 * 1.3 / (3.0 + 5.0);
    assert_relative_eq!(touch.shift.value.pf(), wanted, max_relative = 1e-9);
    assert!(
        touch
            .estimates
            .iter()
            .any(|e| e.name.ends_with("return path"))
    );
    assert!(
        response
            .assumptions
            .iter()
            .any(|l| l.contains("through 5 pF"))
    );
}

#[test]
fn idle_pads_change_the_base() {
    let base = |idle: IdleState| {
        let mut panel = four_keys();
        panel.idle.value = idle;
        solve(&panel).pads[0]
            .base
            .expect("in the model")
            .computed
            .value
            .pf()
    };
    assert_relative_eq!(base(IdleState::Grounded), 8.0, max_relative = 1e-12);
    assert_relative_eq!(base(IdleState::Driven), 7.7, max_relative = 1e-12);
    // Three pads tied together by their floating: each at 0.1 / 7.8 of the measured one.
    let floating = 8.0 - 3.0 * 0.1 * 0.1 / (8.0 - 0.2);
    assert_relative_eq!(base(IdleState::Floating), floating, max_relative = 1e-12);
}

#[test]
fn hand_estimates_carry_their_ratio() {
    let response = solve(&four_keys());
    let touch = response.pads[0].touch.as_ref().expect("touched");
    let find = |name: &str| {
        let mut all = touch.estimates.iter();
        all.find(|e| e.name == name).expect("estimate exists")
    };
    // eps0 x 78.54 mm2 / (4/2.8 + 0.1/3.2) mm
    let contact = find("plates, contact area");
    let by_hand = 8.8541878188e-3 * 78.5398163 / (4.0 / 2.8 + 0.1 / 3.2);
    assert_relative_eq!(contact.value.pf(), by_hand, max_relative = 1e-8);
    assert_relative_eq!(contact.ratio, by_hand / 0.65, max_relative = 1e-8);
    let plane = find("pad to plane");
    assert_eq!(plane.subject, Subject::Base);
    assert_relative_eq!(
        plane.value.pf(),
        8.8541878188e-3 * 225.0 * 4.4 / 1.6,
        max_relative = 1e-9
    );
    assert!(
        touch
            .estimates
            .iter()
            .all(|e| e.name != "isolated disc in air")
    );
    assert!(response.checks().is_empty(), "{:?}", response.checks());

    let mut bare = four_keys();
    bare.grounds.clear();
    let response = solve(&bare);
    let touch = response.pads[0].touch.as_ref().expect("touched");
    let disc = touch.estimates.last().expect("estimates");
    assert_eq!(disc.name, "isolated disc in air");
    // A floor far below the value is what a floor is; above the value, beyond its bar, one of both is wrong.
    assert!(disc.ratio < 0.1 && !disc.is_far_off());
    assert!(response.checks().is_empty(), "{:?}", response.checks());
    let bar = disc.floor_below.expect("a floor");
    assert!(bar > 0.0 && bar < 0.1);
    for (above, is_far_off) in [(0.9 * bar, false), (1.1 * bar, true)] {
        let ratio = 1.0 + above;
        let mut moved = disc.clone();
        moved.ratio = ratio;
        assert_eq!(moved.is_far_off(), is_far_off);
    }
}

#[test]
fn faults_name_what_there_is() {
    let panel = four_keys();
    let never = |_: &Case,
                 _: Option<&str>,
                 _: &Settings,
                 _: &Progress<'_>|
     -> Result<FieldAnswer, FieldError> { panic!("nothing to solve") };
    let mut asked = request(&panel);
    asked.finger = Some("child");
    let error = respond_with(&asked, &never).expect_err("no such finger");
    assert_eq!(
        error.to_string(),
        "there is no finger \"child\"; fingers: adult"
    );
    let mut asked = request(&panel);
    asked.pad = Some("fan");
    let error = respond_with(&asked, &never).expect_err("no such pad");
    assert_eq!(
        error.to_string(),
        "there is no pad \"fan\"; pads: vent, mist, light, set"
    );
    let failing = |_: &Case, _: Option<&str>, _: &Settings, _: &Progress<'_>| {
        Err(FieldError::NotConverged { history: vec![0.5] })
    };
    let error = respond_with(&request(&panel), &failing).expect_err("not converged");
    assert!(matches!(
        error,
        ResponseError::Field(FieldError::NotConverged { .. })
    ));
}

#[test]
fn the_record_holds_every_number() {
    let record = ResponseRecord::of(&solve(&four_keys()), None);
    let record = serde_json::to_value(record).expect("JSON");
    let pad = &record["pads"][1];
    assert_eq!(pad["pad"], "mist");
    assert_eq!(pad["base"]["bounds_are_guaranteed"], true);
    assert_eq!(pad["pin"]["origin"], "given");
    assert_eq!(pad["touch"]["worst_neighbour"], "set");
    assert_eq!(pad["touch"]["mirrored_from"], "vent");
    assert_relative_eq!(
        pad["touch"]["shift"]["value_pf"].as_f64().expect("number"),
        0.65,
        max_relative = 1e-12
    );
    assert_eq!(record["solver"]["cells"], 1000);
    assert_eq!(record["accuracy"]["reached"], true);
}

#[test]
fn the_field_engine_agrees_with_the_mirror() {
    // Two coarse solves in three dimensions: the second pad solved on its own grid must agree with
    // the mirror image of the first, because both grids are mirror images too.
    let mut panel = four_keys();
    panel.pads.truncate(2);
    panel.pads[0].centre[1] = mm(0.0);
    panel.pads[1].centre[1] = mm(0.0);
    let coarse = |pad: Option<&'static str>| {
        let mut asked = request(&panel);
        asked.pad = pad;
        asked.settings.accuracy = 0.5;
        respond(&asked, &|_| ()).expect("solved")
    };
    let both = coarse(None);
    let second = coarse(Some("mist"));
    assert_eq!(both.numerics.solves, 1);
    let [mirrored, solved] = [&both, &second].map(|r| r.pads[1].touch.as_ref().expect("touched"));
    // The iteration stops at an energy share of 1e-8 of the base, ten times the shift.
    assert_relative_eq!(
        mirrored.shift.value.pf(),
        solved.shift.value.pf(),
        max_relative = 1e-5
    );
    // Own coarse estimate, unpublished, of a similar panel: 0.64 pF, 7.9 pF, each within 20 %.
    assert_relative_eq!(solved.shift.value.pf(), 0.64, max_relative = 0.2);
    let base = both.pads[0].base.expect("in the model");
    assert_relative_eq!(base.computed.value.pf(), 7.9, max_relative = 0.2);
    assert!(base.bounds_are_guaranteed);
    assert!(base.bounds[0] < base.computed.value && base.computed.value < base.bounds[1]);
}

#[test]
fn of_equal_neighbours_every_table_names_the_first() {
    let largest = |values: &[f64]| super::answer::first_largest(values, |value| *value).copied();
    assert_eq!(largest(&[1.0, 2.0, 2.0001, 1.9]), Some(2.0));
    assert_eq!(largest(&[2.0, 2.01]), Some(2.01));
    assert_eq!(largest(&[-2.0, -1.0, -1.0001]), Some(-1.0));
    assert_eq!(largest(&[]), None);
}
