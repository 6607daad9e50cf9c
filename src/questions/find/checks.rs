//! A condition that holds nowhere in its range.

use super::{Answer, Ending, Question};
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::study::Relation;

/// A question with its answer.
pub struct Answered<'a> {
    pub question: &'a Question<'a>,
    pub answer: &'a Answer,
}

impl Answered<'_> {
    /// Whether the condition is met somewhere, by value.
    pub fn is_met(&self) -> bool {
        let found = &self.answer.found;
        let is_equal = self.question.condition.relation == Relation::Equal;
        !found.holds.is_empty() || (is_equal && !found.crossings.is_empty())
    }
}

impl Findings for Answered<'_> {
    fn checks(&self) -> Vec<Check> {
        let mut checks = Vec::new();
        let asked = format!(
            "{} over {}",
            self.question.condition, self.question.variable.path
        );
        if !self.is_met() {
            // Who was stopped has not looked everywhere.
            let (severity, words) = match self.answer.found.ending {
                Ending::Stopped => (
                    Severity::Undecided,
                    "stopped; met at none of the places solved so far",
                ),
                _ => (Severity::Failed, "met nowhere in the range"),
            };
            checks.push(
                Check::new(Kind::Question, severity, Source::Find)
                    .at(&asked)
                    .found(words),
            );
        }
        if self.answer.found.ending == Ending::OutOfSolves {
            checks.push(
                Check::new(Kind::NoAnswer, Severity::Undecided, Source::Find)
                    .at(&asked)
                    .found("all solves were used up before the answer was refined"),
            );
        }
        let short = &self.answer.short_of_accuracy;
        let places = match short.len() {
            1 => "at 1 place".to_owned(),
            several => format!("at {several} places"),
        };
        let missed = match missed_words(&self.answer.missed) {
            names if names.is_empty() => places.clone(),
            names => format!("{names}, {places}"),
        };
        let missed = accuracy(
            short.is_empty(),
            &missed,
            Some(self.question.settings.printed_accuracy()),
            Source::Find,
        );
        checks.extend(missed.map(|check| check.at(&asked)));
        checks
    }
}
