//! Copper that is no pad, and metal around the panel, as parts of the canonical record.
//!
//! What has been there longest writes no more than it did: points stored before stay known.

use super::inputs::{decimal, mm};
use crate::panel::{
    Connection, Fill, GroundArea, Guard, GuardPlace, ObjectSide, Panel, Trace, TraceNet,
};
use serde_json::{Value, json};

pub(super) fn area_record(area: &GroundArea) -> Value {
    let mut record = json!({
        "name": area.name,
        "layer": area.layer,
        "size_mm": area.size.map(mm),
        "centre_mm": area.centre.map(mm),
        "clearance_mm": mm(area.clearance),
    });
    if let Fill::Hatch(hatch) = area.fill {
        record["hatch"] = json!([
            mm(hatch.line),
            mm(hatch.pitch),
            hatch.is_diagonal,
            hatch.is_drawn,
        ]);
    }
    connect(&mut record, area.connection);
    record
}

pub(super) fn guard_record(guard: &Guard) -> Value {
    let mut record = json!({
        "name": guard.name,
        "group": guard.group,
        "layer": guard.layer,
    });
    match guard.place {
        GuardPlace::Between { width } => record["width_mm"] = json!(mm(width)),
        GuardPlace::BetweenKeeping { clearance } => record["clearance_mm"] = json!(mm(clearance)),
        GuardPlace::Around { width, clearance } => {
            record["around_mm"] = json!([mm(width), mm(clearance)]);
        }
    }
    connect(&mut record, guard.connection);
    record
}

/// Adds traces, frames and objects where there are any.
pub(super) fn add_surroundings(panel: &Panel, record: &mut Value) {
    let all = [
        ("traces", traces(panel)),
        ("bezels", bezels(panel)),
        ("objects", objects(panel)),
    ];
    for (key, records) in all {
        if !records.is_empty() {
            record[key] = json!(records);
        }
    }
}

fn traces(panel: &Panel) -> Vec<Value> {
    let mut all: Vec<&Trace> = panel.traces.iter().collect();
    all.sort_by(|a, b| a.name.cmp(&b.name));
    let records = all.into_iter().map(|trace| {
        let mut record = json!({
            "name": trace.name,
            "layer": trace.layer,
            "width_mm": mm(trace.width),
            "path_mm": trace.path.iter().map(|corner| corner.map(mm)).collect::<Vec<_>>(),
            "keepout_mm": mm(trace.keepout),
            "via_mm": mm(trace.via),
        });
        match &trace.net {
            TraceNet::Pad(pad) => record["pad"] = json!(pad),
            TraceNet::Own(connection) => connect(&mut record, *connection),
        }
        record
    });
    records.collect()
}

fn bezels(panel: &Panel) -> Vec<Value> {
    let mut all: Vec<_> = panel.bezels.iter().collect();
    all.sort_by(|a, b| a.name.cmp(&b.name));
    let records = all.into_iter().map(|bezel| {
        let mut record = json!({
            "name": bezel.name,
            "opening_mm": bezel.opening.map(mm),
            "centre_mm": bezel.centre.map(mm),
            "width_mm": mm(bezel.width),
            "height_mm": mm(bezel.height),
        });
        connect(&mut record, bezel.connection);
        record
    });
    records.collect()
}

fn objects(panel: &Panel) -> Vec<Value> {
    let mut all: Vec<_> = panel.objects.iter().collect();
    all.sort_by(|a, b| a.name.cmp(&b.name));
    let records = all.into_iter().map(|object| {
        let mut record = json!({
            "name": object.name,
            "size_mm": object.size.map(mm),
            "centre_mm": object.centre.map(mm),
            "thickness_mm": mm(object.thickness),
            "behind": object.side == ObjectSide::Behind,
            "distance_mm": mm(object.distance),
            "moves": object.moves,
        });
        connect(&mut record, object.connection);
        record
    });
    records.collect()
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
