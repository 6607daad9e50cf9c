//! What a note is made of, whatever it is written as: sections of paragraphs, lists, tables, figures.
//!
//! All texts are plain text; every writer escapes them for itself.

use super::answer::Depth;
use serde::Serialize;

/// A whole note.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Document {
    /// Its title.
    pub title: String,
    /// One line under the title: what it was made from.
    pub made_from: String,
    /// Sections in reading order.
    pub sections: Vec<Section>,
}

/// A section with a heading of its own.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Section {
    /// Word for links: lower-case letters and hyphens.
    pub id: &'static str,
    /// Heading.
    pub heading: String,
    /// What it says.
    pub blocks: Vec<Block>,
}

/// A piece of a section.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Block {
    /// A heading inside the section.
    Heading {
        /// Its text.
        text: String,
    },
    /// A paragraph.
    Paragraph {
        /// Its text.
        text: String,
    },
    /// What the section comes to, set apart.
    Verdict {
        /// Its text.
        text: String,
    },
    /// Short points.
    List {
        /// One text each.
        items: Vec<String>,
    },
    /// What the numbers do not decide.
    Cautions {
        /// One text each.
        items: Vec<String>,
    },
    /// Rows and columns.
    Table(Table),
    /// A picture.
    Figure(Figure),
    /// The commands behind the note, each with what it prints.
    Commands {
        /// In the order in which the note first needs them.
        commands: Vec<Printer>,
    },
}

/// A command and what of the note comes from it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Printer {
    /// As a shell takes it.
    pub command: String,
    /// What it prints, in reading order.
    pub prints: Vec<Printed>,
}

/// A table or picture of the note.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Printed {
    /// Which of both.
    pub kind: PrintedKind,
    /// Which of its kind in reading order, from 1.
    pub number: usize,
    /// What it shows.
    pub caption: String,
}

/// What a command may print.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PrintedKind {
    /// Rows and columns.
    Table,
    /// A picture.
    Figure,
}

/// Rows and columns; the first cell of a row is its heading.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Table {
    /// What it shows.
    pub caption: String,
    /// Headings of the columns.
    pub columns: Vec<Column>,
    /// Cells, as many per row as there are columns.
    pub rows: Vec<Vec<Cell>>,
    /// What the reader should know beside it; empty for nothing.
    pub remark: String,
    /// The command that prints these numbers; empty for what was typed in.
    pub command: String,
}

/// A column of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Column {
    /// Its heading, with the unit; a line end is where a narrow page breaks it.
    pub header: String,
    /// Whether it holds numbers, which are aligned to the right.
    pub numeric: bool,
    /// Who is shown it.
    #[serde(skip)]
    pub depth: Depth,
    /// Whether its cells stand in one piece, whatever the width.
    #[serde(skip)]
    pub whole: bool,
}

/// A cell of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Cell {
    /// Its text.
    pub text: String,
    /// Whether it stands out.
    pub strong: bool,
}

/// A picture with what it shows in words.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Figure {
    /// Name of its file without an ending, once per note: lower-case letters, digits, hyphens.
    pub name: String,
    /// What it shows.
    pub caption: String,
    /// The same for people who do not see it.
    pub alternative: String,
    /// The picture: a whole SVG document.
    #[serde(skip)]
    pub svg: String,
    /// The command that draws it; empty when only the note does.
    pub command: String,
}

impl Block {
    /// A heading inside the section.
    pub fn heading(text: impl Into<String>) -> Self {
        Self::Heading { text: text.into() }
    }

    /// A paragraph.
    pub fn paragraph(text: impl Into<String>) -> Self {
        Self::Paragraph { text: text.into() }
    }

    /// What the section comes to.
    pub fn verdict(text: impl Into<String>) -> Self {
        Self::Verdict { text: text.into() }
    }

    /// What the numbers do not decide.
    pub fn cautions(items: Vec<String>) -> Self {
        Self::Cautions { items }
    }

    /// Short points.
    pub fn list(items: Vec<String>) -> Self {
        Self::List { items }
    }
}

impl Table {
    /// A table without rows; columns from `first_number` on hold numbers.
    pub fn new(caption: impl Into<String>, headers: &[&str], first_number: usize) -> Self {
        Self {
            caption: caption.into(),
            columns: headers
                .iter()
                .enumerate()
                .map(|(place, header)| Column {
                    header: (*header).to_owned(),
                    numeric: place >= first_number,
                    ..Column::default()
                })
                .collect(),
            ..Self::default()
        }
    }

    /// Adds a row of texts.
    ///
    /// # Panics
    /// When it has another number of cells than the table has columns.
    pub fn row(&mut self, cells: Vec<String>) {
        self.cells(cells.into_iter().map(Cell::from).collect());
    }

    /// Adds a row of cells.
    ///
    /// # Panics
    /// When it has another number of cells than the table has columns.
    pub fn cells(&mut self, cells: Vec<Cell>) {
        assert_eq!(cells.len(), self.columns.len(), "cells of {}", self.caption);
        self.rows.push(cells);
    }

    /// Adds a column of words; its cells follow from their rows.
    pub fn add_column(&mut self, header: &str, cell: impl Fn(&[Cell]) -> Cell) {
        self.columns.push(Column {
            header: header.to_owned(),
            ..Column::default()
        });
        for row in &mut self.rows {
            let added = cell(row);
            row.push(added);
        }
    }

    /// Takes a column away.
    ///
    /// # Panics
    /// When there is no such column.
    pub fn drop_column(&mut self, place: usize) {
        self.columns.remove(place);
        for row in &mut self.rows {
            row.remove(place);
        }
    }

    /// Says that these columns hold words, whatever comes before them.
    pub fn with_words_in(mut self, columns: &[usize]) -> Self {
        for &column in columns {
            self.columns[column].numeric = false;
        }
        self
    }

    /// Says that these columns are details, which a note leaves out.
    pub fn with_details_in(mut self, columns: &[usize]) -> Self {
        for &column in columns {
            self.columns[column].depth = Depth::Detail;
        }
        self
    }

    /// Says that cells of this column stand in one piece.
    pub fn with_whole(mut self, column: usize) -> Self {
        self.columns[column].whole = true;
        self
    }

    /// What a note takes of it: the columns for every reader, their headings in one line.
    pub(super) fn extract(mut self) -> Self {
        for place in (0..self.columns.len()).rev() {
            match self.columns[place].depth {
                Depth::Detail => self.drop_column(place),
                Depth::Everywhere => {
                    let header = &mut self.columns[place].header;
                    *header = header.replace('\n', " ");
                }
            }
        }
        self
    }
}

impl From<Table> for Block {
    fn from(table: Table) -> Self {
        Self::Table(table)
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self {
            text,
            strong: false,
        }
    }
}

impl Document {
    /// Every command that prints a table or draws a picture, with what it prints.
    pub fn printers(&self) -> Vec<Printer> {
        let mut printers: Vec<Printer> = Vec::new();
        let mut numbers = [0; 2];
        for block in self.sections.iter().flat_map(|section| &section.blocks) {
            let (kind, caption, command) = match block {
                Block::Table(table) => (PrintedKind::Table, &table.caption, &table.command),
                Block::Figure(figure) => (PrintedKind::Figure, &figure.caption, &figure.command),
                _ => continue,
            };
            numbers[kind as usize] += 1;
            if command.is_empty() {
                continue;
            }
            let known = printers.iter().position(|one| one.command == *command);
            let place = known.unwrap_or_else(|| {
                printers.push(Printer {
                    command: command.clone(),
                    prints: Vec::new(),
                });
                printers.len() - 1
            });
            printers[place].prints.push(Printed {
                kind,
                number: numbers[kind as usize],
                caption: caption.clone(),
            });
        }
        printers
    }

    /// Every figure in reading order.
    pub fn figures(&self) -> impl Iterator<Item = &Figure> {
        let blocks = self.sections.iter().flat_map(|section| &section.blocks);
        blocks.filter_map(|block| match block {
            Block::Figure(figure) => Some(figure),
            _ => None,
        })
    }
}
