//! One touch per pad, seen under many return paths.

use super::{Least, OnSupply, PadReturn, Question, RANGE_PF, ReturnStudy};
use crate::event::through;
use crate::measuring_circuit::Circuit;
use crate::panel::{Finger, Origin, Panel, ReturnPath};
use crate::touch::{TouchError, Touches, WorkLimits, on_single_pads, solve_touches};
use padfield_engine::units::Capacitance;

/// Points of a curve, ten a decade.
const POINTS: usize = 51;
/// Steps of the search: each halves the interval of logarithms.
const STEPS: usize = 60;

/// Solves the finger on every single pad and asks for all return paths.
///
/// # Errors
/// See [`TouchError`].
pub fn return_study(
    panel: &Panel,
    question: &Question<'_>,
    limits: &WorkLimits<'_>,
) -> Result<ReturnStudy, TouchError> {
    let mut study = ReturnStudy {
        finger: String::new(),
        share: question.share,
        counts: question.counts,
        pads: Vec::new(),
        assumptions: Vec::new(),
        field_problems: 0,
        accuracy_reached: true,
        missed: Vec::new(),
    };
    let named = question.finger;
    let mut fingers = panel.fingers.iter();
    let found = fingers.find(|finger| named.is_none_or(|name| finger.name == name));
    let Some(finger) = found.or(panel.fingers.first()) else {
        return Ok(study);
    };
    let places = on_single_pads(panel, finger);
    let touches = solve_touches(panel, &places, limits)?;
    for (index, place) in places.iter().enumerate() {
        study
            .pads
            .extend(pad_return(panel, question, &touches, index, place.pad)?);
    }
    study.finger.clone_from(&finger.name);
    study.field_problems = touches.problems();
    study.accuracy_reached = touches.accuracy_reached;
    study.missed.clone_from(&touches.missed);
    study.assumptions = assumptions(panel, finger, &touches);
    Ok(study)
}

fn pad_return(
    panel: &Panel,
    question: &Question<'_>,
    touches: &Touches,
    index: usize,
    pad: usize,
) -> Result<Option<PadReturn>, TouchError> {
    let earthed = touches.seen(index, ReturnPath::Earthed)?;
    let touch = touches.pads(index)?[pad];
    let (Some(touch), Some(shift)) = (touch, earthed.shifts[pad]) else {
        return Ok(None);
    };
    let base_error =
        Capacitance::from_farads(earthed.bases[pad].map_or(0.0, |base| base.estimate.error));
    let in_counts = |shift: Capacitance, error: f64, circuit: &Circuit| {
        let stray = panel.stray.of(&panel.pads[pad]);
        let base = stray.at_pin(Capacitance::from_farads(touch.base)).nominal;
        circuit.count_error(base, shift, base_error, Capacitance::from_farads(error))
    };
    let counts = |path: ReturnPath| through(panel, pad, None, path, &touch).mean;
    let left = |path: Capacitance| Some(touch.shift(ReturnPath::Through(path)).farads());
    let curve = curve_paths()
        .filter_map(|path| Some((path, left(path)? / shift.value)))
        .collect();
    let mut supplies = Vec::new();
    for supply in &panel.usage.supplies.value {
        let range = supply.return_range(&panel.usage.body.value);
        let paths = [range.nominal, range.least, range.most]
            .map(|path| path.map_or(ReturnPath::Earthed, ReturnPath::Through));
        let nominal = touches.seen(index, paths[0])?;
        let counted = paths.map(|path| through(panel, pad, Some(supply), path, &touch));
        let shift_error = nominal.shifts[pad].map_or(0.0, |shift| shift.error);
        supplies.push(OnSupply {
            supply: supply.name.clone(),
            path: range.nominal,
            shift: paths.map(|path| touch.shift(path).farads()),
            shift_error,
            counts: counted.map(|counted| counted.mean),
            counts_error: in_counts(
                touch.shift(paths[0]),
                shift_error,
                &panel.circuit_on(supply),
            ),
            common_mode: panel.circuit_on(supply).common_mode,
            common_mode_is_own: supply.common_mode.is_some(),
            common_mode_counts: counted[0].common_mode,
            noise_counts: counted[0].noise,
        });
    }
    Ok(Some(PadReturn {
        pad,
        name: panel.pads[pad].name.clone(),
        earthed: shift.value,
        earthed_error: shift.error,
        earthed_count_shift: counts(ReturnPath::Earthed),
        earthed_count_shift_error: in_counts(
            touch.shift(ReturnPath::Earthed),
            shift.error,
            &panel.electronics.circuit,
        ),
        curve,
        for_share: least_for(question.share * shift.value, shift.value, &left),
        for_counts: question.counts.map(|wanted| {
            let in_counts = |path: Capacitance| Some(counts(ReturnPath::Through(path)));
            least_for(wanted, counts(ReturnPath::Earthed), &in_counts)
        }),
        supplies,
    }))
}

/// Return paths of a curve, in equal ratios over [`RANGE_PF`].
fn curve_paths() -> impl Iterator<Item = Capacitance> {
    let [low, high] = RANGE_PF;
    let step = move |point: usize| low * (high / low).powf(point as f64 / (POINTS - 1) as f64);
    (0..POINTS).map(move |point| Capacitance::from_pf(step(point)))
}

/// Return path that a value needs to reach what is wanted, with its value on an earthed finger.
fn least_for(wanted: f64, earthed: f64, value: &dyn Fn(Capacitance) -> Option<f64>) -> Least {
    if earthed < wanted {
        return Least::Never;
    }
    match value(Capacitance::from_pf(RANGE_PF[0])) {
        Some(least) if least >= wanted => Least::Any,
        _ => least_return(value, wanted).map_or(Least::Never, Least::Needs),
    }
}

/// Least capacitance within [`RANGE_PF`] at which a value that rises with it reaches what is wanted; none
/// when it never does.
pub fn least_return(
    value: &dyn Fn(Capacitance) -> Option<f64>,
    wanted: f64,
) -> Option<Capacitance> {
    let [mut low, mut high] = RANGE_PF.map(f64::ln);
    let at = |logarithm: f64| value(Capacitance::from_pf(logarithm.exp()));
    if at(high)? < wanted {
        return None;
    }
    for _ in 0..STEPS {
        let middle = 0.5 * (low + high);
        match at(middle)? >= wanted {
            true => high = middle,
            false => low = middle,
        }
    }
    Some(Capacitance::from_pf(high.exp()))
}

fn assumptions(panel: &Panel, finger: &Finger, touches: &Touches) -> Vec<String> {
    let mark = |origin: Origin| match origin {
        Origin::Given => "",
        Origin::Default => " [default]",
    };
    let body = panel.usage.body;
    let supplies: Vec<String> = panel
        .usage
        .supplies
        .value
        .iter()
        .map(|supply| format!("{} ({})", supply.name, supply.source))
        .collect();
    let mut lines = vec![
        format!(
            "Finger {} centred on each pad as in the file; its own return path is not used. Of the hand, {:.0} \
             mm of finger are modelled{}: the rest only adds to the return.",
            finger.name,
            finger.length.value.mm(),
            mark(finger.length.origin)
        ),
        format!(
            "Supplies{}: {}; body to earth {:.0} pF ({:.0} to {:.0}){}, in series.",
            mark(panel.usage.supplies.origin),
            supplies.join("; "),
            body.value.nominal.pf(),
            body.value.least.pf(),
            body.value.most.pf(),
            mark(body.origin)
        ),
        "Body and room are one capacitance; near a metal wall or in a vehicle they are not. The device's \
         own ground is the same everywhere."
            .to_owned(),
        "Common mode: the voltage in the band of the measurement, in series with the finger; immunity to \
         conducted disturbances (IEC 61000-4-6) is the laboratory's."
            .to_owned(),
    ];
    lines.extend(
        touches
            .simplifications
            .iter()
            .map(|text| format!("Simplified: {text}.")),
    );
    lines
}
