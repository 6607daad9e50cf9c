//! The copper of a panel seen from the touched side.

use super::on_paper::board::{BoardDrawing, BoardPiece, PieceLook};
use crate::panel::outline::{Rectangle, pad_box, pad_polygons};
use crate::panel::{Finger, Panel, TraceNet};

/// The board with its copper and, dashed, the contact of a finger on the pad of that name.
pub fn board_drawing(panel: &Panel, finger: Option<&Finger>, touched: &str) -> BoardDrawing {
    let pad = panel.pads.iter().find(|pad| pad.name == touched);
    let contact_mm = finger.zip(pad).map(|(finger, pad)| {
        let middle = [0, 1].map(|axis| (pad.centre[axis] + finger.offset[axis]).mm());
        (middle, finger.contact.mm())
    });
    BoardDrawing {
        title: format!("Board: {}", panel.title),
        size_mm: panel.board.value.map(|side| side.mm()),
        pieces: pieces(panel),
        contact_mm,
        assumption: "Seen from the touched side. Hatched areas are drawn solid, and copper behind the pads pale; \
                     clearances around pads follow their boxes."
            .to_owned(),
    }
}

/// Back to front.
fn pieces(panel: &Panel) -> Vec<BoardPiece> {
    let mut pieces = Vec::new();
    let mut add = |rectangle: Rectangle, look: PieceLook, label: &str| {
        let [low, high] = rectangle;
        let corners_m = [low, [high[0], low[1]], high, [low[0], high[1]]];
        pieces.push(piece(&corners_m, look, label));
    };
    for layer in panel.layers.iter().rev() {
        if let Some(outline) = layer.outline {
            add(outline.bounds_m(), PieceLook::Cover, "");
        }
    }
    for object in &panel.objects {
        add(object.outline(), PieceLook::Object, &object.name);
    }
    let front = panel.pads.iter().map(|pad| pad.layer).min().unwrap_or(0);
    let mut areas: Vec<_> = panel.grounds.iter().collect();
    areas.sort_by_key(|area| std::cmp::Reverse(area.layer));
    for area in areas {
        let half = area.size.map(|side| 0.5 * side.metres());
        let at = area.centre.map(|c| c.metres());
        let outline = [
            [at[0] - half[0], at[1] - half[1]],
            [at[0] + half[0], at[1] + half[1]],
        ];
        let beside: Vec<_> = panel
            .pads
            .iter()
            .filter(|pad| pad.layer == area.layer)
            .collect();
        let is_beside = !beside.is_empty() || area.layer <= front;
        let look = if is_beside {
            PieceLook::GroundBeside
        } else {
            PieceLook::GroundBehind
        };
        add(outline, look, "");
        let clearance = area.clearance.metres();
        for pad in beside {
            let [low, high] = pad_box(pad);
            let kept_free = [low.map(|c| c - clearance), high.map(|c| c + clearance)];
            add(kept_free, PieceLook::Clearance, "");
        }
    }
    for trace in &panel.traces {
        for strip in trace
            .keepout_strips()
            .into_iter()
            .filter(|_| trace.layer == front)
        {
            add(strip, PieceLook::Clearance, "");
        }
        let label = match &trace.net {
            TraceNet::Pad(_) => "",
            TraceNet::Own(_) => &trace.name,
        };
        for (place, strip) in trace.strips().into_iter().enumerate() {
            add(strip, PieceLook::Trace, if place == 0 { label } else { "" });
        }
    }
    for guard in &panel.guards {
        for strip in guard.strips(&panel.groups) {
            add(strip, PieceLook::Guard, "");
        }
    }
    for pad in &panel.pads {
        let polygons = pad_polygons(pad);
        for (place, corners_m) in polygons.iter().enumerate() {
            pieces.push(match place {
                0 => piece(corners_m, PieceLook::Pad, &pad.name),
                _ => piece(corners_m, PieceLook::Hole, ""),
            });
        }
    }
    let mut add = |rectangle: Rectangle, look: PieceLook, label: &str| {
        let [low, high] = rectangle;
        let corners_m = [low, [high[0], low[1]], high, [low[0], high[1]]];
        pieces.push(piece(&corners_m, look, label));
    };
    for slot in &panel.slots {
        for strip in slot.strips(&panel.groups) {
            add(strip, PieceLook::Slot, "");
        }
    }
    for film in &panel.films {
        let half = film.half_extent_m();
        let at = film.centre.map(|c| c.metres());
        let outline = [
            [at[0] - half[0], at[1] - half[1]],
            [at[0] + half[0], at[1] + half[1]],
        ];
        add(outline, PieceLook::Film, &film.name);
    }
    for bezel in &panel.bezels {
        for (place, side) in bezel.sides().into_iter().enumerate() {
            add(
                side,
                PieceLook::Frame,
                if place == 3 { &bezel.name } else { "" },
            );
        }
    }
    pieces
}

fn piece(corners_m: &[[f64; 2]], look: PieceLook, label: &str) -> BoardPiece {
    BoardPiece {
        corners_mm: corners_m
            .iter()
            .map(|corner| corner.map(|c| 1e3 * c))
            .collect(),
        look,
        label: label.to_owned(),
    }
}
