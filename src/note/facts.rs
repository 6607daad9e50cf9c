//! Everything a note says, computed: the answers of `solve`, `window` and `rules` for one panel file.

use super::course::{Course, Part, named};
use super::words::quoted;
use crate::drawing::{SectionView, section_view};
use crate::figures::{Figures, Remark};
use crate::input::{Document as PanelFile, ScenarioError};
use crate::panel::lowering::LoweringOptions;
use crate::panel::{Panel, Sourced};
use crate::questions::discharge::{self, Discharge};
use crate::questions::drift::{self, Drift};
use crate::questions::return_path::{self, ReturnStudy};
use crate::questions::rules::{Asked, Judgement, ThresholdShares, built_in, judge_and_tell};
use crate::questions::slider::{self, SliderDecision};
use crate::questions::tolerance::{self, Spread, ToleranceError};
use crate::questions::walk::{self, Direction, Slide, TouchMap, Walk};
use crate::questions::window::{LeverSearch, Window, levers, window_of};
use crate::response::{Request, Response, ResponseError, respond_over_tolerances, respond_under};
use crate::sensitivity::PanelFamily;
use crate::store::{ENGINE, PointKey, inputs_of};
use crate::touch::{KeptFields, Solver, TouchError, WorkLimits};
use padfield_engine::field::Settings;
use padfield_engine::units::{Capacitance, Length};

/// Accuracy of `solve` when none is asked for.
pub const SOLVE_ACCURACY: f64 = 0.01;
/// Accuracy of `window` and `rules` when none is asked for.
pub const WINDOW_ACCURACY: f64 = 0.02;

/// What a note is asked for.
#[derive(Clone, Copy)]
pub struct Order<'a> {
    /// The panel file as it was named, for the commands that print the same numbers.
    pub file: &'a str,
    /// The command that writes this note, with every option, as a shell takes it.
    pub command: &'a str,
    /// Date of the note, as it is printed.
    pub date: &'a str,
    /// What was set on the command line.
    pub set: &'a [String],
    /// How title and first lines say that the panel is not the one of its file.
    pub remark: Option<&'a Remark>,
    /// The panel file with that.
    pub document: &'a PanelFile,
    /// The panel it describes.
    pub panel: &'a Panel,
    /// Wanted relative error of bases and touch shifts.
    pub accuracy: f64,
    /// Wanted relative error behind thresholds and guidelines.
    pub window_accuracy: f64,
    /// Settings of the solver but for the accuracy.
    pub settings: &'a Settings,
    /// Whether the threshold window is decided.
    pub with_window: bool,
    /// Whether it is asked what would widen the window.
    pub with_remedies: bool,
    /// Whether rules of thumb are judged.
    pub with_guidelines: bool,
    /// Whether it is asked which tolerance hurts most.
    pub with_tolerances: bool,
    /// Units drawn at random over these tolerances; 0 for none.
    pub units: usize,
    /// Whether drift, return path and discharge are computed.
    pub with_environment: bool,
    /// Whether a finger walks across the panel and along its sliders.
    pub with_walk: bool,
    /// Whether it also walks over the whole face.
    pub with_touch_map: bool,
    /// Studies of the panel file, with what is recorded of them.
    pub studies: &'a [StudyCharts],
}

/// A study of the panel file and the charts of its recorded points.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StudyCharts {
    pub name: String,
    /// Points recorded, and all it has.
    pub points: [u64; 2],
    /// Charts of those recorded.
    pub figures: Figures,
}

/// What a note is written from.
#[derive(Debug)]
pub struct Facts<'a> {
    pub order: Order<'a>,
    /// Bases, touches, neighbours, counts for the first finger.
    pub response: Response,
    /// What a farther outer wall changes.
    pub farther_wall: FartherWall,
    /// The threshold window; none when it was left out, or why there is none.
    pub window: Option<Result<Window, String>>,
    /// What would widen it.
    pub levers: Option<LeverSearch>,
    /// Rules of thumb.
    pub judgement: Option<Judgement>,
    /// What tolerances do, or why that is not known.
    pub spread: Option<Result<Spread, String>>,
    /// Thresholds and positions of sliders and wheels; none when the window was left out.
    pub sliders: Option<Result<Vec<SliderDecision>, String>>,
    /// What climate, supplies and discharges do.
    pub environment: Option<Environment>,
    /// A finger across the panel.
    pub walks: Option<Walks>,
    /// The field around the first touched pad, or why there is no picture of it.
    pub section: Result<SectionView, String>,
    /// Hash of what `solve` computes from, as a study's store keeps it.
    pub key: String,
    /// Hash of everything the note stands on: panel file with what was set, accuracies, engine.
    pub inputs: String,
}

/// What climate, supplies and discharges do, each or why it is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Environment {
    /// Drift of the baseline.
    pub drift: Result<Drift, String>,
    /// Touch over the return path.
    pub return_study: Result<ReturnStudy, String>,
    /// Ways of a discharge.
    pub discharge: Result<Discharge, String>,
}

/// A finger on the first supply that walks over the panel, each or why it is not known.
#[derive(Clone, Debug, PartialEq)]
pub struct Walks {
    /// What is assumed, for the line under the charts.
    pub assumption: String,
    /// Across the first pad.
    pub walk: Result<Walk, String>,
    /// Over the whole face; none when it was left out.
    pub map: Option<Result<TouchMap, String>>,
    /// Along every slider and around every wheel, with its name.
    pub slides: Vec<(String, Result<Vec<Slide>, String>)>,
}

/// The first touched pad solved once more with the outer wall farther away.
#[derive(Clone, Debug, PartialEq)]
pub struct FartherWall {
    pub pad: String,
    /// Distance of the wall of all other numbers and of this check.
    pub distances: [Length; 2],
    /// Base capacitance, farther minus near, and the errors of both together.
    pub base: [Capacitance; 2],
    /// Touch shift, the same.
    pub shift: [Capacitance; 2],
}

/// How much farther the wall of the check is.
const FARTHER: f64 = 1.5;

/// Why a note cannot be computed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FactsError {
    /// Asked to stop.
    #[error("done: {}; not done: {}", named(.done), named(.left))]
    Interrupted {
        /// Parts that are computed.
        done: Vec<Part>,
        /// The one in work, and those after it.
        left: Vec<Part>,
    },
    /// Bases and touches cannot be solved.
    #[error(transparent)]
    Response(#[from] ResponseError),
    /// The windows of levers cannot be solved.
    #[error(transparent)]
    Touch(#[from] TouchError),
}

impl std::fmt::Debug for Order<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Order")
            .field("file", &self.file)
            .field("set", &self.set)
            .field("remark", &self.remark)
            .field("accuracy", &self.accuracy)
            .finish_non_exhaustive()
    }
}

impl FactsError {
    fn is_interrupted(&self) -> bool {
        match self {
            Self::Interrupted { .. } => true,
            Self::Response(error) => error.is_interrupted(),
            Self::Touch(error) => error.is_interrupted(),
        }
    }
}

/// Computes everything. `solver` supplies the fields of all numbers, each once for all that ask for it;
/// `stop` is asked between field problems; `progress` hears what goes on.
///
/// # Errors
/// See [`FactsError`]. A panel whose window or section cannot be computed has facts that say why.
pub fn gather<'a>(
    order: Order<'a>,
    solver: &Solver<'_>,
    stop: &(dyn Fn() -> bool + Sync),
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Facts<'a>, FactsError> {
    let request = Request {
        panel: order.panel,
        finger: None,
        pad: None,
        settings: settings(&order, order.accuracy),
        options: LoweringOptions::default(),
    };
    let kept = KeptFields::of(solver);
    let solver: &Solver<'_> =
        &|case, without, settings, tell| kept.solve(case, without, settings, tell);
    let course = Course::new(stop);
    let tell = |text: &str| progress(&format!("{}: {text}", course.part().name()));
    let limits = |accuracy| WorkLimits {
        settings: settings(&order, accuracy),
        solver,
        stop,
        progress: &tell,
    };
    let limits = [order.accuracy, order.window_accuracy].map(limits);
    gather_parts(order, &request, limits, &course).map_err(|error| match error.is_interrupted() {
        true => {
            let [done, left] = course.parts(&order);
            FactsError::Interrupted { done, left }
        }
        false => error,
    })
}

/// The same; tells the course which part begins.
fn gather_parts<'a>(
    order: Order<'a>,
    request: &Request<'_>,
    [limits_of_touches, limits]: [WorkLimits<'_>; 2],
    course: &Course<'_>,
) -> Result<Facts<'a>, FactsError> {
    course.begin(Part::Touches)?;
    let response = respond_over_tolerances(request, &limits_of_touches)?;
    course.begin(Part::OuterWall)?;
    let farther_wall = farther_wall(request, &response, &limits_of_touches)?;
    let family = PanelFamily::of_document(order.document);
    course.begin(Part::Window)?;
    let found = match (order.with_window, &family) {
        (false, _) => None,
        (true, Err(error)) => Some(Err(error.message().to_owned())),
        (true, Ok(family)) => Some(told(window_of(family, &limits))?),
    };
    course.begin(Part::Sliders)?;
    let sliders = match found {
        Some(Ok(_)) => Some(told(slider::decide_all(order.panel, &limits))?),
        _ => None,
    };
    let found_window = found.as_ref().and_then(|found| found.as_ref().ok());
    course.begin(Part::Levers)?;
    let remedies = match (found_window.filter(|_| order.with_remedies), &family) {
        (Some(found), Ok(family)) => Some(levers(family, found, &limits)?),
        _ => None,
    };
    course.begin(Part::Guidelines)?;
    let judgement = order
        .with_guidelines
        .then(|| guidelines(&order, found_window, &limits));
    course.begin(Part::Tolerances)?;
    let spread = match order.with_tolerances {
        true => spread(&order, &family, found_window, &limits)?,
        false => None,
    };
    course.begin(Part::Environment)?;
    let environment = order.with_environment.then(|| environment(&order, &limits));
    course.begin(Part::Walks)?;
    let walks = match order.with_walk {
        true => walks(&order, sliders.as_ref(), &limits)?,
        false => None,
    };
    Ok(Facts {
        spread,
        environment,
        walks,
        sliders,
        section: section_view(
            order.panel,
            &response.finger,
            &farther_wall.pad,
            limits.progress,
        ),
        key: key(&order),
        inputs: inputs(&order),
        response,
        farther_wall,
        window: found,
        levers: remedies,
        judgement,
        order,
    })
}

fn settings(order: &Order<'_>, accuracy: f64) -> Settings {
    Settings {
        accuracy,
        ..order.settings.clone()
    }
}

/// An interruption ends the note, anything else is told in it.
fn told<T>(found: Result<T, TouchError>) -> Result<Result<T, String>, FactsError> {
    match found {
        Err(error) if error.is_interrupted() => Err(error.into()),
        found => Ok(found.map_err(|error| error.to_string())),
    }
}

/// The walks that `walk` makes when nothing is said.
fn walks(
    order: &Order<'_>,
    sliders: Option<&Result<Vec<SliderDecision>, String>>,
    limits: &WorkLimits<'_>,
) -> Result<Option<Walks>, FactsError> {
    let panel = order.panel;
    let fingers = walk::usual_fingers(panel);
    let supply = panel.usage.supplies.value.first();
    let (Some(supply), Some(largest)) = (supply, fingers.last()) else {
        return Ok(None);
    };
    let mut slides = Vec::new();
    let decided = sliders.and_then(|decided| decided.as_ref().ok());
    for (number, slider) in panel.sliders.iter().enumerate() {
        if let Some(decision) = decided.and_then(|all| all.get(number)) {
            slides.push((slider.group.clone(), Ok(decision.strokes.clone())));
            continue;
        }
        let each = fingers
            .iter()
            .map(|finger| walk::slide(panel, slider, finger, supply, limits));
        slides.push((slider.group.clone(), told(each.collect())?));
    }
    let across = walk::walk(panel, &fingers, supply, 0, Direction::Across, limits);
    let map = match order.with_touch_map {
        true => told(walk::touch_map(panel, largest, supply, limits))?.transpose(),
        false => None,
    };
    Ok(Some(Walks {
        assumption: walk::assumption(panel, supply),
        walk: told(across)?,
        map,
        slides,
    }))
}

/// Sensitivities and totals, and units drawn at random when the order says how many; the window is that of
/// the note, where there is one.
fn spread(
    order: &Order<'_>,
    family: &Result<PanelFamily, ScenarioError>,
    found: Option<&Window>,
    limits: &WorkLimits<'_>,
) -> Result<Option<Result<Spread, String>>, FactsError> {
    let question = tolerance::Question {
        pad: None,
        threshold: None,
        units: order.units,
        seed: 1,
    };
    let family = match family {
        Ok(family) => family,
        Err(error) => return Ok(Some(Err(error.message().to_owned()))),
    };
    let spread = match found {
        Some(found) => tolerance::tolerance_under(family, found, &question, limits),
        None => tolerance::tolerance(family, &question, limits),
    };
    match spread {
        Err(ToleranceError::Touch(error)) if error.is_interrupted() => Err(error.into()),
        found => Ok(Some(found.map_err(|error| error.to_string()))),
    }
}

fn environment(order: &Order<'_>, limits: &WorkLimits<'_>) -> Environment {
    let to_drift = drift::Question {
        finger: None,
        threshold: None,
    };
    let to_return = return_path::Question::default();
    let text = |error: TouchError| error.to_string();
    Environment {
        drift: drift::drift(order.panel, &to_drift, limits).map_err(text),
        return_study: return_path::return_study(order.panel, &to_return, limits).map_err(text),
        discharge: discharge::discharge(order.panel).map_err(|error| error.to_string()),
    }
}

fn guidelines(order: &Order<'_>, found: Option<&Window>, limits: &WorkLimits<'_>) -> Judgement {
    let thresholds = match found {
        Some(found) => ThresholdShares::of(found),
        None => Err("the window was not decided".to_owned()),
    };
    let asked = Asked {
        document: order.document,
        overrides: &[],
        finger: None,
        groups: &[],
        settings: limits.settings.clone(),
        thresholds,
    };
    judge_and_tell(
        &asked,
        order.panel,
        &built_in(),
        &|| (limits.stop)(),
        &|_| {},
        limits.progress,
    )
}

/// Solves the first touched pad again with the outer wall farther away.
fn farther_wall(
    request: &Request<'_>,
    response: &Response,
    limits: &WorkLimits<'_>,
) -> Result<FartherWall, ResponseError> {
    let near_distance = request.panel.wall_distance.value;
    let farther = Panel {
        wall_distance: Sourced {
            value: near_distance * FARTHER,
            ..request.panel.wall_distance
        },
        ..request.panel.clone()
    };
    let near = response.pads.iter().find(|pad| pad.touch.is_some());
    let pad = near.map_or(String::new(), |pad| pad.name.clone());
    let mut check = FartherWall {
        distances: [near_distance, farther.wall_distance.value],
        base: [Capacitance::default(); 2],
        shift: [Capacitance::default(); 2],
        pad,
    };
    let Some(near) = near else {
        return Ok(check);
    };
    let far = Request {
        panel: &farther,
        pad: Some(&check.pad),
        ..request.clone()
    };
    let far = respond_under(&far, limits)?;
    let far = far.pads.iter().find(|pad| pad.name == check.pad);
    if let (Some(near_base), Some(far_base)) = (near.base, far.and_then(|pad| pad.base)) {
        check.base = [
            far_base.computed.value - near_base.computed.value,
            far_base.computed.error + near_base.computed.error,
        ];
    }
    if let (Some(near), Some(far)) = (&near.touch, far.and_then(|pad| pad.touch.as_ref())) {
        check.shift = [
            far.shift.value - near.shift.value,
            far.shift.error + near.shift.error,
        ];
    }
    Ok(check)
}

/// The name of the point that `solve` computes.
fn key(order: &Order<'_>) -> String {
    let PointKey(bytes) = PointKey::new(&inputs_of(order.panel, None), order.accuracy);
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Hash of everything the numbers of a note stand on; blind to comments, blanks, title and revision.
fn inputs(order: &Order<'_>) -> String {
    let text = format!(
        "{ENGINE}\n{}\n{}\n{}\n{}",
        order.document.contents(),
        order.accuracy,
        order.window_accuracy,
        order.units
    );
    blake3::hash(text.as_bytes()).to_hex().to_string()
}

impl Facts<'_> {
    /// The window, when there is one.
    pub fn decided(&self) -> Option<&Window> {
        self.window.as_ref()?.as_ref().ok()
    }

    /// Version of everything that decides numbers.
    pub fn engine(&self) -> &'static str {
        ENGINE
    }

    /// The command that draws what only a note shows.
    pub fn note_command(&self) -> String {
        self.order.command.to_owned()
    }

    /// The command that prints what `solve` prints.
    pub fn solve_command(&self) -> String {
        self.command("solve", self.order.accuracy, SOLVE_ACCURACY)
    }

    /// The command that prints the window.
    pub fn window_command(&self) -> String {
        self.command("window", self.order.window_accuracy, WINDOW_ACCURACY)
    }

    /// The command that judges guidelines.
    pub fn rules_command(&self) -> String {
        self.command("rules", self.order.window_accuracy, WINDOW_ACCURACY)
    }

    /// The command that prints sensitivities and totals.
    pub fn tolerance_command(&self) -> String {
        let command = self.command("tolerance", self.order.window_accuracy, WINDOW_ACCURACY);
        format!("{command} --units {}", self.order.units)
    }

    /// The command that walks a finger over the panel.
    pub fn walk_command(&self) -> String {
        self.command("walk", self.order.window_accuracy, WINDOW_ACCURACY)
    }

    /// The command that weighs resistor and gate.
    pub fn circuit_command(&self) -> String {
        self.command("circuit", self.order.accuracy, SOLVE_ACCURACY)
    }

    /// The command that runs a study and draws its charts.
    pub fn sweep_command(&self, study: &str) -> String {
        let command = self.command("sweep", SOLVE_ACCURACY, SOLVE_ACCURACY);
        format!("{command} --study {}", quoted(study))
    }

    /// The command that prints the drift.
    pub fn drift_command(&self) -> String {
        self.command("drift", self.order.window_accuracy, WINDOW_ACCURACY)
    }

    /// The command that prints the touch over the return path.
    pub fn return_command(&self) -> String {
        self.command("return-path", self.order.window_accuracy, WINDOW_ACCURACY)
    }

    /// The command that prints the ways of a discharge.
    pub fn discharge_command(&self) -> String {
        self.command("discharge", WINDOW_ACCURACY, WINDOW_ACCURACY)
    }

    fn command(&self, name: &str, accuracy: f64, default: f64) -> String {
        let mut words = vec![format!("padfield {name} {}", quoted(self.order.file))];
        words.extend(
            self.order
                .set
                .iter()
                .map(|set| format!("--set {}", quoted(set))),
        );
        if accuracy != default {
            words.push(format!("--accuracy {accuracy}"));
        }
        words.join(" ")
    }
}
