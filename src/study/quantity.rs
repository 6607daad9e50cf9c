//! What can be reported of a point, by the words of the panel file.

use std::fmt;
use std::str::FromStr;

/// One of the reported quantities.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum QuantityKind {
    /// Field part of the untouched pad's capacitance \[pF\].
    BaseCapacitance,
    /// Capacitance of the touched pad with minus without the finger \[pF\].
    TouchShift,
    /// Touch shift over the untouched base at the pin \[%\].
    RelativeTouchShift,
    /// Largest shift of another pad while this one is touched \[pF\].
    NeighbourShift,
    /// That shift over the touch shift \[%\].
    NeighbourRatio,
    /// Shift of the touched pad's count, positive when the capacitance rises \[counts\].
    CountShift,
    /// Largest count shift of another pad while this one is touched \[counts\].
    NeighbourCountShift,
    /// Count shift over the noise of the count while touched, rms; a plain number.
    SignalToNoise,
}

impl QuantityKind {
    pub const ALL: [Self; 8] = [
        Self::BaseCapacitance,
        Self::TouchShift,
        Self::RelativeTouchShift,
        Self::NeighbourShift,
        Self::NeighbourRatio,
        Self::CountShift,
        Self::NeighbourCountShift,
        Self::SignalToNoise,
    ];

    /// The words of the panel file, of tables and charts.
    pub const fn words(self) -> &'static str {
        match self {
            Self::BaseCapacitance => "base capacitance",
            Self::TouchShift => "touch shift",
            Self::RelativeTouchShift => "relative touch shift",
            Self::NeighbourShift => "neighbour shift",
            Self::NeighbourRatio => "neighbour ratio",
            Self::CountShift => "count shift",
            Self::NeighbourCountShift => "neighbour count shift",
            Self::SignalToNoise => "signal-to-noise ratio",
        }
    }

    /// `"pF"`, `"%"` or `"counts"`; empty for a plain number.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::BaseCapacitance | Self::TouchShift | Self::NeighbourShift => "pF",
            Self::RelativeTouchShift | Self::NeighbourRatio => "%",
            Self::CountShift | Self::NeighbourCountShift => "counts",
            Self::SignalToNoise => "",
        }
    }

    /// Whether the pad with the largest value stands for the panel, rather than the smallest: the
    /// worst case of a design.
    pub const fn largest_is_worst(self) -> bool {
        matches!(
            self,
            Self::BaseCapacitance
                | Self::NeighbourShift
                | Self::NeighbourRatio
                | Self::NeighbourCountShift
        )
    }

    /// Whether it is about another pad than the touched one.
    pub const fn is_of_neighbour(self) -> bool {
        matches!(
            self,
            Self::NeighbourShift | Self::NeighbourRatio | Self::NeighbourCountShift
        )
    }

    /// A value of this quantity with its unit: `20 %`, `15`.
    pub fn with_unit(self, value: impl fmt::Display) -> String {
        format!("{value} {}", self.unit()).trim_end().to_owned()
    }

    /// Which pad stands for the panel, in words.
    pub const fn which_pad(self) -> &'static str {
        match self {
            Self::BaseCapacitance => "largest pad",
            Self::TouchShift
            | Self::RelativeTouchShift
            | Self::CountShift
            | Self::SignalToNoise => "weakest pad",
            Self::NeighbourShift | Self::NeighbourRatio | Self::NeighbourCountShift => "worst pad",
        }
    }
}

/// A quantity of one pad, or of the pad that stands for the panel.
#[derive(Clone, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Quantity {
    pub kind: QuantityKind,
    /// The touched pad; none: largest base, weakest touch, worst neighbour of the panel.
    pub pad: Option<String>,
}

impl Quantity {
    /// The quantity of the pad that stands for the panel.
    pub const fn of_panel(kind: QuantityKind) -> Self {
        Self { kind, pad: None }
    }
}

/// Words that name no quantity.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is not a reported quantity")]
pub struct UnknownQuantity(pub String);

impl fmt::Display for Quantity {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.kind.words())?;
        match &self.pad {
            Some(pad) => write!(formatter, " of {pad}"),
            None => Ok(()),
        }
    }
}

impl FromStr for Quantity {
    type Err = UnknownQuantity;

    /// `"touch shift"`, `"touch shift of vent"`. Whether the pad exists is not known here.
    fn from_str(text: &str) -> Result<Self, UnknownQuantity> {
        let (words, pad) = match text.split_once(" of ") {
            Some((words, pad)) => (words, Some(pad.to_owned())),
            None => (text, None),
        };
        QuantityKind::ALL
            .into_iter()
            .find(|kind| kind.words() == words)
            .map(|kind| Self { kind, pad })
            .ok_or_else(|| UnknownQuantity(words.to_owned()))
    }
}

impl From<Quantity> for String {
    fn from(quantity: Quantity) -> Self {
        quantity.to_string()
    }
}

impl TryFrom<String> for Quantity {
    type Error = UnknownQuantity;
    fn try_from(text: String) -> Result<Self, UnknownQuantity> {
        text.parse()
    }
}
