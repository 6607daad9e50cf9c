//! The field of a pad in a cut, untouched and touched.

use super::on_paper::field::{FieldDrawing, FieldState};
use crate::panel::lowering::{FINGER, LoweringOptions, lower};
use crate::panel::{Model, Origin, Panel, Sourced};
use padfield_engine::case::{Case, Extent, Solid};
use padfield_engine::field::{self, Settings};
use padfield_engine::grid::{Axis, Grid, axes};

/// Accuracy of the solve behind the picture: it is looked at, not read off.
const ACCURACY: f64 = 0.02;
/// Share of the cells of the shown part that are darker than the brightest shade; edges of sheets, where
/// the flux density has no bound, are the rest.
const BRIGHTEST_SHARE: f64 = 0.985;

/// The picture of a cut and what was left out of it.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionView {
    pub pad: String,
    pub picture: FieldDrawing,
    /// What a cut cannot hold, by name.
    pub left_out: Vec<String>,
}

/// Solves the cut along x through a pad and draws it.
///
/// # Errors
/// Why there is no picture: no such finger or pad, a panel that has no cut, no field.
pub fn section_view(
    panel: &Panel,
    finger: &str,
    pad: &str,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<SectionView, String> {
    let (cut, left_out) = cut_panel(panel);
    let known = cut.fingers.iter().find(|known| known.name == finger);
    let finger = known.ok_or_else(|| format!("there is no finger \"{finger}\""))?;
    let lowered =
        lower(&cut, pad, finger, LoweringOptions::default()).map_err(|e| e.to_string())?;
    let case = &lowered.case;
    let settings = Settings {
        accuracy: ACCURACY,
        drive: Some(vec![pad.to_owned()]),
        keep_potentials: true,
        // Every node of the whole cut is drawn.
        use_symmetry: false,
        ..Settings::default()
    };
    let answer = field::solve(case, Some(FINGER), &settings, &|text| {
        progress(&format!("picture of the field: {text}"));
    })
    .map_err(|error| error.to_string())?;
    let potentials = answer.potentials.ok_or("the field kept no potentials")?;
    let axes = axes(case, answer.grid.fineness);
    let shown_m = shown(case, pad).ok_or_else(|| format!("the cut does not meet \"{pad}\""))?;
    let mut states = Vec::new();
    for (name, is_touched) in [("untouched", false), ("touched", true)] {
        let values = potentials.at_nodes(is_touched, 0);
        let values = values.ok_or("the field kept no potentials")?;
        let solved = if is_touched {
            case.clone()
        } else {
            case.without(FINGER)
        };
        states.push(state(name, &solved, pad, &axes, values, shown_m));
    }
    let brightest = brightest(&states);
    Ok(SectionView {
        pad: pad.to_owned(),
        picture: FieldDrawing {
            title: format!("Field of pad \"{pad}\" in a cut: {}", panel.title),
            states,
            shown_mm: shown_m.map(|corner| corner.map(|c| 1e3 * c)),
            brightest,
            faces_mm: faces(case),
            layer_ends_mm: [0, 1].map(|end| {
                let ends = case.dielectrics.first().map_or([0.0; 2], |first| {
                    [first.extent.low_m[0], first.extent.high_m[0]]
                });
                1e3 * ends[end]
            }),
            assumption: "Potential of the measured pad 1, of everything else 0. Shade: flux density on a \
                         logarithmic scale over two and a half decades, the same in both pictures. A cut along \
                         x, endless in the other direction: a trend."
                .to_owned(),
        },
        left_out,
    })
}

/// The panel as a section, without what a section cannot hold.
fn cut_panel(panel: &Panel) -> (Panel, Vec<String>) {
    let mut cut = panel.clone();
    cut.model = Sourced {
        value: Model::Section,
        origin: Origin::Default,
    };
    let films = std::mem::take(&mut cut.films)
        .into_iter()
        .map(|film| film.name);
    let frames = std::mem::take(&mut cut.bezels)
        .into_iter()
        .map(|frame| frame.name);
    let objects = std::mem::take(&mut cut.objects)
        .into_iter()
        .map(|object| object.name);
    let traces = std::mem::take(&mut cut.traces)
        .into_iter()
        .map(|trace| trace.name);
    let left_out = films
        .map(|name| format!("film \"{name}\""))
        .chain(frames.map(|name| format!("frame \"{name}\"")))
        .chain(objects.map(|name| format!("object \"{name}\"")))
        .chain(traces.map(|name| format!("trace \"{name}\"")))
        .collect();
    (cut, left_out)
}

fn extents(solid: &Solid) -> Option<&Extent> {
    match solid {
        Solid::Block(extent) => Some(extent),
        Solid::Round(_) | Solid::Prism(_) => None,
    }
}

/// What is shown of a cut \[m\]: the pad with its own width on both sides, from below the last layer to the
/// dome of the finger.
fn shown(case: &Case, pad: &str) -> Option<[[f64; 2]; 2]> {
    let bounds = |name: &str| {
        let conductor = case
            .conductors
            .iter()
            .find(|conductor| conductor.name == name)?;
        let blocks = conductor.solids.iter().filter_map(extents);
        blocks.fold(None, |found: Option<[[f64; 2]; 2]>, block| {
            let [low, high] = found.unwrap_or([[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]]);
            Some([
                [low[0].min(block.low_m[0]), low[1].min(block.low_m[1])],
                [high[0].max(block.high_m[0]), high[1].max(block.high_m[1])],
            ])
        })
    };
    let [low, high] = bounds(pad)?;
    let width = high[0] - low[0];
    let heights = case
        .dielectrics
        .iter()
        .map(|layer| [layer.extent.low_m[1], layer.extent.high_m[1]]);
    let [back, face] = heights.fold([low[1], high[1]], |[back, face], [bottom, top]| {
        [back.min(bottom), face.max(top)]
    });
    let side = (0.6 * width).max(face - back);
    Some([
        [low[0] - side, back - 0.35 * width],
        [high[0] + side, face + 0.75 * width],
    ])
}

/// The nodes that are shown, one more on every side.
fn shown_nodes(axis: &Axis, [low, high]: [f64; 2]) -> std::ops::Range<usize> {
    let nodes = &axis.nodes_m;
    let first = nodes.partition_point(|at| *at < low).saturating_sub(2);
    let end = (nodes.partition_point(|at| *at <= high) + 2).min(nodes.len());
    first..end
}

fn state(
    name: &str,
    case: &Case,
    pad: &str,
    axes: &[Axis; 3],
    values: &[f64],
    [low, high]: [[f64; 2]; 2],
) -> FieldState {
    let grid = Grid::paint(case, axes.clone());
    let columns = axes[0].nodes_m.len();
    let across = shown_nodes(&axes[0], [low[0], high[0]]);
    let up = shown_nodes(&axes[1], [low[1], high[1]]);
    let at = |i: usize, j: usize| values[i + columns * j];
    let potential = up.clone().flat_map(|j| across.clone().map(move |i| (i, j)));
    let potential = potential.map(|(i, j)| at(i, j)).collect();
    let cells =
        (up.start..up.end - 1).flat_map(|j| (across.start..across.end - 1).map(move |i| (i, j)));
    let flux = cells
        .map(|(i, j)| {
            let step = |axis: usize, k: usize| axes[axis].nodes_m[k + 1] - axes[axis].nodes_m[k];
            let along =
                0.5 * (at(i + 1, j) + at(i + 1, j + 1) - at(i, j) - at(i, j + 1)) / step(0, i);
            let upwards =
                0.5 * (at(i, j + 1) + at(i + 1, j + 1) - at(i, j) - at(i + 1, j)) / step(1, j);
            let material = grid.material[i + (columns - 1) * j];
            grid.permittivity[usize::from(material)] * along.hypot(upwards)
        })
        .collect();
    let conductors = case.conductors.iter().flat_map(|conductor| {
        let blocks = conductor.solids.iter().filter_map(extents);
        blocks.map(|block| {
            let corners =
                [block.low_m, block.high_m].map(|corner| [1e3 * corner[0], 1e3 * corner[1]]);
            (corners, conductor.name == pad)
        })
    });
    let screens = case.screens.iter().map(|screen| {
        let corners = [screen.extent.low_m, screen.extent.high_m];
        (
            corners.map(|corner| [1e3 * corner[0], 1e3 * corner[1]]),
            false,
        )
    });
    let in_mm = |places: &[f64]| places.iter().map(|at| 1e3 * at).collect();
    FieldState {
        name: name.to_owned(),
        x_mm: in_mm(&axes[0].nodes_m[across]),
        z_mm: in_mm(&axes[1].nodes_m[up]),
        potential,
        flux,
        conductors_mm: conductors.chain(screens).collect(),
    }
}

/// Flux density that few cells exceed.
fn brightest(states: &[FieldState]) -> f64 {
    let mut all: Vec<f64> = states
        .iter()
        .flat_map(|state| &state.flux)
        .copied()
        .collect();
    all.retain(|flux| flux.is_finite() && *flux > 0.0);
    all.sort_by(f64::total_cmp);
    let place = (BRIGHTEST_SHARE * all.len() as f64) as usize;
    all.get(place.min(all.len().saturating_sub(1)))
        .copied()
        .unwrap_or(1.0)
}

/// Upper face of every layer that reaches from end to end, and the lowest face.
fn faces(case: &Case) -> Vec<(f64, String)> {
    let Some(first) = case.dielectrics.first() else {
        return Vec::new();
    };
    let ends = |extent: &Extent| [extent.low_m[0], extent.high_m[0]];
    let layers = case
        .dielectrics
        .iter()
        .filter(|layer| ends(&layer.extent) == ends(&first.extent));
    let mut faces: Vec<(f64, String)> = layers
        .clone()
        .map(|layer| (1e3 * layer.extent.high_m[1], layer.name.clone()))
        .collect();
    let lowest = layers
        .map(|layer| 1e3 * layer.extent.low_m[1])
        .fold(f64::INFINITY, f64::min);
    faces.push((lowest, String::new()));
    faces
}
