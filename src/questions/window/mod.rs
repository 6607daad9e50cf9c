//! Is there a threshold that every user crosses every time and nothing else ever crosses?
//!
//! Takes a panel with its users, supplies and measuring circuit; gives a [`Window`]: every event in
//! counts ([`Event`]), a threshold per pad ([`PadWindow`]), the pair of events that binds, and what
//! would widen it ([`Lever`]); fails when a touch cannot be solved. "No window" is a result.
//!
//! - **True events** must act: every user on every supply aimed at a pad, at the worst place within the
//!   user's aim error. **False events** must not: the same touches as every other pad sees them, a finger
//!   on a drawn trace, a palm beside the pads, noise, what tracking leaves of the drift, a wet film that
//!   appears, an object that arrives, a hand on a frame that floats.
//! - **Mean, input range, numerical error, noise** stay apart: the mean is at nominal values; the input
//!   range covers return path, stray capacitance, circuit and layer tolerances at their ends; the bound
//!   adds the estimated numerical error and [`Usage::noise_margin`](crate::panel::Usage) standard
//!   deviations of the noise on the unfavourable side.
//! - **Window ratio** W = lowest bound of the true events over highest bound of the false ones, pad by
//!   pad; the threshold is the geometric mean of the two, so that both have the same ratio to it.
//! - **Near misses**, a finger on the pad's own trace no farther off than a user may land, are judged as the
//!   file asks; only where nobody who aims at a pad could land is a finger on a trace a false event.
//! - Tolerances of what the field depends on are solved at the worst touch of every user, at the ends that its
//!   derivatives tell, and taken over, in proportion, to its other touches. Everything is counted by
//!   [`crate::event`].

mod aim;
mod asked;
mod checks;
mod compared;
mod contenders;
mod decide;
mod ends;
mod gather;
mod layouts;
mod levers;
mod lifts;
mod picture;
mod record;
mod report;
mod so_far;
#[cfg(test)]
mod tests;
mod trace_aim;

pub use crate::event::{Cause, Event, Gesture, Group, Worst};
pub(crate) use aim::palm_offsets;
pub(crate) use asked::palm;
pub(crate) use compared::place;
pub use decide::{PadWindow, ThresholdChoice, decide};
pub(crate) use decide::{ratio, threshold_between};
pub use gather::{EventTable, Reference, gather};
pub use layouts::Layout;
pub use levers::{Checked, FURTHEST, Lever, LeverSearch, Reach, levers};
pub use lifts::{LIFT_HEADER, Lift, lift_row, lift_words};
pub use picture::picture;
pub use record::WindowRecord;
pub use report::{pad_name, report, verdict, worth};
pub use so_far::SoFar;
pub(crate) use trace_aim::{OnTrace, TracePlace, trace_places};

use crate::cautions::cautions;
use crate::panel::{FilmBound, Finger, IdleState, LayerContent, Model, Panel};
use crate::sensitivity::PanelFamily;
use crate::touch::{TouchError, WorkLimits};
use padfield_engine::field::{Printed, Settings};
use std::time::Instant;

/// Everything about the thresholds of a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// All events, true ones first.
    pub table: EventTable,
    /// The threshold of every pad, in panel order.
    pub pads: Vec<PadWindow>,
    /// One threshold for all pads.
    pub common: PadWindow,
    /// What the panel is part of: cautions that belong to it.
    pub cautions: Vec<String>,
    /// What the numbers hang on, one line each.
    pub assumptions: Vec<String>,
    /// Field problems solved (each untouched and touched).
    pub field_problems: usize,
    /// Wall-clock time \[s\].
    pub seconds: f64,
    /// Window ratio the panel file wants.
    pub wanted_ratio: f64,
    /// Wanted relative error.
    pub accuracy_asked: f64,
    /// Whether it was reached everywhere.
    pub accuracy_reached: bool,
    /// What missed it.
    pub missed: Vec<Printed>,
}

impl Window {
    /// The pad with the smallest window ratio, of those that some user aims at.
    pub fn binding(&self) -> &PadWindow {
        let touched = self.pads.iter().filter(|pad| pad.weakest_true.is_some());
        let worst = touched.min_by(|a, b| a.ratio.total_cmp(&b.ratio));
        worst.unwrap_or(&self.common)
    }

    /// Whether every pad has a threshold that separates its events.
    pub fn exists(&self) -> bool {
        self.binding().ratio > 1.0
    }
}

/// Solves all touches of a panel's users and decides on thresholds, without the tolerances that only a file
/// tells ([`window_of`]).
///
/// # Errors
/// See [`TouchError`].
pub fn window(panel: &Panel, limits: &WorkLimits<'_>) -> Result<Window, TouchError> {
    window_of(&PanelFamily::of_panel(panel), limits)
}

/// Solves all touches of the users of a panel file and decides on thresholds.
///
/// # Errors
/// See [`TouchError`].
pub fn window_of(family: &PanelFamily, limits: &WorkLimits<'_>) -> Result<Window, TouchError> {
    let start = Instant::now();
    let panel = &family.panel;
    let table = gather(family, limits)?;
    let pads = (0..panel.pads.len())
        .map(|pad| decide(panel, &table, Some(pad)))
        .collect();
    Ok(Window {
        pads,
        common: decide(panel, &table, None),
        cautions: cautions(panel),
        assumptions: assumptions(panel, &table, &limits.settings),
        field_problems: table.field_problems,
        wanted_ratio: panel.usage.wanted_ratio.value,
        accuracy_asked: limits.settings.accuracy,
        accuracy_reached: table.accuracy_reached,
        missed: table.missed.clone(),
        table,
        seconds: start.elapsed().as_secs_f64(),
    })
}

fn mark(origin: crate::panel::Origin) -> &'static str {
    match origin {
        crate::panel::Origin::Given => "",
        crate::panel::Origin::Default => " [default]",
    }
}

fn films(panel: &Panel) -> String {
    let words = panel.films.iter().map(|film| {
        let bound = match film.bound {
            FilmBound::Dielectric => "dielectric",
            FilmBound::Floating => "floating conductor",
            FilmBound::Earthed => "earthed conductor",
        };
        format!("{} as {bound}", film.name)
    });
    words.collect::<Vec<_>>().join(", ")
}

fn model_line(panel: &Panel) -> String {
    let model = match panel.model.value {
        Model::Volume => "volume (three dimensions)",
        Model::Axisymmetric => "axisymmetric (the pad on its own)",
        Model::Section => "section: trend only, do not design with these values",
    };
    let idle = match panel.idle.value {
        IdleState::Grounded => "held at 0 V",
        IdleState::Floating => "left open",
        IdleState::Driven => "driven in phase",
    };
    format!(
        "Model: {model}{}; idle pads {idle}{} while one is measured; circuit and stray capacitance as \
         padfield solve tells them.",
        mark(panel.model.origin),
        mark(panel.idle.origin)
    )
}

fn drift_line(panel: &Panel) -> Option<String> {
    let climate = &panel.environment.climate;
    match (panel.usage.drift_residue, climate.is_given) {
        (Some(_), _) => Some("Drift that tracking leaves: as entered.".to_owned()),
        (None, true) => Some(format!(
            "Drift that tracking leaves: the fastest change, {:.2} K/min{}, while the baseline stands still under \
             a finger held for {} s{}; at other times tracking is taken to follow (padfield drift).",
            60.0 * climate.fastest_change_k_per_s.value,
            mark(climate.fastest_change_k_per_s.origin),
            climate.held.value.seconds(),
            mark(climate.held.origin)
        )),
        (None, false) => None,
    }
}

fn user_words(user: &Finger) -> String {
    let glove = user.glove.map_or_else(String::new, |glove| {
        format!(", glove {:.3} mm", glove.thickness.mm())
    });
    format!(
        "{} (contact {:.1} mm, dome {:.1} mm{glove}, aim error {:.1} mm{}; {})",
        user.name,
        user.contact.mm(),
        user.dome.mm(),
        user.aim_error.value.mm(),
        mark(user.aim_error.origin),
        user.source
    )
}

fn assumptions(panel: &Panel, table: &EventTable, settings: &Settings) -> Vec<String> {
    let usage = &panel.usage;
    let users: Vec<String> = usage.users.value.iter().map(user_words).collect();
    let supplies = usage.supplies.value.iter();
    let supplies: Vec<String> = supplies
        .map(|supply| format!("{} ({})", supply.name, supply.source))
        .collect();
    let body = usage.body.value;
    let front: Vec<String> = panel
        .layers
        .iter()
        .filter_map(|layer| match &layer.content {
            LayerContent::Dielectric { material, .. } => Some(format!("{} {material}", layer.name)),
            LayerContent::Copper => None,
        })
        .collect();
    let mut lines = vec![
        format!("Users{}: {}.", mark(usage.users.origin), users.join("; ")),
        format!(
            "Supplies{}: {}; body to earth {:.0} pF ({:.0} to {:.0}){}, in series.",
            mark(usage.supplies.origin),
            supplies.join("; "),
            body.nominal.pf(),
            body.least.pf(),
            body.most.pf(),
            mark(usage.body.origin)
        ),
        format!(
            "Bound: mean at the unfavourable end of return path, stray capacitance, circuit and layer \
             tolerances, then the estimated numerical error and {} standard deviations of the noise{}.",
            usage.noise_margin.value,
            mark(usage.noise_margin.origin)
        ),
        format!(
            "Layers ({}): {}.",
            front.join(", "),
            if table.field_varies {
                "tolerances, of drawn dimensions too, at the ends that the derivatives tell, solved at the worst touch of every user"
            } else {
                "no tolerance given"
            }
        ),
        model_line(panel),
        "Threshold fixed for all units; each pad may have its own.".to_owned(),
        if panel.films.is_empty() {
            "Touched face dry and clean; fingers rigid conductors that stand still.".to_owned()
        } else {
            format!(
                "Every touch is one on the wet face ({}), with the baseline of the wet face; the step from \
                 dry to wet is an event of each film on its own at nominal layers; fingers rigid \
                 conductors that stand still.",
                films(panel)
            )
        },
    ];
    lines.extend(drift_line(panel));
    lines.extend(
        table
            .simplifications
            .iter()
            .map(|text| format!("Simplified: {text}.")),
    );
    lines.push(format!(
        "padfield {}, accuracy asked {:.2} %.",
        env!("CARGO_PKG_VERSION"),
        100.0 * settings.accuracy
    ));
    lines
}
