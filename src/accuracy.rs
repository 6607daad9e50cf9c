//! What is said of the accuracy an answer reached: the printed quantities that missed it, in words and for
//! machines. Takes quantities that the engine judged; gives text and records; never fails.

use crate::record::{Picofarads, all, record};
use crate::rounding::{rounded_up_to, rounded_with_error};
use padfield_engine::field::Printed;

/// So many of what missed are named, the worst first.
const MOST_NAMED: usize = 3;

/// Unit in which a quantity is told, and how many of them make 1 F or 1 F/m.
fn unit(printed: &Printed) -> (&'static str, f64) {
    match printed.is_per_length {
        true => ("pF/cm", 1e10),
        false => ("pF", 1e12),
    }
}

record! {
    /// A printed quantity that missed the accuracy asked for. Per length it is in pF/cm, else in pF.
    pub struct MissedRecord(printed: &Printed) {
        /// What it is called where it is printed.
        name: String = printed.name.clone(),
        /// Its relative estimated error.
        error: f64 = printed.error,
        /// The part of it that stands for round or slanted outlines.
        of_round_outlines: f64 = printed.outlines,
        /// The accuracy asked of it.
        asked: f64 = printed.asked,
        /// Its value, pF/cm.
        #[serde(skip_serializing_if = "Option::is_none")]
        value_pf_per_cm: Option<f64> = printed.is_per_length.then_some(1e10 * printed.value),
        /// Its estimated error, pF/cm.
        #[serde(skip_serializing_if = "Option::is_none")]
        estimated_error_pf_per_cm: Option<f64> = printed.is_per_length.then_some(1e10 * printed.bar),
        /// Its value and error in pF.
        #[serde(flatten)]
        in_pf: Option<Picofarads> = match printed.is_per_length {
            true => None,
            false => Some(Picofarads::of(1e12 * printed.value, 1e12 * printed.bar)),
        },
    }

    /// Whether an answer has the accuracy that was asked for.
    pub struct ReachedRecord(reached: bool, missed: &[Printed]) {
        /// Whether every printed quantity has it.
        accuracy_reached: bool = reached,
        /// The printed quantities that have not.
        accuracy_missed: Vec<MissedRecord> = all(missed, MissedRecord::of),
    }

    /// What an answer took to find, and how exact it is.
    pub struct WorkRecord(field_problems: usize, reached: bool, missed: &[Printed]) {
        /// Field problems that were solved.
        field_problems: usize = field_problems,
        /// Whether it has the accuracy that was asked for.
        #[serde(flatten)]
        reached: ReachedRecord = ReachedRecord::of(reached, missed),
    }

    /// The accuracy asked for and whether it was reached.
    pub struct AccuracyRecord(asked: f64, reached: bool, missed: &[Printed]) {
        /// Relative accuracy asked for.
        asked: f64 = asked,
        /// Whether every printed quantity has it.
        reached: bool = reached,
        /// The printed quantities that have not.
        missed: Vec<MissedRecord> = all(missed, MissedRecord::of),
    }
}

/// `touch shift of "left" (±2.5 %, of which 2.3 % from round outlines; 0.64 ± 0.02 pF)`.
fn words(printed: &Printed) -> String {
    let percent = |share: f64| rounded_up_to(100.0 * share, 2);
    let outlines = match printed.outlines > 0.1 * printed.error {
        true => format!(
            ", of which {} % from round outlines",
            percent(printed.outlines)
        ),
        false => String::new(),
    };
    let (unit, scale) = unit(printed);
    format!(
        "{} (±{} %{outlines}; {} {unit})",
        printed.name,
        percent(printed.error),
        rounded_with_error(scale * printed.value, scale * printed.bar)
    )
}

/// The worst of what missed in words, and how many more there are; empty when nothing did.
pub fn missed_words(missed: &[Printed]) -> String {
    let mut sorted: Vec<&Printed> = missed.iter().collect();
    sorted.sort_by(|a, b| b.error.total_cmp(&a.error));
    let named = sorted.iter().take(MOST_NAMED).map(|one| words(one));
    let mut words = named.collect::<Vec<_>>().join(", ");
    if sorted.len() > MOST_NAMED {
        words += &format!(" and {} more", sorted.len() - MOST_NAMED);
    }
    words
}

/// How an accuracy line ends: `reached`, or `not reached by ...`.
pub fn reached_words(reached: bool, missed: &[Printed]) -> String {
    match (reached, missed_words(missed)) {
        (true, _) => "reached".to_owned(),
        (false, names) if names.is_empty() => "not reached".to_owned(),
        (false, names) => format!("not reached by {names}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn printed(name: &str, error: f64, outlines: f64) -> Printed {
        Printed {
            name: name.to_owned(),
            value: 0.64e-12,
            bar: error * 0.64e-12,
            is_per_length: false,
            error,
            outlines,
            asked: 0.005,
        }
    }

    #[test]
    fn what_missed_is_named_with_what_outlines_add() {
        let missed = [
            printed("base capacitance of \"right\"", 0.006, 0.0),
            printed("touch shift of \"left\"", 0.025, 0.023),
        ];
        assert_eq!(
            missed_words(&missed),
            "touch shift of \"left\" (±2.5 %, of which 2.3 % from round outlines; 0.64 ± 0.02 pF), base \
             capacitance of \"right\" (±0.60 %; 0.640 ± 0.004 pF)"
        );
        let many: Vec<Printed> = (0..5).map(|i| printed(&i.to_string(), 0.1, 0.0)).collect();
        assert!(missed_words(&many).ends_with(" and 2 more"));
        assert_eq!(missed_words(&[]), "");
    }
}
