//! What a merge tells, for people and for machines.

use super::merge::Merged;
use super::sweep_text::{count, rows_text, shortened};
use serde_json::{Value, json};

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

/// The same for machines, everything listed.
pub(super) fn merge_json(merged: &Merged) -> Value {
    let tally = &merged.tally;
    json!({
        "study": merged.study.study.name,
        "scenario": merged.study.scenario,
        "engine": merged.study.engine,
        "points": merged.study.points,
        "done": tally.done,
        "failed": tally.failed,
        "short_of_accuracy": tally.short_of_accuracy,
        "shards": merged.shards.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "torn": merged.torn.iter().map(|(path, reason)| json!({
            "file": path, "reason": reason,
        })).collect::<Vec<_>>(),
        "new": merged.new,
        "missing": merged.missing,
        "run_again": merged.again.iter().map(|(shard, points)| json!({
            "shard": shard.to_string(),
            "missing": points,
            "command": format!("{} --shard {shard}", merged.command),
        })).collect::<Vec<_>>(),
        "complete": merged.missing.is_empty(),
        "folder": merged.folder,
    })
}
