//! From a panel's users and supplies to every event in counts.

use super::asked::{Asked, AskedAim, asked, palm, reference_user};
use super::ends::{KnownEnds, field_ends};
use crate::event::{
    Cause, Event, Gesture, Group, InputEnds, PadField, Worst, linear_drift, return_path, touched,
};
use crate::panel::{Model, NearMiss, Panel, ReturnPath};
use crate::sensitivity::PanelFamily;
use crate::touch::{
    ChannelBases, PadTouch, TouchError, TouchPlace, Touches, WorkLimits, channel_bases,
    solve_changes, solve_touches,
};
use padfield_engine::field::{Printed, joined_printed};
use padfield_engine::units::Capacitance;
use rayon::prelude::*;

/// A typical adult touch on a pad, for comparison: centred, first supply, nominal values.
#[derive(Clone, Debug, PartialEq)]
pub struct Reference {
    /// Panel index of the pad.
    pub pad: usize,
    /// \[counts\]
    pub counts: f64,
    /// Base capacitance at the pin.
    pub base_at_pin: Capacitance,
    /// Base count.
    pub base_count: f64,
    /// Untouched noise \[counts rms\].
    pub noise: f64,
}

/// All events of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct EventTable {
    /// The events, true ones first; of every user, supply and pad the worst place.
    pub events: Vec<Event>,
    /// Names of the pads.
    pub pads: Vec<String>,
    /// A typical adult touch on every pad.
    pub references: Vec<Reference>,
    /// Nominal bases at the pin of everything that is scanned, segments of sliders and wheels too.
    pub channels: Vec<Capacitance>,
    /// Name of the user of the references.
    pub reference_user: String,
    /// Whether anything the field depends on has a tolerance.
    pub field_varies: bool,
    /// What could not be judged because the panel file does not describe it.
    pub not_described: Vec<String>,
    /// What was simplified on the way.
    pub simplifications: Vec<String>,
    /// Field problems solved.
    pub field_problems: usize,
    /// Whether the accuracy was reached everywhere.
    pub accuracy_reached: bool,
    /// What missed it.
    pub missed: Vec<Printed>,
    /// Fineness the touches started at.
    pub fineness: Option<f64>,
}

/// Solves every touch and turns it into events.
///
/// # Errors
/// See [`TouchError`].
pub fn gather(family: &PanelFamily, limits: &WorkLimits<'_>) -> Result<EventTable, TouchError> {
    gather_of(family, &|_| true, limits)
}

/// The same of some places.
///
/// # Errors
/// See [`TouchError`].
pub(super) fn gather_of(
    family: &PanelFamily,
    wanted: &dyn Fn(&Asked) -> bool,
    limits: &WorkLimits<'_>,
) -> Result<EventTable, TouchError> {
    let panel = &family.panel;
    let mut asked = asked(panel);
    asked.retain(wanted);
    let places: Vec<TouchPlace> = asked.iter().map(|one| one.place.clone()).collect();
    let touches = solve_touches(panel, &places, limits)?;
    let again = limits.starting_at(touches.fineness);
    let shown = touches.all_pads()?;
    let inputs = InputEnds::new(family);
    let margin = panel.usage.noise_margin.value;
    let mut events = touch_events(panel, &asked, &touches, &shown)?;
    count_all(&mut events, &inputs, margin);
    let known = field_ends(family, &asked, &events, &again)?;
    if let Some(known) = &known {
        for (event, _) in &mut events {
            known.put_to(event);
        }
        count_all(&mut events, &inputs, margin);
    }
    let references = references(panel, &asked, &shown);
    let channels = channels(panel, &asked, &touches, &again)?;
    let mut others = quiet_events(panel, &asked, &touches, &references)?;
    let steps = surrounding_events(family, known.as_ref(), &again)?;
    let field_problems = touches.problems()
        + channels.problems
        + steps.1
        + known.as_ref().map_or(0, |known| known.problems);
    for event in &mut others {
        if let Some(known) = &known {
            known.put_to(event);
        }
    }
    others.extend(steps.0);
    let others = others.into_iter().map(|event| {
        let event = event.counted(&inputs);
        event.with_bound(margin)
    });
    let mut events: Vec<Event> = worst_places(events.into_iter().map(|(event, _)| event))
        .into_iter()
        .chain(others)
        .collect();
    events.sort_by_key(|event| (event.group != Group::True, event.pad));
    Ok(EventTable {
        events,
        pads: panel.pads.iter().map(|pad| pad.name.clone()).collect(),
        references,
        channels: channels.at_pin(panel),
        reference_user: reference_user(panel).map_or_else(String::new, |user| user.name.clone()),
        field_varies: known.is_some(),
        not_described: not_described(panel),
        simplifications: touches.simplifications.clone(),
        field_problems,
        accuracy_reached: touches.accuracy_reached
            && channels.accuracy_reached
            && known.as_ref().is_none_or(|known| known.accuracy_reached)
            && steps.2.is_empty(),
        missed: joined_printed([
            &touches.missed[..],
            &channels.missed,
            known.as_ref().map_or(&[], |known| &known.missed),
            &steps.2,
        ]),
        fineness: touches.fineness,
    })
}

pub(super) fn count_all(events: &mut [(Event, usize)], inputs: &InputEnds<'_>, margin: f64) {
    events.par_iter_mut().for_each(|(event, _)| {
        *event = event.clone().counted(inputs).with_bound(margin);
    });
}

/// An event of a pad before it is counted.
fn uncounted(group: Group, cause: Cause, pad: usize, field: PadField) -> Event {
    Event {
        group,
        cause,
        pad,
        supply: None,
        field,
        field_ends: Vec::new(),
        mean: 0.0,
        input_range: [0.0; 2],
        worst: Worst::default(),
        numerical_error: 0.0,
        noise: 0.0,
        bound: 0.0,
    }
}

/// Every place on every supply as an event of every pad, with the index of its place.
pub(super) fn touch_events(
    panel: &Panel,
    asked: &[Asked],
    touches: &Touches,
    shown: &[Vec<Option<PadTouch>>],
) -> Result<Vec<(Event, usize)>, TouchError> {
    let mut events = Vec::new();
    for (number, supply) in panel.usage.supplies.value.iter().enumerate() {
        let circuit = panel.circuit_on(supply);
        for (index, one) in asked.iter().enumerate() {
            if one.aim == AskedAim::Reference {
                continue;
            }
            let seen = touches.seen(index, return_path(panel, Some(number)))?;
            for pad in 0..panel.pads.len() {
                let (Some(touch), Some(base), Some(shift)) =
                    (shown[index][pad], seen.bases[pad], seen.shifts[pad])
                else {
                    continue;
                };
                let gesture = Gesture {
                    user: one.user.clone(),
                    supply: supply.name.clone(),
                    aimed_at: panel.pads[one.place.pad].name.clone(),
                    offset: one.place.finger.offset,
                    towards: one.towards.map(|pad| panel.pads[pad].name.clone()),
                };
                let (group, cause) = judged_as(panel, one, pad, gesture);
                let at_pin = panel
                    .stray
                    .of(&panel.pads[pad])
                    .at_pin(Capacitance::from_farads(base.estimate.value))
                    .nominal;
                let [shift, base_error, shift_error] =
                    [shift.value, base.estimate.error, shift.error].map(Capacitance::from_farads);
                let event = Event {
                    supply: Some(number),
                    numerical_error: circuit.count_error(at_pin, shift, base_error, shift_error),
                    ..uncounted(group, cause, pad, PadField::Changed(touch))
                };
                events.push((event, index));
            }
        }
    }
    Ok(events)
}

/// What a pad should make of a place, and what happens there.
fn judged_as(panel: &Panel, one: &Asked, pad: usize, gesture: Gesture) -> (Group, Cause) {
    let is_own = one.place.pad == pad;
    let name = |trace: usize| panel.traces[trace].name.clone();
    match one.aim {
        AskedAim::Palm => (Group::False, Cause::Palm(gesture)),
        AskedAim::Trace(trace) => (Group::False, Cause::TraceTouch(gesture, name(trace))),
        AskedAim::Miss(trace) => {
            let group = match (is_own, panel.usage.near_miss.value) {
                (false, _) | (true, NearMiss::MustNotAct) => Group::False,
                (true, NearMiss::MustAct) => Group::True,
                (true, NearMiss::Either) => Group::Either,
            };
            (group, Cause::NearMiss(gesture, name(trace)))
        }
        AskedAim::Pad | AskedAim::Reference if is_own => (Group::True, Cause::Touch(gesture)),
        AskedAim::Pad | AskedAim::Reference => (Group::False, Cause::NeighbourTouch(gesture)),
    }
}

/// Of events of the same kind, user, supply and pad the one with the worst bound.
fn worst_places(events: impl Iterator<Item = Event>) -> Vec<Event> {
    let mut worst: indexmap::IndexMap<(u8, Option<String>, String, String, usize), Event> =
        indexmap::IndexMap::new();
    for event in events {
        let Some(gesture) = event.cause.gesture() else {
            continue;
        };
        let trace = match &event.cause {
            Cause::TraceTouch(_, trace) | Cause::NearMiss(_, trace) => Some(trace.clone()),
            _ => None,
        };
        let kind = match (&event.cause, event.group) {
            (Cause::NearMiss(..), _) => 2,
            (_, Group::True) => 0,
            (_, Group::False | Group::Either) => 1,
        };
        let key = (
            kind,
            trace,
            gesture.user.clone(),
            gesture.supply.clone(),
            event.pad,
        );
        match worst.get_mut(&key) {
            Some(known) if !is_worse(&event, known) => {}
            Some(known) => *known = event,
            None => {
                worst.insert(key, event);
            }
        }
    }
    worst.into_values().collect()
}

pub(super) fn is_worse(event: &Event, than: &Event) -> bool {
    match event.group {
        Group::True => event.bound < than.bound,
        Group::False | Group::Either => event.bound > than.bound,
    }
}

fn references(panel: &Panel, asked: &[Asked], shown: &[Vec<Option<PadTouch>>]) -> Vec<Reference> {
    let supply = panel.usage.supplies.value.first();
    let circuit = &panel.electronics.circuit;
    let all = asked.iter().zip(shown);
    let typical = all.filter(|(one, _)| one.aim == AskedAim::Reference);
    typical
        .filter_map(|(one, shown)| {
            let pad = one.place.pad;
            let touch = shown[pad]?;
            let stray = panel.stray.of(&panel.pads[pad]);
            let base_at_pin = stray.at_pin(Capacitance::from_farads(touch.base)).nominal;
            Some(Reference {
                pad,
                counts: touched(panel, pad, supply, &touch).mean,
                base_at_pin,
                base_count: circuit.count(base_at_pin),
                noise: circuit.noise(base_at_pin).total(),
            })
        })
        .collect()
}

/// Bases of all that is scanned: a pad's from the grid of the typical touch on it, the others' as `solve` has
/// them.
fn channels(
    panel: &Panel,
    asked: &[Asked],
    touches: &Touches,
    limits: &WorkLimits<'_>,
) -> Result<ChannelBases, TouchError> {
    let typical = asked.iter().enumerate();
    let typical = typical.filter(|(_, one)| one.aim == AskedAim::Reference);
    // Untouched, so that the finger's way to earth makes no difference.
    let typical = typical
        .map(|(index, one)| Ok((one.place.pad, touches.seen(index, ReturnPath::Earthed)?)))
        .collect::<Result<Vec<_>, TouchError>>()?;
    let of_pad = |pad: usize| {
        let own = typical.iter().filter(|(touched, _)| *touched == pad);
        own.chain(&typical).find_map(|(_, seen)| seen.bases[pad])
    };
    let bases = (0..panel.pads.len()).map(of_pad).collect();
    channel_bases(panel, bases, limits)
}

/// Events without a touch, of the pads of the references: noise, and what drifts away while a held finger
/// stops the baseline, where a climate is given or a residue entered.
fn quiet_events(
    panel: &Panel,
    asked: &[Asked],
    touches: &Touches,
    references: &[Reference],
) -> Result<Vec<Event>, TouchError> {
    let drifts = panel.environment.climate.is_given || panel.usage.drift_residue.is_some();
    let mut events = Vec::new();
    for (index, one) in asked.iter().enumerate() {
        let pad = one.place.pad;
        let is_known = references.iter().any(|reference| reference.pad == pad);
        if one.aim != AskedAim::Reference || !is_known {
            continue;
        }
        // The untouched pad is the same on every supply.
        let seen = touches.seen(index, ReturnPath::Earthed)?;
        let Some(linear) = linear_drift(panel, &seen, pad) else {
            continue;
        };
        let field = PadField::Quiet {
            base: linear.base,
            by_layer: linear.base_by_layer,
        };
        events.push(uncounted(Group::False, Cause::Noise, pad, field.clone()));
        if drifts {
            events.push(uncounted(Group::False, Cause::Drift, pad, field));
        }
    }
    Ok(events)
}

/// Every change of the surroundings, as every pad sees it, the field problems it took and what missed the
/// accuracy. A change that a body has a part in is an event on every supply, any other the same on all.
fn surrounding_events(
    family: &PanelFamily,
    known: Option<&KnownEnds>,
    limits: &WorkLimits<'_>,
) -> Result<(Vec<Event>, usize, Vec<Printed>), TouchError> {
    let panel = &family.panel;
    let solve = |panel: &Panel| solve_changes(panel, limits);
    let changes = solve(panel)?;
    let mut problems = changes.len();
    let missed = joined_printed(changes.iter().map(|change| &change.accuracy.missed[..]));
    // The same changes on the panels on which a touch gives fewest and most counts.
    let mut at_ends = Vec::new();
    if let Some(own) = known.and_then(KnownEnds::weakest_own)
        && !changes.is_empty()
    {
        for end in [0, 1] {
            if let Ok(changed) = own.panel(family, end) {
                let found = solve(&changed)?;
                problems += found.len();
                at_ends.push(found);
            }
        }
    }
    let mut events = Vec::new();
    for (number, one) in changes.iter().enumerate() {
        let steps = one.steps()?;
        let ends: Vec<Vec<PadTouch>> = at_ends
            .iter()
            .map(|found| found[number].steps())
            .collect::<Result<_, _>>()?;
        let hangs_on_body = steps.iter().any(|step| step.drawn != 0.0);
        let supplies: Vec<Option<usize>> = match hangs_on_body {
            true => (0..panel.usage.supplies.value.len()).map(Some).collect(),
            false => vec![None],
        };
        for supply in supplies {
            let seen = one.seen(return_path(panel, supply))?;
            for (slot, &pad) in seen.pads.iter().enumerate() {
                let (before, change) = (seen.before[slot], seen.changes[slot]);
                let at_pin = panel.stray.of(&panel.pads[pad]);
                let at_pin = at_pin
                    .at_pin(Capacitance::from_farads(before.value))
                    .nominal;
                let [shift, base_error, shift_error] =
                    [change.value, before.error, change.error].map(Capacitance::from_farads);
                let circuit = &panel.electronics.circuit;
                let cause = Cause::Surrounding(seen.kind, seen.name.clone());
                let step = |steps: &[PadTouch]| PadField::Changed(steps[slot]);
                events.push(Event {
                    supply,
                    numerical_error: circuit.count_error(at_pin, shift, base_error, shift_error),
                    field_ends: ends.iter().map(|steps| step(steps)).collect(),
                    ..uncounted(Group::False, cause, pad, step(&steps))
                });
            }
        }
    }
    Ok((events, problems, missed))
}

fn not_described(panel: &Panel) -> Vec<String> {
    let mut missing: Vec<String> = Vec::new();
    if panel.traces.is_empty() {
        missing.push("touches of traces (none is drawn)".to_owned());
    }
    if panel.bezels.is_empty() {
        missing.push("a metal frame on the touched face".to_owned());
    }
    if panel.films.is_empty() {
        missing.push("water on the touched face".to_owned());
    }
    if panel.model.value == Model::Axisymmetric {
        missing.push("touches off the middle (axisymmetric model)".to_owned());
    }
    if palm(panel).is_none() {
        missing.push("a palm beside the pads (window.palm_distance)".to_owned());
    }
    if panel.usage.drift_residue.is_none() && !panel.environment.climate.is_given {
        missing.push("drift that tracking leaves ([climate] or window.drift_residue)".to_owned());
    }
    missing
}
