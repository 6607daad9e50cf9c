//! A cut across a trace, with a finger on the face above it: planar, results per metre of trace.

use super::super::outline::{distance, pad_polygons};
use super::super::{Connection, Finger, Panel, TraceNet};
use super::cut::{cut_box, cut_screen, cut_solid, extent};
use super::flat::{dielectrics, finger_section, span};
use super::levels::Levels;
use super::{FINGER, LoweringError, copper, finger_body, glove, slot, surroundings};
use padfield_engine::case::{Case, Conductor, Kind, Screen, Solid, Wall};
use padfield_engine::units::Length;

/// Distance of the places that are looked at for the cut.
const STEP: Length = Length::from_mm(1.0);

/// A trace and what lies around it, as a planar field problem.
#[derive(Clone, Debug, PartialEq)]
pub struct TraceSection {
    /// The problem; conductors besides the trace and the finger are to be held at 0 V.
    pub case: Case,
    /// Name of the trace's conductor.
    pub conductor: String,
    /// Where the cut meets the middle of the trace, x and y \[m\].
    pub at_m: [f64; 2],
    /// Whether the cut meets the trace's own pad.
    pub meets_own_pad: bool,
}

/// Cuts trace number `trace` where it is farthest from all pads, under a finger on its middle.
///
/// # Errors
/// See [`LoweringError`].
pub fn trace_section(
    panel: &Panel,
    trace: usize,
    finger: &Finger,
) -> Result<TraceSection, LoweringError> {
    let drawn = &panel.traces[trace];
    let own_pad = match &drawn.net {
        TraceNet::Pad(name) => Some(name.clone()),
        TraceNet::Own(_) => None,
    };
    let outlines: Vec<_> = panel.pads.iter().map(pad_polygons).collect();
    let room = |at: &[f64; 2]| {
        let point = vec![vec![*at]];
        let distances = outlines.iter().map(|outline| distance(outline, &point));
        distances.fold(f64::INFINITY, f64::min)
    };
    let points = drawn.points(STEP);
    // Between corners, so that the cut is across one piece.
    let inner = points
        .windows(2)
        .filter(|pair| pair[0].1 == pair[1].1)
        .map(|pair| {
            let middle = [0, 1].map(|axis| 0.5 * (pair[0].0[axis] + pair[1].0[axis]));
            (middle, pair[0].1)
        });
    let (at_m, along) = inner
        .max_by(|a, b| room(&a.0).total_cmp(&room(&b.0)))
        .unwrap_or(points[0]);
    let across = 1 - along;
    // On its own the trace is a conductor with a row.
    let mut alone = panel.clone();
    alone.traces[trace].net = TraceNet::Own(Connection::Grounded);
    // Its pad may have the same name.
    let conductor = format!("trace {}", drawn.name);
    alone.traces[trace].name.clone_from(&conductor);
    let levels = Levels::new(panel, drawn.layer)?;
    let metal = copper::metal(&alone, &levels, &[])?;
    let screens: Vec<Screen> = metal
        .screens
        .into_iter()
        .filter_map(|screen| cut_screen(screen, along, at_m[along]))
        .collect();
    let mut conductors: Vec<Conductor> = Vec::new();
    for conductor in metal.conductors {
        let pieces = conductor.solids.iter();
        let solids: Vec<Solid> = pieces
            .flat_map(|solid| cut_solid(solid, along, at_m[along]))
            .collect();
        let is_screen = screens
            .iter()
            .any(|screen| screen.conductor == conductor.name);
        if is_screen || !solids.is_empty() {
            conductors.push(Conductor {
                solids,
                ..conductor
            });
        }
    }
    let meets_own_pad = own_pad.is_some_and(|pad| conductors.iter().any(|c| c.name == pad));
    conductors.push(Conductor {
        name: FINGER.to_owned(),
        solids: finger_section(&levels, finger, at_m[across]),
    });
    let body = finger_body(&levels, finger, [at_m[across], 0.0]);
    let tip = [[
        at_m[across] - body.dome_radius_m,
        at_m[across] + body.dome_radius_m,
    ]];
    let mut ignored = Vec::new();
    let glove = glove::sheet(&levels, finger, &tip, &mut ignored);
    let [least, most] = span(panel, &levels, across);
    let wall = panel.wall_distance.value.metres();
    let [lowest, highest] = surroundings::reach(panel, &levels);
    let objects = panel.objects.iter().map(|object| object.outline());
    let [low, high] = objects.fold(
        [tip[0][0].min(least), tip[0][1].max(most)],
        |ends, outline| {
            [
                ends[0].min(outline[0][across]),
                ends[1].max(outline[1][across]),
            ]
        },
    );
    let slots = slot::boxes(panel, &levels);
    Ok(TraceSection {
        case: Case {
            id: format!("{}-{}", drawn.name, finger.name),
            title: panel.title.clone(),
            kind: Kind::Planar,
            domain: extent(
                [low - wall, lowest - wall],
                [high + wall, body.top_m.max(highest) + wall],
            ),
            walls: [[Wall::Open; 2]; 3],
            background_relative_permittivity: 1.0,
            dielectrics: dielectrics(&levels, along, at_m[along])
                .into_iter()
                .chain(
                    slots
                        .into_iter()
                        .filter_map(|slot| cut_box(slot, along, at_m[along])),
                )
                .chain(glove)
                .collect(),
            conductors,
            screens,
        },
        conductor,
        at_m,
        meets_own_pad,
    })
}
