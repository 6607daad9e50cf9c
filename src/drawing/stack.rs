//! The stackup of a panel as a drawing.

use super::on_paper::stack::{DrawnLayer, StackDrawing};
use crate::panel::outline::pad_polygons;
use crate::panel::outline::polygon_box;
use crate::panel::{Layer, LayerContent, Panel};

/// The layers, copper where it is in a cut along x through the first pad.
pub fn stack_drawing(panel: &Panel) -> StackDrawing {
    let layers = panel.layers.iter().enumerate();
    StackDrawing {
        title: format!("Stackup: {}", panel.title),
        layers: layers
            .map(|(index, layer)| DrawnLayer {
                label: label(layer),
                thickness_mm: layer.thickness.nominal.mm(),
                copper: match layer.content {
                    LayerContent::Copper => Some(stretches(panel, index)),
                    LayerContent::Dielectric { .. } => None,
                },
            })
            .collect(),
        assumption: "A zigzag marks layers drawn thicker than to scale; copper is never to scale. Copper as in a \
                     cut along x through the middle of the first pad; clearances are not drawn."
            .to_owned(),
    }
}

/// `overlay: acrylic, 4 mm, permittivity 2.8`.
fn label(layer: &Layer) -> String {
    let short = |value: f64| {
        let text = format!("{value:.3}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    let thickness = short(layer.thickness.nominal.mm());
    let own = layer.outline.map_or(String::new(), |outline| {
        let [width, height] = outline.size.map(|side| short(side.mm()));
        format!(", {width} x {height} mm")
    });
    match &layer.content {
        LayerContent::Dielectric {
            material,
            permittivity,
            ..
        } => format!(
            "{}: {material}, {thickness} mm, permittivity {}{own}",
            layer.name,
            short(permittivity.nominal.relative())
        ),
        LayerContent::Copper => format!("{}: copper, {thickness} mm", layer.name),
    }
}

/// Copper of a layer along the width of the board, as shares of it.
fn stretches(panel: &Panel, layer: usize) -> Vec<[f64; 2]> {
    let width_m = panel.board.value[0].metres();
    let Some(first) = panel.pads.first().filter(|_| width_m > 0.0) else {
        return Vec::new();
    };
    let cut_y = first.centre[1].metres();
    let pads = panel.pads.iter().filter(|pad| pad.layer == layer);
    let pads = pads.map(|pad| polygon_box(&pad_polygons(pad)));
    let guards = panel.guards.iter().filter(|guard| guard.layer == layer);
    let guards = guards.flat_map(|guard| guard.strips(&panel.groups));
    let traces = panel.traces.iter().filter(|trace| trace.layer == layer);
    let traces = traces.flat_map(|trace| trace.strips());
    // An area beside pads keeps clear of them; behind them it is whole.
    let has_pads = panel.pads.iter().any(|pad| pad.layer == layer);
    let areas = panel
        .grounds
        .iter()
        .filter(|area| area.layer == layer && !has_pads);
    let areas = areas.map(|area| {
        let half = area.size.map(|side| 0.5 * side.metres());
        let at = area.centre.map(|c| c.metres());
        [
            [at[0] - half[0], at[1] - half[1]],
            [at[0] + half[0], at[1] + half[1]],
        ]
    });
    let boxes = pads.chain(guards).chain(traces).chain(areas);
    boxes
        .filter(|[low, high]| (low[1]..=high[1]).contains(&cut_y))
        .map(|[low, high]| [low[0], high[0]].map(|x| x / width_m + 0.5))
        .collect()
}
