//! A condition on a quantity: `neighbour ratio <= 20 %`.

use super::Quantity;
use std::fmt;

/// How a quantity is compared with a value. Computed values have error bars, so that "less than" and
/// "at most" are the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Relation {
    /// Not larger.
    AtMost,
    /// Not smaller.
    AtLeast,
    /// The same: met at single places only.
    Equal,
}

impl Relation {
    /// Signs and the relation they stand for, longer signs first.
    pub const SIGNS: [(&'static str, Self); 7] = [
        ("<=", Self::AtMost),
        (">=", Self::AtLeast),
        ("\u{2264}", Self::AtMost),
        ("\u{2265}", Self::AtLeast),
        ("<", Self::AtMost),
        (">", Self::AtLeast),
        ("=", Self::Equal),
    ];

    /// In words: "at most".
    pub const fn words(self) -> &'static str {
        match self {
            Self::AtMost => "at most",
            Self::AtLeast => "at least",
            Self::Equal => "equal to",
        }
    }

    /// `<=`, `>=` or `=`.
    pub const fn sign(self) -> &'static str {
        match self {
            Self::AtMost => "<=",
            Self::AtLeast => ">=",
            Self::Equal => "=",
        }
    }
}

/// What a quantity should be.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    pub quantity: Quantity,
    /// How it is compared.
    pub relation: Relation,
    /// With what, in the unit of the quantity ([`super::QuantityKind::unit`]).
    pub value: f64,
}

impl fmt::Display for Condition {
    /// `neighbour ratio <= 20 %`.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            formatter,
            "{} {} {}",
            self.quantity,
            self.relation.sign(),
            self.quantity.kind.with_unit(self.value)
        )
    }
}
