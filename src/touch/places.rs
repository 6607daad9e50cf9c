//! Many touches at once: mirror images found, the rest solved side by side.

use super::images::Sharing;
use super::judge::{JudgedPaths, judge_of_touch};
use super::limits::{TouchError, WorkLimits};
use super::mirrors::{PanelMirror, panel_mirrors};
use super::remembered::Remembered;
use super::roaming::{roaming_at, share_of_strongest, sharing, widen_to};
use super::seen::{SeenTouch, SolvedTouch};
use super::tally::Tally;
use super::turns::{Solved, Turn, in_turns};
use crate::panel::lowering::{FINGER, Lowered, LoweringError, LoweringOptions, lower};
use crate::panel::{Finger, IdleState, Panel, ReturnPath};
use padfield_engine::capacitance::AlgebraError;
use padfield_engine::field::{FieldAnswer, Printed, Settings, join_printed};
use padfield_engine::units::{Capacitance, Length};
use std::time::Instant;

/// A finger on the panel.
#[derive(Clone, Debug, PartialEq)]
pub struct TouchPlace {
    /// The finger; its offset counts from the pad's centre. Its own return path is used to judge the accuracy
    /// only ([`JudgedPaths`]).
    pub finger: Finger,
    /// Panel index of the pad it is aimed at, or of the nearest one.
    pub pad: usize,
}

/// How places become field problems.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TouchOptions<'a> {
    /// Choices of the lowering.
    pub lowering: LoweringOptions,
    /// Whether the finger gets a row of the matrix. Without it the finger counts as earthed, nothing is
    /// known of what comes through it, and a touch costs a row less.
    pub has_finger_row: bool,
    /// Return paths under which the accuracy is judged.
    pub judged: JudgedPaths,
    /// Panel indices of the pads that are asked about; all without. Where pads that are not measured stand at 0 V the
    /// others need no drive.
    pub only: Option<&'a [usize]>,
    /// Whether it is only asked what the strongest pad of every place shows: bounds do for the others.
    pub of_strongest: bool,
    /// Shifts are judged by no less than this: what a touch shows that they are read beside.
    pub beside: Capacitance,
}

impl Default for TouchOptions<'_> {
    fn default() -> Self {
        Self {
            lowering: LoweringOptions::default(),
            has_finger_row: true,
            judged: JudgedPaths::OfSupplies,
            only: None,
            of_strongest: false,
            beside: Capacitance::default(),
        }
    }
}

/// What the field problems took and how well they did.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TouchWork {
    /// Cells of the largest grid, after symmetry.
    pub cells: usize,
    /// Largest fineness that was used.
    pub finest: f64,
    /// Most iterations of any system.
    pub iterations: usize,
    /// Largest relative residual.
    pub residual: f64,
    /// Wall-clock time of all of it \[s\].
    pub seconds: f64,
}

impl TouchWork {
    /// Takes one more field problem into account; the time is taken elsewhere.
    pub(super) fn note(&mut self, answer: &FieldAnswer) {
        self.cells = self.cells.max(answer.grid.cells);
        self.finest = self.finest.max(answer.grid.fineness);
        let most = answer.solver.iterations.iter().copied().max();
        self.iterations = self.iterations.max(most.unwrap_or(0));
        self.residual = self.residual.max(answer.solver.residual);
    }
}

/// A solved place.
#[derive(Clone, Debug)]
struct PlacedTouch {
    /// Index of its field problem.
    problem: usize,
    /// Symmetry that turns the solved place into this one.
    mirror: Option<PanelMirror>,
}

/// Solved places, each as its mirror image or itself.
#[derive(Clone, Debug)]
pub struct Touches {
    pad_names: Vec<String>,
    panel_idle: IdleState,
    /// One per field problem, with the pad it was aimed at.
    problems: Vec<(usize, SolvedTouch)>,
    placed: Vec<PlacedTouch>,
    /// Largest estimated relative error of what is printed ([`JudgedPaths`]).
    pub accuracy_estimated: f64,
    /// Whether the accuracy was reached everywhere.
    pub accuracy_reached: bool,
    /// What missed it.
    pub missed: Vec<Printed>,
    /// What it took.
    pub work: TouchWork,
    /// Fineness the touches started at: a good start for panels much like this one.
    pub fineness: Option<f64>,
    /// What was simplified on the way, one line each.
    pub simplifications: Vec<String>,
}

impl Touches {
    /// Field problems solved, each untouched and touched.
    pub fn problems(&self) -> usize {
        self.problems.len()
    }

    /// Number of places.
    pub fn len(&self) -> usize {
        self.placed.len()
    }

    /// Whether there are no places.
    pub fn is_empty(&self) -> bool {
        self.placed.is_empty()
    }

    /// Place number `index` as the pads see it under a return path.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    pub fn seen(&self, index: usize, return_path: ReturnPath) -> Result<SeenTouch, AlgebraError> {
        let placed = &self.placed[index];
        let (_, solved) = &self.problems[placed.problem];
        let seen = solved.seen(&self.pad_names, self.panel_idle, return_path)?;
        Ok(match &placed.mirror {
            Some(mirror) => seen.mirrored(&mirror.images),
            None => seen,
        })
    }

    /// Panel index of the pad on which the mirror image of place number `index` was solved; none when the
    /// place was solved itself.
    pub fn mirrored_from(&self, index: usize) -> Option<usize> {
        let placed = &self.placed[index];
        let solved_on = self.problems[placed.problem].0;
        placed.mirror.is_some().then_some(solved_on)
    }
}

/// Solves the field of every place once; both the pads and the finger are driven in turn, so that any
/// return path can be asked for afterwards.
///
/// # Errors
/// The first [`TouchError`] in the order of the places.
pub fn solve_touches(
    panel: &Panel,
    places: &[TouchPlace],
    limits: &WorkLimits<'_>,
) -> Result<Touches, TouchError> {
    solve_touches_as(panel, places, TouchOptions::default(), limits)
}

/// The same for what some pads show.
///
/// # Errors
/// The first [`TouchError`] in the order of the places.
pub fn solve_touches_on(
    panel: &Panel,
    places: &[TouchPlace],
    only: &[usize],
    limits: &WorkLimits<'_>,
) -> Result<Touches, TouchError> {
    let options = TouchOptions {
        only: Some(only),
        ..TouchOptions::default()
    };
    solve_touches_as(panel, places, options, limits)
}

/// The same with other choices: the one loop behind everything that asks what touches do.
///
/// An answer that missed its accuracy, or could not be had, in the memory that touches share while they
/// are solved at once is solved again with more of it.
///
/// # Errors
/// The first [`TouchError`] in the order of the places.
pub fn solve_touches_as(
    panel: &Panel,
    places: &[TouchPlace],
    options: TouchOptions<'_>,
    limits: &WorkLimits<'_>,
) -> Result<Touches, TouchError> {
    Worked::on(panel, places, options, limits)?.touches(panel)
}

/// The finger on every pad that is measured on its own, in turn.
pub fn on_single_pads(panel: &Panel, finger: &Finger) -> Vec<TouchPlace> {
    let single = (0..panel.pads.len()).filter(|&pad| !panel.is_segment(&panel.pads[pad]));
    let place = |pad| TouchPlace {
        finger: finger.clone(),
        pad,
    };
    single.map(place).collect()
}

/// The field problems of places, each with its answer or why there is none.
pub(super) struct Worked {
    solved: Vec<(TouchPlace, Vec<ReturnPath>)>,
    answers: Vec<Result<Answered, TouchError>>,
    /// For each place the number of its field problem, and the symmetry that leads from there to it.
    from: Vec<(usize, Option<PanelMirror>)>,
    fineness: Option<f64>,
    start: Instant,
}

impl Worked {
    pub fn on(
        panel: &Panel,
        places: &[TouchPlace],
        options: TouchOptions<'_>,
        limits: &WorkLimits<'_>,
    ) -> Result<Self, TouchError> {
        let start = Instant::now();
        let mirrors = panel_mirrors(panel)?;
        let Sharing {
            solved,
            paths,
            from,
        } = Sharing::of(panel, places, &mirrors);
        let solved: Vec<(TouchPlace, Vec<ReturnPath>)> = solved.into_iter().zip(paths).collect();
        let tally = Tally::new(solved.len(), "touches solved", limits.progress);
        let tell = |text: &str| tally.tell(text);
        let limits = limits.heard_by(&tell);
        // Taken round by round, places go on from their own: whether anybody else keeps these or not.
        let limits = &limits.under(Settings {
            keeper: Some(Remembered::before(limits.settings.keeper.clone())),
            ..sharing(&limits.settings)
        });
        let bench = Bench {
            panel,
            options,
            limits,
        };
        let group: Vec<usize> = (0..solved.len())
            .map(|place| first_alike(panel, &solved, place))
            .collect();
        let (answers, fineness) = in_turns(&group, limits.settings.start_fineness, |turn| {
            let answer = bench.solve(&solved[turn.place], turn);
            answer.inspect(|_| {
                if !turn.is_again {
                    tally.add();
                }
            })
        });
        Ok(Self {
            solved,
            answers,
            from,
            fineness,
            start,
        })
    }

    /// Field problems of all places.
    pub fn problems(&self) -> usize {
        self.answers.len()
    }

    /// Drops what has no answer; gives the indices of the places that are left.
    pub fn only_known(&mut self) -> Vec<usize> {
        let is_known: Vec<bool> = self.answers.iter().map(Result::is_ok).collect();
        let known = |&index: &usize| is_known[self.from[index].0];
        let places: Vec<usize> = (0..self.from.len()).filter(known).collect();
        let number = |problem: usize| is_known[..problem].iter().filter(|known| **known).count();
        let left = places.iter().map(|&index| {
            let (problem, mirror) = self.from[index].clone();
            (number(problem), mirror)
        });
        self.from = left.collect();
        let mut known = is_known.iter();
        self.solved.retain(|_| known.next() == Some(&true));
        self.answers.retain(Result::is_ok);
        places
    }

    /// The touches of the places, or why the first that has none has none.
    pub fn touches(self, panel: &Panel) -> Result<Touches, TouchError> {
        let mut touches = Touches {
            pad_names: panel.pads.iter().map(|pad| pad.name.clone()).collect(),
            panel_idle: panel.idle.value,
            problems: Vec::with_capacity(self.answers.len()),
            placed: self
                .from
                .into_iter()
                .map(|(problem, mirror)| PlacedTouch { problem, mirror })
                .collect(),
            accuracy_estimated: 0.0,
            accuracy_reached: true,
            missed: Vec::new(),
            work: TouchWork::default(),
            fineness: self.fineness,
            simplifications: Vec::new(),
        };
        for (answer, (place, _)) in self.answers.into_iter().zip(&self.solved) {
            touches.add(place.pad, answer?);
        }
        touches.work.seconds = self.start.elapsed().as_secs_f64();
        Ok(touches)
    }
}

impl Touches {
    fn add(&mut self, pad: usize, answered: Answered) {
        let Answered { answer, lowered } = answered;
        self.accuracy_estimated = self.accuracy_estimated.max(answer.accuracy.estimated);
        self.accuracy_reached &= answer.accuracy.reached;
        join_printed(&mut self.missed, answer.accuracy.missed.clone());
        self.work.note(&answer);
        for text in lowered.simplifications {
            if !self.simplifications.contains(&text) {
                self.simplifications.push(text);
            }
        }
        let touch = SolvedTouch::new(
            &answer,
            lowered.effective_lengths,
            &lowered.parts,
            &lowered.case.dielectrics,
        );
        self.problems.push((pad, touch));
    }
}

/// A field problem with its answer.
struct Answered {
    lowered: Lowered,
    answer: FieldAnswer,
}

impl Solved for Answered {
    fn fineness(&self) -> f64 {
        self.answer.grid.fineness
    }

    fn is_short_of_memory(&self) -> bool {
        self.answer.accuracy.is_short_of_memory
    }
}

/// The first place with the same finger on pads of which as much is asked.
fn first_alike(panel: &Panel, places: &[(TouchPlace, Vec<ReturnPath>)], place: usize) -> usize {
    let key = |place: usize| {
        let TouchPlace { finger, pad } = &places[place].0;
        let pad = &panel.pads[*pad];
        let slider = panel.is_segment(pad).then_some(&pad.group);
        ([finger.contact, finger.dome].map(Length::metres), slider)
    };
    let own = key(place);
    (0..place).find(|&first| key(first) == own).unwrap_or(place)
}

/// What all touches of a panel share.
struct Bench<'a> {
    panel: &'a Panel,
    options: TouchOptions<'a>,
    limits: &'a WorkLimits<'a>,
}

impl Bench<'_> {
    /// Solves one place as its turn has it.
    fn solve(
        &self,
        (place, fingers): &(TouchPlace, Vec<ReturnPath>),
        turn: Turn,
    ) -> Result<Answered, TouchError> {
        if (self.limits.stop)() {
            return Err(TouchError::Interrupted);
        }
        let (lowered, mut settings) = prepared_as(
            self.panel,
            place,
            fingers,
            self.options,
            &self.limits.settings,
        )?;
        settings.memory_cap_bytes /= turn.share;
        settings.start_fineness = turn.fineness.or(settings.start_fineness);
        settings.rounds = turn.rounds;
        let answer = self
            .limits
            .solve(&lowered.case.id, &lowered.case, Some(FINGER), &settings)?;
        Ok(Answered { lowered, answer })
    }
}

/// The field problems that [`solve_touches_as`] solves for places, each under its own settings.
///
/// # Errors
/// The panel does not fit its model.
pub fn field_problems(
    panel: &Panel,
    places: &[TouchPlace],
    options: TouchOptions<'_>,
    settings: &Settings,
) -> Result<Vec<(Lowered, Settings)>, LoweringError> {
    let mirrors = panel_mirrors(panel)?;
    let shared = Sharing::of(panel, places, &mirrors);
    let settings = sharing(settings);
    let solved = shared.solved.iter().zip(&shared.paths);
    solved
        .map(|(place, paths)| prepared_as(panel, place, paths, options, &settings))
        .collect()
}

/// The field problem of a place, and settings that drive pads, parts and finger; of some pads as
/// [`TouchOptions::only`] has it.
///
/// # Errors
/// The panel does not fit its model.
pub fn prepared(
    panel: &Panel,
    place: &TouchPlace,
    only: Option<&[usize]>,
    settings: &Settings,
) -> Result<(Lowered, Settings), LoweringError> {
    let finger = [place.finger.return_path];
    let options = TouchOptions {
        only,
        ..TouchOptions::default()
    };
    prepared_as(panel, place, &finger, options, settings)
}

/// Pads that are never asked about together: all, where those that are not measured stand at 0 V.
pub(super) fn pads_apart(panel: &Panel) -> Vec<String> {
    match panel.idle.value {
        IdleState::Grounded => panel.pads.iter().map(|pad| pad.name.clone()).collect(),
        IdleState::Floating | IdleState::Driven => Vec::new(),
    }
}

fn prepared_as(
    panel: &Panel,
    place: &TouchPlace,
    fingers: &[ReturnPath],
    options: TouchOptions<'_>,
    settings: &Settings,
) -> Result<(Lowered, Settings), LoweringError> {
    let name = &panel.pads[place.pad].name;
    let mut lowered = lower(panel, name, &place.finger, options.lowering)?;
    let mut drive = lowered.driven();
    if let Some(only) = options.only
        && panel.idle.value == IdleState::Grounded
    {
        drive.retain(|name| {
            let pad = panel.pads.iter().position(|pad| pad.name == *name);
            pad.is_none_or(|pad| only.contains(&pad))
        });
    }
    if options.has_finger_row {
        drive.push(FINGER.to_owned());
    }
    // Among several pads, as on a slider, and where the strongest is asked about none is the one that is touched.
    let is_of_one = !options.of_strongest && options.only.is_none_or(|only| only.len() == 1);
    let own = is_of_one.then_some(place.pad);
    let mut roaming = roaming_at(settings, panel, place);
    if let Some(roaming) = roaming.as_mut().filter(|_| options.of_strongest) {
        roaming.seen_share = share_of_strongest(settings.accuracy);
    }
    if let Some(region) = roaming.as_ref().and_then(|roaming| roaming.region) {
        widen_to(&mut lowered.case.domain, panel, &place.finger, &region);
    }
    let settings = Settings {
        drive: Some(drive),
        apart: pads_apart(panel),
        judge: Some(judge_of_touch(panel, own, (&options, fingers), &lowered)),
        roaming,
        ..settings.clone()
    };
    Ok((lowered, settings))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::panel::sample::four_keys;
    use padfield_engine::field::{Keeper, Rounds};
    use std::sync::{Arc, Mutex, PoisonError};

    /// Hears of every round that is solved and keeps none, as a folder that cannot be written.
    #[derive(Default)]
    struct Forgetful(Mutex<Vec<String>>);

    impl Rounds for Forgetful {
        fn known(&self, _: &str) -> Option<FieldAnswer> {
            None
        }

        fn keep(&self, round: &str, _: &FieldAnswer) {
            let mut solved = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            solved.push(round.to_owned());
        }
    }

    #[test]
    fn no_round_is_solved_twice_where_nobody_keeps_any() {
        let panel = four_keys();
        let finger = &panel.fingers[0];
        // Two fingers, so that none is the first of others, and a start that is too coarse.
        let larger = Finger {
            contact: finger.contact * 1.2,
            ..finger.clone()
        };
        let places = [finger.clone(), larger].map(|finger| TouchPlace { finger, pad: 0 });
        let forgetful = Arc::new(Forgetful::default());
        let settings = Settings {
            accuracy: 0.04,
            start_fineness: Some(0.3),
            keeper: Some(Keeper::new(forgetful.clone())),
            ..Settings::default()
        };
        let touches = solve_touches(&panel, &places, &WorkLimits::of(settings));
        assert_eq!(touches.expect("solved").problems(), 2);
        let mut solved = forgetful.0.lock().expect("not poisoned").clone();
        assert!(solved.len() > 2, "more than a round each");
        solved.sort_unstable();
        assert!(solved.windows(2).all(|pair| pair[0] != pair[1]));
    }
}
