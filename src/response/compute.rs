//! From panel and finger to the response: which touches are solved, and what is made of them.

use std::time::Instant;

use super::answer::{BaseStep, Numerics, Response};
use super::assumptions::assumptions;
use super::counts::{Through, counts, on_supplies};
use super::layer_range::{has_field_range, widen};
use super::pads::{Solved, base_of, estimated, pad_responses};
use crate::cautions::particular_cautions;
use crate::panel::lowering::{LoweringError, LoweringOptions};
use crate::panel::{Finger, Heaviest, Origin, Panel, ReturnPath};
use crate::touch::{
    BaseChange, ChannelBases, JudgedPaths, Progress, Remembered, SolvedChange, Solver, TouchError,
    TouchOptions, TouchPlace, TouchWork, Touches, WorkLimits, channel_bases, field_problems,
    sharing, solve_changes, solve_touches_as,
};
use padfield_engine::capacitance::AlgebraError;
use padfield_engine::case::Case;
use padfield_engine::field::{Accuracy, FieldError, Settings, join_printed};
use padfield_engine::units::Capacitance;

/// What is asked.
#[derive(Clone, Debug)]
pub struct Request<'a> {
    /// The panel.
    pub panel: &'a Panel,
    /// Finger by name; none: the first of the panel.
    pub finger: Option<&'a str>,
    /// Only this pad is touched; none: the finger's own pad, or each in turn.
    pub pad: Option<&'a str>,
    /// Settings of the field engine; `drive` is chosen here.
    pub settings: Settings,
    /// Choices of the lowering.
    pub options: LoweringOptions,
}

/// Why there is no response.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ResponseError {
    /// The panel has no finger of that name, or none at all.
    #[error("there is no finger \"{name}\"; fingers: {}", .known.join(", "))]
    UnknownFinger {
        /// Name asked for; empty when none was.
        name: String,
        /// Names there are.
        known: Vec<String>,
    },
    /// The panel does not fit the model.
    #[error(transparent)]
    Lowering(#[from] LoweringError),
    /// The field engine gave no answer.
    #[error(transparent)]
    Field(#[from] FieldError),
    /// A conductor that shall float has no capacitance.
    #[error(transparent)]
    Algebra(#[from] AlgebraError),
    /// Values at the ends of their tolerances make an impossible panel.
    #[error(transparent)]
    Panel(Box<crate::input::ScenarioError>),
    /// Asked to stop.
    #[error("interrupted")]
    Interrupted,
}

impl ResponseError {
    /// Whether somebody asked for the end.
    pub fn is_interrupted(&self) -> bool {
        matches!(
            self,
            Self::Interrupted | Self::Field(FieldError::Interrupted)
        )
    }

    /// What the field engine said, if it was that.
    pub fn field(&self) -> Option<&FieldError> {
        match self {
            Self::Field(error) => Some(error),
            _ => None,
        }
    }

    /// Why a panel has no numbers, with what makes its grid large when it found no room.
    pub fn reason(&self, panel: &Panel) -> String {
        let has_no_room = self.field().is_some_and(FieldError::has_no_room);
        match Heaviest::of(panel).filter(|_| has_no_room) {
            Some(heaviest) => format!("{self}; {}: {}", heaviest.words(), heaviest.remedy()),
            None => self.to_string(),
        }
    }
}

impl From<TouchError> for ResponseError {
    fn from(error: TouchError) -> Self {
        match error {
            TouchError::Lowering(error) => error.into(),
            TouchError::Field(error) => error.into(),
            TouchError::Algebra(error) => error.into(),
            TouchError::Panel(error) => Self::Panel(error),
            TouchError::Interrupted => Self::Interrupted,
        }
    }
}

/// Computes the response with the built-in field engine. `progress` hears of it.
///
/// # Errors
/// See [`ResponseError`].
pub fn respond(request: &Request, progress: &Progress<'_>) -> Result<Response, ResponseError> {
    respond_under(request, &request.limits(progress))
}

impl Request<'_> {
    /// The built-in engine, never stopped, under the settings of the request.
    pub fn limits<'a>(&self, progress: &'a Progress<'a>) -> WorkLimits<'a> {
        WorkLimits {
            progress,
            ..WorkLimits::of(self.settings.clone())
        }
    }
}

/// Computes the response; the limits say who solves the fields, under which settings, and who hears of it.
///
/// # Errors
/// See [`ResponseError`].
pub fn respond_under(
    request: &Request,
    limits: &WorkLimits<'_>,
) -> Result<Response, ResponseError> {
    respond_as(request, false, limits)
}

fn respond_as(
    request: &Request,
    with_derivatives: bool,
    limits: &WorkLimits<'_>,
) -> Result<Response, ResponseError> {
    let start = Instant::now();
    let mut response = touched(request, Channels::All, with_derivatives, limits)?;
    // Every change of the surroundings on its own, without finger.
    let changes = solve_changes(request.panel, limits)?;
    response.steps = base_steps(request, &changes)?;
    for change in &changes {
        response.numerics.judge(&change.accuracy);
    }
    response.numerics.seconds = start.elapsed().as_secs_f64();
    Ok(response)
}

/// The same, with layer tolerances in the ranges of counts and ratios: some more field problems.
///
/// # Errors
/// See [`ResponseError`].
pub fn respond_over_tolerances(
    request: &Request,
    limits: &WorkLimits<'_>,
) -> Result<Response, ResponseError> {
    let start = Instant::now();
    // What is solved once more with derivatives is solved with them at once.
    let limits = limits.under(Settings {
        keeper: Some(Remembered::before(limits.settings.keeper.clone())),
        ..sharing(&limits.settings)
    });
    let plain = || respond_as(request, false, &limits);
    let mut response = match has_field_range(request.panel) {
        false => plain()?,
        // Derivatives take memory: the answer itself is not to suffer from that. Rounds solved with them are not
        // solved again.
        true => match respond_as(request, true, &limits) {
            Ok(response) if response.numerics.accuracy_reached => response,
            Ok(_)
            | Err(ResponseError::Field(
                FieldError::TooLarge { .. } | FieldError::NoMemory { .. },
            )) => plain()?,
            Err(error) => return Err(error),
        },
    };
    let finger = find_finger(request.panel, request.finger)?;
    // Ends count relative to the nominal values, whose accuracy is judged: one grid, that of the touches.
    let limits = limits.under(Settings {
        accuracy: f64::MAX,
        start_fineness: Some(response.numerics.fineness),
        ..limits.settings.clone()
    });
    match widen(&mut response, request, finger, &limits) {
        Ok(problems) => response.numerics.solves += problems,
        // The answer stands without; what is missing is said.
        Err(ResponseError::Field(FieldError::TooLarge { .. } | FieldError::NoMemory { .. })) => response.assumptions.push(
            "Range of counts: layer tolerances left out, their derivatives do not fit into the memory."
                .to_owned(),
        ),
        Err(error) => return Err(error),
    }
    response.numerics.seconds = start.elapsed().as_secs_f64();
    Ok(response)
}

/// The field problems that [`respond_with`] asks its engine for, each with the settings it is asked under.
///
/// # Errors
/// See [`ResponseError`].
pub fn problems(request: &Request) -> Result<Vec<(Case, Settings)>, ResponseError> {
    let (places, options) = asked(request, false)?;
    let problems = field_problems(request.panel, &places, options, &request.settings)?;
    Ok(problems
        .into_iter()
        .map(|(lowered, settings)| (lowered.case, settings))
        .collect())
}

/// Computes the response with any field engine; changes of the surroundings and bases of segments that
/// nobody touches are left to [`respond`].
///
/// # Errors
/// See [`ResponseError`].
pub fn respond_with(request: &Request, solver: &Solver) -> Result<Response, ResponseError> {
    let limits = WorkLimits {
        solver,
        ..WorkLimits::of(request.settings.clone())
    };
    touched(request, Channels::Touched, false, &limits)
}

/// Whose bases are wanted.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Channels {
    /// Those that the touches show anyway.
    Touched,
    /// All that are scanned.
    All,
}

fn base_steps(request: &Request, changes: &[SolvedChange]) -> Result<Vec<BaseStep>, ResponseError> {
    // A hand on a frame is of the same body as the finger.
    let return_path = find_finger(request.panel, request.finger)?.return_path;
    let seen: Vec<BaseChange> = changes
        .iter()
        .map(|change| change.seen(return_path))
        .collect::<Result<_, AlgebraError>>()?;
    Ok(seen
        .iter()
        .flat_map(|one| {
            let both = one.before.iter().zip(&one.changes);
            both.zip(&one.pads)
                .map(|((before, change), &pad)| BaseStep {
                    kind: one.kind,
                    name: one.name.clone(),
                    pad: request.panel.pads[pad].name.clone(),
                    before: estimated(*before),
                    change: estimated(*change),
                })
        })
        .collect())
}

/// The touches of a request, and how they become field problems.
pub(super) fn asked(
    request: &Request,
    with_derivatives: bool,
) -> Result<(Vec<TouchPlace>, TouchOptions<'static>), ResponseError> {
    let panel = request.panel;
    let finger = find_finger(panel, request.finger)?;
    let places = touched_pads(request, finger)?
        .into_iter()
        .map(|pad| TouchPlace {
            finger: finger.clone(),
            pad,
        })
        .collect();
    let is_noisy = panel.electronics.circuit.common_mode.volts() > 0.0;
    let options = TouchOptions {
        lowering: request.options,
        judged: JudgedPaths::OfFinger,
        // Only when its own potential is not known, a noise comes through it, or supplies are described.
        has_finger_row: with_derivatives
            || finger.return_path != ReturnPath::Earthed
            || is_noisy
            || panel.usage.supplies.origin == Origin::Given,
        ..TouchOptions::default()
    };
    Ok((places, options))
}

fn touched(
    request: &Request,
    channels: Channels,
    with_derivatives: bool,
    limits: &WorkLimits<'_>,
) -> Result<Response, ResponseError> {
    let panel = request.panel;
    let finger = find_finger(panel, request.finger)?;
    let (places, options) = asked(request, with_derivatives)?;
    let asked: Vec<usize> = places.iter().map(|place| place.pad).collect();
    let touches = {
        let limits = limits.under(Settings {
            derivatives: with_derivatives,
            ..limits.settings.clone()
        });
        solve_touches_as(panel, &places, options, &limits)?
    };
    let solved = asked
        .iter()
        .enumerate()
        .map(|(place, &touched)| {
            Ok(Solved {
                touched,
                mirrored_from: touches.mirrored_from(place),
                field: touches.seen(place, finger.return_path)?,
            })
        })
        .collect::<Result<Vec<Solved>, AlgebraError>>()?;
    let mirrored = solved.iter().filter(|s| s.mirrored_from.is_some()).count();
    let mut numerics = numerics(&touches, &limits.settings);
    let mut bases: Vec<_> = (0..panel.pads.len())
        .map(|pad| base_of(&solved, pad))
        .collect();
    if channels == Channels::All {
        let again = limits.starting_at(touches.fineness);
        let completed = channel_bases(panel, bases, &again)?;
        numerics.add(&completed);
        bases = completed.bases;
    }
    let pads = pad_responses(panel, finger, &solved, &bases);
    let shown = (0..asked.len())
        .map(|place| touches.pads(place))
        .collect::<Result<Vec<_>, AlgebraError>>()?;
    let counts = counts(panel, &pads, &|index| {
        let Some(place) = solved.iter().position(|one| one.touched == index) else {
            return Through::default();
        };
        let touch = shown[place][index];
        Through {
            coupling: solved[place].field.couplings[index].map(Capacitance::from_farads),
            on_supplies: touch.map_or_else(Vec::new, |touch| on_supplies(panel, index, &touch)),
        }
    });
    Ok(Response {
        cautions: particular_cautions(panel),
        title: panel.title.clone(),
        finger: finger.name.clone(),
        model: panel.model.value,
        idle: panel.idle.value,
        assumptions: assumptions(panel, finger, &pads, &touches.simplifications, mirrored),
        pads,
        steps: Vec::new(),
        counts,
        numerics,
    })
}

fn numerics(touches: &Touches, settings: &Settings) -> Numerics {
    let TouchWork {
        cells,
        finest,
        iterations,
        residual,
        seconds,
    } = touches.work;
    Numerics {
        solves: touches.problems(),
        cells,
        fineness: finest,
        iterations,
        residual,
        seconds,
        accuracy_asked: settings.printed_accuracy(),
        accuracy_estimated: touches.accuracy_estimated,
        accuracy_reached: touches.accuracy_reached,
        missed: touches.missed.clone(),
    }
}

impl Numerics {
    /// Takes the bases of the remaining channels into account.
    fn add(&mut self, bases: &ChannelBases) {
        self.solves += bases.problems;
        self.cells = self.cells.max(bases.work.cells);
        self.iterations = self.iterations.max(bases.work.iterations);
        self.residual = self.residual.max(bases.work.residual);
        self.seconds += bases.work.seconds;
        self.accuracy_estimated = self.accuracy_estimated.max(bases.accuracy_estimated);
        self.accuracy_reached &= bases.accuracy_reached;
        join_printed(&mut self.missed, bases.missed.clone());
    }

    /// Takes one more field problem into account.
    fn judge(&mut self, accuracy: &Accuracy) {
        self.accuracy_estimated = self.accuracy_estimated.max(accuracy.estimated);
        self.accuracy_reached &= accuracy.reached;
        join_printed(&mut self.missed, accuracy.missed.clone());
    }
}

pub(super) fn find_finger<'a>(
    panel: &'a Panel,
    name: Option<&str>,
) -> Result<&'a Finger, ResponseError> {
    let found = match name {
        Some(name) => panel.fingers.iter().find(|finger| finger.name == name),
        None => panel.fingers.first(),
    };
    found.ok_or_else(|| ResponseError::UnknownFinger {
        name: name.unwrap_or_default().to_owned(),
        known: panel.fingers.iter().map(|f| f.name.clone()).collect(),
    })
}

/// Panel indices of the pads the finger is put on.
fn touched_pads(request: &Request, finger: &Finger) -> Result<Vec<usize>, ResponseError> {
    let panel = request.panel;
    let Some(name) = request.pad.or(finger.on.as_deref()) else {
        // What a segment makes of a finger on its own tells little: it is touched when named.
        let alone = |index: &usize| !panel.is_segment(&panel.pads[*index]);
        let pads: Vec<usize> = (0..panel.pads.len()).filter(alone).collect();
        return Ok(match pads.is_empty() {
            true => (0..panel.pads.len()).collect(),
            false => pads,
        });
    };
    match panel.pads.iter().position(|pad| pad.name == name) {
        Some(index) => Ok(vec![index]),
        None => Err(LoweringError::UnknownPad {
            name: name.to_owned(),
            known: panel.pads.iter().map(|pad| pad.name.clone()).collect(),
        }
        .into()),
    }
}
