//! What is still too coarse in a list of solved places, and the next place to solve for it.

use super::result::{Dot, Transition, crossing_share, transitions};

/// A crossing is fine enough when a place beside it differs from the limit by this share of its error,
const VALUE_WITHIN: f64 = 0.05;
/// the end of its interval when a place beside it misses the end by this share of the error,
const END_WITHIN: f64 = 0.05;
/// or lies within this share of the distance from crossing to end.
const END_WIDTH: f64 = 0.1;
/// Finest distance, share of the range.
pub(super) const FINEST: f64 = 1e-6;
/// Steps that may pass before the bracket has to have halved.
const PATIENCE: usize = 3;

/// What is refined: the value itself, or the edge of the error bar on one side of the limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Target {
    Crossing,
    Edge { above: bool },
}

impl Target {
    /// Passes zero at the target.
    pub fn of(self, dot: &Dot) -> f64 {
        match self {
            Self::Crossing => dot.excess,
            Self::Edge { above } => dot.beyond(above),
        }
    }

    fn is_met(self, dot: &Dot) -> bool {
        let within = match self {
            Self::Crossing => VALUE_WITHIN,
            Self::Edge { .. } => END_WITHIN,
        };
        self.of(dot).abs() <= within * dot.error
    }

    fn is_positive(self, dot: &Dot) -> bool {
        self.of(dot) > 0.0
    }
}

/// A target between two neighbours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Task {
    pub target: Target,
    pub ends: [Dot; 2],
    /// A third place, beyond the end that is nearer to the target.
    third: Option<Dot>,
    /// Where the limit is met, as far as is known.
    reference: f64,
}

/// The first thing that is not fine enough yet.
pub(super) fn next_task(dots: &[Dot], is_given_up: impl Fn(&Task) -> bool) -> Option<Task> {
    let all = transitions(dots);
    all.iter()
        .flat_map(|transition| tasks(dots, transition))
        .find(|task| !task.is_done() && !is_given_up(task))
}

fn tasks(dots: &[Dot], transition: &Transition) -> Vec<Task> {
    let undecided = transition.undecided.clone();
    let mut tasks = Vec::new();
    let bracket = transition.bracket(dots);
    let near = |index: usize| Target::Crossing.is_met(&dots[index]);
    if let Some(pair) = bracket
        && !undecided.clone().any(near)
    {
        tasks.push(Task::new(dots, Target::Crossing, pair, dots[pair[0]].share));
    }
    if undecided.is_empty() {
        return tasks;
    }
    let reference = |near: usize| match bracket {
        Some(pair) => crossing_share(dots, pair),
        // A touch: the stretch itself is the measure.
        None => {
            dots[if near == undecided.start {
                undecided.end - 1
            } else {
                undecided.start
            }]
            .share
        }
    };
    let mut edge = |decided: usize, near: usize| {
        let above = dots[decided].is_above();
        let pair = [decided.min(near), decided.max(near)];
        tasks.push(Task::new(
            dots,
            Target::Edge { above },
            pair,
            reference(near),
        ));
    };
    if transition.has_before {
        edge(undecided.start - 1, undecided.start);
    }
    if transition.has_after {
        edge(undecided.end, undecided.end - 1);
    }
    tasks
}

impl Task {
    fn new(dots: &[Dot], target: Target, [a, b]: [usize; 2], reference: f64) -> Self {
        let ends = [dots[a], dots[b]];
        let third = match nearer(target, &ends) {
            0 => a.checked_sub(1),
            _ => Some(b + 1),
        };
        Self {
            target,
            ends,
            third: third.and_then(|index| dots.get(index)).copied(),
            reference,
        }
    }

    /// Whether the bracket is fine enough.
    pub fn is_done(&self) -> bool {
        let [a, b] = &self.ends;
        let width = b.share - a.share;
        // Between two floating-point shares that stand for neighbouring places.
        if width <= 1.01 * FINEST {
            return true;
        }
        match self.target {
            Target::Crossing => false,
            Target::Edge { .. } => {
                let distance = [a, b].map(|dot| (dot.share - self.reference).abs());
                let near = distance[0].min(distance[1]);
                width <= END_WIDTH * near || self.target.is_met(a) || self.target.is_met(b)
            }
        }
    }
}

/// Walks into one bracket.
#[derive(Clone, Debug)]
pub(super) struct Walk {
    target: Target,
    /// Both ends: one positive, one not.
    ends: [Dot; 2],
    /// A third place close to the better end.
    third: Option<Dot>,
    widths: Vec<f64>,
}

impl Walk {
    pub fn new(task: &Task) -> Self {
        Self {
            target: task.target,
            ends: task.ends,
            third: task.third,
            widths: vec![task.ends[1].share - task.ends[0].share],
        }
    }

    /// Whether it is on its way to this task.
    pub fn is_for(&self, task: &Task) -> bool {
        self.target == task.target && self.ends == task.ends
    }

    /// Share of the way to solve next, inside the bracket.
    pub fn next(&self) -> f64 {
        let [low, high] = self.ends.map(|dot| dot.share);
        let width = high - low;
        let stalled = self.widths.len() > PATIENCE
            && width > 0.5 * self.widths[self.widths.len() - 1 - PATIENCE];
        if stalled {
            return 0.5 * (low + high);
        }
        let best = nearer(self.target, &self.ends);
        let (best, other) = (&self.ends[best], &self.ends[1 - best]);
        let secant = |to: &Dot| {
            let [here, there] = [best, to].map(|dot| self.target.of(dot));
            best.share - here * (to.share - best.share) / (there - here)
        };
        let inside = |share: &f64| *share > low && *share < high;
        let third = self.third.as_ref().map(secant).filter(inside);
        let wanted = third.unwrap_or_else(|| secant(other));
        // A step too small to tell two places apart goes a little beyond the target instead, so that
        // the bracket closes from the other side.
        let towards = (other.share - best.share).signum();
        let least = (0.9 * FINEST).min(0.5 * width);
        let step = ((wanted - best.share) * towards).clamp(least, width - least);
        if step.is_finite() {
            best.share + towards * step
        } else {
            0.5 * (low + high)
        }
    }

    /// Takes the solved place in.
    pub fn take(&mut self, dot: Dot) {
        let replaced =
            usize::from(self.target.is_positive(&self.ends[1]) == self.target.is_positive(&dot));
        self.third = Some(self.ends[replaced]);
        self.ends[replaced] = dot;
        self.widths.push(self.ends[1].share - self.ends[0].share);
    }
}

/// Which end is nearer to the target.
fn nearer(target: Target, ends: &[Dot; 2]) -> usize {
    usize::from(target.of(&ends[1]).abs() < target.of(&ends[0]).abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dot(share: f64) -> Dot {
        Dot {
            share,
            excess: share.powi(3) - 0.2,
            error: 0.0,
        }
    }

    #[test]
    fn the_bracket_closes_around_the_crossing_in_a_few_steps() {
        let dots = [dot(0.0), dot(1.0)];
        let task = next_task(&dots, |_| false).expect("a crossing");
        let mut walk = Walk::new(&task);
        let mut steps = 0;
        while walk.ends[1].share - walk.ends[0].share > FINEST {
            walk.take(dot(walk.next()));
            steps += 1;
            assert!(steps < 30, "{walk:?}");
        }
        let exact = 0.2f64.cbrt();
        assert!(walk.ends[0].share <= exact && exact <= walk.ends[1].share);
    }
}
