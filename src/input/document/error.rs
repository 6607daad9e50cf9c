//! What is wrong with a panel file, where, and what to write instead.

use annotate_snippets::{AnnotationKind, Level, Renderer, Snippet};
use padfield_engine::hidden::Hidden;
use std::fmt;
use std::ops::Range;

/// Where an error is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// In the panel file.
    File {
        /// Line, from 1.
        line: usize,
        /// Column in characters, from 1.
        column: usize,
    },
    /// In an override, as it was given: `layer.overlay.thickness=5 mm`.
    Override(String),
    /// In another option of the command line.
    Argument {
        /// Its name: `--vary`.
        option: &'static str,
        /// Its value as it was given.
        text: String,
    },
}

/// A panel file or an override that cannot be used.
///
/// `Display` gives one line, `file:line:column: message; hint`; [`ScenarioError::render`] shows the
/// line of the file as well.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScenarioError(Box<Details>);

#[derive(Clone, Debug, PartialEq, Eq)]
struct Details {
    message: String,
    hint: String,
    file: String,
    place: Place,
    excerpt: Excerpt,
}

/// One line of source, shortened when it is very long.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Excerpt {
    text: String,
    span: Range<usize>,
}

impl ScenarioError {
    /// At a byte range of the file's text.
    pub(super) fn in_file(
        file: &str,
        source: &str,
        span: Range<usize>,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        let start = char_boundary(source, span.start);
        // An error at the very end belongs to the last line that has text.
        let start = if start == source.len() {
            source.trim_end().len()
        } else {
            start
        };
        let line_start = source[..start].rfind('\n').map_or(0, |at| at + 1);
        let line_end = source[start..]
            .find('\n')
            .map_or(source.len(), |at| start + at);
        let place = Place::File {
            line: source[..line_start].matches('\n').count() + 1,
            column: source[line_start..start].chars().count() + 1,
        };
        let end = char_boundary(source, span.end).clamp(start, line_end);
        let excerpt = Excerpt::new(
            &source[line_start..line_end],
            start - line_start..end - line_start,
        );
        Self(Box::new(Details {
            message: presentable(message.into()),
            hint: presentable(hint.into()),
            file: file.to_owned(),
            place,
            excerpt,
        }))
    }

    /// In an override; `value` is the part of it that is wrong.
    pub(super) fn in_override(
        file: &str,
        text: &str,
        span: Range<usize>,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self(Box::new(Details {
            message: presentable(message.into()),
            hint: presentable(hint.into()),
            file: file.to_owned(),
            place: Place::Override(text.to_owned()),
            excerpt: Excerpt::new(text, span),
        }))
    }

    /// In the value of an option of the command line; `span` is the part of it that is wrong.
    pub(super) fn in_argument(
        option: &'static str,
        text: &str,
        span: Range<usize>,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        let mut error = Self::in_override("", text, span, message, hint);
        error.0.place = Place::Argument {
            option,
            text: text.to_owned(),
        };
        error
    }

    /// The same error of an override that came with another option than `--set`.
    #[must_use]
    pub fn given_by(mut self, option: &'static str) -> Self {
        if let Place::Override(text) = &self.0.place {
            let text = text.clone();
            self.0.place = Place::Argument { option, text };
        }
        self
    }

    /// What is wrong.
    pub fn message(&self) -> &str {
        &self.0.message
    }

    /// What to write instead.
    pub fn hint(&self) -> &str {
        &self.0.hint
    }

    /// Where it is.
    pub fn place(&self) -> &Place {
        &self.0.place
    }

    /// The message with its line of the file and a mark under the place; with terminal colours if
    /// `styled`.
    pub fn render(&self, styled: bool) -> String {
        let renderer = if styled {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let option = match &self.0.place {
            Place::File { .. } => None,
            Place::Override(_) => Some("--set"),
            Place::Argument { option, .. } => Some(*option),
        };
        let (text, shift) = match option {
            None => (self.0.excerpt.text.clone(), 0),
            Some(option) => (
                format!("{option} {}", self.0.excerpt.text),
                option.len() + 1,
            ),
        };
        let Range { start, end } = self.0.excerpt.span;
        let mark = AnnotationKind::Primary
            .span(start + shift..end + shift)
            .label(self.0.hint.as_str());
        let source = Snippet::source(text).annotation(mark);
        let source = match &self.0.place {
            Place::File { line, .. } => source.line_start(*line).path(self.0.file.as_str()),
            _ => source.line_numbering(false),
        };
        renderer.render(&[Level::ERROR
            .primary_title(self.0.message.as_str())
            .element(source)])
    }
}

impl fmt::Display for ScenarioError {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0.place {
            Place::File { line, column } => write!(formatter, "{}:{line}:{column}", self.0.file)?,
            Place::Override(text) => write!(formatter, "--set {}", presentable(text.clone()))?,
            Place::Argument { option, text } => {
                write!(formatter, "{option} {}", presentable(text.clone()))?;
            }
        }
        write!(formatter, ": {}; {}", self.0.message, self.0.hint)
    }
}

impl std::error::Error for ScenarioError {}

/// Parts of messages come from the file: no control or hidden characters for the terminal, no endless
/// lines.
fn presentable(text: String) -> String {
    const LONGEST: usize = 300;
    let upsets = |c: char| c.is_control() || Hidden::is(c);
    let shown = text.chars().map(|c| if upsets(c) { '?' } else { c });
    if text.chars().nth(LONGEST).is_some() {
        shown.take(LONGEST).chain("...".chars()).collect()
    } else {
        shown.collect()
    }
}

fn char_boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

impl Excerpt {
    /// At most `REACH` bytes to either side of the start of the span; control and hidden characters,
    /// which would upset a terminal, become question marks.
    fn new(line: &str, span: Range<usize>) -> Self {
        const REACH: usize = 100;
        let from = char_boundary(line, span.start.saturating_sub(REACH));
        let to = char_boundary(line, span.start + REACH);
        let upsets = |c: char| (c.is_control() && c != '\t') || Hidden::is(c);
        let clean = |text: &str| text.replace(upsets, "?");
        let start = char_boundary(line, span.start);
        let end = char_boundary(line, span.end).clamp(start, to.max(start));
        let before = clean(&line[from..start]);
        let marked = clean(&line[start..end]);
        let after = clean(&line[end..to.max(end)]);
        let span = before.len()..before.len() + marked.len();
        Self {
            text: before + &marked + after.trim_end(),
            span,
        }
    }
}
