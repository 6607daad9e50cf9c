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
    /// Most rounds; none: as many as it takes.
    pub rounds: Option<usize>,
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
/// The first of all finds out which fineness that needs, with all of the memory; the firsts of other groups, side by side,
/// begin where it has ended, and their others where they have, which saves most of them their rounds on coarser grids.
/// Then as many are in hand at once as there are threads, round by round: of those that need a finer grid one goes ahead
/// with all threads, because what it solves without a finger the others start from. What does not fit
/// its part of the memory, or misses its accuracy for that, gets a larger one, and fewer are in hand at once.
pub(super) fn in_turns<S: Solved>(
    group: &[usize],
    known: Option<f64>,
    solve: impl Fn(Turn) -> Outcome<S> + Sync,
) -> (Vec<Outcome<S>>, Option<f64>) {
    let mut start = known;
    let mut firsts = vec![First::default(); group.len()];
    let mut outcomes: Vec<Option<Outcome<S>>> = group.iter().map(|_| None).collect();
    let members = |first: usize| group.iter().filter(|&&of| of == first).count();
    if !group.is_empty() && (members(0) > 1 || known.is_none()) {
        let outcome = solve(Turn {
            place: 0,
            fineness: start,
            share: 1,
            rounds: None,
            is_again: false,
        });
        firsts[0] = First::of(&outcome);
        start = start.or(firsts[0].fineness);
        outcomes[0] = Some(outcome);
    }
    let of_groups: Vec<usize> = (1..group.len()).filter(|&at| members(at) > 1).collect();
    let found = side_by_side(&of_groups, start, &solve);
    for (place, outcome) in of_groups.into_iter().zip(found) {
        firsts[place] = First::of(&outcome);
        outcomes[place] = Some(outcome);
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
            let turns = some.iter().map(|(place, outcome)| Turn {
                place: *place,
                fineness: firsts[group[*place]].fineness.or(start),
                share: at_once as u64,
                rounds: Some(1),
                is_again: matches!(outcome, Some(Ok(_))),
            });
            let found = round_by_round(group, turns.collect(), &solve);
            for ((_, outcome), found) in some.iter_mut().zip(found) {
                **outcome = Some(found);
            }
        }
        if at_once == 1 {
            return (outcomes.into_iter().flatten().collect(), start);
        }
        at_once = at_once.div_ceil(2);
    }
}

/// Solves the firsts of groups at once, and what finds too little room in its part of the memory again with all of it.
fn side_by_side<S: Solved>(
    firsts: &[usize],
    fineness: Option<f64>,
    solve: &(impl Fn(Turn) -> Outcome<S> + Sync),
) -> Vec<Outcome<S>> {
    let at_once = rayon::current_num_threads().min(firsts.len()).max(1) as u64;
    let turn = |place, share, is_again| Turn {
        place,
        fineness,
        share,
        rounds: None,
        is_again,
    };
    let each = firsts.par_iter();
    let found: Vec<Outcome<S>> = each.map(|&at| solve(turn(at, at_once, false))).collect();
    let again = |(&place, outcome): (&usize, Outcome<S>)| {
        let more_helps = is_refused(&outcome) || is_short_of_memory(&outcome);
        match more_helps && at_once > 1 {
            true => solve(turn(place, 1, outcome.is_ok())),
            false => outcome,
        }
    };
    firsts.iter().zip(found).map(again).collect()
}

/// Takes turns at once, with a round more each as long as some are unfinished.
fn round_by_round<S: Solved>(
    group: &[usize],
    mut turns: Vec<Turn>,
    solve: &(impl Fn(Turn) -> Outcome<S> + Sync),
) -> Vec<Outcome<S>> {
    let mut outcomes: Vec<Outcome<S>> = turns.par_iter().map(|&turn| solve(turn)).collect();
    loop {
        for turn in &mut turns {
            turn.rounds = turn.rounds.map(|rounds| rounds + 1);
        }
        let open = |outcomes: &[Outcome<S>]| {
            let all = outcomes.iter().enumerate();
            let open = all.filter_map(|(number, outcome)| Some((number, unfinished(outcome)?)));
            open.collect::<Vec<(usize, u64)>>()
        };
        // One ahead for every grid, as far as groups and finenesses tell grids apart.
        let mut ahead: Vec<(usize, u64)> = Vec::new();
        for (number, fineness) in open(&outcomes) {
            let grid = (group[turns[number].place], fineness);
            if !ahead.contains(&grid) {
                ahead.push(grid);
                outcomes[number] = solve(turns[number]);
            }
        }
        if ahead.is_empty() {
            return outcomes;
        }
        let others = open(&outcomes).into_iter();
        let others: Vec<usize> = others
            .filter(|&(number, fineness)| ahead.contains(&(group[turns[number].place], fineness)))
            .map(|(number, _)| number)
            .collect();
        let found: Vec<Outcome<S>> = others
            .par_iter()
            .map(|&number| solve(turns[number]))
            .collect();
        for (number, outcome) in others.into_iter().zip(found) {
            outcomes[number] = outcome;
        }
    }
}

/// The fineness, bit by bit, that one which is unfinished needs next.
fn unfinished<S>(outcome: &Outcome<S>) -> Option<u64> {
    match outcome {
        Err(TouchError::Field(FieldError::Unfinished { fineness })) => Some(fineness.to_bits()),
        _ => None,
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

    #[test]
    fn of_those_that_need_a_finer_grid_one_goes_ahead() {
        let turns = Mutex::new(Vec::new());
        // Places 2, 3 and 5 need a second round, 5 a third; they are of one group.
        let group = [0, 0, 0, 0, 0, 0];
        let needed = [1, 1, 2, 2, 1, 3];
        let (outcomes, _) = on_four_threads(|| {
            in_turns(&group, Some(0.35), |turn| {
                let mut turns = turns.lock().expect("not poisoned");
                turns.push((turn.place, turn.rounds));
                let rounds = turn.rounds.unwrap_or(6);
                let fineness = 0.35 + 0.1 * rounds as f64;
                match rounds < needed[turn.place] {
                    true => Err(TouchError::Field(FieldError::Unfinished { fineness })),
                    false => Ok(Grid(fineness, false)),
                }
            })
        });
        assert!(outcomes.iter().all(Result::is_ok));
        let turns = turns.into_inner().expect("not poisoned");
        // The first of all is let run; then everybody has one round.
        assert_eq!(turns[0], (0, None));
        let mut first: Vec<_> = turns[1..6].to_vec();
        first.sort_unstable();
        assert_eq!(first, [1, 2, 3, 4, 5].map(|place| (place, Some(1))));
        // Place 2 goes ahead of 3 and 5.
        assert_eq!(turns[6], (2, Some(2)));
        let mut second: Vec<_> = turns[7..9].to_vec();
        second.sort_unstable();
        assert_eq!(second, [(3, Some(2)), (5, Some(2))]);
        assert_eq!(turns[9..], [(5, Some(3))]);
    }
}
