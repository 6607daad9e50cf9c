//! The charts of a study: the rows of its store in, charts out. No files, no solving.
//!
//! Which charts a study gets depends on its variables and on what it reports:
//!
//! | study | charts |
//! |---|---|
//! | one number varies | a line chart per quantity; words are lines, or panels when there are many |
//! | two numbers vary | a heat map per quantity with the limits as contours; lines when one has at most 8 values |
//! | a third variable | small multiples; one picture per combination of any others |
//! | side by side | lines along the first number |
//! | samples | every quantity against every number as points |
//! | touch and neighbour are both reported | the trade-off front with limits |
//!
//! Line charts carry error bands, limits with their origin, marks where a line meets a limit
//! ([`crossing`]) and the parallel-plate estimate, dashed. Axes are logarithmic when the range is, or
//! when positive values span more than a factor 30. Failed points and those not computed yet are gaps.
//!
//! ```no_run
//! use padfield::chart::Chart;
//! use padfield::figures::Sheet;
//! use padfield::store::{Reader, StoreError};
//!
//! let reader = Reader::open("results/panel/spacing".as_ref())?;
//! let studies = reader.studies()?;
//! let record = studies.last().expect("a study");
//! let mut sheet = Sheet::new(record);
//! reader.visit_rows::<StoreError>(record, |row| Ok(sheet.add(&row)))?;
//! for figure in sheet.figures().figures {
//!     println!("{}: {} bytes", figure.name, figure.picture.svg()?.len());
//! }
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod caption;
pub mod crossing;
mod designs;
mod lines;
mod maps;
mod names;
mod sheet;

pub use sheet::Sheet;

pub(crate) use names::{capital, file_name, of_path};

use crate::study::{Combine, Quantity};
use padfield_chart::{
    BarChart, Chart, ChartError, HeatMap, Histogram, LineChart, RangeChart, Scatter, Stacked,
    TradeOff,
};

/// A chart of any kind.
#[derive(Clone, Debug, PartialEq)]
pub enum Picture {
    Line(LineChart),
    Map(HeatMap),
    /// Points.
    Scatter(Scatter),
    /// Points with their front.
    TradeOff(TradeOff),
    /// Charts one below the other.
    Stacked(Stacked),
    Bars(BarChart),
    /// Ranges of events in groups.
    Ranges(RangeChart),
    /// How often values occur.
    Histogram(Histogram),
}

/// What stands on a chart beside what it shows: that its panel is not the one of the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remark {
    /// Added to the title in brackets.
    pub title: String,
    /// Added to the caption.
    pub caption: String,
}

impl Picture {
    /// The same picture with a remark in its title and its caption.
    pub fn remarked(&self, remark: &Remark) -> Self {
        let mut picture = self.clone();
        let (title, caption) = match &mut picture {
            Self::Line(chart) => (&mut chart.title, &mut chart.assumption),
            Self::Map(chart) => (&mut chart.title, &mut chart.assumption),
            Self::Scatter(chart) => (&mut chart.title, &mut chart.assumption),
            Self::TradeOff(chart) => (&mut chart.scatter.title, &mut chart.scatter.assumption),
            Self::Bars(chart) => (&mut chart.title, &mut chart.assumption),
            Self::Ranges(chart) => (&mut chart.title, &mut chart.assumption),
            Self::Histogram(chart) => (&mut chart.title, &mut chart.assumption),
            Self::Stacked(charts) => {
                let title = format!("{} [{}]", charts.title(), remark.title);
                return Self::Stacked(charts.headed(&title, &remark.caption));
            }
        };
        *title = format!("{title} [{}]", remark.title);
        *caption = format!("{} {caption}", remark.caption)
            .trim_end()
            .to_owned();
        picture
    }

    /// What the chart answers.
    pub fn title(&self) -> &str {
        match self {
            Self::Line(chart) => &chart.title,
            Self::Map(chart) => &chart.title,
            Self::Scatter(chart) => &chart.title,
            Self::TradeOff(chart) => &chart.scatter.title,
            Self::Stacked(charts) => charts.title(),
            Self::Bars(chart) => &chart.title,
            Self::Ranges(chart) => &chart.title,
            Self::Histogram(chart) => &chart.title,
        }
    }

    fn chart(&self) -> &dyn Chart {
        match self {
            Self::Line(chart) => chart,
            Self::Map(chart) => chart,
            Self::Scatter(chart) => chart,
            Self::TradeOff(chart) => chart,
            Self::Stacked(charts) => charts,
            Self::Bars(chart) => chart,
            Self::Ranges(chart) => chart,
            Self::Histogram(chart) => chart,
        }
    }
}

impl Chart for Picture {
    fn svg(&self) -> Result<String, ChartError> {
        self.chart().svg()
    }
}

/// A chart of a study.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// File name without its ending, such as `touch-shift-map`; unique within the study.
    pub name: String,
    pub picture: Picture,
    /// Where its lines meet their limits, in words.
    pub notes: Vec<String>,
}

/// The charts of a study.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figures {
    /// Those that can be drawn.
    pub figures: Vec<Figure>,
    /// What is not shown, and why.
    pub left_out: Vec<String>,
}

impl Figures {
    /// Tells when a quantity has more pictures than are drawn.
    fn tell_pages(&mut self, quantity: &Quantity, pages: usize) {
        if pages > sheet::MOST_PAGES {
            self.left_out.push(format!(
                "{quantity}: the first {} of {pages} pictures, one for each combination of the \
                 variables beyond the third",
                sheet::MOST_PAGES
            ));
        }
    }

    /// Appends numbers to names that occur twice.
    fn name_apart(&mut self) {
        for at in 1..self.figures.len() {
            let name = self.figures[at].name.clone();
            let taken = |name: &str, all: &[Figure]| all.iter().any(|f| f.name == name);
            let mut number = 2;
            while taken(&self.figures[at].name, &self.figures[..at]) {
                self.figures[at].name = format!("{name}-{number}");
                number += 1;
            }
        }
    }
}

impl Sheet<'_> {
    /// Chooses the charts for the rows added so far.
    pub fn figures(&self) -> Figures {
        let mut figures = Figures::default();
        if self.entries.is_empty() {
            figures.left_out.push("no point is recorded yet".to_owned());
            return figures;
        }
        let report = 0..self.study().report.len();
        let is_sample = matches!(self.study().combine, Combine::Sample { .. });
        match self.grid() {
            Some(grid) => {
                let (lines, maps) = (grid.line_parts(), grid.map_parts());
                for number in report {
                    if let Some(parts) = &lines {
                        lines::draw(self, &grid, parts, number, &mut figures);
                    }
                    if let Some(parts) = &maps {
                        maps::draw(self, &grid, parts, number, &mut figures);
                    }
                }
                if lines.is_none() && maps.is_none() {
                    figures.left_out.push(
                        "lines and maps: only words vary, and there is no axis for words"
                            .to_owned(),
                    );
                }
            }
            None => designs::against_variables(self, &mut figures),
        }
        designs::trade_offs(self, &mut figures);
        if is_sample {
            designs::against_each_other(self, &mut figures);
        }
        figures.name_apart();
        figures
    }
}
