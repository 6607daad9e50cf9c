//! Walk and touch map as charts.

use super::between::{Finer, STEPS, finer};
use super::zones::ambiguous;
use super::{TouchMap, Walk};
use crate::panel::outline::{outline_polygons, pad_box};
use crate::panel::{Model, Panel, Supply};
use crate::rounding::fixed;
use padfield_chart::{
    Axis, HeatMap, LimitLine, LineChart, LinePanel, MapLimit, MapOutline, MapPanel, Reading,
    Series, StripPiece, StripRow, Zone,
};
use padfield_engine::units::Length;

/// The second pad has this share of the first one's counts where a touch is ambiguous: the largest shift
/// wins up to there (common practice, no source).
pub const AMBIGUOUS_RATIO: f64 = 0.5;

/// What a walk assumes, for the line under its charts.
pub fn assumption(panel: &Panel, supply: &Supply) -> String {
    let range = supply.return_range(&panel.usage.body.value);
    let path = range
        .nominal
        .map_or("earthed".to_owned(), |c| format!("return {:.1} pF", c.pf()));
    let model = match panel.model.value {
        Model::Section => "Trend only: a cut along x, in which places along y are the same. ",
        Model::Volume | Model::Axisymmetric => "",
    };
    format!(
        "{model}Computed, nominal values, bands: estimated numerical error. Supply {}: {path}. Interpolated \
         between places. Dry, finger rigid, standing still. padfield {}.",
        supply.name,
        env!("CARGO_PKG_VERSION")
    )
}

/// Counts of all pads along a walk of one finger, with the threshold and what it is named after.
pub fn walk_picture(
    panel: &Panel,
    walk: &Walk,
    curve: usize,
    threshold: Option<(f64, &str)>,
    assumption: &str,
) -> LineChart {
    let shown = &walk.curves[curve];
    let places: Vec<f64> = walk.places.iter().map(|place| place.mm()).collect();
    let series = panel
        .pads
        .iter()
        .zip(&shown.counts)
        .map(|(pad, counts)| {
            Series::computed(
                pad.name.clone(),
                places.iter().zip(counts).map(|(&x, counts)| Reading {
                    x,
                    value: counts.map_or(f64::NAN, |counts| counts.value),
                    error: counts.map_or(f64::NAN, |counts| counts.error),
                }),
            )
        })
        .collect();
    let axis = walk.direction.axis();
    let [along, other] = walk.direction.names();
    let zones = ambiguous(walk, shown, AMBIGUOUS_RATIO, threshold.map_or(0.0, |t| t.0))
        .into_iter()
        .map(|stretch| Zone {
            low: stretch.low_mm,
            high: stretch.high_mm,
            label: "ambiguous: second pad above 50 % of the first (common practice, no source)"
                .to_owned(),
        })
        .collect();
    LineChart {
        title: format!(
            "Finger walk, {} along {along} at {other} = {} mm: {}",
            shown.finger,
            fixed(walk.fixed.mm(), 1),
            panel.title
        ),
        x: Axis::linear(format!("middle of the contact, {along}"), "mm"),
        y: Axis::linear("count shift", "counts"),
        panels: vec![LinePanel {
            series,
            zones,
            ..LinePanel::default()
        }],
        limits: threshold
            .map(|(value, because)| LimitLine::at_least(value, because))
            .into_iter()
            .collect(),
        strip: vec![StripRow {
            name: "copper".to_owned(),
            pieces: pieces(panel, axis, walk.fixed),
        }],
        assumption: assumption.to_owned(),
        ..LineChart::default()
    }
}

/// Pads that the line crosses.
fn pieces(panel: &Panel, axis: usize, fixed: Length) -> Vec<StripPiece> {
    panel
        .pads
        .iter()
        .map(|pad| (pad, pad_box(pad)))
        .filter(|(_, [low, high])| (low[1 - axis]..=high[1 - axis]).contains(&fixed.metres()))
        .map(|(pad, [low, high])| StripPiece {
            low: low[axis] * 1e3,
            high: high[axis] * 1e3,
            label: pad.name.clone(),
        })
        .collect()
}

/// Counts of the strongest pad over the face, with the threshold as a contour.
pub fn map_picture(
    panel: &Panel,
    map: &TouchMap,
    threshold: Option<(f64, &str)>,
    assumption: &str,
) -> HeatMap {
    let Finer { x_mm, y_mm, values } = finer(map);
    let outlines = panel
        .pads
        .iter()
        .filter_map(|pad| {
            let polygons = outline_polygons(&pad.outline, pad.rotation_degrees, pad.centre);
            let corners = polygons.first()?;
            Some(MapOutline {
                corners: corners
                    .iter()
                    .map(|corner| corner.map(|m| m * 1e3))
                    .collect(),
                label: pad.name.clone(),
            })
        })
        .collect();
    HeatMap {
        title: format!("Touch map, {}: {}", map.finger, panel.title),
        x: Axis::linear("middle of the contact, x", "mm"),
        y: Axis::linear("middle of the contact, y", "mm"),
        value: Axis::linear("count shift of the strongest pad", "counts"),
        x_values: x_mm,
        y_values: y_mm,
        computed_every: STEPS,
        panels: vec![MapPanel {
            values,
            limits: threshold
                .map(|(value, because)| {
                    MapLimit::shown(LimitLine::at_least(value, because), "counts")
                })
                .into_iter()
                .collect(),
            ..MapPanel::default()
        }],
        outlines,
        outline_name: "pads".to_owned(),
        equal_scale: true,
        assumption: assumption.to_owned(),
    }
}
