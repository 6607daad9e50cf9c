//! An answer in blocks, and everything that lays blocks out.
//!
//! A question says its answer once, as a [`Report`]: headings, paragraphs, tables, lists, cautions, each with its
//! [`Depth`]. [`terminal`] prints all of it; a note takes [`Report::extract`] into a [`Document`], which [`html`],
//! [`markdown`] and, with the feature `pdf`, `pdf` write. Writers fail only on pictures. Nothing here knows a panel,
//! prints or touches files; the same blocks give the same bytes.

mod answer;
mod document;
mod html;
mod inline;
mod markdown;
mod numbers;
#[cfg(feature = "pdf")]
mod pdf;
pub mod terminal;

pub use answer::{Depth, Report};
pub use document::{
    Block, Cell, Column, Document, Figure, Printed, PrintedKind, Printer, Section, Table,
};
pub use html::html;
pub use markdown::{PICTURES, markdown};
#[cfg(feature = "pdf")]
pub use pdf::{Paper, PdfError, pdf};
