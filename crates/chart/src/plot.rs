//! One plot: from values to paper, its grid, its frame and the numbers along it.

use crate::axis::AxisMap;
use crate::canvas::{Anchor, Canvas, Pen, Point, Rect, Text};
use crate::colour;
use crate::font::{self, TICK_SIZE};
use crate::ticks::Tick;

/// About how many numbers a level axis has at least.
const FEWEST_NUMBERS: usize = 2;
/// About how many numbers a level axis has at most.
const MOST_NUMBERS: usize = 10;

/// How far below its axis a number along it starts.
const NUMBER_DROP: f64 = 8.0;

/// Room that tick labels need left of a plot.
pub(crate) fn label_room(ticks: &[Tick]) -> f64 {
    ticks
        .iter()
        .map(|tick| font::width(&tick.text, TICK_SIZE))
        .fold(0.0, f64::max)
        + 10.0
}

/// One plot: where it is, and its axes.
#[derive(Clone, Copy)]
pub(crate) struct Plot {
    pub frame: Rect,
    pub x: AxisMap,
    pub y: AxisMap,
}

impl Plot {
    /// Where a pair of values lies on paper; not finite for what an axis cannot show.
    pub fn point(&self, x: f64, y: f64) -> Point {
        [self.across(x), self.up(y)]
    }

    pub fn across(&self, x: f64) -> f64 {
        self.frame.left + self.x.fraction(x) * self.frame.width()
    }

    pub fn up(&self, y: f64) -> f64 {
        self.frame.bottom - self.y.fraction(y) * self.frame.height()
    }

    /// The grid lines of the level axis.
    pub fn draw_upright_grid(&self, pen: &mut Pen) {
        let Rect { top, bottom, .. } = self.frame;
        for tick in self.x_ticks().iter().filter(|tick| !tick.text.is_empty()) {
            let x = self.across(tick.value);
            pen.line(&[[x, top], [x, bottom]], colour::FAINT, 0.8);
        }
    }

    /// Grid lines, to be drawn first.
    pub fn draw_grid(&self, canvas: &mut Canvas) {
        let frame = self.frame;
        canvas.group("grid", &[], |pen| {
            self.draw_upright_grid(pen);
            for tick in self.y_ticks().iter().filter(|tick| !tick.text.is_empty()) {
                let y = self.up(tick.value);
                pen.line(&[[frame.left, y], [frame.right, y]], colour::FAINT, 0.8);
            }
        })
    }

    /// Frame and level axis alone, where the rows have names instead of numbers.
    pub fn draw_level_axis(&self, canvas: &mut Canvas) {
        canvas.group("frame", &[], |pen| {
            pen.frame(self.frame, colour::INK, 1.0);
            self.draw_x_strokes(pen, self.frame.bottom)
        });
        self.write_x_numbers(canvas, self.frame.bottom);
    }

    fn draw_x_strokes(&self, pen: &mut Pen, bottom: f64) {
        for tick in self.x_ticks() {
            let (x, long) = (self.across(tick.value), !tick.text.is_empty());
            let end = bottom + if long { 5.0 } else { 3.0 };
            pen.line(&[[x, bottom], [x, end]], colour::INK, 1.0);
        }
    }

    fn write_x_numbers(&self, canvas: &mut Canvas, bottom: f64) {
        for tick in self.x_ticks().iter().filter(|tick| !tick.text.is_empty()) {
            let at = [
                self.across(tick.value),
                bottom + NUMBER_DROP + 0.85 * TICK_SIZE,
            ];
            canvas.text(&Text::new(
                "x-tick",
                &tick.text,
                at,
                Anchor::Middle,
                TICK_SIZE,
            ));
        }
    }

    /// Frame, tick strokes and numbers, to be drawn after the data. `strip` is the room between the
    /// plot and the level axis; zero puts the axis at the plot.
    pub fn draw_axes(&self, canvas: &mut Canvas, number_x: bool, number_y: bool, strip: f64) {
        let frame = self.frame;
        let bottom = frame.bottom + strip;
        canvas.group("frame", &[], |pen| {
            pen.frame(frame, colour::INK, 1.0);
            if strip > 0.0 {
                let below = Rect {
                    top: frame.bottom,
                    bottom,
                    ..frame
                };
                pen.frame(below, colour::INK, 1.0);
            }
            self.draw_x_strokes(pen, bottom);
            for tick in self.y_ticks() {
                let (y, long) = (self.up(tick.value), !tick.text.is_empty());
                let end = frame.left - if long { 5.0 } else { 3.0 };
                pen.line(&[[frame.left, y], [end, y]], colour::INK, 1.0);
            }
        });
        if number_x {
            self.write_x_numbers(canvas, bottom);
        }
        if number_y {
            for tick in self.y_ticks().iter().filter(|tick| !tick.text.is_empty()) {
                let drop = 0.5 * font::CAPITAL_HEIGHT * TICK_SIZE;
                let at = [frame.left - 8.0, self.up(tick.value) + drop];
                canvas.text(&Text::new("y-tick", &tick.text, at, Anchor::End, TICK_SIZE));
            }
        }
    }

    /// Ticks of the level axis.
    pub fn x_ticks(&self) -> Vec<Tick> {
        // As many numbers as stand side by side with air between them.
        (FEWEST_NUMBERS..=MOST_NUMBERS)
            .rev()
            .map(|wanted| self.x.ticks(wanted))
            .find(|ticks| self.apart(ticks))
            .unwrap_or_else(|| self.x.ticks(FEWEST_NUMBERS))
    }

    /// Whether the numbers of a level axis leave each other room.
    fn apart(&self, ticks: &[Tick]) -> bool {
        const AIR: f64 = 8.0;
        let mut numbers: Vec<(f64, f64)> = ticks
            .iter()
            .filter(|tick| !tick.text.is_empty())
            .map(|tick| (self.across(tick.value), font::width(&tick.text, TICK_SIZE)))
            .collect();
        numbers.sort_by(|a, b| a.0.total_cmp(&b.0));
        numbers
            .windows(2)
            .all(|w| w[1].0 - w[0].0 >= 0.5 * (w[0].1 + w[1].1) + AIR)
    }

    /// Ticks of the upright axis.
    pub fn y_ticks(&self) -> Vec<Tick> {
        y_ticks(&self.y, self.frame.height())
    }
}

/// Ticks of an upright axis of this height.
pub(crate) fn y_ticks(axis: &AxisMap, height: f64) -> Vec<Tick> {
    // A low plot has room for fewer than three numbers.
    let least = ((height / 20.0) as usize).clamp(1, 3);
    axis.ticks(((height / 45.0) as usize).clamp(least, 8))
}
