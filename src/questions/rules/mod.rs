//! Rules of thumb against the very panel at hand: which hold, which are more careful than needed, which
//! fail.
//!
//! Takes a panel file, rules ([`built_in`], [`rules_of`] a file, [`add_or_replace`]) and an engine;
//! [`judge_and_tell`] gives a [`Row`] per rule and pad group with a [`Verdict`], its reason and the numbers
//! behind it; [`picture`] draws them. A rule that cannot be judged is a row that says why. Every solved
//! panel is kept while the rules are judged, so that rules about the same value share their places.
//!
//! # Rules files
//!
//! TOML with one `[rule.NAME]` per rule; the built-in ones are in `common_practice.toml` beside this
//! module. In paths and values `{overlay}` stands for the first layer, `{pads}` for the pad group,
//! `{finger}` for the finger, `{guard}` for the ground trace of the group. Keys in brackets may be left
//! out.
//!
//! | kind | key | value |
//! |---|---|---|
//! | any | `says`, `kind` | the rule in words; one of the kinds below |
//! | | \[`source`\], \[`because`\] | where the rule comes from; why its condition is what it is |
//! | | \[`overlay`\] | materials the rule is about, `["acrylic", "ABS"]` |
//! | | \[`set`\] | values set first, `[{ path = "...", value = "..." }]` |
//! | | \[`add`\] | `[{ guard = "NAME" }]` or `[{ layer = "NAME", behind = "{overlay}" }]`: sections that `set` and `change` fill in |
//! | | \[`aim_error`\] | `"3 mm"`: the finger is so far off its pad, towards the nearest pad of the group |
//! | `"needed value"` | `path` | a list: the first that the panel has is varied |
//! | | `value`, or `times` and `of` | the rule's value, or a multiple of the value at a path |
//! | | `side` | `"at least"` or `"at most"` |
//! | | `from`, `to` | the range that is searched |
//! | | `condition` | `"neighbour ratio <= 20 %"` |
//! | | \[`compared_with`\] | `"as drawn"` or `"best of the range"`: the condition is a share of that |
//! | | \[`careful_factor`\] | 1.5: beyond it the rule is more careful than needed |
//! | `"effect"` | `change` or `reshape` | values set, or `["disc", "square", "upright rectangle"]` of the same area |
//! | | or `air_gap` | `"0.1 mm"`: the panel's own air between overlay and pads (layers of air at their largest, voids) against none of it; where it has none so much is assumed behind the overlay, and the reason says so |
//! | | `expect` | a list of `quantity`, one of `falls_at_least`, `falls_at_most`, `rises_at_least`, `rises_at_most`, `changes_at_most`, \[`otherwise`\] (`"fails here"` or `"more careful than needed"`) |
//! | | \[`not_needed_when`\] | a condition: where it holds without the change, the change is not needed |
//! | `"power law"` | `quantity`, `path`, `factors` | what follows what; the drawn value times two factors is solved |
//! | | `against` | `"pad area"` or `"value"` |
//! | | `exponent`, `exponent_within` | what the rule says and how far it may be off |
//! | `"estimate"` | `estimate`, `within` | a hand estimate by name, `"20 %"` |
//! | `"threshold share"` | `shares` | `["40 %", "60 %"]` of the finger's touch |
//! | `"not described"` | `needs` | what the panel file would need |
//!
//! # Which pad
//!
//! Of the pads of a group, on the panel as the rule sets it, the one is judged that is worst by the
//! rule's first quantity; with an aim error the worst of all pairs of nearest pads. Mirror images are
//! solved once. That pad is kept while values vary.

mod air;
mod bench;
mod checks;
mod data;
mod drawn;
mod effect;
mod judge;
mod needed;
mod pictures;
mod ratio;
mod read;
mod read_kinds;
mod record;
mod report;
mod row;
mod subject;
#[cfg(test)]
mod tests;
pub mod typed;
mod words;

pub use bench::{Engine, NoNumbers, Solved, Touch};
pub use data::{
    Added, Bound, Change, Effect, Expectation, Form, Kind, NeededValue, Otherwise, PowerLaw,
    Reference, Rule, RuleValue,
};
pub use judge::{Judgement, judge_and_tell};
pub use pictures::{file_name, picture};
pub use read::{COMMON_PRACTICE, add_or_replace, built_in, rules_of};
pub use record::RulesRecord;
pub use report::report;
pub use row::{
    Detail, EffectDetail, EstimateDetail, NeededDetail, Place, PowerDetail, Row, RowTouch, Verdict,
};
pub use subject::{Asked, ThresholdShares};
pub use words::{figure, number, said, signed_figure, with_unit};
