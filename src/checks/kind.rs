//! What a check is about, what would settle it and how it is tested on a prototype.

/// What a check is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The estimated error asked for was not reached.
    Accuracy,
    /// A solver gave no answer.
    NoAnswer,
    /// A part that could not be computed, and why.
    NotComputed,
    /// A value cannot be told from zero.
    Resolution,
    /// The model gives trends only.
    Model,
    /// A hand estimate lies far from the computed value.
    HandEstimate,
    /// A limit of the measuring circuit.
    Circuit,
    /// A scan that takes longer than its cycle.
    Scan,
    /// The threshold window.
    Window,
    /// An event nobody described.
    NotDescribed,
    /// A value that is a default, not one of the product.
    Default,
    /// A part of an answer that was left out.
    LeftOut,
    /// The yield over tolerances.
    Yield,
    /// What a held finger loses to tracking.
    HeldFinger,
    /// Coefficients of a layer that are not known or not to be trusted.
    Coefficients,
    /// Counts over the return path.
    ReturnPath,
    /// A path of a discharge.
    Discharge,
    /// A rule of thumb.
    Rule,
    /// Position told by a slider or a wheel.
    Slider,
    /// A condition that somebody asked for.
    Question,
    /// Measured values beside computed ones.
    Measured,
    /// A pad of a later revision.
    Revision,
    /// A comparison that the error bars do not decide.
    Comparison,
    /// Points of a study.
    Points,
    /// A computed value beside a published one.
    Reference,
}

impl Kind {
    /// All of them.
    #[cfg(test)]
    pub const ALL: [Self; 25] = [
        Self::Accuracy,
        Self::NoAnswer,
        Self::NotComputed,
        Self::Resolution,
        Self::Model,
        Self::HandEstimate,
        Self::Circuit,
        Self::Scan,
        Self::Window,
        Self::NotDescribed,
        Self::Default,
        Self::LeftOut,
        Self::Yield,
        Self::HeldFinger,
        Self::Coefficients,
        Self::ReturnPath,
        Self::Discharge,
        Self::Rule,
        Self::Slider,
        Self::Question,
        Self::Measured,
        Self::Revision,
        Self::Comparison,
        Self::Points,
        Self::Reference,
    ];

    /// In a few words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Accuracy => "accuracy",
            Self::NoAnswer => "no answer",
            Self::NotComputed => "not computed",
            Self::Resolution => "resolution",
            Self::Model => "model",
            Self::HandEstimate => "hand estimate",
            Self::Circuit => "circuit",
            Self::Scan => "scan",
            Self::Window => "threshold window",
            Self::NotDescribed => "not described",
            Self::Default => "default value",
            Self::LeftOut => "left out",
            Self::Yield => "yield over tolerances",
            Self::HeldFinger => "held finger",
            Self::Coefficients => "coefficients of drift",
            Self::ReturnPath => "return path",
            Self::Discharge => "discharge",
            Self::Rule => "guideline",
            Self::Slider => "slider",
            Self::Question => "condition",
            Self::Measured => "measured values",
            Self::Revision => "revision",
            Self::Comparison => "comparison",
            Self::Points => "points of the study",
            Self::Reference => "published value",
        }
    }

    /// Whether it says that the numbers are not good enough: a command ends with exit code 4.
    pub const fn is_numerical(self) -> bool {
        matches!(self, Self::Accuracy | Self::NoAnswer)
    }

    /// What would settle it.
    pub const fn settles(self) -> &'static str {
        match self {
            Self::Accuracy => "more memory, or a coarser demand",
            Self::NoAnswer => "a panel file that can be solved, or more memory",
            Self::NotComputed => "a panel file for which it can be computed",
            Self::Resolution => "a finer accuracy, or a larger touch",
            Self::Model => "the volume model, or a prototype",
            Self::HandEstimate => "a look at the value behind it",
            Self::Circuit => {
                "another resistor, gate or count, or a measurement that the limit is no limit here"
            }
            Self::Scan => "a shorter gate, fewer channels, or a longer cycle",
            Self::Window => {
                "a change of the stackup, the users or the wanted ratio; see what would widen the window"
            }
            Self::NotDescribed => "a line in the panel file, or a test",
            Self::Default => "a value in the panel file, or a measurement",
            Self::LeftOut => "a note with this part",
            Self::Yield => "narrower tolerances, a finer accuracy, or units measured",
            Self::HeldFinger => {
                "slower tracking while touched, a steadier stackup, or a test in a chamber"
            }
            Self::Coefficients => "a data sheet, or a measurement in a chamber",
            Self::ReturnPath => {
                "a stronger tie to earth, a larger touch, or fewer counts asked for"
            }
            Self::Discharge => {
                "a thicker or stronger layer, more distance, or a test by a laboratory"
            }
            Self::Rule => "a decision against the rule with its reason, or another value",
            Self::Slider => "other segments, a correction table, or a test",
            Self::Question => "another range, another limit, or another panel",
            Self::Measured => "the assumption that padfield compare names, or a second measurement",
            Self::Revision => "new constants of the firmware, or another revision",
            Self::Comparison => "a finer accuracy",
            Self::Points => "the points again, with more memory or another range",
            Self::Reference => "a look at the engine",
        }
    }

    /// How a prototype tells, for the verification plan; none where nothing on a bench would.
    pub const fn test(self) -> Option<&'static str> {
        match self {
            Self::Window => Some("every user on every pad, every false event, counts logged"),
            Self::NotDescribed => Some("the event itself, every pad watched"),
            Self::Yield => Some("touches of a sample of units, counts logged"),
            Self::HeldFinger => {
                Some("a finger held while the temperature changes as fast as it will")
            }
            Self::Coefficients => Some("base counts over the temperature range, in a chamber"),
            Self::ReturnPath => Some("touches on every supply, and on the battery alone"),
            Self::Discharge => Some("electrostatic discharge on this path, by a laboratory"),
            Self::Slider => Some("a finger drawn along, positions logged against a scale"),
            Self::Circuit | Self::Scan => Some("frequency, count and time of a scan"),
            Self::Resolution => Some("the shift over many readings"),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_words_of_its_own() {
        let mut words: Vec<&str> = Kind::ALL.iter().map(|kind| kind.words()).collect();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), Kind::ALL.len());
        assert!(Kind::ALL.iter().all(|kind| !kind.settles().is_empty()));
    }
}
