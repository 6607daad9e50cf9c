//! From panel and finger to the response: which touches are solved, and what is made of them.

use std::time::Instant;

use super::answer::{
    BaseCapacitance, BaseStep, Estimated, Neighbour, Numerics, PadResponse, RelativeShift,
    Response, StrayPart, Touch,
};
use super::assumptions::assumptions;
use super::counts::{Counts, counts};
use super::estimates::hand_estimates;
use crate::capacitance::{AlgebraError, Estimate, Measurement};
use crate::case::Case;
use crate::cautions::particular_cautions;
use crate::estimate::relative_shift;
use crate::field::{self, FieldAnswer, FieldError, Settings};
use crate::panel::lowering::{FINGER, Lowered, LoweringError, LoweringOptions, lower};
use crate::panel::{Finger, Model, Pad, Panel, ReturnPath};
use crate::touch::{PanelMirror, SeenTouch, SolvedTouch, TouchError, base_changes, panel_mirrors};
use crate::units::{Capacitance, Length};

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
    /// Asked to stop.
    #[error("interrupted")]
    Interrupted,
}

impl From<TouchError> for ResponseError {
    fn from(error: TouchError) -> Self {
        match error {
            TouchError::Lowering(error) => error.into(),
            TouchError::Field(error) => error.into(),
            TouchError::Algebra(error) => error.into(),
            TouchError::Interrupted => Self::Interrupted,
        }
    }
}

/// A field engine: case, conductor to leave out for the second state, settings.
pub type Solver<'a> = dyn Fn(&Case, &str, &Settings) -> Result<FieldAnswer, FieldError> + 'a;

/// Computes the response with the built-in field engine.
///
/// `progress` receives one line of text now and then; it may be called from several threads.
///
/// # Errors
/// See [`ResponseError`].
pub fn respond(
    request: &Request,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Response, ResponseError> {
    let mut response = respond_with(request, &|case, without, settings| {
        let pad = case.id.clone();
        field::solve(case, Some(without), settings, &|text: &str| {
            progress(&format!("{pad}: {text}"));
        })
    })?;
    response.steps = base_steps(request, progress)?;
    Ok(response)
}

/// Every change of the surroundings on its own, without finger.
fn base_steps(
    request: &Request,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Vec<BaseStep>, ResponseError> {
    let never = || false;
    let changes = base_changes(request.panel, &request.settings, &never, progress)?;
    Ok(changes
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

/// Computes the response with any field engine; changes of the surroundings are left to [`respond`].
///
/// # Errors
/// See [`ResponseError`].
pub fn respond_with(request: &Request, solver: &Solver) -> Result<Response, ResponseError> {
    let start = Instant::now();
    let panel = request.panel;
    let finger = find_finger(panel, request.finger)?;
    let asked = touched_pads(request, finger)?;
    let mut mirrors = panel_mirrors(panel)?;
    let offset_m = finger.offset.map(Length::metres);
    mirrors.retain(|one| one.mirror.keeps_offset(offset_m));
    let names: Vec<String> = panel.pads.iter().map(|pad| pad.name.clone()).collect();
    let mut solved: Vec<Solved> = Vec::new();
    let mut numerics = Numerics {
        solves: 0,
        cells: 0,
        fineness: 0.0,
        iterations: 0,
        residual: 0.0,
        seconds: 0.0,
        accuracy_asked: request.settings.accuracy,
        accuracy_estimated: 0.0,
        accuracy_reached: true,
    };
    let mut simplifications: Vec<String> = Vec::new();
    for &touched in &asked {
        if let Some(image) = mirror_image(&solved, &mirrors, touched) {
            solved.push(image);
            continue;
        }
        let pad = &panel.pads[touched];
        let lowered = lower(panel, &pad.name, finger, request.options)?;
        let mut settings = request.settings.clone();
        settings.drive = Some(driven(panel, &lowered, finger));
        let answer = solver(&lowered.case, FINGER, &settings)?;
        numerics.note(&answer);
        for text in &lowered.simplifications {
            if !simplifications.contains(text) {
                simplifications.push(text.clone());
            }
        }
        solved.push(Solved {
            touched,
            mirrored_from: None,
            field: SolvedTouch::new(
                &answer,
                lowered.effective_lengths,
                &lowered.parts,
                &lowered.case.dielectrics,
            )
            .seen(&names, panel.idle.value, finger.return_path)?,
        });
    }
    numerics.seconds = start.elapsed().as_secs_f64();
    let mirrored = solved.iter().filter(|s| s.mirrored_from.is_some()).count();
    let pads = pad_responses(panel, finger, &solved);
    let counts = counts(panel, &pads, &|index| {
        let own = solved.iter().find(|one| one.touched == index)?;
        own.field.couplings[index].map(Capacitance::from_farads)
    });
    Ok(Response {
        cautions: particular_cautions(panel),
        title: panel.title.clone(),
        finger: finger.name.clone(),
        model: panel.model.value,
        idle: panel.idle.value,
        warnings: warnings(panel, &pads, &counts, &numerics),
        assumptions: assumptions(panel, finger, &pads, &simplifications, mirrored),
        pads,
        steps: Vec::new(),
        counts,
        numerics,
    })
}

/// One touch with its field results, solved or mirrored.
struct Solved {
    touched: usize,
    mirrored_from: Option<usize>,
    field: SeenTouch,
}

impl Numerics {
    fn note(&mut self, answer: &FieldAnswer) {
        self.solves += 1;
        self.cells = self.cells.max(answer.grid.cells);
        self.fineness = self.fineness.max(answer.grid.fineness);
        let most = answer.solver.iterations.iter().copied().max();
        self.iterations = self.iterations.max(most.unwrap_or(0));
        self.residual = self.residual.max(answer.solver.residual);
        self.accuracy_estimated = self.accuracy_estimated.max(answer.accuracy.estimated);
        self.accuracy_reached &= answer.accuracy.reached;
    }
}

fn find_finger<'a>(panel: &'a Panel, name: Option<&str>) -> Result<&'a Finger, ResponseError> {
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

/// Rows of the matrix: the pads and parts that need one, and the finger only when its own potential is not
/// known or a noise comes through it.
fn driven(panel: &Panel, lowered: &Lowered, finger: &Finger) -> Vec<String> {
    let mut drive = lowered.driven();
    let is_noisy = panel.electronics.circuit.common_mode.volts() > 0.0;
    if finger.return_path != ReturnPath::Earthed || is_noisy {
        drive.push(FINGER.to_owned());
    }
    drive
}

fn mirror_image(solved: &[Solved], mirrors: &[PanelMirror], touched: usize) -> Option<Solved> {
    solved
        .iter()
        .filter(|one| one.mirrored_from.is_none())
        .find_map(|one| {
            let found = mirrors
                .iter()
                .find(|mirror| mirror.images[one.touched] == touched)?;
            Some(Solved {
                touched,
                mirrored_from: Some(one.touched),
                field: one.field.mirrored(&found.images),
            })
        })
}

fn pad_responses(panel: &Panel, finger: &Finger, solved: &[Solved]) -> Vec<PadResponse> {
    let base_of = |index: usize| -> Option<Measurement> {
        let own = solved.iter().filter(|one| one.touched == index);
        own.chain(solved).find_map(|one| one.field.bases[index])
    };
    let loads_of = |index: usize| -> Vec<(String, Estimated)> {
        let own = solved.iter().filter(|one| one.touched == index);
        let found = own
            .chain(solved)
            .find(|one| one.field.bases[index].is_some());
        let loads = found.map(|one| one.field.loads[index].clone());
        let loads = loads.unwrap_or_default().into_iter();
        loads.map(|(name, load)| (name, estimated(load))).collect()
    };
    let mut pads: Vec<PadResponse> = panel
        .pads
        .iter()
        .enumerate()
        .map(|(index, pad)| PadResponse {
            driver_loads: loads_of(index),
            ..untouched(panel, pad, base_of(index))
        })
        .collect();
    for one in solved {
        if let Some(touch) = touch(panel, finger, &pads, one) {
            pads[one.touched].touch = Some(touch);
        }
    }
    pads
}

fn untouched(panel: &Panel, pad: &Pad, base: Option<Measurement>) -> PadResponse {
    let stray = panel.stray.of(pad);
    let (pin, trace) = (stray.pin, stray.trace);
    let base = base.map(|measured| BaseCapacitance {
        computed: estimated(measured.estimate),
        interval: [measured.interval.lower, measured.interval.upper].map(Capacitance::from_farads),
        interval_is_guaranteed: measured.shape_term == 0.0 && panel.model.value != Model::Section,
    });
    PadResponse {
        name: pad.name.clone(),
        base_at_pin: base.map(|base| stray.at_pin(base.computed.value)),
        base,
        pin: StrayPart {
            value: pin,
            origin: panel.stray.pin.origin,
        },
        trace: StrayPart {
            value: trace,
            origin: panel.stray.trace.origin,
        },
        driver_loads: Vec::new(),
        touch: None,
    }
}

fn estimated(estimate: Estimate) -> Estimated {
    Estimated {
        value: Capacitance::from_farads(estimate.value),
        error: Capacitance::from_farads(estimate.error),
    }
}

fn touch(panel: &Panel, finger: &Finger, pads: &[PadResponse], solved: &Solved) -> Option<Touch> {
    let own = &pads[solved.touched];
    let shift = estimated(solved.field.shifts[solved.touched]?);
    let base = own.base?;
    let neighbours = (0..pads.len())
        .filter(|&index| index != solved.touched)
        .filter_map(|index| {
            let other = estimated(solved.field.shifts[index]?);
            let [part, whole] = [other, shift].map(|s| s.value.farads());
            let ratio = part / whole;
            Some(Neighbour {
                pad: pads[index].name.clone(),
                shift: other,
                ratio,
                ratio_error: (other.error.farads() + ratio.abs() * shift.error.farads())
                    / whole.abs(),
                relative: relative(&pads[index], other)?,
            })
        })
        .collect();
    Some(Touch {
        relative: relative(own, shift)?,
        shift,
        neighbours,
        estimates: hand_estimates(
            panel,
            &panel.pads[solved.touched],
            finger,
            base.computed.value,
            shift.value,
        ),
        mirrored_from: solved
            .mirrored_from
            .map(|index| panel.pads[index].name.clone()),
    })
}

/// Shift over base at the pin plus shift; its error to first order.
fn relative(pad: &PadResponse, shift: Estimated) -> Option<RelativeShift> {
    let at_pin = pad.base_at_pin?;
    let base_error = pad.base?.computed.error.farads();
    let (base, change) = (at_pin.nominal.farads(), shift.value.farads());
    let whole = base + change;
    let at = |base: Capacitance| relative_shift(shift.value, base);
    let ends = [at(at_pin.most), at(at_pin.least)];
    Some(RelativeShift {
        value: at(at_pin.nominal),
        error: (base.abs() * shift.error.farads() + change.abs() * base_error) / (whole * whole),
        over_stray_tolerance: [ends[0].min(ends[1]), ends[0].max(ends[1])],
    })
}

fn warnings(
    panel: &Panel,
    pads: &[PadResponse],
    counts: &Counts,
    numerics: &Numerics,
) -> Vec<String> {
    let mut warnings = Vec::new();
    if panel.model.value == Model::Section {
        warnings.push("model section: trend only, do not design with these values".to_owned());
    }
    if !numerics.accuracy_reached {
        warnings.push(format!(
            "accuracy not reached: asked {:.2} %, estimated {:.2} %",
            100.0 * numerics.accuracy_asked,
            100.0 * numerics.accuracy_estimated
        ));
    }
    for pad in pads {
        let Some(touch) = &pad.touch else { continue };
        for estimate in touch.estimates.iter().filter(|e| e.is_far_off()) {
            warnings.push(format!(
                "pad \"{}\": hand estimate \"{}\" is {:.2} times the computed value: {}",
                pad.name, estimate.name, estimate.ratio, estimate.known_fault
            ));
        }
        if touch.shift.is_below_resolution() {
            warnings.push(format!(
                "pad \"{}\": the touch shift is below resolution",
                pad.name
            ));
        }
    }
    warnings.extend(counts.warnings());
    warnings
}
