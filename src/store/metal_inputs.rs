//! Copper that is no pad, and metal around the panel, as parts of the canonical record.
//!
//! What has been there longest writes no more than it did: points stored before stay known.

use super::inputs::{decimal, mm};
use crate::panel::{
    Bezel, Connection, Fill, GroundArea, Guard, GuardPlace, Hatch, MetalObject, ObjectSide, Trace,
    TraceNet,
};
use serde_json::{Value, json};

pub(super) fn area_record(area: &GroundArea) -> Value {
    let GroundArea {
        name,
        layer,
        size,
        centre,
        clearance,
        fill,
        connection,
    } = area;
    let mut record = json!({
        "name": name,
        "layer": layer,
        "size_mm": size.map(mm),
        "centre_mm": centre.map(mm),
        "clearance_mm": mm(*clearance),
    });
    if let Fill::Hatch(Hatch {
        line,
        pitch,
        is_diagonal,
        is_drawn,
    }) = *fill
    {
        record["hatch"] = json!([mm(line), mm(pitch), is_diagonal, is_drawn]);
    }
    connect(&mut record, *connection);
    record
}

pub(super) fn guard_record(guard: &Guard) -> Value {
    let Guard {
        name,
        group,
        layer,
        place,
        connection,
    } = guard;
    let mut record = json!({ "name": name, "group": group, "layer": layer });
    match *place {
        GuardPlace::Between { width } => record["width_mm"] = json!(mm(width)),
        GuardPlace::BetweenKeeping { clearance } => record["clearance_mm"] = json!(mm(clearance)),
        GuardPlace::Around { width, clearance } => {
            record["around_mm"] = json!([mm(width), mm(clearance)]);
        }
    }
    connect(&mut record, *connection);
    record
}

pub(super) fn trace_record(trace: &Trace) -> Value {
    let Trace {
        name,
        net,
        layer,
        width,
        path,
        keepout,
        via,
    } = trace;
    let mut record = json!({
        "name": name,
        "layer": layer,
        "width_mm": mm(*width),
        "path_mm": path.iter().map(|corner| corner.map(mm)).collect::<Vec<_>>(),
        "keepout_mm": mm(*keepout),
        "via_mm": mm(*via),
    });
    match net {
        TraceNet::Pad(pad) => record["pad"] = json!(pad),
        TraceNet::Own(connection) => connect(&mut record, *connection),
    }
    record
}

pub(super) fn bezel_record(bezel: &Bezel) -> Value {
    let Bezel {
        name,
        opening,
        centre,
        width,
        height,
        connection,
    } = bezel;
    let mut record = json!({
        "name": name,
        "opening_mm": opening.map(mm),
        "centre_mm": centre.map(mm),
        "width_mm": mm(*width),
        "height_mm": mm(*height),
    });
    connect(&mut record, *connection);
    record
}

pub(super) fn object_record(object: &MetalObject) -> Value {
    let MetalObject {
        name,
        size,
        centre,
        thickness,
        side,
        distance,
        connection,
        moves,
    } = object;
    let mut record = json!({
        "name": name,
        "size_mm": size.map(mm),
        "centre_mm": centre.map(mm),
        "thickness_mm": mm(*thickness),
        "behind": *side == ObjectSide::Behind,
        "distance_mm": mm(*distance),
        "moves": moves,
    });
    connect(&mut record, *connection);
    record
}

/// What is at 0 V says nothing.
fn connect(record: &mut Value, connection: Connection) {
    record["connection"] = match connection {
        Connection::Grounded => return,
        Connection::Floating => json!("floating"),
        Connection::Body => json!("body"),
        Connection::Driven { gain } => json!(decimal(gain, 1e12, 12)),
    };
}
