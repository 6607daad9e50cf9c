//! The rows of a study by their place in the plan's grid, and which variable plays which part.

use crate::store::{Outcome, Row, StudyRecord};
use crate::study::{Combine, Coordinate, Quantity, Reported, Study, Variable};
use padfield_chart::Reading;
use std::collections::HashMap;

/// Most lines in one plot.
pub(super) const MOST_SERIES: usize = 8;
/// Most plots in one picture.
pub(super) const MOST_PANELS: usize = 9;
/// Most pictures of one quantity.
pub(super) const MOST_PAGES: usize = 12;

/// What charts need of a row.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    pub coordinates: Vec<Coordinate>,
    /// Per reported quantity; none for a failed point.
    pub values: Vec<Option<Reported>>,
    /// Per reported quantity, the parallel-plate estimate \[pF\].
    pub plates: Vec<Option<f64>>,
}

/// A variable with the values that occur.
#[derive(Clone, Debug)]
pub(super) struct Dimension {
    /// Its number in the study.
    pub variable: usize,
    /// Numbers in increasing order, words in the order of the study.
    pub values: Vec<Coordinate>,
}

/// Chosen values: dimension by variable number, place of its value.
pub(super) type Choice = Vec<(usize, usize)>;

/// The rows of a study, collected one by one.
#[derive(Clone, Debug)]
pub struct Sheet<'a> {
    pub(super) record: &'a StudyRecord,
    pub(super) entries: Vec<Entry>,
    pub(super) failed: u64,
    pub(super) short_of_accuracy: u64,
    pub(super) most_pads: usize,
}

/// Entries found by place.
pub(super) struct Grid<'s> {
    sheet: &'s Sheet<'s>,
    /// Variables that span the grid.
    pub dimensions: Vec<Dimension>,
    /// Variables that change along with the first dimension.
    pub along: Vec<usize>,
    by_place: HashMap<Vec<usize>, usize>,
}

/// Which dimensions (numbers into [`Grid::dimensions`]) play which part in a chart.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Parts {
    pub x: usize,
    /// Upright axis of a map.
    pub y: Option<usize>,
    pub series: Vec<usize>,
    pub panels: Option<usize>,
    /// One picture for each combination of these.
    pub pages: Vec<usize>,
}

impl<'a> Sheet<'a> {
    /// An empty sheet of a study.
    pub fn new(record: &'a StudyRecord) -> Self {
        Self {
            record,
            entries: Vec::new(),
            failed: 0,
            short_of_accuracy: 0,
            most_pads: 0,
        }
    }

    /// Adds a row of the study.
    pub fn add(&mut self, row: &Row) {
        let report = &self.record.study.report;
        let (mut values, mut plates) = (vec![None; report.len()], vec![None; report.len()]);
        match &row.outcome {
            Outcome::Failed { .. } => self.failed += 1,
            Outcome::Done {
                values: point,
                accuracy_reached,
                ..
            } => {
                self.short_of_accuracy += u64::from(!accuracy_reached);
                self.most_pads = self.most_pads.max(point.pads.len());
                values = report.iter().map(|quantity| point.of(quantity)).collect();
                plates = report
                    .iter()
                    .map(|quantity| super::lines::plate_estimate(point, quantity))
                    .collect();
            }
        }
        self.entries.push(Entry {
            coordinates: row.coordinates.clone(),
            values,
            plates,
        });
    }

    pub(super) fn study(&self) -> &'a Study {
        &self.record.study
    }

    pub(super) fn variable(&self, number: usize) -> &'a Variable {
        &self.study().variables[number]
    }

    fn dimension(&self, variable: usize) -> Dimension {
        let mut values: Vec<Coordinate> = Vec::new();
        let mut seen = std::collections::HashSet::new();
        for entry in &self.entries {
            let coordinate = &entry.coordinates[variable];
            if seen.insert(coordinate.to_string()) {
                values.push(coordinate.clone());
            }
        }
        let definition = self.variable(variable);
        let order = |coordinate: &Coordinate| match &definition.values {
            crate::study::Values::Words(words) => words
                .iter()
                .position(|word| *word == coordinate.to_string())
                .map_or(f64::INFINITY, |place| place as f64),
            _ => coordinate.number().unwrap_or(f64::INFINITY),
        };
        values.sort_by(|a, b| order(a).total_cmp(&order(b)));
        Dimension { variable, values }
    }

    /// The grid of a study that is no sample; none when its points make no lines.
    pub(super) fn grid(&self) -> Option<Grid<'_>> {
        let study = self.study();
        let all = || (0..study.variables.len()).map(|variable| self.dimension(variable));
        let is_numeric = |d: &Dimension| self.variable(d.variable).is_numeric();
        match study.combine {
            Combine::Sample { .. } => None,
            Combine::All => {
                let mut dimensions: Vec<Dimension> = all().filter(|d| d.values.len() > 1).collect();
                if dimensions.is_empty() {
                    dimensions = all().filter(is_numeric).take(1).collect();
                }
                Some(self.placed(dimensions, Vec::new()))
            }
            Combine::SideBySide => {
                let x = all().filter(is_numeric).reduce(|most, d| {
                    if d.values.len() > most.values.len() {
                        d
                    } else {
                        most
                    }
                })?;
                let words = all().filter(|d| !is_numeric(d) && d.values.len() > 1);
                let mut dimensions = vec![x];
                dimensions.extend(words);
                let words_repeat = dimensions[1..]
                    .iter()
                    .all(|d| 2 * d.values.len() <= self.entries.len());
                if dimensions[0].values.len() == self.entries.len() && !words_repeat {
                    dimensions.truncate(1);
                }
                let spanned: Vec<usize> = dimensions.iter().map(|d| d.variable).collect();
                let along = (0..study.variables.len()).filter(|v| !spanned.contains(v));
                let grid = self.placed(dimensions, along.collect());
                (grid.by_place.len() == self.entries.len()).then_some(grid)
            }
        }
    }

    fn placed(&self, dimensions: Vec<Dimension>, along: Vec<usize>) -> Grid<'_> {
        let places: Vec<HashMap<String, usize>> = dimensions
            .iter()
            .map(|d| {
                let texts = d.values.iter().map(ToString::to_string);
                texts
                    .enumerate()
                    .map(|(place, text)| (text, place))
                    .collect()
            })
            .collect();
        let mut by_place = HashMap::new();
        for (number, entry) in self.entries.iter().enumerate() {
            let key: Vec<usize> = dimensions
                .iter()
                .zip(&places)
                .map(|(d, places)| places[&entry.coordinates[d.variable].to_string()])
                .collect();
            // The same value written twice gives the same numbers.
            by_place.entry(key).or_insert(number);
        }
        Grid {
            sheet: self,
            dimensions,
            along,
            by_place,
        }
    }
}

impl Grid<'_> {
    fn is_numeric(&self, dimension: usize) -> bool {
        let variable = self.dimensions[dimension].variable;
        self.sheet.variable(variable).is_numeric()
    }

    fn len(&self, dimension: usize) -> usize {
        self.dimensions[dimension].values.len()
    }

    /// Numeric dimensions, most values first.
    fn numeric(&self) -> Vec<usize> {
        let all = 0..self.dimensions.len();
        let mut numeric: Vec<usize> = all.filter(|d| self.is_numeric(*d)).collect();
        numeric.sort_by_key(|d| std::cmp::Reverse(self.len(*d)));
        numeric
    }

    /// The first of the rest that fits becomes the panels, the others pages.
    fn panels(&self, mut rest: Vec<usize>) -> (Option<usize>, Vec<usize>) {
        let fits = |d: &usize| self.len(*d) <= MOST_PANELS;
        let panels = rest.iter().position(fits).map(|at| rest.remove(at));
        (panels, rest)
    }

    /// Parts for a line chart; none without a number to go along the level axis, or when the second
    /// number has too many values for lines.
    pub fn line_parts(&self) -> Option<Parts> {
        let numeric = self.numeric();
        let (&x, others) = numeric.split_first()?;
        let mut rest: Vec<usize> = (0..self.dimensions.len()).filter(|d| *d != x).collect();
        let product = self.count(&rest);
        let series = match others.first() {
            Some(&second) if self.len(second) > MOST_SERIES => return None,
            Some(&second) => vec![second],
            None if product <= MOST_SERIES => rest.clone(),
            None => {
                let fits = |d: &usize| self.len(*d) <= MOST_SERIES;
                rest.iter().copied().find(fits).into_iter().collect()
            }
        };
        rest.retain(|d| !series.contains(d));
        let (panels, pages) = self.panels(rest);
        Some(Parts {
            x,
            y: None,
            series,
            panels,
            pages,
        })
    }

    /// Parts for a map; none with fewer than two numbers.
    pub fn map_parts(&self) -> Option<Parts> {
        let numeric = self.numeric();
        let &[x, y, ..] = numeric.as_slice() else {
            return None;
        };
        let rest = (0..self.dimensions.len()).filter(|d| *d != x && *d != y);
        let (panels, pages) = self.panels(rest.collect());
        Some(Parts {
            x,
            y: Some(y),
            series: Vec::new(),
            panels,
            pages,
        })
    }

    /// How many combinations the values of some dimensions have.
    pub fn count(&self, dimensions: &[usize]) -> usize {
        dimensions.iter().map(|d| self.len(*d)).product()
    }

    /// The first combinations of the values of the dimensions that make pages.
    pub fn pages(&self, parts: &Parts) -> Vec<Choice> {
        self.combinations(&parts.pages, MOST_PAGES)
    }

    /// All combinations of the values of some dimensions; one empty choice for none.
    pub fn choices(&self, dimensions: &[usize]) -> Vec<Choice> {
        self.combinations(dimensions, usize::MAX)
    }

    fn combinations(&self, dimensions: &[usize], most: usize) -> Vec<Choice> {
        let mut choices: Vec<Choice> = vec![Vec::new()];
        for &dimension in dimensions {
            choices = choices
                .iter()
                .flat_map(|choice| {
                    (0..self.len(dimension)).map(move |place| {
                        let mut longer = choice.clone();
                        longer.push((dimension, place));
                        longer
                    })
                })
                .take(most)
                .collect();
        }
        choices
    }

    /// The values of a choice in words: "overlay thickness 2 mm, acrylic".
    pub fn words(&self, choice: &Choice) -> String {
        let word = |&(dimension, place): &(usize, usize)| {
            let Dimension { variable, values } = &self.dimensions[dimension];
            super::names::of_value(self.sheet.variable(*variable), &values[place])
        };
        choice.iter().map(word).collect::<Vec<_>>().join(", ")
    }

    /// The values of a choice without the names of their variables, for places with little room.
    pub fn short_words(&self, choice: &Choice) -> String {
        let word = |&(dimension, place): &(usize, usize)| {
            let Dimension { variable, values } = &self.dimensions[dimension];
            self.sheet.variable(*variable).text(&values[place])
        };
        choice.iter().map(word).collect::<Vec<_>>().join(", ")
    }

    pub fn numbers(&self, dimension: usize) -> Vec<f64> {
        let values = self.dimensions[dimension].values.iter();
        values.map(|c| c.number().unwrap_or(f64::NAN)).collect()
    }

    /// The entry at a full choice.
    pub fn entry(&self, choice: &[(usize, usize)]) -> Option<&Entry> {
        let mut place = vec![0; self.dimensions.len()];
        for &(dimension, at) in choice {
            place[dimension] = at;
        }
        let number = self.by_place.get(&place)?;
        Some(&self.sheet.entries[*number])
    }

    /// A quantity along a dimension, the others chosen; absent and failed points are not finite.
    pub fn line(
        &self,
        x: usize,
        choice: &Choice,
        reported: impl Fn(&Entry) -> Option<(f64, f64)>,
    ) -> Vec<Reading> {
        let numbers = self.numbers(x).into_iter().enumerate();
        numbers
            .map(|(place, x_value)| {
                let mut full = choice.clone();
                full.push((x, place));
                let found = self.entry(&full).and_then(&reported);
                let (value, error) = found.unwrap_or((f64::NAN, 0.0));
                Reading {
                    x: x_value,
                    value,
                    error,
                }
            })
            .collect()
    }
}

/// The quantity's value and error in an entry; `quantity` is its number in the report.
pub(super) fn value_of(quantity: usize) -> impl Fn(&Entry) -> Option<(f64, f64)> {
    move |entry| entry.values[quantity].map(|r| (r.value, r.error))
}

/// The number of a quantity in the report.
pub(super) fn number_of(study: &Study, quantity: &Quantity) -> Option<usize> {
    study.report.iter().position(|q| q == quantity)
}
