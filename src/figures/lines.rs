//! Line charts: a quantity along one number, one line per value of the others.

use super::caption::assumption;
use super::crossing::crossings;
use super::names::{file_name, in_title, limit_lines, quantity_axis, variable_axis};
use super::sheet::{Choice, Entry, Grid, Parts, Sheet, value_of};
use super::{Figure, Figures, Picture};
use crate::study::{PointValues, Quantity, QuantityKind};
use padfield_chart::{CrossingMark, LimitLine, LineChart, LinePanel, Reading, Series};

/// Most hand estimates in one plot.
const MOST_ESTIMATES: usize = 3;

/// The parallel-plate estimate of a quantity at a point, in pF.
pub(super) fn plate_estimate(values: &PointValues, quantity: &Quantity) -> Option<f64> {
    let names: &[&str] = match quantity.kind {
        QuantityKind::BaseCapacitance => &["pad to plane"],
        QuantityKind::TouchShift => &[
            "plates, contact area, with return path",
            "plates, contact area",
        ],
        _ => return None,
    };
    let of_base = quantity.kind == QuantityKind::BaseCapacitance;
    let estimates = &values.pad_of(quantity)?.hand_estimates;
    let named = |name: &&str| {
        let of_name = |e: &&crate::study::HandValue| e.of_base == of_base && e.name == *name;
        estimates.iter().find(of_name)
    };
    names
        .iter()
        .find_map(named)
        .map(|estimate| estimate.value_pf)
}

/// The line charts of one reported quantity (by its number in the report).
pub(super) fn draw(
    sheet: &Sheet<'_>,
    grid: &Grid<'_>,
    parts: &Parts,
    number: usize,
    into: &mut Figures,
) {
    let quantity = &sheet.study().report[number];
    let pages = grid.pages(parts);
    into.tell_pages(quantity, grid.count(&parts.pages));
    for (at, page) in pages.iter().enumerate() {
        let plot = Plots {
            sheet,
            grid,
            parts,
            number,
            limits: limit_lines(sheet.study(), quantity),
        };
        let mut name = file_name(&quantity.to_string());
        if pages.len() > 1 {
            name += &format!("-{}", at + 1);
        }
        match plot.page(page) {
            Some((picture, notes)) => into.figures.push(Figure {
                name,
                picture,
                notes,
            }),
            None => into.left_out.push(format!("{name}: no point has a number")),
        }
    }
}

struct Plots<'s> {
    sheet: &'s Sheet<'s>,
    grid: &'s Grid<'s>,
    parts: &'s Parts,
    number: usize,
    limits: Vec<LimitLine>,
}

impl Plots<'_> {
    fn quantity(&self) -> &Quantity {
        &self.sheet.study().report[self.number]
    }

    fn page(&self, page: &Choice) -> Option<(Picture, Vec<String>)> {
        let variable = self
            .sheet
            .variable(self.grid.dimensions[self.parts.x].variable);
        let panel_parts: Vec<usize> = self.parts.panels.into_iter().collect();
        let panel_choices = self.grid.choices(&panel_parts);
        let mut notes = Vec::new();
        let mut remark = String::new();
        let panels: Vec<LinePanel> = panel_choices
            .iter()
            .map(|choice| {
                let fixed = [page.as_slice(), choice].concat();
                let title = self.grid.words(choice);
                self.panel(&fixed, title, &variable.unit, &mut notes, &mut remark)
            })
            .collect();
        let readings = || {
            panels
                .iter()
                .flat_map(|p| &p.series)
                .flat_map(|s| &s.points)
        };
        let present: Vec<&Reading> = readings().filter(|r| r.value.is_finite()).collect();
        if present.is_empty() {
            return None;
        }
        let x = variable_axis(variable, &self.grid.numbers(self.parts.x));
        let values: Vec<f64> = present.iter().map(|reading| reading.value).collect();
        let y = quantity_axis(self.quantity(), &values);
        let several_pads = self.sheet.most_pads > 1;
        let mut title = format!(
            "{} against {}",
            in_title(self.quantity(), several_pads),
            x.label
        );
        if !page.is_empty() {
            title += &format!(" ({})", self.grid.words(page));
        }
        let along: Vec<String> = self
            .grid
            .along
            .iter()
            .map(|v| super::names::of_path(&self.sheet.variable(*v).path))
            .collect();
        if !along.is_empty() {
            remark = format!("{} changes along with it. {remark}", along.join(", "));
        }
        let assumption = assumption(self.sheet, remark.trim_end_matches(['.', ' ']));
        let limits = self.limits.clone();
        let mut panels = panels;
        if let [alone] = panels.as_mut_slice() {
            alone.title.clear();
        }
        let picture = Picture::Line(LineChart {
            title,
            x,
            y,
            panels,
            limits,
            assumption,
            ..LineChart::default()
        });
        Some((picture, notes))
    }

    fn panel(
        &self,
        fixed: &Choice,
        title: String,
        x_unit: &str,
        notes: &mut Vec<String>,
        remark: &mut String,
    ) -> LinePanel {
        let choices = self.grid.choices(&self.parts.series);
        let mut panel = LinePanel {
            title,
            ..LinePanel::default()
        };
        for choice in &choices {
            let full = [fixed.as_slice(), choice].concat();
            let name = self.grid.words(choice);
            let points = self.grid.line(self.parts.x, &full, value_of(self.number));
            if !points.iter().any(|reading| reading.value.is_finite()) {
                continue;
            }
            self.cross(&mut panel, choice, &points, x_unit, notes);
            panel.series.push(Series::computed(name, points));
        }
        let estimates = self.estimates(fixed, &choices);
        if estimates.len() <= MOST_ESTIMATES {
            panel.series.extend(estimates);
        } else {
            *remark = "Plate estimates left out, there are too many lines".to_owned();
        }
        panel
    }

    /// Marks and tells where one line meets the limits.
    fn cross(
        &self,
        panel: &mut LinePanel,
        choice: &Choice,
        points: &[Reading],
        x_unit: &str,
        notes: &mut Vec<String>,
    ) {
        let unit = self.quantity().kind.unit();
        let name = self.grid.words(choice);
        // Small plots have little room.
        let mark = match self.parts.panels {
            Some(_) => self.grid.short_words(choice),
            None => name.clone(),
        };
        for limit in &self.limits {
            let met = crossings(points, limit.value);
            let place: Vec<&str> = [panel.title.as_str(), &name]
                .into_iter()
                .filter(|text| !text.is_empty())
                .collect();
            let place = match place.is_empty() {
                true => String::new(),
                false => format!(" ({})", place.join(", ")),
            };
            notes.push(format!(
                "Crossing of {}{place} with {}: {}",
                self.quantity(),
                limit.label(unit),
                met.describe(x_unit)
            ));
            let marks = met.found.iter().filter(|crossing| !crossing.across_gap);
            panel.crossings.extend(marks.map(|crossing| {
                let label: Vec<&str> = [mark.as_str(), crossing.remark()]
                    .into_iter()
                    .filter(|text| !text.is_empty())
                    .collect();
                CrossingMark {
                    x: crossing.x,
                    low: crossing.low,
                    high: crossing.high,
                    value: limit.value,
                    label: label.join(", "),
                }
            }));
        }
    }

    /// Dashed lines of the plate estimate, one for all lines when it is the same for all.
    fn estimates(&self, fixed: &Choice, choices: &[Choice]) -> Vec<Series> {
        let plates = |entry: &Entry| entry.plates[self.number].map(|value| (value, 0.0));
        let mut estimates: Vec<Series> = choices
            .iter()
            .map(|choice| {
                Series::dashed(
                    match self.grid.words(choice) {
                        name if name.is_empty() => "plate estimate".to_owned(),
                        name => format!("{name}, plate estimate"),
                    },
                    self.grid
                        .line(self.parts.x, &[fixed.as_slice(), choice].concat(), plates),
                )
            })
            .filter(|series| series.points.iter().any(|r| r.value.is_finite()))
            .collect();
        let same = |a: &Reading, b: &Reading| {
            !a.value.is_finite()
                || !b.value.is_finite()
                || (a.value - b.value).abs() <= 1e-9 * a.value.abs()
        };
        let all_same = estimates.windows(2).all(|pair| {
            let pairs = pair[0].points.iter().zip(&pair[1].points);
            pairs.into_iter().all(|(a, b)| same(a, b))
        });
        if estimates.len() > 1 && all_same {
            // The one with the fewest gaps stands for all.
            estimates.sort_by_key(|s| s.points.iter().filter(|r| !r.value.is_finite()).count());
            estimates.truncate(1);
            estimates[0].name = "plate estimate".to_owned();
        }
        estimates
    }
}
