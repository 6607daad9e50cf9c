//! What a panel looks like on paper: plain lengths and names in, drawings out.

pub mod board;
pub mod field;
pub mod stack;

use padfield_chart::colour::Colour;

const COPPER: Colour = Colour(213, 94, 0);
