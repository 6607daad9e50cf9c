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
    /// Touch shift over base at the pin plus shift \[%\].
    RelativeTouchShift,
    /// Largest shift of another pad while this one is touched \[pF\].
    NeighbourShift,
    /// That shift over the touch shift \[%\].
    NeighbourRatio,
}

impl QuantityKind {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::BaseCapacitance,
        Self::TouchShift,
        Self::RelativeTouchShift,
        Self::NeighbourShift,
        Self::NeighbourRatio,
    ];

    /// The words of the panel file, of tables and charts.
    pub const fn words(self) -> &'static str {
        match self {
            Self::BaseCapacitance => "base capacitance",
            Self::TouchShift => "touch shift",
            Self::RelativeTouchShift => "relative touch shift",
            Self::NeighbourShift => "neighbour shift",
            Self::NeighbourRatio => "neighbour ratio",
        }
    }

    /// `"pF"` or `"%"`.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::BaseCapacitance | Self::TouchShift | Self::NeighbourShift => "pF",
            Self::RelativeTouchShift | Self::NeighbourRatio => "%",
        }
    }

    /// Whether the pad with the largest value stands for the panel, rather than the smallest: the
    /// worst case of a design.
    pub const fn largest_is_worst(self) -> bool {
        matches!(
            self,
            Self::BaseCapacitance | Self::NeighbourShift | Self::NeighbourRatio
        )
    }

    /// Which pad stands for the panel, in words.
    pub const fn which_pad(self) -> &'static str {
        match self {
            Self::BaseCapacitance => "largest pad",
            Self::TouchShift | Self::RelativeTouchShift => "weakest pad",
            Self::NeighbourShift | Self::NeighbourRatio => "worst pad",
        }
    }
}

/// A quantity of one pad, or of the pad that stands for the panel.
#[derive(Clone, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Quantity {
    /// Which quantity.
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
