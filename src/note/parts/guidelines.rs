//! Rules of thumb held against this panel, with the curve behind those that are decided otherwise.

use crate::figures::capital;
use crate::note::facts::Facts;
use crate::questions::rules::{Detail, NeededDetail, Place, Verdict, number, picture, with_unit};
use crate::report::{Block, Cell, Figure, Table};
use padfield_chart::{Chart, ChartError};

/// Most charts in a note.
const MOST_CHARTS: usize = 4;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let Some(judgement) = &facts.judgement else {
        return Ok(vec![Block::paragraph("Left out of this note.")]);
    };
    let mut table = Table::new(
        "Guidelines on this panel",
        &[
            "guideline",
            "pads",
            "this panel has",
            "this panel needs",
            "verdict",
            "reason",
            "source",
        ],
        7,
    );
    table.command = facts.rules_command();
    for row in &judgement.rows {
        let (has, needs) = values(&row.detail);
        let mut cells: Vec<Cell> = [
            row.says.clone(),
            row.group.clone().unwrap_or_default(),
            has,
            needs,
        ]
        .into_iter()
        .map(Cell::from)
        .collect();
        cells.push(Cell {
            text: row.verdict.words().to_owned(),
            strong: row.verdict == Verdict::FailsHere,
        });
        cells.push(Cell::from(row.reason.clone()));
        cells.push(Cell::from(row.source.clone()));
        table.cells(cells);
    }
    if judgement.rows.iter().all(|row| row.group.is_none()) {
        table.drop_column(1);
    }
    let mut blocks = vec![
        Block::paragraph(
            "Each rule of thumb with what it comes to here. \"More careful than needed\" leaves room to save; \
             \"fails here\" means that keeping the rule is not enough.",
        ),
        Block::Table(table),
    ];
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

/// What the panel has and what it needs, where the rule is about one value.
fn values(detail: &Detail) -> (String, String) {
    let Detail::Needed(NeededDetail {
        unit,
        drawn,
        needed,
        ..
    }) = detail
    else {
        return (String::new(), String::new());
    };
    let show = |value: f64| with_unit(&number(value), unit);
    let needs = match needed {
        Place::At(at, [low, high]) => {
            format!("{} ({} to {})", show(*at), number(*low), number(*high))
        }
        Place::BeyondEnd(end) => format!("beyond {}", show(*end)),
        Place::NowhereTo(end) => format!("nothing up to {}", show(*end)),
        Place::Unclear => "cannot tell".to_owned(),
    };
    (drawn.map_or(String::new(), show), needs)
}
