//! The rules file as typed: exactly the keys a person may write. What they mean together is checked in
//! the step to `super::data`.

use crate::input::Keyed;
use crate::input::quantity::{One, PlainValue};
use indexmap::IndexMap;
use padfield_engine::units::Length;
use schemars::JsonSchema;
use serde::Deserialize;

/// A whole rules file.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RulesFile {
    /// Rules by name; a name that is known already replaces that rule.
    #[serde(default)]
    pub rule: IndexMap<String, Keyed<RuleEntry>>,
}

/// One `[rule.NAME]`. Which keys belong to it depends on its kind; see [`super`].
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RuleEntry {
    /// The rule in words.
    pub says: String,
    /// Where it comes from.
    pub source: Option<String>,
    /// "needed value", "effect", "power law", "estimate", "threshold share" or "not described".
    pub kind: String,
    /// Why the condition is what it is.
    pub because: Option<String>,
    /// Materials of the overlay the rule is about; default any.
    pub overlay: Option<Vec<String>>,
    /// Values set before the rule is judged.
    #[serde(default)]
    pub set: Vec<SetEntry>,
    /// Sections added before that.
    #[serde(default)]
    pub add: Vec<AddEntry>,
    /// How far the finger is off the pad's centre, towards the nearest pad of the group.
    pub aim_error: Option<One<Length>>,
    /// Dotted paths of the value the rule is about; the first one that this panel file gives.
    pub path: Option<Vec<String>>,
    /// The rule's value.
    pub value: Option<PlainValue>,
    /// The rule's value as a multiple of `of`.
    pub times: Option<f64>,
    /// Dotted path of the length the rule is a multiple of.
    pub of: Option<String>,
    /// "at least" or "at most": on which side of the rule's value the rule wants to be.
    pub side: Option<String>,
    /// Start of the range in which the needed value is searched.
    pub from: Option<PlainValue>,
    /// Its end.
    pub to: Option<PlainValue>,
    /// What shall hold.
    pub condition: Option<String>,
    /// "as drawn" or "best of the range": the condition's value is a share of this.
    pub compared_with: Option<String>,
    /// Beyond this factor from the needed value the rule is more careful than needed; default 1.5.
    pub careful_factor: Option<f64>,
    /// Values set for the change that is tried.
    #[serde(default)]
    pub change: Vec<SetEntry>,
    /// The panel's own air between overlay and pads is tried against none; where the panel has none, so
    /// much is assumed.
    pub air_gap: Option<One<Length>>,
    /// Other outlines of the same area that are tried: "disc", "square", "upright rectangle".
    pub reshape: Option<Vec<String>>,
    /// What the change should do.
    #[serde(default)]
    pub expect: Vec<ExpectEntry>,
    /// The change is not needed where this holds without it.
    pub not_needed_when: Option<String>,
    /// Quantity that follows the power law.
    pub quantity: Option<String>,
    /// "pad area" or "value": what is raised to the power.
    pub against: Option<String>,
    /// The exponent the rule says.
    pub exponent: Option<f64>,
    /// How far from it the computed one may be.
    pub exponent_within: Option<f64>,
    /// The drawn value times these two is solved.
    pub factors: Option<[f64; 2]>,
    /// Name of a hand estimate.
    pub estimate: Option<String>,
    /// How far from the computed value it may be.
    pub within: Option<String>,
    /// Smallest and largest threshold as shares of the touch.
    pub shares: Option<[String; 2]>,
    /// What the panel file would need.
    pub needs: Option<String>,
}

/// One entry of `set` or `change`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SetEntry {
    /// Dotted path.
    pub path: String,
    /// The value as it would stand in the panel file.
    pub value: String,
}

/// One entry of `add`: a ground trace, or a layer behind another one.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AddEntry {
    /// Name of a ground trace that is added unless there is one of that name.
    pub guard: Option<String>,
    /// Name of a layer that is added.
    pub layer: Option<String>,
    /// Name of the layer it comes behind.
    pub behind: Option<String>,
}

/// One entry of `expect`: a quantity and one of the four ways it may change.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ExpectEntry {
    /// Quantity by name.
    pub quantity: String,
    /// It should fall by this share or more.
    pub falls_at_least: Option<String>,
    /// It should fall by this share or less, or rise.
    pub falls_at_most: Option<String>,
    /// It should rise by this share or more.
    pub rises_at_least: Option<String>,
    /// It should rise by this share or less, or fall.
    pub rises_at_most: Option<String>,
    /// It should change by this share or less in either direction.
    pub changes_at_most: Option<String>,
    /// The verdict otherwise: "fails here" (default) or "more careful than needed".
    pub otherwise: Option<String>,
}
