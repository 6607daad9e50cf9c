//! A checked rule: what it says, of which kind it is, what it is judged by.

use crate::study::{Condition, QuantityKind, Relation};
use padfield_engine::units::Length;

/// A rule of thumb.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    pub name: String,
    /// The rule in words.
    pub says: String,
    pub source: String,
    /// Why the condition is what it is; empty for none.
    pub because: String,
    /// Canonical names of the overlay materials it is about; empty for any.
    pub overlay: Vec<String>,
    /// Values set before the rule is judged: path and value with placeholders.
    pub set: Vec<[String; 2]>,
    /// Sections added before that.
    pub add: Vec<Added>,
    /// Distance of the finger from the pad's centre towards the nearest pad of the group \[m\].
    pub aim_error_m: Option<f64>,
    /// How it is judged.
    pub kind: Kind,
}

/// A section a rule adds, names with placeholders.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Added {
    /// A ground trace.
    Guard(String),
    Layer {
        name: String,
        /// Name of the layer it comes behind.
        behind: String,
    },
}

/// The ways a rule can be judged.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// A value that makes a condition hold.
    NeededValue(NeededValue),
    /// A change that does something.
    Effect(Effect),
    /// A quantity that grows with a power of something.
    PowerLaw(PowerLaw),
    /// A hand estimate near the computed value.
    Estimate {
        /// Name of the formula.
        name: String,
        /// Largest distance of estimate over computed from one \[%\].
        within_percent: f64,
    },
    /// A threshold as a share of a touch \[%\], smallest and largest.
    ThresholdShare([f64; 2]),
    /// Cannot be judged by a panel file: what it would need.
    NotDescribed(String),
}

/// A value that makes a condition hold.
#[derive(Clone, Debug, PartialEq)]
pub struct NeededValue {
    /// Paths with placeholders; the first one the panel file gives is taken.
    pub paths: Vec<String>,
    pub value: RuleValue,
    /// Unit of the range, empty for plain numbers.
    pub unit: String,
    /// On which side of the needed value the rule's should be.
    pub side: Bound,
    /// Range of the search in that unit.
    pub range: [f64; 2],
    /// What shall hold; its value is in percent of the reference when there is one.
    pub condition: Condition,
    /// What the quantity is compared with.
    pub reference: Option<Reference>,
    /// Beyond this factor from the needed value the rule is more careful than needed.
    pub careful_factor: f64,
}

#[derive(Clone, Debug, PartialEq)]
pub enum RuleValue {
    /// A number in the unit of the range, and as it was written.
    Fixed(f64, String),
    /// A multiple of the value at a path.
    Times(f64, String),
}

/// At least or at most.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// The rule's value or more.
    AtLeast,
    /// The rule's value or less.
    AtMost,
}

impl Bound {
    pub const fn words(self) -> &'static str {
        match self {
            Self::AtLeast => "at least",
            Self::AtMost => "at most",
        }
    }
}

/// What a quantity is compared with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reference {
    /// Its value on the panel as drawn.
    AsDrawn,
    /// Its largest value over the range.
    Best,
}

/// A change that does something.
#[derive(Clone, Debug, PartialEq)]
pub struct Effect {
    /// Values set for the change: path and value with placeholders.
    pub change: Vec<[String; 2]>,
    /// The panel's own air against none; where it has none, so much is assumed.
    pub air_gap: Option<Length>,
    /// Other outlines of the same area, each tried by itself.
    pub reshape: Vec<Form>,
    pub expect: Vec<Expectation>,
    /// Where this holds without the change, the change is not needed.
    pub not_needed_when: Option<Condition>,
}

/// The outline of a pad, its area given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    Disc,
    Square,
    /// A rectangle twice as high (y) as wide.
    UprightRectangle,
}

impl Form {
    /// Every one with its word in the rules file.
    pub const WORDS: [(&'static str, Self); 3] = [
        ("disc", Self::Disc),
        ("square", Self::Square),
        ("upright rectangle", Self::UprightRectangle),
    ];

    pub fn words(self) -> &'static str {
        let known = Self::WORDS.iter().find(|(_, form)| *form == self);
        known.map_or("", |(word, _)| word)
    }
}

/// What should become of a quantity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expectation {
    pub quantity: QuantityKind,
    pub change: Change,
    /// By how much \[%\], above zero.
    pub percent: f64,
    /// What it means when it does not.
    pub otherwise: Otherwise,
}

/// The ways a quantity may change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// Down by so much or more.
    FallsAtLeast,
    /// Down by so much or less, or up.
    FallsAtMost,
    /// Up by so much or more.
    RisesAtLeast,
    /// Up by so much or less, or down.
    RisesAtMost,
    /// By so much or less either way.
    ChangesAtMost,
}

impl Change {
    /// In words, before the share.
    pub const fn words(self) -> &'static str {
        match self {
            Self::FallsAtLeast => "should fall by at least",
            Self::FallsAtMost => "should fall by at most",
            Self::RisesAtLeast => "should rise by at least",
            Self::RisesAtMost => "should rise by at most",
            Self::ChangesAtMost => "should change by at most",
        }
    }
}

/// What it means when an expectation is not met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Otherwise {
    /// The rule fails here.
    Fails,
    /// The rule is more careful than needed.
    MoreCareful,
}

/// A quantity that grows with a power of something.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerLaw {
    pub quantity: QuantityKind,
    /// Paths with placeholders of the value that is varied.
    pub paths: Vec<String>,
    /// The value at the path times these is solved.
    pub factors: [f64; 2],
    /// Whether the base of the power is the pad's area, not the value itself.
    pub against_area: bool,
    /// The exponent the rule says.
    pub exponent: f64,
    /// How far from it the computed one may be.
    pub within: f64,
}

impl Rule {
    /// The quantity that decides which pad of a group is looked at.
    pub fn leading_quantity(&self) -> QuantityKind {
        match &self.kind {
            Kind::NeededValue(needed) => needed.condition.quantity.kind,
            Kind::Effect(effect) => effect
                .expect
                .first()
                .map_or(QuantityKind::TouchShift, |expect| expect.quantity),
            Kind::PowerLaw(law) => law.quantity,
            Kind::Estimate { .. } | Kind::ThresholdShare(_) | Kind::NotDescribed(_) => {
                QuantityKind::TouchShift
            }
        }
    }
}

/// Whether a value respects a relation to a limit, its error considered; none when the error bar holds
/// the limit.
pub fn decided(relation: Relation, limit: f64, value: f64, error: f64) -> Option<bool> {
    if (value - limit).abs() <= error {
        return match relation {
            // Exactly on the limit without an error counts as met.
            Relation::AtMost | Relation::AtLeast if error == 0.0 => Some(true),
            _ => None,
        };
    }
    match relation {
        Relation::AtMost => Some(value < limit),
        Relation::AtLeast => Some(value > limit),
        Relation::Equal => Some(false),
    }
}

impl Rule {
    /// Whether the panel's thresholds have to be known.
    pub fn needs_thresholds(&self) -> bool {
        matches!(self.kind, Kind::ThresholdShare(_))
    }
}
