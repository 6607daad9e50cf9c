//! Bases of all channels: those that touches have shown, and those of segments that nobody touches.

use super::judge::printed_bases;
use super::limits::{TouchError, WorkLimits};
use super::mirrors::panel_mirrors;
use super::places::{TouchWork, pads_apart};
use super::seen::{idle_role, part_role};
use super::tally::Tally;
use crate::panel::lowering::{FINGER, LoweredPart, LoweringOptions, lower};
use crate::panel::{Connection, IdleState, Model, Panel};
use padfield_engine::capacitance::{AlgebraError, Measurement, Role, measure};
use padfield_engine::field::{Bounded, Judge, Printed, Settings, join_printed};
use padfield_engine::units::Capacitance;
use std::time::Instant;

/// The untouched pads of a panel, each of them a channel of the scan.
#[derive(Clone, Debug)]
pub struct ChannelBases {
    /// Field parts by panel index \[F\]; none where the model misses the pad.
    pub bases: Vec<Option<Measurement>>,
    /// Field problems that were solved for them, untouched only.
    pub problems: usize,
    /// What those took.
    pub work: TouchWork,
    /// Largest estimated relative error of those.
    pub accuracy_estimated: f64,
    /// Whether the accuracy was reached in all of those.
    pub accuracy_reached: bool,
    /// What missed it.
    pub missed: Vec<Printed>,
}

impl ChannelBases {
    /// Nominal bases at the pin of all channels that the model holds: what a scan measures one after the
    /// other.
    pub fn at_pin(&self, panel: &Panel) -> Vec<Capacitance> {
        let pads = panel.pads.iter().zip(&self.bases);
        pads.filter_map(|(pad, base)| {
            let field_part = Capacitance::from_farads(base.as_ref()?.estimate.value);
            Some(panel.stray.of(pad).at_pin(field_part).nominal)
        })
        .collect()
    }
}

/// Completes the bases that touches have shown, by panel index: segments are pieces of the ground while
/// other pads are touched.
///
/// One untouched solve per slider or wheel with its segments driven, one of two that are images of each
/// other; nothing is solved where nothing is missing.
///
/// # Errors
/// See [`TouchError`].
pub fn channel_bases(
    panel: &Panel,
    known: Vec<Option<Measurement>>,
    limits: &WorkLimits<'_>,
) -> Result<ChannelBases, TouchError> {
    let start = Instant::now();
    let mut found = ChannelBases {
        bases: known,
        problems: 0,
        work: TouchWork::default(),
        accuracy_estimated: 0.0,
        accuracy_reached: true,
        missed: Vec::new(),
    };
    // A cut misses pads for good, and pads that are not grounded while idle are in every touch.
    if panel.model.value != Model::Volume || panel.idle.value != IdleState::Grounded {
        return Ok(found);
    }
    let tally = Tally::new(
        panel.sliders.len(),
        "untouched sliders solved",
        limits.progress,
    );
    let tell = |text: &str| tally.tell(text);
    let limits = limits.heard_by(&tell);
    for slider in &panel.sliders {
        let of_group = |&pad: &usize| panel.pads[pad].group == slider.group;
        let members: Vec<usize> = (0..panel.pads.len()).filter(of_group).collect();
        if members.iter().any(|&pad| found.bases[pad].is_none()) {
            if (limits.stop)() {
                return Err(TouchError::Interrupted);
            }
            (limits.progress)(&format!("bases of \"{}\"", slider.group));
            found.add(panel, &members, &limits)?;
        }
        tally.add();
    }
    found.work.seconds = start.elapsed().as_secs_f64();
    Ok(found)
}

impl ChannelBases {
    /// Solves the untouched segments of one slider or wheel.
    fn add(
        &mut self,
        panel: &Panel,
        members: &[usize],
        limits: &WorkLimits<'_>,
    ) -> Result<(), TouchError> {
        let (Some(&first), Some(finger)) = (members.first(), panel.fingers.first()) else {
            return Ok(());
        };
        // The finger only marks where the outer wall is: it is taken away again.
        let mut finger = finger.clone();
        finger.glove = None;
        let name = |pad: usize| &panel.pads[pad].name;
        let lowered = lower(panel, name(first), &finger, LoweringOptions::default())?;
        let mut case = lowered.case;
        case.conductors.retain(|conductor| conductor.name != FINGER);
        let mirrors = panel_mirrors(panel)?;
        let image = |pad: usize| mirrors.iter().map(|mirror| mirror.images[pad]).min();
        let stands_for = |pad: usize| image(pad).map_or(pad, |image| image.min(pad));
        let live = lowered.parts.iter();
        let live = live.filter(|part| part.connection != Connection::Grounded);
        let driven = members.iter().filter(|&&pad| stands_for(pad) == pad);
        let driven: Vec<String> = driven.map(|&pad| name(pad).clone()).collect();
        let live = live.map(|part| part.name.clone());
        let idle = idle_role(panel.idle.value);
        let parts = lowered.parts.clone();
        let names = driven.clone();
        let settings = Settings {
            drive: Some(driven.iter().cloned().chain(live).collect()),
            apart: pads_apart(panel),
            judge: Some(Judge::new(move |answer| {
                let bare = answer.with.without_outlines();
                let [whole, rest] = [&answer.with, &bare].map(|matrix| {
                    let each = names.iter();
                    let base = |name| measured_among(matrix, name, &parts, idle).ok();
                    each.map(base).collect::<Vec<_>>()
                });
                printed_bases((&names, &vec![0.0; names.len()]), &whole, &rest)
            })),
            ..limits.settings.clone()
        };
        let answer = limits.solve("untouched", &case, None, &settings)?;
        for &pad in members {
            if self.bases[pad].is_none() {
                let measured = name(stands_for(pad));
                let base = measured_among(&answer.with, measured, &lowered.parts, idle)?;
                self.bases[pad] = Some(base);
            }
        }
        self.problems += 1;
        self.work.note(&answer);
        self.accuracy_estimated = self.accuracy_estimated.max(answer.accuracy.estimated);
        self.accuracy_reached &= answer.accuracy.reached;
        join_printed(&mut self.missed, answer.accuracy.missed);
        Ok(())
    }
}

/// Base of one segment while the others are idle.
fn measured_among(
    matrix: &Bounded,
    measured: &String,
    parts: &[LoweredPart],
    idle: Role,
) -> Result<Measurement, AlgebraError> {
    let role = |conductor: &String| match parts.iter().find(|part| part.name == *conductor) {
        _ if conductor == measured => Role::Measured,
        Some(part) => part_role(part, false, Role::Grounded),
        None => idle,
    };
    let roles: Vec<Role> = matrix.conductors.iter().map(role).collect();
    measure(matrix, &roles)
}
