//! The value of one assumption that fits all measured values best.

use super::assumption::Assumption;
use super::predict::{FieldPart, field_parts, predicted};
use super::read::MeasuredValue;
use crate::panel::Panel;
use crate::response::{Request, ResponseError, respond};
use crate::sensitivity::PanelFamily;
use crate::touch::Tally;
use padfield_engine::field::{Printed, join_printed};
use statrs::distribution::{ChiSquared, ContinuousCDF};

/// Chance of a larger misfit below which an assumption does not explain the values.
pub const PLAUSIBLE: f64 = 0.05;
/// Steps of one fit.
const MOST_STEPS: usize = 5;
/// A step shorter than this share of the uncertainty ends a fit.
const CLOSE: f64 = 0.05;

/// A measured value beside its prediction.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    pub measured: MeasuredValue,
    /// The prediction, in its unit.
    pub computed: f64,
    /// Estimated numerical error of the prediction.
    pub numerical_error: f64,
    pub measured_error: f64,
}

impl Row {
    /// Measured minus computed over both errors as independent ones.
    pub fn deviation(&self) -> f64 {
        let error = self.numerical_error.hypot(self.measured_error);
        (self.measured.value - self.computed) / error
    }
}

/// What one assumption makes of the values.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    pub assumption: Assumption,
    pub words: String,
    /// The value of the panel file: nominal, least, most.
    pub assumed: [f64; 3],
    /// The value that fits best.
    pub value: f64,
    /// Its standard deviation; not finite when the values do not depend on it.
    pub uncertainty: f64,
    /// Sum of squares that is left.
    pub misfit: f64,
    /// Chance of a larger one if the assumption holds.
    pub chance: f64,
    /// What it predicts, in the order of the rows.
    pub predicted: Vec<f64>,
}

impl Explanation {
    /// Whether it explains the values.
    pub fn is_enough(&self) -> bool {
        self.chance > PLAUSIBLE && self.uncertainty.is_finite()
    }

    /// Whether the value lies within the tolerance of the panel file.
    pub fn is_within_tolerance(&self) -> bool {
        let [_, least, most] = self.assumed;
        (least..=most).contains(&self.value)
    }
}

/// Measured values beside a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Correlation {
    /// Value by value.
    pub rows: Vec<Row>,
    /// Values that the model has no prediction for.
    pub not_computed: Vec<MeasuredValue>,
    /// Sum of squares as the panel file stands.
    pub misfit: f64,
    /// Chance of a larger one if nothing is wrong.
    pub chance: f64,
    /// Assumption by assumption, the best first; empty when nothing has to be explained.
    pub explanations: Vec<Explanation>,
    /// Whether every solve reached its accuracy.
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
}

impl Correlation {
    /// Whether the panel file as it stands predicts the values within the errors.
    pub fn agrees(&self) -> bool {
        self.chance > PLAUSIBLE
    }

    /// Assumptions that explain the values.
    pub fn enough(&self) -> impl Iterator<Item = &Explanation> {
        self.explanations.iter().filter(|one| one.is_enough())
    }
}

/// Chance of a larger sum of squares with so many degrees of freedom; 1 without any.
fn chance(misfit: f64, freedom: usize) -> f64 {
    match ChiSquared::new(freedom as f64) {
        Ok(distribution) => distribution.sf(misfit),
        Err(_) => 1.0,
    }
}

/// Solves of one panel after another, with what they have in common.
struct Bench<'b> {
    request: &'b Request<'b>,
    values: &'b [MeasuredValue],
    measured_errors: Vec<f64>,
    progress: &'b (dyn Fn(&str) + Sync),
    accuracy_reached: bool,
    missed: Vec<Printed>,
}

impl Bench<'_> {
    fn parts(&mut self, panel: &Panel, words: &str) -> Result<Vec<FieldPart>, ResponseError> {
        let request = Request {
            panel,
            ..self.request.clone()
        };
        let response = respond(&request, &|text| {
            (self.progress)(&format!("{words}: {text}"))
        })?;
        self.accuracy_reached &= response.numerics.accuracy_reached;
        join_printed(&mut self.missed, response.numerics.missed.iter().cloned());
        Ok(field_parts(&response))
    }

    /// Predictions and numerical errors, value by value.
    fn predictions(&self, panel: &Panel, parts: &[FieldPart]) -> Vec<[f64; 2]> {
        let values = self.values.iter();
        values
            .map(|value| predicted(panel, parts, value).unwrap_or([f64::NAN; 2]))
            .collect()
    }

    /// Weights of the squares: over both errors as independent ones.
    fn weights(&self, predictions: &[[f64; 2]]) -> Vec<f64> {
        let errors = predictions.iter().zip(&self.measured_errors);
        errors
            .map(|([_, numerical], measured)| 1.0 / (numerical * numerical + measured * measured))
            .collect()
    }

    fn misfit(&self, predictions: &[[f64; 2]]) -> f64 {
        let weights = self.weights(predictions);
        let terms = self.values.iter().zip(predictions).zip(weights);
        terms
            .map(|((value, [computed, _]), weight)| weight * (value.value - computed).powi(2))
            .sum()
    }
}

/// Holds measured values against a panel; when they do not agree, fits every assumption on its own.
///
/// `family` is the panel of the request with what of it can move; `measured_error` is the relative error of every measured value, for bases and for touches.
///
/// # Errors
/// See [`ResponseError`].
pub fn correlate(
    request: &Request<'_>,
    family: &PanelFamily,
    values: &[MeasuredValue],
    measured_error: [f64; 2],
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Correlation, ResponseError> {
    let assumptions = Assumption::all(family);
    let tally = Tally::new(assumptions.len(), "assumptions fitted", progress);
    let tell = |text: &str| tally.tell(text);
    let mut bench = Bench {
        request,
        values,
        measured_errors: Vec::new(),
        progress: &tell,
        accuracy_reached: true,
        missed: Vec::new(),
    };
    let parts = bench.parts(request.panel, "as the panel file stands")?;
    let (known, not_computed): (Vec<MeasuredValue>, Vec<MeasuredValue>) = values
        .iter()
        .cloned()
        .partition(|value| predicted(request.panel, &parts, value).is_some());
    bench.values = &known;
    let share = |value: &MeasuredValue| measured_error[usize::from(value.quantity.is_of_touch())];
    bench.measured_errors = known
        .iter()
        .map(|value| share(value) * value.value)
        .collect();
    let predictions = bench.predictions(request.panel, &parts);
    let misfit = bench.misfit(&predictions);
    let mut correlation = Correlation {
        rows: known
            .iter()
            .zip(&predictions)
            .zip(&bench.measured_errors)
            .map(
                |((measured, &[computed, numerical_error]), &measured_error)| Row {
                    measured: measured.clone(),
                    computed,
                    numerical_error,
                    measured_error,
                },
            )
            .collect(),
        not_computed,
        misfit,
        chance: chance(misfit, known.len()),
        explanations: Vec::new(),
        accuracy_reached: true,
        missed: Vec::new(),
    };
    if !correlation.agrees() {
        for assumption in assumptions {
            let found = fit(&mut bench, family, assumption, &parts)?;
            correlation.explanations.push(found);
            tally.add();
        }
        correlation
            .explanations
            .sort_by(|a, b| a.misfit.total_cmp(&b.misfit));
    }
    correlation.accuracy_reached = bench.accuracy_reached;
    correlation.missed = bench.missed;
    Ok(correlation)
}

/// Gauss-Newton steps in one variable, the slopes by differences of the last two places.
fn fit(
    bench: &mut Bench<'_>,
    family: &PanelFamily,
    assumption: Assumption,
    parts: &[FieldPart],
) -> Result<Explanation, ResponseError> {
    let panel = bench.request.panel;
    let words = assumption.words.clone();
    let assumed = assumption.assumed;
    let [least, most] = assumption.limits;
    // None where there is no such panel: the search ends before it.
    let evaluate =
        |bench: &mut Bench<'_>, value: f64| -> Result<Option<Vec<[f64; 2]>>, ResponseError> {
            let Ok(changed) = assumption.applied(family, value) else {
                return Ok(None);
            };
            Ok(Some(match assumption.is_of_field {
                true => {
                    let parts = bench.parts(&changed, &words)?;
                    bench.predictions(&changed, &parts)
                }
                false => bench.predictions(&changed, parts),
            }))
        };
    let mut last = (assumed[0], bench.predictions(panel, parts));
    let mut now_at = assumed[0] + assumption.step;
    let mut best = (last.0, bench.misfit(&last.1), last.1.clone());
    let mut uncertainty = f64::INFINITY;
    for _ in 0..MOST_STEPS {
        let Some(shown) = evaluate(bench, now_at)? else {
            break;
        };
        let now = (now_at, shown);
        let misfit = bench.misfit(&now.1);
        if misfit < best.1 {
            best = (now.0, misfit, now.1.clone());
        }
        let weights = bench.weights(&now.1);
        let distance = now.0 - last.0;
        let (mut curvature, mut pull) = (0.0, 0.0);
        for place in 0..weights.len() {
            let slope = (now.1[place][0] - last.1[place][0]) / distance;
            curvature += weights[place] * slope * slope;
            pull += weights[place] * slope * (bench.values[place].value - now.1[place][0]);
        }
        if !(curvature > 0.0 && curvature.is_finite()) {
            break;
        }
        uncertainty = 1.0 / curvature.sqrt();
        let next = (now.0 + pull / curvature).clamp(least, most);
        if (next - now.0).abs() < CLOSE * uncertainty || next == now.0 {
            break;
        }
        last = now;
        now_at = next;
    }
    let freedom = bench.values.len().saturating_sub(1);
    Ok(Explanation {
        assumption,
        words,
        assumed,
        value: best.0,
        uncertainty,
        misfit: best.1,
        chance: chance(best.1, freedom),
        predicted: best.2.iter().map(|[computed, _]| *computed).collect(),
    })
}
