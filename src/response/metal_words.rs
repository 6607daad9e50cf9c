//! Ground, guards, shields, traces, frames and objects in plain words.

use super::assumptions::plain;
use crate::panel::{Connection, Fill, GuardPlace, ObjectSide, Panel, TraceNet};

/// What is held at 0 V on the board.
pub(super) fn ground_line(panel: &Panel) -> String {
    let areas = panel
        .grounds
        .iter()
        .filter(|area| area.connection == Connection::Grounded)
        .map(|area| area_words(panel, area));
    let guards = guards(panel)
        .filter(|guard| guard.connection == Connection::Grounded)
        .map(|guard| guard_words(panel, guard));
    let all: Vec<String> = areas.chain(guards).collect();
    if all.is_empty() {
        "Ground: none on the board.".to_owned()
    } else {
        format!("Ground at 0 V: {}.", all.join(", "))
    }
}

/// One line per kind of other metal that there is.
pub(super) fn metal_lines(panel: &Panel) -> Vec<String> {
    let mut lines = Vec::new();
    let other = |connection: Connection| connection != Connection::Grounded;
    let shields = panel.grounds.iter().filter(|area| other(area.connection));
    let shields = shields.map(|area| {
        let words = area_words(panel, area);
        format!("{words} {}", connection_words(area.connection))
    });
    let driven = guards(panel)
        .filter(|guard| other(guard.connection))
        .map(|guard| {
            let words = guard_words(panel, guard);
            format!("{words} {}", connection_words(guard.connection))
        });
    push(
        &mut lines,
        "Shields and guards not at 0 V",
        shields.chain(driven),
    );
    let traces = panel.traces.iter().map(|trace| {
        let whose = match &trace.net {
            TraceNet::Pad(pad) => format!("of pad \"{pad}\", as one conductor with it"),
            TraceNet::Own(connection) => {
                format!("of its own, {}", connection_words(*connection))
            }
        };
        format!(
            "\"{}\" {} mm wide, {} mm long on {}, {whose}",
            trace.name,
            plain(trace.width.mm(), 3),
            plain(trace.length().mm(), 1),
            layer(panel, trace.layer)
        )
    });
    push(&mut lines, "Traces drawn", traces);
    let bezels = panel.bezels.iter().map(|bezel| {
        format!(
            "\"{}\" {} mm wide and {} mm high around {} x {} mm, {}",
            bezel.name,
            plain(bezel.width.mm(), 2),
            plain(bezel.height.mm(), 2),
            plain(bezel.opening[0].mm(), 2),
            plain(bezel.opening[1].mm(), 2),
            connection_words(bezel.connection)
        )
    });
    push(&mut lines, "Metal frames on the touched face", bezels);
    let objects = panel.objects.iter().map(|object| {
        let side = match object.side {
            ObjectSide::Behind => "behind the board",
            ObjectSide::Before => "before the touched face",
        };
        format!(
            "\"{}\" {} x {} mm, {} mm {side}, {}{}",
            object.name,
            plain(object.size[0].mm(), 2),
            plain(object.size[1].mm(), 2),
            plain(object.distance.mm(), 2),
            connection_words(object.connection),
            if object.moves { ", may be gone" } else { "" }
        )
    });
    push(&mut lines, "Metal nearby", objects);
    lines
}

fn push(lines: &mut Vec<String>, what: &str, all: impl Iterator<Item = String>) {
    let all: Vec<String> = all.collect();
    if !all.is_empty() {
        lines.push(format!("{what}: {}.", all.join("; ")));
    }
}

fn layer(panel: &Panel, index: usize) -> &str {
    panel.layers.get(index).map_or("?", |l| l.name.as_str())
}

fn guards(panel: &Panel) -> impl Iterator<Item = &crate::panel::Guard> {
    panel.guards.iter().filter(|guard| !guard.is_empty())
}

fn area_words(panel: &Panel, area: &crate::panel::GroundArea) -> String {
    let fill = match area.fill {
        Fill::Solid => String::new(),
        Fill::Hatch(hatch) => format!(
            " hatched ({} mm lines every {} mm{}, {} % copper, {})",
            plain(hatch.line.mm(), 3),
            plain(hatch.pitch.mm(), 3),
            if hatch.is_diagonal {
                " at 45 degrees"
            } else {
                ""
            },
            plain(100.0 * hatch.copper_share(), 0),
            if hatch.is_drawn {
                "every line drawn"
            } else {
                "as a sheet that leaks as one cell of it does"
            }
        ),
    };
    format!(
        "\"{}\" {} x {} mm{fill} on {}",
        area.name,
        plain(area.size[0].mm(), 2),
        plain(area.size[1].mm(), 2),
        layer(panel, area.layer)
    )
}

fn guard_words(panel: &Panel, guard: &crate::panel::Guard) -> String {
    let place = match guard.place {
        GuardPlace::Between { width } => format!("{} mm wide", plain(width.mm(), 3)),
        GuardPlace::BetweenKeeping { clearance } => {
            format!("filling the gaps but {} mm", plain(clearance.mm(), 3))
        }
        GuardPlace::Around { width, clearance } => format!(
            "{} mm wide around \"{}\" at {} mm",
            plain(width.mm(), 3),
            guard.group,
            plain(clearance.mm(), 3)
        ),
    };
    format!(
        "guard \"{}\" {place} on {}",
        guard.name,
        layer(panel, guard.layer)
    )
}

fn connection_words(connection: Connection) -> String {
    match connection {
        Connection::Grounded => "at 0 V".to_owned(),
        Connection::Floating => "connected to nothing".to_owned(),
        Connection::Driven { gain } => {
            format!("driven with {} times the measured pad", plain(gain, 3))
        }
        Connection::Body => "held by the user's other hand".to_owned(),
    }
}
