//! What every quantity of a touch does when a value of the panel moves, from the solution that is there.
//!
//! Takes a touch solved with derivatives and the field problems of the panel with one value a little
//! smaller and larger; gives the rates of its matrices ([`DifferentiatedTouch::follow`]) or says why the
//! value has to be solved again ([`NotFollowed`]).
//!
//! A value of a panel moves several grid lines at once, and permittivities. With x the coordinate of a
//! line and p the value, `dC/dp = sum over segments of dC/d(length) (dx_high/dp - dx_low/dp) + sum over
//! dielectrics of dC/d(permittivity) d(permittivity)/dp`; the derivatives to lengths and permittivities are those
//! of the field engine ([`padfield_engine::field::Derivatives`]), exact for its networks, the rates of lines come
//! from lowering the panel twice, which costs nothing.

mod beside;
mod change;
mod pad_rates;
mod parameter;
mod place;
mod rates;
mod touch;

pub use change::{CaseChange, NotFollowed};
pub use pad_rates::{Moved, PadRates};
pub use parameter::{FingerPart, PanelFamily, Parameter, Subject, parameters};
pub use place::{PlaceError, PlaceModel, Solved, Way};
pub use touch::{DifferentiatedTouch, Followed, lowered};
