//! Whether another board keeps the constants of the firmware.

use super::difference::{Compared, Difference, Figure};
use crate::panel::Panel;

/// A larger change of the base at the pin asks for other constants, relative.
pub const BASE_CHANGE_LIMIT: f64 = 0.05;
/// A larger change of the count shift asks for other constants, relative.
pub const COUNT_CHANGE_LIMIT: f64 = 0.10;
/// Where both limits come from.
pub const VERDICT_SOURCE: &str = "common practice, no source";

/// Whether the firmware keeps its constants: thresholds, baseline limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Both changes are below their limits.
    Keep,
    /// One of them is not.
    Retune,
    /// An error bar holds a limit.
    CannotTell,
}

impl Verdict {
    pub const fn words(self) -> &'static str {
        match self {
            Self::Keep => "keep",
            Self::Retune => "retune",
            Self::CannotTell => "cannot tell",
        }
    }
}

/// The verdict on a pad, when both changes are known.
pub(super) fn verdict(differences: &[Difference]) -> Option<Verdict> {
    let relative = |quantity| {
        let found = differences.iter().find(|one| one.quantity == quantity)?;
        found.relative()
    };
    let base = is_below(relative(Compared::BaseAtPin)?, BASE_CHANGE_LIMIT);
    let count = is_below(relative(Compared::CountShift)?, COUNT_CHANGE_LIMIT);
    Some(match [base, count] {
        [Some(true), Some(true)] => Verdict::Keep,
        [Some(false), _] | [_, Some(false)] => Verdict::Retune,
        _ => Verdict::CannotTell,
    })
}

/// Whether a change is below a limit either way, where its error bar leaves no doubt.
fn is_below(change: Figure, limit: f64) -> Option<bool> {
    let size = change.value.abs();
    if size + change.error < limit {
        Some(true)
    } else if size - change.error >= limit {
        Some(false)
    } else {
        None
    }
}

/// Whether the variant is another board under the same touch: other copper, layers, states or circuit, the
/// same fingers and water.
pub(super) fn is_revision(as_written: &Panel, variant: &Panel) -> bool {
    let same_touch = as_written.fingers == variant.fingers && as_written.films == variant.films;
    let board = |panel: &Panel| Panel {
        title: String::new(),
        usage: as_written.usage.clone(),
        ..panel.clone()
    };
    same_touch && board(as_written) != board(variant)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn differences(base: [f64; 2], count: [f64; 2]) -> Vec<Difference> {
        let one = |quantity, [percent, error]: [f64; 2]| Difference {
            quantity,
            as_written: Figure {
                value: 100.0,
                error: 0.0,
            },
            variant: Figure {
                value: 100.0 + percent,
                error,
            },
        };
        vec![
            one(Compared::BaseAtPin, base),
            one(Compared::CountShift, count),
        ]
    }

    #[test]
    fn constants_stay_below_five_percent_of_base_and_ten_of_counts() {
        // |base change| < 5 % and |count shift change| < 10 % (common practice, no source); both signs.
        let cases = [
            ([4.0, 0.5], [-9.0, 0.5], Verdict::Keep),
            ([-4.0, 0.5], [9.0, 0.5], Verdict::Keep),
            ([-6.0, 0.5], [1.0, 0.5], Verdict::Retune),
            ([1.0, 0.5], [-11.0, 0.5], Verdict::Retune),
            ([4.8, 0.5], [1.0, 0.5], Verdict::CannotTell),
            ([1.0, 0.5], [10.2, 0.5], Verdict::CannotTell),
            ([4.8, 0.5], [12.0, 0.5], Verdict::Retune),
            ([5.0, 0.0], [0.0, 0.0], Verdict::Retune),
        ];
        for (base, count, expected) in cases {
            let found = verdict(&differences(base, count));
            assert_eq!(found, Some(expected), "{base:?} {count:?}");
        }
        assert_eq!(verdict(&differences([1.0, 0.1], [1.0, 0.1])[..1]), None);
    }
}
