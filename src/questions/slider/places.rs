//! Where fingers stand on a slider and beside it.

use crate::panel::outline::pad_box;
use crate::panel::{Course, Finger, NearMiss, Panel, Slider};
use crate::questions::walk::{Stroke, stroke, usual_fingers};
use crate::questions::window::{OnTrace, TracePlace, palm, palm_offsets, trace_places};
use crate::touch::TouchPlace;
use padfield_engine::units::Length;

/// Pads up to this many times as far from the slider as the nearest one are beside it.
const BESIDE: f64 = 1.25;

/// A finger and what it does there.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Standing {
    /// On the line of the stroke, or beside it by the aim error.
    Stroke {
        /// Number among those who walk; those who do not come after them.
        walker: usize,
        finger: Finger,
        /// Number of the place along the stroke.
        place: usize,
        /// Off the line.
        across: Length,
    },
    /// On a pad beside the slider, the aim error towards it.
    Beside {
        finger: Finger,
        /// Panel index of the pad.
        pad: usize,
    },
    /// A palm that leans beside it.
    Palm {
        finger: Finger,
        /// Where its middle is.
        at: [Length; 2],
    },
    /// On the trace of a segment.
    Trace {
        finger: Finger,
        /// Number of the trace in the panel.
        trace: usize,
        at: [Length; 2],
    },
}

impl Standing {
    /// Whether a position must be reported.
    pub fn must_report(&self) -> bool {
        matches!(self, Self::Stroke { .. })
    }
}

/// The users of a slider and where they go.
pub(super) struct Places<'p> {
    panel: &'p Panel,
    slider: &'p Slider,
    /// Smallest and largest bare contact.
    pub walkers: Vec<Finger>,
    others: Vec<Finger>,
    /// Of every walker.
    pub strokes: Vec<Stroke>,
    /// Pads beside the slider.
    beside: Vec<usize>,
}

impl<'p> Places<'p> {
    pub fn new(panel: &'p Panel, slider: &'p Slider) -> Self {
        let users = &panel.usage.users.value;
        let is_user = |finger: &Finger| users.iter().any(|user| user.name == finger.name);
        let mut walkers = usual_fingers(panel);
        // Fingers of the file that are no users walk only where no user does.
        if walkers.iter().any(is_user) {
            walkers.retain(is_user);
        }
        let walks = |user: &&Finger| walkers.iter().all(|walker| walker.name != user.name);
        Self {
            panel,
            slider,
            others: users.iter().filter(walks).cloned().collect(),
            strokes: walkers.iter().map(|_| stroke(panel, slider)).collect(),
            walkers,
            beside: beside(panel, slider),
        }
    }

    /// The whole stroke of everyone who walks, and the largest of them on every pad beside it.
    pub fn first(&self) -> Vec<Standing> {
        let mut first = Vec::new();
        for (walker, finger) in self.walkers.iter().enumerate() {
            let places = 0..self.strokes[walker].places.len();
            first.extend(places.map(|place| Standing::Stroke {
                walker,
                finger: finger.clone(),
                place,
                across: Length::default(),
            }));
        }
        if let Some(largest) = self.walkers.last() {
            first.extend(self.beside.iter().map(|&pad| Standing::Beside {
                finger: largest.clone(),
                pad,
            }));
            first.extend(self.on_traces(largest));
        }
        first.extend(self.palms());
        first
    }

    /// A finger on the trace of every segment, as near to it as nobody lands who aims at the slider; nearer only
    /// where the file says that a miss must not count.
    fn on_traces(&self, finger: &Finger) -> Vec<Standing> {
        let panel = self.panel;
        let misses_count = panel.usage.near_miss.value == NearMiss::MustNotAct;
        let is_judged = |place: &TracePlace| {
            let is_own = panel.pads[place.pad].group == self.slider.group;
            is_own && (place.kind == OnTrace::Clear || misses_count)
        };
        let mut found: Vec<TracePlace> = Vec::new();
        for place in trace_places(panel, finger).into_iter().filter(is_judged) {
            let mut others = found.iter_mut();
            let other = others.find(|other| other.trace == place.trace);
            let off = |place: &TracePlace| place.offset[0].metres().hypot(place.offset[1].metres());
            match other {
                Some(other) if off(&place) < off(other) => *other = place,
                Some(_) => {}
                None => found.push(place),
            }
        }
        found
            .iter()
            .map(|place| Standing::Trace {
                finger: finger.clone(),
                trace: place.trace,
                at: [0, 1].map(|axis| panel.pads[place.pad].centre[axis] + place.offset[axis]),
            })
            .collect()
    }

    /// The panel's palm to every side where its edge is nearest to a segment, beside the one that is most in
    /// the middle.
    fn palms(&self) -> Vec<Standing> {
        let panel = self.panel;
        let (Some(palm), Some(edge)) = (palm(panel), panel.usage.palm_distance) else {
            return Vec::new();
        };
        let radius = palm.contact * 0.5;
        let reach = (edge + radius).metres();
        let members =
            (0..panel.pads.len()).filter(|&pad| panel.pads[pad].group == self.slider.group);
        let mut sides: Vec<([i8; 2], f64, [Length; 2])> = Vec::new();
        for pad in members {
            let centre = panel.pads[pad].centre;
            let [x, y] = [0, 1].map(|axis| (centre[axis] - self.slider.centre[axis]).metres());
            let off = x.hypot(y);
            for offset in palm_offsets(panel, pad, edge, radius) {
                let side = offset.map(|part| (part.metres() / reach).round() as i8);
                let at = [0, 1].map(|axis| centre[axis] + offset[axis]);
                match sides.iter_mut().find(|known| known.0 == side) {
                    Some(known) if off < known.1 - 1e-9 => *known = (side, off, at),
                    Some(_) => {}
                    None => sides.push((side, off, at)),
                }
            }
        }
        let each = sides.into_iter();
        each.map(|(_, _, at)| Standing::Palm {
            finger: palm.clone(),
            at,
        })
        .collect()
    }

    /// Everyone where the stroke is weakest, on the line and to either side, and on the pad beside it that was
    /// felt most.
    pub fn others(
        &self,
        weakest: Option<&Standing>,
        strongest: Option<&Standing>,
    ) -> Vec<Standing> {
        let mut more = Vec::new();
        if let Some(Standing::Stroke { place, .. }) = weakest {
            let all = self.walkers.iter().chain(&self.others).enumerate();
            for (walker, finger) in all {
                let aim = finger.aim_error.value;
                let known = walker < self.walkers.len();
                for across in [aim * -1.0, Length::default(), aim] {
                    if across.metres() == 0.0 && known {
                        continue;
                    }
                    more.push(Standing::Stroke {
                        walker,
                        finger: finger.clone(),
                        place: *place,
                        across,
                    });
                }
            }
        }
        if let Some(Standing::Beside { pad, .. }) = strongest {
            let smaller = self.walkers.iter().rev().skip(1);
            more.extend(smaller.chain(&self.others).map(|finger| Standing::Beside {
                finger: finger.clone(),
                pad: *pad,
            }));
        }
        if let Some(Standing::Trace { trace, .. }) = strongest {
            let smaller = self.walkers.iter().rev().skip(1);
            let all = smaller.chain(&self.others);
            more.extend(
                all.flat_map(|finger| self.on_traces(finger)).filter(
                    |one| matches!(one, Standing::Trace { trace: own, .. } if own == trace),
                ),
            );
        }
        more
    }

    /// As places of fingers, told from the first segment.
    pub fn touches(&self, standing: &[Standing]) -> Vec<TouchPlace> {
        standing.iter().map(|one| self.touch(one)).collect()
    }

    pub fn touch(&self, standing: &Standing) -> TouchPlace {
        let (finger, at) = match standing {
            Standing::Stroke {
                finger,
                place,
                across,
                ..
            } => {
                let [x, y] = self.on_line(*place);
                let [dx, dy] = self.across(*place);
                (finger, [x + *across * dx, y + *across * dy])
            }
            Standing::Beside { finger, pad } => {
                let centre = self.panel.pads[*pad].centre;
                let aim = finger.aim_error.value;
                let towards = towards(centre, &extent(self.panel, self.slider));
                let at = [0, 1].map(|axis| centre[axis] + aim * towards[axis]);
                (finger, at)
            }
            Standing::Palm { finger, at } | Standing::Trace { finger, at, .. } => (finger, *at),
        };
        let mut finger = finger.clone();
        let segments = &self.panel.pads;
        let pad = segments
            .iter()
            .position(|pad| pad.group == self.slider.group)
            .unwrap_or(0);
        finger.offset = [0, 1].map(|axis| at[axis] - segments[pad].centre[axis]);
        TouchPlace { finger, pad }
    }

    fn on_line(&self, place: usize) -> [Length; 2] {
        self.strokes
            .first()
            .map_or(self.slider.centre, |stroke| stroke.places[place])
    }

    /// Unit vector across the stroke.
    fn across(&self, place: usize) -> [f64; 2] {
        match self.slider.course {
            Course::Straight { .. } => [0.0, 1.0],
            Course::Round { radius } => {
                let at = self.on_line(place);
                [0, 1].map(|axis| (at[axis] - self.slider.centre[axis]).metres() / radius.metres())
            }
        }
    }
}

/// Corners of the box around all segments \[m\].
fn extent(panel: &Panel, slider: &Slider) -> [[f64; 2]; 2] {
    let own = panel.pads.iter().filter(|pad| pad.group == slider.group);
    own.map(pad_box).fold(
        [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]],
        |[low, high], [from, to]| {
            [
                [0, 1].map(|axis| low[axis].min(from[axis])),
                [0, 1].map(|axis| high[axis].max(to[axis])),
            ]
        },
    )
}

/// From a point to the nearest one of a box \[m\].
fn to_box(from: [Length; 2], [low, high]: &[[f64; 2]; 2]) -> [f64; 2] {
    [0, 1].map(|axis| {
        let at = from[axis].metres();
        at.clamp(low[axis], high[axis]) - at
    })
}

/// Unit vector from a point to the nearest one of a box; to the right from within.
fn towards(from: [Length; 2], area: &[[f64; 2]; 2]) -> [f64; 2] {
    let [x, y] = to_box(from, area);
    match x.hypot(y) {
        0.0 => [1.0, 0.0],
        length => [x / length, y / length],
    }
}

/// Pads of their own that are nearest to a slider.
fn beside(panel: &Panel, slider: &Slider) -> Vec<usize> {
    let area = extent(panel, slider);
    let single = |pad: &crate::panel::Pad| pad.group != slider.group && !panel.is_segment(pad);
    let apart: Vec<(usize, f64)> = (0..panel.pads.len())
        .filter(|&pad| single(&panel.pads[pad]))
        .map(|pad| {
            let [x, y] = to_box(panel.pads[pad].centre, &area);
            (pad, x.hypot(y))
        })
        .collect();
    let nearest = apart.iter().map(|one| one.1).fold(f64::INFINITY, f64::min);
    let near = apart.into_iter().filter(|one| one.1 <= BESIDE * nearest);
    near.map(|one| one.0).collect()
}
