//! Checks: whatever an answer found failed, open, undecided or out of its usual range, in one list.
//!
//! Takes nothing and computes nothing: the type [`Check`] that every answer fills ([`Findings`]), from which
//! exit codes, warnings, the open risks and the verification plan of a note follow; never fails.
//!
//! - [`Severity::Failed`] and [`Severity::Open`] are what a command ends with exit code 3 for;
//!   [`Kind::is_numerical`] is what it ends with exit code 4 for; the rest is told only.
//! - Values and limits are text with their units, as they are printed: whoever registers a check knows how
//!   many digits it has.
//!
//! ```
//! use padfield::checks::{Check, Kind, Severity, Source, fails};
//!
//! let check = Check::new(Kind::Discharge, Severity::Open, Source::Discharge)
//!     .at("puncture of overlay")
//!     .found("holds 9 to 24 kV")
//!     .keeps("15 kV with margin 2");
//! assert_eq!(
//!     check.sentence(),
//!     "discharge, puncture of overlay: holds 9 to 24 kV; limit: 15 kV with margin 2"
//! );
//! assert!(fails(&[check]));
//! ```

mod kind;
mod reference;
mod source;

pub use kind::Kind;
pub use source::Source;

use crate::record::record;
use crate::rounding::significant;

/// How bad a check is, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// A limit is not kept.
    Failed,
    /// A limit that was set may or may not be kept: something else has to decide, as a test.
    Open,
    /// Not known, because it was not computed, not described or not reached.
    Undecided,
    /// Outside of what is usual or wanted, without a limit that was set.
    Unusual,
}

impl Severity {
    /// All of them, the worst first.
    pub const ALL: [Self; 4] = [Self::Failed, Self::Open, Self::Undecided, Self::Unusual];

    /// One word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Failed => "failed",
            Self::Open => "open",
            Self::Undecided => "undecided",
            Self::Unusual => "unusual",
        }
    }
}

/// One thing that was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Check {
    /// What it is about.
    pub kind: Kind,
    /// How bad it is.
    pub severity: Severity,
    /// Pad, path, rule or value it is about; empty for the whole panel.
    pub place: String,
    /// What was found, with its unit.
    pub value: String,
    /// What it should keep, with its unit; empty where there is no limit.
    pub limit: String,
    /// The command that shows it.
    pub source: Source,
}

impl Check {
    /// About the whole panel, without value and limit yet.
    pub const fn new(kind: Kind, severity: Severity, source: Source) -> Self {
        Self {
            kind,
            severity,
            place: String::new(),
            value: String::new(),
            limit: String::new(),
            source,
        }
    }

    /// With the place it is about.
    #[must_use]
    pub fn at(self, place: impl Into<String>) -> Self {
        Self {
            place: place.into(),
            ..self
        }
    }

    /// With what was found.
    #[must_use]
    pub fn found(self, value: impl Into<String>) -> Self {
        Self {
            value: value.into(),
            ..self
        }
    }

    /// With what it should keep.
    #[must_use]
    pub fn keeps(self, limit: impl Into<String>) -> Self {
        Self {
            limit: limit.into(),
            ..self
        }
    }

    /// What it is about and where: `discharge, puncture of overlay`.
    pub fn subject(&self) -> String {
        match self.place.as_str() {
            "" => self.kind.words().to_owned(),
            place => format!("{}, {place}", self.kind.words()),
        }
    }

    /// All of it but severity and command.
    pub fn sentence(&self) -> String {
        let mut text = self.subject();
        if !self.value.is_empty() {
            text += &format!(": {}", self.value);
        }
        if !self.limit.is_empty() {
            text += &format!("; limit: {}", self.limit);
        }
        text
    }

    /// Whether a command ends with exit code 3 for it.
    pub fn fails(&self) -> bool {
        matches!(self.severity, Severity::Failed | Severity::Open)
    }
}

record! {
    /// Something found failed, open, undecided or unusual.
    pub struct CheckRecord(check: &Check) {
        /// How bad it is: `failed`, `open`, `undecided` or `unusual`. The first two end with exit code 3.
        severity: &'static str = check.severity.word(),
        /// What it is about.
        about: &'static str = check.kind.words(),
        /// Pad, path, rule or value it is about; empty for the whole panel.
        place: String = check.place.clone(),
        /// What was found, with its unit.
        value: String = check.value.clone(),
        /// What it should keep, with its unit; empty where there is no limit.
        limit: String = check.limit.clone(),
        /// The command that shows it.
        shown_by: &'static str = check.source.command(),
    }
}

/// An answer that knows what is wrong with it.
pub trait Findings {
    /// Everything that failed, is open, undecided or out of its usual range, in the order it is told.
    fn checks(&self) -> Vec<Check>;
}

/// Whether a command ends with exit code 3.
pub fn fails(checks: &[Check]) -> bool {
    checks.iter().any(Check::fails)
}

/// Whether a command ends with exit code 4, which comes before 3: numbers that are not good enough decide
/// nothing.
pub fn is_not_reached(checks: &[Check]) -> bool {
    checks.iter().any(|check| check.kind.is_numerical())
}

/// That the accuracy asked for was not reached, by what is `missed` in words where that is known; none when it
/// was.
pub fn accuracy(reached: bool, missed: &str, asked: Option<f64>, source: Source) -> Option<Check> {
    let limit = asked.map_or_else(String::new, |asked| {
        format!("estimated error of {} %", significant(100.0 * asked, 2))
    });
    let found = match missed {
        "" => "not reached everywhere".to_owned(),
        names => format!("not reached by {names}"),
    };
    (!reached).then(|| {
        Check::new(Kind::Accuracy, Severity::Undecided, source)
            .found(found)
            .keeps(limit)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(kind: Kind, severity: Severity) -> Check {
        Check::new(kind, severity, Source::Solve)
    }

    #[test]
    fn only_what_failed_or_is_open_ends_with_code_3() {
        let ends = Severity::ALL.map(|severity| fails(&[check(Kind::Window, severity)]));
        assert_eq!(ends, [true, true, false, false]);
        assert!(!fails(&[]));
        // Missed accuracy is told apart from a limit that is not kept.
        let missed = accuracy(false, "", Some(0.02), Source::Window).into_iter();
        let missed: Vec<Check> = missed.collect();
        assert!(is_not_reached(&missed) && !fails(&missed));
        assert_eq!(
            missed[0].sentence(),
            "accuracy: not reached everywhere; limit: estimated error of 2.0 %"
        );
        let named = accuracy(false, "the base of \"left\"", None, Source::Walk);
        assert_eq!(
            named.map(|check| check.sentence()).as_deref(),
            Some("accuracy: not reached by the base of \"left\"")
        );
        assert_eq!(accuracy(true, "", Some(0.02), Source::Window), None);
    }

    #[test]
    fn severities_sort_by_how_bad_they_are() {
        let mut severities = Severity::ALL;
        severities.reverse();
        severities.sort_unstable();
        assert_eq!(severities, Severity::ALL);
    }
}
