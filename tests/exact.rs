//! The external checks of the catalogue as `padfield verify` runs them: exact solutions, published values and
//! published approximations, each within the tolerance its problem states with the reason.
//!
//! Run with `--nocapture` for the table `padfield verify` prints.

use std::sync::OnceLock;

use padfield::cli::verify::to_table;
use padfield_engine::field::Settings;
use padfield_engine::verify::{Bracket, Outcome, run_all};

/// The catalogue is run once for all tests.
fn outcomes() -> &'static [Outcome] {
    static OUTCOMES: OnceLock<Vec<Outcome>> = OnceLock::new();
    OUTCOMES.get_or_init(|| {
        let outcomes = run_all(&Settings::default(), &|_| {});
        println!("{}", to_table(&outcomes));
        outcomes
    })
}

/// Fails with every check of some families that is off.
fn hold(families: &[&str]) {
    let chosen: Vec<&Outcome> = outcomes()
        .iter()
        .filter(|outcome| {
            let id = outcome.check.reference.id.as_str();
            families.iter().any(|family| id.starts_with(family))
        })
        .collect();
    assert!(!chosen.is_empty());
    let failures: Vec<String> = chosen
        .iter()
        .filter(|outcome| !outcome.passed())
        .map(|outcome| {
            let (check, reference) = (&outcome.check, &outcome.check.reference);
            format!(
                "{} ({}): {:?} against {}, limit {} ({})",
                reference.id,
                reference.source,
                outcome.computed,
                reference.value,
                check.tolerance.relative,
                check.tolerance.reason
            )
        })
        .collect();
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

#[test]
fn planar_closed_boxes() {
    hold(&["A"]);
}

#[test]
fn planar_far_walls() {
    hold(&["B"]);
}

#[test]
fn about_an_axis() {
    hold(&["D"]);
}

#[test]
fn boxes_and_open_space_in_three_dimensions() {
    hold(&["T"]);
}

#[test]
fn published_approximations() {
    hold(&["P"]);
}

#[test]
fn estimated_errors_cover_the_true_ones_in_closed_boxes() {
    // Open walls and touching electrodes have errors of the model, which the bar does not hold.
    let ratios: Vec<(&str, f64)> = outcomes()
        .iter()
        .filter(|outcome| outcome.check.bracket == Bracket::Demanded)
        .filter_map(|outcome| {
            let reference = &outcome.check.reference;
            let computed = outcome.computed.as_ref().expect("an answer");
            let estimate = computed.margin?.estimated_error?;
            let error = (computed.value - reference.value).abs() - reference.uncertainty;
            Some((reference.id.as_str(), error / estimate))
        })
        .collect();
    assert!(ratios.len() > 40, "closed-box checks: {}", ratios.len());
    let over: Vec<_> = ratios
        .iter()
        .filter(|(_, ratio)| ratio.is_nan() || *ratio > 1.0)
        .collect();
    println!("over their error bar: {over:?}");
    assert!(over.len() as f64 <= 0.05 * ratios.len() as f64, "{over:?}");
}
