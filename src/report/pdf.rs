//! A note as PDF with real text, bookmarks and described pictures.
//!
//! The typesetter runs inside the program: its template is fixed, the document goes in as data, so that no
//! text of a panel file is ever taken for markup. It sees the template, the data, the pictures and its own
//! fonts, no file of the machine and no clock.

use super::document::Document;
use super::numbers::numbered;
use serde_json::json;
use std::collections::HashMap;
use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Smart};
use typst::layout::PagedDocument;
use typst::syntax::{FileId, Source, VirtualPath};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_pdf::{PdfOptions, Timestamp};

const TEMPLATE: &str = include_str!("note.typ");

/// Size of the pages.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 mm x 297 mm.
    #[default]
    A4,
    /// 8.5 in x 11 in.
    Letter,
}

/// Why there is no PDF: a fault of the template or of a picture, none that a document can cause.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the note cannot be set as PDF: {reason}")]
pub struct PdfError {
    /// What the typesetter says.
    pub reason: String,
}

/// The bytes of the file, the same every time.
///
/// # Errors
/// See [`PdfError`].
pub fn pdf(document: &Document, paper: Paper) -> Result<Vec<u8>, PdfError> {
    let table = Table::new(document, paper);
    let set = typst::compile::<PagedDocument>(&table).output;
    let set = set.map_err(|faults| failed(&faults))?;
    let options = PdfOptions {
        // Nothing of the machine or the moment goes into the file.
        ident: Smart::Custom("padfield design note"),
        timestamp: None::<Timestamp>,
        ..PdfOptions::default()
    };
    let pages = typst_pdf::pdf(&set, &options).map_err(|faults| failed(&faults))?;
    packed(&pages).map_err(|error| PdfError {
        reason: error.to_string(),
    })
}

/// The same file with its objects packed: what it says to screen readers is half of it otherwise.
fn packed(pages: &[u8]) -> Result<Vec<u8>, lopdf::Error> {
    let mut packed = Vec::new();
    lopdf::Document::load_mem(pages)?.save_modern(&mut packed)?;
    Ok(packed)
}

fn failed(faults: &[SourceDiagnostic]) -> PdfError {
    let said = faults.iter().map(|fault| fault.message.to_string());
    PdfError {
        reason: said.collect::<Vec<_>>().join("; "),
    }
}

/// What lies on the typesetter's table.
struct Table {
    library: LazyHash<Library>,
    book: LazyHash<FontBook>,
    fonts: Vec<Font>,
    template: Source,
    files: HashMap<FileId, Bytes>,
}

impl Table {
    fn new(document: &Document, paper: Paper) -> Self {
        let fonts: Vec<Font> = typst_assets::fonts()
            .chain([padfield_chart::FONT_TRUE_TYPE])
            .flat_map(|data| Font::iter(Bytes::new(data)))
            .collect();
        let mut data = numbered(document);
        data["paper"] = json!(match paper {
            Paper::A4 => "a4",
            Paper::Letter => "us-letter",
        });
        let at = |path: &str| FileId::new(None, VirtualPath::new(path));
        let mut files =
            HashMap::from([(at("note.json"), Bytes::new(data.to_string().into_bytes()))]);
        for figure in document.figures() {
            let picture = figure.svg.clone().into_bytes();
            files.insert(at(&format!("{}.svg", figure.name)), Bytes::new(picture));
        }
        Self {
            library: LazyHash::new(Library::default()),
            book: LazyHash::new(FontBook::from_fonts(&fonts)),
            fonts,
            template: Source::new(at("note.typ"), TEMPLATE.to_owned()),
            files,
        }
    }
}

impl World for Table {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &self.book
    }

    fn main(&self) -> FileId {
        self.template.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        match id == self.template.id() {
            true => Ok(self.template.clone()),
            false => Err(FileError::AccessDenied),
        }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        self.files.get(&id).cloned().ok_or(FileError::AccessDenied)
    }

    fn font(&self, index: usize) -> Option<Font> {
        self.fonts.get(index).cloned()
    }

    fn today(&self, _offset: Option<i64>) -> Option<Datetime> {
        None
    }
}
