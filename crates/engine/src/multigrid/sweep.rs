//! The sweeps of a level one behind the other, so that its arrays come from memory once for all of them.
//!
//! Half a sweep moves the nodes of one colour by those of the other. What it does at a place hangs on the half sweep
//! before it at the places within reach, a plane of the grid to either side, and on nothing else: so the next half sweep
//! may begin as soon as the one before is that far ahead, and what it needs is still in a cache. Every node sees the same
//! numbers as if one half sweep had ended before the next began.

use super::kernel::{Places, is_shared, relax, relax_and_keep, relax_from_zero, residual};
use super::level::Level;
use crate::stop::Stop;

/// Fewest and most places that a half sweep is ahead by before the next one takes its turn.
const TURN: std::ops::RangeInclusive<usize> = 512..=4096;
/// Turns after which it is asked whether to stop.
const TURNS_UNASKED: usize = 256;

/// What is done to a colour.
#[derive(Clone, Copy)]
enum Step {
    /// The first half sweep from a zero guess; the other colour becomes zero.
    FromZero,
    Relax,
    /// Relaxes and keeps the residual that is left.
    Keep,
    /// The residual.
    Residual,
}

/// Red-black sweeps on the way down and up: step and colour. Three instead of two take a tenth off the time on volumes and
/// keep the count flat in the plane (7 to 9 instead of 8 to 12).
const DOWN: [(Step, usize); 7] = [
    (Step::FromZero, 0),
    (Step::Relax, 1),
    (Step::Relax, 0),
    (Step::Relax, 1),
    (Step::Relax, 0),
    (Step::Keep, 1),
    (Step::Residual, 0),
];
const UP: [(Step, usize); 6] = [
    (Step::Relax, 1),
    (Step::Relax, 0),
    (Step::Relax, 1),
    (Step::Relax, 0),
    (Step::Relax, 1),
    (Step::Relax, 0),
];

/// Sweeps a level: who may ask for an end before they are done, and whether threads are idle that could help.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sweeps {
    pub stop: Stop,
    pub idle: bool,
}

impl Sweeps {
    /// On the way down, from a zero guess, and what is left of `b` after them.
    pub fn down(self, level: &Level, x: &mut [f32], b: &[f32], left: &mut [f32]) {
        self.run(level, &DOWN, x, b, left);
    }

    /// On the way up, after the coarse correction, in the opposite order.
    pub fn up(self, level: &Level, x: &mut [f32], b: &[f32]) {
        self.run(level, &UP, x, b, &mut []);
    }

    fn run(
        self,
        level: &Level,
        steps: &[(Step, usize)],
        x: &mut [f32],
        b: &[f32],
        left: &mut [f32],
    ) {
        let half = level.layout.half;
        let Self { stop, idle } = self;
        let mut take = |(step, colour): (Step, usize), places| {
            let at = Places {
                colour,
                places,
                idle,
            };
            match step {
                Step::FromZero => relax_from_zero(level, x, b, &at),
                Step::Relax => relax(level, x, b, &at),
                Step::Keep => relax_and_keep(level, x, b, left, &at),
                Step::Residual => residual(level, x, b, left, &at),
            }
        };
        if is_shared(half, idle) {
            for &step in steps.iter().take_while(|_| !stop.asked()) {
                take(step, 0..half);
            }
            return;
        }
        let reach = level.layout.farthest();
        let places = reach.clamp(*TURN.start(), *TURN.end());
        let behind = reach.div_ceil(places);
        let turns = half.div_ceil(places);
        for turn in 0..turns + (steps.len() - 1) * behind {
            if turn % TURNS_UNASKED == 0 && stop.asked() {
                return;
            }
            for (number, &step) in steps.iter().enumerate() {
                let own = turn.checked_sub(number * behind);
                if let Some(own) = own.filter(|&own| own < turns) {
                    take(step, own * places..half.min((own + 1) * places));
                }
            }
        }
    }
}
