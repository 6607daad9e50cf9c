//! From solved places to the answer: crossings, undecided stretches, where the condition holds.

use super::ask::{Place, Sample, Span};
use crate::study::Relation;
use std::ops::Range;

/// A place where the quantity passes its limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Where the value equals the limit.
    pub at: f64,
    /// Where value plus or minus error equals the limit, or as far as solved places reach.
    pub interval: [f64; 2],
    /// Whether beyond this end of the interval the side of the limit is certain within the error bar;
    /// otherwise the interval ends because the range, or what can be solved of it, does.
    pub is_decided: [bool; 2],
    /// Whether the quantity rises through the limit.
    pub is_rising: bool,
}

/// Where a stretch ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bound {
    /// At the crossing of this number in [`Found::crossings`].
    Crossing(usize),
    /// At an end of the range.
    End(f64),
    /// At the last place before one that cannot be solved.
    Failure(f64),
}

/// A stretch of the range where the value respects the condition.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    pub from: Bound,
    pub to: Bound,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// Everything found is refined.
    Complete,
    /// It was asked to stop.
    Stopped,
    /// It has used up its solves.
    OutOfSolves,
}

/// The answer of a search.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Every place that was asked for, ascending.
    pub places: Vec<Place>,
    /// Crossings, ascending.
    pub crossings: Vec<Crossing>,
    /// Stretches where the condition holds, ascending; none for [`Relation::Equal`].
    pub holds: Vec<Stretch>,
    /// Stretches where the limit lies within the error bar without a crossing that is certain.
    pub undecided: Vec<[f64; 2]>,
    pub ending: Ending,
}

impl Found {
    pub fn place_of(&self, bound: Bound) -> f64 {
        match bound {
            Bound::Crossing(index) => self.crossings[index].at,
            Bound::End(at) | Bound::Failure(at) => at,
        }
    }

    /// Places with a value.
    pub fn solved(&self) -> impl Iterator<Item = (f64, Sample)> + '_ {
        let places = self.places.iter();
        places.filter_map(|place| Some((place.at, *place.sample.as_ref().ok()?)))
    }
}

/// One solved place: share of the way, value minus limit, error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Dot {
    pub share: f64,
    pub excess: f64,
    pub error: f64,
}

impl Dot {
    pub fn is_undecided(&self) -> bool {
        self.excess.abs() <= self.error
    }

    /// Which side of the limit the value is on; on it counts as below.
    pub fn is_above(&self) -> bool {
        self.excess > 0.0
    }

    /// How far the value is beyond the error bar on the given side of the limit; negative within.
    pub fn beyond(&self, above: bool) -> f64 {
        let side = if above { 1.0 } else { -1.0 };
        side * self.excess - self.error
    }
}

/// Places without a failure between them.
pub(super) fn segments(places: &[Place], span: &Span, limit: f64) -> Vec<Vec<Dot>> {
    let mut segments = vec![Vec::new()];
    for place in places {
        match &place.sample {
            Ok(sample) => segments.last_mut().expect("never empty").push(Dot {
                share: span.share(place.at),
                excess: sample.value - limit,
                error: sample.error,
            }),
            Err(_) => segments.push(Vec::new()),
        }
    }
    segments.retain(|dots| !dots.is_empty());
    segments
}

/// Where a segment passes from decided places to decided places over undecided ones, if any; at the
/// ends of a segment one side or both are missing.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Transition {
    /// Indices of the undecided places, perhaps none.
    pub undecided: Range<usize>,
    pub has_before: bool,
    pub has_after: bool,
}

impl Transition {
    /// All indices of it, the decided ones included.
    pub fn all(&self) -> Range<usize> {
        self.undecided.start - usize::from(self.has_before)
            ..self.undecided.end + usize::from(self.has_after)
    }

    /// The two neighbours between which the value passes the limit: the closest pair when error bars
    /// let it pass several times. None when both sides of the transition are the same side.
    pub fn bracket(&self, dots: &[Dot]) -> Option<[usize; 2]> {
        let all = self.all();
        let sides = [all.start, all.end - 1].map(|index| dots[index].is_above());
        if sides[0] == sides[1] {
            return None;
        }
        let width = |pair: &[usize; 2]| dots[pair[1]].share - dots[pair[0]].share;
        (all.start..all.end - 1)
            .map(|index| [index, index + 1])
            .filter(|[a, b]| dots[*a].is_above() != dots[*b].is_above())
            .min_by(|a, b| width(a).total_cmp(&width(b)))
    }
}

pub(super) fn transitions(dots: &[Dot]) -> Vec<Transition> {
    let mut found = Vec::new();
    let mut index = 0;
    while index < dots.len() {
        let start = index;
        while index < dots.len() && dots[index].is_undecided() {
            index += 1;
        }
        let changes =
            start > 0 && index < dots.len() && dots[start - 1].is_above() != dots[index].is_above();
        if index > start || changes {
            found.push(Transition {
                undecided: start..index,
                has_before: start > 0,
                has_after: index < dots.len(),
            });
        }
        index += 1;
    }
    found
}

/// Where the straight line between two values passes zero.
pub(super) fn between(a: (f64, f64), b: (f64, f64)) -> f64 {
    let [(at_a, a), (at_b, b)] = [a, b];
    if a == b {
        return 0.5 * (at_a + at_b);
    }
    let share = (a / (a - b)).clamp(0.0, 1.0);
    at_a + (at_b - at_a) * share
}

/// Share of the crossing in its bracket.
pub(super) fn crossing_share(dots: &[Dot], [a, b]: [usize; 2]) -> f64 {
    let of = |index: usize| (dots[index].share, dots[index].excess);
    between(of(a), of(b))
}

/// Shares of both ends of the undecided stretch.
fn ends(dots: &[Dot], transition: &Transition) -> [f64; 2] {
    let undecided = &transition.undecided;
    let all = transition.all();
    if undecided.is_empty() {
        return [dots[all.start].share, dots[all.end - 1].share];
    }
    let end = |decided: Option<usize>, near: usize| match decided {
        None => dots[near].share,
        Some(decided) => {
            let above = dots[decided].is_above();
            let of = |index: usize| (dots[index].share, dots[index].beyond(above));
            between(of(decided), of(near))
        }
    };
    [
        end(transition.has_before.then_some(all.start), undecided.start),
        end(
            transition.has_after.then_some(all.end - 1),
            undecided.end - 1,
        ),
    ]
}

/// The answer from all places; `relation` says which side holds.
pub(super) fn result(
    places: Vec<Place>,
    span: &Span,
    limit: f64,
    relation: Relation,
    ending: Ending,
) -> Found {
    let mut found = Found {
        crossings: Vec::new(),
        holds: Vec::new(),
        undecided: Vec::new(),
        places: Vec::new(),
        ending,
    };
    for dots in segments(&places, span, limit) {
        let edge = |index: usize| {
            let at = span.place(dots[index].share);
            let is_end = at == span.from || at == span.to;
            if is_end {
                Bound::End(at)
            } else {
                Bound::Failure(at)
            }
        };
        // The side between two crossings is the side of any place between them.
        let mut from = edge(0);
        let mut is_above = dots[0].is_above();
        let close = |from: Bound, to: Bound, is_above: bool, holds: &mut Vec<Stretch>| {
            let wanted = match relation {
                Relation::AtMost => !is_above,
                Relation::AtLeast => is_above,
                Relation::Equal => false,
            };
            if wanted {
                holds.push(Stretch { from, to });
            }
        };
        for transition in transitions(&dots) {
            let shares = ends(&dots, &transition);
            let interval = shares.map(|share| span.place(share));
            let Some(bracket) = transition.bracket(&dots) else {
                found.undecided.push(interval);
                continue;
            };
            let crossing = Bound::Crossing(found.crossings.len());
            found.crossings.push(Crossing {
                at: span.place(crossing_share(&dots, bracket)),
                interval,
                is_decided: [transition.has_before, transition.has_after],
                is_rising: dots[transition.all().end - 1].is_above(),
            });
            close(from, crossing, is_above, &mut found.holds);
            from = crossing;
            is_above = dots[transition.all().end - 1].is_above();
        }
        close(from, edge(dots.len() - 1), is_above, &mut found.holds);
    }
    found.places = places;
    found
}
