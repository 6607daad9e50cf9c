//! The answer of a question: its blocks, and how deep each of them is.

use super::document::{Block, Table};

/// Who is shown a block or a column.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Depth {
    /// Whoever reads the answer, in a note as well.
    #[default]
    Everywhere,
    /// Who asked this question only.
    Detail,
}

/// An answer in blocks, in reading order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    pieces: Vec<(Depth, Block)>,
}

impl Report {
    /// Adds a block for every reader.
    pub fn say(&mut self, block: impl Into<Block>) {
        self.add(Depth::Everywhere, block.into());
    }

    /// Adds a block for the one who asked this question only.
    pub fn detail(&mut self, block: impl Into<Block>) {
        self.add(Depth::Detail, block.into());
    }

    /// A list of nothing is nothing.
    fn add(&mut self, depth: Depth, block: Block) {
        let is_empty = match &block {
            Block::List { items } | Block::Cautions { items } => items.is_empty(),
            _ => false,
        };
        if !is_empty {
            self.pieces.push((depth, block));
        }
    }

    /// Adds the assumptions of an answer, for the one who asked only: a note has a section of its own for them.
    pub fn assumptions(&mut self, lines: &[String]) {
        self.detail(Block::paragraph(format!(
            "Assumptions. {}",
            lines.join(" ")
        )));
    }

    /// Adds all of another answer.
    pub fn append(&mut self, other: Self) {
        self.pieces.extend(other.pieces);
    }

    /// Every block.
    pub fn blocks(&self) -> impl Iterator<Item = &Block> {
        self.pieces.iter().map(|(_, block)| block)
    }

    /// What a note takes: the blocks and columns for every reader. Its tables are those that `command` prints.
    pub fn extract(self, command: &str) -> Vec<Block> {
        let kept = self
            .pieces
            .into_iter()
            .filter(|(depth, _)| *depth == Depth::Everywhere);
        let blocks = kept.map(|(_, block)| match block {
            Block::Table(table) => Block::Table(Table {
                command: command.to_owned(),
                ..table.extract()
            }),
            block => block,
        });
        blocks.collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::{markdown::in_section, terminal};

    fn answer() -> Report {
        let mut table = Table::new("Pads", &["pad", "base\ncount", "source"], 1)
            .with_words_in(&[2])
            .with_details_in(&[1]);
        table.row(["a", "7", "typed"].map(str::to_owned).to_vec());
        table.remark = "As typed.".to_owned();
        let mut report = Report::default();
        report.say(Block::verdict("It holds."));
        report.say(table);
        report.assumptions(&["One.".to_owned(), "Two.".to_owned()]);
        report.detail(Block::list(Vec::new()));
        report.say(Block::cautions(vec!["Ask.".to_owned(), "Test.".to_owned()]));
        report
    }

    #[test]
    fn a_terminal_shows_every_block_and_column() {
        let text = terminal::answer("Keys", &answer());
        let lines: Vec<&str> = text.lines().map(str::trim_end).collect();
        let expected = [
            "Keys",
            "",
            "It holds.",
            "",
            "Pads",
            "pad   base  source",
            "     count",
            "-------------------",
            "a        7  typed",
            "",
            "As typed.",
            "",
            "Assumptions. One. Two.",
            "",
            "Caution. Ask.",
            "Caution. Test.",
        ];
        assert_eq!(lines, expected);
    }

    #[test]
    fn a_note_takes_blocks_and_columns_for_every_reader() {
        let blocks = answer().extract("padfield ask");
        assert_eq!(blocks.len(), 3);
        let expected = "**It holds.**\n\n**Pads**\n\n| pad | source |\n| --- | --- |\n| a | typed |\n\n\
                        As typed.\n\nPrinted by `padfield ask`\n\n- Ask.\n- Test.";
        assert_eq!(in_section(&blocks), expected);
    }
}
