//! Pictures of a panel itself: its stackup, its board, the field of a touch in a cut.
//!
//! Takes a checked panel and a finger; gives drawings on pages of [`padfield_chart`]. Only the cut computes: it solves
//! the section through the touched pad.

mod board;
mod on_paper;
mod section;
mod stack;

pub use board::board_drawing;
pub use on_paper::board::{BoardDrawing, BoardPiece, PieceLook};
pub use on_paper::field::{FieldDrawing, FieldState};
pub use on_paper::stack::{DrawnLayer, StackDrawing};
pub use section::{SectionView, section_view};
pub use stack::stack_drawing;
