//! Two revisions of a board, pad by pad: keep the constants of the firmware, retune them, or reject the
//! revision.
//!
//! Takes a [`Comparison`] of two panels and the threshold window of the later one; gives a [`Decision`] per
//! pad; never fails.

use crate::questions::against::{Comparison, Verdict};
use crate::questions::window::Window;

/// What becomes of a pad of the later revision.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decision {
    /// The constants stay.
    Keep,
    /// Other constants work.
    Retune,
    /// No constants work: no threshold separates true and false events.
    Reject,
    /// The error bars hold both.
    CannotTell,
}

impl Decision {
    pub const fn words(self) -> &'static str {
        match self {
            Self::Keep => "keep",
            Self::Retune => "retune",
            Self::Reject => "reject",
            Self::CannotTell => "cannot tell",
        }
    }
}

/// A pad of both revisions.
#[derive(Clone, Debug, PartialEq)]
pub struct PadDecision {
    pub pad: String,
    pub decision: Decision,
    /// Window ratio of the later revision; none when its window was not decided or no user aims at it.
    pub window_ratio: Option<f64>,
}

/// Decides on the touched pads of the first variant of a comparison. Without a window no pad is rejected.
pub fn decisions(comparison: &Comparison, window: Option<&Window>) -> Vec<PadDecision> {
    let Some(variant) = comparison.variants.first() else {
        return Vec::new();
    };
    let ratio = |name: &str| {
        let window = window?;
        let mut pads = window.pads.iter().filter(|pad| pad.weakest_true.is_some());
        let found = pads.find(|pad| {
            pad.pad
                .is_some_and(|index| window.table.pads[index] == name)
        });
        found.map(|pad| pad.ratio)
    };
    let pads = variant.pads.iter();
    pads.map(|pad| {
        let window_ratio = ratio(&pad.pad);
        PadDecision {
            decision: decide(pad.verdict, window_ratio),
            window_ratio,
            pad: pad.pad.clone(),
        }
    })
    .collect()
}

/// A pad without a verdict is one of a variant that is the same board: its constants stay.
fn decide(verdict: Option<Verdict>, window_ratio: Option<f64>) -> Decision {
    if window_ratio.is_some_and(|ratio| ratio <= 1.0) {
        return Decision::Reject;
    }
    match verdict {
        None | Some(Verdict::Keep) => Decision::Keep,
        Some(Verdict::Retune) => Decision::Retune,
        Some(Verdict::CannotTell) => Decision::CannotTell,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_has_no_window_is_rejected_whatever_else_changed() {
        assert_eq!(decide(Some(Verdict::Keep), Some(0.9)), Decision::Reject);
        assert_eq!(decide(Some(Verdict::Keep), Some(1.0)), Decision::Reject);
        assert_eq!(decide(Some(Verdict::Keep), Some(1.1)), Decision::Keep);
        assert_eq!(decide(Some(Verdict::Retune), None), Decision::Retune);
        assert_eq!(
            decide(Some(Verdict::CannotTell), Some(3.0)),
            Decision::CannotTell
        );
        assert_eq!(decide(None, None), Decision::Keep);
    }
}
