//! The design note: what a panel shall do, what was computed for it, what was decided, what is open.
//!
//! [`gather`] computes everything a note says from a panel file; [`compose`] turns it into a [`Document`],
//! a list of sections (one function per section in `parts`); [`html`], [`markdown`] and, with the feature
//! `pdf`, `pdf` write it. Writers fail only on pictures. Nothing here prints or touches files, and the
//! same panel file gives the same bytes: the one date in it is that of the [`Order`].

mod checks;
pub mod document;
mod facts;
mod html;
mod inline;
mod markdown;
mod numbers;
mod parts;
#[cfg(feature = "pdf")]
mod pdf;
mod words;

pub(crate) use words::quoted;

pub use document::{
    Block, Cell, Column, Document, Figure, Printed, PrintedKind, Printer, Section, Table,
};
pub use facts::{
    Facts, FactsError, FartherWall, Order, SOLVE_ACCURACY, StudyCharts, WINDOW_ACCURACY, gather,
};
pub use html::html;
pub use markdown::{PICTURES, markdown};
pub use parts::compose;
#[cfg(feature = "pdf")]
pub use pdf::{Paper, PdfError, pdf};
