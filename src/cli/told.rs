//! What commands over several studies tell: text as it comes, or one record at the end.

use super::{Exit, Failure, print, print_json};
use serde::Serialize;
use std::io::Write;

/// Answers on their way out, study by study. A study that fails takes none of those before with it.
pub(super) struct Told<'a, R> {
    output: &'a mut dyn Write,
    is_json: bool,
    records: Vec<R>,
    has_text: bool,
}

impl<'a, R> Told<'a, R> {
    pub fn new(output: &'a mut dyn Write, is_json: bool) -> Self {
        Self {
            output,
            is_json,
            records: Vec::new(),
            has_text: false,
        }
    }

    /// Whether anything was told yet.
    pub fn is_empty(&self) -> bool {
        self.records.is_empty() && !self.has_text
    }

    /// For people, at once.
    pub fn text(&mut self, text: &str) -> Result<(), Failure> {
        if self.is_json {
            return Ok(());
        }
        self.has_text = true;
        print(self.output, text)
    }

    /// For machines, the whole of a study.
    pub fn record(&mut self, record: R) {
        if self.is_json {
            self.records.push(record);
        }
    }

    /// Prints what `finish` makes of the records, and ends.
    ///
    /// # Errors
    /// The failure, once what came before it is printed.
    pub fn end<F: Serialize>(
        self,
        failure: Option<Failure>,
        exit: Exit,
        finish: impl FnOnce(Vec<R>) -> F,
    ) -> Result<Exit, Failure> {
        if self.is_json && (failure.is_none() || !self.is_empty()) {
            print_json(self.output, &finish(self.records))?;
        }
        failure.map_or(Ok(exit), Err)
    }
}
