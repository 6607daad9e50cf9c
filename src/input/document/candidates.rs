//! Other ways to lay a drawn trace: changes that are no number, each a set of overrides to try.

use super::Document;
use super::overrides::Override;
use crate::panel::outline::polygon_box;
use crate::panel::{LayerContent, Panel, Trace};
use padfield_engine::units::Length;

/// Kept free on either side of a trace that copper comes to. Common practice, no source.
const SPARE: Length = Length::from_mm(0.5);
/// Copper beside what is kept free. Common practice, no source.
const BESIDE: Length = Length::from_mm(1.0);

/// A change of the panel that is tried as a whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Candidate {
    /// What it does, for people.
    pub words: String,
    /// The overrides that do it.
    pub overrides: Vec<Override>,
}

impl Document {
    /// Other copper layers for every drawn trace, and a ground around it on its own layer where none is;
    /// each makes a valid panel, with the keepouts it needs. `panel` is what this file became.
    ///
    /// ```
    /// use padfield::input::Document;
    /// # let text = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/panels/everything.toml"));
    /// let document = Document::from_text("panel.toml", text)?;
    /// let panel = document.panel(&[])?;
    /// for candidate in document.trace_candidates(&panel) {
    ///     println!("{}", candidate.words);
    ///     document.panel(&candidate.overrides)?;
    /// }
    /// # Ok::<(), padfield::input::ScenarioError>(())
    /// ```
    pub fn trace_candidates(&self, panel: &Panel) -> Vec<Candidate> {
        let mut found = Vec::new();
        for trace in &panel.traces {
            for (index, layer) in panel.layers.iter().enumerate() {
                if layer.content != LayerContent::Copper || index == trace.layer {
                    continue;
                }
                let words = format!("trace \"{}\" on layer \"{}\"", trace.name, layer.name);
                let set = vec![set(&["trace", &trace.name, "layer"], &layer.name)];
                found.extend(self.candidate(panel, words, set));
            }
            if !has_ground(panel, trace) {
                let layer = &panel.layers[trace.layer].name;
                let words = format!(
                    "ground around trace \"{}\" on layer \"{layer}\"",
                    trace.name
                );
                found.extend(self.candidate(panel, words, around(panel, trace)));
            }
        }
        found
    }

    /// The change by itself or, where copper would touch traces, with keepouts for them; none when
    /// neither makes a panel.
    fn candidate(
        &self,
        panel: &Panel,
        words: String,
        overrides: Vec<Override>,
    ) -> Option<Candidate> {
        let narrow = panel.traces.iter().filter(|trace| is_narrow(trace));
        let keepouts = narrow.map(|trace| {
            let free = mm(trace.width + SPARE * 2.0);
            set(&["trace", &trace.name, KEEPOUT], &free)
        });
        let with_keepouts = [overrides.clone(), keepouts.collect()].concat();
        let mut ways = [overrides, with_keepouts].into_iter();
        let overrides = ways.find(|way| self.panel(way).is_ok())?;
        Some(Candidate { words, overrides })
    }
}

/// The key of the strip that copper keeps free.
const KEEPOUT: &str = "keepout";

fn is_narrow(trace: &Trace) -> bool {
    trace.keepout < trace.width + SPARE * 2.0
}

/// Whether an area of its layer already lies about a trace.
fn has_ground(panel: &Panel, trace: &Trace) -> bool {
    let strips = trace.strips();
    let mut areas = panel
        .grounds
        .iter()
        .filter(|area| area.layer == trace.layer);
    areas.any(|area| {
        let reaches =
            |axis: usize, side: f64| (area.centre[axis] + area.size[axis] * (0.5 * side)).metres();
        strips.iter().any(|[low, high]| {
            (0..2).all(|axis| low[axis] < reaches(axis, 1.0) && high[axis] > reaches(axis, -1.0))
        })
    })
}

/// A ground area over the box of a trace and a little more, within the board.
fn around(panel: &Panel, trace: &Trace) -> Vec<Override> {
    let strips: Vec<_> = trace.strips().iter().map(|strip| strip.to_vec()).collect();
    let [low, high] = polygon_box(&strips);
    let free = match is_narrow(trace) {
        true => SPARE,
        false => (trace.keepout - trace.width) * 0.5,
    };
    let reach = (free + BESIDE).metres();
    let half = panel.board.value.map(|side| 0.5 * side.metres());
    let ends = [0, 1].map(|axis| {
        [
            (low[axis] - reach).max(-half[axis]),
            (high[axis] + reach).min(half[axis]),
        ]
    });
    let size = ends.map(|[from, to]| mm(Length::from_metres(to - from)));
    let centre = ends.map(|[from, to]| mm(Length::from_metres((from + to) / 2.0)));
    // Names are short, and must not be nearly that of another area.
    let number = panel
        .traces
        .iter()
        .position(|other| other.name == trace.name);
    let name = format!("around trace {}", 1 + number.unwrap_or_default());
    let area = |key: &str, value: &str| set(&["ground", &name, key], value);
    vec![
        area("layer", &panel.layers[trace.layer].name),
        area("outline", &size.join(" x ")),
        area("centre", &centre.join(", ")),
        area("clearance", &mm(SPARE)),
    ]
}

fn set(path: &[&str], value: &str) -> Override {
    Override {
        path: path.join("."),
        value: value.to_owned(),
    }
}

/// In millimetres, to the picometre.
fn mm(length: Length) -> String {
    let text = format!("{:.9}", length.mm());
    format!("{} mm", text.trim_end_matches('0').trim_end_matches('.'))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn candidates(file: &str, text: &str) -> (Document, Panel, Vec<Candidate>) {
        let document = Document::from_text(file, text).expect("TOML");
        let panel = document.panel(&[]).unwrap_or_else(|e| panic!("{e}"));
        let found = document.trace_candidates(&panel);
        (document, panel, found)
    }

    #[test]
    fn every_candidate_is_another_valid_panel() {
        let text = include_str!("../../../tests/panels/everything.toml");
        let (document, panel, found) = candidates("everything.toml", text);
        let words: Vec<&str> = found.iter().map(|one| one.words.as_str()).collect();
        assert_eq!(
            words,
            [
                // On the front the way leads past no other pad and the cross ends before it.
                "trace \"a\" on layer \"front\"",
                "trace \"a\" on layer \"inner\"",
                "trace \"line\" on layer \"inner\"",
                "trace \"line\" on layer \"back\"",
                "ground around trace \"line\" on layer \"front\"",
            ]
        );
        for one in &found {
            let changed = document.panel(&one.overrides);
            let changed = changed.unwrap_or_else(|e| panic!("{}: {e}", one.words));
            assert_ne!(changed, panel, "{}", one.words);
            crate::panel::lowering::panel_metal(&changed)
                .unwrap_or_else(|e| panic!("{}: {e}", one.words));
        }
        // Over the hatch of the back the line needs room that it has not on the front.
        let behind = document.panel(&found[3].overrides).expect("valid");
        let line = behind.traces.iter().find(|trace| trace.name == "line");
        let line = line.expect("the line");
        assert_eq!((line.layer, (line.keepout.mm() * 1e6).round()), (6, 1.3e6));
        let beside = document.panel(&found[4].overrides).expect("valid");
        assert_eq!(beside.grounds.len(), panel.grounds.len() + 1);
        let area = beside.grounds.iter().find(|area| area.layer == 2);
        let mm = area
            .expect("the ground")
            .size
            .map(|side| (side.mm() * 1e6).round() / 1e6);
        // The line is 64.3 mm by 0.3 mm; 1.5 mm around it, and the board ends at 35 mm.
        assert_eq!(mm, [67.3, 3.3]);
    }

    #[test]
    fn the_shipped_panels_with_traces_have_candidates_that_are_panels() {
        for (file, text) in [
            ("acorn.toml", include_str!("../../../scenarios/acorn.toml")),
            ("tern.toml", include_str!("../../../scenarios/tern.toml")),
            (
                "guide_open.toml",
                include_str!("../../../scenarios/guide_open.toml"),
            ),
        ] {
            let (document, panel, found) = candidates(file, text);
            // One copper layer, and its ground lies around the trace already: nothing is left to try.
            assert_eq!(found.is_empty(), file == "tern.toml", "{file}: {found:?}");
            assert!(!panel.traces.is_empty(), "{file}");
            for one in &found {
                let changed = document.panel(&one.overrides);
                changed.unwrap_or_else(|e| panic!("{file}, {}: {e}", one.words));
            }
        }
    }
}
