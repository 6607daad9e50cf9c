//! What a search tells: one sentence, the solved places, what the numbers hang on.

use super::{Answer, Bound, Crossing, Ending, Question, Sample};
use crate::accuracy::missed_words;
use crate::report::{Block, Report, Table};
use crate::rounding::{duration, rounded_with_error, significant};
use crate::study::Relation;

/// Reasons of places without a value that are listed.
const MOST_REASONS: usize = 5;
/// Most decimals of a place.
const MOST_DECIMALS: usize = 9;

/// A question with its answer.
pub struct Told<'t> {
    pub question: &'t Question<'t>,
    pub answer: &'t Answer,
}

/// Side of the limit, as far as the error bar lets it be told.
#[derive(Clone, Copy, PartialEq)]
enum Side {
    Below,
    Above,
    WithinError,
}

impl Told<'_> {
    /// Whether the condition is met somewhere, by value.
    pub fn is_met(&self) -> bool {
        let found = &self.answer.found;
        !found.holds.is_empty() || (self.is_equal() && !found.crossings.is_empty())
    }

    fn is_equal(&self) -> bool {
        self.question.condition.relation == Relation::Equal
    }

    /// Unit of the quantity.
    pub fn unit(&self) -> &str {
        self.question.condition.quantity.kind.unit()
    }

    fn with_unit(&self, number: String) -> String {
        format!("{number} {}", self.question.variable.unit)
            .trim_end()
            .to_owned()
    }

    fn side(&self, sample: Sample) -> Side {
        let excess = sample.value - self.question.condition.value;
        if excess.abs() <= sample.error {
            Side::WithinError
        } else if excess > 0.0 {
            Side::Above
        } else {
            Side::Below
        }
    }

    /// The column of the table.
    pub fn verdict(&self, sample: Sample) -> &'static str {
        match (self.side(sample), self.question.condition.relation) {
            (Side::WithinError, _) => "within error",
            (Side::Below, Relation::AtMost) | (Side::Above, Relation::AtLeast) => "yes",
            (Side::Below, Relation::AtLeast) | (Side::Above, Relation::AtMost) => "no",
            (Side::Below, Relation::Equal) => "below",
            (Side::Above, Relation::Equal) => "above",
        }
    }

    /// A plain place of the range.
    fn place(&self, at: f64) -> String {
        self.with_unit(plain(at))
    }

    /// `6.30 mm (6.21 to 6.42 mm)`, with two digits of the half-width of the interval.
    fn crossing(&self, crossing: &Crossing) -> String {
        let [low, high] = crossing.interval;
        let decimals = decimals_of(0.5 * (high - low), 2);
        let text = |at: f64| format!("{at:.decimals$}");
        format!(
            "{} ({} to {})",
            self.with_unit(text(crossing.at)),
            text(low),
            self.with_unit(text(high))
        )
    }

    fn bound(&self, bound: Bound) -> String {
        match bound {
            Bound::Crossing(index) => self.crossing(&self.answer.found.crossings[index]),
            Bound::End(at) => format!("{} (end of the range)", self.place(at)),
            Bound::Failure(at) => format!("{} (last that can be solved)", self.place(at)),
        }
    }

    /// The answer in one sentence; more when parts of the range cannot be told.
    pub fn sentence(&self) -> String {
        let found = &self.answer.found;
        let condition = self.question.condition;
        let path = &self.question.variable.path;
        let mut text = if self.is_equal() && self.is_met() {
            let places: Vec<String> = found.crossings.iter().map(|c| self.crossing(c)).collect();
            format!(
                "{condition} is met at {path} = {}.",
                places.join(" and at ")
            )
        } else if !found.crossings.is_empty() && self.is_met() {
            let stretches: Vec<String> = found
                .holds
                .iter()
                .map(|s| {
                    format!(
                        "from {path} = {} to {}",
                        self.bound(s.from),
                        self.bound(s.to)
                    )
                })
                .collect();
            format!("{condition} is met {}.", stretches.join(", and "))
        } else {
            self.one_side()
        };
        for crossing in &found.crossings {
            if crossing.is_decided.contains(&false) {
                text += &format!(
                    " The interval about {} is cut off where the solved range ends.",
                    self.place(crossing.at)
                );
            }
        }
        for [from, to] in &found.undecided {
            text += &format!(
                " Undecided from {} to {}: the limit lies within the error bar; a smaller --accuracy may \
                 tell.",
                self.place(*from),
                self.place(*to)
            );
        }
        match found.ending {
            Ending::Complete => {}
            Ending::Stopped => text += " Interrupted: this is what was known by then.",
            Ending::OutOfSolves => {
                text += " Not refined to the end: the number of solves is used up.";
            }
        }
        text
    }

    /// Without a crossing: on which side the range lies, and how far from the limit at its ends.
    fn one_side(&self) -> String {
        let condition = self.question.condition;
        let mut solved = self.answer.found.solved();
        let Some(first) = solved.next() else {
            return format!("{condition}: nothing has been solved.");
        };
        let last = solved.last().unwrap_or(first);
        let (extent, side) = if self.is_met() {
            ("everywhere", "respects the limit")
        } else {
            match condition.relation {
                Relation::AtMost => ("nowhere", "is above the limit"),
                Relation::AtLeast => ("nowhere", "is below the limit"),
                Relation::Equal if first.1.value > condition.value => ("nowhere", "is above it"),
                Relation::Equal => ("nowhere", "is below it"),
            }
        };
        let end = |(at, sample): (f64, Sample)| {
            format!(
                "{} at {} ({} from the limit)",
                self.value(sample),
                self.place(at),
                self.difference((sample.value - condition.value).abs())
            )
        };
        let quantity = &condition.quantity;
        if !self.answer.found.undecided.is_empty() {
            // "Everywhere" and "nowhere" would claim more than the error bars allow.
            return format!(
                "No crossing that is certain of {condition} for {} = {} to {}: {quantity} is {} and {}.",
                self.question.variable.path,
                self.place(first.0),
                self.place(last.0),
                end(first),
                end(last)
            );
        }
        format!(
            "{condition} is met {extent} for {} = {} to {}: {quantity} {side} throughout, {} and {}.",
            self.question.variable.path,
            self.place(first.0),
            self.place(last.0),
            end(first),
            end(last)
        )
    }

    /// `12.3 ± 0.4 %`.
    fn value(&self, sample: Sample) -> String {
        let kind = self.question.condition.quantity.kind;
        kind.with_unit(value_with_error(sample))
    }

    fn difference(&self, difference: f64) -> String {
        let unit = match self.unit() {
            "%" => "percentage points",
            unit => unit,
        };
        format!("{} {unit}", significant(difference, 2))
            .trim_end()
            .to_owned()
    }

    fn table(&self, heading: &str) -> Table {
        let places = &self.answer.found.places;
        let ats: Vec<f64> = places.iter().map(|place| place.at).collect();
        let decimals = decimals_that_tell(&ats);
        let side = if self.is_equal() { "side" } else { "met" };
        let header = [&self.question.variable.heading(), heading, side];
        let mut table = Table::new("", &header, 0).with_words_in(&[2]);
        for place in places {
            let (value, verdict) = match &place.sample {
                Ok(sample) => (value_with_error(*sample), self.verdict(*sample)),
                Err(_) => (String::new(), "no value"),
            };
            let at = format!("{:.decimals$}", place.at);
            table.row(vec![at, value, verdict.to_owned()]);
        }
        table
    }

    /// Places without a value, those of the same reason together.
    fn failures(&self) -> Vec<String> {
        let mut reasons: Vec<(&str, Vec<String>)> = Vec::new();
        for place in &self.answer.found.places {
            if let Err(reason) = &place.sample {
                let at = self.place(place.at);
                match reasons.iter_mut().find(|(known, _)| known == reason) {
                    Some((_, places)) => places.push(at),
                    None => reasons.push((reason, vec![at])),
                }
            }
        }
        let more = reasons.len().saturating_sub(MOST_REASONS);
        let lines = reasons.iter().take(MOST_REASONS);
        let mut lines: Vec<String> = lines
            .map(|(reason, places)| format!("No value at {}: {reason}", places.join(", ")))
            .collect();
        if more > 0 {
            lines.push(format!("and {more} other reasons"));
        }
        lines
    }

    fn effort(&self) -> String {
        let answer = self.answer;
        let reached = match &answer.short_of_accuracy[..] {
            [] => "reached".to_owned(),
            places => {
                let places: Vec<String> = places.iter().map(|at| self.place(*at)).collect();
                let at = format!("at {}", places.join(", "));
                match missed_words(&answer.missed) {
                    names if names.is_empty() => format!("not reached {at}"),
                    names => format!("not reached {at}, by {names}"),
                }
            }
        };
        format!(
            "Solved {} places ({} field problems, each untouched and touched) in {}. Accuracy asked {} \
             %: {reached}.",
            answer.found.solved().count(),
            answer.field_problems,
            duration(answer.seconds),
            significant(100.0 * self.question.settings.accuracy, 2)
        )
    }
}

/// The answer in blocks; `heading` is that of the quantity's column.
pub fn report(told: &Told<'_>, heading: &str) -> Report {
    let answer = told.answer;
    let mut report = Report::default();
    report.say(Block::paragraph(told.sentence()));
    report.say(told.table(heading));
    for line in told.failures() {
        report.say(Block::paragraph(line));
    }
    if !answer.found.crossings.is_empty() {
        report.say(Block::paragraph(
            "In brackets: where value minus and plus its estimated error meet the limit, refined by solves. Two \
             crossings closer together than the first places of the scan may be missed.",
        ));
    }
    if !answer.assumptions.is_empty() {
        report.detail(Block::paragraph(format!(
            "Assumptions at {} = {}. {}",
            told.question.variable.path,
            told.place(answer.assumed_at),
            answer.assumptions.join(" ")
        )));
    }
    report.detail(Block::paragraph(told.effort()));
    report
}

/// Decimals that show so many digits of a number.
fn decimals_of(number: f64, digits: i32) -> usize {
    if number > 0.0 {
        let decimals = digits - 1 - number.log10().floor() as i32;
        decimals.clamp(0, MOST_DECIMALS as i32) as usize
    } else {
        MOST_DECIMALS
    }
}

/// Fewest decimals that tell all numbers apart, and thousandths of their range.
fn decimals_that_tell(numbers: &[f64]) -> usize {
    let (Some(first), Some(last)) = (numbers.first(), numbers.last()) else {
        return 0;
    };
    let least = decimals_of((last - first) / 1000.0, 1);
    (least..MOST_DECIMALS)
        .find(|decimals| {
            let texts = numbers.iter().map(|number| format!("{number:.decimals$}"));
            let mut texts: Vec<String> = texts.collect();
            texts.dedup();
            texts.len() == numbers.len()
        })
        .unwrap_or(MOST_DECIMALS)
}

/// Five significant digits without trailing zeros.
fn plain(number: f64) -> String {
    let text = significant(number, 5);
    if text.contains('.') && !text.contains('e') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

fn value_with_error(sample: Sample) -> String {
    rounded_with_error(sample.value, sample.error)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_show_what_their_errors_leave_of_them() {
        let text = |value, error| value_with_error(Sample { value, error });
        assert_eq!(text(12.345, 0.031), "12.35 ± 0.04");
        assert_eq!(text(12.345, 0.0), "12.3450 ± 0");
        assert_eq!(text(1234.5, 30.0), "1230 ± 40");
        assert_eq!(decimals_of(0.11, 2), 2);
        assert_eq!(decimals_of(25.0, 2), 0);
        assert_eq!(decimals_that_tell(&[1.0, 2.0, 2.0004, 20.0]), 4);
        assert_eq!(plain(20.0), "20");
        assert_eq!(plain(6.298_44), "6.2984");
    }
}
