//! Units at random: their outcomes, and how many a threshold suits.

use super::draws::{Drawn, units};
use super::fit::Surrogate;
use super::watch::{Outcome, Output, Watch};
use super::worst::Response;
use super::{Question, ToleranceError};
use crate::sensitivity::PanelFamily;
use statrs::distribution::{Beta, ContinuousCDF};

/// Confidence of all confidence intervals.
pub const CONFIDENCE: f64 = 0.95;

/// Mean, spread and percentiles of one output, in its unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// Mean, and its standard error.
    pub mean: [f64; 2],
    pub deviation: f64,
    /// 5th percentile, median and 95th percentile of all units.
    pub percentiles: [f64; 3],
    /// Confidence interval, 95 %, of the 5th percentile, from the order of the values.
    pub low_percentile_confidence: [f64; 2],
}

/// A share of units with its 95 % confidence interval (Clopper and Pearson, 1934: exact).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// Units that pass.
    pub passed: usize,
    /// Units drawn.
    pub of: usize,
    /// Ends of the confidence interval, 0 to 1.
    pub interval: [f64; 2],
}

impl Share {
    /// So many of so many.
    pub fn new(passed: usize, of: usize) -> Self {
        let (k, n) = (passed as f64, of as f64);
        let tail = 0.5 * (1.0 - CONFIDENCE);
        let quantile =
            |a: f64, b: f64, p: f64| Beta::new(a, b).map_or(f64::NAN, |beta| beta.inverse_cdf(p));
        let low = if passed == 0 {
            0.0
        } else {
            quantile(k, n - k + 1.0, tail)
        };
        let high = if passed == of {
            1.0
        } else {
            quantile(k + 1.0, n - k, 1.0 - tail)
        };
        // All or none: the exact ends have closed forms.
        let interval = match passed {
            0 => [0.0, 1.0 - tail.powf(1.0 / n)],
            all if all == of => [tail.powf(1.0 / n), 1.0],
            _ => [low, high],
        };
        Self {
            passed,
            of,
            interval,
        }
    }

    /// The share itself, 0 to 1.
    pub fn value(&self) -> f64 {
        self.passed as f64 / self.of as f64
    }
}

/// Units drawn at random.
#[derive(Clone, Debug, PartialEq)]
pub struct MonteCarlo {
    /// Outcomes in the order of the draws.
    pub outcomes: Vec<Outcome>,
    /// Summaries of every [`Output`] in order.
    pub summaries: [Summary; 6],
    /// Units whose true events all lie above the fixed threshold and whose false ones all lie below.
    pub fixed: Share,
    /// Units that lose to a true event below the threshold.
    pub missed: Share,
    /// Units that lose to a false event above it.
    pub triggered: Share,
    /// Units that have a threshold of their own: window ratio above 1.
    pub own: Share,
    /// Units whose window ratio is at least the wanted one.
    pub comfortable: Share,
}

/// Parameters that spread, each after the one it is correlated with: a tolerance names only one before
/// it, so that there is always such an order.
fn in_order_of_draws(family: &PanelFamily) -> Vec<usize> {
    let spreads = |index: usize| family.parameters[index].spread.is_some();
    let mut left: Vec<usize> = (0..family.parameters.len())
        .filter(|&i| spreads(i))
        .collect();
    let mut ordered: Vec<usize> = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let is_free = |index: &usize| {
            let with = family.parameters[*index].with;
            with.is_none_or(|(other, _)| !spreads(other) || ordered.contains(&other))
        };
        let (free, bound): (Vec<usize>, Vec<usize>) = left.iter().partition(|i| is_free(i));
        if free.is_empty() {
            ordered.extend(bound);
            return ordered;
        }
        ordered.extend(free);
        left = bound;
    }
    ordered
}

pub(super) fn draw(
    family: &PanelFamily,
    watch: &Watch,
    surrogate: &Surrogate,
    question: &Question,
) -> Result<Vec<Outcome>, ToleranceError> {
    let nominal: Vec<f64> = family.parameters.iter().map(|p| p.value).collect();
    let varying = in_order_of_draws(family);
    let place_of = |index: usize| varying.iter().position(|&other| other == index);
    let inputs: Vec<Drawn> = varying
        .iter()
        .filter_map(|&index| {
            let parameter = &family.parameters[index];
            Some(Drawn {
                spread: parameter.spread?,
                with: parameter
                    .with
                    .and_then(|(other, correlation)| Some((place_of(other)?, correlation))),
            })
        })
        .collect();
    let mut values = nominal.clone();
    let mut outcomes = Vec::with_capacity(question.units);
    for unit in units(&inputs, question.units, question.seed) {
        let mut beside = Vec::new();
        for (&index, value) in varying.iter().zip(unit) {
            values[index] = value;
            if !family.parameters[index].changes_field {
                beside.push((index, value));
            }
        }
        let panel = family.panel(&beside)?;
        outcomes.push(watch.outcome(&panel, &surrogate.touches(&values)));
    }
    Ok(outcomes)
}

impl MonteCarlo {
    pub fn judged(outcomes: Vec<Outcome>, threshold: f64, wanted_ratio: f64) -> Self {
        let share = |passes: &dyn Fn(&Outcome) -> bool| {
            let passed = outcomes.iter().filter(|outcome| passes(outcome)).count();
            Share::new(passed, outcomes.len())
        };
        Self {
            summaries: Output::ALL.map(|output| {
                let values = outcomes.iter().map(|outcome| outcome.of(output));
                Summary::of(values.collect())
            }),
            fixed: share(&|o| o.weakest_true > threshold && o.strongest_false < threshold),
            missed: share(&|o| o.weakest_true <= threshold),
            triggered: share(&|o| o.strongest_false >= threshold),
            own: share(&|o| o.ratio() > 1.0),
            comfortable: share(&|o| o.ratio() >= wanted_ratio),
            outcomes,
        }
    }
}

impl Summary {
    /// Of at least one value.
    pub fn of(mut values: Vec<f64>) -> Self {
        let count = values.len() as f64;
        let mean = values.iter().sum::<f64>() / count;
        let squares = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
        let deviation = (squares / (count - 1.0).max(1.0)).sqrt();
        values.sort_by(f64::total_cmp);
        let at = |position: f64| {
            let index = position.clamp(0.0, count - 1.0);
            values[index.round() as usize]
        };
        let quantile = |p: f64| at(p * (count - 1.0));
        // The number of values below the 5th percentile is binomial.
        let p = 0.05;
        let width = 1.96 * (count * p * (1.0 - p)).sqrt();
        Self {
            mean: [mean, deviation / count.sqrt()],
            deviation,
            percentiles: [quantile(0.05), quantile(0.5), quantile(0.95)],
            low_percentile_confidence: [at(count * p - width), at(count * p + width)],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_have_their_exact_intervals() {
        // Clopper and Pearson (1934), Biometrika 26, 404: for 0 of 10 the upper end at 95 % is
        // 1 - 0.025^(1/10) = 0.3085; for 5 of 10 the interval is 0.187 to 0.813 (textbook tables).
        let none = Share::new(0, 10);
        assert!(none.interval[0] == 0.0 && (none.interval[1] - 0.3085).abs() < 5e-5);
        let half = Share::new(5, 10);
        assert!((half.interval[0] - 0.187).abs() < 5e-4, "{half:?}");
        assert!((half.interval[1] - 0.813).abs() < 5e-4, "{half:?}");
        let all = Share::new(10, 10);
        assert!((all.interval[0] - 0.6915).abs() < 5e-5 && all.interval[1] == 1.0);
    }
}
