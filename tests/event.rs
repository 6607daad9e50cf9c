//! One evaluator of events: window, tolerance, levers and note tell the same counts, and the range over the
//! tolerances holds every unit that is drawn at random and solved again.

use padfield::checks::{Findings, Kind};
use padfield::event::{Cause, Event, Group, PadField, count};
use padfield::input::{Document, Override};
use padfield::panel::Panel;
use padfield::panel::lowering::LoweringOptions;
use padfield::questions::tolerance::{
    Drawn, Output, Question, ThresholdOrigin, Watch, tolerance_under, units,
};
use padfield::questions::window::{Lever, Reach, Window, levers, window_of};
use padfield::response::{Request, Response, respond, respond_over_tolerances};
use padfield::sensitivity::PanelFamily;
use padfield::touch::{TouchPlace, WorkLimits, solve_touches};
use padfield_engine::field::Settings;
use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use std::path::Path;

fn limits(accuracy: f64) -> WorkLimits<'static> {
    WorkLimits::of(Settings {
        accuracy,
        ..Settings::default()
    })
}

fn scenario(name: &str, changes: &[(&str, &str)]) -> PanelFamily {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("scenarios")
        .join(name);
    let text = std::fs::read_to_string(&path).expect("the scenario is there");
    let overrides: Vec<Override> = changes
        .iter()
        .map(|(path, value)| Override {
            path: (*path).to_owned(),
            value: (*value).to_owned(),
        })
        .collect();
    let document = Document::from_text(name, &text).expect("TOML");
    let changed = document.overridden(&overrides).expect("overrides");
    PanelFamily::of_document(&changed).unwrap_or_else(|error| panic!("{error}"))
}

/// What tolerance makes of the events of a window is what the window makes of them, to the last bit.
pub fn agree(name: &str, panel: &Panel, window: &Window) {
    let judged = window.binding();
    let watch = Watch::new(panel, &window.table, judged).expect("a pair");
    let event = |index: Option<usize>| &window.table.events[index.expect("an event")];
    assert_eq!(&watch.events[0].event, event(judged.weakest_true), "{name}");
    let strongest = &watch.events[watch.strongest].event;
    assert_eq!(strongest, event(judged.strongest_false), "{name}");
    for watched in &watch.events {
        let counted = watch.counts(watched, panel, &watch.known);
        let event = &watched.event;
        let told = (event.mean, event.noise);
        assert_eq!(
            (counted.mean, counted.noise),
            told,
            "{name}: {}",
            event.words()
        );
        let [low, high] = event.input_range;
        assert!(low <= event.mean && event.mean <= high, "{name}: {event:?}");
    }
    let outcome = watch.outcome(panel, &watch.known);
    assert_eq!(outcome.ratio(), judged.nominal_ratio, "{name}");
}

/// A keypad with a climate, and one whose supply carries a voltage: what once was "no window" here and a yield
/// of 100 % there.
const CLIMATE: &[(&str, &str)] = &[
    ("climate.lowest", "-20 degC"),
    ("climate.highest", "60 degC"),
    ("climate.fastest_change", "10 K/min"),
    ("climate.held", "60 s"),
];
const NOISY: &[(&str, &str)] = &[
    ("supply.mains.to_earth", "100 pF"),
    ("supply.mains.common_mode", "2 V"),
];

#[test]
fn window_tolerance_and_levers_agree_to_the_last_digit() {
    for (name, changes) in [
        ("two_pads.toml", [].as_slice()),
        ("two_pads.toml", CLIMATE),
        ("two_pads.toml", NOISY),
    ] {
        let limits = limits(0.2);
        let family = scenario(name, changes);
        let window = window_of(&family, &limits).expect("solved");
        agree(name, &family.panel, &window);
        let question = Question {
            pad: None,
            threshold: None,
            units: 0,
            seed: 1,
        };
        let spread = tolerance_under(&family, &window, &question, &limits).expect("a spread");
        let judged = window.binding();
        assert_eq!(spread.nominal_ratio, judged.nominal_ratio);
        assert_eq!(spread.nominal.of(Output::Ratio), judged.nominal_ratio);
        assert_eq!(spread.threshold_origin, ThresholdOrigin::NominalMiddle);
        // Where one says that there is no window, so does the other.
        let says = spread
            .checks()
            .iter()
            .any(|check| check.kind == Kind::Window);
        assert_eq!(says, judged.ratio <= 1.0, "{name}: W = {}", judged.ratio);
        // Counts at the worst ends keep their sign, and lie on either side of the nominal ones.
        for output in [Output::Base, Output::TouchShift, Output::TrueCounts] {
            let total = spread.totals[output as usize];
            let [low, high] = total.worst;
            assert!(
                0.0 < low && low <= total.nominal && total.nominal <= high,
                "{total:?}"
            );
        }
        if !changes.is_empty() {
            continue;
        }
        let found = levers(&family, &window, &limits).expect("levers");
        assert_eq!(found.ratio, judged.ratio);
        let limits = limits.starting_at(window.table.fineness);
        let solved_with = |lever: &Lever, factor: f64| {
            let document = family.document.as_ref().expect("a file");
            let changed = document.overridden(&lever.scalable.overrides(factor));
            let changed = PanelFamily::of_document(&changed.expect("overrides")).expect("a panel");
            let again = window_of(&changed, &limits).expect("solved");
            again.binding().ratio
        };
        for lever in &found.levers {
            // What is printed beside a lever was counted again; so it is here. Events that were left out can only
            // lower the ratio.
            let Some(checked) = lever.checked() else {
                continue;
            };
            let share = solved_with(lever, checked.value / lever.scalable.value) / checked.ratio;
            let least = if checked.is_whole { 1.0 - 1e-9 } else { 0.0 };
            assert!(
                (least..=1.0 + 1e-9).contains(&share),
                "{}: {share}",
                lever.scalable.path
            );
            assert!(checked.is_whole || matches!(lever.reach, Reach::FallsShort(_)));
        }
        // The bars of slopes hold slopes on a grid with half their error; derivatives against panels solved again are
        // in tests/sensitivity.rs.
        let finer = self::limits(0.01);
        let fine = window_of(&family, &finer).expect("solved");
        assert!(fine.table.fineness > window.table.fineness);
        let fine = levers(&family, &fine, &finer).expect("levers").levers;
        for lever in found.levers.iter().filter(|one| one.scalable.changes_field) {
            let path = &lever.scalable.path;
            let same = fine.iter().find(|one| one.scalable.path == *path);
            let fine = same.expect("the same lever").log_sensitivity;
            assert!(
                (fine - lever.log_sensitivity).abs() <= lever.log_sensitivity_error,
                "{path}: {fine} for {} ± {}",
                lever.log_sensitivity,
                lever.log_sensitivity_error
            );
        }
    }
}

#[test]
fn a_noisy_supply_and_a_climate_count_in_the_yield() {
    let limits = limits(0.2);
    let spread = |changes: &[(&str, &str)]| {
        let family = scenario("two_pads.toml", changes);
        let window = window_of(&family, &limits).expect("solved");
        let question = Question {
            pad: None,
            threshold: None,
            units: 300,
            seed: 1,
        };
        tolerance_under(&family, &window, &question, &limits).expect("a spread")
    };
    let quiet = spread(&[]);
    let noisy = spread(&[
        ("supply.mains.to_earth", "100 pF"),
        ("supply.mains.common_mode", "400 V"),
    ]);
    let own =
        |spread: &padfield::questions::tolerance::Spread| spread.units.as_ref().expect("units").own;
    assert!(own(&quiet).value() > 0.9, "{:?}", own(&quiet));
    assert!(own(&noisy).value() < 0.1, "{:?}", own(&noisy));
    assert_eq!(quiet.threshold_origin, ThresholdOrigin::BestYield);
    // No other whole threshold suits more units.
    let units = quiet.units.as_ref().expect("units");
    let suits = |threshold: f64| {
        let all = units.outcomes.iter();
        all.filter(|o| o.strongest_false < threshold && threshold < o.weakest_true)
            .count()
    };
    let best = (1..400).map(|t| suits(f64::from(t))).max();
    // The best stretch may hold no whole number, and then suits more.
    assert!(Some(units.fixed.passed) >= best, "{best:?}");
}

/// A random panel: two keys with a drawn trace, in space a slider beside them, a film, two supplies, tolerances
/// everywhere.
fn panel_text(random: &mut ChaCha8Rng, is_volume: bool) -> String {
    let mut within = |low: f64, high: f64| low + (high - low) * random.random::<f64>();
    let (overlay, board) = (within(1.5, 4.0), within(0.8, 1.6));
    let (spread, permittivity) = (within(0.05, 0.15), within(2.5, 7.0));
    let size = within(8.0, 12.0).round();
    let (model, more) = match is_volume {
        false => ("section", String::new()),
        true => (
            "volume",
            format!(
                "[pads.level]\nlayer = \"front\"\nshape = \"slider\"\nsegments = 3\npitch = \"6 mm\"\n\
                 height = \"8 mm\"\ngap = \"0.5 mm\"\ncentre = \"0 mm, -16 mm\"\n\
                 [trace.a]\npad = \"a\"\nlayer = \"back\"\nwidth = \"0.3 mm\"\n\
                 path = [\"{x:.3} mm, 8 mm\", \"{x:.3} mm, 22 mm\"]\n\
                 [film.drop]\ndiameter = \"10 mm\"\nthickness = \"0.3 mm\"\ntreat_as = \"floating\"\n\
                 centre = \"{x:.3} mm, 8 mm\"\n",
                x = -(size / 2.0 + 3.0)
            ),
        ),
    };
    let y = if is_volume { 8.0 } else { 0.0 };
    format!(
        "title = \"invented\"\nmodel = \"{model}\"\nwall_distance = \"60 mm\"\n\
         [[layer]]\nname = \"overlay\"\nthickness = \"{overlay:.3} mm ± {:.3} mm\"\n\
         permittivity = \"{permittivity:.3} ± {:.3}\"\n\
         [[layer]]\nname = \"front\"\ncopper = \"35 um\"\n\
         [[layer]]\nname = \"board\"\nthickness = \"{board:.3} mm ± 8 %\"\npermittivity = \"4.4 ± 0.3\"\n\
         [[layer]]\nname = \"back\"\ncopper = \"35 um\"\n\
         [board]\noutline = \"60 mm x 50 mm\"\n\
         [pads.keys]\nlayer = \"front\"\nshape = \"rectangle\"\nsize = \"{size} mm x {size} mm\"\n\
         columns = 2\ngap = \"6 mm\"\nnames = [\"a\", \"b\"]\ncentre = \"0 mm, {y} mm\"\n{more}\
         [stray]\npin = \"5 pF ± 20 %\"\ntrace = \"0.3 pF/cm ± 20 %\"\n\
         [climate]\nlowest = \"0 degC\"\nhighest = \"50 degC\"\n\
         [supply.mains]\nto_earth = \"100 pF ± 30 %\"\ncommon_mode = \"0.5 V\"\n\
         [supply.cells]\nto_earth = \"8 pF ± 40 %\"\n\
         [window]\nusers = [\"adult\"]\nsupplies = [\"mains\", \"cells\"]\naim_error = \"2 mm\"\n\
         [circuit]\nprinciple = \"resistor oscillator\"\nresistor = \"100 kohm ± 2 %\"\n\
         [tolerance.etch]\nof = [\"pads.keys.size\", \"-pads.keys.gap\"]\nwithin = \"0.1 mm\"\n",
        overlay * spread,
        permittivity * 0.08,
    )
}

/// Counts of an event on a unit whose field is solved again.
fn on_unit(panel: &Panel, event: &Event, nominal: &Window) -> Option<f64> {
    let gesture = event.cause.gesture()?;
    let users = &panel.usage.users.value;
    let mut finger = users.iter().find(|user| user.name == gesture.user)?.clone();
    finger.offset = gesture.offset;
    let pad = panel
        .pads
        .iter()
        .position(|pad| pad.name == gesture.aimed_at)?;
    // The grid of the nominal panel's fineness: its error is that of the nominal counts.
    let settings = limits(0.9).starting_at(nominal.table.fineness);
    let touches = solve_touches(panel, &[TouchPlace { finger, pad }], &settings).expect("solved");
    let touch = touches.pads(0).expect("algebra")[event.pad]?;
    let field = PadField::Changed(touch);
    Some(count(panel, &event.cause, event.pad, event.supply, &field).mean)
}

#[test]
fn the_range_of_counts_holds_every_unit_drawn_at_random() {
    let mut random = ChaCha8Rng::seed_from_u64(16);
    for number in 0..4 {
        let is_volume = number >= 3;
        let text = panel_text(&mut random, is_volume);
        let document = Document::from_text("random.toml", &text).expect("TOML");
        let family =
            PanelFamily::of_document(&document).unwrap_or_else(|error| panic!("{error}\n{text}"));
        let window = window_of(&family, &limits(0.15)).expect("solved");
        let binding = window.binding();
        let mut chosen: Vec<&Event> = [binding.weakest_true, binding.strongest_false]
            .into_iter()
            .flatten()
            .map(|index| &window.table.events[index])
            .collect();
        let of_kind = |is: &dyn Fn(&Cause) -> bool| {
            window
                .table
                .events
                .iter()
                .filter(|e| is(&e.cause))
                .max_by(|a, b| a.bound.total_cmp(&b.bound))
        };
        chosen.extend(of_kind(&|cause| matches!(cause, Cause::NeighbourTouch(_))));
        chosen.extend(of_kind(&|cause| matches!(cause, Cause::TraceTouch(..))));
        chosen.retain(|event| event.cause.gesture().is_some());
        let varying: Vec<usize> = (0..family.parameters.len())
            .filter(|&index| family.parameters[index].spread.is_some())
            .collect();
        let inputs: Vec<Drawn> = varying
            .iter()
            .map(|&index| Drawn {
                spread: family.parameters[index].spread.expect("it spreads"),
                with: None,
            })
            .collect();
        for unit in units(&inputs, 4, number) {
            let moved: Vec<(usize, f64)> = varying.iter().copied().zip(unit).collect();
            let panel = family.panel(&moved).expect("a possible panel");
            for event in &chosen {
                let Some(counts) = on_unit(&panel, event, &window) else {
                    continue;
                };
                let [low, high] = event.input_range;
                let error = event.numerical_error;
                assert!(
                    (low - error..=high + error).contains(&counts),
                    "{number}: {}: {counts} outside {low} to {high} +- {error}",
                    event.words()
                );
            }
        }
        // The same units with the field's own inputs left at nominal values.
        let beside_the_field = |unit: Vec<f64>| {
            let moved = varying.iter().copied().zip(unit);
            let moved = moved.filter(|(index, _)| !family.parameters[*index].changes_field);
            let moved: Vec<(usize, f64)> = moved.collect();
            family.panel(&moved).expect("a possible panel")
        };
        // No unit is worse than the worst one, noise included; circuit and return path alone, which is cheap.
        for event in &window.table.events {
            let margin = family.panel.usage.noise_margin.value;
            let bad = |mean: f64, noise: f64| match event.group {
                Group::True => margin * noise - mean,
                _ => margin * noise + mean,
            };
            let worst = bad(event.worst.mean, event.worst.noise);
            assert!(worst >= bad(event.mean, event.noise), "{}", event.words());
            for unit in units(&inputs, 20, number) {
                let panel = beside_the_field(unit);
                let counted = count(&panel, &event.cause, event.pad, event.supply, &event.field);
                let found = bad(counted.mean, counted.noise);
                assert!(
                    found <= worst + 1e-9 * worst.abs(),
                    "{number}: {}: {found} worse than {worst}",
                    event.words()
                );
            }
        }
        // Events without a touch, on the same units: from the nominal fields, which is what they hang on here.
        let quiet = window
            .table
            .events
            .iter()
            .filter(|e| matches!(e.cause, Cause::Drift | Cause::Noise));
        for event in quiet {
            assert!(event.group == Group::False);
            for unit in units(&inputs, 20, number) {
                let panel = beside_the_field(unit);
                let counts =
                    count(&panel, &event.cause, event.pad, event.supply, &event.field).mean;
                let [low, high] = event.input_range;
                assert!(
                    (low..=high).contains(&counts),
                    "{}: {counts} {low} {high}",
                    event.words()
                );
            }
        }
    }
}

/// A unit on which a touch makes fewer counts has less of the noise that comes through the finger, too: both
/// are counts per picofarad times what the field does. The bound once joined the fewest counts of one unit with
/// the noise of another.
#[test]
fn the_noise_in_a_bound_is_that_of_the_same_unit() {
    let family = scenario(
        "two_pads.toml",
        &[
            ("supply.mains.to_earth", "100 pF"),
            ("supply.mains.common_mode", "0.15 V"),
        ],
    );
    let window = window_of(&family, &limits(0.2)).expect("solved");
    let margin = family.panel.usage.noise_margin.value;
    let mut seen = 0;
    for event in &window.table.events {
        if event.group != Group::True || event.supply.is_none() {
            continue;
        }
        seen += 1;
        // Where the noise outweighs the touch, more sensitive units are the worse ones.
        assert!(margin * event.noise < 0.9 * event.mean, "{event:?}");
        assert!(event.worst.noise < event.noise, "{event:?}");
        let joined = event.input_range[0] - event.numerical_error - margin * event.noise;
        assert!(event.bound > joined, "{event:?}");
        // Noise is nearly all common mode here, so that it keeps its share of the touch within a few percent.
        let [share, worst] = [
            event.noise / event.mean,
            event.worst.noise / event.worst.mean,
        ];
        assert!((worst / share - 1.0).abs() < 0.1, "{share} {worst}");
    }
    assert!(seen > 0);
}

/// Thickness of overlay and board at their ends: what `solve` prints as range of base counts, of neighbours and of
/// their ratios holds every corner that is solved again, and ends near the outermost of them.
#[test]
fn ranges_of_bases_and_neighbours_hold_the_corners_of_the_layers() {
    let same = [
        ("layer.overlay.permittivity", "2.8"),
        ("layer.board.permittivity", "4.4"),
        ("stray.pin", "5 pF ± 0 pF"),
        ("stray.trace", "0.5 pF/cm ± 0 %"),
        ("circuit.resistor", "100 kohm ± 0 %"),
    ];
    let panel_with = |overlay: &str, board: &str| {
        let layers = [
            ("layer.overlay.thickness", overlay),
            ("layer.board.thickness", board),
        ];
        scenario("two_pads.toml", &[&same[..], &layers[..]].concat()).panel
    };
    fn request(panel: &Panel) -> Request<'_> {
        Request {
            panel,
            finger: None,
            pad: None,
            settings: limits(0.08).settings,
            options: LoweringOptions::default(),
        }
    }
    let panel = panel_with("3 mm ± 15 %", "1.6 mm ± 15 %");
    let told = respond_over_tolerances(&request(&panel), &request(&panel).limits(&|_| {}))
        .expect("solved");
    let plain = respond(&request(&panel), &|_| {}).expect("solved");
    // A nominal touch with derivatives and one end of the pad that stands for both; the other end is told.
    assert_eq!(told.numerics.solves, plain.numerics.solves + 2);
    // Base count, count shift and ratio of the neighbour when the pad beside it is touched.
    let shown = |response: &Response, pad: usize| {
        let counts = &response.counts.pads[pad];
        let neighbour = &counts.touch.as_ref().expect("touched").neighbours[0];
        let ratio = &response.pads[pad]
            .touch
            .as_ref()
            .expect("touched")
            .neighbours[0];
        [
            (counts.base_count, counts.base_range),
            (neighbour.shift.value, neighbour.shift.tolerance_range),
            (ratio.ratio, ratio.ratio_range),
        ]
    };
    let mut reached = [[f64::INFINITY, f64::NEG_INFINITY]; 3];
    for overlay in ["2.55 mm", "3.45 mm"] {
        for board in ["1.36 mm", "1.84 mm"] {
            let corner = panel_with(overlay, board);
            let corner = respond(&request(&corner), &|_| {}).expect("solved");
            for pad in [0, 1] {
                for (number, (value, _)) in shown(&corner, pad).into_iter().enumerate() {
                    let [low, high] = shown(&told, pad)[number].1;
                    // Both are coarse: of what grids make of the same corner.
                    let slack = 0.02 * value.abs();
                    assert!(
                        (low - slack..=high + slack).contains(&value),
                        "{number} {overlay} {board}: {value} outside {low} to {high}"
                    );
                    let [least, most] = reached[number];
                    reached[number] = [least.min(value), most.max(value)];
                }
            }
        }
    }
    for (number, (value, range)) in shown(&told, 0).into_iter().enumerate() {
        let [least, most] = reached[number];
        let width = range[1] - range[0];
        assert!(width > 0.01 * value, "{number}: {range:?}");
        assert!(
            width < 1.2 * (most - least) + 0.02 * value,
            "{number}: {range:?} {least} {most}"
        );
    }
}
