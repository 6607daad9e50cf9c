//! Rows of the trade: which point is the panel file's own, which is recommended, which are worth a look.

use super::answer::{judged, least_current};
use super::{Nearest, Point, Question, Trade};
use crate::measuring_circuit::Scan;
use padfield_engine::units::{Resistance, Time};

/// A point of a table, with what it is beside the others.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    pub point: Point,
    /// Names of the limits and wishes it breaks.
    pub broken: Vec<&'static str>,
    /// Whether it has resistor and gate of the panel file.
    pub is_panel_file: bool,
    /// Whether it is the one of least average current that keeps all limits.
    pub is_recommended: bool,
    /// Whether it is one of these two, or of least average current among those of its resistor that keep all
    /// limits.
    pub is_worth_a_look: bool,
}

/// Every resistor with every gate, by rising resistor and gate, and the points `added` to them.
pub fn rows(
    trade: &Trade,
    question: &Question,
    scan: &Scan,
    resistors: &[Resistance],
    gates: &[Time],
    added: &[(Resistance, Time)],
    recommended: Option<(Resistance, Time)>,
) -> Vec<Row> {
    let grid = resistors
        .iter()
        .flat_map(|&resistor| gates.iter().map(move |&gate| (resistor, gate)));
    let mut places: Vec<(Resistance, Time)> = Vec::new();
    for place in grid.chain(added.iter().copied()) {
        if !places.iter().any(|known| is_same(*known, place)) {
            places.push(place);
        }
    }
    places.sort_by(|a, b| {
        let by_resistor = a.0.ohms().total_cmp(&b.0.ohms());
        by_resistor.then(a.1.seconds().total_cmp(&b.1.seconds()))
    });
    let points: Vec<Nearest> = places
        .iter()
        .map(|&(resistor, gate)| judged(trade, question, scan, resistor, gate))
        .collect();
    let own = trade.own();
    let of_resistor = |resistor: Resistance| {
        let all = points.iter().filter(|one| one.point.resistor == resistor);
        least_current(all).map(|one| one.point.gate)
    };
    let row = |one: &Nearest| {
        let place = (one.point.resistor, one.point.gate);
        let is_panel_file = is_same(place, own);
        let is_recommended = recommended.is_some_and(|best| is_same(place, best));
        Row {
            is_panel_file,
            is_recommended,
            is_worth_a_look: is_panel_file
                || is_recommended
                || of_resistor(place.0) == Some(place.1),
            point: one.point.clone(),
            broken: one.broken.clone(),
        }
    };
    points.iter().map(row).collect()
}

/// The same but for the last bits of unit conversions.
fn is_same(a: (Resistance, Time), b: (Resistance, Time)) -> bool {
    let close = |a: f64, b: f64| (a - b).abs() <= 1e-9 * b.abs();
    close(a.0.ohms(), b.0.ohms()) && close(a.1.seconds(), b.1.seconds())
}
