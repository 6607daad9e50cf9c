//! Rules of thumb held against this panel, with the curve behind those that are decided otherwise.

use crate::figures::capital;
use crate::note::facts::Facts;
use crate::questions::rules::{Detail, Verdict, picture, report};
use crate::report::{Block, Figure};
use padfield_chart::{Chart, ChartError};

/// Most charts in a note.
const MOST_CHARTS: usize = 4;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let Some(judgement) = &facts.judgement else {
        return Ok(super::left_out());
    };
    let answer = report(judgement, facts.order.window_accuracy);
    let mut blocks = answer.extract(&facts.rules_command());
    // What fails comes first, and one curve over the same value is enough.
    let of = |verdict: Verdict| {
        let rows = judgement.rows.iter();
        rows.filter(move |row| row.verdict == verdict)
    };
    let told = of(Verdict::FailsHere).chain(of(Verdict::MoreCareful));
    let mut drawn = 0;
    let mut paths: Vec<(&Option<String>, &str)> = Vec::new();
    for row in told {
        if let Detail::Needed(detail) = &row.detail {
            let curve = (&row.group, detail.path.as_str());
            if paths.contains(&curve) {
                continue;
            }
            paths.push(curve);
        }
        let Some(chart) = picture(row, &judgement.finger) else {
            continue;
        };
        // A curve of one point or without finite values is told by its row.
        let Ok(svg) = chart.svg() else {
            continue;
        };
        drawn += 1;
        blocks.push(Block::Figure(Figure {
            name: format!("guideline-{drawn}"),
            caption: format!("{}: {}.", capital(&row.says), row.verdict.words()),
            alternative: format!("{}: {}. {}", row.says, row.verdict.words(), row.reason),
            svg,
            command: format!(
                "{} --only {}",
                facts.rules_command(),
                crate::note::words::quoted(&row.rule)
            ),
        }));
        if drawn == MOST_CHARTS {
            break;
        }
    }
    Ok(blocks)
}
