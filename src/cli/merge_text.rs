//! What a merge tells, for people and for machines.

use super::merge::Merged;
use super::sweep_text::{count, rows_text, shortened};

/// What was joined and what is missing.
pub(super) fn merge_text(merged: &Merged) -> String {
    let tally = &merged.tally;
    let shards = match merged.shards.len() {
        1 => "1 shard".to_owned(),
        many => format!("{many} shards"),
    };
    let mut text = format!(
        "Study \"{}\": {shards} joined, {} points new: {} of {} points recorded: {} with numbers, {} failed\n",
        merged.study.study.name,
        count(merged.new),
        count(tally.done + tally.failed),
        count(merged.study.points),
        count(tally.done),
        count(tally.failed)
    );
    text += &rows_text(tally, merged.study.study.accuracy);
    for (path, reason) in &merged.torn {
        text += &format!(
            "Left out: {} is torn ({reason}); copy it again, or run it again\n",
            path.display()
        );
    }
    if !merged.missing.is_empty() {
        let stretches = merged
            .missing
            .iter()
            .map(|[first, last]| match first == last {
                true => first.to_string(),
                false => format!("{first}-{last}"),
            });
        text += &format!(
            "Missing: {} points of the plan: {}\n",
            count(merged.missing_points()),
            shortened(stretches.collect())
        );
        let shards = merged.again.keys().map(ToString::to_string);
        text += &format!("Shards to run again: {}\n", shortened(shards.collect()));
        if let Some(shard) = merged.again.keys().next() {
            text += &format!("Such as: {} --shard {shard}\n", merged.command);
        }
    }
    text
}
