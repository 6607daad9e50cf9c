//! One variable of a study: a dotted path and the values it takes.

use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::{Deserialize, Serialize};
use std::fmt;

/// Significant digits of values that are not exact by themselves: logarithmic ranges, samples.
const SIGNIFICANT_DIGITS: u32 = 7;

/// How a range is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Spread {
    /// In exact decimal steps from the start; the last value is the last step that is not beyond the end.
    Step(Decimal),
    /// So many values at equal distances, both ends included.
    Linear(u32),
    /// So many values at equal ratios, both ends included.
    Logarithmic(u32),
    /// Anywhere in between: samples only.
    Anywhere {
        /// Equal shares of the samples for equal ratios rather than equal distances.
        logarithmic: bool,
    },
}

/// The values of a variable.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Values {
    /// Words or compound quantities, as written: `"acrylic"`, `"15 mm x 12 mm"`.
    Words(Vec<String>),
    /// Numbers in the variable's unit.
    Numbers(Vec<Decimal>),
    /// A range in the variable's unit.
    Range {
        /// First value.
        from: Decimal,
        /// Last value, at least the first.
        to: Decimal,
        /// How it is filled.
        spread: Spread,
    },
}

/// One coordinate of a point.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Coordinate {
    /// A number in the variable's unit.
    Number(Decimal),
    /// A word or compound quantity, as written.
    Word(String),
}

impl Coordinate {
    /// The number, for axes of charts.
    pub fn number(&self) -> Option<f64> {
        match self {
            Self::Number(number) => number.to_f64(),
            Self::Word(_) => None,
        }
    }
}

impl fmt::Display for Coordinate {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Number(number) => write!(formatter, "{}", number.normalize()),
            Self::Word(word) => formatter.write_str(word),
        }
    }
}

/// A value of the panel that varies.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Variable {
    /// Dotted path in full.
    pub path: String,
    /// Unit of its numbers; empty for plain numbers, words and compound quantities.
    pub unit: String,
    pub values: Values,
}

impl Variable {
    /// Number of values, at least one of a checked study; none for a range that can be sampled only.
    #[allow(clippy::len_without_is_empty)]
    pub fn len(&self) -> Option<u64> {
        match &self.values {
            Values::Words(words) => Some(words.len() as u64),
            Values::Numbers(numbers) => Some(numbers.len() as u64),
            Values::Range { from, to, spread } => match spread {
                // The end is reached exactly when the step divides: decimals do not round here.
                Spread::Step(step) => ((*to - *from) / *step).floor().to_u64().map(|n| n + 1),
                Spread::Linear(points) | Spread::Logarithmic(points) => Some(u64::from(*points)),
                Spread::Anywhere { .. } => None,
            },
        }
    }

    /// The value number `index`, from 0.
    ///
    /// # Panics
    /// Beyond [`Variable::len`], or for a range that can be sampled only.
    pub fn value(&self, index: u64) -> Coordinate {
        match &self.values {
            Values::Words(words) => Coordinate::Word(words[index as usize].clone()),
            Values::Numbers(numbers) => Coordinate::Number(numbers[index as usize]),
            Values::Range { from, to, spread } => Coordinate::Number(match spread {
                Spread::Step(step) => *from + *step * Decimal::from(index),
                Spread::Linear(points) => between(*from, *to, index, *points),
                Spread::Logarithmic(points) => match index {
                    0 => *from,
                    last if last + 1 == u64::from(*points) => *to,
                    _ => at_ratio(*from, *to, index as f64 / f64::from(*points - 1)),
                },
                Spread::Anywhere { .. } => {
                    unreachable!("a range without step or points has no numbered values")
                }
            }),
        }
    }

    /// The value at a share of the way, `0 <= share < 1`: one of the values, or anywhere in the range.
    pub fn sampled(&self, share: f64) -> Coordinate {
        if let Values::Range {
            from,
            to,
            spread: Spread::Anywhere { logarithmic },
        } = &self.values
        {
            return Coordinate::Number(if *logarithmic {
                at_ratio(*from, *to, share)
            } else {
                let share = Decimal::from_f64(share).unwrap_or_default();
                let digits = SIGNIFICANT_DIGITS as i32 - magnitude(*to - *from);
                (*from + (*to - *from) * share).round_dp(digits.clamp(0, 20) as u32)
            });
        }
        let count = self.len().unwrap_or(1);
        let index = (share * count as f64) as u64;
        self.value(index.min(count - 1))
    }

    /// A coordinate of this variable as it would stand in the panel file.
    pub fn text(&self, coordinate: &Coordinate) -> String {
        match coordinate {
            Coordinate::Number(_) if !self.unit.is_empty() => format!("{coordinate} {}", self.unit),
            _ => coordinate.to_string(),
        }
    }

    /// A coordinate back from its `Display` text.
    pub fn coordinate(&self, text: &str) -> Option<Coordinate> {
        match self.values {
            Values::Words(_) => Some(Coordinate::Word(text.to_owned())),
            _ => text.parse().ok().map(Coordinate::Number),
        }
    }

    /// `pads.keys.gap [mm]`.
    pub fn heading(&self) -> String {
        if self.unit.is_empty() {
            self.path.clone()
        } else {
            format!("{} [{}]", self.path, self.unit)
        }
    }

    pub fn is_numeric(&self) -> bool {
        !matches!(self.values, Values::Words(_))
    }
}

/// Digits before the decimal point; zero or less for values below 1.
fn magnitude(value: Decimal) -> i32 {
    let value = value.abs().to_f64().unwrap_or(1.0);
    if value > 0.0 {
        value.log10().floor() as i32 + 1
    } else {
        1
    }
}

fn between(from: Decimal, to: Decimal, index: u64, points: u32) -> Decimal {
    if index == 0 {
        return from;
    }
    if index + 1 == u64::from(points) {
        return to;
    }
    let value = from + (to - from) * Decimal::from(index) / Decimal::from(points - 1);
    // Thirds have no end: two more digits than any measure needs.
    let digits = SIGNIFICANT_DIGITS as i32 + 2 - magnitude(to - from);
    value.round_dp(digits.clamp(0, 20) as u32)
}

fn at_ratio(from: Decimal, to: Decimal, share: f64) -> Decimal {
    let [low, high] = [from, to].map(|end| end.to_f64().unwrap_or(1.0));
    let value = low * (high / low).powf(share);
    Decimal::from_f64(value)
        .and_then(|value| value.round_sf(SIGNIFICANT_DIGITS))
        .map_or(from, |value| value.clamp(from, to))
}
