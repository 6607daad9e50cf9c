//! Fenced blocks of Markdown, and the command lines in them.

use pulldown_cmark::{CodeBlockKind, Event, Parser, Tag, TagEnd};

/// A fenced block: what stands behind its fence, and its text.
pub struct Fence {
    pub info: String,
    pub text: String,
}

/// All fenced blocks, in their order.
pub fn fences(markdown: &str) -> Vec<Fence> {
    let (mut found, mut open) = (Vec::new(), None::<Fence>);
    for event in Parser::new(markdown) {
        match event {
            Event::Start(Tag::CodeBlock(CodeBlockKind::Fenced(info))) => {
                open = Some(Fence {
                    info: info.into_string(),
                    text: String::new(),
                });
            }
            Event::Text(text) => {
                if let Some(fence) = &mut open {
                    fence.text.push_str(&text);
                }
            }
            Event::End(TagEnd::CodeBlock) => found.extend(open.take()),
            _ => {}
        }
    }
    found
}

/// The lines of a block without empty ones; a line that ends with a backslash goes on in the next.
pub fn command_lines(text: &str) -> Vec<String> {
    let joined = text.replace("\\\n", " ");
    let lines = joined
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty());
    lines
        .map(|line| line.replacen("cargo run --release -- ", "padfield ", 1))
        .collect()
}

/// A line without its comment, and the exit code that the comment announces.
pub fn expected_exit(line: &str) -> (String, i32) {
    let Some((command, comment)) = line.split_once(" #") else {
        return (line.to_owned(), 0);
    };
    let code = comment
        .split_once("exit code ")
        .and_then(|(_, rest)| rest.split(|sign: char| !sign.is_ascii_digit()).next())
        .map_or(0, |digits| digits.parse().expect("an exit code"));
    (command.trim().to_owned(), code)
}

/// Words of a command line as a shell without variables takes them: blanks part, double quotes hold.
pub fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut is_quoted = false;
    for character in line.chars() {
        match character {
            '"' => is_quoted = !is_quoted,
            ' ' if !is_quoted => words.push(String::new()),
            other => words.last_mut().expect("never empty").push(other),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

/// A line with one blank between its words and without the times that a machine took: `2.5 s`, `32 min`.
pub fn without_times(line: &str) -> String {
    let words: Vec<&str> = line.split_whitespace().collect();
    let is_time = |at: usize| {
        let unit = words
            .get(at + 1)
            .map(|unit| unit.trim_end_matches([',', '.', ':', ';']));
        words[at].parse::<f64>().is_ok()
            && unit.is_some_and(|unit| ["s", "min", "h"].contains(&unit))
    };
    let kept = (0..words.len()).filter(|at| !is_time(*at));
    kept.map(|at| words[at]).collect::<Vec<_>>().join(" ")
}
