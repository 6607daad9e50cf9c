//! From what was typed to what is trusted: every section on its own, then what they mean together.
//!
//! Values are checked in file order and the first thing wrong is reported. Defaults are filled in
//! here, and only here; each is marked.

mod circuit;
mod connection;
mod copper;
mod counts;
mod environment;
mod films;
mod fingers;
mod gloves;
mod guards;
mod hatch_lines;
mod pads;
mod segments;
mod sheet;
mod slots;
mod stack;
pub(super) mod study;
mod study_values;
mod surroundings;
mod traces;
mod usage;

use super::error::Finding;
use super::keys::{Step, steps};
use super::typed::PanelFile;
use super::words::{listed, nearest};
use crate::panel::lowering::{FINGER, GROUND};
use crate::panel::{CopperModel, IdleState, Model, Origin, Pad, Panel, Sourced, Stray};
use padfield_engine::units::{Capacitance, Length, LineCapacitance, Toleranced};
use sheet::Sheet;
use std::collections::HashMap;

/// Shortest and longest plausible dimension: beyond, a unit has been mistaken.
const SHORTEST: Length = Length::from_metres(1e-9);
const LONGEST: Length = Length::from_metres(10.0);

const DEFAULT_WALL_DISTANCE: Length = Length::from_mm(160.0);
/// Common practice, no source.
const DEFAULT_PIN_PF: [f64; 3] = [5.0, 3.0, 10.0];
/// Common practice, no source.
const DEFAULT_TRACE_PF_PER_CM: [f64; 3] = [0.3, 0.1, 0.6];

/// Checks a typed file and fills in its defaults.
pub(super) fn trust(file: &PanelFile) -> Result<Panel, Finding> {
    counts::sections(file)?;
    let layers = stack::layers(file)?;
    let pads::Pads {
        pads,
        groups,
        sliders,
    } = pads::pads(file, &layers)?;
    counts::touches(file, &pads)?;
    let copper::Copper {
        board,
        grounds,
        guards,
        traces,
    } = copper::copper(file, &layers, &pads, &groups)?;
    let pads = traces::not_drawn(pads, &traces);
    sheet::pads_covered(&layers, &pads, board.value)?;
    let touched = Sheet::of(&layers, 0, board.value);
    let slots = slots::slots(file, &layers, &groups, board.value)?;
    let films = films::films(file, &touched)?;
    let bezels = surroundings::bezels(file, &touched)?;
    let objects = surroundings::objects(file)?;
    let fingers = fingers::fingers(file, &pads, &touched)?;
    let usage = usage::usage(file, &fingers)?;
    conductor_names(file, &pads)?;
    Ok(Panel {
        title: file
            .title
            .clone()
            .unwrap_or_else(|| "untitled panel".to_owned()),
        revision: revision(file),
        board,
        layers,
        pads,
        groups,
        sliders,
        grounds,
        guards,
        traces,
        bezels,
        objects,
        slots,
        films,
        fingers,
        idle: sourced(file.idle.map(|word| word.0), IdleState::Grounded),
        stray: stray(file)?,
        electronics: circuit::electronics(file)?,
        model: sourced(file.model.map(|word| word.0), Model::Volume),
        copper: sourced(file.copper_model.map(|word| word.0), CopperModel::Sheet),
        wall_distance: sourced(
            file.wall_distance
                .map(|given| positive(steps!["wall_distance"], given.0, "wall distance"))
                .transpose()?,
            DEFAULT_WALL_DISTANCE,
        ),
        usage,
        environment: environment::environment(file)?,
    })
}

fn sourced<T>(given: Option<T>, default: T) -> Sourced<T> {
    match given {
        Some(value) => Sourced {
            value,
            origin: Origin::Given,
        },
        None => Sourced {
            value: default,
            origin: Origin::Default,
        },
    }
}

/// A length in millimetres without trailing zeros.
fn show_mm(length: Length) -> String {
    let text = format!("{:.6}", length.mm());
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{} mm", if text == "-0" { "0" } else { text })
}

fn in_range(steps: Vec<Step>, length: Length, what: &str) -> Result<Length, Finding> {
    if length.metres().abs() > LONGEST.metres() {
        return Err(Finding::at(
            steps,
            format!("{what} is out of range"),
            "write at most 10 m",
        ));
    }
    Ok(length)
}

/// A dimension more than zero and within the plausible range.
fn positive(steps: Vec<Step>, length: Length, what: &str) -> Result<Length, Finding> {
    if length.metres() <= 0.0 {
        return Err(Finding::at(
            steps,
            format!("{what} is {}", show_mm(length)),
            "write more than 0 mm",
        ));
    }
    if length < SHORTEST {
        return Err(Finding::at(
            steps,
            format!("{what} is out of range"),
            "write at least 1e-6 mm",
        ));
    }
    in_range(steps, length, what)
}

fn not_negative(steps: Vec<Step>, length: Length, what: &str) -> Result<Length, Finding> {
    if length.metres() == 0.0 {
        return Ok(length);
    }
    positive(steps, length, what).map_err(|finding| Finding {
        hint: finding.hint.replace("more than 0 mm", "0 mm or more"),
        ..finding
    })
}

/// A thickness whose whole tolerance interval is positive.
fn positive_interval(
    steps: Vec<Step>,
    length: Toleranced<Length>,
    what: &str,
) -> Result<Toleranced<Length>, Finding> {
    positive(steps.clone(), length.nominal, what)?;
    if length.least.metres() <= 0.0 {
        return Err(Finding::at(
            steps,
            format!(
                "the tolerance lets {what} fall to {}",
                show_mm(length.least)
            ),
            "make the tolerance smaller than the value",
        ));
    }
    Ok(length)
}

/// Index of the name among `known`, or a finding with the nearest one.
fn find_name<'k>(
    steps: Vec<Step>,
    name: &str,
    kind: &str,
    known: impl Iterator<Item = &'k str> + Clone,
) -> Result<usize, Finding> {
    known.clone().position(|k| k == name).ok_or_else(|| {
        let hint = match nearest(name, known.clone()) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => format!("write {}", listed(known)),
        };
        Finding::at(steps, format!("there is no {kind} \"{name}\""), hint)
    })
}

fn capacitance_in_range(steps: Vec<Step>, capacitance: Capacitance) -> Result<(), Finding> {
    if (0.0..=1.0).contains(&capacitance.farads()) {
        return Ok(());
    }
    Err(Finding::at(
        steps,
        "a capacitance of this size makes no sense here",
        "write 0 pF or more, as in \"6 pF\"",
    ))
}

fn stray(file: &PanelFile) -> Result<Stray, Finding> {
    let entry = file.stray.as_ref();
    let pin = entry.and_then(|stray| stray.pin).map(|given| given.0);
    if let Some(given) = pin {
        capacitance_in_range(steps!["stray", "pin"], given.least)?;
        capacitance_in_range(steps!["stray", "pin"], given.most)?;
    }
    let trace = entry.and_then(|stray| stray.trace).map(|given| given.0);
    if let Some(given) = trace {
        let per_metre = |value: LineCapacitance| Capacitance::from_farads(value.farads_per_metre());
        capacitance_in_range(steps!["stray", "trace"], per_metre(given.least))?;
        capacitance_in_range(steps!["stray", "trace"], per_metre(given.most))?;
    }
    let interval = |values: [f64; 3]| Toleranced {
        nominal: values[0],
        least: values[1],
        most: values[2],
    };
    let pin_default = interval(DEFAULT_PIN_PF);
    let trace_default = interval(DEFAULT_TRACE_PF_PER_CM);
    Ok(Stray {
        pin: sourced(
            pin,
            Toleranced {
                nominal: Capacitance::from_pf(pin_default.nominal),
                least: Capacitance::from_pf(pin_default.least),
                most: Capacitance::from_pf(pin_default.most),
            },
        ),
        trace: sourced(
            trace,
            Toleranced {
                nominal: LineCapacitance::from_pf_per_cm(trace_default.nominal),
                least: LineCapacitance::from_pf_per_cm(trace_default.least),
                most: LineCapacitance::from_pf_per_cm(trace_default.most),
            },
        ),
    })
}

/// A revision of blanks is none.
fn revision(file: &PanelFile) -> Option<String> {
    let revision = file.revision.as_deref()?.trim();
    (!revision.is_empty()).then(|| revision.to_owned())
}

/// Every conductor needs a name of its own: pads, fingers, ground areas and guards share one table of
/// results. A group's name is not a conductor's unless it is the name of its only pad.
fn conductor_names(file: &PanelFile, pads: &[Pad]) -> Result<(), Finding> {
    let mut taken: HashMap<&str, &str> = HashMap::new();
    for pad in pads {
        taken.insert(&pad.name, "pad");
    }
    let foreign = file.trace.iter().filter(|(_, trace)| trace.pad.is_none());
    let foreign = foreign.map(|(name, _)| name);
    let sections = [
        ("ground", file.ground.keys().collect::<Vec<_>>()),
        ("shield", file.shield.keys().collect()),
        ("guard", file.guard.keys().collect()),
        // The trace of a pad is a part of its conductor.
        ("trace", foreign.collect()),
        ("bezel", file.bezel.keys().collect()),
        ("object", file.object.keys().collect()),
        ("film", file.film.keys().collect()),
        ("finger", file.finger.keys().collect()),
    ];
    for (section, names) in sections {
        for name in names {
            let is_reserved = name == GROUND || name == FINGER;
            if is_reserved && !matches!(section, "ground" | "finger") {
                return Err(Finding::at_key(
                    steps![section, name],
                    match section {
                        "object" => format!("an object may not be called \"{name}\""),
                        _ => format!("a {section} may not be called \"{name}\""),
                    },
                    "the name stands for that conductor itself: choose another",
                ));
            }
            if let Some(other) = taken.insert(name, section) {
                return Err(Finding::at_key(
                    steps![section, name],
                    format!("the name \"{name}\" is already that of a {other}"),
                    "give everything that conducts a name of its own",
                ));
            }
        }
    }
    Ok(())
}
