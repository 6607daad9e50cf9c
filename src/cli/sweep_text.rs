//! What a sweep tells at its end, for people and for machines.

use crate::report::terminal::table;
use crate::rounding::{duration, significant};
use crate::store::{Store, StoreError, Tally};
use crate::study::{Combine, Sequence, Shard, Study};
use crate::sweep::{Job, Measurement, Summary, Survey, Use};

/// Reasons of failures that are listed.
const MOST_REASONS: usize = 10;

fn bytes(bytes: u64) -> String {
    match bytes as f64 {
        b if b < 1e9 => format!("{} MB", significant(b / 1e6, 2)),
        b => format!("{} GB", significant(b / 1e9, 2)),
    }
}

/// `6,000` reads better than `6000`; a plain space would break lines.
pub(super) fn count(number: u64) -> String {
    let digits = number.to_string();
    let mut grouped = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    grouped
}

fn combination(study: &Study) -> String {
    match study.combine {
        Combine::All => "all combinations".to_owned(),
        Combine::SideBySide => "side by side".to_owned(),
        Combine::Sample { sequence, seed, .. } => match sequence {
            Sequence::Sobol => format!("Sobol sample, seed {seed}"),
            Sequence::Random => format!("random sample, seed {seed}"),
        },
    }
}

/// The plan of a study and what a few of its points say about the time it takes.
pub(super) fn plan_text(study: &Study, measurement: &Measurement, threads: usize) -> String {
    let rows = study.variables.iter().map(|variable| {
        let values = match variable.len() {
            Some(len) => count(len),
            None => "anywhere in the range".to_owned(),
        };
        vec![variable.heading(), values]
    });
    let mut text = format!(
        "Study \"{}\": {} points, {}\n{}\n",
        study.name,
        count(measurement.points),
        combination(study),
        table(&["varies", "values"], 1, rows.collect()).trim_fmt()
    );
    text += &format!(
        "Measured on {} points spread over the plan, {threads} side by side, in {}\n",
        measurement.measured,
        duration(measurement.wall_seconds)
    );
    match measurement.cells {
        Some([least, most]) => {
            text += &format!(
                "Cells of a point: {} to {}; memory: about {}\n",
                count(least),
                count(most),
                bytes(measurement.memory_bytes(threads).unwrap_or(0))
            );
        }
        None => text += "None of them gave a number\n",
    }
    if let Some(reason) = &measurement.reason {
        text += &format!("Failed: {}, such as: {reason}\n", measurement.failed);
    }
    if measurement.measured > 0 {
        text += &format!(
            "Time for the whole plan at this rate: about {}\n",
            duration(measurement.plan_seconds)
        );
    }
    text
}

/// What a run has done.
pub(super) fn summary_text(summary: &Summary, threads: usize) -> String {
    let tally = &summary.tally;
    let part = match summary.shard {
        Shard::WHOLE => String::new(),
        shard => format!(", shard {} of {}", shard.number(), shard.count()),
    };
    let mut text = format!(
        "Study \"{}\"{part}: {} of {} points recorded: {} with numbers, {} failed\n",
        summary.study.study.name,
        count(summary.recorded),
        count(summary.points),
        count(tally.done),
        count(tally.failed)
    );
    text += &rows_text(tally, summary.study.study.accuracy);
    text += &models_text(summary);
    text += &format!(
        "This run: {} solved, {} known before, {}",
        count(summary.solved),
        count(summary.reused),
        duration(summary.wall_seconds)
    );
    if summary.solved > 0 {
        text += &format!(
            "; {} points/s on {threads} threads, {:.0} % of their time in the field engine",
            significant(summary.solved as f64 / summary.wall_seconds, 3),
            100.0 * engine_share(summary, threads)
        );
    }
    text + "\n"
}

/// What reduced models have given; empty without any.
fn models_text(summary: &Summary) -> String {
    let Some(models) = &summary.models else {
        return String::new();
    };
    let extent = &models.extent;
    format!(
        "Reduced models: {} of {} solved by {}, made of {} solutions of {} cells in {}; {} in memory\n\
         Checked by {} direct solutions: at most {} of the error bar away\n",
        count(summary.reduced),
        count(summary.solved),
        match models.models {
            1 => "1 model".to_owned(),
            many => format!("{many} models"),
        },
        count(extent.designs as u64),
        count(extent.cells as u64),
        duration(models.seconds),
        bytes(extent.bytes as u64),
        models.checks,
        significant(models.worst_check, 2),
    )
}

/// What models a study would have; empty where it is not asked.
pub(super) fn survey_text(survey: Option<&Survey>, job: &Job<'_>, asked: Use) -> String {
    let Some(survey) = survey else {
        return String::new();
    };
    let models = survey.models() as u64;
    let verdict = match models {
        0 => "none can be made, every point is solved",
        _ if survey.pays(job, asked) => "they give the points",
        _ => "that does not pay here, every point is solved",
    };
    let mut text = format!(
        "Reduced models: {models}, about as much as {} solutions; {verdict}\n",
        count(survey.cost())
    );
    if models > 0 {
        text += &format!("Cells of the largest: {}\n", count(survey.cells() as u64));
    }
    for (reason, share) in &survey.reasons {
        text += &format!(
            "Solved directly, {} % of touches: {reason}\n",
            significant(100.0 * share, 2)
        );
    }
    text
}

/// Rows short of accuracy and reasons of failures; empty when there are none.
pub(super) fn rows_text(tally: &Tally, accuracy: f64) -> String {
    let mut text = String::new();
    if tally.short_of_accuracy > 0 {
        text += &format!(
            "{} points did not reach the accuracy of {} %; their rows of the table name what missed\n",
            count(tally.short_of_accuracy),
            significant(100.0 * accuracy, 2)
        );
    }
    if !tally.reasons.is_empty() {
        let rows = tally.reasons.iter().take(MOST_REASONS);
        let rows = rows.map(|(kind, reason, n)| vec![count(*n), kind.clone(), reason.clone()]);
        let header = ["failed", "kind", "reason"];
        text += &format!("{}\n", table(&header, 3, rows.collect()).trim_fmt());
        let more = tally.reasons.len().saturating_sub(MOST_REASONS);
        if more > 0 {
            text += &format!("and {more} other reasons, see the table\n");
        }
    }
    text
}

pub(super) fn engine_share(summary: &Summary, threads: usize) -> f64 {
    summary.solving_seconds / (summary.wall_seconds * threads as f64)
}

/// A store that failed, and what to do about it; `place` is the option that says where it is.
pub(super) fn store_failure(error: &StoreError, resume: &str, place: &str) -> String {
    match error {
        StoreError::Full { .. } => format!("{error}\nmake room, then go on with: {resume}"),
        StoreError::Unwritable { .. } => format!("{error}; choose another folder with {place}"),
        StoreError::OtherLayout { .. } => format!("{error} with {place}"),
        StoreError::Removed(_) => format!(
            "{error}: the points that were in it are lost with it, those of this run too\nstart again with: {resume}"
        ),
        _ => error.to_string(),
    }
}

/// Items after which "and so many more" says the rest.
const MOST_LISTED: usize = 12;

/// A list as a person reads it.
pub(super) fn shortened(mut words: Vec<String>) -> String {
    let more = words.len().saturating_sub(MOST_LISTED);
    words.truncate(MOST_LISTED);
    let mut text = words.join(", ");
    if more > 0 {
        text += &format!(" and {more} more");
    }
    text
}

/// What a store had that was not as it was written; none when all was.
pub(super) fn altered_text(store: &Store) -> Option<String> {
    (!store.altered().is_empty()).then(|| {
        format!(
            "{} was altered since it was written; what no longer fits was taken out, to be solved again: {}",
            store.path().display(),
            shortened(store.altered().to_vec())
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_said_as_people_say_them() {
        assert_eq!(count(1_234_567), "1,234,567");
        assert_eq!(count(999), "999");
        assert_eq!(bytes(48_000_000), "48 MB");
    }
}
