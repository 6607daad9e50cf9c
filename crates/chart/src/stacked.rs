//! Charts one below the other in one picture.

use crate::error::ChartError;
use crate::raster::Chart;

/// Charts one below the other: the same thing seen twice, each with axes and limits of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Stacked {
    title: String,
    svg: String,
}

impl Stacked {
    /// Puts charts below one another.
    ///
    /// # Errors
    /// No chart, one that has no picture or one that does not say how large it is.
    pub fn new(title: &str, charts: &[impl Chart]) -> Result<Self, ChartError> {
        let no_size = || ChartError::drawing("a chart does not say how large it is");
        if charts.is_empty() {
            return Err(ChartError::drawing("there is nothing to stack"));
        }
        let (mut width, mut height, mut body) = (0.0_f64, 0.0, String::new());
        for chart in charts {
            let chart = chart.svg()?;
            let of = |name: &str| attribute(&chart, name).ok_or_else(no_size);
            let (own_width, own_height) = (of("width")?, of("height")?);
            let inner = chart.strip_prefix("<svg ").ok_or_else(no_size)?;
            body += &format!("<svg x=\"0\" y=\"{height}\" {inner}");
            width = width.max(own_width);
            height += own_height;
        }
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" role=\"img\">\n<title>{}</title>\n{body}</svg>\n",
            crate::canvas::escaped(title)
        );
        Ok(Self {
            title: title.to_owned(),
            svg,
        })
    }

    /// The same charts under a heading of a title and a line below it.
    pub fn headed(&self, title: &str, line: &str) -> Self {
        let lines = wrapped(line);
        let strip = HEAD_STEP * (lines.len() as f64 + 1.5);
        let of = |name: &str| attribute(&self.svg, name).unwrap_or_default();
        let (width, height) = (of("width"), of("height"));
        let inner = self.svg.strip_prefix("<svg ").unwrap_or_default();
        let mut head = format!(
            "<rect width=\"{width}\" height=\"{strip}\" fill=\"#ffffff\"/>\n<text x=\"20\" y=\"{HEAD_STEP}\" \
             font-size=\"15\" font-weight=\"600\">{}</text>\n",
            crate::canvas::escaped(title)
        );
        for (number, text) in lines.iter().enumerate() {
            head += &format!(
                "<text x=\"20\" y=\"{}\" font-size=\"12\">{}</text>\n",
                HEAD_STEP * (number as f64 + 2.0),
                crate::canvas::escaped(text)
            );
        }
        let height = height + strip;
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
             viewBox=\"0 0 {width} {height}\" role=\"img\" font-family=\"{}, sans-serif\">\n\
             <title>{}</title>\n{head}<svg x=\"0\" y=\"{strip}\" {inner}</svg>\n",
            crate::font::FAMILY,
            crate::canvas::escaped(title)
        );
        Self {
            title: title.to_owned(),
            svg,
        }
    }

    /// What the charts answer together.
    pub fn title(&self) -> &str {
        &self.title
    }
}

impl Chart for Stacked {
    fn svg(&self) -> Result<String, ChartError> {
        Ok(self.svg.clone())
    }
}

/// Distance of the lines of a heading.
const HEAD_STEP: f64 = 20.0;
/// Characters that fit into a line of a heading.
const HEAD_CHARACTERS: usize = 115;

/// Words in lines that fit.
fn wrapped(text: &str) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let last = lines.last_mut().expect("there is a line");
        let is_full = last.chars().count() + word.chars().count() >= HEAD_CHARACTERS;
        if is_full && !last.is_empty() {
            lines.push(word.to_owned());
        } else {
            if !last.is_empty() {
                last.push(' ');
            }
            last.push_str(word);
        }
    }
    lines
}

/// A number among the attributes of the outermost element.
fn attribute(svg: &str, name: &str) -> Option<f64> {
    let head = svg.split_once('>')?.0;
    let after = head.split_once(&format!(" {name}=\""))?.1;
    after.split_once('"')?.0.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A document as it stands.
    struct Made(String);

    impl Chart for Made {
        fn svg(&self) -> Result<String, ChartError> {
            Ok(self.0.clone())
        }
    }

    #[test]
    fn heights_add_and_the_widest_counts() {
        let chart = |width: u32, height: u32| {
            Made(format!(
                "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" \
                 viewBox=\"0 0 1 1\"><rect width=\"1\" height=\"1\"/></svg>\n"
            ))
        };
        let stacked =
            Stacked::new("a & b", &[chart(300, 100), chart(200, 50)]).expect("two charts");
        assert_eq!(attribute(&stacked.svg, "width"), Some(300.0));
        assert_eq!(attribute(&stacked.svg, "height"), Some(150.0));
        assert!(stacked.svg.contains("<title>a &amp; b</title>"));
        assert!(stacked.svg.contains("x=\"0\" y=\"100\""));
        let png = stacked.png(1.0).expect("a picture");
        // Width and height in the header of a PNG file.
        assert_eq!(png[16..24], [0, 0, 1, 44, 0, 0, 0, 150]);
        assert!(Stacked::new("none", &[] as &[Made]).is_err());
        assert!(Stacked::new("not one", &[Made("text".to_owned())]).is_err());
    }
}
