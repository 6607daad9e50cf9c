//! Hand estimates: the closed forms an engineer writes beside a field result.
//!
//! Takes lengths, areas and permittivities; gives capacitances; never fails. Arguments outside a
//! formula's physical range (a negative length, say) give a meaningless number, not a panic.
//!
//! Every formula is an estimate: each one's documentation says what it leaves out and which way it
//! errs, so that the ratio to the computed value can be read.

mod circuit;
mod plates;
mod strips;

pub use circuit::{relative_shift, series_return};
pub use plates::{Slab, disc_over_plane, equal_area_radius, isolated_disc, pad_to_plane, plates};
pub use strips::{microstrip, microstrip_effective_permittivity};
