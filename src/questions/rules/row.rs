//! What is said of a rule on a panel.

use super::data::{Bound, Expectation, Form, Reference};
use super::subject::ThresholdShares;
use crate::questions::find::Sample;
use crate::study::{Condition, QuantityKind};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It serves its purpose on this panel.
    Holds,
    /// It serves its purpose, and less would do.
    MoreCareful,
    /// Kept to the letter, it misses its purpose.
    FailsHere,
    /// The error bars hold both.
    CannotTell,
    /// The panel file does not say what the rule is about.
    NotDescribed,
    /// The rule is about other overlays.
    NotAbout,
    /// Interrupted before, or the field engine gave no answer.
    NotJudged,
}

impl Verdict {
    pub const fn words(self) -> &'static str {
        match self {
            Self::Holds => "holds",
            Self::MoreCareful => "more careful than needed",
            Self::FailsHere => "fails here",
            Self::CannotTell => "cannot tell apart",
            Self::NotDescribed => "not described",
            Self::NotAbout => "not about this overlay",
            Self::NotJudged => "not judged",
        }
    }
}

/// One rule on one pad group.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    pub rule: String,
    /// The rule in words.
    pub says: String,
    pub source: String,
    /// Why its condition is what it is; empty for none.
    pub because: String,
    /// The pad group, when the panel has several.
    pub group: Option<String>,
    /// The touched pad and, with an aim error, the pad towards which the finger is off.
    pub touch: Option<RowTouch>,
    pub verdict: Verdict,
    /// The reason in one line.
    pub reason: String,
    /// The numbers.
    pub detail: Detail,
}

/// Where the finger was.
#[derive(Clone, Debug, PartialEq)]
pub struct RowTouch {
    pub pad: String,
    /// The pad towards which the finger was off its centre, and by how much \[mm\].
    pub off_towards: Option<(String, f64)>,
}

/// The numbers behind a verdict.
#[derive(Clone, Debug, PartialEq)]
pub enum Detail {
    /// There are none.
    None,
    Needed(NeededDetail),
    /// What changes did, one by one.
    Effects(Vec<EffectDetail>),
    /// An exponent.
    Power(PowerDetail),
    /// A hand estimate.
    Estimate(EstimateDetail),
    /// A threshold as a share of a touch \[%\].
    Threshold {
        /// The rule's shares.
        shares: [f64; 2],
        /// This panel's.
        found: ThresholdShares,
    },
}

/// The value this panel needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// Here, with the interval that follows from the error bars.
    At(f64, [f64; 2]),
    /// The condition holds up to this end of the range, where the search ends: less (or more) would do.
    BeyondEnd(f64),
    /// The condition holds nowhere up to this end of the range.
    NowhereTo(f64),
    /// The limit lies within the error bars without a crossing that is certain.
    Unclear,
}

/// A value that makes a condition hold.
#[derive(Clone, Debug, PartialEq)]
pub struct NeededDetail {
    /// Dotted path of the value.
    pub path: String,
    /// Its unit, empty for a plain number.
    pub unit: String,
    /// At least or at most.
    pub side: Bound,
    /// The rule's value.
    pub rule: f64,
    /// The same as it was written, or how it was found.
    pub rule_text: String,
    /// What the panel has, where it can be read.
    pub drawn: Option<f64>,
    pub needed: Place,
    pub condition: Condition,
    /// What the quantity is compared with: then samples are in percent of it.
    pub reference: Option<Reference>,
    /// The quantity at the rule's value.
    pub at_rule: Sample,
    /// Solved places, ascending.
    pub samples: Vec<(f64, Sample)>,
}

impl NeededDetail {
    pub fn sample_unit(&self) -> &'static str {
        match self.reference {
            Some(_) => "%",
            None => self.condition.quantity.kind.unit(),
        }
    }
}

/// What one change did to one quantity.
#[derive(Clone, Debug, PartialEq)]
pub struct EffectDetail {
    /// The other outline, for a change of shape.
    pub form: Option<Form>,
    pub expectation: Expectation,
    pub before: Sample,
    pub after: Sample,
    /// After over before minus one \[%\].
    pub change: Sample,
    /// Whether the expectation is met; none when the error bar holds its limit.
    pub is_met: Option<bool>,
}

/// The exponent of a power law.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerDetail {
    pub quantity: QuantityKind,
    /// What is raised to the power, in words with its unit.
    pub against: [String; 2],
    /// Base of the power and quantity: smaller, drawn, larger.
    pub samples: [(f64, Sample); 3],
    /// The exponent the rule says and how far it may be off.
    pub rule: [f64; 2],
    /// The computed exponent.
    pub exponent: Sample,
}

/// A hand estimate beside the computed value.
#[derive(Clone, Debug, PartialEq)]
pub struct EstimateDetail {
    /// Name of the formula.
    pub name: String,
    /// What it stands for.
    pub quantity: QuantityKind,
    /// The estimate \[pF\].
    pub estimate_pf: f64,
    /// The computed value \[pF\].
    pub computed_pf: Sample,
    /// Estimate over computed value.
    pub ratio: Sample,
    /// How far from one it may be \[%\].
    pub within_percent: f64,
}
