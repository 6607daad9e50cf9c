//! Drawn traces: along x and y, from their pad on, clear of all other copper.

use super::common::*;
use super::connection::{ConnectionKind, connection};
use super::copper::{Beside, corners, inside_board};
use crate::panel::metal::rectangle;
use crate::panel::outline::{Rectangle, are_closer, contains};
use crate::panel::{Connection, Layer, Pad, Trace, TraceNet};

/// One `[trace.NAME]`: a trace that is part of the field.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TraceEntry {
    /// Pad it leads to; without one it is a foreign line.
    pub pad: Option<String>,
    /// What a foreign line is connected to: "grounded" (default, a line that something holds still) or
    /// "floating".
    pub state: Option<Word<ConnectionKind>>,
    /// Copper layer it is on.
    pub layer: String,
    /// Its width.
    pub width: One<Length>,
    /// Corners x, y of its middle line, from the pad on; every piece runs along x or along y.
    pub path: Vec<Position>,
    /// Width of the strip around it that ground and guards of its layer keep free.
    pub keepout: Option<One<Length>>,
    /// Side of the square via to a pad on another layer; default the width of the trace.
    pub via: Option<One<Length>>,
}

/// What of `[trace]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        edge("width", [0.05, 5.0], DOUBTED),
        edge("path", [-500.0, 500.0], NONE),
        edge("keepout", [0.05, 20.0], TURNED),
        edge("via", [0.1, 5.0], NONE),
    ],
    fixed: &[],
};

/// Most corners of one trace.
const MOST_CORNERS: usize = 100;

pub(crate) fn traces(
    file: &PanelFile,
    layers: &[Layer],
    beside: &Beside<'_>,
) -> Result<Vec<Trace>, Finding> {
    let mut traces: Vec<Trace> = Vec::new();
    for (name, entry) in &file.trace {
        let trace = trace(file, name, entry, layers, beside)?;
        clear_of_pads(&trace, beside)?;
        clear_of_ground(entry, &trace, beside)?;
        if let Some(other) = traces.iter().find(|other| crosses(other, &trace)) {
            return Err(Finding::at(
                steps!["trace", name, "path"],
                format!(
                    "traces \"{}\" and \"{name}\" cross or touch: they are shorted",
                    other.name
                ),
                "move them apart or put them on different layers",
            ));
        }
        traces.push(trace);
    }
    Ok(traces)
}

/// The pads with what of their traces is not drawn: what is drawn outside of them is part of the field, and
/// counts once.
pub(crate) fn not_drawn(mut pads: Vec<Pad>, traces: &[Trace]) -> Vec<Pad> {
    for pad in &mut pads {
        let own = traces
            .iter()
            .filter(|trace| matches!(&trace.net, TraceNet::Pad(name) if *name == pad.name));
        let drawn_m: f64 = own.map(|trace| trace.length_outside(pad).metres()).sum();
        let whole_m = pad.trace_length.value.metres();
        pad.trace_length.value = Length::from_metres((whole_m - drawn_m).max(0.0));
    }
    pads
}

fn trace(
    file: &PanelFile,
    name: &str,
    entry: &TraceEntry,
    layers: &[Layer],
    beside: &Beside<'_>,
) -> Result<Trace, Finding> {
    let at = |key: &str| steps!["trace", name, key];
    needs_volume(file, "trace", name)?;
    let layer = copper_layer(at("layer"), &entry.layer, layers)?;
    let width = positive(at("width"), entry.width.0, "the trace width")?;
    // A via without a width brings no grid lines of its own: a hole and its ring are wider, by little on the
    // scale of a pad.
    let via = if_positive(at("via"), entry.via, "the via")?.unwrap_or(width);
    let keepout = if_positive(at("keepout"), entry.keepout, "the keepout")?.unwrap_or(width);
    if keepout < width {
        return Err(Finding::at(
            at("keepout"),
            format!(
                "the keepout is narrower than the trace ({})",
                show_mm(width)
            ),
            "write the width of the whole strip that stays free of copper",
        ));
    }
    let trace = Trace {
        name: name.to_owned(),
        net: net(name, entry, beside)?,
        layer,
        width,
        path: path(name, entry, beside)?,
        keepout,
        via,
    };
    starts_on_pad(&trace, beside)?;
    Ok(trace)
}

fn net(name: &str, entry: &TraceEntry, beside: &Beside<'_>) -> Result<TraceNet, Finding> {
    let at = |key: &str| steps!["trace", name, key];
    match (&entry.pad, entry.state) {
        (Some(pad), None) => {
            let known = beside.pads.iter().map(|pad| pad.name.as_str());
            find_name(at("pad"), pad, "pad", known)?;
            Ok(TraceNet::Pad(pad.clone()))
        }
        (Some(_), Some(_)) => Err(Finding::at_key(
            at("state"),
            "the trace of a pad is in the state of its pad",
            "leave out state, or pad for a foreign line",
        )),
        (None, state) => {
            if state.is_some_and(|word| word.0 == ConnectionKind::Driven) {
                return Err(Finding::at(
                    at("state"),
                    "a foreign line is not driven with the measured pad",
                    "write \"grounded\" or \"floating\"",
                ));
            }
            let place = ("trace", name);
            Ok(TraceNet::Own(connection(
                place,
                state,
                None,
                Connection::Grounded,
            )?))
        }
    }
}

fn path(name: &str, entry: &TraceEntry, beside: &Beside<'_>) -> Result<Vec<[Length; 2]>, Finding> {
    let path: Vec<[Length; 2]> = entry.path.iter().map(|corner| corner.0).collect();
    if !(2..=MOST_CORNERS).contains(&path.len()) {
        return Err(Finding::at(
            steps!["trace", name, "path"],
            format!("the path has {} corners", path.len()),
            format!("write 2 to {MOST_CORNERS}, such as [\"0 mm, 0 mm\", \"0 mm, -20 mm\"]"),
        ));
    }
    for (index, corner) in path.iter().enumerate() {
        let at = || steps!["trace", name, "path", index];
        for coordinate in corner {
            in_range(at(), *coordinate, "the corner")?;
        }
        if !inside_board([corner.map(Length::metres); 2], beside.board) {
            let [width, height] = beside.board.map(show_mm);
            return Err(Finding::at(
                at(),
                format!("trace \"{name}\" leaves the board ({width} x {height})"),
                "move the corner inwards or make the board larger",
            ));
        }
        let Some(before) = index.checked_sub(1).map(|i| path[i]) else {
            continue;
        };
        let step = [0, 1].map(|axis| (corner[axis] - before[axis]).metres().abs() > TOUCHING_M);
        if step[0] == step[1] {
            return Err(Finding::at(
                at(),
                match step[0] {
                    true => "this piece runs neither along x nor along y",
                    false => "this corner is where the one before is",
                },
                "traces are drawn along x and y; go around the corner in two pieces",
            ));
        }
    }
    Ok(path)
}

fn starts_on_pad(trace: &Trace, beside: &Beside<'_>) -> Result<(), Finding> {
    let TraceNet::Pad(name) = &trace.net else {
        return Ok(());
    };
    let own = beside.pads.iter().zip(beside.placed);
    let on_pad = own
        .filter(|(pad, _)| pad.name == *name)
        .any(|(_, outline)| contains(outline, trace.path[0].map(Length::metres)));
    if on_pad {
        return Ok(());
    }
    Err(Finding::at(
        steps!["trace", &trace.name, "path", 0],
        format!(
            "trace \"{}\" does not start on the copper of pad \"{name}\"",
            trace.name
        ),
        "let its first corner lie within the pad, on whatever layer the trace is",
    ))
}

/// Outlines of a trace on a copper layer, its via among them.
fn pieces(trace: &Trace, layer: usize, beside: &Beside<'_>) -> Vec<Rectangle> {
    let mut pieces = Vec::new();
    if trace.layer == layer {
        pieces.extend(trace.strips());
    }
    if let TraceNet::Pad(name) = &trace.net
        && let Some(pad) = beside.pads.iter().find(|pad| pad.name == *name)
        && pad.layer != trace.layer
        && (pad.layer.min(trace.layer)..=pad.layer.max(trace.layer)).contains(&layer)
    {
        pieces.push(trace.via_outline());
    }
    pieces
}

fn clear_of_pads(trace: &Trace, beside: &Beside<'_>) -> Result<(), Finding> {
    for (pad, outline) in beside.pads.iter().zip(beside.placed) {
        if matches!(&trace.net, TraceNet::Pad(name) if *name == pad.name) {
            continue;
        }
        let near = |piece: &Rectangle| are_closer(&corners(*piece), outline, TOUCHING_M);
        if pieces(trace, pad.layer, beside).iter().any(near) {
            return Err(Finding::at(
                steps!["trace", &trace.name, "path"],
                format!(
                    "trace \"{}\" touches pad \"{}\": they are shorted",
                    trace.name, pad.name
                ),
                "lead it around the pad or put it on another layer",
            ));
        }
    }
    Ok(())
}

/// Ground, shields and guards on a layer of the trace need a keepout around it.
fn clear_of_ground(entry: &TraceEntry, trace: &Trace, beside: &Beside<'_>) -> Result<(), Finding> {
    if trace.keepout.metres() > trace.width.metres() + 2.0 * TOUCHING_M {
        return Ok(());
    }
    let areas = beside.grounds.iter().map(|area| {
        let outline = vec![rectangle(area.size, area.centre)];
        (area.layer, area.name.as_str(), outline)
    });
    let guards = beside.guards.iter().map(|guard| {
        let strips = guard.strips(beside.groups);
        (guard.layer, guard.name.as_str(), strips)
    });
    for (layer, name, outlines) in areas.chain(guards) {
        let all = pieces(trace, layer, beside);
        let covered = all
            .iter()
            .any(|piece| outlines.iter().any(|one| meet(one, piece)));
        if covered {
            let key = if entry.keepout.is_some() {
                "keepout"
            } else {
                "path"
            };
            return Err(Finding::at(
                steps!["trace", &trace.name, key],
                format!(
                    "\"{name}\" covers trace \"{}\": they are shorted",
                    trace.name
                ),
                "add keepout = \"1 mm\", the width of the strip that stays free around the trace",
            ));
        }
    }
    Ok(())
}

fn crosses(one: &Trace, other: &Trace) -> bool {
    let same_net = matches!((&one.net, &other.net), (TraceNet::Pad(a), TraceNet::Pad(b)) if a == b);
    !same_net
        && one.layer == other.layer
        && one
            .strips()
            .iter()
            .any(|a| other.strips().iter().any(|b| meet(a, b)))
}
