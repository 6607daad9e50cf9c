//! What a touch does: base capacitance, touch shift, neighbour shifts of every pad, with error bars.
//!
//! Takes a [`Panel`](crate::panel::Panel) with a finger and the engine's settings; solves one field
//! problem per touched pad (untouched and touched on the same grid, all pads driven in turn); gives a
//! [`Response`]; fails when the panel does not fit the model or the field engine gives no answer.
//!
//! - A pad whose touch is the mirror image of one already solved is not solved again; its [`Touch`]
//!   says which one it was taken from.
//! - Base values of a pad come from the grid of its own touch where there is one, so base and shift
//!   belong together.
//! - Idle pads follow [`Panel::idle`](crate::panel::Panel::idle); a finger that returns through a
//!   capacitance is eliminated with it; see [`padfield_engine::capacitance`].
//! - All of it once more in counts of the panel's measuring circuit; see [`crate::measuring_circuit`].
//! - A shift that is not larger than its own estimated error is below resolution.

mod answer;
mod assumptions;
mod checks;
mod circuit_words;
mod compute;
mod counts;
mod counts_record;
mod counts_report;
mod estimates;
mod film_words;
mod layer_range;
mod metal_words;
mod pads;
mod point;
mod record;
mod report;
mod slot_words;
mod so_far;
#[cfg(test)]
mod tests;

pub use answer::{
    BaseCapacitance, BaseStep, Estimated, HandEstimate, Neighbour, Numerics, PadResponse,
    RATIO_LIMITS, RelativeShift, Response, StrayPart, Subject, Touch,
};
pub use compute::{
    Request, ResponseError, problems, respond, respond_over_tolerances, respond_under, respond_with,
};
pub use counts::{Counts, NeighbourCounts, PadCounts, SupplyCounts, TouchCounts};
pub use counts_report::{BUDGET_HANGS_ON, scan_table};
pub use estimates::HAND_ESTIMATES;
pub use point::point_values;
pub use record::{ResponseRecord, WholeResponseRecord};
pub use report::{heading, report};
pub use so_far::{pads_so_far, single_pads_so_far};
