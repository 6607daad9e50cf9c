//! Labels of upright lines in rows above a plot, so that no label covers another or lies on data.
//!
//! Every line rises to the row of its label. With labels right of their lines, the leftmost line takes
//! the top row: no line then passes through a label. Mirrored for labels left of their lines.

use crate::canvas::{Anchor, Canvas, Pen, Text};
use crate::colour;
use crate::font::{self, LABEL_SIZE};

/// Distance of baselines of a label that takes several lines.
const LINE: f64 = 14.5;
/// Air between two rows.
const AIR: f64 = 4.0;
/// Air between a line and its label.
const BESIDE: f64 = 6.0;
/// Widest line of a label: less than half a page, so that it fits on one side of any line.
const MOST_WIDTH: f64 = 350.0;

/// One or two upright lines with one label.
pub(crate) struct Flag {
    /// Class of the elements.
    pub class: &'static str,
    /// The label as the caller gave it.
    pub name: String,
    lines: Vec<String>,
    /// Left and right line on paper; the same for a single one.
    ends: [f64; 2],
    /// Dashes of the lines; none when there is nothing to draw but the label.
    dash: Option<&'static str>,
}

impl Flag {
    /// A flag for lines at these places on paper, left before right.
    pub fn new(
        class: &'static str,
        name: &str,
        text: &str,
        ends: [f64; 2],
        dash: Option<&'static str>,
    ) -> Self {
        Self {
            class,
            name: name.to_owned(),
            lines: font::wrapped(text, LABEL_SIZE, MOST_WIDTH),
            ends,
            dash,
        }
    }

    fn width(&self) -> f64 {
        let widths = self.lines.iter().map(|line| font::width(line, LABEL_SIZE));
        widths.fold(0.0, f64::max)
    }

    fn height(&self) -> f64 {
        height_of(self.lines.len())
    }
}

/// Height of a row with this many lines.
fn height_of(lines: usize) -> f64 {
    LINE * lines.max(1) as f64 + AIR
}

/// Height of the rows for labels of these texts, known before the places are.
pub(crate) fn height<'a>(texts: impl Iterator<Item = &'a str>) -> f64 {
    texts
        .map(|text| height_of(font::wrapped(text, LABEL_SIZE, MOST_WIDTH).len()))
        .sum()
}

/// Which side of its line a label stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Right,
    Left,
}

impl Side {
    fn other(self) -> Self {
        match self {
            Side::Right => Side::Left,
            Side::Left => Side::Right,
        }
    }
}

/// Flags from the top row down, each with its side.
type Rows<'a> = Vec<(&'a Flag, Side)>;

/// The flags from the top row down, each with its side, between the ends of the page.
fn arranged(flags: &[Flag], page: (f64, f64)) -> Rows<'_> {
    let fits_right = |flag: &Flag| flag.ends[1] + BESIDE + flag.width() <= page.1;
    let fits_left = |flag: &Flag| flag.ends[0] - BESIDE - flag.width() >= page.0;
    if flags.iter().all(fits_right) {
        return by_place(flags, |_| Side::Right);
    }
    if flags.iter().all(fits_left) {
        return by_place(flags, |_| Side::Left);
    }
    let rows = by_place(flags, |flag| match fits_right(flag) {
        true => Side::Right,
        false => Side::Left,
    });
    least_crossed(rows, |flag| fits_left(flag) && fits_right(flag))
}

/// Flags in the order in which no line of one side passes through a label of the same side.
fn by_place(flags: &[Flag], side: impl Fn(&Flag) -> Side) -> Rows<'_> {
    let mut rows: Rows = flags.iter().map(|flag| (flag, side(flag))).collect();
    rows.sort_by(|(a, on), (b, other)| {
        let left_last = (*on == Side::Left).cmp(&(*other == Side::Left));
        let along = match on {
            Side::Right => a.ends[1].total_cmp(&b.ends[1]),
            Side::Left => b.ends[0].total_cmp(&a.ends[0]),
        };
        left_last.then(along)
    });
    rows
}

/// The rows with one flag after the other moved or turned, as long as fewer lines pass through labels.
fn least_crossed<'a>(mut rows: Rows<'a>, either_side: impl Fn(&Flag) -> bool) -> Rows<'a> {
    loop {
        let mut best = rows.clone();
        for from in 0..rows.len() {
            for to in 0..rows.len() {
                for turned in [false, true] {
                    let mut changed = rows.clone();
                    let (flag, side) = changed.remove(from);
                    let turned = turned && either_side(flag);
                    changed.insert(to, (flag, if turned { side.other() } else { side }));
                    if crossed(&changed) < crossed(&best) {
                        best = changed;
                    }
                }
            }
        }
        if crossed(&best) == crossed(&rows) {
            return rows;
        }
        rows = best;
    }
}

/// How many lines pass through a label on their way up.
fn crossed(rows: &[(&Flag, Side)]) -> usize {
    let passes = |x: f64, (flag, side): &(&Flag, Side)| match side {
        Side::Right => (0.0..flag.width() + BESIDE).contains(&(x - flag.ends[1])),
        Side::Left => (0.0..flag.width() + BESIDE).contains(&(flag.ends[0] - x)),
    };
    let lines = rows.iter().enumerate();
    let drawn = lines.filter(|(_, (flag, _))| flag.dash.is_some());
    drawn
        .map(|(row, (flag, _))| {
            let below = &rows[row + 1..];
            let met = |x: &f64| below.iter().filter(|other| passes(*x, other)).count();
            let [left, right] = flag.ends;
            met(&left) + if right > left { met(&right) } else { 0 }
        })
        .sum()
}

/// Draws the flags from `bottom`, the lower end of their lines, up to the rows that start at `top`.
pub(crate) fn draw(canvas: &mut Canvas, flags: &[Flag], page: (f64, f64), top: f64, bottom: f64) {
    let arranged = arranged(flags, page);
    let mut rows = Vec::new();
    let mut row_top = top;
    for (flag, _) in &arranged {
        rows.push(row_top);
        row_top += flag.height();
    }
    for ((flag, _), &row) in arranged.iter().zip(&rows) {
        draw_lines(canvas, flag, row + 0.5 * LINE, bottom);
    }
    // All labels after all lines: where a line cannot avoid a label, it passes behind it.
    for ((flag, side), &row) in arranged.iter().zip(&rows) {
        let (x, anchor) = match side {
            Side::Right => (flag.ends[1] + BESIDE, Anchor::Start),
            Side::Left => (flag.ends[0] - BESIDE, Anchor::End),
        };
        for (number, line) in flag.lines.iter().enumerate() {
            let baseline = row + 0.5 * LINE + 0.36 * LABEL_SIZE + LINE * number as f64;
            canvas.text(&Text {
                halo: true,
                ..Text::new(flag.class, line, [x, baseline], anchor, LABEL_SIZE)
            });
        }
    }
}

fn draw_lines(canvas: &mut Canvas, flag: &Flag, level: f64, bottom: f64) {
    let Some(dash) = flag.dash else {
        return;
    };
    let [left, right] = flag.ends;
    let attributes = [
        ("data-name", flag.name.as_str()),
        ("stroke-dasharray", dash),
    ];
    if left == right {
        return canvas.group(flag.class, &attributes, |pen| {
            pen.line(&[[left, bottom], [left, level]], colour::INK, 1.5)
        });
    }
    canvas.group(flag.class, &attributes, |pen| {
        for x in flag.ends {
            pen.line(&[[x, bottom], [x, level - 5.0]], colour::GREY, 1.0);
        }
        double_arrow(pen, left, right, level)
    })
}

/// What a level dimension line looks like on a drawing; without heads where they have no room.
fn double_arrow(pen: &mut Pen, left: f64, right: f64, y: f64) {
    const HEAD: f64 = 6.0;
    pen.line(&[[left, y], [right, y]], colour::GREY, 1.0);
    if right - left > 2.5 * HEAD {
        for (tip, inward) in [(left, HEAD), (right, -HEAD)] {
            let corners = [[tip, y], [tip + inward, y - 3.0], [tip + inward, y + 3.0]];
            pen.area(&corners, colour::GREY, 1.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flag(x: f64, text: &str) -> Flag {
        Flag::new("mark", text, text, [x, x], Some("none"))
    }

    /// A bracket between two lines as well as single lines, some labels too long for one side.
    #[test]
    fn lines_pass_through_no_label_where_an_order_without_that_exists() {
        let long = "release 38 counts, 0.8 of the threshold (rule of a house)";
        let window = Flag::new(
            "band",
            "w",
            "window 31 to 71 counts",
            [438.0, 554.0],
            Some("none"),
        );
        let outside = Flag::new("mark", "o", "noise (left of this chart)", [279.0; 2], None);
        let flags = [flag(466.0, long), flag(496.0, "threshold"), window, outside];
        let page = (18.0, 782.0);
        let first = by_place(&flags, |flag| match flag.name == long {
            true => Side::Left,
            false => Side::Right,
        });
        assert_eq!(
            crossed(&first),
            1,
            "the bracket starts within the long label"
        );
        assert_eq!(crossed(&arranged(&flags, page)), 0);
    }

    fn names<'a>(arranged: &[(&'a Flag, Side)]) -> Vec<(&'a str, Side)> {
        arranged
            .iter()
            .map(|(flag, side)| (flag.name.as_str(), *side))
            .collect()
    }

    #[test]
    fn labels_on_the_right_take_rows_from_left_to_right() {
        let flags = [flag(300.0, "b"), flag(100.0, "a"), flag(400.0, "c")];
        let right = |name| (name, Side::Right);
        assert_eq!(
            names(&arranged(&flags, (18.0, 782.0))),
            [right("a"), right("b"), right("c")]
        );
    }

    #[test]
    fn labels_that_do_not_fit_on_the_right_all_go_left() {
        let flags = [flag(300.0, "b"), flag(775.0, "c")];
        let left = |name| (name, Side::Left);
        assert_eq!(
            names(&arranged(&flags, (18.0, 782.0))),
            [left("c"), left("b")]
        );
    }

    #[test]
    fn every_label_stays_on_the_page_when_neither_side_takes_all() {
        let long = "a label of many words that goes on and on and is as wide as labels get here";
        let flags = [flag(30.0, "left"), flag(775.0, long)];
        let arranged = arranged(&flags, (18.0, 782.0));
        assert_eq!(
            names(&arranged),
            [("left", Side::Right), (long, Side::Left)]
        );
        for text in [long, &long.repeat(5)] {
            assert!(flag(0.0, text).width() <= MOST_WIDTH);
        }
    }
}
