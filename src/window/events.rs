//! From a panel's users and supplies to every event in counts.

use super::aim::{aims, palm_offsets};
use super::event::{Cause, Event, Gesture, Group};
use super::layers::{LayerFactors, layer_factors, layers_vary};
use super::trace_aim::trace_places;
use crate::drift::{Spread, linear_drift};
use crate::panel::{Finger, Model, Panel, ReturnPath, Supply};
use crate::touch::{
    BaseChange, SeenTouch, TouchError, TouchPlace, Touches, WorkLimits, base_changes, solve_touches,
};
use crate::units::{Capacitance, Length};

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
    /// Name of the user of the references.
    pub reference_user: String,
    /// Whether any layer has a tolerance.
    pub layers_vary: bool,
    /// What could not be judged because the panel file does not describe it.
    pub not_described: Vec<String>,
    /// What was simplified on the way.
    pub simplifications: Vec<String>,
    /// Field problems solved.
    pub field_problems: usize,
    /// Whether the accuracy was reached everywhere.
    pub accuracy_reached: bool,
    /// Fineness the touches started at.
    pub fineness: Option<f64>,
}

/// A place to be solved and what it stands for.
pub(super) struct Asked {
    pub place: TouchPlace,
    pub user: usize,
    pub towards: Option<usize>,
    pub aim: AskedAim,
}

/// What a place stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum AskedAim {
    /// A pad.
    Pad,
    /// A palm beside the pads.
    Palm,
    /// The trace of that number in the panel.
    Trace(usize),
}

/// Solves every touch and turns it into events.
///
/// # Errors
/// See [`TouchError`].
pub fn gather(panel: &Panel, limits: &WorkLimits<'_>) -> Result<EventTable, TouchError> {
    let users = &panel.usage.users.value;
    let mut asked = user_places(panel, users);
    let palm = palm(panel);
    if let (Some(palm), Some(edge)) = (&palm, panel.usage.palm_distance) {
        for pad in single_pads(panel) {
            let radius = Length::from_metres(palm.contact.metres() / 2.0);
            for offset in palm_offsets(panel, pad, edge, radius) {
                asked.push(Asked {
                    place: placed(palm, pad, offset),
                    user: users.len(),
                    towards: None,
                    aim: AskedAim::Palm,
                });
            }
        }
    }
    for (index, user) in users.iter().enumerate() {
        for place in trace_places(panel, user) {
            asked.push(Asked {
                place: placed(user, place.pad, place.offset),
                user: index,
                towards: None,
                aim: AskedAim::Trace(place.trace),
            });
        }
    }
    let adult = users
        .iter()
        .find(|user| user.name == ADULT)
        .or(panel.fingers.first())
        .or(users.first())
        .cloned();
    let references_start = asked.len();
    if let Some(adult) = &adult {
        for pad in single_pads(panel) {
            asked.push(Asked {
                place: placed(adult, pad, [Length::default(); 2]),
                user: users.len(),
                towards: None,
                aim: AskedAim::Pad,
            });
        }
    }
    let places: Vec<TouchPlace> = asked.iter().map(|one| one.place.clone()).collect();
    let touches = solve_touches(panel, &places, limits)?;
    let names: Vec<&str> = users
        .iter()
        .map(|user| user.name.as_str())
        .chain(palm.as_ref().map(|palm| palm.name.as_str()))
        .collect();
    let mut events = touch_events(panel, &names, &asked[..references_start], &touches)?;
    let mut field_problems = touches.problems();
    let mut accuracy_reached = touches.accuracy_reached;
    let varies = layers_vary(panel);
    if varies {
        let factors = layer_factors(
            panel,
            &asked[..references_start],
            &events,
            &limits.starting_at(touches.fineness),
        )?;
        field_problems += factors.field_problems;
        accuracy_reached &= factors.accuracy_reached;
        apply(&factors, &mut events);
    }
    let pads = asked[references_start..].iter().map(|one| one.place.pad);
    let references = references(panel, &touches, references_start, pads)?;
    let changes = base_changes(panel, &limits.settings, limits.stop, limits.progress)?;
    field_problems += changes.len();
    let drifts = drifts(
        panel,
        &touches,
        references_start,
        &places[references_start..],
    )?;
    let quiet = quiet_events(panel, &references, &drifts);
    let steps = surrounding_events(panel, &changes);
    let margin = panel.usage.noise_margin.value;
    let mut events: Vec<Event> = worst_places(events.into_iter().map(|(event, _)| event), margin)
        .into_iter()
        .chain(quiet)
        .chain(steps)
        .map(|event| event.with_bound(margin))
        .collect();
    events.sort_by_key(|event| (event.group == Group::False, event.pad));
    Ok(EventTable {
        events,
        pads: panel.pads.iter().map(|pad| pad.name.clone()).collect(),
        references,
        reference_user: adult.map_or_else(String::new, |adult| adult.name),
        layers_vary: varies,
        not_described: not_described(panel, palm.is_some()),
        simplifications: touches.simplifications.clone(),
        field_problems,
        accuracy_reached,
        fineness: touches.fineness,
    })
}

/// Pads that have a threshold of their own: all but the segments of sliders.
fn single_pads(panel: &Panel) -> impl Iterator<Item = usize> + '_ {
    (0..panel.pads.len()).filter(|&pad| !panel.is_segment(&panel.pads[pad]))
}

/// The user a threshold is compared with.
const ADULT: &str = "adult";

fn placed(finger: &Finger, pad: usize, offset: [Length; 2]) -> TouchPlace {
    let mut finger = finger.clone();
    finger.offset = offset;
    TouchPlace { finger, pad }
}

fn user_places(panel: &Panel, users: &[Finger]) -> Vec<Asked> {
    let mut asked = Vec::new();
    for (index, user) in users.iter().enumerate() {
        for pad in 0..panel.pads.len() {
            let is_on_other = |on: &String| *on != panel.pads[pad].name;
            // The segments of a slider have a threshold together, not each.
            let is_segment = panel.is_segment(&panel.pads[pad]);
            if is_segment || user.on.as_ref().is_some_and(is_on_other) {
                continue;
            }
            asked.extend(aims(panel, pad, user).into_iter().map(|aim| Asked {
                place: placed(user, pad, aim.offset),
                user: index,
                towards: aim.towards,
                aim: AskedAim::Pad,
            }));
        }
    }
    asked
}

/// The gesture of a hand that leans: the panel's own palm, or none.
fn palm(panel: &Panel) -> Option<Finger> {
    panel.usage.palm_distance?;
    panel.usage.palm.clone()
}

/// Nominal base at a pad's pin from its field part \[F\].
pub(crate) fn at_pin(panel: &Panel, pad: usize, field_part_farads: f64) -> Capacitance {
    let stray = panel.stray.of(&panel.pads[pad]);
    stray
        .at_pin(Capacitance::from_farads(field_part_farads))
        .nominal
}

/// Return paths at nominal value, weakest and strongest.
pub(crate) fn return_paths(panel: &Panel, supply: &Supply) -> [ReturnPath; 3] {
    let range = supply.return_range(&panel.usage.body.value);
    [range.nominal, range.least, range.most]
        .map(|path| path.map_or(ReturnPath::Earthed, ReturnPath::Through))
}

/// Every place on every supply as an event of every pad, with the index of its place.
fn touch_events(
    panel: &Panel,
    user_names: &[&str],
    asked: &[Asked],
    touches: &Touches,
) -> Result<Vec<(Event, usize)>, TouchError> {
    let mut events = Vec::new();
    for supply in &panel.usage.supplies.value {
        let circuit = panel.circuit_on(supply);
        let paths = return_paths(panel, supply);
        for (index, one) in asked.iter().enumerate() {
            let mut seen: Vec<SeenTouch> = Vec::with_capacity(paths.len());
            for path in paths {
                seen.push(touches.seen(index, path)?);
            }
            for pad in 0..panel.pads.len() {
                let shifts: Option<Vec<Capacitance>> = seen
                    .iter()
                    .map(|seen| Some(Capacitance::from_farads(seen.shifts[pad]?.value)))
                    .collect();
                let (Some(shifts), Some(base), Some(shift)) =
                    (shifts, seen[0].bases[pad], seen[0].shifts[pad])
                else {
                    continue;
                };
                let [base_value, base_error, shift_error] =
                    [base.estimate.value, base.estimate.error, shift.error]
                        .map(Capacitance::from_farads);
                let at_pin = panel.stray.of(&panel.pads[pad]).at_pin(base_value);
                let counts = circuit.shift_in_counts(&at_pin, base_error, &shifts, shift_error);
                let through = seen[0].couplings[pad].map(Capacitance::from_farads);
                let gesture = Gesture {
                    user: user_names[one.user].to_owned(),
                    supply: supply.name.clone(),
                    aimed_at: panel.pads[one.place.pad].name.clone(),
                    offset: one.place.finger.offset,
                    towards: one.towards.map(|pad| panel.pads[pad].name.clone()),
                };
                let is_own = one.place.pad == pad;
                let (group, cause) = match (one.aim, is_own) {
                    (AskedAim::Palm, _) => (Group::False, Cause::Palm(gesture)),
                    (AskedAim::Trace(trace), _) => {
                        let trace = panel.traces[trace].name.clone();
                        (Group::False, Cause::TraceTouch(gesture, trace))
                    }
                    (AskedAim::Pad, true) => (Group::True, Cause::Touch(gesture)),
                    (AskedAim::Pad, false) => (Group::False, Cause::NeighbourTouch(gesture)),
                };
                let event = Event {
                    group,
                    cause,
                    pad,
                    mean: counts.value,
                    input_range: counts.tolerance_range,
                    numerical_error: counts.error,
                    noise: circuit.noise_while_touched(at_pin.nominal + shifts[0], through),
                    bound: 0.0,
                };
                events.push((event.with_bound(panel.usage.noise_margin.value), index));
            }
        }
    }
    Ok(events)
}

/// Of events of the same user, supply and pad the one with the worst bound.
fn worst_places(events: impl Iterator<Item = Event>, noise_margin: f64) -> Vec<Event> {
    let mut worst: indexmap::IndexMap<(bool, Option<String>, String, String, usize), Event> =
        indexmap::IndexMap::new();
    for event in events {
        let event = event.with_bound(noise_margin);
        let Some(gesture) = event.cause.gesture() else {
            continue;
        };
        let trace = match &event.cause {
            Cause::TraceTouch(_, trace) => Some(trace.clone()),
            _ => None,
        };
        let key = (
            event.group == Group::True,
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
        Group::False => event.bound > than.bound,
    }
}

fn apply(factors: &LayerFactors, events: &mut [(Event, usize)]) {
    for (event, _) in events {
        let [low, high] = factors.of(event);
        let spread = |counts: f64, toward: f64, away: f64| {
            counts * if counts >= 0.0 { toward } else { away }
        };
        event.input_range = [
            spread(event.input_range[0], low, high),
            spread(event.input_range[1], high, low),
        ];
    }
}

fn references(
    panel: &Panel,
    touches: &Touches,
    start: usize,
    pads: impl Iterator<Item = usize>,
) -> Result<Vec<Reference>, TouchError> {
    let Some(supply) = panel.usage.supplies.value.first() else {
        return Ok(Vec::new());
    };
    let [nominal, ..] = return_paths(panel, supply);
    let mut references = Vec::new();
    for (number, pad) in pads.enumerate() {
        let seen = touches.seen(start + number, nominal)?;
        if let (Some(base), Some(shift)) = (seen.bases[pad], seen.shifts[pad]) {
            let circuit = &panel.electronics.circuit;
            let base_at_pin = at_pin(panel, pad, base.estimate.value);
            references.push(Reference {
                pad,
                counts: circuit
                    .counts_towards_touch(base_at_pin, Capacitance::from_farads(shift.value)),
                base_at_pin,
                base_count: circuit.count(base_at_pin),
                noise: circuit.noise(base_at_pin).total(),
            });
        }
    }
    Ok(references)
}

/// What drifts away while a held finger stops the baseline, of the pads of the references \[counts\]; nothing
/// where a residue is entered or no climate is given.
fn drifts(
    panel: &Panel,
    touches: &Touches,
    start: usize,
    places: &[TouchPlace],
) -> Result<Vec<(usize, Spread)>, TouchError> {
    let climate = &panel.environment.climate;
    let mut drifts = Vec::new();
    if !climate.is_given || panel.usage.drift_residue.is_some() {
        return Ok(drifts);
    }
    let kelvin = climate.fastest_change_k_per_s.value * climate.held.value.seconds();
    for (number, place) in places.iter().enumerate() {
        // The untouched pad is the same on every supply.
        let seen = touches.seen(start + number, ReturnPath::Earthed)?;
        if let Some(linear) = linear_drift(panel, &seen, place.pad) {
            drifts.push((place.pad, linear.counts_per_k().scaled(kelvin)));
        }
    }
    Ok(drifts)
}

/// Events without a touch: noise and drift.
fn quiet_events(panel: &Panel, references: &[Reference], drifts: &[(usize, Spread)]) -> Vec<Event> {
    let mut events = Vec::new();
    for reference in references {
        let quiet = |cause: Cause, mean: f64| Event {
            group: Group::False,
            cause,
            pad: reference.pad,
            mean,
            input_range: [mean; 2],
            numerical_error: 0.0,
            noise: reference.noise,
            bound: 0.0,
        };
        events.push(quiet(Cause::Noise, 0.0));
        if let Some(residue) = panel.usage.drift_residue {
            let circuit = &panel.electronics.circuit;
            let counts = circuit.counts_towards_touch(reference.base_at_pin, residue);
            events.push(quiet(Cause::Drift, counts));
        }
        // Towards a touch while it gets warmer or, with the other sign, colder.
        let own = drifts.iter().filter(|(pad, _)| *pad == reference.pad);
        for (_, walk) in own {
            let least = match walk.least * walk.most > 0.0 {
                true => walk.least.abs().min(walk.most.abs()),
                false => 0.0,
            };
            events.push(Event {
                input_range: [least, walk.largest_size()],
                ..quiet(Cause::Drift, walk.nominal.abs())
            });
        }
    }
    events
}

/// Every change of the surroundings, as every pad sees it.
fn surrounding_events(panel: &Panel, changes: &[BaseChange]) -> Vec<Event> {
    let circuit = &panel.electronics.circuit;
    let mut events = Vec::new();
    for one in changes {
        let both = one.before.iter().zip(&one.changes);
        for (&pad, (before, change)) in one.pads.iter().zip(both) {
            let at_pin = panel.stray.of(&panel.pads[pad]);
            let at_pin = at_pin.at_pin(Capacitance::from_farads(before.value));
            let [change, base_error, change_error] =
                [change.value, before.error, change.error].map(Capacitance::from_farads);
            let counts = circuit.shift_in_counts(&at_pin, base_error, &[change], change_error);
            events.push(Event {
                group: Group::False,
                cause: Cause::Surrounding(one.kind, one.name.clone()),
                pad,
                mean: counts.value,
                input_range: counts.tolerance_range,
                numerical_error: counts.error,
                noise: circuit.noise(at_pin.nominal + change).total(),
                bound: 0.0,
            });
        }
    }
    events
}

fn not_described(panel: &Panel, has_palm: bool) -> Vec<String> {
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
    if !has_palm {
        missing.push("a palm beside the pads (window.palm_distance)".to_owned());
    }
    if panel.usage.drift_residue.is_none() && !panel.environment.climate.is_given {
        missing.push("drift that tracking leaves ([climate] or window.drift_residue)".to_owned());
    }
    missing
}
