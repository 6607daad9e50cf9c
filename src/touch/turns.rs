//! In which order touches are solved, at which fineness each begins, and in how much of the memory.

use super::limits::TouchError;
use padfield_engine::field::FieldError;
use rayon::prelude::*;

/// How a place is solved.
#[derive(Clone, Copy, Debug)]
pub(super) struct Turn {
    /// Number of the place.
    pub place: usize,
    /// Fineness to begin with, where one is known.
    pub fineness: Option<f64>,
    /// The memory is shared by so many.
    pub share: u64,
    /// Whether it was solved before.
    pub is_again: bool,
}

/// What a place is solved to.
pub(super) trait Solved: Send {
    /// Fineness of its grid.
    fn fineness(&self) -> f64;
    /// Whether a finer one was wanted that the memory did not allow.
    fn is_short_of_memory(&self) -> bool;
}

type Outcome<S> = Result<S, TouchError>;

/// Solves places; `group` tells for each the first that is like it. Gives what they are solved to, and the fineness
/// that the first has ended at, or the one that was known.
///
/// The first of every group finds out which fineness that needs, with all of the memory; its others start there, which
/// saves most of them their rounds on coarser grids. The firsts of other groups begin where the first of all has ended.
/// Then as many are in hand at once as there are threads. What does not fit its part of the memory, or misses its
/// accuracy for that, gets a larger one, and fewer are in hand at once.
pub(super) fn in_turns<S: Solved>(
    group: &[usize],
    known: Option<f64>,
    solve: impl Fn(Turn) -> Outcome<S> + Sync,
) -> (Vec<Outcome<S>>, Option<f64>) {
    let mut start = known;
    let mut firsts = vec![First::default(); group.len()];
    let mut outcomes: Vec<Option<Outcome<S>>> = group.iter().map(|_| None).collect();
    for place in 0..group.len() {
        let members = group.iter().filter(|&&first| first == place).count();
        if members > 1 || (place == 0 && known.is_none()) {
            let outcome = solve(Turn {
                place,
                fineness: start,
                share: 1,
                is_again: false,
            });
            firsts[place] = First::of(&outcome);
            if place == 0 {
                start = start.or(firsts[place].fineness);
            }
            outcomes[place] = Some(outcome);
        }
    }
    let others = outcomes.iter().filter(|outcome| outcome.is_none()).count();
    let most = rayon::current_num_threads().min(others).max(1);
    let mut at_once = most;
    loop {
        let is_open = |place: usize, outcome: &Option<Outcome<S>>| {
            let First {
                is_solved,
                is_short,
                ..
            } = firsts[group[place]];
            let more_would_help = |outcome: &Outcome<S>| {
                is_refused(outcome) || (is_short_of_memory(outcome) && !is_short)
            };
            let is_first = is_solved && group[place] == place;
            !is_first && outcome.as_ref().is_none_or(more_would_help)
        };
        let all = outcomes.iter_mut().enumerate();
        let mut open: Vec<_> = all
            .filter(|(place, outcome)| is_open(*place, outcome))
            .collect();
        // In the first turn threads take the next by themselves.
        let turn = if at_once == most { open.len() } else { at_once };
        for some in open.chunks_mut(turn.max(1)) {
            some.par_iter_mut().for_each(|(place, outcome)| {
                **outcome = Some(solve(Turn {
                    place: *place,
                    fineness: firsts[group[*place]].fineness.or(start),
                    share: at_once as u64,
                    is_again: matches!(outcome, Some(Ok(_))),
                }));
            });
        }
        if at_once == 1 {
            return (outcomes.into_iter().flatten().collect(), start);
        }
        at_once = at_once.div_ceil(2);
    }
}

/// What the first of a group has found out.
#[derive(Clone, Copy, Default)]
struct First {
    is_solved: bool,
    fineness: Option<f64>,
    /// Whether all of the memory was too little for it.
    is_short: bool,
}

impl First {
    fn of<S: Solved>(outcome: &Outcome<S>) -> Self {
        let solved = outcome.as_ref().ok();
        Self {
            is_solved: true,
            fineness: solved.map(S::fineness),
            is_short: is_short_of_memory(outcome),
        }
    }
}

fn is_short_of_memory<S: Solved>(outcome: &Outcome<S>) -> bool {
    outcome.as_ref().is_ok_and(S::is_short_of_memory)
}

/// Whether there was no room for it.
fn is_refused<S>(outcome: &Outcome<S>) -> bool {
    use FieldError::{NoMemory, TooLarge};
    let error = outcome.as_ref().err();
    error.is_some_and(|e| matches!(e, TouchError::Field(TooLarge { .. } | NoMemory { .. })))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    /// Solved at a fineness; short of memory or not.
    #[derive(Debug, PartialEq)]
    struct Grid(f64, bool);

    impl Solved for Grid {
        fn fineness(&self) -> f64 {
            self.0
        }

        fn is_short_of_memory(&self) -> bool {
            self.1
        }
    }

    fn no_room() -> TouchError {
        TouchError::Field(FieldError::NoMemory {
            cells: 1,
            needed_bytes: 1,
        })
    }

    fn on_four_threads<T: Send>(work: impl FnOnce() -> T + Send) -> T {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(4).build();
        pool.expect("four threads").install(work)
    }

    #[test]
    fn the_first_of_a_group_says_where_its_others_start() {
        let turns = Mutex::new(Vec::new());
        // Groups of the places 0, 1, 4 and 2, 3; place 5 is alone.
        let group = [0, 0, 2, 2, 0, 5];
        let (outcomes, start) = on_four_threads(|| {
            in_turns(&group, None, |turn| {
                turns.lock().expect("not poisoned").push(turn);
                let own = if group[turn.place] == 2 { 0.5 } else { 0.4 };
                Ok(Grid(own, false))
            })
        });
        assert_eq!(start, Some(0.4));
        assert!(outcomes.iter().all(Result::is_ok));
        let mut turns = turns.into_inner().expect("not poisoned");
        turns.sort_by_key(|turn| turn.place);
        let told: Vec<_> = turns
            .iter()
            .map(|turn| (turn.fineness, turn.share))
            .collect();
        let expected = [
            (None, 1),
            (Some(0.4), 4),
            (Some(0.4), 1),
            (Some(0.5), 4),
            (Some(0.4), 4),
            (Some(0.4), 4),
        ];
        assert_eq!(told, expected);
    }

    #[test]
    fn what_finds_no_room_gets_more_of_it_and_nothing_else_is_solved_again() {
        let turns = Mutex::new(Vec::new());
        // The first of all is known to reach its accuracy with all of the memory; place 2 needs half of it, place 3 all
        // of it for its accuracy; the group of 4 and 5 would not reach it with all of it.
        let group = [0, 0, 0, 0, 4, 4];
        let (outcomes, _) = on_four_threads(|| {
            in_turns(&group, Some(0.35), |turn| {
                turns.lock().expect("not poisoned").push(turn);
                match turn.place {
                    2 if turn.share > 2 => Err(no_room()),
                    3 => Ok(Grid(0.35, turn.share > 1)),
                    4 | 5 => Ok(Grid(0.35, true)),
                    _ => Ok(Grid(0.35, false)),
                }
            })
        });
        let all: Vec<Grid> = outcomes
            .into_iter()
            .collect::<Result<_, _>>()
            .expect("all fit");
        assert_eq!(all[2], Grid(0.35, false));
        assert_eq!(all[3], Grid(0.35, false));
        let turns = turns.into_inner().expect("not poisoned");
        let shares = |place: usize| -> Vec<u64> {
            let of_place = turns.iter().filter(|turn| turn.place == place);
            of_place.map(|turn| turn.share).collect()
        };
        let all: Vec<Vec<u64>> = (0..group.len()).map(shares).collect();
        let expected = [
            vec![1],
            vec![4],
            vec![4, 2],
            vec![4, 2, 1],
            vec![1],
            vec![4],
        ];
        assert_eq!(all, expected);
        let again: Vec<usize> = turns
            .iter()
            .filter(|turn| turn.is_again)
            .map(|turn| turn.place)
            .collect();
        assert_eq!(again, [3, 3]);
    }
}
