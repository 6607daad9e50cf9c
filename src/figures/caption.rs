//! The line under every chart: what was assumed, what is missing, where the numbers come from.

use super::sheet::Sheet;

/// About the longest line; what does not fit is left to the store.
const LONGEST: usize = 330;

/// The assumption line of a study; `remark` is what this chart has to add, or empty.
pub(super) fn assumption(sheet: &Sheet<'_>, remark: &str) -> String {
    let record = sheet.record;
    let study = &record.study;
    let mut tail = Vec::new();
    if !remark.is_empty() {
        tail.push(format!("{remark}."));
    }
    let recorded = sheet.entries.len() as u64;
    if recorded < record.points {
        tail.push(format!(
            "{recorded} of {} points recorded so far.",
            record.points
        ));
    }
    if sheet.failed > 0 {
        let (points, are) = plural(sheet.failed, "are gaps", "is a gap");
        tail.push(format!("{points} failed and {are}."));
    }
    if sheet.short_of_accuracy > 0 {
        let (points, _) = plural(sheet.short_of_accuracy, "", "");
        tail.push(format!(
            "{points} short of the accuracy asked for, see the error bars."
        ));
    }
    tail.push(format!(
        "padfield {}, accuracy asked {} %, scenario {}.",
        record.engine,
        plain(100.0 * study.accuracy),
        record.scenario.get(..8).unwrap_or(&record.scenario)
    ));
    let tail = tail.join(" ");
    let paths: Vec<&str> = study.variables.iter().map(|v| v.path.as_str()).collect();
    let mut line = String::new();
    for sentence in record
        .assumptions
        .iter()
        .filter_map(|s| condensed(s, &paths))
    {
        if line.chars().count() + sentence.chars().count() + tail.chars().count() < LONGEST {
            line += &sentence;
            line.push(' ');
        }
    }
    line + &tail
}

fn plural<'a>(count: u64, many: &'a str, one: &'a str) -> (String, &'a str) {
    match count {
        1 => ("1 point".to_owned(), one),
        n => (format!("{n} points"), many),
    }
}

/// A number without the last bits of binary fractions.
fn plain(value: f64) -> String {
    let text = crate::rounding::fixed(value, 6);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// One line of assumptions, shortened; none when it tells values that vary in this study (it was
/// written for one point), or nothing that a chart has to repeat.
fn condensed(sentence: &str, paths: &[&str]) -> Option<String> {
    let varies = |starts: &[&str]| {
        let hit = |path: &&str| starts.iter().any(|start| path.starts_with(start));
        paths.iter().any(hit)
    };
    let (head, _) = sentence.split_once(':')?;
    let told_by: &[&str] = match head {
        "Model" => &["model"],
        "Idle pads" => &["idle"],
        "Ground" | "Ground at 0 V" => &["ground", "guard"],
        "Layers from the touched face" => &["layer", "board"],
        _ if head.starts_with("Finger") => &["finger"],
        _ => return None,
    };
    if varies(told_by) {
        return None;
    }
    let mut text = sentence.replace(" [default]", "");
    // The model's first words say it; the layers end before the words that are always the same.
    let end = match head {
        "Model" => text.find(','),
        "Layers from the touched face" => text.find("; bonded"),
        _ => None,
    };
    if let Some(end) = end {
        text.truncate(end);
        text.push('.');
    }
    Some(text)
}
