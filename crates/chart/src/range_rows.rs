//! The rows of a range chart as text: headings, wrapped names with their remarks, numbers.

use crate::canvas::{Anchor, Canvas, Text};
use crate::colour;
use crate::font::{self, LABEL_SIZE};
use crate::number;

/// Least height of a row.
const ROW: f64 = 23.0;
/// Distance of baselines within a name.
const NAME_LINE: f64 = 14.0;
/// Size of a remark.
const NOTE_SIZE: f64 = 10.5;
/// Distance of baselines within a remark.
const NOTE_LINE: f64 = 12.5;
/// Air above the first and below the last line of a row, together.
const AIR: f64 = 7.0;
/// Air above a heading that is not the first.
const HEADING_AIR: f64 = 6.0;
/// Most room for names and headings.
const MOST_NAME_ROOM: f64 = 255.0;
/// Room a heavy text takes beyond its measured width, over the width.
const HEAVIER: f64 = 1.06;
/// What stands above the numbers of bars with and without a mean.
const NUMBERS_HEADS: [&str; 2] = ["mean (low to high)", "low to high"];

/// One event: the range its value may have, and its mean where it has one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RangeRow {
    /// What happens, as in "child, 4 mm off centre, on vent"; long names are wrapped.
    pub name: String,
    /// Mean, in the unit of the axis; none and a value that is not finite draw no marker.
    pub mean: Option<f64>,
    /// Lowest value, in the unit of the axis; without two finite ends no bar is drawn.
    pub low: f64,
    /// Highest value, in the unit of the axis.
    pub high: f64,
    /// This row decides: drawn bold, with a sign in front.
    pub binding: bool,
    /// A short remark printed under the name; empty for none.
    pub note: String,
}

/// Rows under one heading, as in "must act".
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RangeGroup {
    /// The heading.
    pub title: String,
    /// The rows, from top to bottom; a group without rows says so.
    pub rows: Vec<RangeRow>,
}

impl RangeRow {
    /// The mean that is drawn.
    pub(crate) fn finite_mean(&self) -> Option<f64> {
        self.mean.filter(|mean| mean.is_finite())
    }
}

/// What one line of the chart shows.
pub(crate) enum LineKind<'a> {
    /// The heading of a group; the first one also heads the numbers.
    Heading { of_numbers: &'static str },
    /// One event of the group with this number.
    Row { group: usize, row: &'a RangeRow },
    /// A group without events.
    Nothing,
}

/// One line of the chart: a heading or a row, with its place below the top of the plot.
pub(crate) struct Line<'a> {
    pub kind: LineKind<'a>,
    name: Vec<String>,
    note: Vec<String>,
    top: f64,
    height: f64,
}

impl Line<'_> {
    /// Middle of the line, below the top of the plot.
    pub fn middle(&self) -> f64 {
        self.top + 0.5 * self.height
    }

    fn heavy(&self) -> bool {
        match self.kind {
            LineKind::Heading { .. } => true,
            LineKind::Row { row, .. } => row.binding,
            LineKind::Nothing => false,
        }
    }

    /// What stands at the right.
    fn numbers(&self) -> String {
        match self.kind {
            LineKind::Heading { of_numbers } => of_numbers.to_owned(),
            LineKind::Row { row, .. } => numbers(row),
            _ => String::new(),
        }
    }
}

/// Whether any row has a mean.
pub(crate) fn have_mean(groups: &[RangeGroup]) -> bool {
    let mut rows = groups.iter().flat_map(|group| &group.rows);
    rows.any(|row| row.finite_mean().is_some())
}

/// Mean and range of a row in figures.
pub(crate) fn numbers(row: &RangeRow) -> String {
    let range = row.low.is_finite() && row.high.is_finite();
    match (row.finite_mean(), range) {
        (Some(mean), true) => {
            let (low, high) = (row.low.min(row.high), row.low.max(row.high));
            number::with_interval(mean, low, high, "")
        }
        (Some(mean), false) => number::plain(mean, 4),
        (None, true) => {
            let [low, high] = [row.low, row.high].map(|end| number::plain(end, 3));
            format!("{low} to {high}")
        }
        (None, false) => "no value".to_owned(),
    }
}

/// The lines of all groups from top to bottom, and their height together.
pub(crate) fn lines(groups: &[RangeGroup]) -> (Vec<Line<'_>>, f64) {
    let mut lines = Vec::new();
    let mut top = AIR;
    let mut add = |kind, name: &str, note: &str, air: f64| {
        let room = MOST_NAME_ROOM / HEAVIER;
        let mut line = Line {
            kind,
            name: font::wrapped(name, LABEL_SIZE, room),
            note: font::wrapped(note, NOTE_SIZE, room),
            top: top + air,
            height: 0.0,
        };
        line.height = (text_height(&line) + AIR).max(ROW);
        top = line.top + line.height;
        lines.push(line);
    };
    for (number, group) in groups.iter().enumerate() {
        let (of_numbers, air) = match number {
            0 => (NUMBERS_HEADS[usize::from(!have_mean(groups))], 0.0),
            _ => ("", HEADING_AIR),
        };
        add(LineKind::Heading { of_numbers }, &group.title, "", air);
        for row in &group.rows {
            let kind = LineKind::Row { group: number, row };
            add(kind, &row.name, &row.note, 0.0);
        }
        if group.rows.is_empty() {
            add(LineKind::Nothing, "", "none", 0.0);
        }
    }
    (lines, top + AIR)
}

fn text_height(line: &Line) -> f64 {
    NAME_LINE * line.name.len() as f64 + NOTE_LINE * line.note.len() as f64
}

/// Room for the names left of the plot.
pub(crate) fn name_room(lines: &[Line]) -> f64 {
    let widths = lines.iter().flat_map(|line| {
        let heavier = if line.heavy() { HEAVIER } else { 1.0 };
        let names = line.name.iter();
        let notes = line.note.iter().map(|text| font::width(text, NOTE_SIZE));
        names
            .map(move |text| font::width(text, LABEL_SIZE) * heavier)
            .chain(notes)
    });
    widths.fold(0.0, f64::max)
}

/// Room for the numbers right of the plot.
pub(crate) fn number_room(lines: &[Line]) -> f64 {
    let widths = lines
        .iter()
        .map(|line| font::width(&line.numbers(), LABEL_SIZE) * HEAVIER);
    widths.fold(0.0, f64::max) + 10.0
}

/// Writes the texts of a line: names end at the first place, numbers start at the second.
pub(crate) fn write(canvas: &mut Canvas, line: &Line, plot_top: f64, [left, right]: [f64; 2]) {
    let middle = plot_top + line.middle();
    let mut top = middle - 0.5 * text_height(line);
    let class = match line.kind {
        LineKind::Heading { .. } => "group",
        _ => "row",
    };
    for text in &line.name {
        let at = [left, top + 0.5 * NAME_LINE + 0.36 * LABEL_SIZE];
        canvas.text(&Text {
            heavy: line.heavy(),
            ..Text::new(class, text, at, Anchor::End, LABEL_SIZE)
        });
        top += NAME_LINE;
    }
    for text in &line.note {
        let at = [left, top + 0.5 * NOTE_LINE + 0.36 * NOTE_SIZE];
        canvas.text(&Text {
            colour: colour::GREY,
            ..Text::new("note", text, at, Anchor::End, NOTE_SIZE)
        });
        top += NOTE_LINE;
    }
    let numbers = line.numbers();
    if !numbers.is_empty() {
        let heading = matches!(line.kind, LineKind::Heading { .. });
        let at = [right, middle + 0.36 * LABEL_SIZE];
        canvas.text(&Text {
            heavy: line.heavy() && !heading,
            colour: if heading { colour::GREY } else { colour::INK },
            ..Text::new("row-value", &numbers, at, Anchor::Start, LABEL_SIZE)
        });
    }
}
