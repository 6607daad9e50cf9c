//! Pictures of a panel itself: its stackup, its board, the field of a touch in a cut.
//!
//! Takes a checked panel and a finger; gives drawings of [`crate::chart`]. Only the cut computes: it solves
//! the section through the touched pad.

mod board;
mod section;
mod stack;

pub use board::board_drawing;
pub use section::{SectionView, section_view};
pub use stack::stack_drawing;
