//! Rules that fail on a panel, or that cannot be told.

use super::{Judgement, Row, Verdict};
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};

fn row_check(row: &Row) -> Option<Check> {
    let severity = match row.verdict {
        Verdict::FailsHere => Severity::Failed,
        Verdict::CannotTell | Verdict::NotJudged => Severity::Undecided,
        Verdict::Holds | Verdict::MoreCareful | Verdict::NotDescribed | Verdict::NotAbout => {
            return None;
        }
    };
    let place = match &row.group {
        Some(group) => format!("{} ({group})", row.says),
        None => row.says.clone(),
    };
    Some(
        Check::new(Kind::Rule, severity, Source::Rules)
            .at(place)
            .found(format!("{}: {}", row.verdict.words(), row.reason)),
    )
}

impl Findings for Judgement {
    fn checks(&self) -> Vec<Check> {
        let mut checks: Vec<Check> = self.rows.iter().filter_map(row_check).collect();
        if self.has_numerical_failure {
            checks.push(
                Check::new(Kind::NoAnswer, Severity::Undecided, Source::Rules)
                    .found("the field engine gave no answer for some rule"),
            );
        }
        checks.extend(accuracy(
            self.accuracy_reached,
            &missed_words(&self.missed),
            self.missed.first().map(|one| one.asked),
            Source::Rules,
        ));
        checks
    }
}
