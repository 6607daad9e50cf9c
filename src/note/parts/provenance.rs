//! Which command prints what, from which inputs.

use crate::note::facts::Facts;
use crate::report::{Block, Document, Section};
use crate::rounding::significant;

/// The section after all others of this document.
pub(super) fn section(facts: &Facts<'_>, document: &Document) -> Section {
    let percent = |share: f64| significant(100.0 * share, 2);
    Section {
        id: "commands",
        heading: "Commands behind the numbers".to_owned(),
        blocks: vec![
            Block::paragraph(format!(
                "Every number of this note that is not in the panel file itself is printed by one of these \
                 commands, from inputs {} by padfield {}; accuracy asked {} % for bases and touches, {} % for \
                 thresholds and guidelines. Grid, iterations and residual are in the solver record, the \
                 bounds in \"How accurate is this\". Run again, each gives the same numbers.",
                facts.key,
                facts.engine(),
                percent(facts.order.accuracy),
                percent(facts.order.window_accuracy),
            )),
            Block::Commands {
                commands: document.printers(),
            },
        ],
    }
}
