//! Which printed quantities decide whether an accuracy was reached, in one place for every command.
//!
//! - A base capacitance is judged by itself, every pad of the problem; where counts are asked for, by the base at its pin:
//!   a count feels no more of it.
//! - The shift of the pad that is touched is judged by itself, but by no less than [`SMALL_SHIFT`] of the
//!   largest shift of that touch: a finger beside its pad, as on a walk, moves that pad little.
//! - Shifts of the other pads are judged by the largest shift of that touch: neighbours are read as a ratio to
//!   it, and a ratio of 0.1 % needs no 1 % of itself. So are those of a slider's segments, which are read together.
//! - On a map all shifts are judged by no less than what a finger on a pad shows, and only those of pads that may be the
//!   strongest there.
//! - A change of the surroundings is judged by the base that it changes, untouched, for the same reason.
//!
//! Where counts are asked for, nothing else is.
//!
//! Each with the bar that is printed: floating conductors eliminated, driven ones weighed, under every return
//! path that is counted with, round outlines included.

use super::places::TouchOptions;
use super::seen::{SeenTouch, SolvedTouch};
use super::surroundings::BaseChange;
use crate::panel::lowering::Lowered;
use crate::panel::{Panel, ReturnPath};
use padfield_engine::capacitance::{Estimate, Measurement};
use padfield_engine::field::{Judge, Printed, SMALL_SHIFT, join_printed};
use padfield_engine::units::Capacitance;

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

/// The judge of one touch of pad number `own`, or of no pad in particular, by fingers with these return paths.
pub(super) fn judge_of_touch(
    panel: &Panel,
    own: Option<usize>,
    (options, fingers): (&TouchOptions<'_>, &[ReturnPath]),
    lowered: &Lowered,
) -> Judge {
    let names: Vec<String> = panel.pads.iter().map(|pad| pad.name.clone()).collect();
    let paths = options.judged.of(panel, fingers);
    let looks = Looks {
        own,
        least_f: options.beside.farads(),
        of_strongest: options.of_strongest,
    };
    let counts = options.judged == JudgedPaths::OfSupplies;
    let strays: Vec<f64> = match counts {
        true => strays_f(panel),
        false => vec![0.0; names.len()],
    };
    let idle = panel.idle.value;
    let lengths = lowered.effective_lengths;
    let parts = lowered.parts.clone();
    let dielectrics = lowered.case.dielectrics.clone();
    // The dielectrics are those of the case.
    let of = format!(
        "touch seen {looks:?} among {names:?}, {strays:?}, {idle:?}, {paths:?}, {lengths:?}, {parts:?}"
    );
    let judge = Judge::new(move |answer| {
        let solved = SolvedTouch::new(answer, lengths, &parts, &dielectrics);
        let bare = solved.without_outlines();
        let mut printed = Vec::new();
        for &path in &paths {
            let seen = [&solved, &bare].map(|one| one.seen(&names, idle, path));
            // What has no capacitance fails where it is evaluated.
            if let [Ok(whole), Ok(rest)] = seen {
                let pads = (&names[..], &strays[..]);
                let of_touch = printed_of_touch(pads, looks, [&whole, &rest]);
                join_printed(&mut printed, of_touch);
            }
        }
        printed
    });
    let judge = judge.described(&of);
    match counts {
        true => judge.alone(),
        false => judge,
    }
}

/// What stands beside the field at the pin of every pad \[F\].
fn strays_f(panel: &Panel) -> Vec<f64> {
    let pads = panel.pads.iter();
    let stray = |pad| panel.stray.of(pad).at_pin(Capacitance::default()).nominal;
    pads.map(|pad| stray(pad).farads()).collect()
}

/// How shifts are looked at.
#[derive(Clone, Copy, Debug)]
struct Looks {
    /// The pad that is touched, where one is.
    own: Option<usize>,
    /// Least size that shifts are judged by \[F\].
    least_f: f64,
    /// Whether only the strongest is asked about.
    of_strongest: bool,
}

impl Looks {
    /// Whether a shift is asked about beside all of its touch.
    fn is_asked(self, shift: &Estimate, all: &[Option<Estimate>]) -> bool {
        let reached = all.iter().flatten();
        let reached = reached.map(|shift| shift.value.abs() - shift.error);
        let most = reached.fold(f64::NEG_INFINITY, f64::max);
        !self.of_strongest || shift.value.abs() + shift.error >= most
    }
}

/// What is printed of a touch, whole and with outlines left out. Pads come with what stands beside their fields.
fn printed_of_touch(
    (names, strays): (&[String], &[f64]),
    looks: Looks,
    [whole, rest]: [&SeenTouch; 2],
) -> Vec<Printed> {
    let mut printed = printed_bases((names, strays), &whole.bases, &rest.bases);
    let sizes = whole.shifts.iter().flatten();
    let largest = sizes.fold(looks.least_f, |most, shift| most.max(shift.value.abs()));
    for (pad, name) in names.iter().enumerate() {
        let (Some(shift), Some(rest)) = (whole.shifts[pad], rest.shifts[pad]) else {
            continue;
        };
        if !looks.is_asked(&shift, &whole.shifts) {
            continue;
        }
        let (words, size) = match Some(pad) == looks.own {
            true => ("touch shift", shift.value.abs().max(SMALL_SHIFT * largest)),
            false => ("neighbour shift", largest),
        };
        let name = format!("{words} of \"{name}\"");
        printed.extend(Printed::new(
            name,
            [shift.value, shift.error],
            rest.error,
            size,
        ));
    }
    printed
}

/// Bases of pads, by index, and what stands beside them \[F\] in what they are judged by; the same with outlines left out.
pub(super) fn printed_bases(
    (names, strays): (&[String], &[f64]),
    whole: &[Option<Measurement>],
    rest: &[Option<Measurement>],
) -> Vec<Printed> {
    let each = names.iter().zip(strays).zip(whole.iter().zip(rest));
    each.filter_map(|((name, stray), (whole, rest))| {
        let (whole, rest) = ((*whole)?.estimate, (*rest)?.estimate);
        let name = format!("base capacitance of \"{name}\"");
        let size = whole.value + stray;
        Printed::new(name, [whole.value, whole.error], rest.error, size)
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
