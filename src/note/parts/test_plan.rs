//! What to measure on the prototype, what is predicted, and which result is accepted.

use super::bench::{TIMES_RESOLUTION, TOO_SMALL, accepted, can_tell};
use crate::checks::Findings;
use crate::measuring_circuit::{Circuit, CountShift};
use crate::note::facts::Facts;
use crate::note::words::counts;
use crate::questions::window::{Group, Window, pad_name};
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

/// A row of the plan, without its owner.
struct Test {
    measure: String,
    predicted: String,
    accepted: [String; 2],
    unit: &'static str,
}

impl Test {
    fn in_counts(measure: String, predicted: String, accepted: [String; 2]) -> Self {
        Self {
            measure,
            predicted,
            accepted,
            unit: "counts",
        }
    }

    /// Accepted as words say it.
    fn by_words(measure: String, predicted: String, from: String, to: &str) -> Self {
        Self {
            measure,
            predicted,
            accepted: [from, to.to_owned()],
            unit: "",
        }
    }
}

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
    table.remark = remark(facts);
    let mut tests = base_tests(facts);
    tests.extend(touch_tests(facts));
    tests.extend(
        facts
            .decided()
            .iter()
            .flat_map(|window| window_tests(facts, window)),
    );
    tests.extend(facts.checks().into_iter().filter_map(|check| {
        let measure = format!("{}: {}", check.kind.test()?, check.subject());
        Some(Test::by_words(measure, check.value, check.limit, ""))
    }));
    tests.extend(WITHOUT_PREDICTION.map(|(measure, limit)| {
        let [measure, none, limit] = [measure, "not computed", limit].map(str::to_owned);
        Test::by_words(measure, none, limit, "")
    }));
    for test in tests {
        let [low, high] = test.accepted;
        let unit = test.unit.to_owned();
        table.row(vec![
            test.measure,
            test.predicted,
            low,
            high,
            unit,
            String::new(),
        ]);
    }
    Ok(vec![Block::paragraph(PEOPLE), Block::Table(table)])
}

fn remark(facts: &Facts<'_>) -> String {
    let events = match facts.decided() {
        Some(_) => format!(
            " Events under thresholds: {} --events.",
            facts.window_command()
        ),
        None => String::new(),
    };
    format!(
        "Accepted is what the tolerances of stray capacitance, circuit and layers allow, widened by the \
         numerical error. A result outside says that an assumption is wrong, not which one: \
         padfield compare tells which single one would explain it.{events} Counts: limits are at least \
         {TIMES_RESOLUTION} times what one reading resolves, its noise or one count."
    )
}

/// Noise of the untouched count of a pad \[counts rms\].
fn noise_of(facts: &Facts<'_>, pad: &str) -> f64 {
    let counted = facts.response.counts.pad(pad);
    counted.map_or(0.0, |pad| pad.noise.total())
}

fn base_tests(facts: &Facts<'_>) -> Vec<Test> {
    let circuit = &facts.order.panel.electronics.circuit;
    let pads = facts.response.pads.iter();
    pads.filter_map(|pad| {
        let counted = facts.response.counts.pad(&pad.name)?;
        let (count, range) = base_counts(circuit, pad, counted)?;
        Some(Test::in_counts(
            format!("base count of \"{}\"", pad.name),
            significant(count, 4),
            limits(count, range, noise_of(facts, &pad.name)),
        ))
    })
    .collect()
}

/// The shift of every touched pad and of its worst neighbour.
fn touch_tests(facts: &Facts<'_>) -> Vec<Test> {
    let response = &facts.response;
    let mut tests = Vec::new();
    for pad in &response.pads {
        let counted = response.counts.pad(&pad.name);
        let counted = counted.and_then(|counted| counted.touch.as_ref());
        let Some((touch, counted)) = pad.touch.as_ref().zip(counted) else {
            continue;
        };
        let test = |shown: &str, shift: CountShift, noise: f64| {
            let [low, high] = shift.tolerance_range;
            let range = [low - shift.error, high + shift.error];
            Test::in_counts(
                format!(
                    "finger \"{}\" on \"{}\": shift of \"{shown}\"",
                    response.finger, pad.name
                ),
                counts(shift.value),
                limits(shift.value, range, noise),
            )
        };
        tests.push(test(&pad.name, counted.shift, counted.noise));
        let worst = worst(touch, counted);
        tests.extend(worst.map(|one| test(&one.pad, one.shift, noise_of(facts, &one.pad))));
    }
    tests
}

/// The weakest true and the strongest false event of every pad, and the ratio that binds.
fn window_tests(facts: &Facts<'_>, window: &Window) -> Vec<Test> {
    let mut tests = Vec::new();
    for pad in window.pads.iter().filter(|pad| pad.weakest_true.is_some()) {
        let name = pad_name(window, pad);
        let threshold = pad.choice.map(|choice| choice.threshold);
        for index in [pad.weakest_true, pad.strongest_false]
            .into_iter()
            .flatten()
        {
            let event = &window.table.events[index];
            let is_told = threshold.is_none_or(|t| can_tell(t, event.mean, event.noise));
            let limit = threshold.map_or("no threshold".to_owned(), counts);
            let ends = match event.group {
                _ if !is_told => [TOO_SMALL.to_owned(), "-".to_owned()],
                Group::True => [limit, "-".to_owned()],
                Group::False | Group::Either => ["-".to_owned(), limit],
            };
            tests.push(Test::in_counts(
                format!("\"{name}\" under: {}", event.words()),
                format!("{} (bound {})", counts(event.mean), counts(event.bound)),
                ends,
            ));
        }
    }
    let binding = window.binding();
    let name = pad_name(window, binding);
    tests.push(Test::by_words(
        format!("window ratio of \"{name}\" from the measured events"),
        ratio(binding.ratio),
        facts.order.panel.usage.wanted_ratio.value.to_string(),
        "-",
    ));
    tests
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
