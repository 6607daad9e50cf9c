//! Solves for the rules, each panel once: rules that vary the same value share their places.

use super::data::{Added, Rule};
use super::drawn::drawn_value;
use super::subject::{Asked, Subject, Touched, touches, towards};
use crate::input::{Addition, Document, Override};
use crate::panel::Panel;
use crate::questions::find::Sample;
use crate::store::{PointKey, inputs_of};
use crate::study::{PointValues, Quantity, QuantityKind, Reported};
use padfield_engine::field::{Printed, join_printed};
use serde_json::json;
use std::collections::{HashMap, HashSet};
use std::rc::Rc;

/// The numbers of one touch.
#[derive(Clone, Debug, PartialEq)]
pub struct Solved {
    /// Quantities of the pads.
    pub values: PointValues,
    /// Whether the accuracy asked for was reached.
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
    /// What the numbers hang on, one line each.
    pub assumptions: Vec<String>,
    pub field_problems: usize,
}

/// Why a touch has no numbers.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{reason}")]
pub struct NoNumbers {
    pub reason: String,
    /// Whether the field engine gave no answer, rather than the panel or the model not having one.
    pub is_numerical: bool,
}

/// One touch to solve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Touch<'t> {
    pub finger: &'t str,
    pub pad: &'t str,
    /// Names of the other pads whose shift is wanted; further ones need no numbers.
    pub watched: &'t [String],
    /// Wanted estimated error of every base and touch shift, relative.
    pub accuracy: f64,
}

/// Whatever solves one touch of a panel.
pub type Engine<'e> = dyn Fn(&Panel, Touch<'_>) -> Result<Solved, NoNumbers> + 'e;

/// Why a rule has no number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Trouble {
    /// It was asked to stop.
    Stopped,
    /// There is none, and why.
    None(String),
    /// The field engine gave no answer, and why.
    Engine(String),
}

impl From<NoNumbers> for Trouble {
    fn from(none: NoNumbers) -> Self {
        match none.is_numerical {
            true => Self::Engine(none.reason),
            false => Self::None(none.reason),
        }
    }
}

impl From<String> for Trouble {
    fn from(reason: String) -> Self {
        Self::None(reason)
    }
}

/// What all rules share: the engine and what it has solved.
pub(super) struct Bench<'a> {
    pub asked: &'a Asked<'a>,
    pub engine: &'a Engine<'a>,
    pub stop: &'a dyn Fn() -> bool,
    /// Accuracy of the solves to come.
    pub accuracy: f64,
    known: HashMap<PointKey, Result<Rc<Solved>, NoNumbers>>,
    /// What has been solved to any accuracy: at another one it goes on from there.
    begun: HashSet<PointKey>,
    pub field_problems: usize,
    pub shared: usize,
    pub is_short_of_accuracy: bool,
    pub missed: Vec<Printed>,
    pub has_numerical_failure: bool,
    pub assumptions: Vec<String>,
}

impl<'a> Bench<'a> {
    pub fn new(asked: &'a Asked<'a>, engine: &'a Engine<'a>, stop: &'a dyn Fn() -> bool) -> Self {
        Self {
            asked,
            engine,
            stop,
            accuracy: asked.settings.accuracy,
            known: HashMap::new(),
            begun: HashSet::new(),
            field_problems: 0,
            shared: 0,
            is_short_of_accuracy: false,
            missed: Vec::new(),
            has_numerical_failure: false,
            assumptions: Vec::new(),
        }
    }

    /// The numbers of a touch, with those of other pads when one of the quantities is about them.
    pub fn solve(
        &mut self,
        panel: &Panel,
        finger: &str,
        touched: &Touched,
        aim_error_m: Option<f64>,
        kinds: &[QuantityKind],
    ) -> Result<Rc<Solved>, Trouble> {
        let panel = &aimed(panel, finger, touched, aim_error_m)?;
        // Off its pad towards another one, the finger concerns that one most.
        let is_watched = |name: &String| match &touched.towards {
            Some(other) => name == other,
            None => *name != touched.pad,
        };
        let mut watched: Vec<String> = Vec::new();
        if kinds.iter().any(|kind| kind.is_of_neighbour()) {
            let names = panel.pads.iter().map(|pad| &pad.name);
            watched.extend(names.filter(|name| is_watched(name)).cloned());
        }
        let inputs = json!({
            "panel": inputs_of(panel, Some(finger)),
            "pad": touched.pad,
            "watched": watched,
        });
        let key = PointKey::new(&inputs, self.accuracy);
        if let Some(known) = self.known.get(&key) {
            self.shared += 1;
            return known.clone().map_err(Trouble::from);
        }
        if (self.stop)() {
            return Err(Trouble::Stopped);
        }
        let touch = Touch {
            finger,
            pad: &touched.pad,
            watched: &watched,
            accuracy: self.accuracy,
        };
        let solved = (self.engine)(panel, touch).map(Rc::new);
        // Left in the middle.
        if solved.is_err() && (self.stop)() {
            return Err(Trouble::Stopped);
        }
        match &solved {
            Ok(solved) => {
                if self.begun.insert(PointKey::new(&inputs, 0.0)) {
                    self.field_problems += solved.field_problems;
                }
                self.is_short_of_accuracy |= !solved.accuracy_reached;
                join_printed(&mut self.missed, solved.missed.iter().cloned());
                if self.assumptions.is_empty() {
                    self.assumptions.clone_from(&solved.assumptions);
                }
            }
            Err(none) => self.has_numerical_failure |= none.is_numerical,
        }
        self.known.insert(key, solved.clone());
        solved.map_err(Trouble::from)
    }

    /// One quantity of a touch.
    pub fn sample(
        &mut self,
        panel: &Panel,
        finger: &str,
        touched: &Touched,
        aim_error_m: Option<f64>,
        kind: QuantityKind,
    ) -> Result<Sample, Trouble> {
        let solved = self.solve(panel, finger, touched, aim_error_m, &[kind])?;
        let quantity = Quantity {
            kind,
            pad: Some(touched.pad.clone()),
        };
        match solved.values.of(&quantity) {
            Some(Reported { value, error, .. }) => Ok(Sample { value, error }),
            None => Err(Trouble::None(format!(
                "there is no {quantity} in this model"
            ))),
        }
    }

    /// The touch of a group that is worst by a quantity on this panel.
    pub fn worst_touch(
        &mut self,
        panel: &Panel,
        subject: &Subject,
        aim_error_m: Option<f64>,
        kind: QuantityKind,
    ) -> Result<Touched, Trouble> {
        let mut worst: Option<(f64, Touched)> = None;
        for touched in touches(panel, &subject.group, aim_error_m.is_some()) {
            let sample = self.sample(panel, &subject.finger, &touched, aim_error_m, kind)?;
            let is_worse = worst.as_ref().is_none_or(|(known, _)| {
                if kind.largest_is_worst() {
                    sample.value > *known
                } else {
                    sample.value < *known
                }
            });
            if is_worse {
                worst = Some((sample.value, touched));
            }
        }
        worst.map(|(_, touched)| touched).ok_or_else(|| {
            Trouble::None(match aim_error_m {
                Some(_) => format!(
                    "the group \"{}\" has one pad only: there is none to aim at by mistake",
                    subject.group
                ),
                None => "there is no pad to touch".to_owned(),
            })
        })
    }
}

/// The panel with the finger off the pad's centre, towards another pad.
fn aimed(
    panel: &Panel,
    finger: &str,
    touched: &Touched,
    aim_error_m: Option<f64>,
) -> Result<Panel, Trouble> {
    let mut panel = panel.clone();
    let (Some(length_m), Some(other)) = (aim_error_m, &touched.towards) else {
        return Ok(panel);
    };
    let pad = |name: &str| {
        let found = panel.pads.iter().find(|pad| pad.name == name);
        found.ok_or_else(|| Trouble::None(format!("there is no pad \"{name}\"")))
    };
    let offset_m = towards(pad(&touched.pad)?, pad(other)?, length_m);
    for known in panel.fingers.iter_mut().filter(|f| f.name == finger) {
        known.offset = offset_m.map(padfield_engine::units::Length::from_metres);
    }
    Ok(panel)
}

/// The panel file as one rule sees it: with what the rule sets and adds.
#[derive(Clone, Debug)]
pub(super) struct Scene {
    /// With ground traces the rule adds.
    pub document: Document,
    /// With layers it adds as well.
    pub with_layers: Document,
    /// What was asked, then what the rule sets.
    pub overrides: Vec<Override>,
}

impl Scene {
    pub fn new(asked: &Asked<'_>, subject: &Subject, rule: &Rule) -> Result<Self, String> {
        let filled = rule.add.iter().map(|added| match added {
            Added::Guard(name) => Addition::Guard(subject.fill(name)),
            Added::Layer { name, behind } => Addition::Layer {
                name: subject.fill(name),
                behind: subject.fill(behind),
            },
        });
        let (layers, guards): (Vec<Addition>, Vec<Addition>) =
            filled.partition(|added| matches!(added, Addition::Layer { .. }));
        let document = asked.document.with(&guards)?;
        let mut overrides = asked.overrides.to_vec();
        overrides.extend(subject.overrides(&rule.set));
        Ok(Self {
            with_layers: document.with(&layers)?,
            document,
            overrides,
        })
    }

    /// The value at a path of the panel that this became, in the usual unit of its measure.
    pub fn value(&self, panel: &Panel, path: &str) -> Option<f64> {
        let document = self.with_layers.overridden(&self.overrides).ok()?;
        drawn_value(&document, panel, path)
    }

    /// The panel with more values set.
    pub fn panel(&self, document: &Document, more: &[Override]) -> Result<Panel, String> {
        let all = [&self.overrides[..], more].concat();
        document
            .panel(&all)
            .map_err(|error| error.message().to_owned())
    }
}
