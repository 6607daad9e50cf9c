//! What a rule is judged on: one pad group of a panel, one finger, the names that stand for placeholders.

use crate::input::{Document, Override};
use crate::panel::{Connection, Fill, GroundArea, LayerContent, Pad, Panel, Trace, TraceNet};
use crate::questions::window::Window;
use crate::touch::panel_mirrors;
use padfield_engine::field::Settings;

/// Words in braces that stand for names of the panel: its first layer, the pad group, the finger, the
/// ground trace of the group, the first hatched ground area or the first of all, the first shield, the
/// first slot, the first trace of the group.
pub(super) const PLACEHOLDERS: [(&str, NameIn); 8] = [
    ("overlay", |subject| &subject.overlay),
    ("pads", |subject| &subject.group),
    ("finger", |subject| &subject.finger),
    ("guard", |subject| &subject.guard),
    ("ground", |subject| &subject.ground),
    ("shield", |subject| &subject.shield),
    ("slot", |subject| &subject.slot),
    ("trace", |subject| &subject.trace),
];

type NameIn = fn(&Subject) -> &str;

/// What stands for the name of something that the panel does not have.
const NO_NAME: &str = "NAME";

/// Name of the ground trace a rule adds where the group has none.
const OWN_GUARD: &str = "trace of the rule";

/// Pads whose gap is within this factor of the smallest one are nearest.
const NEAREST_WITHIN: f64 = 1.05;

/// The panel file under judgement.
#[derive(Clone, Debug)]
pub struct Asked<'a> {
    pub document: &'a Document,
    /// Values set before everything else.
    pub overrides: &'a [Override],
    /// Finger by name; none: the first of the panel.
    pub finger: Option<&'a str>,
    /// Pad groups to judge; empty: all.
    pub groups: &'a [String],
    pub settings: Settings,
    /// Thresholds of the panel, or why they are not known.
    pub thresholds: Result<ThresholdShares, String>,
}

/// Thresholds as shares of a typical adult touch.
#[derive(Clone, Debug, PartialEq)]
pub struct ThresholdShares {
    /// Strongest false event and weakest true touch \[%\]: thresholds between them work, and none does
    /// when the first is the larger one.
    pub working: [f64; 2],
    /// The threshold that is recommended \[%\].
    pub recommended: Option<f64>,
}

impl ThresholdShares {
    /// Of the pad whose window is narrowest.
    ///
    /// # Errors
    /// No user touches a pad.
    pub fn of(found: &Window) -> Result<Self, String> {
        let binding = found.binding();
        let typical = found
            .table
            .references
            .iter()
            .find(|r| Some(r.pad) == binding.pad);
        let (Some(typical), Some(strongest), Some(weakest)) =
            (typical, binding.strongest_false, binding.weakest_true)
        else {
            return Err("no user touches a pad of this panel".to_owned());
        };
        let percent = |counts: f64| 100.0 * counts / typical.counts;
        let bound = |index: usize| percent(found.table.events[index].bound);
        Ok(Self {
            working: [bound(strongest), bound(weakest)],
            recommended: binding.choice.map(|choice| percent(choice.threshold)),
        })
    }
}

/// One pad group with the names around it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Subject {
    pub group: String,
    /// Whether the panel has other groups: texts then name this one.
    pub is_one_of_several: bool,
    pub overlay: String,
    /// Canonical name of the overlay's material, or as it was written.
    pub overlay_material: String,
    pub finger: String,
    pub guard: String,
    pub ground: String,
    pub shield: String,
    pub slot: String,
    pub trace: String,
}

impl Subject {
    /// A text with its placeholders replaced.
    pub fn fill(&self, text: &str) -> String {
        let replaced = |text: String, (word, name): (&str, NameIn)| {
            text.replace(&format!("{{{word}}}"), name(self))
        };
        PLACEHOLDERS.into_iter().fold(text.to_owned(), replaced)
    }

    /// Overrides of pairs of path and value.
    pub fn overrides(&self, pairs: &[[String; 2]]) -> Vec<Override> {
        let filled = |[path, value]: &[String; 2]| Override {
            path: self.fill(path),
            value: self.fill(value),
        };
        pairs.iter().map(filled).collect()
    }
}

/// Every pad group of the panel, or those that are asked for.
pub(super) fn subjects(panel: &Panel, finger: &str, wanted: &[String]) -> Vec<Subject> {
    let mut groups: Vec<&str> = Vec::new();
    // Rules of thumb are about pads that act each on its own.
    for pad in panel.pads.iter().filter(|pad| !panel.is_segment(pad)) {
        if !groups.contains(&pad.group.as_str()) {
            groups.push(&pad.group);
        }
    }
    let is_one_of_several = groups.len() > 1;
    let overlay = &panel.layers[0];
    let material = match &overlay.content {
        LayerContent::Dielectric { material, .. } => material.as_str(),
        LayerContent::Copper => "copper",
    };
    let known = crate::input::materials::find(material).map(|known| known.name.clone());
    groups
        .into_iter()
        .filter(|group| wanted.is_empty() || wanted.iter().any(|w| w == group))
        .map(|group| Subject {
            group: group.to_owned(),
            is_one_of_several,
            overlay: overlay.name.clone(),
            overlay_material: known.clone().unwrap_or_else(|_| material.to_owned()),
            finger: finger.to_owned(),
            guard: panel
                .guards
                .iter()
                .find(|guard| guard.group == group)
                .map_or(OWN_GUARD, |guard| guard.name.as_str())
                .to_owned(),
            ground: named(area(panel, true)),
            shield: named(area(panel, false)),
            slot: named(panel.slots.first().map(|slot| slot.name.as_str())),
            trace: named(trace_of(panel, group)),
        })
        .collect()
}

fn named(name: Option<&str>) -> String {
    name.unwrap_or(NO_NAME).to_owned()
}

/// The first hatched area at 0 V, or driven or open; the first one at all without a hatch.
fn area(panel: &Panel, is_ground: bool) -> Option<&str> {
    let of_kind = |area: &&GroundArea| (area.connection == Connection::Grounded) == is_ground;
    let all = || panel.grounds.iter().filter(of_kind);
    let mut hatched = all().filter(|area| area.fill != Fill::Solid);
    hatched
        .next()
        .or_else(|| all().next())
        .map(|area| area.name.as_str())
}

/// The first trace of a pad of the group.
fn trace_of<'p>(panel: &'p Panel, group: &str) -> Option<&'p str> {
    let leads = |trace: &&Trace| match &trace.net {
        TraceNet::Pad(name) => panel
            .pads
            .iter()
            .any(|pad| pad.name == *name && pad.group == group),
        TraceNet::Own(_) => false,
    };
    panel
        .traces
        .iter()
        .find(leads)
        .map(|trace| trace.name.as_str())
}

/// A touch: one pad, the finger in its middle or off it towards another pad.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Touched {
    pub pad: String,
    pub towards: Option<String>,
}

/// Touches of a group that are not mirror images of one another: every pad, or every pad with the
/// finger off towards each of its nearest pads.
pub(super) fn touches(panel: &Panel, group: &str, is_off_centre: bool) -> Vec<Touched> {
    let members: Vec<usize> = (0..panel.pads.len())
        .filter(|&index| panel.pads[index].group == group)
        .collect();
    let pairs: Vec<[usize; 2]> = match is_off_centre {
        false => members.iter().map(|&pad| [pad, pad]).collect(),
        true => nearest_pairs(panel, group),
    };
    let mirrors = pad_images(panel);
    let mut kept: Vec<[usize; 2]> = Vec::new();
    for pair in pairs {
        let is_image = |known: &[usize; 2]| {
            let mut all = mirrors.iter();
            all.any(|images| known.map(|pad| images[pad]) == pair)
        };
        if !kept.iter().any(is_image) {
            kept.push(pair);
        }
    }
    let name = |index: usize| panel.pads[index].name.clone();
    kept.into_iter()
        .map(|[pad, towards]| Touched {
            pad: name(pad),
            towards: (pad != towards).then(|| name(towards)),
        })
        .collect()
}

/// Images of the pads under each symmetry of the panel; without symmetry every touch is judged.
fn pad_images(panel: &Panel) -> Vec<Vec<usize>> {
    let mirrors = panel_mirrors(panel).unwrap_or_default();
    mirrors.into_iter().map(|mirror| mirror.images).collect()
}

/// Pads beside each other with the smallest gap of the group, both ways.
fn nearest_pairs(panel: &Panel, group: &str) -> Vec<[usize; 2]> {
    let Some(group) = panel.group(group) else {
        return Vec::new();
    };
    let least = group.least_gap().unwrap_or_default().metres();
    let near = group.neighbours().into_iter();
    near.filter(|(_, gap)| gap.metres() <= NEAREST_WITHIN * least)
        .flat_map(|([a, b], _)| [[a, b], [b, a]])
        .collect()
}

/// The vector \[m\] from one pad's centre towards another's, of a given length.
pub(super) fn towards(from: &Pad, to: &Pad, length_m: f64) -> [f64; 2] {
    let step = [0, 1].map(|axis| (to.centre[axis] - from.centre[axis]).metres());
    let distance = step[0].hypot(step[1]);
    step.map(|part| {
        if distance > 0.0 {
            part * length_m / distance
        } else {
            0.0
        }
    })
}
