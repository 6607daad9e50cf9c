//! Which resistor and gate meet a question at the least current, and what keeps others from it.

use super::{Point, Trade};
use crate::measuring_circuit::Scan;
use padfield_engine::units::{Resistance, Time};

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// Smallest signal-to-noise ratio, rms.
    pub signal_to_noise: f64,
    /// Longest response; none: the cycle of the file stays.
    pub response: Option<Time>,
}

/// The condition on the signal-to-noise ratio, as a broken limit.
const SIGNAL_TO_NOISE: &str = "signal-to-noise ratio";
/// The condition on the response, as a broken limit.
const RESPONSE: &str = "response";

/// A point beside the limits it breaks.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearest {
    pub point: Point,
    /// Names of the limits and wishes it breaks; none when it meets all.
    pub broken: Vec<&'static str>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// The point of least average current that keeps all limits; none when there is none.
    pub best: Option<Point>,
    /// Cycle it was asked for, which follows from the response.
    pub cycle: Option<Time>,
    /// The same resistor with the next shorter gate, and what that breaks; none when no shorter one was
    /// allowed.
    pub shorter_gate: Option<Nearest>,
    /// The next smaller and the next larger resistor: their own best point, or the one that breaks the
    /// fewest limits.
    pub other_resistors: Vec<Nearest>,
    /// Without an answer: of the points that break the fewest limits the one nearest to the wanted
    /// signal-to-noise ratio.
    pub nearest: Option<Nearest>,
    /// Points looked at.
    pub points: usize,
}

/// Looks at every resistor with every gate. A limit broken by one pad counts; the signal-to-noise ratio
/// counts with its estimated error taken off.
pub fn answer(
    trade: &Trade,
    question: &Question,
    resistors: &[Resistance],
    gates: &[Time],
) -> Answer {
    let nothing = Answer {
        best: None,
        cycle: None,
        shorter_gate: None,
        other_resistors: Vec::new(),
        nearest: None,
        points: 0,
    };
    let scan = match question.response {
        Some(response) => trade.scan_for(response),
        None => Some(*trade.scan()),
    };
    let Some(scan) = scan else { return nothing };
    let mut resistors = resistors.to_vec();
    resistors.sort_by(|a, b| a.ohms().total_cmp(&b.ohms()));
    let mut gates = gates.to_vec();
    gates.sort_by(|a, b| a.seconds().total_cmp(&b.seconds()));
    let judge = |resistor, gate| judged(trade, question, &scan, resistor, gate);
    let by_resistor: Vec<Vec<Nearest>> = resistors
        .iter()
        .map(|&resistor| gates.iter().map(|&gate| judge(resistor, gate)).collect())
        .collect();
    let all = || by_resistor.iter().flatten();
    let cycle = Some(scan.cycle);
    let points = all().count();
    let Some(best) = least_current(all()) else {
        return Answer {
            cycle,
            nearest: nearest(all(), question).cloned(),
            points,
            ..nothing
        };
    };
    let place = resistors
        .iter()
        .position(|r| *r == best.point.resistor)
        .unwrap_or_default();
    let at_gate = gates
        .iter()
        .position(|gate| *gate == best.point.gate)
        .unwrap_or_default();
    let shorter_gate = at_gate
        .checked_sub(1)
        .map(|shorter| by_resistor[place][shorter].clone());
    let beside = [place.checked_sub(1), Some(place + 1)];
    let other_resistors = beside
        .into_iter()
        .flatten()
        .filter_map(|other| by_resistor.get(other))
        .filter_map(|points| {
            least_current(points.iter()).or_else(|| nearest(points.iter(), question))
        })
        .cloned()
        .collect();
    Answer {
        best: Some(best.point.clone()),
        cycle,
        shorter_gate,
        other_resistors,
        nearest: None,
        points,
    }
}

pub(super) fn judged(
    trade: &Trade,
    question: &Question,
    scan: &Scan,
    resistor: Resistance,
    gate: Time,
) -> Nearest {
    let point = trade.at(resistor, gate, scan);
    let mut broken = point.broken.clone();
    if point.signal_to_noise - point.signal_to_noise_error < question.signal_to_noise {
        broken.push(SIGNAL_TO_NOISE);
    }
    // A cycle that follows from the response keeps it, unless the scan is longer.
    if let Some(response) = question.response
        && point.budget.cycle_is_stretched
        && point.budget.response > response
    {
        broken.push(RESPONSE);
    }
    Nearest { point, broken }
}

/// Of the points that keep all limits the one of least current; of equal ones the first.
pub(super) fn least_current<'p>(points: impl Iterator<Item = &'p Nearest>) -> Option<&'p Nearest> {
    let current = |one: &Nearest| one.point.budget.average_current.amperes();
    points
        .filter(|one| one.broken.is_empty())
        .min_by(|a, b| current(a).total_cmp(&current(b)))
}

/// The point that breaks the fewest limits; of several the one nearest to the wanted ratio.
fn nearest<'p>(
    points: impl Iterator<Item = &'p Nearest>,
    question: &Question,
) -> Option<&'p Nearest> {
    let missing = |one: &Nearest| (question.signal_to_noise - one.point.signal_to_noise).max(0.0);
    points.min_by(|a, b| {
        let fewest = a.broken.len().cmp(&b.broken.len());
        fewest.then(missing(a).total_cmp(&missing(b)))
    })
}

/// All gates with two significant digits from the shortest to the longest of a list.
pub fn two_digit_gates(gates: &[Time]) -> Vec<Time> {
    let seconds = || gates.iter().map(|gate| gate.seconds());
    let least = seconds().fold(f64::INFINITY, f64::min);
    let most = seconds().fold(0.0, f64::max);
    if !(least > 0.0 && most.is_finite()) {
        return Vec::new();
    }
    // A hair beyond, so that the ends are among them in spite of their last bits.
    let within = |value: f64| value >= least * (1.0 - 1e-9) && value <= most * (1.0 + 1e-9);
    let decades = least.log10().floor() as i32..=most.log10().floor() as i32;
    decades
        .flat_map(|decade| (10..100).map(move |digits| (digits, decade - 1)))
        .map(|(digits, exponent)| format!("{digits}e{exponent}").parse().unwrap_or(f64::NAN))
        .filter(|value| within(*value))
        .map(Time::from_seconds)
        .collect()
}
