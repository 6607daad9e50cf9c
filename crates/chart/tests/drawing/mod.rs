//! Reads a chart back from its SVG: texts by class, shapes by class, and the axes from the numbers
//! beside their ticks, independently of the code that drew them.

use roxmltree::{Document, Node};

/// Drawing units per chart unit.
pub const FINE: f64 = 10.0;

/// One text of a chart.
#[derive(Debug)]
pub struct Label {
    pub text: String,
    pub x: f64,
    pub y: f64,
}

/// A shape as its points, in drawing units; a circle has one, its centre.
pub type Shape = Vec<[f64; 2]>;

/// A chart read back.
pub struct Drawing<'a> {
    document: Document<'a>,
}

fn number(node: &Node, name: &str) -> f64 {
    node.attribute(name)
        .and_then(|text| text.parse().ok())
        .unwrap_or_else(|| panic!("{name} of {:?}", node.tag_name()))
}

fn shape(node: &Node) -> Option<Shape> {
    match node.tag_name().name() {
        "circle" => Some(vec![[number(node, "cx"), number(node, "cy")]]),
        "line" => Some(vec![
            [number(node, "x1"), number(node, "y1")],
            [number(node, "x2"), number(node, "y2")],
        ]),
        "rect" => {
            let (x, y) = (number(node, "x"), number(node, "y"));
            Some(vec![
                [x, y],
                [x + number(node, "width"), y + number(node, "height")],
            ])
        }
        "polyline" | "polygon" => Some(
            node.attribute("points")?
                .split_whitespace()
                .map(|pair| {
                    let (x, y) = pair.split_once(',').expect("x,y");
                    [x.parse().expect("x"), y.parse().expect("y")]
                })
                .collect(),
        ),
        _ => None,
    }
}

impl<'a> Drawing<'a> {
    pub fn of(svg: &'a str) -> Self {
        Self {
            document: Document::parse(svg).expect("well-formed SVG"),
        }
    }

    pub fn element(&self, tag: &str) -> String {
        self.document
            .descendants()
            .find(|node| node.has_tag_name(tag))
            .and_then(|node| node.text())
            .unwrap_or_default()
            .to_owned()
    }

    pub fn texts(&self, class: &str) -> Vec<Label> {
        self.document
            .descendants()
            .filter(|node| {
                node.tag_name().name() == "text" && node.attribute("class") == Some(class)
            })
            .map(|node| Label {
                text: node.text().unwrap_or_default().to_owned(),
                x: number(&node, "x"),
                y: number(&node, "y"),
            })
            .collect()
    }

    pub fn words(&self, class: &str) -> Vec<String> {
        self.texts(class).into_iter().map(|l| l.text).collect()
    }

    /// Shapes in the groups of a class, of all names or of one, group by group.
    pub fn groups(&self, class: &str, name: Option<&str>) -> Vec<Vec<Shape>> {
        self.document
            .descendants()
            .filter(|node| {
                node.tag_name().name() == "g"
                    && node.attribute("class") == Some(class)
                    && name.is_none_or(|name| node.attribute("data-name") == Some(name))
            })
            .map(|group| group.children().filter_map(|node| shape(&node)).collect())
            .collect()
    }

    pub fn shapes(&self, class: &str, name: Option<&str>) -> Vec<Shape> {
        self.groups(class, name).concat()
    }

    pub fn attribute(&self, class: &str, name: &str) -> Vec<Option<String>> {
        self.document
            .descendants()
            .filter(|node| node.attribute("class") == Some(class))
            .map(|node| node.attribute(name).map(str::to_owned))
            .collect()
    }

    /// Left, top, right and bottom of the first plot.
    pub fn frame(&self) -> [f64; 4] {
        let frame = &self.groups("frame", None)[0][0];
        let along = |axis: usize| frame.iter().map(move |p| p[axis]);
        [
            along(0).fold(f64::MAX, f64::min),
            along(1).fold(f64::MAX, f64::min),
            along(0).fold(f64::MIN, f64::max),
            along(1).fold(f64::MIN, f64::max),
        ]
    }

    /// The level axis of the first plot, from its grid lines and the numbers below them.
    pub fn x_axis(&self, logarithmic: bool) -> Ruler {
        let mut lines: Vec<f64> = self.groups("grid", None)[0]
            .iter()
            .filter(|line| line[0][0] == line[1][0])
            .map(|line| line[0][0])
            .collect();
        lines.sort_by(f64::total_cmp);
        Ruler::new(&lines, &values(&self.texts("x-tick")), logarithmic)
    }

    /// The upright axis of the first plot, from its grid lines and the numbers beside them.
    pub fn y_axis(&self, logarithmic: bool) -> Ruler {
        let mut lines: Vec<f64> = self.groups("grid", None)[0]
            .iter()
            .filter(|line| line[0][1] == line[1][1])
            .map(|line| line[0][1])
            .collect();
        lines.sort_by(|a, b| b.total_cmp(a));
        Ruler::new(&lines, &values(&self.texts("y-tick")), logarithmic)
    }
}

/// The printed numbers, smallest first.
fn values(labels: &[Label]) -> Vec<f64> {
    let mut values: Vec<f64> = labels
        .iter()
        .map(|label| {
            label
                .text
                .replace('−', "-")
                .replace('\u{202f}', "")
                .parse()
                .unwrap_or_else(|_| panic!("{:?} is no number", label.text))
        })
        .collect();
    values.sort_by(f64::total_cmp);
    values
}

/// An axis recovered from two of its ticks.
#[derive(Debug)]
pub struct Ruler {
    from: (f64, f64),
    to: (f64, f64),
    logarithmic: bool,
}

impl Ruler {
    fn new(places: &[f64], values: &[f64], logarithmic: bool) -> Self {
        assert_eq!(places.len(), values.len(), "{places:?} {values:?}");
        assert!(places.len() >= 2, "an axis with one number: {values:?}");
        let last = places.len() - 1;
        let ruler = Self {
            from: (places[0], values[0]),
            to: (places[last], values[last]),
            logarithmic,
        };
        for (place, value) in places.iter().zip(values) {
            let expected = ruler.place(*value);
            assert!((expected - place).abs() < 2.0, "tick {value} of {values:?}");
        }
        ruler
    }

    fn stretched(&self, value: f64) -> f64 {
        if self.logarithmic { value.ln() } else { value }
    }

    /// Where a value lies, in drawing units.
    pub fn place(&self, value: f64) -> f64 {
        let [low, high, at] = [self.from.1, self.to.1, value].map(|v| self.stretched(v));
        self.from.0 + (at - low) / (high - low) * (self.to.0 - self.from.0)
    }

    /// The value at a place in drawing units.
    pub fn value(&self, place: f64) -> f64 {
        let [low, high] = [self.from.1, self.to.1].map(|v| self.stretched(v));
        let at = low + (place - self.from.0) / (self.to.0 - self.from.0) * (high - low);
        if self.logarithmic { at.exp() } else { at }
    }
}

/// Middle of a shape's corners.
pub fn centre(shape: &Shape) -> [f64; 2] {
    let count = shape.len() as f64;
    [0, 1].map(|axis| shape.iter().map(|p| p[axis]).sum::<f64>() / count)
}
