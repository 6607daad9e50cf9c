//! Paper: shapes and texts into one SVG document.
//!
//! Coordinates are whole numbers ten times as fine as a chart unit; the view box scales them back.

use std::fmt::{self, Write};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

use crate::colour::{self, Colour};
use crate::font;

/// Drawing units per chart unit.
const FINENESS: f64 = 10.0;

/// A place on paper, in chart units (pixels at scale 1) from the top left corner, y downwards.
pub type Point = [f64; 2];

/// A rectangle on paper, in chart units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Left side.
    pub left: f64,
    /// Upper side.
    pub top: f64,
    /// Right side.
    pub right: f64,
    /// Lower side.
    pub bottom: f64,
}

impl Rect {
    /// A square around a point.
    pub fn around([x, y]: Point, half: f64) -> Self {
        Self {
            left: x - half,
            top: y - half,
            right: x + half,
            bottom: y + half,
        }
    }

    /// From left to right.
    pub fn width(&self) -> f64 {
        self.right - self.left
    }

    /// From top to bottom.
    pub fn height(&self) -> f64 {
        self.bottom - self.top
    }

    /// Least and largest coordinate along x (0) or y (1).
    pub fn extent(&self, axis: usize) -> (f64, f64) {
        if axis == 0 {
            (self.left, self.right)
        } else {
            (self.top, self.bottom)
        }
    }

    /// Whether the point lies in it, by a hair outside included.
    pub fn contains(&self, point: Point) -> bool {
        const HAIR: f64 = 1e-6;
        (self.left - HAIR..=self.right + HAIR).contains(&point[0])
            && (self.top - HAIR..=self.bottom + HAIR).contains(&point[1])
    }
}

/// On which side of its place a text stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// At its left end.
    Start,
    /// In its middle.
    Middle,
    /// At its right end.
    End,
}

/// One line of text.
pub struct Text<'a> {
    /// What role it has: the class of the element.
    pub class: &'a str,
    /// What is written.
    pub text: &'a str,
    /// Where the baseline starts, is centred or ends.
    pub at: Point,
    /// What of the text lies there.
    pub anchor: Anchor,
    /// Size of the font.
    pub size: f64,
    /// Its colour.
    pub colour: Colour,
    /// Reads upwards.
    pub upright: bool,
    /// A white rim that keeps it readable on top of lines.
    pub halo: bool,
    /// Thicker strokes; not together with a halo.
    pub heavy: bool,
}

impl<'a> Text<'a> {
    /// Plain dark text at a baseline.
    pub fn new(class: &'a str, text: &'a str, at: Point, anchor: Anchor, size: f64) -> Self {
        Self {
            class,
            text,
            at,
            anchor,
            size,
            colour: colour::INK,
            upright: false,
            halo: false,
            heavy: false,
        }
    }
}

/// The document being drawn.
pub struct Canvas {
    width: f64,
    height: f64,
    body: String,
}

impl Canvas {
    /// An empty document of this size.
    pub fn new(width: f64, height: f64) -> Self {
        Self {
            width,
            height,
            body: String::new(),
        }
    }

    /// Draws shapes inside one element that carries a class and further attributes; nothing without shapes.
    pub fn group(&mut self, class: &str, attributes: &[(&str, &str)], draw: impl FnOnce(&mut Pen)) {
        let mut pen = Pen::default();
        draw(&mut pen);
        if pen.shapes.is_empty() {
            return;
        }
        let _ = write!(self.body, "<g class=\"{}\"", escaped(class));
        for (name, value) in attributes {
            let _ = write!(self.body, " {name}=\"{}\"", escaped(value));
        }
        let _ = writeln!(self.body, ">\n{}</g>", pen.shapes);
    }

    /// Writes one line of text.
    pub fn text(&mut self, text: &Text) {
        let (x, y) = (fine(text.at[0]), fine(text.at[1]));
        let colour = text.colour.to_string().to_lowercase();
        let anchor = match text.anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let _ = write!(
            self.body,
            "<text class=\"{}\" x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\" font-size=\"{}\" \
             fill=\"{colour}\"",
            escaped(text.class),
            fine(text.size),
        );
        if text.upright {
            let _ = write!(self.body, " transform=\"rotate(-90 {x} {y})\"");
        }
        if text.halo {
            let _ = write!(
                self.body,
                " stroke=\"#ffffff\" stroke-width=\"{}\" stroke-linejoin=\"round\" \
                 paint-order=\"stroke\"",
                fine(3.5)
            );
        } else if text.heavy {
            // The embedded font has one weight; a rim in its own colour makes the second.
            let _ = write!(
                self.body,
                " stroke=\"{colour}\" stroke-width=\"{}\" stroke-linejoin=\"round\"",
                fine(0.45)
            );
        }
        let _ = writeln!(self.body, ">{}</text>", escaped(text.text));
    }

    /// Places a PNG picture.
    pub fn picture(&mut self, class: &str, frame: Rect, png: &[u8]) {
        let _ = writeln!(
            self.body,
            "<image class=\"{}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" \
             preserveAspectRatio=\"none\" href=\"data:image/png;base64,{}\"/>",
            escaped(class),
            fine(frame.left),
            fine(frame.top),
            fine(frame.width()),
            fine(frame.height()),
            STANDARD.encode(png)
        );
    }

    /// The finished document. The description is what a screen reader says after the title.
    pub fn finish(self, title: &str, description: &str) -> String {
        let (width, height) = (self.width.ceil(), self.height.ceil());
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {} {}\" role=\"img\" font-family=\"{}, sans-serif\">\n\
             <title>{}</title>\n<desc>{}</desc>\n\
             <style>{}</style>\n\
             <rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n{}</svg>\n",
            fine(width),
            fine(height),
            font::FAMILY,
            escaped(title),
            escaped(description),
            font::font_face(),
            self.body
        )
    }
}

/// Draws shapes of one group.
#[derive(Default)]
pub struct Pen {
    shapes: String,
}

impl Pen {
    /// Joined points.
    pub fn line(&mut self, points: &[Point], colour: Colour, width: f64) {
        let (width, points) = (fine(width), listed(points));
        self.add(format_args!(
            "polyline fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\" points=\"{points}\""
        ));
    }

    /// A filled area.
    pub fn area(&mut self, corners: &[Point], colour: Colour, opacity: f64) {
        if corners.len() >= 3 {
            let (opacity, points) = (attribute(opacity), listed(corners));
            self.add(format_args!(
                "polygon{opacity} fill=\"{colour}\" points=\"{points}\""
            ));
        }
    }

    /// A filled rectangle.
    pub fn fill(&mut self, frame: Rect, colour: Colour, opacity: f64) {
        let [x, right] = ordered(frame.left, frame.right);
        let [y, bottom] = ordered(frame.top, frame.bottom);
        let (width, height, opacity) = (right - x, bottom - y, attribute(opacity));
        self.add(format_args!(
            "rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\"{opacity} fill=\"{colour}\" stroke=\"none\""
        ));
    }

    /// The outline of a rectangle.
    pub fn frame(&mut self, frame: Rect, colour: Colour, width: f64) {
        let Rect {
            left,
            top,
            right,
            bottom,
        } = frame;
        let corners = [
            [left, top],
            [right, top],
            [right, bottom],
            [left, bottom],
            [left, top],
        ];
        self.line(&corners, colour, width);
    }

    /// A filled circle.
    pub fn disc(&mut self, centre: Point, radius: f64, colour: Colour) {
        let ([x, y], radius) = (centre.map(fine), fine(radius));
        self.add(format_args!(
            "circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" fill=\"{colour}\""
        ));
    }

    /// A ring, open in the middle.
    pub fn ring(&mut self, centre: Point, radius: f64, colour: Colour, width: f64) {
        let ([x, y], radius, width) = (centre.map(fine), fine(radius), fine(width));
        self.add(format_args!(
            "circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\""
        ));
    }

    fn add(&mut self, element: fmt::Arguments) {
        let _ = writeln!(self.shapes, "<{element}/>");
    }
}

/// The attribute of an opacity; none for what is opaque.
fn attribute(opacity: f64) -> String {
    match opacity {
        1.0 => String::new(),
        _ => format!(" opacity=\"{opacity}\""),
    }
}

/// Points as an element lists them.
fn listed(points: &[Point]) -> String {
    points.iter().fold(String::new(), |mut list, point| {
        let [x, y] = point.map(fine);
        let _ = write!(list, "{x},{y} ");
        list
    })
}

fn ordered(a: f64, b: f64) -> [i32; 2] {
    let (a, b) = (fine(a), fine(b));
    [a.min(b), a.max(b)]
}

fn fine(units: f64) -> i32 {
    (units * FINENESS).round() as i32
}

/// Text that XML takes as text: markup escaped, control characters (which XML forbids) as spaces.
pub fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}
