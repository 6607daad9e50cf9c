//! Prose for a terminal: broken at blanks so that no line is wider than a table.

use super::table::WIDTH;
use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm};

/// Breaks a line.
pub fn wrap(text: &str) -> String {
    wrap_indented(text, "", "")
}

/// Breaks a line that starts with `first`; those after it start with `rest`.
pub fn wrap_indented(text: &str, first: &str, rest: &str) -> String {
    let options = Options::new(usize::from(WIDTH))
        .initial_indent(first)
        .subsequent_indent(rest)
        .break_words(false)
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation)
        .wrap_algorithm(WrapAlgorithm::FirstFit);
    textwrap::fill(
        &text.split_whitespace().collect::<Vec<_>>().join(" "),
        options,
    )
}
