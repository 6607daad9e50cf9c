//! What tolerances do to a panel: which one hurts most, what yield a fixed threshold has.
//!
//! Takes a panel file and what of it can move ([`PanelFamily`]), and its window; gives a [`Spread`]: the rates of every
//! output to every value, root sum square and worst case, and units drawn at random over a surrogate of
//! the field, with the yield of a fixed threshold against one set for each unit; fails when a touch
//! cannot be solved.
//!
//! - **What is watched**: the pad whose window is narrowest, or the one asked for; the pair of events that binds
//!   the window, the pair of a unit built as drawn, and those near them ([`Watch`]), as the window has them.
//!   Every event is counted by [`crate::event`], on the window's own fields.
//! - **Rates**: from one solution with derivatives per place ([`crate::sensitivity`]); values that the grid
//!   lines do not carry are solved beside it.
//! - **Root sum square**: `u_Y² = sum_ij (dY/dp_i) u_i r_ij u_j (dY/dp_j)`, JCGM 100:2008, equation 13 (from
//!   memory); **worst case**: every value at the end that hurts, on the fitted response, or on powers of the values
//!   where nothing was fitted: no count can change its sign.
//! - **Units at random**: quadratics in the parameters of the field, fitted to values and slopes at
//!   low-discrepancy places and tested at places they do not know; circuit and return path are evaluated
//!   exactly. JCGM 101:2008.

mod checks;
mod draws;
mod field_model;
mod fit;
mod picture;
mod record;
mod report;
mod surrogate;
mod threshold;
mod units;
mod watch;
mod worst;

pub use crate::sensitivity::Way;
pub use draws::{Drawn, units};
pub use fit::SurrogateQuality;
pub use picture::{bars, histogram};
pub use record::ToleranceRecord;
pub use report::report;
pub use surrogate::{Observation, Quadratic};
pub use threshold::ThresholdOrigin;
pub use units::{MonteCarlo, Share, Summary};
pub use watch::{Outcome, Output, Watch, Watched};

use crate::input::{Document, ScenarioError};
use crate::questions::window::{Window, window_of};
use crate::sensitivity::{PanelFamily, Parameter, PlaceError};
use crate::touch::{TouchError, WorkLimits};
use field_model::FieldModel;
use padfield_engine::field::{Printed, joined_printed};
use std::time::Instant;

#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ToleranceError {
    /// A tolerance makes an impossible panel, or the file's own tolerances cannot be read.
    #[error(transparent)]
    Scenario(#[from] Box<ScenarioError>),
    /// A touch could not be solved.
    #[error(transparent)]
    Touch(#[from] TouchError),
    /// The panel has no pad of that name.
    #[error("there is no pad \"{name}\"; pads: {}", .known.join(", "))]
    UnknownPad {
        /// Name asked for.
        name: String,
        /// Names there are.
        known: Vec<String>,
    },
    /// The pad has no threshold.
    #[error(
        "no user touches the pad, or nothing false is known of it: there is no threshold to judge"
    )]
    NoPair,
    /// The pad is no conductor of the model.
    #[error("the pad is not in the model: use model volume")]
    NotInModel,
}

impl From<PlaceError> for ToleranceError {
    fn from(error: PlaceError) -> Self {
        match error {
            PlaceError::Scenario(error) => Self::Scenario(error),
            PlaceError::Touch(error) => Self::Touch(error),
            PlaceError::NotInModel => Self::NotInModel,
        }
    }
}

impl From<ScenarioError> for ToleranceError {
    fn from(error: ScenarioError) -> Self {
        Self::Scenario(Box::new(error))
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// Name of the pad; none: the one whose window is narrowest.
    pub pad: Option<String>,
    /// Threshold for all units \[counts\]; none: the one of best yield, or without units the geometric mean
    /// of the pair that binds.
    pub threshold: Option<f64>,
    /// Units to draw; zero: none, and no solves beside those of the rates.
    pub units: usize,
    /// Another seed gives other units and other places of the fit.
    pub seed: u64,
}

/// What one value of the panel does to every output.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Index of the parameter.
    pub parameter: usize,
    /// How the rates were found.
    pub way: Way,
    /// d ln Y/d ln p of every [`Output`] in order; not finite where the value or the output is zero.
    pub log_sensitivity: [f64; 6],
    /// Change of every output with the value at the lower and the upper end of its tolerance, in the
    /// unit of the output, to first order; zero without a tolerance.
    pub effects: [[f64; 2]; 6],
}

/// What all tolerances together do to one output, in its unit: mean and uncertainty to first order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Total {
    pub nominal: f64,
    /// Expectation: asymmetric tolerances move it.
    pub mean: f64,
    /// Standard uncertainty, root sum square with correlations.
    pub standard_uncertainty: f64,
    /// Every value at the end that lowers or raises it, on the fitted response.
    pub worst: [f64; 2],
}

/// Everything about the spread of a pad.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    pub pad: String,
    pub watch: Watch,
    /// What can move.
    pub parameters: Vec<Parameter>,
    pub nominal: Outcome,
    /// Every parameter, that with the largest effect on the window ratio first.
    pub rows: Vec<Row>,
    /// Totals of every [`Output`] in order.
    pub totals: [Total; 6],
    /// The threshold for all units \[counts\].
    pub threshold: f64,
    pub threshold_origin: ThresholdOrigin,
    /// Window ratio of a unit that is built as drawn: that of the window.
    pub nominal_ratio: f64,
    /// Window ratio over everything that may be built and used: that of the window.
    pub window_ratio: f64,
    pub wanted_ratio: f64,
    /// Units at random; none when none were asked for or nothing spreads.
    pub units: Option<MonteCarlo>,
    /// Quality of what they stand on.
    pub surrogate: Option<SurrogateQuality>,
    pub field_problems: usize,
    /// Cells of the largest grid.
    pub cells: usize,
    /// Wanted relative error.
    pub accuracy_asked: f64,
    /// Whether it was reached everywhere.
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
    /// Wall-clock time \[s\].
    pub seconds: f64,
}

/// The family of a panel file.
///
/// # Errors
/// A panel or a tolerance that cannot be read.
pub fn family(document: &Document) -> Result<PanelFamily, ScenarioError> {
    PanelFamily::of_document(document)
}

/// Answers a question about the spread of a panel.
///
/// # Errors
/// See [`ToleranceError`].
pub fn tolerance(
    family: &PanelFamily,
    question: &Question,
    limits: &WorkLimits<'_>,
) -> Result<Spread, ToleranceError> {
    let start = Instant::now();
    let window = window_of(family, limits)?;
    (limits.progress)("the pair of events that binds is known");
    let mut spread = tolerance_under(family, &window, question, limits)?;
    spread.field_problems += window.field_problems;
    spread.seconds = start.elapsed().as_secs_f64();
    Ok(spread)
}

/// The same under a window of the family that is known already.
///
/// # Errors
/// See [`ToleranceError`].
pub fn tolerance_under(
    family: &PanelFamily,
    window: &Window,
    question: &Question,
    limits: &WorkLimits<'_>,
) -> Result<Spread, ToleranceError> {
    let start = Instant::now();
    let panel = &family.panel;
    let table = &window.table;
    let judged = match &question.pad {
        Some(name) => {
            let is_named = |pad: usize| panel.pads[pad].name == *name;
            let mut pads = window.pads.iter();
            let found = pads.find(|window| window.pad.is_some_and(is_named));
            found.ok_or_else(|| ToleranceError::UnknownPad {
                name: name.clone(),
                known: panel.pads.iter().map(|pad| pad.name.clone()).collect(),
            })?
        }
        None => window.binding(),
    };
    let watch = Watch::new(panel, table, judged)?;
    let field = FieldModel::new(family, &watch, &limits.starting_at(table.fineness))?;
    let nominal = watch.outcome(panel, &watch.known);
    let rows = rows(family, &watch, &field, &nominal)?;
    let mut field_problems = field.field_problems;
    let varies = family.parameters.iter().any(|p| p.spread.is_some());
    let surrogate = match question.units > 0 && varies {
        true => Some(field.surrogate(family, question.seed, limits)?),
        false => None,
    };
    let worst = match &surrogate {
        Some(surrogate) => worst::worst(family, &watch, surrogate)?,
        None => worst::worst(family, &watch, &field)?,
    };
    let totals = totals(family, &rows, &nominal, &worst);
    let outcomes = match &surrogate {
        Some(surrogate) => {
            let quality = surrogate.quality;
            field_problems += quality.solves + quality.held_out - watch.places.len();
            Some(units::draw(family, &watch, surrogate, question)?)
        }
        None => None,
    };
    let (threshold, threshold_origin) =
        threshold::threshold(question.threshold, outcomes.as_deref(), &nominal);
    let wanted_ratio = panel.usage.wanted_ratio.value;
    Ok(Spread {
        pad: panel.pads[watch.pad].name.clone(),
        parameters: family.parameters.clone(),
        nominal,
        rows,
        totals,
        threshold,
        threshold_origin,
        nominal_ratio: judged.nominal_ratio,
        window_ratio: judged.ratio,
        wanted_ratio,
        units: outcomes.map(|outcomes| MonteCarlo::judged(outcomes, threshold, wanted_ratio)),
        surrogate: surrogate.map(|surrogate| surrogate.quality),
        field_problems,
        cells: field.cells,
        accuracy_asked: limits.settings.accuracy,
        accuracy_reached: table.accuracy_reached && field.accuracy_reached,
        missed: joined_printed([&table.missed[..], &field.missed]),
        watch,
        seconds: start.elapsed().as_secs_f64(),
    })
}

/// Step of a numerical derivative of what the circuit makes of the field.
const SMALL: f64 = 1e-4;

/// Rates of all outputs to one parameter, per SI unit of it.
fn rates(
    family: &PanelFamily,
    watch: &Watch,
    field: &FieldModel,
    index: usize,
) -> Result<[f64; 6], ToleranceError> {
    let parameter = &family.parameters[index];
    let step = SMALL * parameter.value.abs();
    let mut ends = [[0.0; 6]; 2];
    if step == 0.0 {
        return Ok(ends[0]);
    }
    for (end, by) in ends.iter_mut().zip([-step, step]) {
        let outcome = match parameter.changes_field {
            true => watch.outcome(&family.panel, &field.moved(index, by)),
            false => {
                let panel = family.panel(&[(index, parameter.value + by)])?;
                watch.outcome(&panel, &watch.known)
            }
        };
        *end = Output::ALL.map(|output| outcome.of(output));
    }
    Ok([0, 1, 2, 3, 4, 5].map(|o| (ends[1][o] - ends[0][o]) / (2.0 * step)))
}

fn rows(
    family: &PanelFamily,
    watch: &Watch,
    field: &FieldModel,
    nominal: &Outcome,
) -> Result<Vec<Row>, ToleranceError> {
    let values = Output::ALL.map(|output| nominal.of(output));
    let mut rows = Vec::new();
    for (index, parameter) in family.parameters.iter().enumerate() {
        let rates = rates(family, watch, field, index)?;
        let ends = parameter.spread.map_or([0.0; 2], |spread| {
            [
                spread.least - parameter.value,
                spread.most - parameter.value,
            ]
        });
        rows.push(Row {
            parameter: index,
            way: field.ways[index],
            log_sensitivity: [0, 1, 2, 3, 4, 5].map(|o| rates[o] * parameter.value / values[o]),
            effects: rates.map(|rate| ends.map(|end| rate * end)),
        });
    }
    let governing = governing(values[Output::Ratio as usize]) as usize;
    let size = |row: &Row| {
        let [low, high] = row.effects[governing];
        low.abs().max(high.abs())
    };
    let strength = |row: &Row| row.log_sensitivity[governing].abs();
    rows.sort_by(|a, b| {
        let by_effect = size(b).total_cmp(&size(a));
        by_effect.then(strength(b).total_cmp(&strength(a)))
    });
    Ok(rows)
}

/// What the tolerances are weighed by: the window ratio; where it is nothing as drawn, nothing relates to it, and the
/// weakest true touch takes its place.
fn governing(ratio: f64) -> Output {
    match ratio > 0.0 {
        true => Output::Ratio,
        false => Output::TrueCounts,
    }
}

impl Spread {
    /// What the tolerances are weighed by.
    pub fn governing(&self) -> Output {
        governing(self.totals[Output::Ratio as usize].nominal)
    }

    /// The threshold for all units \[counts\]; none where no threshold suits even the panel as drawn.
    pub fn one_threshold(&self) -> Option<f64> {
        Some(self.threshold).filter(|threshold| threshold.is_finite())
    }
}

fn totals(
    family: &PanelFamily,
    rows: &[Row],
    nominal: &Outcome,
    worst: &[[f64; 2]; 6],
) -> [Total; 6] {
    let inputs: Vec<Input> = rows
        .iter()
        .map(|row| {
            let parameter = &family.parameters[row.parameter];
            Input {
                index: row.parameter,
                spread: parameter.spread,
                with: parameter.with,
                rates: Output::ALL.map(|output| {
                    let o = output as usize;
                    match parameter.value == 0.0 {
                        true => 0.0,
                        false => row.log_sensitivity[o] * nominal.of(output) / parameter.value,
                    }
                }),
            }
        })
        .collect();
    Output::ALL.map(|output| Total {
        worst: worst[output as usize],
        ..total(&inputs, output as usize, nominal.of(output))
    })
}

struct Input {
    index: usize,
    spread: Option<crate::spread::Distribution>,
    with: Option<(usize, f64)>,
    rates: [f64; 6],
}

fn total(inputs: &[Input], output: usize, nominal: f64) -> Total {
    let (mut mean, mut square) = (nominal, 0.0);
    for input in inputs {
        let (Some(spread), rate) = (input.spread, input.rates[output]) else {
            continue;
        };
        if !rate.is_finite() {
            continue;
        }
        mean += rate * (spread.mean() - spread.nominal);
        let part = rate * spread.standard_uncertainty();
        square += part * part;
        if let Some((other, correlation)) = input.with
            && let Some(other) = inputs.iter().find(|i| i.index == other)
            && let Some(spread) = other.spread
            && other.rates[output].is_finite()
        {
            square +=
                2.0 * correlation * part * other.rates[output] * spread.standard_uncertainty();
        }
    }
    Total {
        nominal,
        mean,
        standard_uncertainty: square.max(0.0).sqrt(),
        worst: [nominal; 2],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spread::{Distribution, Shape};

    /// A normal input of one standard deviation in its tolerance that adds to every output.
    fn input(index: usize, uncertainty: f64, with: Option<(usize, f64)>) -> Input {
        Input {
            index,
            spread: Some(Distribution {
                nominal: 0.0,
                least: -uncertainty,
                most: uncertainty,
                shape: Shape::Normal { deviations: 1.0 },
            }),
            with,
            rates: [1.0; 6],
        }
    }

    #[test]
    fn the_end_gauge_of_the_guide_has_its_combined_uncertainty() {
        // JCGM 100:2008, H.1.3: 25, 9.7, 2.9 and 16.6 nm combine to 32 nm (u^2 = 1002 nm^2).
        let parts = [25.0, 9.7, 2.9, 16.6].into_iter().enumerate();
        let inputs: Vec<Input> = parts
            .map(|(index, part)| input(index, part, None))
            .collect();
        let total = total(&inputs, 0, 0.0);
        assert!((total.standard_uncertainty.powi(2) - 1002.0).abs() < 1.5);
    }

    #[test]
    fn ten_fully_correlated_resistors_add_linearly() {
        // JCGM 100:2008, 5.2.2, example (from memory): ten resistors calibrated with one standard, each
        // 100 mohm, have 1 ohm in series, not 0.32 ohm. Here two of them.
        let inputs = [input(0, 0.1, None), input(1, 0.1, Some((0, 1.0)))];
        let total = total(&inputs, 0, 2000.0);
        assert!((total.standard_uncertainty - 0.2).abs() < 1e-12);
    }
}
