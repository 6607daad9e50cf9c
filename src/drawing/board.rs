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
    let mut pieces = Pieces(Vec::new());
    let front = panel.pads.iter().map(|pad| pad.layer).min().unwrap_or(0);
    for outline in panel.layers.iter().rev().filter_map(|layer| layer.outline) {
        pieces.add(outline.bounds_m(), PieceLook::Cover, "");
    }
    for object in &panel.objects {
        pieces.add(object.outline(), PieceLook::Object, &object.name);
    }
    pieces.add_grounds(panel, front);
    pieces.add_traces(panel, front);
    for strip in panel
        .guards
        .iter()
        .flat_map(|guard| guard.strips(&panel.groups))
    {
        pieces.add(strip, PieceLook::Guard, "");
    }
    for pad in &panel.pads {
        for (place, corners_m) in pad_polygons(pad).iter().enumerate() {
            pieces.0.push(match place {
                0 => piece(corners_m, PieceLook::Pad, &pad.name),
                _ => piece(corners_m, PieceLook::Hole, ""),
            });
        }
    }
    for strip in panel
        .slots
        .iter()
        .flat_map(|slot| slot.strips(&panel.groups))
    {
        pieces.add(strip, PieceLook::Slot, "");
    }
    for film in &panel.films {
        let at = film.centre.map(|c| c.metres());
        pieces.add(about(at, film.half_extent_m()), PieceLook::Film, &film.name);
    }
    for bezel in &panel.bezels {
        for (place, side) in bezel.sides().into_iter().enumerate() {
            let label = if place == 3 { &bezel.name } else { "" };
            pieces.add(side, PieceLook::Frame, label);
        }
    }
    pieces.0
}

/// Pieces so far, the later ones over the earlier.
struct Pieces(Vec<BoardPiece>);

impl Pieces {
    fn add(&mut self, rectangle: Rectangle, look: PieceLook, label: &str) {
        let [low, high] = rectangle;
        let corners_m = [low, [high[0], low[1]], high, [low[0], high[1]]];
        self.0.push(piece(&corners_m, look, label));
    }

    /// Ground areas with what they keep free around the pads of their layer, the farthest first.
    fn add_grounds(&mut self, panel: &Panel, front: usize) {
        let mut areas: Vec<_> = panel.grounds.iter().collect();
        areas.sort_by_key(|area| std::cmp::Reverse(area.layer));
        for area in areas {
            let half = area.size.map(|side| 0.5 * side.metres());
            let beside = panel.pads.iter().filter(|pad| pad.layer == area.layer);
            let beside: Vec<_> = beside.collect();
            let look = match !beside.is_empty() || area.layer <= front {
                true => PieceLook::GroundBeside,
                false => PieceLook::GroundBehind,
            };
            self.add(about(area.centre.map(|c| c.metres()), half), look, "");
            let clearance = area.clearance.metres();
            for [low, high] in beside.into_iter().map(pad_box) {
                let kept_free = [low.map(|c| c - clearance), high.map(|c| c + clearance)];
                self.add(kept_free, PieceLook::Clearance, "");
            }
        }
    }

    /// Traces, on the front with what they keep free.
    fn add_traces(&mut self, panel: &Panel, front: usize) {
        for trace in &panel.traces {
            if trace.layer == front {
                for strip in trace.keepout_strips() {
                    self.add(strip, PieceLook::Clearance, "");
                }
            }
            let label = match &trace.net {
                TraceNet::Pad(_) => "",
                TraceNet::Own(_) => &trace.name,
            };
            for (place, strip) in trace.strips().into_iter().enumerate() {
                self.add(strip, PieceLook::Trace, if place == 0 { label } else { "" });
            }
        }
    }
}

/// A rectangle about its middle.
fn about(at: [f64; 2], half: [f64; 2]) -> Rectangle {
    [
        [at[0] - half[0], at[1] - half[1]],
        [at[0] + half[0], at[1] + half[1]],
    ]
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
