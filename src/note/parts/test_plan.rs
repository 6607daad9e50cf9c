//! What to measure on the prototype, what is predicted, and which result is accepted.

use super::bench::{TIMES_RESOLUTION, TOO_SMALL, accepted, can_tell};
use crate::checks::Findings;
use crate::measuring_circuit::Circuit;
use crate::note::facts::Facts;
use crate::note::words::counts;
use crate::questions::window::{Group, pad_name};
use crate::report::{Block, Table};
use crate::response::{PadCounts, PadResponse, Touch};
use crate::rounding::{significant, window_ratio as ratio};
use padfield_chart::ChartError;

/// Whoever is touched by a prototype is at its mercy.
const PEOPLE: &str = "People touch a prototype only after a competent person has released its insulation for that; \
     children only with their guardians' consent and supervised. Local codes and standards in force decide.";

/// Tests with no prediction: what, where the limit comes from.
const WITHOUT_PREDICTION: [(&str, &str); 7] = [
    (
        "water: spray, closed film, wiping, drying, every pad watched",
        "no false event; touches as in the requirements",
    ),
    (
        "temperature sweep over the range of the product, base counts",
        "baseline tracking keeps the threshold",
    ),
    (
        "every supply of the requirements, and the device alone on its battery",
        "every user acts on every pad",
    ),
    (
        "electrostatic discharge to the overlay and its edges",
        "the level of the requirements, by a laboratory",
    ),
    (
        "conducted and radiated immunity, fast transients",
        "no false event at the level of the requirements",
    ),
    (
        "resistance to leaning, resting and wiping hands",
        "no false event",
    ),
    (
        "at least 12 people, two of them children (common practice, no source), after the release above",
        "every touch acts, no neighbour does",
    ),
];

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let mut table = Table::new(
        "What to measure and which result is accepted",
        &[
            "measure",
            "predicted",
            "accept from",
            "accept to",
            "unit",
            "owner",
        ],
        1,
    )
    .with_words_in(&[4, 5]);
    table.command = facts.solve_command();
    table.remark = "Accepted is what the tolerances of stray capacitance, circuit and layers allow, widened by the \
                    numerical error. A result outside says that an assumption is wrong, not which one: \
                    padfield compare tells which single one would explain it."
        .to_owned();
    if facts.decided().is_some() {
        table.remark += &format!(
            " Events under thresholds: {} --events.",
            facts.window_command()
        );
    }
    table.remark += &format!(
        " Counts: limits are at least {TIMES_RESOLUTION} times what one reading resolves, its noise or one count."
    );
    let mut row = |measure: String, predicted: String, [low, high]: [String; 2], unit: &str| {
        table.row(vec![
            measure,
            predicted,
            low,
            high,
            unit.to_owned(),
            String::new(),
        ]);
    };
    let circuit = &facts.order.panel.electronics.circuit;
    let in_counts = &facts.response.counts;
    let noise_of = |pad: &str| in_counts.pad(pad).map_or(0.0, |pad| pad.noise.total());
    for pad in &facts.response.pads {
        let counted = in_counts.pad(&pad.name);
        if let Some((count, range)) = counted.and_then(|one| base_counts(circuit, pad, one)) {
            row(
                format!("base count of \"{}\"", pad.name),
                significant(count, 4),
                limits(count, range, noise_of(&pad.name)),
                "counts",
            );
        }
    }
    for pad in &facts.response.pads {
        let of = facts
            .response
            .counts
            .pad(&pad.name)
            .and_then(|c| c.touch.as_ref());
        let Some((touch, in_counts)) = pad.touch.as_ref().zip(of) else {
            continue;
        };
        let widened = |shift: crate::measuring_circuit::CountShift, noise: f64| {
            let [low, high] = shift.tolerance_range;
            limits(shift.value, [low - shift.error, high + shift.error], noise)
        };
        row(
            format!(
                "finger \"{}\" on \"{}\": shift of \"{}\"",
                facts.response.finger, pad.name, pad.name
            ),
            counts(in_counts.shift.value),
            widened(in_counts.shift, in_counts.noise),
            "counts",
        );
        if let Some(worst) = worst(touch, in_counts) {
            row(
                format!(
                    "finger \"{}\" on \"{}\": shift of \"{}\"",
                    facts.response.finger, pad.name, worst.pad
                ),
                counts(worst.shift.value),
                widened(worst.shift, noise_of(&worst.pad)),
                "counts",
            );
        }
    }
    if let Some(window) = facts.decided() {
        for pad in window.pads.iter().filter(|pad| pad.weakest_true.is_some()) {
            let name = pad_name(window, pad);
            let threshold = pad.choice.map(|choice| choice.threshold);
            let event = |index: Option<usize>| index.map(|index| &window.table.events[index]);
            for event in [event(pad.weakest_true), event(pad.strongest_false)]
                .into_iter()
                .flatten()
            {
                let is_told = threshold.is_none_or(|t| can_tell(t, event.mean, event.noise));
                let limit = threshold.map_or("no threshold".to_owned(), counts);
                let ends = match event.group {
                    _ if !is_told => [TOO_SMALL.to_owned(), "-".to_owned()],
                    Group::True => [limit, "-".to_owned()],
                    Group::False | Group::Either => ["-".to_owned(), limit],
                };
                row(
                    format!("\"{name}\" under: {}", event.words()),
                    format!("{} (bound {})", counts(event.mean), counts(event.bound)),
                    ends,
                    "counts",
                );
            }
        }
        let binding = window.binding();
        row(
            format!(
                "window ratio of \"{}\" from the measured events",
                pad_name(window, binding)
            ),
            ratio(binding.ratio),
            [
                format!("{}", facts.order.panel.usage.wanted_ratio.value),
                "-".to_owned(),
            ],
            "",
        );
    }
    for check in facts.checks() {
        let Some(test) = check.kind.test() else {
            continue;
        };
        row(
            format!("{test}: {}", check.subject()),
            check.value,
            [check.limit, String::new()],
            "",
        );
    }
    for (measure, limit) in WITHOUT_PREDICTION {
        row(
            measure.to_owned(),
            "not computed".to_owned(),
            [limit.to_owned(), String::new()],
            "",
        );
    }
    Ok(vec![Block::paragraph(PEOPLE), Block::Table(table)])
}

/// Ends of what is accepted, as words.
fn limits(predicted: f64, expected: [f64; 2], noise: f64) -> [String; 2] {
    match accepted(predicted, expected, noise) {
        Some(ends) => ends.map(counts),
        None => [TOO_SMALL.to_owned(), "-".to_owned()],
    }
}

/// Base count at nominal values, and from least to most over all tolerances and the numerical error.
fn base_counts(
    circuit: &Circuit,
    pad: &PadResponse,
    counted: &PadCounts,
) -> Option<(f64, [f64; 2])> {
    let error = pad.base?.computed.error;
    let slope = circuit.counts_per_farad(pad.base_at_pin?.nominal);
    let error = (slope * error.farads()).abs();
    let [low, high] = counted.base_range;
    Some((counted.base_count, [low - error, high + error]))
}

fn worst<'c>(
    touch: &Touch,
    in_counts: &'c crate::response::TouchCounts,
) -> Option<&'c crate::response::NeighbourCounts> {
    let name = &touch.worst_neighbour()?.pad;
    in_counts.neighbours.iter().find(|one| one.pad == *name)
}
