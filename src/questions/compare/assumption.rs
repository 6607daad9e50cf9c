//! Assumptions that may be wrong, and the panel with another value of one.

use crate::input::catalogue::{Role, varied};
use crate::panel::{Layer, LayerContent, Panel};
use crate::sensitivity::{PanelFamily, Parameter};
use padfield_engine::units::{Length, Permittivity, Toleranced};

/// Widest air gap that is tried \[mm\].
const MOST_GAP_MM: f64 = 3.0;
/// Name of the layer of air.
const GAP: &str = "air gap";
/// A value is tried down to this share of what was assumed where nothing makes no sense.
const LEAST_SHARE: f64 = 0.05;

/// One value that may differ from what was assumed, or several that differ together.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumption {
    pub words: String,
    /// Unit of its value, empty for a plain number.
    pub unit: String,
    /// Whether the field has to be solved again for another value.
    pub is_of_field: bool,
    /// The value the panel has, of the first of several: nominal, least, most.
    pub assumed: [f64; 3],
    /// Smallest and largest value that is tried.
    pub limits: [f64; 2],
    /// First step away from the assumed value.
    pub step: f64,
    subject: Subject,
}

#[derive(Clone, Debug, PartialEq)]
enum Subject {
    /// Parameters of the panel family that move by the same share.
    Parameters(Vec<usize>),
    /// Thickness of a layer of air before the copper of the pads \[mm\].
    AirGap,
}

impl Assumption {
    /// Those that a panel has: what the [catalogue](crate::input::catalogue) says may differ on the
    /// bench, and a gap of air before the pads.
    pub fn all(family: &PanelFamily) -> Vec<Self> {
        let mut all: Vec<Self> = Vec::new();
        let mut widths: Vec<usize> = Vec::new();
        let doubted = |parameter: &Parameter| {
            let entry = varied(&parameter.path).filter(|entry| entry.is(Role::Doubt));
            entry.filter(|_| is_there(&family.panel, &parameter.path))
        };
        let circuit_first = |parameter: &Parameter| parameter.changes_field;
        let mut order: Vec<usize> = (0..family.parameters.len()).collect();
        order.sort_by_key(|&index| circuit_first(&family.parameters[index]));
        for index in order {
            let parameter = &family.parameters[index];
            let Some(entry) = doubted(parameter) else {
                continue;
            };
            // All traces are etched at once.
            if (entry.section, entry.key) == ("trace", "width") {
                widths.push(index);
                continue;
            }
            all.push(Self::of(family, vec![index], words(&parameter.path)));
        }
        if !widths.is_empty() {
            all.push(Self::of(
                family,
                widths,
                "width of the drawn traces".to_owned(),
            ));
        }
        all.push(Self {
            words: "air gap before the pads".to_owned(),
            unit: "mm".to_owned(),
            is_of_field: true,
            assumed: [0.0; 3],
            limits: [0.0, MOST_GAP_MM],
            step: 0.05,
            subject: Subject::AirGap,
        });
        all
    }

    fn of(family: &PanelFamily, parameters: Vec<usize>, words: String) -> Self {
        let first = &family.parameters[parameters[0]];
        let per_unit = 1.0 / first.unit_si;
        let value = first.value * per_unit;
        let ends = first
            .spread
            .map_or([first.value; 2], |spread| [spread.least, spread.most]);
        let [least, most] = ends.map(|end| end * per_unit);
        let entry = varied(&first.path);
        let usual = entry.map_or(1.0, |entry| crate::input::unit_factor(entry.unit()));
        let range = entry.map_or([0.0, f64::INFINITY], |entry| entry.range);
        let [low, high] = range.map(|end| end * usual * per_unit);
        // A dimension of zero is another panel; a capacitance of zero is one.
        let low = match entry.is_some_and(|entry| entry.motion.changes_field()) {
            true => low.max(LEAST_SHARE * value),
            false => low,
        };
        Self {
            words,
            unit: first.unit.clone(),
            is_of_field: parameters
                .iter()
                .any(|&index| family.parameters[index].changes_field),
            assumed: [value, least, most],
            limits: [low.min(value), high.max(value)],
            step: match value > 0.0 && first.changes_field {
                true => 0.1 * value,
                false => 0.1 * value.max(0.1),
            },
            subject: Subject::Parameters(parameters),
        }
    }

    /// Whether it adds something that the file does not have.
    pub fn is_added(&self) -> bool {
        self.subject == Subject::AirGap
    }

    /// The panel with this value.
    ///
    /// # Errors
    /// Why there is no such panel.
    pub fn applied(&self, family: &PanelFamily, value: f64) -> Result<Panel, String> {
        match &self.subject {
            Subject::Parameters(parameters) => {
                let share = value / self.assumed[0];
                let moved = parameters.iter().map(|&index| match parameters.len() {
                    1 => (index, value * family.parameters[index].unit_si),
                    _ => (index, share * family.parameters[index].value),
                });
                let moved: Vec<(usize, f64)> = moved.collect();
                let panel = family.panel(&moved);
                panel.map_err(|error| error.message().to_owned())
            }
            Subject::AirGap => {
                let mut changed = family.panel.clone();
                if value > 0.0 {
                    add_gap(&mut changed, Length::from_mm(value));
                }
                Ok(changed)
            }
        }
    }
}

/// Whether a value that the panel has means anything on it.
fn is_there(panel: &Panel, path: &str) -> bool {
    match path.split('.').collect::<Vec<_>>()[..] {
        ["stray", "trace"] => panel
            .pads
            .iter()
            .any(|pad| pad.trace_length.value.metres() > 0.0),
        // Air is air.
        ["layer", name, "permittivity"] => panel.layers.iter().any(|layer| {
            layer.name == name
                && matches!(&layer.content, LayerContent::Dielectric { permittivity, .. }
                    if permittivity.nominal.relative() > 1.0)
        }),
        _ => true,
    }
}

/// A path as a person says it.
fn words(path: &str) -> String {
    match path.split('.').collect::<Vec<_>>()[..] {
        ["stray", "pin"] => "pin capacitance".to_owned(),
        ["stray", "trace"] => "trace capacitance per length".to_owned(),
        [_, key] => key.replace('_', " "),
        [section, name, key] => format!("{} of {section} \"{name}\"", key.replace('_', " ")),
        _ => path.to_owned(),
    }
}

/// Puts a layer of air before the foremost copper of pads; what lies on later layers moves along.
fn add_gap(panel: &mut Panel, thickness: Length) {
    let Some(front) = panel.pads.iter().map(|pad| pad.layer).min() else {
        return;
    };
    panel.layers.insert(
        front,
        Layer {
            name: GAP.to_owned(),
            thickness: Toleranced::exact(thickness),
            content: LayerContent::Dielectric {
                material: "air".to_owned(),
                permittivity: Toleranced::exact(Permittivity::from_relative(1.0)),
                source: "assumed".to_owned(),
            },
            outline: None,
        },
    );
    let layers = panel.pads.iter_mut().map(|pad| &mut pad.layer);
    let layers = layers.chain(panel.grounds.iter_mut().map(|area| &mut area.layer));
    let layers = layers.chain(panel.guards.iter_mut().map(|guard| &mut guard.layer));
    let layers = layers.chain(panel.traces.iter_mut().map(|trace| &mut trace.layer));
    let layers = layers.chain(panel.slots.iter_mut().map(|slot| &mut slot.layer));
    for layer in layers.filter(|layer| **layer >= front) {
        *layer += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::Document;
    use crate::sensitivity::parameters;

    #[test]
    fn what_may_differ_on_the_bench_comes_from_the_catalogue() {
        let text = include_str!("../../../tests/panels/everything.toml");
        let document = Document::from_text("everything.toml", text).expect("TOML");
        let panel = document.panel(&[]).unwrap_or_else(|e| panic!("{e}"));
        let family = PanelFamily {
            parameters: parameters(&document, &panel, None).expect("tolerances"),
            document: Some(document),
            panel,
        };
        let all = Assumption::all(&family);
        for words in [
            "pin capacitance",
            "trace capacitance per length",
            "resistor",
            "thickness of layer \"bond\"",
            "permittivity of layer \"overlay\"",
            "hole of pads \"keys\"",
            "line of ground \"plane\"",
            "pitch of shield \"front\"",
            "gain of shield \"front\"",
            "width of slot \"ditch\"",
            "depth of slot \"ditch\"",
            "width of the drawn traces",
            "air gap before the pads",
        ] {
            let one = all.iter().find(|one| one.words == words);
            let one = one.unwrap_or_else(|| panic!("no {words}: {all:#?}"));
            let [least, most] = one.limits;
            let tried = one.assumed[0] + one.step;
            assert!(least <= one.assumed[0] && tried <= most, "{one:?}");
            let changed = one.applied(&family, tried);
            let changed = changed.unwrap_or_else(|e| panic!("{words}: {e}"));
            assert_ne!(changed, family.panel, "{words}");
        }
        // Both traces together, and a dimension does not go to nothing.
        let widths = all.iter().find(|one| one.words.contains("traces"));
        let widths = widths.expect("the traces");
        let wider = widths.applied(&family, 0.3).expect("a panel");
        let mm = wider
            .traces
            .iter()
            .map(|trace| (trace.width.mm() * 1e6).round() / 1e6);
        assert_eq!(mm.collect::<Vec<_>>(), [0.3, 0.45]);
        assert!(
            all.iter()
                .all(|one| !one.is_of_field || one.is_added() || one.limits[0] > 0.0)
        );
    }
}
