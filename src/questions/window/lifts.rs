//! Where nothing is left of the weakest true touch, and so no ratio: which value would leave it counts.

use super::compared::{Compared, possible, recounted, with};
use super::levers::STEP;
use super::{Checked, FURTHEST, LeverSearch, Window};
use crate::input::{Document, Scalable};
use crate::panel::Panel;
use crate::rounding::{signed, significant, window_ratio};
use crate::touch::{TouchError, WorkLimits};
use rayon::prelude::*;

/// What one value does to the weakest true touch.
#[derive(Clone, Debug, PartialEq)]
pub struct Lift {
    /// The value.
    pub scalable: Scalable,
    /// What is left of the touch with 10 % less and with 10 % more of it \[counts\]: its lowest bound. None for
    /// an impossible panel.
    pub left_counts: [Option<f64>; 2],
    /// Of a value that changes no field: every event counted again with the factor of 2.5 that helps.
    pub furthest: Option<Checked>,
}

impl Lift {
    /// The better of the two.
    fn most(&self) -> f64 {
        let known = self.left_counts.iter().flatten();
        known.copied().fold(f64::NEG_INFINITY, f64::max)
    }
}

/// Head of the table of [`lift_row`].
pub const LIFT_HEADER: [&str; 5] = [
    "value",
    "now",
    "left with 10 % less",
    "left with 10 % more",
    "factor of 2.5",
];

/// A row of the table: what the weakest true touch would have left, in counts, in words.
pub fn lift_row(lift: &Lift) -> Vec<String> {
    let unit = &lift.scalable.unit;
    let with_unit = |value: f64| {
        format!("{} {unit}", significant(value, 3))
            .trim()
            .to_owned()
    };
    let left = |counts: Option<f64>| {
        counts.map_or_else(|| "impossible".to_owned(), |counts| signed(counts, 0))
    };
    let furthest = |furthest: Checked| {
        format!(
            "{}: W = {}",
            with_unit(furthest.value),
            window_ratio(furthest.ratio)
        )
    };
    vec![
        lift.scalable.path.clone(),
        with_unit(lift.scalable.value),
        left(lift.left_counts[0]),
        left(lift.left_counts[1]),
        lift.furthest
            .map_or_else(|| "not tried".to_owned(), furthest),
    ]
}

/// What the table shows, in words.
pub fn lift_words(left_counts: f64) -> String {
    format!(
        "{} counts are left of the weakest true touch, its lowest bound; a threshold needs more than the \
         strongest false event shows. Values that change no field were tried at 2.5 times or a 2.5th too, every \
         event counted again.",
        signed(left_counts, 0)
    )
}

/// Follows the weakest true touch with every value of the file that a design can turn, and counts it with every
/// disturbance, 10 % to either side.
pub(super) fn lifts(
    document: &Document,
    panel: &Panel,
    mut weakest: Compared<'_>,
    found: &Window,
    search: &mut LeverSearch,
    limits: &WorkLimits<'_>,
) -> Result<(), TouchError> {
    let all = document.scalables(panel).into_iter();
    let scalables = possible(document, all.chain(document.disturbances()).collect());
    search.field_problems += weakest.follow((document, panel), &scalables, limits)?;
    let all = scalables.into_par_iter().enumerate();
    search.lifts = all
        .map(|(index, scalable)| lift(document, (index, scalable), &weakest, found))
        .collect();
    search.lifts.sort_by(|a, b| b.most().total_cmp(&a.most()));
    Ok(())
}

fn lift(
    document: &Document,
    (index, scalable): (usize, Scalable),
    weakest: &Compared<'_>,
    found: &Window,
) -> Lift {
    let left_counts = [1.0 - STEP, 1.0 + STEP].map(|factor| {
        let changed = with(document, &scalable.overrides(factor))?;
        let bound = weakest.bound(0, &changed, &weakest.turned(index, factor));
        bound.is_finite().then_some(bound)
    });
    let furthest = match left_counts {
        [Some(less), Some(more)] if !scalable.changes_field && less != more => {
            let factor = if less > more {
                FURTHEST.recip()
            } else {
                FURTHEST
            };
            with(document, &scalable.overrides(factor)).map(|changed| Checked {
                value: factor * scalable.value,
                ratio: recounted(&changed, found),
                is_whole: true,
            })
        }
        _ => None,
    };
    Lift {
        scalable,
        left_counts,
        furthest,
    }
}
