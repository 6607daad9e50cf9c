//! Spreads against brute force: units drawn at random over the surrogate against 500 units whose field is
//! solved one by one; the same numbers for a seed and any number of threads; the command as a process.

use std::process::Command;

use padfield::input::Document;
use padfield::questions::tolerance::{
    Drawn, MonteCarlo, Output, Question, Spread, Summary, family, tolerance, units,
};
use padfield::sensitivity::{DifferentiatedTouch, PanelFamily};
use padfield::touch::{PadTouch, TouchPlace, WorkLimits};
use padfield_engine::field::Settings;
use rayon::prelude::*;

/// Two keys in section, dimensions and tolerances invented.
const PANEL: &str = "title = \"invented\"\nmodel = \"section\"\nwall_distance = \"60 mm\"\n\
    [[layer]]\nname = \"overlay\"\nthickness = \"3 mm ± 0.4 mm\"\npermittivity = \"2.8 ± 0.2\"\n\
    [[layer]]\nname = \"bond\"\nthickness = \"0.15 mm +0.1 -0.05 mm\"\npermittivity = 3.0\n\
    [[layer]]\nname = \"front\"\ncopper = \"35 um\"\n\
    [[layer]]\nname = \"board\"\nthickness = \"1.6 mm ± 10 %\"\npermittivity = 4.4\n\
    [[layer]]\nname = \"back\"\ncopper = \"35 um\"\n\
    [board]\noutline = \"60 mm x 40 mm\"\n\
    [pads.keys]\nlayer = \"front\"\nshape = \"rectangle\"\nsize = \"12 mm x 12 mm\"\ncolumns = 2\n\
    gap = \"6 mm\"\nnames = [\"a\", \"b\"]\n\
    [ground.plane]\nlayer = \"back\"\n\
    [stray]\npin = \"5 pF ± 20 %\"\ntrace = \"0.3 pF/cm\"\n\
    [window]\nusers = [\"adult\"]\naim_error = \"0 mm\"\n\
    [circuit]\nprinciple = \"resistor oscillator\"\nresistor = \"100 kohm ± 1 %\"\n\
    comparator_delay = \"0 ns\"\n\
    [tolerance.etch]\nof = [\"pads.keys.size\", \"-pads.keys.gap\"]\nwithin = \"0.1 mm\"\n\
    shape = \"normal\"\ndeviations = 2\n\
    [tolerance.glue]\nof = [\"layer.bond.thickness\"]\nplus = \"0.1 mm\"\nminus = \"0.05 mm\"\n\
    shape = \"triangular\"\n\
    [tolerance.laminate]\nof = [\"layer.board.thickness\"]\nwithin = \"10 %\"\nwith = \"glue\"\n\
    correlation = 0.5\n";

const ACCURACY: f64 = 0.05;

fn panel_family() -> PanelFamily {
    let document = Document::from_text("two_keys.toml", PANEL).expect("TOML");
    family(&document).expect("a panel with tolerances")
}

fn spread(family: &PanelFamily, units: usize, seed: u64) -> Spread {
    let limits = WorkLimits::of(Settings {
        accuracy: ACCURACY,
        ..Settings::default()
    });
    let question = Question {
        pad: Some("a".to_owned()),
        threshold: None,
        units,
        seed,
    };
    tolerance(family, &question, &limits).expect("a spread")
}

/// What a pad shows of a place on a panel with parameters moved, on the stretched grid of the nominal one.
fn solved(
    family: &PanelFamily,
    start: &DifferentiatedTouch,
    place: &TouchPlace,
    pad: usize,
    moved: &[(usize, f64)],
) -> PadTouch {
    let panel = family.panel(moved).expect("a possible panel");
    let settings = start.neighbour_settings();
    let touch = DifferentiatedTouch::solve(&panel, place, &WorkLimits::of(settings.clone()))
        .expect("an answer");
    touch
        .pad(pad)
        .expect("a touch")
        .expect("a pad of the model")
}

#[test]
fn units_over_the_surrogate_are_like_units_solved_one_by_one() {
    const SOLVED: usize = 500;
    let family = panel_family();
    let spread = spread(&family, 20_000, 1);
    let quality = spread.surrogate.expect("a surrogate");
    println!("{quality:?}");
    assert!(quality.is_good());
    let watch = &spread.watch;
    let settings = Settings {
        accuracy: ACCURACY,
        ..Settings::default()
    };
    let starts: Vec<DifferentiatedTouch> = watch
        .places
        .iter()
        .map(|place| {
            DifferentiatedTouch::solve(&family.panel, place, &WorkLimits::of(settings.clone()))
                .expect("an answer")
        })
        .collect();
    let varying: Vec<usize> = (0..family.parameters.len())
        .filter(|&index| family.parameters[index].spread.is_some())
        .collect();
    let inputs: Vec<Drawn> = varying
        .iter()
        .map(|&index| Drawn {
            spread: family.parameters[index].spread.expect("it spreads"),
            with: family.parameters[index].with.map(|(other, correlation)| {
                let other = varying.iter().position(|&one| one == other);
                (other.expect("it spreads as well"), correlation)
            }),
        })
        .collect();
    // Another seed: other units than those over the surrogate.
    let drawn_apart = units(&inputs, SOLVED, 99);
    let outcomes = drawn_apart.into_par_iter().map(|unit| {
        let moved: Vec<(usize, f64)> = varying.iter().copied().zip(unit).collect();
        let touches: Vec<PadTouch> = starts
            .iter()
            .zip(&watch.places)
            .map(|(start, place)| solved(&family, start, place, watch.pad, &moved))
            .collect();
        watch.outcome(&family.panel(&moved).expect("a possible panel"), &touches)
    });
    let brute = MonteCarlo::judged(outcomes.collect(), spread.threshold, spread.wanted_ratio);
    let drawn = spread.units.expect("units");
    for output in Output::ALL {
        let one: &Summary = &drawn.summaries[output as usize];
        let other: &Summary = &brute.summaries[output as usize];
        println!("{}: {one:?} {other:?}", output.name());
        // Three standard errors of the difference, of either set of units.
        let apart = (one.mean[0] - other.mean[0]).abs();
        assert!(
            apart <= 3.0 * one.mean[1].hypot(other.mean[1]),
            "mean of {}",
            output.name()
        );
        // Standard error of a deviation of n values: deviation/sqrt(2 n) for a normal one, more than for
        // the flat shapes here (JCGM 100:2008, E.4.3, from memory).
        let ratio = one.deviation / other.deviation;
        let error = 3.0 / (2.0 * SOLVED as f64).sqrt();
        assert!(
            (ratio - 1.0).abs() <= error,
            "deviation of {}: {ratio}",
            output.name()
        );
        let [low, high] = other.low_percentile_confidence;
        let slack = one.low_percentile_confidence[1] - one.low_percentile_confidence[0];
        let quantile = one.percentiles[0];
        assert!(
            (low - slack..=high + slack).contains(&quantile),
            "5th percentile of {}: {quantile}, {low} to {high}",
            output.name()
        );
        // Root sum square is the same to first order: within a tenth where tolerances are small.
        let total = spread.totals[output as usize];
        let linear = total.standard_uncertainty / one.deviation;
        assert!(
            (0.85..1.15).contains(&linear),
            "root sum square of {}: {linear}",
            output.name()
        );
    }
}

#[test]
fn a_seed_repeats_for_any_number_of_threads() {
    let family = panel_family();
    let on = |threads: usize, seed: u64| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let mut spread = pool
            .expect("threads")
            .install(|| spread(&family, 200, seed));
        spread.seconds = 0.0;
        spread
    };
    let one = on(1, 5);
    assert_eq!(one, on(2, 5));
    assert_eq!(one, on(5, 5));
    assert_ne!(one.units, on(2, 6).units);
}

#[test]
fn effects_and_totals_hang_together() {
    let family = panel_family();
    let spread = spread(&family, 0, 1);
    assert!(spread.units.is_none() && spread.surrogate.is_none());
    let path =
        |row: &padfield::questions::tolerance::Row| family.parameters[row.parameter].path.clone();
    let row = |name: &str| {
        let found = spread.rows.iter().find(|row| path(row) == name);
        found.unwrap_or_else(|| panic!("no row {name}"))
    };
    // A thicker overlay weakens the touch, a higher permittivity strengthens it, the pin dilutes counts
    // and does nothing to the field.
    let touch = Output::TouchShift as usize;
    assert!(row("layer.overlay.thickness").log_sensitivity[touch] < -0.5);
    assert!(row("layer.overlay.permittivity").log_sensitivity[touch] > 0.3);
    let pin = row("stray.pin");
    assert_eq!(pin.log_sensitivity[touch], 0.0);
    assert!(pin.log_sensitivity[Output::TrueCounts as usize] < -0.2);
    // Without delay N = T/(R C ln 4) over a fixed gate, so dN falls as the resistor rises.
    let resistor = row("circuit.resistor").log_sensitivity[Output::TrueCounts as usize];
    assert!((resistor + 1.0).abs() < 1e-3, "{resistor}");
    // Asymmetric and together: the section's own names.
    let glue = row("layer.bond.thickness").effects[touch];
    assert!(glue[0] > 0.0 && glue[1] < 0.0 && (glue[1] / glue[0] + 2.0).abs() < 1e-6);
    assert!(row("etch").effects[touch][1].is_finite());
    let total = spread.totals[touch];
    let sum = |end: usize| -> f64 {
        let ends = spread.rows.iter().map(|row| row.effects[touch]);
        ends.map(|[a, b]| if end == 0 { a.min(b) } else { a.max(b) })
            .sum()
    };
    // Everything at its end: powers of the values, so a product of the linear shares, whose logarithm is their sum
    // within a percent for shares of some ten percent, and never of another sign.
    for end in 0..2 {
        let worst = (total.worst[end] / total.nominal).ln();
        let linear = sum(end) / total.nominal;
        assert!((worst / linear - 1.0).abs() < 0.05, "{worst} {linear}");
        assert!(total.worst[end] > 0.0);
    }
    assert!(total.standard_uncertainty < total.worst[1] - total.nominal);
}

/// A frame that reaches to the edge of the overlay: there is no panel with a larger opening. Its rate is
/// that towards smaller ones, as panels solved again say.
#[test]
fn a_value_at_the_edge_of_what_is_possible_has_a_rate_to_one_side() {
    let text = format!(
        "{}[bezel.frame]\nopening = \"44 mm x 24 mm\"\nwidth = \"8 mm\"\nstate = \"earthed\"\n",
        PANEL.replace("model = \"section\"\n", "")
    );
    let document = Document::from_text("frame.toml", &text).expect("TOML");
    let family = family(&document).expect("a panel with tolerances");
    let mut paths = family.parameters.iter().map(|p| &p.path);
    let opening = paths.position(|path| path == "bezel.frame.opening");
    let opening = opening.expect("a parameter");
    let value = family.parameters[opening].value;
    assert!(family.panel(&[(opening, value * 1.01)]).is_err());
    let spread = spread(&family, 0, 1);
    let settings = Settings {
        accuracy: ACCURACY,
        ..Settings::default()
    };
    let watch = &spread.watch;
    let outcomes = [value, value * 0.99].map(|at| {
        let moved = [(opening, at)];
        let touches: Vec<PadTouch> = watch
            .places
            .iter()
            .map(|place| {
                let start = DifferentiatedTouch::solve(
                    &family.panel,
                    place,
                    &WorkLimits::of(settings.clone()),
                );
                solved(
                    &family,
                    &start.expect("an answer"),
                    place,
                    watch.pad,
                    &moved,
                )
            })
            .collect();
        watch.outcome(&family.panel(&moved).expect("a panel"), &touches)
    });
    let row = spread.rows.iter().find(|row| row.parameter == opening);
    let row = row.expect("a row");
    for output in [Output::Base, Output::TouchShift] {
        let [here, smaller] = outcomes.map(|outcome| outcome.of(output));
        let again = (smaller / here).ln() / 0.99_f64.ln();
        let rate = row.log_sensitivity[output as usize];
        assert!(again.abs() > 1e-3, "{output:?} does not hang on it");
        // Over one percent of the value the curve bends a little.
        assert!(
            (rate / again - 1.0).abs() < 0.03,
            "{output:?}: {rate} against {again}"
        );
    }
}

fn message(section: &str) -> String {
    let text = PANEL
        .split("[tolerance.etch]")
        .next()
        .expect("the panel")
        .to_owned()
        + section;
    let document = Document::from_text("two_keys.toml", &text).expect("TOML");
    document
        .variations()
        .expect_err("a wrong tolerance")
        .to_string()
}

#[test]
fn wrong_tolerances_are_told_with_their_place() {
    let cases = [
        (
            "[tolerance.a]\nof = []\nwithin = \"5 %\"\n",
            ["no value is named", "of = ["],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.siz\"]\nwithin = \"5 %\"\n",
            ["siz", "pads.keys.size"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.columns\"]\nwithin = \"5 %\"\n",
            ["whole number", "length"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.size\"]\n",
            ["no size", "within"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.size\"]\nwithin = \"5 pF\"\n",
            ["not in the unit", "mm"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.size\"]\nwithin = \"1 mm\"\nplus = \"2 mm\"\n",
            ["both ways", "either"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.size\"]\nplus = \"1 mm\"\nminus = \"2 %\"\n",
            ["percent", "same unit"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.size\", \"stray.pin\"]\nwithin = \"5 %\"\n",
            ["another unit", "section of its own"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.size\"]\nwithin = \"5 %\"\ndeviations = 2\n",
            ["normal", "shape"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.size\"]\nwithin = \"5 %\"\nwith = \"b\"\n\
             correlation = 0.5\n",
            ["no tolerance \"b\"", "before"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.size\"]\nwithin = \"5 %\"\n[tolerance.b]\n\
             of = [\"pads.keys.gap\"]\nwithin = \"5 %\"\nwith = \"a\"\ncorrelation = 2\n",
            ["out of range", "-1 to 1"],
        ),
        (
            "[tolerance.a]\nof = [\"pads.keys.size\"]\nwithin = \"5 %\"\n[tolerance.b]\n\
             of = [\"pads.keys.size\"]\nwithin = \"1 %\"\n",
            ["two tolerances", "keep one"],
        ),
    ];
    for (section, wanted) in cases {
        let message = message(section);
        assert!(message.contains("two_keys.toml:"), "{message}");
        for word in wanted {
            assert!(message.contains(word), "{section}\n{message}");
        }
    }
}

#[test]
fn the_command_prints_tables_charts_and_json() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("two_keys.toml");
    std::fs::write(&file, PANEL).expect("written");
    let run = |extra: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_padfield"))
            .arg("tolerance")
            .arg(&file)
            .args(extra)
            .current_dir(folder.path())
            .output()
            .expect("run")
    };
    let told = run(&["--units", "2000", "--accuracy", "4%"]);
    let text = String::from_utf8(told.stdout).expect("text");
    assert_eq!(
        told.status.code(),
        Some(0),
        "{text}{}",
        String::from_utf8_lossy(&told.stderr)
    );
    for words in [
        "hurts most",
        "Yield",
        "Surrogate",
        "layer.overlay.thickness",
        "worst case",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    for name in ["weakest-touch.svg", "window-ratio.png", "units.svg"] {
        let chart = folder.path().join("results/two_keys/tolerance").join(name);
        assert!(chart.exists(), "{}", chart.display());
    }
    let json = run(&["--units", "0", "--json", "--accuracy", "4%"]);
    let record: serde_json::Value = serde_json::from_slice(&json.stdout).expect("JSON");
    assert!(record["units"].is_null());
    assert!(
        record["parameters"]
            .as_array()
            .is_some_and(|rows| rows.len() > 10)
    );
    let bad = run(&["--pad", "c"]);
    assert_eq!(bad.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&bad.stderr).contains("pads: a, b"));
}
