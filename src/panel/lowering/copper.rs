//! Pads with their traces, copper areas and guards as conductors of a volume.

use super::super::metal::Connection;
use super::super::outline::{Rectangle, corners, is_box, pad_box, pad_polygons};
use super::super::{Fill, GroundArea, Outline, Pad, Panel, Trace, TraceNet};
use super::levels::Levels;
use super::part::LoweredPart;
use super::polygon::{grow, subtract_polygons, subtract_rectangles};
use super::{GROUND, LoweringError};
use padfield_engine::case::{Conductor, Extent, Prism, RoundBody, Screen, Solid};

/// Conductors of a panel: pads in panel order, then the ground if any, then the parts.
#[derive(Default)]
pub(super) struct Metal {
    pub conductors: Vec<Conductor>,
    /// Those of `conductors` that are neither pad nor ground.
    pub parts: Vec<LoweredPart>,
    /// Hatched areas that are not drawn line by line.
    pub screens: Vec<Screen>,
    ground: Vec<Solid>,
}

impl Metal {
    /// Adds pieces to the ground or, with another connection, as a conductor of their own.
    pub fn add(
        &mut self,
        name: &str,
        connection: Connection,
        solids: Vec<Solid>,
    ) -> Result<(), LoweringError> {
        if solids.is_empty() {
            return Ok(());
        }
        if connection == Connection::Grounded {
            self.ground.extend(solids);
            return Ok(());
        }
        self.add_own(name, connection, solids)
    }

    /// Adds a conductor of its own.
    pub fn add_own(
        &mut self,
        name: &str,
        connection: Connection,
        solids: Vec<Solid>,
    ) -> Result<(), LoweringError> {
        if name == GROUND || name == super::FINGER {
            return Err(LoweringError::ReservedName(name.to_owned()));
        }
        self.conductors.push(Conductor {
            name: name.to_owned(),
            solids,
        });
        self.parts.push(LoweredPart {
            name: name.to_owned(),
            connection,
            is_touched: false,
        });
        Ok(())
    }

    /// Puts the ground behind the pads.
    pub fn finish(mut self, pads: usize) -> Self {
        let is_screen = self.screens.iter().any(|screen| screen.conductor == GROUND);
        if is_screen || !self.ground.is_empty() {
            let ground = Conductor {
                name: GROUND.to_owned(),
                solids: std::mem::take(&mut self.ground),
            };
            self.conductors.insert(pads, ground);
        }
        self
    }
}

/// Everything of a panel that conducts, without finger and films.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PanelMetal {
    /// Pads in panel order, then the ground if any, then the parts.
    pub conductors: Vec<Conductor>,
    /// Guards, shields, traces, frames and objects that are not ground.
    pub parts: Vec<LoweredPart>,
    /// Hatched areas that are not drawn line by line.
    pub screens: Vec<Screen>,
}

/// Everything of a panel that conducts, without finger and films.
///
/// Heights count from the lower face of the first pad's copper.
///
/// # Errors
/// See [`LoweringError`]; a panel without pads gives nothing.
pub fn panel_metal(panel: &Panel) -> Result<PanelMetal, LoweringError> {
    let Some(first) = panel.pads.first() else {
        return Ok(PanelMetal::default());
    };
    let metal = metal(panel, &Levels::new(panel, first.layer)?, &[])?;
    Ok(PanelMetal {
        conductors: metal.conductors,
        parts: metal.parts,
        screens: metal.screens,
    })
}

/// Everything of the panel that conducts and is neither film nor finger. Pads of the `quiet` groups are
/// pieces of the ground, without the detail of their gaps.
pub(super) fn metal(
    panel: &Panel,
    levels: &Levels,
    quiet: &[&str],
) -> Result<Metal, LoweringError> {
    let mut metal = Metal::default();
    for pad in &panel.pads {
        let level = levels.copper_level(panel, pad.layer, &pad.name)?;
        let is_quiet = quiet.contains(&pad.group.as_str());
        let mut solids = vec![pad_solid(pad, level, is_quiet)];
        for trace in &panel.traces {
            if matches!(&trace.net, TraceNet::Pad(name) if *name == pad.name) {
                solids.extend(trace_solids(panel, levels, trace, Some(pad))?);
            }
        }
        if is_quiet {
            metal.ground.extend(solids);
            continue;
        }
        metal.conductors.push(Conductor {
            name: pad.name.clone(),
            solids,
        });
    }
    let pads = metal.conductors.len();
    for area in &panel.grounds {
        let level = levels.copper_level(panel, area.layer, &area.name)?;
        match area.fill {
            Fill::Hatch(hatch) if !hatch.is_drawn => {
                super::hatch::screens(panel, levels, area, &hatch, &mut metal)?;
            }
            _ => metal.add(&area.name, area.connection, area_solids(panel, area, level))?,
        }
    }
    for guard in &panel.guards {
        let level = levels.copper_level(panel, guard.layer, &guard.name)?;
        let strips = guard.strips(&panel.groups);
        let mut on_layer = panel.pads.iter().filter(|pad| pad.layer == guard.layer);
        if let Some(pad) = on_layer.find(|pad| strips.iter().any(|s| touches(*s, pad_box(pad)))) {
            return Err(LoweringError::GuardTouches {
                name: guard.name.clone(),
                width_mm: guard.width().map_or(0.0, |width| width.mm()),
                pad: pad.name.clone(),
            });
        }
        let voids = voids(panel, guard.layer);
        let left = strips
            .into_iter()
            .flat_map(|strip| subtract_rectangles(strip, &voids));
        let solids = left.map(|rest| block(rest, level)).collect();
        metal.add(&guard.name, guard.connection, solids)?;
    }
    for trace in &panel.traces {
        if let TraceNet::Own(connection) = trace.net {
            let solids = trace_solids(panel, levels, trace, None)?;
            // A conductor of its own even at 0 V: what couples to it is asked for.
            metal.add_own(&trace.name, connection, solids)?;
        }
    }
    super::surroundings::add(panel, levels, &mut metal)?;
    Ok(metal.finish(pads))
}

/// What ground and guards of a copper layer keep free of traces and vias \[m\].
pub(super) fn voids(panel: &Panel, layer: usize) -> Vec<Rectangle> {
    let mut voids = Vec::new();
    for trace in &panel.traces {
        if trace.layer == layer {
            voids.extend(trace.keepout_strips());
        }
        if let Some(pad) = pad_of(panel, trace)
            && pad.layer != trace.layer
            && (pad.layer.min(trace.layer)..=pad.layer.max(trace.layer)).contains(&layer)
        {
            let around = (trace.keepout - trace.width).metres() / 2.0;
            let [low, high] = trace.via_outline();
            voids.push([low.map(|at| at - around), high.map(|at| at + around)]);
        }
    }
    voids
}

fn pad_of<'p>(panel: &'p Panel, trace: &Trace) -> Option<&'p Pad> {
    match &trace.net {
        TraceNet::Pad(name) => panel.pads.iter().find(|pad| pad.name == *name),
        TraceNet::Own(_) => None,
    }
}

fn trace_solids(
    panel: &Panel,
    levels: &Levels,
    trace: &Trace,
    pad: Option<&Pad>,
) -> Result<Vec<Solid>, LoweringError> {
    let level = levels.copper_level(panel, trace.layer, &trace.name)?;
    let mut solids: Vec<Solid> = trace
        .strips()
        .into_iter()
        .map(|strip| block(strip, level))
        .collect();
    if let Some(pad) = pad
        && pad.layer != trace.layer
    {
        let there = levels.copper_level(panel, pad.layer, &pad.name)?;
        let height = [level[0].min(there[0]), level[1].max(there[1])];
        solids.push(block(trace.via_outline(), height));
    }
    Ok(solids)
}

fn touches(a: Rectangle, b: Rectangle) -> bool {
    (0..2).all(|axis| a[0][axis] <= b[1][axis] && b[0][axis] <= a[1][axis])
}

fn pad_solid(pad: &Pad, level: [f64; 2], is_coarse: bool) -> Solid {
    let [bottom_m, top_m] = level;
    match &pad.outline {
        _ if pad.hole.is_none() && is_box(pad) => block(pad_box(pad), level),
        Outline::Disc { diameter } if pad.hole.is_none() => Solid::Round(RoundBody {
            centre_m: pad.centre.map(|at| at.metres()),
            contact_radius_m: diameter.metres() / 2.0,
            dome_radius_m: diameter.metres() / 2.0,
            bottom_m,
            top_m,
        }),
        _ => Solid::Prism(Prism {
            outlines_m: pad_polygons(pad),
            bottom_m,
            top_m,
            feature_m: match is_coarse {
                true => f64::INFINITY,
                false => pad.feature.metres(),
            },
        }),
    }
}

pub(super) fn block(area: Rectangle, [bottom_m, top_m]: [f64; 2]) -> Solid {
    let [low, high] = area;
    Solid::Block(Extent {
        low_m: [low[0], low[1], bottom_m],
        high_m: [high[0], high[1], top_m],
    })
}

/// An area as if it were solid.
pub(super) fn area_solids(panel: &Panel, area: &GroundArea, level: [f64; 2]) -> Vec<Solid> {
    let whole = area_rectangle(area);
    let clearance_m = area.clearance.metres();
    let mut boxes: Vec<Rectangle> = voids(panel, area.layer);
    let mut outlines: Vec<Vec<[f64; 2]>> = Vec::new();
    for pad in panel.pads.iter().filter(|pad| pad.layer == area.layer) {
        if is_box(pad) {
            let [low, high] = pad_box(pad);
            boxes.push([
                low.map(|at| at - clearance_m),
                high.map(|at| at + clearance_m),
            ]);
        } else {
            // The first outline is the outer one: a hole carries no ground.
            outlines.extend(grow(&pad_polygons(pad)[0], clearance_m));
        }
    }
    if let Fill::Hatch(hatch) = area.fill
        && hatch.is_drawn
    {
        return super::hatch::lines(whole, &hatch, &boxes, &outlines, level);
    }
    if outlines.is_empty() {
        return subtract_rectangles(whole, &boxes)
            .into_iter()
            .map(|rest| block(rest, level))
            .collect();
    }
    outlines.extend(boxes.into_iter().map(corners));
    subtract_polygons(whole, &outlines)
        .into_iter()
        .map(|outlines_m| {
            Solid::Prism(Prism {
                outlines_m,
                bottom_m: level[0],
                top_m: level[1],
                feature_m: f64::INFINITY,
            })
        })
        .collect()
}

/// The whole area, nothing taken off.
pub(super) fn area_rectangle(area: &GroundArea) -> Rectangle {
    super::super::metal::rectangle(area.size, area.centre)
}
