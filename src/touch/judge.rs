//! Which printed quantities decide whether an accuracy was reached, in one place for every command.
//!
//! - A base capacitance is judged by itself: every pad of the problem.
//! - The shift of the pad that is touched is judged by itself, but by no less than [`SMALL_SHIFT`] of the
//!   largest shift of that touch: a finger beside its pad, as on a walk, moves that pad little.
//! - Shifts of the other pads are judged by the largest shift of that touch: neighbours are read as a ratio to
//!   it, and a ratio of 0.1 % needs no 1 % of itself. So are those of a slider's segments, which are read together.
//! - A change of the surroundings is judged by the base that it changes, untouched, for the same reason.
//!
//! Each with the bar that is printed: floating conductors eliminated, driven ones weighed, under every return
//! path that is counted with, round outlines included.

use super::seen::{SeenTouch, SolvedTouch};
use super::surroundings::BaseChange;
use crate::panel::lowering::Lowered;
use crate::panel::{Panel, ReturnPath};
use padfield_engine::capacitance::Measurement;
use padfield_engine::field::{Judge, Printed, SMALL_SHIFT, join_printed};

/// Under which return paths touches are judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JudgedPaths {
    /// The fingers' own, as in a table of one finger.
    OfFinger,
    /// The nominal ones of all supplies, as in counts; earthed without supplies.
    OfSupplies,
}

impl JudgedPaths {
    /// The return paths, each once.
    pub(super) fn of(self, panel: &Panel, fingers: &[ReturnPath]) -> Vec<ReturnPath> {
        let supplies = &panel.usage.supplies.value;
        let of_supplies = supplies.iter().map(|supply| {
            let nominal = supply.return_range(&panel.usage.body.value).nominal;
            nominal.map_or(ReturnPath::Earthed, ReturnPath::Through)
        });
        let mut paths: Vec<ReturnPath> = Vec::new();
        let all: Vec<ReturnPath> = match self {
            Self::OfFinger => fingers.to_vec(),
            Self::OfSupplies if supplies.is_empty() => vec![ReturnPath::Earthed],
            Self::OfSupplies => of_supplies.collect(),
        };
        for path in all {
            if !paths.contains(&path) {
                paths.push(path);
            }
        }
        paths
    }
}

/// The judge of one touch of pad number `own`, or of no pad in particular.
pub(super) fn judge_of_touch(
    panel: &Panel,
    own: Option<usize>,
    paths: Vec<ReturnPath>,
    lowered: &Lowered,
) -> Judge {
    let names: Vec<String> = panel.pads.iter().map(|pad| pad.name.clone()).collect();
    let idle = panel.idle.value;
    let lengths = lowered.effective_lengths;
    let parts = lowered.parts.clone();
    let dielectrics = lowered.case.dielectrics.clone();
    // The dielectrics are those of the case.
    let of =
        format!("touch of {own:?} among {names:?}, {idle:?}, {paths:?}, {lengths:?}, {parts:?}");
    let judge = Judge::new(move |answer| {
        let solved = SolvedTouch::new(answer, lengths, &parts, &dielectrics);
        let bare = solved.without_outlines();
        let mut printed = Vec::new();
        for &path in &paths {
            let seen = [&solved, &bare].map(|one| one.seen(&names, idle, path));
            // What has no capacitance fails where it is evaluated.
            if let [Ok(whole), Ok(rest)] = seen {
                join_printed(&mut printed, printed_of_touch(&names, own, &whole, &rest));
            }
        }
        printed
    });
    judge.described(&of)
}

fn printed_of_touch(
    names: &[String],
    own: Option<usize>,
    whole: &SeenTouch,
    rest: &SeenTouch,
) -> Vec<Printed> {
    let mut printed = printed_bases(names, &whole.bases, &rest.bases);
    let sizes = whole.shifts.iter().flatten();
    let largest = sizes.fold(0.0, |most: f64, shift| most.max(shift.value.abs()));
    for (pad, name) in names.iter().enumerate() {
        let (Some(whole), Some(rest)) = (whole.shifts[pad], rest.shifts[pad]) else {
            continue;
        };
        let (words, size) = match Some(pad) == own {
            true => ("touch shift", whole.value.abs().max(SMALL_SHIFT * largest)),
            false => ("neighbour shift", largest),
        };
        let name = format!("{words} of \"{name}\"");
        printed.extend(Printed::new(
            name,
            [whole.value, whole.error],
            rest.error,
            size,
        ));
    }
    printed
}

/// Bases of pads, by index; the same with outlines left out.
pub(super) fn printed_bases(
    names: &[String],
    whole: &[Option<Measurement>],
    rest: &[Option<Measurement>],
) -> Vec<Printed> {
    let each = names.iter().zip(whole.iter().zip(rest));
    each.filter_map(|(name, (whole, rest))| {
        let (whole, rest) = ((*whole)?.estimate, (*rest)?.estimate);
        let name = format!("base capacitance of \"{name}\"");
        Printed::new(name, [whole.value, whole.error], rest.error, whole.value)
    })
    .collect()
}

/// What surroundings do to the pads; the same with outlines left out.
pub(super) fn printed_changes(
    names: &[String],
    whole: &BaseChange,
    rest: &BaseChange,
) -> Vec<Printed> {
    let mut printed = Vec::new();
    for (index, pad) in names.iter().enumerate() {
        let base = whole.before[index];
        let what = format!("{} {}", whole.kind.words(), whole.name);
        let name = format!("base capacitance of \"{pad}\" before {what}");
        printed.extend(Printed::new(
            name,
            [base.value, base.error],
            rest.before[index].error,
            base.value,
        ));
        let [whole, rest] = [whole, rest].map(|one| one.changes[index]);
        let name = format!("change of \"{pad}\" by {what}");
        printed.extend(Printed::new(
            name,
            [whole.value, whole.error],
            rest.error,
            base.value,
        ));
    }
    printed
}
